"""Tests in the workshop as the page takes them: readings typed or opened, and what they teach.

The sentences are those of ``fitsim testcut`` (:mod:`fitsim.report.learned_report`).
"""

import tomllib
from typing import Any

from fitsim.drawing.tests_drawing import off_cuts_figure
from fitsim.page.answers import units_of
from fitsim.page.page_words import paragraphs
from fitsim.page.state import PageState, bowl_of, pairs_of_tables
from fitsim.page.year import Progress, svg_of
from fitsim.report.learned_report import learned_report
from fitsim.report.saw_report import SCRAP_CAUTION
from fitsim.report.wording import CAUTIONS, TEST_CAUTIONS
from fitsim.saw.learned import learn
from fitsim.saw.learned_file import learned_text
from fitsim.saw.tests_file import make_tests

__all__ = ["TEST_KINDS", "tests_object", "tests_picture"]

WIDE = 100_000
"""Columns of a report that breaks no line within a paragraph."""

TEST_KINDS: dict[str, dict[str, Any]] = {
    "ring": {
        "name": "A scrap ring, pushed down until it wedges",
        "tilt": "Scale read, deg",
        "drop": "It sank",
    },
    "slot": {"name": "A slot, by feeler gauge", "width": "Width of the slot"},
    "bevel": {"name": "The tilt, by bevel gauge", "tilt": "Scale read, deg", "gauge": "Gauge read, deg"},
    "slide": {"name": "One off-cut slides on another", "angle": "Angle at which it slid, deg"},
    "break": {
        "name": "A strip broken across the grain",
        "load": "Most the scale showed, kg or lb",
        "width": "Width",
        "thickness": "Thickness",
        "span": "Between supports",
    },
    "oven": {"name": "An off-cut dried in the oven", "wet": "Weight before, g", "dry": "Weight after, g"},
    "meter": {"name": "A moisture meter", "reading": "It read, %"},
}
"""What the page asks for, by the name of its table."""


def tests_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """What the tests of a state teach.

    Parameters
    ----------
    state : PageState
        The state; its readings stand in ``tests``.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "told"; "pairs", what was learned, ready to be used on the bowl; "file", the same as a file.
    """
    bowl = bowl_of(state)
    tests = {"name": "Tests at the bench", **state.tests}
    if {"slide", "break"} & set(tests):
        board = {
            "wood": bowl.board.wood.name,
            "finish": bowl.use.finish or "none",
            **tests.get("board", {}),
        }
        tests["board"] = board
    progress("taking the readings together")
    made = make_tests(tests)
    results = learn(made)
    text = learned_text(results.learned, name=made.name, date=made.date)
    report = learned_report(results, units=units_of(state, bowl), width=WIDE)
    return {
        "told": paragraphs(report),
        "pairs": pairs_of_tables(tomllib.loads(text), under="saw"),
        "file": text,
    }


def tests_picture(state: PageState, progress: Progress) -> dict[str, Any]:
    """How to slide, break and weigh off-cuts, drawn.

    Parameters
    ----------
    state : PageState
        The state.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        "svg" and "cautions".
    """
    progress("drawing the tests")
    figure = off_cuts_figure(units=state.page.get("units", "mm"))
    return {"svg": svg_of(figure), "cautions": [SCRAP_CAUTION, *TEST_CAUTIONS, *CAUTIONS]}
