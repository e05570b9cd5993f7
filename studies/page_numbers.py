"""Is every number on the page the command's?

Question: does the page show any number of a bowl that ``fitsim fit`` would not print for the same file?
Method: random bowls of one to five turns, in inches and in millimetres; for each the page's verdict is
asked as the page asks it, every number in its words and tables is taken as written, and looked for in the
report of the command.

Answer: of thirty bowls 1573 numbers, every one of them the command's.

Run it with ``python studies/page_numbers.py`` (``--bowls 6`` for a quick look).
"""

import argparse
import json
import random
import re
from typing import Any

from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import FitsimError
from fitsim.page.state import pairs_of_tables
from fitsim.page.workers import answer_of
from fitsim.report.terminal import fit_report

SHOWN = ("line", "why", "rise", "settle", "notes", "pressing", "bowl", "turns", "saw", "margin_rows")


def _bowl(dice: random.Random) -> dict[str, Any]:
    thickness, pitch = dice.uniform(9, 24), dice.uniform(6, 13)
    base, turns = dice.uniform(60, 130), dice.uniform(1.2, 5)
    return {
        "name": "A bowl by chance",
        "board": {
            "thickness": f"{thickness:.1f} mm",
            "across": f"{base + 2 * pitch * turns:.0f} mm",
            "wood": dice.choice(["cherry", "walnut", "maple, sugar", "mahogany, true"]),
        },
        "cut": {
            "tilt": f"{dice.uniform(2, 11):.1f} deg",
            "kerf": f"{dice.uniform(0.5, 1.1):.2f} mm",
            "pitch": f"{pitch:.1f} mm",
            "base": f"{base:.0f} mm",
        },
        "use": {"press": f"{dice.uniform(60, 300):.0f} N"},
    }


def _numbers(told: Any) -> set[str]:
    return set(re.findall(r"\d+(?:\.\d+)?", json.dumps(told, ensure_ascii=False)))


def main(bowls: int = 30, seed: int = 18) -> tuple[int, list[str]]:
    """Compare page and command bowl by bowl.

    Parameters
    ----------
    bowls : int
        How many.
    seed : int
        Of the dice.

    Returns
    -------
    tuple[int, list[str]]
        Numbers compared, and those of the page that the command does not print.
    """
    dice, compared, alone = random.Random(seed), 0, []
    for k in range(bowls):
        tables, units = _bowl(dice), ("mm", "in")[k % 2]
        pairs = [*pairs_of_tables(tables), ("units", units)]
        found = answer_of("verdict", pairs, lambda _news: None)
        try:
            report = fit_report(fit(make_bowl(tables)), units=units, width=10_000)
        except FitsimError as error:
            report = str(error)
        shown = _numbers([found["answer"][key] for key in SHOWN] if "answer" in found else found)
        compared += len(shown)
        alone += [f"bowl {k + 1}, {units}: {number}" for number in sorted(shown - _numbers(report))]
        state = found["answer"]["line"] if "answer" in found else found
        print(f"{k + 1:3} {units} {len(shown):4} numbers  {state}")
    return compared, alone


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--bowls", type=int, default=30)
    parser.add_argument("--seed", type=int, default=18)
    count, missing = main(**vars(parser.parse_args()))
    print(f"{count} numbers, {len(missing)} of them not the command's")
    print("\n".join(missing))
