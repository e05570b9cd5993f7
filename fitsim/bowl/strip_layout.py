"""A bowl's strip laid out as an elastic beam: its line, sections and wood, its seats and its nail.

The sampled curve, widths and slots are the closed form's; here they are put on even nodes round the turns.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray, frozen
from fitsim.bowl.closed_form import RigidFit, SlotInputs, rigid_fit_of, slot_inputs
from fitsim.bowl.inputs import BowlPhysics
from fitsim.quantities import TURN_RAD
from fitsim.strip.beam import (
    ElasticStrip,
    Section,
    deformed_shape,
    frames_in_plane,
    make_strip,
    straight_section,
)
from fitsim.strip.curved_bar import CurvedBar
from fitsim.strip.gap import Seats, make_seats
from fitsim.strip.nail_tie import Nail, make_nail
from fitsim.strip.press import ElasticBowl, rim_load
from fitsim.strip.root import twisting_share, warping_stress
from fitsim.strip.stress import StripWood
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.wood.grain import (
    Orthotropic,
    StripStiffness,
    board_stiffness,
    strip_compliance,
    strip_stiffness,
)
from fitsim.wood.moisture import wood_at_moisture

UNEVEN_NODES = 1.5
"""Times as many elements a revolution where the line bends unevenly, for its corners: half as many again
move the press a bowl needs by 5 to 15 percent, as on a round one, and the chance of splitting by
a tenth."""

UNEVEN_SPLINES, UNEVEN_SPLINES_PER_POINT = 24, 2 / 3
"""Least splines a revolution there, and to a point where the points are refined: with the 12 that serve
circles 5 to 10 percent of the work were not accounted for without friction, with 24 it is 1 to 2 (0.5 on a
round bowl)."""

__all__ = [
    "NODES_PER_TURN",
    "ForceInputs",
    "elastic_bowl",
    "force_inputs",
    "laid_out",
    "laid_out_as",
    "laid_out_from",
]

NODES_PER_TURN = 24
"""Elements in a revolution; 24, 36 and 72 give the same rim to 0.2 percent from six to thirteen turns."""

ROOT_REACH, ROOT_STEP = 4.0, 0.25
"""Within so many widths of the root sections lie closer than this share of the width: the warping held
there dies out within one or two. Half as close moves no chance by more than 2 percent."""


@dataclass(frozen=True)
class ForceInputs:
    """What the forces in a pressed bowl follow from: no strength, and not the press there is.

    Presses are kept by it: bowls of equal inputs share one.

    Attributes
    ----------
    slot : SlotInputs
        What the faces of the slot hang on.
    wood : Orthotropic
        Elastic constants at the turns' mean moisture.
    friction : float
        Between bevels. [-]
    """

    slot: SlotInputs
    wood: Orthotropic
    friction: float


def force_inputs(bowl: BowlPhysics) -> ForceInputs:
    """What the forces in a bowl follow from.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl, every input at one value.

    Returns
    -------
    ForceInputs
        Equal for bowls whose every force is the same under the same press.

    Raises
    ------
    OutsideModelError
        If moisture lies outside the formulas.
    """
    wood = wood_at_moisture(bowl.board.wood, float(np.mean(bowl.use.turn_moisture_percent)))
    return ForceInputs(slot_inputs(bowl), wood.orthotropic(), bowl.use.friction)


def elastic_bowl(
    bowl: BowlPhysics, rigid: RigidFit, *, nodes_per_turn: int = NODES_PER_TURN
) -> ElasticBowl:
    """Lay out a bowl's strip as an elastic beam with its seats and a nail driven flat.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl, every input at one value.
    rigid : RigidFit
        Its closed form: the sampled curve, widths and slots are taken from it.
    nodes_per_turn : int
        Elements in a revolution; :data:`UNEVEN_NODES` times as many where the line bends unevenly.

    Returns
    -------
    ElasticBowl
        Ready for :func:`fitsim.strip.press.press`.

    """
    return laid_out(bowl, rigid, nodes_per_turn)[0]


def laid_out(bowl: BowlPhysics, rigid: RigidFit, nodes_per_turn: int) -> tuple[ElasticBowl, StripWood]:
    """Lay out the strip as :func:`elastic_bowl` does, with what its stresses need to know of the wood.

    Parameters
    ----------
    bowl, rigid, nodes_per_turn : BowlPhysics, RigidFit, int
        As for :func:`elastic_bowl`.

    Returns
    -------
    tuple[ElasticBowl, StripWood]
        Ready to press, and for :func:`fitsim.strip.stress.strip_stress`.
    """
    return _laid_out(force_inputs(bowl), rigid, _nodes(rigid, nodes_per_turn))


def laid_out_from(inputs: ForceInputs, nodes_per_turn: int) -> tuple[ElasticBowl, StripWood]:
    """Lay out the strip as :func:`laid_out` does, from what its forces follow from and nothing else.

    Parameters
    ----------
    inputs : ForceInputs
        Of the bowl.
    nodes_per_turn : int
        As for :func:`elastic_bowl`.

    Returns
    -------
    tuple[ElasticBowl, StripWood]
        As :func:`laid_out`.
    """
    rigid = rigid_fit_of(inputs.slot, inputs.friction)
    return _laid_out(inputs, rigid, _nodes(rigid, nodes_per_turn))


def laid_out_as(bowl: BowlPhysics, rigid: RigidFit, before: ElasticBowl) -> tuple[ElasticBowl, StripWood]:
    """Lay out the strip node by node as it was laid out before, for the same cut at other moistures.

    Parameters
    ----------
    bowl, rigid : BowlPhysics, RigidFit
        As for :func:`elastic_bowl`.
    before : ElasticBowl
        The strip of the same cut as it was.

    Returns
    -------
    tuple[ElasticBowl, StripWood]
        As :func:`laid_out`.
    """
    return _laid_out(force_inputs(bowl), rigid, before.nodes_per_turn)


def _uneven(rigid: RigidFit) -> bool:
    """Whether its line bends unevenly, turns being no circles."""
    return rigid.slot.winding is not None and not rigid.slot.winding.even


def _nodes(rigid: RigidFit, nodes_per_turn: int) -> int:
    """Elements in a revolution of this line."""
    return round((UNEVEN_NODES if _uneven(rigid) else 1) * nodes_per_turn)


def _laid_out(inputs: ForceInputs, rigid: RigidFit, nodes_per_turn: int) -> tuple[ElasticBowl, StripWood]:
    splines = max(UNEVEN_SPLINES, round(UNEVEN_SPLINES_PER_POINT * nodes_per_turn))
    step = TURN_RAD / nodes_per_turn
    count = int(np.floor(float(rigid.strip.angle_rad[-1]) / step + 1e-9)) + 1
    angle: Array = step * np.arange(count, dtype=np.float64)
    slot = np.interp(angle, rigid.faces.angle_rad, rigid.faces.slot_mm)
    tilt = np.interp(angle, rigid.slot.angle_rad, rigid.slot.tilt_rad)
    outside = np.interp(angle + TURN_RAD, rigid.slot.angle_rad, rigid.slot.tilt_rad)
    # Between slots of two tilts the strip leans by their mean; that it tapers too is left out.
    lean: Array = (np.tan(tilt) + np.tan(outside)) / 2
    width = np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm)
    position = _line_mm(inputs.slot.cut.root_rad, rigid, angle, nodes_per_turn)
    base, own = position[:nodes_per_turn], position[nodes_per_turn:]
    frame = _frames(rigid, angle, position)
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    middle_width, middle_lean = (width[1:] + width[:-1]) / 2, (lean[1:] + lean[:-1]) / 2
    section = _section(inputs, own, middle_width, thickness, middle_lean)
    strip = make_strip(position_mm=own, frame=frame[nodes_per_turn:], section=section)
    seats = make_seats(
        strip=strip,
        base_mm=base,
        base_frame=frame[:nodes_per_turn],
        width_mm=np.concatenate([np.full(nodes_per_turn, width[0]), width]),
        slot_mm=slot[1:],
        tilt_rad=_bevel_rad(rigid, angle[1:]),
        thickness_mm=thickness,
        place=_opposite(rigid, count),
    )
    elastic = ElasticBowl(
        strip,
        seats,
        (_nail_driven_flat(strip, seats),),
        inputs.friction,
        rim_load(strip, first_node=count - 1 - nodes_per_turn),
        (np.arange(1, count) - 1) // nodes_per_turn + 1,
        splines_per_turn=min(splines, nodes_per_turn) if _uneven(rigid) else None,
    )
    bend = _bend_per_mm(rigid, angle, strip)
    return elastic, _strip_wood(inputs, strip, middle_width, thickness, middle_lean, curvature_per_mm=bend)


def _bevel_rad(rigid: RigidFit, angle: Array) -> Array:
    """Bevels of the slot as swollen; where its two faces have swollen apart their mean, shape (k,)."""
    slope = (rigid.faces.inner_slope + rigid.faces.outer_slope) / 2
    return np.asarray(np.arctan(np.interp(angle, rigid.faces.angle_rad, slope)))


def _strip_wood(
    inputs: ForceInputs,
    strip: ElasticStrip,
    width_mm: Array,
    thickness_mm: float,
    lean: Array,
    *,
    curvature_per_mm: Array | None,
) -> StripWood:
    """What the stresses of a laid-out strip need to know of its sections and its wood.

    Widths and the shift of the sections' middles per millimetre of height stand at the middles of the
    elements; curvatures are those of circles about the centre where none are given.
    """
    chord = np.diff(strip.position_mm, axis=0)
    middle = (strip.position_mm[1:] + strip.position_mm[:-1]) / 2
    element, offset = _sections(strip.arc_mm, min(float(width_mm[0]), thickness_mm))
    # The cuts wind about the centre; where the board's edge trims the strip its middle line has kinks.
    # An arc's middle lies arc^2 / 8 r beyond its chord's.
    apothem = np.hypot(middle[:, 0], middle[:, 1])
    bend = 1 / (apothem + strip.arc_mm**2 / (8 * apothem)) if curvature_per_mm is None else curvature_per_mm
    curvature = bend[element]
    psi = np.arctan2(chord[:, 1], chord[:, 0])[element] + offset * curvature
    clock = np.unwrap(np.arctan2(middle[:, 1], middle[:, 0]))
    clock += TURN_RAD * np.round((inputs.slot.cut.root_rad - clock[0]) / TURN_RAD)
    ring_angle = inputs.slot.ring_angle_rad
    bar = CurvedBar(
        width_mm=frozen(width_mm[element]),
        thickness_mm=thickness_mm,
        lean=frozen(lean[element]),
        curvature_per_mm=frozen(curvature),
        compliance_per_MPa=frozen(strip_compliance(inputs.wood, ring_angle_rad=ring_angle, psi_rad=psi)),
        flat=bool(np.median(width_mm) > thickness_mm),
    )
    return StripWood(
        bar=bar,
        element=element,
        offset_mm=frozen(offset),
        length_mm=frozen((strip.arc_mm / np.bincount(element))[element]),
        psi_rad=frozen(psi),
        ring_angle_rad=ring_angle,
        clock_rad=frozen(clock[element] + offset * curvature),
    )


def _sections(arc_mm: Array, unit_mm: float) -> tuple[IntArray, Array]:
    """Sections to look at: the element of each, and how far beyond its middle it lies. [mm]"""
    begins = np.cumsum(arc_mm) - arc_mm
    near = begins < ROOT_REACH * unit_mm
    pieces = np.where(near, np.ceil(arc_mm / (ROOT_STEP * unit_mm)), 1).astype(np.int64)
    element = np.repeat(np.arange(len(arc_mm)), pieces)
    within = np.arange(len(element)) - (np.cumsum(pieces) - pieces)[element]
    return element, arc_mm[element] * ((within + 0.5) / pieces[element] - 0.5)


def _stiffness(inputs: ForceInputs, psi: Array) -> StripStiffness:
    board = board_stiffness(inputs.wood, ring_angle_rad=inputs.slot.ring_angle_rad)
    return strip_stiffness(board, psi_rad=psi)


def _line_mm(root_rad: float, rigid: RigidFit, angle: Array, nodes_per_turn: int) -> Array:
    """The strip's centre line, carried on inward for one turn through the base, shape (m + n, 3)."""
    inward: Array = TURN_RAD / nodes_per_turn * np.arange(-nodes_per_turn, 0, dtype=np.float64)
    if rigid.slot.winding is not None:
        swept = np.concatenate([inward, angle])
        at = rigid.slot.winding.at(swept, _reach_mm(rigid, inward, angle)).position_mm
        return np.concatenate([at, np.zeros((len(at), 1))], axis=1)
    outside = np.interp(inward + TURN_RAD, rigid.slot.angle_rad, rigid.slot.radius_mm)
    half_slot = float(rigid.faces.slot_mm[0]) / 2
    radius = np.concatenate(
        [
            outside - half_slot - float(rigid.strip.width_mm[0]) / 2,
            np.interp(angle, rigid.strip.angle_rad, rigid.strip.radius_mm),
        ]
    )
    polar = np.concatenate([inward, angle]) + root_rad
    return np.stack([radius * np.cos(polar), radius * np.sin(polar), np.zeros_like(polar)], axis=1)


