"""What ``fitsim sheet`` does with what was typed: one PDF for the saw, and the line alone if asked for."""

import io
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fitsim.bowl.fit import BowlFit, fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import LOCKS
from fitsim.drawing.bench_drawing import bench_figures, peg_figure
from fitsim.drawing.paper import house_style
from fitsim.drawing.pattern_drawing import pattern_figures, pattern_words
from fitsim.errors import InputError, OutsideModelError, Problem
from fitsim.files import check_target, file_name, write_whole
from fitsim.pattern.bench_sheet import bench_sheet
from fitsim.pattern.layout import PAPERS, FollowLine, Handling, Paper, Tiling, line_to_follow, tile_board
from fitsim.pattern.line_file import line_svg
from fitsim.pattern.peg_and_string import PegString, STRING_mm, peg_string
from fitsim.quantities import LENGTH, read_quantity
from fitsim.report.verdict_words import verdict_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "MOST_PATTERN_PAGES",
    "MOST_PDF_PAGES",
    "DrawnSheets",
    "SheetRequest",
    "drawn_sheets",
    "follow_line_of",
    "pdf_of",
    "write_sheets",
]

MOST_PATTERN_PAGES = 30
"""A pattern of more pages is left to peg and string: the errors of taping add up. Our choice."""

MOST_PDF_PAGES = 120
BENCH_PAPER = {"a3": "a4", "tabloid": "letter"}  # the bench sheet prints on ordinary paper


@dataclass(frozen=True)
class SheetRequest:
    """What was asked for.

    Attributes
    ----------
    out, line : pathlib.Path or None
        The PDF, and the SVG of the line if wanted.
    paper : str
        Key of :data:`fitsim.pattern.layout.PAPERS`.
    copies : int
        Copies of the pattern.
    handling : Handling
        How the board lies on the table.
    string : str or None
        Thickness of the string as typed, or None.
    rigid, replace : bool
        Closed form only; files may be overwritten.
    """

    out: Path
    line: Path | None
    paper: str
    copies: int
    handling: Handling
    string: str | None
    rigid: bool
    replace: bool


def follow_line_of(answer: BowlFit, handling: Handling) -> FollowLine:
    """The line to follow for one fit.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    handling : Handling
        How the board lies on the table.

    Returns
    -------
    FollowLine
        The line.
    """
    board = answer.bowl.board
    return line_to_follow(
        answer.rigid.slot,
        answer.rigid.strip,
        thickness_mm=board.thickness_mm,
        across_mm=board.across_mm,
        outline=board.outline,
        handling=handling,
    )


def write_sheets(
    bowl: Bowl, asked: SheetRequest, *, units: str, progress: Callable[[str], None] | None = None
) -> tuple[str, ...]:
    """Work out one bowl and write its pattern pages and bench sheet.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    asked : SheetRequest
        What was typed.
    units : str
        "in" or "mm".
    progress : callable, optional
        Called with a line of words before every press of the elastic strip.

    Returns
    -------
    tuple[str, ...]
        What was written, one line for each file, remarks, and the verdict last.

    Raises
    ------
    InputError
        If a file is in the way, or too many pages were asked for.
    OutsideModelError
        If the bowl has no single pattern.
    """
    _check_files(asked)
    drawn = drawn_sheets(bowl, asked, units=units, progress=progress)
    write_whole(asked.out, drawn.pdf, replace=asked.replace)
    told = [f"written: {file_name(asked.out)} ({drawn.count} page{'s' if drawn.count != 1 else ''})"]
    if asked.line is not None:
        write_whole(asked.line, drawn.line.encode("utf8"), replace=asked.replace)
        told.append(f"written: {file_name(asked.line)} (the line on the upper face, in mm)")
    return (*told, *drawn.remarks, drawn.verdict)


@dataclass(frozen=True)
class DrawnSheets:
    """What goes to the saw, drawn but not yet written anywhere.

    Attributes
    ----------
    pdf : bytes
        Bench sheet, pattern pages, and peg and string where the board is larger than a page.
    count : int
        Pages of the PDF.
    line : str
        The line alone, as SVG in mm.
    remarks : tuple[str, ...]
        What was left out and why.
    verdict : str
        The bowl's name and its verdict in one line, with a warning unless it locks.
    """

    pdf: bytes
    count: int
    line: str
    remarks: tuple[str, ...]
    verdict: str


