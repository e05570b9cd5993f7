"""The printed pattern measured on its image at 300 dots an inch, and its words in their places."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from fitsim.arrays import Array
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.commands.sheet import follow_line_of, pdf_of
from fitsim.drawing.pattern_drawing import pattern_figures, pattern_words
from fitsim.pattern.layout import PAPERS, FollowLine, Handling, Tiling, tile_board

pdfium = pytest.importorskip("pypdfium2", reason="pages are measured with pypdfium2, of the test extra")

DOT_mm = 25.4 / 300
HANDLING = Handling("raised", "right")  # the line lies inside, the board's middle left of the blade


def bowl(**changed: Any) -> Bowl:
    """A bowl of 252 mm: two lying A4 pages or Letter pages, three turns and a bit."""
    board = {"wood": "cherry", "thickness": "21 mm", "across": "252 mm", **changed.pop("board", {})}
    cut = {
        "tilt": "7 deg",
        "kerf": "0.8 mm",
        "pitch": "19 mm",
        "base": "131 mm",
        "root": "64 deg",
        **changed,
    }
    return make_bowl({"name": "Sorrel dish", "board": board, "cut": cut, "use": {}}, where="test bowl")


def even_spiral_mm(turns_in: Array) -> Array:
    """Points of the line by its definition, so many turns in from the outer end, mirrored to nothing.

    The middle of the board lies left of the blade, so from above the line runs clockwise inward, and its
    root lies at the file's 64 deg; on the upper face it lies T/2 tan(tilt) inside, square to itself.
    """
    turns = (252 - 131) / 2 / 19 - turns_in  # from the root outward
    polar = math.radians(64) + 2 * math.pi * turns
    radius = 131 / 2 + 19 * turns
    growth = 19 / (2 * math.pi) / radius
    outward = np.stack([np.cos(polar), np.sin(polar)], axis=-1)
    around = np.stack([-np.sin(polar), np.cos(polar)], axis=-1)
    normal = (outward - growth[..., None] * around) / np.sqrt(1 + growth**2)[..., None]
    return radius[..., None] * outward - 21 / 2 * math.tan(math.radians(7)) * normal


def darkness(page: Any) -> Array:
    """The page as a printer would get it, 0 white to 1 black, first row at the bottom."""
    image = page.render(scale=300 / 72, grayscale=True).to_numpy()
    return np.asarray(1 - image.reshape(image.shape[0], image.shape[1])[::-1] / 255.0)


def profile_middle_mm(dark: Array, dot_mm: Array, place_mm: Array, normal: Array, reach_mm: float) -> float:
    """How far the middle of the darkness lies from a place, along a direction; nan if there is none."""
    steps = np.arange(-reach_mm, reach_mm, DOT_mm / 4)
    spots = place_mm + steps[:, None] * normal
    x, y = (spots / dot_mm - 0.5).T
    i, j = np.floor(x).astype(int), np.floor(y).astype(int)
    u, v = x - i, y - j
    weight = (
        dark[j, i] * (1 - u) * (1 - v) + dark[j, i + 1] * u * (1 - v)
        + dark[j + 1, i] * (1 - u) * v + dark[j + 1, i + 1] * u * v
    )  # fmt: skip
    return float((weight * steps).sum() / weight.sum()) if weight.sum() > 2 else math.nan


@dataclass(frozen=True, eq=False)
class Printed:
    """One pattern printed: its line, its pages, and the pages as dots."""

    line: FollowLine
    tiling: Tiling
    sizes_pt: tuple[tuple[float, float], ...]
    dark: tuple[Array, ...]


@pytest.fixture(scope="module", params=["a4", "letter"])
def printed(request: pytest.FixtureRequest) -> Printed:
    """The pattern of the test bowl on one paper."""
    answer = fit(bowl(), rigid=True)
    line = follow_line_of(answer, HANDLING)
    tiling = tile_board(line, PAPERS[request.param])
    figures = pattern_figures(line, tiling, pattern_words(answer, line, HANDLING, units="mm"), copies=1)
    pages = list(pdfium.PdfDocument(pdf_of(figures)))
    return Printed(line, tiling, tuple(p.get_size() for p in pages), tuple(darkness(p) for p in pages))


def test_printed_line_across_the_pages(printed: Printed) -> None:
    """The printed line lies within 0.15 mm of the spiral's definition on every page, across the joins."""
    tiling = printed.tiling
    assert len(printed.dark) == len(tiling.tiles) > 1
    left, bottom, width, height = tiling.window_mm
    turns_in = np.linspace(0.05, (252 - 131) / 2 / 19 - 0.02, 960)
    wanted = even_spiral_mm(turns_in)
    ahead = even_spiral_mm(turns_in + 1e-6) - wanted
    normals = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) / np.hypot(*ahead.T)[:, None]
    met, worst = np.zeros(len(wanted), int), 0.0
    for tile, dark, size in zip(tiling.tiles, printed.dark, printed.sizes_pt, strict=True):
        assert size == pytest.approx([v / 25.4 * 72 for v in tiling.page_mm], abs=1e-3)
        # The image has whole dots: 3301 of them on a length of 3300.0001.
        dot_mm = np.array(tiling.page_mm) / dark.shape[::-1]
        for k, (place, normal) in enumerate(zip(wanted, normals, strict=True)):
            there = place - (tile.left_mm, tile.bottom_mm)
            inside = np.all(there > 1.5) and np.all(there < np.array([width, height]) - 1.5)
            if not inside or near_a_mark(place, printed.line, tiling):
                continue
            off = profile_middle_mm(dark, dot_mm, there + np.array([left, bottom]), normal, 0.7)
            assert not math.isnan(off), f"no line at {place}"
            worst, met[k] = max(worst, abs(off)), met[k] + 1
    assert worst < 0.15
    assert (met > 1).sum() > 5  # the same points on both pages of a join
    assert (met > 0).mean() > 0.8


