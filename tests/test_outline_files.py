"""Outlines in the bowl file: words with sizes, drawings, and what is wrong with either in one line."""

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowlfile.defaults import make_bowl, read_bowl
from fitsim.errors import InputError
from fitsim.geometry.outline_file import free_outline
from fitsim.geometry.svg_path import svg_path
from fitsim.pattern.bench_sheet import bench_sheet
from fitsim.pattern.layout import Handling

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="240mm" height="160mm" viewBox="0 0 240 160">'
EGG = (
    "M 20 80 C 20 30 90 10 140 20 C 200 30 225 60 225 85 C 225 120 180 150 120 148 C 60 146 20 125 20 80 Z"
)
CUT = {"tilt": "5 deg", "kerf": "0.8 mm", "pitch": "7 mm", "base": "60 mm"}


def drawing(path: Path, body: str, head: str = HEAD) -> Path:
    """An SVG file."""
    path.write_text(f'<?xml version="1.0"?>\n{head}{body}</svg>\n', encoding="utf-8")
    return path


def lines_of(tables: dict[str, Any]) -> list[str]:
    """What is said of wrong tables."""
    with pytest.raises(InputError) as refused:
        make_bowl(tables, where="b.toml")
    return str(refused.value).splitlines()


def board(**more: Any) -> dict[str, Any]:
    """Tables with a board of these keys."""
    return {"board": {"thickness": "16 mm", **more}, "cut": CUT}


def test_sizes_of_a_drawing_are_those_of_its_units(tmp_path: Path) -> None:
    """Inches, a viewBox in other numbers, groups turned and scaled: it comes out 50.8 by 25.4 mm."""
    heads = {
        'width="4in" height="4in" viewBox="0 0 400 400"': "M 10 10 h 200 v 100 h -200 z",
        'width="101.6mm" height="10.16cm" viewBox="-5 -5 8 8"': "M -4 -4 h 4 v 2 h -4 z",
        'width="384px" height="384px"': "M 10 10 H 202 V 106 H 10 Z",
        'width="4in" height="4in" viewBox="0 0 4 4"': "M 1 1 l 2 0 l 0 1 l -2 0 l 0 -1",
    }
    for number, (size, d) in enumerate(heads.items()):
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
        body = f'<g transform="translate(3 4)"><path d="{d}"/></g>' if number == 2 else f'<path d="{d}"/>'
        read = svg_path(drawing(tmp_path / f"{number}.svg", body, head), key="board.outline")
        assert read.closed
        assert np.ptp(read.points_mm, axis=0) == pytest.approx([50.8, 25.4])
    body = '<g transform="rotate(90) scale(2, 0.5)"><path d="M 0 0 h 25.4 v 50.8 h -25.4 z"/></g>'
    read = svg_path(drawing(tmp_path / "turned.svg", body), key="board.outline")
    assert np.ptp(read.points_mm, axis=0) == pytest.approx([25.4, 50.8])


def test_curves_of_a_drawing(tmp_path: Path) -> None:
    """Arcs and Bezier curves are followed to 0.01 mm: a circle's area, a curve's own points."""
    arcs = '<path d="M 100 40 a 40 40 0 1 1 0 80 a 40 40 0 1 1 0 -80 z"/>'
    circle = svg_path(drawing(tmp_path / "c.svg", arcs), key="k").points_mm
    assert shapely.Polygon(circle).area == pytest.approx(math.pi * 40**2, rel=1e-3)
    egg = svg_path(drawing(tmp_path / "e.svg", f'<path d="{EGG}"/>'), key="k").points_mm
    ring = shapely.LinearRing(egg)
    poles = np.array([[20, 80], [20, 30], [90, 10], [140, 20.0]])
    for t in (0.21, 0.5, 0.83):
        weight = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
        x, y = weight @ poles
        assert ring.distance(shapely.Point(x, 160 - y)) < 0.01


