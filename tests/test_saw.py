"""Learning a saw from test cuts, and laying it on a bowl."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_workshops import in_joint_region
from scipy.stats import truncnorm

from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import with_input
from fitsim.bowl.ranges import corners
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError, NoConvergenceError
from fitsim.saw.kerf_and_scale import (
    RANGE_SDS,
    Saw,
    drop_at,
    joint_region,
    saw_covariance,
    with_saw,
)
from fitsim.saw.measurements import BEFORE, Before, GaugeReading, Ring, ScrapCuts, SlotReading
from fitsim.saw.next_cut import next_cuts, trade_off
from fitsim.saw.test_cuts import estimate_saw, refuse_misfit

EXACT = replace(BEFORE, kerf_varies_sd_mm=0.0, tilt_repeats_sd_rad=0.0)
"""A saw whose cuts do not scatter."""


def deg(value: float) -> float:
    """Degrees as radians."""
    return math.radians(value)


def exact_ring(scale_deg: float, *, kerf_mm: float, offset_deg: float, sd_mm: float = 1e-6) -> Ring:
    """A ring read without error."""
    drop = kerf_mm / math.sin(deg(scale_deg + offset_deg))
    return Ring(scale_tilt_rad=deg(scale_deg), drop_mm=drop, sd_mm=sd_mm)


def two_ring_solution(a: Ring, b: Ring) -> tuple[float, float]:
    """Kerf and offset of two exact rings by hand: h1 sin(s1 + x) = h2 sin(s2 + x) is linear in tan x."""
    assert a.drop_mm is not None
    assert b.drop_mm is not None
    up = b.drop_mm * math.sin(b.scale_tilt_rad) - a.drop_mm * math.sin(a.scale_tilt_rad)
    down = a.drop_mm * math.cos(a.scale_tilt_rad) - b.drop_mm * math.cos(b.scale_tilt_rad)
    offset = math.atan(up / down)
    return a.drop_mm * math.sin(a.scale_tilt_rad + offset), offset


def test_two_exact_rings_by_hand() -> None:
    """Drops of 8.8 mm at 4 deg and 4.1 mm at 9 deg leave one kerf and one offset, solved by hand."""
    rings = (Ring(deg(4), 8.8, sd_mm=1e-6), Ring(deg(9), 4.1, sd_mm=1e-6))
    saw = estimate_saw(ScrapCuts(rings=rings, before=EXACT)).saw
    # (4.1 sin 9 - 8.8 sin 4) / (8.8 cos 4 - 4.1 cos 9) = 0.027524/4.729040 = tan 0.33347 deg
    assert math.degrees(saw.tilt_offset_rad) == pytest.approx(0.3335, abs=2e-4)
    assert saw.kerf_mm == pytest.approx(8.8 * math.sin(deg(4.3335)), abs=5e-5)


@given(
    kerf=st.floats(0.4, 2.0),
    offset=st.floats(-0.9, 0.9),
    first=st.floats(2.5, 6.0),
    further=st.floats(2.0, 8.0),
)
def test_exact_rings_at_two_tilts_give_back_the_saw(
    kerf: float, offset: float, first: float, further: float
) -> None:
    """Exact drops at two different tilts give back kerf and offset to a millionth."""
    rings = tuple(
        exact_ring(tilt, kerf_mm=kerf, offset_deg=offset, sd_mm=1e-7) for tilt in (first, first + further)
    )
    saw = estimate_saw(ScrapCuts(rings=rings, before=EXACT)).saw
    assert saw.kerf_mm == pytest.approx(kerf, abs=1e-6)
    assert saw.tilt_offset_rad == pytest.approx(deg(offset), abs=1e-6)
    by_hand = two_ring_solution(*rings)
    assert (saw.kerf_mm, saw.tilt_offset_rad) == (pytest.approx(by_hand[0]), pytest.approx(by_hand[1]))


@settings(max_examples=15)
@given(size=st.floats(0.5, 2.0), offset=st.floats(-0.8, 0.8))
def test_everything_larger_scales_the_kerf_alone(size: float, offset: float) -> None:
    """All lengths and their errors times a number: kerf and its spread times it, the offset as it was."""

    def saw(by: float) -> Saw:
        rings = tuple(
            Ring(deg(tilt), by * 0.8 / math.sin(deg(tilt + offset)) * off, by * 30.0, by * 0.17)
            for tilt, off in ((4, 1.01), (8, 0.98))
        )
        fell = Ring(deg(1.5), None, by * 20.0)
        before = Before(BEFORE.scale_sd_rad, by * 0.3, by * 3.0, by * 0.02, BEFORE.tilt_repeats_sd_rad)
        return estimate_saw(ScrapCuts(rings=(*rings, fell), before=before)).saw

    one, other = saw(1.0), saw(size)
    assert other.kerf_mm == pytest.approx(size * one.kerf_mm, rel=1e-6)
    assert other.kerf_sd_mm == pytest.approx(size * one.kerf_sd_mm, rel=1e-5)
    assert other.tilt_offset_rad == pytest.approx(one.tilt_offset_rad, abs=1e-7)
    assert other.correlation == pytest.approx(one.correlation, abs=1e-5)


def synthetic_cuts(
    rng: np.random.Generator, *, kerf_mm: float, offset_rad: float, number: int
) -> ScrapCuts:
    """Rings cut and read with all the scatter there is; some fall through, some files hold a slot."""
    rings = []
    for scale in ((5.0,), (4.0, 9.0), (3.0, 6.0, 11.0), (4.0, 4.0, 10.0))[number % 4]:
        tilt = deg(scale) + offset_rad + rng.normal(0, BEFORE.tilt_repeats_sd_rad)
        kerf = kerf_mm + rng.normal(0, BEFORE.kerf_varies_sd_mm)
        drop = kerf / math.sin(tilt) if tilt > 0 else math.inf
        seen = None if drop >= 19.0 else drop + rng.normal(0, 0.2)
        rings.append(Ring(deg(scale), seen, thickness_mm=19.0, sd_mm=0.2))
    slots = ()
    if number % 3 == 0 or all(r.drop_mm is None for r in rings):
        width = kerf_mm + rng.normal(0, math.hypot(BEFORE.kerf_varies_sd_mm, 0.025))
        slots = (SlotReading(width, sd_mm=0.025),)
    return ScrapCuts(rings=tuple(rings), slots=slots)


def test_the_truth_lies_in_the_stated_region_as_often_as_stated() -> None:
    """Of 200 made-up saws, 85 to 95 percent have their kerf and offset inside the 90 percent region."""
    rng = np.random.default_rng(20)
    inside, refused = 0, 0
    for number in range(200):
        kerf, offset = rng.uniform(0.5, 1.3), rng.normal(0, BEFORE.scale_sd_rad)
        estimate = estimate_saw(synthetic_cuts(rng, kerf_mm=kerf, offset_rad=offset, number=number))
        inside += in_joint_region(estimate.saw, kerf_mm=kerf, tilt_offset_rad=offset)
        refused += bool(estimate.misfit.doubtful)
    assert 170 <= inside <= 190
    assert refused <= 7  # one in a hundred is expected; seven or fewer in 200 are 99.9 percent sure


def test_sum_over_the_grid_against_random_draws() -> None:
    """Mean, spread and tie agree with draws from the belief weighed by the chance of the readings."""
    rng = np.random.default_rng(5)
    kerf = rng.uniform(0.3, 3.0, 1_000_000)
    offset = rng.normal(0, deg(0.5), kerf.size)
    weight = np.ones(kerf.size)
    for scale, drop, sd in ((4.0, 10.9, 0.3), (9.0, 5.4, 0.2)):
        sine = np.sin(np.maximum(deg(scale) + offset, 1e-3))
        slope = kerf * np.sqrt(1 - sine**2) / sine**2
        spread = np.sqrt(sd**2 + (0.02 / sine) ** 2 + (deg(0.1) * slope) ** 2)
        weight *= np.exp(-0.5 * ((drop - kerf / sine) / spread) ** 2) / spread
    tilt = deg(3.0) + offset + rng.normal(0, deg(0.1), kerf.size)
    sunk = (kerf + rng.normal(0, 0.02, kerf.size)) / np.sin(np.maximum(tilt, 1e-6))
    weight *= sunk >= 14.5  # the third ring fell through a board of 14.5 mm
    weight /= weight.sum()
    mean = np.array([weight @ kerf, weight @ offset])
    sds = np.sqrt([weight @ (kerf - mean[0]) ** 2, weight @ (offset - mean[1]) ** 2])
    tie = weight @ ((kerf - mean[0]) * (offset - mean[1])) / (sds[0] * sds[1])
    rings = (
        Ring(deg(4), 10.9, sd_mm=0.3),
        Ring(deg(9), 5.4, sd_mm=0.2),
        Ring(deg(3), None, thickness_mm=14.5),
    )
    saw = estimate_saw(ScrapCuts(rings=rings)).saw
    # About 15 000 draws count: a percent of a standard deviation or so of noise.
    assert saw.kerf_mm == pytest.approx(mean[0], abs=0.03 * sds[0])
    assert saw.tilt_offset_rad == pytest.approx(mean[1], abs=0.03 * sds[1])
    assert (saw.kerf_sd_mm, saw.tilt_offset_sd_rad) == (
        pytest.approx(sds[0], rel=0.03),
        pytest.approx(sds[1], rel=0.03),
    )
    assert saw.correlation == pytest.approx(tie, abs=0.01)


@pytest.mark.parametrize("low_mm", [0.3, 0.6])
@pytest.mark.parametrize("inside_mm", [-0.04, 0.0, 0.01, 0.02, 0.03, 0.05])
def test_a_slot_near_a_limit_is_a_normal_cut_off_there(low_mm: float, inside_mm: float) -> None:
    """A slot read 0.04 mm beyond the least kerf to 0.05 within: mean and spread of the cut-off normal."""
    spread_mm = math.hypot(0.025, 0.017)
    ends = -inside_mm / spread_mm, (2.0 - inside_mm) / spread_mm
    cut_off = truncnorm(*ends, low_mm + inside_mm, spread_mm)
    before = replace(BEFORE, kerf_low_mm=low_mm, kerf_high_mm=low_mm + 2.0, kerf_varies_sd_mm=0.017)
    slots = (SlotReading(low_mm + inside_mm, sd_mm=0.025),)
    saw = estimate_saw(ScrapCuts(slots=slots, before=before)).saw
    assert saw.kerf_mm == pytest.approx(cut_off.mean(), abs=0.005 * spread_mm)
    assert saw.kerf_sd_mm == pytest.approx(cut_off.std(), rel=0.005)


@pytest.mark.parametrize("slot_mm", [0.64, 0.66, 0.675, 0.7])
def test_a_slot_and_a_ring_near_a_limit_against_a_fine_sum(slot_mm: float) -> None:
    """Belief times chances, summed over kerfs up to the greatest and over leans in steps of a hundredth."""
    kerf, offset = np.meshgrid(
        0.66 - (np.arange(900) + 0.5) * 2.5e-4, np.linspace(-0.05, 0.05, 1501), indexing="ij"
    )
    sine, cosine = np.sin(deg(6) + offset), np.cos(deg(6) + offset)
    spread = np.sqrt(0.11**2 + (0.02 / sine) ** 2 + (deg(0.1) * kerf * cosine / sine**2) ** 2)
    drop_mm = 0.67 / math.sin(deg(6.3))
    weight = np.exp(
        -0.5 * (offset / deg(0.5)) ** 2
        - 0.5 * (slot_mm - kerf) ** 2 / (0.025**2 + 0.02**2)
        - 0.5 * ((drop_mm - kerf / sine) / spread) ** 2
    ) / spread  # fmt: skip
    weight /= weight.sum()
    kerf_mm, offset_rad = (weight * kerf).sum(), (weight * offset).sum()
    sd_mm, sd_rad = (
        math.sqrt((weight * (kerf - kerf_mm) ** 2).sum()),
        math.sqrt((weight * (offset - offset_rad) ** 2).sum()),
    )
    cuts = ScrapCuts(
        rings=(Ring(deg(6), drop_mm, sd_mm=0.11),),
        slots=(SlotReading(slot_mm),),
        before=replace(BEFORE, kerf_high_mm=0.66),
    )
    saw = estimate_saw(cuts).saw
    assert (saw.kerf_mm, saw.tilt_offset_rad) == (
        pytest.approx(kerf_mm, abs=0.01 * sd_mm),
        pytest.approx(offset_rad, abs=0.01 * sd_rad),
    )
    assert (saw.kerf_sd_mm, saw.tilt_offset_sd_rad) == (
        pytest.approx(sd_mm, rel=0.01),
        pytest.approx(sd_rad, rel=0.01),
    )


@pytest.mark.parametrize(("slot_mm", "refused"), [(0.218, False), (0.217, True), (0.207, True)])
def test_a_limit_is_named_only_where_a_reading_lies_beyond_it(slot_mm: float, refused: bool) -> None:
    """Beyond the limit of 0.3 mm by 2.576 of 0.0320 mm, one in a hundred: 0.2175 mm and less is refused."""
    cuts = ScrapCuts(slots=(SlotReading(slot_mm),))
    if refused:
        with pytest.raises(InputError, match=r"slot 1: expected a kerf that a saw can cut"):
            estimate_saw(cuts)
    else:
        assert estimate_saw(cuts).saw.kerf_mm > 0.3


@pytest.mark.parametrize("slots_mm", [(0.22, 0.22, 0.22, 0.22, 0.22), (3.08, 3.09, 3.08, 3.085)])
def test_readings_that_agree_beyond_a_limit_are_not_said_to_disagree(slots_mm: tuple[float, ...]) -> None:
    """Held at the limit each is 2.5 times its spread off; of one another they are all but alike."""
    cuts = ScrapCuts(slots=tuple(SlotReading(width) for width in slots_mm))
    with pytest.raises(InputError, match=rf"slot {len(slots_mm)}: expected a kerf that a saw can cut"):
        estimate_saw(cuts)


def test_readings_far_apart_disagree_also_where_one_lies_beyond_a_limit() -> None:
    """0.22 and 0.9 mm: no kerf gives both, so the limit is not what is wrong."""
    estimate = estimate_saw(ScrapCuts(slots=(SlotReading(0.22), SlotReading(0.9))))
    assert set(estimate.misfit.doubtful) == {"slot 1", "slot 2"}


def test_a_ring_that_fell_through_pulls_one_way() -> None:
    """Falling through where it should have bound means less lean; where expected, hardly anything."""
    bound = Ring(deg(5), 7.4, thickness_mm=19.0)

    def offset(scale_deg: float) -> float:
        rings = (bound, Ring(deg(scale_deg), None, thickness_mm=19.0))
        return math.degrees(estimate_saw(ScrapCuts(rings=rings)).saw.tilt_offset_rad)

    alone = math.degrees(estimate_saw(ScrapCuts(rings=(bound,))).saw.tilt_offset_rad)
    # By the first ring a drop of 19 mm is reached at asin(0.6450/19) = 1.94 deg.
    assert offset(0.5) == pytest.approx(alone, abs=0.02)
    assert offset(2.5) < alone - 0.4
    assert offset(2.5) < offset(1.9) < alone


def test_one_ring_leaves_the_line_that_geometry_gives() -> None:
    """One ring of 7.4 mm at 5 deg: kerf h sin(s) if the scale is true, h cos(s) more for each radian."""
    estimate = estimate_saw(ScrapCuts(rings=(Ring(deg(5), 7.4),)))
    tie = trade_off(estimate)
    assert tie.unresolved
    assert tie.kerf_if_scale_true_mm == pytest.approx(7.4 * math.sin(deg(5)), rel=2e-3)
    assert tie.kerf_per_offset_mm_per_rad == pytest.approx(7.4 * math.cos(deg(5)), rel=5e-3)
    # The belief about the scale is all that is known of the offset.
    assert estimate.saw.tilt_offset_sd_rad == pytest.approx(BEFORE.scale_sd_rad, rel=0.02)
    assert estimate.misfit.freedom == 0


def test_one_ring_still_predicts_its_own_tilt() -> None:
    """At the tilt of the one ring the drop is known to its own scatter, at twice the tilt it is not."""
    estimate = estimate_saw(ScrapCuts(rings=(Ring(deg(5), 7.4),)))
    same, twice = (drop_at(estimate.saw, scale_tilt_rad=deg(v)) for v in (5, 10))
    # Scatter of one cut, and of the cut it was learned from, with the reading: added in squares.
    once = math.hypot(0.02 / math.sin(deg(5)), deg(0.1) * 7.4 / math.tan(deg(5)))
    sd = math.sqrt(2 * once**2 + 0.2**2)
    assert (same.low_mm, same.drop_mm, same.high_mm) == (
        pytest.approx(7.4 - RANGE_SDS * sd, abs=0.06),
        pytest.approx(7.4, abs=0.03),
        pytest.approx(7.4 + RANGE_SDS * sd, abs=0.06),
    )
    assert (twice.high_mm - twice.low_mm) / twice.drop_mm > 1.2 * (
        same.high_mm - same.low_mm
    ) / same.drop_mm


def test_drop_ahead_against_random_cuts() -> None:
    """The range of the drop holds nine in ten of cuts drawn from the saw, tie and scatter included."""
    saw = Saw("x", 0.72, 0.05, deg(0.3), deg(0.4), 0.8, 0.03, deg(0.15), 3, 0, 0)
    rng = np.random.default_rng(3)
    draws = rng.multivariate_normal([saw.kerf_mm, saw.tilt_offset_rad], saw_covariance(saw), 400_000)
    kerf = draws[:, 0] + rng.normal(0, saw.kerf_varies_sd_mm, len(draws))
    tilt = deg(5) + draws[:, 1] + rng.normal(0, saw.tilt_repeats_sd_rad, len(draws))
    expected = np.quantile(kerf / np.sin(tilt), (0.05, 0.5, 0.95))
    ahead = drop_at(saw, scale_tilt_rad=deg(5))
    assert (ahead.low_mm, ahead.drop_mm, ahead.high_mm) == tuple(
        pytest.approx(v, rel=0.005) for v in expected
    )
    assert ahead.tilt_rad == pytest.approx(deg(5.3))


def test_a_bevel_that_may_be_square_may_never_bind() -> None:
    """Where the tilt may be zero the upper end of the drop is infinite."""
    saw = Saw("x", 0.72, 0.05, deg(-0.8), deg(0.4), 0.8, 0.03, deg(0.1), 1, 0, 0)
    ahead = drop_at(saw, scale_tilt_rad=deg(1.0))
    assert math.isinf(ahead.high_mm)
    assert math.isfinite(ahead.low_mm)


def test_edge_of_the_region_is_its_limit() -> None:
    """Points of the edge drawn a little inward lie inside, a little outward outside."""
    saw = Saw("x", 0.72, 0.05, deg(0.3), deg(0.4), 0.8, 0.03, deg(0.15), 3, 0, 0)
    edge = joint_region(saw, points=17)
    for kerf, offset in zip(edge.kerf_mm, edge.tilt_offset_rad, strict=True):
        for by, inside in ((0.999, True), (1.001, False)):
            found = in_joint_region(
                saw,
                kerf_mm=saw.kerf_mm + by * (kerf - saw.kerf_mm),
                tilt_offset_rad=saw.tilt_offset_rad + by * (offset - saw.tilt_offset_rad),
            )
            assert found == inside


def test_chi_square_of_two_slots_by_hand() -> None:
    """Slots of 0.60 and 0.80 mm, each within 0.032 mm: chi-square (0.1/0.032)^2 twice, on one degree."""
    estimate = estimate_saw(ScrapCuts(slots=(SlotReading(0.6), SlotReading(0.8))))
    variance = 0.025**2 + 0.02**2
    chi_square = 2 * 0.1**2 / variance
    assert estimate.misfit.chi_square == pytest.approx(chi_square, rel=1e-6)
    assert estimate.misfit.freedom == 1
    # One degree of freedom: the chance is that of a normal value so far out, erfc(sqrt(x/2)).
    assert estimate.misfit.chance == pytest.approx(math.erfc(math.sqrt(chi_square / 2)), rel=1e-6)
    with pytest.raises(InputError, match="slot 1 and slot 2 do not"):
        refuse_misfit(estimate)


def test_the_ring_that_does_not_fit_is_named() -> None:
    """Of four rings the one read two millimetres wrong is named, with what the others make of it."""
    rings = [exact_ring(t, kerf_mm=0.7, offset_deg=0.4, sd_mm=0.2) for t in (4, 6, 9, 12)]
    wrong = replace(rings[2], drop_mm=(rings[2].drop_mm or 0) + 2.0)
    estimate = estimate_saw(ScrapCuts(rings=(*rings[:2], wrong, rings[3])))
    assert estimate.misfit.doubtful == ("ring 3",)
    assert estimate.misfit.expected == pytest.approx(0.7 / math.sin(deg(9.4)), abs=0.1)
    with pytest.raises(
        InputError, match=r"^my\.toml: ring 3 = 6\.29 mm: expected about 4\.\d+ mm"
    ) as caught:
        refuse_misfit(estimate, where="my.toml")
    assert len(str(caught.value).splitlines()) == 1
    refuse_misfit(estimate_saw(ScrapCuts(rings=tuple(rings))))


def test_a_scale_further_off_than_believed_is_named() -> None:
    """Rings that agree only with a scale three degrees off are refused for the scale."""
    rings = tuple(exact_ring(t, kerf_mm=0.7, offset_deg=3.0, sd_mm=0.2) for t in (3, 6, 9, 12))
    estimate = estimate_saw(ScrapCuts(rings=rings))
    assert estimate.misfit.doubtful[0] == "scale"
    with pytest.raises(InputError, match="check the scale with a bevel gauge"):
        refuse_misfit(estimate)
    believed = replace(BEFORE, scale_sd_rad=deg(2))
    saw = estimate_saw(ScrapCuts(rings=rings, before=believed)).saw
    assert in_joint_region(saw, kerf_mm=0.7, tilt_offset_rad=deg(3.0))


def test_nothing_that_tells_the_kerf_is_refused() -> None:
    """Rings that fell through and a bevel gauge alone leave the kerf open."""
    cuts = ScrapCuts(rings=(Ring(deg(3), None, 19.0),), gauges=(GaugeReading(deg(5), deg(5.2)),))
    with pytest.raises(InputError, match="a ring that bound, or a slot"):
        estimate_saw(cuts)


def test_next_cut_does_what_it_promises() -> None:
    """A reading added where it was advised brings the spread that was predicted; best stands first."""
    cuts = ScrapCuts(rings=(Ring(deg(5), 7.4, thickness_mm=12.0),))
    advised = next_cuts(estimate_saw(cuts))
    spreads = [cut.tilt_offset_sd_rad for cut in advised]
    assert spreads == sorted(spreads)
    assert {cut.kind for cut in advised} == {"ring", "slot", "bevel"}
    for cut in advised:
        if cut.kind == "ring":
            drop = 0.7 / math.sin(cut.scale_tilt_rad)
            assert drop < 0.9 * 12.0  # it must bind in the scrap there is
            more = replace(cuts, rings=(*cuts.rings, Ring(cut.scale_tilt_rad, drop, 12.0)))
        elif cut.kind == "slot":
            more = replace(cuts, slots=(SlotReading(0.65),))
        else:
            more = replace(cuts, gauges=(GaugeReading(cut.scale_tilt_rad, deg(5.05)),))
        saw = estimate_saw(more).saw
        assert saw.tilt_offset_sd_rad == pytest.approx(cut.tilt_offset_sd_rad, rel=0.12)
        assert saw.kerf_sd_mm == pytest.approx(cut.kerf_sd_mm, rel=0.12)


def bowl_tables(**cut: object) -> dict[str, object]:
    """A bowl file's tables."""
    return {
        "board": {"wood": "cherry", "thickness": "19 mm", "across": "240 mm"},
        "cut": {"tilt": "5 deg", "pitch": "8 mm", "base": "90 mm", **cut},
    }


