"""Let go of the press: what is left of the rise, how much friction that takes, what makes it collapse.

The press is taken away in steps with friction, and what is left is what a maker sees. *Friction used*
is a property of the whole bowl: from the state after letting go friction is lowered step by step; the
coefficient at which the rise falls below nine tenths of the pressed rise, over the coefficient there
is. Below 1 the bowl holds. A bowl already lost is pressed and let go with more friction, until it
keeps its rise. For a hard press of many turns it tends to tan(tilt)/mu, the rule of a self-holding
taper; the turn that slips first lets go of its load to its neighbours, and only where they cannot
take it does the bowl go. Of a bowl already lost it is told what the turn that asks most would use.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.equilibrium import Creeping, Goal, Settled, Solver, prepare, settle, turn_back
from fitsim.strip.press import press_with
from fitsim.strip.results import turn_forces
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm

__all__ = [
    "KEPT_SHARE",
    "NEARLY_ALL_USED",
    "Kept",
    "Released",
    "collapse_N",
    "friction_used_by_turn",
    "let_go",
    "press_needed_N",
    "state_at",
    "whole_turns_of",
]

KEPT_SHARE = 0.9
"""Share of the pressed rise that a bowl must keep."""

PATIENT = Creeping(patience=24)
"""How a step back is followed that finds no equilibrium near: hard contact either arrives soon or slips."""

SMOOTHLY = (0.3, 0.08, 0.0)
"""Shares of the press passed where it is only asked whether the bowl holds. [-]"""

WAYS = ((0.5, 0.2, 0.06, 0.0), SMOOTHLY, (0.0,))
"""Shares of the press passed on the way to none, one row after another until the bowl keeps its rise: near
slipping one may get lost where another does not. Of 75 presses, 1 to 1.45 times the least, 60 held by the
first and the last, 64 by all. [-]"""

LEAST_STEP = 0.03
"""A step back shorter than this share of the press that finds no equilibrium means that there is none."""

WITHIN = 0.05
"""How closely the collapse is looked for, over its value; friction used lies no further off."""

SHORTEST = 0.01
"""Shortest step in which friction is lowered, over its value: one that fails is halved down to this. [-]"""

LEAST_TRIED = 0.02
"""Least press tried over a path's last. [-]"""

GUESSES: tuple[tuple[int, float, Creeping | None], ...] = (
    (0, 0.5, None),
    (0, 0.0, None),
    (1, 0.5, None),
    (0, 0.5, Creeping()),
)
"""Guesses of a state between two of a path: how many states back it is begun from, the share of the way
that the shape is taken to have gone, and how it is followed. Of 288 states of ordinary bowls the first
settled closely in 282, the second in 284, one or the other in all. [-]"""

LIKELY_USED = 1.25
"""Friction that a turn would use if no point slid, over that there is, at a press that is likely to hold:
on 82 bowls the press so found came to 0.82 to 1.2 times the least that held for half of them. [-]"""

ALL_USED = 0.97
"""Friction used at rest of a press that is looked for: as good as all. [-]"""

NEARLY_ALL_USED = 0.92
"""Friction used of the turn that asks most at which bowls are about to slip: the median of 72 places, on
56 bowls in steps of 8 percent, where one held and the gentler one slipped; half lay at 0.88 to 0.95. [-]"""

APART = 0.02
"""How far apart the presses tried are, over their value. [-]"""

CLOSE = 0.09
"""How near to each other presses that hold and that slip are brought, over their value. [-]"""

CLIMB, MOST_CLIMB = (1.2, 1.35, 1.5, 1.7), 2.0
"""Times a press that slips at which the next is tried, one after another, the last again and again; more,
up to the most, where friction used tells that it is farther from holding. [-]"""

MOST_TRIALS = 30
"""Most presses tried for it."""

HARDER = (1.25, 1.32)
"""Times the press needed at the first of which the bowl has to hold as well, as it is judged there; where
it does at the second only, more is asked. [-]"""

ABOUT = (0.96, 1.06)
"""Times a press between which one is about the same. [-]"""

USUAL_POWER, LEAST_POWER, MOST_POWER = 0.6, 0.1, 1.5
"""Power of the press with which friction used falls: the first guess, and its bounds. [-]"""

LEAST_AHEAD = 0.62
"""Least share of a press that holds at which all friction is expected to be used. [-]"""

