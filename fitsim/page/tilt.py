"""The tilt to set as the page tells it: the range, the best tilt, the chance there, and the picture.

The sentences are those of ``fitsim tilt`` (:mod:`fitsim.report.tilt_report`).
"""

from typing import Any

from fitsim.drawing.tilt_drawing import tilt_figure
from fitsim.page.answers import units_of
from fitsim.page.page_words import paragraphs
from fitsim.page.state import PageState, bowl_of
from fitsim.page.year import Progress, svg_of
from fitsim.processes import worker_count, worker_pool
from fitsim.report.tilt_report import tilt_object, tilt_report
from fitsim.tilt.best_tilt import tilt_answer
from fitsim.tilt.chances import on_strip

__all__ = ["tilt_told_object"]

EVERY = 8
"""How often it is told how many bowls have been pressed. [-]"""

WIDE = 100_000
"""Columns of a report that breaks no line within a paragraph."""


def tilt_told_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """Which tilt to set.

    Parameters
    ----------
    state : PageState
        The state; its tilt is not used.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        JSON's kinds only.
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

    pool = worker_pool(worker_count())
    try:
        answer = tilt_answer(bowl, on_strip(pool, each), progress=begin)
    finally:
        pool.shutdown(cancel_futures=True)
    progress("drawing the chances")
    found = tilt_object(answer)
    told = paragraphs(tilt_report(answer, units=units_of(state, bowl), width=WIDE))
    return {
        "svg": svg_of(tilt_figure(answer)),
        "told": told[1:],
        "low_deg": found["tilt_low_deg"],
        "high_deg": found["tilt_high_deg"],
        "best_deg": found["best_tilt_deg"],
    }
