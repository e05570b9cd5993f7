"""The printed pattern measured on its image at 300 dots an inch, and its words in their places."""

import math
import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from fitsim.arrays import Array
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.commands.sheet import follow_line_of, pdf_of
from fitsim.drawing.pattern_drawing import pattern_figures, pattern_words
from fitsim.pattern.layout import (
    PAPERS,
    CHORD_ERROR_mm,
    FollowLine,
    Handling,
    LEAD_IN_mm,
    Tiling,
    tile_board,
)

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


def shaped(kind: str) -> Bowl:
    """Boards on which a mean of the pitch and a circle lead nowhere."""
    if kind == "oval":
        board = {"wood": "white ash", "thickness": "5/8 in", "outline": "oval", "length": "11 3/4 in"}
        cut = {"tilt": "5 1/4 deg", "kerf": "0.030 in", "pitch": "5/16 in", "base": "4 in"}
        return make_bowl({"board": {**board, "width": "8 1/8 in"}, "cut": cut})
    if kind == "changing pitch":
        return bowl(pitch=["7 mm", "8 mm", "9 mm", "11 mm", "14 mm", "18 mm"])
    return bowl(pitch="7 mm")


@pytest.mark.parametrize("kind", ["oval", "changing pitch", "round"])
@pytest.mark.parametrize("middle", ["lowered", "raised"])
def test_the_shorter_way_in_begins_outside_the_board(kind: str, middle: str) -> None:
    """The dashed line runs straight into the trimmed end, from a millimetre outside the board's edge."""
    line = follow_line_of(fit(shaped(kind), rigid=True), Handling(middle))
    way = line.shorter_way_mm
    assert way is not None
    along = (way[0] - way[1]) / np.hypot(*(way[0] - way[1]))
    assert along == pytest.approx(line.nail_travel, abs=1e-9)
    board = shapely.Polygon(line.corners_mm)
    steps = way[1] + np.linspace(0, 1, 4001)[:, None] * (way[0] - way[1])
    inside = shapely.contains_xy(board, *steps.T)
    outside = float(np.hypot(*(steps[int(np.argmax(inside))] - way[1])))
    assert not inside[0]
    assert np.all(np.diff(inside.astype(int)) >= 0)  # once in it stays in
    assert outside == pytest.approx(1.0, abs=0.03)


def test_a_way_in_longer_than_half_the_board_is_left_out() -> None:
    """From r to the edge R it is shorter than sqrt(R^2 - r^2), the line turning outward; squares: none."""
    line = follow_line_of(fit(bowl(pitch="19 mm"), rigid=True), HANDLING)
    radius = float(np.hypot(*line.nail_mm))
    way = line.shorter_way_mm
    assert way is not None
    assert float(np.hypot(*(way[0] - way[1]))) < math.sqrt(126**2 - radius**2) + 1
    assert replace(line, across_mm=40.0).shorter_way_mm is None
    square = follow_line_of(fit(bowl(board={"outline": "square"}), rigid=True), HANDLING)
    assert square.shorter_way_mm is None


def test_the_run_in_of_a_line_that_begins_inside_the_edge() -> None:
    """Straight back from the first point the edge lies where |P - s t| = R, by the spiral's own slope.

    P is the spiral's end moved inward square to itself by T/2 tan(tilt), and its way on makes the angle
    gamma with a circle, tan(gamma) = pitch/(2 pi R).
    """
    line = follow_line_of(fit(bowl(), rigid=True), HANDLING)
    radius, shift = 126.0, -21 / 2 * math.tan(math.radians(7))
    gamma = math.atan(19 / (2 * math.pi * radius))
    begins = math.sqrt(radius**2 + shift**2 + 2 * radius * shift * math.cos(gamma))
    assert float(np.hypot(*line.start_mm)) == pytest.approx(begins, rel=1e-6)
    b, c = radius * math.sin(gamma), begins**2 - radius**2
    assert line.run_in_mm == pytest.approx(-b + math.sqrt(b**2 - c), rel=2e-3)  # the drawn edge has corners
    # The run-up comes from as far outside as that of a line which begins outside.
    assert float(np.hypot(*(line.lead_in_mm[1] - line.lead_in_mm[0]))) == pytest.approx(
        line.run_in_mm + LEAD_IN_mm, rel=1e-9
    )
    lowered = follow_line_of(fit(bowl(), rigid=True), Handling("lowered", "right"))
    assert lowered.run_in_mm == 0
    assert float(np.hypot(*lowered.start_mm)) == pytest.approx(radius, abs=CHORD_ERROR_mm)


