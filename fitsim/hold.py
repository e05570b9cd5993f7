"""Let go of the press: does the bowl hold, how hard was it to press, what makes it collapse?

*Hold used* of a turn: with every touching point stuck and the press taken away, the friction its
seats must carry together over the friction they could carry, |sum t| / (mu sum N). Below 1 on every
turn the bowl holds; above 1 it slips back. For a hard press it tends to tan(tilt)/mu, the rule of a
self-holding taper. What a slipping bowl comes to is found by letting go in steps with friction.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.contact import OPEN, STICKING, TIED
from fitsim.errors import NoConvergenceError
from fitsim.press import load, press
from fitsim.pressed import ElasticBowl, PressState, strain_energy_Nmm

__all__ = [
    "LetGo",
    "Loop",
    "RimHeight",
    "TurnForces",
    "collapse_press_N",
    "force_rise_loop",
    "hold_used",
    "let_go",
    "local_hold_used",
    "nail_force_N",
    "press_needed_N",
    "rim_height",
    "stuck_rest",
    "turn_forces",
]


_STUCK = np.inf  # a coefficient at which no touching point slides


@dataclass(frozen=True, eq=False)
class RimHeight:
    """Rise of the nodes the press is spread over, usually the last revolution.

    Attributes
    ----------
    height_mm : numpy.ndarray
        At each of these nodes, from the inside out. [mm]
    mean_mm, least_mm, greatest_mm, out_of_level_mm : float
        Mean weighted as the press is spread; least; greatest; greatest less least. [mm]
    """

    height_mm: Array
    mean_mm: float
    least_mm: float
    greatest_mm: float
    out_of_level_mm: float


@dataclass(frozen=True, eq=False)
class TurnForces:
    """Sums over the seats of each turn, arrays of shape (turns,).

    Attributes
    ----------
    normal_N, friction_N : numpy.ndarray
        Sums of the sizes of the forces. [N]
    seated : numpy.ndarray
        Share of a turn's seats with force on at least one end of the overlap. [-]
    drop_mm : numpy.ndarray
        Mean drop. [mm]
    least_overlap : numpy.ndarray
        Least overlap as a share of the thickness. [-]
    """

    normal_N: Array
    friction_N: Array
    seated: Array
    drop_mm: Array
    least_overlap: Array


@dataclass(frozen=True, eq=False)
class LetGo:
    """What is left when the press is taken away.

    Attributes
    ----------
    rest : PressState
        Where the bowl comes to rest.
    hold_used : numpy.ndarray
        By turn, all points stuck; nan where nothing touches, shape (turns,). [-]
    holds : bool
        Whether hold used is below 1 on every turn that touches, and some turn touches.
    rise_lost_mm : float
        Mean rise at the press less mean rise at rest. [mm]

    """

    rest: PressState
    hold_used: Array
    holds: bool
    rise_lost_mm: float


@dataclass(frozen=True, eq=False)
class Loop:
    """Press against rise along a path of states, and where the work went.

    Attributes
    ----------
    press_N, rise_mm : numpy.ndarray
        Press, and rise weighted as the press is spread, shape (states,). [N, mm]
    work_Nmm, strain_Nmm, friction_Nmm : numpy.ndarray
        Work of the press, stored, lost in friction, shape (states,). [N mm]
    unaccounted_Nmm : float
        Work less stored less lost at the end; shrinks with the load step. [N mm]
    """

    press_N: Array
    rise_mm: Array
    work_Nmm: Array
    strain_Nmm: Array
    friction_Nmm: Array
    unaccounted_Nmm: float


def rim_height(bowl: ElasticBowl, state: PressState) -> RimHeight:
    """Rise of the nodes the press is spread over.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    RimHeight
        Mean, extremes, and each of these nodes. [mm]
    """
    rim = bowl.load_share > 0
    z = state.shape.position_mm[rim, 2] - bowl.strip.position_mm[rim, 2]
    weight = bowl.load_share[rim] / bowl.load_share[rim].sum()
    low, high = float(z.min()), float(z.max())
    return RimHeight(
        height_mm=z, mean_mm=float(weight @ z), least_mm=low, greatest_mm=high, out_of_level_mm=high - low
    )


def turn_forces(bowl: ElasticBowl, state: PressState) -> TurnForces:
    """Sums of the forces at the seats, turn by turn.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    TurnForces
        By turn.
    """
    f = state.contact.force_N[: 2 * len(bowl.turn)].reshape(-1, 2, 3)
    turns = int(bowl.turn.max())
    N, t = np.maximum(f[:, :, 0], 0.0), np.linalg.norm(f[:, :, 1:], axis=2)
    index = bowl.turn - 1
    count = np.bincount(index, minlength=turns)
    seated = (N > 1e-9).any(axis=1).astype(np.float64)
    overlap = 1 - state.drop_mm / bowl.seats.thickness_mm
    least = np.full(turns, np.inf)
    np.minimum.at(least, index, overlap)
    return TurnForces(
        normal_N=np.asarray(np.bincount(index, N.sum(axis=1), turns), dtype=np.float64),
        friction_N=np.asarray(np.bincount(index, t.sum(axis=1), turns), dtype=np.float64),
        seated=np.bincount(index, seated, turns) / count,
        drop_mm=np.bincount(index, state.drop_mm, turns) / count,
        least_overlap=least,
    )


def nail_force_N(bowl: ElasticBowl, state: PressState) -> Array:
    """Force on each nail along its three axes, shape (nails, 3). [N]

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    numpy.ndarray
        Shape (nails, 3). [N]
    """
    return state.contact.force_N[2 * len(bowl.turn) :: 2].copy()


def _stuck(bowl: ElasticBowl, state: PressState, press_N: float) -> PressState:
    """The state at another press if every touching point sticks."""
    held = np.where(
        (state.contact.state == OPEN) | (state.contact.state == TIED), state.contact.state, STICKING
    )
    return load(bowl, state, press_N, friction=_STUCK, state=held)


def hold_used(bowl: ElasticBowl, state: PressState) -> Array:
    """Friction demand over capacity turn by turn in a given state, nan where nothing touches.

    The demand is the resultant of a turn's friction forces along slope and strip: what the turn as
    a whole must carry. Single points may ask for more (they slip and hand it to neighbours);
    `local_hold_used` counts them without that help.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    numpy.ndarray
        By turn, shape (turns,). [-]
    """
    f = state.contact.force_N[: 2 * len(bowl.turn)].reshape(-1, 2, 3).sum(axis=1)
    turns = int(bowl.turn.max())
    N, up, along = (np.bincount(bowl.turn - 1, f[:, i], turns) for i in range(3))
    return _share(np.asarray(np.hypot(up, along)), np.asarray(bowl.friction * N))


def local_hold_used(bowl: ElasticBowl, state: PressState) -> Array:
    """Sizes of the points' friction forces over what they could carry, summed over each turn.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    numpy.ndarray
        By turn, shape (turns,). [-]
    """
    sums = turn_forces(bowl, state)
    return _share(sums.friction_N, bowl.friction * sums.normal_N)


def _share(demand: Array, capacity: Array) -> Array:
    carries = capacity > 1e-9
    return np.where(carries, demand / np.where(carries, capacity, 1.0), np.nan)


def let_go(bowl: ElasticBowl, pressed: PressState, *, steps: int = 8) -> LetGo:
    """Take the press away.

    Parameters
    ----------
    bowl, pressed : ElasticBowl, PressState
        The bowl and its state under the press.
    steps : int
        Load steps if the bowl slips back.

    Returns
    -------
    LetGo
        Rest state and hold used.

    Raises
    ------
    NoConvergenceError
        If no balance is found.

    """
    stuck = stuck_rest(bowl, pressed)
    used = hold_used(bowl, stuck)
    touching = np.isfinite(used)
    holds = bool(touching.any() and np.all(used[touching] < 1))
    rest = stuck if holds else _slip_back(bowl, pressed, steps)
    lost = rim_height(bowl, pressed).mean_mm - rim_height(bowl, rest).mean_mm
    return LetGo(rest=rest, hold_used=used, holds=holds, rise_lost_mm=lost)


def _slip_back(bowl: ElasticBowl, pressed: PressState, steps: int) -> PressState:
    """Let go in load steps with friction; a step that does not settle is halved."""
    here, step = pressed, pressed.press_N / steps
    while here.press_N > 1e-12:
        goal = max(here.press_N - step, 0.0)
        new = load(bowl, here, goal, state=_released(here))
        if new.converged:
            here, step = new, 1.5 * step
        elif step < 1e-3 * pressed.press_N:
            raise NoConvergenceError(f"let_go: no balance found below {here.press_N:.3g} N")
        else:
            step /= 2
    return here


def _released(state: PressState) -> IntArray:
    """Turning back, every touching point is first taken to stick."""
    moving = state.contact.state == 1
    return np.where(moving, STICKING, state.contact.state)


def stuck_rest(bowl: ElasticBowl, pressed: PressState) -> PressState:
    """The press taken away with every touching point stuck; where hold used is below 1 it is the rest.

    Parameters
    ----------
    bowl, pressed : ElasticBowl, PressState
        The bowl and its state under the press.

    Returns
    -------
    PressState
        At press zero.

    Raises
    ------
    NoConvergenceError
        If no balance is found.
    """
    stuck = _stuck(bowl, pressed, 0.0)
    if not stuck.converged:
        raise NoConvergenceError("let_go: no balance found with every point stuck")
    return stuck


def collapse_press_N(
    bowl: ElasticBowl, rest: PressState, *, reach_N: float, tolerance: float = 0.01
) -> float:
    """Push on the base from below at which the first turn slips back, as a positive force.

    Every touching point is stuck and the rim is pushed down harder until hold used reaches 1 on
    some turn.

    Parameters
    ----------
    bowl, rest : ElasticBowl, PressState
        The bowl and its state at rest.
    reach_N : float
        Largest push tried. [N]
    tolerance : float
        Width of the last bracket over ``reach_N``. [-]

    Returns
    -------
    float
        Push; infinite if no turn slips at ``reach_N``. [N]

    """
    low, high = 0.0, reach_N
    if not _slips(bowl, rest, high):
        return float("inf")
    while high - low > tolerance * reach_N:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _slips(bowl, rest, middle) else (middle, high)
    return 0.5 * (low + high)


def _slips(bowl: ElasticBowl, rest: PressState, push_N: float) -> bool:
    stuck = _stuck(bowl, rest, -push_N)
    used = hold_used(bowl, stuck)
    touched = np.isfinite(hold_used(bowl, rest))
    if not stuck.converged or np.any(touched & ~np.isfinite(used)):
        return True  # a turn lets go of its neighbour altogether
    return bool(np.any(used[touched] >= 1)) or not touched.any()


def press_needed_N(
    bowl: ElasticBowl, *, most_N: float, path: tuple[PressState, ...] | None = None
) -> float:
    """Least press after which the bowl holds when let go.

    A bowl holds with every turn seated that is seated under the greatest press: a few turns that hold
    by themselves while the others hang free are no bowl yet. States of one press are let go, halving
    the stretch between one that slips and one that holds; the crossing of the largest hold used with 1
    is read off between the last two. Infinite if the last state does not hold.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    most_N : float
        Largest press tried. [N]
    path : tuple of PressState, optional
        A press already calculated.

    Returns
    -------
    float
        Press. [N]

    """
    states = press(bowl, most_N) if path is None else path
    seated = np.isfinite(hold_used(bowl, states[-1]))

    def worst(index: int) -> float:
        used = hold_used(bowl, _stuck(bowl, states[index], 0.0))
        # A turn that the greatest press seats and this one does not: nothing holds it yet.
        return float(np.where(np.isfinite(used), used, np.inf)[seated].max(initial=0.0))

    slips, holds = 0, len(states) - 1
    before, after = np.inf, worst(holds) if seated.any() else np.inf
    if not after < 1:
        return float("inf")
    while holds - slips > 1:
        middle = (slips + holds) // 2
        found = worst(middle)
        if found < 1:
            holds, after = middle, found
        else:
            slips, before = middle, found
    if not np.isfinite(before):
        return states[holds].press_N
    part = (before - 1) / (before - after)
    return states[slips].press_N + part * (states[holds].press_N - states[slips].press_N)


def force_rise_loop(bowl: ElasticBowl, path: tuple[PressState, ...]) -> Loop:
    """Press, rise and energy along a path of states that starts flat.

    The work of the press is summed by the trapezoid rule; friction work is the friction force at
    the end of a step against the sliding in the step.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    path : tuple of PressState
        States, flat first.

    Returns
    -------
    Loop
        Press, rise and work.
    """
    F = np.array([s.press_N for s in path])
    rise = np.array([bowl.load_share @ (s.shape.position_mm - bowl.strip.position_mm)[:, 2] for s in path])
    work = np.concatenate([[0.0], np.cumsum(0.5 * (F[1:] + F[:-1]) * np.diff(rise))])
    strain = np.array([strain_energy_Nmm(bowl, s) for s in path])
    lost = [0.0]
    for before, after in pairwise(path):
        slid = after.slid_mm - before.slid_mm
        force = after.contact.force_N[: len(slid), 1:]
        lost.append(lost[-1] - float(np.sum(force * slid)))
    return Loop(
        press_N=F,
        rise_mm=rise,
        work_Nmm=work,
        strain_Nmm=strain,
        friction_Nmm=np.array(lost),
        unaccounted_Nmm=float(work[-1] - strain[-1] - lost[-1]),
    )
