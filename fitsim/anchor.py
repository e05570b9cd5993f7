"""One press of the springy strip, from which many closed-form bowls like it are corrected.

The closed form puts every turn at its rigid seat. The springy strip sinks somewhat deeper, unevenly near
the root and the nail, asks for more friction and twists harder. How much, is read off one press of the
bowl at hand; how that changes with slot, tilt, press, friction and thickness goes by the powers of
:data:`POWERS`, fitted to 24 presses of one invented cherry bowl of 5.8 turns (tilt 2.2 to 10 deg, kerf
0.4 to 1.4 mm, press 20 to 400 N, friction 0.1 to 0.55, thickness 10 to 19 mm, 18 nodes a turn).
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl import Bowl
from fitsim.drawn import Plan
from fitsim.elastic import Opening, open_bowl
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.rigid import rigid_fit
from fitsim.strength import SplitChance

__all__ = ["NODES_PER_TURN", "Anchor", "anchor_of", "rigid_anchor"]

NODES_PER_TURN = 18
ANCHOR_OVERLAP = 0.5
"""A plan with less overlap than this is pressed with a finer kerf: one that falls anchors nothing."""


@dataclass(frozen=True, eq=False)
class Anchor:
    """What one press of the springy strip says about bowls like it; arrays of shape (turns,).

    Attributes
    ----------
    drop_ratio : numpy.ndarray
        Mean drop round each turn over its rigid seat drop. [-]
    deepest : numpy.ndarray
        How much deeper than its rigid seat drop each turn sinks at its deepest place, a share. [-]
    spring : numpy.ndarray
        Friction asked for by the strip's own spring, beside tan(tilt). [-]
    split : SplitChance
        Chance of splitting by mode and turn, at the strengths of the wood there.
    rise_ratio : float
        Rise over the sum of the rigid drops. [-]
    slot_mm, tilt_rad, press_N, friction, thickness_mm : float
        Where it was pressed. [mm, rad, N, -, mm]
    springy : bool
        False where no press could be worked out and the closed form stands alone.
    """

    drop_ratio: Array
    deepest: Array
    spring: Array
    split: SplitChance
    rise_ratio: float
    slot_mm: float
    tilt_rad: float
    press_N: float
    friction: float
    thickness_mm: float
    springy: bool


def anchor_of(plan: Plan) -> Anchor:
    """Press the plan once, or a like bowl with a finer kerf where the plan itself would not stand.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Anchor
        From the springy strip, or from the closed form where it finds no balance.
    """
    bowl = replace(plan.bowl, assumptions=(), uncertain=(), notes=(), name="")
    return _anchor(_standing(bowl), plan.turns)


@lru_cache(maxsize=16)
def _anchor(bowl: Bowl, turns: int) -> Anchor:
    try:
        opening = open_bowl(bowl, press_N=bowl.use.press_N, nodes_per_turn=NODES_PER_TURN)
    except (NoConvergenceError, OutsideModelError):
        return rigid_anchor(bowl, turns)
    if opening.rest is None:
        return rigid_anchor(bowl, turns)
    return _from_opening(bowl, opening, turns)


def _standing(bowl: Bowl) -> Bowl:
    """The bowl, its tilt positive and even, its slot fine enough for the overlap asked for."""
    tilt = max(abs(float(np.mean(bowl.cut.tilt_rad))), math.radians(1.0))
    kerf = float(np.mean(bowl.cut.kerf_mm))
    most = (1 - ANCHOR_OVERLAP) * bowl.board.thickness_mm * math.sin(tilt)
    cut = replace(bowl.cut, tilt_rad=(tilt,), kerf_mm=(min(kerf, most),))
    sawn = bowl.board.moisture_percent
    use = replace(
        bowl.use, film_mm=0.0, base_moisture_percent=sawn, turn_moisture_percent=(sawn,),
        press_N=min(max(bowl.use.press_N, 30.0), 300.0), friction=min(max(bowl.use.friction, 0.15), 0.8),
    )  # fmt: skip
    return replace(bowl, cut=cut, use=use)


def _common(bowl: Bowl) -> dict[str, float]:
    tilt = bowl.cut.tilt_rad[0]
    return {
        "slot_mm": bowl.cut.kerf_mm[0] / math.cos(tilt),
        "tilt_rad": tilt,
        "press_N": bowl.use.press_N,
        "friction": bowl.use.friction,
        "thickness_mm": bowl.board.thickness_mm,
    }


def _from_opening(bowl: Bowl, opening: Opening, turns: int) -> Anchor:
    rest, springy = opening.rest, opening.springy
    at = _common(bowl)
    rigid = rigid_fit(bowl)
    height = float(rigid.seats.seat_drop_mm[0])
    turn = springy.turn - 1
    pressed = int(turn.max()) + 1
    drop = np.asarray(rest.drop_mm if rest is not None else opening.pressed.drop_mm)
    mean = np.bincount(turn, drop, pressed) / np.bincount(turn, minlength=pressed)
    deepest = np.array([drop[turn == j].max(initial=height) for j in range(pressed)])
    used = np.nan_to_num(opening.friction_by_turn, nan=0.0, posinf=0.0)
    spring = np.maximum(used * at["friction"] - math.tan(at["tilt_rad"]), 0.0)

    def each(values: Array) -> Array:
        # A last turn shorter than one element is no turn of the pressed strip: it goes with the one before.
        return read_only(np.concatenate([values, np.repeat(values[-1:], turns - pressed)]))

    return Anchor(
        drop_ratio=each(mean / height),
        deepest=each(deepest / height - 1),
        spring=each(spring),
        split=_every_turn(opening.stress.split, turns),
        rise_ratio=opening.rim.mean_mm / float(np.sum(rigid.seats.share * height)),
        springy=True,
        **at,
    )


def _every_turn(split: SplitChance, turns: int) -> SplitChance:
    """The same chance told of so many turns: a last turn too short to be one of its own adds nothing."""
    risks = np.zeros((len(split.risks), turns))
    known = min(turns, split.risks.shape[1])
    risks[:, :known] = split.risks[:, :known]
    return replace(split, risks=read_only(risks))


def rigid_anchor(bowl: Bowl, turns: int) -> Anchor:
    """The closed form in place of a press: rigid seats, the taper rule, the first estimate.

    Parameters
    ----------
    bowl : Bowl
        The bowl, one tilt and one kerf.
    turns : int
        Turns of the strip.

    Returns
    -------
    Anchor
        ``springy`` False.
    """
    rigid = rigid_fit(bowl)
    return Anchor(
        drop_ratio=read_only(np.ones(turns)),
        deepest=read_only(np.zeros(turns)),
        spring=read_only(np.zeros(turns)),
        split=_every_turn(rigid.split.split, turns),
        rise_ratio=1.0,
        springy=False,
        **_common(bowl),
    )
