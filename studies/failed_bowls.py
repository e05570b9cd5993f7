"""Bowls that failed, by a finer and perturbed elastic model than the one that explains them.

Used by ``studies/04_failed_bowl.py``. A case is drawn with one cause of the packaged table, its size from
that table's own law, everything else wider than the explaining model's prior: friction, stiffness,
strength, moisture and tilt; a kerf that wanders along the cut with a length of its own; another lag of the
turns' moisture; another number of nodes. The springy strip is pressed open and let go, and what a maker
could see is read off it. A case that shows no failure, or only came out deep, is drawn again.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from wandering_kerf import wander, wave_weights

from fitsim.arrays import Array
from fitsim.beam import laid_out
from fitsim.bowl import Bowl
from fitsim.causes import Cause
from fitsim.drawn import NAIL_WORDS, USUAL, Drawn, Plan, dimensions, draw
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.press import press
from fitsim.pressed import ElasticBowl
from fitsim.readings import rim_height
from fitsim.release import let_go
from fitsim.rigid import RigidFit, rigid_fit
from fitsim.seen import MEASURES
from fitsim.spread import Spread
from fitsim.strength import SplitChance, chances_by_turn, grain_strength
from fitsim.stress import strip_stress
from fitsim.strip import deformed_shape
from fitsim.tie import make_nail

NODES = (20, 25)
"""Nodes a turn are drawn between these; the explaining model has 18."""

HIGHEST_SEAT = 3.0
"""A seat counts as no higher than this over its turn's median: a tilt near zero has none."""

MOST_TRIES = 10
STIFFNESS_COV = 0.22
NOTICED = {"rocks": (3.0, 0.8), "rim not level": (4.0, 1.5), "came out shallow": (0.85, 0.03)}


def wider(spread: Spread) -> Spread:
    """Everything drawn wider than the explaining model believes; no wander from turn to turn."""
    return replace(
        spread,
        tilt_rad=1.3 * spread.tilt_rad,
        kerf_mm=1.3 * spread.kerf_mm,
        wander_mm=0.0,
        thickness_mm=1.3 * spread.thickness_mm,
        friction_low=0.85 * spread.friction_low,
        friction_high=1.1 * spread.friction_high,
        strength_low=0.9 * spread.strength_low,
        strength_high=1.1 * spread.strength_high,
        press_log=1.3 * spread.press_log,
        moisture_points=1.3 * spread.moisture_points,
    )


def bowl_of(plan: Plan, drawn: Drawn, rng: np.random.Generator) -> Bowl:
    """The first drawn row as a bowl of its own."""
    bowl, cut = plan.bowl, plan.bowl.cut
    short = float(drawn.short[0])
    turns = math.ceil(
        (bowl.board.across_mm / 2 - cut.base_radius_mm - short * cut.pitch_mm) / cut.pitch_mm - 1e-9
    )

    def each(values: Array) -> tuple[float, ...]:
        listed = values[0].tolist()
        return tuple((listed + [listed[-1]] * turns)[:turns])

    base, rim = float(drawn.base_percent[0]), float(drawn.rim_percent[0])
    follows = rng.uniform(0.2, 0.6)
    turn_moisture = tuple(rim + (base - rim) * follows ** (j + 1) for j in range(turns))
    stiffer = max(1 + STIFFNESS_COV * rng.standard_normal(), 0.4)
    wood = bowl.board.wood
    names = ("E_L_MPa", "E_R_MPa", "E_T_MPa", "G_LR_MPa", "G_LT_MPa", "G_RT_MPa")
    wood = replace(
        wood, **{n: replace(getattr(wood, n), value=stiffer * getattr(wood, n).value) for n in names}
    )
    return replace(
        bowl,
        board=replace(bowl.board, thickness_mm=float(drawn.thickness_mm[0]), wood=wood),
        cut=replace(
            cut, tilt_rad=each(drawn.tilt_rad), kerf_mm=each(drawn.kerf_mm),
            base_radius_mm=cut.base_radius_mm + short * cut.pitch_mm,
        ),
        use=replace(
            bowl.use, film_mm=float(drawn.film_mm[0]), friction=float(drawn.friction[0]),
            press_N=float(drawn.press_N[0]), base_moisture_percent=base,
            turn_moisture_percent=turn_moisture,
        ),
        assumptions=(), uncertain=(), notes=(),
    )  # fmt: skip


