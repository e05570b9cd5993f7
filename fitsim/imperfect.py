"""Imperfect cuts: the same bowl sawn many times, each time a little different.

The kerf wanders along the cut: a Gaussian random function of the arc length s with covariance
sd^2 exp(-(s - s')^2 / (2 l^2)), made of waves with random amplitudes (a spectral sum, periodic on a
length six l longer than the cut, so that its ends do not know of one another). The shape of the
covariance is an estimate, like the length. The tilt has one setting error for a board, so has the
thickness; stiffness has one factor for a board, with the published scatter of the modulus; every input
known as a range is taken evenly over it. The scatter of strength is not sampled: the chance of
splitting holds it already, exactly.

A rigid turn kept level rests where its slot is narrowest, so the closed form is given the *least* kerf
round each turn, which is exact for the seats (the strip's width is then a few hundredths of a
millimetre too large). A springy turn that settles past its narrowest place sinks lower than that.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.bowl import Bowl, Scatter, with_input
from fitsim.cut import TURN_RAD, spiral_slot, spiral_turns, strip_between_slots
from fitsim.errors import OutsideModelError
from fitsim.rigid import free_end_width_mm
from fitsim.wood import variability

__all__ = ["Imperfections", "bowls_sawn", "imperfections", "least_round_turns", "wander", "wave_weights"]

PERIOD_MARGIN = 6.0
"""Lengths l between the cut's end and its periodic copy; exp(-18) of the variance is shared."""

WAVES_PER_LENGTH = 4.0
"""Waves are kept up to this many radians per l; the rest hold 3e-5 of the deviation at most."""

POINTS_PER_LENGTH = 4
"""Points of the wandering kerf on one l; its least between them is missed by under 1 percent of sd."""

MOST_WAVES = 6000
ELASTIC_CONSTANTS = ("E_L_MPa", "E_R_MPa", "E_T_MPa", "G_LR_MPa", "G_LT_MPa", "G_RT_MPa")
LEAST_SHARE = 0.05
"""A kerf or thickness is never drawn below this share of what was meant."""


@dataclass(frozen=True, eq=False)
class Imperfections:
    """What differs from bowl to bowl, laid out on a unit cube.

    Columns of the cube: one for each input known as a range, then tilt, thickness and stiffness, then
    the waves of the kerf, longest first.

    Attributes
    ----------
    bowl : Bowl
        The bowl that was meant, every range at its middle.
    scatter : Scatter
        How far the cut strays.
    stiffness_share : float
        Standard deviation of the stiffness over its mean. [-]
    wave_share : numpy.ndarray
        Share of the kerf's variance in each wave, the constant first, shape (waves + 1,). [-]
    points : int
        Points of the wandering kerf on one period.
    starts : numpy.ndarray
        First point of each turn of the strip; the last entry is the free end, shape (turns + 1,).
    dimensions : int
        Columns of the cube.
    """

    bowl: Bowl
    scatter: Scatter
    stiffness_share: float
    wave_share: Array
    points: int
    starts: IntArray
    dimensions: int


def wave_weights(*, cut_mm: float, length_mm: float) -> tuple[Array, float]:
    """Share of the variance in each wave of the wandering kerf.

    Parameters
    ----------
    cut_mm : float
        Length of the cut. [mm]
    length_mm : float
        Length l of the covariance. [mm]

    Returns
    -------
    tuple[numpy.ndarray, float]
        Shares, constant first, sum 1, shape (waves + 1,), and the period. [-, mm]

    Raises
    ------
    OutsideModelError
        If the cut is thousands of lengths long.
    """
    period = cut_mm + PERIOD_MARGIN * length_mm
    count = math.ceil(WAVES_PER_LENGTH * period / (TURN_RAD * length_mm))
    if count > MOST_WAVES:
        message = f"scatter.kerf_length of {length_mm:g} mm is too short for a cut of {cut_mm / 1000:.0f} m"
        raise OutsideModelError(message)
    # The spectrum of exp(-s^2/(2 l^2)) is exp(-(omega l)^2/2).
    number = TURN_RAD * np.arange(count + 1) * length_mm / period
    share = np.exp(-(number**2) / 2)
    share[1:] *= 2
    return np.asarray(share / share.sum()), period


def wander(normals: Array, *, wave_share: Array, points: int) -> Array:
    """Wandering of unit variance on an even grid over one period.

    Parameters
    ----------
    normals : numpy.ndarray
        Independent standard normal numbers: the constant, then two for each wave, shape
        (n, 2 waves + 1).
    wave_share : numpy.ndarray
        From :func:`wave_weights`, shape (waves + 1,).
    points : int
        Points of the grid, more than twice the waves.

    Returns
    -------
    numpy.ndarray
        Shape (n, points). [-]
    """
    size = np.sqrt(wave_share)
    terms = np.empty((len(normals), len(wave_share)), dtype=np.complex128)
    terms[:, 0] = size[0] * normals[:, 0]
    # Halved, because the transform adds each wave and its mirror.
    terms[:, 1:] = size[1:] * (normals[:, 1::2] - 1j * normals[:, 2::2]) / 2
    return np.asarray(np.fft.irfft(terms, n=points, axis=1) * points)


def least_round_turns(values: Array, starts: IntArray) -> Array:
    """Least value over each turn.

    Parameters
    ----------
    values : numpy.ndarray
        Along the cut from the root, shape (n, points).
    starts : numpy.ndarray
        First point of each turn, the free end last, shape (turns + 1,).

    Returns
    -------
    numpy.ndarray
        Shape (n, turns).
    """
    along = values[:, : int(starts[-1]) + 1]
    return np.asarray(np.minimum.reduceat(along, starts[:-1], axis=1))


