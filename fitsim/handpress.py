"""How hard a hand presses, and the press a bowl is judged at.

A maker presses, lets go, and presses harder if the bowl springs back: so a bowl is judged at the least
press that makes it hold and a spare beyond, not at all the strength there is. A stronger maker then never
has a worse bowl: he need not use what he has.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fitsim.tables import read_table

__all__ = ["REACH_N", "HandForce", "JudgedPress", "judged_press", "ordinary_hand"]

REACH_N = 500.0
"""Greatest press looked at for a bowl that does not hold: two hands with body weight, 350 to 500 N
(`data/hand_force.csv`, from memory). [N]"""

_ONE_HAND = "one-hand push"
_WOMEN = "women's over men's"


@dataclass(frozen=True)
class HandForce:
    """An ordinary hand's push.

    Attributes
    ----------
    low_N, value_N, high_N : float
        Range and the value taken. [N]
    source : str
        Where from.
    """

    low_N: float
    value_N: float
    high_N: float
    source: str


def ordinary_hand() -> HandForce:
    """How hard one hand pushes, where a bowl file does not say.

    Returns
    -------
    HandForce
        Greatest published mean of men's one-handed push, rounded, down to the least with the middle of the
        published ratio of women's strength to men's; the value is the least mean, rounded.

    Examples
    --------
    >>> hand = ordinary_hand()
    >>> hand.low_N, hand.value_N, hand.high_N
    (70.0, 100.0, 140.0)
    """
    rows = read_table("hand_force")
    means = [float(row["mean_N"]) for row in rows if row["task"].startswith(_ONE_HAND)]
    ratio = next(row for row in rows if row["task"].startswith(_WOMEN))
    weaker = (float(ratio["low_N"]) + float(ratio["high_N"])) / 2

    def tens(value: float) -> float:
        return 10.0 * round(value / 10)

    return HandForce(
        low_N=tens(weaker * min(means)),
        value_N=100.0 * round(min(means) / 100),
        high_N=tens(max(means)),
        source=(
            "one hand pushing on a handle: means of men 107 and 136 N (Seo et al., PMC6774193), women's "
            "over men's strength 0.50 to 0.83 (PubMed 1884710); two hands with body weight give several "
            "times that"
        ),
    )


@dataclass(frozen=True)
class JudgedPress:
    """The press a bowl is judged at.

    Attributes
    ----------
    needed_N : float
        Least press that makes it hold at the friction that asks most; infinite if none does. [N]
    asked_N : float
        That with the spare. [N]
    press_N : float
        What it is judged at: what is asked, or what there is. [N]
    sunk_at_N : float
        Press at which its overlap counts, whatever there is: a bowl that falls through does so for every
        maker. [N]
    share : float
        What is asked over what there is; above 1 it springs back for want of press. [-]
    """

    needed_N: float
    asked_N: float
    press_N: float
    sunk_at_N: float
    share: float


def judged_press(
    needed_N: Sequence[float], *, spare: float, available_N: float, ordinary_N: float
) -> JudgedPress:
    """The press at which to judge a bowl.

    Parameters
    ----------
    needed_N : sequence of float
        Least press that makes it hold at each friction it may have; infinite where none does. Frictions at
        which none does have no say: there it springs back at any press. [N]
    spare : float
        Times the press needed. [-]
    available_N : float
        How hard the maker can press. [N]
    ordinary_N : float
        Press at which the overlap of a bowl counts that no press makes hold. [N]

    Returns
    -------
    JudgedPress
        What is asked, and what it is judged at.

    Examples
    --------
    >>> judged_press([40.0, 60.0], spare=1.25, available_N=300.0, ordinary_N=100.0).press_N
    75.0
    >>> judged_press([40.0, 60.0], spare=1.25, available_N=50.0, ordinary_N=100.0).share
    1.5
    """
    held = [needed for needed in needed_N if math.isfinite(needed)]
    if not held:
        return JudgedPress(math.inf, math.inf, min(available_N, REACH_N), ordinary_N, math.inf)
    asked = spare * max(held)
    return JudgedPress(max(held), asked, min(asked, available_N), asked, asked / available_N)
