"""From the bowl that is wanted to the cut: cuts that give it, or the nearest and what stands in the way.

The first guess is rigid geometry (:mod:`fitsim.plan.cut_of_wall`). Each cut chosen is pressed on the strip,
what the strip gives over the guess corrects it, and it is solved again, until the pressed bowl meets the
wishes within :data:`WITHIN`. Where many cuts give the same bowl, those most likely to lock come first, then
those that split least, then those with least sawing.

How likely a cut locks is a cheap measure here, good for an order: the strip's own overlap against what the
scatter of kerf, tilt and thickness does to it, the share of the friction's range at which it holds, and its
chance of not splitting. ``fitsim tilt`` works it out over many imperfect bowls.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, SPLIT_RISK, SPRINGS_BACK, STATES
from fitsim.errors import InputError, OutsideModelError, Problem
from fitsim.geometry.cut import TURN_RAD
from fitsim.plan.cut_of_wall import (
    MEASURE_OF,
    Correction,
    PlannedCut,
    Setting,
    bowl_with,
    cut_of,
    even_cut,
    expected,
    not_pressed,
    rounded,
    setting_of,
    wall_cut,
)
from fitsim.plan.pressed_wall import PressedWall, pressed_wall
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.trade_bounds import Bounds, bounds_of, trade_bounds
from fitsim.plan.wishes import Wishes
from fitsim.quantities import show_length

__all__ = [
    "WITHIN",
    "OtherBoard",
    "Plan",
    "PlannedBowl",
    "Reason",
    "WishMet",
    "cuts_by_geometry",
    "lock_chance",
    "plan",
]

WITHIN = 0.02
"""A wish is met where the pressed bowl is so near, as a share of it."""

AIMED = 0.01
"""A cut is corrected again while the pressed bowl is farther away than this share."""

GUESSED = 0.004
"""How near the geometry must come before a cut is worth pressing, as a share."""

ROUNDS = 4
"""Presses of one cut at most."""

ATTEMPTS = 9
"""How often the bounds are drawn in to what pressed strips have shown, where none of them locks."""

BOARD_ATTEMPTS = 4
"""How often another board is asked for more, where its pressed strip does not lock."""

DRAWN_IN = 1.12
"""By how much a bound is drawn in from a cut that does not lock."""

PRESSED_CUTS = 4
SHOWN_CUTS = 4

TILT_STARTS, PITCH_STARTS, BASE_STARTS = 7, 3, (0.28, 0.38, 0.5)
WEIGHT_FALL = 5.0
"""How much more a wish matters than the next one in ``first``."""

TURNS_WEIGH = 5000.0
"""Weight of a turn outside the bounds: so much more than of a wish missed by all of it, even of one named
first, that no wish buys a strip that cannot be sawn."""

HELD = 0.03
"""How firmly a start holds what no wish decides."""

APART_TILT_rad, APART_SHARE = math.radians(0.8), 0.15
"""Cuts nearer to each other than this are one answer."""

THICKER_mm, WIDER_mm = 40.0, 300.0
"""How much another board may be thicker or wider."""


@dataclass(frozen=True)
class WishMet:
    """One wish and what came of it.

    Attributes
    ----------
    name : str
        As in the table of wishes.
    wanted, got : float
        A slope as its tangent; of a curve 0 and the greatest distance between wall and wish as a share of
        the rise. [mm, ml, turns, min or -]
    off : float
        Distance as a share of the wish, 0 where a time is kept. [-]
    """

    name: str
    wanted: float
    got: float
    off: float

    @property
    def met(self) -> bool:
        """Whether the pressed bowl is within :data:`WITHIN`."""
        return self.off <= WITHIN


@dataclass(frozen=True, eq=False)
class PlannedBowl:
    """One answer.

    Attributes
    ----------
    cut : PlannedCut
        The cut, as it is set and drawn.
    bowl : Bowl
        The bowl with it.
    pressed : PressedWall
        What the strip gives.
    wall : WallCurve or None
        The wall that is wanted, as it lies on this cut.
    wishes : tuple[WishMet, ...]
        Each wish and what came of it.
    lock_chance : float
        Cheap measure of how likely it locks, for the order. [-]
    presses : int
        How often it was pressed and corrected.
    good_for : tuple[str, ...]
        What it is better at than the other answers.
    other_board : bool
        Whether it needs another board than the file's.
    """

    cut: PlannedCut
    bowl: Bowl
    pressed: PressedWall
    wall: WallCurve | None
    wishes: tuple[WishMet, ...]
    lock_chance: float
    presses: int
    good_for: tuple[str, ...] = ()
    other_board: bool = False

    @property
    def meets(self) -> bool:
        """Whether every wish is met and the bowl locks."""
        return all(w.met for w in self.wishes) and self.locks

    @property
    def locks(self) -> bool:
        """Whether the strip locks, everything at its middle."""
        return self.pressed.judged.state == LOCKS


@dataclass(frozen=True)
class OtherBoard:
    """A board that would do.

    Attributes
    ----------
    thicker_mm, wider_mm : float
        More than the board there is; one of them is 0. [mm]
    """

    thicker_mm: float
    wider_mm: float


FINE_mm = 2.0
"""Lengths below this are kerfs, told to a hundredth of a millimetre or a thousandth of an inch. [mm]"""


@dataclass(frozen=True)
class Reason:
    """What stands in the way of a wish.

    Attributes
    ----------
    words : str
        A sentence with ``{}`` for each of its lengths.
    lengths_mm : tuple[float, ...]
        The lengths. [mm]
    """

    words: str
    lengths_mm: tuple[float, ...] = ()

    def told(self, units: str) -> str:
        """The sentence in a reader's units.

        Parameters
        ----------
        units : str
            "in" or "mm".

        Returns
        -------
        str
            For example "the board is 9 1/2 in across".
        """
        return self.words.format(*(show_length(v, units=units, fine=v < FINE_mm) for v in self.lengths_mm))


@dataclass(frozen=True, eq=False)
class Plan:
    """The answer to wishes.

    Attributes
    ----------
    bowl : Bowl
        The bowl they were made for.
    wishes : Wishes
        The wishes.
    answers : tuple[PlannedBowl, ...]
        The best first; where the wishes cannot be had, the nearest that can.
    in_the_way : tuple[Reason, ...]
        What stands in the way; empty where an answer meets every wish with the board there is.
    other_boards : tuple[OtherBoard, ...]
        Boards with which the wishes could be had, pressed on the strip as well; the least first.
    presses : int
        How often a strip was pressed.
    """

    bowl: Bowl
    wishes: Wishes
    answers: tuple[PlannedBowl, ...]
    in_the_way: tuple[Reason, ...]
    other_boards: tuple[OtherBoard, ...]
    presses: int

    @property
    def met(self) -> bool:
        """Whether the board there is gives what is wanted."""
        return any(a.meets and not a.other_board for a in self.answers)


@dataclass(frozen=True, eq=False)
class _Task:
    """Wishes for one board."""

    bowl: Bowl
    wishes: Wishes
    setting: Setting
    bounds: Bounds
    weights: dict[str, float]
    sinks_deeper: float | None = None

    @property
    def across_mm(self) -> float:
        return self.bowl.board.across_mm

    @property
    def thickness_mm(self) -> float:
        return self.bowl.board.thickness_mm

    @property
    def kept(self) -> tuple[str, ...]:
        return self.wishes.keep


@dataclass(frozen=True, eq=False)
class _Found:
    """A cut by geometry, its measures, and how far off its worst wish is."""

    cut: PlannedCut
    wall: WallCurve | None
    cost: float
    off: float
    tight: tuple[str, ...]


def plan(
    bowl: Bowl,
    wishes: Wishes,
    *,
    executor: Executor | None = None,
    progress: Callable[[str], None] | None = None,
) -> Plan:
    """Find cuts that give the bowl that is wanted.

    Parameters
    ----------
    bowl : Bowl
        Board, saw, wood and use; its own cut is where a kept part comes from and one start among others.
    wishes : Wishes
        What is wanted, see :func:`fitsim.plan.wishes.read_wishes`.
    executor : concurrent.futures.Executor, optional
        Who presses; left out, this process, one after the other.
    progress : callable, optional
        Told in a few words what is being worked on.

    Returns
    -------
    Plan
        Up to four answers, the best first.

    Raises
    ------
    InputError
        If the bowl has no one kerf, or a base of its own outline; or on a board that is neither round nor
        square for a curved wall or a mouth.
    OutsideModelError
        If its slots are shut when flat, or nothing near can be cut from the board.
    """
    _refuse_what_is_not_planned(bowl, wishes)
    if len(bowl.cut.tilt_rad) > 1:
        bowl = with_input(bowl, "cut.tilt_rad", bowl.cut.tilt_rad[0])
    progress = progress or (lambda _line: None)
    task = _task(bowl, wishes)
    pressing = _Pressing(executor, progress)
    answers: list[PlannedBowl] = []
    reasons: list[Reason] = []
    for attempt in range(ATTEMPTS):
        progress("cuts by geometry")
        found = _candidates(task)
        near = [f for f in found if f.off <= GUESSED]
        most = PRESSED_CUTS if attempt == 0 else 2
        tried = pressing.corrected(task, _unlike(task, near, most) if near else _nearest(found))
        good = [a for a in tried if a.meets]
        if good:
            return Plan(bowl, wishes, _named(_ordered(good)[:SHOWN_CUTS]), (), (), pressing.count)
        answers += tried
        reasons = [*_in_the_way(task, tried, found), *reasons]
        tighter = _tightened(task, tried)
        if tighter is None or (not near and any(a.locks for a in tried)):
            break
        task = tighter
    # Only a bowl that locks can be had; where none did, the nearest shows what becomes of it.
    locking = [a for a in answers if a.locks]
    answers = _no_two_alike(sorted(locking or answers, key=lambda a: _distance(task, a)))[:2]
    answers = [a for a in answers if _distance(task, a) <= 4 * _distance(task, answers[0])]
    others = () if "board" in wishes.keep else _on_other_boards(task, pressing, progress)
    answers += [answer for _, answer in others[:1]]
    if not answers:
        why = "; ".join(reason.told(bowl.units) for reason in dict.fromkeys(reasons)) or "none found"
        raise OutsideModelError(f"no strip could be followed near what is wanted: {why}")
    boards = tuple(board for board, _ in others)
    return Plan(bowl, wishes, _named(answers), _told_once(reasons), boards, pressing.count)


def _told_once(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Reasons without those that differ in their numbers alone; the newest come first and stay."""
    told: dict[str, Reason] = {}
    for reason in reasons:
        told.setdefault("".join(c for c in reason.words.split(":")[0] if not c.isdigit()), reason)
    return tuple(told.values())


