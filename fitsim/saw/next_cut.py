"""What test cuts leave undecided, and which further measurement would tell kerf and tilt apart best."""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.saw.kerf_and_scale import Saw, saw_covariance
from fitsim.saw.likelihood import ReadingLikelihood, likelihoods_of, ring_likelihood
from fitsim.saw.measurements import GaugeReading, Ring, ScrapCuts, SlotReading
from fitsim.saw.test_cuts import SawEstimate

__all__ = ["NextCut", "TradeOff", "next_cuts", "trade_off"]


@dataclass(frozen=True)
class TradeOff:
    """What readings leave undecided between kerf and offset.

    Attributes
    ----------
    kerf_if_scale_true_mm : float
        Kerf if the scale reads true. [mm]
    kerf_per_offset_mm_per_rad : float
        How much more kerf goes with more offset. [mm/rad]
    unresolved : bool
        True if the cuts say little more about the scale than was believed before.
    """

    kerf_if_scale_true_mm: float
    kerf_per_offset_mm_per_rad: float
    unresolved: bool


UNRESOLVED_SHARE = 0.9
"""The scale counts as unresolved while this much of the belief's spread is left: our choice."""


def trade_off(estimate: SawEstimate) -> TradeOff:
    """The line of kerf and offset that the readings cannot tell apart.

    Parameters
    ----------
    estimate : SawEstimate
        The estimate.

    Returns
    -------
    TradeOff
        For one ring the line k = h sin(scale tilt + offset), k growing by h cos(tilt) for each radian.
    """
    saw = estimate.saw
    slope = saw.correlation * saw.kerf_sd_mm / saw.tilt_offset_sd_rad
    return TradeOff(
        kerf_if_scale_true_mm=saw.kerf_mm - slope * saw.tilt_offset_rad,
        kerf_per_offset_mm_per_rad=slope,
        unresolved=saw.tilt_offset_sd_rad > UNRESOLVED_SHARE * estimate.cuts.before.scale_sd_rad,
    )


@dataclass(frozen=True)
class NextCut:
    """One further measurement and how well kerf and offset would then be known.

    Attributes
    ----------
    kind : str
        "ring", "slot" or "bevel".
    scale_tilt_rad : float
        What to set the scale to; nan for a slot, where any tilt serves. [rad]
    tilt_offset_sd_rad : float
        Standard deviation of the offset afterwards. [rad]
    kerf_sd_mm : float
        Standard deviation of the kerf afterwards. [mm]
    """

    kind: str
    scale_tilt_rad: float
    tilt_offset_sd_rad: float
    kerf_sd_mm: float


TILTS_TO_TRY_DEG = range(3, 16)
DEEPEST_SHARE = 0.8
"""A test ring should bind with this much of the thickness or less: its drop can then be measured."""


def next_cuts(estimate: SawEstimate) -> tuple[NextCut, ...]:
    """The best further ring, a slot and a bevel gauge reading, best first.

    Parameters
    ----------
    estimate : SawEstimate
        The estimate.

    Returns
    -------
    tuple[NextCut, ...]
        Sorted by how well the offset would be known, by straight-line propagation.
    """
    saw, before = estimate.saw, estimate.cuts.before
    thick = [r.thickness_mm for r in estimate.cuts.rings if r.thickness_mm is not None]
    deepest = DEEPEST_SHARE * max(thick) if thick else math.inf
    tried: list[NextCut] = []
    for degrees in TILTS_TO_TRY_DEG:
        scale = math.radians(degrees)
        reading = ring_likelihood(1, Ring(scale_tilt_rad=scale, drop_mm=1.0), before)
        if scale + saw.tilt_offset_rad <= 0 or reading.expected(saw.kerf_mm, saw.tilt_offset_rad) > deepest:
            continue
        tried.append(_after("ring", scale, reading, saw))
    rings = sorted(tried, key=lambda cut: cut.tilt_offset_sd_rad)[:1]
    cuts = ScrapCuts(slots=(SlotReading(1.0),), gauges=(GaugeReading(0.0, 0.0),), before=before)
    slot, gauge = likelihoods_of(cuts)
    at = estimate.cuts.rings[0].scale_tilt_rad if estimate.cuts.rings else math.radians(5.0)
    others = [_after("slot", math.nan, slot, saw), _after("bevel", at, gauge, saw)]
    return tuple(sorted((*rings, *others), key=lambda cut: cut.tilt_offset_sd_rad))


def _after(kind: str, scale_tilt_rad: float, reading: ReadingLikelihood, saw: Saw) -> NextCut:
    kerf, offset, covariance = saw.kerf_mm, saw.tilt_offset_rad, saw_covariance(saw)
    step = 1e-6
    gradient = np.array([
        reading.expected(kerf + step, offset) - reading.expected(kerf - step, offset),
        reading.expected(kerf, offset + step) - reading.expected(kerf, offset - step),
    ]) / (2 * step)  # fmt: skip
    tied = covariance @ gradient
    left = covariance - np.outer(tied, tied) / (gradient @ tied + reading.sd(kerf, offset) ** 2)
    return NextCut(kind, scale_tilt_rad, math.sqrt(left[1, 1]), math.sqrt(left[0, 0]))
