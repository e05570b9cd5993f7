"""The chain: from a bowl to its rigid fit, its verdict, and what the saw and the nail must do.

This is the only module that puts the phenomena in order; every intermediate is kept and named.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.blade import LeastRadius, cutting_time_min, least_radius, room_to_turn_mm
from fitsim.bowl import Bowl, Cut, with_input
from fitsim.cut import SlotCurve, Strip, cut_length_mm, spiral_slot, strip_between_slots
from fitsim.grain import board_stiffness
from fitsim.moisture import PRINTED_RANGE_PERCENT, swelling_strain, wood_at_moisture
from fitsim.nail import NailAdvice, nail_advice
from fitsim.ranges import corners, verdict_over_ranges
from fitsim.ring import SlotFaces, slot_faces
from fitsim.seat import TurnSeats, turn_seats
from fitsim.shape import BowlShape, bowl_shape
from fitsim.split import GrainStrength, SplitEstimate, split_estimate
from fitsim.taper import collapse_over_press, hold_used
from fitsim.verdict import DecidingNumbers, Verdict
from fitsim.wood import variability

__all__ = [
    "WOOD_VALUES_USED",
    "BowlFit",
    "RigidFit",
    "deciding_numbers",
    "fit",
    "rigid_fit",
    "rigid_rise_mm",
]

END_WIDTH_SHARE = 0.5
"""The free end is trimmed where the strip is this share of the pitch wide: our default."""

WOOD_VALUES_USED = (
    "specific_gravity",
    "E_L_MPa",
    "E_R_MPa",
    "E_T_MPa",
    "G_LR_MPa",
    "G_LT_MPa",
    "G_RT_MPa",
    "shear_along_MPa",
    "rolling_shear_MPa",
    "tension_across_MPa",
    "bending_strength_MPa",
    "swell_L_per_point",
    "swell_R_per_point",
    "swell_T_per_point",
    "nu_LR",
    "nu_LT",
    "nu_RT",
    "green_ratio_modulus",
    "green_ratio_bending",
    "green_ratio_shear",
    "intersection_moisture_percent",
)
"""Properties of the wood that reach an answer; every report shows them with their sources."""

UNEVEN_SEAT = 1.05
"""Greatest over least drop round a turn from which a note says that it rides on two sides: our choice."""

WIDENING_WORTH_SAYING = 0.1
"""Share of the kerf a blade may need to turn before a note says so: our choice."""


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
    hold_used : tuple[float, ...]
        Taper rule by turn, innermost first. [-]
    split : SplitEstimate
        First estimate of splitting on opening.
    numbers : DecidingNumbers
        What the verdict rests on.
    """

    slot: SlotCurve
    strip: Strip
    faces: SlotFaces
    seats: TurnSeats
    shape: BowlShape | None
    hold_used: tuple[float, ...]
    split: SplitEstimate
    numbers: DecidingNumbers


@dataclass(frozen=True, eq=False)
class BowlFit:
    """Everything worked out about one bowl.

    Attributes
    ----------
    bowl : Bowl
        What was asked.
    rigid : RigidFit
        Closed form with every range at its middle.
    verdict : Verdict
        State, margins, and what the state depends on.
    cut_length_mm : float
        Length of the saw cut. [mm]
    cutting_time_min : float
        Time at the saw. [min]
    least_radius : LeastRadius or None
        Of the blade; None when its width was not given.
    nail : NailAdvice
        For the free end.
    collapse_over_press : float
        Push from below that frees the taper, over the press that seated it; nan: it jams. [-]
    worst_split : SplitEstimate
        Split estimate where the ranges make splitting likeliest.
    rise_range_mm : tuple[float, float]
        Least and greatest mean rise over the ends of the ranges, all seats bound. [mm]
    notes : tuple[str, ...]
        Remarks that go with the numbers, in a maker's words.
    """

    bowl: Bowl
    rigid: RigidFit
    verdict: Verdict
    cut_length_mm: float
    cutting_time_min: float
    least_radius: LeastRadius | None
    nail: NailAdvice
    collapse_over_press: float
    worst_split: SplitEstimate
    rise_range_mm: tuple[float, float]
    notes: tuple[str, ...]


