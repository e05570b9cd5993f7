"""The tilts at which a bowl locks: ends against closed forms, and what opens a range."""

import math
from dataclasses import replace

import pytest

import fitsim
from fitsim.bowl import Bowl, Limits, Uncertain, with_input
from fitsim.chance import lock_margin
from fitsim.opening import CHANGES, Change, changes_that_open
from fitsim.ranges import corners
from fitsim.rigid import deciding_numbers
from fitsim.tilt import tilt_answer
from fitsim.tiltrange import SPRINGY, refined_span, scan_tilts_rad, tilt_ranges
from fitsim.verdict import DecidingNumbers, judge


def bowl(*, thickness: str = "17 mm", kerf: str = "0.7 mm", friction: str = "0.4", press: str = "100 N",
         least_overlap: float = 0.15, most_split: float = 1.1) -> Bowl:  # fmt: skip
    """An invented walnut bowl, even cut, no film, every range but friction's removed."""
    made = fitsim.make_bowl(
        {
            "board": {
                "wood": "black walnut",
                "thickness": thickness,
                "across": "108 mm",
                "moisture": "9 %",
            },
            "cut": {"tilt": "6 deg", "kerf": kerf, "pitch": "7 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": friction, "press": press},
        }
    )
    kept = tuple(u for u in made.uncertain if u.path == "use.friction")
    return replace(made, uncertain=kept, limits=Limits(overlap=least_overlap, split_chance=most_split))


def hold_and_overlap(seen: Bowl) -> DecidingNumbers:
    """Overlap and taper rule of an even cut, written out: a model without splitting."""
    tilt, kerf = seen.cut.tilt_rad[0], max(seen.cut.kerf_mm)
    overlap = 1 - kerf / math.sin(tilt) / seen.board.thickness_mm
    return DecidingNumbers(kerf, overlap, math.tan(tilt) / seen.use.friction, 0.0)


@pytest.mark.parametrize(("kerf_mm", "least_overlap"), [(0.7, 0.15), (1.1, 0.3)])
def test_ends_of_an_even_rigid_cut(kerf_mm: float, least_overlap: float) -> None:
    """It locks from asin(k/(T(1 - least overlap))), falling through below, to atan(mu), springing above."""
    given = bowl(kerf=f"{kerf_mm} mm", least_overlap=least_overlap, friction="0.31")
    (span,) = tilt_ranges(given, deciding_numbers).safe
    low, high = math.asin(kerf_mm / (17 * (1 - least_overlap))), math.atan(0.31)
    assert math.degrees(span.low.tilt_rad) == pytest.approx(math.degrees(low), abs=1e-6)
    assert math.degrees(span.high.tilt_rad) == pytest.approx(math.degrees(high), abs=1e-6)
    assert (span.low.limit, span.high.limit) == ("falls through", "springs back")


def test_a_range_of_friction_moves_the_safe_and_the_hopeful_end() -> None:
    """Friction at its low end limits the safe span, at its high end the hopeful one."""
    ranges = tilt_ranges(bowl(friction="0.22 to 0.5"), deciding_numbers)
    assert ranges.safe[0].high.tilt_rad == pytest.approx(math.atan(0.22), abs=2e-8)
    assert ranges.hopeful[0].high.tilt_rad == pytest.approx(math.atan(0.5), abs=2e-8)
    assert ranges.safe[0].low.tilt_rad == pytest.approx(ranges.hopeful[0].low.tilt_rad)


def test_islands_and_narrow_spans_are_found() -> None:
    """Two spans apart are both found, also one a hundredth of the scan's step wide."""
    centre, half = math.radians(7.26), math.radians(0.005)

    def islands(seen: Bowl) -> DecidingNumbers:
        tilt = seen.cut.tilt_rad[0]
        narrow = half - abs(tilt - centre)
        wide = math.radians(0.8) - abs(tilt - math.radians(12.1))
        return DecidingNumbers(1.0, 0.15 + max(narrow, wide), 0.0, 0.0)

    safe = tilt_ranges(bowl(), islands).safe
    assert [round(math.degrees(s.low.tilt_rad), 4) for s in safe] == [11.3, 7.255]
    assert [round(math.degrees(s.high.tilt_rad), 4) for s in safe] == [12.9, 7.265]
    assert max(b - a for a, b in zip(scan_tilts_rad(0.2), scan_tilts_rad(0.2)[1:], strict=False)) > half


