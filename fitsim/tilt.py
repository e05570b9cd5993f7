"""The tilt to set: where the bowl locks, where it locks likeliest, and how likely.

Chances along the tilt are worked out on the same imperfect bowls at every tilt, so that their
differences are steadier than the chances themselves; the chance at the best tilt is then worked out
afresh on other bowls, because the best of several noisy chances flatters.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl, Scatter
from fitsim.calibration import LEAST_PRESSES, Calibration, calibrated, calibration
from fitsim.chance import (
    REPLICATES,
    Chances,
    corrected_chances,
    plain_chances,
    sampled_chances,
    sawn_outcome,
)
from fitsim.cut import frozen
from fitsim.imperfect import Imperfections, imperfections
from fitsim.opening import Change, changes_that_open
from fitsim.tiltrange import (
    LEAST_TILT_RAD,
    Numbers,
    TiltRanges,
    TiltSpan,
    greatest_tilt_rad,
    refined_span,
    tilt_ranges,
)

__all__ = [
    "ELASTIC_SOLVES",
    "ELASTIC_TOLERANCE_RAD",
    "TARGET_SE",
    "TiltAnswer",
    "TiltCurve",
    "chances_along_tilt",
    "tilt_answer",
]

TARGET_SE, ELASTIC_TARGET_SE = 0.01, 0.03
"""Standard errors aimed at: one bowl in a hundred, and three where each costly sample takes seconds."""

ELASTIC_TOLERANCE_RAD = float(np.radians(0.05))
CURVE_TILTS = 17
CURVE_SAMPLES = 128
FINE_TILTS = 5
ELASTIC_SOLVES = 48
"""Springy solves in all: a quarter for the curve, a third for the chance, the rest for the two ends."""

WITHOUT_RANGE_RAD = float(np.radians(15.0))


@dataclass(frozen=True, eq=False)
class TiltCurve:
    """Chance of every state at a row of tilts, the same imperfect bowls at each.

    Attributes
    ----------
    tilt_rad : numpy.ndarray
        Tilts, shape (n,). [rad]
    chance : numpy.ndarray
        Chance of every state in the order of :data:`fitsim.verdict.STATES`, shape (n, 5). [-]
    samples : int
        Bowls at each tilt.
    """

    tilt_rad: Array
    chance: Array
    samples: int


@dataclass(frozen=True, eq=False)
class TiltAnswer:
    """What a maker asks about the tilt of one bowl.

    Attributes
    ----------
    bowl : Bowl
        The bowl; its own tilt was not used.
    ranges : TiltRanges
        By the closed form.
    span : TiltSpan or None
        The widest safe span, its ends by the best model at hand; None: there is none.
    elastic_solves : int
        How often the springy model was worked out for the ends of the span.
    curve : TiltCurve
        Chances along the tilt: by the closed form, brought to the springy strip where that is at hand.
    calibration : Calibration or None
        What brought it there; None: the closed form as it is.
    best_tilt_rad : float
        Tilt with the best chance of locking. [rad]
    at_best, at_best_cheap : Chances
        Chances there, by the best model at hand and by the closed form alone.
    changes : tuple[Change, ...]
        Where there is no safe span: what would open one.
    scatter : Scatter
        How far cuts were taken to stray.
    springy : bool
        Whether a springy model was at hand.
    enough : bool
        Whether the springy solves allowed were enough to find both ends as closely as asked.
    seed : int
        Of the samples.
    """

    bowl: Bowl
    ranges: TiltRanges
    span: TiltSpan | None
    elastic_solves: int
    curve: TiltCurve
    calibration: Calibration | None
    best_tilt_rad: float
    at_best: Chances
    at_best_cheap: Chances
    changes: tuple[Change, ...]
    scatter: Scatter
    springy: bool
    enough: bool
    seed: int


def chances_along_tilt(
    imperfect: Imperfections, numbers: Numbers, tilts_rad: Array, *, samples: int, seed: int
) -> TiltCurve:
    """Chance of every state at each of a row of tilts.

    Parameters
    ----------
    imperfect : Imperfections
        What differs from bowl to bowl.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.
    tilts_rad : numpy.ndarray
        Tilts, shape (n,). [rad]
    samples : int
        Bowls at each tilt, a multiple of 16.
    seed : int
        Of the samples.

    Returns
    -------
    TiltCurve
        One row of chances a tilt.
    """
    rows = [
        plain_chances(
            sawn_outcome(imperfect, numbers, tilt_rad=float(tilt)),
            imperfect.dimensions,
            seed=seed,
            samples=samples,
        )
        for tilt in tilts_rad
    ]
    return TiltCurve(frozen(tilts_rad), frozen(np.array(rows)), samples)


def tilt_answer(
    bowl: Bowl,
    numbers: Numbers,
    *,
    elastic: Numbers | None = None,
    elastic_solves: int = ELASTIC_SOLVES,
    seed: int = 0,
    most_samples: int = 4096,
    curve_samples: int = CURVE_SAMPLES,
    tell: Callable[[str], None] | None = None,
) -> TiltAnswer:
    """Work out the safe range of tilts, the best tilt, and the chance of locking there.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used, and one tilt serves the whole cut.
    numbers : callable
        The closed form: deciding numbers of a bowl with every input at one value.
    elastic : callable or None
        The springy model, some seconds a bowl; None: the closed form alone.
    elastic_solves : int
        How often the springy model may be worked out.
    seed : int
        Of the samples.
    most_samples : int
        Bowls at the best tilt at most; fewer where the standard error is reached before.
    curve_samples : int
        Bowls at each tilt of the curve, a multiple of 16.
    tell : callable or None
        Told in a few words what is being worked on.

    Returns
    -------
    TiltAnswer
        With what would open a range where there is none.

    Raises
    ------
    OutsideModelError
        If too many inputs are ranges, or the kerf wanders over too short a length.
    """
    say = tell or (lambda _line: None)
    say("the ends of the range")
    ranges = tilt_ranges(bowl, numbers)
    along, for_chance = elastic_solves // 4, elastic_solves // 3
    imperfect = imperfections(bowl, scatter=_scatter_left(bowl))
    tilts = _curve_tilts_rad(bowl, ranges)
    by = _calibration(imperfect, numbers, elastic, ranges, tilts, presses=along, seed=seed, say=say)
    guide = numbers if by is None else calibrated(numbers, by)
    say("the ends on the springy strip" if elastic else "the ends")
    span, solves, enough = _ends(bowl, ranges, numbers, elastic, elastic_solves - along - for_chance)
    say("chances along the tilt")
    curve = chances_along_tilt(imperfect, guide, tilts, samples=curve_samples, seed=seed)
    best = _best_tilt_rad(imperfect, guide, curve, seed=seed)
    say("the chance at the best tilt")
    draws = {"seed": seed, "most_samples": most_samples}
    at_best = _at_tilt(imperfect, guide, elastic, best, most_costly=for_chance, **draws)
    alone = at_best if elastic is None else _at_tilt(imperfect, numbers, None, best, most_costly=0, **draws)
    if not ranges.safe:
        say("what would open a range")
    return TiltAnswer(
        bowl=bowl,
        ranges=ranges,
        span=span,
        elastic_solves=solves,
        curve=curve,
        calibration=by,
        best_tilt_rad=best,
        at_best=at_best,
        at_best_cheap=alone,
        changes=() if ranges.safe else changes_that_open(bowl, numbers),
        scatter=imperfect.scatter,
        springy=elastic is not None,
        enough=enough,
        seed=seed,
    )


def _calibration(
    imperfect: Imperfections,
    numbers: Numbers,
    elastic: Numbers | None,
    ranges: TiltRanges,
    tilts_rad: Array,
    *,
    presses: int,
    seed: int,
    say: Callable[[str], None],
) -> Calibration | None:
    """What the springy strip adds along the tilts at which the closed form has some hope."""
    if elastic is None or presses < LEAST_PRESSES:
        return None
    low, high = float(tilts_rad[0]), float(tilts_rad[-1])
    if ranges.safe:
        low = max(low, 0.8 * min(s.low.tilt_rad for s in ranges.safe))
        high = min(high, 1.1 * max(s.high.tilt_rad for s in ranges.safe))
    return calibration(
        imperfect,
        numbers,
        elastic,
        tilts_rad=(low, high),
        presses=presses,
        seed=seed,
        tell=lambda i: say(f"the springy strip along the tilt, {i} of {presses}"),
    )


def _ends(
    bowl: Bowl, ranges: TiltRanges, numbers: Numbers, elastic: Numbers | None, most_solves: int
) -> tuple[TiltSpan | None, int, bool]:
    """The widest span by the best model at hand, the springy solves it took, whether they sufficed."""
    if not ranges.safe or elastic is None or most_solves < 2:
        return (ranges.safe[0] if ranges.safe else None), 0, True
    return refined_span(
        bowl,
        ranges.safe[0],
        numbers,
        elastic,
        tolerance_rad=ELASTIC_TOLERANCE_RAD,
        most_solves=most_solves,
    )


def _scatter_left(bowl: Bowl) -> Scatter:
    """The bowl's scatter; a saw file's range of the scale's error holds the setting error already."""
    if any(u.path == "cut.scale_offset_rad" for u in bowl.uncertain):
        kept = tuple(a for a in bowl.scatter.assumptions if a.key != "scatter.tilt")
        return replace(bowl.scatter, tilt_rad=0.0, assumptions=kept)
    return bowl.scatter


