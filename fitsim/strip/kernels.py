"""Inner loops of the press, compiled: the algebra of `gap`, `contact_law` and `configuration` by number.

A press solves some thirty linear systems, a judged bowl some two hundred. All that stands in one but the
elimination is local to a node, an element or a slot, a few dozen numbers each: as loops, compiled at first
use and kept on disk by numba, they take a third of the time of the same algebra on whole arrays. What
the letters mean and why the terms are there is said where the functions are called.

Everything here stands in this one file because what is kept on disk is renewed when *its own* file changes,
not when one that it calls does. Arrays are C-contiguous float64 unless said otherwise; nothing is drawn,
nothing decided, no error raised.
"""

from typing import NamedTuple

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.strip.compiled import compiled, is_kept

__all__ = [
    "Layout",
    "add_contact",
    "books_of",
    "carried_by_elements",
    "deformed_under",
    "faced_places",
    "facing_on_line",
    "forces_at",
    "gap_change_of",
    "linear_change",
    "longest",
    "moved_gaps",
    "moved_nodes",
    "nodes_of",
    "off_the_law",
    "own_stiffness",
    "prepared",
    "rotation_and_tangent",
    "rotation_vector",
    "seat_points",
]

_HELD = 1e14
"""Stiffness that holds the root's rotations. [N mm]"""

_FAR = 1e-12
"""Contact stiffness below which a point is left out of the matrix: the forces themselves are not. [N/mm]"""


class Layout(NamedTuple):
    """The numbers of a strip at rest and of its splines that do not change while it is pressed.

    Attributes
    ----------
    frame : numpy.ndarray
        Axes of the nodes at rest, (n, 3, 3). [-]
    root_mm : numpy.ndarray
        Node 0, (3,). [mm]
    to_turn, from_turn : numpy.ndarray
        An element's middle seen from its first node, and from its second, rotations (e, 3, 3). [-]
    to_shift_mm, from_shift_mm : numpy.ndarray
        From the first node to the middle in the first node's axes, and from the middle to the second node
        in the second's, (e, 3). [mm]
    bending_Nmm : numpy.ndarray
        Stiffness of the elements against bending and twist, (e, 3, 3). [N mm]
    stretch_N_per_mm : numpy.ndarray
        Stiffness of the elements against stretch, (e,). [N/mm]
    flexibility : numpy.ndarray
        Of the elements about the points beside their chords, (e, 6, 6). [mm/N, rad/N mm]
    beyond : numpy.ndarray
        Share of the press beyond each element, (e,). [-]
    load_share : numpy.ndarray
        Share of the press at every node, (n,). [-]
    first, value, column : numpy.ndarray
        Splines at nodes and their unknowns, as `StripSplines` has them. [-]
    stretch_of, stretch_column, stretch_begins, softness_mm : numpy.ndarray
        The elements' stretch and its unknowns, as `StripSplines` has them. [-, -, -, mm]
    table_node, table_value, start : numpy.ndarray
        Running sums along every spline's support, as `StripSplines` has them. [-]
    element_first, element_start, element_end : numpy.ndarray
        An element's functions, as `StripSplines` has them. [-]
    outer : numpy.ndarray
        Node of every slot, (s,).
    window_first, window_stretch, window_column : numpy.ndarray
        First spline, length and column of every block's window, (blocks,).
    block, window, columns, half_band, below, diagonal, height : int
        Slots in a block, splines and columns in a window, and the band's measures.
    """

    frame: Array
    root_mm: Array
    to_turn: Array
    from_turn: Array
    to_shift_mm: Array
    from_shift_mm: Array
    bending_Nmm: Array
    stretch_N_per_mm: Array
    flexibility: Array
    beyond: Array
    load_share: Array
    first: IntArray
    value: Array
    column: IntArray
    stretch_of: IntArray
    stretch_column: IntArray
    stretch_begins: IntArray
    softness_mm: Array
    table_node: IntArray
    table_value: Array
    start: IntArray
    element_first: IntArray
    element_start: Array
    element_end: Array
    outer: IntArray
    window_first: IntArray
    window_stretch: IntArray
    window_column: IntArray
    block: int
    window: int
    columns: int
    half_band: int
    below: int
    diagonal: int
    height: int


@compiled
def _cross(a: Array, b: Array, out: Array) -> None:
    out[0] = a[1] * b[2] - a[2] * b[1]
    out[1] = a[2] * b[0] - a[0] * b[2]
    out[2] = a[0] * b[1] - a[1] * b[0]


@compiled
def _dot(a: Array, b: Array) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]  # type: ignore[no-any-return]  # numpy scalars


@compiled
def _into(A: Array, v: Array, out: Array) -> None:
    """Matrix by vector."""
    for i in range(3):
        out[i] = A[i, 0] * v[0] + A[i, 1] * v[1] + A[i, 2] * v[2]


@compiled
def _product(A: Array, B: Array, out: Array) -> None:
    for i in range(3):
        for j in range(3):
            out[i, j] = A[i, 0] * B[0, j] + A[i, 1] * B[1, j] + A[i, 2] * B[2, j]


@compiled
def _transposed_product(A: Array, B: Array, out: Array) -> None:
    for i in range(3):
        for j in range(3):
            out[i, j] = A[0, i] * B[0, j] + A[1, i] * B[1, j] + A[2, i] * B[2, j]


@compiled
def rotation_and_tangent(p: Array, R: Array, T: Array) -> None:
    """Rotation matrix and tangent of a rotation vector (O. Rodrigues; J. Argyris, 1982; from memory).

    The vector points along the axis, its length is the angle. A change d of it turns the body by the
    small rotation T d, T the tangent of the exponential map.

    Parameters
    ----------
    p : numpy.ndarray
        Rotation vector, (3,). [rad]
    R, T : numpy.ndarray
        Written, (3, 3). [-]
    """
    angle2 = p[0] * p[0] + p[1] * p[1] + p[2] * p[2]
    half = 0.5 * np.sqrt(angle2)
    sine = np.sin(half) / half if half > 1e-8 else 1.0
    first, second = sine * np.cos(half), 0.5 * sine * sine
    third = (1 - first) / angle2 if angle2 > 1e-6 else 1 / 6 - angle2 / 120
    for i in range(3):
        for j in range(3):
            square = p[i] * p[j] - (angle2 if i == j else 0.0)
            R[i, j] = second * square + (1.0 if i == j else 0.0)
            T[i, j] = third * square + (1.0 if i == j else 0.0)
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        R[i, j] -= first * p[k]
        R[j, i] += first * p[k]
        T[i, j] -= second * p[k]
        T[j, i] += second * p[k]


