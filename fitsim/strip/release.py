"""Let go of the press: what is left of the rise, how much friction that takes, what makes it collapse.

The press is taken away in steps with friction (`turning_back`: where points slide the strip is followed to
where it rests), and what is left is what a maker sees. *Friction used*
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
from fitsim.errors import NoConvergenceError
from fitsim.strip.equilibrium import step_to
from fitsim.strip.load_step import Goal, Solver, prepare
from fitsim.strip.press import paid_for, press_with
from fitsim.strip.results import turn_forces
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm
from fitsim.strip.turning_back import step_back, turn_back

__all__ = [
    "CLOSE",
    "KEPT_SHARE",
    "NEARLY_ALL_USED",
    "ROUGH",
    "Kept",
    "Released",
    "collapse_N",
    "friction_used_by_turn",
    "friction_used_nearly",
    "let_go",
    "press_needed_N",
    "state_at",
    "whole_turns_of",
]

KEPT_SHARE = 0.9
"""Share of the pressed rise that a bowl must keep."""

STEPS = (0.15, 0.0)
"""Shares of the press passed on the way to none. Of 122 presses about the least that holds, on 25 bowls,
three to ten steps told the same of all but one or two, all at once of sixteen not. [-]"""

WITHIN = 0.1
"""How closely the collapse is looked for, over its value."""

LONG, SHORT, NEARLY_USED = 0.85, 0.97, 0.78
"""Times the friction at which the next is tried while it is lowered: at most so far that the turn that asks
most uses the third; friction used lies between the last two, halved once more. [-]"""

NEARLY_SHORT = 0.95
"""The second, where friction used is only nearly looked for and nothing is halved: of sixteen ends of
ranges, on seven bowls, fourteen were told to 2 percent and two to 4, in two thirds of the linear systems.
[-]"""

LEAST_TRIED = 0.02
"""Least press tried over a path's last. [-]"""

GUESSES = ((0, 0.5), (0, 0.0), (1, 0.5))
"""Guesses of a state between two of a path: how many states back it is begun from, and the share of the way
that the shape is taken to have gone. Of 288 states of ordinary bowls the first settled closely in 282, the
second in 284, one or the other in all. [-]"""

USUAL_SPARE = 1.25
"""Times the press needed at which a bowl is usually judged: a path that may not reach it is made longer.
[-]"""

LIKELY_USED = 1.0
"""Friction that a turn would use if no point slid, over that there is, at the press tried first. Where it
is 1.25 half of 82 bowls began to hold at 0.82 to 1.2 times that press; a harder one mostly holds, which is
sooner known: of 0.8, 0.9, 1.0, 1.1 and 1.25 this takes the fewest linear systems. [-]"""

ALL_USED = 0.97
"""Friction used at rest of a press that is looked for: as good as all. [-]"""

NEARLY_ALL_USED = 0.92
"""Friction used of the turn that asks most at which bowls are about to slip: the median of 72 places, on
56 bowls in steps of 8 percent, where one held and the gentler one slipped; half lay at 0.88 to 0.95. [-]"""

APART = 0.02
"""How far apart the presses tried are, over their value. [-]"""

CLOSE = 0.065
"""How near to each other presses that hold and that slip are brought, over their value: to three steps of
those tried. Two take a sixth more linear systems, four a thirtieth fewer. [-]"""

ROUGH = 0.3
"""The same for one of many bowls that differ a little. The middle of both presses is told: on 71 samples
of two bowls 0.084 off, root mean square, and 2 percent low on the mean, for 0.57 of the linear systems that
two percent take (the usual nearness 0.85). [-]"""

LEAST_CLIMB, MOST_CLIMB = 1.3, 2.0
"""Times a press that slips at which the next is tried while none holds: by the friction used. [-]"""

NEARER_HOLDS = 0.6
"""How far towards the press that holds the next is tried, of the way between: slipping takes four times
the work. [-]"""

MOST_TRIALS = 30
"""Most presses tried for it."""

