"""A store of rows that survives being killed: one SQLite file, a header that pins the question, and rows.

Rows are added in whole transactions with the classic rollback journal, so that a store killed at any
moment reopens with every finished batch in it and nothing half-written. The header says what was asked;
asking anything else of the same file is refused. Header and rows carry checksums, looked at whenever they
are read: a store that a disk or a hand has changed is refused, not told.
"""

import csv
import hashlib
import io
import json
import re
import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem
from fitsim.files import check_regular, check_target, why_refused, write_whole

__all__ = ["SCHEMA", "Store", "header_of", "join_stores", "open_store", "rows_as_csv"]

SCHEMA = "4"
"""Of the store; another number is another arrangement of its tables."""

FOLLOWING = ("varied", "rows", "samples")
"""Keys of the header that follow from others."""

MADE_HERE = ("columns", "checksum")
"""Keys of the header that the store writes by itself."""

HEADER_TABLE = "CREATE TABLE header (key TEXT PRIMARY KEY, value TEXT NOT NULL)"
CHECKSUM = "checksum"
"""Name of the last column of every row."""

LONGEST_VALUE_BYTES, MOST_KEYS, MOST_COLUMNS = 1_000_000, 1_000, 100
NEARLY_FULL_BYTES = 1_000_000
"""Less room than this on a disk that refuses to write is taken as the reason."""

MAGIC, LEAST_BYTES = b"SQLite format 3\0", 512
"""What every database of SQLite begins with, and its smallest page."""

PIECE_ROWS = 1000
"""Rows of a table that are written at once."""

WAIT_s = 60.0
"""How long one run waits for another that is writing to the same file."""

Row = tuple[Any, ...]


def _checksum_of(what: object, seal: str = "") -> str:
    """Sixteen hexadecimal digits; the seal ties a row to the header of its store."""
    text = seal + json.dumps(what, default=repr, sort_keys=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:16]


class Store:
    """An open store; make one with :func:`open_store`."""

    def __init__(
        self, connection: sqlite3.Connection, path: str, columns: tuple[str, ...], seal: str
    ) -> None:
        """Keep the open connection, and what the checksums of its rows begin with."""
        self._connection = connection
        self._seal = seal
        self.path = path
        self.columns = columns

    def done(self) -> set[int]:
        """Numbers of the rows that are finished."""
        with _one_line(self.path):
            return {row for (row,) in self._connection.execute("SELECT row FROM rows")}

    def add(self, rows: Iterable[Row]) -> None:
        """Add finished rows in one transaction; a row that is there already stays as it is."""
        with _one_line(self.path), _transaction(self._connection):
            self._insert(rows)

    def add_agreeing(self, parts: Iterable[tuple[str, Iterable[Row]]]) -> None:
        """Add the rows of other stores, all or none; one that is there already must be the same."""
        with _one_line(self.path), _transaction(self._connection):
            for where, rows in parts:
                for row in rows:
                    there = self._connection.execute("SELECT * FROM rows WHERE row = ?", row[:1]).fetchone()
                    if there is None:
                        self._insert([row])
                    elif self._checked(there) != row:
                        expected = "the same answer as the other stores give"
                        remedy = "they were not made by the same program: run one of them again"
                        raise InputError(Problem(where, "row", str(row[0]), expected, remedy))

    def _insert(self, rows: Iterable[Row]) -> None:
        marks = ", ".join("?" * (len(self.columns) + 1))
        sealed = ((*row, _checksum_of(row, self._seal)) for row in rows)
        self._connection.executemany(f"INSERT OR IGNORE INTO rows VALUES ({marks})", sealed)

    def _checked(self, row: Row) -> Row:
        *values, checksum = row
        if _checksum_of(values, self._seal) != checksum:
            expected = "the row as it was written; its checksum says that it was changed"
            raise InputError(Problem(self.path, "row", str(row[0]), expected, ANEW))
        return tuple(values)

    def each(self) -> Iterator[Row]:
        """Every row, one after the other in order of its number, each held against its checksum."""
        with _one_line(self.path):
            for row in self._connection.execute("SELECT * FROM rows ORDER BY row"):
                yield self._checked(row)

    def rows(self) -> list[Row]:
        """Every row, in order of its number."""
        return list(self.each())

    def close(self) -> None:
        """Close the file."""
        self._connection.close()


