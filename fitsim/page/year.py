"""The year where the bowl is kept as the page tells it: wobble and splitting, week by week.

The sentences and tables are those of ``fitsim seasons`` (:mod:`fitsim.report.seasons_in_words`); only
their setting out is the page's own.
"""

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from fitsim.climate.place import read_place
from fitsim.climate.weather import epw_air
from fitsim.drawing.paper import house_style
from fitsim.drawing.seasons_drawing import seasons_figure
from fitsim.page.page_words import on_page
from fitsim.page.state import PageState, bowl_of
from fitsim.report.press_tables import rows_of
from fitsim.report.seasons_in_words import YearInWords, year_in_words
from fitsim.seasons.year import Asked, seasons

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.table import Table

__all__ = ["Progress", "svg_of", "year_object"]

Progress = Callable[[str], None]


def svg_of(figure: "Figure") -> str:
    """A drawn page as SVG text; the same figure gives the same text.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.

    Returns
    -------
    str
        SVG.
    """
    picture = io.BytesIO()
    from matplotlib import rc_context

    # Letters as outlines: a picture within the page may load no type of its own; so all look alike.
    with house_style(), rc_context({"svg.fonttype": "path"}):
        figure.savefig(picture, format="svg", metadata={"Date": None})
    return picture.getvalue().decode("utf8")


def year_object(state: PageState, progress: Progress) -> dict[str, Any]:
    """A year of this bowl where it is kept.

    Parameters
    ----------
    state : PageState
        The state; the room stands in its tables, a weather file may be sent along.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    dict
        JSON's kinds only.

    Raises
    ------
    InputError
        One line for every problem, among them that no air was given.
    OutsideModelError
        If the air lies outside the formulas for too long.
    """
    progress("working out how dry and how damp the wood gets")
    bowl, page = bowl_of(state), state.page
    weather = epw_air(state.upload, where="the weather file") if state.upload else None
    place = read_place(state.tables, where="", weather=weather, typed={})
    asked = Asked(
        stored=page.get("stored", "open"),
        opened=page.get("opened", "afresh"),
        since_month=int(page["since"]) if "since" in page else None,
    )
    answer = seasons(
        bowl, place, asked, progress=lambda done, wanted: progress(f"pressing it open, {done} of {wanted}")
    )
    progress("drawing the year")
    units = page.get("units", bowl.units)
    said = year_in_words(answer, units=units)
    return {
        "svg": svg_of(seasons_figure(answer, units=units)),
        "place": place.name,
        "sentences": [said.headline, said.state, said.moisture, said.wobble, said.split],
        "lists": _lists(said),
        "tables": _tables(said),
    }


def _tables(said: YearInWords) -> list[dict[str, Any]]:
    return [
        _table("Worst of the year", said.worst),
        _table("Month by month", said.month),
        _table("What a finish does", said.finish),
        *(_table("After a move", table) for table in said.after_move),
        _table("After a wash", said.after_wash),
    ]


def _lists(said: YearInWords) -> list[list[Any]]:
    """Headings with the sentences under them."""
    return [
        ["Advice", [on_page(line) for line in said.advice]],
        [f"Left open since {said.opened_month}", [on_page(line) for line in said.left_open]],
        ["How it was worked out", [on_page(note) for note in (*said.how, said.wash, *said.notes)]],
        ["What was taken for granted", [on_page(line) for line in said.granted]],
    ]


def _table(title: str, table: "Table") -> dict[str, Any]:
    heads = [str(column.header) for column in table.columns]
    return {"title": title, "heads": heads, "rows": rows_of(table)}
