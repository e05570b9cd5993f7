"""The air round a bowl, and how its wood follows it.

An EPW file, monthly means or a simple range go in; the room's air hour by hour, the moisture that wood
comes to in it, and the lag of thin turns and of a thick base come out.
"""

from fitsim.climate.indoor_air import moisture_in_air_percent
from fitsim.climate.moisture_lag import Lag, follow_percent
from fitsim.climate.place import Place, read_place
from fitsim.climate.weather import HourlyAir, read_epw

__all__ = [
    "MODULES",
    "HourlyAir",
    "Lag",
    "Place",
    "follow_percent",
    "moisture_in_air_percent",
    "read_epw",
    "read_place",
]

MODULES = (
    "weather",
    "indoor_air",
    "moisture_lag",
    "diffusion",
    "place",
)
"""In reading order: each imports only those before it."""
