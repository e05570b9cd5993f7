"""What a maker would see and measure on many drawn bowls, by the closed form corrected at one press.

Seats by slot over tangent, along and across the grain apart (moisture moves only one of them much);
depth, hold and stress follow the press that anchors them (:mod:`fitsim.anchor`). A state is never
certain: margins are taken to be wrong by the model's own errors, estimates laid beside presses of the
springy strip in ``studies/04_failed_bowl.py``.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.anchor import Anchor
from fitsim.arrays import Array, BoolArray
from fitsim.drawn import Drawn, Plan, turn_follows_wander
from fitsim.strength import chances_by_turn

__all__ = ["HELD_STATES", "Foretold", "ModelError", "RigidSeats", "foretell", "rigid_seats"]

HELD_STATES = ("would not open", "fell through", "sprang back", "held")
"""What the bowl as a whole did, one of four; the columns of :attr:`Foretold.state`."""

TURN_FOLLOWS = 0.4
"""How much of the base's lag each further turn keeps: an estimate."""

REACH = 50.0
CLOSES_ALONG = 0.6
"""Drying stresses lie across the grain: along it a slot closes by this share of its mean, an estimate."""

FILM_SHOWS_MM = 0.03
"""A film thicker than this can be scraped off a bevel, planned or not: an estimate."""

LEAST_BELOW, LEAST_SD = 2.0, 0.5
"""The narrowest place of a slot lies so many standard deviations of the kerf's wander below the narrowest
turn's mean, give or take (1.8 and 0.47 on five turns, more on more: tests/test_kerf_wander_foretold.py)."""

NAIL_GONE_FALLS = 0.85
"""Of bowls whose free end is not held most fall through at the last turn; the rest spring back."""

PINNED_DROP, PINNED_RISE, PINNED_UNEVEN = 0.36, 0.4, 1.1
"""A nail through two turns: drop the last turn but one loses, rise lost, and how much more uneven the rim
is, all as shares of a seat drop, from a press of the springy strip (5.4 for 8.9 mm, 41.6 for 44.7 mm, 14.3
for 5.1 mm where a seat drop is 8.0 mm)."""

POWERS = {
    "depth": {"slot": 0.43, "tilt": -1.2, "press": 0.68, "friction": -0.72, "thickness": -1.65},
    "stress": {"slot": 0.66, "tilt": -0.8, "press": 0.37, "friction": -0.25, "thickness": -0.6},
    "spring": {"slot": 0.72, "tilt": 0.0, "press": -0.70, "friction": 0.82, "thickness": 1.74},
}
"""How the springy strip's share moves with slot, tangent of the tilt, press, friction and thickness, and
:data:`TWO_SIDED` with how unlike the slot is along and across the grain, over its mean: fitted to 590
presses of three bowls; another 600 tell how well they are known (``studies/failed_powers.py``)."""

FITTED_FRICTION = (0.14, 0.6)
"""Friction of those presses; beyond it the share is that at the nearer end."""

TWO_SIDED = {"depth": -0.3, "stress": -0.25, "spring": 0.3}
DEEPER = 0.117
"""Mean drop beyond the anchor's, a share of the seat's, for each doubling of that depth: same presses."""


@dataclass(frozen=True)
class ModelError:
    """How far this way of foretelling is off; standard deviations, all estimates.

    Attributes
    ----------
    slot_mm : float
        Of the slot left. [mm]
    overlap : float
        Of the least overlap. [-]
    depth_log : float
        Of the logarithm of how much deeper than its seat a turn sinks. [-]
    hold_log : float
        Of the logarithm of friction used. [-]
    stress_log : float
        Of the logarithm of the stress. [-]
    all_drops : float
        Of all drops of a bowl alike, and so of its rise, over themselves. [-]
    drop_share : float
        Of one drop beside that, over itself. [-]
    rise_share : float
        Of the rise beside that, over itself. [-]
    """

    slot_mm: float = 0.02
    overlap: float = 0.03
    depth_log: float = 0.5
    hold_log: float = 0.3
    stress_log: float = 0.25
    all_drops: float = 0.06
    drop_share: float = 0.06
    rise_share: float = 0.03