SAW = Saw("Bench saw", 0.74, 0.02, deg(0.6), deg(0.2), 0.8, 0.015, deg(0.1), 3, 1, 0, "2024-03-02")


def test_a_bowl_on_this_saw_has_its_kerf_and_true_tilt() -> None:
    """With the saw the drop is k/sin(scale + offset), whatever kerf the bowl file gave."""
    bowl = with_saw(make_bowl(bowl_tables(kerf="0.6 to 0.7 mm")), SAW)
    assert bowl.cut.kerf_mm == (0.74,)
    assert bowl.cut.tilt_rad == (pytest.approx(deg(5.6)),)
    assert bowl.cut.scale_tilt_rad == (pytest.approx(deg(5)),)
    ends = {u.path: (u.low, u.high) for u in bowl.uncertain}
    # Of a cut to come: variances 0.02^2 + 0.015^2 mm2 and 0.2^2 + 0.1^2 deg2,
    # covariance 0.8 x 0.02 x 0.2 mm deg.
    left = 1.644854 * math.sqrt(0.000625 - 0.0032**2 / 0.05)  # normal quantile from memory
    assert ends["cut.kerf_mm"] == (pytest.approx(0.74 - left), pytest.approx(0.74 + left))
    off = 1.644854 * math.sqrt(0.05)
    assert ends["cut.scale_offset_rad"] == (pytest.approx(deg(0.6 - off)), pytest.approx(deg(0.6 + off)))
    moved = with_input(bowl, "cut.scale_offset_rad", deg(0.8))
    assert moved.cut.tilt_rad == (pytest.approx(deg(5.8)),)
    assert moved.cut.scale_tilt_rad == (pytest.approx(deg(5)),)
    assert moved.cut.kerf_mm == (pytest.approx(0.74 + 0.2 * 0.0032 / 0.05),)
    kerf, tilt = (next(a for a in bowl.assumptions if a.key == k) for k in ("cut.kerf", "cut.tilt"))
    assert (kerf.mark, tilt.mark) == ("measured", "measured")
    assert "in place of the bowl file's 0.60 to 0.70 mm" in kerf.source
    assert "3 scrap rings and 1 slot, 2024-03-02" in kerf.source
    answer = fit(bowl, rigid=True)
    assert answer.rigid.seats.seat_drop_mm[0] == pytest.approx(0.74 / math.sin(deg(5.6)), abs=1e-6)
    assert any("'Bench saw': 5 deg on the scale is 5.6 deg at the blade" in n for n in answer.notes)


