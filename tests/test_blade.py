"""The blade: published radii, straight between them, and nothing beyond them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.errors import OutsideModelError
from fitsim.geometry.blade import (
    DOES_NOT_TURN,
    MAY_NOT_TURN,
    TURNS,
    blade_turns,
    cutting_time_min,
    kerf_from_blade_mm,
    least_radius,
    widest_blade_mm,
)


@pytest.mark.parametrize(
    ("width_mm", "low_mm", "high_mm"),
    [
        # Common practice: published tables of least radius, which disagree.
        (3.17, 3.2, 6.3),
        (6.35, 12.7, 19.0),
        (12.7, 63.5, 63.5),
        (31.75, 250.8, 250.8),
    ],
)
def test_tabled_radii(width_mm: float, low_mm: float, high_mm: float) -> None:
    """At a tabled width the range is the table's."""
    found = least_radius(width_mm)
    assert (found.low_mm, found.high_mm) == pytest.approx((low_mm, high_mm))
    assert found.source


def test_straight_between_two_widths() -> None:
    """Three tenths of the way from 6.35 to 9.52 mm, three tenths of the way between the radii."""
    found = least_radius(6.35 + 0.3 * 3.17)
    assert found.low_mm == pytest.approx(12.7 + 0.3 * (31.8 - 12.7))
    assert found.high_mm == pytest.approx(19.0 + 0.3 * (38.1 - 19.0))


@given(st.floats(3.17, 31.0), st.floats(0.0, 0.7))
def test_a_wider_blade_never_turns_tighter(width_mm: float, more_mm: float) -> None:
    """Both ends of the range rise with the width."""
    narrow, wide = least_radius(width_mm), least_radius(width_mm + more_mm)
    assert narrow.low_mm <= wide.low_mm
    assert narrow.high_mm <= wide.high_mm
    assert narrow.low_mm <= narrow.high_mm


def test_an_eighth_of_an_inch_is_inside_and_others_are_refused() -> None:
    """3.175 mm is the table's 1/8 in; 2 mm and 40 mm are no widths of the table."""
    assert least_radius(3.175).low_mm == pytest.approx(3.2, abs=0.02)
    assert (least_radius(2.9).low_mm, least_radius(2.9).high_mm) == (3.2, 6.3)  # 3 mm is 1/8 in by name
    assert least_radius(31.8).high_mm == 250.8
    for width_mm in (2.0, 2.89, 31.81, 40.0):
        with pytest.raises(OutsideModelError, match="tables run"):
            least_radius(width_mm)


def test_kerf_and_time() -> None:
    """Set counts on both sides; time is length over feed."""
    assert kerf_from_blade_mm(body_mm=0.5, set_mm=0.2) == pytest.approx(0.9)
    assert cutting_time_min(length_mm=1500, feed_mm_per_min=300) == pytest.approx(5)


@pytest.mark.parametrize(
    ("radius_mm", "turns"),
    [(12.6, DOES_NOT_TURN), (12.7, MAY_NOT_TURN), (18.9, MAY_NOT_TURN), (19.0, TURNS), (44.0, TURNS)],
)
def test_what_the_tables_say_of_a_quarter_inch_blade(radius_mm: float, turns: str) -> None:
    """A 6.35 mm blade turns 12.7 mm by the boldest table and 19.0 by the most careful (common practice)."""
    assert blade_turns(least_radius(6.35), radius_mm) == turns


@pytest.mark.parametrize(
    ("radius_mm", "width_mm"),
    [(6.2, None), (6.3, 3.17), (38.0, 6.35), (101.5, 12.7), (160.0, 19.05), (193.7, 25.4), (400.0, 31.75)],
)
def test_the_widest_blade_of_the_tables(radius_mm: float, width_mm: float | None) -> None:
    """By the greatest radius of any table: 38.1 for 9.52 mm, 101.6 for 15.88, 139.7 for 19.05."""
    assert widest_blade_mm(radius_mm) == width_mm
