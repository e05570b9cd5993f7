"""Maps: boundaries where the closed forms put them, with few solves, and tables that say so."""

import csv
import math
import re
import tomllib
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from sweep_bowls import TABLES, rigid_rings

from fitsim.arrays import Array
from fitsim.bowl.closed_form import deciding_numbers
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.judgement import Judgement
from fitsim.bowl.ranges import mattering, verdict_over_ranges
from fitsim.bowl.verdict import judge
from fitsim.bowlfile.defaults import make_bowl
from fitsim.cli import main
from fitsim.commands.sweep_and_map import map_in_words
from fitsim.errors import InputError, NoConvergenceError
from fitsim.processes import worker_pool
from fitsim.sweeps.lock_map import (
    MAP_STATES,
    BowlMap,
    bowl_map,
    map_as_csv,
    value_in_bowl,
    value_on,
)
from fitsim.sweeps.varied_quantities import bowl_with_keys, read_varied


def fennel(across: str, up: str, **how: Any) -> BowlMap:
    """A map of the Fennel dish on rigid rings."""
    quantities = {"across": read_varied(across), "up": read_varied(up)}
    return bowl_map(TABLES, **quantities, **{"judge_one": rigid_rings, **how})


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
    assert np.abs(kerf - expected).max() < 0.1 * 1.2 / 24  # a tenth of a cell
    assert kerf.min() < 0.6
    assert kerf.max() > 1.69


def test_springs_back_where_the_closed_form_says() -> None:
    """It springs back from tan(theta) = mu on, along the whole boundary."""
    found = fennel("friction=0.1..0.45", "tilt=4..24", points=20)
    friction, tilt = line_of(found, "springs back")
    cell = 0.35 / 24 + math.tan(math.radians(20)) / 24
    assert np.abs(np.tan(np.radians(tilt)) - friction).max() < cell
    assert friction.min() < 0.11


def test_boundary_moves_with_its_limit() -> None:
    """A limit may itself be an axis: the overlap left, 1 - h/T, is the boundary."""
    found = fennel("tilt=3..9", "limits.overlap=0.05..0.9", points=12)
    tilt, limit = line_of(found, "falls through")
    assert (
        np.abs(limit - (1 - 0.7 / np.sin(np.radians(tilt)) / 18)).max() < 0.1 * 0.85 / 12
    )  # a tenth of a cell


def test_few_places_are_pressed_and_the_others_told_right() -> None:
    """Of a 24 x 24 map at most a fifth is pressed, and every place has the state pressing it gives."""
    few, every = (fennel("tilt=2..14", "kerf=0.4..1.6 mm", every=e) for e in (False, True))
    assert few.lattice.state.tolist() == every.lattice.state.tolist()
    assert len(every.cells) == 625
    assert len(few.cells) == few.lattice.asked.sum() <= 125
    for (i, j), cell in few.cells.items():
        assert MAP_STATES[few.lattice.state[j, i]] == cell.state


def test_the_same_map_whoever_works() -> None:
    """Two processes give the map of this one alone, to the last bit."""
    alone = fennel("tilt=2..9", "kerf=0.5..1.7 mm", points=6)
    with worker_pool(2) as pool:
        shared = fennel("tilt=2..9", "kerf=0.5..1.7 mm", points=6, executor=pool)
    assert map_as_csv(shared) == map_as_csv(alone)
    assert shared.rise_mm.tobytes() == alone.rise_mm.tobytes()


def test_rise_between_the_places_worked_out() -> None:
    """Everywhere on the lattice the rise is the closed form's M k/sin(theta), M = N - 1/2 - k_h/2p."""
    found = fennel("tilt=4..14", "kerf=0.5..1 mm", points=12)
    steps = found.regions.steps
    tilt = np.radians(np.linspace(4, 14, steps + 1))[None, :]
    kerf = np.linspace(0.5, 1, steps + 1)[:, None]
    turns = 47 / 6.5 - 0.5 - kerf / np.cos(tilt) / (2 * 6.5)
    assert found.rise_mm == pytest.approx(turns * kerf / np.sin(tilt), rel=1e-2)


