"""Maps: boundaries where the closed forms put them, with few solves, and tables that say so."""

import csv
import math
from io import StringIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from sweep_bowls import TABLES

from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.cli import main
from fitsim.errors import InputError, NoConvergenceError, OutsideModelError
from fitsim.fit import fit
from fitsim.map import MAP_STATES, BowlMap, bowl_map, map_as_csv, value_on, windows
from fitsim.regions import Regions, Sample, find_regions
from fitsim.rigid import deciding_numbers
from fitsim.varied import bowl_with, read_varied
from fitsim.verdict import DecidingNumbers, Verdict


def field_of(*margins: Any) -> Any:
    """A field from functions of place; the last state is where no margin is used up."""

    def field(u: float, v: float) -> Sample:
        values = tuple(float(margin(u, v)) for margin in margins)
        return Sample(next((k for k, m in enumerate(values) if not m > 0), len(values)), values)

    return field


def area(outline: Array) -> float:
    """Area inside a closed line, negative if it runs clockwise (the shoelace rule)."""
    x, y = outline.T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


def length(line: Array) -> float:
    """Length of a line."""
    return float(np.sum(np.hypot(*np.diff(line, axis=0).T)))


def areas(found: Regions) -> dict[int, float]:
    """Area of every region."""
    return {state: sum(area(line) for line in lines) for state, lines in found.outlines}


def circle(u: float, v: float) -> float:
    """Squared distance from a circle off the middle: positive outside."""
    return (u - 0.41) ** 2 + (v - 0.57) ** 2 - 0.23**2


def test_a_circle_comes_out_round() -> None:
    """A round region has the area and the boundary of its circle; the corner cells stay coarse."""
    found = find_regions(field_of(circle), coarse=8, levels=3, sharpen=4)
    got = areas(found)
    assert got[0] == pytest.approx(math.pi * 0.23**2, rel=2e-3)
    assert got[0] + got[1] == pytest.approx(1, abs=1e-12)
    (boundary,) = found.boundaries
    distance = np.hypot(boundary.line_share[:, 0] - 0.41, boundary.line_share[:, 1] - 0.57)
    assert np.abs(distance - 0.23).max() < 1e-5
    assert boundary.line_share[0].tolist() == boundary.line_share[-1].tolist()  # one closed line
    assert len(found.place_share) < 65**2 / 5


def test_boundaries_sharpen_with_the_square_of_the_cell() -> None:
    """Without solves on the sides a boundary's error falls fourfold when the cells are halved."""
    worst = []
    for levels in (1, 2, 3):
        found = find_regions(field_of(circle), coarse=8, levels=levels, sharpen=0)
        line = found.boundaries[0].line_share
        worst.append(float(np.abs(np.hypot(line[:, 0] - 0.41, line[:, 1] - 0.57) - 0.23).max()))
    rates = [math.log2(a / b) for a, b in pairwise(worst)]
    assert all(1.6 < rate < 2.6 for rate in rates)


def test_a_sliver_between_two_lattice_places_is_kept() -> None:
    """A third state narrower than a finest cell comes out with its own width, not as steps."""
    found = find_regions(
        field_of(lambda u, v: u - 0.31 - 0.2 * v, lambda u, v: u - 0.314 - 0.2 * v),
        coarse=4, levels=2, sharpen=3,
    )  # fmt: skip
    assert areas(found) == pytest.approx({0: 0.41, 1: 0.004, 2: 0.586}, abs=1e-9)
    assert sorted((b.state, b.beyond) for b in found.boundaries) == [(0, 1), (1, 2)]


slope = st.floats(-3, 3)


@given(st.lists(st.tuples(slope, slope, st.floats(-1.5, 1.5)), min_size=1, max_size=4))
def test_regions_cover_the_square_once(planes: list[tuple[float, float, float]]) -> None:
    """Whatever the margins, the regions' areas add up to the square, and places lie in their own region."""
    field = field_of(*[lambda u, v, p=p: p[0] * (u - 0.43) + p[1] * (v - 0.61) + p[2] for p in planes])
    found = find_regions(field, coarse=3, levels=2, sharpen=1)
    got = areas(found)
    assert sum(got.values()) == pytest.approx(1, abs=1e-9)
    assert all(value > -1e-12 for value in got.values())
    # Every side of an outline is a boundary (seen from both sides) or lies on the square's own edge.
    outlines = sum(length(line) for _, lines in found.outlines for line in lines)
    assert outlines == pytest.approx(4 + 2 * sum(length(b.line_share) for b in found.boundaries), abs=1e-9)
    for u, v in found.place_share.tolist():
        column, row = round(u * found.steps), round(v * found.steps)
        assert found.state_at[row, column] == field(u, v).state


