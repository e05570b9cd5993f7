"""The nail: its range, the stock nail inside it, and what it cannot be asked."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.bowl.nail import lateral_N, nail_advice, pilot_share
from fitsim.errors import OutsideModelError


@given(st.floats(2, 20), st.floats(0.3, 2), st.floats(2.5, 20), st.floats(0.35, 0.7))
def test_a_nail_enters_the_neighbour_and_stays_inside(
    end: float, slot: float, neighbour: float, gravity: float
) -> None:
    """Any advised length enters half the neighbour across an open slot and never passes it closed."""
    advice = nail_advice(
        end_width_mm=end,
        slot_mm=slot,
        neighbour_width_mm=neighbour,
        specific_gravity=gravity,
        group="hardwood",
    )
    assert advice.least_mm == pytest.approx(end + slot + neighbour / 2)
    assert advice.greatest_mm == pytest.approx(end + neighbour - 0.5)
    if advice.length_mm and not advice.cut_down:
        assert advice.least_mm <= advice.length_mm <= advice.greatest_mm
    if advice.cut_down:
        assert advice.length_mm > advice.greatest_mm
    assert advice.pilot_low_mm <= advice.pilot_high_mm <= advice.diameter_mm


def advised(*, end: float = 10.0, gravity: float = 0.5, group: str = "hardwood"):  # type: ignore[no-untyped-def]
    """Advice for a neighbour of 14.3 mm across a slot of 0.7 mm."""
    return nail_advice(
        end_width_mm=end, slot_mm=0.7, neighbour_width_mm=14.3, specific_gravity=gravity, group=group
    )


def test_the_longest_stock_nail_that_fits() -> None:
    """17.85 to 23.8 mm: of the stock nails only the 20 mm one, 1.2 mm thick, lies between."""
    advice = advised()
    assert (advice.length_mm, advice.diameter_mm, advice.cut_down) == (20, 1.2, False)
    entry = 20 - 10 - 0.7
    assert advice.withdrawal_N == pytest.approx(54.12 * 0.5**2.5 * 1.2 * entry)
    assert advice.full_depth_share == pytest.approx(entry / (12 * 1.2))
    assert advice.lateral_N == pytest.approx(69.5 * 1.2**1.5)


@pytest.mark.parametrize(("gravity", "diameters"), [(0.41, 14), (0.42, 12), (0.61, 12), (0.62, 10)])
def test_depth_for_the_full_lateral_load(gravity: float, diameters: int) -> None:
    """10 diameters above a specific gravity of 0.61, 14 below 0.42 (Wood Handbook, chapter 8)."""
    assert advised(gravity=gravity).full_depth_share == pytest.approx(9.3 / (diameters * 1.2))


def test_a_nail_to_cut_down() -> None:
    """Between 6.9 and 9.3 mm lies no stock nail: the 10 mm one is cut down, and enters 5.35 mm."""
    advice = nail_advice(
        end_width_mm=3.25, slot_mm=0.7, neighbour_width_mm=6.5, specific_gravity=0.5, group="hardwood"
    )
    assert (advice.length_mm, advice.cut_down) == (10, True)
    assert advice.withdrawal_N == pytest.approx(54.12 * 0.5**2.5 * 1.0 * (9.25 - 3.95))


def test_no_nail_where_none_is_long_enough() -> None:
    """Wider than the longest stock nail: no length, and nothing is held."""
    advice = advised(end=80)
    assert (advice.length_mm, advice.withdrawal_N, advice.full_depth_share) == (0, 0, 0)


def test_woods_outside_the_table_are_not_guessed() -> None:
    """A wood the handbook's table does not reach is refused, and the advice says it has no number."""
    with pytest.raises(OutsideModelError, match="is outside the handbook"):
        lateral_N(specific_gravity=0.9, diameter_mm=1.2, group="hardwood")
    assert math.isnan(advised(gravity=0.9).lateral_N)


def test_pilot_holes() -> None:
    """Three quarters of the nail in softwood, up to nine tenths in dense hardwood."""
    assert pilot_share("softwood") == (0.75, 0.75)
    assert pilot_share("hardwood") == (0.75, 0.9)
    assert advised(group="softwood").pilot_high_mm == pytest.approx(0.75 * 1.2)
