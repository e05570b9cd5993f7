"""The printed pattern measured on its image at 300 dots an inch, and its words in their places."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from fitsim.arrays import Array
from fitsim.assume import make_bowl
from fitsim.bowl import Bowl
from fitsim.fit import BowlFit, fit
from fitsim.layout import MARGIN_mm, PAPERS, FollowLine, Handling, Tiling, tile_board
from fitsim.patterndrawing import pattern_figures, pattern_words
from fitsim.sheetcommand import follow_line_of, pdf_of
from fitsim.wood import woods

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

    The middle of the board lies left of the blade, so from above the line runs clockwise inward, and its root
    lies at the file's 64 deg; on the upper face it lies T/2 tan(tilt) inside mid-thickness, square to itself.
    """
    turns = (252 - 131) / 2 / 19 - turns_in  # from the root outward
    polar = math.radians(64) + 2 * math.pi * turns
    radius = 131 / 2 + 19 * turns
    growth = 19 / (2 * math.pi) / radius
    outward = np.stack([np.cos(polar), np.sin(polar)], axis=-1)
    around = np.stack([-np.sin(polar), np.cos(polar)], axis=-1)
    normal = (outward - growth[..., None] * around) / np.sqrt(1 + growth**2)[..., None]
    return radius[..., None] * outward - 21 / 2 * math.tan(math.radians(7)) * normal


def drawn(answer: BowlFit, paper: str) -> tuple[FollowLine, Tiling, Any]:
    """Line, pages and the PDF of one pattern."""
    line = follow_line_of(answer, HANDLING)
    tiling = tile_board(line, PAPERS[paper])
    figures = pattern_figures(line, tiling, pattern_words(answer, line, HANDLING, units="mm"), copies=1)
    return line, tiling, pdfium.PdfDocument(pdf_of(figures))


def darkness(page: Any) -> Array:
    """The page as a printer would get it, 0 white to 1 black, first row at the bottom."""
    image = page.render(scale=300 / 72, grayscale=True).to_numpy()
    return np.asarray(1 - image.reshape(image.shape[0], image.shape[1])[::-1] / 255.0)


def profile_middle_mm(dark: Array, place_mm: Array, normal: Array, reach_mm: float) -> float:
    """How far the middle of the darkness lies from a place, along a direction; nan if there is none."""
    steps = np.arange(-reach_mm, reach_mm, DOT_mm / 4)
    spots = place_mm + steps[:, None] * normal
    x, y = (spots / DOT_mm - 0.5).T
    i, j = np.floor(x).astype(int), np.floor(y).astype(int)
    u, v = x - i, y - j
    weight = (
        dark[j, i] * (1 - u) * (1 - v) + dark[j, i + 1] * u * (1 - v)
        + dark[j + 1, i] * (1 - u) * v + dark[j + 1, i + 1] * u * v
    )  # fmt: skip
    return float((weight * steps).sum() / weight.sum()) if weight.sum() > 2 else math.nan


@pytest.fixture(scope="module")
def answer() -> BowlFit:
    """The closed form of the test bowl."""
    return fit(bowl(), rigid=True)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_printed_line_across_the_pages(answer: BowlFit, paper: str) -> None:
    """The printed line lies within 0.15 mm of the spiral's definition on every page, across the joins."""
    line, tiling, document = drawn(answer, paper)
    assert len(document) == len(tiling.tiles) > 1
    left, bottom, width, height = tiling.window_mm
    turns_in = np.linspace(0.05, (252 - 131) / 2 / 19 - 0.02, 300)
    wanted = even_spiral_mm(turns_in)
    ahead = even_spiral_mm(turns_in + 1e-6) - wanted
    normals = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) / np.hypot(*ahead.T)[:, None]
    met = np.zeros(len(wanted), int)
    worst = 0.0
    for tile, page in zip(tiling.tiles, document, strict=True):
        assert page.get_size() == pytest.approx([v / 25.4 * 72 for v in tiling.page_mm], abs=1e-3)
        dark = darkness(page)
        corner = np.array([tile.left_mm, tile.bottom_mm])
        for k, (place, normal) in enumerate(zip(wanted, normals, strict=True)):
            there = place - corner
            if not (np.all(there > 1.5) and np.all(there < np.array([width, height]) - 1.5)):
                continue
            if near_a_mark(place, line, tiling):
                continue
            off = profile_middle_mm(dark, there + (left, bottom), normal, 0.7)
            assert not math.isnan(off), f"no line at {place}"
            worst = max(worst, abs(off))
            met[k] += 1
    joined = int((met > 1).sum())
    assert worst < 0.15
    assert joined > 5  # the same points on both pages of a join
    assert (met > 0).mean() > 0.8


