"""The file of test cuts: what was set on the saw and what was measured on the scrap.

TOML in the manner of the bowl file: every quantity in quotes with its unit.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fitsim.bowl import Assumption
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.keyed import KeyedFile, Reader, not_negative, positive
from fitsim.quantities import ANGLE, LENGTH, read_range
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
from fitsim.tomlfile import tables_of_file

__all__ = ["make_cuts", "read_cuts", "tilt_of_option_rad"]

GREATEST_TILT_DEG = 45
GREATEST_THICKNESS_MM = 150


def _limits(text: object) -> tuple[float, float]:
    low, high = read_range(text, LENGTH)
    if not 0 < low < high:
        remedy = 'write the least and the greatest, like "0.5 to 1.5 mm"'
        raise InputError(Problem("", "", repr(text), "two kerfs above zero", remedy))
    return float(low), float(high)


def _yes(text: object) -> bool:
    if text is not True:
        raise InputError(
            Problem("", "", repr(text).lower(), "true", "or delete the line and give the drop")
        )
    return True


_TILT = positive(ANGLE, "deg", GREATEST_TILT_DEG)
_LONG = positive(LENGTH, "mm", GREATEST_THICKNESS_MM)

CUT_READERS: dict[str, dict[str, Reader]] = {
    "board": {"thickness": _LONG},
    "ring": {
        "tilt": _TILT, "drop": _LONG, "fell_through": _yes, "thickness": _LONG,
        "within": positive(LENGTH, "mm"),
    },
    "slot": {"width": positive(LENGTH, "mm", 10), "within": positive(LENGTH, "mm")},
    "bevel": {"tilt": _TILT, "gauge": _TILT, "within": positive(ANGLE, "deg")},
    "saw": {
        "scale_within": positive(ANGLE, "deg", 10), "kerf_limits": _limits,
        "kerf_varies": not_negative(LENGTH), "tilt_repeats": not_negative(ANGLE),
    },
}  # fmt: skip
"""Reader of every key of the measurements file, by table; ring, slot and bevel may stand many times."""

MANY = ("ring", "slot", "bevel")
_NEEDED = {
    "ring": {"tilt": 'what the scale read, like tilt = "5 deg"'},
    "slot": {"width": 'what the feeler gauge read, like width = "0.7 mm"'},
    "bevel": {
        "tilt": 'what the scale read, like tilt = "5 deg"',
        "gauge": 'what the bevel gauge read, like gauge = "5.4 deg"',
    },
}


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
    return make_cuts(tables, where=file_name(path))


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
    _refuse_other_file(tables, where)
    file = KeyedFile(CUT_READERS, where, many=MANY)
    top = file.top(tables)
    board = file.table("board", "board", tables.get("board", {}))
    known = file.table("saw", "saw", tables.get("saw", {}))
    rows = {kind: _rows(file, kind, tables.get(kind, [])) for kind in MANY}
    for i, row in enumerate(rows["ring"], 1):
        _check_ring(file, f"ring {i}", row, board.get("thickness"))
    if not file.problems and not any("drop" in r for r in rows["ring"]) and not rows["slot"]:
        remedy = "write your readings: [[ring]] with tilt and drop, or [[slot]] with width, and no # before"
        file.add("ring", "", "a ring that bound, or a slot by feeler gauge", remedy)
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


def _refuse_other_file(tables: Mapping[str, Any], where: str) -> None:
    saw = tables.get("saw")
    if "cut" in tables and not any(kind in tables for kind in MANY):
        expected = "a file of test cuts; this is a bowl file"
        remedy = "use it with: fitsim fit FILE, or write test cuts with: fitsim testcut --new FILE"
        raise InputError(Problem(where, "file", "", expected, remedy))
    if isinstance(saw, Mapping) and "tilt_offset" in saw:
        expected = "a file of test cuts; this is a saw file already"
        raise InputError(Problem(where, "file", "", expected, "use it with: fitsim fit FILE --saw"))


def _rows(file: KeyedFile, kind: str, given: object) -> list[dict[str, Any]]:
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


def _check_ring(file: KeyedFile, place: str, row: dict[str, Any], common_mm: float | None) -> None:
    if not row:
        return
    thickness = row.get("thickness", common_mm)
    drop = row.get("drop")
    if ("drop" in row) == ("fell_through" in row):
        shown = "" if drop is None else f"{drop:g} mm"
        file.add(f"{place}.drop", shown, "either a drop or fell_through = true",
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


def _assumed(known: dict[str, Any], rows: dict[str, list[dict[str, Any]]]) -> tuple[Assumption, ...]:
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


def tilt_of_option_rad(text: str) -> float:
    """Read the setting of the scale that an option asks about.

    Parameters
    ----------
    text : str
        As in the file, for example "6 deg".

    Returns
    -------
    float
        Tilt. [rad]

    Raises
    ------
    InputError
        If it is no tilt a saw can be set to.
    """
    try:
        return math.radians(_TILT(text))
    except InputError as error:
        raise InputError(tuple(replace(p, key="--tilt") for p in error.problems)) from None
