"""Chances over many bowls, against exact ones, and whether the standard errors are honest."""

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from scipy.special import ndtri

import fitsim
from fitsim.arrays import Array
from fitsim.bowl import Bowl, Limits, Scatter
from fitsim.chance import (
    Samples,
    corrected_chances,
    lock_margin,
    sampled_chances,
    sawn_outcome,
    state_shares,
)
from fitsim.errors import OutsideModelError
from fitsim.imperfect import imperfections
from fitsim.verdict import DecidingNumbers


def of_margin(margin: Array) -> Samples:
    """Two outcomes: fails below zero, locks above."""
    locks = (margin > 0).astype(float)
    return Samples(np.stack([1 - locks, locks], axis=1), margin)


def above(limit: float, points: Array) -> Samples:
    """A normal number, mean 0, that locks above a limit."""
    return of_margin(ndtri(np.clip(points[:, 0], 1e-12, 1 - 1e-12)) - limit)


def small_bowl(**scatter: float) -> Bowl:
    """An invented bowl with no ranges."""
    made = fitsim.make_bowl(
        {
            "board": {"wood": "black walnut", "thickness": "17 mm", "across": "104 mm", "moisture": "9 %"},
            "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": "0.4"},
        }
    )
    return replace(made, uncertain=(), scatter=Scatter(**scatter))


def test_normal_tilt_and_kerf_give_the_normal_probability() -> None:
    """A kerf wrong by one normal amount along the whole cut falls through as often as the normal says."""
    # So long a length that the kerf has one error for the cut; all else fixed.
    scatter = {"kerf_mm": 0.2, "kerf_length_mm": 1e5, "tilt_rad": 0.0, "thickness_mm": 0.0}
    bowl = small_bowl(**scatter)
    tilt = math.radians(4)
    limit = 17 * (1 - 0.15) * math.sin(tilt)  # greatest kerf that locks

    def overlap_only(seen: Bowl) -> DecidingNumbers:
        deepest = max(seen.cut.kerf_mm[:2]) / math.sin(seen.cut.tilt_rad[0])
        return DecidingNumbers(1.0, 1 - deepest / seen.board.thickness_mm, 0.0, 0.0)

    imperfect = imperfections(bowl)
    outcome = sawn_outcome(imperfect, overlap_only, tilt_rad=tilt)
    found = sampled_chances(outcome, imperfect.dimensions, seed=5, target_se=0.008)
    expected = NormalDist(0.7, 0.2).cdf(limit)
    assert 0.8 < expected < 0.99
    assert found.chance[-1] == pytest.approx(expected, abs=3 * found.se[-1])
    assert found.chance[1] == pytest.approx(1 - found.chance[-1])
    assert found.se[-1] <= 0.008


def test_standard_errors_cover_the_exact_chance() -> None:
    """Over many seeds the exact chance lies within two standard errors about 19 times in 20."""
    exact = 1 - NormalDist().cdf(0.6)

    def ruffled(points: Array) -> Samples:
        # Twenty columns together, so that even spreading does not make the chance exact.
        total = ndtri(np.clip(points, 1e-12, 1 - 1e-12)).sum(axis=1) / math.sqrt(points.shape[1])
        return of_margin(total - 0.6)

    inside = 0
    for seed in range(60):
        found = sampled_chances(ruffled, 20, seed=seed, target_se=0.0, most_samples=256)
        inside += abs(float(found.chance[-1]) - exact) < 2.13 * float(found.se[-1])
    # Student's t, 15 degrees of freedom: 2.13 is 95 percent; 3 binomial errors either way are 9 percent.
    assert inside >= 0.86 * 60


def test_a_wrong_cheap_model_is_put_right() -> None:
    """The corrected chance is the costly model's, however far off the cheap one is."""
    exact, wrong = 1 - NormalDist().cdf(0.5), 1 - NormalDist().cdf(-0.1)
    assert wrong - exact > 0.2
    misses = []
    for seed in range(20):
        found, alone = corrected_chances(
            lambda points: above(-0.1, points),
            lambda points: above(0.5, points),
            3,
            seed=seed,
            target_se=0.03,
        )
        assert alone.chance[-1] == pytest.approx(wrong, abs=0.02)
        assert 16 <= found.costly_samples <= 256
        misses.append((float(found.chance[-1]) - exact) / float(found.se[-1]))
    assert np.abs(misses).max() < 3.2
    assert sum(abs(m) < 2 for m in misses) >= 16
    assert abs(np.mean(misses)) < 3 / math.sqrt(20)


def test_the_costly_model_is_asked_no_more_than_allowed() -> None:
    """The cap on costly samples holds, and the missed target is told."""
    asked = 0

    def costly(points: Array) -> Samples:
        nonlocal asked
        asked += len(points)
        return above(0.5, points)

    found, _ = corrected_chances(
        lambda points: above(-0.1, points), costly, 3, seed=1, target_se=0.001, most_costly=12
    )
    assert asked == found.costly_samples <= 12
    assert not found.reached
    assert found.se[-1] > 0.03


def test_failures_are_left_out_and_counted() -> None:
    """Bowls without an answer are counted and do not enter the chance."""

    def some_fail(points: Array) -> Samples:
        seen = above(0.0, points)
        seen.share[points[:, 1] < 0.25] = np.nan
        return seen

    found = sampled_chances(some_fail, 2, seed=1, target_se=0.0, most_samples=1024)
    assert found.failed == pytest.approx(256, abs=40)
    assert found.chance[-1] == pytest.approx(0.5, abs=0.05)
    with pytest.raises(OutsideModelError, match="no chance"):
        sampled_chances(
            lambda p: Samples(np.full((len(p), 2), np.nan), np.zeros(len(p))), 2, seed=1, target_se=0.1
        )


def test_margin_is_the_nearest_limit() -> None:
    """The margin is the least distance, named by its state, negative beyond the limit."""
    limits = Limits(overlap=0.2, friction_used=0.9, split_chance=0.1)
    assert lock_margin(DecidingNumbers(0.6, 0.5, 0.7, 0.02), limits) == (
        pytest.approx(0.08),
        "split risk",
    )
    assert lock_margin(DecidingNumbers(0.6, 0.15, 0.7, 0.02), limits) == (
        pytest.approx(-0.05),
        "falls through",
    )
    assert lock_margin(DecidingNumbers(0.6, 0.5, 1.0, 0.02), limits)[1] == "springs back"


def test_a_bowl_that_holds_splits_with_its_own_chance() -> None:
    """What holds is shared between splitting and locking; an earlier state takes the whole bowl."""
    assert state_shares(DecidingNumbers(0.6, 0.5, 0.7, 0.3), Limits()) == (0, 0, 0, 0.3, 0.7)
    assert state_shares(DecidingNumbers(0.6, 0.1, 0.7, 0.3), Limits()) == (0, 1, 0, 0, 0)
    assert state_shares(DecidingNumbers(-0.1, 0.1, 1.7, 0.3), Limits()) == (1, 0, 0, 0, 0)
