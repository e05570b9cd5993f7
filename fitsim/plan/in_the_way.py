"""What stands in the way of wishes, in words, and the bounds drawn in from cuts that do not lock."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import FALLS_THROUGH, SPLIT_RISK, SPRINGS_BACK, STATES
from fitsim.plan.geometric_cuts import GUESSED, FoundCut
from fitsim.plan.planned_bowls import PlannedBowl, Reason
from fitsim.plan.trade_bounds import trade_bounds
from fitsim.plan.wishes_on_board import BoardWishes

__all__ = ["reasons_in_the_way", "short_of_press", "tightened"]


DRAWN_IN = 1.12
"""By how much a bound is drawn in from a cut that does not lock."""


def reasons_in_the_way(
    task: BoardWishes, found: Sequence[FoundCut], pressed: Sequence[PlannedBowl]
) -> tuple[Reason, ...]:
    """Why the wishes cannot all be had, in words.

    Parameters
    ----------
    task : BoardWishes
        The wishes, within the bounds of the trade: bounds that were drawn in on the way say where was
        looked, not what can be had.
    found : sequence of FoundCut
        Cuts by geometry within those bounds, the nearest first.
    pressed : sequence of PlannedBowl
        What was pressed: cuts that would give the wishes, or the nearest to them.

    Returns
    -------
    tuple
        The reasons.
    """
    reasons: list[Reason] = []
    gives = not found or found[0].off <= GUESSED
    if not gives:
        reasons += _tight_words(task, found[0].tight)
        if not found[0].tight:
            reasons.append(Reason("the wishes contradict one another: no cut has them all"))
    reasons += _as_pressed([a for a in pressed if not a.locks], gives=gives)
    reasons += _too_slow(task, pressed)
    if not reasons:
        reasons.append(Reason("the pressed strip does not give what its geometry promises"))
    return tuple(dict.fromkeys(reasons))


def _assumed(bowl: Bowl, key: str) -> str:
    """Words beside a number that the bowl file left out; "" where it is the maker's."""
    table, _, name = key.partition(".")
    left_out = any(a.key == key for a in bowl.assumptions)
    return f" (assumed; write {name} under [{table}])" if left_out else ""


def _too_slow(task: BoardWishes, pressed: Sequence[PlannedBowl]) -> list[Reason]:
    """The feed, where what was pressed takes longer than is wished."""
    wanted = task.wishes.time_min
    if wanted is None or all(w.met for a in pressed for w in a.wishes if w.name == "time"):
        return []
    feed, assumed = task.bowl.cut.feed_mm_per_min, _assumed(task.bowl, "cut.feed")
    words = f"in {wanted:.3g} min the saw comes {{}} far, fed {{}} a minute{assumed}"
    return [Reason(words, (wanted * feed, feed))]


def _as_pressed(failed: Sequence[PlannedBowl], *, gives: bool) -> list[Reason]:
    """What became of cuts that did not lock, state by state, with what each lacks."""
    reasons: list[Reason] = []
    of_state = [(s, [a for a in failed if a.pressed.judged.state == s]) for s in STATES]
    groups = [
        *((s, of) for s, of in of_state if s != SPRINGS_BACK),
        *((s, of) for s, every in of_state if s == SPRINGS_BACK for of in _by_what_they_lack(every)),
    ]
    for state, of in groups:
        if not of:
            continue
        at = sorted({f"{math.degrees(a.bowl.cut.scale_tilt_rad[0]):.2f}" for a in of}, key=float)
        tilted = at[0] if len(at) == 1 else f"{at[0]} to {at[-1]}"
        which = "a cut that would give it" if gives else "the nearest cut"
        words = f"{which}, tilted {tilted} deg, {_STATE_WORDS.get(state, state)}"
        presses: tuple[float, ...] = ()
        if state == SPRINGS_BACK and short_of_press(of[0]):
            gentlest = min(of, key=_asked_N)
            words += ": the gentlest that was tried needs a press of {}, and there is one of {}"
            words += _assumed(gentlest.bowl, "use.press")
            presses = (_asked_N(gentlest), gentlest.bowl.use.press_N)
        elif state == SPRINGS_BACK:
            words += ": its bevels slip"
        elif state == SPLIT_RISK:
            words += (
                f", {min(a.pressed.judged.numbers.split_chance for a in of):.0%} of such bowls at least"
            )
        reasons.append(Reason(words, presses_N=presses))
    return reasons


