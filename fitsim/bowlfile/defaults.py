"""From what was written to a whole bowl: defaults for what was left out, each with its source.

A default is never silent: whatever the maker did not give becomes an :class:`Assumption`, and
whatever is known only as a range becomes an :class:`Uncertain` that reaches the verdict.
"""

import math
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from fitsim.assumption import Assumption
from fitsim.bowl.hand_press import ordinary_hand
from fitsim.bowl.inputs import Board, Bowl, Cut, Limits, Tolerances, Uncertain, Use
from fitsim.bowlfile.contradictions import (
    PITCH_DEFAULT_MM,
    ROOT_DEFAULT_DEG,
    base_corner_mm,
    base_radius_mm,
    impossible_cuts,
)
from fitsim.bowlfile.keys import BowlTables, Ends, read_tables
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.geometry.blade import kerf_from_blade_mm, kerf_of_blades
from fitsim.geometry.cut import mean_pitch
from fitsim.quantities import show_number
from fitsim.tables import packaged_text, read_table
from fitsim.toml_files import tables_of_file
from fitsim.wood.finishes import Finish, finish_named
from fitsim.wood.species import Sourced, Wood, find_wood, splitting, variability
from fitsim.wood.strength import RIFT

__all__ = ["demo_tables", "make_bowl", "read_bowl", "square_root_rad"]

RANGED_PROPERTIES = {
    "tension_across_MPa": ("strength across the grain", "MPa"),
}
"""Properties of a wood whose range reaches the verdict, with their names in a maker's words.

Strength across the grain has one only where the handbook names none, and a few off-cuts broken settle it.
Strength in rolling shear is shown beside the chance and stiffness stays at its middle: nothing at the bench
settles them.
"""

FEED_DEFAULT_MM_PER_MIN = 200.0
MOISTURE_DEFAULT_PERCENT = 8.0
WOOD_DEFAULT = "cherry, black"


class _Notebook:
    """Collects assumptions and ranges while a bowl is being filled in."""

    def __init__(self) -> None:
        self.assumptions: list[Assumption] = []
        self.uncertain: list[Uncertain] = []

    def assume(self, key: str, value: str, mark: str, source: str, low: str = "", high: str = "") -> None:
        self.assumptions.append(Assumption(key, value, low or value, high or value, mark, source))

    def range(self, name: str, unit: str, low: float, high: float, path: str) -> float:
        """Note a range and return its middle; a single value is no range."""
        if low != high:
            self.uncertain.append(Uncertain(name, unit, low, high, path))
        return (low + high) / 2


def read_bowl(path: str | Path) -> Bowl:
    """Read a bowl file.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file, see ``fitsim new``.

    Returns
    -------
    Bowl
        The bowl, with everything that had to be assumed.

    Raises
    ------
    InputError
        One line for every problem.
    """
    return make_bowl(tables_of_file(path), where=file_name(path))


def demo_tables() -> dict[str, Any]:
    """Tables of the built-in demonstration bowl, an invented one.

    Returns
    -------
    dict
        As in a bowl file.
    """
    import tomllib

    return tomllib.loads(packaged_text("demo.toml"))


