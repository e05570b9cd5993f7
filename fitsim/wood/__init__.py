"""What a board is made of: stiffness and strength of wood, and what moisture does to them.

A name of a wood, a direction of the grain and a moisture content go in; stiffness in the axes of board
and strip, swelling, strength and the chance that stressed wood breaks come out. Every number is a row of
``fitsim/data`` with its source. Nothing here knows of a bowl.
"""

from fitsim.wood.grain import Orthotropic, strip_stiffness
from fitsim.wood.moisture import equilibrium_moisture_percent, wood_at_moisture
from fitsim.wood.species import Sourced, Wood, find_wood, woods
from fitsim.wood.strength import grain_strength

__all__ = [
    "MODULES",
    "Orthotropic",
    "Sourced",
    "Wood",
    "equilibrium_moisture_percent",
    "find_wood",
    "grain_strength",
    "strip_stiffness",
    "wood_at_moisture",
    "woods",
]

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