_STATE_WORDS = {FALLS_THROUGH: "falls through: too little of the thickness bears", SPLIT_RISK: "may split"}
"""What is said of a state, where more than its name."""


def _by_what_they_lack(springing: Sequence[PlannedBowl]) -> tuple[list[PlannedBowl], list[PlannedBowl]]:
    """Bowls that spring back: those that more press would hold, and those that no press holds."""
    short = [a for a in springing if short_of_press(a)]
    return short, [a for a in springing if not short_of_press(a)]


def short_of_press(answer: PlannedBowl) -> bool:
    """Whether a bowl needs more press than there is, and would hold with it.

    Parameters
    ----------
    answer : PlannedBowl
        What was pressed.

    Returns
    -------
    bool
        False also where no press holds it, or where there is press enough.
    """
    return 1 < answer.pressed.judged.numbers.press_asked < math.inf


def _asked_N(answer: PlannedBowl) -> float:
    """Press at which a bowl is to be judged, whether there is as much or not. [N]"""
    return answer.pressed.judged.numbers.press_asked * answer.bowl.use.press_N


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
    base, deeper = bounds.base_radius_least_mm, task.sinks_deeper
    short, slip = _by_what_they_lack(failed[SPRINGS_BACK])
    if failed[FALLS_THROUGH] and "tilt" not in kept:
        least = max(least, DRAWN_IN * max(a.cut.tilt_rad for a in failed[FALLS_THROUGH]))
        slots = task.fixed.drop_mm(least)
        deeper = bowl.board.thickness_mm * (1 - bowl.limits.overlap) / slots
    if slip and "tilt" not in kept:
        most = min(most, min(a.cut.tilt_rad for a in slip) / DRAWN_IN)
    if (
        short and "pitch" not in kept
    ):  # narrower turns bend more easily; a steeper bevel asks for more again
        gentlest = min(short, key=_asked_N).cut
        wide = max(min(wide, max(gentlest.pitches_mm) / DRAWN_IN), 1.02 * fine)
        if "tilt" not in kept:
            most = min(most, gentlest.tilt_rad)
    elif short and "tilt" not in kept:
        most = min(most, min(a.cut.tilt_rad for a in short) / DRAWN_IN)
    at_odds = least >= most
    if at_odds:  # some sink too far and some spring back at much the same tilt: too many narrow turns
        (least, most), deeper = bounds.tilt_rad, task.sinks_deeper
    if failed[SPLIT_RISK] or at_odds:
        apt = [a.cut for a in (failed[SPLIT_RISK] or tried)]
        if "pitch" not in kept:
            wide = max(min(max(cut.pitches_mm) for cut in apt) / DRAWN_IN, 1.02 * fine)
        if "base" not in kept and task.wishes.base_mm is None:
            base = max(base, DRAWN_IN * min(cut.base_radius_mm for cut in apt))
    drawn_in = replace(
        bounds,
        tilt_rad=(least, most),
        pitch_mm=(fine, min(wide, bounds.pitch_mm[1])),
        base_radius_least_mm=base,
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
            "a pitch wider than {} makes a flight of stairs of the wall (estimate)", (bounds.pitch_mm[1],)
        ),
        "small base": Reason(
            f"the base cannot be smaller than {{}} {narrow}: {bounds.base_reason}",
            (2 * bounds.base_radius_least_mm,),
        ),
        "least tilt": Reason(
            f"no less tilt than {least:.1f} deg: {bounds.tilt_reasons[0]} (board {{}} thick, kerf {{}})"
            f"{_assumed(bowl, 'cut.kerf')}",
            (task.thickness_mm, max(bowl.cut.kerf_mm)),
        ),
        "greatest tilt": Reason(f"no more tilt than {greatest:.1f} deg: {bounds.tilt_reasons[1]}"),
        "board": Reason(f"the board is {{}} {narrow}", (task.across_mm,)),
        "kept": Reason("what is kept leaves little to move"),
        "few turns": Reason("a strip needs one full turn at least"),
        "many turns": Reason(f"more than {bounds.turns[1]:.0f} turns cannot always be followed"),
    }
    return [words[key] for key in tight]
