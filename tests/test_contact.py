"""Contact and friction on small bodies with known answers, and the chain's compliance."""

import numpy as np
import pytest
from elastic_bowls import bowl

from fitsim import contact as ct
from fitsim import meeting as se
from fitsim import press as pr
from fitsim import stiffness as sf
from fitsim import strip as st


def _start(count, state=ct.OPEN):
    return ct.ContactState(
        np.zeros((count, 3)),
        np.zeros((count, 3)),
        np.full(count, state),
        np.tile([-1.0, 0.0], (count, 1)),
        0.0,
        0.0,
        0.0,
        0,
        True,
    )


def _solve(matrix, free, mu, start=None, grip=None):
    count = len(free)
    return ct.solve_contact(
        ct.DenseCompliance(matrix),
        free_mm=free,
        friction=np.full(count, mu),
        start=_start(count) if start is None else start,
        grip_N=np.zeros((count, 3)) if grip is None else grip,
        tied=np.zeros((count, 3), dtype=bool),
        give_mm_per_N=1e-9,
    )


def test_frictionless_contact_solves_the_complementarity_problem():
    """Gap, force and their product are never negative, never negative and zero.

    Forces agree with non-negative least squares on the same compliance.
    """
    from scipy.optimize import nnls

    rng = np.random.default_rng(11)
    A = rng.normal(size=(30, 24))
    G = A.T @ A + 0.1 * np.eye(24)
    gap = rng.normal(size=24)
    matrix = np.zeros((24, 3, 24, 3))
    matrix[:, 0, :, 0] = G
    for axis in (1, 2):
        matrix[:, axis, :, axis] = np.eye(24)
    free = np.zeros((24, 3))
    free[:, 0] = gap
    answer = _solve(matrix, free, 0.0)
    L = np.linalg.cholesky(G)
    reference, _ = nnls(L.T, -np.linalg.solve(L, gap))
    assert answer.converged
    assert answer.force_N[:, 0] == pytest.approx(reference, abs=1e-6)
    assert np.all(answer.motion_mm[:, 0] > -1e-7)
    assert np.abs(answer.motion_mm[:, 0] * answer.force_N[:, 0]).max() < 1e-6


@pytest.mark.parametrize(("mu", "tilt_deg"), [(0.4, 5.0), (0.3, 9.0)])
def test_ring_on_a_taper_collapse_over_press(mu, tilt_deg):
    """A ring with no spring of its own slips out at tan(phi - theta) / tan(phi + theta) of the press.

    Friction of a wedge: 0.598 at mu 0.4 and 5 degrees, for a ring that gives way radially.
    """
    tilt, phi, press = np.radians(tilt_deg), np.arctan(mu), 20.0
    c_r, c_z = 1e-3, 1e3  # the vertical spring is so soft that it carries nothing
    axes = np.array([[np.cos(tilt), -np.sin(tilt), 0], [np.sin(tilt), np.cos(tilt), 0], [0, 0, 1.0]])
    matrix = (axes @ np.diag([c_r, c_z, 1e-3]) @ axes.T).reshape(1, 3, 1, 3)

    def free(force):
        motion = axes @ np.array([0.0, c_z * force, 0.0])
        return motion + np.array([0.64 * np.cos(tilt), 0, 0])

    pressed = _solve(matrix, free(press)[None], mu)
    assert pressed.converged
    low, high = 0.0, press
    for _ in range(30):
        push = 0.5 * (low + high)
        start = free(-push)
        start[1:] -= pressed.motion_mm[0, 1:]
        stuck = ct.solve_contact(
            ct.DenseCompliance(matrix),
            free_mm=start[None],
            friction=np.array([np.inf]),
            start=_start(1, ct.STICKING),
            grip_N=pressed.force_N,
            tied=np.zeros((1, 3), dtype=bool),
            give_mm_per_N=1e-9,
        )
        N, t = stuck.force_N[0, 0], np.linalg.norm(stuck.force_N[0, 1:])
        low, high = (low, push) if t > mu * N else (push, high)
    assert low / press == pytest.approx(np.tan(phi - tilt) / np.tan(phi + tilt), rel=2e-3)


