"""A bowl through the year in words: what ``fitsim seasons`` and the page say, however it is set out."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.fit import swelling_note
from fitsim.bowl.verdict import LOCKS, NOT_DECIDED, SPLIT_RISK, STATES
from fitsim.climate.indoor_air import MONTHS, day_of
from fitsim.climate.weather import MONTH_DAYS
from fitsim.failure.observations import measure_named
from fitsim.quantities import show_force, show_length, show_small
from fitsim.report.common_words import chance_in_words, taken_as
from fitsim.report.press_tables import plain_table
from fitsim.seasons.after_move import AfterMove, PartsAfter
from fitsim.seasons.left_open import NOT_FOLLOWED, PullTight
from fitsim.seasons.moisture_year import DAY_H, WEEK_H
from fitsim.seasons.year import LEFT_OPEN, NUMBERS, SeasonAnswer, Worst
from fitsim.strip.release import NEARLY_ALL_USED
from fitsim.tables import read_table

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["NAMES", "YearInWords", "bowl_notes", "how_dry_to_saw", "seasons_headline", "year_in_words"]

NAMES = {
    "rise_mm": "rise",
    "rim_out_of_level_mm": "rim out of level",
    "base_rock_mm": "rocking of the base",
    "split_chance": "chance of splitting",
}
"""The numbers in a maker's words."""

SPEEDS = {
    "slow end": "wood takes up water slowly",
    "quick end": "wood takes up water quickly",
}
"""This bowl's finish at both ends of what is known of diffusion, beside the finishes."""

RULE_SHOWS_mm = 25.4 / 64
"""Finest division of a rule: what gains less than this on the table is no advice. [mm]"""

MOISTURES = ("moisture of base", "of turn 1", "of rim")
"""Heads of what :func:`_moist_cells` tells."""

EVENTS_SHOWN = 3
WEEKS_SHOWN = 3


@dataclass(frozen=True)
class YearInWords:
    """What there is to say of a bowl's year, each sentence and table once; nothing is set out here.

    Attributes
    ----------
    headline : str
        The conclusion in a few capital words.
    state, split, wobble, moisture : str
        One sentence each: in which state it is when, how likely it splits, how it rocks and leans, and
        how dry and how damp it gets.
    advice : tuple[str, ...]
        What to do.
    opened_month : str
        Month since which it is followed as left open.
    left_open : tuple[str, ...]
        What becomes of it when it is left standing open.
    how : tuple[str, ...]
        How the numbers were found.
    notes : tuple[str, ...]
        What the place and the bowl have to say of themselves.
    wash : str
        What a wash was taken to be.
    granted : tuple[str, ...]
        What was taken where nobody said it, each with its source.
    worst, month, finish : rich.table.Table
        The worst of each number; the year month by month; what finishes do.
    after_move : tuple of rich.table.Table
        The hours and days after a move: one table, and a second one where the bowl is kept flat, as a bowl
        left open then has other moistures.
    after_wash : rich.table.Table
        The same after a wash.
    """

    headline: str
    state: str
    split: str
    wobble: str
    moisture: str
    advice: tuple[str, ...]
    opened_month: str
    left_open: tuple[str, ...]
    how: tuple[str, ...]
    notes: tuple[str, ...]
    wash: str
    granted: tuple[str, ...]
    worst: "Table"
    month: "Table"
    finish: "Table"
    after_move: "tuple[Table, ...]"
    after_wash: "Table"


def year_in_words(answer: SeasonAnswer, *, units: str) -> YearInWords:
    """Say what there is to say of a bowl's year.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    YearInWords
        Sentences and tables.
    """
    washed = answer.after_wash
    return YearInWords(
        headline=seasons_headline(answer),
        state=f"{_state_sentence(answer, units)} {_middle_sentence(answer, units)}".strip(),
        split=_split_sentence(answer),
        wobble=_wobble_sentence(answer, units),
        moisture=_moisture_sentence(answer),
        advice=tuple(_advice_sentences(answer, units)),
        opened_month=_opened_month(answer),
        left_open=tuple(_left_open_sentences(answer, units)),
        how=tuple(_how_sentences(answer)),
        notes=(*answer.place.notes, *bowl_notes(answer)),
        wash=_wash_sentence(),
        granted=tuple(_granted(answer, units)),
        worst=_worst_table(answer, units),
        month=_month_table(answer, units),
        finish=_finish_table(answer, units),
        after_move=_move_tables(answer, units),
        after_wash=_after_table(washed, f"Washed at {washed.parts.to_percent:.1f} %", units),
    )


