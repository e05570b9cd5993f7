"""The independent witness beside the closed form: the bowl's rings tried in a rigid-body engine.

It is no source of numbers for the verdict. Rigid rings answer where each turn comes to rest; rings
that give way radially answer whether they stay there when the press is let go, the bowl turned over
and shaken.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import RigidFit
from fitsim.bowl.cross_section import section_rings
from fitsim.geometry.rings import ring_sections
from fitsim.rigidbody.settling import STAGES, Settled, settings_for, settle

__all__ = ["RigidBodyCheck", "rigid_body_check"]

LIGHT_PRESS_N = 2.0
"""Press for the seats; light, so that the engine's own softness stays out of the drops. [N]"""

GIVE_N_PER_MM = 600.0
"""How hard half a ring is to spread: an estimate, from 100 to 16000 for real hoops. Whether the rings
hold hangs on bevel and friction, not on this. [N/mm]"""

FRAME_STEPS = 10
"""Steps of the engine between two snapshots of the moving picture."""


@dataclass(frozen=True, eq=False)
class RigidBodyCheck:
    """What the engine found.

    Attributes
    ----------
    seats : Settled
        Rigid rings, started off centre and pressed lightly: drops and falling through.
    hold : Settled or None
        Rings that give way radially, pressed as hard as the bowl is judged at, let go, turned over, shaken;
        None where a ring fell through and nothing is left to hold.
    turns : int
        Turns of the strip, the last part of one counted as a turn.
    """

    seats: Settled
    hold: Settled | None
    turns: int

    @property
    def untried(self) -> tuple[int, ...]:
        """Turns the section does not meet on both sides, 0 the innermost: no ring of theirs was tried.

        On an outlined board that is the last part of a turn where it does not reach the far side.
        """
        return tuple(range(len(self.seats.seat_drop_mm), self.turns))

    @property
    def seat_drop_mm(self) -> Array:
        """Drop of every turn, innermost first, shape (turns,); not a number where it was not tried. [mm]"""
        return frozen(np.append(self.seats.seat_drop_mm, np.full(len(self.untried), np.nan)))


def rigid_body_check(
    rigid: RigidFit,
    *,
    friction: float,
    press_N: float,
    record: bool = False,
    progress: Callable[[str], None] = lambda _doing: None,
) -> RigidBodyCheck:
    """Try the rings of a rigid fit in the engine.

    Parameters
    ----------
    rigid : RigidFit
        The closed-form fit; only its section is used, not its drops.
    friction : float
        Coefficient of friction. [-]
    press_N : float
        How hard the base is pressed: what the bowl is judged at. [N]
    record : bool
        True to keep snapshots of the bowl opening.
    progress : callable
        Told in a few words what is being tried.

    Returns
    -------
    RigidBodyCheck
        Where the rings came to rest and whether they held.

    Raises
    ------
    InputError
        If a slot is closed when flat: there is nothing to press.
    """
    if rigid.slot.winding is None:
        sections = ring_sections(rigid.slot, rigid.strip, rigid.faces)
    else:  # the turns of another outline, as a plane square to the root cuts them
        sections = section_rings(rigid)
    turns = len(rigid.faces.share)
    progress("pressing the rings lightly, off centre")
    light = settings_for(sections, friction=friction, press_N=LIGHT_PRESS_N)
    seats = settle(sections, light, stages=STAGES[:1], record_every=FRAME_STEPS if record else 0)
    if not seats.settled or seats.fell_through:
        return RigidBodyCheck(seats, None, turns)
    progress("pressing the rings, letting go, turning them over and shaking them")
    hard = settings_for(sections, friction=friction, press_N=press_N, radial_N_per_mm=GIVE_N_PER_MM)
    return RigidBodyCheck(seats, settle(sections, hard), turns)
