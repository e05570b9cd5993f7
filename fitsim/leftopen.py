"""A bowl left standing open: what friction holds, what the seasons pull tight, what creep takes away.

Where the turns bound when the bowl was opened the same points of both faces stay together, held by
friction; so their drop changes only as the thickness does, and a bowl that dries evenly stays an affine
copy of itself, neither tight nor loose. When a turn then
becomes drier than its inner neighbour its slot closes on it: with the clearance c round the turn at the
held drop, positive where there is room, the turn must stretch by -mean(c)/r, as a thin hoop shrunk on a
solid (S. Timoshenko, Strength of Materials, from memory), and carries the tension

    sigma = -mean(c)/r / mean(1/E_s)

one and the same all the way round if it can slide along its seat. Where the strip crosses the grain that
is tension across the grain. Too high, because the inner neighbour is taken as rigid and nothing relaxes;
too low by the bending of a turn that bears in places only. A turn wetter than its neighbour comes loose;
what a loose turn then does is not followed.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only
from fitsim.bowl import Bowl
from fitsim.grain import board_stiffness, strip_stiffness
from fitsim.moisture import wood_at_moisture
from fitsim.rigid import RigidFit
from fitsim.ring import SlotFaces
from fitsim.split import split_estimate
from fitsim.strength import grain_strength
from fitsim.taper import press_for_squeeze_N
from fitsim.yearfit import YearFit, at_moistures, week_moistures

__all__ = [
    "EVENT_SHARE",
    "HeldState",
    "LeftOpen",
    "PullTight",
    "clearance_mm",
    "held_chance",
    "held_shares",
    "held_state",
    "left_open",
    "pull_tight_events",
    "stands",
]

EVENT_SHARE = 0.05
"""A turn counts as pulled tight from this share of the strength across the grain upward (our choice)."""


@dataclass(frozen=True, eq=False)
class LeftOpen:
    """A bowl opened in one week and left so, closed form; weeks in order of the calendar year.

    Attributes
    ----------
    opened_week : int
        Week in which it was opened, counted from 0; the weeks before it are those of the year after.
    held_drop_mm : numpy.ndarray
        Drops that friction holds, as they are in the week of opening, innermost first, (turns,). [mm]
    held_share : numpy.ndarray
        The same over the height of the seat's two parts, shape (turns,). [-]
    hoop_MPa : numpy.ndarray
        Tension along each turn by its seat's closing, shape (weeks, turns). [MPa]
    loose : numpy.ndarray
        Whether a turn has room all round its seat, more than the press had squeezed it, (weeks, turns).
    rim_out_of_level_mm, play_mm, split_chance : numpy.ndarray
        As :class:`fitsim.yearfit.YearFit` has them, for the bowl left open, shape (weeks,). [mm, mm, -]
    """

    opened_week: int
    held_drop_mm: Array
    held_share: Array
    hoop_MPa: Array
    loose: BoolArray
    rim_out_of_level_mm: Array
    play_mm: Array
    split_chance: Array


@dataclass(frozen=True)
class PullTight:
    """A turn pulled tight on its drying, week after week.

    Attributes
    ----------
    turn : int
        1 the innermost, drying on the base; others on the turn inside them.
    first_week, last_week, worst_week : int
        Counted from 0; a spell may run over the turn of the year.
    difference_points : float
        How much drier than its inner neighbour it is in the worst week. [percent]
    hoop_MPa : float
        Tension along it then, at most. [MPa]
    strength_share : float
        Of the strength across the grain. [-]
    """

    turn: int
    first_week: int
    last_week: int
    worst_week: int
    difference_points: float
    hoop_MPa: float
    strength_share: float


def clearance_mm(faces: SlotFaces, drop_mm: Array) -> Array:
    """Least room between the two faces of the slot at given drops, in the plane of the board.

    Parameters
    ----------
    faces : SlotFaces
        The faces.
    drop_mm : numpy.ndarray
        Drop at every point, shape (n,). [mm]

    Returns
    -------
    numpy.ndarray
        Room; negative where the faces would run into each other, shape (n,). [mm]
    """
    opening = faces.outer_slope - faces.inner_slope
    bottom = faces.slot_mm - faces.outer_thickness_mm / 2 * opening - drop_mm * faces.inner_slope
    top = faces.slot_mm + faces.inner_thickness_mm / 2 * opening - drop_mm * faces.outer_slope
    return np.asarray(np.minimum(bottom, top))


def left_open(bowl: Bowl, year: YearFit, *, opened_week: int) -> LeftOpen:
    """Leave a bowl open from one week on, all through a year.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    opened_week : int
        Week of opening, counted from 0.

    Returns
    -------
    LeftOpen
        Closed form; nan throughout for a bowl that then will not open or falls through.
    """
    start = year.fits[opened_week]
    if not stands(start):
        return _not_standing(opened_week, len(year.fits), len(start.seats.share))
    share = held_shares(start, bowl)
    weeks = [
        held_state(at_moistures(bowl, week_moistures(year, week)), fit, share)
        for week, fit in enumerate(year.fits)
    ]
    level = year.rim_out_of_level_mm[opened_week]
    return LeftOpen(
        opened_week=opened_week,
        held_drop_mm=read_only(share * _heights_mm(start)),
        held_share=read_only(share),
        hoop_MPa=read_only(np.array([state.hoop_MPa for state in weeks])),
        loose=np.array([state.loose for state in weeks]),
        rim_out_of_level_mm=read_only(np.full(len(weeks), level)),
        play_mm=read_only(np.array([state.play_mm for state in weeks])),
        split_chance=read_only(np.array([state.split_chance for state in weeks])),
    )


def stands(fit: RigidFit) -> bool:
    """Whether a bowl can stand open at all, held by friction or not.

    Parameters
    ----------
    fit : RigidFit
        The bowl when it is opened.

    Returns
    -------
    bool
        True if every slot is open when flat and every turn binds within the thickness.
    """
    return bool(fit.seats.slot_left_mm.min() > 0 and fit.seats.overlap.min() > 0)


def _not_standing(opened_week: int, weeks: int, turns: int) -> LeftOpen:
    nothing, by_turn = np.full(weeks, np.nan), np.full(turns, np.nan)
    return LeftOpen(
        opened_week=opened_week,
        held_drop_mm=read_only(by_turn),
        held_share=read_only(by_turn),
        hoop_MPa=read_only(np.full((weeks, turns), np.nan)),
        loose=np.zeros((weeks, turns), dtype=bool),
        rim_out_of_level_mm=read_only(nothing),
        play_mm=read_only(nothing),
        split_chance=read_only(nothing),
    )


def held_shares(fit: RigidFit, bowl: Bowl) -> Array:
    """Drops at which a bowl is opened, over the heights they are measured on; these shares stay.

    Parameters
    ----------
    fit : RigidFit
        The bowl when it is opened.
    bowl : Bowl
        For the thickness, which no drop exceeds.

    Returns
    -------
    numpy.ndarray
        Shape (turns,). [-]
    """
    held = np.minimum(fit.seats.seat_drop_mm, bowl.board.thickness_mm)
    return np.asarray(held / _heights_mm(fit))


def held_chance(bowl: Bowl, fit: RigidFit, held: LeftOpen) -> float:
    """Chance of splitting of a bowl left open, at other moistures.

    Parameters
    ----------
    bowl : Bowl
        The bowl at those moistures.
    fit : RigidFit
        Its closed form.
    held : LeftOpen
        Where its turns were when it was opened.

    Returns
    -------
    float
        Chance; nan for a bowl that cannot stand open. [-]
    """
    if np.any(np.isnan(held.held_share)):
        return float("nan")
    return held_state(bowl, fit, held.held_share).split_chance


@dataclass(frozen=True, eq=False)
class HeldState:
    """One moment of a bowl left open.

    Attributes
    ----------
    hoop_MPa, loose : numpy.ndarray
        As :class:`LeftOpen` has them, shape (turns,). [MPa, true or false]
    play_mm : float
        The rim can be tipped at most so far. [mm]
    split_chance : float
        Chance of splitting as it stands. [-]
    """

    hoop_MPa: Array
    loose: BoolArray
    play_mm: float
    split_chance: float


def _heights_mm(fit: RigidFit) -> Array:
    """Mean height of each turn and its inner neighbour, shape (turns,). [mm]"""
    both = (fit.faces.inner_thickness_mm + fit.faces.outer_thickness_mm) / 2
    return np.array([both[fit.faces.turn == j].mean() for j in range(len(fit.seats.share))])


def held_state(now: Bowl, fit: RigidFit, share: Array) -> HeldState:
    """Tension, what is loose, play and chance of splitting at drops that friction has held.

    Parameters
    ----------
    now : Bowl
        The bowl at its present moistures.
    fit : RigidFit
        Its closed form.
    share : numpy.ndarray
        Drops over the height of the seat's two parts, from :func:`held_shares`, shape (turns,). [-]

    Returns
    -------
    HeldState
        The moment.
    """
    turn = fit.faces.turn
    held = share * _heights_mm(fit)
    room = clearance_mm(fit.faces, held[turn])
    radius = np.interp(fit.faces.angle_rad, fit.slot.angle_rad, fit.slot.radius_mm)
    each = [turn == j for j in range(len(held))]
    give = _mean_give(now, fit)
    mean_room = np.array([room[at].mean() for at in each])
    mean_radius = np.array([radius[at].mean() for at in each])
    hoop = np.maximum(-mean_room / mean_radius, 0.0) / give
    squeezed = _squeeze_mm(now, fit, mean_radius, give)
    spare = np.maximum(fit.seats.greatest_drop_mm - held, 0.0)
    return HeldState(
        hoop_MPa=hoop,
        loose=np.array([room[at].min() for at in each]) > squeezed,
        play_mm=float(np.sum(spare * mean_radius[-1] / mean_radius)),
        split_chance=_chance(now, fit, held, hoop),
    )


def _mean_give(bowl: Bowl, fit: RigidFit) -> Array:
    """Stretch of a turn for a tension along it, mean of 1/E_s round it, shape (turns,). [1/MPa]"""
    tangent = fit.slot.tangent
    psi = np.arctan2(tangent[:, 1], tangent[:, 0])
    wood = wood_at_moisture(bowl.board.wood, float(np.mean(bowl.use.turn_moisture_percent)))
    board = board_stiffness(wood.orthotropic(), ring_angle_rad=bowl.board.ring_angle_rad)
    one_over = 1 / strip_stiffness(board, psi_rad=psi).E_s_MPa
    along = np.interp(fit.faces.angle_rad, fit.slot.angle_rad, one_over)
    return np.array([along[fit.faces.turn == j].mean() for j in range(len(fit.seats.share))])


def _squeeze_mm(bowl: Bowl, fit: RigidFit, radius: Array, give: Array) -> Array:
    """How far the press had stretched each turn when the bowl was opened: R r/(2 pi w T) x give. [mm]"""
    per_N = press_for_squeeze_N(squeeze_N=1.0, tilt_rad=bowl.cut.tilt_rad[0], friction=bowl.use.friction)
    squeeze = bowl.use.press_N / per_N if per_N > 0 else np.inf
    turn = fit.faces.turn
    width = np.array([fit.strip.width_mm[turn == j].mean() for j in range(len(radius))])
    return np.asarray(squeeze * radius / (2 * np.pi * width * bowl.board.thickness_mm) * give)


def _chance(bowl: Bowl, fit: RigidFit, held: Array, hoop: Array) -> float:
    wood = wood_at_moisture(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    return split_estimate(
        fit.slot,
        fit.strip,
        replace(fit.seats, seat_drop_mm=held),
        thickness_mm=bowl.board.thickness_mm,
        ring_angle_rad=bowl.board.ring_angle_rad,
        stiffness=board_stiffness(wood.orthotropic(), ring_angle_rad=bowl.board.ring_angle_rad),
        strength=grain_strength(
            bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across
        ),
        pulled_MPa=hoop,
    ).chance


def pull_tight_events(bowl: Bowl, year: YearFit, found: LeftOpen) -> tuple[PullTight, ...]:
    """Spells in which a turn is pulled tight on its inner neighbour, the tightest first.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    found : LeftOpen
        The bowl left open.

    Returns
    -------
    tuple[PullTight, ...]
        None where no turn reaches :data:`EVENT_SHARE`.
    """
    strength = bowl.board.wood.tension_across_MPa.value
    inner = np.column_stack([year.base_moisture_percent, year.turn_moisture_percent[:, :-1]])
    drier = inner - year.turn_moisture_percent
    events = []
    for turn in range(found.hoop_MPa.shape[1]):
        hoop = found.hoop_MPa[:, turn]
        for first, last in _spells(hoop >= EVENT_SHARE * strength):
            weeks = np.arange(first, last + 1) % len(hoop)
            worst = int(weeks[np.argmax(hoop[weeks])])
            events.append(
                PullTight(
                    turn=turn + 1,
                    first_week=int(weeks[0]),
                    last_week=int(weeks[-1]),
                    worst_week=worst,
                    difference_points=float(drier[worst, turn]),
                    hoop_MPa=float(hoop[worst]),
                    strength_share=float(hoop[worst] / strength),
                )
            )
    return tuple(sorted(events, key=lambda e: -e.hoop_MPa))


def _spells(on: BoolArray) -> list[tuple[int, int]]:
    """First and last index of every run, taken round the turn of the year; the last may exceed n - 1."""
    count = len(on)
    if on.all():
        return [(0, count - 1)]
    firsts = [i for i in range(count) if on[i] and not on[i - 1]]
    spells = []
    for first in firsts:
        last = first
        while on[(last + 1) % count]:
            last += 1
        spells.append((first, last))
    return spells
