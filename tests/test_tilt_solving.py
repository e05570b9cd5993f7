"""Ends of the range of tilts and least changes, solved closely wherever they lie."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

import fitsim
from fitsim.bowl import Bowl, Uncertain
from fitsim.opening import changes_that_open, opens_somewhere
from fitsim.rigid import deciding_numbers
from fitsim.tiltrange import (
    SPRINGY,
    TiltEnd,
    TiltSpan,
    greatest_tilt_rad,
    margin_over_ranges,
    refined_span,
    tilt_ranges,
)
from fitsim.verdict import DecidingNumbers

Numbers = Callable[[Bowl], DecidingNumbers]


def bowl(*, thickness: str = "17 mm", kerf: str = "0.7 mm", friction: str = "0.4", **limits: str) -> Bowl:
    """An invented walnut bowl, its cut even; the wood's own ranges are left out."""
    made = fitsim.make_bowl(
        {
            "board": {
                "wood": "black walnut",
                "thickness": thickness,
                "across": "140 mm",
                "moisture": "8 %",
            },
            "cut": {"tilt": "6 deg", "kerf": kerf, "pitch": "7 mm", "base": "80 mm"},
            "use": {"finish": "none", "film": "0 mm", "friction": friction},
            "limits": limits,
        }
    )
    kept = tuple(u for u in made.uncertain if u.path in ("use.friction", "cut.kerf_mm"))
    return replace(made, uncertain=kept)


def by_hand(bowl: Bowl) -> DecidingNumbers:
    """Physics page, section 3: drop k/sin(tilt), hold tan(tilt)/mu; nothing splits."""
    tilt = bowl.cut.tilt_rad[0]
    return DecidingNumbers(
        slot_left_mm=min(bowl.cut.kerf_mm),
        overlap=1 - max(bowl.cut.kerf_mm) / math.sin(tilt) / bowl.board.thickness_mm,
        friction_used=math.tan(tilt) / bowl.use.friction,
        split_chance=0.0,
    )


def with_split(chance: Callable[[float], float]) -> Numbers:
    """Numbers by hand, the chance of splitting given by the tilt in degrees."""
    return lambda b: replace(by_hand(b), split_chance=chance(math.degrees(b.cut.tilt_rad[0])))


def degrees(span: TiltSpan) -> tuple[float, float]:
    """Both ends in degrees."""
    return math.degrees(span.low.tilt_rad), math.degrees(span.high.tilt_rad)


@pytest.mark.parametrize(
    ("thickness", "kerf", "friction", "overlap"),
    [(17, 0.7, 0.4, 0.15), (9.5, 0.55, 0.31, 0.22), (31, 1.25, 0.18, 0.05)],
)
def test_ends_of_the_even_rigid_cut(thickness: float, kerf: float, friction: float, overlap: float) -> None:
    """Lower end asin(k/(T(1 - least overlap))), upper end the friction angle, by the closed form."""
    given = bowl(
        thickness=f"{thickness} mm", kerf=f"{kerf} mm", friction=f"{friction}", overlap=f"{overlap}",
        split_chance="1",
    )  # fmt: skip
    (span,) = tilt_ranges(given, deciding_numbers).safe
    low, high = degrees(span)
    assert low == pytest.approx(math.degrees(math.asin(kerf / (thickness * (1 - overlap)))), abs=1e-6)
    assert high == pytest.approx(math.degrees(math.atan(friction)), abs=1e-6)
    assert (span.low.limit, span.high.limit) == ("falls through", "springs back")


def test_unfavourable_and_favourable_ends() -> None:
    """The safe range takes the widest kerf and least friction, the hopeful one the finest and greatest."""
    given = bowl(kerf="0.6 to 0.9 mm", friction="0.25 to 0.5")
    ranges = tilt_ranges(given, by_hand)
    (safe,), (hopeful,) = ranges.safe, ranges.hopeful
    reach = 17 * 0.85
    assert degrees(safe) == pytest.approx(
        (math.degrees(math.asin(0.9 / reach)), math.degrees(math.atan(0.25))), abs=1e-6
    )
    assert degrees(hopeful) == pytest.approx(
        (math.degrees(math.asin(0.6 / reach)), math.degrees(math.atan(0.5))), abs=1e-6
    )


