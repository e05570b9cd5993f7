"""The nail that ties the free end to the turn inside it: its length, its pilot hole, its holding.

It passes through the free end and across the slot, may enter the neighbouring turn and must go no
further, or it pins two turns together. Formulas: USDA *Wood Handbook* FPL-GTR-282, chapter 8,
equations 8-1 (withdrawal) and 8-2 (lateral).
"""

from dataclasses import dataclass

from fitsim.errors import OutsideModelError
from fitsim.tables import read_table

__all__ = ["NailAdvice", "lateral_N", "nail_advice", "pilot_share", "withdrawal_N"]

LEAST_ENTRY_SHARE = 0.5
"""Share of the neighbour's width the point should enter: an estimate, no published source."""

CLEAR_POINT_MM = 0.5
"""How far the point stays short of the neighbour's far face: an estimate, no published source. [mm]"""


@dataclass(frozen=True)
class NailAdvice:
    """Which nail ties the free end.

    Attributes
    ----------
    least_mm, greatest_mm : float
        Shortest and longest nail that does the work. [mm]
    length_mm, diameter_mm : float
        A stock nail inside that range, or the stock nail to cut down; 0 where none fits. [mm]
    cut_down : bool
        True if the stock nail must be cut to ``greatest_mm``.
    pilot_low_mm, pilot_high_mm : float
        Pilot hole, softwood share to dense hardwood share of the diameter. [mm]
    withdrawal_N : float
        Ultimate withdrawal from the neighbour's side grain. [N]
    full_depth_share : float
        Entry over the depth at which the handbook's lateral value holds in full. [-]
    lateral_N : float
        Lateral load at the proportional limit, if the entry were deep enough. [N]
    """

    least_mm: float
    greatest_mm: float
    length_mm: float
    diameter_mm: float
    cut_down: bool
    pilot_low_mm: float
    pilot_high_mm: float
    withdrawal_N: float
    full_depth_share: float
    lateral_N: float


def withdrawal_N(*, specific_gravity: float, diameter_mm: float, entry_mm: float) -> float:
    """Ultimate withdrawal of a smooth wire nail from side grain, 54.12 G^(5/2) D L (eq. 8-1).

    Parameters
    ----------
    specific_gravity : float
        Ovendry weight over volume at 12 percent moisture. [-]
    diameter_mm, entry_mm : float
        Diameter and depth in the wood that holds the point. [mm]

    Returns
    -------
    float
        Force. [N]
    """
    return float(54.12 * specific_gravity**2.5 * diameter_mm * entry_mm)


def lateral_N(*, specific_gravity: float, diameter_mm: float, group: str) -> float:
    """Lateral load at the proportional limit (0.38 mm of slip), K D^(3/2) (eq. 8-2).

    Parameters
    ----------
    specific_gravity : float
        Ovendry weight over volume at 12 percent moisture. [-]
    diameter_mm : float
        Nail diameter. [mm]
    group : str
        "softwood" or any other word for hardwoods.

    Returns
    -------
    float
        Force; needs an entry of 10 to 14 diameters to hold in full. [N]

    Raises
    ------
    OutsideModelError
        For a wood lighter or heavier than the handbook's table.
    """
    kind = "softwood" if group == "softwood" else "hardwood"
    rows = [row for row in read_table("lateral_K") if row["wood"] == kind]
    gravity = round(specific_gravity, 2)
    for row in rows:
        if float(row["specific_gravity_low"]) <= gravity <= float(row["specific_gravity_high"]):
            return float(float(row["K_nail"]) * diameter_mm**1.5)
    message = f"specific gravity {specific_gravity:g} is outside the handbook's nail table"
    raise OutsideModelError(message)


def pilot_share(group: str) -> tuple[float, float]:
    """Pilot hole over nail diameter, low and high: 0.75 softwood, up to 0.9 dense hardwood.

    From memory of the *Wood Handbook*, chapter 8.

    Parameters
    ----------
    group : str
        "softwood" or any other word for hardwoods.

    Returns
    -------
    tuple[float, float]
        Low and high share. [-]
    """
    return (0.75, 0.75) if group == "softwood" else (0.75, 0.9)


def nail_advice(
    *,
    end_width_mm: float,
    slot_mm: float,
    neighbour_width_mm: float,
    specific_gravity: float,
    group: str,
) -> NailAdvice:
    """Shortest and longest nail for the free end, and a stock nail between them.

    The shortest is counted across an open slot, the longest with the slot closed, so that both
    serve whether the nail is driven flat or with the bowl open.

    Parameters
    ----------
    end_width_mm, neighbour_width_mm : float
        Width of the strip at the free end and of the turn inside it. [mm]
    slot_mm : float
        Slot in the plane of the board. [mm]
    specific_gravity : float
        Of the wood. [-]
    group : str
        "softwood" or any other word for hardwoods.

    Returns
    -------
    NailAdvice
        Range, stock nail, pilot hole and what it holds.
    """
    least = end_width_mm + slot_mm + LEAST_ENTRY_SHARE * neighbour_width_mm
    greatest = end_width_mm + neighbour_width_mm - CLEAR_POINT_MM
    stock = [(float(r["length_mm"]), float(r["diameter_mm"])) for r in read_table("nails")]
    fitting = [nail for nail in stock if least <= nail[0] <= greatest]
    longer = [nail for nail in stock if nail[0] > greatest]
    if least > greatest or (fitting or longer or [(0.0, 99.0)])[0][1] > end_width_mm / 2:
        fitting, longer = [], []  # no nail goes in without pinning two turns or splitting the end
    length, diameter = (fitting or longer or [(0.0, 0.0)])[-1 if fitting else 0]
    entry = max(min(length, greatest) - end_width_mm - slot_mm, 0.0)
    full_depth = (10 if specific_gravity > 0.61 else 14 if specific_gravity < 0.42 else 12) * diameter
    try:
        side = lateral_N(specific_gravity=specific_gravity, diameter_mm=diameter, group=group)
    except OutsideModelError:
        side = float("nan")
    low, high = pilot_share(group)
    return NailAdvice(
        least_mm=least,
        greatest_mm=greatest,
        length_mm=length,
        diameter_mm=diameter,
        cut_down=not fitting and bool(longer),
        pilot_low_mm=low * diameter,
        pilot_high_mm=high * diameter,
        withdrawal_N=withdrawal_N(specific_gravity=specific_gravity, diameter_mm=diameter, entry_mm=entry),
        full_depth_share=entry / full_depth if full_depth else 0.0,
        lateral_N=side,
    )
