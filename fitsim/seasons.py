"""A bowl through the seasons of one place: weeks, worst weeks, left open or opened afresh, advice."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.advice import Advice, advise
from fitsim.aftermove import AfterMove, after_move, after_wash
from fitsim.bowl import Assumption, Bowl
from fitsim.creep import Standing, standing
from fitsim.errors import InputError, Problem
from fitsim.leftopen import (
    LeftOpen,
    PullTight,
    held_chance,
    left_open,
    pull_tight_events,
)
from fitsim.place import Place
from fitsim.rigid import rigid_fit
from fitsim.seasonends import PITH_RANGE_MM, SeasonEnds, season_ends
from fitsim.taper import collapse_over_press
from fitsim.verdict import judge
from fitsim.weather import MONTH_DAYS
from fitsim.weekseries import (
    NUMBERS,
    Series,
    Worst,
    afresh_series,
    held_series,
    peak,
    worst_of,
)
from fitsim.worstweeks import ElasticWeek
from fitsim.yearfit import DAY_H, PITH_MM, WEEK_H, YearFit, at_moistures, bowl_lags, least_pith_mm, year_fit

__all__ = ["LEFT_OPEN", "Asked", "SeasonAnswer", "seasons"]

LEFT_OPEN = "left open"
SINCE_DEFAULT = 6


@dataclass(frozen=True)
class Asked:
    """What is asked about a bowl.

    Attributes
    ----------
    stored : str
        "open" or "flat": how it lies between uses.
    opened : str
        "afresh" (laid flat and pressed open each time) or "left open".
    rigid : bool
        Closed form only.
    since_month : int or None
        Month in whose middle a bowl left open was opened, 1 for January; None: June.
    """

    stored: str = "open"
    opened: str = "afresh"
    rigid: bool = False
    since_month: int | None = None


@dataclass(frozen=True, eq=False)
class SeasonAnswer:
    """Everything about one bowl in one place.

    Attributes
    ----------
    bowl, place, asked
        What was asked about.
    pith_mm : float
        Distance of the pith used. [mm]
    year : YearFit
        Week by week in the closed form.
    series : Series
        The four numbers.
    states : tuple[str, ...]
        For every week one of :data:`fitsim.verdict.STATES`, if it is pressed open in that week: by the
        elastic strip where it has the week, else by the closed form.
    elastic : tuple[ElasticWeek, ...]
        Weeks with an elastic fit, in order of the year; empty for the closed form alone.
    worst : tuple[Worst, ...]
        In the order of :data:`NUMBERS`.
    ends : SeasonEnds
        Rocking and splitting over their ranges.
    worst_split_start_h : int
        First hour of the day on which splitting is likeliest. [h]
    day_split_chance : float
        Closed form, on that day. [-]
    left_open : LeftOpen
        The bowl left open, closed form.
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
    year: YearFit
    series: Series
    states: tuple[str, ...]
    elastic: tuple[ElasticWeek, ...]
    worst: tuple[Worst, ...]
    ends: SeasonEnds
    worst_split_start_h: int
    day_split_chance: float
    left_open: LeftOpen
    events: tuple[PullTight, ...]
    standing: Standing
    after_move: AfterMove
    after_wash: AfterMove
    advice: Advice
    assumptions: tuple[Assumption, ...]