@dataclass(frozen=True, eq=False)
class Foretold:
    """What is to be seen and read on n bowls.

    Attributes
    ----------
    state : numpy.ndarray
        Chance of each of :data:`HELD_STATES`, shape (n, 4). [-]
    falls_at : numpy.ndarray
        If it falls through: chance that this turn does, shape (n, turns). [-]
    splits : numpy.ndarray
        Chance that it splits at each turn, adding up to that of the strip, shape (n, turns). [-]
    split_end : numpy.ndarray
        Chance that it has split beside the nail, shape (n,). [-]
    rise_share : numpy.ndarray
        Rise over the rise of the plan, where it holds, shape (n,). [-]
    rocks_mm, uneven_mm : numpy.ndarray
        How much the turns bind lower along the grain than across it (negative: the other way), and how
        uneven the rim is beside what the spiral builds in, shape (n,). [mm]
    rocks_sd_mm, tips_mm : numpy.ndarray
        Standard deviation of both by the wander of the kerf, shape (n,). [mm]
    drops_mm : numpy.ndarray
        Mean drop round each turn, the thickness where it falls through, shape (n, turns). [mm]
    readings : dict[str, numpy.ndarray]
        What to read, by key, each of shape (n,). [unit of the key]
    slot_sd_mm : dict[str, numpy.ndarray]
        Standard deviation of a feeler gauge's find from place to place, by key, each of shape (n,). [mm]
    """

    state: Array
    falls_at: Array
    splits: Array
    split_end: Array
    rise_share: Array
    rocks_mm: Array
    uneven_mm: Array
    rocks_sd_mm: Array
    tips_mm: Array
    drops_mm: Array
    readings: dict[str, Array]
    slot_sd_mm: dict[str, Array]


@dataclass(frozen=True, eq=False)
class RigidSeats:
    """Rigid seats of the drawn bowls, arrays of shape (n, turns).

    Attributes
    ----------
    along_mm, across_mm, slot_mm : numpy.ndarray
        Slot where its normal lies along and across the grain, and their mean. [mm]
    least_mm : numpy.ndarray
        The narrowest place of the whole slot, shape (n,). [mm]
    along_drop_mm, across_drop_mm, drop_mm : numpy.ndarray
        Seat drops there, and their mean. [mm]
    tangent : numpy.ndarray
        Tangent of the tilt. [-]
    log_slot, log_tangent : numpy.ndarray
        Logarithms of slot and tangent over the anchor's. [-]
    """

    along_mm: Array
    across_mm: Array
    slot_mm: Array
    least_mm: Array
    along_drop_mm: Array
    across_drop_mm: Array
    drop_mm: Array
    tangent: Array
    log_slot: Array
    log_tangent: Array


