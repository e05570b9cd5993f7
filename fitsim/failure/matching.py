"""How well predicted bowls match what was seen and measured, term by term.

Seen states count by their predicted chance, with a floor: now and then a maker sees, or writes, another
thing than what happened. What a maker would have noticed and did not write counts as not seen. Readings
are normal about what is predicted, with the reading's own uncertainty and the model's beside it. Two that
one moisture meter gives share its error: what they tell of rim against base is told by their difference.
"""

import math

import numpy as np

from fitsim.arrays import Array
from fitsim.failure.failed_samples import LOOKS, BowlPlan
from fitsim.failure.observations import Measured, Observed, Seen
from fitsim.failure.predict import HELD_STATES, Predicted
from fitsim.saw.oven_test import MOISTURE_VARIES_SD_percent

__all__ = [
    "BOTH_MOISTURES",
    "OF_ONE_METER",
    "SEEN_WRONGLY",
    "asks_of_first",
    "given_the_other",
    "look_chances",
    "match_terms",
    "misfit_terms",
    "model_sd",
    "normal_log_density",
    "noticed_chance",
    "seen_chance",
    "state_seen",
]

SEEN_WRONGLY = 0.01
"""Share of makers who see or write another thing than what happened: an estimate."""

HARDLY_WRONGLY = 1e-6
"""The same where it is asked whether anything fits at all: so few that what was seen wrongly shows, and not
none, because a chance of nothing has no logarithm."""

SLIPPED = 6.0
"""A reading that slipped strays so many times farther: an estimate."""

OTHERWISE = 0.1
"""Share of the mistaken that name any one of the other things."""

LOOKED_RIGHTLY = {"nail": 0.95, "bevels": 0.9, "grain": 0.8}
"""Share of makers who look at it and find the right word: estimates."""

SHALLOW, DEEP, RISE_SD = 0.85, 1.15, 0.05
"""A rise below or above these shares of the plan's is noticed as shallow or deep, within so much."""

ROCKS_MM, ROCKS_SD_MM = 3.0, 0.8
UNEVEN_MM, UNEVEN_SD_MM = 4.0, 1.5
"""From where on a bowl is said to rock (how much lower the seats lie on two sides, summed over the turns),
or its rim not to be level: estimates."""

ONLY_RIM_NAMED = 0.3
"""Of bowls whose free end has come loose and whose last turn has dropped so many makers name only the rim,
not that a turn fell through: an estimate."""

OF_ONE_METER = ("rim_moisture", "base_moisture")
"""Readings that share the error of one instrument."""

BOTH_MOISTURES = " and ".join(OF_ONE_METER)
"""Name of what both of them tell together."""

OF_RISE = ("came out shallow", "came out deep")
"""What a measured rise tells as well."""

OF_HELD = ("rocks", "rim not level", *OF_RISE)
"""What can be noticed only on a bowl that holds."""


def _beyond(value: Array, limit: float, sd: Array | float) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr((value - limit) / sd))


def _beyond_either(value: Array, limit: float, sd: Array, *, one_way: bool) -> Array:
    """Chance of lying beyond a limit, or beyond it either way."""
    up = _beyond(value, limit, sd)
    return up if one_way else np.asarray(up + _beyond(-value, limit, sd))


def _floored(chance: Array, otherwise: float, wrongly: float) -> Array:
    return np.asarray((1 - wrongly) * chance + wrongly * otherwise)


def state_seen(seen: tuple[Seen, ...]) -> str | None:
    """What the bowl as a whole is said to have done.

    Parameters
    ----------
    seen : tuple[Seen, ...]
        What was seen.

    Returns
    -------
    str or None
        One of :data:`fitsim.failure.predict.HELD_STATES`; a bowl that rocks or came out shallow holds; None
        where only a split was seen, which may happen to any.
    """
    named = [s.what for s in seen]
    for state in HELD_STATES:
        if state in named:
            return state
    return "held" if any(what in OF_HELD for what in named) else None


def noticed_chance(what: str, predicted: Predicted, seen: Seen | None = None) -> Array:
    """Chance that something is noticed on each bowl if it holds, at its place if one is given.

    Parameters
    ----------
    what : str
        "rocks", "rim not level", "came out shallow" or "came out deep".
    predicted : Predicted
        What is predicted of the bowls.
    seen : Seen or None
        What was seen, for its place.

    Returns
    -------
    numpy.ndarray
        Shape (n,). [-]
    """
    if what == "rocks":
        size, one_way = predicted.rocks_mm, False
        if seen is not None and seen.place is not None:
            sign = 1.0 if seen.place == "high along the grain" else -1.0
            size, one_way = sign * predicted.rocks_mm, True
        return _beyond_either(size, ROCKS_MM, np.hypot(ROCKS_SD_MM, predicted.rocks_sd_mm), one_way=one_way)
    if what == "rim not level":
        return _beyond(predicted.uneven_mm, UNEVEN_MM, np.hypot(UNEVEN_SD_MM, predicted.tips_mm))
    if what == "came out shallow":
        return _beyond(-predicted.rise_share, -SHALLOW, RISE_SD)
    return _beyond(predicted.rise_share, DEEP, RISE_SD)


