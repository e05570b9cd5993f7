"""Let go of the press: does the bowl hold, how hard was it to press, what makes it collapse?

*Friction used* of a turn: with every touching point stuck and the press taken away, the friction its
seats must carry together over the friction they could carry, |sum t| / (mu sum N). Below 1 on every
turn the bowl holds; above 1 it slips back. For a hard press it tends to tan(tilt)/mu, the rule of a
self-holding taper. What a slipping bowl comes to is found by letting go in steps with friction.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.errors import NoConvergenceError

from .balance import Goal, Limits, balance
from .contact import OPEN, STICKING, TIED
from .press import load, press
from .pressed import ElasticBowl, PressState, mean_rise_mm
from .readings import (
    Loop,
    RimHeight,
    TurnForces,
    force_rise_loop,
    nail_force_N,
    rim_height,
    turn_forces,
)

__all__ = [
    "LetGo",
    "Loop",
    "RimHeight",
    "TurnForces",
    "collapse_press_N",
    "force_rise_loop",
    "friction_used_by_turn",
    "let_go",
    "local_hold_used",
    "nail_force_N",
    "press_needed_N",
    "rim_height",
    "stuck_rest",
    "turn_forces",
]


_AT_ONCE = Limits(drop_mm=4.0)  # a jump further than that is followed step by step
_STUCK = np.inf  # a coefficient at which no touching point slides


@dataclass(frozen=True, eq=False)
class LetGo:
    """What is left when the press is taken away.

    Attributes
    ----------
    rest : PressState
        Where the bowl comes to rest.
    friction_used_by_turn : numpy.ndarray
        By turn, all points stuck; nan where nothing touches, infinite where a turn that touched
        under the press lets go of its neighbour altogether, shape (turns,). [-]
    holds : bool
        Whether friction used is below 1 on every turn that touches, and some turn touches.
    rise_lost_mm : float
        Mean rise at the press less mean rise at rest. [mm]

    """

    rest: PressState
    friction_used_by_turn: Array
    holds: bool
    rise_lost_mm: float


def _stuck(bowl: ElasticBowl, state: PressState, press_N: float) -> PressState:
    """The state at another press if every touching point sticks."""
    held = np.where(
        (state.contact.state == OPEN) | (state.contact.state == TIED), state.contact.state, STICKING
    )
    return load(bowl, state, press_N, friction=_STUCK, state=held)


def friction_used_by_turn(bowl: ElasticBowl, state: PressState) -> Array:
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
        Steps in which its whole rise is lowered if the bowl slips back.

    Returns
    -------
    LetGo
        Rest state and friction used.

    Raises
    ------
    NoConvergenceError
        If no equilibrium is found.

    """
    stuck, used = stuck_rest(bowl, pressed)
    touching = np.isfinite(friction_used_by_turn(bowl, pressed))
    holds = bool(touching.any() and np.all(used[touching] < 1))
    rest = stuck if holds else _slip_back(bowl, pressed, stuck, steps)
    lost = rim_height(bowl, pressed).mean_mm - rim_height(bowl, rest).mean_mm
    return LetGo(rest=rest, friction_used_by_turn=used, holds=holds, rise_lost_mm=lost)


def stuck_rest(bowl: ElasticBowl, pressed: PressState) -> tuple[PressState, Array]:
    """The press taken away with every touching point stuck; below a friction used of 1 it is the rest.

    Parameters
    ----------
    bowl, pressed : ElasticBowl, PressState
        The bowl and its state under the press.

    Returns
    -------
    rest : PressState
        At press zero.
    friction_used_by_turn : numpy.ndarray
        By turn, as :class:`LetGo` has it, shape (turns,). [-]

    Raises
    ------
    NoConvergenceError
        If no equilibrium is found.
    """
    stuck = _stuck(bowl, pressed, 0.0)
    if not stuck.converged:
        raise NoConvergenceError("let_go: no equilibrium found with every point stuck")
    return stuck, _used_from(bowl, pressed, stuck)


def _used_from(bowl: ElasticBowl, before: PressState, stuck: PressState) -> Array:
    """Friction used by turn; infinite where a turn that touched before has let go of its neighbour."""
    used, touched = friction_used_by_turn(bowl, stuck), np.isfinite(friction_used_by_turn(bowl, before))
    return np.where(touched & ~np.isfinite(used), np.inf, used)


def _slip_back(bowl: ElasticBowl, pressed: PressState, stuck: PressState, steps: int) -> PressState:
    """Lower the rim until no press is left on it.

    A bowl that slips back may have no equilibrium without a press before it is nearly flat: the way there
    is followed by the rise, with the press it would take as an unknown, until that press is zero.
    """
    settled = balance(
        bowl, pressed, Goal(press_N=0.0), state=_released(pressed), limits=_AT_ONCE, most_iterations=10
    )
    # The way begins with the spring of the stuck bowl: a longer first step could leap over an equilibrium.
    lower = mean_rise_mm(bowl, pressed) / steps
    spring = mean_rise_mm(bowl, pressed) - mean_rise_mm(bowl, stuck)
    first = min(0.25, max(0.5 * spring / lower, 1e-3))
    here, shorter = pressed, first
    while not settled.converged and shorter > first / 50:
        new = _lowered(bowl, here, max(mean_rise_mm(bowl, here) - lower * shorter, 0.0))
        beyond = new.converged and new.press_N <= 0
        if new.converged and not beyond:
            here, shorter = new, min(1.0, 2 * shorter)
        else:
            shorter /= 2
        if beyond or np.abs(here.drop_mm).max() < _AT_ONCE.drop_mm:
            settled = balance(bowl, here, Goal(press_N=0.0), limits=_AT_ONCE)
    if settled.converged:
        return settled
    raise NoConvergenceError(f"let_go: no equilibrium found below {here.press_N:.3g} N")


