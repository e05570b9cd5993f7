"""A first estimate of splitting on opening: the twist of each turn against the strength of the wood.

Closed form. Until its seat binds, a turn is nearly a helix climbing by its drop h in one revolution,
and the work of deforming it is torsion. A helix under an axial load carries one torque M_t all the
way round, so the twist per length is M_t/D and gathers where the strip is soft: with dz = r kappa ds,

    M_t = h / integral of (r^2/D) da,      kappa = M_t/D      (kappa = h/(2 pi r^2) for an even strip).

The torsion stresses on both pairs of faces are resolved into grain axes and compared with strength
by a quadratic interaction (C. B. Norris, 1962, from memory). Root restraint, contact, bending and
the slot's end are not in it: the elastic strip has them.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.cut import TURN_RAD, SlotCurve, Strip, turn_indices
from fitsim.grain import BoardStiffness, strip_stiffness
from fitsim.seat import TurnSeats
from fitsim.strength import (
    CAUSES,
    GrainStrength,
    chance_below,
    grain_stress,
    ratio_and_margin,
    strength_shares,
)
from fitsim.torsion import stress_per_twist, torsion_stiffness_Nmm2

__all__ = ["SplitEstimate", "split_estimate"]


@dataclass(frozen=True)
class SplitEstimate:
    """Where the strip is worst off and how likely it splits there.

    Attributes
    ----------
    chance : float
        Chance that the wood at the worst place is weaker than the stress there. [-]
    ratio : float
        Stress over mean strength, all directions combined. [-]
    turn : int
        Turn of the worst place, 1 the innermost.
    clock_rad : float
        Direction of the worst place seen from the centre, from the grain, 0 to pi/2. [rad]
    cause : str
        The direction that adds most: "rolling shear", "shear along the grain" or "tension across
        the grain".
    stress_MPa, strength_MPa : float
        Stress and mean strength in that direction. [MPa]
    """

    chance: float
    ratio: float
    turn: int
    clock_rad: float
    cause: str
    stress_MPa: float
    strength_MPa: float


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
    integrand = radius**2 / stiffness
    turns = len(seats.share)
    total = np.concatenate(([0.0], np.cumsum((integrand[1:] + integrand[:-1]) / 2 * np.diff(angle))))
    ends = np.minimum(TURN_RAD * np.arange(turns + 1), angle[-1])
    whole = np.diff(np.interp(ends, angle, total))
    drop = np.minimum(seats.seat_drop_mm, thickness_mm) * seats.share
    torque = drop / whole
    turn = turn_indices(angle)
    return np.asarray(torque[turn] / stiffness)


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
    """Worst place of the strip and the chance that it splits there on opening.

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
    stress = stress_per_twist(**section)
    tall, flat = stress.tall_face * twist, stress.flat_face * twist
    pulled = np.zeros(m) if pulled_MPa is None else pulled_MPa[turn_indices(strip.angle_rad)]
    # Either face of a pair, where the same twist shears the other way.
    resolved = grain_stress(
        sigma_s_MPa=np.tile(pulled, (4, 1)),
        tau_sn_MPa=np.stack([0 * tall, 0 * tall, flat, -flat]),
        tau_sz_MPa=np.stack([tall, -tall, 0 * flat, 0 * flat]),
        psi_rad=psi,
        ring_angle_rad=ring_angle_rad,
    )
    return _worst(strength_shares(resolved, strength), strip, psi, strength)


def _worst(shares: Array, strip: Strip, psi: Array, strength: GrainStrength) -> SplitEstimate:
    """Pick the worst place from squared shares of shape (directions, faces, m)."""
    ratio, margin = ratio_and_margin(shares, strength)
    face, place = np.unravel_index(int(np.argmax(margin)), margin.shape)
    main = int(np.argmax(shares[:3, face, place]))
    strong = (strength.shear_along_MPa, strength.rolling_shear_MPa, strength.tension_across_MPa)[main]
    clock = psi[place] - np.pi / 2
    return SplitEstimate(
        chance=chance_below(float(margin[face, place])),
        ratio=float(ratio[face, place]),
        turn=int(turn_indices(strip.angle_rad[place])) + 1,
        clock_rad=float(abs(np.arctan(np.tan(clock)))),
        cause=CAUSES[main],
        stress_MPa=float(np.sqrt(shares[main, face, place]) * strong),
        strength_MPa=strong,
    )
