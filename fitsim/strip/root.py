"""The root, where the strip joins the base: a section that cannot warp, and a slot that ends there.

Twisted freely, a section does not stay plane: it warps by psi(n, z) for unit twist per length. At the
root the base holds it plane. Twist u_n = -z a(s), u_z = n a(s), stretch u_s = f(s) psi(n, z); the strain
energy of the prism (rigid in its plane, no Poisson's contraction) is least for

    f = kappa (1 - exp(-s/lambda)),   lambda^2 = E_s C_w / (D (1 - D/I)),   C_w = integral of psi^2 dA,
    I = G_sn w T^3/12 + G_sz T w^3/12,

kappa = M_t/D the twist far from the root. So the strip is pulled along itself by
E_s psi kappa exp(-s/lambda)/lambda, and it twists as if it were shorter by lambda (1 - D/I). For a thin
strip, C_w = (w T)^3/144 and D = G_sz T w^3/3, lambda = T/sqrt(48) sqrt(E_s/G_sz).

Source: non-uniform torsion with its own warping amplitude (E. Reissner 1952, S. U. Benscoter 1954, from
memory), here with the Saint-Venant warping of the orthotropic rectangle; worked out anew and checked
against finite elements in tests/test_root.py. The end of the slot: Irwin's energy release.
"""

import math
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.wood.species import Sourced

__all__ = [
    "FRACTURE_ENERGY",
    "ReliefHole",
    "RootWarping",
    "SlotEnd",
    "relief_hole",
    "root_stress_in_grain",
    "slot_end",
    "stiffening_share",
    "twisting_share",
    "warping_stress",
]

FRACTURE_ENERGY = Sourced(
    value=0.3,
    low=0.15,
    high=0.6,
    mark="estimated",
    source="a crack opening along the grain, N/mm: 1.07 N/m for each kg/m3 of density less 162 N/m (Larsen "
    "and Gustafsson 1990, softwoods, from memory) is 0.16 at 300 and 0.59 at 700 kg/m3; 0.515 measured "
    "(quoted by T. A. C. M. van der Put, Fracture mechanics of wood and wood-like reinforced polymers); "
    "sliding takes more, 1.54 (Eucalyptus globulus, Majano-Majano et al. 2020), and across the fibres the "
    "toughness is ten times as great (Ashby et al. 1985, Proc. R. Soc. Lond. A 398, 261)",
)
"""Energy to open a crack of unit area along the grain, the easiest way. [N/mm]"""

FACE_OVER_MEAN = 6.0
"""Release at one face of the board over its mean along the crack's front, at most: opening in proportion to
the height z over the half that opens, none over the half that closes, z^2 against its mean over T."""

SMALLEST_DRILL_MM = 2.0
PEAK_HALVED = 4.0  # a radius four times as large halves the peak: 1/sqrt(radius)

_ODD = np.arange(1.0, 400.0, 2.0)
_SIGN = (-1.0) ** ((_ODD - 1) / 2)


@dataclass(frozen=True)
class RootWarping:
    """What holding the root's section plane does, for one twist per length.

    Attributes
    ----------
    decay_mm : float
        lambda: over this length the disturbance falls to 1/e. [mm]
    lost_length_mm : float
        The strip twists as if it were shorter by this much. [mm]
    along_strip_MPa : float
        Stress E_s psi kappa/lambda along the strip at the root, an upper bound: the corner w T/4 of a thin
        section stands for psi, and the base does not yield. It
        holds from lambda/20 off the edge; nearer, an elastic solid's stress grows as a logarithm. [MPa]
    """

    decay_mm: float
    lost_length_mm: float
    along_strip_MPa: float


@dataclass(frozen=True)
class SlotEnd:
    """The slot's end seen as a crack that could run on along the strip.

    Attributes
    ----------
    release_N_per_mm : float
        Energy set free for unit area of crack, mean over the thickness, M_t^2/(2 D T). [N/mm]
    at_face_N_per_mm : float
        The most it can be at one face of the board, where a crack would start. [N/mm]
    ratio, low, high : float
        Mean release over the wood's fracture energy at the middle of its range; against the toughest
        and against the weakest end. A crack runs on from 1 upward. [-]
    """

    release_N_per_mm: float
    at_face_N_per_mm: float
    ratio: float
    low: float
    high: float


