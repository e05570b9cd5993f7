"""Files and words of every kind that the program reads, spoilt by the rules of their own grammar.

Each kind has a good example and a way of reading it that is the program's own. It is taken apart into lines
and values and gets back what a slip of the pen, a broken disk or an ill-meaning stranger would leave there;
:func:`outcome` says what came of it. The same seed spoils alike.
"""

import atexit
import random
import sqlite3
import tempfile
import warnings
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweep_bowls import rigid_rings

from fitsim.bowlfile.defaults import make_bowl, read_bowl
from fitsim.bowlfile.text import bowl_text
from fitsim.climate.place import read_place
from fitsim.climate.weather import MONTH_DAYS, read_epw
from fitsim.commands.explain import _with_options
from fitsim.errors import LONGEST_LINE, FitsimError, InputError
from fitsim.failure.causes import causes_of_file
from fitsim.failure.failed_samples import plan_of
from fitsim.failure.observations import read_observed
from fitsim.page.state import bowl_of, opened_bowl, opened_saw, read_address, read_state
from fitsim.saw.learned import learn, with_learned
from fitsim.saw.learned_file import read_learned
from fitsim.saw.tests_file import read_tests
from fitsim.sweeps.row_store import header_of, join_stores
from fitsim.sweeps.run_rows import ask, run_sweep
from fitsim.sweeps.varied_quantities import read_varied
from fitsim.tables import packaged_text
from fitsim.toml_files import tables_of_file

_FOLDER = tempfile.TemporaryDirectory(prefix="fitsim-hostile-")
atexit.register(_FOLDER.cleanup)
SCRATCH = Path(_FOLDER.name)

BOWL = b"""name = "Rowan dish"
[board]
wood = "cherry"
thickness = "3/4 in"
across = "150 mm"
moisture = "8 %"
grain = "rift-sawn"
[cut]
tilt = "5 1/2 deg"
kerf = "0.65 to 0.75 mm"
pitch = "6.5 mm"
base = "56 mm"
feed = "200 mm/min"
[use]
finish = "oil"
press = "20 lbf"
friction = "0.25 to 0.5"
turn_moisture = "7 %"
[limits]
overlap = "0.2"
[scatter]
tilt = "0.3 deg"
"""
SHUT_BOWL = """[board]
wood = "cherry"
thickness = "18 mm"
across = "88 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "58 mm"
[use]
film = "0.4 mm"
"""
"""A slot that its film shuts: nothing is pressed, where only what is read and shown is looked at."""

