"""A bowl through the seasons of one place: every week pressed open, left open, after a move; advice.

One model answers all of it, the elastic strip at the press that `fit` judges a bowl at (1.25 times the
least that makes it hold, no more than there is): pressed open anew in each week's moisture
(:mod:`fitsim.seasons.weeks`), followed as it stands (:mod:`fitsim.seasons.left_open`), and after a move or
a wash (:mod:`fitsim.seasons.after_move`). Rocking on a table is the cup of the base alone, which the strip
does not change.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.assumption import Assumption
from fitsim.bowl.inputs import Bowl, with_friction_known
from fitsim.climate.indoor_air import MONTHS
from fitsim.climate.place import Place
from fitsim.climate.weather import MONTH_DAYS
from fitsim.errors import InputError, Problem
from fitsim.processes import at_once
from fitsim.seasons.advice import Advice, advise
from fitsim.seasons.after_move import AfterMove, parts_after_move, parts_after_wash
from fitsim.seasons.creep import Standing, standing
from fitsim.seasons.left_open import LeftOpen, PullTight, left_open, pull_tight_events, stood_open
from fitsim.seasons.moisture_year import (
    DAY_H,
    PITH_MM,
    WEEK_H,
    MoistureYear,
    at_moistures,
    bowl_lags,
    least_pith_mm,
    moisture_year,
    rock_mm,
)
from fitsim.seasons.weeks import WeekFit, WeeklyFits, fit_week, weekly_fits, weeks_to_press

__all__ = ["LEFT_OPEN", "NUMBERS", "PITH_RANGE_MM", "Asked", "SeasonAnswer", "Worst", "seasons"]

LEFT_OPEN = "left open"
SINCE_DEFAULT = 6

NUMBERS = ("rise_mm", "rim_out_of_level_mm", "base_rock_mm", "split_chance")
"""The numbers followed through the year, in the order they are told; the least rise is the worst."""

PITH_RANGE_MM = (75.0, 300.0)
"""Distance of the pith where nobody measured it."""

NEAR_WORST = 0.1
"""A month belongs to the worst ones if some week in it comes within this share of the year's swing."""

STEADY = 0.05
"""A number that swings by less than this share of its greatest value has no worst months."""


@dataclass(frozen=True)
class Asked:
    """What is asked about a bowl.

    Attributes
    ----------
    stored : str
        "open" or "flat": how it lies between uses.
    opened : str
        "afresh" (laid flat and pressed open each time) or "left open".
    since_month : int or None
        Month in whose middle a bowl left open was opened, 1 for January; None: June.
    """

    stored: str = "open"
    opened: str = "afresh"
    since_month: int | None = None


@dataclass(frozen=True)
class Worst:
    """One of the numbers where it is worst.

    Attributes
    ----------
    number : str
        One of :data:`NUMBERS`.
    week : int
        Counted from 0.
    value : float
        The number then; nan where no week has one. [mm, or - for the chance]
    months : tuple[str, ...]
        Months in which it comes near that; none where it hardly moves.
    """

    number: str
    week: int
    value: float
    months: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class SeasonAnswer:
    """Everything about one bowl in one place.

    Attributes
    ----------
    bowl, place, asked
        What was asked about.
    pith_mm : float
        Distance of the pith used. [mm]
    year : MoistureYear
        Moisture and rocking, week by week.
    weekly : WeeklyFits
        Pressed open in every week.
    left_open : LeftOpen
        Opened once and left so.
    series : dict[str, numpy.ndarray]
        :data:`NUMBERS` week by week for the way of opening that was asked about, each (weeks,).
        [mm, or - for the chance]
    worst : tuple[Worst, ...]
        In the order of :data:`NUMBERS`.
    rock_range_mm : tuple[float, float]
        Worst rocking with the pith far and near; one and the same where its distance was given. [mm]
    chance_range : tuple[float, float]
        Worst chance of splitting over what is not known of the wood. [-]
    events : tuple[PullTight, ...]
        Spells in which a turn of the bowl left open is pulled tight.
    standing : Standing
        What months of standing open take away.
    after_move : AfterMove
        Hour by hour after coming from where it was sawn into the room of its worst week.
    after_wash : AfterMove
        Hour by hour after a wash, in the air of the year's mean.
    advice : Advice
        How dry to saw, how long to wait, what a finish helps.
    assumptions : tuple[Assumption, ...]
        What nobody said and only this answer uses.
    """

    bowl: Bowl
    place: Place
    asked: Asked
    pith_mm: float
    year: MoistureYear
    weekly: WeeklyFits
    left_open: LeftOpen
    series: dict[str, Array]
    worst: tuple[Worst, ...]
    rock_range_mm: tuple[float, float]
    chance_range: tuple[float, float]
    events: tuple[PullTight, ...]
    standing: Standing
    after_move: AfterMove
    after_wash: AfterMove
    advice: Advice
    assumptions: tuple[Assumption, ...]

    @property
    def states(self) -> tuple[str, ...]:
        """State of every week, if it is pressed open then."""
        return tuple(week.state for week in self.weekly.weeks)


