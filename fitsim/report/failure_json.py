"""The answer of ``fitsim explain`` as one JSON object."""

import json
import math
from typing import Any

from fitsim.bowl.verdict import WILL_NOT_OPEN
from fitsim.failure.cause_chances import CauseChance
from fitsim.failure.next_measurement import NextReading
from fitsim.failure.observations import measure_named
from fitsim.failure.remedies import NextSetting
from fitsim.failure.why_failed import ToldCause, WhyFailed
from fitsim.report.failure_in_words import cause_in_words, failure_in_words
from fitsim.version import VERSION

__all__ = ["explain_object", "explain_text"]


def _setting_object(setting: NextSetting | None) -> dict[str, Any] | None:
    if setting is None:
        return None
    return {
        "scale_tilt_deg": math.degrees(setting.scale_tilt_rad),
        "press_N": setting.press_N,
        "press_asked_for_N": setting.wanted_N if math.isfinite(setting.wanted_N) else None,
        "least_friction": setting.least_friction or None,
        "most_film_mm": setting.most_film_mm,
        "lock_chance": setting.chance,
        "hold_chance": setting.hold_chance,
        "split_chance": setting.split_chance,
        "rise_over_planned": setting.rise_share,
        "reaches_95_percent": setting.enough,
        "most_others": setting.otherwise,
    }


def _cause_object(told: CauseChance, more: ToldCause | None) -> dict[str, Any]:
    remedy = None if more is None else more.remedy
    return {
        "cause": told.name,
        "words": cause_in_words(told),
        "chance": told.chance,
        "chance_se": told.se,
        "effective_sample_size": told.weighing.weighed.size,
        "reliable": told.reliable,
        "best_fit": [] if more is None else [vars(fit) for fit in more.fits],
        "remedy": None
        if remedy is None
        else {
            "do": list(remedy.cures),
            "as_planned": _setting_object(remedy.as_planned),
            "least_change": _setting_object(remedy.cured),
            "if_it_stays": _setting_object(remedy.still_there),
            "gentler_press": _setting_object(remedy.gentler),
        },
    }


def _reading_object(reading: NextReading) -> dict[str, Any]:
    return {
        "key": reading.measure.key,
        "what": reading.measure.what,
        "unit": reading.measure.unit,
        "tool": reading.tool,
        "together_with": [{"key": m.key, "what": m.what, "unit": m.unit} for m in reading.together],
        "expected_gain_nats": reading.gain,
        "open_nats": reading.open_nats,
        "readings": [vars(band) for band in reading.bands],
    }


def explain_object(answer: WhyFailed, *, units: str) -> dict[str, Any]:
    """The answer as plain lists and dictionaries.

    Parameters
    ----------
    answer : WhyFailed
        The answer.
    units : str
        "in" or "mm": of the sentences.

    Returns
    -------
    dict
        Chances of all causes add up to 1; lengths in mm, angles in degrees. What the report says before its
        list stands there in its words: headline, warnings, notes.
    """
    e, said = answer.explanation, failure_in_words(answer, units=units)
    more = {told.chance.name: told for told in answer.told}
    readings = [_reading_object(r) for r in answer.next_readings]
    shut = e.emulator.meant is not None and e.emulator.meant.state == WILL_NOT_OPEN
    return {
        "name": answer.bowl.name,
        "program": f"fitsim {VERSION}",
        "seen": [str(s) for s in e.observed.seen],
        "measured": [{**vars(m), "unit": measure_named(m.key).unit} for m in e.observed.measured],
        "headline": said.headline,
        "warnings": list(said.warnings),
        "notes": list(answer.bowl.notes),
        "causes": [_cause_object(told, more.get(told.name)) for told in answer.every],
        "next_measurement": readings[0] if readings else None,
        "other_measurements": readings[1:],
        "contradictory": e.conflict.contradictory,
        "conflict": e.conflict.size,
        "conflict_limit": e.conflict.limit,
        "goes_least_with_the_rest": e.conflict.odd_one,
        "conflict_of_that_one": e.conflict.odd_size,
        "conflict_of_that_one_limit": e.conflict.odd_limit,
        "bare_against_the_files_film": e.conflict.against_file,
        "effective_sample_size": answer.told[0].chance.weighing.weighed.size,
        "reliable": answer.reliable,
        "bowls_pressed": e.emulator.pressed,
        "bowls_not_followed": e.emulator.not_followed,
        "planned_press_N": None if shut else e.emulator.planned.press_N,
        "planned_rise_mm": None if shut else e.emulator.planned.rise_mm,
        "emulator_error": vars(e.emulator.error),
        "seed": e.seed,
    }


def explain_text(answer: WhyFailed, *, units: str) -> str:
    """The answer as JSON.

    Parameters
    ----------
    answer : WhyFailed
        The answer.
    units : str
        "in" or "mm": of the sentences.

    Returns
    -------
    str
        One object.
    """
    return json.dumps(explain_object(answer, units=units), indent=2, allow_nan=False) + "\n"
