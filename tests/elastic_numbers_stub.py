"""Deciding numbers of the elastic strip as far as tests of sweeps and maps need them."""

import numpy as np

from fitsim.bowl import Bowl
from fitsim.elastic import elastic_answer
from fitsim.fit import rigid_fit
from fitsim.verdict import DecidingNumbers


def elastic_numbers(bowl: Bowl) -> DecidingNumbers:
    """Hold and overlap of the strip pressed open; slot and splitting as in the closed form."""
    rigid = rigid_fit(bowl)
    springy = elastic_answer(bowl, rigid, nodes_per_turn=24)
    return DecidingNumbers(
        slot_left_mm=rigid.numbers.slot_left_mm,
        overlap=1 - float(springy.drop_mm.max()) / bowl.board.thickness_mm,
        hold_used=float(np.nanmax(springy.hold_used)),  # nan: a turn that touches nothing
        split_chance=rigid.numbers.split_chance,
    )
