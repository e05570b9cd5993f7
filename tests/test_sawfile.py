"""The file of test cuts and the saw file: what may be written, and what is answered when it cannot be."""

import math
import re
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import fitsim
from fitsim.errors import InputError
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned_file import make_learned, read_learned
from fitsim.saw.measurements import BEFORE, DEFAULTS, GaugeReading, ScrapCuts, SlotReading
from fitsim.saw.saw_file import make_saw, saw_text
from fitsim.saw.tests_file import make_tests, read_tests

RING = {"tilt": "5 deg", "drop": "7.4 mm"}
PACKAGE_DATA = Path(fitsim.__file__).parent / "data"


def make_cuts(tables: dict[str, Any]) -> ScrapCuts:
    """The cuts of a file of tests that has some."""
    cuts = make_tests(tables).cuts
    assert cuts is not None
    return cuts


def lines_for(make: Any, tables: dict[str, Any]) -> list[str]:
    """Every line answered to tables that are wrong."""
    with pytest.raises(InputError) as caught:
        make(tables, where="my.toml")
    return str(caught.value).splitlines()


def test_everything_that_may_be_measured_is_read() -> None:
    """Fractions of an inch become mm, degrees radians, "within" half of itself as standard deviation."""
    cuts = make_cuts(
        {
            "name": "Shed saw",
            "date": "2024-03-02",
            "board": {"thickness": "3/4 in"},
            "ring": [
                {"tilt": "5 1/2 deg", "drop": "9/32 in", "within": "0.3 mm"},
                {"tilt": "2 deg", "fell_through": True},
                {"tilt": "8 deg", "drop": "5 mm", "thickness": "12 mm"},
            ],
            "slot": [{"width": "0.028 in", "within": "0.06 mm"}],
            "bevel": [{"tilt": "5 deg", "gauge": "5.4 deg", "within": "0.5 deg"}],
            "saw": {
                "scale_within": "1.5 deg", "kerf_limits": "0.5 to 1.5 mm",
                "kerf_varies": "0.06 mm", "tilt_repeats": "0 deg",
            },
        }
    )  # fmt: skip
    first, fell, own = cuts.rings
    assert first.scale_tilt_rad == pytest.approx(math.radians(5.5))
    assert (first.drop_mm, first.thickness_mm, first.sd_mm) == (7.14375, 19.05, 0.15)
    assert (fell.drop_mm, fell.thickness_mm) == (None, 19.05)
    assert (own.thickness_mm, own.sd_mm) == (12.0, 0.2)
    assert cuts.slots == (SlotReading(pytest.approx(0.7112), 0.03),)
    expected = (math.radians(v) for v in (5.0, 5.4, 0.25))
    assert cuts.gauges == (GaugeReading(*(pytest.approx(v) for v in expected)),)
    before = cuts.before
    assert before.scale_sd_rad == pytest.approx(math.radians(0.75))
    assert (before.kerf_low_mm, before.kerf_high_mm) == (0.5, 1.5)
    assert (before.kerf_varies_sd_mm, before.tilt_repeats_sd_rad) == (0.03, 0.0)
    assert (cuts.name, cuts.date, cuts.units) == ("Shed saw", "2024-03-02", "in")
    assert [a.key for a in cuts.assumptions] == ["ring.within"]


def test_what_is_left_out_is_an_estimate_with_a_range() -> None:
    """One ring alone leans on every default that bears on it, each marked, with range and source."""
    cuts = make_cuts({"ring": [RING]})
    keys = {a.key for a in cuts.assumptions}
    assert keys == {"ring.within", *(k for k in DEFAULTS if k.startswith("saw."))}
    assert all(a.mark == "estimated" and a.low != a.high and a.source for a in cuts.assumptions)
    assert (cuts.before, cuts.units) == (BEFORE, "mm")


def test_defaults_in_words_are_the_defaults_in_numbers() -> None:
    """What the report says was taken for granted is what the estimate takes."""
    written = {
        "ring": [{**RING, "within": DEFAULTS["ring.within"].value}],
        "slot": [{"width": "0.7 mm", "within": DEFAULTS["slot.within"].value}],
        "bevel": [{"tilt": "5 deg", "gauge": "5 deg", "within": DEFAULTS["bevel.within"].value}],
        "saw": {key.removeprefix("saw."): a.value for key, a in DEFAULTS.items() if key.startswith("saw.")},
    }
    left_out = {
        "ring": [RING],
        "slot": [{"width": "0.7 mm"}],
        "bevel": [{"tilt": "5 deg", "gauge": "5 deg"}],
    }
    one, other = make_cuts(written), make_cuts(left_out)
    assert (one.rings, one.slots, one.gauges) == (other.rings, other.slots, other.gauges)
    for field in fields(one.before):
        assert getattr(one.before, field.name) == pytest.approx(getattr(other.before, field.name))


