"""Cuts that cannot be made: keys that are each well written but contradict one another.

Every check answers with the key to change and the value that would do. Sizes, twice-given keys and angles
are checked together; only when they stand does it make sense to ask about the base, and then the strip.
"""

import math
from collections.abc import Sequence
from fractions import Fraction

from fitsim.bowlfile.keys import BowlTables, Ends
from fitsim.errors import OutsideModelError, Problem
from fitsim.geometry.blade import BLADE_RANGE_mm, kerf_from_blade_mm, kerf_of_blades, least_radius
from fitsim.geometry.board_outline import Outline
from fitsim.geometry.cut import spiral_turns
from fitsim.geometry.offsets import CannotWindError
from fitsim.geometry.winding import winding
from fitsim.quantities import INCH_MM, show_figures, show_length, show_limit, show_written

__all__ = [
    "LEAST_FOOT_MM",
    "PITCH_DEFAULT_MM",
    "ROOT_DEFAULT_DEG",
    "base_corner_mm",
    "base_radius_mm",
    "impossible_cuts",
]

PITCH_DEFAULT_MM = 6.35
ROOT_DEFAULT_DEG = 90.0
CORNER_DEFAULT_SHARE = 0.5
"""Left out, no corner round the base is tighter than this share of half its narrow way: an estimate."""
MOST_OFF_SQUARE = 0.03
"""Blended lines that lie so far from square to one another are refused: sections and seats then miss
one another by up to three times as much."""
LEAST_CORNER_PITCHES = 0.75
"""The strip's own line, half a pitch inside the slot's, has to turn in the corner too."""
BASE_DEFAULT_SHARE = 0.375

THICKNESS_RANGE_MM = (1.0, 150.0)
ACROSS_RANGE_MM = (20.0, 2000.0)
MOISTURE_RANGE_PERCENT = (0.0, 30.0)
LEAST_TILT_DEG, GREATEST_TILT_DEG = 0.1, 45.0
"""No scale or bevel gauge tells a lesser lean from none. [deg]"""
LEAST_KERF_MM = 0.1
"""The finest blades for piercing cut a slot wider than this: a lesser one is a slip of the point. [mm]"""
GREATEST_FILM_MM = 1.0
"""On each face, about ten times what two or three coats of paint leave. [mm]"""
FEED_RANGE_MM_PER_MIN = (1.0, 20_000.0)
"""A day for a metre, and faster than boards are fed through straight cuts. [mm/min]"""
GREATEST_FRICTION = 1.5
PRESS_RANGE_N = (1.0, 5000.0)
"""From the weight of a small apple, which opens nothing, to what no hand does: our choice. [N]"""
SPARE_RANGE = (1.0, 5.0)
MOST_PITH_mm = 5000.0
"""As far as the middle of the thickest trunk from its bark, or nearly. [mm]"""
MOST_TURNS = 100
LEAST_FOOT_MM = 2.0
"""The base's lower face has at least this radius, or its corner: less would be a point. [mm]"""

DOUBTED_KERF_MM = 6.35
"""A kerf beyond this is no blade's: where it leaves no strip, it and not the pitch is in doubt. [mm]"""
GREATEST_KERF_MM = 10.0
"""An estimate, and generous: a chain saw's slot is narrower, and of the band saw blades of
``data/blade_kerf.csv`` none leaves 1.5 mm. [mm]"""
LEAST_STRIP_mm = 0.4
"""A pitch so little wider than the slot is offered to nobody; to the marks of a rule it is none. [mm]"""
SHORTEST_STRIP_TURNS = 1.0
KERF_LENGTH_RANGE_MM = (2.0, 10000.0)
MOST_TILT_SCATTER_DEG = 5.0
MOST_SCATTER_SHARE = 1 / 3


