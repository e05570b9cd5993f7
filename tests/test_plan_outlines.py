"""Plans for boards that are not round: seat drop over pitch is the wall's slope whatever the outline."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.commands.plan import planned_tables
from fitsim.errors import InputError
from fitsim.geometry.blade import cutting_time_min, least_radius
from fitsim.geometry.board_outline import line_points_mm
from fitsim.geometry.cut import cut_length_mm
from fitsim.plan.cut_of_wall import (
    Correction,
    PlannedCut,
    bowl_with_cut,
    cut_of,
    expected,
    fixed_inputs,
    wall_cut,
)
from fitsim.plan.planning import plan
from fitsim.plan.pressed_wall import pressed_wall
from fitsim.plan.silhouette import wall_of_points
from fitsim.plan.trade_bounds import bounds_of
from fitsim.plan.wishes import read_wishes

POND = Path(__file__).parents[1] / "studies" / "pond.svg"
PLAIN = Correction(1.0, 1.0, 1.0, 0.0, np.array([0.0, 1.0]), np.array([1.0, 1.0]))
TILT = math.radians(6)
OVAL = {"outline": "oval", "length": "230 mm", "width": "150 mm"}
ROUNDED = {"outline": "rectangle", "length": "150 mm", "width": "200 mm", "corner": "45 mm"}
FIVE = {"outline": "polygon", "across": "150 mm", "sides": "5", "corner": "20 mm"}
SQUARE = {"outline": "square", "across": "158 mm"}
VARYING = (4.5, 5.1, 6.0, 7.3, 8.4, 9.0, 9.4)


def made(board: dict[str, str], pitches: tuple[float, ...] = (6.2,), **cut: str) -> Bowl:
    """A bowl of another outline with a planned cut."""
    tables = {
        "board": {"thickness": "18.5 mm", **board},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "base": "66 mm", **cut},
        "use": {"film": "0 mm"},
    }
    bowl = fitsim.make_bowl(tables)
    return bowl_with_cut(bowl, PlannedCut(TILT, 33.0, pitches, bowl.board.across_mm, 18.5))


@pytest.mark.parametrize(
    ("board", "pitches", "near", "far"),
    [
        (SQUARE, (6.2,), 1e-3, 2e-3),
        (SQUARE, VARYING, 1e-3, 2e-3),
        (OVAL, (6.2,), 0.02, 0.05),
        (OVAL, VARYING, 0.03, 0.05),
        (ROUNDED, (6.2,), 0.03, 0.05),
        (FIVE, (6.2,), 0.02, 0.035),
    ],
)
def test_geometry_agrees_with_the_closed_form_of_the_bowl(
    board: dict[str, str], pitches: tuple[float, ...], near: float, far: float
) -> None:
    """Turns, time, rise and mouth are those of the bowl's own curve.

    Turns closely on every outline, since the edge beyond the outermost turn is followed. Elsewhere than on
    a square, whose turns are circles, the guess before a press takes each turn for a mean one: the press
    corrects that. Of five sides the least extent is wider than from side to corner.
    """
    bowl = made(board, pitches)
    rigid, said = rigid_fit(bowl), expected(cut_of(bowl), fixed_inputs(bowl), PLAIN)
    assert rigid.shape is not None
    assert said.turns == pytest.approx(rigid.slot.turns, rel=1e-3)
    assert said.strip_turns == pytest.approx(rigid.strip.turns, rel=1e-3)
    length = cut_length_mm(rigid.slot)
    assert said.time_min == pytest.approx(cutting_time_min(length_mm=length, feed_mm_per_min=200), rel=near)
    drop = 0.7 / math.sin(TILT)
    assert said.rise_mm == pytest.approx(drop * (rigid.strip.turns - 0.5), rel=2e-3)
    extents = [e for e in (rigid.shape.mouth_length_mm, rigid.shape.mouth_width_mm) if e is not None]
    assert said.mouth_mm == pytest.approx(min(extents, default=rigid.shape.rim_diameter_mm), rel=far)
    # The first turn leaves the root at no drop, which the closed form's staircase does not know.
    assert said.volume_ml == pytest.approx(rigid.shape.capacity_ml, rel=0.04 + far)


def test_a_drawn_bowl_holds_what_its_slices_hold_before_any_press() -> None:
    """Of a drawing with a hollow: slices filled by a geometry library, as the turns wind outward.

    The board's own corners reach beyond the outermost turn, so the cut runs on by a fifth of a turn there.
    """
    board = {"outline": str(POND), "thickness": "16 mm"}
    sawn = {"tilt": "5 deg", "pitch": "8 mm", "kerf": "0.7 mm", "base": "96 mm", "base_corner": "36 mm"}
    bowl = fitsim.make_bowl({"board": board, "cut": sawn, "use": {"film": "0 mm"}})
    rigid, said = rigid_fit(bowl), expected(cut_of(bowl), fixed_inputs(bowl), PLAIN)
    assert rigid.slot.winding is not None
    assert rigid.slot.turns > (bowl.board.across_mm - 96) / 16 + 0.15
    base = shapely.Polygon(line_points_mm(rigid.slot.winding.lines.base, 1e-3))
    drop, slope = 0.7 / math.sin(math.radians(5)), math.tan(math.radians(5))
    half, steps = 0.7 / math.cos(math.radians(5)) / 2, 12
    held = 0.0
    for part in np.arange(0.5 / steps, rigid.strip.turns, 1 / steps):
        sunk = drop * min(part, 1.0)  # the first turn leaves the root at no drop
        width = min(1 / steps, rigid.strip.turns - part + 0.5 / steps)
        for low in np.linspace(8 - sunk, 8, 5)[:-1] + sunk / 8:
            held += base.buffer(8 * part + half + low * slope, quad_segs=32).area * sunk / 4 * width
    assert said.volume_ml == pytest.approx(held / 1000, rel=0.01)
    inside = rigid.slot.position_mm + rigid.slot.normal * (half + 8 * slope)
    end = float(rigid.strip.angle_rad[-1])
    last = (rigid.slot.angle_rad <= end) & (rigid.slot.angle_rad >= end - 2 * math.pi)
    assert said.mouth_mm == pytest.approx(float(np.ptp(inside[last, 1])), rel=0.015)


def test_what_a_turn_holds_is_its_length_and_what_it_lacks_of_a_circle() -> None:
    """Of a rectangle with corners r: L = 2 (a + b) - (8 - 2 pi) r, A = a b - (4 - pi) r^2."""
    fixed = fixed_inputs(made(ROUNDED))
    # Corners of 33/2 mm at the base are blunter by the span, 75 - 33 mm, than the board's own of 45 mm.
    corner = 33 / 2 + 75 - 33
    length = 2 * (150 + 200) - (8 - 2 * math.pi) * corner
    area = 150 * 200 - (4 - math.pi) * corner**2
    assert fixed.wider_mm == pytest.approx(length / (2 * math.pi) - 75, rel=1e-6)
    assert fixed.flat_mm2 == pytest.approx(length**2 / (4 * math.pi) - area, rel=1e-3)


@pytest.mark.parametrize("points", [[(35, 0), (66, 44)], [(33, 0), (48, 26), (60, 37), (68, 42)]])
def test_a_wall_in_a_square_board_reaches_its_rise(points: list[tuple[float, float]]) -> None:
    """The strip of the planned cut, trimmed amid the side before the last, has just the turns it needs."""
    wall = wall_of_points(points)
    bowl = made(SQUARE)
    cut = wall_cut(wall, fixed_inputs(bowl), PLAIN, tilt_rad=TILT, thickness_mm=18.5)
    drop = 0.7 / math.sin(TILT)
    assert rigid_fit(bowl_with_cut(bowl, cut)).strip.turns == pytest.approx(
        wall.rise_mm / drop + 0.5, abs=0.02
    )
    stands = drop * (np.arange(5) + 0.5)
    knots = cut.base_radius_mm + np.cumsum(cut.pitches_mm)[:5]
    np.testing.assert_allclose(wall.height_at_mm(knots), stands, rtol=1e-6)


SMALL: dict[str, Any] = {
    "board": {"wood": "cherry, black", "thickness": "16 mm"},
    "cut": {"tilt": "6.3 deg", "kerf": "0.7 mm"},
    "use": {"friction": "0.4", "press": "120 N", "film": "0 mm"},
}


def test_a_square_board_is_planned_and_its_saved_cut_enters_amid_a_side() -> None:
    """The plan meets a curved wall; read back, the cut runs out at the middle of a side."""
    board = {**SMALL["board"], "thickness": "19 mm", "outline": "square", "across": "118 mm"}
    tables = {**SMALL, "board": board, "use": {"friction": "0.4", "press": "120 N"}}
    bowl = fitsim.make_bowl(tables)
    wall = [["34 mm", "0 mm"], ["45 mm", "13 mm"], ["55 mm", "22 mm"]]
    found = plan(bowl, read_wishes({"wall": wall}))
    assert found.met
    answer = found.answers[0]
    saved = planned_tables(tables, answer, bowl=bowl, units="mm")
    assert float(saved["cut"]["root"].split()[0]) == pytest.approx(
        math.degrees(answer.bowl.cut.root_rad), abs=0.01
    )
    again = fitsim.make_bowl(saved)
    end = np.abs(rigid_fit(again).slot.position_mm[-1])
    assert end.max() == pytest.approx(answer.cut.across_mm / 2, abs=0.01)
    assert end.min() == pytest.approx(0, abs=0.02)
    assert again.cut.root_rad == pytest.approx(answer.bowl.cut.root_rad, abs=1e-3)


def test_an_oval_board_is_planned_and_its_wall_has_the_slope_of_drop_over_pitch() -> None:
    """The pressed oval has the rise that is wanted, and its wall climbs by the drop over each pitch."""
    board = {**SMALL["board"], "outline": "oval", "length": "150 mm", "width": "112 mm"}
    bowl = fitsim.make_bowl({**SMALL, "board": board})
    found = plan(bowl, read_wishes({"rise": "10.5 mm", "base": "64 mm", "keep": ["tilt"]}))
    assert found.met
    (answer,) = found.answers
    assert answer.bowl.cut.base_corner_mm == pytest.approx(16.0)  # left out, half the base's narrow half
    wall = pressed_wall(answer.bowl)
    assert not isinstance(wall, str)
    assert wall.got.rise_mm == pytest.approx(10.5, rel=0.02)
    drop = 0.7 / math.sin(math.radians(6.3))
    assert wall.got.slope == pytest.approx(drop / answer.cut.pitches_mm[0], rel=0.04)
    # The middle of turn j lies j pitches outside the base's line.
    outside = wall.turn_radius_mm[wall.whole] - 32
    np.testing.assert_allclose(outside, answer.cut.pitches_mm[0] * np.arange(1, len(outside) + 1), atol=0.3)


LONG_WALL = [["50 mm", "0 mm"], ["60 mm", "7 mm"], ["68 mm", "11.5 mm"]]


def test_a_curved_wall_along_the_length_of_an_oval_is_met_where_it_was_drawn() -> None:
    """Read back and pressed anew, the middles of the turns along the grain lie on the wall.

    Half the extent along the grain of the strip's own middle line over a turn, from its places on the
    board, is the distance at which the wall is wanted; its height is the mean of the turn's.
    """
    board = {**SMALL["board"], "outline": "oval", "length": "150 mm", "width": "112 mm"}
    cut, use = {**SMALL["cut"], "tilt": "6.8 deg"}, {**SMALL["use"], "press": "300 N"}
    tables = {"board": board, "cut": cut, "use": use}
    bowl = fitsim.make_bowl(tables)
    wishes = read_wishes({"wall": LONG_WALL, "along": "length", "keep": ["tilt"]})
    found = plan(bowl, wishes)
    assert found.met
    answer = found.answers[0]
    again = fitsim.make_bowl(planned_tables(tables, answer, bowl=bowl, units="mm"))
    wall = pressed_wall(again)
    assert not isinstance(wall, str)
    assert answer.wall is not None
    strip = wall.rigid.strip
    assert strip.winding is not None
    at = strip.winding.at(strip.angle_rad, strip.reach_mm).position_mm
    for turn in np.flatnonzero(wall.whole):
        here = (strip.angle_rad >= 2 * math.pi * turn) & (strip.angle_rad <= 2 * math.pi * (turn + 1))
        along = float(np.ptp(at[here, 0])) / 2
        # The extent is made of two places half a turn apart, the height is the mean of the turn.
        wanted = float(answer.wall.height_at_mm(np.array([along]))[0])
        assert wall.turn_height_mm[turn] == pytest.approx(wanted, abs=0.06 * 11.5)
    assert answer.wall.foot_mm == pytest.approx(50, abs=2)
    assert wall.got.rise_mm == pytest.approx(11.5, rel=0.02)


def test_a_mouth_is_had_from_a_smaller_board_of_the_same_outline() -> None:
    """The board is sawn as much shorter as narrower; the rim's inner upper edges lie the mouth apart."""
    board = {
        **SMALL["board"],
        "outline": "rectangle",
        "length": "120 mm",
        "width": "150 mm",
        "corner": "30 mm",
    }
    cut = {**SMALL["cut"], "tilt": "7.3 deg", "base": "58 mm", "pitch": "8 mm"}
    tables = {**SMALL, "board": board, "cut": cut}
    bowl = fitsim.make_bowl(tables)
    found = plan(bowl, read_wishes({"mouth": "90 mm", "rise": "10 mm", "keep": ["tilt", "base"]}))
    assert found.met
    saved = planned_tables(tables, found.answers[0], bowl=bowl, units="mm")
    sizes = {key: float(str(saved["board"][key]).split()[0]) for key in ("length", "width", "corner")}
    less = 120 - sizes["length"]
    assert less > 5
    assert sizes["width"] == pytest.approx(150 - less, abs=0.02)
    assert sizes["corner"] == pytest.approx(30 - less / 2, abs=0.02)
    rigid = rigid_fit(fitsim.make_bowl(saved))
    slot, end = rigid.slot, rigid.strip.angle_rad[-1]
    inside = slot.position_mm + slot.normal * (
        slot.slot_mm / 2 + slot.slope * board_thickness(saved) / 2
    )[:, None]  # fmt: skip
    last = (slot.angle_rad <= end) & (slot.angle_rad >= end - 2 * math.pi)
    assert float(np.ptp(inside[last, 0])) == pytest.approx(90, rel=0.025)