MOST_FORESEEN = 1.5
"""Most friction used that is foreseen of a bowl that slips. [-]"""

SLIPS_FROM = 0.5
"""Friction used of the turn that asks most from which a step back tells that the bowl slips: of 437 presses
after which bowls held 6 had such steps, at the least press that held or next to it. [-]"""

FIRST_PUSH = 0.01
"""Push from below that is tried first, over the sum of the normal forces. [-]"""

STUCK = 50.0
"""A friction at which no touching point slides. [-]"""


@dataclass(frozen=True, eq=False)
class Released:
    """What is left when the press is taken away.

    Attributes
    ----------
    rest : PressState
        Where the bowl comes to rest; the last state followed where it slipped away.
    rise_mm, rise_left_mm : float
        Mean rise under the press, and after letting go: 0 where the bowl slipped away out of sight. [mm]
    friction_used : float
        Least friction at which it keeps nine tenths of the rise, over the friction there is; of a bowl that
        slips, what its turn that asks most would use if no point slid. [-]
    friction_used_by_turn : numpy.ndarray
        By turn, for information: friction demand of a turn's seats together over what they could carry at
        rest; nan where nothing touches, shape (turns,). [-]
    """

    rest: PressState
    rise_mm: float
    rise_left_mm: float
    friction_used: float
    friction_used_by_turn: Array

    @property
    def kept(self) -> float:
        """Rise left over rise under the press. [-]"""
        return self.rise_left_mm / self.rise_mm if self.rise_mm > 0 else 0.0


def friction_used_by_turn(bowl: ElasticBowl, state: PressState) -> Array:
    """Friction demand over capacity turn by turn in a given state, nan where nothing touches.

    Parameters
    ----------
    bowl, state : ElasticBowl, PressState
        The bowl and its state.

    Returns
    -------
    numpy.ndarray
        Resultant of a turn's friction forces over friction times its normal forces, (turns,). [-]
    """
    f = state.contact.force_N[: 2 * len(bowl.turn)].reshape(-1, 2, 3).sum(axis=1)
    turns = int(bowl.turn.max())
    N, up, along = (np.bincount(bowl.turn - 1, f[:, i], turns) for i in range(3))
    carries = 1e-6 * max(float(N.max()), 1e-9) < N
    used = np.full(turns, np.inf)
    np.divide(np.hypot(up, along), bowl.friction * N, out=used, where=carries & (bowl.friction > 0))
    return np.where(carries, used, np.nan)


def let_go(bowl: ElasticBowl, pressed: PressState, *, lowering: bool = True) -> Released:
    """Take the press away.

    Parameters
    ----------
    bowl, pressed : ElasticBowl, PressState
        The bowl and its state under the press.
    lowering : bool
        Whether friction is lowered to find the friction used; else it is what the turn that asks most uses
        at rest, up to a fifth to either side of that, which takes no further equilibrium.

    Returns
    -------
    Released
        Rest state, rise left, friction used.
    """
    solver = prepare(bowl)
    rise = mean_rise_mm(bowl, pressed)
    floor = KEPT_SHARE * rise
    for steps in WAYS:
        # What is left of a bowl that slips is told by the last way.
        rest, left = _gone_back(solver, pressed, steps, floor if steps is not WAYS[-1] else -np.inf)
        if rest is not None:
            break
    kept = rest is not None and left >= floor
    if rest is not None and kept:
        used = float("inf")
        if bowl.friction > 0:
            least = (
                _least_friction(solver, rest, rise) / bowl.friction if lowering else _most_used(bowl, rest)
            )
            used = min(least, 1.0)
    else:
        used = _friction_wanted(solver, pressed)
    end = pressed if rest is None else rest
    return Released(end, rise, left, used, friction_used_by_turn(bowl, end))


def _gone_back(
    solver: Solver, pressed: PressState, steps: tuple[float, ...], floor_mm: float
) -> tuple[PressState | None, float]:
    """The state after letting go, and its rise; None and 0 where it slipped away out of sight."""
    here, bowl, at, ahead = pressed, solver.bowl, 1.0, list(steps)
    while ahead:
        found = _turned(solver, here, ahead[0] * pressed.press_N, None, floor_mm)
        if found.state is not None and mean_rise_mm(bowl, found.state) >= floor_mm:
            here, at = found.state, ahead.pop(0)
        elif found.state is None and not found.fell and at - ahead[0] > LEAST_STEP:
            ahead.insert(0, 0.5 * (at + ahead[0]))
        else:
            return None, 0.0
    return here, mean_rise_mm(bowl, here)