def test_own_state_reaches_to_the_boundaries() -> None:
    """Through the bowl's own place its state ends where the closed forms put both boundaries."""
    tables = {**TABLES, "use": {**TABLES["use"], "friction": "0.31"}, "limits": {"split_chance": "0.9999"}}
    across, up = read_varied("tilt=2..24"), read_varied("kerf=0.4..2 mm")
    found = bowl_map(tables, across=across, up=up, judge_one=rigid_rings)
    tilt, kerf = found.windows
    assert (tilt.below, kerf.above) == ("falls through", "falls through")
    assert tilt.low == pytest.approx(
        math.degrees(math.asin(0.7 / (18 * 0.85))), abs=0.1
    )  # a ninth of a cell
    assert (tilt.above, tilt.high) == (
        "springs back",
        pytest.approx(math.degrees(math.atan(0.31)), abs=22 / 24),
    )
    assert (kerf.below, kerf.low) == ("", 0.4)
    assert kerf.high == pytest.approx(18 * 0.85 * math.sin(math.radians(5.5)), abs=0.007)


def test_the_nearest_boundary_ends_a_window() -> None:
    """Where two states lie beyond one another the window ends at the first: split risk before falling."""
    tables = {**TABLES, "limits": {"split_chance": "0.001"}}
    across, up = read_varied("tilt=3..9"), read_varied("kerf=0.5..1.7 mm")
    _, kerf = bowl_map(tables, across=across, up=up, points=12, judge_one=brittle_rings).windows
    falls = 18 * 0.85 * math.sin(math.radians(5.5))
    assert kerf.above == "split risk"
    assert kerf.high == pytest.approx(1.0, abs=1.2 / 12 / 9)
    assert kerf.high < falls - 0.4


def test_however_coarse_a_map_its_bowl_s_own_limits_are_pressed_for() -> None:
    """With six steps along a side the ends of the bowl's row and column are those of the closed forms.

    The lines of such a map lie up to a step of 3.7 degrees off where a state begins at a jump; each end is
    told with how far it may be off, and no further decimal.
    """
    tables = {**TABLES, "use": {**TABLES["use"], "friction": "0.31"}, "limits": {"split_chance": "0.9999"}}
    across, up = read_varied("tilt=2..24"), read_varied("kerf=0.4..2 mm")
    found = bowl_map(tables, across=across, up=up, points=6, judge_one=rigid_rings)
    tilt, kerf = found.windows
    falls, springs = math.degrees(math.asin(0.7 / (18 * 0.85))), math.degrees(math.atan(0.31))
    widest = 18 * 0.85 * math.sin(math.radians(5.5))
    assert (tilt.below, tilt.above, kerf.below, kerf.above) == (
        "falls through", "springs back", "", "falls through"
    )  # fmt: skip
    for told, within, true, span in (
        (tilt.low, tilt.low_within, falls, 22),
        (tilt.high, tilt.high_within, springs, 22),
        (kerf.high, kerf.high_within, widest, 1.6),
    ):
        assert abs(told - true) <= within * (1 + 1e-9)
        assert 0 < within <= span / 320
    assert kerf.low == pytest.approx(0.4)
    assert kerf.low_within == 0
    said = map_in_words(found)
    numbers = re.search(r"tilt: falls through below (\S+) deg; springs back above (\S+) deg "
                        r"\(to within (\S+) deg\)", said)  # fmt: skip
    assert numbers is not None
    low, high, within = map(float, numbers.groups())
    assert abs(low - falls) <= within + 1e-9
    assert abs(high - springs) <= within + 1e-9
    assert len(numbers[1].partition(".")[2]) == len(numbers[3].partition(".")[2]) == 2
    assert f"{found.beside} more for the ends of its own verdict" in said


