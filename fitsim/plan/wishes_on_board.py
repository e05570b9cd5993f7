"""Wishes for one board: what each is worth, how far a measure lies from it, and what is not planned."""

import math
from dataclasses import dataclass, replace

from fitsim.bowl.inputs import Bowl
from fitsim.errors import InputError, Problem
from fitsim.geometry.board_outline import FREE
from fitsim.plan.cut_of_wall import FixedInputs, PlannedCut, fixed_inputs, rounded
from fitsim.plan.trade_bounds import Bounds, bounds_of
from fitsim.plan.wishes import Wishes
from fitsim.quantities import show_length

__all__ = [
    "BoardWishes",
    "as_set",
    "off_share",
    "refuse_what_is_not_planned",
    "wanted_measures",
    "weight_of",
    "wishes_on",
]


NEARLY_WHOLE_mm = 2.0
"""A cut that wants the board so little smaller begins at the edge there is: our choice. [mm]"""

WEIGHT_FALL = 5.0
"""How much more a wish matters than the next one in ``first``."""


@dataclass(frozen=True, eq=False)
class BoardWishes:
    """Wishes for one board.

    Attributes
    ----------
    bowl : Bowl
        Board, saw, wood and use.
    wishes : Wishes
        What is wanted.
    fixed : FixedInputs
        What geometry needs to know of the bowl.
    bounds : Bounds
        Between what the cut may move.
    weights : dict[str, float]
        How much each wish matters. [-]
    sinks_deeper : float or None
        How many rigid seat drops deep a turn may sink, as pressed strips have shown; None: as the trade has
        it. [-]
    """

    bowl: Bowl
    wishes: Wishes
    fixed: FixedInputs
    bounds: Bounds
    weights: dict[str, float]
    sinks_deeper: float | None = None

    @property
    def across_mm(self) -> float:
        """Diameter or narrow way of the board. [mm]"""
        return self.bowl.board.across_mm

    @property
    def size_given(self) -> bool:
        """Whether the board's size may not change: it is kept, or its drawing's."""
        edge = self.bowl.board.edge
        return "board" in self.wishes.keep or (edge is not None and edge.kind == FREE)

    @property
    def thickness_mm(self) -> float:
        """Thickness of the board. [mm]"""
        return self.bowl.board.thickness_mm

    @property
    def kept(self) -> tuple[str, ...]:
        """What may not change."""
        return self.wishes.keep


def refuse_what_is_not_planned(bowl: Bowl, wishes: Wishes) -> None:
    """Refuse bowls and wishes that no plan is made for.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    wishes : Wishes
        What is wanted.

    Raises
    ------
    InputError
        One line that says what would be planned.
    """
    if bowl.cut.base_edge is not None:
        shown, remedy = bowl.board.outline_words, "leave base_outline out"
        raise InputError(Problem("", "cut.base_outline", shown, "a base that follows the board", remedy))
    if wishes.along is not None and bowl.board.edge is None:
        expected = (
            f"a board that is longer than wide; on this one ({bowl.board.outline_words}) turns are circles"
        )
        raise InputError(Problem("", "want.along", wishes.along, expected, "delete it"))
    if len(bowl.cut.kerf_mm) > 1:
        shown, remedy = f"{len(bowl.cut.kerf_mm)} values", "the turns are what is planned: give one kerf"
        raise InputError(Problem("", "cut.kerf", shown, "one kerf", remedy))
    if "tilt" in wishes.keep and len(bowl.cut.tilt_rad) > 1:
        shown = f"{len(bowl.cut.tilt_rad)} values"
        raise InputError(Problem("", "cut.tilt", shown, "one tilt to keep", "give one tilt, or let it go"))
    if "pitch" in wishes.keep and bowl.cut.pitch_shape:
        shown = f"{len(bowl.cut.pitch_shape)} values"
        raise InputError(
            Problem("", "cut.pitch", shown, "one pitch to keep", "give one pitch, or let it go")
        )
    if len(bowl.use.turn_moisture_percent) > 1:
        shown, remedy = f"{len(bowl.use.turn_moisture_percent)} values", "give one moisture for all turns"
        raise InputError(Problem("", "use.turn_moisture", shown, "one value", remedy))


def wishes_on(bowl: Bowl, wishes: Wishes) -> BoardWishes:
    """Wishes with their weights, and the bounds of the bowl's own board.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    wishes : Wishes
        What is wanted.

    Returns
    -------
    BoardWishes
        Ready to be solved.

    Raises
    ------
    InputError
        If a wall's foot lies where no turn can.
    """
    order = {name: WEIGHT_FALL ** (len(wishes.first) - i) for i, name in enumerate(wishes.first)}
    weights = {name: order.get(name, 1.0) for name in wishes.named}
    bounds = bounds_of(bowl)
    # A tilt that is kept stands for the plan wherever the trade would put it; the strip judges it.
    fixed = fixed_inputs(bowl, along=wishes.along)
    wall = wishes.wall
    if wall is None:  # an even cut is moved until it fits, and leaps from corner to corner lead nowhere
        fixed = replace(fixed, beyond_mm=None)
    if wall is not None and wall.foot_mm <= fixed.aside_mm:
        shown, least = (show_length(v, units=bowl.units) for v in (wall.foot_mm, fixed.aside_mm))
        expected = f"a foot more than {least} from the middle: so much farther out the turns lie this way"
        raise InputError(Problem("", "want.wall", shown, expected, "measure the wall the narrow way"))
    return BoardWishes(bowl, wishes, fixed, bounds, weights)


def as_set(task: BoardWishes, cut: PlannedCut) -> PlannedCut:
    """The cut as it is set and drawn.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    cut : PlannedCut
        The cut as it was solved.

    Returns
    -------
    PlannedCut
        Rounded to what a scale and a rule show. It begins at the board's edge where it hardly wants the
        board smaller and no mouth is wished for.
    """
    spare = task.across_mm - cut.across_mm
    if 0 < spare < NEARLY_WHOLE_mm and task.wishes.mouth_mm is None:
        cut = replace(cut, across_mm=task.across_mm)
    return rounded(cut, offset_rad=task.bowl.cut.scale_offset_rad, units=task.bowl.units)


def off_share(name: str, wanted: float, got: float) -> float:
    """Distance of a measure from its wish, signed; a time may be shorter.

    Parameters
    ----------
    name : str
        Name of the wish.
    wanted, got : float
        What is wished for and what there is, in the unit of the wish.

    Returns
    -------
    float
        As a share of the wish. [-]
    """
    if not math.isfinite(got):
        return math.inf
    share = got / wanted - 1
    return max(share, 0.0) if name == "time" else share


def wanted_measures(wishes: Wishes) -> dict[str, float]:
    """Wishes that are one number, by the name of their measure.

    Parameters
    ----------
    wishes : Wishes
        The wishes.

    Returns
    -------
    dict[str, float]
        Each in the unit of its wish.
    """
    plain = {name: float(wishes.value_of(name) or 0.0) for name in wishes.named if name != "wall"}
    if wishes.slope is not None:
        plain["slope"] = wishes.slope
    if wishes.wall is not None and not {"rise", "height", "volume"} & set(plain):
        plain["rise"] = wishes.wall.rise_mm
    return plain


def weight_of(task: BoardWishes, name: str) -> float:
    """How much a wish matters.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    name : str
        Name of the measure.

    Returns
    -------
    float
        Weight of its distance. [-]
    """
    key = {"slope": "wall"}.get(name, name)
    return task.weights.get(key, task.weights.get("wall", 1.0))
