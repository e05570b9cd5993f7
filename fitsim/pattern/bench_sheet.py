"""What goes on the bench sheet, as plain data: short blocks of words, every number from the same fit.

Nothing is drawn here; :mod:`fitsim.drawing.bench_drawing` decides what goes where on the page.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import ElasticFit
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.hand_press import JudgedPress
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.verdict import (
    FALLS_THROUGH,
    LOCKS,
    NOT_DECIDED,
    SPLIT_RISK,
    SPRINGS_BACK,
    STATES,
    WILL_NOT_OPEN,
)
from fitsim.bowlfile.keys import GRAIN_DEG
from fitsim.errors import OutsideModelError
from fitsim.geometry.blade import TURNS, blade_turns, widest_blade_mm
from fitsim.pattern.layout import Handling, crosses_the_grain
from fitsim.pattern.table_setting import (
    HALF_DEG,
    Setting,
    TableSetting,
    drops_mm,
    harmless_N,
    press_over_ends,
    set_to,
    table_setting,
)
from fitsim.quantities import show_force, show_force_upward, show_length
from fitsim.report.advised_test import advised_test
from fitsim.report.common_words import BLADE_OUT, CAUTIONS, chance_in_words, cut_in_words
from fitsim.report.press_words import show_needed_press, shown_presses
from fitsim.report.verdict_words import OUTSIDE_MODEL, named_states, told_states, verdict_line
from fitsim.report.why import limit_sentence, why
from fitsim.saw.learned import left_out_notes
from fitsim.strip.root import ReliefHole, relief_hole
from fitsim.wood.finishes import finish_named

__all__ = ["BenchSheet", "Block", "bench_sheet", "hole_at_end", "rule_length", "what_is_set"]

KERF_STEP_MM = 0.1
"""How much kerf the sheet tells the effect of: what a feeler gauge tells apart. [mm]"""

FILM, KERF = "use.film_mm", "cut.kerf_mm"

SAME_RINGS_DEG = 0.5
"""A board is called by its sawing where its growth rings lie so near: as the whole degree shown. [deg]"""

AS_BEFORE_MM = 0.5
"""A change of drop too small to see at a rim: our choice. [mm]"""

INCH_128TH_MM = 25.4 / 128
"""Half of the finest division of a rule in inches. [mm]"""

SEASON_POINTS = 2.0
"""How much drier and wetter than the base the turns are tried: an estimate for a season indoors, 1 to 4."""


@dataclass(frozen=True)
class Block:
    """One heading and what stands under it.

    Attributes
    ----------
    heading : str
        A word or two.
    lines : tuple[str, ...]
        Sentences, most needed first.
    later : bool
        Whether nobody needs it at the saw.
    """

    heading: str
    lines: tuple[str, ...]
    later: bool = False


@dataclass(frozen=True)
class BenchSheet:
    """Everything on the bench sheet but its drawing.

    Attributes
    ----------
    name : str
        The bowl's.
    state : str
        The verdict in capitals, the one to plan for first, that of the middle of the ranges beside it.
    why : str
        The verdict in a sentence or two.
    setting : str
        The line in large letters.
    blocks : tuple[Block, ...]
        In the order of the work.
    cautions : tuple[str, ...]
        Short cautions; the saw's manual comes first.
    section_title : str
        What the section drawing shows.
    height_label : str
        The dimension to check with a rule, "" where nothing is to be opened.
    """

    name: str
    state: str
    why: str
    setting: str
    blocks: tuple[Block, ...]
    cautions: tuple[str, ...]
    section_title: str
    height_label: str


def rule_length(length_mm: float, *, units: str, toward: str = "near", parts: int = 32) -> str:
    """A length as a rule shows it, rounded to the safe side.

    Parameters
    ----------
    length_mm : float
        Length, not negative. [mm]
    units : str
        "in" or "mm".
    toward : str
        "near", "down" where more would do harm, "up" where less would.
    parts : int
        Parts of an inch; half millimetres otherwise.

    Returns
    -------
    str
        For example "9/32 in" or "7.5 mm".

    Examples
    --------
    >>> rule_length(10.7, units="in", toward="down", parts=16), rule_length(8.29, units="mm", toward="up")
    ('3/8 in', '8.5 mm')
    """
    unit_mm = 25.4 / parts if units == "in" else 0.5
    count = length_mm / unit_mm
    rounded = {"near": round(count), "down": math.floor(count + 1e-9), "up": math.ceil(count - 1e-9)}[
        toward
    ]
    if units == "mm":
        return f"{rounded / 2:g} mm"
    whole, rest = divmod(Fraction(rounded, parts), 1)
    return f"{whole} {rest} in" if whole and rest else f"{rest or whole} in"


def bench_sheet(answer: BowlFit, handling: Handling, *, units: str) -> BenchSheet:
    """Collect the bench sheet of one bowl; one that does not lock as planned gets no steps of the bench.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    handling : Handling
        How the board lies on the table.
    units : str
        "in" or "mm".

    Returns
    -------
    BenchSheet
        Words and numbers, nothing drawn.
    """
    setting, shape = table_setting(answer), answer.standing.shape
    forbidden = answer.verdict.state_in_middle != LOCKS
    title, label = "section, open: turns pressed home", ""
    if answer.standing.let_go:
        title = "section, open: pressed home and let go"
    if forbidden:
        title = "section, flat: not to be sawn as it is planned"
    elif shape is not None:
        label = f"{show_length(shape.height_mm, units=units)} outside"
    return BenchSheet(
        name=answer.bowl.name,
        state=verdict_line(answer),
        why=_why(answer, units),
        setting=_large_words(answer, setting),
        blocks=(_forbidden_blocks if forbidden else _bench_blocks)(answer, setting, handling, units),
        # Whoever is told to saw reads in its place in the work how the blade gets out.
        cautions=CAUTIONS if forbidden else tuple(text for text in CAUTIONS if text != BLADE_OUT),
        section_title=title,
        height_label=label,
    )


def _forbidden_blocks(
    answer: BowlFit, setting: TableSetting, _handling: Handling, units: str
) -> tuple[Block, ...]:
    """What the bowl is, what it would do and what to do about it; nothing of saw, drill, nail, finish."""
    verdict = answer.verdict
    pressed = answer.elastic is not None and verdict.state_in_middle not in (WILL_NOT_OPEN, NOT_DECIDED)
    return (
        _board_block(answer, units),
        _table_block(answer, setting, units),
        *((_press_block(answer, setting, units),) if pressed else ()),
        _would_block(answer, units),
        _instead_block(),
        _unknown_block(answer),
    )


def _bench_blocks(
    answer: BowlFit, setting: TableSetting, handling: Handling, units: str
) -> tuple[Block, ...]:
    slope = _drop_by_kerf(answer)
    return (
        _board_block(answer, units),
        _table_block(answer, setting, units),
        _blade_block(answer, units),
        _saw_block(answer, handling, units),
        _face_block(answer, handling, units),
        _nail_block(answer, units),
        _press_block(answer, setting, units),
        _right_block(answer, units),
        _wrong_block(answer, setting, slope, units),
        _finish_block(answer, slope, units),
        _season_block(answer, units),
        _unknown_block(answer),
    )


def _why(answer: BowlFit, units: str) -> str:
    """Nothing where it locks and was pressed: the blocks below say how far to press and what to measure."""
    if answer.verdict.state == LOCKS and answer.elastic is not None:
        return ""
    return f"{why(answer, units=units)} {advised_test(answer, units=units)}".strip()


_MAY = {
    WILL_NOT_OPEN: "not open",
    FALLS_THROUGH: "fall through",
    SPRINGS_BACK: "spring back",
    SPLIT_RISK: "split",
}


def _large_words(answer: BowlFit, setting: TableSetting) -> str:
    """The setting, ordered only where the bowl locks there as planned."""
    tilt, may = f"{setting.asked.scale_deg:.3g} deg", _may_words(answer, setting.asked)
    if answer.verdict.state_in_middle != LOCKS:
        return f"Do not saw yet: {told_states(answer.verdict)}"
    if may:
        return f"Set the {what_is_set(answer)} to {tilt}, but test first: it may {may}"
    return f"Set the {what_is_set(answer)} to {tilt}" + (
        " (by the hand formula only)" if answer.elastic is None else ""
    )


def what_is_set(answer: BowlFit) -> str:
    """Say what is set: of a saw whose test cuts are known its scale, which is not the true tilt.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    str
        "scale" or "table".
    """
    return "scale" if answer.bowl.cut.saw else "table"


def _by_gauge(answer: BowlFit) -> str:
    """The tilt set with a bevel gauge, which reads what is between table and blade and not the scale."""
    cut = answer.bowl.cut
    if cut.saw:
        return f"{math.degrees(cut.tilt_rad[0]):.2f} deg between table and blade with a bevel gauge"
    return f"{math.degrees(cut.scale_tilt_rad[0]):.3g} deg with a bevel gauge"


def _true_tilt_lines(answer: BowlFit) -> list[str]:
    """What the scale of the saw whose test cuts are known means at the blade."""
    cut = answer.bowl.cut
    if not cut.saw:
        return []
    scale, true = (math.degrees(v[0]) for v in (cut.scale_tilt_rad, cut.tilt_rad))
    return [f"{cut.saw}: {scale:.3g} deg on the scale is {true:.2f} deg between table and blade."]


def _may_words(answer: BowlFit, asked: Setting) -> str:
    """What a bowl that locks as planned may do under the press of the sheet, then pressed harder; or ""."""
    first, told = asked.so_pressed, named_states(answer.verdict)
    last = ", or ".join(_MAY[state] for state in STATES[:-1] if state in told and state != first)
    if first == LOCKS or not last:
        return last if first == LOCKS else _MAY[first]
    harder = all(d.name == "friction" for d in answer.verdict.depends_on)
    return f"{_MAY[first]}, {'and' if harder else 'or'} {last}{' if pressed harder' if harder else ''}"


def _board_block(answer: BowlFit, units: str) -> Block:
    board = answer.bowl.board
    # As fitsim plan says to saw it; base and height as fitsim fit tells them.
    across, thick = (show_length(v, units=units) for v in (board.across_mm, board.thickness_mm))
    size = f"{board.wood.name}; {board.outline_words}, {across} across, {thick} thick"
    if board.edge is not None and board.edge.length_mm != board.edge.width_mm:
        long, wide = (show_length(v, units=units) for v in (board.edge.length_mm, board.edge.width_mm))
        size = f"{board.wood.name}; {board.outline_words}, {long} along, {wide} across, {thick} thick"
    rings = (
        f"moisture {round(board.moisture_percent, 1):g} % when sawn; {_grain_words(board.ring_angle_rad)}"
    )
    away = abs(math.degrees(math.atan(math.tan(answer.bowl.cut.root_rad))))
    root = f"root {away:.0f} deg from the grain"
    if crosses_the_grain(answer.rigid.slot.tangent[0]):
        root = f"{root}: there the strip crosses it, and splits sooner than where it runs with it"
    return Block("Board", (size, rings, root))


def _grain_words(ring_angle_rad: float) -> str:
    """How the board was sawn out of the log, as its seller says it and as its end grain shows it."""
    ring_deg = math.degrees(ring_angle_rad)
    rings = f"growth rings {ring_deg:.0f} deg to the face"
    named = next((word for word, deg in GRAIN_DEG.items() if abs(deg - ring_deg) < SAME_RINGS_DEG), "")
    return f"{named} ({rings})" if named else rings


def _table_block(answer: BowlFit, setting: TableSetting, units: str) -> Block:
    """The setting asked for, what half a degree to each side does, and the half degree to set."""
    asked = setting.asked
    by = " by the hand formula only" if answer.elastic is None else ""
    if asked.state in (WILL_NOT_OPEN, NOT_DECIDED):
        by = ""  # a slot that is shut is told before anything is pressed
    if asked.state != LOCKS:
        return Block(
            "Table",
            (
                f"Planned {asked.scale_deg:.3g} deg: {told_states(answer.verdict)}{by}. Do not saw this "
                "bowl yet; ask which tilt locks.",
                *_true_tilt_lines(answer),
            ),
        )
    may = _may_words(answer, asked)
    if asked.so_pressed != LOCKS:
        may = f", but where friction is least, pressed with {_same_press(answer, units)}, it may {may}"
    elif may:
        may = f"{',' if by else ''} in the middle of what is known, and may {may} at its ends"
    lines = [f"Planned {asked.scale_deg:.3g} deg: {asked.state}{by}{may}.", *_true_tilt_lines(answer)]
    if setting.beside:
        alike: dict[str, list[str]] = {}
        for beside in setting.beside:
            alike.setdefault(_does_at(beside, units), []).append(f"{beside.scale_deg:g}")
        told = "; ".join(f"at {' and '.join(tilts)} deg {does}" for does, tilts in alike.items())
        lines.append(f"If it is set a little off{_pressed_the_same(answer, units)}: {told}.")
    nearest = setting.nearest
    if nearest is not None:
        drop = rule_length(nearest.drop_mm, units=units)
        lines.append(f"On a scale of half degrees: {nearest.scale_deg:g} deg; the first turn sinks {drop}.")
    elif setting.beside:
        lines.append(f"On a scale of half degrees none is as good: set {_by_gauge(answer)}.")
    if answer.elastic is None:
        lines.append("Before you saw, have it pressed: this sheet knows stiff turns only.")
    return Block("Table", tuple(lines))


def _does_at(setting: Setting, units: str) -> str:
    if setting.surely_locks:
        return "it locks too"
    if setting.state == NOT_DECIDED:
        return "what it does could not be calculated"
    if setting.short_of_N and setting.state == setting.may == LOCKS:
        if not math.isfinite(setting.short_of_N):
            return "it locks by too little"
        press = show_force_upward(setting.short_of_N, units=units)
        return f"it locks by too little, and is to be given {press}"
    if setting.state in (LOCKS, SPLIT_RISK):
        return f"it may {_MAY[setting.may]}"
    return f"it {setting.state}"


def _pressed_the_same(answer: BowlFit, units: str) -> str:
    """Words for the press that settings beside the planned one are tried with; "" where none is."""
    pressed = _same_press(answer, units)
    return f" and pressed with the same {pressed}" if pressed else ""


def _same_press(answer: BowlFit, units: str) -> str:
    """The press of the sheet; "" where nothing was pressed."""
    found = answer.elastic
    if found is None:
        return ""
    judged = found.opening.judged
    return shown_presses(answer, judged.press_N, judged.needed_N, units=units)[0]


def _blade_block(answer: BowlFit, units: str) -> Block:
    cut, blade = answer.bowl.cut, answer.least_radius
    kerfs = " / ".join(dict.fromkeys(show_length(k, units=units, fine=True) for k in cut.kerf_mm))
    ranged = next(((u.low, u.high) for u in answer.bowl.uncertain if u.path == KERF), None)
    if ranged is not None:
        low, high = (show_length(k, units=units, fine=True) for k in ranged)
        kerfs = f"{kerfs}, known as {low} to {high}"
    kerf = f"Kerf counted on: {kerfs}. Saw a short slot and try it with a feeler gauge."
    tightest = answer.rigid.slot.tightest_mm
    base = show_length(tightest, units=units)
    if blade is None or cut.blade_width_mm is None:
        fine_mm = widest_blade_mm(tightest)
        widest = "no published table has a blade for it"
        if fine_mm is not None:
            shown = show_length(fine_mm, units=units)
            widest = f"a blade at most {shown} wide turns it by every published table"
        return Block("Blade", (f"Must turn {base}: {widest}.", kerf))
    low, high = (show_length(v, units=units) for v in (blade.low_mm, blade.high_mm))
    turns = blade_turns(blade, tightest)
    word = turns if turns == TURNS else turns.upper()
    width = show_length(cut.blade_width_mm, units=units)
    where = "at the base" if answer.rigid.slot.winding is None else "in the tightest curve"
    return Block("Blade", (f"{width} wide, {word} {base} {where} (tables: {low} to {high}).", kerf))


def _saw_block(answer: BowlFit, handling: Handling, units: str) -> Block:
    side = "right" if handling.middle_right else "left"
    way = "clockwise" if handling.middle_right else "counter-clockwise"
    length, time = cut_in_words(answer, units=units)
    hole = hole_at_end(answer)
    return Block(
        "Sawing",
        (
            f"Board's middle {side} of the blade, the {handling.middle} side; turn the board "
            f"{way}. Never change sides.",
            f"Cut {length}, {time}. {BLADE_OUT}",
            _drill_words(hole, units),
        ),
    )


def hole_at_end(answer: BowlFit) -> ReliefHole:
    """The hole to drill where the slot will end: the sheet asks for it and the pattern shows it.

    Parameters
    ----------
    answer : BowlFit
        The fit.

    Returns
    -------
    ReliefHole
        For the innermost slot.
    """
    cut = answer.bowl.cut
    return relief_hole(
        kerf_mm=cut.kerf_mm[0],
        tilt_rad=cut.tilt_rad[0],
        thickness_mm=answer.bowl.board.thickness_mm,
        width_mm=float(answer.rigid.strip.width_mm[0]),
    )


def _drill_words(hole: ReliefHole, units: str) -> str:
    """The advice in the maker's units: the next 64th up, because the hole must hold the slot."""
    if units == "mm":
        return hole.advice
    drill, metric = rule_length(hole.diameter_mm, units=units, toward="up", parts=64), hole.diameter_mm
    return hole.advice.replace(f"Drill {metric:g} mm", f"Drill {drill} (or {metric:g} mm)")


