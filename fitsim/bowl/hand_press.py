"""How hard a hand presses, and the press a bowl is judged at.

A maker presses, lets go, and presses harder if the bowl springs back: so a bowl is judged at the least
press that makes it hold and a spare beyond, not at all the strength there is. A stronger maker then never
has a worse bowl: he need not use what he has.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fitsim.tables import read_table

__all__ = ["REACH_N", "HandForce", "JudgedPress", "judged_press", "ordinary_hand"]

REACH_N = 500.0
"""Greatest press looked at for a bowl that does not hold: two hands with body weight, 350 to 500 N
(`data/hand_force.csv`, from memory). [N]"""

_ONE_HAND = "one-hand push"
_TWO_HANDS = "two hands, straight down"


@dataclass(frozen=True)
class HandForce:
    """How hard an ordinary maker can push.

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
    """How hard a maker can push a bowl open that lies on a bench, where the bowl file does not say.

    Returns
    -------
    HandForce
        From one hand pushing without body weight to two hands leaning on the bowl; the value is their
        geometric mean to a hundred newtons. An estimate.

    Examples
    --------
    >>> hand = ordinary_hand()
    >>> hand.low_N, hand.value_N, hand.high_N
    (140.0, 200.0, 350.0)
    """
    rows = read_table("hand_force")
    one = max(float(row["mean_N"]) for row in rows if row["task"].startswith(_ONE_HAND))
    two = next(float(row["low_N"]) for row in rows if row["task"].startswith(_TWO_HANDS))
    return HandForce(
        low_N=10.0 * round(one / 10),
        value_N=100.0 * round(math.sqrt(one * two) / 100),
        high_N=two,
        source=(
            "between one hand pushing on a handle, 136 N (greatest mean, Seo et al., PMC6774193), and two "
            "hands leaning on the bowl, 350 N (half a body's weight, from memory)"
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
    friction : float
        The friction that asks for it; nan where the press was given, or none makes it hold. [-]
    least_needs_N : float
        Least press that makes it hold at the least friction of its range, where that has no say, as the
        bowl fails at a press of its own; infinite if none does, nan where it has its say. [N]
    """

    needed_N: float
    asked_N: float
    press_N: float
    sunk_at_N: float
    share: float
    friction: float = math.nan
    least_needs_N: float = math.nan


def judged_press(
    needed_N: Mapping[float, float], *, spare: float, available_N: float, ordinary_N: float
) -> JudgedPress:
    """The press at which to judge a bowl.

    Parameters
    ----------
    needed_N : mapping of float to float
        Least press that makes it hold, by each friction that has a say; infinite where none does, which
        then has none: there it springs back at any press. [-, N]
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
    >>> judged_press({0.4: 40.0, 0.3: 60.0}, spare=1.25, available_N=300.0, ordinary_N=100.0).press_N
    75.0
    >>> judged_press({0.4: 40.0, 0.3: 60.0}, spare=1.25, available_N=50.0, ordinary_N=100.0).share
    1.5
    """
    held = {friction: needed for friction, needed in needed_N.items() if math.isfinite(needed)}
    if not held:
        return JudgedPress(math.inf, math.inf, min(available_N, REACH_N), ordinary_N, math.inf)
    friction = max(held, key=lambda at: held[at])
    asked = spare * held[friction]
    return JudgedPress(held[friction], asked, min(asked, available_N), asked, asked / available_N, friction)
