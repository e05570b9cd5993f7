"""The chance that a piece breaks at its weakest link, over the volume that is stressed (W. Weibull, 1939).

A printed strength f is the mean nominal stress at which test pieces broke. Wood of Weibull shape m,
stressed unevenly to s, breaks with the chance

    P = 1 - E_B [exp(-Gamma(1 + 1/m)^m R B^-m)],      R = integral of (s/f)^m dV / V_ref,

where V_ref is the volume of the test piece that its own uneven stress stands for, and B, lognormal with
mean 1, is how strong this board is beside others. The whole piece is one draw of B: what boards differ by
is common to all its places. Where no size effect is taken, R is the greatest (s/f)^m instead (shear along
the grain: Gupta, Heck and Miller 2002 on torsion of lumber).

R is called the *risk*. Stresses x times as hard have the risk x^m R.

V_ref is that of the handbooks' piece for tension across the grain (ASTM D143: 50 x 50 x 63 mm, the 63 mm
along the grain, a notch of radius 12.7 mm at either end, shape from memory), worked out by plane-stress
finite elements in ``studies/tension_across_piece.py``.
"""

import math
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, ArrayLike, read_only
from fitsim.errors import OutsideModelError

__all__ = [
    "beam_volume_mm3",
    "between_boards",
    "chance_of_any",
    "chance_of_risk",
    "chances_of_risks",
    "reference_volume_mm3",
    "stress_scale",
    "within_board_cov",
]

# Even steps over a smooth bell converge faster than any power of the step: 0.05 standard deviations of B
# leave nothing to see up to shape 10 and a scatter of 0.6.
_NORMAL = np.linspace(-9.0, 9.0, 361)
_WEIGHT = np.exp(-(_NORMAL**2) / 2)
_WEIGHT /= _WEIGHT.sum()

SHAPES_SERVED = (5.0, 10.0)
"""Weibull shapes for which the test piece's volume is known. [-]"""

_VOLUME_SHAPES = np.array([5.0, 6.0, 7.0, 8.0, 9.0, 10.0])
_VOLUME_CM3 = np.array([28.4, 30.5, 33.8, 38.6, 45.1, 53.8])
"""The study's finest mesh, shear beside the tension, as everywhere here; tension alone: 25.8 to 43.1."""


def within_board_cov(shape: float) -> float:
    """Coefficient of variation of pieces of one board, from the shape alone.

    Parameters
    ----------
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        sqrt(Gamma(1 + 2/m)/Gamma(1 + 1/m)^2 - 1). [-]

    Examples
    --------
    >>> round(within_board_cov(6.0), 3)
    0.194
    """
    return math.sqrt(math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2 - 1)


def between_boards(total_cov: float, shape: float) -> float:
    """Scatter between boards that, with the one within a board, makes up a given total.

    Parameters
    ----------
    total_cov : float
        Coefficient of variation of test pieces, boards and places together. [-]
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        Coefficient of variation of B; 0 where the shape alone scatters as much. [-]

    Examples
    --------
    >>> [round(between_boards(0.25, m), 3) for m in (5, 6, 8, 10)]
    [0.098, 0.155, 0.199, 0.218]
    """
    return math.sqrt(max((1 + total_cov**2) / (1 + within_board_cov(shape) ** 2) - 1, 0.0))


def chance_of_risk(risk: float, *, shape: float, between: float) -> float:
    """Chance that a piece of a given risk breaks.

    Parameters
    ----------
    risk : float
        Integral of (s/f)^m over the volume, over V_ref, or the greatest (s/f)^m. [-]
    shape : float
        Weibull shape m. [-]
    between : float
        Coefficient of variation between boards. [-]

    Returns
    -------
    float
        Chance. [-]

    Examples
    --------
    >>> round(chance_of_risk(1.0, shape=6.0, between=0.0), 4)
    0.4714
    """
    return float(_exact(np.array([risk]), shape, between, 0.0)[0])


def _exact(risk: Array, shape: float, between: float, error_log: float) -> Array:
    spread = math.log1p(between**2)
    # B has mean 1; an error of the stress itself has median 1 and makes the same kind of factor.
    board = np.exp(math.sqrt(spread + error_log**2) * _NORMAL - spread / 2)
    one = math.gamma(1 + 1 / shape) ** shape * board**-shape
    return np.asarray(-np.expm1(-risk[:, None] * one) @ _WEIGHT)


_LOG_RISK = np.linspace(-60.0, 40.0, 1001)


@lru_cache(maxsize=64)
def _table(shape: float, between: float, error_log: float) -> Array:
    return read_only(np.log(_exact(np.exp(_LOG_RISK), shape, between, error_log)))