def rigid_fit(bowl: Bowl) -> RigidFit:
    """Closed-form fit with every input at the one value the bowl holds.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    RigidFit
        Geometry, seats, hold, split estimate.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    slot, strip = _slot_and_strip(bowl.cut, bowl.board.across_mm, bowl.board.outline)
    faces = _faces_now(bowl, slot, strip)
    seats = turn_seats(faces)
    split = _split_now(bowl, slot, strip, seats)
    holds = _holds(bowl, seats)
    thickness = float(np.mean(faces.outer_thickness_mm))
    return RigidFit(
        slot=slot,
        strip=strip,
        faces=faces,
        seats=seats,
        shape=bowl_shape(slot, strip, seats, thickness_mm=thickness, pitch_mm=bowl.cut.pitch_mm),
        hold_used=holds,
        split=split,
        numbers=_numbers(seats, holds, split),
    )


def deciding_numbers(bowl: Bowl) -> DecidingNumbers:
    """The four numbers alone, for the many trials over the ends of ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    DecidingNumbers
        As :func:`rigid_fit` has them.
    """
    # Friction moves the hold alone: the rest is kept, so that half the corners cost nothing.
    seats, split = _seats_and_split(_without_friction(bowl))
    return _numbers(seats, _holds(bowl, seats), split)


def rigid_rise_mm(bowl: Bowl) -> float:
    """Rise with all seats bound, the seats kept from :func:`deciding_numbers`.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        Sum of the turns' drops, each by the share of a revolution it covers; no check that they bind
        within the thickness. [mm]
    """
    seats, _ = _seats_and_split(_without_friction(bowl))
    return float(np.sum(seats.seat_drop_mm * seats.share))


def _without_friction(bowl: Bowl) -> Bowl:
    return replace(bowl, use=replace(bowl.use, friction=0.0), assumptions=(), uncertain=())


@lru_cache(maxsize=256)
def _seats_and_split(bowl: Bowl) -> tuple[TurnSeats, SplitEstimate]:
    slot, strip = _slot_and_strip(bowl.cut, bowl.board.across_mm, bowl.board.outline)
    seats = turn_seats(_faces_now(bowl, slot, strip))
    return seats, _split_now(bowl, slot, strip, seats)


@lru_cache(maxsize=16)
def _slot_and_strip(cut: Cut, across_mm: float, outline: str) -> tuple[SlotCurve, Strip]:
    """Geometry of the cut; most inputs known as ranges leave it as it is, so it is kept."""
    slot = spiral_slot(
        base_radius_mm=cut.base_radius_mm,
        outer_radius_mm=across_mm / 2,
        pitch_mm=cut.pitch_mm,
        kerf_mm=cut.kerf_mm,
        tilt_rad=cut.tilt_rad,
        root_rad=cut.root_rad,
    )
    strip = strip_between_slots(
        slot, across_mm=across_mm, outline=outline, end_width_mm=END_WIDTH_SHARE * cut.pitch_mm
    )
    return slot, strip


def _holds(bowl: Bowl, seats: TurnSeats) -> tuple[float, ...]:
    friction = bowl.use.friction
    return tuple(hold_used(slope=float(slope), friction=friction) for slope in seats.slope)


def _numbers(seats: TurnSeats, holds: tuple[float, ...], split: SplitEstimate) -> DecidingNumbers:
    return DecidingNumbers(
        slot_left_mm=float(seats.slot_left_mm.min()),
        overlap=float(seats.overlap.min()),
        hold_used=max(holds),
        split_chance=split.chance,
    )


def _faces_now(bowl: Bowl, slot: SlotCurve, strip: Strip) -> SlotFaces:
    board, use = bowl.board, bowl.use
    turns = int(np.ceil(strip.turns - 1e-9))
    now = use.turn_moisture_percent * (turns if len(use.turn_moisture_percent) == 1 else 1)
    change = np.array([use.base_moisture_percent, *now]) - board.moisture_percent
    wood = board.wood
    strain = swelling_strain(
        swell_L_per_point=wood.swell_L_per_point.value,
        swell_R_per_point=wood.swell_R_per_point.value,
        swell_T_per_point=wood.swell_T_per_point.value,
        ring_angle_rad=board.ring_angle_rad,
        change_points=change,
    )
    return slot_faces(
        slot,
        strip,
        thickness_mm=board.thickness_mm,
        film_mm=use.film_mm,
        along_strain=np.atleast_1d(strain.along_grain).tolist(),
        across_strain=np.atleast_1d(strain.across).tolist(),
        thickness_strain=np.atleast_1d(strain.thickness).tolist(),
    )


def _split_now(bowl: Bowl, slot: SlotCurve, strip: Strip, seats: TurnSeats) -> SplitEstimate:
    board = bowl.board
    # The worst place is nearly always in the innermost turn: its moisture is the one that counts.
    wood = wood_at_moisture(board.wood, bowl.use.turn_moisture_percent[0])
    scatter = variability()
    return split_estimate(
        slot,
        strip,
        seats,
        thickness_mm=board.thickness_mm,
        ring_angle_rad=board.ring_angle_rad,
        stiffness=board_stiffness(wood.orthotropic(), ring_angle_rad=board.ring_angle_rad),
        strength=GrainStrength(
            shear_along_MPa=wood.shear_along_MPa.value,
            rolling_shear_MPa=wood.rolling_shear_MPa.value,
            tension_across_MPa=wood.tension_across_MPa.value,
            bending_MPa=wood.bending_strength_MPa.value,
            shear_along_cov=scatter["shear_along"].value,
            rolling_shear_cov=scatter["rolling_shear"].value,
            tension_across_cov=scatter["tension_across"].value,
            bending_cov=scatter["bending"].value,
        ),
    )


def fit(bowl: Bowl) -> BowlFit:
    """Work out whether a bowl locks, and everything that goes with the answer.

    Parameters
    ----------
    bowl : Bowl
        From :func:`fitsim.read_bowl` or :func:`fitsim.make_bowl`.

    Returns
    -------
    BowlFit
        Closed form, verdict, cut, nail and notes.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    rigid = rigid_fit(bowl)
    length = cut_length_mm(rigid.slot)
    blade = bowl.cut.blade_width_mm
    tail = np.searchsorted(rigid.slot.angle_rad, rigid.strip.angle_rad[-1])
    pitch, slot_width = bowl.cut.pitch_mm, float(rigid.slot.slot_mm[tail])
    verdict = verdict_over_ranges(bowl, rigid.numbers, deciding_numbers)
    return BowlFit(
        bowl=bowl,
        rigid=rigid,
        verdict=verdict,
        cut_length_mm=length,
        cutting_time_min=cutting_time_min(length_mm=length, feed_mm_per_min=bowl.cut.feed_mm_per_min),
        least_radius=None if blade is None else least_radius(blade),
        nail=nail_advice(
            end_width_mm=float(rigid.strip.width_mm[-1]),
            slot_mm=slot_width,
            neighbour_width_mm=pitch - slot_width,
            specific_gravity=bowl.board.wood.specific_gravity.value,
            group=bowl.board.wood.group,
        ),
        collapse_over_press=collapse_over_press(
            tilt_rad=float(np.max(rigid.slot.tilt_rad[: tail + 1])), friction=bowl.use.friction
        ),
        worst_split=_worst_split(bowl, rigid, verdict),
        rise_range_mm=_rise_range_mm(bowl),
        notes=_notes(bowl, rigid),
    )