def rigid_seats(plan: Plan, drawn: Drawn, anchor: Anchor) -> RigidSeats:
    """Where the drawn bowls would bind, were they rigid: slot over tangent.

    Parameters
    ----------
    plan, drawn, anchor : Plan, Drawn, Anchor
        What was meant, the bowls, and the press they are set beside.

    Returns
    -------
    RigidSeats
        One row a bowl.
    """
    wood = plan.bowl.board.wood
    ring = plan.bowl.board.ring_angle_rad
    swells = (
        wood.swell_T_per_point.value * math.cos(ring) ** 2
        + wood.swell_R_per_point.value * math.sin(ring) ** 2
    )
    lag = TURN_FOLLOWS ** np.arange(plan.turns + 1)
    # The turn's moisture less its inner neighbour's: only the difference moves a seat.
    wetter = (drawn.base_percent - drawn.rim_percent)[:, None] * np.diff(lag) * plan.radius_mm
    cosine, tangent = np.cos(drawn.tilt_rad), np.tan(drawn.tilt_rad)
    meant = (drawn.kerf_mm - 2 * drawn.film_mm[:, None]) / cosine
    closed = drawn.closed_mm[:, None]
    along = meant - CLOSES_ALONG * closed + wood.swell_L_per_point.value * wetter
    across = meant - (2 - CLOSES_ALONG) * closed + swells * wetter
    most = REACH * plan.bowl.board.thickness_mm
    safe = np.where(tangent > 0, np.maximum(tangent, 1e-4), 0.0)
    slope = np.maximum(safe, 1e-9)
    drops = [np.where(safe > 0, np.clip(slot / slope, 0.0, most), most) for slot in (along, across)]
    slot = (along + across) / 2
    log_slot = np.log(np.maximum(slot, 0.01) / anchor.slot_mm)
    log_tangent = np.log(np.maximum(np.abs(tangent), 0.005) / math.tan(anchor.tilt_rad))
    mean = (drops[0] + drops[1]) / 2
    least = np.minimum(along, across) - LEAST_BELOW * drawn.wander_mm[:, None]
    return RigidSeats(
        along, across, slot, least.min(axis=1), drops[0], drops[1], mean, tangent, log_slot, log_tangent
    )


def _power(kind: str, anchor: Anchor, drawn: Drawn, seats: RigidSeats) -> Array:
    """How far a springy share has moved from the anchor's, shape (n, turns)."""
    p = POWERS[kind]
    uneven = np.abs(seats.along_mm - seats.across_mm) / np.maximum(seats.slot_mm, 0.01)
    apart = TWO_SIDED[kind] * np.minimum(uneven, 2.0)
    friction = min(max(anchor.friction, FITTED_FRICTION[0]), FITTED_FRICTION[1])
    whole = (
        p["press"] * np.log(drawn.press_N / anchor.press_N)
        + p["friction"] * np.log(np.clip(drawn.friction, *FITTED_FRICTION) / friction)
        + p["thickness"] * np.log(drawn.thickness_mm / anchor.thickness_mm)
    )
    return np.exp(p["slot"] * seats.log_slot + p["tilt"] * seats.log_tangent + apart + whole[:, None])


WANDER_TIPS = 0.6
"""A turn's drop on one side follows the kerf there by so much, the rest evened out: an estimate."""


def _normal_chance(margin: Array, sd: float) -> Array:
    """Chance that a margin known within so much lies below zero."""
    from scipy.special import ndtr

    return np.asarray(ndtr(-margin / sd))


