"""Stress along the pressed strip, resolved to the grain, and where the wood gives first.

At both ends of every element the forces and moments of the section are known by statics. From them
come, at sixteen places of the section (the middle and the quarter points of its four faces, and its
corners): stretch and bending along the strip, the two torsion stresses, and the shear of the transverse
forces (3/2 of force over area at the middle of a face). They are resolved to grain axes and held against
strength. The strip's own curvature is not in the stress formulas: on the inner side of a turn of radius r
they are about w/(3 r) too low in bending (curved-beam theory, from memory). What the clamped root and the
slot's sharp end add, see `root`.

A chance for the whole strip takes every half turn as a piece of wood of its own: where strengths along a
board go together, as they do, the true chance lies between that of the worst place and this one.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.pressed import ElasticBowl, PressState
from fitsim.strength import (
    CAUSES,
    GrainStrength,
    chance_below,
    grain_stress,
    ratio_and_margin,
    strength_shares,
)
from fitsim.strip import ElasticStrip, Shape
from fitsim.torsion import face_stress_per_twist, torsion_stiffness_Nmm2

__all__ = ["SectionForces", "StripStress", "StripWood", "WorstPlace", "section_forces", "strip_stress"]


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
    """The place of the strip likeliest to split.

    Attributes
    ----------
    turn : int
        Turn, 1 the innermost.
    clock_rad : float
        Direction seen from the centre, from the grain, 0 to pi/2. [rad]
    section : int
        Index into the sections of :class:`StripStress`.
    cause : str
        The strength most used, one of :data:`fitsim.strength.CAUSES`.
    stress_MPa, strength_MPa : float
        Stress and mean strength in that direction. [MPa]
    ratio : float
        Stress over mean strength, all directions together. [-]
    chance : float
        Chance that the wood splits there. [-]
    """

    turn: int
    clock_rad: float
    section: int
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
        Stress over mean strength at the worst place of each section, shape (m,). [-]
    chance : float
        Chance that the strip splits somewhere, every half turn a piece of wood of its own. [-]
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
    chance: float
    worst: WorstPlace


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
    """Stress along the strip, linear over leaning sections, at places (n, z), (m,). [MPa]"""
    w, T = wood.width_mm[forces.node], wood.thickness_mm
    lean = wood.lean[forces.node]
    I_n = w * T**3 / 12
    I_b, I_nb = T * w**3 / 12 + lean**2 * I_n, lean * I_n
    determinant = I_n * I_b - I_nb**2
    # Off its grain a twisted strip bends; the stress that goes with the twist itself is added where it is.
    bend_n = forces.bend_n_Nmm + wood.roll[forces.node] * forces.twist_Nmm
    about_n = (I_b * bend_n + I_nb * forces.bend_b_Nmm) / determinant
    about_b = (I_n * forces.bend_b_Nmm + I_nb * bend_n) / determinant
    return np.asarray(forces.stretch_N / (w * T) - about_n * z_mm + about_b * n_mm)


_PLACES = (
    *(("tall", side, share) for side in (-1.0, 1.0) for share in (-0.5, 0.0, 0.5)),
    *(("flat", side, share) for side in (-1.0, 1.0) for share in (-0.5, 0.0, 0.5)),
    *(("corner", side, share) for side in (-1.0, 1.0) for share in (-1.0, 1.0)),
)
"""Face, side and place on it (0 its middle, 1 its edge) of the sixteen places looked at."""


def _place_stresses(
    forces: SectionForces, wood: StripWood, twist_rad_per_mm: Array
) -> tuple[Array, Array, Array]:
    """Stress along the strip and both shears at the places of every section, (16, m) each. [MPa]"""
    node, T = forces.node, wood.thickness_mm
    w = wood.width_mm[node]
    section = {
        "thickness_mm": np.full_like(w, T),
        "width_mm": w,
        "G_sz_MPa": wood.G_sz_MPa[node],
        "G_sn_MPa": wood.G_sn_MPa[node],
    }
    per_twist = {share: face_stress_per_twist(**section, share=share) for share in (0.0, 0.5)}
    area = w * T
    sigma, tau_sn, tau_sz = (np.zeros((len(_PLACES), len(w))) for _ in range(3))
    for i, (face, side, share) in enumerate(_PLACES):
        at = per_twist[min(abs(share), 0.5)]
        out, up = (share, side) if face == "flat" else (side, share)
        z = np.full_like(w, up * T / 2)
        sigma[i] = _bending_MPa(forces, wood, out * w / 2 + wood.lean[node] * z, z)
        # Shear of a transverse force falls from 3/2 of the mean at the middle to nothing at the edge.
        if face == "tall":
            sheared = 1.5 * forces.shear_b_N / area * (1 - share**2)
            tau_sz[i] = -side * twist_rad_per_mm * at.tall_face + sheared
        elif face == "flat":
            sheared = 1.5 * forces.shear_n_N / area * (1 - share**2)
            twisted = side * twist_rad_per_mm * at.flat_face
            tau_sn[i] = twisted + sheared
            sigma[i] += 2 * wood.roll[node] * twisted  # stretch that off-axis wood pairs with this shear
    return sigma, tau_sn, tau_sz


def strip_stress(
    bowl: ElasticBowl,
    state: PressState,
    wood: StripWood,
    strength: GrainStrength,
    *,
    pulled_MPa: Array | None = None,
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
        Mean strengths and their scatter.
    pulled_MPa : numpy.ndarray or None
        Tension along the strip that is in no state, one value for each turn, shape (turns,). [MPa]

    Returns
    -------
    StripStress
        Along the strip.
    """
    forces = section_forces(bowl.strip, state.shape, state.deformation)
    node = forces.node
    D = torsion_stiffness_Nmm2(
        thickness_mm=np.full(len(node), wood.thickness_mm),
        width_mm=wood.width_mm[node],
        G_sz_MPa=wood.G_sz_MPa[node],
        G_sn_MPa=wood.G_sn_MPa[node],
    )
    twist = forces.twist_Nmm / D
    sigma, tau_sn, tau_sz = _place_stresses(forces, wood, twist)
    turn = np.concatenate([[1], bowl.turn])[np.maximum(node, 1)]
    # A section at the joint of two turns belongs to the turn its element is in.
    turn[::2] = turn[1::2]
    if pulled_MPa is not None:
        sigma = sigma + pulled_MPa[turn - 1]
    resolved = grain_stress(
        sigma_s_MPa=sigma,
        tau_sn_MPa=tau_sn,
        tau_sz_MPa=tau_sz,
        psi_rad=wood.psi_rad[node],
        ring_angle_rad=wood.ring_angle_rad,
    )
    shares = strength_shares(resolved, strength)
    ratio, margin = ratio_and_margin(shares, strength)
    arc = np.concatenate([[0.0], np.cumsum(bowl.strip.arc_mm)])[node]
    return StripStress(
        arc_mm=arc,
        turn=turn,
        clock_rad=wood.clock_rad[node],
        psi_rad=wood.psi_rad[node],
        twist_rad_per_mm=twist,
        greatest_MPa=np.stack(
            [
                resolved.shear_along_MPa.max(axis=0),
                resolved.rolling_shear_MPa.max(axis=0),
                resolved.tension_across_MPa.max(axis=0),
                np.abs(resolved.along_MPa).max(axis=0),
            ]
        ),
        ratio=ratio.max(axis=0),
        chance=_chance(margin.max(axis=0), wood.clock_rad[node]),
        worst=_worst(shares, ratio, margin, turn, wood.clock_rad[node], strength),
    )


def _chance(margin: Array, clock: Array) -> float:
    """Chance that some half turn splits; halves are parted where the strip runs along the grain."""
    half = np.floor(clock / np.pi + 0.5)
    whole = 1.0
    for piece in np.unique(half):
        whole *= 1 - chance_below(float(margin[half == piece].max()))
    return 1 - whole


def _worst(
    shares: Array, ratio: Array, margin: Array, turn: IntArray, clock: Array, strength: GrainStrength
) -> WorstPlace:
    place, section = (int(v) for v in np.unravel_index(int(np.argmax(margin)), margin.shape))
    main = int(np.argmax(shares[:, place, section]))
    strong = (
        strength.shear_along_MPa,
        strength.rolling_shear_MPa,
        strength.tension_across_MPa,
        strength.bending_MPa,
    )[main]
    return WorstPlace(
        turn=int(turn[section]),
        clock_rad=float(abs(np.arctan(np.tan(clock[section])))),
        section=section,
        cause=CAUSES[main],
        stress_MPa=float(np.sqrt(shares[main, place, section]) * strong),
        strength_MPa=strong,
        ratio=float(ratio[place, section]),
        chance=chance_below(float(margin[place, section])),
    )
