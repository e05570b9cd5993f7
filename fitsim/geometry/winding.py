"""A cut that winds between two closed lines: where a turn of it lies, and what lies square to it.

The angle swept from the root runs through a full turn for each turn of the cut; on a round bowl it is the
angle about the centre. Elsewhere it is shared out along the line, half by length and half by how much the
line turns, so that corners get their share of sampled points. Places of equal angle on neighbouring turns
lie square to one another: distances between turns, widths of the strip and the slot are measured along that
common normal.

*Reach* is the distance outward from the base's line along that normal; *support* that of the base's line
from the board's middle along it, so that reach plus support takes the place that the radius has on a round
bowl.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.errors import OutsideModelError
from fitsim.geometry.board_outline import ClosedLine, Outline
from fitsim.geometry.offsets import TurnLines, turn_lines
from fitsim.quantities import TURN_RAD

__all__ = ["Winding", "WoundLine", "winding"]

EVEN_WITHIN = 1e-9
"""A line whose curvature changes by less than this share is a circle."""

OFF_SQUARE_PLACES = 1440

EDGE_SAMPLES = 2880
"""Places round the board at which the distance to its edge is looked up."""


@dataclass(frozen=True, eq=False)
class WoundLine:
    """Places on turns of the cut, k of them.

    Attributes
    ----------
    position_mm, tangent, normal : numpy.ndarray
        Points, direction of the closed line through each, and outward normal, shape (k, 2). [mm, -, -]
    speed_mm : numpy.ndarray
        Length of that line for each unit of angle swept, shape (k,). [mm/rad]
    curvature_per_mm : numpy.ndarray
        1/r of that line, negative where it is concave, shape (k,). [1/mm]
    aslant : numpy.ndarray
        How far a place moves along the line for each millimetre that it is carried outward, shape (k,). [-]
    """

    position_mm: Array
    tangent: Array
    normal: Array
    speed_mm: Array
    curvature_per_mm: Array
    aslant: Array

    def onward_mm(self, growth_mm: Array) -> Array:
        """Way along the cut for each unit of angle swept.

        Parameters
        ----------
        growth_mm : numpy.ndarray
            How far it is carried outward meanwhile, see :meth:`growth_mm`, shape (k,). [mm/rad]

        Returns
        -------
        numpy.ndarray
            Shape (k, 2). [mm/rad]
        """
        along = self.speed_mm + growth_mm * self.aslant
        return np.asarray(along[:, None] * self.tangent + growth_mm[:, None] * self.normal)

    def growth_mm(self, reach_mm: Array, rate_mm: Array) -> Array:
        """How far places are carried outward for each unit of angle swept.

        Where base and edge are unlike, the way between them grows and shrinks round the turn, and the reach
        with it: that much of its rate carries nothing outward.

        Parameters
        ----------
        reach_mm, rate_mm : numpy.ndarray
            Distance outward from the base's line, and by how much more it is for each unit of angle, shape
            (k,). [mm, mm/rad]

        Returns
        -------
        numpy.ndarray
            Shape (k,). [mm/rad]
        """
        # Of a way w the span is w n; the heading turns by speed/r, and n with it, along the tangent.
        return np.asarray(rate_mm - reach_mm * self.aslant * self.curvature_per_mm * self.speed_mm)


@dataclass(frozen=True, eq=False)
class Winding:
    """Base line, outermost line and board's edge, with the angle swept from the root laid along them.

    Attributes
    ----------
    lines : TurnLines
        The lines, their first piece beginning at the root.
    knots_rad : numpy.ndarray
        Angle swept where each piece begins, and a full turn at the end, shape (n + 1,). [rad]
    """

    lines: TurnLines
    knots_rad: Array

    def _places(self, angle_rad: Array) -> tuple[IntArray, Array]:
        """Piece and share of it gone at angles swept."""
        turned = np.mod(angle_rad, TURN_RAD)
        piece = np.clip(
            np.searchsorted(self.knots_rad, turned, side="right") - 1, 0, len(self.knots_rad) - 2
        )
        share = (turned - self.knots_rad[piece]) / (self.knots_rad[piece + 1] - self.knots_rad[piece])
        return piece.astype(np.int64), np.asarray(share)

    def _ends(self, angle_rad: Array) -> tuple[Array, Array, Array]:
        """Point on the base's line, way from there to the outermost line, and heading."""
        piece, share = self._places(angle_rad)
        inner, heading = self.lines.base.at(piece, share)
        outer, _ = self.lines.outermost.at(piece, share)
        return inner, outer - inner, heading

    @cached_property
    def even(self) -> bool:
        """Whether all turns are circles about the middle."""
        for line in (self.lines.base, self.lines.outermost):
            if np.any(line.turn_rad <= 0):
                return False
            radius = line.length_mm / line.turn_rad
            if np.ptp(radius) > EVEN_WITHIN * float(radius.mean()):
                return False
        support = self.support_mm(np.linspace(0, TURN_RAD, 9))
        return bool(np.ptp(support) < EVEN_WITHIN * float(np.abs(support).max()))

    def support_mm(self, angle_rad: Array) -> Array:
        """Distance of the base's line from the middle, along its normal.

        Parameters
        ----------
        angle_rad : numpy.ndarray
            Angles swept, shape (k,). [rad]

        Returns
        -------
        numpy.ndarray
            Shape (k,). [mm]
        """
        inner, _, heading = self._ends(angle_rad)
        return np.asarray(inner[:, 0] * np.sin(heading) - inner[:, 1] * np.cos(heading))

    def span_mm(self, angle_rad: Array) -> Array:
        """Distance from the base's line to the outermost one along their normal.

        Parameters
        ----------
        angle_rad : numpy.ndarray
            Angles swept, shape (k,). [rad]

        Returns
        -------
        numpy.ndarray
            Shape (k,). [mm]
        """
        _, way, heading = self._ends(angle_rad)
        return np.asarray(way[:, 0] * np.sin(heading) - way[:, 1] * np.cos(heading))

    def at(self, angle_rad: Array, reach_mm: Array) -> WoundLine:
        """Places at angles swept and reaches.

        Parameters
        ----------
        angle_rad, reach_mm : numpy.ndarray
            Angle and distance outward from the base's line, shape (k,). [rad, mm]

        Returns
        -------
        WoundLine
            The places.

        Raises
        ------
        OutsideModelError
            If a place lies so far inside the base that its line crosses itself.
        """
        angle = np.asarray(angle_rad, dtype=np.float64)
        piece, _ = self._places(angle)
        inner, way, heading = self._ends(angle)
        tangent = np.stack([np.cos(heading), np.sin(heading)], axis=1)
        normal = np.stack([np.sin(heading), -np.cos(heading)], axis=1)
        span = np.sum(way * normal, axis=1)
        reach = np.asarray(reach_mm, dtype=np.float64)
        inside = reach < 0  # round the base the strip's line goes on parallel to the base's
        gone = np.where(inside, 0.0, reach / span)
        base, outer = self.lines.base, self.lines.outermost
        length = base.length_mm[piece] + gone * (outer.length_mm - base.length_mm)[piece]
        length = length + np.where(inside, reach, 0.0) * base.turn_rad[piece]
        moved = gone[:, None] * way + np.where(inside, reach, 0.0)[:, None] * normal
        if np.any(length <= 0):
            raise OutsideModelError("the strip's own line is too tight at a corner of the base")
        return WoundLine(
            position_mm=np.asarray(inner + moved),
            tangent=tangent,
            normal=normal,
            speed_mm=length / np.diff(self.knots_rad)[piece],
            curvature_per_mm=base.turn_rad[piece] / length,
            aslant=np.where(inside, 0.0, np.sum(way * tangent, axis=1) / span),
        )

    def heading_rad(self, angle_rad: Array) -> Array:
        """Direction of the closed lines, running on from turn to turn.

        Parameters
        ----------
        angle_rad : numpy.ndarray
            Angles swept, shape (k,). [rad]

        Returns
        -------
        numpy.ndarray
            Shape (k,). [rad]
        """
        angle = np.asarray(angle_rad, dtype=np.float64)
        piece, share = self._places(angle)
        base = self.lines.base
        turned = base.heading_rad[piece] + base.turn_rad[piece] * share
        return np.asarray(turned + TURN_RAD * np.floor(angle / TURN_RAD))

    def off_square(self, turns: float) -> float:
        """How far lines that blend are from lying square to one another, 0 for parallel ones.

        Parameters
        ----------
        turns : float
            Turns from the base's line to the outermost one. [-]

        Returns
        -------
        float
            A place and the place of equal angle one turn on have a common normal, but lie aslant of it: the
            greatest error of the distance between the turns this makes, as a share of the pitch. [-]
        """
        angle = TURN_RAD * np.arange(OFF_SQUARE_PLACES) / OFF_SQUARE_PLACES
        span = self.span_mm(angle)
        ends = [self.at(angle, share * span) for share in (0.0, 0.5, 1.0)]
        pitch = span / turns
        return float(max((np.abs(at.aslant**2 * at.curvature_per_mm) * pitch / 2).max() for at in ends))

    def steps_mm(self, angle_rad: Array, reach_mm: Array) -> Array:
        """Lengths along the line from each of a run of places to the next, its lean left out.

        Parameters
        ----------
        angle_rad, reach_mm : numpy.ndarray
            Rising angles swept and reaches, shape (k,). [rad, mm]

        Returns
        -------
        numpy.ndarray
            Shape (k - 1,). [mm]
        """
        # Pieces are straight or arcs: their lengths at the mean reach of a step are exact.
        angle = np.asarray(angle_rad, dtype=np.float64)
        middle = (reach_mm[1:] + reach_mm[:-1]) / 2
        base, outer = self.lines.base, self.lines.outermost
        ends = [np.concatenate([[0.0], np.cumsum(line.length_mm)]) for line in (base, outer)]
        turns = np.floor(angle / TURN_RAD)
        there = np.mod(angle, TURN_RAD)
        inner, outermost = (
            np.diff(np.interp(there, self.knots_rad, end) + turns * end[-1]) for end in ends
        )
        gone = middle / ((self.span_mm(angle[1:]) + self.span_mm(angle[:-1])) / 2)
        return np.asarray(inner + gone * (outermost - inner))

    def mean_speed_mm(self, angle_rad: Array, reach_mm: Array) -> Array:
        """Length of line for each unit of angle swept, a mean over the steps beside each place.

        Parameters
        ----------
        angle_rad, reach_mm : numpy.ndarray
            Rising angles swept and reaches, shape (k,). [rad, mm]

        Returns
        -------
        numpy.ndarray
            What the trapezium rule sums to the line's length, shape (k,). [mm/rad]
        """
        angle = np.asarray(angle_rad, dtype=np.float64)
        if self.even:
            return self.at(angle, reach_mm).speed_mm
        return _beside(np.diff(angle), self.steps_mm(angle, reach_mm))

    def mean_turning(self, angle_rad: Array) -> Array:
        """How much the line turns for each unit of angle swept, the mean over the steps beside each place.

        Parameters
        ----------
        angle_rad : numpy.ndarray
            Rising angles swept, shape (k,). [rad]

        Returns
        -------
        numpy.ndarray
            1 on a circle, negative where the line is concave, shape (k,). [-]
        """
        angle = np.asarray(angle_rad, dtype=np.float64)
        return _beside(np.diff(angle), np.diff(self.heading_rad(angle)))

    @cached_property
    def _edge_reach(self) -> Array:
        """Reach of the board's edge at even steps of the angle, the first repeated at the end."""
        angle = TURN_RAD * np.arange(EDGE_SAMPLES) / EDGE_SAMPLES
        reach = _along_rays(self, angle)
        return np.append(reach, reach[0])

    def edge_reach_mm(self, angle_rad: Array) -> Array:
        """Reach of the board's edge: never less than that of the outermost line.

        Parameters
        ----------
        angle_rad : numpy.ndarray
            Angles swept, any shape. [rad]

        Returns
        -------
        numpy.ndarray
            Shape of ``angle_rad``. [mm]
        """
        angle = np.asarray(angle_rad, dtype=np.float64)
        table = np.linspace(0, TURN_RAD, EDGE_SAMPLES + 1)
        beyond = np.interp(np.mod(angle, TURN_RAD), table, self._edge_reach)
        return np.asarray(self.span_mm(np.atleast_1d(angle)).reshape(angle.shape) + beyond)


