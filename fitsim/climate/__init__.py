"""The air round a bowl, and how its wood follows it.

An EPW file, monthly means or a simple range go in; the room's air hour by hour, the moisture that wood
comes to in it, and the lag of thin turns and of a thick base come out.
"""

__all__ = ["MODULES"]

MODULES = (
    "weather",
    "indoor_air",
    "moisture_lag",
    "diffusion",
    "place",
)
"""In reading order: each imports only those before it."""
