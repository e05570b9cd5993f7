"""A bowl through the seasons of one place: weeks, worst weeks, left open or opened afresh, advice."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl import Assumption, Bowl
from fitsim.errors import InputError, Problem
from fitsim.indoor import MONTHS, day_of
from fitsim.place import Place
from fitsim.rigid import rigid_fit
from fitsim.weather import MONTH_DAYS
from fitsim.worstweeks import ElasticWeek, elastic_week
from fitsim.yearfit import DAY_H, PITH_MM, WEEK_H, YearFit, at_moistures, pith_problem, year_fit

__all__ = ["NUMBERS", "Asked", "SeasonAnswer", "Worst", "seasons", "week_moistures"]

NUMBERS = ("base_rock_mm", "rim_out_of_level_mm", "play_mm", "split_chance")
"""The four numbers followed through the year, in the order they are told."""

NEAR_WORST = 0.1
"""A month belongs to the worst ones if some week in it comes within this share of the year's swing."""

STEADY = 0.05
"""A number that swings by less than this share of its greatest value has no worst months."""

PITH_RANGE_MM = (75.0, 300.0)


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
    """

    stored: str = "open"
    opened: str = "afresh"
    rigid: bool = False


@dataclass(frozen=True)
class Worst:
    """One of the four numbers where it is worst.

    Attributes
    ----------
    number : str
        One of :data:`NUMBERS`.
    week : int
        The worst week: of those with an elastic fit where there are any, which hold the worst of the
        closed form; counted from 0.
    value, closed_form : float
        The number by the model named, and by the closed form. [mm, or - for the chance]
    model : str
        "elastic", "closed form", or "closed form, exact map" for rocking, which no strip changes.
    months : tuple[str, ...]
        Months in which it comes near that.
    """

    number: str
    week: int
    value: float
    closed_form: float
    model: str
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
    year : YearFit
        Week by week in the closed form.
    elastic : tuple[ElasticWeek, ...]
        Weeks with an elastic fit, in order of the year; empty for the closed form alone.
    worst : tuple[Worst, ...]
        In the order of :data:`NUMBERS`.
    worst_split_start_h : int
        First hour of the day on which splitting is likeliest. [h]
    day_split_chance : float
        Closed form, on that day. [-]
    assumptions : tuple[Assumption, ...]
        What nobody said and only this answer uses.
    """

    bowl: Bowl
    place: Place
    asked: Asked
    pith_mm: float
    year: YearFit
    elastic: tuple[ElasticWeek, ...]
    worst: tuple[Worst, ...]
    worst_split_start_h: int
    day_split_chance: float
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
        If the pith would lie within the base.
    OutsideModelError
        If moisture leaves the formulas.
    """
    pith = PITH_MM if bowl.board.pith_mm is None else bowl.board.pith_mm
    trouble = pith_problem(bowl, pith)
    if trouble:
        remedy = 'measure it, or write it like pith = "150 mm"'
        raise InputError(Problem("", "board.pith", f"{pith:g} mm", trouble, remedy))
    year = year_fit(bowl, place.air_percent, kept=asked.stored, pith_mm=pith)
    peaks = {name: _peak(getattr(year, name)) for name in NUMBERS}
    elastic = () if asked.rigid else _elastic(bowl, year, peaks, tell)
    hour_h, chance = _worst_day(bowl, year, peaks["split_chance"])
    return SeasonAnswer(
        bowl=bowl,
        place=place,
        asked=asked,
        pith_mm=pith,
        year=year,
        elastic=elastic,
        worst=tuple(_worst(name, peaks[name], year, elastic) for name in NUMBERS),
        worst_split_start_h=hour_h,
        day_split_chance=chance,
        assumptions=(*place.assumptions, *_assumed(bowl)),
    )


def week_moistures(year: YearFit, week: int) -> Array:
    """Moisture of base and turns in one week, as :func:`fitsim.yearfit.at_moistures` takes it.

    Parameters
    ----------
    year : YearFit
        The year.
    week : int
        Counted from 0.

    Returns
    -------
    numpy.ndarray
        Base first, shape (1 + turns,). [percent]
    """
    return read_only(np.append(year.base_moisture_percent[week], year.turn_moisture_percent[week]))


def _peak(values: Array) -> int:
    """Week of the greatest number; the first where nothing is a number."""
    return 0 if np.all(np.isnan(values)) else int(np.nanargmax(values))


def _elastic(
    bowl: Bowl, year: YearFit, peaks: dict[str, int], tell: Callable[[str], None] | None
) -> tuple[ElasticWeek, ...]:
    """Openings at the worst weeks; rocking is the base's own and needs none."""
    weeks = sorted({week for name, week in peaks.items() if name != "base_rock_mm"})
    found = []
    for at, week in enumerate(weeks, 1):
        if tell is not None:
            day = day_of(int(year.start_h[week]), WEEK_H * 52)
            tell(f"pressing the springy strip as it is in the week of {day} ({at} of {len(weeks)})")
        found.append(elastic_week(at_moistures(bowl, week_moistures(year, week)), week))
    return tuple(found)


def _worst(name: str, week: int, year: YearFit, elastic: tuple[ElasticWeek, ...]) -> Worst:
    """The worst week: of those with an elastic fit where there are any, else by the closed form."""
    values: Array = getattr(year, name)
    value, model = float(values[week]), "closed form"
    if name == "base_rock_mm":
        model = "closed form, exact map"
    else:
        fits = [e for e in elastic if np.isfinite(getattr(e, name))]
        if fits:
            fit = max(fits, key=lambda e: float(getattr(e, name)))
            week, value, model = fit.week, float(getattr(fit, name)), "elastic"
    return Worst(name, week, value, float(values[week]), model, _near_worst(values, year))


def _near_worst(values: Array, year: YearFit) -> tuple[str, ...]:
    """Months with a week near the worst; none where the number hardly moves through the year."""
    low, high = np.nanmin(values), np.nanmax(values)
    if not high - low > 1e-9 + STEADY * abs(high):
        return ()
    near = np.nan_to_num(values, nan=-np.inf) >= high - NEAR_WORST * (high - low)
    middle = year.start_h[near] + WEEK_H / 2
    ends = np.cumsum(MONTH_DAYS) * DAY_H
    months = sorted({min(int(np.searchsorted(ends, hour, side="right")), 11) for hour in middle})
    return tuple(MONTHS[m] for m in months)


def _worst_day(bowl: Bowl, year: YearFit, week: int) -> tuple[int, float]:
    """Day on which splitting is likeliest, looked for in the worst week and the ones beside it."""
    first = int(year.start_h[week]) // DAY_H
    count = len(year.daily_moisture_percent)
    days = [day % count for day in range(first - 7, first + 14)] if count >= 21 else list(range(count))
    chances = [
        rigid_fit(at_moistures(bowl, year.daily_moisture_percent[day])).numbers.split_chance for day in days
    ]
    at = int(np.argmax(chances))
    return days[at] * DAY_H, float(chances[at])


def _assumed(bowl: Bowl) -> tuple[Assumption, ...]:
    if bowl.board.pith_mm is not None:
        return ()
    source = "distance of the pith from the base, for its cup; no measurement given, 75 to 300 mm are usual"
    low, high = PITH_RANGE_MM
    return (
        Assumption("board.pith", f"{PITH_MM:g} mm", f"{low:g} mm", f"{high:g} mm", "estimated", source),
    )
