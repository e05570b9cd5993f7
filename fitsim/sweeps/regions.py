"""Where one state ends and the next begins, on a lattice of places over a square.

Every cell whose corners disagree is halved into triangles, and those cut along the lines where the margin
of one state after another is zero, carried straight between the corners: boundaries are no staircases.
Nothing is known here of bowls.
"""

import math
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray

__all__ = ["Boundary", "Regions", "regions_of"]

RASTER = 96
"""Cells of the raster along a side, at least."""

BEYOND = 0.05
"""Where a margin jumps: share of the margin beside the jump that is taken, negative, beyond it at least."""

Vertex = tuple[int, int]
Edge = tuple[Hashable, Hashable]


@dataclass(frozen=True, eq=False)
class Boundary:
    """A line between two regions.

    Attributes
    ----------
    state, beyond : int
        The two states, the earlier in precedence first.
    line_share : numpy.ndarray
        Corners of the line, shape (n, 2), from 0 to 1 across and up. [-]
    """

    state: int
    beyond: int
    line_share: Array


@dataclass(frozen=True, eq=False)
class Regions:
    """The square divided into regions.

    Attributes
    ----------
    steps : int
        Cells along a side.
    state_at : numpy.ndarray
        State at every lattice place, first index up, shape (steps + 1, steps + 1). [-]
    raster : numpy.ndarray
        The same on a finer raster, for finding room in a drawing, first index up, shape (m, m). [-]
    outlines : tuple[tuple[int, tuple[numpy.ndarray, ...]], ...]
        Closed outlines of every region, by state; holes run the other way round. [-]
    boundaries : tuple[Boundary, ...]
        Lines between regions.
    """

    steps: int
    state_at: IntArray
    raster: IntArray
    outlines: tuple[tuple[int, tuple[Array, ...]], ...]
    boundaries: tuple[Boundary, ...]


def regions_of(state: IntArray, margin: Array) -> Regions:
    """Divide the unit square into regions of equal state.

    Parameters
    ----------
    state : numpy.ndarray
        Index of the state at every lattice place, in order of precedence: the first whose margin is not
        positive, first index up, shape (steps + 1, steps + 1). [-]
    margin : numpy.ndarray
        For each state but the last its own margin, positive where it does not happen, minus infinity where
        it happens and how far is not known, nan where nothing is known (only after a state that happens);
        of any unit, compared with zero and with themselves, shape (steps + 1, steps + 1, states - 1). [-]

    Returns
    -------
    Regions
        Outlines and boundaries.
    """
    guessed = _carried_beyond(margin)
    mesh = _Mesh(state, guessed)
    edges = _Edges()
    steps = mesh.steps
    for j in range(steps):
        for i in range(steps):
            for happening, corners in _pieces(mesh, (i, j)):
                edges.add(happening, corners)
    state_at = state.copy()
    state_at.setflags(write=False)
    return Regions(
        steps=steps,
        state_at=state_at,
        raster=_raster(state_at, guessed),
        outlines=edges.outlines(mesh.at),
        boundaries=edges.boundaries(mesh.at),
    )


def _carried_beyond(margin: Array) -> Array:
    """Margins with a guess where they jump: straight on from the two places before the jump.

    It places the boundary between two places of the lattice, and changes no state.
    """
    guessed = margin.copy()
    high, wide, _ = margin.shape
    for j, i, k in np.argwhere(np.isneginf(margin)).tolist():
        guesses = []
        for up, over in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, -1)):  # sides of triangles
            if 0 <= j + 2 * up < high and 0 <= i + 2 * over < wide:
                beside, before = margin[j + up, i + over, k], margin[j + 2 * up, i + 2 * over, k]
                if 0 < beside < math.inf and 0 < before < math.inf:
                    guesses.append(min(2 * beside - before, -BEYOND * beside))
        if guesses:
            guessed[j, i, k] = sum(guesses) / len(guesses)
    return guessed


