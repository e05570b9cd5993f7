r"""Strength across the grain of one board, carried from one piece of wood to another by their volumes.

Wood across its grain breaks at its weakest place, so small pieces bear more than large ones. With the
Weibull shape m the mean stress at which a piece breaks goes with its effective volume V, the volume that
would be as likely to break were all of it stressed as its worst place is:

    mean(V) = f B (V_ref / V)^(1/m)

f B is the mean at V_ref, the effective volume of the handbooks' test piece; f is the mean of many boards,
B the factor of one board, mean 1. A strip b wide and h thick, loaded in the middle of a span L, is
stressed by sigma = 3 F L/(2 b h^2), which falls to nothing along the span and through half the thickness,
so that

    V = b h L / (2 (m + 1)^2)

Stress times (V/V_ref)^(1/m) is then a reading of f B, without further factors: the normalising
Gamma(1 + 1/m) of both pieces is the same and drops out.
"""

import math
from dataclasses import dataclass

import numpy as np

__all__ = [
    "GREATEST_SHAPE",
    "LEAST_SHAPE",
    "LIKELIEST_SHAPE",
    "SHAPES",
    "STANDARD_STRIP",
    "STANDARD_STRIP_INCH",
    "BoardAcross",
    "StripSize",
    "across_at_moisture",
    "beam_stress_MPa",
    "beam_volume_mm3",
    "between_boards_cov",
    "mean_load_N",
    "reference_volume_mm3",
    "ring_factor",
    "standard_strip",
    "within_board_cov",
]

SHAPES = (5.0, 6.0, 8.0, 10.0)
"""Weibull shapes for which what is learned is kept. [-]"""

LEAST_SHAPE, LIKELIEST_SHAPE, GREATEST_SHAPE = 5.0, 6.0, 10.0
"""Range of the shape and the value taken: 5 from J. D. Barrett, Wood and Fiber 6 (1974), blocks of
Douglas-fir; the rest an estimate, since that size effect may owe much to ring curvature. [-]"""

REFERENCE_VOLUMES_mm3 = (25_500.0, 27_000.0, 32_000.0, 41_000.0)
"""Effective volume of the handbooks' piece for each of :data:`SHAPES`, from a plane-stress solution of its
shape (shape from memory), at its nominal stress; between 25 and 75 cm3 all told. [mm^3]"""

TOTAL_COV = 0.25
"""Scatter of tension across the grain, piece to piece, as in ``variability.csv`` (from memory). [-]"""

TANGENTIAL_FACTOR, RADIAL_FACTOR = 0.87, 1.13
"""Handbook means average both ways of pulling: of 15 hardwoods, green, pieces pulled tangentially bore
0.87 (0.74 to 0.98) of the mean of both (S. J. Record 1914, Table III, after Circular 213, read in a
copy). [-]"""

MOISTURE_TREND = ((6.0, 1.12), (12.0, 1.0), (20.0, 0.80))
"""Tension across the grain by moisture content, against 12 percent; from memory, an estimate.
[percent, -]"""


@dataclass(frozen=True)
class StripSize:
    """A strip across the grain on two supports, loaded in the middle.

    Attributes
    ----------
    width_mm, thickness_mm, span_mm : float
        Width, thickness in the direction of the load, and distance of the supports. [mm]
    """

    width_mm: float
    thickness_mm: float
    span_mm: float


STANDARD_STRIP = StripSize(width_mm=10.0, thickness_mm=6.0, span_mm=60.0)
"""The off-cut a break test is described for; any other size is reckoned with as well."""

STANDARD_STRIP_INCH = StripSize(width_mm=9.525, thickness_mm=6.35, span_mm=63.5)
"""The same for a maker who writes inches: 3/8 by 1/4 in on supports 2 1/2 in apart."""


def standard_strip(units: str) -> StripSize:
    """The off-cut a break test is described for.

    Parameters
    ----------
    units : str
        "in" or "mm".

    Returns
    -------
    StripSize
        About the same size either way.
    """
    return STANDARD_STRIP_INCH if units == "in" else STANDARD_STRIP


@dataclass(frozen=True)
class BoardAcross:
    """Strength across the grain of one board, as break tests leave it.

    Attributes
    ----------
    mean_MPa : tuple[float, ...]
        f B for each of :data:`SHAPES`: mean tension across the grain of this board, the way it was
        broken, at 12 percent moisture and at the handbooks' effective volume for that shape. [MPa]
    cov : tuple[float, ...]
        Its remaining coefficient of variation: it stands in place of the scatter between boards. [-]
    ring_angle_rad : float
        Growth rings against the face of the board that was tested. [rad]
    """

    mean_MPa: tuple[float, ...]
    cov: tuple[float, ...]
    ring_angle_rad: float

    def at_shape(self, shape: float) -> tuple[float, float]:
        """Mean [MPa] and coefficient of variation [-] for any shape, carried along its inverse."""
        inverse = [1 / m for m in reversed(SHAPES)]
        log_mean = np.interp(1 / shape, inverse, np.log(self.mean_MPa[::-1]))
        return float(np.exp(log_mean)), float(np.interp(1 / shape, inverse, self.cov[::-1]))


