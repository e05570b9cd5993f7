"""The bench sheet and the peg-and-string page, drawn: large words, two columns, one section.

What is written comes from :mod:`fitsim.pattern.bench_sheet` and :mod:`fitsim.pattern.peg_and_string`; here
are only places on paper.
"""

import bisect
import math
import re
from typing import TYPE_CHECKING

import numpy as np

from fitsim.bowl.cross_section import section_direction_rad, section_pieces, told_extent_mm
from fitsim.bowl.fit import BowlFit
from fitsim.drawing.bowl_drawing import section_way
from fitsim.drawing.paper import (
    Sheet,
    first_rows,
    house_style,
    wood_sheet,
    wrapped,
    write_on,
    write_title,
)
from fitsim.pattern.bench_sheet import BenchSheet, Block, rule_length
from fitsim.pattern.layout import MARGIN_mm, Paper
from fitsim.pattern.peg_and_string import PegString, involute_mm
from fitsim.quantities import INCH_MM, show_length

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["LEAST_pt", "bench_figures", "peg_figure"]

LEAST_pt = 9.0
"""Nothing that is read at the saw is printed smaller: our choice. [pt]"""

SIZES_pt = (11.0, 10.5, 10.0, 9.5, LEAST_pt)
"""Sizes of letters, the largest that fits is taken. [pt]"""

GUTTER_mm, SECTION_mm, LEAST_SECTION_mm = 7.0, 46.0, 30.0
WHY_pt, MOST_WHY_ROWS = 9.5, 9
REST = "The rest of the verdict"
"""Over what does not go into the rows at the head. [-]"""

PENCIL_mm = 0.3
"""Width of the line of a sharp pencil: our estimate. [mm]"""

LEADING = 1.25 * 25.4 / 72


def _new_page(paper: Paper) -> "Figure":
    from matplotlib.figure import Figure

    return Figure(figsize=(paper.width_mm / 25.4, paper.height_mm / 25.4))


Line = tuple[str, float, str]  # text, size in points, weight


def _block_lines(blocks: tuple[Block, ...], width_mm: float, size: float) -> list[list[Line]]:
    """Every block as printed lines; a block is never broken over two columns."""
    found = []
    for block in blocks:
        lines: list[Line] = [(block.heading, size + 1.0, "bold")]
        for text in block.lines:
            rows = wrapped(text, width_mm - 3, size)
            lines += [(("- " if i == 0 else "  ") + row, size, "normal") for i, row in enumerate(rows)]
        found.append(lines)
    return found


def _height_mm(lines: list[Line]) -> float:
    return sum(size * LEADING for _, size, _ in lines) + 1.6


def _columns(blocks: list[list[Line]]) -> tuple[list[list[Line]], list[list[Line]]]:
    """Blocks in order, split where the columns are most alike."""
    heights = [_height_mm(lines) for lines in blocks]
    taller = [max(sum(heights[:k]), sum(heights[k:])) for k in range(len(blocks) + 1)]
    at = int(np.argmin(taller))
    return blocks[:at], blocks[at:]


