"""What the bench sheet tells a maker: bowls that must not be sawn, and the press the sheet asks for."""

import math
import re
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from fitsim.bowl.closed_form import deciding_numbers, rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.fit import BowlFit, fit
from fitsim.bowl.inputs import Bowl, with_friction_known
from fitsim.bowl.judgement import Judgement, judge_opening
from fitsim.bowl.ranges import corners, mattering
from fitsim.bowl.verdict import STATES, Dependence, judge
from fitsim.bowlfile.defaults import make_bowl
from fitsim.commands.sheet import _peg, follow_line_of
from fitsim.drawing.bench_drawing import bench_figures, peg_blocks, peg_figure
from fitsim.drawing.paper import width_mm_of
from fitsim.drawing.pattern_drawing import pattern_words
from fitsim.errors import NoConvergenceError
from fitsim.pattern.bench_sheet import BenchSheet, _table_block, bench_sheet
from fitsim.pattern.layout import PAPERS, Handling, MARGIN_mm
from fitsim.pattern.peg_and_string import peg_string
from fitsim.pattern.table_setting import (
    HAND_N,
    Setting,
    TableSetting,
    harmless_N,
    press_over_ends,
    table_setting,
)
from fitsim.quantities import show_length
from fitsim.report.common_words import CAUTIONS
from fitsim.report.terminal import fit_report
from fitsim.report.verdict_words import told_states, verdict_line
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned import Learned, with_learned
from fitsim.saw.slide_test import Friction

TABLES = {
    "beech": (
        {"wood": "beech", "thickness": "22 mm", "across": "150 mm"},
        {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "11 mm", "base": "60 mm"},
    ),
    "poplar": (
        {"wood": "yellow-poplar", "thickness": "25 mm", "across": "140 mm"},
        {"tilt": "6 deg", "kerf": "0.8 mm", "pitch": "12 mm", "base": "50 mm"},
    ),
    "cherry": (
        {"wood": "cherry", "thickness": "12 mm", "across": "180 mm"},
        {"tilt": "2 deg", "kerf": "1 mm", "pitch": "10 mm", "base": "70 mm"},
    ),
    "birch": (
        {"wood": "birch, yellow", "thickness": "6 mm", "across": "150 mm"},
        {"tilt": "12 deg", "kerf": "0.64 mm", "pitch": "11 mm", "base": "66 mm"},
    ),
}
"""Unequal bowls by their wood."""


@cache
def pressed(wood: str, rigid: bool = False, moisture: str = "8 %", **use: str) -> BowlFit:
    """One of those bowls as ``fit`` judges it."""
    board, cut = TABLES[wood]
    tables = {"board": {**board, "moisture": moisture}, "cut": cut, "use": {"finish": "none", **use}}
    return fit(make_bowl(tables), beyond=False, rigid=rigid)


@cache
def between(press: str) -> BowlFit:
    """A bowl with a kerf that is known only as a range, its friction known."""
    board, cut = TABLES["birch"]
    use = {"finish": "none", "friction": "0.4", "press": press}
    return fit(
        make_bowl(
            {
                "board": {**board, "across": "118 mm"},
                "cut": {**cut, "kerf": "0.56 to 0.74 mm"},
                "use": use,
            }
        ),
        beyond=False,
    )


def sheet_of(answer: BowlFit) -> BenchSheet:
    """Its bench sheet in mm."""
    return bench_sheet(answer, Handling(), units="mm")


def block(sheet: BenchSheet, heading: str) -> str:
    """All words under a heading."""
    return " ".join(next(b.lines for b in sheet.blocks if b.heading == heading))


def presses_N(words: str) -> list[float]:
    """Newtons of a sentence, in its order."""
    return [float(v) for v in re.findall(r"([\d.]+) N\b", words)]


UNSAWN = {
    "springs back": lambda: pressed("beech", friction="0.4", press="400 N"),
    "split risk": lambda: pressed("poplar", friction="0.25", press="500 N"),
    "falls through": lambda: pressed("cherry", press="110 N"),
    "will not open": lambda: pressed("birch", finish="varnish", film="0.4 mm"),
    "springs back, stiff turns": lambda: pressed("poplar", rigid=True, friction="0.09"),
}
"""Bowls that must not be sawn, by what they do."""


@pytest.mark.parametrize("what", UNSAWN)
def test_a_bowl_that_must_not_be_sawn_gets_no_step_of_the_bench(what: str) -> None:
    """No drill, nail, finish, nor a height to reach; the section lies flat; cautions stay."""
    answer = UNSAWN[what]()
    state = what.partition(",")[0]
    assert answer.verdict.state_in_middle == state
    sheet = sheet_of(answer)
    assert sheet.setting == f"Do not saw yet: {state}"
    headings = {b.heading for b in sheet.blocks}
    assert headings <= {"Board", "Table", "Press", "What it would do", "Before you saw", "Not counted"}
    assert sheet.height_label == ""
    assert sheet.section_title.startswith("section, flat")
    said = " ".join(line for b in sheet.blocks for line in b.lines)
    assert not re.search(r"\b(Drill|Nail|nail|pilot|Stop when|Flat of the hand)\b", said)
    assert "Ask fitsim tilt" in block(sheet, "Before you saw")
    assert sheet.cautions == CAUTIONS


