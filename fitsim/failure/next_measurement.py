"""The next measurement: what is expected to separate the causes most, and what its readings mean.

With a tool in hand a maker takes every reading it gives, so all of a tool's readings count as one
measurement. The gain is the expected fall of the entropy of the cause (D. V. Lindley, Annals of
Mathematical Statistics 27 (1956), from memory), worked out on bowls drawn from every cause that is still
likely: made-up readings on each, and the chances they would leave. The two readings of a moisture meter
share its error: they are held together as their sum and their difference, which do not.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fitsim.arrays import Array
from fitsim.failure.cause_chances import CauseChance, PosteriorSamples
from fitsim.failure.explanations import NONE_OF_THESE, Explanation
from fitsim.failure.failed_samples import LOOKS
from fitsim.failure.matching import OF_ONE_METER, given_the_other, look_chances, model_sd, state_seen
from fitsim.failure.observations import MEASURES, NINETEEN_IN_20, Measure, Observed, measure_named
from fitsim.failure.predict import Predicted
from fitsim.saw.oven_test import MOISTURE_VARIES_SD_percent

__all__ = [
    "TOOLS",
    "Band",
    "NextReading",
    "evenly_told",
    "gains_of_tools",
    "information_gain",
    "joined_runs",
    "next_readings",
    "readings_of_tool",
    "worth_taking",
]

TOOLS = {
    "feeler gauge": ("kerf", "kerf_inner", "kerf_least"),
    "bevel gauge": ("tilt", "tilt_inner"),
    "rule": ("rise", "base", "drop"),
    "callipers": ("thickness", "least_width"),
    "moisture meter": ("rim_moisture", "base_moisture"),
    "bathroom scale": ("press",),
    "off-cuts": ("slip_angle",),
    "eye on the nail": ("nail",),
    "knife": ("bevels",),
    "eye on the grain": ("grain",),
}
"""What each tool reads, all taken in one go; "drop" stands for the drop of every turn."""

MADE_UP = 60
"""Made-up readings for each cause."""

ROWS = 600
"""Rows of each cause: readings are made up on one half and held against the other."""

BAND_STEPS, SMOOTHED = 80, 40
NEARLY = 0.7
"""A cause this share as likely as the leading one is named beside it."""

LOOK_FIRST = 0.8
"""A look costs nothing: it goes before a measurement of which it tells at least this share: our choice."""

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
    """One further measurement: the most telling reading of a tool, and what else the tool reads.

    Attributes
    ----------
    measure : Measure
        What to do.
    tool : str
        One of :data:`TOOLS`.
    gain : float
        Expected fall of the entropy of the cause by all readings of the tool, in nats; of that there is
        :attr:`open_nats`. [-]
    open_nats : float
        Entropy of the cause now. [-]
    bands : tuple[Band, ...]
        What this reading alone would mean, low readings first.
    together : tuple[Measure, ...]
        The tool's other readings, the most telling first.
    """

    measure: Measure
    tool: str
    gain: float
    open_nats: float
    bands: tuple[Band, ...]
    together: tuple[Measure, ...]


def _entropy(chance: Array) -> Array:
    return np.asarray(-np.sum(chance * np.log(np.maximum(chance, 1e-300)), axis=-1))


def information_gain(middle: Array, sd: Array, chance: Array, *, made_up: int, seed: int) -> float:
    """Expected fall of the entropy of the cause from normal readings taken together.

    Parameters
    ----------
    middle, sd : numpy.ndarray
        What each of m rows of each of c causes predicts, shape (c, m), or (k, c, m) for k readings taken
        together. [one unit for each reading]
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
    middle, sd = (np.reshape(a, (-1, *a.shape[-2:])) for a in (middle, sd))
    # Readings are made up on one half of the rows and held against the other: no row meets itself.
    half = (middle.shape[2] + 1) // 2
    pick = 2 * draw.integers(0, half, size=(len(chance), made_up))
    rows = np.arange(len(chance))[:, None]
    readings = middle[:, rows, pick] + sd[:, rows, pick] * draw.standard_normal((len(middle), *pick.shape))
    against = slice(1, None, 2) if middle.shape[2] > 1 else slice(None)
    after = _after(readings.reshape(len(middle), -1), middle[..., against], sd[..., against], chance)
    left = _entropy(after.reshape(len(chance), made_up, -1)).mean(axis=1)
    return float(_entropy(chance) - np.sum(chance * left))


