"""Outlines of a board, and closed lines made of straight pieces and arcs.

A closed line runs counter-clockwise and is smooth: every piece begins where and as the one before it ends.
Straight pieces and arcs stay what they are when a line is carried outward by a distance square to itself,
which is what turns of a cut at an even pitch are.
"""

import math
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.errors import OutsideModelError
from fitsim.quantities import TURN_RAD

__all__ = [
    "FREE",
    "OUTLINES",
    "ClosedLine",
    "Outline",
    "arcs_through",
    "carried",
    "grown",
    "line_points_mm",
    "outline_line",
    "outline_points_mm",
    "oval_line",
    "polygon_line",
    "rectangle_line",
]

OUTLINES = ("round", "square", "oval", "rectangle", "polygon")
"""Words for an outline; an outline of the maker's own is a file."""

FREE = "free"
"""Kind of an outline that a file gives."""

OVAL_PIECES = 720
"""Arcs an oval is made of: they leave the true line by less than a millionth of its length."""

FLAT_mm = 0.002
"""How far a chord may leave its arc where a line is written as points. [mm]"""


@dataclass(frozen=True)
class Outline:
    """Outline of a board, or of a base, other than a circle round the middle.

    Attributes
    ----------
    kind : str
        "oval", "rectangle", "polygon" or :data:`FREE`.
    length_mm, width_mm : float
        Along the grain and across it; of a polygon both the diameter of the circle that touches its
        sides. [mm]
    corner_mm : float
        Radius of a rectangle's or polygon's corners. [mm]
    sides : int
        Sides of a polygon, else 0.
    points_mm : tuple of tuple of float
        A free outline's points about its middle, counter-clockwise, the first not repeated. [mm]
    file : str
        File a free outline was read from.
    """

    kind: str
    length_mm: float
    width_mm: float
    corner_mm: float = 0.0
    sides: int = 0
    points_mm: tuple[tuple[float, float], ...] = ()
    file: str = ""

    @property
    def across_mm(self) -> float:
        """The narrow way. [mm]"""
        return min(self.length_mm, self.width_mm)

    @property
    def words(self) -> str:
        """What it is, for a reader."""
        if self.kind == FREE:
            return f"drawn ({PurePath(self.file).name})" if self.file else "drawn"
        return f"{self.sides}-sided" if self.kind == "polygon" else self.kind


@dataclass(frozen=True, eq=False)
class ClosedLine:
    """A smooth closed line of n straight pieces and arcs, counter-clockwise.

    Attributes
    ----------
    start_mm : numpy.ndarray
        Where each piece begins, shape (n, 2). [mm]
    heading_rad : numpy.ndarray
        Direction of travel there, shape (n,). [rad]
    turn_rad : numpy.ndarray
        How far the piece turns to the left, 0 for a straight one, negative where the line is concave,
        shape (n,); their sum is a full turn. [rad]
    length_mm : numpy.ndarray
        Lengths of the pieces, shape (n,). [mm]
    """

    start_mm: Array
    heading_rad: Array
    turn_rad: Array
    length_mm: Array

    def at(self, piece: IntArray, share: Array) -> tuple[Array, Array]:
        """Points and directions of travel on pieces, a share of each gone.

        Parameters
        ----------
        piece : numpy.ndarray
            Pieces, shape (k,).
        share : numpy.ndarray
            Share of the piece's length gone, shape (k,). [-]

        Returns
        -------
        tuple[numpy.ndarray, numpy.ndarray]
            Points, shape (k, 2), and headings, shape (k,). [mm, rad]
        """
        turned = self.turn_rad[piece] * share
        chord = self.length_mm[piece] * share * np.sinc(turned / 2 / np.pi)
        way = self.heading_rad[piece] + turned / 2
        step = np.stack([chord * np.cos(way), chord * np.sin(way)], axis=-1)
        return np.asarray(self.start_mm[piece] + step), np.asarray(self.heading_rad[piece] + turned)


def _line(pieces: list[tuple[float, float, float, float, float]]) -> ClosedLine:
    """A line of (x, y, heading, turn, length); pieces without length and turn are left out."""
    kept = np.array([p for p in pieces if p[3] != 0 or p[4] > 0])
    return ClosedLine(*(read_only(part) for part in (kept[:, :2], kept[:, 2], kept[:, 3], kept[:, 4])))


