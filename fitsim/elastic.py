"""The springy bowl: the strip of one bowl as an elastic beam on its bevels, pressed open and let go.

Puts the numbers of a bowl into the elastic strip and reads off what a maker asks: how high the rim
stands, whether the bowl holds when the press is taken away and which press that needs, what makes it
collapse, and where the wood is worst off. One *opening* is a press from the flat board to the press
available, and the press taken away; the verdict rests on its numbers.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array
from fitsim.beam import NODES_PER_TURN, laid_out
from fitsim.bowl import Bowl
from fitsim.cut import frozen
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.hold import (
    Loop,
    RimHeight,
    TurnForces,
    collapse_press_N,
    force_rise_loop,
    let_go,
    nail_force_N,
    press_needed_N,
    rim_height,
    stuck_rest,
    turn_forces,
)
from fitsim.press import ElasticBowl, PressState, press
from fitsim.rigid import rigid_fit
from fitsim.strength import ChanceRange, chance_over_ranges, grain_strength
from fitsim.stress import StripStress, StripWood, limit_press_N, strip_stress
from fitsim.verdict import DecidingNumbers
from fitsim.wood import Wood

__all__ = ["ElasticFit", "Opening", "elastic_fit", "elastic_numbers", "open_bowl"]

COARSER = (1.0, 2 / 3)
"""Shares of the elements tried in turn where no balance is found: other nodes meet other places."""

LEAST_STEP = 1 / 64
"""A press that needs shorter steps than this share of the usual ones is given up: our choice."""

STRENGTH_PATHS = tuple(
    f"board.wood.{name}"
    for name in ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_strength_MPa")
)
"""Inputs that no force depends on: they change the chance of splitting without another press."""

PRESS_REACH = 4.0
"""Presses up to this many times the one available are tried for the press needed."""


@dataclass(frozen=True, eq=False)
class Opening:
    """A bowl pressed open from flat, and let go.

    Attributes
    ----------
    springy : ElasticBowl
        The strip, its seats and its nail.
    path : tuple of PressState
        From the flat board to the press available, or to the state that fell through.
    rest : PressState or None
        The press taken away with every touching point stuck; None where a turn fell through.
    hold_used : numpy.ndarray
        By turn, innermost first; nan where nothing touches, infinite where a seated turn lets go of its
        neighbour, shape (turns,). [-]
    rim : RimHeight
        Under the press.
    turns : TurnForces
        Under the press, by turn.
    stress : StripStress
        In the state of the path where splitting is likeliest.
    split_press_N : float
        Press at which 1 bowl in 10 splits, about; nan where the path does not tell. [N]
    numbers : DecidingNumbers
        What the verdict rests on.
    """

    springy: ElasticBowl
    path: tuple[PressState, ...]
    rest: PressState | None
    hold_used: Array
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
    def fell_through(self) -> bool:
        """Whether a turn dropped out of its neighbour while the press acted."""
        return self.pressed.fell_through


@dataclass(frozen=True, eq=False)
class ElasticFit:
    """One opening, and what only a further calculation tells.

    Attributes
    ----------
    opening : Opening
        Pressed and let go.
    holds : bool
        Whether hold used is below 1 on every turn that touches.
    rise_at_rest_mm : float
        Mean rise after letting go; nan where the bowl fell through or its slipping back could not be
        followed. [mm]
    press_needed_N : float
        Least press after which it holds; infinite if none up to the reach tried. [N]
    reach_N : float
        Greatest press tried for it. [N]
    gentle_chance : float
        Chance of splitting when pressed only as hard as holding takes; nan where no press holds. [-]
    collapse_N : float
        Push on the base from below at which the first turn slips back; 0 where it does not hold. [N]
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
    gentle_chance: float
    collapse_N: float
    stress_at_rest: StripStress | None
    split_range: ChanceRange
    nail_N: float
    loop: Loop


@dataclass(frozen=True, eq=False)
class _Pressed:
    """What does not depend on strength."""

    springy: ElasticBowl
    wood: StripWood
    path: tuple[PressState, ...]
    rest: PressState | None
    hold_used: Array


def open_bowl(bowl: Bowl, *, nodes_per_turn: int = NODES_PER_TURN) -> Opening:
    """Press a bowl open as hard as its maker can, and let go.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value; its press and friction are used.
    nodes_per_turn : int
        Elements in a revolution.

    Returns
    -------
    Opening
        Rise, drops, hold, stress, and the four deciding numbers.

    Raises
    ------
    NoConvergenceError
        If a load step finds no balance, however small.
    OutsideModelError
        If a slot is shut when flat.
    """
    rigid = rigid_fit(bowl)
    if rigid.numbers.slot_left_mm <= 0:
        raise OutsideModelError("a slot is shut when flat: the bowl will not open")
    done = _pressed(_only_forces(bowl), nodes_per_turn)
    last = done.path[-1]
    used = done.hold_used
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    # The first state is the flat board: no stress there.
    ways = [strip_stress(done.springy, state, done.wood, strength) for state in done.path[1:]]
    stress = max(ways, key=lambda s: s.chance)
    drops = (last if done.rest is None else done.rest).drop_mm
    # Where no balance follows the last one a little overlap may be left in it: none holds.
    overlap = float(1 - drops.max() / done.springy.seats.thickness_mm)
    numbers = DecidingNumbers(
        slot_left_mm=rigid.numbers.slot_left_mm,
        overlap=min(overlap, 0.0) if last.fell_through else overlap,
        hold_used=float(np.nanmax(used)) if not np.all(np.isnan(used)) else float("inf"),
        split_chance=stress.chance,
    )
    return Opening(
        springy=done.springy,
        path=done.path,
        rest=done.rest,
        hold_used=frozen(used),
        rim=rim_height(done.springy, last),
        turns=turn_forces(done.springy, last),
        stress=stress,
        split_press_N=limit_press_N([state.press_N for state in done.path[1:]], [s.split for s in ways]),
        numbers=numbers,
    )


