"""The press a bowl is judged at: as hard as it takes and a spare, never all there is."""

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fitsim.bowl.hand_press import REACH_N, JudgedPress, judged_press, ordinary_hand
from fitsim.bowl.inputs import Limits
from fitsim.bowl.verdict import STATES, DecidingNumbers, judge
from fitsim.bowlfile.defaults import make_bowl
from fitsim.bowlfile.keys import READERS
from fitsim.errors import InputError

ORDINARY_N = 200.0


def test_judged_at_the_spare_times_the_press_the_worst_friction_needs() -> None:
    """Needs of 40, 64 and 50 N, spare 1.25: judged at 80 N, however much more there is."""
    for there in (80.0, 100.0, 4000.0):
        found = judged_press(
            {0.5: 40.0, 0.3: 64.0, 0.4: 50.0}, spare=1.25, available_N=there, ordinary_N=ORDINARY_N
        )
        assert found == JudgedPress(64.0, 80.0, 80.0, 80.0, 80.0 / there, 0.3)


def test_too_weak_a_hand_is_judged_at_what_there_is() -> None:
    """80 N asked and 70 there: judged at 70, and 8/7 of what there is asked for."""
    found = judged_press({0.4: 40.0, 0.3: 64.0}, spare=1.25, available_N=70.0, ordinary_N=ORDINARY_N)
    assert (found.press_N, found.sunk_at_N) == (70.0, 80.0)
    assert found.share == pytest.approx(8 / 7)


def test_a_friction_at_which_no_press_holds_does_not_ask() -> None:
    """It springs back there at any press; the press is asked by those at which the bowl can hold."""
    needs = {0.3: math.inf, 0.4: 40.0}
    found = judged_press(needs, spare=1.5, available_N=100.0, ordinary_N=ORDINARY_N)
    assert (found.needed_N, found.press_N, found.friction) == (40.0, 60.0, 0.4)
    needs = dict.fromkeys((0.3, 0.4), math.inf)
    none = judged_press(needs, spare=1.5, available_N=9000.0, ordinary_N=ORDINARY_N)
    assert math.isnan(none.friction)
    assert (none.share, none.press_N, none.sunk_at_N) == (math.inf, REACH_N, ORDINARY_N)


def stand_in(
    needs: tuple[float, ...], falls_N: float, splits_N: float
) -> Callable[[float, float], DecidingNumbers]:
    """A made-up bowl: overlap, chance and hold as smooth laws of the press, at each of its frictions."""

    def numbers(there_N: float, needed_N: float) -> DecidingNumbers:
        by_friction = {0.5 - 0.1 * i: need for i, need in enumerate(needs)}
        judged = judged_press(by_friction, spare=1.25, available_N=there_N, ordinary_N=ORDINARY_N)
        overlap = 1 - 0.85 * judged.sunk_at_N / falls_N
        if math.isinf(judged.asked_N) and falls_N < REACH_N:
            overlap = 0.0
        used = math.inf if math.isinf(needed_N) else math.sqrt(needed_N / judged.press_N)
        return DecidingNumbers(
            slot_left_mm=0.6,
            overlap=overlap,
            friction_used=used,
            split_chance=-math.expm1(-((judged.press_N / splits_N) ** 3)),
            kept=0.99 if used < 1 else 0.2,
            press_asked=judged.share,
        )

    return numbers


NEEDS = st.one_of(st.floats(2.0, 480.0), st.just(math.inf))


@given(
    st.tuples(NEEDS, NEEDS, NEEDS), st.floats(5.0, 2000.0), st.floats(20.0, 2000.0), st.floats(1.0, 900.0),
    st.floats(1.01, 6.0),
)  # fmt: skip
def test_a_stronger_maker_never_has_a_worse_bowl(
    needs: tuple[float, ...], falls_N: float, splits_N: float, there_N: float, stronger: float
) -> None:
    """At every friction the state is the same or a later one in the order of precedence."""
    numbers = stand_in(needs, falls_N, splits_N)
    for needed in needs:
        weak, strong = (judge(numbers(press, needed), Limits()) for press in (there_N, stronger * there_N))
        assert STATES.index(strong) >= STATES.index(weak)


@given(st.floats(5.0, 380.0), st.floats(1.0, 500.0))
def test_no_more_press_than_asked_changes_nothing(needed_N: float, more_N: float) -> None:
    """From the press asked on, every number but the share asked stays what it is."""
    assume(more_N > 0)
    numbers = stand_in((needed_N,), 900.0, 700.0)
    asked = 1.25 * needed_N
    first, second = numbers(asked, needed_N), numbers(asked + more_N, needed_N)
    assert (first.overlap, first.friction_used, first.split_chance) == (
        second.overlap, second.friction_used, second.split_chance,
    )  # fmt: skip


def test_a_press_left_out_is_an_ordinary_maker_s_and_shown_as_a_range() -> None:
    """The file without a press: an estimate with its source, and both ends reach the verdict."""
    tables = {
        "board": {"thickness": "18 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm"},
    }
    bowl, hand = make_bowl(tables), ordinary_hand()
    (told,) = (a for a in bowl.assumptions if a.key == "use.press")
    assert (told.mark, told.low, told.high) == ("estimated", f"{hand.low_N:g} N", f"{hand.high_N:g} N")
    (known,) = (u for u in bowl.uncertain if u.path == "use.press_N")
    assert known.low < bowl.use.press_N < known.high
    given_one = make_bowl(tables | {"use": {"press": "90 N"}})
    assert given_one.use.press_N == 90.0
    assert not [u for u in given_one.uncertain if u.path == "use.press_N"]


def test_every_limit_left_out_is_shown_as_assumed() -> None:
    """Each key of ``[limits]`` that the file lacks is told with its value; one that it has is not."""
    tables = {
        "board": {"thickness": "18 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm"},
    }
    told = {a.key: a.value for a in make_bowl(tables).assumptions if a.key.startswith("limits.")}
    assert set(told) == {f"limits.{key}" for key in READERS["limits"]}
    assert told["limits.slot_left"] == "0 mm"
    given = make_bowl({**tables, "limits": {"slot_left": "0.3 mm"}})
    assert "limits.slot_left" not in {a.key for a in given.assumptions}
    assert given.limits.slot_left_mm == 0.3


def test_the_spare_is_a_key_of_the_file() -> None:
    """``limits.press_spare`` is read, shown when left out, and refused below 1."""
    tables = {
        "board": {"thickness": "18 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm"},
    }
    assert "limits.press_spare" in [a.key for a in make_bowl(tables).assumptions]
    bowl = make_bowl(tables | {"limits": {"press_spare": "1.5"}})
    assert bowl.limits.press_spare == 1.5
    with pytest.raises(InputError, match=r"limits\.press_spare"):
        make_bowl(tables | {"limits": {"press_spare": "0.8"}})
