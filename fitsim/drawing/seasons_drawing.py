"""The drawn year: moisture of base and rim, rise, the two wobbles, and the chance of splitting."""

from typing import TYPE_CHECKING

import numpy as np

from fitsim.arrays import Array
from fitsim.climate.indoor_air import MONTHS, day_of
from fitsim.climate.weather import MONTH_DAYS
from fitsim.drawing.paper import (
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    first_rows,
    house_style,
    page_axes,
    wrapped,
    write_on,
)
from fitsim.quantities import INCH_MM, show_length
from fitsim.report.common_words import chance_in_words
from fitsim.report.seasons_in_words import how_dry_to_saw, seasons_headline
from fitsim.seasons.moisture_year import DAY_H, WEEK_H
from fitsim.seasons.year import LEFT_OPEN, NUMBERS, SeasonAnswer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["seasons_figure"]

LEFT_mm, WIDTH_mm, GAP_mm = 28.0, 196.0, 5.5
HEIGHTS_mm = (42.0, 24.0, 24.0, 24.0, 27.0)
TOP_mm = 183.0
SIDE_mm = 229.0
LEAST_TOP = 0.01
"""Top of a scale on which nothing happens; below it the numbers on the scale would run together."""
INKS = {"base": "#6b3d18", "rim": "#2b5a60", "one": "#3b3256"}


def seasons_figure(answer: SeasonAnswer, *, units: str) -> "Figure":
    """Draw one page: the conclusion, and five plots over one year with the worst weeks marked.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        top = TOP_mm
        plots = []
        for label, height in zip(
            ("moisture", "rise", "level", "rocking", "split"), HEIGHTS_mm, strict=True
        ):
            plots.append(page_axes(figure, label, (LEFT_mm, top - height, WIDTH_mm, height)))
            _year_axis(plots[-1], last=label == "split")
            top -= height + GAP_mm
        _moisture(plots[0], answer)
        _numbers(plots[1:], answer, units)
        _words(figure, answer, units)
    return figure


def _year_axis(axes: "Axes", *, last: bool) -> None:
    ends = np.cumsum((0, *MONTH_DAYS)) * DAY_H
    axes.set_xlim(0, float(ends[-1]))
    axes.set_xticks(ends[:-1])
    axes.set_xticklabels([])
    axes.grid(axis="x", color="#dddddd", lw=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=8.5, length=2.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if last:
        for month, start, end in zip(MONTHS, ends[:-1], ends[1:], strict=True):
            axes.annotate(
                month[:3], ((start + end) / 2, 0), xytext=(0, -11), xycoords=("data", "axes fraction"),
                textcoords="offset points", ha="center", size=9, annotation_clip=False,
            )  # fmt: skip


def _middles(answer: SeasonAnswer) -> Array:
    return np.asarray(answer.year.start_h + WEEK_H / 2)


def _moisture(axes: "Axes", answer: SeasonAnswer) -> None:
    year = answer.year
    days = np.arange(len(year.daily_percent)) * DAY_H + DAY_H / 2
    base, rim = year.daily_percent[:, 0], year.daily_rim_percent
    axes.plot(days, rim, color=INKS["rim"], lw=0.9, ls=(0, (4, 1.5)), label="rim", gid="rim")
    axes.plot(days, base, color=INKS["base"], lw=1.6, label="base", gid="base")
    cut = answer.bowl.board.moisture_percent
    axes.axhline(cut, color="black", lw=0.7, ls=(0, (1, 2)), label="when sawn", gid="sawn")
    axes.set_ylim(bottom=0)
    axes.set_title("moisture, day by day [%]", loc="left", size=9.5, pad=3)
    axes.legend(loc="upper left", ncols=3, fontsize=8.5, frameon=False, borderaxespad=0.1)


def _numbers(plots: "list[Axes]", answer: SeasonAnswer, units: str) -> None:
    unit, size = ("in", float(INCH_MM)) if units == "in" else ("mm", 1.0)
    held = answer.asked.opened == LEFT_OPEN
    when = "while it stands open" if held else "when pressed open"
    named = {
        "rise_mm": (f"rise of the rim {when}, let go [{unit}]", size),
        "rim_out_of_level_mm": (f"rim out of level, greatest less least height [{unit}]", size),
        "base_rock_mm": (f"rocking of the base on a table: the rim goes down to one side [{unit}]", size),
        "split_chance": (f"chance of splitting {when} [bowls in 100]", 0.01),
    }
    middles = _middles(answer)
    for axes, name, worst in zip(plots, NUMBERS, answer.worst, strict=True):
        title, scale = named[name]
        values: Array = answer.series[name] / scale
        axes.plot(middles, values, color=INKS["one"], lw=1.3, gid=name)
        axes.set_title(title, loc="left", size=9.5, pad=3)
        if np.isfinite(values).any():
            _scale(axes, name, values)
        else:
            axes.text(
                0.5, 0.5, "no number: it does not stay open", transform=axes.transAxes, ha="center", size=9
            )
        axes.locator_params(axis="y", nbins=4)
        axes.ticklabel_format(axis="y", style="plain", useOffset=False)
        if np.isfinite(worst.value):
            place = ([middles[worst.week]], [worst.value / scale])
            axes.plot(*place, marker="v", ms=5, color="black", ls="", clip_on=False, gid=f"worst {name}")


def _scale(axes: "Axes", name: str, values: Array) -> None:
    """From nothing upward; the rise, whose changes are small beside it, round its own."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if name == "rise_mm":
        spare = 0.3 * max(high - low, 0.01 * high)
        axes.set_ylim(low - spare, high + spare)
    else:
        axes.set_ylim(0, 1.18 * max(high, LEAST_TOP))


