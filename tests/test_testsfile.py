"""The file of tests: slides, broken strips, oven and meter, and what is answered to slips in it."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

import fitsim
from fitsim.commands.testcut import TestcutRequest as Asked
from fitsim.commands.testcut import answer_testcut
from fitsim.errors import InputError
from fitsim.saw.learned import learn
from fitsim.saw.oven_test import MeterReading, OvenPiece
from fitsim.saw.slide_test import Slide
from fitsim.saw.tests_file import make_tests
from fitsim.wood.across_grain import StripSize
from fitsim.wood.species import find_wood

STRIP = {"load": "4.2 kg", "width": "10 mm", "thickness": "6 mm", "span": "60 mm"}
OILED = {"board": {"finish": "oil"}}
CHERRY = {"board": {"wood": "cherry"}}


def test_everything_that_may_be_measured_is_read() -> None:
    """Kilograms and pounds become newtons, ounces grams, percent shares, "within" half of itself."""
    tests = make_tests(
        {
            "name": "Shed",
            "date": "2024-03-02",
            "board": {"wood": "cherry", "grain": "quarter-sawn", "finish": "varnish"},
            "slide": [{"angle": "20 1/2 deg", "within": "1 deg"}, {"held": "30 deg"}],
            "friction": {"believed": "0.3 to 0.5", "varies": "20 %", "stands_for": "0 %"},
            "strips": {"width": "3/8 in", "span": "60 mm"},
            "break": [
                {"load": "9 lb", "thickness": "1/4 in", "within": "0.1 kg", "size_within": "0.3 mm"},
                {"load": "41 N", "thickness": "5 mm", "width": "9 mm"},
            ],
            "strength": {"common": "8 %", "handbook_within": "30 %", "moisture_within": "3 %"},
            "oven": [{"wet": "2 oz", "dry": "52 g", "within": "0.2 g"}],
            "meter": [{"reading": "8.5 %", "within": "1.5 %"}],
            "moisture": {"varies": "1 %"},
        }
    )
    assert (tests.name, tests.date, tests.cuts) == ("Shed", "2024-03-02", None)
    assert tests.slides
    assert tests.strips
    assert tests.moisture
    deg = math.radians
    assert tests.slides.slides == (
        Slide(deg(20.5), sd_rad=pytest.approx(deg(0.5))),
        Slide(deg(30), held=True),
    )
    assert (tests.slides.finish, tests.slides.wood) == ("varnish", "cherry, black")
    assert (tests.slides.believed_low, tests.slides.believed_high) == (0.3, 0.5)
    assert (tests.slides.varies_sd, tests.slides.stands_for_sd) == (pytest.approx(0.1), 0.0)
    first, second = tests.strips.strips
    assert first.load_N == pytest.approx(9 * 4.4482216)
    assert (first.load_sd_N, first.size_sd_mm) == (pytest.approx(0.05 * 9.80665), 0.15)
    assert first.size == StripSize(9.525, 6.35, 60.0)
    assert (second.load_N, second.size) == (41.0, StripSize(9.0, 5.0, 60.0))
    assert second.load_sd_N == pytest.approx(0.1 * 9.80665)
    assert tests.strips.handbook_MPa == find_wood("cherry").tension_across_MPa.value
    assert tests.strips.ring_angle_rad == pytest.approx(math.pi / 2)
    assert (tests.strips.common_sd, tests.strips.handbook_sd) == pytest.approx((0.04, 0.15))
    assert tests.strips.moisture_sd_percent == 1.5
    assert tests.moisture.pieces == (OvenPiece(pytest.approx(56.699), 52.0, 0.1),)
    assert tests.moisture.meters == (MeterReading(8.5, 0.75),)
    assert tests.moisture.varies_sd_percent == 0.5
    assert {a.key for a in tests.assumptions} == {"slide.within", "break.within", "break.size_within"}


def test_what_is_left_out_is_an_estimate_with_a_range() -> None:
    """Bare readings lean on every default that bears on them, each with mark, range and source."""
    tests = make_tests({**CHERRY, "break": [STRIP]})
    assert {a.key for a in tests.assumptions} == {
        "break.within", "break.size_within", "strength.common", "strength.handbook_within",
        "strength.moisture_within",
    }  # fmt: skip
    tests = make_tests({**OILED, "slide": [{"angle": "20 deg"}]})
    assert {a.key for a in tests.assumptions} == {
        "slide.within", "friction.varies", "friction.stands_for", "friction.believed",
    }  # fmt: skip
    assert all(a.low != a.high and a.source for a in tests.assumptions)
    assert tests.slides
    assert (tests.slides.believed_low, tests.slides.believed_high) == (0.2, 0.55)
    weighed = make_tests({**CHERRY, "break": [STRIP], "meter": [{"reading": "9 %"}]})
    assert "strength.moisture_within" not in {a.key for a in weighed.assumptions}


def test_defaults_in_words_are_the_defaults_in_numbers() -> None:
    """What the report says was taken for granted is what the estimates take."""
    bare: dict[str, Any] = {
        "board": {"wood": "cherry", "finish": "oil"},
        "slide": [{"angle": "20 deg"}], "break": [STRIP],
        "oven": [{"wet": "54 g", "dry": "50 g"}], "meter": [{"reading": "9 %"}],
    }  # fmt: skip
    one = make_tests(bare)
    written: dict[str, Any] = {key: value for key, value in bare.items() if key != "board"}
    for a in one.assumptions:
        table, key = a.key.split(".")
        if table in bare:
            written[table] = [{**written[table][0], key: a.value}]
        else:
            written.setdefault(table, {})[key] = a.value
    other = make_tests({**written, "board": bare["board"]})
    assert other.assumptions == ()
    assert (one.slides, one.moisture) == (other.slides, other.moisture)
    assert one.strips
    assert other.strips
    assert one.strips.strips[0].load_sd_N == pytest.approx(other.strips.strips[0].load_sd_N)
    assert (one.strips.common_sd, one.strips.handbook_sd) == (
        other.strips.common_sd,
        other.strips.handbook_sd,
    )


def test_a_rift_sawn_board_may_be_half_as_strong() -> None:
    """With rings near 45 degrees the handbook is believed within 60 percent, if the file is silent."""
    board = {"wood": "cherry", "grain": "rift-sawn"}
    tests = make_tests({"board": board, "break": [STRIP]})
    assert tests.strips
    assert tests.strips.handbook_sd == pytest.approx(0.3)
    (told,) = [a for a in tests.assumptions if a.key == "strength.handbook_within"]
    assert told.value == "60 %"
    half = {**STRIP, "load": "2.1 kg"}
    learn(make_tests({"board": board, "break": [half, half, half]}))  # and is not refused
    own = make_tests({"board": board, "break": [STRIP], "strength": {"handbook_within": "30 %"}})
    assert own.strips
    assert own.strips.handbook_sd == pytest.approx(0.15)


@pytest.mark.parametrize(
    ("tables", "expected"),
    [
        ({"slide": [{"angle": "20 deg"}]}, "my.toml: board.finish: expected how the off-cuts are finished"),
        ({**OILED, "slide": [{}]}, "slide 1.angle: expected either angle, at which it slid, or held"),
        ({**OILED, "slide": [{"angle": "20 deg", "held": "3 deg"}]}, "either angle, at which it slid"),
        ({**OILED, "slide": [{"angle": "70 deg"}]}, "slide 1.angle = '70 deg': expected at most 60 deg"),
        ({**OILED, "slide": [{"angle": "20"}]}, "slide 1.angle = '20': expected an angle in degrees"),
        ({**OILED, "slide": {"angle": "20 deg"}}, "[[slide]] with two brackets on each side"),
        ({**OILED, "slide": [{"angl": "20 deg"}]}, "did you mean 'angle'?"),
        ({"board": {"finish": "oyl"}, "slide": [{"angle": "20 deg"}]}, "did you mean 'oil'?"),
        ({**OILED, "slide": [{"angle": "20 deg", "load": "4 kg"}]}, "move it to stand under [[break]]"),
        (
            {**OILED, "slide": [{"angle": "20 deg"}], "friction": {"believed": "0.5"}},
            "friction.believed = '0.5': expected two frictions above zero",
        ),
        ({"break": [STRIP]}, "board.wood: expected the wood of the strips"),
        ({**CHERRY, "break": [{"load": "4 kg"}]}, "break 1.width: expected the strip's width"),
        ({**CHERRY, "break": [{"load": "4 kg"}]}, "break 1.span: expected how far apart the supports are"),
        ({**CHERRY, "break": [{**STRIP, "load": "4.2"}]}, "break 1.load = '4.2': expected a load"),
        ({**CHERRY, "break": [{**STRIP, "load": "4.2 MPa"}]}, "write it like \"4.2 kg\""),
        (
            {**CHERRY, "break": [{**STRIP, "span": "25 mm"}]},
            "break 1.span = 25 mm: expected 30 mm or more, 5 times its thickness",
        ),
        ({"board": {"wood": "chery"}, "break": [STRIP]}, "board.wood = chery: expected the name of a wood"),
        ({**CHERRY, "break": [STRIP], "strength": {"common": "0.1"}}, "expected a share in percent"),
        ({"oven": [{"wet": "50 g", "dry": "54 g"}]}, "oven 1.dry = 54 g: expected less than the 50 g"),
        ({"oven": [{"wet": "90 g", "dry": "54 g"}]}, "oven 1.wet = 90 g: expected at most 30 %"),
        (
            {"ring": [{"tilt": "5 deg", "drop": "7.4 mm", "within": "500 mm"}]},
            "ring 1.within = 500 mm: expected less than the 7.4 mm that was read; check the unit",
        ),
        (
            {"slot": [{"width": "0.7 mm", "within": "0.05 in"}]},
            "slot 1.within = 1.27 mm: expected less than the 0.7 mm that was read; check the unit",
        ),
        (
            {**CHERRY, "break": [{**STRIP, "load": "4 kg", "within": "20 kg"}]},
            "break 1.within = 20 kg: expected less than the 4 kg that was read; check the unit",
        ),
        ({"oven": [{"wet": "50 g"}]}, "oven 1.dry: expected its weight when it lost no more"),
        ({"meter": [{"reading": "40 %"}]}, "meter 1.reading = '40 %': expected at most 30 %"),
        (
            {"meter": [{"reading": "8.5 %"}], "bevel": [{"tilt": "5 deg", "gauge": "5 deg"}]},
            "ring: expected a ring that bound, or a slot",
        ),
        ({**OILED, "slide": ["20 deg"]}, "write [[slide]] on a line of its own"),
        ({}, "for other tests [[slide]], [[break]], [[oven]] or [[meter]]"),
        ({"friction": {"slides": 3}}, "this is one of what was learned already"),
    ],
)  # fmt: skip
def test_slips_are_answered_with_how_to_mend_them(tables: dict[str, Any], expected: str) -> None:
    """Every slip is one line that names file, place and value, and says what to write."""
    with pytest.raises(InputError) as caught:
        make_tests(tables, where="my.toml")
    lines = str(caught.value).splitlines()
    assert any(expected in line for line in lines), lines
    assert all(line.startswith("my.toml") for line in lines)


def test_a_saws_cuts_are_asked_for_where_only_they_serve(tmp_path: Path) -> None:
    """A file of slides holds no saw; asked for a drop at a tilt it says what would tell one."""
    path = tmp_path / "slides.toml"
    path.write_text('[board]\nfinish = "oil"\n[[slide]]\nangle = "20 deg"\n', "utf8")
    asked = Asked(tilts_rad=(math.radians(6.5),))
    with pytest.raises(InputError, match="a saw's rings or slots in the file, to predict a drop"):
        answer_testcut(path, asked, width=100, remark=print)


def test_starter_is_good_once_opened() -> None:
    """Every commented line of the starter, opened, is read, and each kind of test is there."""
    path = Path(fitsim.__file__).parent / "data" / "starter_testcut.toml"
    opened = "\n".join(
        line.removeprefix("# ") if re.match(r"# (\[|[a-z_]+ = )", line) else line
        for line in path.read_text("utf8").splitlines()
    )
    tests = make_tests(tomllib.loads(opened))
    assert tests.cuts
    assert tests.slides
    assert tests.strips
    assert tests.moisture
    assert [s.held for s in tests.slides.slides] == [False, False, True]
    assert [s.size.thickness_mm for s in tests.strips.strips] == [6.0, 5.8]
    assert (len(tests.moisture.pieces), len(tests.moisture.meters)) == (1, 1)
    assert tests.assumptions != ()  # the second slide and strip leave their errors out


@pytest.mark.parametrize(
    ("tables", "units"),
    [
        (
            {"break": [{"load": "9.5 lb", "width": "3/8 in", "thickness": "1/4 in", "span": "2 1/2 in"}]},
            "in",
        ),
        (
            {
                "strips": {"width": "10 mm", "thickness": "6 mm", "span": "60 mm"},
                "break": [{"load": "9.5 lb"}],
            },
            "mm",
        ),
        ({"board": {"thickness": "3/4 in"}, "slide": [{"angle": "20 deg"}]}, "in"),
        ({"board": {"thickness": "3/4 in"}, "ring": [{"tilt": "5 deg", "drop": "8 mm"}]}, "mm"),
        ({"meter": [{"reading": "8 %"}]}, "mm"),
    ],
    ids=["strips", "strips, a scale in pounds", "thickness", "drop before thickness", "nothing tells"],
)
def test_units_are_those_the_file_is_written_in(tables: dict[str, Any], units: str) -> None:
    """Whatever was measured: the first thing that tells inches from millimetres counts."""
    tables = {**tables, "board": {"wood": "walnut", "finish": "none", **tables.get("board", {})}}
    assert make_tests(tables).units == units
