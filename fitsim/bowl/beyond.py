"""What the model leaves out, with a size for one bowl: one row for each effect, most important first.

Every size is a first-order figure for the innermost turn, where twist is largest and the cut tightest.
Where nobody measures a cause (roughness, cup, the pith's distance), the size is per stated amount of it,
and that amount is an estimate with its range. Where the strip was pressed open, how it stands and what
makes it collapse are its own; the rest goes by the hand formulas of stiff turns. Nothing here moves a
verdict. Names, what an effect moves, marks and sources stand in ``data/beyond.csv``.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.inputs import PITH_MM, Bowl
from fitsim.bowl.taper_statics import collapse_over_press, friction_used
from fitsim.geometry.blade import room_to_turn_mm
from fitsim.strip.root import (
    FRACTURE_ENERGY,
    relief_hole,
    root_stress_in_grain,
    slot_end,
    stiffening_share,
    warping_stress,
)
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.tables import read_table
from fitsim.wood.grain import BoardStiffness, StripStiffness, board_stiffness, strip_stiffness
from fitsim.wood.moisture import wood_at_moisture
from fitsim.wood.species import Wood

__all__ = [
    "LeftOut",
    "duration_strength_share",
    "hankinson_MPa",
    "left_out",
    "restrained_twist_ratio",
]

GATHERING = 1.45  # twist near the root over an even helix's, elastic strip at a hard press: estimated
YEAR_S = 365.25 * 24 * 3600
CREEP_DRY, CREEP_OUTDOORS = 0.6, 2.0
ROUGHNESS_MM, CHAMFER_MM, CUP_MM, RESIDUAL_MM = 0.05, 0.5, 1.0, 0.1
DIVE_RAD, QUARTER_INCH_MM = math.radians(10), 6.35
SLIDING_OVER_STATIC = 0.08 / 0.12


@dataclass(frozen=True)
class LeftOut:
    """One effect beyond the model.

    Attributes
    ----------
    name : str
        In a maker's words.
    status : str
        "in the model": covered by the answer; "bounded": a figure that it stays under or goes by; "named":
        only named, because what decides it is not known of this bowl.
    size : str
        A sentence with number and unit for this bowl.
    moves : str
        Which answer it moves, and which way.
    value : float
        The sentence's main figure; inf where nothing limits it. [unit]
    unit : str
        "" for a ratio.
    mark : str
        "published", "from memory" or "estimated", the weakest that enters.
    source : str
        Where formula and numbers come from, with the range of what is assumed.
    """

    name: str
    status: str
    size: str
    moves: str
    value: float
    unit: str
    mark: str
    source: str


@dataclass(frozen=True)
class _Case:
    """The innermost turn of one bowl as plain numbers."""

    bowl: Bowl
    wood: Wood
    stiffness: BoardStiffness
    thickness_mm: float
    width_mm: float
    radius_mm: float
    tightest_mm: float
    kerf_mm: float
    tilt_rad: float
    drop_mm: float
    press_N: float
    overlap: float
    friction_used: float
    stands_mm: float
    collapse_N: float | None


def duration_strength_share(*, load_s: float) -> float:
    """Strength left for a load that stays on, over the strength in a test of some minutes.

    0.183 + 1.084 t^-0.0464, t in seconds (the Madison curve, L. W. Wood 1951, as given in Forests 2021, 12,
    1148); for bending of clear softwood from seconds to about ten years.

    Parameters
    ----------
    load_s : float
        How long the load stays on. [s]

    Returns
    -------
    float
        Share. [-]

    Examples
    --------
    >>> round(duration_strength_share(load_s=3.15e8), 2)
    0.62
    """
    return float(0.183 + 1.084 * load_s**-0.0464)


def hankinson_MPa(*, along_MPa: float, across_MPa: float, angle_rad: float) -> float:
    """Strength at an angle to the grain, P Q/(P sin^2 + Q cos^2).

    Parameters
    ----------
    along_MPa, across_MPa : float
        Strength along the grain and across it. [MPa]
    angle_rad : float
        Angle between stress and grain. [rad]

    Returns
    -------
    float
        Strength, R. L. Hankinson 1921 (exponent 2; 1.5 to 2 in use for tension, from memory). [MPa]

    Examples
    --------
    >>> round(hankinson_MPa(along_MPa=87.6, across_MPa=1.98, angle_rad=math.radians(10)))
    38
    """
    s, c = math.sin(angle_rad) ** 2, math.cos(angle_rad) ** 2
    return along_MPa * across_MPa / (along_MPa * s + across_MPa * c)


def _twist_stiffness(*, thickness_mm: float, width_mm: float, G_sz_MPa: Array, G_sn_MPa: Array) -> Array:
    return torsion_stiffness_Nmm2(
        thickness_mm=np.full(np.shape(G_sz_MPa), thickness_mm),
        width_mm=np.full(np.shape(G_sz_MPa), width_mm),
        G_sz_MPa=G_sz_MPa,
        G_sn_MPa=G_sn_MPa,
    )


def restrained_twist_ratio(stiffness: BoardStiffness, *, thickness_mm: float, width_mm: float) -> float:
    """How much stiffer in twist a strip at an angle to the grain is when it may not bend, at most.

    Off the grain, shear of the flat faces and stretch along the strip are coupled (compliance S_16). Held
    straight, the strip shears with 1/(S_66 - S_16^2/S_11) in place of G_sn = 1/S_66.

    Parameters
    ----------
    stiffness : BoardStiffness
        Elastic constants in board axes.
    thickness_mm, width_mm : float
        Section T by w. [mm]

    Returns
    -------
    float
        Greatest ratio over all directions to the grain; near 1 for a strip much taller than wide. [-]
    """
    psi = np.linspace(0.0, np.pi / 2, 91)
    c, s = np.cos(psi), np.sin(psi)
    S_xy, S_66 = -stiffness.nu_xy / stiffness.E_x_MPa, 1 / stiffness.G_xy_MPa
    S_16 = (2 / stiffness.E_x_MPa - 2 * S_xy - S_66) * c**3 * s
    S_16 -= (2 / stiffness.E_y_MPa - 2 * S_xy - S_66) * c * s**3
    along = strip_stiffness(stiffness, psi_rad=psi)
    held = 1 / (1 / along.G_sn_MPa - S_16**2 * along.E_s_MPa)
    section = {"thickness_mm": thickness_mm, "width_mm": width_mm}
    free = _twist_stiffness(G_sz_MPa=along.G_sz_MPa, G_sn_MPa=along.G_sn_MPa, **section)
    return float(np.max(_twist_stiffness(G_sz_MPa=along.G_sz_MPa, G_sn_MPa=held, **section) / free))


def left_out(
    bowl: Bowl,
    *,
    strip_width_mm: float,
    first_radius_mm: float,
    press_N: float,
    tightest_mm: float | None = None,
    overlap: float | None = None,
    used: float | None = None,
    stands_mm: float | None = None,
    collapse_N: float | None = None,
) -> tuple[LeftOut, ...]:
    """Size every effect beyond the model for one bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    strip_width_mm : float
        Width of the strip beside the root. [mm]
    first_radius_mm : float
        Radius of the innermost turn's middle. [mm]
    press_N : float
        Press the bowl is judged at, which is not all that its maker can push. [N]
    tightest_mm : float, optional
        Least radius that the blade turns; left out, that of a round base. [mm]
    overlap, used : float, optional
        Share of the thickness that bears at rest, and of the friction that is used, of the strip pressed
        open; left out, those of stiff turns by the hand formula. [-]
    stands_mm, collapse_N : float, optional
        How deep a turn stands in its neighbour, on the average, and the push on the base from below at
        which the rise goes, 0 where none is kept, of the strip pressed open; left out, by the hand formula
        of stiff turns. [mm, N]

    Returns
    -------
    tuple[LeftOut, ...]
        Thirteen rows, most important first.
    """
    cut, board = bowl.cut, bowl.board
    wood = wood_at_moisture(board.wood, bowl.use.turn_moisture_percent[0])
    kerf = max(cut.kerf_mm[0] - 2 * bowl.use.film_mm, 0.0)
    drop = min(kerf / math.sin(cut.tilt_rad[0]), board.thickness_mm)
    if overlap is None:
        overlap = (board.thickness_mm - drop) / board.thickness_mm
    if used is None:
        used = friction_used(slope=math.tan(cut.tilt_rad[0]), friction=bowl.use.friction)
    case = _Case(
        bowl=bowl,
        wood=wood,
        stiffness=board_stiffness(wood.orthotropic(), ring_angle_rad=board.ring_angle_rad),
        thickness_mm=board.thickness_mm,
        width_mm=strip_width_mm,
        radius_mm=first_radius_mm,
        tightest_mm=cut.base_radius_mm if tightest_mm is None else tightest_mm,
        kerf_mm=kerf,
        tilt_rad=cut.tilt_rad[0],
        drop_mm=drop,
        press_N=press_N,
        overlap=max(overlap, 0.0),
        friction_used=used,
        stands_mm=drop if stands_mm is None else stands_mm,
        collapse_N=collapse_N,
    )
    rows = []
    for row in read_table("beyond"):
        size, value = _SIZES[row["key"]](case)
        status = (
            "in the model" if row["key"] == "friction" and _range_covers_sliding(case) else row["status"]
        )
        texts = {key: row[key] for key in ("name", "moves", "unit", "mark", "source")}
        rows.append(LeftOut(status=status, size=size, value=value, **texts))
    return tuple(rows)


def _twist_stiffness_of(case: _Case, along: StripStiffness) -> Array:
    """D of the strip in some directions to the grain. [N mm^2]"""
    return _twist_stiffness(
        thickness_mm=case.thickness_mm,
        width_mm=case.width_mm,
        G_sz_MPa=along.G_sz_MPa,
        G_sn_MPa=along.G_sn_MPa,
    )


def _torque_Nmm(case: _Case) -> float:
    """Torque of a helix climbing by the drop, D changing with the grain: h/(r^2 times the sum of da/D)."""
    psi = np.linspace(0.0, np.pi, 72, endpoint=False)
    along = strip_stiffness(case.stiffness, psi_rad=psi)
    D = _twist_stiffness_of(case, along)
    return float(case.drop_mm / (2 * np.pi * case.radius_mm**2 * np.mean(1 / D)))


def _at_root(case: _Case) -> tuple[float, float, float, float, float]:
    """Direction of the strip, its three moduli and D at the root. [rad, MPa, N mm^2]"""
    psi = case.bowl.cut.root_rad + math.pi / 2
    along = strip_stiffness(case.stiffness, psi_rad=np.array([psi]))
    E_s, G_sz, G_sn = (float(x[0]) for x in (along.E_s_MPa, along.G_sz_MPa, along.G_sn_MPa))
    D = _twist_stiffness_of(case, along)
    return psi, E_s, G_sz, G_sn, float(D[0])


def _root(case: _Case) -> tuple[str, float]:
    psi, E_s, G_sz, G_sn, D = _at_root(case)
    root = warping_stress(
        thickness_mm=case.thickness_mm,
        width_mm=case.width_mm,
        E_s_MPa=E_s,
        G_sz_MPa=G_sz,
        G_sn_MPa=G_sn,
        twist_rad_per_mm=GATHERING * _torque_Nmm(case) / D,
    )
    along, across, _ = root_stress_in_grain(along_strip_MPa=root.along_strip_MPa, psi_rad=psi)
    wood = case.stiffness  # what pulls along the grain also pulls across it, where it may not contract
    across += along * wood.nu_xy * wood.E_y_MPa / wood.E_x_MPa
    strong = case.wood.tension_across_MPa.value
    size = (
        f"by the hand formula at most {root.along_strip_MPa:.1f} MPa along the strip over the first "
        f"{root.decay_mm:.1f} mm, "
        f"and {across:.1f} MPa across the grain, where the wood bears about {strong:.1f}; the first turn "
        f"is {stiffening_share(root, radius_mm=case.radius_mm):.1%} stiffer"
    )
    return size, root.along_strip_MPa


def _slot_end(case: _Case) -> tuple[str, float]:
    *_, D = _at_root(case)
    T = case.thickness_mm
    end = slot_end(torque_Nmm=GATHERING * _torque_Nmm(case), torsion_stiffness_Nmm2=D, thickness_mm=T)
    hole = relief_hole(
        kerf_mm=case.bowl.cut.kerf_mm[0],
        tilt_rad=case.tilt_rad,
        thickness_mm=T,
        width_mm=case.width_mm,
    )
    size = (
        f"by the hand formula {end.release_N_per_mm:.3f} N/mm is free to drive a crack "
        f"({end.at_face_N_per_mm:.3f} at one face at most), {end.high:.0%} of the least that splitting "
        f"takes, {FRACTURE_ENERGY.low:g} N/mm "
        f"(tough wood: {FRACTURE_ENERGY.high:g}); a {hole.diameter_mm:g} mm relief hole brings the peak "
        f"stress to {hole.share:.0%}"
    )
    return size, end.high


def _creep(case: _Case) -> tuple[str, float]:
    dry, wet = 1 / (1 + CREEP_DRY), 1 / (1 + CREEP_OUTDOORS)
    strength = duration_strength_share(load_s=10 * YEAR_S)
    size = (
        f"over years the strip's spring falls to {dry:.0%} of itself in a dry room and to {wet:.0%} in "
        f"changing damp; taken down, a turn stays open by {case.stands_mm * (1 - dry):.1f} to "
        f"{case.stands_mm * (1 - wet):.1f} mm and recovers about half; a load of ten years breaks wood at "
        f"{strength:.0%} of its strength"
    )
    return size, dry


def _rings(case: _Case) -> tuple[str, float]:
    board = case.bowl.board
    ring, half = board.ring_angle_rad, board.across_mm / 2
    pith_mm = PITH_MM if board.pith_mm is None else board.pith_mm
    along, off = pith_mm * math.sin(ring), pith_mm * math.cos(ring)
    which = f"the pith {pith_mm:g} mm off" + (" (assumed)" if board.pith_mm is None else "")
    if abs(along) < half and abs(off) < board.thickness_mm / 2:
        size = (
            f"{which} would lie in the board itself, where the rings stand at every angle, 0 to 90 deg; "
            "the model has one angle for the whole board"
        )
        return size, math.inf
    edges = [math.atan2(along + side, off) for side in (-half, half)]
    turned, edge = max((abs(angle - ring), angle) for angle in edges)
    there = board_stiffness(case.wood.orthotropic(), ring_angle_rad=edge)
    size = (
        f"with {which}, the rings turn by {math.degrees(turned):.0f} deg from the "
        f"middle to the edge; shear stiffness across the grain there is "
        f"{there.G_yz_MPa / case.stiffness.G_yz_MPa:.2f} times the middle's"
    )
    return size, math.degrees(turned)


def _roughness(case: _Case) -> tuple[str, float]:
    change = ROUGHNESS_MM / math.sin(case.tilt_rad)
    press, friction = case.press_N, case.bowl.use.friction
    normal = press / (math.sin(case.tilt_rad) + friction * math.cos(case.tilt_rad))
    band = normal / (case.wood.crushing_across_MPa.value * 2 * math.pi * case.radius_mm)
    size = (
        f"by the hand formula each {ROUGHNESS_MM:g} mm between the bevels takes {change:.2f} mm off a "
        f"turn's drop, and wear gives it back; a press of {press:.0f} N crushes no wood while a band "
        f"{band:.2f} mm high bears all round"
    )
    return size, change


def _tight_radius(case: _Case) -> tuple[str, float]:
    given = case.bowl.cut.blade_width_mm
    blade = QUARTER_INCH_MM if given is None else given
    room = room_to_turn_mm(blade_width_mm=blade, radius_mm=case.tightest_mm)
    whose = "no blade is given; a" if given is None else "the"
    size = (
        f"{whose} {blade:.2f} mm blade needs {room:.2f} mm to turn round the base: the first seat sinks by "
        f"at most {room / math.sin(case.tilt_rad):.2f} mm more, less what the set already gives"
    )
    return size, room


def _chamfer(case: _Case) -> tuple[str, float]:
    whole, left = case.overlap, max(case.overlap - 2 * CHAMFER_MM / case.thickness_mm, 0.0)
    return f"{CHAMFER_MM:g} mm off the edges leaves an overlap of {left:.0%} in place of {whole:.0%}", left


def _cup(case: _Case) -> tuple[str, float]:
    across = case.bowl.board.across_mm
    curvature = 8 * CUP_MM / across**2
    inner, outer = curvature * case.radius_mm, curvature * across / 2
    per_tilt = case.drop_mm / math.tan(case.tilt_rad)
    size = (
        f"each {CUP_MM:g} mm of cup tilts the cut by {math.degrees(inner):.2f} deg at the first turn and "
        f"{math.degrees(outer):.2f} deg at the edge, two sides up and two down: "
        f"{per_tilt * inner:.2f} and {per_tilt * outer:.2f} mm of drop by the hand formula"
    )
    return size, per_tilt * outer


def _coupling(case: _Case) -> tuple[str, float]:
    T, w = case.thickness_mm, case.width_mm
    ratio = restrained_twist_ratio(case.stiffness, thickness_mm=T, width_mm=w)
    size = (
        f"a {w:.1f} mm strip of a {T:.1f} mm board is at most {ratio:.2f} times as stiff in twist if it "
        "may not bend"
    )
    return size, ratio


def _dive(case: _Case) -> tuple[str, float]:
    along, across = case.wood.bending_strength_MPa.value, case.wood.tension_across_MPa.value
    left = hankinson_MPa(along_MPa=along, across_MPa=across, angle_rad=DIVE_RAD)
    size = (
        f"grain diving by {math.degrees(DIVE_RAD):.0f} deg bears {left:.0f} MPa where straight grain bears "
        f"{along:.0f} MPa"
    )
    return size, left


def _range_covers_sliding(case: _Case) -> bool:
    low, high = case.bowl.ends_of("use.friction")
    return low < high and low <= case.bowl.use.friction * SLIDING_OVER_STATIC


def _friction(case: _Case) -> tuple[str, float]:
    static = case.bowl.use.friction
    sliding, used = static * SLIDING_OVER_STATIC, case.friction_used / SLIDING_OVER_STATIC
    if case.friction_used > 100:
        return "with so little friction nothing holds to begin with, and sliding takes nothing away", used
    size = (
        f"once it slides, friction falls from {static:.2f} to {sliding:.2f}, and friction used from "
        f"{case.friction_used:.2f} to {used:.2f}"
    )
    return size, used


def _loads(case: _Case) -> tuple[str, float]:
    press, tighten = case.press_N, "lifting by the rim and contents in the base tighten it"
    if case.collapse_N is not None:
        if case.collapse_N <= 0:
            return "pressed and let go, it does not hold: 0 N on the rim undo it", 0.0
        size = f"leaning on the rim with {case.collapse_N:.0f} N undoes a press of {press:.0f} N; {tighten}"
        return size, case.collapse_N
    share = collapse_over_press(tilt_rad=case.tilt_rad, friction=case.bowl.use.friction)
    if math.isnan(share):
        size = f"the taper jams: after a press of {press:.0f} N no push on the rim frees it"
        return f"by the hand formula {size}", math.inf
    if share <= 0:
        return "by the hand formula it springs back by itself: 0 N on the rim undo it", 0.0
    size = (
        f"by the hand formula leaning on the rim with {share * press:.0f} N undoes a press of "
        f"{press:.0f} N, the strip's own spring left out; {tighten}"
    )
    return size, share * press


def _residual(case: _Case) -> tuple[str, float]:
    change = RESIDUAL_MM / math.tan(case.tilt_rad)
    size = (
        f"by the hand formula each {RESIDUAL_MM:g} mm that the slot closes or opens moves a turn's drop by "
        f"{change:.2f} mm"
    )
    return size, change


_SIZES: dict[str, Callable[[_Case], tuple[str, float]]] = {
    "root": _root,
    "slot_end": _slot_end,
    "creep": _creep,
    "rings": _rings,
    "roughness": _roughness,
    "tight_radius": _tight_radius,
    "chamfer": _chamfer,
    "cup": _cup,
    "coupling": _coupling,
    "dive": _dive,
    "friction": _friction,
    "loads": _loads,
    "residual": _residual,
}
"""What makes the sentence and its main figure, by the key of the table's row."""
