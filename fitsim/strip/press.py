"""Press the bowl open: the elastic strip on its bevels, load step by load step.

The base is held and the press lifts the rim: an upward force spread over the last revolution, which
is the same as pushing the base down with the rim held. While the strip is free a load step is given
by the rise it is to make, later by the press, in factors; forces scaled with the press are the first guess.
A step by the press that finds no equilibrium is tried once by the rise before it is made shorter.

Where short steps find no equilibrium near either, the strip slides on under the harder press until it
rests. A seat whose drop reaches the thickness faces no wood any more: if that happens while the press acts
the turn has fallen through, and the press at which it does is found between the steps.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import NoConvergenceError
from fitsim.strip.equilibrium import flat_state, slide_on, step_to, unit_press
from fitsim.strip.load_step import Goal, Solver, prepare
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm, rim_load, strain_energy_Nmm

__all__ = [
    "USUAL",
    "ElasticBowl",
    "Manner",
    "PressState",
    "paid_for",
    "press",
    "press_with",
    "rim_load",
    "strain_energy_Nmm",
]


SLIDES_FROM = 0.25
"""Share of a usual step from which a strip slides where no equilibrium is near. Sooner, and it is pressed
too suddenly: it rises further than in short steps, by 2 percent or more. [-]"""

CAREFULLY, SLOWEST = 1.4, 1.05
"""Greatest and least factor from one press to the next where the strip slides, the greatest also where it
is known to fall. [-]"""

LEAST_STEP = 1 / 64
"""Smallest share of a step that is tried. [-]"""

SEATING, GIVING_WAY = 1.5, 2.0
"""Times the greatest factor by which a step given by the rise may raise the press: while turns seat, and
where a seated strip gives way by a long stretch. With 2 for both a small bowl (12 mm walnut, 1.4 turns)
came from 5.8 to 22 N at once and rose 2.6 percent too high, or 4, as its press ended. [-]"""

UNPAID, HARDLY_HIGHER = 0.03, 0.01
"""Share of all that a strip has stored and lost that a step may take beyond the work of its greatest
press, and share of its rise below which that is not asked: states settled loosely are off by as much
without moving. False equilibria were by 6 and 7 percent, having taken half as much again as their press
could do and risen by 3 and 4 percent; of 320 steps of 48 other bowls none took more than 0.94 of what its
press could do. [-]"""

NO_HIGHER = 0.05
"""Share of the last step's rise: nearer to a rise that asks for too much press none is given. [-]"""

FOUND_WITHIN = 0.04
"""Width over press to which falling through is found where the strip slides away. [-]"""


@dataclass(frozen=True)
class Manner:
    """How a press is stepped.

    Attributes
    ----------
    growth : float
        Greatest factor from one press to the next. [-]
    most_drop_mm : float
        Change of a seat's drop aimed at in a step of the free strip. [mm]
    most_iterations : int
        Linear systems solved on the whole way before giving up.
    """

    growth: float = 2.0
    most_drop_mm: float = 6.0
    most_iterations: int = 6000


USUAL = Manner()
"""How a press is stepped where nothing else is asked for."""