def base_radius_mm(written: BowlTables) -> float:
    """Radius of the slot's centre line at the root: given, left by a pitch for each turn, or the default.

    Parameters
    ----------
    written : BowlTables
        The file's tables.

    Returns
    -------
    float
        Radius. [mm]
    """
    if written.cut.base is not None:
        return float(written.cut.base) / 2
    if written.cut.pitch is not None and len(written.cut.pitch) > 1:  # the turns listed are the whole cut
        return float(written.board.across / 2 - sum(written.cut.pitch))
    return BASE_DEFAULT_SHARE * float(written.board.across) / 2


def _greatest_kerf_mm(written: BowlTables) -> float:
    cut = written.cut
    if cut.blade_body is not None:
        return kerf_from_blade_mm(body_mm=float(cut.blade_body), set_mm=float(cut.blade_set or 0))
    if cut.kerf is None:
        return kerf_of_blades(None if cut.blade is None else float(cut.blade)).high_mm
    return float(max(cut.kerf))


class _Answers:
    """Collects problems of one file, in the units that it is written in."""

    def __init__(self, where: str, units: str) -> None:
        self.where, self.units = where, units
        self.problems: list[Problem] = []

    def add(self, key: str, value: str, expected: str, remedy: str) -> None:
        self.problems.append(Problem(self.where, key, value, expected, remedy))

    def within(
        self, key: str, value: Fraction | float, ends: tuple[float, float], unit: str, remedy: str
    ) -> None:
        low, high = ends
        if low <= float(value) <= high:
            return
        if unit == "mm" and self.units != "mm":
            expected = f"{self.least(low)} to {self.most(high)}"
            self.add(key, self.written(value), expected, remedy)
        else:
            if unit == "mm/min" and self.units != "mm":
                value, low, high = (float(v) / float(INCH_MM) for v in (value, low, high))
                unit = "in/min"
            shown = f"{show_figures(float(value))} {unit}".strip()
            least, most = math.ceil(low * 1000 - 1e-6) / 1000, math.floor(high * 1000 + 1e-6) / 1000
            self.add(key, shown, f"{least:g} to {most:g} {unit}".strip(), remedy)

    def written(self, length_mm: Fraction | float) -> str:
        """A length that stands in the file, or follows from it."""
        return show_written(float(length_mm), units=self.units)

    def least(self, length_mm: float) -> str:
        """A length that would do, and none shorter."""
        return show_limit(length_mm, units=self.units, upward=True)

    def most(self, length_mm: float) -> str:
        """A length that would do, and none longer."""
        return show_limit(length_mm, units=self.units, upward=False)


def impossible_cuts(written: BowlTables, *, where: str, units: str) -> list[Problem]:
    """Every contradiction between well-written keys.

    Parameters
    ----------
    written : BowlTables
        The file's tables.
    where : str
        File name for the messages.
    units : str
        "in" or "mm", in which lengths are told.

    Returns
    -------
    list[Problem]
        Empty when the cut can be made.
    """
    answers = _Answers(where, units)
    _sizes(written, answers)
    _twice_or_half(written, answers)
    _angles_and_ratios(written, answers)
    _scatter(written, answers)
    if not answers.problems:
        _base(written, answers)
    if not answers.problems:
        _strip_and_turns(written, answers)
    _only_where_turns_follow(written, answers)
    if not answers.problems and written.board.edge is not None:
        _line(written, written.board.edge, answers)
    return answers.problems


def _only_where_turns_follow(written: BowlTables, answers: _Answers) -> None:
    """Refuse what shapes the base of a board whose turns are circles."""
    if written.board.edge is not None:
        return
    for key in ("base_outline", "base_corner"):
        value = getattr(written.cut, key)
        if value is not None:
            shown = value if isinstance(value, str) else answers.written(value)
            answers.add(f"cut.{key}", shown, "an oval, rectangle, polygon or drawing for a board",
                        f"delete {key}: on this board all turns are circles")  # fmt: skip


def pitch_mm(written: BowlTables) -> float:
    """Pitch, from the file, from its turns, or the default.

    Parameters
    ----------
    written : BowlTables
        The file's tables.

    Returns
    -------
    float
        Pitch. [mm]
    """
    cut, span = written.cut, float(written.board.across) / 2 - base_radius_mm(written)
    if cut.pitch is not None:
        return float(sum(cut.pitch)) / len(cut.pitch)
    return PITCH_DEFAULT_MM if cut.turns is None else span / float(cut.turns)


