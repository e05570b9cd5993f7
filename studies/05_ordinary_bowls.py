"""Are ordinary bowls told what makers know of them?

Question: common practice (no published source) opens bowls of 19 to 25 mm hardwood, sawn at 4 to 6
degrees with a pitch of 6 to 8 mm to a sensible base, every day. What does the judgement say of a dozen of
them, with what chance of splitting, at which press, and what decides? Beside them stand the practice bowl
(5 3/4 in of 3/4 in mahogany, table at 3 to 10 degrees), and one of 4.26 turns, its tail past the last full
turn.

Method: invented bowls, friction left to the finish and the press to an ordinary hand unless said; each goes
through ``fitsim.bowl.fit`` as it stands. This is a sanity table and no target: nothing is tuned to it. Run
it
with ``python studies/05_ordinary_bowls.py``; the table it prints is its answer, for it changes with the
solver.
"""

import argparse
import math
import time
from collections.abc import Mapping
from typing import Any

import fitsim
from fitsim.bowl.fit import BowlFit
from fitsim.report.advised_test import advised_test
from fitsim.report.verdict_words import verdict_line

Tables = Mapping[str, Mapping[str, str]]


def bowl(
    wood: str, thickness: str, across: str, tilt: str, pitch: str, base: str, **more: str
) -> dict[str, dict[str, str]]:
    """Tables of an invented bowl; ``more`` are further keys of the cut, the board and its use."""
    tables: dict[str, dict[str, str]] = {
        "board": {"wood": wood, "thickness": thickness, "across": across},
        "cut": {"tilt": tilt, "pitch": pitch, "base": base},
        "use": {"finish": "oil"},
    }
    places = {"outline": "board", "grain": "board", "kerf": "cut", "press": "use", "friction": "use"}
    for key, value in more.items():
        tables[places[key]][key] = value
    return tables


ORDINARY: dict[str, Tables] = {
    "cherry, 19 mm": bowl("cherry", "19 mm", "180 mm", "5 deg", "8 mm", "80 mm", kerf="0.7 mm"),
    "walnut, 19 mm": bowl("walnut", "19 mm", "200 mm", "5 deg", "7 mm", "90 mm", kerf="0.75 mm"),
    "sugar maple, 19 mm": bowl("maple, sugar", "19 mm", "180 mm", "5 deg", "7 mm", "85 mm", kerf="0.7 mm"),
    "white oak, 19 mm": bowl("oak, white", "19 mm", "200 mm", "5 deg", "8 mm", "95 mm", kerf="0.75 mm"),
    "ash, 20 mm": bowl("ash, white", "20 mm", "190 mm", "5 deg", "7.5 mm", "85 mm", kerf="0.8 mm"),
    "beech, 20 mm": bowl("beech", "20 mm", "170 mm", "6 deg", "7 mm", "80 mm", kerf="0.8 mm"),
    "mahogany, 19 mm": bowl(
        "mahogany, true", "19 mm", "180 mm", "4 deg", "6.5 mm", "80 mm", kerf="0.65 mm"
    ),
    "red oak, 22 mm": bowl(
        "oak, northern red", "22 mm", "220 mm", "5 deg", "8 mm", "100 mm", kerf="0.8 mm"
    ),
    "yellow birch, 22 mm": bowl(
        "birch, yellow", "22 mm", "200 mm", "5 deg", "7 mm", "95 mm", kerf="0.8 mm"
    ),
    "cherry, 25 mm": bowl("cherry", "25 mm", "210 mm", "5 deg", "8 mm", "95 mm", kerf="0.8 mm"),
    "walnut, 25 mm": bowl("walnut", "25 mm", "230 mm", "4 deg", "8 mm", "105 mm", kerf="0.8 mm"),
    "sweetgum, 19 mm": bowl("sweetgum", "19 mm", "170 mm", "5.5 deg", "6 mm", "80 mm", kerf="0.65 mm"),
}
"""A dozen ordinary bowls, flat-sawn and oiled, the slot measured."""