def springier(seen: Bowl) -> DecidingNumbers:
    """A stub of the springy model: binds 10 percent deeper and needs a quarter more friction."""
    plain = hold_and_overlap(seen)
    return replace(plain, overlap=1 - 1.1 * (1 - plain.overlap), friction_used=1.25 * plain.friction_used)


def test_the_springy_model_moves_the_ends() -> None:
    """Ends refined on another model lie where that model's own closed form has them, within tolerance."""
    given, tolerance = bowl(friction="0.25 to 0.5"), math.radians(0.05)
    (span,) = tilt_ranges(given, hold_and_overlap).safe
    found, solves, enough = refined_span(given, span, hold_and_overlap, springier, tolerance_rad=tolerance)
    assert found is not None
    assert enough
    assert solves < 80
    low, high = math.asin(1.1 * 0.7 / (17 * 0.85)), math.atan(0.25 / 1.25)
    # The end given is the innermost tilt known to lock: never beyond the true one.
    assert low <= found.low.tilt_rad <= low + tolerance
    assert high - tolerance <= found.high.tilt_rad <= high
    assert (found.low.model, found.low.limit, found.high.limit) == (
        SPRINGY,
        "falls through",
        "springs back",
    )


def test_a_milder_springy_model_widens_the_span() -> None:
    """Where the springy model needs less friction and drop, the ends move outward to its own."""
    given, tolerance = bowl(), math.radians(0.05)
    (span,) = tilt_ranges(given, hold_and_overlap).safe

    def milder(seen: Bowl) -> DecidingNumbers:
        plain = hold_and_overlap(seen)
        return replace(
            plain, overlap=1 - 0.8 * (1 - plain.overlap), friction_used=0.97 * plain.friction_used
        )

    found, _, enough = refined_span(given, span, hold_and_overlap, milder, tolerance_rad=tolerance)
    assert found is not None
    assert enough
    low, high = math.asin(0.8 * 0.7 / (17 * 0.85)), math.atan(0.4 / 0.97)
    assert low <= found.low.tilt_rad <= low + tolerance
    assert high - tolerance <= found.high.tilt_rad <= high


def test_too_few_springy_solves_are_owned_up_to() -> None:
    """With few solves the ends stay inside the true ones, their tolerance says how far off they may be."""
    given = bowl()
    (span,) = tilt_ranges(given, hold_and_overlap).safe
    found, solves, enough = refined_span(
        given, span, hold_and_overlap, springier, tolerance_rad=math.radians(0.05), most_solves=8
    )
    assert solves <= 8
    assert not enough
    assert found is not None
    low, high = math.asin(1.1 * 0.7 / (17 * 0.85)), math.atan(0.4 / 1.25)
    assert low <= found.low.tilt_rad <= low + found.low.tolerance_rad
    assert high - found.high.tolerance_rad <= found.high.tilt_rad <= high


def test_a_springy_model_that_never_locks_gives_no_span() -> None:
    """Where the springy model locks nowhere there is no span, whatever the closed form says."""
    given = bowl()
    (span,) = tilt_ranges(given, hold_and_overlap).safe

    def never(seen: Bowl) -> DecidingNumbers:
        return replace(hold_and_overlap(seen), friction_used=3.0)

    found, _, enough = refined_span(given, span, hold_and_overlap, never, tolerance_rad=1e-3)
    assert found is None
    assert enough


def shut() -> Bowl:
    """Thin board, wide kerf, little friction: k/(T 0.85) = 0.2157 is more than sin(atan(0.18))."""
    given = bowl(thickness="6 mm", kerf="1.1 mm", friction="0.18 to 0.3")
    assert math.sin(math.atan(0.18)) < 1.1 / (6 * 0.85)
    return given


