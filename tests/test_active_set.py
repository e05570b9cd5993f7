"""The press held against an independent method, the search for touching points of `studies/activeset`.

The two share the strip at rest, its slots and its nails. One writes the shape as splines and the contact as
an augmented Lagrangian; the other adds compliances along the strip and looks for the states of all points.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from wooden_bowls import laid

from fitsim.strip import press as pr
from fitsim.strip.load_step import prepare
from fitsim.strip.release import kept, press_needed_N, state_at
from fitsim.strip.results import rim_height, turn_forces
from fitsim.strip.state import mean_rise_mm

sys.path.insert(0, str(Path(__file__).parent.parent / "studies"))
import activeset

BOWLS = {
    "few turns": ({"turns": 3.4, "friction": 0.35, "tilt_deg": 6.0, "root_deg": 140.0}, 130.0),
    "rough": ({"turns": 3.6, "friction": 0.5, "pitch_mm": 7.3, "kerf_mm": 0.55, "root_deg": 25.0}, 90.0),
    "six ties": (
        {
            "turns": 4.3,
            "friction": 0.25,
            "thickness_mm": 21.0,
            "wood": "maple, sugar",
            "root_deg": 250.0,
            "nail": "six",
        },
        170.0,
    ),
}


@pytest.fixture(scope="module", params=list(BOWLS))
def both(request):
    """One bowl and its path, by the program and by the independent method."""
    cut, press_N = BOWLS[request.param]
    bowl = laid(**cut)
    other = activeset.as_active_set(bowl)
    return bowl, pr.press(bowl, press_N), other, activeset.press(other, press_N)


def test_rise_rim_and_forces_agree(both):
    """Mean rise within 1 percent, forces within 1.5 in all, lowest and highest place of the rim within 3.

    Drops turn by turn within 9 percent of the greatest (7.6 measured, in long steps): with friction a turn
    may stay a little higher where its neighbours go lower; without, the drops agree to a percent.

    Friction makes the rise depend on the load steps by half a percent in either method, and the program
    rounds the corner between open and touching over a fifth of the mean force; the rim's extremes
    are single places and take the most of both.
    """
    bowl, path, other, theirs = both
    rim, wanted = rim_height(bowl, path[-1]), activeset.rim_height(other, theirs[-1])
    assert rim.mean_mm == pytest.approx(wanted.mean_mm, rel=0.01)
    assert rim.least_mm == pytest.approx(wanted.least_mm, rel=0.03)
    assert rim.greatest_mm == pytest.approx(wanted.greatest_mm, rel=0.03)
    assert np.ptp(rim.height_mm) > 0.02 * rim.mean_mm
    force, push = turn_forces(bowl, path[-1]), activeset.turn_forces(other, theirs[-1])
    assert force.normal_N.sum() == pytest.approx(push.normal_N.sum(), rel=0.015)
    assert force.normal_N == pytest.approx(push.normal_N, abs=0.02 * push.normal_N.sum())
    assert force.drop_mm == pytest.approx(push.drop_mm, abs=0.09 * push.drop_mm.max())


def test_without_friction_every_drop_agrees():
    """Without friction both find the same drops turn by turn to 1 percent, the same rise to half of one."""
    bowl = replace(laid(**BOWLS["few turns"][0]), friction=0.0)
    other = activeset.as_active_set(bowl)
    state, theirs = pr.press(bowl, 25.0)[-1], activeset.press(other, 25.0)[-1]
    wanted = activeset.turn_forces(other, theirs)
    assert turn_forces(bowl, state).drop_mm == pytest.approx(wanted.drop_mm, rel=0.01)
    assert rim_height(bowl, state).mean_mm == pytest.approx(
        activeset.rim_height(other, theirs).mean_mm, rel=5e-3
    )


def test_about_the_press_needed_the_other_method_lets_go_alike(both):
    """A tenth above the press needed it keeps 99 percent of the rise; at seven tenths of it all is lost.

    The other method follows single points only where a turn's sum asks for more friction than there is: it
    holds from 0.7 to 1.0 of the press needed on (of these bowls), where here single points slide before.
    """
    bowl, path, other, _theirs = both
    needed = press_needed_N(bowl, path)
    above, below = (activeset.press(other, times * needed)[-1] for times in (1.1, 0.7))
    rise = mean_rise_mm(bowl, state_at(bowl, path, needed))
    assert activeset.let_go(other, above).rise_lost_mm < 0.01 * rise
    assert activeset.let_go(other, below).rise_lost_mm > 0.5 * rise
    assert kept(prepare(bowl), state_at(bowl, path, 1.1 * needed)).holds