BAD = {
    "open": ('<path d="M 10 10 h 100 v 60 h -100"/>', "a closed line"),
    "several": ('<path d="M 0 0 h 90 v 50 z"/><path d="M 0 0 h 9 v 5 z"/>', "one path; there are 2"),
    "several lines": ('<path d="M 0 0 h 90 v 50 z M 10 10 h 9 v 5 z"/>', "2 separate lines"),
    "none": ("<g></g>", "one path; there is none"),
    "nothing drawn": ('<path d="M 3 3"/>', "nothing is drawn"),
    "another shape": ('<rect width="9" height="9"/>', "there is a <rect>"),
    "crossing": ('<path d="M 0 0 L 90 60 L 90 0 L 0 60 Z"/>', "does not cross itself"),
    "nonsense": ('<path d="M 0 0 C 3 z"/>', "a path that can be read"),
    "not numbers": ('<path d="M 0 0 L 1e999 4 L 5 5 z"/>', "a path of ordinary numbers"),
    "unknown transform": ('<g transform="bend(3)"><path d="M 0 0 h 90 v 50 z"/></g>', "transforms"),
    "not closed XML": ('<path d="M 0 0 h 90 v 50 z">', "a drawing in SVG"),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_drawing_gets_one_line(tmp_path: Path, what: str) -> None:
    """A drawing that is no closed line is refused in one line with file, key and what to do."""
    body, said = BAD[what]
    drawing(tmp_path / "it.svg", body)
    (line,) = lines_of(board(outline=str(tmp_path / "it.svg")))
    assert "it.svg: board.outline: expected" in line
    assert said in line
    assert ";" in line


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 240 160">', "says its size"),
        ('<svg width="240" height="160" viewBox="0 0 240 160">', "says its size"),
        ('<svg width="100%" height="100%" viewBox="0 0 240 160">', "says its size"),
        ('<svg width="240mm" height="240mm" viewBox="0 0 240 160">', "one scale both ways"),
        ('<svg width="240km" height="160mm" viewBox="0 0 240 160">', "says its size"),
        ('<svg width="240mm" height="160mm" viewBox="0 0 240">', "viewBox of four numbers"),
        ('<svg width="9999in" height="6666in" viewBox="0 0 240 160">', "a path of 0.1 mm to 10000 mm"),
        ('<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg width="240mm" height="160mm">', "without entities"),
        ('<!DOCTYPE svg [<!ENTITY f SYSTEM "file:///etc/hostname">]><svg width="2mm">', "without entities"),
        ("<html>", "begins with <html>"),
    ],
)
def test_a_drawing_without_a_size_or_with_entities_gets_one_line(
    tmp_path: Path, head: str, said: str
) -> None:
    """Size, scale and entities of the file's own: one line for each."""
    tail = "</html>" if head == "<html>" else "</svg>"
    (tmp_path / "it.svg").write_text(f'{head}<path d="{EGG}"/>{tail}', encoding="utf-8")
    (line,) = lines_of(board(outline=str(tmp_path / "it.svg")))
    assert said in line


