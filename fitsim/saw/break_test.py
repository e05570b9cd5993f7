r"""Strength across the grain of one board from strips cut across it and broken by hand.

A strip on two supports is pulled down in its middle by a luggage or kitchen scale until it breaks. Its
stress then, carried by the volumes to the handbooks' piece (:mod:`fitsim.wood.across_grain`), is a reading
of this board's f B. A single strip is a Weibull number, so its logarithm scatters as

    log(stress) = log(f B) + (1/m) log(V_ref/V) - log Gamma(1 + 1/m) + (1/m) log(E),  E exponential, mean 1,

with the reading errors of load and sizes on top, and an error common to all strips (the scale, the way
they were held, off-cuts for the bowl). Before the test f B is believed to be lognormal about the
handbook's mean, for the way this board is pulled, with the scatter between boards and what is uncertain
of that mean itself. Everything is kept shape by shape: the chance of splitting takes the mean for the
shape it uses.
"""

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from fitsim.arrays import Array
from fitsim.assumption import Assumption
from fitsim.errors import InputError, Problem
from fitsim.quantities import KILOGRAM_N
from fitsim.saw.measurements import WITHIN_SDS
from fitsim.saw.posterior import MISFIT_CHANCE, RANGE_ENDS, Agreement, Density, agreement, blurred, density
from fitsim.wood.across_grain import (
    SHAPES,
    BoardAcross,
    StripSize,
    across_at_moisture,
    beam_stress_MPa,
    board_scatter,
    mean_load_N,
    ring_factor,
    weibull_shape,
)
from fitsim.wood.species import Wood
from fitsim.wood.weakest_link import reference_volume_mm3

__all__ = [
    "BREAK_DEFAULTS",
    "RIFT_DEFAULT",
    "RIFT_SD",
    "BoardStrength",
    "BreakTests",
    "BrokenStrip",
    "RIFT_ANGLES_rad",
    "StrengthEstimate",
    "believed_range_MPa",
    "estimate_strength",
    "log_strength_likelihood",
    "refuse_strips",
    "strength_density",
    "strip_loads_N",
    "untested",
]

BREAK_DEFAULTS = {
    "break.within": Assumption(
        "break.within", "0.2 kg", "0.1 kg", "0.5 kg", "estimated",
        "the most a luggage or kitchen scale showed; no published figure found",
    ),
    "break.size_within": Assumption(
        "break.size_within", "0.2 mm", "0.1 mm", "0.4 mm", "estimated",
        "width and thickness by callipers where it broke; no published figure found",
    ),
    "strength.common": Assumption(
        "strength.common", "10 %", "5 %", "20 %", "estimated",
        "what all strips share: the scale's own error, how they lay, off-cuts for the bowl",
    ),
    "strength.handbook_within": Assumption(
        "strength.handbook_within", "25 %", "15 %", "40 %", "estimated",
        "the handbook's mean for the way a board is pulled (0.74 to 0.98 of it for 15 hardwoods pulled "
        "tangentially, Record 1914 after Circular 213) and its test piece's effective volume (25 to 75 "
        "cm3)",
    ),
    "strength.moisture_within": Assumption(
        "strength.moisture_within", "4 %", "2 %", "8 %", "estimated",
        "percentage points, of strips whose moisture was not measured",
    ),
}  # fmt: skip
"""What stands in for a key left out, by key of the file of tests; each holds 19 times in 20."""

RIFT_ANGLES_rad = (math.radians(20.0), math.radians(70.0))
RIFT_SD = 0.60 / WITHIN_SDS
RIFT_DEFAULT = Assumption(
    "strength.handbook_within", "60 %", "40 %", "80 %", "estimated",
    "rift-sawn: with growth rings near 45 deg some woods are 40 to 60 percent weaker across the grain "
    "than flat- or quarter-sawn, others not (Wood Handbook, chapter 5, Annual Ring Orientation)",
)  # fmt: skip
"""In place of the handbook's scatter on a board whose rings lie between those angles; beyond them the loss
of rift wood, 10 percent at most with the share taken, is no more than other boards differ by."""