def elastic_numbers(bowl: Bowl) -> DecidingNumbers:
    """The four numbers a verdict rests on, from one opening of the elastic strip.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.

    Returns
    -------
    DecidingNumbers
        From the closed form where a slot is shut when flat: nothing can be pressed then.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        As :func:`open_bowl`.
    """
    numbers = rigid_fit(bowl).numbers
    return numbers if numbers.slot_left_mm <= 0 else open_bowl(bowl).numbers


def _only_forces(bowl: Bowl) -> Bowl:
    """The bowl with everything blanked that no force depends on, so that a press is kept for reuse."""
    names = [path.rsplit(".", 1)[1] for path in STRENGTH_PATHS]
    blank = {name: replace(getattr(bowl.board.wood, name), value=1.0) for name in names}
    wood: Wood = replace(bowl.board.wood, **blank)
    board = replace(bowl.board, wood=wood)
    return replace(bowl, name="", board=board, assumptions=(), uncertain=(), notes=(), units="mm")


def _pressed(bowl: Bowl, nodes_per_turn: int) -> _Pressed:
    """Press and let go, kept for reuse; a press without a balance is not tried twice."""
    found = _pressed_or_not(bowl, nodes_per_turn)
    if isinstance(found, _Unpressed):
        raise NoConvergenceError(found.trouble, found.reached_N)
    return found


@dataclass(frozen=True)
class _Unpressed:
    """Why no balance was found, and up to which press one was."""

    trouble: str
    reached_N: float


@lru_cache(maxsize=32)
def _pressed_or_not(bowl: Bowl, nodes_per_turn: int) -> _Pressed | _Unpressed:
    """Where no balance is found a somewhat coarser strip is tried, then the trouble is returned."""
    trouble = _Unpressed("", 0.0)
    for share in COARSER:
        try:
            return _pressed_at(bowl, round(share * nodes_per_turn))
        except NoConvergenceError as error:
            trouble = trouble if trouble.trouble else _Unpressed(str(error), error.reached_N)
    return trouble


def _pressed_at(bowl: Bowl, nodes_per_turn: int) -> _Pressed:
    springy, wood = laid_out(bowl, rigid_fit(bowl), nodes_per_turn)
    path = press(springy, bowl.use.press_N, least_step=LEAST_STEP)
    if path[-1].fell_through:
        return _Pressed(springy, wood, path, None, np.full(int(springy.turn.max()), np.nan))
    return _Pressed(springy, wood, path, *stuck_rest(springy, path[-1]))


def elastic_fit(bowl: Bowl, *, nodes_per_turn: int = NODES_PER_TURN) -> ElasticFit:
    """Press a bowl open, let go, and find what press it needs and what makes it collapse.

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
    springy, path, rest = opening.springy, opening.path, opening.rest
    holds = rest is not None and opening.numbers.hold_used < 1
    needed, tried = _press_needed(bowl, opening, holds)
    standing, wood = rest if holds else None, _pressed(_only_forces(bowl), nodes_per_turn).wood
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    gentle = [state for state in tried if state.press_N >= needed][:1]
    return ElasticFit(
        opening=opening,
        holds=holds,
        rise_at_rest_mm=_rise_at_rest(opening, holds),
        press_needed_N=needed,
        reach_N=tried[-1].press_N,
        gentle_chance=strip_stress(springy, gentle[0], wood, strength).chance if gentle else float("nan"),
        collapse_N=0.0
        if standing is None
        else collapse_press_N(springy, standing, reach_N=2 * bowl.use.press_N),
        stress_at_rest=None if standing is None else strip_stress(springy, standing, wood, strength),
        split_range=_split_range(bowl, opening, wood),
        nail_N=max(float(np.linalg.norm(nail_force_N(springy, s), axis=1).max(initial=0.0)) for s in path),
        loop=force_rise_loop(springy, path if standing is None else (*path, standing)),
    )


def _split_range(bowl: Bowl, opening: Opening, wood: StripWood) -> ChanceRange:
    """In the last state of the path, which is nearly always the one likeliest to split."""
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0])
    return chance_over_ranges(
        lambda given: strip_stress(opening.springy, opening.pressed, wood, given).chance,
        strength,
        bowl.board.wood,
        ring_angle_rad=bowl.board.ring_angle_rad,
    )


def _rise_at_rest(opening: Opening, holds: bool) -> float:
    if opening.rest is None:
        return float("nan")
    if holds:
        return rim_height(opening.springy, opening.rest).mean_mm
    try:
        gone = let_go(opening.springy, opening.pressed)
    except NoConvergenceError:
        return float("nan")
    return opening.rim.mean_mm - gone.rise_lost_mm


def _press_needed(bowl: Bowl, opening: Opening, holds: bool) -> tuple[float, tuple[PressState, ...]]:
    """Least press that holds, and the states tried for it."""
    most = bowl.use.press_N
    if opening.rest is None:
        return float("inf"), opening.path
    if holds:
        return press_needed_N(opening.springy, most_N=most, path=opening.path), opening.path
    reach = PRESS_REACH * most
    try:
        path = press(opening.springy, reach, least_step=LEAST_STEP)
    except NoConvergenceError:
        return float("inf"), opening.path
    if path[-1].fell_through:
        path = path[:-1]
    return press_needed_N(opening.springy, most_N=reach, path=path), path
