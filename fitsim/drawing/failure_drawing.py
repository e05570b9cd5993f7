"""The drawn explanation: chances of the causes, and what each expects against what was seen."""

from typing import TYPE_CHECKING

import numpy as np

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
from fitsim.failure.cause_chances import percent_words
from fitsim.failure.failed_samples import LOOKS
from fitsim.failure.matching import state_seen
from fitsim.failure.observations import NINETEEN_IN_20, measure_named
from fitsim.failure.predict import HELD_STATES, Predicted
from fitsim.failure.why_failed import WhyFailed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["explain_figure"]

MOST_CAUSES = 5
MOST_READINGS = 6
TOP_mm, FOOT_mm = 176.0, 38.0
NAMES_mm, CHANCE_mm, STATE_mm, GAP_mm = 62.0, 28.0, 40.0, 6.0
SHOWN_SHARE = (0.05, 0.95)
STATE_TONES = ("0.25", "0.5", "0.75", "0.95")
STATE_HATCHES = ("", "////", "....", "")


def explain_figure(answer: WhyFailed, *, units: str) -> "Figure":
    """Draw one page: a row for each likely cause, a column for what it expects of each thing.

    Parameters
    ----------
    answer : WhyFailed
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
        width = PAGE_WIDTH_mm - 2 * EDGE_mm
        for i, line in enumerate(first_rows(answer.bowl.name, width, 15, 1, "bold")):
            write_on(figure, EDGE_mm, PAGE_HEIGHT_mm - EDGE_mm - 5 - 7 * i, line, 15, weight="bold")
        seen = "; ".join(str(s) for s in answer.explanation.observed.seen) or "nothing was seen"
        for i, line in enumerate(first_rows(f"Seen: {seen}.", width, 10.5, 2)):
            write_on(figure, EDGE_mm, PAGE_HEIGHT_mm - EDGE_mm - 13 - 5 * i, line, 10.5)
        rows = min(len(answer.told), MOST_CAUSES, len(answer.posterior.predicted))
        _names(figure, answer, rows)
        _chances(figure, answer, rows)
        _states(figure, answer, rows)
        _readings(figure, answer, rows, units)
        foot = (
            "Bars: nine in ten of the bowls each cause would give. Dashed line and grey band: what was "
            "measured, with its uncertainty. A column without a line is the measurement to take next. "
            "How common and how large the causes are is an estimate."
        )
        for i, line in enumerate(wrapped(foot, width, 8.5)):
            write_on(figure, EDGE_mm, 14 - 4 * i, line, 8.5)
    return figure


def _row_mm(rows: int) -> float:
    return (TOP_mm - FOOT_mm - 12) / max(rows, 1)


def _names(figure: "Figure", answer: WhyFailed, rows: int) -> None:
    for i, told in enumerate(answer.told[:rows]):
        middle = TOP_mm - 12 - (i + 0.5) * _row_mm(rows)
        lines = first_rows(told.chance.name, NAMES_mm - 4, 10, 3, "bold")
        for k, line in enumerate(lines):
            write_on(figure, EDGE_mm, middle + 2 * (len(lines) - 1) - 4.4 * k - 1, line, 10, weight="bold")


def _column(figure: "Figure", label: str, left: float, wide: float, rows: int, title: str) -> "Axes":
    axes = page_axes(figure, label, (left, FOOT_mm, wide, TOP_mm - FOOT_mm - 12))
    axes.set_ylim(rows - 0.5, -0.5)
    axes.set_yticks([])
    axes.tick_params(labelsize=8, length=2.5)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    for k, line in enumerate(reversed(wrapped(title, wide, 8.5))):
        write_on(figure, left, TOP_mm - 10 + 3.8 * k, line, 8.5)
    return axes


def _chances(figure: "Figure", answer: WhyFailed, rows: int) -> None:
    axes = _column(figure, "chance", EDGE_mm + NAMES_mm, CHANCE_mm, rows, "chance")
    chance = [told.chance.chance for told in answer.told[:rows]]
    axes.barh(range(rows), chance, height=0.5, color="0.35")
    for i, c in enumerate(chance):
        axes.text(c + 0.03, i, percent_words(c), va="center", fontsize=9)
    axes.set_xlim(0, 1.25)
    axes.set_xticks([0, 0.5, 1])


def _states(figure: "Figure", answer: WhyFailed, rows: int) -> None:
    """What each cause would have done to bowls like this one, before this one was seen."""
    left = EDGE_mm + NAMES_mm + CHANCE_mm + GAP_mm
    observed = state_seen(answer.explanation.observed.seen)
    title = "verdict predicted" + (f" (seen: {observed})" if observed else "")
    axes = _column(figure, "state", left, STATE_mm, rows, title)
    for i, predicted in enumerate(answer.posterior.predicted[:rows]):
        mean, start = predicted.state.mean(axis=0), 0.0
        for k, state in enumerate(HELD_STATES):
            axes.barh(
                i, float(mean[k]), left=start, height=0.5, color=STATE_TONES[k], hatch=STATE_HATCHES[k],
                ec="black", lw=1.6 if state == observed else 0.4, label=state if i == 0 else None,
            )  # fmt: skip
            start += float(mean[k])
    axes.set_xlim(0, 1)
    axes.set_xticks([0, 1])
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.06), fontsize=6.5, ncol=2, frameon=False)


def _shown_keys(answer: WhyFailed) -> list[str]:
    keys = [m.key for m in answer.explanation.observed.measured if m.key not in LOOKS]
    asked = [m.key for r in answer.next_readings for m in (r.measure, *r.together)]
    keys += [key for key in asked if key not in LOOKS]
    return list(dict.fromkeys(keys))[:MOST_READINGS]


def _readings(figure: "Figure", answer: WhyFailed, rows: int, units: str) -> None:
    left = EDGE_mm + NAMES_mm + CHANCE_mm + STATE_mm + 2 * GAP_mm
    keys = _shown_keys(answer)
    wide = (PAGE_WIDTH_mm - EDGE_mm - left - GAP_mm * len(keys)) / max(len(keys), 1)
    for k, key in enumerate(keys):
        unit = measure_named(key).unit
        inches = unit == "mm" and units == "in"
        shown = "in" if inches else unit
        title = f"{key.replace('_', ' ')} [{shown}]"
        axes = _column(figure, key, left + k * (wide + GAP_mm), wide, rows, title)
        _bars(axes, key, answer.posterior.predicted[:rows], 1 / 25.4 if inches else 1.0)
        for reading in answer.explanation.observed.measured:
            if reading.key == key:
                _mark(axes, reading.value, reading.sd, 1 / 25.4 if inches else 1.0)


def _bars(axes: "Axes", key: str, predicted: tuple[Predicted, ...], factor: float) -> None:
    for i, f in enumerate(predicted):
        low, middle, high = np.quantile(factor * f.readings[key], [SHOWN_SHARE[0], 0.5, SHOWN_SHARE[1]])
        axes.plot([low, high], [i, i], color="black", lw=3.2, solid_capstyle="butt")
        axes.plot([middle], [i], marker="o", ms=5, color="white", mec="black")


def _mark(axes: "Axes", value: float, sd: float, factor: float) -> None:
    axes.axvline(factor * value, color="black", lw=1.2, dashes=(4, 2))
    half = NINETEEN_IN_20 * sd
    axes.axvspan(factor * (value - half), factor * (value + half), color="0.85", zorder=-1, lw=0)
