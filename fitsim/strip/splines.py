"""How the strip's shape is written: rotation vectors of its nodes and its stretch as splines along it.

Four numbers a spline: the rotation vector of the nodes (three) and the stretch of the elements. A
point of the strip then moves by sums over the nodes before it; two places that touch are one turn
apart, so that what happens between them concerns the splines of one turn. Slots are taken in
*blocks* of neighbouring nodes that share one window of splines, and the whole becomes one banded
system. Their number does not depend on how many points touch.

Source of the splines: C. de Boor, *A Practical Guide to Splines* (from memory). Nothing is solved here.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.strip.state import ElasticBowl

__all__ = ["DEGREE", "SPLINES_PER_TURN", "StripSplines", "strip_splines"]

SPLINES_PER_TURN = 12
"""Splines in a revolution; 12, 18 and 24 give the same press to 0.2 percent on six turns."""

DEGREE = 3
"""Degree of the splines."""

MARGIN = 3
"""How many nodes the place a node faces may wander before its window is left. [-]"""


@dataclass(frozen=True, eq=False)
class StripSplines:
    """Splines of a strip of n nodes and e elements, the slots' windows on them, and the band's layout.

    A *slot* is the pair of points a node (but the root) has with what it faces; nails follow the nodes.
    With s slots in blocks of B, padded to a whole number of blocks, C = 4 x window columns.

    Attributes
    ----------
    bowl : ElasticBowl
        What is written.
    per_turn, count, degree : int
        Elements in a revolution, splines, their degree.
    first, value : numpy.ndarray
        First spline that is not zero at each node, (n,), and the values there, (n, degree + 1). [-]
    first_mid, value_mid : numpy.ndarray
        The same at the middles of the elements, (e,) and (e, degree + 1). [-]
    outer : numpy.ndarray
        Node of each slot, (s,).
    block, blocks : int
        Slots in a block, blocks.
    window_first : numpy.ndarray
        First spline of each block's window, (blocks,).
    window : int
        Splines in a window.
    table_node, table_value, table_element, table_value_mid : numpy.ndarray
        For the running sums along the strip: node and value, element and value at each step of each
        spline's support, (count, support). [-]
    start : numpy.ndarray
        First node or element of each spline's support, (count,).
    element_first, element_start, element_end, element_mid_mm : numpy.ndarray
        First spline of an element's functions, (e,), and their values at its first node, its second
        node, and (times its length) its middle, (e, degree + 2). [-, -, -, mm]
    half_band, height : int
        Half the bandwidth, and rows of LAPACK's band storage.
    """

    bowl: ElasticBowl
    per_turn: int
    count: int
    degree: int
    first: IntArray
    value: Array
    first_mid: IntArray
    value_mid: Array
    outer: IntArray
    block: int
    blocks: int
    window_first: IntArray
    window: int
    table_node: IntArray
    table_value: Array
    table_element: IntArray
    table_value_mid: Array
    start: IntArray
    element_first: IntArray
    element_start: Array
    element_end: Array
    element_mid_mm: Array
    half_band: int
    height: int

    @property
    def unknowns(self) -> int:
        """Four a spline."""
        return 4 * self.count

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


def strip_splines(
    bowl: ElasticBowl, *, splines_per_turn: int = SPLINES_PER_TURN, degree: int = DEGREE
) -> StripSplines:
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
    first_mid, value_mid = _values((np.arange(e) + 0.5) / e, knots, degree)
    outer = np.concatenate([np.arange(1, e + 1), [nail.node for nail in bowl.nails]]).astype(np.int64)
    faced = np.concatenate([seats.place - base, [nail.place - base for nail in bowl.nails]])
    block = max(4, per_turn // 3)
    blocks = -(-len(outer) // block)
    pad = blocks * block - len(outer)
    padded = np.concatenate([outer, np.full(pad, outer[-1])])
    lowest = np.maximum(np.floor(np.concatenate([faced, np.full(pad, faced[-1])])) - MARGIN, 0).astype(
        np.int64
    )
    begin = first[lowest.reshape(blocks, block).min(axis=1)]
    end = first[padded.reshape(blocks, block).max(axis=1)] + degree + 1
    window = min(int((end - begin).max()), count)
    begin = np.minimum(begin, count - window)
    at_node, at_mid = _support(first, value, count), _support(first_mid, value_mid, count)
    # Two splines meet in the band where one slot reaches both: no block of slots, only its widest slot.
    reach = int((first[padded] - first[lowest]).max()) + degree + 1
    start = np.minimum(at_node[0], at_mid[0])
    support = int((np.maximum(at_node[1], at_mid[1]) - start).max())
    table_node, table_value = _table(first, value, start, support)
    table_element, table_value_mid = _table(first_mid, value_mid, start, support)
    functions = degree + 2
    element = np.minimum(first[:-1], count - functions)
    half_band = 4 * min(window, reach) - 1
    return StripSplines(
        bowl=bowl,
        per_turn=per_turn,
        count=count,
        degree=degree,
        first=first,
        value=value,
        first_mid=first_mid,
        value_mid=value_mid,
        outer=outer,
        block=block,
        blocks=blocks,
        window_first=begin,
        window=window,
        table_node=table_node,
        table_value=table_value,
        table_element=table_element,
        table_value_mid=table_value_mid,
        start=start,
        element_first=element,
        element_start=_spread(first[:-1], value[:-1], element, functions),
        element_end=_spread(first[1:], value[1:], element, functions),
        element_mid_mm=_spread(first_mid, value_mid, element, functions) * strip.arc_mm[:, None],
        half_band=half_band,
        height=3 * half_band + 1,
    )
