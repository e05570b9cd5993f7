"""Why a bowl may have failed: every cause a change to the inputs, with its chance and its size.

The list is ``fitsim/data/causes.csv``, one row for one change; a cause that changes two things has two
rows of one name. A stranger adds a cause by a row: no code, as long as its quantity is one that
:data:`QUANTITIES` names. Every chance and size there is an estimate unless its row says otherwise.
"""

import csv
import io
import math
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem, escaped
from fitsim.files import file_name, read_whole
from fitsim.tables import read_table

__all__ = [
    "LAWS",
    "QUANTITIES",
    "Cause",
    "CauseChange",
    "causes",
    "causes_of_bytes",
    "causes_of_file",
    "causes_of_rows",
]

QUANTITIES = (
    "tilt_deg", "kerf_mm", "kerf_times", "kerf_wander_mm", "kerf_inner_mm", "thickness_mm",
    "reversed_to_turn", "reversed_from_turn", "wrong_face", "nail_missing", "nail_split",
    "nail_pins_next", "turns_short", "thinned_share",
    "friction_times", "film_mm", "rim_points", "slot_closed_mm", "grain_out_times", "press_times",
    "strength_times",
)  # fmt: skip
"""What a cause may change; how each acts stands in :mod:`fitsim.failure.failed_samples`."""

LARGEST_TABLE_BYTES = 200_000
"""The packaged table takes 5 kB."""

LONGEST_CELL, MOST_CAUSES, MOST_PROBLEMS = 400, 200, 20
MORE = "more cells"
"""Where cells beyond the last column are kept."""

TIMES = tuple(name for name in QUANTITIES if name.endswith("_times"))
LAWS = ("more", "less", "either", "turn", "turn less", "flag")
NEXT_TIME = ("stays", "undone")
COLUMNS = (
    "cause",
    "words",
    "chance",
    "quantity",
    "law",
    "middle",
    "spread",
    "next_time",
    "mark",
    "source",
    "cure",
)


@dataclass(frozen=True)
class CauseChange:
    """One change to the inputs.

    Attributes
    ----------
    quantity : str
        One of :data:`QUANTITIES`; its name carries the unit.
    law : str
        "more" and "less": a size of that sign, log-normal about the middle; "either": of either sign;
        "turn": a turn picked evenly; "turn less": a size at a turn picked evenly; "flag": it is so.
        What is multiplied (``_times``) is multiplied by the size itself.
    middle, spread : float
        Median of the size, in the quantity's unit, and standard deviation of its logarithm. [unit]
    """

    quantity: str
    law: str
    middle: float
    spread: float


@dataclass(frozen=True)
class Cause:
    """One cause.

    Attributes
    ----------
    name, words : str
        A short name, and what a maker reads.
    chance : float
        Chance that it acts on a bowl about which nothing is known. [-]
    changes : tuple[CauseChange, ...]
        What it changes.
    stays : bool
        Whether it would act on the next bowl too unless something is done about it.
    mark, source : str
        "published", "from memory" or "estimated", and where chance and size come from.
    cure : str
        What to do about it, an instruction.
    """

    name: str
    words: str
    chance: float
    changes: tuple[CauseChange, ...]
    stays: bool
    mark: str
    source: str
    cure: str


@cache
def causes() -> tuple[Cause, ...]:
    """The packaged causes.

    Returns
    -------
    tuple[Cause, ...]
        In the order of the table.
    """
    return causes_of_rows(read_table("causes"), where="causes.csv")


def causes_of_file(path: Path) -> tuple[Cause, ...]:
    """The causes of a table of one's own, with the columns of the packaged one.

    Parameters
    ----------
    path : pathlib.Path
        A CSV file; ``-`` is standard input.

    Returns
    -------
    tuple[Cause, ...]
        In the order of the table.

    Raises
    ------
    InputError
        One line for every problem.
    """
    raw = read_whole(path, kind="table of causes", most_bytes=LARGEST_TABLE_BYTES)
    return causes_of_bytes(raw, where=file_name(path))


def causes_of_bytes(raw: bytes, *, where: str) -> tuple[Cause, ...]:
    """The causes of a table already at hand.

    Parameters
    ----------
    raw : bytes
        The CSV file's contents.
    where : str
        Its name, for the error messages.

    Returns
    -------
    tuple[Cause, ...]
        In the order of the table.

    Raises
    ------
    InputError
        One line for every problem.
    """
    try:
        rows = tuple(csv.DictReader(io.StringIO(raw.decode("utf-8-sig")), restkey=MORE))
    except UnicodeDecodeError:
        expected = "plain text in UTF-8"
        raise InputError(Problem(where, "file", "", expected, "save it again as UTF-8")) from None
    except csv.Error as error:
        expected = f"a table with commas between its cells ({error})"
        raise InputError(Problem(where, "file", "", expected, "save it again as CSV")) from None
    return causes_of_rows(_whole_rows(rows, where), where=where)