def bench_figures(sheet: BenchSheet, answer: BowlFit, paper: Paper, *, units: str) -> "list[Figure]":
    """Draw the bench sheet on one upright page; what is for later goes to a second where it must.

    Parameters
    ----------
    sheet : BenchSheet
        What is on it.
    answer : BowlFit
        The fit, for the section.
    paper : Paper
        The page.
    units : str
        "in" or "mm".

    Returns
    -------
    list of matplotlib.figure.Figure
        One page, or two. No letter is smaller than :data:`LEAST_pt`.
    """
    with house_style():
        figure = _new_page(paper)
        width = paper.width_mm - 2 * MARGIN_mm
        why, rest = _told_at_head(f"{sheet.state}. {sheet.why}", width)
        blocks = sheet.blocks if not rest else (*sheet.blocks, Block(REST, (rest,), later=True))
        top = _head(figure, sheet, why, paper)
        foot = _cautions(figure, sheet.cautions, width)
        column = (width - GUTTER_mm) / 2
        room = top - foot - 3

        def laid(blocks: tuple[Block, ...], section_mm: float) -> tuple[_Parts, float] | None:
            """Columns in the largest letters that leave the section its room, and how tall they are."""
            for size in SIZES_pt:
                parts = _columns(_block_lines(blocks, column, size))
                tall = max(sum(map(_height_mm, part)) for part in parts)
                if tall <= room - section_mm:
                    return parts, tall
            return None

        later = tuple(b for b in blocks if b.later)
        first = tuple(b for b in blocks if not b.later)
        found = laid(blocks, SECTION_mm) or laid(blocks, LEAST_SECTION_mm)
        figures = [figure]
        if found is None:
            found = laid(first, SECTION_mm) or laid(first, LEAST_SECTION_mm) or laid(first, 0.0)
            figures.append(_later_page(sheet.name, later, paper))
        if found is None:  # nothing typed has come so far: better a drawing less than a word
            found = _columns(_block_lines(first, column, LEAST_pt)), room
        parts, tall = found
        for part, x in zip(parts, (MARGIN_mm, MARGIN_mm + column + GUTTER_mm), strict=True):
            _write_blocks(figure, part, x, top)
        left = room - tall
        if left >= LEAST_SECTION_mm:
            _section(figure, sheet, answer, (MARGIN_mm, foot + 1, width, left), units)
        return figures


_Parts = tuple[list[list[Line]], list[list[Line]]]


def _later_page(name: str, blocks: tuple[Block, ...], paper: Paper) -> "Figure":
    """What is not needed at the saw, on a page of its own."""
    figure = _new_page(paper)
    width, y = paper.width_mm - 2 * MARGIN_mm, paper.height_mm - MARGIN_mm - 5.5
    for row in first_rows(f"Bench sheet, for later: {name}", width, 14, 2, "bold"):
        write_on(figure, MARGIN_mm, y, row, 14, weight="bold")
        y -= 6
    _write_blocks(figure, _block_lines(blocks, width, 11.0), MARGIN_mm, y)
    return figure


def _write_blocks(figure: "Figure", blocks: list[list[Line]], x_mm: float, y_mm: float) -> None:
    for lines in blocks:
        for text, size, weight in lines:
            y_mm -= size * LEADING
            # Indented lines stand under the words, not under the dash.
            indent = 0.0 if weight == "bold" else 3.0 if text.startswith("  ") else 0.6
            write_on(
                figure,
                x_mm + indent,
                y_mm + 0.8,
                text.strip() if indent == 3.0 else text,
                size,
                weight=weight,
            )
        y_mm -= 1.6


def _told_at_head(verdict: str, width_mm: float) -> tuple[list[str], str]:
    """Rows of a verdict that go at the head, and what is left of it.

    Whole sentences where they fill half of the rows, else as many words as go in.
    """
    rows = wrapped(verdict, width_mm, WHY_pt)
    if len(rows) <= MOST_WHY_ROWS:
        return rows, ""
    more = f"More under \u201c{REST}\u201d."
    sentences = re.split(r"(?<=\.) (?=[A-Z])", verdict)
    for kept in range(len(sentences) - 1, 0, -1):
        rows = wrapped(f"{' '.join(sentences[:kept])} {more}", width_mm, WHY_pt)
        if MOST_WHY_ROWS / 2 < len(rows) <= MOST_WHY_ROWS:
            return rows, " ".join(sentences[kept:])
    words = verdict.split()
    fits = bisect.bisect_right(
        range(len(words)),
        MOST_WHY_ROWS,
        key=lambda n: len(wrapped(f"{' '.join(words[:n])} \u2026 {more}", width_mm, WHY_pt)),
    )
    rows = wrapped(f"{' '.join(words[: fits - 1])} \u2026 {more}", width_mm, WHY_pt)
    return rows, f"\u2026 {' '.join(words[fits - 1 :])}"


