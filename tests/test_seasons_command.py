"""``fitsim seasons`` as a maker meets it."""

import importlib.util
import json
import os
import pickle
import re
import signal
import subprocess
import sys
from calendar import month_name
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import combinations
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner, Result

from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.cli import main
from fitsim.climate.moisture_lag import follow_percent
from fitsim.climate.place import Place, read_place
from fitsim.climate.weather import read_epw
from fitsim.drawing.seasons_drawing import seasons_figure
from fitsim.processes import at_once
from fitsim.report.press_tables import rows_of
from fitsim.report.seasons_in_words import year_in_words
from fitsim.report.seasons_json import seasons_object
from fitsim.report.seasons_report import seasons_report
from fitsim.saw.break_test import BoardStrength
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned import Learned, with_learned
from fitsim.saw.oven_test import BoardMoisture
from fitsim.saw.slide_test import Friction
from fitsim.seasons import year as seasons_of_a_year
from fitsim.seasons.advice import saw_at
from fitsim.seasons.left_open import NOT_FOLLOWED, stood_open
from fitsim.seasons.moisture_year import MoistureYear, at_moistures, bowl_lags, moisture_year
from fitsim.seasons.weeks import fit_week
from fitsim.seasons.year import LEFT_OPEN, Asked, SeasonAnswer, seasons
from fitsim.toml_files import tables_of_file
from fitsim.wood.across_grain import BoardAcross

# Invented monthly means: a town with cold winters inland.
WEATHER = """
[weather]
temperature_C = [-10, -8, -2, 6, 13, 19, 22, 20, 15, 8, 0, -7]
humidity_percent = [78, 76, 72, 66, 65, 68, 70, 73, 75, 74, 79, 81]
"""
BOWL = """
name = "Medlar tray"
[board]
wood = "cherry"
thickness = "18.3 mm"
across = "102 mm"
moisture = "7 %"
[cut]
tilt = "5.2 deg"
kerf = "0.72 mm"
pitch = "8.4 mm"
base = "76 mm"
[use]
finish = "none"
friction = "0.45"
"""
"""Of a turn and a half, at one friction: what a range of it does, the tests of weeks ask."""


def run(*words: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in words])