def _words(figure: "Figure", answer: SeasonAnswer, units: str) -> None:
    wide = PAGE_WIDTH_mm - 2 * EDGE_mm
    top = PAGE_HEIGHT_mm - EDGE_mm - 3
    write_on(figure, EDGE_mm, top, seasons_headline(answer), 14, weight="bold")
    title = f"{answer.bowl.name}: a year, {answer.place.name}"
    write_on(figure, EDGE_mm, top - 5.5, first_rows(title, wide, 10, 1)[0], 10)
    y = 180.0
    for text, weight in _side(answer, units):
        for line in wrapped(text, PAGE_WIDTH_mm - EDGE_mm - SIDE_mm, 8.5, weight):
            write_on(figure, SIDE_mm, y, line, 8.5, weight=weight)
            y -= 4.1
        y -= 1.6


def _side(answer: SeasonAnswer, units: str) -> list[tuple[str, str]]:
    """The column of words: how to read the page, the worst weeks, advice."""
    held, hours = answer.asked.opened == LEFT_OPEN, len(answer.place.air_percent)
    since = day_of(int(answer.year.start_h[answer.left_open.opened_week]), hours)
    how = f"left open since the week of {since}" if held else "pressed open afresh each time"
    said = [(f"Kept {answer.asked.stored}, {how}.", "normal")]
    said += [("Triangles: the worst week.", "normal"), ("Worst", "bold")]
    for name, worst in zip(
        ("least rise", "out of level", "rocking", "splitting"), answer.worst, strict=True
    ):
        if np.isfinite(worst.value):
            value = chance_in_words(worst.value)
            if worst.number != "split_chance":
                value = show_length(worst.value, units=units, fine=worst.number != "rise_mm")
            day = day_of(int(answer.year.start_h[worst.week]), hours)
            said.append((f"{name}: {value}, week of {day}", "normal"))
    for event in answer.events[:1]:
        day = day_of(int(answer.year.start_h[event.worst_week]), hours)
        said.append((f"left open, turn {event.turn} is pulled tight, most in the week of {day}", "normal"))
    wait, dry = answer.advice.rest, how_dry_to_saw(answer)
    return [
        *said,
        ("Advice", "bold"),
        *([(f"{dry[:1].upper()}{dry[1:]}.", "normal")] if dry else []),
        (f"After a move of {wait.step_points:.1f} points let the board lie {wait.board_days[1]:.0f} days "
         f"({wait.board_days[0]:.0f} to {wait.board_days[2]:.0f}), the bowl {wait.bowl_days[1]:.0f} "
         f"({wait.bowl_days[0]:.0f} to {wait.bowl_days[2]:.0f}).", "normal"),
    ]  # fmt: skip
