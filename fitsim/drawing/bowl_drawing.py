"""The drawn page of one bowl: the section flat and open at one scale, its margins, one seat.

Nothing is worked out here but places on a page of 297 x 210 mm. Figures are returned, never shown;
:mod:`fitsim.drawing.picture_files` writes them to files.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.cross_section import (
    SectionPiece,
    board_half_mm,
    inner_rims_mm,
    section_direction_rad,
    section_pieces,
    told_extent_mm,
)
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import FALLS_THROUGH, SPRINGS_BACK, WILL_NOT_OPEN, Margin, happens
from fitsim.drawing.paper import (
    EDGE_mm,
    PAGE_HEIGHT_mm,
    PAGE_WIDTH_mm,
    Sheet,
    first_rows,
    house_style,
    page_axes,
    width_mm_of,
    wood_sheet,
    write_on,
)
from fitsim.quantities import share_beside, show_length
from fitsim.report.advised_test import advised_test
from fitsim.report.verdict_words import by_hand_alone, dependence_sentence, other_states

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

__all__ = ["LimitShares", "bowl_figure", "limit_shares", "margin_words", "section_way"]

Pieces = tuple[SectionPiece, ...]
FOOTER_PRESSED = "section and limits by the pressed strip; not seen: knots, checks, wild grain"
FOOTER_RIGID = "stiff turns only, nothing pressed; not seen: knots, checks, wild grain"
AXIS_END = 1.5  # the margins' axis ends at one and a half times the limit; longer bars get an arrow
BARS = {  # word: tone and hatch; the word stands beside the bar, so nothing hangs on colour
    "clear": ("#c7dbe8", ""),
    "may fail": ("#f0b35a", "////"),
    "fails": ("#b9502a", "xxxx"),
}


@dataclass(frozen=True)
class LimitShares:
    """Shares of a limit used, 1 exactly on it, more beyond; infinite where no share is enough.

    Attributes
    ----------
    middle, worst, best : float
        At the middle and at the unfavourable and favourable ends of the ranges. [-]
    """

    middle: float
    worst: float
    best: float


def limit_shares(margin: Margin, *, slot_cut_mm: float) -> LimitShares:
    """Share of its limit that each number of a margin uses, so that unlike numbers compare.

    Slot: what was lost of it over what may be lost; overlap: limit over overlap; hold and split
    chance: number over limit.

    Parameters
    ----------
    margin : Margin
        From the verdict.
    slot_cut_mm : float
        Slot as the saw left it. [mm]

    Returns
    -------
    LimitShares
        The three shares.

    Examples
    --------
    >>> limit_shares(Margin("falls through", "overlap", "", 0.5, 0.125, 0.375, 0.0625, 1.0, True, True),
    ...              slot_cut_mm=0.7)
    LimitShares(middle=0.25, worst=2.0, best=0.125)
    """

    def share(number: float) -> float:
        used, allowed = number, margin.limit
        if margin.state == WILL_NOT_OPEN:
            used, allowed = slot_cut_mm - number, slot_cut_mm - margin.limit
        elif margin.state == FALLS_THROUGH:
            used, allowed = margin.limit, number
        if allowed > 0:
            return used / allowed
        return 1.0 if used == allowed == 0 else math.inf

    return LimitShares(share(margin.value), share(margin.worst), share(margin.best))


def bowl_figure(answer: BowlFit, *, units: str) -> "Figure":
    """Draw one page: verdict, section flat and open at one true scale, margins, one seat enlarged.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    matplotlib.figure.Figure
        A page of 297 x 210 mm; save it with :func:`fitsim.drawing.picture_files.write_picture`.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        top_mm = _heading(figure, answer, units)
        scale = _sections(figure, answer, units, top_mm)
        _margin_bars(figure, answer, units)
        _seat_enlarged(figure, answer, units, scale)
        write_on(figure, EDGE_mm, 7.5, FOOTER_RIGID if answer.elastic is None else FOOTER_PRESSED, 8)
    return figure


