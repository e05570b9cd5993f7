"""The press taken away: what is left of the rise, which press that takes, and what push undoes it.

A bowl *keeps its rise* if the rim, let go, stays at nine tenths of the height it was pressed to or more,
and it *bears* if every whole turn is seated then. *Friction used* is the least friction at which the bowl
keeps its rise over the friction there is: above 1 it springs back.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim import hold
from fitsim.arrays import Array, BoolArray
from fitsim.errors import NoConvergenceError
from fitsim.press import load
from fitsim.pressed import ElasticBowl, PressState, mean_rise_mm

__all__ = ["KEPT_SHARE", "Released", "collapse_N", "let_go", "press_needed_N", "state_at"]

KEPT_SHARE = 0.9
"""A bowl that keeps less than this share of the rise it was pressed to has sprung back: our choice."""

COLLAPSE_REACH_N = 500.0
"""Greatest push from below that is tried. [N]"""

WHOLE_SHARE = 0.95
"""A last turn with fewer places than this share of the first's is no whole turn."""


@dataclass(frozen=True, eq=False)
class Released:
    """The press taken away, step by step, with friction.

    Attributes
    ----------
    rest : PressState
        Where the bowl comes to rest.
    rise_mm : float
        Mean rise under the press. [mm]
    rise_left_mm : float
        Mean rise after letting go; nan where it could not be followed. [mm]
    friction_used : float
        Least friction at which the rest keeps nine tenths of the pressed rise, over the friction there is;
        above 1 the bowl springs back. [-]
    hold_used : numpy.ndarray
        By turn, for information: friction demand over capacity at rest; nan where nothing touches,
        infinite where a turn that bore lets go of its neighbour, shape (turns,). [-]
    """

    rest: PressState
    rise_mm: float
    rise_left_mm: float
    friction_used: float
    hold_used: Array

    @property
    def kept(self) -> float:
        """Share of the pressed rise that is left; 0 where springing back could not be followed. [-]"""
        if not np.isfinite(self.rise_left_mm) or self.rise_mm <= 0:
            return 0.0
        return float(self.rise_left_mm / self.rise_mm)


def _whole_turns(bowl: ElasticBowl) -> BoolArray:
    """Which turns are whole; the last may be a short tail."""
    count = np.bincount(bowl.turn - 1)
    return np.asarray(count >= WHOLE_SHARE * count[0])


def _worst(bowl: ElasticBowl, used: Array) -> float:
    """Greatest demand over capacity of the whole turns; infinite where one of them does not bear."""
    whole = used[_whole_turns(bowl)]
    if whole.size == 0:
        return float("inf")
    return float(np.max(np.where(np.isnan(whole), np.inf, whole)))


def let_go(bowl: ElasticBowl, pressed: PressState) -> Released:
    """Take the press away and see what is left of the rise.

    Parameters
    ----------
    bowl, pressed : ElasticBowl, PressState
        The bowl and its state under the press.

    Returns
    -------
    Released
        Rest, rise left, friction used.

    Raises
    ------
    NoConvergenceError
        If no balance is found without the press even with every touching point stuck.
    """
    stuck, used = hold.stuck_rest(bowl, pressed)
    worst, rise_mm = _worst(bowl, used), mean_rise_mm(bowl, pressed)
    rest, left_mm = stuck, mean_rise_mm(bowl, stuck)
    if worst >= 1:
        try:
            rest = hold.let_go(bowl, pressed).rest
            left_mm = mean_rise_mm(bowl, rest)
        except NoConvergenceError:
            left_mm = float("nan")
    return Released(rest=rest, rise_mm=rise_mm, rise_left_mm=left_mm, friction_used=worst, hold_used=used)


def press_needed_N(bowl: ElasticBowl, path: tuple[PressState, ...]) -> float:
    """Least press of a path after which the bowl keeps its rise and every whole turn bears.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    path : tuple of PressState
        From the flat board on, presses rising.

    Returns
    -------
    float
        Press; infinite if none of the path does. [N]
    """
    states = path[1:-1] if path[-1].fell_through else path[1:]
    if not states:
        return float("inf")

    def used_at(state: PressState) -> float:
        try:
            return _worst(bowl, hold.stuck_rest(bowl, state)[1])
        except NoConvergenceError:
            return float("inf")

    low, high = -1, len(states) - 1
    used = {high: used_at(states[high])}
    if used[high] >= 1:
        return float("inf")
    while high - low > 1:
        middle = (low + high) // 2
        used[middle] = used_at(states[middle])
        low, high = (low, middle) if used[middle] < 1 else (middle, high)
    return _between(bowl, path, (states[low] if low >= 0 else path[0]), states[high], used_at)


def _between(
    bowl: ElasticBowl,
    path: tuple[PressState, ...],
    slips: PressState,
    holds: PressState,
    used_at: Callable[[PressState], float],
) -> float:
    """Press between one that slips and one that holds, the bracket halved in its logarithm."""
    low = max(slips.press_N, 0.05 * holds.press_N)
    high = holds.press_N
    for _ in range(4):
        try:
            middle = state_at(bowl, path, float(np.sqrt(low * high)))
        except NoConvergenceError:
            break
        low, high = (low, middle.press_N) if used_at(middle) < 1 else (middle.press_N, high)
    return float(high)


def state_at(bowl: ElasticBowl, path: tuple[PressState, ...], press_N: float) -> PressState:
    """The state of a path at a press between its states.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    path : tuple of PressState
        From the flat board on, presses rising.
    press_N : float
        Press. [N]

    Returns
    -------
    PressState
        At that press; the last of the path where it lies beyond.

    Raises
    ------
    NoConvergenceError
        If no balance is found there.
    """
    if press_N >= path[-1].press_N:
        return path[-1]
    before = max((s for s in path if s.press_N <= press_N), key=lambda s: s.press_N)
    if before.press_N == press_N:
        return before
    found = load(bowl, before, press_N)
    if not found.converged:
        # Half way first: a shorter step is easier to follow.
        half = load(bowl, before, (before.press_N + press_N) / 2)
        found = load(bowl, half, press_N) if half.converged else found
    if not found.converged:
        message = f"no balance found at a press of {press_N:.3g} N"
        raise NoConvergenceError(message, before.press_N)
    return found


def collapse_N(bowl: ElasticBowl, released: Released) -> float:
    """Push on the base from below at which the rise goes.

    Parameters
    ----------
    bowl, released : ElasticBowl, Released
        The bowl and its rest.

    Returns
    -------
    float
        Push, as a positive force; infinite if none that was tried does. [N]
    """
    return hold.collapse_press_N(bowl, released.rest, reach_N=COLLAPSE_REACH_N)
