"""What one saw really does: its kerf and how far its tilt scale is off, and how surely that is known.

Kerf and offset come from test cuts (:mod:`fitsim.saw.test_cuts`), so they are uncertain together: rings at
one tilt leave a line of pairs that all fit. The bowl's ranges know nothing of such ties, see
:func:`with_saw`.
"""

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.assumption import Assumption
from fitsim.bowl.inputs import Bowl, Uncertain
from fitsim.errors import InputError, Problem
from fitsim.quantities import show_length

__all__ = [
    "JOINT_LIMIT",
    "RANGE_SDS",
    "RANGE_SHARE",
    "DropAhead",
    "JointRegion",
    "Saw",
    "drop_at",
    "joint_region",
    "saw_covariance",
    "with_saw",
]

RANGE_SHARE = 0.90
"""Share of cases inside every range and region stated about a saw."""

RANGE_SDS = NormalDist().inv_cdf(0.5 + RANGE_SHARE / 2)
"""Half-width of a single value's range in standard deviations, 1.645."""

JOINT_LIMIT = -2 * math.log(1 - RANGE_SHARE)
"""Squared distance in standard deviations inside which two values lie together: chi-square with two
degrees of freedom is exponential, so this is closed form, 4.605."""

_NODES = 201  # equal shares of a normal distribution along each axis; ends of a range good to a few percent
_NODES_OF_SHARE = tuple(NormalDist().inv_cdf((i + 0.5) / _NODES) for i in range(_NODES))


@dataclass(frozen=True)
class Saw:
    """One saw with one blade, as its test cuts show it.

    Attributes
    ----------
    name : str
        What the maker calls it.
    kerf_mm, kerf_sd_mm : float
        Kerf that seats obey, mean over cuts, and its standard deviation. [mm]
    tilt_offset_rad, tilt_offset_sd_rad : float
        True tilt less what the scale reads, and its standard deviation. [rad]
    correlation : float
        Of kerf and offset, between -1 and 1. [-]
    kerf_varies_sd_mm : float
        Standard deviation of the kerf from one cut to the next. [mm]
    tilt_repeats_sd_rad : float
        Standard deviation of the tilt when the table is set to the same reading again. [rad]
    rings, slots, gauges : int
        How many rings, slots by feeler gauge and tilts by bevel gauge it rests on.
    date : str
        Day of the test cuts, year-month-day, or "".
    """

    name: str
    kerf_mm: float
    kerf_sd_mm: float
    tilt_offset_rad: float
    tilt_offset_sd_rad: float
    correlation: float
    kerf_varies_sd_mm: float
    tilt_repeats_sd_rad: float
    rings: int
    slots: int
    gauges: int
    date: str = ""

    @property
    def next_kerf_sd_mm(self) -> float:
        """Standard deviation of the kerf of one cut still to come. [mm]"""
        return math.hypot(self.kerf_sd_mm, self.kerf_varies_sd_mm)

    @property
    def next_tilt_sd_rad(self) -> float:
        """Standard deviation of the true tilt of one cut still to come. [rad]"""
        return math.hypot(self.tilt_offset_sd_rad, self.tilt_repeats_sd_rad)

    @property
    def next_kerf_per_offset_mm_per_rad(self) -> float:
        """How much kerf goes with the true tilt of one cut still to come, on the average. [mm/rad]"""
        both = self.correlation * self.kerf_sd_mm * self.tilt_offset_sd_rad
        return both / self.next_tilt_sd_rad**2

    @property
    def next_kerf_left_sd_mm(self) -> float:
        """Standard deviation of its kerf once its true tilt is known. [mm]"""
        told = self.next_kerf_per_offset_mm_per_rad * self.next_tilt_sd_rad
        return math.sqrt(max(self.next_kerf_sd_mm**2 - told**2, 0.0))


@dataclass(frozen=True)
class DropAhead:
    """The drop a cut still to come will show.

    Attributes
    ----------
    scale_tilt_rad, tilt_rad : float
        What the scale is set to, and the true tilt to be expected there. [rad]
    drop_mm : float
        Median. [mm]
    low_mm, high_mm : float
        Ends that :data:`RANGE_SHARE` of such cuts lie between; inf: the bevel may never bind. [mm]
    """

    scale_tilt_rad: float
    tilt_rad: float
    drop_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, eq=False)
class JointRegion:
    """Edge of the ellipse that holds kerf and offset together.

    Attributes
    ----------
    kerf_mm : numpy.ndarray
        (n,) kerf along the edge. [mm]
    tilt_offset_rad : numpy.ndarray
        (n,) offset along the edge. [rad]
    """

    kerf_mm: Array
    tilt_offset_rad: Array


