"""Two small files: what was measured on test cuts, and what they say about the saw.

Both are TOML in the manner of the bowl file: every quantity in quotes with its unit, every key read by its
own rule, everything wrong answered at once.
"""

import datetime
import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from fitsim.bowlfile import tables_of_file
from fitsim.errors import InputError, Problem
from fitsim.quantities import ANGLE, LENGTH, RATIO, Dimension, read_quantity, read_range
from fitsim.saw import Saw
from fitsim.scrap import (
    BEFORE,
    DEFAULTS,
    WITHIN_SDS,
    Before,
    GaugeReading,
    Ring,
    ScrapCuts,
    SlotReading,
)

__all__ = ["make_cuts", "make_saw", "read_cuts", "read_saw", "saw_text"]

Reader = Callable[[object], Any]
GREATEST_TILT_DEG = 45
GREATEST_THICKNESS_MM = 150
GREATEST_COUNT = 10_000


def _positive(dimension: Dimension, unit: str, most: float | None = None) -> Reader:
    def read(text: object) -> float:
        value = read_quantity(text, dimension)
        if value <= 0:
            raise InputError(Problem("", "", repr(text), "more than zero", "measure it again"))
        if most is not None and value > most:
            raise InputError(Problem("", "", repr(text), f"at most {most:g} {unit}", "check the unit"))
        return float(value)

    return read


def _not_negative(dimension: Dimension) -> Reader:
    return lambda text: float(read_quantity(text, dimension))


def _signed(dimension: Dimension) -> Reader:
    """A quantity that may stand below zero: an offset or a correlation."""

    def read(text: object) -> float:
        plain = str(text).replace("\N{MINUS SIGN}", "-").strip()
        negative = isinstance(text, str | int | float) and plain.startswith("-")
        value = read_quantity(plain[1:] if negative else text, dimension)
        return -float(value) if negative else float(value)

    return read


def _limits(text: object) -> tuple[float, float]:
    low, high = read_range(text, LENGTH)
    if not 0 < low < high:
        remedy = 'write the least and the greatest, like "0.5 to 1.5 mm"'
        raise InputError(Problem("", "", repr(text), "two kerfs above zero", remedy))
    return float(low), float(high)


def _yes(text: object) -> bool:
    if text is not True:
        raise InputError(Problem("", "", repr(text).lower(), "true", "or delete the line and give the drop"))
    return True


def _name(text: object) -> str:
    if isinstance(text, str) and 0 < len(text.strip()) <= 200 and text.strip().isprintable():
        return text.strip()
    raise InputError(Problem("", "", repr(text)[:30], "a name in quotes", 'write it like "Band saw, 1/8 in"'))


def _day(text: object) -> str:
    try:
        return datetime.date.fromisoformat(str(text)).isoformat()
    except ValueError:
        remedy = 'write it like "2024-11-30"'
        raise InputError(Problem("", "", repr(str(text)), "a day as year-month-day", remedy)) from None


def _count(text: object) -> int:
    if isinstance(text, int) and not isinstance(text, bool) and 0 <= text <= GREATEST_COUNT:
        return text
    raise InputError(Problem("", "", repr(text)[:30], "a whole number", "write the saw file anew"))


_TILT = _positive(ANGLE, "deg", GREATEST_TILT_DEG)
_LONG = _positive(LENGTH, "mm", GREATEST_THICKNESS_MM)

CUT_READERS: dict[str, dict[str, Reader]] = {
    "board": {"thickness": _LONG},
    "ring": {
        "tilt": _TILT, "drop": _LONG, "fell_through": _yes, "thickness": _LONG,
        "within": _positive(LENGTH, "mm"),
    },
    "slot": {"width": _positive(LENGTH, "mm", 10), "within": _positive(LENGTH, "mm")},
    "bevel": {"tilt": _TILT, "gauge": _TILT, "within": _positive(ANGLE, "deg")},
    "saw": {
        "scale_within": _positive(ANGLE, "deg", 10), "kerf_limits": _limits,
        "kerf_varies": _not_negative(LENGTH), "tilt_repeats": _not_negative(ANGLE),
    },
}  # fmt: skip
"""Reader of every key of the measurements file, by table; ring, slot and bevel may stand many times."""

