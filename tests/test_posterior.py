"""What is believed of one number, and whether readings of it agree."""

import math

import numpy as np
import pytest

from fitsim.saw.posterior import agreement, blurred, density, two_sided_chance

GRID = np.linspace(-15.0, 11.0, 5201)


def test_a_normal_number_has_its_own_mean_spread_and_quantiles() -> None:
    """A density from a normal logarithm has that mean and deviation, and 5 percent below 1.645 of them."""
    found = density(GRID, -0.5 * ((GRID - 1.3) / 0.8) ** 2)
    assert found.mean == pytest.approx(1.3, abs=1e-6)
    assert found.sd == pytest.approx(0.8, rel=1e-6)
    assert found.quantile(0.05) == pytest.approx(1.3 - 1.644854 * 0.8, abs=1e-4)
    assert found.quantile(0.8) == pytest.approx(1.3 + 0.841621 * 0.8, abs=1e-4)


def test_a_lopsided_density_is_no_normal_one() -> None:
    """The logarithm of an exponential number has mean -0.5772, deviation pi/sqrt(6), a long lower tail."""
    found = density(GRID, GRID - np.exp(GRID))
    assert found.mean == pytest.approx(-0.577216, abs=1e-3)
    assert found.sd == pytest.approx(math.pi / math.sqrt(6), abs=2e-3)
    assert found.quantile(0.05) == pytest.approx(math.log(-math.log(0.95)), abs=1e-3)
    assert found.quantile(0.95) == pytest.approx(math.log(-math.log(0.05)), abs=1e-3)


def test_an_impossible_value_has_no_share() -> None:
    """Where the logarithm is minus infinity there is nothing."""
    found = density(GRID, np.where(GRID > 2.0, -GRID, -np.inf))
    assert found.quantile(1e-9) >= 2.0
    assert found.mean == pytest.approx(3.0, abs=2e-2)  # an exponential tail from 2 onwards, cut at 11


def test_a_shared_error_adds_its_variance() -> None:
    """A normal likelihood blurred by a normal error is normal with both variances together."""
    wide = blurred(-0.5 * ((GRID - 0.7) / 0.3) ** 2, GRID, 0.4)
    found = density(GRID, wide)
    assert found.mean == pytest.approx(0.7, abs=1e-4)
    assert found.sd == pytest.approx(0.5, rel=2e-3)
    same = -0.5 * ((GRID - 0.7) / 0.3) ** 2
    assert blurred(same, GRID, 0.0) is same


def test_chi_square_of_two_readings_by_hand() -> None:
    """Two readings are off by the square of their difference over the sum of both variances."""
    found = agreement((2.0, 2.9), (0.4, 0.3))
    assert (found.chi_square, found.freedom) == (pytest.approx(0.81 / 0.25), 1)
    assert found.chance == pytest.approx(math.erfc(math.sqrt(0.81 / 0.25 / 2)))
    assert found.doubtful == ()


def test_the_reading_that_does_not_fit_is_named() -> None:
    """The reading whose leaving out mends most is named, with what the rest make of it."""
    found = agreement((5.0, 5.2, 9.0, 4.6), (0.5, 0.4, 0.5, 0.3))
    assert found.doubtful == (2,)
    weights = np.array([1 / 0.25, 1 / 0.16, 1 / 0.09])
    assert found.expected == pytest.approx(float(weights @ [5.0, 5.2, 4.6] / weights.sum()))
    two = agreement((5.0, 9.0), (0.5, 0.5))
    assert sorted(two.doubtful) == [0, 1]  # neither of two can be told from the other


def test_nothing_to_test_in_one_reading() -> None:
    """One reading, or none, always agrees with itself."""
    for values in ((), (3.0,)):
        found = agreement(values, [0.1] * len(values))
        assert (found.freedom, found.chance, found.doubtful) == (0, 1.0, ())


def test_two_sided_chance_counts_both_sides() -> None:
    """A normal number lies 1.645 deviations off, either way, in one case of ten."""
    assert two_sided_chance(1.644854) == pytest.approx(0.1, abs=1e-6)
    assert two_sided_chance(-2.575829) == pytest.approx(0.01, abs=1e-7)


def test_a_reading_that_says_at_least_is_off_only_below_it() -> None:
    """One-sided readings count where the value lies below them: by hand, and by trying every value."""
    # 2 and 3 within 0.5 each: their mean 2.5. "4 or more" within 1 pulls it: weights 4, 4 and 1.
    pulled = agreement((2.0, 3.0, 4.0), (0.5, 0.5, 1.0), at_least=(False, False, True))
    mean = (4 * 2 + 4 * 3 + 4) / 9
    expected = 4 * (2 - mean) ** 2 + 4 * (3 - mean) ** 2 + (4 - mean) ** 2
    assert (pulled.chi_square, pulled.freedom) == (pytest.approx(expected), 2)
    idle = agreement((2.0, 3.0, 2.4), (0.5, 0.5, 1.0), at_least=(False, False, True))
    assert idle.chi_square == pytest.approx(4 * 0.25 * 2)
    # 0.1 deviations below the mean: the mean square of what lies further below, by trying every outcome.
    outcomes = np.linspace(-12.0, -0.1, 200_001)
    rarer = np.trapezoid(outcomes**2 * np.exp(-0.5 * outcomes**2), outcomes) / math.sqrt(2 * math.pi)
    assert idle.freedom == pytest.approx(1 + rarer, abs=1e-6)
    values, sds = (1.0, 2.2, 1.9, 3.1, 0.4), (0.6, 0.5, 0.3, 0.9, 0.2)
    above = (False, False, True, True, True)
    tried = np.linspace(0.0, 4.0, 40001)[:, None]
    off = (tried - np.array(values)) / np.array(sds)
    off = np.where(np.array(above), np.minimum(off, 0.0), off)
    assert agreement(values, sds, at_least=above).chi_square == pytest.approx(
        (off**2).sum(1).min(), abs=1e-6
    )


@pytest.mark.parametrize(
    ("stops", "steady"),
    [(np.array([9, 9] + [-1.5] * 13), 0), (np.array([9, -2] * 4), 0), (np.array([0.0] * 5), 0),
     (np.array([9.0] * 5), 1)],
)  # fmt: skip
def test_right_readings_are_seldom_refused(stops: np.ndarray, steady: int) -> None:
    """Normal readings, those beyond a stop told as "at least the stop": 1 in 100 may be named, no more.

    Of 4000 files that is 40, and give or take 3 deviations; of readings without a stop no fewer either.
    """
    rng = np.random.default_rng(11)
    named = 0
    for _ in range(4000):
        drawn = rng.normal(size=len(stops))
        told, above = np.minimum(drawn, stops), drawn > stops
        named += bool(agreement(told.tolist(), [1.0] * len(stops), at_least=above.tolist()).doubtful)
    off = 3 * math.sqrt(4000 * 0.01 * 0.99)
    assert named < 40 + off
    assert named >= steady * (40 - off)


def test_readings_that_all_say_at_least_agree() -> None:
    """However far apart, a value above all is off from none; beside an odd one the least such is told."""
    alone = agreement((1.0, 9.0), (0.1, 0.1), at_least=(True, True))
    assert (alone.chi_square, alone.freedom, alone.doubtful) == (0.0, 0, ())
    odd = agreement((8.0, 1.0, 9.0), (0.1, 0.1, 0.1), at_least=(True, False, True))
    assert (odd.doubtful, odd.expected) == ((1,), 9.0)
