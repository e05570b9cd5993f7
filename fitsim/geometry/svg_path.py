"""One path of an SVG file, as points in millimetres.

The file says its own size: ``width`` and ``height`` with a unit, over the ``viewBox``. Shapes on the way
from the file's root to the path may be shifted, turned and scaled. Read with the standard parser, which is
told to refuse entities of the file's own, so that no file can swell in memory or call for another.

Source: SVG 1.1 (Second Edition), W3C Recommendation 2011, sections 7 and 8 (from memory). The commands of a
path's ``d`` are read by the library ``fonttools``.
"""

import math
import re
import xml.parsers.expat
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path.parser import parse_path

from fitsim.arrays import Array, read_only
from fitsim.errors import InputError, Problem
from fitsim.files import file_name, read_whole

__all__ = ["LARGEST_SVG_BYTES", "SvgPath", "svg_path"]

LARGEST_SVG_BYTES = 2_000_000
MOST_POINTS = 20_000
FLAT_mm = 0.01
"""How far a chord may leave a curve of the drawing. [mm]"""

CLOSED_WITHIN_mm = 0.05
"""Ends closer than this count as joined. [mm]"""

FARTHEST = 1e9
SIZE_RANGE_mm = (0.1, 10_000.0)

UNITS_mm = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "q": 0.25}
"""Units of a drawing's size; a pixel is 1/96 inch (CSS)."""

_ASIDE = ("defs", "clippath", "mask", "marker", "pattern", "symbol")
_SHAPES = ("rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "image", "use")

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"


@dataclass(frozen=True, eq=False)
class SvgPath:
    """One path of a drawing.

    Attributes
    ----------
    points_mm : numpy.ndarray
        Points along it, x to the right and y up, from the drawing's lower left corner, shape (n, 2); of a
        closed one the first is not repeated. [mm]
    closed : bool
        Whether its ends meet.
    """

    points_mm: Array
    closed: bool


class _RefusedError(Exception):
    """Why a drawing is refused: what was expected, and what to do."""

    def __init__(self, expected: str, remedy: str) -> None:
        super().__init__(expected)
        self.expected, self.remedy = expected, remedy


def svg_path(path: str | Path, *, key: str) -> SvgPath:
    """Read the one path of an SVG file.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.
    key : str
        Key of the bowl file that names it, for the messages.

    Returns
    -------
    SvgPath
        Its points.

    Raises
    ------
    InputError
        In one line, if it is no drawing, has no size, holds no path or several, or is too large.
    """
    raw = read_whole(path, kind="drawing (SVG)", most_bytes=LARGEST_SVG_BYTES)
    try:
        with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused at the end
            return _path_of(raw)
    except _RefusedError as refused:
        problem = Problem(file_name(path), key, "", refused.expected, refused.remedy)
        raise InputError(problem) from None


def _path_of(raw: bytes) -> SvgPath:
    size: dict[str, str] = {}
    paths: list[tuple[str, Array]] = []
    stack: list[tuple[str, Array]] = []
    aside = 0

    def start(name: str, given: dict[str, str]) -> None:
        nonlocal aside
        tag = name.rpartition(":")[2].lower()
        if not stack:
            if tag != "svg":
                raise _RefusedError(
                    f"a drawing in SVG; this file begins with <{tag[:20]}>", "save it as plain SVG"
                )
            size.update(given)
        if len(stack) > 100:
            raise _RefusedError("shapes within at most 100 groups", "ungroup the drawing")
        held = stack[-1][1] if stack else np.eye(3)
        stack.append((tag, held @ _transform(given.get("transform", ""))))
        aside += tag in _ASIDE
        if aside:
            return
        if tag == "path":
            paths.append((given.get("d", ""), stack[-1][1]))
        elif tag in _SHAPES:
            raise _RefusedError(
                f"one path and nothing else; there is a <{tag}>",
                "turn shapes into a path (object to path) and delete the rest",
            )

    def end(_name: str) -> None:
        nonlocal aside
        aside -= stack.pop()[0] in _ASIDE

    def entity(*_: object) -> None:
        raise _RefusedError("a drawing without entities of its own", "save it as plain SVG")

    parser = xml.parsers.expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.EntityDeclHandler = entity
    parser.SetParamEntityParsing(xml.parsers.expat.XML_PARAM_ENTITY_PARSING_NEVER)
    try:
        parser.Parse(raw, True)
    except (xml.parsers.expat.ExpatError, ValueError, LookupError) as error:
        raise _RefusedError(f"a drawing in SVG ({str(error)[:60]})", "save it again as plain SVG") from None
    drawn = [(d, held) for d, held in paths if d.strip()]
    if len(drawn) != 1:
        many = f"there are {len(drawn)}" if drawn else "there is none"
        raise _RefusedError(f"one path; {many}", "keep one, joined into a single path")
    return _in_mm(drawn[0], size)


def _in_mm(found: tuple[str, Array], size: dict[str, str]) -> SvgPath:
    to_mm, high_mm = _scale(size)
    points, closed = _flattened(found[0], to_mm @ found[1])
    points = np.stack([points[:, 0], high_mm - points[:, 1]], axis=1)
    extent = np.ptp(points, axis=0)
    low, high = SIZE_RANGE_mm
    if not np.all(np.isfinite(points)) or float(extent.max()) < low or float(extent.max()) > high:
        found_mm = f"{float(extent.max()):.4g} mm"
        raise _RefusedError(
            f"a path of {low:g} mm to {high:g} mm; this one has {found_mm}",
            "check the drawing's size and its unit",
        )
    keep = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 1e-6])
    points = points[keep]
    if len(points) > 2 and float(np.hypot(*(points[-1] - points[0]))) <= CLOSED_WITHIN_mm:
        points, closed = points[:-1], True
    return SvgPath(read_only(points), closed)


