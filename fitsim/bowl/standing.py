"""The bowl as it stands: how high each part of the strip has come, and the open bowl's measures.

A bowl that holds is measured after letting go; one that springs back, while it is pressed. Its heights are
those of the elastic strip; where only the rigid turns were worked out they are the staircase of the seat
drops. Drawings, tables, the sheet for the saw and the plan all read this one bowl.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import RigidFit
from fitsim.bowl.elastic import ElasticFit, Opening
from fitsim.geometry.shape import BowlShape, bowl_shape, height_above_base_mm, middle_reach_mm, wall_slope
from fitsim.quantities import TURN_RAD
from fitsim.strip.press import ElasticBowl, PressState
from fitsim.strip.results import rim_height

__all__ = ["StandingBowl", "outward_mm", "slope_of_wall", "standing_bowl", "standing_opening"]

FALLEN_SHARE = 1.1
"""A turn that finds nothing to bind on is shown this share of the thickness below: it hangs free."""

POINTS_PER_TURN = 72
"""Points of the rigid turns' staircase in a revolution."""


@dataclass(frozen=True, eq=False)
class StandingBowl:
    """Heights and measures of the open bowl, its middle at every range.

    Attributes
    ----------
    let_go : bool
        Whether this is after letting go; else while the press acts.
    angle_rad, height_mm : numpy.ndarray
        Angle swept from the root, and height of the strip above its place in the flat board, (n,).
        [rad, mm]
    drop_mm : numpy.ndarray
        Mean drop of each turn below its outer neighbour, innermost first, (turns,). [mm]
    shape : BowlShape or None
        Rise, slope, diameters, capacity; None where a turn falls through or will not open.
    """

    let_go: bool
    angle_rad: Array
    height_mm: Array
    drop_mm: Array
    shape: BowlShape | None

    def height_at_mm(self, angle_rad: float) -> float:
        """Height of the strip at an angle swept from the root. [mm]

        Parameters
        ----------
        angle_rad : float
            Angle. [rad]

        Returns
        -------
        float
            Straight between the angles there are. [mm]
        """
        return float(np.interp(angle_rad, self.angle_rad, self.height_mm))


def standing_bowl(rigid: RigidFit, found: ElasticFit | None) -> StandingBowl:
    """The bowl as it stands.

    Parameters
    ----------
    rigid : RigidFit
        Its rigid turns.
    found : ElasticFit or None
        Its elastic strip, if it was pressed.

    Returns
    -------
    StandingBowl
        Let go where it holds, else pressed; rigid turns where there is no strip.
    """
    return (
        _rigid_turns(rigid) if found is None else standing_opening(rigid, found.opening, holds=found.holds)
    )


def _rigid_turns(rigid: RigidFit) -> StandingBowl:
    end = float(rigid.strip.angle_rad[-1])
    thickness = float(np.mean(rigid.faces.outer_thickness_mm))
    drop = np.minimum(rigid.seats.seat_drop_mm, FALLEN_SHARE * thickness)
    angle = np.linspace(0.0, end, math.ceil(end / TURN_RAD * POINTS_PER_TURN) + 1)
    return StandingBowl(
        let_go=False,
        angle_rad=frozen(angle),
        height_mm=frozen(height_above_base_mm(angle, drop)),
        drop_mm=frozen(drop),
        shape=rigid.shape,
    )


def outward_mm(rigid: RigidFit, elastic: ElasticBowl, state: PressState) -> Array:
    """How far out each node of the strip stands, square to the turns.

    Parameters
    ----------
    rigid, elastic : RigidFit, ElasticBowl
        The bowl's rigid turns and its strip.
    state : PressState
        Pressed, or let go.

    Returns
    -------
    numpy.ndarray
        Counted as the slot's own reach is, shape (nodes,). [mm]
    """
    strip = elastic.strip
    moved = (state.shape.position_mm - strip.position_mm)[:, :2]
    place = np.arange(len(moved)) / elastic.nodes_per_turn
    return np.asarray(middle_reach_mm(rigid.slot, place) + np.sum(moved * strip.frame[:, :2, 0], axis=1))


def slope_of_wall(rigid: RigidFit, elastic: ElasticBowl, state: PressState) -> float:
    """Slope of the wall, by the middles of the whole turns.

    Parameters
    ----------
    rigid, elastic, state : RigidFit, ElasticBowl, PressState
        As for :func:`outward_mm`.

    Returns
    -------
    float
        Its tangent. [-]
    """
    turn = elastic.turn - 1
    count = np.bincount(turn)
    whole = count >= elastic.nodes_per_turn
    height = (state.shape.position_mm - elastic.strip.position_mm)[1:, 2]
    out = outward_mm(rigid, elastic, state)[1:]
    middles, stands = (np.bincount(turn, each) / count for each in (out, height))
    return wall_slope(
        middles[whole],
        stands[whole],
        rise_mm=rim_height(elastic, state).mean_mm,
        wide_mm=_wide_mm(rigid),
    )


def _wide_mm(rigid: RigidFit) -> float:
    """How far the cut moves from the base to the nail. [mm]"""
    inward = np.interp(rigid.strip.angle_rad[[0, -1]], rigid.slot.angle_rad, rigid.slot.reach_mm)
    return float(inward[1] - inward[0])


def standing_opening(rigid: RigidFit, opening: Opening, *, holds: bool) -> StandingBowl:
    """The bowl as it stands after one opening.

    Parameters
    ----------
    rigid : RigidFit
        Its rigid turns.
    opening : Opening
        Its elastic strip pressed open and let go.
    holds : bool
        Whether it keeps its rise.

    Returns
    -------
    StandingBowl
        Let go where it holds, else pressed.
    """
    elastic = opening.elastic
    state = opening.released.rest if holds and opening.released is not None else opening.pressed
    turns = elastic.turn - 1
    drop = np.bincount(turns, state.drop_mm) / np.bincount(turns)
    # A last turn too short to hold a node of the strip has sunk as far as the one before it.
    drop = np.append(drop, np.full(len(rigid.seats.share) - len(drop), drop[-1]))
    overlap = 1 - drop / elastic.seats.thickness_mm
    rise = state.shape.position_mm[:, 2] - elastic.strip.position_mm[:, 2]
    rim = rim_height(elastic, state)
    seats = replace(rigid.seats, seat_drop_mm=frozen(drop), overlap=frozen(overlap))
    shape = None
    if not opening.fell_through:
        shape = bowl_shape(
            rigid.slot,
            rigid.strip,
            seats,
            thickness_mm=elastic.seats.thickness_mm,
            pitch_mm=_wide_mm(rigid) / rigid.strip.turns,
        )
    if shape is not None:
        shape = replace(
            shape,
            rise_mm=rim.mean_mm,
            rise_least_mm=rim.least_mm,
            rise_greatest_mm=rim.greatest_mm,
            wall_slope_rad=math.atan(slope_of_wall(rigid, elastic, state)),
            height_mm=rim.mean_mm + elastic.seats.thickness_mm,
        )
    return StandingBowl(
        let_go=holds,
        angle_rad=frozen(TURN_RAD / elastic.nodes_per_turn * np.arange(len(rise))),
        height_mm=frozen(rise),
        drop_mm=frozen(drop),
        shape=shape,
    )
