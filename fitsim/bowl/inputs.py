"""A bowl as numbers: the board, the cut, how it will be used, and what is only assumed about it.

What its mechanics rest on is a :class:`BowlPhysics`; a :class:`Bowl` adds what is said of it. What is
worked out of the mechanics once is kept by the physics alone: another name or unit costs no other press.
"""

import math
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar, cast

from fitsim.assumption import Assumption
from fitsim.geometry.board_outline import Outline
from fitsim.wood.across_grain import BoardAcross
from fitsim.wood.species import Sourced, Wood

__all__ = [
    "FRICTION",
    "PITH_MM",
    "Board",
    "Bowl",
    "BowlPhysics",
    "Cut",
    "Limits",
    "Tolerances",
    "Uncertain",
    "Use",
    "bowl_from_physics",
    "with_friction_known",
    "with_input",
]

FRICTION = "use.friction"
"""Place of the friction between bevels in a bowl."""

PITH_MM = 150.0
"""Distance of the pith where nobody measured it: an estimate, 75 to 300 mm are usual."""


@dataclass(frozen=True)
class Board:
    """The blank.

    Attributes
    ----------
    wood : Wood
        Properties with their sources.
    thickness_mm, across_mm : float
        Thickness; diameter of a round board, side of a square one, the narrow way of any other. [mm]
    outline : str
        "round", "square" (a round cut in a square board), or the kind of its :class:`Outline`.
    moisture_percent : float
        Moisture content when cut. [percent]
    ring_angle_rad : float
        Growth rings against the face, 0 flat-sawn, pi/2 quarter-sawn. [rad]
    pith_mm : float or None
        Distance of the pith from the middle of the base; None when not given. [mm]
    tested_across : BoardAcross or None
        Strength across the grain of this very board, where strips of it were broken; it stands in place
        of the handbook's mean and of the scatter between boards.
    edge : Outline or None
        Outline of a board that is neither round nor square; the turns of its cut follow it.
    """

    wood: Wood
    thickness_mm: float
    across_mm: float
    outline: str
    moisture_percent: float
    ring_angle_rad: float
    pith_mm: float | None = None
    tested_across: BoardAcross | None = None
    edge: Outline | None = None

    @property
    def outline_words(self) -> str:
        """Its outline, for a reader: "round", "oval", "6-sided", "drawn (leaf.svg)"."""
        return self.outline if self.edge is None else self.edge.words


@dataclass(frozen=True)
class Cut:
    """The cut.

    Attributes
    ----------
    tilt_rad, kerf_mm : tuple[float, ...]
        One value, or one for each turn of the cut, innermost first. [rad, mm]
    pitch_mm : float
        How far the cut moves inward in one turn; where that varies, its mean over the cut. [mm]
    base_radius_mm : float
        Radius of the slot's centre line where the cut ends; on other outlines than a round one half the
        narrow way of that line. [mm]
    root_rad : float
        Direction of the root seen from the centre, from the grain. [rad]
    blade_width_mm : float or None
        Width of the blade; None when not given. [mm]
    feed_mm_per_min : float
        Feed rate at the saw. [mm/min]
    scale_offset_rad : float
        True tilt less what the table's scale reads; 0 where the scale is taken at its word. [rad]
    kerf_per_offset_mm_per_rad : float
        How much kerf goes with that offset, where test cuts tie the two. [mm/rad]
    base_corner_mm : float or None
        Least radius of the line round the base where the cut is not round. [mm]
    base_edge : Outline or None
        Outline of the line round the base where it is not the board's carried inward.
    pitch_shape : tuple[float, ...]
        Pitch of each turn over ``pitch_mm``, innermost first, where it varies along the cut; empty where
        it is even. [-]
    saw : str
        Name of the saw whose test cuts kerf and offset are by; "" where they are none's.
    """

    tilt_rad: tuple[float, ...]
    kerf_mm: tuple[float, ...]
    pitch_mm: float
    base_radius_mm: float
    root_rad: float
    blade_width_mm: float | None
    feed_mm_per_min: float
    scale_offset_rad: float = 0.0
    kerf_per_offset_mm_per_rad: float = 0.0
    base_corner_mm: float | None = None
    base_edge: Outline | None = None
    pitch_shape: tuple[float, ...] = ()
    saw: str = ""

    @property
    def pitch_by_turn_mm(self) -> tuple[float, ...]:
        """Pitch of each turn, innermost first, where it varies; else the one pitch. [mm]"""
        return tuple(self.pitch_mm * share for share in self.pitch_shape) or (self.pitch_mm,)

    @property
    def scale_tilt_rad(self) -> tuple[float, ...]:
        """What to set the table's scale to, one value or one for each turn. [rad]"""
        return tuple(tilt - self.scale_offset_rad for tilt in self.tilt_rad)


