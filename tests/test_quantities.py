"""Makers' quantities: read exactly, written exactly, refused in one line."""

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.errors import InputError
from fitsim.quantities import (
    ANGLE,
    DIRECTION,
    FEED,
    FORCE,
    LENGTH,
    MOISTURE,
    PLAIN_OR_PERCENT,
    RATIO,
    QuantityKind,
    read_quantity,
    read_range,
    share_beside,
    show_figures,
    show_force,
    show_force_upward,
    show_length,
    show_volume,
    show_written,
    write_exactly,
)

INCH = Fraction(254, 10)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("16 mm", Fraction(16)),
        ('0.625"', INCH * 5 / 8),
        ("7 1/4 in", INCH * 29 / 4),
        ("7-1/4 in", INCH * 29 / 4),
        ("6½ in", INCH * 13 / 2),
        ("6 ½ in", INCH * 13 / 2),
        ("½ in", INCH / 2),
        ("⅞″", INCH * 7 / 8),
        ("1 ft 2 in", INCH * 14),
        ("5' 6 1/2\"", INCH * Fraction(133, 2)),
        ("5⁄8 in", INCH * 5 / 8),
        (".7 mm", Fraction(7, 10)),
        ("1.5 cm", Fraction(15)),
        ("16mm", Fraction(16)),
        ("28 thou", INCH * 28 / 1000),
        ("40 um", Fraction(1, 25)),
        ("  3/4   in  ", INCH * 3 / 4),
        ("0 mm", Fraction(0)),
    ],
)
def test_lengths_are_exact(text: str, mm: Fraction) -> None:
    """Every way a maker writes a length is read as the exact fraction of a millimetre."""
    assert read_quantity(text, LENGTH) == mm


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("6 deg", ANGLE, Fraction(6)),
        ("5 1/2°", ANGLE, Fraction(11, 2)),
        ("8 %", MOISTURE, Fraction(8)),
        ("9.25 percent", MOISTURE, Fraction(37, 4)),
        ("100 N", FORCE, Fraction(100)),
        ("10 kgf", FORCE, Fraction(980665, 10000)),  # ISO 80000: 9.80665 m/s^2 by definition
        ("2 lbf", FORCE, Fraction(2 * 44482216152605, 10**13)),  # 0.45359237 kg x 9.80665 m/s^2
        ("8 in/min", FEED, 8 * INCH),
        ("2 mm/s", FEED, Fraction(120)),
        ("15 %", PLAIN_OR_PERCENT, Fraction(3, 20)),
        ("0.15", PLAIN_OR_PERCENT, Fraction(3, 20)),
        ("0.35", RATIO, Fraction(7, 20)),
        (7.5, RATIO, Fraction(15, 2)),
        (7, RATIO, Fraction(7)),
    ],
)
def test_other_quantities(text: object, kind: QuantityKind, value: Fraction) -> None:
    """Angles, forces, moisture, feeds and ratios are read in their base units."""
    assert read_quantity(text, kind) == value


@pytest.mark.parametrize("number", [1e-9, 5e-05, 0.35, 2.5e3])
def test_a_number_of_a_file_is_read_however_small(number: float) -> None:
    """A bare number of TOML is its own value; Python would write 0.00005 with an exponent."""
    assert float(read_quantity(number, RATIO)) == number


def test_pound_force_agrees_with_its_definition() -> None:
    """One pound-force is the pound times the standard acceleration (both exact by definition)."""
    assert FORCE.units["lbf"] == Fraction(45359237, 10**8) * Fraction(980665, 10**5)


@given(st.integers(1, 10**10 - 1), st.integers(-3, 8))
def test_a_number_somebody_wrote_is_shown_to_its_last_digit(digits: int, places: int) -> None:
    """Of up to ten figures none is lost, however far the point lies; what was worked out is rounded."""
    value = float(Fraction(digits) / Fraction(10) ** places)
    assert float(show_figures(value)) == value
    assert "e" not in show_figures(value)
    assert show_figures(22 / 3, otherwise=4) == "7.333"
    assert show_written(0.1 + 0.2, units="mm") == "0.3 mm"


