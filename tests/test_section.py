"""The sawn-through bowl: pieces that do not overlap, gaps that are the slot, seats that touch."""

import copy
import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from strategies import Tables, decimals, uneven_bowls

from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.cross_section import SectionPiece, section_pieces
from fitsim.bowl.standing import StandingBowl, standing_bowl
from fitsim.bowlfile.defaults import make_bowl


def dry_fit(tables: Tables) -> RigidFit:
    """Fit without swelling or film, in a board thick enough for every drop."""
    tables = copy.deepcopy(tables)
    tables["board"]["thickness"] = "45 mm"
    tables["use"] |= {"film": "0 mm", "base_moisture": tables["board"]["moisture"]}
    del tables["use"]["turn_moisture"]
    tables["cut"]["tilt"] = [f"{max(float(t.split()[0]), 3) * 0.6:.4f} deg" for t in tables["cut"]["tilt"]]
    return rigid_fit(make_bowl(tables))


def stiff(rigid: RigidFit) -> StandingBowl:
    """The bowl of stiff turns as it stands."""
    return standing_bowl(rigid, None)


def side(pieces: tuple[SectionPiece, ...], name: str) -> list[np.ndarray]:
    """Outlines from the base outward on one side, mirrored to the right."""
    base = pieces[0].outline_mm
    if name == "left":
        base = base[[1, 0, 3, 2]]
    sign = 1.0 if name == "right" else -1.0
    return [outline * (sign, 1.0) for outline in (base, *(p.outline_mm for p in pieces if p.side == name))]


def face_x(outline: np.ndarray, z: float, *, outer: bool) -> float:
    """Where a face stands at one height, on the straight line through its two corners."""
    (x0, z0), (x1, z1) = (outline[1], outline[2]) if outer else (outline[0], outline[3])
    return float(x0 + (x1 - x0) * (z - z0) / (z1 - z0))


@given(uneven_bowls(), decimals(0.2, 2.9))
def test_flat_section_shows_the_slots(tables: Tables, direction: float) -> None:
    """Flat: every gap is that turn's k/cos(theta) at every height, on both sides."""
    rigid = dry_fit(tables)
    pieces = section_pieces(rigid, direction_rad=direction)
    for name, start in (("right", direction), ("left", direction + math.pi)):
        outlines = side(pieces, name)
        assert len(outlines) - 1 == math.ceil((rigid.strip.angle_rad[-1] - start) / (2 * math.pi))
        for turn, (inner, outer) in enumerate(itertools.pairwise(outlines)):
            slot = np.interp(start + 2 * math.pi * turn, rigid.slot.angle_rad, rigid.slot.slot_mm)
            for z in (-20.0, 0.0, 17.0):
                gap = face_x(outer, z, outer=False) - face_x(inner, z, outer=True)
                assert gap == pytest.approx(slot, abs=1e-9)


@given(uneven_bowls(), decimals(0.2, 2.9))
def test_open_section_shows_touching_bevels(tables: Tables, direction: float) -> None:
    """Open: each turn's inner face lies on its neighbour's outer face over the whole overlap."""
    rigid = dry_fit(tables)
    pieces = section_pieces(rigid, stiff(rigid), direction_rad=direction)
    drops = rigid.seats.seat_drop_mm
    for name in ("right", "left"):
        outlines = side(pieces, name)
        for turn, (inner, outer) in enumerate(itertools.pairwise(outlines)):
            assert outer[0, 1] - inner[0, 1] == pytest.approx(drops[turn], rel=1e-9)
            low, high = outer[0, 1], inner[2, 1]
            assert low < high
            for z in (low, 0.7 * low + 0.3 * high, high):
                gap = face_x(outer, z, outer=False) - face_x(inner, z, outer=True)
                assert gap == pytest.approx(0, abs=1e-9)


def test_where_the_strip_is_met() -> None:
    """Right at the given direction from the root, left half a turn on: half a pitch farther out."""
    rigid = rigid_fit(
        make_bowl(
            {
                "board": {"thickness": "18 mm", "across": "150 mm"},
                "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
            }
        )
    )
    pieces = section_pieces(rigid, direction_rad=1.0)
    right, left = side(pieces, "right"), side(pieces, "left")
    half_slot = 0.35 / math.cos(math.radians(6))
    middle = (right[1][0] + right[1][3]) / 2
    assert middle == pytest.approx((28 + 6.5 / (2 * math.pi) + half_slot, 0))
    assert (left[1][0] - right[1][0]) == pytest.approx((3.25, 0))
    assert [p.turn for p in pieces] == [0, *range(1, len(right)), *range(1, len(left))]
    # On the left the last piece, at 6.66 of 7.23 turns, has no slot outside it: it ends at the
    # board's own square edge, half the board's width from the axis. On the right, at 6.16, it has.
    assert left[-1][1:3, 0] == pytest.approx(75)
    assert right[-1][1:3, 0].max() > 75 - 6.5
    assert right[-1][1, 0] < right[-1][2, 0]


def test_a_turn_without_a_seat_hangs_below() -> None:
    """Where nothing binds the turn is shown below its neighbour's underside, clear of the wood."""
    rigid = rigid_fit(
        make_bowl(
            {
                "board": {"thickness": "10 mm", "across": "150 mm"},
                "cut": {"tilt": "1.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"},
            }
        )
    )
    outlines = side(section_pieces(rigid, stiff(rigid)), "right")
    for inner, outer in itertools.pairwise(outlines):
        assert outer[0, 1] > inner[2, 1]
