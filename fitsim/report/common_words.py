"""What every answer says alike: cautions, plain names, what was taken, how long the cut takes."""

import math
import re

from fitsim.assumption import Assumption
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl
from fitsim.quantities import FEED, INCH_MM, LENGTH, FINE_BELOW_mm, lengths_in, read_quantity, show_length

__all__ = [
    "BLADE_OUT",
    "CAUTIONS",
    "PLAIN",
    "TEST_CAUTIONS",
    "chance_in_words",
    "cut_in_words",
    "feed_words",
    "plain_source",
    "plain_words",
    "taken_as",
]

BLADE_OUT = (
    "At the mark switch off, wait until the blade stands still, unplug, then ease the board back along the "
    "slot by hand, off the standing blade."
)
"""How the blade gets out of a slot that ends inside the board: common practice, no published source."""


CAUTIONS = (
    "Unplug the saw before you change or clean the blade.",
    "Keep the guards on and the upper guide just above the board; fingers never in line with the blade.",
    "A tilted table lets the board slide: stop it. While the blade runs never back out of a long curve.",
    BLADE_OUT,
    "Wear eye protection and a dust mask.",
    "Press with the flat of the hand, face to the side: a strip that splits lets go suddenly.",
    "The saw's own manual and your workshop's rules come first.",
)


TEST_CAUTIONS = (
    "Saw off-cuts only while the piece is large enough to hold with both hands far from the blade; "
    "guide thin strips with a mitre gauge or a sled, and pick them up when the blade stands still.",
    "A strip breaks suddenly: eye protection, face to the side, feet clear, something soft under it.",
    "Stay with the oven, no hotter than 103 C (217 F), and put nothing finished or glued into it.",
)
"""Beside the others wherever someone is sent to slide, break or dry off-cuts."""


PLAIN = {
    "wood.E_L_MPa": "stiffness along the grain",
    "wood.E_R_MPa": "stiffness across the grain, across the rings",
    "wood.E_T_MPa": "stiffness across the grain, along the rings",
    "wood.tension_across_MPa": "strength pulled across the grain",
    "wood.bending_strength_MPa": "strength bent along the grain",
    "wood.swell_L_per_point": "swelling along the grain, for each percent of moisture",
    "wood.swell_R_per_point": "swelling across the rings, for each percent of moisture",
    "wood.swell_T_per_point": "swelling along the rings, for each percent of moisture",
    "wood.nu_LR": "share by which it thins across the rings when pulled along the grain",
    "wood.nu_LT": "share by which it thins along the rings when pulled along the grain",
    "wood.nu_RT": "share by which it thins along the rings when pulled across them",
    "wood.green_ratio_modulus": "stiffness dry over stiffness wet",
    "wood.green_ratio_bending": "strength in bending, dry over wet",
    "wood.green_ratio_shear": "strength against sliding, dry over wet",
    "wood.intersection_moisture_percent": "moisture above which it weakens no more",
    "wood.crushing_across_MPa": "strength against being crushed across the grain",
    "wood.shrink_R_percent": "shrinking across the rings, from wet to dry",
    "wood.shrink_T_percent": "shrinking along the rings, from wet to dry",
    "wood.specific_gravity": "weight, of that of water",
    "wood.G_LR_MPa": "stiffness against sliding along the grain, across the rings",
    "wood.G_LT_MPa": "stiffness against sliding along the grain, along the rings",
    "wood.G_RT_MPa": "stiffness of fibres against rolling",
    "wood.shear_along_MPa": "strength against sliding along the grain",
    "wood.rolling_shear_MPa": "strength of fibres against rolling",
    "scatter of shear along": "scatter of strength against sliding along the grain",
    "scatter of rolling shear": "scatter of strength against rolling",
    "scatter of tension across": "scatter of strength pulled across the grain",
    "size effect of strength across the grain, Weibull shape": (
        "how strength across the grain falls with size"
    ),
    "scatter of shear within a board, Weibull shape": "scatter of strength against sliding within a board",
    "size effect of rolling shear, volume of the test piece": (
        "test piece of strength against rolling, volume it stands for"
    ),
    "size effect of shear along the grain: none; if there is one, volume of the test block": (
        "strength against sliding falls with size: not taken so; if it did, volume of the test block"
    ),
    "strength in rolling shear": "the strength of fibres against rolling",
    "size effect of rolling shear": "how strength against rolling falls with size",
    "size effect of shear along the grain": "how strength against sliding falls with size",
    "rolling shear": "fibres rolling",
    "shear along the grain": "sliding along the grain",
    "tension across the grain": "pulled across the grain",
    "bending along the grain": "bent along the grain",
}
"""What a maker is told in place of a textbook's term; ``fitsim guide words`` has both side by side."""


