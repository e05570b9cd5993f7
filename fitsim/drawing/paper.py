"""A printed page in millimetres: its style, its text, and wood drawn on it at a true scale.

Nothing of a bowl is known here; :mod:`fitsim.drawing.bowl_drawing` decides what goes where.
"""

import math
import warnings
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, TypedDict, Unpack

from fitsim.bowl.cross_section import SectionPiece

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

__all__ = [
    "BASE_TONE",
    "NEXT_TONE",
    "TURN_TONE",
    "EDGE_mm",
    "LineLook",
    "PAGE_HEIGHT_mm",
    "PAGE_WIDTH_mm",
    "Sheet",
    "TextLook",
    "first_rows",
    "house_style",
    "page_axes",
    "width_mm_of",
    "wood_sheet",
    "wrapped",
    "write_on",
    "write_title",
]  # fmt: skip

PAGE_WIDTH_mm, PAGE_HEIGHT_mm, EDGE_mm = 297.0, 210.0, 12.0
POINT_mm = 25.4 / 72
BASE_TONE, TURN_TONE, NEXT_TONE, GRAIN_TONE = "#d8b173", "#f4e6c8", "#e6cd9a", "#8c7048"
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "text.hinting": "no_hinting",  # a line of a .png is as wide as it was measured, as in print
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
def house_style() -> Iterator[None]:
    """Draw alike on every machine; a letter the font lacks becomes a box, not a warning."""
    import matplotlib

    with matplotlib.rc_context(STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


class TextLook(TypedDict, total=False):
    """How text on a page looks beside its size; what is left out is the place's own."""

    weight: str
    color: str
    ha: Literal["left", "center", "right"]
    va: Literal["bottom", "baseline", "center", "center_baseline", "top"]
    rotation: float
    rotation_mode: Literal["default", "anchor"]
    bbox: Mapping[str, object]
    zorder: float


class LineLook(TypedDict, total=False):
    """How a line on a page looks; what is left out is the place's own."""

    color: str
    lw: float
    ls: str | tuple[float, tuple[float, ...]]
    marker: str
    ms: float
    clip_on: bool
    solid_joinstyle: Literal["miter", "round", "bevel"]
    zorder: float


@dataclass(frozen=True)
class Sheet:
    """A part of the page on which wood is drawn at a true scale.

    Attributes
    ----------
    axes : matplotlib.axes.Axes
        Where it is drawn; their units are mm of wood.
    scale : float
        Millimetres of page for one of wood. [-]
    """

    axes: "Axes"
    scale: float

    def text(self, x: float, z: float, text: str, *, size: float = 8.5, **look: Unpack[TextLook]) -> None:
        """Write text at a place on the wood."""
        centred: TextLook = {"ha": "center", "va": "center", **look}
        self.axes.text(x, z, text, size=size, **centred)

    def line(self, xs: tuple[float, ...], zs: tuple[float, ...], **look: Unpack[LineLook]) -> None:
        """Draw a thin line between places on the wood."""
        thin: LineLook = {"color": "black", "lw": 0.5, "clip_on": False, **look}
        self.axes.plot(xs, zs, **thin)

    def arrow(self, tail: tuple[float, float], tip: tuple[float, float], style: str) -> None:
        """Draw an arrow between places on the wood."""
        self.axes.annotate(
            "", tip, tail, annotation_clip=False,
            arrowprops={"arrowstyle": style, "lw": 0.6, "shrinkA": 0, "shrinkB": 0,
                        "mutation_scale": 7, "color": "black"},
        )  # fmt: skip

    def pieces(self, pieces: Iterable[SectionPiece], *, dashed: bool = False) -> "list[Patch]":
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
        if (right - left) * self.scale >= width_mm_of(text, 8.5) + 6 and not above:
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


@lru_cache(maxsize=4096)
def width_mm_of(text: str, size_pt: float, weight: str = "normal") -> float:
    """Width of one printed line of text.

    Parameters
    ----------
    text : str
        The line.
    size_pt : float
        Size of the letters. [pt]
    weight : str
        "normal" or "bold".

    Returns
    -------
    float
        Width. [mm]
    """
    from matplotlib.font_manager import FontProperties, findfont, get_font
    from matplotlib.ft2font import LoadFlags

    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight=weight)))
    font.set_size(size_pt, 72)  # at 72 dots an inch a dot is a point; the font counts in 1/64
    # Hinting fits letters to whole dots; print does not, and small lines came out up to a tenth wider.
    font.set_text(text, flags=LoadFlags.NO_HINTING)
    return float(font.get_width_height()[0]) / 64 * POINT_mm


def _fits(line: str, width_mm: float, size_pt: float, weight: str) -> bool:
    """Whether a line is no wider than that: told by its letters where they leave no doubt, else measured.

    To measure a line takes hundreds of times as long, and pairs of letters close up by a percent or two.
    """
    letters_mm = sum(width_mm_of(letter, size_pt, weight) for letter in line)
    if not 0.9 * width_mm < letters_mm < 1.2 * width_mm:
        return letters_mm < width_mm
    return width_mm_of(line, size_pt, weight) <= width_mm


