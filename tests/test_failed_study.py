"""The tables of the study of failed bowls, on rows whose answers are known beforehand."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))
from failed_bowls import failed
from failed_priors import as_they_come_along, even_priors, odds_of_table, weights_of
from failed_store import store_each, stored
from failed_tables import grouped, rank_of, reliability_table, tables_of


def row(cause: str, *steps: dict[str, float], seen: str = "fell through") -> dict[str, object]:
    """A case explained in so many steps, a random reading leaving things as they were."""
    listed = list(steps)
    return {"cause": cause, "steps": listed, "after_random": listed[0], "seen": [seen], "tries": 1}


def test_ranks_follow_the_chances_of_groups() -> None:
    """A pair counts half for each cause; the plan and weak wood are one group; steps may mend a rank."""
    first = {"tilt off and nail missing": 0.5, "the plan itself": 0.2, "wood weak": 0.2, "rim dry": 0.1}
    assert next(iter(grouped(first))) == "the plan itself / wood weak"
    mended = row("rim dry", first, {"rim dry": 0.7, "tilt off": 0.3})
    assert rank_of(mended, 0) == 4
    assert rank_of(mended, 1) == rank_of(mended, 3) == 1
    assert rank_of(row("board thin", first), 0) == 99


def cases_with(tries: dict[str, int]) -> list[dict[str, object]]:
    """One failed case of every cause, each after so many draws, the others after two."""
    return [
        {"cause": name, "seen": ["fell through"], "tries": tries.get(name, 2)} for name in odds_of_table()
    ]


def test_evened_priors_make_failed_bowls_equally_common() -> None:
    """Odds times the share of draws that fail is one and the same for every cause and for the plan."""
    cases = cases_with({"rim dry": 5, "the plan itself": 8})
    priors = even_priors(cases)
    even = {c.name: c.chance / (1 - c.chance) for c in priors.table}
    assert even["rim dry"] / 5 == pytest.approx(even["tilt off"] / 2)
    assert priors.planned / 8 == pytest.approx(even["tilt off"] / 2)
    weight = weights_of(cases)
    assert weight["rim dry"] == pytest.approx(0.028 / 0.972 / 5)
    assert weight["the plan itself"] == pytest.approx(1 / 8)


def test_chances_go_back_to_the_table() -> None:
    """Chances under evened priors, times the ratio of the odds, are those under the table's."""
    priors = even_priors(cases_with({"rim dry": 5}))
    even = {c.name: c.chance / (1 - c.chance) for c in priors.table}
    odds = odds_of_table()
    evidence = {"rim dry": 2.0, "tilt off": 1.0, "the plan itself": 0.5}
    under = {n: e * (even.get(n) or priors.planned) for n, e in evidence.items()}
    under["rim dry and tilt off"] = 3.0 * even["rim dry"] * even["tilt off"]
    table = {n: e * odds[n] for n, e in evidence.items()}
    table["rim dry and tilt off"] = 3.0 * odds["rim dry"] * odds["tilt off"]
    found = as_they_come_along(under, priors)
    assert sum(found.values()) == pytest.approx(1.0)
    for name, value in table.items():
        assert found[name] == pytest.approx(value / sum(table.values()))


def test_reliability_of_true_chances() -> None:
    """Of ten cases given 0.7 seven are true: the table says 0.70 beside 0.70."""
    sure = {"rim dry": 0.7, "tilt off": 0.3}
    rows = [row("rim dry", sure) for _ in range(7)] + [row("tilt off", sure) for _ in range(3)]
    lines = reliability_table(rows, {"rim dry": 7.0, "tilt off": 3.0})
    line = next(text for text in lines if text.startswith("0.60"))
    assert line.split()[3:5] == ["0.70", "0.70"]


def test_a_bowl_that_only_came_out_deep_did_not_fail() -> None:
    """Deep alone is no failure, deep and split is; the tables count both."""
    assert not failed(["held", "came out deep"])
    assert failed(["held", "split at turn 1", "came out deep"])
    cases = [row("rim dry", {"rim dry": 1.0}), row("rim dry", {"rim dry": 1.0}, seen="came out deep")]
    text = tables_of(cases, cases)
    assert "1 showed no failure in 10 draws; 1 failed bowls explained" in text


def doubled(number: int) -> dict[str, int]:
    """A job of the store's test."""
    return {"number": number, "twice": 2 * number}


def test_a_store_goes_on_behind_a_line_that_was_cut_off(tmp_path: Path) -> None:
    """A row half written is left out, and the next one does not join it."""
    path = tmp_path / "rows.jsonl"
    path.write_text('{"number": 1, "twice": 2}\n{"number": 2, "tw', "utf8")
    assert [row["number"] for row in stored(path)] == [1]
    store_each("rows", path, doubled, [2, 3], 1)
    assert sorted(row["twice"] for row in stored(path)) == [2, 4, 6]
