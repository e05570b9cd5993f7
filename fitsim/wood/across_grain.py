r"""Strength across the grain of one board: by ring direction, moisture and size of piece.

Wood across its grain breaks at its weakest place, so small pieces bear more than large ones
(:mod:`fitsim.wood.weakest_link`). The mean stress at which a piece breaks goes with the volume V that its
own uneven stress stands for:

    mean(V) = f B (V_ref / V)^(1/m)

f B is the mean at V_ref, that of the handbooks' test piece; f is the mean of many boards pulled the way
this one is, B the factor of one board, mean 1. A strip b wide and h thick, loaded in the middle of a span
L, is stressed by sigma = 3 F L/(2 b h^2), which falls to nothing along the span and through half the
thickness, so that V = b h L / (2 (m + 1)^2). Stress times (V/V_ref)^(1/m) is then a reading of f B, without
further factors: the normalising Gamma(1 + 1/m) of both pieces is the same and drops out.

V_ref is the one of the bowl's own chance, with the shear beside the tension in the handbooks' notched piece
(:func:`fitsim.wood.weakest_link.reference_volume_mm3`), although a bending strip has no notch and hardly
any shear (h/(2 L), a twentieth of the tension, and that where the tension is nothing). Two reasons. A
bowl's risk, the integral of (s/(f B))^m dV/V_ref, knows the wood by (f B)^m V_ref alone: with the same
V_ref in both a strip's break reaches it as (s/sigma)^m dV/V, and V_ref drops out. And the handbooks' f,
which strips are held against, is a mean of pieces that broke with their notch's shear: in our measure of
stress they are as likely to break as V_ref at f when that shear is counted. The volume for tension alone
(25.8 cm3 for 28.4 at shape 5, 43.1 for 53.8 at 10) would make every strip speak for a board 2 percent
stronger than it is.

Shape, scatter, ring directions and moisture have their numbers and sources in ``splitting.csv`` and
``variability.csv``, the same for strips and bowls.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from fitsim.wood.moisture import ADJUSTABLE_RANGE_PERCENT, tension_across_share
from fitsim.wood.species import Sourced, splitting, variability
from fitsim.wood.weakest_link import beam_volume_mm3, between_boards, reference_volume_mm3

__all__ = [
    "SHAPES",
    "STANDARD_STRIP",
    "STANDARD_STRIP_INCH",
    "BoardAcross",
    "StripSize",
    "across_at_moisture",
    "beam_stress_MPa",
    "board_scatter",
    "direction_share",
    "mean_load_N",
    "ring_factor",
    "standard_strip",
    "tangential_share",
    "weibull_shape",
]

SHAPES = (5.0, 6.0, 8.0, 10.0)
"""Weibull shapes for which what is learned is kept. [-]"""


def weibull_shape() -> Sourced:
    """Weibull shape of strength across the grain: the one taken, and its ends. [-]"""
    return splitting()["shape"]


_NINE_IN_TEN_SDS = NormalDist().inv_cdf(0.95)
"""Half of what nine in ten of a normal number lie within, in standard deviations."""


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

    def volume_mm3(self, shape: float) -> float:
        """Volume its stress stands for, see :func:`fitsim.wood.weakest_link.beam_volume_mm3`. [mm^3]"""
        return beam_volume_mm3(
            width_mm=self.width_mm, depth_mm=self.thickness_mm, span_mm=self.span_mm, shape=shape
        )


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
        broken, at 12 percent moisture and at the handbooks' volume for that shape. [MPa]
    cov : tuple[float, ...]
        Its remaining coefficient of variation: it stands in place of the scatter between boards. [-]
    ring_angle_rad : float
        Growth rings against the face of the board that was tested. [rad]
    usual_MPa : float
        f: what the handbook makes of a board pulled that way, at 12 percent moisture. [MPa]
    """

    mean_MPa: tuple[float, ...]
    cov: tuple[float, ...]
    ring_angle_rad: float
    usual_MPa: float

    def at_shape(self, shape: float) -> tuple[float, float]:
        """Mean [MPa] and coefficient of variation [-] for any shape, carried along its inverse."""
        inverse = [1 / m for m in reversed(SHAPES)]
        log_mean = np.interp(1 / shape, inverse, np.log(self.mean_MPa[::-1]))
        return float(np.exp(log_mean)), float(np.interp(1 / shape, inverse, self.cov[::-1]))

    def range_MPa(self, shape: float) -> tuple[float, float]:
        """Where f B lies nine times in ten, its logarithm taken as normal. [MPa]"""
        mean, cov = self.at_shape(shape)
        log_sd = math.sqrt(math.log1p(cov**2))
        middle = mean / math.sqrt(1 + cov**2)
        return middle * math.exp(-_NINE_IN_TEN_SDS * log_sd), middle * math.exp(_NINE_IN_TEN_SDS * log_sd)

    def factor(self, shape: float) -> float:
        """B at a shape: how strong this board is beside the usual one. [-]"""
        return self.at_shape(shape)[0] / self.usual_MPa


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
    size = (reference_volume_mm3(shape) / strip.volume_mm3(shape)) ** (1 / shape)
    stress = mean_MPa * size * across_at_moisture(moisture_percent)
    return float(stress / beam_stress_MPa(strip, 1.0))


