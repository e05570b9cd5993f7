"""Properties of woods at 12 percent moisture, every number with its source and its mark.

To add a wood, open ``data/woods.csv`` beside this module and
1. copy the rows of the wood most like yours (one row per property) to the end of the file;
2. change name (noun first), botanical name and group on all of them, then value, low and high;
3. write where each number comes from into ``source`` and set ``mark``: ``published`` if you saw
   it there, ``from memory`` if you did not, ``estimated`` if a rule made it (name the rule);
4. give low = high = value where no range is stated, and run ``pytest tests/test_wood.py``.
"""

import csv
import difflib
import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from types import MappingProxyType

from fitsim.errors import InputError, Problem
from fitsim.tables import MARKS, packaged_text  # from the firmest to the weakest
from fitsim.wood.grain import Orthotropic

__all__ = [
    "GROUPS",
    "MARKS",
    "PROPERTIES",
    "Sourced",
    "Wood",
    "find_wood",
    "read_woods",
    "splitting",
    "variability",
    "woods",
]

LONGEST_LIST = 300
"""Characters of names up to which a mistaken wood is answered with all of them."""

GROUPS = ("hardwood", "softwood", "imported")
_WOOD_COLUMNS = (
    "name", "botanical", "group", "property", "value", "low", "high", "mark", "source",
)  # fmt: skip
_VARIABILITY_COLUMNS = ("property", "value", "low", "high", "mark", "source")
_VARIABLE = ("shear_along", "rolling_shear", "tension_across", "bending", "crushing_across",
             "modulus")  # fmt: skip


_SPLITTING = ("shape", "reference_volume_cm3", "tangential_share_hardwood", "tangential_share_softwood",
              "rift_share", "tension_share_6_percent", "tension_share_20_percent", "shear_shape",
              "rolling_volume_cm3", "shear_volume_cm3")  # fmt: skip


@dataclass(frozen=True)
class Sourced:
    """One number with its provenance, in the unit its field name carries.

    Attributes
    ----------
    value : float
        The number to reckon with. [unit of the field it stands in]
    low, high : float
        Ends of the stated range; both equal to ``value`` where none is stated. [unit of the field]
    mark : str
        "published", "from memory" or "estimated".
    source : str
        Handbook and table, or the rule of the estimate.
    """

    value: float
    low: float
    high: float
    mark: str
    source: str


@dataclass(frozen=True)
class Wood:
    """One wood at 12 percent moisture, mean values of clear straight-grained pieces.

    Attributes
    ----------
    name, botanical, group : str
        Trade name with the noun first, botanical name; "hardwood", "softwood" or "imported".
    specific_gravity : Sourced
        Ovendry weight over the volume at 12 percent moisture. [-]
    E_L_MPa, E_R_MPa, E_T_MPa, G_LR_MPa, G_LT_MPa, G_RT_MPa : Sourced
        Young's and shear moduli along the grain L, radial R, tangential T. [MPa]
    nu_LR, nu_LT, nu_RT : Sourced
        Poisson's ratios, first letter the direction of the load. [-]
    bending_strength_MPa, crushing_across_MPa, shear_along_MPa : Sourced
        Modulus of rupture, compression across the grain at the proportional limit, shear
        strength along the grain. [MPa]
    rolling_shear_MPa, tension_across_MPa : Sourced
        Strength in rolling shear (the RT plane) and in tension across the grain. [MPa]
    shrink_R_percent, shrink_T_percent : Sourced
        Total shrinkage from green to ovendry. [percent]
    swell_L_per_point, swell_R_per_point, swell_T_per_point : Sourced
        Strain for one percentage point of moisture content. [1/percent]
    green_ratio_modulus, green_ratio_bending, green_ratio_shear : Sourced
        Value at 12 percent moisture over green value. [-]
    intersection_moisture_percent : Sourced
        Moisture content above which drying does not change strength. [percent]
    """

    name: str
    botanical: str
    group: str
    specific_gravity: Sourced
    E_L_MPa: Sourced
    E_R_MPa: Sourced
    E_T_MPa: Sourced
    G_LR_MPa: Sourced
    G_LT_MPa: Sourced
    G_RT_MPa: Sourced
    nu_LR: Sourced
    nu_LT: Sourced
    nu_RT: Sourced
    bending_strength_MPa: Sourced
    crushing_across_MPa: Sourced
    shear_along_MPa: Sourced
    rolling_shear_MPa: Sourced
    tension_across_MPa: Sourced
    shrink_R_percent: Sourced
    shrink_T_percent: Sourced
    swell_L_per_point: Sourced
    swell_R_per_point: Sourced
    swell_T_per_point: Sourced
    green_ratio_modulus: Sourced
    green_ratio_bending: Sourced
    green_ratio_shear: Sourced
    intersection_moisture_percent: Sourced

    @property
    def density_kg_m3(self) -> float:
        """Density at 12 percent moisture, 1000 G (1 + 0.12). [kg/m^3]."""
        return 1000.0 * self.specific_gravity.value * 1.12

    @property
    def estimated_fields(self) -> tuple[str, ...]:
        """Names of the fields made by a rule, in the order of the fields."""
        return self._marked("estimated")

    def orthotropic(self) -> Orthotropic:
        """Return the elastic constants alone, as plain numbers.

        Returns
        -------
        fitsim.wood.grain.Orthotropic
            Moduli in MPa and Poisson's ratios.
        """
        names = [field.name for field in fields(Orthotropic)]
        return Orthotropic(**{name: getattr(self, name).value for name in names})

    def _marked(self, mark: str) -> tuple[str, ...]:
        return tuple(name for name in PROPERTIES if getattr(self, name).mark == mark)


