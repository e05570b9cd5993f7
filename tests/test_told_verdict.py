"""What is told of a verdict: one line everywhere, the test that settles it, the press and its chances."""

import math
import re
import runpy
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure

import fitsim
from fitsim.bowl.changes import TriedChange
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import STATES, DecidingNumbers, Dependence
from fitsim.drawing.bowl_drawing import bowl_figure
from fitsim.drawing.strip_drawing import strip_figure
from fitsim.page.answers import verdict_object
from fitsim.page.page_words import EXPLAINED
from fitsim.pattern.bench_sheet import Handling, bench_sheet
from fitsim.quantities import show_force
from fitsim.report.advised_test import advised_test
from fitsim.report.answer_json import answer_object
from fitsim.report.common_words import chance_in_words
from fitsim.report.press_tables import press_table, rows_of
from fitsim.report.terminal import fit_report, margin_table
from fitsim.report.verdict_words import other_states, verdict_line
from fitsim.report.why import why

STUDY = Path(__file__).parents[1] / "studies" / "05_ordinary_bowls.py"


def small(
    press: str = "60 N", friction: str = "0.42", thickness: str = "17 mm", **cut: str
) -> dict[str, Any]:
    """Tables of an invented saucer of three turns."""
    return {
        "name": "Tansy saucer",
        "board": {"wood": "cherry", "thickness": thickness, "across": "84 mm", "moisture": "9 %"},
        "cut": {"tilt": "6 deg", "kerf": "0.6 mm", "pitch": "6.2 mm", "base": "52 mm", **cut},
        "use": {"finish": "none", "friction": friction, "press": press},
    }


THICK = small(press="300 N", thickness="20 mm")
"""So thick that it falls through at no friction."""


@pytest.fixture(scope="module")
def torn() -> BowlFit:
    """Friction from too slippery for any press to well enough."""
    return fitsim.fit(fitsim.make_bowl(THICK | {"use": THICK["use"] | {"friction": "0.09 to 0.5"}}))


def words_of(figure: Figure) -> str:
    """Every word of a figure, lines joined."""
    every = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    return " ".join(text.get_text() for text in every)


def test_every_page_tells_the_same_line(torn: BowlFit) -> None:
    """Report (first and last line), JSON, page, bench sheet and both pictures say the same."""
    line = verdict_line(torn)
    assert line == "SPRINGS BACK, SPLIT RISK, or LOCKS: it depends on friction"
    report = fit_report(torn, units="mm").splitlines()
    assert report[1] == line
    assert report[-1] == f"Tansy saucer: {line}"
    assert answer_object(torn)["verdict_told"] == line
    shown = verdict_object(torn, "mm")
    assert (shown["line"], shown["settle"]) == (line, [advised_test(torn, units="mm")])
    sheet = bench_sheet(torn, Handling(), units="mm")
    assert sheet.state == line
    assert advised_test(torn, units="mm") in sheet.why
    for draw in (bowl_figure, strip_figure):
        words = words_of(draw(torn, units="mm"))
        assert "springs back" in words
        assert other_states(torn.verdict) in words


def test_the_slide_that_decides_decides(torn: BowlFit) -> None:
    """An off-cut slides at the arc tangent of friction; a fifteenth below it springs back.

    Just above it the bowl needs a press that may split it; a fifteenth above where that is past it locks.
    """
    (d,) = torn.verdict.depends_on
    told = advised_test(torn, units="mm")
    first, until = (math.degrees(math.atan(friction)) for friction in (d.flips_at, d.until))
    assert (
        f"slides before {first:.1f} degrees: it springs back; from there to {until:.1f} degrees: it risks "
        "a split; later: it locks."
    ) in told
    assert d.flips_at < d.until
    for friction, state in ((0.935 * d.flips_at, "springs back"), (1.065 * d.until, "locks")):
        sure = THICK | {"use": THICK["use"] | {"friction": f"{friction:.4f}"}}
        assert fitsim.fit(fitsim.make_bowl(sure)).verdict.state == state
    (shown,) = answer_object(torn)["verdict_depends_on"]
    assert (shown["changes_at"], shown["between"], shown["between_until"]) == (
        pytest.approx(d.flips_at), "split risk", pytest.approx(d.until),
    )  # fmt: skip


