"""Do ranges learned from tests in the workshop hold the truth as often as they say?

Question: scrap rings, slides of off-cuts, broken strips and an oven each narrow a range by Bayes' rule. Of
many workshops, how many have their true kerf and lean, friction, strength and moisture inside the ranges
that say nine in ten, how much narrower do the ranges get, and how often are honest readings doubted?

Method: workshops made up from what is believed of workshops (``tests/made_up_workshops.py``): strips are
Weibull numbers of unequal size with a shape drawn between 5 and 10, sawn and read with errors; slides
differ and are read with errors, those past 30 degrees only as held; 1 to 5 strips, 2 to 6 slides, 1 or 2
oven pieces and a meter, two rings, a slot and a bevel gauge. ``python studies/workshop_tests.py [WORKSHOPS]
[SEED]`` takes some 40 s of processor time for a thousand.

Answer, percent of workshops inside, 200 (seed 1, +- 2.1) and 2000 (seed 2, +- 0.7):

                 200     2000
    saw         90.3     90.6
    friction    90.3     90.7
    strength    91.3     90.1
    moisture    90.8     89.9

Five of the 200 and 73 of the 2000 had their honest readings doubted, four tests at one in a hundred each.
The range of friction shrinks to 0.26 of the one believed (in the logarithm), that of strength across the
grain, at the handbooks' volume and over every shape, to a high end 1.57 times its low one; before the
strips it was 1.7 to 2.3 times, by the shape. Of a board with five strips the load of further strips of
the same size is known within 11 to 14 percent either way; with one strip, within 21 and 47.
"""

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from made_up_workshops import BELIEVED, covered, learn_in

from fitsim.errors import InputError

KINDS = ("saw", "friction", "strength", "moisture")


def main(workshops: int, seed: int) -> None:
    """Make up the workshops, learn in each, and print how often the truth is covered."""
    rng = np.random.default_rng(seed)
    inside = dict.fromkeys(KINDS, 0)
    doubted: dict[str, int] = {}
    friction, strength = [], []
    learned = 0
    for number in range(workshops):
        try:
            true, found = learn_in(rng, number)
        except InputError as error:
            for problem in error.problems:
                kind = problem.key.split()[0].rstrip(",").split(".")[0]
                doubted[kind] = doubted.get(kind, 0) + 1
            continue
        learned += 1
        cover = covered(true, found)
        for kind in KINDS:
            inside[kind] += getattr(cover, kind)
        if found.friction is not None and found.strength is not None:
            known = found.friction.friction
            friction.append(math.log(known.high / known.low) / math.log(BELIEVED[1] / BELIEVED[0]))
            strength.append(found.strength.high_MPa / found.strength.low_MPa)
    print(
        f"{workshops} workshops, seed {seed}: {learned} learned from, the rest doubted: {doubted or 'none'}"
    )
    for kind in KINDS:
        share = inside[kind] / learned
        print(f"{kind:10s} {100 * share:5.1f} +- {100 * math.sqrt(0.09 / learned):.1f} % inside")
    print(f"friction's range is {np.median(friction):.2f} of the believed one (in logarithm, median)")
    print(f"strength's high over low: {np.median(strength):.2f} (median)")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("workshops", nargs="?", type=int, default=200, help="made up (200)")
    parser.add_argument("seed", nargs="?", type=int, default=1, help="of their numbers (1)")
    main(**vars(parser.parse_args()))
