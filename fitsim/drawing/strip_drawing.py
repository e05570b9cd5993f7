"""The drawn page of the elastic strip: stress along it, the bowl from above, press against rise.

Nothing is worked out here but places on a page of 297 x 210 mm; every number comes from
:class:`fitsim.bowl.elastic.ElasticFit`. Figures are returned, never shown;
:mod:`fitsim.drawing.picture_files` writes them.
"""

import math
from dataclasses import dataclass
from itertools import combinations, permutations
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fitsim.arrays import Array
from fitsim.bowl.elastic import ElasticFit, Opening
from fitsim.bowl.fit import BowlFit
from fitsim.drawing.paper import (
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    Sheet,
    first_rows,
    house_style,
    page_axes,
    width_mm_of,
    wood_sheet,
    write_on,
)
from fitsim.drawing.unrolled_strip import (
    AS_SAWN,
    CLEAR,
    grain_band,
    length_ticks,
    mark_worst,
    nice_step,
    stress_axes,
)
from fitsim.errors import OutsideModelError
from fitsim.quantities import FORCE, show_length
from fitsim.report.common_words import chance_in_words
from fitsim.report.verdict_words import OUTSIDE_MODEL, other_states
from fitsim.strip.stress import StripStress
from fitsim.wood.strength import grain_strength

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["stress_axes", "strip_figure"]

TONES = ("#fdf5e3", "#ecc080", "#bb6a2c", "#6e2c15", "#1c0906")
"""From no stress to the greatest: lightness falls all the way, so that a grey print reads alike."""

LABEL_ROWS = (0.40, 0.13, -0.14, -0.30)
"""Heights of the words beside the bowl from above, over its size, from its middle. [-]"""

AS_ON_PATTERN = (
    "Inside up, as on the pattern for a table that goes down on the right. Down on the left: mirrored; "
    "count along the strip from the root."
)
SCALE_TONES = 8  # at most so many tones on the scale; more cannot be told apart on paper
REACH_SHOWN = 1.6  # a press needed beyond this many times the one available is said, not drawn


@dataclass(frozen=True)
class _Mark:
    """A place of the bowl with its word."""

    word: str
    x_mm: float
    y_mm: float


def strip_figure(answer: BowlFit, *, units: str) -> "Figure":
    """Draw one page: stress along the unrolled strip, the bowl from above, press against rise.

    Parameters
    ----------
    answer : BowlFit
        The fit, with its elastic strip.
    units : str
        "in" or "mm" for lengths; forces are in newtons, with pounds in brackets for "in".

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.

    Raises
    ------
    OutsideModelError
        If the answer has no elastic strip.
    """
    from matplotlib.figure import Figure

    if answer.elastic is None:
        shut = answer.rigid.numbers.slot_left_mm <= 0
        reason = "a slot is shut when flat" if shut else "only stiff turns were worked out"
        raise OutsideModelError(f"no picture of the elastic strip: {reason}")
    opening = answer.elastic.opening
    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        top_mm = _heading(figure, answer, opening, units)
        _unrolled(figure, answer, opening.stress, units, top_mm)
        _from_above(figure, answer, opening)
        _press_and_rise(figure, answer, answer.elastic, units)
    return figure


def _force(press_N: float, units: str) -> str:
    pounds = f" ({press_N / float(FORCE.units['lbf']):.2g} lbf)" if units == "in" else ""
    return f"{press_N:.3g} N{pounds}"


def _heading(figure: "Figure", answer: BowlFit, opening: Opening, units: str) -> float:
    """Name and verdict, what is drawn, what is not seen; returns the page height left below."""
    verdict, width, y = answer.verdict, PAGE_WIDTH_mm - 2 * EDGE_mm, PAGE_HEIGHT_mm - 15
    state = verdict.state
    room = width - width_mm_of(state, 15, "bold") - 8
    name = " ".join(answer.bowl.name.split())
    for line in first_rows(name, room, 15, 1, "bold"):
        write_on(figure, EDGE_mm, y, line, 15, weight="bold")
    write_on(figure, PAGE_WIDTH_mm - EDGE_mm, y, state, 15, weight="bold", ha="right")
    if state != verdict.state_at_best:
        write_on(figure, PAGE_WIDTH_mm - EDGE_mm, y - 5.5, other_states(verdict), 9, ha="right")
    press = _force(opening.press_N, units)
    drawn = f"the elastic strip pressed open with {press}, every range at its middle"
    write_on(figure, EDGE_mm, y - 5.5, drawn, 9)
    unseen = (
        f"Not seen: {OUTSIDE_MODEL[0]}. Strengths are means with scatter: "
        "a place below its mean strength can still give."
    )
    y -= 11
    for line in first_rows(unseen, width, 9, 2):
        write_on(figure, EDGE_mm, y, line, 9)
        y -= 4.6
    return y


