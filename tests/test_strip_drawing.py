"""The page of the elastic strip: every mark where the wood has it, words clear of each other."""

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text
from PIL import Image

import fitsim
from fitsim import BowlFit, OutsideModelError, cli
from fitsim.bowl.elastic import elastic_fit
from fitsim.bowl.ranges import verdict_over_ranges
from fitsim.commands import fit as fitcommand
from fitsim.drawing.bowl_drawing import bowl_figure
from fitsim.drawing.picture_files import write_picture
from fitsim.drawing.strip_drawing import strip_figure
from fitsim.drawing.unrolled_strip import stress_axes
from fitsim.pattern.layout import Handling, line_to_follow
from fitsim.report.common_words import plain_words
from fitsim.strip.results import Loop

BASE_RADIUS_mm, PITCH_mm, ROOT_rad = 27.8, 6.35, math.radians(100)


def pressed(root: str = "100 deg", **change: str) -> BowlFit:
    """Press an invented bowl of two turns and a half, its root 100 degrees from the grain unless told."""
    board = {"wood": "cherry", "thickness": "19.05 mm", "across": "95 mm", "moisture": "8 %"}
    cut = {"tilt": "5 deg", "kerf": "0.64 mm", "pitch": "6.35 mm", "base": "55.6 mm", "root": root}
    use = {"finish": "none", "friction": "0.4", "press": "100 N"}
    tables = {"board": {**board, **change}, "cut": cut, "use": use}
    bowl = fitsim.make_bowl({"name": "Tansy dish", **tables})
    elastic = elastic_fit(bowl)
    numbers = elastic.opening.numbers
    verdict = verdict_over_ranges(bowl, numbers, lambda _at: numbers, ranges=())
    by_hand = fitsim.fit(bowl, rigid=True)
    return replace(by_hand, elastic=elastic, verdict=verdict, rests_on="elastic strip")


@pytest.fixture(scope="module")
def answer() -> BowlFit:
    """Press the bowl once; it holds."""
    return pressed()


@pytest.fixture(scope="module")
def page(answer: BowlFit) -> Figure:
    """Draw it in millimetres."""
    return strip_figure(answer, units="mm")


@pytest.fixture(scope="module")
def through() -> BowlFit:
    """Press a thin board, seat drop 7.3 mm in 6.2 mm of wood: it falls through."""
    return pressed(thickness="6.2 mm")


def sprung(answer: BowlFit, rise_mm: float, *, needed_N: float = math.inf) -> BowlFit:
    """The same bowl as if it sprang back to a rise, or could not be followed (nan)."""
    loop, elastic = answer.elastic.loop, answer.elastic
    judged = replace(elastic.opening.judged, needed_N=needed_N)
    elastic = replace(elastic, opening=replace(elastic.opening, judged=judged))
    cut = Loop(*(getattr(loop, k)[:-1] for k in
                 ("press_N", "rise_mm", "work_Nmm", "strain_Nmm", "friction_Nmm")), 0.0)  # fmt: skip
    unheld: dict[str, Any] = {"holds": False, "rise_at_rest_mm": rise_mm, "reach_N": 400.0,
                              "collapse_N": 0.0, "stress_at_rest": None, "loop": cut}  # fmt: skip
    return replace(answer, elastic=replace(elastic, **unheld))


def axes_of(figure: Figure, label: str) -> Axes:
    """Find one drawing of the page by its label."""
    return next(axes for axes in figure.axes if axes.get_label() == label)


def texts_of(figure: Figure) -> list[Text]:
    """Collect every word and number of the page, axes' ticks included."""
    texts = list(figure.texts)
    for axes in figure.axes:
        texts += axes.texts
        if not axes.axison:
            continue
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = 1e-6 * (high - low)
            pairs = zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=True)
            texts += [axis.label, *(t for p, t in pairs if low - slack <= p <= high + slack)]
    return [text for text in texts if text.get_text().strip()]


def words_of(figure: Figure) -> list[str]:
    """Collect the words of every label."""
    return [text.get_text() for text in texts_of(figure)]


def mark_of(figure: Figure, label: str, gid: str) -> tuple[float, float]:
    """Place of a mark on one drawing."""
    line = next(line for line in axes_of(figure, label).lines if line.get_gid() == gid)
    return float(np.asarray(line.get_xdata())[-1]), float(np.asarray(line.get_ydata())[-1])


