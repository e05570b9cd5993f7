"""A store of rows that survives being killed: one SQLite file, a header that pins the question, and rows.

Rows are added in whole transactions with the classic rollback journal, so that a store killed at any
moment reopens with every finished batch in it and nothing half-written. The header says what was asked;
asking anything else of the same file is refused.
"""

import csv
import io
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem
from fitsim.files import check_target, write_whole

__all__ = ["SCHEMA", "Store", "header_of", "join_stores", "open_store", "rows_as_csv"]

SCHEMA = "1"
"""Of the store; another number is another arrangement of its tables."""

FOLLOWING = ("varied", "rows", "samples")
"""Keys of the header that follow from others."""

WAIT_s = 60.0
"""How long one run waits for another that is writing to the same file."""

Row = tuple[Any, ...]


class Store:
    """An open store; make one with :func:`open_store`."""

    def __init__(self, connection: sqlite3.Connection, path: str, columns: tuple[str, ...]) -> None:
        """Keep the open connection."""
        self._connection = connection
        self.path = path
        self.columns = columns

    def done(self) -> set[int]:
        """Numbers of the rows that are finished."""
        with _one_line(self.path):
            return {row for (row,) in self._connection.execute("SELECT row FROM rows")}

    def add(self, rows: Iterable[Row]) -> None:
        """Add finished rows in one transaction; a row that is there already stays as it is."""
        marks = ", ".join("?" * len(self.columns))
        with _one_line(self.path), _transaction(self._connection):
            self._connection.executemany(f"INSERT OR IGNORE INTO rows VALUES ({marks})", rows)

    def rows(self) -> list[Row]:
        """Every row, in order of its number."""
        with _one_line(self.path):
            return self._connection.execute("SELECT * FROM rows ORDER BY row").fetchall()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()


@contextmanager
def _one_line(path: str) -> Iterator[None]:
    """Answer what SQLite complains about in one line of our own."""
    try:
        yield
    except sqlite3.OperationalError as error:
        expected = f"a store that can be written ({str(error).lower()})"
        remedy = "close what else is using it, or choose another name"
        raise InputError(Problem(path, "store", "", expected, remedy)) from error
    except sqlite3.DatabaseError as error:
        expected = f"a store written by fitsim sweep ({str(error).lower()})"
        raise InputError(Problem(path, "store", "", expected, "choose another name")) from error


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _connect(path: str) -> sqlite3.Connection:
    # isolation_level None: transactions begin and end where this module says so.
    return sqlite3.connect(path, timeout=WAIT_s, isolation_level=None)


@contextmanager
def open_store(
    path: str | Path | None, header: Mapping[str, str], columns: Sequence[str]
) -> Iterator[Store]:
    """Open a store for one question, making it if there is none.

    Parameters
    ----------
    path : str, pathlib.Path or None
        The file; None keeps the rows in memory and loses them at the end.
    header : Mapping[str, str]
        What was asked, key by key.
    columns : Sequence[str]
        Names of the columns, the first one "row".

    Yields
    ------
    Store
        The open store.

    Raises
    ------
    InputError
        If the file holds another question (the key that differs is named) or is no store.
    """
    where = "" if path is None else str(path)
    if path is not None and not Path(path).exists():
        check_target(Path(path), replace=False)
    with _one_line(where), closing(_connect(":memory:" if path is None else where)) as connection:
        with _transaction(connection):
            if not _tables(connection):
                _make(connection, header, columns)
        _same_question(where, _header(connection, where), dict(header))
        yield Store(connection, where, tuple(columns))


def _tables(connection: sqlite3.Connection) -> set[str]:
    return {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}


def _make(connection: sqlite3.Connection, header: Mapping[str, str], columns: Sequence[str]) -> None:
    first, *others = (f'"{name}"' for name in columns)
    listed = ", ".join([f"{first} INTEGER PRIMARY KEY", *others])
    connection.execute("CREATE TABLE header (key TEXT PRIMARY KEY, value TEXT NOT NULL)")
    connection.execute(f"CREATE TABLE rows ({listed})")
    connection.executemany("INSERT INTO header VALUES (?, ?)", header.items())