def cuts_by_geometry(bowl: Bowl, wishes: Wishes) -> tuple[tuple[PlannedCut, float], ...]:
    """The first guess: cuts that give the wishes by rigid geometry, before any strip is pressed.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    wishes : Wishes
        What is wanted.

    Returns
    -------
    tuple[tuple[PlannedCut, float], ...]
        Each cut with its greatest distance from a wish or a bound as a share of it, the nearest first.
    """
    _refuse_what_is_not_planned(bowl, wishes)
    return tuple((f.cut, f.off) for f in _candidates(_task(bowl, wishes)))


def _refuse_what_is_not_planned(bowl: Bowl, wishes: Wishes) -> None:
    if bowl.board.edge is not None:
        shown = bowl.board.outline_words
        if bowl.cut.base_edge is not None:
            expected, remedy = "a base that follows the board", "leave base_outline out"
            raise InputError(Problem("", "cut.base_outline", shown, expected, remedy))
        if wishes.wall is not None:
            expected, remedy = f"a slope: turns on this board ({shown}) have one pitch", 'write "50 deg"'
            raise InputError(Problem("", "want.wall", "a curve", expected, remedy))
        if wishes.mouth_mm is not None:
            expected = f"no wish for the mouth on this board ({shown}): it follows from the edge"
            raise InputError(Problem("", "want.mouth", "", expected, "change the board's sizes instead"))
    if len(bowl.cut.kerf_mm) > 1:
        shown, remedy = f"{len(bowl.cut.kerf_mm)} values", "the turns are what is planned: give one kerf"
        raise InputError(Problem("", "cut.kerf", shown, "one kerf", remedy))
    if "tilt" in wishes.keep and len(bowl.cut.tilt_rad) > 1:
        shown = f"{len(bowl.cut.tilt_rad)} values"
        raise InputError(Problem("", "cut.tilt", shown, "one tilt to keep", "give one tilt, or let it go"))
    if "pitch" in wishes.keep and bowl.cut.pitch_shape:
        shown = f"{len(bowl.cut.pitch_shape)} values"
        raise InputError(
            Problem("", "cut.pitch", shown, "one pitch to keep", "give one pitch, or let it go")
        )
    if len(bowl.use.turn_moisture_percent) > 1:
        shown, remedy = f"{len(bowl.use.turn_moisture_percent)} values", "give one moisture for all turns"
        raise InputError(Problem("", "use.turn_moisture", shown, "one value", remedy))


