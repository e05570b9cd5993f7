"""Chances on cases worked out by hand, seats of a wandering slot, and one correction by the real strip."""

import math
from dataclasses import replace

import numpy as np
import pytest

import fitsim
from fitsim.arrays import Array
from fitsim.bowl import Bowl, Scatter
from fitsim.chance import Samples, corrected_chances, sampled_chances, sawn_outcome
from fitsim.cut import spiral_slot, strip_between_slots
from fitsim.elastic import open_bowl
from fitsim.imperfect import bowls_sawn, imperfections, wander, wave_weights
from fitsim.rigid import deciding_numbers
from fitsim.ring import slot_faces
from fitsim.seat import turn_seats
from fitsim.verdict import DecidingNumbers


def samples(locks: Array, margin: Array) -> Samples:
    """Outcomes fail and lock."""
    lock = locks.astype(float)
    return Samples(np.stack([1 - lock, lock], axis=1), margin)


def made_bowl(**use: str) -> Bowl:
    """An invented bowl that may fall through or spring back, friction alone a range."""
    bowl = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "18 mm", "across": "150 mm", "moisture": "8 %"},
            "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
            "use": {"finish": "none", "film": "0 mm", "friction": "0.4", **use},
            "limits": {"overlap": "0.5"},
        }
    )
    return replace(bowl, uncertain=tuple(u for u in bowl.uncertain if u.path == "use.friction"))


def by_hand(bowl: Bowl) -> DecidingNumbers:
    """Slot k/cos(tilt), drop k/sin(tilt), hold tan(tilt)/mu by the least kerf a turn; no splitting."""
    (tilt,), kerfs = bowl.cut.tilt_rad, bowl.cut.kerf_mm[:7]
    return DecidingNumbers(
        slot_left_mm=min(kerfs) / math.cos(tilt),
        overlap=1 - max(kerfs) / math.sin(tilt) / bowl.board.thickness_mm,
        friction_used=math.tan(tilt) / bowl.use.friction,
        split_chance=0.0,
    )


def test_by_hand_is_the_closed_form() -> None:
    """On imperfect bowls the numbers worked out by hand are those of the closed form."""
    imperfect = imperfections(made_bowl(friction="0.3 to 0.5"))
    points = np.random.default_rng(6).random((12, imperfect.dimensions))
    for bowl in bowls_sawn(imperfect, points):
        hand, given = by_hand(bowl), deciding_numbers(bowl)
        assert len(set(bowl.cut.kerf_mm)) > 3
        for name in ("slot_left_mm", "overlap", "friction_used"):
            assert getattr(hand, name) == pytest.approx(getattr(given, name), rel=1e-9)


def test_normal_thickness_gives_the_normal_chance() -> None:
    """Thickness normal, all else fixed: the chance of falling through is the normal's own."""
    imperfect = imperfections(made_bowl(), scatter=Scatter(0.0, 30.0, 0.0, 1.5))
    found = sampled_chances(
        sawn_outcome(imperfect, by_hand), imperfect.dimensions, seed=3, target_se=0.01, most_samples=1024
    )
    least = 2 * 0.7 / math.sin(math.radians(5))  # overlap one half; 1.29 sd below the 18 mm meant
    truth = math.erfc(-(18 - least) / 1.5 / math.sqrt(2)) / 2
    assert found.reached
    assert abs(found.chance[-1] - truth) < 3 * found.se[-1]


def test_friction_over_its_range_gives_its_share() -> None:
    """Friction even over 0.05 to 0.25 at 5 deg: it holds where friction exceeds tan(tilt)."""
    imperfect = imperfections(made_bowl(friction="0.05 to 0.25"), scatter=Scatter(0.0, 30.0, 0.0, 0.0))
    found = sampled_chances(
        sawn_outcome(imperfect, by_hand), imperfect.dimensions, seed=5, target_se=0.01, most_samples=512
    )
    truth = (0.25 - math.tan(math.radians(5))) / 0.2
    assert abs(found.chance[-1] - truth) < 3 * found.se[-1]
    assert found.chance[2] == pytest.approx(1 - found.chance[-1])


@pytest.mark.parametrize(("cut_mm", "length_mm"), [(400.0, 25.0), (90.0, 70.0)])
def test_waves_add_up_to_the_covariance_claimed(cut_mm: float, length_mm: float) -> None:
    """The waves add up to exp(-s^2/(2 l^2)) at every distance along the cut, without any sampling."""
    share, period = wave_weights(cut_mm=cut_mm, length_mm=length_mm)
    away = np.linspace(0, cut_mm, 37)
    waves = 2 * math.pi * np.arange(len(share)) / period
    covariance = (share * np.cos(away[:, None] * waves)).sum(axis=1)
    assert covariance == pytest.approx(np.exp(-(away**2) / (2 * length_mm**2)), abs=2e-4)


