"""The energy of a curved bar's sections in their motions, and stresses where all sections warp alike.

Twice the energy per length is a quadratic form A in the motions of :mod:`fitsim.strip.curved_bar`:

    A = sum over strains i, j of C_ij M_ij,        M_ij = integral of B_i' B_j h dA,

B_i the strain i for one of each motion. C is the wood, which turns from section to section; M is the shape
of a section and of its turn. Along a strip of one width the M are smooth in the curvature 1/r: they are
integrated at a few curvatures and carried to every section by the polynomial through Chebyshev's points,
which is as exact as the sums and a fraction of the work.

Source: L. N. Trefethen, *Approximation Theory and Approximation Practice*, for how fast such polynomials
converge: as rho^-m for m points, rho that of the ellipse through the nearest pole, here h = 0 (from
memory).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial import legendre

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.strip.compiled import compiled
from fitsim.strip.curved_bar import ALONG, AMPLITUDES, OUTWARD, CurvedBar, places_of

__all__ = ["SectionEnergy", "energy_of_sections", "make_section_energy"]

EXACT = 1e-13
"""Error of the polynomials along the curvature, over the greatest value. [-]"""

NONE = 1e-9
"""Stiffness that is taken for none, over the greatest. [-]"""

_K, _UP = AMPLITUDES, ALONG + OUTWARD
_SLOPES = 6 + _K


def _motions(*parts: tuple[int, int]) -> IntArray:
    return np.array(parts, dtype=np.int64)


_FELT_BY = (
    _motions((1, 2), (3, 4), (5, 6), (6 + ALONG, 6 + _UP), (5 + _K, 6 + _K), (_SLOPES, _SLOPES + ALONG)),
    _motions((6 + ALONG, 6 + _UP)),
    _motions((6 + _UP, 5 + _K)),
    _motions((6 + ALONG, 6 + _K)),
    _motions((2, 3), (4, 5), (6, 6 + ALONG), (_SLOPES + _UP, _SLOPES + _K)),
    _motions(
        (0, 1), (4, 5), (6, 6 + ALONG), (_SLOPES + ALONG, _SLOPES + _UP), (_SLOPES + _K - 1, _SLOPES + _K)
    ),
)
"""The motions that the strains s, n, z, nz, sz, sn feel, as ranges; the motions are shear n, stretch,
shear b of the middle line, turnings about n, t, b, the amplitudes p, their slopes p'."""


@dataclass(frozen=True, eq=False)
class _Run:
    """Neighbouring sections of one width and lean.

    Attributes
    ----------
    begin, end : int
        The first of them, and the one after the last.
    share : numpy.ndarray
        Weights of the few curvatures in every section, (sections, curvatures). [-]
    integrals : numpy.ndarray
        The M of the strains that the wood couples, one after another, (curvatures, entries).
    """

    begin: int
    end: int
    share: Array
    integrals: Array


@dataclass(frozen=True, eq=False)
class SectionEnergy:
    """Integrals over the shapes of a bar's sections, ready for :func:`energy_of_sections`.

    Attributes
    ----------
    stiffness_MPa : numpy.ndarray
        Of the wood in the sections, (m, 6, 6). [MPa]
    coupled : numpy.ndarray
        Which strains any section's wood couples, (6, 6).
    runs : tuple of _Run
        From the first section to the last.
    """

    stiffness_MPa: Array
    coupled: BoolArray
    runs: tuple[_Run, ...]


def make_section_energy(bar: CurvedBar) -> SectionEnergy:
    """Integrate over the shapes of a bar's sections.

    Parameters
    ----------
    bar : CurvedBar
        Sections.

    Returns
    -------
    SectionEnergy
        For any of the sections.
    """
    xi, wx = legendre.leggauss(6)
    zeta, wz = legendre.leggauss(8)
    if bar.flat:
        (xi, wx), (zeta, wz) = (zeta, wz), (xi, wx)
    across, up = (grid.ravel() for grid in np.meshgrid(xi, zeta, indexing="ij"))
    places = places_of(bar, across, up)
    C = np.abs(bar.stiffness_MPa).max(axis=0)
    coupled = NONE * C.max() <= C
    runs = []
    for begin, end in _alike(bar):
        curvature, share = _few_curvatures(bar, begin, end)
        integrals = _integrated(
            float(bar.width_mm[begin]),
            bar.thickness_mm,
            float(bar.lean[begin]),
            curvature,
            places.across,
            places.up,
            np.outer(wx, wz).ravel(),
            np.stack(places.along),
            np.stack(places.outward),
            np.stack(places.upward),
            coupled,
        )
        runs.append(_Run(begin, end, share, integrals))
    return SectionEnergy(bar.stiffness_MPa, coupled, tuple(runs))


def energy_of_sections(of: SectionEnergy, begin: int, end: int) -> Array:
    """Twice the energy per length of sections as a quadratic form in their motions.

    Parameters
    ----------
    of : SectionEnergy
        Of the whole bar.
    begin, end : int
        First section wanted, and the one after the last.

    Returns
    -------
    numpy.ndarray
        Symmetric, shape (end - begin, 6 + 2 k, 6 + 2 k).
    """
    energy = np.empty((end - begin, 6 + 2 * _K, 6 + 2 * _K))
    for run in of.runs:
        first, last = max(begin, run.begin), min(end, run.end)
        if first < last:
            M = run.share[first - run.begin : last - run.begin] @ run.integrals
            C = of.stiffness_MPa[first:last]
            _composed(M, C, _FELT_BY, of.coupled, energy[first - begin : last - begin])
    return energy


