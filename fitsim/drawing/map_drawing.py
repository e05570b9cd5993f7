"""The drawn map of one bowl: regions told apart by pattern as well as by shade, each named in its place.

Nothing is worked out here but places on a page of 297 x 210 mm; the map comes from
:mod:`fitsim.sweeps.lock_map`.
"""

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.bowl.inputs import Uncertain
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, NOT_DECIDED, SPLIT_RISK, SPRINGS_BACK, WILL_NOT_OPEN
from fitsim.drawing.paper import (
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    first_rows,
    house_style,
    page_axes,
    width_mm_of,
    wrapped,
    write_on,
)
from fitsim.quantities import show_length, show_number, show_small
from fitsim.report.verdict_words import show_input
from fitsim.sweeps.lock_map import MAP_STATES, STANDS, BowlMap, share_on, state_of, value_on
from fitsim.sweeps.row_answer import OUTSIDE_THE_MODEL
from fitsim.sweeps.varied_quantities import Varied

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["map_figure"]

LOOKS = {  # tone, hatch and its ink: in grey the tones still differ, and the hatches do without them
    LOCKS: ("#fdf8ec", "", "#000000"),
    SPLIT_RISK: ("#f3d9a4", "..", "#7a4a12"),
    SPRINGS_BACK: ("#c5d8d6", "//", "#2b5a60"),
    FALLS_THROUGH: ("#d9b58f", "\\\\\\\\", "#6b3d18"),
    WILL_NOT_OPEN: ("#a9a3b8", "xx", "#3b3256"),
    OUTSIDE_THE_MODEL: ("#ffffff", "", "#000000"),
    NOT_DECIDED: ("#ffffff", "--", "#999999"),
}
PLOT_mm = (34.0, 40.0, 166.0, 132.0)
SIDE_mm = 212.0
"""Where the column of words beside the plot begins."""


def map_figure(found: BowlMap, *, units: str) -> "Figure":
    """Draw one page: regions, boundaries, lines of equal rise, and the maker's bowl.

    Parameters
    ----------
    found : BowlMap
        The map.
    units : str
        "in" or "mm", for the rise.

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        axes = page_axes(figure, "map", PLOT_mm)
        _scales(axes, found)
        _regions(axes, found)
        _own_bowl(axes, found)
        free = _names(axes, found)
        rise = _rise_lines(axes, found, free, units)
        _heading(figure, found)
        _side(figure, found, rise=rise, units=units)
        _foot(figure, found)
    return figure


def _scales(axes: "Axes", found: BowlMap) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set(xlim=(0, 1), ylim=(0, 1))
    round_ticks = MaxNLocator(9, steps=[1, 2, 2.5, 5, 10])
    for axis, quantity in ((axes.xaxis, found.across), (axes.yaxis, found.up)):
        low, high = value_on(quantity, 0.0), value_on(quantity, 1.0)
        ticks = [t for t in round_ticks.tick_values(low, high) if low - 1e-9 <= t <= high + 1e-9]
        axis.set_ticks([share_on(quantity, t) for t in ticks], [show_number(round(t, 9)) for t in ticks])
        axis.set_label_text(_axis_words(quantity), fontsize=10.5)
    axes.tick_params(labelsize=9.5, length=3.5)


def _axis_words(quantity: Varied) -> str:
    return f"{quantity.name} [{quantity.unit}]" if quantity.unit else quantity.name


def _regions(axes: "Axes", found: BowlMap) -> None:
    """Regions in their looks, boundaries over them; one in which no rise is kept lies over its lines."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    for index, outlines in found.regions.outlines:
        state = MAP_STATES[index]
        tone, hatch, ink = LOOKS[state]
        corners = np.concatenate(outlines)
        codes = np.concatenate(
            [[Path.MOVETO] + [Path.LINETO] * (len(o) - 2) + [Path.CLOSEPOLY] for o in outlines]
        )
        path = Path(corners, codes.astype(np.uint8))
        over = 1 if state in STANDS else 3
        axes.add_patch(PathPatch(path, fc=tone, ec=ink, hatch=hatch, lw=0, zorder=over, gid=state))
    for boundary in found.regions.boundaries:
        axes.plot(*boundary.line_share.T, color="black", lw=1.4, solid_capstyle="round", zorder=4)


