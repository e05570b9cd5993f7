"""The cut as a line and its faces: what follows from kerf, tilt, pitch and thickness alone.

A board's outline, pitch, base, kerf and tilt go in; the slot as a sampled curve, its faces after swelling
and film, the drop at which bevels bind, and the shape of the open bowl come out. Another outline, a
varying pitch or an uneven kerf is another function that makes a ``SlotCurve``.
"""

__all__ = ["MODULES"]

MODULES = (
    "cupping",
    "blade",
    "board_outline",
    "offsets",
    "winding",
    "cut",
    "wound_slot",
    "rings",
    "seats",
    "shape",
    "svg_path",
    "outline_file",
)
"""In reading order: each imports only those before it."""
