"""The handbooks' test piece for tension across the grain: the volume its uneven stress stands for.

The piece of ASTM D143 (shape from memory): 50 mm across the grain in the direction of the pull, 63 mm along
the grain, 50 mm thick; a round notch of radius 12.7 mm in either end, its centre 6.35 mm inside, so that
25 mm are left between them; pulled on the flanks of the notches. Plane stress in the plane of grain and
pull; wood of a middling hardwood, pulled tangentially. By symmetry a quarter is solved with quadratic
triangles.

Prints, for every Weibull shape m, the integral of (s/nominal)^m over the piece, once with the tension
across alone and once with the shear along the grain beside it, on meshes ever finer, and how it moves with
what is not known: where on the flank the grips bear, and the wood.
``python studies/tension_across_piece.py`` takes some seconds.
"""

import argparse
import math

import numpy as np
from numpy.typing import NDArray

HALF_LENGTH_mm, HALF_HEIGHT_mm, THICKNESS_mm = 31.75, 25.4, 50.8
RADIUS_mm, CENTRE_INSIDE_mm = 12.7, 6.35
NET_HALF_mm = HALF_LENGTH_mm - CENTRE_INSIDE_mm - RADIUS_mm
SHAPES = (5.0, 6.0, 7.0, 8.0, 9.0, 10.0)
CHERRY = (11300.0, 0.0864 * 11300, 0.0967 * 11300, 0.43)
"""E_L, E_T, G_LT [MPa] and nu_LT of a middling hardwood."""

TENSION_OVER_SHEAR = 3.9 / 11.7
"""Strength across the grain over shear along it, black cherry (Wood Handbook, Table 5-3). [-]"""

Arr = NDArray[np.float64]


def mesh_of_quarter(cells: int) -> tuple[Arr, NDArray[np.int64]]:
    """Nodes (2, n) and triangles (3, t) of the quarter x >= 0, y >= 0, finer towards the notch.

    A ruled patch: from the notch's arc and the piece's end, to the middle line and the top.
    """
    centre = HALF_LENGTH_mm - CENTRE_INSIDE_mm
    opens = math.pi - math.acos(min(CENTRE_INSIDE_mm / RADIUS_mm, 1.0))
    # Along the hole's edge: from the root of the notch (t = 0) round to the piece's end, and on up the end.
    arc_length = RADIUS_mm * opens
    mouth = RADIUS_mm * math.sin(opens)
    end_length = HALF_HEIGHT_mm - mouth
    around = cells * 3
    share = arc_length / (arc_length + end_length)
    on_arc = round(share * around)
    t_arc = np.linspace(0, opens, on_arc + 1)
    inner = [(centre - RADIUS_mm * math.cos(t), RADIUS_mm * math.sin(t)) for t in t_arc]
    inner += [(HALF_LENGTH_mm, y) for y in np.linspace(mouth, HALF_HEIGHT_mm, around - on_arc + 1)[1:]]
    # Opposite: up the middle line, then along the top, to the same corner.
    up = max(round(around * HALF_HEIGHT_mm / (HALF_HEIGHT_mm + HALF_LENGTH_mm)), 2)
    outer = [(0.0, y) for y in np.linspace(0, HALF_HEIGHT_mm, up + 1)]
    outer += [(x, HALF_HEIGHT_mm) for x in np.linspace(0, HALF_LENGTH_mm, around - up + 1)[1:]]
    a, b = np.array(inner), np.array(outer)
    # The last point is common to both lines: the patch shrinks to it, so it stops one short and fans out.
    layers = np.linspace(0, 1, cells + 1) ** 1.6
    rows = [a[:-1] + s * (b[:-1] - a[:-1]) for s in layers]
    points = np.concatenate([*rows, a[-1:]])
    n, last = around, len(points) - 1
    triangles = []
    for j in range(cells):
        for i in range(n - 1):
            p, q, r, s = j * n + i, j * n + i + 1, (j + 1) * n + i + 1, (j + 1) * n + i
            triangles += [(p, q, r), (p, r, s)]
        triangles.append((j * n + n - 1, last, (j + 1) * n + n - 1))
    return points.T.copy(), np.array(triangles).T.copy()


