"""``fitsim seasons`` as a maker meets it."""

import importlib.util
import json
from calendar import month_name
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from fitsim.cli import main

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
across = "131 mm"
moisture = "7 %"
[cut]
tilt = "5.2 deg"
kerf = "0.72 mm"
pitch = "8.4 mm"
base = "76 mm"
[use]
finish = "none"
"""


def run(*words: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in words])


@cache
def told_of(path: Path, *options: str) -> dict[str, Any]:
    """The closed form's answer for one bowl file, worked out once."""
    result = run("seasons", path, "--rigid", "--json", *options)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.fixture(scope="module")
def bowl(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A good bowl file with the weather typed in."""
    path = tmp_path_factory.mktemp("seasons") / "bowl.toml"
    path.write_text(BOWL + WEATHER, "utf8")
    return path


def test_json_has_every_week_and_says_the_model(bowl: Path) -> None:
    """Fifty-two weeks with seven numbers each, dates in order, each with its model; the worst of each."""
    told = told_of(bowl)
    assert json.loads(run("seasons", bowl, "--rigid", "--json").stdout) == told
    weeks = told["weeks"]
    assert len(weeks) == 52
    assert [w["start"] for w in weeks[:5]] == ["01-01", "01-08", "01-15", "01-22", "01-29"]
    assert weeks[-1]["start"] == "12-24"
    for number in ("base_rock_mm", "rim_out_of_level_mm", "play_mm", "split_chance"):
        values = [w[number] for w in weeks]
        worst = told["worst"][number]
        assert worst["value"] == max(values)
        assert weeks[worst["week"]]["start"] == worst["start"]
        assert worst["model"].startswith("closed form")
    assert {w["model"] for w in weeks} == {"closed form"}
    rock = np.array([w["base_rock_mm"] for w in weeks])
    near = np.flatnonzero(rock >= 0.9 * rock.max() + 0.1 * rock.min())
    # 2023 is no leap year; the middle of a week lies three and a half days after its start.
    middles = [datetime(2023, 1, 1) + timedelta(days=7 * int(w) + 3.5) for w in near]
    months = sorted({m.month for m in middles})
    assert told["worst"]["base_rock_mm"]["months"] == [month_name[m] for m in months]
    assert {w["state"] for w in weeks} == {"locks"}
    rim = np.array([w["rim_moisture_percent"] for w in weeks])
    base = np.array([w["base_moisture_percent"] for w in weeks])
    assert np.ptp(rim) > np.ptp(base) > 3
    assert rim.argmin() < 12
    # The base cups as it leaves the moisture it was sawn at: worst where it is farthest from 7 percent.
    assert told["worst"]["base_rock_mm"]["week"] == int(np.argmax(np.abs(base - 7)))


def test_the_elastic_strip_stands_behind_the_worst_weeks(bowl: Path) -> None:
    """Weeks that are worst by the closed form have an elastic fit, the others say closed form."""
    told = json.loads(run("seasons", bowl, "--json").stdout)
    closed = {
        number: max(range(52), key=lambda w: told["weeks"][w]["closed_form"][number])
        for number in ("rim_out_of_level_mm", "play_mm", "split_chance")
    }
    fitted = {i for i, week in enumerate(told["weeks"]) if week["model"] == "elastic"}
    assert fitted == set(closed.values())
    assert {e["week"] for e in told["elastic"]} == fitted
    for number in closed:
        worst = told["worst"][number]
        assert worst["model"] == "elastic"
        assert worst["value"] == told["weeks"][worst["week"]][number]
    # A small push moves the rim by less than the seats allow at most.
    for week in fitted:
        assert told["weeks"][week]["play_mm"] > 0
        assert told["weeks"][week]["closed_form"]["play_mm"] >= 0


def test_left_open_is_another_question(bowl: Path) -> None:
    """Left open since March: one elastic opening in its middle, and the pull of every week on it."""
    words = ("seasons", bowl, "--json", "--opened", "left open", "--since", "3")
    told = json.loads(run(*words).stdout)
    assert told["opened"] == "left open"
    assert told["left_open"]["since"] == "03-12"
    assert [told["weeks"][e["week"]]["start"] for e in told["elastic"]] == ["03-12"]
    assert {w["models"]["split_chance"] for w in told["weeks"]} == {"elastic opening, pull by closed form"}
    level = {w["rim_out_of_level_mm"] for w in told["weeks"]}
    assert len(level) == 1
    # It dries on its base from August on: the tightest week lies in autumn. Damp wood is weaker across its
    # grain, so the worst split may come some weeks before, while it dries.
    first = told["left_open"]["pulled_tight"][0]
    assert first["turn"] == 1
    assert "08" <= first["worst"][:2] <= "12"
    assert first["difference_points"] > 0
    assert "08" <= told["worst"]["split_chance"]["start"][:2] <= first["worst"][:2]
    bounds = told["left_open"]["after_months"]
    for key in ("collapse_N", "set_rise_mm", "later_rise_mm", "stress_left"):
        assert bounds[key]["low"] < bounds[key]["likely"] < bounds[key]["high"]
    rise = told["elastic"][0]["rise_mm"]
    assert bounds["set_rise_mm"]["likely"] == pytest.approx(0.5 * rise)


def test_ranges_reach_the_answer(bowl: Path, tmp_path: Path) -> None:
    """Strength's range brackets the chance; a pith twice as near rocks twice as far."""
    path = tmp_path / "given.toml"
    path.write_text(
        (BOWL + WEATHER).replace('moisture = "7 %"', 'moisture = "7 %"\npith = "90 mm"'), "utf8"
    )
    guessed, given = (told_of(p) for p in (bowl, path))
    for told in (guessed, given):
        split = told["split_over_the_year"]
        assert split["chance_low"] < split["chance"] <= split["chance_high"]
        assert split["chance"] == told["worst"]["split_chance"]["value"]
    far, near = guessed["base_rock_range_mm"]
    middle = guessed["worst"]["base_rock_mm"]["value"]
    # Curvature is 2 (e_R - e_T)/r: 300, 150 and 75 mm; the next order is (38/75)^2.
    assert far == pytest.approx(middle / 2, rel=0.05)
    assert near == pytest.approx(2 * middle, rel=0.3)
    assert given["base_rock_range_mm"] == [given["worst"]["base_rock_mm"]["value"]] * 2


def test_a_year_of_a_real_weather_file(bowl: Path, tmp_path: Path) -> None:
    """Amsterdam (IWEC): a heated room is driest in winter, dampest in summer; typed means are set aside."""
    spec = importlib.util.find_spec("pvlib")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("pvlib is not installed")
    epw = Path(spec.submodule_search_locations[0]) / "data" / "NLD_Amsterdam062400_IWEC.epw"
    told = json.loads(run("seasons", bowl, "--weather", epw, "--rigid", "--json").stdout)
    rim = [w["rim_moisture_percent"] for w in told["weeks"]]
    assert told["weeks"][int(np.argmin(rim))]["start"][:2] in {"12", "01", "02"}
    assert told["weeks"][int(np.argmax(rim))]["start"][:2] in {"07", "08", "09"}
    assert told["place"]["name"] == "AMSTERDAM, NLD"
    assert any("set aside" in note for note in told["place"]["notes"])


def test_advice_and_move_are_told(bowl: Path) -> None:
    """Advice has a moisture inside its range, days in order, every finish; the move ends."""
    told = told_of(bowl)
    saw, rest = told["advice"]["saw_at"], told["advice"]["rest"]
    assert saw["low_percent"] < saw["moisture_percent"] < saw["high_percent"]
    assert saw["worst_mm"] <= saw["worst_as_is_mm"]
    assert rest["board_days"] == sorted(rest["board_days"])
    assert [f["name"] for f in told["advice"]["finishes"]] == ["none", "oil", "wax", "varnish", "paint"]
    moved = told["after_move"]
    assert moved["from_percent"] == 7
    assert moved["times"][-1]["rim_moisture_percent"] == pytest.approx(moved["to_percent"], abs=0.1)
    assert [t["time_h"] for t in moved["times"]] == [1, 6, 24, 72, 168, 336, 672]


def test_report_and_picture(bowl: Path, tmp_path: Path) -> None:
    """The report names place, swing, worst weeks, model and estimates; the picture shows all five plots."""
    picture = tmp_path / "year.svg"
    result = run("seasons", bowl, "--rigid", "--units", "in", "--picture", picture)
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    for wanted in (
        "Medlar tray", "monthly means of the bowl file", "Sawn at 7 %", "rocking of the base", "worst day",
        "January", "closed form", "The elastic strip was left out", "ESTIMATE", "board.pith", " in ",
    ):  # fmt: skip
        assert wanted in text
    assert " mm" not in text.split("What was taken for granted")[0]
    drawn = picture.read_text("utf8")
    for wanted in ("Medlar tray", "moisture", "rocking of the base", "out of level", "play", "splitting"):
        assert wanted in drawn
    refused = run("seasons", bowl, "--rigid", "--picture", picture)
    assert refused.exit_code == 2
    assert "--replace" in refused.stderr


def test_an_indoor_range_stands_in_for_weather(tmp_path: Path) -> None:
    """A room of 30 to 60 percent at 21 deg C takes wood between the sorption table's 6.2 and 11 percent."""
    path = tmp_path / "bowl.toml"
    path.write_text(BOWL, "utf8")
    told = told_of(path, "--indoor", "30 to 60 %", "--heated", "70 F")
    rim = [w["rim_moisture_percent"] for w in told["weeks"]]
    # Wood Handbook, Table 4-2, 70 deg F: 6.2 percent at 30, 11.0 percent at 60 percent humidity.
    assert min(rim) == pytest.approx(6.2, abs=0.15)
    assert max(rim) == pytest.approx(11.0, abs=0.15)
    assert told["place"]["air"] == "indoor range"


def test_room_limits_in_the_file_and_on_the_command_line(bowl: Path, tmp_path: Path) -> None:
    """A humidifier lifts the driest week, in the table [room] as on the command line."""
    plain = told_of(bowl)
    lifted = told_of(bowl, "--humidifier", "35 %")
    path = tmp_path / "room.toml"
    path.write_text(BOWL + WEATHER + '[room]\nhumidifier = "35 %"\n', "utf8")
    typed = told_of(path)
    driest = [min(w["rim_moisture_percent"] for w in t["weeks"]) for t in (plain, lifted, typed)]
    assert driest[0] < 4
    # Wood Handbook, Table 4-2: 6.9 percent at 35 percent humidity and 70 deg F.
    assert driest[1] == pytest.approx(6.9, abs=0.15)
    assert driest[2] == driest[1]


def test_vapour_of_people_makes_winter_damper(bowl: Path) -> None:
    """Cold outdoor air holds hardly any vapour: 3 g/m3 more at 20 deg C are 17.3 percent more humidity."""
    plain, added = told_of(bowl), told_of(bowl, "--added", "3 g/m3")
    assert "room.added" in {a["key"] for a in plain["assumptions"]}
    assert "room.added" not in {a["key"] for a in added["assumptions"]}
    driest = [min(w["rim_moisture_percent"] for w in t["weeks"]) for t in (plain, added)]
    # Saturated air at 20 deg C holds 17.3 g/m3. January: -10 deg C and 78 percent hold 1.84 g/m3 (over
    # water, 2.36 saturated), warmed and with 3 more some 28 percent; Wood Handbook, Table 4-2: about 5.8.
    assert driest[0] < 3
    assert driest[1] == pytest.approx(5.8, abs=0.5)


def test_the_pith_s_distance_is_a_key(bowl: Path, tmp_path: Path) -> None:
    """Twice the distance of the pith, half the rocking; where it is given no estimate is shown."""
    path = tmp_path / "pith.toml"
    text = (BOWL + WEATHER).replace('moisture = "7 %"', 'moisture = "7 %"\npith = "300 mm"')
    path.write_text(text, "utf8")
    near, far = (told_of(p) for p in (bowl, path))
    rock = [t["worst"]["base_rock_mm"]["value"] for t in (near, far)]
    assert rock[0] == pytest.approx(2 * rock[1], rel=0.05)
    assert "board.pith" in {a["key"] for a in near["assumptions"]}
    assert "board.pith" not in {a["key"] for a in far["assumptions"]}


@pytest.mark.parametrize(
    ("changed", "state"),
    [(("0.72 mm", "2.4 mm"), "falls through"), (("0.72 mm", "0.05 mm"), "will not open")],
)
def test_a_bowl_that_never_locks_is_told_so(tmp_path: Path, changed: tuple[str, str], state: str) -> None:
    """What falls through or will not open has its state in every week, and no number for its level."""
    path, picture = tmp_path / "bowl.toml", tmp_path / "year.png"
    text = (BOWL + WEATHER).replace(*changed)
    path.write_text(text.replace('finish = "none"', 'finish = "none"\nfilm = "0.03 mm"'), "utf8")
    told = json.loads(run("seasons", path, "--json").stdout)
    assert {w["state"] for w in told["weeks"]} == {state}
    assert all(e["trouble"] for e in told["elastic"])
    if state == "falls through":
        assert {w["rim_out_of_level_mm"] for w in told["weeks"]} == {None}
    result = run("seasons", path, "--rigid", "--opened", "left open", "--picture", picture)
    assert result.exit_code == 0, result.stderr
    assert f"{state} in 52 weeks" in " ".join(result.stdout.split())
    assert "cannot be left open" in result.stdout
    assert picture.stat().st_size > 10_000


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.toml",), "nowhere.toml"),
        (("BARE",), "a year of air"),
        (("BOWL", "--weather", "nowhere.epw"), "nowhere.epw"),
        (("BARE", "--indoor", "60 to 30 %"), "--indoor"),
        (("BARE", "--indoor", "30 to 99 %"), "up to 95"),
        (("BOWL", "--heated", "20"), "--heated"),
        (("BOWL", "--heated", "-40 F"), "--heated"),
        (("BOWL", "--added", "3"), "g/m3"),
        (("BARE", "--indoor", "30 to 60 %", "--humidifier", "45 %"), "--humidifier"),
        (("BOWL", "--humidifier", "60 %", "--dehumidifier", "40 %"), "at most"),
        (("BOWL", "--cooled", "15 C"), "at most cooled"),
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
    result = run("seasons", *(tmp_path / f"{w}.toml" if w in files else w for w in words), "--rigid")
    assert result.exit_code == 2
    assert said in result.stderr
    if words[1:2] not in [("--stored",), ("--since",)]:  # those are refused before our code is reached
        assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""
