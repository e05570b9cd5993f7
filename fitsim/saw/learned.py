"""What tests in the workshop have taught, and a bowl with it: saw, friction, strength, moisture.

A saw belongs to a blade, friction to a wood with its finish, strength and moisture to a board. Each takes
the place of what was assumed, or of what the bowl file says, as a range that is narrower; what was
learned of another finish, wood or way of sawing the board is left out, and a note says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fitsim.assumption import Assumption
from fitsim.bowl.inputs import Bowl, Uncertain
from fitsim.errors import InputError, Problem
from fitsim.saw.break_test import (
    BoardStrength,
    BreakTests,
    StrengthEstimate,
    estimate_strength,
    refuse_strips,
)
from fitsim.saw.kerf_and_scale import RANGE_SDS, Saw, with_saw
from fitsim.saw.measurements import ScrapCuts
from fitsim.saw.oven_test import (
    BoardMoisture,
    MoistureEstimate,
    MoistureTests,
    estimate_moisture,
    refuse_moisture,
)
from fitsim.saw.slide_test import Friction, FrictionEstimate, SlideTests, estimate_friction, refuse_slides
from fitsim.saw.test_cuts import SawEstimate, estimate_saw, refuse_misfit
from fitsim.wood.across_grain import ring_factor, weibull_shape

__all__ = [
    "Learned",
    "TestResults",
    "WorkshopTests",
    "learn",
    "left_out_notes",
    "with_learned",
]

SAME_GRAIN_DEG = 20.0
"""Boards whose growth rings lie further apart do not lend each other their strength: our choice. [deg]"""


@dataclass(frozen=True)
class WorkshopTests:
    """Everything measured in one file of tests.

    Attributes
    ----------
    cuts : ScrapCuts or None
        Rings, slots and bevels: the saw's.
    slides : SlideTests or None
        Off-cuts sliding on one another.
    strips : BreakTests or None
        Strips broken across the grain.
    moisture : MoistureTests or None
        Weighings and meter readings.
    name, date : str
        Of the tests; the day may be "".
    units : str
        "in" or "mm", as the maker writes.
    assumptions : tuple[Assumption, ...]
        What stands in for keys left out, but for those of the saw's cuts.
    """

    cuts: ScrapCuts | None = None
    slides: SlideTests | None = None
    strips: BreakTests | None = None
    moisture: MoistureTests | None = None
    name: str = "My tests"
    date: str = ""
    units: str = "mm"
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True)
class Learned:
    """What is known from tests and kept for every bowl it serves.

    Attributes
    ----------
    saw : Saw or None
        Kerf and tilt offset of one saw with one blade.
    frictions : tuple[Friction, ...]
        For each wood and finish tested.
    strengths : tuple[BoardStrength, ...]
        For each board tested.
    moistures : tuple[BoardMoisture, ...]
        For each board tested.
    """

    saw: Saw | None = None
    frictions: tuple[Friction, ...] = ()
    strengths: tuple[BoardStrength, ...] = ()
    moistures: tuple[BoardMoisture, ...] = ()


@dataclass(frozen=True)
class TestResults:
    """What the tests of one file say.

    Attributes
    ----------
    tests : WorkshopTests
        What was measured.
    saw : SawEstimate or None
        From rings, slots and bevels.
    friction : FrictionEstimate or None
        From slides.
    strength : StrengthEstimate or None
        From broken strips.
    moisture : MoistureEstimate or None
        From weighings and a meter.
    """

    __test__ = False  # no test case of pytest's

    tests: WorkshopTests
    saw: SawEstimate | None
    friction: FrictionEstimate | None
    strength: StrengthEstimate | None
    moisture: MoistureEstimate | None

    @property
    def learned(self) -> Learned:
        """What to keep of them."""
        return Learned(
            saw=None if self.saw is None else self.saw.saw,
            frictions=() if self.friction is None else (self.friction.friction,),
            strengths=() if self.strength is None else (self.strength.strength,),
            moistures=() if self.moisture is None else (self.moisture.moisture,),
        )


def learn(tests: WorkshopTests, *, where: str = "") -> TestResults:
    """Work out everything the tests of one file teach; readings that contradict each other are refused.

    Parameters
    ----------
    tests : WorkshopTests
        What was measured. Moisture that was measured is that of the broken strips too.
    where : str
        File name for the error messages.

    Returns
    -------
    TestResults
        One estimate for each kind of test.

    Raises
    ------
    InputError
        One line for every kind of test whose readings cannot all be right.
    NoConvergenceError
        If the saw's readings agree and leave it too open to be summed up.
    """
    problems: list[Problem] = []
    kept = {"name": tests.name, "date": tests.date}
    saw = friction = strength = moisture = None
    try:
        if tests.cuts is not None:
            saw = estimate_saw(tests.cuts, where=where)
            refuse_misfit(saw, where=where)
    except InputError as error:
        problems += error.problems
    try:
        if tests.slides is not None:
            friction = estimate_friction(tests.slides, **kept)
            refuse_slides(friction, where=where)
    except InputError as error:
        problems += error.problems
    try:
        if tests.moisture is not None:
            moisture = estimate_moisture(tests.moisture, **kept)
            refuse_moisture(moisture, where=where)
    except InputError as error:
        problems += error.problems
    try:
        if tests.strips is not None:
            strength = estimate_strength(_as_moist(tests.strips, moisture), **kept)
            refuse_strips(strength, where=where)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(tuple(problems))
    return TestResults(tests, saw, friction, strength, moisture)


def _as_moist(strips: BreakTests, moisture: MoistureEstimate | None) -> BreakTests:
    if moisture is None:
        return strips
    known = moisture.moisture
    return replace(strips, moisture_percent=known.moisture_percent, moisture_sd_percent=known.sd_percent)


_NOTE = "By the tests "


def with_learned(bowl: Bowl, learned: Learned, *, units: str | None = None) -> Bowl:
    """The bowl with what tests have taught in place of what was assumed or written.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    learned : Learned
        What was learned. Of friction, strength and moisture only what was measured on this wood, with this
        finish and with growth rings lying this way is taken.
    units : str or None
        "in" or "mm", for the notes; None: as in the bowl file.

    Returns
    -------
    Bowl
        With ranges, assumptions marked "measured", and notes.

    Raises
    ------
    InputError
        If the saw leaves no tilt, or is known too badly.
    """
    bowl = replace(bowl, notes=tuple(n for n in bowl.notes if not n.startswith(_NOTE)))
    if learned.saw is not None:
        bowl = with_saw(bowl, learned.saw, units=units)
    # The moisture first: strength is told beside it.
    bowl = _with_moisture(bowl, learned.moistures)
    bowl = _with_friction(bowl, learned.frictions)
    return _with_strength(bowl, learned.strengths)


def left_out_notes(bowl: Bowl) -> tuple[str, ...]:
    """What tests have taught and this bowl could not take, in sentences.

    Parameters
    ----------
    bowl : Bowl
        A bowl that what was learned was laid on.

    Returns
    -------
    tuple[str, ...]
        Those of its notes; empty where nothing was left out.
    """
    return tuple(note for note in bowl.notes if note.startswith(_NOTE))


def _noted(bowl: Bowl, text: str) -> Bowl:
    return replace(bowl, notes=(*bowl.notes, f"{_NOTE}{text}"))


def _told(bowl: Bowl, assumption: Assumption, *old: str) -> Bowl:
    kept = tuple(a for a in bowl.assumptions if a.key not in (assumption.key, *old))
    return replace(bowl, assumptions=(assumption, *kept))


def _measured(key: str, shown: list[str], source: str) -> Assumption:
    value, low, high = shown
    return Assumption(key, value, low, high, "measured", source)


def _basis(name: str, date: str, *counts: tuple[int, str]) -> str:
    listed = " and ".join(f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n)
    return f"tests {name!r}: {listed}{', ' + date if date else ''}"


def _in_place_of(bowl: Bowl, key: str, before: str) -> str:
    assumed = any(a.key == key and a.mark != "measured" for a in bowl.assumptions)
    earlier = any(a.key == key and a.mark == "measured" for a in bowl.assumptions)
    whose = "earlier" if earlier else "assumed" if assumed else "bowl file's"
    return f"in place of the {whose} {before}"


def _range_before(bowl: Bowl, path: str) -> str:
    low, high = bowl.ends_of(path)
    return f"{low:.2g} to {high:.2g}" if low < high else f"{low:.2g}"


def _with_friction(bowl: Bowl, frictions: Sequence[Friction]) -> Bowl:
    """Friction of this wood and finish; a test that named no wood serves every wood."""
    wood, finish = bowl.board.wood.name, bowl.use.finish
    fitting = [f for f in frictions if f.finish == finish and f.wood in (wood, "")]
    if not fitting:
        tested = {_finished(f.finish, f.wood or "any wood") for f in frictions}
        if not tested:
            return bowl
        listed = ", ".join(sorted(tested))
        this = _finished(finish, wood)
        return _noted(bowl, f"friction is known for {listed}, not for {this}: left out.")
    # A test on the very wood counts before one that named none.
    found = max(fitting, key=lambda f: f.wood != "")
    before = _range_before(bowl, "use.friction")
    source = (
        f"{_basis(found.name, found.date, (found.slides, 'slide'))}; "
        f"{_in_place_of(bowl, 'use.friction', before)}"
    )
    shown = [f"{v:.2f}" for v in (found.friction, found.low, found.high)]
    known = Uncertain("friction", "", found.low, found.high, "use.friction")
    bowl = replace(
        bowl,
        use=replace(bowl.use, friction=found.friction),
        uncertain=_replaced(bowl.uncertain, known),
    )
    return _told(bowl, _measured("use.friction", shown, source))


def _finished(finish: str, wood: str) -> str:
    return f"bare {wood}" if finish == "none" else f"{finish} on {wood}"


def _replaced(uncertain: tuple[Uncertain, ...], known: Uncertain) -> tuple[Uncertain, ...]:
    """The range in place of the one of the same number, or at the end where there was none."""
    if all(u.path != known.path for u in uncertain):
        return (*uncertain, known)
    return tuple(known if u.path == known.path else u for u in uncertain)


def _with_moisture(bowl: Bowl, moistures: Sequence[BoardMoisture]) -> Bowl:
    """Moisture as sawn, and of base and turns where they were taken to be as sawn."""
    wood = bowl.board.wood.name
    fitting = [m for m in moistures if m.wood in (wood, "")]
    if not fitting:
        tested = ", ".join(sorted({m.wood for m in moistures}))
        return _noted(bowl, f"moisture is that of {tested}: left out.") if tested else bowl
    found = max(fitting, key=lambda m: m.wood != "")
    percent, reach = found.moisture_percent, RANGE_SDS * found.sd_percent
    before = f"{bowl.board.moisture_percent:g} %"
    place = _in_place_of(bowl, "board.moisture", before)
    counts = ((found.pieces, "oven reading"), (found.meters, "meter reading"))
    source = f"{_basis(found.name, found.date, *counts)}; {place}"
    taken_as_sawn = {a.key for a in bowl.assumptions}
    use = bowl.use
    if "use.base_moisture" in taken_as_sawn:
        use = replace(use, base_moisture_percent=percent)
    if "use.turn_moisture" in taken_as_sawn:
        use = replace(use, turn_moisture_percent=(percent,))
    shown = [f"{v:.1f} %" for v in (percent, percent - reach, percent + reach)]
    as_sawn = tuple(
        replace(a, value=shown[0], low=shown[0], high=shown[0])
        if a.key in ("use.base_moisture", "use.turn_moisture")
        else a
        for a in bowl.assumptions
    )
    bowl = replace(bowl, board=replace(bowl.board, moisture_percent=percent), use=use, assumptions=as_sawn)
    return _told(bowl, _measured("board.moisture", shown, source))


_ACROSS = "board.wood.tension_across_MPa"
_SETTLED = (
    "wood.tension_across_MPa",
    "scatter of tension across",
    "test piece of strength across the grain, volume it stands for",
)
"""Assumptions that strips of the board itself stand in place of, by their names in
:mod:`fitsim.bowlfile.defaults`."""


def _with_strength(bowl: Bowl, strengths: Sequence[BoardStrength]) -> Bowl:
    """Strength across the grain of this board, if it is of this wood and sawn this way."""
    board = bowl.board
    ring_deg = math.degrees(board.ring_angle_rad)
    fitting = [
        s
        for s in strengths
        if s.wood == board.wood.name
        and abs(math.degrees(s.across.ring_angle_rad) - ring_deg) <= SAME_GRAIN_DEG
    ]
    if not fitting:
        tested = {
            f"{s.wood} with growth rings at {math.degrees(s.across.ring_angle_rad):.0f} deg"
            for s in strengths
        }
        if not tested:
            return bowl
        this = f"{board.wood.name} with them at {ring_deg:.0f} deg"
        listed = ", ".join(sorted(tested))
        return _noted(bowl, f"strength across the grain is known for {listed}, not for {this}: left out.")
    found = fitting[0]
    shape = weibull_shape().value
    mean, ends = found.across.at_shape(shape)[0], found.across.range_MPa(shape)
    # The wood's own number is the handbooks' mean of both ways of pulling, at their piece's volume.
    softwood = board.wood.group == "softwood"
    both_ways = mean / ring_factor(found.across.ring_angle_rad, softwood=softwood)
    reach = ends[0] / mean, ends[1] / mean
    source = (
        f"{_basis(found.name, found.date, (found.strips, 'strip'))}; strips broken across the grain, "
        f"carried to the handbooks' volume and 12 % moisture; in place of {_strength_before(bowl)}"
    )
    shown = [f"{v:.2f} MPa" for v in (mean, mean * reach[0], mean * reach[1])]
    number = replace(
        board.wood.tension_across_MPa,
        value=both_ways, low=both_ways * reach[0], high=both_ways * reach[1],
        mark="measured", source=source,
    )  # fmt: skip
    bowl = replace(
        bowl,
        board=replace(
            board, wood=replace(board.wood, tension_across_MPa=number), tested_across=found.across
        ),
        # What strips leave open is the scatter of this board: no range of the verdict's beside it.
        uncertain=tuple(u for u in bowl.uncertain if u.path != _ACROSS),
    )
    told = _measured("strength across the grain of this board", shown, source)
    return _told(bowl, told, *_SETTLED)


def _strength_before(bowl: Bowl) -> str:
    number = bowl.board.wood.tension_across_MPa
    whose = "an earlier test's" if number.mark == "measured" else "the handbook's"
    return f"{whose} {number.value:.2g} MPa, a mean of both ways of pulling"