def _face_block(answer: BowlFit, handling: Handling, units: str) -> Block:
    shape = answer.standing.shape
    up = "UP" if handling.wide_face_up else "DOWN"
    first = f"Inside of the bowl: the face that lay {up} on the saw. Push the base down from it."
    if shape is None:
        return Block("Which way up", (first, "To tell: there the base is wider."))
    # Of what is not round the length along the grain, where a rule is laid.
    low = shape.base_diameter_mm if shape.base_length_mm is None else shape.base_length_mm
    high = low + 2 * answer.bowl.board.thickness_mm * float(answer.rigid.slot.slope[0])
    wide, narrow = (show_length(v, units=units) for v in (high, low))
    along = "" if shape.base_length_mm is None else " along the grain"
    return Block(
        "Which way up",
        (
            first,
            f"To tell: there the base is wider{along}, about {wide} against {narrow}. Pushed the "
            f"other way nothing binds.",
        ),
    )


def _nail_block(answer: BowlFit, units: str) -> Block:
    nail, strip = answer.nail, answer.rigid.strip
    where = (
        f"Trim the free end at the mark, where it is "
        f"{rule_length(float(strip.width_mm[-1]), units=units)} "
        "wide. Nail it, board flat, from the edge in at mid-thickness."
    )
    if nail.length_mm <= 0:
        return Block(
            "Nail", ("No stock nail fits without pinning two turns: bind the free end another way.", where)
        )
    # Rounded as fitsim fit rounds them: 1/128 in is less than half of what the point stays short.
    least, most = (show_length(v, units=units) for v in (nail.least_mm, nail.greatest_mm))
    stock = show_length(nail.length_mm, units=units)
    cut = f", cut down to {most}" if nail.cut_down and most != stock else ""
    long, thick = f"{nail.length_mm:g} mm", f"{nail.diameter_mm:g} mm"
    if units == "in":  # stock nails are tabled in mm
        long = f"{stock} ({long})"
        thick = f"{show_length(nail.diameter_mm, units=units, fine=True)} ({thick})"
    holes = (show_length(v, units=units, fine=True) for v in (nail.pilot_low_mm, nail.pilot_high_mm))
    size = (
        f"Nail {long} long{cut}, {thick} thick (length {least} to {most}); "
        f"pilot hole {' to '.join(dict.fromkeys(holes))}."
    )
    return Block("Nail", (size, where))


