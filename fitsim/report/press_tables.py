"""Terminal tables of the elastic strip: pressing, and what a change would do."""

import math
from typing import TYPE_CHECKING

from fitsim.bowl.changes import TriedChange
from fitsim.bowl.elastic import ElasticFit
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import FALLS_THROUGH
from fitsim.quantities import share_beside, show_force, show_length, show_small
from fitsim.report.common_words import plain_words
from fitsim.report.press_words import show_needed_press, shown_presses
from fitsim.strip.results import COLLAPSE_WITHIN, NAIL_WITHIN, NEEDED_WITHIN, LEVEL_WITHIN_mm

if TYPE_CHECKING:
    from rich.table import Table

__all__ = [
    "STANDING_STRESS",
    "TRIED_IN_THE_MIDDLE",
    "changes_table",
    "elastic_cells",
    "plain_table",
    "press_table",
    "rise_rows",
    "rows_of",
]

TRIED_IN_THE_MIDDLE = (
    "Each change is tried, pressed as it takes, at the middle of what is known only as a range; press "
    "asked is over the press there is. The verdict on top is that at the unfavourable ends."
)
"""Beside the table of changes."""

STANDING_STRESS = (
    "stress while it stands open: at its one worst point, over the mean strength of the handbook's far "
    "larger piece"
)
"""What the stress is measured by: one point bears more than a whole piece does, so 100% is no break."""


def plain_table(*columns: str) -> "Table":
    """A table with a rule under its heading and nothing else.

    Parameters
    ----------
    *columns : str
        Headings; all but the first stand to the right.

    Returns
    -------
    rich.table.Table
        Empty.
    """
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for i, column in enumerate(columns):
        table.add_column(column, justify="left" if i == 0 else "right", overflow="fold")
    return table


def rows_of(table: "Table") -> list[list[str]]:
    """The cells of a table as plain text, row by row, to show them elsewhere than on a terminal.

    Parameters
    ----------
    table : rich.table.Table
        The table.

    Returns
    -------
    list[list[str]]
        Rows, without the headings.
    """
    return [[str(cell) for cell in row] for row in zip(*(c.cells for c in table.columns), strict=True)]


def rise_rows(table: "Table", found: ElasticFit, units: str) -> None:
    """Add the rows of the rim's height under the press and let go.

    Parameters
    ----------
    table : rich.table.Table
        Two columns.
    found : ElasticFit
        The elastic strip.
    units : str
        "in" or "mm".
    """
    rim = found.opening.rim
    low, high = (show_length(v, units=units) for v in (rim.least_mm, rim.greatest_mm))
    table.add_row("rise of the rim, pressed", show_length(rim.mean_mm, units=units))
    give = show_length(LEVEL_WITHIN_mm, units=units)
    table.add_row(
        "low to high side of the rim, pressed", f"{low} to {high}, the difference known to within {give}"
    )
    rest = found.rise_at_rest_mm
    nothing = "none: it springs back"
    left = show_length(rest, units=units) if math.isfinite(rest) else nothing
    table.add_row("rise of the rim, let go", left)