def base_corner_mm(written: BowlTables) -> float:
    """Least radius of the line round the base, from the file or half the base's narrow half.

    Parameters
    ----------
    written : BowlTables
        The file's tables.

    Returns
    -------
    float
        Radius. [mm]
    """
    if written.cut.base_corner is not None:
        return float(written.cut.base_corner)
    return CORNER_DEFAULT_SHARE * base_radius_mm(written)


def _least_corner_mm(written: BowlTables, pitch_mm: float) -> float:
    """Least radius of a corner round the base, beside a first turn of some pitch."""
    least = max(_lost_mm(written) + LEAST_FOOT_MM, LEAST_CORNER_PITCHES * pitch_mm)
    blade = written.cut.blade
    return least if blade is None else max(least, least_radius(float(blade)).low_mm)


def _widest_span_mm(written: BowlTables, pitch_mm: float) -> float:
    """From the least base that is allowed to the edge of the board."""
    least, cut = _lost_mm(written) + LEAST_FOOT_MM, written.cut
    if written.board.edge is not None and cut.base_edge is None:  # all turns have the board's corners
        corner = _least_corner_mm(written, pitch_mm) / CORNER_DEFAULT_SHARE
        least = max(least, corner if cut.base_corner is None else float(cut.base_corner))
    return float(written.board.across) / 2 - least


def _line(written: BowlTables, edge: Outline, answers: _Answers) -> None:
    """Whether the line can be sawn between the board's outline and the base's."""
    cut, base, corner = written.cut, base_radius_mm(written), base_corner_mm(written)
    pitches = [pitch_mm(written)] if cut.pitch is None else [float(p) for p in cut.pitch]
    least = _least_corner_mm(written, pitches[0])
    if corner < least - 1e-9 and cut.base_edge is None:
        # A corner left out is a share of the base's narrow half: then the base is what is too small.
        key, value, needed = "cut.base_corner", corner, least
        if cut.base_corner is None:
            key, value, needed = "cut.base", 2 * base, 2 * least / CORNER_DEFAULT_SHARE
        shown = answers.least(needed)
        answers.add(key, answers.written(value), f"at least {shown}: strip or blade cannot turn tighter",
                    f"write {shown}, or take a narrower blade or a finer pitch")  # fmt: skip
        return
    if corner > base + 1e-9:
        most = f"at most half the base, {answers.written(base)}"
        answers.add("cut.base_corner", answers.written(corner), most, "make it smaller or the base larger")
        return
    try:
        wound = winding(
            edge,
            span_mm=float(written.board.across) / 2 - base,
            corner_mm=corner,
            root_rad=math.radians(ROOT_DEFAULT_DEG if cut.root is None else float(cut.root)),
            base=cut.base_edge,
        )
        off = wound.off_square((float(written.board.across) / 2 - base) / max(pitches))
        if off > MOST_OFF_SQUARE:
            answers.add("cut.base_outline", str(cut.base_outline),
                        "outlines of base and board more alike: between these the turns run too far aslant",
                        "leave base_outline out, round the corners, or make them more alike")  # fmt: skip
        tightest = wound.lines.tightest_mm
        if cut.blade is not None and tightest < least_radius(float(cut.blade)).low_mm - 0.05:
            turning = f"a blade that turns {answers.most(tightest)}"
            answers.add("cut.blade", answers.written(cut.blade), turning,
                        "take a narrower one, or open the tightest corner or hollow")  # fmt: skip
    except CannotWindError as error:
        answers.add(error.key, "", *error.told(answers.units))
    except OutsideModelError as error:
        answers.add("board.outline", "", "an outline that a cut can follow", str(error))


