"""Strength across the grain of a board from strips broken by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from fitsim.errors import InputError
from fitsim.saw.break_test import (
    BreakTests,
    BrokenStrip,
    estimate_strength,
    log_strength_likelihood,
    refuse_strips,
    strength_density,
    strip_loads_N,
)
from fitsim.wood.across_grain import STANDARD_STRIP, StripSize

SIZES = (StripSize(10.0, 6.0, 60.0), StripSize(12.0, 5.0, 55.0), StripSize(9.0, 7.0, 80.0))
VOLUMES_mm3 = {5.0: 28_400.0, 6.0: 30_500.0, 8.0: 38_600.0, 10.0: 53_800.0}


def strips(*loads_N: float, exact: bool = False) -> tuple[BrokenStrip, ...]:
    """Strips of unequal size that broke at these loads."""
    errors = {"load_sd_N": 0.0, "size_sd_mm": 0.0} if exact else {}
    return tuple(BrokenStrip(load, SIZES[i % 3], **errors) for i, load in enumerate(loads_N))


def board_of(*loads_N: float, exact: bool = False, **more: float) -> BreakTests:
    """Break tests of a cherry board, moist as the handbook has it."""
    fixed = {"moisture_percent": 12.0, "moisture_sd_percent": 0.0, **more}
    return BreakTests(strips(*loads_N, exact=exact), "cherry, black", 3.9, **fixed)


def carried(strip: BrokenStrip, shape: float) -> float:
    """Stress at break at the handbook's volume, by their textbook formulas alone."""
    size = strip.size
    stress = 3 * strip.load_N * size.span_mm / (2 * size.width_mm * size.thickness_mm**2)
    volume = size.width_mm * size.thickness_mm * size.span_mm / (2 * (shape + 1) ** 2)
    return stress * (volume / VOLUMES_mm3[shape]) ** (1 / shape)


@pytest.mark.parametrize("shape", [5.0, 8.0])
def test_exact_strips_have_the_weibull_chance(shape: float) -> None:
    """Read without error, a strip's chance is the Weibull density whose mean is the board's f B."""
    tests = board_of(31.0, 44.0, exact=True)
    at = np.log(np.array([2.2, 3.1, 4.9]))
    expected = np.zeros(3)
    for strip in tests.strips:
        scale = np.exp(at) / math.gamma(1 + 1 / shape)
        ratio = carried(strip, shape) / scale
        expected += np.log(shape) + shape * np.log(ratio) - ratio**shape  # density of the logarithm
    assert log_strength_likelihood(tests, at, shape) == pytest.approx(expected, abs=1e-6)


def test_posterior_against_random_draws() -> None:
    """Mean and scatter agree with boards drawn from the belief and weighed by the chance of three loads."""
    tests = board_of(30.0, 41.0, 36.0, common_sd=0.06, handbook_sd=0.1)
    rng = np.random.default_rng(4)
    count, shape = 300_000, 6.0
    within = math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2
    boards = math.log(1.0625 / within)
    board = (
        3.9 * 0.87 * np.exp(rng.normal(-boards / 2, math.sqrt(boards), count) + rng.normal(0, 0.1, count))
    )
    shared = np.exp(rng.normal(0, 0.06, count))
    weight = np.ones(count)
    for strip in tests.strips:
        read = np.exp(rng.normal(0, strip.log_sd, count))  # one draw of its reading errors for each board
        scale = board * shared * read / math.gamma(1 + 1 / shape)
        ratio = carried(strip, shape) / scale
        weight *= ratio**shape * np.exp(-(ratio**shape))
    mean = float(weight @ board / weight.sum())
    sd = math.sqrt(float(weight @ (board - mean) ** 2 / weight.sum()))
    across = estimate_strength(tests).strength.across
    assert across.at_shape(6.0)[0] == pytest.approx(mean, rel=0.005)
    assert across.at_shape(6.0)[1] == pytest.approx(sd / mean, rel=0.02)


