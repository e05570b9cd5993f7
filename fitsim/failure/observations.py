"""What a maker saw and measured on a bowl that failed: the words, the keys, and how they are read.

In the bowl file::

    [seen]
    what = ["fell through at turn 3", "split near the root, after months"]
    [measured]
    kerf = "0.65 +- 0.05 mm"
    drop_2 = "7.5 mm"

What follows "+-" is how far 19 readings in 20 lie from the truth; left out, an estimate stands in.
"""

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.failure.failed_samples import LOOKS, NAIL_WORDS, BowlPlan
from fitsim.quantities import (
    ANGLE,
    LENGTH,
    LOAD,
    MOISTURE,
    QuantityKind,
    read_quantity,
    show_force,
    show_length,
)
from fitsim.table_keys import signed

__all__ = [
    "MEASURES",
    "PLACES",
    "SEEN_WORDS",
    "WHENS",
    "Measure",
    "Measured",
    "Observed",
    "Seen",
    "measure_named",
    "read_observed",
]

SEEN_WORDS = {
    "would not open": "the turns stay in the board however hard you press",
    "fell through": "a turn dropped out of its neighbour",
    "sprang back": "it went flat again when you let go",
    "held": "it opened and stays open",
    "split": "a turn cracked or broke",
    "rocks": "the turns bind at two opposite sides and the bowl rocks on them",
    "rim not level": "the rim stands higher on one side",
    "came out shallow": "it holds, but lower than planned",
    "came out deep": "it holds, but higher than planned",
}
"""What may be seen, with what it means."""

ALSO_CALLED = {
    "will not open": "would not open",
    "falls through": "fell through",
    "springs back": "sprang back",
    "locks": "held",
    "locked": "held",
    "holds": "held",
}
"""Words of the verdicts, and others that mean one of :data:`SEEN_WORDS`."""

LIKE = (
    (r"br(?:oke|eak)|crack|snap|tore|torn", "split"),
    (r"f[ae]ll|drop", "fell through"),
    (r"spr[aiu]ng|flat again", "sprang back"),
    (r"stuck|(?:no|n.)t open", "would not open"),
)
"""What a maker may have meant by words nobody knows."""

NEAR_WORDS = 0.6
"""Words less alike than this are not offered for one another: our choice."""

NOT_WITH = {
    "would not open": set(SEEN_WORDS) - {"would not open", "split"},
    "fell through": {"sprang back", "held", "came out shallow", "came out deep"},
    "sprang back": {"held", "came out shallow", "came out deep"},
    "came out shallow": {"came out deep"},
}
"""What one bowl cannot do at one time."""

PLACES = {
    "near the root": "split",
    "beside the nail": "split",
    "high along the grain": "rocks",
    "high across the grain": "rocks",
}
"""Where, beside "at turn 3", and what it may be said of."""

AT_TURNS, WHENS = ("fell through", "split"), ("first opening", "after months")
MOST_SEEN = 50
"""Things seen on one bowl; every two are looked at together."""

NINETEEN_IN_20 = 1.96


@dataclass(frozen=True)
class Measure:
    """One thing that can be measured.

    Attributes
    ----------
    key : str
        As written under ``[measured]``.
    what : str
        What to do, in a maker's words.
    unit : str
        Unit its value is kept in: "mm", "deg", "percent", "N", or "" for a word.
    within : float
        How far 19 readings in 20 lie from the truth where the maker does not say; for the press over
        itself; an estimate. [unit]
    """

    key: str
    what: str
    unit: str
    within: float


PLUS_OR_MINUS = "plus: the wood inside that slot is wider on the face you pressed; minus: narrower there"
"""The sign of a measured bevel: plus is what can wedge, wood that sinks into a hole narrower below."""