def _numbers(text: str) -> list[float]:
    found = [float(n) for n in re.findall(_NUMBER, text)]
    if not all(abs(n) < FARTHEST for n in found):
        raise _RefusedError("ordinary numbers", "save it again as plain SVG")
    return found


def _length_mm(text: str) -> float | None:
    match = re.fullmatch(rf"\s*({_NUMBER})\s*([a-zA-Z%]*)\s*", text)
    if match is None or match[2].lower() not in UNITS_mm:
        return None
    return _numbers(match[1])[0] * UNITS_mm[match[2].lower()]


def _scale(size: dict[str, str]) -> tuple[Array, float]:
    """From the drawing's numbers to millimetres, and its height. [mm]"""
    wide, high = (_length_mm(size.get(name, "")) for name in ("width", "height"))
    if wide is None or high is None or not wide > 0 or not high > 0:
        raise _RefusedError(
            "a drawing that says its size, width and height with a unit",
            'set the page\'s size in mm, so that it begins like <svg width="300mm" ...',
        )
    box = _numbers(size.get("viewBox", ""))
    if not box:  # its numbers are then pixels
        return np.diag([UNITS_mm["px"], UNITS_mm["px"], 1.0]), high
    if len(box) != 4 or not (box[2] > 0 and box[3] > 0):
        raise _RefusedError("a viewBox of four numbers", "save it again as plain SVG")
    across, up = wide / box[2], high / box[3]
    if abs(across - up) > 0.01 * max(across, up):
        raise _RefusedError(
            "one scale both ways; width and height do not go with its viewBox",
            "set the page's size again, the same scale both ways",
        )
    to_mm = np.array([[across, 0, -box[0] * across], [0, across, -box[1] * across], [0, 0, 1.0]])
    return to_mm, box[3] * across


def _transform(text: str) -> Array:
    """Matrix of a ``transform``, its steps from left to right."""
    whole = np.eye(3)
    for name, numbers in re.findall(r"([a-zA-Z]+)\s*\(([^)]*)\)", text[:10_000]):
        v = _numbers(numbers)
        step = np.eye(3)
        try:
            if name == "matrix":
                step[:2] = np.array(v[:6]).reshape(3, 2).T
            elif name == "translate":
                step[:2, 2] = v[0], v[1] if len(v) > 1 else 0.0
            elif name == "scale":
                step[0, 0], step[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
            elif name == "rotate":
                c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
                step[:2, :2] = [[c, -s], [s, c]]
                centre = np.array(v[1:3]) if len(v) > 2 else np.zeros(2)
                step[:2, 2] = centre - step[:2, :2] @ centre
            elif name == "skewX":
                step[0, 1] = math.tan(math.radians(v[0]))
            elif name == "skewY":
                step[1, 0] = math.tan(math.radians(v[0]))
            else:
                raise _RefusedError(
                    f"transforms that SVG knows, not {name[:20]!r}", "save it again as plain SVG"
                )
        except (IndexError, ValueError):
            raise _RefusedError(f"numbers that {name} needs", "save it again as plain SVG") from None
        whole = whole @ step
    return whole


def _flattened(data: str, to_mm: Array) -> tuple[Array, bool]:
    """Points of a path's one line in millimetres, y down, and whether it says that it is closed."""
    pen = RecordingPen()
    try:
        parse_path(data, pen)
    except Exception as error:  # the reader of paths raises what it happens to meet
        reason = f"{type(error).__name__} {error}".strip()[:60]
        raise _RefusedError(f"a path that can be read ({reason})", "save it again as plain SVG") from None
    starts = [i for i, (name, _) in enumerate(pen.value) if name == "moveTo"]
    drawn = [
        (first, last)
        for first, last in zip(starts, [*starts[1:], len(pen.value)], strict=True)
        if any(name not in ("moveTo", "endPath", "closePath") for name, _ in pen.value[first:last])
    ]
    if len(drawn) != 1:
        many = f"there are {len(drawn)} separate lines in it" if drawn else "nothing is drawn in it"
        raise _RefusedError(f"a path of one line; {many}", "keep the outermost line alone")
    points: list[Array] = []
    closed = False
    for name, ends in pen.value[slice(*drawn[0])]:
        places = np.array([(*end, 1.0) for end in ends if end is not None]).reshape(-1, 3)
        if not np.all(np.abs(places) < FARTHEST):
            raise _RefusedError("a path of ordinary numbers", "save it again as plain SVG")
        given = places @ to_mm[:2].T
        if name in ("moveTo", "lineTo"):
            points.append(given)
        elif name in ("curveTo", "qCurveTo"):
            points.append(_curve(np.concatenate([points[-1][-1:], given])))
        closed = closed or name == "closePath"
        if sum(len(part) for part in points) > MOST_POINTS:
            raise _RefusedError(
                f"a path of at most {MOST_POINTS} points", "simplify it in the drawing program"
            )
    return np.concatenate(points), closed


def _curve(poles: Array) -> Array:
    """Points along a Bezier curve of any degree, its first point left out."""
    bend = float(np.abs(np.diff(poles, n=2, axis=0)).sum()) if len(poles) > 2 else 0.0
    count = int(np.clip(math.ceil(math.sqrt(bend / FLAT_mm)) + 1, 2, 2000)) if math.isfinite(bend) else 2
    t = np.linspace(0, 1, count + 1)[1:, None, None]
    level = np.broadcast_to(poles, (count, *poles.shape))
    while level.shape[1] > 1:  # de Casteljau
        level = (1 - t) * level[:, :-1] + t * level[:, 1:]
    return np.asarray(level[:, 0])