def bowl_notes(answer: SeasonAnswer) -> tuple[str, ...]:
    """What the bowl has to say of itself through this year.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.

    Returns
    -------
    tuple[str, ...]
        The remarks of its file, and one where the year leaves the moistures that swelling was measured at.
    """
    through, bowl = answer.year.moisture_percent, answer.bowl
    swelling = swelling_note(
        (float(through.min()), float(through.max())),
        sawn_percent=bowl.board.moisture_percent,
        part="part of this bowl's year",
    )
    return (*bowl.notes, swelling) if swelling else bowl.notes


def _granted(answer: SeasonAnswer, units: str) -> Iterator[str]:
    ours = ("board.moisture", "use.finish", "board.grain", "use.friction", "use.press")
    # What tests have measured stands behind every height, press and chance, whichever it is.
    told = (a for a in answer.bowl.assumptions if a.key in ours or a.mark == "measured")
    for a in (*answer.assumptions, *told):
        mark = "ESTIMATE" if a.mark == "estimated" else a.mark
        yield f"{a.key} {taken_as(a, units=units)}, {mark}: {a.source}"


def _move_tables(answer: SeasonAnswer, units: str) -> "tuple[Table, ...]":
    """After a move: one table where the bowl stands open between uses, two where it lies flat."""
    moved = answer.after_move
    way = f"{moved.parts.before_percent:.1f} to {moved.parts.to_percent:.1f} %"
    if answer.asked.stored == "open":
        return (_after_table(moved, f"Moved, {way}", units),)
    flat = _after_table(moved, f"Moved, kept {answer.asked.stored}, {way}", units, standing=False)
    return flat, _standing_table(moved, f"Moved, left open, {way}", units)


def seasons_headline(answer: SeasonAnswer) -> str:
    """The conclusion in a few capital words.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.

    Returns
    -------
    str
        One line.
    """
    held = answer.left_open
    if answer.asked.opened == LEFT_OPEN:
        if held.ends == "":
            return "STANDS ALL THE YEAR"
        if not held.stands:
            return "NOT DECIDED" if held.ends == NOT_FOLLOWED else "DOES NOT STAND OPEN"
        return "NOT DECIDED" if held.ends == NOT_FOLLOWED else held.ends.upper()
    states = set(answer.states)
    if states == {LOCKS}:
        return "LOCKS ALL THE YEAR"
    if states == {NOT_DECIDED}:
        return "NOT DECIDED"
    if len(states) == 1:
        return f"{answer.states[0].upper()} ALL THE YEAR"
    if LOCKS in states:
        return "LOCKS IN PART OF THE YEAR ONLY"
    return "NEVER LOCKS"


def _day(answer: SeasonAnswer, week: int) -> str:
    return day_of(int(answer.year.start_h[week]), len(answer.place.air_percent))


def _opened_month(answer: SeasonAnswer) -> str:
    return _day(answer, answer.left_open.opened_week).split(" ")[1]


def _state_sentence(answer: SeasonAnswer, units: str) -> str:
    """In how many weeks it is in which state, and how high it stands after which press."""
    if answer.asked.opened == LEFT_OPEN:
        return _standing_sentence(answer, units)
    states = answer.states
    if len(set(states)) == 1:
        text = f"It {_verb(states[0])} in whichever week of the year it is pressed open"
    else:
        each = [_counted(answer, state) for state in (*STATES, NOT_DECIDED) if state in states]
        text = f"Pressed open week by week it {', '.join(each)}"
    weekly = answer.weekly
    rises, needed = weekly.each("rise_mm"), weekly.each("needed_N")
    if np.isfinite(rises).any():
        text += f". Let go, its rim stands {_from_to(answer, rises, units)} high"
    if np.isfinite(needed).any():
        known = np.where(np.isfinite(needed), needed, np.nan)
        low, high = (show_force(float(v), units=units) for v in (np.nanmin(known), np.nanmax(known)))
        press = weekly.each("press_N")
        most = show_force(float(np.nanmax(press)), units=units)
        weeks = low if low == high else f"{low} to {high}, depending on the week"
        text += f"; the least press that makes it hold is {weeks}, and it is judged at up to {most}"
    return f"{text}."


