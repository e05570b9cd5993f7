"""The base cups: growth rings are circles, and wood moves more along them than across them.

Round the pith a free board changes its shape by the map (r, t) -> (r (1 + e_R), t (1 + e_T)/(1 + e_R)),
exact and free of stress while the board does not hold the pith. A face that was flat becomes a curve.
Expanding the map where the pith is seen at the angle phi from the face's normal, at the distance r,
gives the curvature 2 (e_R - e_T) cos^3(phi)/r across the grain: drying hollows the face away from the
pith, and a quarter-sawn board (phi = 90 deg) does not cup at all to this order.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array

__all__ = ["BaseCup", "base_cup", "cup_curvature_per_mm", "polar_map_mm"]


@dataclass(frozen=True)
class BaseCup:
    """How the base of a bowl has cupped, and how it stands on a flat table.

    Attributes
    ----------
    curvature_per_mm : float
        Curvature of the face across the grain; positive: hollow on the side away from the pith. [1/mm]
    rock_mm : float
        How far a point of the rim can go down from level by rolling the base on the table, to one
        side, exact map. [mm]
    """

    curvature_per_mm: float
    rock_mm: float


def cup_curvature_per_mm(
    *, radial_strain: float, tangential_strain: float, pith_mm: float, pith_rad: float
) -> float:
    """Curvature of a flat face across the grain, for small strains.

    Parameters
    ----------
    radial_strain, tangential_strain : float
        Strains of the wood since the face was flat. [-]
    pith_mm : float
        Distance of the pith from the middle of the face. [mm]
    pith_rad : float
        Direction of the pith from the normal of the face: 0 flat-sawn, pi/2 quarter-sawn. [rad]

    Returns
    -------
    float
        Curvature, positive where the side away from the pith turns hollow. [1/mm]

    Examples
    --------
    >>> cup = cup_curvature_per_mm(radial_strain=-0.004, tangential_strain=-0.008, pith_mm=100, pith_rad=0)
    >>> round(cup, 9)
    8e-05
    """
    return float(2 * (radial_strain - tangential_strain) * np.cos(pith_rad) ** 3 / pith_mm)


def polar_map_mm(
    across_mm: Array, away_mm: Array, *, radial_strain: float, tangential_strain: float
) -> tuple[Array, Array]:
    """Where points of a free board go, in axes with the pith at the origin.

    Parameters
    ----------
    across_mm, away_mm : numpy.ndarray
        Points: along the direction t = 0 is ``away_mm``, square to it ``across_mm``; any equal shapes.
        [mm]
    radial_strain, tangential_strain : float
        Even strains of the wood along its own axes. [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        The same points after the change. [mm]
    """
    radius = np.hypot(across_mm, away_mm) * (1 + radial_strain)
    turn = np.arctan2(across_mm, away_mm) * (1 + tangential_strain) / (1 + radial_strain)
    return radius * np.sin(turn), radius * np.cos(turn)


def base_cup(
    *,
    radial_strain: float,
    tangential_strain: float,
    pith_mm: float,
    pith_rad: float,
    base_radius_mm: float,
    rim_radius_mm: float,
    points: int = 201,
) -> BaseCup:
    """Cup and rocking of a base from the exact map of the line across its bottom face.

    The cupped base is part of a cylinder along the grain. Bottom side bulging, it stands on a line and
    rolls to either side until it stands on its edge. Bottom side hollow, it stands on two points of its
    edge and rolls just as far the other way, along the grain: the points move round the edge. Both go
    down at the rim by curvature x radius of the base x radius of the rim.

    Parameters
    ----------
    radial_strain, tangential_strain : float
        Strains of the base since its face was flat. [-]
    pith_mm, pith_rad : float
        Distance of the pith from the middle of the bottom face, and its direction from the face's
        normal. [mm, rad]
    base_radius_mm, rim_radius_mm : float
        Radius on which the base stands, and radius of the rim. [mm]
    points : int
        Points on the line.

    Returns
    -------
    BaseCup
        Curvature by the formula, cup and rocking from the map.

    Raises
    ------
    ValueError
        If the pith lies within the base's width: the map would hold the pith.
    """
    if pith_mm <= base_radius_mm * abs(np.sin(pith_rad)):
        message = "the pith lies within the base; its cup is then not free of stress"
        raise ValueError(message)
    along = np.linspace(-base_radius_mm, base_radius_mm, points)
    # The face's own axes turned so that the pith, at the origin, sees the face's middle straight ahead.
    c, s = np.cos(pith_rad), np.sin(pith_rad)
    across, away = polar_map_mm(
        along * c, pith_mm - along * s, radial_strain=radial_strain, tangential_strain=tangential_strain
    )
    height, place = across * s + away * c, across * c - away * s
    fit = np.polynomial.Polynomial.fit(place, height, 1)
    height = height - fit(place)
    # The slope from the middle to the edge, the mean of both edges: how far it rolls.
    slope = np.gradient(height, place)
    roll = abs(slope[-1] - slope[0]) / 2
    return BaseCup(
        curvature_per_mm=cup_curvature_per_mm(
            radial_strain=radial_strain, tangential_strain=tangential_strain, pith_mm=pith_mm,
            pith_rad=pith_rad,
        ),
        rock_mm=float(roll * rim_radius_mm),
    )  # fmt: skip
