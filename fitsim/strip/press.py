"""Press the bowl open: the elastic strip on its bevels, load step by load step.

The base is held and the press lifts the rim: an upward force spread over the last revolution, which
is the same as pushing the base down with the rim held. While the strip is free a load step is given
by the rise it is to make, later by the press, in factors; forces scaled with the press are the first guess.

A seat whose drop reaches the thickness faces no wood any more: if that happens while the press acts the
turn has fallen through, and the press at which it does is found between the steps. A strip that has no
balance at a harder press creeps away from the last one; if its seats run out of wood on the way it has
fallen through at that press.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import NoConvergenceError
from fitsim.strip.equilibrium import flat_state, settle, unit_press
from fitsim.strip.load_step import Creeping, Goal, Settled, Solver, prepare
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm, rim_load, strain_energy_Nmm

__all__ = [
    "MANNERS",
    "THOROUGH",
    "ElasticBowl",
    "Manner",
    "PressState",
    "press",
    "press_with",
    "rim_load",
    "strain_energy_Nmm",
]


NEAR_A_FALL = 1.4
"""Greatest factor from one press to the next once the strip is known to creep away at a harder one. [-]"""

LITTLE = Creeping()
"""A strip followed as one that creeps a little: the usual second try of a step."""


@dataclass(frozen=True)
class Manner:
    """How a press is stepped.

    Attributes
    ----------
    growth : float
        Greatest factor from one press to the next. [-]
    most_drop_mm : float
        Change of a seat's drop aimed at in a step of the free strip. [mm]
    least_step : float
        Smallest share of a step that is tried. [-]
    most_iterations : int
        Linear systems solved on the whole way before giving up.
    found_within : float
        Width over press to which falling through is found where the strip creeps away. [-]
    firmness : float
        Times the usual stiffness of contact while it settles. [-]
    creeping : Creeping
        How a strip is followed that has no equilibrium near.
    """

    growth: float = 3.5
    most_drop_mm: float = 6.0
    least_step: float = 1 / 64
    most_iterations: int = 600
    found_within: float = 0.04
    firmness: float = 1.0
    creeping: Creeping = LITTLE


MANNERS = (Manner(), Manner(creeping=Creeping(10.0, 250), most_iterations=500))
"""How a press is stepped, then how it is tried again where a path breaks off."""

THOROUGH = (
    *MANNERS,
    Manner(creeping=Creeping(10.0, 250), most_iterations=1500),
    Manner(growth=2.0, most_drop_mm=3.0, firmness=0.3, creeping=Creeping(10.0, 250), most_iterations=1500),
    Manner(growth=2.0, most_drop_mm=2.0, firmness=2.0, creeping=Creeping(30.0, 400), most_iterations=2500),
)
"""The same for one who can wait: minutes for the last bowls of twenty turns and more in thin boards."""


def press(
    bowl: ElasticBowl,
    press_N: float,
    *,
    manners: tuple[Manner, ...] = MANNERS,
    splines_per_turn: int | None = None,
    closely: bool = True,
    path: tuple[PressState, ...] | None = None,
) -> tuple[PressState, ...]:
    """Press the flat board open.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    press_N : float
        Press to reach. [N]
    manners : tuple of Manner
        Ways of stepping, tried in turn until one arrives.
    splines_per_turn : int, optional
        Splines in a revolution; left out, as many as the bowl's line asks for.
    closely : bool
        Whether the end is settled closely enough for stresses; states on the way never are.
    path : tuple of PressState, optional
        States from the flat board to go on from.

    Returns
    -------
    tuple of PressState
        From the flat board to the press, or to the state that fell through; where the strip crept away
        from the last equilibrium, that state with `fell_through` set.

    Raises
    ------
    NoConvergenceError
        If the smallest step does not settle while there is overlap left; it says where the path stopped.

    """
    solver = prepare(bowl, splines_per_turn=splines_per_turn)
    return press_with(solver, press_N, manners=manners, path=path, closely=closely)


def press_with(
    solver: Solver,
    press_N: float,
    *,
    manners: tuple[Manner, ...] = MANNERS,
    path: tuple[PressState, ...] | None = None,
    closely: bool = True,
) -> tuple[PressState, ...]:
    """Press a bowl that has been made ready, from the flat board or on from a path.

    Parameters
    ----------
    solver : Solver
        The bowl made ready.
    press_N : float
        Press to reach. [N]
    manners : tuple of Manner
        Ways of stepping, tried in turn until one arrives.
    path, closely : tuple of PressState, bool
        As :func:`press`.

    Returns
    -------
    tuple of PressState
        As :func:`press`.

    Raises
    ------
    NoConvergenceError
        As :func:`press`.
    """
    reached = 0.0
    for manner in manners:
        begun = [flat_state(solver)] if path is None else list(path)
        way = _Way(solver, press_N, manner, begun, closely=closely)
        if way.walk():
            return _under_growing_press(way.path)
        reached = max(reached, way.path[-1].press_N)
    message = f"press: no equilibrium found just above {reached:.3g} N"
    raise NoConvergenceError(message, reached)


def _under_growing_press(path: list[PressState]) -> tuple[PressState, ...]:
    """The states of a path that a growing press comes to.

    Given by the rise a step may end at less press than was reached: from that press on a growing one jumps
    past such states, to the next that bears more, or if none does the turn falls through there.
    """
    reached = [path[0]]
    for state in path[1:]:
        if state.press_N > reached[-1].press_N:
            reached.append(state)
    if path[-1].fell_through and reached[-1] is not path[-1]:
        reached[-1] = replace(reached[-1], fell_through=True)
    return tuple(reached)


class _Way:
    """A path on its way to a press."""

    def __init__(
        self, solver: Solver, press_N: float, manner: Manner, path: list[PressState], *, closely: bool
    ) -> None:
        self.solver = replace(solver, stiffness=manner.firmness * solver.stiffness)
        self.bowl, self.press_N, self.manner = solver.bowl, press_N, manner
        self.path, self.spent, self.closely = path, 0, closely
        self.part = 1.0  # share of a usual step
        self.by_rise = 0  # steps that are to be given by the rise although the strip is stiff
        self.too_high: float | None = None  # a rise that asks for far more than the press
        self.gone_N = np.inf  # least press at which the strip crept away
        self.refused: Goal | None = None  # the last goal that was not reached
        self.unit, self.unit_drop, self.unit_rise = unit_press(solver, path[0])

    def walk(self) -> bool:
        """Whether the path reaches its end: the press, or falling through."""
        while self.path[-1].press_N < self.press_N * (1 - 1e-9):
            if self.spent > self.manner.most_iterations:
                return False
            goal, splines, force = self._ahead()
            # Where the rise cannot be given the next try would be the same step once more.
            again = goal == self.refused
            found = Settled(None, False, 0) if again else self._step(goal, splines, force)
            new, self.refused = found.state, goal
            if new is not None and new.fell_through:
                self._fall_between(new, goal.rise_mm is not None)
                return True
            if new is not None:
                self._accept(new)
            elif found.fell and goal.rise_mm is None:
                self.gone_N = goal.press_N
            elif not self._shorter(goal):
                return self.path[-1].fell_through
            if self.gone_N < (1 + self.manner.found_within) * self.path[-1].press_N:
                self.path[-1] = replace(self.path[-1], fell_through=True)
                return True
        return True

    def _accept(self, new: PressState) -> None:
        self.path.append(new)
        self.part, self.by_rise, self.too_high = min(1.0, 2 * self.part), max(0, self.by_rise - 1), None

    def _shorter(self, goal: Goal) -> bool:
        """Take the next step shorter, or by rise; False where nothing is left to try."""
        if goal.rise_mm is not None and self.too_high is not None and goal.rise_mm >= self.too_high:
            return True
        if (
            goal.rise_mm is None
            and not self.by_rise
            and len(self.path) > 2
            and not np.isfinite(self.gone_N)
        ):
            self.by_rise = 2
            return True
        self.part /= 2
        if self.part >= self.manner.least_step:
            return True
        if self.path[-1].drop_mm.max() > 0.9 * self.bowl.seats.thickness_mm:
            self.path[-1] = replace(self.path[-1], fell_through=True)
        return False

    def _step(self, goal: Goal, splines: Array, force: Array) -> Settled:
        """One step as usual, then of a strip that creeps."""
        here = self.path[-1]
        seated = goal.rise_mm is None and len(self.path) > 1
        found = Settled(None, False, 0)
        for creeping in (None, self.manner.creeping):
            found = settle(
                self.solver, here, goal, splines=splines, force=force, seated=seated, creeping=creeping
            )
            self.spent += found.iterations
            if found.state is not None or found.fell:
                break
        new = found.state
        if new is None or goal.rise_mm is None:
            far = new is not None and self._jump(new) > 2.5 * self.manner.most_drop_mm and creeping is None
            return Settled(None, False, 0) if far else found
        if new.press_N <= 0:
            return Settled(None, False, 0)
        if (
            new.press_N > self.press_N
            and new.press_N < 2.5 * self.press_N
            and new.press_N < 7 * here.press_N
        ):
            guess = here.followed.splines + 0.9 * (new.followed.splines - here.followed.splines)
            lent = new.followed.force * (self.press_N / new.press_N)
            found = settle(
                self.solver, here, Goal(self.press_N, closely=self.closely), splines=guess, force=lent
            )
            self.spent += found.iterations
            return found
        if new.press_N > min(2 * self.manner.growth * here.press_N, self.press_N):
            self.too_high = goal.rise_mm
            return Settled(None, False, 0)
        return (
            found
            if self._jump(new) <= 2.5 * self.manner.most_drop_mm or creeping is not None
            else Settled(None, False, 0)
        )

    def _jump(self, new: PressState) -> float:
        return float(np.abs(new.drop_mm - self.path[-1].drop_mm).max())

    def _ahead(self) -> tuple[Goal, Array, Array]:
        """The next goal, and first guesses of splines and forces."""
        here, manner = self.path[-1], self.manner
        now, force = here.followed.splines, here.followed.force
        if len(self.path) == 1:
            press = min(self.press_N, manner.most_drop_mm * self.part / self.unit_drop)
            goal = Goal(press, last=press >= self.press_N, closely=self.closely)
            return goal, now + press * self.unit, force
        last = self.path[-2]
        more = now - last.followed.splines
        rise, step_N = mean_rise_mm(self.bowl, here), here.press_N - last.press_N
        risen = rise - mean_rise_mm(self.bowl, last)
        logged = np.log(here.press_N / last.press_N) if last.press_N > 0 else 9.0
        jump = max(float(np.abs(here.drop_mm - last.drop_mm).max()), 1e-6)
        stiff = len(self.path) > 2 and step_N * self.unit_rise > 1.6 * max(risen, 1e-9)
        if (not stiff or self.by_rise) and not np.isfinite(self.gone_N) and risen > 0:
            part = manner.most_drop_mm * self.part / jump
            if stiff:
                part = min(0.8 * self.part * np.log(manner.growth) / max(logged, 0.05), part)
            else:
                part = self._before_too_many_touch(part)
            press = here.press_N + part * step_N if not stiff else here.press_N * manner.growth**0.8
            if self.too_high is not None and rise + part * risen >= self.too_high:
                part = 0.55 * (self.too_high - rise) / risen
            if press < self.press_N:
                return Goal(press, rise + part * risen, last=False), now + part * more, force
        ahead = here.press_N * manner.growth
        ahead = self.press_N if ahead > 0.75 * self.press_N else ahead
        press = here.press_N + self.part * (ahead - here.press_N)
        if np.isfinite(self.gone_N):
            press = min(press, NEAR_A_FALL * here.press_N, float(np.sqrt(here.press_N * self.gone_N)))
        times = press / here.press_N
        # The seated strip stiffens: it goes on about as the logarithm of the press.
        on = min(0.3 * np.log(times) / max(logged, 0.3), 0.5)
        goal = Goal(press, last=press >= self.press_N, closely=self.closely)
        return goal, now + on * more, force * times

    def _before_too_many_touch(self, part: float) -> float:
        """A step of the free strip that does not close more than a third of its gaps at once."""
        gap, before = self.path[-1].followed.gap_mm, self.path[-2].followed.gap_mm
        most = max(0.35, float((gap < 0).mean()) + 0.2)
        for _ in range(12):
            if (gap + part * (gap - before) < 0).mean() <= most:
                break
            part *= 0.85
        return part

    def _fall_between(self, beyond: PressState, by_rise: bool) -> None:
        """End the path where the greatest drop is the thickness, between its end and a state beyond."""
        here, bowl = self.path[-1], self.bowl
        T = bowl.seats.thickness_mm
        low, high = here, beyond
        for _ in range(4):
            if high.drop_mm.max() <= 1.01 * T or low.drop_mm.max() >= 0.99 * T:
                break
            x = (T - low.drop_mm.max()) / (high.drop_mm.max() - low.drop_mm.max())
            x = float(min(max(x, 0.05), 0.95))
            press = low.press_N + x * (high.press_N - low.press_N)
            rise = mean_rise_mm(bowl, low) + x * (mean_rise_mm(bowl, high) - mean_rise_mm(bowl, low))
            guess = low.followed.splines + x * (high.followed.splines - low.followed.splines)
            lent = here.followed.force if by_rise else high.followed.force * (press / high.press_N)
            goal = Goal(press, rise if by_rise else None, last=False)
            found = settle(self.solver, here, goal, splines=guess, force=lent, seated=not by_rise)
            self.spent += found.iterations
            if found.state is None:
                break
            low, high = (low, found.state) if found.state.fell_through else (found.state, high)
        self.path.append(high)