def board_thickness(tables: dict[str, Any]) -> float:
    """Thickness as the tables write it, in mm."""
    return float(str(tables["board"]["thickness"]).split()[0])


def test_walls_and_mouths_are_carried_out_along_the_length() -> None:
    """Of a rectangle every turn lies half of what it is longer farther out along its length."""
    bowl = made(ROUNDED)
    across, along = (fixed_inputs(bowl, along=way) for way in (None, "width"))
    assert (across.aside_mm, fixed_inputs(bowl, along="length").aside_mm) == pytest.approx((0, 0))
    assert along.aside_mm == pytest.approx((200 - 150) / 2)
    mouths = [expected(cut_of(bowl), fixed, PLAIN).mouth_mm for fixed in (across, along)]
    assert mouths[1] - mouths[0] == pytest.approx(200 - 150)


@pytest.mark.parametrize("steps", [2.9, 3.3, 3.62, 3.9, 5.0])
def test_the_strip_for_a_rise_is_the_one_that_has_it(steps: float) -> None:
    """Near the strip that was pressed the rim rises by its gain, farther off evenly; and back."""
    seen = replace(PLAIN, pressed=True, strip_turns=4.1, gain=1.8)
    assert seen.steps(seen.strip_turns_of(steps)) == pytest.approx(steps, abs=1e-12)
    assert seen.steps(4.1) == pytest.approx(3.6)
    assert seen.steps(4.2) - seen.steps(4.1) == pytest.approx(0.18)
    assert seen.steps(5.2) - seen.steps(5.1) == pytest.approx(0.1)


