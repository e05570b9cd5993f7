"""The verdict at the ends of everything known only as a range.

Every corner of the ranges that matter is worked out, not only one range after another: what is worst for
one number need not be worst for the next. A range matters to the elastic strip if a test in the workshop
could find the bowl at either of its ends: friction, the press of the hand, strength across the grain, and
those of kerf, film and scale that move a seat by more than a hair. The rest stay at their middle and are
shown.

The press is the one that the least friction needs, where the bowl locks so pressed, else that of its own,
at every end alike. But an end of the friction is what the bowl would be if that friction were known: where
it fails there at the common press it is judged anew, at the press that its own friction asks for.

Friction used is told at both ends as it is in the middle, with friction lowered until the rise goes. That
takes as long as an end itself, and no state hangs on it: it is done at the two ends where the turn that
asks most at rest asks most and least.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from itertools import product

from fitsim.bowl.inputs import FRICTION, Bowl, Limits, Uncertain, with_friction_known, with_input
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    DecidingNumbers,
    Dependence,
    Verdict,
    judge,
    margins,
)
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.strip.release import KEPT_SHARE

__all__ = ["MOST_RANGES", "corners", "mattering", "verdict_over_ranges"]

MOST_RANGES = 10
"""Ranges at once; 2^10 corners are about as many as one waits for."""

A_HAIR = 0.01
"""A range that moves the closed form's overlap by less than this is left at its middle: our choice. [-]"""

ALWAYS = (FRICTION, "use.press_N", "board.wood.tension_across_MPa")
"""Ranges that reach the verdict whatever their size."""

NEAR = 1.06
"""How near to each other, over their value, two frictions are brought between which a state ends: a slide
of some 11 degrees is then told to two thirds of a degree. [-]"""

FIRST_TRIED, THEN_TRIED = 8, 5
"""Frictions at most at which a bowl is tried to find where its state ends, and where one between does: of
many turns and little friction each takes some seconds."""

BESIDE = 0.02
"""How far beside where another input flips a bowl is looked at, over that input's range. [-]"""

VALUES_APART, MOST_VALUES = 10, 5
"""Share of a range, as its inverse, to which another input is brought where a state ends; and values tried
at most. [-]"""

NOTHING = 0.02
"""Share of the upper end of a range of frictions from nothing that is as good as nothing. [-]"""

_NAMES = tuple(field.name for field in fields(DecidingNumbers))
_LESS_IS_BETTER = ("friction_used", "split_chance", "press_asked")
_BETTER = {name: -1.0 if name in _LESS_IS_BETTER else 1.0 for name in _NAMES}  # +1: more is better

_DECIDED_BY = {
    WILL_NOT_OPEN: ("slot_left_mm",),
    FALLS_THROUGH: ("overlap",),
    SPRINGS_BACK: ("press_asked", "kept", "friction_used"),
    SPLIT_RISK: ("split_chance",),
}

_Corner = tuple[bool, ...]
_Numbers = Callable[[Bowl], DecidingNumbers]


class _Corners:
    """Bowls at corners; corners that begin alike share their beginning, which saves most of the work."""

    def __init__(self, bowl: Bowl, ranges: tuple[Uncertain, ...]) -> None:
        self.ranges = ranges
        self.known: dict[_Corner, Bowl] = {(): bowl}

    def at(self, corner: _Corner) -> Bowl:
        """The bowl at a corner, or at the beginning of one."""
        if corner not in self.known:
            u = self.ranges[len(corner) - 1]
            self.known[corner] = with_input(self.at(corner[:-1]), u.path, u.high if corner[-1] else u.low)
        return self.known[corner]


