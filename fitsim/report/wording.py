"""The answer in a maker's sentences: why this state, what it depends on, what to watch at the saw."""

import math
import re
from collections.abc import Sequence

from fitsim.assumption import Assumption
from fitsim.bowl.elastic import ElasticFit
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    NOT_DECIDED,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
    DecidingNumbers,
    Dependence,
    Verdict,
)
from fitsim.quantities import (
    FEED,
    INCH_MM,
    KILOGRAM_N,
    LENGTH,
    POUND_N,
    FINE_BELOW_mm,
    lengths_in,
    read_quantity,
    show_force,
    show_force_upward,
    show_length,
)
from fitsim.saw.break_test import believed_range_MPa, untested
from fitsim.saw.deciding_test import (
    STRENGTH,
    OpenInput,
    board_factor_at,
    most_telling_test,
    open_inputs,
    state_sentences,
)
from fitsim.strip.release import KEPT_SHARE

__all__ = [
    "BLADE_OUT",
    "CAUTIONS",
    "FIRST_ESTIMATES",
    "ON_THE_STRIP",
    "OUTSIDE_MODEL",
    "SETTLE_IT",
    "TEST_CAUTIONS",
    "advised_test",
    "by_hand_alone",
    "chance_in_words",
    "cut_in_words",
    "deciding_press_N",
    "dependence_sentence",
    "feed_words",
    "limit_sentence",
    "model_sentence",
    "named_states",
    "other_states",
    "plain_source",
    "plain_words",
    "show_input",
    "show_needed_press",
    "shown_presses",
    "taken_as",
    "told_states",
    "verdict_line",
    "why",
]

BLADE_OUT = (
    "At the mark switch off, wait until the blade stands still, unplug, then ease the board back along the "
    "slot by hand, off the standing blade."
)
"""How the blade gets out of a slot that ends inside the board: common practice, no published source."""

CAUTIONS = (
    "Unplug the saw before you change or clean the blade.",
    "Keep the guards on and the upper guide just above the board; fingers never in line with the blade.",
    "A tilted table lets the board slide: stop it. While the blade runs never back out of a long curve.",
    BLADE_OUT,
    "Wear eye protection and a dust mask.",
    "Press with the flat of the hand, face to the side: a strip that splits lets go suddenly.",
    "The saw's own manual and your workshop's rules come first.",
)

TEST_CAUTIONS = (
    "Saw off-cuts only while the piece is large enough to hold with both hands far from the blade; "
    "guide thin strips with a mitre gauge or a sled, and pick them up when the blade stands still.",
    "A strip breaks suddenly: eye protection, face to the side, feet clear, something soft under it.",
    "Stay with the oven, no hotter than 103 C (217 F), and put nothing finished or glued into it.",
)
"""Beside the others wherever someone is sent to slide, break or dry off-cuts."""

OUTSIDE_MODEL = (
    "knots, checks, wild grain and grain that dives out of the board",
    "kerf that wanders along the cut",
)

FIRST_ESTIMATES = (
    "Stiff turns only, by the hand formula: holding is the taper rule tan(tilt)/friction, a first "
    "estimate. The press, the give of the strip, the root and the nail are not in it, and it knows nothing "
    "of splitting."
)

ON_THE_STRIP = (
    "The verdict rests on the strip as one elastic piece of clear wood, held fast at the root, pressed "
    "open on its bevels with friction and let go; a nail driven flat holds its end. The chance of "
    "splitting counts all the wood that works, however little of it is weak, on the first opening, the "
    "root held by a base that does not give. The slot's sharp end adds stress of its own: a small hole "
    "drilled where the cut will end takes the sharpness away."
)