def test_a_huge_drawing_is_refused_by_its_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A drawing of some megabytes, or of more points than a board needs, is refused in one line."""
    (tmp_path / "it.svg").write_bytes(b" " * 3_000_000)
    (line,) = lines_of(board(outline=str(tmp_path / "it.svg")))
    assert "a drawing (SVG) of at most 2 MB" in line
    points = "".join(f"L {i % 200} {i % 150} " for i in range(501))
    monkeypatch.setattr("fitsim.geometry.svg_path.MOST_POINTS", 500)
    drawing(tmp_path / "many.svg", f'<path d="M 0 0 {points} Z"/>')
    (line,) = lines_of(board(outline=str(tmp_path / "many.svg")))
    assert "at most 500 points" in line


def test_a_drawing_lies_beside_its_bowl_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The drawing's name is read from the bowl file's folder, wherever the program stands."""
    (tmp_path / "shop").mkdir()
    drawing(tmp_path / "shop" / "egg.svg", f'<path d="{EGG}"/>')
    text = '[board]\nthickness = "16 mm"\noutline = "egg.svg"\n[cut]\n'
    text += "".join(f'{key} = "{value}"\n' for key, value in CUT.items())
    (tmp_path / "shop" / "bowl.toml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    bowl = read_bowl("shop/bowl.toml")
    assert bowl.board.edge is not None
    assert bowl.board.edge.kind == "free"
    assert bowl.board.across_mm == pytest.approx(bowl.board.edge.width_mm)


def test_turns_of_a_drawing_are_carried_inward(tmp_path: Path) -> None:
    """The base of a drawn outline is what a geometry library leaves of it carried inward and rounded."""
    path = drawing(tmp_path / "egg.svg", f'<path d="{EGG}"/>')
    bowl = make_bowl(board(outline=str(path)))
    fit = rigid_fit(bowl)
    assert fit.slot.winding is not None
    edge = shapely.Polygon(free_outline(path, key="k").points_mm)
    inset = bowl.board.across_mm / 2 - 30
    corner = bowl.cut.base_corner_mm or 0.0
    expected = edge.buffer(-inset - corner, quad_segs=200).buffer(corner, quad_segs=200)
    angle = np.linspace(0, 2 * math.pi, 3000)
    base = shapely.Polygon(fit.slot.winding.at(angle, np.zeros(3000)).position_mm)
    assert base.hausdorff_distance(expected) < 0.1
    assert fit.seats.seat_drop_mm == pytest.approx(0.8 / math.sin(math.radians(5)))


def test_a_hollow_too_tight_for_the_blade_is_shown(tmp_path: Path) -> None:
    """A notch that the line cannot follow is refused with its place and the radius that would do."""
    notched = "M 0 0 H 110 L 120 40 L 130 0 H 240 V 150 H 0 Z"
    path = drawing(tmp_path / "notch.svg", f'<path d="{notched}"/>')
    (line,) = lines_of(board(outline=str(path)))
    place = re.search(r"near x (-?\d+) mm, y (-?\d+) mm", line)
    assert place is not None
    # The notch is 20 mm wide at the upper edge, 75 mm from the middle, and 40 mm deep.
    assert abs(float(place[1])) < 10
    assert 35 <= float(place[2]) <= 75
    assert line.endswith("round it in the drawing to 6.4 mm")  # no blade is narrower than that radius asks


@pytest.mark.parametrize(
    ("radius_mm", "blade", "said"),
    [
        (6.2, "1/8 in", "board.outline: expected hollows rounded to 6.4 mm or more"),
        (6.6, "1/8 in", "turns"),
        (6.6, "3/16 in", "cut.blade = 4.7625 mm: expected a blade that turns"),
        (8.7, "3/16 in", "tables disagree whether the blade turns the tightest curve of the cut."),
        (8.7, "1/4 in", "cut.blade = 6.35 mm: expected a blade that turns"),
        (24.0, "1/4 in", "turns"),
    ],
)
def test_a_hollow_is_held_against_the_blade_that_is_named(
    tmp_path: Path, radius_mm: float, blade: str, said: str
) -> None:
    """A half-round bay in one side decides whether a blade turns the cut, though the base is far blunter.

    Published tables of least radius: 1/8 in 3.2 to 6.3 mm, 3/16 in 7.9 to 9.5 mm, 1/4 in 12.7 to 19 mm.
    """
    left, right = 120 - radius_mm, 120 + radius_mm
    bay = (
        f"M 0 0 H {left - 20} A 20 20 0 0 1 {left} 20 A {radius_mm} {radius_mm} 0 0 0 {right} 20 "
        f"A 20 20 0 0 1 {right + 20} 0 H 240 V 150 H 0 Z"
    )
    path = drawing(tmp_path / "bay.svg", f'<path d="{bay}"/>')
    tables = board(outline=str(path))
    tables["cut"] = {**CUT, "pitch": "6 mm", "base": "100 mm", "base_corner": "25 mm", "blade": blade}
    if said.startswith(("board", "cut")):
        (line,) = lines_of(tables)
        assert said in line
        return
    answer = fitsim.fit(make_bowl(tables), rigid=True)
    assert answer.rigid.slot.tightest_mm == pytest.approx(radius_mm, rel=0.03)
    told = [note for note in answer.notes if "disagree" in note or "too wide for" in note]
    assert [note.endswith(said) for note in told] == ([] if said == "turns" else [True])
    (lines,) = (b.lines for b in bench_sheet(answer, Handling(), units="mm").blocks if b.heading == "Blade")
    assert "in the tightest curve (tables" in lines[0]


def test_a_neck_that_parts_the_base_is_refused(tmp_path: Path) -> None:
    """A waist narrower than the cut needs would leave two bases: the way inward that leaves one is said."""
    waisted = (
        "M 0 0 H 60 C 90 0 90 50 120 50 C 150 50 150 0 180 0 H 240 V 150 H 180 C 150 150 150 100 120 100"
        " C 90 100 90 150 60 150 H 0 Z"
    )
    path = drawing(tmp_path / "waist.svg", f'<path d="{waisted}"/>')
    tables = board(outline=str(path))
    tables["cut"] = {**CUT, "base": "110 mm", "base_corner": "10 mm"}
    (line,) = lines_of(tables)
    assert "falls into several" in line
    # Half the waist of 50 mm less the corner's radius.
    assert "at most 14.9 mm inward" in line or "at most 15.0 mm inward" in line


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"outline": "oval", "length": "200 mm"}, "board.width: expected the width of a board"),
        ({"outline": "oval", "across": "200 mm", "length": "2 in", "width": "2 in"}, "delete across"),
        ({"outline": "round", "across": "200 mm", "width": "2 in"}, "delete width"),
        ({"outline": "polygon", "across": "200 mm"}, "add a line: sides = 6"),
        ({"outline": "polygon", "across": "200 mm", "sides": 2}, "a whole number from 3 to 60"),
        (
            {"outline": "rectangle", "length": "200 mm", "width": "150 mm", "corner": "90 mm"},
            "at most 75 mm",
        ),
        ({"outline": "ovel", "length": "200 mm", "width": "150 mm"}, "did you mean 'oval'?"),
    ],
)
def test_sizes_that_an_outline_needs(keys: dict[str, Any], said: str) -> None:
    """Every outline has its own sizes: one too few or too many is named."""
    assert any(said in line for line in lines_of(board(**keys)))


