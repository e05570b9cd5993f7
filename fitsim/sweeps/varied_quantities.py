"""One bowl of many: quantities of the bowl file that are varied, and the bowl at one choice of them.

``tilt=2..14:25`` varies one quantity over a range, ``wood=cherry,oak`` over a list. A bare number has the
first unit of its kind (mm, deg, N, percent); any unit of the bowl file may be written behind it. Every
choice is written back into the tables of the bowl file and read by
:func:`fitsim.bowlfile.defaults.make_bowl`, so that defaults follow and contradictions are found by the same
rules.
"""

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.bowlfile.keys import GRAIN_DEG, READERS
from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.quantities import (
    ANGLE,
    DIRECTION,
    FEED,
    FORCE,
    LENGTH,
    MOISTURE,
    PLAIN_OR_PERCENT,
    RATIO,
    QuantityKind,
    read_quantity,
    write_exactly,
)
from fitsim.saw.learned import Learned, with_learned
from fitsim.wood.species import find_wood

__all__ = [
    "KINDS",
    "Varied",
    "bowl_with_keys",
    "read_axis",
    "read_varied",
    "refuse_learned",
    "refuse_same",
]

Value = Fraction | str

KINDS: dict[str, QuantityKind | None] = {
    "board.thickness": LENGTH,
    "board.across": LENGTH,
    "board.wood": None,
    "board.outline": None,
    "board.length": LENGTH,
    "board.width": LENGTH,
    "board.corner": LENGTH,
    "board.sides": RATIO,
    "board.moisture": MOISTURE,
    "board.grain": ANGLE,
    "cut.tilt": ANGLE,
    "cut.kerf": LENGTH,
    "cut.blade_body": LENGTH,
    "cut.blade_set": LENGTH,
    "cut.pitch": LENGTH,
    "cut.turns": RATIO,
    "cut.base": LENGTH,
    "cut.blade": LENGTH,
    "cut.root": DIRECTION,
    "cut.feed": FEED,
    "cut.base_corner": LENGTH,
    "cut.base_outline": None,
    "cut.base_length": LENGTH,
    "cut.base_width": LENGTH,
    "use.finish": None,
    "use.press": FORCE,
    "use.friction": PLAIN_OR_PERCENT,
    "use.film": LENGTH,
    "use.base_moisture": MOISTURE,
    "use.turn_moisture": MOISTURE,
    "limits.slot_left": LENGTH,
    "limits.overlap": PLAIN_OR_PERCENT,
    "limits.friction_used": PLAIN_OR_PERCENT,
    "limits.press_spare": RATIO,
    "limits.split_chance": PLAIN_OR_PERCENT,
}
"""Kind of quantity behind every key of the bowl file; None for words."""

GIVES_WAY = {
    "cut.kerf": ("blade_body", "blade_set"),
    "cut.pitch": ("turns",),
    "cut.turns": ("pitch",),
    "cut.blade_body": ("kerf",),
    "cut.blade_set": ("kerf",),
}
"""Keys of the same table that say the same in another way, and must go when the first is varied."""


@dataclass(frozen=True)
class Varied:
    """One quantity that is varied, over a range or a list.

    Attributes
    ----------
    key : str
        Key of the bowl file with its table, for example "cut.tilt".
    unit : str
        Unit of the values, "" for a ratio or words.
    ends : tuple[fractions.Fraction, fractions.Fraction] or None
        Low and high end of a range; None for a list. [unit]
    count : int or None
        Values on the range that were asked for; None if left open.
    items : tuple[fractions.Fraction or str, ...]
        The list; empty for a range. [unit]
    """

    key: str
    unit: str
    ends: tuple[Fraction, Fraction] | None
    count: int | None
    items: tuple[Value, ...]

    @property
    def column(self) -> str:
        """Name of its column, unit at the end: "cut.tilt_deg"."""
        unit = self.unit.replace("%", "percent").replace("/", "_per_")
        return f"{self.key}_{unit}" if unit else self.key

    @property
    def name(self) -> str:
        """Its key without the table, in words: "turn moisture"."""
        return self.key.partition(".")[2].replace("_", " ")

    def size(self, count: int) -> int:
        """How many values; ``count`` serves on a range where none was asked for."""
        return len(self.items) if self.ends is None else self.count or count

    def nth(self, place: int, count: int) -> Value:
        """One of the even values over the range, or of the list, counted from 0."""
        if self.ends is None:
            return self.items[place]
        low, high = self.ends
        return low + (high - low) * place / (self.size(count) - 1)

    def at(self, share: Fraction) -> Value:
        """Value at a share from 0 to 1 of the range, to a billionth of the unit, or of the list."""
        if self.ends is None:
            return self.items[min(int(share * len(self.items)), len(self.items) - 1)]
        low, high = self.ends
        return Fraction(round((low + (high - low) * share) * 10**9), 10**9)

    def written(self, value: Value) -> str:
        """Write a value as it stands in a bowl file: "5 1/2 deg"."""
        kind = KINDS[self.key]
        if kind is None or isinstance(value, str):
            return str(value)
        return write_exactly(value * kind.units[self.unit], self.unit, kind)


