"""What the page shows of one bowl, as plain objects: the words are those of the commands."""

import math
from collections.abc import Mapping
from contextlib import suppress
from fractions import Fraction
from typing import Any

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import LOCKS, SPLIT_RISK, judge
from fitsim.bowlfile.keys import READERS
from fitsim.drawing.bowl_drawing import limit_shares, margin_words
from fitsim.errors import InputError, Problem
from fitsim.page.page_words import on_page, problems_object
from fitsim.page.section_svg import section_object, standing_object
from fitsim.page.state import PageState, bowl_of, learned_of
from fitsim.quantities import (
    FORCE,
    LENGTH,
    lengths_in,
    read_quantity,
    read_range,
    show_force,
    show_length,
)
from fitsim.report.advised_test import advised_test
from fitsim.report.common_words import CAUTIONS, taken_as
from fitsim.report.press_tables import press_table, rows_of
from fitsim.report.terminal import (
    assumed_table,
    bowl_table,
    margin_table,
    saw_table,
    turn_table,
    wood_table,
)
from fitsim.report.verdict_words import OUTSIDE_MODEL, dependence_sentence, model_sentence, verdict_line
from fitsim.report.why import why
from fitsim.saw.learned import Learned
from fitsim.sweeps.varied_quantities import KINDS

__all__ = [
    "details_object",
    "middle_object",
    "now_object",
    "refused_object",
    "table_object",
    "units_of",
    "verdict_object",
]

LET_GO, WHERE_IT_HOLDS, NO_RISE = "Rise, let go", "Rise where it holds", "none"
SCALE_END = 2.0
"""Shares of a limit beyond this are drawn at the end of the margin's bar."""


def units_of(state: PageState, bowl: Bowl) -> str:
    """Units the page shows lengths in: its own word, or the bowl file's.

    Parameters
    ----------
    state, bowl : PageState, Bowl
        The state and its bowl.

    Returns
    -------
    str
        "in" or "mm".
    """
    return state.page.get("units", bowl.units)


def now_object(state: PageState) -> dict[str, Any]:
    """What follows from the fields at once: how they read, the section's outlines, what the saw overrules.

    Parameters
    ----------
    state : PageState
        The state.

    Returns
    -------
    dict
        JSON's kinds only; nothing in it is a verdict.

    Raises
    ------
    InputError
        One line for every problem.
    OutsideModelError
        If the cut leaves no strip.
    """
    bowl = bowl_of(state)
    units = units_of(state, bowl)
    rigid = rigid_fit(bowl)
    return {
        "section": section_object(bowl, rigid),
        "assumed": _assumed(bowl, units),
        "places": _places(bowl),
        "reads": _reads(state, units),
        "typed": state.typed,
        "overruled": _overruled(state, learned_of(state), bowl, units),
        "turns": f"{rigid.slot.turns:.2f}",
        "name": bowl.name,
        "units": units,
    }