@given(slope, slope, slope, slope)
def test_straight_boundaries_meet_where_they_should(a: float, b: float, c: float, d: float) -> None:
    """Two straight zero lines give regions of the areas that counting over a fine raster gives."""
    first, second = (
        (lambda u, v: a * (u - 0.47) + b * (v - 0.52)),
        (lambda u, v: c * (u - 0.55) + d * (v - 0.44)),
    )
    got = areas(find_regions(field_of(first, second), coarse=4, levels=2, sharpen=0))
    u, v = np.meshgrid((np.arange(200) + 0.5) / 200, (np.arange(200) + 0.5) / 200)
    one, two = first(u, v) <= 0, second(u, v) <= 0
    for state, where in enumerate((one, two & ~one, ~one & ~two)):
        assert got.get(state, 0.0) == pytest.approx(float(np.mean(where)), abs=0.012)


def fennel(across: str, up: str, **how: Any) -> BowlMap:
    """A map of the Fennel dish."""
    return bowl_map(TABLES, across=read_varied(across), up=read_varied(up), **how)


def line_of(found: BowlMap, state: str) -> tuple[Array, Array]:
    """Corners of a state's boundaries with all later ones, in the units of the axes."""
    index = MAP_STATES.index(state)
    share = np.concatenate([b.line_share for b in found.regions.boundaries if b.state == index])
    x = np.array([value_on(found.across, float(s)) for s in share[:, 0]])
    return x, np.array([value_on(found.up, float(s)) for s in share[:, 1]])


def test_falls_through_where_the_closed_form_says() -> None:
    """An even cut falls through from k = T (1 - least overlap) sin(theta) on, along the whole boundary."""
    found = fennel("tilt=2..9", "kerf=0.5..1.7 mm", points=20)
    tilt, kerf = line_of(found, "falls through")
    expected = 18 * (1 - 0.15) * np.sin(np.radians(tilt))
    assert len(kerf) > 30
    assert np.abs(kerf - expected).max() < 2e-4 * 1.2
    assert kerf.min() < 0.6
    assert kerf.max() > 1.69


def test_springs_back_where_the_closed_form_says() -> None:
    """It springs back from tan(theta) = mu on, along the whole boundary."""
    found = fennel("friction=0.1..0.45", "tilt=4..24", points=20)
    friction, tilt = line_of(found, "springs back")
    assert np.abs(np.tan(np.radians(tilt)) - friction).max() < 1e-4
    assert friction.min() < 0.11


def test_boundary_moves_with_its_limit() -> None:
    """A limit may itself be an axis: the overlap left, 1 - h/T, is the boundary."""
    found = fennel("tilt=3..9", "limits.overlap=0.05..0.9", points=12)
    tilt, limit = line_of(found, "falls through")
    assert np.abs(limit - (1 - 0.7 / np.sin(np.radians(tilt)) / 18)).max() < 1e-3


def test_few_solves_for_the_springy_bowl() -> None:
    """A 24 x 24 map of a slow model costs at most 400 solves, and its boundary is still a line."""
    asked: list[Bowl] = []

    def slow(bowl: Bowl) -> DecidingNumbers:
        asked.append(bowl)
        return deciding_numbers(bowl)

    found = fennel("tilt=2..24", "kerf=0.4..1.6 mm", points=24, numbers=slow, springy=True)
    assert found.regions.steps == 24
    assert len(asked) <= 401  # one for the maker's own bowl
    tilt, kerf = line_of(found, "falls through")
    assert np.abs(kerf - 18 * 0.85 * np.sin(np.radians(tilt))).max() < 0.025  # half a finest cell


def test_rise_between_the_places_worked_out() -> None:
    """Everywhere on the lattice the rise is the closed form's M k/sin(theta), M = N - 1/2 - k_h/2p."""
    found = fennel("tilt=3..14", "kerf=0.5..1.2 mm", points=12)
    steps = found.regions.steps
    tilt = np.radians(np.linspace(3, 14, steps + 1))[None, :]
    kerf = np.linspace(0.5, 1.2, steps + 1)[:, None]
    turns = 47 / 6.5 - 0.5 - kerf / np.cos(tilt) / (2 * 6.5)
    assert found.rise_rigid_mm == pytest.approx(turns * kerf / np.sin(tilt), rel=3e-3)


def test_own_state_reaches_to_the_boundaries() -> None:
    """Through the bowl's own place its state ends where the closed forms put both boundaries."""
    tables = {**TABLES, "use": {**TABLES["use"], "friction": "0.31"}, "limits": {"split_chance": "0.9999"}}
    found = bowl_map(tables, across=read_varied("tilt=2..24"), up=read_varied("kerf=0.4..2 mm"), points=20)
    tilt, kerf = windows(found)
    assert (tilt.below, kerf.above) == ("falls through", "falls through")
    assert tilt.low == pytest.approx(
        math.degrees(math.asin(0.7 / (18 * 0.85))), abs=0.01
    )  # a chord in a cell
    assert (tilt.above, tilt.high) == (
        "springs back",
        pytest.approx(math.degrees(math.atan(0.31)), abs=1e-3),
    )
    assert (kerf.below, kerf.low) == ("", 0.4)
    assert kerf.high == pytest.approx(18 * 0.85 * math.sin(math.radians(5.5)), abs=1e-3)