def _press_block(answer: BowlFit, setting: TableSetting, units: str) -> Block:
    found = answer.elastic
    most = answer.bowl.use.press_N if found is None else found.opening.press_N
    have = f"Flat of the hand on the base, rim held, up to {show_force(most, units=units)}; no harder."
    stop = "Stop when every turn has wedged, when the height is reached, or at the first crack."
    if found is None:
        return Block("Press", (have, stop))
    if found.opening.fell_through:
        gone = f"A turn drops out at {show_force(most, units=units)}: there is nothing to press against."
        return Block("Press", (gone,))
    judged = found.opening.judged
    if not math.isfinite(judged.needed_N) or judged.friction > answer.bowl.use.friction:
        need = f"No press up to {show_force(found.reach_N, units=units)} makes it hold."
        if math.isfinite(judged.needed_N):
            need = f"In the middle of the friction's range {need[0].lower()}{need[1:]}"
        return Block("Press", (need,))
    if answer.verdict.state_in_middle == FALLS_THROUGH:
        # No press is right for it, so neither how much is to be given nor how much is there is told.
        _, needed = shown_presses(answer, judged.asked_N, judged.needed_N, units=units)
        little = (
            f"Pressed with {needed} it would keep its rise, but too little of the thickness would bear."
        )
        return Block("Press", (little,))
    refused = _press_refused(answer, found, units)
    if refused:
        return Block("Press", (refused,))
    if answer.verdict.state_in_middle != LOCKS:
        asked, needed = shown_presses(answer, judged.asked_N, judged.needed_N, units=units)
        limit = limit_sentence(answer, found, units=units)
        told = f"It holds from {needed} and is to be given {asked}.{limit}"
        return Block("Press", (told,))
    there_N = harmless_N(answer)
    if answer.deciding_press_N is None and math.isfinite(there_N):
        return Block("Press", (*_harmless_lines(answer, judged, there_N, units), stop))
    up_to, needed = shown_presses(answer, judged.asked_N, judged.needed_N, units=units)
    have = f"Flat of the hand on the base, rim held, up to {up_to}; no harder."
    if setting.asked.so_pressed == SPRINGS_BACK and setting.asked.may in _LESS_FRICTION:
        less = _LESS_FRICTION[setting.asked.may]
        have = (
            f"Flat of the hand on the base, rim held, up to {up_to}; if it springs back from that, no "
            f"harder: {less}."
        )
    elif (ends := press_over_ends(answer)) is not None:
        more = f"no harder: {_SO_PRESSED.get(ends.spoils, _SO_PRESSED[SPLIT_RISK])}"
        if not ends.spoils:
            more = f"up to {show_force_upward(ends.press_N, units=units)}, and no harder"
        have = (
            f"Flat of the hand on the base, rim held, up to {up_to}; if it springs back from that, {more}."
        )
    hangs = [d for d in answer.verdict.depends_on if d.name == "press" and d.state_at_low == SPRINGS_BACK]
    most_N = answer.deciding_press_N
    over_all = up_to if most_N is None else show_needed_press(answer, most_N, units=units)
    if most_N is not None and over_all != up_to:
        spoils = found.split_press_N < most_N or any(d.state_at_high == SPLIT_RISK for d in hangs)
        more = f"up to {over_all}, and no harder"
        if spoils:
            more = f"no harder: {_LESS_FRICTION[SPLIT_RISK]}"
        have = (
            f"Flat of the hand on the base, rim held, up to {up_to}; if it springs back from that, {more}."
        )
    return Block(
        "Press", (have, f"It holds from {needed}.{limit_sentence(answer, found, units=units)}", stop)
    )