MEASURES = (
    Measure("kerf", "feeler gauge in the outermost slot, square to its faces", "mm", 0.06),
    Measure("kerf_inner", "feeler gauge in the innermost slot", "mm", 0.06),
    Measure("kerf_least", "feeler gauge at the narrowest place of the whole slot", "mm", 0.06),
    Measure("tilt", f"bevel gauge on the bevel of the outermost slot ({PLUS_OR_MINUS})", "deg", 0.6),
    Measure("tilt_inner", f"bevel gauge on the bevel of the innermost slot ({PLUS_OR_MINUS})", "deg", 0.8),
    Measure("thickness", "callipers on the board", "mm", 0.2),
    Measure(
        "drop",
        "how far each turn sank below the next outside it, all alike but for the innermost",
        "mm",
        1.0,
    ),
    Measure(
        "drop_N",
        "how far the inner neighbour sank below turn N (1 the innermost), mean of four places",
        "mm",
        1.0,
    ),
    Measure(
        "rise",
        "rule: rim above its flat position, mean of four places (pressed, if it springs back)",
        "mm",
        3.0,
    ),
    Measure("rim_moisture", "moisture meter on the outer turns", "percent", 2.0),
    Measure("base_moisture", "moisture meter on the base", "percent", 2.0),
    Measure("press", "bathroom scale under the bowl while you press", "N", 0.3),
    Measure("slip_angle", "tilt one off-cut on another, bevel on bevel, until it slides", "deg", 4.0),
    Measure("least_width", "callipers across the strip where it is narrowest", "mm", 0.6),
    Measure("base", "rule across the base, slot to slot", "mm", 4.0),
    Measure("nail", f"look at the nail: {', '.join(NAIL_WORDS)}", "", 0.0),
    Measure("bevels", f"scrape a bevel with a knife: {' or '.join(LOOKS['bevels'])}", "", 0.0),
    Measure("grain", f"look where the grain goes, best at a crack: {' or '.join(LOOKS['grain'])}", "", 0.0),
)
"""Everything that can be measured; ``drop_N`` stands for drop_1, drop_2 and so on."""

KIND_OF_UNIT: dict[str, QuantityKind] = {"mm": LENGTH, "deg": ANGLE, "percent": MOISTURE, "N": LOAD}


@dataclass(frozen=True)
class Seen:
    """One thing seen.

    Attributes
    ----------
    what : str
        One of :data:`SEEN_WORDS`.
    turn : int or None
        At which turn, 1 the innermost.
    place : str or None
        One of :data:`PLACES`.
    when : str or None
        One of :data:`WHENS`.
    """

    what: str
    turn: int | None = None
    place: str | None = None
    when: str | None = None

    def __str__(self) -> str:
        """Return it as it may be written."""
        turn = f" at turn {self.turn}" if self.turn else ""
        rest = [part for part in (self.place, self.when) if part]
        return ", ".join([self.what + turn, *rest])


@dataclass(frozen=True)
class Measured:
    """One reading.

    Attributes
    ----------
    key : str
        Key of the measure; drop_3 for the drop of turn 3.
    value, sd : float
        Reading and its standard deviation; for a look the place of its word, and 0. [unit of the key]
    """

    key: str
    value: float
    sd: float


@dataclass(frozen=True)
class Observed:
    """Everything seen and measured on one bowl.

    Attributes
    ----------
    seen : tuple[Seen, ...]
        What was seen.
    measured : tuple[Measured, ...]
        What was measured.
    """

    seen: tuple[Seen, ...] = ()
    measured: tuple[Measured, ...] = ()


def measure_named(key: str) -> Measure:
    """The measure of a key; drop_3 is drop_N with its turn in the words.

    Parameters
    ----------
    key : str
        A key.

    Returns
    -------
    Measure
        What it means.

    Raises
    ------
    KeyError
        If there is none.
    """
    found = re.fullmatch(r"drop_([1-9][0-9]?)", key)
    for measure in MEASURES:
        if measure.key == key and key != "drop_N":
            return measure
        if found and measure.key == "drop_N":
            return replace(measure, key=key, what=drop_words(int(found[1])))
    raise KeyError(key)


def drop_words(turn: int) -> str:
    """What to do to measure the drop of a turn.

    Parameters
    ----------
    turn : int
        The turn, 1 the innermost.

    Returns
    -------
    str
        In a maker's words.
    """
    inner = "the base" if turn == 1 else f"turn {turn - 1}"
    return f"rule or depth gauge: how far {inner} sank below turn {turn}, mean of four places"


def read_observed(tables: Mapping[str, Any], plan: BowlPlan, *, where: str = "") -> Observed:
    """Read ``[seen]`` and ``[measured]``.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file; other tables are left alone.
    plan : BowlPlan
        The plan, for the number of turns and for what is possible.
    where : str
        File name for the error messages.

    Returns
    -------
    Observed
        Everything seen and measured; empty where nothing was.

    Raises
    ------
    InputError
        One line for every problem.
    """
    problems: list[Problem] = []
    seen = tuple(_seen_of(tables.get("seen", {}), plan, where, problems))
    problems += _impossible_pairs(seen, where)
    measured = []
    given = tables.get("measured", {})
    if not isinstance(given, Mapping):
        problems.append(
            Problem(
                where, "measured", repr(given)[:40], "a table of keys", "write [measured] on its own line"
            )
        )
        given = {}
    for key, text in given.items():
        try:
            measured.append(_measured(key, text, plan))
        except InputError as error:
            problems += [replace(p, where=where, key=f"measured.{key}") for p in error.problems]
    if problems:
        raise InputError(tuple(problems))
    return Observed(seen, tuple(measured))


