"""Makers' quantities: reading ``7 1/4 in`` or ``6 deg`` exactly, and writing numbers back.

Everything is read into an exact :class:`fractions.Fraction` of one base unit per kind
(millimetre, degree, newton, percent, millimetre per minute), so that ``5/8 in`` is 127/8 mm and
not nearly so. The program turns it into a float once, at its edge.
"""

import difflib
import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from fitsim.errors import InputError, Problem, hidden_remedy

__all__ = [
    "ANGLE",
    "DIRECTION",
    "FEED",
    "FORCE",
    "KILOGRAM_N",
    "LENGTH",
    "LOAD",
    "MOISTURE",
    "PLAIN_OR_PERCENT",
    "POUND_N",
    "RATIO",
    "SHARE",
    "STRESS",
    "TURN_RAD",
    "WEIGHT",
    "FINE_BELOW_mm",
    "QuantityKind",
    "finite_or_none",
    "lengths_in",
    "read_quantity",
    "read_range",
    "share_beside",
    "show_figures",
    "show_force",
    "show_force_upward",
    "show_length",
    "show_limit",
    "show_number",
    "show_small",
    "show_volume",
    "show_written",
    "write_exactly",
]

INCH_MM = Fraction(254, 10)
US_FLUID_OUNCE_ML = 29.5735
TURN_RAD = math.tau
"""Once round. [rad]"""

FINE_BELOW_mm = 2.0
"""Lengths below this are kerfs, slots and films, shown as a feeler gauge has them. [mm]"""

LONGEST_TEXT = 60  # characters; a longer "quantity" is a slip, and huge numbers are slow to read


@dataclass(frozen=True)
class QuantityKind:
    """One kind of quantity: its words, its units and their size in the base unit.

    Attributes
    ----------
    name : str
        What the quantity is, in a sentence: "a length".
    units : dict[str, Fraction]
        Accepted spellings and their size in the first of them. [base unit]
    examples : str
        Two or three correct spellings, for error messages.
    """

    name: str
    units: dict[str, Fraction]
    examples: str


LENGTH = QuantityKind(
    "a length with its unit",
    {
        "mm": Fraction(1),
        "cm": Fraction(10),
        "m": Fraction(1000),
        "um": Fraction(1, 1000),
        "µm": Fraction(1, 1000),
        "in": INCH_MM,
        "inch": INCH_MM,
        "inches": INCH_MM,
        '"': INCH_MM,
        "″": INCH_MM,
        "”": INCH_MM,
        "''": INCH_MM,
        "thou": INCH_MM / 1000,
        "ft": INCH_MM * 12,
        "foot": INCH_MM * 12,
        "feet": INCH_MM * 12,
        "'": INCH_MM * 12,
        "′": INCH_MM * 12,
        "’": INCH_MM * 12,
    },
    '"18 mm", "5/8 in" or "7 1/4 in"',
)
ANGLE = QuantityKind(
    "an angle in degrees",
    {"deg": Fraction(1), "degree": Fraction(1), "degrees": Fraction(1), "°": Fraction(1)},
    '"6 deg" or "5 1/2 deg"',
)
DIRECTION = QuantityKind("a direction in degrees", ANGLE.units, '"90 deg" or "332 deg"')
FORCE = QuantityKind(
    "a force with its unit",
    {
        "N": Fraction(1),
        "newton": Fraction(1),
        "newtons": Fraction(1),
        # Exact by definition of the standard acceleration and the pound.
        "lbf": Fraction(44482216152605, 10**13),
        "kgf": Fraction(980665, 100000),
    },
    '"100 N", "22 lbf" or "10 kgf"',
)
POUND_N, KILOGRAM_N = float(FORCE.units["lbf"]), float(FORCE.units["kgf"])
"""Force of a pound and of a kilogram on a scale. [N]"""