@dataclass(frozen=True)
class Use:
    """How the bowl is finished, pressed and kept.

    Attributes
    ----------
    finish : str
        One of :data:`fitsim.wood.finishes.FINISHES`.
    film_mm : float
        Dried film on each face. [mm]
    friction : float
        Coefficient of friction between bevels. [-]
    press_N : float
        How hard the maker can press the base. [N]
    base_moisture_percent : float
        Moisture content of the base now. [percent]
    turn_moisture_percent : tuple[float, ...]
        Moisture content of the turns now, one value or one for each, innermost first. [percent]
    """

    finish: str
    film_mm: float
    friction: float
    press_N: float
    base_moisture_percent: float
    turn_moisture_percent: tuple[float, ...]


@dataclass(frozen=True)
class Limits:
    """Where one state ends and the next begins; ours, editable, always shown.

    Attributes
    ----------
    slot_left_mm : float
        It opens only with more slot than this. [mm]
    overlap : float
        It falls through below this share of the thickness. [-]
    friction_used : float
        It springs back from this share of the friction upward. [-]
    split_chance : float
        Split risk from this chance upward. [-]
    press_spare : float
        A bowl is judged at this many times the least press that makes it hold. [-]
    """

    slot_left_mm: float = 0.0
    overlap: float = 0.15
    friction_used: float = 1.0
    split_chance: float = 0.10
    press_spare: float = 1.25


@dataclass(frozen=True)
class Uncertain:
    """An input known as a range; the answer is worked out at both ends.

    Attributes
    ----------
    name : str
        In a maker's words: "friction", "kerf", "rolling shear strength".
    unit : str
        "" for a ratio.
    low, high : float
        Ends of the range, in ``unit``. [-, mm, rad or MPa]
    path : str
        Where the value sits in :class:`Bowl`, for example "use.friction".
    """

    name: str
    unit: str
    low: float
    high: float
    path: str


@dataclass(frozen=True)
class Tolerances:
    """How far a cut strays from what was meant; standard deviations, and estimates until measured.

    Attributes
    ----------
    kerf_mm : float
        Of the kerf as it wanders along the cut. [mm]
    kerf_length_mm : float
        Length along the cut over which the wandering kerf forgets itself. [mm]
    tilt_rad : float
        Of the table's setting, one error for a board. [rad]
    thickness_mm : float
        Of the board's thickness, one error for a board. [mm]
    assumptions : tuple[Assumption, ...]
        Those of the four that were not given.
    """

    kerf_mm: float = 0.05
    kerf_length_mm: float = 30.0
    tilt_rad: float = math.radians(0.3)
    thickness_mm: float = 0.15
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True)
class BowlPhysics:
    """What one bowl is and how it is judged, every input at one value.

    Attributes
    ----------
    board, cut, use, limits
        Its parts.
    scatter : Tolerances
        How far the cut strays; only chances over many bowls use it.
    """

    board: Board
    cut: Cut
    use: Use
    limits: Limits
    scatter: Tolerances = Tolerances()


