"""One reading of a test cut as a chance: what it should be and how it scatters, at any kerf and offset."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fitsim.errors import InputError, Problem
from fitsim.saw.measurements import Before, GaugeReading, Ring, ScrapCuts, SlotReading

__all__ = ["LEAST_TILT_RAD", "ReadingLikelihood", "likelihoods_of", "ring_likelihood"]

LEAST_TILT_RAD = math.radians(0.05)  # below this a bevel is square: the drop has no number


@dataclass(frozen=True)
class ReadingLikelihood:
    """One reading as a chance: what it should be and how it scatters, at any kerf and offset.

    Attributes
    ----------
    label : str
        "ring 2", "slot 1" or "bevel 1".
    unit : str
        "mm", or "rad" for a bevel gauge.
    seen : float
        What was read; 0 where the ring fell through. [mm or rad]
    at_least : bool
        True where the ring fell through: ``expected`` was then ``seen`` or more.
    expected, sd : callable
        Of kerf and offset, arrays or numbers: what to read, and its standard deviation. [mm or rad]
    shown : callable
        Of kerf and offset: what a maker would read. [mm or rad]
    """

    label: str
    unit: str
    seen: float
    at_least: bool
    expected: Callable[[Any, Any], Any]
    sd: Callable[[Any, Any], Any]
    shown: Callable[[Any, Any], Any]

    def misfit(self, kerf: Any, offset: Any, sd: Any) -> Any:
        """Standard deviations off; a ring that fell through is off only where it should have bound."""
        off = (self.seen - self.expected(kerf, offset)) / sd
        return np.maximum(off, 0) if self.at_least else off


def ring_likelihood(i: int, ring: Ring, before: Before) -> ReadingLikelihood:
    """A ring's drop as a chance: k/sin(scale tilt + offset), scattered by kerf, setting and reading.

    Parameters
    ----------
    i : int
        Its number, for messages.
    ring : Ring
        The ring.
    before : Before
        How cuts scatter.

    Returns
    -------
    ReadingLikelihood
        In mm.

    Raises
    ------
    InputError
        If it fell through and its thickness is not known.
    """
    if ring.drop_mm is None:
        return _fallen_likelihood(i, ring, before)

    def tilt(offset: Any) -> Any:
        return np.maximum(ring.scale_tilt_rad + offset, LEAST_TILT_RAD)

    def expected(kerf: Any, offset: Any) -> Any:
        return kerf / np.sin(tilt(offset))

    def sd(kerf: Any, offset: Any) -> Any:
        sine = np.sin(tilt(offset))
        by_kerf = before.kerf_varies_sd_mm / sine
        by_tilt = before.tilt_repeats_sd_rad * kerf * np.cos(tilt(offset)) / sine**2
        return np.sqrt(ring.sd_mm**2 + by_kerf**2 + by_tilt**2)

    return ReadingLikelihood(f"ring {i}", "mm", ring.drop_mm, False, expected, sd, expected)


def _fallen_likelihood(i: int, ring: Ring, before: Before) -> ReadingLikelihood:
    """A ring that fell through: its kerf was at least T sin(tilt).

    Compared as kerfs and not as drops, because near a square bevel the scatter of the drop has no bound.
    """
    thickness = ring.thickness_mm
    if thickness is None:
        expected_words = "the scrap's thickness, as it fell through"
        raise InputError(Problem("", f"ring {i}.thickness", "", expected_words, "add it"))

    def to_spare(kerf: Any, offset: Any) -> Any:
        return kerf - thickness * np.sin(ring.scale_tilt_rad + offset)

    def sd(_kerf: Any, offset: Any) -> Any:
        by_tilt = thickness * np.cos(ring.scale_tilt_rad + offset) * before.tilt_repeats_sd_rad
        return np.sqrt(before.kerf_varies_sd_mm**2 + by_tilt**2 + 1e-18)

    def drop(kerf: Any, offset: Any) -> Any:
        return kerf / np.sin(np.maximum(ring.scale_tilt_rad + offset, LEAST_TILT_RAD))

    return ReadingLikelihood(f"ring {i}", "mm", 0.0, True, to_spare, sd, drop)


def _slot_likelihood(i: int, slot: SlotReading, before: Before) -> ReadingLikelihood:
    sd_mm = math.hypot(slot.sd_mm, before.kerf_varies_sd_mm)

    def expected(kerf: Any, _offset: Any) -> Any:
        return kerf

    def sd(_kerf: Any, _offset: Any) -> Any:
        return sd_mm

    return ReadingLikelihood(f"slot {i}", "mm", slot.width_mm, False, expected, sd, expected)


def _gauge_likelihood(i: int, gauge: GaugeReading, before: Before) -> ReadingLikelihood:
    sd_rad = math.hypot(gauge.sd_rad, before.tilt_repeats_sd_rad)

    def expected(_kerf: Any, offset: Any) -> Any:
        return gauge.scale_tilt_rad + offset

    def sd(_kerf: Any, _offset: Any) -> Any:
        return sd_rad

    return ReadingLikelihood(f"bevel {i}", "rad", gauge.tilt_rad, False, expected, sd, expected)


def likelihoods_of(cuts: ScrapCuts) -> tuple[ReadingLikelihood, ...]:
    """Every reading as a chance, rings first, then slots, then the bevel gauge.

    Parameters
    ----------
    cuts : ScrapCuts
        What was measured.

    Returns
    -------
    tuple[ReadingLikelihood, ...]
        In the order of the file.
    """
    before = cuts.before
    rings = [ring_likelihood(i, ring, before) for i, ring in enumerate(cuts.rings, 1)]
    slots = [_slot_likelihood(i, slot, before) for i, slot in enumerate(cuts.slots, 1)]
    gauges = [_gauge_likelihood(i, gauge, before) for i, gauge in enumerate(cuts.gauges, 1)]
    return (*rings, *slots, *gauges)