MOISTURE = QuantityKind(
    "a moisture content in percent",
    {"%": Fraction(1), "percent": Fraction(1)},
    '"8 %"',
)
FEED = QuantityKind(
    "a feed rate with its unit",
    {
        "mm/min": Fraction(1),
        "m/min": Fraction(1000),
        "in/min": INCH_MM,
        "ft/min": INCH_MM * 12,
        "mm/s": Fraction(60),
        "in/s": INCH_MM * 60,
    },
    '"200 mm/min" or "8 in/min"',
)
RATIO = QuantityKind("a plain number", {"": Fraction(1)}, '"0.35"')
PLAIN_OR_PERCENT = QuantityKind(
    "a plain number or percent",
    {"": Fraction(1), "%": Fraction(1, 100), "percent": Fraction(1, 100)},
    '"0.35" or "35 %"',
)
LOAD = QuantityKind(
    "a load as the scale reads it, with its unit",
    {
        **FORCE.units,
        # A scale that hangs reads the weight that would pull as hard.
        "kg": FORCE.units["kgf"],
        "g": FORCE.units["kgf"] / 1000,
        "lb": FORCE.units["lbf"],
        "lbs": FORCE.units["lbf"],
        "oz": FORCE.units["lbf"] / 16,
    },
    '"4.2 kg", "9.3 lb" or "41 N"',
)
WEIGHT = QuantityKind(
    "a weight with its unit",
    {
        "g": Fraction(1),
        "kg": Fraction(1000),
        # Exact by definition of the pound.
        "oz": Fraction(45359237, 10**5) / 16,
        "lb": Fraction(45359237, 10**5),
    },
    '"41.3 g" or "1.46 oz"',
)
STRESS = QuantityKind(
    "a strength with its unit",
    {"MPa": Fraction(1), "N/mm2": Fraction(1), "psi": FORCE.units["lbf"] / INCH_MM**2},
    '"3.4 MPa" or "490 psi"',
)
SHARE = QuantityKind("a share in percent", {"%": Fraction(1), "percent": Fraction(1)}, '"10 %"')

_KINDS = (LENGTH, ANGLE, FORCE, MOISTURE, FEED)

_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip

_NUMBER = r"\d+(?:\s+|-)\d+/\d+|\d+/\d+|\d+\.\d*|\.\d+|\d+"
_PART = re.compile(rf"\s*({_NUMBER})\s*([^\d\s.,+-][^\d\s.,+-]*)?")


def _problem(text: str, kind: QuantityKind, remedy: str) -> InputError:
    return InputError(Problem("", "", repr(text), kind.name, remedy))


def _plain(text: str) -> str:
    """Spell vulgar fractions and typographic signs with plain characters."""
    if text.isascii():  # nothing to spell, and a sweep reads thousands of quantities
        return text.strip()
    for sign, plain in _VULGAR.items():
        text = re.sub(rf"(?<=\d)\s*{sign}", f" {plain}", text).replace(sign, plain)
    return text.replace("⁄", "/").replace("−", "-").replace("\u00a0", " ").strip()


def _number(text: str) -> Fraction:
    whole, _, part = re.sub(r"(?:\s+|-)(?=\d+/)", "|", text).partition("|")
    return Fraction(whole) + (Fraction(part) if part else 0)


def _unit_remedy(unit: str, kind: QuantityKind) -> str:
    for other in _KINDS:
        if other is not kind and unit in other.units:
            return f"{unit!r} belongs to {other.name}; write it like {kind.examples}"
    folded = {name.casefold(): name for name in kind.units if name}
    close = difflib.get_close_matches(unit.casefold(), folded, n=1, cutoff=0.6)
    if close and _alike(unit.casefold(), close[0]):
        return f"did you mean {folded[close[0]]!r}? Write it like {kind.examples}"
    return f"{unit!r} is not a unit known here; write it like {kind.examples}"


SHORT = 3
"""Letters of a unit up to which one must begin like the other for a slip of the pen: our choice."""


def _alike(one: str, other: str) -> bool:
    """Whether a word may be a slip for a unit: of short words one letter shared says nothing."""
    short = min(len(one), len(other)) <= SHORT
    return not short or one.startswith(other) or other.startswith(one)


_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(?:,\d{3})+(?![\d,])")
"""A whole number whose commas may set off its thousands."""


_THOUSANDS_BY_POINT = re.compile(r"(?<![\d.,])([1-9]\d{0,2}(?:\.\d{3})+),(\d+)(?![\d.,])")
"""A number whose points set off its thousands, and a comma its decimals."""


def _comma_remedy(plain: str, kind: QuantityKind, *, below_zero: bool) -> str:
    """What to write for a number with a comma: it may be a decimal's, or set off thousands.

    Only what would be read is offered.
    """

    def offered(text: str) -> str:
        if "," in text:
            return ""
        try:
            read_quantity(text, kind, below_zero=below_zero)
        except InputError:
            return ""
        return f": {text!r}"

    point, whole = plain.replace(",", "."), _THOUSANDS.sub(lambda m: m[0].replace(",", ""), plain)
    if re.search(r"\.\d*\.", point):  # with a second comma or a point it is no decimal
        if "," not in whole:
            return f"write it without a comma{offered(whole)}"
        other = _THOUSANDS_BY_POINT.sub(lambda m: m[1].replace(".", "") + "." + m[2], plain)
        return f"write it with one point and no comma{offered(other)}"
    if "," in whole:
        return f"write the decimal with a point{offered(point)}"
    or_else = f", or {point!r} if a decimal is meant" if offered(point) else ""
    return f"write it without a comma{offered(whole)}{or_else}"


