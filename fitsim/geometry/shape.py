"""The shape of the open bowl: rise, wall slope, diameters and what it holds.

Closed form, every turn sunk by its rigid seat drop: at the angle a from the root the strip stands
above the base by the drops of all turns passed so far, a staircase that steps at the root's clock
position. Its mean over the last full revolution before the nail is exactly the sum of the drops,
each weighed with the share of a revolution its turn covers.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.geometry.cut import SlotCurve, Strip, last_pitch_mm, turn_indices
from fitsim.geometry.seats import TurnSeats
from fitsim.quantities import TURN_RAD

__all__ = ["BowlShape", "bowl_shape", "height_above_base_mm", "middle_reach_mm", "wall_slope"]


@dataclass(frozen=True)
class BowlShape:
    """Measures of the open bowl with all seats bound.

    Attributes
    ----------
    rise_mm : float
        Mean height of the rim above its flat position relative to the base. [mm]
    rise_least_mm, rise_greatest_mm : float
        Least and greatest height over the last full revolution before the nail. [mm]
    wall_slope_rad : float
        Slope of the wall from level, of the line through the middles of its turns. [rad]
    height_mm : float
        Outside height, rise plus thickness. [mm]
    rim_diameter_mm : float
        Inside diameter of the mouth at the top face, mean over the last revolution. [mm]
    mouth_length_mm, mouth_width_mm : float or None
        The same along the grain and across it, where the turns are no circles; else None. [mm]
    base_diameter_mm : float
        Diameter of the base on the table: its bottom face, mean over the first revolution. [mm]
    base_length_mm, base_width_mm : float or None
        The base on the table along the grain and across it, where it is no circle; else None. [mm]
    capacity_ml : float
        Inside volume, filled everywhere to the top of the strip there, slots closed. [ml]
    """

    rise_mm: float
    rise_least_mm: float
    rise_greatest_mm: float
    wall_slope_rad: float
    height_mm: float
    rim_diameter_mm: float
    base_diameter_mm: float
    capacity_ml: float
    mouth_length_mm: float | None = None
    mouth_width_mm: float | None = None
    base_length_mm: float | None = None
    base_width_mm: float | None = None


def height_above_base_mm(angle_rad: Array, seat_drop_mm: Array) -> Array:
    """Height of the strip above the base at angles swept from the root, a staircase.

    Parameters
    ----------
    angle_rad : numpy.ndarray
        Angles, any shape; the end of a turn belongs to that turn. [rad]
    seat_drop_mm : numpy.ndarray
        Drop of each turn, innermost first, shape (turns,). [mm]

    Returns
    -------
    numpy.ndarray
        Height, shape of ``angle_rad``. [mm]

    Examples
    --------
    >>> height_above_base_mm(np.array([1.0, 7.0]), np.array([7.0, 6.5]))
    array([ 7. , 13.5])
    """
    turn = np.minimum(turn_indices(np.asarray(angle_rad)), len(seat_drop_mm) - 1)
    return np.asarray(np.cumsum(seat_drop_mm)[turn])


def middle_reach_mm(slot: SlotCurve, turn: Array) -> Array:
    """How far out the middle of the strip lies: half a step beyond the slot, as if the cut never ended.

    So the corners that the last turn of a square board carries are no part of the wall.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    turn : numpy.ndarray
        Places along the strip, in turns from the root, any shape. [-]

    Returns
    -------
    numpy.ndarray
        Counted as the slot's own reach is, shape of ``turn``. [mm]
    """
    swept, step = slot.angle_rad / TURN_RAD, last_pitch_mm(slot)
    swept, reach = np.append(swept, swept[-1] + 1), np.append(slot.reach_mm, slot.reach_mm[-1] + step)
    inner, outer = (np.interp(at, swept, reach) for at in (turn, np.asarray(turn) + 1))
    return np.asarray((inner + outer) / 2)


def wall_slope(outward_mm: Array, height_mm: Array, *, rise_mm: float, wide_mm: float) -> float:
    """Slope of the wall: of the straight line nearest to the middles of the whole turns.

    Parameters
    ----------
    outward_mm, height_mm : numpy.ndarray
        Of the middle of each whole turn, shape (turns,). [mm]
    rise_mm, wide_mm : float
        Rise of the rim, and how far the cut moves from the base to the nail: of less than two whole turns
        the wall is the line over both. [mm]

    Returns
    -------
    float
        Its tangent. [-]

    Examples
    --------
    >>> wall_slope(np.array([44.0, 52.0, 60.0]), np.array([4.0, 12.0, 20.0]), rise_mm=24.0, wide_mm=26.0)
    1.0
    """
    if len(outward_mm) < 2:
        return rise_mm / wide_mm
    away = outward_mm - outward_mm.mean()
    return float(away @ height_mm / (away @ away))


def _mean_over(values: Array, angle: Array, start: float, stop: float) -> float:
    """Mean of a sampled quantity between two angles (straight between samples)."""
    grid = np.unique(np.clip(angle, start, stop))
    sampled = np.interp(grid, angle, values)
    return float(np.trapezoid(sampled, grid) / (stop - start))


def _capacity_mm3(
    radius: Array,
    angle: Array,
    slope: Array,
    drop: Array,
    thickness_mm: float,
    *,
    speed: Array,
    turning: Array | float = 1.0,
) -> float:
    """Volume inside the stepped wall, summed over the face each turn leaves open.

    A turn leaves open the top ``drop`` of its inner face, from zeta = T/2 - drop to T/2 above its
    own mid-thickness, at the radius r + zeta tan(theta); each sliver of angle da holds the integral
    of radius^2/2 over that height. Where the line is no circle a sliver is half its tangent's distance
    from the centre times its length, and both grow outward.
    """
    top, bottom = thickness_mm / 2, thickness_mm / 2 - drop
    sliver = (
        radius * speed * (top - bottom)
        + (radius * turning + speed) / 2 * slope * (top**2 - bottom**2)
        + slope**2 * turning * (top**3 - bottom**3) / 3
    ) / 2
    # Trapezium rule: the integrand is quadratic in a between steps of the drop.
    return float(np.trapezoid(sliver, angle))


def bowl_shape(
    slot: SlotCurve, strip: Strip, seats: TurnSeats, *, thickness_mm: float, pitch_mm: float
) -> BowlShape | None:
    """Shape of the bowl with every seat bound, or None where a seat is shut or has nothing to bind on.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    strip : Strip
        The strip up to the nail.
    seats : TurnSeats
        Rigid seats.
    thickness_mm : float
        Thickness of the board now. [mm]
    pitch_mm : float
        How far the cut moves inward in one turn. [mm]

    Returns
    -------
    BowlShape or None
        None if any turn falls through or will not open: then there is no bowl to measure.
    """
    shut = np.any(seats.slot_left_mm <= 0)
    if shut or np.any(seats.overlap <= 0) or not np.all(np.isfinite(seats.seat_drop_mm)):
        return None
    angle, end = strip.angle_rad, float(strip.angle_rad[-1])
    rise = float(np.sum(seats.seat_drop_mm * seats.share))
    stairs = np.cumsum(seats.seat_drop_mm)
    # Stairs met over the last full revolution; an end exactly on a turn meets only its own.
    heights = stairs[int(strip.turns - 1 + 1e-9) : int(np.ceil(strip.turns - 1e-9))]
    inner_edge = np.interp(angle, slot.angle_rad, slot.radius_mm + slot.slot_mm / 2)
    slope = np.interp(angle, slot.angle_rad, slot.slope)
    mouth = inner_edge + thickness_mm / 2 * slope
    speed, turning = _along(slot, angle, inner_edge)
    foot = slot.radius_mm - slot.slot_mm / 2 - thickness_mm / 2 * slot.slope
    turn = turn_indices(angle)
    middles = _turn_middles_mm(slot, int(strip.turns + 1e-9))
    slope_of_wall = wall_slope(
        middles, stairs[: len(middles)], rise_mm=rise, wide_mm=pitch_mm * strip.turns
    )
    return BowlShape(
        rise_mm=rise,
        rise_least_mm=float(heights.min()),
        rise_greatest_mm=float(heights.max()),
        wall_slope_rad=float(np.arctan(slope_of_wall)),
        height_mm=rise + thickness_mm,
        rim_diameter_mm=2 * _mean_over(mouth, angle, end - TURN_RAD, end),
        base_diameter_mm=2 * _mean_over(foot, slot.angle_rad, 0.0, TURN_RAD),
        capacity_ml=_capacity_mm3(
            inner_edge, angle, slope, seats.seat_drop_mm[turn], thickness_mm, speed=speed, turning=turning
        )
        / 1000,
        **_extents_mm(slot, strip, mouth, foot),
    )


PLACES_PER_TURN = 72
"""Places of a turn of which the mean is its middle."""


def _turn_middles_mm(slot: SlotCurve, whole: int) -> Array:
    """How far out the middle of each whole turn lies, on its mean, counted as the slot's own reach is."""
    places = (np.arange(whole * PLACES_PER_TURN) + 0.5) / PLACES_PER_TURN
    return np.asarray(middle_reach_mm(slot, places).reshape(whole, PLACES_PER_TURN).mean(axis=1))


def _extents_mm(slot: SlotCurve, strip: Strip, mouth: Array, foot: Array) -> dict[str, float]:
    """Length and width of mouth and base where the turns are no circles; nothing on a round cut. [mm]"""
    wound = slot.winding
    if wound is None:
        return {}
    last = strip.angle_rad >= strip.angle_rad[-1] - TURN_RAD - 1e-9
    first = slot.angle_rad <= TURN_RAD + 1e-9
    found = {}
    for name, angle, radius in (
        ("mouth", strip.angle_rad[last], mouth[last]),
        ("base", slot.angle_rad[first], foot[first]),
    ):
        at = wound.at(angle, radius - wound.support_mm(angle)).position_mm
        found[f"{name}_length_mm"], found[f"{name}_width_mm"] = (float(v) for v in np.ptp(at, axis=0))
    return found


def _along(slot: SlotCurve, angle: Array, radius: Array) -> tuple[Array, Array | float]:
    """Length of a line for each unit of angle swept, and how much it turns; radius and 1 on a circle."""
    if slot.winding is None:
        return radius, 1.0
    reach = radius - slot.winding.support_mm(angle)
    return slot.winding.mean_speed_mm(angle, reach), slot.winding.mean_turning(angle)
