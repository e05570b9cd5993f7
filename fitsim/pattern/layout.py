"""The line to follow on the board, and how it is spread over pages; nothing is drawn here.

Board coordinates: x along the grain, y across it, seen from above on the saw table, 0, 0 the board's
centre.

Which face is up, and which way round. The slot's radius at height z above mid-thickness is r_c + z
tan(tilt): the face where the base is wider is the face to push on afterwards, the inside of the bowl.
Tilting the table turns the upright blade, seen from the board, by the same angle the other way: above
the table the blade leans towards the raised side. If the board's middle lies on the lowered side of the
blade, the cut's upper edge is farther from the middle than its lower edge: the wide face is up, and the
line on it lies T/2 tan(tilt) outside the line at mid-thickness. If it lies on the raised side, the wide
face is underneath and the line lies as far inside. The board is fed away from the sawyer, so the blade
moves over it towards the sawyer: with the middle on the right it travels counter-clockwise round the
board, with the middle on the left clockwise. The mirrored cut makes the mirrored bowl, whose numbers
are the same.
"""

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely

from fitsim.arrays import Array, frozen
from fitsim.errors import OutsideModelError
from fitsim.geometry.cut import SlotCurve, Strip, edge_radius_mm
from fitsim.geometry.winding import Winding
from fitsim.quantities import TURN_RAD

__all__ = [
    "PAPERS",
    "BESIDE_mm",
    "FollowLine",
    "Handling",
    "OVERLAP_mm",
    "Paper",
    "Tile",
    "Tiling",
    "WORD_PITCH_mm",
    "board_edge_mm",
    "crosses_the_grain",
    "line_to_follow",
    "tile_board",
    "way_to_edge_mm",
]

CHORD_ERROR_mm = 0.004
"""How far a drawn chord may leave the curve: a tenth of the thinnest pencil line."""

LEAD_IN_mm = 12.0
"""Straight run-up drawn outside the first point of the line, or outside the board's edge where that lies on
the board: our choice. [mm]"""

BAR_mm, BAR_SHARE = 2.5, 0.35
"""How far the bars at start and stop reach to each side, and at most as a share of the pitch. [mm, -]"""

CLEAR_OF_EDGE_mm = 1.0
"""How far a way in begins outside the board: our choice. [mm]"""

OVERLAP_mm = 14.0
"""What neighbouring pages share: room for tape and for a registration mark. Our choice. [mm]"""

MARGIN_mm = 10.0
"""Edge of a page on which nothing is printed. [mm]"""

HEADER_mm, FOOTER_mm = 33.0, 27.0
"""Room above and below the pattern for words and for the check bar. [mm]"""

AROUND_mm = 1.0
"""White left round the board's outline. [mm]"""

WORD_PITCH_mm, WORD_ROOM_mm = 4.4, 6.0
"""Below this pitch a word that can be read stands beside the board, and there is room for it. [mm]"""

WORD_LENGTH_mm, WORD_HALF_mm, BESIDE_mm = 14.0, 1.5, 3.2
"""How far a word at an end of the line reaches along it and to each side, and how far off it stands where
turns are narrow. [mm]"""

CENTRE_mm = 4.0
"""How far the cross in the board's centre reaches. [mm]"""


CROSSES_rad = math.radians(30.0)
"""Root of a round bowl, counted from the grain, up to which the strip crosses the grain where it is held.
Eight ordinary bowls split 2 to 100 times as often with a root at 0 to 30 deg as at 90; from 40 deg on press
and chance went either way, by the bowl. Of other outlines the slot's direction there counts alike. [rad]"""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, upright.

    Attributes
    ----------
    name : str
        As typed.
    width_mm, height_mm : float
        Its sides. [mm]
    """

    name: str
    width_mm: float
    height_mm: float


PAPERS = {
    paper.name: paper
    for paper in (
        Paper("a4", 210.0, 297.0),  # ISO 216, from memory
        Paper("letter", 215.9, 279.4),  # ANSI/ASME Y14.1 size A, from memory
        Paper("a3", 297.0, 420.0),  # ISO 216, from memory
        Paper("tabloid", 279.4, 431.8),  # ANSI/ASME Y14.1 size B, from memory
    )
}


@dataclass(frozen=True)
class Handling:
    """How the board lies on the tilted table.

    Attributes
    ----------
    middle : str
        "lowered" or "raised": the side of the blade, on the tilted table, where the board's middle lies.
    lowered : str
        "right" or "left": the side of the table that goes down, seen by the sawyer.
    """

    middle: str = "lowered"
    lowered: str = "right"

    @property
    def wide_face_up(self) -> bool:
        """True if the face where the base is wider, the inside of the bowl, is up on the saw."""
        return self.middle == "lowered"

    @property
    def middle_right(self) -> bool:
        """True if the board's middle lies right of the blade."""
        return (self.middle == "lowered") == (self.lowered == "right")


