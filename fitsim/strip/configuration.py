"""One shape of the pressed strip: gaps at its slots, what it carries, and what small changes of it do.

The shape is written as splines (`strip.splines`): node k is turned by R_k = exp(psi_k) R_k0, and the
nodes follow from x_{k+1} = x_k + R_k a_k + R_{k+1} c_k, a and c being the two halves of the element
in its nodes' axes, its shear and stretch included. A small turning theta_k of every node, and a small
stretch, move node o against the place l that it faces by

    d x_o - d x_l = sum over l < j <= o of theta_j x v_j + sum over the elements between of t_e d(stretch)

with v_j the lever that hangs on node j. The gap at a point changes by the normal times that motion and
that of the levers at either end; the same numbers, transposed, turn forces at points into what they do
to the splines (virtual work). The second derivatives that go with it are:

- of the elements: stiffness turned with them, and their moment turned with them;
- of what is carried: a force Q beyond node j turns its lever, v Q' - (v . Q) 1, at each node by itself;
- of the contact: the axes of a point turn with the body they belong to, and the lever of the other body
  moves (`_follow`).

Everything but the windows of the slots is local, so the system is a band as wide as one turn. With all
terms it is the exact tangent (`tests/test_configuration.py` holds it against differences).
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided
from scipy.linalg.lapack import dgbtrf, dgbtrs

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.strip.beam import Shape
from fitsim.strip.gap import Meeting, meet
from fitsim.strip.nail_tie import nail_misfit
from fitsim.strip.rotations import cross, rotation_and_tangent, rotation_vectors, rotations, skew
from fitsim.strip.splines import StripSplines

__all__ = [
    "Configuration",
    "Held",
    "Tangent",
    "carried_wrench_at",
    "configure",
    "held_constants",
    "moved_by",
    "shape_of",
    "shear_under",
    "solved",
    "tangent",
]

_FIXED = 1e14
"""Stiffness that holds the root's rotations. [N mm]"""


@dataclass(frozen=True, eq=False)
class Held:
    """Constants of a strip that every configuration uses.

    Attributes
    ----------
    splines : StripSplines
        How its shape is written.
    stretch_N_per_mm, bending_Nmm, shear_mm_per_N : numpy.ndarray
        Stiffness of the elements against stretch (e,) and bending and twist (e, 3, 3), flexibility
        against shear, transverse bending not counted, (e, 2). [N/mm, N mm, mm/N]
    beyond : numpy.ndarray
        Share of the press beyond each element, (e,). [-]
    nail_place : numpy.ndarray
        Places the nails enter, (nails,). [-]
    tied : numpy.ndarray
        Components a nail ties, (nails, 2, 3).
    base_line : tuple of numpy.ndarray
        Base nodes, axes and all lengths of the line of base and strip. [mm, -, mm]
    """

    splines: StripSplines
    stretch_N_per_mm: Array
    bending_Nmm: Array
    shear_mm_per_N: Array
    beyond: Array
    nail_place: Array
    tied: BoolArray
    base_line: tuple[Array, Array, Array]


def held_constants(splines: StripSplines) -> Held:
    """Constants of a strip.

    Parameters
    ----------
    splines : StripSplines
        How its shape is written.

    Returns
    -------
    Held
        Worked out once.
    """
    bowl = splines.bowl
    F, strip = bowl.strip.flexibility, bowl.strip
    chord = np.linalg.norm(np.diff(strip.position_mm, axis=0), axis=1)
    # Elements bend as one piece; that a shear force bends them about their middle is in the splines.
    shear = np.stack([F[:, 0, 0] - chord**2 / 12 * F[:, 5, 5], F[:, 2, 2] - chord**2 / 12 * F[:, 3, 3]], 1)
    return Held(
        splines=splines,
        stretch_N_per_mm=1 / F[:, 1, 1],
        bending_Nmm=np.asarray(np.linalg.inv(F[:, 3:, 3:]), dtype=np.float64),
        shear_mm_per_N=np.maximum(shear, 0.0),
        beyond=np.cumsum(bowl.load_share[:0:-1])[::-1].copy(),
        nail_place=np.array([nail.place for nail in bowl.nails], dtype=np.float64),
        tied=np.array([[nail.held[:3], nail.held[3:]] for nail in bowl.nails], dtype=bool).reshape(
            -1, 2, 3
        ),
        base_line=(
            bowl.seats.base_mm,
            bowl.seats.base_frame,
            np.concatenate([bowl.seats.base_arc_mm, strip.arc_mm]),
        ),
    )