def drawn_sheets(
    bowl: Bowl, asked: SheetRequest, *, units: str, progress: Callable[[str], None] | None = None
) -> DrawnSheets:
    """Work out one bowl and draw its pattern pages and bench sheet.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    asked : SheetRequest
        What was typed; its files are not touched.
    units : str
        "in" or "mm".
    progress : callable, optional
        Called with a line of words before every press of the elastic strip.

    Returns
    -------
    DrawnSheets
        The pages.

    Raises
    ------
    InputError
        If too many pages were asked for.
    OutsideModelError
        If the bowl has no single pattern.
    """
    string_mm = _string_mm(asked.string)
    paper = PAPERS[asked.paper]
    closed = fit(bowl, rigid=True)
    line = follow_line_of(closed, asked.handling)
    tiling = tile_board(line, paper)
    drawn = len(tiling.tiles) <= MOST_PATTERN_PAGES
    if drawn and asked.copies * len(tiling.tiles) > MOST_PDF_PAGES:
        expected = f"at most {MOST_PDF_PAGES} pages; one copy takes {len(tiling.tiles)}"
        raise InputError(
            Problem("", "--copies", str(asked.copies), expected, "print the file again instead")
        )
    peg, remarks = _peg(bowl, line, string_mm, wanted=len(tiling.tiles) > 1)
    if not drawn:
        remarks.append(
            f"no pattern: it would take {len(tiling.tiles)} pages of {paper.name}; use larger "
            f"paper, or draw "
            "the line with peg and string"
        )
    answer = closed if asked.rigid else fit(bowl, progress=progress)
    figures = _figures(answer, line, tiling if drawn else None, peg, asked, units)
    pdf, line_alone = pdf_of(figures), line_svg(line, bowl.name)
    return DrawnSheets(pdf, len(figures), line_alone, tuple(remarks), _verdict_told(answer))


def _verdict_told(answer: BowlFit) -> str:
    told = f"{answer.bowl.name}: {verdict_line(answer)}"
    if answer.verdict.state_in_middle != LOCKS:
        return f"{told}. Do not saw yet."
    return told if answer.verdict.state == LOCKS else f"{told}. Read the bench sheet before you saw."


def _check_files(asked: SheetRequest) -> None:
    check_target(asked.out, replace=asked.replace, endings=(".pdf",))
    if asked.line is not None:
        check_target(asked.line, replace=asked.replace, endings=(".svg",))


def _string_mm(text: str | None) -> float:
    if text is None:
        return STRING_mm
    try:
        length = float(read_quantity(text, LENGTH))
    except InputError as trouble:
        raise InputError(tuple(replace(p, key="--string") for p in trouble.problems)) from None
    if not 0.05 <= length <= 10:
        expected = "a thickness from 0.05 to 10 mm"
        raise InputError(Problem("", "--string", text, expected, "measure the string with callipers"))
    return length


def _peg(
    bowl: Bowl, line: FollowLine, string_mm: float, *, wanted: bool
) -> tuple[PegString | None, list[str]]:
    """Peg and string for a board larger than a page, or why there is none."""
    if not wanted:
        return None, []
    if bowl.board.edge is not None:
        return None, ["no peg-and-string page: a string unwound from a peg draws round turns only"]
    if bowl.cut.pitch_shape:
        return None, [
            "no peg-and-string page: a string draws one pitch, and this cut's changes; use the pattern"
        ]
    try:
        peg = peg_string(
            pitch_mm=bowl.cut.pitch_mm,
            start_radius_mm=math.hypot(*line.start_mm),
            stop_radius_mm=float(line.radius_mm[-1]),
            string_mm=string_mm,
        )
    except OutsideModelError as trouble:
        return None, [f"no peg-and-string page: {trouble}"]
    return peg, []


def _figures(
    answer: BowlFit,
    line: FollowLine,
    tiling: Tiling | None,
    peg: PegString | None,
    asked: SheetRequest,
    units: str,
) -> "list[Figure]":
    plain: Paper = PAPERS[BENCH_PAPER.get(asked.paper, asked.paper)]
    bench = bench_sheet(answer, asked.handling, units=units)
    figures = bench_figures(bench, answer, plain, units=units)
    words = pattern_words(answer, line, asked.handling, units=units)
    if tiling is not None:
        figures += pattern_figures(line, tiling, words, copies=asked.copies)
    if peg is not None:
        figures.append(
            peg_figure(
                peg,
                answer.bowl.name,
                plain,
                units=units,
                counter_clockwise=line.counter_clockwise,
                start_rad=math.atan2(line.start_mm[1], line.start_mm[0]),
                run_in_mm=line.run_in_mm,
                warning=words.warning,
            )
        )
    return figures


def pdf_of(figures: "list[Figure]") -> bytes:
    """All pages as one PDF: the paper's own size, fonts embedded, every point kept.

    Parameters
    ----------
    figures : list of matplotlib.figure.Figure
        The pages.

    Returns
    -------
    bytes
        The file; the same figures give the same bytes.
    """
    import matplotlib
    from matplotlib.backends.backend_pdf import PdfPages

    file, about = io.BytesIO(), {"CreationDate": None, "Title": "fitsim sheet"}
    with (
        house_style(),
        matplotlib.rc_context({"path.simplify": False}),
        PdfPages(file, metadata=about) as pages,
    ):
        for figure in figures:
            pages.savefig(figure)
    return file.getvalue()
