"""How fast is a press, and how much faster is a sweep than the plain way?

Question: time of a press of 6 turns, 36 points a turn, with friction, and of letting go; time of one
contact sweep against a sparse LU of the whole saddle-point system with the same unknowns; how press and
sweep grow with turns (3 to 30) and points a turn (24 to 144); peak memory at 30 turns.

Method: every ratio from one run, one BLAS thread, least of several repeats, seconds of processor time. The
sweeps are timed on the board at rest with the lower end of every seat closed, two unknowns a point. The
presses are pressed to 30 N. Exponents are fitted through all points of a line (least squares of the
logarithms). The memory is the highest of the whole process, read after the largest bowl.

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
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.linalg import lapack

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from elastic_bowls import bowl

from fitsim import contact as ct
from fitsim import hold as ho
from fitsim import press as pr
from fitsim import stiffness as sf
from fitsim import strip as st
from fitsim.errors import NoConvergenceError


@dataclass(frozen=True)
class Growth:
    """Seconds along one line of bowls: what grows, its values, and what was timed by name."""

    name: str
    count: tuple[int, ...]
    seconds: dict[str, tuple[float, ...]]


def seconds_of(work: Callable[[], object], repeat: int) -> float:
    """Return the least processor time of several runs."""
    best = np.inf
    for _ in range(repeat):
        begin = time.process_time()
        work()
        best = min(best, time.process_time() - begin)
    return float(best)


def plain_sweep(b: pr.ElasticBowl, state: pr.PressState) -> Callable[[], object]:
    """One sparse LU of [[K, C^T], [C, -give]] with the closed points, as a job to time."""
    from scipy import sparse
    from scipy.sparse.linalg import splu

    p = state.points
    closed = np.flatnonzero(state.contact.state != ct.OPEN)
    banded = sf.banded_stiffness(b.strip)
    n = banded.shape[1]
    half = sparse.diags([banded[k, : n - k] for k in range(12)], [-k for k in range(12)], shape=(n, n))
    K = half + sparse.tril(half, -1).T
    rows, columns, values = [], [], []
    for r, i in enumerate(np.repeat(closed, 2)):
        axis = r % 2
        for node, weight in ((p.outer[i], 1.0), (p.inner[i], -1.0)):
            if node > 0:
                f, m0 = p.wrench[i, axis, :3], p.wrench[i, axis, 3:]
                w = np.concatenate([f, m0 - np.cross(b.strip.position_mm[node], f)])
                rows += [r] * 6
                columns += list(6 * (node - 1) + np.arange(6))
                values += list(weight * w)
    C = sparse.csc_matrix((values, (rows, columns)), shape=(2 * len(closed), n))
    system = sparse.bmat([[K, C.T], [C, -1e-4 * sparse.eye(2 * len(closed))]], format="csc")
    right = np.ones(system.shape[0])
    return lambda: splu(system).solve(right)


def our_sweep(b: pr.ElasticBowl, state: pr.PressState) -> Callable[[], object]:
    """One sweep of ours with the same points closed, two unknowns a point, as a job to time."""
    flexibility, _ = st.element_flexibility(b.strip, state.shape)
    closed = np.flatnonzero(state.contact.state != ct.OPEN)
    rows = np.concatenate([np.tile([1.0, 0, 0], (len(closed), 1)), np.tile([0, 0, 1.0], (len(closed), 1))])
    point = np.concatenate([closed, closed])
    mix, give, want = ct.Mix(point, rows, rows), np.full(len(point), 1e-4), np.ones(len(point))

    def sweep() -> object:
        body = ct.chain_compliance(state.points, flexibility)
        force = np.zeros_like(state.contact.force_N)
        np.add.at(force, point, body.solve(mix, give, want)[:, None] * rows)
        return body.apply(force)

    return sweep


def closed_at_rest(turns: int, per_turn: int) -> tuple[pr.ElasticBowl, pr.PressState]:
    """Return a bowl at rest with the lower end of every seat taken as closed."""
    b = bowl(turns=turns, per_turn=per_turn, friction=0.4, nail="none")
    state = pr.flat(b)
    closed = np.where(np.arange(len(state.contact.state)) % 2 == 0, ct.SLIDING, ct.OPEN)
    return b, replace(state, contact=replace(state.contact, state=closed))


def exponent(count: tuple[int, ...], seconds: tuple[float, ...]) -> float:
    """Power of the count with which the seconds grow, fitted through all that were found."""
    found = np.isfinite(seconds)
    if found.sum() < 2:
        return float("nan")
    return float(np.polyfit(np.log(np.array(count)[found]), np.log(np.array(seconds)[found]), 1)[0])


def press_seconds(turns: int, per_turn: int, press_N: float = 30.0) -> float:
    """Seconds for a press with friction; nan, and a word, if no balance was found."""
    b = bowl(turns=turns, per_turn=per_turn, friction=0.4)
    try:
        return seconds_of(lambda: pr.press(b, press_N), 1)
    except NoConvergenceError as error:
        print(f"turns {turns} points {per_turn}: {error}", flush=True)
        return float("nan")


def growth(name: str, cases: list[tuple[int, int]]) -> Growth:
    """Time both sweeps and the press over the cases (turns, points a turn)."""
    plain, ours, whole = [], [], []
    for turns, per_turn in cases:
        b, state = closed_at_rest(turns, per_turn)
        plain.append(seconds_of(plain_sweep(b, state), 2))
        ours.append(seconds_of(our_sweep(b, state), 3))
        whole.append(press_seconds(turns, per_turn))
        print(
            f"turns {turns} points {per_turn}: plain sweep {plain[-1] * 1e3:.1f} ms, ours "
            f"{ours[-1] * 1e3:.1f} ms, ratio {plain[-1] / ours[-1]:.2f}, press {whole[-1]:.2f} s, "
            f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB",
            flush=True,
        )
    count = tuple(case[0] if name == "turns" else case[1] for case in cases)
    timed = {"plain sweep": tuple(plain), "our sweep": tuple(ours), "whole press": tuple(whole)}
    powers = ", ".join(f"{what} {exponent(count, seconds):.2f}" for what, seconds in timed.items())
    print(f"exponents over {name}: {powers}", flush=True)
    return Growth(name, count, timed)


def draw(lines: list[Growth], target: Path) -> None:
    """Draw the growth, both axes logarithmic, with the fitted exponents in the legend."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 4.2), layout="constrained")
    for axes, line in zip(figure.subplots(1, len(lines)), lines, strict=True):
        for what, mark in (("plain sweep", "s--"), ("our sweep", "o-"), ("whole press", "^-")):
            seconds = line.seconds[what]
            axes.loglog(
                line.count, seconds, mark, label=f"{what}: power {exponent(line.count, seconds):.1f}"
            )
        axes.set_xlabel(line.name)
        axes.set_xticks(line.count, [str(n) for n in line.count])
        axes.minorticks_off()
        axes.set_ylabel("seconds")
        axes.legend()
        axes.grid(alpha=0.3)
    figure.savefig(target)