def foretell(
    plan: Plan,
    anchor: Anchor,
    drawn: Drawn,
    *,
    error: ModelError | None = None,
    least_overlap: float = 0.0,
) -> Foretold:
    """Foretell what is seen and read on the drawn bowls.

    Parameters
    ----------
    plan : Plan
        What was meant.
    anchor : Anchor
        From one press of the springy strip.
    drawn : Drawn
        The bowls.
    error : ModelError or None
        In place of the model's usual errors.
    least_overlap : float
        It falls through below this share of the thickness: 0 for what is seen, the bowl's own limit for
        what is advised. [-]

    Returns
    -------
    Foretold
        One row a bowl.
    """
    error = error or ModelError()
    seats = rigid_seats(plan, drawn, anchor)
    height = seats.drop_mm
    depth = _power("depth", anchor, drawn, seats)
    fallen = _fallen(anchor, drawn, height, depth, error, least_overlap)
    state, falls_at = _states(anchor, drawn, seats, fallen, error)
    deeper = DEEPER * anchor.springy * (depth - 1)
    drop = height * (anchor.drop_ratio + deeper)
    drop *= np.exp(error.all_drops * drawn.luck)[:, None]
    pinned = drawn.nail == 3
    if plan.turns > 1:
        drop[pinned, -2] *= 1 - PINNED_DROP
    held = np.minimum(
        np.where(_loose(drawn)[:, None] & _last(plan), np.inf, drop), drawn.thickness_mm[:, None]
    )
    mean_height = np.minimum(height * (1 + deeper), drawn.thickness_mm[:, None])
    lost = PINNED_RISE * pinned + drawn.short
    rise = anchor.rise_ratio * np.maximum(
        (mean_height * plan.share).sum(axis=1) - lost * mean_height.mean(axis=1), 0
    )
    rise *= np.exp(error.all_drops * drawn.luck)
    meant = anchor.rise_ratio * float(np.sum(plan.share * plan.kerf_mm / np.sin(np.abs(plan.tilt_rad))))
    most = plan.bowl.board.thickness_mm
    rocks = np.minimum(seats.along_drop_mm, most) - np.minimum(seats.across_drop_mm, most)
    uneven = PINNED_UNEVEN * pinned * mean_height.mean(axis=1)
    splits = _splits(anchor, plan, drawn, seats, state, error)
    return Foretold(
        state=state,
        falls_at=falls_at,
        splits=splits,
        split_end=np.where(drawn.nail == 2, 0.95, 0.005),
        rise_share=rise / meant,
        rocks_mm=np.asarray(rocks.sum(axis=1)),
        uneven_mm=np.asarray(uneven),
        rocks_sd_mm=_wander_rocks(plan, drawn),
        tips_mm=_wander_uneven(plan, drawn),
        drops_mm=held,
        readings=_readings(plan, drawn, seats, held, rise),
        slot_sd_mm=_slot_sd(plan, drawn, seats),
    )


def _loose(drawn: Drawn) -> BoolArray:
    """Bowls whose free end nothing holds."""
    return np.asarray((drawn.nail == 1) | (drawn.nail == 2))


def _last(plan: Plan) -> BoolArray:
    return np.asarray(np.arange(plan.turns) == plan.turns - 1)


def _fallen(
    anchor: Anchor, drawn: Drawn, height: Array, depth: Array, error: ModelError, least_overlap: float
) -> Array:
    """Chance that each turn sinks as deep as the board is thick at its deepest place."""
    seat = height / drawn.thickness_mm[:, None]
    more = seat * anchor.deepest * depth
    sd = np.hypot(error.overlap, error.depth_log * more)
    fallen = _normal_chance((1 - least_overlap - seat - more) / sd, 1.0)
    loose = _loose(drawn)
    fallen[loose, -1] = np.maximum(fallen[loose, -1], NAIL_GONE_FALLS)
    return fallen


def _states(
    anchor: Anchor, drawn: Drawn, seats: RigidSeats, fallen: Array, error: ModelError
) -> tuple[Array, Array]:
    shut = _normal_chance(seats.least_mm / np.hypot(error.slot_mm, LEAST_SD * drawn.wander_mm), 1.0)
    falls = fallen.max(axis=1)
    springs = _springs(anchor, drawn, seats, error)
    springs = np.where(_loose(drawn), np.maximum(springs, 0.8), springs)
    state = np.stack(
        [
            shut,
            (1 - shut) * falls,
            (1 - shut) * (1 - falls) * springs,
            (1 - shut) * (1 - falls) * (1 - springs),
        ],
        axis=1,
    )
    total = np.maximum(fallen.sum(axis=1, keepdims=True), 1e-12)
    return state, np.asarray(fallen / total)


def _springs(anchor: Anchor, drawn: Drawn, seats: RigidSeats, error: ModelError) -> Array:
    """Chance of springing back: the worst turn's tangent and spring against its friction."""
    spring = anchor.spring * _power("spring", anchor, drawn, seats)
    with np.errstate(divide="ignore", invalid="ignore"):  # without friction nothing holds: infinitely much
        used = (np.maximum(seats.tangent, 0) + spring) / drawn.friction[:, None]
    return _normal_chance(-np.log(np.maximum(used.max(axis=1), 1e-6)), error.hold_log)


