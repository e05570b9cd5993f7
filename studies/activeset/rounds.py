"""How rounds of a load step come to rest: mixing of what was tried, and whether it still gets anywhere."""

import numpy as np

from fitsim.arrays import Array

__all__ = ["Mixer", "Progress"]


class Mixer:
    """Anderson mixing of the element deformations over the last few rounds."""

    def __init__(self, depth: int = 10) -> None:
        self.depth = depth
        self.tried: list[Array] = []
        self.missed: list[Array] = []
        self.last: Array | None = None

    def restart(self, tried: Array, wanted: Array, stuck: bool) -> Array:
        """Drop what is remembered and follow what came out.

        When stuck, go twice as far along a steady drift (a strip about to snap over), half as far
        when it swings to and fro.
        """
        miss, along = wanted - tried, 0.0
        if self.last is not None:
            along = float(np.vdot(miss, self.last))
        self.tried, self.missed, self.last = [], [], miss
        part = 1.0 if not stuck else 2.0 if along > 0 else 0.5
        return np.asarray(tried + part * miss)

    def next(self, tried: Array, wanted: Array) -> Array:
        """Deformations to try next, from those tried and those they led to."""
        weight = np.array([1.0, 1.0, 1.0, 50.0, 50.0, 50.0])  # rotations count at a radius of 50 mm
        self.last = wanted - tried
        miss = (self.last * weight).ravel()
        if self.missed and np.linalg.norm(miss) > 2 * np.linalg.norm(self.missed[-1]):
            self.tried, self.missed = [], []
        self.tried, self.missed = self.tried[-self.depth :], self.missed[-self.depth :]
        self.tried.append(tried)
        self.missed.append(miss)
        if len(self.missed) == 1:
            return wanted
        d_miss = np.stack([miss - m for m in self.missed[:-1]], axis=1)
        part, *_ = np.linalg.lstsq(d_miss, miss, rcond=1e-6)
        back = sum(
            c * (tried - t + (miss - m).reshape(tried.shape) / weight)
            for c, t, m in zip(part, self.tried[:-1], self.missed[:-1], strict=True)
        )
        return np.asarray(wanted - back)


_CLOSE = ((0.3, 1e-2), (0.01, 1e-4), (-1.0, 1e-6))
"""Movement of the shape beyond which [mm], and how well the friction law is to be met then [-]."""


class Progress:
    """Whether a load step still gets anywhere: what has moved from round to round."""

    def __init__(self, tolerance_mm: float) -> None:
        self.tolerance_mm = tolerance_mm
        self.moved: list[float] = []
        self.unsettled = 0

    def add(self, moved_mm: float, settled: bool) -> None:
        """Note a round."""
        self.moved.append(moved_mm)
        self.unsettled = 0 if settled else self.unsettled + 1

    def stuck(self, moved_mm: float) -> bool:
        """Whether a movement is hardly less than those of the five rounds before."""
        return len(self.moved) > 5 and moved_mm > 0.8 * min(self.moved[-5:])

    def friction_share(self) -> float:
        """How well the next round is to meet the friction law. [-]"""
        last = self.moved[-1] if self.moved else np.inf
        return next(share for limit, share in _CLOSE if last > limit)

    def settled(self, share: float) -> bool:
        """Whether shape and contact stand still."""
        return self.moved[-1] < self.tolerance_mm and self.unsettled == 0 and share <= 1e-6

    def hopeless(self) -> bool:
        """Whether contact finds no states twice running, or the shape does not come to rest."""
        last = self.moved[-1]
        stalls = len(self.moved) > 20 and min(self.moved[-10:]) > 0.5 * min(self.moved[:-10])
        return not np.isfinite(last) or last > 1e4 or self.unsettled > 1 or stalls
