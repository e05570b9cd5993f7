"""One bowl asked through every command, and what each says of it beside what ``fit`` says.

Commands are asked as a maker asks them, on the command line, so that nothing here depends on how they are
built. Each gives back differences in words; none where it says what ``fit`` says.
"""

import csv
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from fitsim.cli import main
from fitsim.page.jobs import JOBS
from fitsim.page.state import pairs_of_tables, read_state
from fitsim.quantities import show_length

Tables = Mapping[str, Mapping[str, str]]

FIT_UNDECIDED = 3
"""Exit status of ``fit`` where nothing is decided."""

SMOOTH = 0.03
"""How far a command may be off that lays a surface through bowls pressed, over the number itself."""


STILL = 1e-4
"""How far one may be off in air that stays as it is: the moisture is written with nine digits."""

STANDS = ("locks", "split risk")
"""States in which a bowl stays open."""


class RefusedError(Exception):
    """A command that gave no answer, in its own words."""


@dataclass(frozen=True)
class Asked:
    """A bowl in a file, and what ``fit`` says of it."""

    name: str
    tables: Tables
    file: Path
    fit: dict[str, Any]

    @property
    def state(self) -> str:
        """State at the middle of the ranges."""
        return str(self.fit["verdict_in_middle"])

    @property
    def stands(self) -> bool:
        """Whether it stays open."""
        return self.state in STANDS


def run(*words: str) -> str:
    """One command in this process; what it says."""
    result = CliRunner().invoke(main, list(words))
    if result.exit_code not in (0, FIT_UNDECIDED):
        raise RefusedError((result.stderr or repr(result.exception)).strip())
    return result.stdout


def bowl_file(tables: Tables, file: Path, **changed: str) -> Path:
    """A bowl file; ``changed`` are keys of its tables written anew, as in ``cut_tilt="5 deg"``."""
    whole = {table: dict(keys) for table, keys in tables.items()}
    for name, text in changed.items():
        table, _, key = name.partition("_")
        whole[table][key] = text
    lines = [
        f"[{table}]\n" + "".join(f'{k} = "{v}"\n' for k, v in keys.items()) for table, keys in whole.items()
    ]
    file.write_text("\n".join(lines), "utf8")
    return file


def asked(name: str, tables: Tables, folder: Path) -> Asked:
    """Ask ``fit`` about a bowl."""
    file = bowl_file(tables, folder / "bowl.toml")
    return Asked(name, tables, file, json.loads(run("fit", str(file), "--json")))


def differences(
    said: Mapping[str, Any], fit: Mapping[str, Any], names: Mapping[str, str], within: float = 0.0
) -> list[str]:
    """Numbers that differ, by their name in the command and in ``fit``, and those not told."""
    found = []
    for name, in_fit in names.items():
        one, other = said.get(name), fit.get(in_fit)
        if name not in said:
            found.append(f"{name} is not told")
        elif not _alike(one, other, within):
            found.append(f"{name} is {one}, fit says {other}")
    return found


def _alike(one: Any, other: Any, within: float) -> bool:
    one, other = (None if v in ("", None) or v == math.inf else v for v in (one, other))
    if one is None or other is None or isinstance(one, str):
        return bool(one == other)
    return math.isclose(float(one), float(other), rel_tol=within)


NUMBERS = {
    "friction_used": "friction_used",
    "split_chance": "split_chance",
    "rise_mm": "rise_mm",
    "rise_at_rest_mm": "rise_at_rest_mm",
    "rise_kept": "rise_kept",
    "press_needed_over_frictions_N": "press_needed_over_frictions_N",
    "press_at_friction": "press_at_friction",
    "press_asked_N": "press_asked_N",
    "press_judged_N": "press_judged_N",
}


