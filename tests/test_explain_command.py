"""``fitsim explain`` from the command line: what it prints, and how it refuses."""

import csv
import io
import json
import math
import re
import tomllib
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fitsim.bowlfile.defaults import make_bowl
from fitsim.cli import main
from fitsim.failure.causes import causes_of_bytes
from fitsim.failure.explanations import NONE_OF_THESE
from fitsim.failure.observations import Observed, Seen, measure_named
from fitsim.failure.remedies import Remedy, Setting
from fitsim.failure.why_failed import WhyFailed, why_failed
from fitsim.quantities import show_force
from fitsim.report.failure_report import _each_once, _typed, explain_report

BOWL = """
name = "Alder bowl, invented"
[board]
wood = "cherry"
thickness = "18 mm"
across = "108 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "70 mm"
[use]
finish = "oil"
friction = "0.4"
press = "100 N"
[seen]
what = ["fell through"]
[measured]
kerf = "0.70 +- 0.06 mm"
"""

HEADING = "cause,words,chance,quantity,law,middle,spread,next_time,mark,source,cure\n"
FEW = ("tilt off", "kerf wide", "begun wrong", "wrong face", "nail missing", "friction low", "wood weak")
ROW = "planed twice,it was planed twice,0.2,thickness_mm,less,8,0.1,undone,estimated,mine,measure\n"


@pytest.fixture(autouse=True)
def few_presses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A third of the bowls pressed in earnest: the words and the order of the causes are looked at."""
    monkeypatch.setattr("fitsim.failure.bowl_emulator.SAMPLES", 16)


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A bowl file with what was seen and measured."""
    path = tmp_path / "alder.toml"
    path.write_text(BOWL, encoding="utf8")
    return path


@cache
def few_causes() -> str:
    """Some rows of the packaged table, weighed sooner than all of it."""
    rows = csv.reader(io.StringIO(resources.files("fitsim").joinpath("data/causes.csv").read_text("utf8")))
    told = io.StringIO()
    csv.writer(told).writerows(row for row in rows if row[0] in ("cause", *FEW))
    return told.getvalue()


@pytest.fixture
def few(tmp_path: Path) -> Path:
    """A file of those causes."""
    path = tmp_path / "few.csv"
    path.write_text(few_causes(), encoding="utf8")
    return path


def run(*words: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["explain", *map(str, words)])


@cache
def sprang_back() -> WhyFailed:
    """The answer for that bowl where it sprang back."""
    table = causes_of_bytes(few_causes().encode(), where="few.csv")
    return why_failed(make_bowl(tomllib.loads(BOWL)), Observed((Seen("sprang back"),)), table=table)


def test_one_object_with_chances_fits_and_the_next_measurement(bowl: Path) -> None:
    """The JSON has causes whose chances add up to one, a next measurement, and how far to trust it."""
    found = json.loads(run(bowl, "--json").stdout)
    assert sum(cause["chance"] for cause in found["causes"]) == pytest.approx(1.0)
    assert found["causes"][0]["chance"] == max(cause["chance"] for cause in found["causes"])
    assert {"cause", "chance", "best_fit", "remedy", "effective_sample_size", "reliable"} <= set(
        found["causes"][0]
    )
    assert found["next_measurement"]["key"] not in ("kerf", "drop")
    assert found["effective_sample_size"] > 50
    assert found["reliable"] is True
    assert found["contradictory"] is False


def test_the_file_and_the_options_add_up(bowl: Path, tmp_path: Path) -> None:
    """What is typed joins what stands in the file; a reading typed anew takes its place."""
    table = tmp_path / "one.csv"
    table.write_text(HEADING + ROW, encoding="utf8")
    words = (
        bowl,
        "--json",
        "--causes",
        table,
        "--seen",
        "split near the root",
        "--measured",
        "kerf=1.6 mm",
    )
    found = json.loads(run(*words).stdout)
    assert found["seen"] == ["fell through", "split, near the root"]
    assert [m["value"] for m in found["measured"]] == [1.6]


def test_the_report_and_the_picture(bowl: Path, few: Path, tmp_path: Path) -> None:
    """The report names the likeliest cause in plain words and what to measure; the picture is written."""
    picture = tmp_path / "why.svg"
    measured = ("--measured", "tilt=-5 deg", "--measured", "tilt_inner=-5 deg")
    told = run(bowl, *measured, "--causes", few, "--picture", picture)
    assert told.exit_code == 0
    # The line to type next has what was typed this time.
    typed = ("--seen", "fell through at turn 2", "--measured", "thickness=18 mm", "--causes", few)
    then = " ".join(run(bowl, *typed).stdout.split())
    again_typed = '--seen "fell through at turn 2" --measured "thickness=18 mm" --measured "tilt=... deg"'
    assert f"Then: fitsim explain {bowl} {again_typed}" in then
    assert "LIKELY: pressed from the wrong face" in told.stdout
    assert "ESTIMATES" in told.stdout
    text = picture.read_text(encoding="utf8")
    assert "wrong face" in text
    assert "tilt inner [deg]" in text
    again = run(bowl, "--picture", picture)
    assert again.exit_code == 2
    assert "--replace" in again.stderr


