"""What a maker may write, and what is answered when it cannot be understood."""

import math
import re
from fractions import Fraction
from pathlib import Path

import pytest

import fitsim
from fitsim.bowlfile.defaults import make_bowl, read_bowl
from fitsim.errors import InputError
from fitsim.toml_files import tables_of_bytes
from fitsim.wood.strength import grain_strength

BOARD = {"thickness": "18 mm", "across": "150 mm"}
CUT = {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"}
PACKAGE_DATA = Path(fitsim.__file__).parent / "data"


def lines_for(tables: dict[str, object]) -> list[str]:
    """Every line answered to tables that are wrong."""
    with pytest.raises(InputError) as caught:
        make_bowl(tables, where="my.toml")
    return str(caught.value).splitlines()


def with_key(table: str, key: str, value: object) -> dict[str, object]:
    """A good bowl with one key changed."""
    tables: dict[str, dict[str, object]] = {"board": dict(BOARD), "cut": dict(CUT), "use": {}}
    tables.setdefault(table, {})[key] = value
    return dict(tables)


def test_three_keys_are_enough() -> None:
    """A bowl needs thickness, across and tilt; everything else is an assumption with a source."""
    bowl = make_bowl({"board": BOARD, "cut": {"tilt": "6 deg"}})
    keys = {a.key for a in bowl.assumptions}
    assert {"board.wood", "board.moisture", "cut.kerf", "cut.pitch", "cut.base", "use.friction"} <= keys
    assert all(a.source and a.mark in ("published", "from memory", "estimated") for a in bowl.assumptions)
    kerf = next(u for u in bowl.uncertain if u.name == "kerf")
    # Body 0.36 to 0.64 mm and set 0.13 to 0.25 mm on each side, to a twentieth of a millimetre.
    assert (kerf.low, kerf.high) == pytest.approx((0.6, 1.15))
    assert bowl.cut.kerf_mm == pytest.approx((0.875,))


def test_a_wide_blade_leaves_a_wider_slot() -> None:
    """The kerf assumed is that of blades as wide: a 3/4 in body of 0.81 to 0.89 mm with the same set."""
    board = {**BOARD, "across": "400 mm"}
    bowl = make_bowl({"board": board, "cut": {"tilt": "6 deg", "blade": "3/4 in", "base": "300 mm"}})
    kerf = next(u for u in bowl.uncertain if u.name == "kerf")
    assert (kerf.low, kerf.high) == pytest.approx((0.81 + 2 * 0.13, 0.89 + 2 * 0.25), abs=0.025)


def test_given_keys_are_not_assumed() -> None:
    """A key that was written leaves the list of assumptions."""
    tables = with_key("use", "friction", "0.35")
    tables["board"] = {**BOARD, "wood": "white oak", "outline": "round", "moisture": "7 %"}
    keys = {a.key for a in make_bowl(tables).assumptions}
    assert not keys & {"board.wood", "board.outline", "board.moisture", "cut.kerf", "use.friction"}


@pytest.mark.parametrize(("sawn", "turns", "shown"), [(12, (6,), 2), (12, (12, 7, 9), 2), (12, (12,), 0)])
def test_the_rule_for_moisture_is_shown_where_the_turns_go_by_it(
    sawn: float, turns: tuple[float, ...], shown: int
) -> None:
    """A board sawn at 12 percent whose turns are now drier has its strength by the rule, from memory."""
    board = {**BOARD, "wood": "cherry", "moisture": f"{sawn} %"}
    use = {"base_moisture": "6 %", "turn_moisture": [f"{turn} %" for turn in turns]}
    cut = {"tilt": "6 deg", "kerf": "0.7 mm", "turns": 3, "base": "56 mm"}
    bowl = make_bowl({"board": board, "cut": cut, "use": use})
    found = [a for a in bowl.assumptions if "of that at 12 %" in a.key]
    assert [a.mark for a in found] == ["from memory"] * shown
    strong = [
        grain_strength(bowl.board.wood, float(percent)).across_MPa(0.0)
        for percent in (bowl.use.turn_moisture_percent[0], 12.0)
    ]
    assert (strong[0] != strong[1]) is (turns[0] != 12)


def test_units_are_read_exactly() -> None:
    """Fractions of an inch become exact lengths, angles radians, forces newtons."""
    bowl = make_bowl(
        {
            "board": {"thickness": "5/8 in", "across": "7 1/4 in", "grain": "30 deg"},
            "cut": {"tilt": "5 1/2 deg", "kerf": '0.028"', "turns": 7.5, "base": "2 3/4 in"},
            "use": {"press": "22 lbf"},
        }
    )
    assert bowl.board.thickness_mm == 15.875
    assert bowl.board.across_mm == 184.15
    assert bowl.board.ring_angle_rad == pytest.approx(math.pi / 6)
    assert bowl.cut.tilt_rad == (pytest.approx(math.radians(5.5)),)
    assert bowl.cut.pitch_mm == pytest.approx((184.15 - 69.85) / 2 / 7.5)
    assert bowl.use.press_N == pytest.approx(22 * 4.4482216152605)
    assert bowl.units == "in"
    assert make_bowl({"board": BOARD, "cut": CUT}).units == "mm"


def test_kerf_from_the_blade() -> None:
    """Body and set give the kerf: the body once and the set on both sides."""
    cut = {"tilt": "6 deg", "blade_body": "0.36 mm", "blade_set": "0.17 mm", "pitch": "6.5 mm"}
    assert make_bowl({"board": BOARD, "cut": cut}).cut.kerf_mm == (pytest.approx(0.70),)


def test_ranges_reach_the_verdict() -> None:
    """A range written for kerf, film or friction becomes an uncertain input, its middle the value."""
    tables = {
        "board": BOARD,
        "cut": {**CUT, "kerf": "0.62 to 0.72 mm"},
        "use": {"film": "0.02 to 0.06 mm", "friction": "0.2 to 0.5"},
    }
    bowl = make_bowl(tables)
    ends = {u.path: (u.low, u.high) for u in bowl.uncertain}
    assert ends["cut.kerf_mm"] == (0.62, 0.72)
    assert ends["use.film_mm"] == (0.02, 0.06)
    assert ends["use.friction"] == (0.2, 0.5)
    assert bowl.cut.kerf_mm == (pytest.approx(0.67),)
    assert bowl.use.friction == pytest.approx(0.35)


def test_both_ends_of_an_input_are_told_of_a_range_of_one_value_and_of_several() -> None:
    """A range has its ends, one value is both, and of one value a turn it is the least and the greatest."""
    kerfs = [f"{mm} mm" for mm in (0.71, 0.74, 0.69, 0.7, 0.78, 0.72, 0.73, 0.75)]
    tables = {
        "board": {**BOARD, "wood": "sugar maple"},
        "cut": {**CUT, "kerf": kerfs},
        "use": {"friction": "0.23 to 0.52", "press": "137 N"},
    }
    bowl = make_bowl(tables)
    assert bowl.ends_of("use.friction") == (0.23, 0.52)
    assert bowl.ends_of("use.press_N") == (137, 137)
    assert bowl.ends_of("cut.kerf_mm") == (0.69, 0.78)
    assert bowl.ends_of("board.wood.E_L_MPa") == (13860, 13860)
    assert bowl.ends_of("board.wood.tension_across_MPa") == (3.49, 6.92)


@pytest.mark.parametrize(
    ("table", "key", "value", "expected"),
    [
        ("board", "thickness", "18", "board.thickness = '18': expected a length with its unit; give"),
        ("board", "thickness", 18, "board.thickness = '18'"),
        ("cut", "kerf", "0,7 mm", "write the decimal with a point: '0.7 mm'"),
        ("board", "wood", "chery", "did you mean"),
        ("board", "wood", "", "board.wood"),
        ("cut", "base", "160 mm", "cut.base = 160 mm: expected less than the board's 150 mm"),
        ("cut", "pitch", "0.6 mm", "cut.pitch = 0.6 mm: expected a pitch wider than the slot of 0.70 mm"),
        ("cut", "pitch", "40 mm", "a strip of one full turn"),
        ("cut", "tilt", "0 deg", "with none nothing wedges"),
        ("cut", "tilt", "60 deg", "0.1 to 45 deg"),
        ("cut", "kerf", "0 mm", "measure it with a feeler gauge"),
        ("cut", "kerf", [], "one for each turn"),
        (
            "cut",
            "kerf",
            ["0.7 mm", "0.6 mm"],
            "one value, or 8 for a cut of 7.23 turns: one for each of its 7 whole turns and one for the",
        ),
        ("cut", "blade", "2 in", "2.9 mm to 31.8 mm (1/8 in, also called 3 mm, to 1 1/4 in)"),
        ("cut", "blade", "31.9 mm", "cut.blade = 31.9 mm: expected 2.9 mm to 31.8 mm"),
        ("cut", "turns", 3, "either pitch or turns"),
        ("cut", "blade_set", "0.2 mm", "blade_body beside it"),
        ("use", "press", "9999 N", "1 to 5000 N"),
        ("use", "press", "0.0001 N", "use.press = 0.0001 N: expected 1 to 5000 N; check the unit"),
        ("use", "press", "0 N", "use.press = 0 N: expected a push: with none nothing sinks; write what"),
        ("cut", "kerff", "0.7 mm", "expected a key this table has; did you mean 'kerf'?"),
        ("board", "tilt", "6 deg", "move it to stand under [cut]"),
        ("board", "outline", "ovel", "did you mean 'oval'?"),
        ("board", "grain", "quater-sawn", "did you mean 'quarter-sawn'?"),
        ("board", "grain", "120 deg", "write 60 deg"),
        ("board", "moisture", "45 %", "0 to 30 %"),
        ("use", "finish", "varnich", "did you mean 'varnish'?"),
        ("use", "friction", "35", "0 to 1.5"),
        ("use", "friction", "0.5 to 0.2", "write the smaller first: '0.2 to 0.5'"),
        (
            "use",
            "press",
            "140 to 350 N",
            "press is no range; write what you can push; left out, it is taken as "
            "known only as 140 N to 350 N",
        ),
        ("use", "press", "10 kg", "did you mean 'kgf'?"),
        ("use", "press", "10 mm", "belongs to a length"),
        ("limits", "overlap", "2", "0 to 1"),
    ],
)
def test_one_line_answers(table: str, key: str, value: object, expected: str) -> None:
    """A wrong value is answered in one line with file, key, value, what was expected and how to mend it."""
    (line,) = lines_for(with_key(table, key, value))
    assert line.startswith(f"my.toml: {table}.")
    assert expected in line
    assert "; " in line


def test_base_without_a_foot() -> None:
    """A base so small that its bevel comes to a point is refused with the least base that would do."""
    cut = {**CUT, "base": "14 mm", "tilt": "30 deg"}
    (line,) = lines_for({"board": BOARD, "cut": cut})
    # foot radius 2 mm + half the kerf 0.35 mm + 9 mm of height x tan 30 deg
    least = 2 * (2 + 0.35 + 9 * math.tan(math.radians(30)))
    assert f"at least {least:.1f} mm" in line


INCH_BOARD = {"thickness": "3/4 in", "across": "9 1/2 in"}
INCH_CUT = {"tilt": "5 deg", "kerf": "0.028 in", "pitch": "5/16 in", "base": "3 3/4 in"}


@pytest.mark.parametrize(
    ("table", "key", "value", "expected"),
    [
        # Foot radius 2 mm, half the kerf 0.36 mm, 3/8 in x tan 5 deg: 6.38 mm in all, 16.1 sixty-fourths.
        ("cut", "base", "1/8 in", "cut.base = 1/8 in: expected at least 17/64 in, or its bevel comes to"),
        ("cut", "base", "10 in", "cut.base = 10 in: expected less than the board's 9 1/2 in"),
        (
            "cut",
            "pitch",
            "0.02 in",
            "cut.pitch = 0.02 in: expected a pitch wider than the slot of 0.028 in",
        ),
        ("cut", "pitch", "4 in", "cut.pitch = 4 in: expected a strip of one full turn"),
        ("cut", "pitch", ["1/4 in", "5/16 in"], "2 values, 9/16 in in all: expected at least the 2 7/8 in"),
        ("board", "thickness", "7 in", "board.thickness = 7 in: expected 0.040 in to 5 57/64 in"),
        ("cut", "blade", "2 in", "cut.blade = 2 in: expected"),
        ("scatter", "kerf", "1/2 in", "scatter.kerf = 1/2 in: expected 0.000 in to 0.009 in"),
        ("cut", "feed", "900 in/min", "cut.feed = 900 in/min: expected 0.04 to 787.401 in/min"),  # 20 m
    ],
)
def test_a_file_in_inches_is_answered_in_inches(table: str, key: str, value: object, expected: str) -> None:
    """A length that contradicts others is told as it was written, beside one on a rule that would do."""
    tables = {"board": INCH_BOARD, "cut": INCH_CUT}
    (line,) = lines_for({**tables, table: {**tables.get(table, {}), key: value}})
    assert expected in line
    if key != "blade":  # blades are sold in inches and tabled in both
        assert " mm" not in line


@pytest.mark.parametrize(
    ("table", "key", "value", "expected"),
    [
        ("cut", "kerf", "0.000001 mm", "cut.kerf = 0.000001 mm: expected a kerf of 0.10 mm or more"),
        ("cut", "kerf", "0.07 mm", "cut.kerf = 0.07 mm: expected a kerf of 0.10 mm or more"),
        ("cut", "kerf", "0.05 mm to 0.8 mm", "cut.kerf = 0.05 mm: expected a kerf of 0.10 mm or more"),
        ("cut", "kerf", ["0.8 mm", "0.08 mm"], "cut.kerf = 0.08 mm: expected a kerf of 0.10 mm or more"),
        ("cut", "tilt", "0.0000001 deg", "cut.tilt = 0.0000001 deg: expected 0.1 to 45 deg"),
        ("use", "film", "3 mm", "use.film = 3 mm: expected 0 to 1 mm; it is the dried film on one face"),
        ("use", "film", "0.1 to 3 mm", "use.film = 3 mm: expected 0 to 1 mm"),
        ("cut", "feed", "99999999999 mm/min", "cut.feed = 100000000000 mm/min: expected 1 to 20000 mm/min"),
        ("cut", "feed", "0.1 mm/min", "cut.feed = 0.1 mm/min: expected 1 to 20000 mm/min"),
    ],
)
def test_values_that_no_board_or_saw_has_are_refused(
    table: str, key: str, value: object, expected: str
) -> None:
    """A slip of the point or of the unit gets one line and no verdict, in plain figures."""
    cut = {"tilt": "5 deg", "kerf": "0.8 mm"}
    tables = {"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": cut}
    (line,) = lines_for({**tables, table: {**tables.get(table, {}), key: value}})
    assert line.startswith(f"my.toml: {expected}")


def test_a_kerf_typed_in_mm_into_a_file_in_inches_is_told_as_it_was_typed() -> None:
    """Beside the board's inches: 0.05 mm / 25.4 = 0.0019685 in is nothing that the maker wrote."""
    cut = {"tilt": "5 deg", "kerf": "0.05 mm"}
    (line,) = lines_for({"board": {"thickness": "5/8 in", "across": "7 1/4 in"}, "cut": cut})
    assert line.startswith("my.toml: cut.kerf = 0.0019685 in (0.05 mm): expected a kerf of")


def test_a_blade_too_thin_by_body_and_set_is_named_by_its_body() -> None:
    """Its kerf is the body and twice the set, 0.03 + 2 x 0.01 = 0.05 mm."""
    cut = {"tilt": "5 deg", "blade_body": "0.03 mm", "blade_set": "0.01 mm"}
    (line,) = lines_for({"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": cut})
    assert line.startswith("my.toml: cut.blade_body = 0.03 mm: expected a kerf of 0.10 mm or more")


def test_the_finest_blade_the_thickest_film_and_the_fastest_feed_are_taken() -> None:
    """What stands at a bound is on its right side: a piercing blade, an epoxy film, a power feed."""
    bowl = make_bowl(
        {
            "board": {"thickness": "6 mm", "across": "60 mm"},
            "cut": {"tilt": "0.1 deg", "kerf": "0.1 mm", "pitch": "3 mm", "feed": "20 m/min"},
            "use": {"film": "1 mm"},
        }
    )
    assert (bowl.cut.kerf_mm, bowl.use.film_mm, bowl.cut.feed_mm_per_min) == ((0.1,), 1.0, 20_000.0)


def test_a_limit_is_told_in_thousandths_and_no_value_told_is_refused() -> None:
    """A third of a kerf of 1.15 mm is 0.38333... mm: 0.383 mm is told, which is still taken."""
    cut = {"tilt": "5 deg", "kerf": "1.15 mm"}
    tables = {"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": cut}
    (line,) = lines_for({**tables, "scatter": {"kerf": "90 mm"}})
    assert "scatter.kerf = 90 mm: expected 0 to 0.383 mm" in line
    make_bowl({**tables, "scatter": {"kerf": "0.383 mm"}})


@pytest.mark.parametrize("base", ["110 mm", "50 mm"])
def test_too_few_turns_are_told_how_many_would_do(base: str) -> None:
    """N - 1/2 - k_h/2p is 1 strip; with the turns given a smaller base only widens the pitch."""
    board = {"wood": "walnut", "thickness": "12 mm", "across": "150 mm"}
    cut = {"tilt": "6 deg", "kerf": "0.6 mm", "base": base}
    (line,) = lines_for({"board": board, "cut": {**cut, "turns": 1}})
    assert line.endswith("at least 1.6 turns")
    assert "base" not in line
    assert make_bowl({"board": board, "cut": {**cut, "turns": 1.6}}).board.across_mm == 150
    (line,) = lines_for({"board": board, "cut": {**cut, "turns": 1.5}})
    assert "a strip of one full turn" in line


@pytest.mark.parametrize(("across", "usual"), [("150 mm", "1 mm"), ("6 in", "0.04 in")])
def test_a_kerf_of_another_unit_is_answered_in_the_file_s(across: str, usual: str) -> None:
    """A slot wider than the pitch is no blade's; a usual one is told in the units of the file."""
    thick = "18 mm" if across.endswith("mm") else "3/4 in"
    tables = {"board": {"thickness": thick, "across": across}, "cut": {"tilt": "6 deg", "kerf": "0.7 in"}}
    (line,) = lines_for(tables)
    assert "cut.kerf" in line
    assert line.endswith(f"check the unit: a blade leaves a slot of {usual} or so")


@pytest.mark.parametrize("key", ["overlap", "friction_used", "split_chance"])
def test_a_share_beyond_the_whole_is_no_limit(key: str) -> None:
    """Percent without their sign are refused, and told how they are written."""
    tables = {"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": {"tilt": "6 deg"}}
    (line,) = lines_for({**tables, "limits": {key: "20"}})
    assert f"limits.{key} = 20: expected 0 to 1" in line
    assert line.endswith("15 %")
    assert getattr(make_bowl({**tables, "limits": {key: "100 %"}}).limits, key) == 1


@pytest.mark.parametrize(
    ("table", "key", "value", "line"),
    [
        ("board", "thickness", "150.0001 mm", "board.thickness = 150.0001 mm: expected 1 to 150 mm"),
        ("cut", "tilt", "45.00001 deg", "cut.tilt = 45.00001 deg: expected 0.1 to 45 deg"),
        ("cut", "kerf", "0.09999999 mm", "cut.kerf = 0.09999999 mm: expected a kerf of 0.10 mm or more"),
        ("cut", "base", "150.00001 mm", "cut.base = 150.00001 mm: expected less than the board's 150 mm"),
        ("use", "friction", "1.5000001", "use.friction = 1.5000001: expected 0 to 1.5"),
        ("use", "press", "5000.0001 N", "use.press = 5000.0001 N: expected 1 to 5000 N"),
        ("limits", "press_spare", "0.9999999", "limits.press_spare = 0.9999999: expected 1 to 5"),
        ("board", "grain", "90.0001 deg", "expected an angle from 0 to 90 deg; write 89.9999 deg"),
        ("board", "pith", "5000.01 mm", "board.pith = 5000.01 mm: expected 0 to 5000 mm"),
        ("limits", "slot_left", "0.70001 mm", "limits.slot_left = 0.70001 mm: expected 0 to 0.7 mm"),
    ],
)
def test_what_lies_just_beyond_a_bound_does_not_read_as_the_bound(
    table: str, key: str, value: str, line: str
) -> None:
    """Every figure that was written is shown, so that no line says that a value is not itself."""
    tables: dict[str, dict[str, object]] = {"board": dict(BOARD), "cut": dict(CUT)}
    tables[table] = {**tables.get(table, {}), key: value}
    (said,) = lines_for(tables)
    assert line in said


def test_no_limit_of_the_slot_is_wider_than_the_kerf() -> None:
    """Nothing wider than the widest kerf is left of a slot: such a limit no bowl meets."""
    kerfs = ["0.62 mm", "0.81 mm", "0.7 mm"]
    cut = {"tilt": "6 deg", "kerf": kerfs, "turns": 3, "base": "56 mm"}
    bowl = make_bowl({"board": BOARD, "cut": cut, "limits": {"slot_left": "0.81 mm"}})
    assert bowl.limits.slot_left_mm == pytest.approx(0.81)
    (said,) = lines_for({"board": BOARD, "cut": cut, "limits": {"slot_left": "0.82 mm"}})
    assert "limits.slot_left = 0.82 mm: expected 0 to 0.81 mm" in said
    inches = {"board": {"thickness": "3/4 in", "across": "9 1/2 in"},
              "cut": {"tilt": "5 deg", "kerf": "0.028 in"}}  # fmt: skip
    (said,) = lines_for({**inches, "limits": {"slot_left": "5 in"}})
    assert "limits.slot_left = 5 in: expected 0.000 in to 0.028 in" in said


@pytest.mark.parametrize(
    ("cut", "line"),
    [
        # Of 240 mm 1 mm is left on each side: (1 - 0.35) / 1.5 is less than a slot of 0.7.
        ({"base": "238 mm", "pitch": "8 mm"}, "this one makes 0.00; a smaller base"),
        ({"base": "239.9999 mm", "pitch": "8 mm"}, "this one makes 0.00; a smaller base"),
        ({"base": "238 mm", "turns": 2}, "pitch wider than the slot of 0.70 mm; nothing is left"),
        ({"base": "237.6 mm", "turns": 1.4}, "a smaller base and more turns"),
        # 10 mm: (10 - 0.352) / 1.5 - 0.01 = 6.42, upward of a slot and its strip.
        ({"base": "220 mm", "pitch": "8 mm"}, "a pitch of 6.4 mm or less, or a smaller base"),
    ],
)
def test_a_remedy_is_one_that_can_be_sawn(cut: dict[str, object], line: str) -> None:
    """A pitch that leaves nothing of the strip is offered to nobody."""
    board = {"wood": "cherry", "thickness": "19 mm", "across": "240 mm"}
    (said,) = lines_for({"board": board, "cut": {"tilt": "5 deg", "kerf": "0.7 mm", **cut}})
    assert line in said
    offered = re.search(r"a pitch of (\S+ mm) or less", said)
    if offered:
        make_bowl({"board": board, "cut": {"tilt": "5 deg", "kerf": "0.7 mm", **cut, "pitch": offered[1]}})


@pytest.mark.parametrize("kerf", ["5 in", "1/2 in", "1 m to 2 m"])
def test_a_kerf_no_blade_leaves_is_what_is_doubted(kerf: str) -> None:
    """Neither the base is too small nor the pitch too fine beside a slot of another unit."""
    board = {"wood": "cherry", "thickness": "19 mm", "across": "240 mm"}
    cut = {"tilt": "5 deg", "kerf": kerf, "pitch": "8 mm", "base": "95 mm"}
    (said,) = lines_for({"board": board, "cut": cut})
    assert "cut.kerf = " in said
    assert "a slot narrower than the pitch of 8 mm" in said


def test_a_blade_called_3_mm_is_an_eighth_of_an_inch() -> None:
    """3.2 mm is the least radius of 1/8 in by the boldest of the tables, 6.3 mm by the most careful."""
    answer = fitsim.fit(make_bowl({"board": BOARD, "cut": {**CUT, "blade": "3 mm"}}), rigid=True)
    assert answer.least_radius is not None
    assert (answer.least_radius.low_mm, answer.least_radius.high_mm) == (3.2, 6.3)
    assert "3.17 mm, taken for a blade of 3 mm" in answer.least_radius.source


def test_a_chance_of_nothing_is_no_limit_of_splitting() -> None:
    """Every bowl would be at it, also one never pressed, of which nothing is known of splitting."""
    tables = {"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": {"tilt": "6 deg"}}
    (line,) = lines_for({**tables, "limits": {"split_chance": "0 %"}})
    assert "limits.split_chance = 0: expected more than 0" in line
    assert make_bowl({**tables, "limits": {"split_chance": "0.001 %"}}).limits.split_chance > 0


def test_shares_are_taken_in_percent_too() -> None:
    """Limits and friction are shown in percent, and read so."""
    board = {"thickness": "18 mm", "across": "150 mm"}
    bowls = [
        make_bowl(
            {"board": board, "cut": {"tilt": "6 deg"}, "use": {"friction": rub},
             "limits": {"overlap": bears, "friction_used": used, "split_chance": splits}}
        )
        for rub, bears, used, splits in (
            ("30 to 45 %", "20 %", "90 %", "5 %"), ("0.3 to 0.45", "0.2", 0.9, "0.05"),
        )
    ]  # fmt: skip
    assert bowls[0].limits == bowls[1].limits
    assert bowls[0].use.friction == bowls[1].use.friction
    assert [(u.low, u.high) for u in bowls[0].uncertain if u.name == "friction"] == [(0.3, 0.45)]


def test_a_name_that_is_too_long_is_told_so() -> None:
    """Length, line break and nothing at all are answered each for what it is."""
    tables = {"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": {"tilt": "6 deg"}}
    for name, told in (
        ("x" * 201, "this one has 201; shorten it"),
        ("a\nb", "on one line"),
        (" ", "write one"),
    ):
        (line,) = lines_for({**tables, "name": name})
        assert "expected a name on one line, of at most 200 characters" in line
        assert told in line.partition("characters; ")[2]
        assert "quotes" not in line
    (line,) = lines_for({**tables, "name": 5})
    assert 'expected a name in quotes; write it like "cherry"' in line
    assert make_bowl({**tables, "name": "x" * 200}).name == "x" * 200


def test_a_length_that_would_do_does() -> None:
    """What an impossible base or pitch is told to be is accepted when it is written."""
    for key, value in (("base", "1/8 in"), ("pitch", "4 in")):
        tables = {"board": INCH_BOARD, "cut": {**INCH_CUT, key: value}}
        (line,) = lines_for(tables)
        told = re.search(r"(?:at least|a pitch of) ([^,]*? in)\b", line)
        assert told is not None
        make_bowl({"board": INCH_BOARD, "cut": {**INCH_CUT, key: told[1]}})


@pytest.mark.parametrize(
    ("base", "turns"),
    [
        ("56 mm", "8 for a cut of 7.23 turns: one for each of its 7 whole turns and one for the part of a"),
        ("59 mm", "7: one for each turn of the cut"),
    ],
)
def test_a_list_is_asked_for_as_many_values_as_the_cut_has_turns(base: str, turns: str) -> None:
    """47 mm in steps of 6.5 mm are 7.23 turns, which ask for 8 values; 45.5 mm are 7 turns, for 7."""
    cut = {**CUT, "base": base}
    (line,) = lines_for({"board": BOARD, "cut": cut, "use": {"turn_moisture": ["6 %", "7 %"]}})
    assert f"expected one value, or {turns}" in line
    asked = int(turns.split()[0].rstrip(":"))
    make_bowl({"board": BOARD, "cut": cut, "use": {"turn_moisture": ["6 %"] * asked}})


def test_all_problems_at_once() -> None:
    """Every problem of a file is answered in one go, one line each."""
    tables = {
        "board": {"thickness": "3/4", "across": "9 in", "wood": 5},
        "cut": {"kerf": "0,7 mm"},
        "use": {"finsh": "oil"},
        "colour": "red",
    }
    lines = lines_for(tables)
    keys = [line.split()[1].rstrip(":") for line in lines]
    assert sorted(keys) == sorted(
        ["board.thickness", "board.wood", "cut.tilt", "cut.kerf", "use.finsh", "colour"]
    )


def test_contradictions_at_once() -> None:
    """Several keys that contradict one another are all answered together."""
    tables = {
        "board": {**BOARD, "wood": "unobtainium"},
        "cut": {**CUT, "turns": 4, "tilt": "0 deg"},
    }
    keys = {line.split()[1] for line in lines_for(tables)}
    assert keys == {"board.wood", "cut.turns", "cut.tilt"}


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"[board]\nthickness = 18 mm\n", "values stand in quotes"),
        (b"[board\nthickness = '18 mm'\n", "(expected ']' at the end of a table declaration"),
        (b"[board\nthickness = '18 mm'\n", "; close the name of the table"),
        (b"[cut]\ntilt = '6 deg'\ntilt = '7 deg'\n", "; a key or table stands there for the second time"),
        (b"[cut]\n[board]\n[cut]\n", "; a key or table stands there for the second time"),
        ("[cut]\ntilt = \u201c6 deg\u201d\n".encode(), "; write straight quotes"),
        (b"[cut]\ntilt = '6 deg\n", "; end the value with the quotes it began with"),
        (b'[cut]\ntilt = "6 deg\nkerf = "0.7 mm"\n', "; end the value with the quotes it began with"),
        (
            b'[cut]\ntilt = "6 deg\n',
            "(a value in quotes goes on over the end of its line (at line 2, column 14))",
        ),
        (b"[cut]\n[board]\n[cut]\n", "([cut] twice (at line 3, column 5))"),
        (b"[cut]\r[board]\rwood = 'cherry'\r", "; save it again with the line ends"),
        (b"# a bowl\rwood = 'cherry'\r", "; save it again with the line ends"),
        (b"[cut]\ntilt = ['6 deg', '7 deg'\n", "; close the list"),
        (
            b"[[ring]]\ntilt = '6 deg'\ndrop = '7 mm'\n[board]\nthickness = '18 mm'\n",
            "this is a file of test",
        ),
        (b"[saw]\nkerf = '1 mm'\ntilt_offset = '1 deg'\n", "this is a saw file"),
        (b"[cut]\ntilt = '6 deg'\n[board]\nacross = '9 in'\nthickness = '1 in'\n[foo]\n", "seen, measured"),
        (b"\xff\xfe\x00", "UTF-8"),
        ("[cut]\ntilt = '6 deg'\n".encode("utf-16-le"), "expected plain text in UTF-8; save it again"),
        ("# K\u00fcche\n[cut]\n".encode("utf-16-be"), "expected plain text in UTF-8; save it again"),
        (b"# one \x1b[31m red\n[cut]\n", "; delete the character there"),
        (b"# a\x00b\n[cut]\ntilt = '6 deg'\n", "; delete the character there"),
        (b"[cut]\ntilt = '6\x07 deg'\n", "; delete the character there"),
        (b"#" * 200_000, "at most 100 kB"),
        (b"board = 3\n", "a table of keys"),
        (b"", "the [board] table"),
        (b"a = " + b"9" * 5000, "a TOML file"),
        (b"a = " + b"[" * 5000, "a TOML file"),
    ],
)
def test_files_that_are_no_bowl(tmp_path: Path, content: bytes, expected: str) -> None:
    """A file that is not a bowl file is answered, never traced back."""
    path = tmp_path / "b.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"b\.toml") as caught:
        read_bowl(path)
    assert expected in str(caught.value)
    if expected.startswith((";", "(", "this is")):
        assert len(str(caught.value).splitlines()) == 1


