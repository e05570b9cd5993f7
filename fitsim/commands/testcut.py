"""What ``fitsim testcut`` does with what was typed: a file to start from, a drawing, or what tests say."""

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fitsim.errors import InputError, Problem
from fitsim.files import PICTURE_ENDINGS, check_target, file_name, write_whole
from fitsim.report.common_words import CAUTIONS, TEST_CAUTIONS
from fitsim.report.learned_report import learned_object_text, learned_report
from fitsim.report.saw_report import SCRAP_CAUTION
from fitsim.saw.learned import learn
from fitsim.saw.learned_file import learned_text
from fitsim.saw.tests_file import read_tests
from fitsim.tables import packaged_text

__all__ = ["TestcutRequest", "answer_testcut"]


@dataclass(frozen=True)
class TestcutRequest:
    """What was typed after ``fitsim testcut``.

    Attributes
    ----------
    new : bool
        Write a commented file to start from.
    drawings : tuple of Path
        Files to draw the tests into.
    keep : Path or None
        Where to keep what was learned.
    tilts_rad : tuple of float
        Settings of the scale whose drop is to be predicted. [rad]
    as_json : bool
        One JSON object in place of the report.
    units : str or None
        "in" or "mm"; None: as in the file.
    replace : bool
        Files may be overwritten.
    """

    new: bool = False
    drawings: tuple[Path, ...] = ()
    keep: Path | None = None
    tilts_rad: tuple[float, ...] = ()
    as_json: bool = False
    units: str | None = None
    replace: bool = False


def answer_testcut(
    file: Path | None, asked: TestcutRequest, *, width: int, remark: Callable[[str], None]
) -> str:
    """Learn from the tests in a file, write a file to start from, or draw how to do the tests.

    Parameters
    ----------
    file : Path or None
        The tests; None where only a drawing is wanted.
    asked : TestcutRequest
        What was typed.
    width : int
        Of the report. [characters]
    remark : callable
        Called with a line for each file kept.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        If the file is not right, or readings contradict each other.
    """
    keep, tilts_rad = asked.keep, asked.tilts_rad
    for drawing in asked.drawings:
        check_target(drawing, replace=asked.replace, endings=PICTURE_ENDINGS)
    if file is None and (not asked.drawings or asked.new or keep is not None or asked.as_json):
        expected = "a file of tests"
        remedy = "name it, or write one with: fitsim testcut --new FILE"
        raise InputError(Problem("", "FILE", "", expected, remedy))
    if asked.new and asked.as_json:
        expected = "no --json beside it: a new file has taught nothing yet"
        raise InputError(Problem("", "--new", "", expected, "leave one of the two out"))
    if asked.new and file is not None:
        check_target(file, replace=asked.replace)
    if keep is not None and file is not None:
        check_target(keep, replace=asked.replace and keep.resolve() != file.resolve())
    cautions = " ".join((SCRAP_CAUTION, *TEST_CAUTIONS, *CAUTIONS))
    said = "\n".join(textwrap.wrap(f"At the saw and the tests: {cautions}", width)) + "\n"
    if file is None:
        _draw(asked.drawings, asked.units or "mm", asked.replace, remark)
        return said
    if asked.new:
        write_whole(file, packaged_text("starter_testcut.toml").encode("utf8"), replace=asked.replace)
        _draw(asked.drawings, asked.units or "mm", asked.replace, remark)
        name = file_name(file)
        return f"Written: {name}. Write your readings into it, then: fitsim testcut {name}\n{said}"
    tests = read_tests(file)
    if tilts_rad and tests.cuts is None:
        expected = "a saw's rings or slots in the file, to predict a drop"
        raise InputError(Problem(file_name(file), "--tilt", "", expected, "leave the option out"))
    results = learn(tests, where=file_name(file))
    if keep is not None:
        kept = learned_text(results.learned, name=tests.name, date=tests.date)
        write_whole(keep, kept.encode("utf8"), replace=asked.replace)
        remark(f"Kept: {keep}. Use it with: fitsim fit FILE --learned {keep}")
    units = asked.units or tests.units
    _draw(asked.drawings, units, asked.replace, remark)
    if asked.as_json:
        return learned_object_text(results, scale_tilts_rad=tilts_rad) + "\n"
    return learned_report(results, units=units, scale_tilts_rad=tilts_rad, width=width)


def _draw(drawings: tuple[Path, ...], units: str, replace: bool, remark: Callable[[str], None]) -> None:
    if not drawings:
        return
    from fitsim.drawing.picture_files import write_picture
    from fitsim.drawing.tests_drawing import off_cuts_figure

    for path in drawings:
        write_picture(off_cuts_figure(units=units), path, replace=replace)
        remark(f"drawn: {path}")
