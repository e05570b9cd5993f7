"""Twist of an orthotropic rectangular strip (Saint-Venant).

The section is ``width_mm`` (w, in the plane of the board) by ``thickness_mm`` (T). Twisting shears
the tall faces n = +-w/2 through G_sz and the flat faces z = +-T/2 through G_sn. The textbook series
for an isotropic rectangle holds once the thickness is stretched by sqrt(G_sn/G_sz).

Source: S. P. Timoshenko and J. N. Goodier, *Theory of Elasticity*, torsion of a rectangular bar,
for the isotropic series; S. G. Lekhnitskii for the stretch (both from memory, no page seen). The
numbers are checked in tests/published against the printed table of rectangle constants.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, read_only

__all__ = ["SectionPlaces", "section_places", "torsion_stiffness_Nmm2"]


_ODD = np.array([1.0, 3.0, 5.0, 7.0])
"""Terms of the series kept; on the slender side of the square the next is below 1e-9."""
_SUM_FIFTH = 31 / 32 * 1.0369277551433699  # sum of 1/n^5 over odd n, from zeta(5)


def _stretched_ratio(thickness_mm: Array, width_mm: Array, G_sz_MPa: Array, G_sn_MPa: Array) -> Array:
    q = np.asarray(thickness_mm) / np.asarray(width_mm) * np.sqrt(G_sn_MPa / np.asarray(G_sz_MPa))
    return np.asarray(q, dtype=np.float64)


def torsion_stiffness_Nmm2(
    *, thickness_mm: Array, width_mm: Array, G_sz_MPa: Array, G_sn_MPa: Array
) -> Array:
    """Torque for one radian of twist per millimetre, D = G_sz T w^3 B(q).

    B(q) = (32 q^2/pi^4) sum over odd n of (1/n^4) [1 - (2q/(n pi)) tanh(n pi/(2q))],
    q = (T/w) sqrt(G_sn/G_sz).

    Parameters
    ----------
    thickness_mm, width_mm : numpy.ndarray
        Section T by w, scalars or shape (n,). [mm]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall and of the flat faces, scalars or shape (n,). [MPa]

    Returns
    -------
    numpy.ndarray
        Torsion stiffness. [N mm^2]

    Examples
    --------
    >>> D = torsion_stiffness_Nmm2(thickness_mm=20.0, width_mm=8.0, G_sz_MPa=1000.0, G_sn_MPa=600.0)
    >>> f"{float(D):.4e}"
    '2.3075e+06'
    """
    q = _stretched_ratio(thickness_mm, width_mm, G_sz_MPa, G_sn_MPa)
    # The same section seen from its other side has 1/q and B(q) = q^2 B(1/q): the series is summed
    # on the side where tanh is 1 but for a term that dies at once.
    flat = np.minimum(q, 1 / q)
    decay = np.exp(-_ODD * np.pi / flat[..., None])
    tail = (2 * decay / (1 + decay) / _ODD**5).sum(axis=-1)
    B = 32 * flat**2 / np.pi**4 * (np.pi**4 / 96 - 2 * flat / np.pi * (_SUM_FIFTH - tail))
    B = np.where(q > 1, q**2 * B, B)
    return np.asarray(G_sz_MPa * np.asarray(thickness_mm) * np.asarray(width_mm) ** 3 * B)


@dataclass(frozen=True, eq=False)
class SectionPlaces:
    """Places all over a section, each standing for a share of its area; arrays of shape (places,).

    Attributes
    ----------
    out, up : numpy.ndarray
        2 n/w and 2 z/T, each from -1 to 1; the faces and their middles are among the places. [-]
    share : numpy.ndarray
        Share of the section's area, adding up to 1. [-]
    """

    out: Array
    up: Array
    share: Array


@lru_cache(maxsize=16)
def section_places(across: int, through: int) -> SectionPlaces:
    """Gauss-Lobatto places over a section: exact for polynomials of degree 2 n - 3 either way.

    Parameters
    ----------
    across, through : int
        Places over the width and through the thickness, both odd and at least 3.

    Returns
    -------
    SectionPlaces
        across x through places.
    """
    out, weight_out = _lobatto(across)
    up, weight_up = _lobatto(through)
    return SectionPlaces(
        out=read_only(np.repeat(out, through)),
        up=read_only(np.tile(up, across)),
        share=read_only(np.outer(weight_out, weight_up).ravel() / 4),
    )


def _lobatto(count: int) -> tuple[Array, Array]:
    last = np.polynomial.legendre.Legendre.basis(count - 1)
    place = np.concatenate([[-1.0], np.sort(last.deriv().roots().real), [1.0]])
    place[count // 2] = 0.0
    return place, np.asarray(2 / (count * (count - 1) * last(place) ** 2))