def _raster(state: IntArray, margin: Array) -> IntArray:
    """States on a raster of :data:`RASTER` cells along a side at least, margins carried within a cell."""
    steps = len(state) - 1
    times = math.ceil(RASTER / steps)
    fine: IntArray = np.zeros((steps * times + 1, steps * times + 1), dtype=np.int64)
    share = np.linspace(0, 1, times + 1)
    ends = np.stack([1 - share, share])
    last = margin.shape[2]
    for j in range(steps):
        for i in range(steps):
            there = state[j : j + 2, i : i + 2]
            corners = margin[j : j + 2, i : i + 2]
            # Where a margin is known at some corners only, those at which it is not take no part.
            known = np.isfinite(corners)
            weight = np.einsum("av,abk,bu->vuk", ends, known.astype(np.float64), ends)
            value = np.einsum("av,abk,bu->vuk", ends, np.where(known, corners, 0.0), ends)
            happens = (value <= 0) & (weight > 0)
            happens |= np.isneginf(corners).all(axis=(0, 1))
            cell = np.where(happens.any(axis=2), happens.argmax(axis=2), last)
            if (there == there[0, 0]).all():
                cell[:] = there[0, 0]
            fine[j * times : (j + 1) * times + 1, i * times : (i + 1) * times + 1] = cell
    fine[::times, ::times] = state
    fine.setflags(write=False)
    return fine


class _Mesh:
    """The lattice, and the corners that boundaries put between its places."""

    def __init__(self, state: IntArray, margin: Array) -> None:
        self.steps = len(state) - 1
        places = [(i, j) for j in range(self.steps + 1) for i in range(self.steps + 1)]
        self.state = {(i, j): int(state[j, i]) for i, j in places}
        self.margins = {(i, j): tuple(margin[j, i].tolist()) for i, j in places}
        self.at: dict[Hashable, tuple[float, float]] = {
            (i, j): (i / self.steps, j / self.steps) for i, j in places
        }
        self.zeros: dict[Hashable, _Corner] = {}

    def crossing(self, state: int, line: Hashable, first: "_Corner", second: "_Corner") -> "_Corner":
        """Where a state's margin is zero on a line between two corners, found once for every line."""
        key: Hashable = ("zero", state, line)
        if key not in self.zeros:
            ends = self.ends_of(line) or (first, second)
            inner, outer = sorted(ends, key=lambda end: end.margins[state] > 0)
            share = _zero_between(inner.margins[state], outer.margins[state])
            self.zeros[key] = _Corner(key, _part(inner.margins, outer.margins, share))
            (a, b), (c, d) = self.at[inner.key], self.at[outer.key]
            self.at[key] = (a + share * (c - a), b + share * (d - b))
        return self.zeros[key]

    def ends_of(self, line: Hashable) -> "tuple[_Corner, _Corner] | None":
        """Both ends of a side or diagonal of a cell; None for a line inside a triangle."""
        if not (isinstance(line, frozenset) and line <= self.margins.keys()):
            return None
        first, second = sorted(line)
        return _Corner(first, self.margins[first]), _Corner(second, self.margins[second])


@dataclass(frozen=True)
class _Corner:
    """A corner of a piece: its name, and the margins there (between lattice places, interpolated)."""

    key: Hashable
    margins: tuple[float, ...]


def _part(first: tuple[float, ...], second: tuple[float, ...], share: float) -> tuple[float, ...]:
    """Margins a share of the way between two places; where one is no number the other stands for it."""

    def between(p: float, q: float) -> float:
        return q if not math.isfinite(p) else p if not math.isfinite(q) else p + share * (q - p)

    return tuple(between(p, q) for p, q in zip(first, second, strict=True))


def _zero_between(below: float, above: float) -> float:
    """Zero of the straight line between two margins, or the middle where there is no such line."""
    if math.isfinite(below) and math.isfinite(above) and above > below:
        return min(max(-below / (above - below), 0.0), 1.0)
    return 0.5


def _pieces(mesh: _Mesh, cell: Vertex) -> Iterator[tuple[int, list[Hashable]]]:
    """Polygons of one state each that make up a cell, counter-clockwise."""
    i, j = cell
    a, b, c, d = corners = (i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)
    if len({mesh.state[corner] for corner in corners}) == 1:
        yield mesh.state[a], list(corners)
        return
    yield from _of_triangle(mesh, (a, b, c))
    yield from _of_triangle(mesh, (a, c, d))


Polygon = list[tuple[_Corner, Hashable]]
"""Corners in order, each with the line that leads from it to the next."""


def _of_triangle(mesh: _Mesh, triangle: tuple[Vertex, ...]) -> list[tuple[int, list[Hashable]]]:
    """Cut a triangle by one state's zero line after another, in order of precedence.

    So a sliver of a third state between two corners is kept, and where three states meet is where one
    zero line ends on another.
    """
    corners = [_Corner(vertex, mesh.margins[vertex]) for vertex in triangle]
    left: Polygon = [
        (corner, frozenset((corner.key, after.key)))
        for corner, after in zip(corners, [*corners[1:], corners[0]], strict=True)
    ]
    states = len(corners[0].margins)
    pieces: list[tuple[int, Polygon]] = []
    for state in range(states):
        happens, left = _cut(mesh, left, state, triangle)
        pieces.append((state, happens))
    pieces.append((states, left))
    return [
        (state, [corner.key for corner, _ in _with_meetings(state, polygon, pieces)])
        for state, polygon in pieces
        if len(polygon) > 2
    ]


