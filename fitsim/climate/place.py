"""Where a bowl is kept: the air of one year, from a weather file, typed monthly means or a simple range.

A bowl file may hold the tables ``[weather]`` (twelve monthly means) and ``[room]`` (what heating and
humidifiers do); what is typed on the command line stands in their place, key by key.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.assumption import Assumption
from fitsim.climate.indoor_air import indoor_air, moisture_in_air_percent
from fitsim.climate.weather import HourlyAir, air_range, read_epw, weather_of_tables
from fitsim.errors import InputError, Problem
from fitsim.quantities import MOISTURE, read_quantity, read_range
from fitsim.wood.moisture import HUMIDITY_RANGE_PERCENT, TEMPERATURE_RANGE_C

__all__ = ["ROOM_KEYS", "Place", "read_place"]

ROOM_KEYS = ("heated", "cooled", "humidifier", "dehumidifier", "added", "humidity", "driest_month")
"""Keys of the table ``[room]``, and options of the command line by the same names."""

LEAST_HUMIDITY_PERCENT = 2.0
"""Drier than any room that is lived in: 0.3 to 45 % is a share and a percentage mixed. Our choice. [%]"""

HEATED_DEFAULT_C = 20.0
MOST_ADDED_G_PER_M3 = 10.0
KPA_PER_G_PER_M3 = 461.5 * 293.15 / 1e6
"""Ideal gas of water, 461.5 J/(kg K), in a room of 20 deg C."""

OUTDOOR_KEYS = ("cooled", "humidifier", "dehumidifier", "added")
"""What the house does to the air outdoors; an indoor range says the air itself and has no use for it."""

DAMP_SHARE = 0.02
"""Share of the year that may be damper than the sorption equation serves and is taken at its end, with a
note: a part needs hours to follow (our choice). More is refused."""


@dataclass(frozen=True, eq=False)
class Place:
    """A year of air round a bowl.

    Attributes
    ----------
    name : str
        Where it is, in words.
    kind : str
        "weather file", "monthly means" or "indoor range".
    room : HourlyAir
        Air of the room.
    air_percent : numpy.ndarray
        Moisture that wood settles at, hour by hour, shape (hours,). [percent]
    notes : tuple[str, ...]
        What was filled, cut off or set aside on reading.
    assumptions : tuple[Assumption, ...]
        What nobody said.
    """

    name: str
    kind: str
    room: HourlyAir
    air_percent: Array
    notes: tuple[str, ...]
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True)
class _Room:
    """The room as typed, and by each key where that was said, how and in which words; None: nothing was."""

    heated_C: float | None = None
    cooled_C: float | None = None
    humidifier_percent: float | None = None
    dehumidifier_percent: float | None = None
    added_kPa: float | None = None
    humidity_percent: tuple[float, float] | None = None
    driest_month: int | None = None
    said: Mapping[str, tuple[str, str, str]] = field(default_factory=dict)


def read_place(
    tables: Mapping[str, Any],
    *,
    where: str,
    weather: Path | HourlyAir | None = None,
    typed: Mapping[str, Any],
) -> Place:
    """Read the year of air in which a bowl is kept.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file.
    where : str
        Its name, for messages.
    weather : pathlib.Path, HourlyAir or None
        An EPW file, or one already read; it stands in place of the table ``[weather]``.
    typed : Mapping
        Values of :data:`ROOM_KEYS` given on the command line; None where not given.

    Returns
    -------
    Place
        The year, ready for :func:`fitsim.seasons.year.seasons`.

    Raises
    ------
    InputError
        One line for every problem, among them that no air was given.
    OutsideModelError
        If the room is too damp, too cold or too hot for the sorption equation for longer than
        :data:`DAMP_SHARE` of the year.
    """
    room = _room_of(tables.get("room", {}), where, typed)
    if weather is not None and typed.get("humidity") is not None:
        expected = "either a weather file or an indoor range"
        raise InputError(Problem("", "--indoor", "", expected, "leave out --weather or --indoor"))
    notes: list[str] = []
    outdoor = kind = None
    if weather is not None:
        outdoor = weather if isinstance(weather, HourlyAir) else read_epw(weather)
        kind = "weather file"
        if "weather" in tables:
            notes.append("the table [weather] of the bowl file was set aside for the weather file")
    elif "weather" in tables and typed.get("humidity") is None:
        outdoor, kind = _typed_weather(tables["weather"], where), "monthly means"
    if outdoor is None and room.humidity_percent is None:
        expected = "a year of air: weather outdoors, or how dry and how damp the room gets"
        remedy = 'give --weather FILE.epw, or --indoor "30 to 60 %", or write [weather] into the bowl file'
        raise InputError(Problem(where, "weather", "", expected, remedy))
    if outdoor is None:
        return _ranged(room, _aside_for_range(tables.get("room", {}), typed))
    if room.humidity_percent is not None:
        notes.append("the room's humidity range was set aside for the weather")
    if typed.get("driest_month") is not None:
        expected = "an indoor range, whose driest month it says"
        raise InputError(Problem("", "--driest-month", "", expected, "leave it out, or give --indoor"))
    return _housed(outdoor, str(kind), room, notes)


def _typed_weather(given: object, where: str) -> HourlyAir:
    if not isinstance(given, Mapping):
        remedy = "write [weather] on a line of its own and its keys below"
        raise InputError(Problem(where, "weather", repr(given)[:40], "a table of keys", remedy))
    return replace(weather_of_tables(given, where=where), place="monthly means of the bowl file")


def _assumed_heat(room: _Room) -> tuple[Assumption, ...]:
    if room.heated_C is not None:
        return ()
    source = "a heated living room; common practice, no published source"
    return (Assumption("room.heated", f"{HEATED_DEFAULT_C:g} C", "18 C", "22 C", "estimated", source),)


def _assumed_vapour(room: _Room) -> tuple[Assumption, ...]:
    if room.added_kPa is not None:
        return ()
    source = (
        "vapour of people, cooking and washing above the air outdoors; dwellings have about 2 to 4 g/m3 in "
        "winter, which makes the driest weeks damper (classes of EN ISO 13788, from memory)"
    )
    return (Assumption("room.added", "0 g/m3", "0 g/m3", "4 g/m3", "estimated", source),)


def _aside_for_range(table: Mapping[str, Any], typed: Mapping[str, Any]) -> tuple[str, ...]:
    """What an indoor range has no use for: refused where it was typed, said where it stands in the file."""
    idle = [key for key in OUTDOOR_KEYS if typed.get(key) is not None]
    if idle:
        expected = "weather outdoors; an indoor range says already how dry and how damp the room gets"
        remedy = "leave it out, or give --weather in place of the range"
        problems = (Problem("", f"--{key}", repr(typed[key])[:30], expected, remedy) for key in idle)
        raise InputError(tuple(problems))
    written = ", ".join(key for key in OUTDOOR_KEYS if key in table)
    return (f"{written} under [room] set aside: the indoor range says the air",) if written else ()


def _ranged(room: _Room, notes: tuple[str, ...]) -> Place:
    if room.humidity_percent is None:  # not reached: the caller has looked
        message = "no humidity range"
        raise ValueError(message)
    low, high = room.humidity_percent
    month = room.driest_month or 1
    air = air_range(
        temperature_C=HEATED_DEFAULT_C if room.heated_C is None else room.heated_C,
        driest_percent=low,
        wettest_percent=high,
        driest_month=month,
        place=f"a room of {low:g} to {high:g} percent humidity",
    )
    assumed = list(_assumed_heat(room))
    if room.driest_month is None:
        source = "heated rooms of the northern half of the world are driest in winter"
        assumed.append(Assumption("room.driest_month", "1", "1", "2", "estimated", source))
    return Place(air.place, "indoor range", air, moisture_in_air_percent(air), notes, tuple(assumed))


def _under(room: _Room, upper: str, lower: str) -> Problem:
    """An upper limit of the room that lies below the lower one, which may be the assumed warmth."""
    where, key, written = room.said[upper]
    if lower in room.said:
        _, other, words = room.said[lower]
        expected = f"at least {other} = {words}"
        return Problem(where, key, written, expected, "correct one of the two")
    expected = f"at least the {HEATED_DEFAULT_C:g} C that a room is heated to where nothing is said"
    other = f"--{lower}" if key.startswith("--") else lower
    return Problem(where, key, written, expected, f"give {other} too if yours is kept cooler")


def _housed(outdoor: HourlyAir, kind: str, room: _Room, notes: list[str]) -> Place:
    heated = HEATED_DEFAULT_C if room.heated_C is None else room.heated_C
    dry = room.humidifier_percent or 0.0
    damp = 100.0 if room.dehumidifier_percent is None else room.dehumidifier_percent
    problems = []
    if dry > damp:
        problems.append(_under(room, "dehumidifier", "humidifier"))
    if room.cooled_C is not None and room.cooled_C < heated:
        problems.append(_under(room, "cooled", "heated"))
    if problems:
        raise InputError(tuple(problems))
    air = indoor_air(
        outdoor, heated_to_C=heated, cooled_to_C=room.cooled_C, humidifier_percent=dry,
        dehumidifier_percent=damp, added_kPa=room.added_kPa or 0.0,
    )  # fmt: skip
    most = HUMIDITY_RANGE_PERCENT[1]
    over = int(np.sum(air.humidity_percent > most))
    if 0 < over <= DAMP_SHARE * len(air.humidity_percent):
        notes.append(f"{over} hours above {most:g} percent humidity indoors taken as {most:g}")
        air = replace(air, humidity_percent=np.minimum(air.humidity_percent, most))
    return Place(
        name=outdoor.place,
        kind=kind,
        room=air,
        air_percent=moisture_in_air_percent(air),
        notes=(*outdoor.notes, *notes),
        assumptions=(*_assumed_heat(room), *_assumed_vapour(room)),
    )


def _room_of(table: object, where: str, typed: Mapping[str, Any]) -> _Room:
    """The room's table and the command line, both read, everything wrong answered at once."""
    if not isinstance(table, Mapping):
        remedy = "write [room] on a line of its own and its keys below"
        raise InputError(Problem(where, "room", repr(table)[:40], "a table of keys", remedy))
    problems = [
        Problem(where, f"room.{key}", repr(table[key])[:30], f"only {', '.join(ROOM_KEYS)}", "delete it")
        for key in table
        if key not in ROOM_KEYS
    ]
    found: dict[str, Any] = {}
    places: dict[str, tuple[str, str, str]] = {}
    for key in ROOM_KEYS:
        given, said = typed.get(key), {"humidity": "--indoor"}.get(key, f"--{key.replace('_', '-')}")
        place = ("", said) if given is not None else (where, f"room.{key}")
        value = table.get(key) if given is None else given
        if value is None:
            continue
        try:
            name, read = _READERS[key]
            found[name] = read(value)
            places[key] = (*place, repr(value)[:30])
        except InputError as error:
            problems += [replace(p, where=place[0], key=place[1]) for p in error.problems]
    if problems:
        raise InputError(tuple(problems))
    return _Room(**found, said=places)


