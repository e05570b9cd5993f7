"""From a bowl that is wanted to the cut that gives it.

A silhouette, sizes and what may not change go in; a bowl file that gives them, within what can be sawn and
nailed, comes out.
"""

__all__ = ["MODULES"]

MODULES = (
    "silhouette",
    "wishes",
    "trade_bounds",
    "cut_of_wall",
    "pressed_wall",
    "planned_bowls",
    "wishes_on_board",
    "geometric_cuts",
    "lock_order",
    "corrected_cuts",
    "in_the_way",
    "other_boards",
    "planning",
)
"""In reading order: each imports only those before it."""