def chances_of_risks(risk: ArrayLike, *, shape: float, between: float, error_log: float = 0.0) -> Array:
    """Chances of many risks at once, read off a table good to 1 part in 1000.

    Parameters
    ----------
    risk : array_like
        As in :func:`chance_of_risk`, any shape. [-]
    shape, between : float
        Weibull shape, coefficient of variation between boards. [-]
    error_log : float
        Standard deviation of the logarithm of an error in all stresses alike. [-]

    Returns
    -------
    numpy.ndarray
        Of that shape. [-]
    """
    given = np.asarray(risk, dtype=np.float64)
    log = np.interp(np.log(np.maximum(given, 1e-300)), _LOG_RISK, _table(shape, between, error_log))
    return np.where(given > math.exp(_LOG_RISK[0]), np.exp(log), 0.0)


def chance_of_any(chances: ArrayLike) -> Array:
    """Chance that at least one of several independent ways to break comes about.

    Parameters
    ----------
    chances : array_like
        Shape (ways, ...). [-]

    Returns
    -------
    numpy.ndarray
        1 - product of (1 - P) over the first axis. [-]
    """
    with np.errstate(divide="ignore"):
        none = np.log1p(-np.asarray(chances, dtype=np.float64)).sum(axis=0)
    return np.asarray(np.abs(np.expm1(none)))  # no minus sign on a chance of nothing


def stress_scale(risks: ArrayLike, *, shapes: ArrayLike, betweens: ArrayLike, chance: float = 0.1) -> float:
    """How many times as hard all stresses must be for a given chance of breaking in any way.

    Parameters
    ----------
    risks, shapes, betweens : array_like
        One for each way, shape (ways,). [-]
    chance : float
        The chance asked for, between 0 and 1. [-]

    Returns
    -------
    float
        Above 1 where the chance is not yet reached; infinite where nothing is stressed. [-]

    Raises
    ------
    OutsideModelError
        If the chance is not between 0 and 1.
    """
    if not 0 < chance < 1:
        raise OutsideModelError(f"a chance lies between 0 and 1, not at {chance:g}")
    ways = [
        (math.log(r), float(m), float(b))
        for r, m, b in zip(np.asarray(risks), np.asarray(shapes), np.asarray(betweens), strict=True)
        if r > 0
    ]
    if not ways:
        return math.inf

    def whole(log_scales: Array) -> Array:
        # Above e^700 a piece is broken whatever its board.
        risks = [np.exp(np.minimum(log + m * log_scales, 700.0)) for log, m, _b in ways]
        return chance_of_any([_exact(r, m, b, 0.0) for r, (_log, m, b) in zip(risks, ways, strict=True)])

    # A risk of 1 by itself breaks some 4 in 10: from there no way is far.
    start = min(-log / m for log, m, _ in ways)
    low, high = start - 4.0, start + 4.0
    while whole(np.array([low]))[0] > chance:
        low -= 4.0
    while whole(np.array([high]))[0] < chance:
        high += 4.0
    # The chance rises with the scale: rows of scales, each between two of the row before. scipy's own
    # search for a root takes longer to load than the whole answer takes to work out.
    while high - low > 1e-7:
        row = np.linspace(low, high, 13)
        above = int(np.argmax(whole(row) >= chance))
        low, high = float(row[max(above - 1, 0)]), float(row[above])
    return math.exp((low + high) / 2)


def reference_volume_mm3(shape: float) -> float:
    """Volume that stands for the handbooks' test piece of tension across the grain.

    Parameters
    ----------
    shape : float
        Weibull shape m, within :data:`SHAPES_SERVED`. [-]

    Returns
    -------
    float
        Integral of (s over nominal stress)^m over the piece. [mm^3]

    Raises
    ------
    OutsideModelError
        If the shape lies outside.
    """
    low, high = SHAPES_SERVED
    if not low <= shape <= high:
        raise OutsideModelError(
            f"the test piece is worked out for shapes {low:g} to {high:g}, not {shape:g}"
        )
    return 1000.0 * float(np.exp(np.interp(shape, _VOLUME_SHAPES, np.log(_VOLUME_CM3))))


def beam_volume_mm3(*, width_mm: float, depth_mm: float, span_mm: float, shape: float) -> float:
    """Volume that stands for a beam bent by one load in the middle of its span.

    Parameters
    ----------
    width_mm, depth_mm, span_mm : float
        Width, depth in the direction of the load, distance of the supports. [mm]
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        b h L/(2 (m + 1)^2): integral of (s over its peak)^m over the half in tension. [mm^3]

    Examples
    --------
    >>> round(beam_volume_mm3(width_mm=10, depth_mm=6, span_mm=60, shape=6), 1)
    36.7
    """
    return width_mm * depth_mm * span_mm / (2 * (shape + 1) ** 2)
