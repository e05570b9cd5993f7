"""A surface through presses: right where the truth is a quadratic, and honest about its error elsewhere."""

import math

import numpy as np
import pytest

from fitsim.bowl.verdict import DecidingNumbers
from fitsim.errors import OutsideModelError
from fitsim.tolerances.press_surface import LEAST_PRESSES, smoothed, surface_through
from fitsim.tolerances.samples import unit_cube


def places(count: int, dimensions: int, seed: int) -> np.ndarray:
    """Standard normal coordinates spread evenly."""
    from scipy.special import ndtri

    return ndtri(np.clip(unit_cube(dimensions, count, seed=seed), 1e-9, 1 - 1e-9))


def quadratic(x: np.ndarray) -> np.ndarray:
    """A function the surface can take on exactly."""
    return 2.5 - 1.5 * x[:, 0] + 0.4 * x[:, 1] ** 2 + 0.7 * x[:, 1] * x[:, 2] - 0.2 * x[:, 3]


def bent(x: np.ndarray) -> np.ndarray:
    """The largest of three planes: what no quadratic takes on."""
    return np.maximum.reduce([x[:, 0], 0.8 * x[:, 1] - x[:, 2], 0.3 + 0.5 * x[:, 3]])


def test_a_quadratic_is_found_again() -> None:
    """From more places than it has terms a quadratic is predicted to a thousandth of its spread."""
    x, fresh = places(60, 4, 1), places(200, 4, 2)
    mean, sd = surface_through(x, quadratic(x)).predict(fresh)
    spread = quadratic(fresh).std()
    assert np.abs(mean[:, 0] - quadratic(fresh)).max() < 2e-3 * spread
    assert sd.max() < 2e-2 * spread


def test_the_error_stated_is_the_error_made_on_fresh_places() -> None:
    """Where the truth is no quadratic the surface's own error is that on places it has not seen."""
    x, fresh = places(80, 6, 3), places(4000, 6, 4)
    surface = surface_through(x, bent(x))
    mean, sd = surface.predict(fresh)
    away = mean[:, 0] - bent(fresh)
    made = math.sqrt(np.mean(away**2))
    assert surface.error[0] == pytest.approx(made, rel=0.3)
    assert np.std(away / sd[:, 0]) == pytest.approx(1, abs=0.25)


def test_left_out_is_the_prediction_of_the_others() -> None:
    """What a press left out is predicted to be does not depend on what it gave."""
    x = places(40, 3, 5)
    values = np.column_stack([bent(np.hstack([x, x[:, :1]])), np.exp(0.3 * x[:, 2])])
    surface = surface_through(x, values)
    one = surface.surfaces[1]
    others = np.arange(len(x)) != 7
    kernel = 1e4 + (x @ x.T + one.quadratic * (x @ x.T) ** 2 / 2) / one.ridge
    y = (values[:, 1] - one.middle) / one.scale
    weights = np.linalg.solve(kernel[np.ix_(others, others)] + np.eye(39), y[others])
    expected = one.middle + one.scale * kernel[7, others] @ weights
    assert surface.left_out[0][7, 1] == pytest.approx(expected, rel=1e-6)


def test_noise_is_not_taken_for_shape() -> None:
    """With noise of 0.3 on a plane the surface errs by less, and states a spread that holds the noise."""
    x, fresh = places(100, 8, 6), places(1000, 8, 7)
    noise = np.random.default_rng(8).normal(0, 0.3, 1100)
    surface = surface_through(x, x[:, 0] - 2 * x[:, 5] + noise[:100])
    mean, sd = surface.predict(fresh)
    plane = fresh[:, 0] - 2 * fresh[:, 5]
    assert np.sqrt(np.mean((mean[:, 0] - plane) ** 2)) < 0.15
    assert np.std((mean[:, 0] - plane - noise[100:]) / sd[:, 0]) == pytest.approx(1, abs=0.15)


def test_a_press_that_tells_no_number_is_left_out_of_that_one_alone() -> None:
    """A nan in one column changes that column's surface and no other."""
    x = places(50, 3, 9)
    values = np.column_stack([x[:, 0], x[:, 1] - x[:, 2]])
    whole = surface_through(x, values)
    values[:10, 0] = np.nan
    part = surface_through(x, values)
    assert np.array_equal(part.predict(x)[0][:, 1], whole.predict(x)[0][:, 1])
    assert part.predict(x)[0][:, 0] == pytest.approx(x[:, 0], abs=0.02)
    values[LEAST_PRESSES - 1 :, 0] = np.nan
    with pytest.raises(OutsideModelError, match="lay a surface"):
        surface_through(x, values)


def test_deciding_numbers_are_held_where_no_more_is_told() -> None:
    """Logarithms of what is sunk and of press left; no press is read off a bowl that fell through."""
    holds = DecidingNumbers(0.7, 0.6, 0.8, 0.2, 0.99, 0.5)
    fallen = DecidingNumbers(0.7, -0.3, math.inf, 0.0, 0.0, math.inf)
    slips = DecidingNumbers(0.7, 0.5, math.inf, 0.1, 0.0, math.inf)
    rows = smoothed([holds, fallen, slips])
    assert rows[0] == pytest.approx([0.7, math.log(0.4), math.log(2), math.log(0.25), math.log(0.8)])
    assert rows[1, 1] == 0
    assert math.isnan(rows[1, 2])
    assert rows[2, 2] == pytest.approx(-math.log(4))
    assert np.isfinite(rows[:, 3]).all()
    assert np.isnan(rows[1:, 4]).all()
