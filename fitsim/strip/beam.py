"""The elastic strip: a spatial curved beam built in at its root, solved by the force method.

The strip is a chain of arcs between sampled nodes. It is built in at one end only, so
it is statically determinate: what every element carries follows from the loads by statics alone,
and the shape follows from that by adding up the deformation of the elements from the root outward.
No system of equations is left over. Loads and motions are written as *wrenches* and *twists* about
the origin of the board, six numbers each:

    wrench  Q = (force, moment about the origin)             [N, N mm]
    twist   q = (velocity-like shift of the origin, rotation) [mm, rad]

so that the work of a wrench on a twist is the plain product Q . q, and a force f at the point P is
the wrench (f, P x f). Local axes of a section are n (outward, in the plane of the board), t (along
the strip) and b (through the thickness), with n x t = b.

Sources: flexibility of a beam with shear, S. P. Timoshenko, *Strength of Materials*, an arc's by C. A.
Castigliano's theorem; finite rotation of a chain of sections, J. C. Simo, Comput. Methods Appl. Mech. Eng.
49 (1985) (all from memory, no page seen). No wood and no rings here: arrays in, arrays out.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.errors import OutsideModelError
from fitsim.strip.beam_section import Section, frames_in_plane, straight_section

__all__ = [
    "ElasticStrip",
    "Section",
    "Shape",
    "carried_wrench",
    "deformation_under",
    "deformed_shape",
    "element_flexibility",
    "force_wrench",
    "frames_in_plane",
    "make_strip",
    "node_twist",
    "straight_section",
]


@dataclass(frozen=True, eq=False)
class ElasticStrip:
    """A strip at rest: n nodes, e = n - 1 elements, arcs of circles, built in at node 0.

    Attributes
    ----------
    position_mm : numpy.ndarray
        Centre line, shape (n, 3). [mm]
    frame : numpy.ndarray
        Section axes, shape (n, 3, 3); the columns are n, t, b. [-]
    arc_mm : numpy.ndarray
        Length along the curve of each element, shape (e,). [mm]
    flexibility : numpy.ndarray
        Deformation of an element over the wrench at its middle, local axes, shape (e, 6, 6): the middle is
        the point beside its chord about which a force along the axis of its turn does not twist it.
        [mm/N, 1/N, 1/(N mm)]
    to_middle, from_middle : numpy.ndarray
        Rigid placement of an element's middle seen from its first node, and of its second node seen
        from the middle, shape (e, 4, 4). [-, mm]

    """

    position_mm: Array
    frame: Array
    arc_mm: Array
    flexibility: Array
    to_middle: Array
    from_middle: Array


@dataclass(frozen=True, eq=False)
class Shape:
    """Where the strip is: nodes (n, 3) and (n, 3, 3), middles of elements (e, 3) and (e, 3, 3).

    Attributes
    ----------
    position_mm, frame : numpy.ndarray
        Nodes and their axes n, t, b as columns, shapes (n, 3) and (n, 3, 3). [mm, -]
    middle_mm, middle_frame : numpy.ndarray
        Middles of the elements and their axes, shapes (e, 3) and (e, 3, 3). [mm, -]
    """

    position_mm: Array
    frame: Array
    middle_mm: Array
    middle_frame: Array


def _per_length(section: Section) -> Array:
    """Flexibility of the sections over the length, in their own axes (e, 6, 6)."""
    determinant = section.EI_n_Nmm2 * section.EI_b_Nmm2 - section.EI_nb_Nmm2**2
    c_nn = section.EI_b_Nmm2 / determinant
    c_bb = section.EI_n_Nmm2 / determinant
    c_nb = section.EI_nb_Nmm2 / determinant
    S = np.zeros((len(determinant), 6, 6))
    S[:, 0, 0] = 1 / section.GA_n_N
    S[:, 1, 1] = 1 / section.EA_N
    S[:, 2, 2] = 1 / section.GA_b_N
    S[:, 3, 3] = c_nn
    # Off its grain the wood twists as it bends about n: energy shared, so the block stays symmetric.
    S[:, 4, 4] = 1 / section.D_Nmm2 + section.twist_per_bend**2 * c_nn
    S[:, 3, 4] = S[:, 4, 3] = section.twist_per_bend * c_nn
    S[:, 4, 5] = S[:, 5, 4] = section.twist_per_bend * c_nb
    S[:, 5, 5] = c_bb
    S[:, 3, 5] = S[:, 5, 3] = c_nb
    return S


def _cross(vector: Array) -> Array:
    """Matrices (e, 3, 3) that take the cross product of vectors (e, 3) with another."""
    K = np.zeros((len(vector), 3, 3))
    K[:, 0, 1], K[:, 0, 2], K[:, 1, 2] = -vector[:, 2], vector[:, 1], -vector[:, 0]
    K[:, 1, 0], K[:, 2, 0], K[:, 2, 1] = vector[:, 2], -vector[:, 1], vector[:, 0]
    return K


def _rotation(vector: Array) -> Array:
    """Rotation matrices of rotation vectors (e, 3), by Rodrigues' formula."""
    angle = np.sqrt(np.einsum("ki,ki->k", vector, vector))
    K = _cross(vector)
    first = np.sinc(angle / np.pi)[:, None, None]
    second = 0.5 * np.sinc(angle / (2 * np.pi))[:, None, None] ** 2
    return np.asarray(np.eye(3) + first * K + second * (K @ K))