@dataclass(frozen=True, eq=False)
class FollowLine:
    """The line to follow, in board coordinates seen from above on the saw.

    Attributes
    ----------
    position_mm : numpy.ndarray
        The slot's centre line, shape (n, 2), in the direction of travel: from outside to the root. [mm]
    radius_mm : numpy.ndarray
        Distance from the board's centre, shape (n,). [mm]
    lead_in_mm : numpy.ndarray
        Straight run-up from outside the board, shape (2, 2), ending on the first point of the line. [mm]
    start_mm, stop_mm, nail_mm : numpy.ndarray
        Where the line crosses the board's edge, or its first point where that lies on the board; where
        the cut ends; and the slot beside the trimmed free end, shape (2,). [mm]
    start_travel, stop_travel, nail_travel : numpy.ndarray
        Unit directions of travel there, shape (2,). [-]
    outside_mm : float
        How far the line lies outside the one at mid-thickness. [mm]
    turns : float
        Turns of the cut. [-]
    counter_clockwise : bool
        Whether the blade travels counter-clockwise round the board, seen from above.
    root_rad : float
        Polar angle of the stop, seen from above. [rad]
    across_mm : float
        Diameter, side or narrow way of the board. [mm]
    pitch_mm : float
        How far the cut moves inward in one turn, square to it where it is not round. [mm]
    corners_mm : numpy.ndarray
        The board's outline, closed, shape (k, 2). [mm]
    """

    position_mm: Array
    radius_mm: Array
    lead_in_mm: Array
    start_mm: Array
    stop_mm: Array
    nail_mm: Array
    start_travel: Array
    stop_travel: Array
    nail_travel: Array
    outside_mm: float
    turns: float
    counter_clockwise: bool
    root_rad: float
    across_mm: float
    pitch_mm: float
    corners_mm: Array

    @property
    def length_mm(self) -> float:
        """Length of the line without its lead-in, along its chords. [mm]"""
        return float(np.hypot(*np.diff(self.position_mm, axis=0).T).sum())

    @property
    def run_in_mm(self) -> float:
        """Straight way from the board's edge to the start; 0 where that lies on the edge. [mm]"""
        starts_inside = bool(np.array_equal(self.start_mm, self.position_mm[0]))
        return way_to_edge_mm(self.corners_mm, self.start_mm, self.start_travel) if starts_inside else 0.0

    @property
    def shorter_way_mm(self) -> Array | None:
        """Straight way in that ends at the trimmed free end, shape (2, 2), begun outside the board. [mm]

        None where it would be longer than half the board, or the board is a square, of which the strip
        outside it is no feather.
        """
        if len(self.corners_mm) <= 5:  # a square
            return None
        way = way_to_edge_mm(self.corners_mm, self.nail_mm, self.nail_travel)
        if not way <= self.across_mm / 2:
            return None
        begin = self.nail_mm - (way + CLEAR_OF_EDGE_mm) * self.nail_travel
        return np.array([self.nail_mm, begin])

    @property
    def bars_mm(self) -> Array:
        """Ends of the bars across the line at start, nail and stop, shape (3, 2, 2). [mm]"""
        reach = min(BAR_mm, BAR_SHARE * self.pitch_mm)
        bars = []
        for place, travel, outward, inward in (
            (self.start_mm, self.start_travel, reach, reach),
            (self.nail_mm, self.nail_travel, self.pitch_mm / 2, 0.0),
            (self.stop_mm, self.stop_travel, reach, reach),
        ):
            in_mm = self.inward(travel)
            bars.append([place - outward * in_mm, place + inward * in_mm])
        return np.array(bars)

    def inward(self, travel: Array) -> Array:
        """Square to a way of travel, towards the board's middle: left of a counter-clockwise blade."""
        left = np.array([-travel[1], travel[0]])
        return left if self.counter_clockwise else -left