def read_varied(text: str) -> Varied:
    """Read one varied quantity as written on the command line.

    Parameters
    ----------
    text : str
        ``key=low..high``, ``key=low..high:count`` or ``key=value,value``; the key with or without its
        table, units as in a bowl file.

    Returns
    -------
    Varied
        The quantity.

    Raises
    ------
    InputError
        One line with what was expected.

    Examples
    --------
    >>> tilt = read_varied("tilt=2..14:4")
    >>> tilt.column, [tilt.written(tilt.nth(i, 11)) for i in range(tilt.size(11))]
    ('cut.tilt_deg', ['2 deg', '6 deg', '10 deg', '14 deg'])
    """
    name, equals, given = (part.strip() for part in text.partition("="))
    if not equals or not given:
        expected = "a quantity and its values"
        raise InputError(Problem("", name or text, repr(text), expected, "write it like tilt=2..14:25"))
    key = _known_key(name)
    try:
        return _range(key, given) if ".." in given else _list(key, given)
    except InputError as error:
        problems = (Problem("", key, p.value, p.expected, p.remedy) for p in error.problems)
        raise InputError(tuple(problems)) from None


def read_axis(text: str) -> Varied:
    """Read the quantity along one axis of a map.

    Parameters
    ----------
    text : str
        As for :func:`read_varied`.

    Returns
    -------
    Varied
        The quantity.

    Raises
    ------
    InputError
        One line with what was expected, among them that words have no place on a map.
    """
    name, equals, given = (part.strip() for part in text.partition("="))
    if equals and KINDS[key := _known_key(name)] is None:
        expected = "a quantity that is a number; words have no place on a map"
        remedy = f"compare them with sweep, like {key}=first,second"
        raise InputError(Problem("", key, repr(given), expected, remedy))
    return read_varied(text)


def refuse_same(keys: Sequence[str]) -> None:
    """Refuse to vary two keys of which one says in another way what the other says.

    Parameters
    ----------
    keys : sequence of str
        Quantities that are varied, with their tables.

    Raises
    ------
    InputError
        If there are two.
    """
    for i, key in enumerate(keys):
        same = [other for other in keys[:i] if other.partition(".")[2] in GIVES_WAY.get(key, ())]
        if same:
            expected = f"another quantity than {same[0]}, which says the same in another way"
            raise InputError(Problem("", key, "", expected, "choose another for one of the two"))


def _known_key(name: str) -> str:
    keys = {key.partition(".")[2]: key for key in KINDS} | {key: key for key in KINDS}
    if name in keys:
        return keys[name]
    fixed = {f"{table}.{key}" for table, readers in READERS.items() for key in readers} - set(KINDS)
    for key in sorted(fixed):
        if name in (key, key.partition(".")[2]):
            expected = "a quantity that a verdict rests on; this one cannot be varied"
            raise InputError(Problem("", key, "", expected, "vary another; it may stay in the bowl file"))
    close = difflib.get_close_matches(name, keys, n=1, cutoff=0.6)
    remedy = f"did you mean {close[0]!r}?" if close else "use one of those in: fitsim guide keys"
    remedy = hidden_remedy(name, spaces=False) or remedy
    raise InputError(Problem("", name, "", "a key of the bowl file", remedy))


def _unit_of(text: str) -> str:
    """What stands behind the last digit."""
    found = re.search(r"[^\d\s.,/½⅓⅔¼¾⅛⅜⅝⅞]+$", text.strip())
    return found[0] if found else ""


def _unit_for(kind: QuantityKind, texts: Sequence[str]) -> str:
    """Unit of a range or list: the last one written, by its usual spelling, else the kind's first."""
    units = [unit for unit in map(_unit_of, texts) if unit in kind.units]
    if not units:
        return next(iter(kind.units))
    return next(name for name, size in kind.units.items() if size == kind.units[units[-1]])


def _in_unit(text: str, kind: QuantityKind, unit: str) -> Fraction:
    whole = text if _unit_of(text) or not unit else f"{text} {unit}"
    try:
        return read_quantity(whole, kind) / kind.units[unit]
    except InputError as error:  # shown as it was typed
        raise InputError(tuple(replace(p, value=repr(text)) for p in error.problems)) from None


