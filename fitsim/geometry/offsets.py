"""The lines a cut winds between: from the board's outline to the base's, and whether it can be sawn.

At an even pitch all turns are lines parallel to one another. They are laid from the base outward, because a
line carried outward only gets blunter: where the board's own corners are sharper than the outermost turn,
the last turn carries their wood, as it does on a round cut in a square board. A base of another outline
than the board's is blended with it: at every direction that the line can have, the distance between the two
lines along their common normal is shared out evenly over the turns. (The sum of two convex outlines,
H. Minkowski; from memory, no page seen.)

Free outlines are carried inward, tested for crossing and containment by the library ``shapely``.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from fitsim.arrays import Array, read_only
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import (
    FREE,
    ClosedLine,
    Outline,
    arcs_through,
    carried,
    line_points_mm,
    outline_line,
    outline_points_mm,
    oval_line,
    polygon_line,
    rectangle_line,
)
from fitsim.quantities import show_length, show_limit

__all__ = ["CannotWindError", "TurnLines", "turn_lines"]

FREE_PIECES = 720
"""Arcs that a free line is made of."""

SMOOTH_SHARE, SMOOTH_MOST_mm = 0.2, 1.5
"""A free line is evened out over this share of the radius it keeps, and at most this. [-, mm]"""

ROUND_QUARTER = 64
"""Chords a quarter circle is made of where a free outline is carried."""

HOLLOW_mm = 6.35
"""Least radius of a concave place: an eighth of an inch of blade turns it by every published table. [mm]"""

BULGE_rad = 0.12
"""How much a straight side turns where it is blended with a curve: 3 mm in the middle of 200. [rad]"""

HALVINGS = 40


class CannotWindError(OutsideModelError):
    """The line cannot be sawn between the two outlines.

    Attributes
    ----------
    key : str
        Key of the bowl file that is to change.
    expected, remedy : str
        What would do, and the least change that helps, with ``{}`` for each length.
    lengths : tuple[tuple[float, int], ...]
        The lengths, of both in turn, and which way each is rounded: 1 up, a least that will do; -1 down, a
        greatest; 0 a place, from the middle. [mm, -]
    """

    def __init__(
        self, key: str, expected: str, remedy: str, lengths: tuple[tuple[float, int], ...] = ()
    ) -> None:
        self.key, self.expected, self.remedy, self.lengths = key, expected, remedy, lengths
        super().__init__("; ".join(self.told("mm")))

    def told(self, units: str) -> tuple[str, str]:
        """What would do and what helps, in a reader's units.

        Parameters
        ----------
        units : str
            "in" or "mm".

        Returns
        -------
        tuple[str, str]
            Two parts of a sentence.
        """
        shown = [
            show_limit(max(v, 0.0), units=units, upward=way > 0)
            if way
            else show_length(v, units=units)
            if units == "in"
            else f"{v:.0f} mm"
            for v, way in self.lengths
        ]
        first = self.expected.count("{}")
        return self.expected.format(*shown[:first]), self.remedy.format(*shown[first:])


@dataclass(frozen=True, eq=False)
class TurnLines:
    """Innermost and outermost line of a cut, piece for piece of equal heading and turn.

    Attributes
    ----------
    base, outermost : ClosedLine
        The slot's centre line round the base, and where the cut enters.
    edge_mm : numpy.ndarray
        The board's edge as points, counter-clockwise, the first not repeated, shape (k, 2). [mm]
    """

    base: ClosedLine
    outermost: ClosedLine
    edge_mm: Array

    @property
    def tightest_mm(self) -> float:
        """Least radius that the blade turns anywhere, convex at the base or concave at the rim. [mm]"""
        bent = np.abs(self.base.turn_rad) > 1e-9
        turn = np.abs(self.base.turn_rad[bent])
        ends = (line.length_mm[bent] / turn for line in (self.base, self.outermost))
        return float(min(end.min() for end in ends))


@lru_cache(maxsize=32)
def turn_lines(
    outline: Outline, *, span_mm: float, corner_mm: float, base: Outline | None = None
) -> TurnLines:
    """The lines between which a cut winds.

    Parameters
    ----------
    outline : Outline
        The board's.
    span_mm : float
        From the board's edge inward to the base's line: pitch times turns, along the narrow way. [mm]
    corner_mm : float
        Least radius the line is to have at the base. [mm]
    base : Outline, optional
        The base's own outline; left out, it follows from the board's.

    Returns
    -------
    TurnLines
        Lines and edge.

    Raises
    ------
    CannotWindError
        If nothing is left for a base, the line would cross itself, or a concave place is too tight.
    """
    if base is not None:
        inner, outer = _closed(base, corner_mm), _closed(outline, corner_mm)
        _check_inside(inner, outer)
        inner, outer = _bulged(inner, outer), _bulged(outer, inner)
        inner, outer = _blended(inner, outer)
        _check_inside(inner, outer)
    elif outline.kind == FREE:
        inner = _free_base(outline, span_mm, corner_mm)
        outer = _carried(inner, span_mm)
    else:
        inner, outer = _parallel(outline, span_mm, corner_mm)
    return TurnLines(inner, outer, read_only(outline_points_mm(outline)))


def _parallel(outline: Outline, span_mm: float, corner_mm: float) -> tuple[ClosedLine, ClosedLine]:
    """Base and outermost line of an oval, rectangle or polygon."""
    half = outline.across_mm / 2
    if span_mm + corner_mm > half + 1e-9:
        raise CannotWindError(
            "cut.base",
            "a base at least {} across, for a line no tighter than {}",
            'base = "{}" would do',
            ((2 * corner_mm, 1), (corner_mm, 1), (2 * corner_mm, 1)),
        )
    blunt = min(span_mm + corner_mm, half)
    if outline.kind == "oval":
        outer = oval_line(length_mm=outline.length_mm, width_mm=outline.width_mm, least_radius_mm=blunt)
    elif outline.kind == "rectangle":
        outer = rectangle_line(
            length_mm=outline.length_mm,
            width_mm=outline.width_mm,
            corner_mm=min(max(outline.corner_mm, blunt), half),
        )
    else:
        outer = polygon_line(
            sides=outline.sides,
            across_mm=outline.across_mm,
            corner_mm=min(max(outline.corner_mm, blunt), half),
        )
    return carried(outer, -span_mm), outer


def _closed(outline: Outline, corner_mm: float) -> ClosedLine:
    """An outline's line with no convex place tighter than a radius."""
    half = outline.across_mm / 2
    corner = min(max(outline.corner_mm, corner_mm), half)
    if outline.kind == FREE:
        return _smooth(_opened(shapely.Polygon(outline.points_mm), 0.0, corner_mm), corner_mm)
    if outline.kind == "oval":
        return oval_line(
            length_mm=outline.length_mm, width_mm=outline.width_mm, least_radius_mm=min(corner_mm, half)
        )
    if outline.kind == "rectangle":
        return rectangle_line(length_mm=outline.length_mm, width_mm=outline.width_mm, corner_mm=corner)
    if outline.kind == "polygon":
        return polygon_line(sides=outline.sides, across_mm=outline.across_mm, corner_mm=corner)
    return outline_line(outline)


