"""One definite bowl: its inputs, its judgement, and the verdict over what is known only as a range.

A ``Bowl`` goes in; ``fit`` puts the physics in order and gives a ``BowlFit``: closed form of the seats,
elastic strip, deciding numbers, verdict with margins, and what the model leaves out with its size.
"""

from fitsim.bowl.changes import changes_of
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.verdict import STATES, DecidingNumbers, Verdict, judge

__all__ = [
    "MODULES",
    "STATES",
    "Bowl",
    "BowlFit",
    "DecidingNumbers",
    "Verdict",
    "changes_of",
    "judge",
    "open_bowl",
    "rigid_fit",
    "with_input",
]

MODULES = (
    "taper_statics",
    "nail",
    "hand_press",
    "inputs",
    "beyond",
    "verdict",
    "ranges",
    "closed_form",
    "strip_layout",
    "elastic",
    "judgement",
    "standing",
    "fit",
    "changes",
    "cross_section",
)
"""In reading order: each imports only those before it."""
