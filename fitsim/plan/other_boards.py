"""The board sawn smaller first, and the least thicker and the least wider one that would do."""

import math
from collections.abc import Callable
from dataclasses import replace

from fitsim.geometry.board_outline import FREE
from fitsim.plan.corrected_cuts import CutPresser
from fitsim.plan.cut_of_wall import board_sized, not_pressed
from fitsim.plan.geometric_cuts import GUESSED, cuts_found, even_solved, even_starts, wall_cuts
from fitsim.plan.in_the_way import tightened
from fitsim.plan.lock_order import unlike_cuts
from fitsim.plan.planned_bowls import OtherBoard, PlannedBowl
from fitsim.plan.trade_bounds import bounds_of
from fitsim.plan.wishes_on_board import BoardWishes

__all__ = ["boards_that_would_do", "cuts_of_smaller_board"]


BOARD_ATTEMPTS = 4
"""How often another board is asked for more, where its pressed strip does not lock."""

THICKER_mm, WIDER_mm = 40.0, 300.0
"""How much another board may be thicker or wider."""

SMALLER = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7)
"""To which shares of its width a board is sawn first, where the whole of it does not do. [-]"""


def cuts_of_smaller_board(
    task: BoardWishes, presser: CutPresser, progress: Callable[[str], None]
) -> list[PlannedBowl]:
    """Cuts that give the wishes if the board is sawn smaller first: narrower turns need less press.

    Parameters
    ----------
    task : BoardWishes
        The wishes, within the bounds of the trade.
    presser : CutPresser
        Who presses.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    list[PlannedBowl]
        Of the largest of the boards tried that gives the wishes. None where the size may not change, or a
        mouth or a wall is wanted: they choose the size themselves.
    """
    if task.size_given or task.wishes.mouth_mm is not None or task.wishes.wall is not None:
        return []
    starts = even_starts(task)
    for share in SMALLER:
        progress("the board sawn smaller")
        across = _even_mm(share * task.across_mm, task.bowl.units)
        solved = (even_solved(task, replace(s, across_mm=across), not_pressed()) for s in starts)
        near = [f for f in solved if f is not None and f.off <= GUESSED]
        good = [a for a in presser.corrected(task, unlike_cuts(task, near, 2)) if a.meets]
        if good:
            return good
    return []


def _even_mm(length_mm: float, units: str) -> float:
    """The length to a sixteenth of an inch, or to a millimetre, as a board is sawn to size. [mm]"""
    step = 25.4 / 16 if units == "in" else 1.0
    return round(length_mm / step) * step


def _least_board(task: BoardWishes, *, thicker: bool) -> OtherBoard | None:
    """The least thicker, or the least wider, board with which the geometry gives the wishes."""
    most = THICKER_mm if thicker else WIDER_mm
    if not _feasible(task, most, thicker=thicker):
        # A board far too large may fail where a middling one does not.
        most = next((m for m in (most / 2, most / 4, most / 8) if _feasible(task, m, thicker=thicker)), 0.0)
        if not most:
            return None
    low, high = 0.0, most
    while high - low > (0.5 if thicker else 1.0):
        middle = (low + high) / 2
        low, high = (low, middle) if _feasible(task, middle, thicker=thicker) else (middle, high)
    more = float(math.ceil(high))
    return OtherBoard(more, 0.0) if thicker else OtherBoard(0.0, more)


def _with_board(task: BoardWishes, board: OtherBoard) -> BoardWishes:
    old = task.bowl.board
    thickness, across = old.thickness_mm + board.thicker_mm, old.across_mm + board.wider_mm
    bowl = replace(task.bowl, board=board_sized(old, thickness_mm=thickness, across_mm=across))
    bounds = bounds_of(bowl, sinks_deeper=task.sinks_deeper)
    drawn_in = replace(
        bounds,
        pitch_mm=task.bounds.pitch_mm,
        base_radius_least_mm=max(bounds.base_radius_least_mm, task.bounds.base_radius_least_mm),
        base_reason=task.bounds.base_reason,
        tilt_rad=(bounds.tilt_rad[0], min(bounds.tilt_rad[1], task.bounds.tilt_rad[1])),
    )
    return replace(task, bowl=bowl, bounds=drawn_in)


def _feasible(task: BoardWishes, more_mm: float, *, thicker: bool) -> bool:
    other = _with_board(task, OtherBoard(more_mm, 0.0) if thicker else OtherBoard(0.0, more_mm))
    if other.wishes.wall is not None:
        return any(f.off <= GUESSED for f in wall_cuts(other))
    starts = even_starts(other)
    return any(
        (found := even_solved(other, start, not_pressed())) is not None and found.off <= GUESSED
        for start in starts[:: max(len(starts) // 20, 1)]
    )


def boards_that_would_do(
    task: BoardWishes, presser: CutPresser, progress: Callable[[str], None]
) -> tuple[tuple[OtherBoard, PlannedBowl], ...]:
    """Boards that give the wishes on the pressed strip, with a cut each; the least first.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    presser : CutPresser
        Who presses.
    progress : callable
        Told in a few words what is being worked on.

    Returns
    -------
    tuple[tuple[OtherBoard, PlannedBowl], ...]
        A thicker and a wider one at most.
    """
    old = task.bowl.board
    found = []
    drawn = old.edge is not None and old.edge.kind == FREE
    for thicker in (True,) if drawn else (True, False):
        trying = task
        for _ in range(BOARD_ATTEMPTS):
            progress(f"a {'thicker' if thicker else 'wider'} board")
            board = _least_board(trying, thicker=thicker)
            if board is None:
                break
            other = _with_board(trying, board)
            near = [f for f in cuts_found(other) if f.off <= GUESSED]
            answers = presser.corrected(other, unlike_cuts(other, near, 1))
            good = [a for a in answers if a.meets]
            if good:
                found.append((board, replace(good[0], other_board=True)))
                break
            tighter = tightened(other, answers)
            if tighter is None:
                break
            trying = replace(trying, bounds=tighter.bounds, sinks_deeper=tighter.sinks_deeper)
    return tuple(
        sorted(found, key=lambda f: f[0].thicker_mm / old.thickness_mm + f[0].wider_mm / old.across_mm)
    )
