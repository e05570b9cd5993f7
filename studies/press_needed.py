"""How near is the press needed to the least press of a fine grid that holds, and what does finding it cost?

Question: ``fitsim.strip.release.press_needed_N`` tries a few presses. Pressed and let go at presses 3
percent apart, from half to 1.4 times what it finds, where does a bowl begin to hold?

Method: 28 invented bowls drawn with a fixed seed (eight woods, 12 to 25 mm, 4 to 10 turns, friction 0.2 to
0.5, 3 to 9 degrees, round, square and oval), and a dozen ordinary ones (``05_ordinary_bowls.py``) at
friction 0.2. A bowl begins to hold at the least press of the grid after which it does, and after two of the
next three as well, and again about a quarter higher. The press from which on every one holds stands beside
it. Counted are the linear systems of the search, not the path's.

Answer: printed; what it was is in ``studies/elastic_strip.md``.

Run it with ``python studies/press_needed.py``; eight minutes; ``--short``: three bowls.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import runpy
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from press_speed import systems_of

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import REACHES_N
from fitsim.bowl.strip_layout import NODES_PER_TURN, laid_out
from fitsim.strip.load_step import prepare
from fitsim.strip.press import ElasticBowl, PressState, press
from fitsim.strip.release import kept, press_needed_N, state_at

HERE = Path(__file__).parent
WOODS = (
    "cherry, black",
    "walnut, black",
    "sugar maple",
    "mahogany, true",
    "white ash",
    "red oak",
    "yellow birch",
    "beech",
)
COUNT, SEED, APART, WITHIN = 28, 7, 1.03, (0.05, 0.10, 0.16)


def drawn(number: int) -> dict[str, dict[str, str]]:
    """Tables of one of the invented bowls."""
    rng = np.random.default_rng([SEED, number])
    # Drawn again until the drop leaves some overlap and friction can hold the tilt.
    while True:
        thickness, tilt, turns = rng.uniform(12, 25), rng.uniform(3, 9), rng.uniform(4, 10)
        friction, kerf = rng.uniform(0.2, 0.5), rng.uniform(0.5, 1.1)
        pitch, base = rng.uniform(5.5, 9.0), rng.uniform(45, 110)
        drop = kerf / np.sin(np.radians(tilt))
        if 0.3 * thickness < drop < 0.8 * thickness and np.tan(np.radians(tilt)) < 0.75 * friction:
            break
    across = base + 2 * pitch * (turns + 0.7)
    board = {"wood": WOODS[number % len(WOODS)], "thickness": f"{thickness:.1f} mm"}
    cut = {"tilt": f"{tilt:.2f} deg", "kerf": f"{kerf:.2f} mm", "pitch": f"{pitch:.1f} mm"}
    cut |= {"root": f"{rng.integers(0, 180)} deg", "base": f"{base:.0f} mm"}
    if number % 4 == 1:
        corner = rng.uniform(0.6, 0.9) * base / 2
        size = f"{across:.0f} mm"
        board |= {"outline": "rectangle", "length": size, "width": size}
        board["corner"] = f"{corner + (across - base) / 2:.0f} mm"
        cut["base_corner"] = f"{corner:.0f} mm"
    elif number % 4 == 2:
        board |= {"outline": "oval", "length": f"{rng.uniform(1.1, 1.4) * across:.0f} mm"}
        board["width"] = f"{across:.0f} mm"
    else:
        board["across"] = f"{across:.0f} mm"
    return {"board": board, "cut": cut, "use": {"friction": f"{friction:.2f}", "finish": "none"}}


def ordinary() -> dict[str, dict[str, Any]]:
    """Tables of the ordinary bowls at friction 0.2, by name."""
    bowls = runpy.run_path(str(HERE / "05_ordinary_bowls.py"), run_name="loaded")["ORDINARY"]
    use = {"finish": "oil", "friction": "0.2"}
    return {name: {**tables, "use": use} for name, tables in bowls.items()}


def searched(bowl: fitsim.Bowl) -> tuple[ElasticBowl, tuple[PressState, ...], float, int]:
    """The strip, its path, the press needed as the program finds it [N] and the systems of its search."""
    elastic, _wood = laid_out(bowl, rigid_fit(bowl), NODES_PER_TURN)
    path: tuple[PressState, ...] = ()
    found, systems = [np.inf], 0
    for reach_N in REACHES_N:
        path = press(elastic, reach_N, closely=False, path=path or None)
        fell = path[-1].fell_through
        on = reach_N < REACHES_N[-1] and not fell
        systems += systems_of(lambda p=path, on=on: found.append(press_needed_N(elastic, p, goes_on=on)))
        if np.isfinite(found[-1]) or fell:
            break
    return elastic, path, found[-1], systems


def begins_N(presses_N: list[float], holds: list[bool]) -> tuple[float, float]:
    """Where a bowl begins to hold on the grid, and from where on it always does; infinite: nowhere. [N]"""
    n = len(holds)
    begins = float("inf")
    for k in range(n):
        following = holds[k + 1 : k + 4]
        harder = holds[k + 6 : k + 10] or [True]
        if holds[k] and sum(following) >= min(2, len(following)) and any(harder):
            begins = presses_N[k]
            break
    slips = [k for k in range(n) if not holds[k]]
    always = slips[-1] + 1 if slips else 0
    return begins, presses_N[always] if always < n else float("inf")


def gridded(
    elastic: ElasticBowl, path: tuple[PressState, ...], about_N: float
) -> tuple[list[float], list[bool]]:
    """Presses about one, 3 percent apart, and whether the bowl holds after each."""
    solver, states = prepare(elastic), tuple(state for state in path if not state.fell_through)
    end_N = min(1.4 * about_N, states[-1].press_N)
    steps = int(np.log(end_N / (0.5 * about_N)) / np.log(APART))
    presses = [0.5 * about_N * APART**k for k in range(steps + 1)]
    return presses, [kept(solver, state_at(elastic, states, at_N)).holds for at_N in presses]


def main(most: int | None = None) -> None:
    """Print bowl by bowl, then shares."""
    bowls = {f"drawn {number}": drawn(number) for number in range(COUNT)} | ordinary()
    off: list[tuple[float, float]] = []
    counts: list[int] = []
    for name, tables in list(bowls.items())[:most]:
        elastic, path, needed, systems = searched(fitsim.make_bowl(tables))
        counts.append(systems)
        if not np.isfinite(needed):
            print(f"{name}: no press holds; {systems} systems", flush=True)
            continue
        presses, holds = gridded(elastic, path, needed)
        begins, always = begins_N(presses, holds)
        off.append((needed / begins - 1, needed / always - 1))
        print(
            f"{name}: needs {needed:.1f} N, begins to hold at {begins:.1f}, always from {always:.1f}, "
            f"{systems} systems {''.join('H' if held else '.' for held in holds)}",
            flush=True,
        )
    told = abs(np.array(off))
    # Between where it begins to hold and where it always does either is an answer.
    between = np.array([a >= 0 >= b for a, b in off])
    nearest = np.where(between, 0.0, told.min(axis=1))
    for words, values in (("where it begins", told[:, 0]), ("the nearer of both", nearest)):
        shares = ", ".join(f"{np.mean(values <= within):.2f} within {within:.0%}" for within in WITHIN)
        print(f"{len(off)} bowls against {words}: {shares}")
    print(f"{sum(counts)} linear systems, half of the bowls at most {np.median(counts):.0f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--short", action="store_true", help="three bowls only")
    main(3 if parser.parse_args().short else None)
