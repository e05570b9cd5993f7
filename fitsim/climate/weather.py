"""Weather and air through a year, hour by hour: EPW files, monthly means, a simple indoor range.

An EPW file has eight header lines and then one row an hour; only the day, the hour, temperature,
humidity and pressure are read here. What is missing for a short while is bridged by a straight line
and counted; anything else that is wrong is refused in one line with its place.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only
from fitsim.errors import InputError, Problem, escaped, shortened
from fitsim.files import file_name, read_whole

__all__ = [
    "LONGEST_GAP_H",
    "MONTH_DAYS",
    "STANDARD_PRESSURE_KPA",
    "HourlyAir",
    "air_range",
    "epw_air",
    "monthly_weather",
    "read_epw",
    "weather_of_tables",
]

MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
HOURS = (8760, 8784)
HEADER_LINES = 8
STANDARD_PRESSURE_KPA = 101.325
LONGEST_GAP_H = 48
"""Missing hours in one run that are bridged by a straight line (our choice); wood hardly notices."""

GREATEST_FILE_BYTES = 20_000_000
MOST_PROBLEMS = 5
MOST_LINES, MOST_CELLS = 20_000, 40
"""Lines and cells that are taken apart at most; a year has 8768 lines, and ten cells of each are read."""

LONGEST_PLACE = 100
"""Characters of a place's name."""


@dataclass(frozen=True)
class _Column:
    """One column of the file: its place, its missing code and what can be."""

    name: str
    place: int
    missing_from: float
    least: float
    most: float
    unit: str


# Missing codes 99.9, 999 and 999999: EPW data dictionary of the format's own documentation (from
# memory; one converter's settings, read, take 999 for temperature too).
_COLUMNS = (
    _Column("temperature", 6, 99.9, -70.0, 70.0, "deg C"),
    _Column("humidity", 8, 999.0, 0.0, 110.0, "percent"),
    _Column("pressure", 9, 999999.0, 31000.0, 120000.0, "Pa"),
)


