"""Explanations told cause by cause: two causes of which one does nothing count as the other alone.

An explanation of two causes often fits just as well as one of them does alone: the second is idle, and
its chance is no more than its prior. Such a pair is told as the cause that does the work; only a pair that
fits clearly better than either alone stands by itself. Chances still add up to 1.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray
from fitsim.failure.explanations import (
    AS_PLANNED,
    NONE_OF_THESE,
    RELIABLE_SE,
    RELIABLE_SIZE,
    Explanation,
    Weighing,
    predicted_at,
)
from fitsim.failure.failed_samples import Samples, dimensions, draw
from fitsim.failure.predict import Predicted

__all__ = [
    "BestFit",
    "CauseChance",
    "PosteriorSamples",
    "best_fits",
    "cause_chances",
    "percent_words",
    "posterior_samples",
]

BETTER_TOGETHER = math.log(3.0)
"""A pair stands by itself if it fits this much better than either alone (logarithm): our choice."""


@dataclass(frozen=True, eq=False)
class CauseChance:
    """One cause, or one pair that only fits together, with its chance.

    Attributes
    ----------
    name : str
        In a maker's words.
    weighing : Weighing
        The explanation it is told by.
    chance, se : float
        Chance, with that of idle pairs, and the standard error of the sampling. [-]
    reliable : bool
        Whether enough rows stand behind it.
    """

    name: str
    weighing: Weighing
    chance: float
    se: float
    reliable: bool


@dataclass(frozen=True)
class BestFit:
    """What a quantity most likely was.

    Attributes
    ----------
    key, unit : str
        The quantity and its unit.
    planned, value, sd : float
        What was meant; mean and standard deviation after everything seen and measured. [unit]
    low, high : float or None
        Ends of the range it is known as beforehand; None where it is no range. [unit]
    moved : float
        How far the mean lies from what it was before anything was seen, in standard deviations of the
        usual scatter; told of the plan itself, 0 elsewhere. [-]
    """

    key: str
    unit: str
    planned: float
    value: float
    sd: float
    low: float | None = None
    high: float | None = None
    moved: float = 0.0


@dataclass(frozen=True, eq=False)
class PosteriorSamples:
    """Rows drawn by their chance from every cause worth it.

    Attributes
    ----------
    cause : numpy.ndarray
        Place of each row's cause in the list of chances, shape (n,).
    samples : tuple[Samples, ...]
        The bowls, one group a cause.
    predicted : tuple[Predicted, ...]
        What is predicted of them.
    """

    cause: IntArray
    samples: tuple[Samples, ...]
    predicted: tuple[Predicted, ...]


def percent_words(chance: float) -> str:
    """A chance in percent; one that is all but certain is not said to be certain.

    Parameters
    ----------
    chance : float
        The chance. [-]

    Returns
    -------
    str
        For example "93 %".

    Examples
    --------
    >>> percent_words(0.9342), percent_words(0.9961)
    ('93 %', 'over 99 %')
    """
    return "over 99 %" if chance >= 0.995 else f"{100 * chance:.0f} %"


def cause_chances(explanation: Explanation) -> tuple[CauseChance, ...]:
    """Chance of each cause, likeliest first.

    Parameters
    ----------
    explanation : Explanation
        The explanation.

    Returns
    -------
    tuple[CauseChance, ...]
        Chances adding up to 1.
    """
    alone = {w.hypothesis.name: w for w in explanation.weighings if len(w.hypothesis.causes) < 2}
    chance = {name: w.chance for name, w in alone.items()}
    square = {name: w.se**2 for name, w in alone.items()}
    for pair in explanation.weighings:
        if len(pair.hypothesis.causes) == 2:
            for name, share in _told_as(pair, alone).items():
                chance[name] = chance.get(name, 0.0) + share * pair.chance
                square[name] = square.get(name, 0.0) + (share * pair.se) ** 2
    by_name = {w.hypothesis.name: w for w in explanation.weighings}
    order = sorted(chance, key=lambda name: -chance[name])
    return tuple(_told(name, by_name[name], chance[name], math.sqrt(square[name])) for name in order)


def _told(name: str, weighing: Weighing, chance: float, se: float) -> CauseChance:
    rows = chance < 0.01 or weighing.weighed.size >= RELIABLE_SIZE
    return CauseChance(name, weighing, chance, se, rows and se <= RELIABLE_SE)


def _told_as(pair: Weighing, alone: dict[str, Weighing]) -> dict[str, float]:
    """Shares of a pair's chance by the name it is told under."""
    evidence = pair.weighed.log_evidence
    names = [cause.name for cause in pair.hypothesis.causes]
    each = np.array([alone[name].weighed.log_evidence for name in names])
    plain = alone[AS_PLANNED].weighed.log_evidence
    if evidence > max(float(each.max()), plain) + BETTER_TOGETHER:
        return {pair.hypothesis.name: 1.0}
    if plain >= evidence and plain >= each.max():
        return {AS_PLANNED: 1.0}
    if not np.isfinite(each.max()):
        return {names[0]: 0.5, names[1]: 0.5}
    share = np.exp(each - each.max())
    return dict(zip(names, (share / share.sum()).tolist(), strict=True))


