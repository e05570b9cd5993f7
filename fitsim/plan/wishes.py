"""What is wanted of a bowl: the table ``[want]`` of the bowl file, and ``--want`` on the command line.

Each wish is read by its own rule (:data:`WISHES`), in the free text and the units of the bowl file.
"""

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.geometry.outline_file import names_drawing
from fitsim.plan.silhouette import WallCurve, wall_of_drawing, wall_of_path, wall_of_points
from fitsim.quantities import ANGLE, LENGTH, RATIO, QuantityKind, read_quantity, show_length

__all__ = ["ALONG", "KEPT", "TIME", "VOLUME", "WISHES", "Wishes", "read_wishes", "typed_wishes"]

INCH3_ML = Fraction(254, 100) ** 3
VOLUME = QuantityKind(
    "a volume with its unit",
    {
        "ml": Fraction(1),
        "mL": Fraction(1),
        "cm³": Fraction(1),
        "cl": Fraction(10),
        "l": Fraction(1000),
        "L": Fraction(1000),
        "litre": Fraction(1000),
        "liter": Fraction(1000),
        "in³": INCH3_ML,
        # By definition the US gallon is 231 cubic inches, the fluid ounce 1/128 of it.
        "floz": 231 * INCH3_ML / 128,
        "cup": 231 * INCH3_ML / 16,
        "cups": 231 * INCH3_ML / 16,
        "pint": 231 * INCH3_ML / 8,
        "pints": 231 * INCH3_ML / 8,
        "quart": 231 * INCH3_ML / 4,
        "quarts": 231 * INCH3_ML / 4,
        "gal": 231 * INCH3_ML,
        "gallon": 231 * INCH3_ML,
        "gallons": 231 * INCH3_ML,
    },
    '"1 l", "750 ml" or "25 fl oz"',
)
TIME = QuantityKind(
    "a time with its unit",
    {
        "min": Fraction(1),
        "minutes": Fraction(1),
        "minute": Fraction(1),
        "h": Fraction(60),
        "s": Fraction(1, 60),
    },
    '"12 min"',
)

KEPT = ("tilt", "pitch", "base", "turns", "board")
"""What ``keep`` may name."""

ALONG = ("length", "width")
"""What ``along`` may name: along the grain, and across it."""

LARGEST = {
    "rise": 1000,
    "height": 1000,
    "mouth": 2000,
    "base": 2000,
    "volume": 1e6,
    "turns": 100,
    "time": 1e4,
}
"""Greatest of each wish in mm, ml, turns or minutes; more is a slip of the unit."""


@dataclass(frozen=True, eq=False)
class Wishes:
    """What is wanted; None where nothing was said.

    Attributes
    ----------
    rise_mm, mouth_mm, base_mm : float or None
        Rise of the rim, inside diameter of the mouth, diameter at which the cut ends. [mm]
    volume_ml : float or None
        Inside volume to the stepped rim. [ml]
    slope : float or None
        Slope of the wall from level, its tangent. [-]
    wall : WallCurve or None
        The wall as a curve.
    turns : float or None
        Turns of the cut. [-]
    time_min : float or None
        Time at the saw at most. [min]
    height_mm : float or None
        Outside height, rise and thickness. [mm]
    keep : tuple[str, ...]
        What must not change, of :data:`KEPT`.
    first : tuple[str, ...]
        Wishes that matter more than the others, the most important one first.
    along : str or None
        Which way a wall's curve and the mouth are measured on a board that is not round, of :data:`ALONG`;
        None: the narrow way, as the base.
    """

    rise_mm: float | None = None
    height_mm: float | None = None
    mouth_mm: float | None = None
    base_mm: float | None = None
    volume_ml: float | None = None
    slope: float | None = None
    wall: WallCurve | None = None
    turns: float | None = None
    time_min: float | None = None
    keep: tuple[str, ...] = ()
    first: tuple[str, ...] = ()
    along: str | None = None

    @property
    def named(self) -> tuple[str, ...]:
        """What is wished for, as in the file; a slope or a curve is "wall"."""
        given = [name for name in WISHES if self.value_of(name) is not None]
        return (*given, "wall") if self.slope is not None or self.wall is not None else tuple(given)

    def value_of(self, name: str) -> float | None:
        """One wish that is a number.

        Parameters
        ----------
        name : str
            As in the file.

        Returns
        -------
        float or None
            In the unit of its field.
        """
        value: float | None = getattr(self, FIELDS[name])
        return value


FIELDS = {
    "rise": "rise_mm",
    "height": "height_mm",
    "mouth": "mouth_mm",
    "base": "base_mm",
    "volume": "volume_ml",
    "turns": "turns",
    "time": "time_min",
}
"""Field of :class:`Wishes` behind each key of the table that is a number."""


_WORDS_OF_VOLUME = (
    ("US ", ""),  # every gallon, pint and cup here is one
    ("fl oz", "floz"),
    ("cubic inches", "in³"),
    ("cubic inch", "in³"),
    ("cubic in", "in³"),
    ("cu in", "in³"),
    ("cu. in.", "in³"),
    ("in3", "in³"),
    ("cm3", "cm³"),
)
"""Units of more than one word, or with a digit, and as they are read; the longer first."""


