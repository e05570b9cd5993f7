"""Pictures: each function takes a result and returns a figure; nothing is computed here.

Results go in; matplotlib figures, printed pages in true millimetres, and picture files come out. Matplotlib
is loaded only when something is drawn.
"""

__all__ = ["MODULES"]

MODULES = (
    "paper",
    "bowl_drawing",
    "unrolled_strip",
    "strip_drawing",
    "map_drawing",
    "tilt_drawing",
    "failure_drawing",
    "pattern_drawing",
    "bench_drawing",
    "tests_drawing",
    "picture_files",
    "plan_drawing",
    "seasons_drawing",
)
"""In reading order: each imports only those before it."""