def test_missing_file_and_folder(tmp_path: Path) -> None:
    """A name that is no file is answered with how to make one."""
    with pytest.raises(InputError, match="fitsim new"):
        read_bowl(tmp_path / "none.toml")
    with pytest.raises(InputError, match="can be read"):
        read_bowl(tmp_path)


def test_starter_and_demonstration_are_good_bowls() -> None:
    """The files we ship are read without a complaint and name no key that is not known."""
    for name in ("starter.toml", "demo.toml"):
        assert read_bowl(PACKAGE_DATA / name).board.thickness_mm > 0


def test_every_commented_key_of_the_starter_is_known(tmp_path: Path) -> None:
    """With its commented lines opened, the starter file still reads but for either-or keys."""
    text = (PACKAGE_DATA / "starter.toml").read_text("utf8")
    opened = []
    for line in text.splitlines():
        body = line[2:] if line.startswith("# ") and (" = " in line or line.startswith("# [")) else line
        opened.append("" if body.startswith("kerf") else body)
    path = tmp_path / "opened.toml"
    path.write_text("\n".join(opened), "utf8")
    bowl = read_bowl(path)
    assert bowl.cut.kerf_mm == (pytest.approx(0.4 + 2 * 0.15),)
    assert bowl.use.turn_moisture_percent == (6.0,)
    assert bowl.limits.overlap == pytest.approx(0.15)