@compiled
def rotation_vector(R: Array, out: Array) -> None:
    """Rotation vector of a rotation by less than half a turn.

    Parameters
    ----------
    R : numpy.ndarray
        Rotation matrix, (3, 3). [-]
    out : numpy.ndarray
        Written, (3,). [rad]
    """
    out[0], out[1], out[2] = 0.5 * (R[2, 1] - R[1, 2]), 0.5 * (R[0, 2] - R[2, 0]), 0.5 * (R[1, 0] - R[0, 1])
    sine = np.sqrt(_dot(out, out))
    if sine > 1e-9:
        factor = np.arctan2(sine, 0.5 * (R[0, 0] + R[1, 1] + R[2, 2] - 1)) / sine
        for i in range(3):
            out[i] *= factor


@compiled
def nodes_of(
    strip: Layout, unknowns: Array, shear: Array
) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array, Array]:
    """Nodes and elements of the shape that splines give.

    Parameters
    ----------
    strip : Layout
        Constants.
    unknowns : numpy.ndarray
        Splines of rotation vectors, and stretch, (unknowns,). [rad, -]
    shear : numpy.ndarray
        Shear of the elements in n and b, (e, 3). [mm]

    Returns
    -------
    tuple of numpy.ndarray
        Nodes (n, 3) [mm], axes and tangent maps (n, 3, 3) [-], the elements' halves (e, 3) [mm] twice,
        direction of stretch (e, 3) [-], bending (e, 3) [rad], stretch (e,) [mm], middle axes (e, 3, 3) [-].
    """
    n, e = len(strip.frame), len(strip.stretch_of)
    R, T, x = np.empty((n, 3, 3)), np.empty((n, 3, 3)), np.empty((n, 3))
    first, second, along = np.empty((e, 3)), np.empty((e, 3)), np.empty((e, 3))
    bend, stretch, middle = np.empty((e, 3)), np.empty(e), np.empty((e, 3, 3))
    psi, lever, turned = np.empty(3), np.empty(3), np.empty((3, 3))
    before, after, unused = np.empty((3, 3)), np.empty((3, 3)), np.empty((3, 3))
    for k in range(n):
        psi[0] = psi[1] = psi[2] = 0.0
        for j in range(strip.value.shape[1]):
            for i in range(3):
                psi[i] += strip.value[k, j] * unknowns[strip.column[strip.first[k] + j] + i]
        rotation_and_tangent(psi, turned, T[k])
        _product(turned, strip.frame[k], R[k])
    for i in range(3):
        x[0, i] = strip.root_mm[i]
    for k in range(e):
        stretch[k] = strip.softness_mm[k] * unknowns[strip.stretch_column[strip.stretch_of[k]]]
        psi[0], psi[1], psi[2] = shear[k, 0], stretch[k], shear[k, 2]
        _into(strip.to_turn[k], psi, lever)
        for i in range(3):
            lever[i] += strip.to_shift_mm[k, i]
        _into(R[k], lever, first[k])
        _into(R[k + 1], strip.from_shift_mm[k], second[k])
        _product(R[k], strip.to_turn[k], before)
        _product(R[k + 1], strip.from_turn[k], after)
        _transposed_product(before, after, turned)
        rotation_vector(turned, bend[k])
        for i in range(3):
            x[k + 1, i] = x[k, i] + first[k, i] + second[k, i]
            along[k, i] = before[i, 1]
            psi[i] = 0.5 * bend[k, i]
        rotation_and_tangent(psi, turned, unused)
        _product(before, turned, middle[k])
    return x, R, T, first, second, along, bend, stretch, middle


@compiled
def _cubic(place: float, x: Array, R: Array, arc: Array, at: Array, slope: Array) -> tuple[int, float]:
    """Point and slope of the line at a place; the node before it and the share beyond that node."""
    first = min(max(int(place), 0), len(arc) - 1)
    u, L = place - first, arc[first]
    v = 1 - u
    for i in range(3):
        d, ta, tz = x[first + 1, i] - x[first, i], R[first, i, 1], R[first + 1, i, 1]
        at[i] = x[first, i] + d * (u * u * (3 - 2 * u)) + L * u * v * (v * ta - u * tz)
        slope[i] = (6 * u * v / L) * d + v * (1 - 3 * u) * ta + u * (3 * u - 2) * tz
    return first, u


@compiled
def faced_places(place: Array, x: Array, R: Array, arc: Array, base: int, sweeps: int) -> Array:
    """Places of the line in the cross-sections of the nodes from base + 1 on, by Newton's steps.

    Parameters
    ----------
    place : numpy.ndarray
        First guess, counted in nodes, (k,). [-]
    x, R, arc : numpy.ndarray
        The line: nodes (m, 3), axes (m, 3, 3), lengths (m - 1,). [mm, -, mm]
    base, sweeps : int
        Nodes of the base, and steps.

    Returns
    -------
    numpy.ndarray
        Places, (k,). [-]
    """
    found, at, slope = np.empty(len(place)), np.empty(3), np.empty(3)
    for k in range(len(place)):
        p, o = place[k], base + 1 + k
        for _ in range(sweeps):
            first, _u = _cubic(p, x, R, arc, at, slope)
            miss, rate = 0.0, 0.0
            for i in range(3):
                miss += (at[i] - x[o, i]) * R[o, i, 1]
                rate += slope[i] * R[o, i, 1]
            p = min(max(p - miss / (rate * arc[first]), 0.0), len(arc) - 1e-9)
        found[k] = p
    return found


@compiled
def facing_on_line(
    place: Array, x: Array, R: Array, arc: Array, base: int
) -> tuple[IntArray, Array, Array, Array, Array, Array, Array, Array]:
    """What stands at places of a line: the arrays of `gap.Facing` in their order.

    Parameters
    ----------
    place : numpy.ndarray
        Places counted in nodes, (k,). [-]
    x, R, arc : numpy.ndarray
        The line: nodes (m, 3), axes (m, 3, 3), lengths (m - 1,). [mm, -, mm]
    base : int
        Nodes of the base.

    Returns
    -------
    tuple of numpy.ndarray
        Node before, share, length, point, slope, axes, and the directions at the nodes around.
    """
    k = len(place)
    first, share, length = np.empty(k, dtype=np.int64), np.empty((k, 1)), np.empty((k, 1))
    at, slope, frame = np.empty((k, 3)), np.empty((k, 3)), np.empty((k, 3, 3))
    before, after = np.empty((k, 3)), np.empty((k, 3))
    t, b, n = np.empty(3), np.empty(3), np.empty(3)
    for s in range(k):
        f, u = _cubic(place[s], x, R, arc, at[s], slope[s])
        first[s], share[s, 0], length[s, 0] = f - base, u, arc[f]
        size = np.sqrt(_dot(slope[s], slope[s]))
        for i in range(3):
            t[i] = slope[s, i] / size
            b[i] = (1 - u) * R[f, i, 2] + u * R[f + 1, i, 2]
            before[s, i], after[s, i] = R[f, i, 1], R[f + 1, i, 1]
        tilted = _dot(b, t)
        for i in range(3):
            b[i] -= tilted * t[i]
        size = np.sqrt(_dot(b, b))
        for i in range(3):
            b[i] /= size
        _cross(t, b, n)
        for i in range(3):
            frame[s, i, 0], frame[s, i, 1], frame[s, i, 2] = n[i], t[i], b[i]
    return first, share, length, at, slope, frame, before, after


