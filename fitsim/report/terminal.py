"""The answer on a terminal: a short verdict first, then tables, then what was assumed."""

import io
import math
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from fitsim.assumption import Assumption
from fitsim.bowl.changes import TriedChange
from fitsim.bowl.fit import WOOD_VALUES_USED, BowlFit
from fitsim.bowl.verdict import Margin
from fitsim.quantities import lengths_in, share_beside, show_length, show_number, show_small, show_volume
from fitsim.report.advised_test import advised_test
from fitsim.report.common_words import CAUTIONS, cut_in_words, plain_source, plain_words, taken_as
from fitsim.report.press_tables import (
    TRIED_IN_THE_MIDDLE,
    changes_table,
    elastic_cells,
    plain_table,
    press_table,
    rise_rows,
)
from fitsim.report.verdict_words import OUTSIDE_MODEL, model_sentence, verdict_line
from fitsim.report.why import why
from fitsim.rigidbody.check import RigidBodyCheck
from fitsim.wood.species import PROPERTIES, Wood

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

__all__ = [
    "assumed_table",
    "bowl_table",
    "check_sentences",
    "fit_report",
    "margin_table",
    "printed",
    "saw_table",
    "turn_table",
    "wood_report",
    "wood_table",
    "woods_report",
]

WIDTH = 88


def _console(width: int, *, color: bool) -> tuple["Console", io.StringIO]:
    from rich.console import Console

    stream = io.StringIO()
    console = Console(
        file=stream, width=width, force_terminal=color, no_color=not color, highlight=False,
        emoji=False, markup=False, legacy_windows=False,
    )  # fmt: skip
    return console, stream


def printed(parts: Iterable[object], *, width: int = WIDTH, color: bool = False) -> str:
    """Sentences and tables as they stand on a terminal.

    Parameters
    ----------
    parts : iterable of object
        Sentences, tables, and headlines as tuples of one sentence, in their order.
    width : int
        Columns of the terminal.
    color : bool
        True to send the terminal's bold codes.

    Returns
    -------
    str
        Ready to print.
    """
    console, stream = _console(width, color=color)
    for part in parts:
        if isinstance(part, tuple):
            console.print(*part, style="bold")
        else:
            console.print(part)
    return stream.getvalue()


def fit_report(
    answer: BowlFit,
    *,
    units: str,
    check: RigidBodyCheck | None = None,
    tried: tuple[TriedChange, ...] = (),
    sources: bool = False,
    width: int = WIDTH,
    color: bool = False,
) -> str:
    """The whole answer as text.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".
    check : RigidBodyCheck or None
        The rigid-body check, if it was run.
    tried : tuple[TriedChange, ...]
        Changes, if they were tried.
    sources : bool
        Say where every assumed value comes from, and list the wood's values too.
    width : int
        Columns of the terminal.
    color : bool
        True to send the terminal's bold codes.

    Returns
    -------
    str
        Ready to print.
    """
    console, stream = _console(width, color=color)
    console.print(answer.bowl.name)
    console.print(verdict_line(answer), style="bold")
    console.print(why(answer, units=units))
    advised = advised_test(answer, units=units)
    if advised:
        console.print(advised)
    for note in answer.notes:
        console.print(note)
    console.print()
    for table in (
        bowl_table(answer, units),
        margin_table(answer, units),
        turn_table(answer, units, check),
        *([] if answer.elastic is None else [press_table(answer, answer.elastic, units)]),
        *([changes_table(tried, units)] if tried else []),
    ):
        console.print(table)
        console.print()
    if tried:
        console.print(TRIED_IN_THE_MIDDLE)
        console.print()
    if check is not None:
        console.print(" ".join(check_sentences(check, units)).strip())
    console.print(model_sentence(answer))
    console.print()
    console.print(saw_table(answer, units))
    console.print()
    _print_assumed(console, answer, units, sources=sources)
    console.print("The model does not see: " + "; ".join(OUTSIDE_MODEL) + ".")
    console.print("Beyond the model, sized for this bowl (estimates unless said otherwise):")
    for row in answer.left_out:
        known = "" if row.mark == "estimated" else f" ({row.mark})"
        console.print(lengths_in(f"- {row.name}: {row.size}{known}.", units))
    console.print()
    console.print("At the saw: " + " ".join(CAUTIONS))
    console.print()
    # A long answer scrolls its first lines away: say the verdict again where the eye ends up.
    console.print(f"{answer.bowl.name}: {verdict_line(answer)}", style="bold")
    return stream.getvalue()


