"""What a maker would see and measure on many drawn bowls, by the emulator of this bowl.

A maker presses, lets go, and presses harder if the bowl springs back, up to what his hands give; so a bowl
is pressed somewhat harder than it needs, or with all there is, times what a cause makes of it. Whoever
presses too hard may lean on it with more than he said he could, but nobody presses harder than two hands
with the weight of the body behind them. The emulator
(:mod:`fitsim.failure.bowl_emulator`) says what the strip then does, and how far it is off; a state is
never certain:
margins are taken to be wrong by as much.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.bowl.hand_press import REACH_N, ordinary_hand
from fitsim.failure.bowl_emulator import BowlEmulator, Coordinates
from fitsim.failure.failed_samples import BowlPlan, Samples, turn_follows_wander
from fitsim.failure.sample_seats import SampleSeats, sample_seats
from fitsim.wood.strength import chances_by_turn

__all__ = [
    "HELD_STATES",
    "ModelError",
    "Predicted",
    "Pressing",
    "model_error",
    "predict",
]

HELD_STATES = ("would not open", "fell through", "sprang back", "held")
"""What the bowl as a whole did, one of four; the columns of :attr:`Predicted.state`."""

FILM_SHOWS_MM = 0.03
"""A film thicker than this can be scraped off a bevel, planned or not: an estimate."""

LEAST_SD = 0.5
"""Standard deviation of how far the narrowest place of a slot lies below the narrowest turn's mean, over
that of the kerf's wander (0.47 on five turns: tests/test_kerf_wander_predicted.py)."""

BEYOND_LOG, LEAST_BEYOND = 0.2, 1.03
"""A maker presses a bowl that needs a press with the spare of its limits times what it needs, give or take
so much (standard deviation of the logarithm), and no less than makes it stay: estimates."""

NEEDED_WITHIN = 0.06
"""Part of the emulator's error of the press needed that is smoothed over: the others are drawn as luck."""

UNLIKE_LOG = 0.5
"""Standard deviation of the logarithm of the press at which wrong bevels or a loose end fall: what differs
from bowl to bowl moves it by about as much, an estimate."""


@dataclass(frozen=True)
class ModelError:
    """How far this way of predicting is off; standard deviations.

    Attributes
    ----------
    slot_mm : float
        Of the slot left: an estimate. [mm]
    deepest_log, needed_log, stress_log : float
        Of the logarithms of the greatest drops, of the press needed, of the stress. [-]
    all_drops : float
        Of all drops of a bowl alike, and so of its rise, over themselves. [-]
    drop_share : float
        Of one drop beside that, over itself. [-]
    rise_share : float
        Of the rise beside that, over itself. [-]
    uneven_share : float
        Of the unevenness of the rim, over a seat drop. [-]
    """

    slot_mm: float = 0.02
    deepest_log: float = 0.1
    needed_log: float = 0.15
    stress_log: float = 0.2
    all_drops: float = 0.05
    drop_share: float = 0.05
    rise_share: float = 0.03
    uneven_share: float = 0.1


def model_error(emulator: BowlEmulator) -> ModelError:
    """The errors of an emulator, as bowls left out tell them.

    Parameters
    ----------
    emulator : BowlEmulator
        The emulator.

    Returns
    -------
    ModelError
        What is alike in all drops of a bowl is part of the rise's error too.
    """
    e = emulator.error
    alike = min(e.drops_alike, e.rise)
    return ModelError(
        deepest_log=e.deepest,
        needed_log=e.needed,
        stress_log=e.stress,
        all_drops=alike,
        drop_share=math.sqrt(e.drops_each**2 + e.drops_alike**2 - alike**2),
        rise_share=max(math.sqrt(e.rise**2 - alike**2), LEAST_RISE_SHARE),
        uneven_share=e.uneven,
    )


LEAST_RISE_SHARE = 0.015
"""A rim measured at four places is that far from its mean: an estimate."""


@dataclass(frozen=True, eq=False)
class Predicted:
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
        Standard deviation of both, shape (n,). [mm]
    drops_mm : numpy.ndarray
        Mean drop round each turn, the thickness where it falls through, shape (n, turns). [mm]
    drop_sd_mm : numpy.ndarray
        Standard deviation of one turn's drop by what the kerf wanders within it, shape (n,). [mm]
    needed_N : numpy.ndarray
        Least press after which it holds, shape (n,). [N]
    readings : dict[str, numpy.ndarray]
        What to read, by key, each of shape (n,). [unit of the key]
    slot_sd_mm : dict[str, numpy.ndarray]
        Standard deviation of a feeler gauge's find from place to place, by key, each of shape (n,). [mm]
    error : ModelError
        How far it is off.
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
    drop_sd_mm: Array
    needed_N: Array
    readings: dict[str, Array]
    slot_sd_mm: dict[str, Array]
    error: ModelError


