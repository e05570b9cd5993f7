"""The verdict: which state the bowl is in, and how far it is from every other.

One set of words, in order of precedence: will not open, falls through, springs back, split risk,
locks. Every state reports its own margin even when another decides. Where inputs are known only as
ranges each deciding number has a better and a worse end, and so has the verdict.

Springing back is decided by what is left of the rise when the press is taken away. Friction used is its
margin: the least friction that keeps the rise, over the friction there is. A bowl that needs more press
than there is springs back too.
"""

import math
from dataclasses import dataclass, replace

from fitsim.bowl.inputs import Limits
from fitsim.strip.release import KEPT_SHARE

__all__ = [
    "STATES",
    "DecidingNumbers",
    "Dependence",
    "Margin",
    "Verdict",
    "deciding_press_N",
    "happens",
    "judge",
    "margins",
    "room",
]

WILL_NOT_OPEN = "will not open"
FALLS_THROUGH = "falls through"
SPRINGS_BACK = "springs back"
SPLIT_RISK = "split risk"
LOCKS = "locks"

NOT_DECIDED = "not decided"
"""The word where the strip could not be followed: no state, and never shown as one."""

STATES = (WILL_NOT_OPEN, FALLS_THROUGH, SPRINGS_BACK, SPLIT_RISK, LOCKS)


@dataclass(frozen=True)
class DecidingNumbers:
    """The numbers the states are decided by: four, and two more that tell of springing back.

    Attributes
    ----------
    slot_left_mm : float
        Least slot left on any seat when flat, after film and swelling. [mm]
    overlap : float
        Least share of the thickness that still faces wood at rest; minus infinity if nothing
        binds. [-]
    friction_used : float
        Least friction that keeps the rise, over the friction there is. [-]
    split_chance : float
        Chance of splitting on opening, at the press the bowl is judged at; 0 of stiff turns, which do not
        split, nan where a bowl was to be pressed and could not. [-]
    kept : float
        Share of the rise that is left after letting go; 1 where no press is followed. [-]
    press_asked : float
        Press it is to be judged at over the press there is; 0 where no press is followed. [-]
    """

    slot_left_mm: float
    overlap: float
    friction_used: float
    split_chance: float
    kept: float = 1.0
    press_asked: float = 0.0


@dataclass(frozen=True)
class Margin:
    """How far the bowl is from one state.

    Attributes
    ----------
    state : str
        One of the first four :data:`STATES`.
    quantity, unit : str
        The deciding number's name and unit ("" for a share).
    value, limit : float
        The number at the middle of every range, and where the state begins. [unit]
    margin : float
        Distance to the limit, positive on the safe side. [unit]
    worst, best : float
        The number at the unfavourable and favourable ends of the ranges. [unit]
    at_worst, at_best : bool
        Whether the state happens there, whatever the others say.
    """

    state: str
    quantity: str
    unit: str
    value: float
    limit: float
    margin: float
    worst: float
    best: float
    at_worst: bool
    at_best: bool


@dataclass(frozen=True)
class Dependence:
    """An input whose range decides the verdict.

    Attributes
    ----------
    name, unit : str
        The input and its unit ("" for a ratio).
    low, high : float
        Ends of its range. [unit]
    state_at_low, state_at_high : str
        State at each end, other inputs at their unfavourable ends for this state.
    flips_at : float
        Value at which the state at its low end ends; nan where that is not known. [unit]
    state_between : str
        The state that follows there, where that is another than the one at its high end; that at its low
        end where what lies between was not tried closely; else "".
    until : float
        Value, one that was tried, from which the state is that at its high end; nan where none lies
        between. [unit]
    may_be : tuple of str
        Those of these states in which it may be there and need not: with the other ranges at their middle
        it does better.
    """

    name: str
    unit: str
    low: float
    high: float
    state_at_low: str
    state_at_high: str
    flips_at: float = math.nan
    state_between: str = ""
    until: float = math.nan
    may_be: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """The state of the bowl.

    Attributes
    ----------
    state : str
        State at the unfavourable end of every range: the one to plan for.
    state_at_best : str
        State at the favourable ends; the same word when the ranges do not matter.
    state_in_middle : str
        State with every range at its middle.
    worst, best : DecidingNumbers
        Each deciding number at its own unfavourable and favourable end of the ranges.
    margins : tuple[Margin, ...]
        One for each of the first four states, in order of precedence; of stiff turns none to splitting.
    depends_on : tuple[Dependence, ...]
        Inputs whose range changes the state; empty when it is certain.
    ends_missing : int
        Ends of the ranges that were to be tried and found no equilibrium; nothing of them is in the rest.
    """

    state: str
    state_at_best: str
    state_in_middle: str
    worst: DecidingNumbers
    best: DecidingNumbers
    margins: tuple[Margin, ...]
    depends_on: tuple[Dependence, ...]
    ends_missing: int = 0


