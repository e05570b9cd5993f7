"""Does the beam press the same bowl as a solid model does, and are its stresses the solid's?

Question: the strip is calculated as a beam. How far are rim, nail and stresses of the pressed bowl from
those of a three-dimensional solid of the same strip, with contact on its bevels and large displacements?

Method: ``tests/solid_strip.py`` (27-node hexahedra, scikit-fem's shape functions, nothing of the beam in
it; the beam's shape serves as a first guess only), the case of the design notes: 3 turns, theta 5 deg, T
19.05, p 6.35, k 0.64, R_b 27.8 mm, no friction, nail driven flat. The press grows from row to row.

Answer. Without friction (36 slabs a turn, 2 x 4 elements in the section): mean rim within 2 percent at
every press from 5 to 60 N in wood and to 20 N in an even material (E 1000 MPa, nu 0.3), nail within 3
percent. Greatest less least rim height within 0.4 mm but for two places (0.6 mm at 45 N in wood, 0.9 mm at
20 N in the even material) where the rim turns over as the turns slide round: it then changes by 0.7 mm for
each newton, and a coefficient of friction of 0.005 takes it from 1.8 to 4.3 mm in the beam. With friction
of 0.2 and 0.4 (24 slabs, 1 x 2) nothing turns over: out of level within 0.2 mm and the nail within 3
percent at all presses to 60 N. That the root cannot warp is worth 0.15 to 0.4 mm. Where the nail ties the
two turns, on the bevel or between the middles of their sections, moves the mean rim by 2 percent.

Stresses at 20 N in wood (72 slabs, 3 x 6 elements gathered at the flat faces), 99.9 percentiles by volume
without 2 mm round contact and root and 6 mm round the nail: straight-bar formulas 9 percent low on the
inner face and 14 percent low across the grain; with curvature and warping inner shear xz within 1,
flat-face shear xy within 2 and tension across within 4 percent.

Run it with ``python studies/solid_model.py``; some minutes. ``--fine`` takes the finer mesh: half an hour.
"""

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

import numpy as np
from elastic_bowls import PINE_LIKE, bowl, even
from solid_strip import (
    Bevels,
    Cut,
    from_beam,
    make_solid,
    press_solid,
    rim_heights,
    rim_share,
    solid_stiffness,
)

from fitsim.strip import press as pr
from fitsim.strip.results import nail_force_N, rim_height

WOODS = {"wood": PINE_LIKE, "even": even()}


def main(
    name: str = "wood",
    presses_N: tuple[float, ...] = (5.0, 10.0, 14.0, 17.0, 20.0, 25.0, 35.0),
    mesh: tuple[int, int, int] = (24, 1, 2),
    friction: float = 0.0,
) -> list[dict[str, float]]:
    """Press solid and beam side by side.

    Parameters
    ----------
    name : str
        "wood" or "even".
    presses_N : tuple[float, ...]
        Rising presses. [N]
    mesh : tuple[int, int, int]
        Slabs in a turn, elements across and up the section.
    friction : float
        Coefficient between bevels. [-]

    Returns
    -------
    list[dict[str, float]]
        For each press the rim and the nail of both.
    """
    cut, wood = Cut(), WOODS[name]
    per, across, up = mesh
    span = 2 * np.pi * cut.turns
    solid = make_solid(
        cut.line, solid_stiffness(wood), span_rad=span, slabs=round(cut.turns * per), across=across, up=up
    )
    bevels, share = Bevels(solid, cut, friction=friction), rim_share(solid, cut)
    b = bowl(wood=wood, friction=friction, root_plane=True)
    guess = pr.press(b, presses_N[0])[-1]
    u = from_beam(solid, cut, b.strip, guess.shape)
    rows = []
    for press_N in presses_N:
        state = press_solid(solid, bevels, share, press_N, u)
        u = state.u
        beam = pr.press(b, press_N)[-1]
        rim, height = rim_height(b, beam), rim_heights(solid, cut, u)
        row = {
            "press_N": press_N,
            "solid_mean_mm": float(share @ u[:, 2]),
            "beam_mean_mm": rim.mean_mm,
            "solid_out_of_level_mm": float(np.ptp(height)),
            "beam_out_of_level_mm": rim.out_of_level_mm,
            "solid_nail_N": float(np.linalg.norm(state.nail_N)),
            "beam_nail_N": float(np.linalg.norm(nail_force_N(b, beam))),
        }
        print(
            name,
            f"friction {friction:g}",
            *(f"{key} {value:.2f}" for key, value in row.items()),
            flush=True,
        )
        rows.append(row)
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--fine", action="store_true")
    chosen = (36, 2, 4) if parser.parse_args().fine else (24, 1, 2)
    for material in WOODS:
        main(material, mesh=chosen)
    main("wood", (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 14.0, 20.0, 30.0), chosen, friction=0.4)