PLACE = (
    BOWL
    + b"""[room]
heated = "20 C"
humidifier = "30 %"
added = "3 g/m3"
humidity = "30 to 60 %"
driest_month = 2
[weather]
temperature_C = [-10, -8, -2, 6, 13, 19, 22, 20, 15, 8, 0, -7]
humidity_percent = [78, 76, 72, 66, 65, 68, 70, 73, 75, 74, 79, 81]
"""
)
FAILED = (
    BOWL
    + b"""[seen]
what = ["fell through at turn 3", "split near the root, after months"]
[measured]
kerf = "0.65 +- 0.05 mm"
drop_2 = "7.5 mm"
tilt = "-4 deg"
rim_moisture = "9 +- 1 %"
nail = "through one turn"
press = "90 N"
"""
)
CUTS = b"""name = "Lean-to saw"
date = "2024-11-30"
[board]
thickness = "3/4 in"
[saw]
scale_within = "1 deg"
kerf_limits = "0.5 to 1.5 mm"
[[ring]]
tilt = "4 deg"
drop = "9.1 mm"
within = "0.4 mm"
[[ring]]
tilt = "2 deg"
fell_through = true
[[slot]]
width = "0.7 mm"
[[bevel]]
tilt = "4 deg"
gauge = "4.5 deg"
"""
SAW = b"""name = "Lean-to saw"
date = "2024-11-30"
[saw]
kerf = "0.700000 mm"
kerf_sd = "0.020000 mm"
tilt_offset = "-0.4 deg"
tilt_offset_sd = "0.2 deg"
correlation = "-0.900000"
kerf_varies_sd = "0.020000 mm"
tilt_repeats_sd = "0.1 deg"
rings = 2
slots = 1
bevels = 1
"""
TESTS = b"""name = "Shed"
date = "2024-11-30"
[board]
wood = "cherry"
finish = "oil"
grain = "flat-sawn"
[friction]
varies = "20 %"
[strips]
width = "3/8 in"
span = "62 mm"
[strength]
common = "8 %"
moisture_within = "3 %"
[[slide]]
angle = "21 deg"
within = "1 deg"
[[slide]]
held = "25 deg"
[[break]]
load = "4.2 kg"
thickness = "6.1 mm"
[[break]]
load = "8.4 lb"
thickness = "1/4 in"
within = "0.2 kg"
[[oven]]
wet = "41.3 g"
dry = "38.0 g"
[[meter]]
reading = "9 %"
"""
KEPT = (
    SAW
    + b"""[friction]
finish = "oil"
wood = "cherry"
friction = "0.37"
low = "0.33"
high = "0.42"
slides = 6
[strength]
wood = "cherry"
grain = "0 deg"
mean_at_5 = "2.9 MPa"
sd_at_5 = "0.3 MPa"
mean_at_6 = "3.1 MPa"
sd_at_6 = "0.3 MPa"
mean_at_8 = "3.7 MPa"
sd_at_8 = "0.3 MPa"
mean_at_10 = "4.2 MPa"
sd_at_10 = "0.3 MPa"
usual = "3.4 MPa"
strips = 5
[moisture]
wood = "cherry"
moisture = "9 %"
sd = "0.4 %"
pieces = 2
meters = 0
"""
)
WORDS = b"""tilt=2..14:4
kerf=0.4..1.6 mm:3
cut.pitch=1/4..3/8 in:2
wood=cherry,white oak
press=10..40 lbf:2
finish=oil,none
"""
ADDRESS = (
    b"name=Rowan%20dish&board.thickness=3%2F4%20in&board.across=150%20mm&cut.tilt=5%20deg&cut.kerf=0.7%20mm"
    b"&use.press=20%20lbf&units=mm&weather.temperature_C=3&limits.overlap=0.2"
)

VALUES = [
    "",
    '""',
    '"\\u0000"',
    '"\\u001b[31m"',
    '"a\\nb"',
    '"\\u202edeg 5"',
    "true",
    "[]",
    "[[]]",
    "{}",
    "{a = 1}",
    "0",
    "-1",
    "1e400",
    "-inf",
    "nan",
    "1979-05-27",
    "07:32:00",
    "0x" + "f" * 5000,
    "9" * 5000,
    "9" * 25,
    "9223372036854775808",
    "[" * 12 + "]" * 12,
    "[" * 2000 + "]" * 2000,
    '"' + "x" * 70_000 + '"',
    '"' + "9" * 5000 + ' mm"',
    '"0 mm"',
    '"0 deg"',
    '"-5 deg"',
    '"1e3 mm"',
    '"1/0 in"',
    '"5/8 in in"',
    '"5 km"',
    '"1 ft 2 in 3 mm"',
    '"\N{VULGAR FRACTION ONE HALF} in"',
    '"\N{ARABIC-INDIC DIGIT THREE} mm"',
    '"5 to 4 mm"',
    '"0.5 to"',
    '" to "',
    '"0 to 0"',
    '"0.7 mm" # no',
    '["5 deg", 5]',
    '["5 deg", ["5 deg"]]',
    '"none"',
    '"fell through at turn ' + "9" * 5000 + '"',
    '"fell through at turn 0"',
    '"split"',
    '"locks"',
    "5",
    '"0.65 +- 0 mm"',
    '"0.65 +- mm"',
    '"+-"',
    '"0.65 +- 0.05 +- 0.1 mm"',
    '"through two turns"',
    '"1e-300"',
    '"45 deg"',
    '"89.999 deg"',
    '"0.000001 mm"',
    '"9999 mm"',
    '"100 %"',
    '"0 %"',
    '"200"',
    '"\\\\"',
    "'''",
    "[" + ", ".join(['"fell through"'] * 400) + "]",
    "[" + ", ".join(['"0.7 mm"'] * 4000) + "]",
]
"""What may stand behind the sign of equality in a file of TOML."""

