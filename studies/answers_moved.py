"""Which numbers of thirty bowls' answers does a change of the program move, and how far?

Question: after a change that is meant to move nothing, or little, what did it move?

Method: ``fit --json`` of twelve ordinary bowls (``05_ordinary_bowls.py``) and of eighteen invented ones
(``press_needed.py``), asked of this checkout and of another one; every key of the answers is compared.
Numbers that differ by less than the error budget are counted only: a hundredth, a tenth for chances,
presses and forces.

Answer: printed: states that changed, then by key in how many bowls it moved, the median and the greatest
ratio. What it was is in ``studies/elastic_strip.md``.

Run it with ``python studies/answers_moved.py OTHER_CHECKOUT``; two minutes.
"""

import argparse
import json
import math
import os
import runpy
import statistics
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
INVENTED = 18
LOOSE, USUAL = 0.1, 0.01
LOOSE_WORDS = ("chance", "press", "collapse", "friction", "force", "split", "nail")


def files(folder: Path) -> list[Path]:
    """The thirty bowl files, written into a folder."""
    sys.path.insert(0, str(HERE))
    drawn = runpy.run_path(str(HERE / "press_needed.py"), run_name="loaded")["drawn"]
    ordinary = runpy.run_path(str(HERE / "05_ordinary_bowls.py"), run_name="loaded")["ORDINARY"]
    bowls = {f"ordinary {i}": tables for i, tables in enumerate(ordinary.values())}
    bowls |= {f"invented {i}": drawn(i) for i in range(INVENTED)}
    made = []
    for name, tables in bowls.items():
        lines = [f'name = "{name}"']
        for table, keys in tables.items():
            lines += [f"[{table}]", *(f"{key} = {json.dumps(value)}" for key, value in keys.items())]
        made.append(folder / f"{name}.toml")
        made[-1].write_text("\n".join(lines) + "\n", "utf8")
    return made


def answered(checkout: Path, file: Path) -> dict[str, Any]:
    """What ``fit --json`` of one checkout says, flat: every number and word under its own key."""
    environment = {**os.environ, "PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-P", "-m", "fitsim", "fit", str(file), "--json"]
    said = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    if not said.stdout:
        raise SystemExit(f"{file.name}: {said.stderr.strip()}")
    return dict(flat("", json.loads(said.stdout)))


def flat(key: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Keys and values of nested objects and lists; a place in a list is no part of the key's name."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from flat(f"{key}.{name}" if key else name, inner)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from flat(f"{key}[{place}]", inner)
    else:
        yield key, value


def apart(key: str, old: Any, new: Any) -> float:
    """Ratio of two numbers, 1 where they agree within the budget; infinite where words or kinds differ."""
    numbers = all(isinstance(v, int | float) and not isinstance(v, bool) for v in (old, new))
    if old == new:
        return 1.0
    if not numbers or old * new <= 0:
        return math.inf
    budget = LOOSE if any(word in key for word in LOOSE_WORDS) else USUAL
    ratio = abs(new / old)
    return 1.0 if abs(math.log(ratio)) <= math.log1p(budget) else ratio


def main(other: Path) -> dict[str, list[float]]:
    """Compare and print; ratios that moved beyond the budget, by key without its places in lists."""
    moved: dict[str, list[float]] = defaultdict(list)
    within = count = 0
    with tempfile.TemporaryDirectory() as folder:
        for file in files(Path(folder)):
            old, new = answered(other, file), answered(HERE.parent, file)
            words = {key for key in ("verdict", "verdict_in_middle") if old.get(key) != new.get(key)}
            if words:
                print(f"{file.stem}: {old.get('verdict')} -> {new.get('verdict')}", flush=True)
            for key in sorted(old.keys() | new.keys()):
                ratio = apart(key, old.get(key), new.get(key))
                count += 1
                within += ratio == 1
                if ratio != 1:
                    name = "".join(part.split("]")[-1] for part in key.split("["))
                    moved[name].append(ratio)
    print(f"{within} of {count} numbers and words as before, within the budget")
    for name, ratios in sorted(moved.items(), key=lambda item: -len(item[1])):
        finite = [r for r in ratios if math.isfinite(r)]
        far = max(finite, key=lambda r: abs(math.log(r)), default=math.nan)
        middle = statistics.median(finite) if finite else math.nan
        print(f"{name}: {len(ratios)} moved, median {middle:.3f}, farthest {far:.3f}", end="")
        print(f", {len(ratios) - len(finite)} of another kind" if len(finite) < len(ratios) else "")
    return moved


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("other", type=Path, help="another checkout of the program")
    main(parser.parse_args().other.resolve())
