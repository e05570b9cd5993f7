"""The drawn plan: the wall that is wanted and the one got, the stepped section over it."""

import math
from typing import TYPE_CHECKING

import numpy as np

from fitsim.bowl.cross_section import section_direction_rad, section_pieces
from fitsim.drawing.paper import (
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    Sheet,
    first_rows,
    house_style,
    page_axes,
    wood_sheet,
    wrapped,
    write_on,
)
from fitsim.plan.planned_bowls import Plan, PlannedBowl
from fitsim.quantities import show_length
from fitsim.report.plan_report import cut_sentence, wish_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["plan_figure"]

SECTION_mm = (EDGE_mm, 62.0, PAGE_WIDTH_mm - 2 * EDGE_mm, 110.0)
PITCHES_mm = (EDGE_mm + 12, 25.0, 95.0, 28.0)
WORDS_LEFT_mm = 132.0
PLANES = {"round": "square to the root", "square": "through the middles of two sides"}
"""Where the section stands, by the board's outline."""

WANTED, GOT = "#0f4f8a", "#8f2d12"


def plan_figure(found: Plan, *, number: int = 1, units: str) -> "Figure":
    """Draw one page: the section of one answer as it stands pressed, over the wall that is wanted.

    Parameters
    ----------
    found : Plan
        The answer to the wishes.
    number : int
        Which answer, counted from 1.
    units : str
        "in" or "mm".

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    answer = found.answers[number - 1]
    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        _section(figure, answer)
        _pitches(figure, answer, units)
        top = PAGE_HEIGHT_mm - EDGE_mm - 5
        title = f"{answer.bowl.name}: cut {number} of {len(found.answers)}"
        write_on(figure, EDGE_mm, top, first_rows(title, 200, 15, 1, "bold")[0], 15, weight="bold")
        for i, line in enumerate(
            wrapped(cut_sentence(answer, units=units), PAGE_WIDTH_mm - 2 * EDGE_mm, 9.5)
        ):
            write_on(figure, EDGE_mm, top - 7 - 4.6 * i, line, 9.5)
        _wishes(figure, found, answer, units)
        plane = PLANES.get(answer.bowl.board.outline, "along the board's long way, or across it")
        foot = (
            f"Section {plane}, each turn at the height it has on the pressed strip (its twist "
            "left out). Dots: middle of each whole turn, and the rim, the last turn round up to the nail. "
            "The wall runs through them."
        )
        for i, line in enumerate(wrapped(foot, PAGE_WIDTH_mm - 2 * EDGE_mm, 8.0)):
            write_on(figure, EDGE_mm, 10.0 - 3.6 * i, line, 8.0)
    return figure


def _section(figure: "Figure", answer: PlannedBowl) -> None:
    pieces = section_pieces(
        answer.pressed.rigid, answer.pressed.standing, direction_rad=_direction_rad(answer)
    )
    corners = np.concatenate([p.outline_mm for p in pieces])
    (left, low), (right, high) = corners.min(axis=0), corners.max(axis=0)
    _, bottom, width, height = SECTION_mm
    scale = min((width - 50) / (right - left), (height - 14) / (high - low))
    origin = (PAGE_WIDTH_mm / 2 - 12, bottom + 5 - low * scale)
    sheet = wood_sheet(figure, "section", SECTION_mm, scale, origin)
    sheet.pieces(pieces)
    _walls(sheet, answer, float(right), float(high))


def _walls(sheet: Sheet, answer: PlannedBowl, right: float, high: float) -> None:
    """Wanted in dashes, got as dots joined by a thin line, on both sides."""
    got, wishes = answer.pressed.line_mm, {w.name: w for w in answer.wishes}
    radius, height = _wanted_line(answer)
    out, left_out = _carried_out_mm(answer)
    for side, more in ((1.0, out), (-1.0, left_out)):
        sheet.line(
            tuple(side * (got[:, 0] + more)), tuple(got[:, 1]), color=GOT, lw=1.0, marker="o", ms=3.2
        )
        if len(radius):
            sheet.line(
                tuple(side * (radius + more)),
                tuple(height),
                color=WANTED,
                lw=1.6,
                ls=(0, (5, 2.5)),
                zorder=5,
            )
    gap = 6 / sheet.scale
    x = right + gap
    if "rise" in wishes or "height" in wishes:
        wish = wishes.get("rise") or wishes["height"]
        wanted = wish.wanted - (answer.cut.thickness_mm if wish.name == "height" else 0.0)
        reach = right + 2 * gap
        sheet.line((-reach, reach), (wanted, wanted), color=WANTED, lw=0.9, ls=(0, (2, 2)))
        sheet.text(reach + 0.3 * gap, wanted, "rise wanted", color=WANTED, ha="left", size=8)
    place, stands = float(got[-1, 0]) + out, float(got[-1, 1])
    sheet.text(x, stands - 7 / sheet.scale, "wall got", color=GOT, ha="left", size=8)
    sheet.line((place, x), (stands, stands - 7 / sheet.scale), color=GOT, lw=0.4)
    if len(radius):
        middle = len(radius) // 2
        level = float(height[middle]) - 8 / sheet.scale
        sheet.text(x + 3 / sheet.scale, level, "wall wanted", color=WANTED, ha="left", size=8)
        ends = (float(radius[middle]) + out, x + 2.5 / sheet.scale)
        sheet.line(ends, (float(height[middle]), level), color=WANTED, lw=0.4)
    if high <= 0:
        sheet.text(0, high + gap, "flat", size=8)


def _direction_rad(answer: PlannedBowl) -> float:
    return section_direction_rad(answer.pressed.rigid, answer.bowl.board.outline)


def _carried_out_mm(answer: PlannedBowl) -> tuple[float, float]:
    """How much farther out turns lie in the section than where the wall is measured, each side. [mm]"""
    slot = answer.pressed.rigid.slot
    if slot.winding is None:
        return 0.0, 0.0
    base, aside = answer.cut.base_radius_mm, answer.pressed.aside_mm
    polar = np.unwrap(np.arctan2(slot.position_mm[:, 1], slot.position_mm[:, 0]))
    away, there = np.hypot(*slot.position_mm.T), []
    for turned in (_direction_rad(answer), _direction_rad(answer) + math.pi):
        swept = float(np.interp(turned, polar - polar[0], slot.angle_rad))
        reach = float(np.interp(swept, slot.angle_rad, slot.reach_mm))
        there.append(float(np.interp(swept, slot.angle_rad, away)) - base - reach - aside)
    return there[0], there[1]


def _wanted_line(answer: PlannedBowl) -> "tuple[np.ndarray, np.ndarray]":
    """The wall wanted as it lies on this cut: the curve, or the slope through the middle of the one got."""
    if answer.wall is not None:
        return answer.wall.radius_mm, answer.wall.height_mm
    slope = next((w.wanted for w in answer.wishes if w.name == "wall"), None)
    if slope is None:
        return np.empty(0), np.empty(0)
    got = answer.pressed.line_mm
    middle, stands = (float(v) for v in got.mean(axis=0))
    radius = np.array([middle - stands / slope, middle, float(got[-1, 0])])
    return radius, stands + slope * (radius - middle)


def _pitches(figure: "Figure", answer: PlannedBowl, units: str) -> None:
    """The pitch turn by turn, as bars."""
    axes = page_axes(figure, "pitch", PITCHES_mm)
    unit = 25.4 if units == "in" else 1.0
    pitches = np.array(answer.cut.pitches_mm) / unit
    turns = math.ceil(answer.pressed.got.turns - 1e-9)
    if len(pitches) == 1:
        pitches = np.full(turns, pitches[0])
    axes.bar(np.arange(1, len(pitches) + 1), pitches, width=0.7, fc="#e6cd9a", ec="black", lw=0.6)
    axes.set_ylabel(f"pitch [{units}]", fontsize=8.5)
    axes.set_xlabel("turn, 1 at the base", fontsize=8.5)
    axes.set_xticks(np.arange(1, len(pitches) + 1, max(1, len(pitches) // 12)))
    axes.tick_params(labelsize=8, length=2.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _wishes(figure: "Figure", found: Plan, answer: PlannedBowl, units: str) -> None:
    y = 52.0
    columns = (WORDS_LEFT_mm, WORDS_LEFT_mm + 28, WORDS_LEFT_mm + 66)
    for x, word in zip(columns, ("", "wanted", "got, pressed and let go"), strict=True):
        write_on(figure, x, y, word, 9, weight="bold")
    for wish in answer.wishes:
        y -= 5.0
        curve = found.wishes.wall is not None and wish.name == "wall"
        wanted = "the curve" if curve else wish_words(wish, wish.wanted, units=units)
        got = wish_words(wish, wish.got, units=units, curve=curve) + ("" if wish.met else "  NOT MET")
        for x, word in zip(columns, (wish.name, wanted, got), strict=True):
            write_on(figure, x, y, word, 9)
    y -= 6.0
    across = show_length(answer.cut.across_mm, units=units)
    thick = show_length(answer.cut.thickness_mm, units=units)
    another = ", another than the file has" if answer.other_board else ""
    narrow = "" if answer.bowl.board.edge is None else " its narrow way"
    board = f"Board {thick} thick, {across} across{narrow}{another}."
    if found.in_the_way and not answer.meets:
        board += " In the way: " + "; ".join(r.told(units) for r in found.in_the_way) + "."
    for line in first_rows(board, PAGE_WIDTH_mm - EDGE_mm - WORDS_LEFT_mm, 8.5, 5):
        write_on(figure, WORDS_LEFT_mm, y, line, 8.5)
        y -= 4.0