PLAIN = {
    "wood.E_L_MPa": "stiffness along the grain",
    "wood.E_R_MPa": "stiffness across the grain, across the rings",
    "wood.E_T_MPa": "stiffness across the grain, along the rings",
    "wood.tension_across_MPa": "strength pulled across the grain",
    "wood.bending_strength_MPa": "strength bent along the grain",
    "wood.swell_L_per_point": "swelling along the grain, for each percent of moisture",
    "wood.swell_R_per_point": "swelling across the rings, for each percent of moisture",
    "wood.swell_T_per_point": "swelling along the rings, for each percent of moisture",
    "wood.nu_LR": "share by which it thins across the rings when pulled along the grain",
    "wood.nu_LT": "share by which it thins along the rings when pulled along the grain",
    "wood.nu_RT": "share by which it thins along the rings when pulled across them",
    "wood.green_ratio_modulus": "stiffness dry over stiffness wet",
    "wood.green_ratio_bending": "strength in bending, dry over wet",
    "wood.green_ratio_shear": "strength against sliding, dry over wet",
    "wood.intersection_moisture_percent": "moisture above which it weakens no more",
    "wood.crushing_across_MPa": "strength against being crushed across the grain",
    "wood.shrink_R_percent": "shrinking across the rings, from wet to dry",
    "wood.shrink_T_percent": "shrinking along the rings, from wet to dry",
    "wood.specific_gravity": "weight, of that of water",
    "wood.G_LR_MPa": "stiffness against sliding along the grain, across the rings",
    "wood.G_LT_MPa": "stiffness against sliding along the grain, along the rings",
    "wood.G_RT_MPa": "stiffness of fibres against rolling",
    "wood.shear_along_MPa": "strength against sliding along the grain",
    "wood.rolling_shear_MPa": "strength of fibres against rolling",
    "scatter of shear along": "scatter of strength against sliding along the grain",
    "scatter of rolling shear": "scatter of strength against rolling",
    "scatter of tension across": "scatter of strength pulled across the grain",
    "size effect of strength across the grain, Weibull shape": (
        "how strength across the grain falls with size"
    ),
    "scatter of shear within a board, Weibull shape": "scatter of strength against sliding within a board",
    "size effect of rolling shear, volume of the test piece": (
        "test piece of strength against rolling, volume it stands for"
    ),
    "size effect of shear along the grain: none; if there is one, volume of the test block": (
        "strength against sliding falls with size: not taken so; if it did, volume of the test block"
    ),
    "strength in rolling shear": "the strength of fibres against rolling",
    "size effect of rolling shear": "how strength against rolling falls with size",
    "size effect of shear along the grain": "how strength against sliding falls with size",
    "rolling shear": "fibres rolling",
    "shear along the grain": "sliding along the grain",
    "tension across the grain": "pulled across the grain",
    "bending along the grain": "bent along the grain",
}
"""What a maker is told in place of a textbook's term; ``fitsim guide words`` has both side by side."""


def plain_words(name: str) -> str:
    """The name of a quantity as a maker would say it.

    Parameters
    ----------
    name : str
        Key of an assumption, or a textbook's term.

    Returns
    -------
    str
        Plain words; the name itself where it is plain already.

    Examples
    --------
    >>> plain_words("rolling shear"), plain_words("kerf")
    ('fibres rolling', 'kerf')
    """
    return PLAIN.get(name, name)


def plain_source(source: str) -> str:
    """Where a value comes from, its one textbook's letter put in a maker's words.

    Parameters
    ----------
    source : str
        As the data have it.

    Returns
    -------
    str
        The same.

    Examples
    --------
    >>> plain_source("0.106 x E_L, mean ratio")
    '0.106 x stiffness along the grain, mean ratio'
    """
    return source.replace("E_L", PLAIN["wood.E_L_MPa"])


def taken_as(assumed: Assumption, *, units: str) -> str:
    """What an assumption was taken as, with its reach, in the reader's units.

    Parameters
    ----------
    assumed : Assumption
        The assumption.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "1/4 in (13/64 in to 23/64 in)"; what stands in those units already, as it was written.
    """
    value, low, high = (_in_units(v, units) for v in (assumed.value, assumed.low, assumed.high))
    alone = assumed.low == assumed.high or " to " in value
    return value if alone else f"{value} ({low} to {high})"


