"""How closely the saw table has to be set: the bowl half a degree to each side of what its file asks for.

A scale can be read to about half a degree. The half degrees on both sides of the setting asked for are
pressed as hard as the bowl itself was judged at, which is what the sheet tells the maker to do, and not as
hard as a bowl planned for that tilt would be: in the middle of the ranges, and where it locks there also
where they are worst, of which two corners tell. Under one press the least friction is worst for every
state, and so is the least strength; of the other ranges that matter (kerf, film, scale) one end lets every
turn sink deepest and the other least, and the press there is the one the bowl itself was judged at there.
The setting asked for is pressed so at the least friction, where the press is not the one that asks for.
To hold with its spare a half degree may ask for a harder press than the sheet's: where the press there may
be is hardly enough, what it asks for is found too, for what is short of press is itself no cure.
Where the bowl was judged by the hand formula alone, so are they. The whole range of tilts is the business
of ``fitsim tilt``.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import deciding_numbers, rigid_fit
from fitsim.bowl.elastic import ElasticFit, drops_under_press_mm, open_bowl
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import FRICTION, Bowl, with_friction_known, with_input
from fitsim.bowl.judgement import Judgement, judge_opening
from fitsim.bowl.ranges import ALWAYS, mattering
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    NOT_DECIDED,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    DecidingNumbers,
    judge,
    room,
)
from fitsim.errors import NoConvergenceError, OutsideModelError

__all__ = [
    "HALF_DEG",
    "PressOverEnds",
    "Setting",
    "TableSetting",
    "drops_mm",
    "harmless_N",
    "press_over_ends",
    "set_to",
    "table_setting",
]

HALF_DEG = 0.5

HALF_DEG_ASKS = 1.25
"""How much more press half a degree may ask for, at most: our choice; 0.2 deg asked for 6 percent. [-]"""

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

HAND_N = 20.0
"""A bowl that ought to be given less than this is told how much more would do no harm: a forearm and its
hand laid on it weigh some 16 N (0.022 of the body: D. A. Winter, *Biomechanics and Motor Control of Human
Movement*, from memory). An estimate. [N]"""

HALVED, ROOM_TOLD = 3, 1.25
"""How often the presses between are halved to find it, and how much more than it ought to be given is worth
a word there. [-, -]"""


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
        State of the setting asked for over all ranges; of the others the worst where those are worst, or
        "not decided".
    drop_mm : float
        How far the first turn sinks there in the middle of the ranges; nan where that is not known. [mm]
    so_pressed : str
        State of the setting asked for where friction is least, under the press of the sheet; "locks" where
        it locks so, where that was not followed, and for the others, of which ``may`` tells it.
    room : float
        How much of its room to each state's limit is left where the ranges are worst, of the state to
        which least is; not above 0 where it does not surely lock. [-]
    short_of_N : float
        Press that a half degree beside ought to be given where its ranges ask for most, if that is more
        than there may be; 0 where there is enough, and for the setting asked for, whose ``may`` tells it.
        [N]
    """

    scale_deg: float
    state: str
    may: str
    drop_mm: float
    so_pressed: str = LOCKS
    room: float = 0.0
    short_of_N: float = 0.0

    @property
    def surely_locks(self) -> bool:
        """Whether it locks in the middle and at the unfavourable end, and there is press enough for it."""
        return self.state == self.may == self.so_pressed == LOCKS and not self.short_of_N

    @property
    def at_worst(self) -> str:
        """The first in precedence of what it does and may do; what is short of press may spring back."""
        short = [SPRINGS_BACK] if self.short_of_N else []
        return min(self.state, self.may, self.so_pressed, *short, key=STATES.index)


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
        """The half degree to set, what is asked if it is one; None if none tried is as good as that.

        One at which it may do something else only where what is asked may do worse, or as bad and the half
        degree lies away from it. Of two alike the nearer, then that with more room.
        """
        if self.asked.state == LOCKS and _is_half(self.asked.scale_deg):
            return self.asked
        halves = [s for s in self.beside if s.state == LOCKS and self._as_good(s)]
        return min(
            halves,
            key=lambda s: (
                -STATES.index(s.at_worst),
                round(abs(s.scale_deg - self.asked.scale_deg), 9),
                -s.room,
            ),
            default=None,
        )

    def _as_good(self, half: Setting) -> bool:
        """Whether a half degree is no worse than what is asked."""
        may, here = STATES.index(half.at_worst), self.asked.at_worst
        if half.surely_locks or may != STATES.index(here):
            return may >= STATES.index(here)
        # Less tilt sinks deeper and more lets the bevels slip.
        steeper = half.scale_deg > self.asked.scale_deg
        return here == (FALLS_THROUGH if steeper else SPRINGS_BACK)

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
    left = _room_left(answer.verdict.worst, bowl) if state in STATES else 0.0
    asked = Setting(scale, state, answer.verdict.state, _drop_mm(answer), _so_pressed(answer), left)
    if state != LOCKS:
        return TableSetting(asked, ())
    below = HALF_DEG * (math.ceil(scale / HALF_DEG - 1e-9) - 1)
    above = HALF_DEG * (math.floor(scale / HALF_DEG + 1e-9) + 1)
    degrees = [deg for deg in (below, above) if deg > 0]
    try:
        return TableSetting(asked, _tried(answer, degrees))
    except (NoConvergenceError, OutsideModelError):
        return TableSetting(asked, tuple(_not_followed(deg) for deg in degrees))