# --- the strip unrolled ---------------------------------------------------------------------------


def _unrolled(figure: "Figure", answer: BowlFit, stress: StripStress, units: str, top_mm: float) -> None:
    left, width, bottom = EDGE_mm + 12, PAGE_WIDTH_mm - 2 * EDGE_mm - 62, 116.0
    split = f"{chance_in_words(stress.chance)} would split on opening"
    write_on(figure, EDGE_mm, top_mm - 4, "stress along the strip, unrolled", 10, weight="bold")
    note = f"when splitting is likeliest; {split}"
    write_on(figure, EDGE_mm + 64, top_mm - 4, note, 8.5)
    axes = page_axes(figure, "stress", (left, bottom, width, top_mm - 8 - bottom))
    board = answer.bowl.board
    strength = grain_strength(board.wood, answer.bowl.use.turn_moisture_percent[0], board.tested_across)
    stress_axes(axes, stress, strength)
    mark_worst(axes, stress)
    grain_band(figure, stress, units, (left, bottom - 14, width, 8.5))


# --- the bowl from above --------------------------------------------------------------------------


def _from_above(figure: "Figure", answer: BowlFit, opening: Opening) -> None:
    elastic, stress = opening.elastic, opening.stress
    side, left, bottom = 71.0, EDGE_mm + 27, 12.0
    write_on(figure, EDGE_mm, 87, "the flat bowl from above", 10, weight="bold")
    scale = (side - 1) / 2 / float(np.abs(_board_outline_mm(answer)).max())
    centre = (left + side / 2, bottom + side / 2)
    sheet = wood_sheet(figure, "above", (left, bottom, side, side), scale, centre)
    step = nice_step(max(1.0, float(stress.ratio.max())) / SCALE_TONES)
    tones = _tones(math.ceil(max(1.0, float(stress.ratio.max())) / step - 1e-9))
    tone_at = [tones[k] for k in _tone_of(stress, step, len(tones))]
    base_mm = _wood_from_above(sheet, answer, opening, tone_at)
    _tone_scale(figure, (left + side + 5, bottom + 5, 4.5, side - 10), step, tones)
    at = elastic.strip.position_mm[:, :2] * AS_SAWN
    places = {"root": at[0], "nail": at[-1]}
    # The first and the last element lie at the root and at the nail.
    beside = {0: "root", len(at) - 2: "nail"}.get(int(stress.element[stress.worst.section]))
    if beside is None:
        along = np.concatenate([[0.0], np.cumsum(elastic.strip.arc_mm)])
        section = stress.worst.section
        radius = float(np.interp(stress.arc_mm[section], along, np.hypot(at[:, 0], at[:, 1])))
        clock = float(stress.clock_rad[section])
        places["worst place"] = radius * np.array([math.cos(clock), math.sin(clock)]) * AS_SAWN
        if answer.bowl.board.edge is not None:
            gone = stress.arc_mm[section]
            places["worst place"] = np.array([np.interp(gone, along, at[:, i]) for i in (0, 1)])
    else:
        places[f"{beside},\nworst place"] = places.pop(beside)
    marks = [_Mark(word, *place.tolist()) for word, place in places.items()]
    ways = _mark_places(sheet, marks, (EDGE_mm - left - side / 2) / scale, side / scale)
    _name_base(sheet, base_mm, ways)
    x, y = EDGE_mm, bottom + 4.0
    arrow = wood_sheet(figure, "grain direction", (x, y, 20, 9), 1.0, (x, y))
    arrow.arrow((1.0, 2.0), (19.0, 2.0), "<|-|>")
    arrow.text(10.0, 5.5, "grain")
    write_on(figure, EDGE_mm, 6.5, AS_ON_PATTERN, 8)


def _tones(count: int) -> list[str]:
    from matplotlib.colors import LinearSegmentedColormap, to_hex

    scale = LinearSegmentedColormap.from_list("stress", TONES)
    return [to_hex(scale(k / max(count - 1, 1))) for k in range(count)]


