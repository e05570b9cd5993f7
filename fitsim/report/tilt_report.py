"""What ``fitsim tilt`` says: the tilt to set, as sentences for a maker and as one JSON object.

Tilts are what the saw's scale is set to; without a saw file the scale is taken at its word.
"""

import math
import textwrap
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.inputs import FRICTION
from fitsim.bowl.verdict import LOCKS, STATES
from fitsim.quantities import lengths_in, show_force, show_length
from fitsim.report.common_words import CAUTIONS, plain_source, plain_words, taken_as
from fitsim.report.verdict_words import other_states
from fitsim.strip.results import NEEDED_WITHIN
from fitsim.tilt.best_tilt import MOSTLY, TARGET_SE, TiltAnswer
from fitsim.tilt.lock_chance import Chances
from fitsim.tilt.tilt_range import THE_CUT, TiltEnd, TiltSpan
from fitsim.tilt.widening import CHANGES, WideningChange
from fitsim.tolerances.samples import Dimension
from fitsim.version import VERSION

__all__ = [
    "TiltInWords",
    "best_on_scale",
    "mostly_locks_deg",
    "range_deg",
    "tilt_in_words",
    "tilt_object",
    "tilt_report",
]


@dataclass(frozen=True)
class TiltInWords:
    """What there is to say of the tilt to set, each sentence once; nothing is set out here.

    Attributes
    ----------
    headline : str
        The range that locks, or that no tilt does.
    sentences : tuple[str, ...]
        The best tilt, where nine in ten lock, the ends, the verdict at the best.
    changes : str
        What would open a range; "" where there is one.
    notes : tuple[str, ...]
        How it was worked out.
    lists : tuple[tuple[str, tuple[str, ...]], ...]
        Headings with the lines under them: how the bowl was taken to differ, what else was assumed.
    """

    headline: str
    sentences: tuple[str, ...]
    changes: str
    notes: tuple[str, ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...]


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
    span, best = answer.span, answer.at_best
    low, high = (None, None) if span is None else (span.low, span.high)
    verdict = answer.verdict_at_best
    mostly = answer.curve.mostly_locks_rad(answer.best_tilt_rad)
    return {
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        "tilt_low_deg": None if low is None else _on_scale_deg(answer, low.tilt_rad),
        "tilt_high_deg": None if high is None else _on_scale_deg(answer, high.tilt_rad),
        "low_limit": None if low is None else low.limit,
        "high_limit": None if high is None else high.limit,
        "low_tolerance_deg": None if low is None else math.degrees(low.tolerance_rad),
        "high_tolerance_deg": None if high is None else math.degrees(high.tolerance_rad),
        "low_press_moves_deg": None if low is None else math.degrees(low.press_moves_rad),
        "high_press_moves_deg": None if high is None else math.degrees(high.press_moves_rad),
        "spans": [_span(answer, s) for s in answer.spans.spans],
        "nearest_deg": _on_scale_deg(answer, answer.spans.nearest_rad),
        "nearest_limit": answer.spans.nearest_state,
        "best_tilt_deg": _on_scale_deg(answer, answer.best_tilt_rad),
        "nine_in_ten_from_deg": None if mostly is None else _on_scale_deg(answer, mostly[0]),
        "nine_in_ten_to_deg": None if mostly is None else _on_scale_deg(answer, mostly[1]),
        "lock_chance": _states(best.chance)[LOCKS],
        "lock_chance_se": float(best.se[-1]),
        "state_chances": _states(best.chance),
        "at_best": _chances(answer, best),
        "at_ends": [_chances(answer, c) for c in answer.at_ends],
        "state_at_best_tilt": None if verdict is None else verdict.state_in_middle,
        "state_at_best_tilt_at_worst": None if verdict is None else verdict.state,
        "depends_on": [] if verdict is None else [d.name for d in verdict.depends_on],
        "curve": [
            {"tilt_deg": _on_scale_deg(answer, float(tilt)), **_states(chance)}
            for tilt, chance in zip(answer.curve.tilt_rad, answer.curve.chance, strict=True)
        ],
        "samples_pressed": answer.curve.presses,
        "bowls_pressed": answer.presses,
        "scatter": [asdict(d) for d in answer.scattered.dimensions],
        "assumptions": [asdict(a) for a in answer.bowl.assumptions],
        "changes": [asdict(change) for change in answer.changes],
        "seed": answer.seed,
        "cautions": list(CAUTIONS),
    }


