"""How does the springy strip move away from one press, when a bowl is not quite as it was meant?

Question: ``fitsim explain`` presses the bowl once and works out thousands of others from that. How do
depth, friction asked for and stress change with press, friction, slot, tilt, thickness and a slot that is
narrower across the grain than along it, and how far off is the rule then?

Method: three bowls that the study of failed bowls does not use, each pressed some 200 times with tilt,
kerf, press, friction, thickness, moisture, stiffness and nodes drawn at random and, in 4 of 10, the slot
closed by itself; powers fitted to the logarithms through all presses. Where the bowl fell through its depth
is only known to be more than the thickness (a censored fit). ``python studies/failed_powers.py FOLDER``
makes the presses (about 1.5 s each), goes on where it was stopped, and prints the fits.

Answer, 600 presses (14 found no balance, 79 were shut). Powers, then what is left in the logarithm, its
robust estimate in brackets:

             press  friction   slot  tangent  thickness  two-sided   left
    depth    +0.65    -0.76   +0.26   -1.25     -2.7       -0.30     0.55 (0.36)
    spring   -0.69    +0.70   +0.50   -0.09     +1.5       -0.39     0.48 (0.22)
    stress   +0.38    -0.16   +0.78   -0.68     -0.4       -0.02     0.21 (0.20)

Drops of a bowl are off all alike by 0.071 (0.055), each beside that by 0.054; the rise by 0.069 (0.052).
The values in ``fitsim/foretell.py`` were read off an earlier set of 590 presses of the same bowls with
other seeds, and the study of failed bowls was made with those. Between the two sets press, friction and
tangent agree within 0.13, the slot within 0.22; thickness (drawn within a millimetre or two) within 1.1
and how two-sided the slot is within 0.7, which is to say that those two are hardly known.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import math
import sys
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import least_squares, minimize
from scipy.stats import norm

sys.path.insert(0, str(Path(__file__).parent))
from failed_bowls import bowl_of, run_of, sawn
from failed_store import store_each, stored

import fitsim
from fitsim.anchor import Anchor, anchor_of
from fitsim.arrays import Array
from fitsim.drawn import USUAL, Drawn, Plan, dimensions, draw, plan_of
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.foretell import ModelError, foretell, rigid_seats
from fitsim.rigid import rigid_fit

BOWLS = {
    "ash": {
        "board": {"wood": "white ash", "thickness": "16 mm", "across": "190 mm"},
        "cut": {"tilt": "5 deg", "kerf": "0.6 mm", "pitch": "9 mm", "base": "90 mm"},
        "use": {"press": "90 N", "friction": 0.35},
    },
    "walnut": {
        "board": {"wood": "black walnut", "thickness": "15 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.8 mm", "pitch": "7 mm", "base": "85 mm"},
        "use": {"press": "120 N", "friction": 0.4},
    },
    "maple": {
        "board": {"wood": "sugar maple", "thickness": "22 mm", "across": "140 mm"},
        "cut": {"tilt": "4 deg", "kerf": "0.9 mm", "pitch": "10 mm", "base": "70 mm"},
        "use": {"press": "150 N", "friction": 0.3},
    },
}
NAMES = ("press", "friction", "slot", "tangent", "thickness", "two-sided", "constant")
CLOSED_OFTEN, CLOSED_mm = 0.4, 0.25


@lru_cache(maxsize=3)
def plan_named(name: str) -> Plan:
    """One of the bowls."""
    return plan_of(fitsim.make_bowl({"name": name, **BOWLS[name]}))


def drawn_at(plan: Plan, number: int) -> tuple[Drawn, np.random.Generator]:
    """One bowl like the plan, and the generator for what is left to luck; the first is the plan itself."""
    rng = np.random.default_rng(np.random.SeedSequence([7, number]))
    normals = rng.standard_normal((1, dimensions(plan)))
    normals[:, USUAL : USUAL + plan.turns] = 0.0
    wide = replace(
        plan.spread, tilt_rad=math.radians(1.1), kerf_mm=0.18, wander_mm=0.0, thickness_mm=1.0,
        film_mm=0.02, friction_low=0.14, friction_high=0.6, press_log=0.7, moisture_points=1.8,
    )  # fmt: skip
    closed = CLOSED_mm * math.exp(0.6 * rng.standard_normal()) if rng.random() < CLOSED_OFTEN else 0.0
    if number == 0:
        normals, wide, closed = np.zeros_like(normals), plan.spread, 0.0
    drawn = draw(plan, normals, (), spread=wide)
    nothing = np.zeros(1)
    return replace(drawn, closed_mm=np.array([closed]), wander_mm=nothing, luck=nothing), rng


def pressed(job: tuple[str, int]) -> dict[str, Any]:
    """One press: what came of it, as plain values."""
    name, number = job
    plan = plan_named(name)
    drawn, rng = drawn_at(plan, number)
    row: dict[str, Any] = {"name": name, "number": number}
    try:
        bowl = bowl_of(plan, drawn, rng)
        run = run_of(bowl, sawn(plan, drawn, rigid_fit(bowl), rng), 0, int(rng.integers(20, 25)))
    except (NoConvergenceError, OutsideModelError, ValueError, IndexError) as error:
        return {**row, "error": str(error)}
    hold = min(run.hold, 99.0)
    return {
        **row, "shut": run.shut, "fell": run.fell, "hold": hold, "drops_mm": run.drops_mm.tolist(),
        "deepest_mm": run.deepest_mm, "rise_mm": run.rise_mm,
        "stress": 0.0 if run.split is None else 1 / run.split.times_to_limit,
    }  # fmt: skip


@dataclass(frozen=True, eq=False)
class Fitted:
    """Powers by :data:`NAMES`, with the standard deviation of what is left and its robust estimate."""

    powers: Array
    sd: float
    robust_sd: float
    rows: int

    def __str__(self) -> str:
        """Return it on one line."""
        powers = ", ".join(f"{name} {value:+.2f}" for name, value in zip(NAMES, self.powers, strict=True))
        return f"{powers}; left {self.sd:.2f} (robust {self.robust_sd:.2f}), {self.rows} presses"


def features(plan: Plan, anchor: Anchor, drawn: Drawn) -> Array:
    """Logarithms over the anchor's, how two-sided the slot is, and 1."""
    seats = rigid_seats(plan, drawn, anchor)
    apart = np.abs(seats.along_mm - seats.across_mm).mean() / max(float(seats.slot_mm.mean()), 0.01)
    return np.array([
        math.log(drawn.press_N[0] / anchor.press_N), math.log(drawn.friction[0] / anchor.friction),
        seats.log_slot[0].mean(), seats.log_tangent[0].mean(),
        math.log(drawn.thickness_mm[0] / anchor.thickness_mm), apart, 1.0,
    ])  # fmt: skip


