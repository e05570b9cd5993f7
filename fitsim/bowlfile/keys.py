"""The bowl file: reading what a maker writes, answering what is wrong with it, all at once.

Every key has its own reader (:data:`READERS`), made of :mod:`fitsim.quantities`. Values stay exact
fractions until :mod:`fitsim.bowlfile.defaults` has filled what was left out.
"""

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, NamedTuple

from fitsim.bowl.hand_press import ordinary_hand
from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.geometry.board_outline import OUTLINES, Outline
from fitsim.geometry.outline_file import free_outline, names_drawing
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
    read_range,
    write_exactly,
)
from fitsim.wood.finishes import FINISHES

__all__ = [
    "GRAIN_DEG",
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
"""Tables that say where the bowl is kept; only :mod:`fitsim.climate.place` reads them."""


class Ends(NamedTuple):
    """Low and high end of a value that may be written as a range."""

    low: Fraction
    high: Fraction


SIDES_RANGE = (3, 60)

OUTLINE_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "round": (("across",), ()),
    "square": (("across",), ()),
    "oval": (("length", "width"), ()),
    "rectangle": (("length", "width"), ("corner",)),
    "polygon": (("across", "sides"), ("corner",)),
    "drawing": ((), ()),
}
"""Keys that an outline needs, and those that it may have."""

BASE_KEYS: dict[str | None, tuple[str, ...]] = {
    None: ("base",),
    "round": ("base",),
    "oval": ("base_length", "base_width"),
    "rectangle": ("base_length", "base_width"),
}
"""Keys that say how large the base is, by its own outline; None where it follows from the board's."""

_EMPTY_LIST = Problem("", "", "[]", "a value, or a list with one for each turn", "fill the list")
LONGEST_NAME = 200  # characters
GRAIN_DEG = {"flat-sawn": 0, "rift-sawn": 45, "quarter-sawn": 90}


Reader = Callable[[object], Any]


def _one(kind: QuantityKind) -> Reader:
    return lambda text: read_quantity(text, kind)


def _ends(kind: QuantityKind) -> Reader:
    return lambda text: Ends(*read_range(text, kind))


def _press(text: object) -> Fraction:
    """How hard the maker can push: one value, as a range it is known only where nobody gave it."""
    if isinstance(text, str) and " to " in text:
        hand = ordinary_hand()
        remedy = (
            "write what you can push; left out, it is taken as known only as "
            f"{hand.low_N:g} N to {hand.high_N:g} N"
        )
        raise InputError(Problem("", "", repr(text)[:40], "one force, for press is no range", remedy))
    return read_quantity(text, FORCE)


def _each(kind: QuantityKind) -> Reader:
    """One value or a list with one for each turn."""

    def read(text: object) -> tuple[Fraction, ...]:
        if isinstance(text, list):
            if not text:
                raise InputError(_EMPTY_LIST)
            return tuple(read_quantity(item, kind) for item in text)
        return (read_quantity(text, kind),)

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
        remedy = hidden_remedy(str(text), spaces=False) or f"did you mean {close[0]!r}?"
        raise InputError(Problem("", "", repr(text), words, remedy))
    try:
        angle = read_quantity(text, ANGLE)
    except InputError as error:
        remedy = "write one of those"
        raise InputError(Problem("", "", repr(text), words, remedy)) from error
    if angle > 90:
        remedy = f"write {write_exactly(180 - angle, 'deg', ANGLE)}" if angle <= 180 else "measure it again"
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
        remedy = hidden_remedy(word, spaces=False) or remedy
        raise InputError(Problem("", "", repr(text), f"one of {listed}", remedy))

    return read


