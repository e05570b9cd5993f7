"""Where the faces of neighbouring turns meet: gaps, sliding and lines of force in any shape.

Every node of the strip but the root faces a place on the turn inside it, or on the base, which is
carried along as a fixed piece of strip one turn long. Two points a seat: the lower edge of the
outer turn on the face of the inner one, and the upper edge of the inner turn on the face of the outer
one; those are the two ends of the overlap at whatever drop the seat has. Between nodes the inner
turn is a cubic through positions and directions, so that turns sliding along each other meet a
smooth face and not a polygon.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import OutsideModelError
from fitsim.strip.beam import ElasticStrip, Shape, force_wrench

from .contact import Points

__all__ = [
    "Meeting",
    "Seats",
    "drop_at_rest",
    "make_seats",
    "meet",
    "meet_at_rest",
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
class Meeting:
    """How the faces stand to each other; points run node by node, lower end first, 2 (n - 1).

    Attributes
    ----------
    points : Points
        Lines of force.
    gap_mm : numpy.ndarray
        Free distance along the normal of the face, (2 (n - 1),). [mm]
    slid_mm : numpy.ndarray
        Coordinates whose change is the sliding of outer on inner, slope and strip, (.., 2). [mm]
    place : numpy.ndarray
        Place on the inner turn, counted in nodes from the first base node, (n - 1,). [-]
    drop_mm : numpy.ndarray
        How far the inner side of each seat has sunk below the outer, (n - 1,). [mm]
    """

    points: Points
    gap_mm: Array
    slid_mm: Array
    place: Array
    drop_mm: Array


def on_line(place: Array, x: Array, R: Array, arc: Array) -> tuple[Array, Array, Array]:
    """Points, slopes over arc length and axes of a sampled line at places between its nodes.

    Parameters
    ----------
    place : numpy.ndarray
        Places counted in nodes, shape (k,). [-]
    x, R, arc : numpy.ndarray
        Nodes (n, 3), their axes (n, 3, 3) and the lengths between them (n - 1,), as `strip_line` has
        them. [mm, -, mm]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray, numpy.ndarray]
        Points (k, 3) of the cubic through nodes and directions [mm], slopes (k, 3) and axes
        (k, 3, 3). [-]
    """
    first = np.clip(place.astype(np.int64), 0, len(arc) - 1)
    u = (place - first)[:, None]
    L, a, z = arc[first, None], x[first], x[first + 1]
    ta, tz = R[first, :, 1], R[first + 1, :, 1]
    at = ((1 + 2 * u) * a + u * L * ta) * (1 - u) ** 2 + ((3 - 2 * u) * z - (1 - u) * L * tz) * u**2
    slope = (6 * u * (1 - u) / L) * (z - a) + (1 - u) * (1 - 3 * u) * ta + u * (3 * u - 2) * tz
    mixed = (1 - u)[:, :, None] * R[first] + u[:, :, None] * R[first + 1]
    t = slope / np.sqrt(np.einsum("ki,ki->k", slope, slope))[:, None]
    b = mixed[:, :, 2]
    b = b - np.einsum("ki,ki->k", b, t)[:, None] * t
    b /= np.sqrt(np.einsum("ki,ki->k", b, b))[:, None]
    return at, slope, np.stack([np.cross(t, b), t, b], axis=2)


def _face_places(place: Array, x_o: Array, t_o: Array, line: tuple[Array, Array, Array]) -> Array:
    """Places of the line in the cross-sections of the outer nodes."""
    for _ in range(3):
        at, slope, _R = on_line(place, *line)
        first = np.clip(place.astype(np.int64), 0, len(line[2]) - 1)
        miss = np.einsum("ki,ki->k", at - x_o, t_o)
        place = place - miss / (np.einsum("ki,ki->k", slope, t_o) * line[2][first])
        place = np.clip(place, 0.0, len(line[2]) - 1e-9)
        if np.abs(miss).max() < 1e-10:
            break
    return place


def strip_line(seats: Seats, strip: ElasticStrip, x: Array, R: Array) -> tuple[Array, Array, Array]:
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


def _faces(seats: Seats, place: Array) -> tuple[Array, Array]:
    """Half widths of the outer node and of the inner place, columns (n - 1, 1). [mm]"""
    count = np.arange(len(seats.half_width_mm))
    base = len(seats.base_mm)
    inner = np.interp(place, count, seats.half_width_mm)
    return seats.half_width_mm[base + 1 :, None], inner[:, None]


def meet(seats: Seats, strip: ElasticStrip, shape: Shape, *, place: Array) -> Meeting:
    """Gaps, sliding and lines of force in a deformed shape.

    Parameters
    ----------
    seats, strip, shape : Seats, ElasticStrip, Shape
        Slots, strip at rest, and where it is now.
    place : numpy.ndarray
        First guess of the places, for example those of the last shape, (n - 1,). [-]

    Returns
    -------
    Meeting
        Points in pairs, lower end first.
    """
    x, R = shape.position_mm[1:], shape.frame[1:]
    line = strip_line(seats, strip, shape.position_mm, shape.frame)
    place = _face_places(place, x, R[:, :, 1], line)
    at, _slope, Ri = on_line(place, *line)
    half_o, half_i = _faces(seats, place)
    c, s, T = np.cos(seats.tilt_rad)[:, None], np.sin(seats.tilt_rad)[:, None], seats.thickness_mm
    n_o, b_o, n_i, b_i = R[:, :, 0], R[:, :, 2], Ri[:, :, 0], Ri[:, :, 2]
    face_o, face_i = x - half_o * n_o, at + half_i * n_i
    low = face_o - T / 2 * (b_o + s / c * n_o)
    high = face_i + T / 2 * (b_i + s / c * n_i)
    N = np.stack([c * n_i - s * b_i, c * n_o - s * b_o], axis=1)
    S = np.stack([s * n_i + c * b_i, s * n_o + c * b_o], axis=1)
    A = np.stack([Ri[:, :, 1], R[:, :, 1]], axis=1)
    apart = np.stack([low - face_i, face_o - high], axis=1)
    where = np.stack([low, high], axis=1)
    arc = np.concatenate([[0.0], np.cumsum(line[2])])
    travelled = np.interp(place, np.arange(len(arc)), arc)
    slid = np.stack([np.einsum("kei,kei->ke", S, apart), np.repeat(travelled[:, None], 2, 1)], 2)
    gap = np.einsum("kei,kei->ke", N, apart) + seats.offset_mm
    return Meeting(
        points=_points(seats, place, where, np.stack([N, S, A], axis=2)),
        gap_mm=gap.reshape(-1),
        slid_mm=slid.reshape(-1, 2),
        place=place,
        drop_mm=face_o[:, 2] - face_i[:, 2],
    )


def _points(seats: Seats, place: Array, where: Array, axes: Array) -> Points:
    wrench = force_wrench(np.broadcast_to(where[:, :, None, :], axes.shape), axes)
    seat = place - len(seats.base_mm)
    inner = np.floor(seat).astype(np.int64)
    share = np.where(inner >= 0, seat - inner, 0.0)
    # A place a rounding error short of a node is at that node.
    on_next = share > 1 - 1e-9
    inner, share = np.where(on_next, inner + 1, inner), np.where(on_next, 0.0, share)
    # A turn that has run off the free end meets nothing there: it stays with the last element.
    over = inner > len(seats.half_width_mm) - len(seats.base_mm) - 2
    inner = np.where(over, len(seats.half_width_mm) - len(seats.base_mm) - 2, inner)
    share = np.where(over, 1 - 1e-6, share)
    return Points(
        wrench=wrench.reshape(-1, 3, 6),
        outer=np.repeat(np.arange(1, len(place) + 1), 2),
        inner=np.repeat(np.maximum(inner, -1), 2),
        share=np.repeat(np.where(share < 1e-9, 0.0, share), 2),
    )


def meet_at_rest(seats: Seats, strip: ElasticStrip, *, drop_mm: Array) -> Meeting:
    """Points for small displacements: faces at rest, ends of the overlap at the drops given.

    Both ends of a point are taken at one height, half the drop inside the faces' ends, so that the
    pair of forces balances at rest; ``gap_mm`` is the slot along the normal, ``slid_mm`` is zero.

    Parameters
    ----------
    seats, strip : Seats, ElasticStrip
        Slots, strip at rest.
    drop_mm : numpy.ndarray
        Drops of the seats, shape (n - 1,). [mm]

    Returns
    -------
    Meeting
        As at rest: drops zero, only the points moved to the ends of the overlap.
    """
    place = seats.place
    line = strip_line(seats, strip, strip.position_mm, strip.frame)
    at, _slope, Ri = on_line(place, *line)
    x, R = strip.position_mm[1:], strip.frame[1:]
    half_o, half_i = _faces(seats, place)
    c, s = np.cos(seats.tilt_rad)[:, None], np.sin(seats.tilt_rad)[:, None]
    n, t, b = (0.5 * (Ri[:, :, i] + R[:, :, i]) for i in range(3))
    middle = 0.5 * (x - half_o * R[:, :, 0] + at + half_i * Ri[:, :, 0])
    reach = 0.5 * np.clip(seats.thickness_mm - np.abs(drop_mm), 0, None)[:, None]
    along = b + s / c * n
    where = np.stack([middle - reach * along, middle + reach * along], axis=1)
    axes = np.stack([c * n - s * b, s * n + c * b, t], axis=1)
    points = _points(seats, place, where, np.repeat(axes[:, None], 2, axis=1))
    return Meeting(
        points=points,
        gap_mm=np.repeat(seats.slot_mm * c[:, 0], 2),
        slid_mm=np.zeros((2 * len(place), 2)),
        place=place,
        drop_mm=np.zeros(len(place)),
    )


def drop_at_rest(seats: Seats, strip: ElasticStrip, twist: Array) -> Array:
    """Drops (n - 1,) of the seats for small displacements given by twists (n, 6) of the nodes.

    Parameters
    ----------
    seats, strip : Seats, ElasticStrip
        Slots, strip at rest.
    twist : numpy.ndarray
        Shift and rotation about the origin of every node, shape (n, 6). [mm, rad]

    Returns
    -------
    numpy.ndarray
        How far the turn inside has sunk below each node, shape (n - 1,). [mm]
    """
    base, x, R = len(seats.base_mm), strip.position_mm[1:], strip.frame[1:]
    face_o = x - seats.half_width_mm[base + 1 :, None] * R[:, :, 0]
    face_i = face_o - seats.slot_mm[:, None] * R[:, :, 0]
    seat = np.maximum(seats.place - base, 0.0)
    first = np.minimum(np.floor(seat + 1e-9).astype(np.int64), len(twist) - 2)
    share = np.maximum(seat - first, 0.0)[:, None]
    inner = (1 - share) * twist[first] + share * twist[first + 1]
    up_o = twist[1:, 2] + np.cross(twist[1:, 3:], face_o)[:, 2]
    up_i = inner[:, 2] + np.cross(inner[:, 3:], face_i)[:, 2]
    return np.asarray(up_o - up_i)


def make_seats(
    *,
    strip: ElasticStrip,
    base_mm: Array,
    base_frame: Array,
    width_mm: Array,
    slot_mm: Array,
    tilt_rad: Array | float,
    thickness_mm: float,
) -> Seats:
    """Find what every node faces and fix the gap at rest to the slot.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest; its curve winds outward round the origin, counter-clockwise.
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

    Returns
    -------
    Seats
        Ready for `meet`.

    Raises
    ------
    OutsideModelError
        If the strip does not wind counter-clockwise, or the base falls short of one turn.
    """
    x = np.concatenate([base_mm, strip.position_mm])
    chord = np.linalg.norm(np.diff(x[: len(base_mm) + 1], axis=0), axis=1)
    R = np.concatenate([base_frame, strip.frame])[: len(base_mm) + 1, :, 1]
    turn = np.arccos(np.clip(np.einsum("ki,ki->k", R[:-1], R[1:]), -1, 1))
    angle = np.unwrap(np.arctan2(x[:, 1], x[:, 0]))
    if np.any(np.diff(angle) <= 0):
        raise OutsideModelError("the strip must wind counter-clockwise round the origin")
    own = angle[len(base_mm) + 1 :] - 2 * np.pi
    if own[0] < angle[0] - 1e-9:
        raise OutsideModelError("the base's line must reach one full turn back from the root")
    place = np.interp(own, angle, np.arange(len(x)))
    draft = Seats(
        base_mm=base_mm,
        base_frame=base_frame,
        base_arc_mm=chord / np.sinc(turn / (2 * np.pi)),
        half_width_mm=np.asarray(width_mm) / 2,
        slot_mm=np.asarray(slot_mm, dtype=np.float64),
        tilt_rad=np.broadcast_to(np.asarray(tilt_rad, dtype=np.float64), place.shape),
        thickness_mm=thickness_mm,
        place=place,
        offset_mm=np.zeros((len(place), 2)),
    )
    rest = Shape(strip.position_mm, strip.frame, strip.position_mm, strip.frame)
    seen = meet(draft, strip, rest, place=place)
    want = draft.slot_mm[:, None] * np.cos(draft.tilt_rad)[:, None]
    return Seats(**{**draft.__dict__, "place": seen.place, "offset_mm": want - seen.gap_mm.reshape(-1, 2)})
