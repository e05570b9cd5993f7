"""How fast is a press, and how much faster is a sweep than the plain way?

Question: time of a press of 6 turns, 36 points a turn; time of one active-set sweep against a
sparse LU of the whole saddle-point system with the same unknowns; how both grow with turns and
points a turn; peak memory.
Method: every ratio from one run, one BLAS thread, least of several repeats; the sweeps are timed on
the board at rest with the lower end of every seat closed, two unknowns a point.
Answer: printed; nothing is pinned.
"""

import resource
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from elastic_bowls import bowl

from fitsim import contact as ct
from fitsim import press as pr
from fitsim import stiffness as sf
from fitsim import strip as st


def plain_sweep_s(b, state):
    """Seconds for one sparse LU of [[K, C^T], [C, -give]] with the sliding points closed."""
    from scipy import sparse
    from scipy.sparse.linalg import splu

    p = state.points
    closed = np.flatnonzero(state.contact.state != ct.OPEN)
    banded = sf.banded_stiffness(b.strip)
    n = banded.shape[1]
    diagonals = [banded[k, : n - k] for k in range(12)]
    half = sparse.diags(diagonals, [-k for k in range(12)], shape=(n, n))
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
    begin = time.perf_counter()
    splu(system).solve(right)
    return time.perf_counter() - begin


def our_sweep_s(b, state, repeat=5):
    """Seconds for one sweep of ours with the same points closed, two unknowns a point."""
    flexibility, _ = st.element_flexibility(b.strip, state.shape)
    closed = np.flatnonzero(state.contact.state != ct.OPEN)
    rows = np.concatenate([np.tile([1.0, 0, 0], (len(closed), 1)), np.tile([0, 0, 1.0], (len(closed), 1))])
    point = np.concatenate([closed, closed])
    mix, give, want = ct.Mix(point, rows, rows), np.full(len(point), 1e-4), np.ones(len(point))
    best = np.inf
    for _ in range(repeat):
        begin = time.perf_counter()
        body = ct.chain_compliance(state.points, flexibility)
        force = np.zeros_like(state.contact.force_N)
        np.add.at(force, point, body.solve(mix, give, want)[:, None] * rows)
        body.apply(force)
        best = min(best, time.perf_counter() - begin)
    return best


def closed_at_rest(turns, per_turn):
    """Return a bowl at rest with the lower end of every seat taken as closed."""
    b = bowl(turns=turns, per_turn=per_turn, friction=0.4, nail="none")
    state = pr.flat(b)
    closed = np.where(np.arange(len(state.contact.state)) % 2 == 0, ct.SLIDING, ct.OPEN)
    return b, replace(state, contact=replace(state.contact, state=closed))


def growth(cases):
    """Print plain and our seconds a sweep over the cases, and the exponents between first and last."""
    rows = []
    for turns, per_turn in cases:
        b, state = closed_at_rest(turns, per_turn)
        plain = min(plain_sweep_s(b, state) for _ in range(2))
        rows.append((turns * per_turn, plain, our_sweep_s(b, state, 3)))
        print(
            f"turns {turns} points {per_turn}: plain {plain * 1e3:.1f} ms, ours "
            f"{rows[-1][2] * 1e3:.1f} ms, ratio {plain / rows[-1][2]:.2f}, "
            f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB",
            flush=True,
        )
    first, last = np.log(rows[0]), np.log(rows[-1])
    step = (last - first)[1:] / (last - first)[0]
    print(f"exponents: plain {step[0]:.2f}, ours {step[1]:.2f}", flush=True)


def main():
    """Run the comparison."""
    for large in (False, True):
        for friction in (0.0, 0.4):
            b = bowl(turns=6, per_turn=36, friction=friction, large=large)
            best = np.inf
            for _ in range(2):
                begin = time.perf_counter()
                path = pr.press(b, 60.0)
                best = min(best, time.perf_counter() - begin)
            print(
                f"large={large} mu={friction}: press {best:.2f} s, sweeps kept "
                f"{sum(s.sweeps for s in path)}",
                flush=True,
            )
    plain = min(plain_sweep_s(b, path[-1]) for _ in range(3))
    ours = our_sweep_s(b, path[-1])
    print(
        f"pressed: unknowns {2 * int((path[-1].contact.state != ct.OPEN).sum())}, plain "
        f"{plain * 1e3:.1f} ms, ours {ours * 1e3:.1f} ms, ratio {plain / ours:.2f}",
        flush=True,
    )
    growth([(turns, 36) for turns in (3, 6, 12, 30)])
    growth([(6, per_turn) for per_turn in (24, 36, 72, 144)])


if __name__ == "__main__":
    main()
