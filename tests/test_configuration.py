"""One shape of the strip: its gaps, forces and tangent against central differences and statics."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from wooden_bowls import laid

from fitsim.strip import configuration as co
from fitsim.strip import press as pr
from fitsim.strip.load_step import prepare
from fitsim.strip.state import ElasticBowl, PressState

STEP = 1e-5


@dataclass
class Case:
    """A pressed bowl, its configuration, and a direction in which the splines change."""

    bowl: ElasticBowl
    state: PressState
    held: co.Held
    here: co.Configuration
    change: np.ndarray

    def moved(self, part: float, *, sweeps: int = 8) -> co.Configuration:
        """The configuration a little further along the direction; places held with no sweeps."""
        now, place = self.state.followed, self.here.meeting.place
        return co.configure(
            self.held, now.splines + part * self.change, now.shear_mm, place, now.slope_mm, sweeps=sweeps
        )


@pytest.fixture(scope="module")
def case() -> Case:
    """A bowl with a nail of six ties, pressed, and a direction that bends every part of it."""
    bowl = laid(nail="six", per_turn=18)
    state = pr.press(bowl, 40.0)[-1]
    held = prepare(bowl).held
    now = state.followed
    here = co.configure(held, now.splines, now.shear_mm, state.place, now.slope_mm, sweeps=8)
    rng = np.random.default_rng(3)
    s, change = held.splines, np.zeros_like(now.splines)
    drawn = 0.1 * np.cumsum(rng.normal(size=(s.count, 4)), axis=0)
    drawn[0, :3] = 0.0  # the root is built in
    change[s.column[:, None] + np.arange(3)] = drawn[:, :3]
    change[s.stretch_column] = 0.05 * drawn[: len(s.stretch_column), 3]
    return Case(bowl, state, held, here, change)


@pytest.fixture(scope="module")
def force(case: Case) -> np.ndarray:
    """Forces at the seats' points in every direction, of the size of a hard press; none at the nail."""
    found = np.random.default_rng(5).normal(size=(case.held.splines.slots, 2, 3))
    found[len(case.bowl.turn) :] = 0.0
    return found


def _tangent(case: Case, force: np.ndarray, press_N: float) -> co.Tangent:
    carried = co.carried_wrench_at(case.held, case.here, force, press_N)
    return co.tangent(case.held, case.here, carried, press_N, force)


def _differences(case: Case, read, **how):
    return (read(case.moved(STEP, **how)) - read(case.moved(-STEP, **how))) / (2 * STEP)


def test_gaps_and_nodes_move_as_predicted(case: Case, force: np.ndarray) -> None:
    """Gaps and sliding up the slope at every seat, a nail's misfits and all nodes move as differences say.

    The place a node faces may shift with it: along the strip the faces hardly change, which the
    prediction leaves out (a hundredth of the largest change of the slope).
    """
    gap, nodes = co.moved_by(case.held, _tangent(case, force, 5.0), case.change.ravel())
    e = len(case.bowl.turn)
    true = _differences(case, lambda c: c.gap)
    held = _differences(case, lambda c: c.gap, sweeps=0)
    largest = np.abs(true[:e, :, :2]).max()
    assert gap[:e, :, :2] == pytest.approx(held[:e, :, :2], abs=1e-4 * largest)
    assert gap[:e, :, :2] == pytest.approx(true[:e, :, :2], abs=0.03 * largest)
    assert gap[e:] == pytest.approx(true[e:], abs=1e-3 * np.abs(true[e:]).max())
    assert nodes == pytest.approx(_differences(case, lambda c: c.position_mm)[1:], abs=1e-6 * largest)


def test_sliding_along_the_strip_is_the_motion_of_one_body_past_the_other(
    case: Case, force: np.ndarray
) -> None:
    """Along the strip the outer's material point moves past the inner's: differences of both, by hand.

    The point is carried as part of either body: the outer one with its node, the inner one with the
    place between its nodes, held in the material.
    """
    gap, _nodes = co.moved_by(case.held, _tangent(case, force, 5.0), case.change.ravel())
    facing, base = case.here.meeting.facing, len(case.bowl.seats.base_mm)
    e = len(case.bowl.turn)
    before, after = case.moved(-STEP, sweeps=0), case.moved(STEP, sweeps=0)
    for slot in (base + 3, base + 11, e - 2):
        for point in (0, 1):
            where = case.here.where_mm[slot, point]
            node = slot + 1
            arm_o = case.here.frame[node].T @ (where - case.here.position_mm[node])
            arm_i = facing.frame[slot].T @ (where - facing.at_mm[slot])
            apart = []
            for c in (before, after):
                outer = c.position_mm[node] + c.frame[node] @ arm_o
                place = c.meeting.facing
                apart.append(outer - place.at_mm[slot] - place.frame[slot] @ arm_i)
            slid = case.here.axes[slot, point, 2] @ (apart[1] - apart[0]) / (2 * STEP)
            assert gap[slot, point, 2] == pytest.approx(slid, abs=2e-3 * np.abs(gap[:e, :, 2]).max())


