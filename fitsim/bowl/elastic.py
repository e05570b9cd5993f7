"""The elastic bowl: the strip of one bowl as an elastic beam on its bevels, pressed open and let go.

Puts the numbers of a bowl into the elastic strip and reads off what a maker asks: which press the bowl
needs, how high the rim stands after it, what is left when the press is taken away, what makes it collapse,
and how likely it splits. One *opening* is a press from the flat board to the press the bowl is judged at
(:mod:`fitsim.bowl.hand_press`), and the press taken away; the verdict rests on its numbers.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.hand_press import REACH_N, JudgedPress, judged_press, ordinary_hand
from fitsim.bowl.inputs import FRICTION, Bowl, BowlPhysics, with_input
from fitsim.bowl.strip_layout import NODES_PER_TURN, ForceInputs, force_inputs, laid_out_from
from fitsim.bowl.verdict import LOCKS, DecidingNumbers, judge
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.one_thread import one_thread
from fitsim.strip.press import ElasticBowl, Manner, PressState, press
from fitsim.strip.release import (
    CLOSE,
    KEPT_SHARE,
    ROUGH,
    Kept,
    Released,
    collapse_N,
    friction_used_nearly,
    let_go,
    press_needed_N,
    state_at,
)
from fitsim.strip.results import (
    Loop,
    RimHeight,
    TurnForces,
    force_rise_loop,
    nail_force_N,
    rim_height,
    turn_forces,
)
from fitsim.strip.stress import (
    StripStress,
    StripWood,
    limit_press_N,
    resolved_stress,
    split_range,
    strip_stress,
)
from fitsim.wood.strength import (
    ChanceRange,
    GrainStrength,
    SplitChance,
    grain_strength,
)

__all__ = [
    "ElasticFit",
    "Opening",
    "drops_under_press_mm",
    "elastic_fit",
    "friction_used_lowered",
    "open_bowl",
]

REACHES_N = (45.0, 150.0, REACH_N)
"""Presses to which bowls are pressed one after another until they hold. [N]"""

MOST_ISLANDS = 3
"""Times the press needed is looked for where the bowl slips at the one it ought to be given."""

BESIDE = (1.02, 0.98, 1.04, 1.08)
"""Times the judged press at which a bowl is let go that slips at it, though it holds from less."""

STRESSED_SHARE = 0.3
"""Share of the last press from which on the states of a path are looked at for splitting. [-]"""

GENTLER = 0.9
"""Where the strip cannot be followed that far: share of the press it came to that is looked at."""

FURTHER = 1.5
"""Times the press foreseen to split 1 bowl in 10 to which it is pressed on: foreseen from a half or a third
of it, it is told up to twice too small. [-]"""

FURTHER_ON = Manner(most_iterations=300)
"""How: where that takes more linear systems than four usual presses what is foreseen is told."""

FALLS_WITHIN = 1.1
"""Times a press that it stands: nearer to it one at which it falls through is not brought. [-]"""

TOO_NEAR = 0.05
"""Nearer to each other than this, over their value, two presses do not tell how stress grows. [-]"""


@dataclass(frozen=True, eq=False)
class Opening:
    """A bowl pressed open from flat, and let go.

    Attributes
    ----------
    elastic : ElasticBowl
        The strip, its seats and its nail.
    path : tuple of PressState
        From the flat board to the press it is judged at, or to the state that fell through.
    released : Released or None
        The press taken away; None where a turn fell through.
    judged : JudgedPress
        The press it needs, and the one it is judged at.
    friction_by_turn : numpy.ndarray
        For information: friction demand over capacity at rest by turn, innermost first; nan where nothing
        touches, infinite where a turn that bore lets go of its neighbour, shape (turns,). [-]
    rim : RimHeight
        Under the press.
    turns : TurnForces
        Under the press, by turn.
    stress : StripStress
        Under the press it is judged at, the hardest of its path.
    split_press_N : float
        Press at which 1 bowl in 10 splits, as far as this path tells; nan where it does not. [N]
    numbers : DecidingNumbers
        What the verdict rests on.
    """

    elastic: ElasticBowl
    path: tuple[PressState, ...]
    released: Released | None
    judged: JudgedPress
    friction_by_turn: Array
    rim: RimHeight
    turns: TurnForces
    stress: StripStress
    split_press_N: float
    numbers: DecidingNumbers

    @property
    def pressed(self) -> PressState:
        """The last state of the path."""
        return self.path[-1]

    @property
    def rest(self) -> PressState | None:
        """Where it comes to rest; None where a turn fell through."""
        return None if self.released is None else self.released.rest

    @property
    def press_N(self) -> float:
        """Press it is told at: the one it is judged at, where the state is a hair beside that. [N]"""
        reached, judged = self.pressed.press_N, self.judged.press_N
        beside = min(BESIDE) * judged * (1 - 1e-9) <= reached <= max(BESIDE) * judged * (1 + 1e-9)
        return judged if beside and not self.fell_through else reached

    @property
    def fell_through(self) -> bool:
        """Whether a turn dropped out of its neighbour while the press acted."""
        return self.pressed.fell_through

    @property
    def rise_at_rest_mm(self) -> float:
        """Mean rise after letting go; nan where it fell through, or slipped away out of sight. [mm]"""
        released = self.released
        if released is None or not released.rise_left_mm > 0:
            return math.nan
        return rim_height(self.elastic, released.rest).mean_mm


@dataclass(frozen=True, eq=False)
class ElasticFit:
    """One opening, and what only a further calculation tells.

    Attributes
    ----------
    opening : Opening
        Pressed and let go.
    holds : bool
        Whether it keeps its rise after the press it is judged at.
    rise_at_rest_mm : float
        Mean rise after letting go; nan where the bowl fell through or slipped away out of sight. [mm]
    press_needed_N : float
        Least press after which it holds at this friction; infinite if none up to the reach, nan where it
        was not looked for: the friction that asks most decides, and there is press enough for it. [N]
    reach_N : float
        Greatest press looked at for it. [N]
    chance_at_press : float
        Chance of splitting if all the press there is were used; nan where that was not followed. [-]
    split_press_N : float
        Press at which 1 bowl in 10 splits, about, beyond the press there is as well; nan where it falls
        through before or nothing tells. [N]
    falls_beyond_N : float
        Hardest press at which it was seen to stand, pressed on beyond what it is judged at, not far below
        one at which a turn falls through; infinite where that was not found, as where it never stands. [N]
    collapse_N : float
        Push on the base from below at which the rise goes; 0 where it does not hold. [N]
    stress_at_rest : StripStress or None
        While the bowl stands open; None where it does not hold.
    split_range : ChanceRange
        How far the chance of splitting moves with what no bowl file holds.
    nail_N : float
        Greatest force on the nail on the way. [N]
    loop : Loop
        Press against rise, pressing and letting go.
    """

    opening: Opening
    holds: bool
    rise_at_rest_mm: float
    press_needed_N: float
    reach_N: float
    chance_at_press: float
    split_press_N: float
    falls_beyond_N: float
    collapse_N: float
    stress_at_rest: StripStress | None
    split_range: ChanceRange
    nail_N: float
    loop: Loop


@dataclass(frozen=True, eq=False)
class _Pressed:
    """One press of a strip; strength is no part of it."""

    elastic: ElasticBowl
    wood: StripWood
    path: tuple[PressState, ...]


@dataclass(frozen=True)
class _Unpressed:
    """Why no equilibrium was found, and up to which press one was."""

    trouble: str
    reached_N: float


@one_thread
def open_bowl(
    bowl: Bowl,
    *,
    press_N: float | None = None,
    nodes_per_turn: int = NODES_PER_TURN,
    lowering: bool = True,
    roughly: bool = False,
) -> Opening:
    """Press a bowl open as hard as it takes, with the spare of its limits, and let go.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value. Where its friction is known as a range, the press is the one
        that a friction below its own needs, where a bowl so pressed locks there and at its own; else the
        one its own needs, or the least above at which any press makes it hold.
    press_N : float, optional
        Press to use whatever it takes: what a maker did, not what he should. [N]
    nodes_per_turn : int
        Elements in a revolution.
    lowering : bool
        Whether friction is lowered to find the friction used, see :func:`fitsim.strip.release.let_go`.
    roughly : bool
        Whether the press it needs is found only roughly, for one of many bowls that differ a little.

    Returns
    -------
    Opening
        Rise, drops, what is left, stress, and the deciding numbers.

    Raises
    ------
    NoConvergenceError
        If a load step finds no equilibrium, however small.
    OutsideModelError
        If a slot is shut when flat.
    """
    if rigid_fit(bowl).numbers.slot_left_mm <= 0:
        raise OutsideModelError("a slot is shut when flat: the bowl will not open")
    asked = (
        _asked(bowl, nodes_per_turn, lowering=lowering, roughly=roughly)
        if press_N is None
        else JudgedPress(math.nan, press_N, press_N, press_N, 0.0)
    )
    return _opened(bowl, asked, nodes_per_turn, lowering=lowering)


@one_thread
def friction_used_lowered(bowl: Bowl, *, middle: Bowl) -> float:
    """Friction used at an end of the ranges, of the kind that the middle's is: found with friction lowered.

    Parameters
    ----------
    bowl : Bowl
        The bowl at that end, every input at one value; one that was opened before is not opened again.
    middle : Bowl
        The bowl with every range at its middle.

    Returns
    -------
    float
        Least friction that keeps the rise over the friction there is, to some percent; to the last digit
        the middle's where every force is the middle's, as where only a strength is another. Infinite of a
        bowl that falls through. [-]

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    forces, others = force_inputs(bowl), force_inputs(middle)
    asked = _asked(bowl, NODES_PER_TURN, lowering=False, roughly=False)
    same = forces == others and (
        asked.press_N == _asked(middle, NODES_PER_TURN, lowering=True, roughly=False).press_N
    )
    done, released = _near(forces, NODES_PER_TURN, asked, lowering=same)
    if released is None:
        return math.inf
    return released.friction_used if same else friction_used_nearly(done.elastic, released)


