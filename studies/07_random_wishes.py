"""Does every plan keep its word? 200 random wishes, each answer pressed on the strip.

Question: for a wish made up at random, does ``fitsim plan`` give cuts whose pressed bowls meet it within 2
percent, or say that it cannot; and is it ever wrong, by calling met what is not, or by denying what can be
had?

Method: board (round, square, oval, rectangle or polygon), wood, kerf and one or two wishes are drawn
for each case (``case``) from a seed of its own, out of ranges that a maker might ask for and some that
no such board can give. Every fourth wish is one that can be had: a cut within the bounds of the trade
is drawn and pressed, and where it locks two of its own measures are wished for. Each answer is then
written as a bowl file would have it, read back, opened with the judgement of ``fit`` and measured
again. A plan is wrong where an answer that is called met is farther than 2 percent off or does not
lock, where it denies what a known bowl of that board gives or what its own answer meets, and where it
meets nothing and does not say why.

``python studies/07_random_wishes.py FOLDER --cases 200 --processes 16 --minutes 9`` adds what is missing to
``FOLDER/wishes.jsonl``, row by row as they come, stops when the time is up, and prints the tables; it goes
on where it was stopped, and the same seed gives the same cases whoever works. Saying no is no proof that
there is none: a plan looks where its starts lead.
"""

import argparse
import json
import math
import multiprocessing
import sys
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from failed_store import stored

import fitsim
from fitsim.commands.plan import planned_tables
from fitsim.errors import FitsimError
from fitsim.plan.corrected_cuts import wall_off
from fitsim.plan.cut_of_wall import MEASURE_OF, PlannedCut, bowl_with_cut
from fitsim.plan.planned_bowls import WITHIN, PlannedBowl
from fitsim.plan.planning import plan
from fitsim.plan.pressed_wall import PressedWall, pressed_wall
from fitsim.plan.trade_bounds import bounds_of
from fitsim.plan.wishes import read_wishes
from fitsim.processes import end_with_parent, worker_count

SEED = 31_807
WOODS = ("cherry, black", "walnut, black", "maple, sugar", "mahogany, true")
OUTLINES = {"round": 0.6, "square": 0.2, "oval": 0.08, "rectangle": 0.06, "polygon": 0.06}
KINDS = ("rise", "volume", "base", "wall", "curve", "turns", "mouth")
KNOWN = ("rise", "volume", "base", "wall", "turns", "mouth")
KNOWN_EACH, KNOWN_TRIES = 4, 6

Tables = dict[str, dict[str, str]]


def board_of(rng: np.random.Generator, across: float, thickness: float) -> dict[str, str]:
    """A made-up board, so wide its narrow way."""
    outline = str(rng.choice(list(OUTLINES), p=list(OUTLINES.values())))
    longer = across * float(rng.uniform(1.1, 1.6))
    long_way = ("length", "width") if rng.random() < 0.5 else ("width", "length")
    sizes = {
        "round": {"across": f"{across:.0f} mm"},
        "square": {"outline": "square", "across": f"{across:.0f} mm"},
        "oval": {"outline": "oval", long_way[0]: f"{longer:.0f} mm", long_way[1]: f"{across:.0f} mm"},
        "rectangle": {
            "outline": "rectangle",
            long_way[0]: f"{longer:.0f} mm",
            long_way[1]: f"{across:.0f} mm",
            "corner": f"{across * rng.uniform(0.15, 0.4):.0f} mm",
        },
        "polygon": {
            "outline": "polygon",
            "across": f"{across:.0f} mm",
            "sides": str(rng.integers(4, 9)),
            "corner": f"{across * rng.uniform(0.1, 0.3):.0f} mm",
        },
    }
    return {"wood": str(rng.choice(WOODS)), "thickness": f"{thickness:.1f} mm", **sizes[outline]}