def sawn(plan: Plan, drawn: Drawn, rigid: RigidFit, rng: np.random.Generator) -> RigidFit:
    """The kerf wanders along the cut, the slot closes by itself, a turn is thin for part of its way."""
    angle, slot = rigid.faces.angle_rad, np.array(rigid.faces.slot_mm)
    radius = np.interp(angle, rigid.strip.angle_rad, rigid.strip.radius_mm)
    arc = np.concatenate([[0.0], np.cumsum((radius[1:] + radius[:-1]) / 2 * np.diff(angle))])
    length = rng.uniform(20.0, 80.0)
    share, period = wave_weights(cut_mm=float(arc[-1]), length_mm=length)
    points = 2 * math.ceil(4 * period / length / 2)
    wave = wander(rng.standard_normal((1, 2 * len(share) - 1)), wave_share=share, points=points)[0]
    usual = plan.spread.wander_mm * rng.uniform(0.6, 2.0)
    slot += math.hypot(usual, float(drawn.wander_mm[0])) * np.interp(
        arc, np.arange(points) * period / points, wave
    )
    clock = angle + plan.bowl.cut.root_rad
    slot -= float(drawn.closed_mm[0]) * (0.5 + np.sin(clock) ** 2)
    width = np.array(rigid.strip.width_mm)
    ratio = drawn.width_mm[0] / plan.width_mm
    j = int(np.argmin(ratio))
    if ratio[j] < 0.99:
        start = 2 * np.pi * (j + rng.uniform(0.0, 0.6))
        thin = np.exp(-(((rigid.strip.angle_rad - start) / 0.6) ** 2))
        width *= 1 - (1 - ratio[j]) * thin
    return replace(
        rigid, faces=replace(rigid.faces, slot_mm=slot), strip=replace(rigid.strip, width_mm=width)
    )


def _with_nails(springy: ElasticBowl, nail: int, nodes: int) -> ElasticBowl:
    if nail in (1, 2):
        return replace(springy, nails=())
    node = len(springy.strip.position_mm) - 1 - nodes
    if nail != 3 or node < 2:
        return springy
    flat = deformed_shape(springy.strip, np.zeros((len(springy.strip.position_mm) - 1, 6)))
    held = np.array([True, True, True, False, False, False])
    place = float(springy.seats.place[node - 1])
    more = make_nail(springy.seats, springy.strip, flat, node=node, place=place, held=held)
    return replace(springy, nails=(*springy.nails, more))


def failed(seen: Sequence[str]) -> bool:
    """Whether a bowl failed: one that only came out deep is none of the failures the command is for."""
    return bool(set(seen) - {"held", "came out deep"})


@dataclass(frozen=True, eq=False)
class Reference:
    """The plan pressed as it was meant: what the same bowl looks like when nothing goes wrong."""

    rise_mm: float
    out_of_level_mm: float
    two_sided: float


@dataclass(frozen=True, eq=False)
class Run:
    """What came of one bowl pressed; arrays by turn but the gauge, which runs along the slot."""

    shut: bool
    fell: bool
    hold: float
    drops_mm: Array
    deepest: int
    rise_mm: float
    out_of_level_mm: float
    two_sided: float
    split: SplitChance | None
    gauge_mm: Array
    deepest_mm: float


def _two_sided(drop: Array, seat: Array, turn: Array, clock: Array) -> float:
    """How much lower the seats lie along the grain than across it, summed over the turns.

    A springy turn hardly follows its seat down on two sides: what is left to sink there is the seat's
    height less the drop. The second harmonic is fitted, beside the mean and the first, because a turn's
    nodes need not be evenly spread round it; part of a turn is left out.
    """
    total, whole = 0.0, int(np.bincount(turn).max())
    for j in range(int(turn.max())):
        here = turn == j + 1
        if here.sum() > 0.8 * whole:
            at = clock[here]
            waves = np.stack([at * 0 + 1, np.cos(at), np.sin(at), np.cos(2 * at), np.sin(2 * at)], axis=1)
            left = np.minimum(seat[here], HIGHEST_SEAT * np.median(seat[here])) - drop[here]
            total += 2 * float(np.linalg.lstsq(waves, left, rcond=None)[0][3])
    return total


