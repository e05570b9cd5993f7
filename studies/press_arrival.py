"""Does a press come to an end, whatever bowl it is given?

Question: of fresh random bowls drawn over all that a file may ask for, how many are pressed to the end or
to the press at which they fall through; where do the others stop; how long does it take; do the energy
books close; are overlaps left in states that count as settled; do bowls fall through at the same press with
points and steps refined?

Method: bowl ``n`` is drawn from the numbers of seed (SEED, n) alone, so that any of them can be looked at
again: 3 to 30 turns (even in their logarithm), board 6 to 30 mm, every wood, tilt 2 to 12 degrees, kerf 0.4
to 1.4 mm, pitch 4 to 11 mm, base 35 to 140 mm, root anywhere, friction 0.1 to 0.7, press 5 to 400 N (even
in its logarithm), eight in ten nailed flat, one not, one tied in all six. What the program would refuse to
read is drawn again. No setting of the press was found on these: choose another ``--seed`` once one has been
looked at.

Answer: printed; nothing is pinned. Rows go to a file, one bowl a line, and a run goes on where an earlier
one with the same file stopped.

Run it with ``python studies/press_arrival.py rows.csv --count 300 --processes 2``; about a second a bowl
and core.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import csv
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

import numpy as np

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.strip_layout import elastic_bowl
from fitsim.errors import InputError, NoConvergenceError, OutsideModelError
from fitsim.strip.beam import deformed_shape
from fitsim.strip.nail_tie import make_nail
from fitsim.strip.press import ElasticBowl, Manner, press
from fitsim.strip.release import let_go
from fitsim.strip.results import force_rise_loop
from fitsim.strip.state import mean_rise_mm

SEED = 2027
WOODS = tuple(wood.name for wood in fitsim.woods())
SHORT_STEPS = Manner(growth=1.5, most_drop_mm=3.0, most_iterations=6000)
OVERLAP_LEFT_mm = 0.05
"""A settled state whose bearing points overlap by more, beside their compliance, is counted."""


@dataclass(frozen=True)
class Row:
    """One bowl: what was drawn, how its press ended, and what was read off."""

    number: int
    wood: str
    nail: str
    turns: float
    thickness_mm: float
    tilt_deg: float
    kerf_mm: float
    pitch_mm: float
    base_mm: float
    root_deg: float
    friction: float
    press_N: float
    end: str
    reached_N: float
    rise_mm: float
    steps: int
    press_s: float
    overlap_left_mm: float
    unaccounted: float
    kept: float
    friction_used: float
    let_go_s: float
    refined_N: float


def drawn(number: int, seed: int = SEED) -> tuple[dict[str, float], fitsim.Bowl, str]:
    """Numbers, bowl and nail of one random bowl that the program would take."""
    rng = np.random.default_rng([seed, number])
    while True:
        asked = {
            "turns": 3 * 10 ** rng.uniform(0, 1),
            "thickness_mm": rng.uniform(6, 30),
            "tilt_deg": rng.uniform(2, 12),
            "kerf_mm": rng.uniform(0.4, 1.4),
            "pitch_mm": rng.uniform(4, 11),
            "base_mm": rng.uniform(35, 140),
            "root_deg": rng.uniform(0, 360),
            "friction": rng.uniform(0.1, 0.7),
            "press_N": 10 ** rng.uniform(np.log10(5), np.log10(400)),
        }
        wood = WOODS[rng.integers(len(WOODS))]
        nail = ("flat", "none", "six")[rng.choice(3, p=[0.8, 0.1, 0.1])]
        asked = {name: float(f"{value:.4g}") for name, value in asked.items()}
        tables = {
            "board": {
                "wood": wood,
                "grain": "flat-sawn",
                "thickness": f"{asked['thickness_mm']} mm",
                "across": f"{asked['base_mm'] + 2 * asked['pitch_mm'] * asked['turns']} mm",
            },
            "cut": {
                "tilt": f"{asked['tilt_deg']} deg",
                "kerf": f"{asked['kerf_mm']} mm",
                "pitch": f"{asked['pitch_mm']} mm",
                "base": f"{asked['base_mm']} mm",
            },
            "use": {"friction": f"{asked['friction']}", "press": f"{asked['press_N']} N"},
        }
        try:
            bowl = fitsim.make_bowl(tables)
        except InputError:
            continue
        return (
            asked,
            replace(bowl, cut=replace(bowl.cut, root_rad=float(np.radians(asked["root_deg"])))),
            nail,
        )


def strip_of(bowl: fitsim.Bowl, nail: str, per_turn: int) -> ElasticBowl:
    """The bowl's strip with the nail that was drawn."""
    laid = elastic_bowl(bowl, rigid_fit(bowl), nodes_per_turn=per_turn)
    if nail == "flat":
        return laid
    if nail == "none":
        return replace(laid, nails=())
    strip, last = laid.strip, len(laid.strip.position_mm) - 1
    tie = make_nail(
        laid.seats,
        strip,
        deformed_shape(strip, np.zeros((last, 6))),
        node=last,
        place=float(laid.seats.place[-1]),
        held=np.ones(6, dtype=bool),
    )
    return replace(laid, nails=(tie,))


