"""Stiffness of wood in the board's axes, and along a strip that turns under the grain.

Axes: x along the grain (L), y across the grain in the plane of the board, z through the
thickness. ``ring_angle_rad`` turns the growth rings about the grain: 0 is a flat-sawn board
(tangential T across, radial R through the thickness), pi/2 a quarter-sawn one.
``psi_rad`` is the angle in the plane from the grain to the strip's tangent.

Formulas: transformation of an orthotropic compliance about one axis (S. G. Lekhnitskii, *Theory of
Elasticity of an Anisotropic Body*; from memory, no page seen).
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array

__all__ = [
    "BoardStiffness",
    "Orthotropic",
    "StripStiffness",
    "board_stiffness",
    "strip_compliance",
    "strip_stiffness",
]


@dataclass(frozen=True)
class Orthotropic:
    """Elastic constants of wood in its own axes: along the grain L, radial R, tangential T.

    Attributes
    ----------
    E_L_MPa, E_R_MPa, E_T_MPa : float
        Young's moduli. [MPa]
    G_LR_MPa, G_LT_MPa, G_RT_MPa : float
        Shear moduli; ``G_RT_MPa`` is rolling shear. [MPa]
    nu_LR, nu_LT, nu_RT : float
        Poisson's ratios, first letter the direction of the load. [-]
    """

    E_L_MPa: float
    E_R_MPa: float
    E_T_MPa: float
    G_LR_MPa: float
    G_LT_MPa: float
    G_RT_MPa: float
    nu_LR: float
    nu_LT: float
    nu_RT: float


@dataclass(frozen=True)
class BoardStiffness:
    """Elastic constants in the board's axes x (grain), y (across), z (thickness).

    Attributes
    ----------
    E_x_MPa, E_y_MPa : float
        Young's moduli along and across the grain. [MPa]
    G_xy_MPa, G_xz_MPa, G_yz_MPa : float
        Shear moduli of the board's plane, and of the planes through its thickness along and across the
        grain. [MPa]
    nu_xy : float
        Poisson's ratio: contraction across the grain over stretch along it. [-]
    """

    E_x_MPa: float
    E_y_MPa: float
    G_xy_MPa: float
    G_xz_MPa: float
    G_yz_MPa: float
    nu_xy: float


@dataclass(frozen=True, eq=False)
class StripStiffness:
    """Elastic constants at points along a strip, each array of shape (n,).

    Off the grain, stretch along the tangent s shears s with the in-plane normal n: bent out of its plane
    the strip twists (S. G. Lekhnitskii, generalised torsion; from memory, no page seen).

    Attributes
    ----------
    E_s_MPa : numpy.ndarray
        Young's modulus along the tangent s. [MPa]
    G_sz_MPa, G_sn_MPa : numpy.ndarray
        Shear moduli of the tall faces (s with the thickness z) and of the flat faces (s with n). [MPa]
    G_twist_MPa : numpy.ndarray
        Stands for ``G_sn_MPa`` in the twist of a strip that is held from bending. [MPa]
    twist_per_bend : numpy.ndarray
        Twist of a strip that is bent out of its plane, over that bend; 0 along and across the grain. [-]
    """

    E_s_MPa: Array
    G_sz_MPa: Array
    G_sn_MPa: Array
    G_twist_MPa: Array
    twist_per_bend: Array


def board_stiffness(wood: Orthotropic, *, ring_angle_rad: float) -> BoardStiffness:
    """Turn the growth rings about the grain and read the constants in the board's axes.

    Coupling between shear and stretch in the turned section (rift-sawn boards) is left out: the
    constants returned are the reciprocal diagonal terms of the turned compliance.

    Parameters
    ----------
    wood : Orthotropic
        Constants in the wood's own axes.
    ring_angle_rad : float
        Angle between the growth rings and the face of the board; 0 flat-sawn. [rad]

    Returns
    -------
    BoardStiffness
        Constants in x, y, z.

    Examples
    --------
    >>> oak = Orthotropic(12000, 1900, 900, 1100, 950, 250, 0.37, 0.43, 0.6)
    >>> round(float(board_stiffness(oak, ring_angle_rad=0.0).G_xz_MPa), 6)
    1100.0
    """
    cc, ss = np.cos(ring_angle_rad) ** 2, np.sin(ring_angle_rad) ** 2
    # y is T turned by the ring angle towards R, z is R turned away from T.
    one_over_E_y = (
        cc**2 / wood.E_T_MPa
        + ss**2 / wood.E_R_MPa
        + cc * ss * (1 / wood.G_RT_MPa - 2 * wood.nu_RT / wood.E_R_MPa)
    )
    one_over_G_yz = (
        4 * cc * ss * (1 / wood.E_R_MPa + 1 / wood.E_T_MPa + 2 * wood.nu_RT / wood.E_R_MPa)
        + (cc - ss) ** 2 / wood.G_RT_MPa
    )
    return BoardStiffness(
        E_x_MPa=float(wood.E_L_MPa),
        E_y_MPa=float(1 / one_over_E_y),
        G_xy_MPa=float(1 / (cc / wood.G_LT_MPa + ss / wood.G_LR_MPa)),
        G_xz_MPa=float(1 / (cc / wood.G_LR_MPa + ss / wood.G_LT_MPa)),
        G_yz_MPa=float(1 / one_over_G_yz),
        nu_xy=float(cc * wood.nu_LT + ss * wood.nu_LR),
    )


def strip_stiffness(board: BoardStiffness, *, psi_rad: Array) -> StripStiffness:
    """Elastic constants where the strip's tangent makes the angle psi with the grain.

    1/E_s  = c^4/E_x + s^4/E_y + c^2 s^2 (1/G_xy - 2 nu_xy/E_x)
    1/G_sz = c^2/G_xz + s^2/G_yz
    1/G_sn = 4 c^2 s^2 (1/E_x + 1/E_y + 2 nu_xy/E_x) + (c^2 - s^2)^2/G_xy
    1/G_twist = 1/G_sn - S_16^2 E_s,  twist_per_bend = -S_16 E_s/2, with
    S_16 = 2 c^3 s (1/E_x + nu_xy/E_x) - 2 c s^3 (1/E_y + nu_xy/E_x) - c s (c^2 - s^2)/G_xy

    Parameters
    ----------
    board : BoardStiffness
        Constants in the board's axes.
    psi_rad : numpy.ndarray
        Angle from the grain to the tangent, shape (n,). [rad]

    Returns
    -------
    StripStiffness
        Arrays of shape (n,).

    Examples
    --------
    >>> plain = BoardStiffness(11000.0, 700.0, 740.0, 950.0, 310.0, 0.5)
    >>> strip_stiffness(plain, psi_rad=np.array([0.0])).E_s_MPa.round(6)
    array([11000.])
    """
    cc, ss = np.cos(psi_rad) ** 2, np.sin(psi_rad) ** 2
    one_over_E_s = (
        cc**2 / board.E_x_MPa
        + ss**2 / board.E_y_MPa
        + cc * ss * (1 / board.G_xy_MPa - 2 * board.nu_xy / board.E_x_MPa)
    )
    one_over_G_sn = (
        4 * cc * ss * (1 / board.E_x_MPa + 1 / board.E_y_MPa + 2 * board.nu_xy / board.E_x_MPa)
        + (cc - ss) ** 2 / board.G_xy_MPa
    )
    S_11, S_22 = 1 / board.E_x_MPa, 1 / board.E_y_MPa
    S_12, S_66 = -board.nu_xy / board.E_x_MPa, 1 / board.G_xy_MPa
    tilted = np.cos(psi_rad) * np.sin(psi_rad)
    S_16 = tilted * (2 * cc * (S_11 - S_12) - 2 * ss * (S_22 - S_12) - (cc - ss) * S_66)
    return StripStiffness(
        E_s_MPa=1 / one_over_E_s,
        G_sz_MPa=1 / (cc / board.G_xz_MPa + ss / board.G_yz_MPa),
        G_sn_MPa=1 / one_over_G_sn,
        G_twist_MPa=1 / (one_over_G_sn - S_16**2 / one_over_E_s),
        twist_per_bend=-S_16 / (2 * one_over_E_s),
    )


_PAIRS = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
"""Components of stress and strain in the order 11, 22, 33, 23, 13, 12; shear strains counted twice."""


def _strain_turn(turn: Array) -> Array:
    """Matrices (..., 6, 6) that bring strains to axes given as the rows of `turn`, (..., 3, 3)."""
    T = np.empty((*turn.shape[:-2], 6, 6))
    for row, (i, j) in enumerate(_PAIRS):
        for column, (a, b) in enumerate(_PAIRS):
            both = turn[..., i, a] * turn[..., j, b] + turn[..., i, b] * turn[..., j, a]
            # A shear strain counts both of its components, a stretch counts one.
            T[..., row, column] = both if i != j else both / 2
    return T


def strip_compliance(wood: Orthotropic, *, ring_angle_rad: float, psi_rad: Array) -> Array:
    """All strains for all stresses in the strip's axes s, n, z, order s, n, z, nz, sz, sn.

    Nothing is left out: stretch pairs with the in-plane shear of wood off its grain, and in rift-sawn
    boards with the other shears too.

    Parameters
    ----------
    wood : Orthotropic
        Constants in the wood's own axes.
    ring_angle_rad : float
        Angle between the growth rings and the face of the board; 0 flat-sawn. [rad]
    psi_rad : numpy.ndarray
        Angle from the grain to the tangent, shape (m,). [rad]

    Returns
    -------
    numpy.ndarray
        Shape (m, 6, 6). [1/MPa]
    """
    own = np.zeros((6, 6))
    E = np.array([wood.E_L_MPa, wood.E_R_MPa, wood.E_T_MPa])
    own[[0, 1, 2], [0, 1, 2]] = 1 / E
    own[0, 1] = own[1, 0] = -wood.nu_LR / wood.E_L_MPa
    own[0, 2] = own[2, 0] = -wood.nu_LT / wood.E_L_MPa
    own[1, 2] = own[2, 1] = -wood.nu_RT / wood.E_R_MPa
    own[[3, 4, 5], [3, 4, 5]] = 1 / wood.G_RT_MPa, 1 / wood.G_LT_MPa, 1 / wood.G_LR_MPa
    C, S = np.cos(ring_angle_rad), np.sin(ring_angle_rad)
    c, s = np.cos(psi_rad), np.sin(psi_rad)
    none = np.zeros_like(c)
    # Strip axes (rows s, n, z) in L, R, T: y is T turned towards R, z is R turned away from T.
    board = np.array([[1.0, 0.0, 0.0], [0.0, S, C], [0.0, C, -S]])
    strip = np.stack(
        [np.stack(row, axis=-1) for row in ((c, s, none), (s, -c, none), (none, none, none + 1))], axis=-2
    )
    T = _strain_turn(strip @ board)
    return np.asarray(T @ own @ np.swapaxes(T, -1, -2))