def _not_followed(scale_deg: float) -> Setting:
    """A half degree beside of which nothing could be calculated."""
    return Setting(scale_deg, NOT_DECIDED, NOT_DECIDED, math.nan)


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
        numbers = _numbers_and_drop_mm(answer, least)[0]
    except (NoConvergenceError, OutsideModelError):
        return LOCKS
    return judge(numbers, least.limits)


def harmless_N(answer: BowlFit) -> float:
    """All the press there is, where it does a bowl that locks no harm, or how much of it does none.

    Less than all there is is looked for where a bowl ought to be given less than :data:`HAND_N`.

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
    if (
        not there_N >= WORTH_TELLING * asked_N
        or not splits.worst < HARMLESS_CHANCE
        or split_N < FAR_ABOVE * asked_N
        # A slot wider or narrower than counted on is not tried under all there is; friction is.
        or (
            (verdict.state in SPOILS or any(spoil.at_worst for spoil in (opens, sinks, splits)))
            and any(d.name != "friction" for d in verdict.depends_on)
        )
    ):
        return math.nan
    at_press = found.chance_at_press * _not_known(found)
    if at_press < HARMLESS_CHANCE and not split_N < there_N and _does_no_harm(answer, found, there_N):
        return there_N
    most_N = min(there_N, found.falls_beyond_N, split_N if math.isfinite(split_N) else math.inf)
    if asked_N >= HAND_N or most_N < ROOM_TOLD * asked_N:
        return math.nan
    less_N = asked_N
    for _ in range(HALVED):
        between_N = math.sqrt(less_N * most_N)
        if _does_no_harm(answer, found, between_N):
            less_N = between_N
        else:
            most_N = between_N
    return less_N if less_N >= ROOM_TOLD * asked_N else math.nan


def _not_known(found: ElasticFit) -> float:
    """Times the chance of splitting that all that is not known of the wood at its worst makes of it. [-]"""
    chance = found.opening.stress.chance
    return max(found.split_range.high / chance, 1.0) if chance > 0 else 1.0


def _does_no_harm(answer: BowlFit, found: ElasticFit, press_N: float) -> bool:
    """Whether a press neither splits a bowl of weak wood nor lets it sink far, least friction included."""
    sinks = answer.verdict.margins[STATES.index(FALLS_THROUGH)]
    limit, spare = sinks.limit, 0.0 if sinks.at_worst else sinks.value - sinks.worst
    for bowl in dict.fromkeys((answer.bowl, _at_least_friction(answer.bowl))):
        try:
            pressed = _pressed_with(_of_weak_wood(bowl), press_N)
        except (NoConvergenceError, OutsideModelError):
            return False
        numbers = pressed.numbers
        if (
            pressed.state not in ((LOCKS,) if bowl is answer.bowl else (LOCKS, SPRINGS_BACK))
            or not numbers.split_chance * _not_known(found) < HARMLESS_CHANCE
            or not numbers.overlap - spare - limit >= ROOM_KEPT * (sinks.value - limit)
        ):
            return False
    return True


@dataclass(frozen=True)
class PressOverEnds:
    """The press that a bowl which locks ought to be given where its ranges ask for most.

    Attributes
    ----------
    press_N : float
        With its spare; no less than what it ought to be given in the middle of the ranges. [N]
    spoils : str
        State to which so hard a press brings it where its turns sink deepest or its wood is weak; "" where
        to none, "not decided" where that was not followed.
    """

    press_N: float
    spoils: str


def press_over_ends(answer: BowlFit) -> PressOverEnds | None:
    """What is asked of the press over all that is known only as a range, and whether that does harm.

    Parameters
    ----------
    answer : BowlFit
        The bowl as ``fit`` judged it, with one tilt.

    Returns
    -------
    PressOverEnds or None
        None where the bowl does not lock at every end, or none asks for more than the middle does.
    """
    found, verdict, bowl = answer.elastic, answer.verdict, answer.bowl
    if found is None or verdict.state != LOCKS:
        return None
    there_N = _least_there_N(bowl)
    press_N = verdict.worst.press_asked * there_N
    if not found.opening.judged.asked_N * (1 + 1e-9) < press_N < math.inf:
        return None
    try:
        ends = [_of_weak_wood(bowl), *(corner.of(bowl) for corner in _worst_corners(answer))]
        states = [_pressed_with(at, press_N).state for at in dict.fromkeys(ends)]
    except (NoConvergenceError, OutsideModelError):
        return PressOverEnds(press_N, NOT_DECIDED)
    return PressOverEnds(press_N, min((s for s in states if s in SPOILS), key=STATES.index, default=""))


def _tried(answer: BowlFit, degrees: list[float]) -> tuple[Setting, ...]:
    found, corners = [], _worst_corners(answer)
    for deg in degrees:
        bowl = set_to(answer.bowl, deg)
        try:
            numbers, drop_mm = _numbers_and_drop_mm(answer, bowl)
            state = judge(numbers, bowl.limits)
            every = [numbers]
            if state == LOCKS:
                every += [_numbers_and_drop_mm(answer, at.of(bowl), at.press_N)[0] for at in corners]
            may = min((judge(n, bowl.limits) for n in every), key=STATES.index)
            ends = dict.fromkeys([at.of(bowl) for at in corners] or [bowl])
            asked_N = _asked_over_N(answer, ends) if may == LOCKS else 0.0
        except NoConvergenceError:
            found.append(_not_followed(deg))
            continue
        there_N = _least_there_N(bowl)
        every.append(replace(numbers, press_asked=asked_N / there_N))
        left = min(_room_left(n, bowl) for n in every)
        short_N = asked_N if asked_N > there_N else 0.0
        found.append(Setting(deg, state, may, drop_mm, room=left, short_of_N=short_N))
    return tuple(found)


def _least_there_N(bowl: Bowl) -> float:
    """The press that there is at least."""
    return bowl.ends_of("use.press_N")[0]


def _asked_over_N(answer: BowlFit, ends: Iterable[Bowl]) -> float:
    """The greatest press that bowls half a degree off ought to be given; 0 where there surely is enough."""
    if answer.elastic is None or answer.verdict.worst.press_asked * HALF_DEG_ASKS < 1:
        return 0.0
    return max(open_bowl(at, lowering=at.limits.friction_used < 1).judged.asked_N for at in ends)


def _numbers_and_drop_mm(
    answer: BowlFit, bowl: Bowl, press_N: float | None = None
) -> tuple[DecidingNumbers, float]:
    """Of a bowl changed a little, judged as the bowl itself was: its numbers, and its first turn's drop."""
    stiff = rigid_fit(bowl)
    if answer.elastic is None or stiff.numbers.slot_left_mm <= bowl.limits.slot_left_mm:
        return stiff.numbers, float(stiff.seats.seat_drop_mm[0])
    there = _pressed_alike(bowl, answer.elastic) if press_N is None else _pressed_with(bowl, press_N)
    return there.numbers, float(there.drop_mm[0])


