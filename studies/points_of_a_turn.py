"""How far do press needed, friction used and collapse move with points a turn and steps of the press?

Question: bowls are judged on a strip of 24 elements a turn, pressed in steps of up to twice the press. How
far are the least press that holds, the friction used at the judged press, the push that frees the bowl and
its rise from those of 36, 48 and 72 elements, and of short steps?

Method: 48 invented bowls (24 of ``press_needed.py``, the dozen of ``05_ordinary_bowls.py`` at friction 0.25
and 0.375 by turns, twelve of 15 to 22 mm cherry between 4 and 8 degrees). Presses that hold and that slip
are brought within 2 percent of each other; each bowl is then let go at 1.25 times its own press needed, as
it is judged. Printed are the logarithms' quantiles over the bowls.

Answer: printed; what it was is in ``studies/elastic_strip.md``.

Run it with ``python studies/points_of_a_turn.py rows.json --processes 2``; three quarters of an hour of
processor time; ``--short``: three bowls.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import json
import math
import runpy
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import REACHES_N
from fitsim.bowl.strip_layout import laid_out
from fitsim.strip.press import Manner, press
from fitsim.strip.release import collapse_N, let_go, press_needed_N, state_at

HERE = Path(__file__).parent
SEED, WITHIN, SPARE = 11, 0.02, 1.25
SHORT_STEPS = 1.15
WAYS = ((24, 2.0), (36, 2.0), (48, 2.0), (72, 2.0), (24, SHORT_STEPS), (72, SHORT_STEPS))
"""Elements a turn, and greatest factor from one press to the next."""

PAIRS = ((0, 3), (1, 3), (2, 3), (4, 5), (0, 4), (3, 5))
"""Which ways are compared, the first over the second."""

NUMBERS = ("press_needed_N", "friction_used", "collapse_N", "rise_mm")

Tables = dict[str, dict[str, str]]
Asked = tuple[Tables, int, float]


def bowls() -> list[Tables]:
    """Tables of the invented bowls."""
    needed = runpy.run_path(str(HERE / "press_needed.py"), run_name="bowls")
    ordinary = runpy.run_path(str(HERE / "05_ordinary_bowls.py"), run_name="bowls")["ORDINARY"]
    found: list[Tables] = [needed["drawn"](100 + number) for number in range(24)]
    for number, tables in enumerate(ordinary.values()):
        found.append({**tables, "use": {"friction": ("0.25", "0.375")[number % 2], "press": "350 N"}})
    rng = np.random.default_rng(SEED)
    for _ in range(12):
        cut = {
            "tilt": f"{rng.uniform(4, 8):.3f} deg",
            "kerf": f"{rng.uniform(0.5, 0.8):.3f} mm",
            "pitch": f"{rng.uniform(6.5, 8.5):.3f} mm",
            "base": f"{rng.uniform(70, 95):.1f} mm",
        }
        board = {
            "wood": "cherry",
            "thickness": f"{rng.uniform(15, 22):.2f} mm",
            "across": f"{rng.uniform(150, 210):.1f} mm",
        }
        use = {"friction": f"{rng.uniform(0.25, 0.45):.3f}", "press": "350 N"}
        found.append({"board": board, "cut": cut, "use": use})
    return found


def numbers(asked: Asked) -> dict[str, float]:
    """What one bowl needs and keeps with so many elements a turn; nothing of one that does not hold."""
    tables, nodes, growth = asked
    bowl = fitsim.make_bowl(tables)
    elastic, _ = laid_out(bowl, rigid_fit(bowl), nodes)
    manner, path, needed_N = Manner(growth=growth), None, math.inf
    for reach_N in REACHES_N:
        path = press(elastic, reach_N, closely=False, manner=manner, path=path)
        if not math.isfinite(needed_N):
            needed_N = press_needed_N(elastic, path, within=WITHIN)
        if SPARE * needed_N < path[-1].press_N or path[-1].fell_through:
            break
    found = {"press_needed_N": needed_N}
    if path is None or not SPARE * needed_N < max(s.press_N for s in path if not s.fell_through):
        return found
    released = let_go(elastic, state_at(elastic, path, SPARE * needed_N))
    if released.kept >= 0.9:
        found |= {"friction_used": released.friction_used, "rise_mm": released.rise_left_mm}
        found["collapse_N"] = collapse_N(elastic, released)
    return found


def main() -> None:
    """Work the rows out and print how far they lie apart."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("rows", type=Path, help="where the numbers go, as JSON")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--short", action="store_true", help="three bowls")
    asked = parser.parse_args()
    some = bowls()[::16] if asked.short else bowls()
    jobs: list[Asked] = [(tables, *way) for way in WAYS for tables in some]
    with ProcessPoolExecutor(asked.processes) as pool:
        every = list(pool.map(numbers, jobs))
    rows: list[list[dict[str, Any]]] = [every[k :: len(some)] for k in range(len(some))]
    asked.rows.write_text(json.dumps([dict(zip(map(str, WAYS), row, strict=True)) for row in rows]), "utf8")
    for one, other in PAIRS:
        print(f"{WAYS[one]} over {WAYS[other]}")
        for name in NUMBERS:
            pairs = [(row[one].get(name, math.nan), row[other].get(name, math.nan)) for row in rows]
            told = [math.log(a / b) for a, b in pairs if 0 < a < math.inf and 0 < b < math.inf]
            if told:
                ends = np.expm1(np.quantile(told, (0.1, 0.25, 0.5, 0.75, 0.9)))
                print(f"  {name:16}{len(told):4} bowls  " + "  ".join(f"{end:+7.1%}" for end in ends))


if __name__ == "__main__":
    main()
