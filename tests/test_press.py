"""The pressed bowl: laws that hold for any strip on any bevel."""

from dataclasses import replace

import numpy as np
import pytest
from elastic_bowls import bowl, even

from fitsim import hold as ho
from fitsim import meeting as se
from fitsim import press as pr


def test_an_open_ring_does_not_wedge():
    """Without a nail the ring opens and rises further at the same press than a nailed one."""
    closed = pr.press(bowl(turns=2, per_turn=24), 12.0)[-1]
    loose_bowl = bowl(turns=2, per_turn=24, nail="none")
    loose = pr.press(loose_bowl, 12.0)[-1]
    assert ho.rim_height(loose_bowl, loose).mean_mm > 1.1 * ho.rim_height(loose_bowl, closed).mean_mm


def test_path_does_not_matter_without_friction():
    """Without friction the state depends on the press, not on the load steps."""
    b = bowl(per_turn=24)
    short = pr.press(b, 20.0, growth=3.0, most_drop_mm=6.0)[-1]
    fine = pr.press(b, 20.0, growth=1.2)[-1]
    assert short.shape.position_mm == pytest.approx(fine.shape.position_mm, abs=1e-3)


def test_contact_is_complementary_in_the_deformed_shape():
    """Measured in the deformed shape, seats with force are closed to the give and none overlap."""
    b = bowl(per_turn=24)
    s = pr.press(b, 25.0)[-1]
    gap = se.meet(b.seats, b.strip, s.shape, place=s.place).gap_mm
    N = s.contact.force_N[: len(gap), 0]
    assert s.converged
    assert gap.min() > -1e-4 * N.max() - 1e-4
    assert np.abs((gap + 1e-4 * N) * N).max() < 1e-3
    assert N.min() > -1e-4


def test_stiffness_and_press_scale_together():
    """All moduli and the press doubled, the give halved: the same shape."""
    one = pr.press(bowl(per_turn=24, wood=even(1000.0)), 15.0)[-1]
    two = pr.press(bowl(per_turn=24, wood=even(2000.0), give_mm_per_N=5e-5), 30.0, first_N=4.0)[-1]
    assert one.shape.position_mm == pytest.approx(two.shape.position_mm, abs=1e-4)


def test_nail_holds_its_point_where_it_found_it():
    """The nail's three displacements stay tied in large displacements: the drop there stays 0."""
    b = bowl(per_turn=24)
    s = pr.press(b, 25.0)[-1]
    assert abs(s.drop_mm[-1]) < 0.1
    assert np.linalg.norm(ho.nail_force_N(b, s)) > 1.0


def test_energy_balance_closes_without_friction():
    """Without friction the work of the press is stored; what is unaccounted shrinks with steps."""
    b = bowl(per_turn=24)
    left = []
    for growth, drop in ((1.6, 2.0), (1.1, 0.5)):
        loop = ho.force_rise_loop(b, pr.press(b, 20.0, first_N=1.0, growth=growth, most_drop_mm=drop))
        left.append(abs(loop.unaccounted_Nmm) / loop.work_Nmm[-1])
    assert left[1] < 0.02
    assert left[1] < left[0]


def test_friction_work_is_never_negative():
    """Friction only takes work, in every load step, and lowers the rise."""
    b = bowl(turns=2, per_turn=24, friction=0.3)
    path = pr.press(b, 25.0)
    loop = ho.force_rise_loop(b, path)
    assert np.all(np.diff(loop.friction_Nmm) > -1e-6)
    smooth = pr.press(bowl(turns=2, per_turn=24), 25.0)[-1]
    assert ho.rim_height(b, path[-1]).mean_mm < ho.rim_height(b, smooth).mean_mm
    N, t = path[-1].contact.force_N[:96, 0], path[-1].contact.force_N[:96, 1:]
    assert np.all(np.linalg.norm(t, axis=1) <= 0.3 * np.maximum(N, 0) + 1e-2 * N.max())


def test_a_thin_board_falls_through():
    """A board thinner than the seat drop runs out of overlap while it is pressed."""
    s = pr.press(bowl(turns=2, per_turn=24, thickness_mm=6.0), 30.0)[-1]
    assert s.fell_through
    assert s.drop_mm.max() >= 6.0


def test_drop_of_a_free_turn_tends_to_the_rigid_seat():
    """Ever stiffer in the plane of the board, a turn away from root and nail sinks to k / sin(tilt).

    Only stretch, shear and bending in the plane are stiffened, tenfold a step; twist and bending out of
    it stay, so that the strip still opens. Rigid drop: closed form of the seat (slot over tan(tilt)).
    Turns next to root and nail do not tend to it: their ends are held at other heights.
    """
    b = bowl(turns=4, per_turn=18, wood=even(1000.0), lean=False, friction=0.3, large=False)
    h = 0.64 / np.sin(np.radians(5))
    off = []
    for stiffer in (1.0, 10.0, 100.0):
        flexibility = np.array(b.strip.flexibility)
        for k in (0, 1, 5):
            flexibility[:, k, k] /= stiffer
        rigid = replace(b, strip=replace(b.strip, flexibility=flexibility))
        off.append(abs(ho.turn_forces(rigid, pr.press(rigid, 15.0)[-1]).drop_mm[2] / h - 1))
    assert off[1] < off[0] / 3
    assert off[2] < off[1] / 3


@pytest.mark.parametrize(("turns", "friction"), [(12, 0.4), (7.3, 0.55)])
def test_a_loose_strip_of_many_turns_is_followed_until_it_falls_through(turns, friction):
    """With many turns touching at once every state on the way keeps the law of contact and friction.

    An end that no nail holds opens, so that the seats run out of overlap: the path has to end there and
    not for want of a balance. Searches that only sweep go in circles on the way.
    """
    b = bowl(turns=turns, per_turn=18, friction=friction, nail="none")
    path = pr.press(b, 60.0, least_step=1 / 64)
    seat = slice(0, 2 * len(b.turn))
    for s in path[1:]:
        N, t = s.contact.force_N[seat, 0], s.contact.force_N[seat, 1:]
        assert s.converged
        assert N.min() > -1e-4
        assert s.contact.residual_gap_mm < 1e-6
        assert np.all(np.linalg.norm(t, axis=1) <= friction * np.maximum(N, 0) + 1e-4)
    assert path[-1].fell_through
    assert path[-1].drop_mm.max() > 0.98 * b.seats.thickness_mm
    assert (path[-1].contact.force_N[seat, 0] > 0).sum() > 20
