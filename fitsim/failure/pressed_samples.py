"""Bowls as they were sawn, pressed open on the elastic strip, as hard as anybody would, and let go.

One press gives a bowl's answer at every press on the way: how far each turn sinks, where the rim stands,
how hard the wood is stressed; and letting go from states on the way, the press from which it stays up.
"""

import math
import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.inputs import Bowl, bowl_from_physics
from fitsim.bowl.strip_layout import NODES_PER_TURN, laid_out
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.failure.failed_samples import BowlPlan, Samples
from fitsim.failure.sample_seats import CLOSES_ALONG, TURN_FOLLOWS, turns_percent
from fitsim.geometry.cut import spiral_turns, stopped_early
from fitsim.processes import worker_count, worker_pool
from fitsim.progress import press_begins
from fitsim.strip.beam import deformed_shape
from fitsim.strip.nail_tie import make_nail
from fitsim.strip.press import press
from fitsim.strip.release import CLOSE, press_needed_N
from fitsim.strip.results import rim_height
from fitsim.strip.state import ElasticBowl
from fitsim.strip.stress import resolved_stress
from fitsim.tolerances.samples import ELASTIC_CONSTANTS
from fitsim.wood.strength import SplitChance, grain_strength

__all__ = [
    "PressJob",
    "PressedSample",
    "SawnBowl",
    "press_each",
    "press_sawn",
    "pressing_processes",
    "sawn_bowl",
    "with_nails",
]

NEEDED_WITHIN = 0.2
"""How nearly the press that a sample needs is found, over its value: the fit strays by more. [-]"""

TOLD_MORE = math.sqrt((1 + NEEDED_WITHIN) / (1 + CLOSE))
"""Times as much as the usual search tells, on the mean; of 36 bowls 1.04, give or take 0.04. [-]"""

WORTH_STRESSING = 0.35
"""Stress is worked out from this share of the last rise on: a strip that hangs free is hardly stressed."""


@dataclass(frozen=True, eq=False)
class SawnBowl:
    """One bowl as it was sawn, with what no bowl file can say of it.

    Attributes
    ----------
    bowl : Bowl
        Its numbers, a tilt and a kerf for each turn.
    nail : int
        Place in :data:`fitsim.failure.failed_samples.NAIL_WORDS`.
    closed_mm : float
        How far the slot has closed by itself. [mm]
    width_share : tuple[float, ...]
        Width of each turn over what was meant. [-]
    wander_mm, step_mm : tuple[float, ...], float
        What the kerf wanders beside the mean of each turn, at even steps along the cut. [mm]
    """

    bowl: Bowl
    nail: int = 0
    closed_mm: float = 0.0
    width_share: tuple[float, ...] = (1.0,)
    wander_mm: tuple[float, ...] = ()
    step_mm: float = 1.0


@dataclass(frozen=True, eq=False)
class PressedSample:
    """What came of pressing one bowl, at the s states on the way from flat; arrays (s,) or (s, turns).

    Attributes
    ----------
    shut : bool
        A slot is shut when flat: nothing can be pressed, and there are no states.
    press_N, rise_mm, uneven_mm : numpy.ndarray
        Press, mean rise of the rim, and its greatest less its least. [N, mm]
    mean_drop_mm, deepest_mm : numpy.ndarray
        Drop of each turn round it, its mean and its greatest. [mm]
    splits : tuple[SplitChance or None, ...]
        Chance of splitting in each state; None where the strip still hangs free.
    fell : bool
        Whether a turn has fallen through in the last state.
    needed_N : float
        Least press after which it keeps its rise; infinite where none on the way does. [N]
    """

    shut: bool
    press_N: Array
    rise_mm: Array
    uneven_mm: Array
    mean_drop_mm: Array
    deepest_mm: Array
    splits: tuple[SplitChance | None, ...]
    fell: bool
    needed_N: float