def _at_tilt(
    imperfect: Imperfections,
    guide: Numbers,
    elastic: Numbers | None,
    tilt_rad: float,
    *,
    seed: int,
    most_samples: int,
    most_costly: int,
) -> Chances:
    """Chances at one tilt by the best model at hand, many bowls judged by the guide."""
    cheap = sawn_outcome(imperfect, guide, tilt_rad=tilt_rad)
    fresh = seed + 1_000_003  # other bowls than those that chose the tilt
    if elastic is None or most_costly < 1:
        return sampled_chances(
            cheap, imperfect.dimensions, seed=fresh, target_se=TARGET_SE, most_samples=most_samples
        )
    found, _guided = corrected_chances(
        cheap,
        sawn_outcome(imperfect, elastic, tilt_rad=tilt_rad),
        imperfect.dimensions,
        seed=fresh,
        target_se=ELASTIC_TARGET_SE,
        most_samples=most_samples,
        most_costly=most_costly,
    )
    return found


def _curve_tilts_rad(bowl: Bowl, ranges: TiltRanges) -> Array:
    """Even tilts from half the least tilt that may lock to a little beyond the greatest."""
    least, most = LEAST_TILT_RAD, greatest_tilt_rad(bowl)
    if not ranges.hopeful:
        return np.linspace(max(least, np.radians(1.0)), min(most, WITHOUT_RANGE_RAD), CURVE_TILTS)
    low = min(s.low.tilt_rad for s in ranges.hopeful)
    high = max(s.high.tilt_rad for s in ranges.hopeful)
    if ranges.safe:  # what lies far beyond the safe range is seen coarsely enough without the rest
        high = min(high, 2 * max(s.high.tilt_rad for s in ranges.safe))
    return np.linspace(max(0.5 * low, least), min(1.15 * high, most), CURVE_TILTS)


def _best_tilt_rad(imperfect: Imperfections, numbers: Numbers, curve: TiltCurve, *, seed: int) -> float:
    """Middle of the tilts whose chance of locking cannot be told from the best one's."""
    tilt, step = curve.tilt_rad, float(curve.tilt_rad[1] - curve.tilt_rad[0])
    middle = _middle_of_best(curve)
    fine = np.clip(middle + step * np.linspace(-1, 1, FINE_TILTS), float(tilt[0]), float(tilt[-1]))
    return _middle_of_best(
        chances_along_tilt(imperfect, numbers, fine, samples=curve.samples, seed=seed + 1)
    )


def _middle_of_best(curve: TiltCurve) -> float:
    lock = curve.chance[:, -1]
    top = int(np.argmax(lock))
    # The bowls are the same at every tilt: what differs between alike tilts is one bowl or two.
    alike = lock >= lock[top] - 1.5 / max(curve.samples, REPLICATES)
    low = high = top
    while low > 0 and alike[low - 1]:
        low -= 1
    while high < len(lock) - 1 and alike[high + 1]:
        high += 1
    return float(curve.tilt_rad[low] + curve.tilt_rad[high]) / 2
