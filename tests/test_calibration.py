"""The closed form brought to the springy strip: laws on models written out, and on real presses."""

import math
from dataclasses import replace

import numpy as np
import pytest
from test_tilt import bowl, hold_and_overlap

from fitsim.bowl import Bowl, Uncertain, with_input
from fitsim.calibration import calibrated, calibration
from fitsim.errors import NoConvergenceError
from fitsim.imperfect import imperfections
from fitsim.tilt import tilt_answer
from fitsim.verdict import DecidingNumbers

TILTS = (math.radians(3.0), math.radians(11.0))


def risky(seen: Bowl) -> DecidingNumbers:
    """Overlap and hold of an even cut, with a chance of splitting that grows with the tilt."""
    return replace(hold_and_overlap(seen), split_chance=0.02 + 0.5 * seen.cut.tilt_rad[0])


def sunk(seen: Bowl) -> DecidingNumbers:
    """The same with less overlap the flatter the tilt, more friction used, odds of splitting doubled."""
    plain, tilt = risky(seen), seen.cut.tilt_rad[0]
    odds = 2 * plain.split_chance / (1 - plain.split_chance)
    return DecidingNumbers(
        plain.slot_left_mm,
        plain.overlap - 0.05 - 0.6 * (TILTS[1] - tilt),
        plain.friction_used * math.exp(0.3 + 2.0 * (tilt - TILTS[0])),
        odds / (1 + odds),
    )


def test_what_the_strip_adds_evenly_along_the_tilt_is_found():
    """Additions linear in the tilt come out on bowls never pressed; the slot left is untouched."""
    given = bowl(friction="0.3 to 0.5")
    by = calibration(imperfections(given), risky, sunk, tilts_rad=TILTS, presses=40, seed=3)
    assert by is not None
    assert (by.presses, by.failed) == (40, 0)
    guide = calibrated(risky, by)
    for tilt, friction in ((3.6, 0.33), (7.1, 0.48), (10.4, 0.4)):
        seen = with_input(with_input(given, "cut.tilt_rad", math.radians(tilt)), "use.friction", friction)
        found, truth = guide(seen), sunk(seen)
        assert found.overlap == pytest.approx(truth.overlap, abs=0.004)
        assert found.friction_used == pytest.approx(truth.friction_used, rel=0.02)
        assert found.split_chance == pytest.approx(truth.split_chance, rel=0.03)
        assert found.slot_left_mm == truth.slot_left_mm


def test_few_presses_change_little_along_the_tilt():
    """With a strip that adds nothing but noise, the slopes fitted stay within the noise."""
    rng = np.random.default_rng(5)

    def noisy(seen: Bowl) -> DecidingNumbers:
        return replace(risky(seen), overlap=risky(seen).overlap + 0.02 * rng.standard_normal())

    by = calibration(imperfections(bowl()), risky, noisy, tilts_rad=TILTS, presses=12, seed=1)
    assert by is not None
    assert np.abs(by.added[0]).max() < 0.03
    assert by.added[1:] == pytest.approx(0.0, abs=1e-9)


def test_bowls_without_an_answer_are_counted_and_left_out():
    """Where most presses find no balance there is no calibration; where some do not, they are counted."""

    def at_high_tilts(seen: Bowl) -> DecidingNumbers:
        if seen.cut.tilt_rad[0] < limit:
            raise NoConvergenceError("press: no balance found")
        return sunk(seen)

    limit = math.radians(9.0)
    imperfect = imperfections(bowl())
    assert calibration(imperfect, risky, at_high_tilts, tilts_rad=TILTS, presses=12, seed=2) is None
    limit = math.radians(5.0)
    by = calibration(imperfect, risky, at_high_tilts, tilts_rad=TILTS, presses=12, seed=2)
    assert by is not None
    assert by.failed in (2, 3, 4)


def test_the_best_tilt_is_where_the_strip_locks():
    """The closed form locks from 2.8 to 11 degrees, the strip from 7.5 only: the best tilt lies there."""
    given = replace(
        bowl(friction="0.2"), uncertain=(Uncertain("friction", "", 0.19, 0.21, "use.friction"),)
    )

    def sinks(seen: Bowl) -> DecidingNumbers:
        plain, tilt = hold_and_overlap(seen), seen.cut.tilt_rad[0]
        return replace(plain, overlap=0.15 + 0.08 * (math.degrees(tilt) - 7.5))

    plain = tilt_answer(given, hold_and_overlap, seed=4, most_samples=256, curve_samples=64)
    found = tilt_answer(
        given,
        hold_and_overlap,
        elastic=sinks,
        elastic_solves=60,
        seed=4,
        most_samples=1024,
        curve_samples=64,
    )
    assert math.degrees(plain.best_tilt_rad) < 7.5
    assert 8.0 < math.degrees(found.best_tilt_rad) < 10.8
    assert found.calibration is not None
    assert found.at_best.chance[-1] > 0.9
    low = np.degrees(found.curve.tilt_rad) < 6.0
    assert found.curve.chance[low, -1].max() < 0.2
    assert plain.curve.chance[np.degrees(plain.curve.tilt_rad) < 6.0, -1].max() > 0.9