@pytest.mark.parametrize("press", ["150 N", "24 N", "19 N"])
def test_a_press_that_holds_is_not_to_be_given_where_too_little_bears(press: str) -> None:
    """A bowl that keeps its rise and falls through by its overlap is told both: no press is to be given.

    Nor is it told how much is there, whether that would hold it or not.
    """
    tables = {
        "board": {"wood": "black walnut", "thickness": "12 mm", "across": "76 mm", "moisture": "8 %"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "5 mm", "base": "56 mm"},
        "use": {"finish": "none", "friction": "0.4", "press": press},
    }
    answer = fit(make_bowl({**tables, "limits": {"overlap": "0.24"}}), beyond=False)
    assert answer.verdict.state_in_middle == "falls through"
    found = answer.elastic
    assert found is not None
    assert found.holds == (press != "19 N")
    said = block(sheet_of(answer), "Press")
    assert not re.search("It holds|it holds|to be given|Flat of the hand|there (is|are)", said)
    assert "too little of the thickness would bear" in said
    assert presses_N(said)[0] == pytest.approx(found.opening.judged.needed_N, rel=0.05)


@pytest.mark.parametrize(
    ("across_mm", "base_mm", "width"),
    [(520, 320, "19.1 mm"), (300, 118, "9.5 mm"), (90, 12, None), (760, 516, "31.8 mm")],
)
def test_the_widest_blade_is_the_tables(across_mm: int, base_mm: int, width: str | None) -> None:
    """Of published radii 38.1, 63.5, 139.7 and 250.8 mm the widest blade within the base's is told."""
    board = {"wood": "beech", "thickness": "22 mm", "across": f"{across_mm} mm"}
    cut = {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "10 mm", "base": f"{base_mm} mm"}
    answer = fit(
        make_bowl({"board": board, "cut": cut, "use": {"friction": "0.4"}}), beyond=False, rigid=True
    )
    said = block(sheet_of(answer), "Blade")
    if width is None:
        assert "no published table has a blade" in said
    else:
        assert f"a blade at most {width} wide turns it by every published table" in said


@pytest.mark.parametrize(
    ("base_mm", "sheet_says", "page_says", "note"),
    [
        (86, "12.7 mm wide, DOES NOT TURN 43.0 mm", "blade 12.7 mm DOES NOT TURN 43.0 mm", "too wide"),
        (128, "12.7 mm wide, turns 64.0 mm", "blade 12.7 mm turns 64.0 mm: fine", ""),
        (75, "9.5 mm wide, MAY NOT TURN 37.5 mm", "blade 9.5 mm may not turn 37.5 mm (tables", "disagree"),
    ],
)
def test_whether_the_blade_turns_is_said_alike(
    base_mm: int, sheet_says: str, page_says: str, note: str
) -> None:
    """A blade of 12.7 mm turns 63.5 mm by all tables, one of 9.52 from 31.8 to 38.1 by some."""
    blade = "9.52 mm" if base_mm == 75 else "12.7 mm"
    board = {"wood": "beech", "thickness": "22 mm", "across": "240 mm", "moisture": "8 %"}
    cut = {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "10 mm", "base": f"{base_mm} mm", "blade": blade}
    made = make_bowl({"board": board, "cut": {**cut, "base": "128 mm"}, "use": {"friction": "0.4"}})
    # Cuts that the file would refuse are asked as well.
    made = replace(made, cut=replace(made.cut, base_radius_mm=base_mm / 2))
    answer = fit(made, beyond=False, rigid=True)
    assert sheet_says in block(sheet_of(answer), "Blade")
    words = pattern_words(answer, follow_line_of(answer, Handling()), Handling(), units="mm")
    assert page_says in str(words)
    told = [n for n in answer.notes if "too wide" in n or "Published tables disagree" in n]
    assert [note in n for n in told] == ([True] if note else [])


def test_the_height_of_a_bowl_that_springs_back_is_told_as_that_under_the_press() -> None:
    """Thickness and mean rise under the press, named as such, once; then that it would not stay so."""
    answer = UNSAWN["springs back"]()
    assert answer.elastic is not None
    height = show_length(22 + answer.elastic.opening.rim.mean_mm, units="mm")
    sheet = sheet_of(answer)
    said = block(sheet, "What it would do")
    assert said.startswith("Under the press of 400 N, before it springs back: each turn sunk ")
    assert said.endswith(f"outside height, table to rim: {height}. It would not stay so.")
    every = " ".join(line for b in sheet.blocks for line in b.lines)
    assert every.count(height) == 1


def test_the_height_of_a_bowl_that_risks_a_split_is_that_of_one_that_did_not() -> None:
    """The chance under the press comes first, the height it rests at only with that said."""
    answer = UNSAWN["split risk"]()
    assert answer.elastic is not None
    rise = answer.elastic.rise_at_rest_mm
    asked_N = answer.elastic.opening.judged.asked_N
    said = block(sheet_of(answer), "What it would do")
    assert presses_N(said) == [pytest.approx(asked_N, rel=0.02)]
    one_in = 1 / answer.elastic.opening.numbers.split_chance
    assert f"it takes, about 1 bowl in {one_in:.0f} would split. One that did not split" in said
    assert said.endswith(f"outside height, table to rim: {show_length(25 + rise, units='mm')}.")


