"""Why did this bowl fail? Every cause, and every two at once, weighed by what was seen and measured.

Explanations exclude one another: the plan itself, one cause, two causes, none of these. The prior of a
cause is its odds in the table, of two the product of both; of none, a share of its own. Each explanation is
weighed by importance sampling (:mod:`fitsim.failure.importance`) on an emulator of the bowl, fitted to
presses of bowls like it (:mod:`fitsim.failure.bowl_emulator`); those that matter are drawn again, nearer to
what fits.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.errors import InputError, Problem
from fitsim.failure.bowl_emulator import BowlEmulator, emulator_of
from fitsim.failure.causes import Cause, causes
from fitsim.failure.failed_samples import LOOKS, BowlPlan, Samples, dimensions, draw
from fitsim.failure.importance import Weighed, chances_of, weigh
from fitsim.failure.matching import BOTH_MOISTURES, asks_of_first, match_terms, misfit_terms
from fitsim.failure.observations import Observed
from fitsim.failure.predict import FILM_SHOWS_MM, ModelError, Predicted, predict

__all__ = [
    "AS_PLANNED",
    "NONE_OF_THESE",
    "Conflict",
    "Explanation",
    "Hypothesis",
    "Weighing",
    "explain",
    "hypotheses",
    "predicted_at",
]

AS_PLANNED = "the plan itself"
NONE_OF_THESE = "none of these"
CHANCE_OF_NONE = 0.03
"""Prior odds of a cause nobody listed against no cause at all: an estimate."""

SAMPLES, PAIR_SAMPLES, MORE_SAMPLES = 1500, 128, 1000
MORE_ROUNDS, MOST_REFINED = 2, 8
WORTH_REFINING = 0.004
RELIABLE_SIZE = 50.0
RELIABLE_SE = 0.05
"""A chance is called unreliable with fewer effective rows behind it, or a larger standard error."""

IDLE = 0.03
"""What a cause counts for that is there and changes nothing of what was seen: our choice, above zero so
that one that was measured is still told."""

NEGLIGIBLE = 8.0
"""A pair so far below the best explanation (logarithm) need not be looked at for idle causes."""

FALSELY_CONFLICTING = 0.01
"""Share of makers who read everything rightly and are yet told that it does not go together, at most by
the sum of it and at most by what stands out: our choice."""

COMES_LATER = ("rim_points", "film_mm", "friction_times")
"""Changes that may come after the first opening."""


@dataclass(frozen=True)
class Hypothesis:
    """One explanation.

    Attributes
    ----------
    causes : tuple[Cause, ...]
        What acts: nothing, one or two.
    prior : float
        Its prior weight, on the scale on which no cause at all weighs 1. [-]
    broad : bool
        True for none of these: everything drawn far wider than usual.
    """

    causes: tuple[Cause, ...]
    prior: float
    broad: bool = False

    @property
    def name(self) -> str:
        """In a maker's words."""
        if self.broad:
            return NONE_OF_THESE
        return " and ".join(cause.name for cause in self.causes) or AS_PLANNED


@dataclass(frozen=True, eq=False)
class Weighing:
    """One explanation with what came of it.

    Attributes
    ----------
    hypothesis : Hypothesis
        The explanation.
    weighed : Weighed
        Its rows.
    chance, se : float
        Its chance, and the standard error of the sampling alone. [-]
    """

    hypothesis: Hypothesis
    weighed: Weighed
    chance: float
    se: float

    @property
    def reliable(self) -> bool:
        """Whether enough rows stand behind the chance."""
        return self.se <= RELIABLE_SE and (self.chance < 0.01 or self.weighed.size >= RELIABLE_SIZE)