def _task(bowl: Bowl, wishes: Wishes) -> _Task:
    order = {name: WEIGHT_FALL ** (len(wishes.first) - i) for i, name in enumerate(wishes.first)}
    weights = {name: order.get(name, 1.0) for name in wishes.named}
    bounds = bounds_of(bowl)
    # A tilt that is kept stands for the plan wherever the trade would put it; the strip judges it.
    return _Task(bowl, wishes, setting_of(bowl), bounds, weights)


def _set(task: _Task, cut: PlannedCut) -> PlannedCut:
    """The cut as it is set and drawn."""
    return rounded(cut, offset_rad=task.bowl.cut.scale_offset_rad, units=task.bowl.units)


def _off(name: str, wanted: float, got: float) -> float:
    """Distance of a measure from its wish, signed; a time may be shorter."""
    if not math.isfinite(got):
        return math.inf
    share = got / wanted - 1
    return max(share, 0.0) if name == "time" else share


def _wanted(wishes: Wishes) -> dict[str, float]:
    """Wishes that are one number, by the name of their measure."""
    plain = {name: float(wishes.value_of(name) or 0.0) for name in wishes.named if name != "wall"}
    if wishes.slope is not None:
        plain["slope"] = wishes.slope
    if wishes.wall is not None and not {"rise", "height", "volume"} & set(plain):
        plain["rise"] = wishes.wall.rise_mm
    return plain


def _weight(task: _Task, name: str) -> float:
    key = {"slope": "wall"}.get(name, name)
    return task.weights.get(key, task.weights.get("wall", 1.0))


# Geometry


def _candidates(task: _Task) -> list[_Found]:
    """Cuts by geometry, nearest to the wishes first."""
    found = _wall_candidates(task) if task.wishes.wall is not None else _even_candidates(task)
    return sorted(found, key=lambda f: f.cost)


def _tilts(task: _Task) -> Array:
    if "tilt" in task.kept:
        return np.array([task.bowl.cut.tilt_rad[0]])
    return np.linspace(*task.bounds.tilt_rad, TILT_STARTS)