def _whole_rows(rows: tuple[dict[str, Any], ...], where: str) -> tuple[dict[str, str], ...]:
    """Rows with every cell there, none too long, and nothing in them that a terminal would obey."""
    problems = []
    for number, row in enumerate(rows, 1):
        name = f"row {number}"
        missing = [column for column, cell in row.items() if cell is None and column != MORE]
        if missing:
            expected = f"a cell for each column; {', '.join(map(str, missing))} missing"
            problems.append(Problem(where, name, "", expected, "add what is missing, with its commas"))
        if MORE in row:
            expected, remedy = "no more cells than columns", "put a cell with a comma in it in quotes"
            problems.append(Problem(where, name, f"{len(row[MORE])} more", expected, remedy))
        problems += [
            Problem(where, f"{name}.{column}", f"{len(cell)} characters",
                    f"at most {LONGEST_CELL} characters", "shorten it")
            for column, cell in row.items() if isinstance(cell, str) and len(cell) > LONGEST_CELL
        ]  # fmt: skip
    if problems:
        raise InputError(tuple(problems[:MOST_PROBLEMS]))
    return tuple({column: escaped(cell) for column, cell in row.items()} for row in rows)


def causes_of_rows(rows: tuple[dict[str, str], ...], *, where: str) -> tuple[Cause, ...]:
    """Causes of the rows of a table.

    Parameters
    ----------
    rows : tuple[dict[str, str], ...]
        Rows by column name; rows of one cause stand together.
    where : str
        File name for the error messages.

    Returns
    -------
    tuple[Cause, ...]
        In the order of the table.

    Raises
    ------
    InputError
        One line for every problem.
    """
    missing = [name for name in COLUMNS if not rows or rows[0].get(name) is None]
    if missing:
        expected = f"the columns {', '.join(COLUMNS)}"
        raise InputError(Problem(where, "columns", "", expected, f"add {', '.join(missing)}"))
    problems: list[Problem] = []
    found = []
    for name, group in groupby(rows, key=lambda row: row["cause"]):
        mine = list(group)
        changes = tuple(_change(where, row, problems) for row in mine)
        row = mine[0]
        chance = _number(where, row, "chance", problems)
        if not 0 < chance < 1:
            problems.append(_wrong(where, row, "chance", "a chance above 0 and below 1"))
        if row["next_time"] not in NEXT_TIME:
            problems.append(_wrong(where, row, "next_time", " or ".join(NEXT_TIME)))
        stays = row["next_time"] == "stays"
        found.append(
            Cause(name, row["words"], chance, changes, stays, row["mark"], row["source"], row["cure"])
        )
    if len(found) > MOST_CAUSES:
        value, expected = f"{len(found)} causes", f"at most {MOST_CAUSES}"
        problems.append(Problem(where, "cause", value, expected, "leave out those that do not matter"))
    names = [cause.name for cause in found]
    if len(set(names)) < len(names):
        problems.append(Problem(where, "cause", "", "the rows of one cause together", "sort the rows"))
    if problems:
        raise InputError(tuple(problems))
    return tuple(found)


def _wrong(where: str, row: dict[str, str], column: str, expected: str) -> Problem:
    return Problem(where, f"{row['cause']}.{column}", repr(row[column]), expected, "correct that cell")


def _number(where: str, row: dict[str, str], column: str, problems: list[Problem]) -> float:
    try:
        value = float(row[column])
    except (TypeError, ValueError):
        value = math.nan
    if not math.isfinite(value):
        problems.append(_wrong(where, row, column, "a number"))
    return value


def _change(where: str, row: dict[str, str], problems: list[Problem]) -> CauseChange:
    if row["quantity"] not in QUANTITIES:
        problems.append(_wrong(where, row, "quantity", f"one of {', '.join(QUANTITIES)}"))
    if row["law"] not in LAWS:
        problems.append(_wrong(where, row, "law", f"one of {', '.join(LAWS)}"))
    middle, spread = (_number(where, row, name, problems) for name in ("middle", "spread"))
    if middle <= 0 or spread < 0:
        problems.append(_wrong(where, row, "middle", "a middle above 0 and a spread of 0 or more"))
    return CauseChange(row["quantity"], row["law"], middle, spread)