def test_elements_push_back_as_their_energy_grows(case: Case, force: np.ndarray) -> None:
    """Forces of the elements are the slope of their energy, and the lift is that of the rise.

    The moment is turned to the middle of its element: right to the square of its bend over twelve.
    """
    t, held = _tangent(case, force, 5.0), case.held

    def energy(c: co.Configuration) -> float:
        bent = 0.5 * np.einsum("ei,eij,ej->", c.bend_rad, held.layout.bending_Nmm, c.bend_rad)
        return float(bent + 0.5 * held.layout.stretch_N_per_mm @ c.stretch_mm**2)

    assert t.internal @ case.change.ravel() == pytest.approx(_differences(case, energy), rel=1e-3)
    assert t.lift_mm @ case.change.ravel() == pytest.approx(
        _differences(case, lambda c: c.rise_mm), rel=1e-8
    )


def _full(case: Case, t: co.Tangent) -> np.ndarray:
    """The whole matrix of a tangent, contact's own stiffness left out."""
    s = case.held.splines
    band, K = t.band.reshape(s.unknowns, s.height), np.zeros((s.unknowns, s.unknowns))
    for j in range(s.unknowns):
        i = np.arange(max(0, j - s.half_band), min(s.unknowns, j + s.half_band + 1))
        K[i, j] = band[j, s.diagonal + i - j]
    return K


def _unbalanced(case: Case, c: co.Configuration, force: np.ndarray, press_N: float) -> np.ndarray:
    """What is out of balance at the splines under forces that keep their size along a point's axes."""
    held, s = case.held, case.held.splines
    c = replace(c, tangent_map=case.here.tangent_map)
    t = co.tangent(held, c, np.zeros((len(case.bowl.turn), 6)), press_N, None)
    padded = np.concatenate([force, np.zeros((s.blocks * s.block - s.slots, 2, 3))])
    pushed = np.matmul(padded.reshape(s.blocks, 1, -1), t.gap_change)[:, 0]
    columns = s.window_column[:, None] + np.arange(s.columns)
    return np.asarray(
        t.internal - press_N * t.lift_mm - np.bincount(columns.ravel(), pushed.ravel(), s.unknowns)
    )


def test_the_tangent_is_the_change_of_what_is_out_of_balance(case: Case, force: np.ndarray) -> None:
    """Elements, press and the contact's own turning each change as central differences say.

    Places and the tangents of the rotations are held, as the algebra holds them. The contact's part is
    right to half a percent: the face between two nodes is taken to turn with both by their shares.
    """
    nothing = np.zeros_like(force)

    def differences(f: np.ndarray, press_N: float) -> np.ndarray:
        read = [_unbalanced(case, case.moved(part, sweeps=0), f, press_N) for part in (STEP, -STEP)]
        return (read[0] - read[1])[3:] / (2 * STEP)

    def predicted(f: np.ndarray, press_N: float) -> np.ndarray:
        return (_full(case, _tangent(case, f, press_N)) @ case.change.ravel())[3:]

    own = [differences(nothing, 0.0), predicted(nothing, 0.0)]
    assert own[1] == pytest.approx(own[0], abs=1e-4 * np.abs(own[0]).max())
    for f, press_N, within in ((force, 0.0, 5e-3), (nothing, 5.0, 1e-6)):
        true, said = differences(f, press_N) - own[0], predicted(f, press_N) - own[1]
        assert np.linalg.norm(said - true) < within * np.linalg.norm(true)


def test_carried_wrenches_balance_press_seats_and_nail(case: Case) -> None:
    """The first element carries press and base's seats, the last its node's press, seat and nail."""
    c, f = case.here, case.state.followed.force
    carried = co.carried_wrench_at(case.held, c, f, case.state.press_N)
    F = np.einsum("spa,spai->spi", f, c.axes)
    M = np.cross(c.where_mm, F)
    F[c.turning], M[c.turning] = 0.0, F[c.turning]
    pair = np.concatenate([F, M], axis=2).sum(axis=1)
    up = np.outer(case.bowl.load_share * case.state.press_N, [0.0, 0.0, 1.0])
    lift = np.concatenate([up, np.cross(c.position_mm, up)], axis=1)
    facing = c.meeting.facing
    # A seat on the first element hands part of its push to the root itself.
    held = np.where(facing.first < 0, 1.0, np.where(facing.first == 0, 1 - facing.share[:, 0], 0.0))
    scale = np.array([case.state.press_N] * 3 + [50 * case.state.press_N] * 3)
    assert carried[0] / scale == pytest.approx((lift[1:].sum(axis=0) + held @ pair) / scale, abs=1e-9)
    last = len(c.position_mm) - 1
    end = lift[last] + pair[case.held.splines.outer == last].sum(axis=0)
    assert carried[-1] / scale == pytest.approx(end / scale, abs=1e-9)


def test_moments_by_shape_near_those_by_statics_with_more_splines() -> None:
    """What bent elements carry nears what press and contact ask of them as splines are added."""
    bowl, off = laid(per_turn=36), []
    for count in (8, 12, 24):
        solver = prepare(bowl, splines_per_turn=count)
        s = pr.press_with(solver, 40.0)[-1]
        now, held = s.followed, solver.held
        here = co.configure(held, now.splines, now.shear_mm, s.place, now.slope_mm)
        bent = np.einsum("eij,ej->ei", held.layout.bending_Nmm, here.bend_rad)
        statics = np.linalg.solve(bowl.strip.flexibility, s.deformation[:, :, None])[:, 3:, 0]
        off.append(np.linalg.norm(bent - statics) / np.linalg.norm(statics))
    assert off[2] < off[1] < off[0]
    assert off[2] < 0.05