USUAL_POWER, LEAST_POWER, MOST_POWER = 0.6, 0.1, 1.5
"""Power of the press with which friction used falls: the first guess, and its bounds. [-]"""

LEAST_AHEAD = 0.62
"""Least share of a press that holds at which all friction is expected to be used. [-]"""

MOST_FORESEEN = 1.5
"""Most friction used that is foreseen of a bowl that slips. [-]"""

LEAST_FRICTION = 1e-3
"""Friction at which a bowl is said to need none. [-]"""

FIRST_PUSH = 0.0025
"""Push from below that is tried first, over the sum of the normal forces. [-]"""

LEAST_WANTED = 1.05
"""Least friction that a bowl that slips is said to want, over what there is. [-]"""

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
    states = _gone_back(solver, pressed, -np.inf)
    rest = states[-1] if len(states) == len(STEPS) else None
    left = 0.0 if rest is None else mean_rise_mm(bowl, rest)
    if rest is not None and left >= KEPT_SHARE * rise:
        used = float("inf")
        if bowl.friction > 0:
            used = _least_friction(solver, rest, rise) if lowering else min(_most_used(bowl, rest), 1.0)
    else:
        used = _friction_wanted(solver, pressed)
    end = rest or (states or [pressed])[-1]
    return Released(end, rise, left, used, friction_used_by_turn(bowl, end))


def friction_used_nearly(bowl: ElasticBowl, released: Released) -> float:
    """The friction used that :func:`let_go` finds by lowering friction, to some percent.

    Parameters
    ----------
    bowl, released : ElasticBowl, Released
        The bowl, and what is left of its press.

    Returns
    -------
    float
        As :class:`Released` has it. [-]
    """
    if released.kept < KEPT_SHARE or not bowl.friction > 0:
        return released.friction_used
    return _least_friction(prepare(bowl), released.rest, released.rise_mm, nearly=True)


def _gone_back(solver: Solver, pressed: PressState, floor_mm: float) -> list[PressState]:
    """The states after each step of letting go, as far as there are any of at least that rise."""
    here, states = pressed, list[PressState]()
    for share in STEPS:
        found = step_back(solver, here, share * pressed.press_N, least_rise_mm=floor_mm)
        if found.state is None or mean_rise_mm(solver.bowl, found.state) < floor_mm:
            break
        here = found.state
        states.append(here)
    return states


def _least_friction(solver: Solver, rest: PressState, rise_mm: float, *, nearly: bool = False) -> float:
    """Friction lowered from a rest state until the rise falls below nine tenths, over the bowl's. [-]"""
    bowl, short = solver.bowl, NEARLY_SHORT if nearly else SHORT
    floor, holds, here, careful = KEPT_SHARE * rise_mm, bowl.friction, rest, False

    def kept_at(friction: float) -> PressState | None:
        found = step_back(solver, here, 0.0, friction=friction, least_rise_mm=floor, briefly=True).state
        return None if found is None or mean_rise_mm(bowl, found) < floor else found

    while holds > LEAST_FRICTION:
        asked = _most_used(replace(bowl, friction=holds), here)
        step = short if careful else min(max(asked / NEARLY_USED, LONG), short)
        found = kept_at(step * holds)
        if found is not None:
            holds, here = step * holds, found
        elif step < short:
            careful = True
        elif nearly:
            return float(np.sqrt(step)) * holds / bowl.friction
        else:
            slips, between = step * holds, float(np.sqrt(step)) * holds
            slips, holds = (slips, between) if kept_at(between) is not None else (between, holds)
            return float(np.sqrt(slips * holds)) / bowl.friction
    return holds / bowl.friction


def _most_used(bowl: ElasticBowl, state: PressState) -> float:
    """Friction used of the whole turn that asks most, over the bowl's. [-]"""
    used = friction_used_by_turn(bowl, state)[: whole_turns_of(bowl)]
    return float(np.nanmax(used)) if not np.all(np.isnan(used)) else float("inf")


