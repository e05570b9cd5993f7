"""What ``fitsim plan`` says: the cuts in words, a table of them, and what stands in the way."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fitsim.plan.planned_bowls import WITHIN, OtherBoard, Plan, PlannedBowl, WishMet
from fitsim.plan.trade_bounds import trade_bounds
from fitsim.quantities import show_force, show_length, show_small, show_volume
from fitsim.report.common_words import CAUTIONS, chance_in_words, feed_words
from fitsim.report.press_tables import plain_table
from fitsim.report.terminal import assumed_table, printed
from fitsim.saw.learned import left_out_notes

if TYPE_CHECKING:
    from rich.table import Table

__all__ = [
    "CutInWords",
    "PlanInWords",
    "cut_sentence",
    "pitch_words",
    "plan_in_words",
    "plan_report",
    "wish_words",
]

WHERE_FROM = "Where each value comes from: fitsim fit --sources of the file that --save writes."


@dataclass(frozen=True)
class CutInWords:
    """One cut in words.

    Attributes
    ----------
    title : str
        What it is best at, with a full stop; "" if at nothing.
    sentence : str
        What to set and saw, and what the pressed bowl gives.
    first : tuple[str, ...]
        What was done to a wall to lay it on the board, and what to saw first.
    """

    title: str
    sentence: str
    first: tuple[str, ...]


@dataclass(frozen=True)
class PlanInWords:
    """The whole answer in words.

    Attributes
    ----------
    headline : str
        How many cuts give what is wanted, or that it cannot be had.
    in_the_way : tuple[str, ...]
        What stands in the way, and which other board would do.
    cuts : tuple[CutInWords, ...]
        The cuts, best first.
    table : rich.table.Table
        A row for each quantity, a column for what is wanted and for each cut.
    pitches : tuple[str, ...]
        Pitch of every turn, where it varies.
    how : str
        How it was worked out, and what to ask before sawing.
    assumed : rich.table.Table
        What was assumed of board and use, or not measured, whatever cut is sawn.
    bounds : tuple[str, ...]
        Bounds of the trade, each with its source.
    """

    headline: str
    in_the_way: tuple[str, ...]
    cuts: tuple[CutInWords, ...]
    table: "Table"
    pitches: tuple[str, ...]
    how: str
    assumed: "Table"
    bounds: tuple[str, ...]


def pitch_words(answer: PlannedBowl, *, units: str) -> str:
    """The pitch, or how it runs from the base to the rim.

    Parameters
    ----------
    answer : PlannedBowl
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "6.35 mm" or "4.20 mm at the base to 9.11 mm at the rim".
    """
    pitches = answer.cut.pitches_mm
    if len(pitches) == 1:
        return show_length(pitches[0], units=units, fine=True)
    first, last = (show_length(p, units=units, fine=True) for p in (pitches[0], pitches[-1]))
    return f"{first} at the base to {last} at the rim"


def cut_sentence(answer: PlannedBowl, *, units: str) -> str:
    """The cut in words.

    Parameters
    ----------
    answer : PlannedBowl
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        What to set and saw, and what the pressed bowl gives.
    """
    cut, got, judged = answer.cut, answer.pressed.got, answer.pressed.judged
    planned = answer.bowl.cut
    scale, true = (math.degrees(v[0]) for v in (planned.scale_tilt_rad, planned.tilt_rad))
    table = f"Tilt the table {scale:.2f} deg"
    if planned.saw:
        table = (
            f"Set the scale to {scale:.2f} deg ({true:.2f} deg between table and blade, by {planned.saw})"
        )
    said = (
        f"{table}; saw {got.turns:.2f} turns at a pitch of "
        f"{pitch_words(answer, units=units)}, down to a base "
        f"{show_length(2 * cut.base_radius_mm, units=units)} across"
        f"{'' if answer.bowl.board.edge is None else ' its narrow way'}"
    )
    if judged.state != "locks":
        return f"{said}. Pressed on the strip: {judged.state.upper()}."
    return (
        f"{said}. Pressed with {show_force(judged.press_N, units=units)} and let go, the rim stands "
        f"{show_length(got.rise_mm, units=units)} high; {judged.numbers.overlap:.0%} of the thickness "
        f"still bears, "
        f"and {chance_in_words(judged.numbers.split_chance)} would split."
    )


def wish_words(wish: WishMet, value: float, *, units: str, curve: bool = False) -> str:
    """A wish's value as a maker reads it.

    Parameters
    ----------
    wish : WishMet
        The wish.
    value : float
        Wanted or got.
    units : str
        "in" or "mm".
    curve : bool
        Whether the wall is a curve.

    Returns
    -------
    str
        With its unit.
    """
    if wish.name == "volume":
        return show_volume(value, units=units, tenths=True)
    if wish.name == "turns":
        return f"{value:.2f}"
    if wish.name == "time":
        return f"{value:.0f} min"
    if wish.name == "wall":
        return f"{value:.1%} off" if curve else f"{math.degrees(math.atan(value)):.0f} deg"
    return show_length(value, units=units)


def plan_report(found: Plan, *, units: str, width: int = 88, color: bool = False) -> str:
    """The whole answer as text.

    Parameters
    ----------
    found : Plan
        The answer.
    units : str
        "in" or "mm".
    width : int
        Columns of the terminal.
    color : bool
        True to send the terminal's bold codes.

    Returns
    -------
    str
        Ready to print.
    """
    said = plan_in_words(found, units=units)
    parts: list[object] = [found.bowl.name, (said.headline,), *said.in_the_way, ""]
    for number, cut in enumerate(said.cuts, 1):
        parts += [(f"{number}. {cut.title}".strip(),), cut.sentence, *cut.first, ""]
    parts += [said.table, "", *said.pitches, *([""] if said.pitches else []), said.how]
    parts += left_out_notes(found.bowl)
    parts += ["", said.assumed, WHERE_FROM]
    parts += ["", "Bounds of the trade:", *(f"- {line}" for line in said.bounds), ""]
    parts.append("At the saw: " + " ".join(CAUTIONS))
    return printed(parts, width=width, color=color)


def plan_in_words(found: Plan, *, units: str) -> PlanInWords:
    """What the terminal and the page say of the cuts, set out by each.

    Parameters
    ----------
    found : Plan
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    PlanInWords
        Sentences and the table.
    """
    in_the_way = []
    if found.in_the_way:
        in_the_way.append(
            "What stands in the way: " + "; ".join(r.told(units) for r in found.in_the_way) + "."
        )
    if found.other_boards:
        longer = found.bowl.board.edge is not None
        words = " or ".join(_board_words(b, units, longer=longer) for b in found.other_boards)
        in_the_way.append(f"Another board would do: {words}.")
    return PlanInWords(
        headline=_headline(found),
        in_the_way=tuple(in_the_way),
        cuts=tuple(_cut_in_words(found, answer, units) for answer in found.answers),
        table=_table(found, units),
        pitches=_pitch_lines(found, units),
        how=(
            f"Each cut was pressed on the elastic strip and corrected until it came within {WITHIN:.0%} of "
            f"what is wanted, or as near as it comes ({found.presses} presses in all). How likely each "
            "locks is a cheap measure for their order: the strip's overlap against the scatter of saw and "
            "board, the share of the friction's range at which it holds, and not splitting. Before you "
            "saw: fitsim fit for the verdict over everything known only as a range, fitsim tilt for the "
            "chance over imperfect cuts."
        ),
        assumed=assumed_table(found.bowl.assumptions, units, sources=False),
        bounds=_bound_lines(units),
    )


def _cut_in_words(found: Plan, answer: PlannedBowl, units: str) -> CutInWords:
    kind = ", ".join(answer.good_for)
    if answer.other_board:
        kind = "with another board, " + _this_board(answer, units)
    return CutInWords(
        title=f"{kind[:1].upper() + kind[1:]}." if kind else "",
        sentence=cut_sentence(answer, units=units),
        first=_stretched_words(found, answer, units),
    )


def _headline(found: Plan) -> str:
    if found.met:
        count = len(found.answers)
        return f"{count} CUTS GIVE WHAT IS WANTED" if count > 1 else "ONE CUT GIVES WHAT IS WANTED"
    if any(a.meets for a in found.answers):
        return "NOT WITH THIS BOARD: the nearest that it gives, and a cut of another board"
    if not any(a.locks for a in found.answers):
        return "CANNOT BE HAD WITH THIS BOARD: the nearest, which does not lock either"
    return "CANNOT BE HAD WITH THIS BOARD: the nearest that was found"


def _board_words(board: OtherBoard, units: str, *, longer: bool) -> str:
    if board.thicker_mm:
        return f"{show_length(board.thicker_mm, units=units)} thicker"
    return f"{show_length(board.wider_mm, units=units)} {'longer and wider' if longer else 'wider'}"


def _this_board(answer: PlannedBowl, units: str) -> str:
    cut = answer.cut
    thick, across = (show_length(v, units=units) for v in (cut.thickness_mm, cut.across_mm))
    narrow = "" if answer.bowl.board.edge is None else " its narrow way"
    return f"{thick} thick and {across} across{narrow}"


def _stretched_words(found: Plan, answer: PlannedBowl, units: str) -> tuple[str, ...]:
    """What was done to a wall to lay it on a board, and whether the board is sawn smaller."""
    said: list[str] = []
    wall, given = answer.wall, found.wishes.wall
    if wall is not None and given is not None:
        moved = max(abs(wall.foot_mm - given.foot_mm), abs(wall.rim_mm - given.rim_mm))
        if moved > 0.5:
            ends = [show_length(v, units=units) for v in (wall.foot_mm, wall.rim_mm)]
            was = [show_length(v, units=units) for v in (given.foot_mm, given.rim_mm)]
            said.append(
                f"The wall was drawn in or out evenly: foot and rim at {ends[0]} and {ends[1]} from the "
                f"middle, for "
                f"{was[0]} and {was[1]}."
            )
    if answer.cut.across_mm < found.bowl.board.across_mm - 0.2 and not answer.other_board:
        chosen = given is None and found.wishes.mouth_mm is None  # by no wish, but by what the whole lacks
        why = ": no cut of the whole board was found to give this" if chosen else ""
        said.append(f"Saw the board {_smaller_board(answer, units)} first{why}.")
    return tuple(said)


def _smaller_board(answer: PlannedBowl, units: str) -> str:
    """What the board is sawn to before the cut begins."""
    across, edge = show_length(answer.cut.across_mm, units=units), answer.bowl.board.edge
    if edge is None:
        return f"{'down to a square of' if answer.bowl.board.outline == 'square' else 'round to'} {across}"
    corner = (
        f", its corners rounded to {show_length(edge.corner_mm, units=units)}" if edge.corner_mm else ""
    )
    if edge.kind == "polygon":
        return f"down to {across} across its flats{corner}"
    long, wide = (show_length(v, units=units) for v in (edge.length_mm, edge.width_mm))
    return f"down to {long} long and {wide} wide{corner}"


def _table(found: Plan, units: str) -> "Table":
    count = len(found.answers)
    table = plain_table("", "wanted", *(str(n) for n in range(1, count + 1)))
    wished = found.answers[0].wishes
    for i, wish in enumerate(wished):
        curve = found.wishes.wall is not None and wish.name == "wall"
        cells = []
        for answer in found.answers:
            here = answer.wishes[i]
            shown = wish_words(here, here.got, units=units, curve=curve)
            cells.append(shown if here.met else f"{shown} (not met)")
        wanted = "the curve" if curve else wish_words(wish, wish.wanted, units=units)
        name = f"{wish.name}, at most" if wish.name == "time" else wish.name
        table.add_row(name, wanted, *cells)
    named = {w.name for w in wished}
    rows: list[tuple[str, list[str]]] = [
        (
            "tilt on the scale",
            [f"{math.degrees(a.bowl.cut.scale_tilt_rad[0]):.2f} deg" for a in found.answers],
        ),
        (
            "pitch, base to rim" if any(len(a.cut.pitches_mm) > 1 for a in found.answers) else "pitch",
            [_short_pitch(a, units) for a in found.answers],
        ),
        ("base", [show_length(2 * a.cut.base_radius_mm, units=units) for a in found.answers]),
        ("turns", [f"{a.pressed.got.turns:.2f}" for a in found.answers]),
        ("rise, let go", [show_length(a.pressed.got.rise_mm, units=units) for a in found.answers]),
        (_mouth_name(found), [show_length(a.pressed.got.mouth_mm, units=units) for a in found.answers]),
        ("volume", [show_volume(a.pressed.got.volume_ml, units=units, tenths=True) for a in found.answers]),
        (
            f"time at the saw, at {feed_words(found.answers[0].bowl, units=units)}",
            [f"{a.pressed.got.time_min:.0f} min" for a in found.answers],
        ),
        ("pressed", [a.pressed.judged.state for a in found.answers]),
        ("likely to lock", [f"{a.lock_chance:.0%}" for a in found.answers]),
        ("split chance", [show_small(a.pressed.judged.numbers.split_chance) for a in found.answers]),
    ]
    for name, cells in rows:
        if name.split(",")[0] not in named and not (name.startswith("time at the saw") and "time" in named):
            table.add_row(name, "", *cells)
    return table


def _mouth_name(found: Plan) -> str:
    """What the row of the mouth is called: where turns are no circles, which way it is measured."""
    if found.bowl.board.edge is None:
        return "mouth, inside"
    ways = {"length": "along the grain", "width": "across the grain"}
    return f"mouth, {ways.get(found.wishes.along or '', 'the narrow way')}"


def _short_pitch(answer: PlannedBowl, units: str) -> str:
    pitches = answer.cut.pitches_mm
    if len(pitches) == 1:
        return show_length(pitches[0], units=units, fine=True)
    first, last = (show_length(p, units=units, fine=True) for p in (pitches[0], pitches[-1]))
    return f"{first.split()[0]} to {last}"


def _pitch_lines(found: Plan, units: str) -> tuple[str, ...]:
    """Pitch of every turn, where it varies."""
    lines: list[str] = []
    for number, answer in enumerate(found.answers, 1):
        if len(answer.cut.pitches_mm) > 1:
            pitches = ", ".join(
                show_length(p, units=units, fine=True).split()[0] for p in answer.cut.pitches_mm
            )
            lines += [f"Pitch of cut {number}, turn by turn from the base [{units}]: {pitches}."]
    return tuple(lines)


def _bound_lines(units: str) -> tuple[str, ...]:
    words = {
        "strip_width": "thinnest strip",
        "strip_width_most": "widest strip",
        "tilt_least": "least tilt",
        "tilt_most": "greatest tilt",
        "foot_share": "least foot over the board's width",
    }
    lines: list[str] = []
    for key, name in words.items():
        b = trade_bounds()[key]
        shown = [
            show_length(v, units=units) if b.unit == "mm" else f"{v:g} {b.unit}".strip()
            for v in (b.value, b.low, b.high)
        ]
        mark = "ESTIMATE" if b.mark == "estimated" else b.mark
        lines.append(f"{name} {shown[0]} ({shown[1]} to {shown[2]}), {mark}: {b.source}.")
    return tuple(lines)