def _tone_of(stress: StripStress, step: float, count: int) -> list[int]:
    """Tone of every element, by its worst section."""
    greatest = np.zeros(int(stress.element[-1]) + 1)
    np.maximum.at(greatest, stress.element, stress.ratio)
    return np.minimum((greatest / step).astype(int), count - 1).tolist()  # type: ignore[no-any-return]


def _wood_from_above(sheet: Sheet, answer: BowlFit, opening: Opening, colours: list[str]) -> Array:
    """Board, base and strip, every piece in its tone; returns the outline of the base, (n, 2). [mm]"""
    from matplotlib.collections import PolyCollection
    from matplotlib.patches import Polygon

    seats, strip = opening.elastic.seats, opening.elastic.strip
    inner = len(seats.base_mm)
    blank = _board_outline_mm(answer) * AS_SAWN
    sheet.axes.add_patch(Polygon(blank, fill=False, lw=0.5, ls=(0, (3, 2)), clip_on=False))
    _, base_edge = _edges_mm(seats.base_mm, seats.half_width_mm[:inner], seats.base_frame, answer)
    near, far = _edges_mm(strip.position_mm, seats.half_width_mm[inner:], strip.frame, answer)
    # The base ends where the strip begins, one pitch farther out than one turn before.
    base = np.concatenate([base_edge, far[:1], near[:1]])
    sheet.axes.add_patch(Polygon(base, fc="white", ec="black", lw=0.5))
    pieces = np.stack([near[:-1], far[:-1], far[1:], near[1:]], axis=1)
    sheet.axes.add_collection(PolyCollection(list(pieces), facecolors=colours, edgecolors=colours, lw=0.2))
    edge = np.concatenate([near, far[::-1]])
    sheet.axes.add_patch(Polygon(edge, fill=False, lw=0.4, joinstyle="bevel"))
    return base


def _name_base(sheet: Sheet, base_mm: Array, ways: list[tuple[float, ...]]) -> None:
    """The word as near the middle of the base as the lines to the marks leave it room."""
    base, lines = shapely.Polygon(base_mm), shapely.MultiLineString([(w[:2], w[2:]) for w in ways])
    half = np.array([width_mm_of("base", 8.5) / 2 + 1.5, 3.0]) / sheet.scale
    steps = np.linspace(-1.0, 1.0, 41)
    reach = np.abs(base_mm).max(axis=0)
    places = np.stack(np.meshgrid(steps * reach[0], steps * reach[1]), axis=-1).reshape(-1, 2)
    boxes = shapely.box(*(places - half).T, *(places + half).T)
    clear = places[shapely.contains(base, boxes) & ~shapely.intersects(lines, boxes)]
    # Where lines leave no room the word stands in the middle, over them.
    x, y = min(clear.tolist(), key=lambda place: math.hypot(*place), default=(0.0, 0.0))
    sheet.text(x, y, "base", zorder=7, bbox=CLEAR)


def _edges_mm(line_mm: Array, half_width_mm: Array, frame: Array, answer: BowlFit) -> tuple[Array, Array]:
    """Inner and outer edge, as drawn, of a strip whose widths count from the centre outward, (n, 2) each.

    Where the turns are no circles they are measured square to the strip.
    """
    line = line_mm[:, :2]
    outward = line / np.linalg.norm(line, axis=1)[:, None]
    if answer.bowl.board.edge is not None:
        outward = frame[:, :2, 0]
    out = outward * half_width_mm[:, None]
    return (line - out) * AS_SAWN, (line + out) * AS_SAWN


def _board_outline_mm(answer: BowlFit) -> Array:
    """Edge of the board; the cut enters at the middle of a side of a square one. [mm]"""
    if answer.rigid.slot.winding is not None:
        return answer.rigid.slot.winding.lines.edge_mm
    half, corners = answer.bowl.board.across_mm / 2, 180
    if answer.bowl.board.outline != "round":
        half, corners = half * math.sqrt(2), 4
    entry = answer.bowl.cut.root_rad + float(answer.rigid.slot.angle_rad[-1])
    polar = entry + math.pi / 4 + 2 * math.pi / corners * np.arange(corners)
    return half * np.stack([np.cos(polar), np.sin(polar)], axis=1)


