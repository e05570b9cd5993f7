"""The strip unrolled: stress along it against the place, root on the left, and its grain.

Nothing is worked out here; :mod:`fitsim.drawing.strip_drawing` makes the page, and a study may use the
axes alone.
"""

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsim.arrays import Array
from fitsim.drawing.paper import BASE_TONE, TURN_TONE, page_axes, width_mm_of
from fitsim.pattern.layout import Handling
from fitsim.quantities import INCH_MM
from fitsim.report.common_words import chance_in_words, plain_words
from fitsim.strip.stress import StripStress
from fitsim.wood.strength import FAILURE_MODES, GrainStrength

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["AS_SAWN", "CLEAR", "grain_band", "length_ticks", "mark_worst", "nice_step", "stress_axes"]

TOGETHER: Any = {"color": "black", "lw": 1.8, "zorder": 4, "solid_joinstyle": "round"}
SINGLE: tuple[Any, ...] = (  # in the order of FAILURE_MODES; bending along the grain is hardly ever seen
    {"color": "#3d6d8f", "lw": 1.1, "ls": (0, (7, 2, 1.2, 2)), "zorder": 2},
    {"color": "#555555", "lw": 1.1, "ls": (0, (4.5, 1.8)), "zorder": 2},
    {"color": "#b9502a", "lw": 1.3, "ls": "-", "zorder": 3},
    {"color": "#8c7048", "lw": 1.1, "ls": (0, (1, 1.5)), "zorder": 2},
)
BENDING_SHOWN = 0.25
"""Bending along the grain is drawn from this share of its strength on; below it is only clutter."""

AS_SAWN = np.array([1.0, -1.0 if Handling().middle_right else 1.0])
"""What turns a place of the strip, laid out counter-clockwise, into that of the usual pattern, inside up:
who marks a place of a picture on the board has it where the pattern has it. [-]"""

NICE = (1.0, 2.0, 2.5, 5.0)
CLEAR: Any = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}


