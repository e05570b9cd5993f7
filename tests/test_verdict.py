"""The verdict: limits on, below and above, precedence, and both ends of every range."""

import itertools
import math
import re
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import Tables, ranged_bowls

from fitsim.bowl.closed_form import deciding_numbers, rigid_fit
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl, Limits, Uncertain, with_input
from fitsim.bowl.ranges import mattering, verdict_over_ranges
from fitsim.bowl.verdict import STATES, DecidingNumbers, Dependence, happens, judge, margins, room
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import NoConvergenceError
from fitsim.report.verdict_words import dependence_sentence, told_states, verdict_line
from fitsim.report.why import why
from fitsim.saw.deciding_test import most_telling_test, open_inputs, state_sentences

SAFE = DecidingNumbers(slot_left_mm=0.6, overlap=0.5, friction_used=0.4, split_chance=0.01)
LIMITS = Limits(slot_left_mm=0.05, overlap=0.2, friction_used=0.9, split_chance=0.125)
BAD = {"slot_left_mm": 0.01, "overlap": 0.1, "friction_used": 1.2, "split_chance": 0.5}
NAMES = tuple(field.name for field in fields(DecidingNumbers))[:4]
BETTER = {"slot_left_mm": 1, "overlap": 1, "friction_used": -1, "split_chance": -1}


def test_the_states_and_their_order() -> None:
    """Five words in the order in which one hides the next."""
    assert STATES == ("will not open", "falls through", "springs back", "split risk", "locks")


@pytest.mark.parametrize(
    ("name", "state", "on_the_limit"),
    [
        ("slot_left_mm", "will not open", "will not open"),  # it opens with more than the limit
        ("overlap", "falls through", "locks"),  # at least the limit is asked
        ("friction_used", "springs back", "locks"),  # at most the limit is asked
        ("split_chance", "split risk", "split risk"),  # below the limit is asked
    ],
)
def test_thresholds_on_below_and_above(name: str, state: str, on_the_limit: str) -> None:
    """A state begins exactly at its limit, on the side the limit's own words say."""
    limit, sign = getattr(LIMITS, name), BETTER[name]
    good = math.nextafter(limit, sign * math.inf)
    bad = math.nextafter(limit, -sign * math.inf)
    assert judge(SAFE, LIMITS) == "locks"
    assert judge(replace(SAFE, **{name: good}), LIMITS) == "locks"
    assert judge(replace(SAFE, **{name: limit}), LIMITS) == on_the_limit
    assert judge(replace(SAFE, **{name: bad}), LIMITS) == state
    assert judge(replace(SAFE, **{name: math.nan}), LIMITS) == state  # unknown is never safe


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_precedence(count: int) -> None:
    """Of several states that happen, the first in order is named: all 15 combinations."""
    for bad in itertools.combinations(range(4), count):
        numbers = replace(SAFE, **{NAMES[i]: BAD[NAMES[i]] for i in bad})
        assert judge(numbers, LIMITS) == STATES[min(bad)]


def test_every_state_has_its_margin_positive_on_the_safe_side() -> None:
    """Margins are distances to the limits; a bad number's is negative, the others' stay."""
    for name, state in zip(NAMES, STATES[:4], strict=True):
        found = margins(replace(SAFE, **{name: BAD[name]}), SAFE, SAFE, LIMITS)
        assert tuple(m.state for m in found) == STATES[:4]
        assert [m.state for m in found if m.margin < 0] == [state]
        own = found[STATES.index(state)]
        assert own.margin == pytest.approx(-abs(BAD[name] - getattr(LIMITS, name)))
        assert (own.value, own.worst) == (BAD[name], getattr(SAFE, name))


def corners(bowl: Bowl) -> list[DecidingNumbers]:
    """Deciding numbers at every one of the 2^k corners of the ranges."""
    found = []
    for ends in itertools.product(*((u.low, u.high) for u in bowl.uncertain)):
        changed = bowl
        for u, end in zip(bowl.uncertain, ends, strict=True):
            changed = with_input(changed, u.path, end)
        found.append(rigid_fit(changed).numbers)
    return found