def _heading(figure: "Figure", answer: BowlFit, units: str) -> float:
    """Name, verdict, what it depends on, the facts; returns the page height left below."""
    bowl, verdict = answer.bowl, answer.verdict
    width = PAGE_WIDTH_mm - 2 * EDGE_mm
    name = " ".join(bowl.name.split())
    size = next((s for s in (15, 13, 11) if width_mm_of(name, s, "bold") <= width), 10)
    y = PAGE_HEIGHT_mm - 15
    for line in first_rows(name, width, size, 2, "bold"):
        write_on(figure, EDGE_mm, y, line, size, weight="bold")
        y -= 6
    y -= 5
    headline = f"by the hand formula alone: {verdict.state}" if by_hand_alone(answer) else verdict.state
    write_on(figure, EDGE_mm, y, headline, 27, weight="bold")
    if verdict.state != verdict.state_at_best:
        x = EDGE_mm + width_mm_of(headline, 27, "bold") + 6
        write_on(figure, x, y, other_states(verdict), 12)
    y -= 7
    tilts = sorted({f"{math.degrees(t):.3g}" for t in bowl.cut.scale_tilt_rad}, key=float)
    kerfs = dict.fromkeys(show_length(k, units=units, fine=True) for k in bowl.cut.kerf_mm)
    facts = (
        f"{bowl.board.wood.name}; {bowl.board.outline_words} board; "
        f"table tilted {' / '.join(tilts)} deg, kerf {' / '.join(kerfs)}, "
        f"{answer.rigid.strip.turns:.1f} turns to the nail; finish: {bowl.use.finish}"
    )
    depends = f"{dependence_sentence(verdict.depends_on, units=units)} {advised_test(answer, units=units)}"
    for text in (depends.strip(), facts):
        for line in first_rows(text, width, 9.5, 4):
            write_on(figure, EDGE_mm, y, line, 9.5)
            y -= 4.8
    return y


def _opens(answer: BowlFit) -> bool:
    return not happens(WILL_NOT_OPEN, answer.rigid.numbers, answer.bowl.limits)


def section_way(answer: BowlFit) -> str:
    """Which way a section stands in a board that is not as wide every way.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        "along the grain" or "across the grain"; "" of a round or square board.
    """
    board, rigid = answer.bowl.board, answer.rigid
    if board.edge is None:
        return ""
    x, y = rigid.slot.position_mm[0]
    polar_rad = math.atan2(float(y), float(x)) + section_direction_rad(rigid, board.outline)
    return "along the grain" if abs(math.cos(polar_rad)) > abs(math.sin(polar_rad)) else "across the grain"


def _sections(figure: "Figure", answer: BowlFit, units: str, top_mm: float) -> float:
    rigid, direction = answer.rigid, section_direction_rad(answer.rigid, answer.bowl.board.outline)
    flat = section_pieces(rigid, direction_rad=direction)
    pressed = section_pieces(rigid, answer.standing if _opens(answer) else None, direction_rad=direction)
    across = 2 * board_half_mm(rigid, answer.bowl.board.across_mm, direction)
    half_T = -float(flat[0].outline_mm[0, 1])
    high = max(float(p.outline_mm[:, 1].max()) for p in pressed) + half_T
    bottom, over, under = 74.0, 11.0, 22.0  # page; room for dimensions above and below the wood
    room = top_mm - bottom - over - under
    scale = min((PAGE_WIDTH_mm - 2 * EDGE_mm - 36) / (2 * across), room / high)
    table_mm = bottom + under + (room - high * scale) / 2
    middle = PAGE_WIDTH_mm / 2
    wide = middle - EDGE_mm
    for label, left, centre, draw, pieces in (
        ("flat", EDGE_mm, EDGE_mm + wide / 2 + 2, _draw_flat, flat),
        ("open", middle, middle + wide / 2 - 2, _draw_open, pressed),
    ):
        page = (left, bottom, wide, top_mm - bottom)
        sheet = wood_sheet(figure, label, page, scale, (centre, table_mm + half_T * scale))
        draw(sheet, answer, units, pieces)
    return scale


