"""A bowl left standing open: the strip of one opening followed through the weeks as its wood moves.

It is opened once, in one week's moisture, and let go. From then on nothing is pressed; week after week the
standing bowl swells and shrinks with its friction's memory (:mod:`fitsim.seasons.swelling_strip`, which
says what is left out). The weeks before the week of opening are those of the year after.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, SPLIT_RISK, SPRINGS_BACK, WILL_NOT_OPEN, judge
from fitsim.errors import NoConvergenceError
from fitsim.seasons.moisture_year import MoistureYear, at_moistures
from fitsim.seasons.swelling_strip import StandingStrip, as_opened, swell, turn_pull_MPa
from fitsim.seasons.weeks import week_of_opening
from fitsim.strip.release import collapse_N, friction_used_by_turn, whole_turns_of
from fitsim.strip.results import rim_height, turn_forces
from fitsim.strip.stress import resolved_stress, split_range
from fitsim.wood.strength import GrainStrength, grain_strength

__all__ = [
    "EVENT_SHARE",
    "LOOSE_SHARE",
    "NOT_FOLLOWED",
    "LeftOpen",
    "PullTight",
    "StoodOpen",
    "left_open",
    "pull_tight_events",
    "stood_open",
]

EVENT_SHARE = 0.05
"""A turn counts as pulled tight from this share of the strength across the grain upward (our choice)."""

LOOSE_SHARE = 0.02
"""A turn counts as loose where its seats bear less than this share of what they bore when it was opened
(our choice)."""

NOT_FOLLOWED = "not followed"
"""Why a bowl left open is followed no further, where that is none of the states."""

_STAYS_OPEN = (LOCKS, SPLIT_RISK)
"""What ``fit`` says of a bowl that stands, if it did not split."""


@dataclass(frozen=True, eq=False)
class StoodOpen:
    """A bowl that was opened and then went through other moistures, k of them after the opening's own.

    Attributes
    ----------
    rise_mm, rim_out_of_level_mm, split_chance : numpy.ndarray
        Mean rise, greatest less least height of the rim, and chance of splitting as it stands; first when
        opened, the chance there being that of opening; nan from where it does not stand, or was not
        followed, (1 + k,). [mm, mm, -]
    pull_MPa : numpy.ndarray
        Mean tension along every turn above that just after opening, (1 + k, turns). [MPa]
    loose : numpy.ndarray
        Whether a turn's seats bear next to nothing, (1 + k, turns).
    chance_low, chance_high : float
        The greatest chance over what is not known of the wood. [-]
    collapse_N : float
        Push on the base from below that frees it just after opening; 0 where it does not hold. [N]
    ends : str
        "" where it stands to the last; else the state that it comes to, or "not followed".
    last_used : float
        Friction used of the whole turn that asks most where it was last seen to stand; nan where it was
        not. [-]
    """

    rise_mm: Array
    rim_out_of_level_mm: Array
    split_chance: Array
    pull_MPa: Array
    loose: BoolArray
    chance_low: float
    chance_high: float
    collapse_N: float
    ends: str
    last_used: float


@dataclass(frozen=True, eq=False)
class LeftOpen:
    """A bowl opened in one week and left so; weeks in order of the calendar year.

    Attributes
    ----------
    opened_week : int
        Week in which it was opened, counted from 0; the weeks before it are those of the year after.
    rise_mm, rim_out_of_level_mm, split_chance : numpy.ndarray
        As :class:`StoodOpen` has them, shape (weeks,). [mm, mm, -]
    pull_MPa, loose : numpy.ndarray
        Shape (weeks, turns). [MPa, true or false]
    chance_low, chance_high, collapse_N, ends, last_used
        As :class:`StoodOpen` has them. [-, -, N, words, -]
    """

    opened_week: int
    rise_mm: Array
    rim_out_of_level_mm: Array
    split_chance: Array
    pull_MPa: Array
    loose: BoolArray
    chance_low: float
    chance_high: float
    collapse_N: float
    ends: str
    last_used: float

    @property
    def stands(self) -> bool:
        """Whether it stood when it was opened."""
        return bool(np.isfinite(self.rise_mm[self.opened_week]))


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
    pull_MPa : float
        Tension along it then, above that just after opening. [MPa]
    strength_share : float
        Of the strength across the grain in the plane of the board, at the turn's moisture then. [-]
    """

    turn: int
    first_week: int
    last_week: int
    worst_week: int
    difference_points: float
    pull_MPa: float
    strength_share: float