def reference_volume_mm3(shape: float) -> float:
    """Effective volume of the handbooks' test piece.

    Parameters
    ----------
    shape : float
        Weibull shape; beyond 5 to 10 the value at the end. [-]

    Returns
    -------
    float
        Volume, between the four shapes along the logarithm. [mm^3]

    Examples
    --------
    >>> round(reference_volume_mm3(6.0)), round(reference_volume_mm3(7.0))
    (27000, 29394)
    """
    return float(np.exp(np.interp(shape, SHAPES, np.log(REFERENCE_VOLUMES_mm3))))


def beam_stress_MPa(strip: StripSize, load_N: float) -> float:
    """Stress in the outer face of a strip loaded in the middle of its span, 3 F L/(2 b h^2).

    Parameters
    ----------
    strip : StripSize
        Its size.
    load_N : float
        Load. [N]

    Returns
    -------
    float
        Stress. [MPa]

    Examples
    --------
    >>> beam_stress_MPa(STANDARD_STRIP, 40.0)
    10.0
    """
    return 3 * load_N * strip.span_mm / (2 * strip.width_mm * strip.thickness_mm**2)


def beam_volume_mm3(strip: StripSize, shape: float) -> float:
    """Effective volume of a strip loaded in the middle of its span, b h L/(2 (m + 1)^2).

    Parameters
    ----------
    strip : StripSize
        Its size.
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        Volume. [mm^3]
    """
    return strip.width_mm * strip.thickness_mm * strip.span_mm / (2 * (shape + 1) ** 2)


def mean_load_N(strip: StripSize, *, mean_MPa: float, shape: float, moisture_percent: float) -> float:
    """Load at which such strips of a board break on the average.

    Parameters
    ----------
    strip : StripSize
        Their size.
    mean_MPa : float
        f B of the board at 12 percent moisture and at the handbooks' volume. [MPa]
    shape : float
        Weibull shape it holds for. [-]
    moisture_percent : float
        Of the strips. [percent]

    Returns
    -------
    float
        Load. [N]
    """
    size = (reference_volume_mm3(shape) / beam_volume_mm3(strip, shape)) ** (1 / shape)
    stress = mean_MPa * size * across_at_moisture(moisture_percent)
    return float(stress / beam_stress_MPa(strip, 1.0))


def within_board_cov(shape: float) -> float:
    """Coefficient of variation of pieces of one board, from Gamma(1 + 2/m)/Gamma(1 + 1/m)^2 - 1.

    Parameters
    ----------
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        The root of that. [-]
    """
    return math.sqrt(math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2 - 1)


def between_boards_cov(shape: float) -> float:
    """Coefficient of variation from board to board that leaves the total scatter as it is held to be.

    Parameters
    ----------
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        s_B with (1 + s_B^2)(1 + v_m^2) = 1 + 0.25^2. [-]

    Examples
    --------
    >>> [round(between_boards_cov(m), 3) for m in SHAPES]
    [0.098, 0.155, 0.199, 0.218]
    """
    return math.sqrt((1 + TOTAL_COV**2) / (1 + within_board_cov(shape) ** 2) - 1)


def ring_factor(ring_angle_rad: float) -> float:
    """Strength across the grain in the plane of a board over the handbooks' mean of both ways.

    Parameters
    ----------
    ring_angle_rad : float
        Growth rings against the face: 0 flat-sawn, pulled tangentially; pi/2 quarter-sawn. [rad]

    Returns
    -------
    float
        0.87 to 1.13; some woods are 40 to 60 percent lower about half way between (rift-sawn boards),
        which is not in it. [-]
    """
    radial = math.sin(ring_angle_rad) ** 2
    return TANGENTIAL_FACTOR * (1 - radial) + RADIAL_FACTOR * radial


def across_at_moisture(moisture_percent: float) -> float:
    """Strength across the grain at a moisture content, over that at 12 percent.

    Parameters
    ----------
    moisture_percent : float
        Moisture content; the lines of :data:`MOISTURE_TREND` go on beyond their ends. [percent]

    Returns
    -------
    float
        Ratio. [-]

    Examples
    --------
    >>> across_at_moisture(12.0), round(across_at_moisture(8.0), 3), round(across_at_moisture(16.0), 3)
    (1.0, 1.08, 0.9)
    """
    dry, tested, damp = MOISTURE_TREND
    first, second = (dry, tested) if moisture_percent < tested[0] else (tested, damp)
    slope = (second[1] - first[1]) / (second[0] - first[0])
    return float(first[1] + slope * (moisture_percent - first[0]))