def _arc_flexibility(
    per_length: Array, chord_mm: Array, arc_mm: Array, turn_rad: Array, axis: Array
) -> tuple[Array, Array]:
    """Flexibility of elements that are arcs of circles, and where it is taken about.

    It is the integral of the sections' along the arc, three points a piece (C. A. Castigliano). Taken about
    the middle of the chord a force along the axis of the turn would twist an arc; it is taken about the
    point beside that where it does not, about turn times chord over 6 outward.

    Parameters
    ----------
    per_length : numpy.ndarray
        Of the sections, (e, 6, 6).
    chord_mm, arc_mm, turn_rad : numpy.ndarray
        Chord and length of each element, and angle between its ends, (e,). [mm, rad]
    axis : numpy.ndarray
        What each turns about, in the axes of its middle, across t, (e, 3). [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Flexibility in the axes of the middle, (e, 6, 6); the point, from the middle of the chord in the
        same axes, (e, 3). [mm]
    """
    half, along = 0.5 * turn_rad, np.array([0.0, 1.0, 0.0])
    outward = np.cross(along, axis)
    places, weights = np.polynomial.legendre.leggauss(3)

    def about(point_mm: Array) -> Array:
        F = np.zeros_like(per_length)
        for x, weight in zip(places, weights, strict=True):
            Q = _rotation((x * half)[:, None] * axis)
            # Along the chord and outward from it: half the chord is one, sines over small angles as sinc.
            on = x * np.sinc(x * half / np.pi) / np.sinc(half / np.pi)
            rise = 0.5 * half * (1 - x**2) * np.sinc((1 + x) * half / 2 / np.pi)
            rise = rise * np.sinc((1 - x) * half / 2 / np.pi) / np.sinc(half / np.pi)
            at = 0.5 * chord_mm[:, None] * (on[:, None] * along + rise[:, None] * outward)
            T = np.zeros_like(F)
            T[:, :3, :3] = T[:, 3:, 3:] = np.swapaxes(Q, 1, 2)
            T[:, 3:, :3] = T[:, 3:, 3:] @ _cross(point_mm - at)
            F += (0.5 * weight * arc_mm)[:, None, None] * (np.swapaxes(T, 1, 2) @ per_length @ T)
        return F

    F = about(np.zeros_like(axis))
    aside = np.einsum("ei,ei->e", F[:, 4, :3], axis) / F[:, 4, 4]
    point = aside[:, None] * outward
    return about(point), point