_LESS_FRICTION = {
    SPLIT_RISK: "less friction would take so hard a press that the wood may split",
    FALLS_THROUGH: "with less friction it may fall through",
}
"""Why a bowl that springs back where friction is least is pressed no harder."""

_SO_PRESSED = {
    SPLIT_RISK: "the wood may split",
    FALLS_THROUGH: "it may fall through",
}
"""Why one is not pressed harder that asks for more at an end of its ranges."""


def _harmless_lines(answer: BowlFit, judged: JudgedPress, there_N: float, units: str) -> tuple[str, str]:
    """How hard to press where all the press there is does no harm: nobody can dose a few newtons."""
    asked, needed, there = shown_presses(
        answer, judged.asked_N, judged.needed_N, beside_N=(there_N,), units=units
    )
    return (
        f"Flat of the hand on the base, rim held, with {asked}, or more if that is hard to judge: up to "
        f"{there} fewer than 1 bowl in 1000 would split and none would fall through.",
        f"It holds from {needed}.",
    )


def _press_refused(answer: BowlFit, found: ElasticFit, units: str) -> str:
    """That no press both is there, holds and spares the wood; "" where one does."""
    judged, there_N, split_N = found.opening.judged, answer.bowl.use.press_N, found.split_press_N
    short: list[float] = []
    if judged.share > 1:
        short.append(there_N)
    if split_N < judged.asked_N:
        short.append(split_N)
    if not short:
        return ""
    asked, needed, *less = shown_presses(
        answer, judged.asked_N, judged.needed_N, beside_N=tuple(short), units=units
    )
    told = [f"there are {less[0]}"] if judged.share > 1 else []
    if split_N < judged.asked_N:
        told.append(f"at {less[-1]} 1 in 10 splits already")
    first = "No press is right" if split_N < judged.asked_N else "There is not press enough"
    return f"{first}: it holds from {needed} and is to be given {asked}; {', and '.join(told)}."