@dataclass(frozen=True)
class _Tried:
    """Deciding numbers by corner, those that found no equilibrium left out.

    A corner says for each range whether its high end was taken; `rubbing` tells the numbers of one at
    another friction, were that known, `varied` those of one with another input at a value, and `middling`
    those of the bowl with one input at a value and the others in their middle; all None where no
    equilibrium is found. `at` is the bowl that was judged at a
    corner, and `used_lowered` its friction used as the middle's was found, where corners have an estimate.
    """

    bowl: Bowl
    ranges: tuple[Uncertain, ...]
    middle: DecidingNumbers
    by_corner: dict[_Corner, DecidingNumbers]
    missing: int
    rubbing: Callable[[_Corner, float], DecidingNumbers | None]
    varied: Callable[[_Corner, Uncertain, float], DecidingNumbers | None]
    middling: Callable[[Uncertain, float], DecidingNumbers | None]
    at: Callable[[_Corner], Bowl]
    used_lowered: Callable[[Bowl], float] | None

    def extreme(self, *, worst: bool) -> DecidingNumbers:
        """Each number at its own worst (or best) corner, or in the middle if that is beyond."""
        every = [*self.by_corner.values(), self.middle]
        ends = {}
        for name in _NAMES:
            known = every if name == "slot_left_mm" else [n for n in every if self.counts(n)]
            ordered = sorted((float(getattr(n, name)) for n in known), key=lambda v: v * _BETTER[name])
            ends[name] = ordered[0] if worst else ordered[-1]
        return DecidingNumbers(**ends)

    def counts(self, found: DecidingNumbers) -> bool:
        """Whether a corner was pressed if the middle was: where a slot is shut nothing else is known."""
        return (found.press_asked > 0) == (self.middle.press_asked > 0)

    def friction_used_ends(self) -> tuple[float, float]:
        """Greatest and least friction used, all of the middle's kind. [-]"""
        told = [self.middle.friction_used]
        holding = dict[_Corner, float]()
        for corner, n in self.by_corner.items():
            if not self.counts(n):
                continue
            if self.used_lowered is None or n.kept < KEPT_SHARE:  # what slips is told the same either way
                told.append(n.friction_used)
            else:
                holding[corner] = n.friction_used
        if self.used_lowered is not None and holding:
            most, least = (end(holding, key=lambda c: holding[c]) for end in (max, min))
            # What slips is worse than all that hold.
            ends = [least] if max(told) > 1 else [most, least]
            told += [self.used_lowered(self.at(corner)) for corner in dict.fromkeys(ends)]
        return max(told), min(told)

    def verdict(self) -> Verdict:
        """What the corners come to."""
        limits, tried = self.bowl.limits, (*self.by_corner.values(), self.middle)
        judged = sorted((judge(n, limits) for n in tried), key=STATES.index)
        state, at_best = judged[0], judged[-1]
        most, least = self.friction_used_ends()
        worst = replace(self.extreme(worst=True), friction_used=most)
        best = replace(self.extreme(worst=False), friction_used=least)
        depends_on = _dependence(self, state) if state != at_best else ()
        in_middle = judge(self.middle, limits)
        if not depends_on:
            state = at_best = in_middle  # no end of a range decides: nothing could settle an "or"
        return Verdict(
            state=state,
            state_at_best=at_best,
            state_in_middle=in_middle,
            worst=worst,
            best=best,
            margins=margins(self.middle, worst, best, limits),
            depends_on=depends_on,
            ends_missing=self.missing,
        )


