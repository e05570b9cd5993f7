"""What ``fitsim explain`` does with what was typed."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fitsim.assume import demo_tables, make_bowl
from fitsim.causes import causes_of_file
from fitsim.drawn import plan_of
from fitsim.errors import InputError, Problem, escaped
from fitsim.explaindrawing import explain_figure
from fitsim.explainobject import explain_text
from fitsim.explainreport import explain_list, explain_report
from fitsim.files import PICTURE_ENDINGS, check_target, file_name
from fitsim.learned import Learned, with_learned
from fitsim.picture import write_picture
from fitsim.progress import ProgressLine
from fitsim.seen import read_observed
from fitsim.tomlfile import tables_of_file
from fitsim.whyfailed import why_failed

__all__ = ["explain_told"]


def _with_options(
    tables: dict[str, Any], seen: tuple[str, ...], measured: tuple[str, ...]
) -> dict[str, Any]:
    """The tables with what was typed beside what stands in the file; a reading typed anew counts."""
    found = dict(tables)
    if seen:
        there = found.get("seen", {})
        # What is no table, and what in it is no list, stays as it is: its reader says what is wrong.
        if isinstance(there, Mapping):
            listed = there.get("what", [])
            every = [*(listed if isinstance(listed, list) else [listed]), *seen]
            found["seen"] = {**there, "what": every}
    readings: dict[str, str] = {}
    for text in measured:
        key, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not value:
            remedy = 'write it like kerf="0.65 +- 0.05 mm"'
            raise InputError(Problem("", "--measured", repr(text), "a key and its value", remedy))
        readings[key] = value
    there = found.get("measured", {})
    if readings and isinstance(there, Mapping):
        found["measured"] = {**there, **readings}
    return found


def explain_told(file: Path | None, *, width: int = 88, **options: Any) -> str:
    """Explain a failed bowl as it was typed.

    Parameters
    ----------
    file : pathlib.Path or None
        The bowl file; None: the demonstration bowl.
    width : int
        Columns of the terminal.
    **options
        learned, seen, measured, as_list, causes_file, as_json, units, pictures, seed and replace, as on the
        command line.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    table = None if options["causes_file"] is None else causes_of_file(options["causes_file"])
    if options["as_list"]:
        return explain_list(width=width, table=table)
    for picture in options["pictures"]:
        check_target(Path(picture), replace=options["replace"], endings=PICTURE_ENDINGS)
    where = "demonstration bowl" if file is None else file_name(file)
    tables = demo_tables() if file is None else tables_of_file(file)
    tables = _with_options(tables, options["seen"], options["measured"])
    bowl = make_bowl(tables, where=where)
    learned: Learned | None = options["learned"]
    if learned is not None:
        bowl = with_learned(bowl, learned)
    observed = read_observed(tables, plan_of(bowl), where=where)
    answer = why_failed(
        bowl, observed, table=table, seed=options["seed"], progress=ProgressLine("bowls like yours pressed")
    )
    units = options["units"] or bowl.units
    for picture in options["pictures"]:
        write_picture(explain_figure(answer, units=units), picture, replace=options["replace"])
    if options["as_json"]:
        return explain_text(answer)
    return explain_report(
        answer, units=units, file="FILE" if file is None else escaped(str(file)), width=width
    )
