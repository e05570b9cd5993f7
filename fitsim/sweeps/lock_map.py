"""A map of one bowl over two of its quantities: where it locks, and what goes wrong beyond.

``across`` and ``up`` are any two quantities of the bowl file. Every other quantity stays as it is in the
bowl, ranges at their middle (or every number at its unfavourable end, when asked). Every place asked is
pressed as ``fit`` presses it; which places are asked is chosen by :mod:`fitsim.sweeps.asked_places`, and
the regions are those of :mod:`fitsim.sweeps.regions`. Their lines are carried between places pressed; where
the bowl's own state ends in its own row and column is pressed for as well, more finely. The picture is
drawn by :mod:`fitsim.drawing.map_drawing`.
"""

import csv
import io
import itertools
import math
from collections.abc import Callable, Generator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.inputs import Bowl, Limits
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    NOT_DECIDED,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    DecidingNumbers,
)
from fitsim.errors import InputError, Problem
from fitsim.geometry.board_outline import Outline
from fitsim.saw.learned import Learned
from fitsim.strip.release import KEPT_SHARE, WITHIN
from fitsim.sweeps.asked_places import Found, Lattice, Vertex, settled_lattice
from fitsim.sweeps.regions import Regions, regions_of
from fitsim.sweeps.row_answer import (
    NUMBER_COLUMNS,
    OUTSIDE_THE_MODEL,
    Cell,
    JudgeBowl,
    numbers_of,
    quickly,
    work_out_all,
)
from fitsim.sweeps.varied_quantities import KINDS, Varied, bowl_with_keys, refuse_learned, refuse_same

__all__ = [
    "MAP_STATES",
    "BowlMap",
    "Window",
    "bowl_map",
    "map_as_csv",
    "share_on",
    "state_of",
    "value_in_bowl",
    "value_on",
]

MAP_STATES = (OUTSIDE_THE_MODEL, NOT_DECIDED, *STATES)
"""What a place on a map can be, in order of precedence."""

STANDS = (LOCKS, SPLIT_RISK)
"""States in which the bowl keeps a rise worth a line on the map."""

FIRST_CELLS = 6
"""Cells along a side of the first lattice."""

MARGINS = (  # state that happens, and how near to its limit a number is in doubt whatever carries it
    (OUTSIDE_THE_MODEL, 0.0),
    (NOT_DECIDED, 0.0),
    (WILL_NOT_OPEN, 0.0),
    (FALLS_THROUGH, 0.01),
    (SPRINGS_BACK, WITHIN),  # press asked for
    (SPRINGS_BACK, 0.005),  # rise kept
    (SPRINGS_BACK, 0.02),  # friction used
    (SPLIT_RISK, 0.1),
)
"""Margins of a place in order; numbers of the strip are sharp to a percent or so, chances to a tenth."""

FINE = Fraction(1, 160)
"""Part of an axis to which the ends of the bowl's own state are closed in: of 24 steps a quarter of one or
less, of a tilt from 2 to 14 degrees less than a tenth of a degree. [-]"""

WHOLE_NUMBERS = ("board.sides",)
"""Quantities of which nothing lies between two steps of the map."""

LEAST_PLACES = 8
"""Fewer places with a rise carry no lines of equal rise."""

LEAST = 1e-300
"""Stands for a number exactly on its limit, which counts as this side of it."""