def test_a_corner_tighter_than_the_strip_is_refused_with_one_that_does() -> None:
    """A base corner the strip or the blade cannot turn gets the least that would do, and that does."""
    tables = board(outline="rectangle", length="200 mm", width="150 mm")
    tables["cut"] = {**CUT, "base_corner": "2 mm"}
    (line,) = lines_of(tables)
    assert "cut.base_corner = 2 mm: expected at least 5.3 mm" in line
    make_bowl({**tables, "cut": {**CUT, "base_corner": "5.3 mm"}})


def test_a_rounded_square_is_no_square() -> None:
    """A square is a round cut in a square board; a rectangle of equal sides is followed by its turns."""
    square = make_bowl(board(outline="square", across="150 mm"))
    rounded = make_bowl(board(outline="rectangle", length="150 mm", width="150 mm", corner="20 mm"))
    assert square.board.edge is None
    assert rounded.board.edge is not None
    assert rounded.board.across_mm == square.board.across_mm
    assert rigid_fit(rounded).shape.capacity_ml > 1.05 * rigid_fit(square).shape.capacity_ml  # type: ignore[union-attr]


def test_a_base_of_its_own_outline() -> None:
    """A round base in an oval board: the cut begins on the one and ends on the other, evenly between."""
    tables = board(outline="oval", length="230 mm", width="180 mm")
    tables["cut"] = {**CUT, "base": "95 mm", "base_outline": "round"}
    slot = rigid_fit(make_bowl(tables)).slot
    assert slot.winding is not None
    angle = np.linspace(0, 2 * math.pi, 2000)
    base = slot.winding.at(angle, np.zeros(2000)).position_mm
    assert np.hypot(*base.T) == pytest.approx(47.5, rel=1e-5)
    outer = slot.winding.at(angle, slot.winding.span_mm(angle)).position_mm
    assert (outer[:, 0] / 115) ** 2 + (outer[:, 1] / 90) ** 2 == pytest.approx(1.0, rel=1e-4)
    # Half way, the sum of half of each: its support is the mean of the two (H. Minkowski).
    middle = slot.winding.at(angle, slot.winding.span_mm(angle) / 2)
    n_x, n_y = middle.normal.T
    support = np.sum(middle.position_mm * middle.normal, axis=1)
    assert support == pytest.approx((47.5 + np.hypot(115 * n_x, 90 * n_y)) / 2, rel=1e-4)


