"""Where one state ends and the next begins, on a square, with few solves.

A coarse lattice is worked out first; only cells whose corners (or points found on their sides) disagree
are halved, again and again. The finest mixed cells are halved into triangles, and those cut along the lines
where the margin of one state after another is zero; on the triangles' sides these zeros are found by
solves, so that boundaries are no staircases.
Nothing is known here of bowls: a field gives a state and margins at a place. A region narrower than a
coarse cell can be missed.
"""

import math
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray

__all__ = ["Boundary", "Regions", "Sample", "find_regions"]

CLOSE = 1e-3
"""Share of a finest cell to which a boundary is found where solves are spent on it."""

Vertex = tuple[int, int]
Edge = tuple[Hashable, Hashable]


@dataclass(frozen=True)
class Sample:
    """What a field says at one place.

    Attributes
    ----------
    state : int
        Index of the state, in order of precedence: the first whose margin is not positive.
    margins : tuple[float, ...]
        For each state but the last its own margin, positive where it does not happen, nan where unknown
        (only after a state that happens); of any unit, compared with zero and with themselves. [-]
    """

    state: int
    margins: tuple[float, ...]


Field = Callable[[float, float], Sample]


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
        Finest cells along a side.
    place_share : numpy.ndarray
        Lattice places worked out, shape (m, 2), from 0 to 1 across and up. [-]
    cells : numpy.ndarray
        Lower left corner and size of every cell, counted in finest cells, shape (k, 3). [-]
    state_at : numpy.ndarray
        State at every lattice place, first index up, shape (steps + 1, steps + 1). [-]
    outlines : tuple[tuple[int, tuple[numpy.ndarray, ...]], ...]
        Closed outlines of every region, by state; holes run the other way round. [-]
    boundaries : tuple[Boundary, ...]
        Lines between regions.
    solves : int
        How often the field was asked.
    """

    steps: int
    place_share: Array
    cells: IntArray
    state_at: IntArray
    outlines: tuple[tuple[int, tuple[Array, ...]], ...]
    boundaries: tuple[Boundary, ...]
    solves: int


def find_regions(field: Field, *, coarse: int, levels: int, sharpen: int) -> Regions:
    """Divide the unit square into regions of equal state.

    Parameters
    ----------
    field : callable
        State and margins at a place, both coordinates from 0 to 1.
    coarse : int
        Cells along a side of the first lattice.
    levels : int
        How often a cell on a boundary is halved.
    sharpen : int
        Most solves spent on one crossing of a side; 0 interpolates between its ends.

    Returns
    -------
    Regions
        Outlines, boundaries, and every place worked out.
    """
    mesh = _Mesh(field, coarse * 2**levels, sharpen)
    mesh.refine(2**levels)
    edges = _Edges()
    for cell in mesh.cells:
        for state, corners in _pieces(mesh, cell):
            edges.add(state, corners)
    # Rows upward, then across: the order of a table a reader expects.
    places = sorted(mesh.samples, key=lambda place: (place[1], place[0]))
    share = np.array(places, dtype=np.float64) / mesh.steps
    share.setflags(write=False)
    cells: IntArray = np.array(sorted(mesh.cells), dtype=np.int64)
    cells.setflags(write=False)
    return Regions(
        steps=mesh.steps,
        place_share=share,
        cells=cells,
        state_at=mesh.state_at(),
        outlines=edges.outlines(mesh.at),
        boundaries=edges.boundaries(mesh.at),
        solves=mesh.solves,
    )


class _Mesh:
    """Square cells of unequal size over one lattice."""

    def __init__(self, field: Field, steps: int, sharpen: int) -> None:
        self.field, self.steps, self.sharpen, self.solves = field, steps, sharpen, 0
        self.samples: dict[Vertex, Sample] = {}
        self.cells: set[tuple[int, int, int]] = set()
        self.at: dict[Hashable, tuple[float, float]] = {}
        self.zeros: dict[Hashable, _Corner] = {}

    def ask(self, u: float, v: float) -> Sample:
        self.solves += 1
        return self.field(u, v)

    def work_out(self, vertex: Vertex) -> None:
        if vertex not in self.samples:
            place = (vertex[0] / self.steps, vertex[1] / self.steps)
            self.samples[vertex] = self.ask(*place)
            self.at[vertex] = place

    def around(self, cell: tuple[int, int, int]) -> list[Vertex]:
        """Places worked out on a cell's sides, counter-clockwise from its lower left corner."""
        i, j, size = cell
        sides = [(i + k, j) for k in range(size)] + [(i + size, j + k) for k in range(size)]
        sides += [(i + size - k, j + size) for k in range(size)] + [(i, j + size - k) for k in range(size)]
        return [vertex for vertex in sides if vertex in self.samples]

    def mixed(self, cell: tuple[int, int, int]) -> bool:
        return len({self.samples[vertex].state for vertex in self.around(cell)}) > 1

    def refine(self, size: int) -> None:
        for j in range(0, self.steps + 1, size):
            for i in range(0, self.steps + 1, size):
                self.work_out((i, j))
        starts = range(0, self.steps, size)
        self.cells = {(i, j, size) for i in starts for j in starts}
        # A cell halved beside a larger one may put a place on that one's side which disagrees.
        while split := sorted(cell for cell in self.cells if cell[2] > 1 and self.mixed(cell)):
            for i, j, size in split:
                half = size // 2
                for down in (0, half, size):
                    for over in (0, half, size):
                        self.work_out((i + over, j + down))
                self.cells.remove((i, j, size))
                self.cells |= {(i + a, j + b, half) for a in (0, half) for b in (0, half)}

    def state_at(self) -> IntArray:
        states: IntArray = np.zeros((self.steps + 1, self.steps + 1), dtype=np.int64)
        for i, j, size in self.cells:
            states[j : j + size + 1, i : i + size + 1] = self.samples[i, j].state
        for (i, j), sample in self.samples.items():
            states[j, i] = sample.state
        states.setflags(write=False)
        return states

    def crossing(self, state: int, line: Hashable, first: "_Corner", second: "_Corner") -> "_Corner":
        """Where a state's margin is zero on a line between two corners, found once for every line."""
        key: Hashable = ("zero", state, line)
        if key not in self.zeros:
            ends = self.ends_of(line) or (first, second)
            inner, outer = sorted(ends, key=lambda end: end.margins[state] > 0)
            share = _zero_between((0.0, inner.margins[state]), (1.0, outer.margins[state]))
            self.zeros[key] = _Corner(key, _part(inner.margins, outer.margins, share))
            if self.ends_of(line):
                share = self.sharpened(state, inner, outer, share)
            (a, b), (c, d) = self.at[inner.key], self.at[outer.key]
            self.at[key] = (a + share * (c - a), b + share * (d - b))
        return self.zeros[key]

    def ends_of(self, line: Hashable) -> "tuple[_Corner, _Corner] | None":
        """Both ends of a side or diagonal of a cell; None for a line inside a triangle."""
        if not (isinstance(line, frozenset) and line <= self.samples.keys()):
            return None
        first, second = sorted(line)
        return _Corner(first, self.samples[first].margins), _Corner(second, self.samples[second].margins)

    def sharpened(self, state: int, inner: "_Corner", outer: "_Corner", guess: float) -> float:
        """Share of the way from inside a state to where its margin truly is zero."""
        (a, b), (c, d) = self.at[inner.key], self.at[outer.key]
        low, high = (0.0, inner.margins[state]), (1.0, outer.margins[state])
        for _ in range(self.sharpen):
            found = self.ask(a + guess * (c - a), b + guess * (d - b)).margins[state]
            if found > 0:
                high = (guess, found)
            elif found <= 0:
                low = (guess, found)
            else:  # unknown here: an earlier state lies between
                break
            last, guess = guess, _zero_between(low, high)
            if abs(guess - last) < CLOSE:
                break
        return guess


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