def crosses_the_grain(along: Array) -> bool:
    """Whether the strip runs across the grain, rather than along it, where it is held.

    Parameters
    ----------
    along : numpy.ndarray
        Unit direction of the slot at the root, x along the grain, shape (2,). [-]

    Returns
    -------
    bool
        Then a bowl whose strip runs with the grain there splits less often.
    """
    return abs(float(along[0])) < math.sin(CROSSES_rad) * (1 + 0.02)


def way_to_edge_mm(corners_mm: Array, place_mm: Array, travel: Array) -> float:
    """How far back from a place on the board, straight against the way of travel, its edge lies.

    Parameters
    ----------
    corners_mm : numpy.ndarray
        The board's outline, closed, shape (k, 2). [mm]
    place_mm, travel : numpy.ndarray
        The place, and the unit direction of travel there, shape (2,). [mm, -]

    Returns
    -------
    float
        To the first place where the edge is met; 0 where the place lies on the edge or outside. [mm]
    """
    board = shapely.Polygon(corners_mm)
    here = shapely.Point(place_mm)
    if not board.contains(here):
        return 0.0
    far = float(np.ptp(corners_mm, axis=0).sum())
    back = shapely.LineString([place_mm, place_mm - far * travel])
    return float(here.distance(back.intersection(board.exterior)))


def board_edge_mm(slot: SlotCurve, *, across_mm: float, outline: str, entry_rad: float) -> Array:
    """Edge of the board, closed.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    across_mm : float
        Diameter of a round board, side of a square one. [mm]
    outline : str
        "round", "square", or another kind: then the cut itself knows its board's edge.
    entry_rad : float
        Direction in which the cut enters a square board. [rad]

    Returns
    -------
    numpy.ndarray
        Points, the first repeated at the end, shape (k, 2). [mm]
    """
    if slot.winding is not None:
        edge = slot.winding.lines.edge_mm
        return np.concatenate([edge, edge[:1]])
    angle = np.linspace(0, TURN_RAD, 721)
    if outline == "square":  # corners half way between the middles of the sides
        angle = entry_rad + math.pi / 4 + np.arange(5) * math.pi / 2
    edge = edge_radius_mm(angle, across_mm=across_mm, outline=outline, entry_rad=entry_rad)
    return np.column_stack([edge * np.cos(angle), edge * np.sin(angle)])


def _crossing_of_edge(position: Array, corners_mm: Array) -> tuple[int, Array]:
    """The same for a board whose edge is written as points."""
    board = shapely.Polygon(corners_mm)
    inside = shapely.contains_xy(board, position[:, 0], position[:, 1])
    first = int(np.argmax(inside))
    if first == 0:
        return 0, position[0]
    crossed = shapely.LineString(position[first - 1 : first + 1]).intersection(board.exterior)
    if crossed.is_empty:
        return first, position[first]
    return first, np.array(crossed.representative_point().coords[0])


def _edge_crossing(position: Array, across_mm: float, outline: str, entry_rad: float) -> tuple[int, Array]:
    """Index of the first point on the board, coming from outside, and where the edge is crossed."""
    polar = np.arctan2(position[:, 1], position[:, 0])
    edge = edge_radius_mm(polar, across_mm=across_mm, outline=outline, entry_rad=entry_rad)
    beyond = np.hypot(*position.T) - edge
    first = int(np.argmax(beyond <= 1e-9))
    if first == 0:
        return 0, position[0]
    share = beyond[first - 1] / (beyond[first - 1] - beyond[first])
    return first, position[first - 1] + share * (position[first] - position[first - 1])


def _fine_angles_rad(slot: SlotCurve, end_rad: float) -> Array:
    """Outer end first, the way the blade goes; the trimmed end is a point of its own."""
    step = math.sqrt(8 * CHORD_ERROR_mm / float(slot.radius_mm[-1]))
    count = math.ceil(float(slot.angle_rad[-1]) / step) + 1
    return np.asarray(np.union1d(np.linspace(0, float(slot.angle_rad[-1]), count), [end_rad])[::-1])


