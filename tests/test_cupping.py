"""Cup of the base: the small-angle formula, the exact map, and a base on a table."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.geometry.cupping import base_cup, cup_curvature_per_mm, polar_map_mm

DRY = {"radial_strain": -0.0038, "tangential_strain": -0.0074}  # cherry, 3 points drier
BASE = {"base_radius_mm": 46.0, "rim_radius_mm": 118.0}


def numeric_curvature(*, pith_mm: float, pith_rad: float) -> float:
    """Curvature at the middle of a face from the exact map, by three close points."""
    along = np.array([-0.5, 0.0, 0.5])
    c, s = math.cos(pith_rad), math.sin(pith_rad)
    x, y = polar_map_mm(along * c, pith_mm - along * s, **DRY)
    first, second = (np.array([x[i + 1] - x[i], y[i + 1] - y[i]]) for i in (0, 1))
    turned = float(np.cross([*first, 0], [*second, 0])[2]) / np.hypot(*first) / np.hypot(*second)
    return turned / ((np.hypot(*first) + np.hypot(*second)) / 2)


def cup_of_map_mm(*, pith_mm: float, pith_rad: float) -> float:
    """How far the middle of the base's face leaves the chord of its edges, by the exact map."""
    along = np.array([-46.0, 0.0, 46.0])
    c, s = math.cos(pith_rad), math.sin(pith_rad)
    x, y = polar_map_mm(along * c, pith_mm - along * s, **DRY)
    chord, middle = (np.array([x[i] - x[0], y[i] - y[0]]) for i in (2, 1))
    return abs(float(np.cross([*chord, 0], [*middle, 0])[2])) / float(np.hypot(*chord))


@given(x=st.floats(-60, 60), y=st.floats(80, 200), turn=st.floats(-1, 1))
def test_the_map_is_free_of_stress(x: float, y: float, turn: float) -> None:
    """A short line anywhere stretches by its own radial and tangential strain and by nothing else."""
    step = 1e-3
    ends_x = np.array([x, x + step * math.sin(turn)])
    ends_y = np.array([y, y + step * math.cos(turn)])
    new_x, new_y = polar_map_mm(ends_x, ends_y, **DRY)
    found = math.hypot(new_x[1] - new_x[0], new_y[1] - new_y[0]) / step - 1
    outward = math.cos(turn - math.atan2(x, y)) ** 2
    R, T = 1 + DRY["radial_strain"], 1 + DRY["tangential_strain"]
    assert found == pytest.approx(math.sqrt(outward * R**2 + (1 - outward) * T**2) - 1, abs=2e-7)


@pytest.mark.parametrize("pith_rad", [0.0, 0.3, -0.5, 0.9, 1.3])
@pytest.mark.parametrize("pith_mm", [60.0, 170.0])
def test_the_formula_is_the_map_s_curvature(pith_mm: float, pith_rad: float) -> None:
    """2 (e_R - e_T) cos^3(phi)/r is the exact map's curvature to within the strains' own size."""
    formula = cup_curvature_per_mm(**DRY, pith_mm=pith_mm, pith_rad=pith_rad)
    exact = numeric_curvature(pith_mm=pith_mm, pith_rad=pith_rad)
    assert exact == pytest.approx(formula, abs=0.02 * 2 * 0.0036 / pith_mm)


def test_drying_hollows_the_bark_side() -> None:
    """Shrinking more along the rings lifts the edges away from the pith; swelling does the opposite."""
    _, y = polar_map_mm(np.array([-40.0, 0.0, 40.0]), np.full(3, 90.0), **DRY)
    assert y[0] > y[1] < y[2]
    assert cup_curvature_per_mm(**DRY, pith_mm=90, pith_rad=0.0) > 0
    assert cup_curvature_per_mm(radial_strain=0.002, tangential_strain=0.005, pith_mm=90, pith_rad=0.0) < 0