def verdict_over_ranges(
    bowl: Bowl,
    middle: DecidingNumbers,
    numbers: _Numbers,
    *,
    ranges: tuple[Uncertain, ...] | None = None,
    may_miss: bool = False,
    used_lowered: Callable[[Bowl], float] | None = None,
) -> Verdict:
    """Judge a bowl at every corner of the ranges it holds.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.
    middle : DecidingNumbers
        Its deciding numbers.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.
    ranges : tuple[Uncertain, ...] or None
        Those of its ranges to try; None: all.
    may_miss : bool
        True to leave out corners at which no equilibrium is found, and count them.
    used_lowered : callable, optional
        Friction used of a bowl that holds, with friction lowered to find it as in the middle; left out
        where `numbers` has that already.

    Returns
    -------
    Verdict
        State, margins and dependence.

    Raises
    ------
    OutsideModelError
        If there are more than :data:`MOST_RANGES` ranges.
    NoConvergenceError
        If a corner finds no equilibrium and that is not allowed.
    """
    ranges = bowl.uncertain if ranges is None else ranges
    if len(ranges) > MOST_RANGES:
        message = f"{len(ranges)} inputs are ranges; give single values for all but {MOST_RANGES}"
        raise OutsideModelError(message)
    bowls, found, missing = _Corners(bowl, ranges), dict[_Corner, DecidingNumbers](), 0
    for corner in product((False, True), repeat=len(ranges)):
        try:
            found[corner] = numbers(bowls.at(corner)) if ranges else middle
        except NoConvergenceError:
            if not may_miss:
                raise
            missing += 1

    def found_at(at: Bowl) -> DecidingNumbers | None:
        try:
            return numbers(at)
        except NoConvergenceError:
            return None

    def rubbing(corner: _Corner, friction: float) -> DecidingNumbers | None:
        return found_at(with_friction_known(bowls.at(corner), friction))

    def middling(u: Uncertain, value: float) -> DecidingNumbers | None:
        known = u.path == FRICTION
        return found_at(with_friction_known(bowl, value) if known else with_input(bowl, u.path, value))

    alone = dict[_Corner, float]()
    for corner, first in found.items():
        friction = _friction_at(ranges, corner)
        if friction is not None and judge(first, bowl.limits) != LOCKS:
            known = rubbing(corner, friction)
            if known is not None:
                found[corner], alone[corner] = known, friction

    def judged_at(corner: _Corner) -> Bowl:
        at = bowls.at(corner)
        return with_friction_known(at, alone[corner]) if corner in alone else at

    def varied(corner: _Corner, u: Uncertain, value: float) -> DecidingNumbers | None:
        return found_at(with_input(judged_at(corner), u.path, value))

    tried = _Tried(bowl, ranges, middle, found, missing, rubbing, varied, middling, judged_at, used_lowered)
    return tried.verdict()


def _friction_at(ranges: tuple[Uncertain, ...], corner: _Corner) -> float | None:
    """Friction of a corner, where it is an end of a range."""
    ends = (u.high if high else u.low for u, high in zip(ranges, corner, strict=True) if u.path == FRICTION)
    return next(ends, None)


def mattering(bowl: Bowl, cheap: Callable[[Bowl], DecidingNumbers]) -> tuple[Uncertain, ...]:
    """The ranges that can move the verdict on the elastic strip.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.
    cheap : callable
        Deciding numbers of the closed form, for a bowl with every input at one value.

    Returns
    -------
    tuple[Uncertain, ...]
        Those always tried, and of the others each that moves the closed form's overlap, or slot left over
        the thickness, by :data:`A_HAIR`.
    """

    def moves(u: Uncertain) -> bool:
        low, high = (cheap(with_input(bowl, u.path, end)) for end in (u.low, u.high))
        slot = abs(high.slot_left_mm - low.slot_left_mm) / bowl.board.thickness_mm
        sunk = [min(1 - n.overlap, 2.0) for n in (low, high)]
        return bool(abs(sunk[1] - sunk[0]) > A_HAIR or slot > A_HAIR)

    return tuple(u for u in bowl.uncertain if u.path in ALWAYS or moves(u))


def corners(bowl: Bowl, ranges: tuple[Uncertain, ...] | None = None) -> tuple[Bowl, ...]:
    """Every bowl at the ends of its ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.
    ranges : tuple[Uncertain, ...] or None
        Those of its ranges to take to their ends; None: all.

    Returns
    -------
    tuple[Bowl, ...]
        2^k bowls for k ranges.
    """
    ranges = bowl.uncertain if ranges is None else ranges
    bowls = _Corners(bowl, ranges)
    return tuple(bowls.at(corner) for corner in product((False, True), repeat=len(ranges)))