def _head(figure: "Figure", sheet: BenchSheet, why: list[str], paper: Paper) -> float:
    """Name, verdict and the setting in large letters; returns where the columns begin."""
    width, y = paper.width_mm - 2 * MARGIN_mm, paper.height_mm - MARGIN_mm - 5.5
    for row in first_rows(f"Bench sheet: {sheet.name}", width, 14, 2, "bold"):
        write_on(figure, MARGIN_mm, y, row, 14, weight="bold")
        y -= 6
    y -= 2.5
    for row in wrapped(sheet.setting, width, 17, "bold"):
        write_on(figure, MARGIN_mm, y, row, 17, weight="bold")
        y -= 6.5
    y += 0.5
    for row in why:
        write_on(figure, MARGIN_mm, y, row, WHY_pt)
        y -= 4.2
    return y + 1.4


def _cautions(figure: "Figure", cautions: tuple[str, ...], width_mm: float) -> float:
    """Cautions along the foot of the page; returns their upper edge."""
    rows = [row for text in cautions for row in wrapped(text, width_mm - 3, 9.5, "bold")]
    y = MARGIN_mm + 1
    for row in reversed(rows):
        write_on(figure, MARGIN_mm, y, row, 9.5, weight="bold")
        y += 4.2
    return y + 0.5


def _section(figure: "Figure", sheet: BenchSheet, answer: BowlFit,
             box_mm: tuple[float, float, float, float], units: str) -> None:  # fmt: skip
    """The bowl through its axis with the height to check, as large as the box allows."""
    rigid, opened = answer.rigid, bool(sheet.height_label)
    direction = math.pi / 2  # square to the root; of what is not round the long way, as it is told
    if rigid.slot.winding is not None:
        direction = section_direction_rad(rigid, answer.bowl.board.outline)
    pieces = section_pieces(rigid, answer.standing if opened else None, direction_rad=direction)
    corners = np.concatenate([piece.outline_mm for piece in pieces])
    low, high = corners.min(axis=0), corners.max(axis=0)
    left, bottom, width, height = box_mm
    scale = min((width - 84) / float(high[0] - low[0]), (height - 14) / float(high[1] - low[1]), 1.0)
    middle = float(low[0] + high[0]) / 2
    origin = (left + width / 2 - 12 - middle * scale, bottom + 9 - float(low[1]) * scale)
    drawn = wood_sheet(figure, "section", box_mm, scale, origin)
    drawn.pieces(pieces)
    mm = 1 / scale
    words = (sheet.section_title, section_way(answer), f"scale 1 : {1 / scale:.2g}")
    drawn.text(middle, float(low[1]) - 6.8 * mm, "; ".join(w for w in words if w), size=9)
    shape = answer.standing.shape
    if not opened or shape is None:
        return
    drawn.line((float(low[0]) - 4 * mm, float(high[0]) + 8 * mm), (float(low[1]),) * 2, lw=0.8)
    top, x = float(low[1]) + shape.height_mm, float(high[0]) + 6 * mm
    drawn.upright((float(low[1]), top), x, (float(high[0]), float(high[0])), "", side=1)
    drawn.text(x + 2 * mm, (float(low[1]) + top) / 2, sheet.height_label, size=11, ha="left", weight="bold")
    told_mm = told_extent_mm(
        rigid, direction, round_mm=shape.base_diameter_mm,
        along_mm=shape.base_length_mm, across_mm=shape.base_width_mm,
    )  # fmt: skip
    foot = pieces[0].outline_mm
    base = show_length(float(foot[1, 0] - foot[0, 0]) if told_mm is None else told_mm, units=units)
    drawn.text(middle, float(low[1]) - 2.8 * mm, f"base on the table {base}", size=9)