def _split_chance(predicted: Predicted, seen: Seen | None) -> Array:
    splits = predicted.splits
    whole = 1 - (1 - splits.sum(axis=1)) * (1 - predicted.split_end)
    if seen is None or (seen.turn is None and seen.place is None):
        return np.asarray(whole)
    if seen.place == "beside the nail":
        return predicted.split_end
    return np.asarray(splits[:, 0 if seen.place == "near the root" else int(seen.turn or 1) - 1])


def _hanging_end(predicted: Predicted) -> Array:
    """Chance that nothing holds the free end and the last turn alone has dropped."""
    loose = np.isin(predicted.readings["nail"], (1, 2))
    fell = predicted.state[:, HELD_STATES.index("fell through")]
    return np.asarray(loose * fell * predicted.falls_at[:, -1])


def seen_chance(
    seen: tuple[Seen, ...],
    predicted: Predicted,
    *,
    rise_read: bool = False,
    wrongly: float = SEEN_WRONGLY,
) -> dict[str, Array]:
    """Chance of everything seen, and of what would have been noticed and was not, on each bowl.

    Parameters
    ----------
    seen : tuple[Seen, ...]
        What was seen, all at one time.
    predicted : Predicted
        What is predicted for that time.
    rise_read : bool
        Whether the rise was measured: then it has been told, and that nobody called it shallow or deep
        says nothing more.
    wrongly : float
        Share of makers who see or write another thing than what happened. [-]

    Returns
    -------
    dict[str, numpy.ndarray]
        By what was seen, each of shape (n,); empty where nothing was. [-]
    """
    if not seen:
        return {}
    by_what = {s.what: s for s in seen}
    terms: dict[str, Array] = {}
    state = state_seen(seen)
    of_whole = set(by_what) & {*HELD_STATES, *OF_HELD}
    hangs = ONLY_RIM_NAMED * _hanging_end(predicted) * (of_whole == {"rim not level"})
    if state is not None:
        chance = predicted.state[:, HELD_STATES.index(state)] + hangs
        fell = by_what.get("fell through")
        otherwise = 1 / len(HELD_STATES)
        if state == "fell through" and fell is not None and fell.turn:
            chance = chance * predicted.falls_at[:, fell.turn - 1]
            otherwise /= predicted.falls_at.shape[1]
        terms[state] = _floored(chance, otherwise, wrongly)
    split = by_what.get("split")
    chance = _split_chance(predicted, split)
    place = 1.0 if split is None or (split.turn is None and split.place is None) else 0.3
    terms["split" if split else "no split"] = _floored(
        chance if split else 1 - chance, OTHERWISE * place, wrongly
    )
    if state == "held":
        for what in OF_HELD:
            if rise_read and what in OF_RISE and what not in by_what:
                continue
            chance = noticed_chance(what, predicted, by_what.get(what))
            if what == "rim not level":
                held = predicted.state[:, HELD_STATES.index("held")]
                chance = (held * chance + hangs) / np.maximum(held + hangs, 1e-300)
            name = what if what in by_what else f"not: {what}"
            terms[name] = _floored(chance if what in by_what else 1 - chance, OTHERWISE, wrongly)
    return terms


def model_sd(key: str, value: Array, predicted: Predicted) -> Array:
    """How far what is predicted for a reading may be off, one standard deviation.

    Parameters
    ----------
    key : str
        Key of the measure.
    value : numpy.ndarray
        What is predicted. [unit of the key]
    predicted : Predicted
        What is predicted besides, with its errors: a slot is read at one place of a wandering kerf.

    Returns
    -------
    numpy.ndarray
        Same shape. [unit of the key]
    """
    if key.startswith("drop"):
        return np.hypot(np.hypot(predicted.error.drop_share * value, 0.1), predicted.drop_sd_mm)
    if key == "rise":  # the drops of all turns stacked
        of_drops = math.sqrt(predicted.drops_mm.shape[1]) * predicted.drop_sd_mm
        return np.hypot(np.hypot(predicted.error.rise_share * value, 0.5), of_drops)
    if key in predicted.slot_sd_mm:
        return predicted.slot_sd_mm[key]
    known = {"base": 1.0, **dict.fromkeys(OF_ONE_METER, MOISTURE_VARIES_SD_percent)}
    return np.full(np.shape(value), known.get(key, 0.0))


