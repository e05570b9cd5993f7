"""Do bowls that are not round lock, and what do their corners cost?

Question: an oval dish, a rounded square and a free outline of our own (``pond.svg``, with one hollow
bank), all invented: how do they press? And what do corners cost a small, thick bowl, beside a round one
with a base as wide?

Method: ``fitsim.bowl.elastic.open_bowl`` at both ends of the friction of an oiled bowl (0.2 and 0.55),
every
other range at its middle. Then a board of mahogany, 19 mm thick and 150 mm across (pitch 6.35 mm, kerf
0.8 mm, 5 deg, base 70 mm, friction 0.35), round and as squares whose corners at the base are 30, 22 and
15 mm, those of the board 40 mm more, so that all turns are parallel.

Answer: all three lock at both ends. Pressed as hard as it takes (59, 35 and 45 N) the rims stand 37 to 53
mm high and keep at least 98 percent of it; fewer than 1 bowl in 100 would split. Every turn sinks by
kerf/sin(tilt) all round where it is stiff. On the small bowl tight corners are dear: round it is pressed
with 66 N and 1 in 100 splits; with corners of 30 mm with 46 N and 0.7; of 22 mm with 90 N and 10; of 15 mm
with 151 N and 54, in the first corner after the root. Half the base's
narrow half, 17 mm here, is thus no safe corner for so thick a
board; on a base twice as wide (the rounded square) no such cost is seen.

How finely must a strip with corners be divided (``by_points``, one press each, 24, 36 and 72 pieces a
turn; 36 are used)? Rise moves by 1 percent at most. The chance of splitting: 0.0056, 0.0059, 0.0060 with
corners of 30 mm pressed with 50 N; 0.40, 0.52, 0.49 with 15 mm and 150 N; 0.026, 0.039, 0.033 on a
pentagon with 22 mm and 70 N. The place stays in turn 1, within 10 degrees of the clock. The press it is
given, 1.25 times that needed: 47, 46, 47 N; 134, 151, 129 N; 74, 85, 85 N.

Run it with ``python studies/09_not_round.py``; it takes some minutes. ``python studies/09_not_round.py
FOLDER`` also draws the section and the strip of each into a folder; ``--points`` prints that table.
"""

import argparse
import math
from dataclasses import replace
from pathlib import Path

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening, open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.drawing.bowl_drawing import bowl_figure
from fitsim.drawing.strip_drawing import strip_figure

HERE = Path(__file__).parent

OVAL = {"outline": "oval", "length": "300 mm", "width": "200 mm", "wood": "cherry", "thickness": "18 mm"}
SQUARE = {
    "outline": "rectangle",
    "length": "240 mm",
    "width": "240 mm",
    "corner": "60 mm",
    "wood": "sugar maple",
    "thickness": "16 mm",
}
POND = {"outline": str(HERE / "pond.svg"), "wood": "walnut", "thickness": "16 mm"}
CUT = {"tilt": "5 deg", "pitch": "8 mm", "blade": "1/8 in"}

BOWLS = {
    "oval dish": {"board": OVAL, "cut": {**CUT, "kerf": "0.8 mm", "base": "100 mm"}},
    "rounded square": {
        "board": SQUARE,
        "cut": {**CUT, "kerf": "0.7 mm", "base": "150 mm", "base_corner": "50 mm"},
    },
    "pond": {"board": POND, "cut": {**CUT, "kerf": "0.7 mm", "base": "96 mm", "base_corner": "36 mm"}},
}
FRICTIONS = (0.2, 0.55)
SMALL = {
    "board": {"wood": "mahogany, true", "thickness": "19 mm"},
    "cut": {"tilt": "5 deg", "kerf": "0.8 mm", "pitch": "6.35 mm", "base": "70 mm"},
    "use": {"friction": "0.35", "press": "200 N"},
}
CORNERS = (None, 30, 22, 15)
"""Corners of the small bowl's base, None the round one; those of its board are 40 mm wider. [mm]"""


def made(name: str) -> Bowl:
    """One of the three bowls."""
    return fitsim.make_bowl({"name": name, **BOWLS[name], "use": {"finish": "oil", "press": "200 N"}})