def _carried(line: ClosedLine, span_mm: float) -> ClosedLine:
    try:
        return carried(line, span_mm)
    except OutsideModelError as error:
        short = line.length_mm + line.turn_rad * span_mm
        x, y = line.start_mm[int(np.argmin(short))]
        raise CannotWindError(
            "board.outline",
            "concave places as wide as the cut needs; near x {}, y {} the line would cross itself",
            "open that hollow in the drawing, or make a wider base",
            ((float(x), 0), (float(y), 0)),
        ) from error


def _free_base(outline: Outline, span_mm: float, corner_mm: float) -> ClosedLine:
    """Line round the base of a free outline: carried inward, its corners no tighter than a radius."""
    edge = shapely.Polygon(outline.points_mm)
    _check_hollows(edge, min(corner_mm, HOLLOW_mm))
    return _smooth(_opened(edge, span_mm, corner_mm), corner_mm)


def _check_hollows(edge: shapely.Polygon, radius_mm: float) -> None:
    """Refuse a concave place that is tighter than a radius."""
    filled = edge.buffer(radius_mm, quad_segs=ROUND_QUARTER).buffer(-radius_mm, quad_segs=ROUND_QUARTER)
    hollows = filled.difference(edge)
    parts = [part for part in shapely.get_parts(hollows) if part.area > 0.02 * radius_mm**2]
    if not parts:
        return
    tightest = max(parts, key=lambda part: float(part.area))
    x, y = tightest.representative_point().coords[0]
    raise CannotWindError(
        "board.outline",
        "hollows rounded to {} or more, so that the blade can turn; near x {}, y {} from the middle one is "
        "tighter",
        "round it in the drawing to {}",
        ((radius_mm, 1), (float(x), 0), (float(y), 0), (radius_mm, 1)),
    )


