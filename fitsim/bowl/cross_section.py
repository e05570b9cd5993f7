"""The bowl sawn through its axis: outlines of the wood, flat and open, at true proportion.

The section stands square to the board through its centre, in a direction counted from the root; the
strip is met once a turn on each side, half a turn apart, so the two sides differ by half a pitch.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, IntArray, frozen
from fitsim.bowl.closed_form import RigidFit
from fitsim.bowl.standing import StandingBowl
from fitsim.geometry.rings import RingSections
from fitsim.quantities import TURN_RAD

__all__ = [
    "SectionPiece",
    "board_half_mm",
    "inner_rims_mm",
    "section_direction_rad",
    "section_pieces",
    "section_rings",
    "told_extent_mm",
]


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
        for turned in np.arange(start, float(rigid.strip.angle_rad[-1]) + TURN_RAD, TURN_RAD):
            angle = _swept_rad(rigid, float(turned))
            if angle >= float(rigid.strip.angle_rad[-1]):
                break
            turn = int(angle // TURN_RAD)
            outline = _strip_outline(rigid, float(angle), thickness)
            height = 0.0 if standing is None else standing.height_at_mm(float(angle))
            outline = outline * (sign, 1.0) + (0.0, height)
            pieces.append(SectionPiece(turn + 1, side, frozen(outline)))
    return tuple(pieces)


def section_rings(rigid: RigidFit, *, direction_rad: float = np.pi / 2) -> RingSections:
    """The rings of a bowl of any outline as one plane through its middle cuts them, each half as it lies.

    A plane that meets a line aslant shows its slot and the slope of its faces longer alike.

    Parameters
    ----------
    rigid : RigidFit
        The rigid fit: its cut and faces, not its drops.
    direction_rad : float
        Direction of the right-hand side, from the root, more than 0 and less than pi. [rad]

    Returns
    -------
    RingSections
        The base and every turn that the plane meets on both sides.
    """
    faces = rigid.faces
    first = np.searchsorted(faces.turn, _turns(rigid))
    heights = np.append(faces.inner_thickness_mm[0], faces.outer_thickness_mm[first])
    starts = (direction_rad, direction_rad + np.pi)
    end = float(rigid.strip.angle_rad[-1])
    count = min(
        sum(_swept_rad(rigid, start + TURN_RAD * j) < end for j in _turns(rigid)) for start in starts
    )
    halves = []
    for start in starts:
        angles = [_swept_rad(rigid, start + TURN_RAD * j) for j in range(count)]
        met = [_face(rigid, angle) for angle in angles]
        radius, half, slope = (np.array(part) for part in zip(*met, strict=True))
        # Over the last revolution the board's edge takes the place of the next slot.
        last = float(np.interp(angles[-1], rigid.strip.angle_rad, rigid.strip.width_mm))
        last *= _aslant(rigid, angles[-1])
        halves.append(
            RingSections(
                thickness_mm=frozen(heights[: count + 1]),
                inner_radius_mm=frozen(np.append(0.0, radius + half)),
                outer_radius_mm=frozen(np.append(radius - half, radius[-1] + half[-1] + last)),
                inner_slope=frozen(np.append(0.0, slope)),
                outer_slope=frozen(np.append(slope, slope[-1])),
            )
        )
    return replace(halves[0], left=halves[1])


def _turns(rigid: RigidFit) -> IntArray:
    return np.arange(len(rigid.faces.share))


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
    if rigid.slot.winding is not None:  # the long way, or across it where the root lies there
        edge = rigid.slot.winding.lines.edge_mm
        long, short = (0.0, math.pi / 2) if np.ptp(edge[:, 0]) >= np.ptp(edge[:, 1]) else (math.pi / 2, 0.0)
        first = rigid.slot.position_mm[0]
        root = math.atan2(float(first[1]), float(first[0]))
        direction = (long - root) % math.pi
        return direction if 0.05 < direction < math.pi - 0.05 else (short - root) % math.pi
    direction = math.fmod(float(rigid.slot.angle_rad[-1]) + math.pi / 2, math.pi)
    return direction if 0.05 < direction < math.pi - 0.05 else math.pi / 2


def board_half_mm(rigid: RigidFit, across_mm: float, direction_rad: float) -> float:
    """Half the board's extent in the plane of a section.

    Parameters
    ----------
    rigid : RigidFit
        The rigid fit.
    across_mm : float
        Diameter of a round board, side of a square one. [mm]
    direction_rad : float
        Direction of the section, from the root. [rad]

    Returns
    -------
    float
        Half of ``across_mm``, or half the chord through the middle of a board of another outline. [mm]
    """
    if rigid.slot.winding is None:
        return across_mm / 2
    x, y = rigid.slot.position_mm[0]
    polar = math.atan2(float(y), float(x)) + direction_rad
    edge = rigid.slot.winding.lines.edge_mm
    off = edge @ np.array([-math.sin(polar), math.cos(polar)])
    along = edge @ np.array([math.cos(polar), math.sin(polar)])
    ahead, after = np.roll(off, -1), np.roll(along, -1)
    crossed = np.flatnonzero((off >= 0) != (ahead >= 0))
    places = along[crossed] - off[crossed] * (after - along)[crossed] / (ahead - off)[crossed]
    return float(np.ptp(places)) / 2


def told_extent_mm(
    rigid: RigidFit,
    direction_rad: float,
    *,
    round_mm: float,
    along_mm: float | None,
    across_mm: float | None,
) -> float | None:
    """What ``fit`` tells of a base or a mouth, in the direction of a section.

    The section through the middle may be a little shorter: a rule or calipers find the widest place.

    Parameters
    ----------
    rigid : RigidFit
        The rigid fit.
    direction_rad : float
        Direction of the section, from the root. [rad]
    round_mm : float
        The mean diameter, told of turns that are circles. [mm]
    along_mm, across_mm : float or None
        Along the grain and across it; None of turns that are circles. [mm]

    Returns
    -------
    float or None
        That which the section shows; None where it stands aslant of the grain. [mm]
    """
    if along_mm is None or across_mm is None:
        return round_mm
    x, y = rigid.slot.position_mm[0]
    polar = math.atan2(float(y), float(x)) + direction_rad
    if abs(math.sin(polar)) < _ASIDE:
        return along_mm
    return across_mm if abs(math.cos(polar)) < _ASIDE else None


_ASIDE = 1e-3
"""A section turned by so little lies along the grain, or square to it. [rad]"""


def inner_rims_mm(pieces: Sequence[SectionPiece]) -> tuple[float, float]:
    """Where the mouth begins on the left and on the right of an open section.

    Parameters
    ----------
    pieces : sequence of SectionPiece
        Of the open bowl.

    Returns
    -------
    tuple[float, float]
        Upper inner edge of the outermost turn on either side. [mm]
    """
    left, right = (
        max((p for p in pieces if p.side in (side, "middle")), key=lambda p: p.turn).outline_mm[3, 0]
        for side in ("left", "right")
    )
    return float(left), float(right)


def _swept_rad(rigid: RigidFit, turned: float) -> float:
    """Angle swept where the cut meets a direction from the middle, counted on from the root."""
    slot = rigid.slot
    if slot.winding is None:
        return turned
    polar = np.unwrap(np.arctan2(slot.position_mm[:, 1], slot.position_mm[:, 0]))
    return float(np.interp(turned, np.maximum.accumulate(polar) - polar[0], slot.angle_rad))


def _aslant(rigid: RigidFit, angle: float) -> float:
    """How much longer everything is along the direction from the middle than square to the turns."""
    if rigid.slot.winding is None:
        return 1.0
    at = rigid.slot.winding.at(np.array([angle]), np.array([np.interp(angle, rigid.slot.angle_rad,
                               rigid.slot.reach_mm)]))  # fmt: skip
    out = at.position_mm[0] / np.linalg.norm(at.position_mm[0])
    return float(1 / max(out @ at.normal[0], 0.1))


def _face(rigid: RigidFit, angle: float) -> tuple[float, float, float]:
    """Distance of the slot's centre line, half the slot left, and slope, at one angle swept.

    Along the direction from the middle, which is square to the turns of a round cut.
    """
    slot, faces = rigid.slot, rigid.faces
    radius = float(np.interp(angle, slot.angle_rad, slot.radius_mm))
    half = float(np.interp(angle, faces.angle_rad, faces.slot_mm)) / 2
    slope = float(np.interp(angle, slot.angle_rad, slot.slope))
    if slot.winding is not None:
        x, y = (float(np.interp(angle, slot.angle_rad, slot.position_mm[:, i])) for i in (0, 1))
        more = _aslant(rigid, angle)
        return math.hypot(x, y), half * more, slope * more
    return radius, half, slope


def _base(rigid: RigidFit, thickness: float, direction: float) -> SectionPiece:
    up = thickness / 2
    (right, r_half, r_slope), (left, l_half, l_slope) = (
        _face(rigid, _swept_rad(rigid, angle)) for angle in (direction, direction + np.pi)
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
        width = float(np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm))
        outer = inner + width * _aslant(rigid, angle)
        outer_slope = 0.0
    return np.array(
        [
            (inner - up * slope, -up),
            (outer - up * outer_slope, -up),
            (outer + up * outer_slope, up),
            (inner + up * slope, up),
        ]
    )
