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
from scipy.linalg.lapack import dgbtrf, dgbtrs

from fitsim.arrays import Array, BoolArray
from fitsim.strip import kernels
from fitsim.strip.beam import Shape
from fitsim.strip.gap import Meeting, meet
from fitsim.strip.nail_tie import nail_misfit
from fitsim.strip.splines import StripSplines

__all__ = [
    "Configuration",
    "Held",
    "Tangent",
    "carried_wrench_at",
    "configure",
    "gap_change",
    "gap_moved_by",
    "held_constants",
    "moved_by",
    "shape_of",
    "shear_under",
    "solved",
    "tangent",
]


@dataclass(frozen=True, eq=False)
class Held:
    """Constants of a strip that every configuration uses.

    Attributes
    ----------
    splines : StripSplines
        How its shape is written.
    layout : kernels.Layout
        The numbers of strip and splines that the compiled loops read.
    shear_mm_per_N : numpy.ndarray
        Flexibility of the elements against shear, transverse bending not counted, (e, 2). [mm/N]
    nail_place : numpy.ndarray
        Places the nails enter, (nails,). [-]
    tied : numpy.ndarray
        Components a nail ties, (nails, 2, 3).
    base_line : tuple of numpy.ndarray
        Base nodes, axes and all lengths of the line of base and strip. [mm, -, mm]
    room : numpy.ndarray
        Where :func:`solved` writes its matrix, to be factorised in place: fresh memory each time costs as
        much as the copy. [N mm]
    """

    splines: StripSplines
    layout: kernels.Layout
    shear_mm_per_N: Array
    nail_place: Array
    tied: BoolArray
    base_line: tuple[Array, Array, Array]
    room: Array


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
        layout=_layout(splines),
        shear_mm_per_N=np.maximum(shear, 0.0),
        nail_place=np.array([nail.place for nail in bowl.nails], dtype=np.float64),
        tied=np.array([[nail.held[:3], nail.held[3:]] for nail in bowl.nails], dtype=bool).reshape(
            -1, 2, 3
        ),
        base_line=(
            bowl.seats.base_mm,
            bowl.seats.base_frame,
            np.concatenate([bowl.seats.base_arc_mm, strip.arc_mm]),
        ),
        room=np.empty(splines.unknowns * splines.height),
    )


def _layout(s: StripSplines) -> kernels.Layout:
    """What the compiled loops read of a strip; copies, as they ask for one run of memory."""
    strip, share = s.bowl.strip, s.bowl.load_share
    F = strip.flexibility
    to_turn = strip.to_middle[:, :3, :3].copy()
    from_turn = np.swapaxes(strip.from_middle[:, :3, :3], 1, 2).copy()
    return kernels.Layout(
        frame=strip.frame.copy(),
        root_mm=strip.position_mm[0].copy(),
        to_turn=to_turn,
        from_turn=from_turn,
        to_shift_mm=strip.to_middle[:, :3, 3].copy(),
        from_shift_mm=np.matmul(from_turn, strip.from_middle[:, :3, 3][:, :, None])[:, :, 0].copy(),
        bending_Nmm=np.ascontiguousarray(np.linalg.inv(F[:, 3:, 3:]), dtype=np.float64),
        stretch_N_per_mm=1 / F[:, 1, 1],
        flexibility=F.copy(),
        beyond=np.cumsum(share[:0:-1])[::-1].copy(),
        load_share=share.copy(),
        first=s.first,
        value=s.value,
        column=s.column,
        stretch_of=s.stretch_of,
        stretch_column=s.stretch_column,
        stretch_begins=s.stretch_begins,
        softness_mm=s.softness_mm,
        table_node=s.table_node,
        table_value=s.table_value,
        start=s.start,
        element_first=s.element_first,
        element_start=s.element_start,
        element_end=s.element_end,
        outer=s.outer,
        window_first=s.window_first,
        window_stretch=s.window_stretch,
        window_column=s.window_column,
        block=s.block,
        window=s.window,
        columns=s.columns,
        half_band=s.half_band,
        below=s.below,
        diagonal=s.diagonal,
        height=s.height,
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
    held: Held, unknowns: Array, shear: Array, place: Array, slope_mm: Array, *, sweeps: int = 1
) -> Configuration:
    """The shape that splines give.

    Parameters
    ----------
    held : Held
        Constants of the strip.
    unknowns : numpy.ndarray
        Splines of rotation vectors, and stretch, (unknowns,). [rad, -]
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
    x, R, T, first, second, along, bend, stretch, middle = kernels.nodes_of(held.layout, unknowns, shear)
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
        along=along,
        bend_rad=bend,
        stretch_mm=stretch,
        middle_frame=middle,
        meeting=met,
        gap=gap,
        axes=axes,
        where_mm=where,
        turning=turning,
        rise_mm=float(s.bowl.load_share @ (x - s.bowl.strip.position_mm)[:, 2]),
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
    facing = here.meeting.facing
    return kernels.carried_by_elements(
        held.layout,
        here.position_mm,
        force,
        here.axes,
        here.where_mm,
        here.turning,
        facing.first,
        facing.share,
        float(press_N),  # for a whole number the loop would be compiled once more
    )


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
    band : numpy.ndarray
        The strip's own stiffness, and what the turning of the contact's axes and levers adds if that is
        counted, in LAPACK's band storage, flattened. [N mm]
    damping : numpy.ndarray or None
        Stiffness of the elements alone, for a strip that slides to its rest; None where it need not. [N mm]
    internal : numpy.ndarray
        Forces of the elements on the splines, (unknowns,). [N mm]
    lift_mm : numpy.ndarray
        What a press of one newton does to the splines; also the change of the rise, (unknowns,). [mm]
    """

    here: Configuration
    gap_change: Array
    band: Array
    damping: Array | None
    internal: Array
    lift_mm: Array