def _opened(edge: shapely.Polygon, span_mm: float, radius_mm: float) -> shapely.Polygon:
    """What is left of an outline carried inward, rounded to a radius; one piece, or refused."""

    def left(inset_mm: float) -> list[shapely.Polygon]:
        inner = edge.buffer(-inset_mm, quad_segs=ROUND_QUARTER)
        return [part for part in shapely.get_parts(inner) if part.area > 1e-6]

    parts = left(span_mm + radius_mm)
    if len(parts) == 1:
        return parts[0].buffer(radius_mm, quad_segs=ROUND_QUARTER)
    low, high = 0.0, span_mm + radius_mm
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if len(left(middle)) == 1 else (low, middle)
    most = low - radius_mm
    what = "it falls into several" if parts else "nothing is left of it"
    raise CannotWindError(
        "cut.base",
        f"a base in one piece; carried inward by {{}} {what}",
        "wind at most {} inward: a wider base, or fewer turns",
        ((span_mm, 1), (most, -1)),
    )


def _smooth(polygon: shapely.Polygon, radius_mm: float) -> ClosedLine:
    """A polygon's outline as a line of arcs, evened out over a little of the radius it is to keep."""
    ring = shapely.geometry.polygon.orient(polygon).exterior
    count = 4 * FREE_PIECES
    places = np.arange(count) / count
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, places, normalized=True))
    reach = min(SMOOTH_SHARE * radius_mm, SMOOTH_MOST_mm)
    wave = 2 * np.pi * np.fft.fftfreq(count, d=float(ring.length) / count)
    z = np.fft.fft(points[:, 0] + 1j * points[:, 1]) * np.exp(-((wave * reach) ** 2) / 2)
    line, slope = np.fft.ifft(z)[::4], np.fft.ifft(1j * wave * z)[::4]
    heading = np.unwrap(np.angle(slope))
    return arcs_through(np.stack([line.real, line.imag], axis=1), heading)


def _straight_headings(line: ClosedLine) -> Array:
    return np.asarray(np.mod(line.heading_rad[line.turn_rad == 0] + 1e-9, 2 * np.pi))


def _bulged(line: ClosedLine, other: ClosedLine) -> ClosedLine:
    """A line whose straight sides bulge a little where the other has none of that heading.

    A straight side has one heading: blended with a curve that has a single point of it, all the side would
    shrink to that point. Made into a flat arc between the same ends, the whole drawn in to the size it had,
    it has an arc of the curve to go to.
    """
    own, theirs = _straight_headings(line), _straight_headings(other)
    if not own.size or all(np.any(np.abs(theirs - heading) < 1e-6) for heading in own):
        return line
    straight = line.turn_rad == 0
    bulge = np.where(straight, BULGE_rad, 0.0)
    # Corners give up what the sides beside them turn.
    given = np.roll(bulge, 1) / 2 + np.roll(bulge, -1) / 2
    turn = np.where(straight, bulge, line.turn_rad - given)
    if np.any(turn <= 0):
        return line
    chord = line.length_mm * np.sinc(line.turn_rad / 2 / np.pi)
    heading = line.heading_rad + np.where(straight, -bulge / 2, np.roll(bulge, 1) / 2)
    length = chord / np.sinc(turn / 2 / np.pi)
    size = np.ptp(line_points_mm(line), axis=0)
    grown = np.ptp(line_points_mm(ClosedLine(line.start_mm, heading, turn, length)), axis=0)
    share = float((size / grown).min())
    return ClosedLine(
        read_only(share * line.start_mm), read_only(heading), read_only(turn), read_only(share * length)
    )


