"""The verdict at the ends of everything known only as a range.

Every corner of the ranges is worked out, not only one range after another: the chance of splitting does
not move one way with every input (softer rolling shear eases one place of the strip and loads another), so
trying inputs singly can miss the worst corner.
"""

from collections.abc import Callable
from dataclasses import fields
from functools import partial
from itertools import product

from fitsim.bowl import Bowl, Uncertain, with_input
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.verdict import STATES, DecidingNumbers, Dependence, Verdict, happens, judge, margins

__all__ = ["MOST_RANGES", "corners", "verdict_at_likely_corners", "verdict_over_ranges"]

MOST_RANGES = 10
"""Ranges at once; 2^10 corners are about as many as one waits for."""

_NAMES = tuple(field.name for field in fields(DecidingNumbers))
_BETTER = dict(zip(_NAMES, (1.0, 1.0, -1.0, -1.0), strict=True))  # +1: more is better


_Corner = tuple[bool, ...]


class _Corners:
    """Bowls at corners; corners that begin alike share their beginning, which saves most of the work."""

    def __init__(self, bowl: Bowl) -> None:
        self.uncertain = bowl.uncertain
        self.known: dict[_Corner, Bowl] = {(): bowl}

    def at(self, corner: _Corner) -> Bowl:
        """The bowl at a corner, or at the beginning of one."""
        if corner not in self.known:
            u = self.uncertain[len(corner) - 1]
            self.known[corner] = with_input(self.at(corner[:-1]), u.path, u.high if corner[-1] else u.low)
        return self.known[corner]


class _Tried:
    """Deciding numbers by corner, worked out when first asked for.

    A corner says for each range whether its high end was taken.
    """

    def __init__(
        self, bowl: Bowl, middle: DecidingNumbers, numbers: Callable[[Bowl], DecidingNumbers]
    ) -> None:
        self.bowl, self.middle, self.numbers = bowl, middle, numbers
        self.corners = _Corners(bowl)
        self.by_corner: dict[_Corner, DecidingNumbers] = {}
        self.missing: set[_Corner] = set()
        self.guess: dict[_Corner, DecidingNumbers] = {}
        self.dear: Callable[[_Corner], bool] = lambda corner: False

    def at(self, corner: _Corner) -> DecidingNumbers:
        """Numbers at a corner."""
        if corner not in self.by_corner:
            self.by_corner[corner] = self.numbers(self.corners.at(corner))
        return self.by_corner[corner]

    def look_at(self, corner: _Corner) -> DecidingNumbers | None:
        """Numbers at a corner, or None where they cost too much or, with a mark, find no balance."""
        if corner in self.missing or (corner not in self.by_corner and self.dear(corner)):
            return None
        try:
            return self.at(corner)
        except NoConvergenceError:
            self.missing.add(corner)
            return None

    def extreme(self, *, worst: bool) -> DecidingNumbers:
        """Each number at its own worst (or best) corner, or in the middle if that is beyond."""
        every = [*self.by_corner.values(), self.middle]
        ends = {}
        for name in _NAMES:
            ordered = sorted((float(getattr(n, name)) for n in every), key=lambda v: v * _BETTER[name])
            ends[name] = ordered[0] if worst else ordered[-1]
        return DecidingNumbers(**ends)

    def verdict(self) -> Verdict:
        """What the corners tried so far come to."""
        bowl, tried = self.bowl, (*self.by_corner.values(), self.middle)
        judged = sorted((judge(n, bowl.limits) for n in tried), key=STATES.index)
        state, at_best = judged[0], judged[-1]
        worst, best = self.extreme(worst=True), self.extreme(worst=False)
        return Verdict(
            state=state,
            state_at_best=at_best,
            state_in_middle=judge(self.middle, bowl.limits),
            margins=margins(self.middle, worst, best, bowl.limits),
            depends_on=_dependence(bowl, self, state) if state != at_best else (),
            worst_split_at=_worst_split_at(bowl, self),
            ends_missing=len(self.missing),
        )


def _all_corners(bowl: Bowl) -> list[_Corner]:
    if len(bowl.uncertain) > MOST_RANGES:
        message = f"{len(bowl.uncertain)} inputs are ranges; give single values for all but {MOST_RANGES}"
        raise OutsideModelError(message)
    return list(product((False, True), repeat=len(bowl.uncertain)))


