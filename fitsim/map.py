"""A map of one bowl over two of its quantities: where it locks, and what goes wrong beyond.

``across`` and ``up`` are any two quantities of the bowl file. Every other quantity stays as it is in the
bowl, ranges at their middle (or every number at its unfavourable end, when asked). Regions are those of
:mod:`fitsim.regions`; the picture is drawn by :mod:`fitsim.mapdrawing`.
"""

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl import Bowl, Limits
from fitsim.carried import carried
from fitsim.errors import InputError, Problem
from fitsim.learned import Learned
from fitsim.regions import Regions, Sample, find_regions
from fitsim.rigid import deciding_numbers
from fitsim.varied import (
    KINDS,
    NOT_SOLVED,
    OUTSIDE_THE_MODEL,
    Cell,
    Numbers,
    Varied,
    bowl_with,
    numbers_at_worst,
    refuse_learned,
    work_out,
)
from fitsim.verdict import STATES, DecidingNumbers, room

__all__ = [
    "MAP_STATES",
    "BowlMap",
    "Window",
    "bowl_map",
    "map_as_csv",
    "share_on",
    "value_in_bowl",
    "value_on",
    "windows",
]

MAP_STATES = (OUTSIDE_THE_MODEL, NOT_SOLVED, *STATES)
"""What a place on a map can be, in order of precedence."""

SHARPEN_CLOSED = 3
"""Solves on one crossing where a solve takes milliseconds; the springy bowl gets none."""


@dataclass(frozen=True, eq=False)
class BowlMap:
    """A map worked out.

    Attributes
    ----------
    bowl : Bowl
        The maker's bowl.
    across, up : Varied
        The two quantities.
    regions : Regions
        Regions and boundaries; states are indices into :data:`MAP_STATES`.
    cells : tuple[Cell, ...]
        The answer at every place worked out, as ``regions.place_share`` lists them.
    rise_rigid_mm : numpy.ndarray
        Rise with all seats bound, at every lattice place, first index up, shape (steps + 1, steps + 1);
        nan where it is not known. [mm]
    own : Cell
        The answer for the maker's bowl.
    own_across, own_up : tuple[float, float, float] or None
        Low, middle and high of the maker's own value on each axis. [unit of the axis]
    at_worst : bool
        Whether every number was taken at its unfavourable end.
    springy : bool
        Whether the numbers are those of the elastic strip.
    """

    bowl: Bowl
    across: Varied
    up: Varied
    regions: Regions
    cells: tuple[Cell, ...]
    rise_rigid_mm: Array
    own: Cell
    own_across: tuple[float, float, float] | None
    own_up: tuple[float, float, float] | None
    at_worst: bool
    springy: bool


@dataclass(frozen=True)
class Window:
    """How far the maker's own state reaches along one axis.

    Attributes
    ----------
    quantity : Varied
        The axis.
    low, high : float
        Ends of the state through the bowl's own place, or of the axis. [unit of the axis]
    below, above : str
        State beyond each end; "" where the axis ends first.
    """

    quantity: Varied
    low: float
    high: float
    below: str
    above: str


def bowl_map(
    tables: Mapping[str, Any],
    *,
    across: Varied,
    up: Varied,
    points: int = 100,
    numbers: Numbers = deciding_numbers,
    at_worst: bool = False,
    springy: bool = False,
    where: str = "",
    learned: Learned | None = None,
) -> BowlMap:
    """Work out the map of one bowl.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file.
    across, up : Varied
        Two different quantities, each over a range.
    points : int
        Fineness of the boundaries: finest cells along a side, at least.
    numbers : callable
        Works out the deciding numbers of a bowl.
    at_worst : bool
        True to take every number at its unfavourable end.
    springy : bool
        True if a solve takes seconds: the first lattice is coarser, and no solve is spent on sharpening.
    where : str
        File name for the error messages.
    learned : Learned or None
        What tests have taught, laid on every bowl; tilts are then what the saw's scale is set to.

    Returns
    -------
    BowlMap
        Regions, boundaries, rise, and the maker's own place.

    Raises
    ------
    InputError
        If the two are one quantity, one was measured or is no range, or no bowl of the map could be cut.
    """
    _two_ranges(across, up)
    refuse_learned([across.key, up.key], learned)
    used = numbers_at_worst(numbers) if at_worst else numbers
    known: dict[tuple[float, float], Cell] = {}

    def field(u: float, v: float) -> Sample:
        texts = {axis.key: axis.written(axis.at(Fraction(s))) for axis, s in ((across, u), (up, v))}
        cell = known[u, v] = work_out(tables, texts, numbers=used, learned=learned)
        # Limits hang on the place only where a limit itself is an axis.
        here = bowl_with(tables, texts) if limited and cell.numbers is not None else bowl
        return _sample(cell, here.limits)

    bowl = bowl_with(tables, {}, where=where, learned=learned)
    limited = any(axis.key.startswith("limits.") for axis in (across, up))
    coarse, levels = _lattice(points, springy=springy)
    regions = find_regions(field, coarse=coarse, levels=levels, sharpen=0 if springy else SHARPEN_CLOSED)
    cells = tuple(known[u, v] for u, v in regions.place_share.tolist())
    _something_can_be_cut(tables, across, up, cells)
    return BowlMap(
        bowl=bowl,
        across=across,
        up=up,
        regions=regions,
        cells=cells,
        rise_rigid_mm=_rise_everywhere(regions, cells, coarse),
        own=work_out(tables, {}, numbers=used, learned=learned),
        own_across=value_in_bowl(bowl, across),
        own_up=value_in_bowl(bowl, up),
        at_worst=at_worst,
        springy=springy,
    )