def test_an_assumed_kerf_is_no_longer_assumed() -> None:
    """A kerf nobody gave was an estimate; the saw's stands in its place, once."""
    bowl = with_saw(make_bowl(bowl_tables()), SAW)
    kerfs = [a for a in bowl.assumptions if a.key == "cut.kerf"]
    assert [a.mark for a in kerfs] == ["measured"]
    assert "in place of the assumed 0.60 to 1.15 mm" in kerfs[0].source
    assert [u.path for u in bowl.uncertain].count("cut.kerf_mm") == 1


def test_another_saw_is_laid_on_the_scale_not_on_the_first_saw() -> None:
    """Two saws one after the other: the second's offset counts from the scale."""
    other = replace(SAW, name="Other", tilt_offset_rad=deg(-0.3), kerf_mm=0.9)
    bowl = with_saw(with_saw(make_bowl(bowl_tables()), SAW), other)
    assert bowl.cut.tilt_rad == (pytest.approx(deg(4.7)),)
    assert len(bowl.notes) == 1
    assert [u.path for u in bowl.uncertain].count("cut.scale_offset_rad") == 1


def test_tilts_turn_by_turn_keep_their_differences() -> None:
    """Every turn's tilt takes the offset, in the middle and at the ends of its range."""
    tilts = [f"{5 + 0.2 * j} deg" for j in range(10)]
    bowl = with_saw(make_bowl(bowl_tables(tilt=tilts, kerf="0.7 mm")), SAW)
    assert bowl.cut.tilt_rad == tuple(pytest.approx(deg(5.6 + 0.2 * j)) for j in range(10))
    moved = with_input(bowl, "cut.scale_offset_rad", deg(-0.1))
    assert moved.cut.tilt_rad == tuple(pytest.approx(deg(4.9 + 0.2 * j)) for j in range(10))


