"""The page's slow questions, each as one plain function of the page's state.

They run in a worker process of their own (:mod:`fitsim.page.workers`), so that one that is no longer wanted
can be ended at once. ``progress`` takes words for what is being worked on, or an object: a part of the
answer that is ready before the rest.
"""

import base64
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from fitsim.bowl.changes import try_changes
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import BowlFit, fit
from fitsim.bowl.inputs import Bowl
from fitsim.commands.sheet import SheetRequest, drawn_sheets
from fitsim.commands.sweep_and_map import map_in_words
from fitsim.drawing.bowl_drawing import bowl_figure
from fitsim.drawing.map_drawing import PLOT_mm, map_figure
from fitsim.drawing.paper import PAGE_HEIGHT_mm, PAGE_WIDTH_mm
from fitsim.drawing.strip_drawing import strip_figure
from fitsim.errors import FitsimError, InputError, NoConvergenceError, OutsideModelError, Problem
from fitsim.page.answers import details_object, middle_object, table_object, units_of, verdict_object
from fitsim.page.failed_bowl import failed_object
from fitsim.page.page_words import on_page
from fitsim.page.plan import want_object
from fitsim.page.ring_trial import rings_object
from fitsim.page.space import flat_space, opening_space
from fitsim.page.state import PageState, bowl_of, learned_of, read_state
from fitsim.page.tilt import tilt_told_object
from fitsim.page.workshop_tests import tests_object, tests_picture
from fitsim.page.year import Progress, svg_of, year_object
from fitsim.pattern.layout import Handling
from fitsim.processes import worker_count, worker_pool
from fitsim.report.press_tables import TRIED_IN_THE_MIDDLE, changes_table
from fitsim.sweeps.lock_map import bowl_map, share_on, value_in_bowl
from fitsim.sweeps.varied_quantities import Varied, read_axis

__all__ = ["JOBS", "map_object", "open_ahead", "sheet_request", "sheets_object", "verdict_job"]

MAP_POINTS = 12
"""Along a side: a place takes a second."""

MAP_ACROSS, MAP_UP = "tilt=2..14", "kerf=0.4..1.6 mm"


@lru_cache(maxsize=4)
def _fitted(bowl: Bowl) -> BowlFit:
    """The answer of a bowl, kept for the next question about it."""
    return fit(bowl)


def open_ahead(pairs: Sequence[tuple[str, str]]) -> None:
    """Press a bowl open before anybody asks; what is remembered of it makes the first verdict quick.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Keys and values of its address; what is wrong with it is told when it is asked about.
    """
    with suppress(FitsimError):
        bowl = bowl_of(read_state(pairs))
        if rigid_fit(bowl).numbers.slot_left_mm > 0:
            opening_space(bowl, open_bowl(bowl, lowering=False))


def verdict_job(state: PageState, progress: Callable[[Any], None]) -> dict[str, Any]:
    """The verdict on the strip; the bowl in space and the middle of the ranges are told before it.

    Parameters
    ----------
    state : PageState
        The state.
    progress : callable
        Told what is being worked on, and what is ready.

    Returns
    -------
    dict
        As :func:`fitsim.page.answers.verdict_object`.
    """
    bowl = bowl_of(state)
    units = units_of(state, bowl)
    progress("pressing the strip open")
    if rigid_fit(bowl).numbers.slot_left_mm <= 0:
        progress({"space": flat_space(bowl)})
    else:
        try:
            opening = open_bowl(bowl, lowering=False)
            progress({"middle": middle_object(bowl, opening, units)})
            progress({"space": opening_space(bowl, opening)})
        except (NoConvergenceError, OutsideModelError):
            progress({"space": {**flat_space(bowl), "end": "not followed"}})
        progress("trying the ends of what is known as a range")
    return verdict_object(_fitted(bowl), units)


def _details(state: PageState, progress: Progress) -> dict[str, Any]:
    progress("looking up where every value comes from")
    bowl = bowl_of(state)
    return details_object(_fitted(bowl), units_of(state, bowl))


def _pictures(state: PageState, progress: Progress) -> dict[str, Any]:
    """The printed pictures of the answer: the section with its margins, and the strip unrolled."""
    bowl = bowl_of(state)
    units = units_of(state, bowl)
    progress("working out the answer")
    answer = _fitted(bowl)
    progress("drawing")
    drawn = [svg_of(bowl_figure(answer, units=units))]
    if answer.elastic is not None:
        drawn.append(svg_of(strip_figure(answer, units=units)))
    return {"svgs": drawn}


def _rings(state: PageState, progress: Progress) -> dict[str, Any]:
    """Stiff rings in a general engine, beside the answer of the strip."""
    bowl = bowl_of(state)
    progress("working out the answer")
    return rings_object(_fitted(bowl), units_of(state, bowl), progress)


def _changes(state: PageState, progress: Progress) -> dict[str, Any]:
    bowl = bowl_of(state)
    progress("working out the answer")
    tried = try_changes(_fitted(bowl), progress=progress)
    return table_object(changes_table(tried, units_of(state, bowl)), TRIED_IN_THE_MIDDLE)