PROPERTIES = tuple(field.name for field in fields(Wood) if field.type is Sourced)


def _sourced(row: Mapping[str, str], where: str) -> Sourced:
    """Read one row's number and refuse what cannot be meant."""

    def refuse(key: str, expected: str, remedy: str) -> InputError:
        return InputError(Problem(where, key, row[key], expected, remedy))

    numbers = {}
    for key in ("value", "low", "high"):
        try:
            numbers[key] = float(row[key])
        except ValueError:
            raise refuse(key, "a number", "write it with a decimal point") from None
        if not (math.isfinite(numbers[key]) and numbers[key] > 0):
            raise refuse(key, "a finite number above 0", "correct it from the source")
    if not numbers["low"] <= numbers["value"] <= numbers["high"]:
        raise refuse("value", "low <= value <= high", "put the three numbers in order")
    if row["mark"] not in MARKS:
        raise refuse("mark", f"one of {', '.join(MARKS)}", "say how the number is known")
    if not row["source"].strip():
        raise refuse("source", "where the number comes from", "name the source or the rule")
    return Sourced(**numbers, mark=row["mark"], source=row["source"])


def _rows(text: str, columns: tuple[str, ...], where: str) -> list[tuple[str, dict[str, str]]]:
    """Split a table into (place, row), having checked its columns."""
    reader = csv.DictReader(text.splitlines())
    if tuple(reader.fieldnames or ()) != columns:
        given = ",".join(reader.fieldnames or ())
        expected = ",".join(columns)
        raise InputError(Problem(where, "columns", given, expected, "copy the first line"))
    rows = []
    for row in reader:
        place = f"{where}, line {reader.line_num}"
        # DictReader keeps surplus cells under None and fills missing ones with None.
        if None in row or None in row.values():
            remedy = "put texts that hold a comma between double quotes"
            raise InputError(Problem(place, "row", "", f"{len(columns)} cells", remedy))
        rows.append((place, row))
    return rows


def read_woods(text: str, *, where: str) -> tuple[Wood, ...]:
    """Read a table of woods, one row for each property of each wood.

    Parameters
    ----------
    text : str
        Comma-separated table with the columns name, botanical, group, property, value, low,
        high, mark, source.
    where : str
        Name of the file, for error messages.

    Returns
    -------
    tuple[Wood, ...]
        Sorted by name.

    Raises
    ------
    InputError
        If a number is not finite and positive, a range is out of order, a mark, group or
        property is unknown, or a property is missing or given twice.
    """
    heads: dict[str, tuple[str, str]] = {}
    values: dict[str, dict[str, Sourced]] = {}
    for place, row in _rows(text, _WOOD_COLUMNS, where):
        name, kind, key = row["name"], (row["botanical"], row["group"]), row["property"]
        if row["group"] not in GROUPS:
            expected = f"one of {', '.join(GROUPS)}"
            raise InputError(Problem(place, "group", row["group"], expected, "correct the group"))
        if heads.setdefault(name, kind) != kind:
            remedy = "give all rows of a wood the same botanical name and group"
            raise InputError(Problem(place, "botanical", ", ".join(kind), str(heads[name]), remedy))
        if key not in PROPERTIES or key in values.setdefault(name, {}):
            expected = "each property of a wood once: " + ", ".join(PROPERTIES)
            raise InputError(Problem(place, "property", key, expected, "correct the name"))
        values[name][key] = _sourced(row, place)
    for name, found in values.items():
        missing = [key for key in PROPERTIES if key not in found]
        if missing:
            expected = "every property; missing: " + ", ".join(missing)
            raise InputError(Problem(where, "name", name, expected, "add the missing rows"))
    return tuple(
        Wood(name=name, botanical=heads[name][0], group=heads[name][1], **values[name])
        for name in sorted(values, key=str.casefold)
    )


@cache
def woods() -> tuple[Wood, ...]:
    """Return the woods that come with the package, sorted by name.

    Returns
    -------
    tuple[Wood, ...]
        Read and checked once.
    """
    return read_woods(packaged_text("woods.csv"), where="woods.csv")


