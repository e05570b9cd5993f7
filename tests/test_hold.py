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
