"""Test cuts: from the drops of scrap rings to the kerf and the tilt offset of a saw.

A ring at scale tilt s sinks h = k/sin(s + offset). One ring gives one number for two unknowns; rings at
different tilts, a slot measured with a feeler gauge or a tilt measured with a bevel gauge tell them apart.
What is known is the posterior of kerf and offset under stated reading errors and two weak beliefs (how
far a scale is off, how wide kerfs are), summed on a grid laid over its own spread, with no straight line
put in for the curve. A ring that fell through says that its drop was the thickness or more, and counts as
the chance of that.
"""

import contextlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import InputError, NoConvergenceError, Problem
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.likelihood import LEAST_TILT_RAD, ReadingLikelihood, likelihoods_of
from fitsim.saw.measurements import WITHIN_SDS, Before, ScrapCuts

__all__ = [
    "MISFIT_CHANCE",
    "Misfit",
    "SawEstimate",
    "estimate_saw",
    "refuse_misfit",
]

MISFIT_CHANCE = 0.01
"""Readings that honest cuts would give more rarely than this are refused: our choice."""


GRID_PASSES = 20
"""How often the grid is laid anew before the readings count as too open; three or four do."""

GRID_SDS, GRID_CELLS = 6.0, 49
"""How far the grid reaches to each side, in standard deviations, and its cells along each axis."""

UNLIKE_SDS = 3.0
"""A reading this many standard deviations beyond what any saw gives is named as such: our choice."""

GREATEST_OFFSET_RAD = math.radians(20.0)
"""No table's scale is further off; beyond it the search for the best kerf and offset stops."""


@dataclass(frozen=True, eq=False)
class _Closest:
    """Kerf and offset with the least sum of squares."""

    kerf_mm: float
    offset_rad: float
    chi_square: float
    counted: int
    covariance: Array


def _closest(
    readings: tuple[ReadingLikelihood, ...], before: Before, start_mm: float, *, scale: bool = True
) -> _Closest:
    """Least squares, the scatter taken where the last pass ended; without the belief if not ``scale``."""
    at = np.array([np.clip(start_mm, before.kerf_low_mm, before.kerf_high_mm), 0.0])
    scale_sd = before.scale_sd_rad if scale else 1e9
    off, jacobian = np.zeros(0), np.zeros((0, 2))
    for _ in range(4):
        sds = [float(r.sd(*at)) for r in readings]

        def misfits(at: Array, sds: list[float] = sds) -> tuple[Array, Array]:
            return _misfits(readings, sds, scale_sd, at)

        at, off, jacobian = _descend(misfits, at, before)
    idle = sum(1 for r, value in zip(readings, off, strict=False) if r.at_least and value == 0)
    return _Closest(
        kerf_mm=float(at[0]),
        offset_rad=float(at[1]),
        chi_square=float(off @ off),
        counted=len(readings) - idle + (1 if scale else 0),
        covariance=np.asarray(np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64),
    )


def _misfits(
    readings: tuple[ReadingLikelihood, ...], sds: list[float], scale_sd_rad: float, at: Array
) -> tuple[Array, Array]:
    """Misfits at kerf and offset, and their slopes by central differences."""
    step = 1e-6
    kerf = at[0] + step * np.array([0, 1, -1, 0, 0])
    offset = at[1] + step * np.array([0, 0, 0, 1, -1])
    rows = [r.misfit(kerf, offset, sd) for r, sd in zip(readings, sds, strict=True)]
    every = np.array([*rows, offset / scale_sd_rad])
    slopes = (every[:, [1, 3]] - every[:, [2, 4]]) / (2 * step)
    return every[:, 0], slopes


