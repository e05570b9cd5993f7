"""The press by searching for the set of touching points: slow, and independent of `fitsim.strip.press`.

The same strip on the same bevels, solved in another way: compliances between points from running sums
along the strip, states of the points (open, sticking, sliding) found by a semismooth Newton search, the
shape by mixing of rounds. It shares with the package the strip at rest, its slots and its nails, and no
step of the calculation of a press. It is kept to hold the package's press against.

It lets go of a press another way too: *stuck*, with every touching point held where it is.
"""

from fitsim.strip.nail_tie import Nail as PackageNail
from fitsim.strip.state import ElasticBowl as PackageBowl

from .hold import LetGo, friction_used_by_turn, let_go, press_needed_N
from .meeting import Seats
from .press import press
from .pressed import ElasticBowl, PressState, mean_rise_mm
from .readings import force_rise_loop, rim_height, turn_forces
from .tie import Nail

__all__ = [
    "ElasticBowl",
    "LetGo",
    "PressState",
    "as_active_set",
    "force_rise_loop",
    "friction_used_by_turn",
    "let_go",
    "mean_rise_mm",
    "press",
    "press_needed_N",
    "rim_height",
    "turn_forces",
]


def as_active_set(bowl: PackageBowl) -> ElasticBowl:
    """The same bowl as this method takes it.

    Parameters
    ----------
    bowl : fitsim.strip.state.ElasticBowl
        The bowl as the package lays it out.

    Returns
    -------
    ElasticBowl
        Large displacements; every point with the compliance of one of this bowl's points.
    """
    return ElasticBowl(
        strip=bowl.strip,
        seats=Seats(**vars(bowl.seats)),
        nails=tuple(_nail(nail) for nail in bowl.nails),
        friction=bowl.friction,
        load_share=bowl.load_share,
        turn=bowl.turn,
        compliance_mm_per_N=bowl.point_compliance_mm_per_N,
        large=True,
    )


def _nail(nail: PackageNail) -> Nail:
    return Nail(**vars(nail))
