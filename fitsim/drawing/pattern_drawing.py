"""True-scale pattern pages: the line to follow, marks to lay it on the board and to put pages together.

One figure is one page of paper in millimetres; places come from :mod:`fitsim.pattern.layout`. Only the line
is black and solid in the window, so that neither colour nor a poor printer can hide what to follow.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Unpack

import numpy as np
import shapely
import shapely.affinity

from fitsim.arrays import Array
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import LOCKS, Verdict
from fitsim.drawing.paper import (
    LineLook,
    Sheet,
    house_style,
    width_mm_of,
    wood_sheet,
    wrapped,
    write_on,
    write_title,
)
from fitsim.geometry.blade import MAY_NOT_TURN, TURNS, blade_turns
from fitsim.pattern.bench_sheet import hole_at_end, rule_length, what_is_set
from fitsim.pattern.layout import (
    BESIDE_mm,
    FollowLine,
    FOOTER_mm,
    Handling,
    HEADER_mm,
    MARGIN_mm,
    OVERLAP_mm,
    Tile,
    Tiling,
    WORD_PITCH_mm,
    crosses_the_grain,
)
from fitsim.quantities import show_length
from fitsim.report.verdict_words import told_states

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "CHECK_BAR_mm",
    "CHECK_SQUARE_mm",
    "PatternWords",
    "pattern_figures",
    "pattern_words",
]

CHECK_BAR_mm, CHECK_INCHES_mm, CHECK_SQUARE_mm = 100.0, 101.6, 20.0
CHECK_SQUARE_LEFT_mm, CHECK_SQUARE_BOTTOM_mm = 122.0, 11.0
LINE_pt = 0.7
"""A quarter of a millimetre: thin enough to follow, thick enough to see under dust. [pt]"""

DRILL_STEP_mm = 25.4 / 64
"""Drills in inches go by sixty-fourths. [mm]"""

MARK, FAINT = "0.42", "0.62"
REGISTER_mm = 2.5
SEAM_WORD_CLEAR_mm = 0.6
"""Left free on either side of a word at a seam: our choice. [mm]"""

LEAST_pt, ROW_mm = 9.0, 3.75
"""Letters of a page that lies on the saw, none smaller, and their rows. [pt, mm]"""

PRINT_TRUE = "PRINT AT 100 %; check bar and square with a rule."


@dataclass(frozen=True)
class PatternWords:
    """What is written on every pattern page.

    Attributes
    ----------
    name : str
        The bowl's.
    warning : str
        What stands before the name in a dark box; "" where the bowl locks.
    lines : tuple[str, ...]
        Sentences under the title.
    legend : tuple[str, ...]
        Sentences beside the check square, on every page.
    at_stop : str
        What the circle at the stop is for; said where it is drawn.
    hole_mm : tuple[float, float]
        Diameter of the hole at the slot's end, and how far inside the line its middle lies. [mm]
    """

    name: str
    warning: str
    lines: tuple[str, ...]
    legend: tuple[str, ...]
    at_stop: str
    hole_mm: tuple[float, float]


def pattern_words(answer: BowlFit, line: FollowLine, handling: Handling, *, units: str) -> PatternWords:
    """Say on the pattern what it is and how it lies on the saw.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    line : FollowLine
        The line drawn.
    handling : Handling
        How the board lies on the table.
    units : str
        "in" or "mm".

    Returns
    -------
    PatternWords
        The sentences.
    """
    afterwards = (
        "the inside of the bowl: push the base down from it"
        if handling.wide_face_up
        else "the underside: turn the board over to push"
    )
    side = "right" if handling.middle_right else "left"
    other = "clockwise" if line.counter_clockwise else "counter-clockwise"
    tilt = math.degrees(answer.bowl.cut.scale_tilt_rad[0])
    locks = answer.verdict.state_in_middle == LOCKS
    lines = (
        f"Glue on the face that lies up on the saw, {afterwards}."
        if locks
        else "Not to be glued on: the bench sheet says why, and what to ask before you saw.",
        f"{what_is_set(answer).capitalize()} {tilt:.3g} deg. Middle of the board {side} of the blade, the "
        f"{handling.middle} side; turn the board {other}.",
    )
    hole = _hole_mm(answer, line, units)
    drill = rule_length(hole[0], units=units, toward="up", parts=64)
    legend = (
        "solid: follow; dash-dot: fold",
        _root_words(line),
        _blade_words(answer, units),
    )
    at_stop = f"at stop: drill {drill} before sawing" if locks else f"at stop: hole of {drill}"
    return PatternWords(answer.bowl.name, _warning(answer.verdict), lines, legend, at_stop, hole)


def _hole_mm(answer: BowlFit, line: FollowLine, units: str) -> tuple[float, float]:
    """The hole holds the slot's end on both faces, its edge in line with the strip's side of the slot.

    As large as the drill that is named: in inches the next 64th up.
    """
    diameter, slot = hole_at_end(answer).diameter_mm, float(answer.rigid.slot.slot_mm[0])
    if units == "in":
        diameter = math.ceil(diameter / DRILL_STEP_mm - 1e-9) * DRILL_STEP_mm
    # Where the slot lies farthest out its strip's side is half a slot beyond; the line is on the face up.
    edge = abs(line.outside_mm) - line.outside_mm + slot / 2
    return diameter, diameter / 2 - edge


def _warning(verdict: Verdict) -> str:
    """A page lies on the saw alone, without the bench sheet: it says itself that it is not to be sawn."""
    if verdict.state_in_middle != LOCKS:
        told = told_states(verdict)
        # More than three would leave the line no room for the bowl's name.
        return f"DO NOT SAW: {told if told.count(',') < 3 else f'{verdict.state}; see the bench sheet'}"
    return "" if verdict.state == LOCKS else f"AT WORST {verdict.state}: read the bench sheet first"


def _root_words(line: FollowLine) -> str:
    if not crosses_the_grain(line.stop_travel):
        return "grain along the page"
    turned_deg = math.degrees(math.acos(min(abs(float(line.stop_travel[0])), 1.0)))
    return f"grain better {turned_deg:.0f} deg on: dashed arrow"


def _blade_words(answer: BowlFit, units: str) -> str:
    least = show_length(answer.rigid.slot.tightest_mm, units=units)
    blade, width = answer.least_radius, answer.bowl.cut.blade_width_mm
    if blade is None or width is None:
        return f"the blade must turn {least}"
    shown = show_length(width, units=units)
    low, high = (show_length(v, units=units) for v in (blade.low_mm, blade.high_mm))
    turns = blade_turns(blade, answer.rigid.slot.tightest_mm)
    if turns == TURNS:
        return f"blade {shown} {turns} {least}: fine"
    if turns == MAY_NOT_TURN:
        return f"blade {shown} {turns} {least} (tables: {low} to {high})"
    return f"blade {shown} {turns.upper()} {least}"


def pattern_figures(
    line: FollowLine, tiling: Tiling, words: PatternWords, *, copies: int
) -> "list[Figure]":
    """Draw all pattern pages, copy after copy.

    Parameters
    ----------
    line : FollowLine
        The line with its board.
    tiling : Tiling
        The pages.
    words : PatternWords
        What is written on them.
    copies : int
        How many patterns.

    Returns
    -------
    list of matplotlib.figure.Figure
        One for each page, its size the paper's.
    """
    with house_style():
        return [
            _page(line, tiling, tile, words, (copy + 1, copies))
            for copy in range(copies)
            for tile in tiling.tiles
        ]


def _page(
    line: FollowLine, tiling: Tiling, tile: Tile, words: PatternWords, copy: tuple[int, int]
) -> "Figure":
    from matplotlib.figure import Figure

    width, height = tiling.page_mm
    figure = Figure(figsize=(width / 25.4, height / 25.4))
    _header(figure, tiling, tile, words, copy)
    at_stop = (words.at_stop,) if _shows_hole(line, tiling, tile, words.hole_mm) else ()
    _footer(figure, (*at_stop, *words.legend), width)
    left, bottom, window_width, window_height = tiling.window_mm
    origin = (left - tile.left_mm, bottom - tile.bottom_mm)
    sheet = wood_sheet(figure, "pattern", (left, bottom, window_width, window_height), 1.0, origin)
    shown = _Window(sheet, tile.left_mm, tile.bottom_mm, window_width, window_height)
    _board(shown, line)
    seams = _seams_of(shown, tiling, tile)
    _draw_seams(shown, seams)
    shown.line(np.concatenate([line.lead_in_mm, line.position_mm]), color="black", lw=LINE_pt)
    _ends(shown, line, words.hole_mm)
    _hole(shown, line, words.hole_mm)
    _name_seams(shown, seams)
    return figure


def _shows_hole(line: FollowLine, tiling: Tiling, tile: Tile, hole_mm: tuple[float, float]) -> bool:
    """Whether a page shows of the hole at the stop as much as a piece of its edge."""
    middle, low = _hole_middle_mm(line, hole_mm), np.array([tile.left_mm, tile.bottom_mm])
    nearest = np.clip(middle, low, low + tiling.window_mm[2:])
    return float(np.hypot(*(middle - nearest))) < hole_mm[0] / 2


def _header(
    figure: "Figure", tiling: Tiling, tile: Tile, words: PatternWords, copy: tuple[int, int]
) -> None:
    width, height = tiling.page_mm
    pages = len(tiling.tiles)
    room = width - 2 * MARGIN_mm - (_page_map(figure, tiling, tile) if pages > 1 else 0)
    y = height - MARGIN_mm - 4.2
    write_title(figure, (MARGIN_mm, y), words.name, room, warning=words.warning)
    place = f"Page {tile.number} of {pages}" if pages > 1 else "One page"
    copied = f", copy {copy[0]} of {copy[1]}" if copy[1] > 1 else ""
    y -= 5.0
    texts = [(f"{place}{copied}. {PRINT_TRUE}", "bold"), *((t, "normal") for t in words.lines)]
    if pages > 1:
        texts.append((_seam_words(tiling, tile), "normal"))
    if pages < tiling.rows * tiling.columns:
        texts.append(("The board goes on where there is no page: nothing is sawn there.", "normal"))
    for text, weight in texts:
        for row in wrapped(text, room, LEAST_pt, weight):
            write_on(figure, MARGIN_mm, y, row, LEAST_pt, weight=weight)
            y -= ROW_mm


def _seam_words(tiling: Tiling, tile: Tile) -> str:
    """Which edges to cut and what they meet."""

    def beside(*places: tuple[str, int, int]) -> list[tuple[str, int]]:
        pages = ((edge, tiling.page_at(tile.row + down, tile.column + on)) for edge, down, on in places)
        return [(edge, page.number) for edge, page in pages if page is not None]

    cuts = [f"{edge} over page {number}" for edge, number in beside(("left", 0, -1), ("top", -1, 0))]
    tapes = [f"page {number} over {edge}" for edge, number in beside(("right", 0, 1), ("bottom", 1, 0))]
    parts = ([f"cut and lay {', '.join(cuts)}"] if cuts else []) + ([", ".join(tapes)] if tapes else [])
    return f"Seams (dashed): {'; '.join(parts)}; ring on ring (do not drill), then tape."


def _page_map(figure: "Figure", tiling: Tiling, tile: Tile) -> float:
    """A small plan of the pages, this one filled; returns the width it takes from the words."""
    width, height = tiling.page_mm
    room_x, room_y = 26.0, HEADER_mm - 4
    cell = min(room_x / tiling.columns, room_y / tiling.rows)
    wide, high = cell * tiling.columns, cell * tiling.rows
    sheet = wood_sheet(
        figure, "page map", (width - MARGIN_mm - wide, height - MARGIN_mm - high, wide, high), 1.0,
        (width - MARGIN_mm - wide, height - MARGIN_mm),
    )  # fmt: skip
    from matplotlib.patches import Rectangle

    for other in tiling.tiles:
        corner = ((other.column - 1) * cell + 0.2, -other.row * cell + 0.2)
        here = other.number == tile.number
        box = Rectangle(corner, cell - 0.4, cell - 0.4, fc="0.25" if here else "white", ec="black", lw=0.5)
        sheet.axes.add_patch(box)
        sheet.text(
            corner[0] + cell / 2 - 0.2, corner[1] + cell / 2 - 0.2, str(other.number),
            size=LEAST_pt, color="white" if here else "black",
        )  # fmt: skip
    return wide + 4


def _footer(figure: "Figure", legend: tuple[str, ...], page_width: float) -> None:
    strip = (MARGIN_mm, MARGIN_mm, page_width - 2 * MARGIN_mm, FOOTER_mm - 2)
    sheet = wood_sheet(figure, "check", strip, 1.0, (0.0, 0.0))
    for y, length, step, label in (
        (29.0, CHECK_BAR_mm, 10.0, "100 mm"),
        (17.0, CHECK_INCHES_mm, 25.4, "4 in"),
    ):
        x0 = MARGIN_mm + 1
        sheet.line((x0, x0 + length), (y, y), lw=0.7)
        for k in range(round(length / step) + 1):
            x, tall = x0 + k * step, 3.0 if k in (0, round(length / step)) else 1.8
            sheet.line((x, x), (y, y + tall), lw=0.7)
        sheet.text(x0 + length / 2, y - 2.4, f"must measure {label}", size=LEAST_pt)
    x, y, side = CHECK_SQUARE_LEFT_mm, CHECK_SQUARE_BOTTOM_mm, CHECK_SQUARE_mm
    sheet.line((x, x + side, x + side, x, x), (y, y, y + side, y + side, y), lw=0.7,
               solid_joinstyle="miter")  # fmt: skip
    sheet.text(x + side / 2, y + side / 2, "20 mm\nsquare", size=LEAST_pt)
    room, line_y = page_width - MARGIN_mm - (x + side + 3), MARGIN_mm + FOOTER_mm - 5.5
    for text in legend:
        for row in wrapped(text, room, LEAST_pt):
            sheet.text(x + side + 3, line_y, row, size=LEAST_pt, ha="left", va="baseline")
            line_y -= 3.6


@dataclass(frozen=True)
class _Window:
    """The part of the board a page shows; words that would be cut by its edge are left to another page."""

    sheet: Sheet
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float

    def line(self, points: Array, **look: Unpack[LineLook]) -> None:
        """Draw a line, cut at the window."""
        cut: LineLook = {"clip_on": True, "solid_joinstyle": "round", **look}
        self.sheet.line(tuple(points[:, 0]), tuple(points[:, 1]), **cut)

    def holds(self, point: Array, along: Array, length_mm: float, height_mm: float) -> bool:
        """Whether a box about a place, turned along a direction, lies inside."""
        x, y = float(point[0]) - self.left_mm, float(point[1]) - self.bottom_mm
        c, s = (abs(float(v)) for v in along)
        half_x, half_y = (length_mm * c + height_mm * s) / 2, (length_mm * s + height_mm * c) / 2
        return half_x <= x <= self.width_mm - half_x and half_y <= y <= self.height_mm - half_y

    def drawn_mm(self) -> list[shapely.Geometry]:
        """Every line and word drawn so far, the words as boxes. [mm]"""
        from matplotlib.text import Annotation

        axes = self.sheet.axes
        found = [shapely.LineString(line.get_xydata()) for line in axes.lines]
        for text in axes.texts:
            if isinstance(text, Annotation):  # an arrow
                found.append(shapely.LineString([text.xy, text.xyann]))
                continue
            x, y = text.get_position()
            size = float(text.get_fontsize())
            wide, high = width_mm_of(text.get_text(), size) / 2, 0.2 * size
            box = shapely.box(x - wide, y - high, x + wide, y + high)
            found.append(shapely.affinity.rotate(box, text.get_rotation()))
        return found

    def word(self, point: Array, text: str, size: float, along: Array) -> None:
        """Write along a direction, never upside down."""
        turn = math.degrees(math.atan2(float(along[1]), float(along[0])))
        turn = (turn + 90) % 180 - 90
        if self.holds(point, along, width_mm_of(text, size) + 1, size * 0.45):
            self.sheet.text(
                float(point[0]), float(point[1]), text, size=size, rotation=turn, color="0.2",
                va="center_baseline", rotation_mode="anchor",
            )  # fmt: skip

    def arrow(self, middle: Array, along: Array, length_mm: float) -> None:
        """A travel arrow about a place."""
        if self.holds(middle, along, length_mm + 1, 3.0):
            tail, tip = middle - along * length_mm / 2, middle + along * length_mm / 2
            self.sheet.axes.annotate(
                "", tuple(tip), tuple(tail),
                arrowprops={"arrowstyle": "-|>", "lw": 0.6, "shrinkA": 0, "shrinkB": 0,
                            "mutation_scale": 6, "color": MARK},
            )  # fmt: skip


def _board(window: _Window, line: FollowLine) -> None:
    """Outline, centre lines to fold along, centre and grain."""
    window.line(line.corners_mm, color=MARK, lw=0.5)
    reach = np.abs(line.corners_mm).max(axis=0)
    for x, y in ((reach[0], 0.0), (0.0, reach[1])):
        ends = np.array([[-x, -y], [x, y]])
        window.line(ends, color=FAINT, lw=0.5, ls=(0, (9, 2, 1.5, 2)))
    cross = min(4.0, float(line.radius_mm[-1]) / 4)
    for x, y in ((cross, 0.0), (0.0, cross)):
        window.line(np.array([[-x, -y], [x, y]]), color=MARK, lw=0.9)
    room = float(line.radius_mm[-1]) - 6
    if room < 9:
        return
    along = np.array([1.0, 0.0])
    _grain(
        window,
        np.array([0.0, -min(0.45 * room, 12.0)]),
        along,
        "GRAIN",
        min(room * 0.75, 35.0),
        dashed=False,
    )
    if crosses_the_grain(line.stop_travel):  # show how the grain had better run
        across = line.stop_travel
        place = np.array([math.cos(line.root_rad), math.sin(line.root_rad)]) * -0.1 * room
        _grain(window, place, across, "", min(room * 0.6, 28.0), dashed=True)


def _grain(window: _Window, middle: Array, along: Array, word: str, half: float, *, dashed: bool) -> None:
    ends = np.array([middle - half * along, middle + half * along])
    window.line(ends, color=MARK, lw=0.9, ls=(0, (4, 3)) if dashed else "-")
    for end, way in ((ends[0], -along), (ends[1], along)):
        side = np.array([-way[1], way[0]])
        window.line(
            np.array([end - 2.5 * way + 1.2 * side, end, end - 2.5 * way - 1.2 * side]), color=MARK, lw=0.9
        )
    if word:
        window.word(middle - np.array([0.0, 2.8]), word, LEAST_pt, along)


def _ends(window: _Window, line: FollowLine, hole_mm: tuple[float, float]) -> None:
    """Start, travel, trimmed end and stop; words stand in the strip beside the line."""
    pitch = line.pitch_mm
    size = min(max(0.6 * pitch / 0.3528, LEAST_pt), 10.0)
    least = float(line.radius_mm[-1])
    for bar, thick in zip(line.bars_mm, (1.2, 0.9, 1.2), strict=True):
        window.line(bar, color="black", lw=thick)
    shorter = line.shorter_way_mm
    if shorter is not None:  # before the trimmed end the strip is a feather anyway
        window.line(shorter, color=MARK, lw=0.6, ls=(0, (4, 3)))
    _word_beside(window, line, line.nail_mm, "trim, nail", size, pitch)
    _word_beside(window, line, line.start_mm, "start", size, pitch)
    clear = max(min(4.8, 0.42 * least), hole_mm[1] + hole_mm[0] / 2 + 2.4)
    middle = line.stop_mm + line.inward(line.stop_travel) * clear
    window.word(middle, "stop", LEAST_pt, line.stop_travel)
    _travel_arrows(window, line, pitch, clear_mm=width_mm_of("start", size) + 12)


def _hole_middle_mm(line: FollowLine, hole_mm: tuple[float, float]) -> Array:
    return np.asarray(line.stop_mm + hole_mm[1] * line.inward(line.stop_travel))


def _hole(window: _Window, line: FollowLine, hole_mm: tuple[float, float]) -> None:
    """The hole at the slot's end, with its middle crossed for the drill."""
    diameter, middle = hole_mm[0], _hole_middle_mm(line, hole_mm)
    angle = np.linspace(0, 2 * math.pi, 73)
    window.line(
        middle + diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)]), color="black", lw=0.7
    )
    for way in np.eye(2):
        window.line(
            np.array([middle - 0.35 * diameter * way, middle + 0.35 * diameter * way]),
            color="black",
            lw=0.5,
        )


