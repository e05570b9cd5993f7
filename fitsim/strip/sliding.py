"""A strip with no equilibrium near, followed as it slides to rest.

Where points slide, or come to bear, one after another, Newton's method may find no equilibrium though the
bowl only gives a little; and past a snap there is none near. The strip is then moved under its load as in a
syrup: its own stiffness, some times over, holds it back, in steps in which it moves little, and the
friction's memory is renewed after each, so that a point which slid and turns round sticks. That is the
limit of slow motion (vanishing viscosity; A. Mielke and T. Roubicek, *Rate-Independent Systems*, Springer
2015, from memory): where the strip rests it is in equilibrium, and where it does not it has let go, or has
run out of wood.

    (K + d C) x = r        C the elements' own stiffness, d the damping of this step, x its motion

At rest d C x is what is out of balance: d times the motion is how far it would bend the strip by itself.
Points may jump from bevel to bevel in a motion that hardly bends the strip, which its stiffness does not
hold back; then the bearing points are slowed as well, as by grease between the bevels.
`equilibrium` follows a strip that is pressed, `turning_back` one that is let go; each has its law of the
points and knows when it has gone.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.contact_law import ContactLaw
from fitsim.strip.load_step import (
    Iterate,
    Solver,
    StepResult,
    greatest_mm,
    newton,
    settled_state,
)
from fitsim.strip.state import PressState

__all__ = ["Sliding", "slide_to_rest"]

DAMPING, LEAST_DAMPING, MOST_DAMPING = 8.0, 0.02, 1e4
"""Damping of a sliding strip: at first, and its bounds. [-]"""

MOST_STEPS, MOST_SYSTEMS, EASY_SYSTEMS = 200, 12, 6
"""Steps of a sliding strip before it is given up, linear systems of one before it is tried shorter, and of
one that went easily."""

LONG_mm, SHORT_mm = 1.0, 0.3
"""Motion of a step from which the next is damped more, and up to which it is damped less. [mm]"""

TOO_FAR_mm = 4.0
"""Motion at which a step is tried shorter. [mm]"""

DRAGGED, HARDLY_mm = 2048.0, 0.03
"""Of a strip whose bearing points are slowed as well: damping at first, since it was lost with less without
them, and motion in a step up to which the next is damped a quarter as much. [-, mm]"""

STILL_mm, STILL_MOTION_mm = 0.003, 0.05
"""What is out of balance at rest, as a bending of the strip, and the motion of the last step. [mm]"""

SOON = 2
"""Steps after which one is tried as long again as one that was lost."""

HALF_AHEAD = 0.5
"""How far of the step before points that slide on are first taken to go. [-]"""


@dataclass(frozen=True)
class Sliding:
    """What is slid, and until when.

    Attributes
    ----------
    press_N, friction : float
        Press and coefficient under which it slides. [N, -]
    law_from : callable
        The law of a step: of the state it begins with and the step's iterate.
    gone : callable
        Whether a state, and what is out of balance there [mm], shows that it will not come to rest.
    nearly, roughly : float
        Error of the law's forces, over their sum, at which a step has settled; and while the strip slides
        fast. [-]
    fast_mm : float
        What is out of balance from which it slides fast: points are then first taken to slide on. [mm]
    amiss : float
        Error of the third linear system's forces, and later ones', at which a step is tried shorter. [-]
    closely : bool
        Whether steps settle closely enough for stresses.
    drag_N_per_mm : float
        Of a bearing point, times the damping, against its motion. [N/mm]
    """

    press_N: float
    friction: float
    law_from: Callable[[PressState, Iterate], ContactLaw]
    gone: Callable[[PressState, float], bool]
    nearly: float
    roughly: float
    fast_mm: float = np.inf
    amiss: float = np.inf
    closely: bool = True
    drag_N_per_mm: float = 0.0


def slide_to_rest(solver: Solver, before: PressState, way: Sliding) -> StepResult:
    """Follow a strip that slides until it rests or has gone.

    Parameters
    ----------
    solver, before, way : Solver, PressState, Sliding
        The bowl made ready, where it begins, and how it slides.

    Returns
    -------
    StepResult
        The state at rest; that it has gone; or neither, where it could not be followed.
    """
    here, spent, fast = before, 0, False
    damping, least_damping, easy = DAMPING if way.drag_N_per_mm == 0 else DRAGGED, LEAST_DAMPING, 0
    pace = np.zeros_like(before.followed.splines)
    for _ in range(MOST_STEPS):
        nearly = way.roughly if fast else way.nearly
        state, motion_mm, systems = _step(solver, here, way, damping, pace / damping, nearly)
        spent += systems
        if state is None:
            # Where a step was lost none is tried as long for a while.
            least_damping, easy = 2 * damping, 0
            damping *= 4
            if damping > MOST_DAMPING:
                break
            continue
        amiss_mm = damping * motion_mm
        fast = amiss_mm > way.fast_mm
        pace = HALF_AHEAD * fast * damping * (state.followed.splines - here.followed.splines)
        here = state
        if way.gone(here, amiss_mm):
            return StepResult(None, True, spent)
        if amiss_mm < STILL_mm and motion_mm < STILL_MOTION_mm:
            return StepResult(here, False, spent)
        easy += 1
        if way.drag_N_per_mm > 0 and motion_mm < HARDLY_mm:
            least_damping = max(0.25 * least_damping, LEAST_DAMPING)
            damping = max(0.5 * damping, LEAST_DAMPING)
        elif easy % SOON == 0:
            least_damping = max(0.5 * least_damping, LEAST_DAMPING)
        if motion_mm > LONG_mm:
            damping *= 1.5
        elif motion_mm < SHORT_mm and systems <= EASY_SYSTEMS:
            damping = max(0.5 * damping, least_damping)
    return StepResult(None, False, spent)


def _step(
    solver: Solver, before: PressState, way: Sliding, damping: float, ahead: Array, nearly: float
) -> tuple[PressState | None, float, int]:
    """One damped step: the state, None where it is lost; how far a node moved [mm]; linear systems.

    The law is first worked out where a change of the splines, ahead, would bring the points; its forces
    have to be right to within a share of their sum.
    """
    it = Iterate(solver, before, before.followed.splines, before.followed.force, way.press_N)
    it.damp(damping, way.drag_N_per_mm)
    law = way.law_from(before, it)
    it.look_ahead(ahead)
    it.take_law(law)
    for count in range(MOST_SYSTEMS):
        found = newton(it, law, None, _whole)
        if found is None:
            break
        move, _part, error = found
        far = greatest_mm(it.motion)
        if error < nearly and move < STILL_MOTION_mm + 0.1 * far:
            it.shear_as_carried()
            state = settled_state(it, before, way.friction, law.rounding_N, closely=way.closely)
            return state, far, it.iterations
        if far > TOO_FAR_mm or (count > 1 and error > way.amiss):
            break
    return None, 0.0, it.iterations


def _whole(_move: float) -> float:
    """The whole step, however far."""
    return 1.0
