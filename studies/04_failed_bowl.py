"""Does ``fitsim explain`` name the cause of a failed bowl, and are its chances true?

Question, method and answer: see the end of this text once the study has run.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
from failed_bowls import failed_bowl, reference_of

import fitsim
from fitsim.causes import causes
from fitsim.drawn import Plan, plan_of
from fitsim.progress import ProgressLine

TABLES = {
    "name": "Study bowl",
    "board": {"wood": "cherry", "thickness": "19 mm", "across": "168 mm"},
    "cut": {"tilt": "4.5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "89 mm"},
    "use": {"finish": "oil", "press": "100 N"},
}


def study_plan() -> Plan:
    """The bowl of the study."""
    return plan_of(fitsim.make_bowl(TABLES))


def stored(path: Path) -> list[dict[str, Any]]:
    """Rows of a store of JSON lines; a line cut off by a stop is left out."""
    rows = []
    if path.exists():
        for line in path.read_text(encoding="utf8").splitlines():
            try:
                rows.append(json.loads(line))
            except ValueError:
                continue
    return rows


def make_cases(path: Path, count: int) -> None:
    """Make ``count`` failed bowls of every cause, one of each in turn; goes on where it was stopped."""
    plan = study_plan()
    reference = reference_of(plan)
    every = (None, *causes())
    done = {(row["number"], row["index"]) for row in stored(path)}
    progress = ProgressLine("failed bowls")
    wanted = [(index, number) for index in range(count) for number in range(len(every))]
    for at, (index, number) in enumerate(wanted):
        if (number, index) not in done:
            row = failed_bowl(plan, every[number], reference, seed=(4, number, index))
            with path.open("a", encoding="utf8") as file:
                file.write(json.dumps({"number": number, "index": index, **row}) + "\n")
        progress(at + 1, len(wanted))


def main() -> None:
    """Make the cases, explain them, and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cases", type=int, default=40)
    asked = parser.parse_args()
    asked.folder.mkdir(exist_ok=True)
    make_cases(asked.folder / "cases.jsonl", asked.cases)


if __name__ == "__main__":
    main()