def lapack_seconds(work: Callable[[], object]) -> float:
    """Return the processor time a job spends in factorising and solving dense blocks alone."""
    kept = {name: getattr(lapack, name) for name in ("dgetrf", "dgetrs")}
    spent = 0.0

    def timed(name: str) -> Callable[..., object]:
        def call(*given: object, **named: object) -> object:
            nonlocal spent
            begin = time.process_time()
            found = kept[name](*given, **named)
            spent += time.process_time() - begin
            return found

        return call

    for name in kept:
        setattr(lapack, name, timed(name))
    try:
        work()
    finally:
        for name, own in kept.items():
            setattr(lapack, name, own)
    return spent


def six_turns() -> None:
    """Print the press of six turns, letting go, and the sweep in the pressed state.

    Also what is left of the press if all but LAPACK cost nothing, and if every round took one sweep only.
    """
    for large, friction in ((False, 0.0), (False, 0.4), (True, 0.0), (True, 0.4)):
        b = bowl(turns=6, per_turn=36, friction=friction, large=large)
        path = pr.press(b, 60.0)
        whole = seconds_of(lambda b=b: pr.press(b, 60.0), 2)
        sweeps, rounds = sum(s.sweeps for s in path), sum(s.iterations for s in path)
        alone = lapack_seconds(lambda b=b: pr.press(b, 60.0))
        print(
            f"large={large} mu={friction}: press {whole:.2f} s in {len(path) - 1} steps, {rounds} rounds, "
            f"{sweeps} sweeps kept; LAPACK alone {alone:.2f} s, with one sweep a round "
            f"{alone * rounds / sweeps:.2f} s",
            flush=True,
        )
    gone = seconds_of(lambda: ho.let_go(b, path[-1]), 2)
    plain, ours = seconds_of(plain_sweep(b, path[-1]), 3), seconds_of(our_sweep(b, path[-1]), 5)
    print(
        f"let go {gone:.2f} s; pressed: unknowns {2 * int((path[-1].contact.state != ct.OPEN).sum())}, "
        f"plain {plain * 1e3:.1f} ms, ours {ours * 1e3:.1f} ms, ratio {plain / ours:.2f}",
        flush=True,
    )


def main() -> None:
    """Run the comparison."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("picture", nargs="?", type=Path, help="draw the growth into this file")
    parser.add_argument("--short", action="store_true", help="small bowls only")
    asked = parser.parse_args()
    if asked.picture is not None and asked.picture.exists():
        parser.error(f"picture {asked.picture}: expected a new file; choose another name")
    six_turns()
    turns, per_turn = ((3, 6), (24, 36)) if asked.short else ((3, 6, 9, 12, 20, 30), (24, 36, 72, 144))
    lines = [growth("turns", [(n, 36) for n in turns]), growth("points a turn", [(6, n) for n in per_turn])]
    if asked.picture is not None:
        draw(lines, asked.picture)


if __name__ == "__main__":
    main()