def test_a_bowl_that_held_has_nothing_to_mend(few: Path, tmp_path: Path) -> None:
    """Of a bowl that only held the answer is that nothing failed, in the report and the JSON alike."""
    path = tmp_path / "good.toml"
    path.write_text(BOWL.partition("[seen]")[0], encoding="utf8")
    told = run(path, "--causes", few, "--seen", "locks").stdout
    assert "Seen: held." in told
    assert "NOTHING FAILED: it opened and stays open" in told
    assert "LIKELY" not in told
    assert "for the next one" not in told
    words = ("--causes", few, "--seen", "held")
    found = json.loads(run(path, *words, "--measured", "rise=18 mm", "--json").stdout)
    assert all(cause["remedy"] is None for cause in found["causes"])
    assert "for the next one" in run(path, *words, "--seen", "rocks").stdout


def test_of_a_bowl_that_falls_the_press_is_told_at_which_it_falls(few: Path, tmp_path: Path) -> None:
    """Explain and fit tell one press of a bowl that falls through; explain one count of bowls pressed."""
    path = tmp_path / "falls.toml"
    path.write_text(BOWL.replace('tilt = "5 deg"', 'tilt = "2.2 deg"'), encoding="utf8")
    fitted = json.loads(CliRunner().invoke(main, ["fit", str(path), "--json"]).stdout)
    assert fitted["verdict"] == "falls through"
    fell_N = fitted["press_judged_N"]
    assert fell_N < 50  # there are 100 N
    told = run(path, "--causes", few)
    assert f"pressed with {show_force(fell_N, units='mm')} of the 100 N there is" in " ".join(
        told.stdout.split()
    )
    found = json.loads(run(path, "--causes", few, "--json").stdout)
    assert found["planned_press_N"] == pytest.approx(fell_N)
    counted = re.search(r"(\d+) of \1 bowls like yours pressed", told.stderr)
    said = re.search(r"by what (\d+) bowls like yours did", " ".join(told.stdout.split()))
    assert counted is not None
    assert said is not None
    assert said[1] == counted[1] == str(found["bowls_pressed"])


def test_no_likely_on_too_few_samples() -> None:
    """The word LIKELY is never said of a chance that carries the mark of too few samples."""
    answer = sprang_back()
    for chance, reliable, word in ((0.8, True, "LIKELY"), (0.8, False, "PERHAPS"), (0.5, False, "PERHAPS")):
        first = replace(answer.told[0].chance, chance=chance, reliable=reliable)
        told = (replace(answer.told[0], chance=first), *answer.told[1:])
        report = explain_report(replace(answer, told=told), units="mm")
        (line,) = (line for line in report.splitlines() if line.startswith(("LIKELY", "PERHAPS")))
        assert line.startswith(word)
        assert (f"{chance:.0%}".replace("%", " % ?") in " ".join(report.split()[:60])) is not reliable


def test_remedies_read_as_sentences() -> None:
    """Press, tilt and grip stand in one sentence with the height; a hopeless setting is not advised."""
    answer = sprang_back()
    planned = Setting(math.radians(5), 64.0, 1.0, 0.0, 0.603, 0.93, 1.0, "split")
    gentler = replace(planned, press_N=55.0, chance=0.712)
    cured = Setting(math.radians(6.5), 70.0, 1.2, 0.4, 0.861, 0.95, 0.77, "spring back")
    hopeless = replace(planned, scale_tilt_rad=math.radians(9), chance=0.31)
    remedy = Remedy(("use a stronger board",), planned, cured, hopeless, gentler)
    told = (replace(answer.told[0], remedy=remedy),)
    report = " ".join(explain_report(replace(answer, told=told), units="mm").split())
    assert (
        "Use a stronger board. That done, with the tilt as planned, and pressed no harder than it takes "
        "(mostly up to 64 N), 60 in 100 would lock. Pressed a little at a time, and let go as soon as it "
        "stays up (mostly by 55 N), 71 in 100 would lock. With the scale set to 6.5 deg (about 77 % of the "
        "planned height), a push of up to 120 N and bevels roughened or chalked until an off-cut on "
        "another slides only at 22 deg, 86 in 100 would lock. If it stays as it is, no tilt or press tried "
        "makes even half of them lock. No tilt, press or friction tried reaches 95 in 100; most of the "
        "rest spring back."
    ) in report


