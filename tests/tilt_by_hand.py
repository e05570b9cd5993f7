"""A bowl judged by hand formulas, for tests of what asks it: drop k/sin(tilt), press of a wedge."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import fitsim
from fitsim.bowl.inputs import Bowl, Limits
from fitsim.bowl.verdict import DecidingNumbers
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.tilt.lock_chance import JudgeBowls

NEEDED_N = 40.0


def bowl_of(
    *,
    thickness: str = "17 mm",
    kerf: str = "0.7 mm",
    friction: str = "0.4",
    least_overlap: float = 0.15,
    press: str = "200 N",
    keep_ranges: bool = False,
    **scatter: float,
) -> Bowl:
    """An invented walnut bowl, even cut, no film; ranges left out but for friction's, where wanted."""
    made = fitsim.make_bowl(
        {
            "board": {
                "wood": "black walnut",
                "thickness": thickness,
                "across": "108 mm",
                "moisture": "9 %",
            },
            "cut": {"tilt": "6 deg", "kerf": kerf, "pitch": "7 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": friction, "press": press},
        }
    )
    kept = (
        tuple(u for u in made.uncertain if u.path in ("use.friction", "cut.kerf_mm")) if keep_ranges else ()
    )
    return replace(
        made,
        uncertain=kept,
        limits=Limits(overlap=least_overlap, split_chance=1.1),
        scatter=replace(made.scatter, **scatter),
    )


def by_hand(seen: Bowl) -> DecidingNumbers:
    """Physics page, section 3: drop k/sin(tilt); no press holds at tan(tilt) = mu; nothing splits."""
    tilt = seen.cut.tilt_rad[0]
    sunk = max(seen.cut.kerf_mm) / math.sin(tilt) / seen.board.thickness_mm if tilt > 0 else math.inf
    room = 1 - math.tan(tilt) / seen.use.friction
    asked = 1.25 * NEEDED_N / seen.use.press_N / room if room > 0 else math.inf
    used = math.tan(tilt) / seen.use.friction
    return DecidingNumbers(min(seen.cut.kerf_mm), 1 - sunk, used, 0.0, float(room > 0), asked)


def _numbers_or_none(numbers: Callable[[Bowl], DecidingNumbers], bowl: Bowl) -> DecidingNumbers | None:
    try:
        return numbers(bowl)
    except (NoConvergenceError, OutsideModelError):
        return None


def one_by_one(numbers: Callable[[Bowl], DecidingNumbers]) -> JudgeBowls:
    """A judge that works out one bowl after another.

    Parameters
    ----------
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.

    Returns
    -------
    JudgeBowls
        Bowls outside the model or without an equilibrium give None.
    """

    def judge(bowls: Sequence[Bowl]) -> list[DecidingNumbers | None]:
        return [_numbers_or_none(numbers, bowl) for bowl in bowls]

    return judge


def judge_by_hand() -> JudgeBowls:
    """A judge that works out the formulas."""
    return one_by_one(by_hand)
