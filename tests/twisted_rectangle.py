"""Textbook stresses of a twisted rectangle, a yardstick for what the strip works out for itself.

Source: S. P. Timoshenko and J. N. Goodier, *Theory of Elasticity*, torsion of a rectangular bar, for the
isotropic series; S. G. Lekhnitskii for the stretch (both from memory, no page seen). The numbers are
checked in `published/test_torsion_rectangle.py` against the printed table of rectangle constants.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array

_ODD = np.array([1.0, 3.0, 5.0, 7.0])
_CATALAN = 0.915965594177219015  # alternating sum of 1/n^2 over odd n


@dataclass(frozen=True, eq=False)
class TwistStress:
    """Largest shear stress for one radian of twist per millimetre, shapes as the inputs.

    Attributes
    ----------
    tall_face : numpy.ndarray
        tau_sz at the middle of the faces n = +-w/2. [MPa mm]
    flat_face : numpy.ndarray
        tau_sn at the middle of the faces z = +-T/2. [MPa mm]
    """

    tall_face: Array
    flat_face: Array


def stress_per_twist(
    *, thickness_mm: Array, width_mm: Array, G_sz_MPa: Array, G_sn_MPa: Array
) -> TwistStress:
    """Largest shear stresses on both pairs of faces for unit twist per length.

    Written for a tall section, q >= 1 (a flat one is the same with its sides exchanged):
    tall faces: G_sz w [1 - (8/pi^2) sum over odd n of 1/(n^2 cosh(n pi q/2))]
    flat faces: w sqrt(G_sz G_sn) (8/pi^2) sum over odd n of (-1)^((n-1)/2) tanh(n pi q/2)/n^2

    Parameters
    ----------
    thickness_mm, width_mm : numpy.ndarray
        Section T by w, scalars or shape (n,). [mm]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall and of the flat faces, scalars or shape (n,). [MPa]

    Returns
    -------
    TwistStress
        Stress over twist. [MPa mm]

    Examples
    --------
    >>> s = stress_per_twist(thickness_mm=6.0, width_mm=8.0, G_sz_MPa=316.0, G_sn_MPa=745.0)
    >>> round(float(s.tall_face)), round(float(s.flat_face))
    (1872, 2717)
    """
    q = np.asarray(thickness_mm / np.asarray(width_mm) * np.sqrt(G_sn_MPa / np.asarray(G_sz_MPa)))
    tall = q >= 1
    slender = np.maximum(q, 1 / q)[..., None]
    decay = np.exp(-_ODD * np.pi * slender / 2)
    # Middle of the long pair of faces (stretched), and of the short pair.
    long_part = 1 - 8 / np.pi**2 * (2 * decay / (1 + decay**2) / _ODD**2).sum(axis=-1)
    sign = (-1.0) ** ((_ODD - 1) / 2)
    lost = (sign * 2 * decay**2 / (1 + decay**2) / _ODD**2).sum(axis=-1)
    short_part = 8 / np.pi**2 * (_CATALAN - lost)
    both = np.sqrt(np.asarray(G_sz_MPa) * G_sn_MPa)
    width, height = np.asarray(width_mm), np.asarray(thickness_mm)
    return TwistStress(
        tall_face=np.asarray(np.where(tall, G_sz_MPa * width * long_part, both * height * short_part)),
        flat_face=np.asarray(np.where(tall, both * width * short_part, G_sn_MPa * height * long_part)),
    )
