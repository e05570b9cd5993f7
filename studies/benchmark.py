"""How fast is the program from a cold start, against a bare ``import numpy`` in the same run?

Question: does a maker wait? Method: whole processes, one after the other in turn (A B C A B C ...), so
that a machine that changes speed hurts all alike; the ratio to ``python -c 'import numpy'`` is taken
round by round and its median is quoted. Goals: ``fitsim fit --rigid --json`` at most 4 times, the
demonstration with a picture at most 15 times; an explanation within 5 s (of which one press of the elastic
strip is more than half).

Run it with ``python studies/benchmark.py`` (``--rounds 3`` for a quick look).
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

GOALS = {"json, closed form": 4.0, "demonstration with picture": 15.0}


def seconds(command: list[str]) -> float:
    """Wall time of one process, its output thrown away. [s]"""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    start = time.perf_counter()
    subprocess.run(
        command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment
    )
    return time.perf_counter() - start


def main(rounds: int = 11) -> dict[str, float]:
    """Time every command in turn and return the median ratios to a bare import of numpy.

    Parameters
    ----------
    rounds : int
        Counted rounds after one that warms the disk cache.

    Returns
    -------
    dict[str, float]
        Median ratio by command. [-]
    """
    python = sys.executable
    with tempfile.TemporaryDirectory() as folder:
        picture = str(Path(folder) / "demo.svg")
        fit = [python, "-m", "fitsim", "fit", "--rigid"]
        bowl = str(Path(folder) / "bowl.toml")
        seconds([python, "-m", "fitsim", "new", bowl])
        explain = [python, "-m", "fitsim", "explain", bowl, "--seen", "fell through"]
        map_ = [python, "-m", "fitsim", "map", "--across", "tilt=2..14", "--up", "kerf=0.4..1.6"]
        table = str(Path(folder) / "table.csv")
        sweep = [python, "-m", "fitsim", "sweep", "tilt=2..14:25", "kerf=0.4..1.6:40"]
        sweep += ["--csv", table, "--replace"]
        commands = {
            "bare numpy": [python, "-c", "import numpy"],
            "json, closed form": [*fit, "--json"],
            "text": fit,
            "demonstration with picture": [*fit, "--picture", picture, "--replace"],
            "demonstration with rigid-body check": [*fit, "--check"],
            "explain, nothing measured": explain,
            "map, 100 x 100": [*map_, "--points", "100"],
            "map with picture": [*map_, "--picture", str(Path(folder) / "map.svg"), "--replace"],
            "sweep, 1000 rows": sweep,
            "sweep, 1000 rows, 2 processes": [*sweep, "--processes", "2"],
        }
        times: dict[str, list[float]] = {name: [] for name in commands}
        for counted in [False] + [True] * rounds:
            for name, command in commands.items():
                taken = seconds(command)
                if counted:
                    times[name].append(taken)
    bare = times.pop("bare numpy")
    print(f"bare numpy: median {statistics.median(bare) * 1000:.0f} ms over {rounds} rounds")
    ratios = {}
    for name, taken in times.items():
        pairs = [a / b for a, b in zip(taken, bare, strict=True)]
        ratios[name] = statistics.median(pairs)
        goal = f", goal at most {GOALS[name]:g}" if name in GOALS else ""
        print(
            f"{name}: {ratios[name]:.2f} times (from {min(pairs):.2f} to {max(pairs):.2f}{goal}), "
            f"median {statistics.median(taken) * 1000:.0f} ms"
        )
    return ratios


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=11)
    main(parser.parse_args().rounds)