def near_a_mark(place: Array, line: FollowLine, tiling: Tiling) -> bool:
    """Whether a mark of another kind may lie within a millimetre: seams, fold lines, ends, the outline."""
    x, y = (float(v) for v in place)
    straight = [x, y, *(x - s for s in tiling.seams_x_mm), *(y - s for s in tiling.seams_y_mm)]
    ends = (line.start_mm, line.stop_mm, line.nail_mm)
    rings = any(abs(x - s) < 8 for s in tiling.seams_x_mm) or any(abs(y - s) < 8 for s in tiling.seams_y_mm)
    on_ring = rings and any(
        abs(math.hypot(x - cx, y - cy) - 2.5) < 2
        for cx in [*tiling.seams_x_mm, *ring_places(tiling, 0)]
        for cy in [*tiling.seams_y_mm, *ring_places(tiling, 1)]
    )
    return (
        min(abs(v) for v in straight) < 2
        or any(math.hypot(*(place - end)) < 9 for end in ends)
        or abs(math.hypot(x, y) - 126) < 1
        or on_ring
    )


def ring_places(tiling: Tiling, axis: int) -> list[float]:
    """Where the registration rings lie along the seams."""
    size = tiling.window_mm[2 + axis]
    low = sorted({(t.left_mm, t.bottom_mm)[axis] for t in tiling.tiles})
    return [at + share * size for at in low for share in (0.12, 0.5, 0.88)]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_printed_check_square_and_bars(answer: BowlFit, paper: str) -> None:
    """The printed square measures 20 mm both ways and the bars 100 mm and 4 in, within 0.1 mm."""
    _, _, document = drawn(answer, paper)
    dark = darkness(document[0])

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


def boxes_mm(page: Any) -> list[tuple[float, float, float, float]]:
    """Boxes of the printed runs of text: left, bottom, right, top."""
    text = page.get_textpage()
    return [tuple(v / 72 * 25.4 for v in text.get_rect(k)) for k in range(text.count_rects())]  # type: ignore[misc]


LONGEST = max((wood.name for wood in woods()), key=len)
LONG_NAME = "A tray for the long table under the window, the second of three, and the widest of them all"


@pytest.mark.parametrize(
    ("board", "cut"),
    [
        ({"across": "40 mm", "thickness": "6 mm"}, {"base": "15 mm", "pitch": "3 mm", "tilt": "9 deg"}),
        ({"across": "620 mm", "thickness": "28 mm"}, {"base": "230 mm", "pitch": "14 mm"}),
        ({"outline": "square"}, {}),
    ],
    ids=["smallest", "largest", "square"],
)
def test_words_keep_to_the_page_and_apart(
    tmp_path: Path, board: dict[str, str], cut: dict[str, str]
) -> None:
    """With the longest wood name no word enters the margin, and on the bench sheet no two lines touch."""
    from fitsim.cli import main

    shape = {"wood": LONGEST, "thickness": "21 mm", "across": "252 mm", **board}
    sawn = {"tilt": "7 deg", "kerf": "0.8 mm", "pitch": "19 mm", "base": "131 mm", **cut}
    lines = [f'name = "{LONG_NAME}"', "[board]", *(f'{k} = "{v}"' for k, v in shape.items()), "[cut]"]
    path, out = tmp_path / "bowl.toml", tmp_path / "out.pdf"
    path.write_text("\n".join([*lines, *(f'{k} = "{v}"' for k, v in sawn.items())]), "utf8")
    result = CliRunner().invoke(main, ["sheet", str(path), "-o", str(out), "--rigid", "--paper", "a3"])
    assert result.exit_code == 0, result.output
    document = pdfium.PdfDocument(out)
    for number, page in enumerate(document):
        width, height = (v / 72 * 25.4 for v in page.get_size())
        found = boxes_mm(page)
        for left, bottom, right, top in found:
            assert min(left, bottom) >= MARGIN_mm - 0.3
            assert right <= width - MARGIN_mm + 0.3
            assert top <= height - MARGIN_mm + 0.3
        if number == 0:
            assert LONGEST in page.get_textpage().get_text_bounded()
            assert_apart(found)


def assert_apart(found: list[tuple[float, float, float, float]]) -> None:
    """No two boxes share more than a hair."""
    for k, (left, bottom, right, top) in enumerate(found):
        for other in found[k + 1 :]:
            wide = min(right, other[2]) - max(left, other[0])
            high = min(top, other[3]) - max(bottom, other[1])
            assert not (wide > 0.3 and high > 0.3), (found[k], other)
