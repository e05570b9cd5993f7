"""Many bowls at once: a grid or seeded samples of any quantities of the bowl file, into one store.

A row's number decides its quantities and nothing else does, so rows may be worked out in any order, by
any number of workers, in one run or many, on one machine or several parts on a cluster: the table sorted
by row is the same. Work goes through :class:`concurrent.futures.Executor`, whoever provides one.
"""

import hashlib
import json
import math
import os
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    wait,
)
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from fitsim.arrays import IntArray
from fitsim.errors import FitsimError, InputError, Problem
from fitsim.geometry.outline_file import curve_digest, free_outline, names_drawing
from fitsim.saw.learned import Learned
from fitsim.sweeps.row_answer import NUMBER_COLUMNS, Cell, JudgeBowl, as_fit, numbers_of, work_out
from fitsim.sweeps.row_store import SCHEMA, Store, open_store
from fitsim.sweeps.varied_quantities import Value, Varied, bowl_with_keys, refuse_learned, refuse_same
from fitsim.version import VERSION

__all__ = [
    "GRID_COUNT",
    "Question",
    "Swept",
    "ask",
    "header_for",
    "run_sweep",
    "setting",
    "sweep_columns",
]

GRID_COUNT = 11
"""Values on a range for which no count was asked."""

MOST_ROWS = 10_000_000
DRAW_BITS = 30
ROWS_PER_TASK = 1
"""A row takes seconds: more in a task would leave processors idle at the end, and lose more at a stop."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class Question:
    """What a sweep asks; make one with :func:`ask`.

    Attributes
    ----------
    tables : Mapping
        Tables of the bowl file.
    quantities : tuple[Varied, ...]
        What is varied; in a grid the last one changes fastest.
    rows : int
        How many bowls.
    seed : int
        Of the samples; 0 for a grid.
    drawn : numpy.ndarray or None
        Samples in units of 2^-30 of each range, shape (rows, quantities); None for a grid. [-]
    ranges : bool
        Whether the unfavourable end of every range is judged as well.
    judge_one : callable
        Judges a bowl.
    learned : Learned or None
        What tests have taught, laid on every bowl.
    """

    tables: Mapping[str, Any]
    quantities: tuple[Varied, ...]
    rows: int
    seed: int
    drawn: IntArray | None
    ranges: bool
    judge_one: JudgeBowl
    learned: Learned | None = None


@dataclass(frozen=True)
class Swept:
    """How far a sweep has come.

    Attributes
    ----------
    rows : int
        Rows in the store.
    wanted : int
        Rows this part of the sweep has.
    states : tuple[tuple[str, int], ...]
        How many rows ended in each state, the most frequent first.
    """

    rows: int
    wanted: int
    states: tuple[tuple[str, int], ...]


def ask(
    tables: Mapping[str, Any],
    quantities: Sequence[Varied],
    *,
    samples: int = 0,
    seed: int = 0,
    ranges: bool = False,
    judge_one: JudgeBowl = as_fit,
    learned: Learned | None = None,
    where: str = "",
) -> Question:
    """Put a question to many bowls.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file.
    quantities : Sequence[Varied]
        What is varied.
    samples : int
        Samples over the ranges; 0 for a grid.
    seed : int
        Of the samples: the same seed gives the same bowls.
    ranges : bool
        True to judge the unfavourable end of every range as well.
    judge_one : callable
        Judges a bowl; a function of a module if processes are to use it.
    learned : Learned or None
        What tests have taught, laid on every bowl.
    where : str
        Name of the bowl file, for the error messages.

    Returns
    -------
    Question
        Ready for :func:`run_sweep`.

    Raises
    ------
    InputError
        If a quantity comes twice or was measured, there are too many rows, or no bowl could be cut.
    """
    keys = [quantity.key for quantity in quantities]
    refuse_learned(keys, learned)
    refuse_same(keys)
    for key in keys:
        if keys.count(key) > 1:
            raise InputError(Problem("", key, "", "every quantity once", "leave one of the two out"))
    for quantity in quantities:
        if samples and quantity.count is not None:
            remedy = "leave the count out, or the samples"
            raise InputError(Problem("", quantity.key, f":{quantity.count}", "a plain range", remedy))
    rows = samples or math.prod(quantity.size(GRID_COUNT) for quantity in quantities)
    if not keys or not 0 < rows <= MOST_ROWS:
        expected = f"1 to {MOST_ROWS} rows"
        raise InputError(Problem("", "rows", str(rows if keys else 0), expected, "ask for fewer values"))
    drawn = _drawn(samples, len(keys), seed) if samples else None
    seed = seed if samples else 0
    asked = Question(tables, tuple(quantities), rows, seed, drawn, ranges, judge_one, learned)
    _some_bowl_can_be_cut(asked, where)
    return asked


def _drawn(samples: int, quantities: int, seed: int) -> IntArray:
    """Sobol points with a seeded digital shift, as whole numbers of 2^-30, shape (samples, quantities).

    The shift is ours, so that the points hang on the seed alone and on no library's random stream but
    Python's own; it keeps the evenness of the points (A. B. Owen, *Monte Carlo theory, methods and
    examples*, chapter 17, from memory).
    """
    from scipy.stats import qmc

    points = qmc.Sobol(d=quantities, scramble=False, bits=DRAW_BITS)
    plain = points.random_base2(math.ceil(math.log2(samples)))[:samples]
    dice = random.Random(seed)
    shift = np.array([dice.getrandbits(DRAW_BITS) for _ in range(quantities)], dtype=np.int64)
    drawn: IntArray = np.bitwise_xor((plain * 2**DRAW_BITS).astype(np.int64), shift)
    drawn.setflags(write=False)
    return drawn


def setting(question: Question, row: int) -> tuple[Value, ...]:
    """Value of every varied quantity in one row.

    Parameters
    ----------
    question : Question
        What is asked.
    row : int
        From 0.

    Returns
    -------
    tuple
        Values in the quantities' own units, or words.
    """
    if question.drawn is not None:
        # The middle of its small box, so that no sample lies on an end.
        return tuple(
            quantity.at(Fraction(2 * int(share) + 1, 2 ** (DRAW_BITS + 1)))
            for quantity, share in zip(question.quantities, question.drawn[row], strict=True)
        )
    values: list[Value] = []
    for quantity in reversed(question.quantities):
        row, place = divmod(row, quantity.size(GRID_COUNT))
        values.append(quantity.nth(place, GRID_COUNT))
    return tuple(reversed(values))


def _texts(question: Question, row: int) -> dict[str, str]:
    values = zip(question.quantities, setting(question, row), strict=True)
    return {quantity.key: quantity.written(value) for quantity, value in values}


def _some_bowl_can_be_cut(question: Question, where: str) -> None:
    """Answer a slip in the bowl file now, not in every row; what is varied stands in no file."""
    tried = sorted({round(i * (question.rows - 1) / 24) for i in range(25)})
    problem: InputError | None = None
    for row in tried:
        try:
            bowl_with_keys(question.tables, _texts(question, row), where=where, learned=question.learned)
        except InputError as error:
            problem = problem or error
        else:
            return
    if problem is not None:
        varied = {quantity.key for quantity in question.quantities}
        raise InputError(
            tuple(replace(p, where="" if p.key in varied else p.where) for p in problem.problems)
        )


def header_for(question: Question, part: tuple[int, int] = (1, 1)) -> dict[str, str]:
    """What pins a question in its store.

    Parameters
    ----------
    question : Question
        What is asked.
    part : tuple[int, int]
        k of n.

    Returns
    -------
    dict[str, str]
        One entry for everything that could change a row.
    """
    header = {
        "schema": SCHEMA,
        "program version": VERSION,
        "varied": ", ".join(quantity.column for quantity in question.quantities),
        "rows": str(question.rows),
        "seed": str(question.seed),
        "samples": "grid"
        if question.drawn is None
        else hashlib.sha256(question.drawn.tobytes()).hexdigest()[:16],
        "ranges": "at both ends" if question.ranges else "at the middle",
        "model": f"{question.judge_one.__module__}.{question.judge_one.__qualname__}",
        "part": f"{part[0]}/{part[1]}",
    }
    for quantity in question.quantities:
        ends = [_pinned(quantity.key, quantity.written(end)) for end in quantity.ends or quantity.items]
        grid = quantity.size(GRID_COUNT) if question.drawn is None else "samples"
        header[f"varied {quantity.key}"] = (
            f"{'..'.join(ends) if quantity.ends else ', '.join(ends)}: {grid}"
        )
    if question.learned is not None:  # all of it in one entry: a number of it changed changes the rows
        header["learned"] = hashlib.sha256(repr(question.learned).encode("utf8")).hexdigest()[:16]
    for table, keys in question.tables.items():
        for key, value in keys.items() if isinstance(keys, Mapping) else [("", keys)]:
            name = f"{table}.{key}" if key else table
            header[f"bowl {name}"] = json.dumps(_pinned(name, value), sort_keys=True, default=str)
    return header


def _pinned(key: str, value: Any) -> Any:
    """A value of the bowl file; of a drawn outline its curve, since a file of that name may be redrawn."""
    if key != "board.outline" or not isinstance(value, str) or not names_drawing(value):
        return value
    return f"drawn, {curve_digest(free_outline(value.strip(), key=key))}"


def sweep_columns(question: Question) -> tuple[str, ...]:
    """Names of the columns of a sweep, units at their ends.

    Parameters
    ----------
    question : Question
        What is asked.

    Returns
    -------
    tuple[str, ...]
        The row's number, the varied quantities, and the answer.
    """
    return (
        "row",
        *(quantity.column for quantity in question.quantities),
        "state",
        *(["state_at_worst"] if question.ranges else []),
        *NUMBER_COLUMNS,
        "reason",
    )


def _row(question: Question, row: int, cell: Cell) -> tuple[Any, ...]:
    values = [v if isinstance(v, str) else float(v) for v in setting(question, row)]
    worst = [cell.worst.state if cell.worst is not None else ""] if question.ranges else []
    return (row, *values, cell.state, *worst, *numbers_of(cell), cell.reason)


def _work(
    tables: Mapping[str, Any],
    texts: Sequence[Mapping[str, str]],
    judge_one: JudgeBowl,
    ranges: bool,
    learned: Learned | None = None,
) -> list[Cell]:
    """One task: a module's function, so that any executor can send it."""
    return [work_out(tables, each, judge_one=judge_one, ranges=ranges, learned=learned) for each in texts]


