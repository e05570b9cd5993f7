"""Going forward: from one state to the equilibrium at a harder press, or at another rise, in one load step.

A step is given by the press to reach, or by the rise: then the press is one more unknown. Contact begins
soft and stiffens in stages, the forces found being the next stage's multipliers (`load_step` has the
iteration). Where there is no equilibrium near the strip slides on to the next.
"""

from dataclasses import replace

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.configuration import configure, shape_of, solved
from fitsim.strip.contact_law import ContactLaw
from fitsim.strip.load_step import (
    FIRM,
    HARD,
    ROUNDING,
    Goal,
    Iterate,
    Solver,
    StepResult,
    Tolerance,
    forces_under,
    iterated,
    law_of,
    settled_state,
)
from fitsim.strip.sliding import Sliding, slide_to_rest
from fitsim.strip.state import ContactForces, Followed, PressState

__all__ = ["flat_state", "slide_on", "step_to", "unit_press"]

SOFTEST, SOFT = 30.0, 50.0
"""Stiffness of the contact's spring before the turns seat, in a first stage; as `load_step.FIRM`. [N/mm]"""

MOST_GAP_mm = 0.1
"""An equilibrium at the end of a path with a touching point further from its place is none."""

SINKS_mm, SOFTLY, HARDLY = 0.005, 50.0, 1000.0
"""How far a sliding strip's mean force sinks into the contact's spring, and the spring's bounds, as
`load_step.FIRM`: a softer one lets what wedges wedge further, its forces come out a fifth too great; a
harder one takes a hundred steps where forces are of a tenth of a newton. [mm, N/mm]"""

NEARLY = 0.01
"""Error of a sliding strip's forces, over their sum. [-]"""

CLOSELY, LOOSELY = Tolerance(0.008, 0.004), Tolerance(0.07, 0.03)
"""The end of a path where stresses are asked for, and where they are not."""

ON_THE_WAY = Tolerance(0.03, 0.01)
"""A state that is passed: its forces are what friction remembers. Let off with 0.15 mm and 15 percent,
three random bowls of 45 came to their end with forces 2, 6 and 82 percent too great."""


def flat_state(solver: Solver) -> PressState:
    """The flat board: nothing touches, no press.

    Parameters
    ----------
    solver : Solver
        The bowl made ready.

    Returns
    -------
    PressState
        At press zero.
    """
    held, bowl = solver.held, solver.bowl
    s, e = held.splines, len(bowl.strip.arc_mm)
    splines, shear = np.zeros(s.unknowns), np.zeros((e, 3))
    here = configure(held, splines, shear, bowl.seats.place, np.zeros((e, 2)), sweeps=3)
    met = here.meeting
    return PressState(
        press_N=0.0,
        shape=shape_of(here),
        deformation=np.zeros((e, 6)),
        place=here.meeting.place,
        drop_mm=here.meeting.drop_mm,
        slid_mm=np.zeros((2 * e, 2)),
        lost_Nmm=0.0,
        given_Nmm=0.0,
        contact=ContactForces(np.zeros((2 * s.slots, 3)), 0.0, 0.0, 0.0),
        followed=Followed(splines, shear, np.zeros((s.slots, 2, 3)), met.gap_mm, met.slope_mm),
        iterations=0,
        residual_mm=0.0,
        fell_through=False,
    )


def step_to(
    solver: Solver,
    before: PressState,
    goal: Goal,
    *,
    splines: Array | None = None,
    force: Array | None = None,
    seated: bool = True,
) -> StepResult:
    """Go from one state to another in a single load step.

    Parameters
    ----------
    solver, before, goal : Solver, PressState, Goal
        The bowl made ready, where it is, and where to.
    splines, force : numpy.ndarray, optional
        First guess of the splines, (unknowns,), and of the forces, (s, 2, 3); left out, those before.
        [rad, N]
    seated : bool
        Whether turns bear already; before that contact begins softer.

    Returns
    -------
    StepResult
        The equilibrium, or how the step ended without one.
    """
    mu = solver.bowl.friction
    begin = SOFT if seated else SOFTEST
    w = solver.rounding_N(max(goal.press_N, before.press_N))
    ladder = _ladder(begin, w, goal.last)
    lent = before.followed.force if force is None else force
    gripped = before.followed.force[:, :, 1:]
    it = _begun(solver, before, goal, splines, lent)
    held: tuple[float, float] | None = None
    rung, tries, spent = 0, 0, 0
    end = CLOSELY if goal.closely else LOOSELY
    for _ in range(16):
        times, rounding = ladder[min(rung, len(ladder) - 1)]
        first = Tolerance(0.25, 0.15)
        tolerance = first if rung == 0 else end if goal.last else ON_THE_WAY
        kept = it.kept()
        law = law_of(solver, times, rounding, mu, lent, gripped)
        enough = LOOSELY if tolerance is CLOSELY else None
        came = iterated(it, law, goal, tolerance, enough=enough)
        if came == "loosely":
            # What cannot be settled as closely as stresses ask for is settled as closely as it can be.
            end, came = LOOSELY, "settled"
        if came != "settled":
            if held is not None and tries < 4:
                # Stay at what settled, or little above: multipliers close the gaps all the same.
                it.back_to(kept)
                higher = held[0] * min((times / held[0]) ** 0.4, 1.6) if tries < 1 else held[0]
                ladder = [*ladder[:rung], (higher, held[1])]
                tries += 1
                continue
            if tries:
                return StepResult(None, False, it.iterations + spent)
            ladder = [(times / 3.5, 1.5 * rounding), *ladder]
            tries, spent = 1, it.iterations
            it = _begun(solver, before, goal, splines, lent)
            continue
        lent, held, rung = it.force, (times, rounding), rung + 1
        it.shear_as_carried()
        if rung >= len(ladder) and it.first_move < (0.12 if goal.last else 2.0):
            break
    else:
        if it.first_move > (0.5 if goal.last else 4.0):
            return StepResult(None, False, it.iterations + spent)
    state = settled_state(it, before, mu, w, closely=goal.last and end is CLOSELY)
    far = goal.last and state.contact.residual_gap_mm > MOST_GAP_mm
    return StepResult(None if far else state, False, it.iterations + spent)


