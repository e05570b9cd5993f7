"""What months of standing open take away from a bowl: bounds, not a law of time (``data/creep.csv``)."""

from dataclasses import dataclass

from fitsim.bowl.beyond import duration_strength_share
from fitsim.tables import read_table

__all__ = ["Standing", "standing"]

YEAR_S = 365.25 * 24 * 3600


@dataclass(frozen=True)
class Standing:
    """Bounds on what months of standing open do, each (low, likely, high).

    Attributes
    ----------
    stress_left : tuple[float, float, float]
        Share of the strip's spring and of its squeeze that is left. [-]
    collapse_N : tuple[float, float, float]
        Push from below that frees it. [N]
    set_rise_mm : tuple[float, float, float]
        How high the rim stays when it is taken down and nothing pushes it flat. [mm]
    later_rise_mm : tuple[float, float, float]
        The same after it has lain for as long. [mm]
    strength_left : float
        Strength under a load of a year over that of a test. [-]
    mark, source : str
        Of the bounds.
    """

    stress_left: tuple[float, float, float]
    collapse_N: tuple[float, float, float]
    set_rise_mm: tuple[float, float, float]
    later_rise_mm: tuple[float, float, float]
    strength_left: float
    mark: str
    source: str


def standing(*, collapse_N: float, rise_mm: float) -> Standing:
    """Bound what months of standing open take away.

    Held at its shape the wood relaxes: of its stress a share s is left. The squeeze that friction needs
    falls with it, so the push that frees the bowl does too; and freed, the strip springs back by s of its
    way, the rest being creep, of which about half returns in time.

    Parameters
    ----------
    collapse_N : float
        Push that frees it just after opening. [N]
    rise_mm : float
        Rise of the rim. [mm]

    Returns
    -------
    Standing
        Low, likely and high ends.

    Examples
    --------
    >>> standing(collapse_N=60.0, rise_mm=50.0).collapse_N
    (9.0, 30.0, 42.0)
    """
    rows = {row["quantity"]: row for row in read_table("creep")}
    left = tuple(float(rows["stress_left"][end]) for end in ("low", "value", "high"))
    back = tuple(float(rows["creep_recovered"][end]) for end in ("low", "value", "high"))
    sets = [(1 - s) * rise_mm for s in reversed(left)]
    later = [s * (1 - b) for s, b in zip(sets, reversed(back), strict=True)]
    return Standing(
        stress_left=(left[0], left[1], left[2]),
        collapse_N=(left[0] * collapse_N, left[1] * collapse_N, left[2] * collapse_N),
        set_rise_mm=(sets[0], sets[1], sets[2]),
        later_rise_mm=(later[0], later[1], later[2]),
        strength_left=duration_strength_share(load_s=YEAR_S),
        mark=rows["stress_left"]["mark"],
        source=rows["stress_left"]["source"],
    )
