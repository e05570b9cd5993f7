"""What ``fitsim seasons`` says: a bowl through the year, as sentences and tables and as one JSON object."""

import io
import math
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsim.answer import VERSION
from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.indoor import MONTHS, day_of
from fitsim.pressreport import plain_table
from fitsim.quantities import show_length
from fitsim.seasons import NUMBERS, SeasonAnswer, Worst
from fitsim.weather import MONTH_DAYS
from fitsim.wording import CAUTIONS
from fitsim.worstweeks import SMALL_PUSH_N, ElasticWeek
from fitsim.yearfit import DAY_H, WEEK_H

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["NAMES", "month_and_day", "seasons_object", "seasons_report"]

NAMES = {
    "base_rock_mm": "rocking of the base",
    "rim_out_of_level_mm": "rim out of level",
    "play_mm": "play",
    "split_chance": "chance of splitting",
}
"""The four numbers in a maker's words."""


def month_and_day(hour: float, hours: int) -> str:
    """Date of an hour of the year, month and day as numbers.

    Parameters
    ----------
    hour : float
        Counted from 0 at the turn of the year. [h]
    hours : int
        Hours of the year: 8784 in a leap year.

    Returns
    -------
    str
        For example "02-12".

    Examples
    --------
    >>> month_and_day(42 * 24 + 5, 8760)
    '02-12'
    """
    day, month = day_of(int(hour), hours).split(" ")
    return f"{MONTHS.index(month) + 1:02d}-{int(day):02d}"


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def seasons_object(answer: SeasonAnswer) -> dict[str, Any]:
    """The answer as plain lists and dictionaries.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.

    Returns
    -------
    dict
        Lengths in mm, moisture in percent; null where there is no number.
    """
    year, hours = answer.year, len(answer.place.air_percent)
    day = month_and_day(answer.worst_split_start_h, hours)
    return {
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        "place": {"name": answer.place.name, "air": answer.place.kind, "notes": list(answer.place.notes)},
        "stored": answer.asked.stored,
        "opened": answer.asked.opened,
        "weeks": [_week_object(answer, week) for week in range(len(year.start_h))],
        "worst": {w.number: _worst_object(answer, w) for w in answer.worst},
        "split_over_the_year": {
            "chance": _number(_worst_of(answer, "split_chance").value),
            "model": _worst_of(answer, "split_chance").model,
            "worst_day": day,
            "chance_that_day_closed_form": answer.day_split_chance,
        },
        "elastic": [_elastic_object(e) for e in answer.elastic],
        "assumptions": [asdict(a) for a in (*answer.assumptions, *answer.bowl.assumptions)],
        "cautions": list(CAUTIONS),
    }


def _worst_of(answer: SeasonAnswer, number: str) -> Worst:
    return answer.worst[NUMBERS.index(number)]


def _elastic_object(found: ElasticWeek) -> dict[str, Any]:
    return {k: _number(v) if isinstance(v, float) else v for k, v in asdict(found).items()}


def _week_object(answer: SeasonAnswer, week: int) -> dict[str, Any]:
    """One week; its numbers are the elastic strip's where there is a fit, the closed form's elsewhere."""
    year = answer.year
    closed = {name: _number(getattr(year, name)[week]) for name in NUMBERS}
    told, fits = dict(closed), [e for e in answer.elastic if e.week == week and not e.trouble]
    for fit in fits:
        for name in NUMBERS[1:]:
            told[name] = _number(getattr(fit, name)) if math.isfinite(getattr(fit, name)) else closed[name]
    return {
        "start": month_and_day(year.start_h[week], len(answer.place.air_percent)),
        "base_moisture_percent": float(year.base_moisture_percent[week]),
        "rim_moisture_percent": float(year.rim_moisture_percent[week]),
        **told,
        "model": "elastic" if fits else "closed form",
        "closed_form": closed,
    }


def _worst_object(answer: SeasonAnswer, worst: Worst) -> dict[str, Any]:
    start_h = answer.year.start_h[worst.week]
    return {
        "start": month_and_day(start_h, len(answer.place.air_percent)),
        "week": worst.week,
        "value": _number(worst.value),
        "model": worst.model,
        "closed_form": _number(worst.closed_form),
        "months": list(worst.months),
    }


def seasons_report(answer: SeasonAnswer, *, units: str, width: int = 88) -> str:
    """The answer as text.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.
    units : str
        "in" or "mm".
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print.
    """
    lines = [f"{answer.bowl.name}, a year in: {answer.place.name}"]
    for part in (_moisture_sentence(answer), _split_sentence(answer)):
        lines += textwrap.wrap(part, width)
    lines += ["", *_printed(_worst_table(answer, units), width), ""]
    lines += _printed(_month_table(answer, units), width)
    lines += ["", *textwrap.wrap(_models_sentence(answer), width)]
    for note in (*answer.place.notes, *answer.bowl.notes):
        lines += textwrap.wrap(note, width)
    lines += ["", "What was taken for granted:", *_assumed_lines(answer.bowl, answer, width)]
    return "\n".join(lines) + "\n"