def _worst_split(bowl: Bowl, rigid: RigidFit, verdict: Verdict) -> SplitEstimate:
    if not verdict.worst_split_at:
        return rigid.split
    for path, value in verdict.worst_split_at:
        bowl = with_input(bowl, path, value)
    return rigid_fit(bowl).split


def _rise_range_mm(bowl: Bowl) -> tuple[float, float]:
    """Rise at the ends of the ranges; the seats are already known from the verdict."""
    rises = [rigid_rise_mm(corner) for corner in corners(bowl)]
    return min(rises), max(rises)


def _notes(bowl: Bowl, rigid: RigidFit) -> tuple[str, ...]:
    """Remarks that belong beside the numbers."""
    notes: list[str] = []
    low, high = PRINTED_RANGE_PERCENT
    turns = len(rigid.seats.share)
    used = (bowl.use.base_moisture_percent, *bowl.use.turn_moisture_percent[:turns])
    moved = any(value != bowl.board.moisture_percent for value in used)
    if moved and not all(low <= v <= high for v in (*used, bowl.board.moisture_percent)):
        notes.append(
            f"The printed swelling coefficients serve {low:g} to {high:g} percent moisture; "
            "part of this bowl lies outside, so its swelling is a rougher figure."
        )
    drops = rigid.seats
    uneven = np.flatnonzero(drops.greatest_drop_mm > UNEVEN_SEAT * drops.seat_drop_mm) + 1
    if uneven.size:
        listed = ", ".join(str(j) for j in uneven)
        notes.append(
            f"Turn {listed} meets its inner neighbour on two opposite sides first and stands open between "
            "them: it will rock there, and drying rings pull tight. Its drop is the least round the turn."
        )
    width, tightest = bowl.cut.blade_width_mm, bowl.cut.base_radius_mm
    if width is not None:
        blade = least_radius(width)
        if tightest < blade.low_mm:
            notes.append("The blade is too wide for the base's radius in every published table.")
            return tuple(notes)
        if tightest < blade.high_mm:
            notes.append("Published tables disagree whether the blade turns the base's radius.")
        room = room_to_turn_mm(blade_width_mm=width, radius_mm=tightest)
        share = room / min(bowl.cut.kerf_mm)
        if share > WIDENING_WORTH_SAYING:
            notes.append(
                f"Round the base a blade this wide takes up {share:.0%} of the kerf by its curve alone; "
                "measure the slot there, it may be wider than on a straight cut."
            )
    return tuple(notes)