@dataclass(frozen=True, eq=False)
class Configuration:
    """A shape of the strip and how its slots stand.

    Attributes
    ----------
    position_mm, frame : numpy.ndarray
        Nodes and their axes, (n, 3) and (n, 3, 3). [mm, -]
    tangent_map : numpy.ndarray
        T of `rotation` at the nodes, (n, 3, 3). [-]
    first_half_mm, second_half_mm : numpy.ndarray
        R_k a_k and R_{k+1} c_k of the elements, (e, 3). [mm]
    along : numpy.ndarray
        Direction in which an element stretches, (e, 3). [-]
    bend_rad : numpy.ndarray
        Bending and twist of the elements, their axes, (e, 3). [rad]
    stretch_mm : numpy.ndarray
        Stretch of the elements, (e,). [mm]
    middle_frame : numpy.ndarray
        Axes at the elements' middles, (e, 3, 3). [-]
    meeting : Meeting
        Seats, then nails as further places.
    gap : numpy.ndarray
        Gaps and sliding at every slot, (s, 2, 3); of a nail its misfit. [mm, rad]
    axes : numpy.ndarray
        Axes at every slot's points, rows, (s, 2, 3, 3). [-]
    where_mm : numpy.ndarray
        The points, (s, 2, 3). [mm]
    turning : numpy.ndarray
        Points that stand for rotations: a nail's second, (s, 2).
    rise_mm : float
        Rise weighted as the press is spread. [mm]
    """

    position_mm: Array
    frame: Array
    tangent_map: Array
    first_half_mm: Array
    second_half_mm: Array
    along: Array
    bend_rad: Array
    stretch_mm: Array
    middle_frame: Array
    meeting: Meeting
    gap: Array
    axes: Array
    where_mm: Array
    turning: BoolArray
    rise_mm: float


def _times(A: Array, v: Array) -> Array:
    return np.asarray(np.matmul(A, v[..., None])[..., 0])


def configure(
    held: Held, coefficients: Array, shear: Array, place: Array, slope_mm: Array, *, sweeps: int = 1
) -> Configuration:
    """The shape that splines give.

    Parameters
    ----------
    held : Held
        Constants of the strip.
    coefficients : numpy.ndarray
        Splines of rotation vectors and stretch, (count, 4). [rad, -]
    shear : numpy.ndarray
        Shear of the elements in n and b, (e, 3), the middle column unused. [mm]
    place : numpy.ndarray
        First guess of what the nodes face. [-]
    slope_mm : numpy.ndarray
        Slope coordinates from which the sliding is counted, (n - 1, 2). [mm]
    sweeps : int
        Newton steps to the places faced.

    Returns
    -------
    Configuration
        Sliding along the strip is left at zero: it is added up from small changes (see `moved_by`).
    """
    s = held.splines
    strip = s.bowl.strip
    psi = np.matmul(s.value[:, None, :], coefficients[s.node_functions, :3])[:, 0]
    turned, T = rotation_and_tangent(psi)
    R = np.matmul(turned, strip.frame)
    stretch = (s.value_mid * coefficients[s.middle_functions, 3]).sum(axis=1) * strip.arc_mm
    eps = shear.copy()
    eps[:, 1] = stretch
    to_R, from_R = strip.to_middle[:, :3, :3], np.swapaxes(strip.from_middle[:, :3, :3], 1, 2)
    first = _times(R[:-1], strip.to_middle[:, :3, 3] + _times(to_R, eps))
    second = _times(R[1:], _times(from_R, strip.from_middle[:, :3, 3]))
    x = np.empty_like(strip.position_mm)
    x[0] = strip.position_mm[0]
    np.cumsum(first + second, axis=0, out=x[1:])
    x[1:] += x[0]
    before, after = np.matmul(R[:-1], to_R), np.matmul(R[1:], from_R)
    bend = rotation_vectors(np.matmul(np.swapaxes(before, 1, 2), after))
    base_x, base_R, arc = held.base_line
    line = (np.concatenate([base_x, x]), np.concatenate([base_R, R]), arc)
    met = meet(s.bowl.seats, line, place=place, also=held.nail_place, sweeps=sweeps)
    k, e = s.slots, len(arc) - len(base_x)
    gap, axes = np.empty((k, 2, 3)), np.empty((k, 2, 3, 3))
    where, turning = np.empty((k, 2, 3)), np.zeros((k, 2), dtype=bool)
    gap[:e, :, 0], gap[:e, :, 1], gap[:e, :, 2] = met.gap_mm, met.slope_mm - slope_mm, 0.0
    axes[:e], where[:e] = met.axes, met.where_mm
    for i, nail in enumerate(s.bowl.nails):
        faced = (met.facing.at_mm[e + i], met.facing.frame[e + i])
        shift, turn, point = nail_misfit(nail, (x[nail.node], R[nail.node]), faced)
        gap[e + i], axes[e + i], where[e + i] = (shift, turn), nail.axes, point
        turning[e + i, 1] = True
    gap[e:] *= held.tied
    return Configuration(
        position_mm=x,
        frame=R,
        tangent_map=T,
        first_half_mm=first,
        second_half_mm=second,
        along=before[:, :, 1],
        bend_rad=bend,
        stretch_mm=stretch,
        middle_frame=np.matmul(before, rotations(0.5 * bend)),
        meeting=met,
        gap=gap,
        axes=axes,
        where_mm=where,
        turning=turning,
        rise_mm=float(s.bowl.load_share @ (x - strip.position_mm)[:, 2]),
    )