@dataclass(frozen=True)
class Conflict:
    """How badly everything seen and measured goes together.

    Attributes
    ----------
    size, limit : float
        Sum of the misfits (:func:`fitsim.failure.matching.misfit_terms`) on the bowl of any explanation
        that has least of it, beyond what each thing has on the bowl that suits it best; and what 1 in 100
        exceed who read everything rightly: chi-square, a freedom for every reading. [-]
    odd_one : str
        The thing without which most would be gained.
    odd_size, odd_limit : float
        How much that is, and what 1 in 100 exceed with any of all things: chi-square with 1 freedom, 1 in
        100 shared among them. One reading far off shows here long before it does in the sum of many. [-]
    against_file : bool
        Whether bevels were found bare that by the bowl file carry a film anyone would find.
    """

    size: float
    limit: float
    odd_one: str
    odd_size: float
    odd_limit: float
    against_file: bool = False

    @property
    def contradictory(self) -> bool:
        """Whether nothing in the list reproduces everything."""
        return self.size > self.limit or self.odd_size > self.odd_limit or self.against_file


@dataclass(frozen=True, eq=False)
class Explanation:
    """The answer.

    Attributes
    ----------
    plan : BowlPlan
        What was meant.
    observed : Observed
        What was seen and measured.
    emulator : BowlEmulator
        What everything was worked out by.
    weighings : tuple[Weighing, ...]
        Likeliest first; their chances add up to 1.
    conflict : Conflict
        Whether anything reproduces it all.
    seed : int
        Of the samples.
    """

    plan: BowlPlan
    observed: Observed
    emulator: BowlEmulator
    weighings: tuple[Weighing, ...]
    conflict: Conflict
    seed: int


def hypotheses(
    table: tuple[Cause, ...], *, planned: float = 1.0, none: float = CHANCE_OF_NONE
) -> tuple[Hypothesis, ...]:
    """Every explanation: the plan itself, each cause, every two of them, none of these.

    Parameters
    ----------
    table : tuple[Cause, ...]
        The causes.
    planned, none : float
        Prior weights of no cause at all, and of one that nobody listed, on the scale of the causes' odds.

    Returns
    -------
    tuple[Hypothesis, ...]
        With prior weights; two causes that change one and the same thing are left out.
    """
    odds = {cause.name: cause.chance / (1 - cause.chance) for cause in table}
    single = [Hypothesis((c,), odds[c.name]) for c in table]
    pairs = [
        Hypothesis((a, b), odds[a.name] * odds[b.name]) for a, b in combinations(table, 2) if _apart(a, b)
    ]
    return (Hypothesis((), planned), *single, *pairs, Hypothesis((), none, broad=True))


SAME_THING = {
    "nail_missing": "nail", "nail_split": "nail", "nail_pins_next": "nail",
    "reversed_to_turn": "bevel", "reversed_from_turn": "bevel", "wrong_face": "bevel",
    "kerf_mm": "kerf", "kerf_times": "kerf",
}  # fmt: skip
"""Quantities that are one thing in several wordings: two causes of one thing are no pair."""


def _kinds(cause: Cause) -> set[str]:
    kinds = set()
    for change in cause.changes:
        kinds.add(SAME_THING.get(change.quantity, change.quantity))
    return kinds


def _apart(a: Cause, b: Cause) -> bool:
    return not _kinds(a) & _kinds(b)


def predicted_at(
    emulator: BowlEmulator,
    hypothesis: Hypothesis,
    normals: Array,
    *,
    at_first: bool = True,
    error: ModelError | None = None,
    without: Cause | None = None,
) -> tuple[Samples, Predicted, Predicted | None]:
    """Draw and predict an explanation's bowls.

    Parameters
    ----------
    emulator, hypothesis : BowlEmulator, Hypothesis
        What the bowls do, and what acts.
    normals : numpy.ndarray
        Rows of standard normal numbers.
    at_first : bool
        Whether the first opening is to be predicted as well.
    error : ModelError or None
        In place of the emulator's errors.
    without : Cause or None
        One of the causes, which is not to act: the same bowls without it.

    Returns
    -------
    tuple[Samples, Predicted, Predicted or None]
        The bowls, what is predicted of them now, and what for their first opening.
    """
    plan, broad = emulator.plan, hypothesis.broad
    acting = tuple(None if cause is without else cause for cause in hypothesis.causes)
    samples = draw(plan, normals, acting, broad=broad)
    now = predict(emulator, samples, error=error)
    if not at_first:
        return samples, now, None
    sawn = read_only(np.full(len(normals), plan.bowl.board.moisture_percent))
    early = tuple(
        c and replace(c, changes=tuple(x for x in c.changes if x.quantity not in COMES_LATER))
        for c in acting
    )
    opened = draw(plan, normals, early, broad=broad)
    meant = read_only(np.full_like(opened.meant_percent, plan.bowl.board.moisture_percent))
    fresh = replace(opened, base_percent=sawn, rim_percent=sawn, meant_percent=meant)
    return samples, now, predict(emulator, fresh, error=error)


