"""Strength across the grain carried between pieces by their stressed volumes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.wood.across_grain import (
    SHAPES,
    STANDARD_STRIP,
    STANDARD_STRIP_INCH,
    BoardAcross,
    StripSize,
    across_at_moisture,
    beam_stress_MPa,
    board_scatter,
    mean_load_N,
    ring_factor,
    standard_strip,
    weibull_shape,
)


@pytest.mark.parametrize("shape", [5.0, 6.3, 10.0])
def test_effective_volume_is_the_integral_of_stress_to_the_shape(shape: float) -> None:
    """Of a beam loaded in its middle it sums (stress over the greatest)^m over the tension half."""
    strip = StripSize(width_mm=9.0, thickness_mm=5.0, span_mm=70.0)
    along = (np.arange(2000) + 0.5) / 2000 * 35.0  # half the span, stress growing to its middle
    deep = (np.arange(500) + 0.5) / 500 * 2.5  # from the middle plane to the outer face
    stress = (along[:, None] / 35.0) * (deep[None, :] / 2.5)
    summed = 2 * 9.0 * float((stress**shape).sum()) * (35.0 / 2000) * (2.5 / 500)
    assert strip.volume_mm3(shape) == pytest.approx(summed, rel=1e-4)


def test_stress_of_a_strip_by_hand() -> None:
    """50 N in the middle of 80 mm bends 12 x 7 mm with 1 N m, which is 10.2 MPa in its outer face."""
    strip = StripSize(width_mm=12.0, thickness_mm=7.0, span_mm=80.0)
    moment, modulus = 50 * 80 / 4, 12 * 7**2 / 6
    assert beam_stress_MPa(strip, 50.0) == pytest.approx(moment / modulus)
    assert moment / modulus == pytest.approx(10.204, abs=1e-3)


def test_a_small_strip_bears_three_times_the_handbook() -> None:
    """At 10 x 6 x 60 mm and shape 6 a strip bears (30500/36.7)^(1/6) times the handbook's piece."""
    load = mean_load_N(STANDARD_STRIP, mean_MPa=4.0, shape=6.0, moisture_percent=12.0)
    factor = beam_stress_MPa(STANDARD_STRIP, load) / 4.0
    assert factor == pytest.approx((30_500 / (3600 / 98)) ** (1 / 6))
    assert factor == pytest.approx(3.07, abs=0.01)


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
    boards = math.log(1 + board_scatter(shape) ** 2)
    drawn = rng.weibull(shape, 400_000) * rng.lognormal(-boards / 2, math.sqrt(boards), 400_000)
    assert drawn.std() / drawn.mean() == pytest.approx(0.25, rel=0.01)


def test_what_is_kept_spans_the_shapes() -> None:
    """The shape taken and both its ends are among those for which a tested board is kept."""
    taken = weibull_shape()
    assert (SHAPES[0], SHAPES[-1]) == (taken.low, taken.high)
    assert taken.value in SHAPES


def test_a_board_is_pulled_its_own_way() -> None:
    """Flat-sawn hardwood bears 0.87 of the handbook's mean, quarter-sawn 1.13, at 45 deg 0.75.

    Softwood flat-sawn bears 0.92. Between them cos^2 and sin^2 share, less 0.25 sin^2 of twice the angle.
    """
    assert ring_factor(0.0) == pytest.approx(0.87)
    assert ring_factor(math.pi / 2) == pytest.approx(1.13)
    assert ring_factor(math.pi / 4) == pytest.approx(0.75)
    assert ring_factor(0.0, softwood=True) == pytest.approx(0.92)
    assert ring_factor(math.radians(30)) == pytest.approx((0.75 * 0.87 + 0.25 * 1.13) * (1 - 0.25 * 0.75))


def test_moisture_weakens_along_its_parabola() -> None:
    """Through 1.12 at 6, 1 at 12 and 0.80 at 20 percent; beyond 0 and 30 it stays as there."""
    parabola = np.polyfit([6.0, 12.0, 20.0], [1.12, 1.0, 0.8], 2)
    for percent in (3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 28.0):
        assert across_at_moisture(percent) == pytest.approx(np.polyval(parabola, percent))
    assert across_at_moisture(-1.0) == pytest.approx(np.polyval(parabola, 0.0))
    assert across_at_moisture(33.0) == pytest.approx(np.polyval(parabola, 30.0))


def test_a_board_at_any_shape() -> None:
    """Between shapes the mean's logarithm and the scatter go straight along one over the shape."""
    board = BoardAcross((2.0, 2.4, 3.0, 3.5), (0.12, 0.11, 0.10, 0.08), 0.1, 2.5)
    assert board.at_shape(8.0) == pytest.approx((3.0, 0.10))
    assert board.factor(8.0) == pytest.approx(1.2)
    half = (1 / 5 + 1 / 6) / 2
    assert board.at_shape(1 / half) == pytest.approx((math.sqrt(2.0 * 2.4), 0.115))


def test_the_strip_in_either_units() -> None:
    """A maker who writes inches is told a strip that can be marked in inches, of about the same size."""
    assert standard_strip("mm") == STANDARD_STRIP
    inch = standard_strip("in")
    assert inch == STANDARD_STRIP_INCH
    assert (inch.width_mm, inch.thickness_mm, inch.span_mm) == pytest.approx((25.4 * 3 / 8, 6.35, 63.5))
