"""What ``fitsim explain`` says: causes with their chances, what to do, what to measure next."""

import io
import math
import shlex
import textwrap
from collections.abc import Sequence
from functools import partial

from fitsim.failure.cause_chances import BestFit, CauseChance, percent_words
from fitsim.failure.causes import Cause, causes
from fitsim.failure.explanations import NONE_OF_THESE
from fitsim.failure.failed_samples import LOOKS
from fitsim.failure.next_measurement import Band, NextReading
from fitsim.failure.observations import (
    MEASURES,
    NINETEEN_IN_20,
    PLACES,
    SEEN_WORDS,
    WHENS,
    Measure,
    Measured,
    measure_named,
)
from fitsim.failure.remedies import WANTED, Remedy, Setting
from fitsim.failure.why_failed import ToldCause, WhyFailed
from fitsim.quantities import show_force, show_length, show_number
from fitsim.report.failure_json import cause_in_words
from fitsim.report.wording import CAUTIONS

__all__ = ["explain_list", "explain_report", "show_reading"]

FINE = (
    "kerf",
    "film",
    "slot closed by",
    "wander of the kerf",
    "kerf at the innermost turn",
    "film on each face",
)
WORTH_CHANGING = 0.08
"""Tilt and press are told to be changed only for so much more chance, unless it reaches what is wanted."""

WORTH_SAYING = 0.1
"""A setting that changes the height by more than this share says so: our choice."""

HOPELESS = 0.5
"""A setting for a cause that stays at which fewer than this share lock is no advice: our choice."""

LEAST_BAND = 0.4
"""A stretch of readings whose leading cause is no likelier than this says nothing clear."""


_wrapped = partial(textwrap.wrap, break_on_hyphens=False)


def show_reading(value: float, unit: str, *, units: str, fine: bool = False) -> str:
    """A reading in workshop units.

    Parameters
    ----------
    value : float
        The reading. [unit]
    unit : str
        "mm", "deg", "percent", "N", or "" for a ratio.
    units : str
        "in" or "mm".
    fine : bool
        True for kerfs and films.

    Returns
    -------
    str
        For example "0.65 mm", "4.5 deg", "8 %" or "100 N".

    Examples
    --------
    >>> show_reading(4.53, "deg", units="in"), show_reading(0.655, "mm", units="mm", fine=True)
    ('4.5 deg', '0.66 mm')
    """
    if unit == "mm":
        return show_length(value, units=units, fine=fine)
    if unit == "N":
        return show_force(value, units=units)
    if unit == "deg":
        return f"{value:.1f} deg"
    return f"{value:.0f} %" if unit == "percent" else show_number(float(f"{value:.2g}"))


def _words_of(name: str) -> str:
    known = {cause.name: cause.words for cause in causes()}
    return ", or ".join(
        " and ".join(known.get(part, part) for part in each.split(" and ")) for each in name.split(" or ")
    )


def _fit_words(fit: BestFit, units: str) -> str:
    fine = fit.key in FINE
    value = show_reading(fit.value, fit.unit, units=units, fine=fine)
    if fit.key.startswith("bevel reversed"):
        return f"{fit.key} {fit.value:.0f}, give or take {fit.sd:.0f}"
    if not fit.unit:
        places = 1 if fit.key == "turns not cut" else 2
        against = f", not {fit.planned:.{places}f}" if fit.key == "friction" else ""
        return f"{fit.key} {fit.value:.{places}f}{against}, give or take {fit.sd:.{places}f}"
    sd = show_reading(fit.sd, fit.unit, units=units, fine=fine)
    planned = show_reading(fit.planned, fit.unit, units=units, fine=fine)
    if value == planned:
        return f"{fit.key} about {value}, as planned"
    against = f", not {planned}" if fit.planned else ""
    return f"{fit.key} more like {value}{against}, give or take {sd}"


