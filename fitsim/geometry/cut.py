"""The cut: a spiral slot through a flat board, as a curve sampled from the root outward.

The slot's centre line at mid-thickness is r_c(a) = R_b + p a/(2 pi), with a = 0 at the root (where
the strip joins the base) and a = 2 pi N where the blade entered the board. All mechanics reads the
sampled :class:`SlotCurve` (positions, tangents, outward normals, kerf and tilt at every point), so
another outline, a varying pitch or an uneven kerf is another way of making a curve and nothing else.

On another outline than a round one the curve carries the lines it winds between
(:mod:`fitsim.geometry.winding`), and the place of the radius is taken by the distance of the line's tangent
from the middle.

A pitch that varies is given turn by turn: in turn j the centre line moves outward by p_j, measured from
one pass of the root's direction to the next, and between those it follows the monotone piecewise cubic
of F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238 (from memory), as scipy has it: the
radius never turns back and the line has no corner. Of equal pitches it is the even spiral.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, IntArray, frozen
from fitsim.errors import OutsideModelError
from fitsim.geometry.winding import Winding
from fitsim.quantities import TURN_RAD

__all__ = [
    "SlotCurve",
    "Strip",
    "cut_length_mm",
    "edge_radius_mm",
    "last_pitch_mm",
    "mean_pitch",
    "spiral_slot",
    "spiral_turns",
    "stopped_early",
    "strip_between_slots",
    "varying_reach_mm",
]

BACK_MM = 1e-6
"""Length of a step of the strip backward that is none but in its last digits. [mm]"""

POINTS_PER_TURN = 72
EDGE_TABLE = 17
"""Places within one step at which the edge's reach is looked up where it changes."""


@dataclass(frozen=True, eq=False)
class SlotCurve:
    """The slot's centre line at mid-thickness, sampled from the root to the board's edge.

    Attributes
    ----------
    angle_rad : numpy.ndarray
        Angle swept from the root, shape (n,); equal steps and a last point at the edge. [rad]
    position_mm, tangent, normal : numpy.ndarray
        Point, unit tangent and outward unit normal in the plane of the board, shape (n, 2), x along
        the grain. [mm, -, -]
    radius_mm : numpy.ndarray
        Distance from the board's centre, square to the turns; on a round cut the radius, shape (n,). [mm]
    kerf_mm, tilt_rad : numpy.ndarray
        Width of the slot square to its faces, and lean of the blade, shape (n,). A negative tilt is
        a bevel reversed by changing sides of the blade. [mm, rad]
    points_per_turn : int
        Samples in one revolution: the inner neighbour of sample i is sample i - points_per_turn.
    winding : Winding or None
        The lines it winds between; None for a round cut.
    """

    angle_rad: Array
    position_mm: Array
    tangent: Array
    normal: Array
    radius_mm: Array
    kerf_mm: Array
    tilt_rad: Array
    points_per_turn: int
    winding: Winding | None = None

    @property
    def reach_mm(self) -> Array:
        """Distance outward square to the turns, shape (n,). [mm]

        From the centre of a round cut, from the base's line of another.
        """
        if self.winding is None:
            return self.radius_mm
        return np.asarray(self.radius_mm - self.winding.support_mm(self.angle_rad))

    @property
    def aside_mm(self) -> Array:
        """How far along its tangent each point lies from the foot of the centre on it, shape (n,). [mm]"""
        if self.winding is None:
            return np.zeros_like(self.radius_mm)
        there = self.winding.at(self.angle_rad, self.reach_mm)
        return np.asarray(np.sum(there.position_mm * there.tangent, axis=1))

    @property
    def gone_mm(self) -> Array:
        """Length along the turns from the root to each point, their lean left out, shape (n,). [mm]"""
        if self.winding is not None:
            steps = self.winding.steps_mm(self.angle_rad, self.reach_mm)
        else:
            steps = np.diff(self.angle_rad) * (self.radius_mm[1:] + self.radius_mm[:-1]) / 2
        return np.concatenate([[0.0], np.cumsum(steps)])

    @property
    def tightest_mm(self) -> float:
        """Least radius the blade has to turn. [mm]"""
        return float(self.radius_mm[0]) if self.winding is None else self.winding.lines.tightest_mm

    @property
    def turns(self) -> float:
        """Turns of the cut N, revolutions of the slot. [-]"""
        return float(self.angle_rad[-1] / TURN_RAD)

    @property
    def slot_mm(self) -> Array:
        """Slot seen in the plane of the board, k_h = k/cos(theta), shape (n,). [mm]"""
        return np.asarray(self.kerf_mm / np.cos(self.tilt_rad))

    @property
    def slope(self) -> Array:
        """How far a face moves outward for each unit of height, tan(theta), shape (n,). [-]"""
        return np.tan(self.tilt_rad)


