"""The section of one bowl, open above and flat below, as a light SVG for a screen.

The outlines are those of the printed page (:mod:`fitsim.section`); only the writing is other: drawn anew at
every move of a control, it must take milliseconds. Colours and letters are left to the page's style sheet.
"""

import math
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

import numpy as np

from fitsim.fit import BowlFit
from fitsim.quantities import show_length
from fitsim.section import (
    SectionPiece,
    board_half_mm,
    inner_rims_mm,
    section_direction_rad,
    section_pieces,
)
from fitsim.verdict import SPRINGS_BACK, WILL_NOT_OPEN, happens

__all__ = ["NARROWEST_px", "WIDEST_px", "section_svg"]

NARROWEST_px, WIDEST_px = 240, 2000
NARROW_px = 600.0
"""Narrower than this, the drawing says less: the page says the rest beside it."""

LETTERS_px, ROW_px = 15.0, 25.5
MOST_HEIGHT_px = 400.0
"""Wood of both sections, flat and open, on top of each other, takes no more than this."""

Pieces = tuple[SectionPiece, ...]


@dataclass
class _Screen:
    """Collects shapes; x from the axis and z from the base's mid-thickness in mm of wood."""

    scale: float
    middle_px: float
    level_px: float
    shapes: list[str] = field(default_factory=list)

    def at(self, x_mm: float, z_mm: float) -> tuple[float, float]:
        return self.middle_px + x_mm * self.scale, self.level_px - z_mm * self.scale

    def wood(self, pieces: Pieces, *, loose: bool = False) -> None:
        for piece in pieces:
            corners = " ".join("{:.1f},{:.1f}".format(*self.at(x, z)) for x, z in piece.outline_mm.tolist())
            kind = "base" if piece.turn == 0 else "turn"
            self.shapes.append(f'<polygon class="{kind}{" loose" if loose else ""}" points="{corners}"/>')

    def line(self, start: tuple[float, float], end: tuple[float, float], kind: str = "measure") -> None:
        (x1, y1), (x2, y2) = start, end
        self.shapes.append(f'<path class="{kind}" d="M{x1:.1f},{y1:.1f}L{x2:.1f},{y2:.1f}"/>')

    def text(
        self, x_px: float, y_px: float, words: str, *, kind: str = "middle", turned: bool = False
    ) -> None:
        turn = f' transform="rotate(-90 {x_px:.1f} {y_px:.1f})"' if turned else ""
        self.shapes.append(
            f'<text class="{kind}" x="{x_px:.1f}" y="{y_px:.1f}"{turn}>{escape(words)}</text>'
        )

    def level(self, left_mm: float, right_mm: float, y_px: float, from_px: float, words: str) -> None:
        """A level measure with ticks; ``y_px`` is the line's, the words stand just above it."""
        left, right = self.at(left_mm, 0)[0], self.at(right_mm, 0)[0]
        for x in (left, right):
            self.line((x, from_px), (x, y_px), "thin")
        self.line((left, y_px), (right, y_px))
        self.text((left + right) / 2, y_px - 5, words)


def section_svg(answer: BowlFit, *, units: str, wide_px: int) -> str:
    """Draw the section, open above and flat below, at one scale.

    Parameters
    ----------
    answer : BowlFit
        The fit; only its closed form is drawn.
    units : str
        "in" or "mm".
    wide_px : int
        Width on the screen, held between :data:`NARROWEST_px` and :data:`WIDEST_px`. [px]

    Returns
    -------
    str
        SVG with a title and a description in words.
    """
    wide = float(min(max(wide_px, NARROWEST_px), WIDEST_px))
    rigid, bowl = answer.rigid, answer.bowl
    opens = not happens(WILL_NOT_OPEN, rigid.numbers, bowl.limits)
    direction = section_direction_rad(rigid, bowl.board.outline)
    flat = section_pieces(rigid, direction_rad=direction)
    pressed = section_pieces(rigid, answer.standing if opens else None, direction_rad=direction)
    half_T = -float(flat[0].outline_mm[0, 1])
    high = max(float(p.outline_mm[:, 1].max()) for p in pressed)
    row, narrow = ROW_px, wide < NARROW_px
    scale = min(
        (wide - 3.2 * row) / (2 * board_half_mm(rigid, bowl.board.across_mm, direction)),
        MOST_HEIGHT_px / (high + 3 * half_T),
    )
    level_open = 1.7 * row + high * scale
    level_flat = level_open + 2 * half_T * scale + (1.7 if narrow else 2.2) * row
    tall = level_flat + half_T * scale + (1.3 if narrow else 2.5) * row
    above = _Screen(scale, wide / 2, level_open)
    said = _draw_open(above, answer, pressed, units, opens)
    below = _Screen(scale, wide / 2, level_flat)
    _draw_flat(below, answer, flat, units, narrow=narrow)
    shapes = "\n".join([*above.shapes, *below.shapes])
    about = _in_words(answer, said, units)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="section-title section-words" '
        f'viewBox="0 0 {wide:.0f} {tall:.0f}" width="{wide:.0f}" height="{tall:.0f}">\n'
        f'<title id="section-title">Section through the bowl, open above and flat below</title>\n'
        f'<desc id="section-words">{escape(about)}</desc>\n{shapes}\n</svg>'
    )


