"""Press the bowl open: the elastic strip on its bevels, load step by load step.

The base is held and the press lifts the rim: an upward force spread over the last revolution, which
is the same as pushing the base down with the rim held. While the strip is free a load step is given
by the rise it is to make, later by the press (see `balance`).

A seat whose drop reaches the thickness faces no wood any more and carries nothing: if that happens
while the press acts the turn has fallen through. Beyond that there may be no equilibrium at all: what one
seat no longer carries tears out its neighbours. A path whose overlap is all but gone and which then
finds no equilibrium, in a shorter step either, has fallen through too.
"""

from dataclasses import replace

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.errors import NoConvergenceError
from fitsim.strip.beam import deformation_under, deformed_shape, force_wrench, node_twist

from .balance import Goal, Limits, balance, joined, meeting
from .contact import OPEN, TIED, ContactState
from .meeting import drop_at_rest
from .pressed import ElasticBowl, PressState, mean_rise_mm, rim_load, strain_energy_Nmm
from .tie import nail_points

__all__ = ["ElasticBowl", "PressState", "flat", "load", "press", "rim_load", "strain_energy_Nmm"]

ALL_BUT_GONE = 0.02
"""Overlap over thickness below which a press that finds no further balance has fallen through."""


def flat(bowl: ElasticBowl) -> PressState:
    """The flat board: nothing touches, no press.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.

    Returns
    -------
    PressState
        At press zero, every seat point open and every nail tied.
    """
    n = len(bowl.strip.position_mm)
    eps = np.zeros((n - 1, 6))
    shape = deformed_shape(bowl.strip, eps)
    seen, here, _ = meeting(bowl, shape, bowl.seats.place, np.zeros(n - 1))
    tie, _misfit, _tied = nail_points(bowl.seats, bowl.strip, here, bowl.nails)
    count = 2 * (n - 1) + len(tie.outer)
    state = np.where(np.arange(count) < 2 * (n - 1), OPEN, TIED)
    nothing = np.zeros((count, 3))
    contact = ContactState(
        force_N=nothing,
        motion_mm=nothing,
        state=state,
        direction=np.tile([-1.0, 0.0], (count, 1)),
        residual_gap_mm=0.0,
        residual_force_N=0.0,
        residual_friction_N=0.0,
        sweeps=0,
        converged=True,
    )
    return PressState(
        press_N=0.0,
        shape=shape,
        deformation=eps,
        place=seen.place,
        drop_mm=np.zeros(n - 1),
        slid_mm=seen.slid_mm,
        contact=contact,
        points=joined(seen.points, tie),
        sweeps=0,
        iterations=0,
        residual_mm=0.0,
        converged=True,
        fell_through=False,
    )


def load(
    bowl: ElasticBowl,
    before: PressState,
    press_N: float,
    *,
    friction: float | None = None,
    state: IntArray | None = None,
    tolerance_mm: float = 1e-4,
    most_iterations: int = 40,
) -> PressState:
    """Go from one state to another press in a single load step.

    Parameters
    ----------
    bowl, before : ElasticBowl, PressState
        The bowl and where it is.
    press_N : float
        Press to reach; negative pushes the rim down. [N]
    friction : float, optional
        Coefficient in place of the bowl's, for example a large one to let every point stick. [-]
    state : numpy.ndarray, optional
        First guess of the states of the points in place of those before.
    tolerance_mm, most_iterations : float, int
        Movement of the shape at which it counts as settled [mm], and when to give up.

    Returns
    -------
    PressState
        ``converged`` False when the step did not settle: halve it.

    """
    return balance(
        bowl,
        before,
        Goal(press_N=press_N),
        friction=friction,
        state=state,
        tolerance_mm=tolerance_mm,
        most_iterations=most_iterations,
    )


