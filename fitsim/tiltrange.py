"""The tilts at which a bowl locks: every island of them, with what limits each end.

At each tilt the bowl is judged at every corner of its ranges. It is *safe* where it locks at all of
them and *hopeful* where it locks at one. The distance to the nearest limit changes steadily with the
tilt, so the ends are its zeros: a scan finds sign changes, a search between the scan's points finds
islands and gaps narrower than its step, and Brent's method closes in on each end.

Where a springy model is at hand it is asked only near the closed form's ends, and only at the corners
where the closed form is worst for one of the states.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from fitsim.bowl import Bowl, with_input
from fitsim.chance import LARGE_MARGIN, lock_margin
from fitsim.errors import NoConvergenceError, OutsideModelError
from fitsim.ranges import MOST_RANGES, corners
from fitsim.verdict import DecidingNumbers, room

__all__ = [
    "CLOSED_FORM",
    "SPRINGY",
    "Numbers",
    "TiltEnd",
    "TiltRanges",
    "TiltSpan",
    "greatest_tilt_rad",
    "margin_over_ranges",
    "refined_span",
    "scan_tilts_rad",
    "tilt_ranges",
]

Numbers = Callable[[Bowl], DecidingNumbers]
Margin = tuple[float, str]

CLOSED_FORM, SPRINGY = "closed form", "elastic strip"
NO_ANSWER = "no answer"
"""Named as the limit where the springy model did not converge."""

THE_CUT = "the cut itself"
"""Named as the limit where the scan ends before any state does: the base would come to a point."""

END_TOLERANCE_RAD = math.radians(1e-7)
LEAST_TILT_RAD, MOST_TILT_RAD = math.radians(0.05), math.radians(45)
LEAST_FOOT_MM = 2.0
HALVINGS = 5
"""How often the place is halved at which one failing state gives way to another."""


@dataclass(frozen=True)
class TiltEnd:
    """One end of a span of tilts.

    Attributes
    ----------
    tilt_rad : float
        Where it lies. [rad]
    limit : str
        State just beyond it, or "the cut itself".
    model : str
        Which model decided it: "closed form" or "elastic strip".
    tolerance_rad : float
        How closely it was found. [rad]
    """

    tilt_rad: float
    limit: str
    model: str
    tolerance_rad: float


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


@dataclass(frozen=True)
class TiltRanges:
    """The tilts at which a bowl locks, widest span first; empty where there are none.

    Attributes
    ----------
    safe : tuple[TiltSpan, ...]
        It locks at the unfavourable ends of all ranges.
    hopeful : tuple[TiltSpan, ...]
        It locks at the favourable ends.
    """

    safe: tuple[TiltSpan, ...]
    hopeful: tuple[TiltSpan, ...]


def greatest_tilt_rad(bowl: Bowl) -> float:
    """Tilt beyond which nothing is looked for.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        The least of 45 degrees, the tilt at which the base's bevel comes to a point, and two degrees
        more than the greatest friction angle: no bevel holds beyond that. [rad]
    """
    corner = bowl.cut.base_corner_mm or bowl.cut.base_radius_mm
    foot = corner - max(bowl.cut.kerf_mm) / 2 - LEAST_FOOT_MM
    pointed = math.atan2(max(foot, 0.0), bowl.board.thickness_mm / 2)
    ends = [u.high for u in bowl.uncertain if u.path == "use.friction"]
    slipping = math.atan(max([bowl.use.friction, *ends])) + math.radians(2)
    return min(MOST_TILT_RAD, pointed, slipping)


def scan_tilts_rad(greatest_rad: float) -> tuple[float, ...]:
    """Tilts of the scan: even in proportion below 2 deg, by half a degree to 12, by one beyond.

    Parameters
    ----------
    greatest_rad : float
        Where it ends. [rad]

    Returns
    -------
    tuple[float, ...]
        Rising. [rad]
    """
    least, two = math.degrees(LEAST_TILT_RAD), 2.0
    degrees = [least * (two / least) ** (i / 10) for i in range(10)]
    degrees += [2 + i / 2 for i in range(20)] + [float(d) for d in range(12, 46)]
    inside = [math.radians(d) for d in degrees if math.radians(d) < greatest_rad]
    return (*inside, greatest_rad)


class _Judge:
    """Distances to the nearest limit over the corners of the ranges, each tilt worked out once."""

    def __init__(self, bowl: Bowl, numbers: Numbers) -> None:
        if len(bowl.uncertain) > MOST_RANGES:
            message = (
                f"{len(bowl.uncertain)} inputs are ranges; give single values for all but {MOST_RANGES}"
            )
            raise OutsideModelError(message)
        self.bowl, self.numbers = bowl, numbers
        self.known: dict[float, list[tuple[Bowl, DecidingNumbers | None]]] = {}

    def tried(self, tilt_rad: float) -> list[tuple[Bowl, DecidingNumbers | None]]:
        if tilt_rad not in self.known:
            tilted = with_input(self.bowl, "cut.tilt_rad", tilt_rad)
            every = [*corners(tilted), tilted] if self.bowl.uncertain else [tilted]
            self.known[tilt_rad] = [(bowl, _numbers_or_none(self.numbers, bowl)) for bowl in every]
        return self.known[tilt_rad]

    def margins(self, tilt_rad: float) -> list[Margin]:
        limits = self.bowl.limits
        return [
            (-LARGE_MARGIN, THE_CUT) if seen is None else lock_margin(seen, limits)
            for _, seen in self.tried(tilt_rad)
        ]

    def worst(self, tilt_rad: float) -> Margin:
        return min(self.margins(tilt_rad))

    def best(self, tilt_rad: float) -> Margin:
        return max(self.margins(tilt_rad))

    def worst_bowls(self, tilt_rad: float) -> list[Bowl]:
        """The corners at which each state is worst, the nearest to failing first."""
        found: dict[int, float] = {}
        tried = [(bowl, seen) for bowl, seen in self.tried(tilt_rad) if seen is not None]
        limits = self.bowl.limits
        badness = (
            lambda n: n.slot_left_mm,
            lambda n: n.overlap,
            lambda n: room(n, limits)[2],
            lambda n: -n.split_chance,
        )
        for bad in badness:
            at = min(range(len(tried)), key=lambda i, bad=bad: bad(tried[i][1]))  # type: ignore[misc]
            found[at] = lock_margin(tried[at][1], limits)[0]
        return [tried[at][0] for at in sorted(found, key=lambda at: found[at])]


def _numbers_or_none(numbers: Numbers, bowl: Bowl) -> DecidingNumbers | None:
    try:
        return numbers(bowl)
    except (OutsideModelError, NoConvergenceError):
        return None


def margin_over_ranges(bowl: Bowl, numbers: Numbers, *, tilt_rad: float) -> tuple[Margin, Margin]:
    """Distance to the nearest limit at the unfavourable and at the favourable ends of the ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.
    tilt_rad : float
        Tilt. [rad]

    Returns
    -------
    tuple[tuple[float, str], tuple[float, str]]
        Worst and best, each as :func:`fitsim.chance.lock_margin` gives it.
    """
    judge = _Judge(bowl, numbers)
    return judge.worst(tilt_rad), judge.best(tilt_rad)


def tilt_ranges(bowl: Bowl, numbers: Numbers) -> TiltRanges:
    """Find every span of tilts at which the bowl locks; one tilt for the whole cut.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.

    Returns
    -------
    TiltRanges
        Ends within 1e-7 deg of where this model's state changes.

    Raises
    ------
    OutsideModelError
        If too many inputs are ranges.
    """
    judge = _Judge(bowl, numbers)
    tilts = scan_tilts_rad(greatest_tilt_rad(bowl))
    return TiltRanges(safe=_spans(judge.worst, tilts), hopeful=_spans(judge.best, tilts))


def _spans(margin: Callable[[float], Margin], tilts: tuple[float, ...]) -> tuple[TiltSpan, ...]:
    places = _with_narrow_ones(margin, tilts)
    values = [margin(t)[0] for t in places]
    spans: list[TiltSpan] = []
    low: TiltEnd | None = None
    for i, (tilt, value) in enumerate(zip(places, values, strict=True)):
        if value > 0 and low is None:
            low = TiltEnd(tilt, THE_CUT, CLOSED_FORM, 0.0) if i == 0 else _end(margin, tilt, places[i - 1])
        if low is not None and value <= 0:
            spans.append(TiltSpan(low, _end(margin, places[i - 1], tilt)))
            low = None
    if low is not None:
        spans.append(TiltSpan(low, TiltEnd(places[-1], THE_CUT, CLOSED_FORM, 0.0)))
    return tuple(sorted(spans, key=lambda s: s.low.tilt_rad - s.high.tilt_rad))


def _with_narrow_ones(margin: Callable[[float], Margin], tilts: tuple[float, ...]) -> list[float]:
    """The scan's tilts, and those between them where a peak just locks or a dip just fails."""
    from scipy.optimize import minimize_scalar

    values = [margin(t)[0] for t in tilts]
    extra = []
    for i in range(1, len(tilts) - 1):
        before, here, after = values[i - 1 : i + 2]
        side = -1.0 if here < 0 else 1.0  # a peak below the limit, or a dip above it
        turns = side * here <= side * before and side * here <= side * after
        if not turns or abs(here) >= LARGE_MARGIN:
            continue
        found = minimize_scalar(
            lambda t, side=side: side * margin(float(t))[0],
            bounds=(tilts[i - 1], tilts[i + 1]),
            method="bounded",
            options={"xatol": 1e-5},
        )
        if found.fun < 0:
            extra.append(float(found.x))
    return sorted({*tilts, *extra})