def _name(text: object) -> str:
    if not isinstance(text, str):
        raise InputError(Problem("", "", repr(text)[:30], "a name in quotes", 'write it like "cherry"'))
    name = text.strip()
    if 0 < len(name) <= LONGEST_NAME and name.isprintable():
        return name
    if len(name) > LONGEST_NAME:
        remedy = f"this one has {len(name)}; shorten it"
    else:
        one_line = hidden_remedy(name) or "write it on one line"
        remedy = one_line if name else "write one, or leave the key out"
    expected = f"a name on one line, of at most {LONGEST_NAME} characters"
    raise InputError(Problem("", "", repr(text)[:30], expected, remedy))


def _outline(text: object) -> str:
    """A word for an outline, or the name of a drawing."""
    if isinstance(text, str) and names_drawing(text) and len(text) <= 1000 and text.isprintable():
        return text.strip()
    try:
        return str(_word(*OUTLINES)(text))
    except InputError as error:
        problem = error.problems[0]
        more = f'{problem.expected}, or a drawing like "leaf.svg"'
        raise InputError(replace(problem, expected=more)) from None


def _sides(text: object) -> int:
    """How many sides a polygon has."""
    low, high = SIDES_RANGE
    word = str(text).strip()
    if isinstance(text, bool) or not word.isdecimal() or len(word) > 3 or not low <= int(word) <= high:
        raise InputError(Problem("", "", repr(text)[:30], f"a whole number from {low} to {high}", "like 6"))
    return int(word)


@dataclass(frozen=True)
class BoardTable:
    """The blank, as written, each field named as its key; None: left out.

    Attributes
    ----------
    thickness : fractions.Fraction
        Thickness of the board. [mm]
    across : fractions.Fraction
        Diameter or side; the narrow way of an oval, a rectangle or a drawing. [mm]
    wood : str or None
        Name of the wood.
    outline : str or None
        Word for the outline, or the name of a drawing.
    length, width : fractions.Fraction or None
        Long and narrow way of an oval or a rectangle. [mm]
    corner : fractions.Fraction or None
        Radius of its corners. [mm]
    sides : int or None
        Sides of a polygon.
    moisture : fractions.Fraction or None
        Moisture when sawn. [percent]
    grain : fractions.Fraction or None
        Angle between growth rings and face. [deg]
    pith : fractions.Fraction or None
        Distance of the pith. [mm]
    edge : Outline or None
        No key: the outline of a board that is neither round nor square.
    """

    thickness: Fraction
    across: Fraction
    wood: str | None = None
    outline: str | None = None
    length: Fraction | None = None
    width: Fraction | None = None
    corner: Fraction | None = None
    sides: int | None = None
    moisture: Fraction | None = None
    grain: Fraction | None = None
    pith: Fraction | None = None
    edge: Outline | None = None


