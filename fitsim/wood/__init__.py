"""What a board is made of: stiffness and strength of wood, and what moisture does to them.

A name of a wood, a direction of the grain and a moisture content go in; stiffness in the axes of board
and strip, swelling, strength and the chance that stressed wood breaks come out. Every number is a row of
``fitsim/data`` with its source. Nothing here knows of a bowl.
"""

__all__ = ["MODULES"]

MODULES = (
    "grain",
    "species",
    "moisture",
    "finishes",
    "weakest_link",
    "across_grain",
    "strength",
)
"""In reading order: each imports only those before it."""
