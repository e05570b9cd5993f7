"""A planned cut, what it will give by rigid geometry, and the pitches that make a wall.

Every turn sinks by the same seat drop h = k/sin(tilt), so over one turn the wall climbs by h while it moves
outward by the pitch: the wall's slope is the seat drop over the pitch, and a curved wall is a varying
pitch. A strip pressed no harder than it takes leaves its first turn half a step low, since the root holds
it: the middle of turn j stands (j - 1/2) h above the base. What the pressed strip really gives is laid
over that as a
:class:`Correction`, and the cut is worked out anew.

On a board that is not round the same holds: seat drop and pitch are the same all round. A line that is
carried outward by d square to itself is longer by 2 pi d whatever its outline, and holds L d + pi d^2 more:
with r its length over 2 pi it holds pi r^2 less what the outline falls short of a circle as long, which all
turns share. So r takes the place of the radius in lengths and volume; along the board's length every turn
lies as much farther out as the outermost one does, so a wall or a mouth measured that way is the one of the
narrow way carried out. A square board is cut in
circles; its last turn carries the corners, and is trimmed where the middle of a side leaves it thin.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl.closed_form import END_WIDTH_SHARE, RigidFit, deciding_numbers, rigid_fit
from fitsim.bowl.inputs import Board, Bowl
from fitsim.bowlfile.contradictions import CORNER_DEFAULT_SHARE
from fitsim.bowlfile.defaults import square_root_rad
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import grown, line_points_mm
from fitsim.geometry.cut import mean_pitch, spiral_turns, varying_reach_mm
from fitsim.geometry.winding import Winding
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.trade_bounds import corner_follows
from fitsim.quantities import TURN_RAD

__all__ = [
    "MEASURE_OF",
    "Correction",
    "FixedInputs",
    "Measures",
    "PlannedCut",
    "aside_mm",
    "board_sized",
    "bowl_with_cut",
    "cut_of",
    "even_cut",
    "expected",
    "fixed_inputs",
    "not_pressed",
    "rounded",
    "wall_cut",
]

SOFT_PRESS_SHARE = 1.02
"""Height of a pressed turn over the rigid one half a step lower, before the strip was pressed: the middle
of bowls of five to nine turns, which lie between 0.99 and 1.05."""

PLACES = 97
"""Places round the rim at which the mouth is taken."""

ALONG = np.linspace(0, 1, 3 * PLACES)
"""Places along the cut at which volume and length are summed, as shares of it."""

SHARES = np.full(len(ALONG), 1 / (len(ALONG) - 1))
SHARES[[0, -1]] /= 2
"""What each of them stands for: the trapezoidal rule."""

EDGE_PLACES = 721
"""Places round a board at which its edge is looked up."""

BEYOND_LEAST_mm = 0.02
"""An edge that lies nowhere farther outside the outermost turn is that turn. [mm]"""

MOST_TURNS = 60

BETWEEN = 24
"""Places within each turn at which a varying pitch is looked up."""

HALVINGS = 36

GAIN_NEAR = 0.3
"""How far from the strip that was pressed its gain holds. [turns]"""


MEASURE_OF = {
    "rise": "rise_mm",
    "height": "height_mm",
    "mouth": "mouth_mm",
    "base": "base_mm",
    "volume": "volume_ml",
    "slope": "slope",
    "turns": "turns",
    "time": "time_min",
}
"""Field of :class:`Measures` that answers each wish."""


@dataclass(frozen=True)
class PlannedCut:
    """What a plan may choose.

    Attributes
    ----------
    tilt_rad : float
        True tilt. [rad]
    base_radius_mm : float
        Radius at which the cut ends; half the base's narrow way where it is not round. [mm]
    pitches_mm : tuple[float, ...]
        One pitch, or one for each turn of the cut, innermost first. [mm]
    across_mm, thickness_mm : float
        Of the board, across its narrow way. [mm]
    """

    tilt_rad: float
    base_radius_mm: float
    pitches_mm: tuple[float, ...]
    across_mm: float
    thickness_mm: float


@dataclass(frozen=True)
class FixedInputs:
    """What a plan does not choose, and how the seats hang on the tilt.

    Attributes
    ----------
    kerf_mm : float
        Kerf. [mm]
    drop_sine_mm : float
        Seat drop times the sine of the tilt, film and swelling in it. [mm]
    feed_mm_per_min : float
        Feed at the saw. [mm/min]
    square : bool
        Whether a round cut lies in a square board.
    wider_mm : float
        Length of a turn over 2 pi, less half its narrow way. [mm]
    flat_mm2 : float
        Area that a turn holds less than a circle as long. [mm2]
    aside_mm : float
        How much farther from the middle turns lie where wall and mouth are measured than across the narrow
        way. [mm]
    beyond_mm : numpy.ndarray or None
        How far outside the outermost turn the board's edge lies, at even steps of the angle swept from the
        root, the first repeated at the end; None where it lies nowhere outside, or turns are circles. [mm]
    """

    kerf_mm: float
    drop_sine_mm: float
    feed_mm_per_min: float
    square: bool = False
    wider_mm: float = 0.0
    flat_mm2: float = 0.0
    aside_mm: float = 0.0
    beyond_mm: Array | None = field(default=None, compare=False)

    def drop_mm(self, tilt_rad: float) -> float:
        """Rigid seat drop at a tilt. [mm]"""
        return self.drop_sine_mm / math.sin(tilt_rad)


@dataclass(frozen=True, eq=False)
class Correction:
    """What a pressed strip gave over what :func:`expected` said of the same cut.

    Attributes
    ----------
    rise_share, volume_share, slope_share : float
        Ratios. [-]
    mouth_mm : float
        Difference. [mm]
    place, share : numpy.ndarray
        Along the strip as a share of its turns, and the height there over the rigid one half a step lower,
        shape (n,). [-]
    aside_mm : float
        Difference of :attr:`FixedInputs.aside_mm`. [mm]
    pressed : bool
        Whether it comes from a press.
    strip_turns : float or None
        Turns of the strip that was pressed; None before any was. [-]
    gain : float
        Rise that a turn of strip more gives near that length, over what it gives on the whole. [-]
    """

    rise_share: float
    volume_share: float
    slope_share: float
    mouth_mm: float
    place: Array
    share: Array
    aside_mm: float = 0.0
    pressed: bool = False
    strip_turns: float | None = None
    gain: float = 1.0

    def steps(self, strip_turns: float) -> float:
        """Even steps of the seats up to the rim of a strip of so many turns. [-]"""
        if self.strip_turns is None:
            return max(strip_turns - 0.5, 0.0)
        near = min(max(strip_turns - self.strip_turns, -GAIN_NEAR), GAIN_NEAR)
        return max(strip_turns - 0.5 + (self.gain - 1) * near, 0.0)

    def strip_turns_of(self, steps: float) -> float:
        """Turns of the strip whose rim stands so many even steps high. [-]"""
        if self.strip_turns is None:
            return steps + 0.5
        apart = steps - (self.strip_turns - 0.5)
        if abs(apart) <= self.gain * GAIN_NEAR:
            return self.strip_turns + apart / self.gain
        return steps + 0.5 - math.copysign((self.gain - 1) * GAIN_NEAR, apart)


def not_pressed() -> Correction:
    """The correction before any strip was pressed.

    Returns
    -------
    Correction
        :data:`SOFT_PRESS_SHARE` for heights, nothing for the rest.
    """
    return Correction(
        SOFT_PRESS_SHARE,
        1.0,
        1.0,
        0.0,
        read_only(np.array([0.0, 1.0])),
        read_only(np.full(2, SOFT_PRESS_SHARE)),
    )


@dataclass(frozen=True)
class Measures:
    """What is wished for, as a cut gives it; :data:`MEASURE_OF` names the measure of each wish.

    Attributes
    ----------
    rise_mm, height_mm, mouth_mm, base_mm : float
        Rise of the rim, outside height, inside diameter of the mouth, diameter at which the cut ends; where
        turns are no circles the mouth the way it is measured, the base its narrow way. [mm]
    volume_ml : float
        Inside volume, to the stepped rim. [ml]
    slope : float
        Mean slope of the wall, its tangent. [-]
    turns : float
        Of the cut. [-]
    time_min : float
        At the saw. [min]
    strip_turns : float
        Of the strip, up to the nail. [-]
    """

    rise_mm: float
    height_mm: float
    mouth_mm: float
    base_mm: float
    volume_ml: float
    slope: float
    turns: float
    time_min: float
    strip_turns: float


def aside_mm(rigid: RigidFit, bowl: Bowl, along: str | None) -> float:
    """How much farther from the middle turns lie along a direction than across the narrow way.

    Parameters
    ----------
    rigid : RigidFit
        The closed form.
    bowl : Bowl
        The bowl.
    along : str or None
        "length", along the grain, or "width"; None for the narrow way.

    Returns
    -------
    float
        Half the outermost line's extent less half the board's narrow way; 0 where turns are circles. [mm]
    """
    if rigid.slot.winding is None or along is None:
        return 0.0
    extent = np.ptp(line_points_mm(rigid.slot.winding.lines.outermost), axis=0)
    return float(extent[0 if along == "length" else 1] - bowl.board.across_mm) / 2


def fixed_inputs(bowl: Bowl, *, along: str | None = None) -> FixedInputs:
    """What stays as it is in one bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own cut serves to find how film and swelling move the seats.
    along : str or None
        Which way wall and mouth are measured, as in :class:`fitsim.plan.wishes.Wishes`.

    Returns
    -------
    FixedInputs
        For :func:`expected` and the functions that make cuts.

    Raises
    ------
    OutsideModelError
        If its slots are shut when flat.
    """
    numbers = deciding_numbers(bowl)
    if numbers.slot_left_mm <= 0:
        raise OutsideModelError("a slot is shut when flat: the bowl will not open at any tilt")
    rigid = rigid_fit(bowl)
    seats, wider, flat, beyond = rigid.seats, 0.0, 0.0, None
    if rigid.slot.winding is not None:
        line = rigid.slot.winding.lines.outermost
        mean = float(line.length_mm.sum()) / TURN_RAD
        x, y = line_points_mm(line).T
        area = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
        wider, flat = mean - bowl.board.across_mm / 2, math.pi * mean**2 - area
        beyond = _beyond_mm(rigid.slot.winding)
    drop = float(np.sum(seats.seat_drop_mm * seats.share) / seats.share.sum())
    return FixedInputs(
        kerf_mm=max(bowl.cut.kerf_mm),
        drop_sine_mm=drop * math.sin(bowl.cut.tilt_rad[0]),
        feed_mm_per_min=bowl.cut.feed_mm_per_min,
        square=bowl.board.outline == "square",
        wider_mm=wider,
        flat_mm2=flat,
        aside_mm=aside_mm(rigid, bowl, along),
        beyond_mm=beyond,
    )


def _beyond_mm(wound: Winding) -> Array | None:
    angle = np.linspace(0, TURN_RAD, EDGE_PLACES)
    beyond = wound.edge_reach_mm(angle) - wound.span_mm(angle)
    return read_only(beyond) if float(beyond.max()) > BEYOND_LEAST_mm else None


def cut_of(bowl: Bowl) -> PlannedCut:
    """The cut a bowl has now.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    PlannedCut
        The same as a plan would have it.
    """
    cut, board = bowl.cut, bowl.board
    return PlannedCut(
        cut.tilt_rad[0], cut.base_radius_mm, cut.pitch_by_turn_mm, board.across_mm, board.thickness_mm
    )


def board_sized(board: Board, *, thickness_mm: float, across_mm: float) -> Board:
    """The board with another thickness, and another width its narrow way; its outline follows.

    Parameters
    ----------
    board : Board
        The board.
    thickness_mm, across_mm : float
        Of the other one. [mm]

    Returns
    -------
    Board
        As much longer as it is wider.
    """
    edge, more = board.edge, across_mm - board.across_mm
    if edge is not None and abs(more) > 1e-9:
        edge = grown(edge, more)
    return replace(board, thickness_mm=thickness_mm, across_mm=across_mm, edge=edge)


def bowl_with_cut(bowl: Bowl, cut: PlannedCut) -> Bowl:
    """The bowl with a planned cut, ready for every other question.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    cut : PlannedCut
        The cut.

    Returns
    -------
    Bowl
        With its assumptions about what is planned now taken away.
    """
    span = cut.across_mm / 2 - cut.base_radius_mm
    pitch, shape = mean_pitch(cut.pitches_mm, span)
    planned = ["cut.tilt", "cut.pitch", "cut.base"]
    root, corner = bowl.cut.root_rad, bowl.cut.base_corner_mm
    if bowl.board.outline == "square":  # entered at the middle of a side: other turns move the root
        turns = spiral_turns(
            base_radius_mm=cut.base_radius_mm,
            outer_radius_mm=cut.across_mm / 2,
            pitch_mm=pitch,
            pitch_shape=shape,
        )
        root = square_root_rad(root, turns=turns)
        planned.append("cut.root")
    if corner_follows(bowl):
        corner = CORNER_DEFAULT_SHARE * cut.base_radius_mm
    return replace(
        bowl,
        board=board_sized(bowl.board, thickness_mm=cut.thickness_mm, across_mm=cut.across_mm),
        cut=replace(
            bowl.cut,
            tilt_rad=(cut.tilt_rad,),
            pitch_mm=pitch,
            pitch_shape=shape,
            base_radius_mm=cut.base_radius_mm,
            root_rad=root,
            base_corner_mm=corner,
        ),
        assumptions=tuple(a for a in bowl.assumptions if a.key not in planned),
    )


def rounded(cut: PlannedCut, *, offset_rad: float = 0.0, units: str = "mm") -> PlannedCut:
    """The cut as it is set and drawn: tilt to 0.05 deg on the scale, lengths to 0.01 mm or 0.001 in.

    Parameters
    ----------
    cut : PlannedCut
        The cut.
    offset_rad : float
        True tilt less what the scale reads. [rad]
    units : str
        "in" or "mm".

    Returns
    -------
    PlannedCut
        What a bowl file of it holds.
    """
    step = 25.4 / 1000 if units == "in" else 0.01
    scale = math.degrees(cut.tilt_rad - offset_rad)
    tilt = math.radians(round(20 * scale) / 20) + offset_rad
    base = round(2 * cut.base_radius_mm / step) * step / 2
    across = round(cut.across_mm / step) * step
    pitches = [round(p / step) * step for p in cut.pitches_mm]
    if len(pitches) > 1:
        span = across / 2 - base
        reached = np.cumsum(pitches)
        # As many as reach the edge; what rounding leaves short goes to the last of them.
        needed = int(np.searchsorted(reached, span * (1 - 1e-9))) + 1
        pitches = pitches[:needed]
        short = span - sum(pitches)
        if short > 0:
            pitches[-1] = math.ceil((pitches[-1] + short) / step) * step
    return PlannedCut(tilt, base, tuple(pitches), across, cut.thickness_mm)


class _Path:
    """Radius of the slot by turns from the root, as the sampled cut has it between whole turns.

    Attributes
    ----------
    turn, radius_mm : numpy.ndarray
        Close places, both growing, shape (k,). [-, mm]
    """

    def __init__(self, knots_mm: Array) -> None:
        """Through the radii after every whole turn, shape (n,); beyond them it goes on straight. [mm]"""
        whole = np.arange(len(knots_mm), dtype=np.float64)
        pitches = np.diff(knots_mm)
        self.turn, self.radius_mm = whole, knots_mm
        if len(pitches) > 1 and np.ptp(pitches) > 1e-9 * float(pitches.max()):
            turn = np.linspace(0.0, whole[-1], BETWEEN * (len(whole) - 1) + 1)
            # From the base's line: what the sampled cut does, to the last digit but one.
            span = float(knots_mm[-1] - knots_mm[0])
            shape = pitches / pitches.mean()
            gone, _ = varying_reach_mm(span, pitch_mm=float(pitches.mean()), pitch_shape=shape, turns=turn)
            self.turn, self.radius_mm = turn, knots_mm[0] + gone

    def at(self, turn: Array | float) -> Array:
        """Radius at turns. [mm]"""
        if len(self.turn) == 2:  # of one pitch
            return np.asarray(
                self.radius_mm[0] + (self.radius_mm[1] - self.radius_mm[0]) * np.asarray(turn)
            )
        last = (self.radius_mm[-1] - self.radius_mm[-2]) / (self.turn[-1] - self.turn[-2])
        beyond = np.maximum(np.asarray(turn) - self.turn[-1], 0.0)
        return np.asarray(np.interp(turn, self.turn, self.radius_mm) + last * beyond)

    def turn_at(self, radius_mm: float) -> float:
        """Turns at a radius."""
        if radius_mm <= self.radius_mm[-1]:
            return float(np.interp(radius_mm, self.radius_mm, self.turn))
        last = (self.radius_mm[-1] - self.radius_mm[-2]) / (self.turn[-1] - self.turn[-2])
        return float(self.turn[-1] + (radius_mm - self.radius_mm[-1]) / last)


def _path_of(cut: PlannedCut) -> _Path:
    """The slot of a planned cut from the base to the edge, and evenly on beyond."""
    span = cut.across_mm / 2 - cut.base_radius_mm
    pitches = list(cut.pitches_mm)
    if len(pitches) == 1:
        return _Path(cut.base_radius_mm + np.array([0.0, pitches[0]]))
    while sum(pitches) < span * (1 - 1e-9) and len(pitches) < 10 * MOST_TURNS:
        pitches.append(pitches[-1])
    return _Path(np.asarray(cut.base_radius_mm + np.append(0.0, np.cumsum(pitches))))


def expected(cut: PlannedCut, fixed: FixedInputs, correction: Correction) -> Measures:
    """What a cut will give, by rigid seats and what pressed strips have shown.

    Parameters
    ----------
    cut : PlannedCut
        The cut.
    fixed : FixedInputs
        What is not planned.
    correction : Correction
        Strip over rigid geometry.

    Returns
    -------
    Measures
        The measures.
    """
    drop, slope = fixed.drop_mm(cut.tilt_rad), math.tan(cut.tilt_rad)
    path, edge = _path_of(cut), cut.across_mm / 2
    slot = fixed.kerf_mm / math.cos(cut.tilt_rad)
    turns, strip_turns = _turns_to(edge, path, slot, fixed)
    rise = correction.rise_share * drop * correction.steps(strip_turns)
    inner, wider = slot / 2 + cut.thickness_mm / 2 * slope, fixed.wider_mm
    rim = np.linspace(max(strip_turns - 1, 0.0), strip_turns, PLACES)
    open_mm = float(path.at(rim).mean()) + fixed.aside_mm + inner
    mouth = 2 * open_mm + correction.mouth_mm
    along = strip_turns * ALONG
    # The first turn leaves the root at no drop at all.
    step = np.minimum(correction.rise_share * drop * np.minimum(along, 1.0), cut.thickness_mm)
    face = path.at(along) + wider + inner - step / 2 * slope
    held = (math.pi * face**2 - fixed.flat_mm2) * step
    volume = correction.volume_share * strip_turns * float(SHARES @ held) / 1000
    whole = turns if strip_turns > 0 else 0.0
    length = 2 * math.pi * whole * (wider + float(SHARES @ path.at(whole * ALONG)))
    reach = float(path.at(strip_turns) - path.at(0.5))
    return Measures(
        rise_mm=rise,
        height_mm=rise + cut.thickness_mm,
        mouth_mm=mouth,
        base_mm=2 * cut.base_radius_mm,
        volume_ml=volume,
        slope=correction.slope_share * rise / reach if reach > 0 else math.inf,
        turns=turns,
        time_min=length / fixed.feed_mm_per_min,
        strip_turns=strip_turns,
    )


def _turns_to(edge_mm: float, path: _Path, slot_mm: float, fixed: FixedInputs) -> tuple[float, float]:
    """Turns of the cut, and of the strip up to where it is trimmed, on a board whose edge lies there.

    Where the edge lies outside the outermost turn, the cut goes on until it meets it, and the strip to the
    first place on the way outward that is too thin for the nail. In a square board, whose edge lies nearest
    at the middles of the sides, the cut enters at one of them.
    """
    turns = path.turn_at(edge_mm)
    if fixed.beyond_mm is not None:
        beyond = fixed.beyond_mm
        there = turns + np.linspace(0, 1, EDGE_PLACES)
        turns = _first_below(there, edge_mm + _round_board(beyond, there) - path.at(there))
    lost = slot_mm / 2 + END_WIDTH_SHARE * float(path.at(turns) - path.at(max(turns - 1, 0.0)))
    if fixed.beyond_mm is None and not fixed.square:
        return turns, path.turn_at(edge_mm - lost)
    there = np.linspace(max(turns - 1, 0.0), turns, EDGE_PLACES)
    if fixed.square:
        edges = edge_mm * _square_reach((turns - there) * TURN_RAD)
    else:
        edges = edge_mm + _round_board(beyond, there)
    return turns, _first_below(there, edges - lost - path.at(there))


def _round_board(beyond_mm: Array, turns: Array) -> Array:
    """What lies at even steps of one turn from the root, looked up at turns."""
    return np.interp(np.mod(turns, 1.0), np.linspace(0, 1, len(beyond_mm)), beyond_mm)


def _first_below(at: Array, spare: Array) -> float:
    """Where something first falls below nothing; the end where it does not."""
    below = np.flatnonzero(spare < 0)
    if not len(below) or below[0] == 0:
        return float(at[-1] if not len(below) else at[0])
    i = int(below[0])
    return float(np.interp(0.0, [-spare[i - 1], -spare[i]], at[i - 1 : i + 1]))


def _square_reach(from_entry_rad: Array) -> Array:
    """Edge of a square over half its side, by angle from the middle of a side. [-]"""
    return np.asarray(1 / np.maximum(np.abs(np.cos(from_entry_rad)), np.abs(np.sin(from_entry_rad))))


def even_cut(
    *, tilt_rad: float, base_radius_mm: float, pitch_mm: float, across_mm: float, thickness_mm: float
) -> PlannedCut:
    """A cut of one pitch.

    Parameters
    ----------
    tilt_rad, base_radius_mm, pitch_mm, across_mm, thickness_mm : float
        As in :class:`PlannedCut`. [rad, mm]

    Returns
    -------
    PlannedCut
        The cut.
    """
    return PlannedCut(tilt_rad, base_radius_mm, (pitch_mm,), across_mm, thickness_mm)


def wall_cut(
    wall: WallCurve,
    fixed: FixedInputs,
    correction: Correction,
    *,
    tilt_rad: float,
    thickness_mm: float,
    base_radius_mm: float | None = None,
) -> PlannedCut:
    """The cut whose turns stand on a wall: a pitch for each turn.

    Turn j stands at a height the seats decide, so its radius is where the wall has that height. The wall
    begins half a step outside the base.

    Parameters
    ----------
    wall : WallCurve
        The wall, foot and rim at their radii, to its full rise.
    fixed, correction : FixedInputs, Correction
        What is not planned, and strip over rigid geometry.
    tilt_rad, thickness_mm : float
        True tilt and the board's thickness. [rad, mm]
    base_radius_mm : float, optional
        Where the cut must end; the wall's foot is then moved half a step outside it. [mm]

    Returns
    -------
    PlannedCut
        On a board just so wide that the rim lies where the wall's does.

    Raises
    ------
    OutsideModelError
        If the wall is lower than one turn's drop, or needs too many turns.
    """
    drop = fixed.drop_mm(tilt_rad)
    strip_turns = correction.strip_turns_of(wall.rise_mm / (correction.rise_share * drop))
    if strip_turns < 1:
        raise OutsideModelError("the wall is lower than one turn sinks")
    if strip_turns > MOST_TURNS:
        raise OutsideModelError(f"the wall takes more than {MOST_TURNS} turns")
    count = math.ceil(strip_turns) + 2
    middle = np.arange(1, count + 1) - 0.5
    share = np.interp(middle / strip_turns, correction.place, correction.share)
    height = drop * middle * share
    if base_radius_mm is not None:
        first = float((wall.radius_at_mm(height[:1])[0] - wall.foot_mm) / (wall.rim_mm - wall.foot_mm))
        foot = (base_radius_mm + wall.rim_mm * first) / (1 + first)
        wall = wall.stretched(foot_mm=foot, rim_mm=wall.rim_mm, rise_mm=wall.rise_mm)
    radius = wall.radius_at_mm(height)
    base = 2 * wall.foot_mm - float(radius[0])
    knots = np.append(base, radius)
    slot = fixed.kerf_mm / math.cos(tilt_rad)
    # Of the turns beyond the edge nothing is sawn, and nothing is told of them in the list of pitches.
    paths: dict[int, _Path] = {}

    def turns_to(edge: float) -> tuple[float, float]:
        last = int(np.searchsorted(knots[:-1], edge))
        if last not in paths:
            paths[last] = _Path(knots[: last + 1])
        return _turns_to(edge, paths[last], slot, fixed)

    low = float(np.interp(strip_turns, np.arange(len(knots)), knots)) - float(np.diff(knots).max()) / 2
    low, high = max(low, float(knots[1])), float(knots[-1])
    # The free end moves outward with the edge, in a square board by leaps too.
    for _ in range(HALVINGS):
        edge = (low + high) / 2
        low, high = (edge, high) if turns_to(edge)[1] < strip_turns else (low, edge)
    turns = turns_to(edge)[0]
    pitches = tuple(float(p) for p in np.diff(knots[: math.ceil(turns - 1e-9) + 1]))
    return PlannedCut(tilt_rad, base, pitches, 2 * edge, thickness_mm)
