"""What ``fitsim sweep`` and ``fitsim map`` do with what was typed, and what they say at the end."""

import math
import re
import sys
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from fitsim.bowlfile.defaults import demo_tables
from fitsim.commands.command_group import STOPPED_STATUS
from fitsim.drawing.map_drawing import map_figure
from fitsim.drawing.picture_files import write_picture
from fitsim.errors import InputError, Problem
from fitsim.files import PICTURE_ENDINGS, check_target, file_name, refuse_shared_names, write_whole
from fitsim.processes import worker_count, worker_pool
from fitsim.progress import CountLine, ProgressLine
from fitsim.quantities import show_number
from fitsim.saw.learned import Learned
from fitsim.sweeps.lock_map import BowlMap, Window, bowl_map, map_as_csv, state_of
from fitsim.sweeps.row_store import Store, header_of, join_stores, open_store, rows_as_csv
from fitsim.sweeps.run_rows import Question, Swept, ask, run_sweep
from fitsim.sweeps.varied_quantities import read_axis, read_varied
from fitsim.toml_files import tables_of_file

__all__ = ["MapRequest", "SweepRequest", "join", "map_in_words", "map_over", "sweep"]

POINTS = 24


@dataclass(frozen=True)
class SweepRequest:
    """What was typed after ``fitsim sweep``.

    Attributes
    ----------
    learned : Learned or None
        What tests in the workshop have taught.
    store : Path or None
        File that keeps the rows.
    table : Path or None
        File for the table.
    samples : int or None
        How many samples over the ranges; None: a grid.
    seed : int
        Of the samples.
    ranges : bool
        Whether the unfavourable ends are judged.
    processes : int or None
        How many work at it; None: as many as processors.
    part : str
        Which part, "2/5".
    replace : bool
        Whether files may be overwritten.
    """

    learned: Learned | None
    store: Path | None
    table: Path | None
    samples: int | None
    seed: int
    ranges: bool
    processes: int | None
    part: str
    replace: bool


@dataclass(frozen=True)
class MapRequest:
    """What was typed after ``fitsim map``.

    Attributes
    ----------
    learned : Learned or None
        What tests in the workshop have taught.
    across : str
        Quantity across, with its range.
    up : str
        Quantity up, with its range.
    pictures : tuple[Path, ...]
        Files to draw into.
    table : Path or None
        File for the table.
    points : int or None
        Fineness; None: the usual.
    ranges : bool
        Whether the unfavourable ends are judged.
    every : bool
        Whether every place is worked out.
    processes : int or None
        How many work at it; None: as many as processors.
    units : str or None
        "in" or "mm"; None: as in the file.
    replace : bool
        Whether files may be overwritten.
    """

    learned: Learned | None
    across: str
    up: str
    pictures: tuple[Path, ...]
    table: Path | None
    points: int | None
    ranges: bool
    every: bool
    processes: int | None
    units: str | None
    replace: bool


@contextmanager
def _workers(processes: int | None, kept: str) -> Iterator[Executor | None]:
    """Processes that work, or None for this one alone; a stop from the keyboard ends in one line."""
    count = processes or worker_count()
    pool = worker_pool(count) if count > 1 else None
    try:
        yield pool
    except KeyboardInterrupt:
        print(f"\nstopped: {kept}", file=sys.stderr)
        raise SystemExit(STOPPED_STATUS) from None
    finally:
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)


def _part(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,6})\s*/\s*(\d{1,6})\s*", text)
    if not found or not 1 <= int(found[1]) <= int(found[2]):
        expected = "part K of N, K from 1 to N"
        raise InputError(Problem("", "--part", repr(text), expected, "write it like 3/8"))
    return int(found[1]), int(found[2])


def _question(words: tuple[str, ...], asked: SweepRequest) -> Question:
    files = [word for word in words if "=" not in word]
    if len(files) > 1 or words[0] not in [*files[:1], *words[: not files]]:
        expected = "one bowl file before the quantities"
        raise InputError(
            Problem("", "sweep", " ".join(files), expected, "write quantities like tilt=2..14")
        )
    varied = [read_varied(word) for word in words if "=" in word]
    if not varied:
        expected = "a quantity to vary"
        raise InputError(Problem("", "sweep", "", expected, "add one like tilt=2..14:25"))
    return ask(
        tables_of_file(files[0]) if files else demo_tables(),
        varied,
        samples=asked.samples or 0,
        seed=asked.seed,
        ranges=asked.ranges,
        learned=asked.learned,
        where=file_name(files[0]) if files else "demonstration bowl",
    )


def sweep(words: tuple[str, ...], *, asked: SweepRequest) -> str:
    """Run a sweep as it was typed.

    Parameters
    ----------
    words : tuple[str, ...]
        The bowl file and the quantities.
    asked : SweepRequest
        What was typed.

    Returns
    -------
    str
        What to say at the end.

    Raises
    ------
    InputError
        One line for every problem.
    """
    question = _question(words, asked)
    part, table, store = _part(asked.part), asked.table, asked.store
    if table is not None:
        check_target(table, replace=asked.replace, endings=(".csv",))
    refuse_shared_names([path for path in (store, table) if path is not None])
    if store is None and table is None:
        expected = "a place for the rows"
        remedy = "add --csv table.csv, or --store rows.sqlite to go on after a stop"
        raise InputError(Problem("", "sweep", "", expected, remedy))

    def finish(rows: Store) -> None:
        if table is not None:
            rows_as_csv(rows, table, replace=asked.replace)

    kept = (
        f"rows so far are kept in {file_name(store)}; the same command goes on"
        if store
        else "no rows are kept"
    )
    with _workers(asked.processes, kept) as pool:
        swept = run_sweep(
            question, store, executor=pool, part=part, finish=finish, progress=ProgressLine("rows")
        )
    places = [file_name(path) for path in (store, table) if path is not None]
    at_ends = "; state_at_worst: over the ends of all of them" if asked.ranges else ""
    return _told(swept, places, f" (every other range at its middle{at_ends})")