@pytest.mark.parametrize(
    ("tables", "expected"),
    [
        ({"ring": [{"tilt": "5 deg", "drop": "7.4"}]}, "my.toml: ring 1.drop = '7.4': expected a length"),
        ({"ring": [RING, {"tilt": "5 deg", "drp": "7 mm"}]}, "ring 2.drp = '7 mm'"),
        ({"ring": [RING, {"tilt": "5 deg", "drp": "7 mm"}]}, "did you mean 'drop'?"),
        ({"ring": [{**RING, "width": "0.7 mm"}]}, "move it to stand under [[slot]]"),
        ({"ring": [{**RING, "scale_within": "1 deg"}]}, "move it to stand under [saw]"),
        ({"ring": [RING], "sloot": []}, "did you mean 'slot'?"),
        ({"ring": RING}, "[[ring]] with two brackets on each side"),
        ({"ring": ["5 deg"]}, "write [[ring]] on a line of its own"),
        ({"ring": [{"drop": "7.4 mm"}]}, "ring 1.tilt: expected what the scale read"),
        ({"ring": [{"tilt": "0 deg", "drop": "7.4 mm"}]}, "ring 1.tilt = '0 deg': expected more than zero"),
        ({"ring": [{"tilt": "50 deg", "drop": "7 mm"}]}, "at most 45 deg"),
        ({"ring": [{"tilt": "-5 deg", "drop": "7 mm"}]}, "a negative value makes no sense here"),
        ({"ring": [{"tilt": "5 deg"}]}, "either a drop or fell_through = true"),
        ({"ring": [{**RING, "fell_through": True}]}, "either a drop or fell_through = true"),
        ({"ring": [{"tilt": "5 deg", "fell_through": False}]}, "fell_through = false: expected true"),
        (
            {"ring": [RING, {"tilt": "2 deg", "fell_through": True}]},
            "ring 2.thickness: expected the scrap's",
        ),
        (
            {"board": {"thickness": "7 mm"}, "ring": [RING]},
            "ring 1.drop = 7.4 mm: expected less than the scrap's 7 mm",
        ),
        ({"ring": [{**RING, "thickness": "7.4 mm"}]}, "expected less than the scrap's 7.4 mm"),
        ({"slot": [{"within": "0.05 mm"}]}, "slot 1.width: expected what the feeler gauge read"),
        (
            {"ring": [RING], "bevel": [{"tilt": "5 deg"}]},
            "bevel 1.gauge: expected what the bevel gauge read",
        ),
        ({"bevel": [{"tilt": "5 deg", "gauge": "5 deg"}]}, "ring: expected a ring that bound, or a slot"),
        ({}, "ring: expected a ring that bound, or a slot"),
        ({"ring": [RING], "date": "2 March"}, "date = '2 March': expected a day as year-month-day"),
        ({"ring": [RING], "name": ""}, "name = '': expected a name in quotes"),
        ({"ring": [RING], "saw": {"kerf_limits": "1 mm"}}, "saw.kerf_limits = '1 mm': expected two kerfs"),
        ({"ring": [RING], "saw": {"tilt_offset": "0 deg"}}, "this is a saw file already"),
    ],
)
def test_slips_are_answered_with_how_to_mend_them(tables: dict[str, Any], expected: str) -> None:
    """Every slip is one line that names the key and says what to write."""
    lines = lines_for(make_tests, tables)
    assert any(expected in line for line in lines), lines


def test_every_problem_is_answered_at_once() -> None:
    """Three slips in three tables are three lines."""
    lines = lines_for(
        make_tests,
        {"ring": [{"tilt": "5", "drop": "7.4 mm"}], "slot": [{"width": "0,7 mm"}], "saw": {"kerf": "1 mm"}},
    )
    assert [line.split()[1].rstrip(":") for line in lines] == ["saw.kerf", "ring", "slot"]


