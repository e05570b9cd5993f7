"""The chain: from a bowl to both models of its fit, its verdict, and what the saw and the nail must do.

This is the only module that puts the phenomena in order; every intermediate is kept and named.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitsim.bowl.beyond import LeftOut, left_out
from fitsim.bowl.closed_form import RigidFit, deciding_numbers, rigid_fit, rigid_rise_mm
from fitsim.bowl.elastic import ElasticFit, elastic_fit, friction_used_lowered, open_bowl
from fitsim.bowl.hand_press import ordinary_hand
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.judgement import elastic_numbers
from fitsim.bowl.nail import NailAdvice, nail_advice
from fitsim.bowl.ranges import corners, mattering, verdict_over_ranges
from fitsim.bowl.standing import StandingBowl, standing_bowl
from fitsim.bowl.taper_statics import collapse_over_press
from fitsim.bowl.verdict import NOT_DECIDED, SPLIT_RISK, DecidingNumbers, Verdict, deciding_press_N
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.geometry.blade import (
    DOES_NOT_TURN,
    MAY_NOT_TURN,
    LeastRadius,
    blade_turns,
    cutting_time_min,
    least_radius,
    room_to_turn_mm,
)
from fitsim.geometry.cut import cut_length_mm, last_pitch_mm
from fitsim.quantities import show_force, show_length
from fitsim.wood.moisture import PRINTED_RANGE_PERCENT

__all__ = ["WOOD_VALUES_USED", "BowlFit", "fit", "swelling_note"]

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

GENTLER, LEAST_PRESS_N = 0.9, 1.0
"""Where the strip cannot be followed to the press asked for: share of the press it came to that is told, if
that is worth a word."""

UNEVEN_SEAT = 1.05
"""Greatest over least drop round a turn from which a note says that it rides on two sides: our choice."""

WIDENING_WORTH_SAYING = 0.1
"""Share of the kerf a blade may need to turn before a note says so: our choice."""


@dataclass(frozen=True, eq=False)
class BowlFit:
    """Everything worked out about one bowl.

    Attributes
    ----------
    bowl : Bowl
        What was asked.
    rigid : RigidFit
        Closed form with every range at its middle.
    elastic : ElasticFit or None
        The elastic strip with every range at its middle; None where only the closed form was asked
        for, or where the strip cannot be pressed.
    standing : StandingBowl
        The bowl as it stands, with the measures that are told of it.
    rests_on : str
        "elastic strip" or "stiff turns": what the verdict rests on.
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
    rise_range_mm : tuple[float, float]
        Least and greatest mean rise over the ends of the ranges, all seats bound. [mm]
    left_out : tuple[LeftOut, ...]
        Effects beyond the model, each with a size for this bowl.
    notes : tuple[str, ...]
        Remarks that go with the numbers, in a maker's words.
    """

    bowl: Bowl
    rigid: RigidFit
    elastic: ElasticFit | None
    standing: StandingBowl
    rests_on: str
    verdict: Verdict
    cut_length_mm: float
    cutting_time_min: float
    least_radius: LeastRadius | None
    nail: NailAdvice
    collapse_over_press: float
    rise_range_mm: tuple[float, float]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]

    @property
    def press_N(self) -> float:
        """Press the bowl is judged at; without a strip an ordinary hand's, if the maker has as much. [N]"""
        return _press_N(self.bowl, self.elastic)

    @property
    def deciding_press_N(self) -> float | None:
        """Press below which it springs back where the verdict hangs on that; None where it does not. [N]"""
        if self.elastic is None:
            return None
        return deciding_press_N(self.verdict, asked_N=self.elastic.opening.judged.asked_N)


