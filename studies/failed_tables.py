"""The tables of ``studies/04_failed_bowl.py``: confusion, ranks, calibration, gain of the advice."""

import math
from collections import Counter, defaultdict
from itertools import pairwise
from typing import Any

from fitsim.causes import causes
from fitsim.explain import AS_PLANNED

GROUPS: tuple[frozenset[str], ...] = ()
"""Causes that no stated measurement tells apart; the reasons stand in the study's text."""

BANDS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 1.0)
Row = dict[str, Any]


def group_of(name: str) -> str:
    """Name of the group of a cause, its own name where it stands alone."""
    group = next((g for g in GROUPS if name in g), None)
    return name if group is None else " / ".join(sorted(group))


def grouped(chances: dict[str, float]) -> dict[str, float]:
    """Chances by group, largest first; a pair counts half for each of its causes."""
    found: dict[str, float] = defaultdict(float)
    for name, chance in chances.items():
        parts = name.split(" and ")
        for part in parts:
            found[group_of(part)] += chance / len(parts)
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def rank_of(row: Row, step: int) -> int:
    """Rank of the true group after so many readings, 1 the first; 99 where it has no chance."""
    chances = list(grouped(row["steps"][min(step, len(row["steps"]) - 1)]))
    true = group_of(row["cause"])
    return chances.index(true) + 1 if true in chances else 99


def weights_of(cases: list[Row]) -> dict[str, float]:
    """How often failed bowls of each cause come along: its odds times the share of draws that fail."""
    odds = {c.name: c.chance / (1 - c.chance) for c in causes()} | {AS_PLANNED: 1.0}
    tries: dict[str, list[int]] = defaultdict(list)
    for case in cases:
        tries[case["cause"]].append((case["tries"], bool(case["seen"])))
    share = {name: sum(s for _, s in t) / max(sum(n for n, _ in t), 1) for name, t in tries.items()}
    return {name: odds[name] * share.get(name, 0.0) for name in odds}


def ranks_table(rows: list[Row]) -> list[str]:
    """Share ranked first and among the first two, by cause and over all, after 0 to 3 readings."""
    lines = [f"{'cause':<22}{'cases':>6}  first after 0, 1, 2, 3 readings   first two after 0, 1, 2, 3"]
    by_cause: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_cause[row["cause"]].append(row)

    def shares(mine: list[Row], most: int) -> str:
        return " ".join(f"{sum(rank_of(r, k) <= most for r in mine) / len(mine):5.2f}" for k in range(4))

    for name, mine in by_cause.items():
        lines.append(f"{name:<22}{len(mine):>6}  {shares(mine, 1)}              {shares(mine, 2)}")
    lines.append(f"{'all':<22}{len(rows):>6}  {shares(rows, 1)}              {shares(rows, 2)}")
    return lines


def confusion_table(rows: list[Row], step: int = 3) -> list[str]:
    """What was ranked first instead, by true cause, after three readings."""
    lines = ["true cause: ranked first (times)"]
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        found[group_of(row["cause"])][
            next(iter(grouped(row["steps"][min(step, len(row["steps"]) - 1)])))
        ] += 1
    for true, counter in found.items():
        lines.append(f"  {true}: " + ", ".join(f"{name} {n}" for name, n in counter.most_common()))
    return lines


def reliability_table(rows: list[Row], weight: dict[str, float]) -> list[str]:
    """Chance given against share true, over all steps; cases weighed by how often they would come along."""
    lines = ["chance given   mean given   share true (+- error)   statements"]
    count = Counter(row["cause"] for row in rows)
    for low, high in pairwise(BANDS):
        given = true = total = square = 0.0
        number = 0
        for row in rows:
            own = weight[row["cause"]] / count[row["cause"]]
            for step in row["steps"]:
                for name, chance in grouped(step).items():
                    if low <= chance < high or (high == 1.0 and chance == 1.0):
                        hit = name == group_of(row["cause"])
                        given, true, total = given + own * chance, true + own * hit, total + own
                        square, number = square + own**2, number + 1
        if total > 0:
            share = true / total
            size = total**2 / square / 4  # the steps of one case are not independent
            error = math.sqrt(max(share * (1 - share), 0.25 / (size + 1)) / max(size, 1))
            lines.append(
                f"{low:4.2f} to {high:4.2f}   {given / total:10.2f}   {share:10.2f} +- {error:.2f}   "
                f"{number:8d}"
            )
    return lines


def _log_chance(chances: dict[str, float], row: Row) -> float:
    return math.log(max(grouped(chances).get(group_of(row["cause"]), 0.0), 1e-3))


def _is_first(chances: dict[str, float], row: Row) -> bool:
    return next(iter(grouped(chances))) == group_of(row["cause"])


def advice_table(rows: list[Row]) -> list[str]:
    """The advised reading against a random one: chance and rank of the true cause after it."""
    mine = [row for row in rows if len(row["steps"]) > 1]
    if not mine:
        return []
    gains = [_log_chance(row["steps"][1], row) - _log_chance(row["after_random"], row) for row in mine]
    mean = sum(gains) / len(gains)
    se = math.sqrt(sum((g - mean) ** 2 for g in gains) / max(len(gains) - 1, 1) / len(gains))
    advised = sum(_is_first(r["steps"][1], r) for r in mine)
    at_random = sum(_is_first(r["after_random"], r) for r in mine)
    before = sum(rank_of(r, 0) == 1 for r in mine)
    n = len(mine)
    return [
        f"one reading more, {n} cases: true cause first {before / n:.2f} before, {advised / n:.2f} after "
        f"the advised, {at_random / n:.2f} after a random one;",
        f"logarithm of its chance higher by {mean:.2f} +- {se:.2f} than after a random one",
    ]


def tables_of(cases: list[Row], rows: list[Row]) -> str:
    """All tables as text."""
    lines = [
        f"{len(cases)} cases made, {sum(bool(c['seen']) for c in cases)} failed, {len(rows)} explained"
    ]
    if rows:
        lines += ["", *ranks_table(rows), "", *confusion_table(rows)]
        lines += ["", *reliability_table(rows, weights_of(cases)), "", *advice_table(rows)]
    return "\n".join(lines)