def test_a_friction_at_which_no_press_holds_is_told_so(torn: BowlFit) -> None:
    """What is said of the least friction is what a bowl of that friction is found to do."""
    sure = fitsim.fit(fitsim.make_bowl(THICK | {"use": THICK["use"] | {"friction": "0.09"}}), beyond=False)
    assert sure.elastic is not None
    assert math.isinf(sure.elastic.opening.judged.needed_N)
    used = sure.elastic.opening.numbers.friction_used
    assert torn.verdict.worst.friction_used == pytest.approx(used, rel=1e-6)
    assert why(torn, units="mm").startswith(
        "Where friction is least no press up to 500 N makes it hold: let go, it asks for "
        f"{used:.2g} times the friction there is, and slides back. In the middle of the ranges it holds"
    )


def test_too_little_press_for_the_least_friction_is_a_question_of_friction() -> None:
    """450 N are needed where it is slippery, 150 are there, 90 would do at the middle: a slide tells."""
    tables = {
        "board": {"wood": "cherry", "thickness": "16 mm", "across": "120 mm"},
        "cut": {"tilt": "9 deg", "pitch": "8 mm", "base": "60 mm", "kerf": "0.7 mm"},
        "use": {"finish": "oil", "press": "150 N"},
    }
    found = fitsim.fit(fitsim.make_bowl(tables))
    assert verdict_line(found) == "SPRINGS BACK, or LOCKS: it depends on friction"
    (friction,) = found.verdict.depends_on
    # What is told decides: with the press there is the bowl holds just above that friction, not below.
    for times, state in ((0.93, "springs back"), (1.07, "locks")):
        sure = {**tables, "use": {**tables["use"], "friction": f"{times * friction.flips_at:.4f}"}}
        assert fitsim.fit(fitsim.make_bowl(sure)).verdict.state == state
    assert "Slide test" in advised_test(found, units="mm")


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_reading_of_the_scale_is_the_press_that_is_needed(units: str) -> None:
    """What the scale must show is told as the need is, never less: typed as the press, it makes it lock."""
    tables = {
        "board": {"wood": "cherry", "thickness": "19 mm", "across": "200 mm"},
        "cut": {"tilt": "5 deg", "pitch": "14.4 mm", "base": "90 mm", "kerf": "0.65 to 0.75 mm"},
        "use": {"finish": "oil", "friction": "0.22"},
    }
    found = fitsim.fit(fitsim.make_bowl(tables), beyond=False)
    assert verdict_line(found) == "SPRINGS BACK, or LOCKS: it depends on press"
    said = re.search(
        r"under ([\d.]+) (kg|lb), (\d+) N, it may spring back; more, it locks",  # not with the middle kerf
        advised_test(found, units=units),
    )
    assert said is not None
    reading, unit, force_N = float(said[1]), said[2], int(said[3])
    assert unit == {"mm": "kg", "in": "lb"}[units]
    (press,) = found.verdict.depends_on
    # The scale is read to a tenth, the force to a newton, and neither is less than what decides.
    one_N = {"kg": 9.80665, "lb": 4.4482216}[unit]
    assert press.flips_at <= reading * one_N < press.flips_at + 0.1 * one_N + 1e-6
    assert press.flips_at <= force_N < press.flips_at + 1
    # The need is told in the same digits: of the middle, and of the worst where that is more.
    needs = [int(v) for v in re.findall(r"(?:a press of|up to) (\d+) N", why(found, units=units))]
    assert needs[-1] == force_N
    assert found.elastic is not None
    assert needs[0] == math.ceil(found.elastic.opening.judged.asked_N)
    report = fit_report(found, units=units)
    assert re.search(rf"over all that is not known +{force_N} N", report)
    typed = {**tables, "use": {**tables["use"], "press": f"{said[1]} {unit}f"}}
    assert fitsim.fit(fitsim.make_bowl(typed), beyond=False).verdict.state == "locks"
    typed["use"] = {**tables["use"], "press": f"{0.98 * needs[0]:.0f} N"}
    assert fitsim.fit(fitsim.make_bowl(typed), beyond=False).verdict.state == "springs back"