@dataclass(frozen=True, eq=False)
class BowlMap:
    """A map worked out.

    Attributes
    ----------
    bowl : Bowl
        The maker's bowl.
    across, up : Varied
        The two quantities.
    lattice : Lattice
        States and margins at every place, and which were pressed; states are indices into
        :data:`MAP_STATES`.
    regions : Regions
        Regions and boundaries.
    cells : dict[tuple[int, int], Cell]
        The answer at every place pressed, by its steps across and up.
    rise_mm : numpy.ndarray
        Rise after letting go at every lattice place where the bowl stands, first index up, shape
        (steps + 1, steps + 1); nan elsewhere. [mm]
    own : Cell
        The answer for the maker's bowl.
    windows : tuple[Window, ...]
        How far the maker's own state reaches along each axis, through the bowl's own place; none where the
        bowl lies off the map.
    beside : int
        How often a bowl was pressed for them, beside the places of the lattice.
    own_across, own_up : tuple[float, float, float] or None
        Low, middle and high of the maker's own value on each axis. [unit of the axis]
    at_worst : bool
        Whether every number was taken at its unfavourable end.
    used_at_rest : bool
        Whether friction used is that of the turn that asks most at rest, and not, as in ``fit``, what
        lowering friction finds: no state hangs on it then, and a place takes half as long.
    """

    bowl: Bowl
    across: Varied
    up: Varied
    lattice: Lattice
    regions: Regions
    cells: dict[tuple[int, int], Cell]
    rise_mm: Array
    own: Cell
    windows: "tuple[Window, ...]"
    beside: int
    own_across: tuple[float, float, float] | None
    own_up: tuple[float, float, float] | None
    at_worst: bool
    used_at_rest: bool = False


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
    low_within, high_within : float
        How far from it either end may lie; 0 where the axis ends first. [unit of the axis]
    """

    quantity: Varied
    low: float
    high: float
    below: str
    above: str
    low_within: float
    high_within: float


@dataclass(frozen=True, eq=False)
class _MapTask:
    """What every place of a map is asked with."""

    tables: Mapping[str, Any]
    bowl: Bowl
    axes: tuple[Varied, Varied]
    steps: int
    judge_one: JudgeBowl
    at_worst: bool
    learned: Learned | None
    executor: Executor | None
    one_more: Callable[[], None]


def _cells_of(task: _MapTask, texts: Sequence[Mapping[str, str]]) -> list[Cell]:
    """Answers to bowls with these texts in place of their own, each told as it is finished."""
    cells: list[Cell] = []
    for cell in work_out_all(
        task.tables,
        texts,
        judge_one=task.judge_one,
        ranges=task.at_worst,
        learned=task.learned,
        executor=task.executor,
    ):
        cells.append(cell)
        task.one_more()
    return cells


def _found_at(
    task: _MapTask, known: dict[Vertex, Cell], own: list[Cell], places: Sequence[Vertex]
) -> list[Found]:
    """States and margins at places of the lattice; their answers are put to those known."""
    texts = [_texts_at(task, place) for place in places]
    # The maker's own bowl is pressed with the first places, so that no processor waits for it.
    cells = _cells_of(task, texts if own else [*texts, {}])
    if not own:
        own.append(cells.pop())
    known.update(zip(places, cells, strict=True))
    if len(known) == len(places):  # the first of all
        _something_can_be_cut(task.tables, *task.axes, cells)
    return [
        _found(cell, _limits_at(task, text, cell), at_worst=task.at_worst)
        for text, cell in zip(texts, cells, strict=True)
    ]


def _texts_at(task: _MapTask, place: Vertex) -> dict[str, str]:
    """What the file would hold at a place of the lattice."""
    shares = zip(task.axes, place, strict=True)
    return {axis.key: axis.written(axis.at(Fraction(k, task.steps))) for axis, k in shares}


def _limits_at(task: _MapTask, texts: Mapping[str, str], cell: Cell) -> Limits:
    """Limits of a place; they hang on it only where a limit itself is an axis."""
    limited = any(axis.key.startswith("limits.") for axis in task.axes)
    return (
        bowl_with_keys(task.tables, texts).limits
        if limited and cell.judged is not None
        else task.bowl.limits
    )


def _states_beside(
    task: _MapTask,
    here: Sequence[Fraction],
    asked: list[dict[str, str]],
    places: Sequence[tuple[int, Fraction]],
) -> list[str]:
    """States in the own row and column of the bowl, finer than the lattice; what was asked is noted.

    Only the quantity of that axis is another than in the bowl; where ranges count the other axis has its
    one value, as everywhere on the map.
    """
    at = {axis.key: axis.written(axis.at(share)) for axis, share in zip(task.axes, here, strict=True)}
    kept = at if task.at_worst else {}
    texts = [
        {**kept, task.axes[k].key: task.axes[k].written(task.axes[k].at(share))} for k, share in places
    ]
    asked.extend(texts)
    return [state_of(cell, at_worst=task.at_worst) for cell in _cells_of(task, texts)]


def bowl_map(
    tables: Mapping[str, Any],
    *,
    across: Varied,
    up: Varied,
    points: int = 24,
    judge_one: JudgeBowl = quickly,
    at_worst: bool = False,
    every: bool = False,
    where: str = "",
    learned: Learned | None = None,
    executor: Executor | None = None,
    progress: Callable[[int], None] | None = None,
) -> BowlMap:
    """Work out the map of one bowl.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file.
    across, up : Varied
        Two different quantities, each over a range.
    points : int
        Cells along a side, at least.
    judge_one : callable
        Judges a bowl; a function of a module if processes are to use it.
    at_worst : bool
        True to take every number at its unfavourable end: a press for every corner of the ranges.
    every : bool
        True to press every place.
    where : str
        File name for the error messages.
    learned : Learned or None
        What tests have taught, laid on every bowl; tilts are then what the saw's scale is set to.
    executor : concurrent.futures.Executor or None
        Who works; None: this process. The map is the same to the last bit whoever does.
    progress : callable or None
        Told how many places are finished.

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
    bowl = bowl_with_keys(tables, {}, where=where, learned=learned)
    steps, first = _lattice(points)
    finished = itertools.count(1)
    task = _MapTask(
        tables=tables,
        bowl=bowl,
        axes=(across, up),
        steps=steps,
        judge_one=judge_one,
        at_worst=at_worst,
        learned=learned,
        executor=executor,
        one_more=(lambda: None) if progress is None else (lambda: progress(next(finished))),
    )
    known: dict[Vertex, Cell] = {}
    own: list[Cell] = []
    lowered = any(axis.key == "limits.friction_used" for axis in (across, up))
    lattice = settled_lattice(
        partial(_found_at, task, known, own),
        steps=steps,
        first=first,
        state_of=tuple(MAP_STATES.index(state) for state, _ in MARGINS),
        doubt=tuple(doubt for _, doubt in MARGINS),
        every=every,
    )
    regions = regions_of(lattice.state, _by_state(lattice.margin))
    own_across, own_up = value_in_bowl(bowl, across), value_in_bowl(bowl, up)
    own_state = state_of(own[0], at_worst=at_worst)
    here = _own_place(task.axes, (own_across, own_up))
    beside: list[dict[str, str]] = []
    ranged = at_worst and any(ends and ends[0] < ends[2] for ends in (own_across, own_up))
    states_at = partial(_states_beside, task, here, beside)
    reach = _reach_of_own_state(states_at, task.axes, regions, here, own_state, ranged=ranged, steps=steps)
    return BowlMap(
        bowl=bowl,
        across=across,
        up=up,
        lattice=lattice,
        regions=regions,
        cells=known,
        rise_mm=_rise_everywhere(lattice, known),
        own=own[0],
        windows=tuple(_window(axis, ends) for axis, ends in zip(task.axes, reach, strict=bool(reach))),
        beside=len(beside),
        own_across=own_across,
        own_up=own_up,
        at_worst=at_worst,
        used_at_rest=judge_one is quickly and (bowl.limits.friction_used >= 1 or lowered),
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
    refuse_same((across.key, up.key))


def _lattice(points: int) -> tuple[int, int]:
    """Cells of the lattice and of the first one, along a side: at least so many, halved down to one."""
    levels = max(0, round(math.log2(max(points, 1) / FIRST_CELLS)))
    first = max(2, math.ceil(points / 2**levels))
    return first * 2**levels, first


def state_of(cell: Cell, *, at_worst: bool) -> str:
    """State of a place as the map tells it.

    Parameters
    ----------
    cell : Cell
        The answer there.
    at_worst : bool
        Whether the unfavourable end of every range is told.

    Returns
    -------
    str
        One of :data:`MAP_STATES`.
    """
    return cell.worst.state if at_worst and cell.worst is not None else cell.state


def _found(cell: Cell, limits: Limits, *, at_worst: bool) -> Found:
    state = MAP_STATES.index(state_of(cell, at_worst=at_worst))
    if cell.judged is None:
        lost = (-math.inf,) if state == 0 else (1.0, -math.inf)
        return Found(state, (*lost, *(math.nan,) * (len(MARGINS) - len(lost))))
    numbers = cell.worst.worst if at_worst and cell.worst is not None else cell.judged.numbers
    margins = [1.0, 1.0, *_margins(numbers, limits)]
    # The state is that of the judgement, to the last bit: its margin has the last word's sign.
    ranks = [MAP_STATES.index(name) for name, _ in MARGINS]
    for k, rank in enumerate(ranks):
        if rank < state and not margins[k] > 0:
            margins[k] = LEAST
        if rank > state and state < MAP_STATES.index(SPRINGS_BACK):
            margins[k] = math.nan
    own = [k for k, rank in enumerate(ranks) if rank == state]
    if own and all(margins[k] > 0 for k in own):
        margins[own[0]] = -LEAST
    return Found(state, tuple(margins))


def _margins(found: DecidingNumbers, limits: Limits) -> tuple[float, ...]:
    """Positive where a state does not happen, and near straight in what is varied, to be carried well.

    Slot left, overlap, press asked, rise kept, friction used, chance of splitting.
    """

    def odds(chance: float) -> float:
        return math.log(max(chance, 1e-300) / max(1 - chance, 1e-16))

    def ratio(over: float, under: float) -> float:
        return math.log(over / under) or LEAST if over > 0 and under > 0 else -math.inf

    bears = ratio(1 - limits.overlap, 1 - found.overlap) if found.overlap > 0 else -math.inf
    enough = ratio(1.0, found.press_asked) if found.press_asked < math.inf else -math.inf
    if found.press_asked == 0:  # no press was followed
        enough = 1.0
    kept = ratio(found.kept, KEPT_SHARE)
    friction = math.inf if limits.friction_used >= 1 else 0.0
    if not found.friction_used <= limits.friction_used:
        friction = -math.inf
    elif not friction:
        friction = ratio(limits.friction_used, found.friction_used)
    friction = min(friction, 1.0)
    if enough <= 0:  # pressed less than asked for: what is left says nothing unless it holds all the same
        kept, friction = (value if value > 0 else math.nan for value in (kept, friction))
    return (
        found.slot_left_mm - limits.slot_left_mm,
        bears,
        enough,
        kept,
        friction,
        odds(limits.split_chance) - odds(found.split_chance),
    )


def _by_state(margin: Array) -> Array:
    """Least margin of every state but the last, shape (steps + 1, steps + 1, states - 1)."""
    ranks = np.array([MAP_STATES.index(name) for name, _ in MARGINS])
    known = np.where(np.isnan(margin), np.inf, margin)
    least = [known[:, :, ranks == rank].min(axis=2) for rank in range(len(MAP_STATES) - 1)]
    together = np.stack(least, axis=2)
    together[np.isposinf(together)] = np.nan
    return together


def _something_can_be_cut(
    tables: Mapping[str, Any], across: Varied, up: Varied, cells: Sequence[Cell]
) -> None:
    """Answer a slip in the bowl file in its own words, instead of drawing an empty map."""
    if all(cell.state == OUTSIDE_THE_MODEL for cell in cells):
        middle = {axis.key: axis.written(axis.at(Fraction(1, 2))) for axis in (across, up)}
        bowl_with_keys(tables, middle)  # raises what is wrong with it
        remedy = "choose other ranges"
        raise InputError(Problem("", "map", "", f"a place inside the model ({cells[0].reason})", remedy))


def _rise_everywhere(lattice: Lattice, cells: Mapping[Vertex, Cell]) -> Array:
    """Rise on the whole lattice, smoothly between the places pressed; only where the bowl stands."""
    from scipy.interpolate import RBFInterpolator  # slow to load, and needed by a map alone

    steps = len(lattice.state) - 1
    stand = np.isin(lattice.state, [MAP_STATES.index(state) for state in STANDS])
    rise = np.full(stand.shape, np.nan)
    known = {
        (i, j): cell.judged.rise_left_mm
        for (i, j), cell in cells.items()
        if stand[j, i] and cell.judged is not None and cell.judged.rise_left_mm > 0
    }
    places = np.array(list(known), dtype=np.float64).reshape(-1, 2) / steps
    if len(known) >= LEAST_PLACES and np.linalg.matrix_rank(_quadratic(places)) == 6:
        logs = np.log(list(known.values()))
        between = RBFInterpolator(places, logs, kernel="cubic", degree=2)
        j, i = np.nonzero(stand)
        rise[j, i] = np.exp(between(np.stack([i, j], axis=1) / steps))
    rise.setflags(write=False)
    return rise


def _quadratic(places: Array) -> Array:
    """Terms of a quadratic at each place: where they do not tell six terms apart nothing is carried."""
    u, v = places.T
    return np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=1)


