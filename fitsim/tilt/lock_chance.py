"""How often a bowl sawn again and again locks, from samples pressed on the elastic strip.

Some dozens of samples are pressed and a smooth surface is laid through their deciding numbers
(:mod:`fitsim.tolerances.press_surface`). The surface gives every sample a share of each state, its own
error included; then samples at one tilt are pressed one by one, picked where the surface is least sure, and
what they change is added:

    mean of the surface's shares over M samples + mean over n presses of (pressed - surface) / (M q),

q being the chance with which a sample is picked. The surface a batch is compared with has not seen the
batch, so the sum is the strip's chance without bias however poor the surface; a poor one makes the
standard error larger and asks for more presses. (W. G. Cochran, Sampling Techniques, difference estimator
and sampling with unequal chances, from memory.)

How hard the maker can push is not sampled. A bowl is judged at the press it needs with its spare, whatever
there is, and springs back where there is less: so each sample's share that has the press is the law's own,
exactly.
"""

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fitsim.arrays import Array, IntArray, frozen
from fitsim.bowl.hand_press import REACH_N
from fitsim.bowl.inputs import FRICTION, Bowl, Limits, with_friction_known
from fitsim.bowl.judgement import judge_bowl
from fitsim.bowl.verdict import NOT_DECIDED, SPRINGS_BACK, STATES, DecidingNumbers, happens, judge
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.strip.release import KEPT_SHARE
from fitsim.tolerances.press_surface import (
    LEAST_PRESSES,
    MOST_LOG_ODDS,
    MOST_LOG_PRESS,
    SMOOTHED,
    PressSurface,
    smoothed,
    surface_through,
)
from fitsim.tolerances.samples import PRESS, TILT, Scattered

__all__ = [
    "Chances",
    "JudgeBowls",
    "PressedSamples",
    "chances_at",
    "emulated_chances",
    "lock_margin",
    "on_strip",
    "predicted_shares",
    "press_samples",
    "pushes",
    "state_shares",
]

JudgeBowls = Callable[[Sequence[Bowl]], Sequence[DecidingNumbers | None]]
"""Judges many bowls, each with every input at one value; None where no equilibrium was found."""

PRESSES = 32
"""Pushes, equally likely, that stand for how hard the maker can push."""

LARGE_MARGIN = 10.0

SLOT_SCALE_MM = 0.1
"""A slot this much above its limit counts as far away as a press e times smaller: our choice."""

ODDS_PER_STRESS = 6.0
"""Odds of splitting go about with this power of the stress: the shape of the weakest link."""

TILT_REACH = math.sqrt(3.0)
"""Tilts are written so that even ones have a standard deviation of one, as everything else has."""

STEEPNESS_REACH, LEAST_FRICTION = 2.0, 1e-3
"""The same of tan(tilt) over friction, as a share of that in the middle; and what friction is taken as at
least, for it. [-, -]"""

HAT = 0.25
"""Half width of the hats that follow numbers along the tilt, in halves of the interval. [-]"""

FLOOR = 0.03
"""Standard deviation left to a sample of which the surface is sure; it is then pressed now and then too."""

_MOOT = {"log_press_left": -MOST_LOG_PRESS, "log_odds_split": -MOST_LOG_ODDS, "log_friction_used": 0.0}
"""What is taken where hardly a bowl tells: of bowls that do not hold what holding takes is moot, and so is
splitting of those that do not open."""

LEAST_BATCH, BELIEF = 12, 8
"""Presses in a batch, and presses' worth of belief in the error the surface states itself."""


@dataclass(frozen=True, eq=False)
class Chances:
    """Chance of each state at one tilt.

    Attributes
    ----------
    tilt_rad : float
        Tilt that was meant. [rad]
    chance, se : numpy.ndarray
        Chance and its standard error in the order of :data:`fitsim.bowl.verdict.STATES`, shape (5,). [-]
    presses, failed : int
        Samples pressed at this tilt, and how many of them found no equilibrium and were left out.
    reached : bool
        Whether the standard error of locking came below its target.
    """

    tilt_rad: float
    chance: Array
    se: Array
    presses: int
    failed: int
    reached: bool


