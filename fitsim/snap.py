"""When a turn snaps over: the strip followed, as if it had a drag of its own, to its next balance.

A strip pressed harder need not go on steadily. Where a stretch of bevel starts to slip, or lifts off, the
next balance may lie well away from the last, with none between. The bowl then moves by itself until it
comes to rest, and where depends on the way. That way is followed in small steps of a strip whose elements
resist being deformed quickly: each step is a balance near the one before. The drag is let off while the
strip slows down, and the last step has none: what is returned is a balance like any other.
(Stabilising by viscous forces is common practice where statics has no neighbouring solution.)
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.balance import Goal, Limits, balance
from fitsim.pressed import ElasticBowl, PressState

__all__ = ["Snap", "snapped_over"]

FIRST_DRAG, LEAST_DRAG, MOST_DRAG = 4.0, 0.05, 300.0
"""Viscous stiffness over the strip's own: of the first step, below which it is left out, and at most."""

EASED, TIGHTENED = 0.5, 3.0
SLOW_mm = 0.3
"""While it moves by less than this in a step the drag is eased; where a step fails it is tightened."""


@dataclass(frozen=True, eq=False)
class Snap:
    """What came of following a strip that snaps over.

    Attributes
    ----------
    state : PressState
        The last state; ``converged`` False where it came to no rest.
    steps, sweeps : int
        Steps taken, and linear systems solved, on the way.
    """

    state: PressState
    steps: int
    sweeps: int


def snapped_over(
    bowl: ElasticBowl, before: PressState, goal: Goal, *, most_drop_mm: float, most_sweeps: int
) -> Snap:
    """Follow a strip that finds no balance near by to the one it comes to rest in.

    Parameters
    ----------
    bowl, before, goal : ElasticBowl, PressState, Goal
        The bowl, where it is, and where to; with large displacements.
    most_drop_mm : float
        A step in which some seat drops further is done again, with more drag. [mm]
    most_sweeps : int
        Linear systems solved on the way before giving up.

    Returns
    -------
    Snap
        At rest, fallen through, or given up.
    """
    here, drag, steps, sweeps = before, FIRST_DRAG, 0, 0
    while sweeps < most_sweeps:
        limits = Limits(most_drop_mm) if drag > 0 else None
        new = balance(bowl, here, goal, limits=limits, drag=drag)
        steps, sweeps = steps + 1, sweeps + new.sweeps
        if not new.converged:
            drag = max(TIGHTENED * drag, LEAST_DRAG)
            if drag > MOST_DRAG:
                break
            continue
        if drag == 0.0 or new.fell_through:
            return Snap(new, steps, sweeps)
        moved = float(np.abs(new.shape.position_mm - here.shape.position_mm).max())
        here = new
        if moved < SLOW_mm:
            drag = EASED * drag if EASED * drag > LEAST_DRAG else 0.0
    # A state on the way is a balance with the drag only.
    return Snap(replace(new, converged=False), steps, sweeps)
