"""Which places of a lattice must be worked out, and what the others take from them.

A place costs a second, so not every place of a lattice is asked. A first, coarse lattice is; then the cells
in which anything is in doubt are halved, and only places in doubt are asked. A place is not in doubt where
every deciding margin, carried straight between the corners of its cell, is farther from zero than such
carrying can err. How far it can err is told by second differences of the places asked: a straight line
between two points errs by an eighth of the second difference at most, if that is much the same all along.
Where a margin jumps (a turn drops out of its neighbour, and no overlap is left to be measured) nothing is
carried: states there are told apart by halving alone.

Nothing is known here of bowls. A region narrower than a coarse cell can be missed.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray

__all__ = ["AskPlaces", "Found", "Lattice", "settled_lattice"]

SAFETY = 2.0
"""Times what second differences say of the error of carrying: they are not the same everywhere."""

FEW = 4
"""So few places in doubt are asked at once, and the cell is not halved."""

Vertex = tuple[int, int]
Cell = tuple[int, int, int]


@dataclass(frozen=True)
class Found:
    """What is found at one place.

    Attributes
    ----------
    state : int
        Index of the state, in order of precedence.
    margins : tuple[float, ...]
        Positive where what it guards against does not happen; minus infinity where that happens and how far
        is not known, nan where nothing is known, which is allowed only behind a state that happens. [-]
    """

    state: int
    margins: tuple[float, ...]


AskPlaces = Callable[[Sequence[Vertex]], Sequence[Found]]
"""Works out places of the lattice, each (across, up) counted in steps, all at once."""


@dataclass(frozen=True, eq=False)
class Lattice:
    """A lattice of places, some asked, the others between them.

    Attributes
    ----------
    state : numpy.ndarray
        State at every place, first index up, shape (steps + 1, steps + 1). [-]
    margin : numpy.ndarray
        Margins, carried where a place was not asked, shape (steps + 1, steps + 1, k). [-]
    asked : numpy.ndarray
        Whether a place was asked, shape (steps + 1, steps + 1).
    """

    state: IntArray
    margin: Array
    asked: BoolArray


def settled_lattice(
    ask: AskPlaces,
    *,
    steps: int,
    first: int,
    state_of: tuple[int, ...],
    doubt: tuple[float, ...],
    every: bool = False,
) -> Lattice:
    """Work out a lattice from as few of its places as leave nothing in doubt.

    Parameters
    ----------
    ask : callable
        Works out places.
    steps : int
        Cells along a side: ``first`` times a power of two.
    first : int
        Cells along a side of the first lattice.
    state_of : tuple[int, ...]
        For every margin the state that happens where it is not positive, in order; the last state of all
        happens where every margin is positive.
    doubt : tuple[float, ...]
        For every margin how near to zero it is in doubt however straight it runs. [-]
    every : bool
        True to ask every place.

    Returns
    -------
    Lattice
        The same however ``ask`` shares out its work.
    """
    it = _Choosing(ask, steps, state_of, doubt)
    size = 1 if every else steps // first
    it.ask_all((i, j) for j in range(0, steps + 1, size) for i in range(0, steps + 1, size))
    starts = range(0, steps, size)
    cells: list[Cell] = [(i, j, size) for j in starts for i in starts]
    while size > 1:
        cells = it.halved(cells)
        size //= 2
    for array in (it.state, it.margin, it.asked):
        array.setflags(write=False)
    return Lattice(it.state, it.margin, it.asked)


class _Choosing:
    """The lattice while it is filled."""

    def __init__(
        self, ask: AskPlaces, steps: int, state_of: tuple[int, ...], doubt: tuple[float, ...]
    ) -> None:
        places = (steps + 1, steps + 1)
        self._ask, self._steps = ask, steps
        self._state_of, self._doubt = np.array(state_of), np.array(doubt)
        self._last = max(state_of) + 1
        self.state: IntArray = np.full(places, -1, dtype=np.int64)
        self.margin: Array = np.full((*places, len(state_of)), np.nan)
        self.asked: BoolArray = np.zeros(places, dtype=np.bool_)

    def ask_all(self, vertices: Iterable[Vertex]) -> None:
        """Ask every one of some places that was not asked before."""
        wanted = [(i, j) for i, j in dict.fromkeys(vertices) if not self.asked[j, i]]
        for (i, j), found in zip(wanted, self._ask(wanted) if wanted else (), strict=True):
            self.state[j, i], self.margin[j, i], self.asked[j, i] = found.state, found.margins, True

    def halved(self, cells: list[Cell]) -> list[Cell]:
        """Settle what can be in cells, ask what is in doubt, and return the halves still to settle."""
        carried = {cell: self._carried(cell) for cell in cells}
        seen: dict[Vertex, set[int]] = {}
        for (i, j, _), (states, _) in carried.items():
            for down, over in np.argwhere(states >= 0).tolist():
                seen.setdefault((i + over, j + down), set()).add(int(states[down, over]))
        # Two cells that say different things of a place between them leave it in doubt.
        sure = {vertex for vertex, states in seen.items() if len(states) == 1}
        wanted: list[Vertex] = []
        split: list[Cell] = []
        for cell in cells:
            i, j, size = cell
            states, margins = carried[cell]
            doubtful = [v for v in _places(cell) if self.state[v[1], v[0]] < 0 and v not in sure]
            for v in _places(cell):
                down, over = v[1] - j, v[0] - i
                if v in sure and states[down, over] >= 0 and self.state[v[1], v[0]] < 0:
                    self.state[v[1], v[0]] = states[down, over]
                    self.margin[v[1], v[0]] = margins[down, over]
            if not doubtful:
                continue
            if len(doubtful) <= FEW or size == 2:
                wanted += doubtful
                continue
            half = size // 2
            split.append(cell)
            wanted += [v for v in doubtful if (v[0] - i) % half == 0 and (v[1] - j) % half == 0]
        self.ask_all(wanted)
        return [
            (i + a, j + b, size // 2)
            for i, j, size in split
            for b in (0, size // 2)
            for a in (0, size // 2)
        ]

    def _carried(self, cell: Cell) -> tuple[IntArray, Array]:
        """States that can be told from a cell's corners (-1 where they cannot), and margins carried.

        Shapes (size + 1, size + 1) and (size + 1, size + 1, k), first index up.
        """
        i, j, size = cell
        corners = self.margin[j : j + size + 1 : size, i : i + size + 1 : size]
        share = np.linspace(0, 1, size + 1)
        ends = np.stack([1 - share, share])
        finite = np.where(np.isfinite(corners), corners, 0.0)
        margins = np.einsum("av,abk,bu->vuk", ends, finite, ends)
        margins[:, :, ~np.isfinite(corners).all(axis=(0, 1))] = np.nan
        error_u, error_v = self._error(cell, 1), self._error(cell, 0)
        sign = _signs(margins, error_u + error_v + self._doubt)
        sign[:, :, (corners <= 0).all(axis=(0, 1))] = -1
        # A side is told by its own two ends where the other two are of no use.
        for side, ahead, error in _sides(size, error_u, error_v):
            two = corners[ahead]
            known = np.isfinite(two).all(axis=0)
            line = np.where(known, ends.T @ np.where(np.isfinite(two), two, 0.0), np.nan)
            own = _signs(line, error + self._doubt)
            own[:, (two <= 0).all(axis=0)] = -1
            sign[side] = np.where(sign[side] == 0, own, sign[side])
            margins[side] = np.where(np.isnan(margins[side]), line, margins[side])
            margins[side] = np.where(
                np.isnan(margins[side]) & (two <= 0).all(axis=0), -np.inf, margins[side]
            )
        margins[:, :, np.isnan(margins).all(axis=(0, 1)) & (corners <= 0).all(axis=(0, 1))] = -np.inf
        return self._told(sign), margins

    def _told(self, sign: IntArray) -> IntArray:
        """State by the signs of the margins; -1 where one in doubt could decide."""
        states: IntArray = np.full(sign.shape[:2], -2, dtype=np.int64)
        for state in sorted(set(self._state_of.tolist())):
            own = sign[:, :, self._state_of == state]
            happens, free = (own < 0).any(axis=2), (own > 0).all(axis=2)
            open_still = states == -2
            states[open_still & happens] = state
            states[open_still & ~happens & ~free] = -1
        states[states == -2] = self._last
        return states

    def _error(self, cell: Cell, axis: int) -> Array:
        """How far carrying along one axis (0: up, 1: across) can err in a cell, by margin. [-]

        Second differences of places asked, at the cell's own spacing if there are any, else at a wider one.
        """
        spacing, scale = cell[2], 1.0
        while spacing <= self._steps // 2:
            found = [d for d in self._differences(cell, axis, spacing) if np.isfinite(d).any()]
            if found:
                several = np.array(found)
                worst = np.where(
                    np.isfinite(several).any(axis=0),
                    np.where(np.isfinite(several), np.abs(several), 0.0).max(axis=0),
                    np.inf,
                )
                return np.asarray(SAFETY * worst * scale / 8)
            spacing, scale = 2 * spacing, scale / 4
        return np.full(len(self._doubt), np.inf)

    def _differences(self, cell: Cell, axis: int, spacing: int) -> Iterator[Array]:
        i, j, size = cell
        step = (spacing, 0) if axis == 1 else (0, spacing)
        for middle in ((i, j), (i + size, j), (i, j + size), (i + size, j + size)):
            three = [(middle[0] + k * step[0], middle[1] + k * step[1]) for k in (-1, 0, 1)]
            if all(0 <= u <= self._steps and 0 <= v <= self._steps and self.asked[v, u] for u, v in three):
                before, here, after = (self.margin[v, u] for u, v in three)
                with np.errstate(invalid="ignore"):
                    yield before - 2 * here + after


def _places(cell: Cell) -> list[Vertex]:
    i, j, size = cell
    return [(i + over, j + down) for down in range(size + 1) for over in range(size + 1)]


def _signs(value: Array, error: Array) -> IntArray:
    """1 where surely positive, -1 where surely not, 0 where in doubt."""
    with np.errstate(invalid="ignore"):
        return (value > error).astype(np.int64) - (value < -error).astype(np.int64)


def _sides(
    size: int, error_u: Array, error_v: Array
) -> tuple[tuple[tuple[slice | int, slice | int], tuple[slice | int, slice | int], Array], ...]:
    """The four sides of a cell: where they lie in it, their two corners, and the error along them."""
    whole = slice(None)
    return (
        ((0, whole), (0, whole), error_u),
        ((size, whole), (1, whole), error_u),
        ((whole, 0), (whole, 0), error_v),
        ((whole, size), (whole, 1), error_v),
    )