def run_sweep(
    question: Question,
    path: str | Path | None,
    *,
    executor: Executor | None = None,
    part: tuple[int, int] = (1, 1),
    rows_per_task: int = ROWS_PER_TASK,
    progress: Progress | None = None,
    finish: Callable[[Store], None] | None = None,
) -> Swept:
    """Work out every row that the store does not hold yet.

    Parameters
    ----------
    question : Question
        What is asked.
    path : str, pathlib.Path or None
        The store; None keeps the rows in memory for ``finish`` only.
    executor : concurrent.futures.Executor or None
        Who works; None: this process.
    part : tuple[int, int]
        k of n: only the rows whose number leaves k - 1 when divided by n.
    rows_per_task : int
        Rows an executor is given at once.
    progress : callable or None
        Told rows finished and rows wanted, after every task.
    finish : callable or None
        Given the open store at the end, to read it or write it elsewhere.

    Returns
    -------
    Swept
        How many rows, and how they ended.

    Raises
    ------
    InputError
        If the store answers another question.
    FitsimError
        If workers were ended from outside; rows finished before are kept.
    """
    which, parts = part
    wanted = range(which - 1, question.rows, parts)
    with open_store(path, header_for(question, part), sweep_columns(question)) as store:
        done = store.done()
        left = (row for row in wanted if row not in done)
        finished = len(done)
        if progress is not None:
            progress(finished, len(wanted))
        for rows, cells in _tasks(question, left, executor, rows_per_task):
            store.add(_row(question, row, cell) for row, cell in zip(rows, cells, strict=True))
            finished += len(rows)
            if progress is not None:
                progress(finished, len(wanted))
        if finish is not None:
            finish(store)
        return _swept(store, len(wanted))


