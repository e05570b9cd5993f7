"""The rings tried in the rigid-body model as the page tells it: drops, holding, and the bowl opening.

The sentences and the table are those of ``fitsim fit --check``, the picture that of ``--moving-picture``.
"""

import base64
from typing import Any

from fitsim.bowl.fit import BowlFit
from fitsim.commands.fit import least_friction
from fitsim.drawing.picture_files import drawn_moving
from fitsim.page.answers import table_object
from fitsim.page.page_words import on_page
from fitsim.page.year import Progress
from fitsim.report.terminal import check_sentences, turn_table
from fitsim.rigidbody.check import rigid_body_check

__all__ = ["rings_object"]


def rings_object(answer: BowlFit, units: str, progress: Progress) -> dict[str, Any]:
    """The independent check of stiff rings, and the bowl opening in it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".
    progress : callable
        Told in a few words what is being tried.

    Returns
    -------
    dict
        "told", and where there was something to press "table", "gif" and "still" (base64).
    """
    if answer.rigid.numbers.slot_left_mm <= 0:
        return {
            "told": "A slot is closed when flat: there is nothing to press.",
            "table": None,
            "gif": None,
        }
    checked = rigid_body_check(
        answer.rigid,
        friction=least_friction(answer.bowl),
        press_N=answer.press_N,
        record=True,
        progress=progress,
    )
    progress("drawing the bowl opening")
    drawn = drawn_moving(checked.seats.frames, units=units) if checked.seats.frames else None
    return {
        "told": on_page(check_sentences(checked, units)[0]),
        "table": table_object(turn_table(answer, units, checked)),
        "gif": None if drawn is None else base64.b64encode(drawn.gif).decode("ascii"),
        "still": None if drawn is None else base64.b64encode(drawn.still).decode("ascii"),
    }
