"""What would open a range of tilts where there is none: the least change of each thing one can change.

Each change is made as large as it may be and the bowl pressed at a row of tilts; where some tilt then
locks, the least change that still opens one is closed in on by false position on the distance to the
nearest limit (the Illinois rule; M. Dowell and P. Jarratt, BIT 11 (1971), from memory). Every change
given is one with which a tilt was pressed that locks. Changes are ranked by their size relative to what
there is now; another wood by how much its density differs, since woods of like density are alike in most
else.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from fitsim.bowl.hand_press import ordinary_hand
from fitsim.bowl.inputs import Bowl, Uncertain, with_input
from fitsim.tilt.lock_chance import LARGE_MARGIN, JudgeBowls, lock_margin
from fitsim.tilt.tilt_range import scan_tilts_rad
from fitsim.wood.species import Wood, woods

__all__ = ["CHANGES", "WideningChange", "changes_that_open"]

CHANGE_TOLERANCE = 0.02
"""How closely the least change is found, over what there is now."""

TILTS, MOST_ROUNDS = 7, 10
"""Tilts at which a bowl changed as far as may be is pressed, and rounds of closing in on the change."""

BESIDE, LEAST_BESIDE, MOST_STEPS = 0.08, 0.02, 4
"""Share of a tilt at which tilts on both its sides are pressed, how fine that gets, and how often the best
tilt of one change is followed. [-]"""

WOODS_AT_ONCE, MOST_WOODS = 4, 24


@dataclass(frozen=True)
class WideningChange:
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
    base_mm : float
        Width of the base that goes with it, which is the key to write where the file has one; None where
        the base stays. [mm]
    """

    what: str
    key: str
    unit: str
    before: float | str
    after: float | str
    size: float
    base_mm: float | None = None


@dataclass(frozen=True)
class _Way:
    """One thing to change: its value now, the farthest it may go, and the bowl with it changed."""

    what: str
    key: str
    unit: str
    now: float
    farthest: float
    changed: Callable[[Bowl, float], Bowl]
    sign: int

    @property
    def goes_on(self) -> bool:
        """Whether there is any way to go."""
        return self.sign * (self.farthest - self.now) > 0


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


def _harder(bowl: Bowl, value: float) -> Bowl:
    share = value / bowl.use.press_N
    use = replace(bowl.use, press_N=value)
    return replace(bowl, use=use, uncertain=_scaled_range(bowl, "use.press_N", share))


def _narrower(bowl: Bowl, value: float) -> Bowl:
    return replace(bowl, cut=replace(bowl.cut, pitch_mm=value))


def _fewer(bowl: Bowl, value: float) -> Bowl:
    cut, base = bowl.cut, bowl.board.across_mm / 2 - value * bowl.cut.pitch_mm
    corner = cut.base_corner_mm
    if corner is not None and any(a.key == "cut.base_corner" for a in bowl.assumptions):
        corner *= base / cut.base_radius_mm  # left out of a file, it follows the base
    return replace(bowl, cut=replace(cut, base_radius_mm=base, base_corner_mm=corner))


def _ways(bowl: Bowl) -> tuple[_Way, ...]:
    thickness, kerf, pitch = bowl.board.thickness_mm, max(bowl.cut.kerf_mm), bowl.cut.pitch_mm
    turns = (bowl.board.across_mm / 2 - bowl.cut.base_radius_mm) / pitch
    friction = bowl.use.friction
    most_N = max(ordinary_hand().high_N, bowl.use.press_N)
    ways = [
        _Way("a thicker board", "board.thickness", "mm", thickness, 3 * thickness, _thicker, 1),
        _Way("a finer kerf", "cut.kerf", "mm", kerf, 0.25 * kerf, _finer, -1),
        _Way("a narrower pitch", "cut.pitch", "mm", pitch, max(0.4 * pitch, 1.5 * kerf), _narrower, -1),
        _Way("fewer turns, so a wider base", "cut.turns", "", turns, 1.7, _fewer, -1),
        _Way("a harder press", "use.press", "N", bowl.use.press_N, most_N, _harder, 1),
    ]
    if bowl.cut.pitch_shape:  # of a pitch that varies no one number would say what to change
        ways = [way for way in ways if way.key not in ("cut.pitch", "cut.turns")]
    if bowl.cut.base_edge is not None:  # its base has a size of its own, which turns do not move
        ways = [way for way in ways if way.key != "cut.turns"]
    if friction > 0:
        ways.append(_Way("more friction", "use.friction", "", friction, 3 * friction, _rougher, 1))
    return tuple(way for way in ways if way.goes_on)