def _measured_words(reading: Measured, units: str) -> str:
    measure = measure_named(reading.key)
    name = reading.key.replace("_", " ")
    if not measure.unit:
        return f"{name}: {LOOKS[reading.key][int(reading.value)]}"
    fine = reading.key.startswith("kerf")
    half = show_reading(NINETEEN_IN_20 * reading.sd, measure.unit, units=units, fine=fine)
    return f"{name} {show_reading(reading.value, measure.unit, units=units, fine=fine)} +- {half}"


def explain_report(answer: WhyFailed, *, units: str, file: str = "FILE", width: int = 88) -> str:
    """The answer as text.

    Parameters
    ----------
    answer : WhyFailed
        The answer.
    units : str
        "in" or "mm".
    file : str
        The bowl file, for the line to type next.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print.
    """
    lines = [answer.bowl.name]
    observed = answer.explanation.observed
    seen = "; ".join(str(s) for s in observed.seen) or "nothing"
    read = "; ".join(_measured_words(m, units) for m in observed.measured) or "nothing"
    for part in (f"Seen: {seen}. Measured: {read}.", _headline(answer), *_warnings(answer)):
        lines += _wrapped(part, width)
    lines += ["", *_table(answer, units, width)]
    if not answer.nothing_failed:
        lines += _remedies(answer, units, width)
        lines += _next(answer, units, file, width)
    lines += ["", *_wrapped(_footing(answer), width), ""]
    lines += _wrapped("At the saw: " + " ".join(CAUTIONS), width)
    return "\n".join(lines) + "\n"


def _headline(answer: WhyFailed) -> str:
    first = answer.told[0].chance
    if answer.explanation.conflict.contradictory:
        return "CONTRADICTORY: nothing in the list reproduces all of this at once."
    if answer.nothing_failed:
        return (
            "NOTHING FAILED: it opened and stays open, so there is nothing to mend. The list says what the "
            "bowl may have been; if something else was wrong, say it too (fitsim explain --list)."
        )
    if first.name == NONE_OF_THESE:
        return (
            "NOT DECIDED: nothing in the list fits well, so look for what is not in it; "
            f"{_undecided(answer)}."
        )
    if first.chance >= 0.7 and first.reliable:
        return f"LIKELY: {cause_in_words(first)} ({_percent(first)})."
    if first.chance >= 0.4:
        mark = "" if first.reliable else " ?"
        return f"PERHAPS: {cause_in_words(first)} ({_percent(first)}{mark}); {_undecided(answer)}."
    return f"NOT DECIDED: several causes would show the same; {_undecided(answer)}."


def _undecided(answer: WhyFailed) -> str:
    """What to do where the cause is open: measure, unless nothing in the list would tell more."""
    if answer.next_readings:
        return "measure before you cut again"
    return "nothing else in the list of measurements would tell much more"


def _percent(told: CauseChance) -> str:
    return percent_words(told.chance)


def _warnings(answer: WhyFailed) -> list[str]:
    conflict, found = answer.explanation.conflict, []
    if conflict.contradictory:
        odd = conflict.odd_one.replace("_", " ")
        found.append(
            f"What goes least with the rest: {odd}. Look and measure again before you trust the list below."
        )
    if not answer.reliable:
        found.append(
            "Chances marked ? rest on too few samples to be relied on; another --seed may move them."
        )
    return found


def _table(answer: WhyFailed, units: str, width: int) -> list[str]:
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
    for told in answer.told:
        mark = "" if told.chance.reliable else " ?"
        fits = "; ".join(_fit_words(fit, units) for fit in told.fits)
        table.add_row(f"{_percent(told.chance)}{mark}", cause_in_words(told.chance), fits)
    rest = 1 - sum(told.chance.chance for told in answer.told)
    if rest > 0.005:
        table.add_row(f"{100 * rest:.0f} %", f"{len(answer.every) - len(answer.told)} others together", "")
    console.print(table)
    return [line.rstrip() for line in stream.getvalue().rstrip("\n").splitlines()]