def _of_edge(edge: Outline | None, value: Callable[[Outline], float | None]) -> tuple[float | None]:
    return (None if edge is None else value(edge),)


_PLACES: dict[str, Callable[[Bowl], Sequence[float | None]]] = {
    "board.thickness": lambda b: (b.board.thickness_mm,),
    "board.across": lambda b: (b.board.across_mm,),
    "board.length": lambda b: _of_edge(b.board.edge, lambda edge: edge.length_mm),
    "board.width": lambda b: _of_edge(b.board.edge, lambda edge: edge.width_mm),
    "board.corner": lambda b: _of_edge(b.board.edge, lambda edge: edge.corner_mm),
    "board.sides": lambda b: _of_edge(b.board.edge, lambda edge: edge.sides or None),
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
    "cut.base_corner": lambda b: (b.cut.base_corner_mm,),
    "cut.base_length": lambda b: _of_edge(b.cut.base_edge, lambda edge: edge.length_mm),
    "cut.base_width": lambda b: _of_edge(b.cut.base_edge, lambda edge: edge.width_mm),
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


_RANGED = {
    "cut.kerf": "cut.kerf_mm",
    "use.press": "use.press_N",
    "use.friction": "use.friction",
    "use.film": "use.film_mm",
}


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


@dataclass(frozen=True)
class _End:
    """One end of the bowl's own state along an axis, as shares of it.

    Attributes
    ----------
    inside, outside : fractions.Fraction
        The last place with the bowl's own state, and the first with another; the same where the axis ends
        first. [-]
    beyond : str
        That other state; "" where the axis ends first.
    """

    inside: Fraction
    outside: Fraction
    beyond: str


Reach = tuple[_End, _End]
"""Both ends along one axis, the lower first."""


def _own_place(
    axes: Sequence[Varied], values: Sequence[tuple[float, float, float] | None]
) -> tuple[Fraction, ...]:
    """The bowl's own place as shares of the axes; none where it has no single one, or lies off the map."""
    shares = [share_on(axis, at[1]) for axis, at in zip(axes, values, strict=True) if at is not None]
    on = len(shares) == len(axes) and all(0 <= share <= 1 for share in shares)
    return tuple(Fraction(share) for share in shares) if on else ()


def _reach_of_own_state(
    states_at: Callable[[Sequence[tuple[int, Fraction]]], list[str]],
    axes: tuple[Varied, Varied],
    regions: Regions,
    here: tuple[Fraction, ...],
    own_state: str,
    *,
    ranged: bool,
    steps: int,
) -> tuple[Reach, ...]:
    """How far the maker's own state reaches along each axis, closed in on; nothing off the map."""
    # A bowl that its own range makes another one than its middle has no limits of its state on the map.
    if here and ranged and states_at([(0, here[0])]) != [own_state]:
        here = ()
    reach = _reach_on_map(regions, here, own_state) if here else ()
    if here:
        reach = _closed_in(states_at, axes, reach, here, own_state, Fraction(1, steps))
    return reach


def _reach_on_map(regions: Regions, here: Sequence[Fraction], own_state: str) -> tuple[Reach, ...]:
    """How far the bowl's own state reaches along each axis by the map's lines, which are carried."""
    reach = []
    for axis in (0, 1):
        low, high = _End(Fraction(0), Fraction(0), ""), _End(Fraction(1), Fraction(1), "")
        for boundary in regions.boundaries:
            line = boundary.line_share
            side = line[:, 1 - axis] - float(here[1 - axis])
            for k in np.flatnonzero(np.signbit(side[1:]) != np.signbit(side[:-1])).tolist():
                share = side[k] / (side[k] - side[k + 1])
                place = Fraction(float(line[k, axis] + share * (line[k + 1, axis] - line[k, axis])))
                pair = [MAP_STATES[boundary.state], MAP_STATES[boundary.beyond]]
                other = next((state for state in pair if state != own_state), pair[0])
                if low.outside <= place <= here[axis]:
                    low = _End(place, place, other)
                elif here[axis] < place <= high.outside:
                    high = _End(place, place, other)
        reach.append((low, high))
    return tuple(reach)


Asking = Generator[Fraction, str, _End]
"""Asks one place after another for its state, and ends with the end of the bowl's own."""


def _closed_in(
    states_at: Callable[[Sequence[tuple[int, Fraction]]], list[str]],
    axes: Sequence[Varied],
    reach: Sequence[Reach],
    here: Sequence[Fraction],
    own_state: str,
    step: Fraction,
) -> tuple[Reach, ...]:
    """The same ends pressed for, all of them at once, so that every processor has work."""
    found, asking = {}, {}
    for (axis, ends), side in itertools.product(enumerate(reach), (0, 1)):
        end, last = ends[side], Fraction(side)
        if axes[axis].key not in WHOLE_NUMBERS:
            asking[axis, side] = _search(here[axis], end, last, own_state, step)
        elif end.beyond:  # anywhere between the steps beside the line
            end = _End(end.inside - step, end.outside + step, end.beyond)
        found[axis, side] = end
    told: dict[tuple[int, int], str | None] = dict.fromkeys(asking)
    while told:
        wanted: dict[tuple[int, int], Fraction] = {}
        for which, state in told.items():
            try:
                wanted[which] = next(asking[which]) if state is None else asking[which].send(state)
            except StopIteration as done:
                found[which] = done.value
        states = states_at([(axis, share) for (axis, _), share in wanted.items()]) if wanted else []
        told = dict(zip(wanted, states, strict=True))
    return tuple((found[axis, 0], found[axis, 1]) for axis in range(len(axes)))


def _search(here: Fraction, on_map: _End, last: Fraction, own_state: str, step: Fraction) -> Asking:
    """One end: beside the map's line first, from there by steps to where the state changes, then halved."""
    if here == last:
        return _End(last, last, "")
    out = 1 if last > here else -1
    at = on_map.inside - out * step / 2 if on_map.beyond else last
    inside, outside, beyond = here, None, ""
    while out * (at - here) > 0:  # back to the bowl, as long as another state is found
        state = yield at
        if state == own_state:
            inside = at
            break
        outside, beyond = at, state
        at -= out * step
    while outside is None:
        if inside == last:
            return _End(last, last, "")
        at = inside + out * step
        at = last if out * (at - last) > 0 else at
        state = yield at
        if state == own_state:
            inside = at
        else:
            outside, beyond = at, state
    while abs(outside - inside) > FINE:
        at = (inside + outside) / 2
        state = yield at
        if state == own_state:
            inside = at
        else:
            outside, beyond = at, state
    return _End(inside, outside, beyond)


def _window(axis: Varied, reach: Reach) -> Window:
    low, high = ((end.inside + end.outside) / 2 for end in reach)
    span = value_on(axis, 1.0) - value_on(axis, 0.0)
    within = [float(abs(end.outside - end.inside)) / 2 * span for end in reach]
    return Window(
        axis,
        value_on(axis, float(low)),
        value_on(axis, float(high)),
        reach[0].beyond,
        reach[1].beyond,
        *within,
    )


def map_as_csv(found: BowlMap) -> str:
    """The map as a table: every place, then every boundary corner by corner.

    Parameters
    ----------
    found : BowlMap
        The map.

    Returns
    -------
    str
        CSV with units in the heading; what has no answer is left empty. Kinds are "pressed" and "between"
        (a place that takes its state from those about it) and "boundary". Friction used is in a column of
        another name where it is another quantity than in a table.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    across, up = found.across.column, found.up.column
    at_rest = {"friction_used": "friction_used_at_rest"} if found.used_at_rest else {}
    columns = [at_rest.get(name, name) for name in NUMBER_COLUMNS]
    writer.writerow(("kind", "line", across, up, "state", "beyond", *columns, "reason"))
    steps = found.regions.steps
    nothing = (None,) * len(NUMBER_COLUMNS)
    for j in range(steps + 1):
        for i in range(steps + 1):
            place = tuple(
                float(axis.at(Fraction(k, steps))) for axis, k in ((found.across, i), (found.up, j))
            )
            state, cell = MAP_STATES[found.lattice.state[j, i]], found.cells.get((i, j))
            if cell is None:
                writer.writerow(("between", None, *place, state, None, *nothing, None))
            else:
                writer.writerow(("pressed", None, *place, state, None, *numbers_of(cell), cell.reason))
    for line, boundary in enumerate(found.regions.boundaries, start=1):
        names = (MAP_STATES[boundary.state], MAP_STATES[boundary.beyond])
        for u, v in boundary.line_share.tolist():
            place = (round(value_on(found.across, u), 9), round(value_on(found.up, v), 9))
            writer.writerow(("boundary", line, *place, *names, *nothing, None))
    return text.getvalue()
