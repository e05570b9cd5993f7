"""What ``fitsim tilt`` says: the tilt to set, as sentences for a maker and as one JSON object.

Tilts are what the saw's scale is set to; without a saw file the scale is taken at its word.
"""

import json
import math
import textwrap
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitsim.answer import VERSION
from fitsim.bowl import Bowl
from fitsim.files import PICTURE_ENDINGS, check_target
from fitsim.judged import elastic_numbers
from fitsim.learned import Learned, with_learned
from fitsim.opening import CHANGES, Change
from fitsim.picture import write_picture
from fitsim.quantities import show_length
from fitsim.rigid import deciding_numbers
from fitsim.tilt import TiltAnswer, tilt_answer
from fitsim.tiltdrawing import tilt_figure
from fitsim.tiltrange import THE_CUT, TiltEnd, TiltSpan
from fitsim.verdict import STATES
from fitsim.wording import CAUTIONS

__all__ = ["tilt_object", "tilt_report", "tilt_told"]


def tilt_told(
    bowl: Bowl, *, width: int = 88, tell: Callable[[str], None] | None = None, **options: Any
) -> str:
    """Work out the tilts of a bowl as it was typed.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used.
    width : int
        Columns of the terminal.
    tell : callable or None
        Told in a few words what is being worked on.
    **options
        learned, as_json, units, rigid, seed, samples, elastic_solves, pictures and replace, as on the
        command line.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    learned: Learned | None = options["learned"]
    for picture in options["pictures"]:
        check_target(Path(picture), replace=options["replace"], endings=PICTURE_ENDINGS)
    if learned is not None:
        bowl = with_learned(bowl, learned)
    answer = tilt_answer(
        bowl,
        deciding_numbers,
        elastic=None if options["rigid"] else elastic_numbers,
        elastic_solves=options["elastic_solves"],
        seed=options["seed"],
        most_samples=options["samples"],
        curve_samples=16 * max(1, min(8, options["samples"] // 512)),
        tell=tell,
    )
    for picture in options["pictures"]:
        write_picture(tilt_figure(answer), picture, replace=options["replace"])
    if options["as_json"]:
        return json.dumps(tilt_object(answer), indent=2, allow_nan=False) + "\n"
    return tilt_report(answer, units=options["units"] or bowl.units, width=width)


def _on_scale_deg(answer: TiltAnswer, tilt_rad: float) -> float:
    return math.degrees(tilt_rad - answer.bowl.cut.scale_offset_rad)


def tilt_object(answer: TiltAnswer) -> dict[str, Any]:
    """The answer as plain lists and dictionaries.

    Parameters
    ----------
    answer : TiltAnswer
        The answer.

    Returns
    -------
    dict
        Angles in degrees on the saw's scale, null where there is none; lengths in mm.
    """
    span, chances = answer.span, answer.at_best
    ends = {
        "tilt_low_deg": None if span is None else _on_scale_deg(answer, span.low.tilt_rad),
        "tilt_high_deg": None if span is None else _on_scale_deg(answer, span.high.tilt_rad),
        "low_limit": None if span is None else span.low.limit,
        "high_limit": None if span is None else span.high.limit,
    }
    return {
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        **ends,
        "best_tilt_deg": _on_scale_deg(answer, answer.best_tilt_rad),
        "lock_chance": float(chances.chance[-1]),
        "lock_chance_se": float(chances.se[-1]),
        "lock_chance_closed_form": float(answer.at_best_cheap.chance[-1]),
        "state_chances": {s: float(c) for s, c in zip(STATES, chances.chance, strict=True)},
        "closed_form": {
            "safe": [_span(answer, s) for s in answer.ranges.safe],
            "hopeful": [_span(answer, s) for s in answer.ranges.hopeful],
        },
        "elastic": answer.springy,
        "elastic_along_tilt": 0 if answer.calibration is None else answer.calibration.presses,
        "low_tolerance_deg": None if span is None else _tolerance_deg(span.low),
        "high_tolerance_deg": None if span is None else _tolerance_deg(span.high),
        "samples": chances.samples,
        "elastic_samples": chances.costly_samples,
        "elastic_samples_failed": chances.failed if answer.springy else 0,
        "elastic_solves_for_ends": answer.elastic_solves,
        "elastic_solves_enough": answer.enough,
        "scatter": {
            "kerf_mm": answer.scatter.kerf_mm,
            "kerf_length_mm": answer.scatter.kerf_length_mm,
            "tilt_deg": math.degrees(answer.scatter.tilt_rad),
            "thickness_mm": answer.scatter.thickness_mm,
        },
        "assumptions": [asdict(a) for a in (*answer.bowl.assumptions, *answer.scatter.assumptions)],
        "changes": [asdict(change) for change in answer.changes],
        "seed": answer.seed,
        "cautions": list(CAUTIONS),
    }


def _tolerance_deg(end: TiltEnd) -> float | None:
    return math.degrees(end.tolerance_rad) if math.isfinite(end.tolerance_rad) else None


def _span(answer: TiltAnswer, span: TiltSpan) -> dict[str, Any]:
    return {
        "low_deg": _on_scale_deg(answer, span.low.tilt_rad),
        "high_deg": _on_scale_deg(answer, span.high.tilt_rad),
        "low_limit": span.low.limit,
        "high_limit": span.high.limit,
    }


def tilt_report(answer: TiltAnswer, *, units: str, width: int = 88) -> str:
    """The answer as text.

    Parameters
    ----------
    answer : TiltAnswer
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
    parts = [
        *([] if answer.springy else [HOPEFUL]),
        _range_sentence(answer),
        _best_sentence(answer),
        _hopeful_sentence(answer),
    ]
    if not answer.ranges.safe:
        parts.append(_changes_sentence(answer.changes, units))
    lines = [answer.bowl.name]
    for part in (*parts, _models_sentence(answer), *answer.bowl.notes):
        lines += textwrap.wrap(part, width)
    assumed = [a for a in answer.bowl.assumptions if a.key != "cut.tilt" or a.mark == "measured"]
    if answer.scatter.assumptions or assumed:
        lines += ["", "How far cuts were taken to stray, and what else was assumed:"]
    for a in (*answer.scatter.assumptions, *assumed):
        mark = "ESTIMATE" if a.mark == "estimated" else a.mark
        reach = f" ({a.low} to {a.high})" if a.low != a.high else ""
        text = f"{a.key} {a.value}{reach}, {mark}: {a.source}"
        lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    lines += ["", *textwrap.wrap("At the saw: " + " ".join(CAUTIONS), width)]
    return "\n".join(lines) + "\n"


