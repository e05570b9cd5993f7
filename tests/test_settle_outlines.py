"""The rigid-body witness on bowls that are not round: the same drop all round, whatever the outline.

Closed form: pushed straight down, every face closes the gap square to it by the drop times the sine of its
bevel, so every seat sinks by k/sin(theta). A plane that meets the turns aslant shows slot and slope longer
alike; the engine sees that plane alone, its halves unlike, and knows no closed form.
"""

import math

import numpy as np
import pytest
from outline_bowls import outlined

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.cross_section import section_rings
from fitsim.bowl.inputs import Bowl
from fitsim.geometry.board_outline import FREE, Outline
from fitsim.rigidbody.check import rigid_body_check
from fitsim.rigidbody.settling import settings_for, settle

TILTS = (0.094, 0.094, 0.094, 0.094, 0.094, 0.094)
KERFS_mm = (0.62, 0.80, 0.71, 0.66, 0.74, 0.69)


def egg() -> Outline:
    """An outline without an axis of symmetry: an ellipse whose lower left bulges."""
    t = np.linspace(0, 2 * math.pi, 361)[:-1]
    reach = 1 + 0.09 * np.cos(t - 0.7) + 0.05 * np.cos(2 * t + 0.4)
    points = np.stack([72 * reach * np.cos(t), 60 * reach * np.sin(t)], axis=1)
    low, high = points.min(axis=0), points.max(axis=0)
    points -= (low + high) / 2
    length, width = (float(v) for v in high - low)
    return Outline(FREE, length, width, points_mm=tuple(map(tuple, points.tolist())))


BOARDS = {
    "egg": (egg(), 14.0),
    "oval": (Outline("oval", 165.0, 118.0), 14.0),
    "rounded": (Outline("rectangle", 150.0, 118.0, 25.0), 16.0),
}


def bowl(name: str, kerf_mm: tuple[float, ...] = KERFS_mm) -> Bowl:
    """A bowl of another outline, its root aslant, another kerf in every turn."""
    edge, corner = BOARDS[name]
    return outlined(edge, corner_mm=corner, kerf_mm=kerf_mm, tilt_rad=TILTS[:1], root_rad=0.6)


@pytest.mark.parametrize(
    ("name", "direction"),
    [("egg", 0.5), ("egg", 2.4), ("oval", 0.9), ("oval", 2.0), ("rounded", 0.45), ("rounded", 1.9)],
)
def test_every_seat_drops_by_kerf_over_sine_all_round(name: str, direction: float) -> None:
    """In planes at any clock position the engine finds k/sin(theta) of each turn, to half a percent."""
    rings = section_rings(rigid_fit(bowl(name)), direction_rad=direction)
    assert rings.left is not None
    # The plane is one without symmetry: halves of other radii, met aslant.
    assert np.abs(rings.left.outer_radius_mm - rings.outer_radius_mm).max() > 2
    assert np.abs(rings.left.inner_slope[1:] / math.tan(0.094) - 1).max() > 1e-3
    settled = settle(rings, settings_for(rings, friction=0.3, press_N=2.0), stages=("press",))
    assert settled.settled
    count = len(rings.thickness_mm) - 1
    np.testing.assert_allclose(
        settled.seat_drop_mm, np.array(KERFS_mm)[:count] / math.sin(0.094), rtol=5e-3
    )


def test_the_check_of_a_bowl_takes_its_outline() -> None:
    """What fit shows beside the closed form is the section of the outline itself, and agrees with it."""
    fit = rigid_fit(bowl("egg"))
    check = rigid_body_check(fit, friction=0.35, press_N=30.0, record=True)
    assert check.seats.settled
    drops = check.seats.seat_drop_mm
    np.testing.assert_allclose(drops, fit.seats.seat_drop_mm[: len(drops)], rtol=5e-3)
    base = check.seats.frames[0].polygons_mm[0]
    assert abs(base[:, 0].max() + base[:, 0].min()) > 2  # its halves are unlike
    assert check.hold is not None
    assert check.hold.held
