"""Will the wood hold? Stresses resolved into grain axes, the ways wood gives, and the chance of each.

Wood gives in four ways (:data:`MODES`), each with a draw of its own:

- *splitting*: tension across the grain with the shears beside it, s = f sqrt((sigma/f)^2 +
  (tau_along/f_v)^2 + (tau_roll/f_r)^2) with compression left out; bending along the grain leaves this sum
  (splitting is a mode of its own: Mackenzie-Helnwein, Eberhardsteiner and Mang 2003, abstract). The
  quadratic sum is that of C. B. Norris (1962, from memory). It counts over the stressed volume
  (:mod:`fitsim.wood.weakest_link`).
- *rolling shear* counts over the stressed volume too: it is smaller in large pieces (torque on small blocks
  against short beams, J. Wood Sci. 2016, doi 10.1007/s10086-016-1567-2; widths and load cases, L. P. Norlin
  1997; thicknesses, C. O'Ceallaigh, K. Sikora and A. Harte 2018; all abstracts), as is tension across the
  grain, which it is at 45 degrees.
- *shear along the grain* and *breaking along the grain*: the place most stressed decides, without a size
  effect.

The strength across the grain depends on which way the growth rings are pulled: the handbooks print the mean
of tangential and radial (:mod:`fitsim.wood.across_grain`). Where strips of the board itself were broken,
their f B and what they leave uncertain stand in place of the handbook's f and the scatter between boards,
at whatever shape is used. B is common to all of splitting, as it is without a test: the shears beside the
tension are held against strengths B times the handbook's. Shear as a mode of its own has a draw of its own,
which no strip tells of.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from fitsim.arrays import Array, ArrayLike, IntArray, read_only
from fitsim.wood.across_grain import BoardAcross, direction_share, ring_factor, tangential_share
from fitsim.wood.moisture import wood_at_moisture
from fitsim.wood.species import Wood, splitting, variability
from fitsim.wood.weakest_link import (
    between_boards,
    chance_of_any,
    chance_of_risk,
    chances_of_risks,
    reference_volume_mm3,
    stress_scale,
)

__all__ = [
    "FAILURE_MODES",
    "MODES",
    "ChanceRange",
    "GrainStrength",
    "GrainStress",
    "SplitChance",
    "aligned",
    "chance_over_ranges",
    "chances_by_turn",
    "grain_strength",
    "grain_stress",
    "main_cause",
    "mode_squares",
    "split_chance",
    "turn_risks",
    "whole_risks",
    "worst_place",
]

FAILURE_MODES = (
    "shear along the grain",
    "rolling shear",
    "tension across the grain",
    "bending along the grain",
)
"""The four directions in which stress is held against strength."""

MODES = ("splitting", "shear along the grain", "rolling shear", "breaking along the grain")
"""The four ways wood gives, in the order of the rows of :func:`mode_squares`."""


RIFT = 0.3
"""A board is rift-sawn where twice its ring angle has a sine above this: 9 to 81 degrees. Our choice."""


@dataclass(frozen=True)
class GrainStrength:
    """Mean strengths by direction, how they scatter, and what the weakest link needs to know.

    Attributes
    ----------
    shear_along_MPa, rolling_shear_MPa, tension_across_MPa, bending_MPa : float
        Shear parallel to the grain, shear rolling the fibres, tension across as the handbooks print it (the
        mean of both ring directions) or as strips of the board have it, bending. [MPa]
    shear_along_cov, rolling_shear_cov, tension_across_cov, bending_cov : float
        Standard deviation over mean, boards and places together. [-]
    tangential_share : float
        Strength across pulled tangentially over that mean; radially it is 2 less this. [-]
    rift_share : float
        Strength across at rings of 45 degrees over the mean of both directions. [-]
    shape, shear_shape : float
        Weibull shape of splitting, and of the other modes. [-]
    reference_mm3 : float
        Volume that stands for the test piece of tension across. [mm^3]
    rolling_reference_mm3 : float or None
        That of rolling shear; None where no size effect is taken. [mm^3]
    shear_reference_mm3 : float or None
        That of shear along the grain; None where no size effect is taken. [mm^3]
    tested : BoardAcross or None
        What strips of this board have told; ``tension_across_MPa`` is theirs then.
    """

    shear_along_MPa: float
    rolling_shear_MPa: float
    tension_across_MPa: float
    bending_MPa: float
    shear_along_cov: float
    rolling_shear_cov: float
    tension_across_cov: float
    bending_cov: float
    tangential_share: float = 0.87
    rift_share: float = 0.75
    shape: float = 6.0
    shear_shape: float = 10.0
    reference_mm3: float = 30500.0
    rolling_reference_mm3: float | None = 150000.0
    shear_reference_mm3: float | None = None
    tested: BoardAcross | None = None

    def across_MPa(self, direction_rad: float) -> float:
        """Strength across the grain pulled at an angle from tangential towards radial. [MPa].

        Parameters
        ----------
        direction_rad : float
            0 tangential, pi/2 radial. [rad]

        Returns
        -------
        float
            The handbooks' value by ring direction, with the loss of rift wood between. [MPa]
        """
        share = direction_share(direction_rad, tangential=self.tangential_share, rift=self.rift_share)
        return self.tension_across_MPa * share

    @property
    def board_factor(self) -> float:
        """How strong this board is beside the usual one, by its own strips; 1 without them. [-]"""
        return 1.0 if self.tested is None else self.tested.factor(self.shape)

    def at_shape(self, shape: float) -> "GrainStrength":
        """The same wood at another Weibull shape of splitting.

        Parameters
        ----------
        shape : float
            Weibull shape. [-]

        Returns
        -------
        GrainStrength
            With that shape's volume of the test piece, and that shape's f B of a tested board.
        """
        volume = self.reference_mm3 * reference_volume_mm3(shape) / reference_volume_mm3(self.shape)
        other = replace(self, shape=shape, reference_mm3=volume)
        told = other.board_factor / self.board_factor
        return replace(other, tension_across_MPa=self.tension_across_MPa * told)

    @property
    def shapes(self) -> tuple[float, ...]:
        """Weibull shape of each of :data:`MODES`. [-]"""
        return (self.shape, *(self.shear_shape,) * 3)

    @property
    def betweens(self) -> tuple[float, ...]:
        """Scatter between boards of each of :data:`MODES`. [-]"""
        covs = (self.tension_across_cov, self.shear_along_cov, self.rolling_shear_cov, self.bending_cov)
        first, *others = (between_boards(cov, m) for cov, m in zip(covs, self.shapes, strict=True))
        return (first if self.tested is None else self.tested.at_shape(self.shape)[1], *others)

    @property
    def volumes_mm3(self) -> tuple[float | None, ...]:
        """Volume of the test piece of each of :data:`MODES`; None: its worst place decides. [mm^3]"""
        return (self.reference_mm3, self.shear_reference_mm3, self.rolling_reference_mm3, None)


@dataclass(frozen=True, eq=False)
class GrainStress:
    """Stress in grain axes, arrays of one shape.

    Attributes
    ----------
    along_MPa : numpy.ndarray
        Along the grain, tension positive. [MPa]
    shear_along_squared_MPa2 : numpy.ndarray
        Shear on planes along the grain, both together, squared. [MPa^2]
    rolling_MPa : numpy.ndarray
        Shear that rolls the fibres over each other, either way. [MPa]
    straight_MPa, tangential_MPa, radial_MPa : numpy.ndarray
        Across the grain: straight across the board, and along and square to the growth rings; tension
        positive. [MPa]
    ring_angle_rad : float
        Growth rings against the face of the board, below 0 where they lean to the other side. [rad]
    """

    along_MPa: Array
    shear_along_squared_MPa2: Array
    rolling_MPa: Array
    straight_MPa: Array
    tangential_MPa: Array
    radial_MPa: Array
    ring_angle_rad: float

    @property
    def shear_along_MPa(self) -> Array:
        """Shear on planes along the grain, both together. [MPa]"""
        return np.sqrt(self.shear_along_squared_MPa2)

    @property
    def rolling_shear_MPa(self) -> Array:
        """Shear that rolls the fibres over each other, its size. [MPa]"""
        return np.abs(self.rolling_MPa)

    @property
    def tension_across_MPa(self) -> Array:
        """Greatest tension across the grain in any of the three directions; 0 in compression. [MPa]"""
        pull = np.maximum(np.maximum(self.tangential_MPa, self.radial_MPa), self.straight_MPa)
        return np.asarray(np.maximum(pull, 0.0))


def grain_strength(wood: Wood, moisture_percent: float, tested: BoardAcross | None = None) -> GrainStrength:
    """Strengths of a wood at a moisture content, with the scatter of clear wood.

    Parameters
    ----------
    wood : Wood
        Values at 12 percent.
    moisture_percent : float
        Moisture content. [percent]
    tested : BoardAcross or None
        Strength across the grain of this very board, where strips of it were broken. [MPa]

    Returns
    -------
    GrainStrength
        Every number the value stated before its range.
    """
    now, scatter, of = wood_at_moisture(wood, moisture_percent), variability(), splitting()
    softwood, shape = wood.group == "softwood", of["shape"].value
    across = now.tension_across_MPa.value
    if tested is not None:
        straight, _ = tested.at_shape(shape)
        both_ways = straight / ring_factor(tested.ring_angle_rad, softwood=softwood)
        across = both_ways * now.tension_across_MPa.value / wood.tension_across_MPa.value
    return GrainStrength(
        shear_along_MPa=now.shear_along_MPa.value,
        rolling_shear_MPa=now.rolling_shear_MPa.value,
        tension_across_MPa=across,
        bending_MPa=now.bending_strength_MPa.value,
        shear_along_cov=scatter["shear_along"].value,
        rolling_shear_cov=scatter["rolling_shear"].value,
        tension_across_cov=scatter["tension_across"].value,
        bending_cov=scatter["bending"].value,
        tangential_share=tangential_share(softwood=softwood).value,
        rift_share=of["rift_share"].value,
        shape=shape,
        shear_shape=of["shear_shape"].value,
        reference_mm3=reference_volume_mm3(shape),
        rolling_reference_mm3=1000 * of["rolling_volume_cm3"].value,
        tested=tested,
    )


def grain_stress(
    *,
    sigma_s_MPa: Array,
    tau_sn_MPa: Array,
    tau_sz_MPa: Array,
    psi_rad: Array,
    ring_angle_rad: float,
    sigma_n_MPa: Array | None = None,
    sigma_z_MPa: Array | None = None,
    tau_nz_MPa: Array | None = None,
) -> GrainStress:
    """Resolve stresses of a strip into grain axes.

    Parameters
    ----------
    sigma_s_MPa, tau_sn_MPa, tau_sz_MPa : numpy.ndarray
        Along the strip (tension positive); shear of s with the outward normal n; shear of s with the
        thickness z; any one shape. [MPa]
    psi_rad : numpy.ndarray
        Angle from the grain to the strip's tangent, a shape that broadcasts with them. [rad]
    ring_angle_rad : float
        Growth rings against the face of the board, 0 flat-sawn. [rad]
    sigma_n_MPa, sigma_z_MPa, tau_nz_MPa : numpy.ndarray or None
        Outward, through the thickness, and their shear, of that shape; None, all three: nothing acts in
        the section's own plane. [MPa]

    Returns
    -------
    GrainStress
        Arrays of that shape.
    """
    c, s = np.cos(psi_rad), np.sin(psi_rad)
    # Board axes: the tangent is (c, s), the outward normal of a counter-clockwise strip (s, -c).
    twice = (2 * c * s) * tau_sn_MPa
    along = c**2 * sigma_s_MPa + twice
    across = s**2 * sigma_s_MPa - twice
    shear_xy = (c * s) * sigma_s_MPa - (c**2 - s**2) * tau_sn_MPa
    shear_xz = c * tau_sz_MPa
    shear_yz = s * tau_sz_MPa
    through = np.zeros(1)
    if sigma_n_MPa is not None and sigma_z_MPa is not None and tau_nz_MPa is not None:
        along += s**2 * sigma_n_MPa
        across += c**2 * sigma_n_MPa
        shear_xy -= (c * s) * sigma_n_MPa
        shear_xz += s * tau_nz_MPa
        shear_yz = shear_yz - c * tau_nz_MPa
        through = np.asarray(sigma_z_MPa)
    shear_xy *= shear_xy
    shear_xz *= shear_xz
    shear_xz += shear_xy
    C, S = math.cos(ring_angle_rad), math.sin(ring_angle_rad)
    if aligned(ring_angle_rad):
        # Rings flat or upright: nothing to turn.
        turn = round(C**2 - S**2)
        rolling, parts = turn * shear_yz, (across, through) if turn > 0 else (through, across)
    else:
        turned = 2 * C * S * shear_yz
        rolling = C * S * (across - through) + (C**2 - S**2) * shear_yz
        parts = (C**2 * across + S**2 * through - turned, S**2 * across + C**2 * through + turned)
    return GrainStress(
        along_MPa=np.asarray(along),
        shear_along_squared_MPa2=np.asarray(shear_xz),
        rolling_MPa=np.asarray(rolling),
        straight_MPa=np.asarray(across),
        tangential_MPa=np.broadcast_to(parts[0], np.shape(across)),
        radial_MPa=np.broadcast_to(parts[1], np.shape(across)),
        ring_angle_rad=ring_angle_rad,
    )


def aligned(ring_angle_rad: float) -> bool:
    """Whether growth rings lie flat or upright, so that tension pulls straight along or square to them.

    Parameters
    ----------
    ring_angle_rad : float
        Growth rings against the face of the board. [rad]

    Returns
    -------
    bool
        Within a billionth.
    """
    return abs(math.sin(2 * ring_angle_rad)) < 1e-9


def _tension_share(stress: GrainStress, strength: GrainStrength) -> Array:
    """Tension across over strength in the direction that comes worst off; 0 in compression."""
    # Rings flat or upright: what pulls straight across the board is one of the two.
    share = np.maximum(stress.tangential_MPa * (1 / strength.across_MPa(0.0)), 0.0)
    share = np.maximum(share, stress.radial_MPa * (1 / strength.across_MPa(math.pi / 2)))
    if not aligned(stress.ring_angle_rad):
        share = np.maximum(share, stress.straight_MPa / strength.across_MPa(stress.ring_angle_rad))
    return np.asarray(share)


def mode_squares(stress: GrainStress, strength: GrainStrength) -> tuple[Array, ...]:
    """Squared stress over mean strength in each of :data:`MODES`.

    Parameters
    ----------
    stress : GrainStress
        Arrays of any one shape.
    strength : GrainStrength
        Mean strengths.

    Returns
    -------
    tuple of numpy.ndarray
        Four arrays of that shape; 1 at mean strength. [-]
    """
    tension = _tension_share(stress, strength)
    tension *= tension
    board = 1 / strength.board_factor**2
    along = stress.shear_along_squared_MPa2 * (1 / strength.shear_along_MPa**2)
    roll = stress.rolling_MPa * (1 / strength.rolling_shear_MPa)
    roll *= roll
    tension += along if board == 1 else along * board
    tension += roll if board == 1 else roll * board
    break_ = stress.along_MPa * (1 / strength.bending_MPa)
    break_ *= break_
    return tension, along, roll, break_


def main_cause(stress: GrainStress, strength: GrainStrength, mode: str) -> tuple[str, float, float]:
    """Direction most used at one place, with its stress and mean strength.

    Parameters
    ----------
    stress : GrainStress
        At one place: every array holds one number.
    strength : GrainStrength
        Mean strengths.
    mode : str
        One of :data:`MODES`; only splitting has several directions.

    Returns
    -------
    cause : str
        One of :data:`FAILURE_MODES`.
    stress_MPa, strength_MPa : float
        There. [MPa]
    """
    f = strength
    tension = float(_tension_share(stress, f).item())
    straight = f.across_MPa(stress.ring_angle_rad)
    board = f.board_factor if mode == MODES[0] else 1.0
    found = (
        (float(stress.shear_along_MPa.item()), f.shear_along_MPa * board),
        (float(stress.rolling_shear_MPa.item()), f.rolling_shear_MPa * board),
        (tension * straight, straight),
        (abs(float(stress.along_MPa.item())), f.bending_MPa),
    )
    place = {MODES[1]: 0, MODES[2]: 1, MODES[3]: 3}.get(mode)
    if place is None:
        place = max(range(3), key=lambda i: found[i][0] / found[i][1])
    return FAILURE_MODES[place], *found[place]


def _power(square: Array, shape: float) -> Array:
    """s^m from s^2; whole and half powers by multiplying, which is many times faster."""
    half = shape / 2
    if half != int(half):
        return np.asarray(square**half)
    found = square * square if half > 1 else square.copy()
    for _ in range(int(half) - 2):
        found *= square
    return found


def turn_risks(
    squares: tuple[Array, ...],
    *,
    area_mm2: Array,
    length_mm: Array,
    turn: IntArray,
    turns: int,
    strength: GrainStrength,
) -> Array:
    """Risk of each mode on each turn of a strip, as :mod:`fitsim.wood.weakest_link` has it.

    Parameters
    ----------
    squares : tuple of numpy.ndarray
        From :func:`mode_squares`, each of shape (sections, places).
    area_mm2 : numpy.ndarray
        Area each place of a section stands for, shape (sections, places). [mm^2]
    length_mm : numpy.ndarray
        Length of strip each section stands for, shape (sections,). [mm]
    turn : numpy.ndarray
        Turn of each section, from 0, shape (sections,).
    turns : int
        How many there are.
    strength : GrainStrength
        For the shapes and volumes.

    Returns
    -------
    numpy.ndarray
        Shape (4, turns): of a mode that counts by volume they add up, of the others the greatest is
        that of the strip. [-]
    """
    risks = np.zeros((len(MODES), turns))
    for i, (square, shape, volume) in enumerate(
        zip(squares, strength.shapes, strength.volumes_mm3, strict=True)
    ):
        if volume is None:
            np.maximum.at(risks[i], turn, square.max(axis=1) ** (shape / 2))
        else:
            each = np.einsum("sp,sp->s", _power(square, shape), area_mm2) * length_mm / volume
            risks[i] = np.bincount(turn, each, turns)
    return risks


def worst_place(
    stress: GrainStress, squares: tuple[Array, ...], area_mm2: Array, split: "SplitChance"
) -> tuple[int, int, tuple[str, float, float]]:
    """Where a strip gives likeliest: the section that adds most to its likeliest mode.

    Parameters
    ----------
    stress : GrainStress
        Arrays of shape (sections, places).
    squares : tuple of numpy.ndarray
        From :func:`mode_squares`, each of that shape. [-]
    area_mm2 : numpy.ndarray
        Area each place stands for, that shape. [mm^2]
    split : SplitChance
        Says which mode is the likeliest.

    Returns
    -------
    section, place : int
        Indices; the place is the one most stressed in that section.
    cause : tuple[str, float, float]
        From :func:`main_cause`.
    """
    mode = MODES.index(split.mode)
    square = squares[mode]
    if split.strength.volumes_mm3[mode] is None:
        section = int(np.argmax(square.max(axis=1)))
    else:
        section = int(np.argmax((_power(square, split.strength.shapes[mode]) * area_mm2).sum(axis=1)))
    place = int(np.argmax(square[section]))
    one = {
        f.name: np.asarray(getattr(stress, f.name)[section, place])
        for f in fields(GrainStress)
        if f.name != "ring_angle_rad"
    }
    there = GrainStress(**one, ring_angle_rad=stress.ring_angle_rad)
    return section, place, main_cause(there, split.strength, split.mode)


@dataclass(frozen=True, eq=False)
class SplitChance:
    """Chance that a strip gives on opening, by mode and turn.

    Attributes
    ----------
    chance : float
        That it gives in any mode. [-]
    chances : tuple[float, ...]
        In each of :data:`MODES`. [-]
    risks : numpy.ndarray
        From :func:`turn_risks`, shape (4, turns). [-]
    strength : GrainStrength
        What it was worked out with.
    """

    chance: float
    chances: tuple[float, ...]
    risks: Array
    strength: GrainStrength

    @property
    def mode(self) -> str:
        """The likeliest of :data:`MODES`."""
        return MODES[int(np.argmax(self.chances))]

    def of_board(self, factor: float) -> float:
        """The chance if it were known how strong this board is in splitting.

        Parameters
        ----------
        factor : float
            Strength of the board over that of ``strength``: the risk goes with its power -m. [-]

        Returns
        -------
        float
            Chance; the other modes keep their scatter between boards. [-]
        """
        f = self.strength
        risk = float(whole_risks(self.risks, f)[0]) * factor**-f.shape
        known = chance_of_risk(min(risk, 1e300), shape=f.shape, between=0.0)
        return float(chance_of_any((known, *self.chances[1:])))

    @cached_property
    def times_to_limit(self) -> float:
        """How many times as hard all stresses must be for a chance of 1 in 10. [-]"""
        return self.times_to(0.1)

    def times_to(self, chance: float) -> float:
        """How many times as hard all stresses must be for a chance.

        Parameters
        ----------
        chance : float
            Between 0 and 1. [-]

        Returns
        -------
        float
            Below 1 where the chance is beyond it already. [-]
        """
        f = self.strength
        return stress_scale(whole_risks(self.risks, f), shapes=f.shapes, betweens=f.betweens, chance=chance)


def whole_risks(risks: Array, strength: GrainStrength) -> Array:
    """Risk of each mode for the whole strip, from those of its turns.

    Parameters
    ----------
    risks : numpy.ndarray
        Shape (4, ..., turns). [-]
    strength : GrainStrength
        Says which modes count by volume.

    Returns
    -------
    numpy.ndarray
        Shape (4, ...). [-]
    """
    volumes = strength.volumes_mm3
    return np.stack(
        [r.max(axis=-1) if v is None else r.sum(axis=-1) for r, v in zip(risks, volumes, strict=True)]
    )


def split_chance(risks: Array, strength: GrainStrength) -> SplitChance:
    """Chance that a strip gives, its whole length counted once.

    Parameters
    ----------
    risks : numpy.ndarray
        From :func:`turn_risks`, shape (4, turns). [-]
    strength : GrainStrength
        What they were worked out with.

    Returns
    -------
    SplitChance
        Modes are independent draws: 1 - product of (1 - P).
    """
    whole = whole_risks(risks, strength)
    chances = tuple(
        chance_of_risk(float(r), shape=m, between=b)
        for r, m, b in zip(whole, strength.shapes, strength.betweens, strict=True)
    )
    return SplitChance(float(chance_of_any(chances)), chances, read_only(risks), strength)


def chances_by_turn(
    risks: Array, strength: GrainStrength, stress: ArrayLike, *, error_log: float = 0.0
) -> Array:
    """Chance that strips give and at which turn, stresses on each turn as many times those of one strip.

    Parameters
    ----------
    risks : numpy.ndarray
        Of that one strip, from :func:`turn_risks`, shape (4, turns). [-]
    strength : GrainStrength
        What they were worked out with.
    stress : array_like
        Stress over strength of each turn against that strip's, shape (n, turns). [-]
    error_log : float
        Standard deviation of the logarithm of an error in all stresses alike. [-]

    Returns
    -------
    numpy.ndarray
        Shape (n, turns): each row adds up to the chance that the strip gives. [-]
    """
    log = np.log(np.maximum(np.asarray(stress, dtype=np.float64), 1e-9))
    chances, shares = [], []
    for i, (shape, between) in enumerate(zip(strength.shapes, strength.betweens, strict=True)):
        each = risks[i] * np.exp(np.minimum(shape * log, 200.0))
        by_volume = strength.volumes_mm3[i] is not None
        whole = each.sum(axis=1) if by_volume else each.max(axis=1)
        chances.append(chances_of_risks(whole, shape=shape, between=between, error_log=error_log))
        # Where the worst place decides, turns nearly as bad share with it.
        shares.append(each / np.maximum(each.sum(axis=1, keepdims=True), 1e-300))
    total = chance_of_any(np.stack(chances))
    parts = sum(c[:, None] * s for c, s in zip(chances, shares, strict=True))
    return np.asarray(total[:, None] * parts / np.maximum(parts.sum(axis=1, keepdims=True), 1e-300))


@dataclass(frozen=True)
class ChanceRange:
    """How far the chance of splitting moves with what no bowl file holds.

    Attributes
    ----------
    low, high : float
        Least and greatest chance, one input after another at its ends. [-]
    decides : str
        The input that moves it most, in a maker's words.
    """

    low: float
    high: float
    decides: str


_OPEN_AFTER_STRIPS = (
    "how strength falls with size",
    "strength in rolling shear",
    "size effect of rolling shear",
    "size effect of shear along the grain",
)


def _named_ends(
    strength: GrainStrength, wood: Wood, ring_angle_rad: float
) -> dict[str, tuple[GrainStrength, ...]]:
    """Both ends of every input of the weakest link, the others at their middles."""
    of, scatter = splitting(), variability()
    side, roll = tangential_share(softwood=wood.group == "softwood"), wood.rolling_shear_MPa
    shapes = (of["shape"].low, of["shape"].high)
    ends = {
        "how strength falls with size": tuple(strength.at_shape(m) for m in shapes),
        "the volume of the handbook's test piece": tuple(
            replace(strength, reference_mm3=1000 * v)
            for v in (of["reference_volume_cm3"].low, of["reference_volume_cm3"].high)
        ),
        "scatter of strength across the grain": tuple(
            replace(strength, tension_across_cov=v)
            for v in (scatter["tension_across"].low, scatter["tension_across"].high)
        ),
        "which way the rings are pulled": tuple(
            replace(strength, tangential_share=v) for v in (side.low, side.high)
        ),
        "strength in rolling shear": tuple(
            replace(strength, rolling_shear_MPa=strength.rolling_shear_MPa * end / roll.value)
            for end in (roll.low, roll.high)
        ),
        # The far end takes none at all, as of shear along: nobody measured hardwood pieces this small.
        "size effect of rolling shear": tuple(
            replace(strength, rolling_reference_mm3=v) for v in (None, 1000 * of["rolling_volume_cm3"].high)
        ),
        "size effect of shear along the grain": (
            replace(strength, shear_reference_mm3=1000 * of["shear_volume_cm3"].value),
        ),
    }  # fmt: skip
    if abs(math.sin(2 * ring_angle_rad)) > RIFT:
        ends["strength of rift wood"] = tuple(
            replace(strength, rift_share=v) for v in (of["rift_share"].low, of["rift_share"].high)
        )
    if strength.tested is not None:
        # With strips of the board the test piece drops out; what they leave open is in their scatter.
        return {name: each for name, each in ends.items() if name in _OPEN_AFTER_STRIPS}
    return ends


def chance_over_ranges(
    find: Callable[[GrainStrength], float],
    strength: GrainStrength,
    wood: Wood,
    *,
    ring_angle_rad: float,
    others: Mapping[str, float] | None = None,
) -> ChanceRange:
    """Range of a chance of splitting over the inputs of the weakest link, to be shown beside it.

    Parameters
    ----------
    find : callable
        The chance for given strengths. [-]
    strength : GrainStrength
        Everything at the value stated before its range.
    wood : Wood
        For the ring directions.
    ring_angle_rad : float
        Growth rings against the face of the board. [rad]
    others : mapping of str to float, optional
        Chances with something else than a strength otherwise, by its name in a maker's words. [-]

    Returns
    -------
    ChanceRange
        Each input goes to its ends by itself.
    """
    middle = find(strength)
    by_input = {
        name: [find(end) for end in ends]
        for name, ends in _named_ends(strength, wood, ring_angle_rad).items()
    } | {name: [chance] for name, chance in (others or {}).items()}

    def moves(name: str) -> float:
        logs = [abs(math.log(max(v, 1e-12) / max(middle, 1e-12))) for v in by_input[name]]
        return max(logs)

    every = [middle, *(v for found in by_input.values() for v in found)]
    return ChanceRange(min(every), max(every), max(by_input, key=moves))