def _beside(step: Array, gone: Array) -> Array:
    """Mean rate over the steps before and after each of a run of places."""
    before, after = np.insert(step, 0, 0.0), np.append(step, 0.0)
    return np.asarray((np.insert(gone, 0, 0.0) + np.append(gone, 0.0)) / (before + after))


def _along_rays(wound: Winding, angle_rad: Array) -> Array:
    """Distance from the outermost line along its normal to the board's edge, 0 where they are one."""
    inner, way, heading = wound._ends(angle_rad)
    start = inner + way
    normal = np.stack([np.sin(heading), -np.cos(heading)], axis=1)
    first = wound.lines.edge_mm
    step = np.roll(first, -1, axis=0) - first
    found = np.full(len(start), np.inf)
    for i in range(0, len(start), 240):  # rays by chords of the edge, some at a time
        rays, ways = start[i : i + 240, None, :], normal[i : i + 240, None, :]
        cross = ways[..., 0] * step[:, 1] - ways[..., 1] * step[:, 0]
        apart = first - rays
        with np.errstate(divide="ignore", invalid="ignore"):
            far = (apart[..., 0] * step[:, 1] - apart[..., 1] * step[:, 0]) / cross
            on = (apart[..., 0] * ways[..., 1] - apart[..., 1] * ways[..., 0]) / cross
        hit = (on >= -1e-9) & (on <= 1 + 1e-9) & (far > -EDGE_SLACK_mm)
        found[i : i + 240] = np.where(hit, far, np.inf).min(axis=1)
    # The outermost line lies on the edge or inside it; what the points of the edge leave of it is no wood.
    return np.where(np.isfinite(found) & (found > EDGE_SLACK_mm), found, 0.0)


