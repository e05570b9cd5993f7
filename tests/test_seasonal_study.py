"""The study of seasonal wobble runs, and says what common sense says."""

import runpy
from pathlib import Path

import pytest

STUDY = Path(__file__).parent.parent / "studies" / "03_seasonal_wobble.py"


def test_seasonal_wobble_of_two_places(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cold winters dry the rim by points in January or February; a mild coast swings less than half."""
    # The study looks at no move and no wash: of their hours one each is pressed.
    monkeypatch.setattr("fitsim.seasons.after_move.AFTER_H", (24.0,))
    study = runpy.run_path(str(STUDY), run_name="study")
    study["TABLES"]["use"].update(friction="0.4", press="200 N")  # one friction: a third of the presses
    found = study["main"](across="136 mm")
    cold, coast = found["cold town"], found["mild coast"]
    assert cold["driest_day"] < 60
    assert cold["rim_swing_points"] >= 3
    assert coast["rim_swing_points"] < cold["rim_swing_points"] / 2
    for place in (cold, coast):
        assert place["base_swing_points"] < place["rim_swing_points"]
        assert place["quarter_sawn_rock_mm"] < 0.1 * place["rock_mm"]
        assert place["paint_swing_share"] < 1
        assert place["least_rise_mm"] < place["greatest_rise_mm"] < 1.06 * place["least_rise_mm"]
        assert place["rise_within"] < 0.01
    assert coast["pull_MPa"] < cold["pull_MPa"]
    assert coast["saw_at_percent"] > cold["saw_at_percent"]
    assert "LOCKS ALL THE YEAR" in capsys.readouterr().out