def _splits(
    anchor: Anchor, plan: Plan, drawn: Drawn, seats: RigidSeats, state: Array, error: ModelError
) -> Array:
    """Chance that it splits at each turn; a bowl that gives way under a light press is hardly stressed."""
    stress = _power("stress", anchor, drawn, seats) * (plan.width_mm / drawn.width_mm) ** 2 / drawn.strength
    pressed = 1 - 0.9 * (state[:, 0] + state[:, 1])
    split = anchor.split
    chance = chances_by_turn(split.risks, split.strength, stress, error_log=error.stress_log)
    return np.asarray(chance * pressed[:, None])


def _wander_uneven(plan: Plan, drawn: Drawn) -> Array:
    """Standard deviation at the rim of what a wandering kerf tips each turn, one way or another."""
    tangent = math.tan(abs(float(np.mean(plan.tilt_rad))))
    return np.asarray(WANDER_TIPS * drawn.wander_mm / tangent * math.sqrt(plan.turns))


def _wander_rocks(plan: Plan, drawn: Drawn) -> Array:
    """Standard deviation of how far a wandering kerf seats the turns lower on two sides than between them.

    That of four times the mean of kerf times cos(2 clock) round each turn, over the tangent: covariance
    exp(-s^2/(2 l^2)) along turns that are long beside l.
    """
    length, way = plan.bowl.scatter.kerf_length_mm, 2 * math.pi * plan.radius_mm
    each = 8 * math.sqrt(2 * math.pi) * length / way * np.exp(-((4 * math.pi * length / way) ** 2) / 2)
    tangent = math.tan(abs(float(np.mean(plan.tilt_rad))))
    return np.asarray(drawn.wander_mm * math.sqrt(float(np.sum(each))) / tangent)


def _slot_sd(plan: Plan, drawn: Drawn, seats: RigidSeats) -> dict[str, Array]:
    """How far one place of a turn's slot lies from its mean: what wanders round it, and its two sides."""
    left = np.sqrt(1 - turn_follows_wander(plan) ** 2)
    sides = np.abs(seats.along_mm - seats.across_mm) / 2 / math.sqrt(2)
    each = np.hypot(left * drawn.wander_mm[:, None], sides)
    least = np.hypot(LEAST_SD * drawn.wander_mm, 0.01)
    return {"kerf": each[:, -1], "kerf_inner": each[:, 0], "kerf_least": least}


def _readings(plan: Plan, drawn: Drawn, seats: RigidSeats, held: Array, rise: Array) -> dict[str, Array]:
    cosine = np.cos(drawn.tilt_rad)
    gauge = np.maximum(seats.slot_mm * cosine, 0.0)  # a shut slot takes no gauge
    return {
        "kerf": gauge[:, -1],
        "kerf_least": np.maximum(seats.least_mm * cosine.mean(axis=1), 0.0),
        "kerf_inner": gauge[:, 0],
        "tilt": np.degrees(drawn.tilt_rad[:, -1]),
        "tilt_inner": np.degrees(drawn.tilt_rad[:, 0]),
        "thickness": drawn.thickness_mm,
        "drop": held[:, 1:].mean(axis=1) if plan.turns > 1 else held[:, 0],
        **{f"drop_{j + 1}": held[:, j] for j in range(plan.turns)},
        "rise": rise,
        "rim_moisture": drawn.rim_percent,
        "base_moisture": drawn.base_percent,
        "press": drawn.press_N,
        "slip_angle": np.degrees(np.arctan(drawn.friction)),
        "least_width": drawn.width_mm.min(axis=1),
        "base": 2 * (plan.bowl.cut.base_radius_mm + plan.bowl.cut.pitch_by_turn_mm[0] * drawn.short),
        "nail": drawn.nail.astype(np.float64),
        "bevels": (drawn.film_mm > FILM_SHOWS_MM).astype(np.float64),
        "grain": (drawn.strength.min(axis=1) < 0.9 * drawn.strength.max(axis=1)).astype(np.float64),
    }