def refused_object(state: PageState, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """What is wrong with a state that is no bowl, and how its fields read all the same.

    Parameters
    ----------
    state : PageState
        The state.
    problems : tuple[Problem, ...]
        What is wrong with it.

    Returns
    -------
    dict
        "problems"; "unreadable", the keys of values that are none of their kind, where the others only do
        not fit; "typed" and "reads" as in :func:`now_object`.
    """
    return {
        **problems_object(problems),
        "unreadable": [p.key for p in problems if not _can_be_read(state, p.key)],
        "typed": state.typed,
        "reads": _reads(state, state.page.get("units", "mm")),
    }


def _can_be_read(state: PageState, key: str) -> bool:
    table, _, name = key.partition(".")
    given = state.tables.get(table)
    if not isinstance(given, Mapping) or name not in given or name not in READERS.get(table, {}):
        return True
    try:
        READERS[table][name](given[name])
    except InputError:
        return False
    return True


def middle_object(bowl: Bowl, opening: Opening, units: str) -> dict[str, Any]:
    """One opening of the strip, with every range at its middle: what is known before the ends are tried.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    opening : Opening
        Its opening.
    units : str
        "in" or "mm".

    Returns
    -------
    dict
        "state", "line", "rise" and "press".
    """
    state = judge(opening.numbers, bowl.limits)
    kept = 0.0 if opening.released is None else opening.released.rise_left_mm
    return {
        "state": state,
        "line": state.upper(),
        "rise": show_length(kept, units=units) if kept > 0 else NO_RISE,
        "rise_of": LET_GO,
        "press": show_force(opening.press_N, units=units),
    }


def verdict_object(answer: BowlFit, units: str) -> dict[str, Any]:
    """The verdict on the strip over everything known as a range, with reasons and numbers.

    Parameters
    ----------
    answer : BowlFit
        The fit; where the strip could not be pressed the notes say why.
    units : str
        "in" or "mm".

    Returns
    -------
    dict
        JSON's kinds only.
    """
    verdict, found = answer.verdict, answer.elastic
    return {
        "state": verdict.state,
        "best": verdict.state_at_best,
        "middle": verdict.state_in_middle,
        "line": verdict_line(answer),
        "why": on_page(why(answer, units=units)),
        "depends": on_page(dependence_sentence(verdict.depends_on, units=units)),
        "settle": [on_page(sentence)] if (sentence := advised_test(answer, units=units)) else [],
        "rests_on": answer.rests_on,
        "rise": (rise := _rise_words(answer, units)),
        # A bowl that springs back as it is judged may hold from a harder press.
        "rise_of": LET_GO if verdict.state in (LOCKS, SPLIT_RISK) or rise == NO_RISE else WHERE_IT_HOLDS,
        "margins": [_margin(answer, rank, units) for rank in range(len(verdict.margins))],
        "section": standing_object(answer),
        "margin_rows": table_object(margin_table(answer, units)),
        "notes": [on_page(note) for note in answer.notes],
        "pressing": [] if found is None else _cells(rows_of(press_table(answer, found, units))),
        "bowl": _cells(rows_of(bowl_table(answer, units))),
        "turns": table_object(turn_table(answer, units)),
        "saw": _cells(rows_of(saw_table(answer, units))),
    }


def details_object(answer: BowlFit, units: str = "mm") -> dict[str, Any]:
    """Where every assumed value comes from, and what the model leaves out.

    Parameters
    ----------
    answer : BowlFit
        The fit, effects beyond the model sized.
    units : str
        "in" or "mm".

    Returns
    -------
    dict
        JSON's kinds only.
    """
    beyond = [
        lengths_in(f"{row.name}: {row.size}{'' if row.mark == 'estimated' else f' ({row.mark})'}.", units)
        for row in answer.left_out
    ]
    assumed = table_object(assumed_table(answer.bowl.assumptions, units, sources=True))
    return {
        "tables": [assumed, table_object(wood_table(answer))],
        "model": model_sentence(answer),
        "unseen": f"The model does not see: {'; '.join(OUTSIDE_MODEL)}.",
        "beyond": beyond,
        "cautions": list(CAUTIONS),
    }


def table_object(table: Any, title: str = "") -> dict[str, Any]:
    """A table of a terminal as headings and rows.

    Parameters
    ----------
    table : rich.table.Table
        The table.
    title : str
        Over it; "" takes its first heading.

    Returns
    -------
    dict
        "title", "heads" and "rows".
    """
    heads = [" ".join(str(column.header).split()) for column in table.columns]
    return {
        "title": title or heads[0],
        "heads": heads,
        "rows": _cells(rows_of(table)),
    }


def _cells(rows: list[list[str]]) -> list[list[str]]:
    return [[on_page(cell) for cell in row] for row in rows]


def _margin(answer: BowlFit, rank: int, units: str) -> dict[str, Any]:
    margin = answer.verdict.margins[rank]
    failed = margin.at_worst + margin.at_best
    shares = limit_shares(margin, slot_cut_mm=float(answer.rigid.slot.slot_mm.max()))
    words, reach = margin_words(margin, units=units)
    on_bar = [min(max(s, 0.0), SCALE_END) / SCALE_END for s in (shares.best, shares.middle, shares.worst)]
    return {
        "state": margin.state,
        "quantity": margin.quantity,
        "word": ("clear", "may fail", "fails")[failed],
        "words": words,
        "reach": reach,
        "best": on_bar[0],
        "middle": on_bar[1],
        "worst": on_bar[2],
    }


def _rise_words(answer: BowlFit, units: str) -> str:
    found = answer.elastic
    if found is None or found.opening.fell_through or not found.holds:
        return NO_RISE
    return show_length(found.rise_at_rest_mm, units=units)


def _assumed(bowl: Bowl, units: str) -> dict[str, str]:
    """Value taken for every key left out, with its reach."""
    return {a.key: taken_as(a, units=units) for a in bowl.assumptions if "." in a.key}


def _overruled(state: PageState, learned: Learned | None, bowl: Bowl, units: str) -> dict[str, str]:
    """Fields that have no say while a file of what was learned is in use, each with what stands instead."""
    if learned is None:
        return {}
    measured = {a.key: a.value for a in bowl.assumptions if a.mark == "measured"}
    found = {
        key: f"{value}, measured" for key, value in measured.items() if key in KINDS and key != "cut.tilt"
    }
    if learned.saw is not None:
        kerf = show_length(bowl.cut.kerf_mm[0], units=units, fine=True)
        found |= dict.fromkeys(
            ("cut.kerf", "cut.blade_body", "cut.blade_set"), f"{kerf}, by {learned.saw.name}"
        )
    return found


def _reads(state: PageState, units: str) -> dict[str, str]:
    """Lengths written in other units than those shown, or in decimals of an inch, as they read in these.

    The press as well. What cannot be read has no say here: its problem stands beside it.
    """
    found = {}
    for key, kind in KINDS.items():
        table, name = key.split(".")
        given = state.tables.get(table)
        text = given.get(name) if isinstance(given, Mapping) else None
        if not isinstance(text, str):
            continue
        with suppress(InputError):
            if kind is LENGTH:
                found[key] = _length_reads(text, name, units)
            elif kind is FORCE:
                found[key] = _force_reads(text, units)
    return {key: words for key, words in found.items() if words}


def _length_reads(text: str, name: str, units: str) -> str:
    fine = name in ("kerf", "film", "slot_left", "blade_body", "blade_set")
    if text.endswith(units) and (units == "mm" or fine or "." not in text):
        return ""
    ends = read_range(text, LENGTH)
    shown = dict.fromkeys(show_length(float(end), units=units, fine=fine) for end in ends)
    exact = all(read_quantity(words, LENGTH) in ends for words in shown) and len(shown) == len(set(ends))
    return f"{'' if exact else 'about '}{' to '.join(shown)}"


def _force_reads(text: str, units: str) -> str:
    force = read_quantity(text, FORCE)
    unit = "lbf" if units == "in" else "N"
    number = force / FORCE.units[unit]
    shown = f"{float(number):.3g}" if number < 999.5 else f"{float(number):.0f}"  # no 1e+03
    about = "" if Fraction(shown) == number else "about "
    return "" if text.endswith(unit) else f"{about}{shown} {unit}"


def _places(bowl: Bowl) -> dict[str, float]:
    """Where each slider stands, in the base unit of its quantity (mm, deg, N, percent)."""
    board, cut, use = bowl.board, bowl.cut, bowl.use
    return {
        "board.thickness": board.thickness_mm,
        "board.across": board.across_mm,
        "board.moisture": board.moisture_percent,
        "cut.tilt": math.degrees(cut.scale_tilt_rad[0]),
        "cut.kerf": cut.kerf_mm[0],
        "cut.pitch": cut.pitch_mm,
        "cut.turns": (board.across_mm / 2 - cut.base_radius_mm) / cut.pitch_mm,
        "cut.base": 2 * cut.base_radius_mm,
        "cut.root": math.degrees(cut.root_rad),
        "use.press": use.press_N,
        "use.friction": use.friction,
        "use.base_moisture": use.base_moisture_percent,
        "use.turn_moisture": use.turn_moisture_percent[0],
    }
