"""Settings of the saw table at which a bowl locks, by the half degree a scale can be read to.

The closed form judges each setting with everything known as a range at its ends; the springy strip would
take
minutes over so many settings.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from fitsim.bowl import Bowl
from fitsim.errors import OutsideModelError
from fitsim.ranges import verdict_over_ranges
from fitsim.rigid import deciding_numbers, rigid_fit
from fitsim.verdict import LOCKS, judge

__all__ = ["HALF_DEG", "SETTINGS_TRIED_DEG", "TableSetting", "set_to", "table_setting"]

HALF_DEG = 0.5
SETTINGS_TRIED_DEG = tuple(HALF_DEG * k for k in range(2, 41))
"""Settings of the scale that are tried: 1 to 20 deg by the half degree."""


@dataclass(frozen=True)
class TableSetting:
    """Settings of the scale at which the closed form says that the bowl locks.

    Attributes
    ----------
    scale_deg : float
        What the bowl file asks for, as the scale reads. [deg]
    nearest_deg : float
        Nearest half degree at which it locks; nan if there is none. [deg]
    low_deg, high_deg : float
        Unbroken run of such settings, about what the file asks for if it locks there, else about the
        nearest half degree: half degrees and the file's own setting; nan if there is none. [deg]
    judged_at : str
        "at the worst of the ranges", "in the middle of the ranges", or "" where no setting locks.
    nearest_drop_mm : float
        Drop of the first turn at the nearest half degree; nan if there is none. [mm]
    """

    scale_deg: float
    nearest_deg: float
    low_deg: float
    high_deg: float
    judged_at: str
    nearest_drop_mm: float

    @property
    def asked_locks(self) -> bool:
        """True if what the file asks for lies in the run."""
        return self.low_deg <= self.scale_deg <= self.high_deg  # False where there is no run


def set_to(bowl: Bowl, scale_deg: float) -> Bowl:
    """The same bowl sawn with the scale at another setting.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    scale_deg : float
        What the scale reads; the saw's offset is kept. [deg]

    Returns
    -------
    Bowl
        A new bowl with one tilt.
    """
    tilt = math.radians(scale_deg) + bowl.cut.scale_offset_rad
    return replace(bowl, cut=replace(bowl.cut, tilt_rad=(tilt,)))


def _locks(bowl: Bowl, scale_deg: float, *, worst: bool) -> bool:
    """Whether the bowl locks at a setting of the scale, in the middle or at the worst of its ranges."""
    there = set_to(bowl, scale_deg)
    try:
        middle = deciding_numbers(there)
        if judge(middle, there.limits) != LOCKS:
            return False  # what fails in the middle of the ranges fails at their worst
        return not worst or verdict_over_ranges(there, middle, deciding_numbers).state == LOCKS
    except OutsideModelError:
        return False


@lru_cache(maxsize=4)
def table_setting(bowl: Bowl) -> TableSetting:
    """Half degrees of the scale at which the bowl locks by the closed form, about what was asked for.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with one tilt.

    Returns
    -------
    TableSetting
        Judged at the worst of the ranges if any setting locks there, else in their middle.
    """
    asked = round(math.degrees(bowl.cut.scale_tilt_rad[0]), 9)  # 8 deg, not 8.000000000000002
    by_nearness = sorted(SETTINGS_TRIED_DEG, key=lambda deg: abs(deg - asked))
    nan = math.nan
    for worst, judged in ((True, "at the worst of the ranges"), (False, "in the middle of the ranges")):
        nearest = next((deg for deg in by_nearness if _locks(bowl, deg, worst=worst)), nan)
        start = asked if _locks(bowl, asked, worst=worst) else nearest
        if math.isnan(start):
            continue
        low, high = _run(bowl, start, worst=worst)
        drop = nan
        if math.isfinite(nearest):
            drop = float(rigid_fit(set_to(bowl, nearest)).seats.seat_drop_mm[0])
        return TableSetting(asked, nearest, low, high, judged, drop)
    return TableSetting(asked, nan, nan, nan, "", nan)


def _run(bowl: Bowl, start_deg: float, *, worst: bool) -> tuple[float, float]:
    """Outward from a setting at which the bowl locks, by the half degree, as long as it does."""
    ends = []
    for way in (-1, 1):
        end = start_deg
        for deg in SETTINGS_TRIED_DEG[::way]:
            if way * (deg - start_deg) <= 0:
                continue
            if not _locks(bowl, deg, worst=worst):
                break
            end = deg
        ends.append(end)
    return ends[0], ends[1]