def posterior_samples(
    explanation: Explanation, chances: tuple[CauseChance, ...], *, most: int = 8, rows: int = 600
) -> PosteriorSamples:
    """Bowls as they may have been, drawn by their chance.

    Parameters
    ----------
    explanation, chances : Explanation, tuple[CauseChance, ...]
        The explanation, and its chances cause by cause.
    most : int
        Causes at most, the likeliest.
    rows : int
        Rows of the likeliest cause; all causes get as many, their chances are kept apart.

    Returns
    -------
    PosteriorSamples
        ``rows`` for each cause.
    """
    luck = np.random.default_rng(np.random.SeedSequence([explanation.seed, 77]))
    samples, predicted, places = [], [], []
    for i, told in enumerate(chances[:most]):
        weight = told.weighing.weighed.weight
        if not weight.any():
            continue
        # Evenly spaced along the summed weights: every row as often as its weight asks for.
        at = (np.arange(rows) + luck.random()) / rows
        chosen = np.minimum(np.searchsorted(np.cumsum(weight), at), len(weight) - 1)
        bowls, now, _ = predicted_at(
            explanation.emulator, told.weighing.hypothesis,
            told.weighing.weighed.points[chosen], at_first=False,
        )  # fmt: skip
        samples.append(bowls)
        predicted.append(now)
        places.append(np.full(rows, i))
    return PosteriorSamples(np.concatenate(places), tuple(samples), tuple(predicted))


FITTED = {
    "tilt_deg": ("tilt", "deg", "tilt"),
    "kerf_mm": ("kerf", "mm", ""),
    "kerf_times": ("kerf", "mm", ""),
    "kerf_wander_mm": ("wander of the kerf", "mm", ""),
    "kerf_inner_mm": ("kerf at the innermost turn", "mm", ""),
    "thickness_mm": ("thickness", "mm", "thickness"),
    "reversed_to_turn": ("bevel reversed from the base out to turn", "", ""),
    "reversed_from_turn": ("bevel reversed from the rim in to turn", "", ""),
    "turns_short": ("turns not cut", "", ""),
    "thinned_share": ("least width of the strip", "mm", "least_width"),
    "friction_times": ("friction", "", ""),
    "film_mm": ("film on each face", "mm", ""),
    "rim_points": ("moisture of the rim", "percent", "rim_moisture"),
    "slot_closed_mm": ("slot closed by", "mm", ""),
    "grain_out_times": ("share of the usual strength left at the worst turn", "", ""),
    "press_times": ("press", "N", "press"),
    "strength_times": ("share of the usual strength left", "", ""),
    "stiffness": ("stiffness of the wood over the usual", "", ""),
    "hands_N": ("how hard you can push", "N", ""),
}
"""What to tell of each change, and of what else differs: words, unit, and the reading that shows it."""

ALWAYS_TOLD = ("tilt_deg", "kerf_mm")
IF_MOVED = ("friction_times", "film_mm", "thickness_mm", "stiffness", "hands_N")
"""Of the plan itself tilt and kerf are told, and of the others what the findings have moved."""

WORTH_TELLING_SD, OF_HELD_SD = 0.5, 0.15
"""So far moved, in standard deviations of the usual scatter, something is told of; less far where all that
was seen is that the bowl held, which hardly moves anything: our choices."""

BEFORE_ROWS = 1024
"""Rows for what is known beforehand."""

RANGED = {"film_mm": "use.film_mm", "friction_times": "use.friction", "hands_N": "use.press_N"}
"""Where a quantity of :data:`IF_MOVED` stands that a bowl file may give as a range."""


