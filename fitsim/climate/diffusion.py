"""How moisture moves through the parts of a bowl: coefficients, films, and the lag of turns and base.

Coefficients stand in ``data/diffusion.csv``, what finishes keep out in ``data/finish_moisture.csv``, each
with source, mark and range.
"""

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from fitsim.climate.indoor_air import humidity_for_moisture_percent, saturation_pressure_kPa
from fitsim.climate.moisture_lag import Lag, block_lag, disc_lag, mixed_lag, slab_lag, step_share
from fitsim.errors import OutsideModelError
from fitsim.tables import read_table

__all__ = [
    "Diffusion",
    "base_lag",
    "diffusion_of",
    "film_mm_per_h",
    "piece_share",
    "slot_air_mm2_per_h",
    "turn_lag",
]

DIRECTIONS = 8
"""Directions to the grain over which a turn is averaged."""

KEPT = ("open", "flat")

# The test of the published moisture-excluding figures: pieces of ponderosa pine of 3 x 5 x 5/8 in (from
# memory; not seen in the abstract), from 30 to 90 percent humidity at 80 deg F.
TEST_PIECE_MM = (76.2, 127.0, 15.9)
TEST_MOISTURE_PERCENT = 13.0


@dataclass(frozen=True)
class Diffusion:
    """How quickly moisture moves in a wood and through its surface.

    Attributes
    ----------
    across_mm2_per_h, along_mm2_per_h : float
        Coefficient across and along the grain. [mm2/h]
    surface_mm_per_h : float
        Surface coefficient, on moisture in the wood. [mm/h]
    """

    across_mm2_per_h: float
    along_mm2_per_h: float
    surface_mm_per_h: float


def diffusion_of(
    wood_group: str, *, moisture_percent: float, end: str = "value", film_mm_per_h: float = np.inf
) -> Diffusion:
    """Coefficients of a hardwood or softwood at room temperature, from published values.

    Parameters
    ----------
    wood_group : str
        One of :data:`fitsim.wood.species.GROUPS`; the imported woods of the list are hardwoods, and no
        coefficient of their own was found.
    moisture_percent : float
        Moisture at which they are taken, within 2 and 20. [percent]
    end : str
        "value", or the slow ("low") or quick ("high") end of what is known.
    film_mm_per_h : float
        What a film finish lets through, in series with the surface; infinite for bare wood. [mm/h]

    Returns
    -------
    Diffusion
        The coefficients.

    Raises
    ------
    OutsideModelError
        If the moisture lies outside the range of the sources.
    """
    if not 2 <= moisture_percent <= 20:
        raise OutsideModelError(f"diffusion is known from 2 to 20 percent, not at {moisture_percent:g}")
    points = moisture_percent - 10
    kind = "softwood" if wood_group == "softwood" else "hardwood"
    across = _number("across_at_10_percent", kind, end) * np.exp(
        _number("growth_per_point", "any", "value") * points
    )
    surface = _number("surface_at_10_percent", "any", end) * np.exp(
        _number("surface_growth_per_point", "any", "value") * points
    )
    return Diffusion(
        across_mm2_per_h=float(across),
        along_mm2_per_h=float(across * _number("end_grain_ratio", "any", end)),
        surface_mm_per_h=float(1 / (1 / surface + 1 / film_mm_per_h)),
    )


def _number(quantity: str, group: str, end: str) -> float:
    row = next(r for r in read_table("diffusion") if (r["quantity"], r["group"]) == (quantity, group))
    return float(row[end])


@lru_cache(maxsize=512)  # the turns of an even spiral are alike
def turn_lag(
    diffusion: Diffusion,
    *,
    width_mm: float,
    thickness_mm: float,
    overlap: float = 0.0,
    kept: str = "open",
    slot_air_mm2_per_h: float = 0.0,
    outermost: bool = False,
) -> Lag:
    """One turn of the strip: through its slot faces, and through top and bottom.

    Open, the share of a slot face that bears on its neighbour takes nothing. Flat, the slot faces lie
    closed but for the vapour that finds its way down the slot, which quickens the way through the
    thickness. The mean over the turn's directions to the grain: where the strip crosses the grain its
    slot faces are end grain.

    Parameters
    ----------
    diffusion : Diffusion
        Wood and surface.
    width_mm, thickness_mm : float
        Section of the strip. [mm]
    overlap : float
        Share of the thickness that bears when open. [-]
    kept : str
        "open" or "flat".
    slot_air_mm2_per_h : float
        What the air in the slots adds when flat, from :func:`slot_air_mm2_per_h`. [mm2/h]
    outermost : bool
        Its outer face is the board's edge and free.

    Returns
    -------
    Lag
        The whole turn's mean moisture.

    Raises
    ------
    ValueError
        If it is kept in no known way.
    """
    free = _free_share(kept, overlap)
    surface = diffusion.surface_mm_per_h
    upward = diffusion.across_mm2_per_h + (slot_air_mm2_per_h if kept == "flat" else 0.0)
    height = slab_lag(
        thickness_mm=thickness_mm, D_mm2_per_h=upward, first_mm_per_h=surface, second_mm_per_h=surface
    )
    turned = []
    for chi in (np.arange(DIRECTIONS) + 0.5) * np.pi / 2 / DIRECTIONS:
        D = diffusion.along_mm2_per_h * np.cos(chi) ** 2 + diffusion.across_mm2_per_h * np.sin(chi) ** 2
        across = slab_lag(
            thickness_mm=width_mm, D_mm2_per_h=float(D), first_mm_per_h=free * surface,
            second_mm_per_h=surface if outermost else free * surface,
        )  # fmt: skip
        turned.append(block_lag(across, height))
    return mixed_lag(turned)


