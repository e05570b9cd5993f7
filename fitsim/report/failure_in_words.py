"""A failed bowl in words: what ``fitsim explain`` and the page say of it, however it is set out."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, SPRINGS_BACK, WILL_NOT_OPEN
from fitsim.failure.cause_chances import BestFit, CauseChance, percent_words
from fitsim.failure.causes import causes
from fitsim.failure.explanations import AS_PLANNED, NONE_OF_THESE
from fitsim.failure.failed_samples import LOOKS
from fitsim.failure.matching import DEEP, OF_RISE, SHALLOW, state_seen
from fitsim.failure.next_measurement import OR, Band, NextReading
from fitsim.failure.observations import NINETEEN_IN_20, Measure, Measured, measure_named
from fitsim.failure.remedies import OUTCOMES, USUAL_PRESS, WANTED, NextSetting, Remedy, press_there_is_N
from fitsim.failure.why_failed import ToldCause, WhyFailed
from fitsim.quantities import show_force, show_length, show_number

__all__ = [
    "CauseInWords",
    "FailureInWords",
    "cause_in_words",
    "failure_in_words",
    "readings_to_look_for",
    "show_reading",
    "there_is_words",
    "unit_word",
]

FINE = (
    "kerf",
    "film",
    "slot closed by",
    "wander of the kerf",
    "kerf at the innermost turn",
    "film on each face",
)
LEAST_ON_RULE_mm = 25.4 / 16
"""An uncertainty smaller than this is told in thousandths of an inch: sixty-fourths round it off. [mm]"""

WORTH_CHANGING = 0.08
"""Tilt and press are told to be changed only for so much more chance, unless it reaches what is wanted."""

WORTH_SAYING = 0.1
"""A setting that changes the height by more than this share says so: our choice."""

HOPELESS = 0.5
"""A setting for a cause that stays at which fewer than this share lock is no advice: our choice."""

WORTH_A_SENTENCE_SD = 0.8
"""What a range is found to be is said in a sentence where it lies so many standard deviations of the range
from its middle: our choice."""

ALL_OF_IT = 0.995
"""From this share of the press there is on, all of it is given."""

LEAST_BAND = 0.4
"""A stretch of readings whose leading cause is no likelier than this says nothing clear."""

WORTH_A_ROW = 0.005
"""What is left over for all other causes is told where it does not round to nothing."""

AS_IT_WAS = "the tilt as planned"
MOSTLY = "mostly up to"
"""Before a press that most of the next bowls need no more than."""


@dataclass(frozen=True)
class CauseInWords:
    """One cause as it is told.

    Attributes
    ----------
    chance : str
        In percent, with a question mark where too few samples carry it.
    words : str
        What went wrong.
    fits : str
        The sizes that fit best.
    remedy : str
        What to do for the next bowl; "" where nothing can be said.
    """

    chance: str
    words: str
    fits: str
    remedy: str


@dataclass(frozen=True)
class FailureInWords:
    """What there is to say of a failed bowl, each sentence once; nothing is set out here.

    Attributes
    ----------
    seen, measured : tuple[str, ...]
        What was seen and what was read, one by one.
    headline : str
        The likeliest cause, or that none is clear.
    warnings : tuple[str, ...]
        Why the list may not be trusted; empty where it may.
    causes : tuple[CauseInWords, ...]
        The causes told, the likeliest first.
    others : tuple[str, ...]
        Chance of all other causes together, and how many they are; empty where it is next to none.
    planned : str
        The tilt and the press that the remedies set out from.
    presses : str
        Of which bowls the presses told are, and why the plan's is another; "" where none is told.
    footing : str
        What the chances rest on.
    """

    seen: tuple[str, ...]
    measured: tuple[str, ...]
    headline: str
    warnings: tuple[str, ...]
    causes: tuple[CauseInWords, ...]
    others: tuple[str, ...]
    planned: str
    presses: str
    footing: str


def failure_in_words(answer: WhyFailed, *, units: str) -> FailureInWords:
    """Say what there is to say of a failed bowl.

    Parameters
    ----------
    answer : WhyFailed
        The answer.
    units : str
        "in" or "mm".

    Returns
    -------
    FailureInWords
        Sentences and short words.
    """
    observed = answer.explanation.observed
    told = tuple(_cause(each, answer, units) for each in answer.told)
    return FailureInWords(
        seen=tuple(str(s) for s in observed.seen),
        measured=tuple(_measured_words(m, units) for m in observed.measured),
        headline=_headline(answer, units),
        warnings=tuple(_warnings(answer, units)),
        causes=told,
        others=_others(answer),
        planned=_planned(answer, units),
        presses=_presses(answer, told, units),
        footing=_footing(answer),
    )


def cause_in_words(told: CauseChance) -> str:
    """A cause in full words.

    Parameters
    ----------
    told : CauseChance
        The cause.

    Returns
    -------
    str
        For example "the tilt was not what the scale said".
    """
    if told.name == AS_PLANNED:
        return "the plan itself, with the usual scatter of saw, wood and hand"
    if told.name == NONE_OF_THESE:
        return "none of these: something not in the list"
    return "; and ".join(cause.words for cause in told.weighing.hypothesis.causes)


def _others(answer: WhyFailed) -> tuple[str, ...]:
    rest = 1 - sum(told.chance.chance for told in answer.told)
    count = len(answer.every) - len(answer.told)
    named = "1 other" if count == 1 else f"{count} others together"
    return (f"{100 * rest:.0f} %", named) if rest > WORTH_A_ROW else ()


def _planned(answer: WhyFailed, units: str) -> str:
    cut = answer.bowl.cut
    tilt = math.degrees(sum(cut.scale_tilt_rad) / len(cut.scale_tilt_rad))
    emulator = answer.explanation.emulator
    if emulator.meant is not None and emulator.meant.state == WILL_NOT_OPEN:
        return f"{tilt:.1f} deg on the scale; by the numbers of the file it will not open"
    press = show_force(emulator.planned.press_N, units=units)
    most = there_is_words(answer.bowl, units=units)
    return f"{tilt:.1f} deg on the scale, pressed with {press} of the {most} there is"


def _presses(answer: WhyFailed, told: Sequence[CauseInWords], units: str) -> str:
    """Of which bowls the presses told are, and why the plan's is another; "" where none is told."""
    if not any(MOSTLY in cause.remedy for cause in told):
        return ""
    said = (
        f"{MOSTLY[:1].upper()}{MOSTLY[1:]}: {100 * USUAL_PRESS:.0f} in 100 of the bowls that fit the cause "
        "need no more, each a little off the plan in kerf, tilt and friction"
    )
    emulator = answer.explanation.emulator
    if emulator.meant is None or emulator.meant.state != LOCKS:
        return f"{said}."
    press = show_force(emulator.planned.press_N, units=units)
    ranged = any(u.path == "use.friction" for u in answer.bowl.uncertain)
    least = ", at the least friction of its range if hands and wood allow" if ranged else ""
    return f"{said}; the {press} as planned is for the numbers of the file alone{least}."


