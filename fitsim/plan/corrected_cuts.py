"""Cuts pressed on the strip and corrected by what it gave over the geometry's guess."""

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import read_only
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS
from fitsim.plan.cut_of_wall import MEASURE_OF, Correction, PlannedCut, bowl_with_cut, expected, not_pressed
from fitsim.plan.geometric_cuts import GUESSED, FoundCut, even_solved, wall_solved
from fitsim.plan.lock_order import lock_chance
from fitsim.plan.planned_bowls import WITHIN, PlannedBowl, WishMet
from fitsim.plan.pressed_wall import PressedWall, pressed_wall
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.wishes_on_board import BoardWishes, as_set, off_share, wanted_measures, weight_of

__all__ = ["CutPresser", "distance_of", "wall_off"]


AIMED = 0.01
"""A cut is corrected again while the pressed bowl is farther away than this share."""

RIM_APART = 0.03
"""A rim so much farther along the strip than its last whole turn, as a share, is a place of its own. [-]"""

TILT_AWAY, TILTS_AWAY = 0.06, 24
"""How far and in how many steps the tilt may move where no cut of the wall ends where it must. [-]"""

ROUNDS, MORE_ROUNDS = 4, 2
"""Presses of one cut at most, and how many more where none of the cuts gives the wishes so far."""

NARROWED, NARROWINGS = 1.12, 5
"""By how much and how often turns are made narrower where the press there is does not hold them. [-]"""

FOLLOWED = 0.5
"""How far the heights of a wall follow a press after the first, so that a cut whose press swings is not
chased from side to side. [-]"""

GAIN, GAINS, GAIN_FROM = 1.3, (0.6, 2.5), 0.05
"""How many seat drops the rim rises for each turn of strip more: before two presses have shown it, between
what bounds, and over how many turns they must lie apart to show it. The rise does not grow evenly with the
length of the strip, since the end held by the nail is a larger or smaller part of the last turn. [-]"""


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


class CutPresser:
    """Presses cuts, in this process or by an executor, and counts them."""

    def __init__(self, executor: Executor | None, progress: Callable[[str], None]) -> None:
        self._executor = executor
        self._progress = progress
        self.count = 0

    def walls(self, bowls: Sequence[Bowl], along: str | None = None) -> list[PressedWall | str]:
        """Each bowl pressed, its wall and mouth measured the way that is asked for."""
        self.count += len(bowls)
        self._progress(f"{len(bowls)} {'cut' if len(bowls) == 1 else 'cuts'} pressed on the strip")
        work = map if self._executor is None else self._executor.map
        return list(work(pressed_wall, bowls, [along] * len(bowls)))

    def corrected(self, task: BoardWishes, chosen: Sequence[FoundCut]) -> list[PlannedBowl]:
        """Each cut pressed and corrected until it gives the wishes, or as near as it comes.

        A cut that does not lock is not followed further, but where none locks so far and a turn falls
        through: if what the strip gave over the guess asks for more tilt, the bevels of the next meet
        sooner.
        """
        best: dict[int, _Pressed] = {}
        counts = [0] * len(chosen)
        current = {i: (found, not_pressed()) for i, found in enumerate(chosen)}
        for number in range(ROUNDS + MORE_ROUNDS):
            if not current or (number >= ROUNDS and any(_meets(done) for done in best.values())):
                break
            cuts = {i: as_set(task, found.cut) for i, (found, _) in current.items()}
            walls = self.walls([bowl_with_cut(task.bowl, cut) for cut in cuts.values()], task.wishes.along)
            before, current = current, {}
            fallen: dict[int, tuple[FoundCut, Correction]] = {}
            for (i, cut), wall in zip(cuts.items(), walls, strict=True):
                counts[i] += 1
                if isinstance(wall, str):
                    continue
                done = _measured(task, before[i][0], cut, wall, before[i][1])
                if i in best and best[i].off < done.off:
                    done = replace(done, correction=_between(best[i], done))
                if i not in best or _better(task, done, best[i]):
                    best[i] = done
                if done.off > AIMED and wall.judged.state in (LOCKS, FALLS_THROUGH):
                    again = _solved_again(task, done)
                    if again is not None and wall.judged.locks:
                        current[i] = (again, done.correction)
                    elif again is not None and _steeper(task, again, cut):
                        fallen[i] = (again, done.correction)
            if not any(done.wall.judged.locks for done in best.values()):
                current = fallen
        return [_answer(task, best[i], counts[i]) for i in sorted(best)]

    def narrowed(self, task: BoardWishes, short: Sequence[PlannedBowl]) -> list[PlannedBowl]:
        """The cuts with narrower and narrower turns, each at its own tilt, until some of them lock.

        For cuts that give the wishes and need more press than there is: the nearest to them that hold.
        """
        cuts = [(a.cut, a.wall) for a in short]
        for _ in range(NARROWINGS):
            cuts = [
                (as_set(task, replace(cut, pitches_mm=tuple(p / NARROWED for p in cut.pitches_mm))), wall)
                for cut, wall in cuts
                if min(cut.pitches_mm) / NARROWED > task.bounds.pitch_mm[0]
            ]
            if not cuts:
                break
            pressed = self.walls([bowl_with_cut(task.bowl, cut) for cut, _ in cuts], task.wishes.along)
            locking = []
            for (cut, wall), got in zip(cuts, pressed, strict=True):
                if not isinstance(got, str) and got.judged.locks:
                    found = FoundCut(cut, wall, 0.0, 0.0, ())
                    locking.append(_answer(task, _measured(task, found, cut, got, not_pressed()), 1))
            if locking:
                return locking
        return []