@compiled
def seat_points(
    x: Array,
    R: Array,
    base: int,
    half_width: Array,
    tilt: Array,
    thickness: float,
    first: IntArray,
    share: Array,
    at: Array,
    frame: Array,
) -> tuple[Array, Array, Array, Array, Array]:
    """Both points of every seat: axes, places, gap along the normal, coordinate up the slope, drop.

    Parameters
    ----------
    x, R : numpy.ndarray
        The line's nodes and axes, (m, 3) and (m, 3, 3). [mm, -]
    base : int
        Nodes of the base.
    half_width : numpy.ndarray
        Half the strip's width at the line's nodes, (m,). [mm]
    tilt : numpy.ndarray
        Tilt of the slots, (k,). [rad]
    thickness : float
        Thickness of the board. [mm]
    first, share, at, frame : numpy.ndarray
        What the nodes face, as `gap.Facing` has it.

    Returns
    -------
    tuple of numpy.ndarray
        (k, 2, 3, 3) [-], (k, 2, 3) [mm], (k, 2) [mm], (k, 2) [mm], (k,) [mm].
    """
    k = len(tilt)
    axes, where = np.empty((k, 2, 3, 3)), np.empty((k, 2, 3))
    gap, slope, drop = np.empty((k, 2)), np.empty((k, 2)), np.empty(k)
    apart = np.empty(3)
    for j in range(k):
        o, f, u = base + 1 + j, first[j] + base, share[j, 0]
        c, s = np.cos(tilt[j]), np.sin(tilt[j])
        half_i = half_width[f] + (half_width[f + 1] - half_width[f]) * u
        drop[j] = (x[o, 2] - half_width[o] * R[o, 2, 0]) - (at[j, 2] + half_i * frame[j, 2, 0])
        for i in range(3):
            n_o, t_o, b_o = R[o, i, 0], R[o, i, 1], R[o, i, 2]
            n_i, t_i, b_i = frame[j, i, 0], frame[j, i, 1], frame[j, i, 2]
            axes[j, 0, 0, i], axes[j, 0, 1, i], axes[j, 0, 2, i] = c * n_i - s * b_i, s * n_i + c * b_i, t_i
            axes[j, 1, 0, i], axes[j, 1, 1, i], axes[j, 1, 2, i] = c * n_o - s * b_o, s * n_o + c * b_o, t_o
            where[j, 0, i] = x[o, i] - half_width[o] * n_o - thickness / 2 * (b_o + s / c * n_o)
            where[j, 1, i] = at[j, i] + half_i * n_i + thickness / 2 * (b_i + s / c * n_i)
        for p in range(2):
            for i in range(3):
                if p == 0:
                    apart[i] = where[j, 0, i] - (at[j, i] + half_i * frame[j, i, 0])
                else:
                    apart[i] = (x[o, i] - half_width[o] * R[o, i, 0]) - where[j, 1, i]
            gap[j, p], slope[j, p] = _dot(axes[j, p, 0], apart), _dot(axes[j, p, 1], apart)
    return axes, where, gap, slope, drop


@compiled
def forces_at(
    gap: Array,
    before: Array,
    gripped: Array,
    stiffness: Array,
    compliance: float,
    friction: float,
    rounding: float,
    sharpness: float,
    welded: BoolArray,
    welded_force: Array,
    welded_gap: Array,
    tie: Array,
) -> tuple[Array, Array]:
    """The law of `contact_law` at every point: forces (s, 2, 3) and their derivative (s, 2, 3, 3).

    Parameters
    ----------
    gap, before : numpy.ndarray
        Gaps with sliding [mm], and the forces so far [N], (s, 2, 3).
    gripped : numpy.ndarray
        Friction at which the step began, (s, 2, 2). [N]
    stiffness : numpy.ndarray
        k', (s, 2). [N/mm]
    compliance, friction, rounding, sharpness : float
        g, mu, w and p. [mm/N, -, N, -]
    welded, welded_force, welded_gap : numpy.ndarray
        Points counted from where they are, their x and gap, (s, 2); no rows where there are none.
        [-, N, mm]
    tie : numpy.ndarray
        Springs of the nails, which are the last slots, 0 where nothing is tied, (nails, 2, 3). [N/mm]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Forces [N] and derivative [N/mm].
    """
    slots = gap.shape[0]
    force, change = np.empty((slots, 2, 3)), np.zeros((slots, 2, 3, 3))
    g, mu, w, p = compliance, friction, rounding, sharpness
    seats = slots - len(tie)
    for s in range(seats, slots):
        for q in range(2):
            for i in range(3):
                k = tie[s - seats, q, i]
                force[s, q, i] = before[s, q, i] - k * gap[s, q, i] if k > 0 else 0.0
                change[s, q, i, i] = -k
    for s in range(seats):
        for q in range(2):
            k = stiffness[s, q]
            x = before[s, q, 0] - k * (gap[s, q, 0] + g * before[s, q, 0])
            if len(welded) > 0 and welded[s, q]:
                x = welded_force[s, q] - k * (gap[s, q, 0] - welded_gap[s, q])
            y0 = before[s, q, 1] - k * (gap[s, q, 1] + g * (before[s, q, 1] - gripped[s, q, 0]))
            y1 = before[s, q, 2] - k * (gap[s, q, 2] + g * (before[s, q, 2] - gripped[s, q, 1]))
            tail = np.exp(-abs(x / w))
            N = max(x, 0.0) + w * np.log1p(tail)
            on = (1.0 if x > 0 else tail) / (1 + tail)
            size, bound = np.sqrt(y0 * y0 + y1 * y1), mu * N
            great = max(size, bound) + 1e-300
            a = 1.0 if size >= bound else (size / great) ** p
            b = 1.0 if bound >= size else (bound / great) ** p
            both = max(a + b, 1e-30)  # nothing pulls and nothing bears: no friction
            root = both ** (-1 / p)
            share = bound / great * root
            way0, way1 = y0 / max(size, 1e-12), y1 / max(size, 1e-12)
            force[s, q, 0], force[s, q, 1], force[s, q, 2] = N, y0 * share, y1 * share
            straight, bent = -k * share, -k * (bound / great * b * root / both - share)
            rubbed = -mu * k * on * (size / great * a * root / both)
            D = change[s, q]
            D[0, 0] = -k * on
            D[1, 0], D[2, 0] = rubbed * way0, rubbed * way1
            D[1, 1], D[2, 2] = straight + bent * way0 * way0, straight + bent * way1 * way1
            D[1, 2] = D[2, 1] = bent * way0 * way1
    return force, change


