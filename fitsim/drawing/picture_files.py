"""Picture files: a page as SVG, PNG or PDF, and the bowl opening as a moving picture.

Files are written whole or not at all, and the same answer gives the same bytes.
"""

import io
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsim.arrays import Array
from fitsim.drawing.paper import BASE_TONE, NEXT_TONE, TURN_TONE, house_style
from fitsim.errors import InputError, Problem
from fitsim.files import MOVING_ENDINGS, PICTURE_ENDINGS, check_target, write_whole
from fitsim.quantities import show_length
from fitsim.rigidbody.records import Frame

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["MovingPicture", "drawn_moving", "moving_picture", "write_picture"]


def write_picture(figure: "Figure", path: str | Path, *, replace: bool) -> None:
    """Write a figure; the ending decides the format, and the same figure gives the same bytes.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From :func:`fitsim.drawing.bowl_drawing.bowl_figure`.
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
    check_target(path, replace=replace, endings=PICTURE_ENDINGS)
    kind = path.suffix.lower()[1:]
    dates = {"svg": "Date", "pdf": "CreationDate", "png": "Software"}
    picture = io.BytesIO()
    with house_style():
        figure.savefig(picture, format=kind, dpi=200, metadata={dates[kind]: None})
    write_whole(path, picture.getvalue(), replace=replace)


LEAST_FRAMES, MOST_FRAMES = 40, 72
PICTURE_WIDTH_px, FINER = 720, 3


def moving_picture(frames: tuple[Frame, ...], path: str | Path, *, replace: bool, units: str) -> None:
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
    check_target(path, replace=replace, endings=MOVING_ENDINGS)
    if not frames:
        expected, remedy = "recorded frames", "record the rigid-body check"
        raise InputError(Problem(str(path), "picture", "", expected, remedy))
    write_whole(path, drawn_moving(frames, units=units).gif, replace=replace)


@dataclass(frozen=True)
class MovingPicture:
    """The bowl opening, drawn.

    Attributes
    ----------
    gif : bytes
        All frames, for ever over again; the last is held.
    still : bytes
        The last frame alone, as PNG.
    frames : int
        How many there are.
    """

    gif: bytes
    still: bytes
    frames: int


def drawn_moving(frames: tuple[Frame, ...], *, units: str) -> MovingPicture:
    """Draw the bowl opening, as :func:`moving_picture` writes it.

    Parameters
    ----------
    frames : tuple[Frame, ...]
        From the rigid-body check; not empty.
    units : str
        "in" or "mm".

    Returns
    -------
    MovingPicture
        The same frames give the same bytes.
    """
    corners = np.concatenate([p for frame in frames for p in frame.polygons_mm])
    low, high = corners.min(axis=0), corners.max(axis=0)
    scale = (PICTURE_WIDTH_px - 40) / float(high[0] - low[0])  # dots for one mm, both ways
    kept = _moving_frames(frames, 0.5 / scale)
    images = [_frame_image(frame, low, high, scale, units) for frame in kept]
    held = [50] * (len(images) - 1) + [1500]
    picture, still = io.BytesIO(), io.BytesIO()
    images[0].save(picture, format="GIF", save_all=True, append_images=images[1:], duration=held, loop=0)
    images[-1].save(still, format="PNG")
    return MovingPicture(picture.getvalue(), still.getvalue(), len(images))


def _moving_frames(frames: tuple[Frame, ...], still_mm: float) -> list[Frame]:
    last = np.concatenate(frames[-1].polygons_mm)
    away = [float(np.abs(np.concatenate(f.polygons_mm) - last).max()) for f in frames]
    end = max((i + 1 for i, far in enumerate(away) if far > still_mm), default=0)
    end = max(end, min(LEAST_FRAMES, len(frames)) - 1)
    chosen = np.linspace(0, end, min(end + 1, MOST_FRAMES)).round().astype(int)
    return [frames[i] for i in chosen.tolist()]


def _frame_image(frame: Frame, low: Array, high: Array, scale: float, units: str) -> Any:
    """One frame, drawn three times finer and averaged down so that edges are smooth."""
    from PIL import Image, ImageDraw, ImageFont

    height = math.ceil(float(high[1] - low[1]) * scale) + 70
    image = Image.new("RGB", (PICTURE_WIDTH_px * FINER, height * FINER), "white")
    pen = ImageDraw.Draw(image)
    sunk = 0.0
    for outline, ring in zip(frame.polygons_mm, frame.rings, strict=True):
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
    return image.resize((PICTURE_WIDTH_px, height), Image.Resampling.BOX).quantize(48)