def told_of(path: Path, *options: str) -> dict[str, Any]:
    """The answer for one bowl file, checked against its schema."""
    result = run("seasons", path, "--json", *options)
    assert result.exit_code == 0, result.stderr
    told: dict[str, Any] = json.loads(result.stdout)
    schema = json.loads(run("schema", "seasons").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(told)
    return told


def year_in(path: Path, **typed: str) -> tuple[MoistureYear, Place]:
    """Moisture of the file's bowl through the year, as the command works it out before it presses."""
    tables = tables_of_file(path)
    place = read_place(tables, where=path.name, typed=typed)
    return moisture_year(make_bowl(tables), place.air_percent), place


@pytest.fixture(scope="module", autouse=True)
def shared_presses() -> Iterator[None]:
    """What several commands here ask of one bowl is worked out once: the same call has the same answer."""
    known: dict[bytes, Any] = {}

    def once(calls: Sequence[Callable[[], Any]], **how: Any) -> tuple[Any, ...]:
        asked = [pickle.dumps(call) for call in calls]
        new = {key: call for key, call in zip(asked, calls, strict=True) if key not in known}
        known.update(zip(new, at_once(list(new.values()), **how), strict=True))
        return tuple(known[key] for key in asked)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(seasons_of_a_year, "at_once", once)
        yield


@pytest.fixture
def one_hour_after(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where neither a move nor a wash is looked at, the bowl is pressed for one hour after each."""
    monkeypatch.setattr("fitsim.seasons.after_move.AFTER_H", (24.0,))


@pytest.fixture(scope="module")
def bowl(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A good bowl file with the weather typed in."""
    path = tmp_path_factory.mktemp("seasons") / "bowl.toml"
    path.write_text(BOWL + WEATHER, "utf8")
    return path


@pytest.fixture(scope="module")
def told(bowl: Path) -> dict[str, Any]:
    """Its year, opened afresh, and drawn."""
    return told_of(bowl, "--since", "3", "--picture", str(bowl.parent / "year.pdf"))


def test_no_words_of_the_drawn_year_touch(told: dict[str, Any], bowl: Path) -> None:
    """On the printed page title, headings and the column of words lie clear of each other."""
    pdfium = pytest.importorskip("pypdfium2", reason="pages are read with pypdfium2, of the test extra")
    words = pdfium.PdfDocument(bowl.parent / "year.pdf")[0].get_textpage()
    assert told["headline"] in words.get_text_bounded()
    boxes = [words.get_rect(k) for k in range(words.count_rects())]
    assert len(boxes) > 30
    for (left, low, right, high), other in combinations(boxes, 2):
        wide = min(right, other[2]) - max(left, other[0])
        tall = min(high, other[3]) - max(low, other[1])
        assert not (wide > 1 and tall > 1), words.get_text_bounded(left, low, right, high)


def test_every_week_has_one_number_for_each_thing(told: dict[str, Any]) -> None:
    """Fifty-two weeks, dates in order, every one locks; the worst of each number is its worst week's."""
    weeks = told["weeks"]
    assert told["headline"] == "LOCKS ALL THE YEAR"
    assert len(weeks) == 52
    assert [w["start"] for w in weeks[:5]] == ["01-01", "01-08", "01-15", "01-22", "01-29"]
    assert weeks[-1]["start"] == "12-24"
    for number, extreme in (
        ("rise_mm", min), ("base_rock_mm", max), ("rim_out_of_level_mm", max), ("split_chance", max),
    ):  # fmt: skip
        worst = told["worst"][number]
        assert worst["value"] == extreme(w[number] for w in weeks)
        assert weeks[worst["week"]]["start"] == worst["start"]
    for week in weeks:
        assert week["state"] == "locks"
        assert week["press_N"] == pytest.approx(1.25 * week["press_needed_N"])
    rock = np.array([w["base_rock_mm"] for w in weeks])
    near = np.flatnonzero(rock >= 0.9 * rock.max() + 0.1 * rock.min())
    # 2023 is no leap year; the middle of a week lies three and a half days after its start.
    middles = [datetime(2023, 1, 1) + timedelta(days=7 * int(w) + 3.5) for w in near]
    assert told["worst"]["base_rock_mm"]["months"] == [
        month_name[m] for m in sorted({m.month for m in middles})
    ]
    rim = np.array([w["rim_moisture_percent"] for w in weeks])
    base = np.array([w["base_moisture_percent"] for w in weeks])
    assert np.ptp(rim) > np.ptp(base) > 3
    assert rim.argmin() < 12
    # The base cups as it leaves the moisture it was sawn at: worst where it is farthest from 7 percent.
    assert told["worst"]["base_rock_mm"]["week"] == int(np.argmax(np.abs(base - 7)))
    assert told["pressed_weeks"]["rise_within"] < 0.01


def test_a_week_is_what_fit_says_of_that_moisture(bowl: Path, told: dict[str, Any], tmp_path: Path) -> None:
    """A file with the moistures of a pressed week and `fit` give its rise, press and chance."""
    starts = [week["start"] for week in told["weeks"]]
    week = starts.index(told["pressed_weeks"]["starts"][4])
    row = year_in(bowl)[0].moisture_percent[week]
    path = tmp_path / "week.toml"
    turns = ", ".join(f'"{percent:.10f} %"' for percent in row[1:])
    use = f'[use]\nbase_moisture = "{row[0]:.10f} %"\nturn_moisture = [{turns}]\n'
    path.write_text(BOWL.replace("[use]\n", use), "utf8")
    found = fit(make_bowl(tables_of_file(path)), beyond=False).elastic
    assert found is not None
    told_week = told["weeks"][week]
    assert told_week["rise_mm"] == pytest.approx(found.rise_at_rest_mm, rel=0.01)
    # The press needed is found to 5 percent, and the chance goes with its sixth power.
    assert told_week["press_needed_N"] == pytest.approx(found.opening.judged.needed_N, rel=0.06)
    times = (told_week["press_N"] / found.opening.judged.press_N) ** 6
    assert told_week["split_chance"] == pytest.approx(times * found.opening.numbers.split_chance, rel=0.2)
    # Of a turn and a half the whole one is asked; fit's own number is found by lowering friction.
    at_rest = float(found.opening.friction_by_turn[0])
    lowered = found.opening.numbers.friction_used
    told_used = told_week["friction_used_at_rest"]
    assert abs(told_used - at_rest) < abs(told_used - lowered) / 2


def test_ranges_reach_the_answer(told: dict[str, Any]) -> None:
    """Strength's range brackets the chance; a pith twice as near rocks twice as far."""
    split = told["split_over_the_year"]
    assert split["chance_low"] < split["chance"] < split["chance_high"]
    assert split["chance"] == told["worst"]["split_chance"]["value"]
    far, near = told["base_rock_range_mm"]
    middle = told["worst"]["base_rock_mm"]["value"]
    # Curvature is 2 (e_R - e_T)/r: 300, 150 and 75 mm; the next order is (38/75)^2.
    assert far == pytest.approx(middle / 2, rel=0.05)
    assert near == pytest.approx(2 * middle, rel=0.3)


@pytest.mark.usefixtures("told")
def test_what_stands_at_its_middle_is_said_to(bowl: Path) -> None:
    """Press left out of the file is told at its value with its reach, in answer and list."""
    result = run("seasons", bowl, "--since", "3")
    assert result.exit_code == 0, result.stderr
    answer, granted = (
        " ".join(part.split()) for part in result.stdout.split("What was taken for granted:")
    )
    assert (
        "The press there is at 200 N (140 N to 350 N): the middle of what is known only as a range"
        in answer
    )
    assert "use.press 200 N (140 N to 350 N), ESTIMATE" in granted
    assert "use.friction" not in granted  # it is in the file


@pytest.mark.usefixtures("told")
def test_the_printed_year_is_read_without_the_guide(bowl: Path, told: dict[str, Any]) -> None:
    """The least press is no window, moisture is called so, and how fast wood takes up water is no finish.

    A wash of 3 minutes at 0.002 kg/(m2 s0.5): 0.002 times the root of 180, 27 g on a square metre.
    """
    said = " ".join(run("seasons", bowl, "--since", "3").stdout.split())
    needed = [week["press_needed_N"] for week in told["weeks"]]
    low, high = (f"{force:.2g} N" for force in (min(needed), max(needed)))
    assert low != high
    assert f"the least press that makes it hold is {low} to {high}, depending on the week, and" in said
    for column in ("moisture of base", "moisture of rim swings by"):
        assert set(column.split()) <= set(said.split())
    assert "wood takes up water slowly" in said
    assert "wood takes up water quickly" in said
    assert "a square metre of its faces takes up 27 g of water (13 to 54 g, from memory)" in said
    assert "fitsim fit counts the film in the slot" in said
    for word in ("stood open", "end of diffusion", "kg/(m2", "as the week is"):
        assert word not in said


@pytest.mark.usefixtures("told")
def test_a_board_is_told_to_dry_or_to_take_up_water_by_the_side_on_which_it_lies(bowl: Path) -> None:
    """Wetter than all the year it is to dry, drier to take up water; silent where no rule would show it.

    The moisture to saw at lies half way between driest and dampest week, to first order; a rule shows
    1/64 in.
    """
    small = " ".join(run("seasons", bowl, "--since", "3").stdout.split())
    assert not re.search(r"(dry|take up water) to about", small)
    assert "no other moisture to saw at would make it less by so much as a rule shows" in small
    tables = tables_of_file(bowl)
    answer = seasons(make_bowl(tables), read_place(tables, where=bowl.name, typed={}), Asked(since_month=3))
    base = answer.year.base_percent
    middle = (base.min() + base.max()) / 2
    rule_mm, spoken = 25.4 / 64, set()
    for moisture in ("4 %", f"{middle:.1f} %", "9 %", "18 %"):
        wide = tables | {"board": tables["board"] | {"moisture": moisture, "across": "420 mm"}}
        broad = make_bowl(wide | {"cut": tables["cut"] | {"base": "394 mm"}})
        sawn = broad.board.moisture_percent
        found = saw_at(broad, answer.year, pith_mm=60.0)
        there = replace(answer, bowl=broad, advice=replace(answer.advice, saw_at=found))
        printed = " ".join(seasons_report(there, units="mm").split())
        drawn = " ".join(" ".join(t.get_text() for t in seasons_figure(there, units="mm").texts).split())
        for text in (printed, drawn):
            told = re.search(r"Let the board (dry|take up water) to about ([\d.]+) %", text)
            gained = found.worst_as_is_mm - found.worst_mm >= rule_mm
            assert bool(told) == gained, text
            if told:
                assert (told[1] == "dry") == (sawn > middle)
                assert float(told[2]) == pytest.approx(middle, abs=0.4)
                spoken.add(told[1])
        assert "Dry the board" not in printed + drawn
    assert spoken == {"dry", "take up water"}


@pytest.mark.usefixtures("told")
def test_a_bowl_that_locks_in_some_weeks_is_not_said_never_to_lock(bowl: Path) -> None:
    """Locking in some weeks is said to be so; "does not lock all the year" reads as never."""
    tables = tables_of_file(bowl)
    answer = seasons(make_bowl(tables), read_place(tables, where=bowl.name, typed={}), Asked(since_month=3))
    weeks = list(answer.weekly.weeks)
    weeks[5] = replace(weeks[5], state="springs back")
    mixed = replace(answer, weekly=replace(answer.weekly, weeks=tuple(weeks)))
    text = seasons_report(mixed, units="mm")
    assert text.splitlines()[1] == "LOCKS IN PART OF THE YEAR ONLY"
    assert "springs back in 1 week (of " in " ".join(text.split())


@pytest.mark.usefixtures("told")
def test_what_tests_taught_is_told_to_the_figures_that_are_known(bowl: Path) -> None:
    """Friction to hundredths, moisture to tenths; every measured number stands among what was granted.

    Nothing here hangs on a press: the words are of the bowl as its tests have it, the year the file's.
    """
    tables = tables_of_file(bowl)
    del tables["use"]["friction"]
    slides = Friction("Slides", "", "none", "cherry, black", 0.374328, 0.303473, 0.461728, 1)
    shed = Saw("Shed saw", 0.7, 0.01, 0.002, 0.001, 0.0, 0.01, 0.001, 2, 1, 0)
    oven = BoardMoisture("Oven", "", 8.684211, 0.357, 1, 0, "cherry, black")
    strips = BoardStrength(
        "Strips", "", "cherry, black", BoardAcross((2.9, 3.1, 3.7, 4.2), (0.1, 0.1, 0.1, 0.1), 0.0, 3.4), 5
    )
    known = with_learned(make_bowl(tables), Learned(shed, (slides,), (strips,), (oven,)))
    place = read_place(tables, where=bowl.name, typed={})
    answer = seasons(make_bowl(tables_of_file(bowl)), place, Asked(since_month=3))
    text = " ".join(seasons_report(replace(answer, bowl=known), units="mm").split())
    assert "riction is taken at 0.37 (0.30 to 0.46)" in text
    assert "Sawn at 8.7 % and kept open" in text
    assert "Sawn at 8.7 % the base rocks on a table by at most" in text
    assert not re.search(r"8\.684|0\.3034|0\.4617|0\.3743", text)
    granted = text.split("What was taken for granted:")[1]
    for key in (
        "cut.kerf 0.70 mm",
        "cut.tilt 5.31 deg",
        "strength across the grain of this board 3.10 MPa",
    ):
        assert key in granted
    assert "use.friction 0.37" in granted
    assert "board.moisture 8.7 %" in granted


def test_advice_and_move_are_told(told: dict[str, Any]) -> None:
    """Advice has a moisture inside its range, days in order, every finish; the move ends."""
    saw, rest = told["advice"]["saw_at"], told["advice"]["rest"]
    assert saw["low_percent"] < saw["moisture_percent"] < saw["high_percent"]
    assert saw["worst_mm"] <= saw["worst_as_is_mm"]
    assert rest["board_days"] == sorted(rest["board_days"])
    assert [f["name"] for f in told["advice"]["finishes"]] == ["none", "oil", "wax", "varnish", "paint"]
    moved = told["after_move"]
    assert moved["from_percent"] == 7
    assert moved["times"][-1]["rim_moisture_percent"] == pytest.approx(moved["to_percent"], abs=0.1)
    assert [t["time_h"] for t in moved["times"]] == [6, 24, 72, 168, 672]
    assert [t["time_h"] for t in told["after_wash"]["times"]] == [0, 6, 24, 72, 168, 672]
    assert all(t["pressed_open"]["state"] for t in moved["times"])


def test_a_bowl_left_open_is_moved_as_it_stands_however_others_are_kept(tmp_path: Path) -> None:
    """Kept flat: what is pressed open after a move has lain shut, what was left open has stood in the room.

    Both moistures are those of the hourly follower, and JSON and tables tell each with its own bowl.
    """
    path = tmp_path / "damp.toml"
    path.write_text(BOWL.replace('moisture = "7 %"', 'moisture = "9.4 %"'), "utf8")
    words = ("--indoor", "31 to 42 %", "--stored", "flat")
    moved = told_of(path, *words)["after_move"]
    printed = run("seasons", path, *words).stdout
    planned, (_, place) = make_bowl(tables_of_file(path)), year_in(path, humidity="31 to 42 %")
    middle, hours = float(np.mean(place.air_percent)), [t["time_h"] for t in moved["times"]]
    hourly = {
        kept: follow_percent(
            bowl_lags(planned, moisture_percent=middle, kept=kept),
            np.full(700, moved["to_percent"]),
            start_percent=9.4,
        )[:, np.array(hours, dtype=int)]
        for kept in ("flat", "open")
    }
    # Into drier air: turn 1, bare outside either way, lags behind a little more where its slot is shut.
    assert np.all(hourly["flat"][:2, 1:3] > hourly["open"][:2, 1:3] + 0.05)
    flat_table, open_table = printed.split("Washed")[0].split("Moved,")[1:]
    for i, hour in enumerate(moved["times"]):
        for kept, told, table in (
            ("flat", hour, flat_table),
            ("open", hour["stood_open"], open_table),
        ):
            base, first = hourly[kept][:2, i]
            assert told["base_moisture_percent"] == pytest.approx(base, abs=1e-6)
            assert told["first_moisture_percent"] == pytest.approx(first, abs=1e-6)
            # A turn and five thousandths: the rim is turn 1.
            assert told["rim_moisture_percent"] == pytest.approx(first, abs=0.02)
            assert re.search(rf"\b{base:.1f} % +{first:.1f} %", table)
    stood = {
        kept: stood_open(planned, np.vstack([np.full(rows.shape[0], 9.4), rows.T])).rise_mm[1:]
        for kept, rows in hourly.items()
    }
    assert np.all(np.isfinite(stood["open"][:3]))
    rises = [hour["stood_open"]["rise_mm"] for hour in moved["times"]]
    told_mm = [np.nan if rise is None else rise for rise in rises]
    np.testing.assert_allclose(told_mm, stood["open"], rtol=1e-6)
    assert not np.allclose(told_mm[:3], stood["flat"][:3], rtol=1e-4)


@pytest.mark.usefixtures("one_hour_after")
def test_left_open_is_another_question(bowl: Path, tmp_path: Path) -> None:
    """Left open since March, in a room kept dry, it stands; the report begins with that.

    The picture shows all plots.
    """
    picture = tmp_path / "year.svg"
    words = (
        "seasons",
        bowl,
        "--opened",
        "left open",
        "--since",
        "3",
        "--dehumidifier",
        "45 %",
        "--units",
        "in",
        "--picture",
        picture,
    )
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[1] == "STANDS ALL THE YEAR"
    assert lines[2].startswith("Opened in the week of 12 March and left so, its rim stands")
    text = " ".join(result.stdout.split())
    for wanted in (
        "Medlar tray", "monthly means of the bowl file", "Sawn at 7 %", "rocking of the base",
        "worst in the week of", "January", "Left open since March", "After months", "ESTIMATE",
        "board.pith", " in ",
    ):  # fmt: skip
        assert wanted in text
    assert lines[-1] == "Medlar tray: STANDS ALL THE YEAR"
    assert "Unplug the saw" in text
    for unwanted in ("closed form",):
        assert unwanted not in text
    assert " mm" not in text.split("What was taken for granted")[0]
    drawn = picture.read_text("utf8")
    for wanted in ("STANDS ALL THE YEAR", "Medlar tray", "moisture", "rise of the rim", "out of level",
                   "rocking of the base", "splitting"):  # fmt: skip
        assert wanted in drawn
    refused = run(*words)
    assert refused.exit_code == 2
    assert "--replace" in refused.stderr
    assert picture.read_text("utf8") == drawn


def test_a_bowl_lost_near_slipping_is_told_to_be_so(bowl: Path) -> None:
    """Followed no further with nearly all its friction used: about to spring back; else nothing is said."""
    tables = tables_of_file(bowl)
    asked = Asked(stored="open", opened=LEFT_OPEN, since_month=3)
    answer = seasons(make_bowl(tables), read_place(tables, where=bowl.name, typed={}), asked)
    held = answer.left_open
    assert 0 < held.last_used < 1
    rises = held.rise_mm.copy()
    rises[(held.opened_week + np.arange(4, 20)) % len(rises)] = np.nan
    for used, told in ((0.957, True), (0.7, False)):
        lost = replace(held, rise_mm=rises, ends=NOT_FOLLOWED, last_used=used)
        text = year_in_words(replace(answer, left_open=lost), units="mm").state
        assert "it could not be followed further" in text
        assert ("a turn then used 96% of its friction, so it is about to spring back" in text) == told


@pytest.fixture(scope="module")
def since_march(bowl: Path) -> SeasonAnswer:
    """The bowl left open since March, as it is computed."""
    tables = tables_of_file(bowl)
    asked = Asked(stored="open", opened=LEFT_OPEN, since_month=3)
    return seasons(make_bowl(tables), read_place(tables, where=bowl.name, typed={}), asked)


def test_the_week_a_turn_first_comes_loose_is_counted_from_the_opening(since_march: SeasonAnswer) -> None:
    """Opened in November and loose over New Year, it is first loose in December, not in January."""
    held = since_march.left_open
    loose = np.zeros_like(held.loose)
    loose[[0, 1, 49, 51], -1] = True
    over = replace(since_march, left_open=replace(held, opened_week=45, loose=loose, ends=""))
    first = datetime(2023, 1, 1) + timedelta(weeks=49)
    said = next(s for s in year_in_words(over, units="mm").left_open if s.startswith("Comes loose"))
    assert said.endswith(f"in 4 weeks, first in the week of {first.day} {month_name[first.month]}.")


def test_a_bowl_that_does_not_stand_all_the_year_is_not_said_to(since_march: SeasonAnswer) -> None:
    """Whether it stands all the year or not, its worst week decides, and no sentence says otherwise."""
    for ends, told in (("", "It stands all the year and"), ("springs back", "As long as it stands")):
        there = replace(since_march, left_open=replace(since_march.left_open, ends=ends))
        assert f" {told} its worst week decides." in year_in_words(there, units="mm").split


def test_months_tell_the_press_in_the_maker_s_units(since_march: SeasonAnswer) -> None:
    """In inches each month has newtons and pounds, 4.448 N each, on one line; in mm newtons alone."""
    for units, pounds in (("in", True), ("mm", False)):
        table = year_in_words(since_march, units=units).month
        cells = [row[6] for row in rows_of(table)]
        assert len(cells) == 12
        for cell in cells:
            found = re.fullmatch(r"([\d.]+) N(?: \(([\d.]+) lbf\))?", cell)
            assert found, cell
            assert bool(found[2]) == pounds
            if pounds:
                assert float(found[2]) == pytest.approx(float(found[1]) / 4.448, rel=0.11)
        lines = seasons_report(since_march, units=units).splitlines()
        assert all(any(cell in line for line in lines) for cell in cells)


def test_one_week_pressed_is_one_week(since_march: SeasonAnswer) -> None:
    """Where all weeks are of a kind one of them was pressed."""
    weekly = replace(since_march.weekly, pressed=(7,), rise_within=0.0)
    how = " ".join(year_in_words(replace(since_march, weekly=weekly), units="mm").how)
    assert "1 week was pressed: one of each kind there is." in how


@pytest.mark.parametrize(
    ("least", "most", "outside"), [(6.2, 13.8, False), (5.6, 13.0, True), (6.4, 14.7, True)]
)
def test_swelling_beyond_what_was_measured_is_told_of_a_year(
    since_march: SeasonAnswer, least: float, most: float, outside: bool
) -> None:
    """The printed coefficients serve 6 to 14 percent (Wood Handbook, Table 13-5): words and JSON say so."""
    moist = np.full_like(since_march.year.moisture_percent, 9.3)
    moist[11, 0], moist[30, -1] = least, most
    there = replace(since_march, year=replace(since_march.year, moisture_percent=moist))
    said, told = " ".join(year_in_words(there, units="mm").notes), seasons_object(there)["notes"]
    for text in (said, " ".join(told)):
        assert ("serve 6 to 14 percent moisture; part of this bowl's year lies outside" in text) == outside


def test_friction_used_has_the_name_of_what_it_is(since_march: SeasonAnswer) -> None:
    """At rest it is called so; where a limit below 1 has friction lowered it is the number of `fit`."""
    schema = json.loads(run("schema", "seasons").stdout)
    for limit, name in ((1.0, "friction_used_at_rest"), (0.9, "friction_used")):
        limits = replace(since_march.bowl.limits, friction_used=limit)
        told = seasons_object(replace(since_march, bowl=replace(since_march.bowl, limits=limits)))
        jsonschema.Draft202012Validator(schema).validate(json.loads(json.dumps(told)))
        openings = [*told["weeks"], *(t["pressed_open"] for t in told["after_move"]["times"])]
        for opening in openings:
            assert {key for key in opening if key.startswith("friction_used")} == {name}


@pytest.mark.usefixtures("one_hour_after")
def test_a_year_does_not_jump_with_the_friction_that_asks(bowl: Path) -> None:
    """In damp weeks alone is there the press that least friction asks: all are pressed for its middle."""
    tables = tables_of_file(bowl)
    tables["use"] = {"finish": "none", "friction": "0.3 to 0.52", "press": "300 N"}
    year, place = year_in(bowl)
    by_damp = np.argsort(year.moisture_percent[:, 1])
    rows = year.moisture_percent[by_damp[[0, -1]]]
    planned = make_bowl(tables)
    needs = [fit_week(at_moistures(planned, row)).needed_N for row in rows]
    assert needs[0] > 1.05 * needs[1]
    planned = replace(planned, use=replace(planned.use, press_N=1.25 * float(np.sqrt(needs[0] * needs[1]))))
    asking = [fit_week(at_moistures(planned, row)).asking_friction for row in rows]
    assert asking == pytest.approx([0.41, 0.3])
    answer = seasons(planned, place, Asked(since_month=3))
    presses = answer.weekly.each("press_N")
    assert presses.max() < 1.15 * presses.min()
    assert presses.max() < planned.use.press_N / 1.1
    assert answer.bowl == planned


def on_every_processor() -> None:
    """Let a process that is started have every processor, whatever this one keeps to."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, range(os.cpu_count() or 1))


def test_ctrl_c_leaves_nothing_half_written(bowl: Path, tmp_path: Path) -> None:
    """Stopped while it presses it ends, prints no answer and writes no picture."""
    picture = tmp_path / "year.pdf"
    asked = [sys.executable, "-m", "fitsim", "seasons", str(bowl), "--picture", str(picture)]
    process = subprocess.Popen(
        asked,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        text=True,
        preexec_fn=on_every_processor,
    )
    assert process.stderr is not None
    first = process.stderr.readline()
    os.killpg(process.pid, signal.SIGINT)
    out, _ = process.communicate(timeout=300)  # only so that a test that fails does not hang
    assert "of the year" in first
    assert process.returncode not in (0, None)
    assert out == ""
    assert not list(tmp_path.iterdir())


def test_a_year_of_a_real_weather_file(bowl: Path, tmp_path: Path) -> None:
    """Amsterdam (IWEC): a heated room is driest in winter, dampest in summer; typed means are set aside."""
    spec = importlib.util.find_spec("pvlib")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("pvlib is not installed")
    epw = Path(spec.submodule_search_locations[0]) / "data" / "NLD_Amsterdam062400_IWEC.epw"
    tables = tables_of_file(bowl)
    place = read_place(tables, where="", weather=read_epw(epw), typed={})
    year = moisture_year(make_bowl(tables), place.air_percent)
    assert not 8 < year.driest_week < 48
    assert 26 <= year.wettest_week <= 39
    assert place.name == "AMSTERDAM, NLD"
    assert any("set aside" in note for note in place.notes)


def test_an_indoor_range_stands_in_for_weather(tmp_path: Path) -> None:
    """A room of 30 to 60 percent at 21 deg C takes wood between the sorption table's 6.2 and 11 percent."""
    path = tmp_path / "bowl.toml"
    path.write_text(BOWL, "utf8")
    year, place = year_in(path, humidity="30 to 60 %", heated="70 F")
    # Wood Handbook, Table 4-2, 70 deg F: 6.2 percent at 30, 11.0 percent at 60 percent humidity.
    assert year.rim_percent.min() == pytest.approx(6.2, abs=0.15)
    assert year.rim_percent.max() == pytest.approx(11.0, abs=0.15)
    assert place.kind == "indoor range"


def test_room_limits_in_the_file_and_on_the_command_line(bowl: Path, tmp_path: Path) -> None:
    """A humidifier lifts the driest week, in the table [room] as on the command line."""
    path = tmp_path / "room.toml"
    path.write_text(BOWL + WEATHER + '[room]\nhumidifier = "35 %"\n', "utf8")
    years = (year_in(bowl), year_in(bowl, humidifier="35 %"), year_in(path))
    driest = [float(year.rim_percent.min()) for year, _place in years]
    assert driest[0] < 4
    # Wood Handbook, Table 4-2: 6.9 percent at 35 percent humidity and 70 deg F.
    assert driest[1] == pytest.approx(6.9, abs=0.15)
    assert driest[2] == driest[1]


def test_vapour_of_people_makes_winter_damper(bowl: Path) -> None:
    """Cold outdoor air holds hardly any vapour: 3 g/m3 more at 20 deg C are 17.3 percent more humidity."""
    (plain, as_is), (damper, added) = year_in(bowl), year_in(bowl, added="3 g/m3")
    assert "room.added" in {a.key for a in as_is.assumptions}
    assert "room.added" not in {a.key for a in added.assumptions}
    driest = [float(year.rim_percent.min()) for year in (plain, damper)]
    # Saturated air at 20 deg C holds 17.3 g/m3. January: -10 deg C and 78 percent hold 1.84 g/m3 (over
    # water, 2.36 saturated), warmed and with 3 more some 28 percent; Wood Handbook, Table 4-2: about 5.8.
    assert driest[0] < 3
    assert driest[1] == pytest.approx(5.8, abs=0.5)


@pytest.mark.parametrize(
    ("changed", "state"),
    [(("0.72 mm", "2.4 mm"), "falls through"), (("0.72 mm", "0.1 mm"), "will not open")],
)
def test_a_bowl_that_never_locks_is_told_so(tmp_path: Path, changed: tuple[str, str], state: str) -> None:
    """What falls through or will not open has its state in every week, and no number for its level."""
    path, picture = tmp_path / "bowl.toml", tmp_path / "year.png"
    # With the wide kerf the strip makes a full turn at a narrower pitch only.
    text = (BOWL + WEATHER).replace(*changed).replace("8.4 mm", "7.6 mm")
    path.write_text(text.replace('finish = "none"', 'finish = "none"\nfilm = "0.09 mm"'), "utf8")
    result = run("seasons", path, "--opened", "left open", "--picture", picture)
    assert result.exit_code == 0, result.stderr
    assert result.stdout.splitlines()[1] == "DOES NOT STAND OPEN"
    assert f"it does not stay open: it {state}." in " ".join(result.stdout.split())
    assert picture.stat().st_size > 10_000
    told = told_of(path)
    assert told["headline"] == f"{state.upper()} ALL THE YEAR"
    assert {w["state"] for w in told["weeks"]} == {state}
    assert {w["rise_mm"] for w in told["weeks"]} == {None}
    assert told["left_open"]["stands_all_the_year"] is False
    assert re.search(r"least rise +- +- +-", run("seasons", path).stdout)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.toml",), "nowhere.toml"),
        (("BARE",), "a year of air"),
        (("BOWL", "--weather", "nowhere.epw"), "nowhere.epw"),
        (("BARE", "--indoor", "60 to 30 %"), "--indoor"),
        (("BARE", "--indoor", "30 to 99 %"), "from 2 to 95 percent"),
        (("BOWL", "--heated", "20"), "--heated"),
        (("BOWL", "--heated", "-40 F"), "--heated"),
        (("BOWL", "--added", "3"), "g/m3"),
        (("BARE", "--indoor", "30 to 60 %", "--humidifier", "45 %"), "--humidifier"),
        (("BOWL", "--humidifier", "60 %", "--dehumidifier", "40 %"), "at least --humidifier = '60 %'"),
        (("BOWL", "--cooled", "15 C"), "--cooled = '15 C': expected at least the 20 C"),
        (("BARE", "--indoor", "30 to 60 %", "--driest-month", "13"), "1 to 12"),
        (("BOWL", "--driest-month", "2"), "--driest-month"),
        (("BOWL", "--picture", "x.doc"), "ending"),
        (("BOWL", "--stored", "wet"), "stored"),
        (("BOWL", "--opened", "left open", "--stored", "flat"), "stored open"),
        (("BOWL", "--since", "13"), "since"),
        (("BADROOM",), "room.heatd"),
        (("BADPITH",), "board.pith"),
        (("WETCOAST",), "dehumidifier"),
    ],
)
def test_bad_input_is_one_line_and_status_2(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """What cannot be done is said on standard error with exit status 2, and nothing is printed."""
    files = {
        "BARE": BOWL,
        "BOWL": BOWL + WEATHER,
        "BADROOM": BOWL + WEATHER + '[room]\nheatd = "20 C"\n',
        "BADPITH": (BOWL + WEATHER).replace("[cut]", 'pith = "50 mm"\ngrain = "quarter-sawn"\n[cut]'),
        "WETCOAST": BOWL + "[weather]\ntemperature_C = " + str([25] * 12) + "\n"
        "humidity_percent = " + str([98] * 12) + "\n",
    }  # fmt: skip
    for name, text in files.items():
        (tmp_path / f"{name}.toml").write_text(text, "utf8")
    result = run("seasons", *(tmp_path / f"{w}.toml" if w in files else w for w in words))
    assert result.exit_code == 2
    assert said in result.stderr
    if words[1:2] not in [("--stored",), ("--since",)]:  # those are refused before our code is reached
        assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""
