"""Reading a file's tables key by key: each by its own rule, everything wrong answered at once."""

import datetime
import difflib
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.quantities import QuantityKind, read_quantity

__all__ = ["KeyedFile", "Reader", "count", "not_negative", "positive", "signed"]

Reader = Callable[[object], Any]
GREATEST_COUNT = 10_000


def positive(
    kind: QuantityKind, unit: str, most: float | None = None, *, remedy: str = "measure it again"
) -> Reader:
    """Reader of a quantity above zero.

    Parameters
    ----------
    kind : QuantityKind
        The kind of quantity.
    unit : str
        Its base unit, for messages.
    most : float or None
        Greatest value allowed, in the base unit.
    remedy : str
        What to do about one that is not above zero.

    Returns
    -------
    Reader
        Gives a float in the base unit.
    """

    def read(text: object) -> float:
        value = read_quantity(text, kind)
        if value <= 0:
            raise InputError(Problem("", "", repr(text), "more than zero", remedy))
        if most is not None and value > most:
            raise InputError(Problem("", "", repr(text), f"at most {most:g} {unit}", "check the unit"))
        return float(value)

    return read


def not_negative(kind: QuantityKind) -> Reader:
    """Reader of a quantity of zero or more.

    Parameters
    ----------
    kind : QuantityKind
        The kind of quantity.

    Returns
    -------
    Reader
        Gives a float in the base unit.
    """
    return lambda text: float(read_quantity(text, kind))


def signed(kind: QuantityKind) -> Reader:
    """Reader of a quantity that may stand below zero: an offset or a correlation.

    Parameters
    ----------
    kind : QuantityKind
        The kind of quantity.

    Returns
    -------
    Reader
        Gives a float in the base unit.
    """
    return lambda text: float(read_quantity(text, kind, below_zero=True))


def _name(text: object) -> str:
    if isinstance(text, str) and 0 < len(text.strip()) <= 200 and text.strip().isprintable():
        return text.strip()
    remedy = hidden_remedy(text) if isinstance(text, str) else ""
    remedy = remedy or 'write it like "Band saw, 1/8 in"'
    raise InputError(Problem("", "", repr(text)[:30], "a name in quotes, on one line", remedy))


def _day(text: object) -> str:
    try:
        return datetime.date.fromisoformat(str(text)).isoformat()
    except ValueError:
        remedy = 'write it like "2024-11-30"'
        raise InputError(Problem("", "", repr(str(text)), "a day as year-month-day", remedy)) from None


def count(text: object) -> int:
    """Read how many, a whole number.

    Parameters
    ----------
    text : object
        What stands in the file.

    Returns
    -------
    int
        The number.

    Raises
    ------
    InputError
        If it is none, or far too many.
    """
    if isinstance(text, int) and not isinstance(text, bool) and 0 <= text <= GREATEST_COUNT:
        return text
    raise InputError(Problem("", "", repr(text)[:30], "a whole number", "write the saw file anew"))


TOP_READERS: dict[str, Reader] = {"name": _name, "date": _day}


class KeyedFile:
    """One file being read: its values by place, and everything wrong with it.

    Attributes
    ----------
    readers : dict[str, dict[str, Reader]]
        Reader of every key, by table.
    where : str
        File name for the messages.
    many : tuple[str, ...]
        Tables that may stand many times.
    """

    def __init__(
        self, readers: dict[str, dict[str, Reader]], where: str, *, many: tuple[str, ...] = ()
    ) -> None:
        self.readers = readers
        self.many = many
        self.where = where
        self.problems: list[Problem] = []

    def add(self, key: str, value: str, expected: str, remedy: str) -> None:
        """Note one problem."""
        self.problems.append(Problem(self.where, key, value, expected, remedy))

    def one(self, key: str, reader: Reader, value: object) -> Any:
        """One value; None, and a problem, if it cannot be read."""
        try:
            return reader(value)
        except InputError as error:
            self.problems += [replace(p, where=self.where, key=key) for p in error.problems]
            return None

    def table(self, place: str, kind: str, given: object) -> dict[str, Any]:
        """Values of one table; a key that could not be read is None."""
        if not isinstance(given, Mapping):
            header = f"[[{kind}]]" if kind in self.many else f"[{kind}]"
            self.add(place, repr(given)[:40], "a table of keys", f"write {header} on a line of its own")
            return {}
        values: dict[str, Any] = {}
        for key, value in given.items():
            if key in self.readers[kind]:
                values[key] = self.one(f"{place}.{key}", self.readers[kind][key], value)
            else:
                self.unknown(f"{place}.{key}", key, value, list(self.readers[kind]))
        return values

    def unknown(self, place: str, key: str, value: object, known: list[str]) -> None:
        """Answer a key nobody knows: a known key in the wrong table, or near spelling."""
        close = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
        other = [table for table, readers in self.readers.items() if key in readers]
        expected, remedy = f"one of the keys {', '.join(known)}", "delete it or correct it"
        if hidden := hidden_remedy(key, spaces=False):
            remedy = hidden
        elif other:
            header = f"[[{other[0]}]]" if other[0] in self.many else f"[{other[0]}]"
            remedy = f"move it to stand under {header}"
        elif close:
            remedy = f"did you mean {close[0]!r}?"
        self.add(place, repr(value)[:40], expected, remedy)

    def top(self, tables: Mapping[str, Any]) -> dict[str, str]:
        """Name and date, which stand above all tables; other names are answered."""
        known = [*self.readers, *TOP_READERS]
        for key in tables:
            if key not in known:
                self.unknown(key, key, tables[key], known)
        read = {k: self.one(k, reader, tables[k]) for k, reader in TOP_READERS.items() if k in tables}
        return {key: value for key, value in read.items() if value is not None}

    def done(self) -> None:
        """Raise whatever was found wrong."""
        if self.problems:
            raise InputError(tuple(self.problems))
