"""Physical-fit simulator for one-cut ring bowls.

Three lines from a file to an answer::

    import fitsim
    answer = fitsim.fit(fitsim.read_bowl("bowl.toml"))
    print(answer.verdict.state)

The package reads in the order the physics happens:

>>> import fitsim
>>> fitsim.PACKAGES[:4]
('wood', 'climate', 'geometry', 'strip')
"""

from fitsim.bowl.fit import BowlFit, fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import STATES
from fitsim.bowlfile.defaults import make_bowl, read_bowl
from fitsim.errors import FitsimError, InputError, NoConvergenceError, OutsideModelError
from fitsim.plan.planned_bowls import Plan
from fitsim.plan.planning import plan
from fitsim.plan.wishes import Wishes, read_wishes
from fitsim.wood.species import find_wood, woods

__all__ = [
    "MODULES",
    "PACKAGES",
    "STATES",
    "Bowl",
    "BowlFit",
    "FitsimError",
    "InputError",
    "NoConvergenceError",
    "OutsideModelError",
    "Plan",
    "Wishes",
    "find_wood",
    "fit",
    "make_bowl",
    "plan",
    "read_bowl",
    "read_wishes",
    "woods",
]

MODULES = (
    "assumption",
    "errors",
    "version",
    "arrays",
    "tables",
    "manual",
    "progress",
    "one_thread",
    "output_streams",
    "files",
    "processes",
    "toml_files",
    "quantities",
    "table_keys",
    "cli",
)
"""Modules at the top in reading order, each importing only earlier ones; the command line is last."""

PACKAGES = (
    "wood",
    "climate",
    "geometry",
    "strip",
    "bowl",
    "bowlfile",
    "saw",
    "tolerances",
    "plan",
    "tilt",
    "seasons",
    "failure",
    "sweeps",
    "rigidbody",
    "report",
    "pattern",
    "drawing",
    "commands",
    "page",
)
"""Packages in the order of the physics: each may import the modules at the top and the packages before it,
and lists its own modules in reading order as ``MODULES`` (a test checks all this)."""