def _room_left(numbers: DecidingNumbers, bowl: Bowl) -> float:
    """Room to falling through, springing back or splitting, over all there can be, the least of them.

    To a limit that no bowl keeps there is none: all of it bears, or no friction is used.
    """
    limits = bowl.limits
    there_can_be = (1 - limits.overlap, limits.friction_used, limits.split_chance)
    left = zip(room(numbers, limits)[1:], there_can_be, strict=True)
    return min(of / whole if whole > 0 else -math.inf for of, whole in left)


@dataclass(frozen=True)
class _Corner:
    """Ends of ranges, and the press a bowl is given there; friction and strength are at their least."""

    ends: tuple[tuple[str, float], ...]
    press_N: float | None

    def of(self, bowl: Bowl) -> Bowl:
        """A bowl with its ranges at these ends."""
        return _of_weak_wood(_at_least_friction(_at_ends(bowl, self.ends)))


def _at_ends(bowl: Bowl, ends: Iterable[tuple[str, float]]) -> Bowl:
    for path, value in ends:
        bowl = with_input(bowl, path, value)
    return bowl


def _worst_corners(answer: BowlFit) -> tuple[_Corner, ...]:
    """Where the ranges of a bowl let it sink deepest and where least.

    One where none but friction and strength matters, none where not even those do. How hard a hand presses
    is no part of it: the press is given, and whether there is as much is asked by itself.
    """
    bowl = answer.bowl
    ranges = [u for u in mattering(bowl, deciding_numbers) if u.path not in ALWAYS]
    if not ranges:
        return (_Corner((), None),) if _Corner((), None).of(bowl) != bowl else ()
    deepest, least = [], []
    for u in ranges:
        low, high = (deciding_numbers(with_input(bowl, u.path, end)).overlap for end in (u.low, u.high))
        deeper, other = (u.low, u.high) if low <= high else (u.high, u.low)
        deepest.append((u.path, deeper))
        least.append((u.path, other))
    return tuple(
        _Corner(tuple(ends), _judged_at_N(answer, _at_ends(bowl, ends))) for ends in (deepest, least)
    )


def _judged_at_N(answer: BowlFit, bowl: Bowl) -> float | None:
    """Press the bowl is judged at where its ranges end; None where nothing is pressed."""
    if answer.elastic is None or rigid_fit(bowl).numbers.slot_left_mm <= bowl.limits.slot_left_mm:
        return None
    return open_bowl(bowl, lowering=bowl.limits.friction_used < 1).judged.press_N


def _at_least_friction(bowl: Bowl) -> Bowl:
    """The bowl with its friction at the low end of its range; the same where that is no range."""
    return with_friction_known(bowl, bowl.ends_of(FRICTION)[0])


def _of_weak_wood(bowl: Bowl) -> Bowl:
    """The bowl with its wood's strength across the grain at the low end of its range, if it has one."""
    return with_input(bowl, STRENGTH_ACROSS, bowl.ends_of(STRENGTH_ACROSS)[0])


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
