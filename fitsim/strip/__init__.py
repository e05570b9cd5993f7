"""The strip between the slots as one elastic beam, pressed open on its bevels with friction and let go.

An ``ElasticBowl`` (strip, seats, nail, friction) and a press go in; the states on the way, what is left
when the press is taken away, and the stress along the strip come out. The shape is written as splines,
contact as an augmented Lagrangian; the algebra stands in ``contact_law``, ``gap`` and ``configuration``,
its inner loops, compiled, in ``kernels``.
Arrays in, arrays out: no wood by name, no bowl file.
"""

__all__ = ["MODULES"]

MODULES = (
    "compiled",
    "kernels",
    "torsion",
    "root",
    "curved_bar",
    "section_energy",
    "warping",
    "beam_section",
    "beam",
    "contact_law",
    "gap",
    "nail_tie",
    "state",
    "results",
    "splines",
    "configuration",
    "load_step",
    "sliding",
    "equilibrium",
    "turning_back",
    "press",
    "release",
    "stress",
)
"""In reading order: each imports only those before it."""