def happens(state: str, numbers: DecidingNumbers, limits: Limits) -> bool:
    """Whether one state's own condition is met, whatever the others say.

    Parameters
    ----------
    state : str
        One of the first four :data:`STATES`.
    numbers : DecidingNumbers
        The deciding numbers.
    limits : Limits
        Where the states begin; a number exactly on its limit is read as physics has it: a slot
        must be more than the limit, the overlap at least it, friction used at most it (the least friction
        that keeps the rise does keep it), the chance below it.

    Returns
    -------
    bool
        True if the state happens.
    """
    return {
        WILL_NOT_OPEN: not numbers.slot_left_mm > limits.slot_left_mm,
        FALLS_THROUGH: not numbers.overlap >= limits.overlap,
        SPRINGS_BACK: not numbers.friction_used <= limits.friction_used
        or not numbers.kept >= KEPT_SHARE
        or not numbers.press_asked <= 1,
        SPLIT_RISK: not numbers.split_chance < limits.split_chance,
    }[state]


def judge(numbers: DecidingNumbers, limits: Limits) -> str:
    """Return the first state, in order of precedence, whose condition is met.

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers.
    limits : Limits
        Where the states begin.

    Returns
    -------
    str
        One of :data:`STATES`.

    Examples
    --------
    >>> judge(DecidingNumbers(0.7, 0.59, 0.3, 0.001), Limits())
    'locks'
    >>> judge(DecidingNumbers(0.7, 0.59, 1.33, 0.4), Limits())
    'springs back'
    """
    return next((s for s in STATES[:-1] if happens(s, numbers, limits)), LOCKS)


def room(numbers: DecidingNumbers, limits: Limits) -> tuple[float, float, float, float]:
    """How far a bowl is from each of the first four states: positive where the state does not happen.

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers.
    limits : Limits
        Where the states begin.

    Returns
    -------
    tuple[float, float, float, float]
        Slot left [mm] and overlap above their limits; friction used below its limit, or what is asked of
        the press below what there is if that is less; chance of splitting below its limit [-].

    Examples
    --------
    >>> [round(r, 3) for r in room(DecidingNumbers(0.7, 0.59, 0.3, 0.001, 0.97, 0.8), Limits())]
    [0.7, 0.44, 0.2, 0.099]
    """
    springs = min(limits.friction_used - numbers.friction_used, 1 - numbers.press_asked)
    if not numbers.kept >= KEPT_SHARE:
        springs = min(springs, numbers.kept - KEPT_SHARE)
    return (
        numbers.slot_left_mm - limits.slot_left_mm,
        numbers.overlap - limits.overlap,
        springs,
        limits.split_chance - numbers.split_chance,
    )


def margins(
    middle: DecidingNumbers, worst: DecidingNumbers, best: DecidingNumbers, limits: Limits
) -> tuple[Margin, ...]:
    """Margins to the four states.

    Parameters
    ----------
    middle, worst, best : DecidingNumbers
        Numbers with every range at its middle, and each at its own unfavourable and favourable end.
    limits : Limits
        Where the states begin.

    Returns
    -------
    tuple[Margin, ...]
        In order of precedence. That to springing back is told in friction used; where only the press
        decides it, in the press asked over the press there is.
    """

    def margin(state: str, quantity: str, unit: str, limit: float, safe: float) -> Margin:
        name = f"{quantity}_{unit}" if unit else quantity
        value = float(getattr(middle, name))
        return Margin(
            state=state,
            quantity=quantity.replace("_", " "),
            unit=unit,
            value=value,
            limit=limit,
            margin=safe * (value - limit),
            worst=float(getattr(worst, name)),
            best=float(getattr(best, name)),
            at_worst=happens(state, worst, limits),
            at_best=happens(state, best, limits),
        )

    springs = margin(SPRINGS_BACK, "friction_used", "", limits.friction_used, -1.0)
    if worst.press_asked > 1 and not happens(SPRINGS_BACK, replace(worst, press_asked=1.0), limits):
        springs = margin(SPRINGS_BACK, "press_asked", "", 1.0, -1.0)
    return (
        margin(WILL_NOT_OPEN, "slot_left", "mm", limits.slot_left_mm, 1.0),
        margin(FALLS_THROUGH, "overlap", "", limits.overlap, 1.0),
        springs,
        margin(SPLIT_RISK, "split_chance", "", limits.split_chance, -1.0),
    )


def deciding_press_N(verdict: Verdict, *, asked_N: float) -> float | None:
    """Press below which a bowl springs back, somewhere in what is known only as a range.

    Parameters
    ----------
    verdict : Verdict
        The verdict.
    asked_N : float
        What the bowl ought to be pressed with in the middle of the ranges; not finite where no press makes
        it hold. [N]

    Returns
    -------
    float or None
        No less than what is asked; None where the verdict does not hang on the press, or not for that. [N]
    """
    hangs = (
        d for d in verdict.depends_on
        if d.name == "press" and d.state_at_low == SPRINGS_BACK != d.state_at_high
    )  # fmt: skip
    flips_at = next((d.flips_at for d in hangs), math.nan)
    if not math.isfinite(flips_at):
        return None
    return max(flips_at, asked_N) if math.isfinite(asked_N) else flips_at
