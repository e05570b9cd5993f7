"""The page's slow questions, each as one plain function of the page's state.

They run in a worker process of their own (:mod:`fitsim.pagework`), so that one that is no longer wanted can
be ended at once.
"""

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem
from fitsim.fit import fit
from fitsim.layout import Handling
from fitsim.map import bowl_map
from fitsim.mapdrawing import map_figure
from fitsim.pageanswer import pressed_object, tilts_object
from fitsim.pagefailed import failed_object
from fitsim.pagestate import PageState, bowl_of
from fitsim.pageyear import Tell, svg_of, year_object
from fitsim.sheetcommand import SheetRequest, drawn_sheets
from fitsim.sweepcommand import map_in_words
from fitsim.varied import read_varied

__all__ = ["JOBS", "map_object", "sheet_request", "sheets_object"]

MAP_POINTS = 12
"""Along a side: a place takes a second, and the page's worker has one processor."""

MAP_ACROSS, MAP_UP = "tilt=2..14", "kerf=0.4..1.6 mm"


def _pressed(state: PageState, tell: Tell) -> dict[str, Any]:
    return pressed_object(state, fit(bowl_of(state), beyond=False, tell=tell))


def _tilts(state: PageState, tell: Tell) -> dict[str, Any]:
    tell("looking for the tilts at which it locks")
    return tilts_object(state)


def map_object(state: PageState, tell: Tell) -> dict[str, Any]:
    """The map around this bowl, drawn as SVG and told in words.

    Parameters
    ----------
    state : PageState
        The state; its words ``across`` and ``up`` say over what, as on the command line.
    tell : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "svg" and "words".

    Raises
    ------
    InputError
        One line for every problem.
    """
    if state.saw:
        expected = "a bowl file alone"
        remedy = "take the saw file off the page first: the map varies the bowl's own kerf and tilt"
        raise InputError(Problem("", "across", "", expected, remedy))
    bowl = bowl_of(state)
    across, up = (
        read_varied(state.page.get(word, default))
        for word, default in (("across", MAP_ACROSS), ("up", MAP_UP))
    )
    tell("pressing the first places of the map")
    found = bowl_map(
        state.tables, across=across, up=up, points=MAP_POINTS,
        progress=lambda done: tell(f"working out the map, {done} places pressed"),
    )  # fmt: skip
    tell("drawing the map")
    figure = map_figure(found, units=state.page.get("units", bowl.units))
    return {"svg": svg_of(figure), "words": map_in_words(found)}


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
        string=None,
        rigid=page.get("rigid") == "yes",
        replace=False,
    )


def sheets_object(state: PageState, tell: Tell) -> dict[str, Any]:
    """The bench sheet and the pattern as one PDF.

    Parameters
    ----------
    state : PageState
        The state.
    tell : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "pdf" (base64), "pages" and "remarks".
    """
    bowl = bowl_of(state)
    tell("drawing the pages")
    drawn = drawn_sheets(bowl, sheet_request(state), units=state.page.get("units", bowl.units), tell=tell)
    return {
        "pdf": base64.b64encode(drawn.pdf).decode("ascii"),
        "pages": drawn.count,
        "remarks": list(drawn.remarks),
    }


JOBS: dict[str, Callable[[PageState, Tell], dict[str, Any]]] = {
    "pressed": _pressed,
    "tilts": _tilts,
    "map": map_object,
    "failed": failed_object,
    "year": year_object,
    "sheets": sheets_object,
}
"""Every slow question by the name of its address."""