def sweep_row(bowl: Asked) -> list[str]:
    """The row of a sweep that leaves the bowl as it is: every number, to the last bit."""
    table = bowl.file.with_name("row.csv")
    tilt = bowl.tables["cut"]["tilt"]
    words = [f"tilt={tilt}", "--ranges", "--csv", str(table), "--processes", "1", "--replace"]
    run("sweep", str(bowl.file), *words)
    (row,) = csv.DictReader(StringIO(table.read_text("utf8")))
    numbers: dict[str, Any] = {k: float(v) if v else None for k, v in row.items() if k in NUMBERS}
    if not bowl.stands and bowl.state != "springs back":
        numbers = {k: v for k, v in numbers.items() if bowl.fit.get(k) is not None}
    told = {"state": row["state"], "state_at_worst": row["state_at_worst"]}
    return [
        *differences(told, bowl.fit, {"state": "verdict_in_middle", "state_at_worst": "verdict"}),
        *differences(numbers, bowl.fit, {k: k for k in numbers}),
    ]


def map_place(bowl: Asked) -> list[str]:
    """The maker's own place on a small map about it: its state, and the place's own numbers."""
    table = bowl.file.with_name("map.csv")
    tilt, kerf = (float(bowl.tables["cut"][key].split()[0]) for key in ("tilt", "kerf"))
    axes = [
        "--across",
        f"tilt={tilt - 1:g}..{tilt + 1:g}",
        "--up",
        f"kerf={kerf - 0.1:g}..{kerf + 0.1:g} mm",
    ]
    words = [*axes, "--points", "4", "--csv", str(table), "--processes", "1", "--replace"]
    said = run("map", str(bowl.file), *words)
    headline = said.splitlines()[0]
    found = [] if f": {bowl.state} (" in headline else [f"says {headline!r}, fit says {bowl.state}"]
    places = [row for row in csv.DictReader(StringIO(table.read_text("utf8"))) if row["kind"] != "boundary"]
    here = [
        row
        for row in places
        if math.isclose(float(row["cut.tilt_deg"]), tilt) and math.isclose(float(row["cut.kerf_mm"]), kerf)
    ]
    if not here:
        return [*found, "the bowl's own place is not on the lattice"]
    if here[0]["state"] != bowl.state:
        found.append(f"the place is told {here[0]['state']}, fit says {bowl.state}")
    if here[0]["kind"] == "pressed":
        # Friction used is told to a few percent on a map, and on the safe side.
        names = {k: k for k in NUMBERS if k != "friction_used" and here[0][k]}
        numbers = {k: float(here[0][k]) for k in names}
        found += differences(numbers, bowl.fit, names if bowl.stands else {})
    return found


def page_answer(bowl: Asked) -> list[str]:
    """What the page says when the bowl has been pressed."""
    state = read_state(pairs_of_tables({table: dict(keys) for table, keys in bowl.tables.items()}))
    told = _with_keys(JOBS["verdict"](state, lambda *_: None), {"state", "rise"})
    if told is None:
        return ["tells no state and rise"]
    found = (
        [] if told["state"] == bowl.fit["verdict"] else [f"says {told['state']}, fit {bowl.fit['verdict']}"]
    )
    rise = bowl.fit["rise_at_rest_mm"]
    shown = show_length(rise, units="mm") if rise is not None else "none"
    if bowl.stands and told["rise"] != shown:
        found.append(f"rise {told['rise']}, fit says {shown}")
    return found


def _with_keys(told: Any, keys: set[str]) -> dict[str, Any] | None:
    """The first object in an answer that has some keys."""
    if isinstance(told, dict):
        if keys <= told.keys():
            return told
        inner = list(told.values())
    else:
        inner = list(told) if isinstance(told, list | tuple) else []
    return next((found for part in inner if (found := _with_keys(part, keys)) is not None), None)


def sheet_words(bowl: Asked) -> list[str]:
    """The bench sheet: its verdict ends the terminal's lines, and its heights stand on the page."""
    from pypdfium2 import PdfDocument

    out = bowl.file.with_name("sheet.pdf")
    said = run("sheet", str(bowl.file), "-o", str(out), "--units", "mm", "--replace")
    found = []
    verdict = str(bowl.fit["verdict_told"])
    if verdict.lower() not in " ".join(said.split()).lower():
        found.append(f"ends with {said.strip().splitlines()[-1]!r}, fit says {verdict}")
    document = PdfDocument(out)
    page = " ".join(
        " ".join(document[k].get_textpage().get_text_bounded().split()) for k in range(len(document))
    )
    document.close()
    if bowl.stands:
        shown = show_length(bowl.fit["height_mm"], units="mm")
        if f"table to rim: {shown}" not in page:
            found.append(f"does not show the height of {shown}")
    return found


