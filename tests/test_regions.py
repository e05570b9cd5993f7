"""Regions of a lattice: their areas and boundaries are those of the margins that make them."""

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.arrays import Array
from fitsim.sweeps.regions import Regions, regions_of

Margin = Callable[[float, float], float]


def divided(*margins: Margin, steps: int) -> Regions:
    """Regions of functions of place; the last state is where no margin is used up."""
    share = [k / steps for k in range(steps + 1)]
    values = np.array([[[float(m(u, v)) for m in margins] for u in share] for v in share])
    happens = np.concatenate([values <= 0, np.ones((*values.shape[:2], 1), dtype=bool)], axis=2)
    return regions_of(np.argmax(happens, axis=2), values)


def area(outline: Array) -> float:
    """Area inside a closed line, negative if it runs clockwise (the shoelace rule)."""
    x, y = outline.T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


def length(line: Array) -> float:
    """Length of a line."""
    return float(np.sum(np.hypot(*np.diff(line, axis=0).T)))


def areas(found: Regions) -> dict[int, float]:
    """Area of every region."""
    return {state: sum(area(line) for line in lines) for state, lines in found.outlines}


def circle(u: float, v: float) -> float:
    """Squared distance from a circle off the middle: positive outside."""
    return (u - 0.41) ** 2 + (v - 0.57) ** 2 - 0.23**2


def test_a_circle_comes_out_round() -> None:
    """A round region has the area and the boundary of its circle, to the square of the cell."""
    found = divided(circle, steps=64)
    got = areas(found)
    assert got[0] == pytest.approx(math.pi * 0.23**2, rel=4e-3)
    assert got[0] + got[1] == pytest.approx(1, abs=1e-12)
    (boundary,) = found.boundaries
    distance = np.hypot(boundary.line_share[:, 0] - 0.41, boundary.line_share[:, 1] - 0.57)
    assert np.abs(distance - 0.23).max() < 2 / (8 * 0.23 * 64**2)  # chord of a diagonal: 2 h^2 / 8 r
    assert boundary.line_share[0].tolist() == boundary.line_share[-1].tolist()  # one closed line


def test_boundaries_sharpen_with_the_square_of_the_cell() -> None:
    """A boundary's error falls fourfold when the cells are halved."""
    worst = []
    for steps in (16, 32, 64):
        line = divided(circle, steps=steps).boundaries[0].line_share
        worst.append(float(np.abs(np.hypot(line[:, 0] - 0.41, line[:, 1] - 0.57) - 0.23).max()))
    rates = [math.log2(a / b) for a, b in pairwise(worst)]
    assert all(1.6 < rate < 2.6 for rate in rates)


def test_a_sliver_between_two_lattice_places_is_kept() -> None:
    """A third state narrower than a cell comes out with its own width, not as steps."""
    found = divided(lambda u, v: u - 0.31 - 0.2 * v, lambda u, v: u - 0.314 - 0.2 * v, steps=16)
    assert areas(found) == pytest.approx({0: 0.41, 1: 0.004, 2: 0.586}, abs=1e-9)
    assert sorted((b.state, b.beyond) for b in found.boundaries) == [(0, 1), (1, 2)]


def test_a_margin_that_jumps_is_bounded_by_its_own_slope() -> None:
    """Where beyond a straight margin's zero nothing is measured, the boundary still lies on that zero."""

    def jumps(u: float, v: float) -> float:
        value = u + 0.4 * v - 0.53
        return value if value > 0 else -math.inf

    (boundary,) = divided(jumps, steps=12).boundaries
    u, v = boundary.line_share.T
    assert np.abs(u + 0.4 * v - 0.53).max() < 1e-9


slope = st.floats(-3, 3)


@given(st.lists(st.tuples(slope, slope, st.floats(-1.5, 1.5)), min_size=1, max_size=4))
def test_regions_cover_the_square_once(planes: list[tuple[float, float, float]]) -> None:
    """Whatever the margins, the regions' areas add up to the square, bounded by their boundaries."""
    found = divided(
        *[lambda u, v, p=p: p[0] * (u - 0.43) + p[1] * (v - 0.61) + p[2] for p in planes], steps=12
    )
    got = areas(found)
    assert sum(got.values()) == pytest.approx(1, abs=1e-9)
    assert all(value > -1e-12 for value in got.values())
    # Every side of an outline is a boundary (seen from both sides) or lies on the square's own edge.
    outlines = sum(length(line) for _, lines in found.outlines for line in lines)
    assert outlines == pytest.approx(4 + 2 * sum(length(b.line_share) for b in found.boundaries), abs=1e-9)


@given(slope, slope, slope, slope)
def test_straight_boundaries_meet_where_they_should(a: float, b: float, c: float, d: float) -> None:
    """Two straight zero lines give regions of the areas that counting over a fine raster gives."""
    first, second = (
        (lambda u, v: a * (u - 0.47) + b * (v - 0.52)),
        (lambda u, v: c * (u - 0.55) + d * (v - 0.44)),
    )
    got = areas(divided(first, second, steps=16))
    u, v = np.meshgrid((np.arange(200) + 0.5) / 200, (np.arange(200) + 0.5) / 200)
    one, two = first(u, v) <= 0, second(u, v) <= 0
    for state, where in enumerate((one, two & ~one, ~one & ~two)):
        assert got.get(state, 0.0) == pytest.approx(float(np.mean(where)), abs=0.012)
