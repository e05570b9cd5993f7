"""Strength across the grain carried between pieces by their stressed volumes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.acrossgrain import (
    SHAPES,
    STANDARD_STRIP,
    STANDARD_STRIP_INCH,
    BoardAcross,
    StripSize,
    across_at_moisture,
    beam_stress_MPa,
    beam_volume_mm3,
    between_boards_cov,
    mean_load_N,
    reference_volume_mm3,
    ring_factor,
    standard_strip,
    within_board_cov,
)


@pytest.mark.parametrize("shape", [5.0, 6.3, 10.0])
def test_effective_volume_is_the_integral_of_stress_to_the_shape(shape: float) -> None:
    """Of a beam loaded in its middle it sums (stress over the greatest)^m over the tension half."""
    strip = StripSize(width_mm=9.0, thickness_mm=5.0, span_mm=70.0)
    along = (np.arange(2000) + 0.5) / 2000 * 35.0  # half the span, stress growing to its middle
    deep = (np.arange(500) + 0.5) / 500 * 2.5  # from the middle plane to the outer face
    stress = (along[:, None] / 35.0) * (deep[None, :] / 2.5)
    summed = 2 * 9.0 * float((stress**shape).sum()) * (35.0 / 2000) * (2.5 / 500)
    assert beam_volume_mm3(strip, shape) == pytest.approx(summed, rel=1e-4)


def test_stress_of_a_strip_by_hand() -> None:
    """50 N in the middle of 80 mm bends 12 x 7 mm with 1 N m, which is 10.2 MPa in its outer face."""
    strip = StripSize(width_mm=12.0, thickness_mm=7.0, span_mm=80.0)
    moment, modulus = 50 * 80 / 4, 12 * 7**2 / 6
    assert beam_stress_MPa(strip, 50.0) == pytest.approx(moment / modulus)
    assert moment / modulus == pytest.approx(10.204, abs=1e-3)


def test_a_small_strip_bears_three_times_the_handbook() -> None:
    """At 10 x 6 x 60 mm and shape 6 a strip bears (27000/36.7)^(1/6) times the handbook's piece."""
    load = mean_load_N(STANDARD_STRIP, mean_MPa=4.0, shape=6.0, moisture_percent=12.0)
    factor = beam_stress_MPa(STANDARD_STRIP, load) / 4.0
    assert factor == pytest.approx((27_000 / (3600 / 98)) ** (1 / 6))
    assert factor == pytest.approx(3.0, abs=0.01)


@given(st.floats(5, 10), st.floats(0.3, 40))
def test_n_pieces_in_a_row_break_at_the_weakest(shape: float, times: float) -> None:
    """A piece n times as large has the mean of the weakest of n: n^(-1/m) of one."""
    one = StripSize(10.0, 6.0, 60.0)
    large = StripSize(10.0 * times, 6.0, 60.0)
    stresses = [
        beam_stress_MPa(s, mean_load_N(s, mean_MPa=3.0, shape=shape, moisture_percent=12.0))
        for s in (one, large)
    ]
    assert stresses[1] / stresses[0] == pytest.approx(times ** (-1 / shape))


@pytest.mark.parametrize("shape", SHAPES)
def test_both_scatters_together_are_the_one_that_is_held(shape: float) -> None:
    """Weibull pieces of lognormal boards scatter by 25 percent altogether, whatever the shape."""
    rng = np.random.default_rng(int(shape))
    boards = math.log(1 + between_boards_cov(shape) ** 2)
    drawn = rng.weibull(shape, 400_000) * rng.lognormal(-boards / 2, math.sqrt(boards), 400_000)
    assert drawn.std() / drawn.mean() == pytest.approx(0.25, rel=0.01)
    weibull = rng.weibull(shape, 400_000)
    assert within_board_cov(shape) == pytest.approx(weibull.std() / weibull.mean(), rel=0.01)


def test_reference_volume_between_its_four() -> None:
    """It goes through the four that were worked out, grows with the shape, and stays at its ends."""
    assert [reference_volume_mm3(m) for m in SHAPES] == pytest.approx([25_500, 27_000, 32_000, 41_000])
    assert 27_000 < reference_volume_mm3(7.0) < 32_000
    assert (reference_volume_mm3(4.0), reference_volume_mm3(12.0)) == pytest.approx((25_500, 41_000))


def test_a_board_is_pulled_its_own_way() -> None:
    """Flat-sawn boards bear 0.87 of the handbook's mean, quarter-sawn 1.13, others between."""
    assert ring_factor(0.0) == pytest.approx(0.87)
    assert ring_factor(math.pi / 2) == pytest.approx(1.13)
    assert ring_factor(math.radians(30)) == pytest.approx(0.75 * 0.87 + 0.25 * 1.13)


def test_moisture_weakens_along_its_line() -> None:
    """Plus 12 percent at 6, minus 20 at 20, against 12; the lines go on beyond."""
    found = [across_at_moisture(v) for v in (3.0, 6.0, 9.0, 12.0, 16.0, 20.0)]
    assert found == pytest.approx([1.18, 1.12, 1.06, 1.0, 0.9, 0.8])


def test_a_board_at_any_shape() -> None:
    """Between shapes the mean's logarithm and the scatter go straight along one over the shape."""
    board = BoardAcross((2.0, 2.4, 3.0, 3.5), (0.12, 0.11, 0.10, 0.08), 0.1)
    assert board.at_shape(8.0) == pytest.approx((3.0, 0.10))
    half = (1 / 5 + 1 / 6) / 2
    assert board.at_shape(1 / half) == pytest.approx((math.sqrt(2.0 * 2.4), 0.115))


def test_the_strip_in_either_units() -> None:
    """A maker who writes inches is told a strip that can be marked in inches, of about the same size."""
    assert standard_strip("mm") == STANDARD_STRIP
    inch = standard_strip("in")
    assert inch == STANDARD_STRIP_INCH
    assert (inch.width_mm, inch.thickness_mm, inch.span_mm) == pytest.approx((25.4 * 3 / 8, 6.35, 63.5))
