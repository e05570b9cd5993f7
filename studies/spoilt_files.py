"""How the program takes files spoilt by the rules of their own grammar: a table of what was tried.

    python studies/spoilt_files.py 2000

Every kind of file that the program reads is spoilt so often, always alike for the same number, and read as
the program reads it; what breaks it is listed with the number that gives it again.
"""

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from hostile_files import kinds, outcome

TRIES = 500


def main(tries: int = TRIES) -> int:
    """Print the table; what broke it stands below, and is counted."""
    broke = []
    print(f"{'kind':36} {'tried':>7} {'taken':>7} {'refused':>8} {'longest line':>13} {'slowest, s':>11}")
    for kind in kinds():
        counts: Counter[str] = Counter()
        longest, slowest = 0, 0.0
        for number in range(tries):
            raw = kind.spoil(random.Random(f"{kind.name} {number}"), kind.good)
            start = time.perf_counter()
            told, length = outcome(kind, raw)
            slowest, longest = max(slowest, time.perf_counter() - start), max(longest, length)
            counts[told] += 1
            if told not in ("taken", "refused"):
                broke.append(f"{kind.name}, number {number}: {told}")
        told = f"{kind.name:36} {tries:>7} {counts['taken']:>7} {counts['refused']:>8}"
        print(f"{told} {longest:>13} {slowest:>11.2f}", flush=True)
    print("\n".join(broke) or "nothing broke it")
    return len(broke)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("tries", nargs="?", type=int, default=TRIES, help=f"of every kind ({TRIES})")
    raise SystemExit(min(main(parser.parse_args().tries), 1))
