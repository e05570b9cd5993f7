"""The closed form of one bowl: rigid seats and the taper rule. Of splitting it knows nothing."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fitsim.bowl.inputs import BowlPhysics, Cut
from fitsim.bowl.taper_statics import friction_used
from fitsim.bowl.verdict import DecidingNumbers
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import Outline
from fitsim.geometry.cut import SlotCurve, Strip, last_pitch_mm, spiral_slot, strip_between_slots
from fitsim.geometry.rings import SlotFaces, slot_faces
from fitsim.geometry.seats import TurnSeats, turn_seats
from fitsim.geometry.shape import BowlShape, bowl_shape
from fitsim.geometry.winding import winding
from fitsim.geometry.wound_slot import wound_slot
from fitsim.wood.moisture import swelling_strain

__all__ = [
    "RigidFit",
    "SlotInputs",
    "deciding_numbers",
    "free_end_width_mm",
    "rigid_fit",
    "rigid_fit_of",
    "rigid_rise_mm",
    "slot_and_strip",
    "slot_inputs",
]

END_WIDTH_SHARE = 0.5
"""The free end is trimmed where the strip is this share of the pitch wide: our default."""


def free_end_width_mm(cut: Cut, slot: SlotCurve) -> float:
    """Width at which the free end is trimmed.

    Parameters
    ----------
    cut : Cut
        The cut.
    slot : SlotCurve
        Its sampled curve.

    Returns
    -------
    float
        :data:`END_WIDTH_SHARE` of the pitch, of the outermost turn's where it varies. [mm]
    """
    return END_WIDTH_SHARE * (last_pitch_mm(slot) if cut.pitch_shape else cut.pitch_mm)


@dataclass(frozen=True, eq=False)
class RigidFit:
    """Closed-form fit of one bowl with every input at one value.

    Attributes
    ----------
    slot : SlotCurve
        The sampled cut.
    strip : Strip
        The wood between the slots, trimmed to the nail.
    faces : SlotFaces
        The slot's faces after swelling and film.
    seats : TurnSeats
        The drop at which each turn binds.
    shape : BowlShape or None
        Measures of the open bowl; None where a turn falls through.
    friction_used : tuple[float, ...]
        Taper rule by turn, innermost first. [-]
    numbers : DecidingNumbers
        Of stiff turns: nothing is pressed, so nothing splits.
    """

    slot: SlotCurve
    strip: Strip
    faces: SlotFaces
    seats: TurnSeats
    shape: BowlShape | None
    friction_used: tuple[float, ...]
    numbers: DecidingNumbers


@dataclass(frozen=True)
class SlotInputs:
    """What the faces of the slot hang on; strength and stiffness of the wood are no part of it.

    Attributes
    ----------
    cut : Cut
        The cut.
    across_mm, thickness_mm : float
        Of the board. [mm]
    outline, edge : str, Outline or None
        Of the board.
    ring_angle_rad : float
        Growth rings against the face. [rad]
    moisture_percent : float
        Moisture content when cut. [percent]
    swell_per_point : tuple[float, float, float]
        Strain for a percentage point of moisture, along the grain, radial, tangential. [1/percent]
    film_mm : float
        Dried film on each face. [mm]
    base_moisture_percent : float
        Moisture content of the base now. [percent]
    turn_moisture_percent : tuple[float, ...]
        Of the turns now, one value or one for each, innermost first. [percent]
    """

    cut: Cut
    across_mm: float
    outline: str
    edge: Outline | None
    thickness_mm: float
    ring_angle_rad: float
    moisture_percent: float
    swell_per_point: tuple[float, float, float]
    film_mm: float
    base_moisture_percent: float
    turn_moisture_percent: tuple[float, ...]


def slot_inputs(bowl: BowlPhysics) -> SlotInputs:
    """What the faces of a bowl's slot hang on.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl.

    Returns
    -------
    SlotInputs
        Equal for bowls whose slots are.
    """
    board, use, wood = bowl.board, bowl.use, bowl.board.wood
    return SlotInputs(
        cut=bowl.cut,
        across_mm=board.across_mm,
        outline=board.outline,
        edge=board.edge,
        thickness_mm=board.thickness_mm,
        ring_angle_rad=board.ring_angle_rad,
        moisture_percent=board.moisture_percent,
        swell_per_point=(
            wood.swell_L_per_point.value,
            wood.swell_R_per_point.value,
            wood.swell_T_per_point.value,
        ),
        film_mm=use.film_mm,
        base_moisture_percent=use.base_moisture_percent,
        turn_moisture_percent=use.turn_moisture_percent,
    )


def rigid_fit(bowl: BowlPhysics) -> RigidFit:
    """Closed-form fit with every input at the one value the bowl holds.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl.

    Returns
    -------
    RigidFit
        Geometry, seats, hold.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    return rigid_fit_of(slot_inputs(bowl), bowl.use.friction)


def rigid_fit_of(at: SlotInputs, friction: float) -> RigidFit:
    """Closed-form fit by what it hangs on.

    Parameters
    ----------
    at : SlotInputs
        Of the slot.
    friction : float
        Between bevels. [-]

    Returns
    -------
    RigidFit
        As :func:`rigid_fit`, with the same errors.
    """
    slot, strip = _slot_and_strip(at.cut, at.across_mm, at.outline, at.edge)
    faces, seats = _faces_and_seats(at)
    holds = _holds(seats, friction)
    thickness = float(np.mean(faces.outer_thickness_mm))
    return RigidFit(
        slot=slot,
        strip=strip,
        faces=faces,
        seats=seats,
        shape=bowl_shape(
            slot, strip, seats, thickness_mm=thickness, pitch_mm=_mean_pitch_mm(at.cut, slot, strip)
        ),
        friction_used=holds,
        numbers=_numbers(seats, holds),
    )