def _turned(
    solver: Solver,
    here: PressState,
    press_N: float,
    friction: float | None = None,
    floor_mm: float = -np.inf,
    *,
    patiently: bool = True,
) -> Settled:
    """A step back as usual, then of a strip that creeps if there is time for it."""
    found = turn_back(solver, here, press_N, friction=friction)
    if patiently and found.state is None and not found.torn:
        found = turn_back(
            solver, here, press_N, friction=friction, creeping=PATIENT, least_rise_mm=floor_mm
        )
    return found


def _least_friction(solver: Solver, rest: PressState, rise_mm: float) -> float:
    """Friction lowered from a rest state until the rise falls below nine tenths. [-]

    Where the search ends because no equilibrium was found, and not because the bowl was seen to slip, or
    before its first step, what the turn that asks most uses stands in, at rest or at the last equilibrium:
    a bowl goes when a whole turn slips.
    """
    bowl = solver.bowl
    floor, holds, here, slipped = KEPT_SHARE * rise_mm, bowl.friction, rest, False
    at_rest = asked = _most_used(bowl, rest) * bowl.friction
    fails = 0.0  # 0: at no friction yet
    while holds > 1e-3:
        # A step that fails is tried shorter from where the bowl holds: it slips where the shortest fails,
        # even followed patiently.
        close = holds - fails <= SHORTEST * holds
        trial = _lowering(asked, holds) * holds if not fails else fails if close else np.sqrt(holds * fails)
        found = _turned(solver, here, 0.0, float(trial), floor, patiently=close)
        if found.state is not None and mean_rise_mm(bowl, found.state) >= floor:
            holds, here, fails = float(trial), found.state, 0.0 if close else fails
            asked = _most_used(replace(bowl, friction=holds), here) * holds
            continue
        slipped, fails = found.fell or found.torn or found.state is not None, float(trial)
        if close:
            break
    return float(holds if slipped and here is not rest else min(max(asked, at_rest), holds))


def _lowering(asked: float, holds: float) -> float:
    """Next share of the friction: half the way, in ratio, to what the turn that asks most uses. [-]"""
    return float(min(max((asked / holds) ** 0.5, 0.75), 0.97))


def _most_used(bowl: ElasticBowl, state: PressState) -> float:
    """Friction used of the whole turn that asks most, over the bowl's. [-]"""
    used = friction_used_by_turn(bowl, state)[: whole_turns_of(bowl)]
    return float(np.nanmax(used)) if not np.all(np.isnan(used)) else float("inf")


def _friction_wanted(solver: Solver, pressed: PressState) -> float:
    """Times the friction there is that a bowl that slips would take: let go with every point stuck. [-]"""
    found = _turned(solver, pressed, 0.0, STUCK)
    used = float("inf") if found.state is None else _most_used(solver.bowl, found.state)
    return max(used, 1.0 + WITHIN)


@dataclass(frozen=True)
class Kept:
    """Whether a bowl keeps nine tenths of its rise when let go, every whole turn bearing.

    Attributes
    ----------
    holds : bool
        Whether it does.
    friction_used : float
        What the whole turn that asks most uses at rest over the friction there is; of a bowl that slips on
        the way, what it would come to at rest by its last steps, at least 1. [-]
    """

    holds: bool
    friction_used: float