def shape_of(here: Configuration) -> Shape:
    """The shape as other modules read it.

    Parameters
    ----------
    here : Configuration
        A configuration.

    Returns
    -------
    Shape
        Nodes and middles of the elements.
    """
    middle = 0.5 * (here.position_mm[1:] + here.position_mm[:-1] + here.first_half_mm - here.second_half_mm)
    return Shape(here.position_mm, here.frame, middle, here.middle_frame)


def carried_wrench_at(held: Held, here: Configuration, force: Array, press_N: float) -> Array:
    """What each element carries: contact and press beyond it.

    Parameters
    ----------
    held, here : Held, Configuration
        The strip and its shape.
    force : numpy.ndarray
        Forces at the slots' points along their axes, (s, 2, 3). [N, N mm]
    press_N : float
        Press. [N]

    Returns
    -------
    numpy.ndarray
        Force and moment about the origin, (e, 6). [N, N mm]
    """
    s = held.splines
    share, x, n = s.bowl.load_share, here.position_mm, len(here.position_mm)
    F = np.matmul(force[:, :, None, :], here.axes)[:, :, 0]
    M = cross(here.where_mm, F)
    if here.turning.any():
        M[here.turning] = F[here.turning]
        F[here.turning] = 0.0
    W = np.concatenate([F.sum(axis=1), M.sum(axis=1)], axis=1)
    first, u = here.meeting.facing.first, here.meeting.facing.share[:, 0]
    on_strip = first >= 0
    i, u, back = first[on_strip], u[on_strip, None], W[on_strip]
    nodal = _added_at(s.outer, W, n) - (_added_at(i, (1 - u) * back, n) + _added_at(i + 1, u * back, n))
    nodal[:, 2] += press_N * share
    nodal[:, 3] += press_N * share * x[:, 1]
    nodal[:, 4] -= press_N * share * x[:, 0]
    return np.asarray(np.cumsum(nodal[:0:-1], axis=0)[::-1])


def shear_under(held: Held, here: Configuration, carried: Array) -> Array:
    """Shear of the elements under what they carry, (e, 3); the middle column is zero. [mm]

    Parameters
    ----------
    held, here : Held, Configuration
        The strip and its shape.
    carried : numpy.ndarray
        As :func:`carried_wrench_at` gives it, (e, 6). [N, N mm]

    Returns
    -------
    numpy.ndarray
        In the elements' axes. [mm]
    """
    local = _times(np.swapaxes(here.middle_frame, 1, 2), carried[:, :3])
    local[:, 0] *= held.shear_mm_per_N[:, 0]
    local[:, 1] = 0.0
    local[:, 2] *= held.shear_mm_per_N[:, 1]
    return local