def _setting_words(setting: Setting, answer: WhyFailed, units: str) -> str:
    bowl = answer.bowl
    planned = float(sum(bowl.cut.scale_tilt_rad) / len(bowl.cut.scale_tilt_rad))
    parts = []
    if abs(setting.scale_tilt_rad - planned) > 1e-6:
        high = setting.rise_share
        height = (
            f" (about {100 * high:.0f} % of the planned height)" if abs(high - 1) > WORTH_SAYING else ""
        )
        parts.append(f"the scale set to {math.degrees(setting.scale_tilt_rad):.1f} deg{height}")
    if setting.hands_times > 1:
        parts.append(f"a push of up to {show_force(setting.hands_times * bowl.use.press_N, units=units)}")
    if setting.least_friction > 0:
        angle = math.degrees(math.atan(setting.least_friction))
        parts.append(
            f"bevels roughened or chalked until an off-cut on another slides only at {angle:.0f} deg"
        )
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if parts[1:] else parts) or AS_IT_WAS


AS_IT_WAS = "the tilt as planned"


def _out_of_100(setting: Setting, answer: WhyFailed) -> str:
    """The chance of a good bowl: rocking or a wrong height that it was brought for is not there again."""
    seen = {s.what for s in answer.explanation.observed.seen}
    level = " and stand level" if seen & {"rocks", "rim not level"} else ""
    height = " at the planned height" if seen & {"came out shallow", "came out deep"} else ""
    many = math.floor(100 * setting.chance)
    return f"{f'{many} in 100' if many else 'hardly any'} would lock{height}{level}"


def _remedy_sentences(told: ToldCause, remedy: Remedy, answer: WhyFailed, units: str) -> list[str]:
    found = [f"{cure[0].upper()}{cure[1:]}." for cure in remedy.cures]
    done = "That done, with" if remedy.cures else "With"
    if remedy.as_planned is not None and remedy.cured is not None:
        press = show_force(remedy.as_planned.press_N, units=units)
        found.append(
            f"{done} {AS_IT_WAS}, and pressed no harder than it takes (mostly up to {press}), "
            f"{_out_of_100(remedy.as_planned, answer)}."
        )
        if remedy.gentler is not None:
            press = show_force(remedy.gentler.press_N, units=units)
            found.append(
                "Pressed a little at a time, and let go as soon as it stays up (mostly by "
                f"{press}), {_out_of_100(remedy.gentler, answer)}."
            )
        found += [
            f"With {_setting_words(setting, answer, units)}, {_out_of_100(setting, answer)}."
            for setting in _worth_saying(remedy.as_planned, remedy.gentler, remedy.cured)
        ]
    if remedy.still_there is not None:
        words = _setting_words(remedy.still_there, answer, units)
        found.append(
            f"If it stays as it is: with {words}, {_out_of_100(remedy.still_there, answer)}."
            if remedy.still_there.chance >= HOPELESS
            else "If it stays as it is, no tilt or press tried makes even half of them lock."
        )
    every = [s for s in (remedy.cured, remedy.still_there) if s is not None]
    best = max(every, key=lambda s: s.chance, default=None)
    if best is not None and not best.enough:
        found.append(
            f"No tilt, press or friction tried reaches {100 * WANTED:.0f} in 100; most of the rest "
            f"{best.otherwise}."
        )
    return found


def _worth_saying(planned: Setting, gentler: Setting | None, cured: Setting) -> list[Setting]:
    """The least change where it gains enough over what was said before it."""
    before = max([planned, *([] if gentler is None else [gentler])], key=lambda s: s.chance)
    gain = cured.chance - before.chance
    return [cured] if not before.enough and (cured.enough or gain > WORTH_CHANGING) else []


