"""Which cut comes first: the likeliest to lock, then the least apt to split, then the least sawing.

How likely a cut locks is a cheap measure here, good for an order: the strip's own overlap against what the
scatter of kerf, tilt and thickness does to it, the share of the friction's range at which it holds, and its
chance of not splitting. ``fitsim tilt`` works it out over many imperfect bowls. Before anything is pressed
the twist that opening gives a turn stands for how apt it is to split: until its seat binds a turn is nearly
a helix that climbs by its drop h in one revolution, twisted by h/(2 pi r^2), and sheared by that times its
width.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.errors import OutsideModelError
from fitsim.geometry.cut import turn_indices
from fitsim.plan.cut_of_wall import PlannedCut, bowl_with_cut, expected, not_pressed
from fitsim.plan.geometric_cuts import FoundCut
from fitsim.plan.planned_bowls import PlannedBowl
from fitsim.plan.trade_bounds import trade_bounds
from fitsim.plan.wishes_on_board import BoardWishes, as_set
from fitsim.quantities import TURN_RAD

__all__ = [
    "APART_TILT_rad",
    "first_chance",
    "in_order",
    "lock_chance",
    "nearest_cuts",
    "unlike_bowls",
    "unlike_cuts",
    "with_qualities",
]


APART_TILT_rad, APART_SHARE = math.radians(0.8), 0.15
"""Cuts nearer to each other than this are one answer."""


def unlike_cuts(
    task: BoardWishes, found: Sequence[FoundCut], most: int, *, besides: Sequence[PlannedCut] = ()
) -> list[FoundCut]:
    """The best cuts by their cheap measures, no two of them alike.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    found : sequence of FoundCut
        Cuts by geometry.
    most : int
        How many at most.
    besides : sequence of PlannedCut
        Cuts that were tried before; one like them is not chosen again.

    Returns
    -------
    list[FoundCut]
        The likeliest to lock first.
    """
    scored = []
    for one in found:
        try:
            scored.append((_first_score(task, one), one))
        except (OutsideModelError, ValueError):
            continue
    scored.sort(key=lambda pair: pair[0])
    chosen: list[FoundCut] = []
    for _, one in scored:
        if all(_apart(one.cut, other) for other in (*besides, *(c.cut for c in chosen))):
            chosen.append(one)
        if len(chosen) == most:
            break
    return chosen


def nearest_cuts(found: Sequence[FoundCut]) -> list[FoundCut]:
    """The nearest cut, and the next one unlike it if it is hardly farther.

    Parameters
    ----------
    found : sequence of FoundCut
        Cuts by geometry, the nearest first.

    Returns
    -------
    list[FoundCut]
        Two at most.
    """
    other = [f for f in found[1:] if _apart(f.cut, found[0].cut) and f.cost <= 2 * found[0].cost]
    return [*found[:1], *other[:1]]


def unlike_bowls(answers: Sequence[PlannedBowl]) -> list[PlannedBowl]:
    """The same without those that are much like an earlier one: several attempts may end at one cut.

    Parameters
    ----------
    answers : sequence of PlannedBowl
        Answers, the best first.

    Returns
    -------
    list[PlannedBowl]
        In their order.
    """
    kept: list[PlannedBowl] = []
    for answer in answers:
        if all(_apart(answer.cut, other.cut) for other in kept):
            kept.append(answer)
    return kept


def _apart(a: PlannedCut, b: PlannedCut) -> bool:
    mean_a, mean_b = (sum(c.pitches_mm) / len(c.pitches_mm) for c in (a, b))
    return (
        abs(a.tilt_rad - b.tilt_rad) > APART_TILT_rad
        or abs(math.log(mean_a / mean_b)) > APART_SHARE
        or abs(math.log(a.base_radius_mm / b.base_radius_mm)) > APART_SHARE
        or abs(math.log(a.across_mm / b.across_mm)) > APART_SHARE
    )


TWIST_STEP = 1.3
"""Shears whose steps by this factor are the same come in one place: the chance of splitting goes about with
the ninth power of the stress, so that a step is some tenfold. [-]"""

ASKS_MORE = 0.35
"""Friction used by a pressed strip over the taper rule of its bevels, for a first order: an estimate."""


def _first_score(task: BoardWishes, found: FoundCut) -> tuple[float, float, float]:
    """Order before anything is pressed: how likely it locks, splits, and the time at the saw."""
    bowl = bowl_with_cut(task.bowl, as_set(task, found.cut))
    closed = rigid_fit(bowl)
    chance = _chance_by_geometry(bowl, closed)
    apt = math.log(max(_twisted(closed), 1e-9)) / math.log(TWIST_STEP)
    return _order(chance, apt, expected(found.cut, task.fixed, not_pressed()).time_min)


def first_chance(task: BoardWishes, found: FoundCut) -> float:
    """How likely a cut is thought to lock before it is pressed: the guess at :func:`lock_chance`.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    found : FoundCut
        A cut by geometry.

    Returns
    -------
    float
        Chance that it locks. [-]
    """
    bowl = bowl_with_cut(task.bowl, as_set(task, found.cut))
    return _chance_by_geometry(bowl, rigid_fit(bowl))


def _chance_by_geometry(bowl: Bowl, closed: RigidFit) -> float:
    deepest = trade_bounds()["sinks_deeper"].value
    overlap = 1 - deepest * (1 - closed.numbers.overlap)
    used = math.tan(bowl.cut.tilt_rad[0]) / max(bowl.use.friction, 1e-6) + ASKS_MORE
    return lock_chance(bowl, overlap=overlap, friction_used=used, split_chance=0.0)


def _twisted(closed: RigidFit) -> float:
    """Shear of the strip where opening twists it most, every turn sunk to its seat. [-]"""
    strip, seats = closed.strip, closed.seats
    drop_mm = np.minimum(seats.seat_drop_mm, float(np.mean(closed.faces.outer_thickness_mm)))
    climbs_mm = drop_mm[turn_indices(strip.angle_rad)]
    return float(np.max(climbs_mm * strip.width_mm / strip.radius_mm**2)) / TURN_RAD


def _order(chance: float, apt: float, time: float) -> tuple[float, float, float]:
    """Likeliest to lock first, to a hundredth; then least apt to split, in steps; then least sawing."""
    return (-round(chance, 2), round(apt), time)


def lock_chance(bowl: Bowl, *, overlap: float, friction_used: float, split_chance: float) -> float:
    """Cheap measure of how likely a bowl locks when it is sawn with an unsteady hand.

    Parameters
    ----------
    bowl : Bowl
        The bowl that is meant.
    overlap, friction_used, split_chance : float
        Of the bowl that is meant, at the middle friction. [-]

    Returns
    -------
    float
        Chance that the overlap stays above its limit (normal, from scatter of kerf, tilt and thickness),
        times the share of the friction's range at which it holds, times that of not splitting. [-]

    Examples
    --------
    >>> import fitsim
    >>> bowl = fitsim.make_bowl({"board": {"thickness": "18 mm", "across": "150 mm"},
    ...                          "cut": {"tilt": "6 deg", "kerf": "0.7 mm"}, "use": {"friction": "0.4"}})
    >>> round(lock_chance(bowl, overlap=0.15, friction_used=0.5, split_chance=0.0), 3)
    0.5
    """
    from scipy.special import ndtr

    thickness, cut, scatter = bowl.board.thickness_mm, bowl.cut, bowl.scatter
    tilt, kerf = cut.tilt_rad[0], max(cut.kerf_mm)
    sunk = thickness * (1 - overlap)
    # A turn is as long as several lengths of the wandering kerf, whose mean strays less than one place.
    round_turn = TURN_RAD * cut.base_radius_mm
    share = math.sqrt(min(1.0, scatter.kerf_length_mm * math.sqrt(TURN_RAD) / round_turn))
    ranged = [u.high - u.low for u in bowl.uncertain if u.path == "cut.kerf_mm"]
    strays = [
        sunk * scatter.kerf_mm * share / kerf,
        sunk * sum(ranged) / math.sqrt(12) / kerf,
        sunk * scatter.tilt_rad / math.tan(tilt),
        sunk * scatter.thickness_mm / thickness,
    ]
    spread = math.hypot(*strays) / thickness
    bears = float(ndtr((overlap - bowl.limits.overlap) / spread)) if spread > 0 else float(overlap > 0)
    needed = friction_used * bowl.use.friction / bowl.limits.friction_used
    if not math.isfinite(needed):
        return 0.0
    low, high = bowl.ends_of("use.friction")
    holds = float(np.clip((high - needed) / (high - low), 0, 1)) if high > low else float(needed <= low)
    return bears * holds * (1 - min(split_chance, 1.0))


def _tenfold(split_chance: float) -> int:
    """Chances of splitting within the same tenfold are told as equal in the order."""
    return round(math.log10(max(split_chance, 1e-6)))


def in_order(answers: Sequence[PlannedBowl]) -> list[PlannedBowl]:
    """Answers in the order in which they are told.

    Parameters
    ----------
    answers : sequence of PlannedBowl
        The answers.

    Returns
    -------
    list[PlannedBowl]
        The likeliest to lock first.
    """

    def key(answer: PlannedBowl) -> tuple[float, float, float]:
        apt = _tenfold(answer.pressed.judged.numbers.split_chance)
        return _order(answer.lock_chance, apt, answer.pressed.got.time_min)

    return sorted(answers, key=key)


def with_qualities(answers: Sequence[PlannedBowl]) -> tuple[PlannedBowl, ...]:
    """Say of each answer what it alone is best at among them, as far as the order or a reader tells apart.

    Parameters
    ----------
    answers : sequence of PlannedBowl
        The answers.

    Returns
    -------
    tuple[PlannedBowl, ...]
        The same with what each is good for.
    """
    if len(answers) < 2:
        return tuple(answers)
    qualities: list[tuple[str, Callable[[PlannedBowl], float]]] = [
        ("likeliest to lock", lambda a: -round(a.lock_chance, 2)),
        ("least apt to split", lambda a: _tenfold(a.pressed.judged.numbers.split_chance)),
        ("least sawing", lambda a: a.pressed.got.time_min),
        ("lightest press", lambda a: float(f"{a.pressed.judged.press_N:.2g}")),
        ("widest base", lambda a: -round(2 * a.cut.base_radius_mm, 1)),
    ]
    here = [a for a in answers if not a.other_board and a.locks]
    best: dict[str, PlannedBowl] = {}
    for name, of in qualities if len(here) > 1 else ():
        first, second = sorted(here, key=of)[:2]
        if of(first) < of(second):
            best[name] = first
    return tuple(
        replace(a, good_for=tuple(name for name, one in best.items() if one is a)) for a in answers
    )