@one_thread
def drops_under_press_mm(bowl: Bowl, press_N: float, *, nodes_per_turn: int = NODES_PER_TURN) -> Array:
    """How far the turns of a bowl sink under a press, and nothing else.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    press_N : float
        Press, whatever it takes. [N]
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    numpy.ndarray
        Means of the turns, innermost first, as :func:`open_bowl` has them; nan where one drops out, shape
        (turns,). [mm]

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    if rigid_fit(bowl).numbers.slot_left_mm <= 0:
        raise OutsideModelError("a slot is shut when flat: the bowl will not open")
    done = _path_to(force_inputs(bowl), nodes_per_turn, press_N)
    drops = turn_forces(done.elastic, done.path[-1]).drop_mm
    return frozen(np.full(len(drops), np.nan) if done.path[-1].fell_through else drops)


def _opened(bowl: BowlPhysics, asked: JudgedPress, nodes_per_turn: int, *, lowering: bool) -> Opening:
    """A bowl pressed open as it is judged, and let go."""
    forces = force_inputs(bowl)
    done, released = _near(forces, nodes_per_turn, asked, lowering=lowering)
    path, pressed = done.path, done.path[-1]
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    walked = _stressed(path) if lowering else path[-1:]

    def split_at(state: int) -> SplitChance:
        return resolved_stress(done.elastic, walked[state], done.wood).split(strength)

    stress = _strip_stress(done.elastic, pressed, done.wood, strength)
    turns = int(done.elastic.turn.max())
    numbers = DecidingNumbers(
        slot_left_mm=rigid_fit(bowl).numbers.slot_left_mm,
        overlap=_overlap(forces, asked, nodes_per_turn, lowering=lowering),
        friction_used=math.inf if released is None else released.friction_used,
        split_chance=stress.chance,
        kept=0.0 if released is None else released.kept,
        press_asked=asked.share,
    )
    return Opening(
        elastic=done.elastic,
        path=path,
        released=released,
        judged=asked,
        friction_by_turn=frozen(
            np.full(turns, np.nan) if released is None else released.friction_used_by_turn
        ),
        rim=rim_height(done.elastic, pressed),
        turns=turn_forces(done.elastic, pressed),
        stress=stress,
        split_press_N=limit_press_N(
            [state.press_N for state in walked],
            lambda state: stress.split if state == len(walked) - 1 else split_at(state),
        ),
        numbers=numbers,
    )


_strip_stress = lru_cache(maxsize=32)(strip_stress)
"""Kept for reuse: whether a bowl locks as it is judged is asked before the bowl itself."""


def _stressed(path: tuple[PressState, ...]) -> tuple[PressState, ...]:
    """The harder pressed states of a path, between which the press that splits 1 in 10 is looked for."""
    hard = path[-1].press_N * STRESSED_SHARE
    return tuple(state for state in path[:-1] if state.press_N >= hard > 0) + path[-1:]


def _frictions(bowl: Bowl) -> tuple[float, ...]:
    """The bowl's own friction and the ends of its range, if it has one, least first."""
    return tuple(sorted({bowl.use.friction, *bowl.ends_of(FRICTION)}))


