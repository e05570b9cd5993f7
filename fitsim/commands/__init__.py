"""What each command does with what was typed: read, ask, write, and return what to print.

Options of the command line go in; text comes out, and files that were asked for are written, never over
another. What is done round every command, whichever it is, stands in ``command_group``.
"""

__all__ = ["MODULES"]

MODULES = (
    "command_group",
    "fit",
    "seasons",
    "explain",
    "testcut",
    "sweep_and_map",
    "sheet",
    "plan",
    "tilt",
)
"""In reading order: each imports only those before it."""
