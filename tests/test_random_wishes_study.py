"""The study of random wishes: its cases, and what it calls met, denied and wrong."""

import importlib
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

STUDIES = Path(__file__).parents[1] / "studies"


@pytest.fixture
def study(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The study as a module."""
    monkeypatch.setattr(sys, "path", [str(STUDIES), *sys.path])
    return importlib.import_module("07_random_wishes")


def row(**changed: Any) -> dict[str, Any]:
    """A wish that is met: rise and base within a hundredth."""
    answer = {
        "meets": True,
        "other_board": False,
        "state": "locks",
        "pressed": {"rise": 0.012, "base": 0.0},
    }
    plain = {"case": 0, "tables": {"board": {}}, "want": {"rise": "50 mm"}, "known": False, "met": True}
    return {**plain, "in_the_way": [], "answers": [answer], **changed}


def answers(**changed: Any) -> list[dict[str, Any]]:
    """One answer, changed."""
    return [{**row()["answers"][0], **changed}]


@pytest.mark.parametrize(
    ("given", "came"),
    [
        (row(), "met"),
        (row(answers=answers(pressed={"rise": 0.021})), "wrong: called met"),
        (row(answers=answers(state="springs back")), "wrong: called met"),
        (row(answers=answers(pressed={})), "wrong: called met"),
        (row(met=False, answers=answers(meets=False, pressed={"rise": 0.2}), in_the_way=["x"]), "cannot"),
        (row(met=False, answers=answers(meets=False, pressed={"rise": 0.2})), "wrong: meets nothing"),
        (row(met=False, answers=answers(meets=False), in_the_way=["x"]), "wrong: denies what its own"),
        (row(met=False, answers=answers(other_board=True), in_the_way=["x"]), "cannot"),
        (row(met=False, answers=[], in_the_way=["x"], known=True), "wrong: denies a known bowl"),
        (row(refused="no strip could be followed"), "cannot"),
        (row(refused="no strip could be followed", known=True), "wrong: denies a known bowl"),
        (row(want={}, known=True), "nothing to ask"),
        (row(broke="Traceback\nValueError: 3"), "wrong: broke: ValueError: 3"),
    ],
)
def test_what_came_of_a_wish(study: ModuleType, given: dict[str, Any], came: str) -> None:
    """A plan is wrong where it calls met what is not, or denies what can be had, and never silent."""
    assert study.came_of(given).startswith(came)


def test_cases_are_the_same_whoever_draws_them(study: ModuleType) -> None:
    """A case hangs on its number alone; every fourth asks for a bowl that is there."""
    drawn = [study.case(n) for n in range(12)]
    assert drawn == [study.case(n) for n in reversed(range(12))][::-1]
    assert [n for n, (_, want) in enumerate(drawn) if not want] == [3, 7, 11]
    assert len({str(tables) for tables, _ in drawn}) == 12


def test_every_wrong_plan_is_told_with_its_wish(
    study: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    """The count of met, denied and wrong, and the wish of each wrong one."""
    rows = [row(), row(case=4, answers=answers(state="falls through"), want={"rise": "61.3 mm"})]
    rows.append(row(case=5, refused="no"))
    study.told([{**r, "seconds": 1.0, "presses": 3} for r in rows])
    said = capsys.readouterr().out
    assert "pressed anew on the strip: 1\n" in said
    assert "cannot be had, and why: 1\n" in said
    assert "wrong in either way: 1\n" in said
    assert 'wants {"rise": "61.3 mm"}' in said