SAW_READERS: dict[str, dict[str, Reader]] = {
    "saw": {
        "kerf": _positive(LENGTH, "mm", 10), "kerf_sd": _positive(LENGTH, "mm"),
        "tilt_offset": _signed(ANGLE), "tilt_offset_sd": _positive(ANGLE, "deg"),
        "correlation": _signed(RATIO),
        "kerf_varies_sd": _not_negative(LENGTH), "tilt_repeats_sd": _not_negative(ANGLE),
        "rings": _count, "slots": _count, "bevels": _count,
    },
}  # fmt: skip
"""Reader of every key of the saw file; all are needed."""

TOP_READERS: dict[str, Reader] = {"name": _name, "date": _day}
MANY = ("ring", "slot", "bevel")
_NEEDED = {
    "ring": {"tilt": 'what the scale read, like tilt = "5 deg"'},
    "slot": {"width": 'what the feeler gauge read, like width = "0.7 mm"'},
    "bevel": {
        "tilt": 'what the scale read, like tilt = "5 deg"',
        "gauge": 'what the bevel gauge read, like gauge = "5.4 deg"',
    },
}


class _File:
    """One file being read: its values by place, and everything wrong with it."""

    def __init__(self, readers: dict[str, dict[str, Reader]], where: str) -> None:
        self.readers = readers
        self.where = where
        self.problems: list[Problem] = []

    def add(self, key: str, value: str, expected: str, remedy: str) -> None:
        self.problems.append(Problem(self.where, key, value, expected, remedy))

    def one(self, key: str, reader: Reader, value: object) -> Any:
        try:
            return reader(value)
        except InputError as error:
            self.problems += [replace(p, where=self.where, key=key) for p in error.problems]
            return None

    def table(self, place: str, kind: str, given: object) -> dict[str, Any]:
        """Values of one table; a key that could not be read is None."""
        if not isinstance(given, Mapping):
            header = f"[[{kind}]]" if kind in MANY else f"[{kind}]"
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
        close = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
        other = [table for table, readers in self.readers.items() if key in readers]
        expected, remedy = f"one of the keys {', '.join(known)}", "delete it or correct it"
        if close:
            remedy = f"did you mean {close[0]!r}?"
        elif other:
            header = f"[[{other[0]}]]" if other[0] in MANY else f"[{other[0]}]"
            remedy = f"move it to stand under {header}"
        self.add(place, repr(value)[:40], expected, remedy)

    def top(self, tables: Mapping[str, Any]) -> dict[str, str]:
        known = [*self.readers, *TOP_READERS]
        for key in tables:
            if key not in known:
                self.unknown(key, key, tables[key], known)
        read = {k: self.one(k, reader, tables[k]) for k, reader in TOP_READERS.items() if k in tables}
        return {key: value for key, value in read.items() if value is not None}

    def done(self) -> None:
        if self.problems:
            raise InputError(tuple(self.problems))


def read_cuts(path: str | Path) -> ScrapCuts:
    """Read a file of test cuts.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file, see ``fitsim testcut --new``.

    Returns
    -------
    ScrapCuts
        What was measured, with what stands in for keys left out.

    Raises
    ------
    InputError
        One line for every problem.
    """
    tables = tables_of_file(path, kind="file of test cuts", made_by="fitsim testcut --new FILE")
    return make_cuts(tables, where=str(path))


def make_cuts(tables: Mapping[str, Any], *, where: str = "") -> ScrapCuts:
    """Test cuts from tables written as in the file.

    Parameters
    ----------
    tables : Mapping
        For example ``{"ring": [{"tilt": "5 deg", "drop": "7.4 mm"}]}``.
    where : str
        File name for the error messages.

    Returns
    -------
    ScrapCuts
        What was measured.

    Raises
    ------
    InputError
        One line for every problem.

    Examples
    --------
    >>> make_cuts({"ring": [{"tilt": "5 deg", "drop": "7.4 mm"}]}).rings[0].drop_mm
    7.4
    """
    _refuse_saw_file(tables, where)
    file = _File(CUT_READERS, where)
    top = file.top(tables)
    board = file.table("board", "board", tables.get("board", {}))
    known = file.table("saw", "saw", tables.get("saw", {}))
    rows = {kind: _rows(file, kind, tables.get(kind, [])) for kind in MANY}
    for i, row in enumerate(rows["ring"], 1):
        _check_ring(file, f"ring {i}", row, board.get("thickness"))
    if not file.problems and not any("drop" in r for r in rows["ring"]) and not rows["slot"]:
        file.add("ring", "", "a ring that bound, or a slot by feeler gauge", "add [[ring]] with tilt and drop")
    file.done()
    return ScrapCuts(
        rings=tuple(_ring(row, board.get("thickness")) for row in rows["ring"]),
        slots=tuple(SlotReading(width_mm=r["width"], **_sd(r, "sd_mm")) for r in rows["slot"]),
        gauges=tuple(
            GaugeReading(
                scale_tilt_rad=math.radians(r["tilt"]), tilt_rad=math.radians(r["gauge"]),
                **({"sd_rad": math.radians(r["within"]) / WITHIN_SDS} if "within" in r else {}),
            )
            for r in rows["bevel"]
        ),
        before=_before(known),
        units=_units(tables),
        assumptions=_assumed(known, rows),
        **top,
    )  # fmt: skip


