"""The tilt to set as the page tells it: the range, the best tilt, the chance there, and the picture.

The sentences are those of ``fitsim tilt`` (:mod:`fitsim.report.tilt_report`).
"""

from collections.abc import Callable
from typing import Any

from fitsim.drawing.tilt_drawing import tilt_figure
from fitsim.page.answers import units_of
from fitsim.page.page_words import on_page
from fitsim.page.state import PageState, bowl_of
from fitsim.page.year import svg_of
from fitsim.processes import worker_count, worker_pool
from fitsim.report.tilt_report import best_on_scale, tilt_in_words, tilt_object
from fitsim.tilt.best_tilt import TiltAnswer, tilt_answer
from fitsim.tilt.lock_chance import on_strip

__all__ = ["tilt_told_object"]

EVERY = 8
"""How often it is told how many bowls have been pressed. [-]"""


def tilt_told_object(state: PageState, progress: Callable[[Any], None]) -> dict[str, Any]:
    """Which tilt to set.

    Parameters
    ----------
    state : PageState
        The state; its tilt is not used.
    progress : callable
        Told in a few words what is being worked on, and what is ready.

    Returns
    -------
    dict
        JSON's kinds only. Where nothing locks, the same without what would open a range is told before.
    """
    bowl = bowl_of(state)
    pressed, what = 0, ""

    def begin(doing: str) -> None:
        nonlocal what
        what = doing
        progress(doing)

    def each() -> None:
        nonlocal pressed
        pressed += 1
        if pressed % EVERY == 0:
            progress(f"{what}, {pressed} bowls pressed so far")

    units = units_of(state, bowl)
    pool = worker_pool(worker_count())
    try:
        answer = tilt_answer(
            bowl,
            on_strip(pool, each),
            judge_samples=on_strip(pool, each, roughly=True),
            judge_states=on_strip(pool, each, state_alone=True),
            progress=begin,
            so_far=lambda found: progress(_told(found, units, searching=True)),
        )
    finally:
        pool.shutdown(cancel_futures=True)
    progress("drawing the chances")
    return _told(answer, units, searching=False)


def _told(answer: TiltAnswer, units: str, *, searching: bool) -> dict[str, Any]:
    """The answer as it is set out: the headline, the picture, sentences, and lists under headings."""
    found = tilt_object(answer)
    said = tilt_in_words(answer, units=units)
    opens = "What would open a range is still being looked for." if searching else said.changes
    return {
        "svg": svg_of(tilt_figure(answer)),
        "headline": on_page(said.headline),
        "told": [on_page(text) for text in (opens, *said.sentences, *said.notes) if text],
        "lists": [[title, [on_page(line) for line in lines]] for title, lines in said.lists],
        "low_deg": found["tilt_low_deg"],
        "high_deg": found["tilt_high_deg"],
        "best_deg": found["best_tilt_deg"] if answer.span is not None else None,
        "best_shown": best_on_scale(answer),
    }