def make_bowl(tables: Mapping[str, Any], *, where: str = "") -> Bowl:
    """Make a bowl from tables written as in a bowl file.

    Parameters
    ----------
    tables : Mapping
        For example ``{"board": {"thickness": "18 mm", "across": "150 mm"}, "cut": {"tilt": "6 deg"}}``.
    where : str
        File name for the error messages.

    Returns
    -------
    Bowl
        The bowl, with everything that had to be assumed.

    Raises
    ------
    InputError
        One line for every problem.

    Examples
    --------
    >>> bowl = make_bowl({"board": {"thickness": "18 mm", "across": "150 mm"},
    ...                   "cut": {"tilt": "6 deg", "kerf": "0.7 mm"}})
    >>> [a.key for a in bowl.assumptions][:3]
    ['board.wood', 'board.outline', 'board.moisture']
    """
    written = read_tables(tables, where=where)
    notes = _Notebook()
    problems: list[Problem] = []
    wood = _wood(written, notes, problems, where)
    board = _board(written, wood, notes)
    problems += impossible_cuts(written, where=where, units=_units(tables))
    if problems:
        raise InputError(tuple(problems))
    finish = _finish(written, wood, notes)
    cut = _cut(written, notes)
    use = _use(written, finish, board, notes)
    _ranged_properties(wood, notes)
    _scatter(notes)
    _weakest_link(wood, board, use, notes)
    return Bowl(
        name=written.name,
        board=board,
        cut=cut,
        use=use,
        limits=_limits(written, notes),
        assumptions=tuple(notes.assumptions),
        uncertain=tuple(notes.uncertain),
        units=_units(tables),
        scatter=_cut_scatter(written),
    )


def _wood(written: BowlTables, notes: _Notebook, problems: list[Problem], where: str) -> Wood:
    if written.board.wood is None:
        source = "no wood was named; cherry stands in"
        notes.assume("board.wood", WOOD_DEFAULT, "estimated", source)
        return find_wood(WOOD_DEFAULT)
    try:
        return find_wood(written.board.wood)
    except InputError as error:
        problems += [Problem(where, "board.wood", p.value, p.expected, p.remedy) for p in error.problems]
        return find_wood(WOOD_DEFAULT)


def _board(written: BowlTables, wood: Wood, notes: _Notebook) -> Board:
    given = written.board
    if given.outline is None:
        notes.assume("board.outline", "round", "estimated", "no outline was named")
    if given.moisture is None:
        source = "US interior average, Wood Handbook Table 13-1"
        notes.assume("board.moisture", "8 %", "from memory", source, "4 %", "13 %")
    if given.grain is None:
        source = "most boards are flat-sawn; common practice, no published source"
        notes.assume("board.grain", "flat-sawn", "estimated", source)
    moisture = given.moisture
    return Board(
        wood=wood,
        thickness_mm=float(given.thickness),
        across_mm=float(given.across),
        outline=(given.outline or "round") if given.edge is None else given.edge.kind,
        moisture_percent=MOISTURE_DEFAULT_PERCENT if moisture is None else float(moisture),
        ring_angle_rad=math.radians(given.grain or 0),
        pith_mm=None if given.pith is None else float(given.pith),
        edge=given.edge,
    )


def _kerf_mm(written: BowlTables, notes: _Notebook) -> tuple[float, ...]:
    given = written.cut
    if given.blade_body is not None:
        body, spread = float(given.blade_body), float(given.blade_set or 0)
        return (kerf_from_blade_mm(body_mm=body, set_mm=spread),)
    if given.kerf is None:
        of = kerf_of_blades(None if given.blade is None else float(given.blade))
        source = f"{of.source}; measure a slot with a feeler gauge"
        shown = [f"{show_number(value)} mm" for value in (of.value_mm, of.low_mm, of.high_mm)]
        notes.assume("cut.kerf", shown[0], of.mark, source, shown[1], shown[2])
        return (notes.range("kerf", "mm", of.low_mm, of.high_mm, "cut.kerf_mm"),)
    if isinstance(given.kerf, Ends):
        low, high = (float(end) for end in given.kerf)
        return (notes.range("kerf", "mm", low, high, "cut.kerf_mm"),)
    return tuple(float(value) for value in given.kerf)


