"""The bowl file: reading what a maker writes, answering what is wrong with it, all at once.

Each table of the file is a pydantic model whose fields are read by :mod:`fitsim.quantities`; the
words of every complaint are ours. Lengths stay exact fractions until :mod:`fitsim.assume` has filled
what was left out.
"""

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError

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

__all__ = ["BowlTables", "Ends", "read_tables", "tables_of_file"]

LARGEST_FILE_BYTES = 100_000


class Ends(NamedTuple):
    """Low and high end of a value that may be written as a range."""

    low: Fraction
    high: Fraction


_EMPTY_LIST = Problem("", "", "[]", "a value, or a list with one for each turn", "fill the list")
GRAIN_DEG = {"flat-sawn": 0, "rift-sawn": 45, "quarter-sawn": 90}


def _one(dimension: Dimension) -> PlainValidator:
    return PlainValidator(lambda text: read_quantity(text, dimension))


def _ends(dimension: Dimension) -> PlainValidator:
    return PlainValidator(lambda text: Ends(*read_range(text, dimension)))


def _each(dimension: Dimension) -> PlainValidator:
    """One value or a list with one for each turn."""

    def read(text: object) -> tuple[Fraction, ...]:
        if isinstance(text, list):
            if not text:
                raise InputError(_EMPTY_LIST)
            return tuple(read_quantity(item, dimension) for item in text)
        return (read_quantity(text, dimension),)

    return PlainValidator(read)


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


def _word(choices: tuple[str, ...]) -> PlainValidator:
    def read(text: object) -> str:
        word = str(text).strip().lower()
        if word in choices:
            return word
        close = difflib.get_close_matches(word, choices, n=1, cutoff=0.5)
        listed = ", ".join(f'"{c}"' for c in choices)
        remedy = f"did you mean {close[0]!r}?" if close else "write one of those"
        raise InputError(Problem("", "", repr(text), f"one of {listed}", remedy))

    return PlainValidator(read)


def _name(text: object) -> str:
    if isinstance(text, str) and 0 < len(text.strip()) <= 200:
        return text.strip()
    raise InputError(Problem("", "", repr(text)[:30], "a name in quotes", 'write it like "cherry"'))


