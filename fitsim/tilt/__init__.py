"""The tilt to set: where a bowl locks, what limits each end, and how many lock with an unsteady hand.

A ``Bowl`` with its tolerances goes in; ranges of tilts, the best one, and its chance with its standard
error come out.
"""

__all__ = ["MODULES"]

MODULES = (
    "lock_chance",
    "tilt_range",
    "widening",
    "best_tilt",
)
"""In reading order: each imports only those before it."""