def _end(margin: Callable[[float], Margin], inside: float, outside: float) -> TiltEnd:
    """The end between a tilt that locks and one that does not."""
    from scipy.optimize import brentq

    zero = float(brentq(lambda t: margin(float(t))[0], inside, outside, xtol=END_TOLERANCE_RAD / 2))
    beyond = zero + math.copysign(2 * END_TOLERANCE_RAD, outside - inside)
    return TiltEnd(zero, margin(beyond)[1], CLOSED_FORM, END_TOLERANCE_RAD)


def refined_span(
    bowl: Bowl,
    span: TiltSpan,
    cheap: Numbers,
    costly: Numbers,
    *,
    tolerance_rad: float,
    most_solves: int = 1000,
) -> tuple[TiltSpan | None, int, bool]:
    """Ends of a span by the costly model, looked for from the cheap model's ends.

    From each end the costly model is tried inward until it locks, or outward until it does not, and
    the end between is halved until it is known to ``tolerance_rad``. Only the corners of the ranges at
    which the cheap model is worst for one of the states are tried.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    span : TiltSpan
        By the cheap model.
    cheap, costly : callable
        Work out the deciding numbers of a bowl with every input at one value.
    tolerance_rad : float
        How closely to find the ends. [rad]
    most_solves : int
        How often the costly model may be worked out, half for each end. An end not found as closely
        by then is given where the bowl still locked, with the tolerance it is known to.

    Returns
    -------
    tuple[TiltSpan or None, int, bool]
        The span, None if the costly model locked nowhere on the tilts tried; how often the costly
        model was worked out; and whether that was often enough for both ends.
        Without convergence a bowl counts as not locking.
    """
    margin = _CostlyMargin(_Judge(bowl, cheap), costly)
    margin.most = most_solves // 2
    low, enough_low = _costly_end(margin, span.low, span.high.tilt_rad, bowl, tolerance_rad)
    margin.most = most_solves
    if low is None and not enough_low:  # nothing locked yet: the other half may go on looking
        low, enough_low = _costly_end(margin, span.low, span.high.tilt_rad, bowl, tolerance_rad)
    if low is None:
        return None, margin.asked, enough_low
    high, enough_high = _costly_end(margin, span.high, low.tilt_rad, bowl, tolerance_rad)
    found = None if high is None else TiltSpan(low, high)
    return found, margin.asked, enough_low and enough_high


