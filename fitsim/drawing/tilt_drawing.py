"""The drawn chance of each state against the tilt: stacked, told apart by pattern as well as by shade."""

import math
from typing import TYPE_CHECKING

import numpy as np

from fitsim.bowl.verdict import LOCKS, STATES
from fitsim.drawing.map_drawing import LOOKS
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
from fitsim.report.tilt_report import best_on_scale, mostly_locks_deg, range_deg
from fitsim.tilt.best_tilt import MOSTLY, TiltAnswer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["tilt_figure"]

PLOT_mm = (34.0, 40.0, 180.0, 120.0)
SIDE_mm = 222.0
QUESTION = "Which tilt? What becomes of this bowl, sawn again and again, at each tilt of the table."
LEAST_SHOWN = 0.005


def tilt_figure(answer: TiltAnswer) -> "Figure":
    """Draw one page: the chance of each state against the tilt on the scale, the range, the best tilt.

    Parameters
    ----------
    answer : TiltAnswer
        The answer.

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        axes = page_axes(figure, "tilt", PLOT_mm)
        shown = _chances(axes, answer)
        _marks(axes, answer)
        _names(figure, shown)
        top = PAGE_HEIGHT_mm - EDGE_mm - 5
        name = first_rows(answer.bowl.name, PAGE_WIDTH_mm - 2 * EDGE_mm, 15, 2, "bold")
        for i, line in enumerate(name):
            write_on(figure, EDGE_mm, top - 7 * i, line, 15, weight="bold")
        write_on(figure, EDGE_mm, top - 7 * len(name), QUESTION, 10.5)
        foot = (
            f"A curve from {answer.curve.presses} samples of this bowl pressed on the elastic strip; dots "
            "with bars: chance of locking and its standard error from samples pressed at that tilt. "
            "The range marked on top is that of the bowl cut as planned."
        )
        for i, line in enumerate(wrapped(foot, PAGE_WIDTH_mm - 2 * EDGE_mm, 8.5)):
            write_on(figure, EDGE_mm, 20 - 4 * i, line, 8.5)
    return figure


def _chances(axes: "Axes", answer: TiltAnswer) -> list[str]:
    """Bands from locks at the bottom upward; names of those that can be seen."""
    tilt = np.degrees(answer.curve.tilt_rad - answer.bowl.cut.scale_offset_rad)
    lower, shown = np.zeros(len(tilt)), []
    for state in reversed(STATES):
        chance = answer.curve.chance[:, STATES.index(state)]
        tone, hatch, ink = LOOKS[state]
        upper = lower + chance
        axes.fill_between(tilt, lower, upper, fc=tone, ec=ink, hatch=hatch, lw=0, gid=state)
        if float(chance.max()) > LEAST_SHOWN:
            shown.append(state)
            axes.plot(tilt, upper, color="black", lw=0.9, clip_on=False)
        lower = upper
    axes.set(xlim=(float(tilt[0]), float(tilt[-1])), ylim=(0, 1))
    axes.set_xlabel("tilt on the scale [deg]", fontsize=10.5)
    axes.set_ylabel("share of bowls", fontsize=10.5)
    axes.tick_params(labelsize=9.5, length=3.5)
    return shown


def _marks(axes: "Axes", answer: TiltAnswer) -> None:
    """The range as a bar above the plot with its ends carried down; the best tilt as a dashed line."""
    offset = answer.bowl.cut.scale_offset_rad
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.2}
    best = math.degrees(answer.best_tilt_rad - offset)
    axes.plot([best, best], [0, 1], color="black", lw=1.2, ls=(0, (5, 3)))
    name = "best" if answer.span is not None else "most lock at"
    share = min(max(float(answer.at_best.chance[-1]), 0.0), 1.0)
    text = f"{name} {best_on_scale(answer)} deg: {100 * share:.0f} in 100 lock"
    side = "left" if best < sum(axes.get_xlim()) / 2 else "right"
    axes.annotate(
        text, (best, 0.12), xytext=(6 if side == "left" else -6, 0), textcoords="offset points",
        ha=side, va="center", size=9, bbox=box,
    )  # fmt: skip
    for c in (answer.at_best, *answer.at_ends):
        share = min(max(float(c.chance[-1]), 0.0), 1.0)
        axes.errorbar(
            math.degrees(c.tilt_rad - offset), share, yerr=float(c.se[-1]), color="black", marker="o",
            ms=4, mfc="white", capsize=3, lw=1.2, clip_on=False, zorder=5,
        )  # fmt: skip
    _own_tilt(axes, math.degrees(float(answer.bowl.cut.scale_tilt_rad[0])))
    _mostly(axes, answer)
    if answer.span is None:
        axes.text(0.5, 1.04, "no tilt locks as planned", transform=axes.transAxes, ha="center", size=9)
        return
    low, high = (math.degrees(e.tilt_rad - offset) for e in (answer.span.low, answer.span.high))
    for end in (low, high):
        axes.plot([end, end], [0, 1.035], color="black", lw=1.2, clip_on=False)
    axes.plot([low, high], [1.035, 1.035], color="black", lw=3.0, clip_on=False, solid_capstyle="butt")
    words = "locks as planned: {} to {} deg".format(*range_deg(answer, answer.span))
    axes.text((low + high) / 2, 1.055, words, ha="center", size=9)


def _mostly(axes: "Axes", answer: TiltAnswer) -> None:
    """Where nine in ten lock: a line with ends at that share."""
    ends = mostly_locks_deg(answer)
    if ends is None:
        return
    axes.plot(ends, [MOSTLY, MOSTLY], color="black", lw=1.2, marker="|", ms=9, gid="nine in ten")
    words = f"at least {100 * MOSTLY:.0f} in 100 lock: {ends[0]:.1f} to {ends[1]:.1f} deg"
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.2}
    axes.annotate(
        words, (sum(ends) / 2, MOSTLY), xytext=(0, -13), textcoords="offset points",
        ha="center", va="center", size=9, bbox=box, zorder=6,
    )  # fmt: skip


def _own_tilt(axes: "Axes", own_deg: float) -> None:
    """The tilt in the bowl's file: a mark at the foot of the plot, or words at the edge it lies beyond."""
    low, high = axes.get_xlim()
    at = min(max(own_deg, low), high)
    side = "left" if at < (low + high) / 2 else "right"
    words = f"this bowl's own {own_deg:.1f} deg"
    if at == own_deg:
        axes.plot([own_deg], [0], marker="^", ms=9, color="black", mec="white", clip_on=False, zorder=6,
                  gid="own tilt")  # fmt: skip
    else:
        words += " lies beyond this picture"
    axes.annotate(
        words, (at, 0.035), xytext=(8 if side == "left" else -8, 0), textcoords="offset points",
        ha=side, va="center", size=9, bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2},
    )  # fmt: skip


def _names(figure: "Figure", shown: list[str]) -> None:
    """A column of boxes in the order of the bands, top band first."""
    from matplotlib.patches import Rectangle

    for i, state in enumerate(reversed(shown or [LOCKS])):
        tone, hatch, ink = LOOKS[state]
        low = 148.0 - 12 * i
        place = (SIDE_mm / PAGE_WIDTH_mm, low / PAGE_HEIGHT_mm)
        for style in ({"fc": tone, "ec": ink, "hatch": hatch, "lw": 0}, {"fill": False, "lw": 0.8}):
            figure.add_artist(
                Rectangle(
                    place, 12 / PAGE_WIDTH_mm, 8 / PAGE_HEIGHT_mm, transform=figure.transFigure, **style
                )
            )
        write_on(figure, SIDE_mm + 15, low + 4, state, 10, va="center")