@dataclass(frozen=True, eq=False)
class PressedSamples:
    """Samples pressed at tilts spread over an interval, and the surface through them.

    Attributes
    ----------
    scattered : Scattered
        What differs from bowl to bowl.
    tilts_rad : tuple[float, float]
        The interval. [rad]
    tilt_rad : numpy.ndarray
        Tilt that was meant for each sample, shape (n,). [rad]
    points : numpy.ndarray
        Of the unit cube, shape (n, dimensions). [-]
    numbers : tuple[DecidingNumbers, ...]
        As judged; samples without an equilibrium are left out.
    failed : int
        How many of these there were.
    surface : PressSurface
        Through all of them.
    """

    scattered: Scattered
    tilts_rad: tuple[float, float]
    tilt_rad: Array
    points: Array
    numbers: tuple[DecidingNumbers, ...]
    failed: int
    surface: PressSurface


def on_strip(
    executor: Executor | None = None,
    each: Callable[[], None] | None = None,
    *,
    roughly: bool = False,
    state_alone: bool = False,
) -> JudgeBowls:
    """A judge that presses bowls on the elastic strip.

    Parameters
    ----------
    executor : concurrent.futures.Executor or None
        Who presses; None: this process.
    each : callable or None
        Called after every bowl.
    roughly : bool
        Whether the press that a bowl needs is found only roughly: for samples.
    state_alone : bool
        Whether only the state has to be that of ``fit``, as where tilts that lock are looked for: with
        friction known as a range the numbers are then those of the press that the middle asks for.

    Returns
    -------
    JudgeBowls
        Whoever presses, the answers are the same.
    """
    pressed = partial(_pressed_numbers, roughly=roughly)

    def judged(bowls: Sequence[Bowl]) -> list[DecidingNumbers | None]:
        mapped = map if executor is None else executor.map
        found: list[DecidingNumbers | None] = []
        for numbers in mapped(_numbers_of_state if state_alone else pressed, bowls):
            found.append(numbers)
            if each is not None:
                each()
        return found

    return judged


def _numbers_of_state(bowl: Bowl) -> DecidingNumbers | None:
    """Numbers from which the state is that of ``fit``, without pressing as a lesser friction asks.

    Less friction asks for more press, and is heard where a bowl so pressed locks there and in the middle.
    One that locks in the middle as that asks for locks either way; one that falls through, splits or asks
    for more press than there is does no better pressed harder. Only one that slips at its own press might;
    one that no press makes hold is judged at that of a greater friction, and one that cannot be followed at
    its own as the press of a lesser asks.
    """
    known = with_friction_known(bowl, bowl.use.friction)
    found = _pressed_numbers(known, roughly=False)
    if known == bowl:
        return found
    if found is None:
        return _pressed_numbers(bowl, roughly=False)
    slips = judge(found, bowl.limits) == SPRINGS_BACK and found.press_asked <= 1
    never = math.isinf(found.press_asked)
    return _pressed_numbers(bowl, roughly=False) if slips or never else found


def _pressed_numbers(bowl: Bowl, *, roughly: bool) -> DecidingNumbers | None:
    try:
        found = judge_bowl(bowl, roughly=roughly)
    except (NoConvergenceError, OutsideModelError):
        return None
    return None if found.state == NOT_DECIDED else found.numbers


