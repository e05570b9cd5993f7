"""Advice solved for: how dry to saw for one place, how long to let things rest, what a finish helps.

The worst case of a board sawn at moisture m is the greatest sum of rocking and play, in mm at the rim,
over the settled year of the place and over a move: sawn and opened at once in the driest or the dampest
week, at the moment when first turn and base are farthest apart. Rocking grows on either side of the
moisture at which the base was sawn, so there is a least worst case.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.diffusion import base_lag, diffusion_of, film_mm_per_h
from fitsim.finish import FINISHES
from fitsim.lag import Lag, follow_percent, step_share
from fitsim.rigid import rigid_fit
from fitsim.yearfit import (
    DAY_H,
    WEEK_H,
    YearFit,
    at_moistures,
    bowl_lags,
    play_mm,
    rock_mm,
    span_means,
    week_moistures,
)

__all__ = ["NEAR_POINTS", "Advice", "Rest", "SawAt", "Swing", "advise", "rest_days", "saw_at"]

NEAR_POINTS = 0.5
"""Rested: every part within this many points of where it settles (our choice)."""

NEARLY = 0.1
"""Moistures to saw at whose worst case is within this share of the least."""

SOUGHT_PERCENT, SOUGHT_STEPS = (4.0, 16.0), 12
TOLERANCE_POINTS = 0.02
LONGEST_DAYS = 1000.0
ENDS = ("high", "value", "low")
"""Quick, likely and slow end of what is known of diffusion."""


@dataclass(frozen=True)
class SawAt:
    """How dry the board should be when it is sawn.

    Attributes
    ----------
    moisture_percent : float
        With the least worst case. [percent]
    low_percent, high_percent : float
        Between these the worst case is at most a tenth greater. [percent]
    worst_mm : float
        The worst case there: rocking and play at the rim, mostly of a bowl just moved. [mm]
    worst_as_is_mm : float
        The worst case at the moisture of the bowl file. [mm]
    """

    moisture_percent: float
    low_percent: float
    high_percent: float
    worst_mm: float
    worst_as_is_mm: float


@dataclass(frozen=True)
class Rest:
    """How long to wait after a move before everything has settled to half a point.

    Attributes
    ----------
    step_points : float
        The move: from the moisture sawn at to the room in its worst week. [percent]
    board_days : tuple[float, float, float]
        The board before it is sawn: quick, likely and slow end. [days]
    bowl_days : tuple[float, float, float]
        The bowl, as it is stored. [days]
    """

    step_points: float
    board_days: tuple[float, float, float]
    bowl_days: tuple[float, float, float]


@dataclass(frozen=True)
class Swing:
    """How moisture swings through the year with one finish, or at one end of what is known of diffusion.

    A finish's film in the slot is not counted.

    Attributes
    ----------
    name : str
        One of :data:`fitsim.finish.FINISHES`, or "slow end" or "quick end".
    rim_swing_points, base_swing_points : float
        Greatest less least weekly moisture. [percent]
    apart_points : float
        Farthest that a turn and its inner neighbour are apart, weekly means. [percent]
    rock_mm : float
        Worst rocking. [mm]
    play_mm : float
        Play, at most, in the week when all of them together are farthest apart. [mm]
    """

    name: str
    rim_swing_points: float
    base_swing_points: float
    apart_points: float
    rock_mm: float
    play_mm: float


@dataclass(frozen=True)
class Advice:
    """All of it.

    Attributes
    ----------
    saw_at : SawAt
        How dry to saw.
    rest : Rest
        How long to wait.
    finishes : tuple[Swing, ...]
        Each finish, in the order of :data:`fitsim.finish.FINISHES`.
    ends : tuple[Swing, ...]
        The bowl as it is, at the slow and at the quick end of what is known of diffusion.
    """

    saw_at: SawAt
    rest: Rest
    finishes: tuple[Swing, ...]
    ends: tuple[Swing, ...]


def advise(bowl: Bowl, air_percent: Array, year: YearFit, *, kept: str, pith_mm: float) -> Advice:
    """Work out all advice for one bowl in one place, closed form.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    air_percent : numpy.ndarray
        Moisture that wood settles at, hour by hour, shape (hours,). [percent]
    year : YearFit
        The bowl's year in it.
    kept : str
        "open" or "flat".
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    Advice
        The advice.
    """
    lags = bowl_lags(bowl, moisture_percent=float(np.mean(air_percent)), kept=kept)
    return Advice(
        saw_at=saw_at(bowl, year, lags, pith_mm=pith_mm),
        rest=rest_days(bowl, air_percent, year, kept=kept),
        finishes=_finishes(bowl, air_percent, kept=kept, pith_mm=pith_mm),
        ends=_ends(bowl, air_percent, kept=kept, pith_mm=pith_mm),
    )


def saw_at(bowl: Bowl, year: YearFit, lags: tuple[Lag, ...], *, pith_mm: float) -> SawAt:
    """Moisture to dry the board to before it is sawn: the least worst case.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its settled year in the place.
    lags : tuple[Lag, ...]
        Lags of base and turns.
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    SawAt
        By golden section to :data:`TOLERANCE_POINTS`, and the ends by halving.
    """
    worst = _worst_case(bowl, year, _farthest_apart(lags), pith_mm)
    low, high = SOUGHT_PERCENT
    golden = (np.sqrt(5) - 1) / 2
    inner = [high - golden * (high - low), low + golden * (high - low)]
    seen = [worst(m) for m in inner]
    while high - low > TOLERANCE_POINTS:
        if seen[0] < seen[1]:
            high, inner = inner[1], [inner[1] - golden * (inner[1] - low), inner[0]]
            seen = [worst(inner[0]), seen[0]]
        else:
            low, inner = inner[0], [inner[1], inner[0] + golden * (high - inner[0])]
            seen = [seen[1], worst(inner[1])]
    best = float(low + high) / 2
    least = worst(best)
    enough = (1 + NEARLY) * least
    return SawAt(
        moisture_percent=best,
        low_percent=_end(worst, best, SOUGHT_PERCENT[0], enough),
        high_percent=_end(worst, best, SOUGHT_PERCENT[1], enough),
        worst_mm=least,
        worst_as_is_mm=worst(bowl.board.moisture_percent),
    )


def _end(worst: Callable[[float], float], good: float, far: float, enough: float) -> float:
    """How far from a good moisture towards a far one the worst case stays small enough."""
    if worst(far) <= enough:
        return far
    while abs(far - good) > TOLERANCE_POINTS:
        middle = (good + far) / 2
        good, far = (middle, far) if worst(middle) <= enough else (good, middle)
    return good


def _farthest_apart(lags: tuple[Lag, ...]) -> Array:
    """What is left of a step in every part when base and first turn are farthest apart, (1 + turns,)."""
    hours = np.geomspace(1.0, 2000.0, 60)
    left = np.array([1 - step_share(lag, hours) for lag in lags])
    return np.asarray(left[:, int(np.argmax(np.abs(left[0] - left[1])))])


def _worst_case(bowl: Bowl, year: YearFit, left: Array, pith_mm: float) -> Callable[[float], float]:
    """The worst case for any moisture to saw at.

    Rocking is all but in proportion to the base's change, and play to how far neighbours are apart, so
    straight lines from point to point serve, bent where the change is none.
    """
    base, rooms = year.base_moisture_percent, [week_moistures(year, w) for w in _worst_rooms(year)]
    reach = np.union1d(
        np.linspace(base.min() - SOUGHT_PERCENT[1], base.max() - SOUGHT_PERCENT[0], 64), [0.0]
    )
    fit, sawn = year.fits[0], bowl.board.moisture_percent
    rock = np.array([rock_mm(bowl, fit, float(sawn + change), pith_mm) for change in reach])
    grid = np.union1d(np.linspace(*SOUGHT_PERCENT, SOUGHT_STEPS + 1), [room[0] for room in rooms])
    moved = [[_moved_mm(bowl, room, left, float(m), pith_mm) for m in grid] for room in rooms]

    def worst(moisture: float) -> float:
        settled = year.play_mm + np.interp(base - moisture, reach, rock)
        return float(max(settled.max(), *(np.interp(moisture, grid, row) for row in moved)))

    return worst


def _worst_rooms(year: YearFit) -> tuple[int, int]:
    return year.driest_week, year.wettest_week


def _moved_mm(bowl: Bowl, room: Array, left: Array, moisture: float, pith_mm: float) -> float:
    """Sawn at some moisture and put at once into a room in which the parts settle as given."""
    sawn = replace(bowl, board=replace(bowl.board, moisture_percent=moisture))
    state = at_moistures(sawn, room + (moisture - room) * left)
    fit = rigid_fit(state)
    return play_mm(fit) + rock_mm(sawn, fit, state.use.base_moisture_percent, pith_mm)


def rest_days(bowl: Bowl, air_percent: Array, year: YearFit, *, kept: str) -> Rest:
    """How long board and bowl take to settle after a move to the place in its worst week.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    air_percent : numpy.ndarray
        Moisture that wood settles at, hour by hour, shape (hours,). [percent]
    year : YearFit
        Its year in the place.
    kept : str
        "open" or "flat".

    Returns
    -------
    Rest
        Times for the quick, likely and slow end of diffusion.
    """
    sawn, rim = bowl.board.moisture_percent, year.rim_moisture_percent
    step = max(abs(sawn - float(rim.min())), abs(sawn - float(rim.max())))
    middle = float(np.mean(air_percent))
    boards, bowls = [], []
    for end in ENDS:
        wood = diffusion_of(bowl.board.wood.group, moisture_percent=middle, end=end)
        blank = base_lag(
            wood, radius_mm=bowl.board.across_mm / 2, thickness_mm=bowl.board.thickness_mm, kept="open"
        )
        boards.append(_settled_days((blank,), step))
        bowls.append(_settled_days(bowl_lags(bowl, moisture_percent=middle, kept=kept, end=end), step))
    return Rest(step, (boards[0], boards[1], boards[2]), (bowls[0], bowls[1], bowls[2]))


def _settled_days(lags: tuple[Lag, ...], step_points: float) -> float:
    """Days until every part lies within :data:`NEAR_POINTS`, by halving; at most :data:`LONGEST_DAYS`."""

    def away(days: float) -> float:
        return max(step_points * (1 - float(step_share(lag, DAY_H * days))) for lag in lags)

    if away(0.0) <= NEAR_POINTS:
        return 0.0
    short, enough = 0.0, LONGEST_DAYS
    while enough - short > 0.01 * enough:
        middle = (short + enough) / 2
        short, enough = (short, middle) if away(middle) <= NEAR_POINTS else (middle, enough)
    return enough


def _finishes(bowl: Bowl, air_percent: Array, *, kept: str, pith_mm: float) -> tuple[Swing, ...]:
    middle = float(np.mean(air_percent))
    # Finishes that let everything through are the same as none.
    films = {name: film_mm_per_h(name) for name in FINISHES}
    first_with = {film: name for name, film in reversed(films.items())}
    distinct = [name for name, film in films.items() if first_with[film] == name]
    bowls = {n: replace(bowl, use=replace(bowl.use, finish=n)) for n in distinct}
    lags = {n: bowl_lags(bowls[n], moisture_percent=middle, kept=kept) for n in distinct}
    found = _swings(bowl, lags, air_percent, pith_mm)
    return tuple(replace(found[first_with[films[name]]], name=name) for name in FINISHES)


def _ends(bowl: Bowl, air_percent: Array, *, kept: str, pith_mm: float) -> tuple[Swing, ...]:
    middle = float(np.mean(air_percent))
    named = {"slow end": "low", "quick end": "high"}
    lags = {n: bowl_lags(bowl, moisture_percent=middle, kept=kept, end=e) for n, e in named.items()}
    return tuple(_swings(bowl, lags, air_percent, pith_mm).values())


def _swings(
    bowl: Bowl, lags: dict[str, tuple[Lag, ...]], air_percent: Array, pith_mm: float
) -> dict[str, Swing]:
    """All of them in one sweep over the hours."""
    hourly = follow_percent([lag for each in lags.values() for lag in each], air_percent)
    found, first = {}, 0
    for name, each in lags.items():
        weekly = span_means(hourly[first : first + len(each)], WEEK_H)[1]
        found[name] = replace(_swing(bowl, weekly, pith_mm), name=name)
        first += len(each)
    return found


def _swing(bowl: Bowl, weekly: Array, pith_mm: float) -> Swing:
    apart = np.abs(np.diff(weekly, axis=1))
    fit = rigid_fit(at_moistures(bowl, weekly[int(np.argmax(apart.sum(axis=1)))]))
    base = weekly[:, 0]
    ends = (float(base.min()), float(base.max()))
    return Swing(
        name="",
        rim_swing_points=float(np.ptp(weekly[:, -1])),
        base_swing_points=float(np.ptp(base)),
        apart_points=float(apart.max()),
        rock_mm=max(rock_mm(bowl, fit, moisture, pith_mm) for moisture in ends),
        play_mm=play_mm(fit),
    )
