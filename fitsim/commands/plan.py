"""What ``fitsim plan`` does with what was typed: wishes read, cuts found, drawn, saved and said."""

import math
import os
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.bowlfile.text import bowl_text
from fitsim.errors import InputError, Problem
from fitsim.files import PICTURE_ENDINGS, check_target, file_name, write_whole
from fitsim.geometry.outline_file import names_drawing
from fitsim.plan.planned_bowls import Plan, PlannedBowl
from fitsim.plan.planning import plan
from fitsim.plan.wishes import Wishes, read_wishes, typed_wishes
from fitsim.processes import worker_count, worker_pool
from fitsim.quantities import LENGTH, write_exactly
from fitsim.report.plan_json import plan_text
from fitsim.report.plan_report import plan_report
from fitsim.saw.learned import Learned, with_learned
from fitsim.toml_files import DRAWINGS, tables_of_file

__all__ = ["PlanRequest", "answer_plan", "named_beside", "planned_tables", "wished_bowl"]

START_TILT = "5 deg"
"""Stands in where a file leaves the tilt to the plan: what it moves is found anew."""


@dataclass(frozen=True)
class PlanRequest:
    """What was typed after ``fitsim plan``.

    Attributes
    ----------
    learned : Learned or None
        What tests have taught.
    wanted : tuple of str
        Wishes as typed, each ``key=value``.
    save : pathlib.Path or None
        Where the bowl file of an answer goes; never over another file.
    number : int or None
        Which answer to save and to draw, counted from 1; None for the first, which is saved only if it
        gives all that is wanted.
    as_json : bool
        One JSON object in place of the report.
    units : str or None
        "in" or "mm"; None as in the file.
    pictures : tuple of pathlib.Path
        Files to draw into.
    replace : bool
        Whether pictures may overwrite files.
    """

    learned: Learned | None = None
    wanted: tuple[str, ...] = ()
    save: Path | None = None
    number: int | None = None
    as_json: bool = False
    units: str | None = None
    pictures: tuple[Path, ...] = ()
    replace: bool = False


def wished_bowl(
    tables: Mapping[str, Any], typed: Mapping[str, Any], *, where: str = ""
) -> tuple[Bowl, Wishes]:
    """Bowl and wishes from the tables of a file and what was typed beside it.

    Parameters
    ----------
    tables : Mapping
        Tables of a bowl file; ``[cut]`` and its tilt may be missing.
    typed : Mapping
        Wishes typed on the command line, which take the place of the file's.
    where : str
        File name for the error messages.

    Returns
    -------
    tuple[Bowl, Wishes]
        The bowl as it stands and what is wanted of it.

    Raises
    ------
    InputError
        One line for every problem, or if nothing is wanted.
    """
    try:
        return _wished_bowl(tables, typed, where)
    except InputError as error:
        raise InputError(tuple(_as_typed(p, typed, where) for p in error.problems)) from None


def _as_typed(problem: Problem, typed: Mapping[str, Any], where: str) -> Problem:
    """The same problem at the option, where the wish was typed and stands in no file."""
    table, _, key = problem.key.partition(".")
    if table != "want" or key not in typed:
        return problem
    return replace(problem, where="" if problem.where == where else problem.where, key=f"--want {key}")


def _wished_bowl(tables: Mapping[str, Any], typed: Mapping[str, Any], where: str) -> tuple[Bowl, Wishes]:
    table = tables.get("want", {})
    if isinstance(table, Mapping):
        table = {**table, **typed}
    if table == {}:
        remedy = 'add a table [want] with rise = "3 in", or type --want "rise=3 in"'
        raise InputError(Problem(where, "want", "", "what is wanted of the bowl", remedy))
    wishes = read_wishes(table, where=where)
    cut = tables.get("cut", {})
    if isinstance(cut, Mapping) and "tilt" not in cut:
        if "tilt" in wishes.keep:
            remedy = 'write it under [cut], like tilt = "6 deg", or take it out of keep'
            raise InputError(Problem(where, "want.keep", "tilt", "a tilt that is given", remedy))
        cut = {**cut, "tilt": START_TILT}
    bowl = make_bowl({**tables, "cut": cut}, where=where)
    _refuse_kept_unknown(bowl, wishes, where)
    return bowl, wishes


def _refuse_kept_unknown(bowl: Bowl, wishes: Wishes, where: str) -> None:
    """Refuse to keep what the file does not give: what stands in for it is nobody's."""
    left_out = {a.key for a in bowl.assumptions}
    needs = {"base": ("base",), "pitch": ("pitch",), "turns": ("pitch", "base")}
    problems = []
    for word in wishes.keep:
        missing = [key for key in needs.get(word, ()) if f"cut.{key}" in left_out]
        if missing:
            written = " and ".join(missing)
            remedy = f"write {written} under [cut], or take {word} out of keep"
            given = "turns that are given" if word == "turns" else f"a {word} that is given"
            problems.append(Problem(where, "want.keep", word, given, remedy))
    if problems:
        raise InputError(tuple(problems))