def lock_margin(numbers: DecidingNumbers, limits: Limits) -> tuple[float, str]:
    """How far a bowl is from the nearest limit, and the state beyond it (or the first that happens).

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers.
    limits : Limits
        Where the states begin.

    Returns
    -------
    tuple[float, str]
        Least of the distances, positive when the bowl locks: logarithms of how much deeper it might sink,
        how much more press or friction it might need, how much more it might be stressed; of the slot left
        in tenths of a millimetre. [-]
    """
    fallen = numbers.overlap <= 0
    sunk = math.log(max(1 - limits.overlap, 1e-6) / max(1 - numbers.overlap, 1e-6))
    springs = min(
        _log_over(1.0, numbers.press_asked), _log_over(limits.friction_used, numbers.friction_used)
    )
    if not numbers.kept >= KEPT_SHARE:
        springs = min(springs, numbers.kept - KEPT_SHARE)
    room = (
        (numbers.slot_left_mm - limits.slot_left_mm) / SLOT_SCALE_MM,
        sunk,
        LARGE_MARGIN if fallen else springs,
        (_log_odds(limits.split_chance) - _log_odds(numbers.split_chance)) / ODDS_PER_STRESS,
    )
    held = [max(-LARGE_MARGIN, min(LARGE_MARGIN, d)) for d in room]
    failing = [state for state in STATES[:-1] if happens(state, numbers, limits)]
    least = min(range(4), key=lambda i: held[i])
    if not failing:
        return max(held[least], 0.0), STATES[least]
    return min(held[STATES.index(failing[0])], 0.0), failing[0]


def _log_over(limit: float, value: float) -> float:
    """Logarithm of how much less a number is than its limit; large where it is nothing."""
    if value <= 0:
        return LARGE_MARGIN
    return math.log(limit / value) if math.isfinite(value) and limit > 0 else -LARGE_MARGIN


def _log_odds(chance: float) -> float:
    inside = min(max(chance, 1e-12), 1 - 1e-12)
    return math.log(inside / (1 - inside)) if chance < 1 else math.inf


def pushes(scattered: Scattered) -> Array:
    """How hard the maker can push, as equally likely values.

    Parameters
    ----------
    scattered : Scattered
        What differs from bowl to bowl, the press with it.

    Returns
    -------
    numpy.ndarray
        Over the press of the bowl as planned, shape (n,); 1 alone where it does not differ. [-]
    """
    if PRESS not in scattered.names:
        return np.ones(1)
    column = scattered.names.index(PRESS)
    points = np.full((PRESSES, len(scattered.dimensions)), 0.5)
    points[:, column] = (np.arange(PRESSES) + 0.5) / PRESSES
    return scattered.values(points)[:, column] / scattered.bowl.use.press_N


def state_shares(numbers: DecidingNumbers, limits: Limits, pushes: Array) -> tuple[float, ...]:
    """Share of each state among bowls with these numbers: one state, but for the press and for splitting.

    A bowl that asks for more press than the maker has springs back. One opened either splits or not: where
    nothing earlier decides, the chance of splitting is the share that splits, and the rest locks. No limit
    for the chance of splitting is needed here.

    Parameters
    ----------
    numbers : DecidingNumbers
        The deciding numbers of one bowl, the scatter of strength in its chance of splitting; its press
        asked is over the press as planned.
    limits : Limits
        Where the states begin.
    pushes : numpy.ndarray
        Presses there may be, over the press as planned, shape (n,). [-]

    Returns
    -------
    tuple[float, ...]
        In the order of :data:`fitsim.bowl.verdict.STATES`, adding up to 1. [-]
    """
    weak = float(np.mean(pushes < numbers.press_asked))
    strong = replace(numbers, press_asked=0.0)
    for at, state in enumerate(STATES[:3]):
        if happens(state, strong, limits):
            return tuple(float(i == at) for i in range(5))
    split = numbers.split_chance
    return (0.0, 0.0, weak, (1 - weak) * split, (1 - weak) * (1 - split))