def imperfections(bowl: Bowl, *, scatter: Scatter | None = None) -> Imperfections:
    """Lay out what differs from bowl to bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl that was meant.
    scatter : Scatter or None
        In place of the bowl's own.

    Returns
    -------
    Imperfections
        Ready for :func:`bowls_sawn`.
    """
    scatter = bowl.scatter if scatter is None else scatter
    cut, outer_mm = bowl.cut, bowl.board.across_mm / 2
    slot = spiral_slot(
        base_radius_mm=cut.base_radius_mm,
        outer_radius_mm=outer_mm,
        pitch_mm=cut.pitch_mm,
        kerf_mm=cut.kerf_mm,
        tilt_rad=cut.tilt_rad,
        pitch_shape=cut.pitch_shape,
    )
    strip = strip_between_slots(
        slot,
        across_mm=bowl.board.across_mm,
        outline=bowl.board.outline,
        end_width_mm=free_end_width_mm(cut, slot),
    )
    # Arc of the spiral, the lean of its tangent left out (a thousandth of the length).
    turns = np.append(np.arange(math.ceil(strip.turns - 1e-9)), strip.turns)
    arc = TURN_RAD * turns * (cut.base_radius_mm + cut.pitch_mm * turns / 2)
    if cut.pitch_shape:
        swept = np.append(
            0.0, np.cumsum((slot.radius_mm[1:] + slot.radius_mm[:-1]) / 2 * np.diff(slot.angle_rad))
        )
        arc = np.interp(TURN_RAD * turns, slot.angle_rad, swept)
    share, period = wave_weights(cut_mm=float(arc[-1]), length_mm=scatter.kerf_length_mm)
    points = 2 * math.ceil(POINTS_PER_LENGTH * period / scatter.kerf_length_mm / 2)
    starts = np.floor(arc / period * points).astype(np.int64)
    return Imperfections(
        bowl=bowl,
        scatter=scatter,
        stiffness_share=variability()["modulus"].value,
        wave_share=share,
        points=points,
        starts=starts,
        dimensions=len(bowl.uncertain) + 3 + 2 * len(share) - 1,
    )


def bowls_sawn(
    imperfect: Imperfections, points: Array, *, tilt_rad: float | None = None
) -> tuple[Bowl, ...]:
    """The bowls at points of the unit cube.

    Parameters
    ----------
    imperfect : Imperfections
        What differs.
    points : numpy.ndarray
        Points of the cube, shape (n, dimensions); the same points give the same bowls.
    tilt_rad : float or None
        Tilt that was meant, in place of the bowl's own. [rad]

    Returns
    -------
    tuple[Bowl, ...]
        One bowl for each point, every input at one value, one kerf for each turn.
    """
    from scipy.special import ndtri

    meant, scatter = imperfect.bowl, imperfect.scatter
    if tilt_rad is not None:  # first, so that a range of the scale's error moves the tilt from here
        meant = with_input(meant, "cut.tilt_rad", tilt_rad)
    ranges = len(meant.uncertain)
    normal = ndtri(np.clip(points[:, ranges:], 2.0**-40, 1 - 2.0**-40))
    least = scatter.kerf_mm * least_round_turns(
        wander(normal[:, 3:], wave_share=imperfect.wave_share, points=imperfect.points), imperfect.starts
    )
    sawn = []
    for point, (tilt, thick, stiff), narrower in zip(
        points[:, :ranges], normal[:, :3].tolist(), least.tolist(), strict=True
    ):
        bowl = meant
        for at, u in zip(point.tolist(), meant.uncertain, strict=True):
            bowl = with_input(bowl, u.path, u.low + at * (u.high - u.low))
        sawn.append(
            _sawn(
                bowl,
                narrower_mm=narrower,
                tilt_error_rad=scatter.tilt_rad * tilt,
                thicker_mm=scatter.thickness_mm * thick,
                stiffer=max(1 + imperfect.stiffness_share * stiff, LEAST_SHARE),
            )
        )
    return tuple(sawn)


def _sawn(
    bowl: Bowl,
    *,
    narrower_mm: list[float],
    tilt_error_rad: float,
    thicker_mm: float,
    stiffer: float,
) -> Bowl:
    board, cut = bowl.board, bowl.cut
    whole = spiral_turns(
        base_radius_mm=cut.base_radius_mm,
        outer_radius_mm=board.across_mm / 2,
        pitch_mm=cut.pitch_mm,
        pitch_shape=cut.pitch_shape,
    )
    turns = math.ceil(whole - 1e-9)
    kerfs = cut.kerf_mm * (turns if len(cut.kerf_mm) == 1 else 1)
    # Beyond the free end the slot bounds no turn: there the kerf is what was meant.
    errors = (narrower_mm + [0.0] * turns)[:turns]
    kerf = tuple(max(k + e, LEAST_SHARE * k) for k, e in zip(kerfs, errors, strict=True))
    numbers = {n: getattr(board.wood, n) for n in ELASTIC_CONSTANTS}
    wood = replace(
        board.wood, **{n: replace(number, value=stiffer * number.value) for n, number in numbers.items()}
    )
    thickness = max(board.thickness_mm + thicker_mm, LEAST_SHARE * board.thickness_mm)
    return replace(
        bowl,
        board=replace(board, thickness_mm=thickness, wood=wood),
        cut=replace(cut, kerf_mm=kerf, tilt_rad=tuple(t + tilt_error_rad for t in cut.tilt_rad)),
        assumptions=(),
        uncertain=(),
    )
