"""Planned cuts by rigid geometry: walls against closed forms, volume against integrals, rounding."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.geometry.blade import cutting_time_min
from fitsim.geometry.cut import cut_length_mm
from fitsim.plan.cut_of_wall import (
    Correction,
    FixedInputs,
    PlannedCut,
    bowl_with_cut,
    cut_of,
    even_cut,
    expected,
    fixed_inputs,
    rounded,
    wall_cut,
)
from fitsim.plan.silhouette import WallCurve, wall_of_points

PLAIN = Correction(1.0, 1.0, 1.0, 0.0, np.array([0.0, 1.0]), np.array([1.0, 1.0]))
"""No correction: the middle of turn j stands (j - 1/2) h high."""

SETTING = FixedInputs(kerf_mm=0.7, drop_sine_mm=0.7, feed_mm_per_min=200.0)
TILT = math.radians(5.3)
DROP_mm = 0.7 / math.sin(TILT)


def turns_of(wall: WallCurve) -> np.ndarray:
    """Radius at which each turn of the planned cut stands: the slot after every whole turn."""
    cut = wall_cut(wall, SETTING, PLAIN, tilt_rad=TILT, thickness_mm=18.0)
    return cut.base_radius_mm + np.cumsum(cut.pitches_mm)


def test_a_cone_is_an_even_pitch_of_the_drop_over_the_slope() -> None:
    """On a straight wall every pitch is the seat drop over the slope."""
    wall = wall_of_points([(35, 0), (75, 58)])
    cut = wall_cut(wall, SETTING, PLAIN, tilt_rad=TILT, thickness_mm=18.0)
    np.testing.assert_allclose(cut.pitches_mm, DROP_mm / (58 / 40), rtol=1e-9)
    assert cut.base_radius_mm == pytest.approx(35 - DROP_mm / (58 / 40) / 2)
    assert expected(cut, SETTING, PLAIN).rise_mm == pytest.approx(58, rel=1e-6)


def test_a_sphere_cap_s_turns_lie_on_the_sphere() -> None:
    """Turn j of a cap of radius R stands at r = sqrt(R^2 - (R - z)^2), z above its lowest point."""
    R, lowest = 90.0, 8.0
    z = np.linspace(lowest, 62, 400)
    wall = WallCurve(np.sqrt(R**2 - (R - z) ** 2), z - lowest)
    radius = turns_of(wall)[:5]
    height = lowest + DROP_mm * (np.arange(5) + 0.5)
    np.testing.assert_allclose(radius, np.sqrt(R**2 - (R - height) ** 2), rtol=2e-5)


def test_a_catenary_s_turns_lie_on_the_catenary() -> None:
    """Turn j of z = a (cosh(r/a) - 1) stands at r = a arccosh(1 + z/a)."""
    a, low = 40.0, 22.0
    r = np.linspace(low, 82, 500)
    wall = WallCurve(r, a * (np.cosh(r / a) - np.cosh(low / a)))
    radius = turns_of(wall)[:5]
    height = a * (math.cosh(low / a) - 1) + DROP_mm * (np.arange(5) + 0.5)
    np.testing.assert_allclose(radius, a * np.arccosh(1 + height / a), rtol=2e-5)


def test_the_wall_s_slope_is_the_seat_drop_over_the_pitch() -> None:
    """Where turns are fine, drop over pitch is the wall's slope half way between two of them."""
    a, low = 40.0, 22.0
    r = np.linspace(low, 82, 4000)
    wall = WallCurve(r, a * (np.cosh(r / a) - np.cosh(low / a)))
    fine = FixedInputs(0.7, 0.2, 200.0)
    cut = wall_cut(wall, fine, PLAIN, tilt_rad=TILT, thickness_mm=18.0)
    knots = cut.base_radius_mm + np.cumsum(cut.pitches_mm)
    middle = (knots[1:-4] + knots[2:-3]) / 2
    slope = 0.2 / math.sin(TILT) / np.array(cut.pitches_mm)[2:-3]
    np.testing.assert_allclose(slope, np.sinh(middle / a), rtol=2e-3)


def test_a_base_that_is_kept_is_kept() -> None:
    """Where the base is given the cut ends there, and the turns lie on the wall drawn out to it."""
    wall = wall_of_points([(35, 0), (55, 36), (75, 58)])
    cut = wall_cut(wall, SETTING, PLAIN, tilt_rad=TILT, thickness_mm=18.0, base_radius_mm=30.0)
    assert cut.base_radius_mm == pytest.approx(30.0, abs=1e-6)
    foot = 30 + cut.pitches_mm[0] / 2
    drawn_out = wall.stretched(foot_mm=foot, rim_mm=75, rise_mm=58)
    knots = 30 + np.cumsum(cut.pitches_mm)[:4]
    np.testing.assert_allclose(drawn_out.height_at_mm(knots), DROP_mm * (np.arange(4) + 0.5), rtol=1e-6)


