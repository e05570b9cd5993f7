"""The elastic strip at the worst weeks of a year, between weeks that have only the closed form."""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.beam import laid_out
from fitsim.bowl import Bowl
from fitsim.elastic import Opening, open_bowl
from fitsim.equilibrium import prepare, turn_back
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.pressed import ElasticBowl, PressState
from fitsim.readings import rim_height
from fitsim.release import KEPT_SHARE, collapse_N
from fitsim.rigid import rigid_fit
from fitsim.strength import grain_strength
from fitsim.stress import strip_stress
from fitsim.verdict import judge
from fitsim.yearfit import YearFit, at_moistures, week_moistures

__all__ = [
    "SMALL_PUSH_N",
    "ElasticWeek",
    "elastic_week",
    "play_under_push_mm",
    "standing_chances",
]

SMALL_PUSH_N = 5.0
"""A finger on one side of the rim (our choice): far below what makes a seat slip."""

SIDES = 4


@dataclass(frozen=True)
class ElasticWeek:
    """One opening of the elastic strip at the moistures of one week.

    Attributes
    ----------
    week : int
        Counted from 0.
    rim_out_of_level_mm : float
        Greatest less least height of the rim, let go with every touching point stuck. [mm]
    play_mm : float
        Greatest travel of the rim between a small push down and one up, at four sides. [mm]
    split_chance : float
        Chance of splitting on opening. [-]
    rise_mm : float
        Mean rise of the rim at rest. [mm]
    collapse_N : float
        Push on the base from below at which the first turn slips back; 0 where it does not hold. [N]
    state : str
        One of :data:`fitsim.verdict.STATES`.
    trouble : str
        Why there is no answer, the numbers then being nan; empty if there is one.
    """

    week: int
    rim_out_of_level_mm: float
    play_mm: float
    split_chance: float
    rise_mm: float
    collapse_N: float
    state: str
    trouble: str = ""


def elastic_week(bowl: Bowl, week: int) -> ElasticWeek:
    """Press a bowl open at the moistures it has, let go, and push its rim.

    Parameters
    ----------
    bowl : Bowl
        The bowl with the moistures of the week.
    week : int
        Its number, kept with the answer.

    Returns
    -------
    ElasticWeek
        With the reason in ``trouble`` where a slot is shut, a turn falls through or no balance is found.
    """
    nothing = float("nan")
    try:
        opening = open_bowl(bowl)
    except (NoConvergenceError, OutsideModelError) as error:
        return ElasticWeek(week, nothing, nothing, nothing, nothing, nothing, "", str(error))
    state = judge(opening.numbers, bowl.limits)
    chance = opening.numbers.split_chance
    if opening.rest is None:
        trouble = "a turn falls through"
        return ElasticWeek(week, nothing, nothing, chance, nothing, 0.0, state, trouble)
    rim = rim_height(opening.springy, opening.rest)
    holds = opening.released is not None and opening.released.kept >= KEPT_SHARE
    return ElasticWeek(
        week=week,
        rim_out_of_level_mm=rim.out_of_level_mm,
        play_mm=play_under_push_mm(opening.springy, opening.rest, push_N=SMALL_PUSH_N),
        split_chance=chance,
        rise_mm=rim.mean_mm,
        collapse_N=_collapse_N(opening) if holds else 0.0,
        state=state,
    )


def _collapse_N(opening: Opening) -> float:
    return 0.0 if opening.released is None else collapse_N(opening.springy, opening.released)


STUCK = 50.0
"""A friction at which no touching point slides under a small push. [-]"""


def play_under_push_mm(springy: ElasticBowl, rest: PressState, *, push_N: float) -> float:
    """How far the rim travels at the pushed place between a push down and one up.

    Touching points stick and open ones may close: a small push does not make a seat slip.

    Parameters
    ----------
    springy : ElasticBowl
        The strip.
    rest : PressState
        At rest.
    push_N : float
        The push, on one node of the rim. [N]

    Returns
    -------
    float
        The greatest of four sides; nan where a push finds no balance. [mm]
    """
    rim = np.flatnonzero(springy.load_share > 0)
    places = rim[np.linspace(0, len(rim), SIDES, endpoint=False).astype(int)]
    return max(_travel_mm(springy, rest, int(node), push_N) for node in places)


def _travel_mm(springy: ElasticBowl, rest: PressState, node: int, push_N: float) -> float:
    share: Array = np.zeros_like(springy.load_share)
    share[node] = 1.0
    pushed = replace(springy, load_share=share)
    solver = prepare(pushed)
    ends = [turn_back(solver, rest, sign * push_N, friction=STUCK).state for sign in (-1.0, 1.0)]
    if ends[0] is None or ends[1] is None:
        return float("nan")
    down, up = (float(end.shape.position_mm[node, 2]) for end in (ends[0], ends[1]))
    return up - down


def standing_chances(bowl: Bowl, year: YearFit, opened_week: int, pulled_MPa: Array) -> Array:
    """Chance of splitting, week by week, of a bowl opened once on the elastic strip and left so.

    The stress at rest stays as it was, without relaxing; what the seasons pull is added to it.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    year : YearFit
        Its year.
    opened_week : int
        Week of opening, counted from 0.
    pulled_MPa : numpy.ndarray
        Tension along every turn, shape (weeks, turns). [MPa]

    Returns
    -------
    numpy.ndarray
        Chances, shape (weeks,); nan where the opening has no answer. [-]
    """
    then = at_moistures(bowl, week_moistures(year, opened_week))
    try:
        opening = open_bowl(then)
    except (NoConvergenceError, OutsideModelError):
        return np.full(len(pulled_MPa), np.nan)
    if opening.rest is None:
        return np.full(len(pulled_MPa), np.nan)
    _, wood = laid_out(then, rigid_fit(then), opening.springy.nodes_per_turn)
    chances, board = [], bowl.board
    for week, pulled in enumerate(pulled_MPa):
        strength = grain_strength(
            board.wood, float(year.turn_moisture_percent[week, 0]), board.tested_across
        )
        found = strip_stress(opening.springy, opening.rest, wood, strength, pulled_MPa=pulled)
        chances.append(found.chance)
    return np.array(chances)