def _cut(written: BowlTables, notes: _Notebook) -> Cut:
    given, outer_mm = written.cut, float(written.board.across) / 2
    base_mm = base_radius_mm(written)
    listed = given.pitch is not None and len(given.pitch) > 1
    if given.base is None and not listed:
        source = "three eighths of the board's width; common practice, no published source"
        notes.assume("cut.base", f"{2 * base_mm:.1f} mm", "estimated", source)
    shape: tuple[float, ...] = ()
    if given.pitch is not None and listed:
        pitch, shape = mean_pitch([float(value) for value in given.pitch], outer_mm - base_mm)
    elif given.pitch is not None:
        pitch = float(given.pitch[0])
    elif given.turns is not None:
        pitch = (outer_mm - base_mm) / float(given.turns)
    else:
        pitch = PITCH_DEFAULT_MM
        source = "a quarter of an inch; common practice, no published source"
        notes.assume("cut.pitch", "1/4 in", "estimated", source, "5 mm", "9 mm")
    if written.board.outline == "square":
        asked = ROOT_DEFAULT_DEG if given.root is None else float(given.root)
        moved = square_root_rad(math.radians(asked), turns=(outer_mm - base_mm) / pitch)
        source = (
            "a square board lies with its sides along the grain and is entered at the middle of a side: so "
            f"the root lies here, nearest to {asked:g} deg; other turns or another base move it"
        )
        notes.assume("cut.root", f"{math.degrees(moved):.0f} deg", "estimated", source)
    elif given.root is None:
        source = "the strip then leaves the base along the grain, where it is least apt to split"
        notes.assume("cut.root", "90 deg", "estimated", source)
    if given.feed is None:
        source = "hand feed round a tight curve; no published figure found"
        notes.assume("cut.feed", "200 mm/min", "estimated", source, "100 mm/min", "400 mm/min")
    corner = None
    if written.board.edge is not None:
        corner = base_corner_mm(written)
        if given.base_corner is None:
            source = (
                "half the base's narrow half, so that corners do not gather all the twist; a rule of ours"
            )
            notes.assume("cut.base_corner", f"{corner:.1f} mm", "estimated", source)
    root = math.radians(ROOT_DEFAULT_DEG if given.root is None else float(given.root))
    if written.board.outline == "square":
        root = square_root_rad(root, turns=(outer_mm - base_mm) / pitch)
    return Cut(
        tilt_rad=tuple(math.radians(float(value)) for value in given.tilt),
        kerf_mm=_kerf_mm(written, notes),
        pitch_mm=pitch,
        base_radius_mm=base_mm,
        root_rad=root,
        blade_width_mm=None if given.blade is None else float(given.blade),
        feed_mm_per_min=FEED_DEFAULT_MM_PER_MIN if given.feed is None else float(given.feed),
        base_corner_mm=corner,
        base_edge=given.base_edge,
        pitch_shape=shape,
    )


def square_root_rad(root_rad: float, *, turns: float) -> float:
    """Root of a round cut in a square board, whose sides lie along the grain and across it.

    Parameters
    ----------
    root_rad : float
        Root asked for, from the grain. [rad]
    turns : float
        Turns of the cut. [-]

    Returns
    -------
    float
        The nearest root from which the cut runs out at the middle of a side. [rad]

    Examples
    --------
    >>> round(math.degrees(square_root_rad(math.radians(90), turns=5.75)), 6)
    90.0
    >>> round(math.degrees(square_root_rad(math.radians(90), turns=5.8)))
    72
    """
    entry = root_rad + 2 * math.pi * turns
    quarter = math.pi / 2
    return root_rad + round(entry / quarter) * quarter - entry


def _finish(written: BowlTables, wood: Wood, notes: _Notebook) -> Finish:
    if written.use.finish is None:
        notes.assume("use.finish", "none", "estimated", "no finish was named; bare wood")
    return finish_named(written.use.finish or "none", wood_group=wood.group)


def _film_mm(written: BowlTables, finish: Finish, notes: _Notebook) -> float:
    given = written.use.film
    if given is not None:
        return notes.range("film", "mm", float(given[0]), float(given[1]), "use.film_mm")
    film = notes.range("film", "mm", finish.film_low_mm, finish.film_high_mm, "use.film_mm")
    if finish.film_high_mm > 0:
        notes.assume(
            "use.film", f"{film:g} mm", finish.film_mark, finish.film_source,
            f"{finish.film_low_mm:g} mm", f"{finish.film_high_mm:g} mm",
        )  # fmt: skip
    return film


