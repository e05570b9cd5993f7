"""What scrap and off-cuts teach: kerf and true tilt of a saw, friction, strength and moisture of a board.

Readings go in; what is believed afterwards comes out by Bayes' rule, kept in a file, and laid on a bowl by
``with_learned``. Readings that cannot all be right are named.
"""

__all__ = ["MODULES"]

MODULES = (
    "kerf_and_scale",
    "measurements",
    "likelihood",
    "test_cuts",
    "next_cut",
    "posterior",
    "slide_test",
    "break_test",
    "oven_test",
    "learned",
    "deciding_test",
    "tests_file",
    "saw_file",
    "learned_file",
)
"""In reading order: each imports only those before it."""
