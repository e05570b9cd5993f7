"""Tapered rings: the faces of every slot, after moisture has swollen the wood and a film covers it.

Both faces of a slot lean outward going up, so each turn of the strip is a tapered ring that wedges
into its outer neighbour when it sinks. A ring swells as an affine copy of itself: its radii by the
strain along the outward normal, its height by the strain through the thickness, and so its bevel by
the ratio of the two. If all rings swell alike the whole board is an affine copy and every seat still
fits; what moves a seat is the *difference* between neighbours.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray, frozen
from fitsim.errors import OutsideModelError
from fitsim.geometry.cut import SlotCurve, Strip, by_turn, turn_indices
from fitsim.wood.moisture import normal_strain

__all__ = ["RingSections", "SlotFaces", "ring_sections", "slot_faces"]


@dataclass(frozen=True, eq=False)
class SlotFaces:
    """The two faces of the slot at points along it, board flat, after swelling and film.

    The inner face belongs to the inner neighbour (the base for the first turn), the outer face to
    the turn outside the slot. All arrays have shape (n,), from the root to the free end.

    Attributes
    ----------
    angle_rad : numpy.ndarray
        Angle swept from the root. [rad]
    slot_mm : numpy.ndarray
        Slot left in the plane of the board at mid-thickness; not positive: it will not open. [mm]
    inner_slope, outer_slope : numpy.ndarray
        tan(bevel) of the face on the inner neighbour and of the face on the turn. [-]
    inner_thickness_mm, outer_thickness_mm : numpy.ndarray
        Heights of the inner neighbour and of the turn. [mm]
    turn : numpy.ndarray
        Index of the turn, 0 for the innermost.
    share : numpy.ndarray
        Revolutions covered by each turn, 1 for a whole one, shape (turns,). [-]
    """

    angle_rad: Array
    slot_mm: Array
    inner_slope: Array
    outer_slope: Array
    inner_thickness_mm: Array
    outer_thickness_mm: Array
    turn: IntArray
    share: Array


@dataclass(frozen=True, eq=False)
class RingSections:
    """The bowl cut through its axis, base first; shapes (n,). Round rings, but for what the left half says.

    Attributes
    ----------
    thickness_mm : numpy.ndarray
        Height of each ring. [mm]
    inner_radius_mm, outer_radius_mm : numpy.ndarray
        Radii at mid-thickness, inner radius of the base 0. [mm]
    inner_slope, outer_slope : numpy.ndarray
        tan(bevel) of each ring's inner and outer face; positive leans outward going up. [-]
    left : RingSections or None
        The other half of a section whose halves differ; None where they are alike.
    """

    thickness_mm: Array
    inner_radius_mm: Array
    outer_radius_mm: Array
    inner_slope: Array
    outer_slope: Array
    left: "RingSections | None" = None


def slot_faces(
    slot: SlotCurve,
    strip: Strip,
    *,
    thickness_mm: float,
    film_mm: float = 0.0,
    along_strain: float | Sequence[float] = 0.0,
    across_strain: float | Sequence[float] = 0.0,
    thickness_strain: float | Sequence[float] = 0.0,
) -> SlotFaces:
    """Faces of the slot up to the free end, after swelling ring by ring and a film on both faces.

    With e_n = e_x cos^2(chi) + e_y sin^2(chi) along the outward normal, the inner neighbour's face
    moves to (r - k_h/2)(1 + e_n,i) and the turn's to (r + k_h/2)(1 + e_n,o); a film of thickness f
    square to the face takes 2 f/cos(theta) of the slot. The shear strain of a rift-sawn board is left
    out: it slides each ring sideways by a share of its drop, which moves no seat.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    strip : Strip
        The strip; gives the free end.
    thickness_mm : float
        Thickness of the board when cut. [mm]
    film_mm : float
        Thickness of the dried film on each face. [mm]
    along_strain, across_strain, thickness_strain : float or sequence of float
        Swelling since the cut, along the grain, across it in the plane, and through the thickness:
        one value for the whole board, or base first and then one value for each turn. [-]

    Returns
    -------
    SlotFaces
        Local faces.

    Raises
    ------
    OutsideModelError
        If a list has fewer values than base and turns.
    """
    angle = strip.angle_rad
    turn = turn_indices(angle)
    # The free end lies between two samples of the slot; every slot quantity is read at its angle.
    radius = np.interp(angle, slot.angle_rad, slot.radius_mm)
    # Kerf and tilt may change from turn to turn in a step: the next sample outward is of the same turn.
    place = np.searchsorted(slot.angle_rad, angle)
    kerf, tilt = slot.kerf_mm[place], slot.tilt_rad[place]
    normal_x = np.interp(angle, slot.angle_rad, slot.normal[:, 0])
    slope, half = np.tan(tilt), kerf / np.cos(tilt) / 2
    inner_n, inner_z = _strains(along_strain, across_strain, thickness_strain, turn, normal_x)
    outer_n, outer_z = _strains(along_strain, across_strain, thickness_strain, turn + 1, normal_x)
    left = (radius + half) * (1 + outer_n) - (radius - half) * (1 + inner_n)
    if (
        slot.winding is not None
    ):  # a place aside of its tangent's foot moves square to it where strains differ
        left = left + _moved_aside(slot, angle, along_strain, across_strain, turn)
    turns = int(turn[-1]) + 1
    share = np.ones(turns)
    share[-1] = strip.turns - (turns - 1)
    return SlotFaces(
        angle_rad=angle,
        slot_mm=frozen(left - 2 * film_mm / np.cos(tilt)),
        inner_slope=frozen(slope * (1 + inner_n) / (1 + inner_z)),
        outer_slope=frozen(slope * (1 + outer_n) / (1 + outer_z)),
        inner_thickness_mm=frozen(thickness_mm * (1 + inner_z)),
        outer_thickness_mm=frozen(thickness_mm * (1 + outer_z)),
        turn=turn,
        share=frozen(share),
    )


def _strains(
    along: float | Sequence[float],
    across: float | Sequence[float],
    thickness: float | Sequence[float],
    ring: IntArray,
    normal_x: Array,
) -> tuple[Array, Array]:
    """Strain along the outward normal and through the thickness, of ring index (0 the base)."""
    along_x = by_turn(along, ring, "strain along the grain")
    across_y = by_turn(across, ring, "strain across the grain")
    normal = normal_strain(along_x, across_y, normal_x=normal_x)
    return normal, by_turn(thickness, ring, "strain through the thickness")


def _moved_aside(
    slot: SlotCurve,
    angle: Array,
    along: float | Sequence[float],
    across: float | Sequence[float],
    turn: IntArray,
) -> Array:
    """What unequal strains along and across the grain add to the slot where its line is no circle. [mm]"""
    aside = np.interp(angle, slot.angle_rad, slot.aside_mm)
    n_x, n_y = (np.interp(angle, slot.angle_rad, slot.normal[:, i]) for i in (0, 1))
    more = [
        by_turn(along, turn + i, "strain along the grain")
        - by_turn(across, turn + i, "strain across the grain")
        for i in (0, 1)
    ]
    # The tangent is (-n_y, n_x): n . strain . t = (across - along) n_x n_y, the same for both hands.
    return np.asarray(aside * (more[0] - more[1]) * n_x * n_y)


def ring_sections(slot: SlotCurve, strip: Strip, faces: SlotFaces) -> RingSections:
    """Even the strip out to round rings for a check in section, one for the base and each turn.

    Each ring takes its turn's mean radius; its slots, slopes and heights are the turn's means.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    strip : Strip
        The strip between the slots.
    faces : SlotFaces
        Faces after swelling and film.

    Returns
    -------
    RingSections
        Shapes (turns + 1,).

    Raises
    ------
    OutsideModelError
        If a ring would have no width.
    """
    turns = len(faces.share)

    def mean(values: Array) -> Array:
        return np.array([values[faces.turn == j].mean() for j in range(turns)])

    radius = mean(np.interp(faces.angle_rad, slot.angle_rad, slot.radius_mm))
    left, width = mean(faces.slot_mm), mean(strip.width_mm)
    inner, outer = mean(faces.inner_slope), mean(faces.outer_slope)
    inner_height, outer_height = mean(faces.inner_thickness_mm), mean(faces.outer_thickness_mm)
    inner_radius = radius + left / 2
    outer_radius = np.append(radius - left / 2, inner_radius[-1] + width[-1])
    inner_radius = np.append(0.0, inner_radius)
    if np.any(outer_radius <= inner_radius):
        message = "a turn would have no width"
        raise OutsideModelError(message)
    return RingSections(
        thickness_mm=frozen(np.append(inner_height[0], outer_height)),
        inner_radius_mm=frozen(inner_radius),
        outer_radius_mm=frozen(outer_radius),
        inner_slope=frozen(np.append(0.0, outer)),
        outer_slope=frozen(np.append(inner, outer[-1])),
    )
