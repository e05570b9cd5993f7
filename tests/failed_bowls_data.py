"""One bowl for the tests of failed bowls, rigid seats in place of presses, so that the tests are quick."""

from functools import cache
from typing import Any

from fitsim.bowlfile.defaults import make_bowl
from fitsim.failure.bowl_emulator import BowlEmulator, Whole, rigid_emulator
from fitsim.failure.failed_samples import BowlPlan, plan_of
from fitsim.failure.observations import Observed, read_observed

TABLES: dict[str, Any] = {
    "name": "Test bowl",
    "board": {"wood": "cherry", "thickness": "19 mm", "across": "150 mm"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "70 mm"},
    "use": {"finish": "none", "press": "100 N", "friction": "0.4"},
}


@cache
def plan() -> BowlPlan:
    """The plan: 4.1 turns."""
    return plan_of(make_bowl(TABLES))


@cache
def emulator() -> BowlEmulator:
    """Rigid seats in place of presses, about as far off as presses are."""
    return rigid_emulator(plan(), error=Whole(0.2, 0.1, 0.06, 0.2, 0.05, 0.06, 0.15))


def observed(*seen: str, **measured: str) -> Observed:
    """What was seen and measured on it."""
    return read_observed({"seen": {"what": list(seen)}, "measured": measured}, plan())
