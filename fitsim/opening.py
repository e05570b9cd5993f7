"""What would open a range of tilts where there is none: the least change of each thing one can change.

Each change is enlarged step by step until some tilt locks at every corner of the ranges, and the least
change is then found by halving. Changes are ranked by their size relative to what there is now; another
wood by how much its density differs, since woods of like density are alike in most else.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from fitsim.bowl import Bowl, Uncertain, with_input
from fitsim.chance import LARGE_MARGIN, lock_margin
from fitsim.errors import OutsideModelError
from fitsim.tiltrange import Numbers, greatest_tilt_rad, scan_tilts_rad
from fitsim.wood import woods

__all__ = ["CHANGES", "Change", "changes_that_open", "opens_somewhere"]

STEPS = 10
CHANGE_TOLERANCE = 0.005
FAR_BEYOND = 1.25
"""A drop or a slope this many times its limit is not looked at: film and swelling change far less."""

BETWEEN, ROUNDS = 5, 4
"""Tilts tried between neighbours of the best one, and how often: to a hundredth of the scan's step."""


@dataclass(frozen=True)
class Change:
    """One change that opens a range of tilts.

    Attributes
    ----------
    what : str
        In a maker's words: "a thicker board".
    key : str
        Key of the bowl file to change.
    unit : str
        Of the two values; "" for a ratio or a name.
    before, after : float or str
        What there is, and the nearest that would do. [unit]
    size : float
        Change over what there is now. [-]
    """

    what: str
    key: str
    unit: str
    before: float | str
    after: float | str
    size: float


@dataclass(frozen=True)
class _Way:
    """One thing to change: its value now, the farthest it may go, and the bowl with it changed."""

    what: str
    key: str
    unit: str
    now: float
    farthest: float
    changed: Callable[[Bowl, float], Bowl]


def opens_somewhere(bowl: Bowl, numbers: Numbers) -> bool:
    """Whether the bowl locks at some tilt, at every corner of its ranges.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.

    Returns
    -------
    bool
        True if a tilt of the scan, or the peak beside its best tilt, locks.
    """
    tilts = _hopeful_tilts_rad(bowl)
    order = list(range(2 ** len(bowl.uncertain)))
    best, at = -float("inf"), 0
    for i, tilt in enumerate(tilts):
        margin = _floor(bowl, numbers, tilt, order, below=best)
        if margin > 0:
            return True
        if margin > best:
            best, at = margin, i
    low, high = tilts[max(at - 1, 0)], tilts[min(at + 1, len(tilts) - 1)]
    return _peak_opens(bowl, numbers, order, low, high)


def _peak_opens(bowl: Bowl, numbers: Numbers, order: list[int], low: float, high: float) -> bool:
    """Whether the peak between two tilts reaches the limit; closed in on round after round."""
    for _ in range(ROUNDS):
        step = (high - low) / (BETWEEN + 1)
        best, at = -float("inf"), low
        for j in range(1, BETWEEN + 1):
            margin = _floor(bowl, numbers, low + j * step, order, below=best)
            if margin > 0:
                return True
            if margin > best:
                best, at = margin, low + j * step
        low, high = at - step, at + step
    return False


def _hopeful_tilts_rad(bowl: Bowl) -> tuple[float, ...]:
    """Tilts of the scan but those that fail in any model: far too deep a drop, far too steep a bevel."""
    tilts = scan_tilts_rad(greatest_tilt_rad(bowl))
    friction = min([bowl.use.friction, *(u.low for u in bowl.uncertain if u.path == "use.friction")])
    steepest = math.atan(FAR_BEYOND * friction * bowl.limits.friction_used)
    share = max(bowl.cut.kerf_mm) / (FAR_BEYOND * bowl.board.thickness_mm)
    flattest = math.asin(min(share, 1.0))
    kept = [i for i, tilt in enumerate(tilts) if flattest <= tilt <= steepest]
    if not kept:
        return (flattest, max(flattest, steepest))
    return tilts[max(kept[0] - 1, 0) : kept[-1] + 2]


def _floor(bowl: Bowl, numbers: Numbers, tilt_rad: float, order: list[int], *, below: float) -> float:
    """Worst margin over the corners; given up as soon as one lies below what is asked.

    The corner that was worst comes first at the next tilt: it is mostly the worst again.
    """
    tilted = with_input(bowl, "cut.tilt_rad", tilt_rad)
    worst = LARGE_MARGIN
    for place, corner in enumerate(order):
        try:
            margin = lock_margin(numbers(_at_corner(tilted, corner)), bowl.limits)[0]
        except OutsideModelError:
            margin = -LARGE_MARGIN
        worst = min(worst, margin)
        if worst <= below:
            order.insert(0, order.pop(place))
            break
    return worst


def _at_corner(bowl: Bowl, corner: int) -> Bowl:
    """One corner of the ranges, numbered by its high ends in binary."""
    for i, u in enumerate(bowl.uncertain):
        bowl = with_input(bowl, u.path, u.high if corner >> i & 1 else u.low)
    return bowl


def _thicker(bowl: Bowl, value: float) -> Bowl:
    return with_input(bowl, "board.thickness_mm", value)


