"""The closed form brought to the springy strip by a few presses.

Along the tilt thousands of imperfect bowls are judged, and the strip takes seconds for each. A few of
them, spread over the tilts, are worked out by both; what the strip adds is fitted by least squares, held
small where few presses speak for it (a ridge: A. E. Hoerl and R. W. Kennard, Technometrics 12 (1970),
from memory), and added to the closed form of all. Overlap is corrected as it is, friction used by its
logarithm, the chance of splitting by the logarithm of its odds.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl
from fitsim.cut import frozen
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.imperfect import Imperfections, bowls_sawn
from fitsim.tiltrange import Numbers
from fitsim.verdict import DecidingNumbers

__all__ = ["LEAST_PRESSES", "Calibration", "calibrated", "calibration"]

LEAST_PRESSES = 6
"""With fewer presses that found an answer nothing is corrected."""

RIDGE = 0.5
"""Presses' worth of belief that a correction does not change along the tilt or with the number itself."""

MOST_LOG_HOLD, MOST_LOG_ODDS = 2.0, 9.0


@dataclass(frozen=True, eq=False)
class Calibration:
    """What the springy strip adds to the closed form, for bowls like those pressed.

    Attributes
    ----------
    middle, half : numpy.ndarray
        Middle and half spread of tilt [rad], overlap, log of friction used and log odds of splitting by the
        closed form over the bowls pressed, shape (4,).
    added : numpy.ndarray
        For overlap, log hold and log odds: constant, per half spread of tilt, of its square, and of the
        number itself, shape (3, 4). [-]
    left : numpy.ndarray
        Standard deviations that remain, shape (3,). [-]
    presses, failed : int
        Bowls pressed, and how many of them found no answer.
    """

    middle: Array
    half: Array
    added: Array
    left: Array
    presses: int
    failed: int


def calibration(
    imperfect: Imperfections,
    cheap: Numbers,
    costly: Numbers,
    *,
    tilts_rad: tuple[float, float],
    presses: int,
    seed: int,
    tell: Callable[[int], None] | None = None,
) -> Calibration | None:
    """Press imperfect bowls at tilts spread over an interval and fit what the strip adds.

    Parameters
    ----------
    imperfect : Imperfections
        What differs from bowl to bowl.
    cheap, costly : callable
        Work out the deciding numbers of a bowl with every input at one value.
    tilts_rad : tuple of float
        Interval the tilts are spread over. [rad]
    presses : int
        Bowls to press.
    seed : int
        The same seed gives the same bowls.
    tell : callable, optional
        Called with the number of each press.

    Returns
    -------
    Calibration or None
        None where too few presses found an answer.
    """
    from scipy.stats import qmc

    rng = np.random.default_rng(np.random.SeedSequence([seed, 2]))
    leading = min(imperfect.dimensions, 64)
    points = rng.random((presses, imperfect.dimensions))
    points[:, :leading] = qmc.LatinHypercube(d=leading, rng=rng).random(presses)
    low, high = tilts_rad
    tilts = low + (high - low) * (np.arange(presses) + 0.5) / presses
    before, after, at = [], [], []
    for i, tilt in enumerate(tilts.tolist()):
        if tell is not None:
            tell(i + 1)
        (bowl,) = bowls_sawn(imperfect, points[i : i + 1], tilt_rad=tilt)
        try:
            pair = _judged(cheap(bowl)), _judged(costly(bowl))
        except (NoConvergenceError, OutsideModelError):
            continue
        before.append(pair[0])
        after.append(pair[1])
        at.append(_tilt_rad(bowl))
    if len(at) < LEAST_PRESSES:
        return None
    return _fitted(np.array(at), np.array(before), np.array(after), presses)


def _judged(numbers: DecidingNumbers) -> tuple[float, float, float]:
    """Overlap, logarithm of friction used, log odds of splitting; nan where there is none."""
    hold, chance = numbers.friction_used, numbers.split_chance
    log_hold = min(float(np.log(max(hold, 1e-3))), MOST_LOG_HOLD) if hold == hold else np.nan
    inside = min(max(chance, 1e-12), 1 - 1e-12)
    odds = float(np.log(inside / (1 - inside)))
    overlap = max(-1.0, min(1.0, numbers.overlap))
    return overlap, log_hold, max(-MOST_LOG_ODDS, min(MOST_LOG_ODDS, odds))


def _tilt_rad(bowl: Bowl) -> float:
    return float(np.mean(bowl.cut.tilt_rad))


def _fitted(tilt: Array, before: Array, after: Array, presses: int) -> Calibration:
    seen = np.column_stack([tilt, before])
    middle = np.nanmean(seen, axis=0)
    half = np.maximum(np.nanstd(seen, axis=0), 1e-6)
    added, left = np.zeros((3, 4)), np.zeros(3)
    for k in range(3):
        good = np.isfinite(before[:, k]) & np.isfinite(after[:, k])
        if good.sum() < LEAST_PRESSES:
            continue
        X = _features((seen[good] - middle) / half, k)
        change = after[good, k] - before[good, k]
        hold_back = np.diag([0.0, RIDGE, RIDGE, RIDGE])
        added[k] = np.linalg.solve(X.T @ X + hold_back, X.T @ change)
        left[k] = float(np.std(change - X @ added[k]))
    return Calibration(
        frozen(middle), frozen(half), frozen(added), frozen(left), presses, presses - len(tilt)
    )


def _features(scaled: Array, number: int) -> Array:
    """Constant, tilt, its square and the number itself, held to what was pressed, shape (n, 4)."""
    held = np.clip(scaled, -2.0, 2.0)
    x = held[:, 0]
    return np.column_stack([np.ones_like(x), x, x**2 - 1, held[:, number + 1]])


def calibrated(numbers: Numbers, by: Calibration) -> Numbers:
    """The closed form with what the springy strip adds.

    Parameters
    ----------
    numbers : callable
        The closed form.
    by : Calibration
        From :func:`calibration`.

    Returns
    -------
    callable
        Deciding numbers of a bowl with every input at one value; the slot left is not changed.
    """

    def brought(bowl: Bowl) -> DecidingNumbers:
        plain = numbers(bowl)
        judged = np.array(_judged(plain))
        scaled = (np.array([_tilt_rad(bowl), *judged]) - by.middle) / by.half
        add = [float((_features(np.nan_to_num(scaled)[None], k) @ by.added[k])[0]) for k in range(3)]
        odds = np.exp(-(judged[2] + add[2]))
        return replace(
            plain,
            overlap=plain.overlap + add[0],
            friction_used=plain.friction_used * float(np.exp(add[1])),
            split_chance=float(1 / (1 + odds)),
        )

    return brought
