"""The weakest link against pieces whose chance has a closed form, and against plain sampling."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from fitsim.errors import OutsideModelError
from fitsim.wood.weakest_link import (
    beam_volume_mm3,
    between_boards,
    chance_of_any,
    chance_of_risk,
    chances_of_risks,
    reference_volume_mm3,
    stress_scale,
)

SHAPES = (5.0, 6.0, 7.0, 8.0, 9.0, 10.0)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("total", [0.25, 0.31])
def test_the_handbook_piece_gives_back_its_mean_and_the_scatter_held(shape: float, total: float) -> None:
    """Loaded to breaking, pieces of the reference volume have the printed mean and the total scatter."""
    mean, between = 3.9, between_boards(total, shape)

    def survives(stress: float) -> float:
        return 1 - chance_of_risk((stress / mean) ** shape, shape=shape, between=between)

    ends = {"limit": 400, "epsabs": 1e-10, "epsrel": 1e-9}
    first, _ = quad(survives, 0, 12 * mean, points=[mean], **ends)
    second, _ = quad(lambda s: 2 * s * survives(s), 0, 12 * mean, points=[mean], **ends)
    assert first == pytest.approx(mean, rel=1e-6)
    assert math.sqrt(second / first**2 - 1) == pytest.approx(total, rel=1e-5)


@pytest.mark.parametrize("shape", [5.0, 8.0])
def test_an_even_bar_is_weaker_by_its_volume_to_one_over_the_shape(shape: float) -> None:
    """Half of the bars of a volume V break at f (V_ref/V)^(1/m) (ln 2)^(1/m)/Gamma(1 + 1/m)."""
    volume = 3.7 * reference_volume_mm3(shape)
    median = math.log(2) ** (1 / shape) / math.gamma(1 + 1 / shape) * 3.7 ** (-1 / shape)
    risk = median**shape * volume / reference_volume_mm3(shape)
    assert chance_of_risk(risk, shape=shape, between=0.0) == pytest.approx(0.5, rel=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_bent_beam_counts_by_its_half_in_tension(shape: float) -> None:
    """Three-point bending, sigma = peak (2 x/L)(2 y/h): its integral to the m is b h L/(2 (m + 1)^2)."""
    b, h, L = 9.0, 5.0, 64.0
    along, _ = quad(lambda x: (2 * x / L) ** shape, 0, L / 2)
    deep, _ = quad(lambda y: (2 * y / h) ** shape, 0, h / 2)
    found = beam_volume_mm3(width_mm=b, depth_mm=h, span_mm=L, shape=shape)
    assert found == pytest.approx(b * 2 * along * deep, rel=1e-9)


def test_rare_and_certain_breaks_go_to_their_limits() -> None:
    """P tends to Gamma(1 + 1/m)^m R E[B^-m] for small risks and to 1 for great ones."""
    m, between = 6.0, 0.155
    spread = math.log1p(between**2)
    # B lognormal of mean 1: E[B^-m] = (1 + s^2)^(m (m + 1)/2).
    expected = math.gamma(1 + 1 / m) ** m * 1e-9 * math.exp(spread * m * (m + 1) / 2)
    assert chance_of_risk(1e-9, shape=m, between=between) == pytest.approx(expected, rel=1e-6)
    assert chance_of_risk(1e9, shape=m, between=between) == pytest.approx(1.0)
    assert chance_of_risk(0.0, shape=m, between=between) == 0.0


def test_a_mixture_of_two_boards_is_what_plain_sampling_finds() -> None:
    """Two boards' worth of wood in two pieces each: draws of B and of Weibull strengths, piece by piece."""
    rng = np.random.default_rng(7)
    m, between, n = 5.0, 0.21, 400_000
    spread = math.log1p(between**2)
    volume, share = np.array([0.02, 0.007]), np.array([1.05, 1.4])  # of V_ref; stress over f
    whole = float((volume * share**m).sum())
    board = np.exp(math.sqrt(spread) * rng.standard_normal(n) - spread / 2)
    broken = np.zeros(n, dtype=bool)
    for v, s in zip(volume, share, strict=True):
        strength = board * v ** (-1 / m) / math.gamma(1 + 1 / m) * rng.weibull(m, n)
        broken |= strength < s
    chance = chance_of_risk(whole, shape=m, between=between)
    error = math.sqrt(chance * (1 - chance) / n)
    assert float(broken.mean()) == pytest.approx(chance, abs=4 * error)
    # Two boards, one for each piece, are two draws of B: independent, which is another chance.
    apart = [chance_of_risk(v * s**m, shape=m, between=between) for v, s in zip(volume, share, strict=True)]
    other = np.exp(math.sqrt(spread) * rng.standard_normal((2, n)) - spread / 2)
    fails = [
        other[i] * volume[i] ** (-1 / m) / math.gamma(1 + 1 / m) * rng.weibull(m, n) < share[i]
        for i in range(2)
    ]
    assert float((fails[0] | fails[1]).mean()) == pytest.approx(float(chance_of_any(apart)), abs=4 * error)


