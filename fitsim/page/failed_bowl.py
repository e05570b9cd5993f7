"""The explanation of a failed bowl as the page tells it: what was seen, why, what to measure next.

The sentences are those of ``fitsim explain`` (:mod:`fitsim.report.failure_in_words`); only their setting
out is the page's own.
"""

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from fitsim.drawing.failure_drawing import explain_figure
from fitsim.failure.causes import causes_of_bytes
from fitsim.failure.failed_samples import LOOKS, plan_of
from fitsim.failure.next_measurement import NextReading
from fitsim.failure.observations import MEASURES, PLACES, SEEN_WORDS, WHENS, Measure, read_observed
from fitsim.failure.why_failed import why_failed
from fitsim.page.page_words import on_page
from fitsim.page.state import PageState, bowl_of
from fitsim.page.year import svg_of
from fitsim.report.failure_in_words import failure_in_words, readings_to_look_for, unit_word

__all__ = ["failed_object", "words_object"]


def words_object() -> dict[str, Any]:
    """Words and keys that the page offers for what was seen and measured.

    Returns
    -------
    dict
        "seen" (words with their meaning), "places", "whens" and "measures" (key, what to do, and the unit
        of a bare number: "mm" stands for the page's own, "" for a word).
    """
    measures = [[m.key, m.what, unit_word(m, units="mm")] for m in MEASURES if m.key != "drop_N"]
    return {"seen": list(SEEN_WORDS.items()), "places": PLACES, "whens": WHENS, "measures": measures}


def failed_object(state: PageState, progress: Callable[[str], None]) -> dict[str, Any]:
    """Why this bowl failed, and the next measurement to ask for.

    Parameters
    ----------
    state : PageState
        The state; what was seen and measured stands in its tables, a table of causes may be sent along.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        JSON's kinds only.

    Raises
    ------
    InputError
        One line for every problem, among them that nothing was seen or measured.
    """
    bowl = bowl_of(state)
    units = state.page.get("units", bowl.units)
    observed = read_observed(state.tables, plan_of(bowl))
    table = causes_of_bytes(state.upload, where="the table of causes") if state.upload else None
    answer = why_failed(
        bowl,
        observed,
        table=table,
        progress=lambda done, of: progress(f"pressing bowls like yours, {done} of {of}"),
    )
    progress("drawing what each cause would give")
    said = failure_in_words(answer, units=units)
    return {
        "svg": svg_of(explain_figure(answer, units=units)),
        "seen": list(said.seen),
        "measured": list(said.measured),
        "headline": on_page(said.headline),
        "warnings": [on_page(line) for line in said.warnings],
        "notes": [on_page(note) for note in bowl.notes],
        "causes": [asdict(cause) for cause in said.causes],
        "others": list(said.others),
        "planned": on_page(said.planned),
        "presses": on_page(said.presses),
        "next": [_reading(reading, units) for reading in answer.next_readings],
        "footing": on_page(said.footing),
    }


def _reading(reading: NextReading, units: str) -> dict[str, Any]:
    """One measurement: what to do, how it is written, what its readings would mean."""
    first, *more = (_asked(measure, units) for measure in (reading.measure, *reading.together))
    return {
        **first,
        "tool": reading.tool,
        "together": more,
        "settles": f"{reading.gain / max(reading.open_nats, 1e-9):.0%}",
        "bands": list(readings_to_look_for(reading, units=units)),
    }


def _asked(measure: Measure, units: str) -> dict[str, Any]:
    """One reading to ask for."""
    return {
        "key": f"measured.{measure.key}",
        "what": measure.what,
        "unit": unit_word(measure, units=units) if measure.unit else "",
        "choices": [] if measure.unit else list(LOOKS[measure.key]),
    }
