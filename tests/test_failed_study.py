"""The tables of the study of failed bowls, on rows whose answers are known beforehand."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))
from failed_tables import evened, failed, grouped, rank_of, reliability_table, tables_of


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


def test_evened_chances_forget_how_common_a_cause_is() -> None:
    """Two causes whose chances stand as their commonness are equally likely once that is taken away."""
    found = evened(
        {"rim dry": 0.6, "tilt off": 0.3, "none of these": 0.1}, {"rim dry": 0.2, "tilt off": 0.1}
    )
    assert found["rim dry"] == pytest.approx(0.5)
    assert sum(found.values()) == pytest.approx(1.0)


def test_reliability_of_true_chances() -> None:
    """Of ten cases given 0.7 seven are true: the table says 0.70 beside 0.70."""
    sure = {"rim dry": 0.7, "tilt off": 0.3}
    rows = [row("rim dry", sure) for _ in range(7)] + [row("tilt off", sure) for _ in range(3)]
    lines = reliability_table(rows, {"rim dry": 7.0, "tilt off": 3.0})
    line = next(text for text in lines if text.startswith("0.60"))
    assert line.split()[3:5] == ["0.70", "0.70"]


def test_a_bowl_that_only_came_out_deep_did_not_fail() -> None:
    """Deep alone is no failure, deep and split is; the tables count both."""
    assert not failed({"seen": ["held", "came out deep"]})
    assert failed({"seen": ["held", "split at turn 1", "came out deep"]})
    cases = [row("rim dry", {"rim dry": 1.0}), row("rim dry", {"rim dry": 1.0}, seen="came out deep")]
    text = tables_of(cases, cases)
    assert "1 only came out deep; 1 failed bowls explained" in text
