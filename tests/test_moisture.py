"""Laws of moisture: swelling turns with the rings, and strength follows the exponential rule."""

import math
from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import OutsideModelError
from fitsim.wood.moisture import (
    ADJUSTABLE_RANGE_PERCENT,
    PRINTED_RANGE_PERCENT,
    SwellingStrain,
    at_moisture,
    equilibrium_moisture_percent,
    normal_strain,
    swelling_strain,
    wood_at_moisture,
)
from fitsim.wood.species import MARKS, Wood, find_wood, woods

ANGLES = st.floats(-math.pi, math.pi)
CHANGES = st.floats(-8, 8)
COEFFICIENTS = st.floats(1e-4, 6e-3)


def cherry_swelling(*, ring_angle_rad: float, change_points: ArrayLike) -> SwellingStrain:
    """Black cherry: C_R 0.00126, C_T 0.00248 (Wood Handbook, Table 13-5)."""
    return swelling_strain(
        swell_L_per_point=5e-5,
        swell_R_per_point=0.00126,
        swell_T_per_point=0.00248,
        ring_angle_rad=ring_angle_rad,
        change_points=change_points,
    )


def parts(strain: SwellingStrain) -> NDArray[np.float64]:
    """All four components in one array."""
    return np.array([getattr(strain, field.name) for field in fields(strain)])


@given(angle=ANGLES, first=CHANGES, second=CHANGES)
def test_swelling_adds_up_and_can_be_undone(angle: float, first: float, second: float) -> None:
    """Two changes in turn strain like their sum, and drying undoes wetting."""

    def swell(change: float) -> NDArray[np.float64]:
        return parts(cherry_swelling(ring_angle_rad=angle, change_points=change))

    np.testing.assert_allclose(swell(first) + swell(second), swell(first + second), atol=1e-15)
    np.testing.assert_allclose(swell(-first), -swell(first), atol=1e-18)


@given(angle=ANGLES, change=CHANGES, R=COEFFICIENTS, T=COEFFICIENTS)
def test_a_quarter_turn_of_the_rings_swaps_radial_and_tangential(
    angle: float, change: float, R: float, T: float
) -> None:
    """Across and thickness change places, and the shear changes its sign."""

    def swell(extra: float) -> SwellingStrain:
        return swelling_strain(
            swell_L_per_point=4e-5,
            swell_R_per_point=R,
            swell_T_per_point=T,
            ring_angle_rad=angle + extra,
            change_points=change,
        )

    here, turned = swell(0.0), swell(math.pi / 2)
    np.testing.assert_allclose(turned.across, here.thickness, atol=1e-14)
    np.testing.assert_allclose(turned.thickness, here.across, atol=1e-14)
    np.testing.assert_allclose(turned.shear_yz_rad, -here.shear_yz_rad, atol=1e-14)
    np.testing.assert_array_equal(turned.along_grain, here.along_grain)


@given(angle=ANGLES, change=CHANGES)
def test_turning_the_rings_keeps_the_invariants_of_strain(angle: float, change: float) -> None:
    """e_y + e_z and the radius of Mohr's circle do not depend on the ring angle."""
    strain = cherry_swelling(ring_angle_rad=angle, change_points=change)
    total = strain.across + strain.thickness
    radius = np.hypot(strain.across - strain.thickness, strain.shear_yz_rad)
    np.testing.assert_allclose(total, (0.00126 + 0.00248) * change, atol=1e-15)
    np.testing.assert_allclose(radius, (0.00248 - 0.00126) * abs(change), atol=1e-15)


@given(angle=ANGLES, change=CHANGES)
def test_strain_agrees_with_the_turned_tensor(angle: float, change: float) -> None:
    """Independent method: Q E Q^T with y = T turned by the ring angle towards R."""
    c, s = math.cos(angle), math.sin(angle)
    Q = np.array([[c, s], [-s, c]])  # rows y and z in the axes T and R
    tensor = Q @ np.diag([0.00248 * change, 0.00126 * change]) @ Q.T
    strain = cherry_swelling(ring_angle_rad=angle, change_points=change)
    np.testing.assert_allclose(strain.across, tensor[0, 0], atol=1e-15)
    np.testing.assert_allclose(strain.thickness, tensor[1, 1], atol=1e-15)
    np.testing.assert_allclose(strain.shear_yz_rad, 2 * tensor[0, 1], atol=1e-15)


