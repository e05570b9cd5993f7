"""Energy of sections against an integral of the stresses and strains that their motions bring."""

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE

from fitsim.arrays import Array
from fitsim.strip.curved_bar import AMPLITUDES, CurvedBar, bar_stress, places_mm, places_of
from fitsim.strip.section_energy import energy_of_sections, make_section_energy
from fitsim.wood.grain import strip_compliance

THICKNESS = 17.0
WIDTH = np.concatenate([np.full(30, 5.9), np.full(12, 7.3), [6.1, 6.6]])
"""Two runs of one width, long enough to be carried from a few curvatures, and two lone sections."""


def _bar(flat: bool) -> CurvedBar:
    width = 2.2 * WIDTH if flat else WIDTH
    thickness = THICKNESS / 3 if flat else THICKNESS
    turn = np.arange(len(width)) * 2 * np.pi / 13
    return CurvedBar(
        width_mm=width,
        thickness_mm=thickness,
        lean=np.full(len(width), 0.11),
        curvature_per_mm=1 / (38 + 2.3 * turn),
        compliance_per_MPa=strip_compliance(PINE_LIKE, ring_angle_rad=0.4, psi_rad=turn),
        flat=flat,
    )


def _integral(bar: CurvedBar, motion: Array) -> Array:
    """Integral of stress times strain for pairs of motions, (sections, motions, motions).

    With as many points as the energy has: what fewer points than for an exact integral do is not asked.
    """
    counts = (8, 6) if bar.flat else (6, 8)
    (x, wx), (y, wy) = (np.polynomial.legendre.leggauss(count) for count in counts)
    across, up = (grid.ravel() for grid in np.meshgrid(x, y, indexing="ij"))
    places = places_of(bar, across, up)
    n, _z = places_mm(bar, across, up)
    area = np.outer(wx, wy).ravel() * (bar.width_mm * bar.thickness_mm / 4)[:, None]
    area = area * (1 + n * bar.curvature_per_mm[:, None])
    stress = []
    for each in motion:
        found = bar_stress(bar, places, np.broadcast_to(each, (len(n), len(each))))
        parts = ("sigma_s", "sigma_n", "sigma_z", "tau_nz", "tau_sz", "tau_sn")
        stress.append(np.stack([getattr(found, f"{part}_MPa") for part in parts], axis=1))
    sigma = np.stack(stress, axis=1)
    strain = np.einsum("mij,majq->maiq", bar.compliance_per_MPa, sigma)
    return np.einsum("mq,maiq,mbiq->mab", area, sigma, strain)


@pytest.mark.parametrize("flat", [False, True])
def test_energy_is_the_integral_of_stress_times_strain(flat: bool) -> None:
    """Of shears, turnings, amplitudes of each kind and their slopes, in every run and beside them."""
    bar = _bar(flat)
    energy = energy_of_sections(make_section_energy(bar), 0, len(bar.width_mm))
    some = [0, 1, 2, 3, 4, 5, 6, 17, 33, 40, 50, 5 + AMPLITUDES, 9 + AMPLITUDES, 35 + AMPLITUDES]
    some += [52 + AMPLITUDES, 5 + 2 * AMPLITUDES]
    motion = np.eye(6 + 2 * AMPLITUDES)[some]
    scale = 1 / np.sqrt(np.diagonal(energy, axis1=1, axis2=2)[:, some])
    expected = _integral(bar, motion) * scale[:, :, None] * scale[:, None]
    got = energy[np.ix_(range(len(energy)), some, some)] * scale[:, :, None] * scale[:, None]
    assert got == pytest.approx(expected, abs=1e-9)


def test_any_part_of_the_sections_is_as_in_the_whole() -> None:
    """Sections asked for by themselves, across the end of a run, have the same energy."""
    of = make_section_energy(_bar(flat=False))
    whole = energy_of_sections(of, 0, len(WIDTH))
    assert np.array_equal(energy_of_sections(of, 26, 43), whole[26:43])