def _descend(
    misfits: Callable[[Array], tuple[Array, Array]], at: Array, before: Before
) -> tuple[Array, Array, Array]:
    """Damped Gauss-Newton steps inside the kerf's limits: place, misfits and slopes at the end."""
    low = np.array([before.kerf_low_mm, -GREATEST_OFFSET_RAD])
    high = np.array([before.kerf_high_mm, GREATEST_OFFSET_RAD])
    damping = 1e-3
    off, slopes = misfits(at)
    for _ in range(200):
        normal = slopes.T @ slopes
        damped = normal + np.diag(damping * np.diag(normal) + 1e-12)
        down = slopes.T @ off
        free = ((at > low) | (down < 0)) & ((at < high) | (down > 0))  # a limit pressed against holds still
        step = np.zeros(2)
        step[free] = np.linalg.solve(damped[np.ix_(free, free)], down[free])
        tried = np.clip(at - step, low, high)
        new_off, new_slopes = misfits(tried)
        arrived = float(np.abs(tried - at).max()) < 1e-10  # mm and rad: far below any reading
        # Readings far apart leave a large sum, whose rounding hides steps a little longer than that.
        arrived |= abs(float(new_off @ new_off - off @ off)) <= 1e-14 * float(off @ off)
        if new_off @ new_off > off @ off:
            damping *= 8
            if arrived:
                break
            continue
        at, off, slopes, damping = tried, new_off, new_slopes, damping / 8
        if arrived:
            break
    else:
        message = "the search for the closest kerf and offset did not arrive; check the readings' units"
        raise NoConvergenceError(message)
    return at, off, slopes


def _log_posterior(
    readings: tuple[ReadingLikelihood, ...], cuts: ScrapCuts, kerf: Array, offset: Array
) -> Array:
    from scipy.special import log_ndtr

    before = cuts.before
    total = -0.5 * (offset / before.scale_sd_rad) ** 2
    for r in readings:
        sd = r.sd(kerf, offset)
        off = (r.seen - r.expected(kerf, offset)) / sd
        total = total + (log_ndtr(-off) if r.at_least else -0.5 * off**2 - np.log(sd))
    possible = (kerf >= before.kerf_low_mm) & (kerf <= before.kerf_high_mm)
    for ring in cuts.rings:
        if ring.drop_mm is not None:
            possible &= ring.scale_tilt_rad + offset > LEAST_TILT_RAD
    return np.where(possible, total, -np.inf)


def _integrated(
    readings: tuple[ReadingLikelihood, ...], cuts: ScrapCuts, start: _Closest
) -> tuple[Array, Array]:
    """Mean and covariance of kerf and offset, on a grid that follows its own result.

    Each node is the middle of its cell, and the cells end where a kerf's limit lies: a node more or less
    inside it would move the sum in steps, and it would not settle.
    """
    before = cuts.before
    mean, covariance = np.array([start.kerf_mm, start.offset_rad]), start.covariance
    for _ in range(GRID_PASSES):
        try:
            lower = np.linalg.cholesky(covariance)
        except np.linalg.LinAlgError:  # the sum has shrunk to one point of the grid
            break
        low = max((before.kerf_low_mm - mean[0]) / lower[0, 0], -GRID_SDS)
        high = min((before.kerf_high_mm - mean[0]) / lower[0, 0], GRID_SDS)
        first, second = np.meshgrid(_middles(low, high), _middles(-GRID_SDS, GRID_SDS), indexing="ij")
        kerf = mean[0] + lower[0, 0] * first
        offset = mean[1] + lower[1, 0] * first + lower[1, 1] * second
        chance = _log_posterior(readings, cuts, kerf, offset)
        if not np.isfinite(chance.max()):  # nothing of the grid is possible
            break
        chance = np.exp(chance - chance.max())
        chance /= chance.sum()
        step = np.array([(chance * first).sum(), (chance * second).sum()])
        off = np.stack([first - step[0], second - step[1]])
        spread = np.einsum("ij,aij,bij->ab", chance, off, off)
        mean, covariance = mean + lower @ step, lower @ spread @ lower.T
        if np.abs(step).max() < 0.01 and np.abs(spread - np.eye(2)).max() < 0.02:
            return mean, covariance
    message = (
        "the test cuts leave kerf and tilt too open to be summed up; measure another ring or a slot, and "
        "check what is written as within"
    )
    raise NoConvergenceError(message)