def _use(written: BowlTables, finish: Finish, board: Board, notes: _Notebook) -> Use:
    given = written.use
    film = _film_mm(written, finish, notes)
    if given.friction is not None:
        ends = (float(given.friction[0]), float(given.friction[1]))
    else:
        ends = (finish.friction_low, finish.friction_high)
        notes.assume(
            "use.friction", f"{sum(ends) / 2:g}", finish.friction_mark, finish.friction_source,
            f"{ends[0]:g}", f"{ends[1]:g}",
        )  # fmt: skip
    friction = notes.range("friction", "", *ends, "use.friction")
    press = ordinary_hand().value_N if given.press is None else float(given.press)
    if given.press is None:
        hand = ordinary_hand()
        shown = [f"{value:g} N" for value in (hand.value_N, hand.low_N, hand.high_N)]
        notes.range("press", "N", hand.low_N, hand.high_N, "use.press_N")
        notes.assume("use.press", shown[0], "estimated", hand.source, shown[1], shown[2])
    cut_at = board.moisture_percent
    for key, value in (("base_moisture", given.base_moisture), ("turn_moisture", given.turn_moisture)):
        if value is None:
            source = "not given: as when it was sawn"
            notes.assume(f"use.{key}", f"{cut_at:g} %", "estimated", source)
    base = cut_at if given.base_moisture is None else float(given.base_moisture)
    turns = (cut_at,) if given.turn_moisture is None else tuple(map(float, given.turn_moisture))
    return Use(
        finish=finish.name,
        film_mm=film,
        friction=friction,
        press_N=press,
        base_moisture_percent=base,
        turn_moisture_percent=turns,
    )


def _ranged_properties(wood: Wood, notes: _Notebook) -> None:
    """Put every property that is no published single value before the reader."""
    for name in (
        "E_L_MPa",
        "G_LR_MPa",
        "G_LT_MPa",
        "G_RT_MPa",
        "shear_along_MPa",
        "rolling_shear_MPa",
        *RANGED_PROPERTIES,
    ):
        number: Sourced = getattr(wood, name)
        if name in RANGED_PROPERTIES:
            title, unit = RANGED_PROPERTIES[name]
            notes.range(title, unit, number.low, number.high, f"board.wood.{name}")
        if number.mark != "published":
            shown = [f"{show_number(v)} MPa" for v in (number.value, number.low, number.high)]
            source = f"{wood.name}: {number.source}"
            notes.assume(f"wood.{name}", shown[0], number.mark, source, shown[1], shown[2])


def _scatter(notes: _Notebook) -> None:
    """Put the scatter of strength before the reader: the chance of splitting hangs on it."""
    for name, number in variability().items():
        if name in ("shear_along", "rolling_shear", "tension_across"):
            shown = [f"{100 * v:.0f} %" for v in (number.value, number.low, number.high)]
            key = f"scatter of {name.replace('_', ' ')}"
            notes.assume(key, shown[0], number.mark, number.source, shown[1], shown[2])


_WEAKEST_LINK = {
    "shape": ("size effect of strength across the grain, Weibull shape", ""),
    "reference_volume_cm3": ("test piece of strength across the grain, volume it stands for", " cm3"),
    "tangential_share": ("strength across the grain pulled tangentially, share of the handbook's", ""),
    "rift_share": ("strength across the grain with rings at 45 deg, share of the handbook's", ""),
    "tension_share_6_percent": ("strength across the grain at 6 % moisture, share of that at 12 %", ""),
    "tension_share_20_percent": ("strength across the grain at 20 % moisture, share of that at 12 %", ""),
    "shear_shape": ("scatter of shear within a board, Weibull shape", ""),
    "rolling_volume_cm3": ("size effect of rolling shear, volume of the test piece", " cm3"),
    "shear_volume_cm3": (
        "size effect of shear along the grain: none; if there is one, volume of the test block",
        " cm3",
    ),
}
"""What the chance of splitting hangs on beside a wood's own strengths, in a reader's words, with units."""


