"""The line to follow: its length, its side of mid-thickness, its way round, and its pages."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outline_bowls import outlined

from fitsim.arrays import Array
from fitsim.bowl.closed_form import rigid_fit
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import Outline
from fitsim.geometry.cut import SlotCurve, Strip, cut_length_mm, spiral_slot, strip_between_slots
from fitsim.pattern.layout import (
    PAPERS,
    FollowLine,
    Handling,
    MARGIN_mm,
    OVERLAP_mm,
    line_to_follow,
    tile_board,
)

THICKNESS, TILT, PITCH, BASE, OUTER = 17.0, math.radians(6.5), 7.3, 31.0, 104.5
HANDLINGS = [Handling(middle, lowered) for middle in ("lowered", "raised") for lowered in ("right", "left")]


def cut(
    outer: float = OUTER, base: float = BASE, pitch: float = PITCH, **more: object
) -> tuple[SlotCurve, Strip]:
    """One slot with its strip."""
    given_cut = {"kerf_mm": 0.8, "tilt_rad": TILT, "root_rad": 0.4, **more}
    slot = spiral_slot(base_radius_mm=base, outer_radius_mm=outer, pitch_mm=pitch, **given_cut)  # type: ignore[arg-type]
    return slot, strip_between_slots(slot, across_mm=2 * outer, outline="round", end_width_mm=pitch / 2)


def line(
    handling: Handling = HANDLINGS[0], share: float = 1.0, outline: str = "round", **more: object
) -> FollowLine:
    """The line of that slot."""
    slot, strip = cut(**more)  # type: ignore[arg-type]
    return line_to_follow(
        slot, strip, thickness_mm=THICKNESS, across_mm=2 * float(slot.radius_mm[-1]), outline=outline,
        handling=handling, height_share=share,
    )  # fmt: skip


def test_length_of_the_line_at_mid_thickness() -> None:
    """At mid-thickness the drawn line is as long as the cut and as the integral of an even spiral."""
    drawn = line(share=0.0).length_mm
    b = PITCH / (2 * math.pi)
    radius = np.linspace(BASE, OUTER, 200001)
    integral = float(np.trapezoid(np.sqrt(1 + (radius / b) ** 2), radius))  # ds = sqrt(1 + (r/b)^2) dr
    assert drawn == pytest.approx(integral, rel=1e-4)
    assert drawn == pytest.approx(cut_length_mm(cut()[0]), rel=1e-3)


def test_turns_and_end_radii_of_the_drawn_points() -> None:
    """The points themselves go round (R_o - R_b)/p times from the outer radius to the base's."""
    points = line(share=0.0).position_mm
    polar = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    assert abs(polar[-1] - polar[0]) / (2 * math.pi) == pytest.approx((OUTER - BASE) / PITCH, abs=1e-6)
    assert np.hypot(*points[0]) == pytest.approx(OUTER, abs=1e-9)
    assert np.hypot(*points[-1]) == pytest.approx(BASE, abs=1e-9)


def test_chords_stay_on_the_curve() -> None:
    """Half way along every chord the radius differs from the spiral's by less than 0.01 mm."""
    points = line(share=0.0).position_mm
    middle = (points[1:] + points[:-1]) / 2
    radius = np.hypot(*points.T)
    assert np.abs(np.hypot(*middle.T) - (radius[1:] + radius[:-1]) / 2).max() < 0.01


def blade_from_middle_mm(handling: Handling, height: float) -> float:
    """How far the upright blade is from the board's middle at a height above mid-thickness, by rotation.

    The sawyer looks along y; x is to the right, z up. The board's middle lies BASE to one side of where the
    blade crosses mid-thickness.
    """
    turn = TILT if handling.lowered == "right" else -TILT
    right = np.array(
        [math.cos(turn), 0.0, -math.sin(turn)]
    )  # of the table; a lowered right side points down
    normal = np.array([math.sin(turn), 0.0, math.cos(turn)])
    assert (right[2] < 0) == (handling.lowered == "right")
    up = np.array([0.0, 0.0, 1.0])  # the blade
    at = up * height / float(up @ normal)  # where the blade is at that height over the board
    down_side = 1.0 if handling.lowered == "right" else -1.0
    middle = (down_side if handling.middle == "lowered" else -down_side) * BASE
    return abs(middle - float(at @ right))