def _check_writing(text: object, plain: str, kind: QuantityKind, *, below_zero: bool) -> None:
    """Answer the common slips of the pen before the grammar is tried."""
    shown = str(text)
    if not (plain.removeprefix("-") if below_zero else plain):
        raise _problem(shown, kind, f"write it like {kind.examples}")
    if len(plain) > LONGEST_TEXT:
        raise _problem(shown[:20] + "...", kind, f"write it like {kind.examples}")
    hidden = "" if plain.isascii() else hidden_remedy("".join(plain.split()))  # a space may be a wide one
    if hidden:
        raise _problem(shown, kind, hidden)
    comma = re.search(r"\d,\d", plain)
    if comma:
        raise _problem(shown, kind, _comma_remedy(plain, kind, below_zero=below_zero))
    if re.search(r"\d.*\sto\s.*\d", plain):
        remedy = f"write it like {kind.examples}"
        raise InputError(Problem("", "", repr(shown), "one value, for this is no range", remedy))
    if plain.startswith("-") and not below_zero:
        remedy = "a negative value makes no sense here; leave the minus out"
        if kind is DIRECTION:  # the other way round is a direction too, and another one
            back = read_quantity(plain[1:], DIRECTION) % 360
            round_again = write_exactly(-back % 360, "deg", DIRECTION)
            less = f", which is 360 less {write_exactly(back, '', RATIO)}" if back else ""
            remedy = f"write {round_again}{less}"
        raise _problem(shown, kind, remedy)
    if re.search(r"/\s*0+(?!\d)", plain):
        raise _problem(shown, kind, "a fraction cannot have 0 below its line")


def read_quantity(text: object, kind: QuantityKind, *, below_zero: bool = False) -> Fraction:
    """Read one quantity as a maker writes it, exactly.

    Understood: whole numbers, decimals with a point, fractions (``5/8``), whole and fraction
    (``7 1/4``, ``7-1/4``, ``6½``), and sums of falling units (``1 ft 2 1/4 in``).

    Parameters
    ----------
    text : object
        What stands in the file; anything but a string is answered with how to write it.
    kind : QuantityKind
        The kind of quantity expected, such as :data:`LENGTH`.
    below_zero : bool
        Whether a minus before it is understood: an offset or a correlation.

    Returns
    -------
    fractions.Fraction
        Value in the base unit of the kind, negative only with ``below_zero``.

    Raises
    ------
    InputError
        With one problem whose file and key are still empty.

    Examples
    --------
    >>> read_quantity("7 1/4 in", LENGTH)
    Fraction(3683, 20)
    >>> read_quantity("1 ft 2 in", LENGTH) == read_quantity('14"', LENGTH)
    True
    """
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise _problem(str(text), kind, f"write it like {kind.examples}")
    if isinstance(text, float):  # 0.00005 in a file, which Python writes 5e-05
        text = f"{Decimal(repr(text)):f}"
    plain = _plain(str(text))
    _check_writing(text, plain, kind, below_zero=below_zero)
    sign = -1 if plain.startswith("-") else 1
    total, end, sizes = Fraction(0), len("-") if sign < 0 else 0, []
    while end < len(plain):
        part = _PART.match(plain, end)
        if not part:
            raise _problem(str(text), kind, f"write it like {kind.examples}")
        number, unit = _number(part[1]), (part[2] or "")
        if unit not in kind.units:
            if not unit:
                remedy = f"give the number its unit, like {kind.examples}"
                raise _problem(str(text), kind, remedy)
            raise _problem(str(text), kind, _unit_remedy(unit, kind))
        sizes.append(kind.units[unit])
        total, end = total + number * sizes[-1], part.end()
        while plain[end : end + 1].isspace():
            end += 1
    if any(later >= earlier for earlier, later in pairwise(sizes)):
        raise _problem(str(text), kind, f"write one value, like {kind.examples}")
    return sign * total