def bowl_table(answer: BowlFit, units: str) -> "Table":
    """Wood, turns, rise and the open bowl's measures.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    rich.table.Table
        Two columns.
    """
    shape, bowl = answer.standing.shape, answer.bowl
    table = plain_table("The bowl", "")
    table.add_row("wood", bowl.board.wood.name)
    cut, strip = answer.rigid.slot.turns, answer.rigid.strip.turns
    table.add_row("turns of the cut", f"{cut:.2f}, the strip {strip:.2f} to the nail")
    if shape is None:
        shut = answer.rigid.numbers.slot_left_mm <= 0
        table.add_row("rise", f"none: a turn {'will not open' if shut else 'falls through'}")
        return table
    if answer.elastic is not None:
        rise_rows(table, answer.elastic, units)
    else:
        ends = (shape.rise_least_mm, shape.rise_greatest_mm)
        least, greatest = (show_length(v, units=units) for v in ends)
        table.add_row("rise of the rim, stiff turns", show_length(shape.rise_mm, units=units))
        table.add_row("low to high side of the rim, stiff turns", f"{least} to {greatest}")
    # Of a bowl that springs back nothing is left to measure but what stands under the hand.
    held = "" if answer.elastic is None or answer.standing.let_go else ", while pressed"
    table.add_row(f"height outside{held}", show_length(shape.height_mm, units=units))
    table.add_row(f"slope of the wall, from level{held}", f"{math.degrees(shape.wall_slope_rad):.0f} deg")
    both_ways = (shape.mouth_length_mm, shape.mouth_width_mm)
    table.add_row(f"mouth, inside{held}", _either(shape.rim_diameter_mm, both_ways, units))
    both_ways = (shape.base_length_mm, shape.base_width_mm)
    table.add_row("base, on the table", _either(shape.base_diameter_mm, both_ways, units))
    table.add_row(f"volume inside, to the stepped rim{held}", show_volume(shape.capacity_ml, units=units))
    return table


def _either(diameter_mm: float, both_ways_mm: tuple[float | None, float | None], units: str) -> str:
    """A diameter, or length and width of what is not round."""
    ways = [v for v in both_ways_mm if v is not None]
    return " by ".join(show_length(v, units=units) for v in ways or [diameter_mm])


def _share(margin: Margin, value: float, units: str) -> str:
    if margin.unit == "mm":
        return show_length(value, units=units, fine=True)
    if not math.isfinite(value):
        return "none" if value < 0 else "lets go"
    if margin.quantity == "overlap" and value <= 0:
        return "none"
    return show_small(value) if 0 < value < 0.01 else share_beside(value, margin.limit)


_LIMIT_WORDS = {
    "will not open": "more than {}",
    "falls through": "at least {}",
    "springs back": "at most {}",
    "split risk": "below {}",
}


def margin_table(answer: BowlFit, units: str) -> "Table":
    """How far the bowl is from each state.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    rich.table.Table
        One row for each of the first four states.
    """
    table = plain_table("How far from", "decided by", "now", "worst to best\nof the ranges", "must be", "")
    for m in answer.verdict.margins:
        worst, best = (_share(m, v, units) for v in (m.worst, m.best))
        table.add_row(
            m.state,
            m.quantity,
            _share(m, m.value, units),
            worst if worst == best else f"{worst} to {best}",
            _LIMIT_WORDS[m.state].format(_share(m, m.limit, units)),
            ("", "MAY FAIL", "FAILS")[m.at_worst + m.at_best],
        )
    return table


def _used(share: float) -> str:
    """Share of the friction that is used; with hardly any friction it would be a row of digits."""
    return f"{share:.2f}" if share < 100 else "lets go"


def turn_table(answer: BowlFit, units: str, check: RigidBodyCheck | None = None) -> "Table":
    """One row a turn; neighbours that read alike share a row.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".
    check : RigidBodyCheck or None
        The rigid-body check, if it was run.

    Returns
    -------
    rich.table.Table
        Innermost first.
    """
    found = answer.elastic
    heads = ["Turn, innermost first", "seat drop", "overlap", "friction used"]
    if found is not None:
        # What a turn asks for at rest, for information: not the friction used that decides.
        heads = ["Turn, innermost first", "kerf / sin(tilt)", "drop pressed", "overlap"]
        heads.append("friction used\nat rest")
    table = plain_table(*heads, *(["drop in the rigid-body check"] if check else []))
    seats = answer.rigid.seats
    rows: list[tuple[int, int, list[str]]] = []
    for j in range(len(seats.share)):
        drop, overlap = float(seats.seat_drop_mm[j]), float(seats.overlap[j])
        cells = [
            show_length(drop, units=units, fine=True) if math.isfinite(drop) else "never binds",
            *(
                [f"{overlap:.2f}" if overlap > 0 else "none", _used(float(answer.rigid.friction_used[j]))]
                if found is None
                else elastic_cells(found, j, units)
            ),
            *([_checked_drop(check, j, units)] if check else []),
        ]
        if rows and rows[-1][2] == cells:
            rows[-1] = (rows[-1][0], j + 1, cells)
        else:
            rows.append((j + 1, j + 1, cells))
    for first, last, cells in rows:
        name = f"{first}" if first == last else f"{first} to {last}"
        tail = float(seats.share[-1])
        if last == len(seats.share) and tail < 0.999:
            name += f" (the last {tail:.2f} of a turn)"
        table.add_row(name, *cells)
    return table