def _after(readings: Array, middle: Array, sd: Array, chance: Array) -> Array:
    """Chances of the causes after each reading of shape (k, readings); shape (readings, causes)."""
    k, causes, rows = middle.shape
    centre = middle.reshape(k, -1).mean(axis=1)
    off, m, s = readings - centre[:, None], middle - centre[:, None, None], 1 / sd**2
    # The sum of squares over the readings of one go, multiplied out: two products of matrices.
    square = (off**2).T @ s.reshape(k, -1) - 2 * off.T @ (m * s).reshape(k, -1)
    log_density = -0.5 * (square + (m**2 * s - np.log(s)).sum(axis=0).ravel())
    # Over the best row: a reading far from every row still lies nearest to some cause.
    density = np.exp(log_density - log_density.max(axis=1, keepdims=True))
    worth = density.reshape(-1, causes, rows).mean(axis=2) * chance
    return np.asarray(worth / worth.sum(axis=1, keepdims=True))


def _keys(explanation: Explanation) -> list[str]:
    """Readings not taken yet that can be taken on this bowl."""
    plan, done = explanation.plan, {m.key for m in explanation.observed.measured}
    keys = [m.key for m in MEASURES if m.key not in ("drop_N", "drop")]
    if state_seen(explanation.observed.seen) in ("held", "sprang back"):
        keys += [f"drop_{j}" for j in range(2, plan.turns_with_drop + 1)]
    else:
        keys.remove("rise")
    return [key for key in keys if key not in done]


@dataclass(frozen=True, eq=False)
class _Held:
    """What is held against every reading: causes with their chances and thinned rows."""

    names: tuple[str, ...]
    chance: Array
    readings: dict[str, Array]
    sd: dict[str, Array]