def _rates(line: ClosedLine) -> list[tuple[float, float, float]]:
    """Pieces as (heading from 0 to a full turn, turn, length), split at a full turn."""
    found = []
    whole = 2 * math.pi
    for heading, turn, length in zip(line.heading_rad, line.turn_rad, line.length_mm, strict=True):
        begins = math.fmod(float(heading), whole)
        begins += whole if begins < -1e-12 else 0.0
        begins = 0.0 if begins > whole - 1e-9 else max(begins, 0.0)
        if begins + turn > whole + 1e-9:
            share = (whole - begins) / float(turn)
            found += [
                (begins, whole - begins, float(length) * share),
                (0.0, float(turn) - (whole - begins), float(length) * (1 - share)),
            ]
        else:
            found.append((begins, float(turn), float(length)))
    return found


def _at_heading_zero(line: ClosedLine) -> Array:
    """Where a convex line first heads along the grain: its lowest point, or its lowest side's left end."""
    whole = 2 * math.pi
    to_go = np.mod(-line.heading_rad, whole)
    to_go = np.where(to_go > whole - 1e-9, 0.0, to_go)
    begins = np.flatnonzero(to_go < 1e-9)
    if begins.size:  # an arc or a side begins there; where both do, the side comes first
        straight = begins[line.turn_rad[begins] == 0]
        return np.asarray(line.start_mm[int((straight if straight.size else begins)[0])])
    piece = int(np.flatnonzero(to_go <= line.turn_rad + 1e-12)[0])
    point, _ = line.at(np.array([piece]), np.array([to_go[piece] / line.turn_rad[piece]]))
    return np.asarray(point[0])


def _blended(inner: ClosedLine, outer: ClosedLine) -> tuple[ClosedLine, ClosedLine]:
    """Two convex lines written with the same headings and turns, piece for piece."""
    for line in (inner, outer):
        if np.any(line.turn_rad < -1e-6):
            raise CannotWindError(
                "cut.base_outline",
                "outlines without hollows where the base has an outline of its own",
                "leave base_outline out, or draw an outline without hollows",
            )
    lists = [_rates(line) for line in (inner, outer)]
    whole = 2 * math.pi
    breaks = sorted(
        {0.0, whole, *(b for part in lists for h, t, _ in part for b in (h, min(h + t, whole)))}
    )
    kept = [breaks[0]]
    for value in breaks[1:]:
        if value - kept[-1] > 1e-9:
            kept.append(value)
    kept[-1] = whole
    headings: list[float] = []
    turns: list[float] = []
    lengths: tuple[list[float], list[float]] = ([], [])
    for begins, ends in pairwise(kept):
        straight = [sum(n for h, t, n in part if t == 0 and abs(h - begins) < 1e-9) for part in lists]
        if max(straight) > 0:
            headings.append(begins)
            turns.append(0.0)
            for side in (0, 1):
                lengths[side].append(straight[side])
        middle = (begins + ends) / 2
        headings.append(begins)
        turns.append(ends - begins)
        for side, part in enumerate(lists):
            rate = sum(n / t for h, t, n in part if t > 0 and h < middle < h + t)
            lengths[side].append(rate * (ends - begins))
    found = []
    heading, turn = np.array(headings), np.array(turns)
    for side, line in enumerate((inner, outer)):
        length = np.array(lengths[side])
        chord = length * np.sinc(turn / 2 / np.pi)
        step = np.stack([chord * np.cos(heading + turn / 2), chord * np.sin(heading + turn / 2)], axis=1)
        start = _at_heading_zero(line) + np.concatenate([np.zeros((1, 2)), np.cumsum(step, axis=0)[:-1]])
        found.append(ClosedLine(*(read_only(part) for part in (start, heading, turn, length))))
    return found[0], found[1]


def _check_inside(inner: ClosedLine, outer: ClosedLine) -> None:
    edge, base = (shapely.Polygon(line_points_mm(line)) for line in (outer, inner))
    if not edge.contains(base):
        reach = (
            float(base.difference(edge).hausdorff_distance(edge.boundary)) if base.intersects(edge) else 0.0
        )
        raise CannotWindError(
            "cut.base_outline",
            "a base that lies inside the board's outline all round",
            "make it at least {} smaller",
            ((max(2 * reach, 1.0), 1),),
        )