def case(number: int) -> tuple[Tables, dict[str, Any]]:
    """Tables of a made-up bowl, and what is wanted of it: nothing yet where a known bowl is asked for."""
    rng = np.random.default_rng([SEED, number])
    across, thickness = float(rng.uniform(130, 240)), float(rng.uniform(15, 26))
    tables: Tables = {
        "board": board_of(rng, across, thickness),
        "cut": {"tilt": "5 deg", "kerf": f"{rng.uniform(0.6, 0.95):.2f} mm"},
    }
    if number % KNOWN_EACH == KNOWN_EACH - 1:
        return tables, {}
    rise = float(rng.uniform(0.5, 1.6)) * 0.31 * across
    kinds = list(rng.choice(KINDS, 2, replace=False))
    if "curve" in kinds:
        kinds = ["curve", *(k for k in kinds if k == "base")]
    want: dict[str, Any] = {}
    for kind in kinds:
        if kind == "curve":
            foot, rim, bend = 0.2 * across, 0.44 * across, float(rng.uniform(0.6, 1.8))
            want["wall"] = [
                [f"{foot + (rim - foot) * s:.1f} mm", f"{rise * float(s) ** bend:.1f} mm"]
                for s in np.linspace(0, 1, 6)
            ]
        else:
            want[str(kind)] = {
                "rise": f"{rise:.1f} mm",
                "volume": f"{math.pi * (0.37 * across) ** 2 * rise / 1000 * rng.uniform(0.7, 1.2):.0f} ml",
                "base": f"{across * rng.uniform(0.3, 0.5):.1f} mm",
                "wall": f"{rng.uniform(35, 65):.0f} deg",
                "turns": f"{rng.uniform(4, 9):.1f}",
                "mouth": f"{across * rng.uniform(0.75, 0.92):.1f} mm",
            }[kind]
    if set(want) <= {"turns", "base", "mouth"}:
        want["rise"] = f"{rise:.1f} mm"
    return tables, want


def known_wish(number: int, bowl: fitsim.Bowl) -> dict[str, Any]:
    """Two measures of a bowl of this board that locks; nothing where none of those tried does."""
    rng = np.random.default_rng([SEED, number, 1])
    bounds, edge = bounds_of(bowl), bowl.board.across_mm / 2
    for _ in range(KNOWN_TRIES):
        low, high = bounds.tilt_rad
        tilt = low + (high - low) * float(rng.uniform(0.25, 0.75))
        pitch = float(rng.uniform(bounds.pitch_mm[0] + 0.5, min(bounds.pitch_mm[1] - 0.5, edge / 7)))
        least = max(bounds.base_radius_least_mm, bounds.corner_pitches * pitch)
        base = max(edge * float(rng.uniform(0.33, 0.48)), 1.03 * least)
        cut = PlannedCut(tilt, base, (pitch,), bowl.board.across_mm, bowl.board.thickness_mm)
        if base > 0.7 * edge:
            continue
        wall = pressed_wall(bowl_with_cut(bowl, cut))
        if isinstance(wall, str) or wall.judged.state != "locks":
            continue
        got = wall.got
        said = {
            "rise": f"{got.rise_mm:.2f} mm",
            "volume": f"{got.volume_ml:.1f} ml",
            "base": f"{got.base_mm:.2f} mm",
            "wall": f"{math.degrees(math.atan(got.slope)):.2f} deg",
            "turns": f"{got.turns:.2f}",
            "mouth": f"{got.mouth_mm:.2f} mm",
        }
        kinds = [str(kind) for kind in rng.choice(KNOWN, 2, replace=False)]
        if set(kinds) <= {"turns", "base", "mouth"}:
            kinds[0] = "rise"
        return {kind: said[kind] for kind in kinds}
    return {}