def _even_candidates(
    task: _Task, correction: Correction | None = None, *, starts: Iterable[PlannedCut] | None = None
) -> list[_Found]:
    correction = correction or not_pressed()
    found = []
    for start in _even_starts(task) if starts is None else starts:
        solved = _even_solved(task, start, correction)
        if solved is not None:
            found.append(solved)
    return found


def _even_starts(task: _Task) -> list[PlannedCut]:
    """Starts over tilt, pitch and base; the bowl's own cut among them."""
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


def _even_solved(
    task: _Task, start: PlannedCut, correction: Correction, *, tilt_free: bool = True
) -> _Found | None:
    """Move a start until it gives the wishes, as far as the bounds let it."""
    from scipy.optimize import least_squares

    wishes, kept, bounds = task.wishes, task.kept, task.bounds
    own = cut_of(task.bowl)
    base = (
        wishes.base_mm / 2 if wishes.base_mm is not None else own.base_radius_mm if "base" in kept else None
    )
    wanted = _wanted(wishes)
    if "turns" in kept:
        wanted["turns"] = expected(own, task.setting, correction).turns
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
    edge_free = wishes.mouth_mm is not None and "board" not in kept  # a wish of round and square boards
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
        measures = expected(cut, task.setting, correction)
        wish = [
            _weight(task, name) * _clipped(_off(name, value, getattr(measures, MEASURE_OF[name]))) / WITHIN
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
    task: _Task, cut: PlannedCut, wall: WallCurve | None, correction: Correction, wanted: dict[str, float]
) -> _Found | None:
    try:
        measures = expected(cut, task.setting, correction)
    except (ValueError, ZeroDivisionError):
        return None
    if measures.turns <= 0:  # a base as wide as the board
        return None
    offs = {
        name: abs(_clipped(_off(name, value, getattr(measures, MEASURE_OF[name]))))
        for name, value in wanted.items()
    }
    tight = _tight(task, cut, measures.turns)
    outside = _outside(task, cut, measures.turns)
    cost = sum((_weight(task, name) * off) ** 2 for name, off in offs.items()) + outside**2
    return _Found(cut, wall, cost, max([*offs.values(), outside], default=0.0), tight)


def _outside(task: _Task, cut: PlannedCut, turns: float) -> float:
    """How far a cut lies outside the bounds, as the greatest share."""
    bounds = task.bounds
    corners = bounds.corner_pitches * max(cut.pitches_mm)
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


def _tight(task: _Task, cut: PlannedCut, turns: float) -> tuple[str, ...]:
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


def _wall_candidates(task: _Task, correction: Correction | None = None) -> list[_Found]:
    correction = correction or not_pressed()
    tilts = _tilts(task)
    if len(tilts) > 1:
        tilts = np.linspace(*task.bounds.tilt_rad, 40)
    return [f for tilt in tilts if (f := _wall_solved(task, float(tilt), correction)) is not None]


def _wall_solved(task: _Task, tilt_rad: float, correction: Correction) -> _Found | None:
    """The pitches that make the wall at one tilt, the wall stretched to the other wishes."""
    wanted = _wanted(task.wishes)
    try:
        cut, wall = _stretched_wall(task, tilt_rad, correction)
    except (OutsideModelError, ValueError, ZeroDivisionError, IndexError):
        return None
    cut = _within_bounds(task, cut)
    found = _found(task, cut, wall, correction, wanted)
    if found is None:
        return None
    off = _wall_expected_off(cut, wall, task.setting, correction)
    weight = _weight(task, "wall")
    return replace(found, cost=found.cost + (weight * off) ** 2, off=max(found.off, off))


def _wall_expected_off(cut: PlannedCut, wall: WallCurve, setting: Setting, correction: Correction) -> float:
    """Greatest distance of the turns from the wall by geometry, as a share of the rise."""
    drop = setting.drop_mm(cut.tilt_rad)
    knots = cut.base_radius_mm + np.append(0.0, np.cumsum(cut.pitches_mm))
    whole = np.arange(1, len(knots) - 1)
    if not len(whole):
        return 0.0
    strip_turns = wall.rise_mm / (correction.rise_share * drop) + 0.5
    share = np.interp((whole - 0.5) / strip_turns, correction.place, correction.share)
    stands = drop * (whole - 0.5) * share
    return float(np.abs(stands - wall.height_at_mm(knots[1:-1])).max() / wall.rise_mm)


def _within_bounds(task: _Task, cut: PlannedCut) -> PlannedCut:
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