def sawn_bowl(
    plan: BowlPlan, samples: Samples, row: int, *, turn_follows: float = TURN_FOLLOWS
) -> SawnBowl:
    """One drawn row as a bowl of its own.

    Parameters
    ----------
    plan, samples : BowlPlan, Samples
        What was meant, and the bowls.
    row : int
        Which.
    turn_follows : float
        How much of what base and rim have moved apart each further turn keeps of the base's. [-]

    Returns
    -------
    SawnBowl
        Without a wander along the cut.
    """
    bowl, cut = plan.bowl.physics, plan.bowl.cut
    base_mm, shape = cut.base_radius_mm + float(samples.short[row]) * cut.pitch_mm, cut.pitch_shape
    if shape:
        moved, shape = stopped_early(shape, float(samples.short[row]))
        base_mm = cut.base_radius_mm + moved * cut.pitch_mm
    whole = spiral_turns(
        base_radius_mm=base_mm,
        outer_radius_mm=bowl.board.across_mm / 2,
        pitch_mm=cut.pitch_mm,
        pitch_shape=shape,
    )
    turns = math.ceil(whole - 1e-9)

    def each(values: Array) -> tuple[float, ...]:
        listed = values[row].tolist()
        return tuple((listed + [listed[-1]] * turns)[:turns])

    stiffer, wood = float(samples.stiffness[row]), bowl.board.wood
    numbers = {name: getattr(wood, name) for name in ELASTIC_CONSTANTS}
    numbers = {n: replace(v, value=stiffer * v.value) for n, v in numbers.items()}
    across = wood.tension_across_MPa
    across = replace(across, value=float(samples.across[row]) * across.value)
    wood = replace(wood, tension_across_MPa=across, **numbers)
    made = replace(
        bowl,
        board=replace(bowl.board, thickness_mm=float(samples.thickness_mm[row]), wood=wood),
        cut=replace(
            cut,
            tilt_rad=each(samples.tilt_rad),
            kerf_mm=each(samples.kerf_mm),
            base_radius_mm=base_mm,
            pitch_shape=shape,
        ),
        use=replace(
            bowl.use,
            film_mm=float(samples.film_mm[row]),
            friction=float(samples.friction[row]),
            press_N=float(samples.hands_N[row]),
            base_moisture_percent=float(samples.base_percent[row]),
            turn_moisture_percent=each(turns_percent(plan, samples, turn_follows=turn_follows)),
        ),
    )
    share = tuple((samples.width_mm[row] / plan.width_mm).tolist())
    return SawnBowl(bowl_from_physics(made), int(samples.nail[row]), float(samples.closed_mm[row]), share)


def _faces_as_sawn(sawn: SawnBowl) -> RigidFit:
    """Faces and widths with what the kerf wanders, what has closed, and what was cut thin."""
    rigid = rigid_fit(sawn.bowl)
    angle, slot = rigid.faces.angle_rad, np.array(rigid.faces.slot_mm)
    clock = angle + sawn.bowl.cut.root_rad
    slot -= sawn.closed_mm * (CLOSES_ALONG + 2 * (1 - CLOSES_ALONG) * np.sin(clock) ** 2)
    if sawn.wander_mm:
        radius = np.interp(angle, rigid.strip.angle_rad, rigid.strip.radius_mm)
        along = np.concatenate([[0.0], np.cumsum((radius[1:] + radius[:-1]) / 2 * np.diff(angle))])
        slot += np.interp(along, sawn.step_mm * np.arange(len(sawn.wander_mm)), sawn.wander_mm)
    share = np.array(sawn.width_share)
    turn = np.minimum((rigid.strip.angle_rad / (2 * np.pi)).astype(np.int64), len(share) - 1)
    return replace(
        rigid,
        faces=replace(rigid.faces, slot_mm=read_only(slot)),
        strip=replace(rigid.strip, width_mm=read_only(rigid.strip.width_mm * share[turn])),
    )


def press_sawn(
    sawn: SawnBowl,
    reach_N: float,
    *,
    turns: int,
    rigid: RigidFit | None = None,
    nodes_per_turn: int = NODES_PER_TURN,
    let_go: bool = True,
) -> PressedSample:
    """Press a bowl as it was sawn.

    Parameters
    ----------
    sawn : SawnBowl
        The bowl.
    reach_N : float
        Press to go to. [N]
    turns : int
        Turns that the answer has columns for; of a bowl with fewer the outermost is repeated.
    rigid : RigidFit or None
        Its slot and widths, in place of those the bowl says itself.
    nodes_per_turn : int
        Elements in a revolution.
    let_go : bool
        False if nobody asks for the press it needs.

    Returns
    -------
    PressedSample
        From the first state that is not flat.

    Raises
    ------
    NoConvergenceError, OutsideModelError
        If the strip cannot be followed, or there is none.
    """
    bowl = sawn.bowl
    rigid = _faces_as_sawn(sawn) if rigid is None else rigid
    if float(np.min(rigid.faces.slot_mm)) <= 0:
        none, each = np.zeros(0), np.zeros((0, turns))
        return PressedSample(True, none, none, none, each, each, (), False, math.inf)
    elastic, wood = laid_out(bowl, rigid, nodes_per_turn)
    elastic = with_nails(elastic, sawn.nail, elastic.nodes_per_turn)
    path = press(elastic, reach_N)
    states = path[1:]
    needed = press_needed_N(elastic, path, within=NEEDED_WITHIN) / TOLD_MORE if let_go else math.inf
    rims = [rim_height(elastic, state) for state in states]
    rise = np.array([rim.mean_mm for rim in rims])
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    free = WORTH_STRESSING * float(rise.max(initial=0.0))
    turn = elastic.turn - 1
    pressed = int(turn.max()) + 1
    count = np.bincount(turn, minlength=pressed)

    def columns(values: list[Array]) -> Array:
        found = np.array(values).reshape(len(states), pressed)[:, :turns]
        return read_only(np.hstack([found, np.repeat(found[:, -1:], turns - found.shape[1], axis=1)]))

    return PressedSample(
        shut=False,
        press_N=np.array([state.press_N for state in states]),
        rise_mm=rise,
        uneven_mm=np.array([rim.out_of_level_mm for rim in rims]),
        mean_drop_mm=columns([np.bincount(turn, s.drop_mm, pressed) / count for s in states]),
        deepest_mm=columns([_greatest(np.asarray(s.drop_mm), turn, pressed) for s in states]),
        splits=tuple(
            resolved_stress(elastic, state, wood).split(strength) if high >= free else None
            for state, high in zip(states, rise.tolist(), strict=True)
        ),
        fell=path[-1].fell_through,
        needed_N=needed,
    )


