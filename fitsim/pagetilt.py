"""The tilt to set as the page tells it: the range, the best tilt, the chance there, and the picture.

The sentences are those of ``fitsim tilt`` (:mod:`fitsim.tiltreport`).
"""

from typing import Any

from fitsim.chance import on_strip
from fitsim.pageanswer import units_of
from fitsim.pagestate import PageState, bowl_of
from fitsim.pagewords import paragraphs
from fitsim.pageyear import Tell, svg_of
from fitsim.processes import worker_count, worker_pool
from fitsim.tilt import tilt_answer
from fitsim.tiltdrawing import tilt_figure
from fitsim.tiltreport import tilt_object, tilt_report

__all__ = ["tilt_told_object"]

EVERY = 8
"""How often it is told how many bowls have been pressed. [-]"""

WIDE = 100_000
"""Columns of a report that breaks no line within a paragraph."""


def tilt_told_object(state: PageState, tell: Tell) -> dict[str, Any]:
    """Which tilt to set.

    Parameters
    ----------
    state : PageState
        The state; its tilt is not used.
    tell : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        JSON's kinds only.
    """
    bowl = bowl_of(state)
    pressed, what = 0, ""

    def progress(doing: str) -> None:
        nonlocal what
        what = doing
        tell(doing)

    def each() -> None:
        nonlocal pressed
        pressed += 1
        if pressed % EVERY == 0:
            tell(f"{what}, {pressed} bowls pressed so far")

    pool = worker_pool(worker_count())
    try:
        answer = tilt_answer(bowl, on_strip(pool, each), progress=progress)
    finally:
        pool.shutdown(cancel_futures=True)
    tell("drawing the chances")
    found = tilt_object(answer)
    told = paragraphs(tilt_report(answer, units=units_of(state, bowl), width=WIDE))
    return {
        "svg": svg_of(tilt_figure(answer)),
        "told": told[1:],
        "low_deg": found["tilt_low_deg"],
        "high_deg": found["tilt_high_deg"],
        "best_deg": found["best_tilt_deg"],
    }
