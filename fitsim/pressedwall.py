"""A planned cut pressed on the elastic strip, and what is wished for read off it."""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.blade import cutting_time_min
from fitsim.bowl import Bowl
from fitsim.cut import cut_length_mm, frozen
from fitsim.elastic import Opening, open_bowl
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.judged import Judged, judged_opening
from fitsim.plannedcut import Measures
from fitsim.pressed import PressState
from fitsim.readings import rim_height
from fitsim.rigid import RigidFit, rigid_fit
from fitsim.section import SectionPiece, section_pieces
from fitsim.shape import capacity_mm3

__all__ = ["PressedWall", "pressed_pieces", "pressed_wall"]


@dataclass(frozen=True, eq=False)
class PressedWall:
    """One planned bowl, pressed as hard as it takes and let go.

    Attributes
    ----------
    judged : Judged
        State and numbers.
    got : Measures
        What is wished for, with the bowl at rest.
    turn_radius_mm, turn_height_mm : numpy.ndarray
        Middle of each turn of the strip, and its height above the base, shape (turns,). [mm]
    turn_place : numpy.ndarray
        Where along the strip that middle lies, in turns from the root, shape (turns,). [-]
    whole : numpy.ndarray
        Whether a turn is a whole one, shape (turns,).
    height_mm, radius_mm : numpy.ndarray
        Every node of the strip at rest: height and radius, shape (n,). [mm]
    strip_turns : float
        Turns of the strip. [-]
    nodes_per_turn : int
        Nodes in a revolution.
    rigid : RigidFit
        The closed form.
    """

    judged: Judged
    got: Measures
    turn_radius_mm: Array
    turn_height_mm: Array
    turn_place: Array
    whole: BoolArray
    height_mm: Array
    radius_mm: Array
    strip_turns: float
    nodes_per_turn: int
    rigid: RigidFit


def pressed_wall(bowl: Bowl) -> PressedWall | str:
    """Press one bowl and measure it.

    Parameters
    ----------
    bowl : Bowl
        The bowl; of its ranges only the friction's moves the press.

    Returns
    -------
    PressedWall or str
        Its measures, or why there are none: the strip could not be followed, or no strip is left.
    """
    try:
        rigid = rigid_fit(bowl)
        opening = open_bowl(bowl, lowering=False)
    except (NoConvergenceError, OutsideModelError) as trouble:
        return str(trouble)
    state = opening.rest or opening.pressed
    springy = opening.springy
    at_rest, flat = state.shape.position_mm, springy.strip.position_mm
    radius, before = (np.hypot(p[:, 0], p[:, 1]) for p in (at_rest, flat))
    height = at_rest[:, 2] - flat[:, 2]
    rim = springy.load_share > 0
    wider = float(springy.load_share[rim] @ (radius - before)[rim] / springy.load_share[rim].sum())
    turns = int(springy.turn.max())
    count = np.bincount(springy.turn - 1, minlength=turns)
    place = np.arange(len(radius)) / springy.nodes_per_turn
    middle, stands, place = (
        np.bincount(springy.turn - 1, v[1:], turns) / count for v in (radius, height, place)
    )
    shape = rigid.shape
    rise = rim_height(springy, state).mean_mm
    whole = count >= springy.nodes_per_turn
    length = cut_length_mm(rigid.slot)
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    got = Measures(
        rise=rise,
        height=rise + bowl.board.thickness_mm,
        mouth=np.nan if shape is None else shape.rim_diameter_mm + 2 * wider,
        base=2 * bowl.cut.base_radius_mm,
        volume=_volume_ml(opening, state, rigid, radius - before, thickness),
        slope=_slope(middle[whole], stands[whole]),
        turns=rigid.slot.turns,
        time=cutting_time_min(length_mm=length, feed_mm_per_min=bowl.cut.feed_mm_per_min),
    )
    return PressedWall(
        judged=judged_opening(bowl, opening),
        got=got,
        turn_radius_mm=frozen(middle),
        turn_height_mm=frozen(stands),
        turn_place=frozen(place),
        whole=whole,
        height_mm=frozen(height),
        radius_mm=frozen(radius),
        strip_turns=rigid.strip.turns,
        nodes_per_turn=springy.nodes_per_turn,
        rigid=rigid,
    )


def _slope(radius: Array, height: Array) -> float:
    """Slope of the straight line nearest to the middles of the whole turns; of one turn, from the base."""
    if len(radius) < 2:
        return float(height[0] / radius[0]) if len(radius) else float("nan")
    away = radius - radius.mean()
    return float(away @ height / (away @ away))


def _volume_ml(
    opening: Opening, state: PressState, rigid: RigidFit, wider: Array, thickness_mm: float
) -> float:
    """Inside volume of the bowl as it stands, filled everywhere to the top of the strip there. [ml]"""
    step = 2 * np.pi / opening.springy.nodes_per_turn
    angle: Array = step * np.arange(len(wider), dtype=np.float64)
    drop = np.clip(np.append(0.0, state.drop_mm), 0.0, thickness_mm)
    inner = np.interp(angle, rigid.slot.angle_rad, rigid.slot.radius_mm + rigid.slot.slot_mm / 2)
    slope = np.interp(angle, rigid.slot.angle_rad, rigid.slot.slope)
    return capacity_mm3(inner + wider, angle, slope, drop, thickness_mm) / 1000


def pressed_pieces(wall: PressedWall) -> tuple[SectionPiece, ...]:
    """Section of the bowl as it stands on the strip, each piece at the height of its own place.

    Parameters
    ----------
    wall : PressedWall
        The pressed bowl.

    Returns
    -------
    tuple[SectionPiece, ...]
        Base first, then outward on the right and on the left; their roll is left out.
    """
    direction = np.pi / 2
    npt = wall.nodes_per_turn
    pieces = []
    for piece in section_pieces(wall.rigid, opened=False, direction_rad=direction):
        if piece.turn == 0:
            pieces.append(piece)
            continue
        place = piece.turn - 1 + (0.25 if piece.side == "right" else 0.75)
        stands = float(np.interp(place * npt, np.arange(len(wall.height_mm)), wall.height_mm))
        outline = piece.outline_mm + np.array([0.0, stands])
        pieces.append(SectionPiece(piece.turn, piece.side, frozen(outline)))
    return tuple(pieces)