def fit(
    bowl: Bowl,
    *,
    rigid: bool = False,
    beyond: bool = True,
    progress: Callable[[str], None] | None = None,
) -> BowlFit:
    """Work out whether a bowl locks, and everything that goes with the answer.

    Parameters
    ----------
    bowl : Bowl
        From :func:`fitsim.read_bowl` or :func:`fitsim.make_bowl`.
    rigid : bool
        True to let the verdict rest on the closed form alone, which is quick.
    beyond : bool
        False to leave the effects beyond the model unsized, where no one will read them.
    progress : callable, optional
        Called with a line of words before every press of the elastic strip.

    Returns
    -------
    BowlFit
        Both models, verdict, cut, nail and notes.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    closed = rigid_fit(bowl)
    elastic, unused = None, ""
    if rigid or closed.numbers.slot_left_mm <= 0:
        verdict = _of_stiff_turns(bowl, closed)
    else:
        elastic, verdict, unused = _pressed_open(bowl, closed, progress)
    length = cut_length_mm(closed.slot)
    blade = bowl.cut.blade_width_mm
    tail = np.searchsorted(closed.slot.angle_rad, closed.strip.angle_rad[-1])
    slot_width = float(closed.slot.slot_mm[tail])
    pitch = last_pitch_mm(closed.slot) if bowl.cut.pitch_shape else bowl.cut.pitch_mm
    standing = standing_bowl(closed, elastic)
    return BowlFit(
        bowl=bowl,
        rigid=closed,
        elastic=elastic,
        standing=standing,
        rests_on="stiff turns" if elastic is None else "elastic strip",
        verdict=verdict,
        cut_length_mm=length,
        cutting_time_min=cutting_time_min(length_mm=length, feed_mm_per_min=bowl.cut.feed_mm_per_min),
        least_radius=None if blade is None else least_radius(blade),
        nail=nail_advice(
            end_width_mm=float(closed.strip.width_mm[-1]),
            slot_mm=slot_width,
            neighbour_width_mm=pitch - slot_width,
            specific_gravity=bowl.board.wood.specific_gravity.value,
            group=bowl.board.wood.group,
        ),
        collapse_over_press=collapse_over_press(
            tilt_rad=float(np.max(closed.slot.tilt_rad[: tail + 1])), friction=bowl.use.friction
        ),
        rise_range_mm=_rise_range_mm(bowl),
        left_out=_left_out(bowl, closed, elastic, standing) if beyond else (),
        notes=_notes(bowl, closed) + ((unused,) if unused else ()),
    )


def _press_N(bowl: Bowl, elastic: ElasticFit | None) -> float:
    """Press a bowl is judged at; without a strip an ordinary hand's, if the maker has as much. [N]"""
    if elastic is not None:
        return elastic.opening.judged.press_N
    return min(bowl.use.press_N, ordinary_hand().value_N)


def _left_out(
    bowl: Bowl, closed: RigidFit, elastic: ElasticFit | None, standing: StandingBowl
) -> tuple[LeftOut, ...]:
    """Sizes for the bowl as judged: how it stands and collapses is the strip's where it was pressed."""
    strip, numbers = closed.strip, None if elastic is None else elastic.opening.numbers
    return left_out(
        bowl,
        strip_width_mm=float(strip.width_mm[0]),
        first_radius_mm=float(strip.radius_mm[0]),
        press_N=_press_N(bowl, elastic),
        tightest_mm=closed.slot.tightest_mm,
        overlap=None if numbers is None else numbers.overlap,
        used=None if numbers is None else numbers.friction_used,
        stands_mm=None if elastic is None else float(np.mean(standing.drop_mm)),
        collapse_N=None if elastic is None else elastic.collapse_N,
    )


def _of_stiff_turns(bowl: Bowl, closed: RigidFit) -> Verdict:
    """What the hand formula comes to where nothing is pressed: neither the press nor splitting is in it."""
    ranges = tuple(u for u in bowl.uncertain if u.path != "use.press_N")
    found = verdict_over_ranges(bowl, closed.numbers, deciding_numbers, ranges=ranges)
    return replace(found, margins=tuple(m for m in found.margins if m.state != SPLIT_RISK))


def _pressed_open(
    bowl: Bowl, closed: RigidFit, progress: Callable[[str], None] | None
) -> tuple[ElasticFit | None, Verdict, str]:
    """The elastic strip and the verdict on it, or why nothing is decided."""
    count = 0

    def numbers(at: Bowl) -> DecidingNumbers:
        nonlocal count
        count += 1
        if progress is not None:
            progress(f"pressing the strip open at the ends of the ranges, {count}")
        return elastic_numbers(at)

    def used_lowered(at: Bowl) -> float:
        if progress is not None:
            progress("lowering friction at an end of the ranges until the rise goes")
        return friction_used_lowered(at, middle=bowl)

    try:
        if progress is not None:
            progress("pressing the strip open")
        elastic = elastic_fit(bowl)
        on_strip = verdict_over_ranges(
            bowl,
            elastic.opening.numbers,
            numbers,
            ranges=mattering(bowl, deciding_numbers),
            may_miss=True,
            # Where a limit asks for it friction is lowered at every end.
            used_lowered=None if bowl.limits.friction_used < 1 else used_lowered,
        )
    except (NoConvergenceError, OutsideModelError) as trouble:
        reason = f"The strip could not be followed ({trouble}): nothing is decided about this bowl."
        reached_N = trouble.reached_N if isinstance(trouble, NoConvergenceError) else 0.0
        if progress is not None and reached_N > 0:
            progress("pressing the strip as far as it can be followed")
        undecided = replace(
            _of_stiff_turns(bowl, closed),
            state=NOT_DECIDED,
            state_at_best=NOT_DECIDED,
            state_in_middle=NOT_DECIDED,
            depends_on=(),
        )
        return None, undecided, reason + _pressed_gently(bowl, reached_N)
    missing = ""
    if on_strip.ends_missing:
        missing = (
            f"At {on_strip.ends_missing} of the ends of the ranges the elastic strip found no equilibrium: "
            "they are left out of the verdict, which may be better or worse there."
        )
    return elastic, on_strip, missing


