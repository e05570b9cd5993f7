"""Imperfect cuts: the wandering kerf has the variance and the length it was given."""

import math
from dataclasses import replace

import numpy as np
import pytest

import fitsim
from fitsim.bowl import Scatter, Uncertain
from fitsim.errors import OutsideModelError
from fitsim.imperfect import bowls_sawn, imperfections, least_round_turns, wander, wave_weights


def bowl(**scatter: float) -> fitsim.Bowl:
    """An invented small bowl, ranges removed."""
    made = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "18 mm", "across": "110 mm", "moisture": "9 %"},
            "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": "0.4"},
        }
    )
    return replace(made, uncertain=(), scatter=Scatter(**scatter))


def wandering(length_mm: float, cut_mm: float, n: int) -> tuple[np.ndarray, float]:
    """Samples of the wander, and the distance between its points in mm."""
    share, period = wave_weights(cut_mm=cut_mm, length_mm=length_mm)
    points = 2 * math.ceil(4 * period / length_mm / 2)
    normals = np.random.default_rng(20).standard_normal((n, 2 * len(share) - 1))
    return wander(normals, wave_share=share, points=points), period / points


def test_variance_is_one_everywhere() -> None:
    """The wander has mean 0 and variance 1 at every point of the cut."""
    values, _ = wandering(30.0, 700.0, 4000)
    # 4000 samples: the variance of one point errs by sqrt(2/4000) = 0.022, four times that is allowed.
    assert np.abs(values.var(axis=0) - 1).max() < 0.09
    assert np.abs(values.mean(axis=0)).max() < 4 / math.sqrt(4000)


@pytest.mark.parametrize(("length_mm", "cut_mm"), [(30.0, 700.0), (85.0, 400.0)])
def test_covariance_is_a_gaussian_of_the_distance(length_mm: float, cut_mm: float) -> None:
    """Two places a distance s apart are correlated by exp(-s^2/(2 l^2)), over the cut's whole length."""
    values, step = wandering(length_mm, cut_mm, 6000)
    first = values[:, 3]
    for apart in (1, 2, 4, 6, int(cut_mm / step) - 4):
        seen = float(np.mean(first * values[:, 3 + apart]))
        expected = math.exp(-((apart * step) ** 2) / (2 * length_mm**2))
        assert seen == pytest.approx(expected, abs=4 * math.sqrt(2 / 6000))


def test_wave_shares_add_up() -> None:
    """All waves together hold the whole variance, and a hopelessly short length is refused."""
    share, period = wave_weights(cut_mm=900.0, length_mm=25.0)
    assert share.sum() == pytest.approx(1)
    assert period > 900
    with pytest.raises(OutsideModelError, match="kerf_length"):
        wave_weights(cut_mm=90_000.0, length_mm=1.0)


def test_least_of_each_turn() -> None:
    """Each turn gets the least value between its ends; the free end's own point does not count twice."""
    values = np.array([[3.0, 1.0, 2.0, -5.0, 4.0, 0.5, 7.0]])
    assert least_round_turns(values, np.array([0, 2, 5])).tolist() == [[1.0, -5.0]]


def test_same_points_give_the_same_bowls_and_others_others() -> None:
    """A seed's points decide the bowls: the same again for the same, unlike ones for another seed."""
    imperfect = imperfections(bowl())
    one, again, other = (
        bowls_sawn(imperfect, np.random.default_rng(seed).random((5, imperfect.dimensions)))
        for seed in (3, 3, 4)
    )
    assert one == again
    assert all(a.cut.kerf_mm != b.cut.kerf_mm for a, b in zip(one, other, strict=True))
    assert len({b.board.thickness_mm for b in one}) == 5


def test_scatter_of_each_error_is_the_one_given() -> None:
    """Tilt and thickness scatter about what was meant with the standard deviations given."""
    imperfect = imperfections(bowl(tilt_rad=0.004, thickness_mm=0.3, kerf_mm=0.03))
    sawn = bowls_sawn(
        imperfect, np.random.default_rng(8).random((3000, imperfect.dimensions)), tilt_rad=0.15
    )
    tilt = np.array([b.cut.tilt_rad[0] for b in sawn])
    thickness = np.array([b.board.thickness_mm for b in sawn])
    assert (tilt.mean(), tilt.std()) == (
        pytest.approx(0.15, abs=4 * 0.004 / 54),
        pytest.approx(0.004, rel=0.06),
    )
    assert (thickness.mean(), thickness.std()) == (
        pytest.approx(18, abs=4 * 0.3 / 54),
        pytest.approx(0.3, rel=0.06),
    )
    kerf = np.array([b.cut.kerf_mm[:2] for b in sawn])
    # The least of some turn lies below what was meant by one to three standard deviations.
    assert (kerf.mean(axis=0) < 0.7 - 0.03).all()
    assert (kerf.mean(axis=0) > 0.7 - 3 * 0.03).all()


def test_a_scale_error_moves_the_tilt_from_where_it_was_set() -> None:
    """Where the scale's error is a range, true tilt = tilt set at the middle error + (error - middle)."""
    meant = bowl(tilt_rad=0.0)
    meant = replace(
        meant,
        cut=replace(meant.cut, scale_offset_rad=0.01),
        uncertain=(Uncertain("scale error", "rad", 0.004, 0.016, "cut.scale_offset_rad"),),
    )
    imperfect = imperfections(meant)
    points = np.full((1, imperfect.dimensions), 0.5)
    points[0, 0] = 0.25
    (sawn,) = bowls_sawn(imperfect, points, tilt_rad=0.13)
    assert sawn.cut.tilt_rad[0] == pytest.approx(0.13 + (0.007 - 0.01))