def _beyond(limit: str) -> str:
    return "no state does, the scan ends there" if limit == THE_CUT else limit


def _end_words(answer: TiltAnswer, end: TiltEnd, side: str) -> str:
    degrees = _on_scale_deg(answer, end.tilt_rad)
    if not math.isfinite(end.tolerance_rad):
        return f"at {degrees:.2f} deg it still locks, how far {side} is not known"
    close = f" (found to {math.degrees(end.tolerance_rad):.2f} deg)" if answer.springy else ""
    return f"{side} {degrees:.2f} deg{close}: {_beyond(end.limit)}"


HOPEFUL = "CLOSED FORM ONLY, which is hopeful: the springy strip asks for more friction and splits more."


def _range_deg(answer: TiltAnswer, span: TiltSpan) -> tuple[str, str]:
    """Ends to a tenth of a degree, rounded inward; finer where that would leave nothing between them."""
    low, high = (_on_scale_deg(answer, end.tilt_rad) for end in (span.low, span.high))
    inward = math.ceil(10 * low - 1e-6) / 10, math.floor(10 * high + 1e-6) / 10
    digits, ends = (1, inward) if inward[0] < inward[1] else (2, (low, high))
    return f"{ends[0]:.{digits}f}", f"{ends[1]:.{digits}f}"


def _range_sentence(answer: TiltAnswer) -> str:
    span, scale = answer.span, "on the saw's scale " if answer.bowl.cut.scale_offset_rad else ""
    if span is not None:
        low, high = _range_deg(answer, span)
        text = (
            f"LOCKS from {low} to {high} deg {scale}(everything known only as a range at its "
            f"unfavourable end). {_end_words(answer, span.low, 'below')}; "
            f"{_end_words(answer, span.high, 'above')}."
        )
        others = [_plain_span(answer, s) for s in answer.ranges.safe[1:]]
        return text + (f" By the closed form also {', '.join(others)}." if others else "")
    if not answer.ranges.safe:
        return "NO TILT locks at the unfavourable ends of what is known only as a range."
    closed = _plain_span(answer, answer.ranges.safe[0])
    if not answer.enough:
        return (
            "NOT DECIDED: the openings allowed ran out before a tilt was met at which the springy strip "
            f"locks; the closed form would allow {closed}. Raise --elastic-solves."
        )
    text = (
        "NO TILT tried locks on the springy strip with everything at its unfavourable end; the closed "
        f"form would allow {closed}."
    )
    return text + " What would open a range was not looked for on the springy strip."


