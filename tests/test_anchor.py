"""One press carries many closed-form bowls: what is foretold against presses of other bowls like it."""

from dataclasses import replace

import numpy as np
import pytest

from fitsim.anchor import Anchor, anchor_of, rigid_anchor
from fitsim.assume import make_bowl
from fitsim.drawn import Plan, dimensions, draw, plan_of
from fitsim.elastic import open_bowl
from fitsim.foretell import HELD_STATES, foretell

TABLES = {
    "board": {"wood": "walnut", "thickness": "15 mm", "across": "118 mm"},
    "cut": {"tilt": "6.5 deg", "kerf": "0.75 mm", "pitch": "7 mm", "base": "68 mm"},
    "use": {"finish": "none", "press": "80 N"},
}


@pytest.fixture(scope="module")
def pressed() -> tuple[Plan, Anchor]:
    """A bowl of three turns, and its one press."""
    plan = plan_of(make_bowl(TABLES))
    return plan, anchor_of(plan)


@pytest.mark.parametrize(
    ("tilt_deg", "kerf_mm", "friction", "press_N", "state"),
    [(5.6, 0.8, 0.3, 110.0, "held"), (8.1, 0.6, 0.5, 60.0, "held"), (6.4, 0.7, 0.07, 80.0, "sprang back")],
)
def test_bowls_unlike_the_anchor_are_foretold(
    pressed: tuple[Plan, Anchor],
    tilt_deg: float,
    kerf_mm: float,
    friction: float,
    press_N: float,
    state: str,
) -> None:
    """Other tilt, kerf, friction and press: rise and drop within 5 percent of a finer press."""
    plan, anchor = pressed
    tilt = float(np.radians(tilt_deg))
    bowl = replace(
        plan.bowl,
        cut=replace(plan.bowl.cut, tilt_rad=(tilt,), kerf_mm=(kerf_mm,)),
        use=replace(plan.bowl.use, friction=friction, press_N=press_N),
        uncertain=(),
    )
    opening = open_bowl(bowl, press_N=press_N, nodes_per_turn=30)
    drawn = draw(plan, np.zeros((1, dimensions(plan))), ())
    other = replace(
        drawn,
        tilt_rad=np.full_like(drawn.tilt_rad, tilt),
        kerf_mm=np.full_like(drawn.kerf_mm, kerf_mm),
        friction=np.array([friction]),
        press_N=np.array([press_N]),
    )
    now = foretell(plan, anchor, other)
    assert HELD_STATES[int(now.state[0].argmax())] == state
    assert (opening.numbers.friction_used < 1) == (state == "held")
    assert now.readings["rise"][0] == pytest.approx(opening.rim.mean_mm, rel=0.05)
    drops = np.asarray(opening.pressed.drop_mm)
    second = float(drops[opening.springy.turn == 2].mean())
    assert now.readings["drop_2"][0] == pytest.approx(second, rel=0.08)


def test_a_plan_that_falls_through_is_anchored_by_a_finer_kerf(pressed: tuple[Plan, Anchor]) -> None:
    """A plan that could not stand is pressed with a kerf that leaves half its thickness."""
    plan, _ = pressed
    wide = replace(plan.bowl, cut=replace(plan.bowl.cut, kerf_mm=(1.9,)))
    anchor = anchor_of(plan_of(wide))
    assert anchor.springy
    assert anchor.slot_mm / np.tan(anchor.tilt_rad) == pytest.approx(7.5, rel=1e-6)


def test_without_a_press_seats_are_rigid() -> None:
    """The closed form's anchor changes no drop and no depth."""
    plan = plan_of(make_bowl(TABLES))
    anchor = rigid_anchor(plan.bowl, plan.turns)
    assert not anchor.springy
    assert np.all(anchor.drop_ratio == 1)
    assert np.all(anchor.deepest == 0)
