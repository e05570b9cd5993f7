"""Bowls that failed, by a finer and perturbed elastic model than the one that explains them.

Used by ``studies/04_failed_bowl.py``. A case is drawn with one cause of the packaged table, its size from
that table's own law, everything else wider than the explaining model's prior: friction, stiffness,
moisture, tilt and how hard the maker presses; a kerf that wanders along the cut with a length of its own;
another lag of the turns' moisture; 36 nodes a turn against 24. The elastic strip is pressed as hard as a
maker presses, who goes on until the bowl stays up or his hands give no more, and let go; what a maker could
see is read off it. A case that shows no failure, or only came out deep, is drawn again.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from wandering_kerf import wander, wave_weights

from fitsim.arrays import Array
from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.hand_press import REACH_N
from fitsim.bowl.strip_layout import laid_out
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.failure.causes import Cause
from fitsim.failure.failed_samples import NAIL_WORDS, BowlPlan, Samples, as_planned, dimensions, draw
from fitsim.failure.matching import OF_ONE_METER
from fitsim.failure.observations import MEASURES
from fitsim.failure.predict import BEYOND_LOG, LEAST_BEYOND
from fitsim.failure.pressed_samples import SawnBowl, sawn_bowl, with_nails
from fitsim.saw.oven_test import MOISTURE_VARIES_SD_percent
from fitsim.strip.load_step import prepare
from fitsim.strip.press import press
from fitsim.strip.release import kept, press_needed_N, state_at
from fitsim.strip.results import rim_height
from fitsim.strip.stress import resolved_stress
from fitsim.tolerances.samples import KERF_ROUND
from fitsim.wood.strength import SplitChance, chances_by_turn, grain_strength

NODES = 36
"""Elements in a turn; the explaining model has 24."""

HIGHEST_SEAT = 3.0
"""A seat counts as no higher than this over its turn's median: a tilt near zero has none."""

HARDER = 1.2
"""A maker whose bowl goes flat again presses harder by so much, until the hands give no more."""

MOST_TRIES = 10
WIDER = 1.3
NOTICED = {"rocks": (3.0, 0.8), "rim not level": (4.0, 1.5), "came out shallow": (0.85, 0.03)}


def wider(plan: BowlPlan) -> BowlPlan:
    """Everything wider than the explaining model believes; no wander from turn to turn."""
    kept = [d for d in plan.usual.dimensions if not d.name.startswith(KERF_ROUND)]
    wide = tuple(replace(d, size=WIDER * d.size) for d in kept)
    return replace(plan, usual=replace(plan.usual, dimensions=wide))


def sawn(plan: BowlPlan, samples: Samples, rigid: RigidFit, rng: np.random.Generator) -> RigidFit:
    """The kerf wanders along the cut, the slot closes by itself, a turn is thin for part of its way."""
    angle, slot = rigid.faces.angle_rad, np.array(rigid.faces.slot_mm)
    radius = np.interp(angle, rigid.strip.angle_rad, rigid.strip.radius_mm)
    arc = np.concatenate([[0.0], np.cumsum((radius[1:] + radius[:-1]) / 2 * np.diff(angle))])
    length = rng.uniform(20.0, 80.0)
    share, period = wave_weights(cut_mm=float(arc[-1]), length_mm=length)
    points = 2 * math.ceil(4 * period / length / 2)
    wave = wander(rng.standard_normal((1, 2 * len(share) - 1)), wave_share=share, points=points)[0]
    usual = plan.bowl.scatter.kerf_mm * rng.uniform(0.6, 2.0)
    slot += math.hypot(usual, float(samples.wander_mm[0])) * np.interp(
        arc, np.arange(points) * period / points, wave
    )
    clock = angle + plan.bowl.cut.root_rad
    slot -= float(samples.closed_mm[0]) * (0.5 + np.sin(clock) ** 2)
    width = np.array(rigid.strip.width_mm)
    ratio = samples.width_mm[0] / plan.width_mm
    j = int(np.argmin(ratio))
    if ratio[j] < 0.99:
        start = 2 * np.pi * (j + rng.uniform(0.0, 0.6))
        thin = np.exp(-(((rigid.strip.angle_rad - start) / 0.6) ** 2))
        width *= 1 - (1 - ratio[j]) * thin
    return replace(
        rigid, faces=replace(rigid.faces, slot_mm=slot), strip=replace(rigid.strip, width_mm=width)
    )


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
    held: bool
    press_N: float
    drops_mm: Array
    deepest: int
    rise_mm: float
    out_of_level_mm: float
    two_sided: float
    split: SplitChance | None
    gauge_mm: Array