def _number(kind: QuantityKind) -> Callable[[object], float]:
    def read(text: object) -> float:
        plain = " ".join(text.split()) if isinstance(text, str) else text
        if kind is VOLUME and isinstance(plain, str):
            for words, unit in _WORDS_OF_VOLUME:
                plain = plain.replace(words, unit)
        try:
            value = float(read_quantity(plain, kind))
        except InputError as error:
            raise InputError(tuple(replace(p, value=repr(text)[:40]) for p in error.problems)) from None
        if value <= 0:
            raise InputError(
                Problem("", "", repr(text)[:40], "more than nothing", "leave out what you do not mind")
            )
        return value

    return read


def _words(allowed: tuple[str, ...]) -> Callable[[object], tuple[str, ...]]:
    def read(given: object) -> tuple[str, ...]:
        words = [w.strip() for w in given.split(",")] if isinstance(given, str) else given
        listed = ", ".join(f'"{w}"' for w in allowed)
        if not isinstance(words, list) or not all(isinstance(w, str) for w in words):
            raise InputError(
                Problem("", "", repr(given)[:40], f"a list of {listed}", 'write it like ["tilt"]')
            )
        for word in words:
            if word not in allowed:
                close = difflib.get_close_matches(word, allowed, n=1, cutoff=0.5)
                remedy = f"did you mean {close[0]!r}?" if close else "take it out of the list"
                remedy = hidden_remedy(word, spaces=False) or remedy
                raise InputError(Problem("", "", repr(word)[:40], f"one of {listed}", remedy))
        return tuple(dict.fromkeys(words))

    return read


def _along(given: object) -> str:
    if given not in ALONG:
        close = difflib.get_close_matches(str(given), ALONG, n=1, cutoff=0.5)
        remedy = f"did you mean {close[0]!r}?" if close else "write one of the two, or leave it out"
        remedy = hidden_remedy(str(given)) or remedy
        listed = " or ".join(f'"{word}"' for word in ALONG)
        raise InputError(Problem("", "", repr(given)[:40], listed, remedy))
    return str(given)


WISHES: dict[str, Callable[[object], Any]] = {
    "rise": _number(LENGTH),
    "height": _number(LENGTH),
    "mouth": _number(LENGTH),
    "base": _number(LENGTH),
    "volume": _number(VOLUME),
    "turns": _number(RATIO),
    "time": _number(TIME),
}
"""Reader of each wish that is a number; ``wall``, ``keep`` and ``first`` are read beside them."""


def _wall(given: object) -> float | WallCurve:
    """Tangent of a slope, or a curve: from a drawing, from points, or from an SVG path."""
    if isinstance(given, str) and names_drawing(given):
        return wall_of_drawing(given.strip())
    if isinstance(given, str) and given.strip()[:1] in ("M", "m"):
        return wall_of_path(given)
    if isinstance(given, str) and ";" in given:
        given = [point.split(",") for point in given.split(";") if point.strip()]
    if isinstance(given, list):
        points = [_point(point, number) for number, point in enumerate(given, 1)]
        return wall_of_points(points, units=_units_of(given))
    try:
        slope = float(read_quantity(given, ANGLE))
    except InputError:
        expected = "a slope, the points of a curve, a drawing, or the path of an SVG"
        remedy = 'write "50 deg", [["40 mm", "0 mm"], ["70 mm", "50 mm"]], "wall.svg" or "M 40 0 L 70 -50"'
        raise InputError(Problem("", "", repr(given)[:40], expected, remedy)) from None
    if not 0 < slope < 90:
        expected = "a slope from level, more than 0 and less than 90 deg"
        raise InputError(Problem("", "", repr(given)[:40], expected, "an upright wall cannot be sawn"))
    return math.tan(math.radians(slope))


def _units_of(given: object) -> str:
    """Inches or millimetres, whichever a value was written in."""
    last = given[-1] if isinstance(given, list) and given else given
    if isinstance(last, list):
        return _units_of(last)
    return "mm" if str(last).rstrip().endswith(("mm", "cm", "m")) else "in"


def _point(given: object, number: int) -> tuple[float, float]:
    if not isinstance(given, list) or len(given) != 2:
        remedy = 'write each like ["40 mm", "12 mm"]'
        expected = f"a radius and a height for point {number}"
        raise InputError(Problem("", "", repr(given)[:40], expected, remedy))
    radius, height = (
        _place(part, f"the {what} of point {number}")
        for part, what in zip(given, ("radius", "height"), strict=True)
    )
    return radius, height


def _place(given: object, what: str) -> float:
    """A length of a wall's point; nothing is nothing in every unit."""
    plain = given.strip() if isinstance(given, str) else given
    if plain in ("0", 0) and not isinstance(plain, bool):
        return 0.0
    try:
        return float(read_quantity(plain, LENGTH))
    except InputError as error:
        problems = (replace(p, expected=f"{what}, {p.expected}") for p in error.problems)
        raise InputError(tuple(problems)) from None


