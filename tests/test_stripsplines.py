"""Splines along the strip: what they can write, where they reach, and where their band lies."""

import numpy as np
import pytest
from wooden_bowls import laid

from fitsim.strip.splines import MARGIN, strip_splines


@pytest.fixture(scope="module", params=[(12, 4), (9, 3)])
def splines(request):
    """Splines of a bowl whose strip ends within a turn, in two degrees."""
    per_turn, degree = request.param
    return strip_splines(laid(nail="six", turns=4.3), splines_per_turn=per_turn, degree=degree)


def _functions(first, degree):
    return first[:, None] + np.arange(degree + 1)


def _at_nodes(s, coefficients):
    return (s.value * coefficients[_functions(s.first, s.degree)]).sum(axis=1)


def test_they_add_up_to_one(splines) -> None:
    """At every node the splines' values sum to one and none is negative."""
    assert splines.value.sum(axis=1) == pytest.approx(np.ones(len(splines.value)))
    assert splines.value.min() >= 0


def test_any_polynomial_of_their_degree_is_written_exactly(splines) -> None:
    """Coefficients fitted at the nodes give a polynomial of the degree there."""
    s, e = splines, len(splines.element_first)
    x = np.arange(e + 1) / e
    matrix = np.zeros((e + 1, s.count))
    matrix[np.arange(e + 1)[:, None], _functions(s.first, s.degree)] = s.value
    polynomial = np.polynomial.Polynomial([0.3, -1.2, 2.0, 0.7, -1.9][: s.degree + 1])
    c = np.linalg.lstsq(matrix, polynomial(x), rcond=None)[0]
    assert _at_nodes(s, c) == pytest.approx(polynomial(x), abs=1e-10)
    assert np.abs(np.diff(c)).max() > 1e-3


def test_tables_hold_every_value_once(splines) -> None:
    """Put back where they stand, the tables for running sums are the values at the nodes."""
    s, e = splines, len(splines.element_first)
    full, again = np.zeros((2, e + 1, s.count))
    full[np.arange(e + 1)[:, None], _functions(s.first, s.degree)] = s.value
    np.add.at(again, (s.table_node, np.arange(s.count)[:, None]), s.table_value)
    assert again == pytest.approx(full)
    assert s.table_node.max() == e


def test_every_unknown_has_its_column(splines) -> None:
    """Three a spline and one a length fill the system, each length amid the splines that bend it."""
    s = splines
    taken = np.concatenate([(s.column[:, None] + np.arange(3)).ravel(), s.stretch_column])
    assert sorted(taken) == list(range(s.unknowns))
    assert list(np.diff(s.stretch_begins) > 0) == [True] * len(s.stretch_column)
    for element, length in enumerate(s.stretch_of):
        assert s.stretch_begins[length] <= element < s.stretch_begins[length + 1]
        functions = s.column[s.element_first[element] + np.array([0, s.degree + 1])]
        assert functions[0] < s.stretch_column[length] <= functions[1] + 3


def test_under_one_force_elements_stretch_as_soft_as_they_are(splines) -> None:
    """Of a strip across and along the grain every element stretches by its own flexibility."""
    flexibility = splines.bowl.strip.flexibility[:, 1, 1]
    assert splines.softness_mm / flexibility == pytest.approx(splines.softness_mm[0] / flexibility[0])
    assert splines.softness_mm.sum() == pytest.approx(splines.bowl.strip.arc_mm.sum())
    assert flexibility.max() > 3 * flexibility.min()


def test_windows_hold_all_that_a_slot_feels(splines) -> None:
    """All that bends or stretches between a slot's node and what it faces, and a margin, is in it."""
    s, base = splines, len(splines.bowl.seats.base_mm)
    faced = np.concatenate([s.bowl.seats.place, [nail.place for nail in s.bowl.nails]]) - base
    for slot, (node, place) in enumerate(zip(s.outer, faced, strict=True)):
        begin = s.window_first[slot // s.block]
        low = max(int(np.floor(place)) - MARGIN, 0)
        assert begin <= s.first[low]
        assert s.first[node] + s.degree < begin + s.window
        column, length = s.window_column[slot // s.block], s.stretch_of[min(low, len(s.stretch_of) - 1)]
        assert column <= min(s.column[s.first[low]], s.stretch_column[length])
        last = max(s.column[s.first[node] + s.degree] + 2, s.stretch_column[s.stretch_of[node - 1]])
        assert last < column + s.columns
        assert last - min(s.column[s.first[low]], s.stretch_column[length]) <= s.half_band
        assert s.window_stretch[slot // s.block] <= length
    assert s.blocks * s.block >= s.slots == len(s.bowl.turn) + 1


@pytest.mark.parametrize("asked", [23, 24, 30])
def test_no_element_meets_two_knots(asked: int) -> None:
    """Asked for as many splines as elements, or more, the strip still has at most one knot an element."""
    s = strip_splines(laid(turns=4.3, per_turn=24), splines_per_turn=asked)
    assert np.diff(s.first).max() == 1
    assert s.count > 0.9 * len(s.element_first)
    assert s.value.sum(axis=1) == pytest.approx(np.ones(len(s.value)))