def _rise_lines(axes: "Axes", found: BowlMap, free: BoolArray, units: str) -> bool:
    """Lines of equal rise under the regions in which none is kept; False where it does not change."""
    one = 25.4 if units == "in" else 1.0
    standing = [MAP_STATES.index(state) for state in STANDS]
    binds = np.isin(found.regions.raster, standing)
    rise = found.rise_mm / one
    seen = rise[np.isin(found.regions.state_at, standing) & np.isfinite(rise)]
    if seen.size == 0 or float(np.ptp(seen)) < 0.02 * float(seen.max()):
        return False
    levels = _rise_levels(seen, units)
    share = np.linspace(0, 1, found.regions.steps + 1)
    with np.errstate(invalid="ignore"):
        lines = axes.contour(
            share, share, np.ma.masked_invalid(rise), levels=levels, colors="#4a4a4a",
            linewidths=0.8, linestyles=[(0, (5, 3))], zorder=2,
        )  # fmt: skip
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85}
    for level, paths in zip(lines.levels, lines.allsegs, strict=True):
        place = _on_line(paths, ~(binds & free))
        if place is not None:
            _occupy(free, place, (8 / PLOT_mm[2], 3 / PLOT_mm[3]))
            word = show_length(float(level) * one, units=units) if units == "in" else f"{level:g} mm"
            axes.text(*place, word, size=8, ha="center", va="center", bbox=box, zorder=2.5)
    return True


def _rise_levels(seen: Array, units: str) -> Array:
    """Values of rise that a rule shows, about even steps apart as ratios where rise runs far."""
    low, high = float(seen.min()), float(seen.max())
    mm = [m * ten for ten in (0.1, 1, 10, 100) for m in (1, 1.5, 2, 3, 4, 6, 8)]
    inch = [0.125, 0.25, 0.375, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24]
    levels = [level for level in (inch if units == "in" else mm) if low < level < high]
    if len(levels) < 3:  # rise hardly changes: even steps
        step = (
            max(1 / 16, 2.0 ** round(math.log2((high - low) / 5)))
            if units == "in"
            else _round_step(low, high)
        )
        levels = [k * step for k in range(math.ceil(low / step), math.floor(high / step) + 1)]
    return np.array(levels)


def _round_step(low: float, high: float) -> float:
    """A fifth of a span, rounded to 1, 2 or 5 times a power of ten."""
    rough = (high - low) / 5
    ten = 10.0 ** math.floor(math.log10(rough))
    return ten * min((1, 2, 5, 10), key=lambda m: abs(m - rough / ten))


def _on_line(paths: list[Any], bad: BoolArray) -> tuple[float, float] | None:
    """Place for a line's own word: its corner farthest inside the regions that show it."""
    steps = len(bad) - 1
    best, far = None, 0.0
    blocked = np.argwhere(bad) / steps
    wide, high = 9 / PLOT_mm[2], 4 / PLOT_mm[3]  # half of a word and of its height, with some air
    for path in paths:
        for x, y in path.tolist():
            clear = min(x / wide, (1 - x) / wide, y / high, (1 - y) / high) - 1
            if blocked.size:
                away = np.maximum(np.abs(blocked[:, 1] - x) / wide, np.abs(blocked[:, 0] - y) / high)
                clear = min(clear, float(away.min()) - 1)
            if clear > far:
                best, far = (x, y), clear
    return best


def _own_bowl(axes: "Axes", found: BowlMap) -> None:
    """The maker's bowl: a ringed cross, with bars where its own value is a range."""
    if found.own_across is None or found.own_up is None:
        return
    left, x, right = (share_on(found.across, v) for v in found.own_across)
    below, y, above = (share_on(found.up, v) for v in found.own_up)
    if not (0 <= x <= 1 and 0 <= y <= 1):
        return
    for xs, ys in (((left, right), (y, y)), ((x, x), (below, above))):
        axes.plot(xs, ys, color="white", lw=4, zorder=6)
        axes.plot(xs, ys, color="black", lw=1.6, marker="|" if ys[0] == ys[1] else "_", ms=7, zorder=6)
    axes.plot(x, y, marker="o", ms=11, mfc="white", mec="black", mew=1.6, zorder=7)
    axes.plot(x, y, marker="P", ms=6, mfc="black", mec="black", mew=0, zorder=8)
    right_of_it = x < 0.8
    axes.annotate(
        "your bowl", (x, y), (10 if right_of_it else -10, 0), textcoords="offset points", size=9.5,
        weight="bold", ha="left" if right_of_it else "right", va="center", zorder=8,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2},
    )  # fmt: skip