def test_what_is_all_but_certain_is_not_said_to_be_certain(bowl: Path, few: Path) -> None:
    """Both bevels of a cut begun wrong: it is named, and no chance is said to be 100 percent."""
    measured = ("--measured", "tilt=-5 deg", "--measured", "tilt_inner=5 deg")
    told = run(bowl, *measured, "--causes", few).stdout
    line = "LIKELY: the cut began on the wrong side of the blade and was put right part-way (over 99 %)."
    assert line in " ".join(told.split())
    assert "100 %" not in told
    assert "CONTRADICTORY" not in told
    assert "bevel reversed from the rim in to" in " ".join(told.split())


def test_drops_of_all_turns_are_asked_for_in_one_phrase() -> None:
    """The readings of a rule name every turn once; words to be looked for are left to the reader."""
    asked = ("drop_3", "rise", "drop_1", "drop_2")
    words = _each_once([measure_named(key) for key in asked])
    assert [part for part in words if "turns 1, 2 and 3" in part] == words[1:]
    assert words[0] == measure_named("rise").what
    assert _typed(measure_named("nail"), "mm").replace("\u00a0", " ") == "--measured nail=..."


def test_headline_and_advice_do_not_contradict() -> None:
    """Measure before you cut again is said where there is something to measure, and nowhere else."""
    answer = sprang_back()
    for chance in (0.3, 0.5):
        first = replace(answer.told[0].chance, chance=chance, reliable=True)
        told = (replace(answer.told[0], chance=first), *answer.told[1:])
        for readings in (answer.next_readings, ()):
            said = explain_report(replace(answer, told=told, next_readings=readings), units="mm")
            assert ("measure before you cut again" in " ".join(said.split())) == bool(readings)
            assert ("Nothing new to measure" in said) != bool(readings)


def test_none_of_these_is_no_cause_to_be_likely() -> None:
    """Where what nobody listed stands first nothing is said to be likely; the reader is told to look."""
    answer = sprang_back()
    first = replace(answer.told[0].chance, name=NONE_OF_THESE, chance=0.75, reliable=True)
    said = explain_report(replace(answer, told=(replace(answer.told[0], chance=first),)), units="mm")
    assert "LIKELY" not in said
    assert "NOT DECIDED: nothing in the list fits well" in said


def test_a_reading_that_leaves_the_order_lists_no_stretch() -> None:
    """One stretch from end to end says nothing: it is not listed, and the reader is told so."""
    answer = sprang_back()
    first = next(r for r in answer.next_readings if r.measure.unit)
    first = replace(first, bands=(replace(first.bands[0], low=None, high=None),))
    said = " ".join(explain_report(replace(answer, next_readings=(first,)), units="mm").split())
    assert "what is still open); no one reading points to another cause by itself. Then:" in said


def test_the_list_names_words_keys_and_causes() -> None:
    """Every word, key and cause that may be used is listed."""
    listed = run("--list").stdout
    for word in (
        "fell through",
        "beside the nail",
        "after months",
        "kerf_inner",
        "slip_angle",
        "sides changed",
    ):
        assert word in listed


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ([], "--list"),
        (["--measured", "kerf"], "a key and its value"),
        (["--measured", "kerf=-1 mm"], "negative"),
        (["--seen", "exploded"], "one of would not open"),
        (["--causes", "nowhere.csv"], "there is none of that name"),
    ],
)
def test_bad_input_is_one_line_and_status_2(words: list[str], match: str) -> None:
    """Nothing seen, words nobody knows and impossible values end in one line and exit status 2."""
    found = run(*words)
    assert found.exit_code == 2
    assert match in found.stderr
    assert len(found.stderr.splitlines()) == 1


def test_a_table_of_ones_own(bowl: Path, tmp_path: Path) -> None:
    """A cause added by a row of one's own table is weighed like the others; a wrong row is answered."""
    table = tmp_path / "mine.csv"
    table.write_text(HEADING + ROW, encoding="utf8")
    found = json.loads(run(bowl, "--json", "--measured", "thickness=9 mm", "--causes", table).stdout)
    assert found["causes"][0]["cause"] == "planed twice"
    table.write_text(HEADING + ROW.replace("thickness_mm", "thicknes"), encoding="utf8")
    wrong = run(bowl, "--causes", table)
    assert wrong.exit_code == 2
    assert "planed twice.quantity = 'thicknes'" in wrong.stderr


def test_other_commands_leave_what_was_seen_alone(bowl: Path) -> None:
    """A bowl file with [seen] and [measured] still fits as before."""
    told = CliRunner().invoke(main, ["fit", str(bowl), "--rigid", "--json"])
    assert told.exit_code == 0
    assert json.loads(told.stdout)["name"] == "Alder bowl, invented"
