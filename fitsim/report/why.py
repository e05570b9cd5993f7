"""Why a bowl is in its state, in a maker's sentences."""

import math

from fitsim.bowl.closed_form import deciding_numbers
from fitsim.bowl.elastic import ElasticFit
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import FRICTION, with_friction_known
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    NOT_DECIDED,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    DecidingNumbers,
)
from fitsim.quantities import show_force, show_force_upward, show_length
from fitsim.report.common_words import chance_in_words, plain_words
from fitsim.report.press_words import shown_presses
from fitsim.report.verdict_words import dependence_sentence
from fitsim.strip.release import KEPT_SHARE

__all__ = [
    "ALIKE",
    "NEEDLESS",
    "limit_sentence",
    "why",
]

ALIKE = 0.95
"""Share of a press from which another one is told as the same. [-]"""


HARDLY_HELD = 0.8
"""Share of the friction there is from which on a stiff wedge is told to hardly hold: about two degrees more
in ten then take all of it, and the strip, which gives, takes more than a stiff turn: our choice. [-]"""


NEEDLESS = 1.5
"""A press this many times what is asked is told to be needlessly hard: our choice."""


def why(answer: BowlFit, *, units: str) -> str:
    """One sentence on why the bowl is in its state, then what that depends on.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        In a maker's language.
    """
    verdict = answer.verdict
    sentence = _SENTENCES[verdict.state](answer, verdict.worst, units)
    return f"{sentence} {dependence_sentence(verdict.depends_on, units=units)}".strip()


def _why_closed(answer: BowlFit, worst: DecidingNumbers, units: str) -> str:
    sawn, limit_mm = float(answer.rigid.slot.slot_mm.min()), answer.bowl.limits.slot_left_mm
    asked = f"no more than the limit of {show_length(limit_mm, units=units, fine=True)} asked for"
    return (
        f"Of the {show_length(sawn, units=units, fine=True)} the saw opened, film and swelling leave "
        f"{show_length(worst.slot_left_mm, units=units, fine=True)}: "
        f"{asked if worst.slot_left_mm > 0 else 'the faces rub before the bowl moves'}."
    )


def _why_falls(answer: BowlFit, worst: DecidingNumbers, units: str) -> str:
    """Too deep: of stiff turns before the bevels meet, on the strip before they bear."""
    board = answer.bowl.board.thickness_mm
    if not math.isfinite(worst.overlap):
        return "A bevel leans the wrong way: pushed down, its slot opens and the turn never binds."
    drop = (1 - worst.overlap) * board
    thickness, deep = (show_length(v, units=units) for v in (board, drop))
    elastic, opened = answer.elastic is not None, "Pressed open"
    if answer.verdict.state_in_middle != FALLS_THROUGH:
        opened = "At the worst of what is known only as a range, pressed open"
    if worst.overlap <= 0:
        if elastic:
            return (
                f"{opened}, a turn sinks past its neighbour at one place round the bowl before enough "
                f"of the bevels bear. {_meet_sentence(answer, units)}"
            )
        return (
            f"A turn would have to sink {deep} before its bevels meet, and the board is "
            f"{thickness} thick: the turns drop straight through."
        )
    left, asked = _told_apart(worst.overlap, answer.bowl.limits.overlap)
    sunk = f"{opened}, a turn sinks" if elastic else "The bevels meet only after a drop of"
    return f"{sunk} {deep}; {left} of the thickness is left to bear, less than the {asked} asked for."


def _meet_sentence(answer: BowlFit, units: str) -> str:
    """How deep stiff turns sink before their bevels meet, k/sin(theta), of what thickness; what helps."""
    if slips := _slips_sentence(answer):
        return slips
    drop_mm, board_mm = float(answer.rigid.seats.seat_drop_mm.max()), answer.bowl.board.thickness_mm
    drop, thickness = (show_length(v, units=units) for v in (drop_mm, board_mm))
    sink = (
        f"sink {drop} before their bevels meet, of a board {thickness} thick, and the strip gives as well"
    )
    if drop_mm >= board_mm:
        sink = f"would have to sink {drop} before their bevels meet, and the board is {thickness} thick"
    turns = "Stiff turns"
    if answer.verdict.state_in_middle != FALLS_THROUGH:
        turns = "In the middle of the ranges stiff turns"
    return f"{turns} {sink}: with more tilt or a finer kerf they meet sooner."


