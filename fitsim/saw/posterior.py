"""What is believed of one number: a density on a grid, narrowed by Bayes' rule, and its ranges.

Also whether several readings of one number can all be right, by the chi-square of their differences.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only

__all__ = [
    "MISFIT_CHANCE",
    "RANGE_ENDS",
    "Agreement",
    "Density",
    "agreement",
    "blurred",
    "chance_of_misfit",
    "density",
    "two_sided_chance",
]

RANGE_ENDS = (0.05, 0.95)
"""Quantiles at the ends of every range stated: nine times in ten the value lies between them."""

MISFIT_CHANCE = 0.01
"""Readings that honest ones would be as far apart as more rarely than this are refused: our choice."""

_BLUR_STEPS, _BLUR_REACH = 161, 5.0


@dataclass(frozen=True, eq=False)
class Density:
    """A density on an even grid.

    Attributes
    ----------
    value : numpy.ndarray
        (n,) the grid, in the number's own unit. [unit of the number]
    share : numpy.ndarray
        (n,) share of chance at each place, together 1. [-]
    """

    value: Array
    share: Array

    @property
    def mean(self) -> float:
        """Mean. [unit of the number]"""
        return float(self.share @ self.value)

    @property
    def sd(self) -> float:
        """Standard deviation. [unit of the number]"""
        return math.sqrt(max(float(self.share @ (self.value - self.mean) ** 2), 0.0))

    def quantile(self, chance: float) -> float:
        """Value below which this chance lies. [unit of the number]"""
        below = np.cumsum(self.share) - self.share / 2
        return float(np.interp(chance, below, self.value))


def density(value: Array, log_chance: Array) -> Density:
    """A density from the logarithm of something proportional to it.

    Parameters
    ----------
    value : numpy.ndarray
        (n,) an even grid. [unit of the number]
    log_chance : numpy.ndarray
        (n,) logarithm; minus infinity where a value is impossible. [-]

    Returns
    -------
    Density
        With shares that are 1 together.
    """
    share = np.exp(log_chance - log_chance.max())
    return Density(read_only(np.array(value)), read_only(share / share.sum()))


def blurred(log_chance: Array, value: Array, sd: float) -> Array:
    """Logarithm of a likelihood of value + error, the error normal and common to all readings.

    Parameters
    ----------
    log_chance : numpy.ndarray
        (n,) logarithm of the likelihood at these values; between them straight. [-]
    value : numpy.ndarray
        (n,) a fine, even grid; likelihoods have died away at its ends. [unit of the number]
    sd : float
        Standard deviation of the error; 0 leaves the likelihood as it is. [unit of the number]

    Returns
    -------
    numpy.ndarray
        (n,) logarithm of the mean over the error. [-]
    """
    if sd == 0:
        return log_chance
    # Even steps over its whole width: a likelihood may be narrow beside the error.
    steps = np.linspace(-_BLUR_REACH, _BLUR_REACH, _BLUR_STEPS)
    weights = np.exp(-0.5 * steps**2)
    terms = np.stack([np.interp(value + sd * step, value, log_chance) for step in steps])
    highest = terms.max()
    mean = weights @ np.exp(terms - highest) / weights.sum()
    return np.asarray(np.log(np.maximum(mean, 1e-300)) + highest)


@dataclass(frozen=True)
class Agreement:
    """Whether readings of one number can all be right.

    Attributes
    ----------
    chi_square : float
        Sum of squared misfits in standard deviations. [-]
    freedom : float
        Degrees of freedom, one less than the readings that count. One that says "at least" counts in full
        where the number found lies below it, else in part: it might have come out lower and been told as
        it was. [-]
    chance : float
        Of so much or more among honest readings. [-]
    doubtful : tuple[int, ...]
        Which of them, counted from 0, mend most when left out; empty while the chance is fair.
    expected : float
        What the others make of the first of them, the least where all of them say "at least"; nan where
        that says nothing. [unit of the number]
    """

    chi_square: float
    freedom: float
    chance: float
    doubtful: tuple[int, ...]
    expected: float


def agreement(
    values: Sequence[float],
    sds: Sequence[float],
    *,
    at_least: Sequence[bool] = (),
    limit: float = MISFIT_CHANCE,
) -> Agreement:
    """Test readings of one number against the value that fits them best, and name those that do not fit.

    Parameters
    ----------
    values, sds : sequence of float
        Readings and their standard deviations. [unit of the number]
    at_least : sequence of bool
        True for readings that the number lies above: off only where it lies below them. Empty: none.
    limit : float
        Chance below which some are named. [-]

    Returns
    -------
    Agreement
        With one reading, or none, there is nothing to test.
    """
    seen, sd = np.asarray(values, dtype=np.float64), np.asarray(sds, dtype=np.float64)
    above = np.asarray(at_least or [False] * len(seen), dtype=np.bool_)
    total, _, freedom = _closest(seen, sd, above)
    chance = chance_of_misfit(total, freedom)
    if chance >= limit:
        return Agreement(total, freedom, chance, (), math.nan)
    kept = [np.arange(len(seen)) != i for i in range(len(seen))]
    without = [_closest(seen[k], sd[k], above[k])[:2] for k in kept]
    gains = [total - left for left, _ in without]
    order = sorted(range(len(seen)), key=lambda i: -gains[i])
    doubtful = tuple(i for i in order if gains[i] > 0.85 * max(gains))
    return Agreement(total, freedom, chance, doubtful, without[doubtful[0]][1])


def _closest(seen: Array, sd: Array, above: BoolArray) -> tuple[float, float, float]:
    """Least sum of squared misfits, the value that has it, and its degrees of freedom.

    The sum is convex in the value: readings that say "at least" are taken in from the highest down, each
    while it lies above the mean of those before it. Without any other the least such value is that of the
    highest.

    One that lies z standard deviations below the value pulls at nothing, but had it come out lower it would
    have been told as it was, and the misfits that are left are the rarer ones. It counts with the mean over
    all its outcomes of the square it would then have had, z phi(z) + Phi(-z).
    """
    from scipy.special import ndtr

    if above.all():
        return 0.0, float(seen.max(initial=-math.inf)), 0.0
    pulls = ~above
    while True:
        weight = pulls / sd**2
        mean = float(weight @ seen / weight.sum())
        rest = np.flatnonzero(~pulls & (seen > mean))
        if not len(rest):
            below = (mean - seen[~pulls]) / sd[~pulls]
            in_part = below * np.exp(-0.5 * below**2) / math.sqrt(2 * math.pi) + ndtr(-below)
            return float(weight @ (seen - mean) ** 2), mean, float(pulls.sum() - 1 + in_part.sum())
        pulls[rest[np.argmax(seen[rest])]] = True


def chance_of_misfit(chi_square: float, freedom: float) -> float:
    """Chance that honest readings are as far apart as this or further.

    Parameters
    ----------
    chi_square : float
        Sum of squared misfits in standard deviations. [-]
    freedom : float
        Degrees of freedom; 0 leaves nothing to test.

    Returns
    -------
    float
        Chance, by the chi-square distribution. [-]
    """
    from scipy.special import gammaincc

    return float(gammaincc(freedom / 2, chi_square / 2)) if freedom > 0 else 1.0


def two_sided_chance(misfit_sds: float) -> float:
    """Chance that a normal number lies so many standard deviations or more off its mean, either way.

    Parameters
    ----------
    misfit_sds : float
        Distance in standard deviations. [-]

    Returns
    -------
    float
        Chance. [-]
    """
    return 2 * NormalDist().cdf(-abs(misfit_sds))
