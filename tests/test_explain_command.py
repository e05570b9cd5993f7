"""``fitsim explain`` from the command line: what it prints, and how it refuses."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fitsim.assume import make_bowl
from fitsim.cli import main
from fitsim.explainreport import explain_report
from fitsim.seen import Observed, Seen
from fitsim.tomlfile import tables_of_file
from fitsim.whyfailed import why_failed

BOWL = """
name = "Alder bowl, invented"
[board]
wood = "cherry"
thickness = "18 mm"
across = "130 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "70 mm"
[use]
finish = "oil"
press = "100 N"
[seen]
what = ["fell through"]
[measured]
kerf = "0.70 +- 0.06 mm"
"""

HEADING = "cause,words,chance,quantity,law,middle,spread,next_time,mark,source,cure\n"
ROW = "planed twice,it was planed twice,0.2,thickness_mm,less,8,0.1,undone,estimated,mine,measure\n"


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A bowl file with what was seen and measured."""
    path = tmp_path / "alder.toml"
    path.write_text(BOWL, encoding="utf8")
    return path


def run(*words: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["explain", *map(str, words)])


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


def test_the_report_and_the_picture(bowl: Path, tmp_path: Path) -> None:
    """The report names the likeliest cause in plain words and what to measure; the picture is written."""
    picture = tmp_path / "why.svg"
    told = run(bowl, "--measured", "tilt=-5 deg", "--measured", "tilt_inner=-5 deg", "--picture", picture)
    assert told.exit_code == 0
    assert "LIKELY: pressed from the wrong face" in told.stdout
    assert "ESTIMATES" in told.stdout
    text = picture.read_text(encoding="utf8")
    assert "wrong face" in text
    assert "tilt inner [deg]" in text
    again = run(bowl, "--picture", picture)
    assert again.exit_code == 2
    assert "--replace" in again.stderr


def test_a_bowl_that_held_has_nothing_to_mend(tmp_path: Path) -> None:
    """Of a bowl that only held the answer is that nothing failed, in the report and the JSON alike."""
    path = tmp_path / "good.toml"
    path.write_text(BOWL.partition("[seen]")[0], encoding="utf8")
    told = run(path, "--seen", "locks").stdout
    assert "Seen: held." in told
    assert "NOTHING FAILED: it opened and stays open" in told
    assert "LIKELY" not in told
    assert "for the next one" not in told
    found = json.loads(run(path, "--seen", "held", "--measured", "rise=18 mm", "--json").stdout)
    assert all(cause["remedy"] is None for cause in found["causes"])
    assert "for the next one" in run(path, "--seen", "held", "--seen", "rocks").stdout


def test_no_likely_on_too_few_samples(bowl: Path) -> None:
    """The word LIKELY is never said of a chance that carries the mark of too few samples."""
    answer = why_failed(make_bowl(tables_of_file(bowl)), Observed((Seen("sprang back"),)))
    for chance, reliable, word in ((0.8, True, "LIKELY"), (0.8, False, "PERHAPS"), (0.5, False, "PERHAPS")):
        first = replace(answer.told[0].chance, chance=chance, reliable=reliable)
        told = (replace(answer.told[0], chance=first), *answer.told[1:])
        report = explain_report(replace(answer, told=told), units="mm")
        (line,) = (line for line in report.splitlines() if line.startswith(("LIKELY", "PERHAPS")))
        assert line.startswith(word)
        assert (f"{chance:.0%}".replace("%", " % ?") in " ".join(report.split()[:60])) is not reliable


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
