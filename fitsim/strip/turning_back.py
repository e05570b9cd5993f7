"""Turning back: a gentler press or less friction, from a state in which turns bear, slipping included.

The touching points are hard and counted from where they are, all taken to stick at first: one step of
Newton's method to the equilibrium near. Where points slide one after another there may be none near,
though the bowl only gives a little. Then the strip is followed as it *slides to rest*: its own stiffness,
some times over, holds it back, in steps in which it moves little, and the friction's memory is renewed
after each, so that a point which slid and turns round sticks. That is the limit of slow motion in a syrup
(vanishing viscosity; A. Mielke and T. Roubicek, *Rate-Independent Systems*, Springer 2015, from memory):
where the strip rests it is in equilibrium, and where it does not its turns lose their grip together.

    (K + d C) x = r        C the elements' own stiffness, d the damping of this step, x its motion

At rest d C x is what is out of balance: d times the motion is how far it would bend the strip by itself.
"""

from dataclasses import replace

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.contact_law import ContactLaw, normal_before_N
from fitsim.strip.load_step import (
    HARD,
    Goal,
    Iterate,
    Settled,
    Solver,
    Tolerance,
    greatest_mm,
    iterated,
    law_of,
    newton,
    settled_state,
)
from fitsim.strip.state import PressState, mean_rise_mm

__all__ = ["TURNING_BACK_N_PER_mm", "step_back", "turn_back"]

TURNING_BACK_N_PER_mm = 1000.0
"""Stiffness of a touching point in a step back; its compliance comes in series. [N/mm]"""

SHARPEST, STICKY = 12.0, 4.0
"""Sharpness of the corner between sticking and sliding, and times the friction's bound in the first
iteration of a step back. [-]"""

AT_REST = Tolerance(0.005, 0.0004)
"""When a step back has settled. Forces have to be right to far less than the press that is still there: of
122 presses about the least that holds 57, 40, 19, 15 and 13 held with forces to 0.003, 0.0015, 0.0007,
0.0003 and 0.0001; from there on it makes no odds in how many steps the press is taken away. [mm, -]"""

PASSES, MOST_MISS_mm = 8, 2e-3
"""Most times the shape is written again, and the miss of a bearing point's gap that is good enough. [mm]"""

DAMPING, LEAST_DAMPING, MOST_DAMPING = 2.0, 0.02, 1e4
"""Damping of a sliding strip: at first, and its bounds. [-]"""

MOST_STEPS, MOST_SYSTEMS, EASY_SYSTEMS = 200, 12, 6
"""Steps of a sliding strip before it is given up, linear systems of one before it is tried shorter, and of
one that went easily."""

LONG_mm, SHORT_mm = 1.0, 0.3
"""Motion of a step from which the next is damped more, and up to which it is damped less. [mm]"""

TOO_FAR_mm, AMISS = 4.0, 0.03
"""Motion at which a step of a sliding strip is tried shorter, and error of its third linear system's forces
and later ones'. [mm, -]"""

STILL_mm, STILL_MOTION_mm = 0.003, 0.05
"""What is out of balance at rest, as a bending of the strip, and the motion of the last step. [mm]"""

LOST_GRIP, FAST_mm, RUNS_AWAY_mm = 0.85, 1.0, 2.0
"""Share of the seats' forces at which a sliding strip is taken to have lost its grip, if more than the
second is out of balance; and what is out of balance where it has, if it grew twice while those forces fell.
Of 91 that came to rest, on 33 bowls, one had done either; all of 93 others did, in half of the work to
where they sank. [-, mm, mm]"""

LOST_GRIP_UNEVEN = 0.65
"""The same where the line is no circle: such strips snap at their corners and hold all the same, so that
nothing else is taken for a sign, and they are followed closely however fast. Of an oval of four turns
eleven presses in a row would be said to slip that hold. [-]"""

SOON = 2
"""Steps after which one is tried as long again as one that was lost."""

SLIDES_mm, HALF_AHEAD, ROUGHLY = 0.5, 0.5, 0.004
"""What is out of balance from which points are first taken to slide on as in the step before, how far of
it, and how nearly forces then have to be right. From 0.1 mm on, single strips are made to slide that stop;
a third of the work is saved. [mm, -, -]"""


def step_back(
    solver: Solver,
    before: PressState,
    press_N: float,
    *,
    friction: float | None = None,
    least_rise_mm: float = -np.inf,
    briefly: bool = False,
) -> Settled:
    """A gentler press, or another friction: the equilibrium near, or where the strip slides to.

    Parameters
    ----------
    solver, before : Solver, PressState
        The bowl made ready, and where it is.
    press_N : float
        Press to reach; negative pushes the rim down. [N]
    friction : float, optional
        Coefficient in place of the bowl's. [-]
    least_rise_mm : float
        A strip that sinks below this rise has gone. [mm]
    briefly : bool
        Whether early signs of slipping are trusted on an uneven line as well.

    Returns
    -------
    Settled
        The equilibrium, or how the step ended without one.
    """
    found = turn_back(solver, before, press_N, friction=friction)
    if found.state is not None:
        return found
    uneven = solver.bowl.splines_per_turn is not None and not briefly
    slid = _slide_to_rest(solver, before, press_N, friction, least_rise_mm, uneven=uneven)
    return replace(slid, iterations=found.iterations + slid.iterations)