def _stretched_wall(task: _Task, tilt_rad: float, correction: Correction) -> tuple[PlannedCut, WallCurve]:
    wishes = task.wishes
    if wishes.wall is None:
        raise OutsideModelError("no wall is wanted")
    given = wishes.wall
    base = (
        wishes.base_mm / 2
        if wishes.base_mm is not None
        else task.bowl.cut.base_radius_mm if "base" in task.kept else None
    )  # fmt: skip
    slot = task.setting.kerf_mm / math.cos(tilt_rad)

    def made(rim_mm: float, rise_mm: float) -> tuple[PlannedCut, WallCurve]:
        foot = given.foot_mm * rim_mm / given.rim_mm
        wall = given.stretched(foot_mm=foot, rim_mm=rim_mm, rise_mm=rise_mm)
        cut = wall_cut(
            wall,
            task.setting,
            correction,
            tilt_rad=tilt_rad,
            thickness_mm=task.thickness_mm,
            base_radius_mm=base,
        )
        if base is not None:
            knots = base + np.append(0.0, np.cumsum(cut.pitches_mm))
            foot = float(knots[0] + knots[1]) / 2
            wall = given.stretched(foot_mm=foot, rim_mm=rim_mm, rise_mm=rise_mm)
        return cut, wall

    def to_the_board(rise_mm: float) -> tuple[PlannedCut, WallCurve]:
        rim = given.rim_mm
        mouth, board = wishes.mouth_mm, "board" in task.kept
        if board or (mouth is None and made(rim, rise_mm)[0].across_mm > task.across_mm):
            rim = _root(lambda r: made(r, rise_mm)[0].across_mm - task.across_mm, 0.45 * task.across_mm)
        elif mouth is not None:
            wanted = mouth

            def wider(r: float) -> float:
                return expected(made(r, rise_mm)[0], task.setting, correction).mouth_mm - wanted

            rim = _root(wider, wanted / 2 + slot)
        return made(rim, rise_mm)

    if wishes.rise_mm is not None:
        return to_the_board(wishes.rise_mm)
    if wishes.height_mm is not None:
        return to_the_board(wishes.height_mm - task.thickness_mm)
    if wishes.volume_ml is not None:
        volume = wishes.volume_ml

        def fuller(rise: float) -> float:
            return expected(to_the_board(rise)[0], task.setting, correction).volume_ml / volume - 1

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


# Which cuts to press


def _unlike(task: _Task, found: Sequence[_Found], most: int) -> list[_Found]:
    """The best cuts by their cheap measures, no two of them alike."""
    scored = []
    for one in found:
        try:
            scored.append((_first_score(task, one), one))
        except (OutsideModelError, ValueError):
            continue
    scored.sort(key=lambda pair: pair[0])
    chosen: list[_Found] = []
    for _, one in scored:
        if all(_apart(one.cut, other.cut) for other in chosen):
            chosen.append(one)
        if len(chosen) == most:
            break
    return chosen


def _nearest(found: Sequence[_Found]) -> list[_Found]:
    """The nearest cut, and the next one unlike it if it is hardly farther."""
    other = [f for f in found[1:] if _apart(f.cut, found[0].cut) and f.cost <= 2 * found[0].cost]
    return [*found[:1], *other[:1]]


def _no_two_alike(answers: Sequence[PlannedBowl]) -> list[PlannedBowl]:
    """The same without those that are much like an earlier one: several attempts may end at one cut."""
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


ASKS_MORE = 0.35
"""Friction used by a pressed strip over the taper rule of its bevels, for a first order: an estimate."""


def _first_score(task: _Task, found: _Found) -> tuple[float, float, float]:
    """Order before anything is pressed: how likely it locks, splits, and the time at the saw."""
    bowl = bowl_with(task.bowl, _set(task, found.cut))
    closed = rigid_fit(bowl)
    deepest = trade_bounds()["sinks_deeper"].value
    overlap = 1 - deepest * (1 - closed.numbers.overlap)
    used = math.tan(found.cut.tilt_rad) / max(bowl.use.friction, 1e-6) + ASKS_MORE
    chance = lock_chance(
        bowl, overlap=overlap, friction_used=used, split_chance=closed.numbers.split_chance
    )
    time = expected(found.cut, task.setting, not_pressed()).time_min
    return _order(chance, closed.numbers.split_chance, time)


def _order(chance: float, split: float, time: float) -> tuple[float, float, float]:
    """Most likely to lock first, to a hundredth; then least splitting, by tenfolds; then least sawing."""
    return (-round(chance, 2), round(math.log10(max(split, 1e-6))), time)


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
    ends = [(u.low, u.high) for u in bowl.uncertain if u.path == "use.friction"]
    needed = friction_used * bowl.use.friction / bowl.limits.friction_used
    if not math.isfinite(needed):
        return 0.0
    low, high = ends[0] if ends else (bowl.use.friction, bowl.use.friction)
    holds = float(np.clip((high - needed) / (high - low), 0, 1)) if high > low else float(needed <= low)
    return bears * holds * (1 - min(split_chance, 1.0))


# Pressing and correcting


@dataclass(frozen=True, eq=False)
class _Pressed:
    """A cut that was pressed."""

    found: _Found
    cut: PlannedCut
    wall: PressedWall
    wishes: tuple[WishMet, ...]
    correction: Correction

    @property
    def off(self) -> float:
        return max(w.off for w in self.wishes)