def answered(number: int) -> dict[str, Any]:
    """Plan one case, and press every answer anew."""
    began = time.monotonic()
    tables, want = case(number)
    row: dict[str, Any] = {"case": number, "tables": tables, "want": want, "known": not want}
    try:
        bowl = fitsim.make_bowl(tables)
        if row["known"]:
            want = row["want"] = known_wish(number, bowl)
        if want:
            row |= _planned(tables, want, bowl)
    except FitsimError as trouble:
        row["refused"] = str(trouble)
    except Exception:
        row["broke"] = traceback.format_exc(limit=3)
    return {**row, "seconds": round(time.monotonic() - began, 1)}


def _planned(tables: Tables, want: dict[str, Any], bowl: fitsim.Bowl) -> dict[str, Any]:
    found = plan(bowl, read_wishes(want))
    return {
        "met": found.met,
        "in_the_way": [reason.told("mm") for reason in found.in_the_way],
        "presses": found.presses,
        "answers": [_again(tables, bowl, answer) for answer in found.answers],
    }


def _again(tables: Tables, bowl: fitsim.Bowl, answer: PlannedBowl) -> dict[str, Any]:
    """The answer as its bowl file has it, opened anew, and each wish measured again."""
    again = fitsim.make_bowl(planned_tables(tables, answer, bowl=bowl, units="mm"))
    wall = pressed_wall(again)
    return {
        "meets": answer.meets,
        "other_board": answer.other_board,
        "state": "not followed" if isinstance(wall, str) else wall.judged.state,
        "told": {w.name: w.off for w in answer.wishes},
        "pressed": {} if isinstance(wall, str) else _offs(answer, wall),
        "chance": answer.lock_chance,
        "pitches": len(answer.cut.pitches_mm),
    }


def _offs(answer: PlannedBowl, wall: PressedWall) -> dict[str, float]:
    offs: dict[str, float] = {}
    for wish in answer.wishes:
        if answer.wall is not None and wish.name == "wall":
            offs[wish.name] = wall_off(answer.wall, wall)
            continue
        got = getattr(wall.got, MEASURE_OF["slope" if wish.name == "wall" else wish.name])
        offs[wish.name] = abs(got / wish.wanted - 1)
    return offs


def keeps_its_word(answer: dict[str, Any]) -> bool:
    """Whether an answer, pressed anew, locks within 2 percent of every wish."""
    offs = answer["pressed"].values()
    return answer["state"] == "locks" and bool(offs) and max(offs) <= WITHIN


def came_of(row: dict[str, Any]) -> str:
    """What came of one wish: "met", "cannot", "nothing to ask", or in which way it is wrong."""
    if "broke" in row:
        return f"wrong: broke: {row['broke'].strip().splitlines()[-1]}"
    if row["known"] and not row["want"]:
        return "nothing to ask"
    if "refused" in row:
        return f"wrong: denies a known bowl: {row['refused']}" if row["known"] else "cannot"
    if row["met"]:
        broken = [a for a in row["answers"] if a["meets"] and not keeps_its_word(a)]
        if not broken:
            return "met"
        seen = [f"{a['state']} { ({k: round(v, 4) for k, v in a['pressed'].items()}) }" for a in broken]
        return f"wrong: called met, pressed anew it is not: {'; '.join(seen)}"
    own = [a for a in row["answers"] if not a["other_board"]]
    if any(not a["meets"] and keeps_its_word(a) for a in own):
        return "wrong: denies what its own answer meets"
    if row["known"]:
        nearest = min((max(a["pressed"].values(), default=math.inf) for a in own), default=math.inf)
        return f"wrong: denies a known bowl, nearest {nearest:.1%} off: {'; '.join(row['in_the_way'])}"
    return "cannot" if row["in_the_way"] else "wrong: meets nothing and does not say why"