def _middles(low: float, high: float) -> Array:
    """Middles of the grid's cells between two ends."""
    return low + (high - low) * (np.arange(GRID_CELLS) + 0.5) / GRID_CELLS


@dataclass(frozen=True)
class Misfit:
    """Whether the readings can all be right.

    Attributes
    ----------
    chi_square : float
        Sum of squared misfits in standard deviations, the belief about the scale among them. [-]
    freedom : int
        Degrees of freedom.
    chance : float
        Of so much or more among honest readings. [-]
    doubtful : tuple[str, ...]
        Readings ("ring 2", "scale") whose leaving out mends most; empty while the chance is fair.
    expected : float
        What the others make of the first of them, in mm or rad; nan where that says nothing. [mm or rad]
    """

    chi_square: float
    freedom: int
    chance: float
    doubtful: tuple[str, ...]
    expected: float


@dataclass(frozen=True)
class SawEstimate:
    """What the test cuts say about a saw.

    Attributes
    ----------
    saw : Saw
        Kerf and offset with their uncertainty.
    misfit : Misfit
        Whether the readings agree; see :func:`refuse_misfit`.
    cuts : ScrapCuts
        What was measured.
    """

    saw: Saw
    misfit: Misfit
    cuts: ScrapCuts


def estimate_saw(cuts: ScrapCuts, *, where: str = "") -> SawEstimate:
    """Work out kerf and tilt offset from test cuts.

    Parameters
    ----------
    cuts : ScrapCuts
        At least one ring that bound, or one slot.
    where : str
        File name for the error messages.

    Returns
    -------
    SawEstimate
        The saw, and whether the readings agree; readings that do not are still summed up where that can
        be done.

    Raises
    ------
    InputError
        If nothing tells the kerf, the readings agree on one beyond its limits, or they are too far apart
        to be summed up.
    NoConvergenceError
        If the readings agree and leave it too open to be summed up.
    """
    starts = [
        *(slot.width_mm for slot in cuts.slots),
        *(r.drop_mm * math.sin(r.scale_tilt_rad) for r in cuts.rings if r.drop_mm is not None),
    ]
    if not starts:
        expected = "a ring that bound, or a slot by feeler gauge"
        remedy = "cut a ring at more tilt and measure its drop"
        raise InputError(Problem(where, "ring", "", expected, remedy))
    readings = likelihoods_of(cuts)
    _refuse_unlike_a_saw(readings, cuts, where)
    start_mm = float(np.mean(starts))
    try:
        closest = _closest(readings, cuts.before, start_mm)
    except NoConvergenceError:
        names = ", ".join(r.label for r in readings)
        expected = "readings that one kerf and one lean of the scale could give; no such pair was found"
        remedy = "check their units, and measure again the one you trust least"
        raise InputError(Problem(where, names, "", expected, remedy)) from None
    misfit = _misfit(readings, cuts.before, closest, start_mm)
    if _agree_beyond_limit(readings, cuts.before, closest, start_mm):
        _refuse_kerf(", ".join(r.label for r in readings if r.unit == "mm"), "", cuts, where)
    try:
        mean, covariance = _integrated(readings, cuts, closest)
    except NoConvergenceError as error:
        _refuse(misfit, cuts, where)  # readings far apart leave no one hill to sum over
        raise NoConvergenceError(f"{where}: {error}" if where else str(error)) from None
    sds = np.sqrt(np.diag(covariance))
    saw = Saw(
        name=cuts.name,
        kerf_mm=float(mean[0]),
        kerf_sd_mm=float(sds[0]),
        tilt_offset_rad=float(mean[1]),
        tilt_offset_sd_rad=float(sds[1]),
        correlation=float(covariance[0, 1] / (sds[0] * sds[1])),
        kerf_varies_sd_mm=cuts.before.kerf_varies_sd_mm,
        tilt_repeats_sd_rad=cuts.before.tilt_repeats_sd_rad,
        rings=len(cuts.rings),
        slots=len(cuts.slots),
        gauges=len(cuts.gauges),
        date=cuts.date,
    )
    return SawEstimate(saw, misfit, cuts)


