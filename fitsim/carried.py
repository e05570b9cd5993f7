"""A smooth quantity known at the places of a mesh of unequal cells, carried to the whole lattice.

Cubics through the coarse lattice carry the quantity's logarithm where all they rest on is known and above
zero; elsewhere the corners of each cell are joined straight, and cells with an unknown corner say nothing.
"""

import math
from collections.abc import Mapping

import numpy as np

from fitsim.arrays import Array
from fitsim.regions import Regions

__all__ = ["carried"]


def carried(regions: Regions, known: Mapping[tuple[int, int], float], *, coarse: int) -> Array:
    """Carry a quantity from the places of a mesh to every place of its lattice.

    Parameters
    ----------
    regions : Regions
        The mesh.
    known : Mapping
        The quantity by place, counted in finest cells across and up; not negative.
    coarse : int
        Cells along a side of the first lattice.

    Returns
    -------
    numpy.ndarray
        The quantity, first index up, shape (steps + 1, steps + 1); nan where it is not known.
    """
    steps = regions.steps
    values = np.full((steps + 1, steps + 1), np.nan)
    for i, j, size in regions.cells.tolist():
        corners = np.array([[known.get((i + a, j + b), math.nan) for a in (0, size)] for b in (0, size)])
        ends = np.stack([np.linspace(1, 0, size + 1), np.linspace(0, 1, size + 1)])
        above = bool((corners > 0).all())
        between = ends.T @ (np.log(corners) if above else corners) @ ends
        values[j : j + size + 1, i : i + size + 1] = np.exp(between) if above else between
    first = range(0, steps + 1, steps // coarse)
    grid = np.array([[known.get((i, j), math.nan) for i in first] for j in first])
    usable = np.isfinite(grid) & (np.nan_to_num(grid) > 0)
    weights = _cubic_weights(steps, coarse)
    touched = np.abs(weights) > 0
    missing = touched.astype(np.float64) @ (~usable).astype(np.float64) @ touched.T.astype(np.float64)
    logs = np.log(np.where(usable, grid, 1.0))
    values = np.where(missing > 0, values, np.exp(weights @ logs @ weights.T))
    values.setflags(write=False)
    return values


def _cubic_weights(steps: int, coarse: int) -> Array:
    """Weights that carry coarse + 1 even values to steps + 1, by polynomials through the nearest four."""
    order = min(3, coarse)
    weights = np.zeros((steps + 1, coarse + 1))
    for fine in range(steps + 1):
        place = fine * coarse / steps
        start = min(max(math.floor(place) - (order - 1) // 2, 0), coarse - order)
        used = range(start, start + order + 1)
        for k in used:
            others = [other for other in used if other != k]
            weights[fine, k] = math.prod((place - other) / (k - other) for other in others)
    return weights
