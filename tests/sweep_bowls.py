"""A bowl to sweep over, light to import: the killed run starts several processes."""

import math
import time
from typing import Any

import numpy as np

from fitsim.bowl.closed_form import deciding_numbers, rigid_rise_mm
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.judgement import Judgement
from fitsim.bowl.verdict import DecidingNumbers, judge
from fitsim.sweeps.run_rows import Question, ask
from fitsim.sweeps.varied_quantities import read_varied

TABLES: dict[str, Any] = {
    "name": "Fennel dish",
    "board": {"wood": "white oak", "thickness": "18 mm", "across": "150 mm", "moisture": "8 %"},
    "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
    "use": {"finish": "none", "friction": "0.2 to 0.5"},
}


def answer_with(bowl: Bowl, numbers: DecidingNumbers) -> Judgement:
    """A judgement that rests on given numbers, its rise that of rigid rings."""
    rise = rigid_rise_mm(bowl) if numbers.overlap > 0 and numbers.slot_left_mm > 0 else math.nan
    state, asks = judge(numbers, bowl.limits), bowl.use.friction
    return Judgement(state, numbers, rise, rise, 8.0, asks, 10.0, np.empty(0))


def rigid_rings(bowl: Bowl) -> Judgement:
    """Rigid rings on their seats in place of the strip: quick, and their laws can be written down."""
    return answer_with(bowl, deciding_numbers(bowl))


def asked(*texts: str, **how: Any) -> Question:
    """A question to the Fennel dish, answered by rigid rings."""
    return ask(TABLES, [read_varied(text) for text in texts], **{"judge_one": rigid_rings, **how})


def slow_rings(bowl: Bowl) -> Judgement:
    """Rigid rings that take their time, so that a run can be killed in its middle."""
    time.sleep(0.02)
    return rigid_rings(bowl)