def _free_share(kept: str, overlap: float) -> float:
    if kept not in KEPT:
        message = f"kept {kept!r}: expected {' or '.join(KEPT)}"
        raise ValueError(message)
    return 1 - overlap if kept == "open" else 0.0


def base_lag(
    diffusion: Diffusion,
    *,
    radius_mm: float,
    thickness_mm: float,
    overlap: float = 0.0,
    kept: str = "open",
) -> Lag:
    """The base: a disc with two faces and an edge, both faces in the air.

    The edge is end grain at two places and side grain at two; one coefficient, the mean of both,
    stands for it. (For a bare disc with a wet edge that is the upper bound of Polya and Szego for the
    slowest rate, from memory; an edge weighs less than the faces.)

    Parameters
    ----------
    diffusion : Diffusion
        Wood and surface.
    radius_mm, thickness_mm : float
        Size of the base. [mm]
    overlap : float
        Share of the edge that bears on the first turn when open. [-]
    kept : str
        "open" or "flat".

    Returns
    -------
    Lag
        The whole base's mean moisture.

    Raises
    ------
    ValueError
        If it is kept in no known way.
    """
    surface = diffusion.surface_mm_per_h
    height = slab_lag(
        thickness_mm=thickness_mm, D_mm2_per_h=diffusion.across_mm2_per_h,
        first_mm_per_h=surface, second_mm_per_h=surface,
    )  # fmt: skip
    edge = disc_lag(
        radius_mm=radius_mm,
        D_mm2_per_h=(diffusion.across_mm2_per_h + diffusion.along_mm2_per_h) / 2,
        surface_mm_per_h=_free_share(kept, overlap) * surface,
    )
    return block_lag(height, edge)


def slot_air_mm2_per_h(
    *, slot_mm: float, width_mm: float, specific_gravity: float, moisture_percent: float,
    temperature_C: float = 20.0,
) -> float:  # fmt: skip
    """What the air in closed slots adds to a flat board's diffusion through its thickness.

    Wood and slot air side by side in balance: D_air (k_h/w) (vapour per point of moisture in the
    air)/(water per point in the wood), D_air = 25 mm2/s (from memory). An estimate.

    Parameters
    ----------
    slot_mm, width_mm : float
        Slot and strip between two slots. [mm]
    specific_gravity : float
        Of the wood. [-]
    moisture_percent, temperature_C : float
        Where the balance is taken. [percent, deg C]

    Returns
    -------
    float
        Added coefficient. [mm2/h]
    """
    damp, dry = (
        humidity_for_moisture_percent(moisture_percent=moisture_percent + d, temperature_C=temperature_C)
        for d in (0.5, -0.5)
    )
    saturated = 1000 * float(saturation_pressure_kPa(temperature_C)) / (461.5 * (temperature_C + 273.15))
    vapour_per_point = saturated * (damp - dry) / 100  # kg/m3
    return 25 * 3600 * slot_mm / width_mm * vapour_per_point / (10 * specific_gravity)


@cache
def film_mm_per_h(finish: str, end: str = "value") -> float:
    """What a finish lets through, from its published moisture-excluding effectiveness after 7 days.

    Effectiveness is the share of bare wood's gain that a finished piece has not gained. The film in
    series with the surface is solved for on the test's own piece; the figures for 1 and 14 days are
    left for a test.

    Parameters
    ----------
    finish : str
        One of :data:`fitsim.wood.finishes.FINISHES`.
    end : str
        "value", or the most ("low") or least ("high") effective end of the range, 7 days.

    Returns
    -------
    float
        Coefficient in series with the surface; infinite where nothing is kept out. [mm/h]
    """
    row = next(r for r in read_table("finish_moisture") if r["finish"] == finish)
    column = {"value": "day7_percent", "low": "day7_high_percent", "high": "day7_low_percent"}[end]
    wanted = float(row[column]) / 100
    if wanted == 0:
        return np.inf
    bare = piece_share(np.inf, 168.0)
    low, high = 1e-6, 1e3
    for _ in range(60):
        middle = float(np.sqrt(low * high))
        kept_out = 1 - piece_share(middle, 168.0) / bare
        low, high = (middle, high) if kept_out > wanted else (low, middle)
    return float(np.sqrt(low * high))


def piece_share(film_mm_per_h: float, time_h: float) -> float:
    """Share of a step that the test piece of the effectiveness figures follows under a film.

    Parameters
    ----------
    film_mm_per_h : float
        The film; infinite for bare wood. [mm/h]
    time_h : float
        Hours since the step. [h]

    Returns
    -------
    float
        From 0 to 1.
    """
    wood = diffusion_of("softwood", moisture_percent=TEST_MOISTURE_PERCENT, film_mm_per_h=film_mm_per_h)
    width, length, thickness = TEST_PIECE_MM
    ways = ((width, wood.across_mm2_per_h), (length, wood.along_mm2_per_h),
            (thickness, wood.across_mm2_per_h))  # fmt: skip
    surface = wood.surface_mm_per_h
    lags = [
        slab_lag(thickness_mm=long, D_mm2_per_h=D, first_mm_per_h=surface, second_mm_per_h=surface)
        for long, D in ways
    ]
    left = [1 - float(step_share(lag, time_h)) for lag in lags]
    return 1 - left[0] * left[1] * left[2]
