"""The nail that ties the strip's free end to the turn inside it.

It holds where it was driven: shifts, and if wanted turnings, of a node against the place it enters.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.strip.beam import ElasticStrip, Shape, force_wrench

from .contact import Points
from .meeting import Seats, on_line, strip_line

__all__ = ["Nail", "make_nail", "nail_points"]


@dataclass(frozen=True, eq=False)
class Nail:
    """A tie between a node and the turn inside it, in the middle of the slot's bevel.

    Attributes
    ----------
    node, place : int, float
        Node it passes through, and what it enters (base nodes and nodes counted together).
    outer_arm_mm, inner_arm_mm : numpy.ndarray
        Middle of the bevel seen from node and place, each in its own axes, shape (3,). [mm]
    rest_turn : numpy.ndarray
        Axes of the node seen in those of the place when driven, shape (3, 3). [-]
    axes : numpy.ndarray
        Rows: n, t, b of the place when driven, or x, y, z if upright, shape (3, 3). [-]
    held : numpy.ndarray
        Whether each component along `axes` is tied: shifts, then rotations, shape (6,).
    offset_mm : numpy.ndarray
        Added to the misfit of the shifts, zero as driven, shape (3,). [mm]
    """

    node: int
    place: float
    outer_arm_mm: Array
    inner_arm_mm: Array
    rest_turn: Array
    axes: Array
    held: BoolArray
    offset_mm: Array


def make_nail(
    seats: Seats,
    strip: ElasticStrip,
    shape: Shape,
    *,
    node: int,
    place: float,
    held: BoolArray,
    upright: bool = False,
) -> Nail:
    """DisplacementControl a nail in the present shape: it keeps what it finds.

    Parameters
    ----------
    seats, strip, shape : Seats, ElasticStrip, Shape
        Slots, strip at rest, and where it is now.
    node, place : int, float
        Node it is driven through, and what into (base nodes and nodes counted together).
    held : numpy.ndarray
        Components tied, three shifts and three rotations, shape (6,).
    upright : bool
        True to count the components along x, y, z and not along n, t, b of the place.

    Returns
    -------
    Nail
        Its misfit is zero in this shape.
    """
    line = strip_line(seats, strip, shape.position_mm, shape.frame)
    at, _slope, Ri = (a[0] for a in on_line(np.array([place]), *line))
    x, R = shape.position_mm[node], shape.frame[node]
    base = len(seats.base_mm)
    half_i = np.interp(place, np.arange(len(seats.half_width_mm)), seats.half_width_mm)
    face_o = x - seats.half_width_mm[base + node] * R[:, 0]
    where = 0.5 * (face_o + at + half_i * Ri[:, 0])
    axes = np.eye(3) if upright else Ri.T
    return Nail(
        node=node,
        place=place,
        outer_arm_mm=R.T @ (where - x),
        inner_arm_mm=Ri.T @ (where - at),
        rest_turn=Ri.T @ R,
        axes=axes,
        held=np.asarray(held, dtype=bool),
        offset_mm=np.zeros(3),
    )


def nail_points(
    seats: Seats, strip: ElasticStrip, shape: Shape, nails: tuple[Nail, ...]
) -> tuple[Points, Array, BoolArray]:
    """Points, misfits (p, 3) and tied components (p, 3) of nails: shifts, then rotations.

    Parameters
    ----------
    seats, strip, shape : Seats, ElasticStrip, Shape
        Slots, strip at rest, and where it is now.
    nails : tuple of Nail
        The nails.

    Returns
    -------
    tuple[Points, numpy.ndarray, numpy.ndarray]
        Two points a nail, misfits [mm, rad] and tied components, both of shape (p, 3).
    """
    wrench, misfit, tied, outer, inner, share = [], [], [], [], [], []
    line = strip_line(seats, strip, shape.position_mm, shape.frame)
    for nail in nails:
        at, _slope, Ri = (a[0] for a in on_line(np.array([nail.place]), *line))
        x, R = shape.position_mm[nail.node], shape.frame[nail.node]
        p_o, p_i = x + R @ nail.outer_arm_mm, at + Ri @ nail.inner_arm_mm
        turn = Ri @ nail.rest_turn @ R.T
        lag = -0.5 * np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
        wrench += [
            force_wrench(np.broadcast_to(0.5 * (p_o + p_i), (3, 3)), nail.axes),
            np.concatenate([np.zeros((3, 3)), nail.axes], axis=1),
        ]
        misfit += [nail.axes @ (p_o - p_i) + nail.offset_mm, nail.axes @ lag]
        tied += [nail.held[:3], nail.held[3:]]
        seat = nail.place - len(seats.base_mm)
        outer += [nail.node] * 2
        inner += [int(np.floor(seat))] * 2
        share += [seat - np.floor(seat)] * 2
    points = Points(
        wrench=np.array(wrench).reshape(-1, 3, 6),
        outer=np.array(outer, dtype=np.int64),
        inner=np.array(inner, dtype=np.int64),
        share=np.array(share, dtype=np.float64),
    )
    return points, np.array(misfit).reshape(-1, 3), np.array(tied, dtype=bool).reshape(-1, 3)