def test_reading_errors_of_a_strip_by_hand() -> None:
    """A load to 2 N in 40, a width to 0.1 mm in 12.5 and a thickness to 0.1 in 5, squared: 6.5 percent."""
    strip = BrokenStrip(40.0, StripSize(12.5, 5.0, 60.0), load_sd_N=2.0, size_sd_mm=0.1)
    assert strip.log_sd == pytest.approx(math.sqrt(0.05**2 + 0.008**2 + 0.04**2))


def test_before_any_strip_tells_the_board_is_the_belief() -> None:
    """A strip read hopelessly badly leaves mean f and scatter of boards and handbook together."""
    hopeless = replace(board_of(35.0), common_sd=3.0)
    found, _ = strength_density(hopeless, 6.0)
    mean = float(found.share @ np.exp(found.value))
    within = math.gamma(1 + 2 / 6) / math.gamma(1 + 1 / 6) ** 2
    spread = math.log(1.0625 / within) + 0.125**2
    assert mean == pytest.approx(3.9 * 0.87 * math.exp(0.125**2 / 2), rel=0.01)
    assert found.sd == pytest.approx(math.sqrt(spread), rel=0.01)


def test_many_exact_strips_leave_the_board_itself() -> None:
    """Six hundred exact strips of one board give back its f B, with a scatter near 1/(m sqrt(n))."""
    rng = np.random.default_rng(2)
    shape, board = 6.0, 4.4
    scale = board * (30_500 / (3600 / 98)) ** (1 / shape) / math.gamma(1 + 1 / shape)
    loads = scale * rng.weibull(shape, 600) * 2 * 10 * 36 / (3 * 60)
    many = tuple(BrokenStrip(float(load), STANDARD_STRIP, 0.0, 0.0) for load in loads)
    tests = BreakTests(many, "cherry, black", 3.9, 0.0, 12.0, 0.0, common_sd=0.0)
    mean, cov = estimate_strength(tests).strength.across.at_shape(6.0)
    assert cov == pytest.approx(1 / (shape * math.sqrt(600)), rel=0.15)
    assert mean == pytest.approx(board, rel=4 * cov)


@settings(max_examples=15)
@given(st.floats(0.5, 2.0))
def test_everything_stronger_scales_the_board_alone(times: float) -> None:
    """Loads, their errors and the handbook times the same number: f B grows by it and the factor stays."""
    one = board_of(31.0, 44.0, 37.0)
    other = replace(
        one,
        handbook_MPa=3.9 * times,
        strips=tuple(
            replace(s, load_N=s.load_N * times, load_sd_N=s.load_sd_N * times) for s in one.strips
        ),
    )
    a, b = estimate_strength(one), estimate_strength(other)
    assert b.low_MPa == pytest.approx(times * a.low_MPa, rel=1e-3)
    assert b.high_MPa == pytest.approx(times * a.high_MPa, rel=1e-3)
    assert b.board_factor == pytest.approx(a.board_factor, rel=1e-3)
    assert b.board_factor_cov == pytest.approx(a.board_factor_cov, rel=1e-2)


def test_shape_and_strength_are_tied_through_the_strips_own_volume() -> None:
    """With many strips every shape predicts the same load of a strip like them, however f B differs."""
    tests = replace(board_of(*[38.0] * 4), strips=strips(*[38.0] * 40)[::3])
    found = estimate_strength(tests).strength.across
    stress = [
        mean * (VOLUMES_mm3[m] / (3600 / (2 * (m + 1) ** 2))) ** (1 / m)
        for m, mean in zip(VOLUMES_mm3, found.mean_MPa, strict=True)
    ]
    assert found.mean_MPa[3] > 1.3 * found.mean_MPa[0]
    assert max(stress) / min(stress) < 1.1


