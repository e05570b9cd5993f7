"""The tilt as the page tells it, judged by the hand formulas: nothing is offered where nothing locks."""

import math
import re
from typing import Any

import pytest
from tilt_by_hand import bowl_of, judge_by_hand

from fitsim.bowl.inputs import Bowl
from fitsim.page import tilt as page_tilt
from fitsim.page.state import PageState
from fitsim.page.tilt import tilt_told_object
from fitsim.report.tilt_report import tilt_report
from fitsim.tilt.best_tilt import tilt_answer


class _NoPool:
    def shutdown(self, **_words: bool) -> None:
        """There is nothing to end."""


def told_of(bowl: Bowl, monkeypatch: pytest.MonkeyPatch) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Parts told before, and the answer, of a bowl judged by hand."""
    monkeypatch.setattr(page_tilt, "bowl_of", lambda _state: bowl)
    monkeypatch.setattr(page_tilt, "worker_pool", lambda _count: _NoPool())
    monkeypatch.setattr(page_tilt, "on_strip", lambda _pool, _each, **_: judge_by_hand())
    parts: list[Any] = []
    answer = tilt_told_object(PageState({}, {}, {"units": "in"}), parts.append)
    return [part for part in parts if isinstance(part, dict)], answer


def test_where_nothing_locks_the_picture_comes_before_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chances and picture are told first, then what opens a range; no tilt is offered to be set."""
    # Sinks 1.1 mm of 6 at less than friction's wedge angle, atan 0.18 = 10.2 deg: no tilt does both.
    (early,), answer = told_of(bowl_of(thickness="6 mm", kerf="1.1 mm", friction="0.18"), monkeypatch)
    for told in (early, answer):
        assert told["headline"].startswith("NO TILT locks")
        assert told["best_deg"] is None
        assert told["svg"].lstrip().startswith("<?xml")
        assert not any(line.startswith("Best tilt") for line in told["told"])
    assert "still being looked for" in early["told"][0]
    assert answer["told"][0].startswith(("What would open a range", "Nothing tried"))
    assert answer["told"][1:] == early["told"][1:] or len(answer["told"]) == len(early["told"])


def test_where_a_range_locks_its_best_tilt_is_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """No part is told before; the best tilt lies between asin(k/(T(1 - overlap))) and the wedge's angle."""
    parts, answer = told_of(bowl_of(), monkeypatch)
    assert parts == []
    low = math.degrees(math.asin(0.7 / (17 * 0.85)))
    assert low < answer["best_deg"] < math.degrees(math.atan(0.4))
    assert answer["told"][0].startswith("Best tilt:")
    # Each end is told as one number, in the range; what waits beyond it and how many lock there name it.
    found = r"\(found to within [0-9.]+ deg\)"
    ends = rf"Below that {found}: falls through; above {found}: springs back"
    assert re.match(rf"LOCKS from [0-9.]+ to [0-9.]+ deg .*{ends}", answer["headline"])
    assert any(
        re.search(r"at the low one [0-9]+ bowls .*at the high one [0-9]+ bowls", line)
        for line in answer["told"]
    )


def test_lists_say_lengths_in_inches_and_keep_their_sources(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kerf's scatter reads in inches on a page in inches; no key of the bowl file stands on it."""
    _parts, answer = told_of(bowl_of(), monkeypatch)
    lines = [line for _title, lines in answer["lists"] for line in lines]
    kerf = next(line for line in lines if line.startswith("mean kerf"))
    assert " in, " in kerf.split("ESTIMATE")[0]
    assert not any(word in line for line in lines for word in ("board.", "use.", "limits."))
    report = tilt_report(tilt_answer(bowl_of(), judge_by_hand()), units="in")
    # On the terminal too; what is said behind its mark is quoted.
    assert "  mean kerf: give or take 0.0012 in, ESTIMATE" in report  # 0.03 mm


def test_the_command_says_no_best_tilt_either() -> None:
    """Where no tilt locks the report names the least bad one, and how few lock even there, no best tilt."""
    answer = tilt_answer(bowl_of(thickness="6 mm", kerf="1.1 mm", friction="0.18"), judge_by_hand())
    report = " ".join(tilt_report(answer, units="mm").split())
    assert "NO TILT locks" in report
    assert "est tilt" not in report.split("How the same bowl")[0]
    assert re.search(
        r"Least bad tilt: [0-9.]+ deg\. Sawn .* as below, even there [0-9]+ bowls in 100 lock", report
    )
    assert "Most would lock" not in report
