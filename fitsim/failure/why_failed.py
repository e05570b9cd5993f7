"""The whole answer to a failed bowl: chances, what fits best, remedies, and what to measure next."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from fitsim.bowl.inputs import Bowl
from fitsim.failure.cause_chances import (
    BestFit,
    CauseChance,
    PosteriorSamples,
    best_fits,
    cause_chances,
    posterior_samples,
)
from fitsim.failure.causes import Cause
from fitsim.failure.explanations import Explanation, explain
from fitsim.failure.failed_samples import plan_of
from fitsim.failure.next_measurement import NextReading, next_readings
from fitsim.failure.observations import Observed
from fitsim.failure.remedies import Remedy, remedy_for

__all__ = ["ToldCause", "WhyFailed", "why_failed"]

WORTH_TELLING = 0.03
MOST_TOLD = 8
"""Causes told one by one; the rest are told together."""

MOST_REMEDIES = 3


@dataclass(frozen=True, eq=False)
class ToldCause:
    """One cause as it is told.

    Attributes
    ----------
    chance : CauseChance
        The cause and its chance.
    fits : tuple[BestFit, ...]
        What fits best under it.
    remedy : Remedy or None
        For the likeliest causes.
    """

    chance: CauseChance
    fits: tuple[BestFit, ...]
    remedy: Remedy | None


@dataclass(frozen=True, eq=False)
class WhyFailed:
    """The whole answer.

    Attributes
    ----------
    bowl : Bowl
        The bowl.
    explanation : Explanation
        Every explanation weighed.
    every : tuple[CauseChance, ...]
        Chance of every cause, adding up to 1.
    told : tuple[ToldCause, ...]
        Those worth telling, likeliest first.
    next_readings : tuple[NextReading, ...]
        What to measure next, the best first.
    posterior : PosteriorSamples
        Bowls as they may have been.
    """

    bowl: Bowl
    explanation: Explanation
    every: tuple[CauseChance, ...]
    told: tuple[ToldCause, ...]
    next_readings: tuple[NextReading, ...]
    posterior: PosteriorSamples

    @property
    def reliable(self) -> bool:
        """Whether every chance told rests on enough rows."""
        return all(told.chance.reliable for told in self.told)

    @property
    def nothing_failed(self) -> bool:
        """Whether all that was seen is that the bowl held."""
        return _nothing_failed(self.explanation.observed)


def _nothing_failed(observed: Observed) -> bool:
    return bool(observed.seen) and all(seen.what == "held" for seen in observed.seen)


def why_failed(
    bowl: Bowl,
    observed: Observed,
    *,
    table: tuple[Cause, ...] | None = None,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> WhyFailed:
    """Explain a failed bowl; of one that only held, how it differs from the plan, and no remedy.

    Parameters
    ----------
    bowl : Bowl
        The bowl as it was meant.
    observed : Observed
        What was seen and measured.
    table : tuple[Cause, ...] or None
        In place of the packaged causes.
    seed : int
        Of the samples; the same seed gives the same answer.
    progress : callable or None
        Called with how many bowls like this one are pressed, and of how many.

    Returns
    -------
    WhyFailed
        The answer.

    Raises
    ------
    InputError
        If nothing was seen or measured.
    """
    explanation = explain(plan_of(bowl), observed, table=table, seed=seed, progress=progress)
    every = cause_chances(explanation)
    posterior = posterior_samples(explanation, every)
    remedies = 0 if _nothing_failed(observed) else MOST_REMEDIES
    told = [c for c in every if c.chance >= WORTH_TELLING][:MOST_TOLD] or list(every[:1])
    return WhyFailed(
        bowl=replace(bowl),
        explanation=explanation,
        every=every,
        told=tuple(
            ToldCause(
                chance, best_fits(explanation, chance),
                remedy_for(explanation, chance) if i < remedies else None,
            )
            for i, chance in enumerate(told)
        ),
        next_readings=next_readings(explanation, every, posterior),
        posterior=posterior,
    )  # fmt: skip