def _corners(pieces: Iterable[SectionPiece], turn: int, side: str = "right") -> Array | None:
    return next((p.outline_mm for p in pieces if (p.turn, p.side) == (turn, side)), None)


def _draw_flat(sheet: Sheet, answer: BowlFit, units: str, pieces: Pieces) -> None:
    from matplotlib.patches import Rectangle

    board, mm = answer.bowl.board, 1 / sheet.scale
    base = pieces[0].outline_mm
    direction = section_direction_rad(answer.rigid, board.outline)
    half = board_half_mm(answer.rigid, board.across_mm, direction)
    bottom, top = float(base[0, 1]), float(base[2, 1])
    blank = Rectangle((-half, bottom), 2 * half, top - bottom, fill=False, lw=0.5, ls=(0, (3, 2)))
    sheet.axes.add_patch(blank)  # shows where the board went beyond the trimmed end
    sheet.pieces(pieces)
    sheet.upright((bottom, top), -half - 4 * mm, (-half, -half),
                  f"thickness {show_length(board.thickness_mm, units=units)}", side=-1)  # fmt: skip
    # The spiral makes the base a little wider on one side; like rise and mouth, its mean is given.
    shape, width = answer.standing.shape, None
    if shape is not None:
        width = told_extent_mm(answer.rigid, direction, round_mm=shape.base_diameter_mm,
                               along_mm=shape.base_length_mm, across_mm=shape.base_width_mm)  # fmt: skip
    if width is None:
        width = float(base[1, 0] - base[0, 0])
    sheet.level((float(base[0, 0]), float(base[1, 0])), bottom - 5 * mm, (bottom, bottom),
                f"base on the table {show_length(width, units=units)}")  # fmt: skip
    way = section_way(answer)
    sheet.level((-half, half), bottom - 11 * mm, (bottom, bottom),
                f"board {way or 'across'} {show_length(2 * half, units=units)}")  # fmt: skip
    outer, last = _corners(pieces, 2), _corners(pieces, 1)
    if outer is not None and last is not None:
        # Slot centres at the top face, either side of the first turn: one pitch apart.
        first = (float(base[2, 0]) + float(last[3, 0])) / 2
        second = (float(last[2, 0]) + float(outer[3, 0])) / 2
        words = f"pitch {show_length(answer.bowl.cut.pitch_mm, units=units)}"
        if answer.bowl.cut.pitch_shape:
            words = f"pitch {show_length(second - first, units=units)} here"
        sheet.level((first, second), top + 4.5 * mm, (top, top), words, above=True)
    title = f"flat, section {way}" if way else "flat"
    sheet.text(0, bottom - 16 * mm, title, weight="bold", size=10)
    sheet.text(0, bottom - 20.5 * mm, "dashed: the board before it was trimmed at the nail", size=8)


def _draw_open(sheet: Sheet, answer: BowlFit, units: str, pieces: Pieces) -> None:
    shape, mm = answer.standing.shape, 1 / sheet.scale
    bottom = float(pieces[0].outline_mm[0, 1])
    top = max(float(p.outline_mm[:, 1].max()) for p in pieces)
    half = max(float(np.abs(p.outline_mm[:, 0]).max()) for p in pieces)
    sheet.pieces(pieces, dashed=shape is None or not _opens(answer))
    title = "open, let go" if answer.standing.let_go else "open, turns pressed home"
    above = ""
    if not _opens(answer):
        above = "will not open: no slot is left for the turns to sink"
        title = "stays flat"
    elif shape is None:
        above = "falls through: no rise, a turn finds nothing to bind on"
        title = "pushed down, turns hanging free"
    else:
        if answer.verdict.state_in_middle == SPRINGS_BACK:
            title += "; springs back when let go"
        if answer.verdict.state != answer.verdict.state_in_middle:
            title += "; every range at its middle"
        _measure_open(sheet, answer, units, pieces, (half, bottom, top))
        note = "the rim climbs about one drop in a turn: rise and mouth are means over the last turn"
        sheet.text(0, bottom - 20.5 * mm, note, size=8)
    if above:
        sheet.text(0, top + 6 * mm, above, size=10, weight="bold")
    room, lines = 2 * float(np.abs(sheet.axes.get_xlim()).min()) * sheet.scale, [title]
    if width_mm_of(title, 10, "bold") > room:  # what it is stands above what becomes of it
        lines = title.split("; ", 1)
    for k, line in enumerate(reversed(lines)):
        sheet.text(0, bottom - (16 - 4.4 * k) * mm, line, size=10, weight="bold")