def test_flat_sawn_boards_swell_tangentially_across() -> None:
    """Ring angle 0: across follows C_T, thickness C_R, and the right angles stay."""
    strain = cherry_swelling(ring_angle_rad=0.0, change_points=[3.0, -1.5])
    np.testing.assert_allclose(strain.across, [0.00744, -0.00372])
    np.testing.assert_allclose(strain.thickness, [0.00378, -0.00189])
    np.testing.assert_allclose(strain.along_grain, [1.5e-4, -0.75e-4])
    np.testing.assert_array_equal(strain.shear_yz_rad, [0.0, 0.0])


def test_strains_cannot_be_changed_and_keep_the_shape_of_the_change() -> None:
    """The arrays are read-only, and the caller's own array stays writable."""
    change = np.array([[1.0, -2.0, 0.5]])
    strain = cherry_swelling(ring_angle_rad=0.3, change_points=change)
    assert strain.across.shape == strain.shear_yz_rad.shape == (1, 3)
    with pytest.raises(ValueError, match="read-only"):
        strain.across[0, 0] = 1.0
    change[0, 0] = 2.0


def test_the_normal_is_measured_from_the_grain() -> None:
    """At 20 degrees cos^2 is 0.88302222 and sin^2 0.11697778 (cos 40 deg is 0.76604444)."""
    strain = cherry_swelling(ring_angle_rad=0.0, change_points=-2.0)
    found = normal_strain(strain.along_grain, strain.across, normal_x=math.cos(math.radians(20)))
    expected = -1.0e-4 * 0.88302222 - 0.00496 * 0.11697778
    assert float(found) == pytest.approx(expected, rel=1e-6)


@given(angle=ANGLES, ring=ANGLES, change=CHANGES)
def test_strain_along_a_normal_is_even_and_bounded(angle: float, ring: float, change: float) -> None:
    """Opposite and mirrored normals see the same strain, between those of grain and across."""
    strain = cherry_swelling(ring_angle_rad=ring, change_points=change)

    def seen(chi_rad: float) -> float:
        return float(normal_strain(strain.along_grain, strain.across, normal_x=math.cos(chi_rad)))

    found = seen(angle)
    for same in (-angle, angle + math.pi, math.pi - angle):
        assert seen(same) == pytest.approx(found, abs=1e-15)
    low, high = sorted([float(strain.along_grain), float(strain.across)])
    assert low - 1e-15 <= found <= high + 1e-15


def test_a_stretched_circle_has_the_strains_of_its_normals() -> None:
    """Independent method: the support function of the ellipse with axes 1 + e_x, 1 + e_y.

    The distance between the two parallel tangents square to the normal is
    2 sqrt(a^2 cos^2 + b^2 sin^2), of which e_n is the first-order change.
    """
    strain = cherry_swelling(ring_angle_rad=0.4, change_points=0.05)
    chi = np.linspace(0.1, 3.0, 7)
    a, b = 1 + strain.along_grain, 1 + strain.across
    support = np.hypot(a * np.cos(chi), b * np.sin(chi)) - 1
    found = normal_strain(strain.along_grain, strain.across, normal_x=np.cos(chi))
    np.testing.assert_allclose(found, support, rtol=1e-3)


