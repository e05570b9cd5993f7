"""The answer at one choice of the varied quantities: a row of a table, a place of a map.

It is what ``fit`` says of that bowl with every range left over at its middle: the same word and the same
numbers. What cannot be cut, or cannot be followed, says why instead.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fitsim.bowl.closed_form import deciding_numbers, rigid_fit
from fitsim.bowl.elastic import friction_used_lowered, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.judgement import Judgement, judge_opening
from fitsim.bowl.ranges import mattering, verdict_over_ranges
from fitsim.bowl.verdict import NOT_DECIDED, DecidingNumbers, Verdict, judge
from fitsim.errors import InputError, NoConvergenceError, OutsideModelError
from fitsim.saw.learned import Learned
from fitsim.sweeps.varied_quantities import bowl_with_keys

__all__ = [
    "NUMBER_COLUMNS",
    "OUTSIDE_THE_MODEL",
    "Cell",
    "JudgeBowl",
    "as_fit",
    "numbers_of",
    "over_ranges",
    "quickly",
    "work_out",
    "work_out_all",
]

JudgeBowl = Callable[[Bowl], Judgement]
"""What judges a bowl with every input at one value."""

OUTSIDE_THE_MODEL = "outside the model"

NUMBER_COLUMNS = (
    "slot_left_mm",
    "overlap",
    "friction_used",
    "split_chance",
    "rise_mm",
    "rise_at_rest_mm",
    "rise_kept",
    "press_needed_over_frictions_N",
    "press_at_friction",
    "press_asked_N",
    "press_judged_N",
)
"""Columns of a table that carry a number of the answer, named as ``fit --json`` names them."""


@dataclass(frozen=True, eq=False)
class Cell:
    """The answer at one choice of the varied quantities.

    Attributes
    ----------
    state : str
        State with every remaining range at its middle, "not decided" or "outside the model".
    worst : Verdict or None
        Verdict over the ends of the ranges; None where it was not asked for or there is no answer.
    judged : Judgement or None
        What the state rests on; None where there is no answer.
    spare : float
        Press asked for over press needed. [-]
    reason : str
        Why there is no answer, in one line; "" where there is one.
    """

    state: str
    worst: Verdict | None
    judged: Judgement | None
    spare: float
    reason: str


def as_fit(bowl: Bowl) -> Judgement:
    """Judge a bowl by the very numbers that ``fit`` has at the middle of its ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    Judgement
        State and numbers.

    Raises
    ------
    NoConvergenceError
        If the strip cannot be followed.
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    return _judged(bowl, lowering=True)


def quickly(bowl: Bowl) -> Judgement:
    """Judge a bowl as ``fit`` does, friction used as that of the turn that asks most at rest.

    That is up to a fifth to either side of what lowering friction finds, unless a limit below 1 asks for
    that.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    Judgement
        State and numbers; the same state as :func:`as_fit` has.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`as_fit`.
    """
    return _judged(bowl, lowering=bowl.limits.friction_used < 1)


def _judged(bowl: Bowl, *, lowering: bool) -> Judgement:
    seats = rigid_fit(bowl).numbers
    if seats.slot_left_mm > 0:
        opening = open_bowl(bowl, lowering=lowering)
        # As ``fit`` tells it: nothing is left of what fell through.
        return replace(judge_opening(bowl, opening), rise_left_mm=opening.rise_at_rest_mm)
    return Judgement(
        state=judge(seats, bowl.limits),
        numbers=DecidingNumbers(seats.slot_left_mm, math.nan, math.nan, math.nan, math.nan, math.nan),
        rise_mm=math.nan,
        rise_left_mm=math.nan,
        needed_N=math.nan,
        press_at_friction=math.nan,
        press_N=math.nan,
        drop_mm=rigid_fit(bowl).seats.seat_drop_mm[:0],
    )


