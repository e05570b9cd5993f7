"""Cuts that give what is wanted by rigid geometry, before any strip is pressed.

A cut of one pitch is a least-squares problem from starts over tilt, pitch and base; a wall gives its own
pitches at each tilt (:mod:`fitsim.plan.cut_of_wall`).
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import OutsideModelError
from fitsim.plan.cut_of_wall import (
    MEASURE_OF,
    Correction,
    FixedInputs,
    PlannedCut,
    cut_of,
    even_cut,
    expected,
    not_pressed,
    wall_cut,
)
from fitsim.plan.planned_bowls import WITHIN
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.wishes_on_board import BoardWishes, off_share, wanted_measures, weight_of

__all__ = ["GUESSED", "FoundCut", "cuts_found", "even_solved", "even_starts", "wall_cuts", "wall_solved"]


GUESSED = 0.004
"""How near the geometry must come before a cut is worth pressing, as a share."""

TILT_STARTS, PITCH_STARTS, BASE_STARTS = 7, 3, (0.28, 0.38, 0.5)

TURNS_WEIGH = 5000.0
"""Weight of a turn outside the bounds: so much more than of a wish missed by all of it, even of one named
first, that no wish buys a strip that cannot be sawn."""

HELD = 0.03
"""How firmly a start holds what no wish decides."""


@dataclass(frozen=True, eq=False)
class FoundCut:
    """A cut by geometry, and how far off its worst wish is.

    Attributes
    ----------
    cut : PlannedCut
        The cut.
    wall : WallCurve or None
        The wall wanted, as it lies on the cut.
    cost : float
        Sum of squared distances, weighed. [-]
    off : float
        Greatest distance from a wish or a bound as a share of it. [-]
    tight : tuple[str, ...]
        Bounds it has run into.
    """

    cut: PlannedCut
    wall: WallCurve | None
    cost: float
    off: float
    tight: tuple[str, ...]


def cuts_found(task: BoardWishes) -> list[FoundCut]:
    """Cuts by geometry, nearest to the wishes first.

    Parameters
    ----------
    task : BoardWishes
        The wishes.

    Returns
    -------
    list[FoundCut]
        One for every start that gave one.
    """
    found = wall_cuts(task) if task.wishes.wall is not None else _even_candidates(task)
    return sorted(found, key=lambda f: f.cost)


def _tilts(task: BoardWishes) -> Array:
    if "tilt" in task.kept:
        return np.array([task.bowl.cut.tilt_rad[0]])
    return np.linspace(*task.bounds.tilt_rad, TILT_STARTS)


def _even_candidates(
    task: BoardWishes, correction: Correction | None = None, *, starts: Iterable[PlannedCut] | None = None
) -> list[FoundCut]:
    correction = correction or not_pressed()
    found = []
    for start in even_starts(task) if starts is None else starts:
        solved = even_solved(task, start, correction)
        if solved is not None:
            found.append(solved)
    return found


def even_starts(task: BoardWishes) -> list[PlannedCut]:
    """Starts over tilt, pitch and base; the bowl's own cut among them.

    Parameters
    ----------
    task : BoardWishes
        The wishes.

    Returns
    -------
    list[PlannedCut]
        Cuts of one pitch.
    """
    low, high = task.bounds.pitch_mm
    edge = task.across_mm / 2
    starts = []
    own = cut_of(task.bowl)
    if len(own.pitches_mm) == 1:
        starts.append(own)
    for tilt in _tilts(task):
        for pitch in np.geomspace(low, min(high, max(edge / 4, 1.05 * low)), PITCH_STARTS):
            for share in BASE_STARTS:
                starts.append(
                    even_cut(
                        tilt_rad=float(tilt),
                        base_radius_mm=max(share * edge, task.bounds.base_radius_least_mm),
                        pitch_mm=float(pitch),
                        across_mm=task.across_mm,
                        thickness_mm=task.thickness_mm,
                    )
                )
    return starts


def even_solved(
    task: BoardWishes, start: PlannedCut, correction: Correction, *, tilt_free: bool = True
) -> FoundCut | None:
    """Move a start until it gives the wishes, as far as the bounds let it.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    start : PlannedCut
        A cut of one pitch.
    correction : Correction
        What a strip gave over the guess.
    tilt_free : bool
        Whether the tilt may move.

    Returns
    -------
    FoundCut or None
        The cut; None where none comes of this start.
    """
    from scipy.optimize import least_squares

    wishes, kept, bounds = task.wishes, task.kept, task.bounds
    own = cut_of(task.bowl)
    base = (
        wishes.base_mm / 2 if wishes.base_mm is not None else own.base_radius_mm if "base" in kept else None
    )
    wanted = wanted_measures(wishes)
    if "turns" in kept:
        wanted["turns"] = expected(own, task.fixed, correction).turns
    low, high, at = [], [], []
    names = []

    def free(name: str, value: float, least: float, most: float) -> None:
        names.append(name)
        low.append(least)
        high.append(max(most, least + 1e-6))
        at.append(min(max(value, least + 1e-9), high[-1] - 1e-9))

    if "tilt" not in kept and tilt_free:
        free("tilt", start.tilt_rad, *bounds.tilt_rad)
    if "pitch" not in kept:
        free("pitch", math.log(start.pitches_mm[0]), *(math.log(p) for p in bounds.pitch_mm))
    if base is None:
        free("base", start.base_radius_mm, bounds.base_radius_least_mm, 0.8 * task.across_mm / 2)
    edge_free = wishes.mouth_mm is not None and not task.size_given
    if edge_free:
        free("edge", start.across_mm / 2, 0.2 * task.across_mm / 2, task.across_mm / 2)

    def cut_at(x: Array) -> PlannedCut:
        given = dict(zip(names, (float(v) for v in x), strict=True))
        edge = given.get("edge", start.across_mm / 2)
        radius = given.get("base", base if base is not None else start.base_radius_mm)
        return even_cut(
            tilt_rad=given.get("tilt", start.tilt_rad if "tilt" not in kept else own.tilt_rad),
            base_radius_mm=min(radius, 0.92 * edge),
            pitch_mm=math.exp(given["pitch"]) if "pitch" in given else task.bowl.cut.pitch_mm,
            across_mm=2 * edge,
            thickness_mm=task.thickness_mm,
        )

    stiff = TURNS_WEIGH * max(task.weights.values(), default=1.0)
    x0 = np.array(at)
    span = np.array(high) - np.array(low)

    def residuals(x: Array) -> Array:
        cut = cut_at(x)
        measures = expected(cut, task.fixed, correction)
        wish = [
            weight_of(task, name)
            * _clipped(off_share(name, value, getattr(measures, MEASURE_OF[name])))
            / WITHIN
            for name, value in wanted.items()
        ]
        turns = [
            stiff * max(bounds.turns[0] - measures.turns, 0.0),
            stiff * max(measures.turns - bounds.turns[1], 0.0) / 10,
            stiff * max(bounds.corner_pitches * cut.pitches_mm[0] / cut.base_radius_mm - 1, 0.0),
        ]
        return np.array([*wish, *turns, *(HELD * (x - x0) / span)])

    if not names:
        return _found(task, cut_at(x0), None, correction, wanted)
    solved = least_squares(residuals, x0, bounds=(low, high), x_scale=span, max_nfev=40)
    return _found(task, cut_at(solved.x), None, correction, wanted)


def _clipped(off: float) -> float:
    """A distance that is finite, and still grows where it is absurd, so that there is a way down."""
    far = 20.0
    return off if off <= far else far + math.log1p(min(off, 1e9) - far)


def _found(
    task: BoardWishes,
    cut: PlannedCut,
    wall: WallCurve | None,
    correction: Correction,
    wanted: dict[str, float],
) -> FoundCut | None:
    try:
        measures = expected(cut, task.fixed, correction)
    except (ValueError, ZeroDivisionError):
        return None
    if measures.turns <= 0:  # a base as wide as the board
        return None
    offs = {
        name: abs(_clipped(off_share(name, value, getattr(measures, MEASURE_OF[name]))))
        for name, value in wanted.items()
    }
    tight = _tight(task, cut, measures.turns)
    outside = _outside(task, cut, measures.turns)
    cost = sum((weight_of(task, name) * off) ** 2 for name, off in offs.items()) + outside**2
    return FoundCut(cut, wall, cost, max([*offs.values(), outside], default=0.0), tight)


def _outside(task: BoardWishes, cut: PlannedCut, turns: float) -> float:
    """How far a cut lies outside the bounds, as the greatest share."""
    bounds = task.bounds
    corners = bounds.corner_pitches * cut.pitches_mm[0]
    least = max(bounds.base_radius_least_mm, corners)
    over = [
        bounds.pitch_mm[0] / min(cut.pitches_mm) - 1,
        max(cut.pitches_mm) / bounds.pitch_mm[1] - 1,
        least / cut.base_radius_mm - 1 if cut.base_radius_mm > 0 else 9.0,
        cut.across_mm / task.across_mm - 1,
        bounds.turns[0] / turns - 1,
        turns / bounds.turns[1] - 1,
    ]
    if "base" in task.kept or task.wishes.base_mm is not None:
        over[2] = corners / cut.base_radius_mm - 1 if cut.base_radius_mm > 0 else 9.0
    if "pitch" in task.kept:
        over[0] = over[1] = 0.0
    share = max(*over, 0.0)
    return share if share > 1e-3 else 0.0


def _tight(task: BoardWishes, cut: PlannedCut, turns: float) -> tuple[str, ...]:
    """Bounds that a cut has run into."""
    bounds, wishes, kept = task.bounds, task.wishes, task.kept
    at = []
    if "pitch" not in kept and min(cut.pitches_mm) <= 1.01 * bounds.pitch_mm[0]:
        at.append("thin strip")
    if "pitch" not in kept and max(cut.pitches_mm) >= 0.99 * bounds.pitch_mm[1]:
        at.append("wide strip")
    if (
        "base" not in kept
        and wishes.base_mm is None
        and cut.base_radius_mm <= 1.01 * bounds.base_radius_least_mm
    ):
        at.append("small base")
    if "tilt" not in kept:
        if cut.tilt_rad <= bounds.tilt_rad[0] + math.radians(0.06):
            at.append("least tilt")
        if cut.tilt_rad >= bounds.tilt_rad[1] - math.radians(0.06):
            at.append("greatest tilt")
    if cut.across_mm >= task.across_mm * 0.999 and (wishes.wall is None or wishes.mouth_mm is not None):
        at.append("board")
    if {"tilt", "pitch", "base"} <= {*kept, *wishes.named}:
        at.append("kept")
    if turns <= 1.02 * bounds.turns[0]:
        at.append("few turns")
    if turns >= 0.98 * bounds.turns[1]:
        at.append("many turns")
    return tuple(at)


def wall_cuts(task: BoardWishes, correction: Correction | None = None) -> list[FoundCut]:
    """Cuts that make the wall that is wanted, over the tilts.

    Parameters
    ----------
    task : BoardWishes
        The wishes, a wall among them.
    correction : Correction or None
        What a strip gave over the guess; None before any is pressed.

    Returns
    -------
    list[FoundCut]
        One for every tilt that has one.
    """
    correction = correction or not_pressed()
    tilts = _tilts(task)
    if len(tilts) > 1:
        tilts = np.linspace(*task.bounds.tilt_rad, 40)
    return [f for tilt in tilts if (f := wall_solved(task, float(tilt), correction)) is not None]


def wall_solved(task: BoardWishes, tilt_rad: float, correction: Correction) -> FoundCut | None:
    """The pitches that make the wall at one tilt, the wall stretched to the other wishes.

    Parameters
    ----------
    task : BoardWishes
        The wishes, a wall among them.
    tilt_rad : float
        The tilt. [rad]
    correction : Correction
        What a strip gave over the guess.

    Returns
    -------
    FoundCut or None
        The cut; None where there is none at this tilt.
    """
    wanted = wanted_measures(task.wishes)
    try:
        cut, wall = _stretched_wall(task, tilt_rad, correction)
    except (OutsideModelError, ValueError, ZeroDivisionError, IndexError):
        return None
    cut = _within_bounds(task, cut)
    found = _found(task, cut, wall, correction, wanted)
    if found is None:
        return None
    aside = task.fixed.aside_mm + correction.aside_mm
    off = _wall_expected_off(cut, wall.moved_out(-aside), task.fixed, correction)
    weight = weight_of(task, "wall")
    return replace(found, cost=found.cost + (weight * off) ** 2, off=max(found.off, off))


def _wall_expected_off(
    cut: PlannedCut, wall: WallCurve, fixed: FixedInputs, correction: Correction
) -> float:
    """Greatest distance of the turns from the wall by geometry, as a share of the rise."""
    drop = fixed.drop_mm(cut.tilt_rad)
    knots = cut.base_radius_mm + np.append(0.0, np.cumsum(cut.pitches_mm))
    whole = np.arange(1, len(knots) - 1)
    if not len(whole):
        return 0.0
    strip_turns = correction.strip_turns_of(wall.rise_mm / (correction.rise_share * drop))
    share = np.interp((whole - 0.5) / strip_turns, correction.place, correction.share)
    stands = drop * (whole - 0.5) * share
    return float(np.abs(stands - wall.height_at_mm(knots[1:-1])).max() / wall.rise_mm)


def _within_bounds(task: BoardWishes, cut: PlannedCut) -> PlannedCut:
    """The same with every pitch and the base inside the bounds: the nearest wall that can be sawn."""
    low, high = task.bounds.pitch_mm
    pitches = [min(max(p, low), high) for p in cut.pitches_mm]
    base = cut.base_radius_mm
    if "base" not in task.kept and task.wishes.base_mm is None:
        base = max(base, task.bounds.base_radius_least_mm)
    if pitches == list(cut.pitches_mm) and base == cut.base_radius_mm and cut.across_mm <= task.across_mm:
        return cut
    across = min(cut.across_mm, task.across_mm)
    reached = np.cumsum(pitches)
    needed = int(np.searchsorted(reached, across / 2 - base)) + 1
    pitches = pitches[:needed] + [pitches[-1]] * max(needed - len(pitches), 0)
    while sum(pitches) < across / 2 - base:
        pitches.append(pitches[-1])
    return replace(cut, base_radius_mm=base, pitches_mm=tuple(pitches), across_mm=across)


def _stretched_wall(
    task: BoardWishes, tilt_rad: float, correction: Correction
) -> tuple[PlannedCut, WallCurve]:
    wishes = task.wishes
    if wishes.wall is None:
        raise OutsideModelError("no wall is wanted")
    aside = task.fixed.aside_mm + correction.aside_mm
    given = wishes.wall.moved_out(-aside)  # as it lies across the narrow way
    base = (
        wishes.base_mm / 2
        if wishes.base_mm is not None
        else task.bowl.cut.base_radius_mm if "base" in task.kept else None
    )  # fmt: skip
    slot = task.fixed.kerf_mm / math.cos(tilt_rad)

    def made(rim_mm: float, rise_mm: float) -> tuple[PlannedCut, WallCurve]:
        foot = given.foot_mm * rim_mm / given.rim_mm
        wall = given.stretched(foot_mm=foot, rim_mm=rim_mm, rise_mm=rise_mm)
        cut = wall_cut(
            wall,
            task.fixed,
            correction,
            tilt_rad=tilt_rad,
            thickness_mm=task.thickness_mm,
            base_radius_mm=base,
        )
        if base is not None:
            knots = base + np.append(0.0, np.cumsum(cut.pitches_mm))
            foot = float(knots[0] + knots[1]) / 2
            wall = given.stretched(foot_mm=foot, rim_mm=rim_mm, rise_mm=rise_mm)
        return cut, wall.moved_out(aside)

    def to_the_board(rise_mm: float) -> tuple[PlannedCut, WallCurve]:
        rim = given.rim_mm
        mouth, board = wishes.mouth_mm, task.size_given
        if board or (mouth is None and made(rim, rise_mm)[0].across_mm > task.across_mm):
            rim = _root(lambda r: made(r, rise_mm)[0].across_mm - task.across_mm, 0.45 * task.across_mm)
        elif mouth is not None:
            wanted = mouth

            def wider(r: float) -> float:
                return expected(made(r, rise_mm)[0], task.fixed, correction).mouth_mm - wanted

            rim = _root(wider, wanted / 2 + slot - aside)
        return made(rim, rise_mm)

    if wishes.rise_mm is not None:
        return to_the_board(wishes.rise_mm)
    if wishes.height_mm is not None:
        return to_the_board(wishes.height_mm - task.thickness_mm)
    if wishes.volume_ml is not None:
        volume = wishes.volume_ml

        def fuller(rise: float) -> float:
            return expected(to_the_board(rise)[0], task.fixed, correction).volume_ml / volume - 1

        return to_the_board(_root(fuller, given.rise_mm))
    return to_the_board(given.rise_mm)


def _root(function: Callable[[float], float], start: float) -> float:
    """Zero of a smooth growing function near a start, by secants."""
    a, b = start, 1.03 * start
    fa, fb = function(a), function(b)
    for _ in range(12):
        if abs(fb) < 1e-9 or fb == fa:
            break
        step = -fb * (b - a) / (fb - fa)
        step = float(np.clip(step, -0.3 * abs(b), 0.3 * abs(b)))
        a, fa = b, fb
        b += step
        fb = function(b)
        if abs(step) < 1e-7 * abs(b):
            break
    return b
