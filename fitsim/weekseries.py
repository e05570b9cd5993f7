"""The four numbers of a bowl, week by week, and where each is worst: closed form or elastic."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl import Bowl
from fitsim.indoor import MONTHS, day_of
from fitsim.leftopen import LeftOpen
from fitsim.weather import MONTH_DAYS
from fitsim.worstweeks import ElasticWeek, elastic_week, standing_chances
from fitsim.yearfit import DAY_H, WEEK_H, YearFit, at_moistures, week_moistures

__all__ = [
    "CLOSED",
    "ELASTIC",
    "EXACT",
    "HELD",
    "NUMBERS",
    "Series",
    "Worst",
    "afresh_series",
    "held_series",
    "peak",
    "worst_of",
]

NUMBERS = ("base_rock_mm", "rim_out_of_level_mm", "play_mm", "split_chance")
"""The four numbers followed through the year, in the order they are told."""

CLOSED, EXACT, ELASTIC, HELD = (
    "closed form",
    "closed form, exact map",
    "elastic",
    "elastic opening, pull by closed form",
)
"""Models; rocking is the base's own and no strip changes it."""

NEAR_WORST = 0.1
"""A month belongs to the worst ones if some week in it comes within this share of the year's swing."""

STEADY = 0.05
"""A number that swings by less than this share of its greatest value has no worst months."""