def practice(tilt: str, **more: str) -> Tables:
    """The practice bowl at one tilt."""
    return bowl(
        "mahogany, true", "3/4 in", "5 3/4 in", tilt, "1/4 in", "2 3/4 in", outline="square", **more
    )  # fmt: skip


FOUR_TURNS = {"base": "2 3/4 in", "kerf": "0.7 mm", "press": "80 N", "friction": "0.4"}

OTHERS: dict[str, Tables] = {
    "practice bowl, kerf not given": practice("5 deg"),
    **{f"practice bowl, 0.8 mm, {tilt}": practice(tilt, kerf="0.8 mm")
       for tilt in ("3 deg", "4 deg", "5 deg", "7 deg", "10 deg")},
    **{f"4.26 turns, {tilt}": bowl("cherry", "3/4 in", "5 3/4 in", tilt, "5/16 in", **FOUR_TURNS)
       for tilt in ("5 deg", "10 deg")},
}  # fmt: skip
"""The practice bowl and the one with a tail."""

HEADS = (
    "bowl", "verdict", "splits, middle", "over ranges", "friction used", "over ranges", "press needed",
    "judged at", "1 in 10 at", "overlap", "rise", "s", "what decides",
)  # fmt: skip


def _number(value: float, digits: int = 2) -> str:
    return f"{value:.{digits}g}" if math.isfinite(value) else "none"


def _measure(value: float, unit: str) -> str:
    return f"{_number(value)} {unit}" if math.isfinite(value) else "none"


def _nearest(answer: BowlFit) -> str:
    """The state whose limit is nearest to being reached, at the unfavourable ends."""
    slot, falls, springs, split = answer.verdict.margins
    used = {
        slot.state: 0.0 if slot.worst > 0 else 1.0,
        falls.state: (1 - falls.worst) / (1 - falls.limit),
        springs.state: max(springs.worst / springs.limit, answer.verdict.worst.press_asked),
        split.state: split.worst / split.limit,
    }
    state = max(used, key=lambda name: used[name])
    return f"{state} ({_number(used[state])} of the limit)"


def row(name: str, tables: Tables) -> tuple[str, ...]:
    """One bowl's answer in the cells of :data:`HEADS`."""
    begun = time.process_time()
    answer = fitsim.fit(fitsim.make_bowl({key: dict(table) for key, table in tables.items()}), beyond=False)
    took = f"{time.process_time() - begun:.1f}"
    told, found = verdict_line(answer), answer.elastic
    if found is None:
        return (name, told, *([""] * (len(HEADS) - 4)), took, "; ".join(answer.notes))
    margins = {m.state: m for m in answer.verdict.margins}
    split, falls = (margins[s] for s in ("split risk", "falls through"))
    opening = found.opening
    return (
        name,
        told,
        _number(split.value),
        f"{_number(split.best)} to {_number(split.worst)}",
        _number(opening.numbers.friction_used),
        f"{_number(answer.verdict.best.friction_used)} to {_number(answer.verdict.worst.friction_used)}",
        _measure(opening.judged.needed_N, "N"),
        _measure(opening.pressed.press_N, "N"),
        _measure(found.split_press_N, "N"),
        _number(falls.value),
        _measure(found.rise_at_rest_mm, "mm"),
        took,
        advised_test(answer, units="mm") or _nearest(answer),
    )


def main(names: list[str]) -> None:
    """Print the table, of the bowls named or of all."""
    every: dict[str, Any] = {**ORDINARY, **OTHERS}
    print(" | ".join(HEADS))
    one_word = locks = 0
    for name in names or list(every):
        cells = row(name, every[name])
        print(" | ".join(cells), flush=True)
        one_word += name in ORDINARY and ", or " not in cells[1]
        locks += name in ORDINARY and cells[1] == "LOCKS"
    print(f"of {len(ORDINARY)} ordinary bowls {locks} lock, {one_word} are told one word")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("names", nargs="*", help="bowls (all)")
    main(parser.parse_args().names)
