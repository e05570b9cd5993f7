"""What a change would do: root turned on the board, pitch, tilt, each tried on the elastic strip.

Every change is tried at the middle of the ranges, and pressed as hard as the changed bowl takes.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from fitsim.bowl.closed_form import rigid_fit, rigid_rise_mm
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import DecidingNumbers, judge
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.strip.release import KEPT_SHARE
from fitsim.strip.results import rim_height

__all__ = ["Change", "TriedChange", "changes_of", "try_changes"]

PITCH_STEP = 0.15
TILT_STEP_DEG = 1.0


@dataclass(frozen=True)
class Change:
    """One change to a bowl.

    Attributes
    ----------
    name : str
        In a maker's words.
    bowl : Bowl
        The bowl with the change made.
    """

    name: str
    bowl: Bowl


@dataclass(frozen=True)
class TriedChange:
    """A change and what came of it.

    Attributes
    ----------
    name : str
        In a maker's words; the first one tried is "as it is".
    state : str or None
        State by these numbers; None where it could not be worked out.
    numbers : DecidingNumbers or None
        From one opening of the elastic strip.
    rise_mm : float
        Mean rise of the rim, let go; nan where it does not keep it. [mm]
    rise_rigid_mm : float
        Closed-form rise, all seats bound. [mm]
    trouble : str
        Why there are no numbers, "" where there are.
    """

    name: str
    state: str | None
    numbers: DecidingNumbers | None
    rise_mm: float
    rise_rigid_mm: float
    trouble: str


def changes_of(bowl: Bowl) -> tuple[Change, ...]:
    """The changes worth trying on a bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    tuple[Change, ...]
        Root at three places of the grain, pitch and tilt both ways.
    """
    cut = bowl.cut
    roots = (
        (90.0, "root where the strip runs along the grain"),
        (45.0, "root half way between along and across the grain"),
        (0.0, "root where the strip crosses the grain"),
    )
    now = abs(math.degrees(math.atan(math.tan(cut.root_rad))))
    found = [
        Change(name, replace(bowl, cut=replace(cut, root_rad=math.radians(deg))))
        for deg, name in roots
        if abs(deg - now) > 1.0
    ]
    for sign, word in ((-1, "narrower"), (1, "wider")):
        pitch = cut.pitch_mm * (1 + sign * PITCH_STEP)
        found.append(
            Change(f"pitch {PITCH_STEP:.0%} {word}", replace(bowl, cut=replace(cut, pitch_mm=pitch)))
        )
    for sign, word in ((-1, "less"), (1, "more")):
        tilt = tuple(t + sign * math.radians(TILT_STEP_DEG) for t in cut.tilt_rad)
        if min(tilt) > 0:
            changed = replace(bowl, cut=replace(cut, tilt_rad=tilt))
            found.append(Change(f"tilt {TILT_STEP_DEG:g} deg {word}", changed))
    return tuple(found)


def try_changes(
    answer: BowlFit, *, progress: Callable[[str], None] | None = None
) -> tuple[TriedChange, ...]:
    """Try the changes on the elastic strip, the bowl as it is first.

    Parameters
    ----------
    answer : BowlFit
        The fit, with its elastic strip.
    progress : callable, optional
        Called with a line of words before every trial.

    Returns
    -------
    tuple[TriedChange, ...]
        One for each change.

    Raises
    ------
    OutsideModelError
        If the bowl was not pressed open as it is.
    """
    if answer.elastic is None:
        raise OutsideModelError(_why_untried(answer))
    changes = (Change("as it is", answer.bowl), *changes_of(answer.bowl))
    tried = []
    for change in changes:
        if progress is not None:
            progress(f"trying: {change.name}")
        tried.append(_tried(change))
    return tuple(tried)


def _why_untried(answer: BowlFit) -> str:
    if answer.rigid.numbers.slot_left_mm <= 0:
        return (
            "a slot is shut when flat, and no change of root, pitch or tilt opens it: it takes a wider "
            "kerf, less film or other moisture; leave the changes out"
        )
    return (
        "the bowl was not pressed open as it is, and there is nothing to set changes beside: leave them out"
    )


def _tried(change: Change) -> TriedChange:
    """A changed bowl pressed open and let go as in a fit."""
    bowl = change.bowl
    try:
        seats = rigid_fit(bowl).numbers
        if seats.slot_left_mm <= 0:
            shut = replace(seats, split_chance=math.nan)
            return TriedChange(change.name, judge(shut, bowl.limits), shut, math.nan, math.nan, "")
        opening, rigid_mm = open_bowl(bowl), rigid_rise_mm(bowl)
    except (NoConvergenceError, OutsideModelError) as trouble:
        return TriedChange(change.name, None, None, math.nan, math.nan, str(trouble))
    numbers, rest = opening.numbers, opening.rest
    stands = rest is not None and numbers.kept >= KEPT_SHARE
    rise_mm = rim_height(opening.elastic, rest).mean_mm if stands and rest is not None else math.nan
    return TriedChange(change.name, judge(numbers, bowl.limits), numbers, rise_mm, rigid_mm, "")