def seasons(
    bowl: Bowl, place: Place, asked: Asked, *, tell: Callable[[str], None] | None = None
) -> SeasonAnswer:
    """Follow a bowl through a year in one place.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was cut at.
    place : Place
        Where it is kept.
    asked : Asked
        How it is stored and opened, and by which model.
    tell : callable or None
        Told in a few words what is being worked on.

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
    year = year_fit(bowl, place.air_percent, kept=asked.stored, pith_mm=pith)
    opened = _opened_week(year, asked)
    # A bowl left open lies open, however others are kept between uses.
    standing_year = year
    if asked.stored != "open":
        standing_year = year_fit(bowl, place.air_percent, kept="open", pith_mm=pith)
    held = left_open(bowl, standing_year, opened_week=opened)
    if asked.opened == LEFT_OPEN:
        elastic, series = held_series(bowl, year, held, rigid=asked.rigid, tell=tell)
    else:
        elastic, series = afresh_series(bowl, year, rigid=asked.rigid, tell=tell)
    worst = tuple(worst_of(name, year, series) for name in NUMBERS)
    hour_h, chance = _worst_day(bowl, year, held, asked, peak(series.told["split_chance"]))
    return SeasonAnswer(
        bowl=bowl,
        place=place,
        asked=asked,
        pith_mm=pith,
        year=year,
        series=series,
        states=_states(bowl, year, elastic),
        elastic=elastic,
        worst=worst,
        ends=season_ends(
            bowl, year, worst[0], worst[-1], held if asked.opened == LEFT_OPEN else None, pith_mm=pith
        ),
        worst_split_start_h=hour_h,
        day_split_chance=chance,
        left_open=held,
        events=pull_tight_events(bowl, standing_year, held),
        standing=_standing(bowl, year, opened, elastic),
        after_move=_moved(bowl, year, place, asked, pith),
        after_wash=_washed(bowl, place, pith),
        advice=advise(bowl, place.air_percent, year, kept=asked.stored, pith_mm=pith),
        assumptions=(*place.assumptions, *_assumed(bowl, asked)),
    )


def _refuse(bowl: Bowl, asked: Asked, pith_mm: float) -> None:
    if asked.opened == LEFT_OPEN and asked.stored != "open":
        expected = "a bowl left open to be stored open"
        raise InputError(Problem("", "--stored", asked.stored, expected, "leave out one of the two"))
    least = least_pith_mm(bowl)
    if pith_mm <= least:
        expected = f"more than {least:.0f} mm, so that the pith lies outside the base"
        remedy = 'measure it, or write it like pith = "150 mm"'
        raise InputError(Problem("", "board.pith", f"{pith_mm:g} mm", expected, remedy))


def _opened_week(year: YearFit, asked: Asked) -> int:
    month = (asked.since_month or SINCE_DEFAULT) - 1
    middle = DAY_H * (sum(MONTH_DAYS[:month]) + MONTH_DAYS[month] / 2)
    return min(int(middle // WEEK_H), len(year.start_h) - 1)


def _states(bowl: Bowl, year: YearFit, elastic: tuple[ElasticWeek, ...]) -> tuple[str, ...]:
    states = [judge(fit.numbers, bowl.limits) for fit in year.fits]
    for found in elastic:
        states[found.week] = found.state or states[found.week]
    return tuple(states)


def _moved(bowl: Bowl, year: YearFit, place: Place, asked: Asked, pith_mm: float) -> AfterMove:
    """From where it was sawn into the room of the week that is farthest from it."""
    sawn, rim = bowl.board.moisture_percent, year.rim_moisture_percent
    away = int(np.argmax(np.abs(rim - sawn)))
    middle = float(np.mean(place.air_percent))
    lags = bowl_lags(bowl, moisture_percent=middle, kept=asked.stored)
    return after_move(bowl, lags, from_percent=sawn, to_percent=float(rim[away]), pith_mm=pith_mm)


def _washed(bowl: Bowl, place: Place, pith_mm: float) -> AfterMove:
    middle = float(np.mean(place.air_percent))
    lags = bowl_lags(bowl, moisture_percent=middle, kept="open")
    return after_wash(bowl, lags, at_percent=middle, pith_mm=pith_mm)


def _standing(bowl: Bowl, year: YearFit, opened: int, elastic: tuple[ElasticWeek, ...]) -> Standing:
    """Bounds from the elastic strip of the week of opening, else from the taper rule."""
    shape = year.fits[opened].shape
    rise = 0.0 if shape is None else shape.rise_mm
    share = collapse_over_press(tilt_rad=bowl.cut.tilt_rad[0], friction=bowl.use.friction)
    collapse = bowl.use.press_N * max(share, 0.0)
    for found in elastic:
        if found.week == opened and np.isfinite(found.rise_mm):
            rise, collapse = found.rise_mm, found.collapse_N
    return standing(collapse_N=collapse, rise_mm=rise)


def _worst_day(bowl: Bowl, year: YearFit, held: LeftOpen, asked: Asked, week: int) -> tuple[int, float]:
    """Day on which splitting is likeliest, looked for in the worst week and the ones beside it."""
    first = int(year.start_h[week]) // DAY_H
    count = len(year.daily_moisture_percent)
    days = [day % count for day in range(first - 7, first + 14)] if count >= 21 else list(range(count))
    chances = []
    for day in days:
        then = at_moistures(bowl, year.daily_moisture_percent[day])
        if asked.opened == LEFT_OPEN:
            chances.append(held_chance(then, rigid_fit(then), held))
        else:
            chances.append(rigid_fit(then).numbers.split_chance)
    at = int(np.argmax(chances))
    return days[at] * DAY_H, float(chances[at])


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