@dataclass(frozen=True)
class Pressing:
    """How the bowls are pressed, where it is not as makers do.

    Attributes
    ----------
    spare : float
        Times what a bowl needs that it is pressed with, exactly, if the hands give it. [-]
    spare_asked : float
        It counts as sprung back where it needs this many times less than there is: as a bowl is judged.
        [-]
    overlap : float
        It falls through below this share of the thickness. [-]
    """

    spare: float
    spare_asked: float
    overlap: float


WANDER_TIPS = 0.6
"""A turn's drop on one side follows the kerf there by so much, the rest evened out: an estimate."""


WANDER_SINKS = 0.35
"""Where the kerf wanders within a turn narrow places hold it up: its drop strays from what its mean kerf
tells by this share of the wander over the tangent (0.39 on 37 bowls of wanders of 0.1 to 0.4 mm, of which
the emulator is a part; 0.39 on 16 against strips of the same mean kerfs: studies/failed_bowls.md)."""


def _normal_chance(margin: Array, sd: float | Array) -> Array:
    """Chance that a margin known within so much lies below zero."""
    from scipy.special import ndtr

    return np.asarray(ndtr(-margin / sd))


def predict(
    emulator: BowlEmulator,
    samples: Samples,
    *,
    error: ModelError | None = None,
    pressing: Pressing | None = None,
) -> Predicted:
    """Predict what is seen and read on the drawn bowls.

    Parameters
    ----------
    emulator : BowlEmulator
        Of the bowl.
    samples : Samples
        The bowls.
    error : ModelError or None
        In place of the emulator's errors.
    pressing : Pressing or None
        How they are pressed, and judged; None: as makers do, and as is seen.

    Returns
    -------
    Predicted
        One row a bowl.
    """
    plan = emulator.plan
    error = error or model_error(emulator)
    seats = sample_seats(plan, samples)
    at = emulator.coordinates(samples, seats)
    needed = np.exp(emulator.needed_log_N(at) + error.needed_log * samples.hold_luck) * samples.stiffness
    held = ~_loose(samples) & np.all(seats.tangent > 0, axis=1)
    needed = np.where(held, needed, np.inf)
    press, springs, sunk_at = _pressed(plan, samples, needed, pressing)
    # No bowl is pressed any harder than makes it fall.
    press = np.minimum(press, _falls_N(emulator, at, samples, seats))
    known = emulator.known(at, samples, seats, press)
    deeper = emulator.known(at, samples, seats, sunk_at)
    least = 0.0 if pressing is None else pressing.overlap
    margin = np.log((1 - least) * samples.thickness_mm[:, None] / np.maximum(deeper.deepest_mm, 1e-6))
    fallen = _normal_chance(margin, max(error.deepest_log, 1e-9))
    _unlike(emulator, samples, seats, sunk_at, fallen)
    shut = _normal_chance(seats.least_mm, np.hypot(error.slot_mm, LEAST_SD * samples.wander_mm))
    falls = fallen.max(axis=1)
    state = np.stack(
        [
            shut,
            (1 - shut) * falls,
            (1 - shut) * (1 - falls) * springs,
            (1 - shut) * (1 - falls) * (1 - springs),
        ],
        axis=1,
    )
    luck = np.exp(error.all_drops * samples.luck)
    drop = np.where(seats.tangent > 0, known.mean_drop_mm * luck[:, None], np.inf)
    drop[_loose(samples), -1] = np.inf
    drop = np.minimum(drop, samples.thickness_mm[:, None])
    rise = known.rise_mm * luck
    rocks = (
        np.minimum(seats.along_drop_mm, plan.bowl.board.thickness_mm)
        - np.minimum(seats.across_drop_mm, plan.bowl.board.thickness_mm)
    ).sum(axis=1)
    built_in = emulator.planned.uneven_share * _level(seats, samples)
    return Predicted(
        state=state,
        falls_at=np.asarray(fallen / np.maximum(fallen.sum(axis=1, keepdims=True), 1e-12)),
        splits=_splits(emulator, samples, known.stress, state, error),
        split_end=np.where(samples.nail == 2, 0.95, 0.005),
        rise_share=rise / emulator.planned.rise_mm,
        rocks_mm=np.asarray(rocks),
        uneven_mm=np.asarray(known.uneven_mm - built_in),
        rocks_sd_mm=_wander_rocks(plan, samples),
        tips_mm=np.hypot(_wander_uneven(plan, samples), error.uneven_share * _level(seats, samples)),
        drops_mm=drop,
        drop_sd_mm=WANDER_SINKS * samples.wander_mm / _tangent(plan),
        needed_N=needed,
        readings=_readings(plan, samples, seats, drop, rise, press),
        slot_sd_mm=_slot_sd(plan, samples, seats),
        error=error,
    )


