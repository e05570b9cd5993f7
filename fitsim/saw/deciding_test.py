"""Which test in the workshop would settle a verdict, and the reading that decides.

Where a verdict hangs on something known only as a range, it flips at some value inside. A test of that
input is worth the uncertainty about the state that it takes away on the average: the entropy of the state
before, less what is expected to be left after a test with the stated reading errors. The flip is then put
as what the maker reads: friction as the angle at which an off-cut slides, strength as the load that
breaks a strip, moisture in percent.
"""

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from fitsim.bowl.fit import BowlFit
from fitsim.bowl.verdict import LOCKS, SPLIT_RISK, Dependence
from fitsim.errors import InputError, Problem
from fitsim.quantities import KILOGRAM_N, POUND_N, show_length
from fitsim.saw.break_test import COMMON_SD, BrokenStrip, believed_range_MPa, untested
from fitsim.saw.measurements import BEFORE, GAUGE_SD_RAD, SLOT_SD_MM
from fitsim.saw.oven_test import MOISTURE_VARIES_SD_percent
from fitsim.saw.slide_test import SLIDE_SD_RAD, STANDS_FOR_SD, VARIES_SD, slide_angle_rad
from fitsim.wood.across_grain import STANDARD_STRIP, StripSize, mean_load_N, standard_strip, weibull_shape
from fitsim.wood.weakest_link import within_board_cov

__all__ = [
    "STRENGTH",
    "OpenInput",
    "TellingTest",
    "a_strong_board_holds",
    "board_factor_at",
    "breaking_load_N",
    "most_telling_test",
    "open_inputs",
    "open_strength",
    "state_sentences",
]

FRICTION, STRENGTH, MOISTURE, KERF, SCALE = (
    "friction", "strength across the grain", "moisture", "kerf", "scale error",
)  # fmt: skip
"""Inputs that have a test of their own, by the names the verdict uses."""

SLIDES, STRIPS, PIECES = 6, 5, 2
"""How many slides, strips and oven pieces a test is reckoned and told with."""

_RANGE_SDS = NormalDist().inv_cdf(0.95)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(61)
_STATE_SENTENCES = {
    "will not open": ("it will not open", "it may not open"),
    "falls through": ("it falls through", "it may fall through"),
    "springs back": ("it springs back", "it may spring back"),
    "split risk": ("it risks a split", "it may risk a split"),
    "locks": ("it locks", "it may lock"),
}
"""A state for certain, and where it may be in that state."""


@dataclass(frozen=True)
class OpenInput:
    """An input whose range a verdict hangs on.

    Attributes
    ----------
    name : str
        "friction", "strength across the grain", "moisture", "kerf" or "scale error".
    low, high : float
        Nine times in ten it lies between these; strength as f B of the board at 12 percent moisture and
        the handbooks' volume. [-, MPa, percent, mm or rad]
    flips_at : float
        Value at which the state changes; nan where it was not worked out. [-, MPa, percent, mm or rad]
    state_below, state_above : str
        States on either side of it.
    state_between : str
        The state that follows at the flip, where that is another than the one above; the one below where it
        may or may not go on; else "".
    until : float
        Value from which the state is the one above; nan where none lies between. The gain
        counts the flip alone. [-, MPa, percent, mm or rad]
    may_be : tuple of str
        Those of these states in which it may be there and need not.
    """

    name: str
    low: float
    high: float
    flips_at: float
    state_below: str
    state_above: str
    state_between: str = ""
    until: float = math.nan
    may_be: tuple[str, ...] = ()


@dataclass(frozen=True)
class TellingTest:
    """The test to do, and the reading that decides.

    Attributes
    ----------
    kind : str
        "slide", "break", "oven", "slot" or "bevel", as the tables of a file of tests are called.
    input_name : str
        The input it settles.
    reading : float
        What divides the states: degrees at which it slides, N at which strips break on the average, percent
        of moisture, mm of slot, degrees between table and blade less the scale's; nan where the flip is
        not known. [deg, N, percent or mm]
    unit : str
        "deg", "N", "percent" or "mm".
    gain_bits : float
        Uncertainty about the state that it takes away on the average. [bit]
    sentence : str
        For the maker.
    """

    kind: str
    input_name: str
    reading: float
    unit: str
    gain_bits: float
    sentence: str


def board_factor_at(chance: Callable[[float], float], limit: float) -> float:
    """Board factor at which a chance of splitting that falls with it comes down to a limit.

    Parameters
    ----------
    chance : callable
        Chance of splitting of a board whose factor B is given. [-]
    limit : float
        Chance asked for, such as 0.1. [-]

    Returns
    -------
    float
        B, found to a part in a million; nan where no factor from 1/1000 to 1000 does it. [-]

    Examples
    --------
    >>> round(board_factor_at(lambda b: 1 - math.exp(-0.05 * b ** -6.0), 0.1), 4)
    0.8832
    """
    low, high = math.log(1e-3), math.log(1e3)
    if not chance(math.exp(low)) > limit > chance(math.exp(high)):
        return math.nan
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if chance(math.exp(middle)) > limit else (low, middle)
    return math.exp((low + high) / 2)