def _flipped(corner: _Corner, i: int) -> _Corner:
    return (*corner[:i], not corner[i], *corner[i + 1 :])


def _dependence(tried: _Tried, state: str) -> tuple[Dependence, ...]:
    """Inputs that decide a state, judged from the corner that lies deepest in it.

    An input that undoes the state by itself is listed alone; if none does, every input that undoes it
    somewhere is listed, because only several together do.
    """
    limits, ranges, names = tried.bowl.limits, tried.ranges, _DECIDED_BY[state]

    def badness(corner: _Corner) -> tuple[float, ...]:
        return tuple(-_BETTER[n] * float(getattr(tried.by_corner[corner], n)) for n in names)

    happening = [c for c, n in tried.by_corner.items() if judge(n, limits) == state]
    if not happening:
        return ()  # only in the middle, which is no end of anything

    def depth(corner: _Corner) -> tuple[int, tuple[float, ...], tuple[float, ...]]:
        """How many inputs taken to their other end leave it in that state; how bad it is where one ends it.

        How bad it is at the corner itself comes last: past the last equilibrium of a turn that drops out it
        tells nothing.
        """
        beside = [c for i in range(len(ranges)) if (c := _flipped(corner, i)) in tried.by_corner]
        out = [c for c in beside if judge(tried.by_corner[c], limits) != state]
        return len(beside) - len(out), max(map(badness, out), default=()), badness(corner)

    corner = max(happening, key=depth)

    def judged(i: int, u: Uncertain) -> Dependence:
        low, high = (_state_at(tried, (*corner[:i], end, *corner[i + 1 :]), state) for end in (False, True))
        at = _flips_at(tried, corner, i, state) if low != high else _Flip(math.nan)
        return Dependence(
            name=u.name,
            unit=u.unit,
            low=u.low,
            high=u.high,
            state_at_low=low,
            state_at_high=high,
            flips_at=at.flips_at,
            state_between=at.state_between,
            until=at.until,
            may_be=_may_be(tried, i, at, (low, high)),
        )

    def undoes(i: int) -> bool:
        """Whether anywhere an input taken to its other end brings the bowl into that state or out of it."""
        pairs = [(c, _flipped(c, i)) for c in tried.by_corner if not c[i]]
        known = [
            (tried.by_corner[c], tried.by_corner[other]) for c, other in pairs if other in tried.by_corner
        ]
        return any((judge(one, limits) == state) != (judge(two, limits) == state) for one, two in known)

    def moves(i: int) -> bool:
        """Whether it moves how bad it is at the corner that lies deepest."""
        other = _flipped(corner, i)
        return other in tried.by_corner and badness(other) != badness(corner)

    every = [(i, judged(i, u)) for i, u in enumerate(ranges)]
    alone = tuple(d for _, d in every if d.state_at_low != d.state_at_high)
    together = tuple(d for i, d in every if undoes(i))
    # Where only the middle escapes, or ends are missing, no two ends tell: what moves it may be the one.
    return alone or together or tuple(d for i, d in every if moves(i)) or tuple(d for _, d in every)


def _state_at(tried: _Tried, corner: _Corner, otherwise: str) -> str:
    found = tried.by_corner.get(corner)
    return otherwise if found is None else judge(found, tried.bowl.limits)


@dataclass(frozen=True)
class _Flip:
    """Value of an input at which a state ends; and where another lies between the ends', up to where.

    Where values were tried, the one nearest to it in the worse of both ends' states; nan where none was.
    """

    flips_at: float
    state_between: str = ""
    until: float = math.nan
    worse_at: float = math.nan