@dataclass(frozen=True, eq=False)
class Tangent:
    """What small changes of the splines do to one configuration.

    Attributes
    ----------
    here : Configuration
        The configuration.
    gap_change : numpy.ndarray
        Change of the gap components with a block's unknowns, (blocks, 6 B, C). [mm, mm/rad]
    follow : numpy.ndarray or None
        Second derivative of the contact's axes and levers, (blocks, C, C); None if left out. [N mm]
    band : numpy.ndarray
        The strip's own stiffness in LAPACK's band storage, flattened. [N mm]
    damping : numpy.ndarray or None
        Stiffness of the elements alone, for a strip that creeps to its rest; None where it need not. [N mm]
    internal : numpy.ndarray
        Forces of the elements on the splines, (unknowns,). [N mm]
    lift : numpy.ndarray
        What a press of one newton does to the splines; also the change of the rise, (unknowns,). [mm]
    """

    here: Configuration
    gap_change: Array
    follow: Array | None
    band: Array
    damping: Array | None
    internal: Array
    lift: Array


class _Ends:
    """Levers of a slot's two points on the nodes at either end of what lies between them."""

    def __init__(self, held: Held, here: Configuration) -> None:
        s, facing = held.splines, here.meeting.facing
        e = len(here.along)
        self.outer = s.outer
        self.on_base = facing.first < 0
        self.first = np.clip(facing.first, 0, e - 1)
        self.next = self.first + 1
        self.share = facing.share
        self.arm_outer = here.where_mm - here.position_mm[s.outer][:, None]
        self.arm_inner = here.where_mm - facing.at_mm[:, None]


def tangent(
    held: Held,
    here: Configuration,
    carried: Array,
    press_N: float,
    force: Array | None,
    *,
    creeping: bool = False,
) -> Tangent:
    """The linear system's parts in one configuration.

    Parameters
    ----------
    held, here : Held, Configuration
        The strip and its shape.
    carried : numpy.ndarray
        What the elements carry, (e, 6). [N, N mm]
    press_N : float
        Press. [N]
    force : numpy.ndarray or None
        Contact forces (s, 2, 3) whose turning with the bodies is to be counted; None leaves it out, which
        is safer while they are far from those of an equilibrium. [N]
    creeping : bool
        Whether the damping is wanted too.

    Returns
    -------
    Tangent
        Ready for :func:`solved`.
    """
    ends = _Ends(held, here)
    rows = _moved_rows(held, here, ends)
    J = _gap_change(held, here, ends, rows)
    follow, nodal = (None, None) if force is None else _follow(held, here, ends, rows, J, force)
    band, damping, internal, lift = _own(held, here, carried, press_N, nodal, creeping)
    return Tangent(here, J, follow, band, damping, internal, lift)


def _moved_rows(held: Held, here: Configuration, ends: _Ends) -> Array:
    """What the unknowns of a block's window do at each slot, (padded slots, 12, C).

    Rows: how far the outer node moves against the node before the place faced, and how the outer node, the
    node before that place and the one after it turn, three components each. [mm, rad]
    """
    s, arc = held.splines, held.splines.bowl.strip.arc_mm
    lever = np.zeros_like(here.position_mm)
    lever[1:] = here.second_half_mm
    lever[:-1] += here.first_half_mm
    turned = np.matmul(np.swapaxes(skew(lever), 1, 2), here.tangent_map)
    stretched = here.along * arc[:, None]
    each = np.empty((3, *s.table_node.shape, 4))
    for k in range(3):
        np.multiply(turned[:, k].take(s.table_node, 0), s.table_value[:, :, None], out=each[k, :, :, :3])
        np.multiply(stretched[:, k].take(s.table_element), s.table_value_mid, out=each[k, :, :, 3])
    sums = np.zeros((3, s.count, s.support + 1, 4))
    np.cumsum(each, axis=2, out=sums[:, :, 1:])
    flat = sums.reshape(3, -1, 4)
    after = np.full(s.padded, ends.first[-1] + 1)
    after[: s.slots] = np.where(ends.on_base, 0, ends.first + 1)
    after[s.slots :] = after[s.slots - 1]
    step = s.window_base + np.minimum(np.maximum(after[:, None] - s.window_start, 0), s.support)
    rows = np.zeros((s.padded, 12, s.window, 4))
    for k in range(3):
        np.subtract(flat[k].take(s.step_of_outer, 0), flat[k].take(step, 0), out=rows[:, k])
    slot, u = s.slot_index, ends.share
    # The element of the place faced stretches up to that place only.
    part = stretched[ends.first] * (1 - u * u * (3 - 2 * u)) * ~ends.on_base[:, None]
    column = _columns(s, s.first_mid[ends.first])
    rows[slot, :3, column, 3] += part[:, None] * s.value_mid[ends.first][:, :, None]
    T = here.tangent_map
    for k, node, at in (
        (3, ends.outer, s.outer_columns),
        (6, ends.first, _columns(s, s.first[ends.first])),
        (9, ends.next, _columns(s, s.first[ends.next])),
    ):
        rows[slot, k : k + 3, at, :3] = T[node][:, None] * s.value[node][:, :, None, None]
    return rows.reshape(s.padded, 12, 4 * s.window)