def press(
    bowl: ElasticBowl,
    press_N: float,
    *,
    first_N: float = 2.0,
    growth: float = 2.0,
    most_drop_mm: float = 4.0,
    least_step: float = 1e-3,
    most_sweeps: int = 4000,
) -> tuple[PressState, ...]:
    """Press the flat board open, in load steps that grow while they go well.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    press_N : float
        Press to reach. [N]
    first_N, growth : float
        First load step [N] and by how much a step may grow over the one before.
    most_drop_mm : float
        A step in which some seat drops further is done again, smaller. [mm]
    least_step : float
        Smallest step over the press.
    most_sweeps : int
        Linear systems solved on the whole way, failed steps counted, before giving up.

    Returns
    -------
    tuple of PressState
        From the flat board to the press, or to the state that fell through: where no equilibrium follows
        it, that is the last equilibrium.

    Raises
    ------
    NoConvergenceError
        If the smallest step does not settle while there is overlap left, or it takes too many sweeps.

    """
    path, shorter, sweeps = [flat(bowl)], 1.0, 0
    while path[-1].press_N < press_N * (1 - 1e-12):
        here = path[-1]
        top = press_N if len(path) == 1 else min(press_N, here.press_N * growth)
        limits = Limits(most_drop_mm if shorter > least_step else np.inf, top)
        goal, guess = _ahead(bowl, path, press_N, shorter, first_N, growth, most_drop_mm)
        new = balance(bowl, here, goal, guess=guess, limits=limits)
        sweeps += new.sweeps
        if new.press_N > top:
            part = (top - here.press_N) / (new.press_N - here.press_N)
            guess = here.deformation + part * (new.deformation - here.deformation)
            new = balance(bowl, here, Goal(press_N=top), guess=guess, limits=limits)
            sweeps += new.sweeps
        if new.converged:
            path.append(new)
            shorter = min(1.0, 2 * shorter)
            if new.fell_through:
                break
        elif shorter < 1 and here.drop_mm.max() > (1 - ALL_BUT_GONE) * bowl.seats.thickness_mm:
            path.append(replace(here, fell_through=True))
            break
        elif shorter <= least_step or sweeps > most_sweeps:
            message = f"press: no equilibrium found just above {here.press_N:.3g} N"
            raise NoConvergenceError(message, here.press_N)
        else:
            shorter /= 2
    return tuple(path)


def _ahead(
    bowl: ElasticBowl,
    path: list[PressState],
    press_N: float,
    shorter: float,
    first_N: float,
    growth: float,
    most_drop_mm: float,
) -> tuple[Goal, Array | None]:
    """The next goal, and the deformation there if the strip goes on as in the last step.

    By rise while the strip stiffens little: as far as some seat drops by two thirds of the most.
    By press afterwards, and for the first step.
    """
    here = path[-1]
    if len(path) == 1:
        first = min(first_N * shorter, _first_press_N(bowl, most_drop_mm * shorter))
        return Goal(press_N=min(first, press_N)), None
    last = path[-2]
    rise, before = mean_rise_mm(bowl, here), mean_rise_mm(bowl, last)
    jump = float(np.abs(here.drop_mm - last.drop_mm).max())
    part = shorter * most_drop_mm / (1.5 * jump + 1e-6 * most_drop_mm)
    step = here.press_N - last.press_N
    further = here.press_N * (growth - 1) * shorter
    more = here.deformation - last.deformation
    stiffer = len(path) > 2 and step * mean_rise_mm(bowl, path[1]) > 4 * path[1].press_N * (rise - before)
    if rise > before and not stiffer and part * step < min(further, 0.7 * (press_N - here.press_N)):
        return Goal(rise_mm=rise + part * (rise - before)), here.deformation + part * more
    further = min(further, press_N - here.press_N)
    # The seated strip stiffens: it goes on about as the logarithm of the press.
    went = np.log(here.press_N / last.press_N) if last.press_N > 0 else 1.0
    on = min(0.3 * np.log1p(further / here.press_N) / went, 1.0)
    return Goal(press_N=here.press_N + further), here.deformation + on * more


def _first_press_N(bowl: ElasticBowl, most_drop_mm: float) -> float:
    """Press at which some seat of the free strip drops by half the most, for small displacements. [N]"""
    rest = deformed_shape(bowl.strip, np.zeros((len(bowl.strip.arc_mm), 6)))
    lift = np.zeros_like(rest.position_mm)
    lift[:, 2] = bowl.load_share
    eps = deformation_under(bowl.strip, rest, force_wrench(rest.position_mm, lift))
    drop = drop_at_rest(bowl.seats, bowl.strip, node_twist(rest, eps))
    return most_drop_mm / 2 / float(np.abs(drop).max())
