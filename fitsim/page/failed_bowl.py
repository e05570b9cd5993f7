"""The explanation of a failed bowl as the page tells it: what was seen, why, what to measure next.

The sentences are those of ``fitsim explain`` (:mod:`fitsim.report.failure_report`); only their setting out
is the
page's own.
"""

from collections.abc import Callable
from typing import Any

from fitsim.drawing.failure_drawing import explain_figure
from fitsim.failure.causes import causes_of_bytes
from fitsim.failure.explanations import NONE_OF_THESE
from fitsim.failure.failed_samples import LOOKS, plan_of
from fitsim.failure.next_measurement import NextReading
from fitsim.failure.observations import MEASURES, PLACES, SEEN_WORDS, WHENS, Measure, read_observed
from fitsim.failure.why_failed import WhyFailed, why_failed
from fitsim.page.page_words import on_page
from fitsim.page.state import PageState, bowl_of
from fitsim.page.year import svg_of
from fitsim.report import failure_report as told_by
from fitsim.report.failure_json import cause_in_words

__all__ = ["failed_object", "words_object"]


def words_object() -> dict[str, Any]:
    """Words and keys that the page offers for what was seen and measured.

    Returns
    -------
    dict
        "seen" (words with their meaning), "places", "whens" and "measures" (key and what to do).
    """
    measures = [[m.key, m.what] for m in MEASURES if m.key != "drop_N"]
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
    return {
        "svg": svg_of(explain_figure(answer, units=units)),
        "seen": [str(s) for s in observed.seen],
        "measured": [told_by._measured_words(m, units) for m in observed.measured],
        "headline": told_by._headline(answer),
        "warnings": [on_page(line) for line in told_by._warnings(answer)],
        "causes": _causes(answer, units),
        "next": [_reading(reading, units) for reading in answer.next_readings],
        "footing": on_page(told_by._footing(answer)),
    }


def _causes(answer: WhyFailed, units: str) -> list[dict[str, Any]]:
    return [
        {
            "chance": told_by._percent(told.chance) + ("" if told.chance.reliable else " ?"),
            "words": cause_in_words(told.chance),
            "fits": "; ".join(told_by._fit_words(fit, units) for fit in told.fits),
            "remedy": ""
            if told.remedy is None or told.chance.name == NONE_OF_THESE
            else " ".join(told_by._remedy_sentences(told, told.remedy, answer, units)),
        }
        for told in answer.told
    ]


def _reading(reading: NextReading, units: str) -> dict[str, Any]:
    """One measurement: what to do, how it is written, what its readings would mean."""
    first, *more = (_asked(measure, units) for measure in (reading.measure, *reading.together))
    return {
        **first,
        "tool": reading.tool,
        "together": more,
        "settles": f"{reading.gain / max(reading.open_nats, 1e-9):.0%}",
        "bands": [
            told_by._band_words(band, reading, units) for band in told_by._clear_bands(reading.bands)
        ],
    }


def _asked(measure: Measure, units: str) -> dict[str, Any]:
    """One reading to ask for."""
    return {
        "key": f"measured.{measure.key}",
        "what": measure.what,
        "unit": told_by._unit_word(measure, units) if measure.unit else "",
        "choices": [] if measure.unit else list(LOOKS[measure.key]),
    }