LOAD_SD_N, SIZE_SD_mm = 0.2 * KILOGRAM_N / WITHIN_SDS, 0.2 / WITHIN_SDS
COMMON_SD, HANDBOOK_SD = 0.10 / WITHIN_SDS, 0.25 / WITHIN_SDS
ASSUMED_MOISTURE_percent, ASSUMED_MOISTURE_SD_percent = 8.0, 4.0 / WITHIN_SDS

_LOG_STRENGTH = np.linspace(math.log(0.01), math.log(1000.0), 1501)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_SHAPE_STEPS = 11


@dataclass(frozen=True)
class BrokenStrip:
    """One strip, broken.

    Attributes
    ----------
    load_N : float
        The most it bore. [N]
    size : StripSize
        Its size.
    load_sd_N, size_sd_mm : float
        Standard deviations of reading the load, and width and thickness. [N, mm]
    """

    load_N: float
    size: StripSize
    load_sd_N: float = LOAD_SD_N
    size_sd_mm: float = SIZE_SD_mm

    @property
    def stress_MPa(self) -> float:
        """Stress in its outer face when it broke. [MPa]"""
        return beam_stress_MPa(self.size, self.load_N)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of that stress, from reading errors alone. [-]"""
        width = self.size_sd_mm / self.size.width_mm
        thickness = 2 * self.size_sd_mm / self.size.thickness_mm
        return math.hypot(self.load_sd_N / self.load_N, width, thickness)


@dataclass(frozen=True)
class BreakTests:
    """Every strip broken from one board, and what is believed beforehand.

    Attributes
    ----------
    strips : tuple[BrokenStrip, ...]
        The readings.
    wood : str
        Name of the wood.
    handbook_MPa : float
        The handbook's mean tension across the grain of it, at 12 percent moisture. [MPa]
    ring_angle_rad : float
        Growth rings against the board's face. [rad]
    moisture_percent, moisture_sd_percent : float
        Of the strips. [percent]
    common_sd, handbook_sd : float
        Standard deviations of the logarithm: what all strips share, and the handbook's mean. [-]
    softwood : bool
        Whether the wood is one: softwoods differ less between their ring directions.
    """

    strips: tuple[BrokenStrip, ...]
    wood: str
    handbook_MPa: float
    ring_angle_rad: float = 0.0
    moisture_percent: float = ASSUMED_MOISTURE_percent
    moisture_sd_percent: float = ASSUMED_MOISTURE_SD_percent
    common_sd: float = COMMON_SD
    handbook_sd: float = HANDBOOK_SD
    softwood: bool = False

    @property
    def usual_MPa(self) -> float:
        """What the handbook makes of a board pulled this way, at 12 percent moisture. [MPa]"""
        return self.handbook_MPa * ring_factor(self.ring_angle_rad, softwood=self.softwood)


def untested(wood: Wood, ring_angle_rad: float) -> BreakTests:
    """What is believed of a board before any strip of it is broken.

    Parameters
    ----------
    wood : Wood
        Values at 12 percent moisture.
    ring_angle_rad : float
        Growth rings against the board's face. [rad]

    Returns
    -------
    BreakTests
        Without strips.
    """
    rift = RIFT_ANGLES_rad[0] < ring_angle_rad < RIFT_ANGLES_rad[1]
    return BreakTests(
        strips=(),
        wood=wood.name,
        handbook_MPa=wood.tension_across_MPa.value,
        ring_angle_rad=ring_angle_rad,
        handbook_sd=RIFT_SD if rift else HANDBOOK_SD,
        softwood=wood.group == "softwood",
    )


@dataclass(frozen=True)
class BoardStrength:
    """Strength across the grain of one board, as break tests leave it.

    Attributes
    ----------
    name, date : str
        Of the tests; the day may be "".
    wood : str
        Name of the wood.
    across : BoardAcross
        Mean and remaining scatter, shape by shape.
    strips : int
        How many strips it rests on.
    """

    name: str
    date: str
    wood: str
    across: BoardAcross
    strips: int


@dataclass(frozen=True)
class StrengthEstimate:
    """What strips say, and whether they agree.

    Attributes
    ----------
    strength : BoardStrength
        What is known now.
    before_MPa : float
        What the handbook made of it, at the shape taken. [MPa]
    low_MPa, high_MPa : float
        f B lies between these nine times in ten, whatever the shape is between 5 and 10. [MPa]
    board_factor, board_factor_cov : float
        B, mean and coefficient of variation, at the shape taken. [-]
    agreement : Agreement
        Among the strips, in the logarithm of strength at the handbooks' volume.
    tests : BreakTests
        What was measured.
    """

    strength: BoardStrength
    before_MPa: float
    low_MPa: float
    high_MPa: float
    board_factor: float
    board_factor_cov: float
    agreement: Agreement
    tests: BreakTests


def _believed(tests: BreakTests, shape: float) -> tuple[float, float]:
    """Mean and standard deviation of log f B before any strip: B has mean 1, and f is a middle."""
    boards = math.log(1 + board_scatter(shape) ** 2)
    mean = math.log(tests.usual_MPa) - boards / 2
    return mean, math.sqrt(boards + tests.handbook_sd**2)


def believed_range_MPa(tests: BreakTests) -> tuple[float, float]:
    """Where f B of a board lies before any strip of it is broken, at the shape taken.

    Parameters
    ----------
    tests : BreakTests
        What is believed beforehand; its strips are not looked at.

    Returns
    -------
    tuple[float, float]
        Nine times in ten between these. [MPa]
    """
    middle, sd = _believed(tests, weibull_shape().value)
    reach = NormalDist().inv_cdf(RANGE_ENDS[1]) * sd
    return math.exp(middle - reach), math.exp(middle + reach)


def _reading(strip: BrokenStrip, tests: BreakTests, shape: float) -> float:
    """Logarithm of the stress at break, carried to 12 percent moisture and the handbooks' volume."""
    size = math.log(strip.size.volume_mm3(shape) / reference_volume_mm3(shape)) / shape
    return math.log(strip.stress_MPa / across_at_moisture(tests.moisture_percent)) + size