def test_press_without_spare_is_told_as_holding_by_too_little() -> None:
    """Between the least press that holds and 1.25 times that it stands let go, but not surely."""
    needed_N = UNSAWN["springs back"]().elastic.opening.judged.needed_N  # type: ignore[union-attr]
    answer = pressed("beech", friction="0.4", press=f"{1.1 * needed_N:.1f} N")
    assert answer.verdict.state_in_middle == "springs back"
    assert answer.standing.let_go
    said = block(sheet_of(answer), "What it would do")
    assert "hold by so little that it may as well spring back" in said
    assert "Under the press" not in said
    assert presses_N(said)[0] == pytest.approx(1.1 * needed_N, rel=0.02)


def test_every_state_of_the_headline_is_named_wherever_a_state_is() -> None:
    """Falling through at the worst and springing back in the middle: title, table and pattern name both."""
    springs = UNSAWN["springs back"]()
    friction = Dependence("friction", "", 0.1, 0.3, "falls through", "springs back", 0.15)
    torn = replace(springs.verdict, state="falls through", depends_on=(friction,))
    answer = replace(springs, verdict=torn)
    assert verdict_line(answer) == "FALLS THROUGH, or SPRINGS BACK: it depends on friction"
    sheet, both = sheet_of(answer), "falls through, or springs back"
    assert sheet.setting == f"Do not saw yet: {both}"
    assert f"Planned 8 deg: {both}. Do not saw" in block(sheet, "Table")
    assert "In the middle of all that is known only as a range it springs back." in block(
        sheet, "What it would do"
    )
    line = follow_line_of(answer, Handling())
    words = pattern_words(answer, line, Handling(), units="mm")
    assert words.warning == f"DO NOT SAW: {both}"
    assert "Not to be glued on" in words.lines[0]
    assert not any("drill" in text for text in (*words.legend, words.at_stop))


def test_the_peg_page_carries_the_warning_as_the_pattern_does() -> None:
    """It goes to the board alone too: the box stands above its title, and none where the bowl locks."""
    peg = peg_string(pitch_mm=9, start_radius_mm=140, stop_radius_mm=60, string_mm=0.8)
    for warning in ("DO NOT SAW: falls through, or springs back", ""):
        page = peg_figure(
            peg, "Tansy", PAPERS["a4"], units="mm", counter_clockwise=True, start_rad=1.0, warning=warning
        )
        boxed = [t.get_text() for t in page.texts if t.get_bbox_patch() is not None]
        assert boxed == ([warning] if warning else [])


@pytest.mark.parametrize(("root", "crosses"), [("340 deg", True), ("155 deg", True), ("40 deg", False)])
def test_a_root_is_told_to_lie_badly_only_across_the_grain(root: str, crosses: bool) -> None:
    """A root 20 or 30 deg from the grain splits more often than one at 90, at 40 it hangs on the bowl."""
    board = {"wood": "cherry", "thickness": "20 mm", "across": "200 mm"}
    cut = {"tilt": "6 deg", "kerf": "0.73 mm", "pitch": "9 mm", "base": "121 mm", "root": root}
    answer = fit(make_bowl({"board": board, "cut": cut, "use": {"friction": "0.4"}}), rigid=True)
    line = follow_line_of(answer, Handling())
    assert ("crosses it, and splits sooner" in block(sheet_of(answer), "Board")) is crosses
    words = pattern_words(answer, line, Handling(), units="mm")
    assert ("dashed arrow" in " ".join([*words.lines, *words.legend])) is crosses


def test_the_string_starts_where_the_pattern_does() -> None:
    """At the edge where the line comes in from outside; else so far inside it, with the way in to it told.

    The pattern's start and the pencil's are the same distance from the middle, sqrt(r^2 - rho^2) of string.
    """
    wide = WIDE
    for middle in ("lowered", "raised"):
        answer = fit(wide, rigid=True)
        line = follow_line_of(answer, Handling(middle))
        peg, remarks = _peg(wide, line, 0.8, wanted=True)
        assert peg is not None
        assert not remarks
        assert peg.start_radius_mm == pytest.approx(float(np.hypot(*line.start_mm)))
        assert peg.start_string_mm == pytest.approx(
            math.sqrt(peg.start_radius_mm**2 - (9 / (2 * math.pi)) ** 2)
        )
        start_rad = math.atan2(line.start_mm[1], line.start_mm[0])
        turning = line.counter_clockwise
        blocks = peg_blocks(
            peg, units="mm", counter_clockwise=turning, start_rad=start_rad, run_in_mm=line.run_in_mm
        )
        said = " ".join(" ".join(b.lines) for b in blocks)
        told = re.search(r"start lies (\d+) deg round from it, counted ([a-z-]+), so .*? (\d+) deg", said)
        assert told is not None
        assert (told[2] == "counter-clockwise") is turning
        root_rad = (1 if turning else -1) * line.root_rad
        assert math.sin(math.radians(int(told[3])) - root_rad) == pytest.approx(0, abs=0.02)
        rows = re.findall(r"([\d.]+) mm \([\d.]+ in\): pitch [^;]*; begin (\d+) deg round", said)
        assert len(rows) == 4
        for peg_mm, begin_deg in ((9.0 / math.pi - 0.8, told[1]), *rows):
            # The string leaves a peg of radius rho at the polar angle u - atan(u), u = sqrt((r/rho)^2 - 1).
            rho = (float(peg_mm) + 0.8) / 2
            first, last = (math.sqrt((r / rho) ** 2 - 1) for r in (peg.start_radius_mm, peg.stop_radius_mm))
            swept_rad = first - math.atan(first) - last + math.atan(last)
            ends_rad = math.radians(int(begin_deg)) + swept_rad
            assert math.sin(ends_rad - root_rad) == pytest.approx(0, abs=math.sin(math.radians(1.5)))
        if middle == "lowered":
            assert peg.start_radius_mm == pytest.approx(150, abs=0.01)
            assert "the start at the board's edge, 150.0 mm from the centre." in said
        else:
            assert peg.start_radius_mm == pytest.approx(150 - 10 * math.tan(math.radians(6)), abs=0.01)
            assert f"meets the board's edge {line.run_in_mm:.1f} mm before the start" in said