def _begun(solver: Solver, before: PressState, goal: Goal, splines: Array | None, force: Array) -> Iterate:
    """Where a load step begins: at a first guess, or where it is."""
    it = Iterate(solver, before, before.followed.splines, force, goal.press_N)
    if splines is not None:
        it.begin_at(splines)
    return it


def slide_on(solver: Solver, before: PressState, press_N: float) -> StepResult:
    """Go on to a harder press where no equilibrium is near.

    Parameters
    ----------
    solver, before : Solver, PressState
        The bowl made ready and where it is.
    press_N : float
        Press to reach. [N]

    Returns
    -------
    StepResult
        The state at rest, settled loosely; or that a seat ran out of wood on the way.
    """
    w = solver.rounding_N(press_N)
    firm = min(max(w / ROUNDING / SINKS_mm, SOFTLY), HARDLY)
    spent = 0
    for times in dict.fromkeys((firm, SOFTLY)):
        found = slide_to_rest(solver, before, _pressed(solver, press_N, times, w))
        spent += found.iterations
        if found.state is not None or found.fell:
            break
    return replace(found, iterations=spent)


def _pressed(solver: Solver, press_N: float, times: float, rounding_N: float) -> Sliding:
    """How a strip slides under a press, its points pushed out of each other."""
    friction = solver.bowl.friction

    def law_from(here: PressState, _it: Iterate) -> ContactLaw:
        force = here.followed.force
        return law_of(solver, times, rounding_N, friction, force, force[:, :, 1:])

    return Sliding(
        press_N=press_N,
        friction=friction,
        law_from=law_from,
        gone=lambda state, _amiss_mm: state.fell_through,
        nearly=NEARLY,
        roughly=NEARLY,
        closely=False,
    )


def _ladder(begin: float, w: float, last: bool) -> list[tuple[float, float]]:
    """Stages: times the contact stiffness, rounding."""
    ladder = [(begin, w), (1.2 * FIRM if last else FIRM, w)]
    return [*ladder, (HARD, w)] if last else ladder


def unit_press(solver: Solver, state: PressState) -> tuple[Array, float, float]:
    """What a press of one newton does to a state with nothing touching.

    Parameters
    ----------
    solver, state : Solver, PressState
        The bowl made ready and its state.

    Returns
    -------
    tuple[numpy.ndarray, float, float]
        Change of the splines (unknowns,) [rad], greatest change of a drop [mm], change of the rise [mm].
    """
    held, e = solver.held, len(state.place)
    it = Iterate(solver, state, state.followed.splines, np.zeros_like(state.followed.force), 0.0)
    apart = it.here.gap
    apart[:e, :, 0] = 1e3
    law = law_of(solver, FIRM, 1e-3, 0.0, np.zeros_like(apart), np.zeros((*apart.shape[:2], 2)))
    force, change = forces_under(solver, law, apart, 1.0)
    found = solved(held, it.at, force, change, apart, press_N=1.0, rise_mm=None)
    if found is None:
        raise ArithmeticError("the free strip's stiffness is singular")
    step, small = found[0], 1e-3
    there = configure(held, it.splines + small * step, it.shear, it.place, it.slope_mm)
    drop = np.abs(there.meeting.drop_mm - it.here.meeting.drop_mm).max() / small
    return step, float(drop), (there.rise_mm - it.here.rise_mm) / small
