"""Weighing explanations: importance sampling of independent standard normal numbers.

An explanation is a log likelihood of rows of standard normal numbers. Its evidence is the mean likelihood
over the prior, its posterior the rows weighed by it. Where few rows carry the weight, more are drawn near
them: from the prior for a part, so that nothing is lost, and from a normal fitted to the weighed rows for
the rest; weights are prior over mixture, so that the estimate stays without bias (importance sampling
with a defensive mixture, T. Hesterberg, Technometrics 37 (1995), from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only

__all__ = ["Weighed", "chances_of", "effective_size", "weigh"]

DEFENSIVE = 0.3
"""Part of later draws that still come from the prior."""

WIDER = 1.3
"""The fitted normal is made this much wider, because it rests on few rows."""

TEMPER_TO = 40.0
"""Rows that a fit is to rest on; fewer and the weights are flattened first."""


@dataclass(frozen=True, eq=False)
class Weighed:
    """One explanation weighed.

    Attributes
    ----------
    points : numpy.ndarray
        Rows of standard normal numbers, shape (n, dimensions). [-]
    weight : numpy.ndarray
        Posterior weight of each row, sum 1 (all zero where nothing fits), shape (n,). [-]
    log_likelihood : numpy.ndarray
        Of each row, shape (n,). [-]
    log_evidence, relative_se : float
        Logarithm of the mean likelihood over the prior, and the standard error of the mean over itself. [-]
    size : float
        Effective number of rows behind the posterior. [-]
    """

    points: Array
    weight: Array
    log_likelihood: Array
    log_evidence: float
    relative_se: float
    size: float


Likelihood = Callable[[Array], Array]
Normal = tuple[Array, Array]


def effective_size(weight: Array) -> float:
    """Effective number of weighed rows, (sum w)^2 / sum w^2.

    Parameters
    ----------
    weight : numpy.ndarray
        Weights, not negative, shape (n,). [-]

    Returns
    -------
    float
        From 0 to n.

    Examples
    --------
    >>> effective_size(np.array([1.0, 1.0, 0.0, 2.0])) == 16 / 6
    True
    """
    square = float(np.sum(weight**2))
    return float(np.sum(weight)) ** 2 / square if square > 0 else 0.0


def weigh(
    likelihood: Likelihood,
    dimensions: int,
    *,
    seed: tuple[int, ...],
    samples: int,
    rounds: int = 0,
    wanted_size: float = 200.0,
) -> Weighed:
    """Evidence and posterior of one explanation.

    Parameters
    ----------
    likelihood : callable
        Log likelihood of rows of shape (n, dimensions); minus infinity is allowed.
    dimensions : int
        Columns.
    seed : tuple[int, ...]
        The same seed gives the same answer.
    samples : int
        Rows of each round.
    rounds : int
        Further rounds, each drawn nearer to the rows that carry the weight, at most.
    wanted_size : float
        Effective number of rows from which no further round is needed.

    Returns
    -------
    Weighed
        From all rounds together.
    """
    draw = np.random.default_rng(np.random.SeedSequence(seed))
    points = draw.standard_normal((samples, dimensions))
    found, rows = [likelihood(points)], [points]
    fits: list[Normal] = []
    answer = _weighed(rows, found, fits)
    for _ in range(rounds):
        if answer.size >= wanted_size or not np.isfinite(answer.log_evidence):
            break
        fits.append(_fitted(answer))
        rows.append(_near(fits[-1], draw, samples, dimensions))
        found.append(likelihood(rows[-1]))
        answer = _weighed(rows, found, fits)
    return answer


def _fitted(answer: Weighed) -> Normal:
    """Mean and standard deviation of each column, the weights flattened until enough rows count."""
    weight = answer.weight
    for power in (1.0, 0.7, 0.5, 0.35, 0.25, 0.15):
        flat = weight**power
        if effective_size(flat) >= TEMPER_TO:
            break
    flat = flat / flat.sum()
    mean = flat @ answer.points
    sd = np.sqrt(np.maximum(flat @ (answer.points - mean) ** 2, 0.02))
    return mean, np.minimum(WIDER * sd, 1.5)


def _near(fit: Normal, draw: np.random.Generator, samples: int, dimensions: int) -> Array:
    mean, sd = fit
    normals = draw.standard_normal((samples, dimensions))
    from_prior = draw.random(samples) < DEFENSIVE
    return np.where(from_prior[:, None], normals, mean + sd * normals)


def _log_ratio(points: Array, fits: list[Normal]) -> Array:
    """Logarithm of the mixture of all rounds over the prior, shape (n,)."""
    each = [np.zeros(len(points))]
    for mean, sd in fits:
        near = np.sum(0.5 * points**2 - 0.5 * ((points - mean) / sd) ** 2 - np.log(sd), axis=1)
        each.append(np.logaddexp(np.log(DEFENSIVE), np.log(1 - DEFENSIVE) + near))
    stacked = np.stack(each)
    top = stacked.max(axis=0)
    return np.asarray(top + np.log(np.mean(np.exp(stacked - top), axis=0)))


def _weighed(rows: list[Array], found: list[Array], fits: list[Normal]) -> Weighed:
    points, log_likelihood = np.concatenate(rows), np.concatenate(found)
    log_weight = log_likelihood - (_log_ratio(points, fits) if fits else 0.0)
    top = float(log_weight.max())
    if not np.isfinite(top):
        nothing = np.zeros(len(points))
        return Weighed(points, nothing, log_likelihood, -np.inf, 1.0, 0.0)
    weight = np.exp(log_weight - top)
    mean = float(weight.mean())
    size = effective_size(weight)
    return Weighed(
        points=points,
        weight=read_only(weight / weight.sum()),
        log_likelihood=log_likelihood,
        log_evidence=top + float(np.log(mean)),
        relative_se=float(np.sqrt(max(1 / size - 1 / len(points), 0.0))),
        size=size,
    )


def chances_of(log_evidence: Array, relative_se: Array, prior: Array) -> tuple[Array, Array]:
    """Chances of explanations that exclude one another, and their standard errors.

    Parameters
    ----------
    log_evidence, relative_se : numpy.ndarray
        Of each explanation, shape (n,).
    prior : numpy.ndarray
        Prior weights, any scale, shape (n,). [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Chances, sum 1, and standard errors from the sampling alone (first order), shape (n,). [-]
    """
    top = float(np.max(log_evidence))
    if not np.isfinite(top):
        whole = prior / prior.sum()
        return whole, np.ones(len(prior))
    worth = prior * np.exp(log_evidence - top)
    chance = worth / worth.sum()
    error = chance * relative_se
    # d chance_i = chance_i (e_i - sum_k chance_k e_k), the errors e independent.
    others = np.sum(error**2) - error**2
    return chance, np.sqrt((error * (1 - chance)) ** 2 + chance**2 * others)
