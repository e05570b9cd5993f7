"""What ``fitsim seasons`` says: a bowl through the year, as sentences and tables."""

import io
import math
import textwrap
from typing import TYPE_CHECKING

import numpy as np

from fitsim.aftermove import AfterMove
from fitsim.arrays import Array
from fitsim.indoor import MONTHS, day_of
from fitsim.leftopen import PullTight
from fitsim.pressreport import plain_table
from fitsim.quantities import show_force, show_length
from fitsim.seasons import LEFT_OPEN, SeasonAnswer
from fitsim.tables import read_table
from fitsim.verdict import SPLIT_RISK, STATES
from fitsim.weather import MONTH_DAYS
from fitsim.weekseries import ELASTIC, NUMBERS, Worst
from fitsim.worstweeks import SMALL_PUSH_N
from fitsim.yearfit import DAY_H, WEEK_H

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["NAMES", "seasons_report"]

NAMES = {
    "base_rock_mm": "rocking of the base",
    "rim_out_of_level_mm": "rim out of level",
    "play_mm": "play",
    "split_chance": "chance of splitting",
}
"""The four numbers in a maker's words."""

EVENTS_SHOWN = 3


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
    sentences = (
        _state_sentence(answer),
        _moisture_sentence(answer),
        _wobble_sentence(answer, units),
        _split_sentence(answer),
    )
    for part in sentences:
        lines += textwrap.wrap(part, width)
    lines += ["", *_printed(_worst_table(answer, units), width), ""]
    lines += _printed(_month_table(answer, units), width)
    for title, parts in (
        ("Advice", _advice_sentences(answer, units)),
        (f"Left open since {_opened_month(answer)}", _left_open_sentences(answer, units)),
        ("How it was worked out", [*_models_sentences(answer), *answer.place.notes, *answer.bowl.notes]),
    ):
        lines += ["", title]
        for part in parts:
            lines += textwrap.wrap(part, width, initial_indent="  ", subsequent_indent="  ")
    lines += ["", *_printed(_finish_table(answer, units), width)]
    moved, washed = answer.after_move, answer.after_wash
    way = f"Moved, {moved.from_percent:.1f} to {moved.to_percent:.1f} %"
    lines += ["", *_printed(_after_table(moved, way, units), width)]
    lines += ["", *_printed(_after_table(washed, f"Washed at {washed.to_percent:.1f} %", units), width)]
    lines += textwrap.wrap(_wash_sentence(), width, initial_indent="  ", subsequent_indent="  ")
    lines += ["", "What was taken for granted:", *_assumed_lines(answer, width)]
    return "\n".join(lines) + "\n"


def _assumed_lines(answer: SeasonAnswer, width: int) -> list[str]:
    lines = []
    ours = ("board.moisture", "use.finish", "board.grain")
    for a in (*answer.assumptions, *(a for a in answer.bowl.assumptions if a.key in ours)):
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


def _day(answer: SeasonAnswer, week: int) -> str:
    return day_of(int(answer.year.start_h[week]), len(answer.place.air_percent))


def _opened_month(answer: SeasonAnswer) -> str:
    return _day(answer, answer.left_open.opened_week).split(" ")[1]


def _state_sentence(answer: SeasonAnswer) -> str:
    """In how many weeks it is in which state, if pressed open then; the elastic weeks by themselves."""
    springy = {e.week for e in answer.elastic if e.state}
    closed = [state for week, state in enumerate(answer.states) if week not in springy]
    said = [f"{state} in {closed.count(state)}" for state in STATES if state in closed]
    text = f"Pressed open week by week it {_joined(said)} weeks, by the closed form"
    if springy:
        seen = [answer.states[week] for week in sorted(springy)]
        counted = [f"{state} in {seen.count(state)}" for state in STATES if state in seen]
        text += f"; on the springy strip, in the weeks below, it {_joined(counted)}"
    return f"{text}."


def _joined(parts: list[str]) -> str:
    text = ", ".join(parts)
    return text.replace(SPLIT_RISK, f"is a {SPLIT_RISK}")


def _moisture_sentence(answer: SeasonAnswer) -> str:
    year = answer.year
    rim, base = year.rim_moisture_percent, year.base_moisture_percent
    dry, wet = (_day(answer, w) for w in (year.driest_week, year.wettest_week))
    return (
        f"Sawn at {answer.bowl.board.moisture_percent:g} % and kept {answer.asked.stored}, the rim goes "
        f"from {rim.min():.1f} % (week of {dry}) to {rim.max():.1f} % (week of {wet}), the base from "
        f"{base.min():.1f} to {base.max():.1f} %."
    )


def _wobble_sentence(answer: SeasonAnswer, units: str) -> str:
    rock, level, play = (
        f"{NAMES[w.number]} {_shown(w.number, w.value, units)} in the week of {_day(answer, w.week)}"
        if math.isfinite(w.value)
        else f"{NAMES[w.number]} without a number, as turns do not bind"
        for w in answer.worst[:3]
    )
    if answer.worst[2].model == ELASTIC:
        most = _shown("play_mm", answer.worst[2].closed_form, units)
        play += f" under a finger's push, up to {most} by the room in its seats"
    low, high = (show_length(v, units=units, fine=True) for v in answer.ends.rock_mm)
    pith = "" if low == high else f" The pith's distance not known, rocking may be {low} to {high}."
    return f"Wobble, each at its worst: {rock}; {level}; {play}.{pith}"


