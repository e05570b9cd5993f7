"""Stress of a curved bar and of one whose grain turns under it, against solid models of our own.

``tests/solid_strip.py``: three-dimensional finite elements (scikit-fem's shape functions), nothing of the
package's beam in them. The two bars here are short and free and are solved anew. ``solid_strip.csv`` holds
the pressed bowl of the design notes (theta 5 deg, T 19.05, p 6.35, k 0.64, R_b 27.8 mm, 3 turns, no
friction, nail driven flat) by the same solid with contact and large displacements, which takes minutes
(``studies/solid_strip.py`` makes it again).
"""

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE, bowl, even
from scipy.spatial import cKDTree
from solid_strip import Cut, graded, lifted_end, section_forces, solid_stiffness, tangent_rad

from fitsim.strip import press as pr
from fitsim.strip.curved_bar import CurvedBar
from fitsim.strip.results import nail_force_N, rim_height
from fitsim.strip.state import mean_rise_mm, strain_energy_Nmm
from fitsim.strip.warping import curvature_per_mm, stress_places, warped_stress, warped_strip
from fitsim.wood.grain import strip_compliance

with (Path(__file__).parent / "solid_strip.csv").open(encoding="utf8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))
WOODS = {"wood": PINE_LIKE, "even": even()}
CUT = Cut()


def _warped(cut, wood, count):
    """The strip of a cut made ready, its arc and the directions of its elements."""
    a = np.linspace(0, 2 * np.pi * cut.turns, count + 1)
    line = cut.line(np.stack([a, 0 * a, 0 * a], axis=1))
    chord = np.diff(line, axis=0)
    psi = np.arctan2(chord[:, 1], chord[:, 0])
    one = np.ones(count)
    bar = CurvedBar(
        cut.width_mm * one,
        cut.thickness_mm,
        np.tan(cut.tilt_rad) * one,
        curvature_per_mm(line),
        strip_compliance(wood, ring_angle_rad=0.0, psi_rad=psi),
    )
    return warped_strip(bar, np.linalg.norm(chord, axis=1)), psi


@cache
def _bars(name, turns, slabs):
    """Stresses at face middles, the solid's and ours, (faces, slabs), and the section forces."""
    cut, wood = replace(CUT, turns=turns), WOODS[name]
    solid, own = lifted_end(cut, solid_stiffness(wood), slabs=slabs, across=3, up=6)
    force = section_forces(solid, cut, own)
    strip, _psi = _warped(cut, wood, slabs)
    step = np.mod(solid.place[..., 0] / (2 * np.pi * turns) * slabs, 1)
    middle = np.abs(step - 0.5) < 1e-6
    x, y = solid.place[..., 1], solid.place[..., 2]
    faces = {
        "inner": ("sz", (x < -0.9) & (np.abs(y) < 0.3)),
        "outer": ("sz", (x > 0.9) & (np.abs(y) < 0.3)),
        "upper": ("sn", (y > 0.97) & (np.abs(x) < 0.3)),
        "lower": ("sn", (y < -0.97) & (np.abs(x) < 0.3)),
    }
    found = {}
    for face, (part, there) in faces.items():
        at = (there & middle).reshape(slabs, -1)
        across, up = (grid.reshape(slabs, -1)[at].reshape(slabs, -1)[0] for grid in (x, y))
        got = warped_stress(strip, force, stress_places(strip, across=across, up=up))
        ours = got.tau_sz_MPa if part == "sz" else got.tau_sn_MPa
        theirs = own[part].reshape(slabs, -1)[at].reshape(slabs, -1)
        found[face] = (theirs.mean(axis=1), ours.mean(axis=1))
    return found, force


def _worst(found, force, *, beside):
    """Largest difference where twist is two fifths of its greatest or more, without the ends."""
    twist = np.abs(force[:, 4])
    look = twist > 0.4 * twist.max()
    look[:beside] = look[-beside:] = False
    assert look.sum() > 5
    return {face: np.abs(b / a - 1)[look].max() for face, (a, b) in found.items()}


def test_even_curved_bar() -> None:
    """Even material: all four faces within 2 percent of the solid; the inner stands above the outer."""
    found, force = _bars("even", 0.75, 32)
    assert max(_worst(found, force, beside=3).values()) < 0.02
    most = int(np.argmax(np.abs(force[:, 4]) * (np.arange(32) > 3)))
    assert abs(found["inner"][0][most]) > 1.08 * abs(found["outer"][0][most])


def test_wood_whose_grain_turns() -> None:
    """Wood, grain turning by 0.7 of a turn under the bar: all four faces within 4 percent of the solid."""
    found, force = _bars("wood", 0.7, 44)
    assert max(_worst(found, force, beside=4).values()) < 0.04


def _row(row):
    """A row with its name."""
    return pytest.param(row, id=f"{row['wood']} {row['press_N']} N, friction {row['friction']}")


CLOSELY = pr.Manner(growth=1.2, most_drop_mm=0.5, most_iterations=4000)
"""With friction the way counts: the usual steps leave out of level off by 0.3 to 0.6 mm."""


def least_energy(b, press_N):
    """Of the equilibria to which two ways of stepping come the one of least energy.

    Without friction the rim turns over between two shapes about 45 N, 21.2 and 21.3 mm high, and a last
    digit decides to which a path comes.
    """
    ways = [pr.press(b, press_N, manner=replace(CLOSELY, growth=growth))[-1] for growth in (1.2, 1.3)]
    return min(ways, key=lambda s: strain_energy_Nmm(b, s) - press_N * mean_rise_mm(b, s))


@pytest.mark.parametrize("row", [_row(row) for row in ROWS])
def test_rim_and_nail_of_the_pressed_bowl(row: dict[str, str]) -> None:
    """Mean rim, how far it is out of level and the nail's force follow the solid, closest with friction.

    Pressed in small steps. Without friction: mean within 2.5 percent, ends within 5, nail within 4, out of
    level within 1 mm. With it: out of level within 0.25 mm, nail within 3 percent; mean within 4, that
    solid's mesh being coarse and stiff.
    """
    rubs = float(row["friction"]) > 0
    b = bowl(wood=WOODS[row["wood"]], friction=float(row["friction"]), root_plane=True)
    press_N = float(row["press_N"])
    state = pr.press(b, press_N, manner=CLOSELY)[-1] if rubs else least_energy(b, press_N)
    rim = rim_height(b, state)
    # Without friction the rim turns over about here: the mean is off by 3.1 percent at 60 N.
    coarse = rubs or press_N > 50
    assert rim.mean_mm == pytest.approx(float(row["mean_mm"]), rel=0.04 if coarse else 0.025)
    if row["least_mm"]:
        assert rim.least_mm == pytest.approx(float(row["least_mm"]), rel=0.05)
        assert rim.greatest_mm == pytest.approx(float(row["greatest_mm"]), rel=0.05)
    level = float(row["out_of_level_mm"])
    assert rim.out_of_level_mm == pytest.approx(level, abs=0.25 if rubs else 1.0)
    nail = float(np.linalg.norm(nail_force_N(b, state)))
    assert nail == pytest.approx(float(row["nail_N"]), rel=0.03 if rubs else 0.04)


def _solid_points(edges):
    """Places and weights of the solid's points along one side: three in each of its elements."""
    point, weight = np.polynomial.legendre.leggauss(3)
    half = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + half * (1 + point)).ravel(), (half * weight).ravel()


