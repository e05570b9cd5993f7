"""Stress along the pressed strip, resolved to the grain, and the chance that it splits.

At both ends of every element the forces and moments of the section are known by statics. From them come, at
places all over the section: stretch and bending along the strip (linear over the leaning section), the
torsion stresses, and the shear of the transverse forces (parabolic). Half way along an element they are the
mean of its ends, resolved to the grain there. The chance counts the whole strip once
(:mod:`fitsim.strength`): Simpson's rule along every element, Gauss-Lobatto's over every section.

What the straight bar's formulas leave out at the peaks is added in one place, :data:`PEAKS`. What the
clamped root and the slot's sharp end add, see `root`.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray, read_only
from fitsim.pressed import ElasticBowl, PressState
from fitsim.strength import (
    MODES,
    GrainStrength,
    GrainStress,
    SplitChance,
    aligned,
    grain_stress,
    mode_squares,
    split_chance,
    turn_risks,
    worst_place,
)
from fitsim.strip import ElasticStrip, Shape
from fitsim.torsion import (
    SectionPlaces,
    section_places,
    section_stress_per_twist,
    torsion_stiffness_Nmm2,
)

__all__ = [
    "PEAKS",
    "SectionForces",
    "StripStress",
    "StripStresses",
    "StripWood",
    "WorstPlace",
    "limit_press_N",
    "section_forces",
    "strip_stress",
]

LEAST_GROWTH = 0.5
"""Power of the press with which stress is carried on to harder presses, if it grew more slowly so far. It
grows more steeply there (0.4 to 200 N, 0.6 from there to 300 N on one bowl): this errs on the safe side."""

PLACES = (7, 11)
"""Places over the width and through the thickness: twice as many move the chance by less than 1 percent."""


@dataclass(frozen=True, eq=False)
class StripWood:
    """The strip's sections and the wood in them, at every node, arrays of shape (n,).

    Attributes
    ----------
    width_mm : numpy.ndarray
        Width in the plane of the board. [mm]
    thickness_mm : float
        Thickness. [mm]
    lean : numpy.ndarray
        Shift of the section's middle per millimetre of height, tan(tilt). [-]
    psi_rad : numpy.ndarray
        Angle from the grain to the strip's tangent, board flat. [rad]
    ring_angle_rad : float
        Growth rings against the face of the board. [rad]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall and of the flat faces, in twist with bending held. [MPa]
    roll : numpy.ndarray
        Twist over bend of wood off its grain, see :mod:`fitsim.grain`. [-]
    clock_rad : numpy.ndarray
        Direction from the centre, from the grain, counted on from turn to turn. [rad]
    """

    width_mm: Array
    thickness_mm: float
    lean: Array
    psi_rad: Array
    ring_angle_rad: float
    G_sz_MPa: Array
    G_sn_MPa: Array
    roll: Array
    clock_rad: Array


@dataclass(frozen=True, eq=False)
class SectionForces:
    """Forces and moments on the sections at both ends of every element, arrays of shape (2 e,).

    What the part beyond does to the section, in the axes n, t, b of its node; the first and the
    second end of an element stand side by side.

    Attributes
    ----------
    node : numpy.ndarray
        Node of each section.
    shear_n_N, stretch_N, shear_b_N : numpy.ndarray
        Force along the outward normal, along the strip, through the thickness. [N]
    bend_n_Nmm, twist_Nmm, bend_b_Nmm : numpy.ndarray
        Moment about the same three axes. [N mm]
    """

    node: IntArray
    shear_n_N: Array
    stretch_N: Array
    shear_b_N: Array
    bend_n_Nmm: Array
    twist_Nmm: Array
    bend_b_Nmm: Array


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
        How it gives there, the likeliest of :data:`fitsim.strength.MODES`.
    cause : str
        The strength most used, one of :data:`fitsim.strength.CAUSES`.
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
    """Stress along the strip in one state; m = 2 e sections from the root to the free end.

    Attributes
    ----------
    arc_mm : numpy.ndarray
        Length along the strip from the root, shape (m,). [mm]
    turn : numpy.ndarray
        Turn of each section, from 1, shape (m,).
    clock_rad, psi_rad : numpy.ndarray
        Direction from the centre, and of the tangent, from the grain, shape (m,). [rad]
    twist_rad_per_mm : numpy.ndarray
        Twist per length, shape (m,). [rad/mm]
    greatest_MPa : numpy.ndarray
        Greatest stress over the section in the four directions of :data:`fitsim.strength.CAUSES`,
        shape (4, m). [MPa]
    ratio : numpy.ndarray
        Stress over mean strength at the worst place of each section, in the mode that comes worst off,
        shape (m,). [-]
    split : SplitChance
        The chance by mode and by turn.
    worst : WorstPlace
        The likeliest place.
    """

    arc_mm: Array
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
        """Chance by mode, names of :data:`fitsim.strength.MODES`. [-]"""
        return dict(zip(MODES, self.split.chances, strict=True))

    @property
    def times_to_limit(self) -> float:
        """How many times as hard the stresses must be for a chance of 1 in 10. [-]"""
        return self.split.times_to_limit


def section_forces(strip: ElasticStrip, shape: Shape, deformation: Array) -> SectionForces:
    """Forces and moments on the sections at both ends of every element.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    shape : Shape
        Where it is.
    deformation : numpy.ndarray
        Of the elements, local axes, shape (e, 6). [mm, rad]

    Returns
    -------
    SectionForces
        From the deformation of the elements, brought to the nodes by statics.
    """
    local = np.linalg.solve(strip.flexibility, deformation[:, :, None])[:, :, 0]
    force = np.einsum("eij,ej->ei", shape.middle_frame, local[:, :3])
    moment = np.einsum("eij,ej->ei", shape.middle_frame, local[:, 3:])
    e = len(local)
    node = np.stack([np.arange(e), np.arange(1, e + 1)], axis=1)
    lever = shape.middle_mm[:, None, :] - shape.position_mm[node]
    there = moment[:, None, :] + np.cross(lever, force[:, None, :])
    frame = shape.frame[node]
    f = np.einsum("ekji,ej->eki", frame, force).reshape(-1, 3)
    m = np.einsum("ekji,ekj->eki", frame, there).reshape(-1, 3)
    return SectionForces(node.ravel(), f[:, 0], f[:, 1], f[:, 2], m[:, 0], m[:, 1], m[:, 2])


def _bending_MPa(forces: SectionForces, wood: StripWood, n_mm: Array, z_mm: Array) -> Array:
    """Stress along the strip, linear over leaning sections, at places (n, z), (m, places). [MPa]"""
    w, T = wood.width_mm[forces.node], wood.thickness_mm
    lean = wood.lean[forces.node]
    I_n = w * T**3 / 12
    I_b, I_nb = T * w**3 / 12 + lean**2 * I_n, lean * I_n
    determinant = I_n * I_b - I_nb**2
    # Off its grain a twisted strip bends; the stress that goes with the twist itself is added where it is.
    bend_n = forces.bend_n_Nmm + wood.roll[forces.node] * forces.twist_Nmm
    about_n = (I_b * bend_n + I_nb * forces.bend_b_Nmm) / determinant
    about_b = (I_n * forces.bend_b_Nmm + I_nb * bend_n) / determinant
    mean = forces.stretch_N / (w * T)
    return np.asarray(mean[:, None] - about_n[:, None] * z_mm + about_b[:, None] * n_mm)


@dataclass(frozen=True, eq=False)
class StripStresses:
    """Stresses in the strip's own axes at all places of many sections, arrays of shape (sections, places).

    Attributes
    ----------
    sigma_s_MPa, tau_sn_MPa, tau_sz_MPa : numpy.ndarray
        Along the strip (tension positive); shear with the outward normal; with the thickness. [MPa]
    """

    sigma_s_MPa: Array
    tau_sn_MPa: Array
    tau_sz_MPa: Array


Peak = Callable[[SectionForces, StripWood, Array, SectionPlaces], StripStresses]
"""From forces, wood, twist per length [rad/mm] and places: what comes on top of a straight bar's."""

