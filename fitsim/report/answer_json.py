"""The answer as one JSON object: keys that carry their units and keep their meaning for good.

The closed-form keys stay what they are when better models are added beside them. The schema is
packaged as ``data/answer.schema.json`` and versioned; ``fitsim schema`` prints it.
"""

import json
import math
from typing import Any

from fitsim.bowl.changes import TriedChange
from fitsim.bowl.elastic import ElasticFit
from fitsim.bowl.fit import WOOD_VALUES_USED, BowlFit
from fitsim.bowl.verdict import SPLIT_RISK
from fitsim.quantities import finite_or_none
from fitsim.report.advised_test import advised_test
from fitsim.report.common_words import CAUTIONS
from fitsim.report.verdict_words import OUTSIDE_MODEL, model_sentence, verdict_line
from fitsim.report.why import why
from fitsim.rigidbody.check import RigidBodyCheck
from fitsim.rigidbody.settling import Settled
from fitsim.tables import packaged_text
from fitsim.version import VERSION

__all__ = [
    "SCHEMA_VERSION",
    "answer_object",
    "answer_text",
    "changes_object",
    "check_object",
    "schema_text",
]


SCHEMA_VERSION = 3
"""Raised only when a key changes its meaning or goes; new keys do not raise it."""


ELASTIC_KEYS = (
    "press_there_is_N",
    "press_needed_N",
    "press_needed_over_frictions_N",
    "press_at_friction",
    "press_asked_N",
    "press_judged_N",
    "press_tried_N",
    "collapse_N",
    "friction_used",
    "friction_used_by_turn",
    "rise_kept",
    "rise_mm",
    "rise_least_mm",
    "rise_greatest_mm",
    "rise_at_rest_mm",
    "drop_mm",
    "rim_out_of_level_mm",
    "seated_share",
    "split_chance",
    "split_chance_over_ranges",
    "split_chance_at_press",
    "split_chance_by_mode",
    "split_chance_beside",
    "split_press_one_in_ten_N",
    "falls_through_beyond_N",
    "worst_place",
    "standing_stress_over_strength",
    "nail_force_N",
    "residual_force_N",
    "residual_gap_mm",
    "work_unaccounted_share",
)
"""Keys of the elastic strip, in the order they are written."""


