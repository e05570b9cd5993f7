"""A curved bar of rectangular or leaning section: strains of a section that turns, shifts and warps.

A straight bar's formulas are low on the inner side of a turn and high on the outer: a fibre at the distance
n outside the middle of a turn of radius r is longer by 1 + n/r, and the same turning of one section against
the next strains it less. A section that is twisted or sheared also warps along the strip, and where the grain
turns under the strip it is bent and sheared a little in its own plane besides. How much follows from the
energy.

Axes as everywhere: n outward in the plane of the board, t (s) along the strip, b (z) through the thickness,
n x t = b. Every section moves as a whole; what it does besides is written in products of Legendre polynomials
over the section, f along the strip, g_n and g_z in its plane, with amplitudes p along the strip:

    e_s  = (G_t - K_n z + K_b n + p' f) / h + p g_n/(r h),       h = 1 + n/r
    g_sn = (G_n + K_t z + p' g_n) / h + p (df/dn - f/(r h))
    g_sz = (G_b - K_t n + p' g_z) / h + p df/dz

with G the stretch and shears, K the turning per length. In the plane of the section the few polynomials
follow the contraction and shear that the wood wants there only as far as they can; what they cannot follow is
left free of stress (the strain's projection on them is held, the rest is not).

Sources: strains in the coordinates of a ring, A. E. H. Love, *Mathematical Theory of Elasticity*; the same
energy gives Winkler's curved beam and, for a ring pulled along its axis, Goehner's helical spring; assumed
strains, J. C. Simo and M. S. Rifai 1990 (all from memory, no page seen).
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from fitsim.arrays import Array, IntArray
from fitsim.errors import OutsideModelError

__all__ = [
    "BarStress",
    "CurvedBar",
    "MODES",
    "alike_stress",
    "places_mm",
    "section_energy",
    "stiffness_MPa",
    "strain_rows",
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
        From :func:`fitsim.grain.strip_compliance`, shape (m, 6, 6). [1/MPa]
    """

    width_mm: Array
    thickness_mm: float
    lean: Array
    curvature_per_mm: Array
    compliance_per_MPa: Array

    def __post_init__(self) -> None:
        """Refuse a section without size and a bar that reaches its own centre."""
        half = self.width_mm / 2 + np.abs(self.lean) * self.thickness_mm / 2
        if np.any(self.width_mm <= 0) or self.thickness_mm <= 0:
            raise OutsideModelError("a curved bar needs a width and a thickness above zero everywhere")
        if np.any(half * np.abs(self.curvature_per_mm) >= 1):
            raise OutsideModelError("a curved bar's section reaches the centre of its turn")


@dataclass(frozen=True, eq=False)
class BarStress:
    """Stresses at points of sections, arrays of shape (m, places).

    Attributes
    ----------
    sigma_s_MPa : numpy.ndarray
        Along the bar, tension positive. [MPa]
    tau_sn_MPa, tau_sz_MPa : numpy.ndarray
        Shear of s with the outward normal and with the thickness. [MPa]
    """

    sigma_s_MPa: Array
    tau_sn_MPa: Array
    tau_sz_MPa: Array


_TWISTED = tuple((a, b) for a in (1, 3, 5) for b in (1, 3, 5, 7))
_BENT = ((0, 3), (0, 5), (2, 1), (2, 3), (2, 5), (4, 1), (4, 3))
_LEANT = ((1, 2), (1, 4), (3, 0), (3, 2), (5, 0))
_EVEN = ((0, 2), (0, 4), (2, 0), (2, 2), (4, 0))
_ALONG = (*_TWISTED, *_BENT, *_LEANT, *_EVEN)
_OUT = ((1, 0), (2, 0), (0, 2), (1, 1), (0, 3), (2, 1), (1, 2))
_UP = ((0, 1), (2, 0), (0, 2), (1, 1), (3, 0), (2, 1), (1, 2))


@dataclass(frozen=True, eq=False)
class Modes:
    """Degrees (across, up) of the polynomials: along the strip, outward, upward; shapes (.., 2).

    Those of twist go furthest: its greatest stresses then come within 1 percent of the closed form for
    sections up to five times as tall as wide. A last one shears the section in its plane and does not turn
    it. The motions of the section as a whole are not among them.
    """

    along: IntArray
    out: IntArray
    up: IntArray

    @property
    def count(self) -> int:
        """How many amplitudes there are, the last one's included."""
        return len(self.along) + len(self.out) + len(self.up) + 1