def _lowered(bowl: ElasticBowl, here: PressState, rise_mm: float) -> PressState:
    """Lower the rim: touching points first go on as they did, then are all taken to stick."""
    new = balance(bowl, here, Goal(rise_mm=rise_mm))
    return new if new.converged else balance(bowl, here, Goal(rise_mm=rise_mm), state=_released(here))


def _released(state: PressState) -> IntArray:
    """Turning back, every touching point is first taken to stick."""
    moving = state.contact.state == 1
    return np.where(moving, STICKING, state.contact.state)


def collapse_press_N(
    bowl: ElasticBowl, rest: PressState, *, reach_N: float, tolerance: float = 0.01
) -> float:
    """Push on the base from below at which the first turn slips back, as a positive force.

    Every touching point is stuck and the rim is pushed down harder until friction used reaches 1 on
    some turn, or a turn lets go of its neighbour altogether; found by false position.

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
    low, high = (0.0, _worst(bowl, rest, rest)), (reach_N, _worst_pushed(bowl, rest, reach_N))
    if high[1] < 1:
        return float("inf")
    side = 0
    while high[0] - low[0] > tolerance * reach_N:
        push = _crossing(low, high, side)
        there = (push, _worst_pushed(bowl, rest, push))
        if there[1] < 1:
            low, side = there, min(side, 0) - 1
        else:
            high, side = there, max(side, 0) + 1
    return _crossing(low, high, 0)


def _crossing(low: tuple[float, float], high: tuple[float, float], side: int) -> float:
    """Press at which friction used crosses 1 between (press, friction used) on either side of it.

    On the straight line between the two; in the middle where one end has let go altogether, or where
    the same end has moved twice running, so that the bracket closes from both sides.
    """
    a, b = low[1] - 1, high[1] - 1
    straight = np.isfinite(a) and np.isfinite(b) and abs(side) < 2
    part = a / (a - b) if straight else 0.5
    return low[0] + min(max(part, 0.02), 0.98) * (high[0] - low[0])


def _worst(
    bowl: ElasticBowl, before: PressState, stuck: PressState, seated: BoolArray | None = None
) -> float:
    """Largest friction used when a state has gone to another with every point stuck.

    Infinite where a turn that ought to be seated is not.
    """
    if not stuck.converged:
        return float("inf")
    used = _used_from(bowl, before, stuck)
    touched = np.isfinite(friction_used_by_turn(bowl, before))
    if seated is not None and np.any(seated & ~touched):
        return float("inf")
    # A tail that nothing presses home has no say; a bowl with nothing seated does not hold.
    return float(used[touched].max()) if touched.any() else float("inf")


def _worst_pushed(bowl: ElasticBowl, rest: PressState, push_N: float) -> float:
    return _worst(bowl, rest, _stuck(bowl, rest, -push_N))


def press_needed_N(
    bowl: ElasticBowl, *, most_N: float, path: tuple[PressState, ...] | None = None
) -> float:
    """Least press after which the bowl holds when let go.

    A bowl holds with every turn seated that is seated under the greatest press: a few turns that hold
    by themselves while the others hang free are no bowl yet. States of one press are let go, halving
    the path, and the crossing of the largest friction used with 1 is read off between the last that slips
    and the first that holds. Infinite if the last slips.

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
    low, high = 0, len(states) - 1
    seated = np.isfinite(friction_used_by_turn(bowl, states[high]))

    def let_go_at(state: PressState) -> float:
        return _worst(bowl, state, _stuck(bowl, state, 0.0), seated)

    worst = {low: np.inf, high: let_go_at(states[high])}
    if worst[high] >= 1:
        return float("inf")
    while high - low > 1:
        middle = (low + high) // 2
        worst[middle] = let_go_at(states[middle])
        low, high = (low, middle) if worst[middle] < 1 else (middle, high)
    return _needed_between(bowl, states[low], worst[low], (states[high].press_N, worst[high]), let_go_at)


def _needed_between(
    bowl: ElasticBowl,
    slips: PressState,
    used: float,
    holds: tuple[float, float],
    let_go_at: Callable[[PressState], float],
) -> float:
    """Press needed between a state that slips and a press that holds, with the friction used of each.

    Friction used falls about as a power of the press; where the state that slips lets go altogether,
    presses between are tried first.
    """
    for _ in range(4):
        if np.isfinite(used):
            break
        there = load(bowl, slips, float(np.sqrt(max(slips.press_N, 0.05 * holds[0]) * holds[0])))
        if not there.converged:
            break
        worst = let_go_at(there)
        if worst < 1:
            holds = (there.press_N, worst)
        else:
            slips, used = there, worst
    if not np.isfinite(used) or slips.press_N <= 0:
        return holds[0]
    part = np.log(used) / (np.log(used) - np.log(holds[1]))
    return float(slips.press_N * (holds[0] / slips.press_N) ** part)
