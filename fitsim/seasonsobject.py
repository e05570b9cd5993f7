"""The year of a bowl as one JSON object."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from fitsim.aftermove import AfterMove
from fitsim.answer import VERSION
from fitsim.arrays import Array
from fitsim.indoor import MONTHS, day_of
from fitsim.seasons import SeasonAnswer
from fitsim.weekseries import CLOSED, ELASTIC, HELD, NUMBERS, Worst
from fitsim.wording import CAUTIONS

__all__ = ["month_and_day", "seasons_object"]


def month_and_day(hour: float, hours: int) -> str:
    """Date of an hour of the year, month and day as numbers.

    Parameters
    ----------
    hour : float
        Counted from 0 at the turn of the year. [h]
    hours : int
        Hours of the year: 8784 in a leap year.

    Returns
    -------
    str
        For example "02-12".

    Examples
    --------
    >>> month_and_day(42 * 24 + 5, 8760)
    '02-12'
    """
    day, month = day_of(int(hour), hours).split(" ")
    return f"{MONTHS.index(month) + 1:02d}-{int(day):02d}"


def seasons_object(answer: SeasonAnswer) -> dict[str, Any]:
    """The answer as plain lists and dictionaries.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.

    Returns
    -------
    dict
        Lengths in mm, moisture in percent; null where there is no number.
    """
    worst_split = answer.worst[NUMBERS.index("split_chance")]
    return {
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        "place": {"name": answer.place.name, "air": answer.place.kind, "notes": list(answer.place.notes)},
        "stored": answer.asked.stored,
        "opened": answer.asked.opened,
        "weeks": [_week(answer, week) for week in range(len(answer.year.start_h))],
        "worst": {w.number: _worst(answer, w) for w in answer.worst},
        "base_rock_range_mm": list(answer.ends.rock_mm),
        "split_over_the_year": {
            "chance": _number(worst_split.value),
            "chance_low": _number(answer.ends.split_chance[0]),
            "chance_high": _number(answer.ends.split_chance[1]),
            "model": worst_split.model,
            "worst_day": month_and_day(answer.worst_split_start_h, len(answer.place.air_percent)),
            "chance_that_day_closed_form": _number(answer.day_split_chance),
        },
        "advice": _plain(asdict(answer.advice)),
        "left_open": _left_open(answer),
        "after_move": _after(answer.after_move),
        "after_wash": _after(answer.after_wash),
        "elastic": [_plain(asdict(e)) for e in answer.elastic],
        "assumptions": [asdict(a) for a in (*answer.assumptions, *answer.bowl.assumptions)],
        "cautions": list(CAUTIONS),
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _plain(value: Any) -> Any:
    """Nested dictionaries and tuples with null for what is no number."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return _number(value) if isinstance(value, float) else value


def _start(answer: SeasonAnswer, week: int) -> str:
    return month_and_day(float(answer.year.start_h[week]), len(answer.place.air_percent))


def _week(answer: SeasonAnswer, week: int) -> dict[str, Any]:
    """One week; its numbers are the elastic strip's where it has any, the closed form's elsewhere."""
    year, series = answer.year, answer.series

    def of(numbers: dict[str, Array]) -> dict[str, float | None]:
        return {name: _number(float(numbers[name][week])) for name in NUMBERS}

    models = [series.models[name][week] for name in NUMBERS]
    return {
        "start": _start(answer, week),
        "base_moisture_percent": float(year.base_moisture_percent[week]),
        "rim_moisture_percent": float(year.rim_moisture_percent[week]),
        **of(series.told),
        "state": answer.states[week],
        "model": next((model for model in (ELASTIC, HELD) if model in models), CLOSED),
        "models": dict(zip(NUMBERS, models, strict=True)),
        "closed_form": of(series.closed),
    }


def _worst(answer: SeasonAnswer, worst: Worst) -> dict[str, Any]:
    return {
        "start": _start(answer, worst.week),
        "week": worst.week,
        "value": _number(worst.value),
        "model": worst.model,
        "closed_form": _number(worst.closed_form),
        "months": list(worst.months),
    }


def _after(moved: AfterMove) -> dict[str, Any]:
    columns = ("base_moisture", "first_moisture", "rim_moisture")
    return {
        "from_percent": moved.from_percent,
        "to_percent": moved.to_percent,
        "times": [
            {"time_h": float(hour)}
            | {f"{name}_percent": float(getattr(moved, f"{name}_percent")[i]) for name in columns}
            | {name: _number(getattr(moved, name)[i]) for name in ("base_rock_mm", "play_mm", "hoop_MPa")}
            for i, hour in enumerate(moved.time_h)
        ],
    }


def _left_open(answer: SeasonAnswer) -> dict[str, Any]:
    held = answer.left_open
    ends = ("low", "likely", "high")
    bounds = {
        key: dict(zip(ends, value, strict=True)) if isinstance(value, tuple) else value
        for key, value in asdict(answer.standing).items()
    }
    return {
        "since": _start(answer, held.opened_week),
        "pulled_tight": [
            {
                "turn": e.turn,
                "from": _start(answer, e.first_week),
                "to": _start(answer, e.last_week),
                "worst": _start(answer, e.worst_week),
                "difference_points": e.difference_points,
                "hoop_MPa": e.hoop_MPa,
                "strength_share": e.strength_share,
            }
            for e in answer.events
        ],
        "loose_weeks": [_start(answer, int(w)) for w in np.flatnonzero(held.loose.any(axis=1))],
        "after_months": bounds,
    }
