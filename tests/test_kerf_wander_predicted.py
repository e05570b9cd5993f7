"""What a wandering kerf does to turns, to a gauge and to two sides, against wanders drawn in full."""

import math

import numpy as np
import pytest
from failed_bowls_data import emulator, plan

from fitsim.arrays import Array
from fitsim.failure.failed_samples import dimensions, draw, turn_follows_wander
from fitsim.failure.predict import LEAST_SD, predict
from fitsim.failure.sample_seats import LEAST_BELOW

ROWS = 3000


def drawn_wanders(way_mm: float, length_mm: float) -> Array:
    """Wanders of unit variance along so long a cut, at every 2 mm, shape (rows, places)."""
    place = np.arange(0.0, way_mm, 2.0)
    covariance = np.exp(-((place[:, None] - place) ** 2) / (2 * length_mm**2))
    size, way = np.linalg.eigh(covariance)
    normals = np.random.default_rng(11).standard_normal((ROWS, len(place)))
    return (normals * np.sqrt(np.maximum(size, 0))) @ way.T


def test_the_mean_round_a_turn_follows_the_wander_so_far() -> None:
    """The share of the wander left in a turn's mean is that of wanders drawn along each turn."""
    length = plan().bowl.scatter.kerf_length_mm
    ways = 2 * math.pi * plan().radius_mm * plan().share
    for way, follows in zip(ways, turn_follows_wander(plan()), strict=True):
        means = drawn_wanders(way, length).mean(axis=1)
        assert follows == pytest.approx(means.std(), rel=0.06)


def test_two_sides_by_wander_alone() -> None:
    """Seats lower on two sides than between them, summed over the turns: as on wanders drawn in full."""
    length, size = plan().bowl.scatter.kerf_length_mm, plan().bowl.scatter.kerf_mm
    tangent = math.tan(float(plan().tilt_rad.mean()))
    square = 0.0
    for radius in plan().radius_mm:
        kerf = size * drawn_wanders(2 * math.pi * radius, length)
        clock = np.linspace(0, 2 * math.pi, kerf.shape[1], endpoint=False)
        square += float(np.var(4 * np.mean(kerf / tangent * np.cos(2 * clock), axis=1)))
    now = predict(emulator(), draw(plan(), np.zeros((1, dimensions(plan()))), ()))
    assert float(now.rocks_sd_mm[0]) == pytest.approx(math.sqrt(square), rel=0.08)


def test_the_narrowest_place_lies_so_far_below_the_narrowest_turn() -> None:
    """Least of the whole slot below the least of the turns' means, in standard deviations of the wander."""
    length, ways = plan().bowl.scatter.kerf_length_mm, 2 * math.pi * plan().radius_mm
    whole = drawn_wanders(float(ways.sum()), length)
    ends = np.searchsorted(np.arange(whole.shape[1]) * 2.0, np.cumsum(ways))
    means = np.stack([part.mean(axis=1) for part in np.split(whole, ends[:-1], axis=1)], axis=1)
    below = means.min(axis=1) - whole.min(axis=1)
    assert below.mean() == pytest.approx(LEAST_BELOW, abs=0.25)
    assert below.std() == pytest.approx(LEAST_SD, abs=0.15)
