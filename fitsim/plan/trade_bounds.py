"""What the trade bounds: strips that can be nailed and sawn, curves a blade turns, tilts that are set.

Each bound stands in ``data/trade_bounds.csv`` with its range, its mark and where it comes from; the blade's
least radius comes from published tables (:mod:`fitsim.geometry.blade`), and how much of the thickness must
still
bear from the bowl file's own limits.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.contradictions import CORNER_DEFAULT_SHARE, LEAST_CORNER_PITCHES
from fitsim.geometry.blade import least_radius
from fitsim.tables import read_table

__all__ = ["Bound", "Bounds", "bounds_of", "corner_follows", "trade_bounds"]

FOOT_mm = 2.0
"""Radius of the foot that the bevel must leave at the base's lower face: our choice. [mm]"""

BLADE_NOT_GIVEN_mm = 3.175
"""Width taken for a blade that is not given, the narrowest that is tabled: 1/8 in. [mm]"""


@dataclass(frozen=True)
class Bound:
    """One bound with its range.

    Attributes
    ----------
    key : str
        Its name in ``data/trade_bounds.csv``.
    value, low, high : float
        The bound, and the ends of what is said of it. [unit]
    unit : str
        "mm", "deg" or "" for a ratio.
    mark, source : str
        "published", "from memory" or "estimated", and where from.
    """

    key: str
    value: float
    low: float
    high: float
    unit: str
    mark: str
    source: str


@lru_cache(maxsize=1)
def trade_bounds() -> dict[str, Bound]:
    """Every bound of the trade by its name.

    Returns
    -------
    dict[str, Bound]
        As in ``data/trade_bounds.csv``.

    Examples
    --------
    >>> trade_bounds()["strip_width"].value
    3.5
    """
    return {
        row["key"]: Bound(
            row["key"], float(row["value"]), float(row["low"]), float(row["high"]),
            row["unit"], row["mark"], row["source"],
        )
        for row in read_table("trade_bounds")
    }  # fmt: skip


@dataclass(frozen=True)
class Bounds:
    """Where one bowl's cut must lie.

    Attributes
    ----------
    pitch_mm : tuple[float, float]
        Of every turn: least strip and slot, widest strip and slot. [mm]
    base_radius_least_mm : float
        Of the slot's centre line at the root. [mm]
    base_reason : str
        What bounds it: the blade, the bevel or the foot.
    tilt_rad : tuple[float, float]
        True tilt. [rad]
    tilt_reasons : tuple[str, str]
        What bounds either end.
    turns : tuple[float, float]
        Of the cut. [-]
    corner_pitches : float
        Least half of the base's narrow way over the pitch, where the strip has to turn in its corners; 0 on
        a round cut. [-]
    """

    pitch_mm: tuple[float, float]
    base_radius_least_mm: float
    base_reason: str
    tilt_rad: tuple[float, float]
    tilt_reasons: tuple[str, str]
    turns: tuple[float, float]
    corner_pitches: float = 0.0


def corner_follows(bowl: Bowl) -> bool:
    """Whether the corners round the base were left out, so that they follow from its size.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    bool
        False also for a round cut, which has none.
    """
    return any(a.key == "cut.base_corner" for a in bowl.assumptions)


def bounds_of(bowl: Bowl, *, sinks_deeper: float | None = None) -> Bounds:
    """Bounds for the cut of one board with one saw.

    Parameters
    ----------
    bowl : Bowl
        The board, its kerf, its finish and its limits; its own tilt, pitch and base play no part.
    sinks_deeper : float, optional
        Deepest turn over the rigid seat drop, where a press has shown it. [-]

    Returns
    -------
    Bounds
        Least seat drop to which a turn still bears, least friction at which it holds, and the trade's.
    """
    of = trade_bounds()
    kerf, board = max(bowl.cut.kerf_mm), bowl.board
    slot = kerf - 2 * bowl.use.film_mm
    deeper = of["sinks_deeper"].value if sinks_deeper is None else sinks_deeper
    deepest = board.thickness_mm * (1 - bowl.limits.overlap) / deeper
    least, most = (math.radians(of[key].value) for key in ("tilt_least", "tilt_most"))
    reasons = ["the least tilt of the trade", "the greatest tilt of the trade"]
    bearing = math.asin(min(slot / deepest, 1.0)) if slot > 0 else least
    if bearing > least:
        least, reasons[0] = bearing, "a turn must still bear on a share of the thickness"
    holding = math.atan(bowl.ends_of("use.friction")[0] * bowl.limits.friction_used)
    if holding < most:
        most, reasons[1] = holding, "a steeper bevel slips at the least friction"
    blade = bowl.cut.blade_width_mm or BLADE_NOT_GIVEN_mm
    bevel = kerf / 2 + board.thickness_mm / 2 * math.tan(least) + FOOT_mm
    turns, foot = least_radius(blade).high_mm, of["foot_share"].value * board.across_mm / 2
    corner_pitches = 0.0
    if board.edge is None:
        blade_base, corner_base = turns, 0.0
    elif corner_follows(bowl):  # the corners are a share of the base
        blade_base, corner_base = turns / CORNER_DEFAULT_SHARE, bevel / CORNER_DEFAULT_SHARE
        corner_pitches = LEAST_CORNER_PITCHES / CORNER_DEFAULT_SHARE
    else:  # the corners are given, and the base is as wide as two of them at least
        blade_base, corner_base = 0.0, bowl.cut.base_corner_mm or 0.0
    base = max(
        (blade_base, "the blade turns no tighter curve"),
        (bevel, "the bevel must leave a foot"),
        (corner_base, "corners need room"),
        (foot, "a narrower foot would tip"),
    )
    across = kerf / math.cos(most)
    return Bounds(
        pitch_mm=(of["strip_width"].value + across, of["strip_width_most"].value + across),
        base_radius_least_mm=base[0],
        base_reason=base[1],
        tilt_rad=(least, max(least, most)),
        tilt_reasons=(reasons[0], reasons[1]),
        turns=(of["turns_least"].value, of["turns_most"].value),
        corner_pitches=corner_pitches,
    )
