"""The blade: the kerf it leaves, the least radius it turns, and the time the cut takes.

Published tables of least radius by blade width disagree, so the answer is a range.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.errors import OutsideModelError
from fitsim.tables import read_table

__all__ = [
    "DOES_NOT_TURN",
    "MAY_NOT_TURN",
    "TURNS",
    "BLADE_RANGE_mm",
    "KerfRange",
    "LeastRadius",
    "blade_turns",
    "cutting_time_min",
    "kerf_from_blade_mm",
    "kerf_of_blades",
    "least_radius",
    "room_to_turn_mm",
    "widest_blade_mm",
]

BLADE_RANGE_mm = (2.9, 31.8)
"""Widths of blades that are answered: 1/8 in, by its metric name 3 mm, to 1 1/4 in. [mm]"""

TURNS, MAY_NOT_TURN, DOES_NOT_TURN = "turns", "may not turn", "does not turn"
"""What the tables say of a blade and a radius: all that it turns, some, or none."""


@dataclass(frozen=True)
class LeastRadius:
    """Least radius a blade turns, as published tables have it.

    Attributes
    ----------
    low_mm, high_mm : float
        Least and greatest value among the tables. [mm]
    source : str
        Where from.
    """

    low_mm: float
    high_mm: float
    source: str


def least_radius(blade_width_mm: float) -> LeastRadius:
    """Least radius a blade of this width turns, straight between the tabled widths.

    A blade called 3 mm is the narrowest of the tables, 1/8 in: a little narrower it turns no worse.

    Parameters
    ----------
    blade_width_mm : float
        Width of the blade from the tips of the teeth to its back. [mm]

    Returns
    -------
    LeastRadius
        The range the tables give.

    Raises
    ------
    OutsideModelError
        For a width outside the tables.

    Examples
    --------
    >>> least_radius(6.35).high_mm
    19.0
    """
    rows = read_table("blade_radius")
    widths = np.array([float(row["blade_width_mm"]) for row in rows])
    least, most = BLADE_RANGE_mm
    if not least <= blade_width_mm <= most:
        message = f"blade width {blade_width_mm:g} mm: tables run from {least} mm to {most} mm"
        raise OutsideModelError(message)
    low = np.interp(blade_width_mm, widths, [float(row["radius_low_mm"]) for row in rows])
    high = np.interp(blade_width_mm, widths, [float(row["radius_high_mm"]) for row in rows])
    nearest = rows[int(np.argmin(np.abs(widths - blade_width_mm)))]
    source = nearest["source"]
    if blade_width_mm < widths[0]:
        source += f"; the narrowest of them, {widths[0]:g} mm, taken for a blade of {blade_width_mm:g} mm"
    return LeastRadius(float(low), float(high), source)


def blade_turns(least: LeastRadius, radius_mm: float) -> str:
    """Whether a blade turns a radius, by the tables of least radius.

    Parameters
    ----------
    least : LeastRadius
        Of the blade.
    radius_mm : float
        Radius of the tightest curve. [mm]

    Returns
    -------
    str
        :data:`TURNS`, :data:`MAY_NOT_TURN` or :data:`DOES_NOT_TURN`.

    Examples
    --------
    >>> blade_turns(least_radius(6.35), 16.0)
    'may not turn'
    """
    if radius_mm >= least.high_mm:
        return TURNS
    return MAY_NOT_TURN if radius_mm >= least.low_mm else DOES_NOT_TURN


def widest_blade_mm(radius_mm: float) -> float | None:
    """Widest blade of the tables that turns a radius by every one of them.

    Parameters
    ----------
    radius_mm : float
        Radius of the tightest curve. [mm]

    Returns
    -------
    float or None
        Width of the blade; None where the radius is too tight for any. [mm]

    Examples
    --------
    >>> widest_blade_mm(30.0)
    6.35
    """
    widths = [float(row["blade_width_mm"]) for row in read_table("blade_radius")]
    fine = [width for width in widths if blade_turns(least_radius(width), radius_mm) == TURNS]
    return max(fine, default=None)


def kerf_from_blade_mm(*, body_mm: float, set_mm: float) -> float:
    """Kerf of a blade, its body and the set on both sides.

    Parameters
    ----------
    body_mm : float
        Thickness of the blade's body. [mm]
    set_mm : float
        How far the teeth stand out on each side. [mm]

    Returns
    -------
    float
        Width of the slot square to its faces. [mm]

    Examples
    --------
    >>> round(kerf_from_blade_mm(body_mm=0.36, set_mm=0.15), 2)
    0.66
    """
    return body_mm + 2 * set_mm


@dataclass(frozen=True)
class KerfRange:
    """Kerfs that blades of a width leave.

    Attributes
    ----------
    low_mm, high_mm : float
        The thinnest body with the least set, the thickest with the most. [mm]
    mark, source : str
        "published", "from memory" or "estimated", and where from.
    """

    low_mm: float
    high_mm: float
    mark: str
    source: str

    @property
    def value_mm(self) -> float:
        """The middle. [mm]"""
        return (self.low_mm + self.high_mm) / 2


def kerf_of_blades(blade_width_mm: float | None) -> KerfRange:
    """Kerf where none was measured: that of blades as wide, or of the narrow ones that turn such a spiral.

    Parameters
    ----------
    blade_width_mm : float or None
        Width of the blade; None when not given. [mm]

    Returns
    -------
    KerfRange
        To a twentieth of a millimetre.

    Examples
    --------
    >>> narrow = kerf_of_blades(None)
    >>> round(narrow.low_mm, 2), round(narrow.value_mm, 3), round(narrow.high_mm, 2)
    (0.6, 0.875, 1.15)
    """
    rows = read_table("blade_kerf")
    width = 0.0 if blade_width_mm is None else blade_width_mm
    row = next((r for r in rows if width <= float(r["blade_up_to_mm"])), rows[-1])

    def kerf(end: str) -> float:
        body, spread = float(row[f"body_{end}_mm"]), float(row[f"set_{end}_mm"])
        return round(20 * kerf_from_blade_mm(body_mm=body, set_mm=spread)) / 20

    return KerfRange(kerf("low"), kerf("high"), row["mark"], row["source"])


def cutting_time_min(*, length_mm: float, feed_mm_per_min: float) -> float:
    """Time at the saw for a length of cut at an even feed.

    Parameters
    ----------
    length_mm : float
        Length of the cut. [mm]
    feed_mm_per_min : float
        Feed rate. [mm/min]

    Returns
    -------
    float
        Time. [min]

    Examples
    --------
    >>> cutting_time_min(length_mm=2340.0, feed_mm_per_min=200.0)
    11.7
    """
    return length_mm / feed_mm_per_min


def room_to_turn_mm(*, blade_width_mm: float, radius_mm: float) -> float:
    """Width of slot a straight blade takes up on a curve, beyond its own thickness, b^2/(8 R).

    The height of an arc of radius R over a chord as long as the blade is wide.

    Parameters
    ----------
    blade_width_mm : float
        Width of the blade, tooth to back. [mm]
    radius_mm : float
        Radius of the curve. [mm]

    Returns
    -------
    float
        Room; where the set leaves less, the slot widens. [mm]

    Examples
    --------
    >>> round(room_to_turn_mm(blade_width_mm=6.35, radius_mm=28.0), 2)
    0.18
    """
    return blade_width_mm**2 / (8 * radius_mm)