def _right_block(answer: BowlFit, units: str) -> Block:
    shape = answer.standing.shape
    if shape is None:
        return Block(
            "When it is right", ("It will not be: a turn finds nothing to bind on, or its slot is shut.",)
        )
    rim = [show_length(v + answer.bowl.board.thickness_mm, units=units)
           for v in (shape.rise_least_mm, shape.rise_greatest_mm)]  # fmt: skip
    lines = [
        f"Each turn has sunk {_drop_words(answer, units)} into its neighbour.",
        f"Outside height, table to rim: {show_length(shape.height_mm, units=units)} ({rim[0]} to {rim[1]} "
        "round the rim).",
    ]
    return Block("When it is right", tuple(lines))


def _drop_words(answer: BowlFit, units: str) -> str:
    """How far the turns sink, from the least to the most."""
    # A last turn of a few hundredths bears on nothing.
    whole = answer.standing.drop_mm[: max(1, int(answer.rigid.strip.turns))]
    low, high = (rule_length(float(v), units=units) for v in (whole.min(), whole.max()))
    return low if low == high else f"{low} to {high}"


def _would_block(answer: BowlFit, units: str) -> Block:
    """What a bowl that must not be sawn would come to; its heights are told only as those of that."""
    verdict, lines = answer.verdict, list[str]()
    state = verdict.state_in_middle
    if state in STATES and {verdict.state, verdict.state_at_best} != {state}:
        lines.append(f"In the middle of all that is known only as a range it {_DOES[state]}.")
    lines += _would_lines(answer, state, units)
    return Block("What it would do", tuple(lines))


