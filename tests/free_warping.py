"""Saint-Venant's warping of an orthotropic rectangle in free torsion, for tests of the root and of a press.

psi = n z - sum c sin(b n) sinh(b z')/cosh(b h)/stretch, with z' = stretch z, h its half height, over the
odd rates b = (2 j + 1) pi/w. ``test_root.py`` holds it against the torque it must carry.
"""

import numpy as np

from fitsim.arrays import Array


def warping_mm2(n_mm: Array, z_mm: Array, *, thickness_mm: float, width_mm: float, stretch: float) -> Array:
    """Free warping over twist at points of the section: n z where it is tall and thin."""
    odd = np.arange(1.0, 400.0, 2.0)
    rate = odd * np.pi / width_mm
    curved = 8 * width_mm**2 / (np.pi * odd) ** 3 * (-1.0) ** ((odd - 1) / 2)
    height = stretch * np.asarray(z_mm)[..., None]
    # sinh/cosh by exponentials that do not overflow.
    rise = np.exp(rate * (np.abs(height) - stretch * thickness_mm / 2)) * -np.expm1(
        -2 * rate * np.abs(height)
    )
    rise *= np.sign(height) / (1 + np.exp(-rate * stretch * thickness_mm))
    bent = (curved * rise * np.sin(rate * np.asarray(n_mm)[..., None])).sum(axis=-1)
    return np.asarray(np.asarray(n_mm) * z_mm - bent / stretch)