def breaking_load_N(
    across_MPa: float, *, moisture_percent: float, strip: StripSize = STANDARD_STRIP
) -> float:
    """Mean load at which strips of a board break, at the shape taken.

    Parameters
    ----------
    across_MPa : float
        f B of the board. [MPa]
    moisture_percent : float
        Of the strips. [percent]
    strip : StripSize
        Their size.

    Returns
    -------
    float
        Load. [N]
    """
    shape = weibull_shape().value
    return mean_load_N(strip, mean_MPa=across_MPa, shape=shape, moisture_percent=moisture_percent)


def open_inputs(depends_on: Sequence[Dependence]) -> tuple[OpenInput, ...]:
    """What a verdict hangs on, as inputs that a test may settle.

    Parameters
    ----------
    depends_on : sequence of Dependence
        From the verdict.

    Returns
    -------
    tuple[OpenInput, ...]
        In the same order.
    """
    return tuple(
        OpenInput(
            name=d.name,
            low=d.low,
            high=d.high,
            flips_at=d.flips_at,
            state_below=d.state_at_low,
            state_above=d.state_at_high,
            state_between=d.state_between,
            until=d.until,
            may_be=d.may_be,
        )
        for d in depends_on
    )


def most_telling_test(
    inputs: Sequence[OpenInput], *, moisture_percent: float, units: str = "mm"
) -> TellingTest | None:
    """The test that would narrow the answer most.

    Parameters
    ----------
    inputs : sequence of OpenInput
        Inputs the verdict hangs on; those without a test of their own are passed over.
    moisture_percent : float
        Of the board, for the load that breaks a strip. [percent]
    units : str
        "in" or "mm".

    Returns
    -------
    TellingTest or None
        None where no input has a test. Where no flip is known the test whose input would be narrowed most
        is named, without a deciding reading.

    Raises
    ------
    InputError
        If a range is empty or out of order.

    Examples
    --------
    >>> test = most_telling_test(
    ...     [OpenInput("friction", 0.2, 0.55, 0.3443, "springs back", "locks")], moisture_percent=8.0
    ... )
    >>> test.kind, round(test.reading, 1)
    ('slide', 19.0)
    >>> test.sentence.split(": ", 1)[1]
    'an off-cut that slides before 19.0 degrees: it springs back; later: it locks.'
    """
    found = [
        _test_of(one, moisture_percent=moisture_percent, units=units)
        for one in inputs
        if one.name in _KINDS
    ]
    if not found:
        return None
    return max(found, key=lambda pair: (pair[0].gain_bits, pair[1]))[0]


_KINDS = {FRICTION: "slide", STRENGTH: "break", MOISTURE: "oven", KERF: "slot", SCALE: "bevel"}


def _scaled(name: str, value: float) -> float:
    """Friction and strength are told by their logarithm, the rest as they are."""
    return math.log(value) if name in (FRICTION, STRENGTH) else value


def _test_sd(name: str, middle: float) -> float:
    """What such a test leaves uncertain, on the scale of :func:`_scaled`, with the usual reading errors."""
    if name == FRICTION:
        friction = math.exp(middle)
        reading = SLIDE_SD_RAD * (1 + friction**2) / friction
        return math.hypot(math.hypot(VARIES_SD, reading) / math.sqrt(SLIDES), STANDS_FOR_SD)
    if name == STRENGTH:
        load = breaking_load_N(math.exp(middle), moisture_percent=12.0)
        reading = BrokenStrip(load, STANDARD_STRIP).log_sd
        one = math.hypot(within_board_cov(weibull_shape().value), reading)
        return math.hypot(one / math.sqrt(STRIPS), COMMON_SD)
    return {
        MOISTURE: MOISTURE_VARIES_SD_percent / math.sqrt(PIECES),
        KERF: math.hypot(SLOT_SD_MM, BEFORE.kerf_varies_sd_mm),
        SCALE: math.hypot(GAUGE_SD_RAD, BEFORE.tilt_repeats_sd_rad),
    }[name]


def _entropy_bits(chance: float) -> float:
    return -sum(p * math.log2(p) for p in (chance, 1 - chance) if p > 0)