def _held(explanation: Explanation, chances: tuple[CauseChance, ...], posterior: PosteriorSamples) -> _Held:
    every = [int(p) for p in dict.fromkeys(posterior.cause.tolist())]
    # A cause nobody listed cannot be looked for: the causes that can be are told apart.
    kept = [k for k, p in enumerate(every) if chances[p].name != NONE_OF_THESE] or [0]
    places = [every[k] for k in kept]
    predicted = [posterior.predicted[k] for k in kept]
    chance = np.array([chances[p].chance for p in places])
    names = tuple(chances[p].name for p in places)
    step = max(len(next(iter(predicted[0].readings.values()))) // ROWS, 1)
    keys = predicted[0].readings
    readings = {key: np.stack([f.readings[key][::step] for f in predicted]) for key in keys}
    sd = {k: np.stack([_reading_sd(k, f)[::step] for f in predicted]) for k in keys if k not in LOOKS}
    _known_of_the_meter(explanation.observed, readings, sd)
    return _Held(names, chance / chance.sum(), readings, sd)


def _own_sd(key: str) -> float:
    """Standard deviation of a reading by its instrument alone. [unit, of a press -]"""
    return measure_named(key).within / NINETEEN_IN_20


def _reading_sd(key: str, predicted: Predicted) -> Array:
    """Standard deviation of a reading on each bowl, instrument and model together."""
    middle = predicted.readings[key]
    sd = _own_sd(key) * (middle if key == "press" else 1.0)
    return np.maximum(np.hypot(sd, model_sd(key, middle, predicted)), 1e-9)


def _known_of_the_meter(observed: Observed, readings: dict[str, Array], sd: dict[str, Array]) -> None:
    """What a meter's first reading told of its error is expected of its second."""
    metered = [reading for reading in observed.measured if reading.key in OF_ONE_METER]
    if len(metered) != 1:
        return
    (taken,) = metered
    (other,) = set(OF_ONE_METER) - {taken.key}
    more, sd[other] = given_the_other(
        off=taken.value - readings[taken.key],
        other_sd=np.hypot(taken.sd, MOISTURE_VARIES_SD_percent),
        sd=sd[other],
        shared_sd=min(taken.sd, _own_sd(other)),
    )
    readings[other] = readings[other] + more


def _gains_alone(explanation: Explanation, held: _Held) -> dict[str, float]:
    """Expected information of every reading that could be taken, largest first. [nats]"""
    gains = {}
    for key in _keys(explanation):
        if key in LOOKS:
            gains[key] = float(_entropy(held.chance) - np.sum(_look_left(key, held)))
            continue
        gains[key] = information_gain(
            held.readings[key], held.sd[key], held.chance, made_up=MADE_UP, seed=explanation.seed
        )
    return dict(sorted(gains.items(), key=lambda item: -item[1]))


def readings_of_tool(tool: str, able: Sequence[str]) -> list[str]:
    """The keys of a tool among those that can be read.

    Parameters
    ----------
    tool : str
        One of :data:`TOOLS`.
    able : Sequence[str]
        Keys that can be read.

    Returns
    -------
    list[str]
        In the order of ``able``.
    """
    return [key for key in able if (key.split("_")[0] if key.startswith("drop") else key) in TOOLS[tool]]


def gains_of_tools(
    explanation: Explanation, chances: tuple[CauseChance, ...], posterior: PosteriorSamples
) -> dict[str, tuple[float, list[str]]]:
    """Expected information of everything a tool reads, taken together.

    Parameters
    ----------
    explanation, chances, posterior : Explanation, tuple[CauseChance, ...], PosteriorSamples
        The explanation, its chances cause by cause, and bowls drawn from them.

    Returns
    -------
    dict[str, tuple[float, list[str]]]
        By tool, the most worth taking first (:data:`LOOK_FIRST`): nats, and the keys of its readings, the
        most telling first. [-]
    """
    return _gains_together(explanation, _held(explanation, chances, posterior))


def _gains_together(explanation: Explanation, held: _Held) -> dict[str, tuple[float, list[str]]]:
    found: dict[str, tuple[float, list[str]]] = {}
    alone = _gains_alone(explanation, held)
    for tool in TOOLS:
        keys = readings_of_tool(tool, list(alone))
        if len(keys) > 1:
            middle, sd = (np.stack([of[key] for key in keys]) for of in (held.readings, held.sd))
            if set(keys) == set(OF_ONE_METER):
                middle, sd = _sum_and_difference(middle, sd, shared_sd=_own_sd(keys[0]))
            gain = information_gain(middle, sd, held.chance, made_up=MADE_UP, seed=explanation.seed)
            found[tool] = (gain, keys)
        elif keys:
            found[tool] = (alone[keys[0]], keys)

    def worth(tool: str) -> float:
        gain, keys = found[tool]
        return gain / LOOK_FIRST if all(key in LOOKS for key in keys) else gain

    return {tool: found[tool] for tool in sorted(found, key=worth, reverse=True)}


def _sum_and_difference(middle: Array, sd: Array, *, shared_sd: float) -> tuple[Array, Array]:
    """Sum and difference, over root 2, of two equally exact readings: what both share is in the sum."""
    turned = np.stack([middle[0] + middle[1], middle[0] - middle[1]]) / math.sqrt(2)
    return turned, np.sqrt(np.stack([sd[0] ** 2 + shared_sd**2, sd[0] ** 2 - shared_sd**2]))


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
    explanation: Explanation,
    chances: tuple[CauseChance, ...],
    posterior: PosteriorSamples,
    *,
    most: int = 3,
) -> tuple[NextReading, ...]:
    """The measurements that separate the causes most, the best first.

    Parameters
    ----------
    explanation, chances, posterior : Explanation, tuple[CauseChance, ...], PosteriorSamples
        As for :func:`gains_of_tools`.
    most : int
        How many.

    Returns
    -------
    tuple[NextReading, ...]
        One a tool; empty where no reading is expected to tell anything.
    """
    held = _held(explanation, chances, posterior)
    now = float(_entropy(held.chance))
    found = []
    for tool, (gain, keys) in list(_gains_together(explanation, held).items())[:most]:
        if worth_taking(gain, now):
            bands = _look_bands(keys[0], held) if keys[0] in LOOKS else _bands(keys[0], held)
            first, *others = (measure_named(key) for key in keys)
            found.append(NextReading(first, tool, gain, now, bands, tuple(others)))
    return tuple(found)