def _friction_wanted(solver: Solver, pressed: PressState) -> float:
    """Times the friction there is that a bowl that slips would take: let go with every point stuck. [-]"""
    found = step_back(solver, pressed, 0.0, friction=STUCK)
    used = float("inf") if found.state is None else _most_used(solver.bowl, found.state)
    return max(used, LEAST_WANTED)


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
    """Let go, only to know whether the bowl holds.

    Parameters
    ----------
    solver, pressed : Solver, PressState
        The bowl made ready, and its state under the press.

    Returns
    -------
    Kept
        Whether it holds, and the friction that takes.
    """
    bowl = solver.bowl
    states = _gone_back(solver, pressed, KEPT_SHARE * mean_rise_mm(bowl, pressed))
    shares = (1.0, *STEPS)[: len(states) + 1]
    used = [0.0, *(_most_used(bowl, state) for state in states)]
    if len(states) < len(STEPS):
        return Kept(False, max(_at_no_press(list(zip(shares, used, strict=True))), 1.0))
    normal = turn_forces(bowl, states[-1]).normal_N[: whole_turns_of(bowl)]
    bears = bool(np.all(normal > 1e-3 * max(float(normal.max(initial=0.0)), 1e-9)))
    return Kept(bears, used[-1] if bears else max(used[-1], 1.0))


def _at_no_press(used: list[tuple[float, float]]) -> float:
    """Friction used continued in a straight line from its last two steps to no press at all. [-]"""
    if len(used) < 2:
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
    for back, share in GUESSES[1:] if same else GUESSES:
        here, goal = path[max(last - back, 0)], Goal(press_N, closely=closely)
        ahead = share * (press_N - here.press_N) / (path[last + 1].press_N - here.press_N)
        splines = here.followed.splines
        splines = splines + ahead * (path[last + 1].followed.splines - splines)
        # Forces grow from those of the gentler press: points that have yet to come to bear would push
        # before they touch if they were taken from the harder one.
        force = here.followed.force * (press_N / max(here.press_N, 0.05 * press_N))
        found = step_to(solver, here, goal, splines=splines, force=force).state
        if found is not None and not paid_for(solver.bowl, here, found):
            continue
        if found is not None and (found.closely or not closely):
            return found
        loosely = found if loosely is None else loosely
    try:
        found = press_with(solver, press_N, path=path[: last + 1], closely=closely)[-1]
    except NoConvergenceError:
        if loosely is None:
            raise
        return loosely
    return found if loosely is None or found.closely else loosely


