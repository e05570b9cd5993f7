"""Pictures: true proportion, words as text, files written whole or not at all."""

import functools
import io
import itertools
import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.text import Text
from PIL import Image

import fitsim
from fitsim import BowlFit
from fitsim.bowl.inputs import Limits
from fitsim.bowl.verdict import Margin
from fitsim.drawing.bench_drawing import bench_figures
from fitsim.drawing.bowl_drawing import FOOTER_RIGID, bowl_figure, limit_shares, margin_words
from fitsim.drawing.paper import first_rows, width_mm_of, wrapped, write_on
from fitsim.drawing.picture_files import moving_picture, write_picture
from fitsim.errors import InputError
from fitsim.files import check_target
from fitsim.pattern.bench_sheet import bench_sheet
from fitsim.pattern.layout import PAPERS, Handling
from fitsim.rigidbody.settling import Frame

MM_PER_INCH = 25.4


def bowl(**change: str) -> fitsim.Bowl:
    """Make an invented bowl, 18 mm thick and 150 mm across unless changed."""
    board = {"thickness": "18 mm", "across": "150 mm", "outline": "round"}
    cut = {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"}
    for part in (board, cut):
        part.update({key: value for key, value in change.items() if key in part})
    return fitsim.make_bowl({"board": board, "cut": cut, "use": {"finish": "none"}})


TOY = {"thickness": "6 mm", "across": "40 mm", "tilt": "5 deg", "kerf": "0.5 mm", "pitch": "3 mm",
       "base": "14 mm"}  # fmt: skip
THIN = {"thickness": "6 mm", "across": "120 mm", "kerf": "0.3 mm", "pitch": "8 mm", "base": "40 mm"}
THROUGH = {**THIN, "kerf": "0.9 mm"}  # seat drop 0.9/sin(5.5 deg) = 9.4 mm in a 6 mm board
WIDE = {"thickness": "25 mm", "across": "600 mm", "tilt": "6 deg", "kerf": "0.9 mm",
        "pitch": "8 mm", "base": "120 mm"}  # fmt: skip
SQUARE = {"across": "200 mm", "pitch": "7 mm", "base": "70 mm", "outline": "square"}
SHALLOW = {"thickness": "12 mm", "across": "150 mm", "tilt": "6 deg", "kerf": "0.6 mm", "pitch": "10 mm",
           "base": "110 mm"}  # fmt: skip
BROAD = {"thickness": "16 mm", "across": "260 mm", "tilt": "5 deg", "kerf": "0.8 mm", "pitch": "8 mm",
         "base": "219 mm"}  # fmt: skip
CASES = {
    "shallow": SHALLOW,
    "broad": BROAD,
    "usual": {},
    "toy": TOY,
    "thin": THIN,
    "through": THROUGH,
    "wide": WIDE,
    "square": SQUARE,
}


@functools.cache
def drawn(case: str, units: str) -> Figure:
    """Draw one of the cases once, under a name far too long for its line."""
    long = replace(bowl(**CASES[case]), name="Quince bowl for the " + "very " * 40 + "late class")
    return bowl_figure(fitsim.fit(long, rigid=True), units=units)


@pytest.fixture(scope="module")
def usual() -> BowlFit:
    """Fit a bowl whose verdict differs between the ends of its ranges, its limit set between them."""
    return fitsim.fit(replace(bowl(), limits=Limits(friction_used=0.3)), rigid=True)


@pytest.fixture(scope="module")
def page(usual: BowlFit) -> Figure:
    """Draw that bowl in millimetres."""
    return bowl_figure(usual, units="mm")


def axes_of(figure: Figure, label: str) -> Axes:
    """Find one drawing of the page by its label."""
    return next(axes for axes in figure.axes if axes.get_label() == label)


def texts_of(figure: Figure) -> list[Text]:
    """Collect every label of the page."""
    every = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    return [text for text in every if text.get_text().strip()]


def words_of(figure: Figure) -> list[str]:
    """Collect the words of every label."""
    return [text.get_text() for text in texts_of(figure)]


def printed_mm_per_mm(figure: Figure, label: str) -> tuple[float, float]:
    """How long 1 mm of wood is on paper, across and upward."""
    transform = axes_of(figure, label).transData.transform
    (x0, z0), (x1, z1) = transform([(3.0, -2.0), (4.0, -1.0)])
    return (x1 - x0) / figure.dpi * MM_PER_INCH, (z1 - z0) / figure.dpi * MM_PER_INCH


def falls(**number: float) -> Margin:
    """Make the margin to falling through with invented numbers."""
    given = {"value": 0.6, "limit": 0.15, "worst": 0.1, "best": 0.75, **number}
    return Margin("falls through", "overlap", "", margin=0.0, at_worst=True, at_best=False, **given)


# --- shares of a limit ----------------------------------------------------------------------------


def test_a_bowl_that_lets_go_is_not_drawn_as_using_no_friction() -> None:
    """Friction without end is said in words."""
    margin = Margin("springs back", "friction used", "", 0.65, 1.0, 0.0, math.inf, 0.29, False, False)
    words, ends = margin_words(margin, units="mm")
    assert ends == "worst lets go, best 29 %"
    assert words == "friction used 65 %, at most 100 %"  # exactly all of it still holds


@pytest.mark.parametrize(
    ("state", "limit", "numbers", "expected"),
    [
        ("will not open", 0.0, (0.6, 0.0, 0.78), (0.25, 1.0, 0.025)),  # of 0.8 mm sawn
        ("will not open", 0.3, (0.5, -0.2, 0.7), (0.6, 2.0, 0.2)),
        ("falls through", 0.15, (0.6, 0.12, 0.75), (0.25, 1.25, 0.2)),
        ("falls through", 0.15, (0.15, -0.4, 0.3), (1.0, math.inf, 0.5)),
        ("springs back", 0.8, (0.6, 1.2, 0.2), (0.75, 1.5, 0.25)),
        ("split risk", 0.1, (0.1, 0.93, 0.004), (1.0, 9.3, 0.04)),
    ],
)
def test_a_share_is_one_exactly_on_the_limit_and_more_beyond_it(
    state: str, limit: float, numbers: tuple[float, ...], expected: tuple[float, ...]
) -> None:
    """Each number's share follows its own definition below, on and above the limit."""
    value, worst, best = numbers
    margin = Margin(state, "number", "", value, limit, 0.0, worst, best, False, False)
    shares = limit_shares(margin, slot_cut_mm=0.8)
    assert (shares.middle, shares.worst, shares.best) == pytest.approx(expected)


def test_shares_where_the_limit_leaves_nothing() -> None:
    """A bowl beyond an empty allowance has an infinite share; one that asks nothing uses none."""
    never = falls(value=-math.inf, worst=-math.inf, best=0.2)
    assert limit_shares(never, slot_cut_mm=0.7).middle == math.inf
    assert limit_shares(falls(limit=0.0, value=0.3), slot_cut_mm=0.7).middle == 0.0
    assert limit_shares(falls(limit=0.0, value=0.0), slot_cut_mm=0.7).middle == 1.0
    closed = Margin("will not open", "slot left", "mm", 0.4, 0.7, 0.0, 0.3, 0.5, True, True)
    assert limit_shares(closed, slot_cut_mm=0.7).best == math.inf


def test_bars_are_as_long_as_their_shares(usual: BowlFit, page: Figure) -> None:
    """A bar ends at its share of the limit, or at the end of the axis."""
    slot_cut_mm = 0.7 / math.cos(math.radians(5.5))
    bars = [p for p in axes_of(page, "margins").patches if hasattr(p, "get_width")]
    for bar, margin in zip(bars, usual.verdict.margins, strict=True):
        share = limit_shares(margin, slot_cut_mm=slot_cut_mm).middle
        assert bar.get_width() == pytest.approx(min(share, 1.5), abs=1e-9)


def test_a_failing_bar_is_told_by_hatch_and_word(usual: BowlFit, page: Figure) -> None:
    """Bars that fail differ from clear ones by more than their colour."""
    assert usual.verdict.state == "springs back"  # tan(5.5 deg) = 0.096 over a friction of 0.25 to 0.55
    assert usual.verdict.state_at_best == "locks"
    hatches = [p.get_hatch() for p in axes_of(page, "margins").patches if hasattr(p, "get_width")]
    plain = [hatches[i] for i in (0, 1)]
    assert plain == ["", ""] or plain == [None] * 2
    assert len(hatches) == 3  # nothing pressed: no bar for splitting
    assert hatches[2]
    assert words_of(page).count("clear") == 2
    assert words_of(page).count("may fail") == 1
    assert words_of(drawn("toy", "in")).count("fails") == 1  # 0.5/sin(5 deg) of 6 mm leaves 4 % to bear


# --- proportion and layout ------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_sections_are_true_and_share_one_scale(case: str) -> None:
    """1 mm across is 1 mm upward on paper, the same flat and open, for every size of board."""
    figure = drawn(case, "in")
    for axes in figure.axes:
        axes.apply_aspect()  # what drawing does to the axes before anything else
    across, upward = printed_mm_per_mm(figure, "flat")
    assert across == pytest.approx(upward, rel=1e-9)
    assert printed_mm_per_mm(figure, "open") == pytest.approx((across, across), rel=1e-9)
    seat = printed_mm_per_mm(figure, "seat flat")
    assert seat[0] == pytest.approx(seat[1], rel=1e-9)
    assert printed_mm_per_mm(figure, "seat bound") == pytest.approx(seat, rel=1e-9)


@pytest.mark.parametrize(
    ("case", "units"), [*((case, "in") for case in CASES), ("toy", "mm"), ("wide", "mm"), ("shallow", "mm")]
)
def test_no_label_touches_another_or_leaves_the_page(case: str, units: str) -> None:
    """Labels are at least 8 points high, on the page, and clear of each other."""
    figure = drawn(case, units)
    canvas: Any = FigureCanvasAgg(figure)
    renderer = canvas.get_renderer()
    texts = texts_of(figure)
    assert min(float(text.get_fontsize()) for text in texts) >= 8
    boxes = [(text.get_text(), Text.get_window_extent(text, renderer)) for text in texts]
    for words, box in boxes:
        assert 0 < box.x0 < box.x1 < figure.bbox.width, words
        assert 0 < box.y0 < box.y1 < figure.bbox.height, words
    for (words, box), (others, other) in itertools.combinations(boxes, 2):
        assert not box.overlaps(other), f"{words} / {others}"


def test_wood_is_drawn_where_the_section_has_it(usual: BowlFit, page: Figure) -> None:
    """Flat, the wood is one thickness high; open, the topmost turn has risen by all seat drops."""
    drop_mm = 0.7 / math.sin(math.radians(5.5))
    tops = {
        label: max(
            float(p.get_xy()[:, 1].max()) for p in axes_of(page, label).patches if type(p) is Polygon
        )
        for label in ("flat", "open")
    }
    assert tops["flat"] == pytest.approx(9.0)
    # The section square to the root meets 7 turns on the right within 6.68 turns of strip.
    assert tops["open"] == pytest.approx(9.0 + 7 * drop_mm)


# --- words ----------------------------------------------------------------------------------------


def test_the_page_says_the_verdict_and_the_dimensions(page: Figure) -> None:
    """Verdict, what it depends on, and every dimension stand on the page."""
    words = words_of(page)
    for expected in (
        "springs back", "thickness 18.0 mm", "board across 150.0 mm", "pitch 6.5 mm",
        "seat drop 7.3 mm, each turn", FOOTER_RIGID, "overlap 59 %, at least 15 %",
    ):  # fmt: skip
        assert expected in words
    assert any(line.startswith("or locks: it depends on friction") for line in words)
    assert any(line.startswith("It depends on friction") for line in words)
    # The least friction that keeps it within a limit of 0.3: 0.096/0.3, an angle of 18 degrees.
    assert "slides before 17.8 degrees: it springs back" in " ".join(words)
    for start in ("rise ", "mouth, inside ", "wall ", "base on the table "):
        assert any(line.startswith(start) for line in words)


def test_inches_are_shown_as_a_rule_is_marked() -> None:
    """Given in inches the same page reads in whole and sixty-fourths."""
    given = bowl(thickness="3/4 in", across="7 1/4 in", pitch="5/16 in")
    words = words_of(bowl_figure(fitsim.fit(given, rigid=True), units="in"))
    assert {"thickness 3/4 in", "board across 7 1/4 in", "pitch 5/16 in"} <= set(words)


def test_a_bowl_that_falls_through_shows_no_rise() -> None:
    """Where a turn finds nothing to bind on the open drawing says so and gives no rise."""
    words = words_of(drawn("through", "in"))
    assert "falls through" in words
    assert any(line.startswith("falls through: no rise") for line in words)
    assert not any(line.startswith(("rise ", "mouth")) for line in words)


def test_a_bowl_that_will_not_open_shows_no_rise() -> None:
    """Where film has closed the slot the open drawing says so and gives no rise."""
    given = bowl(kerf="0.3 mm")
    shut = fitsim.fit(replace(given, use=replace(given.use, film_mm=0.25)), rigid=True)
    words = words_of(bowl_figure(shut, units="mm"))
    assert shut.rigid.shape is None  # a bowl that will not open has no measures
    assert any(line.startswith("will not open: ") for line in words)
    assert not any(line.startswith(("rise ", "mouth")) for line in words)


def test_a_name_is_never_read_as_a_formula(tmp_path: Path, usual: BowlFit) -> None:
    """Signs with a meaning elsewhere are drawn as written."""
    odd = replace(usual, bowl=replace(usual.bowl, name="$5 bowl_{x} & <oak> $y^2 木"))
    write_picture(bowl_figure(odd, units="mm"), tmp_path / "odd.svg", replace=False)
    assert ">$5 bowl_{x} &amp; &lt;oak&gt; $y^2" in (tmp_path / "odd.svg").read_text("utf8")


# --- files ----------------------------------------------------------------------------------------


def test_three_formats_are_written_alike_twice(tmp_path: Path, usual: BowlFit) -> None:
    """SVG, PNG and PDF are written, hold no date, and are the same bytes for the same answer."""
    heads = {".svg": b"<?xml", ".png": b"\x89PNG", ".pdf": b"%PDF"}
    figures = [bowl_figure(usual, units="mm") for _ in range(2)]
    for ending, head in heads.items():
        paths = [tmp_path / f"{rank}{ending}" for rank in range(2)]
        for figure, path in zip(figures, paths, strict=True):
            write_picture(figure, path, replace=False)
        first, second = (path.read_bytes() for path in paths)
        assert first.startswith(head)
        assert len(first) > 10_000
        assert first == second
    assert b"CreationDate" not in (tmp_path / "0.pdf").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        f"{rank}{ending}" for rank in range(2) for ending in heads
    )