@compiled
def _force_in_space(force: Array, axes: Array, out: Array) -> None:
    for i in range(3):
        out[i] = force[0] * axes[0, i] + force[1] * axes[1, i] + force[2] * axes[2, i]


@compiled
def carried_by_elements(
    strip: Layout,
    x: Array,
    force: Array,
    axes: Array,
    where: Array,
    turning: BoolArray,
    first: IntArray,
    share: Array,
    press: float,
) -> Array:
    """Force and moment about the origin that contact and press beyond each element make, (e, 6).

    Parameters
    ----------
    strip : Layout
        Constants.
    x : numpy.ndarray
        Nodes, (n, 3). [mm]
    force, axes, where, turning : numpy.ndarray
        At the slots' points: forces along the axes, axes, places, and which stand for rotations. [N, -, mm]
    first, share : numpy.ndarray
        What the slots face, as `gap.Facing` has it.
    press : float
        Press. [N]

    Returns
    -------
    numpy.ndarray
        [N, N mm]
    """
    n = len(x)
    nodal, F, M = np.zeros((n, 6)), np.empty(3), np.empty(3)
    for s in range(len(force)):
        for p in range(2):
            _force_in_space(force[s, p], axes[s, p], F)
            _cross(where[s, p], F, M)
            if turning[s, p]:
                for i in range(3):
                    F[i], M[i] = 0.0, F[i]
            for i in range(6):
                part = F[i] if i < 3 else M[i - 3]
                nodal[strip.outer[s], i] += part
                if first[s] >= 0:
                    nodal[first[s], i] -= (1 - share[s, 0]) * part
                    nodal[first[s] + 1, i] -= share[s, 0] * part
    carried, sums = np.empty((n - 1, 6)), np.zeros(6)
    for k in range(n - 1, 0, -1):
        lift = press * strip.load_share[k]
        nodal[k, 2] += lift
        nodal[k, 3] += lift * x[k, 1]
        nodal[k, 4] -= lift * x[k, 0]
        for i in range(6):
            sums[i] += nodal[k, i]
            carried[k - 1, i] = sums[i]
    return carried


@compiled
def _running_sums(strip: Layout, T: Array, first_half: Array, second_half: Array) -> Array:
    """What the nodes so far along each spline's support do: (count, support + 1, 3, 3)."""
    count, support = strip.table_node.shape
    sums, lever, column = np.zeros((count, support + 1, 3, 3)), np.empty(3), np.empty(3)
    axis = np.empty(3)
    n, e = len(T), len(first_half)
    turned = np.empty((n, 3, 3))
    for k in range(n):
        for i in range(3):
            lever[i] = (second_half[k - 1, i] if k > 0 else 0.0) + (first_half[k, i] if k < e else 0.0)
        for c in range(3):
            for i in range(3):
                axis[i] = T[k, i, c]
            _cross(axis, lever, column)
            for i in range(3):
                turned[k, i, c] = column[i]
    for j in range(count):
        for t in range(support):
            node, v = strip.table_node[j, t], strip.table_value[j, t]
            for i in range(3):
                for c in range(3):
                    sums[j, t + 1, i, c] = sums[j, t, i, c] + v * turned[node, i, c]
    return sums


@compiled
def _drawn_out(softness: Array, along: Array) -> Array:
    """How far a stretch of one draws out the elements so far, (e + 1, 3). [mm]"""
    drawn_out = np.zeros((len(along) + 1, 3))
    for k in range(len(along)):
        for i in range(3):
            drawn_out[k + 1, i] = drawn_out[k, i] + softness[k] * along[k, i]
    return drawn_out


@compiled
def _put_turns_between(
    sums: Array,
    start: IntArray,
    column: IntArray,
    c0: int,
    after: int,
    until: int,
    axes: Array,
    turning: BoolArray,
    rows: Array,
) -> None:
    """What the splines turn from one node until another does to a slot's two points, in its rows (6, C)."""
    support, C = sums.shape[1] - 1, rows.shape[1]
    for j in range(len(sums)):
        high = min(max(until - start[j], 0), support)
        low = min(max(after - start[j], 0), support)
        first = column[j] - c0
        if high == low or not 0 <= first <= C - 3:
            continue
        for c in range(3):
            D0 = sums[j, high, 0, c] - sums[j, low, 0, c]
            D1 = sums[j, high, 1, c] - sums[j, low, 1, c]
            D2 = sums[j, high, 2, c] - sums[j, low, 2, c]
            for p in range(2):
                if turning[p]:
                    continue
                for a in range(3):
                    rows[3 * p + a, first + c] = (
                        axes[p, a, 0] * D0 + axes[p, a, 1] * D1 + axes[p, a, 2] * D2
                    )


@compiled
def _put_stretch_between(
    low: Array, high: Array, axes: Array, turning: BoolArray, rows: Array, column: int
) -> None:
    """What a stretch, having drawn out so much before and so much behind, does to a slot's two points."""
    for p in range(2):
        if turning[p]:
            continue
        for a in range(3):
            rows[3 * p + a, column] = _dot(axes[p, a], high) - _dot(axes[p, a], low)


@compiled
def _add_stretch_up_to(
    ahead: float, softness: float, along: Array, axes: Array, turning: BoolArray, rows: Array, column: int
) -> None:
    """What the stretch of the element does in which the place faced lies: up to that place only."""
    for p in range(2):
        if turning[p]:
            continue
        for a in range(3):
            part = _dot(axes[p, a], along) * (1 - ahead)
            rows[3 * p + a, column] += part * softness


@compiled
def _lever_on_line(
    by_half: float,
    half: Array,
    by_slope: float,
    slope: Array,
    share: float,
    where: Array,
    at: Array,
    lever: Array,
) -> None:
    """Lever by which a node beside the place faced moves a point: the cubic's weights, and the face's."""
    for i in range(3):
        lever[i] = by_half * half[i] - by_slope * slope[i]
        lever[i] -= share * (where[i] - at[i])


@compiled
def _add_turn_of_node(
    sign: float,
    lever: Array,
    axes: Array,
    turning: bool,
    T: Array,
    value: Array,
    column: IntArray,
    c0: int,
    turn: Array,
    rows: Array,
) -> None:
    """What a node's turning does to a point, by its lever or as a rotation, spread over its splines."""
    for a in range(3):
        _cross(lever, axes[a], turn)
        if turning:
            for i in range(3):
                turn[i] = sign * axes[a, i]
        for c in range(3):
            part = turn[0] * T[0, c] + turn[1] * T[1, c] + turn[2] * T[2, c]
            for j in range(len(value)):
                at = column[j] + c - c0
                if 0 <= at < rows.shape[1]:
                    rows[a, at] += part * value[j]