def press_table(answer: BowlFit, found: ElasticFit, units: str) -> "Table":
    """How hard to press, what frees it, what splits it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    found : ElasticFit
        Its elastic strip.
    units : str
        "in" or "mm".

    Returns
    -------
    rich.table.Table
        Two columns.
    """
    table = plain_table("Pressing, in the middle of the ranges", "")
    judged = found.opening.judged
    most_N, there_N = answer.deciding_press_N, answer.bowl.use.press_N
    there = show_force(there_N, units=units, figures=2 if most_N is None else 3)
    if 1 < judged.share < math.inf:
        there = shown_presses(answer, judged.asked_N, judged.needed_N, beside_N=(there_N,), units=units)[-1]
    table.add_row("press there is", there)
    more = f"more than {show_force(found.reach_N, units=units)}, if any"
    falls = "none: a turn falls through"
    if found.opening.fell_through:
        more = falls
    needed, most = (
        _known_within(show_needed_press(answer, v, units=units), NEEDED_WITHIN)
        if math.isfinite(v)
        else more
        for v in (found.press_needed_N, judged.needed_N)
    )
    if math.isnan(found.press_needed_N):
        table.add_row("press it needs to hold, at the friction that asks most", most)
    else:
        table.add_row("press it needs to hold", needed)
    if judged.friction > answer.bowl.use.friction:
        table.add_row("press it needs to hold where friction is greatest", most)
    if math.isfinite(judged.asked_N):
        spare = f"press it ought to be given, {answer.bowl.limits.press_spare:g} times that"
        asked = show_needed_press(answer, judged.asked_N, units=units)
        table.add_row(spare, asked)
        up_to = asked if most_N is None else show_needed_press(answer, most_N, units=units)
        if up_to != asked:
            table.add_row("  up to, over all that is not known", up_to)
    if answer.bowl.limits.press_spare * judged.least_needs_N > there_N:
        least = _known_within(show_needed_press(answer, judged.least_needs_N, units=units), NEEDED_WITHIN)
        row = "press it needs to hold where friction is least"
        drops = any(
            d.name == "friction" and d.state_at_low == FALLS_THROUGH for d in answer.verdict.depends_on
        )
        table.add_row(row, least if judged.least_needs_N < math.inf else falls if drops else more)
    pressed_N = found.opening.press_N
    at = show_needed_press(answer, pressed_N, units=units) if pressed_N < there_N else there
    table.add_row("press it is judged at", at)
    table.add_row("friction used, of the friction there is", _used(found.opening.numbers.friction_used))
    if found.opening.released is not None:
        table.add_row("rise kept after letting go", f"{found.opening.released.kept:z.0%}")
    if found.holds:
        push = show_force(found.collapse_N, units=units)
        table.add_row("push from below that frees it", _known_within(push, COLLAPSE_WITHIN))
    nail = show_force(found.nail_N, units=units)
    table.add_row("greatest force on the nail", _known_within(nail, NAIL_WITHIN))
    table.add_row("chance of splitting, at the press judged at", _chance(found.opening.stress.chance))
    beside = found.split_range
    table.add_row(
        f"  over what is not known of the wood, most by {plain_words(beside.decides)}",
        f"{_chance(beside.low)} to {_chance(beside.high)}",
    )
    if math.isfinite(found.split_press_N):
        table.add_row(
            "press at which 1 bowl in 10 splits, about", show_force(found.split_press_N, units=units)
        )
    elif found.opening.press_N < found.falls_beyond_N < math.inf:
        most_N = found.falls_beyond_N
        table.add_row("press beyond which a turn falls through, about", show_force(most_N, units=units))
    if math.isfinite(found.chance_at_press):
        table.add_row("chance of splitting, all the press there is", _chance(found.chance_at_press))
    if found.stress_at_rest is not None:
        standing = float(found.stress_at_rest.ratio.max())
        table.add_row(STANDING_STRESS, f"{standing:.0%}")
    return table


def _known_within(shown: str, share: float) -> str:
    """A number with how far it may be off."""
    return f"{shown} +- {share:.0%}"


def changes_table(tried: tuple[TriedChange, ...], units: str) -> "Table":
    """What each change would do.

    Parameters
    ----------
    tried : tuple[TriedChange, ...]
        The bowl as it is first.
    units : str
        "in" or "mm".

    Returns
    -------
    rich.table.Table
        One row for each.
    """
    table = plain_table(
        "A change",
        "verdict",
        "overlap",
        "friction\nused",
        "press\nasked",
        "splits",
        "rise,\nlet go",
    )
    table.columns[1].no_wrap = True
    for t in tried:
        if t.numbers is None:
            table.add_row(t.name, "not worked out", "", "", "", "", "")
            continue
        n = t.numbers
        rise = show_length(t.rise_mm, units=units) if math.isfinite(t.rise_mm) else "none"
        hold = f"{n.friction_used:.2f}" if math.isfinite(n.friction_used) else "-"
        overlap = f"{n.overlap:.2f}" if n.overlap > 0 else "none"
        asked = share_beside(n.press_asked, 1.0) if 0 < n.press_asked < math.inf else "-"
        table.add_row(t.name, str(t.state), overlap, hold, asked, _chance(n.split_chance), rise)
    return table


def _used(value: float) -> str:
    return f"{value:.2f}" if math.isfinite(value) else "lets go"


def _chance(value: float) -> str:
    if math.isnan(value):
        return "-"
    return show_small(value) if value < 0.01 else f"{value:.2f}"


def _friction_at_rest(found: ElasticFit, used: float) -> str:
    """Of a bowl that slips nothing comes to rest."""
    if not math.isfinite(found.rise_at_rest_mm):
        return "-"
    return f"{used:.2f}" if math.isfinite(used) else "not seated"


def elastic_cells(found: ElasticFit, turn: int, units: str) -> list[str]:
    """Drop, overlap and hold of one turn; a tail too short for the elements is left blank.

    Parameters
    ----------
    found : ElasticFit
        The elastic strip.
    turn : int
        Counted from 0.
    units : str
        "in" or "mm".

    Returns
    -------
    list of str
        Three cells.
    """
    turns, used = found.opening.turns, found.opening.friction_by_turn
    if turn >= len(used):
        return ["", "", ""]
    overlap, hold = float(turns.least_overlap[turn]), float(used[turn])
    return [
        show_length(float(turns.drop_mm[turn]), units=units, fine=True),
        f"{overlap:.2f}" if overlap > 0 else "none",
        _friction_at_rest(found, hold),
    ]