def _middle_frames(position_mm: Array, frame: Array) -> Array:
    """Axes of the elements: t along the chord, b as near the nodes' b as that allows."""
    chord = np.diff(position_mm, axis=0)
    t = chord / np.linalg.norm(chord, axis=1)[:, None]
    b = frame[:-1, :, 2] + frame[1:, :, 2]
    b = b - np.sum(b * t, axis=1)[:, None] * t
    b /= np.linalg.norm(b, axis=1)[:, None]
    return np.stack([np.cross(t, b), t, b], axis=2)


def _placement(rotation: Array, shift: Array) -> Array:
    T = np.zeros((len(rotation), 4, 4))
    T[:, :3, :3], T[:, :3, 3], T[:, 3, 3] = rotation, shift, 1.0
    return T


def make_strip(*, position_mm: Array, frame: Array, section: Section) -> ElasticStrip:
    """Build a strip at rest from its sampled centre line.

    Parameters
    ----------
    position_mm : numpy.ndarray
        Nodes from the root to the free end, shape (n, 3). [mm]
    frame : numpy.ndarray
        Axes n, t, b as columns at the nodes, shape (n, 3, 3). [-]
    section : Section
        Stiffness of the n - 1 elements.

    Returns
    -------
    ElasticStrip
        The strip, built in at node 0.

    Raises
    ------
    OutsideModelError
        If two nodes coincide or the arrays do not belong together.

    """
    x, R = np.asarray(position_mm, dtype=np.float64), np.asarray(frame, dtype=np.float64)
    chord = np.linalg.norm(np.diff(x, axis=0), axis=1)
    if len(section.EA_N) != len(x) - 1 or len(R) != len(x):
        raise OutsideModelError("one section for each element and one frame for each node")
    if np.any(chord <= 0):
        raise OutsideModelError(f"nodes {int(np.argmin(chord))} and the next one coincide")
    turn = np.arccos(np.clip(np.einsum("ki,ki->k", R[:-1, :, 1], R[1:, :, 1]), -1, 1))
    arc = chord / np.sinc(turn / (2 * np.pi))
    R_m = _middle_frames(x, R)
    axis = np.einsum("kji,kj->ki", R_m, np.cross(R[:-1, :, 1], R[1:, :, 1]))
    axis[:, 1] = 0.0
    size = np.linalg.norm(axis, axis=1)[:, None]
    axis = np.where(size > 1e-12, axis / np.maximum(size, 1e-12), [0.0, 0.0, 1.0])
    flexibility, aside = _arc_flexibility(_per_length(section), chord, arc, turn, axis)
    middle = 0.5 * (x[:-1] + x[1:]) + np.einsum("kij,kj->ki", R_m, aside)
    back = np.swapaxes(R[:-1], 1, 2)
    to_middle = _placement(back @ R_m, np.einsum("kij,kj->ki", back, middle - x[:-1]))
    ahead = np.swapaxes(R_m, 1, 2)
    from_middle = _placement(ahead @ R[1:], np.einsum("kij,kj->ki", ahead, x[1:] - middle))
    return ElasticStrip(
        position_mm=read_only(x),
        frame=read_only(R),
        arc_mm=read_only(arc),
        flexibility=read_only(flexibility),
        to_middle=read_only(to_middle),
        from_middle=read_only(from_middle),
    )


def _running_product(T: Array) -> Array:
    """Products T0, T0 T1, T0 T1 T2 ... in log2(e) sweeps."""
    T = T.copy()
    reach = 1
    while reach < len(T):
        T[reach:] = T[:-reach] @ T[reach:]
        reach *= 2
    return T


