"""Which tilts does a board of 19 mm lock at, and what moves the ends of the range?

Question: common practice (no published source) has boards of about 19 mm with a narrow blade locking
between about 3 and 10 degrees. What range does the elastic strip give for kerfs of 0.6 to 0.85 mm, and
which assumption moves each end by how much? Nothing is tuned.

Method: an invented cherry bowl of 19.05 mm with every range at its middle; ends by
``fitsim.tilt.tilt_range.tilt_spans``; then one assumption at a time is taken to each end of its range.

Answer: printed beside common practice's 3 to 10 deg; nothing is pinned.

Run it with ``python studies/02_nineteen_mm.py``; it takes some minutes.
"""

import argparse
import math
from dataclasses import replace

import fitsim
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.processes import worker_count, worker_pool
from fitsim.tilt.lock_chance import JudgeBowls, on_strip
from fitsim.tilt.tilt_range import tilt_spans

KERFS_mm = (0.6, 0.7, 0.85)
TABLES = {
    "board": {"wood": "cherry", "thickness": "19.05 mm", "across": "200 mm", "moisture": "8 %"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "96 mm"},
    "use": {"finish": "oil", "press": "200 N"},
}


def _assumptions(bowl: Bowl) -> list[tuple[str, Bowl, Bowl]]:
    """Each assumption at both ends of its range, all else at the middle."""
    alone = replace(bowl, uncertain=())
    rows = [
        (u.name, with_input(alone, u.path, u.low), with_input(alone, u.path, u.high))
        for u in bowl.uncertain
    ]
    kerf = [with_input(alone, "cut.kerf_mm", k) for k in (KERFS_mm[0], KERFS_mm[-1])]
    press = [with_input(alone, "use.press_N", push) for push in (100.0, 350.0)]
    overlap = [replace(alone, limits=replace(alone.limits, overlap=share)) for share in (0.05, 0.30)]
    return [
        *rows,
        (f"kerf {KERFS_mm[0]} to {KERFS_mm[-1]} mm", *kerf),
        ("press 100 to 350 N", *press),
        ("least overlap 0.05 to 0.30", *overlap),
    ]


def main(*, across: str = "200 mm", judge: JudgeBowls | None = None) -> dict[str, tuple[float, float]]:
    """Print the range in the middle, and with one assumption at a time at each end of its range.

    Parameters
    ----------
    across : str
        Diameter of the board; a smaller one has fewer turns.
    judge : JudgeBowls or None
        Who presses; None: the elastic strip, on all processors.

    Returns
    -------
    dict[str, tuple[float, float]]
        Lower and upper end by what was changed, nan where no tilt locks. [deg]
    """
    if judge is None:
        with worker_pool(worker_count()) as pool:
            return main(across=across, judge=on_strip(pool))
    bowl = fitsim.make_bowl({**TABLES, "board": {**TABLES["board"], "across": across}})
    found = {"middle": _ends_deg("middle", replace(bowl, uncertain=()), judge)}
    for name, low, high in _assumptions(bowl):
        for end, at in (("low", low), ("high", high)):
            found[f"{name}, {end}"] = _ends_deg(f"{name}, {end} end", at, judge)
    print("common practice, no published source: about 3 to 10 deg")
    return found


def _ends_deg(name: str, bowl: Bowl, judge: JudgeBowls) -> tuple[float, float]:
    spans = tilt_spans(bowl, judge).spans
    if not spans:
        print(f"{name}: no tilt locks")
        return math.nan, math.nan
    low, high = spans[0].low, spans[0].high
    ends = math.degrees(low.tilt_rad), math.degrees(high.tilt_rad)
    print(f"{name}: {ends[0]:.2f} ({low.limit} below) to {ends[1]:.2f} deg ({high.limit} above)")
    return ends


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    main()