def _refuse_saw_file(tables: Mapping[str, Any], where: str) -> None:
    saw = tables.get("saw")
    if isinstance(saw, Mapping) and "tilt_offset" in saw:
        expected = "a file of test cuts; this is a saw file already"
        raise InputError(Problem(where, "file", "", expected, "use it with: fitsim fit FILE --saw"))


def _rows(file: _File, kind: str, given: object) -> list[dict[str, Any]]:
    if not isinstance(given, list):
        file.add(kind, repr(given)[:40], f"[[{kind}]] with two brackets on each side", "add the brackets")
        return []
    rows = []
    for i, row in enumerate(given, 1):
        values = file.table(f"{kind} {i}", kind, row)
        if isinstance(row, Mapping):
            for key, words in _NEEDED[kind].items():
                if key not in row:
                    file.add(f"{kind} {i}.{key}", "", words, "add the line")
        rows.append(values)
    return rows


def _check_ring(file: _File, place: str, row: dict[str, Any], common_mm: float | None) -> None:
    if not row:
        return
    thickness = row.get("thickness", common_mm)
    drop = row.get("drop")
    if ("drop" in row) == ("fell_through" in row):
        file.add(f"{place}.drop", "" if drop is None else f"{drop:g} mm", "either a drop or fell_through = true",
                 "write the drop of a ring that bound, or fell_through")  # fmt: skip
    elif "fell_through" in row and thickness is None:
        file.add(f"{place}.thickness", "", "the scrap's thickness, as the ring fell through it",
                 'add thickness = "19 mm", or [board] with thickness for all rings')  # fmt: skip
    elif drop is not None and thickness is not None and drop >= thickness:
        file.add(f"{place}.drop", f"{drop:g} mm", f"less than the scrap's {thickness:g} mm",
                 "measure it again, or write fell_through = true instead")  # fmt: skip


def _sd(row: dict[str, Any], name: str) -> dict[str, float]:
    return {name: row["within"] / WITHIN_SDS} if "within" in row else {}


def _ring(row: dict[str, Any], common_mm: float | None) -> Ring:
    return Ring(
        scale_tilt_rad=math.radians(row["tilt"]),
        drop_mm=row.get("drop"),
        thickness_mm=row.get("thickness", common_mm),
        **_sd(row, "sd_mm"),
    )


def _before(known: dict[str, Any]) -> Before:
    low, high = known.get("kerf_limits", (BEFORE.kerf_low_mm, BEFORE.kerf_high_mm))

    def sd(key: str, default: float, size: float = 1.0) -> float:
        return float(known[key]) * size / WITHIN_SDS if key in known else default

    degree = math.radians(1.0)
    return Before(
        scale_sd_rad=sd("scale_within", BEFORE.scale_sd_rad, degree),
        kerf_low_mm=low,
        kerf_high_mm=high,
        kerf_varies_sd_mm=sd("kerf_varies", BEFORE.kerf_varies_sd_mm),
        tilt_repeats_sd_rad=sd("tilt_repeats", BEFORE.tilt_repeats_sd_rad, degree),
    )


def _assumed(known: dict[str, Any], rows: dict[str, list[dict[str, Any]]]) -> tuple[Any, ...]:
    """Defaults that were used, each once."""
    left = {f"saw.{key}" for key in CUT_READERS["saw"] if key not in known}
    for kind, many in rows.items():
        if any("within" not in row and "fell_through" not in row for row in many):
            left.add(f"{kind}.within")
    return tuple(a for key, a in DEFAULTS.items() if key in left)


def _units(tables: Mapping[str, Any]) -> str:
    """Inches if the first drop, or the first slot, was written in inches."""
    first = next((str(row[key]) for kind, key in (("ring", "drop"), ("slot", "width"))
                  for row in tables.get(kind, []) if key in row), "mm")  # fmt: skip
    return "mm" if first.rstrip().endswith(("mm", "cm", "m")) else "in"


