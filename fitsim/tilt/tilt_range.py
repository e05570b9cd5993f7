"""The tilts at which a bowl, cut as it was planned, locks on the elastic strip, and what limits each end.

A scan judges the bowl at a row of tilts, a few first and the others where these leave open what it does.
Where it locks and its neighbour does not, the interval is halved until the end is known to a twentieth of a
degree; each end given is a tilt at which the bowl was pressed and locks. If no tilt of the scan locks, the
neighbourhood of the one nearest to it is looked through.

The hand formula k/sin(tilt) only bounds the scan: where a rigid ring would drop by more than the thickness
no elastic one holds, and no wedge steeper than the friction angle holds itself.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.verdict import FALLS_THROUGH, SPRINGS_BACK, DecidingNumbers
from fitsim.bowlfile.contradictions import LEAST_FOOT_MM
from fitsim.errors import OutsideModelError
from fitsim.strip.results import NEEDED_WITHIN
from fitsim.tilt.lock_chance import LARGE_MARGIN, JudgeBowls, lock_margin

__all__ = [
    "END_TOLERANCE_RAD",
    "THE_CUT",
    "TiltEnd",
    "TiltSpan",
    "TiltSpans",
    "greatest_tilt_rad",
    "scan_tilts_rad",
    "tilt_spans",
]

NO_ANSWER = "no answer"
"""Named as the limit where no equilibrium was found."""

THE_CUT = "the cut itself"
"""Named as the limit where the scan ends before any state does: the base would come to a point."""

END_TOLERANCE_RAD = math.radians(0.05)
LEAST_TILT_RAD, MOST_TILT_RAD = math.radians(0.05), math.radians(45)
SCAN_TILTS, FIRST = 12, slice(1, 8, 3)
"""Tilts of the scan, and those of them that are pressed first."""

BEYOND = 1.1
"""How far beyond a limit of the hand formula the scan goes: swelling and film move it by less."""

CLOSER, CLOSER_TILTS = 2, 4
"""Rounds in which the best tilt's neighbourhood is looked through where no tilt of the scan locks."""


@dataclass(frozen=True)
class TiltEnd:
    """One end of a span of tilts.

    Attributes
    ----------
    tilt_rad : float
        The outermost tilt that was pressed and locks. [rad]
    limit : str
        State just beyond it, or "the cut itself".
    tolerance_rad : float
        How far beyond it a tilt was pressed that does not lock; 0 where the scan ends. [rad]
    press_moves_rad : float
        How far it may lie off where the press that the bowl needs decides it, since that is known to
        :data:`fitsim.strip.results.NEEDED_WITHIN`; 0 where something else decides. [rad]
    """

    tilt_rad: float
    limit: str
    tolerance_rad: float
    press_moves_rad: float = 0.0


@dataclass(frozen=True)
class TiltSpan:
    """Neighbouring tilts at all of which the bowl locks.

    Attributes
    ----------
    low, high : TiltEnd
        Its ends.
    """

    low: TiltEnd
    high: TiltEnd

    @property
    def width_rad(self) -> float:
        """From one end to the other. [rad]"""
        return self.high.tilt_rad - self.low.tilt_rad

    def holds(self, tilt_rad: float) -> bool:
        """Whether a tilt lies in it.

        Parameters
        ----------
        tilt_rad : float
            The tilt. [rad]

        Returns
        -------
        bool
            True between the ends and at them.
        """
        return self.low.tilt_rad <= tilt_rad <= self.high.tilt_rad


@dataclass(frozen=True)
class TiltSpans:
    """The tilts at which a bowl locks as planned.

    Attributes
    ----------
    spans : tuple[TiltSpan, ...]
        Widest first; empty where no tilt locks.
    nearest_rad : float
        Tilt of those pressed at which it is farthest from every limit, or least beyond one. [rad]
    nearest_state : str
        State there, or the state it is nearest to.
    """

    spans: tuple[TiltSpan, ...]
    nearest_rad: float
    nearest_state: str


