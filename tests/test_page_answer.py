"""What the page shows is the verdict, each end of a range in its place."""

import math

import pytest

from fitsim.bowl.changes import TriedChange
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Limits
from fitsim.bowl.verdict import LOCKS, SPRINGS_BACK, DecidingNumbers, judge
from fitsim.bowlfile.defaults import make_bowl
from fitsim.page.answers import table_object, verdict_object
from fitsim.page.jobs import JOBS
from fitsim.page.section_svg import section_object
from fitsim.page.state import pairs_of_tables, read_state
from fitsim.report.press_tables import changes_table
from fitsim.saw.kerf_and_scale import Saw, with_saw


def test_the_page_plans_for_the_worst_end_and_shows_both() -> None:
    """Friction 0.08 to 0.5 at 5.5 degrees may spring back: the state is that, the best one locks."""
    given = make_bowl(
        {
            "board": {"wood": "white oak", "thickness": "18 mm", "across": "150 mm"},
            "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
            "use": {"finish": "none", "friction": "0.08 to 0.5"},
        }
    )
    shown = verdict_object(fit(given, rigid=True), "mm")
    assert shown["state"] == SPRINGS_BACK
    assert shown["best"] == LOCKS
    margin = next(m for m in shown["margins"] if m["state"] == SPRINGS_BACK)
    assert margin["word"] == "may fail"
    # Bars end at twice the limit, which is all of the friction.
    assert margin["worst"] == pytest.approx(math.tan(math.radians(5.5)) / 0.08 / 2)
    assert margin["best"] == pytest.approx(math.tan(math.radians(5.5)) / 0.5 / 2)


def test_a_bowl_that_springs_back_as_judged_is_not_said_to_hold_nowhere() -> None:
    """Given less than the press from which it holds, nothing is left of its rise as it is let go."""
    tables = {
        "board": {"wood": "cherry", "thickness": "17 mm", "across": "84 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.6 mm", "pitch": "6.2 mm", "base": "52 mm"},
        "use": {"finish": "none", "friction": "0.4", "press": "5 N"},
    }
    answer = fit(make_bowl(tables), beyond=False)
    assert answer.elastic is not None
    assert 5 < answer.elastic.press_needed_N < 500
    shown = verdict_object(answer, "mm")
    assert (shown["state"], shown["rise_of"], shown["rise"]) == (SPRINGS_BACK, "Rise, let go", "none")


def test_changes_are_told_with_where_they_were_tried() -> None:
    """The page's table of changes says over it that each was tried at the middle of the ranges."""
    tables = {
        "board": {"wood": "cherry", "thickness": "17 mm", "across": "84 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.6 mm", "pitch": "6.2 mm", "base": "52 mm"},
        "use": {"finish": "none", "friction": "0.3 to 0.5", "press": "60 N"},
    }
    found = JOBS["changes"](read_state(pairs_of_tables(tables)), lambda *_: None)
    assert "at the middle of what is known only as a range" in found["title"]
    assert len(found["rows"]) > 4


def test_a_change_that_springs_back_for_want_of_press_shows_it() -> None:
    """Where every other number holds, the press asked for stands as a share of the press there is."""
    numbers = DecidingNumbers(0.7, 0.33, 0.82, 0.002, 1.0, 1.083)
    assert judge(numbers, Limits()) == SPRINGS_BACK
    tried = TriedChange("pitch 15% wider", SPRINGS_BACK, numbers, 5.1, 5.4, "")
    shown = table_object(changes_table((tried,), "mm"))
    row = dict(zip(shown["heads"], shown["rows"][0], strict=True))
    assert row["press asked"] == "1.08"
    assert (row["friction used"], row["splits"], row["rise, let go"]) == ("0.82", "0.002", "5.1 mm")


def test_the_handle_of_the_tilt_begins_at_the_scale_and_leans_by_the_blade() -> None:
    """On a scale that reads 0.7 deg too little, set to 5.5, the field has 5.5 and the slot leans by 6.2."""
    given = make_bowl(
        {
            "board": {"wood": "white oak", "thickness": "18 mm", "across": "150 mm"},
            "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
        }
    )
    off = Saw(
        name="Shed saw", kerf_mm=0.74, kerf_sd_mm=0.02, tilt_offset_rad=math.radians(0.7),
        tilt_offset_sd_rad=math.radians(0.1), correlation=0.3, kerf_varies_sd_mm=0.02,
        tilt_repeats_sd_rad=math.radians(0.1), rings=2, slots=1, gauges=0,
    )  # fmt: skip
    sawn = with_saw(given, off)
    shown = section_object(sawn, rigid_fit(sawn))
    assert shown["tilt_deg"] == pytest.approx(5.5)
    assert shown["true_tilt_deg"] == pytest.approx(6.2)
    assert shown["slot_mm"] == pytest.approx(0.74 / math.cos(math.radians(6.2)))
