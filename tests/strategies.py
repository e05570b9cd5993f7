"""What the laws are tried on: uneven cuts and whole bowls, all of them possible."""

import math
from typing import Any

from hypothesis import strategies as st

from fitsim.geometry.cut import SlotCurve, Strip, spiral_slot, strip_between_slots

Tables = dict[str, dict[str, Any]]


def decimals(low: float, high: float, places: int = 2) -> st.SearchStrategy[float]:
    """Numbers a maker could write: so many decimals, no more."""
    scale = 10**places
    return st.integers(round(low * scale), round(high * scale)).map(lambda n: n / scale)


def millimetres(value: float) -> str:
    """Write a length as a bowl file has it."""
    return f"{value:.6f} mm"


@st.composite
def uneven_cuts(draw: st.DrawFn) -> dict[str, Any]:
    """Arguments of spiral_slot with a kerf and a tilt of its own for every turn.

    The strip's last turn covers more than a twentieth of a revolution, so that it is a turn and not
    the tail of one.
    """
    pitch = draw(decimals(4, 10))
    turns = draw(st.integers(2, 5)) + draw(decimals(0.7, 1.4))
    base = draw(decimals(16, 40))
    needed = math.ceil(turns)
    return {
        "base_radius_mm": base,
        "outer_radius_mm": base + turns * pitch,
        "pitch_mm": pitch,
        "kerf_mm": draw(st.lists(decimals(0.4, 1.2), min_size=needed, max_size=needed)),
        "tilt_rad": [
            math.radians(value)
            for value in draw(st.lists(decimals(2, 15), min_size=needed, max_size=needed))
        ],
        "root_rad": draw(decimals(-3, 3)),
    }


def cut_and_strip(cut: dict[str, Any], *, clockwise: bool = False) -> tuple[SlotCurve, Strip]:
    """Slot of a cut and the strip of a round board, trimmed at half a pitch."""
    slot = spiral_slot(**cut, clockwise=clockwise)
    strip = strip_between_slots(
        slot,
        across_mm=2 * cut["outer_radius_mm"],
        outline="round",
        end_width_mm=cut["pitch_mm"] / 2,
    )
    return slot, strip


@st.composite
def uneven_bowls(draw: st.DrawFn) -> Tables:
    """Tables for make_bowl with every input given, and one value a turn wherever that can be."""
    cut = draw(uneven_cuts())
    needed = len(cut["kerf_mm"])
    board_moisture = draw(decimals(7, 11, 1))
    return {
        "board": {
            "wood": draw(st.sampled_from(("cherry", "walnut", "sugar maple"))),
            "thickness": millimetres(draw(decimals(10, 25))),
            "across": millimetres(2 * cut["outer_radius_mm"]),
            "outline": "round",
            "moisture": f"{board_moisture} %",
            "grain": draw(st.sampled_from(("flat-sawn", "rift-sawn", "quarter-sawn", "20 deg"))),
        },
        "cut": {
            "tilt": [f"{math.degrees(value):.6f} deg" for value in cut["tilt_rad"]],
            "kerf": [millimetres(value) for value in cut["kerf_mm"]],
            "pitch": millimetres(cut["pitch_mm"]),
            "base": millimetres(2 * cut["base_radius_mm"]),
            "root": f"{draw(st.integers(0, 89))} deg",
        },
        "use": {
            "finish": "none",
            "film": millimetres(draw(decimals(0, 0.05, 3))),
            "friction": f"{draw(decimals(0.15, 0.6))}",
            "base_moisture": f"{draw(decimals(7, 11, 1))} %",
            "turn_moisture": [
                f"{value} %"
                for value in draw(st.lists(decimals(7, 11, 1), min_size=needed, max_size=needed))
            ],
        },
    }


@st.composite
def ranged_bowls(draw: st.DrawFn) -> Tables:
    """Tables for make_bowl with kerf, film and friction known as ranges; the wood adds its own."""
    pitch, base = draw(decimals(5, 9)), draw(decimals(20, 40))
    outer = base + pitch * (draw(st.integers(2, 4)) + draw(decimals(0.7, 1.4)))
    kerf, friction = draw(decimals(0.3, 1.0)), draw(decimals(0.1, 0.5))
    film = draw(decimals(0, 0.1))
    return {
        "board": {
            "wood": draw(st.sampled_from(("cherry", "walnut", "white ash", "white oak"))),
            "thickness": millimetres(draw(decimals(6, 25))),
            "across": millimetres(2 * outer),
            "moisture": "8 %",
        },
        "cut": {
            "tilt": f"{draw(decimals(2, 20))} deg",
            "kerf": f"{kerf} mm to {kerf + draw(decimals(0.05, 0.3)):.2f} mm",
            "pitch": millimetres(pitch),
            "base": millimetres(2 * base),
        },
        "use": {
            "film": f"{film} mm to {film + draw(decimals(0.01, 0.1)):.2f} mm",
            "friction": f"{friction} to {friction + draw(decimals(0.05, 0.3)):.2f}",
        },
    }