def _assumed_lines(bowl: Bowl, answer: SeasonAnswer, width: int) -> list[str]:
    lines = []
    ours = ("board.moisture", "use.finish", "board.grain")
    for a in (*answer.assumptions, *(a for a in bowl.assumptions if a.key in ours)):
        mark = "ESTIMATE" if a.mark == "estimated" else a.mark
        reach = f" ({a.low} to {a.high})" if a.low != a.high else ""
        text = f"{a.key} {a.value}{reach}, {mark}: {a.source}"
        lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    return lines or ["  nothing that only this answer uses"]


def _printed(table: "Table", width: int) -> list[str]:
    from rich.console import Console

    stream = io.StringIO()
    console = Console(file=stream, width=width, highlight=False, color_system=None)
    console.print(table)
    return [line.rstrip() for line in stream.getvalue().splitlines()]


def _moisture_sentence(answer: SeasonAnswer) -> str:
    year, hours = answer.year, len(answer.place.air_percent)
    rim, base = year.rim_moisture_percent, year.base_moisture_percent
    dry, wet = (day_of(int(year.start_h[w]), hours) for w in (year.driest_week, year.wettest_week))
    return (
        f"Sawn at {answer.bowl.board.moisture_percent:g} % and kept {answer.asked.stored}, the rim goes "
        f"from {rim.min():.1f} % (week of {dry}) to {rim.max():.1f} % (week of {wet}), the base from "
        f"{base.min():.1f} to {base.max():.1f} %."
    )


def _split_sentence(answer: SeasonAnswer) -> str:
    worst = _worst_of(answer, "split_chance")
    day = day_of(answer.worst_split_start_h, len(answer.place.air_percent))
    return (
        f"Splitting: over the year about {_chance(worst.value)} ({worst.model}); the worst day is {day}. "
        "The same wood is asked on every opening, so the year's chance is that of its worst day, not a sum."
    )


def _chance(value: float) -> str:
    return f"{100 * value:.1f} in 100" if math.isfinite(value) else "no answer"


def _shown(number: str, value: float, units: str) -> str:
    if not math.isfinite(value):
        return "-"
    return (
        f"{100 * value:.1f} %" if number == "split_chance" else show_length(value, units=units, fine=True)
    )


def _worst_table(answer: SeasonAnswer, units: str) -> "Table":
    table = plain_table("Worst", "week of", "value", "closed form", "by", "worst in")
    for w in answer.worst:
        start = day_of(int(answer.year.start_h[w.week]), len(answer.place.air_percent))
        months = _span(w.months)
        closed = "" if w.number == "base_rock_mm" else _shown(w.number, w.closed_form, units)
        by = "exact map" if w.number == "base_rock_mm" else w.model
        table.add_row(NAMES[w.number], start, _shown(w.number, w.value, units), closed, by, months)
    return table


def _span(months: tuple[str, ...]) -> str:
    """Runs of months, taken round the turn of the year: "Dec to Mar"."""
    near = [month in months for month in MONTHS]
    if not any(near):
        return "hardly moves"
    if all(near):
        return "all year"
    starts = [m for m in range(12) if near[m] and not near[m - 1]]
    runs = []
    for start in starts:
        end = start
        while near[(end + 1) % 12]:
            end += 1
        first, last = MONTHS[start][:3], MONTHS[end % 12][:3]
        runs.append(first if start == end else f"{first} to {last}")
    return ", ".join(runs)


def monthly(values: Array, start_h: Array) -> Array:
    """Means over the weeks whose middle lies in each month, shape (12,); nan where there is none."""
    ends = np.cumsum(MONTH_DAYS) * DAY_H
    month = np.minimum(np.searchsorted(ends, start_h + WEEK_H / 2, side="right"), 11)
    return np.array([np.mean(values[month == m]) if np.any(month == m) else np.nan for m in range(12)])


def _month_table(answer: SeasonAnswer, units: str) -> "Table":
    year = answer.year
    table = plain_table(
        "Month, closed form", "base", "rim", "rocking", "out of level", "play up to", "splits"
    )
    columns = [monthly(getattr(year, name), year.start_h) for name in NUMBERS]
    base = monthly(year.base_moisture_percent, year.start_h)
    rim = monthly(year.rim_moisture_percent, year.start_h)
    for m, month in enumerate(MONTHS):
        if not np.isfinite(base[m]):
            continue
        cells = [_shown(name, column[m], units) for name, column in zip(NUMBERS, columns, strict=True)]
        table.add_row(month, f"{base[m]:.1f} %", f"{rim[m]:.1f} %", *cells)
    return table


def _models_sentence(answer: SeasonAnswer) -> str:
    closed = (
        "Every week is worked out in the closed form: level seats where each slot closes first; its rim "
        "is a staircase, out of level by about one turn's drop, and its play is what the seats allow at "
        "most."
    )
    if answer.asked.rigid:
        return f"{closed} The elastic strip was left out."
    good = [e for e in answer.elastic if not e.trouble]
    failed = [e for e in answer.elastic if e.trouble]
    weeks = ", ".join(day_of(int(answer.year.start_h[e.week]), WEEK_H * 52) for e in good)
    text = (
        f"{closed} Elastic strip: only in the weeks of {weeks}, opened afresh; its play is the rim's "
        f"travel under {SMALL_PUSH_N:g} N down and up with every touching point stuck."
        if good
        else f"{closed} No week has an elastic answer."
    )
    for e in failed:
        day = day_of(int(answer.year.start_h[e.week]), WEEK_H * 52)
        text += f" Week of {day}: no elastic answer ({e.trouble})."
    return text
