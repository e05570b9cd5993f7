"""The next measurement: the reading expected to separate the causes most, and what its readings mean.

The gain of a reading is the expected fall of the entropy of the cause (D. V. Lindley, Annals of
Mathematical Statistics 27 (1956), from memory), worked out on bowls drawn from every cause that is still
likely: a made-up reading on each, and the chances it would leave.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fitsim.arrays import Array
from fitsim.causechance import CauseChance, Draws
from fitsim.drawn import LOOKS, Plan
from fitsim.explain import NONE_OF_THESE, Explanation
from fitsim.foretell import ModelError
from fitsim.odds import look_chances, model_sd, normal_log_density, state_seen
from fitsim.seen import MEASURES, NINETEEN_IN_20, Measure, measure_named

__all__ = ["Band", "NextReading", "gains_of_readings", "information_gain", "next_readings", "worth_taking"]

MADE_UP = 60
"""Made-up readings for each cause."""

ROWS = 150
"""Rows of each cause a reading is held against."""

BAND_STEPS = 80
NEARLY = 0.7
"""A cause this share as likely as the leading one is named beside it."""

OR = " or "
LEAST_GAIN, LEAST_SHARE, LEAST_OPEN = 0.03, 0.05, 0.15
"""A reading is advised if it is expected to tell this much (nats), and this share of what is open, and if
so much is open at all: with less one cause is all but certain."""


@dataclass(frozen=True)
class Band:
    """Readings that would point to one cause.

    Attributes
    ----------
    low, high : float or None
        From and to; None: open. For a look the place of its word. [unit of the reading]
    cause : str
        The cause they point to; two with "or" between them where both are about as likely.
    chance : float
        Its chance then, mean over the band. [-]
    """

    low: float | None
    high: float | None
    cause: str
    chance: float


@dataclass(frozen=True)
class NextReading:
    """One further measurement.

    Attributes
    ----------
    measure : Measure
        What to do.
    gain : float
        Expected fall of the entropy of the cause, in nats; of that there is :attr:`open_nats`. [-]
    open_nats : float
        Entropy of the cause now. [-]
    bands : tuple[Band, ...]
        What its readings would mean, low readings first.
    """

    measure: Measure
    gain: float
    open_nats: float
    bands: tuple[Band, ...]


def _entropy(chance: Array) -> Array:
    return np.asarray(-np.sum(chance * np.log(np.maximum(chance, 1e-300)), axis=-1))


def information_gain(middle: Array, sd: Array, chance: Array, *, made_up: int, seed: int) -> float:
    """Expected fall of the entropy of the cause from one normal reading.

    Parameters
    ----------
    middle, sd : numpy.ndarray
        What each of m rows of each of c causes foretells, shape (c, m). [one unit]
    chance : numpy.ndarray
        Chances of the causes, sum 1, shape (c,). [-]
    made_up : int
        Made-up readings for each cause.
    seed : int
        Of the made-up readings.

    Returns
    -------
    float
        In nats, not below 0 but for luck. [-]
    """
    draw = np.random.default_rng(np.random.SeedSequence([seed, 5]))
    pick = draw.integers(0, middle.shape[1], size=(len(chance), made_up))
    rows = np.take_along_axis(middle, pick, axis=1), np.take_along_axis(sd, pick, axis=1)
    readings = rows[0] + rows[1] * draw.standard_normal(pick.shape)
    after = _after(readings.ravel(), middle, sd, chance).reshape(len(chance), made_up, -1)
    return float(_entropy(chance) - np.sum(chance * _entropy(after).mean(axis=1)))


def _after(readings: Array, middle: Array, sd: Array, chance: Array) -> Array:
    """Chances of the causes after each reading, shape (readings, causes)."""
    density = np.exp(normal_log_density(readings[:, None, None] - middle, sd)).mean(axis=2)
    worth = density * chance + 1e-300
    return np.asarray(worth / worth.sum(axis=1, keepdims=True))


def _keys(explanation: Explanation) -> list[str]:
    """Readings not taken yet that can be taken on this bowl."""
    plan, done = explanation.plan, {m.key for m in explanation.observed.measured}
    keys = [m.key for m in MEASURES if m.key not in ("drop_N", "drop")]
    if state_seen(explanation.observed.seen) in ("held", "sprang back"):
        keys += [f"drop_{j}" for j in range(2, plan.turns + 1)]
    else:
        keys.remove("rise")
    return [key for key in keys if key not in done]


@dataclass(frozen=True, eq=False)
class _Held:
    """What is held against every reading: causes with their chances and thinned rows."""

    names: tuple[str, ...]
    chance: Array
    readings: dict[str, Array]


def _held(chances: tuple[CauseChance, ...], draws: Draws) -> _Held:
    every = [int(p) for p in dict.fromkeys(draws.cause.tolist())]
    # A cause nobody listed cannot be looked for: the causes that can be are told apart.
    kept = [k for k, p in enumerate(every) if chances[p].name != NONE_OF_THESE] or [0]
    places = [every[k] for k in kept]
    foretold = [draws.foretold[k] for k in kept]
    chance = np.array([chances[p].chance for p in places])
    names = tuple(chances[p].name for p in places)
    step = max(len(next(iter(foretold[0].readings.values()))) // ROWS, 1)
    keys = foretold[0].readings
    readings = {key: np.stack([f.readings[key][::step] for f in foretold]) for key in keys}
    return _Held(names, chance / chance.sum(), readings)


def _normal_reading(key: str, middle: Array, plan: Plan) -> tuple[Measure, Array]:
    measure = measure_named(key)
    within = measure.within * middle if key == "press" else measure.within
    sd = np.hypot(within / NINETEEN_IN_20, model_sd(key, middle, plan, ModelError()))
    return measure, np.maximum(sd, 1e-9)


def gains_of_readings(
    explanation: Explanation, chances: tuple[CauseChance, ...], draws: Draws
) -> dict[str, float]:
    """Expected information of every reading that could be taken.

    Parameters
    ----------
    explanation, chances, draws : Explanation, tuple[CauseChance, ...], Draws
        The explanation, its chances cause by cause, and bowls drawn from them.

    Returns
    -------
    dict[str, float]
        By key, largest first, in nats. [-]
    """
    held = _held(chances, draws)
    gains = {}
    for key in _keys(explanation):
        if key in LOOKS:
            gains[key] = float(_entropy(held.chance) - np.sum(_look_left(key, held)))
            continue
        middle = held.readings[key]
        _, sd = _normal_reading(key, middle, explanation.plan)
        gains[key] = information_gain(middle, sd, held.chance, made_up=MADE_UP, seed=explanation.seed)
    return dict(sorted(gains.items(), key=lambda item: -item[1]))


def _look_table(key: str, held: _Held) -> Array:
    """Chance of finding each word under each cause, shape (causes, words)."""
    return np.stack([look_chances(key, rows).mean(axis=0) for rows in held.readings[key]])


def _look_left(key: str, held: _Held) -> Array:
    """Entropy left after each word, weighed by the chance of finding it, shape (words,)."""
    joint = _look_table(key, held) * held.chance[:, None]
    each = joint.sum(axis=0)
    return np.asarray(each * _entropy((joint / each).T))


def worth_taking(gain: float, open_nats: float) -> bool:
    """Whether a reading is worth advising.

    Parameters
    ----------
    gain, open_nats : float
        Expected fall of the entropy of the cause, and that entropy. [nats]

    Returns
    -------
    bool
        True if it tells enough of what is still open.
    """
    return open_nats >= LEAST_OPEN and gain >= max(LEAST_GAIN, LEAST_SHARE * open_nats)


def next_readings(
    explanation: Explanation, chances: tuple[CauseChance, ...], draws: Draws, *, most: int = 3
) -> tuple[NextReading, ...]:
    """The readings that separate the causes most, the best first.

    Parameters
    ----------
    explanation, chances, draws : Explanation, tuple[CauseChance, ...], Draws
        As for :func:`gains_of_readings`.
    most : int
        How many.

    Returns
    -------
    tuple[NextReading, ...]
        Empty where no reading is expected to tell anything.
    """
    held = _held(chances, draws)
    now = float(_entropy(held.chance))
    found = []
    for key, gain in list(gains_of_readings(explanation, chances, draws).items())[:most]:
        if worth_taking(gain, now):
            bands = _look_bands(key, held) if key in LOOKS else _bands(key, held, explanation.plan)
            found.append(NextReading(measure_named(key), gain, now, bands))
    return tuple(found)


def _look_bands(key: str, held: _Held) -> tuple[Band, ...]:
    joint = _look_table(key, held) * held.chance[:, None]
    after = joint / joint.sum(axis=0)
    best = after.argmax(axis=0)
    return tuple(
        Band(float(k), float(k), held.names[int(best[k])], float(after[best[k], k]))
        for k in range(len(LOOKS[key]))
    )


def _bands(key: str, held: _Held, plan: Plan) -> tuple[Band, ...]:
    """Stretches of readings that point to one and the same cause."""
    middle = held.readings[key]
    _, sd = _normal_reading(key, middle, plan)
    weight = np.repeat(held.chance / middle.shape[1], middle.shape[1])
    order = np.argsort(middle.ravel())
    summed = np.cumsum(weight[order])
    ends = middle.ravel()[order][np.searchsorted(summed, [0.02, 0.98])]
    reach = float(np.median(sd))
    grid = np.linspace(ends[0] - reach, ends[1] + reach, BAND_STEPS)
    after = _after(grid, middle, sd, held.chance)
    labels = [_pointed_at(row, held.names) for row in after]
    starts = _runs(labels, least=max(1, int(reach / (grid[1] - grid[0]) / 2)))
    bands = []
    for start, stop in pairwise([*starts, len(grid)]):
        chosen = [held.names.index(name) for name in labels[start].split(OR)]
        mean = float(after[start:stop, chosen].sum(axis=1).mean())
        low = None if start == 0 else float((grid[start - 1] + grid[start]) / 2)
        high = None if stop == len(grid) else float((grid[stop - 1] + grid[stop]) / 2)
        bands.append(Band(low, high, labels[start], mean))
    return tuple(bands)


def _pointed_at(chance: Array, names: tuple[str, ...]) -> str:
    """The likeliest cause, with the next one where that is nearly as likely."""
    order = np.argsort(-chance)[:2].tolist()
    tied = len(order) > 1 and chance[order[1]] > NEARLY * chance[order[0]]
    return OR.join(names[i] for i in sorted(order[: 2 if tied else 1]))


def _runs(labels: list[str], *, least: int) -> list[int]:
    """Starts of runs of one label; a run shorter than the least goes to the one before it."""
    starts = [0]
    for at in range(1, len(labels)):
        if labels[at] != labels[starts[-1]]:
            run = next((k for k in range(at, len(labels)) if labels[k] != labels[at]), len(labels))
            if run - at >= least:
                starts.append(at)
    return starts
