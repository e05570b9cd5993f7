"""Peg and string: the spiral of a large board drawn by a string that unwinds from a round peg.

A taut string leaving a peg of working radius rho draws the involute of a circle, r = rho sqrt(1 + u^2) at
the polar angle u - atan(u), u the angle unwound. Neighbouring turns lie 2 pi rho apart, measured along the
string. The string's own middle is what unwinds, so the working diameter is peg + string, in a single layer.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.errors import OutsideModelError
from fitsim.quantities import TURN_RAD

__all__ = [
    "PEGS_mm",
    "PegAtHand",
    "PegString",
    "departure_mm",
    "involute_mm",
    "peg_string",
    "pitch_of_peg_mm",
]

PEGS_mm = (
    1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.0, 3.175, 3.5, 4.0, 4.5, 4.762, 5.0, 6.0, 6.35, 8.0,
    9.525, 10.0, 12.0, 12.7, 16.0, 20.0,
)  # fmt: skip
"""Wire nails, drill shanks and dowels, metric and inch: common practice, no published source. [mm]"""

STRING_mm = 0.5
"""Thickness of a thin braided line: an estimate, 0.2 to 1 mm; measure it. [mm]"""


@dataclass(frozen=True)
class PegAtHand:
    """A peg one can buy.

    Attributes
    ----------
    peg_mm, pitch_mm : float
        Its diameter and the pitch it gives with this string. [mm]
    turns : float
        Turns from start to stop at that pitch. [-]
    swept_rad : float
        Angle about the board's centre from start to stop. [rad]
    """

    peg_mm: float
    pitch_mm: float
    turns: float
    swept_rad: float


@dataclass(frozen=True)
class PegString:
    """The layout by peg and string of one spiral.

    Attributes
    ----------
    pitch_mm, string_mm, peg_mm : float
        Pitch, thickness of the string, diameter of the peg that gives the pitch. [mm]
    start_radius_mm, stop_radius_mm : float
        Of the line, on the face it is drawn on. [mm]
    start_string_mm, stop_string_mm : float
        Free string between peg and pencil at the start and at the stop. [mm]
    wound_turns : float
        Turns the string winds onto the peg between them. [-]
    swept_rad : float
        Angle about the board's centre from start to stop. [rad]
    peg_height_mm : float
        Height those turns take up on the peg in a single layer, with one turn to spare. [mm]
    departure_mm : float
        Greatest distance, along a radius, from the even spiral that starts at the same place. [mm]
    at_hand : tuple[PegAtHand, ...]
        The common diameters nearest to ``peg_mm``, thinnest first.
    """

    pitch_mm: float
    string_mm: float
    peg_mm: float
    start_radius_mm: float
    stop_radius_mm: float
    start_string_mm: float
    stop_string_mm: float
    wound_turns: float
    swept_rad: float
    peg_height_mm: float
    departure_mm: float
    at_hand: tuple[PegAtHand, ...]


def pitch_of_peg_mm(*, peg_mm: float, string_mm: float) -> float:
    """Pitch drawn by a string on a peg, pi (peg + string).

    Parameters
    ----------
    peg_mm, string_mm : float
        Diameter of the peg, thickness of the string. [mm]

    Returns
    -------
    float
        Pitch. [mm]
    """
    return math.pi * (peg_mm + string_mm)


def involute_mm(*, working_mm: float, start_radius_mm: float, stop_radius_mm: float, points: int) -> Array:
    """Points the pencil passes from the outside in, the peg at 0, 0.

    Parameters
    ----------
    working_mm : float
        Working diameter, peg and string. [mm]
    start_radius_mm, stop_radius_mm : float
        Distance from the peg's axis at either end. [mm]
    points : int
        How many.

    Returns
    -------
    numpy.ndarray
        Shape (points, 2). [mm]

    Raises
    ------
    OutsideModelError
        If the stop lies inside the string's circle, or not inside the start.
    """
    rho = working_mm / 2
    if not rho <= stop_radius_mm < start_radius_mm:
        message = "an involute needs peg radius <= stop radius < start radius"
        raise OutsideModelError(message)
    first, last = (math.sqrt((r / rho) ** 2 - 1) for r in (start_radius_mm, stop_radius_mm))
    u = np.linspace(first, last, points)
    x = rho * (np.cos(u) + u * np.sin(u))
    y = rho * (np.sin(u) - u * np.cos(u))
    return frozen(np.column_stack([x, y]))


def departure_mm(*, pitch_mm: float, start_radius_mm: float, stop_radius_mm: float) -> float:
    """Greatest distance along a radius between involute and even spiral of the same pitch and start.

    Parameters
    ----------
    pitch_mm, start_radius_mm, stop_radius_mm : float
        Pitch and end radii. [mm]

    Returns
    -------
    float
        About rho^2/2 (1/r_stop - 1/r_start) where the peg is thin. [mm]
    """
    rho = pitch_mm / TURN_RAD
    inner = max(stop_radius_mm, rho)
    u = np.sqrt((np.linspace(inner, start_radius_mm, 2000) / rho) ** 2 - 1)
    radius, polar = rho * np.sqrt(1 + u**2), u - np.arctan(u)
    even = start_radius_mm - pitch_mm * (polar[-1] - polar) / TURN_RAD
    return float(np.abs(radius - even).max())


def _swept_rad(pitch_mm: float, start_radius_mm: float, stop_radius_mm: float) -> float:
    """Angle about the centre of the involute between two radii, u - atan(u) at each. [rad]"""
    rho = pitch_mm / TURN_RAD
    first, last = (math.sqrt(max((r / rho) ** 2 - 1, 0.0)) for r in (start_radius_mm, stop_radius_mm))
    return (first - math.atan(first)) - (last - math.atan(last))


def peg_string(
    *, pitch_mm: float, start_radius_mm: float, stop_radius_mm: float, string_mm: float = STRING_mm
) -> PegString:
    """Lay a spiral out with a peg and a string.

    Parameters
    ----------
    pitch_mm : float
        Wanted pitch. [mm]
    start_radius_mm, stop_radius_mm : float
        Radii of the line where the cut starts and stops, on the face it is drawn on. [mm]
    string_mm : float
        Thickness of the string. [mm]

    Returns
    -------
    PegString
        Peg, string and what the pegs at hand would give.

    Raises
    ------
    OutsideModelError
        If the string is too thick for the pitch, or the stop lies on the peg.

    Examples
    --------
    >>> round(peg_string(pitch_mm=12.0, start_radius_mm=300, stop_radius_mm=90, string_mm=0.8).peg_mm, 2)
    3.02
    """
    peg = pitch_mm / math.pi - string_mm
    rho = pitch_mm / TURN_RAD
    if peg <= 0:
        message = (
            f"a string {string_mm:g} mm thick cannot draw a pitch of {pitch_mm:.1f} mm; take a thinner one"
        )
        raise OutsideModelError(message)
    if stop_radius_mm <= rho or start_radius_mm <= stop_radius_mm:
        message = "the cut stops on the peg itself: draw this spiral from the pattern"
        raise OutsideModelError(message)
    start, stop = (math.sqrt(r**2 - rho**2) for r in (start_radius_mm, stop_radius_mm))
    nearest = sorted(sorted(PEGS_mm, key=lambda d: abs(d - peg))[:4])
    pitches = [pitch_of_peg_mm(peg_mm=d, string_mm=string_mm) for d in nearest]
    span = start_radius_mm - stop_radius_mm
    return PegString(
        pitch_mm=pitch_mm,
        string_mm=string_mm,
        peg_mm=peg,
        start_radius_mm=start_radius_mm,
        stop_radius_mm=stop_radius_mm,
        start_string_mm=start,
        stop_string_mm=stop,
        wound_turns=(start - stop) / pitch_mm,
        swept_rad=_swept_rad(pitch_mm, start_radius_mm, stop_radius_mm),
        peg_height_mm=((start - stop) / pitch_mm + 1) * string_mm,
        departure_mm=departure_mm(
            pitch_mm=pitch_mm, start_radius_mm=start_radius_mm, stop_radius_mm=stop_radius_mm
        ),
        at_hand=tuple(
            PegAtHand(d, p, span / p, _swept_rad(p, start_radius_mm, stop_radius_mm))
            for d, p in zip(nearest, pitches, strict=True)
        ),
    )