def _gap_change(held: Held, here: Configuration, ends: _Ends, rows: Array) -> Array:
    """Change of every gap component with the unknowns of its block's window, (blocks, 6 B, C)."""
    s, slots = held.splines, held.splines.slots
    facing, u = here.meeting.facing, ends.share
    L, ahead = facing.arc_mm, u * u * (3 - 2 * u)
    half_a, half_c = here.first_half_mm[ends.first], here.second_half_mm[ends.first]
    levers = np.empty((3, slots, 2, 3))
    levers[0] = here.second_half_mm[ends.outer - 1][:, None] + ends.arm_outer
    at_first = (1 - ahead) * half_a - L * u * (1 - u) ** 2 * facing.tangent_first
    at_next = -(ahead * half_c + L * u * u * (u - 1) * facing.tangent_next)
    levers[1] = at_first[:, None] - (1 - u)[:, None] * ends.arm_inner
    levers[2] = at_next[:, None] - u[:, None] * ends.arm_inner
    turns = cross(levers[:, :, :, None, :], here.axes)
    if here.turning.any():
        sign = np.stack([np.ones(slots), -(1 - u[:, 0]), -u[:, 0]])
        turns[:, here.turning] = (sign[:, :, None, None, None] * here.axes)[:, here.turning]
    turns[1:] *= ~ends.on_base[:, None, None, None]
    weights = np.zeros((s.padded, 6, 12))
    weights[:slots, :, :3] = np.where(here.turning[:, :, None, None], 0.0, here.axes).reshape(slots, 6, 3)
    weights[:slots, :, 3:] = turns.transpose(1, 2, 3, 0, 4).reshape(slots, 6, 9)
    return np.asarray(np.matmul(weights, rows).reshape(s.blocks, 6 * s.block, 4 * s.window))


def _columns(s: StripSplines, first: IntArray) -> IntArray:
    """Columns of a slot's window that belong to splines first, first + 1, ..., (slots, degree + 1)."""
    at = (first - s.window_of_slot)[:, None] + np.arange(s.degree + 1)
    return np.asarray(np.minimum(np.maximum(at, 0), s.window - 1))


def _follow(
    held: Held, here: Configuration, ends: _Ends, rows: Array, J: Array, force: Array
) -> tuple[Array, Array]:
    """Second derivatives of the contact: a matrix for every block, and 3 x 3 at every node."""
    s = held.splines
    slots, e, n = s.slots, len(here.along), len(here.position_mm)
    F = np.matmul(force[:, :, None, :], here.axes)[:, :, 0]
    F[e:] = 0.0  # a nail's axes keep their direction
    c = cross(F[:, :, None, :], here.axes)
    weights, u = np.zeros((s.padded, 6, 9)), ends.share[:, :, None]
    # The low point's axes turn with the inner turn, the high point's with the outer.
    weights[:slots, 3:, :3] = c[:, 1]
    low = c[:, 0] * ~ends.on_base[:, None, None]
    weights[:slots, :3, 3:6], weights[:slots, :3, 6:] = low * (1 - u), low * u
    turned = np.matmul(weights, rows[:, 3:]).reshape(J.shape)
    follow = np.matmul(np.swapaxes(J, 1, 2), turned)
    follow += np.matmul(np.swapaxes(turned, 1, 2), J)
    outer = _turned_lever(ends.arm_outer, F).sum(axis=1)
    inner = _turned_lever(ends.arm_inner, F).sum(axis=1) * ~ends.on_base[:, None, None]
    nodal = _added_at(ends.outer, outer, n)
    nodal -= _added_at(ends.first, (1 - u) * inner, n) + _added_at(ends.next, u * inner, n)
    return follow, nodal.reshape(n, 3, 3)


def _added_at(node: IntArray, what: Array, count: int) -> Array:
    """Sums of what belongs to each of so many nodes, (count, numbers a node)."""
    each = what.reshape(len(node), -1)
    at = (node * each.shape[1])[:, None] + np.arange(each.shape[1])
    summed = np.bincount(at.ravel(), each.ravel(), count * each.shape[1])
    return np.asarray(summed, dtype=np.float64).reshape(count, -1)