def _tone_scale(
    figure: "Figure", page_mm: tuple[float, float, float, float], step: float, tones: list[str]
) -> None:
    axes = page_axes(figure, "tones", page_mm)
    axes.set(xlim=(0, 1), ylim=(0, step * len(tones)), xticks=[])
    places = [step * k for k in range(len(tones) + 1)]
    axes.bar([0.5] * len(tones), step, 1.0, bottom=places[:-1], color=tones, edgecolor="black", lw=0.3)
    axes.yaxis.tick_right()
    axes.set_yticks(places, [f"{p:g}" for p in places], size=8)
    axes.plot([-0.4, 1.4], [1.0, 1.0], color="black", lw=1.4, clip_on=False)
    axes.yaxis.set_label_position("right")
    axes.set_ylabel("stress, share of mean strength", size=8.5)


def _mark_places(sheet: Sheet, marks: list[_Mark], x: float, height: float) -> list[tuple[float, ...]]:
    """Words on the left, each with a line to its place; the shortest that cross neither line nor mark.

    Returns the ends of the lines, x and y of each. [mm]
    """
    orders: list[tuple[float, ...]] = list(permutations([at * height for at in LABEL_ROWS], len(marks)))
    feet = [x + (max(width_mm_of(w, 8.5) for w in m.word.split("\n")) + 2) / sheet.scale for m in marks]

    def cost(order: tuple[float, ...]) -> float:
        lines = [(foot, y, m.x_mm, m.y_mm) for m, foot, y in zip(marks, feet, order, strict=True)]
        total = 10 * height * sum(_cross(one, other) for one, other in combinations(lines, 2))
        for mark, foot, y, line in zip(marks, feet, order, lines, strict=True):
            near = [_distance(m, line) * sheet.scale < 3.5 for m in marks if m is not mark]
            total += math.hypot(mark.x_mm - foot, mark.y_mm - y) + 10 * height * sum(near)
        return total

    best = min(orders, key=cost)
    for mark, foot, y in zip(marks, feet, best, strict=True):
        sheet.text(x, y, mark.word, ha="left")
        for colour, lw in (("white", 2.4), ("black", 0.7)):
            sheet.line((foot, mark.x_mm), (y, mark.y_mm), color=colour, lw=lw, zorder=5)
        sheet.axes.plot([mark.x_mm], [mark.y_mm], "o", ms=4.5, mfc="white", mec="black", mew=1.0,
                        zorder=6, gid=mark.word)  # fmt: skip
    return [(f, y, m.x_mm, m.y_mm) for m, f, y in zip(marks, feet, best, strict=True)]


