"""The line to follow and the section of bowls that are not round."""

import math
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import shapely
from click.testing import CliRunner
from outline_bowls import UNLIKE, outlined, unlike

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.cross_section import board_half_mm, section_direction_rad, section_pieces
from fitsim.cli import main
from fitsim.drawing.bench_drawing import bench_figures
from fitsim.drawing.bowl_drawing import bowl_figure
from fitsim.geometry.board_outline import Outline
from fitsim.pattern.bench_sheet import bench_sheet
from fitsim.pattern.layout import PAPERS, Handling, line_to_follow
from fitsim.quantities import show_length
from fitsim.report.terminal import fit_report

EDGE = Outline("rectangle", 170.0, 120.0, 55.0)
BOWL = outlined(EDGE, corner_mm=20.0, base_radius_mm=25.0, pitch_mm=6.0, root_rad=math.radians(70))


def line(handling: Handling, *, height_share: float = 1.0):  # type: ignore[no-untyped-def]
    """The line of the rounded rectangle."""
    fit = rigid_fit(BOWL)
    return line_to_follow(
        fit.slot,
        fit.strip,
        thickness_mm=15.0,
        across_mm=120.0,
        outline="rectangle",
        handling=handling,
        height_share=height_share,
    )


@pytest.mark.parametrize(("middle", "side"), [("lowered", 1.0), ("raised", -1.0)])
def test_the_line_on_the_upper_face_is_the_mid_line_moved_square_to_itself(
    middle: str, side: float
) -> None:
    """Half the thickness times the tilt's tangent, outward with the wide face up, inward with the other."""
    handling = Handling(middle=middle, lowered="right")  # type: ignore[arg-type]
    upper, mid = (shapely.LineString(line(handling, height_share=h).position_mm) for h in (1.0, 0.0))
    shift = 15 / 2 * math.tan(BOWL.cut.tilt_rad[0])
    places = shapely.line_interpolate_point(upper, np.linspace(0.2, 0.8, 40), normalized=True)
    assert shapely.distance(places, mid) == pytest.approx(shift, rel=0.02)
    assert line(handling).outside_mm == pytest.approx(side * shift)
    # At the root, on the line's own normal, it lies outside the mid-line or inside it.
    away = [np.hypot(*line(handling, height_share=h).stop_mm) for h in (1.0, 0.0)]
    assert (away[0] - away[1]) * side > 0


@pytest.mark.parametrize("name", UNLIKE)
def test_the_line_between_unlike_lines_lies_square_to_the_cut_as_well(name: str) -> None:
    """Nearest to every place of the line is the middle of the slot, T/2 tan(tilt) away."""
    bowl = unlike(name, pitch_mm=9.0)
    fit = rigid_fit(bowl)
    found = line_to_follow(
        fit.slot, fit.strip, thickness_mm=15.0, across_mm=118.0, outline=bowl.board.outline,
        handling=Handling(), height_share=1.0,
    )  # fmt: skip
    slot = fit.slot
    assert slot.winding is not None
    angle = np.linspace(0, float(slot.angle_rad[-1]), 20_000)
    mid_mm = slot.winding.at(angle, np.interp(angle, slot.angle_rad, slot.reach_mm)).position_mm
    mid = shapely.LineString(mid_mm * [1.0, -1.0 if Handling().middle_right else 1.0])
    away = shapely.distance(shapely.points(found.position_mm[60:-60]), mid)
    assert np.quantile(np.abs(away - abs(found.outside_mm)), 0.9) < 0.001


def test_the_other_hand_is_the_mirror_image() -> None:
    """A board that lies the other way round is sawn along the mirrored line, grain along grain."""
    one = line(Handling(middle="lowered", lowered="right"))
    other = line(Handling(middle="lowered", lowered="left"))
    assert one.counter_clockwise != other.counter_clockwise
    assert other.position_mm == pytest.approx(one.position_mm * [1, -1])
    assert other.corners_mm == pytest.approx(one.corners_mm * [1, -1])


def test_the_line_begins_at_the_edge_and_ends_at_the_root() -> None:
    """It crosses the board's edge at its start, never again, and stops in the direction of the root."""
    found = line(Handling(middle="lowered", lowered="left"))
    board = shapely.Polygon(found.corners_mm)
    assert board.exterior.distance(shapely.Point(found.start_mm)) < 1e-6
    near = int(np.argmin(np.hypot(*(found.position_mm - found.start_mm).T)))
    assert np.all(shapely.contains_xy(board.buffer(0.01), *found.position_mm[near + 1 :].T))
    x, y = line(Handling(middle="lowered", lowered="left"), height_share=0.0).stop_mm
    assert math.degrees(math.atan2(y, x)) == pytest.approx(70, abs=1e-6)
    assert shapely.LineString(found.position_mm).is_simple