class _Pressing:
    """Presses cuts, in this process or by an executor, and counts them."""

    def __init__(self, executor: Executor | None, progress: Callable[[str], None]) -> None:
        self._executor = executor
        self._progress = progress
        self.count = 0

    def walls(self, bowls: Sequence[Bowl]) -> list[PressedWall | str]:
        """Each bowl pressed."""
        self.count += len(bowls)
        self._progress(f"{len(bowls)} {'cut' if len(bowls) == 1 else 'cuts'} pressed on the strip")
        work = map if self._executor is None else self._executor.map
        return list(work(pressed_wall, bowls))

    def corrected(self, task: _Task, chosen: Sequence[_Found]) -> list[PlannedBowl]:
        """Each cut pressed and corrected until it gives the wishes, or as near as it comes.

        A cut that does not lock is not followed further.
        """
        best: dict[int, _Pressed] = {}
        counts = [0] * len(chosen)
        current = {i: (found, not_pressed()) for i, found in enumerate(chosen)}
        for _ in range(ROUNDS):
            if not current:
                break
            cuts = {i: _set(task, found.cut) for i, (found, _) in current.items()}
            walls = self.walls([bowl_with(task.bowl, cut) for cut in cuts.values()])
            before, current = current, {}
            for (i, cut), wall in zip(cuts.items(), walls, strict=True):
                counts[i] += 1
                if isinstance(wall, str):
                    continue
                done = _measured(task, before[i][0], cut, wall, before[i][1])
                if i not in best or _better(task, done, best[i]):
                    best[i] = done
                if done.off > AIMED and wall.judged.locks:
                    again = _solved_again(task, done)
                    if again is not None:
                        current[i] = (again, done.correction)
        return [_answer(task, best[i], counts[i]) for i in sorted(best)]


def _better(task: _Task, a: _Pressed, b: _Pressed) -> bool:
    if a.wall.judged.locks != b.wall.judged.locks:
        return a.wall.judged.locks
    return _weighted(task, a.wishes) < _weighted(task, b.wishes)


def _weighted(task: _Task, wishes: Iterable[WishMet]) -> float:
    return sum((_weight(task, w.name) * w.off) ** 2 for w in wishes)


def _distance(task: _Task, answer: PlannedBowl) -> float:
    return _weighted(task, answer.wishes)


def _measured(
    task: _Task, found: _Found, cut: PlannedCut, wall: PressedWall, before: Correction
) -> _Pressed:
    """What a press says of the wishes, and of the geometry's guess."""
    guess = expected(cut, task.setting, before)
    drop = task.setting.drop_mm(cut.tilt_rad)
    # A turn that is no whole one is held down by the nail: it says nothing of those before it.
    whole = wall.whole if wall.whole.any() else wall.turn_place > 0
    share = wall.turn_height_mm[whole] / (drop * wall.turn_place[whole])
    wider = wall.got.mouth_mm - guess.mouth_mm
    correction = Correction(
        rise_share=before.rise_share * _over(wall.got.rise_mm, guess.rise_mm),
        volume_share=before.volume_share * _over(wall.got.volume_ml, guess.volume_ml),
        slope_share=before.slope_share * _over(wall.got.slope, guess.slope),
        mouth_mm=before.mouth_mm + (wider if math.isfinite(wider) else 0.0),
        place=read_only(wall.turn_place[whole] / wall.strip_turns),
        share=read_only(share),
    )
    return _Pressed(found, cut, wall, _wishes_met(task, cut, found.wall, wall), correction)


def _over(got: float, guess: float) -> float:
    """What a press gave over the guess; 1 where either says nothing."""
    share = got / guess if guess > 0 else 1.0
    return share if math.isfinite(share) and share > 0 else 1.0


def _wishes_met(
    task: _Task, cut: PlannedCut, wanted_wall: WallCurve | None, wall: PressedWall
) -> tuple[WishMet, ...]:
    met = []
    for name, wanted in _wanted(task.wishes).items():
        got = getattr(wall.got, MEASURE_OF[name])
        label = "wall" if name == "slope" else name
        met.append(WishMet(label, wanted, got, abs(_off(name, wanted, got))))
    if wanted_wall is not None:
        off = wall_off(wanted_wall, wall)
        met.append(WishMet("wall", 0.0, off, off))
    return tuple(met)


def wall_off(wanted: WallCurve, wall: PressedWall) -> float:
    """Greatest distance in height between the middles of the whole turns and the wall that is wanted.

    Parameters
    ----------
    wanted : WallCurve
        The wall.
    wall : PressedWall
        The pressed bowl.

    Returns
    -------
    float
        As a share of the wall's rise. [-]
    """
    whole = wall.whole
    apart = wall.turn_height_mm[whole] - wanted.height_at_mm(wall.turn_radius_mm[whole])
    return float(np.abs(apart).max() / wanted.rise_mm) if whole.any() else math.inf


def _solved_again(task: _Task, done: _Pressed) -> _Found | None:
    """The cut once more, with what the strip gave over the guess; the tilt moves only where it must."""
    if task.wishes.wall is not None:
        again = _wall_solved(task, done.cut.tilt_rad, done.correction)
    else:
        again = _even_solved(task, done.cut, done.correction, tilt_free=False)
        if again is None or again.off > GUESSED:
            again = _even_solved(task, done.cut, done.correction)
            if again is not None:
                # The tilt is set to a twentieth of a degree; the rest makes up for it.
                set_tilt = _set(task, again.cut)
                once = replace(again.cut, tilt_rad=set_tilt.tilt_rad)
                held = _even_solved(task, once, done.correction, tilt_free=False)
                again = held if held is not None and held.cost <= 4 * again.cost + 1e-5 else again
    if again is None or _set(task, again.cut) == done.cut:
        return None
    return again


