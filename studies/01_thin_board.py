"""At which tilt should a thin board be sawn?

Question: a board of 6 to 8 mm is to become a shallow cherry dish, sawn with a kerf of 0.7 mm (an invented
scenario). Is there a tilt that locks, which is best, how likely does it lock there, and what would help
where there is none?

Method: ``fitsim.tilt.tilt_answer`` by the closed form for boards of 6, 7 and 8 mm: the range of tilts
over all corners of what is known only as a range, the chance over imperfect cuts with its standard
error, and the least changes that open a range.

Answer (closed form, 60 N does not enter it): 6 mm locks from 7.89 to 11.31 deg, 7 mm from 6.76, 8 mm from
5.91; falling through limits below, springing back above (friction 0.2, its low end). Best tilts 10.1, 9.0
and 9.4 deg; of 256 imperfect bowls there every one locks (standard error given as 0.004, one bowl in 256,
because no more can be said from so many). The middle of a broad top is meant, not a sharp best. The
springy strip was not asked: it takes more friction and splits more, so both ends are hopeful.

Run it with ``python studies/01_thin_board.py``; it takes about a minute.
"""

import math

import fitsim
from fitsim.rigid import deciding_numbers
from fitsim.tilt import TiltAnswer, tilt_answer

TABLES = {
    "board": {"wood": "cherry", "thickness": "8 mm", "across": "160 mm", "moisture": "8 %"},
    "cut": {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "80 mm"},
    "use": {"finish": "oil", "press": "60 N"},
}


def main(
    thicknesses_mm: tuple[float, ...] = (6.0, 7.0, 8.0),
    *,
    across: str = "160 mm",
    curve_samples: int = 64,
    most_samples: int = 2048,
) -> tuple[TiltAnswer, ...]:
    """Print range, best tilt, chance and changes for each thickness.

    Parameters
    ----------
    thicknesses_mm : tuple[float, ...]
        Thicknesses of the board. [mm]
    across : str
        Diameter of the board; a smaller one has fewer turns.
    curve_samples, most_samples : int
        Imperfect bowls at each tilt, and at most at the best one.

    Returns
    -------
    tuple[TiltAnswer, ...]
        One for each thickness.
    """
    answers = []
    for thickness in thicknesses_mm:
        board = {**TABLES["board"], "thickness": f"{thickness} mm", "across": across}
        bowl = fitsim.make_bowl({**TABLES, "board": board})
        found = tilt_answer(
            bowl, deciding_numbers, seed=1, curve_samples=curve_samples, most_samples=most_samples
        )
        answers.append(found)
        text = f"{thickness:g} mm: "
        if found.span is None:
            text += "no tilt locks at every end of the ranges"
        else:
            low, high = found.span.low, found.span.high
            text += (
                f"{math.degrees(low.tilt_rad):.2f} ({low.limit} below) to "
                f"{math.degrees(high.tilt_rad):.2f} deg ({high.limit} above)"
            )
        print(
            f"{text}; best {math.degrees(found.best_tilt_rad):.1f} deg, where "
            f"{found.at_best.chance[-1]:.3f} lock (standard error {found.at_best.se[-1]:.3f})"
        )
        for change in found.changes:
            print(f"    {change.what}: {change.before} to {change.after} {change.unit} ({change.size:.0%})")
    return tuple(answers)


if __name__ == "__main__":
    main()