def _in_units(text: str, units: str) -> str:
    """A length or a feed as the reader has it; every other quantity as it is."""
    if units == "in":
        feed = re.fullmatch(r"([0-9.]+) mm/min", text)
        return f"{float(feed[1]) / float(INCH_MM):.0f} in/min" if feed else lengths_in(text, units)
    if not text.endswith(" in"):
        return text
    length_mm = float(read_quantity(text, LENGTH))
    return show_length(length_mm, units=units, fine=length_mm < FINE_BELOW_mm)


SETTLE_IT = {
    "friction": "slide one off-cut on another and note the angle: fitsim testcut --new FILE",
    "press": "push straight down on a bathroom scale with the flat of the hand",
    "scale error": "set the table with a bevel gauge, or saw another test ring at a much different tilt",
    "kerf": "saw a short slot and measure it with a feeler gauge",
    "film": "measure a scrap with callipers before and after finishing, and halve the difference",
    "strength across the grain": "break strips cut across the grain: fitsim testcut --new FILE",
}
"""How a maker can find out an input that decides the verdict."""


def verdict_line(answer: BowlFit) -> str:
    """The verdict in capitals; both ends if they differ, and the middle if it is a third.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        For example "LOCKS" or "SPRINGS BACK, or LOCKS: it depends on friction".
    """
    capitals = [state.upper() for state in named_states(answer.verdict)]
    told = f"{_either(capitals)}{_depends_words(answer.verdict)}"
    return f"BY THE HAND FORMULA ALONE: {told}" if by_hand_alone(answer) else told


def by_hand_alone(answer: BowlFit) -> bool:
    """Whether the states of an answer are those of the hand formula, which is no verdict.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    bool
        Not where slots are shut or the strip could not be followed: that is told the same, pressed or not.
    """
    told = set(named_states(answer.verdict))
    return answer.elastic is None and not told & {WILL_NOT_OPEN, NOT_DECIDED}


def named_states(verdict: Verdict) -> tuple[str, ...]:
    """Every state that the headline of an answer names.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    tuple[str, ...]
        The one at the unfavourable ends first, the one at the favourable ends last; one state where it is
        certain.
    """
    if verdict.state == verdict.state_at_best:
        return (verdict.state,)
    told = {
        verdict.state_in_middle,
        *(s for d in verdict.depends_on for s in (d.state_at_low, d.state_between, d.state_at_high)),
    }
    between = [s for s in STATES if s in told - {verdict.state, verdict.state_at_best}]
    return (verdict.state, *between, verdict.state_at_best)


def told_states(verdict: Verdict) -> str:
    """The same in words, without what it depends on.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    str
        For example "springs back" or "falls through, or springs back".
    """
    return _either(named_states(verdict))


def _either(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)}, or {last}" if others else last


def other_states(verdict: Verdict) -> str:
    """What the bowl may be beside the state it is at the unfavourable ends, and on what that depends.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    str
        Such as "or locks: it depends on friction"; "" where one state is certain.
    """
    others = told_states(verdict).removeprefix(verdict.state).removeprefix(", ")
    return f"{others}{_depends_words(verdict)}" if others else ""


def _depends_words(verdict: Verdict) -> str:
    """What it depends on which of several states a bowl comes to; "" where one is certain."""
    names = " and ".join(d.name for d in verdict.depends_on)
    return f": it depends on {names}" if names and len(named_states(verdict)) > 1 else ""


def chance_in_words(chance: float) -> str:
    """Say a chance as a maker would.

    Parameters
    ----------
    chance : float
        Between 0 and 1. [-]

    Returns
    -------
    str
        "fewer than 1 bowl in 1000", "about 1 bowl in 9", "about 6 bowls in 10", "nearly every bowl": to
        the nearest.

    Examples
    --------
    >>> chance_in_words(0.11), chance_in_words(0.0001), chance_in_words(0.51)
    ('about 1 bowl in 9', 'fewer than 1 bowl in 1000', 'about 5 bowls in 10')
    """
    if chance < 0.001:
        return "fewer than 1 bowl in 1000"
    if chance > 0.9:
        return "nearly every bowl"
    if chance > 0.35:
        return f"about {math.floor(chance * 10 + 0.5)} bowls in 10"
    times = 1 / chance
    return f"about 1 bowl in {round(times) if times < 20 else round(times, -1):g}"