def normal_log_density(off: Array, sd: Array) -> Array:
    """Logarithm of a normal density.

    Parameters
    ----------
    off, sd : numpy.ndarray
        Distance from the middle and standard deviation. [one unit]

    Returns
    -------
    numpy.ndarray
        Same shape.
    """
    return np.asarray(-0.5 * (off / sd) ** 2 - np.log(sd) - 0.5 * math.log(2 * math.pi))


def given_the_other(*, off: Array, other_sd: Array, sd: Array, shared_sd: float) -> tuple[Array, Array]:
    """What one reading is to be expected to show once another with the same error in it is known.

    The second of two normal numbers with the covariance shared_sd^2, given the first.

    Parameters
    ----------
    off, other_sd : numpy.ndarray
        How far the other reading lies from what is predicted for it, and its standard deviation. [unit]
    sd : numpy.ndarray
        Standard deviation of this one alone. [unit]
    shared_sd : float
        Standard deviation of the error in both. [unit]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        How far this one is to be expected from what is predicted, and its standard deviation. [unit]

    Examples
    --------
    >>> given_the_other(
    ...     off=np.array([2.0]), other_sd=np.array([5.0]), sd=np.array([3.0]), shared_sd=3.0
    ... )
    (array([0.72]), array([2.4]))
    """
    share = (shared_sd / other_sd) ** 2
    return np.asarray(share * off), np.sqrt(sd**2 - (share * other_sd) ** 2)


def look_chances(key: str, value: Array) -> Array:
    """Chance of finding each word when looking at something.

    Parameters
    ----------
    key : str
        One of :data:`fitsim.failure.failed_samples.LOOKS`.
    value : numpy.ndarray
        Places of the true words, shape (n,).

    Returns
    -------
    numpy.ndarray
        Shape (n, words), each row adding up to 1. [-]
    """
    words, right = len(LOOKS[key]), LOOKED_RIGHTLY[key]
    true = value[:, None] == np.arange(words)
    return np.where(true, right, (1 - right) / (words - 1))


def _found_log_chance(reading: Measured, predicted: Predicted) -> Array:
    """Logarithm of the chance of the word that was found."""
    return np.log(look_chances(reading.key, predicted.readings[reading.key])[:, int(reading.value)])


def _off(reading: Measured, predicted: Predicted, plan: BowlPlan) -> tuple[Array, Array]:
    """How far a reading lies from what is predicted, and its standard deviation. [unit of the key]"""
    value = predicted.readings[reading.key]
    if reading.key == "drop" and plan.turns > 1:  # said of every turn: the farthest counts
        drops = predicted.drops_mm.copy()
        # The innermost starts from the base's own level: it counts only where it has fallen.
        bound = drops[:, 0] < 0.98 * np.minimum(predicted.readings["thickness"], drops.max(axis=1))
        drops[bound, 0] = drops[bound, 1]
        farthest = np.argmax(np.abs(drops - reading.value), axis=1)
        value = drops[np.arange(len(drops)), farthest]
    return reading.value - value, np.hypot(reading.sd, model_sd(reading.key, value, predicted))


def _reading_term(reading: Measured, predicted: Predicted, plan: BowlPlan) -> Array:
    if reading.key in LOOKS:
        return _found_log_chance(reading, predicted)
    off, sd = _off(reading, predicted, plan)
    # A normal has no room for a slip of the rule; a wide, low one beside it does, as for the seen states.
    near = normal_log_density(off, sd)
    far = normal_log_density(off, SLIPPED * sd)
    return np.logaddexp(math.log(1 - SEEN_WRONGLY) + near, math.log(SEEN_WRONGLY) + far)


def _off_of_one_meter(
    readings: list[Measured], predicted: Predicted, plan: BowlPlan
) -> tuple[list[Array], list[Array], Array, Array]:
    """How far both lie from what is predicted, with their deviations, and the second's given the first."""
    off, sd = (list(each) for each in zip(*(_off(r, predicted, plan) for r in readings), strict=True))
    # Where one is told more exact than the other no more than its error can be in both.
    shared_sd = min(reading.sd for reading in readings)
    expected, left = given_the_other(off=off[0], other_sd=sd[0], sd=sd[1], shared_sd=shared_sd)
    return off, sd, expected, left


def _meter_term(readings: list[Measured], predicted: Predicted, plan: BowlPlan) -> Array:
    """Both readings of one meter: its error is in both, what a board differs from place to place in each.

    A slip of the hand is one reading's own, and the other then stands by itself.
    """
    off, sd, expected, left = _off_of_one_meter(readings, predicted, plan)
    near = [normal_log_density(o, s) for o, s in zip(off, sd, strict=True)]
    far = [normal_log_density(o, SLIPPED * s) for o, s in zip(off, sd, strict=True)]
    right, wrong = math.log(1 - SEEN_WRONGLY), math.log(SEEN_WRONGLY)
    both = near[0] + normal_log_density(off[1] - expected, left)
    slipped = [near[0] + far[1], far[0] + near[1]]
    return np.asarray(
        np.logaddexp.reduce(
            [2 * right + both, *(right + wrong + one for one in slipped), 2 * wrong + far[0] + far[1]]
        )
    )