def map_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """The map around this bowl, drawn as SVG and told in words.

    Parameters
    ----------
    state : PageState
        The state; its words ``across`` and ``up`` say over what, ``ranges`` whether at their worst.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "svg", "words", and "axes": how a place on the picture reads, for the mark that is dragged.

    Raises
    ------
    InputError
        One line for every problem.
    """
    bowl = bowl_of(state)
    across, up = (
        _axis_asked(word, state.page.get(word, default))
        for word, default in (("across", MAP_ACROSS), ("up", MAP_UP))
    )
    progress("pressing the first places of the map")
    pool = worker_pool(worker_count())
    try:
        found = bowl_map(
            state.tables,
            across=across,
            up=up,
            points=MAP_POINTS,
            at_worst=state.page.get("ranges") == "yes",
            learned=learned_of(state),
            executor=pool,
            progress=lambda done: progress(
                f"working out the map, {done} {'place' if done == 1 else 'places'} pressed"
            ),
        )
    except InputError as error:
        beside = {"--across": "across", across.key: "across", "--up": "up", up.key: "up"}
        raise _told_beside(error, beside) from None
    finally:
        pool.shutdown(cancel_futures=True)
    progress("drawing the map")
    figure = map_figure(found, units=units_of(state, bowl))
    left, bottom, wide, high = PLOT_mm
    box = (left / PAGE_WIDTH_mm, bottom / PAGE_HEIGHT_mm, wide / PAGE_WIDTH_mm, high / PAGE_HEIGHT_mm)
    return {
        "svg": svg_of(figure),
        "words": on_page(map_in_words(found)),
        "box": box,
        "axes": [_axis(bowl, axis) for axis in (across, up)],
    }


def _axis_asked(word: str, text: str) -> Varied:
    """What one axis of the map is to be; what is wrong with it stands beside that axis.

    Its key may be a field of the bowl as well, and there nothing is wrong.
    """
    try:
        return read_axis(text)
    except InputError as error:
        raise _told_beside(error, dict.fromkeys((p.key for p in error.problems), word)) from None


def _told_beside(error: InputError, beside: Mapping[str, str]) -> InputError:
    """The same problems, each with the key of the place on the page where it is mended."""
    return InputError(tuple(replace(p, key=beside.get(p.key, p.key)) for p in error.problems))


def _axis(bowl: Bowl, axis: Varied) -> dict[str, Any]:
    low, high = (float(end) for end in axis.ends or (0, 1))
    own = value_in_bowl(bowl, axis)
    share = None if own is None else share_on(axis, own[1])
    return {"key": axis.key, "name": axis.name, "unit": axis.unit, "low": low, "high": high, "own": share}


def sheet_request(state: PageState) -> SheetRequest:
    """What the page asks of the bench sheet and the pattern.

    Parameters
    ----------
    state : PageState
        The state with the page's own words.

    Returns
    -------
    SheetRequest
        Its files are not written by anyone.

    Raises
    ------
    InputError
        If the copies are no number from 1 to 50.
    """
    page = state.page
    text = page.get("copies", "1")
    if not (text.isascii() and text.isdigit() and len(text) <= 2 and 1 <= int(text) <= 50):
        expected = "a number from 1 to 50"
        raise InputError(
            Problem("", "copies", repr(text[:40]), expected, "write how many copies of the pattern")
        )
    units = page.get("units", "mm")
    return SheetRequest(
        out=Path("bowl-sheet.pdf"),
        line=None,
        paper=page.get("paper") or ("letter" if units == "in" else "a4"),
        copies=int(text),
        handling=Handling(middle=page.get("middle", "lowered"), lowered=page.get("lowered", "right")),
        string=page.get("string"),
        rigid=False,
        replace=False,
    )


def sheets_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """The bench sheet and the pattern as one PDF.

    Parameters
    ----------
    state : PageState
        The state.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "pdf" (base64), "pages", "remarks" and "verdict".
    """
    bowl = bowl_of(state)
    progress("drawing the pages")
    drawn = drawn_sheets(bowl, sheet_request(state), units=units_of(state, bowl), progress=progress)
    return {
        "pdf": base64.b64encode(drawn.pdf).decode("ascii"),
        "pages": drawn.count,
        "remarks": [on_page(remark) for remark in drawn.remarks],
        "verdict": drawn.verdict,
    }


JOBS: dict[str, Callable[[PageState, Callable[[Any], None]], dict[str, Any]]] = {
    "verdict": verdict_job,
    "details": _details,
    "pictures": _pictures,
    "changes": _changes,
    "rings": _rings,
    "tilt": tilt_told_object,
    "map": map_object,
    "failed": failed_object,
    "year": year_object,
    "sheets": sheets_object,
    "want": want_object,
    "tests": tests_object,
    "testing": tests_picture,
}
"""Every slow question by the name of its address."""
