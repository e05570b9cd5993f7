"""The page's address holds a whole bowl file, so that every state of the page can be kept as a bookmark.

``board.thickness=3/4 in&cut.tilt=5 deg`` says what a bowl file says, key by key; a key written several
times is a list with one value for each turn. ``saw.`` before a key is the saw file's, ``tests.`` a reading
of the tests in the workshop, written as ``tests.ring=tilt=4 deg; drop=9.1 mm``. What is no key of any of
them (``units``, ``paper``, ...) belongs to the page alone.

A bare number takes the unit of its field: 5 in the tilt's is 5 deg, 3/4 in a length's is 3/4 of the page's
unit.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError, Problem
from fitsim.geometry.outline_file import names_drawing
from fitsim.quantities import ANGLE, FEED, FORCE, LENGTH, MOISTURE, QuantityKind, read_range, write_exactly
from fitsim.saw.learned import Learned, with_learned
from fitsim.saw.learned_file import learned_text, make_learned
from fitsim.saw.tests_file import MANY as TESTS_MANY
from fitsim.sweeps.varied_quantities import KINDS
from fitsim.toml_files import tables_of_bytes

__all__ = [
    "LONGEST_ADDRESS",
    "MOST_PAIRS",
    "PAGE_WORDS",
    "PageState",
    "Pairs",
    "bowl_of",
    "in_units",
    "learned_of",
    "opened_bowl",
    "opened_saw",
    "opened_tests",
    "pairs_of_learned",
    "pairs_of_tables",
    "pairs_of_tests",
    "read_address",
    "read_state",
    "refuse_files",
]

Pairs = tuple[tuple[str, str], ...]
"""Keys and values of an address, in order."""

LONGEST_ADDRESS, MOST_PAIRS = 12_000, 300
SHORT_DECIMAL = 10_000
"""A length is written in other units where that takes no more than four decimals, or a mark of a rule."""

PAGE_WORDS: dict[str, tuple[str, ...] | None] = {
    "units": ("in", "mm"),
    "to": ("in", "mm"),
    "paper": ("a4", "letter", "a3", "tabloid"),
    "copies": None,
    "middle": ("lowered", "raised"),
    "lowered": ("right", "left"),
    "across": None,
    "up": None,
    "ranges": ("yes",),
    "place": None,
    "slow": ("asked",),
    "stored": ("open", "flat"),
    "opened": ("afresh", "left open"),
    "since": tuple(str(month) for month in range(1, 13)),
}
"""What belongs to the page and not to the bowl file, with the words allowed; None: read elsewhere."""

LEARNED_TABLES = ("friction", "strength", "moisture")
"""Tables of a file of what was learned, beside its saw; a bowl file has none of these names."""

BARE = re.compile(r"(?:\d+(?:\.\d*)?|\.\d+)(?:[ -]\d+/\d+)?|\d+/\d+|(?:\d+ ?)?[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞]")
"""A number as a maker writes it, without a unit: 5, 0.7, 3/4, 7 1/4, 7½."""

FIELD_UNITS: dict[str, QuantityKind | str] = {
    **{key: kind for key, kind in KINDS.items() if kind in (LENGTH, ANGLE, FORCE, MOISTURE, FEED) and kind},
    "board.pith": LENGTH,
    "scatter.kerf": LENGTH,
    "scatter.kerf_length": LENGTH,
    "scatter.thickness": LENGTH,
    "scatter.tilt": ANGLE,
    "want.rise": LENGTH,
    "want.height": LENGTH,
    "want.mouth": LENGTH,
    "want.base": LENGTH,
    "want.wall": ANGLE,
    "want.time": "min",
    "room.humidity": "%",
    "room.humidifier": "%",
    "room.dehumidifier": "%",
    "room.heated": "C",
    "room.cooled": "C",
}
"""What a bare number is in each field: a kind of quantity, or the unit itself."""

_COUNTS = (
    "saw.rings", "saw.slots", "saw.bevels", "friction.slides", "strength.strips", "moisture.pieces",
    "moisture.meters",
)  # fmt: skip


@dataclass(frozen=True)
class PageState:
    """One state of the page.

    Attributes
    ----------
    tables : dict
        As in a bowl file, every value as text.
    saw : dict
        As in a file of what was learned, a saw file for one; empty if there is none.
    page : dict[str, str]
        The page's own words, see :data:`PAGE_WORDS`.
    tests : dict
        As in a file of tests; empty if there are none.
    typed : dict[str, str]
        What bare numbers were taken for, by key: of a list with one among them every value, in order.
    upload : bytes
        A file sent along, read for this one question only; empty if there is none.
    """

    tables: dict[str, Any]
    saw: dict[str, Any]
    page: dict[str, str]
    tests: dict[str, Any] = field(default_factory=dict)
    typed: dict[str, str] = field(default_factory=dict)
    upload: bytes = b""


def read_address(query: bytes) -> Pairs:
    """Take the part of an address behind its question mark apart.

    Parameters
    ----------
    query : bytes
        As it came.

    Returns
    -------
    Pairs
        Keys and values; empty values are left out, as a deleted key is in a bowl file.

    Raises
    ------
    InputError
        If it is too long, or no text.
    """
    if len(query) > LONGEST_ADDRESS:
        expected = f"at most {LONGEST_ADDRESS} characters"
        raise InputError(Problem("", "address", f"{len(query)} characters", expected, "shorten it"))
    try:
        pairs = parse_qsl(
            query.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=MOST_PAIRS
        )
    except ValueError:  # not ASCII, not UTF-8 behind the percent signs, or too many
        expected = f"at most {MOST_PAIRS} keys with their values, in UTF-8"
        raise InputError(Problem("", "address", "", expected, "open the page anew")) from None
    return tuple((key.strip(), value.strip()) for key, value in pairs if value.strip())


def read_state(pairs: Sequence[tuple[str, str]]) -> PageState:
    """Sort keys and values into the tables of the files and the page's own words.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Keys and values.

    Returns
    -------
    PageState
        Nothing of it read yet but the page's own words.

    Raises
    ------
    InputError
        If one of the page's own words is none that it knows.
    """
    tables: dict[str, Any] = {}
    saw: dict[str, Any] = {}
    page: dict[str, str] = {}
    tests: dict[str, Any] = {}
    values: dict[str, list[str]] = {}
    completed: set[str] = set()
    units = next((value for key, value in pairs if key == "units"), "")
    for key, written in pairs:
        table, dot, name = key.partition(".")
        value = with_field_unit(key, written, units=units)
        values.setdefault(key, []).append(value)
        if value != written:
            completed.add(key)
        if table == "tests" and dot:
            _add_test(tests, name, value)
        elif key in PAGE_WORDS:
            page[key] = _page_word(key, value)
        elif table == "saw" and dot:
            _add(saw if name in ("name", "date") else saw.setdefault("saw", {}), name, _counted(key, value))
        elif table in LEARNED_TABLES and dot:
            _add(saw.setdefault(table, {}), name, _counted(key, value))
        elif not dot:
            tables[key] = value
        else:
            part = tables.setdefault(table, {})
            if isinstance(part, dict):
                _add(part, name, _mean(value) if table == "weather" else value)
    for needed in ("board", "cut"):
        tables.setdefault(needed, {})
    typed = {key: "; ".join(given) for key, given in values.items() if key in completed}
    return PageState(tables, saw, page, tests, typed)


def with_field_unit(key: str, text: str, *, units: str) -> str:
    """Give a bare number, or a range of two, the unit of its field.

    Parameters
    ----------
    key, text : str
        Key of the bowl file and what was typed.
    units : str
        "in" or "mm" for lengths; "" where the page has not said.

    Returns
    -------
    str
        With its unit; anything else as it was typed.

    Examples
    --------
    >>> with_field_unit("cut.tilt", "5 1/2", units="in")
    '5 1/2 deg'
    >>> with_field_unit("cut.kerf", "0.65 to 0.8", units="mm")
    '0.65 to 0.8 mm'
    """
    kind = FIELD_UNITS.get(key)
    unit = units if kind is LENGTH else kind if isinstance(kind, str) else ""
    if kind is FEED:
        unit = f"{units}/min" if units else ""
    elif isinstance(kind, QuantityKind) and kind is not LENGTH:
        unit = next(iter(kind.units))
    if not unit or not all(BARE.fullmatch(end.strip()) for end in text.split(" to ")):
        return text
    return f"{text.strip()} {unit}"


def _add_test(tests: dict[str, Any], name: str, value: str) -> None:
    """One reading, or a table of what goes with them, written as ``tilt=4 deg; drop=9.1 mm``."""
    if name in ("name", "date"):
        tests[name] = value
        return
    cells = (cell.partition("=") for cell in value.split(";") if cell.strip())
    row: dict[str, Any] = {k.strip(): True if v.strip() == "true" else v.strip() for k, _, v in cells}
    if name in TESTS_MANY:
        tests.setdefault(name, []).append(row)
    else:
        tests.setdefault(name, {}).update(row)


def pairs_of_tests(tables: Mapping[str, Any]) -> Pairs:
    """Write the tables of a file of tests as keys and values of an address.

    Parameters
    ----------
    tables : Mapping
        As TOML gives them.

    Returns
    -------
    Pairs
        In the order of the file.
    """
    pairs: list[tuple[str, str]] = []
    for name, given in tables.items():
        rows = given if isinstance(given, list) else [given]
        for row in rows:
            if isinstance(row, Mapping):
                cells = "; ".join(f"{k}={'true' if v is True else v}" for k, v in row.items())
                pairs.append((f"tests.{name}", cells))
            elif isinstance(row, str):
                pairs.append((f"tests.{name}", row))
    return tuple(pairs)


def opened_tests(raw: bytes, *, where: str) -> Pairs:
    """What an opened file of tests in the workshop says.

    Parameters
    ----------
    raw : bytes
        The file's contents.
    where : str
        Its name, for the messages.

    Returns
    -------
    Pairs
        Keys and values with "tests." before them.

    Raises
    ------
    InputError
        One line for every problem.
    """
    return pairs_of_tests(tables_of_bytes(raw, where=where, kind="file of tests"))


def _page_word(key: str, value: str) -> str:
    allowed = PAGE_WORDS[key]
    if allowed is not None and value not in allowed:
        listed = " or ".join(allowed)
        raise InputError(Problem("", key, repr(value[:40]), listed, "write one of those"))
    return value


def _counted(key: str, value: str) -> object:
    """Counts of what was learned are bare numbers in its file."""
    return int(value) if key in _COUNTS and re.fullmatch(r"[0-9]{1,6}", value) else value


def _mean(value: str) -> object:
    """Monthly means of the weather are bare numbers in the bowl file."""
    return float(value) if re.fullmatch(r"-?[0-9]{1,4}(\.[0-9]{0,9})?", value) else value


def _add(table: dict[str, Any], name: str, value: object) -> None:
    """A key that comes again makes a list, one value for each turn."""
    if name not in table:
        table[name] = value
    elif isinstance(table[name], list):
        table[name].append(value)
    else:
        table[name] = [table[name], value]


def bowl_of(state: PageState) -> Bowl:
    """The bowl of a state, sawn by its saw if there is one.

    Parameters
    ----------
    state : PageState
        The state.

    Returns
    -------
    Bowl
        The bowl.

    Raises
    ------
    InputError
        One line for every problem.
    """
    problems: list[Problem] = []
    bowl = learned = None
    try:
        refuse_files(state.tables)
        bowl = make_bowl(state.tables)
    except InputError as error:
        problems += error.problems
    try:
        learned = learned_of(state)
    except InputError as error:
        problems += error.problems
    if bowl is None or problems:
        raise InputError(tuple(problems))
    return bowl if learned is None else with_learned(bowl, learned)


def refuse_files(tables: Mapping[str, Any]) -> None:
    """Refuse a bowl that names a file: what stands in an address must open nothing on this machine.

    Parameters
    ----------
    tables : Mapping
        Tables of a bowl file.

    Raises
    ------
    InputError
        If its outline, or the wall that is wanted, is a drawing.
    """
    for name, key, instead in (
        ("board", "outline", "an outline of the list"),
        ("want", "wall", "a slope, or the points of a wall"),
    ):
        table = tables.get(name)
        written = table.get(key) if isinstance(table, Mapping) else None
        for text in written if isinstance(written, list) else [written]:
            if isinstance(text, str) and names_drawing(text):
                expected = f"{instead}; the page opens no drawing that a bowl names"
                remedy = "choose one of those"
                raise InputError(Problem("", f"{name}.{key}", repr(text)[:40], expected, remedy))


def learned_of(state: PageState) -> Learned | None:
    """What tests have taught, if the state holds any of it.

    Parameters
    ----------
    state : PageState
        The state.

    Returns
    -------
    Learned or None
        A saw for one.

    Raises
    ------
    InputError
        One line for every problem.
    """
    return make_learned(state.saw) if state.saw else None


def pairs_of_tables(tables: Mapping[str, Any], *, under: str = "") -> Pairs:
    """Write the tables of a file as keys and values of an address.

    Parameters
    ----------
    tables : Mapping
        As TOML gives them; whatever is neither text nor number nor a list of them is left out.
    under : str
        Word before keys that stand in no table, such as "saw".

    Returns
    -------
    Pairs
        In the order of the file.
    """
    pairs: list[tuple[str, str]] = []
    for table, given in tables.items():
        if isinstance(given, Mapping):
            for name, value in given.items():
                values = value if isinstance(value, list) else [value]
                pairs += [(f"{table}.{name}", str(v)) for v in values if isinstance(v, str | int | float)]
        elif isinstance(given, str | int | float):
            pairs.append((f"{under}.{table}" if under else table, str(given)))
    return tuple(pairs)


def pairs_of_learned(learned: Learned | None) -> Pairs:
    """Write what was learned as keys and values of an address.

    Parameters
    ----------
    learned : Learned or None
        Of one bowl: at most one friction, strength and moisture.

    Returns
    -------
    Pairs
        As :func:`opened_saw` reads them from a file of it.

    Raises
    ------
    InputError
        If it holds two of a kind, which the page, unlike a command, has no place for.
    """
    if learned is None:
        return ()
    of_kind = {
        "friction": [(f.name, f.date) for f in learned.frictions],
        "strength": [(s.name, s.date) for s in learned.strengths],
        "moisture": [(m.name, m.date) for m in learned.moistures],
    }
    remedy = "give the file of this bowl alone"
    problems = tuple(
        Problem(named[1][0], kind, "", f"one {kind} for the page; {named[0][0]} holds another", remedy)
        for kind, named in of_kind.items()
        if len(named) > 1
    )
    if problems:
        raise InputError(problems)
    every = [one for named in of_kind.values() for one in named]
    name, date = every[0] if learned.saw is None else (learned.saw.name, learned.saw.date)
    text = learned_text(learned, name=name, date=date)
    return pairs_of_tables(tables_of_bytes(text.encode(), where=name), under="saw")


def opened_bowl(raw: bytes, *, where: str) -> tuple[Pairs, tuple[Problem, ...]]:
    """What an opened bowl file says, and what is wrong with it.

    Parameters
    ----------
    raw : bytes
        The file's contents.
    where : str
        Its name, for the messages.

    Returns
    -------
    tuple[Pairs, tuple[Problem, ...]]
        Keys and values, also of a file with problems: they can be mended on the page.

    Raises
    ------
    InputError
        If it is no TOML at all.
    """
    tables = tables_of_bytes(raw, where=where)
    try:
        refuse_files(tables)
        make_bowl(tables, where=where)
    except InputError as error:
        return pairs_of_tables(tables), error.problems
    return pairs_of_tables(tables), ()


def opened_saw(raw: bytes, *, where: str) -> Pairs:
    """What an opened file of what was learned says, a saw file for one.

    Parameters
    ----------
    raw : bytes
        The file's contents.
    where : str
        Its name, for the messages.

    Returns
    -------
    Pairs
        Keys and values; a key that stands in no table has "saw." before it.

    Raises
    ------
    InputError
        One line for every problem.
    """
    tables = tables_of_bytes(raw, where=where, kind="saw file")
    make_learned(tables, where=where)
    return pairs_of_tables(tables, under="saw")


def in_units(pairs: Sequence[tuple[str, str]], *, units: str) -> Pairs:
    """Write every length in inches or in millimetres where that can be done exactly.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Keys and values.
    units : str
        "in" or "mm".

    Returns
    -------
    Pairs
        The same bowl: what has no exact writing on a rule in these units, or cannot be read, stays as
        it was written.
    """
    before = next((value for key, value in pairs if key == "units"), "")
    whole = ((key, with_field_unit(key, value, units=before)) for key, value in pairs)
    return tuple(
        (key, _length_in(value, units) if FIELD_UNITS.get(key) is LENGTH else value) for key, value in whole
    )


def _length_in(text: str, units: str) -> str:
    try:
        low, high = read_range(text, LENGTH)
    except InputError:
        return text
    if text.rstrip().endswith(units) and " to " not in text:
        return text
    written = []
    for end in dict.fromkeys((low, high)):
        number = end / LENGTH.units[units]
        marks = number.denominator <= 64 and number.denominator & (number.denominator - 1) == 0
        if not marks and (number * SHORT_DECIMAL).denominator != 1:
            return text
        written.append(write_exactly(end, units, LENGTH))
    return " to ".join(written)