@dataclass(frozen=True)
class ReliefHole:
    """A hole drilled where the slot will end, before sawing (common practice, no published source).

    Attributes
    ----------
    diameter_mm : float
        Whole millimetres: four kerfs, and wide enough to hold the slot's end on both faces. [mm]
    share : float
        Peak stress at the hole over the peak at the sawn end, sqrt(kerf/diameter). [-]
    ratio : float
        Twisting stress beside a hole centred on the slot over that of the full strip, (width/width left)^2.
        [-]
    helps : bool
        Whether a hole centred on the slot lowers the peak at all: share x ratio below 1.
    advice : str
        Where to drill, in a maker's words.
    """

    diameter_mm: float
    share: float
    ratio: float
    helps: bool
    advice: str


def _series(width_mm: float) -> tuple[Array, Array, Array]:
    """Rates b, a and c of psi = sum sin(b n) [a z' - c sinh(b z')/cosh(b h)] / stretch, z' = stretch z."""
    rate = _ODD * np.pi / width_mm
    linear = 4 * width_mm / (np.pi * _ODD) ** 2 * _SIGN
    return rate, linear, 8 * width_mm**2 / (np.pi * _ODD) ** 3 * _SIGN


def _warping_constant_mm6(*, thickness_mm: float, width_mm: float, stretch: float) -> float:
    """C_w, the integral of psi^2 over the section; the sines are orthogonal."""
    rate, linear, curved = _series(width_mm)
    half = stretch * thickness_mm / 2
    tanh = np.tanh(rate * half)
    parts = (
        linear**2 * 2 * half**3 / 3
        - 4 * linear * curved * (half / rate - tanh / rate**2)
        + curved**2 * (tanh / rate - half * (1 - tanh**2))
    )
    return float(width_mm / 2 * parts.sum() / stretch**3)


def warping_stress(
    *,
    thickness_mm: float,
    width_mm: float,
    E_s_MPa: float,
    G_sz_MPa: float,
    G_sn_MPa: float,
    twist_rad_per_mm: float,
) -> RootWarping:
    """Stress along the strip at a root held plane, and how far it reaches.

    Parameters
    ----------
    thickness_mm, width_mm : float
        Section T by w of the strip beside the root. [mm]
    E_s_MPa, G_sz_MPa, G_sn_MPa : float
        Stiffness along the strip, shear of the tall and of the flat faces, at the root's direction. [MPa]
    twist_rad_per_mm : float
        Twist per length some way off the root. [rad/mm]

    Returns
    -------
    RootWarping
        For an unyielding base and a section rigid in its plane; both stiffen. Poisson's contraction held
        at the root is left out (4 percent of the lost length in the worst case tried, across the grain).

    Examples
    --------
    >>> wood = {"E_s_MPa": 11300, "G_sz_MPa": 972, "G_sn_MPa": 746}
    >>> root = warping_stress(thickness_mm=19.05, width_mm=5.7, twist_rad_per_mm=1e-3, **wood)
    >>> round(root.decay_mm, 1), round(root.along_strip_MPa)
    (10.2, 30)
    """
    stretch = math.sqrt(G_sn_MPa / G_sz_MPa)
    section = {"thickness_mm": thickness_mm, "width_mm": width_mm, "stretch": stretch}
    T, w, G_sz, G_sn = (np.asarray(value) for value in (thickness_mm, width_mm, G_sz_MPa, G_sn_MPa))
    D = float(torsion_stiffness_Nmm2(thickness_mm=T, width_mm=w, G_sz_MPa=G_sz, G_sn_MPa=G_sn))
    polar = (G_sn_MPa * width_mm * thickness_mm**3 + G_sz_MPa * thickness_mm * width_mm**3) / 12
    kept = 1 - D / polar
    decay = math.sqrt(E_s_MPa * _warping_constant_mm6(**section) / (D * kept))
    pull_MPa_per_mm2 = E_s_MPa * abs(twist_rad_per_mm) / decay
    return RootWarping(
        decay_mm=decay,
        lost_length_mm=decay * kept,
        along_strip_MPa=pull_MPa_per_mm2 * width_mm * thickness_mm / 4,
    )


def stiffening_share(root: RootWarping, *, radius_mm: float) -> float:
    """How much stiffer the first turn is in twist because its root cannot warp.

    Parameters
    ----------
    root : RootWarping
        From :func:`warping_stress`.
    radius_mm : float
        Radius of the first turn's middle. [mm]

    Returns
    -------
    float
        Lost length over what is left of one revolution. [-]
    """
    return root.lost_length_mm / (2 * math.pi * radius_mm - root.lost_length_mm)