def told(rows: list[dict[str, Any]]) -> None:
    """Print how many wishes are met, how many are denied, and every plan that is wrong with its wish."""
    came = {row["case"]: came_of(row) for row in rows}
    count = Counter(word.split(":")[0] for word in came.values())
    print(f"{len(rows)} wishes:")
    print(f"  met within {WITHIN:.0%}, every answer pressed anew on the strip: {count['met']}")
    print(f"  said that it cannot be had, and why: {count['cannot']}")
    print(f"  wrong in either way: {count['wrong']}")
    print(f"  nothing to ask (no bowl that locks was drawn for that board): {count['nothing to ask']}")
    for outline in OUTLINES:
        here = [r for r in rows if r["tables"]["board"].get("outline", "round") == outline]
        if here:
            each = Counter(came[r["case"]].split(":")[0] for r in here)
            print(f"  {outline}: {', '.join(f'{n} {word}' for word, n in sorted(each.items()))}")
    known = Counter(came[row["case"]].split(":")[0] for row in rows if row["known"])
    print(f"of those that a known bowl gives: {dict(known)}")
    presses = [row["presses"] for row in rows if "presses" in row]
    if presses:
        print(f"presses: median {np.median(presses):.0f}, most {max(presses)}")
    seconds = [row["seconds"] for row in rows]
    if seconds:
        middle, most, whole = np.median(seconds), max(seconds), sum(seconds)
        print(f"seconds a wish: median {middle:.0f}, most {most:.0f}, sum {whole:.0f}")
    kept = [answer for row in rows for answer in row.get("answers", []) if answer["meets"]]
    offs = [off for answer in kept for off in answer["pressed"].values()]
    if offs:
        print(f"wishes called met: {len(offs)}, median off {np.median(offs):.2%}, worst {max(offs):.2%}")
    met = [row for row in rows if came[row["case"]] == "met"]
    print(f"answers a met wish gets: {np.mean([len(row['answers']) for row in met] or [0]):.1f}")
    for row in sorted(rows, key=lambda r: int(r["case"])):
        if came[row["case"]].startswith("wrong"):
            print(f"case {row['case']}: {came[row['case']]}")
            print(f"  {json.dumps(row['tables'])} wants {json.dumps(row['want'])}")


def work_through(missing: list[int], file: Path, processes: int, until: float) -> int:
    """Answer cases in one pool, store each row as it comes; return how many were left when time was up."""
    if not missing:
        return 0
    cut_off = file.exists() and not file.read_bytes().endswith(b"\n")
    fresh, done = multiprocessing.get_context("spawn"), 0
    with (
        fresh.Pool(min(processes, len(missing)), initializer=end_with_parent) as pool,
        file.open("a", encoding="utf8") as store,
    ):
        rows = pool.imap_unordered(answered, missing)
        while done < len(missing):
            try:
                row = rows.next(timeout=max(until - time.monotonic(), 0.01))
            except multiprocessing.TimeoutError:
                break
            store.write(("\n" if cut_off else "") + json.dumps(row) + "\n")
            store.flush()
            cut_off, done = False, done + 1
            print(f"\r{done} of {len(missing)}", end="", file=sys.stderr, flush=True)
        # Leaving the block ends the processes; what they still work on is asked for again next time.
    print(file=sys.stderr)
    return len(missing) - done


def main() -> int:
    """Add the cases that are missing, and print what they say."""
    began = time.monotonic()
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--processes", type=int, default=worker_count())
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop when so much time is gone")
    asked = parser.parse_args()
    asked.folder.mkdir(exist_ok=True, parents=True)
    file = asked.folder / "wishes.jsonl"
    missing = sorted(set(range(asked.cases)) - {row["case"] for row in stored(file)})
    # Turns that are no circles take longest: first, so that nobody waits for the last of them.
    missing.sort(key=lambda n: case(n)[0]["board"].get("outline", "round") in ("round", "square"))
    until = began + 60 * min(asked.minutes, 1e6) - ENDING_s
    left = work_through(missing, file, asked.processes, until)
    told([row for row in stored(file) if row["case"] < asked.cases])
    if left:
        print(f"time is up: {left} wishes are left; the same command goes on")
    return 0


ENDING_s = 8.0
"""Time kept for printing and for ending the processes. [s]"""

if __name__ == "__main__":
    raise SystemExit(main())
