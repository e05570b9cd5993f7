"""At which tilt should a thin board be sawn?

Question: a board of 6 to 8 mm is to become a shallow cherry dish, sawn with a kerf of 0.7 mm (an invented
scenario). Is there a tilt that locks, which is best, how likely does it lock there, and what would help
where there is none?

Method: ``fitsim.tilt.best_tilt.tilt_answer`` on the elastic strip for boards of 6, 7 and 8 mm: the range
of tilts as
planned, the chance over samples of the same bowl sawn again and again with its standard error, and the
least changes that open a range.

Answer: printed; nothing is pinned.

Run it with ``python studies/01_thin_board.py``; it takes some minutes.
"""

import argparse
import math

import fitsim
from fitsim.processes import worker_count, worker_pool
from fitsim.tilt.best_tilt import TiltAnswer, tilt_answer
from fitsim.tilt.lock_chance import JudgeBowls, on_strip

TABLES = {
    "board": {"wood": "cherry", "thickness": "8 mm", "across": "160 mm", "moisture": "8 %"},
    "cut": {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "80 mm"},
    "use": {"finish": "oil", "press": "60 N"},
}


def main(
    thicknesses_mm: tuple[float, ...] = (6.0, 7.0, 8.0),
    *,
    across: str = "160 mm",
    judge: JudgeBowls | None = None,
) -> tuple[TiltAnswer, ...]:
    """Print range, best tilt, chance and changes for each thickness.

    Parameters
    ----------
    thicknesses_mm : tuple[float, ...]
        Thicknesses of the board. [mm]
    across : str
        Diameter of the board; a smaller one has fewer turns.
    judge : JudgeBowls or None
        Who presses; None: the elastic strip, on all processors.

    Returns
    -------
    tuple[TiltAnswer, ...]
        One for each thickness.
    """
    if judge is None:
        with worker_pool(worker_count()) as pool:
            return main(thicknesses_mm, across=across, judge=on_strip(pool))
    answers = []
    for thickness in thicknesses_mm:
        board = {**TABLES["board"], "thickness": f"{thickness} mm", "across": across}
        found = tilt_answer(fitsim.make_bowl({**TABLES, "board": board}), judge, seed=1)
        answers.append(found)
        text = f"{thickness:g} mm: "
        if found.span is None:
            text += "no tilt locks as planned"
        else:
            low, high = found.span.low, found.span.high
            text += (
                f"{math.degrees(low.tilt_rad):.2f} ({low.limit} below) to "
                f"{math.degrees(high.tilt_rad):.2f} deg ({high.limit} above)"
            )
        print(
            f"{text}; best {math.degrees(found.best_tilt_rad):.1f} deg, where "
            f"{found.at_best.chance[-1]:.2f} lock (standard error {found.at_best.se[-1]:.2f})"
        )
        for change in found.changes:
            print(f"    {change.what}: {change.before} to {change.after} {change.unit} ({change.size:.0%})")
    return tuple(answers)


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    main()
