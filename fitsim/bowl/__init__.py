"""One definite bowl: its inputs, its judgement, and the verdict over what is known only as a range.

A ``Bowl`` goes in; ``fit`` puts the physics in order and gives a ``BowlFit``: closed form of the seats,
elastic strip, deciding numbers, verdict with margins, and what the model leaves out with its size.
"""

__all__ = ["MODULES"]

MODULES = (
    "taper_statics",
    "nail",
    "hand_press",
    "inputs",
    "beyond",
    "verdict",
    "ranges",
    "closed_form",
    "strip_layout",
    "elastic",
    "judgement",
    "standing",
    "fit",
    "changes",
    "cross_section",
)
"""In reading order: each imports only those before it."""