def _sizes(written: BowlTables, answers: _Answers) -> None:
    board, cut = written.board, written.cut
    answers.within("board.thickness", board.thickness, THICKNESS_RANGE_MM, "mm", "check the unit")
    answers.within("board.across", board.across, ACROSS_RANGE_MM, "mm", "check the unit")
    if board.pith is not None:
        remedy = "it is how far the heart of the tree lies from the base; check the unit"
        answers.within("board.pith", board.pith, (0.0, MOST_PITH_mm), "mm", remedy)
    edge = board.edge
    if edge is not None:
        key = (
            "board.length" if board.length is not None and edge.length_mm > edge.width_mm else "board.width"
        )
        longer = max(edge.length_mm, edge.width_mm)
        answers.within(key, longer, ACROSS_RANGE_MM, "mm", "check the unit")
        if 2 * edge.corner_mm > edge.across_mm:
            answers.add("board.corner", answers.written(edge.corner_mm),
                        f"at most {answers.written(edge.across_mm / 2)}",
                        "half the narrow way is a round end already")  # fmt: skip
    if _greatest_kerf_mm(written) <= 0 or (cut.kerf is not None and min(cut.kerf) <= 0):
        answers.add(
            "cut.kerf", answers.written(0), "the width of the slot", "measure it with a feeler gauge"
        )
    kerf = _greatest_kerf_mm(written) if cut.kerf is None else float(min(cut.kerf))
    if 0 < kerf < LEAST_KERF_MM:
        key, part = ("cut.kerf", kerf) if cut.kerf is not None else ("cut.blade_body", cut.blade_body or 0)
        answers.add(key, _as_small(float(part), answers),
                    f"a kerf of {answers.least(LEAST_KERF_MM)} or more: no blade cuts a narrower slot",
                    "check the point and the unit; measure it with a feeler gauge")  # fmt: skip
    if cut.pitch is not None and min(cut.pitch) <= 0:
        answers.add("cut.pitch", answers.written(0), "a pitch wider than the slot", "write the distance")
    if cut.turns is not None and cut.turns <= 0:
        answers.add("cut.turns", "0", "the turns of the cut", "write them, or give pitch instead")
    if cut.feed is not None and cut.feed <= 0:
        answers.add("cut.feed", "0", "a feed rate above zero", "leave the key out if unknown")
    elif cut.feed is not None:
        answers.within("cut.feed", cut.feed, FEED_RANGE_MM_PER_MIN, "mm/min", "check the unit")
    if cut.blade is not None:
        try:
            least_radius(float(cut.blade))
        except OutsideModelError:
            shown = answers.written(cut.blade)
            least, most = BLADE_RANGE_mm
            answers.add("cut.blade", shown,
                        f"{least} mm to {most} mm (1/8 in, also called 3 mm, to 1 1/4 in)",
                        "write the blade's width, tooth to back")  # fmt: skip


def _as_small(length_mm: float, answers: _Answers) -> str:
    """A length too small for the figures that lengths are written in; beside inches in millimetres too."""
    millimetres = f"{show_figures(length_mm)} mm"
    inches = length_mm / float(INCH_MM)
    return millimetres if answers.units == "mm" else f"{show_figures(inches)} in ({millimetres})"


def _twice_or_half(written: BowlTables, answers: _Answers) -> None:
    cut = written.cut
    if cut.pitch is not None and cut.turns is not None:
        answers.add("cut.turns", f"{float(cut.turns):g}", "either pitch or turns",
                    "delete one of the two")  # fmt: skip
    if cut.kerf is not None and cut.blade_body is not None:
        answers.add("cut.blade_body", answers.written(cut.blade_body), "either kerf or blade_body",
                    "delete one of the two; a measured kerf is better")  # fmt: skip
    if cut.blade_body is not None and cut.blade_set is None:
        answers.add("cut.blade_body", answers.written(cut.blade_body), "blade_set beside it",
                    'add a line: blade_set = "0.15 mm", or give kerf instead')  # fmt: skip
    if cut.blade_set is not None and cut.blade_body is None:
        answers.add("cut.blade_set", answers.written(cut.blade_set), "blade_body beside it",
                    "add blade_body, or give kerf instead")  # fmt: skip


