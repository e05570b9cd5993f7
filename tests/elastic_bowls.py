"""Strips and bowls the tests build: an Archimedean cut in wood or an even material."""

from dataclasses import replace

import numpy as np

from fitsim.strip import beam as st
from fitsim.strip import gap as se
from fitsim.strip import press as pr
from fitsim.strip import torsion
from fitsim.strip.nail_tie import make_nail
from fitsim.strip.root import twisting_share, warping_stress
from fitsim.wood import grain

PINE_LIKE = grain.Orthotropic(
    11300.0,
    11300 * 0.107,
    11300 * 0.064,
    11300 * 0.086,
    11300 * 0.066,
    11300 * 0.028,
    0.31,
    0.53,
    0.6,
)


FIVE_DEG_RAD = np.radians(5)


def even(E_MPa=1000.0, nu=0.3):
    """An isotropic material written as a wood."""
    G = E_MPa / (2 * (1 + nu))
    return grain.Orthotropic(E_MPa, E_MPa, E_MPa, G, G, G, nu, nu, nu)


def strip_and_base(
    *,
    turns,
    per_turn,
    wood=PINE_LIKE,
    grain_rad=0.0,
    start_rad=0.0,
    tilt_rad=FIVE_DEG_RAD,
    base_mm=27.8,
    pitch_mm=6.35,
    kerf_mm=0.64,
    thickness_mm=19.05,
    lean=True,
    coupled=True,
    root_plane=False,
):
    """Return strip, base line (positions, frames), slot and width."""
    slot = kerf_mm / np.cos(tilt_rad)
    width = pitch_mm - slot
    n = round(turns * per_turn) + 1
    a = np.arange(-per_turn, n) * 2 * np.pi / per_turn
    r, dr = base_mm + pitch_mm * (a / (2 * np.pi) + 0.5), pitch_mm / (2 * np.pi)
    b = a + start_rad
    x = np.stack([r * np.cos(b), r * np.sin(b), 0 * a], axis=1)
    t = np.stack([dr * np.cos(b) - r * np.sin(b), dr * np.sin(b) + r * np.cos(b), 0 * a], axis=1)
    t /= np.linalg.norm(t, axis=1)[:, None]
    z = np.broadcast_to([0.0, 0.0, 1.0], t.shape)
    frame = np.stack([np.cross(t, z), t, z], axis=2)
    chord = np.diff(x[per_turn:], axis=0)
    psi = np.arctan2(chord[:, 1], chord[:, 0]) - grain_rad
    E = grain.strip_stiffness(grain.board_stiffness(wood, ring_angle_rad=0.0), psi_rad=psi)
    W = np.full(n - 1, width)
    D = torsion.torsion_stiffness_Nmm2(
        thickness_mm=thickness_mm, width_mm=W, G_sz_MPa=E.G_sz_MPa, G_sn_MPa=E.G_twist_MPa
    )
    if root_plane:
        held = warping_stress(
            thickness_mm=thickness_mm,
            width_mm=width,
            E_s_MPa=E.E_s_MPa[0],
            G_sz_MPa=E.G_sz_MPa[0],
            G_sn_MPa=E.G_twist_MPa[0],
            twist_rad_per_mm=0.0,
        )
        D = D / twisting_share(np.linalg.norm(chord, axis=1), held)
    section = st.straight_section(
        width_mm=W,
        thickness_mm=thickness_mm,
        lean=np.tan(tilt_rad) if lean else 0.0,
        E_s_MPa=E.E_s_MPa,
        G_sz_MPa=E.G_sz_MPa,
        G_sn_MPa=E.G_sn_MPa,
        D_Nmm2=D,
        twist_per_bend=E.twist_per_bend if coupled else None,
    )
    strip = st.make_strip(position_mm=x[per_turn:], frame=frame[per_turn:], section=section)
    return strip, x[:per_turn], frame[:per_turn], slot, width


def as_polygon(strip):
    """The strip as straight pieces without shear, and their EA, EI about b and n, and D, shape (e, 4).

    Its elements' own rigidities in stretch, bending and twist are kept, nothing is coupled, and each piece
    gives at the middle of its chord.
    """
    x, R = strip.position_mm, strip.frame
    L = np.linalg.norm(np.diff(x, axis=0), axis=1)
    EA, EI_b, EI_n, D = (L / strip.flexibility[:, i, i] for i in (1, 5, 3, 4))
    F = np.zeros_like(strip.flexibility)
    given = (L**3 / 12 / EI_b, L / EA, L**3 / 12 / EI_n, L / EI_n, L / D, L / EI_b)
    for i, diagonal in enumerate(given):
        F[:, i, i] = diagonal
    to_middle, from_middle = np.array(strip.to_middle), np.array(strip.from_middle)
    R_m = R[:-1] @ to_middle[:, :3, :3]
    half = 0.5 * np.diff(x, axis=0)
    to_middle[:, :3, 3] = np.einsum("kji,kj->ki", R[:-1], half)
    from_middle[:, :3, 3] = np.einsum("kji,kj->ki", R_m, half)
    straight = replace(strip, flexibility=F, to_middle=to_middle, from_middle=from_middle)
    return straight, np.stack([EA, EI_b, EI_n, D], axis=1)


def bowl(
    *,
    turns=3,
    per_turn=36,
    friction=0.0,
    nail="normal",
    tilt_rad=FIVE_DEG_RAD,
    thickness_mm=19.05,
    compliance_mm_per_N=1e-4,
    **cut,
):
    """Return a bowl with its nail driven flat."""
    strip, base, base_frame, slot, width = strip_and_base(
        turns=turns, per_turn=per_turn, tilt_rad=tilt_rad, thickness_mm=thickness_mm, **cut
    )
    n = len(strip.position_mm)
    seats = se.make_seats(
        strip=strip,
        base_mm=base,
        base_frame=base_frame,
        width_mm=np.full(per_turn + n, width),
        slot_mm=np.full(n - 1, slot),
        tilt_rad=tilt_rad,
        thickness_mm=thickness_mm,
    )
    flat = st.deformed_shape(strip, np.zeros((n - 1, 6)))
    held = {
        "normal": [1, 1, 1, 0, 0, 0],
        "middles": [1, 1, 1, 0, 0, 0],
        "height": [0, 0, 1, 0, 0, 0],
        "six": [1] * 6,
    }
    nails = (
        ()
        if nail == "none"
        else (
            make_nail(
                seats,
                strip,
                flat,
                node=n - 1,
                place=seats.place[-1],
                held=np.array(held[nail], dtype=bool),
                upright=nail == "height",
            ),
        )
    )
    if nail == "middles":  # the middles of the two sections keep their distance, whatever the sections turn
        place = seats.place[-1]
        line = se.strip_line(seats, strip, strip.position_mm, strip.frame)
        at = se.on_line(np.array([place]), line).at_mm[0]
        apart = nails[0].axes @ (strip.position_mm[-1] - at)
        nails = (replace(nails[0], outer_arm_mm=0 * at, inner_arm_mm=0 * at, offset_mm=-apart),)
    turn = (np.arange(1, n) - 1) // per_turn + 1
    return pr.ElasticBowl(
        strip,
        seats,
        nails,
        friction,
        pr.rim_load(strip, first_node=n - 1 - per_turn),
        turn,
        compliance_mm_per_N,
    )