def _states(chances: Array) -> dict[str, float]:
    """Chances by state as they are told: those in which it does not lock make up the rest of one.

    Each is an estimate of its own: one may lie below nothing, and then the others lie too high.
    """
    locks = min(max(float(chances[-1]), 0.0), 1.0)
    others = np.clip(chances[:-1], 0.0, None)
    others *= (1 - locks) / max(float(others.sum()), 1e-12)
    return dict(zip(STATES, [*others.tolist(), locks], strict=True))


def _chances(answer: TiltAnswer, found: Chances) -> dict[str, Any]:
    return {
        "tilt_deg": _on_scale_deg(answer, found.tilt_rad),
        "chances": _states(found.chance),
        "standard_errors": dict(zip(STATES, found.se.tolist(), strict=True)),
        "samples_pressed": found.presses,
        "samples_failed": found.failed,
        "target_reached": found.reached,
    }


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
    said = tilt_in_words(answer, units=units)
    lines = [answer.bowl.name]
    for part in (said.headline, *said.sentences, said.changes, *said.notes):
        lines += textwrap.wrap(part, width)
    for title, listed in said.lists:
        lines += ["", f"{title}:", *_listed(list(listed), width)]
    lines += ["", *textwrap.wrap("At the saw: " + " ".join(CAUTIONS), width)]
    return "\n".join(lines) + "\n"


def tilt_in_words(answer: TiltAnswer, *, units: str) -> TiltInWords:
    """What the terminal and the page say of the tilt to set, set out by each.

    Parameters
    ----------
    answer : TiltAnswer
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    TiltInWords
        Sentences, and lists under their headings.
    """
    assumed = []
    for a in answer.bowl.assumptions:
        if a.key != "cut.tilt" or a.mark == "measured":
            taken = taken_as(a, units=units)
            assumed.append(f"{plain_words(a.key)} {taken}, {_mark(a.mark)}: {plain_source(a.source)}")
    lists = [
        (
            "How the same bowl was taken to differ from one sawing to the next",
            tuple(_dimension_words(d, units) for d in _told_once(answer)),
        )
    ]
    if assumed:
        lists.append(("What else was assumed", tuple(assumed)))
    return TiltInWords(
        headline=_range_sentence(answer),
        sentences=(
            _best_sentence(answer),
            _mostly_sentence(answer),
            _ends_sentence(answer),
            _verdict_sentence(answer),
        ),
        changes=_changes_sentence(answer.changes, units) if answer.span is None else "",
        notes=(_pressed_sentence(answer), *answer.bowl.notes),
        lists=tuple(lists),
    )


def _listed(texts: list[str], width: int) -> list[str]:
    return [
        line
        for text in texts
        for line in textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    ]


def _mark(mark: str) -> str:
    return "ESTIMATE" if mark == "estimated" else mark


def _told_once(answer: TiltAnswer) -> list[Dimension]:
    """Dimensions, the kerf's wander once for all turns."""
    seen, told = set[tuple[str, str]](), []
    for d in answer.scattered.dimensions:
        kind = d.name.rstrip("0123456789 ")
        if (kind, d.source) not in seen:
            seen.add((kind, d.source))
            told.append(d)
    return told


def _dimension_words(d: Dimension, units: str) -> str:
    scale, unit = (math.degrees(1), "deg") if d.unit == "rad" else (1.0, d.unit)
    middle, size = scale * d.middle, scale * d.size
    name = "kerf round each turn" if d.name.startswith("kerf round turn") else d.name
    if d.law == "even":
        half = math.sqrt(3.0) * size
        much = f"{middle - half:.3g} to {middle + half:.3g} {unit}".rstrip()
    elif d.law == "times":
        much = f"give or take {100 * d.size:.0f} percent"
    else:
        much = f"give or take {size:.2g} {unit}"
    return f"{name}: {lengths_in(much, units)}, {_mark(d.mark)}: {d.source}"


