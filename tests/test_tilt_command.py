"""``fitsim tilt`` as a maker meets it."""

import json
import math
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from tilt_by_hand import NEEDED_N, judge_by_hand

from fitsim.cli import main
from fitsim.commands import tilt as tiltcommand

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
STEEPEST_DEG = math.degrees(math.atan(0.3 * (1 - 1.25 * NEEDED_N / 200)))
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


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command with hand formulas in place of presses."""
    monkeypatch.setattr(tiltcommand, "on_strip", lambda _pool, _each, **_: judge_by_hand())


@pytest.fixture
def no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    """No processes are started, which hand formulas leave idle."""
    monkeypatch.setattr(tiltcommand, "worker_pool", ThreadPoolExecutor)


FEW = ("--samples", "16", "--most-presses", "16")
"""Where no chance is looked at."""


@pytest.mark.usefixtures("quick")
def test_json_has_range_limits_best_tilt_and_chance(bowl: Path) -> None:
    """One object with the range in degrees, what limits each end, the best tilt, chances and errors."""
    result = run("tilt", bowl, "--json")
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert run("tilt", bowl, "--json").stdout == result.stdout
    assert told["tilt_low_deg"] == pytest.approx(math.degrees(math.asin(0.7 / (19 * 0.85))), abs=0.05)
    assert told["low_limit"] == "falls through"
    assert told["tilt_high_deg"] == pytest.approx(STEEPEST_DEG, abs=0.05)
    assert told["high_limit"] == "springs back"
    assert told["tilt_low_deg"] < told["best_tilt_deg"] < told["tilt_high_deg"]
    assert 0.9 < told["lock_chance"] <= 1
    assert 0 < told["lock_chance_se"] <= 0.03
    assert [end["tilt_deg"] for end in told["at_ends"]] == [told["tilt_low_deg"], told["tilt_high_deg"]]
    assert all(end["standard_errors"]["locks"] <= 0.03 for end in told["at_ends"])
    low, high = told["nine_in_ten_from_deg"], told["nine_in_ten_to_deg"]
    assert told["tilt_low_deg"] < low < told["best_tilt_deg"] < high < told["tilt_high_deg"]
    curve = np.array([(row["tilt_deg"], row["locks"]) for row in told["curve"]])
    assert np.interp([low, high], *curve.T) == pytest.approx(0.9, abs=0.002)
    said = " ".join(run("tilt", bowl).stdout.split())
    to_tenths = f"{math.ceil(10 * low) / 10:.1f} to {math.floor(10 * high) / 10:.1f} deg"
    assert f"At least 90 in 100 (give or take 3) lock from about {to_tenths}." in said
    assert told["samples_pressed"] >= 48
    assert told["bowls_pressed"] > told["samples_pressed"]
    assert told["changes"] == []
    # It locks where it is farthest from every limit: what is told there is a limit, not its state.
    assert told["tilt_low_deg"] < told["nearest_deg"] < told["tilt_high_deg"]
    assert told["nearest_limit"] in (told["low_limit"], told["high_limit"])
    assert "nearest_state" not in told
    assert sum(told["state_chances"].values()) == pytest.approx(1)
    assert {row["name"] for row in told["scatter"]} >= {"tilt set", "mean kerf", "stiffness", "press"}
    assert all(row["source"] for row in told["scatter"])


@pytest.mark.usefixtures("quick", "no_workers")
def test_seed_and_most_presses_are_what_was_typed(bowl: Path) -> None:
    """Another seed draws other samples, seed 0 those of none; more presses where errors are still wide."""

    def told(*options: str) -> dict[str, Any]:
        result = run("tilt", bowl, "--json", "--samples", "16", *options)
        assert result.exit_code == 0, result.stderr
        return dict(json.loads(result.stdout))

    few = told("--most-presses", "16")
    assert told("--most-presses", "16", "--seed", "0") == few
    other = told("--most-presses", "16", "--seed", "5")
    assert other["curve"] != few["curve"]
    assert other["tilt_low_deg"] == few["tilt_low_deg"]  # as planned nothing is drawn
    more = told("--most-presses", "40")
    # Batches of 16 and of 40 at each end: an error falls as one over the root of their number.
    assert few["samples_pressed"] < more["samples_pressed"] <= few["samples_pressed"] + 2 * (40 - 16)
    errors = [[end["standard_errors"]["locks"] for end in of["at_ends"]] for of in (few, more)]
    assert all(wide > 1.2 * narrow for wide, narrow in zip(*errors, strict=True))


@pytest.mark.usefixtures("quick", "no_workers")
def test_report_says_what_a_maker_needs(bowl: Path, tmp_path: Path) -> None:
    """The report has range, limits, best tilt, errors, what differs, cautions; the picture is drawn."""
    picture = tmp_path / "t.svg"
    result = run("tilt", bowl, *FEW, "--picture", picture)
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    for wanted in (
        "Medlar tray LOCKS from", "springs back", "falls through", "Best tilt:",
        "standard error",
        "At the ends of the range", "bowls pressed and let go", "ESTIMATE",
        "tilt set: give or take 0.3 deg",
        "kerf round each turn", "Unplug the saw",
    ):  # fmt: skip
        assert wanted in text
    assert not re.search("closed form|imperfect", text, re.IGNORECASE)
    drawn = picture.read_text("utf8")
    assert "Which tilt?" in drawn
    assert "own 5.0 deg" in drawn
    nine = "at least 90 in 100 lock: "
    for wanted in ("Medlar tray", "springs back", "share of bowls", "locks as planned: ", nine):
        assert wanted in drawn


@pytest.mark.usefixtures("quick", "no_workers")
def test_no_range_gives_nulls_and_changes(tmp_path: Path) -> None:
    """Where no tilt locks the ends are null and the changes say what would open a range."""
    path = tmp_path / "thin.toml"
    path.write_text(BOWL.replace("19 mm", "5 mm").replace("0.7 mm", "1.6 mm"), "utf8")
    result = run("tilt", path, *FEW, "--json")
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert [told[k] for k in ("tilt_low_deg", "tilt_high_deg", "low_limit", "high_limit")] == [None] * 4
    thicker = next(c for c in told["changes"] if c["key"] == "board.thickness")
    # The film is none: T = k/(0.85 sin(steepest)).
    assert thicker["after"] == pytest.approx(1.6 / 0.85 / math.sin(math.radians(STEEPEST_DEG)), rel=0.04)
    said = " ".join(run("tilt", path, *FEW).stdout.split())
    assert "NO TILT locks" in said
    assert "a thicker board" in said


@pytest.mark.usefixtures("quick", "no_workers")
def test_with_a_saw_the_tilt_is_the_scales(bowl: Path, tmp_path: Path) -> None:
    """With a saw file the range is told as scale readings: the upper end lies its offset lower."""
    cuts, saw = tmp_path / "cuts.toml", tmp_path / "saw.toml"
    cuts.write_text(SAW_CUTS, "utf8")
    learned = json.loads(run("testcut", cuts, "--json", "--keep", saw).stdout)
    result = run("tilt", bowl, *FEW, "--json", "--saw", saw)
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert not {"tilt set", "mean kerf"} & {row["name"] for row in told["scatter"]}
    assert {"scale error", "kerf"} <= {row["name"] for row in told["scatter"]}
    offset = next(float(a["value"].split()[0]) for a in told["assumptions"] if a["key"] == "cut.tilt")
    # At the middle offset, 5 deg of the scale are the printed true tilt: the rest follows.
    assert told["tilt_high_deg"] == pytest.approx(STEEPEST_DEG - (offset - 5), abs=0.056)
    assert learned


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.toml",), "nowhere.toml"),
        (("BOWL", "--picture", "x.doc"), "ending"),
        (("BOWL", "--samples", "3"), "samples"),
        (("BOWL", "--rigid"), "rigid"),
        (("BOWL", "--saw", "nosaw.toml"), "nosaw.toml"),
    ],
)
def test_bad_input_is_one_line_and_status_2(bowl: Path, words: tuple[str, ...], said: str) -> None:
    """What cannot be done is said on standard error with exit status 2, and nothing is printed."""
    result = run("tilt", *(bowl if w == "BOWL" else w for w in words))
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