def read_wishes(table: object, *, where: str = "") -> Wishes:
    """Read a table of wishes.

    Parameters
    ----------
    table : object
        What stands under ``[want]``.
    where : str
        File name for the error messages.

    Returns
    -------
    Wishes
        What is wanted.

    Raises
    ------
    InputError
        One line for every problem.

    Examples
    --------
    >>> read_wishes({"rise": "3 in", "volume": "1 l", "keep": ["tilt"]}).rise_mm
    76.2
    """
    if not isinstance(table, Mapping):
        remedy = "write [want] on a line of its own and the wishes below"
        raise InputError(Problem(where, "want", repr(table)[:40], "a table of wishes", remedy))
    named = (*WISHES, "wall")
    found: dict[str, Any] = {}
    problems: list[Problem] = []
    for key, text in table.items():
        try:
            if key == "wall":
                wall = _wall(text)
                found["wall" if isinstance(wall, WallCurve) else "slope"] = wall
            elif key == "keep":
                found["keep"] = _words(KEPT)(text)
            elif key == "first":
                found["first"] = _words(named)(text)
            elif key == "along":
                found["along"] = _along(text)
            elif key in WISHES:
                found[FIELDS[key]] = WISHES[key](text)
                _not_absurd(key, found[FIELDS[key]], text)
            else:
                known = (*named, "keep", "first", "along")
                close = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
                remedy = f"did you mean {close[0]!r}?" if close else "delete it or correct it"
                remedy = hidden_remedy(key, spaces=False) or remedy
                expected = f"one of the wishes {', '.join(known)}"
                problems.append(Problem(where, f"want.{key}", repr(text)[:40], expected, remedy))
        except InputError as error:
            problems += [replace(p, where=p.where or where, key=f"want.{key}") for p in error.problems]
    wishes = Wishes(**found)
    problems = problems or _contradictions(wishes, where, table)
    if problems:
        raise InputError(tuple(problems))
    return wishes


def _not_absurd(key: str, value: float, text: object) -> None:
    if value > LARGEST[key]:
        units = {"volume": "ml", "turns": "turns", "time": "min"}
        most = f"{LARGEST[key]:g} {units[key]}" if key in units else _shown(LARGEST[key], text)
        remedy = "check the number" if key == "turns" else "check the unit"
        raise InputError(Problem("", "", repr(text)[:40], f"at most {most}", remedy))


def _shown(length_mm: float, text: object) -> str:
    return show_length(length_mm, units=_units_of(text))


def _contradictions(wishes: Wishes, where: str, table: Mapping[str, object]) -> list[Problem]:
    """Wishes that say the same thing twice, or ask for what is kept."""
    problems = []
    if wishes.rise_mm is not None and wishes.height_mm is not None:
        remedy = "delete one of the two: the height is the rise and the board's thickness"
        problems.append(
            Problem(where, "want.height", repr(table["height"]), "either rise or height", remedy)
        )
    for key in ("base", "turns"):
        value = wishes.value_of(key)
        if value is not None and key in wishes.keep:
            remedy = "take it out of keep, or leave the wish out"
            problems.append(
                Problem(where, f"want.{key}", repr(table[key]), "either a wish or something kept", remedy)
            )
    if "pitch" in wishes.keep and (wishes.wall is not None or wishes.slope is not None):
        remedy = "take pitch out of keep: the wall's slope is how far each turn sinks over the pitch"
        problems.append(
            Problem(where, "want.keep", "pitch", "a pitch that may change with the wall", remedy)
        )
    for name in wishes.first:
        if name not in wishes.named:
            remedy = "wish for it, or take it out of first"
            problems.append(Problem(where, "want.first", name, "wishes that are made", remedy))
    if wishes.along is not None and wishes.wall is None and wishes.mouth_mm is None:
        remedy = "delete it, or wish for the curve of a wall or for a mouth"
        expected = "a wall's curve or a mouth that is measured so"
        problems.append(Problem(where, "want.along", wishes.along, expected, remedy))
    if not problems and not [n for n in wishes.named if n != "time"]:
        remedy = 'add a wish, like rise = "3 in"; a time goes beside another'
        named = ", ".join(name for name in (*WISHES, "wall") if name != "time")
        problems.append(Problem(where, "want", "", f"at least one of {named}", remedy))
    return problems


def typed_wishes(words: Sequence[str]) -> dict[str, Any]:
    """Wishes typed on the command line, as the table of a file would have them.

    Parameters
    ----------
    words : sequence of str
        Each ``key=value``.

    Returns
    -------
    dict
        Values by key, still as text.

    Raises
    ------
    InputError
        If a word has no value, or a key comes twice.

    Examples
    --------
    >>> typed_wishes(["rise=3 in", "keep=tilt,base"])
    {'rise': '3 in', 'keep': 'tilt,base'}
    """
    table: dict[str, Any] = {}
    for word in words:
        key, sign, value = word.partition("=")
        key = key.strip()
        if not sign or not value.strip():
            raise InputError(
                Problem("", "--want", repr(word)[:40], "a wish and its value", 'write "rise=3 in"')
            )
        if key in table:
            raise InputError(Problem("", "--want", key, "each wish once", "leave one of the two out"))
        table[key] = value.strip()
    return table