def predicted_shares(mean: Array, sd: Array, limits: Limits, pushes: Array) -> tuple[Array, Array]:
    """Share of each state among samples whose numbers a surface predicts.

    Parameters
    ----------
    mean, sd : numpy.ndarray
        From :meth:`fitsim.tolerances.press_surface.PressSurface.predict` of the numbers
        :data:`fitsim.tolerances.press_surface.SMOOTHED`, shapes (n, 5).
    limits : Limits
        Where the states begin.
    pushes : numpy.ndarray
        Presses there may be, over the press as planned, shape (m,). [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Shares in the order of :data:`fitsim.bowl.verdict.STATES`, each row adding up to 1, shape (n, 5),
        and the standard deviation left to the share that locks, shape (n,). [-]
    """
    from scipy.special import expit, ndtr

    at = {name: i for i, name in enumerate(SMOOTHED)}

    def below(name: str, limit: Array | float) -> Array:
        """Chance that a number lies below a limit."""
        i = at[name]
        return np.asarray(ndtr((limit - mean[:, i]) / np.maximum(sd[:, i], 1e-9)))

    opens = 1 - below("slot_left_mm", limits.slot_left_mm)
    stays = below("log_sunk", math.log(max(1 - limits.overlap, 1e-6)))
    enough = np.array([1 - below("log_press_left", -math.log(push)) for push in np.sort(pushes)])
    if limits.friction_used < 1:  # a bowl judged at the press it needs never uses more than it has
        enough = enough * below("log_friction_used", math.log(max(limits.friction_used, 1e-6)))
    holds = enough.mean(axis=0)
    # The square of the share of pushes that suffice is the share of pairs of which the weaker does.
    pairs = (2 * len(pushes) - 1 - 2 * np.arange(len(pushes))) / len(pushes) ** 2
    i = at["log_odds_split"]
    # Mean of a logistic over a normal: its argument over sqrt(1 + pi s^2/8), within 0.02.
    split = expit(mean[:, i] / np.sqrt(1 + math.pi * sd[:, i] ** 2 / 8))
    good = opens * stays * holds
    lock = good * (1 - split)
    square = opens * stays * (pairs @ enough) * (1 - split) ** 2
    shares = [1 - opens, opens * (1 - stays), opens * stays * (1 - holds), good * split, lock]
    return np.column_stack(shares), np.sqrt(np.maximum(square - lock**2, 0.0))


def _features(
    scattered: Scattered, tilts_rad: tuple[float, float], tilt_rad: Array, values: Array
) -> Array:
    """Standardised coordinates and the true tilt; its setting error and the press need no column.

    A taper holds by tan(tilt) over friction, and the press it takes grows without end towards where that is
    too much: beside each of the two that ratio has a column of its own.
    """
    names = scattered.names
    at = scattered.standardised(values)
    true = np.asarray(tilt_rad, dtype=np.float64) + np.zeros(len(values))
    if TILT in names:
        true = true + values[:, names.index(TILT)]
    at = at[:, [i for i, name in enumerate(names) if name not in (TILT, PRESS)]]
    for column, dimension in enumerate(scattered.dimensions):
        if dimension.path == "cut.scale_offset_rad":
            true = true + values[:, column] - scattered.bowl.cut.scale_offset_rad
    low, high = (math.log(tilt) for tilt in tilts_rad)
    place = (np.log(np.maximum(true, 1e-4)) - (low + high) / 2) / ((high - low) / 2)
    # What limits a bowl changes along the tilt, from sinking to slipping: more than a quadratic follows.
    hats = [np.maximum(1 - np.abs(place - centre) / HAT, 0.0) for centre in np.arange(-1, 1 + HAT / 2, HAT)]
    more = [TILT_REACH * place, *hats]
    for column, dimension in enumerate(scattered.dimensions):
        if dimension.path == FRICTION:
            middle = math.tan(math.exp((low + high) / 2)) / max(scattered.bowl.use.friction, LEAST_FRICTION)
            steepness = np.tan(true) / np.maximum(values[:, column], LEAST_FRICTION)
            more.append(STEEPNESS_REACH * (steepness / middle - 1))
    return np.column_stack([at, *more])


def press_samples(
    scattered: Scattered,
    judge: JudgeBowls,
    *,
    tilts_rad: tuple[float, float],
    tilt_rad: Array,
    points: Array,
    before: PressedSamples | None = None,
) -> PressedSamples:
    """Press samples and lay the surface through them, and through those pressed before.

    Parameters
    ----------
    scattered : Scattered
        What differs from bowl to bowl.
    judge : JudgeBowls
        Presses them.
    tilts_rad : tuple[float, float]
        Interval of tilts the surface is for. [rad]
    tilt_rad : numpy.ndarray
        Tilt meant for each sample, shape (n,). [rad]
    points : numpy.ndarray
        Of the unit cube, shape (n, dimensions). [-]
    before : PressedSamples or None
        To go on from.

    Returns
    -------
    PressedSamples
        All of them.

    Raises
    ------
    OutsideModelError
        If too few of them found an equilibrium.
    """
    values = scattered.values(points)
    return _with(
        before, scattered, tilts_rad, tilt_rad, points, _pressed(scattered, judge, tilt_rad, values)
    )