ANEW = "take a copy of it that you kept, or sweep into a new store"


@contextmanager
def _one_line(path: str) -> Iterator[None]:
    """Answer what SQLite complains about in one line of our own."""
    try:
        yield
    except sqlite3.OperationalError as error:
        expected = f"a store that can be written ({str(error).lower()})"
        remedy = "close what else is using it, or choose another name"
        if _disk_is_full(path, error):
            remedy = "the disk is full: make room on it and give the same command again, or choose another"
        raise InputError(Problem(path, "store", "", expected, remedy)) from error
    except sqlite3.DatabaseError as error:
        expected = f"a store written by fitsim sweep ({str(error).lower()})"
        raise InputError(Problem(path, "store", "", expected, "choose another name")) from error
    except UnicodeDecodeError as error:  # SQLite's own words hold what stands in a broken file
        raise _changed(path, "store", "") from error


def _disk_is_full(path: str, error: sqlite3.Error) -> bool:
    """A full disk has several names: no room for the journal reads "unable to open"."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return True
    if code not in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN):
        return False
    with suppress(OSError):
        return shutil.disk_usage(Path(path).parent).free < NEARLY_FULL_BYTES
    return False


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:  # a full disk has rolled it back already
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _connect(path: str | Path | None) -> sqlite3.Connection:
    # isolation_level None: transactions begin and end where this module says so. A name is written all out,
    # because to SQLite ":memory:" is none.
    name = ":memory:" if path is None else str(Path(path).absolute())
    connection = sqlite3.connect(name, timeout=WAIT_s, isolation_level=None)
    # Whatever stands in a strange file: no long values, no functions of its own, no text that is none.
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_VALUE_BYTES)
    connection.text_factory = lambda raw: raw.decode("utf8", "replace")
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


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
        The open store, every row in it held against its checksum.

    Raises
    ------
    InputError
        If the file holds another question (the key that differs is named), is no store, or was changed by
        anything but this program.
    """
    where = "" if path is None else str(path)
    if path is not None:
        if Path(path).exists():
            _check_store(path)
        else:
            check_target(Path(path), replace=False)
    with _one_line(where), closing(_connect(path)) as connection:
        with _transaction(connection):
            if not connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                _make(connection, header, columns)
        held, there = _header(connection, where)
        _same_question(where, held, dict(header))
        if there != tuple(columns):
            expected = f"the columns {', '.join(columns)}"
            raise InputError(Problem(where, "columns", ", ".join(there), expected, ANEW))
        store = Store(connection, where, there, _seal(held, there))
        for _ in store.each():
            pass
        yield store


def _check_store(path: str | Path) -> None:
    """Refuse what is no database before SQLite opens it, which takes a very short file for an empty one."""
    size = check_regular(path, kind="store")
    try:
        with Path(path).open("rb") as file:
            begins = file.read(len(MAGIC))
    except OSError as error:
        expected = f"a store that can be read ({why_refused(error)})"
        raise InputError(Problem(str(path), "store", "", expected, "check the name")) from None
    if size and (begins != MAGIC or size < LEAST_BYTES):
        expected = "a store written by fitsim sweep (this is no database, or the beginning of one)"
        raise InputError(Problem(str(path), "store", "", expected, "choose another name"))


def _seal(header: Mapping[str, str], columns: Sequence[str]) -> str:
    return _checksum_of({**header, "columns": json.dumps(list(columns))})


def _rows_table(columns: Sequence[str]) -> str:
    first, *others = ('"' + name.replace('"', '""') + '"' for name in columns)
    return f"CREATE TABLE rows ({', '.join([f'{first} INTEGER PRIMARY KEY', *others, CHECKSUM])})"