def test_the_nearest_boundary_ends_a_window() -> None:
    """Where two states lie beyond one another the window ends at the first: split risk before falling."""
    _, kerf = windows(fennel("tilt=3..9", "kerf=0.5..1.7 mm", points=12))
    falls = 18 * 0.85 * math.sin(math.radians(5.5))
    assert kerf.above == "split risk"
    assert 0.7 < kerf.high < falls - 0.02


def test_worst_map_is_the_verdict_everywhere() -> None:
    """With ranges at their unfavourable ends every place has the state of the bowl's own verdict."""
    found = fennel("tilt=4..16", "kerf=0.5..1.3 mm", points=5, at_worst=True)
    middle = fennel("tilt=4..16", "kerf=0.5..1.3 mm", points=8)
    assert [c.state for c in found.cells] != [c.state for c in middle.cells[: len(found.cells)]]
    for k in range(0, len(found.cells), 17):
        u, v = found.regions.place_share[k].tolist()
        texts = {"cut.tilt": f"{4 + 12 * u:.9f} deg", "cut.kerf": f"{0.5 + 0.8 * v:.9f} mm"}
        verdict: Verdict = fit(bowl_with(TABLES, texts), rigid=True).verdict
        assert found.cells[k].state == verdict.state


def test_what_cannot_be_cut_is_a_region_of_its_own() -> None:
    """Places outside the model and places not solved are regions; nothing is said of them."""

    def awkward(bowl: Bowl) -> DecidingNumbers:
        if bowl.cut.kerf_mm[0] > 1.1:
            raise NoConvergenceError("no balance")
        if bowl.cut.tilt_rad[0] < math.radians(4):
            raise OutsideModelError("too upright")
        return deciding_numbers(bowl)

    found = fennel("tilt=2..9", "kerf=0.5..1.5 mm", points=16, numbers=awkward)
    names = {MAP_STATES[state] for state, _ in found.regions.outlines}
    assert {"outside the model", "not solved", "locks"} <= names
    tilt, kerf = line_of(found, "outside the model")
    tilt = tilt[kerf < 1]
    assert np.abs(tilt - 4).max() < 7 / 16 / 4  # bisected: three solves on a side
    rows = list(csv.DictReader(StringIO(map_as_csv(found))))
    lost = [row for row in rows if row["state"] == "not solved" and row["kind"] == "place"]
    assert lost
    assert all(row["overlap"] == "" and row["reason"] == "no balance" for row in lost)


def test_table_of_a_map() -> None:
    """The table gives every place with its numbers and every boundary corner by corner, units on top."""
    found = fennel("tilt=3..16", "kerf=0.02..0.06 in", points=8)
    rows = list(csv.DictReader(StringIO(map_as_csv(found))))
    assert list(rows[0])[:6] == ["kind", "line", "cut.tilt_deg", "cut.kerf_in", "state", "beyond"]
    places = [row for row in rows if row["kind"] == "place"]
    assert len(places) == len(found.cells)
    for row in places:
        drop = 25.4 * float(row["cut.kerf_in"]) / math.sin(math.radians(float(row["cut.tilt_deg"])))
        assert float(row["overlap"]) == pytest.approx(1 - drop / 18)
    corners = [row for row in rows if row["kind"] == "boundary"]
    assert len(corners) == sum(len(b.line_share) for b in found.regions.boundaries)


@pytest.mark.parametrize(
    ("across", "up", "said"),
    [
        ("tilt=2..9", "tilt=3..5", "another quantity than cut.tilt"),
        ("tilt=2,9", "kerf=0.5..1", "write it like --across tilt=2..14"),
        ("tilt=2..9:5", "kerf=0.5..1", "--points says how fine"),
        ("tilt=50..60", "kerf=0.5..1", "0 to 45 deg"),
    ],
)
def test_slips_are_answered(across: str, up: str, said: str) -> None:
    """Axes that make no map are answered in one line."""
    with pytest.raises(InputError) as error:
        fennel(across, up, points=8)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_the_command_tells_and_draws(tmp_path: Path) -> None:
    """The command says how far the bowl's state reaches, and writes picture and table once."""
    picture, table = tmp_path / "m.svg", tmp_path / "m.csv"
    words = ["map", "--across", "tilt=2..24", "--up", "kerf=0.4..1.6", "--points", "8"]
    outputs = ["--picture", str(picture), "--csv", str(table)]
    result = CliRunner().invoke(main, [*words, *outputs])
    assert result.exit_code == 0, result.stderr
    assert "springs back above 20.6" in result.stdout  # atan(0.375) is 20.56 deg
    assert "SPRINGS BACK" in picture.read_text("utf8")
    assert table.read_text("utf8").startswith("kind,line,cut.tilt_deg,cut.kerf_mm,")
    before = picture.read_bytes()
    again = CliRunner().invoke(main, [*words, *outputs])
    assert again.exit_code == 2
    assert "add --replace" in again.stderr
    assert CliRunner().invoke(main, [*words, *outputs, "--replace"]).exit_code == 0
    assert picture.read_bytes() == before  # the same answer gives the same bytes