def _may_be(tried: _Tried, i: int, at: _Flip, ends: tuple[str, str]) -> tuple[str, ...]:
    """States along an input in which it need not be: that hangs on the other ranges too.

    It need not be in a state in which it does better with the others in their middle. That is tried beside
    where the state flips, on the worse side; where the better side does not lock, at its end; and in the
    middle of what lies between. Where it locks it need not if it does not at some ends of the others.
    """
    u = tried.ranges[i]
    if len(tried.ranges) < 2 or not math.isfinite(at.flips_at):
        return ()
    step = (NEAR - 1) * at.flips_at if u.path == FRICTION else BESIDE * (u.high - u.low)
    low, high = (ends[0], at.flips_at - step, u.low), (ends[1], at.flips_at + step, u.high)
    worse, better = sorted((low, high), key=lambda side: STATES.index(side[0]))
    beside = worse[1] if math.isnan(at.worse_at) else at.worse_at
    asked = [(worse[0], beside), (better[0], better[2])]
    if math.isfinite(at.until) and at.state_between != ends[0]:
        asked.append((at.state_between, (at.flips_at + at.until) / 2))

    def better_in_middle(state: str, value: float) -> bool:
        if state == LOCKS and value in (u.low, u.high):
            return any(
                judge(n, tried.bowl.limits) != LOCKS
                for corner, n in tried.by_corner.items()
                if corner[i] == (value == u.high)
            )
        if state == LOCKS:
            return False  # one that lies between, tried at the unfavourable ends of the others
        found = tried.middling(u, min(max(value, u.low), u.high))
        return found is not None and STATES.index(judge(found, tried.bowl.limits)) > STATES.index(state)

    return tuple(dict.fromkeys(state for state, value in asked if better_in_middle(state, value)))


def _flips_at(tried: _Tried, corner: _Corner, i: int, state: str) -> _Flip:
    """Where along one input a state ends, the others as at a corner; nan where that is not known."""
    u, ends = tried.ranges[i], _ends(tried, corner, i)
    found, by = math.nan, ""
    if state == SPRINGS_BACK and u.path == FRICTION:
        found = _least_friction(tried, ends, u)
    if ends[0] is not None and ends[1] is not None:
        for name in _DECIDED_BY[state]:
            if math.isnan(found):
                found, by = _crossing(name, (u.low, u.high), (ends[0], ends[1]), tried.bowl.limits), name
        if u.path not in ALWAYS:
            return _value_tried(tried, corner, i, found, by)
    return _friction_tried(tried, corner, i, state, found) if u.path == FRICTION else _Flip(found)


def _value_tried(tried: _Tried, corner: _Corner, i: int, guess: float, by: str) -> _Flip:
    """Where along an input that is no friction a state ends: a guess, if it proves right when tried.

    Else the value nearest to it that was found to be no worse than the better of the states at the ends;
    and what was found between them. The guess is one at which a number, `by`, meets its limit.
    """
    u, ends, limits = tried.ranges[i], _ends(tried, corner, i), tried.bowl.limits
    if ends[0] is None or ends[1] is None:
        return _Flip(guess)
    at_low, at_high = judge(ends[0], limits), judge(ends[1], limits)
    worse, better = sorted((at_low, at_high), key=STATES.index)
    seen = {u.low: at_low, u.high: at_high}
    good, bad = (u.high, u.low) if better == at_high else (u.low, u.high)
    near = (good - bad) / VALUES_APART
    at = guess if u.low < guess < u.high else (u.low + u.high) / 2
    for _ in range(MOST_VALUES):
        found = tried.varied(corner, u, at)
        if found is None:
            return _Flip(guess)
        if at == guess and _is_at(found, by, (ends[0], ends[1]), limits):
            return _Flip(guess)
        seen[at] = judge(found, limits)
        good, bad = (at, bad) if STATES.index(seen[at]) >= STATES.index(better) else (good, at)
        # A reading that is an end of the range no test could tell from what is known.
        if abs(good - bad) <= abs(near) * (1 + 1e-9) and u.low < good < u.high:
            break
        beside = at - near if good == at else at + near
        at = beside if min(good, bad) < beside < max(good, bad) and at == guess else (good + bad) / 2

    def nearest() -> tuple[float, list[float]]:
        """The value in the worse state that lies nearest to the better one, and those in between."""
        at_worse = min((v for v, s in seen.items() if s == worse), key=lambda v: abs(v - good))
        return at_worse, [v for v, s in seen.items() if s not in (worse, better)]

    worse_at, between = nearest()
    for _ in range(MOST_VALUES):  # what lies between is told up to a value that was tried beside it as well
        last_between = max(between, key=lambda v: abs(v - good), default=worse_at)
        if abs(worse_at - last_between) <= abs(near) * (1 + 1e-9):
            break
        at = (worse_at + last_between) / 2
        if (found := tried.varied(corner, u, at)) is None:
            break
        seen[at] = judge(found, limits)
        worse_at, between = nearest()
    if not between:
        return _Flip(good, worse_at=worse_at)
    first = max(v for v, s in seen.items() if s == at_low and v < min(between))
    last = min(v for v, s in seen.items() if s == at_high and v > max(between))
    return _Flip(first, seen[min(between)], last, worse_at)