def run_of(bowl: Bowl, rigid: RigidFit, nail: int, nodes: int) -> Run:
    """Press a bowl, let go, and read off what a maker could see."""
    slot = np.asarray(rigid.faces.slot_mm)
    gauge = slot * np.cos(np.interp(rigid.faces.angle_rad, rigid.slot.angle_rad, rigid.slot.tilt_rad))
    if slot.min() <= 0:
        nothing = np.zeros(len(rigid.faces.share))
        return Run(True, False, 0.0, nothing, 0, 0.0, 0.0, 0.0, None, gauge, 0.0)
    springy, wood = laid_out(bowl, rigid, nodes)
    springy = _with_nails(springy, nail, nodes)
    path = press(springy, bowl.use.press_N)
    last = path[-1]
    drop, hold = np.asarray(last.drop_mm), math.inf
    if not last.fell_through:
        released = let_go(springy, last)
        drop, hold = np.asarray(released.rest.drop_mm), released.friction_used
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    turns = int(springy.turn.max())
    splits = [strip_stress(springy, state, wood, strength).split for state in path[1:]]
    split = max(splits, key=lambda s: s.chance)
    mean = np.array([drop[springy.turn == j + 1].mean() for j in range(turns)])
    at = springy.strip.position_mm[1:]
    clock = np.unwrap(np.arctan2(at[:, 1], at[:, 0]))
    seat = springy.seats.slot_mm / np.maximum(np.tan(np.abs(springy.seats.tilt_rad)), 0.02)
    rim = rim_height(springy, last)
    return Run(
        False, last.fell_through, hold, mean, int(springy.turn[int(drop.argmax())]), rim.mean_mm,
        rim.out_of_level_mm, _two_sided(drop, seat, np.asarray(springy.turn), clock), split, gauge,
        float(np.max(last.drop_mm)),
    )  # fmt: skip


def reference_of(plan: Plan) -> Reference:
    """The plan itself, pressed."""
    bowl = replace(plan.bowl, assumptions=(), uncertain=(), notes=())
    run = run_of(bowl, rigid_fit(bowl), 0, NODES[0])
    return Reference(run.rise_mm, run.out_of_level_mm, run.two_sided)


def _split_turn(run: Run, drawn: Drawn, rng: np.random.Generator) -> int:
    """Turn that splits, 0 for none: the weakest link of the whole strip, the turn by its share."""
    if run.split is None:
        return 0
    turns = run.split.risks.shape[1]
    stress = 1 / drawn.strength[:1, :turns]
    chances = chances_by_turn(run.split.risks, run.split.strength, stress)[0]
    at = int(np.searchsorted(np.cumsum(chances), rng.random()))
    return at + 1 if at < turns else 0


def _seen_of(run: Run, drawn: Drawn, reference: Reference, rng: np.random.Generator) -> tuple[str, ...]:
    seen: list[str] = []
    if run.shut:
        return ("would not open",)
    if run.fell:
        seen.append(f"fell through at turn {run.deepest}" if rng.random() < 0.5 else "fell through")
    elif run.hold >= 1:
        seen.append("sprang back")
    split = _split_turn(run, drawn, rng)
    if drawn.nail[0] == 2 and rng.random() < 0.95:
        seen.append("split beside the nail")
    elif split:
        seen.append(f"split at turn {split}")
    if run.fell or run.hold >= 1:
        return tuple(seen)
    rise = run.rise_mm / reference.rise_mm
    two = run.two_sided - reference.two_sided * rise
    uneven = run.out_of_level_mm - reference.out_of_level_mm * rise
    if abs(two) + NOTICED["rocks"][1] * rng.standard_normal() > NOTICED["rocks"][0]:
        seen.append("rocks, high along the grain" if two > 0 else "rocks, high across the grain")
    if uneven + NOTICED["rim not level"][1] * rng.standard_normal() > NOTICED["rim not level"][0]:
        seen.append("rim not level")
    low, sd = NOTICED["came out shallow"]
    if rise + sd * rng.standard_normal() < low:
        seen.append("came out shallow")
    elif rise + sd * rng.standard_normal() > 2 - low:
        seen.append("came out deep")
    return tuple(["held", *seen] if seen else [])