@given(st.floats(0.1, 600.0))
def test_newtons_shown_upward_have_pounds_of_their_own(force_N: float) -> None:
    """Pounds are those of the newtons shown, to a tenth upward: 181 N over 4.448 are always 40.7."""
    said = show_force_upward(force_N, units="in")
    newtons, pounds = (float(v) for v in re.findall(r"[\d.]+", said))
    assert newtons >= force_N - 1e-6
    assert 0 <= pounds * 4.4482216152605 - newtons < 0.1 * 4.4482216152605 + 1e-6
    assert said == show_force_upward(newtons, units="in")
    assert (
        show_force_upward(180.01, units="in") == show_force_upward(180.99, units="in") == "181 N (40.7 lbf)"
    )


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("12", "give the number its unit"),
        ("7 1/4", "give the number its unit"),
        (18, "give the number its unit"),
        ("0,5 mm", "'0.5 mm'"),
        ("1,000 mm", "'1.000 mm'"),
        ("1,000 mm", "'1000 mm', or"),
        ("1 ft 1,250 in", "'1 ft 1250 in', or '1 ft 1.250 in'"),
        ("12,345,678 mm", "write it without a comma: '12345678 mm'"),
        ("1,234.5 mm", "write it without a comma: '1234.5 mm'"),
        ("1.234,5 mm", "write it with one point and no comma: '1234.5 mm'"),
        ("12.345.678,25 mm", "with one point and no comma: '12345678.25 mm'"),
        ("2 ft 1.234,5 in", "with one point and no comma: '2 ft 1234.5 in'"),
        ("1,234,5 mm", "write it with one point and no comma"),
        ("1.23,5 mm", "write it with one point and no comma"),
        ("0,500 mm", "with a point: '0.500 mm'"),
        ("1,0000 mm", "with a point: '1.0000 mm'"),
        ("1234,567 mm", "with a point: '1234.567 mm'"),
        ("-3 mm", "leave the minus out"),
        ("5/0 in", "cannot have 0 below"),
        ("6 deg", "belongs to an angle"),
        ("5 MM", "did you mean 'mm'"),
        ("5 inchs", "did you mean 'inches'"),
        ("0.7 mm\u200b", "delete the character U+200B in it, which many editors do not show"),
        ("\u200e0.7 mm", "delete the character U+200E in it"),
        ("0.\u00ad7 mm", "delete the character U+00AD in it"),
        ("", "write it like"),
        ("mm", "write it like"),
        ("3 in 4 in", "write one value"),
        ("2 in 1 ft", "write one value"),
        ("1e3 mm", "'e' is not a unit"),
        ("inf mm", "write it like"),
        ("9" * 5000 + " mm", "write it like"),
        (True, "write it like"),
        (None, "write it like"),
        ([1], "write it like"),
    ],
)
def test_slips_of_the_pen(text: object, remedy: str) -> None:
    """What cannot be understood is answered with what to write instead."""
    with pytest.raises(InputError) as caught:
        read_quantity(text, LENGTH)
    (problem,) = caught.value.problems
    assert remedy in problem.remedy
    assert "\n" not in str(problem)


@given(st.from_regex(r"-?[0-9]{1,3}([.,][0-9]{1,4}){0,3},[0-9]{1,3}", fullmatch=True))
def test_what_is_offered_for_a_comma_can_be_read(number: str) -> None:
    """Every number that a remedy quotes is taken, and has the sign and the digits that were written."""
    text = f"{number} deg"
    with pytest.raises(InputError) as caught:
        read_quantity(text, ANGLE, below_zero=True)
    for offered in re.findall(r"'([^']+)'", caught.value.problems[0].remedy):
        assert re.sub(r"[.,]", "", offered) == re.sub(r"[.,]", "", text)
        read_quantity(offered, ANGLE, below_zero=True)