def _greatest(drop: Array, turn: IntArray, pressed: int) -> Array:
    found = np.zeros(pressed)
    np.maximum.at(found, turn, drop)
    return found


def with_nails(elastic: ElasticBowl, nail: int, nodes: int) -> ElasticBowl:
    """No nail, or one more where a nail that is too long pins the next turn too.

    Parameters
    ----------
    elastic : ElasticBowl
        A strip with its nail driven flat.
    nail : int
        Place in :data:`fitsim.failure.failed_samples.NAIL_WORDS`.
    nodes : int
        Elements in a revolution.

    Returns
    -------
    ElasticBowl
        The strip tied so.
    """
    if nail in (1, 2):
        return replace(elastic, nails=())
    node = len(elastic.strip.position_mm) - 1 - nodes
    if nail != 3 or node < 2:
        return elastic
    flat = deformed_shape(elastic.strip, np.zeros((len(elastic.strip.position_mm) - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    place = float(elastic.seats.place[node - 1])
    more = make_nail(elastic.seats, elastic.strip, flat, node=node, place=place, held=held)
    return replace(elastic, nails=(*elastic.nails, more))


@dataclass(frozen=True, eq=False)
class PressJob:
    """One bowl to press.

    Attributes
    ----------
    sawn : SawnBowl
        The bowl.
    reach_N : float
        Press to go to. [N]
    turns : int
        Turns that the answer has columns for.
    let_go : bool
        Whether to look for the press it needs.
    """

    sawn: SawnBowl
    reach_N: float
    turns: int
    let_go: bool = True


def _pressed_or_not(job: PressJob) -> PressedSample | None:
    try:
        return press_sawn(job.sawn, job.reach_N, turns=job.turns, let_go=job.let_go)
    except (NoConvergenceError, OutsideModelError):
        return None


@contextmanager
def pressing_processes(jobs: int) -> Iterator[Executor | None]:
    """Processes to press so many bowls with, kept for several rounds of them.

    Parameters
    ----------
    jobs : int
        How many bowls, about.

    Yields
    ------
    concurrent.futures.Executor or None
        For :func:`press_each`; None where this process has to do it alone.
    """
    processes = min(worker_count(), jobs)
    # A process that serves a page may have no processes of its own.
    if processes <= 1 or multiprocessing.current_process().daemon:
        yield None
        return
    pool = worker_pool(processes)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def press_each(
    jobs: Sequence[PressJob],
    executor: Executor | None = None,
    *,
    progress: Callable[[int], None] | None = None,
) -> tuple[PressedSample | None, ...]:
    """Press many bowls; the answer does not depend on who works.

    Parameters
    ----------
    jobs : sequence of PressJob
        The bowls.
    executor : concurrent.futures.Executor or None
        Who works; None: this process.
    progress : callable or None
        Called with how many are done, as they come.

    Returns
    -------
    tuple[PressedSample or None, ...]
        In the order of the jobs; None where a strip could not be followed.
    """
    press_begins()
    answers = (map if executor is None else executor.map)(_pressed_or_not, jobs)
    done: list[PressedSample | None] = []
    for answer in answers:
        done.append(answer)
        if progress is not None:
            progress(len(done))
    return tuple(done)
