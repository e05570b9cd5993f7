"""How the strip's shape is written: rotation vectors of its nodes as splines along it, and its stretch.

Three numbers a spline, and one for every *length* of the strip along which the force that stretches it is
taken as the same: its elements stretch by that, each as soft as it is. A point of the strip then moves by
sums over the nodes before it; two places that touch are one turn apart, so that what happens between them
concerns the numbers of one turn. These stand in the order in which they lie along the strip. Slots are
taken in *blocks* of neighbouring nodes that share one window of splines, and the whole becomes one banded
system. Their number does not depend on how many points touch.

Source of the splines: C. de Boor, *A Practical Guide to Splines* (from memory). Nothing is solved here.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.strip.state import ElasticBowl

__all__ = ["DEGREE", "SPLINES_PER_POINT", "StripSplines", "strip_splines"]

SPLINES_PER_POINT = 0.5
"""Splines to a point at which turns may touch. Both are refined together: more points to the same splines
hold a strip that cannot follow them, and its greatest stresses come out 3 to 10 percent too high, its
chance of splitting 19 to 33 (72 points a turn with 12 splines against 36, three bowls); with two points to
a spline 24, 48, 72 and 108 a turn tell chances within 5 percent of each other, three other bowls."""

DEGREE = 3
"""Degree of the splines."""

PIECES = 3
"""Pieces of the splines in a length of one stretching force: a quarter of a turn."""

IN_BLOCKS = 64
"""Subdiagonals from which on LAPACK factorises a band in blocks, which is a fifth faster than without."""

MARGIN = 3
"""How many nodes the place a node faces may wander before its window is left. [-]"""


@dataclass(frozen=True, eq=False)
class StripSplines:
    """Splines of a strip of n nodes and e elements, the slots' windows on them, and the band's layout.

    A *slot* is the pair of points a node (but the root) has with what it faces; nails follow the nodes.
    With s slots in blocks of B, padded to a whole number of blocks; a window has C columns of the system.

    Attributes
    ----------
    bowl : ElasticBowl
        What is written.
    per_turn, count, degree : int
        Elements in a revolution, splines, their degree.
    first, value : numpy.ndarray
        First spline that is not zero at each node, (n,), and the values there, (n, degree + 1). [-]
    column : numpy.ndarray
        First of the three unknowns of every spline, (count,).
    stretch_of, stretch_column : numpy.ndarray
        Length that every element belongs to, (e,), and the unknown of every length, (lengths,).
    stretch_begins : numpy.ndarray
        First element of every length, and one beyond the last, (lengths + 1,).
    softness_mm : numpy.ndarray
        Stretch of an element where the number of its length is 1, (e,). [mm]
    outer : numpy.ndarray
        Node of each slot, (s,).
    block, blocks : int
        Slots in a block, blocks.
    window_first, window_stretch, window_column : numpy.ndarray
        First spline, first length and first column of each block's window, (blocks,).
    window, columns : int
        Splines and columns in a window.
    table_node, table_value : numpy.ndarray
        For the running sums along the strip: node and value at each step of each spline's support,
        (count, support). [-]
    start : numpy.ndarray
        First node of each spline's support, (count,).
    element_first, element_start, element_end : numpy.ndarray
        First spline of an element's functions, (e,), and their values at its first and its second node,
        (e, degree + 2). [-]
    half_band, below, diagonal, height : int
        Half the bandwidth; the subdiagonals told to LAPACK, and of its band storage the row of the
        diagonal and all rows.
    """

    bowl: ElasticBowl
    per_turn: int
    count: int
    degree: int
    first: IntArray
    value: Array
    column: IntArray
    stretch_of: IntArray
    stretch_column: IntArray
    stretch_begins: IntArray
    softness_mm: Array
    outer: IntArray
    block: int
    blocks: int
    window_first: IntArray
    window_stretch: IntArray
    window_column: IntArray
    window: int
    columns: int
    table_node: IntArray
    table_value: Array
    start: IntArray
    element_first: IntArray
    element_start: Array
    element_end: Array
    half_band: int
    below: int
    diagonal: int
    height: int

    @property
    def unknowns(self) -> int:
        """Three a spline and one a length."""
        return 3 * self.count + len(self.stretch_column)

    @property
    def support(self) -> int:
        """Most nodes and elements one spline reaches over."""
        return int(self.table_node.shape[1])

    @property
    def slots(self) -> int:
        """Nodes but the root, and nails."""
        return len(self.outer)


def _values(x: Array, knots: Array, degree: int) -> tuple[IntArray, Array]:
    """First spline that is not zero at each x, and the degree + 1 values there (Cox and de Boor)."""
    count = len(knots) - degree - 1
    span = np.clip(np.searchsorted(knots, x, side="right") - 1, degree, count - 1)
    value = np.ones((len(x), 1))
    for p in range(1, degree + 1):
        left = knots[span[:, None] + 1 - np.arange(p, 0, -1)]
        right = knots[span[:, None] + np.arange(1, p + 1)]
        part = value / (right - left)
        higher = np.zeros((len(x), p + 1))
        higher[:, :-1] += part * (right - x[:, None])
        higher[:, 1:] += part * (x[:, None] - left)
        value = higher
    return (span - degree).astype(np.int64), value


def _support(first: IntArray, value: Array, count: int) -> tuple[IntArray, IntArray]:
    """First and one beyond the last sample at which each spline is not zero, (count,)."""
    start, end = np.full(count, len(first)), np.zeros(count, dtype=np.int64)
    column = first[:, None] + np.arange(value.shape[1])
    row = np.broadcast_to(np.arange(len(first))[:, None], column.shape)
    np.minimum.at(start, column[value > 0], row[value > 0])
    np.maximum.at(end, column[value > 0], row[value > 0] + 1)
    return start, end


def _table(first: IntArray, value: Array, start: IntArray, support: int) -> tuple[IntArray, Array]:
    """Samples and values along each spline's support, (count, support)."""
    at = start[:, None] + np.arange(support)
    sample = np.minimum(at, len(first) - 1)
    k = np.arange(len(start))[:, None] - first[sample]
    inside = (k >= 0) & (k < value.shape[1]) & (at < len(first))
    return sample, np.where(inside, value[sample, np.clip(k, 0, value.shape[1] - 1)], 0.0)