def gently(answer: BowlFit) -> BowlFit:
    """The same bowl as if a third of the press had opened it."""
    assert answer.elastic is not None
    loop = answer.elastic.loop
    softer = replace(loop, press_N=loop.press_N / 3)
    return replace(answer, elastic=replace(answer.elastic, loop=softer))


@pytest.fixture(scope="module")
def drawn(answer: BowlFit, through: BowlFit) -> Callable[[str], Figure]:
    """Each case drawn once, under a name far too long for its line."""
    cases = {
        "locks": answer,
        "through": through,
        "lost": sprung(answer, math.nan),
        "far": sprung(answer, 0.0, needed_N=310.0),
        "gentle": gently(answer),
    }

    @cache
    def once(case: str) -> Figure:
        shown = cases[case.split()[0]]
        named = replace(shown.bowl, name="Dish for the " + "very " * 60 + "late class")
        return strip_figure(replace(shown, bowl=named), units=case.split()[1])

    return once


# --- structure and words --------------------------------------------------------------------------


def test_the_page_has_its_drawings_and_names_its_units(page: Figure) -> None:
    """Stress, grain, bowl from above, scale and press stand on the page, each axis with its unit."""
    assert {"stress", "grain", "above", "tones", "loop"} <= {str(a.get_label()) for a in page.axes}
    assert axes_of(page, "stress").get_ylabel() == "share of mean strength"
    assert axes_of(page, "grain").get_xlabel().endswith("from the root (mm)")
    assert axes_of(page, "tones").get_ylabel() == "stress, share of mean strength"
    assert axes_of(page, "loop").get_xlabel().endswith("(mm)")
    assert axes_of(page, "loop").get_ylabel() == "press (N)"
    for words in ("Tansy dish", "turn 1", "turn 2", "turn 3", "root", "nail", "worst place", "grain",
                  "press available 100 N", "fibres rolling", "pulled across the grain"):  # fmt: skip
        assert words in {part for w in words_of(page) for part in (w, *w.split(",\n"))}
    assert any("knots, checks" in w and "means with scatter" in w for w in words_of(page))


def test_inches_bring_inches_and_pounds(drawn: Callable[[str], Figure]) -> None:
    """In inches lengths read in inches and presses carry pounds: 100 N / 4.448 = 22 lbf."""
    words = words_of(drawn("locks in"))
    assert "press available 100 N (22 lbf)" in words
    assert any(w.endswith("from the root (in)") for w in words)
    rest = next(w for w in words if w.startswith("rise at rest"))
    assert rest.endswith(" in")


@pytest.mark.parametrize("case", ["locks in", "through in", "lost mm", "far in", "gentle in"])
def test_no_words_touch_or_leave_the_page(case: str, drawn: Callable[[str], Figure]) -> None:
    """Words are at least 8 points high, on the page, and clear of each other."""
    figure = drawn(case)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    texts = texts_of(figure)
    assert min(float(t.get_fontsize()) for t in texts) >= 8
    boxes = [(t.get_text(), Text.get_window_extent(t, canvas.get_renderer())) for t in texts]
    for words, box in boxes:
        assert 0 < box.x0 < box.x1 < figure.bbox.width, words
        assert 0 < box.y0 < box.y1 < figure.bbox.height, words
    for (words, box), (others, other) in itertools.combinations(boxes, 2):
        assert not box.overlaps(other), f"{words} / {others}"


# --- places ---------------------------------------------------------------------------------------


def test_root_nail_and_worst_place_lie_on_the_spiral(answer: BowlFit, page: Figure) -> None:
    """Marks lie on r = R_b + p (a / 2 pi + 1/2), the strip's middle, at the angle they stand for.

    Counted with the clock, as the board is sawn with its inside up on a table that goes down on the right.
    """
    stress = answer.elastic.opening.stress
    at_nail = answer.elastic.opening.elastic.strip.position_mm[-1, :2]
    swept = {"root": 0.0, "worst place": float(stress.clock_rad[stress.worst.section]) - ROOT_rad}
    shared = "root,\nworst place" if stress.element[stress.worst.section] == 0 else ""
    for word, angle in swept.items():
        radius = BASE_RADIUS_mm + PITCH_mm * (angle / (2 * math.pi) + 0.5)
        place = radius * np.array([math.cos(ROOT_rad + angle), -math.sin(ROOT_rad + angle)])
        assert mark_of(page, "above", shared or word) == pytest.approx(tuple(place), abs=0.02)
    assert mark_of(page, "above", "nail") == pytest.approx((at_nail[0], -at_nail[1]))
    assert 0 <= swept["worst place"] < 4 * math.pi


