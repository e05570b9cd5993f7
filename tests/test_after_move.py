"""A bowl after a move or a wash: its parts against the hourly follower, the strip against common sense."""

from dataclasses import replace

import numpy as np
import pytest

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.climate.moisture_lag import Lag, follow_percent
from fitsim.seasons.after_move import AFTER_H, parts_after_move, parts_after_wash, wash_gain_points
from fitsim.seasons.left_open import stood_open
from fitsim.seasons.moisture_year import bowl_lags
from fitsim.tables import MARKS, read_table


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """An invented cherry bowl, bare."""
    board = {"wood": "cherry", "thickness": "18.3 mm", "across": "151 mm", "moisture": "9 %"}
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "8.1 mm", "base": "93 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none", "friction": "0.4"}})


@pytest.fixture(scope="module")
def lags(bowl: Bowl) -> tuple[Lag, ...]:
    """Lags of its parts, kept open."""
    return bowl_lags(bowl, moisture_percent=7.0)


def test_parts_follow_as_hour_by_hour(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """Moistures after a move are those of the hourly follower in a room that stays as it is."""
    found = parts_after_move(bowl, lags, from_percent=9.0, to_percent=5.0, pith_mm=150.0)
    hourly = follow_percent(lags, np.full(700, 5.0), start_percent=9.0)
    hours = np.array(AFTER_H).astype(int)
    np.testing.assert_allclose(found.moisture_percent, hourly[:, hours].T, atol=1e-9)
    np.testing.assert_allclose(found.from_before_percent[0], 9.0)
    assert np.all(np.diff(found.base_rock_mm) > 0)


def test_a_dry_room_pulls_the_first_turn_tight_and_lets_go_again(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """The turns dry ahead of the base: the first pulls most after a day or some, and hardly in the end."""
    parts = parts_after_move(bowl, lags, from_percent=9.0, to_percent=7.0, pith_mm=150.0)
    assert np.all(parts.moisture_percent[:, 1] < parts.moisture_percent[:, 0])
    found = stood_open(bowl, parts.from_before_percent)
    assert found.ends == ""
    pull = found.pull_MPa[1:, 0]
    peak = int(np.argmax(pull))
    assert 24 <= parts.time_h[peak] <= 168
    assert pull[-1] < 0.5 * pull[peak]
    assert pull[0] > 0


def test_no_move_no_change(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """A bowl that comes from where it goes neither rocks nor gets any wetter or drier."""
    still = parts_after_move(bowl, lags, from_percent=9.0, to_percent=9.0, pith_mm=150.0)
    np.testing.assert_allclose(still.moisture_percent, 9.0, atol=1e-9)
    np.testing.assert_allclose(still.base_rock_mm, 0, atol=1e-9)


def test_a_wash_gains_by_face_and_volume(bowl: Bowl) -> None:
    """A sqrt(t) over every wet face, end grain counted (1 + 4)/2 all round, over volume and density."""
    gain = wash_gain_points(bowl, at_percent=9.0)
    taken = 0.002 * np.sqrt(180.0)  # kg/m2
    fit = rigid_fit(bowl)
    free = 1 - fit.seats.overlap[1]
    width = 0.0081 - 0.00072 / np.cos(np.radians(5.2))  # m, a whole turn
    density = 1000 * bowl.board.wood.specific_gravity.value
    turn = taken * (2 * free * 2.5 / width + 2 / 0.0183) / density
    base = taken * (2 * (1 - fit.seats.overlap[0]) * 2.5 / 0.0465 + 2 / 0.0183) / density
    assert gain[2] == pytest.approx(100 * turn, rel=0.02)
    assert gain[0] == pytest.approx(100 * base, rel=0.01)
    assert gain[0] < gain[1]
    low, high = (wash_gain_points(bowl, at_percent=9.0, end=end) for end in ("low", "high"))
    assert np.all(low < gain)
    assert np.all(gain < high)
    for row in read_table("wash"):
        assert float(row["low"]) < float(row["value"]) < float(row["high"])
        assert row["mark"] in MARKS


def test_a_wash_wets_all_of_an_outer_face_that_no_turn_lies_round(bowl: Bowl) -> None:
    """Integrated along the strip: the last revolution's outer face is wet over its whole height.

    A strip of 3.30 turns; the third has the fourth round it for 0.30 of its way only.
    """
    wide = replace(bowl, board=replace(bowl.board, across_mm=155.3))
    gain = wash_gain_points(wide, at_percent=9.0)
    fit = rigid_fit(wide)
    angle, width, way = fit.strip.angle_rad, fit.strip.width_mm, fit.strip.radius_mm
    turns = (155.3 - 93) / 2 / 8.1 - 0.5 - 0.72 / np.cos(np.radians(5.2)) / (2 * 8.1)
    assert turns == pytest.approx(3.301, abs=0.001)
    taken = 0.002 * np.sqrt(180.0)  # kg/m2
    wet = 1 - fit.seats.overlap[1]  # of a face that bears on another; every seat of this even cut is alike
    expected = []
    for turn in range(4):
        there = (angle > 2 * np.pi * turn) & (angle <= 2 * np.pi * (turn + 1))
        outer = np.where(angle + 2 * np.pi <= 2 * np.pi * turns, wet, 1.0)
        faces = (wet + outer) * 18.3 * (1 + 4) / 2 + 2 * width
        water = taken * np.sum((faces * way)[there]) / np.sum((width * 18.3 * way)[there])  # kg/(m2 mm)
        expected.append(100 * 1000 * water / (1000 * wide.board.wood.specific_gravity.value))
    np.testing.assert_allclose(gain[1:], expected, rtol=0.02)
    assert gain[4] > 1.3 * gain[2]


def test_a_wash_wets_the_turns_more_and_then_dries_them_sooner(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """Just washed the turns are damper than the base, days later drier, and after weeks alike."""
    found = parts_after_wash(bowl, lags, at_percent=7.0, pith_mm=150.0)
    apart = found.moisture_percent[:, 1] - found.moisture_percent[:, 0]
    assert apart[0] > 1
    assert apart.min() < -0.1
    assert abs(apart[-1]) < 0.1
    gain = wash_gain_points(bowl, at_percent=7.0)
    np.testing.assert_allclose(found.moisture_percent[0], 7.0 + gain, rtol=1e-6)