def _is_at(
    found: DecidingNumbers, name: str, ends: tuple[DecidingNumbers, DecidingNumbers], limits: Limits
) -> bool:
    """Whether a number lies at its limit, as near as a hundredth of what it changes over a range."""
    value, low, high = (float(getattr(n, name)) for n in (found, *ends))
    limit = 1.0 if name == "press_asked" else float(getattr(limits, name, math.nan))
    return abs(value - limit) <= 0.01 * abs(high - low) < math.inf


def _ends(tried: _Tried, corner: _Corner, i: int) -> tuple[DecidingNumbers | None, DecidingNumbers | None]:
    """Numbers at both ends of one input, the others as at a corner."""
    low, high = (tried.by_corner.get((*corner[:i], end, *corner[i + 1 :])) for end in (False, True))
    return low, high


def _least_friction(
    tried: _Tried, ends: tuple[DecidingNumbers | None, DecidingNumbers | None], u: Uncertain
) -> float:
    """Least friction that keeps a bowl, by what is told of one friction; nan where nothing is."""
    limits = tried.bowl.limits
    if ends[0] is not None and ends[1] is not None and ends[0].press_asked > 1:
        return _crossing("press_asked", (u.low, u.high), (ends[0], ends[1]), limits)
    # Friction used is told of one friction: times that friction it is the least that keeps the bowl.
    for friction, found in ((tried.bowl.use.friction, tried.middle), (u.high, ends[1]), (u.low, ends[0])):
        if found is not None and math.isfinite(found.friction_used) and found.press_asked <= 1:
            least = friction * found.friction_used / limits.friction_used
            return min(max(least, u.low), u.high)
    return math.nan


def _friction_tried(tried: _Tried, corner: _Corner, i: int, state: str, guess: float) -> _Flip:
    """Where along friction a corner's state ends: a guess, tried on both sides, or what lies between.

    A state between those at the ends is told with the friction tried from which it is past.
    """
    u, ends, limits = tried.ranges[i], _ends(tried, corner, i), tried.bowl.limits
    if ends[0] is None or ends[1] is None:
        return _Flip(guess)
    at_low, at_high = judge(ends[0], limits), judge(ends[1], limits)
    first = _Bracket(max(u.low, NOTHING * u.high), ends[0], u.high, ends[1])
    near = first.closed(
        tried, corner, lambda found: found == at_low, _DECIDED_BY[state], FIRST_TRIED, guess
    )
    inside = near.low <= guess <= near.high and near.is_near
    flips_at = guess if inside else near.between(_DECIDED_BY[state], limits)
    follows = judge(near.more, limits)
    if follows == at_high:
        # What lies between frictions that are not near was not tried: it may be as below.
        return _Flip(flips_at) if near.is_near else _Flip(near.low, at_low, near.high)
    past = _Bracket(near.high, near.more, u.high, ends[1])
    for _ in range(2):
        names = _DECIDED_BY.get(follows, ())
        past = past.closed(tried, corner, lambda found: found != at_high, names, THEN_TRIED)
        beyond = past.high * NEAR
        again = tried.rubbing(corner, beyond) if beyond < u.high else None
        if again is None or judge(again, limits) == at_high:
            break
        # The press needed is found to some percent: what is told as past was past at one friction only.
        past = _Bracket(beyond, again, u.high, ends[1])
    return _Flip(flips_at, follows, past.high)


