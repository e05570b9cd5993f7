"""What a wandering kerf does to turns, to a gauge and to two sides, against wanders drawn in full."""

import math
from dataclasses import replace

import numpy as np
import pytest
from failed_bowls_data import emulator, plan

from fitsim.arrays import Array
from fitsim.failure.failed_samples import as_planned, dimensions, draw, turn_follows_wander
from fitsim.failure.matching import model_sd
from fitsim.failure.predict import LEAST_SD, WANDER_SINKS, predict
from fitsim.failure.pressed_samples import SawnBowl, press_sawn, sawn_bowl
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


PRESSED_N = 60.0


def drops(sawn: SawnBowl) -> Array:
    """Mean drop of every turn under one and the same press, by the strip. [mm]"""
    found = press_sawn(sawn, 1.2 * PRESSED_N, turns=plan().turns, let_go=False)
    return np.array([np.interp(PRESSED_N, found.press_N, drop) for drop in found.mean_drop_mm.T])


def test_turns_sink_otherwise_where_the_kerf_wanders_within_them() -> None:
    """Strips pressed: of two bowls whose turns have the same mean kerfs one wanders within them by 0.2 mm.

    Their drops differ by as much as is predicted, most of them to the same side: narrow places hold a turn.
    """
    samples, way = as_planned(plan()), 2 * math.pi * plan().radius_mm * plan().share
    ends, size = np.searchsorted(np.arange(0.0, way.sum(), 2.0), np.cumsum(way)[:-1]), 0.2
    apart = []
    for whole in size * drawn_wanders(float(way.sum()), plan().bowl.scatter.kerf_length_mm)[:16]:
        parts = np.split(whole, ends)
        means = np.array([part.mean() for part in parts])
        even = sawn_bowl(plan(), replace(samples, kerf_mm=plan().kerf_mm[None] + means), 0)
        within = tuple(np.concatenate([p - m for p, m in zip(parts, means, strict=True)]).tolist())
        wandered = replace(even, wander_mm=within, step_mm=2.0)
        apart.append(drops(wandered) - drops(even))
    # The innermost starts from the base's own level, and of the last there is a stub.
    of_one = np.array(apart)[:, 1 : plan().turns_with_drop]
    uneven = replace(samples, wander_mm=np.full(1, size))
    predicted = float(predict(emulator(), uneven).drop_sd_mm[0])
    assert predicted == pytest.approx(math.sqrt(float(np.mean(of_one**2))), rel=0.3)


def test_drops_and_rise_stray_by_the_wander_too() -> None:
    """Beside the share of itself a drop strays by what the kerf wanders, the rise by that of all turns."""
    uneven = replace(as_planned(plan()), wander_mm=np.full(1, 0.43))
    now, turns = predict(emulator(), uneven), plan().turns
    for key, share, least_mm, of in (
        ("drop_3", now.error.drop_share, 0.1, 1), ("rise", now.error.rise_share, 0.5, turns)
    ):  # fmt: skip
        value = now.readings[key]
        left = model_sd(key, value, now) ** 2 - (share * value) ** 2 - least_mm**2
        assert left[0] == pytest.approx(of * (WANDER_SINKS * 0.43 / math.tan(math.radians(5))) ** 2)
