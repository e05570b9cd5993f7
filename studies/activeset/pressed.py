"""What is pressed: a strip with its slots and nails, and its state under a press.

Calculated by `press`, read by `hold`.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.strip.beam import ElasticStrip, Shape

from .contact import ContactState, Points
from .meeting import Seats
from .tie import Nail

__all__ = ["ElasticBowl", "PressState", "mean_rise_mm", "rim_load", "strain_energy_Nmm"]


@dataclass(frozen=True, eq=False)
class ElasticBowl:
    """A strip, its slots, its nails, how it is loaded and how it is calculated.

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
        Contact compliance of a touching point. [mm/N]
    large : bool
        Large displacements.

    """

    strip: ElasticStrip
    seats: Seats
    nails: tuple[Nail, ...]
    friction: float
    load_share: Array
    turn: IntArray
    compliance_mm_per_N: float = 1e-4
    large: bool = True


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
        Of the elements, local axes, shape (e, 6). [mm, rad]
    place, drop_mm, slid_mm : numpy.ndarray
        What every node faces, drops of the seats, (n - 1,); coordinates of the sliding of every
        point, shape (2 (n - 1), 2). [-, mm, mm]
    contact : ContactState
        Seat points, lower end first, node by node; then two points a nail (shifts, rotations).
    points : Points
        Their lines of force.
    sweeps, iterations : int
        Linear systems solved and shapes tried in the last load step.
    residual_mm : float
        Largest movement of a node in the last iteration. [mm]
    converged : bool
        Whether shape and contact settled.
    fell_through : bool
        Whether some seat's drop has reached the thickness.

    """

    press_N: float
    shape: Shape
    deformation: Array
    place: Array
    drop_mm: Array
    slid_mm: Array
    contact: ContactState
    points: Points
    sweeps: int
    iterations: int
    residual_mm: float
    converged: bool
    fell_through: bool


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
    """Elastic energy of the strip and of the give at the touching points. [N mm]

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
    bent = 0.5 * float(np.einsum("ei,eij,ej->", eps, stiffness, eps))
    seat = state.contact.force_N[: len(state.slid_mm), 0]
    return bent + 0.5 * bowl.compliance_mm_per_N * float(seat @ seat)