def test_the_press_of_the_middle_is_told_where_it_was_looked_for(torn: BowlFit) -> None:
    """Where only the friction asking most was tried its press is told, as that of the other ranges."""
    assert torn.elastic is not None

    def told(needed_N: float) -> str:
        return why(replace(torn, elastic=replace(torn.elastic, press_needed_N=needed_N)), units="mm")

    judged_N = torn.elastic.opening.judged.needed_N
    assert "In the middle of the ranges it holds after 23 N." in told(23.0)
    assert "In the middle of the ranges no press up to" in told(math.inf)
    assert f"In the middle of the other ranges it holds after {judged_N:.0f} N." in told(math.nan)


@pytest.mark.parametrize("elastic", [True, False])
def test_the_middle_is_told_before_the_end_of_its_range(torn: BowlFit, elastic: bool) -> None:
    """Of a bowl that locks: what bears and what holding takes, as the table has them; no end by itself."""
    ends = {"falls through": (0.52, 0.41, 0.55), "springs back": (0.63, 0.88, 0.47)}
    margins = tuple(
        replace(m, value=ends[s][0], worst=ends[s][1], best=ends[s][2]) if s in ends else m
        for s, m in zip(STATES[:4], torn.verdict.margins, strict=True)
    )
    verdict = replace(torn.verdict, state="locks", state_in_middle="locks", margins=margins)
    answer = replace(torn, verdict=verdict, elastic=torn.elastic if elastic else None)
    told = why(answer, units="mm")
    assert "52% of the thickness still bears (at least 41%)" in told
    assert "holding takes 63% of the friction (up to 88%)" in told


@pytest.mark.parametrize(
    ("dependence", "expected"),
    [
        (Dependence("press", "N", 70, 140, "springs back", "locks", 98.0665),
         "under 10.0 kg, 98.1 N, it springs back; more, it locks."),
        (Dependence("kerf", "mm", 0.6, 1.15, "locks", "falls through", 0.93),
         "a slot under 0.93 mm: it locks; wider: it falls through."),
        (Dependence("strength across the grain", "MPa", 3.0, 6.0, "split risk", "locks", 3.75),
         "under 3.75 MPa, it risks a split; more, it locks."),
        (Dependence("scale error", "rad", -0.02, 0.02, "falls through", "locks", math.radians(0.5)),
         "a true tilt less than +0.50 deg more than the scale says: it falls through; more: it locks."),
        (Dependence("film", "mm", 0.05, 0.08, "locks", "will not open", math.nan),
         "before and after finishing, and halve the difference."),
    ],
)  # fmt: skip
def test_one_test_settles_it_and_its_reading_is_told(
    torn: BowlFit, dependence: Dependence, expected: str
) -> None:
    """The input's own test and the reading at which the state changes, in the maker's units."""
    verdict = replace(torn.verdict, depends_on=(dependence,))
    assert advised_test(replace(torn, verdict=verdict), units="mm").endswith(expected)


def test_of_several_inputs_one_is_tested(torn: BowlFit) -> None:
    """One sentence, for the test that settles most; where no file of tests takes any, its plain one."""
    friction = Dependence("friction", "", 0.2, 0.5, "springs back", "locks", 0.3)
    kerf = Dependence("kerf", "mm", 0.6, 1.15, "locks", "falls through", 1.1)
    press = Dependence("press", "N", 140, 350, "springs back", "locks", 200.0)

    def told(*depends: Dependence) -> str:
        return advised_test(replace(torn, verdict=replace(torn.verdict, depends_on=depends)), units="mm")

    assert "Slide test" in told(kerf, friction, press)
    assert "Slot test" in told(kerf, press)
    assert told(press).startswith("To find out press")
    assert told() == ""