def read_range(text: object, kind: QuantityKind) -> tuple[Fraction, Fraction]:
    """Read one quantity, or two with "to" between them, as (low, high).

    Parameters
    ----------
    text : object
        For example ``"0.35"`` or ``"0.25 to 0.55"``; the first unit may be left out when the
        second has one.
    kind : QuantityKind
        The kind of quantity expected.

    Returns
    -------
    tuple[fractions.Fraction, fractions.Fraction]
        Low and high end; equal when a single value is written.

    Raises
    ------
    InputError
        If either end cannot be read or the first is the larger.

    Examples
    --------
    >>> read_range("0.25 to 0.55", RATIO)
    (Fraction(1, 4), Fraction(11, 20))
    """
    if not isinstance(text, str) or " to " not in text:
        value = read_quantity(text, kind)
        return value, value
    first, second = (part.strip() for part in text.split(" to ", 1))
    if re.fullmatch(_NUMBER, _plain(first)):
        unit = _PART.fullmatch(_plain(second))
        first += f" {unit[2]}" if unit and unit[2] else ""
    low, high = read_quantity(first, kind), read_quantity(second, kind)
    if low > high:
        remedy = f"write the smaller first: '{second} to {first}'"
        raise _problem(text, kind, remedy)
    return low, high


def write_exactly(value: Fraction, unit: str, kind: QuantityKind) -> str:
    """Write a quantity so that reading it gives exactly the same value.

    Parameters
    ----------
    value : fractions.Fraction
        In the base unit of the kind, not negative.
    unit : str
        One of the kind's spellings.
    kind : QuantityKind
        The kind of quantity.

    Returns
    -------
    str
        A decimal where it is finite and short, else whole and fraction.

    Examples
    --------
    >>> write_exactly(Fraction(3683, 20), "in", LENGTH)
    '7 1/4 in'
    >>> write_exactly(Fraction(35, 100), "", RATIO)
    '0.35'
    """
    number = value / kind.units[unit]
    whole, rest = divmod(number, 1)
    binary = rest.denominator & (rest.denominator - 1) == 0 and rest.denominator <= 64
    if rest == 0:
        shown = str(whole)
    elif unit in ("in", "ft") and binary:
        shown = f"{whole} {rest}" if whole else f"{rest}"
    else:
        shown = _decimal(number) or (f"{whole} {rest}" if whole else f"{rest}")
    return f"{shown} {unit}".strip()


def _decimal(number: Fraction) -> str:
    """Finite decimal of at most 12 places, or "" where there is none."""
    scaled = number * 10**12
    if scaled.denominator != 1:
        return ""
    digits = f"{int(scaled):013d}"
    return f"{digits[:-12]}.{digits[-12:].rstrip('0')}"


def show_limit(length_mm: float, *, units: str, upward: bool) -> str:
    """Round a length that must not be passed, so that what is shown keeps to it.

    Parameters
    ----------
    length_mm : float
        Least or greatest length that will do, not negative. [mm]
    units : str
        "in" or "mm".
    upward : bool
        True for a least length, False for a greatest.

    Returns
    -------
    str
        To a tenth of a millimetre or a sixty-fourth of an inch; below 2 mm to a hundredth or a thousandth.

    Examples
    --------
    >>> show_limit(6.37, units="mm", upward=True), show_limit(6.37, units="in", upward=True)
    ('6.4 mm', '17/64 in')
    """
    fine = length_mm < FINE_BELOW_mm
    steps = {"mm": (0.1, 0.01), "in": (float(INCH_MM) / 64, float(INCH_MM) / 1000)}
    step = steps[units][fine]
    count = math.ceil(length_mm / step - 1e-9) if upward else math.floor(length_mm / step + 1e-9)
    return show_length(count * step, units=units, fine=fine)


def show_written(length_mm: float, *, units: str) -> str:
    """Show a length as a maker writes it, to its last digit.

    Parameters
    ----------
    length_mm : float
        Length. [mm]
    units : str
        "in" or "mm".

    Returns
    -------
    str
        With no more decimals than it has; inches on a rule's marks where it lies on one. What has no last
        digit comes to six figures, inches to four.

    Examples
    --------
    >>> show_written(241.3, units="in"), show_written(241.3, units="mm"), show_written(0.7, units="in")
    ('9 1/2 in', '241.3 mm', '0.02756 in')
    """
    if units == "mm":
        return f"{show_figures(length_mm)} mm"
    marks = length_mm / float(INCH_MM) * 64
    if abs(marks - round(marks)) < 1e-6:
        return show_length(length_mm, units="in")
    return f"{show_figures(length_mm / float(INCH_MM), otherwise=4)} in"