def test_byte_order_mark_is_no_obstacle(tmp_path: Path) -> None:
    """A file saved with a byte order mark reads like any other."""
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + (PACKAGE_DATA / "demo.toml").read_bytes())
    assert read_bowl(path).name.startswith("Quince")


def test_lists_by_turn() -> None:
    """Kerf, tilt and moisture may be given turn by turn, innermost first."""
    kerfs = [0.62, 0.71, 0.66, 0.8, 0.7, 0.69, 0.75, 0.6]
    tables = {
        "board": BOARD,
        "cut": {**CUT, "kerf": [f"{k} mm" for k in kerfs], "tilt": [f"{6 + k} deg" for k in kerfs]},
    }
    answer = fitsim.fit(make_bowl(tables), rigid=True)
    expected = [k / math.sin(math.radians(6 + k)) for k in kerfs[:7]]
    assert answer.rigid.seats.seat_drop_mm.tolist() == pytest.approx(expected, rel=1e-9)


def test_fraction_type_survives() -> None:
    """The reader keeps fractions exact until the bowl is made."""
    from fitsim.bowlfile.keys import read_tables

    written = read_tables({"board": {"thickness": "1/3 in", "across": "9 in"}, "cut": {"tilt": "6 deg"}})
    assert written.board.thickness == Fraction(127, 15)