def _angles_and_ratios(written: BowlTables, answers: _Answers) -> None:
    board, cut, use, limits = written.board, written.cut, written.use, written.limits
    for tilt in cut.tilt:
        if tilt == 0:
            answers.add("cut.tilt", "0 deg", "a lean of the table: with none nothing wedges",
                        "most bowls are cut between 3 and 10 deg")  # fmt: skip
        else:
            answers.within("cut.tilt", tilt, (LEAST_TILT_DEG, GREATEST_TILT_DEG), "deg", "check the angle")
    moistures = [
        ("board.moisture", board.moisture),
        ("use.base_moisture", use.base_moisture),
        *(("use.turn_moisture", value) for value in use.turn_moisture or ()),
    ]
    for key, moisture in moistures:
        if moisture is not None:
            answers.within(key, moisture, MOISTURE_RANGE_PERCENT, "%", "dry the board first")
    for end in dict.fromkeys(use.friction or ()):
        answers.within("use.friction", end, (0.0, GREATEST_FRICTION), "", "write it like 0.35")
    if use.film is not None:
        remedy = "it is the dried film on one face; check the unit"
        answers.within("use.film", max(use.film), (0.0, GREATEST_FILM_MM), "mm", remedy)
    if use.press == 0:
        answers.add("use.press", "0 N", "a push: with none nothing sinks",
                    'write what you push with, like "100 N", or leave the key out')  # fmt: skip
    elif use.press is not None:
        answers.within("use.press", use.press, PRESS_RANGE_N, "N", "check the unit")
    if limits.slot_left is not None:
        remedy = "the kerf is the most that can be left of a slot; check the unit"
        most = _greatest_kerf_mm(written)
        answers.within("limits.slot_left", limits.slot_left, (0.0, most), "mm", remedy)
    if limits.press_spare is not None:
        answers.within("limits.press_spare", limits.press_spare, SPARE_RANGE, "", "write it like 1.25")
    for key, share in (
        ("limits.overlap", limits.overlap),
        ("limits.friction_used", limits.friction_used),
        ("limits.split_chance", limits.split_chance),
    ):
        if share is not None:
            answers.within(key, share, (0.0, 1.0), "", "write it like 0.15 or 15 %")
    if limits.split_chance == 0:
        answers.add("limits.split_chance", "0", "more than 0: no bowl is sure not to split",
                    "write it like 0.01 or 1 %")  # fmt: skip


def _scatter(written: BowlTables, answers: _Answers) -> None:
    scatter, remedy = written.scatter, "write a standard deviation, not a limit"
    share = MOST_SCATTER_SHARE
    sizes = (
        ("scatter.kerf", scatter.kerf, share * _greatest_kerf_mm(written), "mm"),
        ("scatter.tilt", scatter.tilt, MOST_TILT_SCATTER_DEG, "deg"),
        ("scatter.thickness", scatter.thickness, share * float(written.board.thickness), "mm"),
    )
    for key, value, most, unit in sizes:
        if value is not None:
            answers.within(key, value, (0.0, most), unit, remedy)
    if scatter.kerf_length is not None:
        remedy = "write the length along the cut over which the kerf changes"
        answers.within("scatter.kerf_length", scatter.kerf_length, KERF_LENGTH_RANGE_MM, "mm", remedy)


def _base(written: BowlTables, answers: _Answers) -> None:
    board, cut = written.board, written.cut
    radius, across = base_radius_mm(written), float(board.across)
    shown = answers.written(2 * radius)
    if cut.base is None and cut.pitch is not None and radius <= 0:
        answers.add("cut.pitch", f"{answers.written(sum(cut.pitch))} in all",
                    f"less than half of the board's {answers.written(across)}",
                    "list fewer turns or finer ones")  # fmt: skip
        return
    if 2 * radius >= across:
        answers.add("cut.base", shown, f"less than the board's {answers.written(across)}",
                    "make the base smaller or the board larger")  # fmt: skip
        return
    if _doubted_kerf(written, answers):
        return
    least = 2 * (_lost_mm(written) + LEAST_FOOT_MM)
    if 2 * radius < least:
        answers.add("cut.base", shown, f"at least {answers.least(least)}, or its bevel comes to a point",
                    "make the base wider or the tilt smaller")  # fmt: skip