def test_waves_are_summed_as_written() -> None:
    """The transform equals the plain sum of cosines and sines, each wave with its own two numbers."""
    share, _ = wave_weights(cut_mm=120.0, length_mm=40.0)
    points = 64
    normals = np.random.default_rng(4).standard_normal((3, 2 * len(share) - 1))
    angle = 2 * np.pi * np.arange(points) / points
    expected = np.sqrt(share[0]) * normals[:, :1] + sum(
        np.sqrt(share[k])
        * (normals[:, [2 * k - 1]] * np.cos(k * angle) + normals[:, [2 * k]] * np.sin(k * angle))
        for k in range(1, len(share))
    )
    assert wander(normals, wave_share=share, points=points) == pytest.approx(expected, abs=1e-12)


def test_least_kerf_of_a_turn_gives_the_seat_of_the_wandering_slot() -> None:
    """Seats of a slot whose kerf wanders sample by sample equal those of each turn's least kerf."""
    given = {"base_radius_mm": 28.0, "outer_radius_mm": 75.0, "pitch_mm": 6.5, "tilt_rad": 0.1}
    even = spiral_slot(kerf_mm=0.7, **given)
    along = 0.7 + 0.06 * np.sin(even.angle_rad * 1.7 + 0.4) + 0.03 * np.cos(even.angle_rad * 0.31)
    wandering = replace(even, kerf_mm=along)
    strip = strip_between_slots(wandering, across_mm=150, outline="round", end_width_mm=3.25)
    seats = turn_seats(slot_faces(wandering, strip, thickness_mm=18.0))
    place = np.searchsorted(wandering.angle_rad, strip.angle_rad)
    turn = np.ceil(strip.angle_rad / (2 * math.pi) - 1e-9).clip(1).astype(int) - 1
    least = [along[place][turn == j].min() for j in range(turn.max() + 1)]
    assert len(set(np.round(least, 4))) > 3
    assert seats.seat_drop_mm == pytest.approx(np.array(least) / math.sin(0.1), rel=1e-12)


def test_far_samples_are_corrected_too() -> None:
    """A costly model that differs only far from every limit still corrects the chance."""

    def cheap(points: Array) -> Samples:
        return samples(points[:, 0] < 0.8, 0.8 - points[:, 0])

    def costly(points: Array) -> Samples:
        return samples((points[:, 0] > 0.25) & (points[:, 0] < 0.8), 0.8 - points[:, 0])

    found, alone = corrected_chances(cheap, costly, 2, seed=4, target_se=0.02, most_costly=256)
    assert alone.chance[-1] == pytest.approx(0.8, abs=0.01)
    assert abs(found.chance[-1] - 0.55) < 3 * found.se[-1]


def test_agreement_is_never_certain() -> None:
    """Where every sample locks in both models a standard error is left open all the same."""

    def sure(points: Array) -> Samples:
        return samples(points[:, 0] < 2, 2 - points[:, 0])

    alone = sampled_chances(sure, 1, seed=0, target_se=0.001, most_samples=512)
    assert alone.chance[-1] == 1
    assert alone.se[-1] >= 1 / 512
    found, _ = corrected_chances(sure, sure, 1, seed=0, target_se=0.001, most_costly=32)
    assert found.chance[-1] == pytest.approx(1)
    assert found.se[-1] > 1 / 64
    assert not found.reached


def test_real_strip_corrects_the_closed_form() -> None:
    """A bowl that holds by the taper rule and springs back on the strip: its chance is the strip's."""
    bowl = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "16 mm", "across": "118 mm", "moisture": "8 %"},
            "cut": {"tilt": "8 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "80 mm"},
            "use": {"finish": "none", "film": "0 mm", "friction": "0.2", "press": "100 N"},
        }
    )
    imperfect = imperfections(replace(bowl, uncertain=()))
    found, alone = corrected_chances(
        sawn_outcome(imperfect, deciding_numbers),
        sawn_outcome(imperfect, lambda b: open_bowl(b, nodes_per_turn=24).numbers),
        imperfect.dimensions,
        seed=1,
        target_se=0.01,
        most_samples=256,
        most_costly=6,
    )
    # The taper rule asks for tan(8 deg)/0.2 = 0.70 of the friction; the innermost turn's spring asks for
    # more than all of it, on this bowl and on every imperfect one tried.
    assert alone.chance[-1] > 0.95
    assert found.failed == 0
    assert found.chance[-1] < alone.chance[-1] - 0.10 - 3 * found.se[-1]
    assert abs(found.chance[-1]) < 3 * found.se[-1]