CHANGES = (
    "a thicker board",
    "a finer kerf",
    "a narrower pitch",
    "fewer turns, so a wider base",
    "a harder press",
    "more friction",
    "another wood",
)
"""Everything that is tried."""


def changes_that_open(bowl: Bowl, judge: JudgeBowls, *, nearest_rad: float) -> tuple[WideningChange, ...]:
    """Least change of each kind that opens a range of tilts, the relatively smallest first.

    Parameters
    ----------
    bowl : Bowl
        A bowl that locks at no tilt; its own tilt is not used.
    judge : JudgeBowls
        Presses bowls with every input at one value.
    nearest_rad : float
        Tilt at which it comes nearest to locking. [rad]

    Returns
    -------
    tuple[WideningChange, ...]
        Changes found, each alone enough; what is missing opens nothing as far as it was tried.
    """
    (here,) = _margins([with_input(bowl, "cut.tilt_rad", nearest_rad)], bowl, judge)
    searches = [_Search(bowl, way, nearest_rad, here) for way in _ways(bowl)]
    _press(searches, judge, [s.tilts_at_first() for s in searches])
    _follow(searches, judge)
    searches = [s for s in searches if s.take()]
    for _ in range(MOST_ROUNDS):
        going = [s for s in searches if not s.found]
        if not going:
            break
        for search in going:
            search.try_less()
        _press(going, judge, [[s.guess_rad] for s in going])
        _follow(going, judge)
        for search in going:
            search.take()
    wood = _other_wood(bowl, judge, nearest_rad)
    found = [*(s.change for s in searches), *([] if wood is None else [wood])]
    return tuple(sorted(found, key=lambda c: c.size))


def _margins(tilted: list[Bowl], bowl: Bowl, judge: JudgeBowls) -> list[float]:
    numbers = judge(tilted)
    return [-LARGE_MARGIN if n is None else lock_margin(n, bowl.limits)[0] for n in numbers]


@dataclass(frozen=True)
class _Tried:
    """One size of a change: its share of the way, the best tilt found there, and the margin at it."""

    share: float
    tilt_rad: float
    margin: float


class _Search:
    """The least change of one kind: how far it has been brought, and the tilt that is best there.

    A change is told by its share of the way, in its logarithm: 0 is what there is, 1 the farthest.
    """

    def __init__(self, bowl: Bowl, way: _Way, nearest_rad: float, margin: float) -> None:
        self.bowl, self.way = bowl, way
        self.short, self.enough = (
            _Tried(0.0, nearest_rad, min(margin, -1e-3)),
            _Tried(1.0, nearest_rad, 0.0),
        )
        self.share, self.guess_rad = 1.0, nearest_rad
        self.beside, self.at = BESIDE, dict[float, float]()

    def value(self, share: float) -> float:
        """What is changed, at a share of the way."""
        return float(self.way.now * (self.way.farthest / self.way.now) ** share)

    @property
    def changed(self) -> Bowl:
        """The bowl as it is being tried."""
        return self.way.changed(self.bowl, self.value(self.share))

    @property
    def best_rad(self) -> float:
        """The best tilt at the share being tried."""
        return max(self.at, key=self.at.__getitem__)

    def tilts_at_first(self) -> list[float]:
        """A row of tilts over the whole scan of the changed bowl."""
        scan = scan_tilts_rad(self.changed)
        step = (scan[-1] / scan[0]) ** (1 / (TILTS - 1))
        return [scan[0] * step**i for i in range(TILTS)]

    def tilts_beside(self) -> list[float]:
        """Tilts on both sides of the best one; none where it opens, or is known closely enough."""
        best = self.best_rad
        if self.at[best] > 0:
            return []
        fresh = [best * (1 - self.beside), best * (1 + self.beside)]
        return fresh if self.beside >= LEAST_BESIDE else []

    def moved(self, before_rad: float) -> None:
        """Step wider if the best tilt moved, and finer if it stayed."""
        self.beside *= 1.6 if self.best_rad != before_rad else 0.4

    def try_less(self) -> None:
        """Try where a straight line between too little and enough meets the limit, held off both."""
        a, b = self.short, self.enough
        part = min(max(-a.margin / (b.margin - a.margin), 0.1), 0.9)
        self.share = a.share + part * (b.share - a.share)
        self.guess_rad = a.tilt_rad + part * (b.tilt_rad - a.tilt_rad)
        self.beside, self.at = BESIDE, {}

    def take(self) -> bool:
        """Take what was tried for one of the two ends and halve the other's weight; whether it opens."""
        tried = _Tried(self.share, self.best_rad, self.at[self.best_rad])
        if tried.margin > 0:
            self.short, self.enough = replace(self.short, margin=self.short.margin / 2), tried
        else:
            self.short, self.enough = tried, replace(self.enough, margin=self.enough.margin / 2)
        return tried.margin > 0

    @property
    def found(self) -> bool:
        """Whether enough and too little lie close together."""
        gap = abs(self.value(self.enough.share) - self.value(self.short.share))
        return gap <= CHANGE_TOLERANCE * self.way.now

    @property
    def change(self) -> WideningChange:
        """The least change known to be enough."""
        way, after = self.way, self.value(self.enough.share)
        wider = way.key == "cut.turns"
        base_mm = 2 * way.changed(self.bowl, after).cut.base_radius_mm if wider else None
        return WideningChange(
            way.what, way.key, way.unit, way.now, after, abs(after - way.now) / way.now, base_mm
        )


