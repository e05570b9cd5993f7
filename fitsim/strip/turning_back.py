"""Turning back: a gentler press or less friction, from a state in which turns bear, slipping included.

The touching points are hard and counted from where they are, all taken to stick at first: one step of
Newton's method to the equilibrium near. Where there is none the strip is followed as it slides to rest
(`sliding`); where it does not come to rest its turns lose their grip together.
"""

from dataclasses import replace

import numpy as np

from fitsim.strip.contact_law import ContactLaw, normal_before_N
from fitsim.strip.load_step import (
    HARD,
    Goal,
    Iterate,
    Solver,
    StepResult,
    Tolerance,
    iterated,
    law_of,
    settled_state,
)
from fitsim.strip.sliding import Sliding, slide_to_rest
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm

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

AMISS = 0.03
"""Error of a sliding step's third linear system's forces, and later ones', at which it is tried shorter.
[-]"""

LOST_GRIP, FAST_mm, RUNS_AWAY_mm = 0.85, 1.0, 3.0
"""Share of the seats' forces at which a sliding strip is taken to have lost its grip, if more than the
second is out of balance; and what is out of balance where it has, if it grew twice while those forces fell.
Followed to the end on 88 bowls, one of 227 that came to rest with no press left had done either (three with
2 mm), and 13 of 224 with a seventh of the press left, nearly all far below the press needed; of 672 others
92 in 100 did, in a third of the steps to where they sank. [-, mm, mm]"""

DRAG_N_per_mm = 0.1
"""Drag of a bearing point, times the damping, where a strip cannot be followed without: the least that lets
all be followed of 140 presses on ten uneven lines, where 25 could not be. [N/mm]"""

SLIDES_mm, SOONER_mm, ROUGHLY = 0.5, 0.1, 0.004
"""What is out of balance from which points are first taken to slide on as in the step before, for certain
and briefly, and how nearly forces then have to be right. From 0.1 mm on, single strips are made to slide
that stop; a third of the work is saved. [mm, -]"""


def step_back(
    solver: Solver,
    before: PressState,
    press_N: float,
    *,
    friction: float | None = None,
    least_rise_mm: float = -np.inf,
    briefly: bool = False,
) -> StepResult:
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
        Whether early signs of slipping are trusted sooner.

    Returns
    -------
    StepResult
        The equilibrium, or how the step ended without one.
    """
    found = turn_back(solver, before, press_N, friction=friction)
    if found.state is not None:
        return found
    mu, spent = solver.bowl.friction if friction is None else friction, found.iterations
    for drag_N_per_mm in (0.0, DRAG_N_per_mm):
        way = Sliding(
            press_N=press_N,
            friction=mu,
            law_from=lambda here, it: _law_from(solver, here, it, mu),
            gone=_Slipping(solver.bowl, before, least_rise_mm),
            nearly=AT_REST.force,
            roughly=ROUGHLY,
            fast_mm=np.inf if drag_N_per_mm > 0 else SOONER_mm if briefly else SLIDES_mm,
            amiss=AMISS,
            drag_N_per_mm=drag_N_per_mm,
        )
        slid = slide_to_rest(solver, before, way)
        spent += slid.iterations
        if slid.state is not None or slid.fell:
            break
    return replace(slid, iterations=spent)


class _Slipping:
    """Whether a sliding strip has sunk or lost its grip, told state by state."""

    def __init__(self, bowl: ElasticBowl, before: PressState, least_rise_mm: float) -> None:
        self.bowl, self.least_rise_mm = bowl, least_rise_mm
        self.least_N = LOST_GRIP * _grip_N(before)
        self.grip_N, self.amiss_mm, self.gaining = _grip_N(before), 0.0, 0

    def __call__(self, state: PressState, amiss_mm: float) -> bool:
        grip_N = _grip_N(state)
        gains = amiss_mm > self.amiss_mm and grip_N < self.grip_N
        self.gaining = self.gaining + 1 if gains else 0
        self.grip_N, self.amiss_mm = grip_N, amiss_mm
        lost = grip_N < self.least_N and amiss_mm > FAST_mm
        away = self.gaining > 1 and amiss_mm > RUNS_AWAY_mm
        return lost or away or mean_rise_mm(self.bowl, state) < self.least_rise_mm


def turn_back(
    solver: Solver, before: PressState, press_N: float, *, friction: float | None = None
) -> StepResult:
    """A gentler press, or another friction, if there is an equilibrium near.

    Parameters
    ----------
    solver, before : Solver, PressState
        The bowl made ready, and where it is.
    press_N, friction : float
        As :func:`step_back`. [N, -]

    Returns
    -------
    StepResult
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
            return StepResult(settled_state(it, before, mu, w), False, it.iterations)
    return StepResult(None, False, it.iterations)


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
        welded_mm=it.predicted[..., 0].copy(),
    )


def _grip_N(state: PressState) -> float:
    """Normal forces of the seats together. [N]"""
    return float(state.followed.force[: len(state.place), :, 0].sum())