def _spread(first: IntArray, value: Array, base: IntArray, functions: int) -> Array:
    """Values moved to an element's own functions, (e, functions)."""
    out = np.zeros((len(base), functions))
    row = np.arange(len(base))
    for k in range(value.shape[1]):
        out[row, first - base + k] += value[:, k]
    return out


def strip_splines(bowl: ElasticBowl, *, splines_per_turn: int, degree: int = DEGREE) -> StripSplines:
    """Lay splines along a bowl's strip.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    splines_per_turn, degree : int
        Splines in a revolution and their degree.

    Returns
    -------
    StripSplines
        Evenly spaced over the elements, with windows of a turn and a margin.
    """
    strip, seats, base = bowl.strip, bowl.seats, len(bowl.seats.base_mm)
    e = len(strip.arc_mm)
    per_turn = int(np.count_nonzero(bowl.turn == 1))
    # Fewer pieces than elements: an element then meets one knot at most, as its functions take for granted.
    pieces = min(round(e / per_turn * splines_per_turn), e - 1)
    count = max(pieces + degree, degree + 2)
    knots = np.concatenate([np.zeros(degree), np.linspace(0, 1, count - degree + 1), np.ones(degree)])
    first, value = _values(np.arange(e + 1) / e, knots, degree)
    outer = np.concatenate([np.arange(1, e + 1), [nail.node for nail in bowl.nails]]).astype(np.int64)
    faced = np.concatenate([seats.place - base, [nail.place - base for nail in bowl.nails]])
    block = max(4, per_turn // 3)
    blocks = -(-len(outer) // block)
    pad = blocks * block - len(outer)
    padded = np.concatenate([outer, np.full(pad, outer[-1])])
    lowest = np.maximum(np.floor(np.concatenate([faced, np.full(pad, faced[-1])])) - MARGIN, 0).astype(
        np.int64
    )
    stretch_of = (((np.arange(e) + 0.5) / e * (count - degree)).astype(np.int64)) // PIECES
    lengths = int(stretch_of[-1]) + 1
    # The number of a length stands behind the spline in the middle of those that bend it.
    behind = PIECES * np.arange(lengths) + (PIECES + degree) // 2
    column = 3 * np.arange(count) + np.searchsorted(behind, np.arange(count), side="left")
    stretch_column = 3 * (behind + 1) + np.arange(lengths)
    begin, end = first[lowest], first[padded] + degree
    low, high = stretch_of[np.minimum(lowest, e - 1)], stretch_of[padded - 1]
    from_column = np.minimum(column[begin], stretch_column[low])
    to_column = np.maximum(column[end] + 3, stretch_column[high] + 1)
    window_first = begin.reshape(blocks, block).min(axis=1)
    window = min(int((end.reshape(blocks, block).max(axis=1) + 1 - window_first).max()), count)
    window_column = from_column.reshape(blocks, block).min(axis=1)
    columns = int((to_column.reshape(blocks, block).max(axis=1) - window_column).max())
    window_column = np.minimum(window_column, 3 * count + lengths - columns)
    start, last = _support(first, value, count)
    table_node, table_value = _table(first, value, start, int((last - start).max()))
    functions = degree + 2
    element = np.minimum(first[:-1], count - functions)
    # Two unknowns meet in the band where one slot reaches both: no block of slots, only its widest slot.
    half_band = int((to_column - from_column).max()) - 1
    below = max(half_band, IN_BLOCKS)
    softness = strip.flexibility[:, 1, 1]
    return StripSplines(
        bowl=bowl,
        per_turn=per_turn,
        count=count,
        degree=degree,
        first=first,
        value=value,
        column=column,
        stretch_of=stretch_of,
        stretch_column=stretch_column,
        stretch_begins=np.searchsorted(stretch_of, np.arange(lengths + 1)),
        softness_mm=softness * float(strip.arc_mm.sum() / softness.sum()),
        outer=outer,
        block=block,
        blocks=blocks,
        window_first=np.minimum(window_first, count - window),
        window_stretch=low.reshape(blocks, block).min(axis=1),
        window_column=window_column,
        window=window,
        columns=columns,
        table_node=table_node,
        table_value=table_value,
        start=start,
        element_first=element,
        element_start=_spread(first[:-1], value[:-1], element, functions),
        element_end=_spread(first[1:], value[1:], element, functions),
        half_band=half_band,
        below=below,
        diagonal=below + half_band,
        height=2 * below + half_band + 1,
    )