def answer_object(answer: BowlFit, *, units: str | None = None) -> dict[str, Any]:
    """Lay the answer out as plain lists and dictionaries.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str or None
        "in" or "mm" for lengths inside sentences; None: as in the bowl file.

    Returns
    -------
    dict
        Ready for :func:`json.dumps`; see the schema for every key.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "program_version": VERSION,
        "name": answer.bowl.name,
        **_verdict(answer, units or answer.bowl.units),
        **_elastic(answer),
        **_rigid(answer),
        **_for_the_saw(answer),
        "wood": _wood(answer),
        "assumptions": [
            {
                "key": a.key,
                "value": a.value,
                "low": a.low,
                "high": a.high,
                "mark": a.mark,
                "source": a.source,
            }
            for a in answer.bowl.assumptions
        ],
        "first_estimates": model_sentence(answer),
        "outside_model": list(OUTSIDE_MODEL),
        "left_out": [
            {
                "effect": row.name,
                "status": row.status,
                "size": row.size,
                "moves": row.moves,
                "value": finite_or_none(row.value),
                "unit": row.unit,
                "mark": row.mark,
                "source": row.source,
            }
            for row in answer.left_out
        ],
        "notes": list(answer.notes),
        "cautions": list(CAUTIONS),
    }


def _wood(answer: BowlFit) -> dict[str, Any]:
    wood = answer.bowl.board.wood
    values = {}
    for name in WOOD_VALUES_USED:
        number = getattr(wood, name)
        values[name] = {
            "value": number.value,
            "low": number.low,
            "high": number.high,
            "mark": number.mark,
            "source": number.source,
        }
    return {"name": wood.name, "moisture_percent": 12.0, "values": values}


def _verdict(answer: BowlFit, units: str) -> dict[str, Any]:
    verdict = answer.verdict
    return {
        "verdict": verdict.state,
        "verdict_at_best": verdict.state_at_best,
        "verdict_in_middle": verdict.state_in_middle,
        "verdict_depends_on": [
            {
                "input": d.name,
                "unit": d.unit,
                "low": d.low,
                "high": d.high,
                "at_low": d.state_at_low,
                "at_high": d.state_at_high,
                "changes_at": finite_or_none(d.flips_at),
                "between": d.state_between or None,
                "between_until": finite_or_none(d.until),
                "may_be": list(d.may_be),
            }
            for d in verdict.depends_on
        ],
        "verdict_told": verdict_line(answer),
        "test_that_settles": advised_test(answer, units=units),
        "why": why(answer, units=units),
        "margins": {
            m.state.replace(" ", "_"): {
                "quantity": f"{m.quantity} {m.unit}".strip().replace(" ", "_"),
                "value": finite_or_none(m.value),
                "limit": m.limit,
                "margin": finite_or_none(m.margin),
                "worst": finite_or_none(m.worst),
                "best": finite_or_none(m.best),
            }
            for m in verdict.margins
        },
    }


def _unaccounted_share(found: ElasticFit) -> float:
    """Work of the press less what is stored and lost in friction, over the greatest work done. [-]"""
    most = float(found.loop.work_Nmm.max())
    return abs(found.loop.unaccounted_Nmm) / most if most > 0 else 0.0


def _elastic(answer: BowlFit) -> dict[str, Any]:
    """What the elastic strip says; every key null where only the closed form was worked out."""
    found = answer.elastic
    if found is None:
        return {"rests_on": answer.rests_on, **dict.fromkeys(ELASTIC_KEYS)}
    opening, worst = found.opening, found.opening.stress.worst
    split = next(m for m in answer.verdict.margins if m.state == SPLIT_RISK)
    last = opening.pressed.contact
    values = (
        answer.bowl.use.press_N,
        finite_or_none(found.press_needed_N),
        finite_or_none(opening.judged.needed_N),
        finite_or_none(opening.judged.friction),
        finite_or_none(opening.judged.asked_N),
        opening.press_N,
        found.reach_N,
        finite_or_none(found.collapse_N),
        finite_or_none(opening.numbers.friction_used),
        [finite_or_none(v) for v in opening.friction_by_turn.tolist()],
        None if opening.released is None else finite_or_none(opening.released.kept),
        opening.rim.mean_mm,
        opening.rim.least_mm,
        opening.rim.greatest_mm,
        finite_or_none(found.rise_at_rest_mm),
        [finite_or_none(v) for v in opening.turns.drop_mm.tolist()],
        opening.rim.out_of_level_mm,
        opening.turns.seated.tolist(),
        opening.stress.chance,
        [finite_or_none(split.best), finite_or_none(split.worst)],
        finite_or_none(found.chance_at_press),
        {mode.replace(" ", "_"): chance for mode, chance in opening.stress.chances.items()},
        {
            "low": found.split_range.low,
            "high": found.split_range.high,
            "decides": found.split_range.decides,
        },
        finite_or_none(found.split_press_N),
        finite_or_none(found.falls_beyond_N),
        {
            "turn": worst.turn,
            "clock_deg_from_grain": math.degrees(worst.clock_rad),
            "mode": worst.mode,
            "cause": worst.cause,
            "stress": worst.stress_MPa,
            "strength": worst.strength_MPa,
            "unit": "MPa",
            "stress_over_strength": worst.ratio,
            "chance": worst.chance,
        },
        None if found.stress_at_rest is None else float(found.stress_at_rest.ratio.max()),
        found.nail_N,
        last.residual_force_N,
        last.residual_gap_mm,
        _unaccounted_share(found),
    )
    return {"rests_on": answer.rests_on, **dict(zip(ELASTIC_KEYS, values, strict=True))}


def _while_pressed(answer: BowlFit) -> bool | None:
    """Whether the open bowl's measures are those under the hand: one that does not hold has no others."""
    if answer.standing.shape is None:
        return None
    return answer.elastic is not None and not answer.standing.let_go


def _rigid(answer: BowlFit) -> dict[str, Any]:
    rigid, shape, hand = answer.rigid, answer.standing.shape, answer.rigid.shape
    return {
        "turns": rigid.slot.turns,
        "strip_turns": rigid.strip.turns,
        "seat_drop_mm": [finite_or_none(v) for v in rigid.seats.seat_drop_mm.tolist()],
        "overlap": [finite_or_none(v) for v in rigid.seats.overlap.tolist()],
        "slot_left_mm": [finite_or_none(v) for v in rigid.seats.slot_left_mm.tolist()],
        "friction_used_rigid": [finite_or_none(v) for v in rigid.friction_used],
        "collapse_over_press_rigid": finite_or_none(answer.collapse_over_press),
        "rise_rigid_mm": None if hand is None else hand.rise_mm,
        "rise_rigid_over_ranges_mm": (
            None if hand is None else [finite_or_none(v) for v in answer.rise_range_mm]
        ),
        "rise_rigid_least_mm": None if hand is None else hand.rise_least_mm,
        "rise_rigid_greatest_mm": None if hand is None else hand.rise_greatest_mm,
        "height_mm": None if shape is None else shape.height_mm,
        "height_while_pressed": _while_pressed(answer),
        "wall_slope_deg": None if shape is None else math.degrees(shape.wall_slope_rad),
        "rim_diameter_mm": None if shape is None else shape.rim_diameter_mm,
        "mouth_length_mm": None if shape is None else shape.mouth_length_mm,
        "mouth_width_mm": None if shape is None else shape.mouth_width_mm,
        "base_length_mm": None if shape is None else shape.base_length_mm,
        "base_width_mm": None if shape is None else shape.base_width_mm,
        "base_diameter_mm": None if shape is None else shape.base_diameter_mm,
        "capacity_ml": None if shape is None else shape.capacity_ml,
    }


