"""The springy bowl: the strip of one bowl as an elastic beam on its bevels, pressed open and let go.

Puts the numbers of a bowl into the elastic strip and reads off what a maker asks: how high the rim
stands under a press, whether the bowl holds when the press is taken away, and which press that needs.
The verdict does not rest on this yet; strength along the strip is still missing.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.cut import TURN_RAD, frozen
from fitsim.errors import OutsideModelError
from fitsim.fit import RigidFit
from fitsim.grain import board_stiffness, strip_stiffness
from fitsim.hold import let_go, press_needed_N, rim_height, turn_forces
from fitsim.meeting import Nail, Seats, make_nail, make_seats
from fitsim.moisture import wood_at_moisture
from fitsim.press import ElasticBowl, press, rim_load
from fitsim.strip import (
    ElasticStrip,
    Section,
    deformed_shape,
    frames_in_plane,
    make_strip,
    straight_section,
)
from fitsim.torsion import torsion_stiffness_Nmm2

__all__ = ["ElasticAnswer", "elastic_answer", "elastic_bowl"]

NODES_PER_TURN = 36
"""Elements in a revolution; 24, 36 and 48 give the same rim to 0.2 percent on a three-turn bowl."""


@dataclass(frozen=True, eq=False)
class ElasticAnswer:
    """The springy bowl under one press, and after it is let go.

    Attributes
    ----------
    press_N : float
        Press on the base. [N]
    rise_mm, rise_least_mm, rise_greatest_mm : float
        Rim over the last revolution before the nail, under the press. [mm]
    drop_mm, hold_used : numpy.ndarray
        Mean drop of each turn under the press, and friction demand over capacity of each turn when
        let go, innermost first, shape (turns,). [mm, -]
    holds : bool
        Whether every turn holds when let go.
    rise_at_rest_mm : float
        Mean rise after letting go. [mm]
    press_needed_N : float
        Least press after which it holds, up to ``press_N``; infinite if none. [N]
    residual_force_N, residual_gap_mm : float
        Worst residuals of contact in the pressed state. [N, mm]
    """

    press_N: float
    rise_mm: float
    rise_least_mm: float
    rise_greatest_mm: float
    drop_mm: Array
    hold_used: Array
    holds: bool
    rise_at_rest_mm: float
    press_needed_N: float
    residual_force_N: float
    residual_gap_mm: float


def elastic_bowl(bowl: Bowl, rigid: RigidFit, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticBowl:
    """Lay out a bowl's strip as an elastic beam with its seats and a nail driven flat.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    rigid : RigidFit
        Its rigid fit: the sampled curve, widths and slots are taken from it.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    ElasticBowl
        Ready for :func:`fitsim.press.press`.

    Raises
    ------
    OutsideModelError
        If the tilt is not the same along the whole cut, or the bevel is reversed.
    """
    tilts = rigid.slot.tilt_rad
    if float(np.ptp(tilts)) > 0 or float(tilts[0]) <= 0:
        message = "the elastic strip needs one tilt along the whole cut, leaning outward"
        raise OutsideModelError(message)
    step = TURN_RAD / nodes_per_turn
    count = int(np.floor(float(rigid.strip.angle_rad[-1]) / step + 1e-9)) + 1
    angle: Array = step * np.arange(count, dtype=np.float64)
    slot = np.interp(angle, rigid.faces.angle_rad, rigid.faces.slot_mm)
    width = np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm)
    position = _line_mm(bowl, rigid, angle, nodes_per_turn)
    base, own = position[:nodes_per_turn], position[nodes_per_turn:]
    frame = frames_in_plane(position)
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    section = _section(bowl, own, (width[1:] + width[:-1]) / 2, thickness, float(tilts[0]))
    strip = make_strip(position_mm=own, frame=frame[nodes_per_turn:], section=section)
    seats = make_seats(
        strip=strip,
        base_mm=base,
        base_frame=frame[:nodes_per_turn],
        width_mm=np.concatenate([np.full(nodes_per_turn, width[0]), width]),
        slot_mm=slot[1:],
        tilt_rad=float(tilts[0]),
        thickness_mm=thickness,
    )
    return ElasticBowl(
        strip,
        seats,
        (_nail_driven_flat(strip, seats),),
        bowl.use.friction,
        rim_load(strip, first_node=count - 1 - nodes_per_turn),
        (np.arange(1, count) - 1) // nodes_per_turn + 1,
    )


def _line_mm(bowl: Bowl, rigid: RigidFit, angle: Array, nodes_per_turn: int) -> Array:
    """The strip's centre line, carried on inward for one turn through the base, shape (m + n, 3)."""
    inward = TURN_RAD / nodes_per_turn * np.arange(-nodes_per_turn, 0)
    outside = np.interp(inward + TURN_RAD, rigid.slot.angle_rad, rigid.slot.radius_mm)
    half_slot = float(rigid.faces.slot_mm[0]) / 2
    radius = np.concatenate(
        [
            outside - half_slot - float(rigid.strip.width_mm[0]) / 2,
            np.interp(angle, rigid.strip.angle_rad, rigid.strip.radius_mm),
        ]
    )
    polar = np.concatenate([inward, angle]) + bowl.cut.root_rad
    return np.stack([radius * np.cos(polar), radius * np.sin(polar), np.zeros_like(polar)], axis=1)