def _reach_mm(rigid: RigidFit, inward: Array, angle: Array) -> Array:
    """Reach of the strip's centre line from the base's line, negative where it goes on inside."""
    outside = np.interp(inward + TURN_RAD, rigid.slot.angle_rad, rigid.slot.reach_mm)
    half = float(rigid.faces.slot_mm[0]) / 2 + float(rigid.strip.width_mm[0]) / 2
    own = np.interp(angle, rigid.strip.angle_rad, rigid.strip.reach_mm)
    return np.asarray(np.concatenate([outside - half, own]))


def _frames(rigid: RigidFit, angle: Array, position: Array) -> Array:
    """Axes n, t, b at the nodes of base and strip, columns of (m + n, 3, 3).

    Circles through three nodes serve where all turns are circles; elsewhere nodes lie unevenly, and the
    direction is that of the lines themselves with the lean of their winding.
    """
    wound = rigid.slot.winding
    if wound is None or wound.even:
        return frames_in_plane(position)
    inward = len(position) - len(angle)
    before: Array = TURN_RAD / inward * np.arange(-inward, 0, dtype=np.float64)
    swept = np.concatenate([before, angle])
    reach = _reach_mm(rigid, before, angle)
    at = wound.at(swept, reach)
    t = np.zeros_like(position)
    t[:, :2] = at.onward_mm(at.growth_mm(reach, np.gradient(reach, swept)))
    t /= np.linalg.norm(t, axis=1)[:, None]
    b = np.broadcast_to([0.0, 0.0, 1.0], t.shape)
    return np.stack([np.cross(t, b), t, b], axis=2)