class _NoSolvesLeftError(Exception):
    """The costly model may not be asked again."""


class _CostlyMargin:
    """The costly model's margin at the corners where the cheap one is worst, each tilt asked once."""

    def __init__(self, judge: _Judge, costly: Numbers) -> None:
        self.judge, self.costly = judge, costly
        self.known: dict[float, Margin] = {}
        self.asked, self.most = 0, 0

    def __call__(self, tilt_rad: float) -> Margin:
        if tilt_rad not in self.known:
            limits, worst = self.judge.bowl.limits, (LARGE_MARGIN, "")
            for corner in self.judge.worst_bowls(tilt_rad):
                if self.asked >= self.most:
                    raise _NoSolvesLeftError
                self.asked += 1
                seen = _numbers_or_none(self.costly, corner)
                worst = min(
                    worst, (-LARGE_MARGIN, NO_ANSWER) if seen is None else lock_margin(seen, limits)
                )
                if worst[0] <= 0:
                    break
            self.known[tilt_rad] = worst
        return self.known[tilt_rad]


def _costly_end(
    margin: _CostlyMargin, start: TiltEnd, other: float, bowl: Bowl, tolerance: float
) -> tuple[TiltEnd | None, bool]:
    """End near ``start`` of the span that reaches towards ``other``, and whether solves sufficed."""
    edges = (LEAST_TILT_RAD, greatest_tilt_rad(bowl))
    tried = _Bracket()
    try:
        _bracket(margin, tried, start.tilt_rad, other, edges)
        while tried.inside is not None and tried.outside is not None and tried.width > tolerance:
            tried.note((tried.inside + tried.outside) / 2, margin)
        enough = True
    except _NoSolvesLeftError:
        enough = False
    if tried.inside is None:
        return None, enough
    if tried.outside is None:
        # Either the edge of what is looked at, or solves ran out before a tilt that fails was met.
        limit, reach = (THE_CUT, 0.0) if enough else (start.limit, math.inf)
        return TiltEnd(tried.inside, limit, SPRINGY, reach), enough
    return TiltEnd(tried.inside, margin.known[tried.outside][1], SPRINGY, tried.width), enough