def _look_bands(key: str, held: _Held) -> tuple[Band, ...]:
    joint = _look_table(key, held) * held.chance[:, None]
    after = joint / joint.sum(axis=0)
    best = after.argmax(axis=0)
    return tuple(
        Band(float(k), float(k), held.names[int(best[k])], float(after[best[k], k]))
        for k in range(len(LOOKS[key]))
    )


def _bands(key: str, held: _Held) -> tuple[Band, ...]:
    """Stretches of readings that point to one cause, none inside shorter than a reading is uncertain."""
    middle = held.readings[key]
    sd = held.sd[key]
    weight = np.repeat(held.chance / middle.shape[1], middle.shape[1])
    order = np.argsort(middle.ravel())
    summed = np.cumsum(weight[order])
    ends = middle.ravel()[order][np.searchsorted(summed, [0.02, 0.98])]
    least = -math.inf if key.startswith("tilt") else 0.0  # nothing else that is read lies below nothing
    grid, step_sd = evenly_told(middle.ravel()[order], sd.ravel()[order], ends, least=least)
    after = _after(grid[None], middle[None], sd[None], held.chance)
    labels = [_pointed_at(row, held.names) for row in after]
    starts, labels = joined_runs(labels, least=math.ceil(NINETEEN_IN_20 / step_sd))
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


def evenly_told(middle: Array, sd: Array, ends: Array, *, least: float) -> tuple[Array, float]:
    """Readings from end to end, each as many standard deviations of a reading from the next one.

    A press is read to a share of itself: where it is small its readings lie closer together.

    Parameters
    ----------
    middle, sd : numpy.ndarray
        What rows predict, in rising order, and how uncertain the reading is on each, shape (n,). [unit]
    ends : numpy.ndarray
        Where nearly all of them lie between, shape (2,). [unit]
    least : float
        No reading is less. [unit]

    Returns
    -------
    tuple[numpy.ndarray, float]
        Readings, and how many standard deviations lie between two. [unit, -]
    """
    about = max(len(sd) // SMOOTHED, 1)
    blocks = [slice(k, k + about) for k in range(0, len(sd), about)]
    at = np.array([np.median(middle[b]) for b in blocks])
    near = np.array([np.median(sd[b]) for b in blocks])
    low = max(ends[0] - float(np.interp(ends[0], at, near)), least)
    high = ends[1] + float(np.interp(ends[1], at, near))
    fine = np.linspace(low, high, 40 * BAND_STEPS)
    per = 1 / np.interp(fine, at, near)
    told = np.concatenate([[0.0], np.cumsum((per[1:] + per[:-1]) / 2 * np.diff(fine))])
    grid = np.interp(np.linspace(0.0, told[-1], BAND_STEPS), told, fine)
    return grid, float(told[-1]) / (BAND_STEPS - 1)


def joined_runs(labels: list[str], *, least: int) -> tuple[list[int], list[str]]:
    """Starts of runs of one label, and the labels with what was joined.

    A run shorter than the least goes to the one before it; one with none before it, to the next.

    Parameters
    ----------
    labels : list[str]
        What each reading points to, low readings first.
    least : int
        Readings that a run has at least; where none has so many the longest stands for all.

    Returns
    -------
    tuple[list[int], list[str]]
        Where each run begins, the first at 0, and what each reading is joined to.
    """
    ends = [k for k in range(1, len(labels)) if labels[k] != labels[k - 1]]
    runs = list(pairwise([0, *ends, len(labels)]))
    long = [run for run in runs if run[1] - run[0] >= least] or [max(runs, key=lambda r: r[1] - r[0])]
    starts, joined = [0], [labels[long[0][0]]] * len(labels)
    for start, _ in long[1:]:
        if labels[start] != joined[-1]:
            starts.append(start)
            joined[start:] = [labels[start]] * (len(labels) - start)
    return starts, joined