def _steeper(task: BoardWishes, again: FoundCut, cut: PlannedCut) -> bool:
    """Whether the next cut is sawn at more tilt than this one."""
    return as_set(task, again.cut).tilt_rad > cut.tilt_rad


def _meets(done: _Pressed) -> bool:
    return done.off <= WITHIN and done.wall.judged.locks


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
    guess = expected(cut, task.fixed, before)
    drop = task.fixed.drop_mm(cut.tilt_rad)
    # A turn that is no whole one is held down by the nail: it says nothing of those before it.
    whole = wall.whole if wall.whole.any() else wall.turn_place > 0
    place = wall.turn_place[whole] / wall.strip_turns
    share = wall.turn_height_mm[whole] / (drop * wall.turn_place[whole])
    if before.pressed:
        share = share + (1 - FOLLOWED) * (np.interp(place, before.place, before.share) - share)
    wider = wall.got.mouth_mm - guess.mouth_mm
    rise_share = wall.got.rise_mm / (drop * max(guess.strip_turns - 0.5, 0.5))
    # The rim stands where a turn half a step before the nail does, which is seldom the last whole one.
    rim = 1 - 0.5 / wall.strip_turns
    if rim - place[-1] > RIM_APART:
        place, share = np.append(place, rim), np.append(share, rise_share)
    correction = Correction(
        rise_share=rise_share,
        volume_share=before.volume_share * _over(wall.got.volume_ml, guess.volume_ml),
        slope_share=before.slope_share * _over(wall.got.slope, guess.slope),
        mouth_mm=before.mouth_mm + (wider if math.isfinite(wider) else 0.0),
        place=read_only(place),
        share=read_only(share),
        aside_mm=wall.aside_mm - task.fixed.aside_mm,
        pressed=True,
        strip_turns=guess.strip_turns,
        gain=_gain(before, guess.strip_turns, rise_share),
    )
    return _Pressed(found, cut, wall, _wishes_met(task, found.wall, wall), correction)


def _between(best: _Pressed, done: _Pressed) -> Correction:
    """What to make of a press that came farther off than one before: the less, the farther it is off.

    Now and then a bowl needs twice the press of one that hardly differs, and stands differently for it.
    """
    one, other, share = best.correction, done.correction, best.off / (best.off + done.off)

    def mixed(a: float, b: float) -> float:
        return a + share * (b - a)

    there = np.interp(one.place, other.place, other.share)
    return replace(
        one,
        rise_share=mixed(one.rise_share, other.rise_share),
        volume_share=mixed(one.volume_share, other.volume_share),
        slope_share=mixed(one.slope_share, other.slope_share),
        mouth_mm=mixed(one.mouth_mm, other.mouth_mm),
        aside_mm=mixed(one.aside_mm, other.aside_mm),
        share=read_only(one.share + share * (there - one.share)),
    )


def _gain(before: Correction, strip_turns: float, rise_share: float) -> float:
    """How much faster the rim rises with the strip's turns than evenly, from this press and the last."""
    if before.strip_turns is None:
        return GAIN
    apart = strip_turns - before.strip_turns
    was, now = before.strip_turns - 0.5, strip_turns - 0.5
    if abs(apart) < 1e-6:
        return before.gain
    seen = (rise_share * now - before.rise_share * was) / (apart * rise_share)
    weight = apart**2 / (apart**2 + GAIN_FROM**2)
    return float(np.clip(before.gain + weight * (seen - before.gain), *GAINS))


def _over(got: float, guess: float) -> float:
    """What a press gave over the guess; 1 where either says nothing."""
    share = got / guess if guess > 0 else 1.0
    return share if math.isfinite(share) and share > 0 else 1.0


def _wishes_met(task: BoardWishes, wanted_wall: WallCurve | None, wall: PressedWall) -> tuple[WishMet, ...]:
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
        again = _wall_again(task, done)
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


def _wall_again(task: BoardWishes, done: _Pressed) -> FoundCut | None:
    """The wall's cut once more, at the nearest tilt at which the strip can end where the wall does.

    In a square board the free end lies near the middle of a side: between two of them no strip ends.
    """
    again = wall_solved(task, done.cut.tilt_rad, done.correction)
    if "tilt" in task.kept or (again is not None and again.off <= GUESSED):
        return again
    low, high = task.bounds.tilt_rad
    steps = np.linspace(-TILT_AWAY, TILT_AWAY, 2 * TILTS_AWAY + 1)
    for step in sorted(steps, key=abs):
        tilt = done.cut.tilt_rad * (1 + float(step))
        if not low <= tilt <= high:
            continue
        other = wall_solved(task, as_set(task, replace(done.cut, tilt_rad=tilt)).tilt_rad, done.correction)
        if other is not None and (again is None or other.cost < again.cost):
            again = other
        if again is not None and again.off <= GUESSED:
            break
    return again


def _answer(task: BoardWishes, done: _Pressed, presses: int) -> PlannedBowl:
    bowl = bowl_with_cut(task.bowl, done.cut)
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
