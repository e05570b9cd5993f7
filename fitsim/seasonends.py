"""The year at the ends of what is known only as a range: strength, and the pith's distance."""

from dataclasses import dataclass

import numpy as np

from fitsim.bowl import Bowl, with_input
from fitsim.elastic import open_bowl
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.leftopen import LeftOpen, held_chance
from fitsim.rigid import rigid_fit
from fitsim.weekseries import CLOSED, Worst
from fitsim.worstweeks import standing_chances
from fitsim.yearfit import YearFit, at_moistures, least_pith_mm, rock_mm, week_moistures

__all__ = ["PITH_RANGE_MM", "SeasonEnds", "season_ends"]

PITH_RANGE_MM = (75.0, 300.0)
"""Where nobody measured it."""


@dataclass(frozen=True)
class SeasonEnds:
    """Worst rocking and worst chance of splitting over their ranges, each (low, high).

    Attributes
    ----------
    rock_mm : tuple[float, float]
        With the pith far and near; one and the same where its distance was given. [mm]
    split_chance : tuple[float, float]
        With the wood strong and weak, by the model that told the worst; everything else that is known as
        a range stays at its middle. [-]
    """

    rock_mm: tuple[float, float]
    split_chance: tuple[float, float]


def season_ends(
    bowl: Bowl, year: YearFit, rock: Worst, split: Worst, held: LeftOpen | None, *, pith_mm: float
) -> SeasonEnds:
    """Work out the ends in the weeks that are worst.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    rock, split : Worst
        Where rocking and splitting are worst.
    held : LeftOpen or None
        The bowl left open, if that was asked.
    pith_mm : float
        Distance of the pith used. [mm]

    Returns
    -------
    SeasonEnds
        Nothing is pressed again: strength changes no force.
    """
    chances = [_chance(_at_strength(bowl, end), year, split, held) for end in ("high", "low")]
    return SeasonEnds(
        rock_mm=_rock(bowl, year, rock.week, pith_mm),
        split_chance=(min(chances), max(chances)),
    )


def _at_strength(bowl: Bowl, end: str) -> Bowl:
    for name in ("rolling_shear_MPa", "tension_across_MPa"):
        number = getattr(bowl.board.wood, name)
        bowl = with_input(bowl, f"board.wood.{name}", float(getattr(number, end)))
    return bowl


def _chance(bowl: Bowl, year: YearFit, split: Worst, held: LeftOpen | None) -> float:
    then = at_moistures(bowl, week_moistures(year, split.week))
    closed = split.model == CLOSED
    if held is not None and closed:
        return held_chance(then, rigid_fit(then), held)
    if held is not None:
        return float(standing_chances(bowl, year, held.opened_week, held.hoop_MPa)[split.week])
    if closed:
        return rigid_fit(then).numbers.split_chance
    try:
        return open_bowl(then).numbers.split_chance
    except (NoConvergenceError, OutsideModelError):
        return float("nan")


def _rock(bowl: Bowl, year: YearFit, week: int, pith_mm: float) -> tuple[float, float]:
    base = float(year.base_moisture_percent[week])
    given = bowl.board.pith_mm is not None
    near = max(PITH_RANGE_MM[0], 1.05 * least_pith_mm(bowl))
    ends = (pith_mm, pith_mm) if given else (max(PITH_RANGE_MM[1], near), near)
    rocks = [rock_mm(bowl, year.fits[week], base, end) for end in ends]
    return (float(np.min(rocks)), float(np.max(rocks)))