@dataclass(frozen=True, eq=False)
class Strip:
    """The wood between neighbouring slots, from the root to the trimmed free end.

    Attributes
    ----------
    angle_rad : numpy.ndarray
        Angle swept from the root, shape (m,), last value 2 pi M at the free end. [rad]
    radius_mm : numpy.ndarray
        Radius of the strip's centre line; elsewhere than on a round cut the distance of its tangent from
        the board's centre, shape (m,). [mm]
    width_mm : numpy.ndarray
        Width of the strip in the plane of the board, square to it, shape (m,). [mm]
    turns : float
        Turns M of the strip, from the root to the nail. [-]
    winding : Winding or None
        The lines the cut winds between; None for a round cut.
    """

    angle_rad: Array
    radius_mm: Array
    width_mm: Array
    turns: float
    winding: Winding | None = None

    @property
    def reach_mm(self) -> Array:
        """Distance of the centre line outward, as :attr:`SlotCurve.reach_mm`, shape (m,). [mm]"""
        if self.winding is None:
            return self.radius_mm
        return np.asarray(self.radius_mm - self.winding.support_mm(self.angle_rad))

    @property
    def speed_mm(self) -> Array:
        """Length of the centre line for each unit of angle, its lean left out, shape (m,). [mm/rad]"""
        if self.winding is None:
            return self.radius_mm
        return self.winding.mean_speed_mm(self.angle_rad, self.reach_mm)


def by_turn(values: float | Sequence[float], turn_index: IntArray, name: str) -> Array:
    """Spread one value, or one value a turn (innermost first), over sampled points."""
    given = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if given.size == 1:
        return np.full(turn_index.shape, given[0])
    needed = int(turn_index.max()) + 1
    if given.size < needed:
        message = (
            f"{name}: {given.size} values where the cut asks for {needed}; give one for each whole turn "
            "and one for a part of a turn"
        )
        raise OutsideModelError(message)
    return given[turn_index]


def turn_indices(angle_rad: Array) -> IntArray:
    """Index of the turn each angle lies in, 0 for the innermost; a turn's end belongs to it."""
    # A hair before the boundary, so that the closing point of turn j is not read as turn j + 1.
    turn: IntArray = np.maximum(np.ceil(angle_rad / TURN_RAD - 1e-9) - 1, 0).astype(np.int64)
    return turn


def _pitches_mm(span_mm: float, pitch_mm: float, shape: Sequence[float]) -> Array:
    """Pitch of every turn that a cut over a span takes; beyond the shape its last value goes on. [mm]"""
    pitches = pitch_mm * np.asarray(shape, dtype=np.float64)
    if np.any(pitches <= 0):
        raise OutsideModelError("a spiral needs a positive pitch in every turn")
    # A hair more than the span, so that rounding asks for no turn of its own.
    beyond = span_mm - float(pitches.sum())
    if beyond > 1e-9 * span_mm:
        pitches = np.append(pitches, np.full(int(np.ceil(beyond / pitches[-1])), pitches[-1]))
    return pitches


def spiral_turns(
    *, base_radius_mm: float, outer_radius_mm: float, pitch_mm: float, pitch_shape: Sequence[float] = ()
) -> float:
    """Turns of the cut N, from the base to the edge.

    Parameters
    ----------
    base_radius_mm, outer_radius_mm, pitch_mm : float
        As for :func:`spiral_slot`. [mm]
    pitch_shape : sequence of float
        As for :func:`spiral_slot`. [-]

    Returns
    -------
    float
        Revolutions of the slot. [-]

    Examples
    --------
    >>> spiral_turns(base_radius_mm=30, outer_radius_mm=75, pitch_mm=6)
    7.5
    """
    span = outer_radius_mm - base_radius_mm
    if not pitch_shape:
        return span / pitch_mm
    from scipy.interpolate import PchipInterpolator

    pitches = _pitches_mm(span, pitch_mm, pitch_shape)
    reached = np.append(0.0, np.cumsum(pitches))
    turn = int(np.searchsorted(reached, span * (1 - 1e-12))) - 1
    if turn + 1 >= len(reached):
        return float(len(pitches))
    if len(pitches) == 1:
        return float(span / pitches[0])
    path = PchipInterpolator(np.arange(len(reached)), reached)
    low, high = float(turn), float(turn + 1)
    for _ in range(60):  # bisection of a curve that only rises
        middle = (low + high) / 2
        low, high = (middle, high) if float(path(middle)) < span else (low, middle)
    return high


