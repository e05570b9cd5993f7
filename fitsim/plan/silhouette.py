"""The wall that is wanted, as a curve of height over radius: from points, a drawing, or an SVG path.

The wall is the line through the middles of the turns. A turn lies outside the one below it and stands above
it, so the line leans outward and climbs all the way; where it does not, it is refused with the place.

A drawing is the wall of one side seen from the side, as :func:`fitsim.geometry.svg_path.svg_path` reads it:
its size in its own units, the page's left edge the bowl's middle. Path data typed bare are those of SVG
1.1, section 8.3 (from memory), read by the library ``fonttools``: one unit is one millimetre, x is counted
from the bowl's middle, y downward.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.geometry.svg_path import svg_path
from fitsim.quantities import show_length

__all__ = ["WallCurve", "points_of_path", "wall_of_drawing", "wall_of_path", "wall_of_points"]

FINE = 400
"""Places at which a wall is kept."""

PIECES = 48
"""Chords for each curved piece of a path."""

LONGEST_PATH = 20_000
MOST_POINTS = 2000


@dataclass(frozen=True, eq=False)
class WallCurve:
    """Height of the wall over its radius, both growing.

    Attributes
    ----------
    radius_mm, height_mm : numpy.ndarray
        Foot first, the foot at height 0, shape (n,). [mm]
    """

    radius_mm: Array
    height_mm: Array

    @property
    def rise_mm(self) -> float:
        """Height of the rim above the foot. [mm]"""
        return float(self.height_mm[-1])

    @property
    def foot_mm(self) -> float:
        """Radius of the foot. [mm]"""
        return float(self.radius_mm[0])

    @property
    def rim_mm(self) -> float:
        """Radius of the rim. [mm]"""
        return float(self.radius_mm[-1])

    def stretched(self, *, foot_mm: float, rim_mm: float, rise_mm: float) -> "WallCurve":
        """The same wall between another foot and rim, and to another height.

        Parameters
        ----------
        foot_mm, rim_mm, rise_mm : float
            Radius of foot and rim, and height of the rim. [mm]

        Returns
        -------
        WallCurve
            Radii and heights changed evenly.
        """
        share = (self.radius_mm - self.foot_mm) / (self.rim_mm - self.foot_mm)
        return WallCurve(
            read_only(foot_mm + (rim_mm - foot_mm) * share),
            read_only(self.height_mm * (rise_mm / self.rise_mm)),
        )

    def moved_out(self, distance_mm: float) -> "WallCurve":
        """The same wall farther from the middle.

        Parameters
        ----------
        distance_mm : float
            How much farther; negative for nearer. [mm]

        Returns
        -------
        WallCurve
            Heights as they were.
        """
        return WallCurve(read_only(self.radius_mm + distance_mm), self.height_mm)

    def radius_at_mm(self, height_mm: Array) -> Array:
        """Radius at heights; carried on straight beyond foot and rim. [mm]

        Parameters
        ----------
        height_mm : numpy.ndarray
            Heights above the foot. [mm]

        Returns
        -------
        numpy.ndarray
            Shape of ``height_mm``. [mm]
        """
        return _carried_on(np.asarray(height_mm, dtype=np.float64), self.height_mm, self.radius_mm)

    def height_at_mm(self, radius_mm: Array) -> Array:
        """Height at radii; carried on straight beyond foot and rim. [mm]

        Parameters
        ----------
        radius_mm : numpy.ndarray
            Radii. [mm]

        Returns
        -------
        numpy.ndarray
            Shape of ``radius_mm``. [mm]
        """
        return _carried_on(np.asarray(radius_mm, dtype=np.float64), self.radius_mm, self.height_mm)


def _carried_on(at: Array, x: Array, y: Array) -> Array:
    inside = np.interp(at, x, y)
    first = (y[1] - y[0]) / (x[1] - x[0])
    last = (y[-1] - y[-2]) / (x[-1] - x[-2])
    below, above = np.minimum(at - x[0], 0.0), np.maximum(at - x[-1], 0.0)
    return np.asarray(inside + first * below + last * above)


def _refuse(value: str, expected: str, remedy: str) -> InputError:
    return InputError(Problem("", "want.wall", value[:40], expected, remedy))


def _checked(radius: Array, height: Array, units: str = "mm") -> None:
    """Refuse a wall that does not climb and lean outward all the way."""
    if not (np.all(np.isfinite(radius)) and np.all(np.isfinite(height))):
        raise _refuse("", "finite places of the wall", "write its points again")
    if float(radius[0]) <= 0:
        shown = show_length(float(radius[0]), units=units)
        raise _refuse(shown, "a foot with a radius above 0", "count the radius from the bowl's middle")
    for what, values, expected in (
        ("radius", radius, "each point farther from the middle than the one below it"),
        ("height", height, "each point higher than the one inside it"),
    ):
        back = np.nonzero(np.diff(values) <= 0)[0]
        if back.size:
            at = int(back[0])
            here, after = (show_length(float(v), units=units) for v in values[at : at + 2])
            shown = f"{what} {here}, then {after}"
            remedy = "a turn lies outside the one below it and stands higher: lean the wall outward there"
            raise _refuse(shown, expected, remedy)


def wall_of_points(points: Sequence[tuple[float, float]], *, units: str = "mm") -> WallCurve:
    """Wall through points, a smooth curve that climbs all the way between them.

    Parameters
    ----------
    points : sequence of (float, float)
        Radius and height of each point, foot first. [mm]
    units : str
        "in" or "mm", for the messages.

    Returns
    -------
    WallCurve
        Heights counted from the first point; straight between two points, a monotone cubic through more.

    Raises
    ------
    InputError
        If there are fewer than two points, or the wall does not climb and lean outward.

    Examples
    --------
    >>> wall_of_points([(30, 0), (60, 45)]).height_at_mm(np.array([40.0]))
    array([15.])
    """
    if not 2 <= len(points) <= MOST_POINTS:
        expected = f"2 to {MOST_POINTS} points, each a radius and a height"
        raise _refuse(f"{len(points)} points", expected, 'write [["40 mm", "0 mm"], ["70 mm", "50 mm"]]')
    radius, height = np.array(points, dtype=np.float64).T
    height = height - height[0]
    _checked(radius, height, units)
    if len(points) == 2:
        return WallCurve(read_only(radius), read_only(height))
    from scipy.interpolate import PchipInterpolator

    fine = np.unique(np.concatenate([radius, np.linspace(radius[0], radius[-1], FINE)]))
    return WallCurve(read_only(fine), read_only(PchipInterpolator(radius, height)(fine)))


def wall_of_path(data: str) -> WallCurve:
    """Wall along SVG path data: the silhouette of one side, from foot to rim or from rim to foot.

    Parameters
    ----------
    data : str
        What stands in the attribute ``d``; one unit is one millimetre, x counts from the bowl's middle (to
        either side), y downward.

    Returns
    -------
    WallCurve
        Its chords.

    Raises
    ------
    InputError
        If it is no path, or has several pieces, is closed, or does not climb and lean outward.

    Examples
    --------
    >>> wall_of_path("M 30 0 L 60 -45").rise_mm
    45.0
    """
    points = points_of_path(data)
    if abs(points[:, 0]).max() == abs(points[:, 0].min()):
        points = points * (-1.0, 1.0)  # the silhouette of the left side
    if points[0, 1] < points[-1, 1]:
        points = points[::-1]
    radius, height = points[:, 0], points[0, 1] - points[:, 1]
    keep = np.append(True, np.hypot(np.diff(radius), np.diff(height)) > 1e-9)
    radius, height = radius[keep], height[keep]
    _checked(radius, height)
    return WallCurve(read_only(radius), read_only(height))


def wall_of_drawing(path: str | Path) -> WallCurve:
    """Wall along the one open path of an SVG file: the right-hand silhouette, foot to rim or rim to foot.

    Parameters
    ----------
    path : str or pathlib.Path
        The file; its page's left edge is the bowl's middle, and its units are its own.

    Returns
    -------
    WallCurve
        Its chords, which leave the drawn curve by at most 0.01 mm.

    Raises
    ------
    InputError
        In one line that names the file: whatever :func:`fitsim.geometry.svg_path.svg_path` refuses, a
        closed line, or one that does not climb and lean outward.
    """
    drawn, where = svg_path(path, key="want.wall"), file_name(path)
    if drawn.closed:
        expected = "an open line from foot to rim; the two ends of this one meet"
        raise InputError(
            Problem(where, "want.wall", "", expected, "draw the wall of one side alone, as one line")
        )
    points = drawn.points_mm if drawn.points_mm[0, 1] < drawn.points_mm[-1, 1] else drawn.points_mm[::-1]
    radius, height = points[:, 0], points[:, 1] - points[0, 1]
    if radius[-1] < radius[0]:
        expected = "the wall of the right-hand side, its foot nearer to the page's left edge than its rim"
        remedy = "mirror the drawing: the page's left edge is the bowl's middle"
        raise InputError(Problem(where, "want.wall", "", expected, remedy))
    try:
        _checked(radius, height)
    except InputError as refused:
        raise InputError(tuple(replace(p, where=where) for p in refused.problems)) from None
    return WallCurve(read_only(radius), read_only(height))


def points_of_path(data: str) -> Array:
    """Chords of SVG path data with one open piece.

    Parameters
    ----------
    data : str
        What stands in the attribute ``d``.

    Returns
    -------
    numpy.ndarray
        Points as the path has them, y downward, shape (n, 2). [path units]

    Raises
    ------
    InputError
        If it cannot be read, is closed, or has several pieces.
    """
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib.path.parser import parse_path

    if len(data) > LONGEST_PATH:
        expected = f"a path of at most {LONGEST_PATH} characters"
        raise _refuse(f"{len(data)} characters", expected, "draw it with fewer points")
    pen = RecordingPen()
    try:
        parse_path(data, pen)
    except Exception as error:  # the reader of paths raises whatever it happens to meet
        expected = f"SVG path data ({type(error).__name__})"
        raise _refuse(data, expected, 'write it like "M 40 0 L 70 -50"') from None
    points: list[Array] = []
    for command, places in pen.value:
        poles = np.array(places, dtype=np.float64).reshape(-1, 2)
        if command == "moveTo":
            if points:
                raise _refuse("M", "one path without gaps", "draw the wall as one line from foot to rim")
            points.append(poles)
        elif command == "closePath":
            raise _refuse("Z", "an open path", "take the z off: the wall is one line from foot to rim")
        elif command != "endPath":
            points.append(_chords(np.concatenate([points[-1][-1:], poles])))
    if sum(len(p) for p in points) < 2:
        raise _refuse(data, "a path with a foot and a rim", 'write it like "M 40 0 L 70 -50"')
    return np.concatenate(points)


def _chords(poles: Array) -> Array:
    """Points of a line or a curve after its first, by Bernstein's polynomials."""
    degree = len(poles) - 1
    if degree == 1:
        return poles[1:]
    t = np.linspace(0, 1, PIECES + 1)[1:, None]
    curve = np.zeros((PIECES, 2))
    for i, pole in enumerate(poles):
        curve += math.comb(degree, i) * (1 - t) ** (degree - i) * t**i * pole
    return curve