def seasons(
    bowl: Bowl, place: Place, asked: Asked, *, progress: Callable[[int, int], None] | None = None
) -> SeasonAnswer:
    """Follow a bowl through a year in one place.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was cut at.
    place : Place
        Where it is kept.
    asked : Asked
        How it is stored and opened.
    progress : callable, optional
        Called with how many pieces of work are done, and of how many.

    Returns
    -------
    SeasonAnswer
        The whole answer.

    Raises
    ------
    InputError
        If the pith would lie within the base, or a bowl left open is to be stored flat.
    OutsideModelError
        If moisture leaves the formulas.
    """
    pith = PITH_MM if bowl.board.pith_mm is None else bowl.board.pith_mm
    _refuse(bowl, asked, pith)
    year = moisture_year(bowl, place.air_percent, kept=asked.stored, pith_mm=pith)
    # A bowl left open lies open, however others are kept between uses.
    open_year = year
    if asked.stored != "open":
        open_year = moisture_year(bowl, place.air_percent, kept="open", pith_mm=pith)
    middle = float(np.mean(place.air_percent))
    lags = bowl_lags(bowl, moisture_percent=middle, kept=asked.stored)
    open_lags = bowl_lags(bowl, moisture_percent=middle, kept="open")
    sawn, rim = bowl.board.moisture_percent, year.rim_percent
    room = float(rim[int(np.argmax(np.abs(rim - sawn)))])
    moved = parts_after_move(bowl, lags, from_percent=sawn, to_percent=room, pith_mm=pith)
    stays_open = moved  # one that has been left open is moved as it stands
    if asked.stored != "open":
        stays_open = parts_after_move(bowl, open_lags, from_percent=sawn, to_percent=room, pith_mm=pith)
    washed = parts_after_wash(bowl, open_lags, at_percent=middle, pith_mm=pith)
    weeks = weeks_to_press(year.moisture_percent)
    first = fit_week(at_moistures(bowl, year.moisture_percent[weeks[0]]))
    alike = _pressed_alike(bowl, [first])
    while True:
        bowls = [at_moistures(alike, year.moisture_percent[week]) for week in weeks[1:]]
        standing_ways: list[Callable[[], Any]] = [
            partial(left_open, alike, open_year, _opened_week(open_year, asked)),
            partial(stood_open, alike, stays_open.from_before_percent),
            partial(stood_open, alike, washed.from_before_percent),
        ]
        openings = [partial(fit_week, b) for b in (*moved.bowls(alike), *washed.bowls(alike), *bowls)]
        # The long ones first: the short ones fill the processors up to the end.
        answers: tuple[Any, ...] = at_once([*standing_ways, *openings], progress=progress)
        held, moved_open, washed_open = answers[:3]
        found: tuple[WeekFit, ...] = answers[3:]
        again = _pressed_alike(alike, [first, *found])
        if again == alike:
            break
        alike = again
        first = fit_week(at_moistures(alike, year.moisture_percent[weeks[0]]))
    after = len(moved.time_h) + len(washed.time_h)
    weekly = weekly_fits(alike, year.moisture_percent, weeks, (first, *found[after:]), progress=progress)
    series = _series(asked, year, weekly, held)
    worst = tuple(_worst(name, year, series[name]) for name in NUMBERS)
    return SeasonAnswer(
        bowl=bowl,
        place=place,
        asked=asked,
        pith_mm=pith,
        year=year,
        weekly=weekly,
        left_open=held,
        series=series,
        worst=worst,
        rock_range_mm=_rock_range_mm(bowl, year, worst[NUMBERS.index("base_rock_mm")].week, pith),
        chance_range=_chance_range(asked, weekly, held, worst[-1].week),
        events=pull_tight_events(bowl, open_year, held),
        standing=_standing(held),
        after_move=AfterMove(moved, found[: len(moved.time_h)], stays_open, moved_open),
        after_wash=AfterMove(washed, found[len(moved.time_h) : after], washed, washed_open),
        advice=advise(bowl, place.air_percent, year, kept=asked.stored, pith_mm=pith),
        assumptions=(*place.assumptions, *_assumed(bowl, asked)),
    )