def mean_pitch(pitches_mm: Sequence[float], span_mm: float) -> tuple[float, tuple[float, ...]]:
    """One pitch and the shape of a cut from the pitch of each turn.

    Parameters
    ----------
    pitches_mm : sequence of float
        Pitch of each turn, innermost first, or the one pitch. [mm]
    span_mm : float
        From the base to the edge. [mm]

    Returns
    -------
    tuple[float, tuple[float, ...]]
        Mean pitch over the span, and each turn's share of it; no shape where all are equal. [mm, -]

    Examples
    --------
    >>> mean_pitch([4, 5, 6], 15)
    (5.0, (0.8, 1.0, 1.2))
    """
    if min(pitches_mm) == max(pitches_mm):
        return pitches_mm[0], ()
    turns = spiral_turns(base_radius_mm=0.0, outer_radius_mm=span_mm, pitch_mm=1.0, pitch_shape=pitches_mm)
    return span_mm / turns, tuple(pitch * turns / span_mm for pitch in pitches_mm)


def stopped_early(shape: Sequence[float], short: float) -> tuple[float, tuple[float, ...]]:
    """The shape of a cut that stops some turns before the base that was meant.

    Parameters
    ----------
    shape : sequence of float
        Pitch of each turn, innermost first, over the mean. [-]
    short : float
        Turns that are missing. [-]

    Returns
    -------
    tuple[float, tuple[float, ...]]
        How much farther out it stops, in mean pitches, and the shape of what is cut.

    Examples
    --------
    >>> stopped_early((0.8, 1.0, 1.2), 1.0)
    (0.8, (1.0, 1.2))
    """
    reached = np.append(0.0, np.cumsum(shape))
    at = np.unique(np.append(np.arange(short, len(shape), 1.0), float(len(shape))))
    there = np.interp(at, np.arange(len(reached)), reached)
    left = np.diff(there)
    if len(left) > 1 and at[-1] - at[-2] < 1:  # the last turn is no whole one: it goes on as it was
        left[-1] = shape[-1]
    return float(there[0]), tuple(round(float(share), 12) for share in left)


def varying_reach_mm(
    span_mm: float, *, pitch_mm: float, pitch_shape: Sequence[float], turns: Array
) -> tuple[Array, Array]:
    """How far a cut whose pitch varies has gone outward, and how fast, at turns counted from the root.

    Parameters
    ----------
    span_mm, pitch_mm : float
        From the base to the edge, and the pitch. [mm]
    pitch_shape : sequence of float
        As for :func:`spiral_slot`. [-]
    turns : numpy.ndarray
        Turns gone, shape (k,); beyond the last pitch it goes on as that one ends. [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Distance outward from the base's line and its growth for each unit of angle, shape (k,).
        [mm, mm/rad]
    """
    from scipy.interpolate import PchipInterpolator

    pitches = _pitches_mm(span_mm, pitch_mm, pitch_shape)
    turns = np.asarray(turns, dtype=np.float64)
    if len(pitches) == 1:
        return pitches[0] * turns, np.full_like(turns, pitches[0] / TURN_RAD)
    path = PchipInterpolator(np.arange(len(pitches) + 1), np.append(0.0, np.cumsum(pitches)))
    within = np.minimum(turns, float(len(pitches)))
    rate = path(within, 1)
    return np.asarray(path(within) + rate * (turns - within)), np.asarray(rate / TURN_RAD)


def last_pitch_mm(slot: SlotCurve) -> float:
    """How far the cut moves inward in its first turn, the outermost one.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.

    Returns
    -------
    float
        Distance between the edge and the slot one turn inside it; over a cut of less than a turn, what
        it moves. [mm]
    """
    end, reach = float(slot.angle_rad[-1]), slot.reach_mm
    inner = float(np.interp(max(end - TURN_RAD, 0.0), slot.angle_rad, reach))
    return float(reach[-1]) - inner