def _two_ranges(across: Varied, up: Varied) -> None:
    for option, axis in (("--across", across), ("--up", up)):
        if axis.ends is None or axis.count is not None:
            expected = "a range without a count"
            remedy = f"write it like {option} tilt=2..14; --points says how fine"
            raise InputError(Problem("", option, axis.key, expected, remedy))
    if across.key == up.key:
        remedy = "choose another quantity for one of the two"
        raise InputError(Problem("", "--up", up.key, f"another quantity than {across.key}", remedy))


def _lattice(points: int, *, springy: bool) -> tuple[int, int]:
    """Cells of the first lattice, and halvings, for at least so many finest cells along a side."""
    first = 6 if springy else 12
    levels = max(0, round(math.log2(max(points, 1) / first)))
    return max(2, math.ceil(points / 2**levels)), levels


def _sample(cell: Cell, limits: Limits) -> Sample:
    state = MAP_STATES.index(cell.state)
    if cell.numbers is None:
        solved = -1.0 if cell.state == NOT_SOLVED else math.nan
        return Sample(state, (-1.0 if math.isnan(solved) else 1.0, solved, *(math.nan,) * 4))
    return Sample(state, (1.0, 1.0, *_margins(cell.numbers, limits)))


def _margins(found: DecidingNumbers, limits: Limits) -> tuple[float, float, float, float]:
    """Positive where a state does not happen; near straight along a short line, so that zeros are found."""

    def odds(chance: float) -> float:
        return math.log(max(chance, 1e-300) / max(1 - chance, 1e-16))

    slot, overlap, springs, _ = room(found, limits)
    bears = overlap or 1e-300  # exactly on its limit it still bears
    return (slot, bears, springs, odds(limits.split_chance) - odds(found.split_chance))


def _something_can_be_cut(
    tables: Mapping[str, Any], across: Varied, up: Varied, cells: tuple[Cell, ...]
) -> None:
    """Answer a slip in the bowl file in its own words, instead of drawing an empty map."""
    if all(cell.state == OUTSIDE_THE_MODEL for cell in cells):
        middle = {axis.key: axis.written(axis.at(Fraction(1, 2))) for axis in (across, up)}
        bowl_with(tables, middle)  # raises what is wrong with it
        remedy = "choose other ranges"
        raise InputError(Problem("", "map", "", f"a place inside the model ({cells[0].reason})", remedy))


def _rise_everywhere(regions: Regions, cells: tuple[Cell, ...], coarse: int) -> Array:
    """Rise on the whole lattice, from the places worked out."""
    places = np.rint(regions.place_share * regions.steps).astype(np.int64).tolist()
    known = {
        (i, j): cell.rise_rigid_mm
        for (i, j), cell in zip(places, cells, strict=True)
        if cell.rise_rigid_mm is not None
    }
    return carried(regions, known, coarse=coarse)


_PLACES: dict[str, Callable[[Bowl], Sequence[float | None]]] = {
    "board.thickness": lambda b: (b.board.thickness_mm,),
    "board.across": lambda b: (b.board.across_mm,),
    "board.moisture": lambda b: (b.board.moisture_percent,),
    "board.grain": lambda b: (math.degrees(b.board.ring_angle_rad),),
    "cut.tilt": lambda b: [math.degrees(tilt) for tilt in b.cut.scale_tilt_rad],
    "cut.kerf": lambda b: b.cut.kerf_mm,
    "cut.pitch": lambda b: (b.cut.pitch_mm,),
    "cut.turns": lambda b: ((b.board.across_mm / 2 - b.cut.base_radius_mm) / b.cut.pitch_mm,),
    "cut.base": lambda b: (2 * b.cut.base_radius_mm,),
    "cut.blade": lambda b: (b.cut.blade_width_mm,),
    "cut.root": lambda b: (math.degrees(b.cut.root_rad),),
    "cut.feed": lambda b: (b.cut.feed_mm_per_min,),
    "use.press": lambda b: (b.use.press_N,),
    "use.friction": lambda b: (b.use.friction,),
    "use.film": lambda b: (b.use.film_mm,),
    "use.base_moisture": lambda b: (b.use.base_moisture_percent,),
    "use.turn_moisture": lambda b: b.use.turn_moisture_percent,
    "limits.slot_left": lambda b: (b.limits.slot_left_mm,),
    "limits.overlap": lambda b: (b.limits.overlap,),
    "limits.friction_used": lambda b: (b.limits.friction_used,),
    "limits.press_spare": lambda b: (b.limits.press_spare,),
    "limits.split_chance": lambda b: (b.limits.split_chance,),
}