@cache
def answered(press_N: float) -> BowlFit:
    """A bowl of some four turns with one friction, and so much press to be had."""
    tables = small(press=f"{press_N} N", friction="0.4")
    tables["board"] |= {"thickness": "3/4 in", "across": "5 3/4 in"}
    tables["cut"] |= {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "5/16 in", "base": "2 3/4 in"}
    return fitsim.fit(fitsim.make_bowl(tables), beyond=False)


def test_a_needlessly_hard_press_is_said_so_and_does_not_judge() -> None:
    """With far more than is asked the sentence warns; a little more brings no word. The chance stays."""
    asked = answered(200.0).elastic.opening.judged.asked_N  # type: ignore[union-attr]
    hard, mild = answered(4 * asked), answered(1.4 * asked)
    told = f"all of {show_force(4 * asked, units='mm')} is needlessly hard"
    assert told in why(hard, units="mm")
    assert "needlessly" not in why(mild, units="mm")
    for answer in (hard, mild):
        found = answer_object(answer)
        assert found["press_judged_N"] == pytest.approx(asked)
        assert found["split_chance"] < found["split_chance_at_press"]
    assert answer_object(hard)["split_chance"] == answer_object(mild)["split_chance"]
    assert answer_object(hard)["split_chance_at_press"] > answer_object(mild)["split_chance_at_press"]


def test_up_to_which_press_it_stays_safe() -> None:
    """Pressed with the press told, at most about 1 bowl in 10 splits, and not a tenth of that."""
    safe_N = answer_object(answered(120.0))["split_press_one_in_ten_N"]
    assert "Fewer than 1 in 10 split up to a press of about" in why(answered(120.0), units="mm")
    there = fitsim.bowl.elastic.open_bowl(answered(120.0).bowl, press_N=safe_N)
    assert 0.01 < there.numbers.split_chance < 0.14


def test_the_press_that_splits_does_not_hang_on_the_press_there_is() -> None:
    """Of a soft hand's bowl and a strong one's the same is told, and so pressed 1 in 10 splits."""
    told = [answered(there_N).elastic for there_N in (45.0, 80.0, 240.0)]
    split_N = [found.split_press_N for found in told if found is not None]
    assert len(split_N) == 3
    assert max(split_N) < 1.03 * min(split_N)
    there = fitsim.bowl.elastic.open_bowl(answered(80.0).bowl, press_N=split_N[0])
    assert there.numbers.split_chance == pytest.approx(0.1, rel=0.1)


ORDINARY: dict[str, Any] = runpy.run_path(str(STUDY))["ORDINARY"]


@pytest.mark.parametrize("name", [*ORDINARY][::6])
def test_an_ordinary_bowl_whose_friction_is_known_is_told_one_word(name: str) -> None:
    """No range is left that matters: one state, nothing to test, a chance between its ends."""
    tables: dict[str, Any] = {key: dict(table) for key, table in ORDINARY[name].items()}
    tables["use"] |= {"friction": "0.35", "press": "350 N"}
    answer = fitsim.fit(fitsim.make_bowl(tables), beyond=False)
    assert re.fullmatch(r"[A-Z ]+", verdict_line(answer))
    assert (answer.verdict.depends_on, advised_test(answer, units="mm")) == ((), "")
    assert answer.elastic is not None
    beside = answer.elastic.split_range
    assert beside.low <= answer.elastic.opening.numbers.split_chance <= beside.high


@pytest.mark.parametrize("chance", [0.36, 0.44, 0.51, 0.56, 0.64, 0.86])
def test_a_chance_of_many_is_told_to_the_nearest(chance: float) -> None:
    """So many bowls in 10 is off by half a bowl at most."""
    told = re.fullmatch(r"about (\d) bowls in 10", chance_in_words(chance))
    assert told is not None
    assert abs(int(told[1]) - 10 * chance) <= 0.5