def _percentile(value, volume, share=0.999):
    order = np.argsort(value)
    filled = np.cumsum(volume[order])
    return value[order][np.searchsorted(filled, share * filled[-1])]


def test_peak_stresses_of_the_pressed_wooden_bowl() -> None:
    """Wood at 20 N: the 99.9 percentiles by volume of three stresses come within 6 percent of the solid.

    Shear xz in the inner half, shear xy near the flat faces, tension across y. Left out: 2 mm round
    touching edges and root, 6 mm round the nail; at the solid's own points of the section.
    """
    row = next(r for r in ROWS if r["wood"] == "wood" and r["xz_inner_MPa"])
    b = bowl(wood=PINE_LIKE, root_plane=True)
    state = pr.press(b, float(row["press_N"]))[-1]
    force = np.linalg.solve(b.strip.flexibility, state.deformation[:, :, None])[:, :, 0]
    count = len(force)
    strip, _psi = _warped(CUT, PINE_LIKE, count)
    (x, wx), (y, wy) = (_solid_points(edges) for edges in (graded(3, 0.0), graded(6, 1.0)))
    across, up = (grid.ravel() for grid in np.meshgrid(x, y, indexing="ij"))
    got = warped_stress(strip, force, stress_places(strip, across=across, up=up))
    # Three stations in an element, stresses between the middles of elements read off straight lines.
    point, weight = np.polynomial.legendre.leggauss(3)
    station = (np.arange(count)[:, None] + point / 2).ravel()  # counted in elements from the first middle
    first = np.clip(np.floor(station).astype(int), 0, count - 2)
    on = (station - first)[:, None]
    s_, sn, sz, sn_n, nz = (
        (1 - on) * part[first] + on * part[first + 1]
        for part in (got.sigma_s_MPa, got.tau_sn_MPa, got.tau_sz_MPa, got.sigma_n_MPa, got.tau_nz_MPa)
    )
    angle = (station + 0.5) * 2 * np.pi * CUT.turns / count
    psi = tangent_rad(CUT, angle)
    # Places in the pressed shape and what touches there.
    T, w = CUT.thickness_mm, CUT.width_mm
    z = up * T / 2
    n = across * w / 2 + np.tan(CUT.tilt_rad) * z
    x, R = (
        (1 - on.reshape(-1, *(1,) * (part.ndim - 1))) * part[first]
        + on.reshape(-1, *(1,) * (part.ndim - 1)) * part[first + 1]
        for part in (state.shape.middle_mm, state.shape.middle_frame)
    )
    at = x[:, None] + n[None, :, None] * R[:, None, :, 0] + z[:, None] * R[:, None, :, 2]
    touching, nail = _touching(b, state)
    near = cKDTree(touching).query(at.reshape(-1, 3))[0].reshape(len(station), -1)
    radius = CUT.base_mm + CUT.pitch_mm * (angle / (2 * np.pi) + 0.5)
    arc = angle * (CUT.base_mm + CUT.pitch_mm / 2)
    keep = (near > 2.0) & (arc > 2.0)[:, None] & (np.linalg.norm(at - nail, axis=2) > 6.0)
    volume = np.outer(radius * np.tile(weight, count), np.outer(wx, wy).ravel())
    volume = volume * (1 + n / radius[:, None])
    c, s = np.cos(psi)[:, None], np.sin(psi)[:, None]
    xz = sz * c + nz * s
    xy = (s_ - sn_n) * c * s - sn * (c * c - s * s)
    yy = s_ * s * s + sn_n * c * c - 2 * sn * c * s
    inside, flat = keep & (across < 0), keep & (np.abs(up) > 0.5)
    found = {
        "xz_inner_MPa": _percentile(np.abs(xz)[inside], volume[inside]),
        "xy_flat_MPa": _percentile(np.abs(xy)[flat], volume[flat]),
        "yy_MPa": _percentile(yy[keep], volume[keep]),
    }
    for name, value in found.items():
        assert value == pytest.approx(float(row[name]), rel=0.06), name


def _touching(b, state):
    """Points along touching edges, those between neighbours that both touch as well, and the nail."""
    carries = state.contact.force_N[: len(state.slid_mm), 0].reshape(-1, 2) > 1e-3
    w, T, tan = CUT.width_mm, CUT.thickness_mm, np.tan(CUT.tilt_rad)
    x, R = state.shape.position_mm[1:], state.shape.frame[1:]
    face = x - w / 2 * R[:, :, 0]
    edge = face - T / 2 * (R[:, :, 2] + tan * R[:, :, 0])
    # The upper touching point lies on the outer turn's inner face, one drop below its upper edge.
    high = face + (T / 2 - state.drop_mm)[:, None] * (R[:, :, 2] + tan * R[:, :, 0])
    points = []
    for on, line in ((carries[:, 0], edge), (carries[:, 1], high)):
        both = on[1:] & on[:-1]
        points += [line[on], *((1 - k) * line[:-1][both] + k * line[1:][both] for k in (0.25, 0.5, 0.75))]
    nail = b.nails[0]
    end = state.shape.position_mm[nail.node] + state.shape.frame[nail.node] @ nail.outer_arm_mm
    # A seat presses the turn inside as well: the same points one slot further in are within 2 mm of it.
    return np.vstack(points), end