def test_corners_of_a_bowl_reach_little_further_than_the_drop_ahead() -> None:
    """One ring at the bowl's own tilt: its drops lie 1 to 1.45 times as far apart as predicted."""
    saw = estimate_saw(ScrapCuts(rings=(Ring(deg(5), 7.4),))).saw
    bowl = with_saw(make_bowl(bowl_tables()), saw)
    drops = [b.cut.kerf_mm[0] / math.sin(b.cut.tilt_rad[0]) for b in corners(bowl)]
    ahead = drop_at(saw, scale_tilt_rad=deg(5))
    assert 1.0 <= (max(drops) - min(drops)) / (ahead.high_mm - ahead.low_mm) <= 1.45


def test_a_saw_that_leaves_no_tilt_is_refused() -> None:
    """A scale that reads more than the tilt asked for leaves the blade square or leaning the other way."""
    saw = replace(SAW, tilt_offset_rad=deg(-1.5))
    with pytest.raises(InputError, match=r"cut\.tilt = 1 deg: expected more than 1\.50 deg"):
        with_saw(make_bowl(bowl_tables(tilt="1 deg")), saw)


def test_a_kerf_hardly_known_is_refused() -> None:
    """A saw whose kerf may be nothing cannot be laid on a bowl."""
    with pytest.raises(InputError, match="a kerf known better than that"):
        with_saw(make_bowl(bowl_tables()), replace(SAW, kerf_sd_mm=0.5))


def test_a_search_that_does_not_settle_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Readings whose sum never settles end with an error, not with numbers."""
    monkeypatch.setattr("fitsim.saw.test_cuts.GRID_PASSES", 0)
    with pytest.raises(NoConvergenceError):
        estimate_saw(ScrapCuts(rings=(Ring(deg(5), 7.4),)))