def _asked(bowl: Bowl, nodes_per_turn: int, *, lowering: bool, roughly: bool) -> JudgedPress:
    """The press of the friction asking most, where a bowl so pressed locks there and at its own friction.

    Less friction asks for more press. Where the press that a lesser friction asks for is not right, that
    friction has no say about how to press at the others.
    """
    own, least_needs_N = bowl.use.friction, math.nan
    for friction in _frictions(bowl):
        known = with_input(bowl.physics, FRICTION, friction)
        # At a lesser friction it is only asked whether the bowl holds.
        closer = lowering if friction >= own else bowl.limits.friction_used < 1
        try:
            found = _asked_when_known(known, nodes_per_turn, lowering=closer, roughly=roughly)
        except NoConvergenceError:
            if friction >= own:
                raise
            continue  # a lesser friction at which the strip cannot be followed has no say either
        needed_N = found.needed_N
        if friction >= own:
            if math.isfinite(needed_N):
                break
            continue
        both = (known, bowl.physics)
        if found.share <= 1 and all(_locks(at, found, nodes_per_turn) for at in both):
            break
        if math.isnan(least_needs_N):
            least_needs_N = needed_N
    return replace(found, least_needs_N=least_needs_N)


def _asked_when_known(
    bowl: BowlPhysics, nodes_per_turn: int, *, lowering: bool, roughly: bool
) -> JudgedPress:
    """The press that a bowl of known friction is judged at.

    About the least press turns may stick and slip by turns as it grows. A bowl that slips at the press it
    ought to be given holds only by luck at the gentler one: it is looked for anew, beyond.
    """
    forces, friction, slips_N = force_inputs(bowl), bowl.use.friction, 0.0
    for _ in range(MOST_ISLANDS):
        found = judged_press(
            {friction: _needed_N(forces, nodes_per_turn, slips_N, roughly=roughly)},
            spare=bowl.limits.press_spare,
            available_N=bowl.use.press_N,
            ordinary_N=ordinary_hand().value_N,
        )
        if found.share > 1:
            break
        try:
            _done, released = _near(forces, nodes_per_turn, found, lowering=lowering)
        except NoConvergenceError:
            break  # whoever opens it there is told
        if released is None or released.kept >= KEPT_SHARE or found.press_N < found.needed_N:
            break
        slips_N = found.press_N
    return found