@dataclass(frozen=True)
class CutTable:
    """The cut, as written, each field named as its key; None: left out.

    Attributes
    ----------
    tilt : tuple[fractions.Fraction, ...]
        Lean of the table, one for all turns or one for each. [deg]
    kerf : Ends, tuple[fractions.Fraction, ...] or None
        :class:`Ends` for one value or a range, a plain tuple for one value a turn. [mm]
    blade_body, blade_set : fractions.Fraction or None
        Thickness of the blade, and how far its teeth are set to each side: in place of a kerf. [mm]
    pitch : tuple[fractions.Fraction, ...] or None
        How far the cut moves inward in one turn, one for all turns or one for each. [mm]
    turns : fractions.Fraction or None
        Turns of the cut. [-]
    base : fractions.Fraction or None
        Diameter, side or narrow way of the base. [mm]
    blade : fractions.Fraction or None
        Width of the blade, teeth to back. [mm]
    root : fractions.Fraction or None
        Clock position where strip joins base, from the grain, clockwise on the usual pattern. [deg]
    feed : fractions.Fraction or None
        How fast the board is pushed. [mm/min]
    base_corner : fractions.Fraction or None
        Radius of the base's corners. [mm]
    base_outline : str or None
        Word for the base's own outline.
    base_length, base_width : fractions.Fraction or None
        Long and narrow way of such a base. [mm]
    base_edge : Outline or None
        No key: the outline of a base that has one of its own; ``base`` is then its narrow way.
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
    base_corner: Fraction | None = None
    base_outline: str | None = None
    base_length: Fraction | None = None
    base_width: Fraction | None = None
    base_edge: Outline | None = None


@dataclass(frozen=True)
class UseTable:
    """Finish, press and present moisture, as written, each field named as its key; None: left out.

    Attributes
    ----------
    finish : str or None
        Name of the finish.
    press : fractions.Fraction or None
        Push there is on the middle. [N]
    friction : Ends or None
        Between bevels. [-]
    film : Ends or None
        Finish on each face of the slot. [mm]
    base_moisture : fractions.Fraction or None
        Moisture of the base now. [percent]
    turn_moisture : tuple[fractions.Fraction, ...] or None
        Moisture of the turns now, one for all or one for each. [percent]
    """

    finish: str | None = None
    press: Fraction | None = None
    friction: Ends | None = None
    film: Ends | None = None
    base_moisture: Fraction | None = None
    turn_moisture: tuple[Fraction, ...] | None = None


@dataclass(frozen=True)
class LimitsTable:
    """Where one state ends and the next begins, as written, each field named as its key; None: left out.

    Attributes
    ----------
    slot_left : fractions.Fraction or None
        Slot left when flat at which, and below which, it will not open. [mm]
    overlap : fractions.Fraction or None
        Least share of the thickness that still faces wood at a seat. [-]
    friction_used : fractions.Fraction or None
        Greatest share of the friction that may be used. [-]
    press_spare : fractions.Fraction or None
        Times the press needed at which a bowl is judged. [-]
    split_chance : fractions.Fraction or None
        Greatest chance of splitting. [-]
    """

    slot_left: Fraction | None = None
    overlap: Fraction | None = None
    friction_used: Fraction | None = None
    press_spare: Fraction | None = None
    split_chance: Fraction | None = None


@dataclass(frozen=True)
class ScatterTable:
    """Standard deviations of the cut, as written, each field named as its key; None: left out.

    Attributes
    ----------
    kerf : fractions.Fraction or None
        Of the kerf along the cut. [mm]
    kerf_length : fractions.Fraction or None
        Length along the cut over which the kerf is alike. [mm]
    tilt : fractions.Fraction or None
        Of the tilt that is set. [deg]
    thickness : fractions.Fraction or None
        Of the board's thickness. [mm]
    """

    kerf: Fraction | None = None
    kerf_length: Fraction | None = None
    tilt: Fraction | None = None
    thickness: Fraction | None = None


@dataclass(frozen=True)
class BowlTables:
    """A whole bowl file as written.

    Attributes
    ----------
    board, cut, use, limits, scatter : BoardTable, CutTable, UseTable, LimitsTable, ScatterTable
        Its tables.
    name : str
        Name of the bowl.
    """

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
        "outline": _outline,
        "length": _one(LENGTH),
        "width": _one(LENGTH),
        "corner": _one(LENGTH),
        "sides": _sides,
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
        "root": _one(DIRECTION),
        "feed": _one(FEED),
        "base_corner": _one(LENGTH),
        "base_outline": _word("round", "oval", "rectangle"),
        "base_length": _one(LENGTH),
        "base_width": _one(LENGTH),
    },
    "use": {
        "finish": _word(*FINISHES),
        "press": _press,
        "friction": _ends(PLAIN_OR_PERCENT),
        "film": _ends(LENGTH),
        "base_moisture": _one(MOISTURE),
        "turn_moisture": _each(MOISTURE),
    },
    "limits": {
        "slot_left": _one(LENGTH),
        "overlap": _one(PLAIN_OR_PERCENT),
        "friction_used": _one(PLAIN_OR_PERCENT),
        "press_spare": _one(RATIO),
        "split_chance": _one(PLAIN_OR_PERCENT),
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
"""Tables that only ``fitsim explain`` reads; see :mod:`fitsim.failure.observations`."""

PLANNED = ("want",)
"""Table that only ``fitsim plan`` reads; see :mod:`fitsim.plan.wishes`."""

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
    if hidden := hidden_remedy(name, spaces=False):
        return Problem(where, key, shown, "a key this table has", hidden)
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
        if needed_table == table and key and key not in given and path != "board.across":
            problems.append(Problem(where, path, "", expected, remedy))
    if table == "board":
        problems += _outline_sizes(where, given, values)
    if table == "cut" and not problems:
        problems += _base_sizes(where, values)
    return values, problems


def _outline_sizes(where: str, given: Mapping[str, Any], values: dict[str, Any]) -> list[Problem]:
    """Check that an outline has the sizes it needs and no others, and put it among the values."""
    if "outline" in given and "outline" not in values:
        return []
    written = values.get("outline", "round")
    kind = "drawing" if names_drawing(written) else written
    needed, may = OUTLINE_KEYS[kind]
    sizes = ("across", "length", "width", "corner", "sides")
    problems = []
    for key in sizes:
        path = f"board.{key}"
        if key in needed and key not in given:
            expected, remedy = _NEEDED.get(path, (f"the {key} of a board that is {_a(kind)}", ""))
            remedy = remedy or _LIKE[key]
            problems.append(Problem(where, path, "", expected, remedy))
        elif key in given and key not in (*needed, *may):
            wanted = " and ".join((*needed, *may)) or "the drawing's own size"
            problems.append(
                Problem(where, path, str(given[key])[:40], f"only {wanted} for {_a(kind)}", f"delete {key}")
            )
    if problems or any(key in given and key not in values for key in ("outline", *sizes)):
        return problems
    if kind == "drawing":
        try:
            values["edge"] = free_outline(written, key="board.outline")
        except InputError as error:
            return list(error.problems)
    elif kind not in ("round", "square"):
        across = float(values.get("across", 0))
        values["edge"] = Outline(
            kind=kind,
            length_mm=float(values.get("length", across)),
            width_mm=float(values.get("width", across)),
            corner_mm=float(values.get("corner", 0)),
            sides=int(values.get("sides", 0)),
        )
    if "edge" in values:
        values["across"] = Fraction(values["edge"].across_mm)
    return problems


def _base_sizes(where: str, values: dict[str, Any]) -> list[Problem]:
    """Check that a base's own outline has its sizes, and put it among the values."""
    kind = values.get("base_outline")
    needed = BASE_KEYS[kind]
    problems = []
    for key in ("base", "base_length", "base_width"):
        path = f"cut.{key}"
        if kind is not None and key in needed and key not in values:
            problems.append(
                Problem(
                    where,
                    path,
                    "",
                    f"the size of a base that is {_a(kind)}",
                    f'add a line: {key} = "90 mm"',
                )
            )
        elif key in values and key not in needed:
            wanted = " and ".join(needed)
            problems.append(
                Problem(where, path, f"{float(values[key]):g} mm", f"only {wanted} here",
                        f"delete {key}, or write base_outline beside it")
            )  # fmt: skip
    if problems or kind is None:
        return problems
    length, width = (float(values[key]) for key in (needed * 2)[:2])
    values["base_edge"] = Outline(
        "oval" if kind == "round" else kind, length, width, corner_mm=float(values.get("base_corner", 0))
    )
    values["base"] = Fraction(min(length, width))
    return problems


def _a(kind: str) -> str:
    return f"an {kind}" if kind == "oval" else kind if kind in ("round", "square") else f"a {kind}"


_LIKE = {
    "length": 'add a line, along the grain: length = "300 mm"',
    "width": 'add a line, across the grain: width = "200 mm"',
    "sides": "add a line: sides = 6",
}


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
