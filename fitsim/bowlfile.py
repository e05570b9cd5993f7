"""The bowl file: reading what a maker writes, answering what is wrong with it, all at once.

Every key has its own reader (:data:`READERS`), made of :mod:`fitsim.quantities`. Values stay exact
fractions until :mod:`fitsim.assume` has filled what was left out.
"""

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, NamedTuple

from fitsim.errors import InputError, Problem
from fitsim.finish import FINISHES
from fitsim.quantities import (
    ANGLE,
    FEED,
    FORCE,
    LENGTH,
    MOISTURE,
    RATIO,
    Dimension,
    read_quantity,
    read_range,
)

__all__ = [
    "PLACE_TABLES",
    "READERS",
    "BoardTable",
    "BowlTables",
    "CutTable",
    "Ends",
    "LimitsTable",
    "ScatterTable",
    "UseTable",
    "read_tables",
]


PLACE_TABLES = ("room", "weather")
"""Tables that say where the bowl is kept; only :mod:`fitsim.place` reads them."""


class Ends(NamedTuple):
    """Low and high end of a value that may be written as a range."""

    low: Fraction
    high: Fraction


_EMPTY_LIST = Problem("", "", "[]", "a value, or a list with one for each turn", "fill the list")
GRAIN_DEG = {"flat-sawn": 0, "rift-sawn": 45, "quarter-sawn": 90}


Reader = Callable[[object], Any]


def _one(dimension: Dimension) -> Reader:
    return lambda text: read_quantity(text, dimension)


def _ends(dimension: Dimension) -> Reader:
    return lambda text: Ends(*read_range(text, dimension))


def _each(dimension: Dimension) -> Reader:
    """One value or a list with one for each turn."""

    def read(text: object) -> tuple[Fraction, ...]:
        if isinstance(text, list):
            if not text:
                raise InputError(_EMPTY_LIST)
            return tuple(read_quantity(item, dimension) for item in text)
        return (read_quantity(text, dimension),)

    return read


def _kerf(text: object) -> tuple[Fraction, ...] | Ends:
    """One value or a range as :class:`Ends`, or a plain tuple with one value for each turn."""
    if isinstance(text, list):
        if not text:
            raise InputError(_EMPTY_LIST)
        return tuple(read_quantity(item, LENGTH) for item in text)
    return Ends(*read_range(text, LENGTH))


def _grain(text: object) -> Fraction:
    if isinstance(text, str) and text.strip().lower() in GRAIN_DEG:
        return Fraction(GRAIN_DEG[text.strip().lower()])
    words = '"flat-sawn", "rift-sawn", "quarter-sawn" or an angle such as "30 deg"'
    close = difflib.get_close_matches(str(text).strip().lower(), GRAIN_DEG, n=1, cutoff=0.5)
    if close:
        remedy = f"did you mean {close[0]!r}?"
        raise InputError(Problem("", "", repr(text), words, remedy))
    try:
        angle = read_quantity(text, ANGLE)
    except InputError as error:
        remedy = "write one of those"
        raise InputError(Problem("", "", repr(text), words, remedy)) from error
    if angle > 90:
        remedy = f"write {180 - angle} deg" if angle <= 180 else "measure it again"
        raise InputError(Problem("", "", repr(text), "an angle from 0 to 90 deg", remedy))
    return angle


def _word(*choices: str) -> Reader:
    def read(text: object) -> str:
        word = str(text).strip().lower()
        if word in choices:
            return word
        close = difflib.get_close_matches(word, choices, n=1, cutoff=0.5)
        listed = ", ".join(f'"{c}"' for c in choices)
        remedy = f"did you mean {close[0]!r}?" if close else "write one of those"
        raise InputError(Problem("", "", repr(text), f"one of {listed}", remedy))

    return read


def _name(text: object) -> str:
    if isinstance(text, str) and 0 < len(text.strip()) <= 200 and text.strip().isprintable():
        return text.strip()
    raise InputError(Problem("", "", repr(text)[:30], "a name in quotes", 'write it like "cherry"'))