CELLS = [
    "",
    " ",
    "0",
    "-1",
    "nan",
    "inf",
    "1e400",
    "9" * 5000,
    "x",
    "x" * 140_000,
    '"',
    '"open',
    "'",
    ",",
    ",,,,",
    "\0",
    "\x1b[2J",
    "\N{RIGHT-TO-LEFT OVERRIDE}",
    "1,5",
    "1;5",
    "-0",
    "99.9",
    "999",
    "999999",
    "\N{MINUS SIGN}4",
    "1_0",
    "stays",
    "flag",
    "wrong_face",
    "kerf_mm",
    "LOCATION",
    "\r",
    "\N{LINE SEPARATOR}",
]
"""What may stand in a cell of a table."""

TEXTS = [
    "..",
    "=",
    ":",
    ",",
    "tilt=",
    "=2..3",
    "tilt=2..3:" + "0" * 5000 + "4",
    "tilt=2..3:" + "9" * 5000,
    "wood=2..3",
    "tilt=" + "9" * 5000 + "..3",
    "tilt=2..14..20",
    "kerf=1,1",
    "kerf=" + ",".join(str(i) for i in range(1, 3000)),
    "\x1b[31m=2..3",
    "tilt=2 mm..3 mm",
    "tilt=nan..inf",
    "limits.overlap=0..1:3",
    "board.wood=",
    "tilt=-3..3",
    "%",
    "%00",
    "%ff",
    "&",
    "&&=&",
    "cut.tilt",
    "saw.rings=" + "9" * 400,
    "since=13",
    "wide_px=9e9",
    "copies=0",
    "weather.temperature_C=" + "9" * 300,
    ".=1",
    "a.b.c=1",
    "cut.kerf=0.7%20mm&cut.kerf=0.8%20mm",
]
"""What may stand in the words of a sweep or in an address."""


@dataclass(frozen=True)
class Kind:
    """One kind of file or of words: a good example, and how the program reads it."""

    name: str
    good: bytes
    read: Callable[[Path], object]
    spoil: Callable[[random.Random, bytes], bytes]


def _lines(dice: random.Random, raw: bytes) -> bytes:
    """Files of TOML: lines lost, doubled, moved, cut off, and values of another kind."""
    lines = raw.decode("utf8").splitlines()
    for _ in range(dice.choice([1, 1, 1, 2, 3])):
        at = dice.randrange(len(lines))
        key, equals, _ = lines[at].partition(" = ")
        how = dice.randrange(10)
        if how < 6 and equals:
            lines[at] = f"{key} = {dice.choice(VALUES)}"
        elif how == 6:
            lines[at] = lines[at][: dice.randrange(len(lines[at]) + 1)]
        elif how == 7:
            lines.insert(
                dice.randrange(len(lines)),
                dice.choice([lines[at], f'{key or "x"}q = "1"', "[", "]", "\\", '"q\\u001b" = 1']),
            )
        elif how == 8:
            del lines[at]
        else:
            lines.insert(dice.randrange(len(lines)), lines.pop(at))
        lines = lines or [""]
    return "\n".join(lines).encode("utf8")


def _cells(dice: random.Random, raw: bytes) -> bytes:
    """Tables of comma-separated cells: cells of another kind, lost, added, in broken quotes."""
    rows = [line.split(",") for line in raw.decode("utf8").split("\n")]
    for _ in range(dice.choice([1, 1, 2, 3])):
        row = rows[dice.randrange(len(rows))]
        at = dice.randrange(len(row))
        how = dice.randrange(8)
        if how < 4:
            row[at] = dice.choice(CELLS)
        elif how == 4:
            del row[at:]
        elif how == 5:
            row.insert(at, dice.choice(CELLS))
        elif how == 6:
            rows.insert(dice.randrange(len(rows)), list(row))
        else:
            rows.remove(row)
            rows = rows or [[""]]
    return "\n".join(",".join(row) for row in rows).encode("utf8", "surrogatepass")


