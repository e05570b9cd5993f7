"""Compiled loops against the same algebra on whole arrays, at numbers without any symmetry."""

from typing import Any

import numpy as np
import pytest
from wooden_bowls import laid

from fitsim.strip.compiled import can_be_kept, compiled, is_kept
from fitsim.strip.kernels import books_of, deformed_under, longest, off_the_law
from fitsim.strip.load_step import prepare

SEATS, SLOTS = 5, 7


@pytest.fixture
def rng() -> np.random.Generator:
    """Numbers of one seed."""
    return np.random.default_rng(41)


def test_the_longest_motion_is_that_of_one_node(rng: np.random.Generator) -> None:
    """The greatest length, not the greatest component; what is no number stays none."""
    motion = rng.normal(size=(9, 3))
    motion[4] = 3.0, -4.0, 12.0
    assert longest(motion) == pytest.approx(13.0, rel=1e-15)
    assert longest(np.zeros((0, 3))) == 0.0
    for place in (0, 8):
        spoilt = motion.copy()
        spoilt[place, 1] = np.nan
        assert np.isnan(longest(spoilt))


def test_only_seats_are_off_the_law(rng: np.random.Generator) -> None:
    """Forces less those of the linear system, N' + D (gap - gap'), in magnitude; nails are not counted."""
    force, was, gap, gap_was = (rng.normal(size=(SLOTS, 2, 3)) for _ in range(4))
    change = rng.normal(size=(SLOTS, 2, 3, 3))
    off, size = off_the_law(SEATS, force, was, change, gap, gap_was)
    linear = was + np.einsum("spij,spj->spi", change, gap - gap_was)
    assert off == pytest.approx(np.abs(force - linear)[:SEATS].sum(), rel=1e-13)
    assert size == pytest.approx(np.abs(force)[:SEATS].sum(), rel=1e-13)


def test_an_element_gives_by_what_it_carries_about_its_middle(rng: np.random.Generator) -> None:
    """Force and moment about the origin, taken to its middle and into its axes, by its flexibility."""
    bowl = laid(turns=2.3)
    layout, F = prepare(bowl).held.layout, bowl.strip.flexibility
    count = len(F)
    carried, middle = rng.normal(size=(count, 6)), 50 * rng.normal(size=(count, 3))
    frame = np.linalg.qr(rng.normal(size=(count, 3, 3)))[0]
    found = deformed_under(layout, carried, middle, frame)
    for k in (0, 7, count - 1):
        force, moment = carried[k, :3], carried[k, 3:]
        local = [frame[k].T @ force, frame[k].T @ (moment - np.cross(middle[k], force))]
        assert found[k] == pytest.approx(F[k] @ np.concatenate(local), rel=1e-9)


def test_a_step_s_books(rng: np.random.Generator) -> None:
    """Work of the mean forces; bearing points are off by gap and compliance, open ones by overlap."""
    force, was, gap, predicted = (rng.normal(size=(SLOTS, 2, 3)) for _ in range(4))
    gap_was = rng.normal(size=(SEATS, 2))
    force[1, 0], gap[1, 0] = (
        (0.1, 5.0, -12.0),
        (-3.0, 0.2, 0.3),
    )  # hardly bears, overlaps and is held too fast
    force[2, 1, 0] = -4.0
    gap[6, 1, 0] = force[6, 1, 0] = -99.0  # a nail's
    g, w, mu = 0.07, 0.2, 0.3
    lost, given, off, pull, over, miss = books_of(force, was, gap, gap_was, predicted, g, w, mu)
    f, h, mean = force[:SEATS], gap[:SEATS], 0.5 * (force + was)[:SEATS]
    bears = f[..., 0] > w
    assert lost == pytest.approx(-(mean[..., 1:] * h[..., 1:]).sum(), rel=1e-12)
    assert given == pytest.approx(-(mean[..., 0] * (h[..., 0] - gap_was)).sum(), rel=1e-12)
    assert off == pytest.approx(max(np.abs(h[..., 0] + g * f[..., 0])[bears].max(), 3.0), rel=1e-12)
    assert pull == pytest.approx(4.0)
    assert over == pytest.approx(max(13.0 - mu * 0.1, 0.0), rel=1e-12)
    assert miss == pytest.approx(np.abs(h - predicted[:SEATS])[..., 0][bears].max(), rel=1e-12)


def test_a_loop_without_a_file_is_compiled_and_cannot_be_kept() -> None:
    """What has no file has no folder beside it: it works all the same, and is known to be made anew."""
    names: dict[str, Any] = {}
    exec("def third(a, b):\n    return (a - 2 * b) / 3", names)
    loop = compiled(names["third"])
    assert loop(17.0, 4.0) == pytest.approx(3.0, rel=1e-15)
    assert not can_be_kept(loop)
    assert not is_kept(loop)
    assert can_be_kept(longest)
