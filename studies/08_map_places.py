"""Are the places of a map that are not pressed told right?

Question: ``fitsim map`` presses a place only where its state is in doubt
(:mod:`fitsim.sweeps.asked_places`). How
many places is that, and is one of the others ever told a state that pressing it does not give?

Method: unlike maps of small invented bowls, 12 cells along a side. Every place is pressed once and kept;
then the choice is made again from what was kept, so that both see the same numbers. Run it with
``python studies/08_map_places.py``, some minutes of two processors; the table it prints is its answer.
"""

import argparse
import time
from collections.abc import Sequence
from typing import Any

import numpy as np

from fitsim.bowl.inputs import Bowl
from fitsim.bowl.judgement import Judgement
from fitsim.processes import worker_count, worker_pool
from fitsim.sweeps.lock_map import MAP_STATES, bowl_map
from fitsim.sweeps.row_answer import quickly
from fitsim.sweeps.varied_quantities import read_varied

POINTS = 12

SMALL: dict[str, dict[str, str]] = {
    "board": {"wood": "black walnut", "thickness": "12 mm", "across": "104 mm", "moisture": "9 %"},
    "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6 mm", "base": "60 mm"},
    "use": {"finish": "none", "friction": "0.4", "press": "150 N"},
}
STIFF: dict[str, dict[str, str]] = {
    "board": {"wood": "cherry", "thickness": "17 mm", "across": "104 mm", "moisture": "9 %"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "52 mm"},
    "use": {"finish": "none", "friction": "0.25 to 0.5", "press": "110 N"},
}

MAPS = {
    "thin, tilt and kerf": (SMALL, "tilt=2..20", "kerf=0.3..1.4 mm"),
    "thin, friction and tilt": (SMALL, "friction=0.1..0.6", "tilt=4..20"),
    "stiff, press and tilt": (STIFF, "press=40..200", "tilt=3..12"),
    "stiff, moisture of base and turns": (STIFF, "base_moisture=5..16", "turn_moisture=5..16"),
    "thin, pitch and thickness": (SMALL, "pitch=4..9 mm", "thickness=8..18 mm"),
}
"""Unlike maps: boundaries crossed smoothly, others at a jump, and keys that change many numbers."""

HEADS = ("map", "pressed of 169", "told wrong", "states, place by place", "s")


class _Kept:
    """Judgements by bowl, so that none is made twice."""

    def __init__(self) -> None:
        self._of: dict[str, Judgement | Exception] = {}
        self.asked = 0

    def __call__(self, bowl: Bowl) -> Judgement:
        name = repr((bowl.board, bowl.cut, bowl.use, bowl.limits))
        if name not in self._of:
            self.asked += 1
            try:
                self._of[name] = quickly(bowl)
            except Exception as error:
                self._of[name] = error
        found = self._of[name]
        if isinstance(found, Exception):
            raise found
        return found


def row(name: str, tables: dict[str, dict[str, str]], across: str, up: str) -> tuple[str, ...]:
    """One map in the cells of :data:`HEADS`."""
    begun = time.process_time()
    kept = _Kept()
    axes: Any = {"across": read_varied(across), "up": read_varied(up), "points": POINTS, "judge_one": kept}
    every = bowl_map(tables, every=True, **axes)
    few = bowl_map(tables, **axes)
    wrong = few.lattice.state != every.lattice.state
    pressed = few.lattice.asked
    if (wrong & pressed).any():
        raise RuntimeError("a place pressed twice gave two answers")
    counts = np.bincount(every.lattice.state.ravel(), minlength=len(MAP_STATES))
    states = ", ".join(f"{MAP_STATES[k]} {n}" for k, n in enumerate(counts.tolist()) if n)
    spent = time.process_time() - begun
    return name, str(int(pressed.sum())), str(int(wrong.sum())), states, f"{spent:.0f}"


def main(names: Sequence[str]) -> None:
    """Print the table, map by map as they are done."""
    wanted = [name for name in MAPS if not names or any(word in name for word in names)]
    print(" | ".join(HEADS))
    with worker_pool(worker_count()) as pool:
        for told in pool.map(row, wanted, *zip(*(MAPS[name] for name in wanted), strict=True)):
            print(" | ".join(told), flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("names", nargs="*", help="parts of maps' names (all)")
    main(parser.parse_args().names)
