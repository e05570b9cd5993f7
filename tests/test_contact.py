"""The law of a touching point: its limits, its derivative, and bodies whose answer is known."""

import numpy as np
import pytest
from scipy.optimize import nnls

from fitsim.strip.contact_law import ContactLaw, normal_before_N, touch

GIVE = 1e-9


def _law(count, *, mu=0.3, k=10.0, w=1e-3, p=40.0, compliance=GIVE, before=None, gripped=None, **welded):
    """A law at ``count`` slots of two points."""
    return ContactLaw(
        stiffness_N_per_mm=np.full((count, 2), 1 / (compliance + 1 / k)),
        compliance_mm_per_N=compliance,
        friction=mu,
        rounding_N=w,
        sharpness=p,
        before_N=np.zeros((count, 2, 3)) if before is None else before,
        gripped_N=np.zeros((count, 2, 2)) if gripped is None else gripped,
        **welded,
    )


def _settled(matrix, free, *, gripped=None, rounds=60, begin=None, **law):
    """Forces and gaps of a body (2 s, 3, 2 s, 3) that moves freely by (2 s, 3), the law renewed to its end.

    Each round is Newton's method on the forces; the forces found are the next round's multipliers.
    """
    n = len(free)
    C, gap0 = matrix.reshape(3 * n, 3 * n), free.reshape(-1)
    force = np.zeros(3 * n) if begin is None else begin.reshape(-1).copy()
    lent = force.reshape(-1, 2, 3).copy()
    for _ in range(rounds):
        now = _law(n // 2, before=lent, gripped=gripped, **law)
        for _ in range(200):
            found, change = touch(now, (gap0 + C @ force).reshape(-1, 2, 3))
            D = np.zeros((n, 3, n, 3))
            D[np.arange(n), :, np.arange(n)] = change.reshape(n, 3, 3)
            step = np.linalg.solve(np.eye(3 * n) - D.reshape(3 * n, 3 * n) @ C, found.ravel() - force)
            part = 1.0
            while part > 1e-3:
                trial = force + part * step
                miss = touch(now, (gap0 + C @ trial).reshape(-1, 2, 3))[0].ravel() - trial
                if np.linalg.norm(miss) < np.linalg.norm(found.ravel() - force):
                    break
                part /= 2
            force = force + part * step
            if np.abs(step).max() < 1e-12:
                break
        if np.abs(lent.ravel() - force).max() < 1e-10:
            break
        lent = force.reshape(-1, 2, 3).copy()
    return force.reshape(-1, 3), (gap0 + C @ force).reshape(-1, 3)


def _paired(matrix, free):
    """One point with its answer, and a second of the slot that stays far open."""
    two, apart = np.zeros((2, 3, 2, 3)), np.full((2, 3), 0.0)
    two[0, :, 0], two[1, :, 1] = matrix, 1e-3 * np.eye(3)
    apart[0], apart[1, 0] = free, 50.0
    return two, apart


@pytest.mark.parametrize("welded", [False, True])
def test_derivative_against_differences(welded: bool) -> None:
    """Open, sticking, sliding and far apart: the derivative is that of differences, and not symmetric."""
    rng = np.random.default_rng(4)
    count, h = 40, 1e-6
    more = {}
    if welded:
        more = {
            "welded": rng.random((count, 2)) < 0.5,
            "welded_N": rng.normal(2.0, 2.0, (count, 2)),
            "welded_mm": rng.normal(0.0, 0.1, (count, 2)),
        }
    law = _law(
        count,
        mu=0.4,
        w=0.3,
        p=6.0,
        compliance=1e-3,
        before=rng.normal(1.0, 2.0, (count, 2, 3)),
        gripped=rng.normal(0.0, 1.0, (count, 2, 2)),
        **more,
    )
    gap = rng.normal(0.0, 0.2, (count, 2, 3))
    force, change = touch(law, gap, sticky=1.3)
    for axis in range(3):
        step = h * np.eye(3)[axis]
        slope = (touch(law, gap + step, sticky=1.3)[0] - touch(law, gap - step, sticky=1.3)[0]) / (2 * h)
        assert change[..., axis] == pytest.approx(slope, abs=1e-6)
    assert np.abs(change - np.swapaxes(change, 2, 3)).max() > 0.1
    assert (force[..., 0] > 0).all()


def test_in_the_limit_no_pull_no_overlap_and_friction_in_its_cone() -> None:
    """With sharp corners N = max(x, 0) and t = y cut to mu N; rounded, t stays inside."""
    rng = np.random.default_rng(9)
    before, gap = rng.normal(0.5, 3.0, (60, 2, 3)), rng.normal(0.0, 0.3, (60, 2, 3))
    trial = before - 1 / (GIVE + 0.1) * gap
    N = np.maximum(trial[..., 0], 0.0)
    size = np.linalg.norm(trial[..., 1:], axis=2)
    cut = trial[..., 1:] * np.minimum(1.0, 0.3 * N / size)[..., None]
    off = []
    for w, p in ((0.1, 8.0), (1e-3, 200.0)):
        force, _ = touch(_law(60, w=w, p=p, before=before), gap)
        assert np.all(np.linalg.norm(force[..., 1:], axis=2) <= 0.3 * force[..., 0] * (1 + 1e-12))
        off.append(max(np.abs(force[..., 0] - N).max(), np.abs(force[..., 1:] - cut).max()))
    assert off[1] < 0.02
    assert off[1] < 0.1 * off[0]


def test_the_force_before_is_found_again() -> None:
    """At a closed gap that its own give explains the law hands back the normal force it was lent."""
    N = np.array([[0.01, 0.2], [3.0, 250.0]])
    before = np.zeros((2, 2, 3))
    before[..., 0] = normal_before_N(N, 0.15)
    law = _law(2, w=0.15, compliance=2e-3, before=before)
    gap = np.zeros((2, 2, 3))
    gap[..., 0] = -2e-3 * before[..., 0]
    assert touch(law, gap)[0][..., 0] == pytest.approx(N, rel=1e-9)


@pytest.mark.parametrize("gripped", [True, False])
def test_friction_before_is_found_again(gripped: bool) -> None:
    """Friction lent is handed back where the point stands, or where its compliance alone lets it slide.

    A point that gripped with that friction when the step began has not moved; one that gripped with none
    has slid by the compliance times the friction, against it.
    """
    before = np.zeros((1, 2, 3))
    before[0, :, 0] = 90.0
    before[0, :, 1:] = [[5.0, -3.0], [-1.0, 7.0]]
    gap = np.zeros((1, 2, 3))
    gap[..., 0] = -2e-3 * before[..., 0]
    if not gripped:
        gap[..., 1:] = -2e-3 * before[..., 1:]
    law = _law(1, compliance=2e-3, before=before, gripped=before[..., 1:] if gripped else None)
    assert touch(law, gap)[0] == pytest.approx(before, rel=1e-9)


def test_frictionless_contact_solves_the_complementarity_problem() -> None:
    """Multipliers come to forces that never pull, at gaps that never overlap, one of the two being zero.

    Forces agree with non-negative least squares on the same compliance (an independent method).
    """
    rng = np.random.default_rng(2)
    A = rng.normal(size=(30, 24))
    G, gap = A.T @ A / 30 + 0.05 * np.eye(24), rng.normal(size=24)
    matrix, free = np.zeros((24, 3, 24, 3)), np.zeros((24, 3))
    matrix[:, 0, :, 0] = G
    for axis in (1, 2):
        matrix[:, axis, :, axis] = np.eye(24)
    free[:, 0] = gap
    force, motion = _settled(matrix, free, mu=0.0, w=1e-5, k=5.0)
    L = np.linalg.cholesky(G)
    reference, _ = nnls(L.T, -np.linalg.solve(L, gap))
    assert 3 < np.count_nonzero(reference) < 21
    assert force[:, 0] == pytest.approx(reference, abs=2e-4)
    assert motion[:, 0].min() > -1e-4
    assert np.abs(motion[:, 0] * force[:, 0]).max() < 1e-3


@pytest.mark.parametrize("compliance", [1e-9, 0.02])
def test_a_block_sticks_below_and_slides_above_the_bound(compliance: float) -> None:
    """With mu 0.3 a point sticks while its friction is below 0.3 N and slides along the pull beyond.

    The pull is slanted to slope and strip, and both are equally soft, so that friction lies along it. With
    the compliance g in series N is the free overlap over the sum of compliances, and the part c/(c + g) of
    the
    pull is left to friction while it sticks.
    """
    C, way = np.diag([0.01, 0.03, 0.03]), np.array([0.6, 0.8])
    N, left = 0.1 / (0.01 + compliance), 0.03 / (0.03 + compliance)
    for part in (0.9, 1.2):
        pull = part * 0.3 * N / left
        free = np.array([-0.1, *(0.03 * pull * way)])
        force, motion = _settled(*_paired(C, free), mu=0.3, compliance=compliance, w=1e-4, p=200.0, k=60.0)
        assert force[0, 0] == pytest.approx(N, rel=1e-4)
        friction, slid = force[0, 1:], motion[0, 1:]
        if part < 1:
            # It gives way along the face by its contact compliance, and not otherwise.
            stuck = part * 0.3 * N
            assert friction == pytest.approx(-stuck * way, rel=5e-3)
            assert slid == pytest.approx(compliance * stuck * way, abs=2e-4)
        else:
            assert friction == pytest.approx(-0.3 * N * way, rel=5e-3)
            assert slid == pytest.approx(0.03 * (pull - 0.3 * N) * way, rel=0.05)
        assert force[1] == pytest.approx(np.zeros(3), abs=1e-9)


@pytest.mark.parametrize(("mu", "tilt_deg"), [(0.4, 5.0), (0.3, 9.0)])
def test_ring_on_a_taper_collapse_over_press(mu: float, tilt_deg: float) -> None:
    """A ring with no spring of its own slips out at tan(phi - theta) / tan(phi + theta) of the press.

    Friction of a wedge: 0.598 at mu 0.4 and 5 degrees, for a ring that gives way radially. It is pressed
    with the law sliding; that friction is what it grips with. Pushed, it is begun where it stands if
    nothing slides (let out of reach it has a rest of its own), and the law with friction enough keeps it
    there; the push at which the friction there is would be passed is looked for.
    """
    tilt, phi, press = np.radians(tilt_deg), np.arctan(mu), 20.0
    c_r, c_z = 1e-2, 1e3  # the vertical spring is so soft that it carries nothing
    axes = np.array([[np.cos(tilt), -np.sin(tilt), 0], [np.sin(tilt), np.cos(tilt), 0], [0, 0, 1.0]])
    C = axes @ np.diag([c_r, c_z, 1e-3]) @ axes.T

    def free(force: float) -> np.ndarray:
        return np.asarray(axes @ np.array([0.0, c_z * force, 0.0]) + np.array([0.64 * np.cos(tilt), 0, 0]))

    sharp = {"w": 1e-4, "p": 300.0, "k": 40.0}
    pressed, motion = _settled(*_paired(C, free(press)), mu=mu, **sharp)
    N, t = pressed[0, 0], np.linalg.norm(pressed[0, 1:])
    assert t == pytest.approx(mu * N, rel=1e-2)
    grip = np.zeros((1, 2, 2))
    grip[0, 0] = pressed[0, 1:]
    low, high = 0.0, press
    for _ in range(14):
        push = 0.5 * (low + high)
        start = free(-push)
        start[1:] -= motion[0, 1:]
        begin = np.zeros((2, 3))
        begin[0] = np.linalg.solve(C, np.array([motion[0, 0], 0.0, 0.0]) - start)
        held, stood = _settled(*_paired(C, start), mu=1e9, gripped=grip, begin=begin, **sharp)
        assert stood[0, 1:] == pytest.approx(np.zeros(2), abs=1e-3)
        slips = np.linalg.norm(held[0, 1:]) > mu * held[0, 0]
        low, high = (low, push) if slips else (push, high)
    assert low / press == pytest.approx(np.tan(phi - tilt) / np.tan(phi + tilt), rel=5e-3)