MODES = Modes(*(np.array(pairs, dtype=np.int64) for pairs in (_ALONG, _OUT, _UP)))
_FLAT = Modes(*(np.array(pairs, dtype=np.int64)[:, ::-1] for pairs in (_ALONG, _UP, _OUT)))


def modes_of(bar: CurvedBar) -> Modes:
    """Polynomials for a bar: further along the longer side of its section."""
    return MODES if bar.thickness_mm >= float(bar.width_mm.max()) else _FLAT


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
    return value.T, slope.T


def _products(bar: CurvedBar, degrees: IntArray, across: Array, up: Array) -> tuple[Array, Array, Array]:
    """Products of polynomials (places, k) and their slopes by n and by z, (m, places, k). [1, 1/mm]"""
    X, dX = _legendre(degrees[:, 0], across)
    Z, dZ = _legendre(degrees[:, 1], up)
    by_n = (2 / bar.width_mm)[:, None, None] * (dX * Z)
    return X * Z, by_n, 2 / bar.thickness_mm * (X * dZ) - bar.lean[:, None, None] * by_n


def strain_rows(bar: CurvedBar, across: Array, up: Array) -> Array:
    """Strains e_s, g_sn, g_sz at places for one of each motion, (m, places, 3, 6 + 2 k).

    Parameters
    ----------
    bar : CurvedBar
        Sections.
    across, up : numpy.ndarray
        Places, -1 to 1 over the section, shape (places,). [-]

    Returns
    -------
    numpy.ndarray
        Columns: shear n, stretch, shear b, turnings about n, t, b, the amplitudes p, their slopes p'.
    """
    modes = modes_of(bar)
    n, z = places_mm(bar, across, up)
    curved = bar.curvature_per_mm[:, None]
    h = 1 + n * curved
    k, a, o = modes.count, len(modes.along), len(modes.out)
    f, by_n, by_z = _products(bar, modes.along, across, up)
    out, upward = (_products(bar, d, across, up)[0] for d in (modes.out, modes.up))
    rows = np.zeros((*n.shape, 3, 6 + 2 * k))
    rows[..., 0, 1] = 1 / h
    rows[..., 0, 3] = -z / h
    rows[..., 0, 5] = n / h
    rows[..., 1, 0] = 1 / h
    rows[..., 1, 4] = z / h
    rows[..., 2, 2] = 1 / h
    rows[..., 2, 4] = -n / h
    p, slope = rows[..., 6 : 6 + k], rows[..., 6 + k :]
    ring = (curved / h)[..., None]
    p[..., 1, :a] = by_n - ring * f
    p[..., 2, :a] = by_z
    p[..., 0, a : a + o] = ring * out
    p[..., 0, -1] = ring[..., 0] * z
    per = 1 / h[..., None]
    slope[..., 0, :a] = f * per
    slope[..., 1, a : a + o] = out * per
    slope[..., 1, -1] = z / h
    slope[..., 2, a + o : -1] = upward * per
    slope[..., 2, -1] = n / h
    return rows


def _flat_rows(bar: CurvedBar, across: Array, up: Array) -> Array:
    """Strains n, z, nz in the plane of the section for one of each amplitude, (m, places, 3, k)."""
    modes = modes_of(bar)
    a, o = len(modes.along), len(modes.out)
    _f, out_n, out_z = _products(bar, modes.out, across, up)
    _f, up_n, up_z = _products(bar, modes.up, across, up)
    rows = np.zeros((*out_n.shape[:2], 3, modes.count))
    rows[..., 0, a : a + o], rows[..., 2, a : a + o] = out_n, out_z
    rows[..., 1, a + o : -1], rows[..., 2, a + o : -1] = up_z, up_n
    rows[..., 2, -1] = 2.0
    return rows


_OWN = np.array([0, 5, 4])  # stresses s, sn, sz among s, n, z, nz, sz, sn
_FLAT_PLANE = np.array([1, 2, 3])