def _zero_between(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Zero of the straight line through two points, or their middle where there is no such line."""
    (a, below), (b, above) = low, high
    if math.isfinite(below) and math.isfinite(above) and above > below:
        return min(max(a + (b - a) * -below / (above - below), a), b)
    return (a + b) / 2


def _pieces(mesh: _Mesh, cell: tuple[int, int, int]) -> Iterator[tuple[int, list[Hashable]]]:
    """Polygons of one state each that make up a cell, counter-clockwise."""
    around = mesh.around(cell)
    if not mesh.mixed(cell):
        yield mesh.samples[around[0]].state, list(around)
        return
    a, b, c, d = around  # a mixed cell is of the finest size: nothing lies between its corners
    yield from _of_triangle(mesh, (a, b, c))
    yield from _of_triangle(mesh, (a, c, d))


Polygon = list[tuple[_Corner, Hashable]]
"""Corners in order, each with the line that leads from it to the next."""


def _of_triangle(mesh: _Mesh, triangle: tuple[Vertex, ...]) -> list[tuple[int, list[Hashable]]]:
    """Cut a triangle by one state's zero line after another, in order of precedence.

    So a sliver of a third state between two corners is kept, and where three states meet is where one
    zero line ends on another.
    """
    corners = [_Corner(vertex, mesh.samples[vertex].margins) for vertex in triangle]
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