def _for_the_saw(answer: BowlFit) -> dict[str, Any]:
    nail, blade = answer.nail, answer.least_radius
    return {
        "cut_length_mm": answer.cut_length_mm,
        "cutting_time_min": answer.cutting_time_min,
        "tightest_radius_mm": answer.rigid.slot.tightest_mm,
        "blade_least_radius_mm": None
        if blade is None
        else {"low": blade.low_mm, "high": blade.high_mm, "source": blade.source},
        "nail": {
            "least_mm": nail.least_mm,
            "greatest_mm": nail.greatest_mm,
            "stock_length_mm": nail.length_mm,
            "diameter_mm": nail.diameter_mm,
            "cut_down": nail.cut_down,
            "pilot_low_mm": nail.pilot_low_mm,
            "pilot_high_mm": nail.pilot_high_mm,
            "withdrawal_N": nail.withdrawal_N,
            "lateral_at_full_depth_N": finite_or_none(nail.lateral_N),
            "full_depth_share": nail.full_depth_share,
        },
    }


def changes_object(tried: tuple[TriedChange, ...]) -> list[dict[str, Any]]:
    """Lay changes out for the answer's key ``changes``.

    Parameters
    ----------
    tried : tuple[TriedChange, ...]
        From :func:`fitsim.bowl.changes.try_changes`.

    Returns
    -------
    list of dict
        One for each change.
    """
    return [
        {
            "change": t.name,
            "state": t.state,
            "overlap": None if t.numbers is None else finite_or_none(t.numbers.overlap),
            "friction_used": None if t.numbers is None else finite_or_none(t.numbers.friction_used),
            "split_chance": None if t.numbers is None else finite_or_none(t.numbers.split_chance),
            "rise_rigid_mm": finite_or_none(t.rise_rigid_mm),
            "trouble": t.trouble,
        }
        for t in tried
    ]


def answer_text(answer: BowlFit, extra: dict[str, Any] | None = None, *, units: str | None = None) -> str:
    """Write the answer as one JSON object.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    extra : dict or None
        Further top-level keys, such as the rigid-body check.
    units : str or None
        "in" or "mm" for lengths inside sentences; None: as in the bowl file.

    Returns
    -------
    str
        JSON without infinities.
    """
    return json.dumps({**answer_object(answer, units=units), **(extra or {})}, indent=2, allow_nan=False)


def schema_text() -> str:
    """Return the packaged JSON schema of the answer.

    Returns
    -------
    str
        JSON Schema, draft 2020-12.
    """
    return packaged_text("answer.schema.json")


def check_object(check: RigidBodyCheck) -> dict[str, Any]:
    """Lay the check out for JSON; drops and holding only where the engine came to rest.

    Parameters
    ----------
    check : RigidBodyCheck
        The check.

    Returns
    -------
    dict
        Drops (None for a turn that was not tried), what held, residuals and the engine's settings.
    """
    rest, settings = check.seats.rests[0], check.seats.settings
    drops = [finite_or_none(v) for v in check.seat_drop_mm.tolist()]
    return {
        "settled": check.seats.settled,
        "seat_drop_mm": drops if check.seats.settled else None,
        "fell_through_turns": [ring + 1 for ring in check.seats.fell_through],
        "turns_not_tried": [turn + 1 for turn in check.untried],
        "held": None if check.hold is None else _held_by_stage(check.hold),
        "greatest_speed_mm_s": finite_or_none(rest.speed_mm_s),
        "greatest_overlap_mm": finite_or_none(rest.penetration_mm),
        "last_drift_mm": finite_or_none(rest.drift_mm),
        "press_N": settings.press_N,
        "slop_mm": settings.slop_mm,
        "step_s": settings.step_s,
        "passes": settings.iterations,
        "steps": rest.steps,
        "start_offset_mm": settings.offset_mm,
        "seed": settings.seed,
    }


def _held_by_stage(hold: Settled) -> dict[str, Any]:
    """Stage by stage: true, false, or null where the stage did not settle."""
    return {rest.stage.replace(" ", "_"): rest.held for rest in hold.rests}
