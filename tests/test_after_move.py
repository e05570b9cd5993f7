"""A bowl after a move, against the hourly follower and against common sense."""

import numpy as np
import pytest

from fitsim.aftermove import AFTER_H, after_move
from fitsim.assume import make_bowl
from fitsim.bowl import Bowl
from fitsim.lag import Lag, follow_percent
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
