"""The year of a bowl on a terminal, as ``fitsim seasons`` prints it: the conclusion, reasons, tables."""

import io
import textwrap
from typing import TYPE_CHECKING

from fitsim.report.common_words import CAUTIONS
from fitsim.report.seasons_in_words import year_in_words
from fitsim.seasons.year import SeasonAnswer

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["seasons_report"]


def seasons_report(answer: SeasonAnswer, *, units: str, width: int = 88) -> str:
    """The answer as text.

    Parameters
    ----------
    answer : SeasonAnswer
        The answer.
    units : str
        "in" or "mm".
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print.
    """
    said = year_in_words(answer, units=units)
    lines = [f"{answer.bowl.name}, a year in: {answer.place.name}", said.headline]
    for part in (said.state, said.split, said.wobble, said.moisture):
        lines += textwrap.wrap(part, width)
    lines += ["", *_printed(said.worst, width), ""]
    lines += _printed(said.month, width)
    for title, parts in (
        ("Advice", said.advice),
        (f"Left open since {said.opened_month}", said.left_open),
        ("How it was worked out", (*said.how, *said.notes)),
    ):
        lines += ["", title]
        for part in parts:
            lines += textwrap.wrap(part, width, initial_indent="  ", subsequent_indent="  ")
    for table in (said.finish, *said.after_move, said.after_wash):
        lines += ["", *_printed(table, width)]
    lines += textwrap.wrap(said.wash, width, initial_indent="  ", subsequent_indent="  ")
    lines += ["", "What was taken for granted:"]
    for part in said.granted or ("nothing that only this answer uses",):
        lines += textwrap.wrap(part, width, initial_indent="  ", subsequent_indent="    ")
    lines += ["", *textwrap.wrap("At the saw: " + " ".join(CAUTIONS), width)]
    # A long answer scrolls its first lines away: say the conclusion again where the eye ends up.
    lines += ["", f"{answer.bowl.name}: {said.headline}"]
    return "\n".join(lines) + "\n"


def _printed(table: "Table", width: int) -> list[str]:
    from rich.console import Console

    stream = io.StringIO()
    console = Console(file=stream, width=width, highlight=False, color_system=None)
    console.print(table)
    return [line.rstrip() for line in stream.getvalue().splitlines()]
