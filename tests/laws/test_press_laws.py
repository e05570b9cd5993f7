"""Laws of the pressed elastic bowl that need no number from outside.

Every bowl has its root off the grain's axes and a strip that does not end on a whole turn.
"""

from dataclasses import replace

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE, bowl, even, strip_and_base
from free_strip import bend_under

from fitsim.strip import beam as st
from fitsim.strip import gap as se
from fitsim.strip import press as pr
from fitsim.strip import results as rd
from fitsim.strip import torsion
from fitsim.strip.nail_tie import make_nail
from fitsim.wood import grain

UNEVEN = {"turns": 2.4, "per_turn": 18, "friction": 0.3, "start_rad": 0.4}
USUAL = pr.Manner(growth=2.0, most_drop_mm=3.0)


@pytest.fixture(scope="module")
def coarse():
    """A bowl with friction and its press in steps of usual size."""
    b = bowl(**UNEVEN)
    return b, pr.press(b, 30.0, manner=USUAL)


@pytest.fixture(scope="module")
def fine(coarse):
    """The same in half the steps."""
    b, _ = coarse
    return pr.press(b, 30.0, manner=pr.Manner(growth=1.4, most_drop_mm=1.5, most_iterations=3000))


def test_a_board_turned_with_its_grain_is_pressed_the_same(coarse):
    """Turning board and grain together turns the pressed bowl, friction and all."""
    turn = 1.1
    c, s = np.cos(turn), np.sin(turn)
    R = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    _, path = coarse
    how = {"manner": USUAL}
    turned = pr.press(bowl(**{**UNEVEN, "start_rad": 0.4 + turn}, grain_rad=turn), 30.0, **how)[-1]
    assert turned.shape.position_mm == pytest.approx(path[-1].shape.position_mm @ R.T, abs=1e-8)
    other = pr.press(bowl(**UNEVEN, grain_rad=turn), 30.0, **how)[-1]
    assert np.abs(other.shape.position_mm - path[-1].shape.position_mm).max() > 0.05


def test_a_larger_bowl_of_the_same_wood():
    """All lengths s times, press s^2 times: displacements s times, sums of forces turn by turn s^2 times.

    Accuracies are lengths in mm, so that the two take other iterations on the way: within 1 percent of the
    rise, and the sums within 3 percent of all.
    """
    s, press_N = 1.7, 20.0
    small = bowl(**{**UNEVEN, "friction": 0.0})
    one = pr.press(small, press_N)[-1]
    larger = bowl(
        **{**UNEVEN, "friction": 0.0},
        base_mm=27.8 * s,
        pitch_mm=6.35 * s,
        kerf_mm=0.64 * s,
        thickness_mm=19.05 * s,
        compliance_mm_per_N=1e-4 / s,
    )
    two = pr.press(larger, press_N * s**2)[-1]
    rise = one.shape.position_mm[:, 2].max()
    assert two.shape.position_mm / s == pytest.approx(one.shape.position_mm, abs=0.01 * rise)
    sums = rd.turn_forces(small, one).normal_N
    assert rd.turn_forces(larger, two).normal_N / s**2 == pytest.approx(sums, abs=0.03 * sums.sum())


@pytest.mark.parametrize("large", [False, True])
def test_a_strip_cut_the_other_way_round_is_its_mirror_image(large):
    """Curve, grain and leaning sides seen in a mirror: the loaded strip is the mirror image."""
    flip = np.array([1.0, -1.0, 1.0])
    shapes = []
    for hand in (1.0, -1.0):
        strip, *_ = strip_and_base(turns=1.3, per_turn=24, start_rad=0.4, grain_rad=0.25)
        x = strip.position_mm * (1.0 if hand > 0 else flip)
        psi = np.arctan2(*np.diff(x, axis=0).T[1::-1]) - hand * 0.25
        E = grain.strip_stiffness(grain.board_stiffness(PINE_LIKE, ring_angle_rad=0.0), psi_rad=psi)
        w = np.full(len(psi), 5.7)
        G = {"G_sz_MPa": E.G_sz_MPa, "G_sn_MPa": E.G_sn_MPa}
        section = st.straight_section(
            width_mm=w,
            thickness_mm=19.05,
            lean=hand * np.tan(0.12),  # clockwise the normal of the section points inward
            E_s_MPa=E.E_s_MPa,
            D_Nmm2=torsion.torsion_stiffness_Nmm2(thickness_mm=19.05, width_mm=w, **G),
            **G,
        )
        mirrored = st.make_strip(position_mm=x, frame=st.frames_in_plane(x), section=section)
        force = np.zeros_like(x)
        force[-1] = np.array([0.3, 0.5, 1.1]) * (1.0 if hand > 0 else flip)
        shapes.append(bend_under(mirrored, force_N=force, large=large).position_mm)
    assert shapes[1] == pytest.approx(shapes[0] * flip, abs=1e-6)
    assert np.abs(shapes[0][-1, 2]) > 0.5


def test_half_the_load_steps_barely_move_the_rim(coarse, fine):
    """With friction the path matters: steps half as large move the pressed rim by less than a percent."""
    b, path = coarse
    assert len(fine) > 1.5 * len(path)
    rim, finer = (rd.rim_height(b, p[-1]) for p in (path, fine))
    assert finer.mean_mm == pytest.approx(rim.mean_mm, rel=5e-3)
    assert finer.least_mm == pytest.approx(rim.least_mm, rel=1e-2)


def test_energy_balance_with_friction(coarse, fine):
    """Work is stored or rubbed away to 4 percent in steps that double; friction never gives any."""
    b, path = coarse
    for p in (path, fine):
        loop = rd.force_rise_loop(b, p)
        assert np.all(np.diff(loop.friction_Nmm) > -1e-6)
        assert loop.friction_Nmm[-1] > 0.05 * loop.work_Nmm[-1]
        assert abs(loop.unaccounted_Nmm) < 0.04 * loop.work_Nmm[-1]