def test_a_base_that_swells_closes_the_slot_as_the_ellipse_it_becomes() -> None:
    """Independent method: the support function of the ellipse with axes 1 + e_x, 1 + e_y.

    The distance of a tangent from the middle is r sqrt(a^2 cos^2 + b^2 sin^2) at the angle chi from the
    grain to the outward normal. Black cherry with its rings at 23 degrees (Wood Handbook, Table 13-5),
    two points wetter than the turns: at 20 degrees cos^2 is 0.88302222 and sin^2 0.11697778.
    """
    tables: dict[str, dict[str, Any]] = {
        "board": {"wood": "cherry", "thickness": "18 mm", "across": "150 mm", "moisture": "8 %",
                  "grain": "23 deg"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm", "root": "37 deg"},
        "use": {"base_moisture": "10 %", "turn_moisture": "8 %", "film": "0 mm"},
    }  # fmt: skip
    wet = rigid_fit(make_bowl(tables))
    dry = rigid_fit(make_bowl({**tables, "use": {**tables["use"], "base_moisture": "8 %"}}))
    first = wet.faces.angle_rad < 2 * math.pi
    angle = wet.faces.angle_rad[first]
    polar, radius = math.radians(37) + angle, 28 + 6.5 * angle / (2 * math.pi)
    chi = polar - np.arctan(6.5 / (2 * math.pi) / radius)  # the turns go outward, the normal looks back
    radius -= 0.7 / math.cos(math.radians(6)) / 2  # of the face of the base
    closed = (dry.faces.slot_mm - wet.faces.slot_mm)[first] / radius
    e_x = 2 * find_wood("cherry").swell_L_per_point.value
    e_y = 2 * (0.00248 * math.cos(math.radians(23)) ** 2 + 0.00126 * math.sin(math.radians(23)) ** 2)
    support = np.hypot((1 + e_x) * np.cos(chi), (1 + e_y) * np.sin(chi)) - 1
    np.testing.assert_allclose(closed, support, rtol=5e-3, atol=1e-7)
    at_20 = np.interp(math.radians(380), chi, closed)
    assert at_20 == pytest.approx(e_x * 0.88302222 + e_y * 0.11697778, rel=4e-3)  # between two samples
    assert np.all((closed > e_x) & (closed < e_y))


@given(T=st.floats(-1.1, 93.3), h=st.floats(0.5, 94.0))
def test_wetter_air_makes_wetter_wood(T: float, h: float) -> None:
    """Equilibrium moisture rises with humidity at any temperature."""
    low, high = equilibrium_moisture_percent(temperature_C=T, humidity_percent=[h, h + 1])
    assert 0 < low < high < 30


def test_dry_air_leaves_no_water_and_shapes_broadcast() -> None:
    """At no humidity the sorption equation gives exactly 0."""
    found = equilibrium_moisture_percent(temperature_C=[[5.0], [30.0]], humidity_percent=[0.0, 40.0, 85.0])
    assert found.shape == (2, 3)
    np.testing.assert_array_equal(found[:, 0], 0.0)


@pytest.mark.parametrize(
    ("T", "h", "sentence"),
    [
        (-1.2, 50, "temperature"),
        (93.4, 50, "temperature"),
        (20, 95.1, "relative humidity"),
        (20, -0.1, "relative humidity"),
        (math.nan, 50, "temperature"),
        (20, [50, math.nan], "relative humidity"),
    ],
)
def test_air_outside_the_table_is_refused(T: float, h: ArrayLike, sentence: str) -> None:
    """A fitted formula says when it is asked beyond its table."""
    with pytest.raises(OutsideModelError, match=sentence):
        equilibrium_moisture_percent(temperature_C=T, humidity_percent=h)


@pytest.mark.parametrize(("T", "h"), [(-1.111, 95), (93.333, 0), (-1.1, 95.0)])
def test_air_on_the_edge_of_the_table_is_served(T: float, h: float) -> None:
    """The limits themselves belong to the range."""
    assert np.isfinite(equilibrium_moisture_percent(temperature_C=T, humidity_percent=h))


@given(
    value=st.floats(1, 2e4),
    ratio=st.floats(1.0, 2.5),
    Mp=st.floats(20, 28),
    M=st.floats(0, 30),
)
def test_the_rule_passes_through_12_percent_and_green(
    value: float, ratio: float, Mp: float, M: float
) -> None:
    """P(12) = P12, P(Mp) and beyond = Pg, and drier is never weaker."""

    def P(moisture: float) -> float:
        return float(
            at_moisture(value, green_ratio=ratio, intersection_percent=Mp, moisture_percent=moisture)
        )

    assert P(12.0) == pytest.approx(value, rel=1e-12)
    assert P(Mp) == pytest.approx(value / ratio, rel=1e-12)
    assert P(30.0) == P(Mp)
    assert P(M) >= P(30.0) * (1 - 1e-12)
    assert P(M) <= P(0.0) * (1 + 1e-12)


def test_the_rule_is_straight_in_the_logarithm() -> None:
    """Halfway between 12 percent and Mp the property is the geometric mean."""
    found = at_moisture(90.0, green_ratio=90 / 40, intersection_percent=24.0, moisture_percent=[18.0, 15.0])
    np.testing.assert_allclose(found, [60.0, math.sqrt(90 * 60)])


@pytest.mark.parametrize(
    ("ratio", "Mp", "M"),
    [
        (1.5, 25.0, -0.1),
        (1.5, 25.0, 30.1),
        (1.5, 25.0, math.nan),
        (1.5, 12.0, 8.0),
        (0.0, 25.0, 8.0),
    ],
)
def test_the_rule_is_refused_outside_its_range(ratio: float, Mp: float, M: float) -> None:
    """Moisture from 0 to 30 percent, an intersection above 12, a positive ratio."""
    with pytest.raises(OutsideModelError):
        at_moisture(1.0, green_ratio=ratio, intersection_percent=Mp, moisture_percent=M)


def test_the_stated_ranges() -> None:
    """Wood Handbook, Table 13-5: coefficients serve from 6 to 14 percent."""
    assert PRINTED_RANGE_PERCENT == (6.0, 14.0)
    assert ADJUSTABLE_RANGE_PERCENT == (0.0, 30.0)


@pytest.mark.parametrize("wood", woods(), ids=lambda wood: wood.name)
def test_at_12_percent_a_wood_is_itself(wood: Wood) -> None:
    """The table is for 12 percent."""
    assert wood_at_moisture(wood, 12.0) is wood


@given(M=st.floats(12, 12.001).filter(lambda M: M > 12))
def test_next_to_12_percent_a_wood_is_nearly_itself(M: float) -> None:
    """The adjustment is continuous at 12 percent."""
    oak = find_wood("white oak")
    moist = wood_at_moisture(oak, M)
    assert moist.E_L_MPa.value == pytest.approx(oak.E_L_MPa.value, rel=1e-4)
    assert moist.rolling_shear_MPa.high == pytest.approx(oak.rolling_shear_MPa.high, rel=1e-4)


def test_a_drier_wood_is_stiffer_and_stronger_by_its_own_ratios() -> None:
    """White ash, Mp 24: ratios 12000/9900, 103/66 and 13.2/9.3 (Table 5-3) to the power 1/3."""
    ash = find_wood("white ash")
    dry = wood_at_moisture(ash, 8.0)
    for name, ratio in [
        *[(name, 12000 / 9900) for name in ("E_L_MPa", "E_R_MPa", "E_T_MPa", "G_LR_MPa",
                                            "G_LT_MPa", "G_RT_MPa")],
        ("bending_strength_MPa", 103 / 66),
        ("shear_along_MPa", 13.2 / 9.3),
        ("rolling_shear_MPa", 13.2 / 9.3),
    ]:  # fmt: skip
        factor = getattr(dry, name).value / getattr(ash, name).value
        assert factor == pytest.approx(ratio ** (1 / 3), rel=2e-4), name
    # 12 percent more at 6 and 20 less at 20 percent, by a parabola: 9.5 percent more at 8.
    rise = dry.tension_across_MPa.value / ash.tension_across_MPa.value
    assert rise == pytest.approx(1 + 0.31 / 14 * 4 - 0.005 / 14 * 16, rel=1e-6)
    for name in ("crushing_across_MPa", "nu_LT", "swell_T_per_point"):
        assert getattr(dry, name) == getattr(ash, name), name


@pytest.mark.parametrize("M", [5.0, 19.0, 29.0])
@pytest.mark.parametrize("name", ["birch paper", "oak white", "spruce sitka"])
def test_an_adjusted_wood_keeps_honest_marks_and_ranges(name: str, M: float) -> None:
    """Marks never grow firmer, borrowed ratios are estimates, ranges hold and do not narrow."""
    wood = find_wood(name)
    moist = wood_at_moisture(wood, M)
    assert moist.E_L_MPa.mark == max(wood.E_L_MPa.mark, wood.green_ratio_modulus.mark, key=MARKS.index)
    for key in ("E_R_MPa", "G_LT_MPa", "rolling_shear_MPa"):
        assert getattr(moist, key).mark == "estimated"
        assert "borrowed" in getattr(moist, key).source
    for key in ("E_L_MPa", "G_RT_MPa", "bending_strength_MPa", "shear_along_MPa"):
        before, after = getattr(wood, key), getattr(moist, key)
        assert after.low <= after.value <= after.high
        assert after.high / after.low >= before.high / before.low * (1 - 1e-12)
        assert f"{M:g} percent moisture" in after.source


@pytest.mark.parametrize("M", [7.0, 17.0])
def test_the_range_of_an_adjusted_wood_takes_in_the_range_of_its_ratio(M: float) -> None:
    """Low and high use whichever end of the ratio is least and greatest, dry or moist."""
    birch = find_wood("paper birch")
    ratio, shear = birch.green_ratio_shear, birch.shear_along_MPa
    assert ratio.low < ratio.value < ratio.high
    # Mp is 25 percent ("all others" of the handbook), so the exponent is (12 - M)/13.
    ends = [end ** ((12 - M) / 13) for end in (ratio.low, ratio.high)]
    moist = wood_at_moisture(birch, M).shear_along_MPa
    assert moist.low == pytest.approx(shear.low * min(ends), rel=1e-12)
    assert moist.high == pytest.approx(shear.high * max(ends), rel=1e-12)


@pytest.mark.parametrize("M", [-1.0, 31.0, math.nan])
def test_a_wood_outside_the_rule_is_refused(M: float) -> None:
    """A green board and one drier than dry are outside the model."""
    with pytest.raises(OutsideModelError, match="moisture content"):
        wood_at_moisture(find_wood("cherry"), M)