def _wrong(value: object, expected: str, remedy: str) -> InputError:
    return InputError(Problem("", "", repr(value)[:60], expected, remedy))


def _seen_of(given: object, plan: BowlPlan, where: str, problems: list[Problem]) -> list[Seen]:
    if not isinstance(given, Mapping) or set(given) - {"what"}:
        remedy = 'write [seen] and below it: what = ["fell through"]'
        problems.append(Problem(where, "seen", repr(given)[:40], "a table with the one key what", remedy))
        return []
    listed = given.get("what", [])
    if isinstance(listed, list) and len(listed) > MOST_SEEN:
        expected = f"at most {MOST_SEEN} things seen on one bowl"
        problems.append(Problem(where, "seen.what", str(len(listed)), expected, "leave some out"))
        return []
    found: list[Seen] = []
    for text in [listed] if isinstance(listed, str) else listed if isinstance(listed, list) else [listed]:
        try:
            found.append(_seen(text, plan))
        except InputError as error:
            problems += [replace(p, where=where, key="seen.what") for p in error.problems]
    return found


def _impossible_pairs(seen: tuple[Seen, ...], where: str) -> list[Problem]:
    """Two things that one bowl cannot do at one time; what has no time is as it is now."""
    found = []
    for one, other in combinations(seen, 2):
        at_once = (one.when == "first opening") == (other.when == "first opening")
        if at_once and (
            other.what in NOT_WITH.get(one.what, ()) or one.what in NOT_WITH.get(other.what, ())
        ):
            expected = "what one bowl can do at one time"
            remedy = f'leave one out, or say which came first, like "{one.what}, first opening"'
            both = f"'{one.what}' beside '{other.what}'"
            found.append(Problem(where, "seen.what", both, expected, remedy))
    return found


def _meant(plain: str) -> str:
    """What may have been meant by words nobody knows, as a remedy."""
    if hidden := hidden_remedy(plain):
        return hidden
    near = [word for pattern, word in LIKE if re.search(pattern, plain)]
    near += difflib.get_close_matches(plain, SEEN_WORDS, n=1, cutoff=NEAR_WORDS)
    return f"did you mean {near[0]!r}?" if near else "the list: fitsim explain --list"


def _seen(text: object, plan: BowlPlan) -> Seen:
    """One thing seen: its words, then "at turn 3", a place and a time in any order."""
    plain = " ".join(str(text).lower().replace("_", " ").split())
    called = next((word for word in ALSO_CALLED if re.match(rf"{word}\b", plain)), "")
    plain = ALSO_CALLED.get(called, "") + plain[len(called) :]
    what = next((word for word in SEEN_WORDS if plain.startswith(word)), None)
    if not isinstance(text, str) or what is None:
        raise _wrong(text, f"one of {', '.join(SEEN_WORDS)}", _meant(plain))
    found = Seen(what)
    for part in re.split(
        r",|\band\b|(?=at turn)|(?=near the root)|(?=beside the nail)|(?=high a)", plain[len(what) :]
    ):
        found = _with_part(found, part.strip(), text, plan)
    return found


def _with_part(found: Seen, part: str, text: object, plan: BowlPlan) -> Seen:
    if not part:
        return found

    def once(there: object, name: str) -> None:
        if there is not None:
            remedy = f'leave one out, or write each by itself, like "{found}"'
            raise _wrong(text, f"one {name} of one thing seen", remedy)

    turn = re.fullmatch(r"(?:at |in )?turn ([0-9]{1,4})", part)
    if turn:
        if found.what not in AT_TURNS:
            raise _wrong(text, "a turn only with fell through or split", "leave the turn out")
        if not 1 <= int(turn[1]) <= plan.turns:
            raise _wrong(
                text, f"a turn from 1 (innermost) to {plan.turns}", "count the turns from the base"
            )
        once(found.turn, "turn")
        return replace(found, turn=int(turn[1]))
    if part in PLACES and PLACES[part] == found.what:
        once(found.place, "place")
        return replace(found, place=part)
    when = part.removeprefix("at ").removeprefix("the ").removeprefix("on ")
    if when in WHENS:
        once(found.when, "time")
        return replace(found, when=when)
    turn_words = ["at turn N"] if found.what in AT_TURNS else []
    places = [place for place, of in PLACES.items() if of == found.what]
    raise _wrong(
        text, f"after {found.what!r} nothing, {', '.join([*turn_words, *places, *WHENS])}", "correct it"
    )


