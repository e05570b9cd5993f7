"""The studies that measure the press, in small versions."""

import sys
from dataclasses import asdict
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "studies"))
import press_arrival
import press_speed


def test_a_random_bowl_is_drawn_from_its_number_alone() -> None:
    """The same number gives the same bowl, another number or seed another, and all keep to their ranges."""
    one, again = press_arrival.drawn(5), press_arrival.drawn(5)
    assert one[0] == again[0]
    assert one[1].cut.root_rad == again[1].cut.root_rad
    assert press_arrival.drawn(6)[0] != one[0] != press_arrival.drawn(5, seed=1)[0]
    for number in range(4):
        asked, bowl, nail = press_arrival.drawn(number)
        assert 3 <= asked["turns"] <= 30
        assert bowl.use.press_N == pytest.approx(asked["press_N"])
        assert bowl.board.thickness_mm == pytest.approx(asked["thickness_mm"])
        assert nail in ("flat", "none", "six")


def test_rows_of_arrival_go_on_where_they_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second run with the same file presses only what is new, and reads its rows back as they were."""
    rows = tmp_path / "rows.csv"
    for count in (1, 2):
        monkeypatch.setattr(
            sys, "argv", ["press_arrival.py", str(rows), "--count", str(count), "--first", "43"]
        )
        press_arrival.main()
    found = press_arrival.read_rows(rows)
    assert [row.number for row in found] == [43, 44]
    fresh = asdict(press_arrival.pressed(43, press_arrival.SEED, 24, False, False))
    kept = asdict(found[0])
    for name in ("end", "reached_N", "wood", "nail", "steps", "overlap_left_mm"):
        assert kept[name] == fresh[name]
    assert "2 bowls: " in capsys.readouterr().out


def test_exponents_are_those_of_a_power() -> None:
    """Seconds that grow as a power give that power, what was not found left out."""
    assert press_speed.exponent((3, 6, 9, 12), (9.0, 36.0, 81.0, float("nan"))) == pytest.approx(2.0)


def test_systems_are_counted() -> None:
    """A press solves some linear systems, a harder one more, and the count leaves the program as it was."""
    bowl, _wood = press_speed.strip_of(3, 18)
    before = press_speed.load_step.solved
    few, more = (press_speed.systems_of(lambda n=n: press_speed.press(bowl, n)) for n in (0.5, 60.0))
    assert 0 < few < more
    assert press_speed.load_step.solved is before