def _turned_lever(lever: Array, force: Array) -> Array:
    """Moment's change as a lever turns under a force: v F' - (v . F) 1, shape (..., 3, 3)."""
    G = lever[..., :, None] * force[..., None, :]
    i = np.arange(3)
    G[..., i, i] -= (lever * force).sum(axis=-1)[..., None]
    return np.asarray(G)


def _own(
    held: Held,
    here: Configuration,
    carried: Array,
    press_N: float,
    nodal: Array | None,
    creeping: bool,
) -> tuple[Array, Array | None, Array, Array]:
    """The strip's own band, its elements' band alone, their forces, and what a unit press does."""
    s = held.splines
    bowl, R, T = s.bowl, here.middle_frame, here.tangent_map
    e, functions = len(here.along), s.degree + 2
    moment = _times(R, _times(held.bending_Nmm, here.bend_rad))
    C = np.matmul(np.matmul(R, held.bending_Nmm), np.swapaxes(R, 1, 2))
    if nodal is None:
        # Without the contact's own turning only the press's part of force and moment belongs here.
        Q = np.zeros((e, 3))
        Q[:, 2] = press_N * held.beyond
        x = here.position_mm
        reach = np.cumsum((bowl.load_share[:, None] * x)[:0:-1], axis=0)[::-1]
        reach = press_N * (reach - held.beyond[:, None] * 0.5 * (x[1:] + x[:-1]))
        M = np.stack([reach[:, 1], -reach[:, 0], np.zeros(e)], axis=1)
    else:
        Q, M = carried[:, :3], moment
    half = 0.5 * skew(M)
    K = np.zeros((e, 7, 7))
    K[:, :3, :3] = K[:, 3:6, 3:6] = C
    K[:, :3, 3:6] = K[:, 3:6, :3] = -C
    K[:, 6, 6] = held.stretch_N_per_mm
    L = np.zeros((e, 7, functions, 4))
    L[:, :3, :, :3] = T[:-1][:, :, None, :] * s.element_start[:, None, :, None]
    L[:, 3:6, :, :3] = T[1:][:, :, None, :] * s.element_end[:, None, :, None]
    L[:, 6, :, 3] = s.element_mid
    rows = L.reshape(e, 7, 4 * functions)
    Lt = np.swapaxes(rows, 1, 2)
    damping = _summed(s, np.matmul(Lt, np.matmul(K, rows))) if creeping else None
    K[:, :3, :3] += half - _turned_lever(here.first_half_mm, Q)
    K[:, 3:6, 3:6] -= half + _turned_lever(here.second_half_mm, Q)
    K[:, :3, 3:6] += half
    K[:, 3:6, :3] -= half
    pulled = cross(here.along, Q)
    K[:, :3, 6] = K[:, 6, :3] = -pulled
    if nodal is not None:
        K[:, 3:6, 3:6] -= nodal[1:]
    band = _summed(s, np.matmul(Lt, np.matmul(K, rows)))
    both = np.zeros((e, 2, 7))
    both[:, 0, :3], both[:, 0, 3:6] = -moment, moment
    both[:, 0, 6] = held.stretch_N_per_mm * here.stretch_mm
    both[:, 1, 0], both[:, 1, 1] = here.first_half_mm[:, 1], -here.first_half_mm[:, 0]
    both[:, 1, 3], both[:, 1, 4] = here.second_half_mm[:, 1], -here.second_half_mm[:, 0]
    both[:, 1, 6] = here.along[:, 2]
    both[:, 1] *= held.beyond[:, None]
    both = np.matmul(both, rows)
    at = s.element_unknown.ravel()
    internal = np.asarray(np.bincount(at, both[:, 0].ravel(), s.unknowns), dtype=np.float64)
    lift = np.asarray(np.bincount(at, both[:, 1].ravel(), s.unknowns), dtype=np.float64)
    return band, damping, internal, lift


def _summed(s: StripSplines, element: Array) -> Array:
    """Matrices of the elements added up in band storage."""
    flat = np.bincount(s.element_flat, element.ravel(), s.unknowns * s.height)
    return np.asarray(flat, dtype=np.float64)


