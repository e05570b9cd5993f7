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


def _at_middles(s, coefficients):
    return (s.value_mid * coefficients[_functions(s.first_mid, s.degree)]).sum(axis=1)


def test_they_add_up_to_one(splines) -> None:
    """At every node and every middle the splines' values sum to one and none is negative."""
    for value in (splines.value, splines.value_mid):
        assert value.sum(axis=1) == pytest.approx(np.ones(len(value)))
        assert value.min() >= 0


def test_any_polynomial_of_their_degree_is_written_exactly(splines) -> None:
    """Coefficients fitted at the nodes give a polynomial of the degree again, at the middles too."""
    s, e = splines, len(splines.element_first)
    x, middle = np.arange(e + 1) / e, (np.arange(e) + 0.5) / e
    matrix = np.zeros((e + 1, s.count))
    matrix[np.arange(e + 1)[:, None], _functions(s.first, s.degree)] = s.value
    polynomial = np.polynomial.Polynomial([0.3, -1.2, 2.0, 0.7, -1.9][: s.degree + 1])
    c = np.linalg.lstsq(matrix, polynomial(x), rcond=None)[0]
    assert _at_nodes(s, c) == pytest.approx(polynomial(x), abs=1e-10)
    assert _at_middles(s, c) == pytest.approx(polynomial(middle), abs=1e-10)
    assert np.abs(np.diff(c)).max() > 1e-3


def test_tables_hold_every_value_once(splines) -> None:
    """Put back where they stand, the tables for running sums are the values at nodes and elements."""
    s, e = splines, len(splines.element_first)
    for sample, value, first, held in (
        (s.table_node, s.table_value, s.first, s.value),
        (s.table_element, s.table_value_mid, s.first_mid, s.value_mid),
    ):
        full, again = np.zeros((2, len(first), s.count))
        full[np.arange(len(first))[:, None], first[:, None] + np.arange(s.degree + 1)] = held
        np.add.at(again, (sample, np.arange(s.count)[:, None]), value)
        assert again == pytest.approx(full)
    assert s.table_node.max() == e


def test_windows_hold_all_that_a_slot_feels(splines) -> None:
    """Splines of a slot's node and of the place it faces, give or take the margin, lie in its window."""
    s, base = splines, len(splines.bowl.seats.base_mm)
    faced = np.concatenate([s.bowl.seats.place, [nail.place for nail in s.bowl.nails]]) - base
    for slot, (node, place) in enumerate(zip(s.outer, faced, strict=True)):
        begin = s.window_first[slot // s.block]
        low = max(int(np.floor(place)) - MARGIN, 0)
        assert begin <= s.first[low]
        assert s.first[node] + s.degree < begin + s.window
    assert s.blocks * s.block >= s.slots == len(s.bowl.turn) + 1


@pytest.mark.parametrize("asked", [23, 24, 30])
def test_no_element_meets_two_knots(asked: int) -> None:
    """Asked for as many splines as elements, or more, the strip still has at most one knot an element."""
    s = strip_splines(laid(turns=4.3, per_turn=24), splines_per_turn=asked)
    assert np.diff(s.first).max() == 1
    assert s.count > 0.9 * len(s.element_first)
    assert s.value.sum(axis=1) == pytest.approx(np.ones(len(s.value)))