def _middle_sentence(answer: SeasonAnswer, units: str) -> str:
    """Where friction and press stand that are known only as a range; "" where neither is."""
    use, told, asks = answer.bowl.use, [], ""
    for u in answer.bowl.uncertain:
        if u.path == "use.friction":
            told.append(f"friction is taken at {use.friction:.2f} ({u.low:.2f} to {u.high:.2f})")
            if any(w.asking_friction < use.friction for w in answer.weekly.weeks):
                asks = f" The press is what friction of {u.low:.2f} asks."
        elif u.path == "use.press_N":
            taken, low, high = (show_force(v, units=units) for v in (use.press_N, u.low, u.high))
            told.append(f"the press there is at {taken} ({low} to {high})")
    if not told:
        return ""
    words = " and ".join(told)
    return (
        f"{words[:1].upper()}{words[1:]}: the middle of what is known only as a range.{asks} How it does "
        "at the ends, fitsim fit tells."
    )


def _verb(state: str) -> str:
    if state == NOT_DECIDED:
        return "could not be followed"
    return f"is a {state}" if state == SPLIT_RISK else state


def _counted(answer: SeasonAnswer, state: str) -> str:
    weeks = [week for week, found in enumerate(answer.states) if found == state]
    text = f"{_verb(state)} in {len(weeks)} week{'s' if len(weeks) > 1 else ''}"
    if len(weeks) <= WEEKS_SHOWN:
        text += f" (of {', '.join(_day(answer, week) for week in weeks)})"
    return text


def _from_to(answer: SeasonAnswer, rises: Array, units: str) -> str:
    least, most = int(np.nanargmin(rises)), int(np.nanargmax(rises))
    low, high = (show_length(float(rises[week]), units=units) for week in (least, most))
    if low == high:
        return low
    return f"{low} (week of {_day(answer, least)}) to {high} (week of {_day(answer, most)})"


def _standing_sentence(answer: SeasonAnswer, units: str) -> str:
    held = answer.left_open
    opened = _day(answer, held.opened_week)
    if not held.stands:
        if held.ends != NOT_FOLLOWED:
            return f"Opened in the week of {opened} it does not stay open: it {held.ends}."
        return f"Opened in the week of {opened} it could not be followed."
    text = f"Opened in the week of {opened} and left so, its rim stands"
    text += f" {_from_to(answer, held.rise_mm, units)} high"
    if held.ends:
        weeks = len(held.rise_mm)
        stood = int(np.isfinite(held.rise_mm).sum())
        last = _day(answer, (held.opened_week + stood - 1) % weeks)
        how = f"it {held.ends}"
        if held.ends == NOT_FOLLOWED:
            how = "it could not be followed further"
            if held.last_used >= NEARLY_ALL_USED:
                used = f"{held.last_used:.0%} of its friction"
                how += f": a turn then used {used}, so it is about to spring back"
        return f"{text}; after the week of {last} {how}."
    return f"{text}; friction holds it through the year."


def _sawn_at(answer: SeasonAnswer) -> str:
    return f"{round(answer.bowl.board.moisture_percent, 1):g} %"


def _moisture_sentence(answer: SeasonAnswer) -> str:
    year = answer.year
    rim, base = year.rim_percent, year.base_percent
    dry, wet = (_day(answer, w) for w in (year.driest_week, year.wettest_week))
    return (
        f"Sawn at {_sawn_at(answer)} and kept {answer.asked.stored}, the rim (once round, from the free "
        f"end) goes from {rim.min():.1f} % (week of {dry}) to {rim.max():.1f} % (week of {wet}), the base "
        f"from {base.min():.1f} to {base.max():.1f} %."
    )