def _readings_of(
    plan: Plan, bowl: Bowl, run: Run, drawn: Drawn, rng: np.random.Generator
) -> dict[str, float]:
    """What the maker's instruments read, errors as the packaged ones."""
    turns = len(run.drops_mm)
    held = np.minimum(run.drops_mm, bowl.board.thickness_mm)
    true = {
        "kerf": max(float(run.gauge_mm[-rng.integers(1, 50)]), 0.0),
        "kerf_inner": max(float(run.gauge_mm[rng.integers(1, 50)]), 0.0),
        "kerf_least": max(float(run.gauge_mm.min()), 0.0),
        "tilt": math.degrees(bowl.cut.tilt_rad[turns - 1]),
        "tilt_inner": math.degrees(bowl.cut.tilt_rad[0]),
        "thickness": bowl.board.thickness_mm,
        **{f"drop_{j + 1}": float(held[j]) for j in range(turns)},
        "rise": run.rise_mm,
        "rim_moisture": bowl.use.turn_moisture_percent[-1],
        "base_moisture": bowl.use.base_moisture_percent,
        "press": bowl.use.press_N,
        "slip_angle": math.degrees(math.atan(bowl.use.friction)),
        "least_width": float(drawn.width_mm[0].min()),
        "base": 2 * bowl.cut.base_radius_mm,
    }
    within = {m.key: m.within for m in MEASURES}
    read = {}
    for key, value in true.items():
        size = within.get(key, within["drop_N"]) * (value if key == "press" else 1.0)
        read[key] = value + size / 1.96 * rng.standard_normal()
        if not key.startswith("tilt"):
            read[key] = max(read[key], 0.01)
    right = rng.random() < 0.95
    read["nail"] = float(drawn.nail[0] if right else rng.integers(0, len(NAIL_WORDS)))
    return read


def _shows(
    plan: Plan, causes: tuple[Cause, ...], normals: Array, reference: Reference, seed: tuple[int, ...]
) -> tuple[tuple[str, ...], dict[str, float]]:
    """What a bowl shows; the same seed gives the same wander, nodes and luck with and without a cause."""
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    drawn = draw(plan, normals, causes, spread=wider(plan.spread))
    bowl = bowl_of(plan, drawn, rng)
    rigid = sawn(plan, drawn, rigid_fit(bowl), rng)
    run = run_of(bowl, rigid, int(drawn.nail[0]), int(rng.integers(*NODES)))
    seen = _seen_of(run, drawn, reference, rng)
    return seen, _readings_of(plan, bowl, run, drawn, rng) if seen else {}


def failed_bowl(
    plan: Plan, cause: Cause | None, reference: Reference, *, seed: tuple[int, ...]
) -> dict[str, Any]:
    """One bowl that failed by a cause (None: by nothing but the usual scatter), as plain values.

    A bowl that fails just the same without the cause is drawn again: there the cause did nothing. The
    number of draws it took is kept: it says how often the cause makes a bowl fail.
    """
    name = "the plan itself" if cause is None else cause.name
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    tries, without = 0, 0
    for tries in range(1, MOST_TRIES + 1):
        normals = rng.standard_normal((1, dimensions(plan)))
        normals[:, USUAL : USUAL + plan.turns] = 0.0
        luck = (*seed, tries)
        try:
            seen, readings = _shows(plan, () if cause is None else (cause,), normals, reference, luck)
            if failed(seen) and cause is not None and _shows(plan, (), normals, reference, luck)[0] == seen:
                continue
        except (NoConvergenceError, OutsideModelError, ValueError, IndexError):
            without += 1
            continue
        if failed(seen):
            found = {"seen": seen, "readings": readings}
            return {"cause": name, **found, "tries": tries, "without_answer": without}
    return {"cause": name, "seen": [], "readings": {}, "tries": tries, "without_answer": without}
