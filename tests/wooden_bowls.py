"""Bowls of wood for the tests of the press, laid out the way the program does it."""

from dataclasses import replace

import numpy as np

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.strip_layout import elastic_bowl
from fitsim.strip.beam import deformed_shape
from fitsim.strip.nail_tie import make_nail
from fitsim.strip.state import ElasticBowl


def described(
    *,
    wood: str = "cherry, black",
    turns: float = 3.4,
    base_mm: float = 56.0,
    pitch_mm: float = 6.6,
    kerf_mm: float = 0.7,
    thickness_mm: float = 17.0,
    tilt_deg: float = 5.5,
    friction: float = 0.4,
    root_deg: float = 25.0,
    board: dict[str, str] | None = None,
) -> fitsim.Bowl:
    """An invented bowl, its root off the grain's axes and its strip not a whole number of turns long."""
    return fitsim.make_bowl(
        {
            "board": {
                "wood": wood,
                "thickness": f"{thickness_mm} mm",
                "across": f"{base_mm + 2 * pitch_mm * turns} mm",
                "moisture": "9 %",
                **(board or {}),
            },
            "cut": {
                "tilt": f"{tilt_deg} deg",
                "kerf": f"{kerf_mm} mm",
                "pitch": f"{pitch_mm} mm",
                "base": f"{base_mm} mm",
                "root": f"{root_deg} deg",
            },
            "use": {"finish": "none", "friction": f"{friction}"},
        }
    )


def laid(*, per_turn: int = 24, nail: str = "flat", **cut: object) -> ElasticBowl:
    """The strip of an invented bowl: ``nail`` flat as the program drives it, none, or six ties."""
    given = described(**cut)  # type: ignore[arg-type]
    bowl = elastic_bowl(given, rigid_fit(given), nodes_per_turn=per_turn)
    if nail == "flat":
        return bowl
    if nail == "none":
        return replace(bowl, nails=())
    strip, last = bowl.strip, len(bowl.strip.position_mm) - 1
    flat = deformed_shape(strip, np.zeros((last, 6)))
    place = float(bowl.seats.place[-1])
    tie = make_nail(bowl.seats, strip, flat, node=last, place=place, held=np.ones(6, dtype=bool))
    return replace(bowl, nails=(tie,))
