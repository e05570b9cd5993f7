"""A bowl through a year where it is kept, opened afresh or left standing open.

A ``Bowl`` and a place go in; rocking, level, play and the chance of splitting week by week, the worst of
each, and how dry to saw for that place come out.
"""

__all__ = ["MODULES"]

MODULES = (
    "moisture_year",
    "creep",
    "advice",
    "weeks",
    "swelling_strip",
    "left_open",
    "after_move",
    "year",
)
"""In reading order: each imports only those before it."""