def _cross(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Whether two lines between places cross: each has the other's ends on either side."""

    def side(line: tuple[float, ...], x: float, y: float) -> bool:
        return (line[2] - line[0]) * (y - line[1]) > (line[3] - line[1]) * (x - line[0])

    return side(one, *other[:2]) != side(one, *other[2:]) and side(other, *one[:2]) != side(other, *one[2:])


def _distance(mark: _Mark, line: tuple[float, float, float, float]) -> float:
    """How near a line between two places passes a mark."""
    x0, y0, dx, dy = line[0], line[1], line[2] - line[0], line[3] - line[1]
    along = ((mark.x_mm - x0) * dx + (mark.y_mm - y0) * dy) / (dx**2 + dy**2)
    along = min(max(along, 0.0), 1.0)
    return math.hypot(mark.x_mm - x0 - along * dx, mark.y_mm - y0 - along * dy)


# --- press against rise ---------------------------------------------------------------------------


def _press_and_rise(figure: "Figure", answer: BowlFit, elastic: ElasticFit, units: str) -> None:
    loop, available = elastic.loop, answer.bowl.use.press_N
    left, bottom, width, height = 166.0, 22.0, PAGE_WIDTH_mm - EDGE_mm - 166, 60.0
    write_on(figure, left - 14, 87, "press against rise of the rim", 10, weight="bold")
    axes = page_axes(figure, "loop", (left, bottom, width, height))
    top = 1.18 * available
    if elastic.opening.judged.needed_N <= REACH_SHOWN * available:
        top = max(top, 1.12 * elastic.opening.judged.needed_N)
    if elastic.opening.fell_through:
        top = min(top, 1.6 * float(loop.press_N.max()))
    farthest = max(float(loop.rise_mm.max()), 1e-6)
    axes.set(xlim=(0, 1.34 * farthest), ylim=(0, top))
    steps = len(elastic.opening.path)
    axes.plot(
        loop.rise_mm[:steps], loop.press_N[:steps], color="black", lw=1.8, clip_on=False, gid="pressing"
    )
    if len(loop.press_N) > steps:
        axes.plot(loop.rise_mm[steps - 1 :], loop.press_N[steps - 1 :], color="#b9502a", lw=1.4,
                  ls=(0, (4, 1.5)), clip_on=False, gid="letting go")  # fmt: skip
    _press_marks(axes, elastic, available, units)
    _rest_marks(axes, elastic, units)
    places, numbers = length_ticks(1.34 * farthest, units, 6)
    axes.set_xticks(places, numbers, size=8)
    axes.tick_params(axis="y", labelsize=8)
    axes.set_xlabel(f"rise of the rim, mean over the last turn ({units})", size=8.5)
    axes.set_ylabel("press (N)", size=8.5)
    axes.spines[["top", "right"]].set_visible(False)


def _press_marks(axes: "Axes", elastic: ElasticFit, available: float, units: str) -> None:
    """Level lines at the press available and the press needed, words at their left ends."""
    (_, right), (_, top) = axes.get_xlim(), axes.get_ylim()
    needed, x = elastic.opening.judged.needed_N, 0.015 * right
    words = f"press available {_force(available, units)}"
    if available > top:
        words = f"{words}, beyond this picture;\nno press holds it"
        axes.text(x, 0.98 * top, words, size=8.5, va="top", bbox=CLEAR)
        return
    axes.axhline(available, color="black", lw=0.8, ls=(0, (6, 2)))
    # Two lines near each other have their words on either side: each stands at its own.
    near = needed <= REACH_SHOWN * available and abs(needed - available) < 0.09 * top
    _beside_line(axes, available, words, below=near and needed > available)
    if needed <= REACH_SHOWN * available:
        axes.axhline(needed, color="black", lw=0.8, ls=(0, (1, 1.5)))
        words = f"press needed {_force(needed, units)}"
        _beside_line(axes, needed, words, below=near and needed <= available)
        return
    words = f"no press up to {_force(elastic.reach_N, units)} holds it"
    if elastic.opening.fell_through:
        words = "no press holds it"
    elif math.isfinite(needed):
        words = f"press needed {_force(needed, units)}, beyond this picture"
    _beside_line(axes, available, words, below=True)


def _beside_line(axes: "Axes", level: float, words: str, *, below: bool) -> None:
    """Words at the left end of a level line, above or below it."""
    (_, right), (_, top) = axes.get_xlim(), axes.get_ylim()
    aside, side = (-0.02 * top, "top") if below else (0.02 * top, "bottom")
    axes.text(0.015 * right, level + aside, words, size=8.5, va=side, bbox=CLEAR)


def _rest_marks(axes: "Axes", elastic: ElasticFit, units: str) -> None:
    """Where the bowl stands when the press is gone, or what became of it."""
    loop, opening, steps = elastic.loop, elastic.opening, len(elastic.opening.path)
    (_, right), (_, top) = axes.get_xlim(), axes.get_ylim()
    last = (float(loop.rise_mm[steps - 1]), float(loop.press_N[steps - 1]))
    x = float(loop.rise_mm.max()) + 0.02 * right
    rest: Any = {"size": 8.5, "ha": "left", "va": "center", "bbox": CLEAR}
    if opening.fell_through:
        axes.plot(*last, "x", ms=9, mew=2, color="black", clip_on=False, zorder=6, gid="falls through")
        words = f"falls through\nat {_force(last[1], units)}"
        axes.text(last[0], max(last[1], 0.0) + 0.12 * top, words, **{**rest, "ha": "center"})
        return
    level = 0.34 * last[1]
    there = float(np.interp(level, loop.press_N[:steps], loop.rise_mm[:steps]))
    axes.text(there - 0.02 * right, level, "pressing", **{**rest, "ha": "right"})
    stands = elastic.rise_at_rest_mm
    if elastic.holds:
        # A bowl judged by a gentle press: clear of the words below.
        axes.text(x, max(0.55 * last[1], 0.27 * top), "letting go", **rest)
        words = f"rise at rest\n{show_length(stands, units=units)}"
    elif math.isfinite(stands):
        flat = show_length(abs(stands), units=units) == show_length(0.0, units=units)
        words = "springs back\nflat" if flat else f"springs back\nto {show_length(stands, units=units)}"
    else:
        words = "springs back;\nhow far is\nnot known"
    axes.text(x, 0.13 * top, words, **rest)
    if math.isfinite(stands):
        axes.plot([stands], [0], "^", ms=8, color="black", clip_on=False, zorder=6, gid="rise at rest")
