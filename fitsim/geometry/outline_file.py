"""The outline of a board from a drawing: one closed line of an SVG file, about its own middle."""

import hashlib
from pathlib import Path

import numpy as np
import shapely

from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.geometry.board_outline import FREE, Outline
from fitsim.geometry.svg_path import svg_path

__all__ = ["curve_digest", "free_outline", "names_drawing"]

SIMPLER_mm = 0.005
"""Points that lie closer than this to the line of the others are left out. [mm]"""


def names_drawing(text: str) -> bool:
    """Whether an outline as written is a file's name.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    bool
        True for a name that ends in .svg.
    """
    return text.strip().lower().endswith(".svg")


def free_outline(path: str | Path, *, key: str) -> Outline:
    """Read an outline of the maker's own.

    Parameters
    ----------
    path : str or pathlib.Path
        An SVG file with one closed path; x runs along the grain.
    key : str
        Key of the bowl file that names it, for the messages.

    Returns
    -------
    Outline
        About the middle between its ends.

    Raises
    ------
    InputError
        In one line: whatever :func:`fitsim.geometry.svg_path.svg_path` refuses, an open line, or one that
        crosses itself.
    """
    where = file_name(path)
    drawn = svg_path(path, key=key)
    if not drawn.closed or len(drawn.points_mm) < 3:
        expected = "a closed line; the two ends of this one do not meet"
        raise InputError(Problem(where, key, "", expected, "close the path in the drawing program"))
    ring = shapely.Polygon(drawn.points_mm)
    if not ring.is_valid or ring.area <= 0:
        reason = shapely.is_valid_reason(ring).split("[")[0].strip().lower() or "no area"
        expected = f"a line that does not cross itself ({reason})"
        raise InputError(Problem(where, key, "", expected, "draw the outline once round, without loops"))
    even = shapely.geometry.polygon.orient(ring.simplify(SIMPLER_mm))
    points = shapely.get_coordinates(even.exterior)[:-1]
    low, high = points.min(axis=0), points.max(axis=0)
    about = np.round(points - (low + high) / 2, 6)
    length, width = (float(v) for v in high - low)
    return Outline(FREE, length, width, points_mm=tuple(map(tuple, about.tolist())), file=where)


def curve_digest(outline: Outline) -> str:
    """What tells one drawn curve from another, whatever the files are called.

    Parameters
    ----------
    outline : Outline
        An outline of the maker's own.

    Returns
    -------
    str
        Sixteen hexadecimal digits of its points, to a millionth of a millimetre.
    """
    points = ";".join(f"{x:.6f},{y:.6f}" for x, y in outline.points_mm)
    return hashlib.sha256(points.encode("ascii")).hexdigest()[:16]