@pytest.mark.parametrize("kind", ["oval", "changing pitch", "round"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_bar_stands_whole_on_a_page(kind: str, paper: str) -> None:
    """Start, nail and stop are marked by bars, each of them whole in the window of one page at least."""
    line = follow_line_of(fit(shaped(kind), rigid=True), Handling())
    tiling = tile_board(line, PAPERS[paper])
    size = np.array(tiling.window_mm[2:])
    nail = line.bars_mm[1]
    assert float(np.hypot(*(nail[1] - nail[0]))) == pytest.approx(line.pitch_mm / 2)
    for bar in line.bars_mm[1:]:  # that at the start reaches beyond the board
        on = [bar - (tile.left_mm, tile.bottom_mm) for tile in tiling.tiles]
        assert any(bool(np.all((at >= 0) & (at <= size))) for at in on)


def test_in_inches_the_circle_is_that_of_the_drill_that_is_named() -> None:
    """A hole of so many tenths of a millimetre is drilled with the next 64th up, and drawn as large."""
    answer = fit(bowl(), rigid=True)
    line = follow_line_of(answer, HANDLING)
    words = pattern_words(answer, line, HANDLING, units="in")
    named = re.search(r"drill (\d+)/(\d+) in", words.at_stop)
    assert named is not None
    assert words.hole_mm[0] == pytest.approx(25.4 * int(named[1]) / int(named[2]))
    assert 0 <= words.hole_mm[0] - pattern_words(answer, line, HANDLING, units="mm").hole_mm[0] < 25.4 / 64


@pytest.mark.parametrize(("paper", "pages"), [("a4", 2), ("letter", 2), ("tabloid", 1)])
@pytest.mark.parametrize("root", ["64 deg", "277 deg"])
def test_only_the_page_with_the_stop_says_to_drill(paper: str, pages: int, root: str) -> None:
    """The line ends on the base's radius at its root; what else is round are rings, for taping alone."""
    answer = fit(bowl(root=root), rigid=True)
    line = follow_line_of(answer, HANDLING)
    tiling = tile_board(line, PAPERS[paper])
    words = pattern_words(answer, line, HANDLING, units="in")
    assert re.fullmatch(r"at stop: drill \d+/\d+ in before sawing", words.at_stop)
    figures = pattern_figures(line, tiling, words, copies=1)
    assert len(figures) == pages
    angle = math.radians(float(root.removesuffix(" deg")))
    radius = 131 / 2 - 21 / 2 * math.tan(math.radians(7))
    stop = radius * np.array([math.cos(angle), math.sin(angle)])
    told = []
    for tile, figure in zip(tiling.tiles, figures, strict=True):
        foot = next(axes for axes in figure.axes if axes.get_label() == "check")
        drills = [text.get_text() for text in foot.texts if "drill" in text.get_text()]
        there = stop - (tile.left_mm, tile.bottom_mm)
        inside = bool(np.all(there > 3) and np.all(there < np.array(tiling.window_mm[2:]) - 3))
        assert drills == ([words.at_stop] if inside else [])
        told.append(inside)
        assert any("ring on ring (do not drill)" in text.get_text() for text in figure.texts) is (pages > 1)
    assert sum(told) == 1


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


@pytest.mark.parametrize(
    ("kind", "paper"),
    [("round", "letter"), ("round", "a4"), ("rectangle", "letter"), ("square", "a4"), ("oval", "a4")],
)
def test_words_at_the_seams_touch_nothing(kind: str, paper: str) -> None:
    """On every page each seam has its word at both ends, clear of every line and every other word."""
    shapes: dict[str, dict[str, str]] = {
        "round": {"across": "241.3 mm"},
        "rectangle": {"outline": "rectangle", "length": "406 mm", "width": "279 mm", "corner": "20 mm"},
        "square": {"outline": "square", "across": "223 mm"},
        "oval": {"outline": "oval", "length": "281 mm", "width": "203 mm"},
    }
    tables = {
        "board": {"wood": "cherry", "thickness": "19 mm", **shapes[kind]},
        "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "7.94 mm", "base": "95.25 mm"},
        "use": {},
    }
    answer = fit(make_bowl({"name": "Sorrel dish", **tables}, where="test bowl"), rigid=True)
    line = follow_line_of(answer, Handling())
    tiling = tile_board(line, PAPERS[paper])
    assert len(tiling.tiles) > 1
    pages = pattern_figures(line, tiling, pattern_words(answer, line, Handling(), units="mm"), copies=1)
    for tile, page in zip(tiling.tiles, pages, strict=True):
        ways = ((0, 1), (0, -1), (1, 0), (-1, 0))
        beside = sum(tiling.page_at(tile.row + d, tile.column + o) is not None for d, o in ways)
        axes = next(a for a in page.axes if a.get_label() == "pattern")
        axes.apply_aspect()
        renderer = FigureCanvasAgg(page).get_renderer()
        boxes = {t: shapely.box(*Text.get_window_extent(t, renderer).extents) for t in axes.texts}
        names = [t for t in axes.texts if t.get_text() in ("cut", "tape")]
        assert len(names) == 2 * beside
        lines = [shapely.LineString(axes.transData.transform(li.get_xydata())) for li in axes.lines]
        for name in names:
            box = boxes[name]
            assert not any(box.intersects(li) for li in lines)
            assert sum(box.intersects(other) for other in boxes.values() if other.area > 0) == 1  # itself


@pytest.mark.parametrize(
    ("kind", "paper"),
    [("round 300", "a4"), ("rectangle", "a4"), ("rectangle", "letter")]
    + [("round 520", paper) for paper in ("a4", "letter", "a3")],
)
def test_no_word_at_a_seam_stands_on_paper_that_another_takes_away(kind: str, paper: str) -> None:
    """A seam's word lies between the seams that cross it: beyond them paper is cut off or laid over."""
    board = {"outline": "rectangle", "length": "406 mm", "width": "279 mm", "corner": "20 mm"}
    cut = {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "7.94 mm", "base": "95.25 mm"}
    if kind.startswith("round"):
        board = {"across": f"{kind.split()[1]} mm"}
    if kind == "round 300":
        cut |= {"pitch": "5 mm", "base": "80 mm"}
    tables = {"board": {"wood": "cherry", "thickness": "19 mm", **board}, "cut": cut, "use": {}}
    answer = fit(make_bowl({"name": "Sorrel dish", **tables}, where="test bowl"), rigid=True)
    line = follow_line_of(answer, Handling())
    tiling = tile_board(line, PAPERS[paper])
    size = np.array(tiling.window_mm[2:])
    pages = pattern_figures(line, tiling, pattern_words(answer, line, Handling(), units="mm"), copies=1)
    met = 0
    for tile, page in zip(tiling.tiles, pages, strict=True):
        axes = next(a for a in page.axes if a.get_label() == "pattern")
        axes.apply_aspect()
        renderer = FigureCanvasAgg(page).get_renderer()
        low = np.array([tile.left_mm, tile.bottom_mm])
        for word in (t for t in axes.texts if t.get_text() in ("cut", "tape")):
            corners = axes.transData.inverted().transform(Text.get_window_extent(word, renderer))
            axis = 0 if round(word.get_rotation()) % 180 == 0 else 1  # the way its seam runs
            step = ((0, -1), (0, 1)) if axis == 0 else ((1, 0), (-1, 0))
            before, after = (tiling.page_at(tile.row + d, tile.column + o) is not None for d, o in step)
            met += before or after
            # Neighbouring windows share 14 mm, and the seam is the middle of it.
            assert not before or corners[:, axis].min() >= low[axis] + 7 - 0.01
            assert not after or corners[:, axis].max() <= (low + size)[axis] - 7 + 0.01
    assert met > 0