def _bytes(dice: random.Random, raw: bytes) -> bytes:
    """Any file: bits turned over, pieces lost, doubled or from elsewhere."""
    spoilt = bytearray(raw)
    for _ in range(dice.choice([1, 1, 2, 8])):
        at = dice.randrange(len(spoilt) + 1)
        how = dice.randrange(5)
        if how == 0 and at < len(spoilt):
            spoilt[at] ^= 1 << dice.randrange(8)
        elif how == 1:
            del spoilt[at:]
        elif how == 2:
            spoilt[at : at + dice.randrange(9)] = b""
        elif how == 3:
            spoilt[at:at] = spoilt[: dice.randrange(60)]
        else:
            spoilt[at:at] = dice.choice(
                [b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\x1b[8m", b"\xc3", b"\n" * 500]
            )
    return bytes(spoilt)


def _words(dice: random.Random, raw: bytes) -> bytes:
    """Words of a command or an address: parts lost, doubled and of another kind."""
    sign = b"&" if b"&" in raw else b"\n"
    parts = raw.rstrip(b"\n").split(sign)
    parts = dice.sample(parts, dice.randrange(1, len(parts) + 1))
    for _ in range(dice.choice([1, 1, 2])):
        at = dice.randrange(len(parts))
        how = dice.randrange(5)
        if how < 2:
            parts.insert(at, dice.choice(TEXTS).encode("utf8"))
        elif how == 2:
            parts[at] = parts[at].partition(b"=")[0] + b"=" + dice.choice(TEXTS).encode("utf8")
        elif how == 3:
            parts[at] = parts[at][: dice.randrange(len(parts[at]) + 1)] or b"="
        else:
            parts.append(parts[at])
    return sign.join(parts)


def _edited(dice: random.Random, raw: bytes) -> bytes:
    """Stores: what another program that speaks SQL may do to them."""
    path = SCRATCH / "edited.sqlite"
    path.write_bytes(raw)
    edits = [
        "DELETE FROM header WHERE key = '{key}'",
        "UPDATE header SET value = '{text}' WHERE key = '{key}'",
        "UPDATE rows SET \"{column}\" = '{text}' WHERE row = {row}",
        "UPDATE rows SET row = {row} + 100 WHERE row = {row}",
        'UPDATE rows SET "{column}" = NULL',
        "UPDATE rows SET \"{column}\" = x'00ff' WHERE row = {row}",
        "DELETE FROM rows WHERE row = {row}",
        'ALTER TABLE rows RENAME COLUMN "{column}" TO q',
        "DROP TABLE rows",
        "ALTER TABLE header RENAME TO heads",
        "CREATE VIEW v AS SELECT 1",
        "PRAGMA user_version = {row}",
        "INSERT INTO header VALUES ('q', '{text}')",
        'UPDATE rows SET "{column}" = 9e999 WHERE row = {row}',
    ]
    keys = ["schema", "rows", "part", "columns", "checksum", "seed", "varied", "bowl name"]
    columns = ["state", "overlap", "reason", "checksum", "cut.tilt_deg"]
    with closing(sqlite3.connect(path)) as store:
        for _ in range(dice.choice([1, 1, 2])):
            text = dice.choice(["", "0", "x", "[]", '["row"]', "-1", "9" * 30, "\x1b[1m", "2"])
            edit = dice.choice(edits).format(
                key=dice.choice(keys), column=dice.choice(columns), row=dice.randrange(6), text=text
            )
            try:
                store.executescript(edit)
            except sqlite3.Error:  # an edit that comes after another may not be one
                continue
    return path.read_bytes()


def _weather() -> bytes:
    """An invented year, hour by hour."""
    lines = ["LOCATION,Sallow Bridge,-,XXX,invented,000000,50,10,1,200"]
    lines += [f"COMMENTS {i}," for i in range(1, 7)] + ["DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"]
    days = [(m, d) for m, many in enumerate(MONTH_DAYS, 1) for d in range(1, many + 1)]
    lines += [
        f"2023,{m},{d},{h},0,?9,{m + h / 10:.1f},1.0,{50 + h},99000" for m, d in days for h in range(1, 25)
    ]
    return "\n".join(lines).encode("ascii")


def _store() -> bytes:
    path = SCRATCH / "good.sqlite"
    path.unlink(missing_ok=True)
    run_sweep(ask(tables_of_example(BOWL), [read_varied("tilt=3..9:6")], judge_one=rigid_rings), path)
    return path.read_bytes()


def tables_of_example(raw: bytes) -> dict[str, Any]:
    """Tables of an example."""
    path = SCRATCH / "example.toml"
    path.write_bytes(raw)
    return tables_of_file(path)


def _read_failed(path: Path) -> object:
    tables = _with_options(tables_of_file(path), ("rocks",), ("kerf=0.7 mm",))
    bowl = make_bowl(tables, where=str(path))
    return read_observed(tables, plan_of(bowl), where=str(path))


def _read_place(path: Path) -> object:
    tables = tables_of_file(path)
    return read_place(tables, where=str(path), typed={})


def _read_opened(path: Path) -> object:
    pairs, problems = opened_bowl(path.read_bytes(), where="the bowl file")
    if problems:
        raise InputError(problems)
    return pairs


def _read_words(path: Path) -> object:
    texts = path.read_bytes().decode("utf8", "surrogateescape").rstrip("\n").split("\n")
    return ask(tables_of_example(BOWL), [read_varied(text) for text in texts])


def _read_address(path: Path) -> object:
    state = read_state(read_address(path.read_bytes()))
    return bowl_text(state.tables), bowl_of(state)


def _read_learned(path: Path) -> object:
    bowl = make_bowl(tables_of_example(BOWL))
    learned = read_learned(path)
    return learned, with_learned(bowl, learned)


def _read_store(path: Path) -> object:
    target = SCRATCH / "joined.sqlite"
    target.unlink(missing_ok=True)
    return header_of(path), join_stores([path], target)


def kinds() -> tuple[Kind, ...]:
    """Every kind of file and of words."""
    store, weather = _store(), _weather()
    causes = packaged_text("causes.csv").encode("utf8")
    shapes = (
        ("bowl file", BOWL, read_bowl, _lines),
        ("bowl file opened on the page", BOWL, _read_opened, _lines),
        ("room and weather of a bowl file", PLACE, _read_place, _lines),
        ("seen and measured of a bowl file", FAILED, _read_failed, _lines),
        ("file of test cuts", CUTS, lambda p: learn(read_tests(p), where=str(p)), _lines),
        ("file of tests", TESTS, lambda p: learn(read_tests(p), where=str(p)), _lines),
        ("saw file", SAW, _read_learned, _lines),
        ("file of what was learned", KEPT, _read_learned, _lines),
        ("saw file opened on the page", SAW, lambda p: opened_saw(p.read_bytes(), where="it"), _lines),
        ("table of causes", causes, causes_of_file, _cells),
        ("weather file", weather, read_epw, _cells),
        ("store", store, _read_store, _edited),
        ("words of a sweep", WORDS, _read_words, _words),
        ("address of the page", ADDRESS, _read_address, _words),
    )
    found = [Kind(*shape) for shape in shapes]
    found += [
        Kind(f"{name}, bytes", good, read, _bytes)
        for name, good, read, _ in shapes
        if name
        in (
            "bowl file",
            "file of test cuts",
            "file of tests",
            "saw file",
            "file of what was learned",
            "table of causes",
            "weather file",
            "store",
        )
    ]
    return tuple(found)


def outcome(kind: Kind, raw: bytes) -> tuple[str, int]:
    """What came of reading: "taken", "refused", or what broke; and the longest line that was said."""
    path = SCRATCH / "spoilt.toml"
    path.write_bytes(raw)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            kind.read(path)
        except FitsimError as error:
            lines = str(error).splitlines()
            longest = max(len(line) for line in lines)
            shown = all(line.isprintable() for line in lines)
            kept = not isinstance(error, InputError) or longest <= LONGEST_LINE
            return ("refused" if shown and kept else f"BADLY TOLD: {str(error)[:300]!r}"), longest
        except Exception as error:
            return f"BROKE: {type(error).__name__}: {str(error)[:200]!r}", 0
    return "taken", 0
