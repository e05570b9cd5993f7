"""Closed lines of straight pieces and arcs, carried outward, and the angle swept laid along them."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outline_bowls import UNLIKE, outlined, outlined_bowls, outlines, unlike
from scipy.integrate import quad
from scipy.special import ellipe
from strategies import decimals

from fitsim import make_bowl
from fitsim.bowl.closed_form import slot_and_strip
from fitsim.bowl.inputs import Bowl
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import (
    Outline,
    carried,
    grown,
    line_points_mm,
    outline_line,
    outline_points_mm,
    oval_line,
    polygon_line,
    rectangle_line,
)
from fitsim.geometry.cut import cut_length_mm
from fitsim.geometry.offsets import CannotWindError, turn_lines
from fitsim.geometry.winding import winding
from fitsim.quantities import TURN_RAD


@given(outlines())
def test_pieces_follow_one_another(outline: Outline) -> None:
    """Every piece begins where and as the one before it ends, and all of them turn once round."""
    line = outline_line(outline)
    ends, heading = line.at(np.arange(len(line.turn_rad)), np.ones(len(line.turn_rad)))
    assert ends == pytest.approx(np.roll(line.start_mm, -1, axis=0), abs=2e-5)
    turned = np.append(line.heading_rad[1:], line.heading_rad[0] + TURN_RAD)
    assert heading == pytest.approx(turned, abs=1e-9)
    assert line.turn_rad.sum() == pytest.approx(TURN_RAD)


@given(st.tuples(decimals(60, 300), decimals(60, 300)), decimals(0, 30))
def test_area_and_length_of_a_rounded_rectangle(size: tuple[float, float], corner: float) -> None:
    """A corner of radius r takes (4 - pi) r^2 of the area and (8 - 2 pi) r of the length, all four."""
    (length, width) = size
    line = rectangle_line(length_mm=length, width_mm=width, corner_mm=corner)
    area = shapely.Polygon(line_points_mm(line, 1e-5)).area
    assert area == pytest.approx(length * width - (4 - math.pi) * corner**2, rel=1e-5)
    expected = 2 * (length + width) - (8 - 2 * math.pi) * corner
    assert line.length_mm.sum() == pytest.approx(expected, rel=1e-12)


@given(decimals(60, 300), decimals(60, 300))
def test_length_of_an_oval(length: float, width: float) -> None:
    """An ellipse is 4 a E(m) long, the complete elliptic integral."""
    a, b = max(length, width) / 2, min(length, width) / 2
    line = oval_line(length_mm=length, width_mm=width)
    assert line.length_mm.sum() == pytest.approx(4 * a * ellipe(1 - (b / a) ** 2), rel=1e-6)
    assert np.ptp(line_points_mm(line), axis=0) == pytest.approx([length, width], rel=1e-5)


def test_blunted_oval_is_the_oval_opened_by_a_disc() -> None:
    """Blunted to a radius, an oval is what a disc of that radius reaches inside it (geometry library)."""
    line = oval_line(length_mm=150, width_mm=300, least_radius_mm=55)
    whole = shapely.Polygon(line_points_mm(oval_line(length_mm=150, width_mm=300), 1e-4))
    opened = whole.buffer(-55, quad_segs=500).buffer(55, quad_segs=500)
    blunted = shapely.Polygon(line_points_mm(line, 1e-4))
    assert blunted.hausdorff_distance(opened) < 0.01
    assert whole.hausdorff_distance(opened) > 5


@pytest.mark.parametrize(("sides", "angle"), [(3, 60.0), (4, 90.0), (7, 180 * 5 / 7)])
def test_sides_of_a_polygon(sides: int, angle: float) -> None:
    """A polygon's sides touch the circle across it; it measures n r^2 tan(pi/n); one side is level."""
    line = polygon_line(sides=sides, across_mm=120, corner_mm=0)
    points = line_points_mm(line)
    assert shapely.Polygon(points).area == pytest.approx(sides * 60**2 * math.tan(math.pi / sides))
    assert points[:, 1].min() == pytest.approx(-60)
    assert math.degrees(math.pi - line.turn_rad.max()) == pytest.approx(angle)