class _Bracket:
    """A tilt that locks and one beyond it that does not, closing in on an end."""

    def __init__(self) -> None:
        self.inside: float | None = None
        self.outside: float | None = None

    @property
    def width(self) -> float:
        return math.inf if self.inside is None or self.outside is None else abs(self.inside - self.outside)

    def note(self, tilt: float, margin: _CostlyMargin) -> bool:
        """Try a tilt; True if it locks."""
        locks = margin(tilt)[0] > 0
        if locks:
            self.inside = tilt
        else:
            self.outside = tilt
        return locks


def _note_window(margin: _CostlyMargin, tried: _Bracket, tilt: float) -> bool:
    """Try a tilt; where it fails in another state than the last, look between for one that locks."""
    before = tried.outside
    if tried.note(tilt, margin) or before is None:
        return tried.inside is not None
    near, far = before, tilt
    for _ in range(HALVINGS):
        if margin(far)[1] == margin(near)[1]:
            break
        middle = (near + far) / 2
        value, state = margin(middle)
        if value > 0:
            tried.inside, tried.outside = middle, near
            return True
        near, far = (middle, far) if state == margin(near)[1] else (near, middle)
    return False


def _bracket(
    margin: _CostlyMargin, tried: _Bracket, start: float, other: float, edges: tuple[float, float]
) -> None:
    """From ``start`` outward until it fails if it locks there, else inward until it locks."""
    if not tried.note(start, margin):
        for share in (0.15, 0.3, 0.5, 0.65, 0.8, 0.9, 1.0):
            if _note_window(margin, tried, start + share * (other - start)):
                return
        return
    tilt, step = start, math.copysign(math.radians(0.25), start - other)
    while (following := min(max(tilt + step, edges[0]), edges[1])) != tilt:
        tilt, step = following, 2 * step
        if not tried.note(tilt, margin):
            return