def test_every_island_is_found_and_the_widest_comes_first() -> None:
    """Splitting between two tilts leaves two islands; both are named, the wider one first."""
    split = with_split(lambda deg: 0.5 if 7.3 < deg < 9.1 else 0.02 + 0.001 * deg)
    spans = tilt_ranges(bowl(friction="0.45"), split).safe
    assert [degrees(s) for s in spans] == [
        pytest.approx((9.1, math.degrees(math.atan(0.45))), abs=1e-6),
        pytest.approx((math.degrees(math.asin(0.7 / (17 * 0.85))), 7.3), abs=1e-6),
    ]
    assert [(s.low.limit, s.high.limit) for s in spans] == [
        ("split risk", "springs back"),
        ("falls through", "split risk"),
    ]


def test_an_island_narrower_than_the_scan_is_found() -> None:
    """A peak that just reaches the limit between two tilts of the scan is an island of its own."""
    # 0.1 + 0.02 (t - 6.2)^2 - 0.0002 < 0.1 for |t - 6.2| < 0.1: the scan goes by half degrees.
    split = with_split(lambda deg: 0.1 + 0.02 * (deg - 6.2) ** 2 - 0.0002)
    (span,) = tilt_ranges(bowl(), split).safe
    assert degrees(span) == pytest.approx((6.1, 6.3), abs=1e-6)


def test_margin_over_ranges_is_the_worst_and_best_corner() -> None:
    """At one tilt the worst corner is the least friction, the best one the greatest."""
    given = bowl(friction="0.2 to 0.5", split_chance="1")
    worst, best = margin_over_ranges(given, by_hand, tilt_rad=math.radians(9))
    assert worst == (pytest.approx(1 - math.tan(math.radians(9)) / 0.2), "springs back")
    assert best[0] == pytest.approx(1 - 0.7 / math.sin(math.radians(9)) / 17 - 0.15)


def test_no_range_is_an_answer_and_the_least_change_is_solved() -> None:
    """Where nothing locks, the least change of each thing is where the two ends meet, by hand."""
    # Locks where asin(k/(T 0.85)) < atan(mu): with mu 0.1, T must exceed k/(0.85 sin(atan 0.1)).
    given = bowl(thickness="7 mm", friction="0.1")
    assert tilt_ranges(given, by_hand).safe == ()
    assert not opens_somewhere(given, by_hand)
    found = {c.what: c for c in changes_that_open(given, by_hand)}
    slope = math.sin(math.atan(0.1))
    assert found["a thicker board"].after == pytest.approx(0.7 / (0.85 * slope), rel=0.012)
    assert found["a finer kerf"].after == pytest.approx(7 * 0.85 * slope, rel=0.012)
    needed = math.tan(math.asin(0.7 / (7 * 0.85)))
    assert found["more friction"].after == pytest.approx(needed, rel=0.012)
    assert set(found) == {"a thicker board", "a finer kerf", "more friction"}
    sizes = [c.size for c in changes_that_open(given, by_hand)]
    assert sizes == sorted(sizes)
    assert found["a thicker board"].size == pytest.approx(0.7 / (0.85 * slope) / 7 - 1, abs=0.012)


def test_wood_pitch_and_turns_open_a_range_too() -> None:
    """Splitting that eases with pitch, base and density names narrower pitch, wider base, lighter wood."""

    def numbers(b: Bowl) -> DecidingNumbers:
        density = b.board.wood.specific_gravity.value
        chance = 0.14 * b.cut.pitch_mm / 7 * (40 / b.cut.base_radius_mm) ** 2 * density / own
        return replace(by_hand(b), split_chance=chance)

    given = bowl()
    own = given.board.wood.specific_gravity.value
    found = {c.what: c for c in changes_that_open(given, numbers)}
    assert set(found) == {"a narrower pitch", "fewer turns, so a wider base", "another wood"}
    assert found["a narrower pitch"].after == pytest.approx(5, rel=0.01)
    turns = (70 - 40 * math.sqrt(1.4)) / 7
    assert found["fewer turns, so a wider base"].after == pytest.approx(turns, rel=0.01)
    lighter = [w.specific_gravity.value for w in fitsim.woods() if w.specific_gravity.value < own / 1.4]
    wood = fitsim.find_wood(str(found["another wood"].after))
    assert wood.specific_gravity.value == max(lighter)
    assert found["another wood"].size == pytest.approx(1 - max(lighter) / own)