_MOST_FIGURES = 10
"""Figures of a number somebody wrote; one that was worked out has more, of its rounding."""


def show_figures(value: float, *, otherwise: int = 6) -> str:
    """Show a number to its last digit, however small or large, and without a power of ten.

    Parameters
    ----------
    value : float
        Any number.
    otherwise : int
        Figures of a number that has no last digit, like a third.

    Returns
    -------
    str
        So that what lies just beyond a limit does not read as the limit.

    Examples
    --------
    >>> show_figures(150.0001), show_figures(95.0), show_figures(22 / 3), show_figures(5e-05)
    ('150.0001', '95', '7.33333', '0.00005')
    """
    exact = Decimal(f"{value:.15g}").normalize()
    few = len(exact.as_tuple().digits) <= _MOST_FIGURES
    return format(exact if few else Decimal(f"{value:.{otherwise}g}"), "f")


def show_number(value: float) -> str:
    """Four figures of a number for reading, never in powers of ten above one.

    Parameters
    ----------
    value : float
        Any number.

    Returns
    -------
    str
        For example "11334", "224.7" or "0.00126".

    Examples
    --------
    >>> show_number(11334.2), show_number(0.00126)
    ('11334', '0.00126')
    """
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"


def show_small(value: float) -> str:
    """Two figures of a small share or chance, never in powers of ten.

    Parameters
    ----------
    value : float
        Not negative.

    Returns
    -------
    str
        For example "0.0048" or "under 0.000001".

    Examples
    --------
    >>> show_small(5.26e-05), show_small(0.0), show_small(3e-9)
    ('0.000053', '0', 'under 0.000001')
    """
    if 0 < value < 1e-6:
        return "under 0.000001"
    text = f"{value:.2g}"
    return text if "e" not in text else f"{float(text):.8f}".rstrip("0").rstrip(".")


def show_force(force_N: float, *, units: str, figures: int = 2) -> str:
    """Show a force to two figures, with pounds beside it for a maker who writes inches.

    Parameters
    ----------
    force_N : float
        Force. [N]
    units : str
        "in" or "mm".
    figures : int
        More where two would show two forces alike that are told apart.

    Returns
    -------
    str
        For example "98 N" or "98 N (22 lbf)". Each is rounded for itself, so that 30 lbf stay 30 lbf.

    Examples
    --------
    >>> show_force(97.9, units="in"), show_force(146.2, units="mm"), show_force(133.45, units="in")
    ('98 N (22 lbf)', '150 N', '130 N (30 lbf)')
    """
    if not math.isfinite(force_N):
        return "no force"

    def rounded(value: float) -> str:
        return f"{float(f'{value:.{figures}g}'):g}"

    pounds = f" ({rounded(force_N / POUND_N)} lbf)" if units == "in" else ""
    return f"{rounded(force_N)} N{pounds}"


def show_force_upward(force_N: float, *, units: str) -> str:
    """Show a force that decides: to the newton, below 100 N to a tenth, and never less than it is.

    Parameters
    ----------
    force_N : float
        Least force that will do. [N]
    units : str
        "in" or "mm".

    Returns
    -------
    str
        For example "181 N" or "181 N (40.7 lbf)"; the pounds are those of the newtons shown, upward too.

    Examples
    --------
    >>> show_force_upward(180.12, units="in"), show_force_upward(98.07, units="mm")
    ('181 N (40.7 lbf)', '98.1 N')
    """
    if not math.isfinite(force_N):
        return "no force"

    def upward(value: float, step: int) -> float:
        return math.ceil(value * step - 1e-6) / step

    newtons = upward(force_N, 1 if force_N >= 100 else 10)
    pounds = f" ({upward(newtons / POUND_N, 10):g} lbf)" if units == "in" else ""
    return f"{newtons:g} N{pounds}"


def share_beside(share: float, limit: float) -> str:
    """Show a share to two decimals, to more where it would read as the limit that it is not.

    Parameters
    ----------
    share, limit : float
        The number, and the limit it is held against. [-]

    Returns
    -------
    str
        For example "0.35".

    Examples
    --------
    >>> share_beside(0.3514, 0.15), share_beside(0.1004, 0.1), share_beside(0.1, 0.1)
    ('0.35', '0.1004', '0.10')
    """
    for digits in (2, 3, 4, 5):
        shown = f"{share:.{digits}f}"
        if shown != f"{limit:.{digits}f}":
            return shown
    return f"{share:.2f}"