def _cut(
    mesh: _Mesh, polygon: Polygon, state: int, triangle: tuple[Vertex, ...]
) -> tuple[Polygon, Polygon]:
    """Part of a convex polygon where a state happens, and the rest."""
    inside = [not corner.margins[state] > 0 for corner, _ in polygon]
    if not any(inside) or all(inside):
        return (polygon, []) if any(inside) else ([], polygon)
    cut: Hashable = ("cut", state, triangle)
    parts: tuple[Polygon, Polygon] = ([], [])
    for k, (corner, line) in enumerate(polygon):
        after = (k + 1) % len(polygon)
        mine, other = (parts[0], parts[1]) if inside[k] else (parts[1], parts[0])
        mine.append((corner, line))
        if inside[k] != inside[after]:
            zero = mesh.crossing(state, line, corner, polygon[after][0])
            mine.append((zero, cut))
            other.append((zero, line))
    return parts


def _with_meetings(state: int, polygon: Polygon, pieces: list[tuple[int, Polygon]]) -> Polygon:
    """Add to a piece's cut side the corners that later cuts have put on it from the other side."""
    whole: Polygon = []
    for k, (corner, line) in enumerate(polygon):
        whole.append((corner, line))
        if isinstance(line, tuple) and line[1] == state:
            after = polygon[(k + 1) % len(polygon)][0]
            later = [other for index, other in pieces if index > state]
            whole += [(other, line) for other in _along(line, corner, after, later)]
    return whole


def _along(line: Hashable, first: _Corner, last: _Corner, beyond: list[Polygon]) -> list[_Corner]:
    """Corners between two on one line, as the pieces on its other side run from the last to the first."""
    before = {}
    for polygon in beyond:
        for k, (corner, side) in enumerate(polygon):
            if side == line:
                before[polygon[(k + 1) % len(polygon)][0].key] = corner
    found: list[_Corner] = []
    at = before.get(first.key)
    while at is not None and at.key != last.key:
        found.append(at)
        at = before.get(at.key)
    return found


class _Edges:
    """Directed sides of every region, those inside it cancelled."""

    def __init__(self) -> None:
        self.of: dict[int, dict[Edge, None]] = {}

    def add(self, state: int, corners: list[Hashable]) -> None:
        sides = self.of.setdefault(state, {})
        for first, second in zip(corners, [*corners[1:], corners[0]], strict=True):
            if (second, first) in sides:
                del sides[second, first]
            else:
                sides[first, second] = None

    def outlines(
        self, at: dict[Hashable, tuple[float, float]]
    ) -> tuple[tuple[int, tuple[Array, ...]], ...]:
        return tuple(
            (state, tuple(_line(chain, at) for chain in _chains(self.of[state])))
            for state in sorted(self.of)
        )

    def boundaries(self, at: dict[Hashable, tuple[float, float]]) -> tuple[Boundary, ...]:
        found = []
        for state in sorted(self.of):
            for beyond in sorted(other for other in self.of if other > state):
                shared = [(a, b) for a, b in self.of[state] if (b, a) in self.of[beyond]]
                found += [Boundary(state, beyond, _line(chain, at)) for chain in _chains(shared)]
        return tuple(found)


def _line(chain: list[Hashable], at: dict[Hashable, tuple[float, float]]) -> Array:
    line = np.array([at[key] for key in chain])
    line.setflags(write=False)
    return line


def _chains(edges: Iterable[Edge]) -> list[list[Hashable]]:
    """Join directed edges into lines; a closed line ends with its first place."""
    after: dict[Hashable, list[Hashable]] = {}
    arrivals: dict[Hashable, int] = {}
    for first, second in edges:
        after.setdefault(first, []).append(second)
        arrivals[second] = arrivals.get(second, 0) + 1
    open_ends = [key for key, nexts in after.items() if len(nexts) > arrivals.get(key, 0)]
    chains = []
    for start in [*open_ends, *after]:
        while after.get(start):
            chain = [start]
            while after.get(chain[-1]):
                chain.append(after[chain[-1]].pop())
            chains.append(chain)
    return chains