def test_moist_strips_of_a_strong_board_break_as_early_as_dry_ones_of_a_weak() -> None:
    """The same loads at 18 percent speak for a board 1/0.854 as strong as at 12."""
    dry, moist = (strength_density(board_of(33.0, 40.0, moisture_percent=v, handbook_sd=50.0), 6.0)[0]
                  for v in (12.0, 18.0))  # fmt: skip
    assert moist.mean - dry.mean == pytest.approx(-math.log(0.85 + 12 * 0.005 / 14), abs=2e-3)


def test_strips_not_weighed_say_less() -> None:
    """Where the strips' moisture is only guessed the board stays less well known."""
    known = estimate_strength(board_of(33.0, 40.0)).board_factor_cov
    guessed = estimate_strength(board_of(33.0, 40.0, moisture_sd_percent=3.0)).board_factor_cov
    assert guessed > known


def test_quarter_sawn_boards_are_expected_stronger() -> None:
    """The handbook's 3.9 MPa is expected as 0.87 of it flat-sawn and 1.13 of it quarter-sawn."""
    flat = estimate_strength(board_of(36.0))
    quarter = estimate_strength(replace(board_of(36.0), ring_angle_rad=math.pi / 2))
    assert (flat.before_MPa, quarter.before_MPa) == pytest.approx((3.393, 4.407))
    assert quarter.board_factor < flat.board_factor


def test_further_strips_break_where_these_did() -> None:
    """What further strips of the same size would bear lies round the mean of many that were broken."""
    tests = replace(
        board_of(30.0), strips=tuple(BrokenStrip(39.0 + d, STANDARD_STRIP) for d in (-6, 3, 6, -3) * 6)
    )
    middle, low, high = strip_loads_N(tests, STANDARD_STRIP)
    assert low < middle < high
    assert middle == pytest.approx(39.0, rel=0.05)
    moist = replace(tests, moisture_percent=16.0)
    assert strip_loads_N(moist, STANDARD_STRIP)[0] == pytest.approx(middle, rel=0.05)


def test_the_strip_that_does_not_fit_is_named() -> None:
    """A strip that broke at a quarter of the others' load is named, with what they would have it bear."""
    tests = replace(
        board_of(1.0), strips=tuple(BrokenStrip(v, STANDARD_STRIP) for v in (40, 44, 38, 41, 9.0))
    )
    with pytest.raises(InputError) as caught:
        refuse_strips(estimate_strength(tests), where="t.toml")
    said = str(caught.value)
    # The geometric mean of the others is 40.7 N, 4.15 kg.
    assert said.startswith("t.toml: break 5 = 0.92 kg: expected about 4.1 kg by all the other strips")


def test_a_wrong_unit_is_refused_with_what_to_check() -> None:
    """Loads typed as pounds that were kilograms, and thickness twice too large, are named as far off."""
    loads = [v * 9.80665 * 5 for v in (4.1, 3.6, 4.4, 3.9)]
    with pytest.raises(
        InputError, match=r"strength\.handbook_within: expected strips not far off"
    ) as caught:
        refuse_strips(estimate_strength(board_of(*loads)))
    assert "5." in str(caught.value).split("they are")[1]
    refuse_strips(estimate_strength(board_of(*loads, handbook_sd=1.0)))


def test_one_weak_strip_of_a_good_board_is_no_contradiction() -> None:
    """A single strip at half the expected load happens to one honest board in fifty: it is taken.

    It pulls the board down far less than it lies low itself; one at a fifth of the load is refused.
    """
    weak, usual = (estimate_strength(board_of(share * 38.0)) for share in (0.45, 1.0))
    refuse_strips(weak)
    assert weak.agreement.doubtful == ()
    assert 0.7 * usual.board_factor < weak.board_factor < usual.board_factor
    with pytest.raises(InputError, match="only 0\\.18 times as strong"):
        refuse_strips(estimate_strength(board_of(0.2 * 38.0)))