def _scaled_range(bowl: Bowl, path: str, share: float) -> tuple[Uncertain, ...]:
    return tuple(
        replace(u, low=share * u.low, high=share * u.high) if u.path == path else u for u in bowl.uncertain
    )


def _finer(bowl: Bowl, value: float) -> Bowl:
    share = value / max(bowl.cut.kerf_mm)
    kerfs = tuple(share * k for k in bowl.cut.kerf_mm)
    uncertain = _scaled_range(bowl, "cut.kerf_mm", share)
    return replace(bowl, cut=replace(bowl.cut, kerf_mm=kerfs), uncertain=uncertain)


def _rougher(bowl: Bowl, value: float) -> Bowl:
    share = value / bowl.use.friction
    use = replace(bowl.use, friction=value)
    return replace(bowl, use=use, uncertain=_scaled_range(bowl, "use.friction", share))


def _narrower(bowl: Bowl, value: float) -> Bowl:
    return replace(bowl, cut=replace(bowl.cut, pitch_mm=value))


def _fewer(bowl: Bowl, value: float) -> Bowl:
    base = bowl.board.across_mm / 2 - value * bowl.cut.pitch_mm
    return replace(bowl, cut=replace(bowl.cut, base_radius_mm=base))


def _ways(bowl: Bowl) -> tuple[_Way, ...]:
    thickness, kerf, pitch = bowl.board.thickness_mm, max(bowl.cut.kerf_mm), bowl.cut.pitch_mm
    turns = (bowl.board.across_mm / 2 - bowl.cut.base_radius_mm) / pitch
    friction = bowl.use.friction
    ways = [
        _Way("a thicker board", "board.thickness", "mm", thickness, 3 * thickness, _thicker),
        _Way("a finer kerf", "cut.kerf", "mm", kerf, 0.25 * kerf, _finer),
    ]
    if not bowl.cut.pitch_shape:  # of a pitch that varies no one number would say what to change
        ways += [
            _Way("a narrower pitch", "cut.pitch", "mm", pitch, max(0.4 * pitch, 1.5 * kerf), _narrower),
            _Way("fewer turns, so a wider base", "cut.turns", "", turns, 1.7, _fewer),
        ]
    if friction > 0:
        ways.append(_Way("more friction", "use.friction", "", friction, 3 * friction, _rougher))
    return tuple(ways)


CHANGES = (
    "a thicker board",
    "a finer kerf",
    "a narrower pitch",
    "fewer turns, so a wider base",
    "more friction",
    "another wood",
)
"""Everything that is tried."""


def changes_that_open(bowl: Bowl, numbers: Numbers) -> tuple[Change, ...]:
    """Least change of each kind that opens a range of tilts, the relatively smallest first.

    Parameters
    ----------
    bowl : Bowl
        A bowl that locks at no tilt; its own tilt is not used.
    numbers : callable
        Works out the deciding numbers of a bowl with every input at one value.

    Returns
    -------
    tuple[Change, ...]
        Changes found, each alone enough; what is missing opens nothing as far as it was tried. Sizes
        are found to half a percent of what there is now.
    """
    found = [change for way in _ways(bowl) if (change := _least(bowl, numbers, way)) is not None]
    wood = _other_wood(bowl, numbers)
    return tuple(sorted([*found, *([] if wood is None else [wood])], key=lambda c: c.size))


def _least(bowl: Bowl, numbers: Numbers, way: _Way) -> Change | None:
    if (way.farthest - way.now) * (1 if way.farthest > way.now else -1) <= 0:
        return None
    ratio = way.farthest / way.now

    def opens(share: float) -> bool:
        return opens_somewhere(way.changed(bowl, way.now * ratio**share), numbers)

    enough = next((i / STEPS for i in range(1, STEPS + 1) if opens(i / STEPS)), None)
    if enough is None:
        return None
    short = enough - 1 / STEPS
    while way.now * abs(ratio**enough - ratio**short) > CHANGE_TOLERANCE * way.now:
        middle = (short + enough) / 2
        short, enough = (short, middle) if opens(middle) else (middle, enough)
    after = way.now * ratio**enough
    return Change(way.what, way.key, way.unit, way.now, after, abs(after - way.now) / way.now)


def _other_wood(bowl: Bowl, numbers: Numbers) -> Change | None:
    """The wood nearest in density that opens a range; friction stays as it is."""
    own = bowl.board.wood
    density = own.specific_gravity.value

    def away(other: float) -> float:
        return abs(other - density) / density

    others = [wood for wood in woods() if wood.name != own.name]
    for wood in sorted(others, key=lambda w: away(w.specific_gravity.value)):
        ranges = []
        for u in bowl.uncertain:
            table, _, name = u.path.rpartition(".")
            if table == "board.wood":
                number = getattr(wood, name)
                if number.low != number.high:
                    ranges.append(replace(u, low=number.low, high=number.high))
            else:
                ranges.append(u)
        tried = replace(bowl, board=replace(bowl.board, wood=wood), uncertain=tuple(ranges))
        if opens_somewhere(tried, numbers):
            size = away(wood.specific_gravity.value)
            return Change("another wood", "board.wood", "", own.name, wood.name, size)
    return None
