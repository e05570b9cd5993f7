"""How to slide, break and weigh off-cuts, drawn on one page: three pictures and a few plain lines each."""

import math
from typing import TYPE_CHECKING

from fitsim.drawing.paper import (
    BASE_TONE,
    NEXT_TONE,
    TURN_TONE,
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    Sheet,
    house_style,
    wood_sheet,
    wrapped,
    write_on,
)
from fitsim.quantities import show_length
from fitsim.report.common_words import TEST_CAUTIONS
from fitsim.wood.across_grain import StripSize, standard_strip

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["off_cuts_figure", "off_cuts_steps"]

GAP_mm = 8.0
COLUMN_mm = (PAGE_WIDTH_mm - 2 * EDGE_mm - 2 * GAP_mm) / 3
PICTURE_mm = 88.0
TOP_mm = PAGE_HEIGHT_mm - EDGE_mm - 18
SIZE_pt, LEADING_mm = 8.5, 3.9

Point = tuple[float, float]


def off_cuts_steps(*, units: str, typed: bool = False) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What to do in each test, line by line.

    Parameters
    ----------
    units : str
        "in" or "mm".
    typed : bool
        True where readings are typed one by one, False where they are written into a file.

    Returns
    -------
    tuple of (str, tuple[str, ...])
        Each test's name and its lines.
    """
    strip = standard_strip(units)
    return (
        ("Slide: friction", _slide_lines(typed)),
        ("Break: strength across the grain", _break_lines(strip, units, typed)),
        ("Oven: moisture", _oven_lines(typed)),
    )


def off_cuts_figure(*, units: str, typed: bool = False) -> "Figure":
    """Draw the three tests on one page.

    Parameters
    ----------
    units : str
        "in" or "mm".
    typed : bool
        True where readings are typed one by one, False where they are written into a file.

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    strip = standard_strip(units)
    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        write_on(
            figure, EDGE_mm, PAGE_HEIGHT_mm - EDGE_mm - 5,
            "Three tests with off-cuts of the board", 14, weight="bold",
        )  # fmt: skip
        sheets = []
        for i, (title, lines) in enumerate(off_cuts_steps(units=units, typed=typed)):
            left = EDGE_mm + i * (COLUMN_mm + GAP_mm)
            write_on(figure, left, TOP_mm + 3, title, 10.5, weight="bold")
            box = (left, TOP_mm - PICTURE_mm, COLUMN_mm, PICTURE_mm)
            sheet = wood_sheet(figure, title.split(":")[0].lower(), box, 1.0, (left, TOP_mm - PICTURE_mm))
            sheets.append(sheet)
            _write(figure, left, TOP_mm - PICTURE_mm - 5, lines)
        _slide(sheets[0])
        _break(sheets[1], strip, units)
        _oven(sheets[2])
        _cautions(figure)
    return figure


def _write(figure: "Figure", left: float, y: float, lines: tuple[str, ...]) -> None:
    for i, text in enumerate(lines, 1):
        for k, row in enumerate(wrapped(text, COLUMN_mm - 5, SIZE_pt)):
            if k == 0:
                write_on(figure, left, y, f"{i}", SIZE_pt, weight="bold")
            write_on(figure, left + 4, y, row, SIZE_pt)
            y -= LEADING_mm
        y -= 0.8


def _cautions(figure: "Figure") -> None:
    rows = wrapped(" ".join(TEST_CAUTIONS), PAGE_WIDTH_mm - 2 * EDGE_mm, SIZE_pt, "bold")
    y = EDGE_mm - 2 + LEADING_mm * (len(rows) - 1)
    for row in rows:
        write_on(figure, EDGE_mm, y, row, SIZE_pt, weight="bold")
        y -= LEADING_mm


def _slide_lines(typed: bool) -> tuple[str, ...]:
    return (
        "Two off-cuts of this board with sawn bevels, finished as the bowl will be, and dry.",
        "Lay one on the other, bevel on bevel, a weight of a pound or two fixed on top.",
        "Lift one end slowly, without a jolt, until the upper one begins to slide.",
        "Read the angle then with a level in the telephone, or rise over level run.",
        "Six slides, each at a fresh place; add each angle, like 20 deg."
        if typed
        else 'Six slides, each at a fresh place: one [[slide]] each with angle = "20 deg".',
    )