def _places(bowl: Bowl, key: str) -> Sequence[float | None]:
    return _PLACES[key](bowl) if key in _PLACES else ()


_RANGED = {"cut.kerf": "cut.kerf_mm", "use.friction": "use.friction", "use.film": "use.film_mm"}


def value_in_bowl(bowl: Bowl, varied: Varied) -> tuple[float, float, float] | None:
    """Where a bowl itself lies on a varied quantity.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    varied : Varied
        The quantity.

    Returns
    -------
    tuple[float, float, float] or None
        Low end, middle and high end of its range, or of its turns; None where it has no number. [unit]
    """
    kind = KINDS[varied.key]
    values = [v for v in _places(bowl, varied.key) if v is not None]
    if not values or kind is None:
        return None
    size = float(kind.units[varied.unit])
    low, middle, high = min(values), sum(values) / len(values), max(values)
    for known in bowl.uncertain:
        if known.path == _RANGED.get(varied.key):
            low, high = known.low, known.high
    return low / size, middle / size, high / size


def share_on(axis: Varied, value: float) -> float:
    """Where a value lies on an axis, 0 at its low end and 1 at its high end.

    Parameters
    ----------
    axis : Varied
        A range.
    value : float
        In the axis's unit. [unit of the axis]

    Returns
    -------
    float
        Share; outside 0 to 1 beyond the ends. [-]
    """
    low, high = (float(end) for end in axis.ends or (0, 1))
    return (value - low) / (high - low)


def value_on(axis: Varied, share: float) -> float:
    """Value at a share of an axis.

    Parameters
    ----------
    axis : Varied
        A range.
    share : float
        0 at its low end, 1 at its high end. [-]

    Returns
    -------
    float
        Value. [unit of the axis]
    """
    low, high = (float(end) for end in axis.ends or (0, 1))
    return low + (high - low) * share


def windows(found: BowlMap) -> tuple[Window, ...]:
    """How far the maker's own state reaches along each axis, through the bowl's own place.

    Parameters
    ----------
    found : BowlMap
        The map.

    Returns
    -------
    tuple[Window, ...]
        One for each axis; none where the bowl lies off the map.
    """
    if found.own_across is None or found.own_up is None:
        return ()
    own = (share_on(found.across, found.own_across[1]), share_on(found.up, found.own_up[1]))
    if not all(0 <= share <= 1 for share in own):
        return ()
    return tuple(_window(found, axis, own) for axis in (0, 1))


def _window(found: BowlMap, axis: int, own: tuple[float, float]) -> Window:
    quantity, here = (found.across, found.up)[axis], own[axis]
    low, high, below, above = 0.0, 1.0, "", ""
    for boundary in found.regions.boundaries:
        line = boundary.line_share
        side = line[:, 1 - axis] - own[1 - axis]
        for k in np.flatnonzero(np.signbit(side[1:]) != np.signbit(side[:-1])).tolist():
            share = side[k] / (side[k] - side[k + 1])
            place = float(line[k, axis] + share * (line[k + 1, axis] - line[k, axis]))
            pair = [MAP_STATES[boundary.state], MAP_STATES[boundary.beyond]]
            other = next((state for state in pair if state != found.own.state), pair[0])
            if low <= place <= here:
                low, below = place, other
            elif here < place <= high:
                high, above = place, other
    return Window(quantity, value_on(quantity, low), value_on(quantity, high), below, above)


def map_as_csv(found: BowlMap) -> str:
    """The map as a table: every place worked out, then every boundary corner by corner.

    Parameters
    ----------
    found : BowlMap
        The map.

    Returns
    -------
    str
        CSV with units in the heading; what has no answer is left empty.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    across, up = found.across.column, found.up.column
    numbers = ("slot_left_mm", "overlap", "friction_used", "split_chance")
    writer.writerow(("kind", "line", across, up, "state", "beyond", *numbers, "rise_rigid_mm", "reason"))
    for (u, v), cell in zip(found.regions.place_share.tolist(), found.cells, strict=True):
        place = (float(found.across.at(Fraction(u))), float(found.up.at(Fraction(v))))
        four = [None if cell.numbers is None else getattr(cell.numbers, name) for name in numbers]
        binds = cell.numbers is not None and cell.numbers.overlap > 0 and cell.numbers.slot_left_mm > 0
        rise = cell.rise_rigid_mm if binds else None
        writer.writerow(("place", None, *place, cell.state, None, *four, rise, cell.reason))
    for line, boundary in enumerate(found.regions.boundaries, start=1):
        names = (MAP_STATES[boundary.state], MAP_STATES[boundary.beyond])
        for u, v in boundary.line_share.tolist():
            place = (round(value_on(found.across, u), 9), round(value_on(found.up, v), 9))
            writer.writerow(("boundary", line, *place, *names, *([None] * 6)))
    return text.getvalue()