def peg_figure(
    peg: PegString,
    name: str,
    paper: Paper,
    *,
    units: str,
    counter_clockwise: bool,
    start_rad: float,
    run_in_mm: float = 0.0,
    warning: str = "",
) -> "Figure":
    """Draw the peg-and-string page: what to take, how to walk, what pegs at hand would give.

    Parameters
    ----------
    peg : PegString
        The layout.
    name : str
        The bowl's.
    paper : Paper
        The page.
    units : str
        "in" or "mm".
    counter_clockwise : bool
        Way of the pencil from start to stop, seen from above.
    start_rad : float
        Polar angle of the start, from the grain, seen from above. [rad]
    run_in_mm : float
        Straight way from the board's edge to the start; 0 where that lies on the edge. [mm]
    warning : str
        What stands above the title in a dark box; "" where the bowl locks.

    Returns
    -------
    matplotlib.figure.Figure
        The page.
    """
    with house_style():
        figure = _new_page(paper)
        width, y = paper.width_mm - 2 * MARGIN_mm, paper.height_mm - MARGIN_mm - 5.5
        if warning:
            write_title(figure, (MARGIN_mm, y), name, width, warning=warning)
            y -= 7
        for row in first_rows(f"Peg and string: {name}", width, 14, 2, "bold"):
            write_on(figure, MARGIN_mm, y, row, 14, weight="bold")
            y -= 6
        blocks = peg_blocks(
            peg,
            units=units,
            counter_clockwise=counter_clockwise,
            start_rad=start_rad,
            run_in_mm=run_in_mm,
        )
        lines = _block_lines(blocks, width, 10.0)
        _write_blocks(figure, lines, MARGIN_mm, y)
        bottom = MARGIN_mm
        height = y - sum(map(_height_mm, lines)) - bottom - 4
        _peg_sketch(figure, (MARGIN_mm, bottom, width, height), counter_clockwise, start_rad)
        return figure


def peg_blocks(
    peg: PegString, *, units: str, counter_clockwise: bool, start_rad: float, run_in_mm: float = 0.0
) -> tuple[Block, ...]:
    """Say how to lay the line out with a peg and a string.

    Parameters
    ----------
    peg : PegString
        The layout.
    units : str
        "in" or "mm".
    counter_clockwise : bool
        Way of the pencil from start to stop, seen from above.
    start_rad : float
        Polar angle of the start, from the grain, seen from above. [rad]
    run_in_mm : float
        Straight way from the board's edge to the start; 0 where that lies on the edge. [mm]

    Returns
    -------
    tuple[Block, ...]
        Four blocks.
    """

    def fine(length_mm: float) -> str:
        return show_length(length_mm, units=units, fine=True)

    def long(length_mm: float) -> str:
        return show_length(length_mm, units=units)

    way = "counter-clockwise" if counter_clockwise else "clockwise"
    # A grain line has two ends: half a turn of the board about its centre makes the same bowl.
    begin_rad = start_rad if counter_clockwise else -start_rad

    def round_from_grain(angle_rad: float) -> str:
        return f"{round(math.degrees(angle_rad)) % 180} deg"

    start = f"the start at the board's edge, {long(peg.start_radius_mm)} from the centre."
    if run_in_mm > 0:
        start = (
            f"the start, {long(peg.start_radius_mm)} from the centre. Lay a straightedge there along the "
            f"pencil's way: it meets the board's edge {long(run_in_mm)} before the start, and there the "
            "saw comes in."
        )
    rows = tuple(
        f"{p.peg_mm:g} mm ({p.peg_mm / 25.4:.3f} in): pitch {fine(p.pitch_mm)}, {p.turns:.1f} "
        f"turns from start to stop; begin {round_from_grain(begin_rad + peg.swept_rad - p.swept_rad)} round"
        for p in peg.at_hand
    )
    even = f"within {fine(peg.departure_mm)}"
    if peg.departure_mm < PENCIL_mm:
        even = "to less than the width of a pencil line"
    step_mm = 0.1 if units == "mm" else 0.005 * float(INCH_MM)
    return (
        Block("Peg", (
            f"For a pitch of {fine(peg.pitch_mm)} with a string {fine(peg.string_mm)} thick: a round peg "
            f"{peg.peg_mm:.2f} mm ({peg.peg_mm / 25.4:.3f} in) across. Peg and string "
            f"together, times pi, make the pitch.",
            f"Set it upright in the board's centre, at least "
            f"{rule_length(peg.peg_height_mm, units=units, toward='up')} "
            "clear above the board: the string must lie in one layer, turn above turn.",
        )),
        Block("String", (
            f"Tie it to the peg's foot so that {long(peg.start_string_mm)} is free, taut, "
            f"from peg to pencil: the pencil "
            f"then stands on {start}",
            "Draw a line along the grain through the centre. The start lies "
            f"{round_from_grain(begin_rad)} round from it, counted {way}, so that the line ends at the "
            f"root, {round_from_grain(begin_rad + peg.swept_rad)} round from it, on which the verdict "
            "hangs. With a peg at hand begin as is said below; where the line ends elsewhere, begin as far "
            "to the other side.",
            f"Walk the pencil {way}, string taut and level. {peg.wound_turns:.1f} turns of "
            f"string wind onto the peg; stop "
            f"{long(peg.stop_radius_mm)} from the centre, with {long(peg.stop_string_mm)} free.",
            "Use a line that does not stretch, and try the pitch on scrap over two turns first.",
        )),
        Block("Pegs at hand give", rows),
        Block("How good it is", (
            f"The line drawn is an even spiral {even}. {fine(step_mm)} more of peg or string makes the "
            f"pitch {fine(math.pi * step_mm)} wider.",
        )),
    )  # fmt: skip