def small(corner_mm: int | None) -> Bowl:
    """The small bowl, round or a square with such corners at its base."""
    board, cut = {**SMALL["board"], "across": "150 mm"}, SMALL["cut"]
    if corner_mm is not None:
        sizes = {"length": "150 mm", "width": "150 mm", "corner": f"{corner_mm + 40} mm"}
        board = {**SMALL["board"], "outline": "rectangle", **sizes}
        cut = {**cut, "base_corner": f"{corner_mm} mm"}
    return fitsim.make_bowl({**SMALL, "board": board, "cut": cut})


def told(bowl: Bowl, friction: float, label: str) -> Opening:
    """Open a bowl at one friction and print a line about it."""
    opened = open_bowl(replace(bowl, use=replace(bowl.use, friction=friction)))
    worst, numbers = opened.stress.worst, opened.numbers
    print(
        f"{label:18} friction {friction:4.2f}: {opened.judged.asked_N:4.0f} N, "
        f"rise {opened.rim.mean_mm:4.1f} mm, kept {numbers.kept:4.0%}, overlap {numbers.overlap:3.0%}, "
        f"friction used {numbers.friction_used:3.0%}, split {numbers.split_chance:.2g} "
        f"(turn {worst.turn}, {worst.mode})"
    )
    return opened


def by_points(pieces: tuple[int, ...] = (16, 24, 48)) -> None:
    """Press bowls with corners with one force each, divided ever more finely.

    Parameters
    ----------
    pieces : tuple[int, ...]
        Elements a revolution of a round bowl; where the line bends unevenly half as many again are taken.
    """
    five = {"outline": "polygon", "across": "150 mm", "sides": "5", "corner": "40 mm"}
    pentagon = fitsim.make_bowl(
        {
            **SMALL,
            "board": {**SMALL["board"], **five},
            "cut": {**SMALL["cut"], "base_corner": "22 mm"},
        }
    )
    for label, bowl, press_N in (
        ("corners 30 mm", small(30), 50.0),
        ("corners 15 mm", small(15), 150.0),
        ("pentagon 22 mm", pentagon, 70.0),
    ):
        for count in pieces:
            opened = open_bowl(bowl, press_N=press_N, nodes_per_turn=count, lowering=False)
            asked = open_bowl(bowl, nodes_per_turn=count, lowering=False).judged.asked_N
            worst = opened.stress.worst
            print(
                f"{label:15} {opened.elastic.nodes_per_turn:3d} pieces a turn, {press_N:.0f} N: rise "
                f"{opened.rim.mean_mm:5.2f} mm, split {opened.numbers.split_chance:.3g} (turn "
                f"{worst.turn}, {math.degrees(worst.clock_rad):.0f} deg from the grain); asks for "
                f"{asked:.0f} N"
            )


def main(
    names: tuple[str, ...] = tuple(BOWLS),
    corners: tuple[int | None, ...] = CORNERS,
    frictions: tuple[float, ...] = FRICTIONS,
    folder: Path | None = None,
) -> dict[str, list[Opening]]:
    """Press each bowl open and print what came of it.

    Parameters
    ----------
    names : tuple[str, ...]
        Which bowls.
    corners : tuple[int or None, ...]
        Corners of the small bowl's base, None for round. [mm]
    frictions : tuple[float, ...]
        Frictions.
    folder : pathlib.Path, optional
        Where pictures go; none are drawn without it.

    Returns
    -------
    dict[str, list[Opening]]
        By bowl, one for each friction.
    """
    found = {}
    for name in names:
        bowl = made(name)
        seats, shape = rigid_fit(bowl).seats, rigid_fit(bowl).shape
        drop = float(seats.seat_drop_mm[0])
        if shape is not None:
            print(f"{name}: every turn sinks {drop:.2f} mm all round; holds {shape.capacity_ml:.0f} ml")
        found[name] = [told(bowl, friction, name) for friction in frictions]
        if folder is not None:
            answer = fitsim.fit(bowl, beyond=False)
            for kind, draw in (("section", bowl_figure), ("strip", strip_figure)):
                draw(answer, units="mm").savefig(folder / f"{name.replace(' ', '-')}-{kind}.png", dpi=130)
    for corner in corners:
        told(small(corner), 0.35, "small, round" if corner is None else f"small, corners {corner} mm")
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, help="draw pictures into it")
    parser.add_argument("--points", action="store_true", help="with more and more points a turn")
    asked = parser.parse_args()
    if asked.points and asked.folder:
        parser.error("--points draws no pictures: leave the folder out")
    if asked.points:
        by_points()
    else:
        main(folder=asked.folder)