def cut_in_words(answer: BowlFit, *, units: str) -> tuple[str, str]:
    """How long the cut is and how long it takes, as terminal, page and sheet tell it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    length, time : str
        For example "4.86 m" and "about 12 to 49 min, 24 at 200 mm/min (assumed)"; of a feed that the file
        gives one time.
    """
    length_mm, feed_mm_per_min = answer.cut_length_mm, answer.bowl.cut.feed_mm_per_min
    assumed = next((a for a in answer.bowl.assumptions if a.key == "cut.feed"), None)
    length = f"{length_mm / 1000:.2f} m" if units == "mm" else f"{length_mm / 304.8:.1f} ft"
    likely, feed = _minutes(length_mm / feed_mm_per_min), feed_words(answer.bowl, units=units)
    if assumed is None:
        return length, f"about {likely} min at {feed}"
    quick, slow = (
        _minutes(length_mm / float(read_quantity(end, FEED))) for end in (assumed.high, assumed.low)
    )
    return length, f"about {quick} to {slow} min, {likely} at {feed}"


def feed_words(bowl: Bowl, *, units: str) -> str:
    """How fast the board is fed, and whether the file says so.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "12 in/min" or "200 mm/min (assumed)".
    """
    feed_mm_per_min, assumed = bowl.cut.feed_mm_per_min, any(a.key == "cut.feed" for a in bowl.assumptions)
    marked = " (assumed)" if assumed else ""
    if units == "mm":
        return f"{feed_mm_per_min:g} mm/min{marked}"
    # What nobody measured has no three figures.
    return f"{feed_mm_per_min / 25.4:{'.1g' if assumed else '.3g'}} in/min{marked}"


def _minutes(time_min: float) -> str:
    """Whole minutes, of a short cut the first figure."""
    return f"{time_min:.0f}" if time_min >= 1 else f"{time_min:.1g}"


def show_input(value: float, unit: str, *, units: str) -> str:
    """Show one end of an uncertain input.

    Parameters
    ----------
    value : float
        In ``unit``. [mm, rad, MPa or -]
    unit : str
        "mm", "rad", "MPa" or "".
    units : str
        "in" or "mm" for lengths.

    Returns
    -------
    str
        For example "0.25", "0.035 in" or "125 MPa".
    """
    if unit == "mm":
        return show_length(value, units=units, fine=True)
    if unit == "rad":
        return f"{math.degrees(value):.1f} deg"
    return f"{value:.3g} {unit}".strip()


def dependence_sentence(depends_on: tuple[Dependence, ...], *, units: str) -> str:
    """Say what the verdict depends on, or "" when it is certain.

    Parameters
    ----------
    depends_on : tuple[Dependence, ...]
        From the verdict.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        One or more sentences.
    """
    sentences = []
    for d in depends_on:
        low, high = (show_input(end, d.unit, units=units) for end in (d.low, d.high))
        if d.state_at_low != d.state_at_high:
            at_low, at_high = state_sentences((d.state_at_low, d.state_at_high), may_be=d.may_be)
            sentences.append(f"It depends on {d.name}: at {low} {at_low}, at {high} {at_high}.")
    if depends_on and not sentences:
        names = " and ".join(d.name for d in depends_on)
        together = " together" if len(depends_on) > 1 else ""
        sentences.append(f"It depends on {names}{together}.")
    return " ".join(sentences)


ALIKE = 0.95
"""Share of a press from which another one is told as the same. [-]"""

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


