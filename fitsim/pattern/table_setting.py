"""How closely the saw table has to be set: the bowl half a degree to each side of what its file asks for.

A scale can be read to about half a degree. The half degrees on both sides of the setting asked for are
pressed as hard as the bowl itself was judged at, which is what the sheet tells the maker to do, and not as
hard as a bowl planned for that tilt would be: in the middle of the ranges, and where it locks there also at
the least friction. So is the setting asked for, where that press is not the one the least friction asks
for. Where the bowl was judged by the hand formula alone, so are they. The whole range of tilts is the
business of ``fitsim tilt``.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import ElasticFit, drops_under_press_mm, open_bowl
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import FRICTION, Bowl, with_friction_known, with_input
from fitsim.bowl.judgement import Judgement, judge_opening
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    judge,
)
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.geometry.cut import frozen

__all__ = ["HALF_DEG", "Setting", "TableSetting", "drops_mm", "harmless_N", "set_to", "table_setting"]

HALF_DEG = 0.5

SPOILS = (WILL_NOT_OPEN, FALLS_THROUGH, SPLIT_RISK)
"""States that no gentler press mends."""

STRENGTH_ACROSS = "board.wood.tension_across_MPa"

HARMLESS_CHANCE = 0.001
"""Chance of splitting below which a press does no harm: it is told as fewer than 1 bowl in 1000. [-]"""

FAR_ABOVE = 2.0
"""A harder press does no harm only where the one that splits 1 in 10, if it is known, is so many times what
the bowl ought to be given: our choice. [-]"""

ROOM_KEPT = 0.5
"""Share of the overlap's room above its limit that all the press there is must leave: our choice. [-]"""

WORTH_TELLING = 1.1
"""The press there is over the one it ought to be given from which the room between is told: our choice."""


@dataclass(frozen=True)
class Setting:
    """What the bowl does at one setting of the scale.

    Attributes
    ----------
    scale_deg : float
        As the scale reads. [deg]
    state : str
        State of the bowl in the middle of the ranges, or "not decided".
    may : str
        State of the setting asked for over all ranges; of the others where friction is least.
    drop_mm : float
        How far the first turn sinks there in the middle of the ranges; nan where that is not known. [mm]
    so_pressed : str
        State of the setting asked for where friction is least, under the press of the sheet; "locks" where
        it locks so, where that was not followed, and for the others, of which ``may`` tells it.
    """

    scale_deg: float
    state: str
    may: str
    drop_mm: float
    so_pressed: str = LOCKS

    @property
    def surely_locks(self) -> bool:
        """Whether it locks in the middle and at the unfavourable end."""
        return self.state == self.may == self.so_pressed == LOCKS


@dataclass(frozen=True)
class TableSetting:
    """The setting asked for and the half degrees beside it.

    Attributes
    ----------
    asked : Setting
        What the bowl file asks for.
    beside : tuple[Setting, ...]
        The next half degrees below and above; empty where the bowl does not lock as asked.
    """

    asked: Setting
    beside: tuple[Setting, ...]

    @property
    def nearest(self) -> Setting | None:
        """The half degree nearest to what is asked at which it locks; None if none tried does.

        One at which it may do something else only where that goes for what is asked as well.
        """
        halves = [s for s in (self.asked, *self.beside) if s.state == LOCKS and _is_half(s.scale_deg)]
        if self.asked.surely_locks:
            halves = [s for s in halves if s.surely_locks]
        return min(halves, key=lambda s: abs(s.scale_deg - self.asked.scale_deg), default=None)

    @property
    def less(self) -> Setting | None:
        """The half degree below what is asked; None where it was not tried."""
        return next((s for s in self.beside if s.scale_deg < self.asked.scale_deg), None)

    @property
    def more(self) -> Setting | None:
        """The half degree above what is asked; None where it was not tried."""
        return next((s for s in self.beside if s.scale_deg > self.asked.scale_deg), None)