def _checked_drop(check: RigidBodyCheck, turn: int, units: str) -> str:
    if turn in check.untried:
        return "not met by the section"
    if turn in check.seats.fell_through:
        return "fell through"
    drop = float(check.seat_drop_mm[turn])
    if not check.seats.settled or not math.isfinite(drop):
        return "not settled"
    return show_length(drop, units=units, fine=True)


_TRIED = {
    "let go": "let go",
    "turn over": "turned upside down",
    "shake": "shaken",
}


def check_sentences(check: RigidBodyCheck, units: str) -> tuple[str, str]:
    """What the rigid-body check found, and how well its engine came to rest.

    Parameters
    ----------
    check : RigidBodyCheck
        The check.
    units : str
        "in" or "mm".

    Returns
    -------
    tuple[str, str]
        How the rings were tried and whether they held; the engine's own residuals, "" where it did not
        come to rest.
    """
    seats = check.seats
    s, rest = seats.settings, seats.rests[0]
    if not seats.settled:
        return "The rigid-body check did not come to rest: its numbers are left out.", ""
    off = show_length(s.offset_mm, units=units, fine=True)
    text = (
        f"Rigid-body check, an independent engine: the same rings, stiff, up to {off} off centre, pressed "
        f"with {s.press_N:.3g} N."
    )
    if check.untried:
        which = " and ".join(str(turn + 1) for turn in check.untried)
        text += f" Turn {which} does not reach round to both sides of the section, and was not tried."
    how = (
        f"At rest the greatest overlap of bodies is {rest.penetration_mm:.4f} mm (slop {s.slop_mm:.4f} mm, "
        f"step {s.step_s:.2g} s, {s.iterations} passes)."
    )
    if check.hold is None:
        return text, how
    tried = [
        f"{_TRIED[r.stage]}: {'not settled' if r.held is None else 'holds' if r.held else 'slips'}"
        for r in check.hold.rests[1:]
    ]
    h = check.hold.settings
    if not tried:
        return f"{text} The holding test did not come to rest.", how
    return f"{text} Pressed with {h.press_N:.0f} N at friction {h.friction:.2g}, {', '.join(tried)}.", how


def saw_table(answer: BowlFit, units: str) -> "Table":
    """What to know before the cut: setting, length, blade, nail.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    rich.table.Table
        Two columns.
    """
    bowl, nail = answer.bowl, answer.nail
    table = plain_table("For the saw", "")
    tilts = sorted({round(math.degrees(t), 2) for t in bowl.cut.scale_tilt_rad})
    table.add_row("tilt of the table", ", ".join(f"{t:g} deg" for t in tilts))
    if bowl.cut.scale_offset_rad:
        true = sorted({round(math.degrees(t), 2) for t in bowl.cut.tilt_rad})
        table.add_row("true tilt then, by the saw file", ", ".join(f"{t:g} deg" for t in true))
    length, time = cut_in_words(answer, units=units)
    table.add_row("length of the cut", length)
    table.add_row("time it takes", time)
    table.add_row("tightest radius", show_length(answer.rigid.slot.tightest_mm, units=units))
    if answer.least_radius is not None:
        low, high = answer.least_radius.low_mm, answer.least_radius.high_mm
        ends = [show_length(v, units=units) for v in (low, high)]
        table.add_row("least radius of the blade", " to ".join(dict.fromkeys(ends)))
    lengths = [show_length(v, units=units) for v in (nail.least_mm, nail.greatest_mm)]
    if nail.diameter_mm:
        table.add_row("nail for the free end, length", " to ".join(lengths))
        size = " x ".join(
            show_length(v, units=units, fine=True) for v in (nail.diameter_mm, nail.length_mm)
        )
        stock = show_length(nail.length_mm, units=units)
        cut = f", cut down to {lengths[1]}" if nail.cut_down and lengths[1] != stock else ""
        table.add_row("nearest stock nail", size + cut)
        holes = [show_length(v, units=units, fine=True) for v in (nail.pilot_low_mm, nail.pilot_high_mm)]
        table.add_row("pilot hole", " to ".join(dict.fromkeys(holes)))
    else:
        table.add_row("nail", "none fits: tie or glue the free end")
    return table