def _test_of(one: OpenInput, *, moisture_percent: float, units: str) -> tuple[TellingTest, float]:
    """The test, and how many times narrower it makes its input."""
    logarithmic = one.name in (FRICTION, STRENGTH)
    # A range from nothing has no logarithm; a fiftieth of its upper end is as good as nothing.
    least = max(one.low, one.high / 50) if logarithmic else one.low
    if not least < one.high:
        shown = f"{one.low:g} to {one.high:g}"
        raise InputError(Problem("", one.name, shown, "a range from low to high", "put it in order"))
    low, high = _scaled(one.name, least), _scaled(one.name, one.high)
    middle, sd = (low + high) / 2, (high - low) / 2 / _RANGE_SDS
    test_sd = _test_sd(one.name, middle)
    after_sd = sd * test_sd / math.hypot(sd, test_sd)
    gain, reading = 0.0, math.nan
    unit = {"slide": "deg", "break": "N", "oven": "percent", "slot": "mm"}.get(_KINDS[one.name], "deg")
    if math.isfinite(one.flips_at) and not (logarithmic and one.flips_at <= 0):
        flip = _scaled(one.name, one.flips_at)
        before = NormalDist().cdf((flip - middle) / sd)
        moved = math.sqrt(max(sd**2 - after_sd**2, 0.0))
        below = [NormalDist().cdf((flip - middle - moved * float(z)) / after_sd) for z in _NODES]
        share = _WEIGHTS / _WEIGHTS.sum()
        left = sum(float(w) * _entropy_bits(p) for w, p in zip(share, below, strict=True))
        gain = max(_entropy_bits(before) - left, 0.0)
        reading = _read_as(one, one.flips_at, moisture_percent, units)
    until = _read_as(one, one.until, moisture_percent, units) if math.isfinite(one.until) else math.nan
    sentence = _sentence(one, reading, until, units)
    return TellingTest(_KINDS[one.name], one.name, reading, unit, gain, sentence), sd / after_sd


def _read_as(one: OpenInput, value: float, moisture_percent: float, units: str) -> float:
    """What the test's tool shows where the input has a value."""
    if one.name == FRICTION:
        return math.degrees(slide_angle_rad(value))
    if one.name == STRENGTH:
        strip = standard_strip(units)
        return breaking_load_N(value, moisture_percent=moisture_percent, strip=strip)
    return math.degrees(value) if one.name == SCALE else value


def _load(force_N: float, units: str) -> str:
    return f"{force_N / POUND_N:.1f} lb" if units == "in" else f"{force_N / KILOGRAM_N:.1f} kg"


def _sentence(one: OpenInput, reading: float, until: float, units: str) -> str:
    strip = standard_strip(units)
    width, thickness, span = (
        show_length(v, units=units) for v in (strip.width_mm, strip.thickness_mm, strip.span_mm)
    )
    what = {
        FRICTION: f"Slide test, {SLIDES} times, finished as the bowl will be",
        STRENGTH: f"Break test, {STRIPS} test strips cut across the grain of this board",
        MOISTURE: f"Oven test, {PIECES} off-cuts weighed before and after",
        KERF: "Slot test, by feeler gauge",
        SCALE: "Bevel test, a gauge between table and blade",
    }[one.name]
    if not math.isfinite(reading):
        return f"{what}: it would narrow the answer most."
    below, between, above = state_sentences(
        (one.state_below, one.state_between, one.state_above), may_be=one.may_be
    )
    if one.state_between == one.state_below in _STATE_SENTENCES:
        between = _STATE_SENTENCES[one.state_between][1]
    before, shown, after = {
        FRICTION: ("an off-cut that slides before {}", _degrees, "later"),
        STRENGTH: (
            f"test strips {width} wide and {thickness} thick on supports {span} apart that break below "
            "{} on the average",
            lambda value: _load(value, units),
            "above",
        ),
        MOISTURE: ("below {} moisture", lambda value: f"{value:.1f} %", "above"),
        KERF: ("a slot under {}", lambda value: show_length(value, units=units, fine=True), "wider"),
        SCALE: (
            "a true tilt less than {} more than the scale says",
            lambda v: f"{v:+.2f} deg",
            "more",
        ),
    }[one.name]
    told = f"{what}: {before.format(shown(reading))}: {below}; "
    if between and math.isfinite(until):
        told += f"from there to {shown(until)}: {between}; "
    return f"{told}{after}: {above}."


def state_sentences(states: Sequence[str], *, may_be: Collection[str]) -> list[str]:
    """What a bowl does on either side of a reading.

    Parameters
    ----------
    states : sequence of str
        States.
    may_be : collection of str
        Those of them in which it may be and need not; the others are told for certain.

    Returns
    -------
    list[str]
        "it locks", "it may spring back".
    """
    return [
        _STATE_SENTENCES[state][state in may_be] if state in _STATE_SENTENCES else state for state in states
    ]


def _degrees(value: float) -> str:
    return f"{value:.1f} degrees"


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


def open_strength(answer: BowlFit) -> tuple[OpenInput, ...]:
    """Strength across the grain, where it decides between locking and a risk of splitting.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    tuple[OpenInput, ...]
        That one; nothing where strips of this board have told it already, or where it decides nothing.
    """
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


def a_strong_board_holds(answer: BowlFit) -> bool:
    """Whether a board as strong across the grain as boards of its wood may be would split seldom enough.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    bool
        Not where nothing was pressed, or where strips of this board have told its strength.
    """
    if answer.elastic is None or answer.bowl.board.tested_across is not None:
        return False
    flips_at, (_low, high) = _strength_needed_MPa(answer)
    return flips_at < high