def _pressed_gently(bowl: Bowl, reached_N: float) -> str:
    """What the strip does under as much press as it could be followed to, in words; empty if it cannot."""
    press_N = GENTLER * reached_N
    if press_N < LEAST_PRESS_N:
        return ""
    try:
        opening = open_bowl(bowl, press_N=press_N)
    except (NoConvergenceError, OutsideModelError):
        return ""
    did = (
        "falls through"
        if opening.fell_through
        else f"the rim rises {show_length(opening.rim.mean_mm, units=bowl.units)} and it "
        f"{'holds' if opening.numbers.friction_used < 1 else 'springs back'} when let go, chance of "
        f"splitting {opening.numbers.split_chance:.2f}"
    )
    force = show_force(press_N, units=bowl.units)
    return (
        f" Pressed with no more than {force} the strip can be followed, at the middle of the ranges: {did}."
    )


def _rise_range_mm(bowl: Bowl) -> tuple[float, float]:
    """Rise at the ends of the ranges; the seats are already known from the verdict."""
    rises = [rigid_rise_mm(corner) for corner in corners(bowl)]
    return min(rises), max(rises)


def swelling_note(used_percent: Sequence[float], *, sawn_percent: float, part: str) -> str:
    """What to say of the swelling of a bowl beyond the moistures that swelling was measured at.

    Parameters
    ----------
    used_percent : sequence of float
        Moistures that it takes. [percent]
    sawn_percent : float
        Moisture it was sawn at, from which it swells. [percent]
    part : str
        What lies beyond them, in words.

    Returns
    -------
    str
        One sentence; "" where it does not swell, or all of it lies within them.
    """
    low, high = PRINTED_RANGE_PERCENT
    moved = any(value != sawn_percent for value in used_percent)
    if not moved or all(low <= v <= high for v in (*used_percent, sawn_percent)):
        return ""
    return (
        f"The printed swelling coefficients serve {low:g} to {high:g} percent moisture; "
        f"{part} lies outside, so its swelling is a rougher figure."
    )


def _notes(bowl: Bowl, rigid: RigidFit) -> tuple[str, ...]:
    """Remarks that belong beside the numbers."""
    notes = list(bowl.notes)
    turns = len(rigid.seats.share)
    used = (bowl.use.base_moisture_percent, *bowl.use.turn_moisture_percent[:turns])
    swelling = swelling_note(used, sawn_percent=bowl.board.moisture_percent, part="part of this bowl")
    if swelling:
        notes.append(swelling)
    drops = rigid.seats
    uneven = np.flatnonzero(drops.greatest_drop_mm > UNEVEN_SEAT * drops.seat_drop_mm) + 1
    if uneven.size:
        listed = ", ".join(str(j) for j in uneven)
        notes.append(
            f"Turn {listed} meets its inner neighbour on two opposite sides first and stands open between "
            "them: it will rock there, and drying rings pull tight. Its drop is the least round the turn."
        )
    width, tightest = bowl.cut.blade_width_mm, rigid.slot.tightest_mm
    if width is not None:
        where = "the base's radius" if rigid.slot.winding is None else "the tightest curve of the cut"
        said = blade_turns(least_radius(width), tightest)
        if said == DOES_NOT_TURN:
            notes.append(f"The blade is too wide for {where} in every published table.")
            return tuple(notes)
        if said == MAY_NOT_TURN:
            notes.append(f"Published tables disagree whether the blade turns {where}.")
        place = "Round the base" if rigid.slot.winding is None else "In the tightest curve of the cut"
        room = room_to_turn_mm(blade_width_mm=width, radius_mm=tightest)
        share = room / min(bowl.cut.kerf_mm)
        if share > WIDENING_WORTH_SAYING:
            notes.append(
                f"{place} a blade this wide takes up {share:.0%} of the kerf by its curve alone; "
                "measure the slot there, it may be wider than on a straight cut."
            )
    return tuple(notes)