@given(ranged_bowls())
def test_both_ends_against_all_corners(tables: Tables) -> None:
    """Slot, overlap and hold of few trials equal the extremes over all 2^k corners."""
    bowl = make_bowl(tables)
    geometric = replace(  # the wood's own ranges move the chance of splitting alone
        bowl,
        uncertain=tuple(u for u in bowl.uncertain if not u.path.startswith(("board.wood", "use.press"))),
    )
    verdict, every = fit(geometric, rigid=True).verdict, corners(geometric)
    assert len(every) == 8
    for name, margin in zip(NAMES[:3], verdict.margins, strict=True):
        ends = sorted(BETTER[name] * getattr(n, name) for n in every)
        assert BETTER[name] * margin.worst == pytest.approx(ends[0], rel=1e-9)
        assert BETTER[name] * margin.best == pytest.approx(ends[-1], rel=1e-9)
    assert verdict.state_in_middle == judge(rigid_fit(bowl).numbers, bowl.limits)
    assert bool(verdict.depends_on) == (verdict.state != verdict.state_at_best)


OAK: Tables = {
    "board": {"wood": "white oak", "thickness": "17.16 mm", "across": "103.714 mm", "moisture": "8 %"},
    "cut": {
        "tilt": "8.24 deg",
        "kerf": "0.58 mm to 0.78 mm",
        "pitch": "6.35 mm",
        "base": "50.374 mm",
    },
    "use": {"film": "0 mm to 0.05 mm", "friction": "0.38 to 0.58"},
}
ASH = OAK | {"board": OAK["board"] | {"wood": "white ash"}}


@pytest.mark.parametrize("tables", [OAK, ASH])
def test_states_against_all_corners(tables: Tables) -> None:
    """The states at both ends are the worst and the best over all 2^k corners."""
    bowl = make_bowl(tables)
    verdict, every = fit(bowl, rigid=True).verdict, corners(bowl)
    assert len(every) >= 16
    states = sorted(STATES.index(judge(n, bowl.limits)) for n in every)
    assert verdict.state == STATES[states[0]]
    assert verdict.state_at_best == STATES[states[-1]]