def _only_later(now: dict[str, Array], first: dict[str, Array], wrongly: float) -> dict[str, Array]:
    """Chances that things are as they are now and were not so at the first opening.

    It is one bowl both times, with one wander and one strength: what its errors make it show now they made
    it show at first. So the chance of showing only now is the rise of the chance, not a product.
    """
    least = wrongly * OTHERWISE
    return {
        name: np.minimum(chance, first[name])
        if name == "held" or name.startswith(("not: ", "no split"))
        else np.maximum(chance - first[name], 0.0) + least
        for name, chance in now.items()
    }


def asks_of_first(observed: Observed) -> bool:
    """Whether anything seen says something of the first opening.

    Parameters
    ----------
    observed : Observed
        What was seen and measured.

    Returns
    -------
    bool
        True if a time is given with anything.
    """
    return any(s.when is not None for s in observed.seen)


def match_terms(
    observed: Observed,
    now: Predicted,
    first: Predicted | None,
    plan: BowlPlan,
) -> dict[str, Array]:
    """Log likelihood of each thing seen and measured, on each bowl.

    Parameters
    ----------
    observed : Observed
        What was seen and measured.
    now, first : Predicted
        What is predicted as the bowl is now, and for its first opening; None where nothing is said of
        that (:func:`asks_of_first`).
    plan : BowlPlan
        The plan.

    Returns
    -------
    dict[str, numpy.ndarray]
        By what was seen or the key of the reading (:data:`BOTH_MOISTURES` for two of one meter), each of
        shape (n,).
    """
    logs = _seen_logs(observed, now, first)
    metered, alone = _metered_and_alone(observed)
    if metered:
        logs[BOTH_MOISTURES] = _meter_term(metered, now, plan)
    return logs | {r.key: _reading_term(r, now, plan) for r in alone}


def misfit_terms(
    observed: Observed,
    now: Predicted,
    first: Predicted | None,
    plan: BowlPlan,
) -> dict[str, Array]:
    """How badly each thing seen and measured goes with each bowl, were nobody to see wrongly or to slip.

    Of a reading the square of how many standard deviations it lies off; of what was seen or found twice the
    logarithm lost by its chance. Unlike :func:`match_terms` a reading has no wide normal beside its own, so
    that one which slipped shows, and nothing is lost by a bowl whose readings stray widely.

    Parameters
    ----------
    observed, now, first, plan : Observed, Predicted, Predicted or None, BowlPlan
        As for :func:`match_terms`.

    Returns
    -------
    dict[str, numpy.ndarray]
        By the same names, each of shape (n,), 0 where it goes perfectly. [-]
    """
    seen = _seen_logs(observed, now, first, wrongly=HARDLY_WRONGLY)
    found = {name: -2 * log for name, log in seen.items()}
    metered, alone = _metered_and_alone(observed)
    if metered:
        off, sd, expected, left = _off_of_one_meter(metered, now, plan)
        found[BOTH_MOISTURES] = (off[0] / sd[0]) ** 2 + ((off[1] - expected) / left) ** 2
    for reading in alone:
        if reading.key in LOOKS:
            found[reading.key] = -2 * _found_log_chance(reading, now)
        else:
            found[reading.key] = np.divide(*_off(reading, now, plan)) ** 2
    return found


def _metered_and_alone(observed: Observed) -> tuple[list[Measured], list[Measured]]:
    """Two readings of one meter, or none, and all others."""
    metered = [r for r in observed.measured if r.key in OF_ONE_METER]
    if len(metered) < len(OF_ONE_METER):
        return [], list(observed.measured)
    return metered, [r for r in observed.measured if r not in metered]


def _seen_logs(
    observed: Observed, now: Predicted, first: Predicted | None, *, wrongly: float = SEEN_WRONGLY
) -> dict[str, Array]:
    """Logarithm of the chance of each thing seen, and of what was not."""
    late = tuple(s for s in observed.seen if s.when != "first opening")
    early = tuple(s for s in observed.seen if s.when == "first opening")
    rise_read = any(reading.key == "rise" for reading in observed.measured)
    terms = seen_chance(late, now, rise_read=rise_read, wrongly=wrongly)
    at_first = {} if first is None else seen_chance(early, first, wrongly=wrongly)
    if first is not None and any(s.when == "after months" for s in late):
        before = seen_chance(late, first, rise_read=rise_read, wrongly=wrongly)
        terms = _only_later(terms, before, wrongly)
    logs = {name: np.log(chance) for name, chance in terms.items()}
    return logs | {f"{name} at first": np.log(chance) for name, chance in at_first.items()}