def _measured(key: str, text: object, plan: BowlPlan) -> Measured:
    try:
        measure = measure_named(key)
    except KeyError:
        if key.startswith("drop_"):
            raise _wrong(text, _drops_told(plan), "write the number of the turn") from None
        known = [m.key for m in MEASURES]
        near = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
        remedy = f"did you mean {near[0]!r}?" if near else "the list: fitsim explain --list"
        remedy = hidden_remedy(key, spaces=False) or remedy
        raise _wrong(text, f"one of the keys {', '.join(known)}", remedy) from None
    if not measure.unit:
        return Measured(key, float(_word_found(key, text)), 0.0)
    shown, _, within = str(text).replace("±", "+-").partition("+-")
    kind = KIND_OF_UNIT[measure.unit]
    if within and measure.unit != "" and not re.search(r"[^\d\s.,/+-]", shown):
        shown += " " + re.sub(r"^[\d\s.,/]+", "", within)
    value = signed(kind)(shown.strip()) if measure.unit == "deg" else float(read_quantity(shown, kind))
    default = measure.within * value if key == "press" else measure.within
    half = float(read_quantity(within.strip(), kind)) if within else default
    _refuse_impossible(key, value, half, text, plan)
    return Measured(key, value, half / NINETEEN_IN_20)


def _word_found(key: str, text: object) -> int:
    plain = " ".join(str(text).lower().split())
    if plain in LOOKS[key]:
        return LOOKS[key].index(plain)
    raise _wrong(text, f"one of {', '.join(LOOKS[key])}", "write one of those")


def _shown(value: float, unit: str, plan: BowlPlan) -> str:
    """A limit in the units of the file."""
    if unit == "mm":
        return show_length(value, units=plan.bowl.units)
    return show_force(value, units=plan.bowl.units) if unit == "N" else f"{value:g} {unit}"


def _drops_told(plan: BowlPlan) -> str:
    """Keys under which a drop of this bowl may stand."""
    told = plan.turns_with_drop
    return f"drop_1 (innermost) to drop_{told}" if told > 1 else "drop_1 alone"


def _refuse_impossible(key: str, value: float, half: float, text: object, plan: BowlPlan) -> None:
    board, cut = plan.bowl.board, plan.bowl.cut
    least, most, why = -math.inf, math.inf, ""
    if key.startswith("tilt"):
        least, most, why = -45.0, 45.0, "a tilt from -45 to 45 deg"
    elif key.startswith("drop"):
        least, most, why = (
            0.0,
            board.thickness_mm,
            "a drop less than the board's thickness, or it fell through",
        )
    elif key.startswith("kerf"):
        least, most, why = 1e-6, cut.pitch_mm, "a slot wider than 0 and narrower than the pitch"
    elif key in ("thickness", "least_width", "press", "slip_angle", "base"):
        limit = {
            "least_width": 1.5 * cut.pitch_mm,
            "base": board.across_mm,
            "slip_angle": 60.0,
            "press": 5000.0,
        }
        least, most = 1e-6, limit.get(key, 5 * board.thickness_mm)
        why = f"more than 0 and at most {_shown(most, measure_named(key).unit, plan)}"
    elif key == "rise":
        most = plan.turns * board.thickness_mm
        shown = f"{most:g} mm" if plan.bowl.units == "mm" else _shown(most, "mm", plan)
        least, why = 0.0, f"a rise from 0 to {shown}, {plan.turns} turns times the board's thickness"
    elif key.endswith("moisture"):
        least, most, why = 1e-6, 30.0, "a moisture above 0 and up to 30 percent"
    if not least <= value <= most:
        raise _wrong(text, why, "measure it again, and check the unit")
    if half <= 0:
        raise _wrong(text, "an uncertainty above zero", "leave it out, or write it like +- 0.05 mm")
    number = re.fullmatch(r"drop_(\d+)", key)
    if not number:
        return
    turn, last, told = int(number[1]), plan.turns, plan.turns_with_drop
    expected = _drops_told(plan)
    if turn > last:
        raise _wrong(text, expected, "count the turns from the base")
    if turn > told:
        part = f"turn {turn} is only the last {plan.share[-1]:.2f} of a turn, and the nail holds it"
        raise _wrong(text, f"{expected}; {part}", "leave this one out")
