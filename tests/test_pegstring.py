"""Peg and string: the drawn curve against the law of the involute and the even spiral."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.errors import OutsideModelError
from fitsim.pattern.peg_and_string import departure_mm, involute_mm, peg_string, pitch_of_peg_mm


@given(working=st.floats(1.5, 9.0), stop=st.floats(20, 60), turns=st.floats(2.2, 6.0))
def test_neighbouring_turns_of_the_generated_curve(working: float, stop: float, turns: float) -> None:
    """The next turn inside is pi times the working diameter away, square to the curve."""
    start = stop + turns * math.pi * working
    curve = involute_mm(working_mm=working, start_radius_mm=start, stop_radius_mm=stop, points=12001)
    for index in (0, 900):
        away = np.hypot(*(curve - curve[index]).T)
        polar = np.unwrap(np.arctan2(curve[:, 1], curve[:, 0]))
        next_turn = np.abs(np.abs(polar - polar[index]) - 2 * math.pi) < 0.8
        assert away[next_turn].min() == pytest.approx(math.pi * working, rel=5e-4)


def test_string_is_taut_and_touches_the_peg() -> None:
    """Along the curve's normal the string touches the peg's circle, rho from the axis."""
    curve = involute_mm(working_mm=6.4, start_radius_mm=90, stop_radius_mm=40, points=200001)
    for index in (500, 90000, 170000):
        along = curve[index + 1] - curve[index - 1]
        normal = np.array([-along[1], along[0]]) / np.hypot(*along)
        x, y = curve[index]
        assert abs(x * normal[1] - y * normal[0]) == pytest.approx(3.2, rel=1e-4)


def test_departure_from_the_even_spiral() -> None:
    """The departure is rho^2/2 (1/r_stop - 1/r_start), the first term for a thin peg."""
    rho = 22.0 / (2 * math.pi)
    wanted = rho**2 / 2 * (1 / 80 - 1 / 300)
    assert departure_mm(pitch_mm=22.0, start_radius_mm=300, stop_radius_mm=80) == pytest.approx(
        wanted, rel=2e-3
    )


def test_peg_for_a_pitch() -> None:
    """Peg and string together times pi make the pitch: 12 mm and 0.8 mm ask for 12/pi - 0.8 mm."""
    peg = peg_string(pitch_mm=12.0, start_radius_mm=280.5, stop_radius_mm=81.0, string_mm=0.8)
    assert peg.peg_mm == pytest.approx(3.0197, abs=1e-4)
    assert pitch_of_peg_mm(peg_mm=peg.peg_mm, string_mm=0.8) == pytest.approx(12.0)
    rho = 12 / (2 * math.pi)
    assert peg.start_string_mm == pytest.approx(math.sqrt(280.5**2 - rho**2))
    assert peg.wound_turns == pytest.approx((280.5 - 81.0) / 12, abs=2e-3)  # a thin peg
    assert [p.peg_mm for p in peg.at_hand] == [2.8, 3.0, 3.175, 3.5]  # the four nearest in the list
    assert peg.at_hand[1].pitch_mm == pytest.approx(math.pi * 3.8)
    assert peg.at_hand[0].turns == pytest.approx(199.5 / (math.pi * 3.6))


def test_string_too_thick_is_refused() -> None:
    """A string as thick as the pitch over pi leaves no peg."""
    with pytest.raises(OutsideModelError, match="thinner"):
        peg_string(pitch_mm=6.0, start_radius_mm=90, stop_radius_mm=30, string_mm=2.0)
    with pytest.raises(OutsideModelError, match="peg itself"):
        peg_string(pitch_mm=60.0, start_radius_mm=90, stop_radius_mm=9, string_mm=1.0)
