"""A first estimate of splitting on opening: the twist of each turn against the strength of the wood.

Closed form. Until its seat binds, a turn is nearly a helix climbing by its drop h in one revolution,
and the work of deforming it is torsion. A helix under an axial load carries one torque M_t all the
way round, so the twist per length is M_t/D and gathers where the strip is soft: with dz = r kappa ds,

    M_t = h / integral of (r^2/D) da,      kappa = M_t/D      (kappa = h/(2 pi r^2) for an even strip).

The torsion stresses all over the section are resolved into grain axes, and the chance is that of the
weakest link over the strip's volume, the same as of the elastic strip (:mod:`fitsim.wood.strength`). Root
restraint, contact, bending and the slot's end are not in it.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.geometry.cut import TURN_RAD, SlotCurve, Strip, turn_indices
from fitsim.geometry.seats import TurnSeats
from fitsim.strip.torsion import section_places, section_stress_per_twist, torsion_stiffness_Nmm2
from fitsim.wood.grain import BoardStiffness, strip_stiffness
from fitsim.wood.strength import (
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

__all__ = ["SplitEstimate", "split_estimate"]

PLACES = (7, 9)
"""Places over the width and through the thickness of a section."""

EVERY = 2
"""Of the sampled strip every other section is looked at: 36 a turn."""


@dataclass(frozen=True, eq=False)
class SplitEstimate:
    """How likely the strip splits by its twist alone, and where it is worst off.

    Attributes
    ----------
    split : SplitChance
        The chance by mode and by turn.
    ratio : float
        Stress over mean strength at the worst place, in the likeliest mode. [-]
    turn : int
        Turn of the worst place, 1 the innermost.
    clock_rad : float
        Direction of the worst place seen from the centre, from the grain, 0 to pi/2. [rad]
    cause : str
        The direction that adds most, one of :data:`fitsim.wood.strength.FAILURE_MODES`.
    stress_MPa, strength_MPa : float
        Stress and mean strength in that direction. [MPa]
    """

    split: SplitChance
    ratio: float
    turn: int
    clock_rad: float
    cause: str
    stress_MPa: float
    strength_MPa: float

    @property
    def chance(self) -> float:
        """Chance that the strip gives somewhere, in any mode. [-]"""
        return self.split.chance

    @property
    def times_to_limit(self) -> float:
        """How many times as hard the stresses must be for a chance of 1 in 10. [-]"""
        return self.split.times_to_limit


CORNER_SPREAD = 2.0
"""The twist of a short corner spreads over so many thicknesses of the board: an estimate; the elastic strip
decides."""


LEAST_BEND = 0.1
"""A tail that lies on a straight side is taken to bend by this share of what a whole turn does."""


def twist_per_length(strip: Strip, seats: TurnSeats, stiffness: Array, *, thickness_mm: float) -> Array:
    """Twist per length along the strip when every turn has sunk to its seat.

    Parameters
    ----------
    strip : Strip
        The strip up to the free end.
    seats : TurnSeats
        Rigid seats; a turn that falls through is twisted by the thickness at most.
    stiffness : numpy.ndarray
        Torsion stiffness D at the strip's samples, shape (m,). [N mm^2]
    thickness_mm : float
        Thickness of the board. [mm]

    Returns
    -------
    numpy.ndarray
        Twist, shape (m,). [rad/mm]
    """
    angle, radius = strip.angle_rad, strip.radius_mm
    # Walls that stay upright twist where the line bends, on a circle evenly; in a corner shorter than the
    # strip is high they give way and the twist spreads.
    bend = strip.bend(CORNER_SPREAD * thickness_mm)
    integrand = radius * strip.speed_mm * bend / stiffness
    turns = len(seats.share)
    total = np.concatenate(([0.0], np.cumsum((integrand[1:] + integrand[:-1]) / 2 * np.diff(angle))))
    ends = np.minimum(TURN_RAD * np.arange(turns + 1), angle[-1])
    whole = np.diff(np.interp(ends, angle, total))
    drop = np.minimum(seats.seat_drop_mm, thickness_mm) * seats.share
    if strip.winding is not None and turns > 1:  # the tail of a turn may have no bend of its own
        whole[-1] = max(whole[-1], LEAST_BEND * whole[-2] * seats.share[-1])
    torque = drop / whole
    turn = turn_indices(angle)
    return np.asarray(torque[turn] * bend / stiffness)


def split_estimate(
    slot: SlotCurve,
    strip: Strip,
    seats: TurnSeats,
    *,
    thickness_mm: float,
    ring_angle_rad: float,
    stiffness: BoardStiffness,
    strength: GrainStrength,
    pulled_MPa: Array | None = None,
) -> SplitEstimate:
    """Chance that the strip splits on opening, and its worst place.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut; its tangents give the angle to the grain.
    strip : Strip
        The strip up to the free end.
    seats : TurnSeats
        Rigid seats.
    thickness_mm : float
        Thickness of the board. [mm]
    ring_angle_rad : float
        Growth rings against the face of the board, 0 flat-sawn. [rad]
    stiffness : BoardStiffness
        Elastic constants in board axes, at the board's moisture.
    strength : GrainStrength
        Strengths at the board's moisture.
    pulled_MPa : numpy.ndarray or None
        Tension along the strip besides the twist, one value for each turn, shape (turns,). [MPa]

    Returns
    -------
    SplitEstimate
        The worst place.
    """
    m = len(strip.angle_rad)
    tangent_x = np.interp(strip.angle_rad, slot.angle_rad, slot.tangent[:, 0])
    tangent_y = np.interp(strip.angle_rad, slot.angle_rad, slot.tangent[:, 1])
    psi = np.arctan2(tangent_y, tangent_x)
    along = strip_stiffness(stiffness, psi_rad=psi)
    width = np.maximum(strip.width_mm, 1e-6)
    section = {
        "thickness_mm": np.full(m, thickness_mm),
        "width_mm": width,
        "G_sz_MPa": along.G_sz_MPa,
        "G_sn_MPa": along.G_sn_MPa,
    }
    twist = twist_per_length(strip, seats, torsion_stiffness_Nmm2(**section), thickness_mm=thickness_mm)
    # The end of a turn is seen as well, or a short last turn might fall between the sections.
    pick = np.union1d(np.arange(0, m, EVERY), [m - 1])
    unit = section_stress_per_twist(
        **{name: values[pick] for name, values in section.items()}, across=PLACES[0], through=PLACES[1]
    )
    turn = np.asarray(turn_indices(strip.angle_rad[pick]))
    pulled = np.zeros(len(pick)) if pulled_MPa is None else pulled_MPa[turn]
    keep, share = _unlike_places(ring_angle_rad)
    spun = twist[pick][:, None]
    resolved = grain_stress(
        sigma_s_MPa=np.broadcast_to(pulled[:, None], (len(pick), len(share))),
        tau_sn_MPa=unit.flat_face[:, keep] * spun,
        tau_sz_MPa=-unit.tall_face[:, keep] * spun,
        psi_rad=psi[pick][:, None],
        ring_angle_rad=ring_angle_rad,
    )
    squares = mode_squares(resolved, strength)
    area = (width[pick] * thickness_mm)[:, None] * share
    angle = strip.angle_rad[pick]
    bound = np.concatenate([angle[:1], (angle[1:] + angle[:-1]) / 2, angle[-1:]])
    risks = turn_risks(
        squares,
        area_mm2=area,
        length_mm=strip.speed_mm[pick] * np.diff(bound),
        turn=turn,
        turns=len(seats.share),
        strength=strength,
    )
    return _worst(
        resolved, squares, area, split_chance(risks, strength), _clock_rad(strip, psi)[pick], turn
    )


def _unlike_places(ring_angle_rad: float) -> tuple[IntArray, Array]:
    """Places of a section that differ, and the share of its area each stands for.

    With rings flat or upright the two halves of the width are alike: only the square of their shear counts.
    """
    at = section_places(*PLACES)
    if not aligned(ring_angle_rad):
        return np.arange(len(at.share)), at.share
    keep = np.flatnonzero(at.out >= 0)
    return keep, np.where(at.out[keep] > 0, 2.0, 1.0) * at.share[keep]


def _clock_rad(strip: Strip, psi: Array) -> Array:
    """Direction of the strip's samples from the centre, from the grain. [rad]"""
    if strip.winding is None or strip.winding.even:
        return np.asarray(psi - np.pi / 2)
    at = strip.winding.at(strip.angle_rad, strip.reach_mm).position_mm
    return np.asarray(np.arctan2(at[:, 1], at[:, 0]))


def _worst(
    stress: GrainStress,
    squares: tuple[Array, ...],
    area: Array,
    split: SplitChance,
    clock_rad: Array,
    turn: IntArray,
) -> SplitEstimate:
    """Pick the place that adds most to the likeliest mode."""
    section, place, (cause, stress_MPa, strong_MPa) = worst_place(stress, squares, area, split)
    square = squares[MODES.index(split.mode)]
    clock = clock_rad[section]
    return SplitEstimate(
        split=split,
        ratio=float(np.sqrt(square[section, place])),
        turn=int(turn[section]) + 1,
        clock_rad=float(abs(np.arctan(np.tan(clock)))),
        cause=cause,
        stress_MPa=stress_MPa,
        strength_MPa=strong_MPa,
    )