def _travel_arrows(window: _Window, line: FollowLine, pitch: float, *, clear_mm: float) -> None:
    """Arrows in the strip along the first turn, clear of the word at its start."""
    for turned in (0.0, 0.25, 0.65):
        index = _index_beyond(line, line.start_mm, clear_mm + turned * math.tau * line.across_mm / 2)
        travel = _travel_at(line, index)
        middle = line.position_mm[index] + line.inward(travel) * pitch / 2
        window.arrow(middle, travel, min(9.0, 0.4 * float(line.radius_mm[index])))


def _index_beyond(line: FollowLine, place: Array, way_mm: float) -> int:
    """Index of the point so far along the line after a place on it."""
    near = int(np.argmin(np.hypot(*(line.position_mm - place).T)))
    gone = np.cumsum(np.hypot(*np.diff(line.position_mm[near:], axis=0).T))
    return min(near + int(np.searchsorted(gone, way_mm)), len(line.position_mm) - 2)


def _travel_at(line: FollowLine, index: int) -> Array:
    step = line.position_mm[index + 1] - line.position_mm[index]
    return np.asarray(step / np.hypot(*step))


def _word_beside(
    window: _Window, line: FollowLine, place: Array, word: str, size: float, pitch: float
) -> None:
    """Half a pitch inside the line, a little after a place; beside the board where turns are narrow."""
    after = _index_beyond(line, place, width_mm_of(word, size) / 2 + 4.5)
    travel, aside = _travel_at(line, after), pitch / 2 if pitch >= WORD_PITCH_mm else -BESIDE_mm
    window.word(line.position_mm[after] + line.inward(travel) * aside, word, size, travel)