def assumed_table(assumptions: Sequence[Assumption], units: str, *, sources: bool) -> "Table":
    """What was assumed, or not measured, with its range and mark.

    Parameters
    ----------
    assumptions : sequence of Assumption
        Of a bowl.
    units : str
        "in" or "mm".
    sources : bool
        Say where every value comes from.

    Returns
    -------
    rich.table.Table
        One row for each.
    """
    heads = ("Assumed: not given, or not measured", "taken as", "known as", *(("from",) if sources else ()))
    table = plain_table(*heads)
    for column in table.columns[1:]:
        column.justify = "left"
    for a in assumptions:
        mark = "ESTIMATE" if a.mark == "estimated" else a.mark
        table.add_row(
            plain_words(a.key),
            taken_as(a, units=units),
            mark,
            *((plain_source(a.source),) if sources else ()),
        )
    return table


def _print_assumed(console: "Console", answer: BowlFit, units: str, *, sources: bool) -> None:
    if answer.bowl.assumptions:
        console.print(assumed_table(answer.bowl.assumptions, units, sources=sources))
    if sources:
        console.print()
        console.print(wood_table(answer))
    else:
        console.print(
            "Where each value comes from: add --sources. All values of the wood: "
            f'fitsim woods "{answer.bowl.board.wood.name}".'
        )
    console.print()


def wood_table(answer: BowlFit) -> "Table":
    """Every value of the wood that reaches an answer, with its source.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    rich.table.Table
        One row for each.
    """
    wood = answer.bowl.board.wood
    table = plain_table(f"{wood.name}, at 12 % moisture", "value", "known as", "from")
    table.columns[2].justify = table.columns[3].justify = "left"
    for name in WOOD_VALUES_USED:
        number = getattr(wood, name)
        mark = "ESTIMATE" if number.mark == "estimated" else number.mark
        table.add_row(
            plain_words(f"wood.{name}"), _wood_value(name, number.value), mark, plain_source(number.source)
        )
    return table


def _wood_value(name: str, value: float) -> str:
    """A property of a wood with the unit that its field name carries."""
    if name.endswith("_MPa"):
        return f"{show_number(value)} MPa"
    if name.endswith("_per_point"):
        return f"{show_number(100 * value)} %"
    return f"{show_number(value)} %" if name.endswith("_percent") else show_number(value)


def woods_report(woods: tuple[Wood, ...], *, width: int = WIDTH) -> str:
    """The wood list, one line each.

    Parameters
    ----------
    woods : tuple[Wood, ...]
        The woods.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        A table.
    """
    console, stream = _console(width, color=False)
    heads = ("density\nkg/m3", "stiffness\nMPa", "strength\nMPa", "swelling\n%", "estimated\nvalues")
    table = plain_table("Wood", *heads)
    for wood in woods:
        table.add_row(
            wood.name,
            f"{wood.density_kg_m3:.0f}",
            f"{wood.E_L_MPa.value:.0f}",
            f"{wood.shear_along_MPa.value:.1f}",
            f"{100 * wood.swell_T_per_point.value:.2f}",
            f"{len(wood.estimated_fields)} of {len(PROPERTIES)}",
        )
    console.print(table)
    console.print(
        "\nStiffness is that along the grain, strength that against sliding along the grain, swelling that "
        "along the growth rings for each percent of moisture; estimated values are those without a source."
    )
    console.print("All values of one wood with their sources: fitsim woods NAME")
    return stream.getvalue()


def wood_report(wood: Wood, *, width: int = WIDTH) -> str:
    """Every property of one wood with its range, mark and source.

    Parameters
    ----------
    wood : Wood
        The wood.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        A property a paragraph, its source under it.
    """
    lines = textwrap.wrap(f"{wood.name} ({wood.botanical}), {wood.group}, at 12 % moisture", width)
    for name in PROPERTIES:
        number = getattr(wood, name)
        low, high = (_wood_value(name, v) for v in (number.low, number.high))
        ends = "" if number.low == number.high else f" ({low} to {high})"
        mark = "ESTIMATE" if number.mark == "estimated" else number.mark
        told = f"{plain_words(f'wood.{name}')}: {_wood_value(name, number.value)}{ends}, {mark}"
        lines += ["", *textwrap.wrap(told, width, subsequent_indent="    ")]
        lines += textwrap.wrap(
            plain_source(number.source), width, initial_indent="    ", subsequent_indent="    "
        )
    return "\n".join(lines) + "\n"