def pressed(number: int, seed: int, per_turn: int, release: bool, refine: bool) -> Row:
    """Press one bowl, and if wanted let it go, and look again for the press at which it fell through."""
    asked, bowl, nail = drawn(number, seed)
    nan = float("nan")
    row = Row(
        number=number, wood=bowl.board.wood.name, nail=nail, **asked, end="", reached_N=0.0, rise_mm=nan,
        steps=0, press_s=0.0, overlap_left_mm=nan, unaccounted=nan, kept=nan, friction_used=nan,
        let_go_s=nan, refined_N=nan,
    )  # fmt: skip
    begin = time.process_time()
    try:
        strip = strip_of(bowl, nail, per_turn)
        path = press(strip, bowl.use.press_N)
    except NoConvergenceError as error:
        return replace(row, end="stopped", reached_N=error.reached_N, press_s=time.process_time() - begin)
    except OutsideModelError:
        return replace(row, end="outside the model")
    last = path[-1]
    books = force_rise_loop(strip, path)
    row = replace(
        row,
        end="fell through" if last.fell_through else "pressed",
        reached_N=float(last.press_N),
        rise_mm=mean_rise_mm(strip, last),
        steps=len(path) - 1,
        press_s=time.process_time() - begin,
        overlap_left_mm=last.contact.residual_gap_mm,
        unaccounted=float(books.unaccounted_Nmm / books.work_Nmm[-1]),
    )
    if release and not last.fell_through:
        begin = time.process_time()
        gone = let_go(strip, last)
        row = replace(
            row, kept=gone.kept, friction_used=gone.friction_used, let_go_s=time.process_time() - begin
        )
    if refine and last.fell_through:
        try:
            again = press(strip_of(bowl, nail, 2 * per_turn), 2 * bowl.use.press_N, manner=SHORT_STEPS)[-1]
            row = replace(row, refined_N=float(again.press_N) if again.fell_through else float("inf"))
        except NoConvergenceError as error:
            row = replace(row, refined_N=-error.reached_N)
    return row


def read_rows(path: Path) -> list[Row]:
    """Rows of an earlier run."""
    with path.open(newline="") as file:
        kinds = {field.name: field.type for field in fields(Row)}
        return [
            Row(**{name: kinds[name](text) for name, text in line.items()})  # type: ignore[operator, misc]
            for line in csv.DictReader(file)
        ]


