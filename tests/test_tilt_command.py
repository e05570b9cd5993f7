"""``fitsim tilt`` as a maker meets it."""

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fitsim import tiltreport
from fitsim.bowl import Bowl
from fitsim.cli import main
from fitsim.verdict import DecidingNumbers

BOWL = """
name = "Medlar tray"
[board]
wood = "cherry"
thickness = "19 mm"
across = "112 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "72 mm"
[use]
finish = "none"
friction = "0.3"
[limits]
split_chance = 0.9
"""
SAW_CUTS = """
name = "Saw"
[board]
thickness = "19 mm"
[[ring]]
tilt = "4 deg"
drop = "9.1 mm"
[[ring]]
tilt = "9 deg"
drop = "4.2 mm"
[[slot]]
width = "0.68 mm"
"""


def run(*words: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def bowl(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A good bowl file."""
    path = tmp_path_factory.mktemp("tilt") / "bowl.toml"
    path.write_text(BOWL, "utf8")
    return path


def written_out(seen: Bowl) -> DecidingNumbers:
    """The closed form of an even cut without film or splitting: a hundredth of the time."""
    tilt = seen.cut.tilt_rad[0]
    drop = max(seen.cut.kerf_mm) / math.sin(tilt) if tilt > 0 else math.inf
    overlap = 1 - drop / seen.board.thickness_mm
    return DecidingNumbers(1.0, overlap, math.tan(tilt) / seen.use.friction, 0.0)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command with the closed form written out here."""
    monkeypatch.setattr(tiltreport, "deciding_numbers", written_out)


@pytest.mark.usefixtures("quick")
def test_json_has_range_limits_best_tilt_and_chance(bowl: Path) -> None:
    """One object with the range in degrees, what limits each end, the best tilt, its chance and error."""
    result = run("tilt", bowl, "--rigid", "--json", "--samples", "256")
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    again = run("tilt", bowl, "--rigid", "--json", "--samples", "256")
    assert again.stdout == result.stdout
    assert told["tilt_low_deg"] == pytest.approx(math.degrees(math.asin(0.7 / (19 * 0.85))), abs=1e-5)
    assert told["low_limit"] == "falls through"
    assert told["tilt_high_deg"] == pytest.approx(math.degrees(math.atan(0.3)), abs=1e-5)
    assert told["high_limit"] == "springs back"
    assert told["tilt_low_deg"] < told["best_tilt_deg"] < told["tilt_high_deg"]
    assert 0.9 < told["lock_chance"] <= 1
    assert 0 < told["lock_chance_se"] < 0.05
    assert told["samples"] >= 256
    assert (told["elastic"], told["elastic_samples"], told["changes"]) == (False, 0, [])
    assert sum(told["state_chances"].values()) == pytest.approx(1)


def test_report_says_what_a_maker_needs(bowl: Path, tmp_path: Path) -> None:
    """The report has range, limits, best tilt, error, counts, estimates, cautions; the picture is drawn."""
    picture = tmp_path / "t.svg"
    result = run("tilt", bowl, "--rigid", "--samples", "256", "--picture", picture)
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    for wanted in (
        "Medlar tray CLOSED FORM ONLY", "LOCKS from", "16.70 deg", "springs back", "Best tilt:",
        "standard error", "imperfect bowls", "ESTIMATE", "scatter.kerf", "favourable end", "Unplug the saw",
    ):  # fmt: skip
        assert wanted in text
    drawn = picture.read_text("utf8")
    for wanted in ("Medlar tray", "springs back", "share of bowls", "16.7 deg"):
        assert wanted in drawn


@pytest.mark.usefixtures("quick")
def test_no_range_gives_nulls_and_changes(tmp_path: Path) -> None:
    """Where no tilt locks the ends are null and the changes say what would open a range."""
    path = tmp_path / "thin.toml"
    path.write_text(BOWL.replace("19 mm", "5 mm").replace("0.7 mm", "1.6 mm"), "utf8")
    result = run("tilt", path, "--rigid", "--json", "--samples", "256")
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert [told[k] for k in ("tilt_low_deg", "tilt_high_deg", "low_limit", "high_limit")] == [None] * 4
    thicker = next(c for c in told["changes"] if c["key"] == "board.thickness")
    # sin(atan(0.3)) = 0.2873; the film is none: T = k/(0.85 x 0.2873).
    assert thicker["after"] == pytest.approx(1.6 / 0.85 / math.sin(math.atan(0.3)), rel=0.01)


@pytest.mark.usefixtures("quick")
def test_with_a_saw_the_tilt_is_the_scales(bowl: Path, tmp_path: Path) -> None:
    """With a saw file the range is told as scale readings: the upper end lies its offset lower."""
    cuts, saw = tmp_path / "cuts.toml", tmp_path / "saw.toml"
    cuts.write_text(SAW_CUTS, "utf8")
    learned = json.loads(run("testcut", cuts, "--json", "--keep", saw).stdout)
    result = run("tilt", bowl, "--rigid", "--json", "--samples", "256", "--saw", saw)
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert told["scatter"]["tilt_deg"] == 0
    high_offset = next(float(a["high"].split()[0]) for a in told["assumptions"] if a["key"] == "cut.tilt")
    # At the greatest offset, 5 deg of the scale are the printed true tilt: the rest follows.
    assert told["tilt_high_deg"] == pytest.approx(
        math.degrees(math.atan(0.3)) - (high_offset - 5), abs=0.006
    )
    assert learned


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.toml",), "nowhere.toml"),
        (("BOWL", "--picture", "x.doc"), "ending"),
        (("BOWL", "--samples", "3"), "samples"),
        (("BOWL", "--saw", "nosaw.toml"), "nosaw.toml"),
    ],
)
def test_bad_input_is_one_line_and_status_2(bowl: Path, words: tuple[str, ...], said: str) -> None:
    """What cannot be done is said on standard error with exit status 2, and nothing is printed."""
    result = run("tilt", *(bowl if w == "BOWL" else w for w in words))
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