def _measure_open(sheet: Sheet, answer: BowlFit, units: str, pieces: Pieces,
                  extent_mm: tuple[float, float, float]) -> None:  # fmt: skip
    shape, mm = answer.standing.shape, 1 / sheet.scale
    half, bottom, top = extent_mm
    turn, first = _corners(pieces, 1), _corners(pieces, 1, "left")
    if shape is None or turn is None:
        return
    sheet.line((-half, half + 7 * mm), (bottom, bottom), lw=0.8)  # the table
    sheet.upright((bottom, bottom + shape.rise_mm), half + 6 * mm, (half, half), "", side=1)
    words = (
        f"rise {show_length(shape.rise_mm, units=units)}"  # on a shallow bowl it stands on the table's line
    )
    middle = bottom + max(shape.rise_mm, (width_mm_of(words, 8.5) + 2) * mm) / 2
    sheet.text(half + 9.4 * mm, middle, words, rotation=90)
    left, right = -shape.rim_diameter_mm / 2, shape.rim_diameter_mm / 2
    direction = section_direction_rad(answer.rigid, answer.bowl.board.outline)
    mouth = told_extent_mm(answer.rigid, direction, round_mm=shape.rim_diameter_mm,
                           along_mm=shape.mouth_length_mm, across_mm=shape.mouth_width_mm)  # fmt: skip
    if answer.bowl.board.edge is not None:  # not as wide every way
        left, right = inner_rims_mm(pieces)
    rims = [max(float(p.outline_mm[3, 1]) for p in pieces if p.side in (side, "middle"))
            for side in ("left", "right")]  # fmt: skip
    sheet.level((left, right), top + 6 * mm, (rims[0], rims[1]),
                f"mouth, inside {show_length(mouth or right - left, units=units)}")  # fmt: skip
    # Slope: up to the rim's lower outer corner; the first turn sinks less, so it begins outside the base.
    from matplotlib.patches import Arc

    foot, radius, slope = float(pieces[0].outline_mm[1, 0]), 11 * mm, shape.wall_slope_rad
    foot = max(foot, half - shape.rise_mm / math.tan(slope))
    reach = max((half - foot) / math.cos(slope), 14 * mm)
    sheet.line((foot, foot + reach * math.cos(slope)), (bottom, bottom + reach * math.sin(slope)),
               ls=(0, (6, 2, 1, 2)), lw=0.6)  # fmt: skip
    arc = Arc((foot, bottom), 2 * radius, 2 * radius, theta2=math.degrees(slope), lw=0.6)
    sheet.axes.add_patch(arc)
    words = f"wall {math.degrees(slope):.0f} deg from level"
    # A wide base has its wall so far out that the words would run off the page.
    start = min(foot, sheet.axes.get_xlim()[1] - width_mm_of(words, 8.5) * mm)
    sheet.text(start, bottom - 6.3 * mm, words, ha="left")
    if first is not None:
        drop = float(first[0, 1]) - bottom
        outer = float(first[1, 0])
        x = outer - 4 * mm
        sheet.upright((bottom, bottom + drop), x, (x, outer), "", side=-1)
        sheet.line((x, x), (bottom, bottom - 4 * mm))
        even = np.ptp(answer.rigid.seats.seat_drop_mm) < 0.05
        stiff = f"seat drop {show_length(drop, units=units)}, {'each' if even else 'first'} turn"
        sinks = f"the first turn sinks {show_length(drop, units=units)} here"
        words = stiff if answer.elastic is None else sinks
        left = min(x - 3 * mm, -2 * mm - width_mm_of(words, 8.5) * mm)
        sheet.text(left, bottom - 6.3 * mm, words, ha="left")