def _draw_open(screen: _Screen, answer: BowlFit, pieces: Pieces, units: str, opens: bool) -> str:
    """The bowl pressed open with rise and mouth; returns what its heading says."""
    shape = answer.standing.shape
    half = max(float(np.abs(p.outline_mm[:, 0]).max()) for p in pieces)
    bottom = float(pieces[0].outline_mm[0, 1])
    top = max(float(p.outline_mm[:, 1].max()) for p in pieces)
    screen.wood(pieces, loose=shape is None or not opens)
    foot = screen.at(0, bottom)[1]
    screen.line((screen.at(-half, 0)[0], foot), (screen.at(half, 0)[0] + LETTERS_px * 1.6, foot), "table")
    said = "open: turns pressed home"
    if not opens:
        said = "will not open: no slot is left"
    elif shape is None:
        said = "falls through: a turn finds nothing to bind on"
    elif happens(SPRINGS_BACK, answer.rigid.numbers, answer.bowl.limits):
        said = "pressed open: springs back when let go"
    screen.text(screen.middle_px, foot + LETTERS_px * 1.5, said, kind="middle heading")
    if shape is None or not opens:
        return said
    over = screen.at(0, top)[1]
    left, right = -shape.rim_diameter_mm / 2, shape.rim_diameter_mm / 2
    if answer.bowl.board.edge is not None:  # not as wide every way
        left, right = inner_rims_mm(pieces)
    words = f"mouth {show_length(right - left, units=units)}"
    screen.level(left, right, over - LETTERS_px, over - 3, words)
    x = screen.at(half, 0)[0] + LETTERS_px
    rim = screen.at(0, bottom + shape.rise_mm)[1]
    screen.line((x, foot), (x, rim))
    screen.line((x - 5, rim), (x + 5, rim))
    words = f"rise {show_length(shape.rise_mm, units=units)}"
    if foot - rim > 8.5 * len(words):
        screen.text(x + LETTERS_px * 1.1, (foot + rim) / 2, words, turned=True)
    return said  # without room along the line the rise is left to the heading above the drawing


def _draw_flat(screen: _Screen, answer: BowlFit, pieces: Pieces, units: str, *, narrow: bool) -> None:
    board, base = answer.bowl.board, pieces[0].outline_mm
    bottom, top = float(base[0, 1]), float(base[2, 1])
    direction = section_direction_rad(answer.rigid, board.outline)
    half = board_half_mm(answer.rigid, board.across_mm, direction)
    (left, upper), (right, lower) = screen.at(-half, top), screen.at(half, bottom)
    screen.shapes.append(
        f'<rect class="board" x="{left:.1f}" y="{upper:.1f}" width="{right - left:.1f}" '
        f'height="{lower - upper:.1f}"/>'
    )
    screen.wood(pieces)
    shape = answer.standing.shape
    here = shape is None or board.edge is not None
    width = float(base[1, 0] - base[0, 0]) if here or shape is None else shape.base_diameter_mm
    across = show_length(2 * half, units=units)
    if narrow:
        screen.level(-half, half, lower + ROW_px, lower + 3, f"flat: {across} across")
        return
    across = f"flat: board {across} across, {show_length(board.thickness_mm, units=units)} thick"
    base_words = f"base {show_length(width, units=units)}"
    screen.level(float(base[0, 0]), float(base[1, 0]), lower + ROW_px, lower + 3, base_words)
    screen.level(-half, half, lower + 2.1 * ROW_px, lower + 3, across)


def _in_words(answer: BowlFit, said: str, units: str) -> str:
    """The drawing for those who do not see it."""
    board, shape = answer.bowl.board, answer.standing.shape
    across, thick = (show_length(v, units=units) for v in (board.across_mm, board.thickness_mm))
    text = (
        f"Flat: a board {across} across and {thick} thick, cut into {answer.rigid.strip.turns:.1f} turns."
    )
    if shape is None:
        return f"{text} Pushed in the middle: {said}."
    rise, mouth = (show_length(v, units=units) for v in (shape.rise_mm, shape.rim_diameter_mm))
    slope = math.degrees(shape.wall_slope_rad)
    return f"{text} {said.capitalize()}; rise {rise}, mouth {mouth}, wall {slope:.0f} deg from level."