def _names(axes: "Axes", found: BowlMap) -> BoolArray:
    """Write every region's name in it, level or upright; where there is no room, beside it with an arrow.

    What stays free for other words is returned, shape of the raster.
    """
    raster = found.regions.raster
    free = np.ones_like(raster, dtype=bool)
    if found.own_across is not None and found.own_up is not None:
        (left, x, right), (low, y, high) = (
            [share_on(axis, value) for value in at]
            for axis, at in ((found.across, found.own_across), (found.up, found.own_up))
        )
        _occupy(free, (x + 11 / PLOT_mm[2], y), (18 / PLOT_mm[2], 5 / PLOT_mm[3]))
        _occupy(free, ((left + right) / 2, y), ((right - left) / 2, 3 / PLOT_mm[3]))
        _occupy(free, (x, (low + high) / 2), (3 / PLOT_mm[2], (high - low) / 2))
    for index in sorted(np.unique(raster).tolist(), key=lambda i: -int(np.sum(raster == i))):
        inside = raster == index
        word = MAP_STATES[index].upper()
        level = ((width_mm_of(word, 11, "bold") + 6) / 2 / PLOT_mm[2], 3.4 / PLOT_mm[3])
        upright = (3.4 / PLOT_mm[2], (width_mm_of(word, 11, "bold") + 6) / 2 / PLOT_mm[3])
        for half, turned in ((level, 0), (upright, 90)):
            place = _room(inside & free, half)
            if place is not None:
                _name(axes, word, place, rotation=turned)
                _occupy(free, place, half)
                break
        else:
            _name_aside(axes, word, inside, free, level)
    return free


def _name(axes: "Axes", word: str, place: tuple[float, float], *, rotation: float = 0.0) -> None:
    box = {"facecolor": "white", "edgecolor": "black", "lw": 0.6, "pad": 2.5}
    size: Any = {"size": 11, "weight": "bold", "ha": "center", "va": "center"}
    axes.text(place[0], place[1], word, zorder=5, bbox=box, rotation=rotation, **size)


def _name_aside(
    axes: "Axes", word: str, inside: BoolArray, free: BoolArray, half: tuple[float, float]
) -> None:
    """A thin region's name stands where there is room, and an arrow leads to its widest place."""
    steps = len(inside) - 1
    rows, columns = np.nonzero(inside)
    middle = (float(np.median(columns)) / steps, float(np.median(rows)) / steps)
    nearest = int(np.argmin(np.hypot(columns / steps - middle[0], rows / steps - middle[1])))
    target = (columns[nearest] / steps, rows[nearest] / steps)
    place = _room(free, half, near=target, clear_of=inside)
    if place is None:
        return
    axes.annotate("", target, place, zorder=4.5, arrowprops={
        "arrowstyle": "-|>", "lw": 1.2, "color": "black", "shrinkA": 0, "shrinkB": 0})  # fmt: skip
    _name(axes, word, place)
    _occupy(free, place, half)


def _occupy(free: BoolArray, place: tuple[float, float], half: tuple[float, float]) -> None:
    steps = len(free) - 1
    (left, right), (low, high) = (
        (max(math.floor((p - h) * steps), 0), max(math.ceil((p + h) * steps) + 1, 0))
        for p, h in zip(place, half, strict=True)
    )
    free[low:high, left:right] = False


def _box_sum(marked: BoolArray, half: tuple[float, float]) -> IntArray:
    """How many marked places lie in a box about every lattice place."""
    steps = len(marked) - 1
    over, up = (math.ceil(h * steps) for h in half)
    padded = np.pad(marked.astype(np.int64), ((up + 1, up), (over + 1, over)))
    total = padded.cumsum(axis=0).cumsum(axis=1)
    high, wide = 2 * up + 1, 2 * over + 1
    return np.asarray(
        total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    )