PEAKS: tuple[Peak, ...] = ()
"""Corrections that are added to the straight bar's stresses at every section's places."""


@lru_cache(maxsize=8)
def _unit_twist(wood: StripWood, places: tuple[int, int]) -> tuple[Array, Array, Array]:
    """Torsion stiffness, tau_sn and tau_sz for unit twist at every node's places; kept for other states."""
    section = {
        "thickness_mm": np.full_like(wood.width_mm, wood.thickness_mm),
        "width_mm": wood.width_mm,
        "G_sz_MPa": wood.G_sz_MPa,
        "G_sn_MPa": wood.G_sn_MPa,
    }
    unit = section_stress_per_twist(**section, across=places[0], through=places[1])
    # The twist is that of statics: torque over stiffness, both of the node.
    D = torsion_stiffness_Nmm2(**section)
    return read_only(D), read_only(unit.flat_face), read_only(-unit.tall_face)


def _stresses(
    forces: SectionForces, wood: StripWood, places: tuple[int, int]
) -> tuple[Array, StripStresses]:
    """Twist per length, (m,) [rad/mm], and stresses at the places of every section, (m, places)."""
    node, T, at = forces.node, wood.thickness_mm, section_places(*places)
    D, unit_sn, unit_sz = _unit_twist(wood, places)
    w = wood.width_mm[node]
    twist = forces.twist_Nmm / D[node]
    twisted_sn = unit_sn[node] * twist[:, None]
    z = at.up * (T / 2)
    n = at.out * (w / 2)[:, None] + wood.lean[node][:, None] * z
    # Off its grain wood pairs a stretch with the shear of the flat faces.
    sigma = _bending_MPa(forces, wood, n, z) + (2 * wood.roll[node])[:, None] * twisted_sn
    # Shear of a transverse force falls from 3/2 of the mean at the middle to nothing at the edge.
    per_area = 1.5 / (w * T)
    tau_sn = twisted_sn + (per_area * forces.shear_n_N)[:, None] * (1 - at.out**2)
    tau_sz = unit_sz[node] * twist[:, None] + (per_area * forces.shear_b_N)[:, None] * (1 - at.up**2)
    for peak in PEAKS:
        more = peak(forces, wood, twist, at)
        sigma, tau_sn, tau_sz = (
            sigma + more.sigma_s_MPa, tau_sn + more.tau_sn_MPa, tau_sz + more.tau_sz_MPa
        )  # fmt: skip
    return twist, StripStresses(sigma, tau_sn, tau_sz)


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
        Sections and wood at the bowl's nodes.
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
    forces = section_forces(bowl.strip, state.shape, state.deformation)
    node = forces.node
    twist, ends = _stresses(forces, wood, places)
    turn = np.concatenate([[1], bowl.turn])[np.maximum(node, 1)]
    # A section at the joint of two turns belongs to the turn its element is in.
    turn[::2] = turn[1::2]
    sigma = ends.sigma_s_MPa
    if pulled_MPa is not None:
        sigma = sigma + pulled_MPa[turn - 1][:, None]
    # The two ends of every element, then its middle.
    every = [np.concatenate([v, (v[::2] + v[1::2]) / 2]) for v in (sigma, ends.tau_sn_MPa, ends.tau_sz_MPa)]
    c, s = np.cos(wood.psi_rad[node]), np.sin(wood.psi_rad[node])
    psi = np.concatenate([wood.psi_rad[node], np.arctan2(s[::2] + s[1::2], c[::2] + c[1::2])])
    resolved = grain_stress(
        sigma_s_MPa=every[0],
        tau_sn_MPa=every[1],
        tau_sz_MPa=every[2],
        psi_rad=psi[:, None],
        ring_angle_rad=wood.ring_angle_rad,
    )
    squares = mode_squares(resolved, strength)
    w = wood.width_mm[node]
    middle_w = (w[::2] + w[1::2]) / 2
    area = np.concatenate([w, middle_w])[:, None] * wood.thickness_mm * section_places(*places).share
    length = bowl.strip.arc_mm
    weight = np.concatenate([np.repeat(length / 6, 2), length * (2 / 3)])
    of_turn = np.concatenate([turn, turn[::2]]) - 1
    clock = wood.clock_rad[node]
    arc = np.concatenate([[0.0], np.cumsum(length)])[node]
    turns = int(turn.max())
    risks = turn_risks(
        squares, area_mm2=area, length_mm=weight, turn=of_turn, turns=turns, strength=strength
    )
    split = split_chance(risks, strength)
    m = len(node)
    greatest = np.sqrt(np.stack([q[:m].max(axis=1) for q in squares]))
    section, place, (cause, stress_MPa, strong_MPa) = worst_place(
        resolved, tuple(q[:m] for q in squares), area[:m], split
    )
    here = _near(clock, section)
    half = np.concatenate([here, here[::2]])
    about = turn_risks(
        tuple(q[half] for q in squares), area_mm2=area[half], length_mm=weight[half],
        turn=np.zeros(int(half.sum()), dtype=np.int64), turns=1, strength=strength,
    )  # fmt: skip
    return StripStress(
        arc_mm=arc,
        turn=turn,
        clock_rad=clock,
        psi_rad=wood.psi_rad[node],
        twist_rad_per_mm=twist,
        greatest_MPa=_greatest_MPa(resolved, m),
        ratio=greatest.max(axis=0),
        split=split,
        worst=WorstPlace(
            turn=int(turn[section]),
            clock_rad=float(abs(np.arctan(np.tan(clock[section])))),
            section=section,
            mode=split.mode,
            cause=cause,
            stress_MPa=stress_MPa,
            strength_MPa=strong_MPa,
            ratio=float(np.sqrt(squares[MODES.index(split.mode)][section, place])),
            chance=split_chance(about, strength).chance,
        ),
    )