@pytest.mark.parametrize("units", ["in", "mm"])
def test_one_length_is_one_figure_on_the_sheet_and_in_fit(units: str) -> None:
    """Base and height stand on the drawing, in the blocks and in fit with the same figures."""
    answer = fit(WIDE, rigid=True)
    shape = answer.standing.shape
    assert shape is not None
    sheet = bench_sheet(answer, Handling(), units=units)
    base, height, across = (
        show_length(v, units=units) for v in (shape.base_diameter_mm, shape.height_mm, 300.0)
    )
    page = bench_figures(sheet, answer, PAPERS["a4"], units=units)[0]
    drawn = [text.get_text() for axes in page.axes for text in axes.texts]
    assert f"base on the table {base}" in drawn
    assert f"{height} outside" in drawn
    assert f"against {base}. " in block(sheet, "Which way up")
    assert f"table to rim: {height} (" in block(sheet, "When it is right")
    assert f"round, {across} across" in block(sheet, "Board")
    report = " ".join(fit_report(answer, units=units).split())
    assert f"height outside {height}" in report


@pytest.mark.parametrize("short", [0, 2])
def test_of_a_long_sentence_the_head_has_what_goes_in(short: int) -> None:
    """A sentence of 300 words alone, or after short ones: full rows, and the rest under its heading."""
    answer = fit(WIDE, rigid=True)
    words = [f"word{number}" for number in range(300)]
    told = " ".join([*["Short is this."] * short, f"Because {' '.join(words)}."])
    sheet = replace(bench_sheet(answer, Handling(), units="mm"), why=told)
    pages = bench_figures(sheet, answer, PAPERS["letter"], units="mm")
    every = " ".join(
        " ".join(text.get_text() for page in pages for text in page.texts).replace("- ", "").split()
    )
    for word in words:
        assert len(re.findall(rf"\b{word}\b", every)) == 1
    head = every[: every.index("\u2026 More under \u201cThe rest of the verdict\u201d.")]
    assert head.count("word") > 80


@pytest.mark.parametrize("sentences", [3, 30, 60])
def test_no_word_of_the_verdict_is_left_off_the_sheet(sentences: int) -> None:
    """What does not go in at the head stands under a heading that the head names, and nothing twice."""
    answer = fit(WIDE, rigid=True)
    told = [
        f"Reason {number} is that turn {number} holds by {number} parts." for number in range(sentences)
    ]
    sheet = replace(bench_sheet(answer, Handling(), units="mm"), why=" ".join(told))
    pages = bench_figures(sheet, answer, PAPERS["letter"], units="mm")
    words = " ".join(text.get_text() for page in pages for text in page.texts)
    words = " ".join(words.replace("- ", "").split())
    for sentence in told:
        assert words.count(sentence) == 1
    assert (words.count("The rest of the verdict") == 2) == (sentences > 3)
    assert len(pages) == 1 + (sentences > 3)


WIDE = make_bowl(
    {
        "board": {"wood": "cherry", "thickness": "20 mm", "across": "300 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.73 mm", "pitch": "9 mm", "base": "121 mm"},
        "use": {"friction": "0.4"},
    }
)
"""A board larger than a page, none of whose measures lies on the marks of a rule."""


def test_the_nail_is_driven_while_the_board_lies_flat() -> None:
    """As the strip has it, whose free end keeps the place it has flat; driven open it keeps another."""
    said = block(bench_sheet(fit(WIDE, rigid=True), Handling(), units="mm"), "Nail")
    assert "Nail it, board flat, from the edge in at mid-thickness." in said


def test_the_pattern_s_box_leaves_room_for_the_name() -> None:
    """However many states the headline names, the box fits on the narrowest page beside a plan of pages."""
    springs = UNSAWN["springs back"]()
    line = follow_line_of(springs, Handling())
    room = min(p.width_mm for p in PAPERS.values()) - 2 * MARGIN_mm
    ends = (("will not open", "split risk"), ("falls through", "locks"), ("will not open", "locks"))
    for worst, best in ends:
        between = STATES[STATES.index(worst) : STATES.index(best) + 1]
        inputs = tuple(Dependence(s, "", 0.1, 0.3, s, best) for s in between)
        torn = replace(springs.verdict, state=worst, state_at_best=best, depends_on=inputs)
        told = told_states(torn)
        assert all(state in told for state in between)
        box = pattern_words(replace(springs, verdict=torn), line, Handling(), units="mm").warning
        assert box.startswith(f"DO NOT SAW: {worst}")
        assert width_mm_of(box, 12.0, "bold") < room - 45