def _pressed_alike(bowl: Bowl, weeks: Sequence[WeekFit]) -> Bowl:
    """The bowl, its friction taken as known unless the least of its range asks for the press every week.

    Else that friction would ask in one week and not in the next, and the rise would jump with the press.
    """
    if all(week.asking_friction < bowl.use.friction for week in weeks):
        return bowl
    return with_friction_known(bowl, bowl.use.friction)


def _refuse(bowl: Bowl, asked: Asked, pith_mm: float) -> None:
    if asked.opened == LEFT_OPEN and asked.stored != "open":
        expected = "a bowl left open to be stored open"
        raise InputError(Problem("", "--stored", asked.stored, expected, "leave out one of the two"))
    least = least_pith_mm(bowl)
    if pith_mm <= least:
        expected = f"more than {least:.0f} mm, so that the pith lies outside the base"
        remedy = 'measure it, or write it like pith = "150 mm"'
        raise InputError(Problem("", "board.pith", f"{pith_mm:g} mm", expected, remedy))


def _opened_week(year: MoistureYear, asked: Asked) -> int:
    month = (asked.since_month or SINCE_DEFAULT) - 1
    middle = DAY_H * (sum(MONTH_DAYS[:month]) + MONTH_DAYS[month] / 2)
    return min(int(middle // WEEK_H), len(year.start_h) - 1)


def _series(asked: Asked, year: MoistureYear, weekly: WeeklyFits, held: LeftOpen) -> dict[str, Array]:
    source = held if asked.opened == LEFT_OPEN else None
    return {
        name: year.base_rock_mm
        if name == "base_rock_mm"
        else weekly.each(name)
        if source is None
        else getattr(source, name)
        for name in NUMBERS
    }


def _worst(name: str, year: MoistureYear, values: Array) -> Worst:
    worse = -values if name == "rise_mm" else values
    if np.all(np.isnan(values)):
        return Worst(name, 0, float("nan"), ())
    week = int(np.nanargmax(worse))
    return Worst(name, week, float(values[week]), _near_worst(worse, year))


def _near_worst(worse: Array, year: MoistureYear) -> tuple[str, ...]:
    """Months with a week near the worst; none where the number hardly moves through the year."""
    low, high = float(np.nanmin(worse)), float(np.nanmax(worse))
    if not high - low > 1e-9 + STEADY * max(abs(high), abs(low)):
        return ()
    near = np.nan_to_num(worse, nan=-np.inf) >= high - NEAR_WORST * (high - low)
    middle = year.start_h[near] + WEEK_H / 2
    ends = np.cumsum(MONTH_DAYS) * DAY_H
    months = sorted({min(int(np.searchsorted(ends, hour, side="right")), 11) for hour in middle})
    return tuple(MONTHS[m] for m in months)


def _chance_range(asked: Asked, weekly: WeeklyFits, held: LeftOpen, week: int) -> tuple[float, float]:
    found = held if asked.opened == LEFT_OPEN else weekly.weeks[week]
    return found.chance_low, found.chance_high


def _rock_range_mm(bowl: Bowl, year: MoistureYear, week: int, pith_mm: float) -> tuple[float, float]:
    given = bowl.board.pith_mm is not None
    near = max(PITH_RANGE_MM[0], 1.05 * least_pith_mm(bowl))
    ends = (pith_mm, pith_mm) if given else (max(PITH_RANGE_MM[1], near), near)
    rocks = [rock_mm(bowl, float(year.base_percent[week]), end) for end in ends]
    return min(rocks), max(rocks)


def _standing(held: LeftOpen) -> Standing:
    """Bounds from the week of opening; of a bowl that does not stand there is nothing to take away."""
    rise = float(held.rise_mm[held.opened_week]) if held.stands else 0.0
    return standing(collapse_N=held.collapse_N, rise_mm=rise)


def _assumed(bowl: Bowl, asked: Asked) -> tuple[Assumption, ...]:
    assumed = []
    if bowl.board.pith_mm is None:
        source = "distance of the pith from the base, for its cup; not given, 75 to 300 mm are usual"
        low, high = PITH_RANGE_MM
        assumed.append(
            Assumption("board.pith", f"{PITH_MM:g} mm", f"{low:g} mm", f"{high:g} mm", "estimated", source)
        )
    if asked.since_month is None:
        source = "month in which a bowl left open was opened; not given (--since)"
        assumed.append(Assumption("opened since", "June", "January", "December", "estimated", source))
    return tuple(assumed)
