"""The springy bowl: the strip of one bowl as an elastic beam on its bevels, pressed open and let go.

Puts the numbers of a bowl into the elastic strip and reads off what a maker asks: how high the rim
stands, whether the bowl holds when the press is taken away and which press that needs, what makes it
collapse, and where the wood is worst off. One *opening* is a press from the flat board to the press
available, and the press taken away; the verdict rests on its numbers.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.cut import TURN_RAD, frozen
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.grain import StripStiffness, board_stiffness, strip_stiffness
from fitsim.hold import (
    Loop,
    RimHeight,
    TurnForces,
    collapse_press_N,
    force_rise_loop,
    let_go,
    nail_force_N,
    press_needed_N,
    rim_height,
    stuck_rest,
    turn_forces,
)
from fitsim.meeting import Nail, Seats, make_nail, make_seats
from fitsim.moisture import wood_at_moisture
from fitsim.press import ElasticBowl, PressState, press, rim_load
from fitsim.rigid import RigidFit, rigid_fit
from fitsim.strength import grain_strength
from fitsim.stress import StripStress, StripWood, strip_stress
from fitsim.strip import (
    ElasticStrip,
    Section,
    deformed_shape,
    frames_in_plane,
    make_strip,
    straight_section,
)
from fitsim.torsion import torsion_stiffness_Nmm2
from fitsim.verdict import DecidingNumbers
from fitsim.wood import Wood

__all__ = ["ElasticFit", "Opening", "elastic_bowl", "elastic_fit", "elastic_numbers", "open_bowl"]

NODES_PER_TURN = 36
"""Elements in a revolution; 24, 36 and 48 give the same rim to 0.2 percent on a three-turn bowl."""

COARSER = (1.0, 2 / 3)
"""Shares of the elements tried in turn where no balance is found: other nodes meet other places."""

LEAST_STEP = 1 / 64
"""A press that needs shorter steps than this share of the usual ones is given up: our choice."""

STRENGTH_PATHS = tuple(
    f"board.wood.{name}"
    for name in ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_strength_MPa")
)
"""Inputs that no force depends on: they change the chance of splitting without another press."""

PRESS_REACH = 4.0
"""Presses up to this many times the one available are tried for the press needed."""


@dataclass(frozen=True, eq=False)
class Opening:
    """A bowl pressed open from flat, and let go.

    Attributes
    ----------
    springy : ElasticBowl
        The strip, its seats and its nail.
    path : tuple of PressState
        From the flat board to the press available, or to the state that fell through.
    rest : PressState or None
        The press taken away with every touching point stuck; None where a turn fell through.
    hold_used : numpy.ndarray
        By turn, innermost first; nan where nothing touches, infinite where a seated turn lets go of its
        neighbour, shape (turns,). [-]
    rim : RimHeight
        Under the press.
    turns : TurnForces
        Under the press, by turn.
    stress : StripStress
        In the state of the path where splitting is likeliest.
    numbers : DecidingNumbers
        What the verdict rests on.
    """

    springy: ElasticBowl
    path: tuple[PressState, ...]
    rest: PressState | None
    hold_used: Array
    rim: RimHeight
    turns: TurnForces
    stress: StripStress
    numbers: DecidingNumbers

    @property
    def pressed(self) -> PressState:
        """The last state of the path."""
        return self.path[-1]

    @property
    def fell_through(self) -> bool:
        """Whether a turn dropped out of its neighbour while the press acted."""
        return self.pressed.fell_through


@dataclass(frozen=True, eq=False)
class ElasticFit:
    """One opening, and what only a further calculation tells.

    Attributes
    ----------
    opening : Opening
        Pressed and let go.
    holds : bool
        Whether hold used is below 1 on every turn that touches.
    rise_at_rest_mm : float
        Mean rise after letting go; nan where the bowl fell through or its slipping back could not be
        followed. [mm]
    press_needed_N : float
        Least press after which it holds; infinite if none up to the reach tried. [N]
    reach_N : float
        Greatest press tried for it. [N]
    gentle_chance : float
        Chance of splitting when pressed only as hard as holding takes; nan where no press holds. [-]
    collapse_N : float
        Push on the base from below at which the first turn slips back; 0 where it does not hold. [N]
    stress_at_rest : StripStress or None
        While the bowl stands open; None where it does not hold.
    nail_N : float
        Greatest force on the nail on the way. [N]
    loop : Loop
        Press against rise, pressing and letting go.
    """

    opening: Opening
    holds: bool
    rise_at_rest_mm: float
    press_needed_N: float
    reach_N: float
    gentle_chance: float
    collapse_N: float
    stress_at_rest: StripStress | None
    nail_N: float
    loop: Loop


@dataclass(frozen=True, eq=False)
class _Pressed:
    """What does not depend on strength."""

    springy: ElasticBowl
    wood: StripWood
    path: tuple[PressState, ...]
    rest: PressState | None
    hold_used: Array


def elastic_bowl(bowl: Bowl, rigid: RigidFit, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticBowl:
    """Lay out a bowl's strip as an elastic beam with its seats and a nail driven flat.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    rigid : RigidFit
        Its closed form: the sampled curve, widths and slots are taken from it.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    ElasticBowl
        Ready for :func:`fitsim.press.press`.

    """
    return _laid_out(bowl, rigid, nodes_per_turn)[0]


def _laid_out(bowl: Bowl, rigid: RigidFit, nodes_per_turn: int) -> tuple[ElasticBowl, StripWood]:
    step = TURN_RAD / nodes_per_turn
    count = int(np.floor(float(rigid.strip.angle_rad[-1]) / step + 1e-9)) + 1
    angle: Array = step * np.arange(count, dtype=np.float64)
    slot = np.interp(angle, rigid.faces.angle_rad, rigid.faces.slot_mm)
    tilt = np.interp(angle, rigid.slot.angle_rad, rigid.slot.tilt_rad)
    outside = np.interp(angle + TURN_RAD, rigid.slot.angle_rad, rigid.slot.tilt_rad)
    # Between slots of two tilts the strip leans by their mean; that it tapers too is left out.
    lean: Array = (np.tan(tilt) + np.tan(outside)) / 2
    width = np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm)
    position = _line_mm(bowl, rigid, angle, nodes_per_turn)
    base, own = position[:nodes_per_turn], position[nodes_per_turn:]
    frame = frames_in_plane(position)
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    section = _section(bowl, own, (width[1:] + width[:-1]) / 2, thickness, (lean[1:] + lean[:-1]) / 2)
    strip = make_strip(position_mm=own, frame=frame[nodes_per_turn:], section=section)
    seats = make_seats(
        strip=strip,
        base_mm=base,
        base_frame=frame[:nodes_per_turn],
        width_mm=np.concatenate([np.full(nodes_per_turn, width[0]), width]),
        slot_mm=slot[1:],
        tilt_rad=tilt[1:],
        thickness_mm=thickness,
    )
    springy = ElasticBowl(
        strip,
        seats,
        (_nail_driven_flat(strip, seats),),
        bowl.use.friction,
        rim_load(strip, first_node=count - 1 - nodes_per_turn),
        (np.arange(1, count) - 1) // nodes_per_turn + 1,
    )
    return springy, _strip_wood(bowl, strip, width, angle, thickness, lean)


def _strip_wood(
    bowl: Bowl, strip: ElasticStrip, width: Array, angle: Array, thickness: float, lean: Array
) -> StripWood:
    tangent = strip.frame[:, :, 1]
    psi = np.arctan2(tangent[:, 1], tangent[:, 0])
    stiff = _stiffness(bowl, psi)
    return StripWood(
        width_mm=frozen(width),
        thickness_mm=thickness,
        lean=frozen(lean),
        psi_rad=frozen(psi),
        ring_angle_rad=bowl.board.ring_angle_rad,
        G_sz_MPa=frozen(stiff.G_sz_MPa),
        G_sn_MPa=frozen(stiff.G_twist_MPa),
        roll=frozen(stiff.roll),
        clock_rad=frozen(angle + bowl.cut.root_rad),
    )


def _stiffness(bowl: Bowl, psi: Array) -> StripStiffness:
    wood = wood_at_moisture(bowl.board.wood, float(np.mean(bowl.use.turn_moisture_percent)))
    board = board_stiffness(wood.orthotropic(), ring_angle_rad=bowl.board.ring_angle_rad)
    return strip_stiffness(board, psi_rad=psi)


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


def _section(bowl: Bowl, position: Array, width: Array, thickness: float, lean: Array) -> Section:
    chord = np.diff(position, axis=0)
    stiff = _stiffness(bowl, np.arctan2(chord[:, 1], chord[:, 0]))
    D = torsion_stiffness_Nmm2(
        thickness_mm=np.full_like(width, thickness),
        width_mm=width,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_twist_MPa,
    )
    return straight_section(
        width_mm=width,
        thickness_mm=thickness,
        lean=lean,
        E_s_MPa=stiff.E_s_MPa,
        G_sz_MPa=stiff.G_sz_MPa,
        G_sn_MPa=stiff.G_sn_MPa,
        D_Nmm2=D,
        roll=stiff.roll,
    )


def _nail_driven_flat(strip: ElasticStrip, seats: Seats) -> Nail:
    """A nail through the last node into the turn inside it, holding its three displacements."""
    flat = deformed_shape(strip, np.zeros((len(strip.position_mm) - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    return make_nail(
        seats, strip, flat, node=len(strip.position_mm) - 1, place=float(seats.place[-1]), held=held
    )


def open_bowl(bowl: Bowl, *, nodes_per_turn: int = NODES_PER_TURN) -> Opening:
    """Press a bowl open as hard as its maker can, and let go.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value; its press and friction are used.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    Opening
        Rise, drops, hold, stress, and the four deciding numbers.

    Raises
    ------
    NoConvergenceError
        If a load step finds no balance, however small.
    OutsideModelError
        If a slot is shut when flat.
    """
    rigid = rigid_fit(bowl)
    if rigid.numbers.slot_left_mm <= 0:
        raise OutsideModelError("a slot is shut when flat: the bowl will not open")
    done = _pressed(_only_forces(bowl), nodes_per_turn)
    last = done.path[-1]
    used = done.hold_used
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    # The first state is the flat board: no stress there.
    ways = [strip_stress(done.springy, state, done.wood, strength) for state in done.path[1:]]
    stress = max(ways, key=lambda s: s.chance)
    drops = (last if done.rest is None else done.rest).drop_mm
    numbers = DecidingNumbers(
        slot_left_mm=rigid.numbers.slot_left_mm,
        overlap=float(1 - drops.max() / done.springy.seats.thickness_mm),
        hold_used=float(np.nanmax(used)) if not np.all(np.isnan(used)) else float("inf"),
        split_chance=stress.chance,
    )
    return Opening(
        springy=done.springy,
        path=done.path,
        rest=done.rest,
        hold_used=frozen(used),
        rim=rim_height(done.springy, last),
        turns=turn_forces(done.springy, last),
        stress=stress,
        numbers=numbers,
    )


def elastic_numbers(bowl: Bowl) -> DecidingNumbers:
    """The four numbers a verdict rests on, from one opening of the elastic strip.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.

    Returns
    -------
    DecidingNumbers
        From the closed form where a slot is shut when flat: nothing can be pressed then.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    numbers = rigid_fit(bowl).numbers
    return numbers if numbers.slot_left_mm <= 0 else open_bowl(bowl).numbers


