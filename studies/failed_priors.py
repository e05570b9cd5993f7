"""How common the causes are: as they come along, and evened so that all failed bowls are equally common.

Used by ``studies/04_failed_bowl.py``.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from failed_bowls import failed

from fitsim.failure.causes import Cause, causes
from fitsim.failure.explanations import AS_PLANNED, CHANCE_OF_NONE, NONE_OF_THESE

Row = dict[str, Any]

LEAST_SHARE = 0.02
"""A cause of whose draws hardly any failed counts as if this share had: it cannot be evened further."""


@dataclass(frozen=True)
class Priors:
    """Causes with the odds to explain by, and the weights of no cause and of one nobody listed."""

    table: tuple[Cause, ...]
    planned: float
    none: float


def odds_of_table() -> dict[str, float]:
    """Odds of every cause in the packaged table, with the plan itself."""
    return {c.name: c.chance / (1 - c.chance) for c in causes()} | {AS_PLANNED: 1.0}


def shares_of(cases: list[Row]) -> dict[str, float]:
    """Share of draws of each cause that failed because of it."""
    samples: dict[str, int] = defaultdict(int)
    fell: dict[str, int] = defaultdict(int)
    for case in cases:
        samples[case["cause"]] += case["tries"]
        fell[case["cause"]] += failed(case["seen"])
    return {name: fell[name] / samples[name] if samples[name] else 0.0 for name in odds_of_table()}


def weights_of(cases: list[Row]) -> dict[str, float]:
    """How often failed bowls of each cause come along: its odds times the share of draws that fail."""
    share = shares_of(cases)
    return {name: odds * share[name] for name, odds in odds_of_table().items()}


def even_priors(cases: list[Row]) -> Priors:
    """Odds that make failed bowls of every cause equally common, as they are in the study.

    The scale is that of the packaged table: so rare are two causes at once beside one, and a cause
    nobody listed beside all that are.
    """
    odds, share = odds_of_table(), shares_of(cases)
    each = {name: 1 / max(share[name], LEAST_SHARE) for name in odds}
    usual = float(np.mean([odds[c.name] for c in causes()]))
    each = {name: usual * value / float(np.mean(list(each.values()))) for name, value in each.items()}
    table = tuple(replace(c, chance=each[c.name] / (1 + each[c.name])) for c in causes())
    none = CHANCE_OF_NONE / sum(odds.values()) * sum(each.values())
    return Priors(table, each[AS_PLANNED], none)


def as_they_come_along(chances: dict[str, float], priors: Priors) -> dict[str, float]:
    """The chances the packaged table would have given, from those with evened priors."""
    even = {c.name: c.chance / (1 - c.chance) for c in priors.table} | {AS_PLANNED: priors.planned}
    ratio = {name: odds / even[name] for name, odds in odds_of_table().items()}
    ratio[NONE_OF_THESE] = CHANCE_OF_NONE / priors.none
    found = {
        name: chance * float(np.prod([ratio[part] for part in name.split(" and ")]))
        for name, chance in chances.items()
    }
    total = sum(found.values()) or 1.0
    return {name: value / total for name, value in found.items()}