def test_what_may_happen_is_that_of_the_press_on_the_sheet() -> None:
    """Where friction is least the middle's press is too little: springing back is told, then splitting."""
    answer = pressed("poplar", press="500 N")
    assert (answer.verdict.state, answer.verdict.state_in_middle) == ("split risk", "locks")
    assert answer.elastic is not None
    press_N = answer.elastic.opening.judged.press_N
    (low,) = (u.low for u in answer.bowl.uncertain if u.path == "use.friction")
    slippery = with_friction_known(answer.bowl, low)
    states = [judge(open_bowl(b, press_N=press_N).numbers, b.limits) for b in (slippery, answer.bowl)]
    assert states == ["springs back", "locks"]
    assert table_setting(answer).asked.so_pressed == "springs back"
    sheet, shown = sheet_of(answer), "290 N"
    assert presses_N(shown)[0] == pytest.approx(press_N, rel=0.02)
    may = "it may spring back, and split if pressed harder"
    assert sheet.setting == f"Set the table to 6 deg, but test first: {may}"
    assert f"locks, but where friction is least, pressed with {shown}, {may}." in block(sheet, "Table")
    assert f"up to {shown}; if it springs back from that, no harder: less friction would take" in block(
        sheet, "Press"
    )
    kerf = Dependence("kerf", "mm", 0.7, 0.9, "locks", "split risk")
    unsure = replace(answer, verdict=replace(answer.verdict, depends_on=(kerf,)))
    assert sheet_of(unsure).setting.endswith("it may spring back, or split")


def test_where_a_hand_can_hardly_press_so_little_it_is_told_how_much_does_no_harm() -> None:
    """A thin board asks for less than a hand weighs: up to what is told half of the overlap's room is left.

    Under that nothing splits and nothing falls through, under all there is a turn does. Where the bowl asks
    for more than a hand weighs, or for nearly what a turn stands, "no harder" stays.
    """
    thin = {
        "board": {"wood": "maple, sugar", "thickness": "6 mm", "across": "150 mm"},
        "cut": {"tilt": "9 deg", "kerf": "0.5 mm", "pitch": "5 mm", "base": "60 mm"},
        "use": {"finish": "none", "friction": "0.35", "press": "200 N"},
    }
    answer = fit(make_bowl(thin), beyond=False)
    assert answer.elastic is not None
    asked_N, most_N = answer.elastic.opening.judged.asked_N, harmless_N(answer)
    assert 1.25 * asked_N <= most_N < answer.elastic.falls_beyond_N < answer.bowl.use.press_N
    under, limits = open_bowl(answer.bowl, press_N=most_N).numbers, answer.bowl.limits
    assert judge(under, limits) == "locks"
    assert under.split_chance < 0.001
    room = answer.elastic.opening.numbers.overlap - limits.overlap
    assert under.overlap - limits.overlap >= 0.5 * room
    harder = open_bowl(answer.bowl, press_N=1.6 * most_N).numbers
    assert harder.overlap - limits.overlap < 0.5 * room
    said = block(sheet_of(answer), "Press")
    assert presses_N(said)[:2] == pytest.approx([asked_N, most_N], abs=0.51)
    assert "or more if that is hard to judge" in said
    assert "no harder" not in said
    found = replace(answer.elastic, opening=replace(
        answer.elastic.opening, judged=replace(answer.elastic.opening.judged, asked_N=HAND_N)
    ))  # fmt: skip
    for other in (found, replace(answer.elastic, falls_beyond_N=1.2 * asked_N)):
        assert math.isnan(harmless_N(replace(answer, elastic=other)))


def test_a_press_asked_by_the_least_friction_is_not_doubted() -> None:
    """Judged at the least friction's own press, the bowl as planned is told as its verdict has it."""
    answer = pressed("birch", friction="0.4 to 0.5", press="50 N")
    assert answer.elastic is not None
    assert answer.elastic.opening.judged.friction == pytest.approx(0.4)
    assert answer.verdict.state == "locks"
    assert table_setting(answer).asked.so_pressed == "locks"
    assert sheet_of(answer).setting == "Set the table to 12 deg"


