"""A curved bar of rectangular or leaning section: strains where its sections turn, shift and warp.

A straight bar's formulas are low on the inner side of a turn and high on the outer: a fibre at the distance
n outside the middle of a turn of radius r is longer by 1 + n/r, and the same turning of one section against
the next strains it less. A section that is twisted or sheared also warps along the strip, and wood off its
grain is bent and sheared a little in the section's own plane besides. How much follows from the energy.

Axes as everywhere: n outward in the plane of the board, t (s) along the strip, b (z) through the thickness,
n x t = b. Every section moves as a whole; what it does besides is written in products of Legendre
polynomials over the section, f along the strip, g_n and g_z in its plane, with amplitudes p that vary
along the strip:

    e_s  = (G_t - K_n z + K_b n + p' f) / h + p g_n/(r h),       h = 1 + n/r
    g_sn = (G_n + K_t z + p' g_n) / h + p (df/dn - f/(r h))
    g_sz = (G_b - K_t n + p' g_z) / h + p df/dz
    e_n  = p dg_n/dn,   e_z = p dg_z/dz,   g_nz = p (dg_n/dz + dg_z/dn)

with G the stretch and shears of the middle line, K the turning per length.

Sources: strains in the coordinates of a ring, A. E. H. Love, *Mathematical Theory of Elasticity*; the same
energy gives Winkler's curved beam and, for a ring pulled along its axis, Goehner's helical spring (all
from memory, no page seen).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial import legendre

from fitsim.arrays import Array, IntArray
from fitsim.errors import OutsideModelError

__all__ = [
    "ALONG",
    "AMPLITUDES",
    "OUTWARD",
    "BarStress",
    "CurvedBar",
    "Places",
    "bar_stress",
    "places_mm",
    "places_of",
]


@dataclass(frozen=True, eq=False)
class CurvedBar:
    """Sections of a bar and the wood in them, arrays of shape (m,) but for the thickness.

    Attributes
    ----------
    width_mm : numpy.ndarray
        Width in the plane of the board. [mm]
    thickness_mm : float
        Thickness. [mm]
    lean : numpy.ndarray
        Shift of the section's middle per millimetre of height, tan(tilt). [-]
    curvature_per_mm : numpy.ndarray
        1/r of the middle line, positive with the centre on the inner side; 0 for a straight bar. [1/mm]
    compliance_per_MPa : numpy.ndarray
        From :func:`fitsim.wood.grain.strip_compliance`, shape (m, 6, 6). [1/MPa]
    flat : bool
        Whether the sections are wider than thick for the most part: the polynomials then go further across
        than up.
    """

    width_mm: Array
    thickness_mm: float
    lean: Array
    curvature_per_mm: Array
    compliance_per_MPa: Array
    flat: bool = False

    @cached_property
    def stiffness_MPa(self) -> Array:
        """Stresses for all strains, shape (m, 6, 6). [MPa]"""
        return np.asarray(np.linalg.inv(self.compliance_per_MPa), dtype=np.float64)

    def __post_init__(self) -> None:
        """Refuse a section without size and a bar that reaches its own centre."""
        half = self.width_mm / 2 + np.abs(self.lean) * self.thickness_mm / 2
        if np.any(self.width_mm <= 0) or self.thickness_mm <= 0:
            raise OutsideModelError("a curved bar needs a width and a thickness above zero everywhere")
        if np.any(half * np.abs(self.curvature_per_mm) >= 1):
            raise OutsideModelError("a curved bar's section reaches the centre of its turn")


@dataclass(frozen=True, eq=False)
class BarStress:
    """Stresses at places of sections, arrays of shape (m, places).

    Attributes
    ----------
    sigma_s_MPa : numpy.ndarray
        Along the bar, tension positive. [MPa]
    tau_sn_MPa, tau_sz_MPa : numpy.ndarray
        Shear of s with the outward normal and with the thickness. [MPa]
    sigma_n_MPa, sigma_z_MPa, tau_nz_MPa : numpy.ndarray
        In the plane of the section: outward, through the thickness, and their shear; what curvature and
        grain make of them, without the pressure of a neighbour. [MPa]
    """

    sigma_s_MPa: Array
    tau_sn_MPa: Array
    tau_sz_MPa: Array
    sigma_n_MPa: Array
    sigma_z_MPa: Array
    tau_nz_MPa: Array


def _degrees(*pairs: tuple[int, int]) -> IntArray:
    return np.array(pairs, dtype=np.int64)


_ALONG = _degrees(
    *((a, b) for a in (1, 3, 5) for b in (1, 3, 5, 7)),  # twist
    *((0, 3), (0, 5), (2, 1), (2, 3), (2, 5), (4, 1), (4, 3)),  # shear through the thickness, curvature
    *((1, 2), (1, 4), (3, 0), (3, 2), (5, 0)),  # shear in the plane of the board
    *((0, 2), (0, 4), (2, 0), (2, 2), (4, 0)),
)
_OUT = _degrees(
    *((a, b) for a in (1, 3) for b in (1, 3, 5)),
    *((1, 7), (1, 0), (2, 0), (0, 2), (0, 3), (0, 4), (0, 5), (2, 1), (1, 2), (2, 3), (4, 1)),
)
_UP = _degrees(
    *((a, b) for a in (0, 2) for b in (2, 4, 6)),
    *((2, 0), (0, 1), (0, 3), (1, 1), (1, 3), (1, 2), (1, 4), (2, 1), (3, 0)),
)
"""Degrees across the width and up the thickness of a tall section. The odd-odd ones along the strip go
furthest: the greatest stresses of twist then come within 1 percent of the closed form for sections up to
five times as tall as wide. What the wood contracts and shears by in the section's plane has to be followed
nearly as far, or the section comes out too stiff."""

AMPLITUDES = len(_ALONG) + len(_OUT) + len(_UP) + 1
"""How many amplitudes a section has; the last shears it in its plane without turning it."""

ALONG, OUTWARD = len(_ALONG), len(_OUT)
"""How many of them, the first ones, lie along the strip, and how many of the next outward; the rest lie
upward."""

_A, _O, _K = ALONG, ALONG + OUTWARD, AMPLITUDES


def _basis(bar: CurvedBar) -> tuple[IntArray, IntArray, IntArray]:
    """Degrees along, outward and upward; those of a section wider than thick are exchanged."""
    if not bar.flat:
        return _ALONG, _OUT, _UP
    # As many of each as in a tall section, so that the columns stay where they are.
    extra = _degrees((0, 4), (1, 4))
    return _ALONG[:, ::-1], np.concatenate([_UP[:, ::-1], extra])[: len(_OUT)], _OUT[: len(_UP), ::-1]


def places_mm(bar: CurvedBar, across: Array, up: Array) -> tuple[Array, Array]:
    """Where the places of the sections are, n (m, places) and z (places,). [mm]

    Parameters
    ----------
    bar : CurvedBar
        Sections.
    across, up : numpy.ndarray
        Places, -1 the inner or lower face, 1 the outer or upper one, shape (places,). [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        n from the section's middle and z from mid-thickness. [mm]
    """
    z = np.asarray(up) * bar.thickness_mm / 2
    n = bar.width_mm[:, None] / 2 * across + bar.lean[:, None] * z
    return n, z


def _legendre(degree: IntArray, at: Array) -> tuple[Array, Array]:
    """Legendre polynomials of the degrees and their slopes at places, (places, k) each."""
    unit = np.eye(int(degree.max()) + 1)
    value = legendre.legval(at, unit[degree].T, tensor=True)
    slope = legendre.legval(at, legendre.legder(unit[degree].T), tensor=True)
    return np.asarray(value.T, dtype=np.float64), np.asarray(slope.T, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Places:
    """Places of a section with the values and slopes of the polynomials there; the same for all sections.

    Attributes
    ----------
    across, up : numpy.ndarray
        Places, -1 to 1, shape (places,). [-]
    along, outward, upward : tuple of numpy.ndarray
        Values, slopes across and slopes up of the polynomials, shape (k, places) each. [-]
    """

    across: Array
    up: Array
    along: tuple[Array, Array, Array]
    outward: tuple[Array, Array, Array]
    upward: tuple[Array, Array, Array]


def places_of(bar: CurvedBar, across: Array, up: Array) -> Places:
    """Make places ready for :func:`bar_stress`.

    Parameters
    ----------
    bar : CurvedBar
        Sections; only whether they are flat is used.
    across, up : numpy.ndarray
        Places, -1 the inner or lower face, 1 the outer or upper one, shape (places,). [-]

    Returns
    -------
    Places
        For any state of the bar.
    """

    def shaped(degrees: IntArray) -> tuple[Array, Array, Array]:
        X, dX = _legendre(degrees[:, 0], across)
        Z, dZ = _legendre(degrees[:, 1], up)
        value, by_x, by_z = (np.ascontiguousarray(part.T) for part in (X * Z, dX * Z, X * dZ))
        return value, by_x, by_z

    along, outward, upward = (shaped(degrees) for degrees in _basis(bar))
    return Places(np.asarray(across), np.asarray(up), along, outward, upward)


def bar_stress(bar: CurvedBar, places: Places, motion: Array) -> BarStress:
    """Stresses for motions of the sections.

    Parameters
    ----------
    bar : CurvedBar
        Sections.
    places : Places
        From :func:`places_of`.
    motion : numpy.ndarray
        Shear n, stretch, shear b of the middle line, turnings about n, t, b, the amplitudes and their
        slopes, shape (m, 6 + 2 k). [-, 1/mm]

    Returns
    -------
    BarStress
        Shape (m, places).
    """
    n, z = places_mm(bar, places.across, places.up)
    h = 1 + n * bar.curvature_per_mm[:, None]
    ring = bar.curvature_per_mm[:, None] / h
    G_n, G_t, G_b, K_n, K_t, K_b = (motion[:, i, None] for i in range(6))
    amplitude, slope = motion[:, 6 : 6 + _K], motion[:, 6 + _K :]
    leaning, leaning_on = amplitude[:, -1:], slope[:, -1:]
    per_n = 2 / bar.width_mm[:, None]
    per_z = 2 / bar.thickness_mm

    def slopes(part: Array, of: tuple[Array, Array, Array]) -> tuple[Array, Array]:
        by_n = per_n * (part @ of[1])
        return by_n, per_z * (part @ of[2]) - bar.lean[:, None] * by_n

    f, f_on = amplitude[:, :_A] @ places.along[0], slope[:, :_A] @ places.along[0]
    f_n, f_z = slopes(amplitude[:, :_A], places.along)
    g, g_on = amplitude[:, _A:_O] @ places.outward[0], slope[:, _A:_O] @ places.outward[0]
    g_n, g_z = slopes(amplitude[:, _A:_O], places.outward)
    q_on = slope[:, _O:-1] @ places.upward[0]
    q_n, q_z = slopes(amplitude[:, _O:-1], places.upward)
    strain = np.empty((len(n), 6, n.shape[1]))
    strain[:, 0] = (G_t - K_n * z + K_b * n + f_on) / h + ring * (g + leaning * z)
    strain[:, 1], strain[:, 2] = g_n, q_z
    strain[:, 3] = g_z + q_n + 2 * leaning
    strain[:, 4] = (G_b - K_t * n + q_on + leaning_on * n) / h + f_z
    strain[:, 5] = (G_n + K_t * z + g_on + leaning_on * z) / h + f_n - ring * f
    stress = np.matmul(bar.stiffness_MPa, strain)
    s, normal, through, nz, sz, sn = (stress[:, i] for i in range(6))
    return BarStress(s, sn, sz, normal, through, nz)