@compiled
def gap_change_of(
    strip: Layout,
    x: Array,
    T: Array,
    first_half: Array,
    second_half: Array,
    along: Array,
    axes: Array,
    where: Array,
    turning: BoolArray,
    first: IntArray,
    share: Array,
    length: Array,
    at: Array,
    tangent_first: Array,
    tangent_next: Array,
) -> Array:
    """Change of every gap component with the unknowns of its block's window, (blocks, 6 B, C).

    Parameters
    ----------
    strip : Layout
        Constants.
    x, T, first_half, second_half, along : numpy.ndarray
        Nodes, their tangent maps, the elements' halves and directions.
    axes, where, turning : numpy.ndarray
        The slots' points.
    first, share, length, at, tangent_first, tangent_next : numpy.ndarray
        What they face, as `gap.Facing` has it.

    Returns
    -------
    numpy.ndarray
        [mm/rad, mm]
    """
    sums = _running_sums(strip, T, first_half, second_half)
    drawn_out = _drawn_out(strip.softness_mm, along)
    J = np.zeros((len(strip.window_first), 6 * strip.block, strip.columns))
    lever, turn, splines = np.empty(3), np.empty(3), strip.value.shape[1]
    for s in range(len(strip.outer)):
        block = s // strip.block
        w, c0, o = strip.window_first[block], strip.window_column[block], strip.outer[s]
        begin, end = 6 * (s - block * strip.block), w + strip.window
        rows = J[block, begin : begin + 6]
        inner, u, L = first[s], share[s, 0], length[s, 0]
        after = inner + 1 if inner >= 0 else 0
        ahead = u * u * (3 - 2 * u)
        start, column = strip.start[w:end], strip.column[w:end]
        _put_turns_between(sums[w:end], start, column, c0, after, o, axes[s], turning[s], rows)
        for t in range(strip.window_stretch[block], strip.stretch_of[o - 1] + 1):
            low, high = max(strip.stretch_begins[t], after), min(strip.stretch_begins[t + 1], o)
            if high > low:
                to = strip.stretch_column[t] - c0
                _put_stretch_between(drawn_out[low], drawn_out[high], axes[s], turning[s], rows, to)
        if inner >= 0:
            to = strip.stretch_column[strip.stretch_of[inner]] - c0
            if 0 <= to < strip.columns:
                softness = strip.softness_mm[inner]
                _add_stretch_up_to(ahead, softness, along[inner], axes[s], turning[s], rows, to)
        for p in range(2):
            own, is_turn, its_rows = axes[s, p], turning[s, p], rows[3 * p : 3 * p + 3]
            for i in range(3):
                lever[i] = second_half[o - 1, i] + where[s, p, i] - x[o, i]
            column = strip.column[strip.first[o] : strip.first[o] + splines]
            _add_turn_of_node(1.0, lever, own, is_turn, T[o], strip.value[o], column, c0, turn, its_rows)
            for k in range(inner, after + 1 if inner >= 0 else inner):
                near, v = (1 - ahead, 1 - u) if k == inner else (-ahead, u)
                half = first_half[inner] if k == inner else second_half[inner]
                bend = L * u * (1 - u) ** 2 if k == inner else L * u * u * (u - 1)
                slope = tangent_first[s] if k == inner else tangent_next[s]
                _lever_on_line(near, half, bend, slope, v, where[s, p], at[s], lever)
                column = strip.column[strip.first[k] : strip.first[k] + splines]
                _add_turn_of_node(-v, lever, own, is_turn, T[k], strip.value[k], column, c0, turn, its_rows)
    return J


@compiled
def _add_turned_lever(lever: Array, force: Array, factor: float, out: Array) -> None:
    """Moment's change as a lever turns under a force, v F' - (v . F) 1, added up."""
    along = _dot(lever, force)
    for i in range(3):
        for j in range(3):
            out[i, j] += factor * lever[i] * force[j]
        out[i, i] -= factor * along


@compiled
def _turned_with_splines(
    F: Array, axes: Array, part: float, T: Array, value: Array, shift: int, c: Array, t: Array
) -> None:
    """How a force moves along a point's axes as these turn with a node, spread over the node's splines.

    Added to (splines, 3, 3): spline from the first, its component, axis of the point.
    """
    for a in range(3):
        _cross(F, axes[a], c)
        for d in range(3):
            turned = part * (c[0] * T[0, d] + c[1] * T[1, d] + c[2] * T[2, d])
            for j in range(len(value)):
                t[shift + j, d, a] += turned * value[j]


@compiled
def _add_by_gap_change(t: Array, J0: Array, J1: Array, J2: Array, columns: IntArray, G: Array) -> None:
    """Add what the splines' turnings do to the forces, by the change of a point's three gaps, to (C, C)."""
    C = len(J0)
    for j in range(len(columns)):
        if not 0 <= columns[j] <= C - 3:
            continue
        for d in range(3):
            t0, t1, t2 = t[j, d, 0], t[j, d, 1], t[j, d, 2]
            if t0 != 0.0 or t1 != 0.0 or t2 != 0.0:
                line = G[columns[j] + d]
                for i in range(C):
                    line[i] += t0 * J0[i] + t1 * J1[i] + t2 * J2[i]


@compiled
def _take_from_band(
    less: Array, first: int, height: int, diagonal: int, half_band: int, band: Array
) -> None:
    """Take a window's matrix, (C, C), row by row from the band's columns, flattened."""
    C = len(less)
    for b in range(C):
        begin = (first + b) * height + diagonal - b
        low, high = max(0, b - half_band), min(C, b + half_band + 1)
        column_of, row = band[begin + low : begin + high], less[b, low:high]
        for a in range(high - low):
            column_of[a] -= row[a]


