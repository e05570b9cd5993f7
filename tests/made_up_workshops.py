"""Workshops made up at random: a true saw, friction, board and moisture, and what a maker would read there.

Drawn from their own formulas, not from the package's: a strip is a Weibull number of its own effective
volume, a slide a tilt read with an error, a weight a weight.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.saw.break_test import BreakTests, BrokenStrip
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned import TestResults, WorkshopTests, learn
from fitsim.saw.measurements import GaugeReading, Ring, ScrapCuts, SlotReading
from fitsim.saw.oven_test import MeterReading, MoistureTests, OvenPiece
from fitsim.saw.slide_test import Slide, SlideTests
from fitsim.wood.across_grain import StripSize

HANDBOOK_MPA, BELIEVED = 5.5, (0.2, 0.55)
VOLUMES_mm3 = {5.0: 28_400.0, 6.0: 30_500.0, 8.0: 38_600.0, 10.0: 53_800.0}


@dataclass(frozen=True)
class Workshop:
    """What is true in one workshop; lengths in mm, angles in rad, strength in MPa, moisture in percent."""

    kerf_mm: float
    offset_rad: float
    friction: float
    across_MPa: float
    shape: float
    moisture_percent: float


@dataclass(frozen=True)
class Coverage:
    """Whether each stated region holds the truth of one workshop."""

    saw: bool
    friction: bool
    strength: bool
    moisture: bool


def reference_mm3(shape: float) -> float:
    """Effective volume of the handbook's piece, straight between the logarithms of the printed four."""
    printed = sorted(VOLUMES_mm3.items())
    return math.exp(np.interp(shape, [m for m, _ in printed], [math.log(v) for _, v in printed]))


def weakening(moisture: float) -> float:
    """Strength across the grain at a moisture: 1.12 at 6, 1 at 12, 0.80 at 20, by Lagrange's parabola."""
    at, share = (6.0, 12.0, 20.0), (1.12, 1.0, 0.80)
    return sum(
        share[i] * math.prod((moisture - at[j]) / (at[i] - at[j]) for j in range(3) if j != i)
        for i in range(3)
    )


def make_up(rng: np.random.Generator, *, turned_rad: float) -> Workshop:
    """Draw a workshop whose board has its rings at this angle, from what is believed of workshops."""
    shape = 1 / rng.uniform(0.1, 0.2)
    within = math.gamma(1 + 2 / shape) / math.gamma(1 + 1 / shape) ** 2
    boards = math.log(1.0625 / within)
    board = rng.lognormal(-boards / 2, math.sqrt(boards))
    way = 0.87 * math.cos(turned_rad) ** 2 + 1.13 * math.sin(turned_rad) ** 2
    way *= 1 - 0.25 * math.sin(2 * turned_rad) ** 2
    low, high = (math.log(v) for v in BELIEVED)
    return Workshop(
        kerf_mm=rng.uniform(0.5, 1.3),
        offset_rad=rng.normal(0, math.radians(0.5)),
        friction=rng.lognormal((low + high) / 2, (high - low) / 2 / 1.645),
        across_MPa=HANDBOOK_MPA * way * board * rng.lognormal(0, 0.125),
        shape=shape,
        moisture_percent=rng.uniform(5, 14),
    )


def read_saw(rng: np.random.Generator, true: Workshop) -> ScrapCuts:
    """Two rings, a slot and a bevel gauge."""
    rings = []
    for scale in (4.0, 9.0):
        tilt = math.radians(scale) + true.offset_rad + rng.normal(0, math.radians(0.1))
        drop = (true.kerf_mm + rng.normal(0, 0.02)) / math.sin(tilt)
        seen = None if drop >= 25 else drop + rng.normal(0, 0.2)
        rings.append(Ring(math.radians(scale), seen, thickness_mm=25.0))
    slot = true.kerf_mm + rng.normal(0, math.hypot(0.02, 0.025))
    gauge = math.radians(5) + true.offset_rad + rng.normal(0, math.radians(math.hypot(0.1, 0.15)))
    return ScrapCuts(
        rings=tuple(rings), slots=(SlotReading(slot),), gauges=(GaugeReading(math.radians(5), gauge),)
    )