def test_where_ranges_count_limits_are_those_of_the_map() -> None:
    """A quantity that is an axis has one value everywhere on the map, also where limits are pressed for.

    Of a kerf of 0.9 to 1.3 mm the middle falls through below asin(1.1/15.3); the bowl's own range would,
    at its wide end, below asin(1.3/15.3). Where that range makes another bowl of it than its middle,
    nothing on the map is the end of its state, and no limit is told.
    """
    axes = {"across": read_varied("tilt=3..15"), "up": read_varied("kerf=0.3..3 mm")}
    use = {**TABLES["use"], "friction": "0.6"}
    limits = {"split_chance": "0.9999"}
    for tilt_deg, told in ((6.5, True), (4.6, False)):
        cut = {**TABLES["cut"], "kerf": "0.9 to 1.3 mm", "tilt": f"{tilt_deg} deg"}
        tables = {**TABLES, "cut": cut, "use": use, "limits": limits}
        found = bowl_map(tables, **axes, points=12, judge_one=rigid_rings, at_worst=True)
        assert bool(found.windows) == told
        if told:
            tilt, kerf = found.windows
            falls = math.degrees(math.asin(1.1 / (18 * 0.85)))
            widest = 18 * 0.85 * math.sin(math.radians(tilt_deg))
            assert abs(tilt.low - falls) <= tilt.low_within * (1 + 1e-9)
            assert abs(kerf.high - widest) <= kerf.high_within * (1 + 1e-9)
            assert (tilt.below, kerf.above) == ("falls through", "falls through")


def test_an_end_is_found_where_the_map_has_another_line_or_none() -> None:
    """A strip of bowls not followed, a step of the map wide, ends the window where it begins."""
    axes = {"across": read_varied("tilt=3..12"), "up": read_varied("kerf=0.5..0.9 mm")}
    found = bowl_map(TABLES, **axes, points=12, judge_one=with_a_gap)
    tilt, _ = found.windows
    assert tilt.above == "not decided"
    assert tilt.high == pytest.approx(6.6, abs=9 / 320)


def with_a_gap(bowl: Bowl) -> Judgement:
    """Rigid rings that are not followed between two tilts."""
    if 6.6 < math.degrees(bowl.cut.tilt_rad[0]) < 7.6:
        raise NoConvergenceError("no equilibrium")
    return rigid_rings(bowl)


def brittle_rings(bowl: Bowl) -> Judgement:
    """Rigid rings of which 1 in 1000 split at a kerf of 1 mm, and more the wider it is."""
    stiff = rigid_rings(bowl)
    numbers = replace(stiff.numbers, split_chance=1e-3 * bowl.cut.kerf_mm[0] ** 8)
    return replace(stiff, numbers=numbers, state=judge(numbers, bowl.limits))


def test_worst_map_is_the_verdict_everywhere() -> None:
    """With ranges at their unfavourable ends every place has the state of the verdict over the ranges."""
    found = fennel("tilt=4..16", "kerf=0.5..1.3 mm", points=6, at_worst=True)
    middle = fennel("tilt=4..16", "kerf=0.5..1.3 mm", points=6)
    assert found.lattice.state.tolist() != middle.lattice.state.tolist()
    for i, j in list(found.cells)[::7]:
        texts = {"cut.tilt": f"{4 + 12 * i / 6:.9f} deg", "cut.kerf": f"{0.5 + 0.8 * j / 6:.9f} mm"}
        bowl = bowl_with_keys(TABLES, texts)
        ranges = mattering(bowl, deciding_numbers)
        verdict = verdict_over_ranges(bowl, deciding_numbers(bowl), deciding_numbers, ranges=ranges)
        assert MAP_STATES[found.lattice.state[j, i]] == verdict.state


def test_what_cannot_be_cut_is_a_region_of_its_own() -> None:
    """Places outside the model and places not decided are regions; nothing is said of them."""
    found = fennel("tilt=0.6..9", "kerf=0.5..1.5 mm", points=12, judge_one=awkward)
    names = {MAP_STATES[state] for state, _ in found.regions.outlines}
    assert {"not decided", "locks"} <= names
    rows = list(csv.DictReader(StringIO(map_as_csv(found))))
    lost = [row for row in rows if row["state"] == "not decided" and row["kind"] == "pressed"]
    assert lost
    assert all(row["overlap"] == "" and row["reason"] == "no equilibrium" for row in lost)
    crossed = fennel("pitch=0.3..9 mm", "tilt=3..9 deg", points=12)
    pitch, _ = line_of(crossed, "outside the model")
    slot = 0.7 / np.cos(np.radians(6))
    assert np.abs(pitch - slot).max() < 8.7 / 12  # a pitch must be wider than the slot: within a cell