def stood_open(bowl: Bowl, moistures_percent: Array) -> StoodOpen:
    """Open a bowl and let it stand while its moisture changes.

    Parameters
    ----------
    bowl : Bowl
        The bowl, at any moisture.
    moistures_percent : numpy.ndarray
        Of the base, then of every turn: first when it is opened, then one after another as it stands,
        shape (1 + k, 1 + turns). [percent]

    Returns
    -------
    StoodOpen
        Through all of them, or as far as it was followed; nan throughout for a bowl that cannot stand.
    """
    turns = moistures_percent.shape[1] - 1
    opened = at_moistures(bowl, moistures_percent[0])
    if rigid_fit(opened).numbers.slot_left_mm <= bowl.limits.slot_left_mm:
        return _not_standing(len(moistures_percent), turns, WILL_NOT_OPEN)
    try:
        opening = open_bowl(opened, lowering=bowl.limits.friction_used < 1)
    except NoConvergenceError:
        return _not_standing(len(moistures_percent), turns, NOT_FOLLOWED)
    now, state = as_opened(opened, opening), judge(opening.numbers, bowl.limits)
    if now is None or opening.released is None or state not in _STAYS_OPEN:
        return _not_standing(len(moistures_percent), turns, state)
    first, ends = now, ""
    moments = [_moment(now, now)]
    chance = _opening_chance(opened, opening)
    moments[0] = {**moments[0], "split_chance": np.array(chance[0])}
    worst, worst_chance = first, 0.0
    for row in moistures_percent[1:]:
        found = swell(now, at_moistures(bowl, row))
        if found.standing is None:
            ends = SPRINGS_BACK if found.slipped else NOT_FOLLOWED
            break
        if not _overlap(found.standing) >= bowl.limits.overlap:
            ends = FALLS_THROUGH
            break
        now = found.standing
        moments.append(_moment(now, first))
        if float(moments[-1]["split_chance"]) > worst_chance:
            worst, worst_chance = now, float(moments[-1]["split_chance"])
    low, high = chance[1:] if chance[0] >= worst_chance else _reach(worst)
    missing = len(moistures_percent) - len(moments)
    told = {
        name: read_only(_filled(np.array([moment[name] for moment in moments]), missing))
        for name in ("rise_mm", "rim_out_of_level_mm", "split_chance", "pull_MPa")
    }
    loose = np.array([moment["loose"] for moment in moments], dtype=bool)
    return StoodOpen(
        **told,
        loose=np.concatenate([loose, np.zeros((missing, loose.shape[1]), dtype=bool)]),
        chance_low=low,
        chance_high=high,
        collapse_N=collapse_N(opening.elastic, opening.released),
        ends=ends,
        last_used=_most_used(now),
    )


def _filled(values: Array, missing: int) -> Array:
    return np.concatenate([values, np.full((missing, *values.shape[1:]), np.nan)])


def _not_standing(count: int, turns: int, ends: str) -> StoodOpen:
    nothing = read_only(np.full(count, np.nan))
    return StoodOpen(
        rise_mm=nothing,
        rim_out_of_level_mm=nothing,
        split_chance=nothing,
        pull_MPa=read_only(np.full((count, turns), np.nan)),
        loose=np.zeros((count, turns), dtype=bool),
        chance_low=float("nan"),
        chance_high=float("nan"),
        collapse_N=0.0,
        ends=ends,
        last_used=float("nan"),
    )


def _overlap(now: StandingStrip) -> float:
    """Least share of the thickness that still faces wood, as an opening has it. [-]"""
    return float(1 - now.state.drop_mm.max() / now.elastic.seats.thickness_mm)


def _most_used(now: StandingStrip) -> float:
    """Friction used of the whole turn that asks most. [-]"""
    used = friction_used_by_turn(now.elastic, now.state)[: whole_turns_of(now.elastic)]
    return float(np.nanmax(used))


