"""The studies of tilts run, judged by hand formulas in place of presses, and print what they are asked."""

import math
import runpy
from pathlib import Path
from typing import Any

import pytest
from tilt_by_hand import judge_by_hand

STUDIES = Path(__file__).parent.parent / "studies"


def study(name: str) -> dict[str, Any]:
    """Names of one study, whose file name begins with a number."""
    return runpy.run_path(str(STUDIES / name), run_name="study")


def test_nineteen_mm_moves_one_end_at_a_time(capsys: pytest.CaptureFixture[str]) -> None:
    """More friction and more press raise the upper end, more kerf the lower one, and neither the other."""
    found = study("02_nineteen_mm.py")["main"](across="124 mm", judge=judge_by_hand())
    low, high = found["middle"]
    assert low == pytest.approx(math.degrees(math.asin(0.7 / 19.05 / 0.85)), abs=0.06)
    assert found["friction, low"][1] < high < found["friction, high"][1]
    assert found["press 100 to 350 N, low"][1] < high < found["press 100 to 350 N, high"][1]
    assert found["kerf 0.6 to 0.85 mm, low"][0] < low < found["kerf 0.6 to 0.85 mm, high"][0]
    assert found["kerf 0.6 to 0.85 mm, high"][1] == pytest.approx(high, abs=0.06)
    assert "common practice" in capsys.readouterr().out


def test_thin_board_prints_range_and_chance(capsys: pytest.CaptureFixture[str]) -> None:
    """A thin board's range lies inside asin(k/(T 0.85)) and atan(mu)."""
    names = study("01_thin_board.py")
    names["TABLES"]["use"] = {"finish": "none", "friction": "0.375", "press": "200 N"}
    (answer,) = names["main"]((8.0,), across="112 mm", judge=judge_by_hand())
    assert answer.span is not None
    assert answer.span.low.tilt_rad >= math.asin(0.7 / (8 * 0.85)) - 1e-7
    assert answer.span.high.tilt_rad <= math.atan(0.375) + 1e-7
    assert answer.span.holds(answer.best_tilt_rad)
    assert "standard error" in capsys.readouterr().out