def advised_test(answer: BowlFit, *, units: str) -> str:
    """The test in the workshop that would narrow the answer most, and the reading that decides.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        A few sentences; "" where the verdict hangs on nothing that a test settles. Where it locks at no end
        of what is known only as a range they name no test: none would save it.
    """
    verdict, bowl = answer.verdict, answer.bowl
    open_ends = tuple(d for d in verdict.depends_on if d.name != STRENGTH)
    inputs = (*open_inputs(open_ends), *_open_strength(answer))
    test = most_telling_test(inputs, moisture_percent=bowl.board.moisture_percent, units=units)
    if test is not None:
        plain = verdict.state == LOCKS and not verdict.depends_on
        told = f"{'To be surer still' if plain else 'What would settle it best'}: {test.sentence}"
        tested = next(one for one in inputs if one.name == test.input_name)
        return _if_it_may_lock(answer, told, (tested.state_below, tested.state_between, tested.state_above))
    for d in verdict.depends_on:
        if d.name in SETTLE_IT:
            ends = (d.state_at_low, d.state_between, d.state_at_high)
            return _if_it_may_lock(answer, _plain_test(answer, d, units), ends)
    return ""


NO_TEST_HELPS = (
    "No test of these makes the bowl lock as planned: each would only show which way it fails. Change the "
    "plan; fit with --changes tries some."
)
"""In place of a test, where the bowl locks at no end of what is known only as a range."""


def _if_it_may_lock(answer: BowlFit, told: str, outcomes: Sequence[str]) -> str:
    """What is told of a test, where any outcome of it may save the bowl."""
    if LOCKS in outcomes:
        return told
    best = answer.verdict.state_at_best
    if best == SPLIT_RISK and _a_strong_board_holds(answer):
        # Of the outcomes none locks as long as the strength of this board is that of any.
        return f"{told} This alone does not make it lock: break test strips of this board as well."
    if best != LOCKS:
        return NO_TEST_HELPS
    # The outcomes are told with the other ranges at their unfavourable ends; at the others' best it locks.
    return f"{told} This alone does not make it lock."


def _a_strong_board_holds(answer: BowlFit) -> bool:
    """Whether a board as strong across the grain as boards of its wood may be would split seldom enough."""
    if answer.elastic is None or answer.bowl.board.tested_across is not None:
        return False
    flips_at, (_low, high) = _strength_needed_MPa(answer)
    return flips_at < high


def show_needed_press(answer: BowlFit, press_N: float, *, units: str) -> str:
    """A press that a bowl needs: where the verdict hangs on it, so that no reading stops short of it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    press_N : float
        A press it needs. [N]
    units : str
        "in" or "mm".

    Returns
    -------
    str
        To three figures and never less than it is where the verdict hangs on the press; else to two.
    """
    if deciding_press_N(answer) is None:
        return show_force(press_N, units=units)
    return show_force_upward(press_N, units=units)


def shown_presses(
    answer: BowlFit, *needed_N: float, beside_N: tuple[float, ...] = (), units: str
) -> tuple[str, ...]:
    """Presses that stand beside one another, so that those that differ read differently.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    *needed_N : float
        Presses that the bowl needs. [N]
    beside_N : tuple[float, ...]
        What they are held against: the press there is, one that splits. [N]
    units : str
        "in" or "mm".

    Returns
    -------
    tuple[str, ...]
        In that order. What is needed as :func:`show_needed_press` shows it where the verdict hangs on the
        press; else all with as many figures as tell them apart.
    """
    if deciding_press_N(answer) is None:
        return tuple(_forces_apart(*needed_N, *beside_N, units=units))
    return (
        *(show_force_upward(v, units=units) for v in needed_N),
        *(show_force(v, units=units, figures=3) for v in beside_N),
    )


def deciding_press_N(answer: BowlFit) -> float | None:
    """Press below which the bowl springs back, somewhere in what is known only as a range.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    float or None
        No less than what it ought to be given in the middle of the ranges; None where the verdict does not
        hang on the press, or not for that. [N]
    """
    found = answer.elastic
    hangs = (
        d for d in answer.verdict.depends_on
        if d.name == "press" and d.state_at_low == SPRINGS_BACK != d.state_at_high
    )  # fmt: skip
    flips_at = next((d.flips_at for d in hangs), math.nan)
    if found is None or not math.isfinite(flips_at):
        return None
    asked_N = found.opening.judged.asked_N
    return max(flips_at, asked_N) if math.isfinite(asked_N) else flips_at


