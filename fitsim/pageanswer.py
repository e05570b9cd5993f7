"""What the page shows of one bowl, as plain objects: the words are those of the commands."""

import math
from typing import Any

from fitsim.bowl import Bowl
from fitsim.chance import on_strip
from fitsim.drawing import limit_shares, margin_words
from fitsim.errors import InputError, Problem
from fitsim.fit import BowlFit, fit
from fitsim.pagedrawing import NARROWEST_px, WIDEST_px, section_svg
from fitsim.pagestate import PageState, bowl_of
from fitsim.pressreport import press_table, rows_of
from fitsim.quantities import LENGTH, read_range, show_length
from fitsim.report import bowl_table, saw_table
from fitsim.tiltrange import THE_CUT, TiltSpan, tilt_spans
from fitsim.varied import KINDS
from fitsim.wording import advised_test, verdict_line, why

__all__ = ["closed_object", "pressed_object", "problems_object", "tilts_object"]

SCALE_END = 2.0
"""Shares of a limit beyond this are drawn at the end of the margin's bar."""


def problems_object(problems: tuple[Problem, ...]) -> dict[str, Any]:
    """What is wrong, each with the key it stands beside.

    Parameters
    ----------
    problems : tuple[Problem, ...]
        The problems.

    Returns
    -------
    dict
        ``{"problems": [{"key": ..., "text": ...}, ...]}``; the text is the command line's.
    """
    return {"problems": [{"key": p.key, "text": str(p)} for p in problems]}


def _units(state: PageState, bowl: Bowl) -> str:
    return state.page.get("units", bowl.units)


def _wide_px(state: PageState) -> int:
    text = state.page.get("wide_px", "900")
    if not text.isascii() or not text.isdigit() or len(text) > 5:
        expected = f"a width from {NARROWEST_px} to {WIDEST_px}"
        raise InputError(Problem("", "wide_px", repr(text[:40]), expected, "leave it out"))
    return int(text)


def closed_object(state: PageState) -> dict[str, Any]:
    """Closed form of one state: drawing, verdict, margins, measures.

    Parameters
    ----------
    state : PageState
        The state.

    Returns
    -------
    dict
        JSON's kinds only.

    Raises
    ------
    InputError
        One line for every problem.
    OutsideModelError
        If the model does not serve for this bowl.
    """
    bowl = bowl_of(state)
    units, wide = _units(state, bowl), _wide_px(state)
    answer = fit(bowl, rigid=True, beyond=False)
    return {
        **_verdict_object(answer, units),
        "drawing": section_svg(answer, units=units, wide_px=wide),
        "bowl": rows_of(bowl_table(answer, units)),
        "saw": rows_of(saw_table(answer, units)),
        "assumed": _assumed(bowl),
        "places": _places(bowl),
        "reads": _reads(state, units),
        "name": bowl.name,
        "units": units,
    }


def pressed_object(state: PageState, answer: BowlFit) -> dict[str, Any]:
    """The springy strip's answer.

    Parameters
    ----------
    state : PageState
        The state.
    answer : BowlFit
        Its fit; where the strip could not be pressed the notes say why.

    Returns
    -------
    dict
        JSON's kinds only.
    """
    units = _units(state, answer.bowl)
    found = answer.elastic
    return {
        **_verdict_object(answer, units),
        "pressing": [] if found is None else rows_of(press_table(answer, found, units)),
        "bowl": rows_of(bowl_table(answer, units)),
    }


def _verdict_object(answer: BowlFit, units: str) -> dict[str, Any]:
    verdict = answer.verdict
    return {
        "state": verdict.state,
        "line": verdict_line(answer),
        "why": why(answer, units=units),
        "settle": [sentence] if (sentence := advised_test(answer, units=units)) else [],
        "rests_on": answer.rests_on,
        "rise_of": "Rise" if answer.elastic is None else "Rise, let go",
        "rise": _rise_words(answer, units),
        "margins": [_margin(answer, rank, units) for rank in range(len(verdict.margins))],
        "notes": list(answer.notes),
    }


def _margin(answer: BowlFit, rank: int, units: str) -> dict[str, Any]:
    margin = answer.verdict.margins[rank]
    failed = margin.at_worst + margin.at_best
    shares = limit_shares(margin, slot_cut_mm=float(answer.rigid.slot.slot_mm.max()))
    words, reach = margin_words(margin, units=units)
    on_bar = [min(max(s, 0.0), SCALE_END) / SCALE_END for s in (shares.best, shares.middle, shares.worst)]
    return {
        "state": margin.state,
        "word": ("clear", "may fail", "fails")[failed],
        "words": words,
        "reach": reach,
        "best": on_bar[0],
        "middle": on_bar[1],
        "worst": on_bar[2],
    }


def _rise_words(answer: BowlFit, units: str) -> str:
    shape = answer.standing.shape
    if answer.elastic is not None:
        at_rest = answer.elastic.rise_at_rest_mm
        return show_length(at_rest, units=units) if math.isfinite(at_rest) else "none"
    if shape is None or answer.rigid.numbers.slot_left_mm <= answer.bowl.limits.slot_left_mm:
        return "none"
    return show_length(shape.rise_mm, units=units)


def _assumed(bowl: Bowl) -> dict[str, str]:
    """Value taken for every key left out, with its reach."""
    return {
        a.key: f"{a.value} ({a.low} to {a.high})" if a.low != a.high else a.value
        for a in bowl.assumptions
        if "." in a.key
    }


def _reads(state: PageState, units: str) -> dict[str, str]:
    """Lengths written in other units than those shown, as they read in these."""
    found = {}
    for key, kind in KINDS.items():
        table, name = key.split(".")
        text = state.tables.get(table, {}).get(name)
        if kind is not LENGTH or not isinstance(text, str) or text.endswith(units):
            continue
        fine = name in ("kerf", "film", "slot_left", "blade_body", "blade_set")
        ends = dict.fromkeys(
            show_length(float(v), units=units, fine=fine) for v in read_range(text, LENGTH)
        )
        found[key] = " to ".join(ends)
    return found


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


def tilts_object(state: PageState) -> dict[str, Any]:
    """The tilts at which the bowl locks as planned, for the tilt's own control.

    Parameters
    ----------
    state : PageState
        The state; its tilt is not used.

    Returns
    -------
    dict
        Spans in degrees on the saw's scale, and the same in words.
    """
    bowl = bowl_of(state)
    spans = tilt_spans(bowl, on_strip()).spans
    offset = math.degrees(bowl.cut.scale_offset_rad)

    def degrees(span: TiltSpan) -> list[float]:
        return [max(math.degrees(end.tilt_rad) - offset, 0.0) for end in (span.low, span.high)]

    def told(span: TiltSpan) -> str:
        low, high = degrees(span)
        below, above = (_beyond(end.limit) for end in (span.low, span.high))
        return f"{low:.1f} to {high:.1f} deg (below: {below}; above: {above})"

    words = f"Locks as planned from {'; and from '.join(told(s) for s in spans)}."
    return {
        "safe": [degrees(s) for s in spans],
        "hopeful": [],
        "words": words if spans else "No tilt locks as planned.",
    }


def _beyond(limit: str) -> str:
    return "no state, the search ends" if limit == THE_CUT else limit
