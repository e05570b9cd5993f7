"""The explanation on a terminal, as ``fitsim explain`` prints it: causes, what to do, what to measure."""

import io
import shlex
import textwrap
from collections.abc import Sequence
from functools import partial

from fitsim.errors import escaped
from fitsim.failure.causes import Cause, CauseChange, causes
from fitsim.failure.next_measurement import NextReading
from fitsim.failure.observations import MEASURES, PLACES, SEEN_WORDS, WHENS, Measure
from fitsim.failure.why_failed import WhyFailed
from fitsim.report.common_words import CAUTIONS
from fitsim.report.failure_in_words import (
    FailureInWords,
    failure_in_words,
    readings_to_look_for,
    unit_word,
)
from fitsim.tables import packaged_file

__all__ = ["explain_list", "explain_report"]

_wrapped = partial(textwrap.wrap, break_on_hyphens=False)


def explain_report(
    answer: WhyFailed,
    *,
    units: str,
    file: str = "FILE",
    typed: Sequence[tuple[str, str]] = (),
    width: int = 88,
) -> str:
    """The answer as text.

    Parameters
    ----------
    answer : WhyFailed
        The answer.
    units : str
        "in" or "mm".
    file : str
        The bowl file, for the line to type next.
    typed : sequence of (str, str)
        Options and their words typed this time, which have to be typed again.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print.
    """
    lines, said = [answer.bowl.name], failure_in_words(answer, units=units)
    seen = "; ".join(said.seen) or "nothing"
    read = "; ".join(said.measured) or "nothing"
    for part in (f"Seen: {seen}. Measured: {read}.", said.headline, *said.warnings, *answer.bowl.notes):
        lines += _wrapped(part, width)
    lines += ["", *_table(said, width)]
    if not answer.nothing_failed:
        lines += _remedies(said, width)
        lines += _next(answer, units, " ".join((_quoted(file), *(_again(*each) for each in typed))), width)
    lines += ["", *_wrapped(said.footing, width), ""]
    lines += _wrapped("At the saw: " + " ".join(CAUTIONS), width)
    return "\n".join(lines) + "\n"


def _table(said: FailureInWords, width: int) -> list[str]:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    stream = io.StringIO()
    console = Console(
        file=stream, width=width, color_system=None, highlight=False, emoji=False, markup=False
    )
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in ("chance", "cause", "what fits best"):
        table.add_column(heading, overflow="fold", no_wrap=heading == "chance")
    for cause in said.causes:
        table.add_row(cause.chance, cause.words, cause.fits)
    if said.others:
        table.add_row(*said.others, "")
    console.print(table)
    return [line.rstrip() for line in stream.getvalue().rstrip("\n").splitlines()]


def _remedies(said: FailureInWords, width: int) -> list[str]:
    head = f"What to do for the next one, by cause (as planned: {said.planned}):"
    lines = ["", *_wrapped(head, width)]
    for cause in said.causes:
        if cause.remedy:
            lines += _wrapped(
                f"{cause.words}: {cause.remedy}", width, initial_indent="  - ", subsequent_indent="    "
            )
    return lines + _wrapped(said.presses, width)


def _next(answer: WhyFailed, units: str, file: str, width: int) -> list[str]:
    if not answer.next_readings:
        told = "Nothing new to measure: no other reading in the list is expected to tell much."
        return ["", *_wrapped(told, width)]
    first, *others = answer.next_readings
    share = 100 * first.gain / max(first.open_nats, 1e-9)
    lines = ["", *_wrapped(f"Measure next: {first.measure.what}.", width)]
    if first.together:
        more = "; ".join(_each_once(first.together))
        lines += _wrapped(f"And: {more}.", width, initial_indent="  ", subsequent_indent="  ")
    says = "what the first alone would say" if first.together else "readings to look for"
    settles = "nearly all" if share >= 99 else f"{share:.0f} %"
    bands = readings_to_look_for(first, units=units)
    tells = f"{says}:" if bands else "no one reading points to another cause by itself."
    lines += _wrapped(
        f"(expected to settle {settles} of what is still open); {tells}", width,
        initial_indent="  ", subsequent_indent="  ",
    )  # fmt: skip
    for band in bands:
        lines += _wrapped(band, width, initial_indent="  - ", subsequent_indent="    ")
    typed = " ".join(_typed(measure, units) for measure in (first.measure, *first.together))
    wrapped = _wrapped(
        f"Then: fitsim explain {file} {typed}", width, initial_indent="  ", subsequent_indent="    ",
        break_long_words=False,
    )  # fmt: skip
    lines += [line.replace(HELD_TOGETHER, " ") for line in wrapped]
    if others:
        lines += _wrapped(f"Next best: {'; '.join(_in_short(o) for o in others)}.", width)
    return lines