def _wobble_sentence(answer: SeasonAnswer, units: str) -> str:
    level, rock = (
        f"{NAMES[w.number]} {_shown(w.number, w.value, units)} in the week of {_day(answer, w.week)}"
        if math.isfinite(w.value)
        else f"{NAMES[w.number]} without a number, as it does not stay open"
        for w in answer.worst[1:3]
    )
    low, high = (show_length(v, units=units, fine=True) for v in answer.rock_range_mm)
    pith = "" if low == high else f" The pith's distance not known, rocking may be {low} to {high}."
    return f"Wobble, each at its worst: {rock}; {level}.{pith}"


def _split_sentence(answer: SeasonAnswer) -> str:
    worst = answer.worst[NUMBERS.index("split_chance")]
    if not math.isfinite(worst.value):
        does = "does not stay open" if answer.asked.opened == LEFT_OPEN else "cannot be pressed open"
        return f"Splitting: no answer, as it {does}."
    strong, weak = answer.chance_range
    reach = ""
    if math.isfinite(strong + weak) and weak > 1e-3:
        ends = [chance_in_words(end).removeprefix("about ") for end in (strong, weak)]
        reach = f", from {ends[0]} to {ends[1]} over what is not known of the wood"
    why = (
        "The same wood is asked on every opening, so the year's chance is that of its worst week, "
        "not a sum."
    )
    if answer.asked.opened == LEFT_OPEN:
        stands = "It stands all the year and" if answer.left_open.ends == "" else "As long as it stands"
        why = f"{stands} its worst week decides."
    return (
        f"Splitting: {chance_in_words(worst.value)} over the year, worst in the week of "
        f"{_day(answer, worst.week)}{reach}. {why}"
    )


def _shown(number: str, value: float, units: str) -> str:
    if not math.isfinite(value):
        return "-"
    if number == "split_chance":
        return f"{show_small(100 * value)} %"
    return show_length(value, units=units, fine=number != "rise_mm")


def _worst_table(answer: SeasonAnswer, units: str) -> "Table":
    table = plain_table("Worst", "week of", "value", "worst in")
    for w in answer.worst:
        name = "least rise" if w.number == "rise_mm" else NAMES[w.number]
        told = math.isfinite(w.value)
        when, months = (_day(answer, w.week), _months(w)) if told else ("-", "-")
        table.add_row(name, when, _shown(w.number, w.value, units), months)
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
    known = np.isfinite(values)
    each = [values[known & (month == m)] for m in range(12)]
    return np.array([np.mean(inside) if len(inside) else np.nan for inside in each])


def _month_table(answer: SeasonAnswer, units: str) -> "Table":
    year = answer.year
    table = plain_table(
        "Month", "moisture of base", "of rim", "rim stands", "out of level", "rocking", "needs", "splits"
    )
    table.columns[6].no_wrap = True  # newtons and pounds on one line
    columns = [_monthly(answer.series[name], year.start_h) for name in NUMBERS]
    needed = _monthly(answer.weekly.each("needed_N"), year.start_h)
    base, rim = (_monthly(values, year.start_h) for values in (year.base_percent, year.rim_percent))
    for m, month in enumerate(MONTHS):
        cells = [_shown(name, column[m], units) for name, column in zip(NUMBERS, columns, strict=True)]
        press = show_force(float(needed[m]), units=units) if math.isfinite(needed[m]) else "-"
        table.add_row(month[:3], f"{base[m]:.1f} %", f"{rim[m]:.1f} %", *cells[:-1], press, cells[-1])
    return table


def _days(values: tuple[float, float, float]) -> str:
    quick, likely, slow = (f"{v:.0f}" for v in values)
    return f"{likely} days ({quick} to {slow})"


def _advice_sentences(answer: SeasonAnswer, units: str) -> list[str]:
    wait = answer.advice.rest
    return [
        _saw_at_sentence(answer, units),
        f"After a move of {wait.step_points:.1f} points, let the board lie {_days(wait.board_days)} before "
        f"sawing, free to the air all round, and the bowl {_days(wait.bowl_days)}: all of it is then "
        "within half a point. The days in brackets are the quick and the slow end of what is known of "
        "diffusion.",
        "What a finish does, and how much hangs on how fast the wood takes up water: the table below, of "
        "moisture alone; fitsim fit counts the film in the slot.",
    ]


