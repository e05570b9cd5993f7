"""How far each part of a bowl lags behind the air: diffusion with a resisting surface.

Moisture spreads by Fick's law with one coefficient per part, taken at the part's mean moisture, and
leaves through a surface film. A slab or disc is cut into cells (finite volumes, second order); the
cells' own modes are found once, and each follows hourly air *exactly* for air that runs in straight
lines from hour to hour. So there is no time step to choose, nothing can become unstable, and a year
costs one sweep over the hours for all parts together. What a mode method cannot do is let the
coefficient change with moisture on the way; its published range is larger than that change.

In a block, what is left of a step is the product of what is left in each direction (Newman's rule,
exact where each face has one surface coefficient), so the modes of a block are sums of rates.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, ArrayLike, read_only

__all__ = [
    "Lag",
    "block_lag",
    "disc_lag",
    "follow_percent",
    "mixed_lag",
    "slab_lag",
    "step_share",
]

CELLS = 40
"""Cells across a part; half as many move a year's moisture by less than 0.1 point (a test)."""

SMALL_SHARE = 1e-4  # modes below this share of a step are lumped into one


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


def mixed_lag(lags: Sequence[Lag], sizes: Sequence[float] = ()) -> Lag:
    """The mean of several parts, each by its size.

    Parameters
    ----------
    lags : Sequence[Lag]
        The parts.
    sizes : sequence of float
        Size of each part, in any one unit; none: all are equal. [-]

    Returns
    -------
    Lag
        Modes of them all.
    """
    size = np.asarray(sizes if len(sizes) else np.ones(len(lags)), dtype=np.float64)
    return _lumped(
        np.concatenate([lag.rate_per_h for lag in lags]),
        np.concatenate([s * lag.share for s, lag in zip(size / size.sum(), lags, strict=True)]),
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
