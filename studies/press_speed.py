"""How fast is a press, how does it grow, and how far is it from a finely stepped one?

Question: processor time of a press and of letting go at 3 to 30 turns with 24, 36 and 72 points a turn,
beside the press that searches for the touching set (`studies/activeset`); linear systems and memory; errors
of 24 points a turn in the program's steps against 72 points in short steps.

Method: invented cherry bowls laid out as the program does it, pressed with 60 N, friction 0.4, all in one
run on one thread; each time is the least of several, after a press that only warms up. The old way is left
out from where it would take more than a minute, by its time so far and the square of the turns. Exponents
are fitted through all points of a line (least squares of logarithms). Memory is the highest of the whole
process after each press of the program's, before the old way runs.

Answer: printed; nothing is pinned. With a file name the growth is drawn as well, both axes logarithmic.

Run it with ``python studies/press_speed.py [picture.svg]``; some minutes; ``--short``: seconds.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import resource
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
import activeset

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.strip_layout import laid_out
from fitsim.errors import NoConvergenceError
from fitsim.strip import load_step
from fitsim.strip.press import ElasticBowl, Manner, press
from fitsim.strip.release import collapse_N, let_go, press_needed_N
from fitsim.strip.results import turn_forces
from fitsim.strip.state import mean_rise_mm
from fitsim.strip.stress import StripWood, strip_stress
from fitsim.wood.strength import FAILURE_MODES, grain_strength

PRESS_N = 60.0
LONGEST_OLD_S = 60.0
FINE = Manner(growth=1.5, most_drop_mm=1.5, most_iterations=2500)
SHORT_TURNS, ALL_TURNS = (3, 6), (3, 6, 9, 13, 20, 30)


@dataclass(frozen=True)
class Line:
    """Seconds along one line of bowls: what grows, its values, and what was timed by name."""

    name: str
    count: tuple[int, ...]
    seconds: dict[str, tuple[float, ...]]


def described(turns: int) -> fitsim.Bowl:
    """An invented cherry bowl whose strip has that many turns."""
    pitch, base = 6.6, 56.0
    return fitsim.make_bowl(
        {
            # The strip ends before the board's edge by two thirds of a turn.
            "board": {
                "wood": "cherry, black",
                "thickness": "18 mm",
                "across": f"{base + 2 * pitch * (turns + 0.7)} mm",
            },
            "cut": {
                "tilt": "5.5 deg",
                "kerf": "0.7 mm",
                "pitch": f"{pitch} mm",
                "base": f"{base} mm",
                "root": "25 deg",
            },
            "use": {"finish": "none", "friction": "0.4", "press": f"{PRESS_N} N"},
        }
    )


def strip_of(turns: int, per_turn: int) -> tuple[ElasticBowl, StripWood]:
    """The strip of such a bowl, ready to press."""
    bowl = described(turns)
    return laid_out(bowl, rigid_fit(bowl), per_turn)


def seconds_of(work: Callable[[], object], repeat: int = 1) -> float:
    """Return the least processor time of several runs; nan, and a word, if no equilibrium was found."""
    best = np.inf
    for _ in range(repeat):
        begin = time.process_time()
        try:
            work()
        except NoConvergenceError as error:
            print(f"  {error}", flush=True)
            return float("nan")
        best = min(best, time.process_time() - begin)
    return float(best)


def systems_of(work: Callable[[], object]) -> int:
    """Return how many linear systems a job solves, those of steps taken back included."""
    kept, count = load_step.solved, 0

    def counted(*given: object, **named: object) -> object:
        nonlocal count
        count += 1
        return kept(*given, **named)  # type: ignore[arg-type]

    load_step.solved = counted  # type: ignore[assignment]
    try:
        work()
    finally:
        load_step.solved = kept
    return count


def exponent(count: tuple[int, ...], seconds: tuple[float, ...]) -> float:
    """Power of the count with which the seconds grow, fitted through all that were found."""
    found = np.isfinite(seconds)
    if found.sum() < 2:
        return float("nan")
    return float(np.polyfit(np.log(np.array(count)[found]), np.log(np.array(seconds)[found]), 1)[0])


def by_turns(turns: tuple[int, ...], per_turn: int = 24) -> Line:
    """Time press and letting go of both ways over the turns."""
    new, gone, old, old_gone = [], [], [], []
    for count in turns:
        bowl, _wood = strip_of(count, per_turn)
        new.append(seconds_of(lambda b=bowl: press(b, PRESS_N), 3))
        if not np.isfinite(new[-1]):
            gone.append(np.nan)
            continue
        path = press(bowl, PRESS_N)
        gone.append(seconds_of(lambda b=bowl, p=path: let_go(b, p[-1])))
        rest = let_go(bowl, path[-1])
        more = [
            seconds_of(lambda b=bowl, p=path: press_needed_N(b, p)),
            seconds_of(lambda b=bowl, r=rest: collapse_N(b, r)),
        ]
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count} turns ({len(bowl.turn) / per_turn:.1f} of strip), {per_turn} a turn: press "
            f"{new[-1]:.3f} s, {len(path) - 1} steps, {systems_of(lambda b=bowl: press(b, PRESS_N))} "
            f"systems; let go {gone[-1]:.2f} s, press needed {more[0]:.2f} s, collapse "
            f"{more[1]:.2f} s; {memory:.0f} MB; rise "
            f"{mean_rise_mm(bowl, path[-1]):.2f} mm, friction used {rest.friction_used:.3f}",
            flush=True,
        )
    for k, count in enumerate(turns):
        if k and not old[-1] * (count / turns[k - 1]) ** 2 < LONGEST_OLD_S:
            old.append(np.nan)
            old_gone.append(np.nan)
            continue
        other = activeset.as_active_set(strip_of(count, per_turn)[0])
        old.append(seconds_of(lambda b=other: activeset.press(b, PRESS_N)))
        old_gone.append(np.nan)
        if np.isfinite(old[-1]):
            theirs = activeset.press(other, PRESS_N)
            old_gone[-1] = seconds_of(lambda b=other, p=theirs: activeset.let_go(b, p[-1]))
            print(
                f"{count} turns, the old way: press {old[-1]:.2f} s, {old[-1] / new[k]:.1f} times as long; "
                "let go "
                f"{old_gone[-1]:.2f} s; rise {activeset.mean_rise_mm(other, theirs[-1]):.2f} mm",
                flush=True,
            )
    timed = {"press": new, "let go": gone, "old press": old, "old let go": old_gone}
    line = Line("turns", turns, {name: tuple(seconds) for name, seconds in timed.items()})
    said = ", ".join(f"{name} {exponent(turns, seconds):.2f}" for name, seconds in line.seconds.items())
    print(f"exponents over turns: {said}", flush=True)
    return line


def by_points(turns: int, points: tuple[int, ...]) -> Line:
    """Time both ways over the points a turn."""
    new, old = [], []
    for per_turn in points:
        bowl, _wood = strip_of(turns, per_turn)
        other = activeset.as_active_set(bowl)
        new.append(seconds_of(lambda b=bowl: press(b, PRESS_N), 3))
        old.append(seconds_of(lambda b=other: activeset.press(b, PRESS_N)))
        print(
            f"{turns} turns, {per_turn} a turn: press {new[-1]:.3f} s, the old way {old[-1]:.2f} s, "
            f"{old[-1] / new[-1]:.1f} times as long",
            flush=True,
        )
    line = Line("points a turn", points, {"press": tuple(new), "old press": tuple(old)})
    said = ", ".join(f"{name} {exponent(points, seconds):.2f}" for name, seconds in line.seconds.items())
    print(f"exponents over points a turn: {said}", flush=True)
    return line


def _read(turns: int, per_turn: int, manner: Manner | None) -> dict[str, float]:
    given = described(turns)
    bowl, wood = strip_of(turns, per_turn)
    path = press(bowl, PRESS_N) if manner is None else press(bowl, PRESS_N, manner=manner)
    strength = grain_strength(
        given.board.wood, given.use.turn_moisture_percent[0], given.board.tested_across
    )
    stress = strip_stress(bowl, path[-1], wood, strength)
    released = let_go(bowl, path[-1])
    read = {
        "rise": mean_rise_mm(bowl, path[-1]),
        "sum of normal forces": float(turn_forces(bowl, path[-1]).normal_N.sum()),
        "friction used": released.friction_used,
        "rise left": released.rise_left_mm,
        "chance of splitting": stress.chance,
        "greatest twist": float(np.abs(stress.twist_rad_per_mm).max()),
    }
    return read | {
        f"greatest {cause}": float(top)
        for cause, top in zip(FAILURE_MODES, stress.greatest_MPa.max(axis=1), strict=True)
    }


def errors(
    turns: tuple[int, ...], points: tuple[int, ...] = (24, 36)
) -> dict[tuple[int, int], dict[str, float]]:
    """Print and return how far readings are from those of 72 points in short steps, as shares."""
    found = {}
    for count in turns:
        fine = _read(count, 72, FINE)
        for per_turn in points:
            read = _read(count, per_turn, None)
            # A bowl that slips in the finely stepped press has no rise left to be compared with.
            found[count, per_turn] = {
                name: read[name] / fine[name] - 1 if fine[name] else float("nan") for name in fine
            }
            said = ", ".join(f"{name} {100 * off:+.2f}" for name, off in found[count, per_turn].items())
            print(
                f"{count} turns, {per_turn} a turn against 72 in short steps, percent: {said}", flush=True
            )
    return found


def draw(lines: list[Line], target: Path) -> None:
    """Draw the growth, both axes logarithmic, with the fitted exponents in the legend."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 4.2), layout="constrained")
    marks = {"press": "o-", "let go": "^-", "old press": "s--", "old let go": "v--"}
    for axes, line in zip(figure.subplots(1, len(lines)), lines, strict=True):
        for name, seconds in line.seconds.items():
            power = exponent(line.count, seconds)
            axes.loglog(line.count, seconds, marks[name], label=f"{name}: power {power:.1f}")
        axes.set_xlabel(line.name)
        axes.set_xticks(line.count, [str(n) for n in line.count])
        axes.minorticks_off()
        axes.set_ylabel("processor time, s")
        axes.legend()
        axes.grid(alpha=0.3)
    figure.savefig(target)


def main() -> None:
    """Run the comparison."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("picture", nargs="?", type=Path, help="draw the growth into this file")
    parser.add_argument("--short", action="store_true", help="small bowls only")
    asked = parser.parse_args()
    if asked.picture is not None and asked.picture.exists():
        parser.error(f"picture {asked.picture}: expected a new file; choose another name")
    press(strip_of(3, 24)[0], PRESS_N)
    lines = [
        by_turns(SHORT_TURNS if asked.short else ALL_TURNS),
        by_points(3 if asked.short else 9, (24, 36) if asked.short else (24, 36, 72)),
    ]
    errors((3,) if asked.short else (6, 9, 13))
    if asked.picture is not None:
        draw(lines, asked.picture)


if __name__ == "__main__":
    main()