@cache
def variability() -> Mapping[str, Sourced]:
    """Return how much clear wood of one kind varies from piece to piece.

    Returns
    -------
    Mapping[str, Sourced]
        Coefficients of variation as fractions (0.14 is 14 percent), read-only, for
        "shear_along", "rolling_shear", "tension_across", "bending", "crushing_across" and
        "modulus". [-]
    """
    return _table("variability.csv", _VARIABLE)


@cache
def splitting() -> Mapping[str, Sourced]:
    """Return what the chance of splitting hangs on beside the strengths of a wood.

    Returns
    -------
    Mapping[str, Sourced]
        Read-only: Weibull shapes "shape" and "shear_shape" [-], volumes of test pieces
        "reference_volume_cm3", "rolling_volume_cm3" and "shear_volume_cm3" [cm^3], shares of the printed
        strength across the grain "tangential_share_hardwood", "tangential_share_softwood", "rift_share",
        "tension_share_6_percent" and "tension_share_20_percent" [-].
    """
    return _table("splitting.csv", _SPLITTING)


def _table(where: str, keys: tuple[str, ...]) -> Mapping[str, Sourced]:
    found = {
        row["property"]: _sourced(row, place)
        for place, row in _rows(packaged_text(where), _VARIABILITY_COLUMNS, where)
    }
    if set(found) != set(keys):
        expected = ", ".join(keys)
        raise InputError(Problem(where, "property", ", ".join(found), expected, "correct them"))
    return MappingProxyType(found)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _joined(words: list[str]) -> list[str]:
    """Neighbouring words written as one: "red", "cedar" gives "redcedar"."""
    return [first + second for first, second in itertools.pairwise(words)]


def _matches(asked: list[str], wood: Wood, *, strictness: int) -> bool:
    """Tell whether a wood answers, from exactly its words (0) to words joined (3)."""
    name = _words(wood.name)
    every = name + _words(wood.botanical)
    if strictness == 0:
        return sorted(asked) == sorted(name)
    if strictness == 1:
        return all(word in every for word in asked)
    if strictness == 2:
        return all(any(known.startswith(word) for known in every) for word in asked)
    # "red cedar" for redcedar, "yellowpoplar" for yellow-poplar. Parts from the middle of a word
    # do not count: "elm" must not find "Engelmann".
    if all(word in every + _joined(name) for word in asked):
        return True
    pairs = [(at, pair) for at, pair in enumerate(_joined(asked)) if pair in every]
    return any(all(word in every for word in asked[:at] + asked[at + 2 :]) for at, _ in pairs)


def _nearest(asked: list[str], table: Sequence[Wood]) -> list[str]:
    """Names that look like the words asked, nearest first."""
    text = " ".join(asked)

    def likeness(wood: Wood) -> float:
        words = _words(wood.name)
        spellings = [" ".join(words), " ".join(reversed(words)), *words]
        return max(difflib.SequenceMatcher(None, text, known).ratio() for known in spellings)

    scores = {wood.name: likeness(wood) for wood in table}
    near = [name for name, score in scores.items() if score >= 0.6]
    return sorted(near, key=lambda name: -scores[name])[:3]


def _ask(names: list[str]) -> str:
    return "did you mean " + " or ".join(f'"{name}"' for name in names) + "?"


def find_wood(text: str, among: Sequence[Wood] | None = None) -> Wood:
    """Find a wood by its name, or by enough of it.

    Order of the words, capitals, hyphens, spaces and commas do not count; the botanical name
    serves as well.

    Parameters
    ----------
    text : str
        For example "cherry", "Black cherry", "oak red" or "douglas fir".
    among : Sequence[Wood], optional
        Where to look, for a table of one's own; the woods of the package if left out.

    Returns
    -------
    Wood
        The only wood that answers.

    Raises
    ------
    InputError
        If the text is empty, if no wood answers (the nearest names are offered) or if several
        answer equally well (all are listed). The key of the problem is ``board.wood``.

    Examples
    --------
    >>> find_wood("Black cherry").name
    'cherry, black'
    """
    table = woods() if among is None else among
    asked = _words(text)
    problem = ("", "board.wood", text)
    names = ", ".join(f'"{wood.name}"' for wood in table)
    if (
        len(names) > LONGEST_LIST
    ):  # the kinds alone: a line that names every wood would be cut in its middle
        names = ", ".join(dict.fromkeys(f'"{wood.name.partition(",")[0]}"' for wood in table))
    if not asked:
        raise InputError(Problem(*problem, "the name of a wood", f"write one of {names}"))
    for strictness in range(4):
        found = [wood for wood in table if _matches(asked, wood, strictness=strictness)]
        if len(found) == 1:
            return found[0]
        if found:
            remedy = f"{_ask([wood.name for wood in found])} Write enough to tell them apart"
            raise InputError(Problem(*problem, "the name of one wood", remedy))
    near = _nearest(asked, table)
    remedy = f"{_ask(near)} Write one of {names}" if near else f"write one of {names}"
    raise InputError(Problem(*problem, "the name of a wood in the table", remedy))
