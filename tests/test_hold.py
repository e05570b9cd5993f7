"""Letting go: hold used, press needed, collapse."""

from dataclasses import replace

import numpy as np
import pytest
from elastic_bowls import bowl

from fitsim import hold as ho
from fitsim import press as pr


@pytest.fixture(scope="module")
def pressed():
    """A four-turn bowl and its path to a hard press."""
    b = bowl(turns=4, per_turn=18, friction=0.4)
    return b, pr.press(b, 120.0)


def test_hold_used_tends_to_the_taper_rule(pressed):
    """Away from root and nail, hold used falls with the press toward tan(tilt)/mu.

    Self-holding taper, any machine-design text.
    """
    b, path = pressed
    rule = np.tan(np.radians(5)) / 0.4
    hard = ho.let_go(b, path[-1])
    soft = ho.hold_used(b, ho._stuck(b, path[len(path) * 3 // 4], 0.0))
    assert hard.holds
    assert hard.hold_used[1:3] == pytest.approx([rule, rule], rel=0.35)
    assert np.all(soft[1:3] > hard.hold_used[1:3])


def test_more_friction_never_lowers_the_collapse_push(pressed):
    """At one seated state, a higher coefficient needs a higher push to slip it."""
    b, path = pressed
    rest = ho.let_go(b, path[-1]).rest
    pushes = [ho.collapse_press_N(replace(b, friction=mu), rest, reach_N=200.0) for mu in (0.35, 0.4, 0.5)]
    assert pushes[0] < pushes[1] < pushes[2]


def test_press_needed_lies_between_slipping_and_holding(pressed):
    """Let go just below the press needed a turn slips, at the hard press none does."""
    b, path = pressed
    needed = ho.press_needed_N(b, most_N=120.0, path=path)
    below = [s for s in path[1:] if s.press_N < needed][-1]
    assert 0 < needed < 120.0
    used = ho.hold_used(b, ho._stuck(b, below, 0.0))
    assert not np.all(np.isfinite(used)) or np.nanmax(used) >= 1


def test_press_needed_does_not_hang_on_the_steps():
    """Read off a coarse path and off a fine one, the press needed is the same within a tenth."""
    b = bowl(turns=4.2, per_turn=18, friction=0.4, start_rad=0.5)
    coarse = ho.press_needed_N(b, most_N=120.0)
    fine = ho.press_needed_N(b, most_N=120.0, path=pr.press(b, 120.0, growth=1.3, most_drop_mm=1.5))
    assert coarse == pytest.approx(fine, rel=0.1)


def test_a_turn_that_lets_go_does_not_hold():
    """After a soft press the seated turns let go of each other: springs back, hold used infinite there."""
    b = bowl(turns=4, per_turn=18, friction=0.4)
    soft = pr.press(b, 8.0)[-1]
    touched = np.isfinite(ho.hold_used(b, soft))
    gone = ho.let_go(b, soft)
    assert touched.any()
    assert not gone.holds
    assert np.all(gone.hold_used[touched] > 0)
    assert gone.hold_used[touched].max() > 1


@pytest.mark.parametrize(("friction", "press_N"), [(0.06, 60.0), (0.2, 12.0)])
def test_a_bowl_that_slips_back_comes_to_rest(friction, press_N):
    """Slipping back ends without a press, lower than pressed, with contact and friction kept."""
    b = bowl(turns=3.3, per_turn=18, friction=friction)
    pressed = pr.press(b, press_N)[-1]
    gone = ho.let_go(b, pressed)
    rest = gone.rest
    N, t = rest.contact.force_N[: 2 * len(b.turn), 0], rest.contact.force_N[: 2 * len(b.turn), 1:]
    assert not gone.holds
    assert rest.converged
    assert rest.press_N == 0.0
    assert gone.rise_lost_mm > 0.5
    assert ho.rim_height(b, rest).mean_mm > -0.1
    assert np.all(np.linalg.norm(t, axis=1) <= friction * np.maximum(N, 0) * (1 + 1e-3) + 1e-3)


def test_collapse_push_lies_where_hold_used_passes_one(pressed):
    """Just below the collapse push every turn holds, just above it some turn does not."""
    b, path = pressed
    rest = ho.let_go(b, path[-1]).rest
    push = ho.collapse_press_N(b, rest, reach_N=200.0)
    below, above = (ho.hold_used(b, ho._stuck(b, rest, -q)) for q in (push - 3.0, push + 3.0))
    assert np.nanmax(below) < 1
    assert np.nanmax(above) > 1 or np.isnan(above).any()


def test_slipping_back_by_rise_ends_where_small_load_steps_end():
    """Taking the press away bit by bit, without following the rise, comes to the same rest."""
    b = bowl(turns=3.3, per_turn=18, friction=0.3)
    pressed = pr.press(b, 60.0, growth=3.0)[-1]  # plain small steps do not arrive from every state
    here = pressed
    for left in range(23, -1, -1):
        here = pr.load(b, here, 60.0 * left / 24)
        assert here.converged
    rest = ho.let_go(b, pressed).rest
    assert ho.rim_height(b, rest).mean_mm == pytest.approx(ho.rim_height(b, here).mean_mm, abs=0.05)