def _room(
    inside: BoolArray,
    half: tuple[float, float],
    near: tuple[float, float] | None = None,
    clear_of: BoolArray | None = None,
) -> tuple[float, float] | None:
    """Place for a box wholly inside: the one with most room about it, or the nearest to a place."""
    steps = len(inside) - 1
    over, up = (math.ceil(h * steps) for h in half)
    fits = _box_sum(inside, half) == (2 * over + 1) * (2 * up + 1)  # beyond the plot nothing is inside
    if clear_of is not None:
        fits &= _box_sum(clear_of, half) == 0
    if not fits.any():
        return None
    rows, columns = np.nonzero(fits)
    if near is not None:
        best = int(np.argmin(np.hypot(columns / steps - near[0], rows / steps - near[1])))
        return columns[best] / steps, rows[best] / steps
    depth = np.zeros(inside.shape, dtype=np.int64)
    grown = half
    while fits.any() and grown[0] < 0.5 and grown[1] < 0.5:
        depth[fits] += 1
        grown = (grown[0] + 1 / steps, grown[1] + 1 / steps)
        over, up = (math.ceil(h * steps) for h in grown)
        fits = _box_sum(inside, grown) == (2 * over + 1) * (2 * up + 1)
    rows, columns = np.nonzero(depth == depth.max())
    best = len(rows) // 2
    return columns[best] / steps, rows[best] / steps


def _heading(figure: "Figure", found: BowlMap) -> None:
    title = f"{found.bowl.name}: at which {found.across.name} and {found.up.name} does it lock?"
    lines = first_rows(title, PAGE_WIDTH_mm - 2 * EDGE_mm, 15, 2, "bold")
    top = PAGE_HEIGHT_mm - EDGE_mm - 3
    for k, line in enumerate(lines):
        write_on(figure, EDGE_mm, top - 7 * k, line, 15, weight="bold", va="center")
    second = "Every number at the unfavourable end of its ranges" if found.at_worst else (
        "Everything else as in the bowl, ranges at their middle"
    )  # fmt: skip
    write_on(figure, EDGE_mm, top - 7 * len(lines) - 0.5, second, 10, va="center")


def _side(figure: "Figure", found: BowlMap, *, rise: bool, units: str) -> None:
    """Beside the plot: a swatch of every region with what decides it, and how to read the lines."""
    y = PLOT_mm[1] + PLOT_mm[3] - 3
    for index in np.unique(found.regions.state_at).tolist():
        state = MAP_STATES[index]
        _swatch(figure, state, y)
        y = _words(figure, SIDE_mm + 17, y, state, 9.5, weight="bold")
        y = _words(figure, SIDE_mm + 17, y, _decided_by(found, state, units), 8.5) - 3
    if rise:
        middle = ", every range at its middle" if found.at_worst else ""
        words = f"Dashed lines: rise of the rim after letting go{middle}."
        y = _words(figure, SIDE_mm, y - 1, words, 8.5) - 1
    y = _words(figure, SIDE_mm, y, _own_words(found), 8.5) - 1
    if not found.at_worst:
        ranges = [
            f"{u.name} {_ends(u, units)}"
            for u in found.bowl.uncertain
            if not (u.path.startswith(found.across.key) or u.path.startswith(found.up.key))
        ]
        if ranges:
            words = f"Held at the values taken for them: {', '.join(ranges)}. The ends move the lines."
            y = _words(figure, SIDE_mm, y, words, 8.5)


def _ends(known: Uncertain, units: str) -> str:
    """Both ends of a range in the reader's units, the unit once; a film is far below any rule's marks."""

    def end(value: float) -> str:
        if known.unit != "mm":
            return show_input(value, known.unit, units=units)
        return f"{show_small(value / 25.4)} in" if units == "in" else f"{show_number(value)} mm"

    low, high = end(known.low), end(known.high)
    number, _, unit = low.partition(" ")
    return f"{number if unit and high.endswith(f' {unit}') else low} to {high}"