def _answer(task: _Task, done: _Pressed, presses: int) -> PlannedBowl:
    bowl = bowl_with(task.bowl, done.cut)
    numbers = done.wall.judged.numbers
    chance = lock_chance(
        bowl,
        overlap=numbers.overlap,
        friction_used=numbers.friction_used,
        split_chance=numbers.split_chance,
    )
    if done.wall.judged.state != LOCKS:
        chance = 0.0
    return PlannedBowl(done.cut, bowl, done.wall, done.found.wall, done.wishes, chance, presses)


def _ordered(answers: Sequence[PlannedBowl]) -> list[PlannedBowl]:
    def key(answer: PlannedBowl) -> tuple[float, float, float]:
        return _order(
            answer.lock_chance, answer.pressed.judged.numbers.split_chance, answer.pressed.got.time_min
        )

    return sorted(answers, key=key)


def _named(answers: Sequence[PlannedBowl]) -> tuple[PlannedBowl, ...]:
    """Say of each answer what it is best at among them."""
    if len(answers) < 2:
        return tuple(answers)
    qualities: list[tuple[str, Callable[[PlannedBowl], float]]] = [
        ("likeliest to lock", lambda a: -a.lock_chance),
        ("least apt to split", lambda a: a.pressed.judged.numbers.split_chance),
        ("least sawing", lambda a: a.pressed.got.time_min),
        ("lightest press", lambda a: a.pressed.judged.press_N),
        ("widest base", lambda a: -a.cut.base_radius_mm),
    ]
    here = [a for a in answers if not a.other_board and a.locks]
    best = {name: min(here, key=of) for name, of in qualities} if len(here) > 1 else {}
    return tuple(
        replace(a, good_for=tuple(name for name, one in best.items() if one is a)) for a in answers
    )


# What stands in the way


def _in_the_way(task: _Task, answers: Sequence[PlannedBowl], found: Sequence[_Found]) -> tuple[Reason, ...]:
    """Why the wishes cannot all be had, in words."""
    reasons = []
    for answer in answers[:1]:
        if not answer.locks:
            reasons.append(Reason(f"the cut that would give it: {answer.pressed.judged.state}"))
    near = found[0] if found else None
    if near is not None and near.off > GUESSED:
        reasons += _tight_words(task, near.tight)
        if not near.tight:
            reasons.append(Reason("the wishes contradict one another: no cut has them all"))
    elif not reasons:
        reasons.append(Reason("the pressed strip does not give what its geometry promises"))
    return tuple(dict.fromkeys(reasons))


def _tightened(task: _Task, tried: Sequence[PlannedBowl]) -> _Task | None:
    """The task with its bounds drawn in a step from cuts that do not lock; None where nothing can move."""
    bounds, bowl, kept = task.bounds, task.bowl, task.kept
    failed = {state: [a for a in tried if a.pressed.judged.state == state] for state in STATES}
    (least, most), (fine, wide) = bounds.tilt_rad, bounds.pitch_mm
    reasons = list(bounds.tilt_reasons)
    base, base_reason, deeper = bounds.base_radius_least_mm, bounds.base_reason, task.sinks_deeper
    if failed[FALLS_THROUGH] and "tilt" not in kept:
        least = max(least, DRAWN_IN * max(a.cut.tilt_rad for a in failed[FALLS_THROUGH]))
        reasons[0] = "with less a turn sinks until too little of the thickness bears"
        slots = task.setting.drop_mm(least)
        deeper = bowl.board.thickness_mm * (1 - bowl.limits.overlap) / slots
    if failed[SPRINGS_BACK] and "tilt" not in kept:
        most = min(most, min(a.cut.tilt_rad for a in failed[SPRINGS_BACK]) / DRAWN_IN)
        reasons[1] = "a steeper bevel springs back"
    at_odds = least >= most
    if at_odds:  # some sink too far and some spring back at much the same tilt: too many narrow turns
        (least, most), reasons, deeper = bounds.tilt_rad, list(bounds.tilt_reasons), task.sinks_deeper
    if failed[SPLIT_RISK] or at_odds:
        apt = [a.cut for a in (failed[SPLIT_RISK] or tried)]
        if "pitch" not in kept:
            wide = max(min(max(cut.pitches_mm) for cut in apt) / DRAWN_IN, 1.02 * fine)
        if "base" not in kept and task.wishes.base_mm is None:
            base = max(base, DRAWN_IN * min(cut.base_radius_mm for cut in apt))
            base_reason = "on a smaller one the innermost turns split or do not hold"
    drawn_in = replace(
        bounds,
        tilt_rad=(least, most),
        pitch_mm=(fine, min(wide, bounds.pitch_mm[1])),
        tilt_reasons=(reasons[0], reasons[1]),
        base_radius_least_mm=base,
        base_reason=base_reason,
    )
    if drawn_in == bounds or base > 0.4 * task.across_mm:
        return None
    return replace(task, bounds=drawn_in, sinks_deeper=deeper)