def _lost_mm(written: BowlTables) -> float:
    """How far the base's lower edge lies inside the middle of the slot: half the kerf, and the lean."""
    slope = math.tan(math.radians(float(max(written.cut.tilt))))
    return _greatest_kerf_mm(written) / 2 + float(written.board.thickness) / 2 * slope


def _slot_mm(written: BowlTables) -> float:
    """The widest kerf in the plane of the board."""
    return _greatest_kerf_mm(written) / math.cos(math.radians(float(max(written.cut.tilt))))


def _doubted_kerf(written: BowlTables, answers: _Answers) -> bool:
    """Whether the kerf is no blade's: base and pitch are then not what is wrong.

    One that leaves no strip is doubted earlier.
    """
    cut, widest = written.cut, _greatest_kerf_mm(written)
    if widest > GREATEST_KERF_MM and cut.kerf is None:
        body = max(cut.blade_body or 0, cut.blade_set or 0)
        key = "cut.blade_body" if body == cut.blade_body else "cut.blade_set"
        answers.add(key, answers.written(body),
                    f"a slot of at most {answers.most(GREATEST_KERF_MM)}: no blade cuts a wider one",
                    "check the point and the unit")  # fmt: skip
        return True
    pitch = pitch_mm(written) if cut.pitch is None else float(min(cut.pitch))
    if cut.kerf is None or max(cut.kerf) <= DOUBTED_KERF_MM:
        return False
    blade = "1 mm" if answers.units == "mm" else "0.04 in"
    if pitch <= _slot_mm(written):
        answers.add("cut.kerf", answers.written(widest),
                    f"a slot narrower than the pitch of {answers.written(pitch)}",
                    f"check the unit: a blade leaves a slot of {blade} or so")  # fmt: skip
    elif widest > GREATEST_KERF_MM:
        answers.add("cut.kerf", answers.written(widest),
                    f"a kerf of {answers.most(GREATEST_KERF_MM)} or less: no blade cuts a wider slot",
                    f"check the point and the unit: a blade leaves a slot of {blade} or so")  # fmt: skip
    else:
        return False
    return True


def _strip_and_turns(written: BowlTables, answers: _Answers) -> None:
    cut, span = written.cut, float(written.board.across) / 2 - base_radius_mm(written)
    slot = _slot_mm(written)
    by_turns = cut.turns is not None
    pitch = span / float(cut.turns) if cut.turns is not None else PITCH_DEFAULT_MM
    pitch = pitch if cut.pitch is None else float(min(cut.pitch))
    key, shown = ("cut.turns", f"{float(cut.turns or 0):g}") if by_turns else (
        "cut.pitch", answers.written(pitch)
    )  # fmt: skip
    if pitch <= slot:
        wide = show_length(slot, units=answers.units, fine=True)
        answers.add(key, shown, f"a pitch wider than the slot of {wide}",
                    "nothing is left of the strip; cut fewer turns or use a finer blade")  # fmt: skip
        return
    shape = () if cut.pitch is None or len(cut.pitch) == 1 else [float(p) / pitch for p in cut.pitch]
    if shape and not _enough_listed(cut.pitch or (), span, answers):
        return
    turns = spiral_turns(base_radius_mm=0, outer_radius_mm=span, pitch_mm=pitch, pitch_shape=shape)
    if turns > MOST_TURNS:
        answers.add(key, shown, f"at most {MOST_TURNS} turns, this cut makes {turns:.0f}",
                    "check the unit of the pitch")  # fmt: skip
        return
    # The free end is trimmed where half a pitch of strip is left inside the edge.
    edge_pitch = float(cut.pitch[-1]) if shape and cut.pitch else pitch
    strip_turns = turns - 0.5 - slot / (2 * edge_pitch)
    if strip_turns < SHORTEST_STRIP_TURNS and shape:
        answers.add(
            key, f"{len(shape)} turns", "a strip of one full turn", "list more turns, or finer ones"
        )
        return
    if strip_turns < SHORTEST_STRIP_TURNS:
        remedy = _longer_strip(written, answers, span_mm=span, slot_mm=slot, pitch_mm=pitch)
        answers.add(
            key, shown, f"a strip of one full turn; this one makes {max(strip_turns, 0):.2f}", remedy
        )
        return
    _one_for_each_turn(written, answers, turns, pitches_listed=len(shape))


