"""Ranges learned from tests hold the truth as often as they say."""

import numpy as np
from made_up_workshops import covered, learn_in
from scipy.stats import binom

from fitsim.errors import InputError

WORKSHOPS = 70


def test_the_truth_lies_in_ninety_percent_of_the_ranges() -> None:
    """Of made-up workshops nine in ten lie in each range, within what chance allows once in a thousand."""
    rng = np.random.default_rng(41)
    inside = dict.fromkeys(("saw", "friction", "strength", "moisture"), 0)
    learned = 0
    for number in range(WORKSHOPS):
        try:
            true, found = learn_in(rng, number)
        except InputError:
            continue
        learned += 1
        for kind in inside:
            inside[kind] += getattr(covered(true, found), kind)
    # Four tests of agreement at one in a hundred, and two of beliefs at one in a thousand.
    assert WORKSHOPS - learned <= binom.ppf(0.9995, WORKSHOPS, 0.042)
    low, high = binom.ppf(0.0005, learned, 0.9), binom.ppf(0.9995, learned, 0.9)
    for kind, count in inside.items():
        assert low <= count <= high, (kind, count, learned)
