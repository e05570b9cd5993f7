"""The tilts at which a bowl locks: ends by hand formulas, what opens a range, the best tilt, the strip."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tilt_by_hand import NEEDED_N, bowl_of, by_hand, judge_by_hand, one_by_one

import fitsim
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl, Uncertain, with_input
from fitsim.bowl.judgement import judge_bowl
from fitsim.bowl.verdict import DecidingNumbers, judge
from fitsim.geometry.board_outline import Outline
from fitsim.report.tilt_report import tilt_object, tilt_report
from fitsim.tilt.best_tilt import TiltAnswer, TiltCurve, tilt_answer
from fitsim.tilt.lock_chance import on_strip, state_shares
from fitsim.tilt.tilt_range import END_TOLERANCE_RAD, THE_CUT, greatest_tilt_rad, scan_tilts_rad, tilt_spans
from fitsim.tilt.widening import CHANGES, changes_that_open
from fitsim.tolerances.samples import scattered, unit_cube


def steepest(bowl: Bowl) -> float:
    """Tilt at which the hand formula asks for all the press there is. [rad]"""
    return math.atan(bowl.use.friction * (1 - 1.25 * NEEDED_N / bowl.use.press_N))


@pytest.mark.parametrize(
    ("thickness", "kerf", "friction", "overlap"),
    [(17, 0.7, 0.4, 0.15), (9.5, 0.55, 0.31, 0.22), (31, 1.25, 0.18, 0.05)],
)
def test_ends_are_those_of_the_hand_formulas(
    thickness: float, kerf: float, friction: float, overlap: float
) -> None:
    """It locks from asin(k/(T(1 - least overlap))) to where the wedge asks for all the press there is."""
    given = bowl_of(
        thickness=f"{thickness} mm", kerf=f"{kerf} mm", friction=f"{friction}", least_overlap=overlap
    )
    (span,) = tilt_spans(given, judge_by_hand()).spans
    low, high = math.asin(kerf / (thickness * (1 - overlap))), steepest(given)
    # The end given is a tilt pressed that locks: never beyond the true one.
    assert low <= span.low.tilt_rad <= low + END_TOLERANCE_RAD
    assert high - END_TOLERANCE_RAD <= span.high.tilt_rad <= high
    assert (span.low.limit, span.high.limit) == ("falls through", "springs back")
    assert max(span.low.tolerance_rad, span.high.tolerance_rad) <= END_TOLERANCE_RAD


@pytest.mark.parametrize(
    ("thickness", "kerf", "friction", "press"),
    [(17, 0.7, 0.4, 200), (9.5, 0.55, 0.31, 200), (17, 0.7, 0.4, 90), (23, 0.8, 0.36, 400)],
)
def test_an_end_that_the_press_decides_moves_as_the_press_is_known(
    thickness: float, kerf: float, friction: float, press: float
) -> None:
    """Ten percent more or less press needed: atan(mu (1 - 1.25 N/F)) moves about as far as is told.

    What is told follows from chords between tilts that were pressed anyhow, so to a tenth of it.
    """
    given = bowl_of(
        thickness=f"{thickness} mm", kerf=f"{kerf} mm", friction=f"{friction}", press=f"{press} N"
    )

    def end(times: float) -> float:
        return math.atan(friction * (1 - 1.25 * NEEDED_N * times / press))

    (span,) = tilt_spans(given, judge_by_hand()).spans
    half = (end(1 / 1.1) - end(1.1)) / 2
    assert span.high.press_moves_rad == pytest.approx(half, rel=0.1)
    assert span.low.press_moves_rad == 0
    answer = tilt_answer(given, judge_by_hand())
    assert answer.span is not None
    told = math.degrees(answer.span.high.press_moves_rad)
    said = tilt_report(answer, units="mm", width=400)
    assert f"springs back, give or take {told:.2g} deg, as the press needed is known to 10%." in said
    assert tilt_object(answer)["high_press_moves_deg"] == pytest.approx(told)


def test_an_end_at_which_no_press_holds_is_as_close_as_it_was_found() -> None:
    """Friction decides, at a press of which there is plenty: nothing there moves with the press needed."""

    def numbers(seen: Bowl) -> DecidingNumbers:
        tilt = seen.cut.tilt_rad[0]
        asked = 0.2 + 4 * tilt if tilt < math.radians(8.2) else math.inf
        return replace(by_hand(seen), press_asked=asked, kept=float(asked < 1))

    (span,) = tilt_spans(bowl_of(), one_by_one(numbers)).spans
    assert span.high.limit == "springs back"
    assert span.high.press_moves_rad == 0


def test_every_island_is_found_and_the_widest_comes_first() -> None:
    """Splitting between two tilts leaves two islands; both are named, the wider one first."""

    def numbers(seen: Bowl) -> DecidingNumbers:
        deg = math.degrees(seen.cut.tilt_rad[0])
        return replace(by_hand(seen), split_chance=1.0 if 6.3 < deg < 9.1 else 0.02)

    given = bowl_of()
    given = replace(given, limits=replace(given.limits, split_chance=0.5))
    spans = tilt_spans(given, one_by_one(numbers)).spans
    ends = [[math.degrees(e.tilt_rad) for e in (s.low, s.high)] for s in spans]
    assert ends[0] == pytest.approx([9.1, math.degrees(steepest(given))], abs=0.06)
    assert ends[1] == pytest.approx([math.degrees(math.asin(0.7 / 17 / 0.85)), 6.3], abs=0.06)
    assert spans[1].high.limit == "split risk"


def test_an_island_between_two_tilts_of_the_scan_is_found() -> None:
    """A narrow range that no tilt of the scan meets is found beside the one nearest to locking."""
    given = bowl_of(kerf="1.1 mm", thickness="9 mm", friction="0.235")
    low, high = math.asin(1.1 / 9 / 0.85), steepest(given)
    assert 0 < high - low < math.radians(2.2)
    scan = scan_tilts_rad(given)
    narrow = replace(given, use=replace(given.use, press_N=77.0))
    high = steepest(narrow)
    if any(low < tilt < high for tilt in scan):
        narrow = replace(narrow, use=replace(narrow.use, press_N=76.0))
    found = tilt_spans(narrow, judge_by_hand())
    assert (steepest(narrow) > low) == bool(found.spans)


def test_tilts_at_which_nothing_can_change_are_not_pressed() -> None:
    """Steeper than one that springs back or flatter than one that falls through few are: the ends stay."""
    asked: list[float] = []

    def numbers(seen: Bowl) -> DecidingNumbers:
        deg = math.degrees(seen.cut.tilt_rad[0])
        asked.append(seen.cut.tilt_rad[0])
        return DecidingNumbers(0.5, 0.5 if deg > 3.1 else 0.0, 0.5 if deg < 6.2 else 2.0, 0.02)

    given = bowl_of(friction="0.6")
    (span,) = tilt_spans(given, one_by_one(numbers)).spans
    assert math.degrees(span.low.tilt_rad) == pytest.approx(3.1, abs=0.06)
    assert math.degrees(span.high.tilt_rad) == pytest.approx(6.2, abs=0.06)
    left_out = set(scan_tilts_rad(given)) - set(asked)
    assert max(left_out) > math.radians(20)
    assert min(left_out) < math.radians(2.5)
    assert len(left_out) >= 4


def test_no_range_is_an_answer() -> None:
    """Where no tilt locks there is no span; the nearest tilt is the one least beyond a limit."""
    given = bowl_of(thickness="6 mm", kerf="1.1 mm", friction="0.18")
    found = tilt_spans(given, judge_by_hand())
    assert found.spans == ()
    assert found.nearest_state in ("falls through", "springs back")
    assert math.radians(7) < found.nearest_rad < math.radians(13)


def test_scan_stops_where_the_base_comes_to_a_point() -> None:
    """On a thick board with a small base no tilt is tried that leaves no foot."""
    given = bowl_of(thickness="90 mm", friction="1.2")
    assert math.tan(greatest_tilt_rad(given)) == pytest.approx((32 - 2) / 90)
    # A base that is not round comes to a point at its sharpest bend first.
    cornered = replace(given, cut=replace(given.cut, base_corner_mm=14.0))
    assert math.tan(greatest_tilt_rad(cornered)) == pytest.approx((14 - 2) / 90)


def test_one_end_without_a_state_is_the_cut() -> None:
    """A range that reaches the end of the scan is limited by the cut itself."""
    (span,) = tilt_spans(bowl_of(), one_by_one(lambda _: DecidingNumbers(0.5, 0.5, 0.5, 0.0))).spans
    assert (span.low.limit, span.high.limit) == (THE_CUT, THE_CUT)


def shut(**changes: str) -> Bowl:
    """Thin board, wide kerf, little friction: no tilt locks by the hand formulas."""
    return bowl_of(**{"thickness": "6 mm", "kerf": "1.1 mm", "friction": "0.18", **changes})


@pytest.mark.parametrize("what", ["a thicker board", "a finer kerf", "more friction"])
def test_least_changes_are_those_of_the_hand_formulas(what: str) -> None:
    """Where the two ends meet is the least change of T, k and mu; the one given does open a range."""
    given = shut()
    nearest = tilt_spans(given, judge_by_hand()).nearest_rad
    changes = {c.what: c for c in changes_that_open(given, judge_by_hand(), nearest_rad=nearest)}
    steep, room = math.sin(steepest(given)), 1 - 1.25 * NEEDED_N / given.use.press_N
    expected = {
        "a thicker board": 1.1 / 0.85 / steep,
        "a finer kerf": 6 * 0.85 * steep,
        "more friction": math.tan(math.asin(1.1 / (6 * 0.85))) / room,
    }[what]
    after = changes[what].after
    assert isinstance(after, float)
    assert after == pytest.approx(expected, rel=0.06)
    path = {
        "a thicker board": "board.thickness_mm",
        "a finer kerf": "cut.kerf_mm",
        "more friction": "use.friction",
    }[what]
    opened = with_input(given, path, after)
    states = {
        judge(by_hand(with_input(opened, "cut.tilt_rad", math.radians(i / 50))), opened.limits)
        for i in range(50, 900)
    }
    assert "locks" in states


def test_a_harder_press_is_named_where_the_press_is_short() -> None:
    """A bowl that only lacks press is told how hard it has to be pressed."""
    given = bowl_of(press="45 N")
    nearest = tilt_spans(given, judge_by_hand()).nearest_rad
    (change,) = [
        c for c in changes_that_open(given, judge_by_hand(), nearest_rad=nearest) if c.key == "use.press"
    ]
    # At the lower end, asin(k/(T 0.85)), the wedge asks least: 50 N over 1 - tan(tilt)/mu.
    low = math.asin(0.7 / 17 / 0.85)
    expected = 1.25 * NEEDED_N / (1 - math.tan(low) / 0.4)
    assert change.after == pytest.approx(expected, rel=0.05)


def test_changes_are_ranked_and_what_is_no_help_is_not_named() -> None:
    """The relatively smallest change comes first; pitch and turns are not in these formulas at all."""
    given = shut()
    changes = changes_that_open(given, judge_by_hand(), nearest_rad=math.radians(10))
    sizes = [c.size for c in changes]
    assert sizes == sorted(sizes)
    assert {c.what for c in changes} <= set(CHANGES)
    assert not {"a narrower pitch", "fewer turns, so a wider base"} & {c.what for c in changes}


def test_fewer_turns_are_told_with_the_base_they_make() -> None:
    """The base is what across leaves beside N pitches; a base of its own size is not moved by turns."""

    def wider(seen: Bowl) -> DecidingNumbers:
        return replace(by_hand(seen), split_chance=0.6 if seen.cut.base_radius_mm < 42 else 0.01)

    given = bowl_of()
    given = replace(given, limits=replace(given.limits, split_chance=0.5))
    (change,) = [
        c for c in changes_that_open(given, one_by_one(wider), nearest_rad=math.radians(6))
        if c.key == "cut.turns"
    ]  # fmt: skip
    assert isinstance(change.after, float)
    assert change.base_mm == pytest.approx(given.board.across_mm - 2 * change.after * given.cut.pitch_mm)
    assert change.base_mm == pytest.approx(84, rel=0.03)
    without = replace(tilt_answer(shut(), judge_by_hand(), seed=2, **FEW), changes=(change,))
    said = tilt_report(without, units="mm", width=999)
    assert f"to {change.after:.3g}, a base of {change.base_mm:.1f} mm)" in said
    own = replace(given, cut=replace(given.cut, base_edge=Outline("oval", 80.0, 64.0)))
    found = changes_that_open(own, one_by_one(wider), nearest_rad=math.radians(6))
    assert "cut.turns" not in {c.key for c in found}


def test_another_wood_is_the_nearest_in_density_that_opens() -> None:
    """Splitting that grows with density names the densest of the lighter woods that opens a range."""
    given = bowl_of()
    given = replace(given, limits=replace(given.limits, split_chance=0.1))
    own = given.board.wood.specific_gravity.value

    def numbers(seen: Bowl) -> DecidingNumbers:
        density = seen.board.wood.specific_gravity.value
        return replace(by_hand(seen), split_chance=0.1 * density / (0.9 * own))

    changes = changes_that_open(given, one_by_one(numbers), nearest_rad=math.radians(6))
    wood = fitsim.find_wood(str(next(c.after for c in changes if c.key == "board.wood")))
    lighter = [w.specific_gravity.value for w in fitsim.woods() if w.specific_gravity.value < 0.9 * own]
    assert wood.specific_gravity.value == max(lighter)


def test_a_kerf_known_as_a_range_is_made_finer_with_both_its_ends() -> None:
    """The changed bowl keeps the range, scaled: what is judged worst stays worst."""
    given = bowl_of(thickness="7 mm", kerf="0.6 to 0.8 mm", friction="0.1", keep_ranges=True)
    seen = []

    def numbers(bowl: Bowl) -> DecidingNumbers:
        seen.append(bowl)
        return by_hand(bowl)

    changes_that_open(given, one_by_one(numbers), nearest_rad=math.radians(5))
    for bowl in seen:
        (kerf,) = [u for u in bowl.uncertain if u.path == "cut.kerf_mm"]
        assert (kerf.low + kerf.high) / 2 == pytest.approx(bowl.cut.kerf_mm[0])


def test_the_rest_makes_up_one_with_those_that_lock() -> None:
    """Each chance is an estimate of its own: where one is below nothing the others are told the less."""
    answer = tilt_answer(shut(), judge_by_hand(), seed=2, **FEW)
    chance = np.array([0.0, 0.37, -0.10, 0.0, 0.73])
    told = " ".join(
        tilt_report(replace(answer, at_best=replace(answer.at_best, chance=chance)), units="mm").split()
    )
    assert "73 bowls in 100 lock" in told
    assert "; of the others 27 fall through." in told


FEW = {"samples": 16, "most_presses": 16}
"""Where the chances need not be known well."""


def test_answer_without_a_range_says_what_opens_one() -> None:
    """No tilt locks as planned: no span, no ends, a chance at the nearest tilt, and changes."""
    answer = tilt_answer(shut(), judge_by_hand(), seed=2, **FEW)
    assert answer.span is None
    assert answer.at_ends == ()
    assert answer.at_best.chance[-1] < 0.5
    assert {c.key for c in answer.changes} >= {"board.thickness", "cut.kerf", "use.friction"}


def test_best_tilt_lies_in_the_range_and_locks_likelier_than_its_ends() -> None:
    """The best tilt is inside; at each end about half of the bowls lock, by the scatter of the setting."""
    given = bowl_of(tilt_rad=math.radians(0.3))
    answer = tilt_answer(given, judge_by_hand(), seed=4)
    assert answer.span is not None
    assert answer.span.holds(answer.best_tilt_rad)
    assert answer.at_best.chance[-1] > 0.97
    for end in answer.at_ends:
        assert 0.3 < end.chance[-1] < 0.7
        assert end.se[-1] <= 0.03
    assert answer.at_best.se[-1] <= 0.03
    assert answer.verdict_at_best is not None
    assert answer.verdict_at_best.state == "locks"
    along = np.interp(
        [c.tilt_rad for c in answer.at_ends], answer.curve.tilt_rad, answer.curve.chance[:, -1]
    )
    assert along == pytest.approx([c.chance[-1] for c in answer.at_ends], abs=0.08)
    assert answer.curve.chance.sum(axis=1) == pytest.approx(np.ones(len(answer.curve.tilt_rad)))


@pytest.mark.parametrize(
    ("low", "high", "offset", "tenths"),
    [(4.19, 4.48, 0.0, True), (4.19, 4.48, 0.03, True), (5.505, 5.595, 0.0, False)],
)
def test_the_best_tilt_is_one_that_can_be_set(low: float, high: float, offset: float, tenths: bool) -> None:
    """On a scale with tenths of a degree and within the range, however near to its end fewest split."""

    def numbers(seen: Bowl) -> DecidingNumbers:
        deg = math.degrees(seen.cut.tilt_rad[0])
        few = 0.3 - min(max(deg - low, 0.0), 0.6) / 2
        return DecidingNumbers(0.5, 0.15 + (deg - low) / 10, 1 + (deg - high) / 10, few)

    given = bowl_of(friction="0.6", tilt_rad=math.radians(0.02))
    given = replace(given, limits=replace(given.limits, split_chance=0.5))
    given = replace(given, cut=replace(given.cut, scale_offset_rad=math.radians(offset)))
    answer = tilt_answer(given, one_by_one(numbers), seed=3, **FEW)
    best = math.degrees(answer.best_tilt_rad)
    assert answer.span is not None
    assert answer.span.holds(answer.best_tilt_rad)
    on_scale = 10 * (best - offset)
    assert (abs(on_scale - round(on_scale)) < 1e-9) == tenths
    assert f"Best tilt: {best - offset:.{1 if tenths else 2}f} deg." in tilt_report(
        answer, units="mm", width=999
    )


@pytest.mark.parametrize("seed", [4, 9])
def test_where_nine_in_ten_are_told_to_lock_nine_in_ten_do(seed: int) -> None:
    """Counted one by one at both ends, within two of the standard errors told (and the count's own)."""
    given = bowl_of(friction="0.2 to 0.5", keep_ranges=True, tilt_rad=math.radians(0.3))
    answer = tilt_answer(given, judge_by_hand(), seed=seed)
    ends = answer.curve.mostly_locks_rad(answer.best_tilt_rad)
    assert ends is not None
    assert answer.span is not None
    assert answer.span.low.tilt_rad < ends[0] < answer.best_tilt_rad < ends[1] < answer.span.high.tilt_rad
    for end in ends:
        of = scattered(given).at_tilt(end)
        bowls = of.bowls(unit_cube(len(of.dimensions), 2048, seed=77))
        shares = [state_shares(by_hand(b), given.limits, np.ones(1))[-1] for b in bowls]
        assert np.mean(shares) == pytest.approx(0.9, abs=2 * 0.03 + 0.01)


def test_the_verdict_at_the_best_tilt_is_over_the_ranges() -> None:
    """Friction known as a range that reaches too low: locks as planned, springs back at the low end."""
    given = replace(bowl_of(), uncertain=(Uncertain("friction", "", 0.01, 0.79, "use.friction"),))
    answer = tilt_answer(given, judge_by_hand(), seed=4, **FEW)
    verdict = answer.verdict_at_best
    assert verdict is not None
    assert (verdict.state, verdict.state_in_middle) == ("springs back", "locks")
    assert [d.name for d in verdict.depends_on] == ["friction"]


def test_no_chance_is_told_as_less_than_none() -> None:
    """An estimate that strays below nothing is told as none, and the others still make up the whole."""
    answer = tilt_answer(bowl_of(), judge_by_hand(), seed=4, **FEW)
    strayed = replace(answer.at_best, chance=np.array([0.0, -0.003, 0.1, -0.0003, 0.9033]))
    told = tilt_object(replace(answer, at_best=strayed))
    chances = told["state_chances"]
    assert (chances["falls through"], chances["split risk"]) == (0.0, 0.0)
    assert sum(chances.values()) == pytest.approx(1)
    assert chances["locks"] == told["lock_chance"] == pytest.approx(0.9033)
    assert chances["springs back"] == pytest.approx(1 - 0.9033)


def test_the_same_seed_gives_the_same_answer() -> None:
    """Nothing but the seed decides which samples are pressed."""

    def told(answer: TiltAnswer) -> tuple[float, ...]:
        return (answer.best_tilt_rad, *answer.at_best.chance, *(float(c.se[-1]) for c in answer.at_ends))

    given = bowl_of()
    one, again, other = (told(tilt_answer(given, judge_by_hand(), seed=seed, **FEW)) for seed in (1, 1, 2))
    assert one == again
    assert one != other


def four_turns(across: str, tilt_deg: float = 5.0) -> Bowl:
    """A cherry bowl of 4.26 turns that a maker would call ordinary, and its neighbours in width."""
    return fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "3/4 in", "across": f"{across} in"},
            "cut": {"tilt": f"{tilt_deg} deg", "kerf": "0.7 mm", "pitch": "5/16 in", "base": "2 3/4 in"},
            "use": {"press": "80 N", "friction": "0.4"},
        }
    )