def _robust(left: Array) -> float:
    return float(1.48 * np.median(np.abs(left - np.median(left))))


def depth_fit(x: Array, y: Array, beyond: Array) -> Fitted:
    """Censored normal fit: where a bowl fell, its depth is only known to lie beyond."""

    def minus_log(p: Array) -> float:
        sd = math.exp(p[-1])
        off = (y - x @ p[:-1]) / sd
        return float(-np.where(beyond, norm.logsf(off), norm.logpdf(off) - math.log(sd)).sum())

    found = minimize(minus_log, np.r_[np.zeros(x.shape[1]), math.log(0.5)], method="BFGS").x
    left = (y - x @ found[:-1])[~beyond]
    return Fitted(found[:-1], math.exp(found[-1]), _robust(left), len(y))


def log_fit(x: Array, y: Array) -> Fitted:
    """Fit that takes few outliers for what they are."""
    found = least_squares(lambda p: x @ p - y, np.zeros(x.shape[1]), loss="soft_l1", f_scale=0.2).x
    left = y - x @ found
    return Fitted(found, float(left.std()), _robust(left), len(y))


def hold_fit(x: Array, used: Array, tangent: Array, spring: Array) -> Fitted:
    """Friction asked for: the tangent, and a spring that moves by powers."""

    def off(p: Array) -> Array:
        return np.asarray(np.log(tangent + spring * np.exp(x @ p)) - np.log(used))

    found = least_squares(off, np.zeros(x.shape[1]), loss="soft_l1", f_scale=0.3).x
    left = off(found)
    return Fitted(found, float(left.std()), _robust(left), len(used))


