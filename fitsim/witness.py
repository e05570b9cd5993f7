"""The independent witness beside the closed form: the bowl's rings tried in a rigid-body engine.

It is no source of numbers for the verdict. Rigid rings answer where each turn comes to rest; rings
that give way radially answer whether they stay there when the press is let go, the bowl turned over
and shaken.
"""

from dataclasses import dataclass

from fitsim.fit import RigidFit
from fitsim.ring import ring_sections
from fitsim.settle import STAGES, Settled, settings_for, settle

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
        Rings that give way radially, pressed as hard as the maker can, let go, turned over, shaken;
        None where a ring fell through and nothing is left to hold.
    """

    seats: Settled
    hold: Settled | None


def rigid_body_check(
    rigid: RigidFit, *, friction: float, press_N: float, record: bool = False
) -> RigidBodyCheck:
    """Try the rings of a rigid fit in the engine.

    Parameters
    ----------
    rigid : RigidFit
        The closed-form fit; only its section is used, not its drops.
    friction : float
        Coefficient of friction. [-]
    press_N : float
        How hard the base can be pressed. [N]
    record : bool
        True to keep snapshots of the bowl opening.

    Returns
    -------
    RigidBodyCheck
        Where the rings came to rest and whether they held.

    Raises
    ------
    InputError
        If a slot is closed when flat: there is nothing to press.
    """
    sections = ring_sections(rigid.slot, rigid.strip, rigid.faces)
    light = settings_for(sections, friction=friction, press_N=LIGHT_PRESS_N)
    seats = settle(sections, light, stages=STAGES[:1], record_every=FRAME_STEPS if record else 0)
    if not seats.settled or seats.fell_through:
        return RigidBodyCheck(seats, None)
    hard = settings_for(sections, friction=friction, press_N=press_N, radial_N_per_mm=GIVE_N_PER_MM)
    return RigidBodyCheck(seats, settle(sections, hard))
