"""Statics of a taper with friction: pressing in, holding, pushing out.

The bevel leans by theta from the direction of the press, and phi = atan(mu) is the friction angle.
Resolving the face's normal force N and the friction mu N against the slide gives the drive and the
pull-out force for one and the same N,

    F_in = N (mu cos(theta) + sin(theta)),    F_out = N (mu cos(theta) - sin(theta)),

as printed for a wedge with two faces in *Machine Official Collection* (M. Oishi and T. Inami, a
Japanese handbook of machine formulas, Industrial Mechanics, p. 38; read in a transcription). Rings
that give way radially keep their radial squeeze R, not their N, when the press is let go; then

    F_in = R tan(phi + theta),    F_out = R tan(phi - theta).

The taper holds itself while theta < phi (the wedge of full angle 2 theta stays in the log while
2 theta < 2 phi: *Engineering Mechanics*, problem 535 on wedges, F. L. Singer; read in a worked
solution, not in the book).
"""

import math

__all__ = [
    "collapse_over_press",
    "friction_angle_rad",
    "friction_used",
]


def friction_angle_rad(friction: float) -> float:
    """Friction angle phi = atan(mu).

    Parameters
    ----------
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    float
        Angle. [rad]
    """
    return math.atan(friction)


def friction_used(*, slope: float, friction: float) -> float:
    """Share of the available friction a hard-pressed taper uses, tan(theta)/mu.

    Parameters
    ----------
    slope : float
        tan(theta) of the bevel. [-]
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    float
        Demand over capacity; above 1 the taper springs back. Infinite without friction.

    Examples
    --------
    >>> round(friction_used(slope=math.tan(math.radians(5)), friction=0.4), 3)
    0.219
    """
    return slope / friction if friction > 0 else math.inf


def collapse_over_press(*, tilt_rad: float, friction: float) -> float:
    """Push from below that frees a pressed taper, over the press that seated it.

    For rings that give way radially and have no spring of their own along the axis:
    tan(phi - theta)/tan(phi + theta).

    Parameters
    ----------
    tilt_rad : float
        Bevel theta. [rad]
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    float
        Ratio; negative when the taper springs back by itself, nan when it jams.

    Examples
    --------
    >>> round(collapse_over_press(tilt_rad=math.radians(5), friction=0.4), 3)
    0.598
    """
    phi = friction_angle_rad(friction)
    if phi + tilt_rad >= math.pi / 2:
        return math.nan  # so steep and rough that no press slides it in: it jams
    return math.tan(phi - tilt_rad) / math.tan(phi + tilt_rad)