def fits_of(rows: list[dict[str, Any]]) -> dict[str, str]:
    """All fits in words."""
    depth: list[tuple[Array, float, bool]] = []
    hold: list[tuple[Array, float, float, float]] = []
    stress: list[tuple[Array, float]] = []
    drops: list[Array] = []
    rises: list[float] = []
    usual = {r["name"]: r for r in rows if r["number"] == 0}
    for row in rows:
        if row["number"] == 0 or "error" in row or row["shut"]:
            continue
        plan = plan_named(row["name"])
        anchor, (drawn, _) = anchor_of(plan), drawn_at(plan, row["number"])
        seats, x = rigid_seats(plan, drawn, anchor), features(plan, anchor, drawn)
        seat, thick = float(seats.drop_mm.mean()), float(drawn.thickness_mm[0])
        if seats.slot_mm.min() <= 0.02 or seat >= thick:
            continue
        deepest = thick if row["fell"] else row["deepest_mm"]
        more = math.log(max(deepest / seat - 1, 5e-3)) - math.log(float(anchor.deepest.max()))
        depth.append((x, more, row["fell"]))
        if row["fell"]:
            continue
        stress.append((x, math.log(row["stress"] / usual[row["name"]]["stress"])))
        if row["hold"] < 50:
            asked = row["hold"] * float(drawn.friction[0])
            hold.append((x, asked, math.tan(float(drawn.tilt_rad[0, 0])), float(anchor.spring.max())))
        if row["hold"] < 1.5:
            now = foretell(plan, anchor, drawn, error=ModelError(all_drops=0.0))
            k = min(len(row["drops_mm"]), plan.turns) - 1
            drops.append(np.log(np.maximum(row["drops_mm"][1:k], 0.1) / now.drops_mm[0, 1:k]))
            rises.append(math.log(row["rise_mm"] / now.readings["rise"][0]))
    own = np.concatenate([each - each.mean() for each in drops if len(each) > 1])
    alike = np.array([each.mean() for each in drops])
    x = np.stack([d[0] for d in depth])
    return {
        "depth": str(depth_fit(x, np.array([d[1] for d in depth]), np.array([d[2] for d in depth]))),
        "spring": str(
            hold_fit(np.stack([h[0] for h in hold]), *(np.array([h[i] for h in hold]) for i in (1, 2, 3)))
        ),
        "stress": str(log_fit(np.stack([s[0] for s in stress]), np.array([s[1] for s in stress]))),
        "drops": f"all alike {alike.std():.3f} (robust {_robust(alike):.3f}), "
        f"each beside that {own.std():.3f}",
        "rise": f"mean {np.mean(rises):+.3f}, left {np.std(rises):.3f} "
        f"(robust {_robust(np.array(rises)):.3f})",
    }


def main() -> None:
    """Press, and print the fits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--presses", type=int, default=200, help="of every bowl")
    parser.add_argument("--processes", type=int, default=1, help="jobs at once")
    asked = parser.parse_args()
    asked.folder.mkdir(exist_ok=True)
    path = asked.folder / "presses.jsonl"
    done = {(row["name"], row["number"]) for row in stored(path)}
    every = [(name, number) for number in range(asked.presses) for name in BOWLS]
    jobs = [job for job in every if job not in done]
    store_each("presses", path, pressed, jobs, asked.processes)
    for what, words in fits_of(stored(path)).items():
        print(f"{what}: {words}")


if __name__ == "__main__":
    main()