def kept(solver: Solver, pressed: PressState) -> Kept:
    """Let go in few steps, only to know whether the bowl holds.

    A step without an equilibrium is halved, and given up where its half has none either or a third try has
    none, unless no turn uses much of its friction yet: then it was the search that lost its way, and not
    the bowl that slipped.

    Parameters
    ----------
    solver, pressed : Solver, PressState
        The bowl made ready, and its state under the press.

    Returns
    -------
    Kept
        Whether it holds, and the friction that takes.
    """
    bowl, here, at = solver.bowl, pressed, 1.0
    floor, ahead, lost, row = KEPT_SHARE * mean_rise_mm(bowl, pressed), list(SMOOTHLY), 0, 0
    used = [(1.0, 0.0)]  # share of the press left, friction used
    while ahead:
        found = turn_back(solver, here, ahead[0] * pressed.press_N, briefly=True)
        if found.state is not None and mean_rise_mm(bowl, found.state) >= floor:
            here, at, row = found.state, ahead.pop(0), 0
            lost = 0 if at in SMOOTHLY else lost
            used.append((at, _most_used(bowl, here)))
            continue
        lost, row = lost + 1, row + 1
        slips = (row > 1 or lost > 2) and used[-1][1] > SLIPS_FROM
        if found.state is not None or found.fell or slips or at - ahead[0] <= LEAST_STEP:
            return Kept(False, max(_at_no_press(used), 1.0))
        ahead.insert(0, 0.5 * (at + ahead[0]))
    normal = turn_forces(bowl, here).normal_N[: whole_turns_of(bowl)]
    bears = bool(np.all(normal > 1e-3 * max(float(normal.max(initial=0.0)), 1e-9)))
    return Kept(bears, used[-1][1] if bears else max(used[-1][1], 1.0))


def _at_no_press(used: list[tuple[float, float]]) -> float:
    """Friction used continued in a straight line from its last two steps to no press at all. [-]"""
    if len(used) < 3:
        return MOST_FORESEEN
    (before, was), (at, now) = used[-2:]
    return float(min(now + max(now - was, 0.0) * at / (before - at), MOST_FORESEEN))


