"""Pictures: the section flat and open at one scale, the margins, and the bowl opening.

Nothing is worked out here but places on a page of 297 x 210 mm. Figures are returned, never shown,
and files are written whole or not at all, the same bytes for the same answer.
"""

import math
import secrets
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fitsim.errors import InputError, Problem
from fitsim.fit import BowlFit
from fitsim.quantities import show_length
from fitsim.section import SectionPiece, section_pieces
from fitsim.settle import Frame
from fitsim.verdict import (
    FALLS_THROUGH,
    SPRINGS_BACK,
    WILL_NOT_OPEN,
    DecidingNumbers,
    Margin,
    happens,
)
from fitsim.wording import dependence_sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "PICTURE_ENDINGS", "LimitShares", "bowl_figure", "check_target", "limit_shares",
    "moving_picture", "write_picture",
]  # fmt: skip

Array = NDArray[np.float64]
Pieces = tuple[SectionPiece, ...]
PICTURE_ENDINGS = (".svg", ".png", ".pdf")
FOOTER = (
    "rigid closed form; hold and split are first estimates; not seen: knots, checks, wild grain"
)
PAGE_WIDTH_mm, PAGE_HEIGHT_mm, EDGE_mm = 297.0, 210.0, 12.0
POINT_mm = 25.4 / 72
AXIS_END = 1.5  # the margins' axis ends at one and a half times the limit; longer bars get an arrow
BASE_TONE, TURN_TONE, NEXT_TONE, GRAIN_TONE = "#d8b173", "#f4e6c8", "#e6cd9a", "#8c7048"
BARS = {  # word: tone and hatch; the word stands beside the bar, so nothing hangs on colour
    "clear": ("#c7dbe8", ""),
    "may fail": ("#f0b35a", "////"),
    "fails": ("#b9502a", "xxxx"),
}
_STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "text.usetex": False,
    "text.parse_math": False,  # a bowl may be called "$5 bowl"
    "axes.unicode_minus": False,
    "hatch.linewidth": 0.4,
    "svg.fonttype": "none",
    "svg.hashsalt": "fitsim",
    "pdf.fonttype": 42,
    "savefig.bbox": None,
    "savefig.facecolor": "white",
    "figure.facecolor": "white",
}


