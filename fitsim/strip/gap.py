"""Where the faces of neighbouring turns meet: gaps, sliding and lines of force in any shape.

Every node of the strip but the root faces a place on the turn inside it, or on the base, which is
carried along as a fixed piece of strip one turn long. Two points a seat: the lower edge of the
outer turn on the face of the inner one, and the upper edge of the inner turn on the face of the outer
one; those are the two ends of the overlap at whatever drop the seat has. Between nodes the inner
turn is a cubic through positions and directions, so that turns sliding along each other meet a
smooth face and not a polygon. Faces are taken to go on beyond their edges: a seat whose drop has
passed the thickness still has a gap, and it is for the caller to say that no wood is left there.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.errors import OutsideModelError
from fitsim.strip import kernels
from fitsim.strip.beam import ElasticStrip

__all__ = [
    "Facing",
    "Meeting",
    "Seats",
    "make_seats",
    "meet",
    "on_line",
    "strip_line",
]


@dataclass(frozen=True, eq=False)
class Seats:
    """The slots of a strip of n nodes, with a base of m nodes before the root.

    Attributes
    ----------
    base_mm, base_frame : numpy.ndarray
        The strip's line carried on inward round the base, (m, 3) and (m, 3, 3). [mm, -]
    base_arc_mm : numpy.ndarray
        Length along the curve from each base node to the next, the last one to the root, (m,). [mm]
    half_width_mm : numpy.ndarray
        Half the strip's width in the plane at base nodes and nodes, (m + n,). [mm]
    slot_mm : numpy.ndarray
        Width of the slot inside each node but the root, in the plane, (n - 1,). [mm]
    tilt_rad : numpy.ndarray
        Tilt of the slot inside each node but the root, (n - 1,). [rad]
    thickness_mm : float
        Thickness of the board. [mm]
    place : numpy.ndarray
        Place the node faces at rest, counted in nodes from the first base node, (n - 1,). [-]
    offset_mm : numpy.ndarray
        What to add to the gap of the sampled faces to have the slot at rest, (n - 1, 2). [mm]
    """

    base_mm: Array
    base_frame: Array
    base_arc_mm: Array
    half_width_mm: Array
    slot_mm: Array
    tilt_rad: Array
    thickness_mm: float
    place: Array
    offset_mm: Array


@dataclass(frozen=True, eq=False)
class Facing:
    """Places on the line of base and strip, k of them.

    Attributes
    ----------
    first : numpy.ndarray
        Node of the strip before the place, negative on the base, (k,).
    share : numpy.ndarray
        Part of the element gone beyond that node, (k, 1). [-]
    arc_mm : numpy.ndarray
        Length of the element along the curve, (k, 1). [mm]
    at_mm, slope : numpy.ndarray
        Point of the cubic and its derivative over arc length, (k, 3). [mm, -]
    frame : numpy.ndarray
        Axes n, t, b as columns, (k, 3, 3). [-]
    tangent_first, tangent_next : numpy.ndarray
        Directions of the strip at the nodes before and after, (k, 3). [-]
    """

    first: IntArray
    share: Array
    arc_mm: Array
    at_mm: Array
    slope: Array
    frame: Array
    tangent_first: Array
    tangent_next: Array


@dataclass(frozen=True, eq=False)
class Meeting:
    """How the faces stand to each other at the n - 1 nodes but the root, two points each, lower end first.

    Attributes
    ----------
    facing : Facing
        What the nodes face, then any further places asked for.
    axes : numpy.ndarray
        Rows: normal, slope and strip direction at each point, (n - 1, 2, 3, 3). [-]
    where_mm : numpy.ndarray
        The points, (n - 1, 2, 3). [mm]
    gap_mm : numpy.ndarray
        Free distance along the normal of the face, (n - 1, 2). [mm]
    slope_mm : numpy.ndarray
        Coordinate up the slope whose change is the sliding of outer on inner, (n - 1, 2). [mm]
    place : numpy.ndarray
        Place on the inner turn, counted in nodes from the first base node, (n - 1,). [-]
    drop_mm : numpy.ndarray
        How far the inner side of each seat has sunk below the outer, (n - 1,). [mm]
    """

    facing: Facing
    axes: Array
    where_mm: Array
    gap_mm: Array
    slope_mm: Array
    place: Array
    drop_mm: Array


_Line = tuple[Array, Array, Array]  # nodes, axes, lengths between the nodes


def strip_line(seats: Seats, strip: ElasticStrip, x: Array, R: Array) -> _Line:
    """The base's line and the strip's as one: nodes, axes and lengths between the nodes.

    Parameters
    ----------
    seats, strip : Seats, ElasticStrip
        Slots with the base's line, strip at rest.
    x, R : numpy.ndarray
        Where the strip's nodes are now and their axes, (n, 3) and (n, 3, 3). [mm, -]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray, numpy.ndarray]
        Shapes (m + n, 3), (m + n, 3, 3) and (m + n - 1,). [mm, -, mm]
    """
    return (
        np.concatenate([seats.base_mm, x]),
        np.concatenate([seats.base_frame, R]),
        np.concatenate([seats.base_arc_mm, strip.arc_mm]),
    )


def on_line(place: Array, line: _Line, base: int = 0) -> Facing:
    """Points, slopes over arc length and axes of a sampled line at places between its nodes.

    The point is that of the cubic through the two nodes around it and their directions.

    Parameters
    ----------
    place : numpy.ndarray
        Places counted in nodes, shape (k,). [-]
    line : tuple of numpy.ndarray
        Nodes (n, 3), their axes (n, 3, 3) and the lengths between them (n - 1,). [mm, -, mm]
    base : int
        How many of the nodes belong to the base: `Facing.first` counts on from there.

    Returns
    -------
    Facing
        At the places.
    """
    x, R, arc = line
    return Facing(*kernels.facing_on_line(place, x, R, arc, base))


def meet(seats: Seats, line: _Line, *, place: Array, also: Array | None = None, sweeps: int = 3) -> Meeting:
    """Gaps, sliding and lines of force in a deformed shape.

    Parameters
    ----------
    seats : Seats
        Slots.
    line : tuple of numpy.ndarray
        Where base and strip are, as :func:`strip_line` gives it.
    place : numpy.ndarray
        First guess of the places, for example those of the last shape, (n - 1,). [-]
    also : numpy.ndarray, optional
        Further places of the line that are wanted. [-]
    sweeps : int
        Newton steps to the place in a node's cross-section; one from that of a near shape.

    Returns
    -------
    Meeting
        Points in pairs, lower end first.
    """
    base = len(seats.base_mm)
    x, R, arc = line
    place = kernels.faced_places(place, x, R, arc, base, sweeps)
    facing = on_line(place if also is None else np.concatenate([place, also]), line, base)
    axes, where, gap, slope, drop = kernels.seat_points(
        x,
        R,
        base,
        seats.half_width_mm,
        seats.tilt_rad,
        seats.thickness_mm,
        facing.first,
        facing.share,
        facing.at_mm,
        facing.frame,
    )
    return Meeting(
        facing=facing,
        axes=axes,
        where_mm=where,
        gap_mm=gap + seats.offset_mm,
        slope_mm=slope,
        place=place,
        drop_mm=drop,
    )


def _in_line_with_origin(x: Array, base: int) -> Array:
    """Places one turn back in the direction of every node but the root, from the origin."""
    angle = np.unwrap(np.arctan2(x[:, 1], x[:, 0]))
    if np.any(np.diff(angle) <= 0):
        raise OutsideModelError("the strip must wind counter-clockwise round the origin")
    own = angle[base + 1 :] - 2 * np.pi
    if own[0] < angle[0] - 1e-9:
        raise OutsideModelError("the base's line must reach one full turn back from the root")
    return np.asarray(np.interp(own, angle, np.arange(len(x))))


def make_seats(
    *,
    strip: ElasticStrip,
    base_mm: Array,
    base_frame: Array,
    width_mm: Array,
    slot_mm: Array,
    tilt_rad: Array | float,
    thickness_mm: float,
    place: Array | None = None,
) -> Seats:
    """Find what every node faces and fix the gap at rest to the slot.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest; its curve winds outward round the origin, counter-clockwise. Without a guess of
        places it must do so in every node.
    base_mm, base_frame : numpy.ndarray
        The strip's line carried on inward for one turn before the root, ending one node before
        it, (m, 3) and (m, 3, 3). [mm, -]
    width_mm : numpy.ndarray
        Width in the plane at base nodes and nodes, (m + n,). [mm]
    slot_mm : numpy.ndarray
        Width of the slot in the plane, inside each node but the root, (n - 1,). [mm]
    tilt_rad : numpy.ndarray or float
        Tilt of the slot inside each node but the root, (n - 1,), or one for all. [rad]
    thickness_mm : float
        Board's thickness. [mm]
    place : numpy.ndarray, optional
        First guess of what every node but the root faces, counted in nodes from the first base node, (n -
        1,); left out, that in the same direction from the origin. [-]

    Returns
    -------
    Seats
        Ready for :func:`meet`.

    Raises
    ------
    OutsideModelError
        If the strip does not wind counter-clockwise, or the base falls short of one turn.
    """
    x = np.concatenate([base_mm, strip.position_mm])
    chord = np.linalg.norm(np.diff(x[: len(base_mm) + 1], axis=0), axis=1)
    R = np.concatenate([base_frame, strip.frame])[: len(base_mm) + 1, :, 1]
    turn = np.arccos(np.clip(np.einsum("ki,ki->k", R[:-1], R[1:]), -1, 1))
    place = _in_line_with_origin(x, len(base_mm)) if place is None else place
    draft = Seats(
        base_mm=base_mm,
        base_frame=base_frame,
        base_arc_mm=chord / np.sinc(turn / (2 * np.pi)),
        half_width_mm=np.asarray(width_mm) / 2,
        slot_mm=np.asarray(slot_mm, dtype=np.float64),
        tilt_rad=np.broadcast_to(np.asarray(tilt_rad, dtype=np.float64), place.shape).copy(),
        thickness_mm=thickness_mm,
        place=place,
        offset_mm=np.zeros((len(place), 2)),
    )
    seen = meet(draft, strip_line(draft, strip, strip.position_mm, strip.frame), place=place, sweeps=6)
    want = draft.slot_mm[:, None] * np.cos(draft.tilt_rad)[:, None]
    return replace(draft, place=seen.place, offset_mm=want - seen.gap_mm)