def _plain_span(answer: TiltAnswer, span: TiltSpan) -> str:
    low, high = (_on_scale_deg(answer, end.tilt_rad) for end in (span.low, span.high))
    return f"{low:.2f} to {high:.2f} deg ({_beyond(span.low.limit)}; {_beyond(span.high.limit)})"


def _hopeful_sentence(answer: TiltAnswer) -> str:
    if not answer.ranges.hopeful:
        return "Not even the favourable ends lock at any tilt (closed form)."
    spans = "; and ".join(_plain_span(answer, s) for s in answer.ranges.hopeful)
    return f"With everything at its favourable end it would lock from {spans}, by the closed form."


def _best_sentence(answer: TiltAnswer) -> str:
    chances = answer.at_best
    chosen = " (chosen by the closed form)" if answer.springy and answer.calibration is None else ""
    text = (
        f"Best tilt: {_on_scale_deg(answer, answer.best_tilt_rad):.1f} deg{chosen}. Sawn again and again "
        f"with the scatter below, {100 * max(0.0, float(chances.chance[-1])):.1f} bowls in 100 lock there "
        f"(standard error {100 * float(chances.se[-1]):.1f})"
    )
    if chances.costly_samples:
        text += f"; the closed form alone says {100 * float(answer.at_best_cheap.chance[-1]):.1f}"
    text += _outside_words(answer)
    others = [
        f"{state} {100 * float(c):.1f}"
        for state, c in zip(STATES[:-1], chances.chance[:-1], strict=True)
        if c > 0.0005
    ]
    return text + (f". The rest: {', '.join(others)}." if others else ".")


def _outside_words(answer: TiltAnswer) -> str:
    """Why the best tilt may lie outside the range."""
    span, best = answer.span, answer.best_tilt_rad
    if span is None or span.low.tilt_rad <= best <= span.high.tilt_rad:
        return ""
    return (
        "; it lies outside the range above, where every range stands at its unfavourable end: here they "
        "are taken evenly"
    )


def _models_sentence(answer: TiltAnswer) -> str:
    chances, curve = answer.at_best, answer.curve
    text = (
        f"Worked out: {chances.samples} imperfect bowls at the best tilt and {curve.samples} at each of "
        f"{len(curve.tilt_rad)} tilts, closed form"
    )
    if not answer.springy:
        return f"{text}. Before you saw, press the strip at that tilt: fitsim fit."
    if answer.calibration is not None:
        pressed = answer.calibration.presses - answer.calibration.failed
        text += f" brought to the springy strip by {pressed} openings along the tilt"
    text += (
        f"; {answer.elastic_solves} openings of the springy strip for the ends and "
        f"{chances.costly_samples} for the chance"
    )
    if chances.failed:
        text += f", {chances.failed} of them without an answer and left out"
    if not answer.enough:
        text += "; these did not suffice to find both ends as closely as 0.05 deg (--elastic-solves)"
    return text + "."


def _changes_sentence(changes: tuple[Change, ...], units: str) -> str:
    if not changes:
        return f"Nothing tried opens a range by itself: {', '.join(CHANGES)}."
    listed = [f"{c.what} ({_shown(c.before, c.unit, units)} to {_shown(c.after, c.unit, units)})"
              for c in changes]  # fmt: skip
    missing = [what for what in CHANGES if what not in {c.what for c in changes}]
    text = f"What would open a range, each alone, the smallest change first: {'; '.join(listed)}."
    return text + (f" No help by itself: {', '.join(missing)}." if missing else "")


def _shown(value: float | str, unit: str, units: str) -> str:
    if isinstance(value, str):
        return value
    return show_length(value, units=units, fine=True) if unit == "mm" else f"{value:.3g}"