@pytest.mark.parametrize("handling", HANDLINGS)
def test_line_lies_where_the_blade_meets_the_face(handling: Handling) -> None:
    """On each face the line is where an upright blade meets a board turned with its table."""
    for share in (1.0, -1.0):
        found = line(handling, share)
        slot = cut()[0]
        growth = PITCH / (2 * math.pi) / BASE
        wanted = blade_from_middle_mm(handling, share * THICKNESS / 2) - BASE
        # Square to the travel, not along the radius: at the root the two differ by 1/cos of the lean.
        radial = np.hypot(*found.position_mm[-1]) - float(slot.radius_mm[0])
        assert found.outside_mm == pytest.approx(wanted, abs=1e-9)
        assert radial == pytest.approx(wanted / math.sqrt(1 + growth**2), abs=1e-3)
    upper, lower = (line(handling, share).outside_mm for share in (1.0, -1.0))
    assert handling.wide_face_up == (upper > lower)


@pytest.mark.parametrize("handling", HANDLINGS)
def test_way_round_the_board(handling: Handling) -> None:
    """Fed away from the sawyer, the blade moves towards the sawyer beside a middle on its right or left."""
    found = line(handling)
    place, travel = found.position_mm[0], found.position_mm[1] - found.position_mm[0]
    side = 1.0 if handling.middle_right else -1.0  # where the middle lies, x to the right
    blade, towards_sawyer = np.array([-side, 0.0]), np.array([0.0, -1.0])
    wanted = blade[0] * towards_sawyer[1] - blade[1] * towards_sawyer[0]
    assert np.sign(place[0] * travel[1] - place[1] * travel[0]) == np.sign(wanted)
    assert found.counter_clockwise == (wanted > 0)
    # The two sides mirror; on one table the wide face's hand stays the same whichever side is used.
    assert handling.middle_right == ((handling.lowered == "right") == (handling.middle == "lowered"))


def test_root_and_nail_stay_where_the_file_has_them() -> None:
    """The stop's angle from the grain is the file's, mirrored or not; half a pitch is left at the nail."""
    for handling in HANDLINGS:
        found = line(handling, 0.0)
        polar = math.atan2(float(found.stop_mm[1]), float(found.stop_mm[0]))
        assert abs(polar) == pytest.approx(0.4, abs=1e-9)
        half_slot = 0.8 / math.cos(TILT) / 2
        assert OUTER - np.hypot(*found.nail_mm) - half_slot == pytest.approx(PITCH / 2, abs=1e-6)


def test_start_is_where_the_line_crosses_the_edge() -> None:
    """The start lies on the edge of a round and a square board, or where the line begins inside it."""
    over = line(HANDLINGS[0])  # wide face up: the line's outer end lies off the board
    assert np.hypot(*over.start_mm) == pytest.approx(OUTER, abs=0.01)
    inside = line(HANDLINGS[2])
    assert np.array_equal(inside.start_mm, inside.position_mm[0])
    square = line(HANDLINGS[0], outline="square")
    sides, offs = np.diff(square.corners_mm, axis=0), square.start_mm - square.corners_mm[:-1]
    away = np.abs(sides[:, 0] * offs[:, 1] - sides[:, 1] * offs[:, 0]) / np.hypot(*sides.T)
    nearest = float(away.min())
    assert nearest < 0.01


def test_tilt_that_changes_is_refused() -> None:
    """A tilt that differs from turn to turn has no single pattern."""
    slot, strip = cut()
    uneven: Array = slot.tilt_rad + np.linspace(0, 0.02, slot.tilt_rad.size)
    with pytest.raises(OutsideModelError, match="one tilt"):
        line_to_follow(
            replace(slot, tilt_rad=uneven), strip, thickness_mm=THICKNESS, across_mm=2 * OUTER,
            outline="round", handling=HANDLINGS[0],
        )  # fmt: skip


