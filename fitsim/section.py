"""The bowl sawn through its axis: outlines of the wood, flat and open, at true proportion.

The section stands square to the board through its centre, in a direction counted from the root; the
strip is met once a turn on each side, half a turn apart, so the two sides differ by half a pitch.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.cut import TURN_RAD, frozen
from fitsim.rigid import RigidFit
from fitsim.standing import StandingBowl

__all__ = ["SectionPiece", "section_direction_rad", "section_pieces"]


@dataclass(frozen=True, eq=False)
class SectionPiece:
    """One piece of wood met by the section.

    Attributes
    ----------
    turn : int
        0 for the base, else the turn, 1 the innermost.
    side : str
        "right", "left", or "middle" for the base.
    outline_mm : numpy.ndarray
        Corners (x, z), shape (4, 2): inner bottom, outer bottom, outer top, inner top; x from the
        axis, z from the base's mid-thickness. [mm]
    """

    turn: int
    side: str
    outline_mm: Array


def section_pieces(
    rigid: RigidFit, standing: StandingBowl | None = None, *, direction_rad: float = np.pi / 2
) -> tuple[SectionPiece, ...]:
    """Outlines of all pieces, base first, then outward on the right and on the left.

    Parameters
    ----------
    rigid : RigidFit
        The rigid fit: the wood between the slots.
    standing : StandingBowl, optional
        The bowl as it stands; left out, the flat board.
    direction_rad : float
        Direction of the right-hand side, from the root, more than 0 and less than pi. [rad]

    Returns
    -------
    tuple[SectionPiece, ...]
        The pieces.
    """
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    pieces = [_base(rigid, thickness, direction_rad)]
    for side, start in (("right", direction_rad), ("left", direction_rad + np.pi)):
        sign = 1.0 if side == "right" else -1.0
        for angle in np.arange(start, float(rigid.strip.angle_rad[-1]), TURN_RAD):
            turn = int(angle // TURN_RAD)
            outline = _strip_outline(rigid, float(angle), thickness)
            height = 0.0 if standing is None else standing.height_at_mm(float(angle))
            outline = outline * (sign, 1.0) + (0.0, height)
            pieces.append(SectionPiece(turn + 1, side, frozen(outline)))
    return tuple(pieces)


def section_direction_rad(rigid: RigidFit, outline: str) -> float:
    """Direction in which a drawn section stands.

    Parameters
    ----------
    rigid : RigidFit
        The rigid fit.
    outline : str
        "round" or "square".

    Returns
    -------
    float
        From the root: square to it on a round board, through the middles of a square one's sides. [rad]
    """
    if outline == "round":
        return math.pi / 2
    direction = math.fmod(float(rigid.slot.angle_rad[-1]) + math.pi / 2, math.pi)
    return direction if 0.05 < direction < math.pi - 0.05 else math.pi / 2


def _face(rigid: RigidFit, angle: float) -> tuple[float, float, float]:
    """Radius of the slot's centre line, half the slot left, and slope, at one angle."""
    slot, faces = rigid.slot, rigid.faces
    radius = float(np.interp(angle, slot.angle_rad, slot.radius_mm))
    half = float(np.interp(angle, faces.angle_rad, faces.slot_mm)) / 2
    return radius, half, float(np.interp(angle, slot.angle_rad, slot.slope))


def _base(rigid: RigidFit, thickness: float, direction: float) -> SectionPiece:
    up = thickness / 2
    (right, r_half, r_slope), (left, l_half, l_slope) = (
        _face(rigid, angle) for angle in (direction, direction + np.pi)
    )
    outline = [
        (-(left - l_half - up * l_slope), -up),
        (right - r_half - up * r_slope, -up),
        (right - r_half + up * r_slope, up),
        (-(left - l_half + up * l_slope), up),
    ]
    return SectionPiece(0, "middle", frozen(outline))


def _strip_outline(rigid: RigidFit, angle: float, thickness: float) -> Array:
    up = thickness / 2
    radius, half, slope = _face(rigid, angle)
    inner = radius + half
    if angle + TURN_RAD <= float(rigid.slot.angle_rad[-1]):
        next_radius, next_half, outer_slope = _face(rigid, angle + TURN_RAD)
        outer = next_radius - next_half
    else:  # the last revolution ends at the board's own square edge
        outer = inner + float(np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm))
        outer_slope = 0.0
    return np.array(
        [
            (inner - up * slope, -up),
            (outer - up * outer_slope, -up),
            (outer + up * outer_slope, up),
            (inner + up * slope, up),
        ]
    )
