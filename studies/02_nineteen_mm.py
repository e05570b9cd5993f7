"""At which tilts does a board of 19 mm lock, and which assumption moves the answer?

Question: common practice (no published source) has boards of about 19 mm with a narrow blade locking
between about 3 and 10 degrees. What range does the closed form give for kerfs of 0.6 to 0.85 mm, oiled,
pressed with 100 to 200 N, and which assumption moves each end by how much? Nothing is tuned.

Method: an invented cherry bowl of 19.05 mm with every other range at its middle; ends by
``fitsim.tiltrange.tilt_ranges``; then one assumption at a time is taken to each end of its range. The
press does not enter the closed form: the springy strip is asked about it at single tilts
(``python studies/02_nineteen_mm.py --elastic``; some seconds a tilt).

Answer (closed form): at the unfavourable end of every range 3.35 to 11.31 deg for a kerf of 0.6 mm,
3.86 to 11.31 for 0.7, 4.59 to 11.31 for 0.85; with every range at its middle 2.30, 2.65 and 3.15 to
20.56 deg. Splitting limits below, springing back above. Beside that, common practice's 3 to 10 deg. One
at a time, from the middle (2.65 to 20.56 deg at 0.7 mm): friction 0.2 to 0.55 moves the upper end from
11.31 to 28.81 deg and nothing else moves it at all; the lower end is moved by kerf 0.6 to 0.85 mm (2.30
to 3.15 deg), rolling shear stiffness (2.46 to 3.04), least overlap 0.05 to 0.30 (2.65 to 2.99), rolling
shear strength (2.87 to 2.65), strength across the grain (2.65 to 2.46) and film (2.67 to 2.63).

Answer (elastic strip, kerf 0.7 mm, every range but friction at its middle), state at 3, 5, 7 and 10 deg:

    friction 0.375, 100 N: falls through, split risk 0.14, locks,           locks
    friction 0.375, 200 N: falls through, split risk 0.57, split risk 0.23, locks
    friction 0.2,   100 N: falls through, split risk 0.26, locks (hold 0.98), springs back (hold 1.37)
    friction 0.2,   200 N: falls through, split risk 0.95, split risk 0.52, springs back (hold 1.27)

So the press moves the lower end most: pressed with 200 N instead of 100 the strip sinks deeper and
splits likelier, and the lower end goes from between 5 and 7 deg to between 7 and 10 (friction 0.375).
The taper rule puts the upper end at the friction angle (11.3 deg at 0.2, 20.6 at 0.375); the strip's
spring brings it below 10 deg at 0.2. Beside 3 to 10 deg: the closed form's lower end (3.35 to 4.59 at
the unfavourable ends) is set by splitting, without which it is 2.1 to 3.0 (asin(k/(0.85 T))); its upper
end of 10 deg would be a friction of 0.18. The strip locks at none of 3 and 5 deg: gentler presses,
stronger wood and fewer bowls counted as split are what would have to be true for common practice's 3
deg, and this study does not settle which.
"""

import math
import sys
from dataclasses import replace

import fitsim
from fitsim.bowl import Bowl, with_input
from fitsim.errors import NoConvergenceError
from fitsim.judged import elastic_numbers
from fitsim.rigid import deciding_numbers
from fitsim.tiltrange import tilt_ranges
from fitsim.verdict import judge

KERFS_mm = (0.6, 0.7, 0.85)
TABLES = {
    "board": {"wood": "cherry", "thickness": "19.05 mm", "across": "200 mm", "moisture": "8 %"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "96 mm"},
    "use": {"finish": "oil", "press": "100 N"},
}


def _ends(bowl: Bowl) -> tuple[float, float, str, str]:
    safe = tilt_ranges(bowl, deciding_numbers).safe
    if not safe:
        return math.nan, math.nan, "no range", "no range"
    span = safe[0]
    low, high = (math.degrees(end.tilt_rad) for end in (span.low, span.high))
    return low, high, span.low.limit, span.high.limit


def _middle(across: str) -> Bowl:
    """The bowl with every range at its middle; ranges are tried one at a time."""
    return fitsim.make_bowl({**TABLES, "board": {**TABLES["board"], "across": across}})


def _assumptions(bowl: Bowl) -> list[tuple[str, Bowl, Bowl]]:
    """Each assumption at both ends of its range, all else at the middle."""
    alone = replace(bowl, uncertain=())
    rows = [
        (u.name, with_input(alone, u.path, u.low), with_input(alone, u.path, u.high))
        for u in bowl.uncertain
    ]
    kerf = [with_input(alone, "cut.kerf_mm", k) for k in (KERFS_mm[0], KERFS_mm[-1])]
    overlap = [replace(alone, limits=replace(alone.limits, overlap=share)) for share in (0.05, 0.30)]
    return [*rows, ("kerf 0.6 to 0.85 mm", *kerf), ("least overlap 0.05 to 0.30", *overlap)]


def main(
    across: str = "200 mm", *, kerfs_mm: tuple[float, ...] = KERFS_mm, elastic: bool = False
) -> dict[str, tuple[float, float, float, float]]:
    """Print the ranges and the table of what moves their ends.

    Parameters
    ----------
    across : str
        Diameter of the board; a smaller one has fewer turns.
    kerfs_mm : tuple[float, ...]
        Kerfs whose ranges are printed. [mm]
    elastic : bool
        Ask the springy strip as well, at 3, 5, 7 and 10 deg, with 100 and 200 N.

    Returns
    -------
    dict[str, tuple[float, float, float, float]]
        For each assumption: low and high end [deg] with it at its low end, and with it at its high end;
        "middle" holds the ends with everything at its middle, twice.
    """
    bowl = _middle(across)
    alone = replace(bowl, uncertain=())
    for kerf in kerfs_mm:
        low, high, below, above = _ends(with_input(bowl, "cut.kerf_mm", kerf))
        middle = _ends(with_input(alone, "cut.kerf_mm", kerf))
        print(
            f"kerf {kerf} mm: {low:.2f} to {high:.2f} deg at unfavourable ends ({below}; {above}), "
            f"{middle[0]:.2f} to {middle[1]:.2f} in the middle ({middle[2]}; {middle[3]})"
        )
    print("common practice, no published source: about 3 to 10 deg")
    base = _ends(alone)
    found = {"middle": (base[0], base[1], base[0], base[1])}
    for name, at_low, at_high in _assumptions(bowl):
        low, high = _ends(at_low), _ends(at_high)
        found[name] = (low[0], low[1], high[0], high[1])
        print(f"{name}: low end {low[0]:.2f} | {high[0]:.2f}, high end {low[1]:.2f} | {high[1]:.2f} deg")
    if elastic:
        for press in (100.0, 200.0):
            for degrees in (3, 5, 7, 10):
                tilted = with_input(alone, "cut.tilt_rad", math.radians(degrees))
                try:
                    seen = elastic_numbers(with_input(tilted, "use.press_N", press))
                except NoConvergenceError as error:
                    print(f"springy strip, {press:.0f} N, {degrees} deg: no answer ({error})")
                    continue
                print(
                    f"springy strip, {press:.0f} N, {degrees} deg: {judge(seen, alone.limits)} (overlap "
                    f"{seen.overlap:.2f}, used {seen.friction_used:.2f}, split {seen.split_chance:.2g})"
                )
    return found


if __name__ == "__main__":
    main(elastic="--elastic" in sys.argv[1:])