@contextmanager
def _house_style() -> Iterator[None]:
    """Draw alike on every machine; a letter the font lacks becomes a box, not a warning."""
    import matplotlib

    with matplotlib.rc_context(_STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


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
    >>> limit_shares(Margin("falls through", "overlap", "", 0.6, 0.15, 0.45, 0.1, 0.75),
    ...              slot_cut_mm=0.7)
    LimitShares(middle=0.25, worst=1.5, best=0.2)
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


# --- the page, in mm from its lower left corner ---------------------------------------------------


@dataclass(frozen=True)
class _Sheet:
    """Axes in mm of wood, and how many mm of page one of them takes."""

    axes: "Axes"
    scale: float

    def text(self, x: float, z: float, text: str, **style: Any) -> None:
        self.axes.text(x, z, text, **{"size": 8.5, "ha": "center", "va": "center", **style})

    def line(self, xs: tuple[float, ...], zs: tuple[float, ...], **style: Any) -> None:
        self.axes.plot(xs, zs, **{"color": "black", "lw": 0.5, "clip_on": False, **style})

    def arrow(self, tail: tuple[float, float], tip: tuple[float, float], style: str) -> None:
        self.axes.annotate(
            "", tip, tail, annotation_clip=False,
            arrowprops={"arrowstyle": style, "lw": 0.6, "shrinkA": 0, "shrinkB": 0,
                        "mutation_scale": 7, "color": "black"},
        )  # fmt: skip

    def pieces(self, pieces: Iterable[SectionPiece], *, dashed: bool = False) -> list[Any]:
        """Wood: tone and hatch inside, a dark outline over them."""
        from matplotlib.patches import Polygon

        patches = []
        for piece in pieces:
            tone, hatch = (BASE_TONE, "\\\\\\\\") if piece.turn == 0 else (TURN_TONE, "////")
            fill = Polygon(piece.outline_mm, fc=tone, ec=GRAIN_TONE, hatch=hatch, lw=0)
            edge = Polygon(piece.outline_mm, fill=False, lw=0.4, ls="--" if dashed else "-")
            patches += [self.axes.add_patch(fill), self.axes.add_patch(edge)]
        return patches

    def level(self, ends: tuple[float, float], z_line: float, z_from: tuple[float, float],
              text: str, *, above: bool = False) -> None:  # fmt: skip
        """Level dimension, extension lines from ``z_from``; the text aside where it has no room."""
        (left, right), tail = ends, 5 / self.scale
        over = math.copysign(1 / self.scale, z_line - z_from[0])
        box = {"facecolor": "white", "edgecolor": "none", "pad": 1.2}
        for x, z in zip(ends, z_from, strict=True):
            self.line((x, x), (z, z_line + over))
        if (right - left) * self.scale >= _width_mm(text, 8.5) + 6 and not above:
            self.arrow((left, z_line), (right, z_line), "<|-|>")
            self.text((left + right) / 2, z_line, text, bbox=box)
            return
        self._from_outside((left, z_line), (right, z_line), (tail, 0.0))
        if above:
            self.text((left + right) / 2, z_line + 2.8 / self.scale, text)
        else:
            self.text(right + tail + 1 / self.scale, z_line, text, ha="left", bbox=box)

    def upright(self, ends: tuple[float, float], x_line: float, x_from: tuple[float, float],
                text: str, *, side: float) -> None:  # fmt: skip
        """Upright dimension with its text turned, on the outer side (-1 left, 1 right)."""
        (low, high), over = ends, side / self.scale
        for x, z in zip(x_from, ends, strict=True):
            self.line((x, x_line + over), (z, z))
        if (high - low) * self.scale >= 6:
            self.arrow((x_line, low), (x_line, high), "<|-|>")
        else:
            self._from_outside((x_line, low), (x_line, high), (0.0, 4 / self.scale))
        if text:
            self.text(x_line + 3.4 * over, (low + high) / 2, text, rotation=90)

    def _from_outside(self, first: tuple[float, float], second: tuple[float, float],
                      tail: tuple[float, float]) -> None:  # fmt: skip
        self.arrow((first[0] - tail[0], first[1] - tail[1]), first, "-|>")
        self.arrow((second[0] + tail[0], second[1] + tail[1]), second, "-|>")
        self.line((first[0], second[0]), (first[1], second[1]))


def _width_mm(text: str, size_pt: float, weight: str = "normal") -> float:
    """Measure one printed line of text."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight=weight)))
    font.set_size(size_pt, 72)  # at 72 dots an inch a dot is a point; the font counts in 1/64
    font.set_text(text)
    return float(font.get_width_height()[0]) / 64 * POINT_mm


def _wrapped(text: str, width_mm: float, size_pt: float, weight: str = "normal") -> list[str]:
    """Break text into lines no wider than the page allows, inside a word only where one must."""
    lines = [""]
    for word in text.split():
        if _width_mm(f"{lines[-1]} {word}", size_pt, weight) <= width_mm:
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        lines.append("")
        for letter in word:
            if _width_mm(lines[-1] + letter, size_pt, weight) > width_mm:
                lines.append("")
            lines[-1] += letter
    return [line for line in lines if line]


def _write(
    figure: "Figure", x_mm: float, y_mm: float, text: str, size: float, **style: Any
) -> None:
    figure.text(x_mm / PAGE_WIDTH_mm, y_mm / PAGE_HEIGHT_mm, text, size=size, **style)


def _sheet(figure: "Figure", label: str, page_mm: tuple[float, float, float, float], scale: float,
           origin_mm: tuple[float, float]) -> _Sheet:  # fmt: skip
    """Axes over (left, bottom, width, height) with 0, 0 of the wood at ``origin`` of the page."""
    left, bottom, width, height = page_mm
    axes = _axes(figure, label, page_mm)
    x0, z0 = (left - origin_mm[0]) / scale, (bottom - origin_mm[1]) / scale
    axes.set(xlim=(x0, x0 + width / scale), ylim=(z0, z0 + height / scale))
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_axis_off()
    return _Sheet(axes, scale)


def _axes(figure: "Figure", label: str, page_mm: tuple[float, float, float, float]) -> "Axes":
    left, bottom, width, height = page_mm
    size = (PAGE_WIDTH_mm, PAGE_HEIGHT_mm)
    return figure.add_axes(
        (left / size[0], bottom / size[1], width / size[0], height / size[1]), label=label
    )


# --- one page for one bowl ------------------------------------------------------------------------


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
        A page of 297 x 210 mm; save it with :func:`write_picture`.
    """
    from matplotlib.figure import Figure

    with _house_style():
        figure = Figure(figsize=(PAGE_WIDTH_mm / 25.4, PAGE_HEIGHT_mm / 25.4))
        top_mm = _heading(figure, answer, units)
        scale = _sections(figure, answer, units, top_mm)
        _margin_bars(figure, answer, units)
        _seat_enlarged(figure, answer, units, scale)
        _write(figure, EDGE_mm, 7.5, FOOTER, 8)
    return figure


def _heading(figure: "Figure", answer: BowlFit, units: str) -> float:
    """Name, verdict, what it depends on, the facts; returns the page height left below."""
    bowl, verdict = answer.bowl, answer.verdict
    width = PAGE_WIDTH_mm - 2 * EDGE_mm
    name = " ".join(bowl.name.split())
    size = next((s for s in (15, 13, 11) if _width_mm(name, s, "bold") <= width), 10)
    y = PAGE_HEIGHT_mm - 15
    lines = _wrapped(name, width, size, "bold")
    for line in lines if len(lines) < 3 else (lines[0], lines[1][:-3] + "..."):
        _write(figure, EDGE_mm, y, line, size, weight="bold")
        y -= 6
    y -= 5
    _write(figure, EDGE_mm, y, verdict.state, 27, weight="bold")
    if verdict.state != verdict.state_at_best:
        x = EDGE_mm + _width_mm(verdict.state, 27, "bold") + 6
        best = f"at the worst of the ranges; at the best: {verdict.state_at_best}"
        _write(figure, x, y, best, 12)
    y -= 7
    tilts = sorted({f"{math.degrees(t):.3g}" for t in bowl.cut.tilt_rad}, key=float)
    kerfs = dict.fromkeys(show_length(k, units=units, fine=True) for k in bowl.cut.kerf_mm)
    facts = (
        f"{bowl.board.wood.name}; {bowl.board.outline} board; "
        f"table tilted {' / '.join(tilts)} deg, kerf {' / '.join(kerfs)}, "
        f"{answer.rigid.strip.turns:.1f} turns to the nail; finish: {bowl.use.finish}"
    )
    for text in (dependence_sentence(verdict.depends_on, units=units), facts):
        for line in _wrapped(text, width, 9.5)[:4]:
            _write(figure, EDGE_mm, y, line, 9.5)
            y -= 4.8
    return y


def _opens(answer: BowlFit) -> bool:
    return not happens(WILL_NOT_OPEN, answer.rigid.numbers, answer.bowl.limits)


def _direction_rad(answer: BowlFit) -> float:
    """Through the middles of a square board's sides; square to the root on a round one."""
    if answer.bowl.board.outline == "round":
        return math.pi / 2
    direction = math.fmod(float(answer.rigid.slot.angle_rad[-1]) + math.pi / 2, math.pi)
    return direction if 0.05 < direction < math.pi - 0.05 else math.pi / 2


def _sections(figure: "Figure", answer: BowlFit, units: str, top_mm: float) -> float:
    rigid, direction = answer.rigid, _direction_rad(answer)
    flat = section_pieces(rigid, opened=False, direction_rad=direction)
    pressed = section_pieces(rigid, opened=_opens(answer), direction_rad=direction)
    across, half_T = answer.bowl.board.across_mm, -float(flat[0].outline_mm[0, 1])
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
        sheet = _sheet(figure, label, page, scale, (centre, table_mm + half_T * scale))
        draw(sheet, answer, units, pieces)
    return scale


def _corners(pieces: Iterable[SectionPiece], turn: int, side: str = "right") -> Array | None:
    return next((p.outline_mm for p in pieces if (p.turn, p.side) == (turn, side)), None)


def _draw_flat(sheet: _Sheet, answer: BowlFit, units: str, pieces: Pieces) -> None:
    from matplotlib.patches import Rectangle

    board, mm = answer.bowl.board, 1 / sheet.scale
    base = pieces[0].outline_mm
    bottom, top, half = float(base[0, 1]), float(base[2, 1]), board.across_mm / 2
    blank = Rectangle((-half, bottom), 2 * half, top - bottom, fill=False, lw=0.5, ls=(0, (3, 2)))
    sheet.axes.add_patch(blank)  # shows where the board went beyond the trimmed end
    sheet.pieces(pieces)
    sheet.upright((bottom, top), -half - 4 * mm, (-half, -half),
                  f"thickness {show_length(board.thickness_mm, units=units)}", side=-1)  # fmt: skip
    width = float(base[1, 0] - base[0, 0])
    sheet.level((float(base[0, 0]), float(base[1, 0])), bottom - 5 * mm, (bottom, bottom),
                f"base on the table {show_length(width, units=units)}")  # fmt: skip
    sheet.level((-half, half), bottom - 11 * mm, (bottom, bottom),
                f"board across {show_length(board.across_mm, units=units)}")  # fmt: skip
    outer, last = _corners(pieces, 2), _corners(pieces, 1)
    if outer is not None and last is not None:
        # Slot centres at the top face, either side of the first turn: one pitch apart.
        first = (float(base[2, 0]) + float(last[3, 0])) / 2
        second = (float(last[2, 0]) + float(outer[3, 0])) / 2
        words = f"pitch {show_length(answer.bowl.cut.pitch_mm, units=units)}"
        sheet.level((first, second), top + 4.5 * mm, (top, top), words, above=True)
    sheet.text(0, bottom - 16 * mm, "flat", weight="bold", size=10)
    sheet.text(0, bottom - 20.5 * mm, "dashed: the board before it was trimmed at the nail", size=8)


def _draw_open(sheet: _Sheet, answer: BowlFit, units: str, pieces: Pieces) -> None:
    shape, mm = answer.rigid.shape, 1 / sheet.scale
    bottom = float(pieces[0].outline_mm[0, 1])
    top = max(float(p.outline_mm[:, 1].max()) for p in pieces)
    half = max(float(np.abs(p.outline_mm[:, 0]).max()) for p in pieces)
    sheet.pieces(pieces, dashed=shape is None or not _opens(answer))
    title, style = "open, turns pressed home", {"weight": "bold", "size": 10}
    if not _opens(answer):
        sheet.text(0, top + 6 * mm, "will not open: no slot is left for the turns to sink", **style)
        title = "stays flat"
    elif shape is None:
        words = "falls through: no rise, a turn finds nothing to bind on"
        sheet.text(0, top + 6 * mm, words, **style)
        title = "pushed down, turns hanging free"
    else:
        if happens(SPRINGS_BACK, answer.rigid.numbers, answer.bowl.limits):
            title += "; springs back when let go"
        if answer.verdict.state != answer.verdict.state_in_middle:
            title += "; every range at its middle"
        _measure_open(sheet, answer, units, pieces, (half, bottom, top))
        note = "the rim climbs one seat drop in a turn: rise and mouth are means over the last turn"
        sheet.text(0, bottom - 20.5 * mm, note, size=8)
    sheet.text(0, bottom - 16 * mm, title, **style)


def _measure_open(sheet: _Sheet, answer: BowlFit, units: str, pieces: Pieces,
                  extent_mm: tuple[float, float, float]) -> None:  # fmt: skip
    shape, mm = answer.rigid.shape, 1 / sheet.scale
    half, bottom, top = extent_mm
    turn, first = _corners(pieces, 1), _corners(pieces, 1, "left")
    if shape is None or turn is None:
        return
    sheet.line((-half, half + 7 * mm), (bottom, bottom), lw=0.8)  # the table
    sheet.upright((bottom, bottom + shape.rise_mm), half + 6 * mm, (half, half),
                  f"rise {show_length(shape.rise_mm, units=units)}", side=1)  # fmt: skip
    mouth = shape.rim_diameter_mm / 2
    rims = [max(float(p.outline_mm[3, 1]) for p in pieces if p.side in (side, "middle"))
            for side in ("left", "right")]  # fmt: skip
    sheet.level((-mouth, mouth), top + 6 * mm, (rims[0], rims[1]),
                f"mouth, inside {show_length(shape.rim_diameter_mm, units=units)}")  # fmt: skip
    # Slope: the line through the lower outer corners, from the base's.
    from matplotlib.patches import Arc

    foot, radius, slope = float(pieces[0].outline_mm[1, 0]), 11 * mm, shape.wall_slope_rad
    reach = max((half - foot) / math.cos(slope), 14 * mm)
    sheet.line((foot, foot + reach * math.cos(slope)), (bottom, bottom + reach * math.sin(slope)),
               ls=(0, (6, 2, 1, 2)), lw=0.6)  # fmt: skip
    arc = Arc((foot, bottom), 2 * radius, 2 * radius, theta2=math.degrees(slope), lw=0.6)
    sheet.axes.add_patch(arc)
    sheet.text(foot, bottom - 6.3 * mm, f"wall {math.degrees(slope):.0f} deg from level", ha="left")
    if first is not None:
        drop = float(answer.rigid.seats.seat_drop_mm[0])
        outer = float(first[1, 0])
        x = outer - 4 * mm
        sheet.upright((bottom, bottom + drop), x, (x, outer), "", side=-1)
        sheet.line((x, x), (bottom, bottom - 4 * mm))
        even = np.ptp(answer.rigid.seats.seat_drop_mm) < 0.05
        words = f"seat drop {show_length(drop, units=units)}, {'each' if even else 'first'} turn"
        left = min(x - 3 * mm, -2 * mm - _width_mm(words, 8.5) * mm)
        sheet.text(left, bottom - 6.3 * mm, words, ha="left")


def _seat_enlarged(figure: "Figure", answer: BowlFit, units: str, page_scale: float) -> None:
    """One seat flat and bound, the one with the least overlap met on the right of the section."""
    rigid, direction = answer.rigid, _direction_rad(answer)
    flat = section_pieces(rigid, opened=False, direction_rad=direction)
    turns = sum(p.side == "right" for p in flat)
    seat = int(np.argmin(rigid.seats.overlap[:turns]))
    inner, outer = (
        next(p for p in flat if p.turn == t and p.side != "left") for t in (seat, seat + 1)
    )
    drop, half_T = float(rigid.seats.seat_drop_mm[seat]), float(outer.outline_mm[2, 1])
    bound = _opens(answer) and drop < 2 * half_T
    scale = 33 / (2 * half_T + (drop if bound else 0.0))
    slot = (float(inner.outline_mm[1:3, 0].mean()) + float(outer.outline_mm[[0, 3], 0].mean())) / 2
    left, size_mm = PAGE_WIDTH_mm - EDGE_mm - 82, 41.0
    enlarged = f"one seat, {scale / page_scale:.1f} times the size above"
    _write(figure, left, 67, enlarged, 10, weight="bold")
    for label, x0, sunk in (("seat flat", left, False), ("seat bound", left + size_mm, True)):
        origin = (x0 + size_mm / 2 - slot * scale, 20 + half_T * scale)
        sheet = _sheet(figure, label, (x0, 14, size_mm, 51), scale, origin)
        if sunk and not bound:
            sheet.text(slot, 0, "nothing left\nto bind on" if _opens(answer) else "will not open")
            continue
        lifted = outer.outline_mm + np.array([0.0, drop if sunk else 0.0])
        raised = SectionPiece(outer.turn, outer.side, lifted)
        for patch in sheet.pieces((inner, raised)):
            _show_between(sheet, patch, slot)
        _measure_seat(sheet, answer, units, (inner, raised), seat, sunk=sunk)


def _show_between(sheet: _Sheet, patch: Any, slot_mm: float) -> None:
    from matplotlib.patches import Rectangle

    reach = 11 / sheet.scale
    window = Rectangle((slot_mm - reach, -1e4), 2 * reach, 2e4, transform=sheet.axes.transData)
    patch.set_clip_path(window)


def _measure_seat(sheet: _Sheet, answer: BowlFit, units: str, pair: Pieces, seat: int, *,
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


def _margin_words(margin: Margin, units: str) -> tuple[str, str]:
    """Say a number with its limit, and its range or nothing."""

    def show(number: float) -> str:
        if margin.unit:
            return show_length(number, units=units, fine=True)
        near = number != margin.limit and _percent(number) == _percent(margin.limit)
        return f"{100 * number:.2f} %" if near else _percent(number)

    limit = {WILL_NOT_OPEN: "more than", FALLS_THROUGH: "at least"}.get(margin.state, "below")
    least = show(margin.limit) if margin.limit else "0"
    words = f"{margin.quantity} {show(margin.value)}, {limit} {least}"
    worst, best = show(margin.worst), show(margin.best)
    return words, "" if worst == best else f"worst {worst}, best {best}"


def _margin_bars(figure: "Figure", answer: BowlFit, units: str) -> None:
    verdict, limits = answer.verdict, answer.bowl.limits
    left, bottom, width, row = EDGE_mm + 31, 14.0, 78.0, 12.0
    axes = _axes(figure, "margins", (left, bottom, width, 4 * row))
    axes.set(xlim=(0, AXIS_END), ylim=(-3.5, 0.5), yticks=[], xticks=[])
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)
    axes.axvline(1.0, color="black", lw=1.6, zorder=4)
    _write(figure, EDGE_mm, 67, "how much of each limit is used", 10, weight="bold")
    _write(figure, EDGE_mm + 66, 67, "bar: middle of the ranges; line: from best to worst", 8)
    _write(figure, left + width / AXIS_END, 63.2, "limit", 8.5, ha="center", weight="bold")
    worst, best = (DecidingNumbers(*(getattr(m, end) for m in verdict.margins))
                   for end in ("worst", "best"))  # fmt: skip
    slot_cut_mm = float(answer.rigid.slot.slot_mm.max())
    for rank, margin in enumerate(verdict.margins):
        failed = sum(happens(margin.state, numbers, limits) for numbers in (worst, best))
        word = tuple(BARS)[failed]
        _bar(axes, -rank, limit_shares(margin, slot_cut_mm=slot_cut_mm), word)
        y = bottom + (3.5 - rank) * row
        words, ends_words = _margin_words(margin, units)
        _write(figure, left - 2, y, margin.state, 9.5, ha="right", va="center")
        x = left + width + 3
        _write(figure, x, y + 1.2, word, 9, weight="bold" if failed else "normal", va="baseline")
        _write(figure, x + 16, y + 1.2, words, 8.5, va="baseline")
        _write(figure, x + 16, y - 3.2, ends_words, 8, va="baseline")


def _bar(axes: "Axes", y: float, shares: LimitShares, word: str) -> None:
    """Bar to the middle value, whisker between the ends; an arrow where they run off the axis."""
    tone, hatch = BARS[word]
    middle, worst, best = (
        min(max(s, 0.0), AXIS_END) for s in (shares.middle, shares.worst, shares.best)
    )
    axes.barh(y, middle, 0.46, color=tone, edgecolor="black", hatch=hatch, lw=0.7, zorder=2)
    if worst > best:
        axes.plot((best, worst), (y, y), color="black", lw=1.1, zorder=5, marker="|", ms=7)
    if max(shares.middle, shares.worst) > AXIS_END:
        arrow = {"arrowstyle": "-|>", "lw": 1.1, "color": "black", "mutation_scale": 11}
        axes.annotate("", (AXIS_END * 1.035, y), (AXIS_END * 0.94, y), annotation_clip=False,
                      arrowprops=arrow)  # fmt: skip


# --- files ----------------------------------------------------------------------------------------


def check_target(
    path: str | Path, *, replace: bool, endings: tuple[str, ...] = PICTURE_ENDINGS
) -> None:
    """Refuse a file that could not be written, before any work is done.

    Parameters
    ----------
    path : str or pathlib.Path
        Where the picture is to go.
    replace : bool
        True if an existing file may be overwritten.
    endings : tuple[str, ...]
        Endings understood, with their point.

    Raises
    ------
    InputError
        If the ending is another one, the file exists, or its folder does not.
    """
    path = Path(path)
    if path.suffix.lower() not in endings:
        raise _refused(path, f"a name ending in {', '.join(endings)}", "change the ending")
    if path.is_dir() or (path.exists() and not replace):
        raise _refused(path, "a name not yet taken", "choose another name, or allow replacing")
    if not path.parent.is_dir():
        raise _refused(path, "a folder that exists", "make the folder first or choose another")


def _refused(path: Path, expected: str, remedy: str) -> InputError:
    return InputError(Problem(str(path), "picture", "", expected, remedy))


def _written_whole(path: Path, save: Callable[[Path], None]) -> None:
    """Save under a passing name in the same folder, then rename: never half a picture."""
    passing = path.with_name(f".{secrets.token_hex(6)}{path.suffix}")
    try:
        save(passing)
        passing.replace(path)
    except OSError as error:
        reason = (error.strerror or "refused").lower()
        place = f"a place that can be written ({reason})"
        raise _refused(path, place, "choose another folder") from None
    finally:
        passing.unlink(missing_ok=True)


def write_picture(figure: "Figure", path: str | Path, *, replace: bool) -> None:
    """Write a figure; the ending decides the format, and the same figure gives the same bytes.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From :func:`bowl_figure`.
    path : str or pathlib.Path
        Ending in .svg (text stays text), .png or .pdf (fonts embedded).
    replace : bool
        True if an existing file may be overwritten.

    Raises
    ------
    InputError
        If the file exists, cannot be written, or has another ending.
    """
    path = Path(path)
    check_target(path, replace=replace)
    kind = path.suffix.lower()[1:]
    dates = {"svg": "Date", "pdf": "CreationDate", "png": "Software"}
    undated = {dates[kind]: None}
    with _house_style():
        _written_whole(path, lambda to: figure.savefig(to, format=kind, dpi=200, metadata=undated))


# --- the bowl opening -----------------------------------------------------------------------------

LEAST_FRAMES, MOST_FRAMES = 40, 72
PICTURE_WIDTH_px, FINER = 720, 3


def moving_picture(
    frames: tuple[Frame, ...], path: str | Path, *, replace: bool, units: str
) -> None:
    """Write the bowl opening as a GIF, axes fixed and true to proportion.

    At most 72 frames, evenly spread from the first to the one after which nothing moves by more
    than half a dot (40 at least, where so many were recorded); the last is held. None is made up.

    Parameters
    ----------
    frames : tuple[Frame, ...]
        From the rigid-body check.
    path : str or pathlib.Path
        Ending in .gif.
    replace : bool
        True if an existing file may be overwritten.
    units : str
        "in" or "mm".

    Raises
    ------
    InputError
        If there are no frames, or the file exists, cannot be written, or has another ending.
    """
    path = Path(path)
    check_target(path, replace=replace, endings=(".gif",))
    if not frames:
        raise _refused(path, "recorded frames", "record the rigid-body check")
    corners = np.concatenate([p for frame in frames for p in frame.polygons])
    low, high = corners.min(axis=0), corners.max(axis=0)
    scale = (PICTURE_WIDTH_px - 40) / float(high[0] - low[0])  # dots for one mm, both ways
    kept = _moving_frames(frames, 0.5 / scale)
    images = [_frame_image(frame, low, high, scale, units) for frame in kept]
    held = [50] * (len(images) - 1) + [1500]
    _written_whole(path, lambda to: images[0].save(
        to, format="GIF", save_all=True, append_images=images[1:], duration=held, loop=0,
    ))  # fmt: skip


def _moving_frames(frames: tuple[Frame, ...], still_mm: float) -> list[Frame]:
    last = np.concatenate(frames[-1].polygons)
    away = [float(np.abs(np.concatenate(f.polygons) - last).max()) for f in frames]
    end = max((i + 1 for i, far in enumerate(away) if far > still_mm), default=0)
    end = max(end, min(LEAST_FRAMES, len(frames)) - 1)
    chosen = np.linspace(0, end, min(end + 1, MOST_FRAMES)).round().astype(int)
    return [frames[i] for i in chosen.tolist()]


def _frame_image(frame: Frame, low: Array, high: Array, scale: float, units: str) -> Any:
    """One frame, drawn three times finer and scaled down so that edges are smooth."""
    from PIL import Image, ImageDraw, ImageFont

    height = math.ceil(float(high[1] - low[1]) * scale) + 70
    image = Image.new("RGB", (PICTURE_WIDTH_px * FINER, height * FINER), "white")
    pen = ImageDraw.Draw(image)
    sunk = 0.0
    for outline, ring in zip(frame.polygons, frame.rings, strict=True):
        across, down = outline[:, 0] - low[0], high[1] - outline[:, 1]
        dots = (np.stack([across, down], axis=1) * scale + 20) * FINER
        tone = BASE_TONE if ring == 0 else TURN_TONE if ring % 2 else NEXT_TONE
        corners = [(float(x), float(y)) for x, y in dots]
        pen.polygon(corners, fill=tone, outline="black", width=FINER)
        sunk = max(-float(outline[:, 1].mean()), 0.0) if ring == 0 else sunk
    unit, bar_mm = ("1 in", 25.4) if units == "in" else ("20 mm", 20.0)
    y, font = (height - 22) * FINER, ImageFont.load_default(15 * FINER)
    pen.line([(20 * FINER, y), ((20 + bar_mm * scale) * FINER, y)], fill="black", width=3 * FINER)
    pen.text(((30 + bar_mm * scale) * FINER, y), unit, fill="black", font=font, anchor="lm")
    words = f"base sunk {show_length(sunk, units=units)}"
    pen.text(((PICTURE_WIDTH_px - 20) * FINER, y), words, fill="black", font=font, anchor="rm")
    return image.resize((PICTURE_WIDTH_px, height), Image.Resampling.LANCZOS).quantize(48)
