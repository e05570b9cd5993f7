"""Bowls of other outlines than a round one for the tests, and outlines drawn at random."""

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st
from strategies import decimals

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.geometry.board_outline import Outline

ROUND: dict[str, dict[str, Any]] = {
    "board": {
        "wood": "walnut",
        "thickness": "15 mm",
        "across": "118 mm",
        "moisture": "9 %",
        "grain": "30 deg",
    },
    "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6.1 mm", "base": "52 mm", "root": "37 deg"},
    "use": {
        "friction": "0.35",
        "press": "90 N",
        "base_moisture": "10 %",
        "turn_moisture": "7 %",
        "film": "0 mm",
    },
}


def with_tables(**more: dict[str, Any]) -> Bowl:
    """The round bowl's tables with some keys of each changed; None takes a key out."""
    tables = {name: {**table, **more.get(name, {})} for name, table in ROUND.items()}
    return make_bowl({n: {k: v for k, v in t.items() if v is not None} for n, t in tables.items()})


def outlined(edge: Outline, *, corner_mm: float, base: Outline | None = None, **cut: Any) -> Bowl:
    """The round bowl with another edge of board; its moistures as when sawn."""
    bowl = with_tables(use={"base_moisture": None, "turn_moisture": None})
    board = replace(bowl.board, outline=edge.kind, edge=edge, across_mm=edge.across_mm)
    made = replace(bowl.cut, base_corner_mm=corner_mm, base_edge=base, **cut)
    return replace(bowl, board=board, cut=made)


UNLIKE = {
    "round in oval": (Outline("oval", 118.0, 170.0), Outline("oval", 64.0, 64.0), 32.0),
    "round in rectangle": (Outline("rectangle", 150.0, 118.0, 25.0), Outline("oval", 60.0, 60.0), 30.0),
    "rectangle in oval": (Outline("oval", 170.0, 118.0), Outline("rectangle", 70.0, 52.0, 22.0), 26.0),
}
"""Boards with a base of another outline: board's edge, base's line and half the narrow way of that."""


def unlike(name: str, **cut: Any) -> Bowl:
    """One of the boards whose base is of another outline, its turns running aslant."""
    edge, base, radius = UNLIKE[name]
    return outlined(edge, corner_mm=16.0, base=base, base_radius_mm=radius, root_rad=0.6, **cut)


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """Ovals, rectangles and polygons of unequal sizes, 100 to 260 mm."""
    kind = draw(st.sampled_from(("oval", "rectangle", "polygon")))
    across, longer = draw(decimals(100, 150)), draw(decimals(1, 1.7))
    sizes = (across * longer, across) if draw(st.booleans()) else (across, across * longer)
    if kind == "polygon":
        return Outline(kind, across, across, draw(decimals(0, 30)), draw(st.integers(3, 12)))
    return Outline(kind, *sizes, 0.0 if kind == "oval" else draw(decimals(0, 50)))


@st.composite
def outlined_bowls(draw: st.DrawFn) -> Bowl:
    """Bowls of random outlines, their base no tighter than the strip can follow."""
    edge = draw(outlines())
    base, pitch = draw(decimals(20, 30)), draw(decimals(4, 8))
    return outlined(
        edge,
        corner_mm=draw(decimals(0.4, 1)) * base,
        base_radius_mm=base,
        pitch_mm=pitch,
        tilt_rad=(draw(decimals(0.05, 0.2)),),
        kerf_mm=(draw(decimals(0.4, 1.1)),),
        root_rad=draw(decimals(-3, 3)),
    )