def _tight_words(task: _Task, tight: Iterable[str]) -> list[Reason]:
    bounds, bowl = task.bounds, task.bowl
    strip = trade_bounds()["strip_width"]
    least, greatest = (math.degrees(tilt) for tilt in bounds.tilt_rad)
    narrow = "across" if bowl.board.edge is None else "across its narrow way"
    words = {
        "thin strip": Reason(
            "a strip thinner than {} can hardly be nailed and sawn (estimate, {} to {})",
            (strip.value, strip.low, strip.high),
        ),
        "wide strip": Reason(
            "a pitch wider than {} splits, or makes a flight of stairs", (bounds.pitch_mm[1],)
        ),
        "small base": Reason(
            f"the base cannot be smaller than {{}} {narrow}: {bounds.base_reason}",
            (2 * bounds.base_radius_least_mm,),
        ),
        "least tilt": Reason(
            f"no less tilt than {least:.1f} deg: {bounds.tilt_reasons[0]} (board {{}} thick, kerf {{}})",
            (task.thickness_mm, max(bowl.cut.kerf_mm)),
        ),
        "greatest tilt": Reason(f"no more tilt than {greatest:.1f} deg: {bounds.tilt_reasons[1]}"),
        "board": Reason(f"the board is {{}} {narrow}", (task.across_mm,)),
        "kept": Reason("what is kept leaves little to move"),
        "few turns": Reason("a strip needs one full turn at least"),
        "many turns": Reason(f"more than {bounds.turns[1]:.0f} turns cannot always be followed"),
    }
    return [words[key] for key in tight]


def _least_board(task: _Task, *, thicker: bool) -> OtherBoard | None:
    """The least thicker, or the least wider, board with which the geometry gives the wishes."""
    most = THICKER_mm if thicker else WIDER_mm
    if not _feasible(task, most, thicker=thicker):
        # A board far too large may fail where a middling one does not.
        most = next((m for m in (most / 2, most / 4, most / 8) if _feasible(task, m, thicker=thicker)), 0.0)
        if not most:
            return None
    low, high = 0.0, most
    while high - low > (0.5 if thicker else 1.0):
        middle = (low + high) / 2
        low, high = (low, middle) if _feasible(task, middle, thicker=thicker) else (middle, high)
    more = float(math.ceil(high))
    return OtherBoard(more, 0.0) if thicker else OtherBoard(0.0, more)


def _with_board(task: _Task, board: OtherBoard) -> _Task:
    old = task.bowl.board
    thickness, across = old.thickness_mm + board.thicker_mm, old.across_mm + board.wider_mm
    bowl = replace(task.bowl, board=replace(old, thickness_mm=thickness, across_mm=across))
    bounds = bounds_of(bowl, sinks_deeper=task.sinks_deeper)
    drawn_in = replace(
        bounds,
        pitch_mm=task.bounds.pitch_mm,
        base_radius_least_mm=max(bounds.base_radius_least_mm, task.bounds.base_radius_least_mm),
        base_reason=task.bounds.base_reason,
        tilt_rad=(bounds.tilt_rad[0], min(bounds.tilt_rad[1], task.bounds.tilt_rad[1])),
    )
    return replace(task, bowl=bowl, bounds=drawn_in)


def _feasible(task: _Task, more_mm: float, *, thicker: bool) -> bool:
    other = _with_board(task, OtherBoard(more_mm, 0.0) if thicker else OtherBoard(0.0, more_mm))
    if other.wishes.wall is not None:
        return any(f.off <= GUESSED for f in _wall_candidates(other))
    starts = _even_starts(other)
    return any(
        (found := _even_solved(other, start, not_pressed())) is not None and found.off <= GUESSED
        for start in starts[:: max(len(starts) // 20, 1)]
    )


def _on_other_boards(
    task: _Task, pressing: "_Pressing", progress: Callable[[str], None]
) -> tuple[tuple[OtherBoard, PlannedBowl], ...]:
    """Boards that give the wishes on the pressed strip, with a cut each; the least first."""
    old = task.bowl.board
    found = []
    for thicker in (True, False) if old.edge is None else (True,):
        trying = task
        for _ in range(BOARD_ATTEMPTS):
            progress(f"a {'thicker' if thicker else 'wider'} board")
            board = _least_board(trying, thicker=thicker)
            if board is None:
                break
            other = _with_board(trying, board)
            near = [f for f in _candidates(other) if f.off <= GUESSED]
            answers = pressing.corrected(other, _unlike(other, near, 1))
            good = [a for a in answers if a.meets]
            if good:
                found.append((board, replace(good[0], other_board=True)))
                break
            tighter = _tightened(other, answers)
            if tighter is None:
                break
            trying = replace(trying, bounds=tighter.bounds, sinks_deeper=tighter.sinks_deeper)
    return tuple(
        sorted(found, key=lambda f: f[0].thicker_mm / old.thickness_mm + f[0].wider_mm / old.across_mm)
    )
