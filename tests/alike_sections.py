"""The stress of a bar whose sections are all alike, which has closed forms to be held against."""

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.curved_bar import AMPLITUDES, BarStress, CurvedBar, bar_stress, places_of
from fitsim.strip.section_energy import energy_of_sections, make_section_energy


def alike_stress(bar: CurvedBar, force: Array, across: Array, up: Array) -> BarStress:
    """Stresses where all sections of the bar are alike and warp alike.

    Parameters
    ----------
    bar : CurvedBar
        Sections.
    force : numpy.ndarray
        Shear n, stretch, shear b, then the moments about n, t, b, shape (m, 6). [N, N mm]
    across, up : numpy.ndarray
        Places, -1 to 1 over the section, shape (places,). [-]

    Returns
    -------
    BarStress
        Exact for a ring pulled along its axis (force b with a twist r times as large) and for one bent in
        its plane; moments that change along the bar warp its sections unevenly, see
        :mod:`fitsim.strip.warping`.
    """
    plain = 6 + AMPLITUDES  # motions of the section and its warping, without the warping's slopes
    form = energy_of_sections(make_section_energy(bar), 0, len(force))[:, :plain, :plain]
    right = np.concatenate([force, np.zeros((len(force), AMPLITUDES))], axis=1)
    moved = np.linalg.solve(form, right[..., None])[..., 0]
    motion = np.concatenate([moved, np.zeros((len(force), AMPLITUDES))], axis=1)
    return bar_stress(bar, places_of(bar, across, up), motion)