def test_a_press_that_does_no_harm_is_not_forbidden() -> None:
    """Where all there is splits fewer than 1 in 1000 it is allowed, else "no harder" stays; never more."""
    answer = pressed("birch", friction="0.4 to 0.5", press="50 N")
    found = answer.elastic
    assert found is not None
    there_N, asked_N = answer.bowl.use.press_N, found.opening.judged.asked_N
    for friction in (0.4, answer.bowl.use.friction):
        known = with_friction_known(answer.bowl, friction)
        numbers = open_bowl(known, press_N=there_N).numbers
        assert numbers.split_chance < 0.001
        assert judge(numbers, known.limits) == "locks"
    assert harmless_N(answer) == there_N
    said = block(sheet_of(answer), "Press")
    asked, there, holds = presses_N(said)
    assert asked == pytest.approx(asked_N, rel=0.03)
    assert there == there_N
    assert holds == pytest.approx(found.opening.judged.needed_N, rel=0.03)
    assert "no harder" not in said
    assert "Stop when every turn has wedged" in said
    kerf = Dependence("kerf", "mm", 0.6, 0.7, "locks", "falls through")
    wider = replace(answer.verdict, state="falls through", depends_on=(kerf,))
    sinks = STATES.index("falls through")
    margin = replace(answer.verdict.margins[sinks], worst=0.152)  # just above its limit at the judged press
    deeper = open_bowl(answer.bowl, press_N=there_N).numbers.overlap
    assert margin.value - deeper > 0.002 + 1e-6
    less = tuple(margin if k == sinks else m for k, m in enumerate(answer.verdict.margins))
    dangers = {
        "1 in 900 splits": replace(answer, elastic=replace(found, chance_at_press=1 / 900)),
        "not followed": replace(answer, elastic=replace(found, chance_at_press=math.nan)),
        "splits not far above": replace(answer, elastic=replace(found, split_press_N=1.9 * asked_N)),
        "a wide slot": replace(answer, verdict=wider),
        "sinks far": replace(answer, verdict=replace(answer.verdict, margins=less)),
        "falls through": pressed("birch", friction="0.4 to 0.5", press="90 N"),
    }
    for danger, changed in dangers.items():
        assert math.isnan(harmless_N(changed)), danger
        assert "no harder" in block(sheet_of(changed), "Press"), danger
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("fitsim.pattern.table_setting.FAR_ABOVE", 1.0)
        for split_N, allowed in ((0.99 * there_N, math.nan), (1.01 * there_N, there_N)):
            beside = replace(answer, elastic=replace(found, split_press_N=split_N))
            assert harmless_N(beside) == pytest.approx(allowed, nan_ok=True)


def test_the_sheet_allows_the_press_that_the_ends_of_the_ranges_ask_for() -> None:
    """A kerf of 0.56 to 0.74 mm asks for more at one end: given exactly what the sheet allows, it locks.

    Given exactly what the middle asks for it may spring back at that end.
    """
    answer = between("90 N")
    assert answer.verdict.state == "locks"
    found = answer.elastic
    assert found is not None
    asked_N, worst = found.opening.judged.asked_N, answer.verdict.worst.press_asked
    assert 1.03 * asked_N < worst * 90 < 90
    said = block(sheet_of(answer), "Press")
    assert "if it springs back from that, up to " in said
    up_to, over_all = presses_N(said)[:2]
    assert up_to == pytest.approx(asked_N, rel=0.03)
    assert over_all == pytest.approx(worst * 90, rel=0.01)
    assert between(f"{over_all} N").verdict.state == "locks"
    gentler = between(f"{1.001 * asked_N:.2f} N").verdict
    assert (gentler.state, gentler.state_in_middle) == ("springs back", "locks")


def test_the_press_of_an_end_is_not_allowed_where_it_does_harm() -> None:
    """Where turns sink deepest, or the wood is weak, it must bear that: else the sheet says why not."""
    answer = between("90 N")
    for spoils, why in (("falls through", "it may fall through"), ("split risk", "the wood may split")):

        def spoilt(bowl: Bowl, opening: Opening, state: str = spoils) -> Judgement:
            found = judge_opening(bowl, opening)
            return replace(found, state=state) if bowl.cut.kerf_mm[0] == 0.74 else found

        with pytest.MonkeyPatch.context() as patched:
            patched.setattr("fitsim.pattern.table_setting.judge_opening", spoilt)
            ends = press_over_ends(answer)
            assert ends is not None
            assert ends.spoils == spoils
            said = block(sheet_of(answer), "Press")
        assert f"if it springs back from that, no harder: {why}." in said
    assert press_over_ends(pressed("birch", friction="0.45", press="50 N")) is None  # nothing asks for more


@pytest.mark.parametrize(
    ("tilt_deg", "least_N", "planned"), [(14.25, 80.0, "locks"), (14.75, 89.0, "springs back")]
)
def test_a_half_degree_that_asks_for_more_press_than_there_may_be_is_not_set(
    tilt_deg: float, least_N: float, planned: str
) -> None:
    """More tilt asks for more press: what may be short of it as planned is no better off half a degree on.

    Pressed as hard as it is, a quarter of a degree more locks, but by less than its spare: so says fit.
    Near the steepest that friction holds that quarter asks for a tenth more, while the last digits of a
    tilt move the press needed by a fiftieth or two.
    """
    board, cut = TABLES["birch"]

    def judged(tilt: str, **press: str) -> BowlFit:
        use = {"finish": "none", "friction": "0.3", **press}
        bowl = make_bowl({"board": board, "cut": {**cut, "tilt": tilt}, "use": use})
        ranges = tuple(replace(u, low=least_N) if u.path == "use.press_N" else u for u in bowl.uncertain)
        return fit(replace(bowl, uncertain=ranges), beyond=False)

    answer = judged(f"{tilt_deg} deg")
    assert (answer.verdict.state_in_middle, answer.verdict.state) == ("locks", planned)
    found = table_setting(answer)
    less, more = found.beside
    assert (less.scale_deg, less.surely_locks, more.surely_locks) == (tilt_deg - 0.25, True, False)
    assert found.nearest == less
    steeper = judged(f"{tilt_deg + 0.25} deg")
    assert steeper.verdict.state == "springs back"
    assert more.short_of_N == pytest.approx(steeper.verdict.worst.press_asked * least_N, rel=1e-6)
    told = block(sheet_of(answer), "Table").partition(f"at {tilt_deg + 0.25:g} deg it locks by too little")[
        2
    ]
    step_N = 0.1 if more.short_of_N < 100 else 1.0  # rounded up: so much has to be given
    assert -0.05 < presses_N(told)[0] - more.short_of_N < step_N
    assert "to be given" not in block(sheet_of(judged(f"{tilt_deg} deg", press="400 N")), "Table")


