"""The tables of ``studies/04_failed_bowl.py``: confusion, ranks, calibration, gain of the advice."""

import math
from collections import Counter, defaultdict
from itertools import pairwise
from typing import Any

from failed_bowls import MOST_TRIES, failed
from failed_priors import Priors, as_they_come_along, even_priors, weights_of

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


def told_with(rows: list[Row], priors: Priors) -> list[Row]:
    """The same cases with the chances the packaged table would have given."""
    return [
        row
        | {
            "steps": [as_they_come_along(step, priors) for step in row["steps"]],
            "after_random": as_they_come_along(row["after_random"], priors),
        }
        for row in rows
    ]


def rank_of(row: Row, step: int) -> int:
    """Rank of the true group after so many measurements, 1 the first; 99 where it has no chance."""
    chances = list(grouped(row["steps"][min(step, len(row["steps"]) - 1)]))
    true = group_of(row["cause"])
    return chances.index(true) + 1 if true in chances else 99


def _shares(rows: list[Row], most: int, each: dict[str, float] | None) -> str:
    """Share of rows ranked so high after 0 to 3 measurements, each row weighed by its cause."""
    own = row_weights(rows, each)
    hits = [
        sum(w for w, row in zip(own, rows, strict=True) if rank_of(row, k) <= most) / sum(own)
        for k in range(4)
    ]
    return " ".join(f"{hit:5.2f}" for hit in hits)


def row_weights(rows: list[Row], each: dict[str, float] | None) -> list[float]:
    """Weight of every row, the rows of one cause together as much as the cause; None: all alike."""
    count = Counter(row["cause"] for row in rows)
    return [1.0 if each is None else each[row["cause"]] / count[row["cause"]] for row in rows]


def ranks_table(rows: list[Row], along: list[Row], weight: dict[str, float]) -> list[str]:
    """Share ranked first and among the first two, by cause and over all, after 0 to 3 measurements."""
    lines = [f"{'cause':<34}{'cases':>6}   first after 0, 1, 2, 3    first two after 0, 1, 2, 3"]
    by_cause: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_cause[row["cause"]].append(row)

    def line(name: str, mine: list[Row], each: dict[str, float] | None) -> None:
        first, two = (_shares(mine, most, each) for most in (1, 2))
        lines.append(f"{name:<34}{len(mine):>6}   {first}   {two}")

    for name, mine in by_cause.items():
        line(name, mine, None)
    line("all, one as often as another", rows, None)
    line("all, as often as they come along", along, weight)
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


def reliability_table(rows: list[Row], each: dict[str, float] | None) -> list[str]:
    """Chance given against share true, over all steps; cases alike, or weighed by their causes."""
    lines = ["chance given   mean given   share true (+- error)   statements"]
    weights = row_weights(rows, each)
    for low, high in pairwise(BANDS):
        given = true = total = square = 0.0
        number = 0
        for own, row in zip(weights, rows, strict=True):
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


def advice_table(rows: list[Row], along: list[Row], weight: dict[str, float]) -> list[str]:
    """The advised measurement against a random one: the true cause's rank, the logarithm of its chance."""
    lines = [
        "one measurement more: true cause first before, after the advised, after a random; gain in logs"
    ]
    for title, rows_of, each in (
        ("one as often as another", rows, None),
        ("as often as they come along", along, weight),
    ):
        mine = [row for row in rows_of if len(row["steps"]) > 1]
        own = row_weights(mine, each)
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
    shown = sum(failed(case["seen"]) for case in cases)
    rows = [row for row in rows if failed(row["seen"])]
    lines = [
        f"{len(cases)} cases made, {len(cases) - shown} showed no failure in {MOST_TRIES} draws; "
        f"{len(rows)} failed bowls explained"
    ]
    if rows:
        weight, priors = weights_of(cases), even_priors(cases)
        along = told_with(rows, priors)
        lines += ["", *ranks_table(rows, along, weight), "", *confusion_table(rows)]
        lines += ["", "one as often as another:", *reliability_table(rows, None)]
        lines += ["", "as often as they come along:", *reliability_table(along, weight)]
        lines += ["", *advice_table(rows, along, weight)]
    return "\n".join(lines)