_DOES = {state: "risks a split" if state == SPLIT_RISK else state for state in STATES}


def _would_lines(answer: BowlFit, state: str, units: str) -> list[str]:
    found, shape = answer.elastic, answer.standing.shape
    if state == NOT_DECIDED:
        return ["Nothing is known of how it would open or stand."]
    if state == WILL_NOT_OPEN:
        return ["It would not open: its slot is shut, or too nearly shut, while the board is still flat."]
    if state == FALLS_THROUGH or shape is None:
        return [
            "Nothing would stand: a turn would drop out of its neighbour, or sink until too little bears."
        ]
    sizes = (
        f"each turn sunk {_drop_words(answer, units)}; outside height, table to rim: "
        f"{show_length(shape.height_mm, units=units)}"
    )
    pressed = "" if found is None else _last_press(answer, found, units)
    if state == SPLIT_RISK:
        chance = chance_in_words(answer.verdict.margins[STATES.index(SPLIT_RISK)].value)
        opened = f"Pressed with the {pressed} it takes" if pressed else "Opened, if its turns were stiff"
        return [f"{opened}, {chance} would split.", f"One that did not split would stand so: {sizes}."]
    if found is None:
        return [
            f"If its turns were stiff and pushed until they bind, before they slide back: {sizes}.",
            "It would not stay so.",
        ]
    if answer.standing.let_go:
        return [
            f"Pressed with all of {pressed} and let go, it would hold by so little that it may as well "
            f"spring back. If it held: {sizes}."
        ]
    return [
        f"Under the press of {pressed}, before it springs back: {sizes}.",
        "It would not stay so.",
    ]