def planned_tables(
    tables: Mapping[str, Any], answer: PlannedBowl, *, bowl: Bowl, units: str
) -> dict[str, Any]:
    """Tables of the bowl file with a planned cut.

    Parameters
    ----------
    tables : Mapping
        Tables of the file that was planned for.
    answer : PlannedBowl
        The answer.
    bowl : Bowl
        The bowl of that file.
    units : str
        "in" or "mm".

    Returns
    -------
    dict
        The same tables; tilt, pitch, base and what changed of the board are the plan's.
    """
    cut = answer.cut

    def length(value_mm: float) -> str:
        step = 1000 if units == "in" else 100
        unit = LENGTH.units[units]
        return write_exactly(Fraction(round(value_mm / float(unit) * step), step) * unit, units, LENGTH)

    pitches = [length(p) for p in cut.pitches_mm]
    changed = {
        "tilt": f"{math.degrees(answer.bowl.cut.scale_tilt_rad[0]):.2f} deg",
        "pitch": pitches[0] if len(pitches) == 1 else pitches,
        "base": length(2 * cut.base_radius_mm),
    }
    if bowl.board.outline == "square":  # so that the cut still enters at the middle of the same side
        changed["root"] = f"{math.degrees(answer.bowl.cut.root_rad):.2f} deg"
    written = {key: value for key, value in tables.get("cut", {}).items() if key != "turns"}
    board = dict(tables["board"])
    if abs(bowl.board.across_mm - cut.across_mm) > 1e-6:
        edge = answer.bowl.board.edge
        if edge is None or "across" in board:
            board["across"] = length(cut.across_mm)
        else:
            board |= {"length": length(edge.length_mm), "width": length(edge.width_mm)}
        if edge is not None and "corner" in board:
            board["corner"] = length(edge.corner_mm)
    if abs(bowl.board.thickness_mm - cut.thickness_mm) > 1e-6:
        board["thickness"] = length(cut.thickness_mm)
    return {**tables, "board": board, "cut": {**written, **changed}}


def answer_plan(
    file: Path | None,
    asked: PlanRequest,
    *,
    width: int = 88,
    color: bool = False,
    progress: Callable[[str], None] | None = None,
    remark: Callable[[str], None] | None = None,
    executor: Executor | None = None,
) -> str:
    """Answer for what was typed.

    Parameters
    ----------
    file : pathlib.Path or None
        The bowl file; None for the demonstration bowl.
    asked : PlanRequest
        What was typed.
    width : int
        Columns of the terminal.
    color : bool
        Whether bold codes may be sent.
    progress, remark : callable, optional
        Told what is being worked on, and a line for each file written.
    executor : concurrent.futures.Executor, optional
        Who presses; left out, as many processes as there are processors.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    remark = remark or (lambda _line: None)
    for picture in asked.pictures:
        check_target(Path(picture), replace=asked.replace, endings=PICTURE_ENDINGS)
    if asked.save is not None:
        check_target(asked.save, replace=False, endings=(".toml",))
    where = "demonstration bowl" if file is None else file_name(file)
    tables = demo_tables() if file is None else tables_of_file(file)
    bowl, wishes = wished_bowl(tables, typed_wishes(asked.wanted), where=where)
    if asked.learned is not None:
        bowl = with_learned(bowl, asked.learned, units=asked.units)
    found = _found(bowl, wishes, executor, progress)
    chosen_by_number, number, save = asked.number is not None, asked.number or 1, asked.save
    if number > len(found.answers):
        expected = f"an answer from 1 to {len(found.answers)}"
        raise InputError(Problem("", "--answer", str(number), expected, "leave it out for the first"))
    shown = asked.units or bowl.units
    if asked.pictures:
        from fitsim.drawing.picture_files import write_picture
        from fitsim.drawing.plan_drawing import plan_figure

        for picture in asked.pictures:
            write_picture(plan_figure(found, number=number, units=shown), picture, replace=asked.replace)
            remark(f"drawn: {picture}")
    answer = found.answers[number - 1]
    if save is not None and not chosen_by_number and (not answer.meets or answer.other_board):
        remark(f"not written: {save}: {_missed(answer)}; --answer 1 writes it all the same")
    elif save is not None:
        want = {**tables.get("want", {}), **typed_wishes(asked.wanted)}
        chosen = planned_tables({**tables, "want": want}, answer, bowl=bowl, units=bowl.units)
        chosen = named_beside(chosen, save)
        write_whole(save, bowl_text(chosen).encode("utf-8"), replace=False)
        missed = "" if answer.meets and not answer.other_board else f"{_missed(answer)}; "
        then = f"ask fitsim fit {save} before you saw" if answer.locks else "do not saw it as it is"
        remark(f"written: {save} (cut {number}); {missed}{then}")
    if asked.as_json:
        return plan_text(found) + "\n"
    return plan_report(found, units=shown, width=width, color=color)


def _missed(answer: PlannedBowl) -> str:
    """What an answer lacks of what is wanted."""
    if not answer.locks:
        return "the nearest cut does not lock"
    if not answer.meets:
        missed = " and ".join(w.name for w in answer.wishes if not w.met)
        return f"the nearest cut does not give the {missed} that is wanted"
    return "the cut is for another board"


def named_beside(tables: dict[str, Any], saved: Path) -> dict[str, Any]:
    """Drawings that the tables name, as a file in another folder must name them.

    Parameters
    ----------
    tables : dict
        Tables of a bowl file, its drawings named from where the program runs.
    saved : pathlib.Path
        Where the tables are to be written.

    Returns
    -------
    dict
        The same, its drawings named from that file's folder.
    """
    for name, key in DRAWINGS:
        text = tables.get(name, {}).get(key)
        if isinstance(text, str) and names_drawing(text):
            try:
                named = os.path.relpath(text.strip(), saved.parent)
            except ValueError:  # another drive
                named = str(Path(text.strip()).absolute())
            tables = {**tables, name: {**tables[name], key: Path(named).as_posix()}}
    return tables


def _found(
    bowl: Bowl, wishes: Wishes, executor: Executor | None, progress: Callable[[str], None] | None
) -> Plan:
    if executor is not None or worker_count() == 1:
        return plan(bowl, wishes, executor=executor, progress=progress)
    pool = worker_pool(min(worker_count(), 4))
    try:
        return plan(bowl, wishes, executor=pool, progress=progress)
    finally:
        pool.shutdown(cancel_futures=True)