@pytest.mark.parametrize("pith_mm", [150.0, 400.0])
def test_cup_and_rocking_of_a_flat_sawn_base(pith_mm: float) -> None:
    """From afar the base is a shallow cylinder: cup = curvature R^2/2, rocking = curvature R R_rim."""
    cup = base_cup(**DRY, **BASE, pith_mm=pith_mm, pith_rad=0.0)
    curvature = 2 * (0.0074 - 0.0038) / pith_mm
    assert cup.curvature_per_mm == pytest.approx(curvature, rel=1e-12)
    near = (46 / pith_mm) ** 2  # the formula's own next order
    hollow_mm = cup_of_map_mm(pith_mm=pith_mm, pith_rad=0.0)
    assert hollow_mm == pytest.approx(curvature * 46**2 / 2, rel=near + 0.01)
    assert cup.rock_mm == pytest.approx(curvature * 46 * 118, rel=2 * near + 0.02)


@pytest.mark.parametrize("pith_rad", [0.4, -0.7, 1.0])
def test_rocking_with_the_pith_to_one_side(pith_rad: float) -> None:
    """From afar, cup and rocking of a base with leaning rings follow the formula, to either side."""
    cup = base_cup(**DRY, **BASE, pith_mm=2000, pith_rad=pith_rad)
    curvature = 2 * (0.0074 - 0.0038) * math.cos(pith_rad) ** 3 / 2000
    assert cup_of_map_mm(pith_mm=2000, pith_rad=pith_rad) == pytest.approx(curvature * 46**2 / 2, rel=0.03)
    assert cup.rock_mm == pytest.approx(curvature * 46 * 118, rel=0.03)


def test_a_hollow_base_rolls_as_far_as_a_bulging_one() -> None:
    """A shallow cylinder bulging down and one hollow below, put on a table numerically, tip alike."""
    curvature, radius = 6e-5, 46.0
    at = np.linspace(0, 2 * np.pi, 20001)
    x, y = radius * np.cos(at), radius * np.sin(at)

    def standing_inside(tilt_x: float, tilt_y: float, sign: float) -> bool:
        """Whether it stands, tipped so, on points short of the far edge on the side it tips to."""
        height = sign * curvature * y**2 / 2 - tilt_x * x - tilt_y * y
        low = int(np.argmin(height))
        reach = x[low] if tilt_x else y[low]
        return bool(reach < radius * (1 - 1e-9))

    # Bulging: its lowest rim or inner point under a tilt across the grain lies at y = tilt/curvature.
    line = np.linspace(-radius, radius, 20001)
    for share in (0.6, 0.95, 1.05):
        tilt = share * curvature * radius
        lowest = line[np.argmin(curvature * line**2 / 2 - tilt * line)]
        assert (lowest < radius * (1 - 1e-6)) == (share < 1)
        assert standing_inside(tilt, 0.0, -1.0) == (share < 1)


def test_quarter_sawn_bases_cup_least() -> None:
    """The nearer the rings stand to upright, the less the base cups and rocks."""
    angles = np.radians([0, 20, 40, 60, 75, 90])
    cups = [base_cup(**DRY, **BASE, pith_mm=150, pith_rad=float(a)) for a in angles]
    rocks = [cup.rock_mm for cup in cups]
    assert rocks[-1] == min(rocks)
    assert all(a >= b for a, b in pairwise(rocks[:4]))
    flat, upright = (cup_of_map_mm(pith_mm=150, pith_rad=float(a)) for a in angles[[0, -1]])
    assert upright < 0.1 * flat
    still = base_cup(radial_strain=-0.005, tangential_strain=-0.005, pith_mm=150, pith_rad=0.2, **BASE)
    assert still.rock_mm == pytest.approx(0, abs=1e-10)


def test_a_base_that_holds_the_pith_is_refused() -> None:
    """The map serves only boards without the pith."""
    with pytest.raises(ValueError, match="pith lies within"):
        base_cup(**DRY, **BASE, pith_mm=40, pith_rad=1.5)