def polygon_line(*, sides: int, across_mm: float, corner_mm: float) -> ClosedLine:
    """A regular polygon with rounded corners, one side along the grain.

    Parameters
    ----------
    sides : int
        How many, 3 or more.
    across_mm : float
        Diameter of the circle that touches the sides. [mm]
    corner_mm : float
        Radius of the corners. [mm]

    Returns
    -------
    ClosedLine
        About the origin; a circle where the corners meet.
    """
    turn = TURN_RAD / sides
    inner = across_mm / 2 - corner_mm
    half = max(inner, 0.0) * math.tan(turn / 2)
    pieces = []
    for side in range(sides):
        heading = side * turn
        t, n = (
            np.array([math.cos(heading), math.sin(heading)]),
            np.array([math.sin(heading), -math.cos(heading)]),
        )
        begins, ends = across_mm / 2 * n - half * t, across_mm / 2 * n + half * t
        pieces.append((*begins, heading, 0.0, 2 * half))
        pieces.append((*ends, heading, turn, corner_mm * turn))
    return _line(pieces)


def rectangle_line(*, length_mm: float, width_mm: float, corner_mm: float) -> ClosedLine:
    """A rectangle with rounded corners, its length along the grain.

    Parameters
    ----------
    length_mm, width_mm, corner_mm : float
        Size and radius of the corners. [mm]

    Returns
    -------
    ClosedLine
        About the origin.
    """
    x, y, r = length_mm / 2, width_mm / 2, corner_mm
    quarter = math.pi / 2
    sides = (
        (-(x - r), -y, 0.0, 2 * (x - r)),
        (x, -(y - r), quarter, 2 * (y - r)),
        (x - r, y, 2 * quarter, 2 * (x - r)),
        (-x, y - r, 3 * quarter, 2 * (y - r)),
    )
    pieces = []
    for left, bottom, heading, long in sides:
        long = max(long, 0.0)
        pieces.append((left, bottom, heading, 0.0, long))
        ends = (left + long * round(math.cos(heading)), bottom + long * round(math.sin(heading)))
        pieces.append((*ends, heading, quarter, r * quarter))
    return _line(pieces)


def oval_line(*, length_mm: float, width_mm: float, least_radius_mm: float = 0.0) -> ClosedLine:
    """An ellipse, its two ends blunted by arcs where they are sharper than a radius.

    Parameters
    ----------
    length_mm, width_mm : float
        Axes along the grain and across it. [mm]
    least_radius_mm : float
        Where the ellipse is sharper, an arc of this radius that touches it on both sides takes its place;
        at most half the narrow way. [mm]

    Returns
    -------
    ClosedLine
        About the origin.

    Raises
    ------
    OutsideModelError
        If the arcs would be wider than the oval.
    """
    a, b = max(length_mm, width_mm) / 2, min(length_mm, width_mm) / 2
    if least_radius_mm > b * (1 + 1e-12):
        raise OutsideModelError("an oval cannot be blunted to more than half its narrow way")
    first, blunt = 0.0, 0.0
    if least_radius_mm > b * b / a * (1 + 1e-12):
        # The normal at the parameter t reaches the long axis at a length that is b b/a at the end, b amid.
        sine = ((least_radius_mm * a / b) ** 2 - b * b) / (a * a - b * b)
        if sine > 1 - 1e-9:  # nothing is left of it but a circle
            return rectangle_line(length_mm=2 * b, width_mm=2 * b, corner_mm=b)
        first, blunt = math.asin(math.sqrt(sine)), least_radius_mm
    quarter = OVAL_PIECES // 4
    t = np.linspace(first, math.pi - first, 2 * quarter + 1)
    t = np.concatenate([t, t + math.pi])
    points = np.stack([a * np.cos(t), b * np.sin(t)], axis=1)
    heading = np.unwrap(np.arctan2(b * np.cos(t), -a * np.sin(t)))
    if length_mm < width_mm:
        points, heading = np.stack([-points[:, 1], points[:, 0]], axis=1), heading + math.pi / 2
    if not blunt:
        keep = np.ones(len(t), dtype=np.bool_)
        keep[[2 * quarter, -1]] = False  # the two halves share their ends
        return arcs_through(points[keep], heading[keep])
    line = arcs_through(points, heading)
    lengths = line.length_mm.copy()
    for end in (2 * quarter, len(t) - 1):
        lengths[end] = blunt * line.turn_rad[end]
    return ClosedLine(line.start_mm, line.heading_rad, line.turn_rad, read_only(lengths))