def _refuse_unlike_a_saw(readings: tuple[ReadingLikelihood, ...], cuts: ScrapCuts, where: str) -> None:
    """Name a reading that no saw could give, whichever kerf it has and however far its scale is off."""
    before, off_sd = cuts.before, UNLIKE_SDS * cuts.before.scale_sd_rad
    kerf, offset = np.meshgrid([before.kerf_low_mm, before.kerf_high_mm], [-off_sd, 0.0, off_sd])
    for r in readings:
        off = (
            r.misfit(kerf, offset, r.sd(kerf, offset)) if r.unit == "mm" and not r.at_least else np.zeros(1)
        )
        if off.min() > UNLIKE_SDS or off.max() < -UNLIKE_SDS:
            _refuse_kerf(r.label, _as_read(cuts, r.label), cuts, where)


def _refuse_kerf(labels: str, shown: str, cuts: ScrapCuts, where: str) -> None:
    low, high = cuts.before.kerf_low_mm, cuts.before.kerf_high_mm
    expected = f"a kerf that a saw can cut, {low:g} mm to {high:g} mm (kerf_limits under [saw])"
    remedy = (
        "measure it again and check its unit; if the blade really is like that, write other kerf_limits"
    )
    raise InputError(Problem(where, labels, shown, expected, remedy))


def _agree_beyond_limit(
    readings: tuple[ReadingLikelihood, ...], before: Before, closest: _Closest, start_mm: float
) -> bool:
    """Whether the readings agree on a kerf beyond a limit, by more than honest ones would.

    A kerf held at a limit fits nothing, so one degree of freedom more is left to the misfit. Whether they
    agree is asked of any kerf: held at a limit readings that are all alike would seem to disagree.
    """
    held = not before.kerf_low_mm < closest.kerf_mm < before.kerf_high_mm
    if not held or _chance_of(closest.chi_square, closest.counted - 1) >= MISFIT_CHANCE:
        return False
    anyhow = replace(before, kerf_low_mm=0.0, kerf_high_mm=math.inf)
    try:
        free = _closest(readings, anyhow, start_mm)
    except NoConvergenceError:
        return False
    return _chance_of(free.chi_square, free.counted - 2) >= MISFIT_CHANCE


def _chance_of(chi_square: float, freedom: int) -> float:
    from scipy.special import gammaincc

    return float(gammaincc(freedom / 2, chi_square / 2)) if freedom > 0 else 1.0


def _misfit(
    readings: tuple[ReadingLikelihood, ...], before: Before, closest: _Closest, start_mm: float
) -> Misfit:
    """Chi-square test; where it fails, what mends it most when left out."""
    freedom = closest.counted - 2
    chance = _chance_of(closest.chi_square, freedom)
    if chance >= MISFIT_CHANCE:
        return Misfit(closest.chi_square, freedom, chance, (), math.nan)
    without = _without_each(readings, before, start_mm)
    if not without:
        every = tuple(r.label for r in readings)
        return Misfit(closest.chi_square, freedom, chance, every, math.nan)
    gain = {label: closest.chi_square - found.chi_square for label, found in without.items()}
    best = max(gain.values())
    doubtful = tuple(sorted((n for n, g in gain.items() if g > 0.85 * best), key=lambda n: -gain[n]))
    named = [r for r in readings if r.label == doubtful[0]]
    found = without[doubtful[0]]
    expected = float(named[0].shown(found.kerf_mm, found.offset_rad)) if named else found.offset_rad
    return Misfit(closest.chi_square, freedom, chance, doubtful, expected)


def _without_each(
    readings: tuple[ReadingLikelihood, ...], before: Before, start_mm: float
) -> dict[str, _Closest]:
    """Best kerf and offset without each reading, and without the belief about the scale.

    Where what is left is still so far apart that the search does not arrive, nothing is mended by it.
    """
    tries = {"scale": (readings, False)}
    for i, r in enumerate(readings):
        rest = (*readings[:i], *readings[i + 1 :])
        if any(not other.at_least and other.unit == "mm" for other in rest):
            tries[r.label] = (rest, True)
    found: dict[str, _Closest] = {}
    for label, (rest, scale) in tries.items():
        with contextlib.suppress(NoConvergenceError):
            found[label] = _closest(rest, before, start_mm, scale=scale)
    return found


