"""What is measured on test cuts, and what stands in for readings whose error nobody stated.

Three kinds of reading: the drop of a scrap ring (or that it fell through), the width of a slot by feeler
gauge, and the true tilt by bevel gauge.
"""

import math
from dataclasses import dataclass

from fitsim.assumption import Assumption

__all__ = [
    "BEFORE",
    "DEFAULTS",
    "WITHIN_SDS",
    "Before",
    "GaugeReading",
    "Ring",
    "ScrapCuts",
    "SlotReading",
]

WITHIN_SDS = 2.0
"""A reading "within" so much: 19 readings in 20 lie that close, two standard deviations."""

_READING = "how well a careful hand reads it; no published figure found"
DEFAULTS = {
    "ring.within": Assumption("ring.within", "0.4 mm", "0.2 mm", "1 mm", "estimated", f"drop: {_READING}"),
    "slot.within": Assumption(
        "slot.within", "0.05 mm", "0.03 mm", "0.1 mm", "estimated", f"feeler gauge: {_READING}"
    ),
    "bevel.within": Assumption(
        "bevel.within", "0.3 deg", "0.1 deg", "0.5 deg", "estimated", f"bevel gauge: {_READING}"
    ),
    "saw.scale_within": Assumption(
        "saw.scale_within", "1 deg", "0.5 deg", "2 deg", "estimated",
        "how far a table's scale is off; common practice, no published source",
    ),
    "saw.kerf_limits": Assumption(
        "saw.kerf_limits", "0.3 mm to 3 mm", "0.3 mm", "3 mm", "estimated",
        "narrow blades with their set, any kerf alike; common practice, no published source",
    ),
    "saw.kerf_varies": Assumption(
        "saw.kerf_varies", "0.04 mm", "0.02 mm", "0.1 mm", "estimated",
        "from cut to cut on one saw, fed by hand; no published figure found",
    ),
    "saw.tilt_repeats": Assumption(
        "saw.tilt_repeats", "0.2 deg", "0.1 deg", "0.5 deg", "estimated",
        "when the table is set to the same reading again; no published figure found",
    ),
}  # fmt: skip
"""What stands in for a key left out, by key of the measurements file; "within" values all of them."""


@dataclass(frozen=True)
class Before:
    """What is believed of any saw before a cut is measured, and how its cuts scatter.

    Attributes
    ----------
    scale_sd_rad : float
        Standard deviation of the scale's offset about zero. [rad]
    kerf_low_mm, kerf_high_mm : float
        Kerfs between these are all as likely, others impossible. [mm]
    kerf_varies_sd_mm : float
        Standard deviation of the kerf from cut to cut. [mm]
    tilt_repeats_sd_rad : float
        Standard deviation of the tilt from setting to setting at one reading. [rad]
    """

    scale_sd_rad: float
    kerf_low_mm: float
    kerf_high_mm: float
    kerf_varies_sd_mm: float
    tilt_repeats_sd_rad: float


BEFORE = Before(
    scale_sd_rad=math.radians(1.0) / WITHIN_SDS,
    kerf_low_mm=0.3,
    kerf_high_mm=3.0,
    kerf_varies_sd_mm=0.04 / WITHIN_SDS,
    tilt_repeats_sd_rad=math.radians(0.2) / WITHIN_SDS,
)
"""The defaults as numbers; :data:`DEFAULTS` says where they come from."""

DROP_SD_MM, SLOT_SD_MM, GAUGE_SD_RAD = 0.4 / WITHIN_SDS, 0.05 / WITHIN_SDS, math.radians(0.3) / WITHIN_SDS


@dataclass(frozen=True)
class Ring:
    """One scrap ring, the table set afresh for it.

    Attributes
    ----------
    scale_tilt_rad : float
        What the scale read. [rad]
    drop_mm : float or None
        How far it sank; None: it fell through. [mm]
    thickness_mm : float or None
        Of the scrap; needed where it fell through. [mm]
    sd_mm : float
        Standard deviation of reading the drop. [mm]
    """

    scale_tilt_rad: float
    drop_mm: float | None
    thickness_mm: float | None = None
    sd_mm: float = DROP_SD_MM


@dataclass(frozen=True)
class SlotReading:
    """One slot measured with a feeler gauge, square to its faces.

    Attributes
    ----------
    width_mm : float
        The kerf read. [mm]
    sd_mm : float
        Standard deviation of reading it. [mm]
    """

    width_mm: float
    sd_mm: float = SLOT_SD_MM


@dataclass(frozen=True)
class GaugeReading:
    """One tilt measured with a bevel gauge between table and blade.

    Attributes
    ----------
    scale_tilt_rad : float
        What the scale read. [rad]
    tilt_rad : float
        What the bevel gauge read. [rad]
    sd_rad : float
        Standard deviation of reading it. [rad]
    """

    scale_tilt_rad: float
    tilt_rad: float
    sd_rad: float = GAUGE_SD_RAD


@dataclass(frozen=True)
class ScrapCuts:
    """Everything measured on one saw with one blade.

    Attributes
    ----------
    rings, slots, gauges : tuple
        The readings.
    before : Before
        What is believed of any saw.
    name, date : str
        Of the saw and of the day; the day may be "".
    units : str
        "in" or "mm", as the maker writes.
    assumptions : tuple[Assumption, ...]
        What stands in for keys left out.
    """

    rings: tuple[Ring, ...] = ()
    slots: tuple[SlotReading, ...] = ()
    gauges: tuple[GaugeReading, ...] = ()
    before: Before = BEFORE
    name: str = "My saw"
    date: str = ""
    units: str = "mm"
    assumptions: tuple[Assumption, ...] = ()