def test_on_the_strip_a_steeper_bevel_asks_for_a_harder_press() -> None:
    """A bowl of 4.26 turns holds at 5 deg; at 10, where a taper uses twice as much, it needs more."""
    five, ten = (judge_bowl(four_turns("5 3/4", tilt)) for tilt in (5, 10))
    assert five.state == "locks"
    assert ten.needed_N > five.needed_N
    assert ten.rise_left_mm < five.rise_left_mm


def test_on_the_strip_the_best_tilt_is_one_at_which_fit_says_locks() -> None:
    """What tilt advises, fit confirms; and the range has fit's states beyond its ends."""
    given = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "17 mm", "across": "89 mm"},
            "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": "0.4", "press": "200 N"},
        }
    )
    answer = tilt_answer(given, on_strip(), samples=12, most_presses=1, seed=1)
    assert answer.span is not None
    best = with_input(given, "cut.tilt_rad", answer.best_tilt_rad)
    assert fit(best, beyond=False).verdict.state == "locks"
    low = answer.span.low
    states = [
        judge_bowl(with_input(given, "cut.tilt_rad", tilt)).state
        for tilt in (low.tilt_rad, low.tilt_rad - 2 * low.tolerance_rad, 0.95 * low.tilt_rad)
    ]
    assert states[0] == "locks"
    assert low.limit in states[1:]
    assert "locks" not in states[1:]


def test_where_nine_in_ten_lock_lies_round_the_best_tilt_on_the_curve() -> None:
    """Straight between the tilts of the curve, not across a dip, and no further than the curve goes."""
    tilts = np.array([0.04, 0.06, 0.07, 0.10, 0.14, 0.15, 0.20])
    lock = np.array([0.2, 0.8, 1.0, 1.0, 0.6, 0.95, 0.95])
    curve = TiltCurve(tilts, np.column_stack([*[(1 - lock) / 4] * 4, lock]), 60)
    assert curve.mostly_locks_rad(0.08) == pytest.approx((0.065, 0.11))
    assert curve.mostly_locks_rad(0.064) is None
    assert curve.mostly_locks_rad(0.067) == pytest.approx((0.065, 0.11))
    assert curve.mostly_locks_rad(0.16) == pytest.approx((0.14 + 0.3 / 0.35 * 0.01, 0.20))