def test_stiff_in_the_plane_a_middle_turn_sinks_to_the_rigid_seat():
    """Without friction: ever stiffer in the plane, the middle turn nears k/sin(tilt).

    Within 15 percent, 1.1 mm, when the plane is thirty times stiffer: a tenth of a millimetre of
    compliance over
    tan(tilt), as much as rolling by 0.01 rad over half the thickness leaves. Soft as the material is, the
    turn sinks nearly half as far again.
    """
    h, off = 0.64 / np.sin(np.radians(5)), []
    for stiffer in (1.0, 30.0):
        b = bowl(turns=3, per_turn=14, wood=even(), lean=False, compliance_mm_per_N=1e-4 / stiffer)
        flexibility = np.array(b.strip.flexibility)
        for k in (0, 1, 5):
            flexibility[:, k, k] /= stiffer
        b = replace(b, strip=replace(b.strip, flexibility=flexibility))
        off.append(rd.turn_forces(b, pr.press(b, 25.0)[-1]).drop_mm[1] / h - 1)
    assert off[0] > 0.4
    assert abs(off[1]) < 0.15


def _uneven_curve(*, kerf_mm, per_turn=16, turns=3):
    """An oval cut whose pitch grows outward, kerf by turn; even wood. Returns the bowl.

    Slot's middle at S(a) = (R_b + p v + q v^2)(1 + e cos 2(a - a0)), v = a/(2 pi); the strip lies between
    the slot and the slot a turn further on.
    """
    tilt, T, n = np.radians(6), 17.0, turns * per_turn + 1
    a = np.arange(-per_turn, n) * 2 * np.pi / per_turn

    def slot_radius(a):
        v = a / (2 * np.pi)
        return (26.0 + 6.2 * v + 0.45 * v**2) * (1 + 0.02 * np.cos(2 * (a - 0.5)))

    k = np.asarray(kerf_mm)[np.clip(np.floor((a - 1e-9) / (2 * np.pi)).astype(int), 0, turns - 1)] / np.cos(
        tilt
    )
    beyond = np.roll(k, -per_turn)
    beyond[-per_turn:] = k[-1]
    inside, outside = slot_radius(a) + k / 2, slot_radius(a + 2 * np.pi) - beyond / 2
    r = (inside + outside) / 2
    x = np.stack([r * np.cos(a), r * np.sin(a), 0 * a], axis=1)
    frame = st.frames_in_plane(x)
    # Width square to the strip: the radial one, less the strip's slant against the circle.
    width = (outside - inside) * np.einsum("ni,ni->n", frame[:, :, 0], x) / r
    w = 0.5 * (width[per_turn + 1 :] + width[per_turn:-1])
    E, G = 1500.0, 1500.0 / 2.6
    section = st.straight_section(
        width_mm=w,
        thickness_mm=T,
        lean=np.tan(tilt),
        E_s_MPa=np.full(len(w), E),
        G_sz_MPa=np.full(len(w), G),
        G_sn_MPa=np.full(len(w), G),
        D_Nmm2=torsion.torsion_stiffness_Nmm2(thickness_mm=T, width_mm=w, G_sz_MPa=G, G_sn_MPa=G),
    )
    strip = st.make_strip(position_mm=x[per_turn:], frame=frame[per_turn:], section=section)
    seats = se.make_seats(
        strip=strip,
        base_mm=x[:per_turn],
        base_frame=frame[:per_turn],
        width_mm=width,
        slot_mm=k[per_turn + 1 :],
        tilt_rad=tilt,
        thickness_mm=T,
    )
    flat = st.deformed_shape(strip, np.zeros((n - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    nail = make_nail(seats, strip, flat, node=n - 1, place=float(seats.place[-1]), held=held)
    load = pr.rim_load(strip, first_node=n - 1 - per_turn)
    return pr.ElasticBowl(strip, seats, (nail,), 0.3, load, (np.arange(1, n) - 1) // per_turn + 1)


def test_an_oval_cut_with_growing_pitch():
    """Not a constant spiral: gaps at rest are the slot, the press settles, and drops follow k/sin(tilt).

    Every kerf 0.2 mm wider: most of what the wood gives is in both and drops out of the difference. Away
    from its ends the middle turn sinks 0.2 mm/sin(tilt) further, within 15 percent (9 by an independent
    method, `studies/activeset`: the wider slot lets the sections roll a little more).
    """
    middle = slice(16 + 3, 32 - 3)
    drops = []
    for kerf in ([0.55, 0.5, 0.6], [0.75, 0.7, 0.8]):
        b = _uneven_curve(kerf_mm=kerf)
        line = se.strip_line(b.seats, b.strip, b.strip.position_mm, b.strip.frame)
        gap = se.meet(b.seats, line, place=b.seats.place).gap_mm
        assert gap == pytest.approx(np.repeat(np.repeat(kerf, 16)[:, None], 2, axis=1), abs=1e-9)
        # What the sampled faces miss of the slot by themselves: half a percent.
        assert np.abs(b.seats.offset_mm).max() < 0.006
        state = pr.press(b, 80.0)[-1]
        assert not state.fell_through
        assert state.contact.residual_gap_mm < 0.05
        assert state.residual_mm < 0.02
        drops.append(state.drop_mm)
    change = drops[1][middle] - drops[0][middle]
    assert change.mean() == pytest.approx(0.2 / np.sin(np.radians(6)), rel=0.15)
    assert change[0] > 10 * (drops[1] - drops[0])[0]
