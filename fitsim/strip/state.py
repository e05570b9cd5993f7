"""What is pressed: a strip with its slots and nails, and its state under a press.

Calculated by `press` and `strip.release`, read by `readings` and `stress`.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.strip.beam import ElasticStrip, Shape
from fitsim.strip.gap import Seats
from fitsim.strip.nail_tie import Nail

__all__ = [
    "ContactForces",
    "ElasticBowl",
    "Followed",
    "PressState",
    "mean_rise_mm",
    "rim_load",
    "strain_energy_Nmm",
]

COMPLIANCE_NODES_PER_TURN = 36
"""Contact points a revolution that the compliance of a touching point is stated for."""


@dataclass(frozen=True, eq=False)
class ElasticBowl:
    """A strip, its slots, its nails, and how it is loaded.

    Attributes
    ----------
    strip, seats : ElasticStrip, Seats
        The strip at rest and its slots.
    nails : tuple of Nail
        Ties; none leaves the ring open.
    friction : float
        Coefficient between bevels. [-]
    load_share : numpy.ndarray
        Share of the press at every node, summing to 1, shape (n,). [-]
    turn : numpy.ndarray
        Turn, from 1, of the seat inside every node but the root, shape (n - 1,).
    compliance_mm_per_N : float
        Contact compliance of a touching point where 36 of them share a revolution: an estimate. [mm/N]
    splines_per_turn : int or None
        Splines that its shape is written with in a revolution; None for the usual number to a point, which
        serves circles.

    """

    strip: ElasticStrip
    seats: Seats
    nails: tuple[Nail, ...]
    friction: float
    load_share: Array
    turn: IntArray
    compliance_mm_per_N: float = 1e-4
    splines_per_turn: int | None = None

    @property
    def nodes_per_turn(self) -> int:
        """Elements in a revolution."""
        return int(np.count_nonzero(self.turn == 1))

    @property
    def point_compliance_mm_per_N(self) -> float:
        """Contact compliance of one of this strip's touching points. [mm/N]"""
        return self.compliance_mm_per_N * self.nodes_per_turn / COMPLIANCE_NODES_PER_TURN


@dataclass(frozen=True, eq=False)
class ContactForces:
    """Forces at the seats' points, lower end first, node by node; then two points a nail.

    Attributes
    ----------
    force_N : numpy.ndarray
        On the outer turn along normal, slope and strip; of a nail three forces [N], then three
        moments [N mm], shape (p, 3).
    residual_gap_mm : float
        Largest gap of a touching point beside its compliance, or overlap of an open one, in the shape. [mm]
    residual_force_N : float
        Largest pull of a point: none, the law has none. [N]
    residual_friction_N : float
        Largest amount by which friction exceeds what it can be. [N]
    """

    force_N: Array
    residual_gap_mm: float
    residual_force_N: float
    residual_friction_N: float


@dataclass(frozen=True, eq=False)
class Followed:
    """What a state hands on to the next load step: the shape as splines, and the friction's memory.

    Attributes
    ----------
    splines : numpy.ndarray
        Rotation vectors and stretch, shape (unknowns,), as `StripSplines` orders them. [rad, -]
    shear_mm : numpy.ndarray
        Shear of the elements in their axes n and b, the middle column unused, (e, 3). [mm]
    force : numpy.ndarray
        At every slot's two points, (slots, 2, 3). [N, N mm for a nail's moments]
    gap_mm, slope_mm : numpy.ndarray
        Normal gap at the seats' points, and the coordinate up the slope from which sliding is counted,
        (n - 1, 2). [mm]
    """

    splines: Array
    shear_mm: Array
    force: Array
    gap_mm: Array
    slope_mm: Array


@dataclass(frozen=True, eq=False)
class PressState:
    """A bowl under a press.

    Attributes
    ----------
    press_N : float
        Press. [N]
    shape : Shape
        Where the strip is.
    deformation : numpy.ndarray
        Of the elements under what they carry by statics, local axes, shape (e, 6). [mm, rad]
    place, drop_mm : numpy.ndarray
        What every node faces, counted in nodes, and drops of the seats, (n - 1,). [-, mm]
    slid_mm : numpy.ndarray
        Sliding of outer on inner along slope and strip at every seat point on the way here,
        shape (2 (n - 1), 2). [mm]
    lost_Nmm, given_Nmm : float
        Work lost in friction and stored in the compliance of the points on the way here. [N mm]
    contact : ContactForces
        Forces at the points.
    followed : Followed
        What the next load step begins with.
    iterations : int
        Linear systems solved in the last load step.
    residual_mm : float
        Difference of the gaps found and those of the shape, the largest. [mm]
    fell_through : bool
        Whether some seat's drop has reached the thickness.
    closely : bool
        Whether it was settled closely enough for stresses.
    """

    press_N: float
    shape: Shape
    deformation: Array
    place: Array
    drop_mm: Array
    slid_mm: Array
    lost_Nmm: float
    given_Nmm: float
    contact: ContactForces
    followed: Followed
    iterations: int
    residual_mm: float
    fell_through: bool
    closely: bool = True


def rim_load(strip: ElasticStrip, *, first_node: int) -> Array:
    """Shares (n,) of a press spread evenly along the strip from a node to the free end.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    first_node : int
        Node where the press begins.

    Returns
    -------
    numpy.ndarray
        Share of the press at every node, summing to 1, shape (n,). [-]
    """
    share = np.zeros(len(strip.position_mm))
    arc = strip.arc_mm[first_node:]
    share[first_node:-1] += arc / 2
    share[first_node + 1 :] += arc / 2
    return np.asarray(share / share.sum())


def mean_rise_mm(bowl: ElasticBowl, state: PressState) -> float:
    """Rise weighted as the press is spread. [mm]

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    float
        Rise. [mm]
    """
    return float(bowl.load_share @ (state.shape.position_mm - bowl.strip.position_mm)[:, 2])


def strain_energy_Nmm(bowl: ElasticBowl, state: PressState) -> float:
    """Elastic energy of the strip. [N mm]

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    state : PressState
        Its state.

    Returns
    -------
    float
        Energy. [N mm]
    """
    stiffness = np.linalg.inv(bowl.strip.flexibility)
    eps = state.deformation
    return 0.5 * float(np.einsum("ei,eij,ej->", eps, stiffness, eps))