def line_to_follow(
    slot: SlotCurve,
    strip: Strip,
    *,
    thickness_mm: float,
    across_mm: float,
    outline: str,
    handling: Handling,
    height_share: float = 1.0,
) -> FollowLine:
    """Slot centre line at the face that lies up on the saw, or at another height.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut, its radius running straight between samples.
    strip : Strip
        The strip, for the place of the nail.
    thickness_mm, across_mm : float
        Of the board. [mm]
    outline : str
        "round", "square", or another kind: then the cut itself knows its board's edge.
    handling : Handling
        How the board lies on the table.
    height_share : float
        Height of the line above mid-thickness over T/2: 1 upper face, 0 mid-thickness, -1 lower face.

    Returns
    -------
    FollowLine
        Sampled so finely that no chord leaves the curve by more than :data:`CHORD_ERROR_mm`.

    Raises
    ------
    OutsideModelError
        If the tilt changes from turn to turn: one pattern shows one setting of the table.
    """
    if np.ptp(slot.tilt_rad) > 1e-9:
        message = (
            "the tilt changes from turn to turn; a pattern shows one setting of the table: give one tilt"
        )
        raise OutsideModelError(message)
    end = float(strip.angle_rad[-1])
    if slot.winding is not None:
        return _wound_line(slot, slot.winding, end, thickness_mm * height_share, across_mm, handling)
    angle = _fine_angles_rad(slot, end)
    radius = np.interp(angle, slot.angle_rad, slot.radius_mm)
    growth = np.gradient(radius, angle) / radius
    hand = -1.0 if handling.middle_right else 1.0  # from the root outward, seen from above on the saw
    first = slot.position_mm[0]
    polar = hand * (math.atan2(float(first[1]), float(first[0])) + angle)
    outward = np.column_stack([np.cos(polar), np.sin(polar)])
    around = hand * np.column_stack([-np.sin(polar), np.cos(polar)])
    lean = np.sqrt(1 + growth**2)[:, None]
    normal = (outward - growth[:, None] * around) / lean
    travel = -(around + growth[:, None] * outward) / lean
    up = 1.0 if handling.wide_face_up else -1.0
    shift = up * height_share * thickness_mm / 2 * float(slot.slope[0])
    position = radius[:, None] * outward + shift * normal
    corners = board_edge_mm(slot, across_mm=across_mm, outline=outline, entry_rad=float(polar[0]))
    return _as_followed(
        slot,
        handling,
        position=position,
        travel=travel,
        nail=int(np.argmin(np.abs(angle - end))),
        crossing=_edge_crossing(position, across_mm, outline, float(polar[0])),
        corners=corners,
        outside_mm=shift,
        root_rad=float(polar[-1]),
        across_mm=across_mm,
        advance_mm=float(np.hypot(*position[0]) - np.hypot(*position[-1])),
    )


def _as_followed(
    slot: SlotCurve,
    handling: Handling,
    *,
    position: Array,
    travel: Array,
    nail: int,
    crossing: tuple[int, Array],
    corners: Array,
    outside_mm: float,
    root_rad: float,
    across_mm: float,
    advance_mm: float,
) -> FollowLine:
    """The line through places (n, 2) from the edge to the root, and what is marked on it.

    ``nail`` is its place with the nail, ``crossing`` the place behind the board's edge and where it crosses
    that, ``advance_mm`` how far it comes inward in all.
    """
    enters, start = crossing
    return FollowLine(
        position_mm=frozen(position),
        radius_mm=frozen(np.hypot(*position.T)),
        lead_in_mm=frozen(_run_up_mm(corners, position[0], travel[0])),
        start_mm=frozen(start),
        stop_mm=frozen(position[-1]),
        nail_mm=frozen(position[nail]),
        start_travel=frozen(travel[enters]),
        stop_travel=frozen(travel[-1]),
        nail_travel=frozen(travel[nail]),
        outside_mm=outside_mm,
        turns=slot.turns,
        counter_clockwise=handling.middle_right,
        root_rad=root_rad,
        across_mm=across_mm,
        pitch_mm=advance_mm / slot.turns,
        corners_mm=frozen(corners),
    )


def _run_up_mm(corners_mm: Array, first_mm: Array, travel: Array) -> Array:
    """Straight from outside the board to the first point of the line, shape (2, 2). [mm]"""
    way = way_to_edge_mm(corners_mm, first_mm, travel) + LEAD_IN_mm
    return np.array([first_mm - way * travel, first_mm])


