"""Rigid seats: the drop at which neighbouring bevels bind, turn by turn.

With the inner neighbour sunk by d below the turn, a point of the turn's face at height z faces the
point of the neighbour's at z + d, and the free gap in the plane of the board is

    gap(z) = slot + z slope_o - (z + d) slope_i        on the overlap  -T_o/2 <= z <= T_i/2 - d.

It is a straight line in z, so it closes first at one end of the overlap. For equal bevels both ends
close together at h = k_h/tan(theta) = k/sin(theta).
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.geometry.rings import SlotFaces

__all__ = ["TurnSeats", "binding_drop_mm", "turn_seats"]


@dataclass(frozen=True, eq=False)
class TurnSeats:
    """Seats of each turn, innermost first; every array of shape (turns,).

    A rigid ring kept level and central rests where its slot closes first, so ``seat_drop_mm`` is the
    least drop round the turn. It is infinite where the bevels never bind.

    Attributes
    ----------
    seat_drop_mm, mean_drop_mm, greatest_drop_mm : numpy.ndarray
        Least, mean and greatest drop at which the bevels bind round the turn. [mm]
    overlap : numpy.ndarray
        Share of the thickness that still faces wood at ``seat_drop_mm``; negative: fell through. [-]
    slot_left_mm : numpy.ndarray
        Least slot left when flat. [mm]
    slope : numpy.ndarray
        tan(bevel) of the steepest face met round the turn. [-]
    share : numpy.ndarray
        Revolutions the turn covers, 1 for a whole one. [-]
    """

    seat_drop_mm: Array
    mean_drop_mm: Array
    greatest_drop_mm: Array
    overlap: Array
    slot_left_mm: Array
    slope: Array
    share: Array


def binding_drop_mm(
    *,
    slot_mm: Array,
    inner_slope: Array,
    outer_slope: Array,
    inner_thickness_mm: Array,
    outer_thickness_mm: Array,
) -> Array:
    """Least drop at which the two faces of a slot touch.

    Parameters
    ----------
    slot_mm : numpy.ndarray
        Slot left at mid-thickness when flat, in the plane of the board, shape (n,). [mm]
    inner_slope, outer_slope : numpy.ndarray
        tan(bevel) of the inner neighbour's and of the turn's face, shape (n,). [-]
    inner_thickness_mm, outer_thickness_mm : numpy.ndarray
        Heights of the two, shape (n,). [mm]

    Returns
    -------
    numpy.ndarray
        Drop, shape (n,); 0 where the faces already touch when flat, infinite where they never
        meet. It may exceed the thickness: then nothing is left to bind on. [mm]

    Examples
    --------
    >>> drop = binding_drop_mm(slot_mm=np.array([0.7]) / np.cos(0.096), inner_slope=np.tan([0.096]),
    ...     outer_slope=np.tan([0.096]), inner_thickness_mm=[18.0], outer_thickness_mm=[18.0])
    >>> round(float(drop[0]), 4), round(0.7 / float(np.sin(0.096)), 4)
    (7.3029, 7.3029)
    """
    slot, inner, outer = (np.asarray(v, dtype=np.float64) for v in (slot_mm, inner_slope, outer_slope))
    opening = outer - inner  # how much faster the turn's face leans out than its neighbour's
    at_bottom = slot - np.asarray(outer_thickness_mm) / 2 * opening
    at_top = slot + np.asarray(inner_thickness_mm) / 2 * opening
    with np.errstate(divide="ignore", invalid="ignore"):
        bottom_drop = np.where(inner > 0, at_bottom / inner, np.inf)
        top_drop = np.where(outer > 0, at_top / outer, np.inf)
    touching = (at_bottom <= 0) | (at_top <= 0)
    return np.where(touching, 0.0, np.minimum(bottom_drop, top_drop))


def turn_seats(faces: SlotFaces) -> TurnSeats:
    """Rigid seat of every turn from the local faces.

    Parameters
    ----------
    faces : SlotFaces
        Faces after swelling and film, from the root to the free end.

    Returns
    -------
    TurnSeats
        One seat for each turn, the last one covering only its share of a revolution.
    """
    drop = binding_drop_mm(
        slot_mm=faces.slot_mm,
        inner_slope=faces.inner_slope,
        outer_slope=faces.outer_slope,
        inner_thickness_mm=faces.inner_thickness_mm,
        outer_thickness_mm=faces.outer_thickness_mm,
    )
    # Faces of unequal height overlap over the mean of both heights less the drop.
    height = (faces.inner_thickness_mm + faces.outer_thickness_mm) / 2
    # A pair of unequal bevels already rubs at an edge of the board while mid-thickness is open.
    opening = np.abs(faces.outer_slope - faces.inner_slope)
    left = faces.slot_mm - opening * height / 2
    slope = np.maximum(faces.inner_slope, faces.outer_slope)
    starts = np.searchsorted(faces.turn, np.arange(len(faces.share)))

    def least(values: Array) -> Array:
        return np.minimum.reduceat(values, starts)

    def greatest(values: Array) -> Array:
        return np.maximum.reduceat(values, starts)

    count = np.diff(np.append(starts, len(drop)))
    binding = least(drop)
    return TurnSeats(
        seat_drop_mm=binding,
        mean_drop_mm=np.add.reduceat(drop, starts) / count,
        greatest_drop_mm=greatest(drop),
        overlap=1 - binding / least(height),
        slot_left_mm=least(left),
        slope=greatest(slope),
        share=faces.share,
    )