def _alike(bar: CurvedBar) -> Iterator[tuple[int, int]]:
    """Begin and end of every run of sections of one width and lean."""
    changes = (np.diff(bar.width_mm) != 0) | (np.diff(bar.lean) != 0)
    edges = [0, *(np.flatnonzero(changes) + 1), len(bar.width_mm)]
    return pairwise(edges)


def _few_curvatures(bar: CurvedBar, begin: int, end: int) -> tuple[Array, Array]:
    """Curvatures at which to integrate, and the weights of each in every section of a run."""
    asked = bar.curvature_per_mm[begin:end]
    least, most = float(asked.min()), float(asked.max())
    middle, half = (most + least) / 2, (most - least) / 2
    reach = float(bar.width_mm[begin] + abs(bar.lean[begin]) * bar.thickness_mm) / 2
    # From the middle to the nearest pole at either side, in halves of the interval.
    pole = (1 / reach - abs(middle)) / half if half > 0 else np.inf
    count = 1 + int(np.ceil(-np.log(EXACT) / np.log(pole + np.sqrt(pole**2 - 1)))) if half > 0 else 1
    if count >= len(asked):
        # A copy, for a loop is compiled anew for an array that must not be written to.
        return asked.copy(), np.eye(len(asked))
    angle = (2 * np.arange(count) + 1) * np.pi / (2 * count)
    at = middle + half * np.cos(angle)
    # Lagrange's polynomial in its barycentric form.
    apart = asked[:, None] - at
    hit = apart == 0
    with np.errstate(divide="ignore"):
        weight = (-1.0) ** np.arange(count) * np.sin(angle) / apart
    weight = np.where(hit.any(axis=1)[:, None], hit.astype(np.float64), weight)
    return at, weight / weight.sum(axis=1)[:, None]


@compiled
def _integrated(
    width: float,
    thickness: float,
    lean: float,
    curvature: Array,
    across: Array,
    up: Array,
    weight: Array,
    along: Array,
    outward: Array,
    upward: Array,
    coupled: BoolArray,
) -> Array:
    """The M of a section at some curvatures: strains as in the first lines of `curved_bar`."""
    places, A, G, U = len(weight), along.shape[1], outward.shape[1], upward.shape[1]
    rows = (
        np.empty((places, 4 + A + G)),
        np.empty((places, G)),
        np.empty((places, U)),
        np.empty((places, G + U + 1)),
        np.empty((places, 3 + A + U)),
        np.empty((places, 3 + A + G)),
    )
    entries = 0
    for j in range(6):
        for i in range(j + 1):
            if coupled[i, j]:
                entries += rows[i].shape[1] * rows[j].shape[1]
    found = np.empty((len(curvature), entries))
    area = np.empty(places)
    for k in range(len(curvature)):
        for q in range(places):
            z = thickness / 2 * up[q]
            n = width / 2 * across[q] + lean * z
            h = 1 + n * curvature[k]
            ring = curvature[k] / h
            area[q] = weight[q] * width * thickness / 4 * h
            s, nz, sz, sn = rows[0][q], rows[3][q], rows[4][q], rows[5][q]
            s[0], s[1], s[2], s[3 + G] = 1 / h, -z / h, n / h, z * ring
            nz[G + U] = 2.0
            sz[0], sz[1], sz[2 + A + U] = 1 / h, -n / h, n / h
            sn[0], sn[1], sn[2 + A + G] = 1 / h, z / h, z / h
            for a in range(A):
                by_n = 2 / width * along[1, a, q]
                s[4 + G + a] = along[0, a, q] / h
                sz[2 + a] = 2 / thickness * along[2, a, q] - lean * by_n
                sn[2 + a] = by_n - along[0, a, q] * ring
            for a in range(G):
                by_n = 2 / width * outward[1, a, q]
                s[3 + a] = outward[0, a, q] * ring
                rows[1][q, a] = by_n
                nz[a] = 2 / thickness * outward[2, a, q] - lean * by_n
                sn[2 + A + a] = outward[0, a, q] / h
            for a in range(U):
                by_n = 2 / width * upward[1, a, q]
                rows[2][q, a] = 2 / thickness * upward[2, a, q] - lean * by_n
                nz[G + a] = by_n
                sz[2 + A + a] = upward[0, a, q] / h
        at = 0
        for j in range(6):
            weighed = area.reshape(places, 1) * rows[j]
            for i in range(j + 1):
                if coupled[i, j]:
                    block = np.dot(rows[i].T, weighed)
                    found[k, at : at + block.size] = block.ravel()
                    at += block.size
    return found


@compiled
def _add_pair(
    stiffness: float, M: Array, begin: int, felt_by_one: IntArray, felt_by_other: IntArray, half: Array
) -> int:
    """Add what two strains of one section store together; where the entries of the next pair begin."""
    at = begin
    for above in felt_by_one:
        for a in range(above[0], above[1]):
            for left in felt_by_other:
                for b in range(left[0], left[1]):
                    half[a, b] += stiffness * M[at + b - left[0]]
                at += left[1] - left[0]
    return at


@compiled
def _composed(M: Array, C: Array, motions: tuple[IntArray, ...], coupled: BoolArray, energy: Array) -> None:
    """Sections' energy from the integrals over their shapes, (m, entries), and their wood, (m, 6, 6)."""
    size = energy.shape[1]
    half = np.empty((size, size))
    for section in range(len(M)):
        half[:] = 0.0
        at = 0
        for j in range(6):
            for i in range(j + 1):
                if coupled[i, j]:
                    # Of a strain with itself a half, as it is added to its own mirror.
                    c = C[section, i, j] if i < j else C[section, i, j] / 2
                    at = _add_pair(c, M[section], at, motions[i], motions[j], half)
        for a in range(size):
            for b in range(size):
                energy[section, a, b] = half[a, b] + half[b, a]