def _break_lines(strip: StripSize, units: str, typed: bool) -> tuple[str, ...]:
    width, thickness, span, longer = (
        show_length(v, units=units)
        for v in (strip.width_mm, strip.thickness_mm, strip.span_mm, strip.span_mm + 20)
    )
    if units == "in":
        longer = show_length(82.55, units=units)
    return (
        f"Five strips across the grain of this board, {width} wide, {thickness} thick, {longer} long: "
        "clear wood, no knots, ends or checks.",
        f"Lay one on two round supports {span} apart; cord or wide hook round its middle.",
        "Pull the scale down slowly, within some ten seconds, and remember the most it shows.",
        "Measure width and thickness where it broke.",
        f"Add each strip: the load, like {_load(units)}, and its sizes."
        if typed
        else f'One [[break]] each with load = "{_load(units)}" and its sizes.',
    )


def _load(units: str) -> str:
    """An example of what the scale may read."""
    return "9.3 lb" if units == "in" else "4.2 kg"


def _oven_lines(typed: bool) -> tuple[str, ...]:
    return (
        "Two off-cuts from the middle of the board, not its ends, 30 g or more each.",
        "Weigh at once: wet.",
        "Oven at 103 C (217 F), some hours; weigh, and again each hour, until nothing more is lost: dry.",
        "Add each piece: wet, like 41.3 g, and dry, like 38.0 g; moisture is (wet - dry)/dry."
        if typed
        else 'One [[oven]] each with wet = "41.3 g" and dry = "38.0 g": moisture is (wet - dry)/dry.',
        "Or a meter set to this wood: add what it reads, like 8.5 %."
        if typed
        else 'Or a meter set to this wood: one [[meter]] with reading = "8.5 %".',
    )


def _fill(sheet: Sheet, corners: list[Point], tone: str) -> None:
    from matplotlib.patches import Polygon

    sheet.axes.add_patch(Polygon(corners, fc=tone, ec="black", lw=0.7))


def _turned(corners: list[Point], angle: float, about: Point) -> list[Point]:
    c, s = math.cos(angle), math.sin(angle)
    return [(about[0] + c * x - s * y, about[1] + s * x + c * y) for x, y in corners]


def _block(left: float, bottom: float, width: float, height: float) -> list[Point]:
    return [
        (left, bottom),
        (left + width, bottom),
        (left + width, bottom + height),
        (left, bottom + height),
    ]


def _slide(sheet: Sheet) -> None:
    """The lower off-cut lifted at one end, the upper one and its weight about to slide."""
    angle, foot = math.radians(22), (9.0, 18.0)
    sheet.line((2, COLUMN_mm - 2), (18, 18), lw=1.2)
    _fill(sheet, _turned(_block(0, 0, 66, 6), angle, foot), TURN_TONE)
    _fill(sheet, _turned(_block(30, 6, 22, 6), angle, foot), NEXT_TONE)
    _fill(sheet, _turned(_block(35, 12, 12, 9), angle, foot), "#9a9a9a")
    weight = _turned([(41, 16.5)], angle, foot)[0]
    sheet.text(*weight, "weight", size=7, rotation=math.degrees(angle))
    tail, tip = _turned([(28, 9), (15, 9)], angle, foot)
    sheet.arrow(tail, tip, "-|>")
    sheet.text(*_turned([(21, 12.5)], angle, foot)[0], "slides", size=8, rotation=math.degrees(angle))
    corner = _turned([(66, 0)], angle, foot)[0]
    sheet.line((corner[0], corner[0]), (18, corner[1]), ls="--")
    sheet.text(corner[0] + 3, (18 + corner[1]) / 2, "rise", size=8, rotation=90)
    sheet.text((foot[0] + corner[0]) / 2, 14, "level run", size=8)
    arc = [math.radians(22 * k / 12) for k in range(13)]
    sheet.line(
        tuple(foot[0] + 30 * math.cos(a) for a in arc), tuple(foot[1] + 30 * math.sin(a) for a in arc)
    )
    sheet.text(foot[0] + 35, foot[1] + 6, "angle", size=8)
    sheet.text(COLUMN_mm / 2, 78, "bevel on bevel, finished as the bowl", size=8)
    contact = _turned([(50, 6)], angle, foot)[0]
    sheet.arrow((COLUMN_mm / 2 + 14, 75), contact, "-|>")
    sheet.text(COLUMN_mm / 2, 6, "friction = rise / run = tan(angle)", size=9, weight="bold")