def _slips_sentence(answer: BowlFit) -> str:
    """That it springs back before a turn falls through; "" where its bevels hold, or stiff turns drop out.

    Bevels that meet in time and slide are driven past one another by the press: with more tilt they only
    slide the more.
    """
    bowl, where = answer.bowl, f"At a friction of {answer.bowl.use.friction:.3g}"
    falls = [
        d.name for d in answer.verdict.depends_on if FALLS_THROUGH in (d.state_at_low, d.state_at_high)
    ]
    if any(name != "friction" for name in falls):
        return ""
    if falls:
        bowl, where = with_friction_known(bowl, bowl.ends_of(FRICTION)[0]), "Where friction is least"
    elif answer.verdict.state_in_middle != FALLS_THROUGH:
        return ""
    stiff, limits = deciding_numbers(bowl), bowl.limits
    if stiff.overlap < limits.overlap or stiff.friction_used < HARDLY_HELD * limits.friction_used:
        return ""
    return (
        f"{where} bevels so steep hardly hold: pressed gently the bowl springs back, pressed harder a turn "
        "falls through. With less tilt it takes less friction to hold, with a finer kerf turns sink less."
    )


def _told_apart(value: float, limit: float) -> tuple[str, str]:
    """A share and its limit in percent, with as many digits as it takes to see which is less."""
    for digits in range(4):
        shown, asked = f"{value:.{digits}%}", f"{limit:.{digits}%}"
        if shown != asked:
            return shown, asked
    return f"a hair under {limit:.0%}", f"{limit:.0%}"


def _why_springs(answer: BowlFit, worst: DecidingNumbers, units: str) -> str:
    """Too little press, or too little friction whatever the press."""
    found = answer.elastic
    if found is None:
        return _why_springs_rigid(worst)
    judged, limit = found.opening.judged, answer.bowl.limits.friction_used
    reach, spare = show_force(found.reach_N, units=units), answer.bowl.limits.press_spare
    if not math.isfinite(judged.asked_N):
        pressed = show_force(found.opening.press_N, units=units)
        return (
            f"Pressed with {pressed} and let go, it springs back, and no press up to {reach} makes it "
            "hold. With less tilt it takes less friction to hold."
        )
    forces_N = (judged.asked_N, judged.needed_N, answer.bowl.use.press_N)
    asked, needed, there = shown_presses(answer, *forces_N[:2], beside_N=forces_N[2:], units=units)
    most_N, up_to = answer.deciding_press_N, ""
    if most_N is not None:
        most = show_force_upward(most_N, units=units)
        up_to = "" if most == asked else f", and up to {most} over all that is not known"
    splits_before = _splits_before(found, judged.asked_N, units)
    if judged.friction > answer.bowl.use.friction:
        return (
            f"In the middle of the friction's range no press up to {reach} makes it hold; where friction "
            f"is greatest it needs a press of {asked}, {spare:g} times the {needed} from which it holds "
            f"there, and there are {there}.{splits_before} With less tilt it takes less friction to hold."
        )
    if judged.share > 1:
        middle = "" if math.isnan(judged.least_needs_N) else " in the middle of the friction's range"
        return (
            f"It needs a press of {asked}, {spare:g} times the {needed} from which it holds{middle}"
            f"{up_to}, and there are {there}{_to_spare(judged.needed_N, answer)}: with less than {needed} "
            f"it springs back.{splits_before}"
        )
    if answer.bowl.use.press_N < spare * judged.least_needs_N < math.inf:
        return _short_where_friction_is_least(answer, found, units)
    with_less = any(d.name == "press" and d.state_at_low == SPRINGS_BACK for d in answer.verdict.depends_on)
    if not with_less and (worst.friction_used > limit or worst.kept < KEPT_SHARE):
        return _slides_at_the_worst(answer, found, worst, units)
    splits = _split_so_pressed(answer)
    return (
        f"It needs a press of {asked}, {spare:g} times the {needed} from which it holds"
        f"{_at_asking_friction(answer)}{up_to}; with less than {needed} it springs back"
        f"{f', and with {asked} {splits}' if splits else ''}.{splits_before}"
    )