def gap_change(held: Held, here: Configuration) -> Array:
    """Change of the gap components with a block's unknowns, (blocks, 6 B, C). [mm, mm/rad]

    Parameters
    ----------
    held, here : Held, Configuration
        The strip and its shape.

    Returns
    -------
    numpy.ndarray
        Of the slots in blocks.
    """
    facing = here.meeting.facing
    return kernels.gap_change_of(
        held.layout,
        here.position_mm,
        here.tangent_map,
        here.first_half_mm,
        here.second_half_mm,
        here.along,
        here.axes,
        here.where_mm,
        here.turning,
        facing.first,
        facing.share,
        facing.arc_mm,
        facing.at_mm,
        facing.tangent_first,
        facing.tangent_next,
    )


def gap_moved_by(held: Held, change: Array, unknowns: Array) -> Array:
    """What a small change of the splines does to the gap components, (s, 2, 3). [mm]

    Parameters
    ----------
    held : Held
        The strip.
    change : numpy.ndarray
        From :func:`gap_change`.
    unknowns : numpy.ndarray
        Change of the unknowns, (unknowns,). [rad, -]

    Returns
    -------
    numpy.ndarray
        In the points' own axes.
    """
    return kernels.moved_gaps(held.layout, change, unknowns)


def tangent(
    held: Held,
    here: Configuration,
    carried: Array,
    press_N: float,
    force: Array | None,
    *,
    damped: bool = False,
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
    damped : bool
        Whether the damping is wanted too.

    Returns
    -------
    Tangent
        Ready for :func:`solved`.
    """
    layout, facing, size = held.layout, here.meeting.facing, len(here.position_mm)
    elements = (here.first_half_mm, here.second_half_mm, here.along)
    J = gap_change(held, here)
    band = np.zeros(held.splines.unknowns * layout.height)
    damping = np.zeros(len(band) if damped else 0)
    nodal = np.zeros((0 if force is None else size, 3, 3))
    if force is not None:
        kernels.add_contact(
            layout,
            here.position_mm,
            here.tangent_map,
            here.axes,
            here.where_mm,
            facing.first,
            facing.share,
            facing.at_mm,
            J,
            force,
            len(here.along),
            band,
            nodal,
        )
    internal, lift = kernels.own_stiffness(
        layout,
        here.position_mm,
        here.tangent_map,
        *elements,
        here.bend_rad,
        here.stretch_mm,
        here.middle_frame,
        carried,
        float(press_N),
        nodal,
        band,
        damping,
    )
    return Tangent(here, J, band, damping if damped else None, internal, lift)


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
        How many times the elements' own stiffness resists the change of a strip that slides. [-]

    Returns
    -------
    tuple[numpy.ndarray, float] or None
        Change of the unknowns and of the press [N]; None where the matrix is singular.
    """
    s = held.splines
    A = held.room
    resists = at.band[:0] if at.damping is None else at.damping
    times = damping if len(resists) else 0.0
    right = kernels.linear_change(
        held.layout,
        at.gap_change,
        force,
        change,
        at.here.gap,
        predicted,
        at.band,
        resists,
        times,
        float(press_N),
        at.lift_mm,
        at.internal,
        A,
    )
    lu, pivots, info = dgbtrf(A.reshape(s.unknowns, s.height).T, s.below, s.half_band, overwrite_ab=1)
    if info != 0:
        return None
    if rise_mm is None:
        found = dgbtrs(lu, s.below, s.half_band, right, pivots)[0]
        return (found, 0.0) if np.isfinite(found).all() else None
    unit = at.lift_mm.copy()
    unit[:3] = 0.0
    both = dgbtrs(lu, s.below, s.half_band, np.stack([right, unit], axis=1), pivots)[0]
    if not np.isfinite(both).all():
        return None
    more = (rise_mm - at.here.rise_mm - float(at.lift_mm @ both[:, 0])) / float(at.lift_mm @ both[:, 1])
    return both[:, 0] + more * both[:, 1], more


def moved_by(held: Held, at: Tangent, unknowns: Array) -> tuple[Array, Array]:
    """What a small change of the splines does to gaps and nodes.

    Parameters
    ----------
    held, at : Held, Tangent
        The strip and the tangent.
    unknowns : numpy.ndarray
        Change of the unknowns, (unknowns,). [rad, -]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Changes of the gap components (s, 2, 3) and motions of the nodes but the root (n - 1, 3). [mm]
    """
    here, layout = at.here, held.layout
    gap = gap_moved_by(held, at.gap_change, unknowns)
    nodes = kernels.moved_nodes(
        layout, here.tangent_map, here.first_half_mm, here.second_half_mm, here.along, unknowns
    )
    return gap, nodes