def test_svg_keeps_words_as_text_and_pdf_holds_its_letters(tmp_path: Path, page: Figure) -> None:
    """Text of an SVG can be searched; a PDF carries TrueType letters with it."""
    write_picture(page, tmp_path / "a.svg", replace=False)
    drawn = (tmp_path / "a.svg").read_text("utf8")
    for words in ("springs back", "board across 150.0 mm", "thickness 18.0 mm", "seat drop 7.3 mm"):
        assert f">{words}" in drawn
    write_picture(page, tmp_path / "a.pdf", replace=False)
    assert b"/FontFile2" in (tmp_path / "a.pdf").read_bytes()


def test_an_existing_file_is_kept_unless_replacing_is_allowed(tmp_path: Path, page: Figure) -> None:
    """A picture never overwrites a file by itself."""
    target = tmp_path / "kept.svg"
    target.write_text("mine")
    with pytest.raises(InputError, match="not yet taken") as caught:
        write_picture(page, target, replace=False)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(str(target))
    assert target.read_text() == "mine"
    write_picture(page, target, replace=True)
    assert target.read_text().startswith("<?xml")


@pytest.mark.parametrize("name", ["a.jpg", "a", "a.gif", "none/a.svg"])
def test_a_file_that_cannot_be_written_is_answered_in_one_line(
    tmp_path: Path, page: Figure, name: str
) -> None:
    """Another ending or a missing folder is an input error of one line."""
    with pytest.raises(InputError, match="expected") as caught:
        write_picture(page, tmp_path / name, replace=True)
    assert "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_never_replaced(tmp_path: Path) -> None:
    """A folder with a picture's name is refused even when replacing is allowed."""
    (tmp_path / "a.svg").mkdir()
    with pytest.raises(InputError, match="not yet taken"):
        check_target(tmp_path / "a.svg", replace=True)


