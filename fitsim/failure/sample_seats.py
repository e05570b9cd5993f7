"""Where the turns of drawn bowls would bind, were they rigid: slot over tangent, on two sides.

A turn's seat lies where its slot is used up. Moisture and drying stresses move it along the grain and
across it unlike, so both are kept. An elastic turn comes to rest near its seat; how near is what presses of
the strip tell (:mod:`fitsim.failure.bowl_emulator`).
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.failure.failed_samples import BowlPlan, Samples
from fitsim.tolerances.samples import DRIEST_PERCENT, WETTEST_PERCENT

__all__ = ["CLOSES_ALONG", "TURN_FOLLOWS", "SampleSeats", "sample_seats", "turns_percent"]

TURN_FOLLOWS = 0.4
"""Of what base and rim have moved apart each further turn keeps so much of the base's: an estimate."""

REACH = 50.0
"""A turn that binds nowhere has its seat so many thicknesses down."""

CLOSES_ALONG = 0.6
"""Drying stresses lie across the grain: along it a slot closes by this share of its mean, an estimate."""

LEAST_BELOW = 2.0
"""The narrowest place of a slot lies so many standard deviations of the kerf's wander below the narrowest
turn's mean (1.8 on five turns, more on more: tests/test_kerf_wander_predicted.py)."""


@dataclass(frozen=True, eq=False)
class SampleSeats:
    """Rigid seats of the drawn bowls, arrays of shape (n, turns).

    Attributes
    ----------
    along_mm, across_mm, slot_mm : numpy.ndarray
        Slot where its normal lies along and across the grain, and their mean. [mm]
    least_mm : numpy.ndarray
        The narrowest place of the whole slot, shape (n,). [mm]
    along_drop_mm, across_drop_mm, drop_mm : numpy.ndarray
        Seat drops there, and their mean. [mm]
    tangent : numpy.ndarray
        Tangent of the tilt. [-]
    """

    along_mm: Array
    across_mm: Array
    slot_mm: Array
    least_mm: Array
    along_drop_mm: Array
    across_drop_mm: Array
    drop_mm: Array
    tangent: Array


def turns_percent(plan: BowlPlan, samples: Samples, *, turn_follows: float = TURN_FOLLOWS) -> Array:
    """Moisture of every turn: as the file has it, and moved as base and rim have moved from there.

    What is known of the turns is kept turn by turn; only what moves base and rim unlike is laid between
    them.

    Parameters
    ----------
    plan, samples : BowlPlan, Samples
        What was meant, and the bowls.
    turn_follows : float
        How much of what base and rim have moved apart each further turn keeps of the base's. [-]

    Returns
    -------
    numpy.ndarray
        Shape (n, turns), as wide as the turns of :attr:`BowlPlan.moisture_percent`. [percent]
    """
    base = samples.base_percent - samples.meant_percent[:, 0]
    rim = samples.rim_percent - plan.rim_of(samples.meant_percent)
    turns = samples.meant_percent[:, 1:]
    near_base = turn_follows ** np.arange(1, turns.shape[1] + 1)
    moved = rim[:, None] + (base - rim)[:, None] * near_base
    # A file may name a moisture beyond what scatter is let come to: that one stays as it is.
    driest, wettest = np.minimum(turns, DRIEST_PERCENT), np.maximum(turns, WETTEST_PERCENT)
    return np.clip(turns + moved, driest, wettest)


def sample_seats(plan: BowlPlan, samples: Samples) -> SampleSeats:
    """Seats of drawn bowls.

    Parameters
    ----------
    plan, samples : BowlPlan, Samples
        What was meant, and the bowls.

    Returns
    -------
    SampleSeats
        One row a bowl.
    """
    wood = plan.bowl.board.wood
    ring = plan.bowl.board.ring_angle_rad
    swells = (
        wood.swell_T_per_point.value * math.cos(ring) ** 2
        + wood.swell_R_per_point.value * math.sin(ring) ** 2
    )
    percent = np.column_stack([samples.base_percent, turns_percent(plan, samples)])
    # The turn's moisture less its inner neighbour's: only the difference moves a seat.
    wetter = np.diff(percent, axis=1)[:, : plan.turns] * plan.radius_mm
    cosine, tangent = np.cos(samples.tilt_rad), np.tan(samples.tilt_rad)
    meant = (samples.kerf_mm - 2 * samples.film_mm[:, None]) / cosine
    closed = samples.closed_mm[:, None]
    along = meant - CLOSES_ALONG * closed + wood.swell_L_per_point.value * wetter
    across = meant - (2 - CLOSES_ALONG) * closed + swells * wetter
    most = REACH * plan.bowl.board.thickness_mm
    safe = np.where(tangent > 0, np.maximum(tangent, 1e-4), 0.0)
    slope = np.maximum(safe, 1e-9)
    drops = [np.where(safe > 0, np.clip(slot / slope, 0.0, most), most) for slot in (along, across)]
    least = np.minimum(along, across) - LEAST_BELOW * samples.wander_mm[:, None]
    return SampleSeats(
        along_mm=along,
        across_mm=across,
        slot_mm=(along + across) / 2,
        least_mm=least.min(axis=1),
        along_drop_mm=drops[0],
        across_drop_mm=drops[1],
        drop_mm=(drops[0] + drops[1]) / 2,
        tangent=tangent,
    )