def spiral_slot(
    *,
    base_radius_mm: float,
    outer_radius_mm: float,
    pitch_mm: float,
    kerf_mm: float | Sequence[float],
    tilt_rad: float | Sequence[float],
    root_rad: float = 0.0,
    clockwise: bool = False,
    points_per_turn: int = POINTS_PER_TURN,
    pitch_shape: Sequence[float] = (),
) -> SlotCurve:
    """Sample a spiral from the base outward.

    Parameters
    ----------
    base_radius_mm, outer_radius_mm : float
        Radius of the centre line at the root and where it meets the edge. [mm]
    pitch_mm : float
        How far the cut moves inward in one turn. [mm]
    kerf_mm, tilt_rad : float or sequence of float
        One value, or one for each turn, innermost first. [mm, rad]
    root_rad : float
        Polar angle of the root from the grain. [rad]
    clockwise : bool
        True for the mirrored cut.
    points_per_turn : int
        Samples a revolution.
    pitch_shape : sequence of float
        Pitch of each turn over ``pitch_mm``, innermost first, where it varies; where the cut has more
        turns than values, the last value goes on. [-]

    Returns
    -------
    SlotCurve
        The sampled curve.

    Raises
    ------
    OutsideModelError
        If the lengths do not describe a spiral, or a list is shorter than the turns.

    Examples
    --------
    >>> slot = spiral_slot(base_radius_mm=28, outer_radius_mm=75, pitch_mm=6.5, kerf_mm=0.7,
    ...                    tilt_rad=0.1)
    >>> round(slot.turns, 2)
    7.23
    """
    if not 0 < base_radius_mm < outer_radius_mm or pitch_mm <= 0:
        message = "a spiral needs 0 < base radius < outer radius and a positive pitch"
        raise OutsideModelError(message)
    if pitch_shape:
        whole = TURN_RAD * spiral_turns(
            base_radius_mm=base_radius_mm,
            outer_radius_mm=outer_radius_mm,
            pitch_mm=pitch_mm,
            pitch_shape=pitch_shape,
        )
    else:
        whole = TURN_RAD * (outer_radius_mm - base_radius_mm) / pitch_mm
    step = TURN_RAD / points_per_turn
    angle = np.append(step * np.arange(int(np.ceil(whole / step - 1e-9))), whole)
    growth: Array
    if pitch_shape:
        turns = angle / TURN_RAD
        gone, rate = varying_reach_mm(
            outer_radius_mm - base_radius_mm, pitch_mm=pitch_mm, pitch_shape=pitch_shape, turns=turns
        )
        radius = base_radius_mm + gone
        growth = rate / radius
    else:
        radius = base_radius_mm + pitch_mm * angle / TURN_RAD
        growth = pitch_mm / TURN_RAD / radius  # dr/(r da): how far the tangent leans outward
    hand = -1.0 if clockwise else 1.0
    polar = root_rad + hand * angle
    outward = np.column_stack([np.cos(polar), np.sin(polar)])
    around = hand * np.column_stack([-np.sin(polar), np.cos(polar)])
    lean = np.sqrt(1 + growth**2)[:, None]
    turn = turn_indices(angle)
    return SlotCurve(
        angle_rad=frozen(angle),
        position_mm=frozen(radius[:, None] * outward),
        tangent=frozen((around + growth[:, None] * outward) / lean),
        normal=frozen((outward - growth[:, None] * around) / lean),
        radius_mm=frozen(radius),
        kerf_mm=frozen(by_turn(kerf_mm, turn, "kerf")),
        tilt_rad=frozen(by_turn(tilt_rad, turn, "tilt")),
        points_per_turn=points_per_turn,
    )


def edge_radius_mm(polar_rad: Array, *, across_mm: float, outline: str, entry_rad: float) -> Array:
    """Distance from the centre to the board's edge in a given direction.

    Parameters
    ----------
    polar_rad : numpy.ndarray
        Direction, any shape. [rad]
    across_mm : float
        Diameter of a round board, side of a square one. [mm]
    outline : str
        "round" or "square".
    entry_rad : float
        Direction where the cut enters: the middle of a side of a square board. [rad]

    Returns
    -------
    numpy.ndarray
        Distance, shape of ``polar_rad``. [mm]

    Raises
    ------
    OutsideModelError
        For any other outline.
    """
    if outline == "round":
        return np.full(np.shape(polar_rad), across_mm / 2)
    if outline == "square":
        turned = np.asarray(polar_rad) - entry_rad
        largest = np.maximum(np.abs(np.cos(turned)), np.abs(np.sin(turned)))
        return np.asarray(across_mm / 2 / largest)
    message = f"outline {outline!r}: only round and square boards are known"
    raise OutsideModelError(message)