def saw_text(saw: Saw) -> str:
    """The saw file's text, which :func:`read_saw` reads back.

    Parameters
    ----------
    saw : Saw
        The saw.

    Returns
    -------
    str
        TOML.
    """
    degrees = {
        name: f"{math.degrees(value):.6f} deg"
        for name, value in (
            ("offset", saw.tilt_offset_rad),
            ("offset_sd", saw.tilt_offset_sd_rad),
            ("repeats", saw.tilt_repeats_sd_rad),
        )
    }
    # A JSON-like escape serves TOML's basic strings too: backslash and quote are all a name can hold.
    name = saw.name.replace("\\", "\\\\").replace('"', '\\"')
    return "\n".join([
        "# What one saw with one blade really does, worked out by: fitsim testcut",
        "# Use it with: fitsim fit FILE --saw THIS_FILE. Make it anew for another blade.",
        f'name = "{name}"',
        *([f'date = "{saw.date}"'] if saw.date else []),
        "",
        "[saw]",
        f'kerf = "{saw.kerf_mm:.6f} mm"',
        f'kerf_sd = "{saw.kerf_sd_mm:.6f} mm"             # standard deviation of what is known',
        f'tilt_offset = "{degrees["offset"]}"       # true tilt = scale + this',
        f'tilt_offset_sd = "{degrees["offset_sd"]}"',
        f'correlation = "{saw.correlation:.6f}"            # of kerf and offset',
        f'kerf_varies_sd = "{saw.kerf_varies_sd_mm:.6f} mm"      # from cut to cut, on top',
        f'tilt_repeats_sd = "{degrees["repeats"]}"    # from setting to setting, on top',
        f"rings = {saw.rings}",
        f"slots = {saw.slots}",
        f"bevels = {saw.gauges}",
        "",
    ])  # fmt: skip


def read_saw(path: str | Path) -> Saw:
    """Read a saw file.

    Parameters
    ----------
    path : str or pathlib.Path
        Written by ``fitsim testcut FILE --keep PATH``.

    Returns
    -------
    Saw
        The saw.

    Raises
    ------
    InputError
        One line for every problem.
    """
    tables = tables_of_file(path, kind="saw file", made_by="fitsim testcut FILE --keep SAWFILE")
    return make_saw(tables, where=str(path))


def make_saw(tables: Mapping[str, Any], *, where: str = "") -> Saw:
    """A saw from tables written as in a saw file.

    Parameters
    ----------
    tables : Mapping
        As :func:`saw_text` writes them.
    where : str
        File name for the error messages.

    Returns
    -------
    Saw
        The saw.

    Raises
    ------
    InputError
        One line for every problem.
    """
    for kind, words in (("ring", "test cuts"), ("slot", "test cuts"), ("cut", "a bowl")):
        if kind in tables:
            expected = f"a saw file; this is a file of {words}" if kind != "cut" else "a saw file, not a bowl file"
            remedy = "write one with: fitsim testcut FILE --keep SAWFILE"
            raise InputError(Problem(where, "file", "", expected, remedy))
    file = _File(SAW_READERS, where)
    top = file.top(tables)
    given = tables.get("saw", {})
    read = file.table("saw", "saw", given)
    for key in SAW_READERS["saw"]:
        if isinstance(given, Mapping) and key not in given:
            file.add(f"saw.{key}", "", "all keys of a saw file", "write it anew: fitsim testcut FILE --keep")
    correlation = read.get("correlation")
    if correlation is not None and not -1 < correlation < 1:
        file.add("saw.correlation", f"{correlation:g}", "between -1 and 1", "write the saw file anew")
    file.done()
    return Saw(
        name=top.get("name", Path(where).stem or "saw"),
        kerf_mm=read["kerf"],
        kerf_sd_mm=read["kerf_sd"],
        tilt_offset_rad=math.radians(read["tilt_offset"]),
        tilt_offset_sd_rad=math.radians(read["tilt_offset_sd"]),
        correlation=read["correlation"],
        kerf_varies_sd_mm=read["kerf_varies_sd"],
        tilt_repeats_sd_rad=math.radians(read["tilt_repeats_sd"]),
        rings=read["rings"],
        slots=read["slots"],
        gauges=read["bevels"],
        date=top.get("date", ""),
    )
