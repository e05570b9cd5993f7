"""Physical-fit simulator for one-cut ring bowls.

Three lines from a file to an answer::

    import fitsim
    answer = fitsim.fit(fitsim.read_bowl("bowl.toml"))
    print(answer.verdict.state)

The package reads in the order the physics happens:

>>> import fitsim
>>> fitsim.CHAIN[:4]
('errors', 'arrays', 'tables', 'files')
"""

from fitsim.assume import make_bowl, read_bowl
from fitsim.bowl import Bowl
from fitsim.errors import FitsimError, InputError, NoConvergenceError, OutsideModelError
from fitsim.fit import BowlFit, fit
from fitsim.verdict import STATES
from fitsim.wood import find_wood, woods

__all__ = [
    "CHAIN",
    "STATES",
    "Bowl",
    "BowlFit",
    "FitsimError",
    "InputError",
    "NoConvergenceError",
    "OutsideModelError",
    "elastic",
    "find_wood",
    "fit",
    "make_bowl",
    "read_bowl",
    "rigid",
    "woods",
]

CHAIN = (
    "errors",
    "arrays",
    "tables",
    "files",
    "quantities",
    "grain",
    "wood",
    "moisture",
    "finish",
    "weather",
    "indoor",
    "lag",
    "diffusion",
    "cupping",
    "blade",
    "cut",
    "ring",
    "seat",
    "shape",
    "taper",
    "torsion",
    "strength",
    "root",
    "split",
    "nail",
    "sectional",
    "strip",
    "stiffness",
    "compliance",
    "contact",
    "meeting",
    "pressed",
    "readings",
    "balance",
    "press",
    "hold",
    "stress",
    "bowl",
    "beyond",
    "saw",
    "scrap",
    "reading",
    "testcut",
    "nextcut",
    "verdict",
    "ranges",
    "rigid",
    "yearfit",
    "elastic",
    "fit",
    "changes",
    "imperfect",
    "chance",
    "tiltrange",
    "opening",
    "calibration",
    "tilt",
    "bowlfile",
    "possible",
    "assume",
    "keyed",
    "scrapfile",
    "sawfile",
    "varied",
    "regions",
    "carried",
    "map",
    "section",
    "layout",
    "pegstring",
    "linefile",
    "tablesetting",
    "trial",
    "bench",
    "settle",
    "witness",
    "wording",
    "benchsheet",
    "answer",
    "store",
    "sweep",
    "progress",
    "sheet",
    "drawing",
    "unrolled",
    "stripdrawing",
    "mapdrawing",
    "tiltdrawing",
    "patterndrawing",
    "benchdrawing",
    "picture",
    "pressreport",
    "report",
    "sawreport",
    "tiltreport",
    "fitcommand",
    "sweepcommand",
    "sheetcommand",
    "cli",
)
"""Modules in reading order; each may import only modules before it (a test checks it)."""