def _seat_enlarged(figure: "Figure", answer: BowlFit, units: str, page_scale: float) -> None:
    """One seat flat and bound, the one with the least overlap met on the right of the section."""
    rigid, direction = answer.rigid, section_direction_rad(answer.rigid, answer.bowl.board.outline)
    flat = section_pieces(rigid, direction_rad=direction)
    turns = sum(p.side == "right" for p in flat)
    seat = int(np.argmin(rigid.seats.overlap[:turns]))
    inner, outer = (next(p for p in flat if p.turn == t and p.side != "left") for t in (seat, seat + 1))
    drop, half_T = float(rigid.seats.seat_drop_mm[seat]), float(outer.outline_mm[2, 1])
    bound = _opens(answer) and drop < 2 * half_T
    scale = 33 / (2 * half_T + (drop if bound else 0.0))
    slot = (float(inner.outline_mm[1:3, 0].mean()) + float(outer.outline_mm[[0, 3], 0].mean())) / 2
    left, size_mm = PAGE_WIDTH_mm - EDGE_mm - 82, 41.0
    enlarged = f"one stiff seat, {scale / page_scale:.1f} times the size above"
    write_on(figure, left, 67, enlarged, 10, weight="bold")
    for label, x0, sunk in (("seat flat", left, False), ("seat bound", left + size_mm, True)):
        origin = (x0 + size_mm / 2 - slot * scale, 20 + half_T * scale)
        sheet = wood_sheet(figure, label, (x0, 14, size_mm, 51), scale, origin)
        if sunk and not bound:
            sheet.text(slot, 0, "nothing left\nto bind on" if _opens(answer) else "will not open")
            continue
        lifted = outer.outline_mm + np.array([0.0, drop if sunk else 0.0])
        raised = SectionPiece(outer.turn, outer.side, lifted)
        for patch in sheet.pieces((inner, raised)):
            _show_between(sheet, patch, slot)
        _measure_seat(sheet, answer, units, (inner, raised), seat, sunk=sunk)


def _show_between(sheet: Sheet, patch: "Patch", slot_mm: float) -> None:
    from matplotlib.patches import Rectangle

    reach = 11 / sheet.scale
    window = Rectangle((slot_mm - reach, -1e4), 2 * reach, 2e4, transform=sheet.axes.transData)
    patch.set_clip_path(window)


def _measure_seat(sheet: Sheet, answer: BowlFit, units: str, pair: Pieces, seat: int, *,
                  sunk: bool) -> None:  # fmt: skip
    seats, mm = answer.rigid.seats, 1 / sheet.scale
    (inner, outer), bottom = (p.outline_mm for p in pair), float(pair[0].outline_mm[0, 1])
    edge, near = float(inner[2, 0]), float(outer[3, 0])
    sheet.text((edge + near) / 2, bottom - 3 * mm, "bound" if sunk else "flat")
    if not sunk:
        left = max(float(seats.slot_left_mm[seat]), 0.0)
        words = f"slot {show_length(left, units=units, fine=True)}" if left else "no slot left"
        top = float(inner[2, 1])
        sheet.level((edge, max(near, edge)), top + 3 * mm, (top, top), words, above=True)
        return
    face = float(outer[0, 0])
    sheet.line((edge, face), (float(inner[2, 1]), float(outer[0, 1])), lw=2.2)
    sheet.upright((float(outer[0, 1]), float(inner[2, 1])), edge + 14 * mm, (face, edge),
                  f"overlap {_percent(float(seats.overlap[seat]))}", side=1)  # fmt: skip
    words = f"seat drop {show_length(float(seats.seat_drop_mm[seat]), units=units)}"
    tops = (float(inner[2, 1]), float(outer[2, 1]))
    sheet.upright(tops, edge - 13 * mm, (edge - 11 * mm, near), words, side=-1)