@lru_cache(maxsize=128)
def _locks(bowl: BowlPhysics, asked: JudgedPress, nodes_per_turn: int) -> bool:
    """Whether a bowl so pressed locks."""
    try:
        opening = _opened(bowl, asked, nodes_per_turn, lowering=bowl.limits.friction_used < 1)
    except NoConvergenceError:
        return False
    return judge(opening.numbers, bowl.limits) == LOCKS


@lru_cache(maxsize=64)
def _needed_N(forces: ForceInputs, nodes_per_turn: int, slips_N: float = 0.0, *, roughly: bool) -> float:
    """Least press after which it holds, beyond one where it slips; infinite if none up to the reach. [N]"""
    within = ROUGH if roughly else CLOSE
    needed_N, known = math.inf, {slips_N: Kept(False, 1.0)} if slips_N > 0 else {}
    for reach_N in [reach for reach in REACHES_N if reach > slips_N]:
        done = _pressed(forces, nodes_per_turn, reach_N)
        fell = done.path[-1].fell_through
        on = reach_N < REACH_N and not fell
        needed_N = press_needed_N(
            done.elastic, done.path, goes_on=on, known=known, within=within, middle=roughly
        )
        if math.isfinite(needed_N) or fell:
            break
    return needed_N


def _needed_in_middle_N(bowl: Bowl, judged: JudgedPress) -> float:
    """The same at the bowl's own friction; nan where a lesser friction decides. [N]"""
    own = bowl.use.friction
    if judged.friction < own:
        return math.nan
    return judged.needed_N if judged.friction == own else math.inf


