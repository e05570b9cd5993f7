"""Stress along the pressed strip, resolved to the grain, and the chance that it splits.

At every section the forces and moments are those of statics. From them :mod:`fitsim.strip.warping` has all
six stresses at places all over the section: curved, off its grain, warping where the grain turns under it
and at a root that the base holds plane. They are resolved to the grain there, and the chance counts the
whole strip once (:mod:`fitsim.wood.strength`): every section stands for its length, Gauss-Lobatto's rule
for its places. An element has one section, at its middle; near the root, where the warping dies out within
the strip's width or two, it has several.

What a neighbour or the nail presses into the wood where it touches is not in these stresses, nor is what
the slot's sharp end adds, see `root`. A base is not as stiff as a clamp: at the root tension and bending
err high, and shear errs low, since a section that can warp a little carries its torque by shear.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray, frozen, read_only
from fitsim.strip.beam import ElasticStrip
from fitsim.strip.curved_bar import BarStress, CurvedBar, Places, places_mm
from fitsim.strip.state import ElasticBowl, PressState
from fitsim.strip.torsion import section_places
from fitsim.strip.warping import WarpedStrip, stress_places, warped_stress, warped_strip
from fitsim.wood.species import Wood
from fitsim.wood.strength import (
    MODES,
    ChanceRange,
    GrainStrength,
    GrainStress,
    SplitChance,
    aligned,
    chance_over_ranges,
    grain_stress,
    mode_squares,
    split_chance,
    turn_risks,
    worst_place,
)

__all__ = [
    "ResolvedStress",
    "StripField",
    "StripStress",
    "StripWood",
    "WorstPlace",
    "limit_press_N",
    "resolved_stress",
    "section_forces",
    "split_range",
    "strip_field",
    "strip_stress",
]

LEAST_GROWTH = 1.0
"""Power of the press with which stress is carried on to harder presses, if it grew more slowly so far. It
grows more steeply there: on one bowl with the 0.4 of the press to 100 N, the 0.6 to 200, and as the press
from there to 400, when the last turn is the worst. As the press errs on the safe side."""

PLACES = (7, 11)
"""Places over the width and through the thickness: twice as many move the chance by less than 1 percent."""

BESIDE_ROOT = 0.4
"""Closer to the root than this share of the strip's width the stress at that distance is taken. At the edge
of a clamp stress grows without bound as sections are put closer; a base gives way there."""


@dataclass(frozen=True, eq=False)
class StripWood:
    """Sections along the strip and the wood in them, arrays of shape (m,).

    Attributes
    ----------
    bar : CurvedBar
        Sections, how the strip winds, and the wood in its axes.
    element : numpy.ndarray
        Element that each section is in, counted from 0.
    offset_mm : numpy.ndarray
        How far beyond the middle of its element the section lies. [mm]
    length_mm : numpy.ndarray
        Length of strip that it stands for. [mm]
    psi_rad : numpy.ndarray
        Angle from the grain to the strip's tangent, board flat. [rad]
    ring_angle_rad : float
        Growth rings against the face of the board, below 0 where they lean to the other side. [rad]
    clock_rad : numpy.ndarray
        Direction from the centre, from the grain, counted on from turn to turn. [rad]
    """

    bar: CurvedBar
    element: IntArray
    offset_mm: Array
    length_mm: Array
    psi_rad: Array
    ring_angle_rad: float
    clock_rad: Array

    def leaning_otherwise(self) -> "StripWood":
        """The same sections of a board whose growth rings lean to the other side.

        Returns
        -------
        StripWood
            The wood's mirror image in the plane of the board.
        """
        # Up becomes down: what pairs one of the two shears with the thickness with anything else changes
        # sign. The order is s, n, z, nz, sz, sn.
        up = np.array([1.0, 1.0, 1.0, -1.0, -1.0, 1.0])
        bar = replace(self.bar, compliance_per_MPa=frozen(self.bar.compliance_per_MPa * np.outer(up, up)))
        return replace(self, bar=bar, ring_angle_rad=-self.ring_angle_rad)


@dataclass(frozen=True, eq=False)
class StripField:
    """What the stresses of all states of one bowl have in common.

    Attributes
    ----------
    warped : WarpedStrip
        The strip made ready for its warping.
    places : Places
        Places of the sections, p of them.
    area_mm2 : numpy.ndarray
        Wood each place stands for over the length of its section, shape (m, p): more on the outer side of
        a turn. [mm^2]
    beside_root : int
        So many sections lie so close to the root that their stress is not looked at.
    between : float
        Where that ends, between the last of them (0) and the next one (1). [-]
    """

    warped: WarpedStrip
    places: Places
    area_mm2: Array
    beside_root: int
    between: float


@lru_cache(maxsize=4)
def strip_field(wood: StripWood, places: tuple[int, int] = PLACES) -> StripField:
    """Make a strip ready for its stresses; the last four strips are kept.

    Parameters
    ----------
    wood : StripWood
        Sections and wood.
    places : tuple[int, int]
        Places over the width and through the thickness of a section, both odd.

    Returns
    -------
    StripField
        For every state of the bowl.

    Raises
    ------
    OutsideModelError
        If the strip is too narrow somewhere.
    """
    at, bar = section_places(*places), wood.bar
    warped = warped_strip(bar, wood.length_mm)
    n, _z = places_mm(bar, at.out, at.up)
    area = (bar.width_mm * bar.thickness_mm)[:, None] * at.share * (1 + n * bar.curvature_per_mm[:, None])
    away = np.cumsum(wood.length_mm) - wood.length_mm / 2
    end = BESIDE_ROOT * min(float(bar.width_mm[0]), bar.thickness_mm)
    beside = min(int(np.sum(away < end)), len(away) - 1)
    between = float(np.interp(end, away[beside - 1 : beside + 1], (0.0, 1.0))) if beside else 1.0
    places_there = stress_places(warped, across=at.out, up=at.up)
    return StripField(warped, places_there, read_only(area), beside, between)


@dataclass(frozen=True)
class WorstPlace:
    """The place of the strip likeliest to give.

    Attributes
    ----------
    turn : int
        Turn, 1 the innermost.
    clock_rad : float
        Direction seen from the centre, from the grain, 0 to pi/2. [rad]
    section : int
        Index into the sections of :class:`StripStress`.
    mode : str
        How it gives there, the likeliest of :data:`fitsim.wood.strength.MODES`.
    cause : str
        The strength most used, one of :data:`fitsim.wood.strength.FAILURE_MODES`.
    stress_MPa, strength_MPa : float
        Stress and mean strength in that direction. [MPa]
    ratio : float
        Stress over mean strength in that mode, its directions together. [-]
    chance : float
        Chance that the strip gives in the half turn about it. [-]
    """

    turn: int
    clock_rad: float
    section: int
    mode: str
    cause: str
    stress_MPa: float
    strength_MPa: float
    ratio: float
    chance: float


@dataclass(frozen=True, eq=False)
class StripStress:
    """Stress along the strip in one state, at m sections from the root to the free end.

    Attributes
    ----------
    element : numpy.ndarray
        Element that each section is in, from 0, shape (m,).
    arc_mm, length_mm : numpy.ndarray
        Length along the strip from the root, and that each section stands for, shape (m,). [mm]
    turn : numpy.ndarray
        Turn of each section, from 1, shape (m,).
    clock_rad, psi_rad : numpy.ndarray
        Direction from the centre, and of the tangent, from the grain, shape (m,). [rad]
    twist_rad_per_mm : numpy.ndarray
        Twist per length, shape (m,). [rad/mm]
    greatest_MPa : numpy.ndarray
        Greatest stress over the section in the four directions of
        :data:`fitsim.wood.strength.FAILURE_MODES`, shape (4, m). [MPa]
    ratio : numpy.ndarray
        Stress over mean strength at the worst place of each section, in the mode that comes worst off,
        shape (m,). [-]
    split : SplitChance
        The chance by mode and by turn.
    worst : WorstPlace
        The likeliest place.
    """

    element: IntArray
    arc_mm: Array
    length_mm: Array
    turn: IntArray
    clock_rad: Array
    psi_rad: Array
    twist_rad_per_mm: Array
    greatest_MPa: Array
    ratio: Array
    split: SplitChance
    worst: WorstPlace

    @property
    def chance(self) -> float:
        """Chance that the strip gives somewhere, in any mode. [-]"""
        return self.split.chance

    @property
    def chances(self) -> dict[str, float]:
        """Chance by mode, names of :data:`fitsim.wood.strength.MODES`. [-]"""
        return dict(zip(MODES, self.split.chances, strict=True))

    @property
    def times_to_limit(self) -> float:
        """How many times as hard the stresses must be for a chance of 1 in 10. [-]"""
        return self.split.times_to_limit


def section_forces(strip: ElasticStrip, deformation: Array, wood: StripWood) -> Array:
    """Forces and moments on the sections.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    deformation : numpy.ndarray
        Of the elements, local axes, shape (e, 6). [mm, rad]
    wood : StripWood
        Says where the sections are.

    Returns
    -------
    numpy.ndarray
        What the part beyond does to the section in its own axes n, t, b: shear along the outward normal,
        stretch, shear through the thickness, then the moments about the same axes, shape (m, 6). From the
        points beside the elements' chords where their deformation tells them, by statics. [N, N mm]
    """
    middle = np.linalg.solve(strip.flexibility, deformation[:, :, None])[:, :, 0]
    n, t, b, about_n, about_t, about_b = middle[wood.element].T
    on, bend = wood.offset_mm, wood.bar.curvature_per_mm
    # An arc's middle lies arc^2 / 8 r beyond its chord, the point told about arc^2 / 6 r.
    out = -bend * (strip.arc_mm[wood.element] ** 2 / 24 + on**2 / 2)
    about_n, about_t, about_b = about_n - on * b, about_t + out * b, about_b + on * n - out * t
    # Further on the strip has turned inward.
    turned = on * bend
    c, s = np.cos(turned), np.sin(turned)
    return np.stack(
        [n * c + t * s, t * c - n * s, b, about_n * c + about_t * s, about_t * c - about_n * s, about_b],
        axis=1,
    )


def _off_the_root(stress: Array, field: StripField) -> Array:
    """Stress of all sections, of those closest to the root that where its neighbourhood ends."""
    beside, found = field.beside_root, stress.copy()
    if beside:
        found[:beside] = stress[beside - 1] + field.between * (stress[beside] - stress[beside - 1])
    return found


@dataclass(frozen=True, eq=False)
class ResolvedStress:
    """Stress all over the strip, resolved to the grain, and the wood that each place stands for.

    Attributes
    ----------
    stress : GrainStress
        Arrays of shape (m, places). [MPa]
    area_mm2 : numpy.ndarray
        Area each place of a section stands for, (m, places). [mm^2]
    length_mm : numpy.ndarray
        Length of strip each section stands for, shape (m,). [mm]
    turn : numpy.ndarray
        Turn of each section, from 1, shape (m,).
    """

    stress: GrainStress
    area_mm2: Array
    length_mm: Array
    turn: IntArray

    def split(self, strength: GrainStrength, squares: tuple[Array, ...] | None = None) -> SplitChance:
        """The chance that wood of one strength gives under it.

        Parameters
        ----------
        strength : GrainStrength
            Mean strengths, their scatter, and what the weakest link needs.
        squares : tuple of numpy.ndarray, optional
            From :func:`fitsim.wood.strength.mode_squares`, if they are there already. [-]

        Returns
        -------
        SplitChance
            By mode and by turn.
        """
        risks = turn_risks(
            mode_squares(self.stress, strength) if squares is None else squares,
            area_mm2=self.area_mm2,
            length_mm=self.length_mm,
            turn=self.turn - 1,
            turns=int(self.turn.max()),
            strength=strength,
        )
        return split_chance(risks, strength)


def resolved_stress(
    bowl: ElasticBowl,
    state: PressState,
    wood: StripWood,
    *,
    pulled_MPa: Array | None = None,
    places: tuple[int, int] = PLACES,
) -> ResolvedStress:
    """Stress along the strip in one state, resolved to the grain; no strength is part of it.

    Parameters
    ----------
    bowl, state, wood : ElasticBowl, PressState, StripWood
        As :func:`strip_stress`.
    pulled_MPa : numpy.ndarray or None
        As :func:`strip_stress`. [MPa]
    places : tuple[int, int]
        As :func:`strip_stress`.

    Returns
    -------
    ResolvedStress
        At every place of every section.
    """
    field = strip_field(wood, places)
    force = section_forces(bowl.strip, state.deformation, wood)
    every = warped_stress(field.warped, force, field.places)
    found = BarStress(*(_off_the_root(getattr(every, f.name), field) for f in fields(BarStress)))
    turn, sigma_s = bowl.turn[wood.element], found.sigma_s_MPa
    if pulled_MPa is not None:
        sigma_s = sigma_s + pulled_MPa[turn - 1][:, None]
    stress = grain_stress(
        sigma_s_MPa=sigma_s,
        tau_sn_MPa=found.tau_sn_MPa,
        tau_sz_MPa=found.tau_sz_MPa,
        psi_rad=wood.psi_rad[:, None],
        ring_angle_rad=wood.ring_angle_rad,
        sigma_n_MPa=found.sigma_n_MPa,
        sigma_z_MPa=found.sigma_z_MPa,
        tau_nz_MPa=found.tau_nz_MPa,
    )
    return ResolvedStress(stress, field.area_mm2, wood.length_mm, turn)


def split_range(
    bowl: ElasticBowl, state: PressState, wood: StripWood, strength: GrainStrength, species: Wood
) -> ChanceRange:
    """How far the chance of splitting in one state moves with what no bowl file holds.

    Parameters
    ----------
    bowl, state, wood : ElasticBowl, PressState, StripWood
        As :func:`strip_stress`.
    strength : GrainStrength
        Everything at the value stated before its range.
    species : Wood
        The wood of the board.

    Returns
    -------
    ChanceRange
        Over what the weakest link needs; in a board whose rings neither lie flat nor stand upright also
        over the side to which they lean, which nobody is asked for.
    """
    stressed, others = resolved_stress(bowl, state, wood), {}
    if not aligned(wood.ring_angle_rad):
        leaning = resolved_stress(bowl, state, wood.leaning_otherwise())
        others["the side to which the rings lean"] = leaning.split(strength).chance
    return chance_over_ranges(
        lambda given: stressed.split(given).chance,
        strength,
        species,
        ring_angle_rad=wood.ring_angle_rad,
        others=others,
    )


def strip_stress(
    bowl: ElasticBowl,
    state: PressState,
    wood: StripWood,
    strength: GrainStrength,
    *,
    pulled_MPa: Array | None = None,
    places: tuple[int, int] = PLACES,
) -> StripStress:
    """Stress and chance of splitting along the strip in one state.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.
    wood : StripWood
        Sections along the bowl's strip and the wood in them.
    strength : GrainStrength
        Mean strengths, their scatter, and what the weakest link needs.
    pulled_MPa : numpy.ndarray or None
        Tension along the strip that is in no state, one value for each turn, shape (turns,). [MPa]
    places : tuple[int, int]
        Places over the width and through the thickness of a section, both odd.

    Returns
    -------
    StripStress
        Along the strip.
    """
    found = resolved_stress(bowl, state, wood, pulled_MPa=pulled_MPa, places=places)
    resolved, area, length, turn = found.stress, found.area_mm2, found.length_mm, found.turn
    squares = mode_squares(resolved, strength)
    split = found.split(strength, squares)
    greatest = np.sqrt(np.stack([q.max(axis=1) for q in squares]))
    section, place, (cause, stress_MPa, strong_MPa) = worst_place(resolved, squares, area, split)
    here = _near(wood.clock_rad, section)
    about = turn_risks(
        tuple(q[here] for q in squares),
        area_mm2=area[here],
        length_mm=length[here],
        turn=np.zeros(int(here.sum()), dtype=np.int64),
        turns=1,
        strength=strength,
    )
    return StripStress(
        element=wood.element,
        arc_mm=np.cumsum(length) - length / 2,
        length_mm=length,
        turn=turn,
        clock_rad=wood.clock_rad,
        psi_rad=wood.psi_rad,
        twist_rad_per_mm=(state.deformation[:, 4] / bowl.strip.arc_mm)[wood.element],
        greatest_MPa=_greatest_MPa(resolved),
        ratio=greatest.max(axis=0),
        split=split,
        worst=WorstPlace(
            turn=int(turn[section]),
            clock_rad=float(abs(np.arctan(np.tan(wood.clock_rad[section])))),
            section=section,
            mode=split.mode,
            cause=cause,
            stress_MPa=stress_MPa,
            strength_MPa=strong_MPa,
            ratio=float(np.sqrt(squares[MODES.index(split.mode)][section, place])),
            chance=split_chance(about, strength).chance,
        ),
    )


def _greatest_MPa(resolved: GrainStress) -> Array:
    """Greatest over the places of every section: shear along, rolling, tension across, bending."""
    return np.stack(
        [
            np.sqrt(resolved.shear_along_squared_MPa2.max(axis=1)),
            _size(resolved.rolling_MPa),
            resolved.tension_across_MPa.max(axis=1),
            _size(resolved.along_MPa),
        ]
    )


def _size(stress: Array) -> Array:
    """Greatest size over the places of every section."""
    return np.asarray(np.maximum(stress.max(axis=1), -stress.min(axis=1)))


def _near(clock: Array, section: int) -> BoolArray:
    """Sections of the same half turn; halves are parted where the strip runs along the grain."""
    half = np.floor(clock / np.pi + 0.5)
    return np.asarray(half == half[section])


def limit_press_N(presses_N: Sequence[float], split_at: Callable[[int], SplitChance]) -> float:
    """Press at which 1 bowl in 10 splits: between two states, or carried on beyond the last.

    Beyond, stress grows as it did over the last doubling of the press, or as the press if that is more.

    Parameters
    ----------
    presses_N : sequence of float
        Presses of the states, rising. [N]
    split_at : callable
        Chances in one of them, which rise with the press; asked of as few states as will do.

    Returns
    -------
    float
        Approximate where it lies beyond the last state; nan where there is nothing to go by. [N]
    """
    limit, last = 0.1, len(presses_N) - 1
    found = {last: split_at(last)}

    def split(state: int) -> SplitChance:
        if state not in found:
            found[state] = split_at(state)
        return found[state]

    reached = split(last).chance >= limit
    if reached:
        below, above = -1, last
        while above - below > 1:
            middle = (below + above) // 2
            below, above = (below, middle) if split(middle).chance >= limit else (middle, above)
        pair = (max(below, 0), above)
    else:
        half = [i for i, press in enumerate(presses_N) if press <= 0.55 * presses_N[-1] and press > 0]
        pair = (half[-1] if half else 0, last)
    (p0, p1), (x0, x1) = ([presses_N[i] for i in pair], [split(i).times_to(limit) for i in pair])
    if pair[0] == pair[1] or not 0 < p0 < p1 or not x0 > x1 > 0 or not math.isfinite(x0):
        return float(p1) if reached else math.nan
    growth = math.log(x0 / x1) / math.log(p1 / p0)
    return float(p1 * x1 ** (1 / (growth if reached else max(growth, LEAST_GROWTH))))