@pytest.mark.parametrize("width", "\u00a0\u2009\u202f")
def test_a_space_may_be_a_wide_or_a_narrow_one(width: str) -> None:
    """Between number and unit any space is one."""
    assert read_quantity(f"7{width}1/4{width}in", LENGTH) == Fraction(29, 4) * INCH


@pytest.mark.parametrize(
    ("text", "value"),
    [("-5 1/2 deg", Fraction(-11, 2)), ("\u22126 deg", Fraction(-6)), ("- 3.5 deg", Fraction(-7, 2)),
     ("4 deg", Fraction(4))],
)  # fmt: skip
def test_a_reading_may_lie_below_nothing(text: str, value: Fraction) -> None:
    """Where a minus has a sense it is read; elsewhere it is refused."""
    assert read_quantity(text, ANGLE, below_zero=True) == value


@pytest.mark.parametrize("text", ["-5", "-", "--5 deg", "-5,5 mm", "-0.5 dge"])
def test_a_refused_reading_is_quoted_with_its_sign(text: str) -> None:
    """What is told to be wrong is what was written."""
    with pytest.raises(InputError) as caught:
        read_quantity(text, ANGLE, below_zero=True)
    assert [problem.value for problem in caught.value.problems] == [repr(text)]


@pytest.mark.parametrize(
    ("text", "kind"), [("20 to 19 mm", LENGTH), ("3 3/4 to 4", LENGTH), ("4 to 6 deg", ANGLE)]
)
def test_a_range_where_one_value_is_asked_is_called_that(text: str, kind: QuantityKind) -> None:
    """Neither "thou" is meant nor "to" a unit that is missing."""
    with pytest.raises(InputError) as caught:
        read_quantity(text, kind)
    (problem,) = caught.value.problems
    assert problem.expected == "one value, for this is no range"
    assert problem.remedy == f"write it like {kind.examples}"


@pytest.mark.parametrize(
    ("text", "written"), [("-28 deg", "332 deg"), ("-388 deg", "332 deg"), ("-0.5 deg", "359.5 deg")]
)
def test_a_direction_below_nothing_is_told_as_the_one_it_is(text: str, written: str) -> None:
    """28 degrees the other way round are 332, and another bowl than 28."""
    with pytest.raises(InputError) as caught:
        read_quantity(text, DIRECTION)
    (problem,) = caught.value.problems
    assert problem.remedy.startswith(f"write {written}, which is 360 less ")
    assert "minus" not in problem.remedy


@pytest.mark.parametrize("text", ["-0 deg", "-360 deg"])
def test_once_round_is_no_way_at_all(text: str) -> None:
    """What comes back to the grain itself is told as 0, not as 360 less nothing."""
    with pytest.raises(InputError) as caught:
        read_quantity(text, DIRECTION)
    assert [problem.remedy for problem in caught.value.problems] == ["write 0 deg"]


def test_percent_stand_for_both_ends_of_a_range() -> None:
    """A first end without a sign is of the second's kind."""
    ends = (Fraction(3, 10), Fraction(9, 20))
    for text in ("30 to 45 %", "30 % to 45 %", "0.3 to 0.45"):
        assert read_range(text, PLAIN_OR_PERCENT) == ends