def _break(sheet: Sheet, strip: StripSize, units: str) -> None:
    """A strip cut from the board, then on its supports with the scale hung in the middle."""
    width, thickness, span = (
        show_length(v, units=units) for v in (strip.width_mm, strip.thickness_mm, strip.span_mm)
    )
    # The board from above: grain runs along it, the strip across.
    _fill(sheet, _block(6, 64, 72, 22), TURN_TONE)
    for y in (67.5, 71, 75.5, 79, 83):
        sheet.line((8, 76), (y, y + 0.6), color="#8c7048", lw=0.6)
    for edge in (20, 26):
        _fill(sheet, _block(edge, 64, 4.5, 22), NEXT_TONE)
    sheet.text(
        56, 75.2, "board from above, grain this way", size=7, bbox={"fc": TURN_TONE, "ec": "none", "pad": 1}
    )
    sheet.arrow((46, 70.5), (66, 70.5), "<|-|>")
    sheet.text(26, 61, "strips across the grain", size=8)
    # On the supports, seen from the front; lengths twice shrunk so that the scale fits.
    left, right, level = 16.0, 70.0, 44.0
    for x in (left, right):
        from matplotlib.patches import Circle

        sheet.axes.add_patch(Circle((x, level - 2.5), 2.5, fc="#cccccc", ec="black", lw=0.7))
        sheet.line((x - 4, x + 4), (level - 5, level - 5), lw=1.2)
    _fill(sheet, _block(left - 7, level, right - left + 14, 5.4), NEXT_TONE)
    for at in (left - 4 + 4 * k for k in range(16)):
        sheet.line((at, at), (level + 0.8, level + 4.6), color="#8c7048", lw=0.5)
    middle = (left + right) / 2
    sheet.line(
        (middle - 1, middle - 1, middle + 1, middle + 1),
        (level - 8, level + 5.8, level + 5.8, level - 8),
        lw=1.0,
    )
    _fill(sheet, _block(middle - 8, level - 27, 16, 19), "#e8e8e8")
    sheet.text(middle, level - 15, "scale", size=8)
    sheet.text(middle, level - 20.5, _load(units), size=8, weight="bold")
    sheet.arrow((middle, level - 27), (middle, level - 35), "-|>")
    sheet.text(middle + 3, level - 32.5, "pull slowly", size=8, ha="left")
    sheet.level((left, right), level + 10, (level + 6.5, level + 6.5), span)
    sheet.text(left - 6, level - 9, f"{thickness} thick,\n{width} wide", size=8, ha="left", va="top")
    sheet.text(
        COLUMN_mm / 2,
        4,
        "stress = 3 load x span / (2 width x thickness x thickness)",
        size=7.5,
        weight="bold",
    )


def _oven(sheet: Sheet) -> None:
    """A scale, an oven, and the scale again."""
    for x, words, name in ((14.0, "41.3 g", "wet"), (72.0, "38.0 g", "dry")):
        _fill(sheet, _block(x - 10, 18, 20, 9), "#e8e8e8")
        sheet.text(x, 22.5, words, size=8, weight="bold")
        sheet.line((x - 9, x + 9), (29, 29), lw=1.4)
        sheet.line((x, x), (27, 29), lw=1.0)
        _fill(sheet, _block(x - 6, 29.4, 12, 7), BASE_TONE)
        sheet.text(x, 41, name, size=9)
    _fill(sheet, _block(24, 48, 38, 30), "#f2f2f2")
    _fill(sheet, _block(28, 52, 30, 18), "white")
    sheet.line((28, 58), (57, 57))
    _fill(sheet, _block(37, 57.4, 12, 7), BASE_TONE)
    sheet.text(43, 74, "103 C (217 F)", size=8)
    sheet.arrow((16, 44), (26, 56), "-|>")
    sheet.arrow((60, 56), (70, 44), "-|>")
    sheet.text(COLUMN_mm / 2, 83, "until it loses nothing more in an hour", size=8)
    sheet.text(COLUMN_mm / 2, 6, "moisture = (wet - dry) / dry", size=9, weight="bold")