def _why_springs_rigid(worst: DecidingNumbers) -> str:
    """The bevel against the friction alone."""
    if math.isinf(worst.friction_used):
        return "Without friction nothing holds a bevel: the turns slide back when you let go."
    return (
        f"The bevel is steeper than friction can hold: it needs {worst.friction_used:.2g} times the "
        "friction there is, so the turns slide back when you let go."
    )


def _short_where_friction_is_least(answer: BowlFit, found: ElasticFit, units: str) -> str:
    """Press enough in the middle of the friction's range, and too little where friction is least."""
    judged, spare = found.opening.judged, answer.bowl.limits.press_spare
    forces_N = (spare * judged.least_needs_N, judged.least_needs_N, answer.bowl.use.press_N)
    asked, needed, there = shown_presses(answer, *forces_N[:2], beside_N=forces_N[2:], units=units)
    enough = show_force_upward(judged.asked_N, units=units)
    at_middle = f"{enough} would do: slide one off-cut on another to know it better."
    if splits := _split_so_pressed(answer):
        at_middle = f"{enough} would make it hold, but {splits} at that."
    return (
        f"Where friction is least it needs a press of {asked}, {spare:g} times the {needed} from which "
        f"it holds there, and there are {there}{_to_spare(judged.least_needs_N, answer)}: with less "
        f"than {needed} it springs back. In the middle of the friction's range {at_middle}"
        f"{_splits_before(found, max(forces_N[0], judged.asked_N), units)}"
    )


def _slides_at_the_worst(answer: BowlFit, found: ElasticFit, worst: DecidingNumbers, units: str) -> str:
    """Press enough, and too little friction at the unfavourable end of what is known only as a range."""
    used = max(worst.friction_used, found.opening.numbers.friction_used)
    times = f"{used:.2g} times" if 1 < used < math.inf else "more than"
    if math.isinf(worst.press_asked):
        rubs = any(u.path == "use.friction" for u in answer.bowl.uncertain)
        where = "Where friction is least" if rubs else "At an end of what is known only as a range"
        reach = show_force(found.reach_N, units=units)
        return (
            f"{where} no press up to {reach} makes it hold: let go, it "
            f"asks for {times} the friction there is, and slides back. "
            f"{_press_sentence(answer, found, units)}"
        )
    pressed = show_force(found.opening.press_N, units=units)
    return (
        f"Pressed with {pressed} and let go, it asks for {times} the friction there is where that is "
        f"least, and slides back. {_press_sentence(answer, found, units)}"
    )


def _to_spare(needed_N: float, answer: BowlFit) -> str:
    """Where there is press enough to make it hold, but not with the spare."""
    return ", too little to spare" if answer.bowl.use.press_N > needed_N else ""


def _at_asking_friction(answer: BowlFit) -> str:
    """Words for what makes the press so hard, where the middle of the friction would ask for less."""
    found = answer.elastic
    if found is None or not _asks_at_less_friction(answer, found):
        return ""
    if found.press_needed_N >= ALIKE * found.opening.judged.needed_N:
        return ""
    return " where friction is least favourable"


def _asks_at_less_friction(answer: BowlFit, found: ElasticFit) -> bool:
    """Whether the press is that of a friction below the middle of its range."""
    return found.opening.judged.friction < answer.bowl.use.friction