def season_week(bowl: Asked) -> list[str]:
    """Still air, pressed open and left open: the bowl that ``fit`` has at the moisture of that air."""
    said = json.loads(run("seasons", str(bowl.file), "--indoor", "42 to 42 %", "--json"))
    week, held = next((w for w in said["weeks"] if "state" in w), None), said["left_open"]
    if week is None:
        return ["tells no state week by week"]
    moist = {
        "use_base_moisture": f"{week['base_moisture_percent']:.9f} %",
        "use_turn_moisture": f"{week['rim_moisture_percent']:.9f} %",
    }
    there = json.loads(
        run("fit", str(bowl_file(bowl.tables, bowl.file.with_name("week.toml"), **moist)), "--json")
    )
    names = {"rise_mm": "rise_at_rest_mm", "split_chance": "split_chance", "press_N": "press_judged_N"}
    found = differences({"state": week["state"]}, there, {"state": "verdict_in_middle"})
    if there["verdict_in_middle"] not in STANDS:
        ends = {"ends": "verdict_in_middle"}
        return found + [f"left open {text}" for text in differences(held, there, ends)]
    opened = next(w for w in held["weeks"] if w["start"] == held["since"])
    rise, end = {"rise_mm": "rise_at_rest_mm"}, [w["rise_mm"] for w in held["weeks"]]
    found += differences(week, there, names, STILL)
    found += [f"left open {text}" for text in differences(opened, there, rise, STILL)]
    # Where nothing moves what stands when it is opened stands all the year.
    if not held["stands_all_the_year"] or None in end:
        found.append(f"left open it {held['ends']}, fit says {there['verdict_in_middle']}")
    return found


def explain_plan(bowl: Asked) -> list[str]:
    """With nothing wrong: the bowl as planned rises and is pressed as ``fit`` says."""
    if not bowl.stands:
        return []
    rise = bowl.fit["rise_at_rest_mm"]
    seen = ["--seen", "held", "--measured", f"rise={rise:.1f} mm"]
    said = json.loads(run("explain", str(bowl.file), *seen, "--json"))
    names = {"planned_rise_mm": "rise_at_rest_mm", "planned_press_N": "press_judged_N"}
    return differences(said, bowl.fit, names, SMOOTH)


def tilt_best(bowl: Asked) -> list[str]:
    """The best tilt: ``fit`` has the state there that ``tilt`` tells, and locks just inside both ends."""
    said = json.loads(run("tilt", str(bowl.file), "--json"))
    found = []
    told = said.get("state_at_best_tilt", "locks" if said["tilt_low_deg"] is not None else None)
    inside = [(said["best_tilt_deg"], told)] if told is not None else []
    low, high = said["tilt_low_deg"], said["tilt_high_deg"]
    if low is not None:
        inside += [(low + 0.1, "locks"), (high - 0.1, "locks")]
    for tilt, state in inside:
        other = bowl_file(bowl.tables, bowl.file.with_name("tilt.toml"), cut_tilt=f"{tilt:.6f} deg")
        at = json.loads(run("fit", str(other), "--json"))["verdict_in_middle"]
        if at != state:
            found.append(f"says {state} at {tilt:.2f} deg, fit says {at}")
    own = float(bowl.tables["cut"]["tilt"].split()[0])
    if (
        low is not None
        and bowl.state == "locks"
        and not any(
            span["low_deg"] - 0.1 <= own <= span["high_deg"] + 0.1 for span in said.get("spans", [])
        )
    ):
        found.append(f"fit locks at {own:g} deg, outside every range told")
    return found


COMMANDS: dict[str, Callable[[Asked], list[str]]] = {
    "sweep": sweep_row,
    "page": page_answer,
    "sheet": sheet_words,
    "map": map_place,
    "explain": explain_plan,
    "seasons": season_week,
    "tilt": tilt_best,
}
"""Every command that judges a bowl, the quick ones first."""