def _two_sided(drop: Array, seat: Array, turn: Array, clock: Array) -> float:
    """How much lower the seats lie along the grain than across it, summed over the turns.

    An elastic turn hardly follows its seat down on two sides: what is left to sink there is the seat's
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


def pressed_with(needed_N: float, samples: Samples, spare: float) -> float:
    """How hard the maker presses: until it stays up and somewhat beyond, or with all there is. [N]"""
    beyond = max(spare * math.exp(WIDER * BEYOND_LOG * float(samples.beyond[0])), LEAST_BEYOND)
    hands_N = float(samples.hands_N[0])
    return min(min(beyond * needed_N, hands_N) * float(samples.press_times[0]), max(hands_N, REACH_N))


def run_of(made: SawnBowl, rigid: RigidFit, samples: Samples) -> Run:
    """Press a bowl as a maker does, let go, and read off what he could see."""
    bowl, slot = made.bowl, np.asarray(rigid.faces.slot_mm)
    gauge = slot * np.cos(np.interp(rigid.faces.angle_rad, rigid.slot.angle_rad, rigid.slot.tilt_rad))
    if slot.min() <= 0:
        nothing = np.zeros(len(rigid.faces.share))
        return Run(True, False, False, 0.0, nothing, 0, 0.0, 0.0, 0.0, None, gauge)
    elastic, wood = laid_out(bowl, rigid, NODES)
    elastic = with_nails(elastic, made.nail, NODES)
    path = press(elastic, float(samples.hands_N[0]))
    needed = press_needed_N(elastic, path)
    press_N = pressed_with(needed, samples, bowl.limits.press_spare)
    most = max(press_N, float(samples.hands_N[0]) if samples.press_times[0] >= 1 else 0.0)
    if most > path[-1].press_N and not path[-1].fell_through:
        path = press(elastic, most)
    while True:
        fell = path[-1].fell_through and path[-1].press_N <= press_N
        last = path[-1] if fell else state_at(elastic, path, press_N)
        fell = last.fell_through
        held = not fell and kept(prepare(elastic), last).holds
        if fell or held or press_N >= most:
            break
        press_N = min(HARDER * press_N, most)
    drop = np.asarray(last.drop_mm)
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    turns = int(elastic.turn.max())
    walked = [state for state in path[1:] if 0.3 * last.press_N <= state.press_N < last.press_N]
    splits = [resolved_stress(elastic, state, wood).split(strength) for state in (*walked, last)]
    split = max(splits, key=lambda s: s.chance)
    mean = np.array([drop[elastic.turn == j + 1].mean() for j in range(turns)])
    at = elastic.strip.position_mm[1:]
    clock = np.unwrap(np.arctan2(at[:, 1], at[:, 0]))
    seat = elastic.seats.slot_mm / np.maximum(np.tan(np.abs(elastic.seats.tilt_rad)), 0.02)
    rim = rim_height(elastic, last)
    return Run(
        False, fell, held, last.press_N, mean, int(elastic.turn[int(drop.argmax())]), rim.mean_mm,
        rim.out_of_level_mm, _two_sided(drop, seat, np.asarray(elastic.turn), clock), split, gauge,
    )  # fmt: skip


def reference_of(plan: BowlPlan) -> Reference:
    """The plan itself, pressed."""
    samples = as_planned(plan)
    made = sawn_bowl(plan, samples, 0)
    run = run_of(made, rigid_fit(made.bowl), samples)
    return Reference(run.rise_mm, run.out_of_level_mm, run.two_sided)


def _split_turn(run: Run, samples: Samples, rng: np.random.Generator) -> int:
    """Turn that splits, 0 for none: the weakest link of the whole strip, the turn by its share."""
    if run.split is None:
        return 0
    turns = min(run.split.risks.shape[1], samples.strength.shape[1])
    stress = 1 / samples.strength[:1, :turns]
    chances = chances_by_turn(run.split.risks[:, :turns], run.split.strength, stress)[0]
    at = int(np.searchsorted(np.cumsum(chances), rng.random()))
    return at + 1 if at < turns else 0


def _seen_of(run: Run, samples: Samples, reference: Reference, rng: np.random.Generator) -> tuple[str, ...]:
    seen: list[str] = []
    if run.shut:
        return ("would not open",)
    if run.fell:
        seen.append(f"fell through at turn {run.deepest}" if rng.random() < 0.5 else "fell through")
    elif not run.held:
        seen.append("sprang back")
    split = _split_turn(run, samples, rng)
    if samples.nail[0] == 2 and rng.random() < 0.95:
        seen.append("split beside the nail")
    elif split:
        seen.append(f"split at turn {split}")
    if run.fell or not run.held:
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


def _readings_of(made: SawnBowl, run: Run, samples: Samples, rng: np.random.Generator) -> dict[str, float]:
    """What the maker's instruments read, errors as the packaged ones."""
    bowl = made.bowl
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
        "press": run.press_N,
        "slip_angle": math.degrees(math.atan(bowl.use.friction)),
        "least_width": float(samples.width_mm[0].min()),
        "base": 2 * bowl.cut.base_radius_mm,
    }
    within = {m.key: m.within for m in MEASURES}
    read, meter = {}, rng.standard_normal()
    for key, value in true.items():
        size = within.get(key, within["drop_N"]) * (value if key == "press" else 1.0)
        if key in OF_ONE_METER:  # one error of the meter, and what the board differs from place to place
            read[key] = value + size / 1.96 * meter + MOISTURE_VARIES_SD_percent * rng.standard_normal()
        else:
            read[key] = value + size / 1.96 * rng.standard_normal()
        if not key.startswith("tilt"):
            read[key] = max(read[key], 0.01)
    right = rng.random() < 0.95
    read["nail"] = float(samples.nail[0] if right else rng.integers(0, len(NAIL_WORDS)))
    return read


def _shows(
    plan: BowlPlan, causes: tuple[Cause, ...], normals: Array, reference: Reference, seed: tuple[int, ...]
) -> tuple[tuple[str, ...], dict[str, float]]:
    """What a bowl shows; the same seed gives the same wander and luck with and without a cause."""
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    samples = draw(wider(plan), normals, causes)
    made = sawn_bowl(plan, samples, 0, turn_follows=rng.uniform(0.2, 0.6))
    rigid = sawn(plan, samples, rigid_fit(made.bowl), rng)
    run = run_of(made, rigid, samples)
    seen = _seen_of(run, samples, reference, rng)
    return seen, _readings_of(made, run, samples, rng) if seen else {}


def failed_bowl(
    plan: BowlPlan, cause: Cause | None, reference: Reference, *, seed: tuple[int, ...]
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
