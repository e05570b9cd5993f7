"""Cuts pressed on the strip and corrected by what it gave over the geometry's guess."""

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import read_only
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import LOCKS
from fitsim.plan.cut_of_wall import MEASURE_OF, Correction, PlannedCut, bowl_with, expected, not_pressed
from fitsim.plan.geometric_cuts import GUESSED, FoundCut, even_solved, wall_solved
from fitsim.plan.lock_order import lock_chance
from fitsim.plan.planned_bowls import PlannedBowl, WishMet
from fitsim.plan.pressed_wall import PressedWall, pressed_wall
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.wishes_on_board import BoardWishes, as_set, off_share, wanted_measures, weight_of

__all__ = ["Pressing", "distance_of", "wall_off"]


AIMED = 0.01
"""A cut is corrected again while the pressed bowl is farther away than this share."""

ROUNDS = 4
"""Presses of one cut at most."""


@dataclass(frozen=True, eq=False)
class _Pressed:
    """A cut that was pressed."""

    found: FoundCut
    cut: PlannedCut
    wall: PressedWall
    wishes: tuple[WishMet, ...]
    correction: Correction

    @property
    def off(self) -> float:
        """Greatest distance from a wish. [-]"""
        return max(w.off for w in self.wishes)


class Pressing:
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

    def corrected(self, task: BoardWishes, chosen: Sequence[FoundCut]) -> list[PlannedBowl]:
        """Each cut pressed and corrected until it gives the wishes, or as near as it comes.

        A cut that does not lock is not followed further.
        """
        best: dict[int, _Pressed] = {}
        counts = [0] * len(chosen)
        current = {i: (found, not_pressed()) for i, found in enumerate(chosen)}
        for _ in range(ROUNDS):
            if not current:
                break
            cuts = {i: as_set(task, found.cut) for i, (found, _) in current.items()}
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


def _better(task: BoardWishes, a: _Pressed, b: _Pressed) -> bool:
    if a.wall.judged.locks != b.wall.judged.locks:
        return a.wall.judged.locks
    return _weighted(task, a.wishes) < _weighted(task, b.wishes)


def _weighted(task: BoardWishes, wishes: Iterable[WishMet]) -> float:
    return sum((weight_of(task, w.name) * w.off) ** 2 for w in wishes)


def distance_of(task: BoardWishes, answer: PlannedBowl) -> float:
    """How far an answer is from the wishes.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    answer : PlannedBowl
        The answer.

    Returns
    -------
    float
        Sum of squared distances, weighed. [-]
    """
    return _weighted(task, answer.wishes)


def _measured(
    task: BoardWishes, found: FoundCut, cut: PlannedCut, wall: PressedWall, before: Correction
) -> _Pressed:
    """What a press says of the wishes, and of the geometry's guess."""
    guess = expected(cut, task.setting, before)
    drop = task.setting.drop_mm(cut.tilt_rad)
    # A turn that is no whole one is held down by the nail: it says nothing of those before it.
    whole = wall.whole if wall.whole.any() else wall.turn_place > 0
    place = wall.turn_place[whole] / wall.strip_turns
    share = wall.turn_height_mm[whole] / (drop * wall.turn_place[whole])
    if len(before.place) > 2:
        # Halfway to what the press before gave: a cut whose press swings is not chased from side to side.
        share = 0.5 * (share + np.interp(place, before.place, before.share))
    wider = wall.got.mouth_mm - guess.mouth_mm
    correction = Correction(
        rise_share=before.rise_share * _over(wall.got.rise_mm, guess.rise_mm),
        volume_share=before.volume_share * _over(wall.got.volume_ml, guess.volume_ml),
        slope_share=before.slope_share * _over(wall.got.slope, guess.slope),
        mouth_mm=before.mouth_mm + (wider if math.isfinite(wider) else 0.0),
        place=read_only(place),
        share=read_only(share),
    )
    return _Pressed(found, cut, wall, _wishes_met(task, cut, found.wall, wall), correction)


def _over(got: float, guess: float) -> float:
    """What a press gave over the guess; 1 where either says nothing."""
    share = got / guess if guess > 0 else 1.0
    return share if math.isfinite(share) and share > 0 else 1.0


def _wishes_met(
    task: BoardWishes, cut: PlannedCut, wanted_wall: WallCurve | None, wall: PressedWall
) -> tuple[WishMet, ...]:
    met = []
    for name, wanted in wanted_measures(task.wishes).items():
        got = getattr(wall.got, MEASURE_OF[name])
        label = "wall" if name == "slope" else name
        met.append(WishMet(label, wanted, got, abs(off_share(name, wanted, got))))
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


def _solved_again(task: BoardWishes, done: _Pressed) -> FoundCut | None:
    """The cut once more, with what the strip gave over the guess; the tilt moves only where it must."""
    if task.wishes.wall is not None:
        again = wall_solved(task, done.cut.tilt_rad, done.correction)
    else:
        again = even_solved(task, done.cut, done.correction, tilt_free=False)
        if again is None or again.off > GUESSED:
            again = even_solved(task, done.cut, done.correction)
            if again is not None:
                # The tilt is set to a twentieth of a degree; the rest makes up for it.
                set_tilt = as_set(task, again.cut)
                once = replace(again.cut, tilt_rad=set_tilt.tilt_rad)
                held = even_solved(task, once, done.correction, tilt_free=False)
                again = held if held is not None and held.cost <= 4 * again.cost + 1e-5 else again
    if again is None or as_set(task, again.cut) == done.cut:
        return None
    return again


def _answer(task: BoardWishes, done: _Pressed, presses: int) -> PlannedBowl:
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