def _header(connection: sqlite3.Connection, where: str) -> dict[str, str]:
    if not {"header", "rows"} <= _tables(connection):
        expected = "a store written by fitsim sweep"
        raise InputError(Problem(where, "store", "", expected, "choose another name"))
    return dict(connection.execute("SELECT key, value FROM header"))


def _same_question(where: str, held: dict[str, str], asked: dict[str, str]) -> None:
    # What follows from other keys comes last, so that the key that was changed is named.
    for key in sorted({*held, *asked}, key=lambda k: (k in FOLLOWING, k)):
        if held.get(key) != asked.get(key):
            value, expected = held.get(key, "not in the store"), asked.get(key, "nothing")
            remedy = "the store answers another question: ask it as before, or choose another name"
            raise InputError(Problem(where, key, value, f"{expected}, as asked now", remedy))


def header_of(path: str | Path) -> dict[str, str]:
    """What a store was asked.

    Parameters
    ----------
    path : str or pathlib.Path
        A store.

    Returns
    -------
    dict[str, str]
        Its header.

    Raises
    ------
    InputError
        If there is no such store.
    """
    header, _ = _read(path)
    return header


def _read(path: str | Path) -> tuple[dict[str, str], tuple[str, ...]]:
    where = str(path)
    if not Path(path).is_file():
        expected = "a store, and there is none of that name"
        raise InputError(Problem(where, "store", "", expected, "check the name"))
    with _one_line(where), closing(_connect(where)) as connection:
        header = _header(connection, where)
        columns = tuple(str(row[1]) for row in connection.execute("PRAGMA table_info(rows)"))
    return header, columns


def join_stores(paths: Sequence[str | Path], target: str | Path) -> tuple[int, int, tuple[str, ...]]:
    """Put the stores of the parts of one sweep together into one.

    Parameters
    ----------
    paths : Sequence
        Stores that answer the same question, whole or in part.
    target : str or pathlib.Path
        The store they go into; it may exist if it answers that question.

    Returns
    -------
    tuple[int, int, tuple[str, ...]]
        Rows in the joined store, rows of the whole sweep, and the columns.

    Raises
    ------
    InputError
        If a store answers another question, or two disagree about a row.
    """
    read = [(*_read(path), str(path)) for path in paths]
    header, columns = {**read[0][0], "part": "1/1"}, read[0][1]
    for held, _, where in read:
        _same_question(where, {**held, "part": "1/1"}, header)
    with open_store(target, header, columns) as joined:
        for held, _, where in read:
            with open_store(where, held, columns) as part:
                rows = part.rows()
            joined.add(rows)
        _agree(joined, read)
        return len(joined.done()), int(header["rows"]), columns


def _agree(joined: Store, read: Sequence[tuple[dict[str, str], tuple[str, ...], str]]) -> None:
    kept = {row[0]: row for row in joined.rows()}
    for held, columns, where in read:
        with open_store(where, held, columns) as part:
            unlike = [row[0] for row in part.rows() if kept[row[0]] != row]
        if unlike:
            expected = "the same answer as the other stores give"
            remedy = "they were not made by the same program: run one of them again"
            raise InputError(Problem(where, "row", str(unlike[0]), expected, remedy))


def rows_as_csv(store: Store, target: str | Path, *, replace: bool) -> None:
    """Write every row in order of its number, units in the heading.

    Parameters
    ----------
    store : Store
        An open store.
    target : str or pathlib.Path
        A name ending in .csv. Numbers are written so that reading gives the same number; what has no
        answer is left empty.
    replace : bool
        True if an existing file may be overwritten.

    Raises
    ------
    InputError
        If the file exists or cannot be written.
    """
    check_target(Path(target), replace=replace, endings=(".csv",))
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(store.columns)
    writer.writerows(store.rows())
    write_whole(Path(target), text.getvalue().encode("utf8"), replace=replace)