@given(
    outer=st.floats(20, 500),
    paper=st.sampled_from(sorted(PAPERS)),
    square=st.booleans(),
    share=st.sampled_from((0.15, 0.02)),
)
def test_pages_hold_the_whole_line(outer: float, paper: str, square: bool, share: float) -> None:
    """Every point of line and centre lies in a window, each page is needed for one; margins stay white."""
    pitch = max(outer * share, 1.5)
    found = line(outer=outer, base=outer * 0.35, pitch=pitch, outline="square" if square else "round")
    tiling = tile_board(found, PAPERS[paper])
    left, bottom, width, height = tiling.window_mm
    assert min(left, bottom) >= MARGIN_mm
    assert left + width <= tiling.page_mm[0] - MARGIN_mm + 1e-9
    assert bottom + height <= tiling.page_mm[1] - MARGIN_mm
    points = np.concatenate([found.position_mm, [found.start_mm, (0.0, 0.0)]])
    seen = np.zeros(len(points), int)
    for tile in tiling.tiles:
        low = np.array([tile.left_mm, tile.bottom_mm])
        seen += np.all((points >= low) & (points <= low + np.array([width, height])), axis=1)
    assert (seen > 0).all()
    for places in ({t.left_mm for t in tiling.tiles}, {t.bottom_mm for t in tiling.tiles}):
        step = (width if places == {t.left_mm for t in tiling.tiles} else height) - OVERLAP_mm
        assert np.allclose(np.diff(sorted(places)) / step, np.round(np.diff(sorted(places)) / step))
    assert [tile.number for tile in tiling.tiles] == list(range(1, len(tiling.tiles) + 1))
    assert sorted(tiling.tiles, key=lambda t: (t.row, t.column)) == list(tiling.tiles)
    for tile in tiling.tiles:
        assert tiling.page_at(tile.row, tile.column) is tile


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_page_is_blank(paper: str) -> None:
    """A square board of 920 mm: every page shows line or centre, and corners without have none."""
    found = line(outer=460.0, base=184.0, pitch=16.0, outline="square", share=0.0)
    tiling = tile_board(found, PAPERS[paper])
    width, height = tiling.window_mm[2:]
    # A corner of the square lies 460 (sqrt 2 - 1) = 190 mm from the line: more than a page is wide.
    assert len(tiling.tiles) <= tiling.rows * tiling.columns - 2
    for tile in tiling.tiles:
        off = found.position_mm - (tile.left_mm, tile.bottom_mm)
        shows = np.all((off > 0) & (off < (width, height)), axis=1)
        corners = [(tile.left_mm + x, tile.bottom_mm + y) for x in (0.0, width) for y in (0.0, height)]
        centre = -width < tile.left_mm < 0 and -height < tile.bottom_mm < 0
        # In the base a page may stand that joins the centre's to the others.
        assert shows.any() or centre or np.hypot(*np.transpose(corners)).max() < 184
        if (tile.row, tile.column) in {(1, 1), (1, tiling.columns), (tiling.rows, 1)}:
            assert np.hypot(*np.diff(found.position_mm[shows], axis=0).T).sum() > OVERLAP_mm


def test_pages_by_hand() -> None:
    """A board of 300 mm takes two upright A3 pages, counted by hand."""
    # A3 windows by hand: upright 277 x 340, lying 400 x 217; 302 mm needs 2 x 1 upright or 1 x 2 lying.
    tiling = tile_board(line(outer=150.0, base=60.0, pitch=10.0, share=0.0), PAPERS["a3"])
    assert (tiling.columns, tiling.rows, tiling.page_mm) == (2, 1, (297.0, 420.0))
    assert tiling.seams_x_mm == pytest.approx((0.0,), abs=1e-6)


@pytest.mark.parametrize(("length", "width"), [(283.0, 201.0), (201.0, 283.0), (273.0, 311.0)])
def test_a_board_that_fits_on_one_page_is_shown_whole(length: float, width: float) -> None:
    """An A3 page shows 277 x 340 or 400 x 217 mm: a board within either by 1 mm a side is all on it."""
    edge = Outline("oval", length, width)
    answer = rigid_fit(outlined(edge, corner_mm=30.0, base_radius_mm=40.0, pitch_mm=9.0, root_rad=0.7))
    found = line_to_follow(
        answer.slot, answer.strip, thickness_mm=15.0, across_mm=min(length, width), outline="oval",
        handling=HANDLINGS[0],
    )  # fmt: skip
    tiling = tile_board(found, PAPERS["a3"])
    lies = length > 277
    assert tiling.page_mm == ((420.0, 297.0) if lies else (297.0, 420.0))
    (tile,) = tiling.tiles
    low = np.array([tile.left_mm, tile.bottom_mm])
    assert np.all((found.corners_mm >= low) & (found.corners_mm <= low + tiling.window_mm[2:]))
    assert np.ptp(found.corners_mm, axis=0) == pytest.approx((length, width), abs=0.05)