@dataclass(frozen=True, eq=False)
class _Seam:
    """A line along which this page meets another.

    Attributes
    ----------
    axis : int
        0 where it stands upright, 1 where it lies.
    ends_mm : numpy.ndarray
        Its ends on this page, shape (2, 2). [mm]
    word : str
        What is done here: the page after, right or below, is cut and laid over the page before.
    """

    axis: int
    ends_mm: Array
    word: str


def _seams_of(window: _Window, tiling: Tiling, tile: Tile) -> list[_Seam]:
    low = np.array([window.left_mm, window.bottom_mm])
    high = low + np.array([window.width_mm, window.height_mm])
    found = []
    for axis, seams, first in ((0, tiling.seams_x_mm, tile.column), (1, tiling.seams_y_mm, tile.row)):
        for at, step in ((first - 2, -1), (first - 1, 1)):
            on, down = (step, 0) if axis == 0 else (0, step)
            page = tiling.page_at(tile.row + down, tile.column + on)
            if page is None:
                continue
            ends = np.array([low, high])
            ends[:, axis] = seams[at]
            found.append(_Seam(axis, ends, "cut" if page.number < tile.number else "tape"))
    return found


def _draw_seams(window: _Window, seams: list[_Seam]) -> None:
    """Lines along which pages meet, with crosses that must lie on each other."""
    for seam in seams:
        first, last = seam.ends_mm
        window.line(seam.ends_mm, color=MARK, lw=0.5, ls=(0, (5, 3)))
        for share in (0.12, 0.5, 0.88):
            _register(window, first + share * (last - first))


