"""Chances over many bowls, with their standard errors.

Points of the unit cube are spread evenly (scrambled Sobol points in the leading columns, plain random
numbers in the rest) in independent replicates; the spread of the replicates' means gives a standard
error that leans on no assumption about the points.

Two models: every sample is worked out with the cheap one; a random part of them also with the costly
one, more of them where the cheap one is near a limit. The chance is

    mean of cheap over all samples + sum over strata of (share of stratum x mean of costly - cheap),

which is the costly model's chance without bias, however wrong the cheap one is: a poor one only makes
the standard error larger. (W. G. Cochran, Sampling Techniques, double sampling with strata and the
difference estimator, from memory.)
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.bowl import Bowl, Limits
from fitsim.cut import frozen
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.imperfect import Imperfections, bowls_sawn
from fitsim.verdict import STATES, DecidingNumbers, happens, room

__all__ = [
    "Chances",
    "Outcome",
    "Samples",
    "corrected_chances",
    "lock_margin",
    "plain_chances",
    "sampled_chances",
    "sawn_outcome",
    "state_shares",
]

REPLICATES = 16
LEADING = 64
"""Columns that get Sobol points; beyond these a column matters too little to gain by it."""

NEAR_SHARE = 0.7
"""Share of the costly samples spent on the half of all samples that lies nearest to a limit."""

LARGE_MARGIN = 1e6
FIRST_COSTLY = 16
LEAST_POOL = 1024
"""Cheap samples a correction starts from; with fewer their own luck would weigh on it."""


@dataclass(frozen=True, eq=False)
class Samples:
    """Outcomes at points of the cube.

    Attributes
    ----------
    share : numpy.ndarray
        Share of each outcome at each point, each row adding up to 1; a row of nan where the model
        found no answer, shape (n, outcomes). [-]
    margin : numpy.ndarray
        Distance from the nearest limit, negative beyond it, shape (n,). [-]
    """

    share: Array
    margin: Array


Outcome = Callable[[Array], Samples]


@dataclass(frozen=True, eq=False)
class Chances:
    """Chance of each outcome.

    Attributes
    ----------
    chance, se : numpy.ndarray
        Chance and its standard error, shape (outcomes,). [-]
    samples : int
        Points worked out with the cheap (or only) model.
    costly_samples, failed : int
        Points worked out with the costly model, and how many of them found no answer and were left
        out.
    reached : bool
        Whether the standard error of the last outcome came below its target.
    """

    chance: Array
    se: Array
    samples: int
    costly_samples: int
    failed: int
    reached: bool


class _Points:
    """Replicates of points that go on where they stopped."""

    def __init__(self, dimensions: int, seed: int) -> None:
        from scipy.stats import qmc

        self.rest = dimensions - min(dimensions, LEADING)
        seeds = np.random.SeedSequence(seed).spawn(2 * REPLICATES)
        self.even = [
            qmc.Sobol(d=dimensions - self.rest, scramble=True, seed=np.random.default_rng(s))
            for s in seeds[:REPLICATES]
        ]
        self.plain = [np.random.default_rng(s) for s in seeds[REPLICATES:]]

    def more(self, count: int) -> Array:
        """Next ``count`` points of each replicate, one replicate after another."""
        parts = []
        for even, plain in zip(self.even, self.plain, strict=True):
            parts.append(np.hstack([even.random(count), plain.random((count, self.rest))]))
        return np.concatenate(parts)


def sampled_chances(
    outcome: Outcome, dimensions: int, *, seed: int, target_se: float, most_samples: int = 16384
) -> Chances:
    """Chances by one model, sampled until the standard error of the last outcome is small enough.

    Parameters
    ----------
    outcome : callable
        Gives the :class:`Samples` of points of shape (n, dimensions).
    dimensions : int
        Columns of the cube.
    seed : int
        The same seed gives the same chances.
    target_se : float
        Standard error to reach. [-]
    most_samples : int
        Where to stop.

    Returns
    -------
    Chances
        With the standard error from the spread of 16 replicates.
    """
    chances, _, _ = _pool(outcome, dimensions, seed=seed, target_se=target_se, most_samples=most_samples)
    return chances


def plain_chances(outcome: Outcome, dimensions: int, *, seed: int, samples: int) -> Array:
    """Chances by one model from so many points, without an error: for curves, where many lie side by side.

    Parameters
    ----------
    outcome : callable
        Gives the :class:`Samples` of points of shape (n, dimensions).
    dimensions : int
        Columns of the cube.
    seed : int
        The same seed gives the same points.
    samples : int
        How many, a multiple of 16.

    Returns
    -------
    numpy.ndarray
        Chance of each outcome, those without an answer left out, shape (outcomes,). [-]
    """
    share = outcome(_Points(dimensions, seed).more(samples // REPLICATES)).share
    good = np.isfinite(share).all(axis=1)
    if not good.any():
        message = "every bowl sawn lies outside the model; no chance can be given"
        raise OutsideModelError(message)
    return np.asarray(share[good].mean(axis=0))


def _pool(
    outcome: Outcome,
    dimensions: int,
    *,
    seed: int,
    target_se: float,
    most_samples: int,
    least_samples: int = 256,
) -> tuple[Chances, Samples, Array]:
    """Sample one model until the target; also give the samples that found an answer, and their points."""
    source = _Points(dimensions, seed)
    points, shares, margins = [], [], []
    totals, counts = 0.0, 0.0
    count, each = 0, 8
    while True:
        fresh = source.more(each)
        found = outcome(fresh)
        points.append(fresh)
        shares.append(found.share)
        margins.append(found.margin)
        by_replicate = found.share.reshape(REPLICATES, each, -1)
        totals = totals + np.nansum(by_replicate, axis=1)
        counts = counts + np.isfinite(by_replicate).sum(axis=1)
        count += REPLICATES * each
        chance, se = _of_replicates(np.asarray(totals), np.asarray(counts))
        # Few samples can agree by luck: a small error is believed only from enough of them.
        if (se[-1] <= target_se and count >= least_samples) or 2 * count > most_samples:
            break
        each = count // REPLICATES
    share, margin = np.concatenate(shares), np.concatenate(margins)
    good = np.isfinite(share).all(axis=1)
    reached = bool(se[-1] <= target_se)
    chances = Chances(frozen(chance), frozen(se), count, 0, int((~good).sum()), reached)
    return chances, Samples(share[good], margin[good]), np.concatenate(points)[good]


def _of_replicates(totals: Array, counts: Array) -> tuple[Array, Array]:
    """Chance and standard error from sums and counts of each replicate, shape (replicates, outcomes)."""
    if not counts.all():
        message = "nearly every bowl sawn lies outside the model; no chance can be given"
        raise OutsideModelError(message)
    mean = totals / counts
    count = int(counts[:, 0].sum())
    chance = mean.mean(axis=0)
    spread = mean.std(axis=0, ddof=1) / np.sqrt(REPLICATES)
    # Replicates that happen to agree do not prove a chance exact: it is known to one bowl in all at best.
    return chance, np.maximum(spread, 1 / count)


def corrected_chances(
    cheap: Outcome,
    costly: Outcome,
    dimensions: int,
    *,
    seed: int,
    target_se: float,
    most_samples: int = 4096,
    most_costly: int = 256,
) -> tuple[Chances, Chances]:
    """Chances of the costly model from many cheap samples and a few costly ones.

    Parameters
    ----------
    cheap, costly : callable
        Give the :class:`Samples` of points of shape (n, dimensions); only the cheap one's margins
        are used.
    dimensions : int
        Columns of the cube.
    seed : int
        The same seed gives the same chances.
    target_se : float
        Standard error to reach, both parts together. [-]
    most_samples, most_costly : int
        Where to stop.

    Returns
    -------
    tuple[Chances, Chances]
        The costly model's chances, and the cheap model's alone.
    """
    first, pool, points = _pool(
        cheap,
        dimensions,
        seed=seed,
        target_se=target_se / 2,
        most_samples=most_samples,
        least_samples=LEAST_POOL,
    )
    draw = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    parts = _strata(pool.margin)
    near, strata = [is_near for is_near, _ in parts], [draw.permutation(part) for _, part in parts]
    asked = [0] * len(strata)
    differences = [np.empty((0, pool.share.shape[1])) for _ in strata]
    budget = min(FIRST_COSTLY, most_costly)
    while True:
        for h, wanted in enumerate(_allotted(near, strata, budget)):
            chosen = strata[h][asked[h] : wanted]
            if len(chosen):
                change = costly(points[chosen]).share - pool.share[chosen]
                differences[h] = np.concatenate([differences[h], change])
                asked[h] = max(wanted, asked[h])
        chance, se, failed = _corrected(pool, first.se, strata, differences)
        if se[-1] <= target_se or budget >= min(most_costly, len(points)):
            break
        budget = min(2 * budget, most_costly)
    reached = bool(se[-1] <= target_se)
    return Chances(frozen(chance), frozen(se), first.samples, sum(asked), failed, reached), first


def _strata(margin: Array) -> list[tuple[bool, IntArray]]:
    """Samples by nearness to a limit (half of all samples are near) and by side of it."""
    near = np.abs(margin) <= np.median(np.abs(margin))
    inside = margin >= 0
    parts = [
        (is_near, np.flatnonzero((near == is_near) & side))
        for is_near in (True, False)
        for side in (inside, ~inside)
    ]
    return [(is_near, part) for is_near, part in parts if part.size]


def _allotted(near: list[bool], strata: list[IntArray], budget: int) -> list[int]:
    """Costly samples for each stratum; at least two in each, so that each shows its spread."""
    sizes = np.array([len(part) for part in strata], dtype=np.float64)
    weight = np.where(near, NEAR_SHARE, 1 - NEAR_SHARE) * sizes
    wanted = np.maximum(np.round(budget * weight / weight.sum()), 2)
    return [int(min(n, size)) for n, size in zip(wanted, sizes, strict=True)]


def _corrected(
    pool: Samples, cheap_se: Array, strata: list[IntArray], differences: list[Array]
) -> tuple[Array, Array, int]:
    """Chance, standard error, and how many costly samples found no answer."""
    count = len(pool.margin)
    change, square = np.zeros_like(cheap_se), np.zeros_like(cheap_se)
    variance = np.zeros_like(cheap_se)
    failed = 0
    for part, every in zip(strata, differences, strict=True):
        found = every[np.isfinite(every).all(axis=1)]
        failed += len(every) - len(found)
        weight, n = len(part) / count, len(found)
        if n < 2:
            # Nothing known of this stratum: any change is possible.
            variance, square = variance + weight**2, square + weight
            continue
        change = change + weight * found.mean(axis=0)
        square = square + weight * (found**2).mean(axis=0)
        # Few alike differences do not prove that there are no others: one in n + 2 is left open.
        least = (1 / (n + 2)) * (1 - 1 / (n + 2))
        spread = np.maximum(found.var(axis=0, ddof=1), least)
        variance = variance + weight**2 * spread / n * (1 - n / len(part))
    # The samples themselves: the cheap mean by its replicates, the change as on plain random points.
    luck = cheap_se**2 + np.maximum(square - change**2, 0.0) / count
    return pool.share.mean(axis=0) + change, np.sqrt(variance + luck), failed


def lock_margin(numbers: DecidingNumbers, limits: Limits) -> tuple[float, str]:
    """Distance to the nearest limit, and the state beyond it (or the first that happens).

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers.
    limits : Limits
        Where the states begin.

    Returns
    -------
    tuple[float, str]
        Least of the four distances, positive when the bowl locks: slot left [mm] and overlap above
        their limits, friction used and chance of splitting below theirs [-].
    """
    held = [max(-LARGE_MARGIN, min(LARGE_MARGIN, d)) for d in room(numbers, limits)]
    least = min(range(4), key=lambda i: held[i])
    failing = [state for state in STATES[:-1] if happens(state, numbers, limits)]
    return held[least], failing[0] if failing else STATES[least]


def state_shares(numbers: DecidingNumbers, limits: Limits) -> tuple[float, ...]:
    """Share of each state among bowls with these numbers: one state, but for splitting.

    A bowl opened either splits or not: where nothing earlier decides, the chance of splitting is the
    share that splits, and the rest locks. No limit for the chance of splitting is needed here.

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers of one bowl, the scatter of strength in its chance of splitting.
    limits : Limits
        Where the states begin.

    Returns
    -------
    tuple[float, ...]
        In the order of :data:`fitsim.verdict.STATES`, adding up to 1. [-]
    """
    for at, state in enumerate(STATES[:3]):
        if happens(state, numbers, limits):
            return tuple(float(i == at) for i in range(5))
    return (0.0, 0.0, 0.0, numbers.split_chance, 1 - numbers.split_chance)


def sawn_outcome(
    imperfect: Imperfections,
    numbers: Callable[[Bowl], DecidingNumbers],
    *,
    tilt_rad: float | None = None,
) -> Outcome:
    """States of the bowls sawn at points of the cube.

    Parameters
    ----------
    imperfect : Imperfections
        What differs from bowl to bowl.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.
    tilt_rad : float or None
        Tilt that was meant, in place of the bowl's own. [rad]

    Returns
    -------
    callable
        For :func:`sampled_chances` and :func:`corrected_chances`. A bowl outside the model or
        without convergence gives a row of nan.
    """
    limits = imperfect.bowl.limits

    def outcome(points: Array) -> Samples:
        found: list[tuple[float, ...]] = []
        margins: list[float] = []
        for bowl in bowls_sawn(imperfect, points, tilt_rad=tilt_rad):
            try:
                seen: Any = numbers(bowl)
            except (NoConvergenceError, OutsideModelError):
                found.append((np.nan,) * len(STATES))
                margins.append(-LARGE_MARGIN)
                continue
            found.append(state_shares(seen, limits))
            margins.append(lock_margin(seen, limits)[0])
        return Samples(np.array(found), np.array(margins))

    return outcome
