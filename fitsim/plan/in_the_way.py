"""What stands in the way of wishes, in words, and the bounds drawn in from cuts that do not lock."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from fitsim.bowl.verdict import FALLS_THROUGH, SPLIT_RISK, SPRINGS_BACK, STATES
from fitsim.plan.geometric_cuts import GUESSED, FoundCut
from fitsim.plan.planned_bowls import PlannedBowl, Reason
from fitsim.plan.trade_bounds import trade_bounds
from fitsim.plan.wishes_on_board import BoardWishes

__all__ = ["reasons_in_the_way", "tightened", "told_once"]


DRAWN_IN = 1.12
"""By how much a bound is drawn in from a cut that does not lock."""


def told_once(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Reasons without those that differ in their numbers alone; the newest come first and stay.

    Parameters
    ----------
    reasons : iterable
        The reasons.

    Returns
    -------
    tuple
        Each once.
    """
    told: dict[str, Reason] = {}
    for reason in reasons:
        told.setdefault("".join(c for c in reason.words.split(":")[0] if not c.isdigit()), reason)
    return tuple(told.values())


def reasons_in_the_way(
    task: BoardWishes, answers: Sequence[PlannedBowl], found: Sequence[FoundCut]
) -> tuple[Reason, ...]:
    """Why the wishes cannot all be had, in words.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    answers : sequence of PlannedBowl
        What was pressed.
    found : sequence of FoundCut
        Cuts by geometry, the nearest first.

    Returns
    -------
    tuple
        The reasons.
    """
    reasons = []
    for answer in answers[:1]:
        if not answer.locks:
            reasons.append(Reason(f"the cut that would give it: {answer.pressed.judged.state}"))
    near = found[0] if found else None
    if near is not None and near.off > GUESSED:
        reasons += _tight_words(task, near.tight)
        if not near.tight:
            reasons.append(Reason("the wishes contradict one another: no cut has them all"))
    elif not reasons:
        reasons.append(Reason("the pressed strip does not give what its geometry promises"))
    return tuple(dict.fromkeys(reasons))


def tightened(task: BoardWishes, tried: Sequence[PlannedBowl]) -> BoardWishes | None:
    """The task with its bounds drawn in a step from cuts that do not lock; None where nothing can move.

    Parameters
    ----------
    task : BoardWishes
        The wishes.
    tried : sequence of PlannedBowl
        What was pressed.

    Returns
    -------
    BoardWishes or None
        The wishes with tighter bounds.
    """
    bounds, bowl, kept = task.bounds, task.bowl, task.kept
    failed = {state: [a for a in tried if a.pressed.judged.state == state] for state in STATES}
    (least, most), (fine, wide) = bounds.tilt_rad, bounds.pitch_mm
    reasons = list(bounds.tilt_reasons)
    base, base_reason, deeper = bounds.base_radius_least_mm, bounds.base_reason, task.sinks_deeper
    if failed[FALLS_THROUGH] and "tilt" not in kept:
        least = max(least, DRAWN_IN * max(a.cut.tilt_rad for a in failed[FALLS_THROUGH]))
        reasons[0] = "with less a turn sinks until too little of the thickness bears"
        slots = task.setting.drop_mm(least)
        deeper = bowl.board.thickness_mm * (1 - bowl.limits.overlap) / slots
    if failed[SPRINGS_BACK] and "tilt" not in kept:
        most = min(most, min(a.cut.tilt_rad for a in failed[SPRINGS_BACK]) / DRAWN_IN)
        reasons[1] = "a steeper bevel springs back"
    at_odds = least >= most
    if at_odds:  # some sink too far and some spring back at much the same tilt: too many narrow turns
        (least, most), reasons, deeper = bounds.tilt_rad, list(bounds.tilt_reasons), task.sinks_deeper
    if failed[SPLIT_RISK] or at_odds:
        apt = [a.cut for a in (failed[SPLIT_RISK] or tried)]
        if "pitch" not in kept:
            wide = max(min(max(cut.pitches_mm) for cut in apt) / DRAWN_IN, 1.02 * fine)
        if "base" not in kept and task.wishes.base_mm is None:
            base = max(base, DRAWN_IN * min(cut.base_radius_mm for cut in apt))
            base_reason = "on a smaller one the innermost turns split or do not hold"
    drawn_in = replace(
        bounds,
        tilt_rad=(least, most),
        pitch_mm=(fine, min(wide, bounds.pitch_mm[1])),
        tilt_reasons=(reasons[0], reasons[1]),
        base_radius_least_mm=base,
        base_reason=base_reason,
    )
    if drawn_in == bounds or base > 0.4 * task.across_mm:
        return None
    return replace(task, bounds=drawn_in, sinks_deeper=deeper)


def _tight_words(task: BoardWishes, tight: Iterable[str]) -> list[Reason]:
    bounds, bowl = task.bounds, task.bowl
    strip = trade_bounds()["strip_width"]
    least, greatest = (math.degrees(tilt) for tilt in bounds.tilt_rad)
    narrow = "across" if bowl.board.edge is None else "across its narrow way"
    words = {
        "thin strip": Reason(
            "a strip thinner than {} can hardly be nailed and sawn (estimate, {} to {})",
            (strip.value, strip.low, strip.high),
        ),
        "wide strip": Reason(
            "a pitch wider than {} splits, or makes a flight of stairs", (bounds.pitch_mm[1],)
        ),
        "small base": Reason(
            f"the base cannot be smaller than {{}} {narrow}: {bounds.base_reason}",
            (2 * bounds.base_radius_least_mm,),
        ),
        "least tilt": Reason(
            f"no less tilt than {least:.1f} deg: {bounds.tilt_reasons[0]} (board {{}} thick, kerf {{}})",
            (task.thickness_mm, max(bowl.cut.kerf_mm)),
        ),
        "greatest tilt": Reason(f"no more tilt than {greatest:.1f} deg: {bounds.tilt_reasons[1]}"),
        "board": Reason(f"the board is {{}} {narrow}", (task.across_mm,)),
        "kept": Reason("what is kept leaves little to move"),
        "few turns": Reason("a strip needs one full turn at least"),
        "many turns": Reason(f"more than {bounds.turns[1]:.0f} turns cannot always be followed"),
    }
    return [words[key] for key in tight]