@dataclass(frozen=True, eq=False)
class Series:
    """The four numbers week by week, for the way of opening that was asked about.

    Attributes
    ----------
    closed : dict[str, numpy.ndarray]
        By the closed form, each of shape (weeks,). [mm, or - for the chance]
    told : dict[str, numpy.ndarray]
        The same, with the elastic strip's number where there is one.
    models : dict[str, tuple[str, ...]]
        For each number the model behind every week's told value.
    """

    closed: dict[str, Array]
    told: dict[str, Array]
    models: dict[str, tuple[str, ...]]


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
        "closed form", "closed form, exact map", "elastic", or "elastic opening, pull by closed form".
    months : tuple[str, ...]
        Months in which it comes near that.
    """

    number: str
    week: int
    value: float
    closed_form: float
    model: str
    months: tuple[str, ...]


def _closed(year: YearFit) -> dict[str, Array]:
    return {name: getattr(year, name) for name in NUMBERS}


def _models(year: YearFit) -> dict[str, list[str]]:
    rows = {name: [CLOSED] * len(year.start_h) for name in NUMBERS}
    rows["base_rock_mm"] = [EXACT] * len(year.start_h)
    return rows


def afresh_series(
    bowl: Bowl, year: YearFit, *, rigid: bool, tell: Callable[[str], None] | None = None
) -> tuple[tuple[ElasticWeek, ...], Series]:
    """Laid flat and pressed open each time: elastic at the weeks that are worst by the closed form.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    rigid : bool
        True to leave the elastic strip out.
    tell : callable or None
        Told in a few words what is being worked on.

    Returns
    -------
    elastic : tuple[ElasticWeek, ...]
        Weeks with an elastic fit.
    series : Series
        The numbers.
    """
    closed = _closed(year)
    weeks = [] if rigid else sorted({peak(closed[name]) for name in NUMBERS[1:]})
    elastic = _elastic(bowl, year, weeks, tell)
    return elastic, _told(closed, _models(year), elastic)


def _told(
    closed: dict[str, Array], models: dict[str, list[str]], elastic: tuple[ElasticWeek, ...]
) -> Series:
    told = {name: values.copy() for name, values in closed.items()}
    for found in elastic:
        for name in NUMBERS[1:]:
            value = float(getattr(found, name))
            if np.isfinite(value):
                told[name][found.week], models[name][found.week] = value, ELASTIC
    return Series(
        closed={name: read_only(values) for name, values in closed.items()},
        told={name: read_only(values) for name, values in told.items()},
        models={name: tuple(row) for name, row in models.items()},
    )


def held_series(
    bowl: Bowl, year: YearFit, held: LeftOpen, *, rigid: bool, tell: Callable[[str], None] | None = None
) -> tuple[tuple[ElasticWeek, ...], Series]:
    """Opened once: one elastic opening, whose stress and level stay; the seasons pull by the closed form.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    held : LeftOpen
        The bowl left open, closed form.
    rigid : bool
        True to leave the elastic strip out.
    tell : callable or None
        Told in a few words what is being worked on.

    Returns
    -------
    elastic : tuple[ElasticWeek, ...]
        The week of opening, if it has an elastic fit.
    series : Series
        The numbers.
    """
    closed = _closed(year) | {name: getattr(held, name) for name in NUMBERS[1:]}
    models = _models(year)
    elastic = () if rigid else _elastic(bowl, year, [held.opened_week], tell)
    series = _told(closed, models, elastic)
    if not elastic or elastic[0].trouble:
        return elastic, series
    told = dict(series.told)
    chances = standing_chances(bowl, year, held.opened_week, held.hoop_MPa)
    told["split_chance"] = read_only(chances)
    told["rim_out_of_level_mm"] = read_only(np.full(len(chances), elastic[0].rim_out_of_level_mm))
    kept = {name: (HELD,) * len(chances) for name in ("split_chance", "rim_out_of_level_mm")}
    return elastic, Series(closed=series.closed, told=told, models=series.models | kept)


def peak(values: Array) -> int:
    """Week of the greatest number.

    Parameters
    ----------
    values : numpy.ndarray
        Week by week; nan where there is no number, shape (weeks,). [any]

    Returns
    -------
    int
        Counted from 0; the first week where nothing is a number.
    """
    return 0 if np.all(np.isnan(values)) else int(np.nanargmax(values))


def _elastic(
    bowl: Bowl, year: YearFit, weeks: list[int], tell: Callable[[str], None] | None
) -> tuple[ElasticWeek, ...]:
    found = []
    for at, week in enumerate(weeks, 1):
        if tell is not None:
            day = day_of(int(year.start_h[week]), WEEK_H * 52)
            tell(f"pressing the springy strip as it is in the week of {day} ({at} of {len(weeks)})")
        found.append(elastic_week(at_moistures(bowl, week_moistures(year, week)), week))
    return tuple(found)


def worst_of(name: str, year: YearFit, series: Series) -> Worst:
    """Where one of the numbers is worst: among elastic numbers where there are any.

    Parameters
    ----------
    name : str
        One of :data:`NUMBERS`.
    year : YearFit
        For the dates.
    series : Series
        The numbers.

    Returns
    -------
    Worst
        Week, value, model and months.
    """
    closed, told, models = series.closed[name], series.told[name], series.models[name]
    springy = np.array([model in (ELASTIC, HELD) for model in models])
    seen = np.where(springy, told, np.nan) if springy.any() else told
    # Play by the strip is what sticks under a small push; when there is most room the closed form says.
    week = peak(closed if name == "play_mm" else seen)
    by_month = told if all(model == HELD for model in models) else closed
    return Worst(
        name, week, float(told[week]), float(closed[week]), models[week], _near_worst(by_month, year)
    )


def _near_worst(values: Array, year: YearFit) -> tuple[str, ...]:
    """Months with a week near the worst; none where the number hardly moves through the year."""
    if np.all(np.isnan(values)):
        return ()
    low, high = np.nanmin(values), np.nanmax(values)
    if not high - low > 1e-9 + STEADY * abs(high):
        return ()
    near = np.nan_to_num(values, nan=-np.inf) >= high - NEAR_WORST * (high - low)
    middle = year.start_h[near] + WEEK_H / 2
    ends = np.cumsum(MONTH_DAYS) * DAY_H
    months = sorted({min(int(np.searchsorted(ends, hour, side="right")), 11) for hour in middle})
    return tuple(MONTHS[m] for m in months)
