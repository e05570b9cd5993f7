"""The section of one bowl as plain outlines in millimetres, flat and with its bevels met.

The outlines are those of the printed page (:mod:`fitsim.bowl.cross_section`). They are geometry alone:
where the turns come to rest is the strip's to say. The page draws them anew at every move of a control, and
lays the handles on them that rim, base, pitch and blade are dragged by.
"""

import math
from typing import Any

from fitsim.bowl.closed_form import RigidFit
from fitsim.bowl.cross_section import SectionPiece, board_half_mm, section_direction_rad, section_pieces
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.standing import standing_bowl
from fitsim.bowl.verdict import WILL_NOT_OPEN, happens

__all__ = ["section_object", "standing_object"]


def section_object(bowl: Bowl, rigid: RigidFit) -> dict[str, Any]:
    """Outlines of the wood, flat and with the bevels met, and where the handles lie.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    rigid : RigidFit
        Its closed form.

    Returns
    -------
    dict
        JSON's kinds only; lengths in mm, angles in degrees; x from the axis, z from the base's middle.
    """
    direction = section_direction_rad(rigid, bowl.board.outline)
    flat = section_pieces(rigid, direction_rad=direction)
    met = rigid.shape is not None and not happens(WILL_NOT_OPEN, rigid.numbers, bowl.limits)
    opened = section_pieces(rigid, standing_bowl(rigid, None), direction_rad=direction) if met else ()
    outer = flat[0].outline_mm
    return {
        "flat": [_piece(p) for p in flat],
        "met": [_piece(p) for p in opened],
        "across_mm": bowl.board.across_mm,
        "half_mm": board_half_mm(rigid, bowl.board.across_mm, direction),
        "thickness_mm": float(outer[2, 1] - outer[1, 1]),
        "base_mm": 2 * bowl.cut.base_radius_mm,
        "pitch_mm": bowl.cut.pitch_mm,
        "tilt_deg": math.degrees(bowl.cut.scale_tilt_rad[0]),
        "true_tilt_deg": math.degrees(bowl.cut.tilt_rad[0]),
        "slot_mm": float(rigid.slot.slot_mm[0]),
    }


def standing_object(answer: BowlFit) -> dict[str, Any] | None:
    """The bowl as it stands by the strip, in section.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    dict or None
        "pieces" and in "words" whether it was let go; None where no strip was pressed.
    """
    if answer.elastic is None:
        return None
    direction = section_direction_rad(answer.rigid, answer.bowl.board.outline)
    pieces = section_pieces(answer.rigid, answer.standing, direction_rad=direction)
    fell = answer.elastic.opening.fell_through
    words = (
        "as it stands, let go"
        if answer.standing.let_go
        else "where it falls through"
        if fell
        else "pressed"
    )
    return {"pieces": [_piece(p) for p in pieces], "words": words}


def _piece(piece: SectionPiece) -> dict[str, Any]:
    return {"turn": piece.turn, "corners": [round(v, 3) for v in piece.outline_mm.ravel().tolist()]}