def saw_covariance(saw: Saw) -> Array:
    """Covariance of what is known about kerf and offset.

    Parameters
    ----------
    saw : Saw
        The saw.

    Returns
    -------
    numpy.ndarray
        (2, 2), kerf first. [mm2, mm rad, rad2]
    """
    both = saw.correlation * saw.kerf_sd_mm * saw.tilt_offset_sd_rad
    return np.array([[saw.kerf_sd_mm**2, both], [both, saw.tilt_offset_sd_rad**2]])


def joint_region(saw: Saw, *, points: int = 24) -> JointRegion:
    """Edge of the region that holds kerf and offset together.

    Parameters
    ----------
    saw : Saw
        The saw.
    points : int
        How many points along the edge.

    Returns
    -------
    JointRegion
        The edge, once round.
    """
    around = 2 * np.pi * np.arange(points) / points
    reach = math.sqrt(JOINT_LIMIT)
    tied = saw.correlation * np.cos(around) + math.sqrt(1 - saw.correlation**2) * np.sin(around)
    return JointRegion(
        kerf_mm=read_only(saw.kerf_mm + reach * saw.kerf_sd_mm * np.cos(around)),
        tilt_offset_rad=read_only(saw.tilt_offset_rad + reach * saw.tilt_offset_sd_rad * tied),
    )


def drop_at(saw: Saw, *, scale_tilt_rad: float) -> DropAhead:
    """The seat drop, k/sin(scale tilt + offset), of the next cut at a setting of the scale.

    What is known about kerf and offset goes in with its tie, and the scatter from cut to cut on top, over
    equal shares of both normal distributions rather than by a straight line: at small tilts the drop is
    far from one.

    Parameters
    ----------
    saw : Saw
        The saw.
    scale_tilt_rad : float
        What the scale will be set to. [rad]

    Returns
    -------
    DropAhead
        Median and range.

    Examples
    --------
    >>> saw = Saw("x", 0.7, 0.01, 0.0, 0.001, -0.5, 0.01, 0.001, 3, 0, 0)
    >>> round(drop_at(saw, scale_tilt_rad=math.radians(5)).drop_mm, 1)
    8.0
    """
    tilt_sd, slope = saw.next_tilt_sd_rad, saw.next_kerf_per_offset_mm_per_rad
    node = np.array(_NODES_OF_SHARE)
    tilt = scale_tilt_rad + saw.tilt_offset_rad + tilt_sd * node[:, None]
    kerf = saw.kerf_mm + slope * tilt_sd * node[:, None] + saw.next_kerf_left_sd_mm * node[None, :]
    drop = np.where(tilt > 0, np.maximum(kerf, 0) / np.sin(np.maximum(tilt, 1e-9)), np.inf)
    ends = (0.5 - RANGE_SHARE / 2, 0.5, 0.5 + RANGE_SHARE / 2)
    # "lower": a value that stands there, never one worked out between a number and infinity.
    low, middle, high = np.quantile(drop, ends, method="lower")
    return DropAhead(
        scale_tilt_rad=scale_tilt_rad,
        tilt_rad=scale_tilt_rad + saw.tilt_offset_rad,
        drop_mm=float(middle),
        low_mm=float(low),
        high_mm=float(high),
    )


def with_saw(bowl: Bowl, saw: Saw, *, units: str | None = None) -> Bowl:
    """The bowl as this saw would really cut it.

    The bowl's tilt is read as what the scale is set to, so the true tilt is that plus the saw's offset;
    the saw's kerf stands in place of the bowl's. Both become ranges for one cut still to come, and the
    tie between them stays: the range of the offset takes along the kerf that goes with it, the range of
    the kerf is what is left. Corners of two ranges still reach further than either alone, so the ends of
    an answer are up to about 1.4 times as far apart as nine times in ten asks for.

    Parameters
    ----------
    bowl : Bowl
        The bowl; one that another saw was laid on is first set back to its scale.
    saw : Saw
        The saw.
    units : str or None
        "in" or "mm", for the note; None: as in the bowl file.

    Returns
    -------
    Bowl
        With ranges, assumptions and a note that name the saw.

    Raises
    ------
    InputError
        If the true tilt would not be above zero, or the saw is known too badly.
    """
    scale = bowl.cut.scale_tilt_rad
    if min(scale) + saw.tilt_offset_rad <= 0:
        too_much = f"{math.degrees(-saw.tilt_offset_rad):.2f} deg"
        shown = f"{math.degrees(min(scale)):.3g} deg"
        expected = f"more than {too_much}, by which this saw's scale reads too much"
        raise InputError(Problem("", "cut.tilt", shown, expected, "set the table further over"))
    old = {"cut.kerf_mm", "cut.tilt_rad", "cut.scale_offset_rad"}
    kept = tuple(u for u in bowl.uncertain if u.path not in old)
    assumed = tuple(a for a in bowl.assumptions if a.key not in ("cut.kerf", "cut.tilt"))
    return replace(
        bowl,
        cut=replace(
            bowl.cut,
            kerf_mm=(saw.kerf_mm,),
            tilt_rad=tuple(tilt + saw.tilt_offset_rad for tilt in scale),
            scale_offset_rad=saw.tilt_offset_rad,
            kerf_per_offset_mm_per_rad=saw.next_kerf_per_offset_mm_per_rad,
            saw=saw.name,
        ),
        # The kerf first: the offset then moves it from there.
        uncertain=(*_ranges(saw), *kept),
        assumptions=(_kerf_note(bowl, saw), _tilt_note(saw, scale), *assumed),
        notes=(*(n for n in bowl.notes if not n.startswith(_NOTE)), _note(saw, scale, units or bowl.units)),
    )