def test_a_block_sticks_below_and_slides_above_the_bound():
    """A point under N = 10 with mu 0.3 sticks up to a pull of 3 and slides along the pull beyond it.

    The pull is slanted to slope and strip.
    """
    matrix = np.zeros((1, 3, 1, 3))
    matrix[0, :, 0, :] = np.diag([0.01, 0.02, 0.05])
    for pull, state in ((2.9, ct.STICKING), (3.2, ct.SLIDING)):
        way = np.array([0.6, 0.8])
        free = np.array([[-0.1, *(np.array([0.02, 0.05]) * pull * way)]])
        answer = _solve(matrix, free, 0.3, start=_start(1, ct.STICKING))
        assert answer.converged
        assert answer.state[0] == state
        assert np.linalg.norm(answer.force_N[0, 1:]) <= 0.3 * answer.force_N[0, 0] + 1e-5
        if state == ct.SLIDING:
            slid = answer.motion_mm[0, 1:]
            assert slid @ answer.force_N[0, 1:] == pytest.approx(-np.linalg.norm(slid) * 3.0, rel=1e-5)


def test_chain_compliance_equals_the_stiffness_matrix():
    """Compliance from running sums equals C K^-1 C^T from the banded stiffness matrix."""
    b = bowl(turns=2.4, per_turn=25)
    shape = st.deformed_shape(b.strip, np.zeros((len(b.strip.arc_mm), 6)))
    seen = se.meet(b.seats, b.strip, shape, place=b.seats.place + 0.37 * (b.seats.place > 26))
    flexibility, _ = st.element_flexibility(b.strip, shape)
    body = ct.chain_compliance(seen.points, flexibility)
    p, n = seen.points, len(b.strip.position_mm)
    rng = np.random.default_rng(3)
    pick = rng.choice(len(p.outer), 30, replace=False)
    C = np.zeros((30, n, 6))
    for row, i in enumerate(pick):
        for node, weight in (
            (p.outer[i], 1.0),
            (p.inner[i], -(1 - p.share[i])),
            (p.inner[i] + 1, -p.share[i]),
        ):
            if (node > 0 and p.inner[i] >= 0) or weight == 1.0:
                f, m0 = p.wrench[i, 0, :3], p.wrench[i, 0, 3:]
                C[row, node] += weight * np.concatenate([f, m0 - np.cross(b.strip.position_mm[node], f)])
    C = C[:, 1:].reshape(30, -1)
    K = sf.banded_stiffness(b.strip)
    reference = C @ sf.solve_banded_stiffness(K, C.T)
    e = np.tile([1.0, 0, 0], (30, 1))
    assert body.block(pick, e, pick, e) == pytest.approx(reference, rel=1e-5, abs=1e-9)


def test_block_solve_equals_the_dense_one():
    """Solving turn by turn gives what the full system gives."""
    b = bowl(turns=4, per_turn=24)
    state = pr.press(b, 15.0)[-1]
    flexibility, _ = st.element_flexibility(b.strip, state.shape)
    body = ct.chain_compliance(state.points, flexibility)
    point = np.arange(0, 192, 2)
    rows = np.tile([1.0, 0, 0], (96, 1))
    columns = np.tile([1.0, -0.3, 0.1], (96, 1))
    give, want = np.full(96, 1e-3), np.sin(point * 0.1)
    full = body.block(point, rows, point, columns) + np.diag(give)
    assert len(body.cuts) >= 4
    assert body.solve(ct.Mix(point, rows, columns), give, want) == pytest.approx(
        np.linalg.solve(full, want), rel=1e-6, abs=1e-9
    )