def _greatest_MPa(resolved: GrainStress, m: int) -> Array:
    """Greatest of the places of the first m sections: shear along, rolling, tension across, bending."""
    pull = resolved.straight_MPa[:m].max(axis=1)
    if not aligned(resolved.ring_angle_rad):
        for other in (resolved.tangential_MPa, resolved.radial_MPa):
            pull = np.maximum(pull, other[:m].max(axis=1))
    pull = np.maximum(pull, 0.0)
    return np.stack(
        [
            np.sqrt(resolved.shear_along_squared_MPa2[:m].max(axis=1)),
            _size(resolved.rolling_MPa[:m]),
            pull,
            _size(resolved.along_MPa[:m]),
        ]
    )


def _size(stress: Array) -> Array:
    """Greatest size over the places of every section."""
    return np.asarray(np.maximum(stress.max(axis=1), -stress.min(axis=1)))


def _near(clock: Array, section: int) -> BoolArray:
    """Sections of the same half turn; halves are parted where the strip runs along the grain."""
    half = np.floor(clock / np.pi + 0.5)
    here = half[::2] == half[section - section % 2]
    return np.repeat(here, 2)


def limit_press_N(presses_N: Sequence[float], splits: Sequence[SplitChance]) -> float:
    """Press at which 1 bowl in 10 splits: between two states, or carried on beyond the last.

    Beyond, stress grows as it did over the last doubling of the press, or with its root if that is more.

    Parameters
    ----------
    presses_N : sequence of float
        Presses of the states, rising. [N]
    splits : sequence of SplitChance
        Chances there.

    Returns
    -------
    float
        Approximate where it lies beyond the last state; nan where there is nothing to go by. [N]
    """
    limit = 0.1
    beyond = next((i for i, s in enumerate(splits) if s.chance >= limit), None)
    last = len(splits) - 1
    if beyond is not None:
        pair = (max(beyond - 1, 0), beyond)
    else:
        half = [i for i, press in enumerate(presses_N) if press <= 0.55 * presses_N[-1] and press > 0]
        pair = (half[-1] if half else 0, last)
    (p0, p1), (x0, x1) = ([presses_N[i] for i in pair], [splits[i].times_to(limit) for i in pair])
    if pair[0] == pair[1] or not 0 < p0 < p1 or not x0 > x1 > 0 or not math.isfinite(x0):
        return float(p1) if beyond is not None else math.nan
    growth = math.log(x0 / x1) / math.log(p1 / p0)
    return float(p1 * x1 ** (1 / (growth if beyond is not None else max(growth, LEAST_GROWTH))))