def _press_sentence(answer: BowlFit, found: ElasticFit, units: str) -> str:
    """What press it would need, in the middle of the ranges, and whether it would split under that."""
    if math.isinf(found.press_needed_N):
        reach = show_force(found.reach_N, units=units)
        return f"In the middle of the ranges no press up to {reach} makes it hold."
    judged, others = found.opening.judged, ""
    needed_N = found.press_needed_N
    if math.isnan(needed_N):
        needed_N, others = judged.needed_N, "other "
    splits = _split_so_pressed(answer)
    pressed = show_force(found.opening.press_N, units=units)
    return (
        f"In the middle of the {others}ranges it holds after {show_force(needed_N, units=units)}"
        f"{f', but pressed with {pressed} {splits}' if splits else ''}."
        f"{_splits_before(found, answer.bowl.limits.press_spare * needed_N, units)}"
    )


def _split_so_pressed(answer: BowlFit) -> str:
    """How many split at the press a bowl is judged at, where they are too many in the middle of all."""
    margin = answer.verdict.margins[STATES.index(SPLIT_RISK)]
    return "" if margin.value < margin.limit else f"{chance_in_words(margin.value)} would split"


def _splits_before(found: ElasticFit, press_N: float, units: str) -> str:
    """Beside a press that makes a bowl hold: that the wood does not stand so much; "" where it does."""
    if not found.split_press_N < press_N:
        return ""
    split = show_force(found.split_press_N, units=units)
    return f" From a press of about {split} on 1 in 10 or more would split."


def _split_words(answer: BowlFit, found: ElasticFit, where: str = "") -> str:
    """How many split in the middle of all ranges, and the reach of that beside it."""
    margin = answer.verdict.margins[STATES.index(SPLIT_RISK)]
    wood = found.split_range
    low, high = min(margin.best, wood.low), max(margin.worst, wood.high)
    likely, least, most = (chance_in_words(v) for v in (margin.value, low, high))
    if likely == most:
        return f"{likely} would split{where}"
    # Two reaches stand in the tables, each under its name: the wider end of either is told with its own.
    by = {high == wood.high}
    reach = f"up to {most}"
    if likely != least:
        by.add(low == wood.low)
        reach = f"{least} to {most}"
    of = " and ".join(words for is_wood, words in _REACHES.items() if is_wood in by)
    return f"{likely} would split{where} ({reach} over {of})"


_REACHES = {False: "all that is known only as a range", True: "what is not known of the wood"}
"""What moves a chance of splitting: the ranges of the margins, or (True) what no bowl file holds."""


def limit_sentence(answer: BowlFit, found: ElasticFit, *, units: str) -> str:
    """Up to which press a bowl stays safe: at more than that 1 in 10 splits or more, or a turn drops out.

    Parameters
    ----------
    answer, found : BowlFit, ElasticFit
        The fit, and its elastic strip.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        A sentence with a blank before it; "" where that is not known.
    """
    if math.isfinite(found.split_press_N):
        most = show_force(found.split_press_N, units=units)
        return f" Fewer than 1 in 10 split up to a press of about {most}."
    if found.opening.press_N < found.falls_beyond_N < math.inf:
        most = show_force(found.falls_beyond_N, units=units)
        # What is not known of the wood hardly moves it; friction, kerf, film and moisture do.
        ranged = [u for u in answer.bowl.uncertain if not u.path.startswith(("board.wood.", "use.press"))]
        where = ", in the middle of the ranges" if ranged else ""
        return f" No turn falls through up to a press of about {most}{where}."
    return ""


def _needless_sentence(answer: BowlFit, units: str) -> str:
    """That all the press there is would be too much, where it would."""
    found = answer.elastic
    if found is None or not math.isfinite(found.opening.judged.asked_N):
        return ""
    there, asked = answer.bowl.use.press_N, found.opening.judged.asked_N
    if not there > NEEDLESS * asked:
        return ""
    would = f"{chance_in_words(found.chance_at_press)} would split"
    if not math.isfinite(found.chance_at_press):
        would = "what it would do could not be followed so far"
        if found.split_press_N < there:
            would = "more than 1 bowl in 10 would split"
        elif found.falls_beyond_N < there:
            would = "a turn would fall through"
    return f" Pressing with all of {show_force(there, units=units)} is needlessly hard: {would}."