def _percent(share: float) -> str:
    if share <= 0 or not math.isfinite(share):
        return "none" if share < 0 else "0 %"
    if share < 1e-4:
        return "under 0.01 %"
    return f"{100 * share:.0f} %" if share >= 0.1 else f"{100 * share:.2g} %"


def margin_words(margin: Margin, *, units: str) -> tuple[str, str]:
    """Say a number with its limit, and its range or nothing.

    Parameters
    ----------
    margin : Margin
        From the verdict.
    units : str
        "in" or "mm".

    Returns
    -------
    tuple[str, str]
        For example ("overlap 58 %, at least 15 %", "worst 43 %, best 58 %").
    """

    def show(number: float) -> str:
        if number == math.inf:
            return "lets go"
        if margin.unit:
            return show_length(number, units=units, fine=True)
        if number == margin.limit or _percent(number) != _percent(margin.limit):
            return _percent(number)
        return f"{share_beside(100 * number, 100 * margin.limit)} %"

    sides = {WILL_NOT_OPEN: "more than", FALLS_THROUGH: "at least", SPRINGS_BACK: "at most"}
    limit = sides.get(margin.state, "below")
    least = show(margin.limit) if margin.limit else "0"
    words = f"{margin.quantity} {show(margin.value)}, {limit} {least}"
    worst, best = show(margin.worst), show(margin.best)
    return words, "" if worst == best else f"worst {worst}, best {best}"


def _margin_bars(figure: "Figure", answer: BowlFit, units: str) -> None:
    verdict = answer.verdict
    left, bottom, width, row = EDGE_mm + 31, 14.0, 78.0, 12.0
    axes = page_axes(figure, "margins", (left, bottom, width, 4 * row))
    axes.set(xlim=(0, AXIS_END), ylim=(-3.5, 0.5), yticks=[], xticks=[])
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)
    axes.axvline(1.0, color="black", lw=1.6, zorder=4)
    write_on(figure, EDGE_mm, 67, "how much of each limit is used", 10, weight="bold")
    write_on(figure, EDGE_mm + 66, 67, "bar: middle of the ranges; line: from best to worst", 8)
    write_on(figure, left + width / AXIS_END, 63.2, "limit", 8.5, ha="center", weight="bold")
    slot_cut_mm = float(answer.rigid.slot.slot_mm.max())
    for rank, margin in enumerate(verdict.margins):
        failed = margin.at_worst + margin.at_best
        word = tuple(BARS)[failed]
        _bar(axes, -rank, limit_shares(margin, slot_cut_mm=slot_cut_mm), word)
        y = bottom + (3.5 - rank) * row
        words, ends_words = margin_words(margin, units=units)
        write_on(figure, left - 2, y, margin.state, 9.5, ha="right", va="center")
        x = left + width + 3
        write_on(figure, x, y + 1.2, word, 9, weight="bold" if failed else "normal", va="baseline")
        write_on(figure, x + 16, y + 1.2, words, 8.5, va="baseline")
        write_on(figure, x + 16, y - 3.2, ends_words, 8, va="baseline")


def _bar(axes: "Axes", y: float, shares: LimitShares, word: str) -> None:
    """Bar to the middle value, whisker between the ends; an arrow where they run off the axis."""
    tone, hatch = BARS[word]
    middle, worst, best = (min(max(s, 0.0), AXIS_END) for s in (shares.middle, shares.worst, shares.best))
    axes.barh(y, middle, 0.46, color=tone, edgecolor="black", hatch=hatch, lw=0.7, zorder=2)
    if worst > best:
        axes.plot((best, worst), (y, y), color="black", lw=1.1, zorder=5, marker="|", ms=7)
    if max(shares.middle, shares.worst) > AXIS_END:
        arrow = {"arrowstyle": "-|>", "lw": 1.1, "color": "black", "mutation_scale": 11}
        axes.annotate("", (AXIS_END * 1.035, y), (AXIS_END * 0.94, y), annotation_clip=False,
                      arrowprops=arrow)  # fmt: skip