def _told(swept: Swept, places: list[str], how: str = "") -> str:
    widest = max((len(state) for state, _ in swept.states), default=0)
    lines = [f"{swept.rows} of {swept.wanted} rows in {' and '.join(places)}{how}"]
    lines += [
        f"  {state:<{widest}}  {count:>8}  {count / swept.rows:6.1%}" for state, count in swept.states
    ]
    return "\n".join(lines)


def join(words: tuple[str, ...], *, asked: SweepRequest) -> str:
    """Put the stores of the parts of a sweep together.

    Parameters
    ----------
    words : tuple[str, ...]
        The stores.
    asked : SweepRequest
        What was typed.

    Returns
    -------
    str
        What to say at the end.

    Raises
    ------
    InputError
        If no target is named, or the stores do not belong together.
    """
    store, table = asked.store, asked.table
    if store is None:
        remedy = "add --store whole.sqlite"
        raise InputError(Problem("", "--store", "", "a store to join the parts into", remedy))
    if table is not None:
        check_target(table, replace=asked.replace, endings=(".csv",))
        refuse_shared_names([store, table], words)
    have, wanted, columns = join_stores(words, store)
    if table is not None:
        with open_store(store, header_of(store), columns) as whole:
            rows_as_csv(whole, table, replace=asked.replace)
    place = file_name(store)
    missing = (
        "" if have == wanted else f"; {wanted - have} are missing, sweep into {place} to work them out"
    )
    return f"{have} of {wanted} rows in {place}{missing}"


def map_over(file: Path | None, *, asked: MapRequest) -> str:
    """Work out a map as it was typed, and draw it.

    Parameters
    ----------
    file : pathlib.Path or None
        The bowl file; None: the demonstration bowl.
    asked : MapRequest
        What was typed.

    Returns
    -------
    str
        What to say at the end: how far the bowl's own state reaches along both axes.

    Raises
    ------
    InputError
        One line for every problem.
    """
    across, up = read_axis(asked.across), read_axis(asked.up)
    pictures, table, replace = asked.pictures, asked.table, asked.replace
    for picture in pictures:
        check_target(picture, replace=replace, endings=PICTURE_ENDINGS)
    if table is not None:
        check_target(table, replace=replace, endings=(".csv",))
    line = CountLine("places pressed", one="place pressed")
    with _workers(asked.processes, "no map is kept") as pool:
        found = bowl_map(
            demo_tables() if file is None else tables_of_file(file),
            across=across,
            up=up,
            points=asked.points or POINTS,
            at_worst=asked.ranges,
            every=asked.every,
            where="" if file is None else str(file),
            learned=asked.learned,
            executor=pool,
            progress=line,
        )
    line.end()
    if table is not None:
        write_whole(table, map_as_csv(found).encode("utf8"), replace=replace)
    if pictures:
        figure = map_figure(found, units=asked.units or found.bowl.units)
        for picture in pictures:
            write_picture(figure, picture, replace=replace)
    return map_in_words(found)


def map_in_words(found: BowlMap) -> str:
    """Say how far the bowl's own state reaches along both axes.

    Parameters
    ----------
    found : BowlMap
        The map.

    Returns
    -------
    str
        Some lines.
    """
    where = "unfavourable end" if found.at_worst else "middle"
    state = state_of(found.own, at_worst=found.at_worst)
    lines = [f"{found.bowl.name}: {state} (every range at its {where})"]
    lines += [_window_in_words(window) for window in found.windows]
    if found.own_across is None or found.own_up is None:
        lines.append("  the bowl itself has no single place on this map")
    elif not found.windows:
        lines.append("  the bowl itself lies off this map")
    lines.append(f"  ({_pressed_in_words(found)})")
    return "\n".join(lines)


def _pressed_in_words(found: BowlMap) -> str:
    places = found.lattice.asked.size
    more = f"; {found.beside} more for the ends of its own verdict" if found.beside else ""
    if len(found.cells) == places:
        return f"all {places} places pressed{more}"
    return (
        f"{len(found.cells)} of {places} places pressed, {len(found.cells) / places:.0%}; the others lie "
        f"between places that tell their verdict, clear of every limit{more}"
    )


def _window_in_words(window: Window) -> str:
    """Ends that were pressed for to the decimal in which they are in doubt, and by how much they are."""
    axis = window.quantity
    doubts = [
        within
        for within, state in ((window.low_within, window.below), (window.high_within, window.above))
        if state
    ]
    decimals = max(0, -math.floor(math.log10(max(doubts)))) if doubts else 0
    # What rounding adds is told as well.
    within = math.ceil(max(doubts, default=0.0) * 10**decimals + 0.5) / 10**decimals

    def with_unit(number: str) -> str:
        return f"{number} {axis.unit}".strip()

    def at(value: float) -> str:
        return with_unit(f"{value:.{decimals}f}")

    def to(value: float) -> str:
        return with_unit(show_number(value))

    low = f"{window.below} below {at(window.low)}" if window.below else ""
    high = f"{window.above} above {at(window.high)}" if window.above else ""
    low = low or f"no other verdict down to {to(window.low)}"
    high = high or f"no other verdict up to {to(window.high)}"
    doubt = f" (to within {with_unit(f'{within:.{decimals}f}')})" if doubts else ""
    return f"  {axis.name}: {low}; {high}{doubt}"