def _pressed(
    plan: BowlPlan, samples: Samples, needed_N: Array, pressing: Pressing | None
) -> tuple[Array, Array, Array]:
    """How hard each bowl is pressed, the chance it springs back, and the press its overlap counts at."""
    spare, sd = plan.bowl.limits.press_spare, NEEDED_WITHIN
    if pressing is None:
        beyond = np.maximum(spare * np.exp(BEYOND_LOG * samples.beyond), LEAST_BEYOND)
        asked = beyond * needed_N
        # How hard he can push he may have told too low, yet no hand gives more than a hand can.
        leaning = np.maximum(samples.hands_N, REACH_N)
        press = np.minimum(np.minimum(asked, samples.hands_N) * samples.press_times, leaning)
        # A maker who presses until it stays up springs back only for want of strength.
        hardest = np.minimum(samples.hands_N * samples.press_times, leaning)
        most = np.where(samples.press_times < 1, press, hardest)
        return press, _normal_chance(_log(most / needed_N), sd), press
    press = np.minimum(pressing.spare * needed_N, samples.hands_N)
    springs = _normal_chance(_log(samples.hands_N / (pressing.spare_asked * needed_N)), sd)
    # As it is judged: at what it needs though no hand can give it, at an ordinary press where none holds.
    asked = np.where(needed_N < REACH_N, pressing.spare * needed_N, ordinary_hand().value_N)
    return press, springs, asked


def _log(ratio: Array) -> Array:
    return np.log(np.maximum(ratio, 1e-12))


def _loose(samples: Samples) -> BoolArray:
    """Bowls whose free end nothing holds."""
    return np.asarray((samples.nail == 1) | (samples.nail == 2))


def _falls_N(emulator: BowlEmulator, at: Coordinates, samples: Samples, seats: SampleSeats) -> Array:
    """The press at which each bowl falls through, as it is or as wrongly cut or loose. [N]"""
    falls = emulator.falls_N(at, samples, seats)
    wrong = seats.tangent <= 0
    count, turns = wrong.sum(axis=1), emulator.plan.turns
    for kind, mine, turn in (
        ("to", wrong[:, 0] & (count < turns), count),
        ("from", wrong[:, -1] & (count < turns), turns - count),
        ("whole", count == turns, count),
        ("loose", _loose(samples), np.ones_like(count)),
    ):
        at_N = np.exp(emulator.unlike_log_N[kind][np.clip(turn, 1, turns) - 1]) * samples.stiffness
        falls = np.where(mine, np.minimum(falls, at_N), falls)
    return np.asarray(falls)


def _unlike(
    emulator: BowlEmulator, samples: Samples, seats: SampleSeats, press_N: Array, fallen: Array
) -> None:
    """Chance of falling of turns that lean the other way, and of a last turn that hangs loose."""
    wrong = seats.tangent <= 0
    log_N = np.log(press_N / samples.stiffness)
    count = wrong.sum(axis=1)
    rows = np.flatnonzero(count)
    turns = emulator.plan.turns
    for i, kind in ((0, "to"), (-1, "from")):
        mine = rows[(wrong[rows, i]) & (count[rows] < turns)]
        at = (count if kind == "to" else turns - count)[mine]
        falls = emulator.unlike_log_N[kind][np.clip(at, 1, turns) - 1]
        chance = _normal_chance(falls - log_N[mine], UNLIKE_LOG)
        fallen[mine] = np.where(wrong[mine], chance[:, None], 0.0)
    whole = rows[count[rows] == turns]
    chance = _normal_chance(emulator.unlike_log_N["whole"][0] - log_N[whole], UNLIKE_LOG)
    fallen[whole] = chance[:, None]
    loose = _loose(samples)
    falls = emulator.unlike_log_N["loose"][0]
    fallen[loose, -1] = np.maximum(fallen[loose, -1], _normal_chance(falls - log_N[loose], UNLIKE_LOG))