def _shared_sd(tests: BreakTests) -> float:
    """Standard deviation of the logarithm of what all strips share, their moisture among it."""
    step = tests.moisture_percent + tests.moisture_sd_percent * np.array([-1.0, 1.0])
    by_moisture = (
        math.log(across_at_moisture(float(step[0])) / across_at_moisture(float(step[1]))) / 2
        if tests.moisture_sd_percent
        else 0.0
    )
    return math.hypot(tests.common_sd, by_moisture)


def log_strength_likelihood(tests: BreakTests, log_MPa: Array, shape: float) -> Array:
    """Logarithm of the chance of all strips for a board whose f B is given, without the shared error.

    Parameters
    ----------
    tests : BreakTests
        The strips.
    log_MPa : numpy.ndarray
        (n,) logarithm of f B. [-]
    shape : float
        Weibull shape. [-]

    Returns
    -------
    numpy.ndarray
        (n,) logarithm. [-]
    """
    total = np.zeros_like(log_MPa)
    gamma = math.lgamma(1 + 1 / shape)
    for strip in tests.strips:
        off = _reading(strip, tests, shape) - log_MPa + gamma
        drawn = off[None, :] - strip.log_sd * _NODES[:, None]
        exponent = np.minimum(shape * drawn, 700.0)
        log_chance = math.log(shape) + exponent - np.exp(exponent)
        # Kept as logarithms: a floor under the chance would make boards that are all far off look alike.
        highest = log_chance.max(axis=0)
        total = total + highest + np.log(_WEIGHTS @ np.exp(log_chance - highest) / _WEIGHTS.sum())
    return total


def strength_density(tests: BreakTests, shape: float) -> tuple[Density, float]:
    """What is believed of log f B after the strips, at one shape.

    Parameters
    ----------
    tests : BreakTests
        The strips.
    shape : float
        Weibull shape. [-]

    Returns
    -------
    tuple[Density, float]
        The density, and the logarithm of the chance of all readings at this shape. [-]
    """
    believed, sd = _believed(tests, shape)
    alone = log_strength_likelihood(tests, _LOG_STRENGTH, shape)
    likelihood = blurred(alone, _LOG_STRENGTH, _shared_sd(tests))
    log_chance = likelihood - 0.5 * ((_LOG_STRENGTH - believed) / sd) ** 2 - math.log(sd)
    highest = float(log_chance.max())
    evidence = highest + math.log(float(np.exp(log_chance - highest).sum()))
    return density(_LOG_STRENGTH, log_chance), evidence