@pytest.mark.parametrize("hidden", "\u00a0\u200b\ufeff\u00ad\u200e\u2009\u202f\u2028")
@pytest.mark.parametrize(
    "text",
    [
        '[cut]\n%skerf = "0.7 mm"\n',
        '[cut]\nke%srf = "0.7 mm"\n',
        '[cut]\nkerf%s= "0.7 mm"\n',
        '[cut]\nkerf =%s"0.7 mm"\n',
        '[cut]\r\nkerf = "0.7 mm"%s\r\n',
        '[cut]\nkerf = ["0.7 mm"%s, "0.8 mm"]\n',
        "[cut%s]\n",
        "[%scut]\n",
        "[cut]%s",
    ],
)
def test_a_character_that_nobody_sees_is_named(text: str, hidden: str) -> None:
    """Pasted with a line and outside quotes, it and not what is well written is what to delete."""
    with pytest.raises(InputError) as caught:
        tables_of_bytes((text % hidden).encode("utf8"), where="b.toml")
    (problem,) = caught.value.problems
    code = f"U+{ord(hidden):04X}"
    assert problem.remedy == f"delete the character {code} there, which many editors do not show"
    assert tables_of_bytes((text % "").encode("utf8"), where="b.toml")["cut"] is not None


def test_what_stands_without_quotes_is_told_so_beside_a_hidden_character_elsewhere() -> None:
    """One in a remark or in a name is none of TOML's business; the place that stops the reader decides."""
    written = ("# a\u200b\nkerf = 0.7 mm\n", 'name = "a\u200bb"\nkerf = 0.7 mm\n', "kerf = 0.7\u00a0mm\n")
    for text in written:
        with pytest.raises(InputError, match="values stand in quotes"):
            tables_of_bytes(text.encode("utf8"), where="b.toml")