def verdict_over_ranges(
    bowl: Bowl, middle: DecidingNumbers, numbers: Callable[[Bowl], DecidingNumbers]
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

    Returns
    -------
    Verdict
        State, margins and dependence.

    Raises
    ------
    OutsideModelError
        If there are more than :data:`MOST_RANGES` ranges.
    """
    tried = _Tried(bowl, middle, numbers)
    for corner in _all_corners(bowl):
        tried.at(corner)
    return tried.verdict()


def verdict_at_likely_corners(
    bowl: Bowl,
    middle: DecidingNumbers,
    *,
    cheap: Callable[[Bowl], DecidingNumbers],
    dear: Callable[[Bowl], DecidingNumbers],
    dear_after: tuple[str, ...] = (),
) -> Verdict:
    """Judge a bowl with a model too dear for every corner of its ranges.

    A cheap model picks, for each deciding number, the corner where it is worst and the one where it is
    best; where several are alike the one that is worse (better) for the other numbers. The dear model is
    worked out there, with every input that costs it nothing at both of its ends.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.
    middle : DecidingNumbers
        Its deciding numbers by the dear model.
    cheap, dear : callable
        Deciding numbers of a bowl with every input at one value.
    dear_after : tuple of str
        Paths of inputs that cost the dear model nothing once the others are set.

    Returns
    -------
    Verdict
        State, margins and dependence by the dear model.

    Raises
    ------
    OutsideModelError
        If there are more than :data:`MOST_RANGES` ranges.
    """
    every = _all_corners(bowl)
    bowls = _Corners(bowl)
    guess = {corner: cheap(bowls.at(corner)) for corner in every}
    costly = [i for i, u in enumerate(bowl.uncertain) if u.path not in dear_after]

    def badness(corner: _Corner, first: str) -> tuple[float, ...]:
        # Hold before splitting before overlap: the order in which ties are broken.
        order = [first, "hold_used", "split_chance", "overlap", "slot_left_mm"]
        return tuple(round(-_BETTER[n] * float(getattr(guess[corner], n)), 12) for n in order)

    ends = set()
    for name in _NAMES[1:]:  # the slot left when flat goes with the overlap, and costs nothing
        ranked = sorted(every, key=partial(badness, first=name))
        ends |= {tuple(corner[i] for i in costly) for corner in (ranked[0], ranked[-1])}
    tried = _Tried(bowl, middle, dear)
    for corner in every:
        if tuple(corner[i] for i in costly) in ends:
            tried.look_at(corner)
    # What the state depends on is told from these corners: no further press for it.
    tried.guess = guess
    tried.dear = lambda corner: tuple(corner[i] for i in costly) not in ends
    return tried.verdict()


def _worst_split_at(bowl: Bowl, tried: _Tried) -> tuple[tuple[str, float], ...]:
    corner = max(tried.by_corner, key=lambda c: tried.by_corner[c].split_chance)
    if tried.by_corner[corner].split_chance <= tried.middle.split_chance:
        return ()
    return tuple(
        (u.path, u.high if high else u.low) for u, high in zip(bowl.uncertain, corner, strict=True)
    )


def corners(bowl: Bowl) -> tuple[Bowl, ...]:
    """Every bowl at the ends of its ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl with every range at its middle.

    Returns
    -------
    tuple[Bowl, ...]
        2^k bowls for k ranges.
    """
    bowls = _Corners(bowl)
    return tuple(bowls.at(corner) for corner in product((False, True), repeat=len(bowl.uncertain)))


def _dependence(bowl: Bowl, tried: _Tried, state: str) -> tuple[Dependence, ...]:
    """Inputs that decide a state, judged from the corner where it is worst.

    An input that undoes the state by itself is listed alone; if none does, every input that moves the
    deciding number is listed, because only several together undo it.
    """
    name = _NAMES[STATES.index(state)]

    def badness(corner: _Corner) -> float:
        return -_BETTER[name] * float(getattr(tried.at(corner), name))

    happening = [c for c, n in tried.by_corner.items() if happens(state, n, bowl.limits)]
    corner = max(happening or tried.by_corner, key=badness)

    def judged(i: int, u: Uncertain) -> Dependence:
        ends = [tried.look_at((*corner[:i], end, *corner[i + 1 :])) for end in (False, True)]
        low, high = (state if n is None else judge(n, bowl.limits) for n in ends)
        return Dependence(u.name, u.unit, u.low, u.high, low, high)

    def moves(i: int) -> bool:
        other = tried.look_at((*corner[:i], not corner[i], *corner[i + 1 :]))
        return other is not None and getattr(other, name) != getattr(tried.at(corner), name)

    every = [(i, judged(i, u)) for i, u in enumerate(bowl.uncertain)]
    alone = tuple(d for _, d in every if d.state_at_low != d.state_at_high)
    together = alone or tuple(d for i, d in every if moves(i))
    return together or tuple(d for i, d in every if i in _guessed(bowl, tried, corner, name))


def _guessed(bowl: Bowl, tried: _Tried, corner: _Corner, name: str) -> set[int]:
    """Inputs of which the cheap model says that they move a number, where the dear one was not asked.

    Of these only the ones in which the corner differs from one in the best state, if there is such.
    """
    guess = tried.guess

    def flipped(i: int) -> _Corner:
        return (*corner[:i], not corner[i], *corner[i + 1 :])

    moving = {i for i in range(len(corner)) if guess and _far(guess, corner, flipped(i), name)}
    best = max(tried.by_corner, key=lambda c: STATES.index(judge(tried.by_corner[c], bowl.limits)))
    apart = {i for i in range(len(corner)) if corner[i] != best[i]}
    return (moving & apart) or moving or apart or set(range(len(corner)))


def _far(guess: dict[_Corner, DecidingNumbers], one: _Corner, other: _Corner, name: str) -> bool:
    a, b = (float(getattr(guess[c], name)) for c in (one, other))
    return a != b and abs(a - b) > 0.02 * max(abs(a), abs(b))