def _strength(bowl: Bowl) -> GrainStrength:
    return grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)


def _moment(now: StandingStrip, first: StandingStrip) -> dict[str, Array]:
    rim = rim_height(now.elastic, now.state)
    bears, bore = (turn_forces(each.elastic, each.state).normal_N for each in (now, first))
    stressed = resolved_stress(now.elastic, now.state, now.wood)
    return {
        "rise_mm": np.array(rim.mean_mm),
        "rim_out_of_level_mm": np.array(rim.out_of_level_mm),
        "split_chance": np.array(stressed.split(_strength(now.bowl)).chance),
        "pull_MPa": turn_pull_MPa(now) - turn_pull_MPa(first),
        "loose": bears < LOOSE_SHARE * bore,
    }


def _reach(now: StandingStrip) -> tuple[float, float]:
    """The chance as it stands over what is not known of the strength."""
    found = split_range(now.elastic, now.state, now.wood, _strength(now.bowl), now.bowl.board.wood)
    return found.low, found.high


def _opening_chance(bowl: Bowl, opening: Opening) -> tuple[float, float, float]:
    """Chance of splitting on opening, and its range."""
    week = week_of_opening(bowl, opening)
    return week.numbers.split_chance, week.chance_low, week.chance_high


def left_open(bowl: Bowl, year: MoistureYear, opened_week: int) -> LeftOpen:
    """Leave a bowl open from one week on, all through a year.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : MoistureYear
        Its moisture.
    opened_week : int
        Week of opening, counted from 0.

    Returns
    -------
    LeftOpen
        Week by week; nan throughout for a bowl that then does not stay open.
    """
    weeks = len(year.start_h)
    order = (opened_week + np.arange(weeks)) % weeks
    found = stood_open(bowl, year.moisture_percent[order])
    back = np.argsort(order)
    return LeftOpen(
        opened_week=opened_week,
        rise_mm=read_only(found.rise_mm[back]),
        rim_out_of_level_mm=read_only(found.rim_out_of_level_mm[back]),
        split_chance=read_only(found.split_chance[back]),
        pull_MPa=read_only(found.pull_MPa[back]),
        loose=found.loose[back],
        chance_low=found.chance_low,
        chance_high=found.chance_high,
        collapse_N=found.collapse_N,
        ends=found.ends,
        last_used=found.last_used,
    )


def pull_tight_events(bowl: Bowl, year: MoistureYear, found: LeftOpen) -> tuple[PullTight, ...]:
    """Spells in which a turn is pulled tight on its inner neighbour, the tightest first.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : MoistureYear
        Its moisture.
    found : LeftOpen
        The bowl left open.

    Returns
    -------
    tuple[PullTight, ...]
        None where no turn reaches :data:`EVENT_SHARE`.
    """
    strength = _across_by_turn_MPa(bowl, year.moisture_percent[:, 1:])
    drier = year.moisture_percent[:, :-1] - year.moisture_percent[:, 1:]
    events = []
    for turn in range(found.pull_MPa.shape[1]):
        pull = np.nan_to_num(found.pull_MPa[:, turn])
        for first, last in _spells(pull >= EVENT_SHARE * strength[:, turn]):
            weeks = np.arange(first, last + 1) % len(pull)
            worst = int(weeks[np.argmax(pull[weeks])])
            events.append(
                PullTight(
                    turn=turn + 1,
                    first_week=int(weeks[0]),
                    last_week=int(weeks[-1]),
                    worst_week=worst,
                    difference_points=float(drier[worst, turn]),
                    pull_MPa=float(pull[worst]),
                    strength_share=float(pull[worst] / strength[worst, turn]),
                )
            )
    return tuple(sorted(events, key=lambda e: -e.pull_MPa))


def _across_by_turn_MPa(bowl: Bowl, turns_percent: Array) -> Array:
    """Strength in the plane of the board, across the grain, of every turn at its moisture. [MPa]"""
    board = bowl.board
    return np.array([
        [
            grain_strength(board.wood, float(m), board.tested_across).across_MPa(board.ring_angle_rad)
            for m in week
        ]
        for week in turns_percent
    ])  # fmt: skip


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
