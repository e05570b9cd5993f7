"""A bowl to sweep over, light to import: the killed run starts several processes."""

import time
from typing import Any

from fitsim.bowl import Bowl
from fitsim.rigid import deciding_numbers
from fitsim.sweep import Question, ask
from fitsim.varied import read_varied
from fitsim.verdict import DecidingNumbers

TABLES: dict[str, Any] = {
    "name": "Fennel dish",
    "board": {"wood": "white oak", "thickness": "18 mm", "across": "150 mm", "moisture": "8 %"},
    "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
    "use": {"finish": "none", "friction": "0.2 to 0.5"},
}


def asked(*texts: str, **how: Any) -> Question:
    """A question to the Fennel dish."""
    return ask(TABLES, [read_varied(text) for text in texts], **how)


def slow_numbers(bowl: Bowl) -> DecidingNumbers:
    """Closed form that takes its time, so that a run can be killed in its middle."""
    time.sleep(0.02)
    return deciding_numbers(bowl)