def _wound_line(
    slot: SlotCurve, wound: Winding, end_rad: float, raised_mm: float, across_mm: float, handling: Handling
) -> FollowLine:
    """The line to follow where the turns are no circles: the same, square to the turns."""
    samples = wound.at(slot.angle_rad, slot.reach_mm)
    tightest = float((samples.speed_mm**2 * np.abs(samples.curvature_per_mm)).max())
    count = math.ceil(float(slot.angle_rad[-1]) / math.sqrt(8 * CHORD_ERROR_mm / tightest)) + 1
    angle = np.union1d(np.linspace(0, float(slot.angle_rad[-1]), count), [end_rad])[::-1]
    reach = np.interp(angle, slot.angle_rad, slot.reach_mm)
    at = wound.at(angle, reach)
    hand = np.array([1.0, -1.0 if handling.middle_right else 1.0])  # seen from above on the saw
    onward = at.onward_mm(at.growth_mm(reach, np.gradient(reach, angle)))
    onward /= np.linalg.norm(onward, axis=1)[:, None]
    normal = np.stack([onward[:, 1], -onward[:, 0]], axis=1)
    shift = (1.0 if handling.wide_face_up else -1.0) * raised_mm / 2 * float(slot.slope[0])
    position, travel = (at.position_mm + shift * normal) * hand, -onward * hand
    corners = board_edge_mm(slot, across_mm=across_mm, outline="", entry_rad=0.0) * hand
    return _as_followed(
        slot,
        handling,
        position=position,
        travel=travel,
        nail=int(np.argmin(np.abs(angle - end_rad))),
        crossing=_crossing_of_edge(position, corners),
        corners=corners,
        outside_mm=shift,
        root_rad=math.atan2(float(position[-1, 1]), float(position[-1, 0])),
        across_mm=across_mm,
        advance_mm=float(reach[0] - reach[-1]),
    )


@dataclass(frozen=True)
class Tile:
    """The part of the board on one page.

    Attributes
    ----------
    number : int
        Counted from 1, row by row from the top left; a place without a page is not counted.
    row, column : int
        Counted from 1, from the top left.
    left_mm, bottom_mm : float
        Board coordinates of the lower left corner of the page's window. [mm]
    """

    number: int
    row: int
    column: int
    left_mm: float
    bottom_mm: float


@dataclass(frozen=True)
class Tiling:
    """The board spread over pages of one paper.

    Attributes
    ----------
    paper : Paper
        The paper.
    page_mm : tuple[float, float]
        Width and height of a page as it is printed, upright or lying. [mm]
    window_mm : tuple[float, float, float, float]
        Left, bottom, width and height on a page of the window that shows the board. [mm]
    rows, columns : int
        Pages down and across.
    tiles : tuple[Tile, ...]
        The pages: every one that shows a piece of the line, or the board's centre, that no other shows.
    seams_x_mm, seams_y_mm : tuple[float, ...]
        Board coordinates of the lines along which neighbouring pages meet, left to right and top to
        bottom. [mm]
    """

    paper: Paper
    page_mm: tuple[float, float]
    window_mm: tuple[float, float, float, float]
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    seams_x_mm: tuple[float, ...]
    seams_y_mm: tuple[float, ...]

    def page_at(self, row: int, column: int) -> Tile | None:
        """The page at a place, or None where there is none."""
        return next((t for t in self.tiles if (t.row, t.column) == (row, column)), None)


def _count(extent_mm: float, window_mm: float) -> int:
    if extent_mm <= window_mm:
        return 1
    return math.ceil((extent_mm - OVERLAP_mm) / (window_mm - OVERLAP_mm) - 1e-9)


def _starts_mm(low_mm: float, high_mm: float, window_mm: float, count: int, aside: int) -> list[float]:
    """Lower ends of the windows, evenly about the middle of the extent, or as far aside as covers it."""
    step = window_mm - OVERLAP_mm
    covered = count * step + OVERLAP_mm
    first = (low_mm + high_mm - covered) / 2 + aside * (covered - (high_mm - low_mm)) / 2
    return [first + step * i for i in range(count)]


def tile_board(line: FollowLine, paper: Paper) -> Tiling:
    """Spread the line over as few pages as will do, upright or lying, the whole outline on them if it fits.

    Parameters
    ----------
    line : FollowLine
        The line with its board.
    paper : Paper
        The paper.

    Returns
    -------
    Tiling
        Neighbouring pages share :data:`OVERLAP_mm`, their seam is the middle of it. A page without a piece
        of the line or the board's centre of its own is left out. A board that fits on one page with
        :data:`AROUND_mm` to spare on every side (:data:`WORD_ROOM_mm` where the pitch is fine) is shown
        whole.
    """
    points = np.concatenate([line.corners_mm, line.position_mm])
    around = AROUND_mm if line.pitch_mm >= WORD_PITCH_mm else WORD_ROOM_mm
    low, high = points.min(axis=0) - around, points.max(axis=0) + around
    upright, lying = (paper.width_mm, paper.height_mm), (paper.height_mm, paper.width_mm)
    laid = [
        _laid_out(line, paper, low, high, page_mm, (across, up))
        for page_mm in (upright, lying)
        for across, up in ((0, 0), *product((-1, 0, 1), repeat=2))
    ]
    # Where equal the whole board, then upright, evenly about the middle.
    return min(laid, key=lambda tiling: (len(tiling.tiles), not _shows_board(line, tiling)))