def arcs_through(points_mm: Array, heading_rad: Array) -> ClosedLine:
    """The closed line of arcs between points whose headings are known.

    Parameters
    ----------
    points_mm : numpy.ndarray
        Points, counter-clockwise, the first not repeated, shape (n, 2). [mm]
    heading_rad : numpy.ndarray
        Direction of travel there, running on without jumps, shape (n,). [rad]

    Returns
    -------
    ClosedLine
        One arc or straight piece from each point to the next.
    """
    chord = np.diff(np.concatenate([points_mm, points_mm[:1]]), axis=0)
    turn = np.diff(np.append(heading_rad, heading_rad[0] + TURN_RAD))
    length = np.hypot(chord[:, 0], chord[:, 1]) / np.sinc(turn / 2 / np.pi)
    return ClosedLine(*(read_only(part) for part in (points_mm, heading_rad, turn, length)))


def carried(line: ClosedLine, distance_mm: float) -> ClosedLine:
    """The line at an even distance outside another, square to it.

    Parameters
    ----------
    line : ClosedLine
        The line.
    distance_mm : float
        Distance, outward positive. [mm]

    Returns
    -------
    ClosedLine
        Piece by piece.

    Raises
    ------
    OutsideModelError
        If a piece would run backward: a corner tighter than an inward distance, or a concave place
        tighter than an outward one.
    """
    length = line.length_mm + line.turn_rad * distance_mm
    if np.any(length < -1e-9):
        raise OutsideModelError("a line carried so far would cross itself")
    outward = np.stack([np.sin(line.heading_rad), -np.cos(line.heading_rad)], axis=1)
    return ClosedLine(
        read_only(line.start_mm + distance_mm * outward),
        line.heading_rad,
        line.turn_rad,
        read_only(np.maximum(length, 0.0)),
    )


def grown(outline: Outline, more_mm: float) -> Outline:
    """An outline of the same kind, longer and wider by one length; its corners follow.

    Parameters
    ----------
    outline : Outline
        An oval, rectangle or polygon.
    more_mm : float
        How much longer and wider, negative for a smaller one. [mm]

    Returns
    -------
    Outline
        Of a rectangle or polygon the line carried outward by half as much.

    Raises
    ------
    OutsideModelError
        For a free outline, whose size is its drawing's, or if nothing would be left.
    """
    if not more_mm:
        return outline
    if outline.kind == FREE:
        raise OutsideModelError("a drawn outline has the size that its drawing has")
    if outline.across_mm + more_mm <= 0:
        raise OutsideModelError("nothing is left of the board")
    return replace(
        outline,
        length_mm=outline.length_mm + more_mm,
        width_mm=outline.width_mm + more_mm,
        corner_mm=max(outline.corner_mm + more_mm / 2, 0.0) if outline.corner_mm else 0.0,
    )


def outline_line(outline: Outline) -> ClosedLine:
    """The edge of a board as a closed line; a free outline has no such line.

    Parameters
    ----------
    outline : Outline
        An oval, rectangle or polygon.

    Returns
    -------
    ClosedLine
        About the origin.

    Raises
    ------
    OutsideModelError
        For another kind.
    """
    if outline.kind == "oval":
        return oval_line(length_mm=outline.length_mm, width_mm=outline.width_mm)
    if outline.kind == "rectangle":
        return rectangle_line(
            length_mm=outline.length_mm, width_mm=outline.width_mm, corner_mm=outline.corner_mm
        )
    if outline.kind == "polygon":
        return polygon_line(sides=outline.sides, across_mm=outline.across_mm, corner_mm=outline.corner_mm)
    raise OutsideModelError(f"outline {outline.kind!r}: no straight pieces and arcs are known for it")


def line_points_mm(line: ClosedLine, flat_mm: float = FLAT_mm) -> Array:
    """Points along a closed line, so close that no chord leaves it by more than a little.

    Parameters
    ----------
    line : ClosedLine
        The line.
    flat_mm : float
        How far a chord may leave its arc. [mm]

    Returns
    -------
    numpy.ndarray
        Counter-clockwise, the first not repeated, shape (k, 2). [mm]
    """
    radius = line.length_mm / np.maximum(np.abs(line.turn_rad), 1e-12)
    step = np.sqrt(8 * flat_mm / np.maximum(radius, 1e-9))
    count = np.maximum(np.ceil(np.abs(line.turn_rad) / step), 1).astype(np.int64)
    piece = np.repeat(np.arange(len(count)), count)
    within = np.arange(len(piece)) - (np.cumsum(count) - count)[piece]
    points, _ = line.at(piece, within / count[piece])
    return points


def outline_points_mm(outline: Outline) -> Array:
    """The edge of a board as points.

    Parameters
    ----------
    outline : Outline
        Any outline.

    Returns
    -------
    numpy.ndarray
        Counter-clockwise, the first not repeated, shape (k, 2). [mm]
    """
    if outline.kind == FREE:
        return np.array(outline.points_mm)
    return line_points_mm(outline_line(outline))