def stiffness_MPa(bar: CurvedBar) -> Array:
    """Stresses s, sn, sz for strains, stresses in the section's plane absent, (m, 3, 3). [MPa]

    Parameters
    ----------
    bar : CurvedBar
        Sections.

    Returns
    -------
    numpy.ndarray
        Shape (m, 3, 3).
    """
    return np.asarray(np.linalg.inv(bar.compliance_per_MPa[:, _OWN[:, None], _OWN]))


def section_energy(bar: CurvedBar) -> Array:
    """Twice the energy per length as a quadratic form in what :func:`strain_rows` has as columns.

    Parameters
    ----------
    bar : CurvedBar
        Sections.

    Returns
    -------
    numpy.ndarray
        Symmetric, shape (m, 6 + 2 k, 6 + 2 k).
    """
    xi, wx = legendre.leggauss(7)
    zeta, wz = legendre.leggauss(9)
    if bar.thickness_mm < float(bar.width_mm.max()):
        (xi, wx), (zeta, wz) = (zeta, wz), (xi, wx)
    across, up = (grid.ravel() for grid in np.meshgrid(xi, zeta, indexing="ij"))
    rows = strain_rows(bar, across, up)
    n, _z = places_mm(bar, across, up)
    area = (wx[:, None] * wz).ravel() * (bar.width_mm * bar.thickness_mm / 4)[:, None]
    weight = (area * (1 + n * bar.curvature_per_mm[:, None]))[..., None, None]
    m, size = len(n), rows.shape[-1]
    S = bar.compliance_per_MPa
    C = stiffness_MPa(bar)
    own = rows.reshape(m, -1, size)
    form = np.matmul(own.transpose(0, 2, 1), (np.matmul(C[:, None], rows) * weight).reshape(m, -1, size))
    # In the section's plane: 1/2 (y - free)' B (y - free), free what the wood wants, as far as y can follow.
    inside = np.linalg.inv(S[:, _FLAT_PLANE[:, None], _FLAT_PLANE] - _shared(S) @ C @ _shared(S).transpose(0, 2, 1))
    wanted = np.matmul((_shared(S) @ C)[:, None], rows)
    first = 6 + len(modes_of(bar).along)
    flat = _flat_rows(bar, across, up)[..., first - 6 :]
    k = flat.shape[-1]
    held = (np.matmul(inside[:, None], flat) * weight).reshape(m, -1, k)
    B = np.matmul(flat.reshape(m, -1, k).transpose(0, 2, 1), held)
    pull = np.matmul(held.transpose(0, 2, 1), wanted.reshape(m, -1, size))
    gap = -np.linalg.solve(B, pull)
    gap[:, :, first : first + k] += np.eye(k)
    return np.asarray(form + gap.transpose(0, 2, 1) @ B @ gap)


def _shared(compliance: Array) -> Array:
    """Strains in the section's plane for the stresses s, sn, sz, (m, 3, 3)."""
    return np.asarray(compliance[:, _FLAT_PLANE[:, None], _OWN])


def alike_stress(bar: CurvedBar, force: Array, across: Array, up: Array) -> BarStress:
    """Stresses where all sections of the bar are alike and warp alike, places (m, places).

    Parameters
    ----------
    bar : CurvedBar
        Sections.
    force : numpy.ndarray
        Shear n, stretch, shear b, then the moments about n, t, b, shape (m, 6). [N, N mm]
    across, up : numpy.ndarray
        Places, -1 to 1 over the section, shape (places,). [-]

    Returns
    -------
    BarStress
        Exact for a ring pulled along its axis (force b with a twist r times as large) and for one bent in
        its plane; moments that change along the bar warp its sections unevenly, see :mod:`fitsim.warping`.
    """
    k = modes_of(bar).count
    form = section_energy(bar)[:, : 6 + k, : 6 + k]
    right = np.concatenate([force, np.zeros((len(force), k))], axis=1)
    moved = np.linalg.solve(form, right[..., None])[..., 0]
    strain = np.einsum("mpij,mj->mpi", strain_rows(bar, across, up)[..., : 6 + k], moved)
    stress = np.einsum("mij,mpj->mpi", stiffness_MPa(bar), strain)
    return BarStress(stress[..., 0], stress[..., 1], stress[..., 2])