def turn_back(
    solver: Solver, before: PressState, press_N: float, *, friction: float | None = None
) -> Settled:
    """A gentler press, or another friction, if there is an equilibrium near.

    Parameters
    ----------
    solver, before : Solver, PressState
        The bowl made ready, and where it is.
    press_N, friction : float
        As :func:`step_back`. [N, -]

    Returns
    -------
    Settled
        The equilibrium; no state where it is not near.
    """
    mu = solver.bowl.friction if friction is None else friction
    it = Iterate(solver, before, before.followed.splines, before.followed.force, press_N)
    it.hasty = True
    law = _law_from(solver, before, it, mu)
    e, w = len(before.place), law.rounding_N
    sticky = STICKY
    for _ in range(PASSES):
        if iterated(it, law, Goal(press_N), AT_REST, sticky) != "settled":
            break
        sticky = 1.0
        it.shear_as_carried()
        it.follow()
        miss = np.abs(it.here.gap - it.predicted)[:e, :, 0]
        if float(miss[it.force[:e, :, 0] > w].max(initial=0.0)) < MOST_MISS_mm:
            return Settled(settled_state(it, before, mu, w), False, it.iterations)
    return Settled(None, False, it.iterations)


def _law_from(solver: Solver, before: PressState, it: Iterate, friction: float) -> ContactLaw:
    """The law of points that bear counted from where they are."""
    force, e = before.followed.force, len(before.place)
    N = force[:e, :, 0]
    w = solver.rounding_of(float(N.sum()) / len(N))
    welded = np.zeros(force.shape[:2], dtype=bool)
    welded[:e] = 1e-3 * float(N.max()) < N
    lent = np.where(welded[..., None], force, 0.0)
    lent[e:] = force[e:]
    compliance = solver.bowl.point_compliance_mm_per_N
    soft = law_of(solver, HARD, w, friction, lent, lent[:, :, 1:])
    hard = 1 / (compliance + 1 / TURNING_BACK_N_PER_mm)
    return replace(
        soft,
        stiffness_N_per_mm=np.where(welded, hard, soft.stiffness_N_per_mm),
        sharpness=SHARPEST,
        welded=welded,
        welded_N=normal_before_N(np.maximum(force[..., 0], 1e-12), w),
        welded_mm=it.predicted[..., 0],
    )


def _slide_to_rest(
    solver: Solver,
    before: PressState,
    press_N: float,
    friction: float | None,
    least_rise_mm: float,
    *,
    uneven: bool,
) -> Settled:
    """Follow a strip that slides until it rests, has sunk, or has lost its grip."""
    bowl, here, spent = solver.bowl, before, 0
    least_grip = LOST_GRIP_UNEVEN if uneven else LOST_GRIP
    mu = bowl.friction if friction is None else friction
    damping, least_damping, easy = DAMPING, LEAST_DAMPING, 0
    grip_N, amiss_mm, gaining, slides = [_grip_N(before)], 0.0, 0, False
    pace = np.zeros_like(before.followed.splines)
    for _ in range(MOST_STEPS):
        nearly = ROUGHLY if slides else AT_REST.force
        state, motion_mm, systems = _slid(solver, here, press_N, mu, damping, pace / damping, nearly)
        spent += systems
        if state is None:
            # Where a step was lost none is tried as long for a while.
            least_damping, easy = 2 * damping, 0
            damping *= 4
            if damping > MOST_DAMPING:
                break
            continue
        grip_N.append(_grip_N(state))
        gains = damping * motion_mm > amiss_mm and grip_N[-1] < grip_N[-2]
        gaining, amiss_mm = gaining + 1 if gains else 0, damping * motion_mm
        slides = amiss_mm > SLIDES_mm and not uneven
        pace = HALF_AHEAD * slides * damping * (state.followed.splines - here.followed.splines)
        here = state
        lost = grip_N[-1] < least_grip * grip_N[0] and amiss_mm > FAST_mm
        away = gaining > 1 and amiss_mm > RUNS_AWAY_mm and not uneven
        if lost or away or mean_rise_mm(bowl, here) < least_rise_mm:
            return Settled(None, True, spent)
        if amiss_mm < STILL_mm and motion_mm < STILL_MOTION_mm:
            return Settled(here, False, spent)
        easy += 1
        if easy % SOON == 0:
            least_damping = max(0.5 * least_damping, LEAST_DAMPING)
        if motion_mm > LONG_mm:
            damping *= 1.5
        elif motion_mm < SHORT_mm and systems <= EASY_SYSTEMS:
            damping = max(0.5 * damping, least_damping)
    return Settled(None, False, spent)


def _grip_N(state: PressState) -> float:
    """Normal forces of the seats together. [N]"""
    return float(state.followed.force[: len(state.place), :, 0].sum())


def _slid(
    solver: Solver,
    before: PressState,
    press_N: float,
    friction: float,
    damping: float,
    ahead: Array,
    nearly: float,
) -> tuple[PressState | None, float, int]:
    """One damped step: the state, None where it is lost; how far a node moved [mm]; linear systems.

    The law is first worked out where a change of the splines, ahead, would bring the points; its forces
    have to be right to within a share of their sum.
    """
    it = Iterate(solver, before, before.followed.splines, before.followed.force, press_N)
    it.damp(damping)
    law = _law_from(solver, before, it, friction)
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
            return settled_state(it, before, friction, law.rounding_N), far, it.iterations
        if far > TOO_FAR_mm or (count > 1 and error > AMISS):
            break
    return None, 0.0, it.iterations


def _whole(_move: float) -> float:
    """The whole step, however far."""
    return 1.0