def _shows_board(line: FollowLine, tiling: Tiling) -> bool:
    """Whether the pages show all of the board's outline."""
    _, _, width, height = tiling.window_mm
    windows = [
        shapely.box(t.left_mm, t.bottom_mm, t.left_mm + width, t.bottom_mm + height) for t in tiling.tiles
    ]
    return bool(shapely.union_all(windows).covers(shapely.LineString(line.corners_mm)))


def _laid_out(
    line: FollowLine,
    paper: Paper,
    low: Array,
    high: Array,
    page_mm: tuple[float, float],
    aside: tuple[int, int],
) -> Tiling:
    """One way of laying the pages, those left out on which nothing that matters would stand."""
    window = (
        MARGIN_mm, MARGIN_mm + FOOTER_mm, page_mm[0] - 2 * MARGIN_mm,
        page_mm[1] - 2 * MARGIN_mm - FOOTER_mm - HEADER_mm,
    )  # fmt: skip
    columns, rows = (_count(float(high[i] - low[i]), window[2 + i]) for i in (0, 1))
    lefts = _starts_mm(float(low[0]), float(high[0]), window[2], columns, aside[0])
    bottoms = _starts_mm(float(low[1]), float(high[1]), window[3], rows, aside[1])[::-1]
    places = [Tile(0, r + 1, c + 1, lefts[c], bottoms[r]) for r in range(rows) for c in range(columns)]
    kept = _needed(line, places, window[2], window[3])
    return Tiling(
        paper=paper,
        page_mm=page_mm,
        window_mm=window,
        rows=rows,
        columns=columns,
        tiles=tuple(replace(tile, number=i) for i, tile in enumerate(kept, 1)),
        seams_x_mm=tuple(left + OVERLAP_mm / 2 for left in lefts[1:]),
        seams_y_mm=tuple(bottom + OVERLAP_mm / 2 for bottom in bottoms[:-1]),
    )


def _needed(line: FollowLine, places: list[Tile], width_mm: float, height_mm: float) -> list[Tile]:
    """The pages without which a piece of line, a bar or the centre would be lost; they hang together."""
    ways = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
    aside = line.pitch_mm / 2 if line.pitch_mm >= WORD_PITCH_mm else -BESIDE_mm
    about = [
        place + WORD_HALF_mm * ways + on * travel + aside * line.inward(travel)
        for place, travel in (
            (line.start_mm, line.start_travel),
            (line.nail_mm, line.nail_travel),
            (line.stop_mm, line.stop_travel),
        )
        for on in (WORD_HALF_mm, WORD_LENGTH_mm)
    ]
    bars = line.bars_mm.reshape(-1, 2)
    matters = np.concatenate([line.position_mm, CENTRE_mm * ways, bars, *about])
    shown = []
    for tile in places:
        x, y = (matters - (tile.left_mm, tile.bottom_mm)).T
        shown.append((x >= 0) & (x <= width_mm) & (y >= 0) & (y <= height_mm))

    def can_go(k: int) -> bool:
        others = kept - {k}
        seen = np.any([shown[i] for i in others], axis=0) if others else np.zeros(len(matters), bool)
        return not (shown[k] & ~seen).any() and _hang_together([places[i] for i in others])

    kept, emptiest = set(range(len(places))), sorted(range(len(places)), key=lambda k: int(shown[k].sum()))
    # One left out may free another that only it joined to the rest.
    while (out := next((k for k in emptiest if k in kept and can_go(k)), None)) is not None:
        kept.remove(out)
    return [places[i] for i in sorted(kept)]


def _hang_together(tiles: list[Tile]) -> bool:
    """Whether every page can be taped to the others, edge to edge."""
    left = {(tile.row, tile.column) for tile in tiles}
    reached = [left.pop()] if left else []
    for row, column in reached:
        beside = {(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)} & left
        left -= beside
        reached.extend(beside)
    return not left