def estimate_strength(tests: BreakTests, *, name: str = "My tests", date: str = "") -> StrengthEstimate:
    """Narrow the strength across the grain of a board by broken strips.

    Every shape from 5 to 10 counts, evenly in its inverse, and by how well it fits the strips.

    Parameters
    ----------
    tests : BreakTests
        At least one strip.
    name, date : str
        Kept with the result.

    Returns
    -------
    StrengthEstimate
        Shape by shape and over all shapes; see :func:`refuse_strips`.
    """
    _, densities, weight = _over_shapes(tests)
    mixed = _mixed(densities, weight)
    kept = [_lognormal(strength_density(tests, m)[0]) for m in SHAPES]
    means, covs = tuple(m for m, _ in kept), tuple(c for _, c in kept)
    across = BoardAcross(means, covs, tests.ring_angle_rad, tests.usual_MPa)
    taken, least = weibull_shape().value, weibull_shape().low
    sds = [math.hypot(_gumbel_sd(least), s.log_sd) for s in tests.strips]
    readings = [_reading(s, tests, least) for s in tests.strips]
    return StrengthEstimate(
        strength=BoardStrength(name, date, tests.wood, across, len(tests.strips)),
        before_MPa=tests.usual_MPa,
        low_MPa=math.exp(mixed.quantile(RANGE_ENDS[0])),
        high_MPa=math.exp(mixed.quantile(RANGE_ENDS[1])),
        board_factor=across.factor(taken),
        board_factor_cov=across.at_shape(taken)[1],
        agreement=agreement(readings, sds),
        tests=tests,
    )


def _over_shapes(tests: BreakTests) -> tuple[list[float], list[Density], Array]:
    """Shapes, what is believed at each, and the weight of each by how well it fits the strips."""
    taken = weibull_shape()
    inverse = np.linspace(1 / taken.low, 1 / taken.high, _SHAPE_STEPS)
    shapes = [1 / float(v) for v in inverse]
    found = [strength_density(tests, m) for m in shapes]
    evidence = np.array([e for _, e in found])
    weight = np.exp(evidence - evidence.max())
    return shapes, [d for d, _ in found], weight / weight.sum()


def _gumbel_sd(shape: float) -> float:
    """Standard deviation of the logarithm of a Weibull number, pi/(sqrt(6) m)."""
    return math.pi / (math.sqrt(6) * shape)


def _lognormal(found: Density) -> tuple[float, float]:
    """Mean and coefficient of variation of the number whose logarithm is distributed so."""
    number = np.exp(found.value)
    mean = float(found.share @ number)
    return mean, math.sqrt(float(found.share @ (number - mean) ** 2)) / mean


def _mixed(densities: list[Density], weight: Array) -> Density:
    share = np.einsum("i,ij->j", weight, np.stack([d.share for d in densities]))
    return Density(densities[0].value, share)


def strip_loads_N(tests: BreakTests, strip: StripSize) -> tuple[float, float, float]:
    """Mean load at which further strips of this board would break, as moist as those that were broken.

    Parameters
    ----------
    tests : BreakTests
        The strips broken so far.
    strip : StripSize
        Size of the further ones.

    Returns
    -------
    tuple[float, float, float]
        Middle, low and high: nine times in ten between the last two, over all shapes. [N]
    """
    shapes, densities, weight = _over_shapes(tests)
    moisture = tests.moisture_percent
    loads = [mean_load_N(strip, mean_MPa=1.0, shape=m, moisture_percent=moisture) for m in shapes]
    values = np.concatenate([np.exp(d.value) * n for d, n in zip(densities, loads, strict=True)])
    shares = np.concatenate([w * d.share for d, w in zip(densities, weight, strict=True)])
    order = np.argsort(values)
    found = Density(values[order], shares[order])
    low, middle, high = (found.quantile(q) for q in (RANGE_ENDS[0], 0.5, RANGE_ENDS[1]))
    return middle, low, high


