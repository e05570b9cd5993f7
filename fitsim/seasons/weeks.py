"""A bowl pressed open in every week of a year, on the elastic strip, at the press it is judged at.

Through a year base and turns follow the same air, each with its lag, so that their moistures lie on a curve
that two numbers describe to a few hundredths of a point: how damp the bowl is, and how far the base is
behind its turns. Where a bowl is pressed open without trouble, rise, level, press needed and chance of
splitting are smooth in these two. So the strip is pressed in :data:`NODES` weeks, spread as far apart as
the year allows, and the other weeks lie on the surface of second degree through them, fitted by least
squares: one model, and one number for each week. The press needed is found to some percent only
(:data:`fitsim.strip.release.WITHIN`); what a press a little too hard or too gentle does to the other
numbers is fitted with the rest and taken out. How far each pressed week lies from the surface through all
the others is told with the answer.

Every week is pressed by itself where that is not smooth: where in some of these weeks the bowl does not
keep its rise, does not open, falls through or asks for more press than there is, or where a week's rise
lies further than :data:`RISE_WITHIN` from the surface of the others. Only where all of them are alike in
not staying open are the other weeks taken to be like the nearest of them.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.strip_layout import laid_out_as
from fitsim.bowl.verdict import NOT_DECIDED, DecidingNumbers, judge
from fitsim.errors import NoConvergenceError
from fitsim.processes import at_once
from fitsim.seasons.moisture_year import at_moistures
from fitsim.strip.results import rim_height
from fitsim.strip.stress import split_range
from fitsim.wood.strength import grain_strength

__all__ = [
    "NODES",
    "RISE_WITHIN",
    "WeekFit",
    "WeeklyFits",
    "fit_week",
    "week_of_opening",
    "weekly_fits",
    "weeks_to_press",
]

NODES = 15
"""Weeks pressed by themselves where a year has more."""

LEAST_NODES = 11
"""So many of them must have an answer: the surface has six coefficients, and one for the press."""

RISE_WITHIN = 0.01
"""How far a week's rise may lie from the surface through the others, over the rise. [-]"""

FLAT_PERCENT = 0.01
"""A coordinate that moves by less through the year has no say. [percent]"""


@dataclass(frozen=True)
class WeekFit:
    """A bowl pressed open at the moistures of one week, and let go.

    Attributes
    ----------
    state : str
        One of the five states, or "not decided" where the strip could not be followed.
    numbers : DecidingNumbers
        What the state rests on.
    rise_mm : float
        Mean rise of the rim after letting go; nan where it does not stay open. [mm]
    rim_out_of_level_mm : float
        Greatest less least height of the rim then; nan where it does not stay open. [mm]
    needed_N, press_N : float
        Least press that makes it hold, and the press it is judged at; nan where nothing was pressed. [N]
    chance_low, chance_high : float
        Chance of splitting over what is not known of the wood. [-]
    asking_friction : float
        Friction whose need is the press; nan where none makes it hold, or nothing was pressed. [-]
    """

    state: str
    numbers: DecidingNumbers
    rise_mm: float
    rim_out_of_level_mm: float
    needed_N: float
    press_N: float
    chance_low: float
    chance_high: float
    asking_friction: float = math.nan

    @property
    def stays_open(self) -> bool:
        """Whether there is a rise after letting go."""
        return math.isfinite(self.rise_mm)


@dataclass(frozen=True, eq=False)
class WeeklyFits:
    """A year week by week.

    Attributes
    ----------
    weeks : tuple of WeekFit
        In order of the year.
    pressed : tuple of int
        Weeks pressed by themselves, counted from 0.
    rise_within, chance_within : float
        How far at most a pressed week lies from the surface through the others: rise over rise, and chance
        over chance; 0 where every week was pressed. [-]
    """

    weeks: tuple[WeekFit, ...]
    pressed: tuple[int, ...]
    rise_within: float
    chance_within: float

    def each(self, number: str) -> Array:
        """One number of every week, an attribute of :class:`WeekFit` or of its numbers, shape (weeks,)."""
        return np.array(
            [getattr(w, number) if hasattr(w, number) else getattr(w.numbers, number) for w in self.weeks]
        )


