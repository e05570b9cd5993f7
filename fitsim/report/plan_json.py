"""The answer of ``fitsim plan`` as one JSON object; its schema is ``fitsim/data/plan.schema.json``."""

import json
import math
from dataclasses import asdict
from typing import Any

from fitsim.plan.planned_bowls import Plan, PlannedBowl, WishMet
from fitsim.plan.trade_bounds import bounds_of, trade_bounds
from fitsim.quantities import finite_or_none
from fitsim.report.common_words import CAUTIONS
from fitsim.version import VERSION

__all__ = ["PLAN_SCHEMA_VERSION", "plan_object", "plan_text"]

PLAN_SCHEMA_VERSION = 1

UNITS = {
    "rise": "mm", "height": "mm", "mouth": "mm", "base": "mm", "volume": "ml", "wall": "", "turns": "",
    "time": "min",
}  # fmt: skip
"""Unit of each wish; a slope is its tangent, a curve a share of the rise."""


def plan_object(found: Plan) -> dict[str, Any]:
    """The answer as plain lists and dictionaries.

    Parameters
    ----------
    found : Plan
        The answer.

    Returns
    -------
    dict
        Lengths in mm, angles in degrees, volumes in ml, times in minutes; null where there is no number.
    """
    wishes, board = found.wishes, found.bowl.board
    wished: dict[str, Any] = {name: wishes.value_of(name) for name in wishes.named if name != "wall"}
    if wishes.slope is not None:
        wished["wall_slope_deg"] = math.degrees(math.atan(wishes.slope))
    if wishes.wall is not None:
        wall = wishes.wall
        wished["wall_mm"] = [
            [float(r), float(z)] for r, z in zip(wall.radius_mm, wall.height_mm, strict=True)
        ]
    bounds = bounds_of(found.bowl)
    return {
        "schema_version": PLAN_SCHEMA_VERSION,
        "program_version": VERSION,
        "name": found.bowl.name,
        "met": found.met,
        "wishes": wished,
        "wish_units": {name: UNITS[name] for name in wished if name in UNITS},
        "keep": list(wishes.keep),
        "first": list(wishes.first),
        "along": wishes.along,
        "answers": [_answer_object(a) for a in found.answers],
        "in_the_way": [reason.told("mm") for reason in found.in_the_way],
        "other_boards": [{"thicker_mm": b.thicker_mm, "wider_mm": b.wider_mm} for b in found.other_boards],
        "board": {
            "thickness_mm": board.thickness_mm,
            "across_mm": board.across_mm,
            "wood": board.wood.name,
        },
        "presses": found.presses,
        "bounds": {
            "pitch_mm": list(bounds.pitch_mm),
            "base_least_mm": 2 * bounds.base_radius_least_mm,
            "base_reason": bounds.base_reason,
            "tilt_deg": [math.degrees(t) for t in bounds.tilt_rad],
            "tilt_reasons": list(bounds.tilt_reasons),
            "turns": list(bounds.turns),
            "sources": [
                {
                    "key": b.key,
                    "value": b.value,
                    "low": b.low,
                    "high": b.high,
                    "unit": b.unit,
                    "mark": b.mark,
                    "source": b.source,
                }
                for b in trade_bounds().values()
            ],
        },
        "assumptions": [asdict(a) for a in found.bowl.assumptions],
        "cautions": list(CAUTIONS),
    }


def _answer_object(answer: PlannedBowl) -> dict[str, Any]:
    cut, bowl, pressed = answer.cut, answer.bowl, answer.pressed
    numbers, got = pressed.judged.numbers, pressed.got
    wall = answer.wall
    return {
        "meets_every_wish": answer.meets,
        "state": pressed.judged.state,
        "good_for": list(answer.good_for),
        "other_board": answer.other_board,
        "cut": {
            "tilt_deg": math.degrees(bowl.cut.scale_tilt_rad[0]),
            "true_tilt_deg": math.degrees(cut.tilt_rad),
            "pitch_mm": list(cut.pitches_mm),
            "base_mm": 2 * cut.base_radius_mm,
            "turns": got.turns,
            "thickness_mm": cut.thickness_mm,
            "across_mm": cut.across_mm,
        },
        "got": {
            "rise_mm": got.rise_mm,
            "height_mm": got.height_mm,
            "mouth_mm": finite_or_none(got.mouth_mm),
            "base_mm": got.base_mm,
            "volume_ml": finite_or_none(got.volume_ml),
            "wall_slope_deg": finite_or_none(math.degrees(math.atan(got.slope))),
            "time_min": got.time_min,
        },
        "wishes": [_wish_object(w) for w in answer.wishes],
        "wall_got_mm": [[float(r), float(z)] for r, z in pressed.line_mm],
        "wall_wanted_mm": []
        if wall is None
        else [[float(r), float(z)] for r, z in zip(wall.radius_mm, wall.height_mm, strict=True)],
        "lock_chance_cheap": answer.lock_chance,
        "overlap": numbers.overlap,
        "friction_used_at_rest": finite_or_none(numbers.friction_used),
        "split_chance": numbers.split_chance,
        "press_N": finite_or_none(pressed.judged.press_N),
        "presses": answer.presses,
    }


def _wish_object(wish: WishMet) -> dict[str, Any]:
    return {
        "name": wish.name,
        "unit": UNITS[wish.name],
        "wanted": wish.wanted,
        "got": finite_or_none(wish.got),
        "off": finite_or_none(wish.off),
        "met": wish.met,
    }


def plan_text(found: Plan) -> str:
    """The answer as JSON.

    Parameters
    ----------
    found : Plan
        The answer.

    Returns
    -------
    str
        One object.
    """
    return json.dumps(plan_object(found), indent=2, allow_nan=False)
