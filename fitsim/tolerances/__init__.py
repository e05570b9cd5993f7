"""The same bowl sawn again and again: how far saw, wood and hand stray.

A ``Bowl`` with its tolerances goes in; many bowls, each with every input at one value, come out, and a
surface laid over what presses of some of them gave.
"""

__all__ = ["MODULES"]

MODULES = (
    "samples",
    "press_surface",
)
"""In reading order: each imports only those before it."""
