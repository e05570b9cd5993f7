"""The test in the workshop that would settle a verdict, in a maker's sentences."""

import math
from collections.abc import Sequence

from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import LOCKS, SPLIT_RISK, STATES, Dependence
from fitsim.report.press_words import on_the_scale
from fitsim.report.verdict_words import show_input
from fitsim.saw.deciding_test import (
    STRENGTH,
    a_strong_board_holds,
    most_telling_test,
    open_inputs,
    open_strength,
    state_sentences,
)

__all__ = [
    "NO_TEST_HELPS",
    "SETTLE_IT",
    "advised_test",
]

SETTLE_IT = {
    "friction": "slide one off-cut on another and note the angle: fitsim testcut --new FILE",
    "press": "push straight down on a bathroom scale with the flat of the hand",
    "scale error": "set the table with a bevel gauge, or saw another test ring at a much different tilt",
    "kerf": "saw a short slot and measure it with a feeler gauge",
    "film": "measure a scrap with callipers before and after finishing, and halve the difference",
    "strength across the grain": "break strips cut across the grain: fitsim testcut --new FILE",
}
"""How a maker can find out an input that decides the verdict."""


def advised_test(answer: BowlFit, *, units: str) -> str:
    """The test in the workshop that would narrow the answer most, and the reading that decides.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        A few sentences; "" where the verdict hangs on nothing that a test settles. Where it locks at no end
        of what is known only as a range they name no test: none would save it.
    """
    verdict, bowl = answer.verdict, answer.bowl
    open_ends = tuple(d for d in verdict.depends_on if d.name != STRENGTH)
    inputs = (*open_inputs(open_ends), *open_strength(answer))
    test = most_telling_test(inputs, moisture_percent=bowl.board.moisture_percent, units=units)
    if test is not None:
        plain = verdict.state == LOCKS and not verdict.depends_on
        told = f"{'To be surer still' if plain else 'What would settle it best'}: {test.sentence}"
        tested = next(one for one in inputs if one.name == test.input_name)
        return _if_it_may_lock(answer, told, (tested.state_below, tested.state_between, tested.state_above))
    for d in verdict.depends_on:
        if d.name in SETTLE_IT:
            ends = (d.state_at_low, d.state_between, d.state_at_high)
            return _if_it_may_lock(answer, _plain_test(answer, d, units), ends)
    return ""


NO_TEST_HELPS = (
    "No test of these makes the bowl lock as planned: each would only show which way it fails. Change the "
    "plan; fit with --changes tries some."
)
"""In place of a test, where the bowl locks at no end of what is known only as a range."""


def _if_it_may_lock(answer: BowlFit, told: str, outcomes: Sequence[str]) -> str:
    """What is told of a test, where any outcome of it may save the bowl."""
    if LOCKS in outcomes:
        return told
    best = answer.verdict.state_at_best
    if best == SPLIT_RISK and a_strong_board_holds(answer):
        # Of the outcomes none locks as long as the strength of this board is that of any.
        return f"{told} This alone does not make it lock: break test strips of this board as well."
    if best != LOCKS:
        return NO_TEST_HELPS
    # The outcomes are told with the other ranges at their unfavourable ends; at the others' best it locks.
    return f"{told} This alone does not make it lock."


def _plain_test(answer: BowlFit, d: Dependence, units: str) -> str:
    """A test that no file of tests takes, and its deciding reading if that is known."""
    how = f"To find out {d.name}: {SETTLE_IT[d.name]}"
    if not math.isfinite(d.flips_at) or d.state_at_low == d.state_at_high:
        return f"{how}."
    reading = show_input(d.flips_at, d.unit, units=units)
    if d.name == "press":
        upward = STATES.index(d.state_at_high) > STATES.index(d.state_at_low)
        reading = on_the_scale(answer.deciding_press_N or d.flips_at, units, upward=upward)
    low, high = state_sentences((d.state_at_low, d.state_at_high), may_be=d.may_be)
    return f"{how}. What decides: under {reading}, {low}; more, {high}."