def volumes_cm3(
    cells: int,
    *,
    wood: tuple[float, float, float, float] = CHERRY,
    bears_from_deg: float = 45.0,
    bears_to_deg: float = 118.0,
    shear: float = TENSION_OVER_SHEAR,
) -> tuple[dict[float, float], dict[float, float], float]:
    """Volumes by shape with tension alone and with shear beside it [cm^3], and peak over nominal stress.

    ``bears_from_deg`` and ``bears_to_deg``: part of the flank the grips bear on, from the notch's root.
    """
    from skfem import (
        Basis,
        BilinearForm,
        ElementTriP2,
        ElementVector,
        FacetBasis,
        LinearForm,
        MeshTri,
        condense,
        solve,
    )

    points, triangles = mesh_of_quarter(cells)
    mesh = MeshTri(points, triangles)
    E_L, E_T, G_LT, nu_LT = wood
    nu_TL = nu_LT * E_T / E_L
    common = 1 - nu_LT * nu_TL
    C = np.array(
        [[E_L / common, nu_LT * E_T / common, 0], [nu_LT * E_T / common, E_T / common, 0], [0, 0, G_LT]]
    )
    basis = Basis(mesh, ElementVector(ElementTriP2()), intorder=6)

    def strain(u):  # type: ignore[no-untyped-def]
        return u.grad[0, 0], u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]

    @BilinearForm
    def stiffness(u, v, _w):  # type: ignore[no-untyped-def]
        a, b = strain(u), strain(v)
        return sum(C[i, j] * a[j] * b[i] for i in range(3) for j in range(3))

    centre = HALF_LENGTH_mm - CENTRE_INSIDE_mm

    def on_flank(x: Arr) -> NDArray[np.bool_]:
        r = np.hypot(x[0] - centre, x[1])
        angle = np.degrees(np.arctan2(x[1], centre - x[0]))
        on = np.abs(r - RADIUS_mm) < 0.02 * RADIUS_mm
        return np.asarray(on & (angle > bears_from_deg) & (angle < bears_to_deg))

    flank = FacetBasis(
        mesh, basis.elem, facets=mesh.facets_satisfying(on_flank, boundaries_only=True), intorder=6
    )

    @LinearForm
    def pull(v, w):  # type: ignore[no-untyped-def]
        # A smooth grip presses square to the flank; outward of the wood is towards the notch's centre.
        angle = np.degrees(np.arctan2(w.x[1], centre - w.x[0]))
        at = np.clip((angle - bears_from_deg) / (bears_to_deg - bears_from_deg), 0, 1)
        # No edge of a grip is so sharp that the pressure jumps: it swells and fades.
        return -np.sin(np.pi * at) * (v[0] * w.n[0] + v[1] * w.n[1])

    load = pull.assemble(flank)
    fixed = np.concatenate(
        [
            basis.get_dofs(lambda x: np.isclose(x[0], 0)).all("u^1"),
            basis.get_dofs(lambda x: np.isclose(x[1], 0)).all("u^2"),
        ]
    )
    u = solve(*condense(stiffness.assemble(basis), load, D=fixed))
    at = basis.interpolate(u)
    eps = (at.grad[0, 0], at.grad[1, 1], at.grad[0, 1] + at.grad[1, 0])
    sigma = [sum(C[i, j] * eps[j] for j in range(3)) for i in range(3)]
    # What the middle section carries is what the grips pull with.
    vertical = np.zeros(len(load))
    vertical[basis.get_dofs(lambda x: np.ones_like(x[0], dtype=bool)).all("u^2")] = 1.0
    nominal = abs(float(load @ vertical)) / NET_HALF_mm
    tension = np.maximum(sigma[1], 0) / nominal
    together = np.sqrt(tension**2 + (shear * sigma[2] / nominal) ** 2)
    whole = 4 * THICKNESS_mm * basis.dx / 1000
    alone = {m: float((tension**m * whole).sum()) for m in SHAPES}
    both = {m: float((together**m * whole).sum()) for m in SHAPES}
    return alone, both, float(tension.max())


def main() -> None:
    """Print the volumes."""

    def line(name: str, found: dict[float, float], peak: float) -> None:
        print(f"{name:58}" + "".join(f"{found[m]:8.1f}" for m in SHAPES) + f"   peak {peak:.3f}")

    print(f"{'volume [cm3] at shape':58}" + "".join(f"{m:8g}" for m in SHAPES))
    for cells in (12, 24, 48):
        alone, both, peak = volumes_cm3(cells)
        line(f"tension across alone, {cells} cells", alone, peak)
        line(f"with shear along beside it, {cells} cells", both, peak)
    for ends in ((20.0, 60.0), (30.0, 90.0), (60.0, 90.0)):
        alone, both, peak = volumes_cm3(24, bears_from_deg=ends[0], bears_to_deg=ends[1])
        line(f"grips bear from {ends[0]:g} to {ends[1]:g} deg, with shear", both, peak)
    for name, wood in (
        ("red oak, radial pull", (12500.0, 0.154 * 12500, 0.089 * 12500, 0.35)),
        ("sitka spruce, tangential", (10900.0, 0.043 * 10900, 0.061 * 10900, 0.467)),
        ("isotropic", (1000.0, 1000.0, 1000 / 2.6, 0.3)),
    ):
        alone, both, peak = volumes_cm3(24, wood=wood)
        line(f"{name}, tension alone", alone, peak)


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    main()