def twisting_share(arc_mm: Array, root: RootWarping) -> Array:
    """Share of each element of the strip that still twists when the root cannot warp.

    Parameters
    ----------
    arc_mm : numpy.ndarray
        Lengths of the elements from the root outward, shape (e,). [mm]
    root : RootWarping
        From :func:`warping_stress`.

    Returns
    -------
    numpy.ndarray
        1 but in the first elements, which together lose the lost length, at most nine tenths of each: the
        twist over torque of an element is to be multiplied by it, shape (e,). [-]

    Examples
    --------
    >>> root = RootWarping(4.0, 3.0, 1.0)
    >>> twisting_share(np.array([2.0, 2.5, 3.0]), root).round(3)
    array([0.1 , 0.52, 1.  ])
    """
    ends = np.cumsum(0.9 * np.asarray(arc_mm))
    lost = np.clip(root.lost_length_mm - (ends - 0.9 * arc_mm), 0.0, 0.9 * arc_mm)
    return np.asarray(1 - lost / arc_mm)


def root_stress_in_grain(*, along_strip_MPa: float, psi_rad: float) -> tuple[float, float, float]:
    """Resolve a stress along the strip into grain axes.

    Parameters
    ----------
    along_strip_MPa : float
        Stress along the strip; both signs stand at the root, so tension is among them. [MPa]
    psi_rad : float
        Angle from the grain to the strip at the root. [rad]

    Returns
    -------
    tuple[float, float, float]
        Along the grain, across it, and shear along the grain. [MPa]

    Examples
    --------
    >>> [round(s, 3) for s in root_stress_in_grain(along_strip_MPa=8.0, psi_rad=math.radians(60))]
    [2.0, 6.0, 3.464]
    """
    c, s = math.cos(psi_rad), math.sin(psi_rad)
    return along_strip_MPa * c * c, along_strip_MPa * s * s, along_strip_MPa * abs(s * c)


def slot_end(*, torque_Nmm: float, torsion_stiffness_Nmm2: float, thickness_mm: float) -> SlotEnd:
    """Energy release where the slot ends, against the wood's fracture energy.

    A crack that runs on by da frees another da of strip from the base. Under a steady torque the strip's
    twist grows by M_t da/D, half of the work is stored, and the other half, M_t^2 da/(2 D), is left for the
    crack's new area T da. The held root moves along with the crack's front and changes nothing.

    Parameters
    ----------
    torque_Nmm : float
        Torque in the strip at the root. [N mm]
    torsion_stiffness_Nmm2 : float
        D of the strip there. [N mm^2]
    thickness_mm : float
        Thickness of the board. [mm]

    Returns
    -------
    SlotEnd
        Release and ratios. Where the strip crosses the grain the crack would leave its path and run along
        the grain, across the strip: the range then still holds the wood to its weakest plane.

    Examples
    --------
    >>> end = slot_end(torque_Nmm=1200.0, torsion_stiffness_Nmm2=9e5, thickness_mm=19.0)
    >>> round(end.release_N_per_mm, 4), round(end.high, 2)
    (0.0421, 0.28)
    """
    release = torque_Nmm**2 / (2 * torsion_stiffness_Nmm2 * thickness_mm)
    return SlotEnd(
        release_N_per_mm=release,
        at_face_N_per_mm=FACE_OVER_MEAN * release,
        ratio=release / FRACTURE_ENERGY.value,
        low=release / FRACTURE_ENERGY.high,
        high=release / FRACTURE_ENERGY.low,
    )


def relief_hole(*, kerf_mm: float, tilt_rad: float, thickness_mm: float, width_mm: float) -> ReliefHole:
    """Suggest a relief hole for the slot's end.

    Parameters
    ----------
    kerf_mm : float
        Kerf at the root. [mm]
    tilt_rad : float
        Tilt of the blade. [rad]
    thickness_mm, width_mm : float
        Thickness of the board and width of the strip beside the root. [mm]

    Returns
    -------
    ReliefHole
        Drilled square to the board, the hole must hold a slot that leans by T tan(tilt) from face to face.

    Examples
    --------
    >>> relief_hole(kerf_mm=0.7, tilt_rad=0.0873, thickness_mm=19.0, width_mm=7.2).diameter_mm
    3.0
    """
    slot = kerf_mm / math.cos(tilt_rad)
    least = max(PEAK_HALVED * kerf_mm, slot + thickness_mm * math.tan(tilt_rad), SMALLEST_DRILL_MM)
    diameter = float(math.ceil(least - 1e-9))
    share = math.sqrt(kerf_mm / diameter)
    left = width_mm - (diameter - slot) / 2
    ratio = (width_mm / left) ** 2 if left > 0 else math.inf
    helps = share * ratio < 1
    if helps:
        place = "best with its edge in line with the strip's side of the slot, taking wood from the base"
    else:
        place = "only wholly on the base's side of the slot: centred on it, the hole weakens the strip more"
    advice = f"Drill {diameter:g} mm before sawing, where the slot will end, {place}."
    return ReliefHole(diameter, share, ratio, helps, advice)