def deformed_shape(strip: ElasticStrip, deformation: Array) -> Shape:
    """Shape of the chain when its elements are deformed, rotations of any size.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    deformation : numpy.ndarray
        Shift and rotation of each element's second half against its first, local axes, shape
        (e, 6). [mm, rad]

    Returns
    -------
    Shape
        Nodes and middles of the elements.

    """
    give = _placement(_rotation(deformation[:, 3:]), deformation[:, :3])
    links = strip.to_middle @ give @ strip.from_middle
    root = np.eye(4)
    root[:3, :3], root[:3, 3] = strip.frame[0], strip.position_mm[0]
    links[0] = root @ links[0]
    nodes = np.concatenate([root[None], _running_product(links)])
    half = _placement(_rotation(0.5 * deformation[:, 3:]), 0.5 * deformation[:, :3])
    middle = nodes[:-1] @ strip.to_middle @ half
    return Shape(
        position_mm=nodes[:, :3, 3],
        frame=nodes[:, :3, :3],
        middle_mm=middle[:, :3, 3],
        middle_frame=middle[:, :3, :3],
    )


def force_wrench(point_mm: Array, force_N: Array) -> Array:
    """Wrench about the origin of forces (..., 3) at points (..., 3), shape (..., 6). [N, N mm]

    Parameters
    ----------
    point_mm : numpy.ndarray
        Where the forces act, shape (..., 3). [mm]
    force_N : numpy.ndarray
        Forces, shape (..., 3). [N]

    Returns
    -------
    numpy.ndarray
        Force and moment, shape (..., 6). [N, N mm]
    """
    return np.concatenate([force_N, np.cross(point_mm, force_N)], axis=-1)


def carried_wrench(nodal_wrench: Array) -> Array:
    """What each element carries: the sum of the wrenches beyond it, (n, 6) -> (e, 6).

    Parameters
    ----------
    nodal_wrench : numpy.ndarray
        Force and moment about the origin at every node, shape (n, 6). [N, N mm]

    Returns
    -------
    numpy.ndarray
        About the origin, shape (e, 6). [N, N mm]
    """
    return np.asarray(np.cumsum(nodal_wrench[:0:-1], axis=0)[::-1])


def _to_local(shape: Shape) -> Array:
    """Matrices (e, 6, 6) that bring a wrench about the origin to an element's middle and axes."""
    back = np.swapaxes(shape.middle_frame, 1, 2)
    A = np.zeros((len(back), 6, 6))
    A[:, :3, :3] = A[:, 3:, 3:] = back
    A[:, 3:, :3] = -back @ _cross(shape.middle_mm)
    return A


def element_flexibility(strip: ElasticStrip, shape: Shape) -> tuple[Array, Array]:
    """Flexibility of the elements about the origin, and the change to local axes.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    shape : Shape
        Where the strip is.

    Returns
    -------
    flexibility : numpy.ndarray
        Twist added by each element over the wrench it carries, shape (e, 6, 6).
    to_local : numpy.ndarray
        Matrices from a wrench about the origin to the element's middle and axes, (e, 6, 6).
    """
    A = _to_local(shape)
    return np.swapaxes(A, 1, 2) @ strip.flexibility @ A, A


def deformation_under(strip: ElasticStrip, shape: Shape, nodal_wrench: Array) -> Array:
    """Deformation (e, 6) of the elements that carry nodal wrenches (n, 6) in the given shape.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    shape : Shape
        Where the strip is.
    nodal_wrench : numpy.ndarray
        Force and moment about the origin at every node, shape (n, 6). [N, N mm]

    Returns
    -------
    numpy.ndarray
        Local axes, shape (e, 6). [mm, rad]
    """
    local = np.einsum("kij,kj->ki", _to_local(shape), carried_wrench(nodal_wrench))
    return np.asarray(np.einsum("kij,kj->ki", strip.flexibility, local))


def node_twist(shape: Shape, deformation: Array) -> Array:
    """Twists (n, 6) of the nodes when the elements deform a little more, (e, 6), from a shape.

    Parameters
    ----------
    shape : Shape
        Where the strip is.
    deformation : numpy.ndarray
        Further deformation of the elements, local axes, shape (e, 6). [mm, rad]

    Returns
    -------
    numpy.ndarray
        About the origin, shape (n, 6); the root's is zero. [mm, rad]
    """
    A = _to_local(shape)
    added = np.einsum("kji,kj->ki", A, deformation)
    return np.concatenate([np.zeros((1, 6)), np.cumsum(added, axis=0)])
