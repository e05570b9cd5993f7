"""From a bowl that is wanted to the cut that gives it.

A silhouette, sizes and what may not change go in; a bowl file that gives them, within what can be sawn and
nailed, comes out.
"""

from fitsim.plan.planning import Plan, PlannedBowl

__all__ = ["MODULES", "Plan", "PlannedBowl"]

MODULES = (
    "silhouette",
    "wishes",
    "trade_bounds",
    "cut_of_wall",
    "pressed_wall",
    "planning",
)
"""In reading order: each imports only those before it."""
