"""How far bowls stray from what was meant when nothing goes wrong: saw, wood and hand.

From the scatter and the ranges of the bowl's file, and how well a maker knows what stands there.
"""

import math
from dataclasses import dataclass, replace

from fitsim.bowl import Bowl

__all__ = ["Spread", "broad_spread", "usual_spread"]

KERF_KNOWN_MM = 0.03
PRESS_KNOWN_LOG = 0.2
MOISTURE_KNOWN_POINTS = 0.4
"""How well a maker knows the mean kerf, the press and the moisture written in the file: estimates."""


@dataclass(frozen=True)
class Spread:
    """How far bowls stray from the plan without any cause; standard deviations, friction by its ends.

    Attributes
    ----------
    tilt_rad, kerf_mm, wander_mm, thickness_mm, film_mm : float
        Of tilt, mean kerf, kerf from turn to turn, thickness and film. [rad, mm]
    friction_low, friction_high : float
        Friction is taken evenly between them. [-]
    strength_low, strength_high : float
        Strength over the middle of its range, evenly in its logarithm. [-]
    press_log : float
        Of the logarithm of the press. [-]
    moisture_points : float
        Of rim and base. [points]
    """

    tilt_rad: float
    kerf_mm: float
    wander_mm: float
    thickness_mm: float
    film_mm: float
    friction_low: float
    friction_high: float
    strength_low: float
    strength_high: float
    press_log: float
    moisture_points: float


def usual_spread(bowl: Bowl) -> Spread:
    """The spread a bowl's file states or leaves to estimates.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    Spread
        From its scatter and its ranges.
    """
    ends = {u.path: (u.low, u.high) for u in bowl.uncertain}
    wood = bowl.board.wood.tension_across_MPa.value
    kerf = ends.get("cut.kerf_mm", (0.0, 0.0))
    film = ends.get("use.film_mm", (0.0, 0.0))
    offset = ends.get("cut.scale_offset_rad", (0.0, 0.0))  # of a saw file
    friction = ends.get("use.friction", (0.9 * bowl.use.friction, 1.1 * bowl.use.friction))
    strength = ends.get("board.wood.tension_across_MPa", (wood, wood))
    even = math.sqrt(12.0)
    return Spread(
        tilt_rad=math.hypot(bowl.scatter.tilt_rad, (offset[1] - offset[0]) / even),
        kerf_mm=math.hypot(KERF_KNOWN_MM, (kerf[1] - kerf[0]) / even),
        wander_mm=bowl.scatter.kerf_mm,
        thickness_mm=bowl.scatter.thickness_mm,
        film_mm=(film[1] - film[0]) / even,
        friction_low=friction[0],
        friction_high=friction[1],
        strength_low=strength[0] / wood,
        strength_high=strength[1] / wood,
        press_log=PRESS_KNOWN_LOG,
        moisture_points=MOISTURE_KNOWN_POINTS,
    )


def broad_spread(spread: Spread) -> Spread:
    """A spread so wide that it stands for causes nobody listed.

    Parameters
    ----------
    spread : Spread
        The usual one.

    Returns
    -------
    Spread
        Tilt by 2 deg, kerf and thickness by a good part of themselves, and so on: estimates.
    """
    return replace(
        spread,
        tilt_rad=math.radians(2.0),
        kerf_mm=0.3,
        wander_mm=0.15,
        thickness_mm=2.0,
        film_mm=0.05,
        friction_low=0.05,
        friction_high=0.7,
        strength_low=0.4,
        strength_high=2.5,
        press_log=0.8,
        moisture_points=3.0,
    )