def greatest_tilt_rad(bowl: Bowl) -> float:
    """Tilt beyond which nothing is looked for.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        45 deg, or where the base's lower face would come to a point, less where the friction angle is well
        below. [rad]
    """
    corner = bowl.cut.base_corner_mm or bowl.cut.base_radius_mm
    room = max(corner - LEAST_FOOT_MM, 0.1)
    pointed = math.atan(room / bowl.board.thickness_mm)
    held = BEYOND * math.atan(bowl.use.friction)
    return max(min(MOST_TILT_RAD, pointed, held), 2 * LEAST_TILT_RAD)


def scan_tilts_rad(bowl: Bowl) -> tuple[float, ...]:
    """Tilts at which a bowl is judged first.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used.

    Returns
    -------
    tuple[float, ...]
        From where the hand formula's drop is the whole thickness to :func:`greatest_tilt_rad`, even in
        their logarithm. [rad]
    """
    most = greatest_tilt_rad(bowl)
    drop = min(bowl.cut.kerf_mm) / bowl.board.thickness_mm / BEYOND
    least = min(max(math.asin(min(drop, 1.0)), LEAST_TILT_RAD), most / BEYOND)
    step = (most / least) ** (1 / (SCAN_TILTS - 1))
    return tuple(least * step**i for i in range(SCAN_TILTS))


class _Tried:
    """Margins of one bowl by tilt, and the press it ought to be given over the press there is."""

    def __init__(self, bowl: Bowl, judge: JudgeBowls) -> None:
        self.bowl, self.judge = bowl, judge
        self.at: dict[float, tuple[float, str]] = {}
        self.press_asked: dict[float, float] = {}

    def press(self, tilts_rad: list[float]) -> None:
        """Judge the bowl at tilts it was not judged at before."""
        fresh = [tilt for tilt in dict.fromkeys(tilts_rad) if tilt not in self.at]
        numbers = self.judge([with_input(self.bowl, "cut.tilt_rad", tilt) for tilt in fresh])
        for tilt, found in zip(fresh, numbers, strict=True):
            self.at[tilt] = self._margin(found)
            self.press_asked[tilt] = math.inf if found is None else found.press_asked

    def _margin(self, found: DecidingNumbers | None) -> tuple[float, str]:
        return (-LARGE_MARGIN, NO_ANSWER) if found is None else lock_margin(found, self.bowl.limits)

    def locks(self, tilt_rad: float) -> bool:
        """Whether the bowl locks at a tilt it was judged at."""
        return self.at[tilt_rad][0] > 0

    def may_change(self, tilt_rad: float) -> bool:
        """Whether what a bowl does at a tilt is left open by the tilts next to it.

        Not between two at which it fails alike, not below one at which it falls through nor above one at
        which it springs back, once it locks anywhere.
        """
        if not any(map(self.locks, self.at)):
            return True
        below = [self.at[tilt] for tilt in self.tilts if tilt < tilt_rad][-1:]
        above = [self.at[tilt] for tilt in self.tilts if tilt > tilt_rad][:1]
        if below and above:
            (margin, state), (beyond, other) = *below, *above
            return max(margin, beyond) > 0 or state != other or state == NO_ANSWER
        sure = (below[0][0] <= 0 and below[0][1] == SPRINGS_BACK) if below else False
        return not (sure or (above and above[0][0] <= 0 and above[0][1] == FALLS_THROUGH))

    @property
    def tilts(self) -> list[float]:
        """Tilts it was judged at, in order."""
        return sorted(self.at)

    @property
    def nearest(self) -> float:
        """The tilt farthest from every limit."""
        return max(self.at, key=lambda tilt: self.at[tilt][0])