def _last_press(answer: BowlFit, found: ElasticFit, units: str) -> str:
    """The press it was judged at, with the figures it has elsewhere on the sheet."""
    judged, press_N = found.opening.judged, found.opening.press_N
    if not math.isfinite(judged.asked_N):
        return show_force(press_N, units=units)
    if press_N >= judged.asked_N:
        return shown_presses(answer, judged.asked_N, judged.needed_N, units=units)[0]
    return shown_presses(answer, judged.asked_N, judged.needed_N, beside_N=(press_N,), units=units)[-1]


def _instead_block() -> Block:
    return Block(
        "Before you saw",
        (
            "Ask fitsim tilt at which tilts this bowl locks, and fitsim fit --changes what else would "
            "help.",
            "Change the bowl file and print a new sheet. The pattern printed with this one shows the bowl "
            "that must not be sawn: do not glue it on.",
        ),
    )


def _mean_drop_mm(answer: BowlFit, changed: Bowl) -> float:
    """Drop of a turn, on the average of the turns; nan where that is not known. [mm]"""
    try:
        return float(np.mean(drops_mm(answer, changed)))
    except OutsideModelError:
        return math.nan


def _drop_by_kerf(answer: BowlFit) -> float:
    """How much deeper a turn sinks for each mm of kerf, on the average of the turns. [mm/mm]

    From the same bowl with its slot narrowed on both sides, as a film does it.
    """
    narrower = with_input(answer.bowl, "use.film_mm", answer.bowl.use.film_mm + KERF_STEP_MM / 2)
    return (_mean_drop_mm(answer, answer.bowl) - _mean_drop_mm(answer, narrower)) / KERF_STEP_MM


def _wrong_block(answer: BowlFit, setting: TableSetting, slope: float, units: str) -> Block:
    """Three lines; sizes are differences of the model between this bowl and one changed a little."""
    bowl, found = answer.bowl, answer.elastic
    refused = found is not None and bool(_press_refused(answer, found, units))
    tilted = set_to(bowl, math.degrees(bowl.cut.scale_tilt_rad[0]) + HALF_DEG)
    by_tilt = abs(_mean_drop_mm(answer, tilted) - _mean_drop_mm(answer, bowl))
    sizes = ""
    if math.isfinite(slope) and math.isfinite(by_tilt):
        kerf, tilt = (_drop_length(v, units) for v in (KERF_STEP_MM * slope, by_tilt))
        step = show_length(KERF_STEP_MM, units=units, fine=True)
        sizes = f" {step} of kerf is {kerf} of a turn's drop on the average, half a degree {tilt}."
    return Block(
        "If it is not",
        (
            f"Sinks too deep: slot wider or tilt less than counted on.{sizes}"
            f"{_next_tilt(setting.more, 'more', units)}",
            f"Slides back: {'' if refused else 'press harder within the limit above, '}wipe wax off the "
            f"bevels.{_next_tilt(setting.less, 'less', units)}",
            "Creaks or binds before it is down: stop, let it back, clear the slots, press gently. For the "
            "next one ask fit about a narrower pitch.",
        ),
    )