def _overlap(forces: ForceInputs, asked: JudgedPress, nodes_per_turn: int, *, lowering: bool) -> float:
    """Overlap left at rest after the press at which it counts; none where a turn drops out on the way."""
    done, released = _at(forces, nodes_per_turn, asked.sunk_at_N, lowering=lowering and asked.share <= 1)
    state = done.path[-1]
    rest = state if released is None else released.rest
    overlap = float(1 - rest.drop_mm.max() / done.elastic.seats.thickness_mm)
    dropped = state.fell_through
    if math.isinf(asked.asked_N) and not dropped:
        dropped = _pressed(forces, nodes_per_turn, REACH_N).path[-1].fell_through
    # Where no equilibrium follows the last one a little overlap may be left in it: none holds.
    return min(overlap, 0.0) if dropped else overlap


def _reach_N(press_N: float) -> float:
    """Press to go to for a state at a press: one of few, so that one path serves many presses. [N]"""
    reach = next((reach for reach in REACHES_N if press_N <= reach), REACH_N)
    while reach < press_N:
        reach *= 2
    return reach


def _pressed(forces: ForceInputs, nodes_per_turn: int, press_N: float) -> _Pressed:
    """A path to at least a press, kept for reuse; a press without an equilibrium is not tried twice."""
    found = _pressed_or_not(forces, nodes_per_turn, _reach_N(press_N))
    if isinstance(found, _Unpressed):
        shorter = GENTLER * found.reached_N
        if shorter >= press_N:
            found = _pressed_or_not(forces, nodes_per_turn, shorter)
        elif press_N < _reach_N(press_N):
            found = _pressed_or_not(forces, nodes_per_turn, press_N)
    if isinstance(found, _Unpressed):
        raise NoConvergenceError(found.trouble, found.reached_N)
    return found


@lru_cache(maxsize=64)
def _pressed_or_not(forces: ForceInputs, nodes_per_turn: int, reach_N: float) -> _Pressed | _Unpressed:
    """Where a path cannot be gone on with it is begun anew; where that fails the trouble is returned."""
    begun = _begun(forces, nodes_per_turn, reach_N)
    if isinstance(begun, _Pressed):
        if begun.path[-1].fell_through:
            return begun
        try:
            path = press(begun.elastic, reach_N, closely=False, path=begun.path)
            return replace(begun, path=path)
        except NoConvergenceError:
            pass
    try:
        return _pressed_at(forces, nodes_per_turn, reach_N)
    except NoConvergenceError as error:
        return _Unpressed(str(error), error.reached_N)


def _begun(forces: ForceInputs, nodes_per_turn: int, reach_N: float) -> _Pressed | _Unpressed | None:
    """The path to the reach before one of :data:`REACHES_N`; None for another press, or the first."""
    before = [reach for reach in REACHES_N if reach < reach_N]
    known = bool(before) and reach_N in REACHES_N
    return _pressed_or_not(forces, nodes_per_turn, before[-1]) if known else None


def _pressed_at(forces: ForceInputs, nodes_per_turn: int, reach_N: float) -> _Pressed:
    """A path from flat; to one of :data:`REACHES_N`, which are passed through, it need not end closely."""
    elastic, wood = _laid_out(replace(forces, friction=1.0), nodes_per_turn)
    elastic = replace(elastic, friction=forces.friction)
    return _Pressed(elastic, wood, press(elastic, reach_N, closely=reach_N not in REACHES_N))


@lru_cache(maxsize=16)
def _laid_out(anyhow: ForceInputs, nodes_per_turn: int) -> tuple[ElasticBowl, StripWood]:
    """The strip laid out, which is the same at every friction."""
    return laid_out_from(anyhow, nodes_per_turn)