def test_the_bowl_from_above_lies_as_its_pattern_does(answer: BowlFit, page: Figure) -> None:
    """Laid on each other, the line of the usual pattern ends at the root's mark and passes the nail's."""
    board = answer.bowl.board
    line = line_to_follow(
        answer.rigid.slot,
        answer.rigid.strip,
        thickness_mm=board.thickness_mm,
        across_mm=board.across_mm,
        outline=board.outline,
        handling=Handling(),
        height_share=0.0,
    )
    for word, place in (("root", line.stop_mm), ("nail", line.nail_mm)):
        shown = np.array(next(mark_of(page, "above", w) for w in (word, f"{word},\nworst place") if w in
                              words_of(page)))  # fmt: skip
        # The strip's middle lies half a pitch beside its line, and the strip ends on one of its nodes.
        assert math.atan2(*shown[::-1]) == pytest.approx(math.atan2(*place[::-1]), abs=0.1)
        assert np.hypot(*(shown - place)) < PITCH_mm
        paths = axes_of(page, "above").collections[0].get_paths()
        pieces = [path.vertices[:4].mean(axis=0) for path in paths]
        assert np.hypot(*(pieces[0 if word == "root" else -1] - shown)) < 6  # half a piece
    assert any("table that goes down on the right" in w for w in words_of(page))


def test_a_worst_place_at_the_root_shares_its_mark(answer: BowlFit) -> None:
    """Where the wood is worst off at the root itself, one mark carries both words."""
    opening = answer.elastic.opening
    stress = replace(opening.stress, worst=replace(opening.stress.worst, section=0))
    moved = replace(answer, elastic=replace(answer.elastic, opening=replace(opening, stress=stress)))
    words = words_of(strip_figure(moved, units="mm"))
    assert "root,\nworst place" in words
    assert not {"root", "worst place"} & set(words)


def test_the_arrow_points_at_the_worst_place_at_its_length_along_the_spiral(
    answer: BowlFit, page: Figure
) -> None:
    """The arrow ends on the thick line, as far along as the spiral's arc to that angle is long."""
    stress = answer.elastic.opening.stress
    arrow = next(t for t in axes_of(page, "stress").texts if isinstance(t, Annotation))
    angle = np.linspace(0, float(stress.clock_rad[stress.worst.section]) - ROOT_rad, 2001)
    radius = BASE_RADIUS_mm + PITCH_mm * (angle / (2 * math.pi) + 0.5)
    arc = float(np.trapezoid(np.hypot(radius, PITCH_mm / (2 * math.pi)), angle))
    assert arrow.xy[0] == pytest.approx(arc, rel=1e-3)
    drawn = np.asarray(axes_of(page, "stress").lines[0].get_ydata())
    assert arrow.xy[1] == pytest.approx(drawn[stress.worst.section])
    for words in (
        f"turn {stress.worst.turn},",
        plain_words(stress.worst.cause),
        "deg from the grain",
        "1 bowl in",
    ):
        assert words in arrow.get_text()