def _split_sentence(answer: SeasonAnswer) -> str:
    worst = answer.worst[NUMBERS.index("split_chance")]
    day = day_of(answer.worst_split_start_h, len(answer.place.air_percent))
    if not math.isfinite(worst.value):
        return "Splitting: no answer, as the bowl cannot stand open."
    strong, weak = answer.ends.split_chance
    reach = (
        f", from {_chance(strong)} if the wood is strong for its kind to {_chance(weak)} if it is weak"
        if math.isfinite(strong + weak)
        else ""
    )
    why = (
        "It stands all the year and its worst day decides."
        if answer.asked.opened == LEFT_OPEN
        else "The same wood is asked on every opening, so the year's chance is that of its worst day, not "
        "a sum."
    )
    return (
        f"Splitting: over the year about {_chance(worst.value)} ({worst.model}){reach}; worst day {day}, "
        f"by the closed form. {why}"
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
        closed = "" if w.number == "base_rock_mm" else _shown(w.number, w.closed_form, units)
        value = _shown(w.number, w.value, units)
        by = w.model.removeprefix("closed form, ").removesuffix(", pull by closed form")
        table.add_row(NAMES[w.number], _day(answer, w.week), value, closed, by, _months(w))
    return table


def _months(worst: Worst) -> str:
    """Runs of months, taken round the turn of the year: "Dec to Mar"."""
    near = [month in worst.months for month in MONTHS]
    if not any(near):
        return "hardly moves"
    if all(near):
        return "all year"
    runs = []
    for start in (m for m in range(12) if near[m] and not near[m - 1]):
        end = start
        while near[(end + 1) % 12]:
            end += 1
        first, last = MONTHS[start][:3], MONTHS[end % 12][:3]
        runs.append(first if start == end else f"{first} to {last}")
    return ", ".join(runs)


def _monthly(values: Array, start_h: Array) -> Array:
    """Means over the weeks whose middle lies in each month, shape (12,); nan where there is none."""
    ends = np.cumsum(MONTH_DAYS) * DAY_H
    month = np.minimum(np.searchsorted(ends, start_h + WEEK_H / 2, side="right"), 11)
    return np.array([np.mean(values[month == m]) if np.any(month == m) else np.nan for m in range(12)])


def _month_table(answer: SeasonAnswer, units: str) -> "Table":
    year = answer.year
    table = plain_table(
        "Month, closed form", "base", "rim", "rocking", "out of level", "play up to", "splits"
    )
    columns = [_monthly(answer.series.closed[name], year.start_h) for name in NUMBERS]
    base = _monthly(year.base_moisture_percent, year.start_h)
    rim = _monthly(year.rim_moisture_percent, year.start_h)
    for m, month in enumerate(MONTHS):
        cells = [_shown(name, column[m], units) for name, column in zip(NUMBERS, columns, strict=True)]
        table.add_row(month, f"{base[m]:.1f} %", f"{rim[m]:.1f} %", *cells)
    return table


def _days(values: tuple[float, float, float]) -> str:
    quick, likely, slow = (f"{v:.0f}" for v in values)
    return f"{likely} days ({quick} to {slow})"


def _advice_sentences(answer: SeasonAnswer, units: str) -> list[str]:
    saw, rest = answer.advice.saw_at, answer.advice.rest
    worst, now = (show_length(v, units=units, fine=True) for v in (saw.worst_mm, saw.worst_as_is_mm))
    return [
        f"Dry the board to {saw.moisture_percent:.1f} % before sawing (anything from {saw.low_percent:.1f} "
        f"to {saw.high_percent:.1f} % is nearly as good): rocking and play together then stay within "
        f"{worst}, just after a move in the worst week too; sawn at "
        f"{answer.bowl.board.moisture_percent:g} % they come to {now}.",
        f"After a move of {rest.step_points:.1f} points, let the board lie {_days(rest.board_days)} before "
        f"sawing, free to the air all round, and the bowl {_days(rest.bowl_days)}: all of it is then "
        "within half a point. The days in brackets are the quick and the slow end of what is known of "
        "diffusion.",
        "What a finish does, and how much hangs on the speed of diffusion: the table below, moisture "
        "alone; fit has the film in the slot.",
    ]


def _finish_table(answer: SeasonAnswer, units: str) -> "Table":
    table = plain_table("Finish", "rim swings", "base swings", "apart", "rocking", "play up to")
    for f in (*answer.advice.finishes, *answer.advice.ends):
        name = f.name + (" (this bowl's)" if f.name == answer.bowl.use.finish else "")
        name += " of diffusion" if f.name.endswith(" end") else ""
        lengths = [show_length(v, units=units, fine=True) for v in (f.rock_mm, f.play_mm)]
        points = [f"{v:.1f} pts" for v in (f.rim_swing_points, f.base_swing_points)]
        table.add_row(name, *points, f"{f.apart_points:.2f} pts", *lengths)
    return table


def _wash_sentence() -> str:
    rows = {row["quantity"]: row for row in read_table("wash")}
    water, wet = rows["absorption_across"], rows["wet_minutes"]
    return (
        f"ESTIMATE: bare wood wet for {wet['value']} min ({wet['low']} to {wet['high']}), taking up "
        f"{water['value']} {water['unit']} across the grain ({water['low']} to {water['high']}, "
        f"{water['mark']}); at most, as water in the skin leaves sooner."
    )


def _after_table(moved: AfterMove, way: str, units: str) -> "Table":
    table = plain_table(way, "base", "turn 1", "rim", "rocking", "play up to", "pull if open")
    for i, hours in enumerate(moved.time_h):
        days = f"{hours / DAY_H:.0f} day{'s' if hours > DAY_H else ''}"
        shown = f"after {hours:.0f} h" if hours < DAY_H else f"after {days}"
        shown = shown if hours else "just after"
        parts = (moved.base_moisture_percent, moved.first_moisture_percent, moved.rim_moisture_percent)
        lengths = [
            show_length(float(v[i]), units=units, fine=True) for v in (moved.base_rock_mm, moved.play_mm)
        ]
        pull = f"{moved.hoop_MPa[i]:.1f} MPa" if math.isfinite(moved.hoop_MPa[i]) else "-"
        table.add_row(shown, *(f"{p[i]:.1f} %" for p in parts), *lengths, pull)
    return table


def _left_open_sentences(answer: SeasonAnswer, units: str) -> list[str]:
    held, stand = answer.left_open, answer.standing
    if np.any(np.isnan(held.held_share)):
        return [
            "It cannot be left open: in that week it will not open or falls through, by the closed form."
        ]
    said = [_event_sentence(answer, event) for event in answer.events[:EVENTS_SHOWN]]
    if len(answer.events) > EVENTS_SHOWN:
        said.append(f"{len(answer.events) - EVENTS_SHOWN} weaker spells more (--json lists them).")
    if not answer.events:
        said.append("No turn is pulled tight.")
    loose = np.flatnonzero(held.loose.any(axis=1))
    if len(loose):
        turns = ", ".join(str(j + 1) for j in np.flatnonzero(held.loose.any(axis=0)))
        said.append(
            f"Comes loose: turn {turns} has room all round in {len(loose)} weeks, first in the week of "
            f"{_day(answer, int(loose[0]))}; what it does then is not followed."
        )
    force = [show_force(v, units=units) for v in stand.collapse_N]
    first, later = (
        [show_length(v, units=units) for v in ends] for ends in (stand.set_rise_mm, stand.later_rise_mm)
    )
    said.append(
        f"After months the push from below that frees it has fallen to between {force[0]} and {force[2]}, "
        f"likely {force[1]}. Taken down it stays {first[1]} high ({first[0]} to {first[2]}), later "
        f"{later[1]} ({later[0]} to {later[2]}), unless pushed flat. Wood under load for a year bears "
        f"{100 * stand.strength_left:.0f} % of its strength, about as much less as its stress has relaxed: "
        f"neither is in the chance above. ESTIMATE: {stand.source}."
    )
    return said


def _event_sentence(answer: SeasonAnswer, event: PullTight) -> str:
    first, last, worst = (_day(answer, w) for w in (event.first_week, event.last_week, event.worst_week))
    span = f"week of {first}" if first == last else f"weeks of {first} to {last}"
    on = "the base" if event.turn == 1 else f"turn {event.turn - 1}"
    return (
        f"Pulled tight: turn {event.turn} on {on}, {span}; worst in the week of {worst}, "
        f"{event.difference_points:.2f} points drier, {event.hoop_MPa:.1f} MPa along the turn, "
        f"{100 * event.strength_share:.0f} % of the strength across the grain where it crosses the grain."
    )


def _models_sentences(answer: SeasonAnswer) -> list[str]:
    closed = (
        "Every week has the closed form: rigid turns on level seats where each slot closes first. Its rim "
        "is a staircase, out of level by about one turn's drop, its play is the most that the seats allow, "
        "and it splits less than a springy strip."
    )
    if answer.asked.rigid:
        return [f"{closed} The elastic strip was left out."]
    good = [e for e in answer.elastic if not e.trouble]
    said = [closed]
    if good:
        weeks = ", ".join(_day(answer, e.week) for e in good)
        said.append(
            f"Elastic strip, pressed open from flat: weeks of {weeks}. Its play is the rim's travel under "
            f"{SMALL_PUSH_N:g} N down and up with every touching point stuck."
        )
    if good and answer.asked.opened == LEFT_OPEN:
        said.append(
            "From then on the stress and level of that opening are kept, held by friction, and what each "
            "week pulls tight is added by the closed form. How the touching places move and bend a turn in "
            "between is not followed."
        )
    for e in answer.elastic:
        if e.trouble:
            said.append(f"Week of {_day(answer, e.week)}: no elastic answer ({e.trouble}).")
    return said