def press(
    bowl: ElasticBowl,
    press_N: float,
    *,
    manner: Manner = USUAL,
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
    manner : Manner
        How it is stepped.
    splines_per_turn : int, optional
        Splines in a revolution; left out, as many as the bowl's line asks for.
    closely : bool
        Whether the end is settled closely enough for stresses; states on the way never are.
    path : tuple of PressState, optional
        States from the flat board to go on from.

    Returns
    -------
    tuple of PressState
        From the flat board to the press, or to the state that fell through; where the strip slid away
        from the last equilibrium, that state with `fell_through` set.

    Raises
    ------
    NoConvergenceError
        If the smallest step does not settle while there is overlap left; it says where the path stopped.

    """
    solver = prepare(bowl, splines_per_turn=splines_per_turn)
    return press_with(solver, press_N, manner=manner, path=path, closely=closely)


def press_with(
    solver: Solver,
    press_N: float,
    *,
    manner: Manner = USUAL,
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
    manner : Manner
        How it is stepped.
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
    way = _Way(solver, press_N, manner, list(path or [flat_state(solver)]), closely=closely)
    if way.walk():
        return tuple(way.path)
    reached = way.path[-1].press_N
    message = f"press: no equilibrium found just above {reached:.3g} N"
    raise NoConvergenceError(message, reached)


def paid_for(bowl: ElasticBowl, before: PressState, after: PressState) -> bool:
    """Whether a growing press did the work that a step has stored and lost.

    Friction holds a strip anywhere between two rises. One that Newton's method found beyond where a growing
    press stops would have taken more work than its greatest press could do.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    before, after : PressState
        Where the step began and, under the harder press, where it ended.

    Returns
    -------
    bool
        True of a step that hardly moves as well; False of one that falls.
    """
    rise_mm = mean_rise_mm(bowl, before)
    risen_mm = mean_rise_mm(bowl, after) - rise_mm
    if abs(risen_mm) <= HARDLY_HIGHER * rise_mm:
        return True
    taken = _taken_Nmm(bowl, after)
    most_Nmm = after.press_N * risen_mm + UNPAID * taken
    return risen_mm > 0 and taken - _taken_Nmm(bowl, before) <= most_Nmm


def _taken_Nmm(bowl: ElasticBowl, state: PressState) -> float:
    """All that was stored and lost on the way to a state."""
    return strain_energy_Nmm(bowl, state) + state.given_Nmm + state.lost_Nmm


class _Way:
    """A path on its way to a press."""

    def __init__(
        self, solver: Solver, press_N: float, manner: Manner, path: list[PressState], *, closely: bool
    ) -> None:
        self.solver, self.bowl = solver, solver.bowl
        self.press_N, self.manner = press_N, manner
        self.path, self.spent, self.closely = path, 0, closely
        self.part = 1.0  # share of a usual step
        # Whether the next step is by the rise though the strip is stiff, and whether one was tried so.
        self.by_rise = self.tried_by_rise = False
        self.too_high: float | None = None  # a rise that asks for far more than the press
        self.gone_N = np.inf  # least press at which the strip slid away
        self.unit, self.unit_drop, self.unit_rise = unit_press(solver, path[0])

    def walk(self) -> bool:
        """Whether the path reaches its end: the press, or falling through."""
        while self.path[-1].press_N < self.press_N * (1 - 1e-9):
            if self.spent > self.manner.most_iterations or self.part < LEAST_STEP:
                return False
            goal, splines, force = self._ahead()
            too_high, gone_N = self.too_high, self.gone_N
            new = self._settled(goal, splines, force)
            if self.too_high != too_high:
                if self.by_rise:
                    self.too_high = None
                    self._try_otherwise(goal)
                continue
            if new is None and self.part <= SLIDES_FROM:
                new = self._slid(goal.press_N)
            if new is not None and new.fell_through:
                self._fall_between(new, goal.rise_mm is not None)
                return True
            if new is not None:
                self.path.append(new)
                self.part, self.too_high = min(1.0, 2 * self.part), None
                self.by_rise = self.tried_by_rise = False
            elif self.gone_N == gone_N or len(self.path) == 1:
                self._try_otherwise(goal)
            if self.gone_N < (1 + FOUND_WITHIN) * self.path[-1].press_N:
                self.path[-1] = replace(self.path[-1], fell_through=True)
                return True
        return True

    def _try_otherwise(self, failed: Goal) -> None:
        """After a step by the press that failed once one by the rise, as long; then one half as long.

        A strip that gives way by a long stretch for a little more press, as one of many turns does while
        they come to bear, has an equilibrium near at every rise.
        """
        if failed.rise_mm is None and not (failed.last or self.tried_by_rise) and len(self.path) > 2:
            self.by_rise = self.tried_by_rise = True
        else:
            self.by_rise, self.part = False, self.part / 2

    def _settled(self, goal: Goal, splines: Array, force: Array) -> PressState | None:
        """The equilibrium near a first guess, if it is one to go on from."""
        here = self.path[-1]
        seated = goal.rise_mm is None and len(self.path) > 1
        found = step_to(self.solver, here, goal, splines=splines, force=force, seated=seated)
        self.spent += found.iterations
        new = found.state
        if new is None or self._jump(new) > 2.5 * self.manner.most_drop_mm:
            return None
        if new.press_N <= here.press_N:
            # Given by the rise it would bear less: a growing press jumps past it.
            return None
        if not paid_for(self.bowl, here, new):
            return None
        if goal.rise_mm is None:
            return self._as_asked(new)
        if self.press_N < new.press_N < min(2.5 * self.press_N, 7 * here.press_N):
            guess = here.followed.splines + 0.9 * (new.followed.splines - here.followed.splines)
            lent = new.followed.force * (self.press_N / new.press_N)
            end = Goal(self.press_N, closely=self.closely)
            found = step_to(self.solver, here, end, splines=guess, force=lent)
            self.spent += found.iterations
            new = found.state
            return self._as_asked(new) if new is not None and paid_for(self.bowl, here, new) else None
        most = GIVING_WAY if self.by_rise else SEATING
        if new.press_N > min(most * self.manner.growth * here.press_N, self.press_N):
            self.too_high = goal.rise_mm
            return None
        return new

    def _as_asked(self, new: PressState | None) -> PressState | None:
        """A state, unless it is the path's end, is wanted closely, and shorter steps may settle it so.

        One that has settled loosely only may be out of balance at single points, where stresses are then
        any number of times too great.
        """
        if new is None or not self.closely or new.closely or self.part <= SLIDES_FROM:
            return new
        return new if new.press_N < self.press_N * (1 - 1e-9) else None

    def _slid(self, press_N: float) -> PressState | None:
        """Where the strip slides to on the way to a harder press, as closely as wanted at the last."""
        here = self.path[-1]
        if here.press_N > 0:
            press_N = min(press_N, CAREFULLY * here.press_N)
        if not np.isfinite(self.gone_N):
            press_N = max(press_N, SLOWEST * here.press_N)
            press_N = press_N if SLOWEST * press_N < self.press_N else self.press_N
        found = slide_on(self.solver, here, press_N)
        self.spent += found.iterations
        if found.fell:
            self.gone_N = min(self.gone_N, press_N)
        if found.state is None or press_N < self.press_N:
            return found.state
        closely = step_to(self.solver, found.state, Goal(press_N, closely=self.closely))
        self.spent += closely.iterations
        return closely.state or found.state

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
        stiff = stiff and not self.by_rise
        known_high = self.too_high is not None and self.too_high - rise < NO_HIGHER * risen
        if not stiff and not known_high and not np.isfinite(self.gone_N) and risen > 0:
            part = self._before_too_many_touch(manner.most_drop_mm * self.part / jump)
            press = here.press_N + part * step_N
            if self.too_high is not None and rise + part * risen >= self.too_high:
                part = 0.55 * (self.too_high - rise) / risen
            if press < self.press_N:
                return Goal(press, rise + part * risen, last=False), now + part * more, force
        if self.by_rise:  # there is no such step
            self.by_rise, self.part = False, self.part / 2
        ahead = here.press_N * manner.growth
        ahead = self.press_N if ahead > 0.75 * self.press_N else ahead
        press = here.press_N + self.part * (ahead - here.press_N)
        if np.isfinite(self.gone_N):
            press = min(press, CAREFULLY * here.press_N, float(np.sqrt(here.press_N * self.gone_N)))
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
            found = step_to(self.solver, here, goal, splines=guess, force=lent, seated=not by_rise)
            self.spent += found.iterations
            if found.state is None:
                break
            low, high = (low, found.state) if found.state.fell_through else (found.state, high)
        self.path.append(high)