def how_dry_to_saw(answer: SeasonAnswer) -> str:
    """What to do with the board before it is sawn, by the side on which its moisture lies.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.

    Returns
    -------
    str
        A clause with a small letter in front; "" where a rule would show no difference on the table.
    """
    saw, sawn_percent = answer.advice.saw_at, answer.bowl.board.moisture_percent
    if saw.worst_as_is_mm - saw.worst_mm < RULE_SHOWS_mm:
        return ""
    to = f"to about {round(2 * saw.moisture_percent) / 2:g} % before sawing"
    if sawn_percent > saw.moisture_percent:
        return f"let the board dry {to}"
    return f"let the board take up water {to}, where the air is damper"


def _saw_at_sentence(answer: SeasonAnswer, units: str) -> str:
    saw, do = answer.advice.saw_at, how_dry_to_saw(answer)
    worst, now = (show_length(v, units=units, fine=True) for v in (saw.worst_mm, saw.worst_as_is_mm))
    if not do:
        return (
            f"Sawn at {_sawn_at(answer)} the base rocks on a table by at most {now} in any week; no other "
            "moisture to saw at would make it less by so much as a rule shows."
        )
    meter = measure_named("base_moisture").within
    return (
        f"{do[:1].upper()}{do[1:]}: it then rocks on a table by at most {worst} in any week; sawn at "
        f"{_sawn_at(answer)} by {now}. A moisture meter may be {meter:g} points off; an off-cut dried in "
        "an oven tells more closely."
    )


def _finish_table(answer: SeasonAnswer, units: str) -> "Table":
    table = plain_table(
        "Finish", "moisture of rim swings by", "of base by", "neighbours apart by", "rocking"
    )
    for f in (*answer.advice.finishes, *answer.advice.ends):
        name = f.name + (" (this bowl's)" if f.name == answer.bowl.use.finish else "")
        name = SPEEDS.get(f.name, name)
        points = [f"{v:.1f} pts" for v in (f.rim_swing_points, f.base_swing_points)]
        rock = show_length(f.rock_mm, units=units, fine=True)
        table.add_row(name, *points, f"{f.apart_points:.2f} pts", rock)
    return table


def _wash_sentence() -> str:
    rows = {row["quantity"]: row for row in read_table("wash")}
    water, wet = rows["absorption_across"], rows["wet_minutes"]
    # kg/(m2 s0.5) times the root of the time: grams on a square metre, which a kitchen scale shows.
    root_s = math.sqrt(60 * float(wet["value"]))
    taken, low, high = (f"{1000 * float(water[end]) * root_s:.0f}" for end in ("value", "low", "high"))
    return (
        f"ESTIMATE: bare wood wet for {wet['value']} min ({wet['low']} to {wet['high']}); in "
        f"{wet['value']} min a square metre of its faces takes up {taken} g of water ({low} to {high} g, "
        f"{water['mark']}), in four times as long twice as much. That is the most, as water in the skin "
        "leaves sooner."
    )


def _after_table(moved: AfterMove, way: str, units: str, *, standing: bool = True) -> "Table":
    """Pressed open anew hour after hour; and how one left open stands, where its moistures are the same."""
    last = ("left open, rim stands",) if standing else ()
    table = plain_table(way, *MOISTURES, "rocking", "pressed open", "splits", *last)
    for i in range(len(moved.parts.time_h)):
        opened = moved.opened[i]
        table.add_row(
            *_moist_cells(moved.parts, i),
            show_length(float(moved.parts.base_rock_mm[i]), units=units, fine=True),
            opened.state,
            _shown("split_chance", opened.numbers.split_chance, units),
            *([_stands_cell(moved, i, units)] if standing else []),
        )
    return table