def board_scatter(shape: float) -> float:
    """Coefficient of variation from board to board that leaves the total scatter as it is published.

    Parameters
    ----------
    shape : float
        Weibull shape m. [-]

    Returns
    -------
    float
        See :func:`fitsim.wood.weakest_link.between_boards`. [-]

    Examples
    --------
    >>> [round(board_scatter(m), 3) for m in SHAPES]
    [0.098, 0.155, 0.199, 0.218]
    """
    return between_boards(variability()["tension_across"].value, shape)


def tangential_share(*, softwood: bool) -> Sourced:
    """Strength across the grain pulled tangentially over the handbooks' mean of both ways.

    Parameters
    ----------
    softwood : bool
        Whether the wood is one.

    Returns
    -------
    Sourced
        Pulled radially it is 2 less this. [-]
    """
    return splitting()[f"tangential_share_{'softwood' if softwood else 'hardwood'}"]


def direction_share(direction_rad: float, *, tangential: float, rift: float) -> float:
    """Strength across the grain by the direction it is pulled in, over the handbooks' mean of both ways.

    Parameters
    ----------
    direction_rad : float
        From tangential towards radial: in the plane of a board the angle of the rings to its face, 0
        flat-sawn, pi/2 quarter-sawn. [rad]
    tangential, rift : float
        That share pulled tangentially; what rings at 45 degrees leave of the mean of both ways. [-]

    Returns
    -------
    float
        Share. [-]
    """
    cc, ss = math.cos(direction_rad) ** 2, math.sin(direction_rad) ** 2
    return (tangential * cc + (2 - tangential) * ss) * (1 - (1 - rift) * 4 * cc * ss)


def ring_factor(ring_angle_rad: float, *, softwood: bool = False) -> float:
    """Strength across the grain in the plane of a board over the handbooks' mean of both ways.

    Parameters
    ----------
    ring_angle_rad : float
        Growth rings against the face. [rad]
    softwood : bool
        Whether the wood is one.

    Returns
    -------
    float
        :func:`direction_share` with the values stated before their ranges. [-]

    Examples
    --------
    >>> round(ring_factor(0.0), 3), round(ring_factor(math.pi / 2), 3), round(ring_factor(math.pi / 4), 3)
    (0.87, 1.13, 0.75)
    """
    return direction_share(
        ring_angle_rad,
        tangential=tangential_share(softwood=softwood).value,
        rift=splitting()["rift_share"].value,
    )


def across_at_moisture(moisture_percent: float) -> float:
    """Strength across the grain at a moisture content, over that at 12 percent.

    Parameters
    ----------
    moisture_percent : float
        Moisture content; beyond the range that the trend serves it stays as at its end. [percent]

    Returns
    -------
    float
        Ratio, see :func:`fitsim.wood.moisture.tension_across_share`. [-]

    Examples
    --------
    >>> across_at_moisture(12.0), round(across_at_moisture(6.0), 3), round(across_at_moisture(20.0), 3)
    (1.0, 1.12, 0.8)
    """
    of = splitting()
    inside = min(max(moisture_percent, ADJUSTABLE_RANGE_PERCENT[0]), ADJUSTABLE_RANGE_PERCENT[1])
    shares = (of["tension_share_6_percent"].value, of["tension_share_20_percent"].value)
    return float(tension_across_share(inside, at_6=shares[0], at_20=shares[1]))