def near_a_mark(place: Array, line: FollowLine, tiling: Tiling) -> bool:
    """Whether a mark of another kind may lie within a millimetre: seams, fold lines, ends, the outline."""
    x, y = (float(v) for v in place)
    straight = [x, y, *(x - s for s in tiling.seams_x_mm), *(y - s for s in tiling.seams_y_mm)]
    # The shorter way in leaves the line so flatly that it stays near for 18 mm.
    ends = ((line.start_mm, 9), (line.stop_mm, 9), (line.nail_mm, 18))
    rings = any(abs(x - s) < 8 for s in tiling.seams_x_mm) or any(abs(y - s) < 8 for s in tiling.seams_y_mm)
    on_ring = rings and any(
        abs(math.hypot(x - cx, y - cy) - 2.5) < 2
        for cx in [*tiling.seams_x_mm, *ring_places(tiling, 0)]
        for cy in [*tiling.seams_y_mm, *ring_places(tiling, 1)]
    )
    return (
        min(abs(v) for v in straight) < 2
        or any(math.hypot(*(place - end)) < reach for end, reach in ends)
        or abs(math.hypot(x, y) - 126) < 1
        or on_ring
    )


def ring_places(tiling: Tiling, axis: int) -> list[float]:
    """Where the registration rings lie along the seams."""
    size = tiling.window_mm[2 + axis]
    low = sorted({(t.left_mm, t.bottom_mm)[axis] for t in tiling.tiles})
    return [at + share * size for at in low for share in (0.12, 0.5, 0.88)]


def test_printed_check_square_and_bars(printed: Printed) -> None:
    """The printed square measures 20 mm both ways and the bars 100 mm and 4 in, within 0.1 mm."""
    dark = printed.dark[0]

    def edges_mm(lane: Array, least_mm: float) -> tuple[float, float]:
        """Middles of the first and last dark stroke along a lane of dots."""
        places = np.arange(lane.size)
        found = np.flatnonzero(lane > 0.35)
        found = found[found * DOT_mm > least_mm]
        middles = []
        for end in (found[0], found[-1]):
            near = np.abs(places - end) < 6
            middles.append(float((lane[near] * places[near]).sum() / lane[near].sum()) * DOT_mm)
        return middles[0], middles[1]

    def dots(mm: float) -> int:
        return round(mm / DOT_mm)

    across = dark[dots(13) : dots(16), : dots(146)].mean(axis=0)  # below the words in the square
    low, high = edges_mm(across, 116)
    assert high - low == pytest.approx(20, abs=0.1)
    up = dark[: dots(36), dots(124) : dots(127)].mean(axis=1)
    low, high = edges_mm(up, 5)
    assert high - low == pytest.approx(20, abs=0.1)
    for level, length in (
        (31.4, 100.0),
        (19.4, 101.6),
    ):  # through the end strokes alone, above the short ones
        lane = dark[dots(level) : dots(level + 0.3), : dots(118)].mean(axis=0)
        low, high = edges_mm(lane, 5)
        assert high - low == pytest.approx(length, abs=0.1)


@pytest.mark.parametrize("handling", [Handling("raised", "right"), Handling("lowered", "right")])
def test_the_hole_at_the_stop_holds_the_slots_end_on_both_faces(handling: Handling) -> None:
    """The circle's outer edge is the slot's farthest strip side, and the slot of both faces lies in it."""
    answer = fit(bowl(), rigid=True)
    line = follow_line_of(answer, handling)
    diameter, inside = pattern_words(answer, line, handling, units="mm").hole_mm
    lean = 21 * math.tan(math.radians(7))  # from face to face
    slot = 0.8 / math.cos(math.radians(7))
    # Counted inward from the line on the face up: the slot's middle on the other face.
    other = lean if line.outside_mm > 0 else -lean
    assert inside - diameter / 2 == pytest.approx(min(0.0, other) - slot / 2, abs=0.02)
    assert inside + diameter / 2 >= max(0.0, other) + slot / 2 - 1e-9