def fit_week(bowl: Bowl) -> WeekFit:
    """Press a bowl open at the moistures it has.

    Parameters
    ----------
    bowl : Bowl
        The bowl; where its friction is known as a range, the press is asked at its worst end as in ``fit``.

    Returns
    -------
    WeekFit
        State and numbers.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    seats = rigid_fit(bowl).numbers
    if seats.slot_left_mm <= bowl.limits.slot_left_mm:
        return _unpressed(judge(seats, bowl.limits), seats)
    try:
        opening = open_bowl(bowl, lowering=bowl.limits.friction_used < 1)
    except NoConvergenceError:
        return _unpressed(NOT_DECIDED, seats)
    return week_of_opening(bowl, opening)


def week_of_opening(bowl: Bowl, opening: Opening) -> WeekFit:
    """The same of an opening that is there already.

    Parameters
    ----------
    bowl, opening : Bowl, Opening
        The bowl and its opening.

    Returns
    -------
    WeekFit
        State and numbers.
    """
    rise = level = math.nan
    released = opening.released
    if released is not None and released.rise_left_mm > 0:
        rim = rim_height(opening.elastic, released.rest)
        rise, level = rim.mean_mm, rim.out_of_level_mm
    _, wood = laid_out_as(bowl, rigid_fit(bowl), opening.elastic)
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    reach = split_range(opening.elastic, opening.pressed, wood, strength, bowl.board.wood)
    numbers = opening.numbers
    return WeekFit(
        state=judge(numbers, bowl.limits),
        numbers=numbers,
        rise_mm=rise,
        rim_out_of_level_mm=level,
        needed_N=opening.judged.needed_N,
        press_N=opening.judged.press_N,
        chance_low=min(reach.low, numbers.split_chance),
        chance_high=max(reach.high, numbers.split_chance),
        asking_friction=opening.judged.friction,
    )


def _unpressed(state: str, seats: DecidingNumbers) -> WeekFit:
    nothing = math.nan
    return WeekFit(
        state, replace(seats, split_chance=nothing), nothing, nothing, nothing, nothing, nothing, nothing
    )


def weeks_to_press(moisture_percent: Array) -> IntArray:
    """Weeks to be pressed by themselves, the most central first.

    Parameters
    ----------
    moisture_percent : numpy.ndarray
        Of the base, then of every turn, innermost first, shape (weeks, 1 + turns). [percent]

    Returns
    -------
    numpy.ndarray
        One of each kind where there are few kinds of week; else :data:`NODES` of them, far apart.
    """
    first = np.unique(moisture_percent.round(9), axis=0, return_index=True)[1]
    if len(first) <= NODES:
        return np.asarray(np.sort(first))
    return _far_apart(_coordinates(moisture_percent), NODES)


def weekly_fits(
    bowl: Bowl,
    moisture_percent: Array,
    pressed: IntArray,
    found: Sequence[WeekFit],
    *,
    progress: Callable[[int, int], None] | None = None,
) -> WeeklyFits:
    """Every week of a year from those that were pressed; presses the others where they have to be.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    moisture_percent : numpy.ndarray
        Of the base, then of every turn, innermost first, shape (weeks, 1 + turns). [percent]
    pressed : numpy.ndarray
        Weeks that were pressed, from :func:`weeks_to_press`.
    found : sequence of WeekFit
        What came of it, in their order.
    progress : callable, optional
        Called with how many further presses are done, and of how many.

    Returns
    -------
    WeeklyFits
        The year.

    Raises
    ------
    OutsideModelError
        As :func:`fit_week`.
    """
    kinds, which = np.unique(moisture_percent.round(9), axis=0, return_inverse=True)
    which = which.reshape(-1)
    of_kind = {int(which[week]): fit for week, fit in zip(pressed, found, strict=True)}
    if len(of_kind) < len(kinds):
        fitted = _surface(bowl, moisture_percent, pressed, found)
        if fitted is not None:
            return fitted
        others = [int(np.flatnonzero(which == k)[0]) for k in range(len(kinds)) if k not in of_kind]
        calls = [partial(fit_week, at_moistures(bowl, moisture_percent[w])) for w in others]
        more = at_once(calls, progress=progress)
        of_kind |= {int(which[week]): fit for week, fit in zip(others, more, strict=True)}
    alone = sorted({int(np.flatnonzero(which == k)[0]) for k in of_kind})
    return WeeklyFits(tuple(of_kind[int(k)] for k in which), tuple(alone), 0.0, 0.0)


def _coordinates(moisture_percent: Array) -> Array:
    """One or two numbers for every week that its moistures hang on, each from -1 to 1, (weeks, 1 or 2)."""
    away = moisture_percent - moisture_percent.mean(axis=0)
    along = np.linalg.svd(away, full_matrices=False)[2][:2]
    at = away @ along.T
    moves = np.ptp(at, axis=0) > FLAT_PERCENT
    moves[0] = True
    at = at[:, moves]
    low, high = at.min(axis=0), at.max(axis=0)
    return np.asarray((2 * at - low - high) / np.maximum(high - low, 1e-12))


def _far_apart(at: Array, count: int) -> IntArray:
    """So many of the places, each as far as can be from those before it; the first the most central."""
    chosen = [int(np.argmin((at**2).sum(axis=1)))]
    nearest = ((at - at[chosen[0]]) ** 2).sum(axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, ((at - at[chosen[-1]]) ** 2).sum(axis=1))
    return np.array(chosen)


def _terms(at: Array) -> Array:
    """1, x, y, x^2, x y, y^2, shape (places, 3 or 6)."""
    count = at.shape[1]
    squares = [at[:, i] * at[:, j] for i in range(count) for j in range(i, count)]
    return np.stack([np.ones(len(at)), *at.T, *squares], axis=1)


@dataclass(frozen=True, eq=False)
class _Fitted:
    """One number in every week, and how far each node lies from what the others say of it."""

    weeks: Array
    missed: Array


def _least_squares(every: Array, nodes: Array, values: Array) -> _Fitted:
    """Through the nodes, in the terms (nodes, k); at every week by the terms (weeks, k)."""
    inverse = np.linalg.pinv(nodes)
    leverage = np.einsum("ij,ji->i", nodes, inverse)
    left = values - nodes @ (inverse @ values)
    return _Fitted(every @ (inverse @ values), left / np.maximum(1 - leverage, 1e-6))


def _nearest(bowl: Bowl, moisture_percent: Array, nodes: IntArray, found: Sequence[WeekFit]) -> WeeklyFits:
    """Every week as the node nearest to it, but for its slot."""
    at = _coordinates(moisture_percent)
    weeks = []
    for week, row in enumerate(moisture_percent):
        like = found[int(np.argmin(((at[nodes] - at[week]) ** 2).sum(axis=1)))]
        slot = rigid_fit(at_moistures(bowl, row)).numbers.slot_left_mm
        weeks.append(replace(like, numbers=replace(like.numbers, slot_left_mm=slot)))
    return WeeklyFits(tuple(weeks), tuple(int(n) for n in nodes), 0.0, 0.0)


def _surface(
    bowl: Bowl, moisture_percent: Array, nodes: IntArray, found: Sequence[WeekFit]
) -> WeeklyFits | None:
    """Every week from the nodes; None where they are not all of one smooth kind."""
    decided = [i for i, week in enumerate(found) if week.state != NOT_DECIDED]
    good = [found[i] for i in decided]
    if len(good) < LEAST_NODES:
        return None
    if len({w.state for w in good}) == 1 and not any(w.stays_open for w in good):
        return _nearest(bowl, moisture_percent, nodes[decided], good)
    if not all(w.stays_open and math.isfinite(w.needed_N) for w in good):
        return None
    if len({(w.numbers.press_asked > 1, w.asking_friction) for w in good}) > 1:
        return None
    at = _coordinates(moisture_percent)
    every, here = _terms(at), _terms(at[nodes[decided]])
    asked = _least_squares(every, here, np.log([w.needed_N for w in good]))
    # What a press a little off the smooth one does to a number is one coefficient more.
    off = (
        np.log([w.needed_N for w in good])
        - _least_squares(here, here, np.log([w.needed_N for w in good])).weeks
    )
    every, here = np.column_stack([every, np.zeros(len(every))]), np.column_stack([here, off])

    def through(values: Sequence[float]) -> _Fitted:
        return _least_squares(every, here, np.array(values))

    logs = {
        name: through(np.log([max(getattr(w, name), 1e-12) for w in good]).tolist())
        for name in ("rise_mm", "rim_out_of_level_mm", "chance_low", "chance_high")
    }
    chance = through(np.log([max(w.numbers.split_chance, 1e-12) for w in good]).tolist())
    overlap, kept, used = (
        through([getattr(w.numbers, name) for w in good]).weeks
        for name in ("overlap", "kept", "friction_used")
    )
    if float(np.abs(logs["rise_mm"].missed).max()) > RISE_WITHIN:
        return None
    weeks = []
    for week, row in enumerate(moisture_percent):
        needed = float(np.exp(asked.weeks[week]))
        press = bowl.limits.press_spare * needed
        numbers = DecidingNumbers(
            slot_left_mm=rigid_fit(at_moistures(bowl, row)).numbers.slot_left_mm,
            overlap=float(overlap[week]),
            friction_used=float(min(max(used[week], 0.0), 1.0)),
            split_chance=float(min(np.exp(chance.weeks[week]), 1.0)),
            kept=float(min(kept[week], 1.0)),
            press_asked=press / bowl.use.press_N,
        )
        value = {name: float(np.exp(fitted.weeks[week])) for name, fitted in logs.items()}
        weeks.append(
            WeekFit(
                state=judge(numbers, bowl.limits),
                numbers=numbers,
                rise_mm=value["rise_mm"],
                rim_out_of_level_mm=value["rim_out_of_level_mm"],
                needed_N=needed,
                press_N=min(press, bowl.use.press_N),
                chance_low=min(value["chance_low"], numbers.split_chance),
                chance_high=min(max(value["chance_high"], numbers.split_chance), 1.0),
                asking_friction=good[0].asking_friction,
            )
        )
    return WeeklyFits(
        weeks=tuple(weeks),
        pressed=tuple(int(n) for n in nodes[decided]),
        rise_within=float(np.abs(np.expm1(logs["rise_mm"].missed)).max()),
        chance_within=float(np.abs(np.expm1(chance.missed)).max()),
    )