def solved(
    held: Held,
    at: Tangent,
    force: Array,
    change: Array,
    predicted: Array,
    *,
    press_N: float,
    rise_mm: float | None,
    damping: float = 0.0,
) -> tuple[Array, float] | None:
    """One linear system: the change of the splines that would bring an equilibrium.

    Parameters
    ----------
    held, at : Held, Tangent
        The strip, and what changes do in the present configuration.
    force, change, predicted : numpy.ndarray
        Forces (s, 2, 3), their derivative (s, 2, 3, 3), and the gaps they were worked out for, (s, 2, 3).
    press_N : float
        Press, or where the rise is given, the press so far. [N]
    rise_mm : float or None
        Rise to reach, the press being one more unknown; None to keep the press. [mm]
    damping : float
        How many times the elements' own stiffness resists the change: the strip creeps. [-]

    Returns
    -------
    tuple[numpy.ndarray, float] or None
        Change of the unknowns and of the press [N]; None where the matrix is singular.
    """
    s = held.splines
    blocks, B, width = s.blocks, s.block, 4 * s.window
    J = at.gap_change
    lifted = force + _times(change, at.here.gap - predicted)
    pad = s.padded - s.slots
    if pad:
        lifted = np.concatenate([lifted, np.zeros((pad, 2, 3))])
        change = np.concatenate([change, np.zeros((pad, 2, 3, 3))])
    DJ = np.matmul(change.reshape(blocks, 2 * B, 3, 3), J.reshape(blocks, 2 * B, 3, width))
    # Transposed, as the band holds columns one after another; `follow` is symmetric.
    contact = np.matmul(np.swapaxes(DJ.reshape(blocks, 6 * B, width), 1, 2), J)
    if at.follow is not None:
        contact += at.follow
    A = at.band.copy() if at.damping is None or damping == 0 else at.band + damping * at.damping
    # A square view of the band, transposed: entry (i, j) of the matrix lies at j * height + 2 half + i - j.
    square = as_strided(A[2 * s.half_band :], (s.unknowns, s.unknowns), (8 * (s.height - 1), 8))
    for k in range(blocks):
        i = 4 * int(s.window_first[k])
        square[i : i + width, i : i + width] -= contact[k]
    A[np.arange(3) * s.height + 2 * s.half_band] += _FIXED
    pushed = np.matmul(lifted.reshape(blocks, 1, 6 * B), J)[:, 0]
    right = np.bincount(s.columns.ravel(), pushed.ravel(), s.unknowns) - at.internal + press_N * at.lift
    right[:3] = 0.0
    lu, pivots, info = dgbtrf(A.reshape(s.unknowns, s.height).T, s.half_band, s.half_band, overwrite_ab=1)
    if info != 0:
        return None
    if rise_mm is None:
        found = dgbtrs(lu, s.half_band, s.half_band, right, pivots)[0]
        return (found, 0.0) if np.isfinite(found).all() else None
    unit = at.lift.copy()
    unit[:3] = 0.0
    both = dgbtrs(lu, s.half_band, s.half_band, np.stack([right, unit], axis=1), pivots)[0]
    if not np.isfinite(both).all():
        return None
    more = (rise_mm - at.here.rise_mm - float(at.lift @ both[:, 0])) / float(at.lift @ both[:, 1])
    return both[:, 0] + more * both[:, 1], more


def moved_by(held: Held, at: Tangent, unknowns: Array) -> tuple[Array, Array]:
    """What a small change of the splines does to gaps and nodes.

    Parameters
    ----------
    held, at : Held, Tangent
        The strip and the tangent.
    unknowns : numpy.ndarray
        Change of the unknowns, (4 count,). [rad, -]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Changes of the gap components (s, 2, 3) and motions of the nodes but the root (n - 1, 3). [mm]
    """
    s, here = held.splines, at.here
    gap = np.matmul(at.gap_change, unknowns[s.columns][:, :, None])[:, :, 0].reshape(-1, 2, 3)[: s.slots]
    own = unknowns.reshape(s.count, 4)
    turn = np.matmul(s.value[:, None, :], own[s.node_functions, :3])[:, 0]
    theta = _times(here.tangent_map, turn)
    stretch = (s.value_mid * own[s.middle_functions, 3]).sum(axis=1) * s.bowl.strip.arc_mm
    step = cross(theta[:-1], here.first_half_mm) + cross(theta[1:], here.second_half_mm)
    return gap, np.cumsum(step + here.along * stretch[:, None], axis=0)