def test_starter_asks_for_readings_and_is_good_once_opened() -> None:
    """Untouched, the starter asks for readings in one line; its commented lines, opened, all read."""
    path = PACKAGE_DATA / "starter_testcut.toml"
    (line,) = lines_for(make_tests, tomllib.loads(path.read_text("utf8")))
    assert "ring: expected a ring that bound, or a slot by feeler gauge; write your readings" in line
    opened = "\n".join(
        line.removeprefix("# ") if re.match(r"# (\[|[a-z_]+ = )", line) else line
        for line in path.read_text("utf8").splitlines()
    )
    cuts = make_cuts(tomllib.loads(opened))
    assert [r.drop_mm for r in cuts.rings] == [10.9, 5.0, None]
    assert [s.width_mm for s in cuts.slots] == [0.75]
    assert len(cuts.gauges) == 1


SAWS = st.builds(
    Saw,
    name=st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=30).filter(
        lambda text: text == text.strip() != ""
    ),
    kerf_mm=st.floats(0.3, 3.0),
    kerf_sd_mm=st.floats(0.001, 0.2),
    tilt_offset_rad=st.floats(-0.05, 0.05),
    tilt_offset_sd_rad=st.floats(0.0005, 0.02),
    correlation=st.floats(-0.99, 0.99),
    kerf_varies_sd_mm=st.floats(0.0, 0.1),
    tilt_repeats_sd_rad=st.floats(0.0, 0.01),
    rings=st.integers(0, 40),
    slots=st.integers(0, 40),
    gauges=st.integers(0, 40),
    date=st.sampled_from(("", "2024-03-02")),
)


@given(SAWS)
def test_a_saw_is_read_back_as_it_was_kept(saw: Saw) -> None:
    """Every number of a saw file comes back to its sixth decimal, every word and count as it was."""
    import tomllib

    back = make_saw(tomllib.loads(saw_text(saw)))
    for field in fields(Saw):
        kept, found = getattr(saw, field.name), getattr(back, field.name)
        assert found == (pytest.approx(kept, abs=6e-7) if isinstance(kept, float) else kept)


GOOD_SAW = {
    "kerf": "0.7 mm", "kerf_sd": "0.02 mm", "tilt_offset": "-0.4 deg", "tilt_offset_sd": "0.2 deg",
    "correlation": "0.8", "kerf_varies_sd": "0.02 mm", "tilt_repeats_sd": "0.1 deg",
    "rings": 2, "slots": 0, "bevels": 1,
}  # fmt: skip


def test_an_offset_may_be_below_zero() -> None:
    """A scale that reads too much has an offset below zero, with either minus sign."""
    for text in ("-0.4 deg", "\N{MINUS SIGN}0.4 deg"):
        saw = make_saw({"saw": {**GOOD_SAW, "tilt_offset": text}}, where="a/bench.toml")
        assert saw.tilt_offset_rad == pytest.approx(math.radians(-0.4))
        assert saw.name == "bench"


@pytest.mark.parametrize(
    ("tables", "expected"),
    [
        ({"saw": {**GOOD_SAW, "kerf": "0.7"}}, "saw.kerf = '0.7': expected a length with its unit"),
        ({"saw": {**GOOD_SAW, "kerf_sd": "0 mm"}}, "saw.kerf_sd = '0 mm': expected more than zero"),
        ({"saw": {**GOOD_SAW, "correlation": "1"}}, "saw.correlation = 1: expected between -1 and 1"),
        ({"saw": {**GOOD_SAW, "rings": "two"}}, "saw.rings = 'two': expected a whole number"),
        ({"saw": {**GOOD_SAW, "kerv": "1 mm"}}, "did you mean 'kerf'?"),
        (
            {"saw": {k: v for k, v in GOOD_SAW.items() if k != "tilt_offset"}},
            "saw.tilt_offset: expected all",
        ),
        ({"saw": "0.7 mm"}, "write [saw] on a line of its own"),
        ({"saw": {}}, "saw.kerf: expected all keys of a saw file"),
        ({}, "file: expected one of the tables [saw]"),
        ({"ring": [RING]}, "this is a file of test cuts; write one with: fitsim testcut FILE --keep"),
        ({"board": {}, "cut": {}}, "such as a saw file, not a bowl file"),
    ],
)
def test_a_bad_saw_file_is_answered(tables: dict[str, Any], expected: str) -> None:
    """Every slip in a saw file is one line; another kind of file is told from it."""
    lines = lines_for(make_learned, tables)
    assert any(expected in line for line in lines), lines


def test_a_missing_file_says_how_to_make_one(tmp_path: Path) -> None:
    """A file that is not there is answered with the command that writes one."""
    with pytest.raises(InputError, match=r"was learned, and there is none of that name; .*--keep KEPT"):
        read_learned(tmp_path / "none.toml")
    with pytest.raises(InputError, match=r"a file of test cuts, and there is none .*testcut --new FILE"):
        read_tests(tmp_path / "none.toml")