def show_length(length_mm: float, *, units: str, fine: bool = False) -> str:
    """Round a length for reading, not for reading back.

    Inches come as whole and sixty-fourths, the way a rule is marked, or as three decimals where a
    feeler gauge would be used.

    Parameters
    ----------
    length_mm : float
        Length, of either sign. [mm]
    units : str
        "in" or "mm".
    fine : bool
        True for kerfs, slots and films.

    Returns
    -------
    str
        For example "7 1/4 in", "0.028 in", "18.0 mm" or "0.70 mm".

    Examples
    --------
    >>> show_length(184.15, units="in"), show_length(0.7, units="in", fine=True)
    ('7 1/4 in', '0.028 in')
    """
    if units == "mm":
        return f"{length_mm:z.2f} mm" if fine else f"{length_mm:z.1f} mm"  # z: no minus before nothing
    inches = length_mm / float(INCH_MM)
    if fine:
        return f"{inches:z.3f} in"
    whole, rest = divmod(Fraction(round(abs(inches) * 64), 64), 1)
    shown = f"{whole} {rest}" if whole and rest else f"{rest}" if rest else f"{whole}"
    return f"{'-' if inches < 0 and (whole or rest) else ''}{shown} in"


_THINNEST_in = 0.002
"""Under so little three decimals leave one figure, or none, as of a film of wax. [in]"""
_LENGTH = re.compile(r"\b([0-9]+(?:\.[0-9]+)?)(?:( to | and )([0-9]+(?:\.[0-9]+)?))? mm\b(?!/|[23])")


def show_volume(volume_ml: float, *, units: str, tenths: bool = False) -> str:
    """Show a volume as a kitchen measures it.

    Parameters
    ----------
    volume_ml : float
        Volume. [ml]
    units : str
        "in" for US fluid ounces, "mm" for millilitres.
    tenths : bool
        Ounces to a tenth, where a volume is held against one that is wanted.

    Returns
    -------
    str
        For example "25 US fl oz" or "740 ml".

    Examples
    --------
    >>> show_volume(739.5, units="in"), show_volume(739.5, units="in", tenths=True)
    ('25 US fl oz', '25.0 US fl oz')
    >>> show_volume(10.2, units="in"), show_volume(7.94, units="mm")
    ('0.34 US fl oz', '7.9 ml')
    """
    shown, unit = (volume_ml / US_FLUID_OUNCE_ML, "US fl oz") if units == "in" else (volume_ml, "ml")
    if units == "in" and tenths:
        return f"{shown:.1f} {unit}"
    # Under ten to two figures: a small bowl does not hold nothing.
    return f"{shown:.0f} {unit}" if shown >= 10 else f"{round(shown, 2):.2g} {unit}"


def finite_or_none(value: float | None) -> float | None:
    """A number as JSON can hold it, which knows no infinity: a drop that never binds is null.

    Parameters
    ----------
    value : float or None
        Any number. [-]

    Returns
    -------
    float or None
        The same; None where it is not finite, or is None already.

    Examples
    --------
    >>> finite_or_none(2.5), finite_or_none(math.inf)
    (2.5, None)
    """
    return None if value is None or not math.isfinite(value) else float(value)


def lengths_in(text: str, units: str) -> str:
    """A sentence with its millimetres in the reader's units.

    Parameters
    ----------
    text : str
        A sentence of ours that says its lengths in millimetres; not one that quotes a file or a source.
    units : str
        "in" or "mm".

    Returns
    -------
    str
        In inches: on a rule's marks, or as a feeler gauge shows it where it is small.

    Examples
    --------
    >>> lengths_in("a 3 mm hole takes 0.48 to 1.2 mm off, 2 N/mm", "in")
    'a 1/8 in hole takes 0.019 in to 0.047 in off, 2 N/mm'
    """
    if units == "mm":
        return text

    def shown(number: str) -> str:
        inches = float(number) / float(INCH_MM)
        if 0 < inches < _THINNEST_in:
            places = max(4, -math.floor(math.log10(inches)))
            return f"{inches:.{places}f}".rstrip("0") + " in"
        return show_length(float(number), units=units, fine=float(number) < FINE_BELOW_mm)

    return _LENGTH.sub(lambda m: shown(m[1]) + (f"{m[2]}{shown(m[3])}" if m[3] else ""), text)
