"""Tests in the workshop as the page takes them: readings typed or opened, and what they teach.

The sentences are those of ``fitsim testcut`` (:mod:`fitsim.report.learned_report`).
"""

import tomllib
from typing import Any

from fitsim.assumption import Assumption
from fitsim.drawing.tests_drawing import off_cuts_figure, off_cuts_steps
from fitsim.page.answers import units_of
from fitsim.page.page_words import paragraphs
from fitsim.page.state import PageState, bowl_of, pairs_of_tables
from fitsim.page.year import Progress, svg_of
from fitsim.report.common_words import CAUTIONS, TEST_CAUTIONS, taken_as
from fitsim.report.learned_report import learned_report
from fitsim.report.saw_report import SCRAP_CAUTION
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
        "name": "A test strip broken across the grain",
        "load": "Most the scale showed, kg or lb",
        "width": "Width",
        "thickness": "Thickness",
        "span": "Between supports",
    },
    "oven": {"name": "An off-cut dried in the oven", "wet": "Weight before, g", "dry": "Weight after, g"},
    "meter": {"name": "A moisture meter", "reading": "It read, %"},
}
"""What the page asks for, by the name of its table."""

GRANTED = {
    "ring.within": "how well a drop is read",
    "slot.within": "how well a slot is read",
    "bevel.within": "how well the bevel gauge is read",
    "slide.within": "how well the angle of sliding is read",
    "break.within": "how well the greatest load is read",
    "break.size_within": "how well a test strip is measured",
    "oven.within": "how well a piece is weighed",
    "meter.within": "how true the moisture meter is",
    "saw.scale_within": "how far the table's scale may be off",
    "saw.kerf_limits": "kerf before the tests, between",
    "saw.kerf_varies": "kerf from cut to cut",
    "saw.tilt_repeats": "tilt from one setting to the next",
    "friction.varies": "friction from slide to slide",
    "friction.stands_for": "how far off-cuts stand for the bowl",
    "friction.believed": "friction before the tests, between",
    "strength.common": "what all test strips share",
    "strength.handbook_within": "how far a board is off the handbook's mean",
    "strength.moisture_within": "how well the test strips' moisture is known",
    "moisture.varies": "moisture from piece to piece",
}
"""What is taken for granted where a reading does not say, by its key in a file of tests."""


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
        "told"; "granted", a table or None; "cautions"; "pairs", what was learned, ready to be used on the
        bowl; "file", the same as a file.
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
    units = units_of(state, bowl)
    granted = (*made.assumptions, *(() if made.cuts is None else made.cuts.assumptions))
    cautions = ([SCRAP_CAUTION] if made.cuts is not None else []) + (
        [*TEST_CAUTIONS] if results.friction or results.strength or results.moisture else []
    )
    return {
        "told": _sentences(learned_report(results, units=units, width=WIDE), granted),
        "granted": _granted_table(granted, units) if granted else None,
        "cautions": [*cautions, *CAUTIONS],
        "pairs": pairs_of_tables(tomllib.loads(text), under="saw"),
        "file": text,
    }


def _sentences(report: str, granted: tuple[Assumption, ...]) -> list[Any]:
    """Sentences and tables of a report without what the page sets out itself: name, granted, cautions."""
    lines = report.splitlines()
    apart = ("Taken for granted", "At the saw:", "At the tests:", *(f"  {a.key} " for a in granted))
    kept = (line for line in lines if line != lines[0] and not line.startswith(apart))
    return paragraphs("\n".join(kept))


def _granted_table(granted: tuple[Assumption, ...], units: str) -> dict[str, Any]:
    rows = []
    for a in dict.fromkeys(granted):
        mark = "an estimate: " if a.mark == "estimated" else ""
        rows.append(
            [
                GRANTED.get(a.key, a.key.replace(".", ", ").replace("_", " ")),
                taken_as(a, units=units),
                mark + a.source,
            ]
        )
    heads = ["Taken for granted, because it was not read", "taken as", "where that comes from"]
    return {"title": heads[0], "heads": heads, "rows": rows}


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
        "svg", "steps" (each test's name and its lines) and "cautions".
    """
    progress("drawing the tests")
    units = state.page.get("units", "mm")
    steps = [[title, list(lines)] for title, lines in off_cuts_steps(units=units, typed=True)]
    figure = off_cuts_figure(units=units, typed=True)
    return {"svg": svg_of(figure), "steps": steps, "cautions": [SCRAP_CAUTION, *TEST_CAUTIONS, *CAUTIONS]}
