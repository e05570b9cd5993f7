"""The file of tests in the workshop: what was set on the saw, and what was measured on scrap and off-cuts.

TOML in the manner of the bowl file: every quantity in quotes with its unit. A file may hold any of the
tests: rings, slots and bevels for the saw, slides for friction, broken strips for strength across the
grain, weights and meter readings for moisture.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fitsim.assumption import Assumption
from fitsim.bowlfile.keys import READERS
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.quantities import ANGLE, KILOGRAM_N, LENGTH, LOAD, MOISTURE, RATIO, SHARE, WEIGHT, read_range
from fitsim.saw.break_test import BREAK_DEFAULTS, RIFT_DEFAULT, RIFT_SD, BreakTests, BrokenStrip, untested
from fitsim.saw.learned import WorkshopTests
from fitsim.saw.measurements import (
    BEFORE,
    DEFAULTS,
    WITHIN_SDS,
    Before,
    GaugeReading,
    Ring,
    ScrapCuts,
    SlotReading,
)
from fitsim.saw.oven_test import MOISTURE_DEFAULTS, MeterReading, MoistureTests, OvenPiece
from fitsim.saw.slide_test import SLIDE_DEFAULTS, Slide, SlideTests
from fitsim.table_keys import KeyedFile, Reader, not_negative, positive
from fitsim.toml_files import tables_of_file
from fitsim.wood.across_grain import StripSize
from fitsim.wood.finishes import finish_named
from fitsim.wood.species import Wood, find_wood

__all__ = ["make_tests", "read_tests", "tilt_of_option_rad"]

GREATEST_TILT_DEG = 45
GREATEST_THICKNESS_MM = 150
GREATEST_SLIDE_DEG = 60
LEAST_SPAN_SHARE = 5.0
"""Supports at least this many thicknesses apart: nearer, a strip is sheared and crushed as much as bent."""
GREATEST_MOISTURE_PERCENT = 30.0
"""As in the bowl file: above it wood no longer swells, and nothing here holds."""


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
_ASKED_TILT = positive(
    ANGLE, "deg", GREATEST_TILT_DEG, remedy='write the setting to predict for, like "6 deg"'
)
_LONG = positive(LENGTH, "mm", GREATEST_THICKNESS_MM)


def _believed(text: object) -> tuple[float, float]:
    low, high = read_range(text, RATIO)
    if not 0 < low < high:
        remedy = 'write the least and the greatest, like "0.2 to 0.6"'
        raise InputError(Problem("", "", repr(text), "two frictions above zero", remedy))
    return float(low), float(high)


_SIZES: dict[str, Reader] = {
    "width": positive(LENGTH, "mm", 200),
    "thickness": positive(LENGTH, "mm", 50),
    "span": positive(LENGTH, "mm", 1000),
}

CUT_READERS: dict[str, dict[str, Reader]] = {
    "board": {
        "thickness": _LONG, "wood": READERS["board"]["wood"], "grain": READERS["board"]["grain"],
        "finish": READERS["use"]["finish"],
    },
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
    "slide": {
        "angle": positive(ANGLE, "deg", GREATEST_SLIDE_DEG),
        "held": positive(ANGLE, "deg", GREATEST_SLIDE_DEG), "within": positive(ANGLE, "deg"),
    },
    "friction": {
        "believed": _believed, "varies": positive(SHARE, "%", 100), "stands_for": not_negative(SHARE),
    },
    "break": {
        "load": positive(LOAD, "N", 5000), **_SIZES,
        "within": positive(LOAD, "N"), "size_within": positive(LENGTH, "mm"),
    },
    "strips": dict(_SIZES),
    "strength": {
        "common": not_negative(SHARE), "handbook_within": positive(SHARE, "%", 200),
        "moisture_within": not_negative(MOISTURE),
    },
    "oven": {"wet": positive(WEIGHT, "g"), "dry": positive(WEIGHT, "g"), "within": positive(WEIGHT, "g")},
    "meter": {
        "reading": positive(MOISTURE, "%", GREATEST_MOISTURE_PERCENT), "within": positive(MOISTURE, "%"),
    },
    "moisture": {"varies": not_negative(MOISTURE)},
}  # fmt: skip
"""Reader of every key of the file of tests, by table; those of :data:`MANY` may stand many times."""

SAW_MANY = ("ring", "slot", "bevel")
MANY = (*SAW_MANY, "slide", "break", "oven", "meter")
_NEEDED: dict[str, dict[str, str]] = {
    "slide": {},
    "break": {"load": 'the most the scale showed, like load = "4.2 kg"'},
    "oven": {
        "wet": 'its weight off the board, like wet = "41.3 g"',
        "dry": 'its weight when it lost no more, like dry = "38.0 g"',
    },
    "meter": {"reading": 'what the meter showed, like reading = "8.5 %"'},
    "ring": {"tilt": 'what the scale read, like tilt = "5 deg"'},
    "slot": {"width": 'what the feeler gauge read, like width = "0.7 mm"'},
    "bevel": {
        "tilt": 'what the scale read, like tilt = "5 deg"',
        "gauge": 'what the bevel gauge read, like gauge = "5.4 deg"',
    },
}


def read_tests(path: str | Path) -> WorkshopTests:
    """Read a file of tests.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file, see ``fitsim testcut --new``.

    Returns
    -------
    WorkshopTests
        What was measured, with what stands in for keys left out.

    Raises
    ------
    InputError
        One line for every problem.
    """
    tables = tables_of_file(path, kind="file of test cuts", made_by="fitsim testcut --new FILE")
    return make_tests(tables, where=file_name(path))


def make_tests(tables: Mapping[str, Any], *, where: str = "") -> WorkshopTests:
    """Every test of a file, from tables written as in it.

    Parameters
    ----------
    tables : Mapping
        For example ``{"board": {"finish": "oil"}, "slide": [{"angle": "20 deg"}]}``.
    where : str
        File name for the error messages.

    Returns
    -------
    WorkshopTests
        What was measured.

    Raises
    ------
    InputError
        One line for every problem.

    Examples
    --------
    >>> tests = make_tests({"board": {"finish": "oil"}, "slide": [{"angle": "20 deg"}]})
    >>> tests.slides.believed_low, tests.cuts
    (0.2, None)
    """
    _refuse_other_file(tables, where)
    file = KeyedFile(CUT_READERS, where, many=MANY)
    top = file.top(tables)
    given = {kind: file.table(kind, kind, tables.get(kind, {})) for kind in CUT_READERS if kind not in MANY}
    rows = {kind: _rows(file, kind, tables.get(kind, [])) for kind in MANY}
    _check(file, given, rows)
    wood = _wood(file, given["board"])
    file.done()
    units = _units(tables)
    slides, slide_notes = _slides(given, rows["slide"], wood)
    strips, strip_notes = _strips(given, rows, wood)
    moisture, moisture_notes = _moisture(given, rows, wood)
    return WorkshopTests(
        cuts=_cuts(given, rows, top, units) if any(rows[kind] for kind in SAW_MANY) else None,
        slides=slides,
        strips=strips,
        moisture=moisture,
        units=units,
        assumptions=(*slide_notes, *strip_notes, *moisture_notes),
        **top,
    )


_Rows = dict[str, list[dict[str, Any]]]


def _check(file: KeyedFile, given: dict[str, dict[str, Any]], rows: _Rows) -> None:
    """What the readings say together."""
    board = given["board"]
    for kind, key in _READ_WITHIN.items():
        for i, row in enumerate(rows[kind], 1):
            _check_within(file, f"{kind} {i}", key, row)
    for i, row in enumerate(rows["ring"], 1):
        _check_ring(file, f"ring {i}", row, board.get("thickness"))
    for i, row in enumerate(rows["slide"], 1):
        told = any(p.key == f"slide {i}" for p in file.problems)  # no table at all
        if not told and ("angle" in row) == ("held" in row):
            expected = "either angle, at which it slid, or held, up to which it did not"
            remedy = 'write one of the two, like angle = "20 deg"'
            file.add(f"slide {i}.angle", "", expected, remedy)
    for i, row in enumerate(rows["break"], 1):
        _check_strip(file, f"break {i}", {**given["strips"], **row} if row else row)
    for i, row in enumerate(rows["oven"], 1):
        _check_piece(file, f"oven {i}", row)
    if rows["slide"] and "finish" not in board:
        file.add("board.finish", "", "how the off-cuts are finished, as the bowl will be",
                 'write [board] and finish = "oil", or "none" for bare wood')  # fmt: skip
    if rows["break"] and "wood" not in board:
        file.add("board.wood", "", "the wood of the strips", 'write [board] and wood = "cherry"')
    if file.problems or any("drop" in r for r in rows["ring"]) or rows["slot"]:
        return
    if any(rows[kind] for kind in MANY if kind not in SAW_MANY) and not (rows["ring"] or rows["bevel"]):
        return
    remedy = "write your readings: [[ring]] with tilt and drop, or [[slot]] with width, and no # before"
    if not any(rows.values()):
        remedy += "; for other tests [[slide]], [[break]], [[oven]] or [[meter]]"
    file.add("ring", "", "a ring that bound, or a slot by feeler gauge", remedy)


_READ_WITHIN = {
    "ring": ("drop", "mm", 1.0),
    "slot": ("width", "mm", 1.0),
    "break": ("load", "kg", KILOGRAM_N),
    "oven": ("dry", "g", 1.0),
}
"""Readings above nothing: one that may be off by all of itself says nothing, or its unit is wrong."""


def _check_within(file: KeyedFile, place: str, read: tuple[str, str, float], row: dict[str, Any]) -> None:
    key, unit, size = read
    value, within = row.get(key), row.get("within")
    if value is not None and within is not None and within >= value:
        shown, most = (f"{v / size:.4g} {unit}" for v in (within, value))
        expected = f"less than the {most} that was read"
        file.add(f"{place}.within", shown, expected, "check the unit, or leave it out")


def _check_strip(file: KeyedFile, place: str, row: dict[str, Any]) -> None:
    if not row:
        return
    missing = [key for key in ("width", "thickness", "span") if key not in row]
    for key in missing:
        expected = "how far apart the supports are" if key == "span" else f"the strip's {key}"
        file.add(f"{place}.{key}", "", expected, f"add {key} to it, or to [strips] for all of them")
    if missing or any(row[key] is None for key in ("width", "thickness", "span")):
        return
    least = LEAST_SPAN_SHARE * row["thickness"]
    if row["span"] < least:
        file.add(f"{place}.span", f"{row['span']:g} mm",
                 f"{least:g} mm or more, {LEAST_SPAN_SHARE:g} times its thickness",
                 "break thinner strips, or set the supports further apart")  # fmt: skip


def _check_piece(file: KeyedFile, place: str, row: dict[str, Any]) -> None:
    wet, dry = row.get("wet"), row.get("dry")
    if wet is None or dry is None:
        return
    if dry >= wet:
        file.add(f"{place}.dry", f"{dry:g} g", f"less than the {wet:g} g before the oven",
                 "check which weight is which")  # fmt: skip
    elif wet > (1 + GREATEST_MOISTURE_PERCENT / 100) * dry:
        file.add(f"{place}.wet", f"{wet:g} g", f"at most {GREATEST_MOISTURE_PERCENT:g} % more than dry",
                 "weigh again; wood as wet as this is to be dried before it is sawn")  # fmt: skip


def _wood(file: KeyedFile, board: dict[str, Any]) -> Wood | None:
    if board.get("wood") is None:
        return None
    try:
        return find_wood(board["wood"])
    except InputError as error:
        file.problems += [replace(p, where=file.where) for p in error.problems]
        return None


def _cuts(given: dict[str, dict[str, Any]], rows: _Rows, top: dict[str, str], units: str) -> ScrapCuts:
    common = given["board"].get("thickness")
    return ScrapCuts(
        rings=tuple(_ring(row, common) for row in rows["ring"]),
        slots=tuple(SlotReading(width_mm=r["width"], **_sd(r, "sd_mm")) for r in rows["slot"]),
        gauges=tuple(
            GaugeReading(
                scale_tilt_rad=math.radians(r["tilt"]), tilt_rad=math.radians(r["gauge"]),
                **({"sd_rad": math.radians(r["within"]) / WITHIN_SDS} if "within" in r else {}),
            )
            for r in rows["bevel"]
        ),
        before=_before(given["saw"]),
        units=units,
        assumptions=_assumed(given["saw"], {kind: rows[kind] for kind in SAW_MANY}),
        **top,
    )  # fmt: skip


def _left_out(
    defaults: Mapping[str, Assumption], given: dict[str, dict[str, Any]], rows: _Rows
) -> tuple[Assumption, ...]:
    """Defaults that were used, each once: where any reading leaves it out, or a belief does."""

    def used(key: str) -> bool:
        table, name = key.split(".")
        if table in MANY:
            return any(name not in row for row in rows[table])
        return name not in given[table]

    return tuple(a for key, a in defaults.items() if used(key))


_Slides = tuple[SlideTests | None, tuple[Assumption, ...]]


def _slides(given: dict[str, dict[str, Any]], many: list[dict[str, Any]], wood: Wood | None) -> _Slides:
    if not many:
        return None, ()
    known, name = given["friction"], given["board"]["finish"]
    finish = finish_named(name, wood_group="hardwood" if wood is None else wood.group)
    notes = _left_out(SLIDE_DEFAULTS, given, {"slide": many})
    if "believed" not in known:
        low, high = f"{finish.friction_low:g}", f"{finish.friction_high:g}"
        believed = Assumption(
            "friction.believed", f"{low} to {high}", low, high, finish.friction_mark, finish.friction_source
        )
        notes = (*notes, believed)
    low, high = known.get("believed", (finish.friction_low, finish.friction_high))
    shares = {"varies": "varies_sd", "stands_for": "stands_for_sd"}
    return SlideTests(
        slides=tuple(
            Slide(
                angle_rad=math.radians(row["held"] if "held" in row else row["angle"]), held="held" in row,
                **({"sd_rad": math.radians(row["within"]) / WITHIN_SDS} if "within" in row else {}),
            )
            for row in many
        ),
        finish=name,
        wood="" if wood is None else wood.name,
        believed_low=low,
        believed_high=high,
        **{field: known[key] / 100 / WITHIN_SDS for key, field in shares.items() if key in known},
    ), notes  # fmt: skip


_Strips = tuple[BreakTests | None, tuple[Assumption, ...]]


def _strips(given: dict[str, dict[str, Any]], rows: _Rows, wood: Wood | None) -> _Strips:
    if not rows["break"] or wood is None:
        return None, ()
    known = given["strength"]
    notes = _left_out(BREAK_DEFAULTS, given, rows)
    if rows["oven"] or rows["meter"]:
        notes = tuple(a for a in notes if a.key != "strength.moisture_within")
    rings = math.radians(given["board"].get("grain", 0))
    board = untested(wood, rings)
    if board.handbook_sd == RIFT_SD:
        notes = tuple(RIFT_DEFAULT if a.key == RIFT_DEFAULT.key else a for a in notes)
    shares = {"common": "common_sd", "handbook_within": "handbook_sd"}
    beliefs = {field: known[key] / 100 / WITHIN_SDS for key, field in shares.items() if key in known}
    if "moisture_within" in known:
        beliefs["moisture_sd_percent"] = known["moisture_within"] / WITHIN_SDS
    return replace(
        board,
        strips=tuple(
            BrokenStrip(
                load_N=row["load"],
                size=StripSize(
                    **{
                        f"{key}_mm": {**given["strips"], **row}[key]
                        for key in ("width", "thickness", "span")
                    }
                ),
                **_sd(row, "load_sd_N"),
                **({"size_sd_mm": row["size_within"] / WITHIN_SDS} if "size_within" in row else {}),
            )
            for row in rows["break"]
        ),
        **beliefs,
    ), notes


_Moisture = tuple[MoistureTests | None, tuple[Assumption, ...]]


def _moisture(given: dict[str, dict[str, Any]], rows: _Rows, wood: Wood | None) -> _Moisture:
    if not rows["oven"] and not rows["meter"]:
        return None, ()
    varies = given["moisture"].get("varies")
    return MoistureTests(
        pieces=tuple(OvenPiece(wet_g=r["wet"], dry_g=r["dry"], **_sd(r, "sd_g")) for r in rows["oven"]),
        meters=tuple(
            MeterReading(reading_percent=r["reading"], **_sd(r, "sd_percent")) for r in rows["meter"]
        ),
        wood="" if wood is None else wood.name,
        **({} if varies is None else {"varies_sd_percent": varies / WITHIN_SDS}),
    ), _left_out(MOISTURE_DEFAULTS, given, rows)


def _refuse_other_file(tables: Mapping[str, Any], where: str) -> None:
    saw = tables.get("saw")
    if "cut" in tables and not any(kind in tables for kind in MANY):
        expected = "a file of test cuts; this is a bowl file"
        remedy = "use it with: fitsim fit FILE, or write test cuts with: fitsim testcut --new FILE"
        raise InputError(Problem(where, "file", "", expected, remedy))
    if isinstance(saw, Mapping) and "tilt_offset" in saw:
        expected = "a file of test cuts; this is a saw file already"
        raise InputError(Problem(where, "file", "", expected, "use it with: fitsim fit FILE --saw"))
    for table, key in (("friction", "slides"), ("strength", "strips"), ("moisture", "sd")):
        given = tables.get(table)
        if isinstance(given, Mapping) and key in given:
            expected = "a file of tests; this is one of what was learned already"
            remedy = "use it with: fitsim fit FILE --learned"
            raise InputError(Problem(where, "file", "", expected, remedy))


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
    """Inches if the first thing written with a unit of either kind was written in inches or pounds.

    What was read on the tests counts before the size of what they were done on.
    """
    for kind, key in _TELLS_UNITS:
        given = tables.get(kind, [])
        for row in given if isinstance(given, list) else [given]:
            if not isinstance(row, Mapping) or key not in row:
                continue
            written = str(row[key]).rstrip()
            if key != "load":
                return "mm" if written.endswith(("mm", "cm", "m")) else "in"
            if written.endswith(("lb", "lbs", "lbf", "oz")):
                return "in"
            if written.endswith("g"):  # a kilogram's; newtons are nobody's alone
                return "mm"
    return "mm"


_TELLS_UNITS = (
    ("ring", "drop"), ("slot", "width"),
    *((kind, key) for kind in ("break", "strips") for key in ("width", "thickness", "span")),
    ("break", "load"), ("ring", "thickness"), ("board", "thickness"),
)  # fmt: skip
"""Where a unit tells how the maker writes, the surest first."""


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
        return math.radians(_ASKED_TILT(text))
    except InputError as error:
        raise InputError(tuple(replace(p, key="--tilt") for p in error.problems)) from None
