"""The verdict in words: the states it names, what it depends on, and what it rests on."""

import math
from collections.abc import Sequence

from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import NOT_DECIDED, STATES, WILL_NOT_OPEN, Dependence, Verdict
from fitsim.quantities import show_length
from fitsim.saw.deciding_test import state_sentences

__all__ = [
    "FIRST_ESTIMATES",
    "ON_THE_STRIP",
    "OUTSIDE_MODEL",
    "by_hand_alone",
    "dependence_sentence",
    "model_sentence",
    "named_states",
    "other_states",
    "show_input",
    "told_states",
    "verdict_line",
]

OUTSIDE_MODEL = (
    "knots, checks, wild grain and grain that dives out of the board",
    "kerf that wanders along the cut",
)


FIRST_ESTIMATES = (
    "Stiff turns only, by the hand formula: holding is the taper rule tan(tilt)/friction, a first "
    "estimate. The press, the give of the strip, the root and the nail are not in it, and it knows nothing "
    "of splitting."
)


ON_THE_STRIP = (
    "The verdict rests on the strip as one elastic piece of clear wood, held fast at the root, pressed "
    "open on its bevels with friction and let go; a nail driven while the board lies flat holds its end. "
    "The chance of splitting counts all the wood that works, however little of it is weak, on the first "
    "opening, the root held by a base that does not give. The slot's sharp end adds stress of its own: a "
    "small hole drilled where the cut will end takes the sharpness away."
)


def verdict_line(answer: BowlFit) -> str:
    """The verdict in capitals; both ends if they differ, and the middle if it is a third.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        For example "LOCKS" or "SPRINGS BACK, or LOCKS: it depends on friction".
    """
    capitals = [state.upper() for state in named_states(answer.verdict)]
    told = f"{_either(capitals)}{_depends_words(answer.verdict)}"
    return f"BY THE HAND FORMULA ALONE: {told}" if by_hand_alone(answer) else told


def by_hand_alone(answer: BowlFit) -> bool:
    """Whether the states of an answer are those of the hand formula, which is no verdict.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    bool
        Not where slots are shut or the strip could not be followed: that is told the same, pressed or not.
    """
    told = set(named_states(answer.verdict))
    return answer.elastic is None and not told & {WILL_NOT_OPEN, NOT_DECIDED}


def named_states(verdict: Verdict) -> tuple[str, ...]:
    """Every state that the headline of an answer names.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    tuple[str, ...]
        The one at the unfavourable ends first, the one at the favourable ends last; one state where it is
        certain.
    """
    if verdict.state == verdict.state_at_best:
        return (verdict.state,)
    told = {
        verdict.state_in_middle,
        *(s for d in verdict.depends_on for s in (d.state_at_low, d.state_between, d.state_at_high)),
    }
    between = [s for s in STATES if s in told - {verdict.state, verdict.state_at_best}]
    return (verdict.state, *between, verdict.state_at_best)


def told_states(verdict: Verdict) -> str:
    """The same in words, without what it depends on.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    str
        For example "springs back" or "falls through, or springs back".
    """
    return _either(named_states(verdict))


def _either(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)}, or {last}" if others else last


def other_states(verdict: Verdict) -> str:
    """What the bowl may be beside the state it is at the unfavourable ends, and on what that depends.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    str
        Such as "or locks: it depends on friction"; "" where one state is certain.
    """
    others = told_states(verdict).removeprefix(verdict.state).removeprefix(", ")
    return f"{others}{_depends_words(verdict)}" if others else ""


def _depends_words(verdict: Verdict) -> str:
    """What it depends on which of several states a bowl comes to; "" where one is certain."""
    names = " and ".join(d.name for d in verdict.depends_on)
    return f": it depends on {names}" if names and len(named_states(verdict)) > 1 else ""


def show_input(value: float, unit: str, *, units: str) -> str:
    """Show one end of an uncertain input.

    Parameters
    ----------
    value : float
        In ``unit``. [mm, rad, MPa or -]
    unit : str
        "mm", "rad", "MPa" or "".
    units : str
        "in" or "mm" for lengths.

    Returns
    -------
    str
        For example "0.25", "0.035 in" or "125 MPa".
    """
    if unit == "mm":
        return show_length(value, units=units, fine=True)
    if unit == "rad":
        return f"{math.degrees(value):.1f} deg"
    return f"{value:.3g} {unit}".strip()


def dependence_sentence(depends_on: tuple[Dependence, ...], *, units: str) -> str:
    """Say what the verdict depends on, or "" when it is certain.

    Parameters
    ----------
    depends_on : tuple[Dependence, ...]
        From the verdict.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        One or more sentences.
    """
    sentences = []
    for d in depends_on:
        low, high = (show_input(end, d.unit, units=units) for end in (d.low, d.high))
        if d.state_at_low != d.state_at_high:
            at_low, at_high = state_sentences((d.state_at_low, d.state_at_high), may_be=d.may_be)
            sentences.append(f"It depends on {d.name}: at {low} {at_low}, at {high} {at_high}.")
    if depends_on and not sentences:
        names = " and ".join(d.name for d in depends_on)
        together = " together" if len(depends_on) > 1 else ""
        sentences.append(f"It depends on {names}{together}.")
    return " ".join(sentences)


def model_sentence(answer: BowlFit) -> str:
    """Say what the verdict rests on.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        A sentence or two.
    """
    return FIRST_ESTIMATES if answer.elastic is None else ON_THE_STRIP
