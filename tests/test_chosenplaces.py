"""Which places are asked: so many that nothing is in doubt, and the others have their own state."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.sweeps.asked_places import Found, Lattice, Vertex, settled_lattice

Margin = Callable[[float, float], float]


def settled(*margins: Margin, steps: int = 24, every: bool = False, cliff: float = math.inf) -> Lattice:
    """A lattice of functions of place; beyond a cliff below zero nothing of a margin is measured."""

    def found(place: Vertex) -> Found:
        values = [m(place[0] / steps, place[1] / steps) for m in margins]
        state = next((k for k, value in enumerate(values) if not value > 0), len(values))
        told = [-math.inf if value < -cliff else value for value in values]
        return Found(state, tuple(told[: state + 1] + [math.nan] * (len(told) - state - 1)))

    def ask(places: Sequence[Vertex]) -> list[Found]:
        return [found(place) for place in places]

    return settled_lattice(
        ask,
        steps=steps,
        first=6,
        state_of=tuple(range(len(margins))),
        doubt=(0.0,) * len(margins),
        every=every,
    )


def bent(u: float, v: float) -> float:
    """A margin with a bent zero line."""
    return math.log((0.35 + u) * 0.8 / (0.4 + v))


def tilted(u: float, v: float) -> float:
    """Another that crosses it."""
    return 0.74 - u * (0.6 + 0.5 * v)


@pytest.mark.parametrize("cliff", [math.inf, 0.0], ids=["measured on both sides", "measured on one side"])
def test_what_is_not_asked_has_the_state_it_would_have(cliff: float) -> None:
    """Two bent boundaries that cross: far fewer places asked, and not one of the others told wrongly."""
    found, every = (settled(bent, tilted, every=e, cliff=cliff) for e in (False, True))
    assert every.asked.all()
    assert found.state.tolist() == every.state.tolist()
    assert found.asked.sum() < (0.2 if cliff else 0.3) * found.asked.size


def test_a_smooth_margin_needs_fewer_places_than_a_jump() -> None:
    """Where the margin can be carried, places near its zero are spared; a jump is closed in to one cell."""
    smooth, jump = settled(bent), settled(bent, cliff=0.0)
    assert smooth.asked.sum() < jump.asked.sum()
    across = np.diff(jump.state, axis=1) != 0
    both = jump.asked[:, 1:] & jump.asked[:, :-1]
    assert both[across].mean() > 0.9


def test_a_strongly_curved_margin_is_not_carried() -> None:
    """A bulge between agreeing corners is found where second differences show it."""

    def bulge(u: float, v: float) -> float:
        return (u - 0.43) ** 2 + (v - 0.43) ** 2 - 0.05**2

    found, every = settled(bulge), settled(bulge, every=True)
    assert (every.state == 0).any()
    assert found.state.tolist() == every.state.tolist()


slope = st.floats(-2, 2)


@given(slope, slope, st.floats(-1, 1), slope, slope, st.floats(-1, 1), st.floats(-0.5, 0.5))
def test_gently_curved_margins_are_told_right(
    a: float, b: float, c: float, d: float, e: float, f: float, g: float
) -> None:
    """Two margins, one curved alike all over: every place has the state it would have."""

    def first(u: float, v: float) -> float:
        return a * (u - 0.43) + b * (v - 0.61) + c

    def second(u: float, v: float) -> float:
        return d * (u - 0.43) + e * (v - 0.37) + f + g * (u * u + u * v)

    assert settled(first, second).state.tolist() == settled(first, second, every=True).state.tolist()


def test_the_same_whoever_shares_out_the_work() -> None:
    """Places are asked in rounds that hang on the answers alone; each is asked once."""
    asked: list[Vertex] = []

    def ask(places: Sequence[Vertex]) -> list[Found]:
        asked.extend(places)
        return [Found(0 if i < 5 else 1, (-math.inf if i < 5 else 0.1,)) for i, _ in places]

    found = settled_lattice(ask, steps=12, first=6, state_of=(0,), doubt=(0.0,))
    assert len(asked) == len(set(asked)) == found.asked.sum()
    assert (found.state[:, :5] == 0).all()
    assert (found.state[:, 5:] == 1).all()