@dataclass(frozen=True)
class BoardTable:
    """The blank, as written; lengths in mm, moisture in percent, angles in degrees; None: left out."""

    thickness: Fraction
    across: Fraction
    wood: str | None = None
    outline: str | None = None
    moisture: Fraction | None = None
    grain: Fraction | None = None
    pith: Fraction | None = None


@dataclass(frozen=True)
class CutTable:
    """The cut, as written; lengths in mm, angles in degrees, feed in mm/min; None: left out.

    ``kerf`` is :class:`Ends` for one value or a range, a plain tuple for one value a turn.
    """

    tilt: tuple[Fraction, ...]
    kerf: Ends | tuple[Fraction, ...] | None = None
    blade_body: Fraction | None = None
    blade_set: Fraction | None = None
    pitch: tuple[Fraction, ...] | None = None
    turns: Fraction | None = None
    base: Fraction | None = None
    blade: Fraction | None = None
    root: Fraction | None = None
    feed: Fraction | None = None


@dataclass(frozen=True)
class UseTable:
    """Finish, press and present moisture, as written; N, mm, percent; None: left out."""

    finish: str | None = None
    press: Fraction | None = None
    friction: Ends | None = None
    film: Ends | None = None
    base_moisture: Fraction | None = None
    turn_moisture: tuple[Fraction, ...] | None = None


@dataclass(frozen=True)
class LimitsTable:
    """Where one state ends and the next begins, as written; ratios, and mm for the slot."""

    slot_left: Fraction | None = None
    overlap: Fraction | None = None
    friction_used: Fraction | None = None
    press_spare: Fraction | None = None
    split_chance: Fraction | None = None


@dataclass(frozen=True)
class ScatterTable:
    """Standard deviations of the cut, as written; lengths in mm, angles in degrees; None: left out."""

    kerf: Fraction | None = None
    kerf_length: Fraction | None = None
    tilt: Fraction | None = None
    thickness: Fraction | None = None


@dataclass(frozen=True)
class BowlTables:
    """A whole bowl file as written."""

    board: BoardTable
    cut: CutTable
    use: UseTable
    limits: LimitsTable
    scatter: ScatterTable
    name: str


READERS: dict[str, dict[str, Reader]] = {
    "board": {
        "thickness": _one(LENGTH),
        "across": _one(LENGTH),
        "wood": _name,
        "outline": _word("round", "square"),
        "moisture": _one(MOISTURE),
        "grain": _grain,
        "pith": _one(LENGTH),
    },
    "cut": {
        "tilt": _each(ANGLE),
        "kerf": _kerf,
        "blade_body": _one(LENGTH),
        "blade_set": _one(LENGTH),
        "pitch": _each(LENGTH),
        "turns": _one(RATIO),
        "base": _one(LENGTH),
        "blade": _one(LENGTH),
        "root": _one(ANGLE),
        "feed": _one(FEED),
    },
    "use": {
        "finish": _word(*FINISHES),
        "press": _one(FORCE),
        "friction": _ends(RATIO),
        "film": _ends(LENGTH),
        "base_moisture": _one(MOISTURE),
        "turn_moisture": _each(MOISTURE),
    },
    "limits": {
        "slot_left": _one(LENGTH),
        "overlap": _one(RATIO),
        "friction_used": _one(RATIO),
        "press_spare": _one(RATIO),
        "split_chance": _one(RATIO),
    },
    "scatter": {
        "kerf": _one(LENGTH),
        "kerf_length": _one(LENGTH),
        "tilt": _one(ANGLE),
        "thickness": _one(LENGTH),
    },
}
"""Reader of every key, by table."""

FAILED_BOWL = ("seen", "measured")
"""Tables that only ``fitsim explain`` reads; see :mod:`fitsim.seen`."""

PLANNED = ("want",)
"""Table that only ``fitsim plan`` reads; see :mod:`fitsim.wish`."""

_NEEDED = {
    "board": ("the [board] table", "add [board] with thickness and across"),
    "cut": ("the [cut] table", "add [cut] with tilt"),
    "board.thickness": ("the board's thickness", 'add a line: thickness = "18 mm"'),
    "board.across": ("the board's diameter or side", 'add a line: across = "150 mm"'),
    "cut.tilt": ("the tilt of the saw table", 'add a line: tilt = "6 deg"'),
}