def test_changed_kerf_keeps_its_range() -> None:
    """A kerf known as a range is made finer with both its ends."""
    given = bowl(thickness="7 mm", kerf="0.6 to 0.8 mm", friction="0.1")
    found = {c.what: c for c in changes_that_open(given, by_hand)}
    finest = 7 * 0.85 * math.sin(math.atan(0.1))  # of the wide end, 8/7 of the middle
    assert found["a finer kerf"].after == pytest.approx(finest * 7 / 8, rel=0.012)


def stiffer(tilt_low: float, tilt_high: float) -> Numbers:
    """A springy stand-in that locks strictly between two tilts in degrees."""

    def numbers(b: Bowl) -> DecidingNumbers:
        tilt = math.degrees(b.cut.tilt_rad[0])
        seen = by_hand(b)
        if tilt < tilt_low:
            return replace(seen, overlap=0.1)
        return replace(seen, overlap=0.9, friction_used=2.0 if tilt > tilt_high else 0.5)

    return numbers


@pytest.mark.parametrize("ends", [(4.4, 9.7), (2.1, 15.5), (8.0, 9.0), (3.1, 20.3)])
def test_ends_are_refined_inward_and_outward(ends: tuple[float, float]) -> None:
    """Wherever the springy model's ends lie, its bisection comes within the stated tolerance of them."""
    given = bowl()
    (span,) = tilt_ranges(given, by_hand).safe
    tolerance = math.radians(0.05)
    refined, asked, _ = refined_span(given, span, by_hand, stiffer(*ends), tolerance_rad=tolerance)
    assert refined is not None
    assert degrees(refined) == pytest.approx(ends, abs=0.05)
    assert (refined.low.limit, refined.high.limit) == ("falls through", "springs back")
    assert refined.low.model == refined.high.model == SPRINGY
    assert asked < 40


def test_springy_model_that_locks_nowhere_leaves_no_range() -> None:
    """No range by the springy model is said so."""
    given = bowl()
    (span,) = tilt_ranges(given, by_hand).safe
    refined, asked, _ = refined_span(given, span, by_hand, stiffer(50, 60), tolerance_rad=1e-3)
    assert refined is None
    assert asked <= 15


def test_springy_model_is_asked_at_the_worst_corners() -> None:
    """The upper end by the springy model is that of the least friction."""
    given = bowl(friction="0.3 to 0.5")
    (span,) = tilt_ranges(given, by_hand).safe

    def springy(b: Bowl) -> DecidingNumbers:
        return replace(by_hand(b), friction_used=1.5 * math.tan(b.cut.tilt_rad[0]) / b.use.friction)

    refined, _, _ = refined_span(given, span, by_hand, springy, tolerance_rad=math.radians(0.01))
    assert refined is not None
    assert degrees(refined)[1] == pytest.approx(math.degrees(math.atan(0.2)), abs=0.01)


def test_scan_stops_where_the_base_comes_to_a_point() -> None:
    """On a thick board with a small base no tilt is tried that leaves no foot."""
    given = bowl(thickness="90 mm", friction="1.2")
    assert math.tan(greatest_tilt_rad(given)) == pytest.approx((40 - 0.35 - 2) / 45)


def test_one_end_without_a_state_is_the_cut() -> None:
    """A range that reaches the end of the scan is limited by the cut itself."""
    given = replace(bowl(friction="0.4"), uncertain=(Uncertain("friction", "", 0.3, 0.5, "use.friction"),))
    (span,) = tilt_ranges(given, lambda b: DecidingNumbers(0.5, 0.5, 0.5, 0.0)).safe
    assert span.high == TiltEnd(greatest_tilt_rad(given), "the cut itself", "closed form", 0.0)
