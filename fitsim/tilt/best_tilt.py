"""The tilt to set: where the bowl locks, where it locks likeliest, and how likely.

First the bowl as planned is pressed at a row of tilts, and the ends of the range in which it locks are
closed in on. Then samples of the same bowl sawn again and again are pressed at tilts spread over the
range and a little beyond, and a surface is laid through them; it gives the chance of each state along the
tilt. The best tilt is the one in the range most likely to lock. At it, and at both ends, further samples
are pressed until each chance is known to three bowls in a hundred.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import deciding_numbers
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.ranges import corners, mattering, verdict_over_ranges
from fitsim.bowl.verdict import DecidingNumbers, Verdict
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.tilt.lock_chance import (
    Chances,
    JudgeBowls,
    PressedSamples,
    chances_at,
    emulated_chances,
    press_samples,
)
from fitsim.tilt.tilt_range import LEAST_TILT_RAD, TiltSpan, TiltSpans, greatest_tilt_rad, tilt_spans
from fitsim.tilt.widening import WideningChange, changes_that_open
from fitsim.tolerances.samples import Scattered, scattered, unit_cube

__all__ = ["MOSTLY", "TARGET_SE", "TiltAnswer", "TiltCurve", "chances_along_tilt", "tilt_answer"]

TARGET_SE = 0.03
"""Standard error aimed at, at the best tilt and at both ends: three bowls in a hundred. [-]"""

SAMPLES = 48
"""Samples pressed for the surface; about three for each of its dimensions."""

MOST_PRESSES = 96
"""Samples pressed at one tilt at most."""

CURVE_TILTS, CURVE_SAMPLES = 41, 1024
BEYOND_RANGE, WITHOUT_RANGE = 1.2, 1.4
"""How far the curve goes beyond the range, or to both sides of the nearest tilt where there is none."""

MOSTLY = 0.9
"""Share of bowls sawn again and again that lock from which on a tilt is told as good: our choice. [-]"""

LEAST_APART_RAD = math.radians(0.1)
"""Nearer to a tilt whose chance is known the chance is not looked for again: our choice. [rad]"""

SCALE_RAD = math.radians(0.1)
"""How finely the scale of a table can be set, as tilts are told: our choice. [rad]"""

ALIKE = TARGET_SE
"""Tilts whose chances differ by less than they are known to are alike; the middle of them is taken. [-]"""


@dataclass(frozen=True, eq=False)
class TiltCurve:
    """Chance of every state at a row of tilts, the same samples at each.

    Attributes
    ----------
    tilt_rad : numpy.ndarray
        Tilts, shape (n,). [rad]
    chance : numpy.ndarray
        Chance of every state in the order of :data:`fitsim.bowl.verdict.STATES`, shape (n, 5). [-]
    presses : int
        Samples pressed that the surface behind it was laid through.
    """

    tilt_rad: Array
    chance: Array
    presses: int

    def mostly_locks_rad(self, tilt_rad: float) -> tuple[float, float] | None:
        """Tilts round one from which to which at least :data:`MOSTLY` of the bowls lock.

        Parameters
        ----------
        tilt_rad : float
            One of them. [rad]

        Returns
        -------
        tuple[float, float] or None
            Ends, straight between two tilts of the curve and no further than it goes; None where fewer lock
            at that one itself. [rad]
        """
        at = int(np.searchsorted(self.tilt_rad, tilt_rad))
        tilts = np.insert(self.tilt_rad, at, tilt_rad)
        over = np.interp(tilts, self.tilt_rad, self.chance[:, -1]) - MOSTLY
        if over[at] < 0:
            return None

        def end_rad(step: int) -> float:
            i = at
            while 0 <= i + step < len(tilts) and over[i + step] >= 0:
                i += step
            if not 0 <= i + step < len(tilts):
                return float(tilts[i])
            return float(tilts[i] + (tilts[i + step] - tilts[i]) * over[i] / (over[i] - over[i + step]))

        return end_rad(-1), end_rad(1)


@dataclass(frozen=True, eq=False)
class TiltAnswer:
    """What a maker asks about the tilt of one bowl.

    Attributes
    ----------
    bowl : Bowl
        The bowl; its own tilt was not used.
    spans : TiltSpans
        Where it locks as planned.
    scattered : Scattered
        How the same bowl sawn again and again was taken to stray.
    curve : TiltCurve
        Chances along the tilt.
    best_tilt_rad : float
        Tilt with the best chance of locking, of those at which it locks as planned. [rad]
    at_best : Chances
        Chances there.
    at_ends : tuple[Chances, ...]
        Chances at both ends of the widest span; empty where there is none.
    verdict_at_best : Verdict or None
        Verdict there over the ends of all that is known as a range, as ``fit`` gives it; None where no
        equilibrium was found.
    changes : tuple[WideningChange, ...]
        Where there is no span: what would open one.
    presses : int
        Bowls judged for everything but the changes.
    seed : int
        Of the samples.
    """

    bowl: Bowl
    spans: TiltSpans
    scattered: Scattered
    curve: TiltCurve
    best_tilt_rad: float
    at_best: Chances
    at_ends: tuple[Chances, ...]
    verdict_at_best: Verdict | None
    changes: tuple[WideningChange, ...]
    presses: int
    seed: int

    @property
    def span(self) -> TiltSpan | None:
        """The widest span; None where no tilt locks."""
        return self.spans.spans[0] if self.spans.spans else None

    @property
    def failed(self) -> int:
        """Samples at the best tilt and at the ends that found no equilibrium and were left out."""
        return sum(c.failed for c in (self.at_best, *self.at_ends))


class _Counted:
    """A judge that counts, and says what it is asked for."""

    def __init__(self, judge: JudgeBowls, progress: Callable[[str], None] | None) -> None:
        self.judge, self.progress, self.presses = judge, progress, 0

    def say(self, what: str) -> None:
        """Say what is being worked on."""
        if self.progress is not None:
            self.progress(what)

    def __call__(self, bowls: Sequence[Bowl]) -> list[DecidingNumbers | None]:
        """Judge and count."""
        found = list(self.judge(bowls))
        self.presses += len(bowls)
        return found


def chances_along_tilt(
    pressed: PressedSamples, tilts_rad: Array, points: Array, known: Sequence[Chances] = ()
) -> TiltCurve:
    """Chance of every state at each of a row of tilts, by the surface.

    Parameters
    ----------
    pressed : PressedSamples
        With the surface.
    tilts_rad : numpy.ndarray
        Tilts, shape (n,). [rad]
    points : numpy.ndarray
        Samples, the same at every tilt, shape (m, dimensions). [-]
    known : sequence of Chances
        Chances the curve is to pass through; what they add to the surface is spread between them.

    Returns
    -------
    TiltCurve
        One row of chances a tilt.
    """
    values = pressed.scattered.values(points)

    def by_surface(tilt_rad: float) -> Array:
        return np.asarray(emulated_chances(pressed, tilt_rad, values)[0].mean(axis=0))

    rows = np.array([by_surface(float(tilt)) for tilt in tilts_rad])
    if known:
        there = sorted(known, key=lambda c: c.tilt_rad)
        added = np.array([c.chance - by_surface(c.tilt_rad) for c in there])
        at = [c.tilt_rad for c in there]
        rows = rows + np.column_stack([np.interp(tilts_rad, at, column) for column in added.T])
        rows = np.clip(rows, 0.0, 1.0)
        rows /= rows.sum(axis=1, keepdims=True)
    return TiltCurve(frozen(tilts_rad), frozen(rows), len(pressed.numbers))


def tilt_answer(
    bowl: Bowl,
    judge: JudgeBowls,
    *,
    judge_samples: JudgeBowls | None = None,
    judge_states: JudgeBowls | None = None,
    seed: int = 0,
    samples: int = SAMPLES,
    most_presses: int = MOST_PRESSES,
    target_se: float = TARGET_SE,
    progress: Callable[[str], None] | None = None,
    so_far: Callable[[TiltAnswer], None] | None = None,
) -> TiltAnswer:
    """Work out the range of tilts that lock, the best tilt, and the chances there and at both ends.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used, and one tilt serves the whole cut.
    judge : JudgeBowls
        Presses bowls with every input at one value.
    judge_samples : JudgeBowls or None
        Presses those sawn again and again, of which there are many; None: the same.
    judge_states : JudgeBowls or None
        Presses those of which only the state counts, while tilts that lock are looked for; None: the same.
    seed : int
        Of the samples.
    samples : int
        Samples pressed for the surface.
    most_presses : int
        Samples pressed at one tilt at most; fewer where the standard error is reached before.
    target_se : float
        Standard error of the chance of locking aimed at. [-]
    progress : callable or None
        Told in a few words what is being worked on.
    so_far : callable or None
        Given the answer without its changes, before they are looked for; only where nothing locks.

    Returns
    -------
    TiltAnswer
        With what would open a range where there is none.

    Raises
    ------
    OutsideModelError
        If too few bowls found an equilibrium, or too many inputs are ranges.
    """
    counted = _Counted(judge, progress)
    of_states = counted if judge_states is None else _Counted(judge_states, None)
    of_samples = counted if judge_samples is None else _Counted(judge_samples, None)
    counted.say("looking for the tilts at which it locks as planned")
    spans = tilt_spans(bowl, of_states)
    span = spans.spans[0] if spans.spans else None
    of = scattered(bowl)
    tilts = _interval_rad(bowl, spans)
    counted.say("pressing the bowl as it may be sawn, along the tilt")
    pressed = _pressed_along(of, of_samples, tilts, samples, seed)
    row = np.linspace(*tilts, CURVE_TILTS)
    # Other samples than those the surface was laid through.
    points = unit_cube(len(of.dimensions), CURVE_SAMPLES, seed=seed + 1_000_003)
    best = _best_tilt_rad(chances_along_tilt(pressed, row, points), span)
    best = _set_to_a_tenth_rad(best, span, scale_offset_rad=bowl.cut.scale_offset_rad)
    counted.say("pressing the bowl as it may be sawn, at the best tilt and at the ends")
    ends = () if span is None else (span.low.tilt_rad, span.high.tilt_rad)
    chances, pressed = chances_at(
        pressed,
        of_samples,
        tilts_rad=(best, *ends),
        points=points,
        seed=seed,
        target_se=target_se,
        most_presses=most_presses,
    )
    known = [*chances]
    mostly = chances_along_tilt(pressed, row, points, known).mostly_locks_rad(best)
    fresh = [t for t in mostly or () if min(abs(t - c.tilt_rad) for c in known) > LEAST_APART_RAD]
    if fresh:
        counted.say("pressing the bowl as it may be sawn, where nine in ten lock")
        more, pressed = chances_at(
            pressed,
            of_samples,
            tilts_rad=fresh,
            points=points,
            seed=seed + 1,
            target_se=target_se,
            most_presses=most_presses,
        )
        known += more
    counted.say("judging the best tilt at the ends of the ranges")
    verdict = _verdict(with_input(bowl, "cut.tilt_rad", best), counted)
    found = TiltAnswer(
        bowl=bowl,
        spans=spans,
        scattered=of,
        curve=chances_along_tilt(pressed, row, points, known),
        best_tilt_rad=best,
        at_best=chances[0],
        at_ends=chances[1:],
        verdict_at_best=verdict,
        changes=(),
        presses=sum(each.presses for each in {counted, of_samples, of_states}),
        seed=seed,
    )
    if span is not None:
        return found
    if so_far is not None:
        so_far(found)
    counted.say("looking for what would open a range")
    changes = changes_that_open(bowl, of_states, nearest_rad=spans.nearest_rad)
    return replace(found, changes=changes)


def _pressed_along(
    of: Scattered, judge: JudgeBowls, tilts_rad: tuple[float, float], samples: int, seed: int
) -> PressedSamples:
    """The samples that the surface is laid through, spread evenly over the logarithm of the tilt."""
    cube = unit_cube(len(of.dimensions) + 1, samples, seed=seed)
    low, high = np.log(tilts_rad)
    along = np.exp(low + (high - low) * cube[:, -1])
    return press_samples(of, judge, tilts_rad=tilts_rad, tilt_rad=along, points=cube[:, :-1])


def _interval_rad(bowl: Bowl, spans: TiltSpans) -> tuple[float, float]:
    """Tilts the surface is for: the widest span and a little beyond, or about the nearest tilt."""
    if spans.spans:
        low, high = spans.spans[0].low.tilt_rad, spans.spans[0].high.tilt_rad
        reach = BEYOND_RANGE
    else:
        low = high = spans.nearest_rad
        reach = WITHOUT_RANGE
    most = max(greatest_tilt_rad(bowl), high)
    return max(low / reach, LEAST_TILT_RAD), min(high * reach, 1.01 * most)


def _best_tilt_rad(curve: TiltCurve, span: TiltSpan | None) -> float:
    """Middle of the tilts whose chance of locking is as good as the best one's."""
    lock, tilt = curve.chance[:, -1], curve.tilt_rad
    allowed = np.ones(len(tilt), dtype=bool)
    if span is not None and any(map(span.holds, tilt.tolist())):
        allowed = np.array([span.holds(t) for t in tilt.tolist()])
    top = int(np.argmax(np.where(allowed, lock, -1.0)))
    alike = allowed & (lock >= lock[top] - ALIKE)
    low = high = top
    while low > 0 and alike[low - 1]:
        low -= 1
    while high < len(lock) - 1 and alike[high + 1]:
        high += 1
    return float(tilt[low] + tilt[high]) / 2


