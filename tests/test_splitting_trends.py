"""What makes a bowl split: the press, a small base, a small tilt; by the same definition in both models."""

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from wooden_bowls import described

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.strip_layout import laid_out
from fitsim.bowlfile.defaults import demo_tables
from fitsim.strip.press import press
from fitsim.strip.stress import limit_press_N, strip_stress
from fitsim.wood.strength import grain_strength


def demo(**cut: str) -> Bowl:
    """The demonstration bowl with another cut and five turns, friction at one value."""
    tables = demo_tables()
    tables["board"]["across"] = "7 in"
    tables["cut"].update(cut)
    tables["use"]["friction"] = "0.36"
    return fitsim.make_bowl(tables)


@cache
def opened(press_N: float, **cut: str) -> Opening:
    """Pressed open with so much."""
    bowl = demo(**cut)
    return open_bowl(bowl, press_N=press_N, nodes_per_turn=18)


def test_a_harder_press_splits_more_and_one_several_times_too_hard_is_a_danger() -> None:
    """From 50 to 400 N the chance rises at every step; four times an ordinary hand is over 1 in 5."""
    chances = [opened(press).numbers.split_chance for press in (50.0, 100.0, 200.0, 400.0)]
    assert chances == sorted(chances)
    assert chances[0] < 0.01
    assert chances[-1] > 0.2


def test_the_press_at_which_one_in_ten_splits_is_about_that() -> None:
    """Carried on from a hand's press it errs on the safe side; between two states it is found again."""
    harder = opened(400.0)
    inside = harder.split_press_N
    assert inside < 400
    assert opened(inside).numbers.split_chance == pytest.approx(0.1, rel=0.3)
    told = opened(100.0).split_press_N
    assert 0.6 * inside < told < 1.1 * inside


def test_a_smaller_base_splits_more() -> None:
    """A smaller base twists its first turn harder: likelier to split."""
    bases = ("3 3/4 in", "3 in", "2 1/2 in")
    strip = [opened(100.0, base=base).numbers.split_chance for base in bases]
    assert strip == sorted(strip)


def test_more_tilt_splits_less() -> None:
    """A shallower seat, k/sin(tilt), twists the turns less: 4, 5 and 7 degrees."""
    tilts = ("4 deg", "5 deg", "7 deg")
    strip = [opened(100.0, tilt=tilt).numbers.split_chance for tilt in tilts]
    assert strip == sorted(strip, reverse=True)


def test_a_press_without_stress_has_no_limit() -> None:
    """One state tells nothing of harder presses; stress that grows as the press to 1.2 is followed."""
    one = opened(100.0).stress.split
    assert math.isnan(limit_press_N([100.0], lambda _state: one))
    powers = np.array([one.strength.shapes]).T
    softer = replace(one, risks=one.risks * 0.5 ** (1.2 * powers), chance=0.0001)
    assert softer.times_to_limit == pytest.approx(2**1.2 * one.times_to_limit, rel=1e-4)
    found = limit_press_N([50.0, 100.0], lambda state: (softer, one)[state])
    assert found == pytest.approx(100 * one.times_to_limit ** (1 / 1.2), rel=1e-4)


def test_a_press_a_hair_harder_changes_the_chance_by_a_hair() -> None:
    """Over 7 percent of press the chance moves less than its tenth power: no state is half settled."""
    bowl = fitsim.make_bowl(
        {
            "board": {"wood": "mahogany, true", "thickness": "19 mm", "across": "180 mm"},
            "cut": {"tilt": "4 deg", "pitch": "6.5 mm", "base": "80 mm", "kerf": "0.65 mm"},
            "use": {"finish": "oil", "friction": "0.375", "press": "200 N"},
        }
    )
    presses = np.array([31.0, 31.4, 31.7, 32.0, 33.2])
    openings = [open_bowl(bowl, press_N=float(press), lowering=False) for press in presses]
    chances = np.array([opening.numbers.split_chance for opening in openings])
    assert chances.min() > 1e-4
    assert np.abs(np.log(chances[1:] / chances[0])).max() < 10 * np.log(presses[-1] / presses[0])


@pytest.mark.parametrize(
    ("press_N", "cut"),
    [
        (60.0, {"turns": 4.4}),
        (80.0, {"wood": "walnut", "turns": 7.7, "thickness_mm": 21.0, "pitch_mm": 7.0, "root_deg": 130.0}),
        (70.0, {"wood": "maple, sugar", "turns": 6.2, "pitch_mm": 6.0, "base_mm": 80.0, "root_deg": 200.0}),
    ],
    ids=["4.4 turns", "7.7 turns", "6.2 turns"],
)
def test_more_points_and_splines_hardly_move_stress_and_chance(press_N: float, cut: dict[str, Any]) -> None:
    """With 24, 36 and 72 points a turn stresses part by 2.5 percent at most, the chance by 10.

    The splines go with the points: with 12 a turn whatever the points, 72 points tell a chance 19 to 33
    percent too high, for they hold a strip that cannot follow them.
    """
    bowl = described(friction=0.37, **cut)
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], None)
    read = []
    for per_turn in (24, 36, 72):
        elastic, wood = laid_out(bowl, rigid_fit(bowl), per_turn)
        read.append(strip_stress(elastic, press(elastic, press_N)[-1], wood, strength))
    finest = read[-1]
    for fewer in read[:-1]:
        assert fewer.chance == pytest.approx(finest.chance, rel=0.10)
        assert fewer.greatest_MPa.max(axis=1) == pytest.approx(finest.greatest_MPa.max(axis=1), rel=0.025)