class _Matcher:
    """Log likelihood of one explanation's rows, remembering how well its best row goes with everything.

    ``least`` is the least misfit of each thing on any row, ``least_without`` that of all the others
    together, ``least_of_all`` that of all.
    """

    def __init__(self, emulator: BowlEmulator, hypothesis: Hypothesis, observed: Observed) -> None:
        self.emulator, self.hypothesis, self.observed = emulator, hypothesis, observed
        self.negligible_below = -np.inf
        self.least: dict[str, float] = {}
        self.least_of_all, self.least_without = np.inf, dict[str, float]()

    def __call__(self, normals: Array) -> Array:
        asked = asks_of_first(self.observed)
        _, now, first = predicted_at(self.emulator, self.hypothesis, normals, at_first=asked)
        terms = match_terms(self.observed, now, first, self.emulator.plan)
        total: Array = np.sum(list(terms.values()), axis=0)
        self._remember(misfit_terms(self.observed, now, first, self.emulator.plan))
        top = float(total.max())
        if not np.isfinite(top) or top + np.log(np.mean(np.exp(total - top))) < self.negligible_below:
            return total
        return total + self._needed(normals, terms, asked)

    def _remember(self, misfits: dict[str, Array]) -> None:
        whole: Array = np.sum(list(misfits.values()), axis=0)
        for name, misfit in misfits.items():
            self.least[name] = min(self.least.get(name, np.inf), float(misfit.min()))
            rest = float((whole - misfit).min())
            self.least_without[name] = min(self.least_without.get(name, np.inf), rest)
        self.least_of_all = min(self.least_of_all, float(whole.min()))

    def _needed(self, normals: Array, terms: dict[str, Array], asked: bool) -> Array:
        """Logarithm of the share in which the bowl would have shown something else without a cause."""
        acting = self.hypothesis.causes
        if not acting or all(seen.what == "held" for seen in self.observed.seen):
            return np.zeros(len(normals))
        only_seen = replace(self.observed, measured=())
        read = {BOTH_MOISTURES, *(reading.key for reading in self.observed.measured)}
        shows = np.sum([term for name, term in terms.items() if name not in read], axis=0)
        ratio = np.zeros(len(normals))
        for cause in acting:
            _, now, first = predicted_at(
                self.emulator, self.hypothesis, normals, at_first=asked, without=cause
            )
            anyway = np.sum(list(match_terms(only_seen, now, first, self.emulator.plan).values()), axis=0)
            # One bowl, one luck: what shows without the cause too shows with it.
            ratio = np.maximum(ratio, np.exp(np.minimum(anyway - shows, 0.0)))
        return np.asarray(np.log(IDLE + (1 - IDLE) * (1 - ratio)))