def tilt_spans(
    bowl: Bowl,
    judge: JudgeBowls,
    *,
    tolerance_rad: float = END_TOLERANCE_RAD,
    progress: Callable[[int], None] | None = None,
) -> TiltSpans:
    """Spans of tilts at which a bowl locks as planned.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every range at its middle, judged there as ``fit`` judges it; its own tilt is not used,
        one tilt serves the whole cut.
    judge : JudgeBowls
        Presses bowls with every input at one value.
    tolerance_rad : float
        How closely ends are found. [rad]
    progress : callable or None
        Told how many tilts have been pressed so far.

    Returns
    -------
    TiltSpans
        Empty spans where no tilt was met at which it locks.

    Raises
    ------
    OutsideModelError
        If no equilibrium was found at any tilt.
    """
    tried = _Tried(bowl, judge)

    def press(tilts: list[float]) -> None:
        tried.press(tilts)
        if progress is not None:
            progress(len(tried.at))

    scan = scan_tilts_rad(bowl)
    press(list(scan[FIRST]))
    while wanted := [tilt for tilt in scan if tilt not in tried.at and tried.may_change(tilt)]:
        press(wanted)
    for _ in range(CLOSER):
        if any(map(tried.locks, tried.at)):
            break
        press(_beside(tried.tilts, tried.nearest))
    if all(state == NO_ANSWER for _, state in tried.at.values()):
        message = "no equilibrium was found at any tilt"
        raise OutsideModelError(message)
    while open_ends := [pair for pair in _ends(tried) if abs(pair[0] - pair[1]) > tolerance_rad]:
        press([(inside + outside) / 2 for inside, outside in open_ends])
    spans = sorted(_spans(tried), key=lambda s: -s.width_rad)
    return TiltSpans(
        spans=tuple(spans),
        nearest_rad=tried.nearest,
        nearest_state=tried.at[tried.nearest][1],
    )


def _beside(tilts: list[float], nearest: float) -> list[float]:
    """Tilts between the one nearest to locking and its neighbours."""
    at = tilts.index(nearest)
    low, high = tilts[max(at - 1, 0)], tilts[min(at + 1, len(tilts) - 1)]
    half = CLOSER_TILTS // 2
    shares = [(i + 1) / (half + 1) for i in range(half)]
    inner = [low + (nearest - low) * share for share in shares if low < nearest]
    return inner + [nearest + (high - nearest) * share for share in shares if high > nearest]


def _ends(tried: _Tried) -> list[tuple[float, float]]:
    """Neighbouring tilts of which the first locks and the other does not."""
    pairs = []
    for low, high in zip(tried.tilts, tried.tilts[1:], strict=False):
        if tried.locks(low) != tried.locks(high):
            pairs.append((low, high) if tried.locks(low) else (high, low))
    return pairs


def _spans(tried: _Tried) -> list[TiltSpan]:
    tilts, spans = tried.tilts, []
    for start, tilt in enumerate(tilts):
        if not tried.locks(tilt) or (start and tried.locks(tilts[start - 1])):
            continue
        stop = start
        while stop + 1 < len(tilts) and tried.locks(tilts[stop + 1]):
            stop += 1
        spans.append(TiltSpan(_end(tried, tilts, start, -1), _end(tried, tilts, stop, 1)))
    return spans


def _end(tried: _Tried, tilts: list[float], at: int, way: int) -> TiltEnd:
    beyond = at + way
    if not 0 <= beyond < len(tilts):
        return TiltEnd(tilts[at], THE_CUT, 0.0)
    state, tolerance_rad = tried.at[tilts[beyond]][1], abs(tilts[beyond] - tilts[at])
    moves_rad = _press_moves_rad(tried, tilts[at], tilts[beyond]) if state == SPRINGS_BACK else 0.0
    return TiltEnd(tilts[at], state, tolerance_rad, moves_rad)


def _press_moves_rad(tried: _Tried, inside_rad: float, outside_rad: float) -> float:
    """How far an end moves with the press needed, where that comes to all there is between two tilts.

    A wedge's press goes as 1/(1 - tan(tilt)/mu): what is there over what it asks for falls about evenly
    with the tilt. How fast is read from the nearest tilts on both sides at which that differs by twice as
    much as it is known to, or from one of them.
    """
    enough = {tilt: 1 / asked for tilt, asked in tried.press_asked.items() if 0 < asked < math.inf}
    if not enough.get(inside_rad, 0.0) >= 1 > enough.get(outside_rad, 1.0):
        return 0.0
    apart = {tilt: share - enough[inside_rad] for tilt, share in enough.items()}
    sides = (
        [tilt for tilt, more in apart.items() if sign * more > 2 * NEEDED_WITHIN] for sign in (1.0, -1.0)
    )
    first, last = (min(s, key=lambda tilt: abs(tilt - inside_rad), default=inside_rad) for s in sides)
    fall = enough[first] - enough[last]
    return NEEDED_WITHIN * abs(last - first) / fall if fall > 0 else 0.0