@pytest.mark.parametrize("pitches", [(6.2,), (4.5, 5.1, 6.0, 7.3, 8.4, 9.0, 9.4)])
def test_geometry_agrees_with_the_closed_form_of_the_bowl(pitches: tuple[float, ...]) -> None:
    """Mouth, turns and time are those of the bowl's own curve; the rise that of helix and nail."""
    bowl = fitsim.make_bowl(
        {"board": {"thickness": "18.5 mm", "across": "158 mm"}, "cut": {"tilt": "6 deg", "kerf": "0.7 mm"}}
    )
    bowl = bowl_with_cut(bowl, PlannedCut(math.radians(6), 33.0, pitches, 158.0, 18.5))
    rigid, said = rigid_fit(bowl), expected(cut_of(bowl), fixed_inputs(bowl), PLAIN)
    assert rigid.shape is not None
    assert said.turns == pytest.approx(rigid.slot.turns, rel=1e-3)
    assert said.mouth_mm == pytest.approx(rigid.shape.rim_diameter_mm, rel=2e-3)
    length = cut_length_mm(rigid.slot)
    assert said.time_min == pytest.approx(cutting_time_min(length_mm=length, feed_mm_per_min=200), rel=5e-3)
    drop = 0.7 / math.sin(math.radians(6))
    assert said.rise_mm == pytest.approx(drop * (rigid.strip.turns - 0.5), rel=2e-3)


def test_volume_of_fine_turns_is_the_frustum_s() -> None:
    """Of many thin turns the volume is that of the frustum they stand on, pi H (a^2 + a b + b^2)/3."""
    fine = FixedInputs(kerf_mm=0.02, drop_sine_mm=0.02, feed_mm_per_min=200.0)
    tilt = math.radians(4)
    cut = even_cut(tilt_rad=tilt, base_radius_mm=30, pitch_mm=0.25, across_mm=120, thickness_mm=0.6)
    said = expected(cut, fine, PLAIN)
    turns = 30 / 0.25 - 0.5 - 0.02 / math.cos(tilt) / 0.5
    height = 0.02 / math.sin(tilt) * turns
    frustum = math.pi * height * (30**2 + 30 * 60 + 60**2) / 3 / 1000
    assert said.volume_ml == pytest.approx(frustum, rel=0.01)


@given(st.floats(3.5, 9.0), st.floats(25.0, 45.0), st.floats(4.0, 8.5), st.floats(14.0, 24.0))
def test_volume_against_adaptive_quadrature(
    tilt_deg: float, base: float, pitch: float, thickness: float
) -> None:
    """The volume is the integral of pi r^2 dz over the faces left open, by adaptive quadrature."""
    tilt, edge = math.radians(tilt_deg), 79.0
    drop, slope, slot = 0.7 / math.sin(tilt), math.tan(tilt), 0.7 / math.cos(tilt)
    if drop > thickness:
        return
    cut = even_cut(
        tilt_rad=tilt, base_radius_mm=base, pitch_mm=pitch, across_mm=2 * edge, thickness_mm=thickness
    )
    turns = (edge - base) / pitch - 0.5 - slot / (2 * pitch)

    def layer(t: float) -> float:
        open_mm = drop * min(t, 1.0)
        face = base + pitch * t + slot / 2 + (thickness - open_mm) / 2 * slope
        return math.pi * face**2 * open_mm

    whole = quad(layer, 0, 1)[0] + quad(layer, 1, turns)[0]
    assert expected(cut, SETTING, PLAIN).volume_ml == pytest.approx(whole / 1000, rel=1e-3)


@given(
    st.lists(st.floats(3.7, 12.0), min_size=3, max_size=12),
    st.floats(2.0, 12.0),
    st.floats(25.0, 40.0),
    st.sampled_from([0.3, 0.999, 1.0]),
    st.sampled_from(["mm", "in"]),
)
def test_what_is_rounded_can_be_read_back(
    pitches: list[float], tilt_deg: float, base: float, share: float, units: str
) -> None:
    """A rounded cut is its own rounding, and its pitches reach from the base to the edge, none too many."""
    across = 2 * (base + sum(pitches[:-1]) + share * pitches[-1])
    cut = PlannedCut(math.radians(tilt_deg), base, tuple(pitches), across, 18.0)
    once, step = rounded(cut, units=units), 0.0254 if units == "in" else 0.01
    again = rounded(once, units=units)
    assert again.pitches_mm == pytest.approx(once.pitches_mm)
    assert again.base_radius_mm == pytest.approx(once.base_radius_mm)
    span = once.across_mm / 2 - once.base_radius_mm
    assert sum(once.pitches_mm) >= span * (1 - 1e-12)
    assert sum(once.pitches_mm[:-1]) < span
    assert 2 * once.base_radius_mm / step == pytest.approx(round(2 * once.base_radius_mm / step), abs=1e-6)
    np.testing.assert_allclose(
        np.array(once.pitches_mm) / step, np.round(np.array(once.pitches_mm) / step), atol=1e-6
    )
    assert math.degrees(once.tilt_rad) * 20 == pytest.approx(round(math.degrees(once.tilt_rad) * 20))