EDGE_SLACK_mm = 0.01
"""The board's edge is written as points: closer than this it is the outermost line itself. [mm]"""


def _shared_out(lines: TurnLines) -> Array:
    """Angle swept at the beginnings of the pieces: half by length midway, half by how much they turn."""
    length = (lines.base.length_mm + lines.outermost.length_mm) / 2
    turn = np.abs(lines.base.turn_rad)
    share = length / length.sum() / 2 + turn / turn.sum() / 2
    knots = TURN_RAD * np.concatenate([[0.0], np.cumsum(share)])
    knots[-1] = TURN_RAD
    return knots


def _from(line: ClosedLine, piece: int, share: float) -> ClosedLine:
    """The line begun at a place on one of its pieces, which is split there; headings run on."""
    point, heading = line.at(np.array([piece]), np.array([share]))
    rest, gone = 1 - share, share
    order = np.concatenate([np.arange(piece + 1, len(line.length_mm)), np.arange(piece)])
    start = np.concatenate([point, line.start_mm[order], line.start_mm[piece : piece + 1]])
    turn, length = (
        np.concatenate([[values[piece] * rest], values[order], [values[piece] * gone]])
        for values in (line.turn_rad, line.length_mm)
    )
    keep = np.ones(len(length), dtype=np.bool_)
    keep[-1] = gone > 1e-12
    run = heading[0] + np.concatenate([[0.0], np.cumsum(turn)[:-1]])
    return ClosedLine(*(read_only(part[keep]) for part in (start, run, turn, length)))


