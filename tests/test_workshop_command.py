"""``fitsim testcut`` and ``--learned`` as a maker meets them: slides, strips and oven beside the saw."""

import json
import math
import re
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from fitsim.cli import main
from fitsim.report.answer_json import schema_text
from fitsim.saw.learned_file import read_learned

TESTS = """
name = "Cherry from the shed"
date = 2024-03-02
[board]
wood = "cherry"
finish = "oil"
[[slide]]
angle = "20 deg"
[[slide]]
angle = "23 deg"
[[slide]]
angle = "21 deg"
[strips]
width = "10 mm"
thickness = "6 mm"
span = "60 mm"
[[break]]
load = "4.4 kg"
[[break]]
load = "3.7 kg"
[[break]]
load = "5 kg"
[[oven]]
wet = "54.5 g"
dry = "50 g"
"""
SLOT = '[[slot]]\nwidth = "0.7 mm"\n'
BOWL = """
[board]
wood = "cherry"
thickness = "19 mm"
across = "240 mm"
[cut]
tilt = "5 deg"
kerf = "0.8 mm"
pitch = "8 mm"
base = "90 mm"
[use]
finish = "oil"
"""


def run(*words: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in words])


def flat(text: str) -> str:
    """Text without its line breaks."""
    return " ".join(text.split())


@pytest.fixture
def tests(tmp_path: Path) -> Path:
    """A good file of tests."""
    path = tmp_path / "tests.toml"
    path.write_text(TESTS, "utf8")
    return path


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A good bowl file."""
    path = tmp_path / "bowl.toml"
    path.write_text(BOWL, "utf8")
    return path


def test_report_says_what_a_maker_needs(tests: Path) -> None:
    """Each test has its range, its number as it is read, what was believed, agreement, and cautions."""
    text = flat(run("testcut", tests).stdout)
    for words in (
        "Cherry from the shed, 2024-03-02",
        "From 3 slides of cherry, black, finished with oil, nine times in ten: friction is 0.3",
        "before it was 0.2 to 0.55. The slides agree",
        "From 3 test strips of cherry, black broken across the grain",
        "MPa there for a board sawn this way",
        "Test strips of it 10.0 mm wide and 6.0 mm thick on supports 60.0 mm apart break at 4.",
        "the board is at 9.0 % moisture",
        "friction.stands_for 10 % (0 % to 20 %), ESTIMATE",
        "A strip breaks suddenly: eye protection",
        "no hotter than 103 C (217 F)",
    ):
        assert words in text
    assert "kerf" not in text


def test_saw_and_other_tests_stand_in_one_file(tests: Path, tmp_path: Path) -> None:
    """A slot beside them adds the saw's report and the saw's part of the kept file."""
    tests.write_text(TESTS + SLOT, "utf8")
    kept = tmp_path / "kept.toml"
    text = flat(run("testcut", tests, "--keep", kept).stdout)
    assert "friction is 0.3" in text
    assert "the kerf is 0.70 mm" in text
    found = read_learned(kept)
    assert found.saw is not None
    assert found.saw.kerf_mm == pytest.approx(0.7, abs=1e-3)
    assert [len(v) for v in (found.frictions, found.strengths, found.moistures)] == [1, 1, 1]


def test_json_carries_units_and_agrees_with_the_kept_file(tests: Path, tmp_path: Path) -> None:
    """The JSON alone goes to standard output and says what the kept file keeps, null where untested."""
    kept = tmp_path / "kept.toml"
    answer = json.loads(run("testcut", tests, "--json", "--keep", kept).stdout)
    found = read_learned(kept)
    assert answer["friction"]["friction"] == pytest.approx(found.frictions[0].friction, abs=1e-5)
    angles = [math.degrees(math.atan(v)) for v in answer["friction"]["friction_range"]]
    assert answer["friction"]["slide_angle_deg"][1:] == pytest.approx(angles)
    shapes = {row["shape"]: row for row in answer["strength"]["by_shape"]}
    assert shapes[6]["mean_MPa"] == pytest.approx(found.strengths[0].across.at_shape(6.0)[0], abs=1e-5)
    assert answer["moisture"]["moisture_percent"] == pytest.approx(9.0)
    assert "kerf_mm" not in answer
    tests.write_text(SLOT, "utf8")
    alone = json.loads(run("testcut", tests, "--json").stdout)
    assert (alone["friction"], alone["strength"], alone["moisture"]) == (None, None, None)
    assert alone["kerf_mm"] == pytest.approx(0.7, abs=1e-3)


def test_contradictions_are_refused_and_nothing_is_kept(tests: Path, tmp_path: Path) -> None:
    """A slide and a strip that do not fit are two lines, status 2, and no file."""
    tests.write_text(TESTS + '[[slide]]\nangle = "45 deg"\n[[break]]\nload = "0.4 kg"\n', "utf8")
    kept = tmp_path / "kept.toml"
    result = run("testcut", tests, "--keep", kept)
    assert (result.exit_code, result.stdout, kept.exists()) == (2, "", False)
    first, second = result.stderr.splitlines()
    assert "tests.toml: slide 4 = 45.0 deg: expected about 21 deg" in first
    assert "tests.toml: break 4 = 0.40 kg: expected about 4." in second


def test_fit_takes_what_was_learned(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """Friction, strength and moisture arrive as measured, and the answer still obeys its schema."""
    kept = tmp_path / "kept.toml"
    run("testcut", tests, "--keep", kept)
    found = read_learned(kept)
    answer = json.loads(run("fit", bowl, "--rigid", "--learned", kept, "--json").stdout)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(answer)
    assumed = {a["key"]: a for a in answer["assumptions"]}
    for key in ("use.friction", "board.moisture", "strength across the grain of this board"):
        assert assumed[key]["mark"] == "measured"
    hold = answer["margins"]["springs_back"]
    expected = math.tan(math.radians(5)) / found.frictions[0].low
    assert hold["worst"] == pytest.approx(expected, rel=1e-3)


def test_several_files_are_taken_together_and_two_of_a_kind_are_not(
    tests: Path, bowl: Path, tmp_path: Path
) -> None:
    """A saw's file and one of other tests join; two frictions of one finish are refused by name."""
    kept, saw = tmp_path / "kept.toml", tmp_path / "saw.toml"
    run("testcut", tests, "--keep", kept)
    tests.write_text(SLOT, "utf8")
    run("testcut", tests, "--keep", saw)
    answer = json.loads(run("fit", bowl, "--rigid", "--saw", saw, "--learned", kept, "--json").stdout)
    measured = {a["key"] for a in answer["assumptions"] if a["mark"] == "measured"}
    assert {"cut.kerf", "use.friction"} <= measured
    again = tmp_path / "again.toml"
    again.write_text(kept.read_text("utf8"), "utf8")
    result = run("fit", bowl, "--rigid", "--learned", kept, "--learned", again)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "again.toml: friction: expected one friction of oil on cherry, black; " in result.stderr


