"""The press taken away: what is left, the least press that keeps it, the state between two presses."""

from functools import cache

import pytest

import fitsim
from fitsim.beam import elastic_bowl
from fitsim.press import ElasticBowl, PressState, press
from fitsim.pressed import mean_rise_mm
from fitsim.release import KEPT_SHARE, let_go, press_needed_N, state_at
from fitsim.rigid import rigid_fit


@cache
def pressed(tilt: str, friction: str = "0.4") -> tuple[ElasticBowl, tuple[PressState, ...]]:
    """A cherry bowl of 4.26 turns pressed to 150 N; its last turn is a short tail."""
    bowl = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "3/4 in", "across": "5 3/4 in"},
            "cut": {"tilt": tilt, "kerf": "0.7 mm", "pitch": "5/16 in", "base": "2 3/4 in"},
            "use": {"finish": "oil", "friction": friction, "press": "80 N"},
        }
    )
    springy = elastic_bowl(bowl, rigid_fit(bowl), nodes_per_turn=24)
    return springy, press(springy, 150.0)


def test_a_state_between_two_presses_has_that_press() -> None:
    """At its press, rising with it, and between the rises of its neighbours; beyond the end the end."""
    bowl, path = pressed("5 deg")
    there = [state_at(bowl, path, press_N) for press_N in (31.0, 47.0, 95.0, 150.0, 400.0)]
    assert [s.press_N for s in there[:4]] == pytest.approx([31.0, 47.0, 95.0, 150.0])
    assert there[-1] is path[-1]
    rises = [mean_rise_mm(bowl, s) for s in there]
    assert rises == sorted(rises)
    for state, rise in zip(there[:3], rises[:3], strict=True):
        below = [mean_rise_mm(bowl, s) for s in path if s.press_N <= state.press_N]
        above = [mean_rise_mm(bowl, s) for s in path if s.press_N >= state.press_N]
        assert max(below) <= rise <= min(above)


def test_the_press_needed_divides_bowls_that_keep_their_rise_from_those_that_do_not() -> None:
    """A tenth above it the bowl keeps its rise on less than its friction; well below it does not."""
    bowl, path = pressed("5 deg")
    needed = press_needed_N(bowl, path)
    assert 5 < needed < 150
    after = let_go(bowl, state_at(bowl, path, 1.1 * needed))
    assert after.kept >= KEPT_SHARE
    assert after.friction_used < 1
    assert after.rest.press_N == 0
    assert after.kept == pytest.approx(after.rise_left_mm / after.rise_mm)
    assert let_go(bowl, state_at(bowl, path, 0.5 * needed)).friction_used > 1


def test_a_path_too_short_to_hold_needs_more_than_it_has() -> None:
    """Of the first states none holds: the press needed is infinite."""
    bowl, path = pressed("5 deg")
    gentle = tuple(s for s in path if s.press_N < 0.4 * press_needed_N(bowl, path))
    assert len(gentle) > 2
    assert press_needed_N(bowl, gentle) == float("inf")


def test_the_tail_past_the_last_whole_turn_does_not_decide() -> None:
    """A bowl of 4.26 turns holds at 5 degrees, whatever its last quarter turn asks for by itself."""
    bowl, path = pressed("5 deg")
    released = let_go(bowl, state_at(bowl, path, 80.0))
    assert released.friction_used < 1
    assert released.kept > 0.97


def test_more_friction_is_used_less() -> None:
    """The same bowl with more friction uses a smaller share of it."""
    used = []
    for friction in ("0.3", "0.4", "0.5"):
        bowl, path = pressed("5 deg", friction)
        used.append(let_go(bowl, path[-1]).friction_used)
    assert used == sorted(used, reverse=True)