def _only_forces(bowl: Bowl) -> Bowl:
    """The bowl with everything blanked that no force depends on, so that a press is kept for reuse."""
    names = [path.rsplit(".", 1)[1] for path in STRENGTH_PATHS]
    blank = {name: replace(getattr(bowl.board.wood, name), value=1.0) for name in names}
    wood: Wood = replace(bowl.board.wood, **blank)
    board = replace(bowl.board, wood=wood)
    return replace(bowl, name="", board=board, assumptions=(), uncertain=(), notes=(), units="mm")


def _pressed(bowl: Bowl, nodes_per_turn: int) -> _Pressed:
    """Press and let go, kept for reuse; a press without a balance is not tried twice."""
    found = _pressed_or_not(bowl, nodes_per_turn)
    if isinstance(found, str):
        raise NoConvergenceError(found)
    return found


@lru_cache(maxsize=32)
def _pressed_or_not(bowl: Bowl, nodes_per_turn: int) -> _Pressed | str:
    """Where no balance is found a somewhat coarser strip is tried, then the trouble is returned."""
    trouble = ""
    for share in COARSER:
        try:
            return _pressed_at(bowl, round(share * nodes_per_turn))
        except NoConvergenceError as error:
            trouble = trouble or str(error)
    return trouble


def _pressed_at(bowl: Bowl, nodes_per_turn: int) -> _Pressed:
    springy, wood = _laid_out(bowl, rigid_fit(bowl), nodes_per_turn)
    path = press(springy, bowl.use.press_N, least_step=LEAST_STEP)
    if path[-1].fell_through:
        return _Pressed(springy, wood, path, None, np.full(int(springy.turn.max()), np.nan))
    return _Pressed(springy, wood, path, *stuck_rest(springy, path[-1]))


