"""From the bowl that is wanted to the cut: cuts that give it, or the nearest and what stands in the way.

The first guess is rigid geometry (:mod:`fitsim.plan.geometric_cuts`). Each cut chosen is pressed on the
strip, what the strip gives over the guess corrects it, and it is solved again
(:mod:`fitsim.plan.corrected_cuts`), until the pressed bowl meets the wishes within
:data:`fitsim.plan.planned_bowls.WITHIN`. Where many cuts give the same bowl, :mod:`fitsim.plan.lock_order`
says which come first.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor

from fitsim.bowl.inputs import Bowl, with_input
from fitsim.errors import OutsideModelError
from fitsim.plan.corrected_cuts import CutPresser, distance_of
from fitsim.plan.geometric_cuts import GUESSED, FoundCut, cuts_found
from fitsim.plan.in_the_way import reasons_in_the_way, short_of_press, tightened
from fitsim.plan.lock_order import (
    first_chance,
    in_order,
    nearest_cuts,
    unlike_bowls,
    unlike_cuts,
    with_qualities,
)
from fitsim.plan.other_boards import boards_that_would_do, cuts_of_smaller_board
from fitsim.plan.planned_bowls import Plan, PlannedBowl
from fitsim.plan.wishes import Wishes
from fitsim.plan.wishes_on_board import BoardWishes, refuse_what_is_not_planned, wishes_on

__all__ = ["plan"]


ATTEMPTS = 9
"""How often the bounds are drawn in to what pressed strips have shown, where none of them locks."""

PRESSED_CUTS = 4

SHOWN_CUTS = 4

FURTHER_ROUNDS = 2
"""How often cuts unlike those pressed so far are pressed as well, where few of these meet the wishes or
a likelier one is thought to be left."""

LIKELIER = 0.05
"""So much likelier to lock than the best cut pressed another must be thought, to be pressed as well: the
geometry's guess is often higher than what the strip gives by as much. [-]"""


def plan(
    bowl: Bowl,
    wishes: Wishes,
    *,
    executor: Executor | None = None,
    progress: Callable[[str], None] | None = None,
) -> Plan:
    """Find cuts that give the bowl that is wanted.

    Parameters
    ----------
    bowl : Bowl
        Board, saw, wood and use; its own cut is where a kept part comes from and one start among others.
    wishes : Wishes
        What is wanted, see :func:`fitsim.plan.wishes.read_wishes`.
    executor : concurrent.futures.Executor, optional
        Who presses; left out, this process, one after the other.
    progress : callable, optional
        Told in a few words what is being worked on.

    Returns
    -------
    Plan
        Up to four answers, the best first.

    Raises
    ------
    InputError
        If the bowl has no one kerf, or a base of its own outline; or on a board that is neither round nor
        square for a curved wall or a mouth.
    OutsideModelError
        If its slots are shut when flat, or nothing near can be cut from the board.
    """
    refuse_what_is_not_planned(bowl, wishes)
    if len(bowl.cut.tilt_rad) > 1:
        bowl = with_input(bowl, "cut.tilt_rad", bowl.cut.tilt_rad[0])
    progress = progress or (lambda _line: None)
    task = whole = wishes_on(bowl, wishes)
    presser = CutPresser(executor, progress)
    answers: list[PlannedBowl] = []
    would: list[PlannedBowl] = []
    first: list[FoundCut] = []

    def met(good: list[PlannedBowl]) -> Plan:
        told = unlike_bowls(in_order(good))[:SHOWN_CUTS]
        return Plan(bowl, wishes, with_qualities(told), (), (), presser.count)

    for attempt in range(ATTEMPTS):
        progress("cuts by geometry")
        found = cuts_found(task)
        first = first or found
        near = [f for f in found if f.off <= GUESSED]
        most = PRESSED_CUTS if attempt == 0 else 2
        chosen = unlike_cuts(task, near, most) if near else nearest_cuts(found)
        tried = presser.corrected(task, chosen)
        if any(a.meets for a in tried):
            return met(_with_others(task, near, chosen, tried, presser))
        answers += tried
        if near or attempt == 0:
            would += tried
        tighter = tightened(task, tried)
        if tighter is None or (not near and any(a.locks for a in tried)):
            break
        task = tighter
    smaller = cuts_of_smaller_board(whole, presser, progress)
    if smaller:
        return met(smaller)
    reasons = reasons_in_the_way(whole, first, would)
    short = [a for a in would if short_of_press(a)]
    if wishes.wall is None and "pitch" not in wishes.keep and short:
        answers += presser.narrowed(whole, short)
    # Only a bowl that locks can be had; where none did, the nearest shows what becomes of it.
    locking = [a for a in answers if a.locks]
    answers = unlike_bowls(sorted(locking or answers, key=lambda a: distance_of(task, a)))[:2]
    answers = [a for a in answers if distance_of(task, a) <= 4 * distance_of(task, answers[0])]
    others = () if "board" in wishes.keep else boards_that_would_do(task, presser, progress)
    answers += [answer for _, answer in others[:1]]
    if not answers:
        why = "; ".join(reason.told(bowl.units) for reason in reasons)
        raise OutsideModelError(f"no strip could be followed near what is wanted: {why}")
    boards = tuple(board for board, _ in others)
    return Plan(bowl, wishes, with_qualities(answers), reasons, boards, presser.count)


def _with_others(
    task: BoardWishes,
    near: Sequence[FoundCut],
    chosen: Sequence[FoundCut],
    tried: Sequence[PlannedBowl],
    presser: CutPresser,
) -> list[PlannedBowl]:
    """Those that meet the wishes of the cuts tried, and of others unlike them.

    The geometry ranks cuts that fall through on the strip with those that lock: what is left of the first
    few is neither all there is nor surely the likeliest.
    """
    good = [a for a in tried if a.meets]
    pressed = [*(f.cut for f in chosen), *(a.cut for a in tried)]
    for _ in range(FURTHER_ROUNDS):
        left = unlike_cuts(task, near, PRESSED_CUTS, besides=pressed)
        if not left:
            break
        likeliest = max(a.lock_chance for a in good)
        many = len(unlike_bowls(good)) >= SHOWN_CUTS
        if many and first_chance(task, left[0]) < likeliest + LIKELIER:
            break
        others = presser.corrected(task, left)
        good += [a for a in others if a.meets]
        pressed += [*(f.cut for f in left), *(a.cut for a in others)]
    return good