def test_the_grain_lies_as_the_strip_crosses_it(answer: BowlFit, page: Figure) -> None:
    """Strip laid to the right, the grain lies at the tangent's angle, root + a + 90 deg.

    At plus, not minus: the strip runs with the clock from its root, as the usual pattern has it.
    """
    lines = next(c for c in axes_of(page, "grain").collections if isinstance(c, LineCollection))
    stress = answer.elastic.opening.stress
    end = float(stress.arc_mm[-1] + stress.length_mm[-1] / 2)
    scale = axes_of(page, "grain").get_xlim()[1] / end
    angle = np.linspace(0, 6 * math.pi, 6001)
    radius = BASE_RADIUS_mm + PITCH_mm * (angle / (2 * math.pi) + 0.5)
    length = np.concatenate([[0.0], np.cumsum((radius[1:] + radius[:-1]) / 2 * np.diff(angle))])
    seen = 0
    for segment in lines.get_segments():
        (x0, y0), (x1, y1) = segment
        a = float(np.interp((x0 + x1) / 2 / scale, length, angle))
        off = math.atan2(y1 - y0, x1 - x0) - (ROOT_rad + a + math.pi / 2)
        # The strip of constant width ends after two turns less half a pitch; there it narrows inward.
        if a < 8.0:
            assert abs(math.remainder(off, math.pi)) < 0.08
            seen += 1
    assert seen > 100


def test_pressing_ends_at_the_press_it_takes_and_letting_go_at_rest(answer: BowlFit, page: Figure) -> None:
    """The loop climbs to the press it is judged at and comes down to press 0 at the rise at rest."""
    judged = answer.elastic.opening.judged
    assert mark_of(page, "loop", "pressing")[1] == pytest.approx(1.25 * judged.needed_N)
    assert judged.press_N < 100.0
    rise, press = mark_of(page, "loop", "letting go")
    assert press == 0
    assert rise == pytest.approx(answer.elastic.rise_at_rest_mm)
    assert mark_of(page, "loop", "rise at rest") == pytest.approx((rise, 0.0))


# --- tones ----------------------------------------------------------------------------------------


def test_the_scale_darkens_all_the_way(page: Figure) -> None:
    """Relative luminance (Rec. 709 weights) falls from each tone to the next, far enough to tell."""
    bars = [p for p in axes_of(page, "tones").patches if hasattr(p, "get_width")]
    light = []
    for bar in bars:
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in
                  to_rgb(bar.get_facecolor()[:3])]  # fmt: skip
        light.append(116 * float(np.dot([0.2126, 0.7152, 0.0722], linear)) ** (1 / 3) - 16)
    assert len(light) >= 4
    assert min(-np.diff(light)) > 5  # in steps of CIE lightness; 1 is about the least a trained eye sees


def test_the_worst_element_is_the_darkest(answer: BowlFit, page: Figure) -> None:
    """The element most stressed of its mean strength carries the darkest tone of all elements."""
    collection = axes_of(page, "above").collections[0]
    tones = np.asarray(collection.get_facecolor())[:, :3].sum(axis=1)
    stress = answer.elastic.opening.stress
    assert tones[stress.element[int(np.argmax(stress.ratio))]] == tones.min()
    assert tones.max() > tones.min()


# --- bowls that do not stand ----------------------------------------------------------------------


def test_a_bowl_that_falls_through_says_so_and_gives_no_rise(drawn: Callable[[str], Figure]) -> None:
    """Where a turn falls through its press is marked, and no rise at rest is given."""
    words = words_of(drawn("through in"))
    assert any(w.startswith("falls through\nat ") for w in words)
    assert any("no press holds it" in w for w in words)
    assert not any(w.startswith("rise at rest") for w in words)


@pytest.mark.parametrize(
    ("rise_mm", "expected"),
    [(3.25, "springs back\nto 3.2 mm"), (-1e-14, "springs back\nflat"), (math.nan, "springs back;")],
)
def test_a_bowl_that_springs_back_says_how_far(
    answer: BowlFit, drawn: Callable[[str], Figure], rise_mm: float, expected: str
) -> None:
    """Sprung back, the page gives the rise left, flat or not known, and the presses tried."""
    lost = math.isnan(rise_mm)
    words = words_of(drawn("lost mm") if lost else strip_figure(sprung(answer, rise_mm), units="mm"))
    assert any(w.startswith(expected) for w in words)
    assert "no press up to 400 N holds it" in words


def test_a_turn_that_touches_nothing_does_not_stop_the_drawing(answer: BowlFit, page: Figure) -> None:
    """A turn without hold changes nothing on the page."""
    opening = answer.elastic.opening
    used = np.where(np.arange(len(opening.friction_by_turn)) == 1, np.nan, opening.friction_by_turn)
    odd = replace(answer, elastic=replace(answer.elastic, opening=replace(opening, friction_by_turn=used)))
    assert words_of(strip_figure(odd, units="mm")) == words_of(page)