def _pressed(
    scattered: Scattered, judge: JudgeBowls, tilt_rad: Array, values: Array
) -> list[DecidingNumbers | None]:
    """Judge samples as hard as they ask for, the press asked being told over the press as planned."""
    bowls = []
    for tilt, row in zip(tilt_rad, values, strict=True):
        (sawn,) = scattered.at_tilt(float(tilt)).bowls_at(row[None])
        bowls.append(replace(sawn, use=replace(sawn.use, press_N=REACH_N)))
    over = REACH_N / scattered.bowl.use.press_N
    return [None if n is None else replace(n, press_asked=over * n.press_asked) for n in judge(bowls)]


def _with(
    before: PressedSamples | None,
    scattered: Scattered,
    tilts_rad: tuple[float, float],
    tilt_rad: Array,
    points: Array,
    found: list[DecidingNumbers | None],
) -> PressedSamples:
    good = np.array([n is not None for n in found], dtype=bool)
    numbers = tuple(n for n in found if n is not None)
    tilt_rad, points, failed = tilt_rad[good], points[good], int((~good).sum())
    if before is not None:
        tilt_rad = np.concatenate([before.tilt_rad, tilt_rad])
        points = np.concatenate([before.points, points])
        numbers, failed = before.numbers + numbers, before.failed + failed
    if not numbers:
        message = "every bowl sawn lies outside the model; no chance can be given"
        raise OutsideModelError(message)
    features = _features(scattered, tilts_rad, tilt_rad, scattered.values(points))
    columns = smoothed(numbers)
    for column, instead in _MOOT.items():
        told = columns[:, SMOOTHED.index(column)]
        if np.isfinite(told).sum() < LEAST_PRESSES:
            told[:] = instead
    surface = surface_through(features, columns)
    return PressedSamples(scattered, tilts_rad, frozen(tilt_rad), frozen(points), numbers, failed, surface)


def emulated_chances(pressed: PressedSamples, tilt_rad: float, values: Array) -> tuple[Array, Array]:
    """Share of each state of samples at one tilt, by the surface.

    Parameters
    ----------
    pressed : PressedSamples
        With the surface.
    tilt_rad : float
        Tilt that is meant. [rad]
    values : numpy.ndarray
        Of the samples, shape (n, dimensions). [unit of each dimension]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        As :func:`predicted_shares`. [-]
    """
    at = _features(pressed.scattered, pressed.tilts_rad, np.array(tilt_rad), values)
    mean, sd = pressed.surface.predict(at)
    return predicted_shares(mean, sd, pressed.scattered.bowl.limits, pushes(pressed.scattered))