def _opposite(rigid: RigidFit, count: int) -> Array | None:
    """What every node but the root faces, counted in nodes from the first of the base: one turn back."""
    wound = rigid.slot.winding
    return None if wound is None or wound.even else np.arange(1, count, dtype=np.float64)


def _bend_per_mm(rigid: RigidFit, angle: Array, strip: ElasticStrip) -> Array | None:
    """Curvature of the line in each element, shape (e,); None where all turns are circles. [1/mm]"""
    wound = rigid.slot.winding
    if wound is None or wound.even:
        return None
    return np.asarray(np.diff(wound.heading_rad(angle)) / strip.arc_mm)


def _section(inputs: ForceInputs, position: Array, width: Array, thickness: float, lean: Array) -> Section:
    chord = np.diff(position, axis=0)
    stiff = _stiffness(inputs, np.arctan2(chord[:, 1], chord[:, 0]))
    D = torsion_stiffness_Nmm2(
        thickness_mm=np.full_like(width, thickness),
        width_mm=width,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_twist_MPa,
    )
    # The base keeps the root's section plane: the strip twists as if it began a little later.
    root = warping_stress(
        thickness_mm=thickness,
        width_mm=float(width[0]),
        E_s_MPa=float(stiff.E_s_MPa[0]),
        G_sz_MPa=float(stiff.G_sz_MPa[0]),
        G_sn_MPa=float(stiff.G_twist_MPa[0]),
        twist_rad_per_mm=0.0,
    )
    D = D / twisting_share(np.linalg.norm(chord, axis=1), root)
    return straight_section(
        width_mm=width,
        thickness_mm=thickness,
        lean=lean,
        E_s_MPa=stiff.E_s_MPa,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_sn_MPa,
        D_Nmm2=D,
        twist_per_bend=stiff.twist_per_bend,
    )


def _nail_driven_flat(strip: ElasticStrip, seats: Seats) -> Nail:
    """A nail through the last node into the turn inside it, holding its three displacements."""
    flat = deformed_shape(strip, np.zeros((len(strip.position_mm) - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    return make_nail(
        seats, strip, flat, node=len(strip.position_mm) - 1, place=float(seats.place[-1]), held=held
    )
