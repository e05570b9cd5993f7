"""The order of several planned cuts, and the bound of one full turn: what follows from reasoning alone."""

import importlib
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import chain, combinations, pairwise
from typing import Any

import pytest

import fitsim
from fitsim.bowl.inputs import Bowl
from fitsim.plan.cut_of_wall import PlannedCut, expected, not_pressed
from fitsim.plan.geometric_cuts import FoundCut, cuts_found
from fitsim.plan.lock_order import unlike_cuts, with_qualities
from fitsim.plan.planned_bowls import Plan, PlannedBowl, WishMet
from fitsim.plan.planning import plan
from fitsim.plan.pressed_wall import pressed_wall
from fitsim.plan.wishes import read_wishes
from fitsim.plan.wishes_on_board import BoardWishes, wishes_on

TABLES: dict[str, dict[str, Any]] = {
    "board": {"wood": "cherry, black", "thickness": "19 mm", "across": "104 mm"},
    "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.4 mm", "base": "72 mm"},
    "use": {"friction": "0.4", "press": "120 N", "film": "0 mm"},
}
DROP_mm = 0.7 / math.sin(math.radians(5.5))


def made(**more: dict[str, Any]) -> Bowl:
    """A small bowl, quick to press, with some keys changed."""
    return fitsim.make_bowl({name: {**table, **more.get(name, {})} for name, table in TABLES.items()})


def planned(bowl: Bowl, **want: Any) -> Plan:
    """The plan, with more answers than one."""
    found = plan(bowl, read_wishes(want))
    assert found.met
    assert len(found.answers) > 1
    return found


@cache
def planned_over_frictions() -> tuple[PlannedBowl, ...]:
    """Answers where friction is known as a range."""
    return planned(made(use={"friction": "0.3 to 0.5"}), rise="14 mm", base="66 mm").answers


def test_the_likeliest_to_lock_comes_first() -> None:
    """Of cuts that bear well and hardly split, that which needs least friction of a range comes first.

    With friction anywhere from 0.3 to 0.5 the chance to hold falls evenly with the friction needed above
    0.3, whatever the cuts cost in sawing and splitting.
    """
    answers = planned_over_frictions()
    needed = [max(0.4 * a.pressed.judged.numbers.friction_used, 0.3) for a in answers]
    assert needed == sorted(needed)
    assert needed[-1] > 0.3
    for answer, least in zip(answers, needed, strict=True):
        assert answer.lock_chance == pytest.approx((0.5 - least) / 0.2, abs=0.005)
    # Splitting would not have put them so.
    splits = [a.pressed.judged.numbers.split_chance for a in answers]
    assert splits != sorted(splits)
    likeliest = max(answers, key=lambda answer: answer.lock_chance)
    assert "likeliest to lock" in likeliest.good_for
    assert round(likeliest.lock_chance, 2) == round(answers[0].lock_chance, 2)


def test_of_equals_the_one_that_splits_least_comes_first() -> None:
    """At one tilt and surely locking, the wider base bends its strip less and comes before less sawing."""
    answers = planned(made(), rise="13 mm", keep=["tilt"]).answers
    first, second = answers[:2]
    assert round(first.lock_chance, 2) >= round(second.lock_chance, 2)
    assert first.cut.base_radius_mm > second.cut.base_radius_mm
    assert first.pressed.judged.numbers.split_chance < second.pressed.judged.numbers.split_chance / 3
    assert first.pressed.got.time_min > second.pressed.got.time_min
    assert "least apt to split" in first.good_for
    least = min(answers, key=lambda answer: answer.pressed.got.time_min)
    assert least is not first
    assert "least sawing" in least.good_for


def test_of_equals_that_hardly_split_the_least_sawing_comes_first() -> None:
    """For one rise on one base, a flatter tilt sinks deeper and takes fewer turns: less to saw, so first.

    Their chances to lock are equal to a hundredth, their chances of splitting within one tenfold.
    """
    board, use = {"thickness": "9 mm", "wood": "oak, white"}, {"friction": "0.4"}
    answers = planned(made(board=board, use=use), rise="14 mm", base="66 mm").answers
    assert min(a.lock_chance for a in answers) > 0.995
    assert max(a.pressed.judged.numbers.split_chance for a in answers) < 1e-4
    for one, other in pairwise(answers):
        assert one.cut.tilt_rad < other.cut.tilt_rad
        assert one.pressed.got.turns < other.pressed.got.turns
        assert one.pressed.got.time_min < other.pressed.got.time_min
    assert "least sawing" in answers[0].good_for


def test_a_quality_is_named_only_where_the_table_tells_it_apart() -> None:
    """Chances of 99.6 and 99.9 % are both told as 100 %: neither is the likeliest to lock.

    Of splitting no more is said than the order goes by: what lies within one tenfold is equal.
    """
    one = planned_over_frictions()[0]

    def like(chance: float, split: float, minutes: float) -> PlannedBowl:
        judged = one.pressed.judged
        numbers = replace(judged.numbers, split_chance=split)
        got = replace(one.pressed.got, time_min=minutes)
        pressed = replace(one.pressed, judged=replace(judged, numbers=numbers), got=got)
        return replace(one, pressed=pressed, lock_chance=chance)

    equal = with_qualities([like(0.996, 1.8e-5, 24), like(0.999, 6.5e-6, 28)])
    assert [a.good_for for a in equal] == [("least sawing",), ()]
    apart = with_qualities([like(0.98, 1.8e-5, 26), like(0.97, 1e-6, 24)])
    assert [a.good_for for a in apart] == [("likeliest to lock",), ("least apt to split", "least sawing")]


