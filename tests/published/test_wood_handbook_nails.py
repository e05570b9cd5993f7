"""Nails against the Wood Handbook, FPL-GTR-282 (2021), chapter 8, read in a transcription.

Equation 8-1: p = 54.12 G^(5/2) D L in N and mm, printed also as 7850 G^(5/2) D L in lb and in.
Equation 8-2: p = K D^(3/2) at 0.38 mm of slip, K for nails from Table 8-4.
"""

import pytest

from fitsim.bowl.nail import lateral_N, withdrawal_N
from fitsim.errors import OutsideModelError

LB_N, INCH_MM = 4.4482216152605, 25.4


@pytest.mark.parametrize(
    ("gravity", "diameter_mm", "entry_mm"), [(0.42, 1.2, 9.0), (0.5, 2.87, 31.0), (0.68, 1.6, 14.5)]
)
def test_withdrawal_in_both_systems_of_units(gravity: float, diameter_mm: float, entry_mm: float) -> None:
    """The metric equation is the inch-pound one within 0.5 percent, two separately printed roundings."""
    found = withdrawal_N(specific_gravity=gravity, diameter_mm=diameter_mm, entry_mm=entry_mm)
    pounds = 7850 * gravity**2.5 * (diameter_mm / INCH_MM) * (entry_mm / INCH_MM)
    assert found == pytest.approx(pounds * LB_N, rel=5e-3)
    assert found == pytest.approx(54.12 * gravity**2.5 * diameter_mm * entry_mm)


# Table 8-4: group, specific gravity from and to, K for nails (N, mm).
TABLE_8_4 = [
    ("hardwood", 0.33, 0.47, 50.04),
    ("hardwood", 0.48, 0.56, 69.50),
    ("hardwood", 0.57, 0.74, 94.52),
    ("softwood", 0.29, 0.42, 50.04),
    ("softwood", 0.43, 0.47, 62.55),
    ("softwood", 0.48, 0.52, 76.45),
]


@pytest.mark.parametrize(("group", "low", "high", "K"), TABLE_8_4)
def test_lateral_load(group: str, low: float, high: float, K: float) -> None:
    """K D^1.5 at both ends and in the middle of every row of Table 8-4."""
    for gravity in (low, (low + high) / 2, high):
        for diameter in (1.2, 2.87):
            found = lateral_N(specific_gravity=gravity, diameter_mm=diameter, group=group)
            assert found == pytest.approx(K * diameter * diameter**0.5)


@pytest.mark.parametrize(("group", "gravity"), [("hardwood", 0.32), ("hardwood", 0.75), ("softwood", 0.53)])
def test_no_lateral_load_beyond_the_table(group: str, gravity: float) -> None:
    """Table 8-4 ends at 0.74 for hardwoods and at 0.52 for softwoods."""
    with pytest.raises(OutsideModelError, match="outside the handbook"):
        lateral_N(specific_gravity=gravity, diameter_mm=1.2, group=group)