def _beyond(limit: str) -> str:
    return "nothing goes wrong, the search ends there" if limit == THE_CUT else limit


def _end_words(end: TiltEnd, side: str) -> str:
    """What waits beyond an end; its tilt is told once, in the range."""
    close = f" (found to within {math.degrees(end.tolerance_rad):.2f} deg)" if end.tolerance_rad else ""
    moves = math.degrees(end.press_moves_rad)
    press = f", give or take {moves:.2g} deg, as the press needed is known to {NEEDED_WITHIN:.0%}"
    return f"{side}{close}: {_beyond(end.limit)}" + (
        press if end.press_moves_rad > end.tolerance_rad else ""
    )


def range_deg(answer: TiltAnswer, span: TiltSpan) -> tuple[str, str]:
    """Ends of a range of tilts as they are shown.

    Parameters
    ----------
    answer, span : TiltAnswer, TiltSpan
        The answer, and one of its spans.

    Returns
    -------
    tuple[str, str]
        On the scale, to a tenth of a degree, rounded inward; finer where that would leave nothing between
        them. [deg]
    """
    low, high = (_on_scale_deg(answer, end.tilt_rad) for end in (span.low, span.high))
    inward = math.ceil(10 * low - 1e-6) / 10, math.floor(10 * high + 1e-6) / 10
    digits, ends = (1, inward) if inward[0] < inward[1] else (2, (low, high))
    return f"{ends[0]:.{digits}f}", f"{ends[1]:.{digits}f}"


def _range_sentence(answer: TiltAnswer) -> str:
    span, scale = answer.span, "on the saw's scale " if answer.bowl.cut.scale_offset_rad else ""
    if span is None:
        nearest = _on_scale_deg(answer, answer.spans.nearest_rad)
        return (
            f"NO TILT locks with the bowl cut as planned; it comes nearest at {nearest:.1f} deg "
            f"{scale}({answer.spans.nearest_state})."
        )
    low, high = range_deg(answer, span)
    ranged = any(u.path == FRICTION for u in answer.bowl.uncertain)
    rubs = ", friction in the middle of its range" if ranged else ""
    text = (
        f"LOCKS from {low} to {high} deg {scale}if cut as planned{rubs}. "
        f"{_end_words(span.low, 'Below that')}; {_end_words(span.high, 'above')}."
    )
    others = ["from {} to {} deg".format(*range_deg(answer, other)) for other in answer.spans.spans[1:]]
    return text + (f" Also {', '.join(others)}." if others else "")


def _in_100(chances: Chances) -> str:
    chance, error = (100 * float(v[-1]) for v in (chances.chance, chances.se))
    return f"{min(max(chance, 0.0), 100.0):.0f} bowls in 100 lock (standard error {error:.1f})"


def best_on_scale(answer: TiltAnswer) -> str:
    """The best tilt as it is shown.

    Parameters
    ----------
    answer : TiltAnswer
        The answer.

    Returns
    -------
    str
        On the scale, to a tenth of a degree; finer where no tenth lies in the range. [deg]
    """
    deg = _on_scale_deg(answer, answer.best_tilt_rad)
    return f"{deg:.1f}" if abs(deg - round(deg, 1)) < 1e-6 else f"{deg:.2f}"


HALF = 0.5
"""Of fewer it is said that even at that tilt no more lock. [-]"""


def _best_sentence(answer: TiltAnswer) -> str:
    best = answer.at_best
    name = "Best tilt" if answer.span is not None else "Least bad tilt"
    even = "even there " if best.chance[-1] < HALF else "there "
    text = f"{name}: {best_on_scale(answer)} deg. Sawn again and again as below, {even}{_in_100(best)}"
    rest = [(state, f"{100 * share:.0f}") for state, share in _the_rest(best) if share >= 0.005]
    others = [f"{count} {_OF_SEVERAL.get(state, state)}" for state, count in rest]
    return text + (f"; of the others {', '.join(others)}." if others else ".")