def _standing_table(moved: AfterMove, way: str, units: str) -> "Table":
    """How one left open stands hour after hour, with its own moistures."""
    table = plain_table(way, *MOISTURES, "left open, rim stands")
    for i in range(len(moved.stood_parts.time_h)):
        table.add_row(*_moist_cells(moved.stood_parts, i), _stands_cell(moved, i, units))
    return table


def _moist_cells(parts: PartsAfter, i: int) -> list[str]:
    """When, and moisture of base, turn 1 and rim then."""
    hours, moist = parts.time_h[i], parts.moisture_percent[i]
    days = f"{hours / DAY_H:.0f} day{'s' if hours > DAY_H else ''}"
    shown = f"after {hours:.0f} h" if hours < DAY_H else f"after {days}"
    percents = (moist[0], moist[1], parts.rim_percent[i])
    return [shown if hours else "just after", *(f"{percent:.1f} %" for percent in percents)]


def _stands_cell(moved: AfterMove, i: int, units: str) -> str:
    stands = float(moved.stood.rise_mm[i + 1])
    return show_length(stands, units=units) if math.isfinite(stands) else moved.stood.ends


def _left_open_sentences(answer: SeasonAnswer, units: str) -> list[str]:
    held, stand = answer.left_open, answer.standing
    said = [_standing_sentence(answer, units)]
    if not held.stands:
        return said
    said += [_event_sentence(answer, event) for event in answer.events[:EVENTS_SHOWN]]
    if len(answer.events) > EVENTS_SHOWN:
        said.append(f"{len(answer.events) - EVENTS_SHOWN} weaker spells more (--json lists them).")
    if not answer.events:
        pull = np.nan_to_num(held.pull_MPa, nan=-np.inf)
        week, turn = divmod(int(np.argmax(pull)), pull.shape[1])
        most = max(float(pull[week, turn]), 0.0)
        said.append(
            f"No turn is pulled tight: at most turn {turn + 1}, by {most:.2f} MPa in the week of "
            f"{_day(answer, week)}."
        )
    since = (np.arange(len(held.loose)) - held.opened_week) % len(held.loose)
    loose = sorted(np.flatnonzero(held.loose.any(axis=1)).tolist(), key=lambda week: int(since[week]))
    if loose:
        turns = ", ".join(str(j + 1) for j in np.flatnonzero(held.loose.any(axis=0)))
        said.append(
            f"Comes loose: turn {turns} bears next to nothing in {len(loose)} week"
            f"{'s' if len(loose) > 1 else ''}, first in the week of {_day(answer, loose[0])}."
        )
    chances = np.where(np.arange(len(held.rise_mm)) == held.opened_week, np.nan, held.split_chance)
    if np.isfinite(chances).any():
        week = int(np.nanargmax(chances))
        said.append(
            f"As it stands {chance_in_words(float(chances[week]))} would split in its worst week, that of "
            f"{_day(answer, week)}; {chance_in_words(float(held.split_chance[held.opened_week]))} on "
            "opening it."
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
        f"{event.difference_points:.2f} points drier, {event.pull_MPa:.2f} MPa along the turn, "
        f"{100 * event.strength_share:.0f} % of the strength across the grain where it crosses the grain."
    )


def _how_sentences(answer: SeasonAnswer) -> list[str]:
    weekly = answer.weekly
    said = [
        "Every number but rocking is that of the elastic strip, pressed open as fit presses it, at "
        f"{answer.bowl.limits.press_spare:g} times the press that week needs or all there is, and let go. "
        f"{len(weekly.pressed)} week{'s were' if len(weekly.pressed) > 1 else ' was'} pressed"
    ]
    if weekly.rise_within > 0:
        said[0] += (
            ", as far apart as the year's moistures allow; the others lie on a smooth surface through "
            "them, from which no pressed week differs by more than "
            f"{show_small(100 * weekly.rise_within)} % of its rise and "
            f"{show_small(100 * weekly.chance_within)} % of its "
            "chance."
        )
    else:
        said[0] += ": one of each kind there is."
    said.append(
        "Left open, the strip of one opening is followed week by week as the wood swells and shrinks, its "
        "friction remembering. Not counted: creep (bounds stand there) and wood damper inside than outside."
    )
    said.append("Rocking is the cup of the base on a flat table.")
    return said