PLAIN = make_bowl(
    {
        "board": {"thickness": "18 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
        "use": {"finish": "none", "friction": "0.4"},
    }
)


def with_ranges(**ranges: tuple[float, float]) -> Bowl:
    """Return a bowl of which only friction, film and press are known as ranges (in that order)."""
    middle, uncertain = PLAIN, []
    for name, (low, high) in ranges.items():
        middle = with_input(middle, f"use.{name}", (low + high) / 2)
        uncertain.append(Uncertain(name, "", low, high, f"use.{name}"))
    return replace(middle, uncertain=tuple(uncertain), limits=LIMITS)


def made_up(bowl: Bowl) -> DecidingNumbers:
    """Deciding numbers of a made-up law: hold by friction, slot by film, press of no account."""
    return replace(SAFE, friction_used=0.36 / bowl.use.friction, slot_left_mm=0.6 - 2 * bowl.use.film_mm)


@pytest.mark.parametrize(
    ("ranges", "state", "at_best", "names"),
    [
        # hold 0.36/friction against 0.9: springs back up to a friction of 0.4
        ({"friction": (0.3, 0.5), "press_N": (50, 90)}, "springs back", "locks", ["friction"]),
        ({"friction": (0.45, 0.5), "press_N": (50, 90)}, "locks", "locks", []),
        ({"friction": (0.2, 0.3)}, "springs back", "springs back", []),
        # slot 0.6 - 2 film against 0.05: will not open from a film of 0.275 on
        ({"friction": (0.45, 0.6), "film_mm": (0.1, 0.3)}, "will not open", "locks", ["film_mm"]),
        ({"friction": (0.3, 0.5), "film_mm": (0.1, 0.3)}, "will not open", "locks", ["film_mm"]),
    ],
)
def test_what_the_verdict_depends_on(
    ranges: dict[str, tuple[float, float]], state: str, at_best: str, names: list[str]
) -> None:
    """Only the input whose range undoes the state is named, with the state at both its ends."""
    bowl = with_ranges(**ranges)
    verdict = verdict_over_ranges(bowl, made_up(bowl), made_up)
    assert (verdict.state, verdict.state_at_best) == (state, at_best)
    assert [d.name for d in verdict.depends_on] == names
    for d in verdict.depends_on:
        assert (d.low, d.high) == ranges[d.name]
        assert state in (d.state_at_low, d.state_at_high)
        assert d.state_at_low != d.state_at_high


def test_friction_is_lowered_at_two_ends_and_only_where_that_can_tell() -> None:
    """Of four ends that hold the two that ask most and least are asked, for the middle's kind of number.

    Where an end slips it is worse than all that hold: then only the least is asked.
    """
    asked = list[tuple[float, float]]()

    def estimated(bowl: Bowl) -> DecidingNumbers:
        used = 0.2 / bowl.use.friction + 0.3 * bowl.use.film_mm
        slips = bowl.use.friction < 0.2
        return replace(SAFE, friction_used=1.4 if slips else used, kept=0.2 if slips else 1.0)

    def lowered(bowl: Bowl) -> float:
        asked.append((bowl.use.friction, bowl.use.film_mm))
        return 0.23 / bowl.use.friction

    def told(friction: tuple[float, float]) -> tuple[float, float]:
        asked.clear()
        bowl = replace(with_ranges(friction=friction, film_mm=(0.1, 0.4)), limits=Limits())
        middle = replace(estimated(bowl), friction_used=lowered(bowl))
        asked.clear()
        found = verdict_over_ranges(bowl, middle, estimated, used_lowered=lowered)
        return found.worst.friction_used, found.best.friction_used

    assert told((0.3, 0.5)) == pytest.approx((0.23 / 0.3, 0.23 / 0.5))
    assert asked == [(0.3, 0.4), (0.5, 0.1)]
    assert told((0.1, 0.5)) == pytest.approx((1.4, 0.23 / 0.5))
    assert asked == [(0.5, 0.1)]


def test_inputs_that_undo_a_state_only_together_are_both_named() -> None:
    """Two weak inputs, neither of which is enough: both are what the verdict depends on."""

    def either(bowl: Bowl) -> DecidingNumbers:
        return replace(SAFE, friction_used=1.5 - bowl.use.friction - bowl.use.film_mm)

    bowl = with_ranges(friction=(0.1, 0.4), film_mm=(0.1, 0.4))
    verdict = verdict_over_ranges(bowl, either(bowl), either)
    assert (verdict.state, verdict.state_at_best) == ("springs back", "locks")
    assert [d.name for d in verdict.depends_on] == ["friction", "film_mm"]


@given(st.floats(0.2, 0.6), st.floats(0.0, 0.2))
def test_a_range_of_no_width_changes_nothing(friction: float, film_mm: float) -> None:
    """Low equal to high is a number: both verdicts are the one in the middle."""
    bowl = with_ranges(friction=(friction, friction), film_mm=(film_mm, film_mm))
    verdict = verdict_over_ranges(bowl, made_up(bowl), made_up)
    assert verdict.state == verdict.state_at_best == verdict.state_in_middle
    assert verdict.depends_on == ()


def test_the_value_at_which_friction_changes_the_state_is_the_least_that_keeps_the_bowl() -> None:
    """Friction used 0.36 over friction, limit 0.9: the state changes at a friction of 0.4."""
    bowl = with_ranges(friction=(0.3, 0.5))
    (found,) = verdict_over_ranges(bowl, made_up(bowl), made_up).depends_on
    assert (found.state_at_low, found.state_at_high) == ("springs back", "locks")
    assert found.flips_at == pytest.approx(0.4, rel=1e-9)


def needs_press(bowl: Bowl, there_N: float = 100.0) -> DecidingNumbers:
    """A made-up law of the press: 4/friction^2 newtons hold, by the friction that asks most."""
    known = [u.low for u in bowl.uncertain if u.path == "use.friction"]
    asked_N = 4 / min([bowl.use.friction, *known]) ** 2
    return replace(SAFE, press_asked=asked_N / there_N)


@pytest.mark.parametrize(("low", "high"), [(0.1, 0.5), (0.15, 0.24), (0.1, 0.24)])
def test_a_friction_found_greater_asks_for_less_press(low: float, high: float) -> None:
    """100 N there are, 4/friction^2 are asked: enough from a friction of 0.2 on, and that is told."""
    bowl = with_ranges(friction=(low, high))
    verdict = verdict_over_ranges(bowl, needs_press(bowl), needs_press)
    (found,) = verdict.depends_on
    assert (verdict.state, verdict.state_at_best, found.name) == ("springs back", "locks", "friction")
    assert (found.state_at_low, found.state_at_high) == ("springs back", "locks")
    assert found.flips_at == pytest.approx(0.2, rel=1e-9)
    assert verdict.state_in_middle == "springs back"  # judged at the press that 4/low^2 asks for
    assert verdict.worst.press_asked == pytest.approx(4 / low**2 / 100)


def test_an_end_of_the_friction_is_told_as_if_it_were_known() -> None:
    """What springs back at the common press falls through at its own: measuring it would tell that."""

    def sinks(bowl: Bowl) -> DecidingNumbers:
        known = not any(u.path == "use.friction" for u in bowl.uncertain)
        if bowl.use.friction > 0.25:
            return SAFE
        return replace(SAFE, overlap=0.1) if known else replace(SAFE, kept=0.4)

    bowl = with_ranges(friction=(0.1, 0.5))
    verdict = verdict_over_ranges(bowl, sinks(bowl), sinks)
    (found,) = verdict.depends_on
    assert (verdict.state, found.state_at_low) == ("falls through", "falls through")
    assert found.flips_at == pytest.approx(0.25, rel=0.08)


@pytest.mark.parametrize(("low", "high"), [(0.1, 0.5), (0.18, 0.7)])
def test_a_state_between_those_at_the_ends_of_the_friction_is_told(low: float, high: float) -> None:
    """Springs back up to a friction of 0.2, from there to 0.27 the press it needs may split it."""
    risk = LIMITS.split_chance

    def splits(bowl: Bowl) -> DecidingNumbers:
        mu = bowl.use.friction
        return replace(SAFE, kept=0.95 if mu > 0.2 else 0.3, split_chance=risk * (0.27 / mu) ** 8)

    bowl = with_ranges(friction=(low, high))
    (found,) = verdict_over_ranges(bowl, splits(bowl), splits).depends_on
    assert (found.state_at_low, found.state_between, found.state_at_high) == (
        "springs back", "split risk", "locks",
    )  # fmt: skip
    assert found.flips_at == pytest.approx(0.2, rel=0.06)
    assert 0.27 < found.until <= 1.06 * 0.27


@pytest.mark.parametrize(("low", "first", "then"), [(0.11, 0.2, 0.23), (0.16, 0.29, 0.33)])
def test_a_narrow_state_between_is_found_however_far_off_the_first_guess(
    low: float, first: float, then: float
) -> None:
    """Friction used of 0.5 at the middle foretells half of that or less; the state ends elsewhere."""

    def splits(bowl: Bowl) -> DecidingNumbers:
        mu = bowl.use.friction
        risk = 0.9 if mu < then else 0.01
        return replace(SAFE, kept=0.95 if mu > first else 0.3, friction_used=0.3, split_chance=risk)

    bowl = with_ranges(friction=(low, 0.6))
    (found,) = verdict_over_ranges(bowl, splits(bowl), splits).depends_on
    assert (found.state_at_low, found.state_between) == ("springs back", "split risk")
    assert found.flips_at == pytest.approx(first, rel=0.06)
    assert then <= found.until <= 1.06 * then


@pytest.mark.parametrize(("times", "may"), [(0.0, False), (0.3, True)])
def test_what_other_ranges_decide_too_is_told_as_what_may_be(times: float, may: bool) -> None:
    """Friction 0.3 keeps it at the worst film; at the film's middle less would do, if the film matters."""

    def filmed(bowl: Bowl) -> DecidingNumbers:
        least = 0.3 + times * (bowl.use.film_mm - 0.3)
        return replace(SAFE, friction_used=LIMITS.friction_used * least / bowl.use.friction)

    bowl = with_ranges(friction=(0.1, 0.6), film_mm=(0.1, 0.3))
    (found,) = verdict_over_ranges(bowl, filmed(bowl), filmed).depends_on
    assert (found.name, found.state_at_low, found.state_at_high) == ("friction", "springs back", "locks")
    assert found.flips_at == pytest.approx(0.3, rel=0.06)
    assert found.may_be == (("springs back",) if may else ())
    said = dependence_sentence((found,), units="mm")
    assert ("at 0.1 it may spring back" in said) is may
    assert "at 0.6 it locks" in said
    (one,) = open_inputs((found,))
    test = most_telling_test([one], moisture_percent=8.0)
    assert test is not None
    assert ("it may spring back; later: it locks." in test.sentence) is may


@pytest.mark.parametrize(("times", "may"), [(1.0, False), (0.1, True)])
def test_a_state_between_that_others_decide_too_may_be_and_need_not(times: float, may: bool) -> None:
    """From 0.2 to 0.27 it splits at the worst film; at the film's middle as well, or a tenth as often."""

    def splits(bowl: Bowl) -> DecidingNumbers:
        mu, film = bowl.use.friction, 1.0 if bowl.use.film_mm < 0.15 else times
        chance = min(film * LIMITS.split_chance * (0.27 / mu) ** 2, 1.0)
        return replace(SAFE, kept=0.95 if mu > 0.2 else 0.3, split_chance=chance)

    bowl = with_ranges(friction=(0.1, 0.5), film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, splits(bowl), splits)
    (found,) = [d for d in verdict.depends_on if d.name == "friction"]
    assert (found.state_at_low, found.state_between, found.state_at_high) == (
        "springs back", "split risk", "locks",
    )  # fmt: skip
    assert found.may_be == (("split risk",) if may else ())
    test = most_telling_test(open_inputs((found,)), moisture_percent=8.0)
    assert test is not None
    assert ("it may risk a split; later: it locks." in test.sentence) is may
    assert told_states(verdict) == "springs back, split risk, or locks"


@pytest.mark.parametrize(("times", "may"), [(1.0, False), (0.1, True)])
def test_the_better_of_two_bad_ends_may_be_and_need_not(times: float, may: bool) -> None:
    """A press of 200 N and less is too little, a harder one splits it: at the film's middle perhaps not."""

    def splits(bowl: Bowl) -> DecidingNumbers:
        film = 1.0 if bowl.use.film_mm > 0.25 else times
        asked = (200.0 + 20.0 * bowl.use.film_mm) / bowl.use.press_N
        return replace(SAFE, press_asked=asked, split_chance=film * 0.4 if asked < 1 else 0.0)

    bowl = with_ranges(press_N=(100.0, 300.0), film_mm=(0.1, 0.3))
    (found,) = [
        d for d in verdict_over_ranges(bowl, splits(bowl), splits).depends_on if d.name == "press_N"
    ]
    assert (found.state_at_low, found.state_at_high) == ("springs back", "split risk")
    assert found.may_be == (("split risk",) if may else ())
    said = dependence_sentence((found,), units="mm")
    assert said.endswith("it may risk a split." if may else "it risks a split.")


def test_how_far_a_turn_dropped_out_does_not_pick_what_decides() -> None:
    """A thick film falls through at every friction, the least friction at every film: both decide.

    The overlap of a bowl that fell through is that of its last equilibrium, here least where only film did.
    """

    def falls(bowl: Bowl) -> DecidingNumbers:
        slips, sinks = bowl.use.friction < 0.2, bowl.use.film_mm > 0.24
        return replace(SAFE, overlap=-0.03 if slips else -0.07 if sinks else 0.4)

    bowl = with_ranges(friction=(0.1, 0.5), film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, falls(bowl), falls)
    assert (verdict.state, verdict.state_at_best) == ("falls through", "locks")
    assert {d.name for d in verdict.depends_on} == {"friction", "film_mm"}
    assert dependence_sentence(verdict.depends_on, units="mm").endswith("film_mm together.")


@pytest.mark.parametrize("ends_at", [0.13, 0.21, 0.29])
def test_where_a_state_ends_is_tried_where_its_number_tells_nothing(ends_at: float) -> None:
    """Told is a film that was tried and locks, within a tenth of the range of one that does not."""
    tried = set[float]()

    def falls(bowl: Bowl) -> DecidingNumbers:
        tried.add(bowl.use.film_mm)
        return replace(SAFE, overlap=-0.07 if bowl.use.film_mm > ends_at else 0.4)

    bowl = with_ranges(film_mm=(0.1, 0.3))
    (found,) = verdict_over_ranges(bowl, falls(bowl), falls).depends_on
    assert found.flips_at in tried
    assert ends_at - 0.02 <= found.flips_at <= ends_at
    assert len(tried) <= 3 + 5
    assert 0.1 < found.flips_at < 0.3


@pytest.mark.parametrize("thin", [True, False])
def test_a_state_between_two_films_is_told(thin: bool) -> None:
    """From 0.16 to 0.24 mm it springs back; beyond, on the thick or on the thin side, it falls through."""

    def falls(bowl: Bowl) -> DecidingNumbers:
        film = bowl.use.film_mm if thin else 0.4 - bowl.use.film_mm
        return replace(SAFE, overlap=-0.07 if film > 0.24 else 0.4, kept=0.3 if film > 0.16 else 0.95)

    bowl = with_ranges(film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, falls(bowl), falls)
    (found,) = verdict.depends_on
    assert found.state_between == "springs back"
    assert told_states(verdict) == "falls through, springs back, or locks"
    # Both are told within a tenth of the range, on the side on which the bowl does no worse than told.
    if thin:
        assert 0.14 - 1e-9 <= found.flips_at <= 0.16
        assert 0.24 < found.until <= 0.26 + 1e-9
    else:
        assert 0.14 - 1e-9 <= found.flips_at < 0.16
        assert 0.24 <= found.until <= 0.26 + 1e-9


@pytest.mark.parametrize("ends_at", [0.13, 0.21, 0.29])
def test_a_value_tried_is_no_reason_to_doubt_what_is_certain(ends_at: float) -> None:
    """Friction plays no part: beyond the film it falls through for certain, however nearly it was found."""

    def falls(bowl: Bowl) -> DecidingNumbers:
        used = 0.3 / bowl.use.friction
        return replace(SAFE, overlap=-0.07 if bowl.use.film_mm > ends_at else 0.4, friction_used=used)

    bowl = with_ranges(friction=(0.4, 0.6), film_mm=(0.1, 0.3))
    (found,) = verdict_over_ranges(bowl, falls(bowl), falls).depends_on
    assert (found.name, found.state_at_high, found.may_be) == ("film_mm", "falls through", ())


def test_what_locks_between_two_bad_ends_is_told() -> None:
    """Up to a film of 0.14 mm it risks a split, from 0.25 on it falls through, between it locks."""

    def either(bowl: Bowl) -> DecidingNumbers:
        film = bowl.use.film_mm
        return replace(
            SAFE, overlap=-0.07 if film > 0.25 else 0.4, split_chance=0.4 if film < 0.14 else 0.01
        )

    bowl = with_ranges(film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, either(bowl), either)
    (found,) = verdict.depends_on
    assert (found.state_at_low, found.state_between, found.state_at_high, found.may_be) == (
        "split risk", "locks", "falls through", (),
    )  # fmt: skip
    assert found.flips_at < 0.14
    assert 0.25 < found.until <= 0.3


def test_what_only_the_middle_escapes_is_told_by_what_moves_it() -> None:
    """At every end it falls through, in the middle not: it surely locks nowhere; friction is no cause."""

    def falls(bowl: Bowl) -> DecidingNumbers:
        film = bowl.use.film_mm
        return replace(SAFE, overlap=0.4 if 0.15 < film < 0.25 else -0.1 * film)

    bowl = with_ranges(friction=(0.1, 0.5), film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, falls(bowl), falls)
    assert (verdict.state, verdict.state_in_middle) == ("falls through", "locks")
    assert [d.name for d in verdict.depends_on] == ["film_mm"]


def test_an_end_that_was_not_found_is_not_taken_to_lie_deepest() -> None:
    """At the thickest film and least friction no equilibrium is found: the other thick film tells."""

    def falls(bowl: Bowl) -> DecidingNumbers:
        if bowl.use.film_mm > 0.29 and bowl.use.friction < 0.2:
            raise NoConvergenceError("lost", 0.0)
        return replace(SAFE, overlap=-0.07 if bowl.use.film_mm > 0.24 else 0.4)

    bowl = with_ranges(friction=(0.1, 0.5), film_mm=(0.1, 0.3))
    verdict = verdict_over_ranges(bowl, falls(bowl), falls, may_miss=True)
    assert [d.name for d in verdict.depends_on] == ["film_mm"]


def test_the_worse_side_may_be_the_upper_one() -> None:
    """A film shuts the slot from 0.275 on, or, if the friction is least, from 0.22: it may, it need not."""

    def shuts(bowl: Bowl) -> DecidingNumbers:
        left = 0.6 - 2 * bowl.use.film_mm - 0.11 * (bowl.use.friction < 0.3)
        return replace(SAFE, slot_left_mm=left)

    bowl = with_ranges(friction=(0.25, 0.6), film_mm=(0.1, 0.25))
    (found,) = [d for d in verdict_over_ranges(bowl, shuts(bowl), shuts).depends_on if d.name == "film_mm"]
    assert (found.state_at_low, found.state_at_high, found.may_be) == (
        "locks", "will not open", ("will not open",),
    )  # fmt: skip
    assert state_sentences((found.state_at_low, found.state_at_high), may_be=found.may_be) == [
        "it locks",
        "it may not open",
    ]


def test_what_was_not_tried_closely_is_told_as_what_may_be() -> None:
    """Friction from nothing: tries leave a gap in which it may spring back; below it does, above not."""
    bowl, asked = with_ranges(friction=(0.0, 0.6)), []

    def counted(at: Bowl) -> DecidingNumbers:
        asked.append(at.use.friction)
        missed = 0.016 < at.use.friction < 0.018  # there no equilibrium is found
        if missed:
            raise NoConvergenceError("none", 1.0)
        return replace(SAFE, kept=0.95 if at.use.friction > 0.017 else 0.3, friction_used=0.02)

    (found,) = verdict_over_ranges(bowl, counted(bowl), counted).depends_on
    assert len(set(asked)) <= 3 + 8
    assert (found.state_at_low, found.state_between, found.state_at_high) == (
        "springs back", "springs back", "locks",
    )  # fmt: skip
    assert 0.012 <= found.flips_at < 0.017 < found.until
    assert {found.flips_at, found.until} <= {*asked, 0.02 * 0.6}
    test = most_telling_test(open_inputs((found,)), moisture_percent=8.0)
    assert test is not None
    assert re.search(
        r"degrees: it springs back; from there to [\d.]+ degrees: it may spring", test.sentence
    )


def test_a_state_that_comes_back_is_past_where_it_stays_away() -> None:
    """At a friction of 0.25 by itself it locks, a hair above it may split again: past 0.3 it locks."""

    def splits(bowl: Bowl) -> DecidingNumbers:
        mu = bowl.use.friction
        risky = 0.2 < mu < 0.3 and not 0.24 < mu < 0.255
        return replace(SAFE, kept=0.95 if mu > 0.2 else 0.3, split_chance=0.13 if risky else 0.08)

    bowl = with_ranges(friction=(0.15, 0.6))
    (found,) = verdict_over_ranges(bowl, splits(bowl), splits).depends_on
    assert (found.state_between, found.state_at_high) == ("split risk", "locks")
    assert 0.3 < found.until <= 1.06 * 0.3


def test_two_states_have_none_between() -> None:
    """Where it springs back or locks no third is told, and no more frictions are tried than tell."""
    bowl, asked = with_ranges(friction=(0.1, 0.5)), set[float]()

    def counted(at: Bowl) -> DecidingNumbers:
        asked.add(at.use.friction)
        return needs_press(at)

    (found,) = verdict_over_ranges(bowl, needs_press(bowl), counted).depends_on
    assert (found.state_between, math.isnan(found.until)) == ("", True)
    assert len(asked) <= 4


def test_a_bowl_judged_alike_at_every_friction_is_judged_once() -> None:
    """Where the common press serves at the greatest friction, no press of its own is asked for."""
    bowl, asked = with_ranges(friction=(0.25, 0.5)), []

    def counted(at: Bowl) -> DecidingNumbers:
        asked.append(at.uncertain)
        return needs_press(at)

    verdict = verdict_over_ranges(bowl, needs_press(bowl), counted)
    assert (verdict.state, verdict.depends_on) == ("locks", ())
    assert all(asked)
    assert len(asked) == 2


def test_the_film_at_which_the_slot_shuts() -> None:
    """Slot 0.6 - 2 film, limit 0.05: a straight line, met at a film of 0.275."""
    bowl = with_ranges(friction=(0.45, 0.6), film_mm=(0.1, 0.3))
    (found,) = verdict_over_ranges(bowl, made_up(bowl), made_up).depends_on
    assert found.flips_at == pytest.approx(0.275, rel=1e-9)


@pytest.mark.parametrize("power", [5.0, 8.0])
def test_the_strength_at_which_one_in_eight_splits(power: float) -> None:
    """A weakest link's chance, 1 - exp(-(s/f)^m): the limit p is met at f = s (-log(1 - p))^(-1/m)."""

    def splits(bowl: Bowl) -> DecidingNumbers:
        return replace(
            SAFE, split_chance=-math.expm1(-((3.0 / bowl.board.wood.tension_across_MPa.value) ** power))
        )

    bowl = replace(
        with_input(PLAIN, "board.wood.tension_across_MPa", 5.0),
        uncertain=(Uncertain("strength", "MPa", 3.5, 6.0, "board.wood.tension_across_MPa"),),
        limits=LIMITS,
    )
    (found,) = verdict_over_ranges(bowl, splits(bowl), splits).depends_on
    expected = 3.0 * (-math.log(1 - LIMITS.split_chance)) ** (-1 / power)
    assert found.flips_at == pytest.approx(expected, rel=1e-6)
    assert (found.state_at_low, found.state_at_high) == ("split risk", "locks")


@pytest.mark.parametrize(
    ("change", "state"),
    [({"kept": 0.89}, "springs back"), ({"kept": 0.9}, "locks"), ({"kept": math.nan}, "springs back"),
     ({"press_asked": 1.0}, "locks"), ({"press_asked": 1.01}, "springs back"),
     ({"press_asked": math.inf, "split_chance": 0.9}, "springs back"),
     ({"press_asked": 1.3, "overlap": 0.1}, "falls through")],
)  # fmt: skip
def test_springing_back_by_what_is_left_and_by_the_press(change: dict[str, float], state: str) -> None:
    """Less than nine tenths of the rise left, or more press asked than there is: it springs back."""
    assert judge(replace(SAFE, **change), LIMITS) == state


@given(
    st.tuples(*(st.sampled_from(ends) for ends in (
        (0.01, 0.05, 0.6), (0.1, 0.2, 0.5), (0.4, 0.9, 1.2), (0.01, 0.125, 0.5), (0.5, 0.9, 0.97),
        (0.0, 0.8, 1.0, 1.3),
    )))
)  # fmt: skip
def test_room_has_the_sign_of_every_state(values: tuple[float, ...]) -> None:
    """A state that happens has no room left; one that does not has some, or none exactly on the limit."""
    numbers = DecidingNumbers(*values)
    for state, left in zip(STATES[:4], room(numbers, LIMITS), strict=True):
        assert left <= 0 if happens(state, numbers, LIMITS) else left >= 0


def test_a_corner_without_an_equilibrium_is_left_out_and_counted() -> None:
    """Where the strip finds none at one end the others still judge, if that is allowed."""

    def lost(bowl: Bowl) -> DecidingNumbers:
        if bowl.use.friction == 0.3:
            raise NoConvergenceError("no equilibrium")
        return made_up(bowl)

    bowl = with_ranges(friction=(0.3, 0.5))
    found = verdict_over_ranges(bowl, made_up(bowl), lost, may_miss=True)
    assert (found.state, found.ends_missing) == ("springs back" if 0.36 / 0.4 >= 0.9 else "locks", 1)
    with pytest.raises(NoConvergenceError):
        verdict_over_ranges(bowl, made_up(bowl), lost)


def test_ranges_that_move_no_seat_do_not_reach_the_strip() -> None:
    """An oil's film of 5 micrometres and rolling shear stiffness stay at their middle; friction never."""
    tables = {
        "board": {"wood": "cherry", "thickness": "18 mm", "across": "150 mm"},
        "cut": {"tilt": "6 deg", "kerf": "0.65 to 0.75 mm", "pitch": "6.5 mm", "base": "56 mm"},
    }
    names = [u.name for u in mattering(make_bowl(tables | {"use": {"finish": "oil"}}), deciding_numbers)]
    assert names == ["kerf", "friction", "press"]
    varnished = make_bowl(tables | {"use": {"finish": "varnish", "press": "90 N"}})
    assert [u.name for u in mattering(varnished, deciding_numbers)] == ["kerf", "film", "friction"]
    maple = make_bowl({**tables, "board": tables["board"] | {"wood": "maple, sugar"}})
    assert "strength across the grain" in [u.name for u in mattering(maple, deciding_numbers)]


def test_the_verdict_names_a_third_state_in_the_middle() -> None:
    """Springs back at worst, a split risk in the middle, locks at best: all three are said."""
    answer = fit(with_ranges(friction=(0.2, 0.5)), rigid=True)
    three = replace(
        answer.verdict,
        state="springs back",
        state_in_middle="split risk",
        state_at_best="locks",
        depends_on=(Dependence("friction", "", 0.2, 0.5, "springs back", "locks"),),
    )
    said = verdict_line(replace(answer, verdict=three))
    by_hand = "BY THE HAND FORMULA ALONE: "
    assert said == f"{by_hand}SPRINGS BACK, SPLIT RISK, or LOCKS: it depends on friction"
    two = replace(three, state_in_middle="locks")
    said = verdict_line(replace(answer, verdict=two))
    assert said == f"{by_hand}SPRINGS BACK, or LOCKS: it depends on friction"
    press = Dependence("press", "N", 140.0, 350.0, "springs back", "split risk")
    both = replace(two, depends_on=(*two.depends_on, press))
    said = verdict_line(replace(answer, verdict=both))
    assert said == f"{by_hand}SPRINGS BACK, SPLIT RISK, or LOCKS: it depends on friction and press"


@pytest.mark.parametrize(
    ("value", "said"), [(0.149, "14.9%"), (0.1, "10%"), (0.1499996, "a hair under 15%")]
)
def test_a_share_just_below_its_limit_is_told_from_it(value: float, said: str) -> None:
    """Less than asked for must read so: never the same number twice."""
    answer = fit(with_ranges(friction=(0.3, 0.5)), rigid=True)
    worst = replace(SAFE, overlap=value)
    limits = replace(answer.bowl.limits, overlap=0.15)
    falls = replace(answer.verdict, state="falls through", worst=worst)
    sentence = why(replace(answer, verdict=falls, bowl=replace(answer.bowl, limits=limits)), units="mm")
    assert f"{said} of the thickness is left to bear, less than the 15" in sentence