def strip_between_slots(slot: SlotCurve, *, across_mm: float, outline: str, end_width_mm: float) -> Strip:
    """Strip between the slot and its next turn, trimmed where it gets thinner than ``end_width_mm``.

    Inside, the width is the distance between neighbouring centre lines less half of each slot;
    over the last revolution the board's edge takes the place of the outer slot: the strip narrows
    to a feather on a round board and carries the corners of a square one.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.
    across_mm : float
        Diameter of a round board, side of a square one. [mm]
    outline : str
        "round" or "square".
    end_width_mm : float
        Least width that still takes the nail; the free end is trimmed there. [mm]

    Returns
    -------
    Strip
        Sampled on the slot's angles up to the free end, which is found to 1e-12 of a turn.

    Raises
    ------
    OutsideModelError
        If nothing is left of the strip, it is shorter than one full turn, or its line runs back on itself.
    """
    angle, half = slot.angle_rad, slot.slot_mm / 2
    reach = slot.reach_mm
    per_turn = slot.points_per_turn
    edge = _edge_of(slot, across_mm=across_mm, outline=outline)
    outer_reach = edge(angle).copy()
    outer_half = np.zeros_like(angle)
    inside = angle + TURN_RAD <= angle[-1]
    count = int(inside.sum())
    outer_reach[:count] = reach[per_turn : per_turn + count]
    outer_half[:count] = half[per_turn : per_turn + count]
    width = outer_reach - outer_half - reach - half
    if width[:count].size and float(width[:count].min()) <= 0:
        message = "nothing is left of the strip: the pitch is not wider than the slot"
        raise OutsideModelError(message)
    moves = not slot.winding.even if slot.winding is not None else outline != "round"
    end = _free_end(slot, count, width, end_width_mm, edge, moves=moves)
    if end < TURN_RAD:
        message = "the strip is shorter than one full turn: smaller base, finer pitch or wider board"
        raise OutsideModelError(message)
    kept = angle < end - 1e-9
    inner_edge = reach + half
    middle = inner_edge + width / 2
    swept = np.append(angle[kept], end)
    along = np.append(middle[kept], np.interp(end, angle, middle))
    if slot.winding is not None:
        _check_it_runs_on(slot.winding, swept, along)
        along = along + slot.winding.support_mm(swept)
    return Strip(
        angle_rad=frozen(swept),
        radius_mm=frozen(along),
        width_mm=frozen(np.append(width[kept], np.interp(end, angle, width))),
        turns=float(end / TURN_RAD),
        winding=slot.winding,
    )


def _check_it_runs_on(winding: Winding, angle_rad: Array, reach_mm: Array) -> None:
    """Refuse a strip that runs back on itself somewhere, where lines of an outline lie too close.

    The base's own line, on which it goes on before the root, must not either.
    """
    if winding.even:
        return
    whole = int(np.searchsorted(angle_rad, TURN_RAD))
    angle = np.concatenate([angle_rad[:whole] - TURN_RAD, angle_rad])
    reach = np.concatenate([np.full(whole, reach_mm[0]), reach_mm])
    if np.any(winding.steps_mm(angle, reach) < -BACK_MM):
        raise OutsideModelError(
            "the cut runs back on itself: its lines lie too close for this outline; take a smaller "
            "pitch or a wider base, or round the hollows of a drawing"
        )


def _edge_of(slot: SlotCurve, *, across_mm: float, outline: str) -> Callable[[Array], Array]:
    """Reach of the board's edge by angle swept."""
    if slot.winding is not None:
        return slot.winding.edge_reach_mm
    entry = float(slot.angle_rad[-1])
    return lambda swept: edge_radius_mm(swept, across_mm=across_mm, outline=outline, entry_rad=entry)