def chances_at(
    pressed: PressedSamples,
    judge: JudgeBowls,
    *,
    tilts_rad: Sequence[float],
    points: Array,
    seed: int,
    target_se: float,
    most_presses: int,
    progress: Callable[[int], None] | None = None,
) -> tuple[tuple[Chances, ...], PressedSamples]:
    """Chances at some tilts, samples being pressed there until the standard errors are small enough.

    Parameters
    ----------
    pressed : PressedSamples
        To start from.
    judge : JudgeBowls
        Presses more.
    tilts_rad : sequence of float
        Tilts that are meant. [rad]
    points : numpy.ndarray
        The samples, other ones than the surface was laid through, shape (n, dimensions). [-]
    seed : int
        Picks among them.
    target_se : float
        Standard error of locking to reach at each tilt. [-]
    most_presses : int
        Samples to press at one tilt at most.
    progress : callable or None
        Told how many samples have been pressed so far.

    Returns
    -------
    tuple[tuple[Chances, ...], PressedSamples]
        One for each tilt, and everything pressed.
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, 3]))
    values = pressed.scattered.values(points)
    batches: list[list[_Batch]] = [[] for _ in tilts_rad]
    count = 0
    while True:
        asked = []
        for k, tilt in enumerate(tilts_rad):
            done = sum(b.presses for b in batches[k])
            if done >= most_presses or (batches[k] and _together(batches[k])[1][-1] <= target_se):
                continue
            shares, doubt = emulated_chances(pressed, tilt, values)
            unsure = np.hypot(doubt, FLOOR)
            wanted = (float(unsure.mean()) / target_se) ** 2
            so_far = 0.0 if not batches[k] else 1 / float(_together(batches[k])[1][-1]) ** 2
            wanted *= max(1 - so_far * target_se**2, 0.1)
            size = min(max(math.ceil(wanted), LEAST_BATCH), most_presses - done)
            picked = rng.choice(len(values), size=size, p=unsure / unsure.sum())
            asked.append((k, tilt, shares, unsure, picked))
        if not asked:
            break
        tilt_rad = np.concatenate([np.full(len(a[-1]), a[1]) for a in asked])
        picked = np.concatenate([a[-1] for a in asked])
        there = values[picked]
        numbers = _pressed(pressed.scattered, judge, tilt_rad, there)
        count += len(numbers)
        if progress is not None:
            progress(count)
        start = 0
        for k, _tilt, shares, unsure, rows in asked:
            found = numbers[start : start + len(rows)]
            start += len(rows)
            batches[k].append(_batch(shares, unsure, rows, found, pressed.scattered))
        pressed = _with(pressed, pressed.scattered, pressed.tilts_rad, tilt_rad, points[picked], numbers)
    chances = []
    for tilt, found_there in zip(tilts_rad, batches, strict=True):
        chance, se = _together(found_there)
        chances.append(
            Chances(
                tilt_rad=float(tilt),
                chance=frozen(chance),
                se=frozen(se),
                presses=sum(b.presses for b in found_there),
                failed=sum(b.failed for b in found_there),
                reached=bool(se[-1] <= target_se),
            )
        )
    return tuple(chances), pressed


@dataclass(frozen=True, eq=False)
class _Batch:
    """What one batch says of the chances at one tilt, and how far that may be off."""

    chance: Array
    variance: Array
    presses: int
    failed: int


def _batch(
    shares: Array, unsure: Array, rows: IntArray, found: list[DecidingNumbers | None], scattered: Scattered
) -> _Batch:
    """The surface's mean with what the presses change, and its variance."""
    limits, there, chosen = scattered.bowl.limits, pushes(scattered), unsure / unsure.sum()
    terms = np.array(
        [
            (np.array(state_shares(n, limits, there)) - shares[i]) / (len(shares) * chosen[i])
            for i, n in zip(rows, found, strict=True)
            if n is not None
        ]
    ).reshape(-1, len(STATES))
    failed = len(rows) - len(terms)
    # What the surface itself expects of one press: its own doubt about each sample.
    doubt = np.sqrt(shares * (1 - shares) + FLOOR**2)
    doubt[:, -1] = unsure
    stated = np.mean(doubt**2 / (len(shares) * chosen[:, None]), axis=0)
    if len(terms) == 0:
        return _Batch(shares.mean(axis=0), np.ones(len(STATES)), 0, failed)
    seen = np.sum((terms - terms.mean(axis=0)) ** 2, axis=0)
    each = (BELIEF * stated + seen) / (BELIEF + len(terms) - 1)
    variance = each / len(terms) + shares.var(axis=0) / len(shares)
    return _Batch(shares.mean(axis=0) + terms.mean(axis=0), variance, len(terms), failed)


def _together(batches: list[_Batch]) -> tuple[Array, Array]:
    """Batches weighed by their presses: their own variances have errors of their own."""
    weight = np.array([max(b.presses, 1) for b in batches], dtype=np.float64)
    weight /= weight.sum()
    chance = sum(w * b.chance for w, b in zip(weight, batches, strict=True))
    variance = sum(w**2 * b.variance for w, b in zip(weight, batches, strict=True))
    return np.asarray(chance), np.sqrt(np.asarray(variance))