def _peg_sketch(
    figure: "Figure",
    box_mm: tuple[float, float, float, float],
    counter_clockwise: bool,
    start_rad: float,
) -> None:
    """Peg, string, two turns and the grain, not to scale but for the place of the start."""
    left, bottom, width, height = box_mm
    radius = min(width, height) / 2 - 6
    if radius < 15:
        return
    sheet: Sheet = wood_sheet(figure, "peg", box_mm, 1.0, (left + width / 2, bottom + height / 2))
    curve = involute_mm(
        working_mm=14, start_radius_mm=radius, stop_radius_mm=min(12.0, radius / 2), points=600
    )
    mirror = np.array([1.0, -1.0]) if counter_clockwise else np.array([1.0, 1.0])
    about = start_rad - math.atan2(*(curve[0] * mirror)[::-1])
    turned = np.array([[math.cos(about), math.sin(about)], [-math.sin(about), math.cos(about)]])
    curve = (curve * mirror) @ turned
    sheet.line(tuple(curve[:, 0]), tuple(curve[:, 1]), lw=1.0)
    angle = np.linspace(0, math.tau, 73)
    sheet.line(tuple(7 * np.cos(angle)), tuple(7 * np.sin(angle)), lw=1.0)
    unwound = math.sqrt((radius / 7) ** 2 - 1)
    foot = (7 * np.array([math.cos(unwound), math.sin(unwound)]) * mirror) @ turned
    sheet.line((float(foot[0]), float(curve[0, 0])), (float(foot[1]), float(curve[0, 1])), lw=0.7, ls="--")
    sheet.arrow((float(curve[0, 0]), float(curve[0, 1])), (float(curve[12, 0]), float(curve[12, 1])), "-|>")
    for side in (-1.0, 1.0):
        sheet.arrow((side * 9.0, 0.0), (side * (radius + 4), 0.0), "-|>")
    sheet.text(radius + 5, 0, "grain", size=9, ha="left")
    sheet.text(0, 0, "peg", size=9)
    sheet.text(0, -height / 2 + 2, "not to scale; dashed: the string at the start", size=9)
