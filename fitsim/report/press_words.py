"""Presses in words: as many figures as tell them apart, and never less than a bowl needs."""

import math

from fitsim.bowl.fit import BowlFit
from fitsim.quantities import KILOGRAM_N, POUND_N, show_force, show_force_upward

__all__ = [
    "show_needed_press",
    "shown_presses",
]


def show_needed_press(answer: BowlFit, press_N: float, *, units: str) -> str:
    """A press that a bowl needs: where the verdict hangs on it, so that no reading stops short of it.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    press_N : float
        A press it needs. [N]
    units : str
        "in" or "mm".

    Returns
    -------
    str
        To three figures and never less than it is where the verdict hangs on the press; else to two.
    """
    if answer.deciding_press_N is None:
        return show_force(press_N, units=units)
    return show_force_upward(press_N, units=units)


def shown_presses(
    answer: BowlFit, *needed_N: float, beside_N: tuple[float, ...] = (), units: str
) -> tuple[str, ...]:
    """Presses that stand beside one another, so that those that differ read differently.

    Parameters
    ----------
    answer : BowlFit
        The fit.
    *needed_N : float
        Presses that the bowl needs. [N]
    beside_N : tuple[float, ...]
        What they are held against: the press there is, one that splits. [N]
    units : str
        "in" or "mm".

    Returns
    -------
    tuple[str, ...]
        In that order. What is needed as :func:`show_needed_press` shows it where the verdict hangs on the
        press; else all with as many figures as tell them apart.
    """
    if answer.deciding_press_N is None:
        return tuple(_forces_apart(*needed_N, *beside_N, units=units))
    return (
        *(show_force_upward(v, units=units) for v in needed_N),
        *(show_force(v, units=units, figures=3) for v in beside_N),
    )


def _forces_apart(*forces_N: float, units: str) -> list[str]:
    """Forces with as many figures as it takes to see that they differ."""
    shown: list[str] = []
    for figures in (2, 3, 4, 5, 6):
        shown = [show_force(v, units=units, figures=figures) for v in forces_N]
        if len(set(shown)) == len(shown):
            break
    return shown


def on_the_scale(press_N: float, units: str, *, upward: bool) -> str:
    """A press as a bathroom scale shows it, and as a force: to the side on which the bowl does well.

    Parameters
    ----------
    press_N : float
        The press. [N]
    units : str
        "in" or "mm".
    upward : bool
        Whether the bowl does well above it.

    Returns
    -------
    str
        For example "45.0 lb, 201 N".
    """
    unit, one_N = ("lb", POUND_N) if units == "in" else ("kg", KILOGRAM_N)
    tenths = 10 * press_N / one_N
    if upward:
        return f"{math.ceil(tenths - 1e-6) / 10:.1f} {unit}, {show_force_upward(press_N, units='mm')}"
    return f"{math.floor(tenths + 1e-6) / 10:.1f} {unit}, {show_force(press_N, units='mm', figures=3)}"
