"""Importance sampling against exact posteriors of conjugate toy models."""

import math

import numpy as np
import pytest

from fitsim.arrays import Array
from fitsim.failure.importance import chances_of, effective_size, weigh

MIX = np.array([[1.0, 0.4, -0.7], [0.2, -1.1, 0.5]])
READ = np.array([1.3, -0.8])


def toy(reading: Array, mix: Array, sd: float):
    """Log likelihood of readings that are sums of standard normal numbers, with noise."""

    def log_likelihood(points: Array) -> Array:
        off = (reading - points @ mix.T) / sd
        return np.asarray(np.sum(-0.5 * off**2 - math.log(sd) - 0.5 * math.log(2 * math.pi), axis=1))

    return log_likelihood


def exact(reading: Array, mix: Array, sd: float) -> tuple[float, Array, Array]:
    """Log evidence, posterior mean and covariance of the conjugate normal model."""
    cover = mix @ mix.T + sd**2 * np.eye(len(reading))
    gain = mix.T @ np.linalg.inv(cover)
    log_evidence = -0.5 * float(reading @ np.linalg.solve(cover, reading))
    log_evidence -= 0.5 * math.log(np.linalg.det(2 * math.pi * cover))
    return log_evidence, gain @ reading, np.eye(mix.shape[1]) - gain @ mix


@pytest.mark.parametrize(("sd", "rounds"), [(0.6, 0), (0.1, 3)])
def test_a_conjugate_normal_model_is_reproduced(sd: float, rounds: int) -> None:
    """Evidence, posterior mean and spread of a linear normal model are the exact ones, sharp or broad."""
    log_evidence, mean, cover = exact(READ, MIX, sd)
    found = weigh(toy(READ, MIX, sd), 3, seed=(3, 1), samples=6000, rounds=rounds, wanted_size=4000)
    assert abs(found.log_evidence - log_evidence) < 4 * found.relative_se
    assert found.relative_se < 0.06
    posterior = found.weight @ found.points
    spread = found.weight @ (found.points - posterior) ** 2
    bound = 4 * np.sqrt(np.diag(cover) / found.size)
    assert np.all(np.abs(posterior - mean) < bound)
    assert np.allclose(spread, np.diag(cover), rtol=8 / math.sqrt(found.size), atol=0.01)


def test_drawing_nearer_finds_more_rows_and_no_other_evidence() -> None:
    """Later rounds raise the effective size many times and leave the evidence where it was."""
    plain = weigh(toy(READ, MIX, 0.03), 3, seed=(5,), samples=4000)
    near = weigh(toy(READ, MIX, 0.03), 3, seed=(5,), samples=4000, rounds=3, wanted_size=1e9)
    assert near.size > 10 * plain.size
    exact_log = exact(READ, MIX, 0.03)[0]
    assert abs(near.log_evidence - exact_log) < 4 * near.relative_se


def test_chances_of_two_normal_models_are_exact() -> None:
    """Two explanations of one reading get the chances their exact evidences and priors give."""
    mixes = (np.array([[1.0, 0.3]]), np.array([[2.5, -0.4]]))
    reading, prior = np.array([2.2]), np.array([0.3, 0.1])
    found = [weigh(toy(reading, m, 0.5), 2, seed=(i,), samples=8000) for i, m in enumerate(mixes)]
    worth = prior * np.exp([exact(reading, m, 0.5)[0] for m in mixes])
    chance, se = chances_of(
        np.array([f.log_evidence for f in found]), np.array([f.relative_se for f in found]), prior
    )
    assert math.isclose(float(chance.sum()), 1.0)
    assert np.all(np.abs(chance - worth / worth.sum()) < 4 * se)
    assert np.all(se < 0.02)


def test_the_stated_error_is_the_scatter_over_seeds() -> None:
    """Over many seeds the evidence scatters by its own stated standard error."""
    logs = [weigh(toy(READ, MIX, 0.5), 3, seed=(s,), samples=1500) for s in range(40)]
    scatter = np.std([f.log_evidence for f in logs], ddof=1)
    stated = np.mean([f.relative_se for f in logs])
    assert 0.7 < scatter / stated < 1.4


def test_nothing_that_fits_gives_no_weight() -> None:
    """Where no row is possible the evidence is nothing, no row weighs, and other explanations win."""
    found = weigh(lambda z: np.full(len(z), -np.inf), 2, seed=(1,), samples=50, rounds=2)
    assert found.log_evidence == -np.inf
    assert not found.weight.any()
    chance, _ = chances_of(np.array([-np.inf, -3.0]), np.array([1.0, 0.1]), np.array([0.9, 0.1]))
    assert chance.tolist() == [0.0, 1.0]


def test_a_likelihood_that_says_nothing_leaves_no_doubt() -> None:
    """Where every row is as likely the evidence is that likelihood, without any error."""
    found = weigh(lambda z: np.full(len(z), -2.5), 2, seed=(1,), samples=50)
    assert found.log_evidence == pytest.approx(-2.5)
    assert found.relative_se == 0.0


def test_effective_size_counts_even_weights() -> None:
    """Even weights count in full, one alone counts once, none not at all."""
    assert effective_size(np.full(7, 0.2)) == pytest.approx(7)
    assert effective_size(np.array([0.0, 3.0, 0.0])) == pytest.approx(1)
    assert effective_size(np.zeros(4)) == 0.0