@dataclass(frozen=True)
class _Bracket:
    """Two values of the friction, and what a bowl is found to do at each."""

    low: float
    less: DecidingNumbers
    high: float
    more: DecidingNumbers

    @property
    def is_near(self) -> bool:
        """Whether they are as near to each other as is looked for."""
        return self.high <= self.low * NEAR * (1 + 1e-9)

    @property
    def middle(self) -> float:
        """The geometric middle."""
        return math.sqrt(self.low * self.high)

    def between(self, names: tuple[str, ...], limits: Limits) -> float:
        """Where one of the numbers meets its limit on the curve of its kind, or the middle."""
        inside = (_crossing(name, (self.low, self.high), (self.less, self.more), limits) for name in names)
        return next((at for at in inside if self.low < at < self.high), self.middle)

    def closed(
        self,
        tried: _Tried,
        corner: _Corner,
        is_low: Callable[[str], bool],
        names: tuple[str, ...],
        most: int,
        guess: float = math.nan,
    ) -> "_Bracket":
        """Brought near by trying a few frictions between; not where one of them finds no equilibrium.

        First a guess and one beside it, then where a curve through both ends meets the limit; the middle
        where that took off less than half.
        """
        limits, here = tried.bowl.limits, self
        at = guess if self.low < guess < self.high else self.between(names, limits)
        beside = True
        for _ in range(most):
            found = None if here.is_near else tried.rubbing(corner, at)
            if found is None:
                break
            before, low = here, is_low(judge(found, limits))
            here = replace(here, low=at, less=found) if low else replace(here, high=at, more=found)
            next_to = at * NEAR if low else at / NEAR
            halved = here.high / here.low < math.sqrt(before.high / before.low)
            if beside and here.low < next_to < here.high:
                at = next_to
            else:
                at = here.between(names, limits) if halved else here.middle
            beside = False
        return here


def _crossing(
    name: str,
    values: tuple[float, float],
    ends: tuple[DecidingNumbers, DecidingNumbers],
    limits: Limits,
) -> float:
    """Where a number meets its limit on the curve of its kind between two values of an input."""
    low, high = (float(getattr(n, name)) for n in ends)
    limit = 1.0 if name == "press_asked" else float(getattr(limits, name, math.nan))
    if name in ("press_asked", "friction_used", "split_chance"):
        # Powers of the input: straight in logarithms, that of a chance being of -log(1 - chance).
        def straight(v: float) -> float:
            v = -math.log1p(-min(v, 1 - 1e-12)) if name == "split_chance" else v
            return math.log(v) if v > 0 else -math.inf

        if values[0] <= 0:
            return math.nan
        a, b, c = straight(low), straight(high), straight(limit)
        x0, x1 = math.log(values[0]), math.log(values[1])
    else:
        a, b, c, x0, x1 = low, high, limit, *values
    if not all(map(math.isfinite, (a, b, c))) or a == b or not min(a, b) <= c <= max(a, b):
        return math.nan
    x = x0 + (c - a) / (b - a) * (x1 - x0)
    return math.exp(x) if name in ("press_asked", "friction_used", "split_chance") else x