@pytest.mark.parametrize("pitches", [VARYING, (9.4, 8.6, 7.0, 6.1, 5.0, 4.6, 4.4)])
def test_a_square_s_free_end_is_found_on_the_curve_itself(pitches: tuple[float, ...]) -> None:
    """Turns of the strip are those of the sampled cut to a thousandth, where chords miss by a hundredth."""
    bowl = made(SQUARE, pitches)
    said = expected(cut_of(bowl), fixed_inputs(bowl), PLAIN)
    assert said.strip_turns == pytest.approx(rigid_fit(bowl).strip.turns, abs=2e-3)


def test_corners_bound_the_base() -> None:
    """Corners left out are half the base's narrow half, so the blade bounds the base twice as hard."""
    sawn = {**SMALL["cut"], "blade": "1/4 in"}
    round_ = fitsim.make_bowl({**SMALL, "board": {**SMALL["board"], "across": "150 mm"}, "cut": sawn})
    oval, given = (
        bounds_of(fitsim.make_bowl({**SMALL, "board": {**SMALL["board"], **OVAL}, "cut": cut}))
        for cut in ({**sawn, "base": "70 mm"}, {**sawn, "base": "70 mm", "base_corner": "31 mm"})
    )
    blade = least_radius(25.4 / 4).high_mm
    assert 2 * blade > 0.2 * 75  # more than the foot asks for
    assert oval.base_radius_least_mm == pytest.approx(2 * blade)
    assert bounds_of(round_).base_radius_least_mm == pytest.approx(max(blade, 0.2 * 75))
    assert given.base_radius_least_mm == pytest.approx(31)
    assert (given.corner_pitches, bounds_of(round_).corner_pitches) == (0, 0)
    assert oval.corner_pitches == pytest.approx(0.75 / 0.5)


@pytest.mark.parametrize(
    ("board", "cut", "want", "said"),
    [
        (
            OVAL,
            {},
            {"wall": [["36 mm", "0 mm"], ["60 mm", "20 mm"]], "along": "length"},
            "a foot more than 3",
        ),
        (SQUARE, {}, {"mouth": "120 mm", "along": "width"}, "want.along"),
        (
            OVAL,
            {"base_length": "150 mm", "base_width": "70 mm", "base_outline": "oval", "pitch": "6 mm"},
            {"rise": "20 mm"},
            "a base that follows the board",
        ),
    ],
)
def test_what_is_not_planned_is_refused_in_one_line(
    board: dict[str, str], cut: dict[str, str], want: Any, said: str
) -> None:
    """A wall whose foot lies where no turn can, a way along a round cut, and a base of its own outline."""
    bowl = fitsim.make_bowl({**SMALL, "board": {**SMALL["board"], **board}, "cut": {**SMALL["cut"], **cut}})
    with pytest.raises(InputError) as refused:
        plan(bowl, read_wishes(want))
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