def over_ranges(bowl: Bowl, middle: DecidingNumbers, judge_one: JudgeBowl) -> Verdict:
    """The verdict over the ends of a bowl's ranges, as ``fit`` has it.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.
    middle : DecidingNumbers
        Its deciding numbers.
    judge_one : callable
        Judges a bowl.

    Returns
    -------
    Verdict
        Over every end at which the strip could be followed.
    """
    if middle.slot_left_mm <= 0:  # nothing can be pressed: what the seats alone say, whatever the press
        seats, still = rigid_fit(bowl).numbers, tuple(u for u in bowl.uncertain if u.path != "use.press_N")
        return verdict_over_ranges(bowl, seats, deciding_numbers, ranges=still)
    closely = judge_one is as_fit and bowl.limits.friction_used >= 1
    at_ends = quickly if judge_one is as_fit else judge_one

    def numbers(at: Bowl) -> DecidingNumbers:
        seats = rigid_fit(at).numbers  # nothing is pressed where a slot is shut
        return seats if seats.slot_left_mm <= 0 else at_ends(at).numbers

    return verdict_over_ranges(
        bowl,
        middle,
        numbers,
        ranges=mattering(bowl, deciding_numbers),
        may_miss=True,
        used_lowered=partial(friction_used_lowered, middle=bowl) if closely else None,
    )


def work_out(
    tables: Mapping[str, Any],
    texts: Mapping[str, str],
    *,
    judge_one: JudgeBowl = as_fit,
    ranges: bool = False,
    learned: Learned | None = None,
) -> Cell:
    """Work out the answer at one choice of the varied quantities.

    Parameters
    ----------
    tables : Mapping
        Tables as in a bowl file.
    texts : Mapping[str, str]
        Value of each varied key, as written in a bowl file.
    judge_one : callable
        Judges a bowl.
    ranges : bool
        True to judge the ends of every range as well.
    learned : Learned or None
        What tests have taught, laid on the bowl.

    Returns
    -------
    Cell
        The answer, or why there is none.
    """
    try:
        bowl = bowl_with_keys(tables, texts, learned=learned)
        rigid_fit(bowl)
    except (InputError, OutsideModelError) as error:
        return Cell(OUTSIDE_THE_MODEL, None, None, 1.0, _one_line(error))
    spare = bowl.limits.press_spare
    try:
        found = judge_one(bowl)
        worst = over_ranges(bowl, found.numbers, judge_one) if ranges else None
    except (NoConvergenceError, OutsideModelError) as error:
        return Cell(NOT_DECIDED, None, None, spare, _one_line(error))
    return Cell(found.state, worst, found, spare, "")


def _one_line(error: Exception) -> str:
    return "; ".join(str(error).splitlines())


def work_out_all(
    tables: Mapping[str, Any],
    texts: Sequence[Mapping[str, str]],
    *,
    judge_one: JudgeBowl,
    ranges: bool = False,
    learned: Learned | None = None,
    executor: Executor | None = None,
) -> Iterator[Cell]:
    """Work out many choices, each by itself.

    Parameters
    ----------
    tables : Mapping
        Tables as in a bowl file.
    texts : Sequence[Mapping[str, str]]
        Values of the varied keys, choice by choice.
    judge_one : callable
        Judges a bowl; a function of a module if processes are to use it.
    ranges : bool
        True to judge the ends of every range as well.
    learned : Learned or None
        What tests have taught, laid on every bowl.
    executor : concurrent.futures.Executor or None
        Who works; None: this process.

    Yields
    ------
    Cell
        In the order of the choices, as they are finished; the same to the last bit whoever works.
    """
    one = partial(work_out, tables, judge_one=judge_one, ranges=ranges, learned=learned)
    return map(one, texts) if executor is None else executor.map(one, texts)


def numbers_of(cell: Cell) -> tuple[float | None, ...]:
    """Numbers of a cell in the order of :data:`NUMBER_COLUMNS`.

    Parameters
    ----------
    cell : Cell
        The cell.

    Returns
    -------
    tuple
        None where there is no such number; infinite where no press makes it hold.
    """
    found = cell.judged
    if found is None:
        return (None,) * len(NUMBER_COLUMNS)
    numbers = found.numbers
    every = (
        numbers.slot_left_mm,
        numbers.overlap,
        numbers.friction_used,
        numbers.split_chance,
        found.rise_mm,
        found.rise_left_mm,
        numbers.kept,
        found.needed_N,
        found.press_at_friction,
        cell.spare * found.needed_N,
        found.press_N,
    )
    return tuple(None if math.isnan(value) else float(value) for value in every)
