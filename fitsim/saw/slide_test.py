"""Friction of bevels from off-cuts: tilt one until the other, weighted, slides on it.

At the angle a where it begins to slide the friction is tan(a). Slides differ from one another, because the
wood does from place to place and because an angle is read only so closely; and even many of them tell the
friction of off-cuts, not quite that of the bowl's own bevels. What was believed before (the finish's range)
is narrowed by Bayes' rule. The logarithm of friction is what is reckoned with: but for off-cuts that held
everything is then a product of normal distributions.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from fitsim.arrays import Array
from fitsim.assumption import Assumption
from fitsim.errors import InputError, Problem
from fitsim.saw.measurements import WITHIN_SDS
from fitsim.saw.posterior import (
    MISFIT_CHANCE,
    RANGE_ENDS,
    Agreement,
    agreement,
    blurred,
    density,
    two_sided_chance,
)

__all__ = [
    "SLIDE_DEFAULTS",
    "Friction",
    "FrictionEstimate",
    "Slide",
    "SlideTests",
    "estimate_friction",
    "log_likelihood",
    "refuse_slides",
    "slide_angle_rad",
]

SLIDE_DEFAULTS = {
    "slide.within": Assumption(
        "slide.within", "1.5 deg", "0.5 deg", "3 deg", "estimated",
        "angle at which it begins to slide, by a level in the telephone or by rise over level run: how "
        "well a careful hand reads it; no published figure found",
    ),
    "friction.varies": Assumption(
        "friction.varies", "25 %", "15 %", "40 %", "estimated",
        "from slide to slide and from place to place; chestnut on chestnut 0.36 to 0.55 over all planes "
        "and directions, mean 0.46: Villar-Garcia et al. 2020, Int. Agrophysics 34, 65-77, read as 9 in 10",
    ),
    "friction.stands_for": Assumption(
        "friction.stands_for", "10 %", "0 %", "20 %", "estimated",
        "how far off-cuts stand for the bowl's own bevels; no published figure found",
    ),
}  # fmt: skip
"""What stands in for a key left out, by key of the file of tests; each holds 19 times in 20."""

SLIDE_SD_RAD = math.radians(1.5) / WITHIN_SDS
VARIES_SD, STANDS_FOR_SD = 0.25 / WITHIN_SDS, 0.10 / WITHIN_SDS

_LOG_FRICTION = np.linspace(math.log(0.01), math.log(5.0), 2501)


@dataclass(frozen=True)
class Slide:
    """One off-cut on another.

    Attributes
    ----------
    angle_rad : float
        Tilt at which it began to slide, or up to which it held. [rad]
    held : bool
        True where it had not slid up to that tilt.
    sd_rad : float
        Standard deviation of reading the angle. [rad]
    """

    angle_rad: float
    held: bool = False
    sd_rad: float = SLIDE_SD_RAD


@dataclass(frozen=True)
class SlideTests:
    """Every slide of off-cuts of one wood with one finish, and what is believed beforehand.

    Attributes
    ----------
    slides : tuple[Slide, ...]
        The readings.
    finish, wood : str
        As the bowl will be finished; "" where no wood is named.
    believed_low, believed_high : float
        Friction believed before, nine times in ten between these. [-]
    varies_sd : float
        Standard deviation of the logarithm of friction from slide to slide. [-]
    stands_for_sd : float
        Standard deviation of the logarithm of what is common to all off-cuts and not to the bowl. [-]
    """

    slides: tuple[Slide, ...]
    finish: str
    wood: str
    believed_low: float
    believed_high: float
    varies_sd: float = VARIES_SD
    stands_for_sd: float = STANDS_FOR_SD


@dataclass(frozen=True)
class Friction:
    """Friction of bevels with one finish, as slide tests leave it.

    Attributes
    ----------
    name, date : str
        Of the tests; the day may be "".
    finish, wood : str
        What was tested; "" where no wood was named.
    friction : float
        As likely more as less. [-]
    low, high : float
        Nine times in ten it lies between these. [-]
    slides : int
        How many slides it rests on.
    """

    name: str
    date: str
    finish: str
    wood: str
    friction: float
    low: float
    high: float
    slides: int


@dataclass(frozen=True)
class FrictionEstimate:
    """What slides say, and whether they agree.

    Attributes
    ----------
    friction : Friction
        The range they leave.
    agreement : Agreement
        Among all slides, in the logarithm of friction; one that held is off only where the friction that
        fits best would have let it slide.
    tests : SlideTests
        What was measured.
    """

    friction: Friction
    agreement: Agreement
    tests: SlideTests


def slide_angle_rad(friction: float) -> float:
    """Tilt at which one off-cut slides on another, atan(friction).

    Parameters
    ----------
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    float
        Tilt. [rad]

    Examples
    --------
    >>> round(math.degrees(slide_angle_rad(0.35)), 1)
    19.3
    """
    return math.atan(friction)


def _log_friction(slide: Slide) -> float:
    """Logarithm of the friction at which it would slide at that tilt."""
    return math.log(math.tan(slide.angle_rad))


def _sd(slide: Slide, varies_sd: float) -> float:
    """Standard deviation of one slide's log friction: its own scatter and the angle's reading error.

    The logarithm of the tangent grows by 2/sin(2 angle) for each radian, taken at the angle read: good to a
    percent of friction for an angle of 15 degrees read within 3.
    """
    return math.hypot(varies_sd, 2 * slide.sd_rad / math.sin(2 * slide.angle_rad))


def log_likelihood(tests: SlideTests, log_friction: Array) -> Array:
    """Logarithm of the chance of every slide, for off-cuts whose friction is given.

    Parameters
    ----------
    tests : SlideTests
        The slides.
    log_friction : numpy.ndarray
        (n,) logarithm of the off-cuts' friction. [-]

    Returns
    -------
    numpy.ndarray
        (n,) logarithm, without constants. [-]
    """
    from scipy.special import log_ndtr

    total = np.zeros_like(log_friction)
    for slide in tests.slides:
        off = (_log_friction(slide) - log_friction) / _sd(slide, tests.varies_sd)
        total = total + (log_ndtr(-off) if slide.held else -0.5 * off**2)
    return total


def _believed(tests: SlideTests) -> tuple[float, float]:
    """Mean and standard deviation of log friction whose range is the one believed."""
    low, high = math.log(tests.believed_low), math.log(tests.believed_high)
    ends = NormalDist().inv_cdf(RANGE_ENDS[1])
    return (low + high) / 2, (high - low) / 2 / ends


def estimate_friction(tests: SlideTests, *, name: str = "My tests", date: str = "") -> FrictionEstimate:
    """Narrow the range of friction by slides.

    Parameters
    ----------
    tests : SlideTests
        At least one slide.
    name, date : str
        Kept with the result.

    Returns
    -------
    FrictionEstimate
        The range, and whether the slides agree; see :func:`refuse_slides`.
    """
    believed, believed_sd = _believed(tests)
    likelihood = blurred(log_likelihood(tests, _LOG_FRICTION), _LOG_FRICTION, tests.stands_for_sd)
    found = density(_LOG_FRICTION, likelihood - 0.5 * ((_LOG_FRICTION - believed) / believed_sd) ** 2)
    low, middle, high = (math.exp(found.quantile(q)) for q in (RANGE_ENDS[0], 0.5, RANGE_ENDS[1]))
    values = [_log_friction(s) for s in tests.slides]
    sds = [_sd(s, tests.varies_sd) for s in tests.slides]
    return FrictionEstimate(
        Friction(name, date, tests.finish, tests.wood, middle, low, high, len(tests.slides)),
        agreement(values, sds, at_least=[s.held for s in tests.slides]),
        tests,
    )


def refuse_slides(estimate: FrictionEstimate, *, where: str = "") -> None:
    """Refuse slides that cannot all be right, or that lie far off everything believed of the finish.

    Parameters
    ----------
    estimate : FrictionEstimate
        The estimate.
    where : str
        File name for the error message.

    Raises
    ------
    InputError
        One line that names the readings to look at again.
    """
    found, tests = estimate.agreement, estimate.tests
    if not found.doubtful:
        _refuse_far(tests, where)
        return
    test = f"chi-square {found.chi_square:.1f} on {found.freedom:.3g}"
    labels = [f"slide {i + 1}" for i in found.doubtful]
    if len(labels) > 1:
        expected = f"slides that agree; {' and '.join(labels)} do not ({test})"
        remedy = "do them again; leave out one that was not bevel on bevel, dusty, pushed or stuck"
        raise InputError(Problem(where, ", ".join(labels), "", expected, remedy))
    (odd,) = found.doubtful
    slide, others = tests.slides[odd], [s for i, s in enumerate(tests.slides) if i != odd]
    shown = f"{'held to ' if slide.held else ''}{math.degrees(slide.angle_rad):.1f} deg"
    by_others = f"{math.degrees(math.atan(math.exp(found.expected))):.0f} deg"
    by_others = f"{by_others} or more" if all(s.held for s in others) else f"about {by_others}"
    expected = f"{by_others} by all the other slides ({test})"
    fault = "or stuck" if slide.held else "dusty or pushed"
    remedy = f"do it again, or leave it out if it was not bevel on bevel, {fault}"
    raise InputError(Problem(where, labels[0], shown, expected, remedy))


def _refuse_far(tests: SlideTests, where: str) -> None:
    """Refuse slides that agree, and lie far off what is believed of the finish.

    Those that slid by their mean, either way; of those that held the highest, where so much friction is
    hardly to be believed.
    """
    believed, believed_sd = _believed(tests)
    common_sd = math.hypot(believed_sd, tests.stands_for_sd)
    slid = [_log_friction(s) for s in tests.slides if not s.held]
    held = max((s for s in tests.slides if s.held), key=lambda s: s.angle_rad, default=None)
    far: list[tuple[float, str]] = []
    if slid:
        mean = sum(slid) / len(slid)
        off = (mean - believed) / math.hypot(common_sd, tests.varies_sd / math.sqrt(len(slid)))
        if two_sided_chance(off) < MISFIT_CHANCE / 10:
            far.append((math.exp(mean), ""))
    if held is not None:
        off = (_log_friction(held) - believed) / math.hypot(common_sd, _sd(held, tests.varies_sd))
        if NormalDist().cdf(-off) < MISFIT_CHANCE / 10:
            far.append((math.tan(held.angle_rad), " or more"))
    if not far:
        return
    friction, or_more = far[0]
    low, high = min(tests.believed_low, friction / 1.3), max(tests.believed_high, friction * 1.3)
    expected = (
        f"slides near {tests.believed_low:g} to {tests.believed_high:g}, as believed of {tests.finish}"
    )
    remedy = (
        f"check how the angles were measured; if they stand, write [friction] and "
        f'believed = "{low:.2g} to {high:.2g}"'
    )
    raise InputError(Problem(where, "friction.believed", f"{friction:.2f}{or_more}", expected, remedy))