@given(outlined_bowls(), decimals(0, 1))
@settings(max_examples=30)
def test_turns_are_parallel_lines(bowl: Bowl, share: float) -> None:
    """A line carried outward is the base's line grown by a disc (a geometry library), to a hundredth."""
    edge = bowl.board.edge
    assert edge is not None
    span = edge.across_mm / 2 - bowl.cut.base_radius_mm
    lines = turn_lines(edge, span_mm=span, corner_mm=bowl.cut.base_corner_mm or 0.0)
    grown = shapely.Polygon(line_points_mm(lines.base, 1e-3)).buffer(share * span, quad_segs=80)
    mine = shapely.Polygon(line_points_mm(carried(lines.base, share * span), 1e-3))
    assert mine.hausdorff_distance(grown) < 0.01
    assert shapely.Polygon(lines.edge_mm).buffer(0.01).contains(mine)


@given(outlined_bowls())
@settings(max_examples=30)
def test_neighbouring_turns_are_one_pitch_apart(bowl: Bowl) -> None:
    """A place of the cut is a pitch from the turn inside it all round, but for the spiral's lean."""
    slot, _ = slot_and_strip(bowl)
    n = slot.points_per_turn
    pitch = bowl.cut.pitch_mm
    line = shapely.LineString(slot.position_mm)
    for i in range(n, len(slot.angle_rad), 7):
        inner = shapely.LineString(slot.position_mm[max(i - n - n // 4, 0) : i - n + n // 4])
        middle = shapely.Point(slot.position_mm[i])
        # The nearest place lies a lean of p/(2 pi r) away, and its chords a little inside.
        assert middle.distance(inner) == pytest.approx(pitch, rel=0.03)
    assert line.is_simple


@given(outlined_bowls())
@settings(max_examples=30)
def test_length_of_the_cut_against_its_chords(bowl: Bowl) -> None:
    """The cut is as long as a polygon through ten thousands of its places."""
    slot, _ = slot_and_strip(bowl)
    assert slot.winding is not None
    angle = np.linspace(0, float(slot.angle_rad[-1]), 20_000)
    at = slot.winding.at(angle, np.interp(angle, slot.angle_rad, slot.reach_mm)).position_mm
    chords = float(np.hypot(*np.diff(at, axis=0).T).sum())
    assert cut_length_mm(slot) == pytest.approx(chords, rel=2e-6)


@pytest.mark.parametrize("name", UNLIKE)
def test_the_cuts_direction_is_that_from_place_to_place(name: str) -> None:
    """Between unlike lines turns run aslant: the tangent is the central difference of the cut's places."""
    slot, _ = slot_and_strip(unlike(name, pitch_mm=17.0))
    onward, tangent = slot.position_mm[2:] - slot.position_mm[:-2], slot.tangent[1:-1]
    across = onward[:, 0] * tangent[:, 1] - onward[:, 1] * tangent[:, 0]
    off_deg = np.degrees(np.abs(np.arctan2(across, np.sum(onward * tangent, axis=1))))[:-1]
    # Only where an arc begins or ends between two places is the difference another than the tangent.
    assert np.quantile(off_deg, 0.75) < 0.03
    assert off_deg.max() < 5


@pytest.mark.parametrize("name", UNLIKE)
def test_length_of_the_cut_between_unlike_lines_against_its_chords(name: str) -> None:
    """The way from base to edge grows and shrinks round a turn: that lengthens no cut."""
    slot, _ = slot_and_strip(unlike(name, pitch_mm=9.0))
    assert slot.winding is not None
    angle = np.linspace(0, float(slot.angle_rad[-1]), 40_000)
    at = slot.winding.at(angle, np.interp(angle, slot.angle_rad, slot.reach_mm)).position_mm
    assert cut_length_mm(slot) == pytest.approx(float(np.hypot(*np.diff(at, axis=0).T).sum()), rel=2e-4)


def test_length_of_a_cut_round_a_rectangle_by_quadrature() -> None:
    """On a rounded rectangle the integral over sides and corners by quadrature is the cut's length."""
    edge = Outline("rectangle", 180.0, 130.0, 70.0)
    bowl = outlined(edge, corner_mm=20.0, base_radius_mm=35.0, pitch_mm=6.0, root_rad=0.0)
    slot, _ = slot_and_strip(bowl)
    assert slot.winding is not None
    growth = 6.0 / TURN_RAD
    total = 0.0
    knots = slot.winding.knots_rad
    base = slot.winding.lines.base
    for turn in range(6):
        for k in range(len(knots) - 1):
            low, high = TURN_RAD * turn + knots[k], TURN_RAD * turn + knots[k + 1]
            high = min(high, float(slot.angle_rad[-1]))
            if high <= low:
                continue
            wide = knots[k + 1] - knots[k]
            long, bent = base.length_mm[k] / wide, base.turn_rad[k] / wide

            def speed(a: float, long: float = long, bent: float = bent) -> float:
                return math.hypot(long + bent * growth * a, growth)

            total += quad(speed, low, high)[0]
    assert cut_length_mm(slot) == pytest.approx(total, rel=1e-9)


@given(outlines(), decimals(-3, 3))
def test_the_root_lies_where_it_is_asked_for(outline: Outline, root: float) -> None:
    """The cut ends in the direction of the root, seen from the middle."""
    wound = winding(outline, span_mm=outline.across_mm / 2 - 30, corner_mm=15.0, root_rad=root)
    x, y = wound.at(np.zeros(1), np.zeros(1)).position_mm[0]
    assert math.remainder(math.atan2(y, x) - root, TURN_RAD) == pytest.approx(0, abs=1e-9)
    assert np.all(np.diff(wound.knots_rad) > 0)


@pytest.mark.parametrize("more", [-18.0, 7.0])
@pytest.mark.parametrize(
    "outline",
    [Outline("rectangle", 150.0, 118.0, 25.0), Outline("polygon", 130.0, 130.0, 14.0, sides=5)],
    ids=["rectangle", "polygon"],
)
def test_an_outline_grown_is_its_line_carried_outward(outline: Outline, more: float) -> None:
    """Longer and wider by a length, it is the board grown by a disc of half of it (a geometry library)."""
    was, now = (shapely.Polygon(outline_points_mm(o)) for o in (outline, grown(outline, more)))
    assert now.hausdorff_distance(was.buffer(more / 2, quad_segs=200)) < 0.02
    assert grown(outline, more).across_mm == pytest.approx(outline.across_mm + more)


def test_a_drawing_has_its_own_size() -> None:
    """A drawn outline is not made larger, and nothing is left of one carried inward too far."""
    drawn = Outline("free", 90.0, 60.0, points_mm=((-45.0, -30.0), (45.0, -30.0), (0.0, 30.0)))
    with pytest.raises(OutsideModelError, match="size that its drawing has"):
        grown(drawn, 5.0)
    with pytest.raises(OutsideModelError, match="nothing is left"):
        grown(Outline("oval", 90.0, 60.0), -60.0)


def test_a_line_carried_too_far_is_refused() -> None:
    """Inward past a corner's radius a line would run backward."""
    line = rectangle_line(length_mm=100, width_mm=80, corner_mm=12)
    assert carried(line, -11.9).length_mm.min() >= 0
    with pytest.raises(OutsideModelError, match="cross itself"):
        carried(line, -12.5)


def test_a_cut_whose_strip_runs_back_on_itself_is_refused() -> None:
    """A small base in a large rounded square: inside its corner the strip's middle would run backward."""
    board = {
        "wood": "cherry, black", "thickness": "19 mm", "outline": "polygon", "sides": 4,
        "across": "258 mm", "corner": "51.5 mm",
    }  # fmt: skip
    cut = {"tilt": "6.8 deg", "kerf": "1.3 mm", "pitch": "5.77 mm", "root": "129 deg"}
    with pytest.raises(OutsideModelError, match=r"runs back on itself: .* smaller pitch or a wider base"):
        slot_and_strip(make_bowl({"board": board, "cut": {**cut, "base": "22.7 mm"}}))
    slot_and_strip(make_bowl({"board": board, "cut": {**cut, "base": "110 mm"}}))


def test_a_base_too_small_for_its_corners_is_refused_with_one_that_does() -> None:
    """A base narrower than twice the radius of its corners gets the least width that would do."""
    edge = Outline("oval", 200.0, 140.0)
    with pytest.raises(CannotWindError) as refused:
        turn_lines(edge, span_mm=60.0, corner_mm=15.0)
    assert refused.value.told("mm")[1] == 'base = "30.0 mm" would do'
    assert refused.value.told("in")[1] == 'base = "1 3/16 in" would do'  # 1.181 in, 75.6 sixty-fourths
    turn_lines(edge, span_mm=55.0, corner_mm=15.0)
