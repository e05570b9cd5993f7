"""How far each part of a bowl lags behind the air: diffusion with a resisting surface.

Moisture spreads by Fick's law with one coefficient per part, taken at the part's mean moisture, and
leaves through a surface film. A slab or disc is cut into cells (finite volumes, second order); the
cells' own modes are found once, and each follows hourly air *exactly* for air that runs in straight
lines from hour to hour. So there is no time step to choose, nothing can become unstable, and a year
costs one sweep over the hours for all parts together. What a mode method cannot do is let the
coefficient change with moisture on the way; its published range is larger than that change.

In a block, what is left of a step is the product of what is left in each direction (Newman's rule,
exact for equal surfaces of one block), so the modes of a block are sums of rates.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from fitsim.arrays import Array, ArrayLike, read_only
from fitsim.errors import OutsideModelError
from fitsim.indoor import humidity_for_moisture_percent, saturation_pressure_kPa
from fitsim.tables import read_table

__all__ = [
    "Diffusion",
    "Lag",
    "base_lag",
    "block_lag",
    "diffusion_of",
    "disc_lag",
    "film_mm_per_h",
    "follow_percent",
    "mixed_lag",
    "piece_share",
    "slab_lag",
    "slot_air_mm2_per_h",
    "step_share",
    "turn_lag",
]

CELLS = 40
"""Cells across a part; half as many move a year's moisture by less than 0.1 point (a test)."""

DIRECTIONS = 8
"""Directions to the grain over which a turn is averaged."""

KEPT = ("open", "flat")
SMALL_SHARE = 1e-4  # modes below this share of a step are lumped into one

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


@dataclass(frozen=True, eq=False)
class Lag:
    """Mean moisture of a part after a step of the air: 1 - sum share exp(-rate t), shapes (modes,).

    Attributes
    ----------
    rate_per_h : numpy.ndarray
        Rates; 0 for a part that is sealed. [1/h]
    share : numpy.ndarray
        Share of the step each mode carries; they add up to 1. [-]
    """

    rate_per_h: Array
    share: Array

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        object.__setattr__(self, "rate_per_h", read_only(self.rate_per_h))
        object.__setattr__(self, "share", read_only(self.share))


