"""The wall that is wanted, from points and from SVG path data."""

import math

import numpy as np
import pytest

from fitsim.errors import InputError
from fitsim.plan.silhouette import points_of_path, wall_of_path, wall_of_points


def test_two_points_are_a_cone() -> None:
    """Through two points the wall is straight, also beyond them."""
    wall = wall_of_points([(30, 4), (54, 40)])
    np.testing.assert_allclose(wall.height_at_mm(np.array([30, 38, 54, 60])), [0, 12, 36, 45])
    np.testing.assert_allclose(wall.radius_at_mm(np.array([-3.0, 12, 45])), [28, 38, 60])


def test_points_are_passed_and_never_turned_back() -> None:
    """The wall passes through its points, and climbs between them however unequal they are."""
    points = [(30.0, 0.0), (31.0, 20.0), (60.0, 21.0), (61.5, 44.0)]
    wall = wall_of_points(points)
    np.testing.assert_allclose(wall.height_at_mm(np.array(points)[:, 0]), np.array(points)[:, 1], atol=1e-9)
    assert np.all(np.diff(wall.height_mm) > 0)


def test_height_and_radius_are_one_another_s_inverse() -> None:
    """The radius at the height of a radius is that radius, inside the wall and beyond it."""
    wall = wall_of_points([(30, 0), (45, 25), (60, 37), (80, 44)])
    radius = np.array([27.0, 30.0, 41.3, 66.6, 80.0, 90.0])
    np.testing.assert_allclose(wall.radius_at_mm(wall.height_at_mm(radius)), radius, rtol=1e-9)


def test_stretching_keeps_the_shape() -> None:
    """Stretched, a place's share of the rise at its share of the width stays what it was."""
    wall = wall_of_points([(30, 0), (45, 25), (60, 37), (80, 44)])
    other = wall.stretched(foot_mm=20, rim_mm=95, rise_mm=66)
    assert (other.foot_mm, other.rim_mm, other.rise_mm) == pytest.approx((20, 95, 66))
    share = (52.0 - 30) / 50
    there = 20 + share * 75
    expected = float(wall.height_at_mm(np.array([52.0]))[0]) / 44 * 66
    assert float(other.height_at_mm(np.array([there]))[0]) == pytest.approx(expected, rel=1e-4)


def test_a_path_s_curve_is_bezier_s_cubic() -> None:
    """A cubic piece passes through B(t) = sum of Bernstein's polynomials times the poles."""
    poles = np.array([[40, 0], [48, -30], [60, -41], [82, -47]], dtype=float)
    points = points_of_path("M 40 0 C 48 -30 60 -41 82 -47")
    t = 0.375
    weights = [(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3]
    there = np.array(weights) @ poles
    assert float(np.hypot(*(points - there).T).min()) < 1e-9


def test_a_path_s_arc_lies_on_its_circle() -> None:
    """Every point of an arc of radius 50 mm lies 50 mm from its centre, within 0.02 mm."""
    # Centre (80, -50): from (80 - 50 cos 20, -50 + 50 sin 20)... both ends at 50 mm from it.
    ends = [(80 + 50 * math.cos(a), -50 - 50 * math.sin(a)) for a in (math.radians(200), math.radians(260))]
    (x0, y0), (x1, y1) = ends
    points = points_of_path(f"M {x0} {y0} A 50 50 0 0 0 {x1} {y1}")
    np.testing.assert_allclose(np.hypot(points[:, 0] - 80, points[:, 1] + 50), 50, atol=0.02)


def test_relative_and_left_side_paths_read_the_same() -> None:
    """Relative commands, the left side of the bowl and a path drawn from rim to foot give one wall."""
    plain = wall_of_path("M 40 0 L 55 -30 L 80 -44")
    for other in ("m 40 0 l 15 -30 25 -14", "M -40 0 L -55 -30 L -80 -44", "M 80 -44 L 55 -30 L 40 0"):
        wall = wall_of_path(other)
        np.testing.assert_allclose(wall.radius_mm, plain.radius_mm)
        np.testing.assert_allclose(wall.height_mm, plain.height_mm)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("M40 0 L 50 -9 Z", "an open path"),
        ("M40 0 L 50 -9 M 60 0 L 70 -9", "one path without gaps"),
        ("M40", "SVG path data"),
        ("M 40 0 L 60 x", "SVG path data"),
        ("M 40 0 L 30 -20", "each point farther from the middle"),
        ("M 40 0 L 60 -20 L 70 -15", "each point higher"),
        ("M 0 0 L 60 -20", "a radius above 0"),
        ("M 40 0 " + "L 41 -1 " * 9000, "at most 20000 characters"),
    ],
)
def test_a_path_that_is_no_wall_is_refused_in_one_line(data: str, said: str) -> None:
    """Closed, broken, falling or unreadable paths are answered with what is expected."""
    with pytest.raises(InputError) as refused:
        wall_of_path(data)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