def whole_turns_of(bowl: ElasticBowl) -> int:
    """How many of its turns are whole; the last may be a part of one.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.

    Returns
    -------
    int
        At least 1.
    """
    return max(1, len(bowl.turn) // bowl.nodes_per_turn)


def state_at(bowl: ElasticBowl, path: tuple[PressState, ...], press_N: float) -> PressState:
    """The state of a path at a press between its states.

    Parameters
    ----------
    bowl, path : ElasticBowl, tuple of PressState
        The bowl and its states from the flat board.
    press_N : float
        Press, not beyond the path's end. [N]

    Returns
    -------
    PressState
        The equilibrium there.

    Raises
    ------
    NoConvergenceError
        If none is found.
    """
    return _between(prepare(bowl), path, press_N)


def _between(
    solver: Solver, path: tuple[PressState, ...], press_N: float, *, closely: bool = True
) -> PressState:
    """The equilibrium at a press, one step from the state of the path below it.

    Asked closely, a state settled only loosely is told where no other guess came closer.
    """
    at, loosely = [state.press_N for state in path], None
    last = int(np.searchsorted(at, press_N * (1 + 1e-9), side="right")) - 1
    same = abs(at[last] - press_N) <= 1e-6 * press_N
    if same and closely and not path[last].closely:
        last -= 1
    elif same or last == len(path) - 1:
        return path[last]
    # At the path's own end nothing is known beyond: the guess that looks ahead is left out.
    for back, share, creeping in GUESSES[1:] if same else GUESSES:
        if loosely is not None and creeping is not None:
            break
        here, goal = path[max(last - back, 0)], Goal(press_N, closely=closely)
        ahead = share * (press_N - here.press_N) / (path[last + 1].press_N - here.press_N)
        splines = here.followed.splines
        splines = splines + ahead * (path[last + 1].followed.splines - splines)
        # Forces grow from those of the gentler press: points that have yet to come to bear would push
        # before they touch if they were taken from the harder one.
        force = here.followed.force * (press_N / max(here.press_N, 0.05 * press_N))
        found = settle(solver, here, goal, splines=splines, force=force, creeping=creeping).state
        if found is not None and (found.closely or not closely):
            return found
        loosely = found if loosely is None else loosely
    return press_with(solver, press_N, path=path[: last + 1])[-1] if loosely is None else loosely


def press_needed_N(
    bowl: ElasticBowl,
    path: tuple[PressState, ...],
    *,
    goes_on: bool = False,
    known: dict[float, Kept] | None = None,
) -> float:
    """Least press of a path after which the bowl keeps its rise and every whole turn bears.

    A press that holds and one that slips are brought together, by what the friction used at rest tells of
    the press that would use all of it. Close to slipping a bowl holds at one press, slips at the next and
    holds again, as single points of its turns let go: the press found has to hold at a quarter more as
    well, about what it is judged at.

    Parameters
    ----------
    bowl, path : ElasticBowl, tuple of PressState
        The bowl and its states from the flat board.
    goes_on : bool
        Whether a longer path will be looked at where this one does not surely hold the press.
    known : dict of float and Kept, optional
        What was kept after presses of a shorter path; those tried are added. [N]

    Returns
    -------
    float
        Press, to about 5 percent; infinite if it does not hold up to the path's end. [N]
    """
    solver = prepare(bowl)
    states = [state for state in path if not state.fell_through]
    if len(states) < 2:
        return float("inf")
    end_N, begin_N = states[-1].press_N, _likely_N(solver, states)
    if goes_on and HARDER[0] * begin_N > end_N:
        return float("inf")
    return PressSearch(solver, path, end_N, known).needed_N(begin_N)


class PressSearch:
    """Trials of a bowl's presses: what is kept after each.

    Parameters
    ----------
    solver, path : Solver, tuple of PressState
        The bowl made ready, and its states from the flat board.
    end_N : float
        Hardest press that is tried. [N]
    known : dict of float and Kept, optional
        What was kept after presses tried already. [N]

    Attributes
    ----------
    known : dict of float and Kept
        What was kept after each press tried. [N]
    """

    def __init__(
        self,
        solver: Solver,
        path: tuple[PressState, ...],
        end_N: float,
        known: dict[float, Kept] | None = None,
    ) -> None:
        self.solver, self.path, self.end_N = solver, path, end_N
        self.known = dict[float, Kept]() if known is None else known

    def even_N(self, press_N: float) -> float:
        """Of the powers of 1.02 up to the end the nearest: the last digit of an input changes no trial.

        Parameters
        ----------
        press_N : float
            Press. [N]

        Returns
        -------
        float
            The one next to it. [N]
        """
        step = np.log1p(APART)
        most = np.floor(np.log(self.end_N) / step * (1 + 1e-12))
        return float((1 + APART) ** min(np.rint(np.log(press_N) / step), most))

    def tried(self, press_N: float) -> Kept:
        """What is kept after a press.

        Parameters
        ----------
        press_N : float
            One of the presses of :meth:`even_N`. [N]

        Returns
        -------
        Kept
            Whether the bowl holds, and the friction that takes.
        """
        if press_N not in self.known:
            self.known[press_N] = kept(
                self.solver, _between(self.solver, self.path, press_N, closely=False)
            )
        return self.known[press_N]

    def holds_near(self, press_N: float) -> bool:
        """Whether it was found to hold after a press about the same.

        Parameters
        ----------
        press_N : float
            Press. [N]

        Returns
        -------
        bool
            Whether it was; nothing is tried.
        """
        low, high = ABOUT
        return any(found.holds and low < at / press_N < high for at, found in self.known.items())

    def needed_N(self, begin_N: float) -> float:
        """The gentlest press found to hold after which it holds at a quarter more as well.

        Parameters
        ----------
        begin_N : float
            Press tried first. [N]

        Returns
        -------
        float
            Press; infinite if there is none. [N]
        """
        slipped = [at for at, found in self.known.items() if not found.holds]
        above_N, begin_N = 0.0, max(begin_N, CLIMB[0] * max(slipped, default=0.0))
        while True:
            needed_N = self.least_that_holds_N(min(max(begin_N, above_N), self.end_N), above_N)
            if np.isinf(needed_N):
                return needed_N
            for times in HARDER:
                harder_N = self.even_N(min(times * needed_N, self.end_N))
                if self.holds_near(harder_N) or self.tried(harder_N).holds:
                    # It tells how fast friction used falls: where it hardly does a gentler press may do.
                    needed_N = self.least_that_holds_N(needed_N, above_N)
                    return self.even_N(times / HARDER[0] * needed_N)
            begin_N, above_N = 1.1 * harder_N, harder_N

    def least_that_holds_N(self, begin_N: float, above_N: float) -> float:
        """The gentlest press found to hold, above one: infinite if none does.

        Until one holds the presses tried grow in steps; then they lie where all friction would be used, or
        in the middle between the nearest that held and slipped.

        Parameters
        ----------
        begin_N, above_N : float
            Press tried first, and one above which it has to lie. [N]

        Returns
        -------
        float
            Press, no more than :data:`CLOSE` above one that slips, or is expected to use all friction. [N]
        """
        known = [at for at, found in self.known.items() if not found.holds and above_N < at < begin_N]
        slips, between = max(known, default=max(above_N, LEAST_TRIED * self.end_N)), bool(known)
        holds, climb, at = np.inf, iter(CLIMB), begin_N
        for _ in range(MOST_TRIALS):
            at = self.even_N(at)
            found = self.tried(at)
            if found.holds:
                holds = at
            else:
                slips, between = at, True
            if np.isinf(holds):
                if slips >= self.even_N(self.end_N):
                    return float("inf")
                told = min(found.friction_used ** (1 / self._power(at)), MOST_CLIMB)
                at = min(slips * max(next(climb, CLIMB[-1]), told), self.end_N)
                continue
            used, power = self.known[holds].friction_used, self._power(holds)
            if holds <= (1 + CLOSE) * slips or used ** (1 / power) * (1 + CLOSE) >= 1:
                break
            ahead = holds * max((used / ALL_USED) ** (1 / power), LEAST_AHEAD)
            ahead = (
                max(ahead, float(np.sqrt(slips * holds))) if between else min(ahead, holds / (1 + CLOSE))
            )
            at = min(max(ahead, slips * (1 + 2 * APART)), holds / (1 + 2 * APART))
        return float(holds)

    def _power(self, press_N: float) -> float:
        """Power of the press with which friction used falls, by the press next to one that tells.

        Of presses after which it slips those tell whose friction used is foreseen beyond all there is.
        """
        told = {
            at: found.friction_used
            for at, found in self.known.items()
            if found.holds or 1 < found.friction_used < MOST_FORESEEN
        }
        others = [at for at in told if abs(np.log(at / press_N)) > 2 * APART]
        if press_N not in told or not others:
            return USUAL_POWER
        other = min(others, key=lambda at: (at < press_N, abs(np.log(at / press_N))))
        fall = np.log(max(told[press_N], 1e-3) / max(told[other], 1e-3)) / np.log(other / press_N)
        return float(min(max(fall, LEAST_POWER), MOST_POWER))


def _likely_N(solver: Solver, states: list[PressState]) -> float:
    """Press at which a turn would use :data:`LIKELY_USED`, no point sliding; foreseen beyond the path."""
    above = states[-1].press_N, _stuck_used(solver, states[-1])
    if above[1] > LIKELY_USED:
        return float(above[0] * min((above[1] / LIKELY_USED) ** (1 / USUAL_POWER), 10.0))
    for state in states[-2:0:-1]:
        here = state.press_N, _stuck_used(solver, state)
        if here[1] > LIKELY_USED:
            part = (
                np.log(here[1] / LIKELY_USED) / np.log(here[1] / above[1]) if np.isfinite(here[1]) else 0.5
            )
            return float(here[0] * (above[0] / here[0]) ** part)
        above = here
    return above[0]


def _stuck_used(solver: Solver, pressed: PressState) -> float:
    """Friction the turn that asks most would use if the press were taken away and no point slid. [-]"""
    found = turn_back(solver, pressed, 0.0, friction=STUCK)
    return float("inf") if found.state is None else _most_used(solver.bowl, found.state)


def collapse_N(bowl: ElasticBowl, released: Released) -> float:
    """Push on the base from below at which the rise goes, as a positive force.

    Parameters
    ----------
    bowl, released : ElasticBowl, Released
        The bowl, and what is left of its press.

    Returns
    -------
    float
        Push; 0 where nothing holds. [N]
    """
    if released.kept < KEPT_SHARE:
        return 0.0
    solver = prepare(bowl)
    floor = KEPT_SHARE * released.rise_mm
    holds, fails, here = 0.0, np.inf, released.rest
    trial = FIRST_PUSH * max(float(turn_forces(bowl, here).normal_N.sum()), 1e-6)
    least = 1e-3 * trial
    while trial > least:
        # As friction is lowered: a push that fails is tried again in shorter steps, the last one patiently.
        close = np.isfinite(fails) and fails - holds <= WITHIN * fails
        trial = fails if close else trial
        found = _turned(solver, here, -trial, None, floor, patiently=close)
        if found.state is not None and mean_rise_mm(bowl, found.state) >= floor:
            holds, here = trial, found.state
            fails = np.inf if close else fails
        else:
            fails = trial
            if close:
                break
        between = float(np.sqrt(holds * fails)) if holds > 0 else 0.25 * fails
        trial = between if np.isfinite(fails) else 1.5 * holds
    return holds