def read_slides(rng: np.random.Generator, true: Workshop, count: int) -> SlideTests:
    """Off-cuts a little off the bowl, slides that differ, angles read; lifted no further than 30 deg."""
    offcuts = true.friction * math.exp(rng.normal(0, 0.05))
    slides = []
    for _ in range(count):
        angle = math.atan(offcuts * math.exp(rng.normal(0, 0.125)))
        if angle > math.radians(30):
            slides.append(Slide(math.radians(30), held=True))
        else:
            slides.append(Slide(angle + rng.normal(0, math.radians(0.75))))
    return SlideTests(tuple(slides), "oil", "", *BELIEVED)


def read_strips(rng: np.random.Generator, true: Workshop, count: int, *, turned_rad: float) -> BreakTests:
    """Strips of unequal size, each as strong as its volume lets it be, sawn and read with errors."""
    common = math.exp(rng.normal(0, 0.05))
    strips = []
    for _ in range(count):
        width, thickness, span = rng.uniform(8, 14), rng.uniform(4.5, 8), rng.uniform(55, 90)
        volume = width * thickness * span / (2 * (true.shape + 1) ** 2)
        mean = true.across_MPa * (reference_mm3(true.shape) / volume) ** (1 / true.shape)
        scale = mean * weakening(true.moisture_percent) * common / math.gamma(1 + 1 / true.shape)
        load = scale * rng.weibull(true.shape) * 2 * width * thickness**2 / (3 * span)
        read = StripSize(width + rng.normal(0, 0.1), thickness + rng.normal(0, 0.1), span)
        strips.append(BrokenStrip(max(load + rng.normal(0, 0.98), 1.0), read))
    return BreakTests(tuple(strips), "some wood", HANDBOOK_MPA, turned_rad)


def read_moisture(rng: np.random.Generator, true: Workshop, count: int) -> MoistureTests:
    """Pieces from the oven and one reading of a meter."""
    pieces = []
    for _ in range(count):
        dry = rng.uniform(25, 60)
        wet = dry * (1 + (true.moisture_percent + rng.normal(0, 0.3)) / 100)
        pieces.append(OvenPiece(wet + rng.normal(0, 0.05), dry + rng.normal(0, 0.05)))
    meter = max(true.moisture_percent + rng.normal(0, math.hypot(1.0, 0.3)), 0.1)
    return MoistureTests(tuple(pieces), (MeterReading(meter),))


def learn_in(rng: np.random.Generator, number: int) -> tuple[Workshop, TestResults]:
    """One workshop and what its readings teach; few readings in some, more in others."""
    turned = (0.0, math.pi / 2, math.radians(20))[number % 3]
    true = make_up(rng, turned_rad=turned)
    few = 1 + number % 5
    tests = WorkshopTests(
        cuts=read_saw(rng, true),
        slides=read_slides(rng, true, 1 + few),
        strips=read_strips(rng, true, few, turned_rad=turned),
        moisture=read_moisture(rng, true, 1 + number % 2),
    )
    return true, learn(tests)


def in_joint_region(saw: Saw, *, kerf_mm: float, tilt_offset_rad: float) -> bool:
    """Whether both lie together inside nine tenths of a normal distribution (Rayleigh: 1 - exp(-r^2/2))."""
    off = (kerf_mm - saw.kerf_mm) / saw.kerf_sd_mm
    turned = (tilt_offset_rad - saw.tilt_offset_rad) / saw.tilt_offset_sd_rad
    square = (off**2 - 2 * saw.correlation * off * turned + turned**2) / (1 - saw.correlation**2)
    return square <= -2 * math.log(0.1)


def covered(true: Workshop, found: TestResults) -> Coverage:
    """Whether the stated regions hold the truth."""
    assert found.saw
    assert found.friction
    assert found.strength
    assert found.moisture
    friction, moisture = found.friction.friction, found.moisture.moisture
    return Coverage(
        saw=in_joint_region(found.saw.saw, kerf_mm=true.kerf_mm, tilt_offset_rad=true.offset_rad),
        friction=friction.low <= true.friction <= friction.high,
        strength=found.strength.low_MPa <= true.across_MPa <= found.strength.high_MPa,
        moisture=abs(true.moisture_percent - moisture.moisture_percent) <= 1.6449 * moisture.sd_percent,
    )
