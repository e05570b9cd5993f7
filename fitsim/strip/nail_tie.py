"""The nail that ties the strip's free end to the turn inside it.

It holds where it was driven: shifts, and if wanted turnings, of a node against the place it enters.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.strip.beam import ElasticStrip, Shape
from fitsim.strip.gap import Seats, on_line, strip_line

__all__ = ["Nail", "make_nail", "nail_misfit"]


@dataclass(frozen=True, eq=False)
class Nail:
    """A tie between a node and the turn inside it, in the middle of the slot's bevel.

    Attributes
    ----------
    node, place : int, float
        Node it passes through, and what it enters (base nodes and nodes counted together). [-]
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
    """Drive a nail in the present shape: it keeps what it finds.

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
    faced = on_line(np.array([place]), strip_line(seats, strip, shape.position_mm, shape.frame))
    at, Ri = faced.at_mm[0], faced.frame[0]
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


def nail_misfit(
    nail: Nail, node: tuple[Array, Array], place: tuple[Array, Array]
) -> tuple[Array, Array, Array]:
    """How far a nail's two ends are apart, and where it is.

    Parameters
    ----------
    nail : Nail
        The nail.
    node, place : tuple of numpy.ndarray
        Position (3,) and axes (3, 3) of its node and of the place it enters. [mm, -]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray, numpy.ndarray]
        Shifts along its axes (3,) [mm], turnings about them (3,) [rad], and the middle between its
        ends (3,) [mm].
    """
    (x, R), (at, Ri) = node, place
    p_o, p_i = x + R @ nail.outer_arm_mm, at + Ri @ nail.inner_arm_mm
    turn = Ri @ nail.rest_turn @ R.T
    lag = -0.5 * np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    return nail.axes @ (p_o - p_i) + nail.offset_mm, nail.axes @ lag, 0.5 * (p_o + p_i)
