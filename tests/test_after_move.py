"""A bowl after a move, against the hourly follower and against common sense."""

import numpy as np
import pytest

from fitsim.aftermove import AFTER_H, after_move, after_wash, wash_gain_points
from fitsim.assume import make_bowl
from fitsim.bowl import Bowl
from fitsim.lag import Lag, follow_percent
from fitsim.rigid import rigid_fit
from fitsim.tables import MARKS, read_table
from fitsim.yearfit import bowl_lags


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """An invented cherry bowl, bare."""
    board = {"wood": "cherry", "thickness": "18.3 mm", "across": "191 mm", "moisture": "9 %"}
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "8.1 mm", "base": "93 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none"}})


@pytest.fixture(scope="module")
def lags(bowl: Bowl) -> tuple[Lag, ...]:
    """Lags of its parts, kept open."""
    return bowl_lags(bowl, moisture_percent=7.0)


def test_parts_follow_as_hour_by_hour(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """Moistures after a move are those of the hourly follower in a room that stays as it is."""
    found = after_move(bowl, lags, from_percent=9.0, to_percent=5.0, pith_mm=150.0)
    hourly = follow_percent(lags, np.full(700, 5.0), start_percent=9.0)
    hours = np.array(AFTER_H).astype(int)
    np.testing.assert_allclose(found.base_moisture_percent, hourly[0, hours], atol=1e-9)
    np.testing.assert_allclose(found.first_moisture_percent, hourly[1, hours], atol=1e-9)
    np.testing.assert_allclose(found.rim_moisture_percent, hourly[-1, hours], atol=1e-9)


def test_drying_pulls_tight_and_wetting_does_not(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """Into a drier room the turns go ahead of the base and are pulled tight, most after days."""
    dry = after_move(bowl, lags, from_percent=9.0, to_percent=5.0, pith_mm=150.0)
    assert np.all(dry.rim_moisture_percent < dry.first_moisture_percent + 1e-9)
    assert np.all(dry.first_moisture_percent < dry.base_moisture_percent)
    peak = int(np.argmax(dry.hoop_MPa))
    assert 24 <= dry.time_h[peak] <= 168
    assert dry.hoop_MPa[peak] > 1
    assert dry.hoop_MPa[-1] < 0.1 * dry.hoop_MPa[peak]
    assert np.all(np.diff(dry.base_rock_mm) > 0)
    wet = after_move(bowl, lags, from_percent=5.0, to_percent=9.0, pith_mm=150.0)
    assert wet.hoop_MPa[2] < 0.05 * dry.hoop_MPa[2]
    assert wet.play_mm[2] > 1


def test_no_move_no_change(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """A bowl that comes from where it goes neither rocks nor plays nor pulls."""
    still = after_move(bowl, lags, from_percent=9.0, to_percent=9.0, pith_mm=150.0)
    for values in (still.base_rock_mm, still.play_mm, still.hoop_MPa):
        np.testing.assert_allclose(values, 0, atol=0.01)


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


def test_a_wash_loosens_and_then_pulls_tight(bowl: Bowl, lags: tuple[Lag, ...]) -> None:
    """Just washed the turns are damper than the base, days later drier, and after weeks alike."""
    found = after_wash(bowl, lags, at_percent=7.0, pith_mm=150.0)
    apart = found.first_moisture_percent - found.base_moisture_percent
    assert apart[0] > 1
    assert apart.min() < -0.1
    assert abs(apart[-1]) < 0.1
    assert found.hoop_MPa[0] < 0.05
    assert found.hoop_MPa.max() > 0.2
    assert found.play_mm[0] > 2
    gain = wash_gain_points(bowl, at_percent=7.0)
    assert found.base_moisture_percent[0] == pytest.approx(7.0 + gain[0], rel=1e-6)
