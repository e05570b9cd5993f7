"""What ``fitsim explain`` does with what was typed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.drawing.failure_drawing import explain_figure
from fitsim.drawing.picture_files import write_picture
from fitsim.errors import InputError, Problem
from fitsim.failure.causes import causes_of_file
from fitsim.failure.failed_samples import plan_of
from fitsim.failure.observations import read_observed
from fitsim.failure.why_failed import why_failed
from fitsim.files import PICTURE_ENDINGS, check_target, file_name
from fitsim.progress import ProgressLine
from fitsim.report.failure_json import explain_text
from fitsim.report.failure_report import explain_list, explain_report
from fitsim.saw.learned import Learned, with_learned
from fitsim.toml_files import tables_of_file

__all__ = ["SEED_DEFAULT", "ExplainRequest", "answer_explain"]


@dataclass(frozen=True)
class ExplainRequest:
    """What was typed after ``fitsim explain``.

    Attributes
    ----------
    learned : Learned or None
        What tests in the workshop have taught.
    learned_files : tuple[Path, ...]
        The files it was read from, as typed.
    seen : tuple[str, ...]
        What was seen, in the words of the list.
    measured : tuple[str, ...]
        What was measured, as KEY=VALUE.
    as_list : bool
        Whether only the words, keys and causes are wanted.
    causes_file : Path or None
        A table of causes of the maker's own.
    as_json : bool
        Whether one JSON object is wanted.
    units : str or None
        "in" or "mm"; None: as in the file.
    pictures : tuple[Path, ...]
        Files to draw into.
    seed : int
        Of the samples.
    replace : bool
        Whether files may be overwritten.
    """

    learned: Learned | None
    learned_files: tuple[Path, ...]
    seen: tuple[str, ...]
    measured: tuple[str, ...]
    as_list: bool
    causes_file: Path | None
    as_json: bool
    units: str | None
    pictures: tuple[Path, ...]
    seed: int
    replace: bool


SEED_DEFAULT = 0
"""Seed of the samples that is not typed."""

READ_TWICE = 'give their mean, and half of what lies between them behind it like "0.65 +- 0.05 mm"'
"""What to do with two readings of one thing."""


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
        if key in readings:
            both = f"{readings[key]!r} and {value!r}"
            raise InputError(
                Problem("", f"--measured {key}", both, "one reading of each thing", READ_TWICE)
            )
        readings[key] = value
    there = found.get("measured", {})
    if readings and isinstance(there, Mapping):
        found["measured"] = {**there, **readings}
    return found


def _as_typed(problem: Problem, asked: ExplainRequest, file: Mapping[str, Any]) -> Problem:
    """The same problem at the option, where what it is about was typed and stands in no file."""
    table, _, key = problem.key.partition(".")
    if table == "measured" and key in {text.partition("=")[0].strip() for text in asked.measured}:
        return replace(problem, where="", key=f"--measured {key}")
    # Words that are wrong are shown as they were written; two that cannot both be true are not.
    typed = problem.value in {repr(words)[:60] for words in asked.seen} or "seen" not in file
    if problem.key == "seen.what" and typed:
        return replace(problem, where="", key="--seen")
    return problem


def answer_explain(file: Path | None, *, width: int = 88, asked: ExplainRequest) -> str:
    """Explain a failed bowl as it was typed.

    Parameters
    ----------
    file : pathlib.Path or None
        The bowl file; None: the demonstration bowl.
    width : int
        Columns of the terminal.
    asked : ExplainRequest
        What was typed.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    table = None if asked.causes_file is None else causes_of_file(asked.causes_file)
    if asked.as_list and asked.as_json:
        expected = "no --json beside it: the list is for reading"
        raise InputError(Problem("", "--list", "", expected, "leave one of the two out"))
    if asked.as_list:
        return explain_list(width=width, table=table)
    for picture in asked.pictures:
        check_target(picture, replace=asked.replace, endings=PICTURE_ENDINGS)
    where = "demonstration bowl" if file is None else file_name(file)
    tables = demo_tables() if file is None else tables_of_file(file)
    in_file = tables
    tables = _with_options(tables, asked.seen, asked.measured)
    bowl = make_bowl(tables, where=where)
    if asked.learned is not None:
        bowl = with_learned(bowl, asked.learned, units=asked.units)
    try:
        observed = read_observed(tables, plan_of(bowl), where=where)
    except InputError as error:
        raise InputError(tuple(_as_typed(p, asked, in_file) for p in error.problems)) from None
    answer = why_failed(
        bowl, observed, table=table, seed=asked.seed, progress=ProgressLine("bowls like yours pressed")
    )
    units = asked.units or bowl.units
    for picture in asked.pictures:
        write_picture(explain_figure(answer, units=units), picture, replace=asked.replace)
    if asked.as_json:
        return explain_text(answer, units=units)
    return explain_report(
        answer,
        units=units,
        file="FILE" if file is None else str(file),
        typed=_typed(asked),
        width=width,
    )


def _typed(asked: ExplainRequest) -> list[tuple[str, str]]:
    """Everything that has to be typed again for the same answer about the same bowl."""
    return [
        *(("--learned", str(path)) for path in asked.learned_files),
        *([] if asked.causes_file is None else [("--causes", str(asked.causes_file))]),
        *([] if asked.units is None else [("--units", asked.units)]),
        *([] if asked.seed == SEED_DEFAULT else [("--seed", str(asked.seed))]),
        *(("--seen", words) for words in asked.seen),
        *(("--measured", text) for text in asked.measured),
    ]