def _make(connection: sqlite3.Connection, header: Mapping[str, str], columns: Sequence[str]) -> None:
    connection.execute(HEADER_TABLE)
    connection.execute(_rows_table(columns))
    made = {**header, "columns": json.dumps(list(columns)), "checksum": _seal(header, columns)}
    connection.executemany("INSERT INTO header VALUES (?, ?)", made.items())


def _header(connection: sqlite3.Connection, where: str) -> tuple[dict[str, str], tuple[str, ...]]:
    """Header and columns of a store that is one, and is as it was written."""
    tables = connection.execute("SELECT name, type, sql FROM sqlite_master LIMIT 10").fetchall()
    if ("header", "table") not in {table[:2] for table in tables}:
        expected = "a store written by fitsim sweep"
        raise InputError(Problem(where, "store", "", expected, "choose another name"))
    faults = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if faults != "ok" or ("header", "table", HEADER_TABLE) not in tables:
        raise _changed(where, "store", "" if faults == "ok" else faults)
    found = connection.execute("SELECT key, value FROM header LIMIT ?", (MOST_KEYS + 1,)).fetchall()
    header = {str(key): str(value) for key, value in found}
    columns = _columns(header.get("columns", ""))
    held = {key: value for key, value in header.items() if key not in MADE_HERE}
    sealed = header.get(CHECKSUM) == _seal(held, columns)
    if header.get("schema", SCHEMA) != SCHEMA and (sealed or CHECKSUM not in header):
        remedy = "it was written by another version of the program: sweep into a new store"
        raise InputError(Problem(where, "schema", header["schema"], SCHEMA, remedy))
    if not columns or len(found) > MOST_KEYS or not sealed:
        raise _changed(where, "header", "")
    own = {("header", "table", HEADER_TABLE), ("rows", "table", _rows_table(columns))}
    if {table for table in tables if table[1] != "index" or table[2]} != own:
        raise _changed(where, "store", "")
    return held, columns


def _columns(text: str) -> tuple[str, ...]:
    """Names of the columns as the header has them; none if they cannot be."""
    try:
        names = json.loads(text)
    except (ValueError, RecursionError):
        return ()
    if not isinstance(names, list) or not 1 < len(names) <= MOST_COLUMNS or names[0] != "row":
        return ()
    return tuple(str(name) for name in names)


def _changed(where: str, key: str, found: str) -> InputError:
    expected = "a store as fitsim sweep wrote it; this one was changed or cut short"
    return InputError(Problem(where, key, found, expected, ANEW))


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
    _check_store(path)
    with _one_line(where), closing(_connect(path)) as connection:
        return _header(connection, where)


def _wanted(header: Mapping[str, str], where: str) -> int:
    """Rows of the whole sweep."""
    if not re.fullmatch("[0-9]{1,8}", header.get("rows", "")):
        raise _changed(where, "rows", header.get("rows", ""))
    return int(header["rows"])


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
        If there is no store to join, one answers another question, or two disagree about a row; the target
        is then as it was.
    """
    read = [(*_read(path), str(path)) for path in paths]
    if not read:
        raise InputError(Problem("", "--join", "", "the stores to join", "name the stores of the parts"))
    header, columns = {**read[0][0], "part": "1/1"}, read[0][1]
    wanted = _wanted(header, read[0][2])
    for held, _, where in read:
        _same_question(where, {**held, "part": "1/1"}, header)
    new = not Path(target).exists()
    try:
        with open_store(target, header, columns) as joined:
            joined.add_agreeing((where, _rows_of(where, held, columns)) for held, _, where in read)
            return len(joined.done()), wanted, columns
    except BaseException:
        if new:
            with suppress(OSError):
                Path(target).unlink()
        raise


def _rows_of(where: str, held: Mapping[str, str], columns: tuple[str, ...]) -> Iterator[Row]:
    with open_store(where, held, columns) as part:
        yield from part.each()


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
    write_whole(Path(target), _csv_pieces(store), replace=replace)


def _csv_pieces(store: Store) -> Iterator[bytes]:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(store.columns)
    for at, row in enumerate(store.each(), 1):
        writer.writerow(row)
        if at % PIECE_ROWS == 0:
            yield text.getvalue().encode("utf8")
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode("utf8")