def test_a_press_under_which_little_is_left_to_bear_does_harm() -> None:
    """At 80 N it still locks, but more than half of the overlap's room above its limit is gone."""
    answer = pressed("birch", friction="0.45 to 0.5", press="80 N")
    numbers = open_bowl(answer.bowl, press_N=80).numbers
    assert judge(numbers, answer.bowl.limits) == "locks"
    assert answer.elastic is not None
    room, left = (n.overlap - 0.15 for n in (answer.elastic.opening.numbers, numbers))
    assert 0.1 * room < left < 0.45 * room
    assert math.isnan(harmless_N(answer))
    assert "no harder" in block(sheet_of(answer), "Press")


@pytest.mark.parametrize("lost", [0.4, 0.45])
def test_no_harm_is_told_only_where_it_was_followed(lost: float) -> None:
    """A press that cannot be followed, in the middle of friction or where it is least, is not allowed."""
    answer = pressed("birch", friction="0.4 to 0.5", press="50 N")
    assert math.isfinite(harmless_N(answer))

    def only_others(bowl: Bowl, *, press_N: float, lowering: bool) -> Opening:
        if bowl.use.friction == pytest.approx(lost):
            raise NoConvergenceError("lost", 0.0)
        return open_bowl(bowl, press_N=press_N, lowering=lowering)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("fitsim.pattern.table_setting.open_bowl", only_others)
        assert math.isnan(harmless_N(answer))


def test_a_half_degree_that_could_not_be_followed_is_told_so() -> None:
    """It is neither set nor called a cure, and not left out as if it had not been asked for."""
    board, cut = TABLES["birch"]
    use = {"finish": "none", "friction": "0.4", "press": "90 N"}
    answer = fit(make_bowl({"board": board, "cut": {**cut, "tilt": "11.75 deg"}, "use": use}), beyond=False)
    assert answer.verdict.state == "locks"

    def lost_below(bowl: Bowl, **options: Any) -> Opening:
        if bowl.cut.tilt_rad[0] < math.radians(11.6):
            raise NoConvergenceError("lost", 0.0)
        return open_bowl(bowl, **options)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("fitsim.pattern.table_setting.open_bowl", lost_below)
        sheet = sheet_of(answer)
    told = block(sheet, "Table")
    assert "at 11.5 deg what it does could not be calculated; at 12 deg it locks too." in told
    assert "On a scale of half degrees: 12 deg" in told
    assert "11.5" not in block(sheet, "If it is not")


def test_hardly_more_than_it_ought_to_be_given_is_not_worth_telling() -> None:
    """With 5 % more than asked there is no room to tell of: no harder."""
    asked_N = pressed("birch", friction="0.4 to 0.5", press="50 N").elastic.opening.judged.asked_N  # type: ignore[union-attr]
    answer = pressed("birch", friction="0.4 to 0.5", press=f"{1.05 * asked_N:.2f} N")
    assert "no harder" in block(sheet_of(answer), "Press")


def test_the_sheet_counts_on_the_film_of_the_file() -> None:
    """A file's film stands in for the usual one of that finish; other finishes keep their own."""
    answer = pressed("cherry", rigid=True, finish="varnish", film="0.1 to 0.2 mm", friction="0.4")
    sheet = sheet_of(replace(answer, verdict=replace(answer.verdict, state_in_middle="locks")))
    said = block(sheet, "Finish")
    assert said.startswith("This sheet counts on: varnish, 0.1 mm to 0.2 mm on each face.")
    # 1 mm of kerf, square to the faces, less a film of 0.2 mm on both.
    assert "Varnish, 0.2 mm on each face at most: slot left 0.60 mm" in said
    assert "Oil, 0.005 mm on each face at most: slot left 0.99 mm" in said


def test_moisture_is_told_to_a_tenth() -> None:
    """What an oven taught is known to no more than tenths of a percent."""
    assert "moisture 8.7 % when sawn" in block(
        sheet_of(pressed("poplar", rigid=True, moisture="8.684211 %")), "Board"
    )
    assert "moisture 8 % when sawn" in block(sheet_of(pressed("poplar", rigid=True)), "Board")


@pytest.mark.parametrize(
    ("drops", "told"),
    [
        ((3.0, 4.0), "drier than the base: the first turn sinks 3 mm; wetter: 4 mm."),
        (
            (math.nan, 4.0),
            "wetter than the base: the first turn sinks 4 mm. How far with drier turns is not known.",
        ),
        (
            (3.0, math.nan),
            "drier than the base: the first turn sinks 3 mm. How far with wetter turns is not known.",
        ),
        ((math.nan, math.nan), "drier or wetter than the base is not known."),
    ],
)
def test_a_drop_that_is_not_known_is_told_in_a_sentence(drops: tuple[float, float], told: str) -> None:
    """Either side of the moisture may find no answer."""
    answer = pressed("poplar", rigid=True, friction="0.5")
    sheet = replace(answer, verdict=replace(answer.verdict, state_in_middle="locks"))
    base = answer.bowl.use.base_moisture_percent

    def by_moisture(_answer: object, changed: object) -> list[float]:
        moist = changed.use.turn_moisture_percent[0]  # type: ignore[attr-defined]
        return [drops[0] if moist < base else drops[1] if moist > base else 3.5]

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("fitsim.pattern.bench_sheet.drops_mm", by_moisture)
        said = block(sheet_of(sheet), "Seasons")
    assert told in said
    assert "2 points of moisture" in said