def set_to(bowl: Bowl, scale_deg: float) -> Bowl:
    """The same bowl sawn with the scale at another setting.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    scale_deg : float
        What the scale reads; the saw's offset is kept. [deg]

    Returns
    -------
    Bowl
        A new bowl with one tilt.
    """
    tilt = math.radians(scale_deg) + bowl.cut.scale_offset_rad
    return replace(bowl, cut=replace(bowl.cut, tilt_rad=(tilt,)))


def _is_half(scale_deg: float) -> bool:
    return abs(scale_deg / HALF_DEG - round(scale_deg / HALF_DEG)) < 1e-9


def table_setting(answer: BowlFit) -> TableSetting:
    """What a bowl does at the half degrees beside the setting it asks for.

    Parameters
    ----------
    answer : BowlFit
        The bowl as ``fit`` judged it, with one tilt.

    Returns
    -------
    TableSetting
        Judged by what the answer rests on: presses, or the hand formula alone.
    """
    bowl, state = answer.bowl, answer.verdict.state_in_middle
    scale = round(math.degrees(bowl.cut.scale_tilt_rad[0]), 9)  # 8 deg, not 8.000000000000002
    asked = Setting(scale, state, answer.verdict.state, _drop_mm(answer), _so_pressed(answer))
    if state != LOCKS:
        return TableSetting(asked, ())
    below = HALF_DEG * (math.ceil(scale / HALF_DEG - 1e-9) - 1)
    above = HALF_DEG * (math.floor(scale / HALF_DEG + 1e-9) + 1)
    degrees = [deg for deg in (below, above) if deg > 0]
    try:
        return TableSetting(asked, _tried(answer, degrees))
    except OutsideModelError:
        return TableSetting(asked, ())


def _drop_mm(answer: BowlFit) -> float:
    if answer.elastic is None:
        return float(answer.rigid.seats.seat_drop_mm[0])
    return float(judge_opening(answer.bowl, answer.elastic.opening).drop_mm[0])


def _so_pressed(answer: BowlFit) -> str:
    """State where friction is least, under the press of the sheet: it may ask for a harder one."""
    found, least = answer.elastic, _at_least_friction(answer.bowl)
    if found is None or answer.verdict.state_in_middle != LOCKS or least == answer.bowl:
        return LOCKS
    if found.opening.judged.friction <= least.use.friction:
        return LOCKS  # its own press, under which it locks
    try:
        state = _state_and_drop_mm(answer, least)[0]
    except (NoConvergenceError, OutsideModelError):
        return LOCKS
    return state if state in STATES else LOCKS


def harmless_N(answer: BowlFit) -> float:
    """All the press there is, where it does a bowl that locks no harm.

    Parameters
    ----------
    answer : BowlFit
        The bowl as ``fit`` judged it, with one tilt.

    Returns
    -------
    float
        Under it fewer than 1 bowl in 1000 splits and none comes near to falling through, in the middle of
        the ranges and where friction is least, the wood weak and all that is not known of it at its worst;
        the press that splits 1 in 10, where it is known, lies beyond it and far above what the bowl ought
        to be given. Nan where that is not so or was not followed, where anything but friction may shut the
        slot, let turns fall through or split them, or where it is hardly more than the bowl ought to be
        given. [N]
    """
    found, verdict, there_N = answer.elastic, answer.verdict, answer.bowl.use.press_N
    if found is None or verdict.state_in_middle != LOCKS:
        return math.nan
    asked_N, split_N = found.opening.judged.asked_N, found.split_press_N
    opens, sinks, _springs, splits = verdict.margins
    chance = found.opening.stress.chance
    not_known = max(found.split_range.high / chance, 1.0) if chance > 0 else 1.0
    if (
        not there_N >= WORTH_TELLING * asked_N
        or not found.chance_at_press * not_known < HARMLESS_CHANCE
        or not splits.worst < HARMLESS_CHANCE
        or split_N < max(FAR_ABOVE * asked_N, there_N)
        # A slot wider or narrower than counted on is not tried under all there is; friction is.
        or (
            (verdict.state in SPOILS or any(spoil.at_worst for spoil in (opens, sinks, splits)))
            and any(d.name != "friction" for d in verdict.depends_on)
        )
    ):
        return math.nan
    limit, spare = sinks.limit, 0.0 if sinks.at_worst else sinks.value - sinks.worst
    for bowl in dict.fromkeys((answer.bowl, _at_least_friction(answer.bowl))):
        try:
            pressed = _pressed_with(_of_weak_wood(bowl), there_N)
        except (NoConvergenceError, OutsideModelError):
            return math.nan
        numbers = pressed.numbers
        if (
            pressed.state not in ((LOCKS,) if bowl is answer.bowl else (LOCKS, SPRINGS_BACK))
            or not numbers.split_chance * not_known < HARMLESS_CHANCE
            or not numbers.overlap - spare - limit >= ROOM_KEPT * (sinks.value - limit)
        ):
            return math.nan
    return there_N


