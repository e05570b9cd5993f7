"""The year of a bowl as one JSON object."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from fitsim.climate.indoor_air import MONTHS, day_of
from fitsim.quantities import finite_or_none
from fitsim.report.common_words import CAUTIONS
from fitsim.report.seasons_in_words import bowl_notes, seasons_headline
from fitsim.seasons.after_move import AfterMove, PartsAfter
from fitsim.seasons.weeks import WeekFit
from fitsim.seasons.year import NUMBERS, SeasonAnswer, Worst
from fitsim.version import VERSION

__all__ = ["SCHEMA_VERSION", "month_and_day", "seasons_object"]

SCHEMA_VERSION = 3
"""3: what the turn that asks most uses of the friction at rest is called so, as in a map and a plan."""


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
        Lengths in mm, forces in N, moisture in percent; null where there is no number. Every key is
        described in ``data/seasons.schema.json``.
    """
    weekly, held = answer.weekly, answer.left_open
    # With a limit of the friction used friction is lowered, as fit does it.
    used = "friction_used" if answer.bowl.limits.friction_used < 1 else "friction_used_at_rest"
    return {
        "schema_version": SCHEMA_VERSION,
        "headline": seasons_headline(answer),
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        "place": {"name": answer.place.name, "air": answer.place.kind, "notes": list(answer.place.notes)},
        "stored": answer.asked.stored,
        "opened": answer.asked.opened,
        "notes": list(bowl_notes(answer)),
        "weeks": [_week(answer, week, used) for week in range(len(answer.year.start_h))],
        "worst": {w.number: _worst(answer, w) for w in answer.worst},
        "base_rock_range_mm": list(answer.rock_range_mm),
        "split_over_the_year": {
            "chance": finite_or_none(answer.worst[NUMBERS.index("split_chance")].value),
            "chance_low": finite_or_none(answer.chance_range[0]),
            "chance_high": finite_or_none(answer.chance_range[1]),
        },
        "pressed_weeks": {
            "starts": [_start(answer, week) for week in weekly.pressed],
            "rise_within": weekly.rise_within,
            "chance_within": weekly.chance_within,
        },
        "left_open": {
            "since": _start(answer, held.opened_week),
            "stands_all_the_year": held.ends == "",
            "ends": held.ends or None,
            "weeks": [_left_open_week(answer, week) for week in range(len(held.rise_mm))],
            "chance_low": finite_or_none(held.chance_low),
            "chance_high": finite_or_none(held.chance_high),
            "collapse_N": held.collapse_N,
            **_spells(answer),
        },
        "advice": _plain(asdict(answer.advice)),
        "after_move": _after(answer.after_move, used),
        "after_wash": _after(answer.after_wash, used),
        "assumptions": [asdict(a) for a in (*answer.assumptions, *answer.bowl.assumptions)],
        "cautions": list(CAUTIONS),
    }


def _plain(value: Any) -> Any:
    """Nested dictionaries and tuples with null for what is no number."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return finite_or_none(value) if isinstance(value, float) else value


def _start(answer: SeasonAnswer, week: int) -> str:
    return month_and_day(float(answer.year.start_h[week]), len(answer.place.air_percent))


def _opened(week: WeekFit, used: str) -> dict[str, Any]:
    """One opening; what is not decided has no numbers but the slot's."""
    numbers, known = week.numbers, math.isfinite(week.press_N)
    return {
        "state": week.state,
        "rise_mm": finite_or_none(week.rise_mm),
        "rim_out_of_level_mm": finite_or_none(week.rim_out_of_level_mm),
        "split_chance": finite_or_none(numbers.split_chance),
        "press_needed_N": finite_or_none(week.needed_N),
        "press_N": finite_or_none(week.press_N),
        "kept": finite_or_none(numbers.kept) if known else None,
        used: finite_or_none(numbers.friction_used) if known else None,
        "overlap": finite_or_none(numbers.overlap) if known else None,
        "slot_left_mm": finite_or_none(numbers.slot_left_mm),
    }


def _week(answer: SeasonAnswer, week: int, used: str) -> dict[str, Any]:
    """One week, pressed open then."""
    year = answer.year
    return {
        "start": _start(answer, week),
        "base_moisture_percent": float(year.base_percent[week]),
        "rim_moisture_percent": float(year.rim_percent[week]),
        "base_rock_mm": float(year.base_rock_mm[week]),
        **_opened(answer.weekly.weeks[week], used),
    }


def _worst(answer: SeasonAnswer, worst: Worst) -> dict[str, Any]:
    return {
        "start": _start(answer, worst.week),
        "week": worst.week,
        "value": finite_or_none(worst.value),
        "months": list(worst.months),
    }


def _after(moved: AfterMove, used: str) -> dict[str, Any]:
    parts, stood = moved.parts, moved.stood
    return {
        "from_percent": parts.before_percent,
        "to_percent": parts.to_percent,
        "times": [
            {
                "time_h": float(hour),
                **_moistures(parts, i),
                "base_rock_mm": float(parts.base_rock_mm[i]),
                "pressed_open": _opened(moved.opened[i], used),
                "stood_open": {
                    **_moistures(moved.stood_parts, i),
                    "rise_mm": finite_or_none(float(stood.rise_mm[i + 1])),
                    "split_chance": finite_or_none(float(stood.split_chance[i + 1])),
                    "pull_MPa": finite_or_none(float(stood.pull_MPa[i + 1].max())),
                },
            }
            for i, hour in enumerate(parts.time_h)
        ],
    }


def _moistures(parts: PartsAfter, i: int) -> dict[str, float]:
    """Of base, innermost turn and rim at one of the hours. [percent]"""
    return {
        "base_moisture_percent": float(parts.moisture_percent[i, 0]),
        "first_moisture_percent": float(parts.moisture_percent[i, 1]),
        "rim_moisture_percent": float(parts.rim_percent[i]),
    }


def _left_open_week(answer: SeasonAnswer, week: int) -> dict[str, Any]:
    held = answer.left_open
    return {
        "start": _start(answer, week),
        "rise_mm": finite_or_none(float(held.rise_mm[week])),
        "rim_out_of_level_mm": finite_or_none(float(held.rim_out_of_level_mm[week])),
        "split_chance": finite_or_none(float(held.split_chance[week])),
        "pull_MPa": [finite_or_none(float(pull)) for pull in held.pull_MPa[week]],
        "loose_turns": [int(turn) + 1 for turn in np.flatnonzero(held.loose[week])],
    }


def _spells(answer: SeasonAnswer) -> dict[str, Any]:
    ends = ("low", "likely", "high")
    bounds = {
        key: dict(zip(ends, value, strict=True)) if isinstance(value, tuple) else value
        for key, value in asdict(answer.standing).items()
    }
    return {
        "pulled_tight": [
            {
                "turn": e.turn,
                "from": _start(answer, e.first_week),
                "to": _start(answer, e.last_week),
                "worst": _start(answer, e.worst_week),
                "difference_points": e.difference_points,
                "pull_MPa": e.pull_MPa,
                "strength_share": e.strength_share,
            }
            for e in answer.events
        ],
        "after_months": bounds,
    }