Name = Annotated[str, PlainValidator(_name)]
Length = Annotated[Fraction, _one(LENGTH)]
Percent = Annotated[Fraction, _one(MOISTURE)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class BoardTable(_Table):
    """The blank, as written; lengths in mm, moisture in percent, angles in degrees."""

    thickness: Length
    across: Length
    wood: Name | None = None
    outline: Annotated[Literal["round", "square"], _word(("round", "square"))] | None = None
    moisture: Percent | None = None
    grain: Annotated[Fraction, PlainValidator(_grain)] | None = None


class CutTable(_Table):
    """The cut, as written; lengths in mm, angles in degrees, feed in mm/min."""

    tilt: Annotated[tuple[Fraction, ...], _each(ANGLE)]
    kerf: Annotated[Ends | tuple[Fraction, ...], PlainValidator(_kerf)] | None = None
    blade_body: Length | None = None
    blade_set: Length | None = None
    pitch: Length | None = None
    turns: Annotated[Fraction, _one(RATIO)] | None = None
    base: Length | None = None
    blade: Length | None = None
    root: Annotated[Fraction, _one(ANGLE)] | None = None
    feed: Annotated[Fraction, _one(FEED)] | None = None


class UseTable(_Table):
    """Finish, press and present moisture, as written; N, mm, percent."""

    finish: Annotated[str, _word(FINISHES)] | None = None
    press: Annotated[Fraction, _one(FORCE)] | None = None
    friction: Annotated[Ends, _ends(RATIO)] | None = None
    film: Annotated[Ends, _ends(LENGTH)] | None = None
    base_moisture: Percent | None = None
    turn_moisture: Annotated[tuple[Fraction, ...], _each(MOISTURE)] | None = None


class LimitsTable(_Table):
    """Where one state ends and the next begins, as written; ratios, and mm for the slot."""

    slot_left: Length | None = None
    overlap: Annotated[Fraction, _one(RATIO)] | None = None
    hold_used: Annotated[Fraction, _one(RATIO)] | None = None
    split_chance: Annotated[Fraction, _one(RATIO)] | None = None


class BowlTables(_Table):
    """A whole bowl file as written."""

    board: BoardTable
    cut: CutTable
    use: UseTable = Field(default_factory=UseTable)
    limits: LimitsTable = Field(default_factory=LimitsTable)
    name: Name = "Bowl"


_NEEDED = {
    "board": ("the [board] table", "add [board] with thickness and across"),
    "cut": ("the [cut] table", "add [cut] with tilt"),
    "board.thickness": ("the board's thickness", 'add a line: thickness = "18 mm"'),
    "board.across": ("the board's diameter or side", 'add a line: across = "150 mm"'),
    "cut.tilt": ("the tilt of the saw table", 'add a line: tilt = "6 deg"'),
}
_TABLES: dict[str, type[BaseModel]] = {
    "": BowlTables,
    "board": BoardTable,
    "cut": CutTable,
    "use": UseTable,
    "limits": LimitsTable,
}


def _unknown_key(where: str, path: tuple[str, ...], value: object) -> Problem:
    """Answer a key nobody knows: near spelling, or a known key in the wrong table."""
    *table, name = path
    known = list(_TABLES[table[0] if table else ""].model_fields)
    key = ".".join(path)
    shown = repr(value)[:40]
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    if close:
        return Problem(where, key, shown, "a key this table has", f"did you mean {close[0]!r}?")
    for other, model in _TABLES.items():
        if name in model.model_fields:
            place = f"under [{other}]" if other else "above the first table"
            return Problem(where, key, shown, "a key this table has", f"move it to stand {place}")
    listed = ", ".join(known)
    return Problem(where, key, shown, f"one of the keys {listed}", "delete it or correct it")


def _problems_of(where: str, error: ValidationError) -> list[Problem]:
    problems = []
    for item in error.errors():
        path = tuple(str(step) for step in item["loc"])
        key = ".".join(path)
        cause = item.get("ctx", {}).get("error")
        if isinstance(cause, InputError):
            problems += [replace(p, where=where, key=key) for p in cause.problems]
        elif item["type"] == "missing":
            expected, remedy = _NEEDED[key]
            problems.append(Problem(where, key, "", expected, remedy))
        elif item["type"] == "extra_forbidden":
            problems.append(_unknown_key(where, path, item["input"]))
        else:
            shown = repr(item["input"])[:40]
            remedy = f"write [{path[0]}] on a line of its own and its keys below"
            problems.append(Problem(where, key, shown, "a table of keys", remedy))
    return problems


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
    try:
        return BowlTables.model_validate(dict(tables))
    except ValidationError as error:
        raise InputError(tuple(_problems_of(where, error))) from error


def tables_of_file(path: str | Path) -> dict[str, Any]:
    """Load the TOML of a bowl file.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    InputError
        If it cannot be opened or is not TOML, in one line.
    """
    where = str(path)
    try:
        raw = Path(path).read_bytes()
    except FileNotFoundError:
        remedy = "check the name, or write one with: fitsim new FILE"
        expected = "a bowl file, and there is none of that name"
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        expected = f"a bowl file that can be read ({reason})"
        raise InputError(Problem(where, "file", "", expected, "check the name")) from None
    if len(raw) > LARGEST_FILE_BYTES:
        expected = f"a bowl file, at most {LARGEST_FILE_BYTES // 1000} kB"
        size = f"{len(raw) // 1000} kB"
        raise InputError(Problem(where, "file", size, expected, "check that it is the right file"))
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        expected = "plain text in UTF-8"
        raise InputError(Problem(where, "file", "", expected, "save it again as UTF-8")) from None
    except tomllib.TOMLDecodeError as error:
        expected = "a TOML file"
        remedy = f'{str(error).lower()}; values stand in quotes, like tilt = "6 deg"'
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