@dataclass(frozen=True, eq=False)
class HourlyAir:
    """Air hour by hour, outdoors or in a room; every array of shape (n,).

    Attributes
    ----------
    place : str
        Where it is, for people to read.
    temperature_C : numpy.ndarray
        Temperature. [deg C]
    humidity_percent : numpy.ndarray
        Relative humidity, over water also below freezing. [percent]
    pressure_kPa : numpy.ndarray
        Air pressure. [kPa]
    notes : tuple[str, ...]
        What was filled or cut off on reading.
    """

    place: str
    temperature_C: Array
    humidity_percent: Array
    pressure_kPa: Array
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse unlike lengths and make the arrays read-only."""
        names = ("temperature_C", "humidity_percent", "pressure_kPa")
        for name in names:
            object.__setattr__(self, name, read_only(getattr(self, name)))
        if len({getattr(self, name).shape for name in names}) > 1:
            message = "temperature, humidity and pressure need one value for each hour"
            raise ValueError(message)


def read_epw(path: Path | str) -> HourlyAir:
    """Read one year of hourly weather from an EPW file.

    Parameters
    ----------
    path : pathlib.Path or str
        The file, text in UTF-8 or Latin-1; ``-`` is standard input.

    Returns
    -------
    HourlyAir
        8760 hours, or 8784 in a leap year, from the first of January.

    Raises
    ------
    InputError
        One line for each thing that is wrong, with the line of the file it stands on.
    """
    raw = read_whole(path, kind="weather file", most_bytes=GREATEST_FILE_BYTES)
    return epw_air(raw, where=file_name(path))


def epw_air(raw: bytes, *, where: str) -> HourlyAir:
    """One year of hourly weather from the contents of an EPW file.

    Parameters
    ----------
    raw : bytes
        The contents, text in UTF-8 or Latin-1.
    where : str
        The file's name, for messages.

    Returns
    -------
    HourlyAir
        8760 hours, or 8784 in a leap year, from the first of January.

    Raises
    ------
    InputError
        One line for each thing that is wrong, with the line of the file it stands on.
    """
    if max(raw.count(b"\n"), raw.count(b"\r")) > MOST_LINES:
        expected = f"{HOURS[0]} hourly rows, or {HOURS[1]} with a leap day"
        remedy = "choose a file of one whole year"
        raise InputError(Problem(where, "length", f"over {MOST_LINES} lines", expected, remedy))
    # At line ends alone: splitlines also splits at signs that a name in the header may hold.
    lines = _text_of(raw).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not lines[0].upper().startswith("LOCATION,"):
        expected = "an EPW file, whose first line begins with LOCATION"
        raise InputError(Problem(where, "line 1", "", expected, "choose an EPW weather file"))
    rows = [
        (number, line.split(",", MOST_CELLS))
        for number, line in enumerate(lines, 1)
        if number > HEADER_LINES and line.strip()
    ]
    _check_header(lines[:HEADER_LINES], where)
    values = _values_of(rows, where)
    _check_calendar(rows, where)
    filled, notes = _filled(values, rows, where)
    if np.any(filled[1] > 100):
        notes.append(f"{int(np.sum(filled[1] > 100))} hours above 100 percent humidity taken as 100")
    named = (part.strip() for part in lines[0].split(",", 4)[1:4] if part.strip(" -"))
    place = shortened(escaped(", ".join(named)), LONGEST_PLACE)
    return HourlyAir(
        place=place,
        temperature_C=filled[0],
        humidity_percent=np.minimum(filled[1], 100),
        pressure_kPa=filled[2] / 1000,
        notes=tuple(notes),
    )


def _text_of(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _check_header(header: list[str], where: str) -> None:
    """Eight lines, the last of which says how many rows an hour has."""
    last = header[-1].split(",", MOST_CELLS)
    if len(header) < HEADER_LINES or last[0].strip().upper() != "DATA PERIODS":
        expected = "eight header lines, the last beginning with DATA PERIODS"
        raise InputError(Problem(where, f"line {len(header)}", "", expected, "get the whole file again"))
    if len(last) > 2 and last[2].strip() != "1":
        expected = "1 row an hour"
        remedy = "choose an hourly file"
        raise InputError(Problem(where, f"line {HEADER_LINES}", last[2].strip()[:20], expected, remedy))


def _values_of(rows: list[tuple[int, list[str]]], where: str) -> Array:
    """The three columns, shape (3, n), missing as NaN; everything unreadable is answered at once."""
    problems: list[Problem] = []
    values = np.full((len(_COLUMNS), len(rows)), np.nan)
    for at, (number, parts) in enumerate(rows):
        if len(parts) < 10:
            expected = "a row of at least 10 values between commas"
            remedy = "get the whole file again"
            problems.append(Problem(where, f"line {number}", "", expected, remedy))
            continue
        for which, column in enumerate(_COLUMNS):
            given = parts[column.place].strip()
            value = _number(given)
            if given and (math.isnan(value) or not _possible(value, column)):
                expected = f"{column.least:g} to {column.most:g} {column.unit}"
                remedy = f"correct it, or write {column.missing_from:g} for missing"
                key = f"line {number}, {column.name}"
                problems.append(Problem(where, key, given[:20], expected, remedy))
            elif given and value < column.missing_from:
                values[which, at] = value
    if problems:
        raise InputError(_shortened(problems, where))
    return values


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _possible(value: float, column: _Column) -> bool:
    return column.least <= value <= column.most or value >= column.missing_from


def _shortened(problems: list[Problem], where: str) -> tuple[Problem, ...]:
    if len(problems) <= MOST_PROBLEMS:
        return tuple(problems)
    more = f"{len(problems) - MOST_PROBLEMS} more such places"
    last = Problem(where, more, "", "the same", "get the whole file again")
    return (*problems[:MOST_PROBLEMS], last)


def _check_calendar(rows: list[tuple[int, list[str]]], where: str) -> None:
    """Every hour of the year once, in order."""
    if len(rows) not in HOURS:
        expected = f"{HOURS[0]} hourly rows, or {HOURS[1]} with a leap day"
        found = f"{len(rows)} rows"
        raise InputError(Problem(where, "length", found, expected, "choose a file of one whole year"))
    days = [(m, d + 1) for m, many in enumerate(MONTH_DAYS, 1) for d in range(many)]
    if len(rows) == HOURS[1]:
        days.insert(31 + 28, (2, 29))
    first = 0 if rows[0][1][3].strip() in {"0", "00"} else 1
    wanted = [(m, d, h) for m, d in days for h in range(first, first + 24)]
    for (number, parts), due in zip(rows, wanted, strict=True):
        given = tuple(_number(part) for part in parts[1:4])
        if given != due:
            expected = f"month {due[0]}, day {due[1]}, hour {due[2]}"
            found = ", ".join(part.strip()[:8] for part in parts[1:4])
            remedy = "a row is missing, twice there or out of order: get the whole file again"
            raise InputError(Problem(where, f"line {number}", found, expected, remedy))


def _filled(values: Array, rows: list[tuple[int, list[str]]], where: str) -> tuple[Array, list[str]]:
    """Bridge short gaps, round the turn of the year too; pressure alone may miss altogether."""
    filled, notes = values.copy(), []
    count = values.shape[1]
    hours = np.arange(count)
    for which, column in enumerate(_COLUMNS):
        missing = np.isnan(values[which])
        if column.name == "pressure" and missing.all():
            filled[which] = 1000 * STANDARD_PRESSURE_KPA
            notes.append(f"no pressure in the file: {STANDARD_PRESSURE_KPA:g} kPa taken")
            continue
        start, longest = _longest_run(missing)
        if longest > LONGEST_GAP_H:
            key = f"line {rows[start][0]}, {column.name}"
            expected = f"at most {LONGEST_GAP_H} missing hours in a row"
            remedy = "choose a file with fewer gaps"
            raise InputError(Problem(where, key, f"{longest} missing", expected, remedy))
        if missing.any():
            known = values[which][~missing]
            filled[which] = np.interp(hours, hours[~missing], known, period=count)
            notes.append(f"{int(missing.sum())} missing hours of {column.name} bridged")
    return filled, notes


def _longest_run(missing: BoolArray) -> tuple[int, int]:
    """Start and length of the longest run, taken round the turn of the year."""
    if missing.all():
        return 0, len(missing)
    shift = int(np.argmin(missing))
    turned = np.concatenate([np.roll(missing, -shift).astype(np.int64), [0]])
    steps = np.diff(turned, prepend=0)
    starts, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    if not len(starts):
        return 0, 0
    at = int(np.argmax(ends - starts))
    return int(starts[at] + shift) % len(missing), int((ends - starts)[at])


def monthly_weather(
    *,
    temperature_C: Sequence[float],
    humidity_percent: Sequence[float],
    pressure_kPa: float = STANDARD_PRESSURE_KPA,
    place: str = "monthly means",
) -> HourlyAir:
    """A year that has given monthly means: straight lines from mid-month to mid-month.

    The corners of the lines are solved for so that every month has exactly its mean. Days and nights
    are not in it: the base does not notice, a thin strip would follow them by a small share.

    Parameters
    ----------
    temperature_C, humidity_percent : sequence of float
        Twelve means, January first. [deg C, percent]
    pressure_kPa : float
        Air pressure. [kPa]
    place : str
        Its name.

    Returns
    -------
    HourlyAir
        8760 hours; humidity stays within 1 and 100 percent.

    Raises
    ------
    ValueError
        If there are not twelve values of each.

    Examples
    --------
    >>> year = monthly_weather(temperature_C=[3] * 6 + [12] * 6, humidity_percent=[80] * 12)
    >>> round(float(year.temperature_C[:744].mean()), 6)
    3.0
    """
    if len(temperature_C) != 12 or len(humidity_percent) != 12:
        message = "twelve monthly means are needed of each"
        raise ValueError(message)
    return HourlyAir(
        place=place,
        temperature_C=_through_means(temperature_C),
        humidity_percent=np.clip(_through_means(humidity_percent), 1, 100),
        pressure_kPa=np.full(HOURS[0], pressure_kPa),
    )


def _through_means(means: Sequence[float]) -> Array:
    ends = np.cumsum((0, *MONTH_DAYS)) * 24.0
    middles = (ends[1:] + ends[:-1]) / 2
    hours = np.arange(HOURS[0]) + 0.5
    corner = np.eye(12)
    hats = np.array([np.interp(hours, middles, row, period=HOURS[0]) for row in corner])
    month = np.searchsorted(ends, hours, side="right") - 1
    matrix = np.array([[hat[month == m].mean() for hat in hats] for m in range(12)])
    return np.asarray(np.linalg.solve(matrix, np.asarray(means, dtype=np.float64)) @ hats)


def air_range(
    *,
    temperature_C: float,
    driest_percent: float,
    wettest_percent: float,
    driest_month: int = 1,
    place: str = "indoor range",
) -> HourlyAir:
    """A room known only by how dry and how damp it gets: one smooth swing a year.

    Parameters
    ----------
    temperature_C : float
        Temperature of the room. [deg C]
    driest_percent, wettest_percent : float
        Relative humidity at its driest and, half a year away, at its dampest. [percent]
    driest_month : int
        1 for January; the middle of the month is the driest.
    place : str
        Its name.

    Returns
    -------
    HourlyAir
        8760 hours.

    Examples
    --------
    >>> room = air_range(temperature_C=20, driest_percent=30, wettest_percent=60, driest_month=3)
    >>> float(room.humidity_percent.min().round(3)), int(room.humidity_percent.argmin() // 24)
    (30.0, 74)
    """
    driest_h = 24 * (sum(MONTH_DAYS[: driest_month - 1]) + MONTH_DAYS[driest_month - 1] / 2)
    turn = 2 * np.pi * (np.arange(HOURS[0]) + 0.5 - driest_h) / HOURS[0]
    middle, swing = (driest_percent + wettest_percent) / 2, (wettest_percent - driest_percent) / 2
    return HourlyAir(
        place=place,
        temperature_C=np.full(HOURS[0], float(temperature_C)),
        humidity_percent=middle - swing * np.cos(turn),
        pressure_kPa=np.full(HOURS[0], STANDARD_PRESSURE_KPA),
    )


def weather_of_tables(given: Mapping[str, object], *, where: str) -> HourlyAir:
    """Monthly means as typed into a file: ``temperature_C`` and ``humidity_percent``, twelve of each.

    Parameters
    ----------
    given : Mapping[str, object]
        The table.
    where : str
        Name of the file, for messages.

    Returns
    -------
    HourlyAir
        The year through these means.

    Raises
    ------
    InputError
        One line for each thing that is wrong.
    """
    ranges = {"temperature_C": (-70.0, 70.0), "humidity_percent": (1.0, 100.0)}
    problems = [
        Problem(where, f"weather.{key}", repr(given[key])[:30], f"only {' and '.join(ranges)}", "delete it")
        for key in given
        if key not in ranges
    ]
    means: dict[str, list[float]] = {}
    for key, (least, most) in ranges.items():
        values = given.get(key)
        listed = list(values) if isinstance(values, list | tuple) else []
        if len(listed) != 12 or not all(_within(value, least, most) for value in listed):
            text = "" if values is None else repr(values)[:40]
            expected = f"twelve numbers from {least:g} to {most:g}, January first"
            problems.append(Problem(where, f"weather.{key}", text, expected, "write one for each month"))
        means[key] = listed
    if problems:
        raise InputError(tuple(problems))
    return monthly_weather(
        temperature_C=means["temperature_C"], humidity_percent=means["humidity_percent"], place=where
    )


def _within(value: object, least: float, most: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most