def refuse_misfit(estimate: SawEstimate, *, where: str = "") -> None:
    """Refuse readings that cannot all be right, naming those that do not fit.

    Parameters
    ----------
    estimate : SawEstimate
        The estimate.
    where : str
        File name for the error message.

    Raises
    ------
    InputError
        One line with the readings to look at again, if honest readings would rarely be so far apart.
    """
    _refuse(estimate.misfit, estimate.cuts, where)


def _refuse(misfit: Misfit, cuts: ScrapCuts, where: str) -> None:
    if not misfit.doubtful:
        return
    chance = f"1 in {1 / misfit.chance:,.0f}" if misfit.chance > 1e-6 else "less than 1 in a million"
    test = f"chi-square {misfit.chi_square:.1f} on {misfit.freedom}, chance {chance}"
    if "scale" in misfit.doubtful:
        within = math.degrees(WITHIN_SDS * cuts.before.scale_sd_rad)
        expected = f"a scale within {within:.2g} deg, and readings that agree ({test})"
        remedy = "check the scale with a bevel gauge"
        if cuts.gauges:  # the one in hand says that it is off
            remedy = "check the bevel gauge on something square, and the scale by two rings at unlike tilts"
        remedy += "; if the scale is that far off, set it right or raise scale_within"
        if len(misfit.doubtful) > 1:
            remedy += f"; else {_look_again(misfit.doubtful, cuts)}"
        raise InputError(Problem(where, "saw.scale_within", "", expected, remedy))
    if len(misfit.doubtful) > 1:
        expected = f"readings that agree; {' and '.join(misfit.doubtful)} do not ({test})"
        remedy = _look_again(misfit.doubtful, cuts)
        raise InputError(Problem(where, ", ".join(misfit.doubtful), "", expected, remedy))
    (label,) = misfit.doubtful
    shown = f"{math.degrees(misfit.expected):.2f} deg" if "bevel" in label else f"{misfit.expected:.2f} mm"
    bound = "it to bind at " if _kind(label, cuts) == "fallen" else ""
    expected = f"{bound}about {shown} by all the other readings ({test})"
    raise InputError(Problem(where, label, _as_read(cuts, label), expected, _look_again([label], cuts)))


_AGAIN = {
    "ring": "measure {} again, or leave out a ring with rough faces or one not pressed home",
    "fallen": "saw {} again: was it pressed from its own face, whole, and the scrap as thick as written?",
    "slot": "gauge {} again at several places, free of dust and splinters",
    "bevel": "measure {} again, the gauge square to the blade",
}
"""What to look at again where a reading does not fit, by what it is a reading of."""


def _kind(label: str, cuts: ScrapCuts) -> str:
    kind, number = label.split()
    fell = kind == "ring" and cuts.rings[int(number) - 1].drop_mm is None
    return "fallen" if fell else kind


def _look_again(labels: Sequence[str], cuts: ScrapCuts) -> str:
    """What to do about these readings, those of one kind together; the scale is none."""
    by_kind: dict[str, list[str]] = {}
    for label in (n for n in labels if n != "scale"):
        by_kind.setdefault(_kind(label, cuts), []).append(label)
    it = "it" if len(labels) == 1 else ""
    return "; ".join(_AGAIN[kind].format(it or " and ".join(of)) for kind, of in by_kind.items())


def _as_read(cuts: ScrapCuts, label: str) -> str:
    kind, number = label.split()
    i = int(number) - 1
    if kind == "slot":
        return f"{cuts.slots[i].width_mm:.2f} mm"
    if kind == "bevel":
        return f"{math.degrees(cuts.gauges[i].tilt_rad):.2f} deg"
    drop = cuts.rings[i].drop_mm
    return "fell through" if drop is None else f"{drop:.2f} mm"
