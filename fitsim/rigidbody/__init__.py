"""The rigid-body model: the same rings in a general engine, an independent check of the seats.

Ring sections and friction go in; how far they sink, whether they stay, turned over and shaken, come out.
"""

__all__ = ["MODULES"]

MODULES = (
    "records",
    "engine",
    "settling",
    "check",
)
"""In reading order: each imports only those before it."""