def _name_seams(window: _Window, seams: list[_Seam]) -> None:
    """What is done at a seam, near both of its ends, where nothing drawn so far is in the way."""
    drawn = window.drawn_mm()
    for seam in seams:
        along, aside = np.eye(2)[1 - seam.axis], np.eye(2)[seam.axis] * 2.4
        half_mm = np.array([width_mm_of(seam.word, LEAST_pt) / 2 + SEAM_WORD_CLEAR_mm, 1.9])
        half_mm = half_mm if seam.axis else half_mm[::-1]
        length_mm = float(np.ptp(seam.ends_mm[:, 1 - seam.axis]))
        nearest_mm = float(half_mm[1 - seam.axis])
        # Paper beyond a seam that crosses is cut off or laid over: a place there is the last to be taken.
        crossed_mm, middle_mm = nearest_mm + OVERLAP_mm / 2, length_mm / 2 - nearest_mm
        ways_mm = np.concatenate(
            [np.arange(crossed_mm, middle_mm, 0.5), np.arange(nearest_mm, crossed_mm, 0.5)]
        )
        for end in seam.ends_mm:
            inside = np.sign(seam.ends_mm.mean(axis=0) - end) * along
            places = end + ways_mm[:, None] * inside + aside
            boxes = shapely.box(*(places - half_mm).T, *(places + half_mm).T)
            clear = np.ones(len(boxes), bool)
            clear[shapely.STRtree(drawn).query(boxes, predicate="intersects")[0]] = False
            # On a narrow pitch there may be no such place: then as far from the end as ever.
            at = int(np.argmax(clear)) if clear.any() else int(np.argmin(np.abs(ways_mm - 12.0)))
            window.word(places[at], seam.word, LEAST_pt, along)
            drawn.append(boxes[at])


def _register(window: _Window, place: Array) -> None:
    angle = np.linspace(0, 2 * math.pi, 49)
    ring = place + REGISTER_mm * np.column_stack([np.cos(angle), np.sin(angle)])
    window.line(ring, color=MARK, lw=0.5)
    for way in np.eye(2):
        window.line(np.array([place - 5 * way, place + 5 * way]), color=MARK, lw=0.5)