def _press(searches: list[_Search], judge: JudgeBowls, tilts_rad: list[list[float]]) -> None:
    """Press every search's bowl at its tilts, all in one call."""
    asked = [
        (search, tilt, with_input(changed, "cut.tilt_rad", tilt))
        for search, tilts in zip(searches, tilts_rad, strict=True)
        for changed in [search.changed]
        for tilt in tilts
    ]
    numbers = judge([bowl for _, _, bowl in asked])
    for (search, tilt, _), found in zip(asked, numbers, strict=True):
        search.at[tilt] = -LARGE_MARGIN if found is None else lock_margin(found, search.bowl.limits)[0]


def _follow(searches: list[_Search], judge: JudgeBowls) -> None:
    """Follow the best tilt of every search uphill until one locks or it is known closely enough."""
    for _ in range(MOST_STEPS):
        beside = [(s, s.best_rad, s.tilts_beside()) for s in searches]
        beside = [(s, best, tilts) for s, best, tilts in beside if tilts]
        if not beside:
            return
        _press([s for s, _, _ in beside], judge, [tilts for _, _, tilts in beside])
        for search, best, _ in beside:
            search.moved(best)


def _other_wood(bowl: Bowl, judge: JudgeBowls, nearest_rad: float) -> WideningChange | None:
    """The wood nearest in density that locks near the best tilt; friction stays as it is."""
    own = bowl.board.wood
    density = own.specific_gravity.value

    def away(wood: Wood) -> float:
        return abs(wood.specific_gravity.value - density) / density

    beside = (1 - BESIDE, 1.0, 1 + BESIDE)
    others = sorted((wood for wood in woods() if wood.name != own.name), key=away)[:MOST_WOODS]
    for start in range(0, len(others), WOODS_AT_ONCE):
        some = others[start : start + WOODS_AT_ONCE]
        tilted = [
            with_input(_of_wood(bowl, wood), "cut.tilt_rad", near * nearest_rad)
            for wood in some
            for near in beside
        ]
        margins = _margins(tilted, bowl, judge)
        for i, wood in enumerate(some):
            if max(margins[len(beside) * i : len(beside) * (i + 1)]) > 0:
                return WideningChange("another wood", "board.wood", "", own.name, wood.name, away(wood))
    return None


def _of_wood(bowl: Bowl, wood: Wood) -> Bowl:
    """The same bowl of another wood, with that wood's ranges."""
    ranges = []
    for u in bowl.uncertain:
        table, _, name = u.path.rpartition(".")
        if table == "board.wood":
            number = getattr(wood, name)
            if number.low != number.high:
                ranges.append(replace(u, low=number.low, high=number.high))
        else:
            ranges.append(u)
    return replace(bowl, board=replace(bowl.board, wood=wood), uncertain=tuple(ranges))
