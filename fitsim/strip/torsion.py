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

__all__ = [
    "SectionPlaces",
    "TwistStress",
    "face_stress_per_twist",
    "section_places",
    "section_stress_per_twist",
    "stress_per_twist",
    "torsion_stiffness_Nmm2",
]


_ODD = np.array([1.0, 3.0, 5.0, 7.0])
"""Terms of the series kept; on the slender side of the square the next is below 1e-9."""
_MANY_ODD = np.arange(1.0, 160.0, 2.0)
"""Terms kept for places off the middle of a face; the alternating rest is below 5e-5."""
_SUM_FIFTH = 31 / 32 * 1.0369277551433699  # sum of 1/n^5 over odd n, from zeta(5)
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
    q = _stretched_ratio(thickness_mm, width_mm, G_sz_MPa, G_sn_MPa)
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


def face_stress_per_twist(
    *, thickness_mm: Array, width_mm: Array, G_sz_MPa: Array, G_sn_MPa: Array, share: float
) -> TwistStress:
    """Shear stresses for unit twist at a place of each face, away from its middle.

    Parameters
    ----------
    thickness_mm, width_mm : numpy.ndarray
        Section T by w, shape (n,). [mm]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall and of the flat faces, shape (n,). [MPa]
    share : float
        The place: 0 the middle of the face, 1 its edge. [-]

    Returns
    -------
    TwistStress
        Stress over twist, arrays of shape (n,). [MPa mm]
    """
    q = _stretched_ratio(thickness_mm, width_mm, G_sz_MPa, G_sn_MPa)[..., None]
    n, half = _MANY_ODD, _MANY_ODD * np.pi / 2
    # cosh(half q share)/cosh(half q), written so that nothing overflows.
    fall = np.exp(-half * q * (1 - share)) * (1 + np.exp(-2 * half * q * share))
    fall /= 1 + np.exp(-2 * half * q)
    tall = 1 - 8 / np.pi**2 * (fall / n**2).sum(axis=-1)
    sign = (-1.0) ** ((n - 1) / 2)
    flat = 8 / np.pi**2 * (sign * np.cos(half * share) * np.tanh(half * q) / n**2).sum(axis=-1)
    width = np.asarray(width_mm)
    return TwistStress(
        tall_face=np.asarray(G_sz_MPa * width * tall),
        flat_face=np.asarray(np.sqrt(np.asarray(G_sz_MPa) * G_sn_MPa) * width * flat),
    )


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


_LOG_Q = np.linspace(np.log(0.02), np.log(50.0), 321)


@lru_cache(maxsize=16)
def _unit_stress(across: int, through: int) -> tuple[Array, Array]:
    """Both stresses over w G_sz and w sqrt(G_sz G_sn), shape (q, places), by the slender side's series."""
    at = section_places(across, through)
    q = np.exp(_LOG_Q)
    tall = q >= 1
    # Seen from its other side a flat section is a tall one of 1/q, its two stresses exchanged.
    slender = np.maximum(q, 1 / q)[:, None]
    near, far = (np.where(tall[:, None], a, b) for a, b in ((at.out, at.up), (at.up, at.out)))
    even, odd = np.zeros_like(near), np.zeros_like(near)
    for i, n in enumerate(_MANY_ODD):
        half, sign = n * np.pi / 2, (-1.0) ** i
        # cosh and sinh of half slender far over cosh of half slender, written so that nothing overflows.
        rise = np.exp(-half * slender * (1 - np.abs(far)))
        fall = np.exp(-2 * half * slender * np.abs(far))
        scale = rise / (1 + np.exp(-2 * half * slender))
        even += sign / n**2 * np.sin(half * near) * scale * (1 + fall)
        odd += sign / n**2 * np.cos(half * near) * scale * (1 - fall) * np.sign(far)
    main, cross = near - 8 / np.pi**2 * even, 8 / np.pi**2 * odd
    # For q < 1 the side in the formulas is T: T sqrt(G_sz G_sn) = q w G_sn ... all brought to w.
    q_, t_ = q[:, None], tall[:, None]
    return (
        read_only(np.where(t_, main, q_ * cross)),
        read_only(np.where(t_, cross, q_ * main)),
    )


def section_stress_per_twist(
    *,
    thickness_mm: Array,
    width_mm: Array,
    G_sz_MPa: Array,
    G_sn_MPa: Array,
    across: int,
    through: int,
) -> TwistStress:
    """Shear stresses for unit twist at places all over a section, signed, read off a table by q.

    tau_sz = G_sz w [nu - (8/pi^2) sum over odd n of (-1)^((n-1)/2)/n^2 sin(n pi nu/2) cosh(n pi q zeta/2)
    / cosh(n pi q/2)] and tau_sn = w sqrt(G_sz G_sn) (8/pi^2) sum of (-1)^((n-1)/2)/n^2 cos(n pi nu/2)
    sinh(n pi q zeta/2)/cosh(n pi q/2), nu = 2 n/w, zeta = 2 z/T.

    Parameters
    ----------
    thickness_mm, width_mm : numpy.ndarray
        Section T by w, shape (n,). [mm]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall and of the flat faces, shape (n,). [MPa]
    across, through : int
        As for :func:`section_places`.

    Returns
    -------
    TwistStress
        ``tall_face`` is tau_sz, growing with n; ``flat_face`` is tau_sn, growing with z; shape
        (n, places). The rest of the table is below 1e-4 of the greatest. [MPa mm]
    """
    q = _stretched_ratio(thickness_mm, width_mm, G_sz_MPa, G_sn_MPa)
    place = np.clip(np.interp(np.log(q), _LOG_Q, np.arange(len(_LOG_Q))), 0, len(_LOG_Q) - 1 - 1e-9)
    low = place.astype(np.int64)
    part = (place - low)[:, None]
    sz, sn = (t[low] * (1 - part) + t[low + 1] * part for t in _unit_stress(across, through))
    width = np.asarray(width_mm)
    return TwistStress(
        tall_face=np.asarray((G_sz_MPa * width)[:, None] * sz),
        flat_face=np.asarray((np.sqrt(G_sz_MPa * np.asarray(G_sn_MPa)) * width)[:, None] * sn),
    )
