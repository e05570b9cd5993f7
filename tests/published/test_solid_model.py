"""Rim heights of a three-dimensional solid model.

Own contact calculation with a general finite-element method, large displacements; the project's design
notes, good to about 2 percent: theta 5 deg, T 19.05, p 6.35, k 0.64, R_b 27.8 mm, 3 turns, no friction,
nail driven flat.
"""

import pytest
from elastic_bowls import PINE_LIKE, bowl, even

from fitsim.strip import press as pr
from fitsim.strip import results as rd


@pytest.mark.parametrize(
    ("wood", "press_N", "mean", "least", "greatest"),
    [
        (PINE_LIKE, 5.0, 8.25, None, None),
        (PINE_LIKE, 20.0, 19.14, 16.3, 21.3),
        (PINE_LIKE, 60.0, 22.33, 20.5, 23.1),
        (even(), 5.0, 10.88, None, None),
        (even(), 20.0, 20.18, 17.5, 21.9),
        (even(), 60.0, 23.98, 22.0, 25.0),
    ],
)
def test_rim_heights(wood, press_N, mean, least, greatest):
    """Mean rim height within 6 percent, least and greatest within 8 percent, nothing tuned.

    The even material at 60 N with a friction of 0.01: with none the press does not come to rest there.
    """
    b = bowl(wood=wood, friction=0.01 if wood is not PINE_LIKE and press_N > 40 else 0.0)
    rim = rd.rim_height(b, pr.press(b, press_N)[-1])
    assert rim.mean_mm == pytest.approx(mean, rel=0.06)
    if least is not None:
        assert rim.least_mm == pytest.approx(least, rel=0.08)
        assert rim.greatest_mm == pytest.approx(greatest, rel=0.08)


def test_nail_that_ties_heights_only():
    """With the nail free to slide the strip uncoils: 28.2 mm at 20 N."""
    b = bowl(nail="height")
    assert rd.rim_height(b, pr.press(b, 20.0)[-1]).mean_mm == pytest.approx(28.2, rel=0.06)


@pytest.mark.parametrize(
    ("wood", "press_N", "mean"),
    [
        (PINE_LIKE, 20.0, 19.14),
        (even(), 20.0, 20.18),
    ],
)
def test_rim_with_the_nail_between_the_middles_of_the_sections(wood, press_N, mean):
    """Tied between the middles of the two sections the mean rim comes within 1 percent, not 3."""
    b = bowl(wood=wood, nail="middles", root_plane=True)
    assert rd.rim_height(b, pr.press(b, press_N)[-1]).mean_mm == pytest.approx(mean, rel=0.01)
