"""Sections of the elastic strip: how stiff each is, and which way its axes point.

Local axes are n (outward, in the plane of the board), t (along the strip) and b (through the
thickness), with n x t = b. No wood and no rings here: arrays in, arrays out.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.errors import OutsideModelError

__all__ = ["Section", "frames_in_plane", "straight_section"]


@dataclass(frozen=True, eq=False)
class Section:
    """Stiffness of the elements, every array of shape (e,).

    Attributes
    ----------
    EA_N, GA_n_N, GA_b_N : numpy.ndarray
        Stretch, shear in the plane of the board, shear through the thickness. [N]
    D_Nmm2 : numpy.ndarray
        Torsion with bending held. [N mm^2]
    twist_per_bend : numpy.ndarray
        Twist that goes with a bend about n, over that bend: wood off its grain; 0 for none. [-]
    EI_n_Nmm2, EI_b_Nmm2, EI_nb_Nmm2 : numpy.ndarray
        Bending about n (out of the plane of the board), about b (in it), and the product term
        E times the integral of n z over the section, which a leaning parallelogram has. [N mm^2]

    """

    EA_N: Array
    GA_n_N: Array
    GA_b_N: Array
    D_Nmm2: Array
    twist_per_bend: Array
    EI_n_Nmm2: Array
    EI_b_Nmm2: Array
    EI_nb_Nmm2: Array


def straight_section(
    *,
    width_mm: Array,
    thickness_mm: float,
    lean: Array | float,
    E_s_MPa: Array,
    G_sz_MPa: Array,
    G_sn_MPa: Array,
    D_Nmm2: Array,
    twist_per_bend: Array | None = None,
    shear_factor: float = 5 / 6,
) -> Section:
    """Stiffness of parallelogram sections: width w in the plane, thickness T, sides leaning.

    Parameters
    ----------
    width_mm : numpy.ndarray
        Width at the middle of each element, shape (e,). [mm]
    thickness_mm : float
        Thickness of the board. [mm]
    lean : numpy.ndarray or float
        Shift of the section's sides per millimetre of height, tan(tilt); 0 for a rectangle. [-]
    E_s_MPa, G_sz_MPa, G_sn_MPa : numpy.ndarray
        Young's modulus along the strip, shear moduli of the tall and of the flat faces, shape (e,).
        [MPa]
    D_Nmm2 : numpy.ndarray
        Torsion stiffness with bending held, shape (e,). [N mm^2]
    twist_per_bend : numpy.ndarray, optional
        Twist over bend of off-axis wood, shape (e,); none left out. [-]
    shear_factor : float
        Share of the area that carries transverse shear; 5/6 for a rectangle (Timoshenko, from
        memory). [-]

    Returns
    -------
    Section
        Arrays of shape (e,).

    Raises
    ------
    OutsideModelError
        If a width or the thickness is not above zero.

    """
    w, T = np.asarray(width_mm, dtype=np.float64), float(thickness_mm)
    if np.any(w <= 0) or T <= 0:
        raise OutsideModelError("a strip needs a width and a thickness above zero everywhere")
    E = np.broadcast_to(np.asarray(E_s_MPa, dtype=np.float64), w.shape)
    I_n = w * T**3 / 12
    return Section(
        EA_N=read_only(E * w * T),
        GA_n_N=read_only(shear_factor * np.asarray(G_sn_MPa) * w * T),
        GA_b_N=read_only(shear_factor * np.asarray(G_sz_MPa) * w * T),
        D_Nmm2=read_only(np.broadcast_to(D_Nmm2, w.shape)),
        twist_per_bend=read_only(
            np.broadcast_to(0.0 if twist_per_bend is None else twist_per_bend, w.shape)
        ),
        EI_n_Nmm2=read_only(E * I_n),
        EI_b_Nmm2=read_only(E * (T * w**3 / 12 + lean**2 * I_n)),
        EI_nb_Nmm2=read_only(E * lean * I_n),
    )


def frames_in_plane(position_mm: Array) -> Array:
    """Section axes along a curve in the plane of the board, from circles through three points.

    Exact where the curve is a circle. The outward normal is to the right of the direction of
    travel, so the curve is to run counter-clockwise round the base.

    Parameters
    ----------
    position_mm : numpy.ndarray
        Nodes, shape (n, 3), n >= 3. [mm]

    Returns
    -------
    numpy.ndarray
        Axes n, t, b as columns, shape (n, 3, 3). [-]

    """
    step = np.diff(position_mm, axis=0)
    length = np.linalg.norm(step, axis=1)[:, None]
    chord = step / length
    # The tangent of the circle through three points, at the middle one and at either end.
    inner = chord[:-1] * length[1:] + chord[1:] * length[:-1]
    inner /= np.linalg.norm(inner, axis=1)[:, None]
    first = 2 * np.sum(inner[0] * chord[0]) * chord[0] - inner[0]
    last = 2 * np.sum(inner[-1] * chord[-1]) * chord[-1] - inner[-1]
    t = np.vstack([first, inner, last])
    b = np.broadcast_to([0.0, 0.0, 1.0], t.shape)
    return np.stack([np.cross(t, b), t, b], axis=2)