def test_a_friction_of_another_finish_is_said(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """The answer says that a friction was left out, and for which finish it was measured."""
    kept = tmp_path / "kept.toml"
    run("testcut", tests, "--keep", kept)
    bowl.write_text(BOWL.replace("oil", "wax"), "utf8")
    text = flat(run("fit", bowl, "--rigid", "--learned", kept).stdout)
    assert "friction is known for oil on cherry, black, not for wax on cherry, black: left out" in text


def test_files_of_tests_and_of_what_they_taught_are_told_from_a_bowl(tests: Path, tmp_path: Path) -> None:
    """Given in place of a bowl file, either is one line that says what it is."""
    kept = tmp_path / "kept.toml"
    run("testcut", tests, "--keep", kept)
    for path, words in (
        (tests, "this is a file of test cuts"),
        (kept, "this is a file of what tests taught"),
    ):
        result = run("fit", path)
        assert (result.exit_code, result.stdout) == (2, "")
        (line,) = result.stderr.splitlines()
        assert words in line
    result = run("testcut", kept)
    assert "this is one of what was learned already" in result.stderr


def test_seasons_and_explain_take_it_too(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """The other commands take the same option: what is wrong with the file is answered there as well."""
    for command in ("seasons", "explain", "tilt"):
        result = run(command, bowl, "--learned", tests)
        assert (result.exit_code, result.stdout) == (2, "")
        assert "this is a file of test cuts" in result.stderr
    result = run("sheet", bowl, "-o", tmp_path / "s.pdf", "--learned", bowl)
    assert "not a bowl file" in result.stderr


def test_seasons_start_from_the_measured_moisture(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """Through the year the bowl starts as damp as the oven said, not at the assumed 8 percent."""
    kept = tmp_path / "kept.toml"
    run("testcut", tests, "--keep", kept)
    bowl.write_text(BOWL + 'film = "0.5 mm"\n', "utf8")  # shut by it: the year is read, nothing pressed
    asked = ("seasons", bowl, "--indoor", "30 to 60 %", "--json")
    plain, learned = (json.loads(run(*asked, *more).stdout) for more in ((), ("--learned", kept)))
    assert plain != learned


@pytest.mark.parametrize(("units", "words"), [("mm", "60.0 mm apart"), ("in", "2 1/2 in apart")])
def test_drawing_shows_the_three_tests(tmp_path: Path, units: str, words: str) -> None:
    """The drawing holds the three tests, their formulas and cautions, and is not overwritten silently."""
    path = tmp_path / "tests.svg"
    told = run("testcut", "--drawing", path, "--units", units)
    assert told.exit_code == 0
    assert "A strip breaks suddenly" in flat(told.stdout)
    text = path.read_text("utf8")
    for said in ("Slide: friction", "Break: strength", "Oven: moisture", "rise / run = tan(angle)", words):
        assert said in text
    before = path.read_bytes()
    again = run("testcut", "--drawing", path)
    assert (again.exit_code, again.stdout, path.read_bytes()) == (2, "", before)
    assert run("testcut", "--drawing", tmp_path / "t.txt").exit_code == 2


def test_starter_and_drawing_come_together(tmp_path: Path) -> None:
    """With --new and --drawing both are written; without a file only a drawing can be asked for."""
    starter, picture = tmp_path / "t.toml", tmp_path / "t.pdf"
    assert run("testcut", "--new", starter, "--drawing", picture).exit_code == 0
    assert starter.exists()
    assert picture.read_bytes().startswith(b"%PDF")
    result = run("testcut")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "FILE: expected a file of tests" in result.stderr


def test_a_tilt_is_asked_for_only_where_a_saw_was_measured(tests: Path) -> None:
    """A drop cannot be predicted from slides and strips."""
    result = run("testcut", tests, "--tilt", "6 deg")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--tilt: expected a saw's rings or slots in the file" in result.stderr


def test_a_file_behind_learned_is_not_written_over(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """An output of the same name as a file that was learned from is refused, and the file stays."""
    kept = tmp_path / "kept.csv"
    run("testcut", tests, "--keep", kept)
    before = kept.read_bytes()
    found = run("sweep", bowl, "tilt=4..6:2", "--learned", kept, "--csv", kept, "--replace")
    assert found.exit_code == 2
    assert "kept.csv" in found.stderr
    assert kept.read_bytes() == before


def test_strength_is_told_as_fit_takes_it(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """The report's range at the middle size rule is the one that stands among fit's assumptions."""
    kept = tmp_path / "kept.toml"
    text = flat(run("testcut", tests, "--keep", kept).stdout)
    answer = json.loads(run("fit", bowl, "--rigid", "--learned", kept, "--json").stdout)
    taken = {a["key"]: a for a in answer["assumptions"]}["strength across the grain of this board"]
    mean, low, high = (taken[part].removesuffix(" MPa") for part in ("value", "low", "high"))
    assert f"by which bowls are judged, it is {mean} MPa ({low} to {high})" in text


def test_a_saw_s_note_is_in_the_units_asked_for(tests: Path, bowl: Path, tmp_path: Path) -> None:
    """The units asked for reach the note of a saw file in fit, whatever the bowl file is written in."""
    kept = tmp_path / "kept.toml"
    tests.write_text(SLOT + '[[bevel]]\ntilt = "5 deg"\ngauge = "5.3 deg"\n', "utf8")
    run("testcut", tests, "--keep", kept)
    text = flat(run("fit", bowl, "--rigid", "--saw", kept, "--units", "in").stdout)
    (note,) = re.findall(r"and a turn sinks (.*?) nine times in ten", text)
    assert re.fullmatch(r"0\.\d{3} in to 0\.\d{3} in", note)