def locks_somewhere(given: Bowl) -> bool:
    """Whether any tilt locks at every corner, by brute force on a fine grid."""
    for i in range(1, 1800):
        tilted = with_input(given, "cut.tilt_rad", math.radians(i / 100))
        if all(judge(hold_and_overlap(c), c.limits) == "locks" for c in corners(tilted)):
            return True
    return False


@pytest.mark.parametrize("what", ["a thicker board", "a finer kerf", "more friction"])
def test_least_changes_agree_with_the_closed_form(what: str) -> None:
    """With no range, sin(atan(mu)) = k/(T 0.85) gives the least change of T, k and mu; each does open."""
    changes = {c.what: c for c in changes_that_open(shut(), hold_and_overlap)}
    steep = math.sin(math.atan(0.18))
    expected = {
        "a thicker board": 1.1 / 0.85 / steep,
        "a finer kerf": 6 * 0.85 * steep,
        "more friction": 0.24 / 0.18 * math.tan(math.asin(1.1 / (6 * 0.85))),
    }[what]
    after = changes[what].after
    assert isinstance(after, float)
    assert after == pytest.approx(expected, rel=0.02)
    paths = {"a thicker board": "board.thickness_mm", "a finer kerf": "cut.kerf_mm"}
    changed = shut()
    if what == "more friction":
        changed = replace(
            changed, uncertain=(replace(changed.uncertain[0], low=0.18 * after / 0.24, high=1.0),)
        )
    else:
        changed = with_input(changed, paths[what], after)
    assert not locks_somewhere(shut())
    assert locks_somewhere(changed)


def test_changes_are_ranked_by_their_size() -> None:
    """The relatively smallest change comes first, and only known ways are named."""
    changes = changes_that_open(shut(), hold_and_overlap)
    sizes = [c.size for c in changes]
    assert sizes == sorted(sizes)
    assert {c.what for c in changes} <= set(CHANGES)
    # Pitch and turns are not in this model at all.
    assert not {"a narrower pitch", "fewer turns, so a wider base"} & {c.what for c in changes}


def test_answer_without_a_range_says_what_opens_one() -> None:
    """No tilt locks: no span, changes that really open one and not two percent short of it."""
    answer = tilt_answer(shut(), hold_and_overlap, seed=2, most_samples=256, curve_samples=16)
    assert answer.span is None
    assert answer.changes
    for change in answer.changes:
        if change.key == "board.thickness":
            assert isinstance(change.after, float)
            opened = with_input(shut(), "board.thickness_mm", change.after)
            assert tilt_ranges(opened, hold_and_overlap).safe
            before = with_input(shut(), "board.thickness_mm", 0.98 * change.after)
            assert not tilt_ranges(before, hold_and_overlap).safe
    assert Change in {type(c) for c in answer.changes}


def test_best_tilt_lies_in_the_range_and_its_chance_is_the_springy_models() -> None:
    """A springy stub that springs back where the closed form holds takes the chance down with it."""
    given = replace(bowl(), uncertain=(Uncertain("friction", "", 0.2, 0.6, "use.friction"),))

    def needs_more(seen: Bowl) -> DecidingNumbers:
        # Half of the frictions, taken evenly from 0.2 to 0.6, are too small: the exact chance is 1/2.
        return replace(hold_and_overlap(seen), friction_used=0.4 / seen.use.friction)

    answer = tilt_answer(
        given,
        hold_and_overlap,
        elastic=needs_more,
        elastic_solves=300,
        seed=4,
        most_samples=1024,
        curve_samples=16,
    )
    assert answer.ranges.safe[0].low.tilt_rad < answer.best_tilt_rad < answer.ranges.safe[0].high.tilt_rad
    assert answer.at_best_cheap.chance[-1] > 0.98
    chance, se = answer.at_best.chance[-1], answer.at_best.se[-1]
    assert chance == pytest.approx(0.5, abs=3 * se)
    assert se < 0.08
    assert answer.span is None  # at the unfavourable end of friction it springs back at every tilt
    assert lock_margin(needs_more(given), given.limits)[0] >= 0