@lru_cache(maxsize=16)
def winding(
    outline: Outline,
    *,
    span_mm: float,
    corner_mm: float,
    root_rad: float,
    base: Outline | None = None,
) -> Winding:
    """Lay the angle swept along the lines of a cut.

    Parameters
    ----------
    outline : Outline
        The board's.
    span_mm : float
        From the board's edge inward to the base's line, along the narrow way. [mm]
    corner_mm : float
        Least radius of the line at the base. [mm]
    root_rad : float
        Direction of the root seen from the middle, from the grain. [rad]
    base : Outline, optional
        The base's own outline.

    Returns
    -------
    Winding
        Beginning at the root.

    Raises
    ------
    CannotWindError
        As :func:`fitsim.geometry.offsets.turn_lines`.
    OutsideModelError
        If the base does not surround the middle.
    """
    lines = turn_lines(outline, span_mm=span_mm, corner_mm=corner_mm, base=base)
    knots = _shared_out(lines)
    whole = Winding(lines, read_only(knots))
    angle = np.linspace(0, TURN_RAD, 4 * len(knots))
    at = whole._ends(angle)[0]
    off = np.unwrap(np.arctan2(at[:, 1], at[:, 0])) - root_rad
    if not np.isclose(off[-1] - off[0], TURN_RAD):
        raise OutsideModelError("the base does not surround the board's middle")
    goal = TURN_RAD * np.ceil(off[0] / TURN_RAD - 1e-12)
    step = int(np.argmax(off >= goal - 1e-12))
    low, high = float(angle[max(step - 1, 0)]), float(angle[step])

    def beyond(swept: float) -> float:
        x, y = whole._ends(np.array([swept]))[0][0]
        return float(np.mod(np.arctan2(y, x) - root_rad + np.pi, TURN_RAD) - np.pi)

    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if beyond(middle) < 0 else (low, middle)
    piece, share = whole._places(np.array([high]))
    part = (int(piece[0]), min(max(float(share[0]), 0.0), 1.0))
    begun = TurnLines(_from(lines.base, *part), _from(lines.outermost, *part), lines.edge_mm)
    return Winding(begun, read_only(_shared_out(begun)))