@compiled
def add_contact(
    strip: Layout,
    x: Array,
    T: Array,
    axes: Array,
    where: Array,
    first: IntArray,
    share: Array,
    at: Array,
    J: Array,
    force: Array,
    seats: int,
    band: Array,
    nodal: Array,
) -> None:
    """Second derivatives of the contact: taken from the band, and gathered at the nodes, (n, 3, 3).

    A nail's axes keep their direction, so only the seats count. The low point's axes turn with the inner
    turn, the high point's with the outer.

    Parameters
    ----------
    strip : Layout
        Constants.
    x, T : numpy.ndarray
        Nodes and their tangent maps.
    axes, where, first, share, at : numpy.ndarray
        The slots' points and what they face.
    J : numpy.ndarray
        As :func:`gap_change_of` gives it.
    force : numpy.ndarray
        Forces at the points, (s, 2, 3). [N]
    seats : int
        Slots that are seats.
    band, nodal : numpy.ndarray
        Changed: the strip's own stiffness, flattened, and what levers do at the nodes. [N mm]
    """
    functions, C = strip.value.shape[1], strip.columns
    G, F, lever, c = np.empty((C, C)), np.empty(3), np.empty(3), np.empty(3)
    t, columns = np.empty((functions + 1, 3, 3)), np.empty(functions + 1, dtype=np.int64)
    for block in range(len(J)):
        c0 = strip.window_column[block]
        G[:] = 0.0
        for s in range(block * strip.block, min((block + 1) * strip.block, seats)):
            row = 6 * (s - block * strip.block)
            o, inner, u = strip.outer[s], first[s], share[s, 0]
            for p in range(2):
                _force_in_space(force[s, p], axes[s, p], F)
                if F[0] == 0.0 and F[1] == 0.0 and F[2] == 0.0:
                    continue
                for i in range(3):
                    lever[i] = where[s, p, i] - x[o, i]
                _add_turned_lever(lever, F, 1.0, nodal[o])
                if inner >= 0:
                    for i in range(3):
                        lever[i] = where[s, p, i] - at[s, i]
                    _add_turned_lever(lever, F, u - 1, nodal[inner])
                    _add_turned_lever(lever, F, -u, nodal[inner + 1])
                elif p == 0:
                    continue
                begin = strip.first[o] if p == 1 else strip.first[inner]
                t[:] = 0.0
                if p == 1:
                    _turned_with_splines(F, axes[s, p], 1.0, T[o], strip.value[o], 0, c, t)
                else:
                    _turned_with_splines(F, axes[s, p], 1 - u, T[inner], strip.value[inner], 0, c, t)
                    shift = strip.first[inner + 1] - begin
                    _turned_with_splines(
                        F, axes[s, p], u, T[inner + 1], strip.value[inner + 1], shift, c, t
                    )
                for j in range(functions + 1):
                    columns[j] = strip.column[begin + j] - c0 if begin + j < len(strip.column) else -1
                r = row + 3 * p
                _add_by_gap_change(t, J[block, r], J[block, r + 1], J[block, r + 2], columns, G)
        for b in range(C):
            for a in range(b + 1):
                G[a, b] = G[b, a] = G[b, a] + G[a, b]
        _take_from_band(G, c0, strip.height, strip.diagonal, strip.half_band, band)


@compiled
def _bend_and_twist(C: Array, M: Array, K: Array) -> None:
    """How the moments at an element's two ends change with small turnings of both, (2, 2, 3, 3): written.

    What bends it, and the moment it carries as it turns, half at either end.
    """
    for i in range(3):
        K[0, 0, i, i] = K[1, 1, i, i] = C[i, i]
        K[0, 1, i, i] = K[1, 0, i, i] = -C[i, i]
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        half = 0.5 * M[k]
        K[0, 0, i, j], K[1, 1, i, j] = C[i, j] - half, C[i, j] + half
        K[0, 1, i, j], K[1, 0, i, j] = -half - C[i, j], half - C[i, j]
        K[0, 0, j, i], K[1, 1, j, i] = C[j, i] + half, C[j, i] - half
        K[0, 1, j, i], K[1, 0, j, i] = half - C[j, i], -half - C[j, i]


@compiled
def _by_rotation_vectors(T: Array, K: Array, work: Array, own: Array) -> None:
    """The same with changes of the ends' rotation vectors, T' K T: written."""
    for a in range(2):
        for b in range(2):
            _transposed_product(T[a], K[a, b], work)
            _product(work, T[b], own[a, b])


@compiled
def _add_forces(
    strip: Layout,
    k: int,
    T: Array,
    first_half: Array,
    second_half: Array,
    moment: Array,
    internal: Array,
    lift: Array,
) -> None:
    """An element's moment on its splines, and what a press of one newton beyond it does to them: added."""
    for f in range(strip.element_start.shape[1]):
        at = strip.column[strip.element_first[k] + f]
        s0, s1 = strip.element_start[k, f], strip.element_end[k, f]
        for c in range(3):
            start = T[0, 0, c] * moment[0] + T[0, 1, c] * moment[1] + T[0, 2, c] * moment[2]
            end = T[1, 0, c] * moment[0] + T[1, 1, c] * moment[1] + T[1, 2, c] * moment[2]
            internal[at + c] += s1 * end - s0 * start
            start = T[0, 0, c] * first_half[1] - T[0, 1, c] * first_half[0]
            end = T[1, 0, c] * second_half[1] - T[1, 1, c] * second_half[0]
            lift[at + c] += strip.beyond[k] * (s0 * start + s1 * end)


@compiled
def own_stiffness(
    strip: Layout,
    x: Array,
    T: Array,
    first_half: Array,
    second_half: Array,
    along: Array,
    bend: Array,
    stretch: Array,
    middle: Array,
    carried: Array,
    press: float,
    nodal: Array,
    band: Array,
    damping: Array,
) -> tuple[Array, Array]:
    """The elements' stiffness and that of what they carry, added to the band; their forces and the lift.

    Parameters
    ----------
    strip : Layout
        Constants.
    x, T : numpy.ndarray
        Nodes and their tangent maps.
    first_half, second_half, along, bend, stretch, middle : numpy.ndarray
        The elements, as `Configuration` has them.
    carried : numpy.ndarray
        What they carry, (e, 6), where contact's own turning is counted. [N, N mm]
    press : float
        Press, of which alone the turning is counted otherwise. [N]
    nodal : numpy.ndarray
        As :func:`add_contact` leaves it, (n, 3, 3); no rows where contact's own turning is not counted.
    band, damping : numpy.ndarray
        Changed: the band, and the elements' stiffness alone, flattened; no entries where not wanted. [N mm]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Forces of the elements on the splines [N mm], and what a press of one newton does to them [mm].
    """
    unknowns = 3 * len(strip.column) + len(strip.stretch_column)
    internal, lift = np.zeros(unknowns), np.zeros(unknowns)
    with_contact = len(nodal) > 0
    C, Q, M, moment = np.empty((3, 3)), np.zeros(3), np.zeros(3), np.empty(3)
    local, work, raised, pulled = np.empty(3), np.empty((3, 3)), np.zeros(3), np.empty(3)
    K, own, none = np.empty((2, 2, 3, 3)), np.empty((2, 2, 3, 3)), np.zeros(3)
    reach0, reach1 = 0.0, 0.0
    for k in range(len(along) - 1, -1, -1):
        _into(strip.bending_Nmm[k], bend[k], local)
        _into(middle[k], local, moment)
        _product(middle[k], strip.bending_Nmm[k], work)
        for i in range(3):
            for j in range(3):
                C[i, j] = _dot(work[i], middle[k, j])
        if with_contact:
            for i in range(3):
                Q[i], M[i] = carried[k, i], moment[i]
        else:
            reach0 += strip.load_share[k + 1] * x[k + 1, 0]
            reach1 += strip.load_share[k + 1] * x[k + 1, 1]
            Q[2] = press * strip.beyond[k]
            M[0] = press * (reach1 - strip.beyond[k] * 0.5 * (x[k + 1, 1] + x[k, 1]))
            M[1] = -press * (reach0 - strip.beyond[k] * 0.5 * (x[k + 1, 0] + x[k, 0]))
        _bend_and_twist(C, M, K)
        if with_contact:
            for i in range(3):
                for j in range(3):
                    K[1, 1, i, j] -= nodal[k + 1, i, j]
        _add_turned_lever(first_half[k], Q, -1.0, K[0, 0])
        _add_turned_lever(second_half[k], Q, -1.0, K[1, 1])
        _by_rotation_vectors(T[k : k + 2], K, work, own)
        _cross(along[k], Q, raised)
        for i in range(3):
            pulled[i] = -(T[k, 0, i] * raised[0] + T[k, 1, i] * raised[1] + T[k, 2, i] * raised[2])
        _add_element(strip, k, own, pulled, strip.stretch_N_per_mm[k], band)
        if len(damping) > 0:
            _bend_and_twist(C, none, K)
            _by_rotation_vectors(T[k : k + 2], K, work, own)
            _add_element(strip, k, own, none, strip.stretch_N_per_mm[k], damping)
        _add_forces(strip, k, T[k : k + 2], first_half[k], second_half[k], moment, internal, lift)
        at, mid = strip.stretch_column[strip.stretch_of[k]], strip.softness_mm[k]
        internal[at] += mid * strip.stretch_N_per_mm[k] * stretch[k]
        lift[at] += strip.beyond[k] * mid * along[k, 2]
    return internal, lift


