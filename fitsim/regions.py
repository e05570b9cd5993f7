"""Where one state ends and the next begins, on a square, with few solves.

A coarse lattice is worked out first; only cells whose corners (or points found on their sides) disagree
are halved, again and again. The finest mixed cells are cut into two triangles, and on each of their sides
the place where the earlier state's own margin passes zero is found, so that boundaries are no staircases.
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
        Index of the state, in order of precedence.
    margins : tuple[float, ...]
        For each state its own margin, positive where it does not happen, nan where unknown; of any
        unit, they are only compared with zero and with themselves. [-]
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
    mesh = _Mesh(field, coarse * 2**levels)
    mesh.refine(2**levels)
    edges = _Edges()
    for cell in mesh.cells:
        for state, corners in _pieces(mesh, cell, sharpen):
            edges.add(state, corners)
    # Rows upward, then across: the order of a table a reader expects.
    places = sorted(mesh.samples, key=lambda place: (place[1], place[0]))
    share = np.array(places, dtype=np.float64) / mesh.steps
    share.setflags(write=False)
    return Regions(
        steps=mesh.steps,
        place_share=share,
        state_at=mesh.state_at(),
        outlines=edges.outlines(mesh.at),
        boundaries=edges.boundaries(mesh.at),
        solves=mesh.solves,
    )


class _Mesh:
    """Square cells of unequal size over one lattice."""

    def __init__(self, field: Field, steps: int) -> None:
        self.field, self.steps, self.solves = field, steps, 0
        self.samples: dict[Vertex, Sample] = {}
        self.cells: set[tuple[int, int, int]] = set()
        self.at: dict[Hashable, tuple[float, float]] = {}
        self.crossings: dict[Hashable, float] = {}

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

    def crossing(self, first: Vertex, second: Vertex, sharpen: int) -> tuple[Hashable, tuple[float, ...]]:
        """Where the state changes between two places, and the margins there."""
        key = ("crossing", *sorted((first, second)))
        ends = sorted((first, second), key=lambda vertex: self.samples[vertex].state)
        inner, outer = (self.samples[vertex] for vertex in ends)
        if key not in self.crossings:
            share = self._root(ends, inner, outer, sharpen)
            self.crossings[key] = share
            (a, b), (c, d) = (self.at[vertex] for vertex in ends)
            self.at[key] = (a + share * (c - a), b + share * (d - b))
        share = self.crossings[key]
        return key, tuple(p + share * (q - p) for p, q in zip(inner.margins, outer.margins, strict=True))

    def _root(self, ends: list[Vertex], inner: Sample, outer: Sample, sharpen: int) -> float:
        """Share of the way from inside the earlier state to where its margin is zero."""
        state = inner.state
        (a, b), (c, d) = (self.at[vertex] for vertex in ends)
        low, high = (0.0, inner.margins[state]), (1.0, outer.margins[state])
        guess = _zero_between(low, high)
        for _ in range(sharpen):
            found = self.ask(a + guess * (c - a), b + guess * (d - b))
            happens = found.state == state or not found.margins[state] > 0
            if happens:
                low = (guess, found.margins[state])
            else:
                high = (guess, found.margins[state])
            last, guess = guess, _zero_between(low, high)
            if abs(guess - last) < CLOSE:
                break
        return min(max(guess, 1e-6), 1 - 1e-6)


def _zero_between(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Zero of the straight line through two points, or their middle where there is no such line."""
    (a, below), (b, above) = low, high
    if math.isfinite(below) and math.isfinite(above) and below <= 0 < above:
        return a + (b - a) * -below / (above - below)
    return (a + b) / 2


def _pieces(
    mesh: _Mesh, cell: tuple[int, int, int], sharpen: int
) -> Iterator[tuple[int, list[Hashable]]]:
    """Polygons of one state each that make up a cell, counter-clockwise."""
    around = mesh.around(cell)
    if not mesh.mixed(cell):
        yield mesh.samples[around[0]].state, list(around)
        return
    a, b, c, d = around  # a mixed cell is of the finest size: nothing lies between its corners
    for triangle in ((a, b, c), (a, c, d)):
        yield from _of_triangle(mesh, triangle, sharpen)


def _of_triangle(
    mesh: _Mesh, triangle: tuple[Vertex, Vertex, Vertex], sharpen: int
) -> Iterator[tuple[int, list[Hashable]]]:
    states = [mesh.samples[vertex].state for vertex in triangle]
    if len(set(states)) == 1:
        yield states[0], list(triangle)
        return
    if len(set(states)) == 2:
        lone = next(k for k in range(3) if states.count(states[k]) == 1)
        a, b, c = (triangle[(lone + k) % 3] for k in range(3))
        (p, _), (q, _) = mesh.crossing(a, b, sharpen), mesh.crossing(a, c, sharpen)
        yield states[lone], [a, p, q]
        yield states[(lone + 1) % 3], [p, b, c, q]
        return
    first = states.index(min(states))
    a, b, c = (triangle[(first + k) % 3] for k in range(3))
    (p, at_p), (q, at_q) = mesh.crossing(a, b, sharpen), mesh.crossing(a, c, sharpen)
    r, _ = mesh.crossing(b, c, sharpen)
    middle = ("meeting", *triangle)
    mesh.at[middle] = _meeting(mesh, (p, at_p), (q, at_q), min(mesh.samples[b].state, mesh.samples[c].state))
    yield mesh.samples[a].state, [a, p, middle, q]
    yield mesh.samples[b].state, [p, b, r, middle]
    yield mesh.samples[c].state, [q, middle, r, c]


def _meeting(
    mesh: _Mesh,
    first: tuple[Hashable, tuple[float, ...]],
    second: tuple[Hashable, tuple[float, ...]],
    state: int,
) -> tuple[float, float]:
    """Where three states meet: on the first one's boundary, where the second one's margin is zero."""
    (p, at_p), (q, at_q) = first, second
    ends = sorted(((0.0, at_p[state]), (1.0, at_q[state])), key=lambda end: end[1])
    share = min(max(_zero_between(ends[0], ends[1]), 1e-6), 1 - 1e-6)
    (a, b), (c, d) = mesh.at[p], mesh.at[q]
    return a + share * (c - a), b + share * (d - b)


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