def _as_numbers(key: str, texts: Sequence[str]) -> list[str]:
    """A word for the way the rings lie is an angle, as in the bowl file."""
    words = GRAIN_DEG if key == "board.grain" else {}
    plain = [text.strip().lower() for text in texts]
    return [f"{words[p]} deg" if p in words else text for p, text in zip(plain, texts, strict=True)]


def _range(key: str, given: str) -> Varied:
    kind = KINDS[key]
    if kind is None:
        expected, remedy = "a list of words", f"write it like {key}=first,second"
        raise InputError(Problem("", key, repr(given), expected, remedy))
    span, _, count = given.partition(":")
    texts = span.split("..")
    if len(texts) != 2 or not all(text.strip() for text in texts):
        expected = "a range with its two ends"
        raise InputError(Problem("", key, repr(given), expected, "write it like 2..14, or 2..14:25"))
    texts = _as_numbers(key, texts)
    unit = _unit_for(kind, texts)
    low, high = (_in_unit(text, kind, unit) for text in texts)
    if low >= high:
        remedy = "write the smaller first" if low > high else f"write {key}={texts[0]} for one value"
        raise InputError(Problem("", key, repr(given), "a range from low to high", remedy))
    if count and not re.fullmatch(r"\s*([2-9]|[1-9][0-9]{1,5})\s*", count):
        raise InputError(Problem("", key, repr(given), "2 to 999999 values", "write it like 2..14:25"))
    return Varied(key, unit, (low, high), int(count) if count else None, ())


def _list(key: str, given: str) -> Varied:
    kind, texts = KINDS[key], [text.strip() for text in given.split(",")]
    if kind is None:
        table, name = key.split(".")
        for text in texts:
            find_wood(text) if name == "wood" else READERS[table][name](text)
        return Varied(key, "", None, None, _different(key, texts))
    if not all(texts):
        expected = "a value on each side of every comma"
        raise InputError(Problem("", key, repr(given), expected, "write it like 3,4,5"))
    texts = _as_numbers(key, texts)
    unit = _unit_for(kind, texts)
    return Varied(key, unit, None, None, _different(key, [_in_unit(text, kind, unit) for text in texts]))


def _different(key: str, items: Sequence[Value]) -> tuple[Value, ...]:
    if len(set(items)) < len(items):
        raise InputError(Problem("", key, "", "values that differ", "leave out the one written twice"))
    return tuple(items)


def refuse_learned(keys: Sequence[str], learned: Learned | None) -> None:
    """Refuse to vary what tests have measured: it would stay as it is.

    Parameters
    ----------
    keys : sequence of str
        Quantities that are varied, with their tables.
    learned : Learned or None
        What is laid on every bowl.

    Raises
    ------
    InputError
        One line for every such quantity.
    """
    if learned is None:
        return
    measured = {
        "cut.kerf": learned.saw, "cut.blade_body": learned.saw, "cut.blade_set": learned.saw,
        "use.friction": learned.frictions, "board.moisture": learned.moistures,
    }  # fmt: skip
    problems = [
        Problem("", key, "", "a quantity that --learned does not hold measured", "leave one of the two out")
        for key in keys
        if measured.get(key)
    ]
    if problems:
        raise InputError(tuple(problems))


def bowl_with_keys(
    tables: Mapping[str, Any],
    texts: Mapping[str, str],
    *,
    where: str = "",
    learned: Learned | None = None,
) -> Bowl:
    """Make the bowl of a bowl file with some of its keys written anew.

    Parameters
    ----------
    tables : Mapping
        Tables as in a bowl file.
    texts : Mapping[str, str]
        New value of each key, keys with their tables: ``{"cut.tilt": "6 deg"}``. A key that says the same
        in another way gives way: ``blade_body`` to ``kerf``, ``turns`` to ``pitch``.
    where : str
        File name for the error messages.
    learned : Learned or None
        What tests have taught, laid on the bowl.

    Returns
    -------
    Bowl
        The bowl, its defaults and assumptions worked out anew.

    Raises
    ------
    InputError
        One line for every problem.
    """
    changed: dict[str, Any] = {
        name: dict(table) if isinstance(table, Mapping) else table for name, table in tables.items()
    }
    for key, text in texts.items():
        table, name = key.split(".")
        part = changed.setdefault(table, {})
        if isinstance(part, dict):
            for other in GIVES_WAY.get(key, ()):
                if f"{table}.{other}" not in texts:
                    part.pop(other, None)
            part[name] = text
    bowl = make_bowl(changed, where=where)
    return bowl if learned is None else with_learned(bowl, learned)
