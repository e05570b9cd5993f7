"""A strip followed with a drag of its own: the viscous solid's closed form, and the balance it ends in."""

import numpy as np
import pytest
from elastic_bowls import bowl

from fitsim.balance import Goal, balance
from fitsim.press import flat, press
from fitsim.pressed import mean_rise_mm
from fitsim.snap import snapped_over


def test_a_strip_with_drag_goes_so_far_in_a_step() -> None:
    """Steps of a viscous solid under a steady load: what is left shrinks by drag/(1 + drag) a step.

    Kelvin and Voigt's solid by steps that look ahead: u_n = u (1 - (drag/(1 + drag))^n), a load so small
    that nothing touches and displacements stay small.
    """
    b = bowl(turns=3, per_turn=18, friction=0.3)
    goal, drag = Goal(press_N=0.05), 2.5
    all_of_it = mean_rise_mm(b, balance(b, flat(b), goal))
    here, left = flat(b), 1.0
    for _ in range(3):
        here = balance(b, here, goal, drag=drag)
        assert here.converged
        left *= drag / (1 + drag)
        assert mean_rise_mm(b, here) == pytest.approx(all_of_it * (1 - left), rel=2e-3)


def test_it_comes_to_rest_in_the_balance_itself() -> None:
    """Without friction the end does not depend on the way: with drag and without they are one."""
    b = bowl(turns=3, per_turn=18, friction=0.0)
    before, after = press(b, 4.0)[-1], press(b, 9.0)[-1]
    over = snapped_over(b, before, Goal(press_N=9.0), most_drop_mm=4.0, most_sweeps=4000)
    assert over.state.converged
    assert over.steps > 5
    np.testing.assert_allclose(over.state.shape.position_mm, after.shape.position_mm, atol=2e-3)
    np.testing.assert_allclose(over.state.drop_mm, after.drop_mm, atol=2e-3)


def test_it_is_given_up_after_so_many_sweeps() -> None:
    """A search that may take next to no sweeps says that it came to no rest."""
    b = bowl(turns=3, per_turn=18, friction=0.3)
    before = press(b, 4.0)[-1]
    over = snapped_over(b, before, Goal(press_N=40.0), most_drop_mm=4.0, most_sweeps=3)
    assert over.steps == 1
    assert not over.state.converged
