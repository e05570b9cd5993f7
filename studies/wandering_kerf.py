"""Which kerf does an elastic turn see where the kerf wanders along the cut?

Question: a hand-fed saw leaves a kerf that wanders from point to point. Does a turn of the elastic strip,
pressed into it, sink as if the kerf were its mean round the turn, or its narrowest place, on which a rigid
ring kept level would rest?

Method: the kerf of every seat of the strip is drawn from a Gaussian function of the arc length with
covariance sd^2 exp(-(s - s')^2 / (2 l^2)); the strip is pressed and each turn's mean drop compared with
that of the same strip with an even kerf. The change of drop times sin(tilt) is the change of kerf that
the turn has seen.

Answer: printed. On five turns in 3/4 in of cherry at 5 degrees, 60 N, sd 0.05 mm, l 30 mm, 40 bowls: the
mean round the turn, to 0.006 mm on the average and 0.022 mm for one turn of one bowl, in which its
neighbours have a hand; the narrowest place would have held it 0.065 mm higher.

Run it with ``python studies/wandering_kerf.py``; some seconds. It leaves nothing behind.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import math
from dataclasses import replace

import numpy as np

import fitsim
from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.strip_layout import NODES_PER_TURN, laid_out
from fitsim.strip.press import press

BOWL = {
    "board": {"wood": "cherry", "thickness": "3/4 in", "across": "5 3/4 in"},
    "cut": {"kerf": "0.7 mm", "pitch": "5/16 in", "base": "2 3/4 in"},
    "use": {"finish": "none", "friction": "0.4", "press": "80 N"},
}
PRESS_N = 60.0


def wave_weights(*, cut_mm: float, length_mm: float) -> tuple[np.ndarray, float]:
    """Share of the variance in each wave of a kerf that wanders along a long cut, and the period.

    The spectrum of exp(-s^2/(2 l^2)) is exp(-(omega l)^2/2); six l beyond the cut part its ends.
    """
    period = cut_mm + 6 * length_mm
    count = math.ceil(4 * period / (2 * math.pi * length_mm)) + 1
    number = 2 * math.pi * np.arange(count) * length_mm / period
    share = np.exp(-(number**2) / 2)
    share[1:] *= 2
    return share / share.sum(), period


def wander(normals: np.ndarray, *, wave_share: np.ndarray, points: int) -> np.ndarray:
    """Wandering of unit variance on an even grid over one period, from standard normal numbers.

    Normals: the constant, then two for each wave, shape (n, 2 waves + 1).
    """
    size = np.sqrt(wave_share)
    terms = np.empty((len(normals), len(wave_share)), dtype=np.complex128)
    terms[:, 0] = size[0] * normals[:, 0]
    # Halved, because the transform adds each wave and its mirror.
    terms[:, 1:] = size[1:] * (normals[:, 1::2] - 1j * normals[:, 2::2]) / 2
    return np.fft.irfft(terms, n=points, axis=1) * points


def wandering(
    arc_mm: np.ndarray, *, sd_mm: float, length_mm: float, rng: np.random.Generator
) -> np.ndarray:
    """Kerf less its mean at places along the cut. [mm]"""
    apart = arc_mm[:, None] - arc_mm
    covariance = np.exp(-(apart**2) / (2 * length_mm**2))
    size, way = np.linalg.eigh(covariance)
    return sd_mm * (way @ (np.sqrt(np.maximum(size, 0)) * rng.standard_normal(len(arc_mm))))


def drops_mm(bowl: fitsim.Bowl, rigid: RigidFit, wander_mm: np.ndarray) -> np.ndarray:
    """Mean drop of every turn under the press. [mm]"""
    slot = rigid.faces.slot_mm + wander_mm / math.cos(bowl.cut.tilt_rad[0])
    strip, _ = laid_out(bowl, replace(rigid, faces=replace(rigid.faces, slot_mm=slot)), NODES_PER_TURN)
    last = press(strip, PRESS_N)[-1]
    if last.fell_through:
        return np.full(int(strip.turn.max()), np.nan)
    return np.bincount(strip.turn, last.drop_mm)[1:] / np.bincount(strip.turn)[1:]


def main() -> None:
    """Print what a turn has seen against the mean and the least of its kerf."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--tilt", type=float, default=5.0)
    parser.add_argument("--sd", type=float, default=0.05)
    parser.add_argument("--length", type=float, default=30.0)
    parser.add_argument("--bowls", type=int, default=40)
    asked = parser.parse_args()
    bowl = fitsim.make_bowl({**BOWL, "cut": {**BOWL["cut"], "tilt": f"{asked.tilt} deg"}})
    rigid, rng = rigid_fit(bowl), np.random.default_rng(5)
    angle, turn = rigid.faces.angle_rad, rigid.faces.turn
    arc = bowl.cut.base_radius_mm * angle + bowl.cut.pitch_mm * angle**2 / (4 * math.pi)
    even, rows = drops_mm(bowl, rigid, np.zeros_like(arc)), []
    for _ in range(asked.bowls):
        kerf = wandering(arc, sd_mm=asked.sd, length_mm=asked.length, rng=rng)
        seen = (drops_mm(bowl, rigid, kerf) - even) * math.sin(bowl.cut.tilt_rad[0])
        for j in range(len(even)):
            here = kerf[turn == j]
            rows.append((here.mean(), here.min(), seen[j]))
    found = np.array(rows)
    found = found[np.isfinite(found).all(axis=1)]
    for at, name in enumerate(("mean round the turn", "narrowest place")):
        away = found[:, 2] - found[:, at]
        print(
            f"seen less {name}: {away.mean():+.4f} mm, give or take {away.std():.4f} mm, {len(found)} turns"
        )


if __name__ == "__main__":
    main()