def _weakest_link(wood: Wood, board: Board, use: Use, notes: _Notebook) -> None:
    """Put the inputs of the weakest link before the reader; their ranges are shown beside the chance."""
    of = splitting()
    side = "softwood" if wood.group == "softwood" else "hardwood"
    turned = abs(math.sin(2 * board.ring_angle_rad)) > RIFT
    # Strength goes by what the turns have, which is not always what the board was sawn at.
    dried = any(percent != 12 for percent in (board.moisture_percent, *use.turn_moisture_percent))
    for key, (name, unit) in _WEAKEST_LINK.items():
        if (key == "rift_share" and not turned) or (key.startswith("tension_share") and not dried):
            continue
        number = of[f"{key}_{side}" if key == "tangential_share" else key]
        shown = [f"{show_number(v)}{unit}" for v in (number.value, number.low, number.high)]
        notes.assume(name, shown[0], number.mark, number.source, shown[1], shown[2])


SCATTER_KEYS = ("kerf", "kerf_length", "tilt", "thickness")
"""Rows of ``scatter.csv`` that a bowl file may replace; all are estimates."""


def _cut_scatter(written: BowlTables) -> Tolerances:
    """How far the cut strays; its estimates stay apart, because only chances over many bowls use them."""
    given, ours = written.scatter, Tolerances()
    rows = {row["key"]: row for row in read_table("scatter")}
    assumed = []
    for key in SCATTER_KEYS:
        if getattr(given, key) is None:
            row = rows[key]
            value, low, high = (f"{row[end]} {row['unit']}" for end in ("size", "low", "high"))
            assumed.append(Assumption(f"scatter.{key}", value, low, high, row["mark"], row["source"]))
    return Tolerances(
        kerf_mm=ours.kerf_mm if given.kerf is None else float(given.kerf),
        kerf_length_mm=ours.kerf_length_mm if given.kerf_length is None else float(given.kerf_length),
        tilt_rad=ours.tilt_rad if given.tilt is None else math.radians(float(given.tilt)),
        thickness_mm=ours.thickness_mm if given.thickness is None else float(given.thickness),
        assumptions=tuple(assumed),
    )


def _limits(written: BowlTables, notes: _Notebook) -> Limits:
    given, ours = written.limits, Limits()
    if given.slot_left is None:
        source = "any slot that is left opens; our limit, no published source"
        notes.assume("limits.slot_left", f"{ours.slot_left_mm:g} mm", "estimated", source)
    for key in ("overlap", "friction_used", "split_chance", "press_spare"):
        if getattr(given, key) is None:
            source = "our limit; common sense, no published source"
            if key == "press_spare":
                source = "judged at so many times the least press that holds; our choice, no source"
            notes.assume(f"limits.{key}", f"{getattr(ours, key):g}", "estimated", source)

    def either(value: Fraction | None, default: float) -> float:
        return default if value is None else float(value)

    return Limits(
        slot_left_mm=either(given.slot_left, ours.slot_left_mm),
        overlap=either(given.overlap, ours.overlap),
        friction_used=either(given.friction_used, ours.friction_used),
        split_chance=either(given.split_chance, ours.split_chance),
        press_spare=either(given.press_spare, ours.press_spare),
    )


def _units(tables: Mapping[str, Any]) -> str:
    """Inches if the thickness was written in inches, else millimetres."""
    text = str(tables.get("board", {}).get("thickness", ""))
    return "mm" if text.rstrip().endswith(("mm", "cm", "m")) else "in"
