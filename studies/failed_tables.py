"""The tables of ``studies/04_failed_bowl.py``: confusion, ranks, calibration, gain of the advice."""

import math
from collections import Counter, defaultdict
from itertools import pairwise
from typing import Any

from fitsim.causes import causes
from fitsim.explain import AS_PLANNED

GROUPS: tuple[frozenset[str], ...] = (
    frozenset({"the plan itself", "wood weak"}),
    frozenset({"kerf wide", "blade wide"}),
)
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


def evened(chances: dict[str, float], weight: dict[str, float]) -> dict[str, float]:
    """Chances were failed bowls of every cause equally common, as they are in the study; without the rest.

    The chance of a cause is divided by how often its failed bowls would come along.
    """
    found: dict[str, float] = defaultdict(float)
    for name, chance in chances.items():
        parts = [part for part in name.split(" and ") if weight.get(part, 0.0) > 0]
        for part in parts:
            found[part] += chance / len(parts) / weight[part]
    total = sum(found.values()) or 1.0
    return {name: value / total for name, value in found.items()}


def rank_of(row: Row, step: int, weight: dict[str, float] | None = None) -> int:
    """Rank of the true group after so many readings, 1 the first; 99 where it has no chance."""
    given = row["steps"][min(step, len(row["steps"]) - 1)]
    chances = list(grouped(given if weight is None else evened(given, weight)))
    true = group_of(row["cause"])
    return chances.index(true) + 1 if true in chances else 99


def failed(case: Row) -> bool:
    """Whether a bowl failed: one that only came out deep is none of the failures the command is for."""
    return bool(set(case["seen"]) - {"held", "came out deep"})


def weights_of(cases: list[Row]) -> dict[str, float]:
    """How often failed bowls of each cause come along: its odds times the share of draws that fail."""
    odds = {c.name: c.chance / (1 - c.chance) for c in causes()} | {AS_PLANNED: 1.0}
    tries: dict[str, list[int]] = defaultdict(list)
    for case in cases:
        tries[case["cause"]].append((case["tries"], failed(case)))
    share = {name: sum(s for _, s in t) / max(sum(n for n, _ in t), 1) for name, t in tries.items()}
    return {name: odds[name] * share.get(name, 0.0) for name in odds}


def _shares(
    rows: list[Row], most: int, each: dict[str, float] | None, even: dict[str, float] | None
) -> str:
    """Share of rows ranked so high after 0 to 3 readings, each row weighed by its cause."""
    count = Counter(row["cause"] for row in rows)
    own = [1.0 if each is None else each[row["cause"]] / count[row["cause"]] for row in rows]
    hits = [
        sum(w for w, row in zip(own, rows, strict=True) if rank_of(row, k, even) <= most) / sum(own)
        for k in range(4)
    ]
    return " ".join(f"{hit:5.2f}" for hit in hits)


def ranks_table(rows: list[Row], weight: dict[str, float]) -> list[str]:
    """Share ranked first and among the first two, by cause and over all, after 0 to 3 readings."""
    lines = [f"{'cause':<34}{'cases':>6}   first after 0, 1, 2, 3    first two after 0, 1, 2, 3"]
    by_cause: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_cause[row["cause"]].append(row)

    def line(
        name: str, mine: list[Row], each: dict[str, float] | None, even: dict[str, float] | None
    ) -> None:
        first, two = (_shares(mine, most, each, even) for most in (1, 2))
        lines.append(f"{name:<34}{len(mine):>6}   {first}   {two}")

    for name, mine in by_cause.items():
        line(name, mine, None, None)
    line("all, one as often as another", rows, None, None)
    line("all, as often as they come along", rows, weight, None)
    line("all, chances evened to the study", rows, None, weight)
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


def advice_table(rows: list[Row], weight: dict[str, float]) -> list[str]:
    """The advised reading against a random one: the true cause's rank and the logarithm of its chance."""
    mine = [row for row in rows if len(row["steps"]) > 1]
    count = Counter(row["cause"] for row in mine)
    lines = [
        "one reading more: true cause first before, after the advised, after a random one; gain in logs"
    ]
    for title, each in (("one as often as another", None), ("as often as they come along", weight)):
        own = [1.0 if each is None else each[row["cause"]] / count[row["cause"]] for row in mine]
        total = sum(own)
        if not total:
            continue

        def mean(values: list[float], own: list[float] = own, total: float = total) -> float:
            return sum(w * v for w, v in zip(own, values, strict=True)) / total

        before = mean([float(_is_first(r["steps"][0], r)) for r in mine])
        advised = mean([float(_is_first(r["steps"][1], r)) for r in mine])
        at_random = mean([float(_is_first(r["after_random"], r)) for r in mine])
        gains = [_log_chance(r["steps"][1], r) - _log_chance(r["after_random"], r) for r in mine]
        gain = mean(gains)
        se = math.sqrt(sum((w * (g - gain)) ** 2 for w, g in zip(own, gains, strict=True))) / total
        lines.append(
            f"  {title}: {before:.2f}, {advised:.2f}, {at_random:.2f}; "
            f"{gain:.2f} +- {se:.2f} ({len(mine)} cases)"
        )
    return lines


def tables_of(cases: list[Row], rows: list[Row]) -> str:
    """All tables as text."""
    shown = sum(bool(case["seen"]) for case in cases)
    rows = [row for row in rows if failed(row)]
    lines = [
        f"{len(cases)} cases made, {len(cases) - shown} showed nothing, "
        f"{shown - sum(failed(c) for c in cases)} only came out deep; {len(rows)} failed bowls explained"
    ]
    if rows:
        weight = weights_of(cases)
        lines += ["", *ranks_table(rows, weight), "", *confusion_table(rows)]
        lines += ["", *reliability_table(rows, weight), "", *advice_table(rows, weight)]
    return "\n".join(lines)