def _swatch(figure: "Figure", state: str, y_mm: float) -> None:
    from matplotlib.patches import Rectangle

    tone, hatch, ink = LOOKS[state]
    place = (SIDE_mm / PAGE_WIDTH_mm, (y_mm - 7) / PAGE_HEIGHT_mm)
    size = (13 / PAGE_WIDTH_mm, 9 / PAGE_HEIGHT_mm)
    for style in ({"fc": tone, "ec": ink, "hatch": hatch, "lw": 0}, {"fill": False, "lw": 0.8}):
        figure.add_artist(Rectangle(place, *size, transform=figure.transFigure, **style))


def _words(
    figure: "Figure", x_mm: float, y_mm: float, text: str, size: float, *, weight: str = "normal"
) -> float:
    """Write lines downward; return where the next may begin."""
    for line in wrapped(text, PAGE_WIDTH_mm - EDGE_mm - x_mm, size, weight):
        write_on(figure, x_mm, y_mm, line, size, va="center", weight=weight)
        y_mm -= 0.47 * size
    return y_mm


def _decided_by(found: BowlMap, state: str, units: str) -> str:
    limits = found.bowl.limits
    varied = {found.across.key, found.up.key}

    def limit(key: str, shown: str) -> str:
        return "the limit" if f"limits.{key}" in varied else shown

    overlap = limit("overlap", f"{limits.overlap:.0%}")
    hold = limit("friction_used", f"{limits.friction_used:.0%}")
    split = limit("split_chance", f"{limits.split_chance:.0%}")
    slot = limit("slot_left", show_length(limits.slot_left_mm, units=units, fine=True))
    shut = slot != "the limit" and limits.slot_left_mm == 0
    return {
        WILL_NOT_OPEN: "no slot is left when flat" if shut else f"slot left when flat is not above {slot}",
        FALLS_THROUGH: f"less than {overlap} of the thickness still bears",
        SPRINGS_BACK: "it does not keep nine tenths of its rise, or needs a harder press than there is"
        if found.bowl.limits.friction_used >= 1 and hold != "the limit"
        else f"holding takes more than {hold} of the friction, or a harder press than there is",
        SPLIT_RISK: f"{split} or more would split on opening",
        LOCKS: "none of these",
        OUTSIDE_THE_MODEL: "cannot be cut, or the formulas do not serve",
        NOT_DECIDED: "the strip could not be followed",
    }[state]


def _own_words(found: BowlMap) -> str:
    own = [
        f"{axis.name} {show_number(at[1])} {axis.unit}".strip()
        for axis, at in ((found.across, found.own_across), (found.up, found.own_up))
        if at is not None
    ]
    if len(own) < 2:
        return "Your bowl has no single place on this map."
    places = ((found.across, found.own_across), (found.up, found.own_up))
    own_state = state_of(found.own, at_worst=found.at_worst)
    on = all(at is not None and 0 <= share_on(axis, at[1]) <= 1 for axis, at in places)
    return f"Your bowl: {' and '.join(own)}, {own_state}{'' if on else '; it lies off this map'}."


def _step(axis: Varied, steps: int) -> float:
    """A step of the map along an axis, to two figures. [unit of the axis]"""
    return float(f"{(value_on(axis, 1.0) - value_on(axis, 0.0)) / steps:.2g}")


def _foot(figure: "Figure", found: BowlMap) -> None:
    board = found.bowl.board
    pressed, places = len(found.cells), found.lattice.asked.size
    missed = "" if pressed == places else " A region narrower than a coarse cell of the map can be missed."
    steps = " and ".join(
        f"{axis.name} {show_number(_step(axis, found.regions.steps))} {axis.unit}".strip()
        for axis in (found.across, found.up)
    )
    text = (
        f"{board.wood.name}, {board.outline_words} board. Pressed at {pressed} of {places} places.{missed} "
        f"A line may lie up to a step of the map from where it is drawn: {steps}. "
        "Not seen: knots, checks, wild grain, a cut that wanders."
    )
    lines = wrapped(text, PAGE_WIDTH_mm - 2 * EDGE_mm, 8)
    for k, line in enumerate(lines):
        write_on(figure, EDGE_mm, EDGE_mm + 4 * (len(lines) - 1 - k), line, 8, va="center", color="#333333")