def test_a_drive_moves_its_own_place_as_wanted():
    """The load found for a wanted motion, given as a load, moves its place there; work is mutual.

    Points and the load's place are rows of one symmetric compliance: the motion at the load is taken
    from the full matrix, not from the drive.
    """
    rng = np.random.default_rng(7)
    A = rng.normal(size=(25, 19))
    full = A.T @ A / 25 + 0.05 * np.eye(19)
    matrix, unit, own = full[:18, :18].reshape(6, 3, 6, 3), full[:18, 18].reshape(6, 3), full[18, 18]
    free = np.zeros((6, 3))
    free[:, 0] = rng.normal(size=6)
    driven = ct.solve_contact(
        ct.DenseCompliance(matrix),
        free_mm=free,
        friction=np.full(6, 0.2),
        start=_start(6),
        grip_N=np.zeros((6, 3)),
        tied=np.zeros((6, 3), dtype=bool),
        give_mm_per_N=1e-9,
        drive=ct.Drive(unit, own, 1.3),
    )
    given = _solve(matrix, free + driven.load_N * unit, 0.2)
    forces = np.append(given.force_N.ravel(), driven.load_N)
    assert driven.converged
    assert given.converged
    assert np.any(given.force_N[:, 0] > 0)
    assert full[18] @ forces == pytest.approx(1.3, rel=1e-6)
    assert driven.force_N == pytest.approx(given.force_N, abs=1e-6)


def test_closing_the_deepest_first_finds_the_same_contact():
    """Which points close in a sweep changes the way there, not the contact: a beam on a curved floor.

    A simply supported beam pressed on a floor, neighbours along the beam; reference: non-negative
    least squares on its compliance (closed form, any textbook of strength of materials).
    """
    from scipy.optimize import nnls

    x = np.arange(1, 40) / 40
    a, b = np.minimum.outer(x, x), np.maximum.outer(x, x)
    G = a * (1 - b) * (2 * b - a**2 - b**2) / 6
    gap = 0.004 * (x - 0.37) ** 2 - 2e-4
    matrix = np.zeros((39, 3, 39, 3))
    matrix[:, 0, :, 0] = G
    for axis in (1, 2):
        matrix[:, axis, :, axis] = np.eye(39)
    free = np.zeros((39, 3))
    free[:, 0] = gap
    answers = [
        ct.solve_contact(
            ct.DenseCompliance(matrix),
            free_mm=free,
            friction=np.zeros(39),
            start=_start(39),
            grip_N=np.zeros((39, 3)),
            tied=np.zeros((39, 3), dtype=bool),
            give_mm_per_N=1e-9,
            tolerance_mm=1e-12,
            stride=stride,
        )
        for stride in (0, 1)
    ]
    L = np.linalg.cholesky(G + 1e-9 * np.eye(39))
    reference, _ = nnls(L.T, -np.linalg.solve(L, gap))
    for answer in answers:
        assert answer.converged
        assert answer.force_N[:, 0] == pytest.approx(reference, abs=1e-6)
    assert 0 < np.count_nonzero(reference) < 39


def test_says_when_it_gave_up():
    """Two points that open each other's way to overlap have no contact that keeps the law.

    G = [[1, -2], [-2, 1]] and both overlapping by 1: open overlaps, one closed drives the other deeper by
    3, both closed pull with 1 each. Whatever is tried, the answer says it did not converge.
    """
    matrix = np.zeros((2, 3, 2, 3))
    matrix[:, 0, :, 0] = [[1.0, -2.0], [-2.0, 1.0]]
    free = np.zeros((2, 3))
    free[:, 0] = -1.0
    none = ct.solve_contact(
        ct.DenseCompliance(matrix),
        free_mm=free,
        friction=np.zeros(2),
        start=_start(2),
        grip_N=np.zeros((2, 3)),
        tied=np.zeros((2, 3), dtype=bool),
        most_sweeps=20,
    )
    assert not none.converged
    assert none.softened
    assert max(none.residual_gap_mm, none.residual_force_N) > 0.5