def _set_to_a_tenth_rad(tilt_rad: float, span: TiltSpan | None, *, scale_offset_rad: float) -> float:
    """The nearest tilt that a scale can be set to and at which the bowl locks; itself where there is none.

    A range may be narrower than what rounding moves a tilt by.
    """
    nearest = round((tilt_rad - scale_offset_rad) / SCALE_RAD)
    at = [scale_offset_rad + (nearest + step) * SCALE_RAD for step in (-1, 0, 1)]
    held = at if span is None else [set_rad for set_rad in at if span.holds(set_rad)]
    return min(held, key=lambda set_rad: abs(set_rad - tilt_rad), default=tilt_rad)


def _verdict(bowl: Bowl, judge: JudgeBowls) -> Verdict | None:
    """The verdict over the ends of the ranges, as ``fit`` gives it, all ends judged at once."""
    try:
        ranges = mattering(bowl, deciding_numbers)
    except OutsideModelError:
        return None
    ends = corners(bowl, ranges)
    numbers = dict(zip((bowl, *ends), judge([bowl, *ends]), strict=True))
    middle = numbers[bowl]
    if middle is None:
        return None

    def known(at: Bowl) -> DecidingNumbers:
        if at not in numbers:
            (numbers[at],) = judge([at])
        found = numbers[at]
        if found is None:
            raise NoConvergenceError("no equilibrium was found at this end of the ranges")
        return found

    return verdict_over_ranges(bowl, middle, known, ranges=ranges, may_miss=True)