def _why_splits(answer: BowlFit, _worst: DecidingNumbers, units: str) -> str:
    found = answer.elastic
    if found is None:
        raise ValueError("of a bowl that was not pressed nothing is known of splitting")
    place = found.opening.stress.worst
    clock = math.degrees(place.clock_rad)
    return (
        f"Pressed with the {show_force(found.opening.press_N, units=units)} it takes"
        f"{' where friction is least' if _asks_at_less_friction(answer, found) else ''}, "
        f"{_split_words(answer, found)}, likeliest on turn {place.turn}, "
        f"seen from the bowl's centre {clock:.0f} deg from the grain ({plain_words(place.cause)})."
        f"{limit_sentence(answer, found, units=units)}{_needless_sentence(answer, units)}"
    )


def _why_locks(answer: BowlFit, _worst: DecidingNumbers, units: str) -> str:
    if answer.elastic is None:
        return _why_locks_rigid(answer, units)
    found = answer.elastic
    numbers = found.opening.numbers
    rise = show_length(found.rise_at_rest_mm, units=units)
    pressed, needed = (
        show_force(v, units=units) for v in (found.opening.press_N, found.opening.judged.needed_N)
    )
    return (
        f"Pressed with {pressed} and let go, the rim stands {rise} high and keeps {numbers.kept:.0%} of "
        f"its rise; {_bears_words(answer)} and {_takes_words(answer)}. It holds from a press of {needed}"
        f"{_at_asking_friction(answer)}. "
        f"{_sentence_case(_split_words(answer, found, ' on opening'))}."
        f"{limit_sentence(answer, found, units=units)}{_needless_sentence(answer, units)}"
    )


def _sentence_case(words: str) -> str:
    return words[:1].upper() + words[1:]


def _bears_words(answer: BowlFit) -> str:
    """How much of the thickness bears in the middle of all ranges, and at their unfavourable end."""
    margin = answer.verdict.margins[STATES.index(FALLS_THROUGH)]
    likely, least = f"{margin.value:.0%}", f"{margin.worst:.0%}"
    return f"{likely} of the thickness still bears{'' if likely == least else f' (at least {least})'}"


def _takes_words(answer: BowlFit) -> str:
    """How much of the friction holding takes in the middle of all ranges, and at their unfavourable end."""
    margin = answer.verdict.margins[STATES.index(SPRINGS_BACK)]
    likely, most = f"{margin.value:.0%}", f"{margin.worst:.0%}"
    return f"holding takes {likely} of the friction{'' if likely == most else f' (up to {most})'}"


def _why_locks_rigid(answer: BowlFit, units: str) -> str:
    drops = answer.rigid.seats.seat_drop_mm
    low, high = (show_length(float(v), units=units) for v in (drops.min(), drops.max()))
    drop = low if low == high else f"{low} to {high}"
    return f"Each turn sinks {drop} and wedges: {_bears_words(answer)}; {_takes_words(answer)}."


def _why_undecided(answer: BowlFit, numbers: DecidingNumbers, units: str) -> str:
    return (
        "The strip could not be followed as hard as it has to be pressed, so nothing is said of this bowl: "
        "the numbers below are the geometry's alone. A thicker board, fewer turns or a narrower slot "
        "can be followed."
    )


_SENTENCES = {
    NOT_DECIDED: _why_undecided,
    WILL_NOT_OPEN: _why_closed,
    FALLS_THROUGH: _why_falls,
    SPRINGS_BACK: _why_springs,
    SPLIT_RISK: _why_splits,
    LOCKS: _why_locks,
}