def test_the_table_holds_the_sum() -> None:
    """Many chances at once are the single ones to 1 in 1000, from 1 in a million to nearly all."""
    risks = np.geomspace(1e-7, 30, 41)
    for m, between in ((5.0, 0.1), (10.0, 0.218)):
        many = chances_of_risks(risks, shape=m, between=between)
        single = [chance_of_risk(float(r), shape=m, between=between) for r in risks]
        assert many == pytest.approx(np.array(single), rel=1e-3)
    assert chances_of_risks(np.zeros(2), shape=5.0, between=0.1).tolist() == [0.0, 0.0]


def test_an_error_of_the_stress_is_one_more_factor() -> None:
    """Stress wrong by a lognormal factor of median 1 gives the mean chance over it, by sampling."""
    rng = np.random.default_rng(3)
    factor = np.exp(0.25 * rng.standard_normal(4000))
    m, between, risk = 6.0, 0.155, 0.004
    mean = np.mean([chance_of_risk(risk * float(x) ** m, shape=m, between=between) for x in factor])
    found = float(chances_of_risks(risk, shape=m, between=between, error_log=0.25))
    assert found == pytest.approx(float(mean), rel=0.1)


def test_stresses_so_many_times_as_hard_have_the_chance_asked_for() -> None:
    """The scale put back into the risks, each to its own shape, gives 1 in 10."""
    risks, shapes, betweens = [3e-4, 2e-5, 0.0, 0.4], [6.0, 10.0, 10.0, 7.0], [0.155, 0.07, 0.07, 0.1]
    x = stress_scale(risks, shapes=shapes, betweens=betweens, chance=0.1)
    at = [
        chance_of_risk(r * x**m, shape=m, between=b)
        for r, m, b in zip(risks, shapes, betweens, strict=True)
    ]
    assert x < 1  # the last way alone breaks more than 1 in 10
    assert 1 - math.prod(1 - p for p in at) == pytest.approx(0.1, rel=1e-4)
    assert math.isinf(stress_scale([0.0], shapes=[6.0], betweens=[0.1]))
    with pytest.raises(OutsideModelError, match="between 0 and 1"):
        stress_scale(risks, shapes=shapes, betweens=betweens, chance=1.0)


def test_the_test_piece_serves_its_shapes_only() -> None:
    """Outside shapes 5 to 10 there is no volume; inside it grows with the shape."""
    volumes = [reference_volume_mm3(m) for m in (5.0, 5.5, 6.0, 7.3, 8.0, 10.0)]
    assert volumes == sorted(volumes)
    # Between a plane-stress solution for tension alone and uniform tension after Barrett (1974).
    assert 25e3 < volumes[0] < 75e3
    assert 25e3 < volumes[-1] < 75e3
    with pytest.raises(OutsideModelError, match="shapes 5 to 10"):
        reference_volume_mm3(12.0)
