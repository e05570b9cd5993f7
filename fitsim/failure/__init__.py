"""Why a bowl failed: causes, what each would have shown, and the next measurement.

What was planned, seen and measured goes in; the chance of every cause, what to change for the next bowl,
and the reading that would tell the causes apart best come out.
"""

__all__ = ["MODULES"]

MODULES = (
    "causes",
    "failed_samples",
    "sample_seats",
    "pressed_samples",
    "bowl_emulator",
    "predict",
    "observations",
    "matching",
    "importance",
    "explanations",
    "cause_chances",
    "next_measurement",
    "remedies",
    "why_failed",
)
"""In reading order: each imports only those before it."""