@dataclass(frozen=True)
class Bowl(BowlPhysics):
    """Everything the model knows about one bowl: its physics, and what is said of them.

    Attributes
    ----------
    board, cut, use, limits, scatter
        As :class:`BowlPhysics` has them.
    uncertain : tuple[Uncertain, ...]
        Inputs known as ranges.
    name : str
        What the maker calls it.
    units : str
        "in" or "mm", as the maker writes.
    notes : tuple[str, ...]
        Remarks on where its numbers come from, shown with every answer.
    assumptions : tuple[Assumption, ...]
        Values that were not given or are estimates.
    """

    uncertain: tuple[Uncertain, ...] = ()
    name: str = ""
    units: str = "mm"
    notes: tuple[str, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    @property
    def physics(self) -> BowlPhysics:
        """The bowl without a word said of it: what anything kept for reuse is kept by."""
        return BowlPhysics(self.board, self.cut, self.use, self.limits, self.scatter)

    def ends_of(self, path: str) -> tuple[float, float]:
        """Both ends of an input known as a range.

        Parameters
        ----------
        path : str
            Dotted place of the number, for example "use.friction".

        Returns
        -------
        tuple[float, float]
            Low and high; its one value twice where it is no range, and of a place that holds one value a
            turn the least and the greatest. [unit of the place]
        """
        for known in self.uncertain:
            if known.path == path:
                return known.low, known.high
        at: Any = self
        for name in path.split("."):
            at = getattr(at, name)
        values = at if isinstance(at, tuple) else (at.value if isinstance(at, Sourced) else at,)
        return min(values), max(values)


_Bowl = TypeVar("_Bowl", bound=BowlPhysics)


def bowl_from_physics(physics: BowlPhysics, uncertain: tuple[Uncertain, ...] = ()) -> Bowl:
    """A bowl of which nothing is said, as one of many that are sawn alike.

    Parameters
    ----------
    physics : BowlPhysics
        What it is.
    uncertain : tuple[Uncertain, ...]
        Inputs known as ranges.

    Returns
    -------
    Bowl
        Without a name, notes or assumptions.
    """
    return Bowl(physics.board, physics.cut, physics.use, physics.limits, physics.scatter, uncertain)


def with_input(bowl: _Bowl, path: str, value: float) -> _Bowl:
    """The same bowl with one number changed.

    Parameters
    ----------
    bowl : BowlPhysics
        The bowl, or its physics.
    path : str
        Dotted place of the number, for example "use.friction" or "board.wood.G_RT_MPa".
    value : float
        New value, in the place's own unit. [unit of the place]

    Returns
    -------
    BowlPhysics
        A new bowl; a place that holds one value a turn gets this value for every turn. Another
        "cut.scale_offset_rad" moves every turn's true tilt, and the kerf as far as it is tied to it.
    """
    if path == "cut.scale_offset_rad":
        return replace(bowl, cut=_at_offset(bowl.cut, value))
    return cast("_Bowl", _replaced(bowl, path.split("."), value))


def with_friction_known(bowl: Bowl, friction: float) -> Bowl:
    """The same bowl with a friction that is no range: it asks for the press that this friction needs.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    friction : float
        Friction between bevels. [-]

    Returns
    -------
    Bowl
        A new bowl.
    """
    still = tuple(u for u in bowl.uncertain if u.path != FRICTION)
    return replace(with_input(bowl, FRICTION, friction), uncertain=still)


def _at_offset(cut: Cut, offset_rad: float) -> Cut:
    """The cut with the scale set as before, were it off by so much."""
    more = cut.kerf_per_offset_mm_per_rad * (offset_rad - cut.scale_offset_rad)
    return replace(
        cut,
        tilt_rad=tuple(tilt + offset_rad for tilt in cut.scale_tilt_rad),
        kerf_mm=tuple(kerf + more for kerf in cut.kerf_mm),
        scale_offset_rad=offset_rad,
    )


def _replaced(part: Any, path: list[str], value: float) -> Any:
    if not path:
        if isinstance(part, Sourced):
            return replace(part, value=value)
        return (value,) if isinstance(part, tuple) else value
    name, *rest = path
    if not is_dataclass(part) or isinstance(part, type):
        message = f"{part!r} has no part named {name!r}"
        raise KeyError(message)
    if name not in {field.name for field in fields(part)}:
        message = f"{type(part).__name__} has no part named {name!r}"
        raise KeyError(message)
    return replace(part, **{name: _replaced(getattr(part, name), rest, value)})