def test_more_is_never_told_as_less() -> None:
    """Of two chances the greater is never told as the smaller share."""
    shares = []
    for percent in range(2, 91):
        few, many = re.findall(r"\d+", chance_in_words(percent / 100))
        shares.append(int(few) / int(many))
    assert shares == sorted(shares)


@cache
def short_of_press() -> BowlFit:
    """A bowl that asks for a little more press than there is, its friction enough at every end."""
    tables = {
        "board": {"wood": "beech", "thickness": "20 mm", "across": "138 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.8 mm", "pitch": "7 mm", "base": "80 mm"},
        "use": {"finish": "oil", "friction": "0.2 to 0.55", "press": "115 N"},
    }
    return fitsim.fit(fitsim.make_bowl(tables), beyond=False)


def test_no_row_fails_whose_numbers_pass() -> None:
    """Where the press alone decides, table, picture, page and JSON show it over what there is."""
    answer = short_of_press()
    assert answer.elastic is not None
    margin = next(m for m in answer.verdict.margins if m.state == "springs back")
    assert answer.verdict.worst.friction_used < 1
    assert (margin.quantity, margin.limit) == ("press asked", 1.0)
    assert margin.value == pytest.approx(answer.elastic.opening.judged.asked_N / 115)
    assert margin.worst > 1 > margin.best
    (row,) = (r for r in rows_of(margin_table(answer, "mm")) if r[0] == "springs back")
    assert row[1:] == ["press asked", f"{margin.value:.2f}", f"{margin.worst:.2f} to {margin.best:.2f}",
                       "at most 1.00", "MAY FAIL"]  # fmt: skip
    told = f"press asked {100 * margin.value:.0f} %"
    assert told in words_of(bowl_figure(answer, units="mm"))
    shown = next(m for m in verdict_object(answer, "mm")["margins"] if m["state"] == margin.state)
    assert told in shown["words"]
    assert EXPLAINED[shown["quantity"]].startswith("The press the bowl ought to be given")
    assert answer_object(answer)["margins"]["springs_back"]["quantity"] == "press_asked"


def test_a_share_that_fails_does_not_read_as_its_limit(torn: BowlFit) -> None:
    """A worst chance a hair over 1 in 10 is shown with as many digits as tell it from 0.10."""
    margins = tuple(
        replace(m, worst=0.1004, at_worst=True, at_best=False) if m.state == "split risk" else m
        for m in torn.verdict.margins
    )
    answer = replace(torn, verdict=replace(torn.verdict, margins=margins))
    (row,) = (r for r in rows_of(margin_table(answer, "mm")) if r[0] == "split risk")
    assert row[3].startswith("0.1004 to ")
    assert row[4] == "below 0.10"


def test_a_stress_over_strength_is_told_with_what_it_is_over(torn: BowlFit) -> None:
    """The stress of a standing bowl is told as one point's, over a far larger piece's strength."""
    assert torn.elastic is not None
    (row,) = (r for r in rows_of(press_table(torn, torn.elastic, "mm")) if r[0].startswith("stress while"))
    assert "one worst point" in row[0]
    standing = torn.elastic.stress_at_rest
    assert standing is not None
    assert (
        row[1]
        == f"{max(standing.ratio):.0%}"
        == f"{answer_object(torn)['standing_stress_over_strength']:.0%}"
    )
    assert "mean strength of the handbook's far larger piece" in row[0]


def test_changes_are_told_as_fit_tells_them(torn: BowlFit) -> None:
    """An overlap below nothing is none, and changes are said to be tried at the middle of the ranges."""
    gone = TriedChange(
        "less tilt", "falls through", DecidingNumbers(0.5, -0.002, 0.4, 0.01), math.nan, 5.0, ""
    )
    report = fit_report(torn, units="mm", tried=(gone,))
    (line,) = (line for line in report.splitlines() if line.startswith("less tilt"))
    assert "none" in line
    assert "-0.00" not in report
    assert "at the middle of what is known only as a range" in " ".join(report.split())