def _longer_strip(
    written: BowlTables, answers: _Answers, *, span_mm: float, slot_mm: float, pitch_mm: float
) -> str:
    """What gives a strip its full turn, as a remedy."""
    finest, narrowest = _widest_pitch_mm(span_mm, slot_mm), slot_mm + LEAST_STRIP_mm
    finer = f"a pitch of {answers.most(finest)} or less"
    remedies = [finer] if finest > narrowest else []
    # A smaller base is offered where the least there may be gives the strip its turn.
    if pitch_mm <= _widest_pitch_mm(_widest_span_mm(written, pitch_mm), slot_mm):
        remedies.append("a smaller base")
    room = _widest_pitch_mm(_widest_span_mm(written, narrowest), slot_mm) > narrowest
    larger = "a larger board, or a smaller kerf and a finer pitch"
    remedy = ", or ".join(remedies) or ("a smaller base and a finer pitch" if room else larger)
    if written.cut.turns is not None:  # a smaller base would only widen the pitch
        least = math.ceil(10 * span_mm / finest) / 10 if finest > narrowest else math.inf
        more = "a smaller base and more turns" if room else larger
        remedy = f"at least {least:g} turns" if least < MOST_TURNS else more
    return remedy


def _one_for_each_turn(
    written: BowlTables, answers: _Answers, turns: float, *, pitches_listed: int
) -> None:
    """Lists with one value for each turn of the cut are as long as it has turns."""
    needed = math.ceil(turns - 1e-9)
    whole = math.floor(turns + 1e-9)
    each = f"{needed}: one for each turn of the cut"
    if whole < needed:
        whole_turns = f"each of its {whole} whole turns" if whole > 1 else "its whole turn"
        each = (
            f"{needed} for a cut of {turns:.2f} turns: one for {whole_turns} and one for the part of a turn"
        )
    lists = (("cut.tilt", written.cut.tilt), ("cut.kerf", written.cut.kerf), ("use.turn_moisture",
             written.use.turn_moisture))  # fmt: skip
    if pitches_listed not in (0, needed):
        remedy = "innermost turn first; leave base out if the list is the whole cut"
        answers.add("cut.pitch", f"{pitches_listed} values", each, remedy)
    for name, values in lists:
        if values is None or isinstance(values, Ends) or len(values) in (1, needed):
            continue
        answers.add(name, f"{len(values)} values", f"one value, or {each}", "innermost turn first")


def _widest_pitch_mm(span_mm: float, slot_mm: float) -> float:
    """The widest pitch that leaves a strip of one full turn between base and edge."""
    return max((span_mm - slot_mm / 2) / (SHORTEST_STRIP_TURNS + 0.5) - 0.01, 0.0)


def _enough_listed(pitches: Sequence[Fraction], span_mm: float, answers: _Answers) -> bool:
    """Whether the pitches listed reach from the base to the edge."""
    whole = float(sum(pitches))
    if whole >= span_mm * (1 - 1e-9):
        return True
    shown, span = answers.written(whole), answers.written(span_mm)
    answers.add("cut.pitch", f"{len(pitches)} values, {shown} in all",
                f"at least the {span} from the base to the edge, one value for each turn",
                "add the turns that are missing, or leave base out")  # fmt: skip
    return False
