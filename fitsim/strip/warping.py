"""How the sections of the strip warp along it, and the stress that this leaves.

A twisted section warps; were every section alike it would warp alike and nothing more would come of it.
Under a strip whose grain turns the twist and the warping change within a quarter of a turn, so that
neighbouring sections pull on each other: stress along the strip, in wood several newtons per square
millimetre, and shear beside it. The same happens at a root that holds its section plane. Section forces
come from statics and stay as they are; what the sections do besides makes the energy of the whole strip
least:

    integral of 1/2 (p, p')' A (p, p') - (p, p')' B' F ds,   section forces F given,

p the amplitudes of :mod:`fitsim.strip.curved_bar`, linear between the nodes. The curvature of the strip,
the lean
of its sections and the coupling of wood off its grain are in the same energy. What a touching neighbour or
the nail presses into the wood where it touches is not.

Source: restrained warping with given section forces, V. Z. Vlasov, *Thin-Walled Elastic Beams* (from
memory, no page seen), carried from one warping function to many.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from fitsim.arrays import Array
from fitsim.errors import OutsideModelError
from fitsim.strip.compiled import compiled
from fitsim.strip.curved_bar import (
    AMPLITUDES,
    BarStress,
    CurvedBar,
    Places,
    bar_stress,
    places_of,
)
from fitsim.strip.section_energy import energy_of_sections, make_section_energy

__all__ = [
    "WarpedStrip",
    "curvature_per_mm",
    "stress_places",
    "warped_stress",
    "warped_strip",
]


AT_ONCE = 24
"""Sections worked out together; any number gives the same."""


@dataclass(frozen=True, eq=False)
class WarpedStrip:
    """A strip made ready for its warping: made once, used for every state; e elements, k amplitudes.

    Attributes
    ----------
    bar : CurvedBar
        The sections at the middles of the elements.
    arc_mm : numpy.ndarray
        Length of the elements along the strip, shape (e,). [mm]
    moved_by_force : numpy.ndarray
        Motions as a whole (stretch, shears, turnings) for section forces, shape (e, 6, 6).
        [1/N, 1/(N mm), 1/(N mm^2)]
    moved_by_warp : numpy.ndarray
        The same for (p, p') at unchanged forces, shape (e, 6, 2 k). [1/mm, 1/mm^2]
    factor : numpy.ndarray
        Banded Cholesky factor of the energy of the amplitudes. [N/mm]
    root_plane : bool
        Whether the root's section is held plane.
    """

    bar: CurvedBar
    arc_mm: Array
    moved_by_force: Array
    moved_by_warp: Array
    factor: Array
    root_plane: bool


def curvature_per_mm(position_mm: Array) -> Array:
    """1/r of a flat line in each of its elements, positive for one that winds counter-clockwise.

    Parameters
    ----------
    position_mm : numpy.ndarray
        Nodes, shape (n, 3), n >= 3. [mm]

    Returns
    -------
    numpy.ndarray
        Shape (n - 1,). [1/mm]
    """
    step = np.diff(position_mm[:, :2], axis=0)
    angle = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    length = np.hypot(step[:, 0], step[:, 1])
    at_node = np.diff(angle) / ((length[1:] + length[:-1]) / 2)
    ends = np.concatenate([at_node[:1], at_node, at_node[-1:]])
    return np.asarray((ends[1:] + ends[:-1]) / 2)


def warped_strip(bar: CurvedBar, arc_mm: Array, *, root_plane: bool = True) -> WarpedStrip:
    """Make a strip ready for its warping.

    Parameters
    ----------
    bar : CurvedBar
        Sections at the middles of the elements, from the root to the free end.
    arc_mm : numpy.ndarray
        Lengths of the elements, shape (e,). [mm]
    root_plane : bool
        Whether the root's section is held plane (built in) or left to warp.

    Returns
    -------
    WarpedStrip
        Ready for :func:`warped_stress`.

    Raises
    ------
    OutsideModelError
        If sections are so narrow that their warping cannot be told from rounding.
    """
    k, count = AMPLITUDES, len(arc_mm)
    band = np.zeros(((count + 1) * k, 2 * k))
    moved_by_force, moved_by_warp = np.empty((count, 6, 6)), np.empty((count, 6, 2 * k))
    energy = make_section_energy(bar)
    lengths = np.array(arc_mm)  # a copy: for a read-only array the loop would be compiled once more
    # A few sections at a time: what they need then stays in the processor's cache.
    for start in range(0, count, AT_ONCE):
        part = slice(start, min(start + AT_ONCE, count))
        A = energy_of_sections(energy, part.start, part.stop)
        moved_by_force[part] = np.linalg.inv(A[:, :6, :6])
        moved_by_warp[part] = _add_warping(A, moved_by_force[part], lengths[part], start, band)
    banded = band[k:].T if root_plane else band.T
    try:
        factor = np.asarray(
            cholesky_banded(banded, lower=True, overwrite_ab=True, check_finite=False), dtype=np.float64
        )
    except np.linalg.LinAlgError as error:
        raise OutsideModelError("the strip is too narrow somewhere for its stresses to be found") from error
    return WarpedStrip(bar, arc_mm, moved_by_force, moved_by_warp, factor, root_plane)


@compiled
def _add_warping(A: Array, moved_by_force: Array, arc: Array, start: int, band: Array) -> Array:
    """Add elements to the energy of the warping along the strip; how warping moves their sections.

    The amplitudes are linear between nodes: p = (p0 + p1)/2 and p' = (p1 - p0)/L at an element's middle.

    Parameters
    ----------
    A : numpy.ndarray
        Energy of the sections in their motions, (m, 6 + 2 k, 6 + 2 k).
    moved_by_force : numpy.ndarray
        Inverse of its first six rows and columns, (m, 6, 6).
    arc : numpy.ndarray
        Lengths of the elements, (m,). [mm]
    start : int
        First of these elements along the strip.
    band : numpy.ndarray
        Changed: entry (j + d, j) of the energy of the amplitudes at the nodes in row j, column d, the lower
        half alone, (k nodes, 2 k).

    Returns
    -------
    numpy.ndarray
        Motions of the sections for (p, p') at unchanged forces, (m, 6, 2 k).
    """
    m, k = len(arc), (A.shape[1] - 6) // 2
    moved = np.empty((m, 6, 2 * k))
    for s in range(m):
        by_warp = np.ascontiguousarray(A[s, :6, 6:])
        moved[s] = -np.dot(moved_by_force[s], by_warp)
        E = A[s, 6:, 6:] + np.dot(by_warp.T, moved[s])
        L, first = arc[s], k * (start + s)
        for j in range(k):
            # Symmetric: row j of the energy is read in place of its column.
            p, slope = E[j], E[k + j]
            begin, end, across = band[first + j], band[first + k + j], band[first + j, k - j :]
            for i in range(j, k):
                even, odd = p[i] * (L / 4) + slope[k + i] * (1 / L), (p[k + i] + slope[i]) / 2
                begin[i - j] += even - odd
                end[i - j] += even + odd
            for i in range(k):
                across[i] += p[i] * (L / 4) - slope[k + i] * (1 / L) + (p[k + i] - slope[i]) / 2
    return moved


def stress_places(strip: WarpedStrip, *, across: Array, up: Array) -> Places:
    """What :func:`warped_stress` needs to know of the places it is asked for; made once for many states.

    Parameters
    ----------
    strip : WarpedStrip
        The strip.
    across, up : numpy.ndarray
        Places, -1 the inner or lower face, 1 the outer or upper one, shape (places,). [-]

    Returns
    -------
    Places
        Ready for any state.
    """
    return places_of(strip.bar, np.asarray(across), np.asarray(up))


def _motion(strip: WarpedStrip, force: Array) -> Array:
    """All motions at the middles of the elements, (e, 6 + 2 k)."""
    k = AMPLITUDES
    pull = np.einsum("eij,ei->ej", strip.moved_by_warp, force)
    by_value, by_slope = strip.arc_mm[:, None] * pull[:, :k] / 2, pull[:, k:]
    load = np.zeros((len(force) + 1, k))
    load[:-1] += by_value - by_slope
    load[1:] += by_value + by_slope
    held = int(strip.root_plane)
    p = np.zeros_like(load)
    solved = cho_solve_banded((strip.factor, True), load[held:].ravel(), check_finite=False)
    p[held:] = solved.reshape(-1, k)
    warp = np.concatenate([(p[1:] + p[:-1]) / 2, (p[1:] - p[:-1]) / strip.arc_mm[:, None]], axis=1)
    whole = np.matmul(strip.moved_by_force, force[:, :, None]) + np.matmul(
        strip.moved_by_warp, warp[:, :, None]
    )
    return np.concatenate([whole[..., 0], warp], axis=1)


def warped_stress(strip: WarpedStrip, force: Array, places: Places) -> BarStress:
    """Stresses at places of the sections at the middles of the elements.

    Parameters
    ----------
    strip : WarpedStrip
        From :func:`warped_strip`.
    force : numpy.ndarray
        Section forces at the middles of the elements: shear n, stretch, shear b, then the moments about n,
        t and b; what the part beyond does to the section, shape (e, 6). [N, N mm]
    places : Places
        From :func:`stress_places`.

    Returns
    -------
    BarStress
        Complete stresses (not what to add to those of a straight bar), shape (e, places). [MPa]
    """
    return bar_stress(strip.bar, places, _motion(strip, force))