@compiled
def _add_element(strip: Layout, k: int, own: Array, pulled: Array, stretch: float, band: Array) -> None:
    """An element's stiffness, its ends' rotations and its stretch, spread over its splines into a band."""
    functions, diagonal = strip.element_start.shape[1], strip.diagonal
    whole, mid = strip.stretch_column[strip.stretch_of[k]], strip.softness_mm[k]
    for g in range(functions):
        g0, g1 = strip.element_start[k, g], strip.element_end[k, g]
        first = strip.column[strip.element_first[k] + g]
        for f in range(functions):
            f0, f1 = strip.element_start[k, f], strip.element_end[k, f]
            row = strip.column[strip.element_first[k] + f]
            for d in range(3):
                at = (first + d) * strip.height + diagonal + row - first - d
                for c in range(3):
                    band[at + c] += g0 * (f0 * own[0, 0, c, d] + f1 * own[1, 0, c, d]) + g1 * (
                        f0 * own[0, 1, c, d] + f1 * own[1, 1, c, d]
                    )
        for d in range(3):
            band[(first + d) * strip.height + diagonal + whole - first - d] += mid * g0 * pulled[d]
            band[whole * strip.height + diagonal + first + d - whole] += mid * g0 * pulled[d]
    band[whole * strip.height + diagonal] += mid * mid * stretch


@compiled
def _on_the_tangent(force: Array, D: Array, gap: Array, predicted: Array, out: Array) -> float:
    """A point's force carried to other gaps by its derivative, written; the largest stiffness of that."""
    large = 0.0
    for i in range(3):
        out[i] = force[i]
        for j in range(3):
            out[i] += D[i, j] * (gap[j] - predicted[j])
            large = max(large, abs(D[i, j]))
    return large


@compiled
def _put_rows(J: Array, D: Array, rows: Array, turned: Array) -> None:
    """A point's changes of gap, (3, C), and those times its stiffness: written."""
    # Rows are taken out before the loops along them: indexed in place they are not worked on in vectors.
    J0, J1, J2 = J[0], J[1], J[2]
    for a in range(3):
        Ja, row, turn = J[a], rows[a], turned[a]
        D0, D1, D2 = D[a, 0], D[a, 1], D[a, 2]
        for i in range(len(J0)):
            row[i] = Ja[i]
            turn[i] = D0 * J0[i] + D1 * J1[i] + D2 * J2[i]


@compiled
def linear_change(
    strip: Layout,
    J: Array,
    force: Array,
    change: Array,
    gap: Array,
    predicted: Array,
    own: Array,
    damping: Array,
    times: float,
    press: float,
    lift: Array,
    internal: Array,
    band: Array,
) -> Array:
    """The linear system: own band less that of the contact; and all forces on the splines, (unknowns,).

    Parameters
    ----------
    strip : Layout
        Constants.
    J : numpy.ndarray
        As :func:`gap_change_of` gives it.
    force, change : numpy.ndarray
        Forces and their derivative, (s, 2, 3) and (s, 2, 3, 3). [N, N/mm]
    gap, predicted : numpy.ndarray
        Gaps of the configuration, and those the forces were worked out for, (s, 2, 3). [mm]
    own, damping : numpy.ndarray
        The strip's own band and what resists the change, flattened; no entries where nothing does. [N mm]
    times : float
        Times the latter. [-]
    press : float
        Press. [N]
    lift, internal : numpy.ndarray
        As :func:`own_stiffness` gives them. [mm, N mm]
    band : numpy.ndarray
        Written, but for the rows in which LAPACK fills in. [N mm]

    Returns
    -------
    numpy.ndarray
        [N mm]
    """
    C, most = J.shape[2], J.shape[1]
    right = press * lift - internal
    for column in range(len(right)):
        begin, end = column * strip.height + strip.below, (column + 1) * strip.height
        band[begin:end] = own[begin:end]
    if times > 0:
        for i in range(len(band)):
            band[i] += times * damping[i]
    rows, turned = np.empty((most, C)), np.empty((most, C))
    lifted = np.empty(3)
    for block in range(len(J)):
        c0, count = strip.window_column[block], 0
        onto = right[c0 : c0 + C]
        for s in range(block * strip.block, min((block + 1) * strip.block, len(force))):
            for p in range(2):
                r = 6 * (s - block * strip.block) + 3 * p
                J0, J1, J2 = J[block, r], J[block, r + 1], J[block, r + 2]
                large = _on_the_tangent(force[s, p], change[s, p], gap[s, p], predicted[s, p], lifted)
                f0, f1, f2 = lifted[0], lifted[1], lifted[2]
                for i in range(C):
                    onto[i] += f0 * J0[i] + f1 * J1[i] + f2 * J2[i]
                if not large < _FAR:
                    _put_rows(J[block, r : r + 3], change[s, p], rows[count:], turned[count:])
                    count += 3
        if count > 0:
            contact = np.dot(turned[:count].T, rows[:count])
            _take_from_band(contact, c0, strip.height, strip.diagonal, strip.half_band, band)
    # The first three splines stay as they are: the root is held.
    for i in range(3):
        band[i * strip.height + strip.diagonal] += _HELD
        right[i] = 0.0
    return right


