"""Advice solved for: how dry to saw for one place, how long to let things rest, what a finish helps.

A base cups as it leaves the moisture it was sawn at, and the bowl rocks on it. The moisture to saw at is
the one with the least rocking in the worst week of the settled year; on a move the base is never farther
off.
What moisture does to the strip besides is small against that, and stands week by week in the answer.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from fitsim.arrays import Array
from fitsim.bowl.inputs import Bowl
from fitsim.climate.diffusion import base_lag, diffusion_of, film_mm_per_h
from fitsim.climate.moisture_lag import Lag, follow_percent, step_share
from fitsim.seasons.moisture_year import (
    DAY_H,
    WEEK_H,
    MoistureYear,
    bowl_lags,
    last_share,
    of_rim,
    rock_mm,
    span_means,
)
from fitsim.wood.finishes import FINISHES

__all__ = [
    "NEAR_POINTS",
    "Advice",
    "SawAt",
    "Swing",
    "WaitAfterMove",
    "advise",
    "saw_at",
    "wait_after_move",
]

NEAR_POINTS = 0.5
"""Rested: every part within this many points of where it settles (our choice)."""

NEARLY = 0.1
"""Moistures to saw at whose worst rocking is within this share of the least."""

LONGEST_DAYS = 1000.0
ENDS = ("high", "value", "low")
"""Quick, likely and slow end of what is known of diffusion."""


@dataclass(frozen=True)
class SawAt:
    """How dry the board should be when it is sawn.

    Attributes
    ----------
    moisture_percent : float
        With the least rocking in the worst week. [percent]
    low_percent, high_percent : float
        Between these it is at most a tenth greater. [percent]
    worst_mm : float
        Rocking in the worst week there. [mm]
    worst_as_is_mm : float
        The same at the moisture of the bowl file. [mm]
    """

    moisture_percent: float
    low_percent: float
    high_percent: float
    worst_mm: float
    worst_as_is_mm: float


@dataclass(frozen=True)
class WaitAfterMove:
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
        One of :data:`fitsim.wood.finishes.FINISHES`, or "slow end" or "quick end".
    rim_swing_points, base_swing_points : float
        Greatest less least weekly moisture. [percent]
    apart_points : float
        Farthest that a turn and its inner neighbour are apart, weekly means. [percent]
    rock_mm : float
        Worst rocking. [mm]
    """

    name: str
    rim_swing_points: float
    base_swing_points: float
    apart_points: float
    rock_mm: float


@dataclass(frozen=True)
class Advice:
    """All of it.

    Attributes
    ----------
    saw_at : SawAt
        How dry to saw.
    rest : WaitAfterMove
        How long to wait.
    finishes : tuple[Swing, ...]
        Each finish, in the order of :data:`fitsim.wood.finishes.FINISHES`.
    ends : tuple[Swing, ...]
        The bowl as it is, at the slow and at the quick end of what is known of diffusion.
    """

    saw_at: SawAt
    rest: WaitAfterMove
    finishes: tuple[Swing, ...]
    ends: tuple[Swing, ...]


def advise(bowl: Bowl, air_percent: Array, year: MoistureYear, *, kept: str, pith_mm: float) -> Advice:
    """Work out all advice for one bowl in one place.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    air_percent : numpy.ndarray
        Moisture that wood settles at, hour by hour, shape (hours,). [percent]
    year : MoistureYear
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
    return Advice(
        saw_at=saw_at(bowl, year, pith_mm=pith_mm),
        rest=wait_after_move(bowl, air_percent, year, kept=kept),
        finishes=_finishes(bowl, air_percent, kept=kept, pith_mm=pith_mm),
        ends=_ends(bowl, air_percent, kept=kept, pith_mm=pith_mm),
    )


def saw_at(bowl: Bowl, year: MoistureYear, *, pith_mm: float) -> SawAt:
    """Moisture to dry the board to before it is sawn: the least rocking in the worst week.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : MoistureYear
        Its settled year in the place.
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    SawAt
        The moisture at which the driest and the dampest week rock alike, and how far from it one may go.
    """
    driest, dampest = float(year.base_percent.min()), float(year.base_percent.max())

    def rocks(moisture: float, base: float) -> float:
        # Only how far the base has gone from where it was sawn counts.
        return rock_mm(bowl, bowl.board.moisture_percent + base - moisture, pith_mm)

    def worst(moisture: float) -> float:
        return max(rocks(moisture, driest), rocks(moisture, dampest))

    def damp_less_dry(moisture: float) -> float:
        return rocks(moisture, dampest) - rocks(moisture, driest)

    best = driest
    if damp_less_dry(driest) > 0 > damp_less_dry(dampest):
        best = float(brentq(damp_less_dry, driest, dampest, xtol=1e-3))
    enough, reach = (1 + NEARLY) * worst(best), dampest - driest + NEAR_POINTS
    return SawAt(
        moisture_percent=best,
        low_percent=_end(worst, best, best - reach, enough),
        high_percent=_end(worst, best, best + reach, enough),
        worst_mm=worst(best),
        worst_as_is_mm=worst(bowl.board.moisture_percent),
    )


def _end(worst: Callable[[float], float], good: float, far: float, enough: float) -> float:
    """How far from a good moisture towards a far one the worst week rocks little enough."""
    if worst(far) <= enough:
        return far
    return float(brentq(lambda moisture: worst(moisture) - enough, good, far, xtol=1e-3))


def wait_after_move(bowl: Bowl, air_percent: Array, year: MoistureYear, *, kept: str) -> WaitAfterMove:
    """How long board and bowl take to settle after a move to the place in its worst week.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    air_percent : numpy.ndarray
        Moisture that wood settles at, hour by hour, shape (hours,). [percent]
    year : MoistureYear
        Its year in the place.
    kept : str
        "open" or "flat".

    Returns
    -------
    WaitAfterMove
        Times for the quick, likely and slow end of diffusion.
    """
    sawn, rim = bowl.board.moisture_percent, year.rim_percent
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
    return WaitAfterMove(step, (boards[0], boards[1], boards[2]), (bowls[0], bowls[1], bowls[2]))


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
    base = weekly[:, 0]
    ends = (float(base.min()), float(base.max()))
    return Swing(
        name="",
        rim_swing_points=float(np.ptp(of_rim(weekly, last_share(bowl)))),
        base_swing_points=float(np.ptp(base)),
        apart_points=float(np.abs(np.diff(weekly, axis=1)).max()),
        rock_mm=max(rock_mm(bowl, moisture, pith_mm) for moisture in ends),
    )