@lru_cache(maxsize=64)
def _path_to(forces: ForceInputs, nodes_per_turn: int, press_N: float) -> _Pressed:
    """A path that ends at a press, or at the state that fell through before it.

    One more step from the states of the path kept for reuse; where that finds no equilibrium, steps of its
    own.
    """
    try:
        done = _pressed(forces, nodes_per_turn, press_N)
        if done.path[-1].fell_through and done.path[-1].press_N <= press_N:
            return done
        state = state_at(done.elastic, done.path, press_N)
        return replace(done, path=(*(s for s in done.path if s.press_N < state.press_N), state))
    except NoConvergenceError as error:
        found = _pressed_or_not(forces, nodes_per_turn, press_N)
        if isinstance(found, _Unpressed):
            raise error
        return found


@lru_cache(maxsize=128)
def _at(
    forces: ForceInputs, nodes_per_turn: int, press_N: float, *, lowering: bool
) -> tuple[_Pressed, Released | None]:
    """The path to a press, and the press taken away; None where a turn falls through."""
    done = _path_to(forces, nodes_per_turn, press_N)
    if done.path[-1].fell_through:
        return done, None
    return done, let_go(done.elastic, done.path[-1], lowering=lowering)


def _near(
    forces: ForceInputs, nodes_per_turn: int, asked: JudgedPress, *, lowering: bool
) -> tuple[_Pressed, Released | None]:
    """As :func:`_at` at the judged press, or a hair beside it.

    A bowl that holds from a gentler press on may slip at a single one, as points of its turns let go there:
    then it is judged by a press next to that.
    """
    first = _at(forces, nodes_per_turn, asked.press_N, lowering=lowering)
    if first[1] is None or first[1].kept >= KEPT_SHARE or not asked.needed_N <= asked.press_N:
        return first
    for times in BESIDE:
        try:
            found = _at(forces, nodes_per_turn, times * asked.press_N, lowering=lowering)
        except NoConvergenceError:
            continue
        if found[1] is not None and found[1].kept >= KEPT_SHARE:
            return found
    return first


