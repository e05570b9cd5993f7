"""How well one press carries a bowl's closed form to bowls unlike it: ``04_failed_bowl.py --stage anchor``.

Another bowl than the one the powers were read off (walnut of 15 mm, tilt 6.5 deg, 80 N), drawn with its
usual scatter and one cause each, foretold and pressed at 24 nodes a turn.
"""

from dataclasses import replace

import numpy as np
from failed_bowls import bowl_of, run_of

from fitsim.anchor import anchor_of
from fitsim.assume import make_bowl
from fitsim.causes import causes
from fitsim.drawn import USUAL, dimensions, draw, plan_of
from fitsim.errors import FitsimError
from fitsim.foretell import HELD_STATES, foretell
from fitsim.rigid import rigid_fit

TABLES = {
    "board": {"wood": "walnut", "thickness": "15 mm", "across": "150 mm"},
    "cut": {"tilt": "6.5 deg", "kerf": "0.75 mm", "pitch": "7 mm", "base": "76 mm"},
    "use": {"finish": "none", "press": "80 N"},
}
CAUSES = (
    None, None, "tilt off", "tilt off", "kerf wide", "kerf wide", "board thin", "friction low",
    "film in the slot", "rim dry", "pressed too hard", "pressed too hard", "pressed too gently",
    "blade wide", "nail too long", "tilt off",
)  # fmt: skip
NODES = 24


def anchor_table() -> str:
    """Pressed beside foretold, one line a bowl, and the worst difference where it held."""
    named = {cause.name: cause for cause in causes()}
    plan = plan_of(make_bowl(TABLES))
    anchor, rng = anchor_of(plan), np.random.default_rng(3)
    lines = ["cause: pressed, foretold (chance); drop of turns 2 and 3, rise, pressed/foretold"]
    worst = np.zeros(3)
    for name in CAUSES:
        z = rng.standard_normal((1, dimensions(plan)))
        z[:, USUAL : USUAL + plan.turns] = 0.0
        acting = () if name is None else (named[name],)
        drawn = draw(plan, z, acting, spread=replace(plan.spread, wander_mm=0.0))
        drawn = replace(drawn, luck=np.zeros(1))
        now = foretell(plan, anchor, drawn)
        bowl = bowl_of(plan, drawn, np.random.default_rng(1))
        bowl = replace(bowl, board=replace(bowl.board, wood=plan.bowl.board.wood))
        try:
            run = run_of(bowl, rigid_fit(bowl), int(drawn.nail[0]), NODES)
        except FitsimError as trouble:
            lines.append(f"{name}: no press ({trouble})")
            continue
        state = "fell through" if run.fell else "sprang back" if run.hold >= 1 else "held"
        pressed = np.array([run.drops_mm[1], run.drops_mm[2], run.rise_mm])
        told = np.array([now.drops_mm[0, 1], now.drops_mm[0, 2], now.readings["rise"][0]])
        best = int(now.state[0].argmax())
        shown = ", ".join(f"{p:.1f}/{t:.1f}" for p, t in zip(pressed, told, strict=True))
        lines.append(f"{name}: {state}, {HELD_STATES[best]} ({now.state[0, best]:.2f}); {shown} mm")
        if state == "held":
            worst = np.maximum(worst, np.abs(told / pressed - 1))
    return "\n".join([*lines, f"worst where it held: drops {worst[:2].max():.1%}, rise {worst[2]:.1%}"])