def _on_the_scale(press_N: float, units: str, *, upward: bool) -> str:
    """A press as a bathroom scale shows it, and as a force: to the side on which the bowl does well."""
    unit, one_N = ("lb", POUND_N) if units == "in" else ("kg", KILOGRAM_N)
    tenths = 10 * press_N / one_N
    if upward:
        return f"{math.ceil(tenths - 1e-6) / 10:.1f} {unit}, {show_force_upward(press_N, units='mm')}"
    return f"{math.floor(tenths + 1e-6) / 10:.1f} {unit}, {show_force(press_N, units='mm', figures=3)}"


def _plain_test(answer: BowlFit, d: Dependence, units: str) -> str:
    """A test that no file of tests takes, and its deciding reading if that is known."""
    how = f"To find out {d.name}: {SETTLE_IT[d.name]}"
    if not math.isfinite(d.flips_at) or d.state_at_low == d.state_at_high:
        return f"{how}."
    reading = show_input(d.flips_at, d.unit, units=units)
    if d.name == "press":
        upward = STATES.index(d.state_at_high) > STATES.index(d.state_at_low)
        reading = _on_the_scale(deciding_press_N(answer) or d.flips_at, units, upward=upward)
    low, high = state_sentences((d.state_at_low, d.state_at_high), may_be=d.may_be)
    return f"{how}. What decides: under {reading}, {low}; more, {high}."


def _strength_needed_MPa(answer: BowlFit) -> tuple[float, tuple[float, float]]:
    """Strength across the grain of a board that splits as seldom as it may; and where it is believed."""
    if answer.elastic is None:
        return math.nan, (math.nan, math.nan)
    board = answer.bowl.board
    before, number = untested(board.wood, board.ring_angle_rad), board.wood.tension_across_MPa
    low, high = believed_range_MPa(before)
    split = answer.elastic.opening.stress.split
    flips_at = board_factor_at(split.of_board, answer.bowl.limits.split_chance) * before.usual_MPa
    return flips_at, (low * number.low / number.value, high * number.high / number.value)


def _open_strength(answer: BowlFit) -> tuple[OpenInput, ...]:
    """Strength across the grain, where it decides between locking and a risk of splitting."""
    board = answer.bowl.board
    # What strips of this board have told already they would only tell again.
    if answer.elastic is None or board.tested_across is not None:
        return ()
    if answer.verdict.state not in (SPLIT_RISK, LOCKS):
        return ()
    flips_at, (low, high) = _strength_needed_MPa(answer)
    if not low < flips_at < high:
        return ()
    return (OpenInput(STRENGTH, low, high, flips_at, SPLIT_RISK, LOCKS),)


def model_sentence(answer: BowlFit) -> str:
    """Say what the verdict rests on.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        A sentence or two.
    """
    return FIRST_ESTIMATES if answer.elastic is None else ON_THE_STRIP


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


def _told_apart(value: float, limit: float) -> tuple[str, str]:
    """A share and its limit in percent, with as many digits as it takes to see which is less."""
    for digits in range(4):
        shown, asked = f"{value:.{digits}%}", f"{limit:.{digits}%}"
        if shown != asked:
            return shown, asked
    return f"a hair under {limit:.0%}", f"{limit:.0%}"