def mostly_locks_deg(answer: TiltAnswer) -> tuple[float, float] | None:
    """From where to where nine in ten lock, as it is shown.

    Parameters
    ----------
    answer : TiltAnswer
        The answer.

    Returns
    -------
    tuple[float, float] or None
        On the scale, to a tenth of a degree, rounded inward; None where nowhere. [deg]
    """
    ends = answer.curve.mostly_locks_rad(answer.best_tilt_rad)
    if ends is None:
        return None
    low, high = (10 * _on_scale_deg(answer, end) for end in ends)
    low, high = math.ceil(low - 1e-6) / 10, math.floor(high + 1e-6) / 10
    return (low, high) if low < high else None


def _mostly_sentence(answer: TiltAnswer) -> str:
    ends = mostly_locks_deg(answer)
    if ends is None:
        return ""
    share = f"At least {100 * MOSTLY:.0f} in 100 (give or take {100 * TARGET_SE:.0f})"
    return f"{share} lock from about {ends[0]:.1f} to {ends[1]:.1f} deg."


_OF_SEVERAL = {
    "will not open": "will not open",
    "falls through": "fall through",
    "springs back": "spring back",
    "split risk": "may split",
}
"""What several bowls of one state do, in words."""


def _the_rest(chances: Chances) -> list[tuple[str, float]]:
    """Shares of the states in which it does not lock."""
    return [(state, share) for state, share in _states(chances.chance).items() if state != LOCKS]


def _ends_sentence(answer: TiltAnswer) -> str:
    if not answer.at_ends:
        return ""
    # By name: the range is told in tenths, rounded inward, and these were pressed at its very ends.
    told = [
        f"at the {end} one {_in_100(c)}" for end, c in zip(("low", "high"), answer.at_ends, strict=True)
    ]
    return f"At the ends of the range fewer do: {'; '.join(told)}." if _fewer(answer) else (
        f"At the ends of the range: {'; '.join(told)}."
    )  # fmt: skip


def _fewer(answer: TiltAnswer) -> bool:
    return all(c.chance[-1] < answer.at_best.chance[-1] for c in answer.at_ends)


def _verdict_sentence(answer: TiltAnswer) -> str:
    verdict = answer.verdict_at_best
    where = "At the best tilt" if answer.span is not None else "There"
    if verdict is None:
        return f"{where} the bowl as planned could not be judged."
    if verdict.state == verdict.state_at_best:
        sure = " whatever is known only as a range turns out to be" if answer.bowl.uncertain else ""
        return f"{where} the bowl as planned {_does(verdict.state)}{sure}."
    return (
        f"{where}, with everything known only as a range at its unfavourable end, the bowl as "
        f"planned {_does(verdict.state)}, {other_states(verdict)}."
    )


def _does(state: str) -> str:
    return state if state != "split risk" else "may split"


def _pressed_sentence(answer: TiltAnswer) -> str:
    text = f"Worked out from {answer.presses} bowls pressed and let go"
    if answer.failed:
        text += f"; {answer.failed} of the samples could not be followed and were left out"
    short = [c for c in (answer.at_best, *answer.at_ends) if not c.reached]
    if short:
        text += f"; {len(short)} of the chances would need more presses for a standard error of 3"
    return text + "."


def _changes_sentence(changes: tuple[WideningChange, ...], units: str) -> str:
    if not changes:
        return f"Nothing tried opens a range by itself: {', '.join(CHANGES)}."
    listed = [
        f"{c.what} ({_shown(c.before, c.unit, units)} to {_shown(c.after, c.unit, units)}"
        f"{'' if c.base_mm is None else f', a base of {show_length(c.base_mm, units=units)}'})"
        for c in changes
    ]
    missing = [what for what in CHANGES if what not in {c.what for c in changes}]
    text = f"What would open a range, each alone, the smallest change first: {'; '.join(listed)}."
    return text + (f" No help by itself: {', '.join(missing)}." if missing else "")


def _shown(value: float | str, unit: str, units: str) -> str:
    if isinstance(value, str):
        return value
    if unit == "mm":
        return show_length(value, units=units, fine=True)
    return show_force(value, units=units) if unit == "N" else f"{value:.3g}"
