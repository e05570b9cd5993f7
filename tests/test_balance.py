"""One load step: by press and by rise, shape and contact together."""

import numpy as np
import pytest
from elastic_bowls import bowl

from fitsim import balance as ba
from fitsim import contact as ct
from fitsim import hold as ho
from fitsim import meeting as se
from fitsim import press as pr


@pytest.mark.parametrize("large", [True, False])
def test_a_step_by_rise_is_the_step_by_its_press(large: bool) -> None:
    """The press found for a wanted rise, asked for from the same state, gives that rise and shape."""
    b = bowl(turns=2.3, per_turn=24, friction=0.3, start_rad=0.4, large=large)
    before = pr.press(b, 6.0)[-1]
    wanted = ho.rim_height(b, before).mean_mm + 1.7
    by_rise = ba.balance(b, before, ba.Goal(rise_mm=wanted))
    by_press = ba.balance(b, before, ba.Goal(press_N=by_rise.press_N))
    assert by_rise.converged
    assert by_press.converged
    assert by_rise.press_N > 6.0
    assert ho.rim_height(b, by_rise).mean_mm == pytest.approx(wanted, abs=1e-3)
    assert by_press.shape.position_mm == pytest.approx(by_rise.shape.position_mm, abs=2e-3)


def test_the_free_strip_rises_as_a_beam_of_its_own() -> None:
    """Before anything touches, the press for a small rise is that of the free strip under dead loads.

    Independent path: the strip bent under the same loads, without seats, in the shape it comes to.
    """
    from fitsim.strip import bend_under

    b = bowl(turns=2, per_turn=24, nail="none", start_rad=0.7)
    state = ba.balance(b, pr.flat(b), ba.Goal(rise_mm=1.3))
    force = np.outer(b.load_share * state.press_N, [0.0, 0.0, 1.0])
    alone = bend_under(b.strip, force_N=force, large=True)
    assert np.all(state.contact.state == ct.OPEN)
    assert state.shape.position_mm == pytest.approx(alone.position_mm, abs=1e-3)


def test_a_step_beyond_its_limits_is_given_up() -> None:
    """A step that drops a seat further than allowed says that it has not converged, and stops early."""
    b = bowl(turns=2, per_turn=24, friction=0.3)
    flat = pr.flat(b)
    free = ba.balance(b, flat, ba.Goal(rise_mm=4.0))
    short = ba.balance(b, flat, ba.Goal(rise_mm=4.0), limits=ba.Limits(drop_mm=0.5))
    soft = ba.balance(b, flat, ba.Goal(rise_mm=4.0), limits=ba.Limits(press_N=0.5 * free.press_N))
    assert free.converged
    assert not short.converged
    assert not soft.converged
    assert short.iterations < free.iterations


@pytest.mark.parametrize(("turns", "friction", "press_N"), [(3.4, 0.2, 90.0), (5, 0.55, 40.0)])
def test_every_state_keeps_to_the_law_in_its_own_shape(
    turns: float, friction: float, press_N: float
) -> None:
    """All along the path no seat overlaps, none pulls, and friction stays below the coefficient."""
    b = bowl(turns=turns, per_turn=24, friction=friction, tilt_rad=0.11, kerf_mm=0.8, pitch_mm=7.1)
    path = pr.press(b, press_N)
    assert path[-1].press_N == pytest.approx(press_N)
    for s in path[1:]:
        gap = se.meet(b.seats, b.strip, s.shape, place=s.place).gap_mm
        N, t = s.contact.force_N[: len(gap), 0], s.contact.force_N[: len(gap), 1:]
        assert s.converged
        assert (gap + 1e-4 * N).min() > -1e-3
        assert np.abs((gap + 1e-4 * N) * (N > 1e-3)).max() < 1e-3
        assert N.min() > -1e-4
        assert np.all(np.linalg.norm(t, axis=1) <= friction * np.maximum(N, 0) * (1 + 1e-3) + 1e-3)


def test_longer_steps_give_the_same_rim() -> None:
    """Friction makes the rim depend on the path; halving the steps moves it by less than 0.3 percent."""
    b = bowl(turns=4, per_turn=24, friction=0.4)
    rims = [
        ho.rim_height(b, pr.press(b, 70.0, growth=growth, most_drop_mm=drop)[-1]).mean_mm
        for growth, drop in ((3.0, 4.0), (1.7, 2.0))
    ]
    assert rims[0] == pytest.approx(rims[1], rel=3e-3)
