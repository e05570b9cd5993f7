"""Will the wood hold? Stresses resolved into grain axes against strength, and the chance of splitting.

The rule for several stresses at once is a quadratic interaction (C. B. Norris, 1962, from memory):
the wood is at its mean strength where the sum of the squared shares below is 1. Compression across
the grain crushes but does not split and is left out. A place's chance of splitting is the chance that
a normally distributed strength is below the stress there, with the published scatter of each strength
weighed by its part in the sum.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.moisture import wood_at_moisture
from fitsim.wood import Wood, variability

__all__ = [
    "CAUSES",
    "GrainStrength",
    "GrainStress",
    "chance_below",
    "grain_strength",
    "grain_stress",
    "ratio_and_margin",
    "small_piece_factor",
    "strength_shares",
]

CAUSES = ("shear along the grain", "rolling shear", "tension across the grain", "bending along the grain")
"""The four ways wood can give, in the order of the rows of :func:`strength_shares`."""


TESTED_VOLUME_MM3 = 16387.0
"""One cubic inch, the unit volume of the size rule below. [mm^3]"""

SIZE_EXPONENT = 0.20
"""Tension across the grain falls with stressed volume to this power: from 460 psi at one cubic inch to
about 100 psi at 2000 cubic inches, Douglas-fir (J. D. Barrett, Wood and Fiber 6 (1974), abstract). [-]"""

STRESSED_SHARE = 0.01
"""Part of a quarter turn that counts as fully stressed: torsion stress to the fifth power (1 over the size
exponent), averaged over a section (about 0.03) and over a quarter turn (|sin 2 psi|^5, 0.34). [-]"""


@dataclass(frozen=True)
class GrainStrength:
    """Mean strengths by direction and their coefficients of variation.

    Attributes
    ----------
    shear_along_MPa, rolling_shear_MPa, tension_across_MPa, bending_MPa : float
        Shear parallel to the grain, shear rolling the fibres, tension across, bending. [MPa]
    shear_along_cov, rolling_shear_cov, tension_across_cov, bending_cov : float
        Standard deviation over mean. [-]
    """

    shear_along_MPa: float
    rolling_shear_MPa: float
    tension_across_MPa: float
    bending_MPa: float
    shear_along_cov: float
    rolling_shear_cov: float
    tension_across_cov: float
    bending_cov: float


@dataclass(frozen=True, eq=False)
class GrainStress:
    """Stress in grain axes, arrays of one shape.

    Attributes
    ----------
    along_MPa : numpy.ndarray
        Along the grain, tension positive. [MPa]
    shear_along_MPa : numpy.ndarray
        Shear on planes along the grain, both together. [MPa]
    rolling_shear_MPa : numpy.ndarray
        Shear that rolls the fibres over each other. [MPa]
    tension_across_MPa : numpy.ndarray
        Greatest tension across the grain: radial, tangential or straight across the board; 0 in
        compression. [MPa]
    """

    along_MPa: Array
    shear_along_MPa: Array
    rolling_shear_MPa: Array
    tension_across_MPa: Array


def grain_strength(wood: Wood, moisture_percent: float) -> GrainStrength:
    """Strengths of a wood at a moisture content, with the published scatter of clear wood.

    Parameters
    ----------
    wood : Wood
        Values at 12 percent.
    moisture_percent : float
        Moisture content. [percent]

    Returns
    -------
    GrainStrength
        The moisture rule does not serve tension across the grain; that one stays as it is.
    """
    now, scatter = wood_at_moisture(wood, moisture_percent), variability()
    return GrainStrength(
        shear_along_MPa=now.shear_along_MPa.value,
        rolling_shear_MPa=now.rolling_shear_MPa.value,
        tension_across_MPa=now.tension_across_MPa.value,
        bending_MPa=now.bending_strength_MPa.value,
        shear_along_cov=scatter["shear_along"].value,
        rolling_shear_cov=scatter["rolling_shear"].value,
        tension_across_cov=scatter["tension_across"].value,
        bending_cov=scatter["bending"].value,
    )


def small_piece_factor(*, width_mm: float, thickness_mm: float, radius_mm: float) -> float:
    """How much stronger across the grain a strip may be than the test pieces of the handbooks.

    The published size rule carried down to the strip's little stressed volume, two decades below the
    pieces it was drawn from: an upper end, not a value to count on.

    Parameters
    ----------
    width_mm, thickness_mm, radius_mm : float
        Width and thickness of the strip, radius of the turn. [mm]

    Returns
    -------
    float
        At least 1. [-]

    Examples
    --------
    >>> round(small_piece_factor(width_mm=5.7, thickness_mm=19.05, radius_mm=28.0), 2)
    3.21
    """
    volume = STRESSED_SHARE * width_mm * thickness_mm * radius_mm * math.pi / 2
    return float(max(1.0, (TESTED_VOLUME_MM3 / volume) ** SIZE_EXPONENT))


def grain_stress(
    *, sigma_s_MPa: Array, tau_sn_MPa: Array, tau_sz_MPa: Array, psi_rad: Array, ring_angle_rad: float
) -> GrainStress:
    """Resolve stresses on a strip's section into grain axes.

    Parameters
    ----------
    sigma_s_MPa, tau_sn_MPa, tau_sz_MPa : numpy.ndarray
        Along the strip (tension positive); shear of s with the outward normal n; shear of s with the
        thickness z; any one shape. [MPa]
    psi_rad : numpy.ndarray
        Angle from the grain to the strip's tangent, the same shape. [rad]
    ring_angle_rad : float
        Growth rings against the face of the board, 0 flat-sawn. [rad]

    Returns
    -------
    GrainStress
        Arrays of that shape.
    """
    c, s = np.cos(psi_rad), np.sin(psi_rad)
    # Board axes: the tangent is (c, s), the outward normal of a counter-clockwise strip (s, -c).
    along = sigma_s_MPa * c**2 + 2 * tau_sn_MPa * c * s
    across = sigma_s_MPa * s**2 - 2 * tau_sn_MPa * c * s
    shear_xy = sigma_s_MPa * c * s - tau_sn_MPa * (c**2 - s**2)
    shear_xz, shear_yz = tau_sz_MPa * c, tau_sz_MPa * s
    C, S = np.cos(ring_angle_rad), np.sin(ring_angle_rad)
    tangential = C**2 * across - 2 * C * S * shear_yz
    radial = S**2 * across + 2 * C * S * shear_yz
    pull = np.maximum(np.maximum(tangential, radial), np.maximum(across, 0.0))
    return GrainStress(
        along_MPa=np.asarray(along),
        shear_along_MPa=np.asarray(np.hypot(shear_xy, shear_xz)),
        rolling_shear_MPa=np.asarray(np.abs(C * S * across + (C**2 - S**2) * shear_yz)),
        tension_across_MPa=np.asarray(pull),
    )


def strength_shares(stress: GrainStress, strength: GrainStrength) -> Array:
    """Squared stress over strength in the four directions of :data:`CAUSES`, shape (4, ...).

    Parameters
    ----------
    stress : GrainStress
        Arrays of any one shape.
    strength : GrainStrength
        Mean strengths.

    Returns
    -------
    numpy.ndarray
        Their sum is 1 at mean strength, shape (4, ...). [-]
    """
    tension = stress.tension_across_MPa / strength.tension_across_MPa
    bending = stress.along_MPa / strength.bending_MPa
    return np.stack(
        [
            (stress.shear_along_MPa / strength.shear_along_MPa) ** 2,
            (stress.rolling_shear_MPa / strength.rolling_shear_MPa) ** 2,
            tension**2,
            # Norris: the cross term adds where the two have opposite signs; relief is not counted on.
            bending**2 + np.maximum(-bending, 0.0) * tension,
        ]
    )


def ratio_and_margin(shares: Array, strength: GrainStrength) -> tuple[Array, Array]:
    """Stress over mean strength, and how many standard deviations of strength it lies above 1.

    Parameters
    ----------
    shares : numpy.ndarray
        From :func:`strength_shares`, shape (4, ...). [-]
    strength : GrainStrength
        For the scatter.

    Returns
    -------
    ratio, margin : numpy.ndarray
        Of the shape behind the first axis; margin is negative on the safe side. [-]
    """
    cov = np.array(
        [
            strength.shear_along_cov,
            strength.rolling_shear_cov,
            strength.tension_across_cov,
            strength.bending_cov,
        ]
    )
    square = shares.sum(axis=0)
    ratio = np.sqrt(square)
    weight = shares / np.maximum(square, 1e-300)
    scatter = np.sqrt(np.einsum("d...,d->...", weight**2, cov**2))
    return ratio, (ratio - 1) / np.maximum(scatter, 1e-9)


def chance_below(margin: float) -> float:
    """Chance that a normal strength lies below the stress, for a margin in standard deviations.

    Parameters
    ----------
    margin : float
        From :func:`ratio_and_margin`. [-]

    Returns
    -------
    float
        Chance. [-]
    """
    return 0.5 * math.erfc(-margin / math.sqrt(2))