def _mean_pitch_mm(cut: Cut, slot: SlotCurve, strip: Strip) -> float:
    """Mean pitch from the root to the free end. [mm]"""
    if not cut.pitch_shape:
        return cut.pitch_mm
    reached = float(np.interp(strip.angle_rad[-1], slot.angle_rad, slot.reach_mm))
    return (reached - float(slot.reach_mm[0])) / strip.turns


def deciding_numbers(bowl: BowlPhysics) -> DecidingNumbers:
    """The numbers alone, for the many trials over the ends of ranges.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl.

    Returns
    -------
    DecidingNumbers
        As :func:`rigid_fit` has them.
    """
    _, seats = _faces_and_seats(slot_inputs(bowl))
    return _numbers(seats, _holds(seats, bowl.use.friction))


def rigid_rise_mm(bowl: BowlPhysics) -> float:
    """Rise with all seats bound, the seats kept from :func:`deciding_numbers`.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl.

    Returns
    -------
    float
        Sum of the turns' drops, each by the share of a revolution it covers; no check that they bind
        within the thickness. [mm]
    """
    _, seats = _faces_and_seats(slot_inputs(bowl))
    return float(np.sum(seats.seat_drop_mm * seats.share))


def slot_and_strip(bowl: BowlPhysics) -> tuple[SlotCurve, Strip]:
    """The cut of a bowl and the strip it leaves, kept from call to call.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl.

    Returns
    -------
    tuple[SlotCurve, Strip]
        Sampled from the root outward.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip.
    """
    return _slot_and_strip(bowl.cut, bowl.board.across_mm, bowl.board.outline, bowl.board.edge)


@lru_cache(maxsize=16)
def _slot_and_strip(
    cut: Cut, across_mm: float, outline: str, edge: Outline | None
) -> tuple[SlotCurve, Strip]:
    """Geometry of the cut; most inputs known as ranges leave it as it is, so it is kept."""
    if edge is None:
        slot = spiral_slot(
            base_radius_mm=cut.base_radius_mm,
            outer_radius_mm=across_mm / 2,
            pitch_mm=cut.pitch_mm,
            kerf_mm=cut.kerf_mm,
            tilt_rad=cut.tilt_rad,
            root_rad=cut.root_rad,
            pitch_shape=cut.pitch_shape,
        )
    else:
        slot = _wound(cut, edge)
    strip = strip_between_slots(
        slot, across_mm=across_mm, outline=outline, end_width_mm=free_end_width_mm(cut, slot)
    )
    return slot, strip


def _wound(cut: Cut, edge: Outline) -> SlotCurve:
    """The cut that follows an outline other than a round one."""
    span = edge.across_mm / 2 - cut.base_radius_mm
    if span <= 0:
        raise OutsideModelError("a base smaller than the board is needed")
    lines = winding(
        edge,
        span_mm=span,
        corner_mm=min(cut.base_corner_mm or cut.base_radius_mm, cut.base_radius_mm),
        root_rad=cut.root_rad,
        base=cut.base_edge,
    )
    return wound_slot(
        lines,
        turns=span / cut.pitch_mm,
        kerf_mm=cut.kerf_mm,
        tilt_rad=cut.tilt_rad,
        pitch_shape=cut.pitch_shape,
    )


def _holds(seats: TurnSeats, friction: float) -> tuple[float, ...]:
    return tuple(friction_used(slope=float(slope), friction=friction) for slope in seats.slope)


def _numbers(seats: TurnSeats, holds: tuple[float, ...]) -> DecidingNumbers:
    return DecidingNumbers(
        slot_left_mm=float(seats.slot_left_mm.min()),
        overlap=float(seats.overlap.min()),
        friction_used=max(holds),
        split_chance=0.0,
    )


@lru_cache(maxsize=64)
def _faces_and_seats(at: SlotInputs) -> tuple[SlotFaces, TurnSeats]:
    """Faces and seats; of the corners of the ranges most differ in strength alone, so they are kept."""
    slot, strip = _slot_and_strip(at.cut, at.across_mm, at.outline, at.edge)
    turns = int(np.ceil(strip.turns - 1e-9))
    now = at.turn_moisture_percent * (turns if len(at.turn_moisture_percent) == 1 else 1)
    swell_L, swell_R, swell_T = at.swell_per_point
    strain = swelling_strain(
        swell_L_per_point=swell_L,
        swell_R_per_point=swell_R,
        swell_T_per_point=swell_T,
        ring_angle_rad=at.ring_angle_rad,
        change_points=np.array([at.base_moisture_percent, *now]) - at.moisture_percent,
    )
    faces = slot_faces(
        slot,
        strip,
        thickness_mm=at.thickness_mm,
        film_mm=at.film_mm,
        along_strain=np.atleast_1d(strain.along_grain).tolist(),
        across_strain=np.atleast_1d(strain.across).tolist(),
        thickness_strain=np.atleast_1d(strain.thickness).tolist(),
    )
    return faces, turn_seats(faces)