def say(rows: list[Row]) -> None:
    """Print how the presses ended."""
    ends = {
        end: [r for r in rows if r.end == end]
        for end in ("pressed", "fell through", "stopped", "outside the model")
    }
    print(f"{len(rows)} bowls: " + ", ".join(f"{len(found)} {end}" for end, found in ends.items()))
    for r in ends["stopped"]:
        print(
            f"  {r.number}: stopped at {r.reached_N:.3g} of {r.press_N:.3g} N; {r.turns:.1f} turns, "
            f"{r.thickness_mm:.1f} mm, tilt {r.tilt_deg:.1f}, friction {r.friction:.2f}, "
            f"nail {r.nail}, {r.wood}, {r.press_s:.1f} s"
        )
    done = ends["pressed"] + ends["fell through"]
    if not done:
        return
    times = np.array([r.press_s for r in rows if r.end != "outside the model"])
    print(
        f"processor time a press: median {np.median(times):.3f} s, 95 in 100 below "
        f"{np.quantile(times, 0.95):.2f}, greatest {times.max():.1f}"
    )
    for end in ("pressed", "fell through"):
        off = np.abs([r.unaccounted for r in ends[end]])
        if len(off):
            print(
                f"work not accounted for, {end}: median {100 * np.median(off):.2f} percent, above 2 in "
                f"{100 * (off > 0.02).mean():.0f} of 100, greatest {100 * off.max():.1f}"
            )
    left = [r for r in ends["pressed"] if r.overlap_left_mm > OVERLAP_LEFT_mm]
    print(
        f"overlap or gap above {OVERLAP_LEFT_mm} mm left where points bear: {len(left)}"
        + "".join(f", {r.number} ({r.overlap_left_mm:.2f})" for r in left)
    )
    gone = np.array([r.let_go_s for r in rows if np.isfinite(r.let_go_s)])
    if len(gone):
        held = [r for r in rows if r.kept >= 0.9]
        print(
            f"let go: {len(held)} of {len(gone)} hold; processor time median {np.median(gone):.2f} s, "
            f"greatest {gone.max():.1f}"
        )
    again = [r for r in ends["fell through"] if not np.isnan(r.refined_N)]
    if again:
        close = [r for r in again if abs(r.refined_N / r.reached_N - 1) < 0.05]
        print(
            "fell through at the same press within 5 percent with twice the points in short steps: "
            f"{len(close)} of {len(again)}"
        )
        for r in again:
            if r not in close:
                print(
                    f"  {r.number}: {r.reached_N:.3g} N, refined {r.refined_N:.3g} N "
                    "(negative: stopped there; inf: did not fall)"
                )


def main() -> None:
    """Press the bowls that are not in the file yet, then print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("rows", type=Path, help="file of rows, made or gone on with")
    parser.add_argument("--count", type=int, default=300, help="bowls (300)")
    parser.add_argument("--first", type=int, default=0, help="number of the first (0)")
    parser.add_argument("--seed", type=int, default=SEED, help=f"first number of the seed ({SEED})")
    parser.add_argument("--points", type=int, default=24, help="points a turn (24)")
    parser.add_argument("--processes", type=int, default=1, help="processes (1)")
    parser.add_argument("--let-go", action="store_true", help="let every pressed bowl go as well")
    parser.add_argument(
        "--refine", action="store_true", help="look again at those that fall through, refined"
    )
    asked = parser.parse_args()
    rows = read_rows(asked.rows) if asked.rows.exists() else []
    known = {row.number for row in rows}
    new = not asked.rows.exists()
    wanted = [n for n in range(asked.first, asked.first + asked.count) if n not in known]
    with asked.rows.open("a", newline="") as file, ProcessPoolExecutor(asked.processes) as pool:
        writer = csv.DictWriter(file, [field.name for field in fields(Row)])
        if new:
            writer.writeheader()
        jobs = [
            pool.submit(pressed, n, asked.seed, asked.points, asked.let_go, asked.refine) for n in wanted
        ]
        for job in as_completed(jobs):
            rows.append(job.result())
            writer.writerow(asdict(rows[-1]))
            file.flush()
    chosen = [row for row in rows if asked.first <= row.number < asked.first + asked.count]
    say(sorted(chosen, key=lambda row: row.number))


if __name__ == "__main__":
    main()