def refuse_strips(estimate: StrengthEstimate, *, where: str = "") -> None:
    """Refuse strips that cannot all be right, or that lie far off everything believed of the wood.

    Parameters
    ----------
    estimate : StrengthEstimate
        The estimate.
    where : str
        File name for the error message.

    Raises
    ------
    InputError
        One line that names the readings to look at again.
    """
    found, tests = estimate.agreement, estimate.tests
    if found.doubtful:
        test = f"chi-square {found.chi_square:.1f} on {found.freedom:.3g}"
        labels = [f"break {i + 1}" for i in found.doubtful]
        if len(labels) > 1:
            expected = f"strips of one board; {' and '.join(labels)} are too far apart ({test})"
            remedy = "measure what is left of them again; leave out one with a knot, a check or a slip"
            raise InputError(Problem(where, ", ".join(labels), "", expected, remedy))
        strip = tests.strips[found.doubtful[0]]
        by_others = strip.load_N * math.exp(
            found.expected - _reading(strip, tests, weibull_shape().low)
        )  # both at the same shape, so the volumes drop out
        expected = f"about {by_others / KILOGRAM_N:.1f} kg by all the other strips ({test})"
        remedy = "measure what is left of it again; leave it out if it had a knot or a check, or slipped"
        raise InputError(Problem(where, labels[0], f"{strip.load_N / KILOGRAM_N:.2f} kg", expected, remedy))
    _refuse_far(estimate, where)


def _far_off_chance(tests: BreakTests, shape: float) -> float:
    """Chance of a board and strips so far apart or further, either way, at one shape.

    By the likelihood itself, because a single weak strip says little against a strong board: the lower tail
    of a Weibull number is long. The grid reaches over the readings and the belief, wherever they lie. A
    scale's error is a share of the load the strip would bear if the board were as believed: of a reading
    near nothing it would be so large a share that the strip could be anything.
    """
    believed, believed_sd = _believed(tests, shape)
    usual_N = [
        mean_load_N(s.size, mean_MPa=tests.usual_MPa, shape=shape, moisture_percent=tests.moisture_percent)
        for s in tests.strips
    ]
    judged = replace(
        tests,
        strips=tuple(
            replace(s, load_sd_N=s.load_sd_N * min(1.0, s.load_N / usual))
            for s, usual in zip(tests.strips, usual_N, strict=True)
        ),
    )
    readings = [_reading(s, tests, shape) for s in tests.strips]
    low = min(*readings, believed - 6 * believed_sd) - 3
    high = max(*readings, believed + 6 * believed_sd) + 3
    steps = math.ceil((high - low) / (_LOG_STRENGTH[1] - _LOG_STRENGTH[0]))
    grid = np.linspace(low, high, steps + 1)
    alone = log_strength_likelihood(judged, grid, shape)
    by_strips = density(grid, blurred(alone, grid, _shared_sd(tests)))
    before = density(grid, -0.5 * ((grid - believed) / believed_sd) ** 2)
    stronger = float(by_strips.share @ (np.cumsum(before.share) - before.share / 2))
    return 2 * min(stronger, 1 - stronger)


def _refuse_far(estimate: StrengthEstimate, where: str) -> None:
    tests = estimate.tests
    if max(_far_off_chance(tests, shape) for shape in SHAPES) >= MISFIT_CHANCE / 10:
        return
    taken = weibull_shape().value
    believed, _ = _believed(tests, taken)
    readings = [_reading(s, tests, taken) for s in tests.strips]
    ratio = math.exp(sum(readings) / len(readings) - believed)
    said = f"{ratio:.1f} times as strong" if ratio > 1 else f"only {ratio:.2f} times as strong"
    expected = f"strips not far off the handbook's {tests.wood}, and they are {said}"
    remedy = (
        "check wood, span, thickness (it counts squared) and the unit of the load; if all stand, "
        "raise handbook_within under [strength]"
    )
    raise InputError(Problem(where, "strength.handbook_within", "", expected, remedy))