@one_thread
def elastic_fit(bowl: Bowl, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticFit:
    """Press a bowl open, let go, and find what makes it collapse and what harder presses would do.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    ElasticFit
        Opening and everything that goes with it.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    opening = open_bowl(bowl, nodes_per_turn=nodes_per_turn)
    elastic, path, released = opening.elastic, opening.path, opening.released
    forces = force_inputs(bowl)
    done, _ = _at(forces, nodes_per_turn, opening.judged.press_N, lowering=True)
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    kept = released is not None and released.kept >= KEPT_SHARE
    holds = kept and opening.numbers.friction_used <= bowl.limits.friction_used
    standing = released if holds else None
    at_press, split_press_N, falls_beyond_N = _harder(bowl, opening, strength, nodes_per_turn)
    walked = path if standing is None else (*path, standing.rest)
    return ElasticFit(
        opening=opening,
        holds=holds,
        rise_at_rest_mm=opening.rise_at_rest_mm,
        press_needed_N=_needed_in_middle_N(bowl, opening.judged),
        reach_N=REACH_N,
        chance_at_press=at_press,
        split_press_N=split_press_N,
        falls_beyond_N=falls_beyond_N,
        collapse_N=0.0 if standing is None else collapse_N(elastic, standing),
        stress_at_rest=None
        if standing is None
        else strip_stress(elastic, standing.rest, done.wood, strength),
        # Stiffness in rolling shear stays at its middle: of 43 bowls it moved an end in 4, by 1.7 at most.
        split_range=split_range(elastic, opening.pressed, done.wood, strength, bowl.board.wood),
        nail_N=max(float(np.linalg.norm(nail_force_N(elastic, s), axis=1).max(initial=0.0)) for s in path),
        loop=force_rise_loop(elastic, walked),
    )


def _harder(
    bowl: Bowl, opening: Opening, strength: GrainStrength, nodes_per_turn: int
) -> tuple[float, float, float]:
    """Chance of splitting at all the press there is, and where 1 in 10 splits or a turn falls. [-, N, N]

    Where that lies beyond the press there is the bowl is pressed on until it is reached, as far as a hand
    goes; then the chance there is worked out closely. The first is not told of a bowl that falls through on
    the way, nor where all the press there is cannot be followed: then the bowl is pressed on from where it
    is judged, as far as it can be. The second is not told where it falls through before; the third is the
    hardest press at which it stands, infinite where that was not found.
    """
    forces, there_N, followed = force_inputs(bowl), bowl.use.press_N, True
    try:
        done = _pressed_on(forces, nodes_per_turn, opening.judged.press_N, there_N)
    except NoConvergenceError:
        done, followed = _path_to(forces, nodes_per_turn, opening.judged.press_N), False

    def split_in(state: PressState) -> SplitChance:
        return resolved_stress(done.elastic, state, done.wood).split(strength)

    def limit_N(path: tuple[PressState, ...]) -> float:
        states = [state for state in path if state.press_N > 0]
        if not states:
            return math.nan
        return limit_press_N([state.press_N for state in states], lambda i: split_in(states[i]))

    path, falls_N = _standing(done.path)
    limit, arrived = limit_N(path), True
    at_press = math.nan if math.isfinite(falls_N) or not followed else split_in(path[-1]).chance
    furthest_N = max(min(there_N, REACH_N), ordinary_hand().high_N)
    while arrived and path[-1].press_N < min(limit, furthest_N) * (1 - 1e-6):
        # Between a press that it stands and one at which it falls through the first may be far below.
        if not limit < falls_N or falls_N < FALLS_WITHIN * path[-1].press_N:
            break
        aim_N = min(FURTHER * limit, furthest_N, math.sqrt(path[-1].press_N * falls_N))
        further, arrived = _further(done.elastic, path, aim_N)
        path, fell_N = _standing(further)
        limit, falls_N = limit_N(path), min(falls_N, fell_N)
    # A load step in which a turn fell through may have begun far below: what it stands is looked for.
    while arrived and 0 < FALLS_WITHIN * path[-1].press_N < falls_N < math.inf:
        further, arrived = _further(done.elastic, path, math.sqrt(path[-1].press_N * falls_N))
        path, fell_N = _standing(further)
        limit, falls_N = limit_N(path), min(falls_N, fell_N)
    found = 0 < falls_N <= FALLS_WITHIN * path[-1].press_N
    falls_beyond_N = path[-1].press_N if found else math.inf
    if not limit < falls_N:
        return at_press, math.nan, falls_beyond_N
    if not limit < path[-1].press_N:
        return at_press, limit, falls_beyond_N
    # States that are passed are settled too loosely for stresses: the one found is settled again.
    judged = opening.pressed
    try:
        there = state_at(done.elastic, path, limit)
    except NoConvergenceError:
        return at_press, limit, falls_beyond_N
    if not (there.closely and judged.closely) or abs(limit / judged.press_N - 1) < TOO_NEAR:
        return at_press, limit, falls_beyond_N
    pair = sorted(((judged.press_N, opening.stress.split), (limit, split_in(there))), key=lambda at: at[0])
    limit = limit_press_N([press_N for press_N, _ in pair], lambda i: pair[i][1])
    return at_press, limit, falls_beyond_N


def _standing(path: tuple[PressState, ...]) -> tuple[tuple[PressState, ...], float]:
    """A path without the state that fell through, and the press at which it did; infinite if none. [N]"""
    return (path[:-1], path[-1].press_N) if path[-1].fell_through else (path, math.inf)


def _further(
    elastic: ElasticBowl, path: tuple[PressState, ...], press_N: float
) -> tuple[tuple[PressState, ...], bool]:
    """A path gone on with to a press, or as far as that is easily done; and whether it arrived."""
    try:
        return press(elastic, press_N, path=path, manner=FURTHER_ON), True
    except NoConvergenceError as trouble:
        shorter = GENTLER * trouble.reached_N
        if shorter <= path[-1].press_N:
            return path, False
    try:
        return press(elastic, shorter, path=path, manner=FURTHER_ON), False
    except NoConvergenceError:
        return path, False


def _pressed_on(forces: ForceInputs, nodes_per_turn: int, known_N: float, press_N: float) -> _Pressed:
    """A path that ends at a press, gone on to from the one kept for reuse that serves another press."""
    try:
        begun = _pressed(forces, nodes_per_turn, known_N)
        if begun.path[-1].press_N < press_N and not begun.path[-1].fell_through:
            return replace(begun, path=press(begun.elastic, press_N, path=begun.path))
    except NoConvergenceError:
        pass
    return _path_to(forces, nodes_per_turn, press_N)
