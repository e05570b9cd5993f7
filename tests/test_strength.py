"""Stress resolved to the grain, and the rule that holds it against strength."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.strength import (
    GrainStrength,
    chance_below,
    grain_stress,
    ratio_and_margin,
    strength_shares,
)

STRONG = GrainStrength(
    shear_along_MPa=11.7,
    rolling_shear_MPa=3.4,
    tension_across_MPa=3.9,
    bending_MPa=85.0,
    shear_along_cov=0.14,
    rolling_shear_cov=0.13,
    tension_across_cov=0.25,
    bending_cov=0.16,
)
stresses = st.floats(-20, 20)
angles = st.floats(-7, 7)


def turned(axis: int, angle: float) -> np.ndarray:
    """Rotation matrix about a coordinate axis."""
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    R = np.eye(3)
    R[i, i] = R[j, j] = math.cos(angle)
    R[j, i], R[i, j] = math.sin(angle), -math.sin(angle)
    return R


@given(stresses, stresses, stresses, angles, st.floats(0, math.pi / 2))
def test_resolved_stress_is_the_turned_tensor(
    s: float, sn: float, sz: float, psi: float, ring: float
) -> None:
    """Turning the whole stress tensor by rotation matrices gives the same parts in grain axes."""
    # Strip axes s, m = left-hand normal (-n), z; shear with n has the other sign with m.
    tensor = np.array([[s, -sn, sz], [-sn, 0, 0], [sz, 0, 0]])
    board = turned(2, psi) @ tensor @ turned(2, psi).T
    # The wood's T axis is y turned towards -z by the ring angle, its R axis z turned towards y.
    wood = turned(0, -ring).T @ board @ turned(0, -ring)
    got = grain_stress(
        sigma_s_MPa=np.array([s]),
        tau_sn_MPa=np.array([sn]),
        tau_sz_MPa=np.array([sz]),
        psi_rad=np.array([psi]),
        ring_angle_rad=ring,
    )
    assert got.along_MPa[0] == pytest.approx(wood[0, 0], abs=1e-9)
    assert got.shear_along_MPa[0] == pytest.approx(math.hypot(wood[0, 1], wood[0, 2]), abs=1e-9)
    assert got.rolling_shear_MPa[0] == pytest.approx(abs(wood[1, 2]), abs=1e-9)
    pull = max(wood[1, 1], wood[2, 2], board[1, 1], 0)
    assert got.tension_across_MPa[0] == pytest.approx(pull, abs=1e-9)


def test_a_single_stress_at_its_strength_is_ratio_one() -> None:
    """Each strength alone, reached exactly, gives ratio 1 and an even chance."""
    zero = np.zeros(4)
    sigma = np.array([0.0, 0.0, 3.9, 85.0])
    psi = np.array([0.0, math.pi / 2, math.pi / 2, 0.0])
    tau_sz = np.array([11.7, 3.4, 0.0, 0.0])
    resolved = grain_stress(
        sigma_s_MPa=sigma, tau_sn_MPa=zero, tau_sz_MPa=tau_sz, psi_rad=psi, ring_angle_rad=0.0
    )
    ratio, margin = ratio_and_margin(strength_shares(resolved, STRONG), STRONG)
    assert ratio == pytest.approx(np.ones(4))
    assert [chance_below(float(m)) for m in margin] == pytest.approx([0.5] * 4)


def test_scatter_of_one_strength_is_its_own_normal_distribution() -> None:
    """Rolling shear alone at 80 percent of the mean: the chance of a normal with 13 percent scatter."""
    resolved = grain_stress(
        sigma_s_MPa=np.zeros(1),
        tau_sn_MPa=np.zeros(1),
        tau_sz_MPa=np.array([0.8 * 3.4]),
        psi_rad=np.array([math.pi / 2]),
        ring_angle_rad=0.0,
    )
    _, margin = ratio_and_margin(strength_shares(resolved, STRONG), STRONG)
    exact = 0.5 * math.erfc((1 - 0.8) / 0.13 / math.sqrt(2))
    assert chance_below(float(margin[0])) == pytest.approx(exact)


def test_compression_across_the_grain_does_not_split() -> None:
    """A strip pressed together where it crosses the grain uses no strength against splitting."""
    resolved = grain_stress(
        sigma_s_MPa=np.array([-30.0]),
        tau_sn_MPa=np.zeros(1),
        tau_sz_MPa=np.zeros(1),
        psi_rad=np.array([math.pi / 2]),
        ring_angle_rad=0.0,
    )
    assert float(strength_shares(resolved, STRONG).sum()) == pytest.approx(0.0, abs=1e-20)