def nice_step(least: float) -> float:
    """The smallest of 1, 2, 2.5, 5 times a power of ten that is not below a number.

    Parameters
    ----------
    least : float
        The number, above 0.

    Returns
    -------
    float
        The step.

    Examples
    --------
    >>> nice_step(0.14), nice_step(21.0), nice_step(60.0), nice_step(5.0)
    (0.2, 25.0, 100.0, 5.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(n * power for n in (*NICE, 10.0) if n * power >= least * (1 - 1e-9))


def length_ticks(end_mm: float, units: str, count: int) -> tuple[list[float], list[str]]:
    """Places of round lengths from 0 to an end, and their numbers in the maker's unit.

    Parameters
    ----------
    end_mm : float
        The end. [mm]
    units : str
        "in" or "mm".
    count : int
        At most so many steps.

    Returns
    -------
    tuple[list[float], list[str]]
        Places and the numbers to write there. [mm, in or mm]

    Examples
    --------
    >>> length_ticks(60.0, "in", 3)
    ([0.0, 25.4, 50.8], ['0', '1', '2'])
    """
    unit_mm = float(INCH_MM) if units == "in" else 1.0
    step = nice_step(end_mm / unit_mm / count)
    marks = [step * k for k in range(math.floor(end_mm / unit_mm / step + 1e-9) + 1)]
    return [m * unit_mm for m in marks], [f"{m:g}" for m in marks]


def stress_axes(
    axes: "Axes", stress: StripStress, strength: GrainStrength | None = None, *, greatest: float = 1.0
) -> None:
    """Draw stress over mean strength against the place along the strip, root on the left.

    The sections are those of the stress, an element apart and closer at the root.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Empty axes; words to the right of them need about 45 mm.
    stress : StripStress
        Along the strip.
    strength : GrainStrength or None
        Mean strengths: the single directions are drawn as shares of them; None leaves them out.
    greatest : float
        The upright axis reaches at least this share and what is drawn. [-]
    """
    end = _turn_ends(stress)[-1]
    top = 1.32 * max(greatest, float(stress.ratio.max()))
    axes.set(xlim=(0, end), ylim=(0, top))
    lines = [("all together", np.asarray(stress.ratio), TOGETHER)]
    if strength is not None:
        shares = stress.greatest_MPa / _means_MPa(strength)[:, None]
        shown = 4 if float(shares[3].max()) >= BENDING_SHOWN else 3
        lines += [(plain_words(FAILURE_MODES[i]), shares[i], SINGLE[i]) for i in range(shown)]
    for _, share, style in lines:
        axes.plot(stress.arc_mm, share, **style)
    _words_at_ends(axes, end, top, lines)
    axes.axhline(1.0, color="black", lw=0.8, ls=(0, (1, 2)), zorder=1)
    _turn_ticks(axes, stress)
    step = nice_step(top / 7)
    axes.set_yticks([step * k for k in range(int(top / step) + 1)])
    axes.tick_params(axis="y", labelsize=8)
    axes.set_ylabel("share of mean strength", size=8.5)
    axes.spines[["top", "right"]].set_visible(False)


def _means_MPa(strength: GrainStrength) -> Array:
    return np.array(
        [
            strength.shear_along_MPa,
            strength.rolling_shear_MPa,
            strength.tension_across_MPa,
            strength.bending_MPa,
        ]
    )


def _words_at_ends(axes: "Axes", end: float, top: float, lines: list[tuple[str, Array, Any]]) -> None:
    """Carry every line on beyond the free end, in its own style, to its words."""
    last = -math.inf
    for words, share, style in sorted(lines, key=lambda line: (line[1][-1], line[1].mean())):
        value = float(share[-1])
        last = max(value, last + 0.105 * top, 0.03 * top)
        axes.plot([end, 1.02 * end, 1.05 * end], [value, last, last], clip_on=False, **style)
        weight = "bold" if style is TOGETHER else "normal"
        axes.text(1.058 * end, last, words, size=8, va="center", ha="left", weight=weight)


def _turn_ends(stress: StripStress) -> list[float]:
    """Where every turn of the strip ends. [mm]"""
    ends = stress.arc_mm + stress.length_mm / 2
    return [float(ends[stress.turn == j].max()) for j in np.unique(stress.turn)]


def _width_mm(axes: "Axes") -> float:
    """Width of axes on the page. [mm]"""
    figure = axes.get_figure(root=True)
    return float(axes.bbox.width) / (72.0 if figure is None else figure.dpi) * 25.4


def _turn_ticks(axes: "Axes", stress: StripStress) -> None:
    ends = _turn_ends(stress)
    starts = [0.0, *ends[:-1]]
    room = [(b - a) / ends[-1] * _width_mm(axes) - 1.5 for a, b in zip(starts, ends, strict=True)]
    names = [f"turn {j + 1}" for j in range(len(ends))]
    if any(width_mm_of(n, 8) > r for n, r in zip(names[:-1], room[:-1], strict=True)):
        names = [n.removeprefix("turn ") for n in names]
        axes.text(-0.008 * ends[-1], -0.05, "turn", size=8, ha="right", va="top",
                  transform=axes.get_xaxis_transform())  # fmt: skip
    if width_mm_of(names[-1], 8) > room[-1]:  # the last turn is seldom a whole one
        names[-1] = names[-1].removeprefix("turn ")
    shown = [n if width_mm_of(n, 8) <= r else "" for n, r in zip(names, room, strict=True)]
    axes.set_xticks([(a + b) / 2 for a, b in zip(starts, ends, strict=True)], shown, size=8)
    axes.tick_params(axis="x", length=0)
    axes.set_xticks([0.0, *ends], minor=True)
    axes.tick_params(axis="x", which="minor", length=6)
    for place in ends[:-1]:
        axes.axvline(place, color="#bbbbbb", lw=0.5, zorder=0)


def mark_worst(axes: "Axes", stress: StripStress) -> None:
    """Point at the worst place of :func:`stress_axes` and say where it is and what gives.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        With the stress drawn.
    stress : StripStress
        The same.
    """
    worst, end, top = stress.worst, _turn_ends(stress)[-1], axes.get_ylim()[1]
    x, y = float(stress.arc_mm[worst.section]), float(stress.ratio[worst.section])
    words = (
        f"turn {worst.turn}, seen from the centre {math.degrees(worst.clock_rad):.0f} deg from the grain: "
        f"{plain_words(worst.cause)}; here {chance_in_words(worst.chance)} would give"
    )
    width = (width_mm_of(words, 8.5) + 1) / _width_mm(axes) * end
    start = min(x + 0.03 * end, 1.2 * end - width)
    axes.annotate(
        words, (x, y), (start, 0.94 * top), size=8.5, va="center", bbox=CLEAR, zorder=6, gid="worst",
        arrowprops={"arrowstyle": "-|>", "lw": 0.9, "color": "black", "shrinkA": 1, "shrinkB": 2,
                    "relpos": (min(max((x - start) / width, 0.0), 1.0), 0.5)},
    )  # fmt: skip


def grain_band(
    figure: "Figure", stress: StripStress, units: str, page_mm: tuple[float, float, float, float]
) -> None:
    """Draw the strip from above, as :data:`AS_SAWN` has it, the grain at its true angle to it.

    Laid to the right from the root, its outer edge is at the bottom where the bowl winds counter-clockwise,
    and at the top where it is mirrored.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    stress : StripStress
        Along the strip; the place worst off is pointed at.
    units : str
        "in" or "mm" for the length along the strip.
    page_mm : tuple[float, float, float, float]
        Left, bottom, width and height on the page. [mm]
    """
    from matplotlib.collections import LineCollection

    _, _, width, height = page_mm
    axes = page_axes(figure, "grain", page_mm)
    axes.set(xlim=(0, width), ylim=(0, height), yticks=[])
    ends = _turn_ends(stress)
    end = ends[-1]
    scale = width / end
    psi = np.unwrap(stress.psi_rad)
    x = np.linspace(0, width, 2400)
    across = np.abs(np.sin(np.interp(x / scale, stress.arc_mm, psi))) > math.sqrt(0.5)
    axes.fill_between(x, 0, height, color=TURN_TONE, lw=0)
    axes.fill_between(x, 0, height, where=across.tolist(), color=BASE_TONE, lw=0)
    step = min(max(ends[0] * scale / 10, 1.1), 2.8)
    columns, rows = max(int(width / step), 1), max(round(height / step), 2)
    at = (np.arange(columns) + 0.5) * width / columns
    up = (np.arange(rows) + 0.5) * height / rows
    # Turned so that the strip runs to the right, the grain lies at minus the tangent's angle, at plus if
    # mirrored.
    angle = -float(AS_SAWN[1]) * np.interp(at / scale, stress.arc_mm, psi)
    reach = 0.46 * step * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    middle = np.stack(np.meshgrid(at, up, indexing="ij"), axis=2)
    ends_mm = np.stack([middle - reach[:, None], middle + reach[:, None]], axis=2).reshape(-1, 2, 2)
    axes.add_collection(LineCollection(list(ends_mm), colors="black", linewidths=0.6))
    for place in ends[:-1]:
        axes.axvline(place * scale, color="black", lw=0.6)
    worst = float(stress.arc_mm[stress.worst.section]) * scale
    # Below the band: above it stand the words of the turns.
    axes.plot([worst], [-0.9], marker="^", ms=4, color="black", clip_on=False, gid="worst")
    places, numbers = length_ticks(end, units, 9)
    axes.set_xticks([p * scale for p in places], numbers, size=8)
    axes.set_xlabel(f"length along the strip from the root ({units})", size=8.5)
    axes.text(-1.5, height / 2, "grain", size=8.5, ha="right", va="center")
    axes.text(width + 2.5, height / 2, "darker: the strip\ncrosses the grain", size=8, va="center")