def _cause(told: ToldCause, answer: WhyFailed, units: str) -> CauseInWords:
    mark = "" if told.chance.reliable else " ?"
    remedy = ""
    if told.remedy is not None and told.chance.name != NONE_OF_THESE:
        remedy = " ".join(_remedy_sentences(told.remedy, answer, units))
    return CauseInWords(
        chance=f"{percent_words(told.chance.chance)}{mark}",
        words=cause_in_words(told.chance),
        fits="; ".join(_fit_words(fit, answer, units) for fit in told.fits),
        remedy=remedy,
    )


def readings_to_look_for(reading: NextReading, *, units: str) -> tuple[str, ...]:
    """Stretches of a next reading and the cause each would point to.

    Parameters
    ----------
    reading : NextReading
        The reading.
    units : str
        "in" or "mm".

    Returns
    -------
    tuple[str, ...]
        One line each; empty where no stretch points to another cause clearly.
    """
    return tuple(_band_words(band, reading, units) for band in _clear_bands(reading.bands))


def unit_word(measure: Measure, *, units: str) -> str:
    """Unit in which a reading is typed.

    Parameters
    ----------
    measure : Measure
        What is read.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "mm", "%" or "" for none.
    """
    unit = measure.unit
    return units if unit == "mm" else {"percent": "%"}.get(unit, unit)


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
    >>> show_reading(8.0, "percent", units="in"), show_reading(0.6, "percent", units="in")
    ('8 %', '0.6 %')
    """
    if unit == "mm":
        return show_length(value, units=units, fine=fine)
    if unit == "N":
        return show_force(value, units=units)
    if unit == "deg":
        return f"{value:.1f} deg"
    return f"{round(value, 1):g} %" if unit == "percent" else show_number(float(f"{value:.2g}"))


def _words_of(name: str) -> str:
    known = {cause.name: cause.words for cause in causes()}
    return ", or ".join(
        " and ".join(known.get(part, part) for part in each.split(" and ")) for each in name.split(" or ")
    )


def _fit_words(fit: BestFit, answer: WhyFailed, units: str) -> str:
    fine = fit.key in FINE
    value, sd, planned = (
        show_reading(of, fit.unit, units=units, fine=fine) for of in (fit.value, fit.sd, fit.planned)
    )
    if not fit.unit:
        places = 0 if fit.key.startswith("bevel reversed") else 1 if fit.key == "turns not cut" else 2
        value, sd, planned = (f"{of:.{places}f}" for of in (fit.value, fit.sd, fit.planned))
        against = f", not {planned}" if fit.key == "friction" and value != planned else ""
        return f"{fit.key} {value}{against}{_give_or_take(sd)}"
    if value == planned:
        return f"{fit.key} about {value}, as planned"
    against = f", not {planned}" if fit.planned else ""
    if fit.key == "press" and fit.value > press_there_is_N(answer.bowl):
        against += f" ({_all_there_is(answer.bowl, units)})"
    return f"{fit.key} more like {value}{against}{_give_or_take(sd)}"


def _give_or_take(sd: str) -> str:
    """How far off a value may be; of one that is certain to the last figure shown, nothing."""
    return f", give or take {sd}" if re.search("[1-9]", sd) else ""


def there_is_words(bowl: Bowl, *, units: str) -> str:
    """How hard the maker can press, as the bowl file has it.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        One force, or the range that is known.
    """
    known = dict.fromkeys(bowl.ends_of("use.press_N"))
    return " to ".join(show_force(force, units=units) for force in known)


def _all_there_is(bowl: Bowl, units: str) -> str:
    most = show_force(press_there_is_N(bowl), units=units)
    low, high = bowl.ends_of("use.press_N")
    return f"{most} is {'all there is by your file' if low == high else 'the most that a push is taken as'}"


def _measured_words(reading: Measured, units: str) -> str:
    measure = measure_named(reading.key)
    name = reading.key.replace("_", " ")
    if not measure.unit:
        return f"{name}: {LOOKS[reading.key][int(reading.value)]}"
    fine = reading.key.startswith("kerf")
    within = NINETEEN_IN_20 * reading.sd
    # What a rule's marks are too coarse for is told in thousandths.
    half_fine = fine or (units == "in" and measure.unit == "mm" and within < LEAST_ON_RULE_mm)
    half = show_reading(within, measure.unit, units=units, fine=half_fine)
    return f"{name} {show_reading(reading.value, measure.unit, units=units, fine=fine)} +- {half}"


def _headline(answer: WhyFailed, units: str) -> str:
    first = answer.told[0].chance
    if answer.explanation.conflict.against_file:
        return "CONTRADICTORY: what you found on the bevels is not what the bowl file has on them."
    if answer.explanation.conflict.contradictory:
        return "CONTRADICTORY: nothing in the list reproduces all of this at once."
    if answer.nothing_failed:
        return _held_words(answer, units)
    if first.name == NONE_OF_THESE:
        return f"NOTHING IN THE LIST FITS WELL, so look for what is not in it; {_undecided(answer)}."
    if first.chance >= 0.7 and first.reliable:
        return (
            f"LIKELY: {cause_in_words(first)} ({percent_words(first.chance)}).{_range_words(answer, units)}"
        )
    if first.chance >= 0.4:
        mark = "" if first.reliable else " ?"
        return (
            f"PERHAPS: {cause_in_words(first)} ({percent_words(first.chance)}{mark}); {_undecided(answer)}."
            f"{_range_words(answer, units)}"
        )
    return f"SEVERAL CAUSES FIT: they would all show the same; {_undecided(answer)}."


def _range_words(answer: WhyFailed, units: str) -> str:
    """Which end of a range what was found asks for, where the plan itself may do it."""
    found = []
    for fit in answer.told[0].fits:
        if fit.low is not None and fit.high is not None and fit.moved >= WORTH_A_SENTENCE_SD:
            value, low, high = (
                show_reading(of, fit.unit, units=units, fine=fit.key in FINE)
                for of in (fit.value, fit.low, fit.high)
            )
            found.append(
                f" {fit.key[0].upper()}{fit.key[1:]} is known only as {low} to {high}; what you found goes "
                f"best with about {value}."
            )
    return "".join(found)


def _rise_apart(answer: WhyFailed) -> tuple[Measured, str] | None:
    """A measured rise of a bowl that held and was not called shallow or deep, and what it is."""
    observed, planned = answer.explanation.observed, answer.explanation.emulator.planned.rise_mm
    if state_seen(observed.seen) != "held" or {s.what for s in observed.seen} & set(OF_RISE):
        return None
    for reading in observed.measured:
        if reading.key == "rise" and reading.value < SHALLOW * planned:
            return reading, "shallow"
        if reading.key == "rise" and reading.value > DEEP * planned:
            return reading, "deep"
    return None


NOT_EXPECTED = {
    WILL_NOT_OPEN: "not to open",
    FALLS_THROUGH: "to fall through",
    SPRINGS_BACK: "to spring back",
}
"""What the plan was said to do, where it would not have held."""


def _held_words(answer: WhyFailed, units: str) -> str:
    """What there is to say of a bowl that held, whatever the plan was said to do."""
    apart, meant = _rise_apart(answer), answer.explanation.emulator.meant
    if apart is None:
        said = "NOTHING FAILED: it opened and stays open, so no remedy is needed."
    else:
        said = f"IT HELD, and came out {apart[1]}: it opened and stays open."
    expected = NOT_EXPECTED.get(meant.state if meant is not None else "")
    if expected:
        said += f" The plan was expected {expected}; it held, so something is more favourable than planned."
        moved = [_fit_words(fit, answer, units) for fit in answer.told[0].fits if fit.moved]
        if moved:
            said += f" As far as it can be told: {'; '.join(moved)}."
    return (
        f"{said} The list says what the bowl may have been; if something else was wrong, say it too "
        "(fitsim explain --list)."
    )


def _undecided(answer: WhyFailed) -> str:
    """What to do where the cause is open: measure, unless nothing in the list would tell more."""
    if answer.next_readings:
        return "measure before you cut again"
    return "nothing else in the list of measurements would tell much more"


ODD_ONES = {
    "held": "that the bowl holds, which what you saw implies",
    "no split": "that no split was seen",
}
"""Words for what contradicts the rest where it is nothing that was written down by that name."""


def _odd_words(name: str) -> str:
    what = name.removesuffix(" at first")
    when = " at the first opening" if what != name else ""
    if what.startswith("not: "):
        return f'that nobody says "{what.removeprefix("not: ")}"{when}'
    return f"{ODD_ONES.get(what, what.replace('_', ' '))}{when}"


def _warnings(answer: WhyFailed, units: str) -> list[str]:
    conflict, found = answer.explanation.conflict, []
    if conflict.against_file:
        found.append(
            f"By the bowl file each face has a film of {_film_words(answer.bowl, units)}, and you found "
            "bare wood: one of the two is wrong. Scrape again at several places; if the wood is bare, film "
            "did not shut the slot, so set the film to 0 and ask again before you trust the list below."
        )
    elif conflict.contradictory:
        found.append(
            f"What goes least with the rest: {_odd_words(conflict.odd_one)}. Look and measure again before "
            "you trust the list below."
        )
    there_is = press_there_is_N(answer.bowl)
    for reading in answer.explanation.observed.measured:
        if reading.key == "press" and reading.value - NINETEEN_IN_20 * reading.sd > there_is:
            found.append(
                f"You pressed with {show_force(reading.value, units=units)}, and "
                f"{_all_there_is(answer.bowl, units)}: one of the two is wrong."
            )
    apart = _rise_apart(answer)
    if apart is not None:
        reading, how = apart
        rise, planned = (
            show_length(of, units=units)
            for of in (reading.value, answer.explanation.emulator.planned.rise_mm)
        )
        found.append(
            f"The rise of {rise} is {how} against the {planned} planned. If that is what is wrong, add "
            f'--seen "came out {how}", and what to change is told too.'
        )
    if not answer.reliable:
        found.append(
            "Chances marked ? rest on too few samples to be relied on; another --seed may move them."
        )
    return found


def _film_words(bowl: Bowl, units: str) -> str:
    known = dict.fromkeys(bowl.ends_of("use.film_mm"))
    return " to ".join(show_length(film, units=units, fine=True) for film in known)


def _setting_words(setting: NextSetting, answer: WhyFailed, units: str) -> str:
    bowl = answer.bowl
    planned = float(sum(bowl.cut.scale_tilt_rad) / len(bowl.cut.scale_tilt_rad))
    parts = []
    if abs(setting.scale_tilt_rad - planned) > 1e-6:
        parts.append(f"the scale set to {math.degrees(setting.scale_tilt_rad):.1f} deg")
    if setting.most_film_mm is not None:
        most = show_length(setting.most_film_mm, units=units, fine=True)
        parts.append(
            f"thinner or fewer coats, a film of at most {most} on each face"
            if setting.most_film_mm > 0
            else "no film on the bevels"
        )
    high = setting.rise_share
    if parts and abs(high - 1) > WORTH_SAYING:
        parts[-1] += f" (about {100 * high:.0f} % of the planned height)"
    if setting.least_friction > 0:
        angle = math.degrees(math.atan(setting.least_friction))
        parts.append(
            f"bevels roughened or chalked until an off-cut on another slides only at {angle:.0f} deg"
        )
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if parts[1:] else parts) or AS_IT_WAS


def _out_of_100(setting: NextSetting, answer: WhyFailed) -> str:
    """The chance of a good bowl: rocking or a wrong height that it was brought for is not there again."""
    seen = {s.what for s in answer.explanation.observed.seen}
    level = " and stand level" if seen & {"rocks", "rim not level"} else ""
    height = " at the planned height" if seen & {"came out shallow", "came out deep"} else ""
    many = math.floor(100 * setting.chance)
    split = (
        f" and {100 * setting.split_chance:.0f} in 100 would split"
        if setting.split_chance >= answer.bowl.limits.split_chance
        else ""
    )
    return f"{f'{many} in 100' if many else 'hardly any'} would lock{height}{level}{split}"


def _pressed_words(setting: NextSetting, answer: WhyFailed, units: str) -> str:
    """How hard the next bowls are pressed; where there is too little for many of them, that too."""
    there_is = press_there_is_N(answer.bowl)
    most = show_force(setting.press_N, units=units)
    if setting.wanted_N <= there_is or setting.press_N < ALL_OF_IT * there_is:
        if setting.wanted_N > setting.press_N / ALL_OF_IT and setting.otherwise == OUTCOMES[2]:
            return f"pressed with all you seem to have (hardly more than {most}; many of them take more)"
        # Bowls that mostly do not open are pressed with next to nothing: that is no advice.
        shut = setting.chance < HOPELESS and setting.otherwise == OUTCOMES[0]
        return "pressed no harder than it takes" + ("" if shut else f" ({MOSTLY} {most})")
    if any(s.what == "split" for s in answer.explanation.observed.seen):
        return f"pressed with no more than the {most} there is, too little for many of them"
    wanted = show_force(setting.wanted_N, units=units)
    up_to = f", up to {wanted}" if math.isfinite(setting.wanted_N) else ""
    return f"pressed with the {most} there is (many of them take more{up_to})"


def _remedy_sentences(remedy: Remedy, answer: WhyFailed, units: str) -> list[str]:
    found = [f"{cure[0].upper()}{cure[1:]}." for cure in remedy.cures]
    done = "That done, with" if remedy.cures else "With"
    if remedy.as_planned is not None and remedy.cured is not None:
        found.append(
            f"{done} {AS_IT_WAS}, and {_pressed_words(remedy.as_planned, answer, units)}, "
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
            else "If it stays as it is, no tilt tried makes even half of them lock."
        )
    every = [s for s in (remedy.cured, remedy.still_there) if s is not None]
    best = max(every, key=lambda s: s.chance, default=None)
    if best is not None and not best.enough:
        tried = "tilt, film or friction" if remedy.less_film else "tilt or friction"
        found.append(
            f"No {tried} tried reaches {100 * WANTED:.0f} in 100; most of the rest {best.otherwise}."
        )
    return found


def _worth_saying(
    planned: NextSetting, gentler: NextSetting | None, cured: NextSetting
) -> list[NextSetting]:
    """The least change where it gains enough over what was said before it."""
    before = max([planned, *([] if gentler is None else [gentler])], key=lambda s: s.chance)
    gain = cured.chance - before.chance
    return [cured] if not before.enough and (cured.enough or gain > WORTH_CHANGING) else []


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
    named = [set(band.cause.split(OR)) for band in bands]
    if not named or set.intersection(*named):
        return []  # whatever it reads, the order stays
    return [b for b in bands if b.chance >= LEAST_BAND and b.cause != NONE_OF_THESE]


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
        f"the likeliest rests on what amounts to {told.weighing.weighed.size:.0f} that fit (standard error "
        f"of its chance {100 * told.se:.1f} %). How common each cause is, how large, and how far the model "
        "is off on what no press tells are ESTIMATES (--list shows the first two, --causes FILE takes your "
        "own)."
    )