def test_a_hidden_character_in_a_name_is_named() -> None:
    """A wood with one in its middle stands on one line; one with a line feed does not."""
    for wood, remedy in (
        ("cher\u200bry", "delete the character U+200B in it, which many editors do not show"),
        ("black\u00a0walnut", "write a plain space in place of the character U+00A0 in it"),
        ("cherry\nred", "write it on one line"),
        ("", "write one, or leave the key out"),
    ):
        (said,) = lines_for({"board": {**BOARD, "wood": wood}, "cut": CUT})
        assert "board.wood" in said
        assert said.endswith(remedy)


@pytest.mark.parametrize("hidden", "\u00a0\u200b\u2060\ufeff\u00ad\u034f\u3164\ufe0f")
@pytest.mark.parametrize(
    ("table", "key", "value", "place"),
    [
        ("cut", "ke%srf", "0.7 mm", "cut.ke"),
        ("cut", "_kerf%s", "0.7 mm", "cut._kerf"),
        ("use", "%sfilm", "0.1 mm", "use."),
        ("li%smits", "overlap", "0.2", "li"),
        ("use", "finish", "o%sil", "use.finish"),
        ("board", "grain", "flat-%ssawn", "board.grain"),
    ],
)
def test_a_key_or_a_word_with_a_hidden_character_is_told_of_it(
    table: str, key: str, value: str, place: str, hidden: str
) -> None:
    """No word is offered that looks like the one that stands there, and no space in its place."""
    tables: dict[str, dict[str, object]] = {"board": dict(BOARD), "cut": dict(CUT)}
    name = table.replace("%s", hidden)
    tables[name] = {**tables.get(name, {}), key.replace("%s", hidden): value.replace("%s", hidden)}
    (said,) = lines_for(tables)
    assert said.startswith(f"my.toml: {place}")
    assert said.endswith(
        f"; delete the character U+{ord(hidden):04X} in it, which many editors do not show"
    )


