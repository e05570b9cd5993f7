"""The bowl as it stands: how high each part of the strip has come, and the open bowl's measures.

A bowl that holds is measured after letting go; one that springs back, while it is pressed. Its heights are
those of the elastic strip; where only the rigid turns were worked out they are the staircase of the seat
drops. Drawings, tables and the sheet for the saw all read this one bowl.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.closed_form import RigidFit
from fitsim.bowl.elastic import ElasticFit, Opening
from fitsim.geometry.cut import TURN_RAD, frozen
from fitsim.geometry.shape import BowlShape, bowl_shape, height_above_base_mm
from fitsim.strip.results import rim_height

__all__ = ["StandingBowl", "standing_bowl", "standing_opening"]

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
    overlap : numpy.ndarray
        Share of the thickness that faces wood at that drop, (turns,). [-]
    shape : BowlShape or None
        Rise, slope, diameters, capacity; None where a turn falls through or will not open.
    """

    let_go: bool
    angle_rad: Array
    height_mm: Array
    drop_mm: Array
    overlap: Array
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
        overlap=rigid.seats.overlap,
        shape=rigid.shape,
    )


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
    inward = np.interp(rigid.strip.angle_rad[[0, -1]], rigid.slot.angle_rad, rigid.slot.reach_mm)
    wide = float(inward[1] - inward[0])
    seats = replace(rigid.seats, seat_drop_mm=frozen(drop), overlap=frozen(overlap))
    shape = None
    if not opening.fell_through:
        shape = bowl_shape(
            rigid.slot,
            rigid.strip,
            seats,
            thickness_mm=elastic.seats.thickness_mm,
            pitch_mm=wide / rigid.strip.turns,
        )
    if shape is not None:
        shape = replace(
            shape,
            rise_mm=rim.mean_mm,
            rise_least_mm=rim.least_mm,
            rise_greatest_mm=rim.greatest_mm,
            wall_slope_rad=math.atan2(rim.mean_mm, wide),
            height_mm=rim.mean_mm + elastic.seats.thickness_mm,
        )
    return StandingBowl(
        let_go=holds,
        angle_rad=frozen(TURN_RAD / elastic.nodes_per_turn * np.arange(len(rise))),
        height_mm=frozen(rise),
        drop_mm=frozen(drop),
        overlap=frozen(overlap),
        shape=shape,
    )