def _temperature_C(text: object) -> float:
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d*)?)\s*°?\s*(?:deg\s*)?([CF])\s*", str(text))
    value = float(match[1]) if match else float("nan")
    if match and match[2] == "F":
        value = (value - 32) / 1.8
    least, most = TEMPERATURE_RANGE_C
    if not least <= value <= min(most, 50.0):
        expected = f"a temperature of a room, {least:.0f} to 50 C, with its unit"
        raise InputError(Problem("", "", repr(text)[:30], expected, 'write it like "20 C" or "68 F"'))
    return value


def _added_kPa(text: object) -> float:
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*g/m(?:3|³)\s*", str(text))
    if not match or float(match[1]) > MOST_ADDED_G_PER_M3:
        expected = f"vapour added to the room, 0 to {MOST_ADDED_G_PER_M3:g} g/m3"
        raise InputError(Problem("", "", repr(text)[:30], expected, 'write it like "3 g/m3"'))
    return float(match[1]) * KPA_PER_G_PER_M3


def _checked_humidity(text: object, low: float, high: float) -> None:
    least, most = LEAST_HUMIDITY_PERCENT, HUMIDITY_RANGE_PERCENT[1]
    if not least <= low <= high <= most:
        expected = f"humidity from {least:g} to {most:g} percent"
        raise InputError(Problem("", "", repr(text)[:30], expected, 'write it like "35 %"'))


def _humidity(text: object) -> float:
    value = float(read_quantity(text, replace(MOISTURE, name="a relative humidity in percent")))
    _checked_humidity(text, value, value)
    return value


def _humidity_range(text: object) -> tuple[float, float]:
    kind = replace(MOISTURE, name="a range of relative humidity", examples='"30 to 60 %"')
    low, high = (float(v) for v in read_range(text, kind))
    _checked_humidity(text, low, high)
    return low, high


def _month(text: object) -> int:
    if str(text).strip() in {str(m) for m in range(1, 13)}:
        return int(str(text))
    raise InputError(Problem("", "", repr(text)[:30], "a month from 1 to 12", "write 1 for January"))


_READERS: dict[str, tuple[str, Any]] = {
    "heated": ("heated_C", _temperature_C),
    "cooled": ("cooled_C", _temperature_C),
    "humidifier": ("humidifier_percent", _humidity),
    "dehumidifier": ("dehumidifier_percent", _humidity),
    "added": ("added_kPa", _added_kPa),
    "humidity": ("humidity_percent", _humidity_range),
    "driest_month": ("driest_month", _month),
}