def elastic_fit(bowl: Bowl, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticFit:
    """Press a bowl open, let go, and find what press it needs and what makes it collapse.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    ElasticFit
        Opening and everything that goes with it.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    opening = open_bowl(bowl, nodes_per_turn=nodes_per_turn)
    springy, path, rest = opening.springy, opening.path, opening.rest
    holds = rest is not None and opening.numbers.hold_used < 1
    needed, tried = _press_needed(bowl, opening, holds)
    standing, wood = rest if holds else None, _pressed(_only_forces(bowl), nodes_per_turn).wood
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    gentle = [state for state in tried if state.press_N >= needed][:1]
    return ElasticFit(
        opening=opening,
        holds=holds,
        rise_at_rest_mm=_rise_at_rest(opening, holds),
        press_needed_N=needed,
        reach_N=tried[-1].press_N,
        gentle_chance=strip_stress(springy, gentle[0], wood, strength).chance if gentle else float("nan"),
        collapse_N=0.0
        if standing is None
        else collapse_press_N(springy, standing, reach_N=2 * bowl.use.press_N),
        stress_at_rest=None if standing is None else strip_stress(springy, standing, wood, strength),
        nail_N=max(float(np.linalg.norm(nail_force_N(springy, s), axis=1).max(initial=0.0)) for s in path),
        loop=force_rise_loop(springy, path if standing is None else (*path, standing)),
    )


def _rise_at_rest(opening: Opening, holds: bool) -> float:
    if opening.rest is None:
        return float("nan")
    if holds:
        return rim_height(opening.springy, opening.rest).mean_mm
    try:
        gone = let_go(opening.springy, opening.pressed)
    except NoConvergenceError:
        return float("nan")
    return opening.rim.mean_mm - gone.rise_lost_mm


def _press_needed(bowl: Bowl, opening: Opening, holds: bool) -> tuple[float, tuple[PressState, ...]]:
    """Least press that holds, and the states tried for it."""
    most = bowl.use.press_N
    if opening.rest is None:
        return float("inf"), opening.path
    if holds:
        return press_needed_N(opening.springy, most_N=most, path=opening.path), opening.path
    reach = PRESS_REACH * most
    try:
        path = press(opening.springy, reach, least_step=LEAST_STEP)
    except NoConvergenceError:
        return float("inf"), opening.path
    if path[-1].fell_through:
        path = path[:-1]
    return press_needed_N(opening.springy, most_N=reach, path=path), path