def _tried(answer: BowlFit, degrees: list[float]) -> tuple[Setting, ...]:
    found = []
    for deg in degrees:
        bowl = set_to(answer.bowl, deg)
        least = _at_least_friction(bowl)
        try:
            state, drop_mm = _state_and_drop_mm(answer, bowl)
            may = _state_and_drop_mm(answer, least)[0] if state == LOCKS and least != bowl else state
        except NoConvergenceError:
            continue
        found.append(Setting(deg, state, may, drop_mm))
    return tuple(found)


def _state_and_drop_mm(answer: BowlFit, bowl: Bowl) -> tuple[str, float]:
    """State of a bowl changed a little, judged as the bowl itself was, and the drop of its first turn."""
    if answer.elastic is None:
        stiff = rigid_fit(bowl)
        return judge(stiff.numbers, bowl.limits), float(stiff.seats.seat_drop_mm[0])
    there = _pressed_alike(bowl, answer.elastic)
    return there.state, float(there.drop_mm[0])


def _at_least_friction(bowl: Bowl) -> Bowl:
    """The bowl with its friction at the low end of its range; the same where that is no range."""
    lows = [u.low for u in bowl.uncertain if u.path == FRICTION]
    return with_friction_known(bowl, lows[0]) if lows else bowl


def _of_weak_wood(bowl: Bowl) -> Bowl:
    """The bowl with its wood's strength across the grain at the low end of its range, if it has one."""
    lows = [u.low for u in bowl.uncertain if u.path == STRENGTH_ACROSS]
    return with_input(bowl, STRENGTH_ACROSS, lows[0]) if lows else bowl


def _pressed_alike(bowl: Bowl, beside: ElasticFit) -> Judgement:
    """A bowl changed a little, pressed as hard as the bowl itself was judged at."""
    return _pressed_with(bowl, beside.opening.judged.press_N)


def _pressed_with(bowl: Bowl, press_N: float) -> Judgement:
    return judge_opening(bowl, open_bowl(bowl, press_N=press_N, lowering=bowl.limits.friction_used < 1))


def drops_mm(answer: BowlFit, changed: Bowl) -> Array:
    """How far each turn of a bowl changed a little sinks, counted as the bowl's own drops are.

    Parameters
    ----------
    answer : BowlFit
        The bowl as ``fit`` judged it.
    changed : Bowl
        The same bowl, or changed a little: another moisture of the turns, kerf, tilt.

    Returns
    -------
    numpy.ndarray
        Innermost turn first, under the press the bowl itself was judged at, or of stiff turns where the
        answer rests on those; nan where it cannot be pressed so hard, or falls through, shape (turns,).
        [mm]

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip, or moisture lies outside the formulas.
    """
    stiff = rigid_fit(changed)
    if answer.elastic is None:
        return stiff.seats.seat_drop_mm
    unknown = frozen(np.full(len(stiff.seats.seat_drop_mm), np.nan))
    if stiff.numbers.slot_left_mm <= 0:
        return unknown
    try:
        return drops_under_press_mm(changed, answer.elastic.opening.judged.press_N)
    except NoConvergenceError:
        return unknown