@pytest.mark.parametrize(
    ("base", "across"), [("95 mm", 240), ("20 mm", 240), ("56 mm", 240), ("200 mm", 700)]
)
def test_a_kerf_that_no_blade_cuts_is_refused_however_wide_the_pitch(base: str, across: int) -> None:
    """Neither base nor pitch is blamed, and no board is so large that such a slot is taken."""
    board = {"wood": "cherry", "thickness": "19 mm", "across": f"{across} mm"}
    cut = {"tilt": "5 deg", "pitch": "60 mm", "base": base}
    for kerf in ({"kerf": "50 mm"}, {"blade_body": "49 mm", "blade_set": "0.5 mm"}):
        (said,) = lines_for({"board": board, "cut": {**cut, **kerf}})
        assert f"cut.{next(iter(kerf))} = " in said
        assert "no blade cuts a wider" in said
        assert "check the point and the unit" in said


def test_the_widest_kerf_is_taken_and_no_wider() -> None:
    """10 mm is, in a board large enough; a hundredth more is not."""
    board = {"thickness": "19 mm", "across": "700 mm"}
    cut = {"tilt": "5 deg", "pitch": "60 mm", "base": "200 mm"}
    make_bowl({"board": board, "cut": {**cut, "kerf": "10 mm"}})
    (said,) = lines_for({"board": board, "cut": {**cut, "kerf": "10.01 mm"}})
    assert "cut.kerf = 10.01 mm: expected a kerf of 10.0 mm or less: no blade cuts a wider slot" in said