def _each_once(measures: Sequence[Measure]) -> list[str]:
    """What to do for each reading, the drops of all turns in one phrase."""
    turns = sorted(int(m.key.removeprefix("drop_")) for m in measures if m.key.startswith("drop_"))
    found = [m.what for m in measures if not m.key.startswith("drop_")]
    if len(turns) == 1:
        found += [m.what for m in measures if m.key.startswith("drop_")]
    elif turns:
        *most, last = map(str, turns)
        found.append(
            "rule or depth gauge: how far the inner neighbour sank below turns "
            f"{', '.join(most)} and {last}, mean of four places each"
        )
    return found


HELD_TOGETHER = "\u00a0"
"""Stands for a blank at which a line is not to be broken."""


def _in_short(reading: NextReading) -> str:
    more = " (and the tool's other readings)" if reading.together else ""
    return reading.measure.what + more


def _again(option: str, words: str) -> str:
    """An option and its words as they are typed."""
    return f"{option}{HELD_TOGETHER}{_quoted(words)}"


def _quoted(words: str) -> str:
    """Words as they are typed, in quotes where they need any."""
    quoted = shlex.quote(escaped(words))
    if quoted.startswith("'") and '"' not in words:
        quoted = quoted.replace("'", '"')
    return quoted.replace(" ", HELD_TOGETHER)


def _typed(measure: Measure, units: str) -> str:
    example = f"... {unit_word(measure, units=units)}" if measure.unit else "..."
    return _again("--measured", f"{measure.key}={example}")


def explain_list(*, width: int = 88, table: tuple[Cause, ...] | None = None) -> str:
    """Words and keys that may be entered, and the causes with their chances.

    Parameters
    ----------
    width : int
        Columns of the terminal.
    table : tuple[Cause, ...] or None
        In place of the packaged causes.

    Returns
    -------
    str
        Ready to print.
    """
    lines = ["What may be seen (--seen, or what = [...] under [seen]):"]

    def row(left: str, right: str) -> None:
        lines.extend(
            _wrapped(f"{left:<24} {right}", width, initial_indent="  ", subsequent_indent=" " * 27)
        )

    for what, meaning in SEEN_WORDS.items():
        row(what, meaning)
    of = {what: [place for place, seen in PLACES.items() if seen == what] for what in ("split", "rocks")}
    lines.append("  After fell through or split: at turn N (1 the innermost).")
    lines += [f"  After {what}: {' or '.join(places)}." for what, places in of.items()]
    lines.append(f"  After any: {' or '.join(WHENS)}. Example: split near the root, after months")
    lines += ["", "What may be measured (--measured key=value, or under [measured]):"]
    for measure in MEASURES:
        own = f"; +- {measure.within:g}{_within_unit(measure.key, measure.unit)} unless you say"
        row(measure.key, measure.what + (own if measure.unit else ""))
    lines += ["", "Causes, chance before anything is seen, and what each changes: quantity, law, middle"]
    lines.append("(estimates; what the columns mean: fitsim guide explain):")
    for cause in causes() if table is None else table:
        row(f"{cause.name} {100 * cause.chance:g} %", f"{cause.words}: {_changes_words(cause)}")
    if table is None:
        place = escaped(str(packaged_file("causes.csv")))
        lines += ["", "The table, to copy and change for --causes:", f"  {place}"]
    return "\n".join(lines) + "\n"


def _changes_words(cause: Cause) -> str:
    """What a cause changes, in the words of its table; what is so or not has no size."""
    return "; ".join(" ".join((change.quantity, *_size_words(change))) for change in cause.changes)


def _size_words(change: CauseChange) -> tuple[str, ...]:
    """Law and middle, where there are such."""
    if change.law == "flag":
        return ()
    return (change.law,) if change.law == "turn" else (change.law, f"{change.middle:g}")


def _within_unit(key: str, unit: str) -> str:
    return " of itself" if key == "press" else f" {unit}"