def _section(bowl: Bowl, position: Array, width: Array, thickness: float, tilt: float) -> Section:
    wood = wood_at_moisture(bowl.board.wood, float(np.mean(bowl.use.turn_moisture_percent)))
    chord = np.diff(position, axis=0)
    stiff = strip_stiffness(
        board_stiffness(wood.orthotropic(), ring_angle_rad=bowl.board.ring_angle_rad),
        psi_rad=np.arctan2(chord[:, 1], chord[:, 0]),
    )
    D = torsion_stiffness_Nmm2(
        thickness_mm=np.full_like(width, thickness),
        width_mm=width,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_sn_MPa,
    )
    return straight_section(
        width_mm=width,
        thickness_mm=thickness,
        lean=float(np.tan(tilt)),
        E_s_MPa=stiff.E_s_MPa,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_sn_MPa,
        D_Nmm2=D,
    )


def _nail_driven_flat(strip: ElasticStrip, seats: Seats) -> Nail:
    """A nail through the last node into the turn inside it, holding its three displacements."""
    flat = deformed_shape(strip, np.zeros((len(strip.position_mm) - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    return make_nail(
        seats, strip, flat, node=len(strip.position_mm) - 1, place=float(seats.place[-1]), held=held
    )


def elastic_answer(bowl: Bowl, rigid: RigidFit, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticAnswer:
    """Press a bowl as hard as its maker can, let go, and read off what a maker asks.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value; its press and friction are used.
    rigid : RigidFit
        Its rigid fit.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    ElasticAnswer
        Rise, drops, hold, press needed and residuals.

    Raises
    ------
    NoConvergenceError
        If a load step finds no balance, however small.
    OutsideModelError
        If the cut has more than one tilt, or a turn falls through under the press.
    """
    springy = elastic_bowl(bowl, rigid, nodes_per_turn=nodes_per_turn)
    path = press(springy, bowl.use.press_N)
    pressed = path[-1]
    if pressed.fell_through:
        message = "a turn falls through under the press; there is no rise to report"
        raise OutsideModelError(message)
    rim, gone = rim_height(springy, pressed), let_go(springy, pressed)
    return ElasticAnswer(
        press_N=bowl.use.press_N,
        rise_mm=rim.mean_mm,
        rise_least_mm=rim.least_mm,
        rise_greatest_mm=rim.greatest_mm,
        drop_mm=frozen(turn_forces(springy, pressed).drop_mm),
        hold_used=frozen(gone.hold_used),
        holds=gone.holds,
        rise_at_rest_mm=rim.mean_mm - gone.rise_lost_mm,
        press_needed_N=press_needed_N(springy, most_N=bowl.use.press_N, path=path),
        residual_force_N=pressed.contact.residual_force_N,
        residual_gap_mm=pressed.contact.residual_gap_mm,
    )