def awkward(bowl: Bowl) -> Judgement:
    """Rigid rings that are not followed where the kerf is wide."""
    if bowl.cut.kerf_mm[0] > 1.1:
        raise NoConvergenceError("no equilibrium")
    return rigid_rings(bowl)


def test_table_of_a_map() -> None:
    """The table gives every place, pressed ones with their numbers, and every boundary; units on top."""
    found = fennel("tilt=3..16", "kerf=0.02..0.06 in", points=8)
    rows = list(csv.DictReader(StringIO(map_as_csv(found))))
    assert list(rows[0])[:6] == ["kind", "line", "cut.tilt_deg", "cut.kerf_in", "state", "beyond"]
    pressed = [row for row in rows if row["kind"] == "pressed"]
    between = [row for row in rows if row["kind"] == "between"]
    assert len(pressed) == len(found.cells)
    assert len(pressed) + len(between) == found.lattice.state.size
    assert all(row["overlap"] == "" and row["state"] for row in between)
    for row in pressed:
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
        ("tilt=50..60", "kerf=0.5..1", "0.1 to 45 deg"),
        (
            "turns=2..3",
            "pitch=5..7",
            "cut.pitch: expected another quantity than cut.turns, which says the same",
        ),
        ("blade_body=0.5..1", "kerf=0.5..1", "cut.kerf: expected another quantity than cut.blade_body"),
    ],
)
def test_slips_are_answered(across: str, up: str, said: str) -> None:
    """Axes that make no map are answered in one line."""
    with pytest.raises(InputError) as error:
        fennel(across, up, points=8)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("words", ["wood=cherry..walnut", "board.wood=cherry,walnut", "finish=oil"])
def test_words_have_no_place_on_a_map(words: str) -> None:
    """The command says so whatever stands behind the key, and what to compare them with."""
    result = CliRunner().invoke(main, ["map", "--across", "tilt=2..4", "--up", words])
    assert result.exit_code == 2
    key = "use.finish" if words.startswith("finish") else "board.wood"
    given = words.partition("=")[2]
    assert result.stderr.startswith(
        f"fitsim: {key} = '{given}': expected a quantity that is a number; words have no place on a map; "
    )
    assert "compare them with sweep" in result.stderr


SMALL = """
[board]
wood = "black walnut"
thickness = "12 mm"
across = "84 mm"
moisture = "9 %"
[cut]
tilt = "6 deg"
kerf = "0.7 mm"
pitch = "6 mm"
base = "60 mm"
[use]
finish = "none"
friction = "0.4"
press = "150 N"
"""


def test_the_command_tells_and_draws(tmp_path: Path) -> None:
    """The command presses the bowl, says how far its state reaches, and writes picture and table once."""
    file, picture, table = tmp_path / "f.toml", tmp_path / "m.svg", tmp_path / "m.csv"
    file.write_text(SMALL, "utf8")
    words = ["map", str(file), "--across", "tilt=2..8", "--up", "kerf=0.5..1.1", "--points", "4"]
    outputs = ["--picture", str(picture), "--csv", str(table), "--processes", "1"]
    result = CliRunner().invoke(main, [*words, *outputs])
    assert result.exit_code == 0, result.stderr
    assert "every range at its middle" in result.stdout
    assert "tilt: falls through below 5" in result.stdout
    assert "FALLS THROUGH" in picture.read_text("utf8")
    rows = list(csv.DictReader(StringIO(table.read_text("utf8"))))
    pressed = [row for row in rows if row["kind"] == "pressed"]
    assert f"{len(pressed)} of 25 places pressed" in result.stdout.replace("all 25", "25 of 25")
    _is_what_fit_says(next(row for row in pressed if row["state"] == "locks"))
    assert "friction_used" not in rows[0]
    before = picture.read_bytes()
    again = CliRunner().invoke(main, [*words, *outputs])
    assert again.exit_code == 2
    assert "add --replace" in again.stderr
    assert picture.read_bytes() == before