@given(st.fractions(min_value=0, max_value=5000, max_denominator=5000), st.sampled_from(["mm", "in", "ft"]))
def test_lengths_survive_a_round_trip(value: Fraction, unit: str) -> None:
    """Whatever length is written exactly is read back exactly."""
    assert read_quantity(write_exactly(value, unit, LENGTH), LENGTH) == value


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is either a length or an answer; nothing else is ever raised."""
    try:
        assert read_quantity(text, LENGTH) >= 0
    except InputError as error:
        assert error.problems[0].expected  # noqa: PT017 - both outcomes are lawful


@given(
    st.integers(0, 40),
    st.integers(0, 63),
    st.sampled_from(["in", '"', "″", "inch"]),
    st.sampled_from([" ", "-"]),
)
def test_rule_marks(whole: int, parts: int, unit: str, join: str) -> None:
    """Every mark of a rule divided in sixty-fourths is read exactly."""
    text = f"{whole}{join}{parts}/64 {unit}"
    assert read_quantity(text, LENGTH) == INCH * (whole + Fraction(parts, 64))


def test_ranges() -> None:
    """A range may leave the first unit out, and a single value is a range of no width."""
    assert read_range("0.9 to 1.3 mm", LENGTH) == (Fraction(9, 10), Fraction(13, 10))
    assert read_range("1/32 in to 1 mm", LENGTH) == (INCH / 32, Fraction(1))
    assert read_range("0.35", RATIO) == (Fraction(7, 20), Fraction(7, 20))
    with pytest.raises(InputError, match="smaller first"):
        read_range("2 to 1 mm", LENGTH)


@pytest.mark.parametrize(
    ("mm", "units", "fine", "shown"),
    [
        (184.15, "in", False, "7 1/4 in"),
        (0.7, "in", True, "0.028 in"),
        (12.7, "in", False, "1/2 in"),
        (25.4, "in", False, "1 in"),
        (0.1, "in", False, "0 in"),
        (-38.1, "in", False, "-1 1/2 in"),
        (18.04, "mm", False, "18.0 mm"),
        (0.704, "mm", True, "0.70 mm"),
        (-0.004, "mm", True, "0.00 mm"),  # nothing is neither above nor below
        (-0.04, "mm", False, "0.0 mm"),
        (-0.01, "in", True, "0.000 in"),
        (-0.006, "mm", True, "-0.01 mm"),
    ],
)
def test_lengths_for_reading(mm: float, units: str, fine: bool, shown: str) -> None:
    """Lengths are shown as a rule or a feeler gauge is marked."""
    assert show_length(mm, units=units, fine=fine) == shown


@given(pounds=st.integers(1, 99), figures=st.sampled_from((2, 3)))
def test_pounds_that_were_typed_are_read_back(pounds: int, figures: int) -> None:
    """Whole pounds of two figures stay what they are; the newtons beside are rounded for themselves."""
    force = 4.4482216152605 * pounds
    newtons, back = re.findall(r"[\d.]+", show_force(force, units="in", figures=figures))
    assert back == str(pounds)
    assert float(newtons) == pytest.approx(force, rel=0.51 * 10 ** (1 - figures))


def test_a_share_is_told_apart_from_its_limit() -> None:
    """A share never reads as the limit that it is not."""
    for share in (0.0996, 0.1004, 0.09996, 0.35, 0.10006):
        assert float(share_beside(share, 0.1)) != 0.1
        assert (float(share_beside(share, 0.1)) < 0.1) == (share < 0.1)
    assert share_beside(0.1, 0.1) == "0.10"


@pytest.mark.parametrize(
    ("ml", "ounces", "metric"),
    [(6.14, "0.21", "6.1"), (14.1, "0.48", "14"), (283.0, "9.6", "283"), (402.0, "14", "402")],
)
def test_a_small_bowl_does_not_hold_nothing(ml: float, ounces: str, metric: str) -> None:
    """Volumes under ten have two figures; a US fluid ounce is 231/128 cubic inches, 29.57 ml."""
    assert float(ounces) == pytest.approx(ml / (231 / 128 * 2.54**3), rel=0.04)
    assert show_volume(ml, units="in") == f"{ounces} US fl oz"
    assert show_volume(ml, units="mm") == f"{metric} ml"


@pytest.mark.parametrize("hidden", "\u200b\u034f\u180c\u3164\ufe0e\U000e0101")
@pytest.mark.parametrize("text", ["0.7 m%sm", "0.7 mm%s", "%s0.7 mm"])
def test_a_character_that_shows_as_nothing_is_named(text: str, hidden: str) -> None:
    """A filler or a mark of style that is printed as nothing makes no other unit of the one seen."""
    with pytest.raises(InputError) as caught:
        read_quantity(text.replace("%s", hidden), LENGTH)
    (problem,) = caught.value.problems
    assert (
        problem.remedy == f"delete the character U+{ord(hidden):04X} in it, which many editors do not show"
    )