def test_sections_stand_along_the_board() -> None:
    """A section shows the long way, slots as wide as they are there, the board from edge to edge."""
    fit = rigid_fit(BOWL)
    direction = section_direction_rad(fit, "rectangle")
    assert math.degrees(direction) == pytest.approx(110)  # from the root at 70 deg to the grain at 180
    assert board_half_mm(fit, 120.0, direction) == pytest.approx(85)
    pieces = section_pieces(fit, direction_rad=direction)
    slot = 0.7 / math.cos(BOWL.cut.tilt_rad[0])
    for side in ("left", "right"):
        sign = 1 if side == "right" else -1
        row = [p.outline_mm[:, 0] * sign for p in pieces if p.side == side]
        gaps = [after[0] - before[1] for before, after in pairwise(row)]
        assert gaps == pytest.approx([slot] * len(gaps), abs=1e-3)


def test_the_sheet_and_the_line_file_of_an_oval(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The line in millimetres is as long as the answer says, turns a pitch apart on the long axis."""
    monkeypatch.chdir(tmp_path)
    Path("oval.toml").write_text(
        '[board]\nthickness = "16 mm"\noutline = "oval"\nlength = "180 mm"\nwidth = "140 mm"\n'
        '[cut]\ntilt = "5 deg"\nkerf = "0.7 mm"\npitch = "7 mm"\nbase = "70 mm"\n',
        encoding="utf-8",
    )
    words = ["sheet", "oval.toml", "-o", "oval.pdf", "--line", "oval.svg", "--rigid"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    # The base that tells the faces apart is measured along the grain, where it is longest.
    pages = pypdfium2.PdfDocument("oval.pdf")
    words_on = " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pages)
    answer = fitsim.fit(fitsim.read_bowl("oval.toml"), rigid=True)
    shape = answer.standing.shape
    assert shape is not None
    assert shape.base_length_mm is not None
    assert shape.base_length_mm > shape.base_diameter_mm + 5
    assert f"against {show_length(shape.base_length_mm, units='mm')}" in words_on
    text = Path("oval.svg").read_text(encoding="utf-8")
    points = re.search(r'id="cut"[^>]*points="([^"]+)"', text)
    centre = re.search(r'id="centre"[^>]*d="M([\d.]+),([\d.]+)h', text)
    assert points is not None
    assert centre is not None
    at = np.array([pair.split(",") for pair in points[1].split()], dtype=float)
    at = (at - [float(centre[1]) + 3, float(centre[2])]) * [1, -1]
    above = (at[1:, 1] > 0) != (at[:-1, 1] > 0)
    crossed = at[1:][above][:, 0]
    right = np.sort(crossed[crossed > 0])
    assert np.diff(right)[:-1] == pytest.approx(7.0, abs=0.05)
    assert Path("oval.pdf").read_bytes().startswith(b"%PDF")


RECTANGLE = """
[board]
thickness = "16 mm"
outline = "rectangle"
length = "260 mm"
width = "180 mm"
corner = "20 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "7 mm"
base = "90 mm"
root = "{root}"
"""


@pytest.mark.parametrize("root", ["90 deg", "40 deg"])
def test_base_and_mouth_have_one_figure_in_fit_picture_and_sheet(tmp_path: Path, root: str) -> None:
    """The widest place along the grain, where a rule is laid, is told; the middle is 0.3 mm less.

    Measured on the first turn's line itself, moved inward by half the slot and the bevel's half by a
    library of plane geometry.
    """
    file = tmp_path / "board.toml"
    file.write_text(RECTANGLE.format(root=root), "utf8")
    answer = fitsim.fit(fitsim.read_bowl(file), rigid=True)
    slot, tangent = answer.rigid.slot, math.tan(math.radians(5))
    inward = 0.7 / math.cos(math.radians(5)) / 2 + 8 * tangent
    first = shapely.LineString(slot.position_mm[slot.angle_rad <= 2 * math.pi + 1e-9])
    both = (shapely.offset_curve(first, side * inward).bounds for side in (1, -1))
    left, _, right, _ = min(both, key=lambda ends: ends[2] - ends[0])
    shape = answer.standing.shape
    assert shape is not None
    assert shape.base_length_mm == pytest.approx(right - left, abs=0.1)
    base, mouth = (show_length(v or 0.0, units="mm") for v in (shape.base_length_mm, shape.mouth_length_mm))
    report = " ".join(fit_report(answer, units="mm").split())
    assert f"base, on the table {base} by" in report
    assert re.search(rf"mouth, inside(, while pressed)? {mouth} by", report)
    drawn = [t.get_text() for axes in bowl_figure(answer, units="mm").axes for t in axes.texts]
    assert f"base on the table {base}" in drawn
    assert f"mouth, inside {mouth}" in drawn
    sheet = bench_sheet(answer, Handling(), units="mm")
    page = bench_figures(sheet, answer, PAPERS["a4"], units="mm")[0]
    assert f"base on the table {base}" in [t.get_text() for axes in page.axes for t in axes.texts]
    told = " ".join(line for one in sheet.blocks for line in one.lines)
    assert f"against {base}" in told


@pytest.mark.parametrize("kind", ["oval", "rectangle", "polygon"])
@pytest.mark.parametrize(("long_mm", "wide_mm"), [(168.0, 121.0), (121.0, 168.0)])
@pytest.mark.parametrize("root_deg", [0.0, 47.0, 90.0, 202.0])
def test_the_picture_says_which_way_its_section_lies(
    kind: str, long_mm: float, wide_mm: float, root_deg: float
) -> None:
    """The board's extent is that of its outline in the direction named: along the grain, or across it."""
    edge = Outline(kind, long_mm, wide_mm, 30.0 if kind == "rectangle" else 0.0)
    if kind == "polygon":
        edge = Outline(kind, long_mm, long_mm, 10.0, 5)
    made = outlined(
        edge, corner_mm=20.0, base_radius_mm=24.0, pitch_mm=6.0, root_rad=math.radians(root_deg)
    )
    answer = fitsim.fit(made, rigid=True)
    words = [t.get_text() for axes in bowl_figure(answer, units="mm").axes for t in axes.texts]
    along, across = np.ptp(answer.rigid.slot.winding.lines.edge_mm, axis=0).tolist()
    if kind != "polygon":
        assert (along, across) == pytest.approx((long_mm, wide_mm), abs=0.01)
    told = next(w for w in words if w.startswith("board "))
    lies_along = "along the grain" in told
    assert f"flat, section {'along' if lies_along else 'across'} the grain" in words
    if kind != "polygon":  # of odd corners a section through the middle is shorter than the outline
        assert told == (f"board along the grain {along:.1f} mm" if lies_along else
                        f"board across the grain {across:.1f} mm")  # fmt: skip
        rooted_on_long = (
            abs(math.sin(math.radians(root_deg if long_mm > wide_mm else root_deg - 90))) < 0.05
        )
        assert lies_along == ((long_mm > wide_mm) != rooted_on_long)
    sheet = bench_sheet(answer, Handling(), units="mm")
    page = bench_figures(sheet, answer, PAPERS["a4"], units="mm")[0]
    titles = [t.get_text() for axes in page.axes for t in axes.texts if t.get_text().startswith("section,")]
    way = "along the grain" if lies_along else "across the grain"
    assert all(f"; {way}; " in t for t in titles)
    # By the pieces drawn: trimmed, they are nearer to the board's measure in the way that is named.
    x, y = answer.rigid.slot.position_mm[0]
    turned = math.atan2(float(y), float(x)) + section_direction_rad(answer.rigid, kind)
    assert abs(math.sin(turned) if lies_along else math.cos(turned)) < math.sin(math.radians(45))
    if kind != "polygon":
        pieces = section_pieces(answer.rigid, direction_rad=section_direction_rad(answer.rigid, kind))
        drawn = np.ptp(np.concatenate([p.outline_mm for p in pieces])[:, 0])
        named, other = (along, across) if lies_along else (across, along)
        assert abs(drawn - named) < abs(drawn - other)
    assert titles


@pytest.mark.parametrize(
    ("let_go", "told"), [(False, "turns pressed home"), (True, "pressed home and let go")]
)
def test_the_section_says_whether_the_bowl_is_still_pressed(let_go: bool, told: str) -> None:
    """What the sheet draws is the bowl as it stands, under the hand or let go, and it says which."""
    answer = fitsim.fit(unlike("round in oval"), rigid=True)
    verdict = replace(answer.verdict, state_in_middle="locks")
    stood = replace(answer, standing=replace(answer.standing, let_go=let_go), verdict=verdict)
    assert bench_sheet(stood, Handling(), units="mm").section_title == f"section, open: {told}"
