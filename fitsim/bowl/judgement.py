"""The judgement of one definite bowl in few numbers.

Every input stands at one value: the samples of a scatter, the places of a map, the weeks of a year, a
changed plan. The bowl is pressed as :mod:`fitsim.bowl.elastic` presses it, and judged by the same numbers
and limits as ``fit`` judges its middle; only the friction used is that of the turn that asks most at rest,
which may lie a fifth to either side of what lowering the friction finds, unless a limit below 1 asks for
that. Each bowl is worked out alone: its answer is the same to the last bit whatever else is asked.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import NOT_DECIDED, DecidingNumbers, judge
from fitsim.errors import NoConvergenceError

__all__ = ["Judgement", "elastic_numbers", "judge_bowl", "judge_opening"]


@dataclass(frozen=True, eq=False)
class Judgement:
    """What is judged of one definite bowl.

    Attributes
    ----------
    state : str
        One of the five states, or "not decided" where the strip could not be followed.
    numbers : DecidingNumbers
        What the state rests on; without a strip those of the rigid seats, the chance of splitting nan.
    rise_mm : float
        Mean rise under the judged press; nan where nothing was pressed. [mm]
    rise_left_mm : float
        Mean rise after letting go; 0 where it slipped away or fell through. [mm]
    needed_N : float
        Least press after which it holds; infinite if none does, nan where nothing was pressed. [N]
    press_at_friction : float
        Friction that asks for that press: where friction is a range its least, if a bowl so pressed locks
        there and in the middle; nan where none makes it hold, or nothing was pressed. [-]
    press_N : float
        The press it is judged at, or at which it fell through on the way; nan where nothing was
        pressed. [N]
    drop_mm : numpy.ndarray
        Mean drop of each turn under the judged press, innermost first; empty where nothing was pressed,
        shape (turns,). [mm]
    """

    state: str
    numbers: DecidingNumbers
    rise_mm: float
    rise_left_mm: float
    needed_N: float
    press_at_friction: float
    press_N: float
    drop_mm: Array

    @property
    def locks(self) -> bool:
        """Whether the bowl locks."""
        return self.state == "locks"


def judge_bowl(bowl: Bowl, *, roughly: bool = False) -> Judgement:
    """Judge one definite bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value. Ranges it still names are left out of account, but for that of
        friction, whose worst end asks for the press as in ``fit``.
    roughly : bool
        As in :func:`fitsim.bowl.elastic.open_bowl`.

    Returns
    -------
    Judgement
        State and numbers.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    seats = rigid_fit(bowl).numbers
    if seats.slot_left_mm <= bowl.limits.slot_left_mm:
        return _unpressed(judge(seats, bowl.limits), seats)
    try:
        opening = open_bowl(bowl, lowering=bowl.limits.friction_used < 1, roughly=roughly)
    except NoConvergenceError:
        return _unpressed(NOT_DECIDED, seats)
    return judge_opening(bowl, opening)


def elastic_numbers(bowl: Bowl) -> DecidingNumbers:
    """The numbers a verdict rests on, from one opening of the elastic strip.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.

    Returns
    -------
    DecidingNumbers
        Those of the rigid seats where a slot is shut when flat: nothing can be pressed then.

    Raises
    ------
    NoConvergenceError
        If a load step finds no equilibrium, however small.
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    seats = rigid_fit(bowl).numbers
    if seats.slot_left_mm <= 0:
        return seats
    return open_bowl(bowl, lowering=bowl.limits.friction_used < 1).numbers


def judge_opening(bowl: Bowl, opening: Opening) -> Judgement:
    """The same of an opening that is there already.

    Parameters
    ----------
    bowl, opening : Bowl, Opening
        The bowl and its opening.

    Returns
    -------
    Judgement
        State and numbers.
    """
    return Judgement(
        state=judge(opening.numbers, bowl.limits),
        numbers=opening.numbers,
        rise_mm=opening.rim.mean_mm,
        rise_left_mm=0.0 if opening.released is None else opening.released.rise_left_mm,
        needed_N=opening.judged.needed_N,
        press_at_friction=opening.judged.friction,
        press_N=opening.press_N,
        drop_mm=frozen(opening.turns.drop_mm),
    )


def _unpressed(state: str, seats: DecidingNumbers) -> Judgement:
    numbers = replace(seats, split_chance=math.nan)
    return Judgement(state, numbers, math.nan, 0.0, math.nan, math.nan, math.nan, frozen(np.empty(0)))