def test_without_an_elastic_strip_there_is_nothing_to_draw(answer: BowlFit) -> None:
    """The closed form alone is answered in one line."""
    with pytest.raises(OutsideModelError, match="only stiff turns") as caught:
        strip_figure(replace(answer, elastic=None), units="mm")
    assert "\n" not in str(caught.value)


def test_stress_axes_serve_a_study(answer: BowlFit) -> None:
    """On plain axes the thick line alone is drawn where no strengths are given; jumps stay."""
    axes = Figure().add_subplot()
    stress = answer.elastic.opening.stress
    stress_axes(axes, stress)
    assert np.array_equal(np.asarray(axes.lines[0].get_ydata()), stress.ratio)
    assert [t.get_text() for t in axes.texts if t.get_text() != "turn"] == ["all together"]


# --- files ----------------------------------------------------------------------------------------


def test_the_same_answer_gives_the_same_bytes(tmp_path: Path, answer: BowlFit) -> None:
    """Two drawings of one answer are the same file."""
    paths = [tmp_path / f"{k}.svg" for k in range(2)]
    for path in paths:
        write_picture(strip_figure(answer, units="in"), path, replace=False)
    assert paths[0].read_bytes() == paths[1].read_bytes()


BOWL = '[board]\nthickness = "19 mm"\nacross = "95 mm"\n[cut]\ntilt = "5 deg"\n'


def run(*words: str) -> tuple[int, str]:
    """Run one command in this process; its status and what it said on standard error."""
    result = CliRunner().invoke(cli.main, list(words))
    return result.exit_code, result.stderr