def _unknown_key(where: str, path: tuple[str, ...], value: object) -> Problem:
    """Answer a key nobody knows: near spelling, or a known key in the wrong table."""
    *table, name = path
    known = list(READERS[table[0]]) if table else [*READERS, *PLACE_TABLES, *FAILED_BOWL, *PLANNED, "name"]
    key = ".".join(path)
    shown = repr(value)[:40]
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    if close:
        return Problem(where, key, shown, "a key this table has", f"did you mean {close[0]!r}?")
    for other, readers in READERS.items():
        if name in readers:
            remedy = f"move it to stand under [{other}]"
            return Problem(where, key, shown, "a key this table has", remedy)
    listed = ", ".join(known)
    return Problem(where, key, shown, f"one of the keys {listed}", "delete it or correct it")


def _refuse_other_file(where: str, tables: Mapping[str, Any]) -> None:
    """One line for a file of test cuts or a saw file, in place of one for each of its keys."""
    if "cut" in tables:
        return
    saw = tables.get("saw")
    learned = {"friction": "slides", "strength": "strips", "moisture": "sd"}
    tests = ("ring", "slot", "bevel", "slide", "break", "oven", "meter")
    if any(isinstance(tables.get(kind), list) for kind in tests):
        kind, remedy = "file of test cuts", "use it with: fitsim testcut FILE"
    elif isinstance(saw, Mapping) and "tilt_offset" in saw:
        kind, remedy = "saw file", "give the bowl file first, and this one after --saw"
    elif any(isinstance(t := tables.get(k), Mapping) and key in t for k, key in learned.items()):
        kind, remedy = "file of what tests taught", "give the bowl file first, and this one after --learned"
    else:
        return
    raise InputError(Problem(where, "file", "", f"a bowl file; this is a {kind}", remedy))


def _read_table(where: str, table: str, given: object) -> tuple[dict[str, Any], list[Problem]]:
    """Values of one table and everything wrong with it."""
    if not isinstance(given, Mapping):
        remedy = f"write [{table}] on a line of its own and its keys below"
        return {}, [Problem(where, table, repr(given)[:40], "a table of keys", remedy)]
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for key, value in given.items():
        path = f"{table}.{key}"
        if key not in READERS[table]:
            problems.append(_unknown_key(where, (table, key), value))
            continue
        try:
            values[key] = READERS[table][key](value)
        except InputError as error:
            problems += [replace(problem, where=where, key=path) for problem in error.problems]
    for path, (expected, remedy) in _NEEDED.items():
        needed_table, _, key = path.partition(".")
        if needed_table == table and key and key not in given:
            problems.append(Problem(where, path, "", expected, remedy))
    return values, problems


def read_tables(tables: Mapping[str, Any], *, where: str = "") -> BowlTables:
    """Read the tables of a bowl, every key by its own rule.

    Parameters
    ----------
    tables : Mapping
        Tables by name, as TOML gives them.
    where : str
        File name for the error messages.

    Returns
    -------
    BowlTables
        Exact values; None where a key was left out.

    Raises
    ------
    InputError
        With every problem found.
    """
    _refuse_other_file(where, tables)
    read: dict[str, dict[str, Any]] = {}
    problems: list[Problem] = []
    for table in READERS:
        if table in _NEEDED and table not in tables:
            expected, remedy = _NEEDED[table]
            problems.append(Problem(where, table, "", expected, remedy))
            continue
        read[table], found = _read_table(where, table, tables.get(table, {}))
        problems += found
    for key in tables:
        if key not in READERS and key not in (*PLACE_TABLES, *FAILED_BOWL, *PLANNED, "name"):
            problems.append(_unknown_key(where, (key,), tables[key]))
    name = "Bowl"
    try:
        name = _name(tables.get("name", name))
    except InputError as error:
        problems += [replace(problem, where=where, key="name") for problem in error.problems]
    if problems:
        raise InputError(tuple(problems))
    return BowlTables(
        board=BoardTable(**read["board"]),
        cut=CutTable(**read["cut"]),
        use=UseTable(**read["use"]),
        limits=LimitsTable(**read["limits"]),
        scatter=ScatterTable(**read["scatter"]),
        name=name,
    )