def explain(
    plan: BowlPlan,
    observed: Observed,
    *,
    table: tuple[Cause, ...] | None = None,
    planned: float = 1.0,
    none: float = CHANCE_OF_NONE,
    seed: int = 0,
    emulator: BowlEmulator | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Explanation:
    """Weigh every explanation of what was seen and measured.

    Parameters
    ----------
    plan : BowlPlan
        What was meant.
    observed : Observed
        What was seen and measured.
    table : tuple[Cause, ...] or None
        In place of the packaged causes.
    planned, none : float
        Prior weights as for :func:`hypotheses`.
    seed : int
        The same seed gives the same answer.
    emulator : BowlEmulator or None
        Of the plan, where it is there already.
    progress : callable or None
        Called with how many bowls like this one are pressed, and of how many.

    Returns
    -------
    Explanation
        The answer.

    Raises
    ------
    InputError
        If nothing was seen or measured.
    """
    if not observed.seen and not observed.measured:
        expected = "something that was seen or measured"
        remedy = 'add --seen "fell through", or a table [seen]; the words: fitsim explain --list'
        raise InputError(Problem("", "seen", "", expected, remedy))
    emulator = emulator or emulator_of(plan, progress=progress)
    every = hypotheses(causes() if table is None else table, planned=planned, none=none)
    matchers = [_Matcher(emulator, h, observed) for h in every]
    wide = dimensions(plan)
    weighed, best = [], -np.inf
    for i, m in enumerate(matchers):
        pair, log_prior = len(m.hypothesis.causes) == 2, float(np.log(m.hypothesis.prior))
        m.negligible_below = best - NEGLIGIBLE - log_prior if pair else -np.inf
        weighed.append(weigh(m, wide, seed=(seed, i), samples=PAIR_SAMPLES if pair else SAMPLES))
        best = max(best, weighed[-1].log_evidence + log_prior)
    for i in _worth_more(every, weighed):
        weighed[i] = weigh(matchers[i], wide, seed=(seed, i), samples=MORE_SAMPLES, rounds=MORE_ROUNDS)
    chance, se = _chances(every, weighed)
    order = np.argsort(-chance, kind="stable")
    found = tuple(Weighing(every[i], weighed[i], float(chance[i]), float(se[i])) for i in order)
    conflict = _conflict(matchers, against_file=_bare_against_film(plan, observed))
    return Explanation(plan, observed, emulator, found, conflict, seed)


def _chances(every: tuple[Hypothesis, ...], weighed: list[Weighed]) -> tuple[Array, Array]:
    return chances_of(
        np.array([w.log_evidence for w in weighed]),
        np.array([w.relative_se for w in weighed]),
        np.array([h.prior for h in every]),
    )


def _worth_more(every: tuple[Hypothesis, ...], weighed: list[Weighed]) -> list[int]:
    """Explanations that matter and rest on few rows, the likeliest first."""
    chance, _ = _chances(every, weighed)
    few = [
        i for i in np.argsort(-chance) if chance[i] > WORTH_REFINING and weighed[i].size < 4 * RELIABLE_SIZE
    ]
    return [int(i) for i in few[:MOST_REFINED]]


def _bare_against_film(plan: BowlPlan, observed: Observed) -> bool:
    """Whether bevels were found bare though the least film of the file would show."""
    least, _ = plan.bowl.ends_of("use.film_mm")
    bare = LOOKS["bevels"].index("bare wood")
    found = any(reading.key == "bevels" and reading.value == bare for reading in observed.measured)
    return found and least > FILM_SHOWS_MM


def _conflict(matchers: list[_Matcher], *, against_file: bool) -> Conflict:
    from scipy.special import chdtri

    least = _least_of_any([m.least for m in matchers])
    without = _least_of_any([m.least_without for m in matchers])
    together = min(m.least_of_all for m in matchers)
    gains = {name: together - without[name] - least[name] for name in least}
    odd_one = max(gains, key=lambda name: gains[name])
    readings = max(len(matchers[0].observed.measured), 1)
    return Conflict(
        size=together - sum(least.values()),
        limit=float(chdtri(readings, FALSELY_CONFLICTING)),
        odd_one=odd_one,
        odd_size=gains[odd_one],
        odd_limit=float(chdtri(1, FALSELY_CONFLICTING / len(least))),
        against_file=against_file,
    )


def _least_of_any(each: list[dict[str, float]]) -> dict[str, float]:
    """Of every name the least of all."""
    return {name: min(one[name] for one in each) for name in each[0]}