def test_strip_picture_on_the_command_line(
    tmp_path: Path, answer: BowlFit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The option may be repeated and writes every file."""
    monkeypatch.setattr(fitcommand, "fit", lambda bowl, *, rigid, progress: answer)
    (tmp_path / "b.toml").write_text(BOWL, "utf8")
    files = [tmp_path / "a.svg", tmp_path / "a.png"]
    status, said = run("fit", str(tmp_path / "b.toml"), "--json", "--strip-picture", str(files[0]),
                       "--strip-picture", str(files[1]))  # fmt: skip
    assert (status, said.count("drawn: ")) == (0, 2)
    assert ">worst place<" in files[0].read_text("utf8")
    with Image.open(files[1]) as image:
        assert image.size == (2338, 1653)  # 297 x 210 mm at 200 dots an inch


def test_strip_picture_is_refused_without_the_strip(
    tmp_path: Path, answer: BowlFit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With --rigid, over a file, or where nothing was pressed: one line, status 2, nothing written."""
    (tmp_path / "b.toml").write_text(BOWL, "utf8")
    bowl, target, other = (str(tmp_path / n) for n in ("b.toml", "a.svg", "b.svg"))
    unpressed = replace(answer, elastic=None)
    monkeypatch.setattr(fitcommand, "fit", lambda bowl, *, rigid, progress: unpressed)
    assert "--rigid leaves out" in run("fit", bowl, "--strip-picture", target, "--rigid")[1]
    for words in (("--strip-picture", target, "--rigid"), ("--strip-picture", target),
                  ("--strip-picture", target, "--picture", other),
                  ("--strip-picture", bowl)):  # fmt: skip
        status, said = run("fit", bowl, *words)
        assert (status, len(said.splitlines())) == (2, 1), said
    assert [p.name for p in tmp_path.iterdir()] == ["b.toml"]
    assert bowl_figure(unpressed, units="mm") is not None


@pytest.mark.parametrize("turned", [False, True])
def test_no_two_lines_of_the_marks_cross(turned: bool) -> None:
    """Root below and nail above, or the other way round: each word stands so that its line crosses none."""
    board = {"wood": "walnut", "thickness": "17 mm", "across": "243 mm"}
    cut = {"tilt": "5.3 deg", "kerf": "0.72 mm", "pitch": "8.1 mm", "base": "97 mm"}
    root = {"root": "270 deg"} if turned else {}
    known = {"friction": "0.37", "press": "220 N"}
    bowl = fitsim.make_bowl({"board": board, "cut": {**cut, **root}, "use": known})
    page = strip_figure(fitsim.fit(bowl, beyond=False), units="mm")
    black = [line for line in axes_of(page, "above").lines if line.get_lw() == 0.7]
    ways = [shapely.LineString(line.get_xydata()) for line in black]
    assert len(ways) >= 2
    assert not any(one.crosses(other) for one, other in itertools.combinations(ways, 2))


@pytest.mark.parametrize("needed_N", [61.0, 94.3, 105.2, 131.0])
def test_each_press_is_named_at_its_own_line(answer: BowlFit, needed_N: float) -> None:
    """However near the press needed and that available lie, the words of each stand nearer its own line."""
    figure = strip_figure(sprung(answer, math.nan, needed_N=needed_N), units="mm")
    renderer = FigureCanvasAgg(figure).get_renderer()
    axes = axes_of(figure, "loop")
    line_px = {word: float(axes.transData.transform((0.0, press_N))[1])
               for word, press_N in (("available", 100.0), ("needed", needed_N))}  # fmt: skip
    for word, other in (("available", "needed"), ("needed", "available")):
        text = next(t for t in axes.texts if t.get_text().startswith(f"press {word}"))
        box = Text.get_window_extent(text, renderer)

        def away(level: float, box: Any = box) -> float:
            return max(box.y0 - level, level - box.y1)

        assert 0 < away(line_px[word]) < away(line_px[other])


@pytest.mark.parametrize("share", [0.0, 0.2, 0.45, 0.9])
def test_no_word_stands_on_the_mark_of_the_worst_place(answer: BowlFit, share: float) -> None:
    """Wherever along the strip the worst place lies, its mark at the band of the grain touches no word."""
    opening = answer.elastic.opening
    arc = opening.stress.arc_mm
    section = int(np.argmin(np.abs(arc - share * arc[-1])))
    stress = replace(opening.stress, worst=replace(opening.stress.worst, section=section))
    moved = replace(answer, elastic=replace(answer.elastic, opening=replace(opening, stress=stress)))
    figure = strip_figure(moved, units="mm")
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    mark = next(line for line in axes_of(figure, "grain").lines if line.get_gid() == "worst")
    assert np.asarray(mark.get_xdata())[0] == pytest.approx(
        arc[section] / opening.stress.length_mm.sum() * axes_of(figure, "grain").get_xlim()[1], rel=0.02
    )
    box = mark.get_window_extent(canvas.get_renderer())
    for text in texts_of(figure):
        assert not box.overlaps(Text.get_window_extent(text, canvas.get_renderer())), text.get_text()


@pytest.fixture(scope="module")
def shorter() -> BowlFit:
    """The bowl in a board of 85 mm: its nail lies on the right, where lines come to it across the base."""
    return pressed(across="85 mm")


@pytest.mark.parametrize("clock_deg", [10, 32, 62, 92, 116, 180, 300])
def test_no_line_crosses_out_the_word_in_the_base(shorter: BowlFit, clock_deg: int) -> None:
    """Wherever the worst place lies round the first turn, the word stands in the base, free of lines."""
    opening = shorter.elastic.opening
    first = opening.stress.turn == opening.stress.turn.min()
    off = np.cos(opening.stress.clock_rad - math.radians(clock_deg))
    section = int(np.argmax(np.where(first, off, -2.0)))
    stress = replace(opening.stress, worst=replace(opening.stress.worst, section=section))
    moved = replace(shorter, elastic=replace(shorter.elastic, opening=replace(opening, stress=stress)))
    figure = strip_figure(moved, units="mm")
    axes = axes_of(figure, "above")
    axes.apply_aspect()
    to_mm = axes.transData.inverted()
    (word,) = (t for t in axes.texts if t.get_text() == "base")
    extent = Text.get_window_extent(word, FigureCanvasAgg(figure).get_renderer())
    box = shapely.box(*to_mm.transform(extent).ravel())
    lines = [shapely.LineString(line.get_xydata()) for line in axes.lines if line.get_lw() == 0.7]
    assert len(lines) >= 2
    assert not any(line.intersects(box) for line in lines)
    # The base is a disc of 27.8 mm that its spiral widens by a pitch in a turn.
    assert shapely.Point(0, 0).buffer(BASE_RADIUS_mm).contains(box)