def plain_words(name: str) -> str:
    """The name of a quantity as a maker would say it.

    Parameters
    ----------
    name : str
        Key of an assumption, or a textbook's term.

    Returns
    -------
    str
        Plain words; the name itself where it is plain already.

    Examples
    --------
    >>> plain_words("rolling shear"), plain_words("kerf")
    ('fibres rolling', 'kerf')
    """
    return PLAIN.get(name, name)


def plain_source(source: str) -> str:
    """Where a value comes from, its one textbook's letter put in a maker's words.

    Parameters
    ----------
    source : str
        As the data have it.

    Returns
    -------
    str
        The same.

    Examples
    --------
    >>> plain_source("0.106 x E_L, mean ratio")
    '0.106 x stiffness along the grain, mean ratio'
    """
    return source.replace("E_L", PLAIN["wood.E_L_MPa"])


def taken_as(assumed: Assumption, *, units: str) -> str:
    """What an assumption was taken as, with its reach, in the reader's units.

    Parameters
    ----------
    assumed : Assumption
        The assumption.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "1/4 in (13/64 in to 23/64 in)"; what stands in those units already, as it was written.
    """
    value, low, high = (_in_units(v, units) for v in (assumed.value, assumed.low, assumed.high))
    alone = assumed.low == assumed.high or " to " in value
    return value if alone else f"{value} ({low} to {high})"


def _in_units(text: str, units: str) -> str:
    """A length or a feed as the reader has it; every other quantity as it is."""
    if units == "in":
        feed = re.fullmatch(r"([0-9.]+) mm/min", text)
        return f"{float(feed[1]) / float(INCH_MM):.0f} in/min" if feed else lengths_in(text, units)
    if not text.endswith(" in"):
        return text
    length_mm = float(read_quantity(text, LENGTH))
    return show_length(length_mm, units=units, fine=length_mm < FINE_BELOW_mm)


def cut_in_words(answer: BowlFit, *, units: str) -> tuple[str, str]:
    """How long the cut is and how long it takes, as terminal, page and sheet tell it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    length, time : str
        For example "4.86 m" and "about 12 to 49 min, 24 at 200 mm/min (assumed)"; of a feed that the file
        gives one time.
    """
    length_mm, feed_mm_per_min = answer.cut_length_mm, answer.bowl.cut.feed_mm_per_min
    assumed = next((a for a in answer.bowl.assumptions if a.key == "cut.feed"), None)
    length = f"{length_mm / 1000:.2f} m" if units == "mm" else f"{length_mm / 304.8:.1f} ft"
    likely, feed = _minutes(length_mm / feed_mm_per_min), feed_words(answer.bowl, units=units)
    if assumed is None:
        return length, f"about {likely} min at {feed}"
    quick, slow = (
        _minutes(length_mm / float(read_quantity(end, FEED))) for end in (assumed.high, assumed.low)
    )
    return length, f"about {quick} to {slow} min, {likely} at {feed}"


def feed_words(bowl: Bowl, *, units: str) -> str:
    """How fast the board is fed, and whether the file says so.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "12 in/min" or "200 mm/min (assumed)".
    """
    feed_mm_per_min, assumed = bowl.cut.feed_mm_per_min, any(a.key == "cut.feed" for a in bowl.assumptions)
    marked = " (assumed)" if assumed else ""
    if units == "mm":
        return f"{feed_mm_per_min:g} mm/min{marked}"
    # What nobody measured has no three figures.
    return f"{feed_mm_per_min / 25.4:{'.1g' if assumed else '.3g'}} in/min{marked}"


def _minutes(time_min: float) -> str:
    """Whole minutes, of a short cut the first figure."""
    return f"{time_min:.0f}" if time_min >= 1 else f"{time_min:.1g}"


def chance_in_words(chance: float) -> str:
    """Say a chance as a maker would.

    Parameters
    ----------
    chance : float
        Between 0 and 1. [-]

    Returns
    -------
    str
        "fewer than 1 bowl in 1000", "about 1 bowl in 9", "about 6 bowls in 10", "nearly every bowl": to
        the nearest.

    Examples
    --------
    >>> chance_in_words(0.11), chance_in_words(0.0001), chance_in_words(0.51)
    ('about 1 bowl in 9', 'fewer than 1 bowl in 1000', 'about 5 bowls in 10')
    """
    if chance < 0.001:
        return "fewer than 1 bowl in 1000"
    if chance > 0.9:
        return "nearly every bowl"
    if chance > 0.35:
        return f"about {math.floor(chance * 10 + 0.5)} bowls in 10"
    times = 1 / chance
    return f"about 1 bowl in {round(times) if times < 20 else round(times, -1):g}"
