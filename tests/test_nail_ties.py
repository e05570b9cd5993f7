"""Ways to nail the free end: each keeps what it ties and no more, and its force is in balance."""

from dataclasses import replace

import numpy as np
import pytest
from elastic_bowls import bowl

from fitsim.strip import beam as st
from fitsim.strip import press as pr
from fitsim.strip import results as rd
from fitsim.strip.configuration import configure
from fitsim.strip.equilibrium import flat_state
from fitsim.strip.load_step import prepare
from fitsim.strip.nail_tie import make_nail, nail_misfit
from fitsim.strip.turning_back import step_back

PER_TURN, PRESS_N = 14, 18.0
SHIFTS, HEIGHT, STAPLE = [1, 1, 1, 0, 0, 0], [0, 0, 1, 0, 0, 0], [1] * 6


def _nail(b, shape, place, held, *, node=-1, upright=False, offset_mm=(0.0, 0.0, 0.0)):
    node = range(len(b.strip.position_mm))[node]
    nail = make_nail(
        b.seats,
        b.strip,
        shape,
        node=node,
        place=float(place[node - 1]),
        held=np.array(held, dtype=bool),
        upright=upright,
    )
    return replace(nail, offset_mm=np.array(offset_mm))


@pytest.fixture(scope="module")
def bowls():
    """An open ring, and the same with its free end nailed in every way, driven flat."""
    b = bowl(turns=2.6, per_turn=PER_TURN, nail="none", start_rad=0.4)
    flat, place = st.deformed_shape(b.strip, np.zeros((len(b.strip.arc_mm), 6))), b.seats.place
    plain = _nail(b, flat, place, SHIFTS)
    slot = float(b.seats.slot_mm[-1])
    ties = {
        "missing": (),
        "height": (_nail(b, flat, place, HEIGHT, upright=True),),
        "normal": (plain,),
        "staple": (_nail(b, flat, place, STAPLE),),
        "two turns": (plain, _nail(b, flat, place, SHIFTS, node=-1 - PER_TURN)),
        "clinched": (_nail(b, flat, place, SHIFTS, offset_mm=(slot, 0.0, 0.0)),),
    }
    return {name: replace(b, nails=nails) for name, nails in ties.items()}


@pytest.fixture(scope="module")
def paths(bowls):
    """A press of each."""
    return {name: pr.press(b, PRESS_N) for name, b in bowls.items()}


def _apart(b, state, nail, node):
    """Middles of the two bevels a nail passes, outer less inner, along the inner turn's n, t, b. [mm]

    By hand from nodes and frames, the inner turn as a straight line between its nodes; at rest it reads
    the slot along n.
    """
    base, half = len(b.seats.base_mm), b.seats.half_width_mm
    x, R = state.shape.position_mm, state.shape.frame
    k, u = divmod(nail.place - base, 1)
    k = int(k)
    at, axes = (1 - u) * x[k] + u * x[k + 1], (1 - u) * R[k] + u * R[k + 1]
    outer = x[node] - half[base + node] * R[node, :, 0]
    return axes.T @ (outer - (at + half[base + k] * axes[:, 0]))


def _configured(b, state):
    """The configuration of a state, its nails' misfits included."""
    now = state.followed
    return configure(prepare(b).held, now.splines, now.shear_mm, state.place, now.slope_mm)


def _misfit(b, state):
    """Shifts and turnings of the nails, tied or not, (2 nails, 3)."""
    facing = _configured(b, state).meeting.facing
    e = len(b.turn)
    found = []
    for i, nail in enumerate(b.nails):
        node = (state.shape.position_mm[nail.node], state.shape.frame[nail.node])
        shift, turn, _ = nail_misfit(nail, node, (facing.at_mm[e + i], facing.frame[e + i]))
        found += [shift, turn]
    return np.array(found)


def _rise(path, press_N, b):
    presses = [s.press_N for s in path]
    return np.interp(press_N, presses, [rd.rim_height(b, s).mean_mm for s in path])


@pytest.mark.parametrize("name", ["height", "normal", "staple", "two turns"])
def test_a_nail_keeps_exactly_what_it_ties(bowls, paths, name):
    """Tied components stay where the nail found them, to two thousandths; free ones move."""
    b, state = bowls[name], paths[name][-1]
    misfit = _misfit(b, state)
    held = {"height": HEIGHT, "normal": SHIFTS, "staple": STAPLE, "two turns": SHIFTS * 2}[name]
    tied = np.array(held, dtype=bool).reshape(-1, 3)
    assert np.abs(misfit[tied]).max() < 2e-3
    assert tied.all() or np.abs(misfit[~tied]).max() > 1e-2
    last = len(b.strip.position_mm) - 1
    flat = flat_state(prepare(b))
    before, after = (_apart(b, s, b.nails[0], last) for s in (flat, state))
    if name == "height":
        assert abs(after[2] - before[2]) < 0.3
        assert np.linalg.norm(after - before) > 1.0  # it slid
    else:
        # The pin's middle is half a slot from either bevel: rolling moves the bevels' middles a little.
        assert after == pytest.approx(before, abs=0.12)
    assert _apart(b, flat, b.nails[0], last)[0] == pytest.approx(b.seats.slot_mm[-1], abs=0.05)


def test_without_a_nail_the_ring_opens_and_does_not_wedge(bowls, paths):
    """At the press that binds the nailed ring the open one spreads, bears half as hard and slips."""
    loose, closed = paths["missing"][-1], paths["normal"][-1]
    N = {k: rd.turn_forces(bowls[k], s).normal_N.sum() for k, s in (("missing", loose), ("normal", closed))}
    assert N["missing"] < 0.5 * N["normal"]
    assert loose.drop_mm[-1] > 5 * abs(closed.drop_mm[-1])
    radius = [np.linalg.norm(s.shape.position_mm[-1, :2]) for s in (loose, closed)]
    assert radius[0] > radius[1] + 0.3


