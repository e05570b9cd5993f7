"""How moisture settles in wood, swells it and weakens it.

Moisture content is water over ovendry wood, in percent. Strains and moisture changes are small;
a drying change is negative and shrinks. Sources: USDA Forest Products Laboratory, *Wood Handbook:
Wood as an Engineering Material*, FPL-GTR-190 (2010) and FPL-GTR-282 (2021).
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from fitsim.arrays import Array, ArrayLike
from fitsim.errors import OutsideModelError
from fitsim.wood.species import MARKS, Sourced, Wood, splitting

__all__ = [
    "ADJUSTABLE_RANGE_PERCENT",
    "HUMIDITY_RANGE_PERCENT",
    "PRINTED_RANGE_PERCENT",
    "TEMPERATURE_RANGE_C",
    "SwellingStrain",
    "at_moisture",
    "equilibrium_moisture_percent",
    "normal_strain",
    "swelling_strain",
    "tension_across_share",
    "wood_at_moisture",
]


PRINTED_RANGE_PERCENT = (6.0, 14.0)
"""Moisture contents between which the printed swelling coefficients serve (Table 13-5)."""

TEMPERATURE_RANGE_C = ((30 - 32) / 1.8, (200 - 32) / 1.8)
"""Temperatures of Table 4-2: 30 to 200 deg F, that is -1.1 to 93.3 deg C."""

HUMIDITY_RANGE_PERCENT = (0.0, 95.0)
"""Relative humidities served; Table 4-2 has 5 to 95, and below it the formula falls to 0 at 0."""

ADJUSTABLE_RANGE_PERCENT = (0.0, 30.0)
"""Moisture contents for the exponential rule: ovendry to fibre saturation, all a board can have
that is not green. Below about 6 percent it is an extrapolation, and strength may even fall a
little there (from memory of the Wood Handbook, chapter 5)."""

_MODULI = ("E_L_MPa", "E_R_MPa", "E_T_MPa", "G_LR_MPa", "G_LT_MPa", "G_RT_MPa")


def _check_inside(values: Array, limits: tuple[float, float], what: str) -> None:
    if not np.all((values >= limits[0]) & (values <= limits[1])):
        raise OutsideModelError(
            f"{what} {np.array2string(values, threshold=6)} lies outside the range served, "
            f"{limits[0]:.1f} to {limits[1]:.1f}"
        )


def equilibrium_moisture_percent(*, temperature_C: ArrayLike, humidity_percent: ArrayLike) -> Array:
    """Moisture content wood comes to in still air, two-hydrate sorption equation.

    Parameters
    ----------
    temperature_C : array_like
        Temperature of the air, any shape, within :data:`TEMPERATURE_RANGE_C`. [deg C]
    humidity_percent : array_like
        Relative humidity, a shape that broadcasts, within :data:`HUMIDITY_RANGE_PERCENT`.
        [percent]

    Returns
    -------
    numpy.ndarray
        Equilibrium moisture content, broadcast shape. [percent]

    Raises
    ------
    OutsideModelError
        If any temperature or humidity lies outside the printed table.

    Notes
    -----
    Wood Handbook, equation 4-5: a mean over woods and over wetting and drying. A single wood may
    differ by a point or so (common practice, no published source).

    Examples
    --------
    >>> equilibrium_moisture_percent(temperature_C=20, humidity_percent=65).round(2)
    np.float64(12.0)
    """
    T = np.asarray(temperature_C, dtype=np.float64)
    humidity = np.asarray(humidity_percent, dtype=np.float64)
    _check_inside(T, TEMPERATURE_RANGE_C, "temperature in deg C")
    _check_inside(humidity, HUMIDITY_RANGE_PERCENT, "relative humidity in percent")
    h = humidity / 100
    W = 349 + 1.29 * T + 0.0135 * T**2
    K = 0.805 + 0.000736 * T - 0.00000273 * T**2
    K1 = 6.27 - 0.00938 * T - 0.000303 * T**2
    K2 = 1.91 + 0.0407 * T - 0.000293 * T**2
    Kh = K * h
    hydrates = (K1 * Kh + 2 * K1 * K2 * Kh**2) / (1 + K1 * Kh + K1 * K2 * Kh**2)
    return np.asarray(1800 / W * (Kh / (1 - Kh) + hydrates))


@dataclass(frozen=True, eq=False)
class SwellingStrain:
    """Strain of a free piece of board whose moisture has changed evenly.

    Attributes
    ----------
    along_grain, across, thickness : numpy.ndarray
        Strain along x (grain), y (across, in the plane of the board) and z (thickness), of the
        shape of the moisture change; positive when swelling. [-]
    shear_yz_rad : numpy.ndarray
        Loss of the right angle between y and z, zero for flat-sawn and quarter-sawn boards. [rad]
    """

    along_grain: Array
    across: Array
    thickness: Array
    shear_yz_rad: Array

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for array in (self.along_grain, self.across, self.thickness, self.shear_yz_rad):
            array.setflags(write=False)


def swelling_strain(
    *,
    swell_L_per_point: float,
    swell_R_per_point: float,
    swell_T_per_point: float,
    ring_angle_rad: float,
    change_points: ArrayLike,
) -> SwellingStrain:
    """Turn the swelling of the wood's own axes into the board's axes.

    e_y = e_T cos^2 + e_R sin^2, e_z = e_R cos^2 + e_T sin^2, g_yz = 2 (e_R - e_T) sin cos, with
    e = coefficient x change of moisture and the angle of the growth rings to the face.

    Parameters
    ----------
    swell_L_per_point, swell_R_per_point, swell_T_per_point : float
        Strain for one percentage point of moisture along the grain, radial and tangential.
        [1/percent]
    ring_angle_rad : float
        Angle from the face of the board to the growth rings, T turned towards R as in
        :func:`fitsim.wood.grain.board_stiffness`; 0 flat-sawn, pi/2 quarter-sawn. [rad]
    change_points : array_like
        Change of moisture content in percentage points, any shape; negative when drying.
        [percent]

    Returns
    -------
    SwellingStrain
        Arrays of the shape of ``change_points``.

    Notes
    -----
    The coefficients serve between :data:`PRINTED_RANGE_PERCENT`; only the caller knows from where
    the change starts, so the caller says when it leaves that range.

    Examples
    --------
    >>> flat = swelling_strain(swell_L_per_point=5e-5, swell_R_per_point=0.00126,
    ...     swell_T_per_point=0.00248, ring_angle_rad=0.0, change_points=2.0)
    >>> round(float(flat.across), 9)
    0.00496
    """
    change = np.asarray(change_points, dtype=np.float64)
    c, s = np.cos(ring_angle_rad), np.sin(ring_angle_rad)
    e_R, e_T = swell_R_per_point * change, swell_T_per_point * change
    return SwellingStrain(
        along_grain=np.asarray(swell_L_per_point * change),
        across=np.asarray(e_T * c**2 + e_R * s**2),
        thickness=np.asarray(e_R * c**2 + e_T * s**2),
        shear_yz_rad=np.asarray(2 * (e_R - e_T) * s * c),
    )


def normal_strain(along_grain: ArrayLike, across: ArrayLike, *, normal_x: ArrayLike) -> Array:
    """Strain in the plane of the board along a given normal.

    e_n = e_x cos^2(chi) + e_y sin^2(chi).

    Parameters
    ----------
    along_grain, across : array_like
        Strains e_x and e_y of the piece. [-]
    normal_x : array_like
        cos(chi), chi the angle from the grain to the *outward normal* (not to the tangent); a shape that
        broadcasts with the strains. [-]

    Returns
    -------
    numpy.ndarray
        Strain, broadcast shape. [-]
    """
    cc = np.asarray(normal_x, dtype=np.float64) ** 2
    return np.asarray(np.asarray(along_grain) * cc + np.asarray(across) * (1 - cc))


def at_moisture(
    value12: ArrayLike,
    *,
    green_ratio: ArrayLike,
    intersection_percent: ArrayLike,
    moisture_percent: ArrayLike,
) -> Array:
    """Property at another moisture content, exponential rule.

    P = P12 (P12/Pg)^((12 - M)/(Mp - 12)) up to M = Mp, and the green value above it.

    Parameters
    ----------
    value12 : array_like
        Property at 12 percent moisture, any unit.
    green_ratio : array_like
        Value at 12 percent over green value, P12/Pg. [-]
    intersection_percent : array_like
        Moisture content Mp at which the rule meets the green value, above 12. [percent]
    moisture_percent : array_like
        Moisture content M, within :data:`ADJUSTABLE_RANGE_PERCENT`. [percent]

    Returns
    -------
    numpy.ndarray
        The property in the unit of ``value12``, broadcast shape.

    Raises
    ------
    OutsideModelError
        If M lies outside the range, Mp is not above 12 or a ratio is not positive.

    Notes
    -----
    Wood Handbook, equation 5-3. It does not serve tension across the grain.

    Examples
    --------
    White ash in bending at 8 percent, the handbook's own example:

    >>> float(at_moisture(103.0, green_ratio=103 / 66, intersection_percent=24.0,
    ...     moisture_percent=8.0).round(1))
    119.5
    """
    ratio = np.asarray(green_ratio, dtype=np.float64)
    Mp = np.asarray(intersection_percent, dtype=np.float64)
    M = np.asarray(moisture_percent, dtype=np.float64)
    _check_inside(M, ADJUSTABLE_RANGE_PERCENT, "moisture content in percent")
    if not (np.all(Mp > 12) and np.all(ratio > 0)):
        raise OutsideModelError("the rule needs Mp above 12 percent and a ratio above 0")
    P12 = np.asarray(value12, dtype=np.float64)
    return np.asarray(P12 * ratio ** ((12 - np.minimum(M, Mp)) / (Mp - 12)))


def _adjusted(
    given: Sourced, ratio: Sourced, intersection: Sourced, moisture_percent: float, *, rule: str
) -> Sourced:
    """Scale one number; its range widens by the range of the ratio."""
    factors = [
        float(
            at_moisture(
                1.0,
                green_ratio=green_ratio,
                intersection_percent=intersection.value,
                moisture_percent=moisture_percent,
            )
        )
        for green_ratio in (ratio.value, ratio.low, ratio.high)
    ]
    # A rule borrowed from another property is an estimate whatever the numbers are.
    marks = [given.mark, ratio.mark, intersection.mark, "estimated" if rule else "published"]
    return Sourced(
        value=given.value * factors[0],
        low=given.low * min(factors),
        high=given.high * max(factors),
        mark=max(marks, key=MARKS.index),
        source=f"{given.source}; taken to {moisture_percent:g} percent moisture by Wood Handbook "
        f"equation 5-3{rule}",
    )


@lru_cache(maxsize=256)  # with every tilt the wood of so thin a strip is another
def wood_at_moisture(wood: Wood, moisture_percent: float) -> Wood:
    """Return the wood as it is at another moisture content.

    The modulus ratio of bending is applied to all six moduli (for E_R, E_T and the shear moduli
    an estimate, and marked so), the bending ratio to bending strength, the shear ratio to shear
    along the grain and, as an estimate, to rolling shear. The rule does not serve tension across the
    grain: see :func:`tension_across_share`. Crushing across the grain and Poisson's ratios are left
    alone for want of a ratio.

    Parameters
    ----------
    wood : Wood
        A wood of the table, at 12 percent; do not adjust one twice.
    moisture_percent : float
        Moisture content, within :data:`ADJUSTABLE_RANGE_PERCENT`. [percent]

    Returns
    -------
    Wood
        The same wood itself at 12 percent.

    Raises
    ------
    OutsideModelError
        If the moisture content lies outside the range.
    """
    if moisture_percent == 12:
        return wood
    borrowed = ", ratio borrowed from "
    steps = [("E_L_MPa", wood.green_ratio_modulus, "")]
    steps += [(n, wood.green_ratio_modulus, f"{borrowed}E_L") for n in _MODULI[1:]]
    steps += [
        ("bending_strength_MPa", wood.green_ratio_bending, ""),
        ("shear_along_MPa", wood.green_ratio_shear, ""),
        ("rolling_shear_MPa", wood.green_ratio_shear, f"{borrowed}shear along the grain"),
    ]
    changed: dict[str, Any] = {
        name: _adjusted(
            getattr(wood, name), ratio, wood.intersection_moisture_percent, moisture_percent,
            rule=rule,
        )
        for name, ratio, rule in steps
    }  # fmt: skip
    changed["tension_across_MPa"] = _tension_across(wood, moisture_percent)
    return replace(wood, **changed)


def tension_across_share(moisture_percent: ArrayLike, *, at_6: float, at_20: float) -> Array:
    """Tension across the grain at a moisture content over that at 12 percent.

    Parameters
    ----------
    moisture_percent : array_like
        Moisture content, within :data:`ADJUSTABLE_RANGE_PERCENT`. [percent]
    at_6, at_20 : float
        The share at 6 and at 20 percent. [-]

    Returns
    -------
    numpy.ndarray
        The parabola through both and 1 at 12 percent. [-]

    Raises
    ------
    OutsideModelError
        If the moisture content lies outside the range.

    Examples
    --------
    >>> tension_across_share([6.0, 12.0, 20.0], at_6=1.12, at_20=0.8).round(6).tolist()
    [1.12, 1.0, 0.8]
    """
    M = np.asarray(moisture_percent, dtype=np.float64)
    _check_inside(M, ADJUSTABLE_RANGE_PERCENT, "moisture content in percent")
    below, above = (at_6 - 1) / -6, (at_20 - 1) / 8
    bend = (above - below) / 14
    return np.asarray(1 + (M - 12) * (below + bend * (M - 6)))


def _tension_across(wood: Wood, moisture_percent: float) -> Sourced:
    at_6, at_20 = (splitting()[f"tension_share_{m}_percent"] for m in (6, 20))
    # Above the intersection moisture drying changes nothing, as with the other strengths.
    now = min(moisture_percent, wood.intersection_moisture_percent.value)
    ends = ("value", "low", "high") if moisture_percent < 12 else ("value", "high", "low")
    share, *wide = (
        float(tension_across_share(now, at_6=getattr(at_6, e), at_20=getattr(at_20, e)))
        for e in ("value", ends[1], ends[2])
    )
    given = wood.tension_across_MPa
    return Sourced(
        value=given.value * share,
        low=given.low * min(wide),
        high=given.high * max(wide),
        mark="estimated",
        source=f"{given.source}; taken to {moisture_percent:g} percent moisture by 12 percent more at 6 "
        "and 20 percent less at 20 percent",
    )