def diffusion_of(
    wood_group: str, *, moisture_percent: float, end: str = "value", film_mm_per_h: float = np.inf
) -> Diffusion:
    """Coefficients of a hardwood or softwood at room temperature, from published values.

    Parameters
    ----------
    wood_group : str
        "hardwood" or "softwood".
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
    across = _number("across_at_10_percent", wood_group, end) * np.exp(
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


def slab_lag(
    *, thickness_mm: float, D_mm2_per_h: float, first_mm_per_h: float, second_mm_per_h: float,
    cells: int = CELLS,
) -> Lag:  # fmt: skip
    """A slab that takes moisture through its two faces.

    Parameters
    ----------
    thickness_mm : float
        From face to face. [mm]
    D_mm2_per_h : float
        Diffusion coefficient. [mm2/h]
    first_mm_per_h, second_mm_per_h : float
        Surface coefficients of the two faces; 0 for a sealed one. [mm/h]
    cells : int
        Finite volumes across it.

    Returns
    -------
    Lag
        One mode for each cell.
    """
    step = thickness_mm / cells
    faces = np.full(cells + 1, D_mm2_per_h / step, dtype=np.float64)
    faces[0] = _through_surface(first_mm_per_h, D_mm2_per_h, step)
    faces[-1] = _through_surface(second_mm_per_h, D_mm2_per_h, step)
    return _modes(faces, np.full(cells, step))


def disc_lag(*, radius_mm: float, D_mm2_per_h: float, surface_mm_per_h: float, cells: int = CELLS) -> Lag:
    """A disc or round rod that takes moisture through its edge alone.

    Parameters
    ----------
    radius_mm : float
        Radius. [mm]
    D_mm2_per_h : float
        Diffusion coefficient. [mm2/h]
    surface_mm_per_h : float
        Surface coefficient of the edge. [mm/h]
    cells : int
        Finite volumes from the middle to the edge.

    Returns
    -------
    Lag
        One mode for each cell.
    """
    step = radius_mm / cells
    edges = np.arange(cells + 1, dtype=np.float64) * step
    faces: Array = edges * D_mm2_per_h / step
    faces[-1] = radius_mm * _through_surface(surface_mm_per_h, D_mm2_per_h, step)
    return _modes(faces, np.diff(edges**2) / 2)


def _through_surface(surface: float, D: float, step: float) -> float:
    """Half a cell of wood and the surface film, one behind the other."""
    return 0.0 if surface == 0 else 1 / (step / (2 * D) + 1 / surface)


def _modes(faces: Array, volumes: Array) -> Lag:
    """Modes of a row of cells joined by conductances; the outermost two lead to the air."""
    root = np.sqrt(volumes)
    matrix = np.diag((faces[:-1] + faces[1:]) / volumes)
    beside = -faces[1:-1] / (root[:-1] * root[1:])
    matrix += np.diag(beside, 1) + np.diag(beside, -1)
    rates, vectors = np.linalg.eigh(matrix)
    share = (vectors.T @ root) ** 2 / volumes.sum()
    return Lag(rate_per_h=np.maximum(rates, 0.0), share=share / share.sum())


def block_lag(*lags: Lag) -> Lag:
    """A block that takes moisture in several directions at once (Newman's product).

    Parameters
    ----------
    *lags : Lag
        One for each direction.

    Returns
    -------
    Lag
        Their product; small modes are lumped so that shares and mean delay are kept.
    """
    product = lags[0]
    for lag in lags[1:]:
        rates = np.add.outer(product.rate_per_h, lag.rate_per_h).ravel()
        product = _lumped(rates, np.outer(product.share, lag.share).ravel())
    return product


def mixed_lag(lags: Sequence[Lag]) -> Lag:
    """The mean of several parts of equal size.

    Parameters
    ----------
    lags : Sequence[Lag]
        The parts.

    Returns
    -------
    Lag
        Modes of them all.
    """
    return _lumped(
        np.concatenate([lag.rate_per_h for lag in lags]),
        np.concatenate([lag.share for lag in lags]) / len(lags),
    )


def _lumped(rates: Array, share: Array) -> Lag:
    small = (share < SMALL_SHARE) & (rates > 0)
    if not small.any() or share[small].sum() <= 0:
        return Lag(rate_per_h=rates, share=share)
    rest = share[small].sum()
    rate = rest / np.sum(share[small] / rates[small])
    return Lag(rate_per_h=np.append(rates[~small], rate), share=np.append(share[~small], rest))


def step_share(lag: Lag, time_h: ArrayLike) -> Array:
    """Share of a step of the air that a part has followed.

    Parameters
    ----------
    lag : Lag
        The part.
    time_h : array_like
        Hours since the step, any shape. [h]

    Returns
    -------
    numpy.ndarray
        From 0 to 1, shape of ``time_h``.
    """
    time = np.asarray(time_h, dtype=np.float64)
    return np.asarray(1 - np.exp(-np.multiply.outer(time, lag.rate_per_h)) @ lag.share)


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
        One of :data:`fitsim.finish.FINISHES`.
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


def follow_percent(lags: Sequence[Lag], air_percent: Array, *, start_percent: float | None = None) -> Array:
    """Mean moisture of every part, hour by hour, behind air that runs straight from hour to hour.

    Parameters
    ----------
    lags : Sequence[Lag]
        The parts.
    air_percent : numpy.ndarray
        Moisture that wood would settle at in the air, every hour, shape (n,). [percent]
    start_percent : float or None
        Moisture of every part at the first hour; None: the year before was the same. [percent]

    Returns
    -------
    numpy.ndarray
        Moisture at the same hours, shape (parts, n). [percent]
    """
    rate = np.concatenate([lag.rate_per_h for lag in lags])
    share = np.concatenate([lag.share for lag in lags])
    edges = np.cumsum([0, *(len(lag.share) for lag in lags)])[:-1]
    keep = np.exp(-rate)
    with np.errstate(invalid="ignore", divide="ignore"):
        ramp = np.where(rate > 1e-12, -np.expm1(-rate) / rate, 1.0)
    old, new = ramp - keep, 1 - ramp  # weights of the air at the start and at the end of an hour
    count = len(air_percent)
    if start_percent is None:
        # Round the year once from nothing; what a year leaves of a mode is known exactly.
        state = np.zeros(len(rate))
        for hour in range(count):
            state = keep * state + old * air_percent[hour] + new * air_percent[(hour + 1) % count]
        mean = float(np.mean(air_percent))
        with np.errstate(invalid="ignore", divide="ignore"):
            state = np.where(rate * count > 1e-9, state / -np.expm1(-rate * count), mean)
    else:
        state = np.full(len(rate), float(start_percent))
    found = np.empty((len(lags), count))
    for hour in range(count):
        found[:, hour] = np.add.reduceat(share * state, edges)
        if hour + 1 < count:
            state = keep * state + old * air_percent[hour] + new * air_percent[hour + 1]
    return read_only(found)