def wrapped(text: str, width_mm: float, size_pt: float, weight: str = "normal") -> list[str]:
    """Break text into lines no wider than the page allows, inside a word only where one must.

    Parameters
    ----------
    text : str
        The text.
    width_mm : float
        Width there is. [mm]
    size_pt : float
        Size of the letters. [pt]
    weight : str
        "normal" or "bold".

    Returns
    -------
    list[str]
        Lines.
    """
    lines = [""]
    for word in text.split():
        if _fits(f"{lines[-1]} {word}", width_mm, size_pt, weight):
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        lines.append("")
        for letter in word:
            if not _fits(lines[-1] + letter, width_mm, size_pt, weight):
                lines.append("")
            lines[-1] += letter
    return [line for line in lines if line]


def first_rows(text: str, width_mm: float, size_pt: float, most: int, weight: str = "normal") -> list[str]:
    """Break text into lines, at most so many; what is left out is told by three dots.

    Parameters
    ----------
    text : str
        The text.
    width_mm : float
        Width there is. [mm]
    size_pt : float
        Size of the letters. [pt]
    most : int
        As many lines as there is room for, 1 or more.
    weight : str
        "normal" or "bold".

    Returns
    -------
    list[str]
        Lines, the dots within the width.
    """
    rows = wrapped(text, width_mm, size_pt, weight)
    if len(rows) <= most:
        return rows
    room_mm = width_mm - width_mm_of("...", size_pt, weight)
    return [*rows[: most - 1], f"{wrapped(rows[most - 1], room_mm, size_pt, weight)[0]}..."]


def write_on(
    figure: "Figure", x_mm: float, y_mm: float, text: str, size: float, **look: Unpack[TextLook]
) -> None:
    """Write text at a place on the page, counted from its lower left corner.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    x_mm, y_mm : float
        The place. [mm]
    text : str
        What to write.
    size : float
        Size of the letters in points.
    **look
        How it looks beside its size.
    """
    width_mm, height_mm = _page_size_mm(figure)
    figure.text(x_mm / width_mm, y_mm / height_mm, text, size=size, **look)


def write_title(
    figure: "Figure", place_mm: tuple[float, float], title: str, room_mm: float, *, warning: str = ""
) -> None:
    """Write a warning in a dark box, then as much of a title as there is room for on the line.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    place_mm : tuple[float, float]
        Where the line begins, counted from the page's lower left corner. [mm]
    title : str
        The title.
    room_mm : float
        Width there is. [mm]
    warning : str
        Never cut short; "" for none.
    """
    (x_mm, y_mm), size = place_mm, 12.0
    if warning:
        box = {"facecolor": "black", "edgecolor": "none", "pad": 2.0}
        write_on(figure, x_mm + 1, y_mm, warning, size, weight="bold", color="white", bbox=box)
        taken = width_mm_of(warning, size, "bold") + 5
        x_mm, room_mm = x_mm + taken, room_mm - taken
    write_on(figure, x_mm, y_mm, first_rows(title, room_mm, size, 1, "bold")[0], size, weight="bold")


def _page_size_mm(figure: "Figure") -> tuple[float, float]:
    """A figure is a page at true scale, whatever its paper."""
    width_in, height_in = figure.get_size_inches()
    return float(width_in) * 25.4, float(height_in) * 25.4


def wood_sheet(figure: "Figure", label: str, page_mm: tuple[float, float, float, float], scale: float,
           origin_mm: tuple[float, float]) -> Sheet:  # fmt: skip
    """Axes over a part of the page, with a true scale of wood on it.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    label : str
        Name of the axes.
    page_mm : tuple[float, float, float, float]
        Left, bottom, width and height on the page. [mm]
    scale : float
        Millimetres of page for one of wood.
    origin_mm : tuple[float, float]
        Where on the page the wood's 0, 0 lies. [mm]

    Returns
    -------
    Sheet
        Ready to draw on.
    """
    left, bottom, width, height = page_mm
    axes = page_axes(figure, label, page_mm)
    x0, z0 = (left - origin_mm[0]) / scale, (bottom - origin_mm[1]) / scale
    axes.set(xlim=(x0, x0 + width / scale), ylim=(z0, z0 + height / scale))
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_axis_off()
    return Sheet(axes, scale)


def page_axes(figure: "Figure", label: str, page_mm: tuple[float, float, float, float]) -> "Axes":
    """Axes over a part of the page.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    label : str
        Name of the axes.
    page_mm : tuple[float, float, float, float]
        Left, bottom, width and height on the page. [mm]

    Returns
    -------
    matplotlib.axes.Axes
        The axes.
    """
    left, bottom, width, height = page_mm
    size = _page_size_mm(figure)
    return figure.add_axes(
        (left / size[0], bottom / size[1], width / size[0], height / size[1]), label=label
    )