def _why_springs(answer: BowlFit, worst: DecidingNumbers, units: str) -> str:
    found = answer.elastic
    if found is None:
        if math.isinf(worst.friction_used):
            return "Without friction nothing holds a bevel: the turns slide back when you let go."
        return (
            f"The bevel is steeper than friction can hold: it needs {worst.friction_used:.2g} times the "
            "friction there is, so the turns slide back when you let go."
        )
    judged, limit = found.opening.judged, answer.bowl.limits.friction_used
    pressed = show_force(found.opening.press_N, units=units)
    if not math.isfinite(judged.asked_N):
        reach = show_force(found.reach_N, units=units)
        return (
            f"Pressed with {pressed} and let go it springs back, and no press up to {reach} makes it hold. "
            "With less tilt it takes less friction to hold."
        )
    forces_N = (judged.asked_N, judged.needed_N, answer.bowl.use.press_N)
    asked, needed, there = shown_presses(answer, *forces_N[:2], beside_N=forces_N[2:], units=units)
    spare, most_N, up_to = answer.bowl.limits.press_spare, deciding_press_N(answer), ""
    if most_N is not None:
        most = show_force_upward(most_N, units=units)
        up_to = "" if most == asked else f", and up to {most} over all that is not known"
    if judged.friction > answer.bowl.use.friction:
        reach = show_force(found.reach_N, units=units)
        return (
            f"In the middle of the friction's range no press up to {reach} makes it hold; where friction "
            f"is greatest it needs a press of {asked}, {spare:g} times the {needed} from which it holds "
            f"there, and there are {there}.{_splits_before(found, judged.asked_N, units)} With less tilt "
            "it takes less friction to hold."
        )
    if judged.share > 1:
        middle = "" if math.isnan(judged.least_needs_N) else " in the middle of the friction's range"
        return (
            f"It needs a press of {asked}, {spare:g} times the {needed} from which it holds{middle}"
            f"{up_to}, and there are {there}{_to_spare(judged.needed_N, answer)}: with less than {needed} "
            f"it springs back.{_splits_before(found, judged.asked_N, units)}"
        )
    if answer.bowl.use.press_N < spare * judged.least_needs_N < math.inf:
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
    with_less = any(d.name == "press" and d.state_at_low == SPRINGS_BACK for d in answer.verdict.depends_on)
    if not with_less and (worst.friction_used > limit or worst.kept < KEPT_SHARE):
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
        return (
            f"Pressed with {pressed} and let go, it asks for {times} the friction there is where that is "
            f"least, and slides back. {_press_sentence(answer, found, units)}"
        )
    splits = _split_so_pressed(answer)
    return (
        f"It needs a press of {asked}, {spare:g} times the {needed} from which it holds"
        f"{_at_asking_friction(answer)}{up_to}; with less than {needed} it springs back"
        f"{f', and with {asked} {splits}' if splits else ''}."
        f"{_splits_before(found, judged.asked_N, units)}"
    )


def _to_spare(needed_N: float, answer: BowlFit) -> str:
    """Where there is press enough to make it hold, but not with the spare."""
    return ", too little to spare" if answer.bowl.use.press_N > needed_N else ""


def _forces_apart(*forces_N: float, units: str) -> list[str]:
    """Forces with as many figures as it takes to see that they differ."""
    shown: list[str] = []
    for figures in (2, 3, 4, 5, 6):
        shown = [show_force(v, units=units, figures=figures) for v in forces_N]
        if len(set(shown)) == len(shown):
            break
    return shown


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


_REACHES = {False: "all that is known only as a range", True: "what is not known of the wood's strength"}
"""What moves a chance of splitting: the ranges of the margins, or (True) what no bowl file holds."""


def limit_sentence(found: ElasticFit, *, units: str) -> str:
    """Up to which press a bowl stays safe: at more than that 1 in 10 splits or more.

    Parameters
    ----------
    found : ElasticFit
        The elastic strip.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        A sentence with a blank before it; "" where that is not known.
    """
    press_N = found.split_press_N
    if not math.isfinite(press_N):
        return ""
    return f" Fewer than 1 in 10 split up to a press of about {show_force(press_N, units=units)}."


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
        f"{limit_sentence(found, units=units)}{_needless_sentence(answer, units)}"
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
        f"Pressed with {pressed} and let go the rim stands {rise} high and keeps {numbers.kept:.0%} of its "
        f"rise; {_bears_words(answer)} and {_takes_words(answer)}. It holds from a press of {needed}"
        f"{_at_asking_friction(answer)}. "
        f"{_sentence_case(_split_words(answer, found, ' on opening'))}."
        f"{limit_sentence(found, units=units)}{_needless_sentence(answer, units)}"
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
