"""A planned cut pressed on the elastic strip, and what is wished for read off it."""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray, frozen
from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import FRICTION, Bowl, with_friction_known
from fitsim.bowl.judgement import Judgement, judge_bowl, judge_opening
from fitsim.bowl.standing import StandingBowl, outward_mm, slope_of_wall, standing_opening
from fitsim.bowl.verdict import LOCKS, SPLIT_RISK, SPRINGS_BACK
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.geometry.blade import cutting_time_min
from fitsim.geometry.cut import cut_length_mm
from fitsim.geometry.shape import BowlShape
from fitsim.plan.cut_of_wall import Measures, aside_mm
from fitsim.strip.results import rim_height

__all__ = ["PressedWall", "pressed_wall"]


@dataclass(frozen=True, eq=False)
class PressedWall:
    """One planned bowl, pressed as hard as it takes and let go.

    Attributes
    ----------
    judged : Judgement
        State and numbers; where no press is right at the least friction, those there.
    got : Measures
        What is wished for, of the bowl as it stands.
    standing : StandingBowl
        The bowl as it stands.
    turn_radius_mm, turn_height_mm : numpy.ndarray
        Middle of each turn of the strip, and its height above the base, shape (turns,); where the turns are
        no circles, or the board is not, distance outward square to the turns, counted from the middle the
        way that was asked for. [mm]
    turn_place : numpy.ndarray
        Where along the strip that middle lies, in turns from the root, shape (turns,). [-]
    whole : numpy.ndarray
        Whether a turn is a whole one, shape (turns,).
    rim_radius_mm : float
        Mean radius of the last turn round up to the nail, whose mean height is the rise. [mm]
    strip_turns : float
        Turns of the strip. [-]
    rigid : RigidFit
        The closed form.
    aside_mm : float
        How much farther from the middle that is than across the narrow way. [mm]
    """

    judged: Judgement
    got: Measures
    standing: StandingBowl
    turn_radius_mm: Array
    turn_height_mm: Array
    turn_place: Array
    whole: BoolArray
    rim_radius_mm: float
    strip_turns: float
    rigid: RigidFit
    aside_mm: float = 0.0

    @property
    def line_mm(self) -> Array:
        """Radius and height of the wall: the middles of the whole turns, then the rim, shape (n, 2). [mm]

        The strip's end is nailed to the turn inside it and stands no higher than that one. The middle of
        a part turn is thus no place of the wall: the last turn round, up to the nail, is taken instead.
        """
        radius = np.append(self.turn_radius_mm[self.whole], self.rim_radius_mm)
        height = np.append(self.turn_height_mm[self.whole], self.got.rise_mm)
        return np.stack([radius, height], axis=1)


def pressed_wall(bowl: Bowl, along: str | None = None) -> PressedWall | str:
    """Press one bowl and measure it.

    Parameters
    ----------
    bowl : Bowl
        The bowl; of its ranges only the friction's moves the press.
    along : str or None
        Which way wall and mouth are measured where turns are no circles, as in
        :class:`fitsim.plan.wishes.Wishes`.

    Returns
    -------
    PressedWall or str
        Its measures, or why there are none: the strip could not be followed, or no strip is left.
    """
    try:
        rigid = rigid_fit(bowl)
        opening, judged = _at_every_friction(bowl)
    except (NoConvergenceError, OutsideModelError) as trouble:
        return str(trouble)
    holds = opening.released is not None and judged.state in (LOCKS, SPLIT_RISK)
    elastic, standing = opening.elastic, standing_opening(rigid, opening, holds=holds)
    state = opening.rest if holds and opening.rest is not None else opening.pressed
    at_rest = state.shape.position_mm
    aside = aside_mm(rigid, bowl, along)
    if bowl.board.outline == "round":
        radius = np.hypot(at_rest[:, 0], at_rest[:, 1])
    else:
        base = 0.0 if rigid.slot.winding is None else bowl.cut.base_radius_mm
        radius = base + outward_mm(rigid, elastic, state) + aside
    turns = int(elastic.turn.max())
    count = np.bincount(elastic.turn - 1, minlength=turns)
    place = np.arange(len(radius)) / elastic.nodes_per_turn
    middle, stands, place = (
        np.bincount(elastic.turn - 1, v[1:], turns) / count for v in (radius, standing.height_mm, place)
    )
    shape, whole = standing.shape, count >= elastic.nodes_per_turn
    rim = rim_height(elastic, state)
    got = Measures(
        rise_mm=rim.mean_mm,
        height_mm=rim.mean_mm + elastic.seats.thickness_mm,
        mouth_mm=np.nan if shape is None else _mouth_mm(shape, bowl, along),
        base_mm=2 * bowl.cut.base_radius_mm,
        volume_ml=np.nan if shape is None else shape.capacity_ml,
        slope=slope_of_wall(rigid, elastic, state),
        turns=rigid.slot.turns,
        time_min=cutting_time_min(
            length_mm=cut_length_mm(rigid.slot), feed_mm_per_min=bowl.cut.feed_mm_per_min
        ),
        strip_turns=rigid.strip.turns,
    )
    return PressedWall(
        judged=judged,
        got=got,
        standing=standing,
        turn_radius_mm=frozen(middle),
        turn_height_mm=frozen(stands),
        turn_place=frozen(place),
        whole=whole,
        rim_radius_mm=float(np.average(radius, weights=elastic.load_share)),
        strip_turns=rigid.strip.turns,
        rigid=rigid,
        aside_mm=aside,
    )


def _at_every_friction(bowl: Bowl) -> tuple[Opening, Judgement]:
    """A bowl pressed as hard as its least friction asks, or as there is: a plan locks at all of them."""
    opening = open_bowl(bowl, lowering=False)
    judged, least_needs_N = judge_opening(bowl, opening), opening.judged.least_needs_N
    if math.isnan(least_needs_N) or judged.state not in (LOCKS, SPRINGS_BACK):
        return opening, judged
    least, _ = bowl.ends_of(FRICTION)
    if math.isfinite(least_needs_N):
        asked_N = bowl.limits.press_spare * least_needs_N
        opening = open_bowl(bowl, press_N=min(asked_N, bowl.use.press_N), lowering=False)
    return opening, judge_bowl(with_friction_known(bowl, least))


def _mouth_mm(shape: BowlShape, bowl: Bowl, along: str | None) -> float:
    """Inside width of the mouth the way it is measured; the narrow way where nothing is said. [mm]"""
    if shape.mouth_length_mm is None or shape.mouth_width_mm is None:
        return shape.rim_diameter_mm
    edge = bowl.board.edge
    if along is None and edge is not None and edge.length_mm != edge.width_mm:
        along = "length" if edge.length_mm < edge.width_mm else "width"
    if along is None:  # as wide as long: a square, a polygon
        return min(shape.mouth_length_mm, shape.mouth_width_mm)
    return shape.mouth_length_mm if along == "length" else shape.mouth_width_mm