def chance_by_quadrature(tests: BreakTests, shape: float) -> float:
    """Of one strip and a board so far apart or further: an integral over one exponential number.

    On a flat belief log s = reading + log Gamma(1 + 1/m) - log(E)/m + errors, E exponential with mean 1;
    the belief and every error are normal, so what is left is the mean of Phi over E.
    """
    (strip,) = tests.strips
    size = strip.size
    within = math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2
    boards = math.log(1.0625 / within)
    believed = math.log(tests.handbook_MPa * 0.87) - boards / 2
    usual_stress = (
        tests.handbook_MPa
        * 0.87
        * (VOLUMES_mm3[shape] / (size.width_mm * size.thickness_mm * size.span_mm / (2 * (shape + 1) ** 2)))
        ** (1 / shape)
    )
    usual_N = usual_stress * 2 * size.width_mm * size.thickness_mm**2 / (3 * size.span_mm)
    sd = math.sqrt(
        boards
        + tests.handbook_sd**2
        + tests.common_sd**2
        + (strip.load_sd_N / max(strip.load_N, usual_N)) ** 2
        + (strip.size_sd_mm / size.width_mm) ** 2
        + (2 * strip.size_sd_mm / size.thickness_mm) ** 2
    )
    off = math.log(carried(strip, shape)) + math.lgamma(1 + 1 / shape) - believed

    def stronger(log_e: float, sign: float) -> float:
        share = math.exp(log_e - math.exp(log_e))  # density of log E
        return share * 0.5 * math.erfc(sign * (off - log_e / shape) / sd / math.sqrt(2))

    sides = [quad(stronger, -60, 6, args=(sign,), limit=400)[0] for sign in (1.0, -1.0)]
    return 2 * min(sides)


@pytest.mark.parametrize("handbook_MPa", [1.9, 3.9, 6.5])
def test_strips_far_off_are_refused_however_far_on_both_sides(handbook_MPa: float) -> None:
    """From a tenth of a gram to half a tonne: taken in one stretch of loads, the one quadrature names.

    Nothing between a reading that is refused as too weak, or too strong, and any further one is taken. What
    one strip makes of the board is worked out at each eighth load: alone it contradicts no other, and else
    nothing of the estimate has a say in it but the strip itself.
    """
    loads_N = np.geomspace(1e-3, 5000, 61)
    taken, expected = [], []
    for number, load in enumerate(loads_N):
        tests = replace(board_of(float(load)), handbook_MPa=handbook_MPa)
        if number % 8 == 0:
            estimate = estimate_strength(tests)
            assert estimate.agreement.doubtful == ()
        try:
            refuse_strips(replace(estimate, tests=tests))
            taken.append(True)
        except InputError:
            taken.append(False)
        expected.append(max(chance_by_quadrature(tests, shape) for shape in VOLUMES_mm3) >= 0.001)
    assert taken == expected
    first, last = taken.index(True), len(taken) - 1 - taken[::-1].index(True)
    assert 0 < first < last < len(taken) - 1
    assert all(taken[first : last + 1])


def test_several_absurd_strips_are_refused_and_a_wide_belief_takes_them() -> None:
    """Two strips 100 times as strong are far off; who doubts the handbook so much is told 100 times."""
    usual = 38.0
    loads = (100 * usual, 104 * usual)
    two = replace(board_of(1.0), strips=tuple(BrokenStrip(v, STANDARD_STRIP) for v in loads), common_sd=0.0)
    with pytest.raises(InputError, match="not far off the handbook's"):
        refuse_strips(estimate_strength(two))
    wide = replace(two, handbook_sd=3.0)
    found = estimate_strength(wide)
    refuse_strips(found)
    usual_board = estimate_strength(
        replace(
            wide,
            strips=tuple(
                replace(s, load_N=s.load_N / 100, load_sd_N=s.load_sd_N / 100) for s in two.strips
            ),
            handbook_MPa=two.handbook_MPa / 100,
        )
    )
    # Everything a hundredth, the belief with it: the same board in other units.
    assert found.low_MPa == pytest.approx(100 * usual_board.low_MPa, rel=1e-2)
    assert found.board_factor == pytest.approx(usual_board.board_factor, rel=1e-2)