def best_fits(explanation: Explanation, told: CauseChance) -> tuple[BestFit, ...]:
    """The values that fit best under one cause.

    Parameters
    ----------
    explanation : Explanation
        The explanation.
    told : CauseChance
        The cause.

    Returns
    -------
    tuple[BestFit, ...]
        One for each quantity it changes; for the plan itself what the findings moved most from where it
        was thought to be, then tilt and kerf, which scatter most; for none of these nothing, because
        nothing is known of what it was.
    """
    hypothesis, weight = told.weighing.hypothesis, told.weighing.weighed.weight
    if not weight.any() or told.name == NONE_OF_THESE:
        return ()
    samples, now, _ = predicted_at(
        explanation.emulator, hypothesis, told.weighing.weighed.points, at_first=False
    )
    # What a cause left of the strength: over that of the same wood without it.
    left = samples.strength / draw(explanation.plan, told.weighing.weighed.points, ()).strength
    names = [change.quantity for cause in hypothesis.causes for change in cause.changes]
    moved: dict[str, float] = {}
    if told.name == AS_PLANNED:
        moved = _moved(explanation, told, {name: _value(name, samples, now, left) for name in IF_MOVED})
        names = [*moved, *ALWAYS_TOLD]
    ends = {u.path: (u.low, u.high) for u in explanation.plan.bowl.uncertain}
    found = []
    for name in dict.fromkeys(n for n in names if n in FITTED):
        words, unit, _ = FITTED[name]
        value = _value(name, samples, now, left)
        mean = float(weight @ value)
        sd = math.sqrt(max(float(weight @ (value - mean) ** 2), 0.0))
        low, high = ends.get(RANGED.get(name, ""), (None, None))
        planned = _planned(name, explanation)
        found.append(BestFit(words, unit, planned, mean, sd, low, high, moved.get(name, 0.0)))
    return tuple(found)


def _moved(explanation: Explanation, told: CauseChance, values: dict[str, Array]) -> dict[str, float]:
    """What lies elsewhere than it was thought to, the farthest first, in deviations of the scatter."""
    luck = np.random.default_rng(np.random.SeedSequence([explanation.seed, 31]))
    rows = luck.standard_normal((BEFORE_ROWS, dimensions(explanation.plan)))
    samples, now, _ = predicted_at(explanation.emulator, told.weighing.hypothesis, rows, at_first=False)
    held = all(seen.what == "held" for seen in explanation.observed.seen)
    least = OF_HELD_SD if held else WORTH_TELLING_SD
    weight, none = told.weighing.weighed.weight, np.ones_like(samples.strength)
    found = {}
    for name, value in values.items():
        before = _value(name, samples, now, none)
        away, sd = abs(float(weight @ value) - float(before.mean())), float(before.std())
        if away > least * sd > 0:
            found[name] = away / sd
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def _value(name: str, samples: Samples, now: Predicted, left: Array) -> Array:
    reading = FITTED[name][2]
    if reading:
        return now.readings[reading]
    reversed_turns = np.asarray((samples.tilt_rad < 0).sum(axis=1), dtype=np.float64)
    values: dict[str, Array] = {
        "kerf_mm": samples.kerf_mm[:, -1],  # as it was sawn: a gauge reads less by the film
        "kerf_times": samples.kerf_mm[:, -1],
        "kerf_inner_mm": samples.kerf_mm[:, 0],
        "kerf_wander_mm": samples.wander_mm,
        "reversed_to_turn": reversed_turns,
        "reversed_from_turn": samples.tilt_rad.shape[1] + 1 - reversed_turns,
        "turns_short": samples.short,
        "friction_times": samples.friction,
        "film_mm": samples.film_mm,
        "slot_closed_mm": samples.closed_mm,
        "grain_out_times": left.min(axis=1),
        "strength_times": left.mean(axis=1),
        "stiffness": samples.stiffness,
        "hands_N": samples.hands_N,
    }
    return values[name]


def _planned(name: str, explanation: Explanation) -> float:
    plan = explanation.plan
    board, use = plan.bowl.board, plan.bowl.use
    return {
        "tilt_deg": math.degrees(float(plan.tilt_rad[-1])),
        "kerf_mm": float(plan.kerf_mm[-1]),
        "kerf_times": float(plan.kerf_mm[-1]),
        "kerf_wander_mm": plan.bowl.scatter.kerf_mm,
        "kerf_inner_mm": float(plan.kerf_mm[0]),
        "thickness_mm": board.thickness_mm,
        "thinned_share": float(plan.width_mm.min()),
        "friction_times": use.friction,
        "film_mm": use.film_mm,
        "rim_points": float(plan.rim_of(plan.moisture_percent)),
        "press_times": explanation.emulator.planned.press_N,
        "grain_out_times": 1.0,
        "strength_times": 1.0,
        "stiffness": 1.0,
        "hands_N": use.press_N,
    }.get(name, 0.0)