@pytest.mark.parametrize("first", [[], ["rise"]])
def test_no_wish_buys_a_strip_of_less_than_a_turn(first: list[str]) -> None:
    """Asked for less rise than one turn gives, every cut keeps 1.7 turns, and the nearest is least in rise.

    Of 1.7 turns half a pitch is trimmed for the nail and half a slot lost, and the rim stands half a turn
    below the end: (1.2 - k_h/2p - 0.5) drops, least at the finest pitch, where the base is widest.
    """
    want = {"rise": "2 mm", "keep": ["tilt", "board"], "first": first}
    bowl = made()
    nearest = cuts_found(wishes_on(bowl, read_wishes(want)))[0]
    pitch = (52 - 0.8 * 52) / 1.7
    slot = 0.7 / math.cos(math.radians(5.5))
    least = 1.02 * DROP_mm * (1.7 - 0.5 - slot / (2 * pitch) - 0.5)
    assert nearest.cut.pitches_mm[0] == pytest.approx(pitch, rel=0.005)
    assert nearest.off == pytest.approx(least / 2 - 1, rel=0.01)
    found = plan(bowl, read_wishes(want))
    assert not found.met
    for answer in found.answers:
        assert answer.locks
        assert answer.pressed.got.turns == pytest.approx(1.7, abs=0.01)
    assert "a strip needs one full turn at least" in [r.told("mm") for r in found.in_the_way]


def test_before_any_press_the_less_twisted_cut_comes_first() -> None:
    """Of cuts alike in tilt and surely locking, a wider base is tried before a smaller that saws less.

    Opened, a turn is twisted by its drop over 2 pi r^2, and sheared by its width times that.
    """
    task = wishes_on(made(), read_wishes({"rise": "13 mm", "keep": ["tilt"]}))
    tilt = math.radians(5.5)
    wide, small = (
        FoundCut(PlannedCut(tilt, base / 2, (pitch,), 104.0, 19.0), None, 0.0, 0.0, ())
        for base, pitch in ((80.0, 3.6), (60.0, 9.0))
    )
    time = [expected(one.cut, task.fixed, not_pressed()).time_min for one in (wide, small)]
    assert time[0] > time[1]
    for given in ([wide, small], [small, wide]):
        assert unlike_cuts(task, given, 2) == [wide, small]


class MadeUpPressing:
    """In place of the press: whether each cut meets the wish and its chance, by round and place."""

    def __init__(self, rounds: Callable[[int, int], tuple[bool, float]]) -> None:
        self.rounds, self.asked = rounds, list[list[PlannedCut]]()
        wall = pressed_wall(made())
        assert not isinstance(wall, str)
        self.wall, self.count = wall, 0

    def __call__(self, *_: object) -> "MadeUpPressing":
        """Stand for the class as well."""
        return self

    def corrected(self, _task: BoardWishes, chosen: Sequence[FoundCut]) -> list[PlannedBowl]:
        """Nothing is pressed; every cut stays as it was found."""
        self.asked.append([one.cut for one in chosen])
        told = []
        for place, one in enumerate(chosen):
            meets, chance = self.rounds(len(self.asked), place)
            wish = WishMet("rise", 14.0, 14.0, 0.003 if meets else 0.03)
            told.append(PlannedBowl(one.cut, made(), self.wall, None, (wish,), chance, 1))
        return told


def apart(a: PlannedCut, b: PlannedCut) -> bool:
    """Whether two cuts differ as the manual has it: by 0.8 degrees, or 15 percent of pitch or base."""
    return (
        abs(math.degrees(a.tilt_rad - b.tilt_rad)) > 0.8
        or abs(math.log(a.pitches_mm[0] / b.pitches_mm[0])) > 0.15
        or abs(math.log(a.base_radius_mm / b.base_radius_mm)) > 0.15
    )


@pytest.mark.parametrize(
    ("rounds", "pressed", "chances"),
    [
        # One of the first four meets the wish, two of the next, three of the last.
        (lambda number, place: (number + place > 3, 1.09 - 0.1 * number), 3, [0.99, 0.89, 0.89, 0.79]),
        # All four lock as likely as can be: nothing more is pressed.
        (lambda _number, place: (True, 0.99 - 0.1 * place), 1, [0.99, 0.89, 0.79, 0.69]),
        # All four are unlikelier than others are thought: these are pressed, and the likeliest told.
        (
            lambda number, place: (True, 0.99 if (number, place) == (2, 1) else 0.3),
            2,
            [0.99, 0.3, 0.3, 0.3],
        ),
    ],
)
def test_cuts_are_pressed_until_four_meet_and_none_thought_likelier_is_left(
    monkeypatch: pytest.MonkeyPatch, rounds: Any, pressed: int, chances: list[float]
) -> None:
    """Every round presses cuts unlike all before, and of all that meet the likeliest are told."""
    made_up = MadeUpPressing(rounds)
    monkeypatch.setattr(importlib.import_module("fitsim.plan.planning"), "CutPresser", made_up)
    found = plan(made(use={"friction": "0.3 to 0.5"}), read_wishes({"rise": "14 mm"}))
    assert len(made_up.asked) == pressed
    assert [len(cuts) for cuts in made_up.asked] == [4] * pressed
    assert all(apart(a, b) for a, b in combinations(chain(*made_up.asked), 2))
    assert [answer.lock_chance for answer in found.answers] == pytest.approx(chances)
