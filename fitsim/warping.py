"""How the sections of the strip warp along it, and the stress that this leaves.

A twisted section warps; were every section alike it would warp alike and nothing more would come of it. Under a
strip whose grain turns the twist and the warping change within a quarter of a turn, so that neighbouring
sections pull on each other: stress along the strip, in wood several newtons per square millimetre, and shear
beside it. The same happens at a root that holds its section plane. Section forces come from statics and
stay as they are; how far each section warps makes the energy of the whole strip least:

    integral of 1/2 (p, p')' A (p, p') + (p, p')' a(F) ds,   section forces F given,

p the amplitudes of the warping polynomials of :mod:`fitsim.curvedbar`, linear between the nodes. The curvature of
the strip, the lean of its sections and the coupling of wood off its grain are in the same energy.

Source: restrained warping with given section forces, V. Z. Vlasov, *Thin-Walled Elastic Beams*, carried
from one warping function to many by E. Reissner's energy (both from memory, no page seen).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from fitsim.arrays import Array
from fitsim.curvedbar import BarStress, CurvedBar, section_energy, stiffness_MPa, strain_rows

__all__ = ["WarpedStrip", "curvature_per_mm", "warped_strip", "warped_stress"]


@dataclass(frozen=True, eq=False)
class WarpedStrip:
    """A strip made ready for its warping: made once, used for every state; e elements, n = e + 1 nodes.

    Attributes
    ----------
    bar : CurvedBar
        The sections at the middles of the elements.
    arc_mm : numpy.ndarray
        Length of the elements along the strip, shape (e,). [mm]
    moved_by_force : numpy.ndarray
        Motions (stretch, shears, turnings) for section forces, warping aside, shape (e, 6, 6).
    moved_by_warp : numpy.ndarray
        The same for (p, p') at unchanged forces, shape (e, 6, 2 k).
    factor : numpy.ndarray
        Banded Cholesky factor of the warping's energy.
    root_plane : bool
        Whether the root's section is held plane.
    """

    bar: CurvedBar
    arc_mm: Array
    moved_by_force: Array
    moved_by_warp: Array
    factor: Array
    root_plane: bool

    @cached_property
    def stiffness_MPa(self) -> Array:
        """Stresses for strains, (e, 3, 3). [MPa]"""
        return stiffness_MPa(self.bar)


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


def warped_strip(bar: CurvedBar, arc_mm: Array, *, root_plane: bool) -> WarpedStrip:
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
    """
    A = section_energy(bar)
    k = (A.shape[1] - 6) // 2
    moved_by_force = np.linalg.inv(A[:, :6, :6])
    moved_by_warp = -moved_by_force @ A[:, :6, 6:]
    condensed = A[:, 6:, 6:] + A[:, 6:, :6] @ moved_by_warp
    L = arc_mm[:, None, None]
    pp, ps, ss = condensed[:, :k, :k], condensed[:, :k, k:], condensed[:, k:, k:]
    # p = (p0 + p1)/2 and p' = (p1 - p0)/L at the middle of an element.
    near = L * pp / 4 - (ps + ps.transpose(0, 2, 1)) / 2 + ss / L
    far = L * pp / 4 + (ps + ps.transpose(0, 2, 1)) / 2 + ss / L
    across = L * pp / 4 + (ps - ps.transpose(0, 2, 1)) / 2 - ss / L  # rows of p0, columns of p1
    nodes = len(arc_mm) + 1
    own = np.zeros((nodes, k, k))
    own[:-1] += near
    own[1:] += far
    banded = np.zeros((2 * k, nodes * k))
    first = k * np.arange(nodes)
    for i in range(k):
        for j in range(i + 1):
            banded[i - j, first + j] = own[:, i, j]
        for j in range(k):
            banded[k + i - j, first[:-1] + j] = across[:, j, i]
    if root_plane:
        banded = banded[:, k:]
    factor = cholesky_banded(banded, lower=True, check_finite=False)
    return WarpedStrip(bar, arc_mm, moved_by_force, moved_by_warp, factor, root_plane)


def _warping(strip: WarpedStrip, force: Array) -> Array:
    """Amplitudes and their slopes (p, p') at the middles of the elements, (e, 2 k)."""
    k = strip.moved_by_warp.shape[2] // 2
    # The work of the section forces on what the warping moves.
    pull = np.einsum("eij,ei->ej", strip.moved_by_warp, force)
    by_value, by_slope = strip.arc_mm[:, None] * pull[:, :k] / 2, pull[:, k:]
    load = np.zeros((len(force) + 1, k))
    load[:-1] += by_value - by_slope
    load[1:] += by_value + by_slope
    held = int(strip.root_plane)
    p = np.zeros_like(load)
    solved = cho_solve_banded((strip.factor, True), load[held:].ravel(), check_finite=False)
    p[held:] = solved.reshape(-1, k)
    return np.concatenate([(p[1:] + p[:-1]) / 2, (p[1:] - p[:-1]) / strip.arc_mm[:, None]], axis=1)


def warped_stress(strip: WarpedStrip, force: Array, *, across: Array, up: Array) -> BarStress:
    """Stresses at places of the sections at the middles of the elements.

    Parameters
    ----------
    strip : WarpedStrip
        From :func:`warped_strip`.
    force : numpy.ndarray
        Section forces at the middles of the elements: shear n, stretch, shear b, then the moments about n, t
        and b; what the part beyond does to the section, shape (e, 6). [N, N mm]
    across, up : numpy.ndarray
        Places, -1 the inner or lower face, 1 the outer or upper one, shape (places,). [-]

    Returns
    -------
    BarStress
        Complete stresses (not what to add to those of a straight bar), shape (e, places). [MPa]
    """
    warp = _warping(strip, force)
    moved = np.einsum("eij,ej->ei", strip.moved_by_force, force)
    moved += np.einsum("eij,ej->ei", strip.moved_by_warp, warp)
    rows = strain_rows(strip.bar, np.asarray(across), np.asarray(up))
    strain = np.matmul(rows, np.concatenate([moved, warp], axis=1)[:, None, :, None])[..., 0]
    stress = np.matmul(strain, strip.stiffness_MPa)
    return BarStress(stress[..., 0], stress[..., 1], stress[..., 2])