def _splits(
    emulator: BowlEmulator, samples: Samples, stress: Array, state: Array, error: ModelError
) -> Array:
    """Chance that it splits at each turn; one that does not open is not stressed."""
    width = (emulator.plan.width_mm / samples.width_mm) ** 2
    of_each = stress[:, None] * width / samples.strength
    pressed = 1 - state[:, 0]
    split = emulator.split
    chance = chances_by_turn(split.risks, split.strength, of_each, error_log=error.stress_log)
    return np.asarray(chance * pressed[:, None])


def _level(seats: SampleSeats, samples: Samples) -> Array:
    """Mean seat drop, none counted lower than the board is thick. [mm]"""
    return np.asarray(np.minimum(seats.drop_mm, samples.thickness_mm[:, None]).mean(axis=1))


def _wander_uneven(plan: BowlPlan, samples: Samples) -> Array:
    """Standard deviation at the rim of what a wandering kerf tips each turn, one way or another."""
    return np.asarray(WANDER_TIPS * samples.wander_mm / _tangent(plan) * math.sqrt(plan.turns))


def _tangent(plan: BowlPlan) -> float:
    """Of the mean tilt, whichever way it leans."""
    return math.tan(abs(float(np.mean(plan.tilt_rad))))


def _wander_rocks(plan: BowlPlan, samples: Samples) -> Array:
    """Standard deviation of how far a wandering kerf seats the turns lower on two sides than between them.

    That of four times the mean of kerf times cos(2 clock) round each turn, over the tangent: covariance
    exp(-s^2/(2 l^2)) along turns that are long beside l.
    """
    length, way = plan.bowl.scatter.kerf_length_mm, 2 * math.pi * plan.radius_mm
    each = 8 * math.sqrt(2 * math.pi) * length / way * np.exp(-((4 * math.pi * length / way) ** 2) / 2)
    return np.asarray(samples.wander_mm * math.sqrt(float(np.sum(each))) / _tangent(plan))


def _slot_sd(plan: BowlPlan, samples: Samples, seats: SampleSeats) -> dict[str, Array]:
    """How far one place of a turn's slot lies from its mean: what wanders round it, and its two sides."""
    left = np.sqrt(1 - turn_follows_wander(plan) ** 2)
    sides = np.abs(seats.along_mm - seats.across_mm) / 2 / math.sqrt(2)
    each = np.hypot(left * samples.wander_mm[:, None], sides)
    least = np.hypot(LEAST_SD * samples.wander_mm, 0.01)
    return {"kerf": each[:, -1], "kerf_inner": each[:, 0], "kerf_least": least}


def _readings(
    plan: BowlPlan, samples: Samples, seats: SampleSeats, held: Array, rise: Array, press_N: Array
) -> dict[str, Array]:
    cosine = np.cos(samples.tilt_rad)
    gauge = np.maximum(seats.slot_mm * cosine, 0.0)  # a shut slot takes no gauge
    return {
        "kerf": gauge[:, -1],
        "kerf_least": np.maximum(seats.least_mm * cosine.mean(axis=1), 0.0),
        "kerf_inner": gauge[:, 0],
        "tilt": np.degrees(samples.tilt_rad[:, -1]),
        "tilt_inner": np.degrees(samples.tilt_rad[:, 0]),
        "thickness": samples.thickness_mm,
        "drop": held[:, 1:].mean(axis=1) if plan.turns > 1 else held[:, 0],
        **{f"drop_{j + 1}": held[:, j] for j in range(plan.turns)},
        "rise": rise,
        "rim_moisture": samples.rim_percent,
        "base_moisture": samples.base_percent,
        "press": press_N,
        "slip_angle": np.degrees(np.arctan(samples.friction)),
        "least_width": samples.width_mm.min(axis=1),
        "base": 2 * (plan.bowl.cut.base_radius_mm + plan.bowl.cut.pitch_by_turn_mm[0] * samples.short),
        "nail": samples.nail.astype(np.float64),
        "bevels": (samples.film_mm > FILM_SHOWS_MM).astype(np.float64),
        "grain": (samples.strength.min(axis=1) < 0.9 * samples.strength.max(axis=1)).astype(np.float64),
    }