def test_more_ties_never_make_a_softer_bowl(bowls, paths):
    """Missing, height only, three shifts, staple or a second nail: the rise at a press only goes down.

    Without friction the integral of the rise over the press is what the least potential energy falls by,
    and more ties can only raise that least; the rise itself keeps the order here too.
    """
    presses = np.linspace(2.0, PRESS_N, 9)
    rise = {k: _rise(p, presses, bowls[k]) for k, p in paths.items()}
    for softer, stiffer in (
        ("missing", "height"),
        ("height", "normal"),
        ("normal", "staple"),
        ("normal", "two turns"),
    ):
        # Two thousandths: the paths stop at other presses, the rise between them is a straight line.
        assert np.all(np.cumsum(rise[softer]) > np.cumsum(rise[stiffer]) * 0.998)
        assert np.all(rise[softer] > rise[stiffer] * 0.998)
    assert rise["missing"][-1] > 1.2 * rise["normal"][-1] > 1.2 * rise["two turns"][-1]


def test_a_second_nail_joins_three_turns(bowls, paths):
    """Driven flat into the turn further in, the two nails keep drop 0 on both seats they cross."""
    state = paths["two turns"][-1]
    assert abs(state.drop_mm[-1]) < 0.1
    assert abs(state.drop_mm[-1 - PER_TURN]) < 0.1
    assert state.drop_mm[-1 - PER_TURN // 2] > 1.0
    assert abs(paths["normal"][-1].drop_mm[-1 - PER_TURN]) > 1.0


def test_driven_open_it_keeps_the_drop_it_found(bowls, paths):
    """Driven with the ring pressed loosely open, the end keeps its drop at every press after, also at 0."""
    open_ring = bowls["missing"]
    found = next(s for s in paths["missing"] if s.drop_mm[-1] > 2.0)
    nail = _nail(open_ring, found.shape, found.place, SHIFTS)
    b = replace(open_ring, nails=(nail,))
    path = pr.press(b, PRESS_N)
    drops = [s.drop_mm[-1] for s in path[1:]]
    assert drops == pytest.approx([found.drop_mm[-1]] * len(drops), abs=0.1)
    assert found.press_N < PRESS_N
    back = step_back(prepare(b), path[1], 0.0).state
    assert back.drop_mm[-1] == pytest.approx(found.drop_mm[-1], abs=0.1)
    # Not driven flat: the rim is another one, and the nail is strained with no press at all.
    assert np.linalg.norm(rd.nail_force_N(b, back)) > 0.1


def test_clinched_it_closes_the_slot_there(bowls, paths):
    """Clinched, bevel lies on bevel at the nail from the first newton on; driven, half the slot is left."""
    for name, left in (("clinched", 0.0), ("normal", 1.0)):
        b = bowls[name]
        node = len(b.strip.position_mm) - 1
        for state in paths[name][1:]:
            n, _t, up = _apart(b, state, b.nails[0], node)
            at_nail = (n - np.tan(b.seats.tilt_rad) * up) / b.seats.slot_mm[-1]
            assert at_nail == pytest.approx(left, abs=0.15)


@pytest.mark.parametrize("name", ["missing", "height", "normal", "staple", "two turns", "clinched"])
def test_forces_are_in_balance(bowls, paths, name):
    """What the strip carries, read from how it is deformed, balances press, seats and nails.

    The root's section carries the press and the base's seats and nothing else, moment and all; the last
    element carries the last node's share of the press, its seat and the nail.
    """
    b = bowls[name]
    state = paths[name][-1]
    local = np.einsum("eij,ej->ei", np.linalg.inv(b.strip.flexibility), state.deformation)
    R, x = state.shape.middle_frame, state.shape.middle_mm
    force, moment = (np.einsum("eij,ej->ei", R, local[:, i : i + 3]) for i in (0, 3))
    carried = np.concatenate([force, moment + np.cross(x, force)], axis=1)
    up = np.outer(b.load_share * state.press_N, [0.0, 0.0, 1.0])
    lift = np.concatenate([up, np.cross(state.shape.position_mm, up)], axis=1)
    here = _configured(b, state)
    force = state.contact.force_N.reshape(-1, 2, 3)
    push = np.einsum("spa,spai->spi", force, here.axes)
    moment_of = np.cross(here.where_mm, push)
    push[here.turning], moment_of[here.turning] = 0.0, push[here.turning]
    pairs = np.concatenate([push, moment_of], axis=2).sum(axis=1)
    faced = here.meeting.facing
    scale = np.array([state.press_N] * 3 + [50 * state.press_N] * 3)
    # A seat on the first element hands part of its push to the root itself.
    held = np.where(faced.first < 0, 1.0, np.where(faced.first == 0, 1 - faced.share[:, 0], 0.0))
    root = lift[1:].sum(axis=0) + held @ pairs
    assert carried[0] / scale == pytest.approx(root / scale, abs=1e-4)
    last = len(b.strip.position_mm) - 1
    outer = np.concatenate([np.arange(1, last + 1), [nail.node for nail in b.nails]])
    end = lift[last] + pairs[outer == last].sum(axis=0)
    assert carried[-1] / scale == pytest.approx(end / scale, abs=1e-4)
    assert len(rd.nail_force_N(b, state)) == len(b.nails)