def press_needed_N(
    bowl: ElasticBowl,
    path: tuple[PressState, ...],
    *,
    goes_on: bool = False,
    known: dict[float, Kept] | None = None,
    within: float = CLOSE,
    middle: bool = False,
) -> float:
    """Least press of a path after which the bowl keeps its rise and every whole turn bears.

    A press that holds and one that slips are brought together, by what the friction used at rest tells of
    the press that would use all of it.

    Parameters
    ----------
    bowl, path : ElasticBowl, tuple of PressState
        The bowl and its states from the flat board.
    goes_on : bool
        Whether a longer path will be looked at where this one does not surely hold the press.
    known : dict of float and Kept, optional
        What was kept after presses of a shorter path; those tried are added. [N]
    within : float
        How near to each other presses that hold and that slip are brought, over their value. [-]
    middle : bool
        Whether the (geometric) middle of the two is told, and not the one found to hold.

    Returns
    -------
    float
        Press, to about 5 percent where the usual nearness is asked; infinite if it does not hold up to the
        path's end. [N]
    """
    solver = prepare(bowl)
    states = [state for state in path if not state.fell_through]
    if len(states) < 2:
        return float("inf")
    end_N, begin_N = states[-1].press_N, _likely_N(solver, states)
    if goes_on and USUAL_SPARE * begin_N > end_N:
        return float("inf")
    search = PressSearch(solver, path, end_N, known, within)
    holds_N = search.needed_N(begin_N)
    return search.middle_N(holds_N) if middle and np.isfinite(holds_N) else holds_N


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
        within: float = CLOSE,
    ) -> None:
        self.solver, self.path, self.end_N, self.within = solver, path, end_N, within
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

    def needed_N(self, begin_N: float) -> float:
        """The gentlest press found to hold.

        Until one holds the presses tried grow; then they lie where all friction would be used, or between
        the nearest that held and slipped, until these are near or that is near to the one that holds.

        Parameters
        ----------
        begin_N : float
            Press tried first. [N]

        Returns
        -------
        float
            Press, no more than that above one that slips, or at which all friction would be used; infinite
            if none holds. [N]
        """
        slipped = [at for at, found in self.known.items() if not found.holds]
        slips, between, holds = max(slipped, default=LEAST_TRIED * self.end_N), bool(slipped), np.inf
        at = min(max(begin_N, LEAST_CLIMB * slips if between else slips), self.end_N)
        for _ in range(MOST_TRIALS):
            at = self.even_N(at)
            if self.tried(at).holds:
                holds = at
            else:
                slips, between = at, True
            used, power = self.known[at].friction_used, self._power_seen(at) or USUAL_POWER
            if np.isinf(holds):
                if slips >= self.even_N(self.end_N):
                    break
                at = slips * min(max(used ** (1 / power), LEAST_CLIMB), MOST_CLIMB)
                at = min(at, self.end_N)
                continue
            if holds <= (1 + self.within) * slips:
                break
            used, seen = self.known[holds].friction_used, self._power_seen(holds)
            power = seen or USUAL_POWER
            if seen is not None and used ** (1 / power) * (1 + self.within) >= 1:
                break  # all friction would be used at a press as near below as one that slips has to be
            ahead = holds * max((used / ALL_USED) ** (1 / power), LEAST_AHEAD)
            if between:
                ahead = max(ahead, slips * (holds / slips) ** NEARER_HOLDS)
            else:
                ahead = min(ahead, holds / (1 + self.within))
            at = min(max(ahead, slips * (1 + 2 * APART)), holds / (1 + 2 * APART))
        return float(holds)

    def middle_N(self, holds_N: float) -> float:
        """Geometric middle of a press found to hold and the nearest that slips, or that is taken to.

        Parameters
        ----------
        holds_N : float
            From :meth:`needed_N`, finite. [N]

        Returns
        -------
        float
            [N]
        """
        slipped = (at for at, found in self.known.items() if not found.holds and at < holds_N)
        return float(np.sqrt(holds_N * max(*slipped, holds_N / (1 + self.within), 0.0)))

    def _power_seen(self, press_N: float) -> float | None:
        """Power of the press with which friction used falls, by the press next to one that tells, if any.

        Of presses after which it slips those tell whose friction used is foreseen beyond all there is.
        """
        told = {
            at: found.friction_used
            for at, found in self.known.items()
            if found.holds or 1 < found.friction_used < MOST_FORESEEN
        }
        others = [at for at in told if abs(np.log(at / press_N)) > 2 * APART]
        if press_N not in told or not others:
            return None
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
    holds, fails, from_near, here = 0.0, np.inf, False, released.rest
    trial = FIRST_PUSH * max(float(turn_forces(bowl, here).normal_N.sum()), 1e-6)
    least = 1e-3 * trial
    while trial > least:
        found = step_back(solver, here, -trial, least_rise_mm=floor, briefly=True)
        if found.state is not None and mean_rise_mm(bowl, found.state) >= floor:
            holds, here = trial, found.state
            fails = fails if trial < fails else np.inf
        else:
            fails, from_near = trial, trial - holds <= WITHIN * trial
        if np.isinf(fails):
            trial = 1.5 * holds
        elif fails - holds > WITHIN * fails:
            trial = fails * (holds / fails) ** NEARER_HOLDS if holds > 0 else 0.25 * fails
        elif from_near:
            break
        else:
            trial = fails  # pushed so hard from afar it may have been lost on the way: once more from near
    return float(np.sqrt(holds * fails)) if holds > 0 else 0.0