def _is_what_fit_says(row: dict[str, str]) -> None:
    """State, rise and press of a place are those of ``fit`` for that bowl, to the last bit."""
    tables = tomllib.loads(SMALL)
    tables["cut"].update(tilt=f"{row['cut.tilt_deg']} deg", kerf=f"{row['cut.kerf_mm']} mm")
    answer = fit(make_bowl(tables), beyond=False)
    assert answer.elastic is not None
    assert row["state"] == answer.verdict.state_in_middle
    assert float(row["rise_at_rest_mm"]) == answer.elastic.rise_at_rest_mm
    assert float(row["press_judged_N"]) == answer.elastic.opening.judged.press_N
    assert float(row["split_chance"]) == answer.elastic.opening.numbers.split_chance
    # Under its own name what a turn uses at rest, by turn: the fit's own is another quantity.
    by_turn = answer.elastic.opening.friction_by_turn
    assert float(row["friction_used_at_rest"]) == pytest.approx(max(by_turn[: len(by_turn) - 1]), rel=1e-9)


@pytest.mark.parametrize(
    ("limit", "axis", "column"),
    [(1.0, "cut.tilt", "friction_used_at_rest"), (0.9, "cut.tilt", "friction_used"),
     (0.9, "limits.friction_used", "friction_used_at_rest")],
)  # fmt: skip
def test_friction_used_has_its_name_only_where_it_is_lowered(limit: float, axis: str, column: str) -> None:
    """A limit below 1 has friction lowered at every place; where the limit varies it has not everywhere."""
    ranges = {"cut.tilt": "tilt=5..7", "limits.friction_used": "friction_used=0.8..1"}[axis]
    tables = {**tomllib.loads(SMALL), "limits": {"friction_used": limit}}
    quantities = {"across": read_varied(ranges), "up": read_varied("press=100..150")}
    found = bowl_map(tables, **quantities, points=2)
    heads = map_as_csv(found).splitlines()[0].split(",")
    assert {"friction_used", "friction_used_at_rest"} & set(heads) == {column}


def test_every_number_of_a_bowl_has_its_place_on_an_axis() -> None:
    """Sizes of a board that is not round, of its base, and the press's range: from the middle, by hand."""
    tables = {
        "board": {"wood": "cherry", "thickness": "16 mm", "outline": "oval", "length": "230 mm",
                  "width": "170 mm"},
        "cut": {"tilt": "6 deg", "pitch": "9 mm", "base_outline": "oval", "base_length": "120 mm",
                "base_width": "80 mm"},
    }  # fmt: skip
    bowl = make_bowl(tables)
    for text, low, middle, high in (
        ("length=100..300", 230, 230, 230),
        ("width=10..20 cm", 17, 17, 17),
        ("base_length=90..150", 120, 120, 120),
        ("base_width=60..100", 80, 80, 80),
        ("press=100..400", 140, 200, 350),
    ):
        assert value_in_bowl(bowl, read_varied(text)) == pytest.approx((low, middle, high)), text
    assert value_in_bowl(bowl, read_varied("blade_set=0.1..0.3")) is None
    assert value_in_bowl(bowl, read_varied("sides=5..8")) is None
    board = {"wood": "cherry", "thickness": "16 mm", "outline": "polygon", "across": "200 mm"}
    hexagon = make_bowl(
        {
            "board": {**board, "sides": 6, "corner": "30 mm"},
            "cut": {"tilt": "6 deg", "base_corner": "25 mm"},
        }
    )
    for text, value in (("sides=5..8", 6), ("corner=10..40", 30), ("base_corner=10..40", 25)):
        assert value_in_bowl(hexagon, read_varied(text)) == pytest.approx((value,) * 3), text


def test_a_bowl_without_a_place_is_not_said_to_lie_off_the_map() -> None:
    """What a key left out leaves without a number has no place; a number beyond an axis lies off."""
    said = map_in_words(fennel("blade=4..8", "kerf=0.5..1.1", points=2))
    assert "no single place on this map" in said
    assert "off this map" not in said
    assert "off this map" in map_in_words(fennel("tilt=8..9", "kerf=0.5..1.1", points=2))
