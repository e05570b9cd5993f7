"""Friction from off-cuts that slide on one another."""

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.errors import InputError
from fitsim.saw.slide_test import Slide, SlideTests, estimate_friction, refuse_slides, slide_angle_rad

ENDS = NormalDist().inv_cdf(0.95)


def deg(value: float) -> float:
    """Degrees as radians."""
    return math.radians(value)


def exact(*degrees: float, varies: float = 0.1, stands_for: float = 0.0) -> SlideTests:
    """Slides read without error."""
    slides = tuple(Slide(deg(v), sd_rad=0.0) for v in degrees)
    return SlideTests(slides, "oil", "cherry, black", 0.2, 0.55, varies, stands_for)


def conjugate(tests: SlideTests) -> tuple[float, float]:
    """Mean and deviation of log friction by hand: normal belief, normal slides, one error they share."""
    low, high = math.log(tests.believed_low), math.log(tests.believed_high)
    believed, believed_sd = (low + high) / 2, (high - low) / 2 / ENDS
    logs = [math.log(math.tan(s.angle_rad)) for s in tests.slides]
    variance = tests.varies_sd**2 / len(logs) + tests.stands_for_sd**2
    weights = 1 / believed_sd**2, 1 / variance
    mean = (weights[0] * believed + weights[1] * sum(logs) / len(logs)) / sum(weights)
    return mean, sum(weights) ** -0.5


@pytest.mark.parametrize("stands_for", [0.0, 0.08])
@pytest.mark.parametrize("angles", [(17.0,), (19.0, 23.5, 21.0, 16.0, 27.0, 20.0)])
def test_exact_angles_give_the_conjugate_normal(angles: tuple[float, ...], stands_for: float) -> None:
    """With angles read exactly the range is that of a product of normal distributions of log friction."""
    tests = exact(*angles, varies=0.12, stands_for=stands_for)
    found = estimate_friction(tests).friction
    mean, sd = conjugate(tests)
    assert found.friction == pytest.approx(math.exp(mean), rel=1e-3)
    assert found.low == pytest.approx(math.exp(mean - ENDS * sd), rel=2e-3)
    assert found.high == pytest.approx(math.exp(mean + ENDS * sd), rel=2e-3)
    assert (found.slides, found.finish, found.wood) == (len(angles), "oil", "cherry, black")


@given(st.floats(12, 32), st.integers(2, 12))
def test_more_slides_narrow_and_the_shared_error_stays(angle: float, count: int) -> None:
    """More slides always narrow the range, never below what off-cuts and bowl do not share."""
    tests = exact(angle, varies=0.12, stands_for=0.06)
    one = estimate_friction(tests).friction
    many = estimate_friction(replace(tests, slides=tests.slides * count)).friction
    assert many.high / many.low < one.high / one.low
    belief = math.log(0.55 / 0.2) / 2 / ENDS
    floor = (1 / belief**2 + 1 / 0.06**2) ** -0.5
    assert math.log(many.high / many.low) / 2 / ENDS > 0.999 * floor


def test_an_angle_read_worse_says_less() -> None:
    """The same slide read within 6 degrees pulls less from the belief than read within 1."""
    steep = [
        estimate_friction(
            SlideTests((Slide(deg(28), sd_rad=deg(sd)),), "oil", "", 0.2, 0.55)
        ).friction.friction
        for sd in (0.5, 3.0)
    ]
    assert math.sqrt(0.2 * 0.55) < steep[1] < steep[0] < math.tan(deg(28))


def test_reading_error_in_angle_against_random_draws() -> None:
    """The range agrees with draws from the belief weighed by the chance of two angles read with error."""
    rng = np.random.default_rng(8)
    low, high = math.log(0.2), math.log(0.55)
    log_mu = rng.normal((low + high) / 2, (high - low) / 2 / ENDS, 400_000)
    weight = np.ones(log_mu.size)
    for angle, sd in ((15.0, 1.5), (22.0, 1.0)):
        slid = np.arctan(np.exp(log_mu + rng.normal(0, 0.1, log_mu.size)))
        weight *= np.exp(-0.5 * ((deg(angle) - slid) / deg(sd)) ** 2)
    order = np.argsort(log_mu)
    below = np.cumsum(weight[order]) / weight.sum()
    drawn = [math.exp(log_mu[order][np.searchsorted(below, q)]) for q in (0.05, 0.5, 0.95)]
    slides = (Slide(deg(15), sd_rad=deg(1.5)), Slide(deg(22), sd_rad=deg(1.0)))
    found = estimate_friction(SlideTests(slides, "oil", "", 0.2, 0.55, 0.1, 0.0)).friction
    # The angle's error is taken as normal in log friction: good to a percent of friction here.
    assert (found.low, found.friction, found.high) == pytest.approx(drawn, rel=0.015)


