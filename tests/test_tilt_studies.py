"""The studies of tilts run in small versions and say what their closed forms say."""

import math
import runpy
from pathlib import Path
from typing import Any

import pytest

STUDIES = Path(__file__).parent.parent / "studies"


def study(name: str) -> dict[str, Any]:
    """Names of one study, whose file name begins with a number."""
    return runpy.run_path(str(STUDIES / name), run_name="study")


def test_nineteen_mm_friction_moves_the_upper_end_and_kerf_the_lower(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The upper end is atan of the friction at each end of its range; more kerf raises the lower end."""
    found = study("02_nineteen_mm.py")["main"](across="124 mm", kerfs_mm=())
    assert found["friction"][1] == pytest.approx(math.degrees(math.atan(0.2)), abs=1e-5)
    assert found["friction"][3] == pytest.approx(math.degrees(math.atan(0.55)), abs=1e-5)
    kerf = found["kerf 0.6 to 0.85 mm"]
    assert kerf[0] < found["middle"][0] < kerf[2]
    assert kerf[1] == pytest.approx(kerf[3])
    assert "common practice" in capsys.readouterr().out


def test_thin_board_has_its_range_between_the_closed_forms_ends(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A thin board's range lies inside asin(k/(T 0.85)) and atan(mu)."""
    names = study("01_thin_board.py")
    names["TABLES"]["use"] = {"finish": "none", "friction": "0.3", "press": "60 N"}
    (answer,) = names["main"]((8.0,), across="112 mm", curve_samples=16, most_samples=256)
    assert answer.span is not None
    # Rounded down: without film the closed form's ends hold to 1e-6 deg.
    assert answer.span.low.tilt_rad >= math.asin(0.7 / (8 * 0.85)) - 1e-7
    assert answer.span.high.tilt_rad <= math.atan(0.3) + 1e-7
    assert answer.span.low.tilt_rad < answer.best_tilt_rad < answer.span.high.tilt_rad
    assert "standard error" in capsys.readouterr().out
