"""One bowl, one answer: every command says of a bowl what ``fit`` says of it.

A few small bowls here, through the commands that take seconds; ``python studies/06_one_answer.py`` asks
twelve ordinary bowls through all of them.
"""

from pathlib import Path
from typing import Any

import pytest
from one_answer import COMMANDS, Tables, asked

from fitsim import processes
from fitsim.failure import pressed_samples

BOWLS: dict[str, tuple[Tables, str]] = {
    "thin walnut": (
        {
            "board": {"wood": "black walnut", "thickness": "12 mm", "across": "76 mm", "moisture": "8 %"},
            "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "5 mm", "base": "56 mm"},
            "use": {"finish": "none", "friction": "0.4", "press": "150 N"},
        },
        "locks",
    ),
    "a weak hand": (
        {
            "board": {"wood": "cherry", "thickness": "13 mm", "across": "80 mm", "moisture": "8 %"},
            "cut": {"tilt": "7 deg", "kerf": "0.8 mm", "pitch": "6 mm", "base": "58 mm"},
            "use": {"finish": "none", "friction": "0.35 to 0.5", "press": "12 N"},
        },
        "springs back",
    ),
    "too little bears": (
        {
            "board": {"wood": "cherry", "thickness": "12.7 mm", "across": "79.4 mm", "moisture": "8 %"},
            "cut": {"tilt": "6 deg", "kerf": "0.9 mm", "pitch": "6.3 mm", "base": "57.2 mm"},
            "use": {"finish": "none", "friction": "0.39", "press": "175 N"},
        },
        "falls through",
    ),
    "a wide slot": (
        {
            "board": {"wood": "white oak", "thickness": "12 mm", "across": "75 mm", "moisture": "8 %"},
            "cut": {"tilt": "3 deg", "kerf": "0.9 mm", "pitch": "5 mm", "base": "56 mm"},
            "use": {"finish": "none", "friction": "0.4", "press": "150 N"},
        },
        "falls through",
    ),
}
"""Invented bowls of some two turns, each pressed in a part of a second, and their state."""

QUICK = ("sweep", "page", "sheet")


@pytest.mark.parametrize("name", BOWLS)
def test_quick_commands_say_what_fit_says(name: str, tmp_path: Path) -> None:
    """A row of a table, the page and the bench sheet have the state and the numbers of ``fit``."""
    tables, state = BOWLS[name]
    bowl = asked(name, tables, tmp_path)
    assert bowl.state == state
    said: dict[str, Any] = {command: COMMANDS[command](bowl) for command in QUICK}
    assert said == {command: [] for command in QUICK}


@pytest.fixture
def one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a machine with one processor does: a process begun costs more here than what it presses."""
    monkeypatch.setattr(processes, "worker_count", lambda: 1)
    monkeypatch.setattr(pressed_samples, "worker_count", lambda: 1)


@pytest.mark.usefixtures("one_process")
@pytest.mark.parametrize("name", ["thin walnut", "too little bears", "a wide slot"])
def test_a_year_in_still_air_says_what_fit_says(name: str, tmp_path: Path) -> None:
    """Pressed open and left open, in air that stays as it is, a bowl has the state and rise of ``fit``."""
    bowl = asked(name, BOWLS[name][0], tmp_path)
    assert bowl.state == BOWLS[name][1]
    assert COMMANDS["seasons"](bowl) == []


@pytest.mark.usefixtures("one_process")
def test_explain_plans_the_bowl_of_fit(tmp_path: Path) -> None:
    """With nothing wrong the bowl as planned has the rise and the press of ``fit``."""
    assert COMMANDS["explain"](asked("thin walnut", BOWLS["thin walnut"][0], tmp_path)) == []


def test_a_map_says_what_fit_says(tmp_path: Path) -> None:
    """The maker's own place on a map has the state and the numbers of ``fit``."""
    bowl = asked("thin walnut", BOWLS["thin walnut"][0], tmp_path)
    assert COMMANDS["map"](bowl) == []