def test_one_that_held_pulls_up_alone() -> None:
    """An off-cut that held to a steep tilt raises friction; one that held where all hold says nothing."""
    base = exact(20.0)
    found = [
        estimate_friction(replace(base, slides=(*base.slides, Slide(deg(v), held=True)))).friction.friction
        for v in (3.0, 26.0)
    ]
    alone = estimate_friction(base).friction.friction
    assert found[0] == pytest.approx(alone, rel=1e-4)
    assert found[1] > 1.02 * alone


def test_the_slide_that_does_not_fit_is_named() -> None:
    """Of slides that cannot all be right the odd one is named with the angle the others give."""
    with pytest.raises(InputError) as caught:
        refuse_slides(estimate_friction(exact(20.0, 21.0, 19.0, 38.0)), where="t.toml")
    said = str(caught.value)
    assert said.startswith("t.toml: slide 4 = 38.0 deg: expected about 20 deg by all the other slides")
    assert "chi-square" in said
    with pytest.raises(InputError, match=r"slide 1 and slide 2 do not|slide 2 and slide 1 do not"):
        refuse_slides(estimate_friction(exact(14.0, 30.0)))


def test_a_held_one_does_not_shift_the_count() -> None:
    """The number in the message is the slide's own place in the file, those that held counted too."""
    slides = (Slide(deg(10), held=True), *exact(20.0, 21.0, 19.0, 38.0).slides)
    with pytest.raises(InputError, match=r"slide 5 = 38\.0 deg"):
        refuse_slides(estimate_friction(replace(exact(20.0), slides=slides)))


def test_friction_far_off_the_belief_names_the_line_to_write() -> None:
    """Slides that agree far outside the finish's range are refused with the belief to write instead."""
    wax = replace(exact(36.0, 37.0, 35.0), finish="wax", believed_low=0.1, believed_high=0.2)
    with pytest.raises(InputError) as caught:
        refuse_slides(estimate_friction(wax), where="t.toml")
    said = str(caught.value)
    assert said.startswith("t.toml: friction.believed = 0.73: expected slides near 0.1 to 0.2")
    assert 'believed = "0.1 to 0.94"' in said
    refuse_slides(estimate_friction(replace(wax, believed_high=0.94)))


def test_angle_and_friction_are_each_other() -> None:
    """The tangent of the angle is the friction: 0.3 slides at 16.7 degrees, 1 at 45."""
    assert math.degrees(slide_angle_rad(0.3)) == pytest.approx(16.699, abs=1e-3)
    assert slide_angle_rad(1.0) == pytest.approx(math.pi / 4)


def test_one_that_held_far_beyond_those_that_slid_is_named() -> None:
    """Two slid at 15 degrees and one held to 40: it is named with its place, and what the others give."""
    slides = (Slide(deg(40), held=True), Slide(deg(15)), Slide(deg(15)))
    with pytest.raises(InputError) as caught:
        refuse_slides(estimate_friction(replace(exact(15.0), slides=slides)), where="t.toml")
    said = str(caught.value)
    assert said.startswith(
        "t.toml: slide 1 = held to 40.0 deg: expected about 15 deg by all the other slides"
    )
    assert "stuck" in said
    assert "dusty" not in said
    # Of two that held to 40 and one that slid at 15 the last is the odd one; the others set no upper end.
    slides = (*slides[:2], Slide(deg(38), held=True))
    with pytest.raises(InputError, match=r"slide 2 = 15\.0 deg: expected 40 deg or more by all the other"):
        refuse_slides(estimate_friction(replace(exact(15.0), slides=slides)))
    # One that held a little beyond where others slid is no contradiction.
    slides = (Slide(deg(17), held=True), Slide(deg(15)), Slide(deg(16)))
    refuse_slides(estimate_friction(replace(exact(15.0), slides=slides)))


def test_one_that_held_where_the_finish_never_holds_is_refused() -> None:
    """Wax that held to 40 degrees is as far off its 0.1 to 0.3 as a slide there, and asks for a belief."""
    wax = replace(exact(20.0), slides=(Slide(deg(40), held=True),), finish="wax")
    wax = replace(wax, believed_low=0.1, believed_high=0.3)
    with pytest.raises(InputError) as caught:
        refuse_slides(estimate_friction(wax), where="t.toml")
    said = str(caught.value)
    assert said.startswith("t.toml: friction.believed = 0.84 or more: expected slides near 0.1 to 0.3")
    assert 'believed = "0.1 to 1.1"' in said
    refuse_slides(estimate_friction(replace(wax, believed_high=1.1)))
    # tan 18 deg = 0.32 lies beyond the range, and 1 in 20 does.
    refuse_slides(estimate_friction(replace(wax, slides=(Slide(deg(18), held=True),))))
    # One that held to next to nothing says nothing, however low.
    refuse_slides(estimate_friction(replace(wax, slides=(Slide(deg(0.5), held=True),))))
