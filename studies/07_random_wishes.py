"""Does every plan keep its word? 200 random wishes, each answer pressed on the strip.

Question: for a wish made up at random, does ``fitsim plan`` give cuts whose pressed bowls meet it within 2
percent, or say that it cannot; and how many presses does that take?

Method: board, wood, kerf and one to three wishes are drawn from a seed of their own for each case
(``case``), from ranges that a maker might ask for and some that no board of the kind can give. Each answer
is then made anew from its own numbers, as a bowl file would have them, opened by ``fitsim.elastic`` with the
judgement of ``fit`` and measured again; a wish that is called met must be within 2 percent, a plan that
calls nothing met must say what stands in the way. ``python studies/07_random_wishes.py FOLDER --cases 200
--processes 2`` adds what is missing to ``FOLDER/wishes.jsonl`` and prints the tables; it goes on where it was
stopped, and the same seed gives the same cases whoever works.
"""

import argparse
import json
import math
import sys
from concurrent.futures import as_completed
from pathlib import Path
from typing import Any

import numpy as np

import fitsim
from fitsim.errors import FitsimError
from fitsim.plan import WITHIN, PlannedBowl, plan, wall_off
from fitsim.plannedcut import bowl_with
from fitsim.pressedwall import pressed_wall
from fitsim.processes import worker_count, worker_pool
from fitsim.wish import read_wishes

SEED = 20_817
WOODS = ("cherry, black", "walnut, black", "maple, sugar", "mahogany, true")


def case(number: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Tables of a made-up bowl, and what is wanted of it."""
    rng = np.random.default_rng([SEED, number])
    across = float(rng.uniform(130, 240))
    thickness = float(rng.uniform(15, 26))
    tables = {
        "board": {
            "wood": str(rng.choice(WOODS)),
            "thickness": f"{thickness:.1f} mm",
            "across": f"{across:.0f} mm",
        },
        "cut": {"tilt": "5 deg", "kerf": f"{rng.uniform(0.6, 0.95):.2f} mm"},
    }
    span = across * 0.31
    rise = float(rng.uniform(0.5, 1.6)) * span
    want: dict[str, Any] = {}
    kinds = list(
        rng.choice(["rise", "volume", "base", "wall", "curve", "turns", "mouth"], 2, replace=False)
    )
    if "curve" in kinds:
        foot, rim = 0.2 * across, 0.44 * across
        bend = float(rng.uniform(0.6, 1.8))
        share = np.linspace(0, 1, 6)
        want["wall"] = [
            [
                f"{foot + (rim - foot) * s:.1f} mm",
                f"{rise * float(s**bend if bend >= 1 else s**bend):.1f} mm",
            ]
            for s in share
        ]
        kinds = [k for k in kinds if k in ("base",)]
    for kind in kinds:
        if kind == "rise":
            want["rise"] = f"{rise:.1f} mm"
        elif kind == "volume":
            mean = 0.37 * across
            want["volume"] = f"{math.pi * mean**2 * rise / 1000 * rng.uniform(0.7, 1.2):.0f} ml"
        elif kind == "base":
            want["base"] = f"{across * rng.uniform(0.3, 0.5):.1f} mm"
        elif kind == "wall":
            want["wall"] = f"{rng.uniform(35, 65):.0f} deg"
        elif kind == "turns":
            want["turns"] = f"{rng.uniform(4, 9):.1f}"
        elif kind == "mouth":
            want["mouth"] = f"{across * rng.uniform(0.75, 0.92):.1f} mm"
    if set(want) <= {"turns", "base", "mouth"}:
        want["rise"] = f"{rise:.1f} mm"
    return tables, want


def answered(number: int) -> dict[str, Any]:
    """Plan one case, and press every answer anew."""
    tables, want = case(number)
    row: dict[str, Any] = {"case": number, "tables": tables, "want": want}
    bowl, wishes = fitsim.make_bowl(tables), read_wishes(want)
    try:
        found = plan(bowl, wishes)
    except FitsimError as trouble:
        return {**row, "refused": str(trouble)}
    row |= {
        "met": found.met,
        "in_the_way": list(found.in_the_way),
        "presses": found.presses,
        "answers": [_again(bowl, answer) for answer in found.answers],
    }
    return row


def _again(bowl: fitsim.Bowl, answer: PlannedBowl) -> dict[str, Any]:
    """The answer opened anew from its own numbers, and each wish measured again."""
    wall = pressed_wall(bowl_with(bowl, answer.cut))
    offs = {}
    if not isinstance(wall, str):
        for wish in answer.wishes:
            curve = answer.wall is not None and wish.name == "wall"
            if curve and answer.wall is not None:
                offs[wish.name] = wall_off(answer.wall, wall)
                continue
            got = wall.got.slope if wish.name == "wall" else getattr(wall.got, wish.name)
            offs[wish.name] = abs(got / wish.wanted - 1)
    return {
        "meets": answer.meets,
        "other_board": answer.other_board,
        "state": "not followed" if isinstance(wall, str) else wall.judged.state,
        "told": {w.name: w.off for w in answer.wishes},
        "pressed": offs,
        "chance": answer.lock_chance,
        "pitches": len(answer.cut.pitches_mm),
    }


def main() -> int:
    """Add the cases that are missing, and print what they say."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--processes", type=int, default=worker_count())
    asked = parser.parse_args()
    asked.folder.mkdir(exist_ok=True)
    file = asked.folder / "wishes.jsonl"
    rows = [json.loads(line) for line in file.read_text("utf8").splitlines()] if file.exists() else []
    missing = sorted(set(range(asked.cases)) - {row["case"] for row in rows})
    if missing:
        with worker_pool(asked.processes) as pool, file.open("a", encoding="utf8") as out:
            for done in as_completed([pool.submit(answered, number) for number in missing]):
                rows.append(done.result())
                out.write(json.dumps(rows[-1]) + "\n")
                out.flush()
                print(f"{len(rows)} of {asked.cases}", file=sys.stderr)
    told(rows)
    return 0


def told(rows: list[dict[str, Any]]) -> None:
    """Print how many wishes are met, and every answer that does not keep its word."""
    met = [row for row in rows if row.get("met")]
    refused = [row for row in rows if "refused" in row]
    print(
        f"{len(rows)} wishes: {len(met)} met, {len(refused)} refused, {len(rows) - len(met) - len(refused)} said"
    )
    print("not to be had with the board.")
    presses = [row["presses"] for row in rows if "presses" in row]
    if presses:
        print(f"presses: median {np.median(presses):.0f}, most {max(presses)}")
    offs = [
        off
        for row in met
        for answer in row["answers"]
        if answer["meets"]
        for off in answer["pressed"].values()
    ]
    if offs:
        print(f"wishes called met: {len(offs)}, median off {np.median(offs):.2%}, worst {max(offs):.2%}")
    broken = [
        row["case"]
        for row in rows
        for answer in row.get("answers", [])
        if answer["meets"]
        and (answer["state"] != "locks" or max(answer["pressed"].values()) > WITHIN + 1e-9)
    ]
    silent = [row["case"] for row in rows if row.get("met") is False and not row["in_the_way"]]
    print(f"answers that do not keep their word: {sorted(set(broken)) or 'none'}")
    print(f"plans that met nothing and did not say why: {silent or 'none'}")


if __name__ == "__main__":
    raise SystemExit(main())