def _free_end(
    slot: SlotCurve,
    inside: int,
    width: Array,
    end_width_mm: float,
    edge: Callable[[Array], Array],
    *,
    moves: bool,
) -> float:
    """Angle at which the strip first gets thinner than ``end_width_mm``, going outward.

    ``moves`` says whether the edge's reach changes round the board.
    """
    thin = np.nonzero(width[inside:] < end_width_mm)[0]
    if thin.size == 0 or inside + int(thin[0]) == 0:
        return float(slot.angle_rad[-1]) if thin.size == 0 else 0.0
    last = inside + int(thin[0])
    # Within one step the reach runs straight (a square's edge does not), and the slot is the outer
    # sample's, since kerf and tilt may change from turn to turn.
    ends = slice(last - 1, last + 1)
    low, high = (float(end) for end in slot.angle_rad[ends])
    inner = slot.reach_mm[ends] + slot.slot_mm[last] / 2
    start, growth = low, float(inner[1] - inner[0]) / (high - low)

    fixed = None if moves else float(edge(np.array([low]))[0])  # the same on every halving
    first = float(inner[0])
    if slot.winding is not None and fixed is None:  # a table of the edge serves all halvings
        table = np.linspace(low, high, EDGE_TABLE)
        edges = edge(table)

        def edge(swept: Array) -> Array:
            return np.interp(swept, table, edges)

    def spare(angle: float) -> float:
        there = float(edge(np.array([angle]))[0]) if fixed is None else fixed
        return there - first - growth * (angle - start) - end_width_mm

    if spare(low) < 0:  # the strip is already too thin where the outer slot ends
        return low
    for _ in range(60):  # bisection: 60 halvings of one step are below rounding
        middle = (low + high) / 2
        low, high = (middle, high) if spare(middle) > 0 else (low, middle)
    return low


def cut_length_mm(slot: SlotCurve) -> float:
    """Length of the saw cut from the edge to the root, along the slot's centre line.

    Between two samples the radius grows evenly with the angle, and the arc of such a spiral,
    integral of sqrt(r^2 + (dr/da)^2) da, has a closed form: exact for an even spiral, however
    coarsely it is sampled.

    Parameters
    ----------
    slot : SlotCurve
        The sampled cut.

    Returns
    -------
    float
        Length. [mm]

    Examples
    --------
    The rule of thumb pi (R_o^2 - R_b^2)/p falls short by about (p/4 pi) ln(R_o/R_b), 0.51 mm here.

    >>> slot = spiral_slot(base_radius_mm=28, outer_radius_mm=75, pitch_mm=6.5, kerf_mm=0.7,
    ...                    tilt_rad=0.1)
    >>> round(cut_length_mm(slot) - 3.141592653589793 * (75**2 - 28**2) / 6.5, 2)
    0.51
    """
    if slot.winding is not None:
        return _wound_length_mm(slot, slot.winding)
    radius, step = slot.radius_mm, np.diff(slot.angle_rad)
    growth = np.diff(radius) / step  # dr/da on each step
    # A step of a plain circle has no closed form in growth; its arc is radius times angle.
    circle = np.abs(growth) < 1e-6 * radius[:-1]
    scale = np.where(circle, 1.0, growth)

    def antiderivative(r: Array) -> Array:
        ratio = r / scale
        return np.asarray(scale / 2 * (ratio * np.sqrt(1 + ratio**2) + np.arcsinh(ratio)))

    spiral = antiderivative(radius[1:]) - antiderivative(radius[:-1])
    plain = (radius[1:] + radius[:-1]) / 2 * step
    return float(np.sum(np.where(circle, plain, spiral)))


def _wound_length_mm(slot: SlotCurve, wound: Winding) -> float:
    """Length where the line is none of a circle: three points of Gauss to each piece."""
    angle, reach = slot.angle_rad, slot.reach_mm
    turns = np.arange(int(np.ceil(angle[-1] / TURN_RAD)) + 1)[:, None]
    knots = (wound.knots_rad + TURN_RAD * turns).ravel()
    grid = np.union1d(angle, knots[(knots > 0) & (knots < angle[-1])])
    nodes, weights = np.polynomial.legendre.leggauss(3)
    half = np.diff(grid)[:, None] / 2
    there = ((grid[1:] + grid[:-1])[:, None] / 2 + half * nodes).ravel()
    rate = (np.diff(reach) / np.diff(angle))[np.clip(np.searchsorted(angle, there) - 1, 0, len(angle) - 2)]
    reached = np.interp(there, angle, reach)
    at = wound.at(there, reached)
    onward = at.onward_mm(at.growth_mm(reached, rate))
    speed = np.hypot(*onward.T).reshape(half.shape[0], -1)
    return float(np.sum(speed * weights * half))
