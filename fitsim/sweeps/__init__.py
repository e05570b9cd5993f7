"""Many bowls at once: tables over any quantities, and maps over two.

A bowl file's tables and quantities with their ranges go in; rows that survive being killed, and regions of
one state with their boundaries come out. A row's number decides its bowl and nothing else does.
"""

__all__ = ["MODULES"]

MODULES = (
    "varied_quantities",
    "row_answer",
    "asked_places",
    "regions",
    "lock_map",
    "row_store",
    "run_rows",
)
"""In reading order: each imports only those before it."""