@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), RuntimeError("x")])
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path: Path, trouble: Exception) -> None:
    """A picture that fails half way leaves the folder as it was."""
    target = tmp_path / "kept.svg"
    target.write_text("mine")

    def half(stream: io.BytesIO, **_: object) -> None:
        stream.write(b"half")
        raise trouble

    broken: Any = SimpleNamespace(savefig=half)
    with pytest.raises(type(trouble)):
        write_picture(broken, target, replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["kept.svg"]
    assert target.read_text() == "mine"


# --- the bowl opening -----------------------------------------------------------------------------


def sinking(count: int, rest_from: int, *, step_mm: float = 0.5) -> tuple[Frame, ...]:
    """Record a base 60 x 10 mm that sinks by a step a frame within a rim, then rests."""
    base = np.array([[-30.0, -5.0], [30.0, -5.0], [30.0, 5.0], [-30.0, 5.0]])
    rim = np.array([[31.0, -5.0], [50.0, -5.0], [50.0, 5.0], [31.0, 5.0]])
    return tuple(
        Frame(
            time_s=0.01 * rank,
            polygons_mm=(base - [0.0, step_mm * min(rank, rest_from)], rim, rim * [-1.0, 1.0]),
            rings=(0, 1, 1),
        )
        for rank in range(count)
    )


@pytest.mark.parametrize(
    ("count", "rest_from", "shown"), [(45, 60, 45), (90, 99, 72), (9, 19, 9), (200, 44, 45)]
)
def test_the_moving_picture_has_its_frames(tmp_path: Path, count: int, rest_from: int, shown: int) -> None:
    """Every frame that moves is shown, 72 at most, in a file below 2 MB."""
    target = tmp_path / "opening.gif"
    moving_picture(sinking(count, rest_from), target, replace=False, units="mm")
    with Image.open(target) as picture:
        assert getattr(picture, "n_frames", 1) == shown
    assert 1_000 < target.stat().st_size < 2_000_000
    assert [p.name for p in tmp_path.iterdir()] == ["opening.gif"]


def test_the_moving_picture_is_true_and_its_axes_are_fixed(tmp_path: Path) -> None:
    """The base keeps its place across, and sinks as many dots as its own size says."""
    target = tmp_path / "opening.gif"
    moving_picture(sinking(12, 60, step_mm=2.0), target, replace=False, units="in")
    spans = []
    with Image.open(target) as picture:
        for rank in (0, 11):
            picture.seek(rank)
            dots = np.asarray(picture.convert("RGB")).astype(int)
            base = np.abs(dots - (0xD8, 0xB1, 0x73)).max(axis=2) < 12
            rows, columns = np.nonzero(base.sum(axis=1) > 200)[0], np.nonzero(base.any(axis=0))[0]
            spans.append((rows[0], rows[-1], columns[0], columns[-1]))
    first, last = spans
    scale = (last[3] - last[2]) / 60  # dots for 1 mm, from the base's 60 mm
    assert abs(first[2] - last[2]) <= 1
    assert abs(first[3] - last[3]) <= 1
    assert (last[1] - last[0]) / scale == pytest.approx(10.0, abs=0.6)
    assert (last[0] - first[0]) / scale == pytest.approx(11 * 2.0, abs=0.4)


def test_the_moving_picture_refuses_like_the_still_one(tmp_path: Path) -> None:
    """Existing files, other endings and no frames are answered in one line, and leave no file."""
    frames, target = sinking(3, 9), tmp_path / "a.gif"
    with pytest.raises(InputError, match=r"\.gif"):
        moving_picture(frames, tmp_path / "a.png", replace=True, units="mm")
    with pytest.raises(InputError, match="recorded frames"):
        moving_picture((), target, replace=True, units="mm")
    assert list(tmp_path.iterdir()) == []
    target.write_text("mine")
    with pytest.raises(InputError, match="not yet taken"):
        moving_picture(frames, target, replace=False, units="mm")
    assert target.read_text() == "mine"


@pytest.mark.parametrize("weight", ["normal", "bold"])
@pytest.mark.parametrize("width_mm", [21.0, 47.0, 113.0])
def test_lines_are_broken_where_they_are_full(width_mm: float, weight: str) -> None:
    """No line is wider than the page allows, measured whole, and none would have taken the next word."""
    text = (
        "AVAVAV To. Yes, WAVY Tea VATWAY LTV. We press TAVTA with 36 N (8.2 lbf) and let go; Pfr. AWAY the "
        "rim stands 2 37/64 in high, if ill it fill in WAWAWAWAWAWAWA till Twy. lie"
    )
    lines = wrapped(text, width_mm, 9.0, weight)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    for line, after in itertools.pairwise(lines):
        assert width_mm_of(line, 9.0, weight) <= width_mm
        word = after.split()[0]
        whole = any(word == given for given in text.split())
        assert not whole or width_mm_of(f"{line} {word}", 9.0, weight) > width_mm


@pytest.mark.parametrize("weight", ["normal", "bold"])
def test_rows_that_are_left_out_are_told_by_dots(weight: str) -> None:
    """What does not go into so many rows ends in three dots within the width; all of it has none."""
    text = "Obstschale aus gestockter Rotbuche " * 5 + "Donaudampfschifffahrt" * 9
    whole = wrapped(text, 173.0, 14, weight)
    assert first_rows(text, 173.0, 14, len(whole), weight) == whole
    for most in range(1, len(whole)):
        rows = first_rows(text, 173.0, 14, most, weight)
        assert len(rows) == most
        assert rows[:-1] == whole[: most - 1]
        assert width_mm_of(rows[-1], 14, weight) <= 173.0
        assert rows[-1].endswith("...")
        kept = "".join(rows).removesuffix("...").replace(" ", "")
        assert text.replace(" ", "").startswith(kept)
        assert len(kept) > len("".join(whole[: most - 1]).replace(" ", ""))


def test_a_name_cut_short_is_told_on_the_bench_sheet() -> None:
    """Where a long name does not go into its two rows the second ends in dots."""
    name = "Quince bowl for the " + "very " * 40 + "late class"
    answer = fitsim.fit(replace(bowl(**WIDE), name=name), rigid=True)
    sheet = bench_sheet(answer, Handling(), units="mm")
    pages = bench_figures(sheet, answer, PAPERS["a4"], units="mm")
    large = [t.get_text() for t in pages[0].texts if t.get_fontsize() == 14]
    assert len(large) == 2
    assert large[1].endswith("...")


def test_what_the_open_drawing_shows_stays_within_its_half(usual: BowlFit) -> None:
    """A title with all it may say is broken over two rows between the drawings' middle and the margin."""
    verdict = replace(usual.verdict, state="falls through", state_in_middle="springs back")
    figure = bowl_figure(replace(usual, verdict=verdict), units="mm")
    renderer = FigureCanvasAgg(figure).get_renderer()
    shown = [t for t in axes_of(figure, "open").texts if t.get_fontsize() == 10]
    said = "; ".join(t.get_text() for t in sorted(shown, key=lambda t: -t.get_position()[1]))
    assert said == "open, turns pressed home; springs back when let go; every range at its middle"
    boxes = [Text.get_window_extent(text, renderer) for text in texts_of(figure)]
    for text in shown:
        box = Text.get_window_extent(text, renderer)
        assert box.x0 / figure.dpi * MM_PER_INCH > 297 / 2
        assert box.x1 / figure.dpi * MM_PER_INCH < 297 - 12
        assert sum(box.overlaps(other) for other in boxes) == 1  # itself


def test_a_line_is_as_wide_in_a_picture_as_it_was_measured(tmp_path: Path) -> None:
    """In dots as in print: a full line of small letters ends where its measured width does."""
    line = wrapped("Dashed line and grey band: what was measured, with its uncertainty. " * 5, 273.0, 8.5)[
        0
    ]
    figure = Figure(figsize=(297 / MM_PER_INCH, 40 / MM_PER_INCH))
    write_on(figure, 12.0, 20.0, line, 8.5)
    write_picture(figure, tmp_path / "line.png", replace=False)
    with Image.open(tmp_path / "line.png") as image:
        dark = np.flatnonzero(np.asarray(image.convert("L")).min(axis=0) < 128)
    ends_mm = (dark[[0, -1]] + 0.5) / 200 * MM_PER_INCH
    assert ends_mm[1] - ends_mm[0] == pytest.approx(width_mm_of(line, 8.5), rel=0.005)
    assert ends_mm[0] >= 12
    assert ends_mm[1] <= 12 + 273