@pytest.mark.parametrize("across", [24, 36, 61])
@pytest.mark.parametrize(("kerf", "pitch"), [(5.0, 8.0), (3.0, 8.0), (2.2, 7.5), (0.7, 17.0)])
@pytest.mark.parametrize("shape", ["round", "oval"])
def test_remedies_for_too_short_a_strip_lead_somewhere(
    shape: str, kerf: float, pitch: float, across: int
) -> None:
    """A smaller base is offered only where some base gives the strip its turn, and never in a circle."""
    board: dict[str, object] = {"wood": "cherry", "thickness": "9 mm", "across": f"{across} mm"}
    if shape == "oval":
        board = {**board, "outline": "oval", "length": f"{across + 23} mm", "width": f"{across} mm"}
        del board["across"]

    def told(base: float, pitch: float) -> str:
        cut = {"tilt": "5 deg", "kerf": f"{kerf} mm", "pitch": f"{pitch} mm", "base": f"{base:.2f} mm"}
        try:
            make_bowl({"board": board, "cut": cut})
        except InputError as error:
            return str(error)
        return ""

    said = {base: told(base, pitch) for base in (0.5 * step for step in range(6, 2 * across))}
    short = {base: line for base, line in said.items() if "a strip of one full turn" in line}
    assert short
    for base, line in short.items():
        smaller = any(not said[other] for other in said if other < base)
        assert ("a smaller base" in line and "finer" not in line) == smaller, (base, line)
    if any("a larger board" in line for line in short.values()):
        finer = [kerf + 0.5 + 0.25 * step for step in range(12)]
        assert not [(base, one) for base in said for one in finer if not told(base, one)]