def _swept(store: Store, wanted: int) -> Swept:
    place = store.columns.index("state")
    counts: dict[str, int] = {}
    for row in store.rows():
        counts[row[place]] = counts.get(row[place], 0) + 1
    return Swept(sum(counts.values()), wanted, tuple(sorted(counts.items(), key=lambda c: (-c[1], c[0]))))


def _tasks(
    question: Question, left: Iterator[int], executor: Executor | None, rows_per_task: int
) -> Iterator[tuple[list[int], list[Cell]]]:
    """Finished tasks, as they come; only a few wait at any time, however long the sweep."""

    def arguments(rows: list[int]) -> tuple[Any, ...]:
        texts = [_texts(question, row) for row in rows]
        return question.tables, texts, question.judge_one, question.ranges, question.learned

    if executor is None:
        while rows := list(islice(left, rows_per_task)):
            yield rows, _work(*arguments(rows))
        return
    waiting: dict[Future[list[Cell]], list[int]] = {}
    most = 4 * (os.cpu_count() or 1)
    try:
        while True:
            while len(waiting) < most and (rows := list(islice(left, rows_per_task))):
                waiting[executor.submit(_work, *arguments(rows))] = rows
            if not waiting:
                return
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                yield waiting.pop(future), future.result()
    except BrokenExecutor as error:
        message = "a worker was ended from outside; rows so far are kept, give the same command to go on"
        raise FitsimError(message) from error
    finally:
        for future in waiting:
            future.cancel()