@compiled
def moved_gaps(strip: Layout, J: Array, unknowns: Array) -> Array:
    """What a small change of the splines does to the gap components, (s, 2, 3). [mm]

    Parameters
    ----------
    strip : Layout
        Constants.
    J : numpy.ndarray
        As :func:`gap_change_of` gives it.
    unknowns : numpy.ndarray
        Change of the unknowns, (unknowns,). [rad, -]

    Returns
    -------
    numpy.ndarray
        [mm]
    """
    C, slots = J.shape[2], len(strip.outer)
    moved = np.empty((slots, 2, 3))
    for block in range(len(J)):
        c0, first = strip.window_column[block], block * strip.block
        count = min(strip.block, slots - first)
        moved[first : first + count] = np.dot(J[block], unknowns[c0 : c0 + C])[: 6 * count].reshape(
            count, 2, 3
        )
    return moved


@compiled
def moved_nodes(
    strip: Layout, T: Array, first_half: Array, second_half: Array, along: Array, unknowns: Array
) -> Array:
    """What a small change of the splines does to the nodes but the root, (n - 1, 3). [mm]

    Parameters
    ----------
    strip : Layout
        Constants.
    T, first_half, second_half, along : numpy.ndarray
        Tangent maps of the nodes; halves and directions of the elements.
    unknowns : numpy.ndarray
        Change of the unknowns, (unknowns,). [rad, -]

    Returns
    -------
    numpy.ndarray
        [mm]
    """
    n, e = len(T), len(along)
    theta, turn, motion = np.empty((n, 3)), np.empty(3), np.empty((e, 3))
    for k in range(n):
        turn[0] = turn[1] = turn[2] = 0.0
        for j in range(strip.value.shape[1]):
            for i in range(3):
                turn[i] += strip.value[k, j] * unknowns[strip.column[strip.first[k] + j] + i]
        _into(T[k], turn, theta[k])
    start, end, so_far = np.empty(3), np.empty(3), np.zeros(3)
    for k in range(e):
        stretch = strip.softness_mm[k] * unknowns[strip.stretch_column[strip.stretch_of[k]]]
        _cross(theta[k], first_half[k], start)
        _cross(theta[k + 1], second_half[k], end)
        for i in range(3):
            so_far[i] += start[i] + end[i] + along[k, i] * stretch
            motion[k, i] = so_far[i]
    return motion


@compiled
def longest(motion: Array) -> float:
    """Longest of some motions, (k, 3). [mm]

    Parameters
    ----------
    motion : numpy.ndarray
        Motions. [mm]

    Returns
    -------
    float
        [mm]; nan or infinite where one is.
    """
    most = 0.0
    for k in range(len(motion)):
        square = _dot(motion[k], motion[k])
        if square != square:
            return square
        most = max(most, square)
    return np.sqrt(most)  # type: ignore[no-any-return]  # numpy scalars


@compiled
def off_the_law(
    seats: int, force: Array, was: Array, change: Array, gap: Array, gap_was: Array
) -> tuple[float, float]:
    """By how much the law's forces differ from those of the linear system, and their size: sums. [N]

    Parameters
    ----------
    seats : int
        Slots that are seats: only they are counted.
    force, was, change : numpy.ndarray
        Forces of the law, those before and their derivative, (s, 2, 3) and (s, 2, 3, 3). [N, N/mm]
    gap, gap_was : numpy.ndarray
        Gaps of both, (s, 2, 3). [mm]

    Returns
    -------
    tuple[float, float]
        Sums of magnitudes over components. [N]
    """
    off, size = 0.0, 0.0
    for s in range(seats):
        for p in range(2):
            for i in range(3):
                linear = was[s, p, i]
                for j in range(3):
                    linear += change[s, p, i, j] * (gap[s, p, j] - gap_was[s, p, j])
                off += abs(force[s, p, i] - linear)
                size += abs(force[s, p, i])
    return off, size


@compiled
def deformed_under(strip: Layout, carried: Array, middle: Array, frame: Array) -> Array:
    """Deformation of the elements under what they carry, local axes, (e, 6). [mm, rad]

    Parameters
    ----------
    strip : Layout
        Constants.
    carried : numpy.ndarray
        Force and moment about the origin, (e, 6). [N, N mm]
    middle, frame : numpy.ndarray
        The elements' middles and axes, (e, 3) and (e, 3, 3). [mm, -]

    Returns
    -------
    numpy.ndarray
        Shifts and turnings.
    """
    e = len(carried)
    made, about, local = np.empty((e, 6)), np.empty(3), np.empty(6)
    for k in range(e):
        F, M = carried[k, :3], carried[k, 3:]
        _cross(middle[k], F, about)
        for i in range(3):
            local[i] = F[0] * frame[k, 0, i] + F[1] * frame[k, 1, i] + F[2] * frame[k, 2, i]
            local[3 + i] = 0.0
            for j in range(3):
                local[3 + i] += (M[j] - about[j]) * frame[k, j, i]
        for i in range(6):
            made[k, i] = 0.0
            for j in range(6):
                made[k, i] += strip.flexibility[k, i, j] * local[j]
    return made


@compiled
def books_of(
    force: Array,
    was: Array,
    gap: Array,
    gap_was: Array,
    predicted: Array,
    compliance: float,
    rounding: float,
    friction: float,
) -> tuple[float, float, float, float, float, float]:
    """Work at the seats' points on the way from one state to the next, and what is left amiss.

    Parameters
    ----------
    force, was : numpy.ndarray
        Forces at both, of the first slots, which are the seats, (s, 2, 3) and more. [N]
    gap, predicted : numpy.ndarray
        Gaps with the sliding on the way in the shape, and as the linear system has them, as many. [mm]
    gap_was : numpy.ndarray
        Normal gaps before, (s, 2); its rows are the seats. [mm]
    compliance, rounding, friction : float
        g, w and mu. [mm/N, N, -]

    Returns
    -------
    tuple of float
        Lost in friction and stored in the compliance [N mm]; the largest gap of a bearing point beside its
        compliance or overlap of an open one [mm], pull [N] and friction beyond its bound [N]; the largest
        difference between a bearing point's gap and that predicted [mm].
    """
    lost, given, off, pull, over, miss = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for s in range(len(gap_was)):
        for p in range(2):
            N, g = force[s, p, 0], gap[s, p, 0]
            for i in range(1, 3):
                lost -= 0.5 * (force[s, p, i] + was[s, p, i]) * gap[s, p, i]
            given -= 0.5 * (N + was[s, p, 0]) * (g - gap_was[s, p])
            rubs = np.sqrt(force[s, p, 1] * force[s, p, 1] + force[s, p, 2] * force[s, p, 2])
            pull, over = max(pull, -N), max(over, rubs - friction * N)
            if rounding < N:
                off, miss = max(off, abs(g + compliance * N)), max(miss, abs(g - predicted[s, p, 0]))
            else:
                off = max(off, -g)
    return lost, given, off, pull, over, miss


def prepared() -> bool:
    """Whether the loops have been compiled on this machine before.

    Returns
    -------
    bool
        False at the first use of an installation, which then takes some ten to thirty seconds longer.
    """
    return is_kept(own_stiffness)
