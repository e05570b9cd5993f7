"""What does the strip's own spring add to the closed form?

Question: the closed form says where bevels bind and the taper rule says how much friction holding takes. A
real bowl is one elastic strip. How high does it stand under a press of 100 N, how much of the friction does
it use when let go, and which turn is worst?

Method: the strip of an invented cherry bowl as an elastic beam on its bevels (``fitsim.bowl.elastic``:
large
displacements, friction 0.4, a nail driven flat), pressed in load steps and let go, beside the closed form.

Answer (36 elements a turn): rim 33.6 mm (29.6 to 37.6) against 37.2 mm in the closed form; turns 2 to 5
within 0.4 mm of the rigid 7.34 mm, the innermost at half of it because the root holds it back, and the
tail beyond the last whole turn hardly seated. Friction used 0.67 on the innermost turn and 0.24 to 0.33
elsewhere, against 0.22 by the taper rule alone: the taper rule is too hopeful by a factor of three where
the strip springs hardest.

Run it with ``python studies/elastic_press.py``; it takes some seconds.
"""

import argparse

import fitsim
from fitsim.bowl.elastic import elastic_fit
from fitsim.bowl.strip_layout import NODES_PER_TURN

BOWL = {
    "board": {"wood": "cherry", "thickness": "19.05 mm", "across": "127 mm", "moisture": "8 %"},
    "cut": {"tilt": "5 deg", "kerf": "0.64 mm", "pitch": "6.35 mm", "base": "55.6 mm"},
    "use": {"finish": "none", "friction": "0.4", "press": "100 N"},
}


def main(nodes_per_turn: int = NODES_PER_TURN, across: str = "127 mm") -> dict[str, float]:
    """Press the bowl, let it go, print both models side by side.

    Parameters
    ----------
    nodes_per_turn : int
        Elements in a revolution.
    across : str
        Diameter of the board; a smaller one has fewer turns.

    Returns
    -------
    dict[str, float]
        Rise rigid and elastic, worst friction used and the taper rule.
    """
    bowl = fitsim.make_bowl({**BOWL, "board": {**BOWL["board"], "across": across}})
    rigid = fitsim.fit(bowl, rigid=True).rigid
    elastic = elastic_fit(bowl, nodes_per_turn=nodes_per_turn)
    opening = elastic.opening
    rise = 0.0 if rigid.shape is None else rigid.shape.rise_mm
    print(
        f"rise: closed form {rise:.1f} mm, elastic {opening.rim.mean_mm:.1f} mm "
        f"under {bowl.use.press_N:.0f} N"
    )
    print(f"rim from {opening.rim.least_mm:.1f} to {opening.rim.greatest_mm:.1f} mm")
    for j, (drop, used) in enumerate(zip(opening.turns.drop_mm, opening.friction_by_turn, strict=True)):
        rigid_drop = rigid.seats.seat_drop_mm[j]
        print(f"turn {j + 1}: drop {drop:.2f} mm (closed form {rigid_drop:.2f}), friction used {used:.2f}")
    print("holds when let go" if elastic.holds else "springs back when let go")
    return {
        "rise_rigid_mm": rise,
        "rise_elastic_mm": opening.rim.mean_mm,
        "friction_used": opening.numbers.friction_used,
        "taper_rule": max(rigid.friction_used),
    }


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    main()