@pytest.mark.parametrize(
    ("board", "cut", "use", "why"),
    [
        ({"wood": "mahogany, African"}, {}, {"press": "40 N"}, "the wood is weak for its kind"),
        (
            {},
            {"kerf": "0.3 to 1.6 mm"},
            {"finish": "varnish", "film": "0.15 mm", "press": "50 N"},
            "a wide slot",
        ),
    ],
    ids=["weak wood", "wide slot"],
)
def test_a_press_that_may_spoil_it_at_an_end_of_what_is_not_known_does_harm(
    board: dict[str, str], cut: dict[str, str], use: dict[str, str], why: str
) -> None:
    """Asked of every end of its ranges the bowl splits more than 1 in 1000, or a turn falls through."""
    known, sawn = TABLES["birch"]
    tables = {
        "board": {**known, "moisture": "8 %", **board},
        "cut": {**sawn, **cut},
        "use": {"finish": "none", "friction": "0.4 to 0.5", **use},
    }
    bowl = make_bowl(tables)
    answer = fit(bowl, beyond=False)
    assert answer.verdict.state_in_middle == "locks"
    spoilt = []
    for end in corners(bowl, mattering(bowl, deciding_numbers)):
        if rigid_fit(end).numbers.slot_left_mm <= 0:
            continue
        numbers = open_bowl(end, press_N=bowl.use.press_N).numbers
        spoilt.append(numbers.split_chance > 0.001 or judge(numbers, bowl.limits) == "falls through")
    assert any(spoilt), why
    assert math.isnan(harmless_N(answer))
    told = sheet_of(answer)
    assert "no harder" in block(told, "Press")
    if why == "a wide slot":
        assert told.setting.endswith("it may not open, or fall through")


SAW = Saw(
    "Shed saw", 0.8, 0.012, math.radians(0.44), math.radians(0.12), -0.5, 0.02, math.radians(0.1), 2, 1, 0
)
WAXED = Friction("Slides", "", "wax", "walnut, black", 0.21, 0.17, 0.26, 6)


def told_of(learned: Learned, state: str) -> BenchSheet:
    """The sheet of the poplar bowl with what was learned laid on it, stiff turns, in a state."""
    bowl = with_learned(pressed("poplar", rigid=True, friction="0.5").bowl, learned, units="mm")
    answer = fit(bowl, beyond=False, rigid=True)
    return sheet_of(replace(answer, verdict=replace(answer.verdict, state_in_middle=state, state=state)))


@pytest.mark.parametrize("state", ["locks", "springs back"])
def test_the_true_tilt_by_the_saw_s_test_cuts_is_told_beside_its_scale(state: str) -> None:
    """6 on a scale that reads 0.44 too little is 6.44 between table and blade, on that saw alone."""
    sheet = told_of(Learned(SAW), state)
    line = "Shed saw: 6 deg on the scale is 6.44 deg between table and blade."
    assert line in block(sheet, "Table")
    assert ("Set the scale to 6 deg" in sheet.setting) is (state == "locks")
    plain = told_of(Learned(), state)
    assert "between table and blade" not in block(plain, "Table")
    assert ("Set the table to 6 deg" in plain.setting) is (state == "locks")


@pytest.mark.parametrize(("learned", "gauge"), [(Learned(SAW), "6.69 deg"), (Learned(), "6.25 deg")])
def test_a_bevel_gauge_is_set_to_what_lies_between_table_and_blade(learned: Learned, gauge: str) -> None:
    """It reads the true tilt: of a scale that reads 0.44 too little 6.25 are 6.69, else 6.25 themselves.

    The pattern, alone on the saw, names what is set as the sheet does.
    """
    board, cut = TABLES["poplar"]
    plain = make_bowl({"board": board, "cut": {**cut, "tilt": "6.25 deg"}, "use": {"friction": "0.5"}})
    answer = fit(with_learned(plain, learned, units="mm"), beyond=False, rigid=True)
    planned = Setting(6.25, "locks", "locks", 8.0)
    worse = TableSetting(planned, tuple(Setting(deg, "locks", "split risk", 8.0) for deg in (6.0, 6.5)))
    (line,) = [one for one in _table_block(answer, worse, "mm").lines if "bevel gauge" in one]
    assert f"none is as good: set {gauge}" in line
    assert ("between table and blade" in line) is (learned.saw is not None)
    words = pattern_words(answer, follow_line_of(answer, Handling()), Handling(), units="mm")
    what = "Table" if learned.saw is None else "Scale"
    assert words.lines[1].startswith(f"{what} 6.25 deg. ")


def test_what_was_learned_and_left_out_stands_on_the_sheet() -> None:
    """Tests of waxed walnut say nothing of bare poplar, and the sheet says that they were left out."""
    said = block(told_of(Learned(frictions=(WAXED,)), "locks"), "Not counted")
    assert "By the tests friction is known for wax on walnut, black, not for bare yellow-poplar" in said
    assert "left out" not in block(told_of(Learned(SAW), "locks"), "Not counted")