def test_a_round_board_has_no_corners_at_its_base() -> None:
    """Keys that shape the base are refused where all turns are circles."""
    for keys in ({"base_outline": "round"}, {"base_corner": "9 mm"}):
        tables = board(across="200 mm")
        tables["cut"] = {**CUT, **keys}
        (line,) = lines_of(tables)
        assert "on this board all turns are circles" in line


def test_a_base_too_unlike_its_board_is_refused() -> None:
    """A round base in a square board with tight corners leaves turns that run aslant: refused."""
    tables = board(outline="rectangle", length="200 mm", width="180 mm", corner="20 mm")
    tables["cut"] = {**CUT, "base": "95 mm", "base_outline": "round"}
    (line,) = lines_of(tables)
    assert "cut.base_outline = round: expected outlines of base and board more alike" in line
    tables = board(outline="oval", length="230 mm", width="100 mm")
    tables["cut"] = {**CUT, "base": "120 mm", "base_outline": "round"}
    assert any("cut.base" in said for said in lines_of(tables))


def test_spoilt_drawings_end_in_an_outline_or_in_lines(tmp_path: Path) -> None:
    """Bytes lost, doubled or put in anywhere: an outline comes out, or lines that a terminal can show."""
    rng = np.random.default_rng(7)
    good = drawing(tmp_path / "good.svg", f'<g transform="scale(1.1)"><path d="{EGG}"/></g>').read_bytes()
    odd = [
        b"",
        b"\0",
        b"<",
        b"&amp;",
        b"&x;",
        b"1e999",
        b"-",
        b"nan",
        b'"',
        b"z",
        b"<!--",
        b"\xff",
        b"M",
        b"9" * 400,
    ]
    read = 0
    refused: list[str] = []
    for _ in range(400):
        at, gone = int(rng.integers(len(good))), int(rng.integers(0, 4))
        raw = good[:at] + odd[int(rng.integers(len(odd)))] + good[at + gone :]
        (tmp_path / "it.svg").write_bytes(raw)
        try:
            found = free_outline(tmp_path / "it.svg", key="board.outline")
        except InputError as error:
            refused.append(str(error))
        else:
            read += 1
            assert 0 < found.across_mm <= 10_000
    assert read > 20
    assert len(refused) > 100
    assert all(line.isprintable() and len(line.splitlines()) == 1 for line in refused)


@pytest.mark.parametrize(("pitch", "root"), [("7 mm", "90 deg"), ("6.1 mm", "20 deg"), ("8 mm", "55 deg")])
def test_a_square_board_lies_with_its_sides_along_the_grain(pitch: str, root: str) -> None:
    """The cut enters a square board at the middle of a side; sides lie along the grain and across."""
    tables = board(outline="square", across="150 mm")
    tables["cut"] = {**CUT, "pitch": pitch, "root": root}
    bowl = make_bowl(tables)
    slot = rigid_fit(bowl).slot
    x, y = slot.position_mm[-1]
    assert sorted([abs(x), abs(y)]) == pytest.approx([0, 75], abs=1e-6)
    assert abs(math.degrees(bowl.cut.root_rad) - float(root.split()[0])) <= 45 + 1e-9