_NOTE = "By the saw file "


def _ranges(saw: Saw) -> tuple[Uncertain, Uncertain]:
    """Ranges of a cut still to come: kerf at the middle offset, and offset."""
    kerf, offset = RANGE_SDS * saw.next_kerf_left_sd_mm, RANGE_SDS * saw.next_tilt_sd_rad
    reach = kerf + abs(saw.next_kerf_per_offset_mm_per_rad) * offset
    if reach >= saw.kerf_mm:
        shown = f"{saw.kerf_mm:.3g} mm within {reach:.2g} mm"
        remedy = "measure more test cuts: fitsim testcut"
        raise InputError(Problem("", "saw.kerf", shown, "a kerf known better than that", remedy))
    middle = saw.tilt_offset_rad
    return (
        Uncertain("kerf", "mm", saw.kerf_mm - kerf, saw.kerf_mm + kerf, "cut.kerf_mm"),
        Uncertain("scale error", "rad", middle - offset, middle + offset, "cut.scale_offset_rad"),
    )


def _basis(saw: Saw) -> str:
    counts = ((saw.rings, "scrap ring"), (saw.slots, "slot"), (saw.gauges, "bevel gauge reading"))
    listed = " and ".join(f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n)
    return f"saw file {saw.name!r}: {listed}{', ' + saw.date if saw.date else ''}"


def _kerf_note(bowl: Bowl, saw: Saw) -> Assumption:
    given = bowl.cut.kerf_mm
    before = " to ".join(dict.fromkeys(f"{k:.2f} mm" for k in (min(given), max(given))))
    ranged = [f"{u.low:.2f} to {u.high:.2f} mm" for u in bowl.uncertain if u.path == "cut.kerf_mm"]
    whose = "assumed" if any(a.key == "cut.kerf" for a in bowl.assumptions) else "bowl file's"
    if bowl.cut.scale_offset_rad:
        whose = "earlier"
    source = f"{_basis(saw)}; it stands in place of the {whose} {(ranged or [before])[0]}"
    low, high = (saw.kerf_mm + sign * RANGE_SDS * saw.next_kerf_sd_mm for sign in (-1, 1))
    return Assumption(
        "cut.kerf", f"{saw.kerf_mm:.2f} mm", f"{low:.2f} mm", f"{high:.2f} mm", "measured", source
    )


def _tilt_note(saw: Saw, scale: tuple[float, ...]) -> Assumption:
    set_to = [math.degrees(v) for v in dict.fromkeys(scale)]
    reach = RANGE_SDS * saw.next_tilt_sd_rad
    middle, low, high = (
        ", ".join(f"{v + math.degrees(saw.tilt_offset_rad + off):.2f}" for v in set_to) + " deg"
        for off in (0.0, -reach, reach)
    )
    listed = ", ".join(f"{v:.4g}" for v in set_to)
    source = f"{_basis(saw)}; the bowl file's {listed} deg is what the scale is set to"
    return Assumption("cut.tilt", middle, low, high, "measured", source)


def _note(saw: Saw, scale: tuple[float, ...], units: str) -> str:
    parts = []
    for tilt in dict.fromkeys(scale):
        ahead = drop_at(saw, scale_tilt_rad=tilt)
        low, high = (
            show_length(v, units=units, fine=True) if math.isfinite(v) else "never"
            for v in (ahead.low_mm, ahead.high_mm)
        )
        set_to, true = math.degrees(tilt), math.degrees(ahead.tilt_rad)
        parts.append(
            f"{set_to:.3g} deg on the scale is {true:.1f} deg at the blade, "
            f"and a turn sinks {low} to {high} nine times in ten"
        )
    return f"{_NOTE}{saw.name!r}: {'; '.join(parts)}."