def _remedies(answer: WhyFailed, units: str, width: int) -> list[str]:
    cut, use = answer.bowl.cut, answer.bowl.use
    planned = math.degrees(sum(cut.scale_tilt_rad) / len(cut.scale_tilt_rad))
    press = show_force(answer.explanation.emulator.planned.press_N, units=units)
    most = show_force(use.press_N, units=units)
    planned_words = f"{planned:.1f} deg on the scale, pressed with {press} of the {most} there is"
    head = f"What to do for the next one, by cause (as planned: {planned_words}):"
    lines = ["", *_wrapped(head, width)]
    for told in answer.told:
        if told.remedy is None or told.chance.name == NONE_OF_THESE:
            continue
        text = " ".join(_remedy_sentences(told, told.remedy, answer, units))
        lines += _wrapped(
            f"{cause_in_words(told.chance)}: {text}", width, initial_indent="  - ", subsequent_indent="    "
        )
    return lines


def _edge(value: float, reading: NextReading, units: str) -> str:
    fine = reading.measure.key.startswith("kerf")
    return show_reading(value, reading.measure.unit, units=units, fine=fine)


def _band_words(band: Band, reading: NextReading, units: str) -> str:
    points = f"{_words_of(band.cause)} (then {percent_words(band.chance)})"
    if not reading.measure.unit:
        return f"{LOOKS[reading.measure.key][int(band.low or 0)]}: {points}"
    if band.low is None:
        return f"under {_edge(band.high or 0.0, reading, units)}: {points}"
    if band.high is None:
        return f"over {_edge(band.low, reading, units)}: {points}"
    return f"{_edge(band.low, reading, units)} to {_edge(band.high, reading, units)}: {points}"


def _clear_bands(bands: Sequence[Band]) -> list[Band]:
    if len(bands) == 1:
        return []  # whatever it reads, the order stays
    return [b for b in bands if b.chance >= LEAST_BAND and b.cause != NONE_OF_THESE]


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
    bands = _clear_bands(first.bands)
    tells = f"{says}:" if bands else "no one reading points to another cause by itself."
    lines += _wrapped(
        f"(expected to settle {settles} of what is still open); {tells}", width,
        initial_indent="  ", subsequent_indent="  ",
    )  # fmt: skip
    for band in bands:
        lines += _wrapped(
            _band_words(band, first, units), width, initial_indent="  - ", subsequent_indent="    "
        )
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


def _typed(measure: Measure, units: str) -> str:
    example = f"... {_unit_word(measure, units)}" if measure.unit else "..."
    quoted = shlex.quote(f"{measure.key}={example}").replace("'", '"')
    return f"--measured {quoted}".replace(" ", HELD_TOGETHER)


def _unit_word(measure: Measure, units: str) -> str:
    unit = measure.unit
    return units if unit == "mm" else {"percent": "%"}.get(unit, unit)


def _footing(answer: WhyFailed) -> str:
    told = answer.told[0].chance
    emulator = answer.explanation.emulator
    pressed = (
        f"what {emulator.pressed} bowls like yours did when the strip was pressed"
        if emulator.fitted
        else "rigid seats alone, because too few bowls like yours could be pressed"
    )
    return (
        f"How it was worked out: every cause, and every two at once, tried on made-up bowls by {pressed}; "
        f"the likeliest rests on {told.weighing.weighed.size:.0f} effective samples (standard error of "
        f"its chance {100 * told.se:.1f} %). How common each cause is, how large, and how far the model is "
        "off on what no press tells are ESTIMATES (--list shows them, --causes FILE takes your own)."
    )


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
    lines += ["", "Causes, chance before anything is seen (estimates; a row each in causes.csv):"]
    for cause in causes() if table is None else table:
        row(f"{cause.name} {100 * cause.chance:g} %", cause.words)
    return "\n".join(lines) + "\n"


def _within_unit(key: str, unit: str) -> str:
    return " of itself" if key == "press" else f" {unit}"