def _drop_length(change_mm: float, units: str) -> str:
    """A change of a drop; one too small for the rule is told as less than its finest division."""
    if units == "in" and change_mm < INCH_128TH_MM:
        return "less than 1/64 in"
    return show_length(change_mm, units=units)


def _next_tilt(beside: Setting | None, word: str, units: str) -> str:
    """A tilt worth asking for, or that none such helps; "" where none was tried or could be followed.

    What another bowl would be under the press that it asks for itself, nobody has tried.
    """
    if beside is None or beside.state == NOT_DECIDED:
        return ""
    if beside.surely_locks:
        return f" For the next one ask fit about {beside.scale_deg:g} deg."
    if beside.at_worst == SPRINGS_BACK:
        return " For the next one ask fitsim tilt."  # it may lock there under a press of its own
    return f" To tilt {word} is no cure: at {beside.scale_deg:g} deg {_does_at(beside, units)}."


def _finish_block(answer: BowlFit, slope: float, units: str) -> Block:
    bowl, own = answer.bowl, answer.bowl.use.finish
    least, most = bowl.ends_of(FILM)
    counted = ""
    if most > 0:
        ends = dict.fromkeys(_film(v, units) for v in (least, most))
        counted = f", {' to '.join(ends)} on each face"
    lines = [f"This sheet counts on: {own}{counted}."]
    for name in ("oil", "varnish"):
        # Of the bowl's own finish what its file says, not what is usual.
        high = most if name == own else finish_named(name, wood_group=bowl.board.wood.group).film_high_mm
        seats = rigid_fit(with_input(bowl, "use.film_mm", high)).seats
        left, less = float(np.min(seats.slot_left_mm)), 2 * high * slope
        lost = "how much less a turn sinks is not known"
        if math.isfinite(less):
            lost = (
                "a turn sinks as before"
                if less < AS_BEFORE_MM
                else f"a turn sinks {show_length(less, units=units)} less than bare"
            )
        lost = (
            lost
            if left > 0 and np.all(np.isfinite(seats.seat_drop_mm))
            else "it will not open, or never binds"
        )
        slot = show_length(max(left, 0.0), units=units, fine=True)
        lines.append(
            f"{name.capitalize()}, {_film(high, units)} on each face at most: slot left {slot}, {lost}."
        )
    return Block("Finish", tuple(lines), later=True)


def _film(thickness_mm: float, units: str) -> str:
    """A film's thickness: thousandths of an inch and less, or mm."""
    return f"{thickness_mm / 25.4:.2g} in" if units == "in" else f"{thickness_mm:.3g} mm"


def _season_block(answer: BowlFit, units: str) -> Block:
    """Turns follow the room before the base does: what a difference would do, pressed as the bowl is."""
    bowl, drops = answer.bowl, []
    for points in (-SEASON_POINTS, SEASON_POINTS):
        now = max(bowl.use.base_moisture_percent + points, 0.0)
        try:
            changed = with_input(bowl, "use.turn_moisture_percent", now)
            drops.append(float(drops_mm(answer, changed)[0]))
        except OutsideModelError:
            drops.append(math.nan)
    shown = [rule_length(v, units=units) if math.isfinite(v) else "" for v in drops]
    known = [(word, sunk) for word, sunk in zip(("drier", "wetter"), shown, strict=True) if sunk]
    off = f"{SEASON_POINTS:g} points of moisture"
    if not known:
        sizes = f"How far turns sink that are {off} drier or wetter than the base is not known."
    else:
        (word, sunk), *rest = known
        sizes = f"Turns {off} {word} than the base: the first turn sinks {sunk}"
        other = "wetter" if word == "drier" else "drier"
        sizes += f"; {other}: {rest[0][1]}." if rest else f". How far with {other} turns is not known."
    recheck = "Recheck when heating starts and when it ends, and after damp weather."
    return Block("Seasons", (sizes, recheck), later=True)


def _unknown_block(answer: BowlFit) -> Block:
    model = (
        "Counted with stiff turns: holding is a first estimate, and splitting is not looked at."
        if answer.elastic is None
        else "Counted with clear, even wood that bends."
    )
    lines = (f"{'; '.join(OUTSIDE_MODEL)}.", model, *left_out_notes(answer.bowl))
    return Block("Not counted", lines, later=True)
