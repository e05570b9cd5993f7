"""Laws of the rigid seat, on bowls with unequal turns."""

import copy
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import Tables, cut_and_strip, decimals, millimetres, uneven_bowls, uneven_cuts

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.geometry.cut import spiral_slot
from fitsim.geometry.rings import SlotFaces, slot_faces
from fitsim.geometry.seats import TurnSeats, binding_drop_mm, turn_seats

LENGTHS = (("board", "thickness"), ("board", "across"), ("cut", "kerf"), ("cut", "pitch"),
           ("cut", "base"), ("use", "film"))  # fmt: skip


def scaled(tables: Tables, factor: float) -> Tables:
    """Return the bowl with every length multiplied."""

    def longer(text: str) -> str:
        return millimetres(float(text.removesuffix(" mm")) * factor)

    larger = copy.deepcopy(tables)
    for table, key in LENGTHS:
        value = larger[table][key]
        larger[table][key] = [longer(v) for v in value] if isinstance(value, list) else longer(value)
    return larger


def seats_of(cut: dict[str, Any], *, clockwise: bool = False, **swelling: Any) -> TurnSeats:
    """Seats of an uneven cut in a board 18 mm thick."""
    slot, strip = cut_and_strip(cut, clockwise=clockwise)
    return turn_seats(slot_faces(slot, strip, thickness_mm=18.0, **swelling))


@given(uneven_bowls(), st.sampled_from((0.5, 2.0, 3.0)))
def test_lengths_scale_the_drops_and_keep_the_verdict(tables: Tables, factor: float) -> None:
    """All lengths times a factor: drops and slots times it, shares and hold as before."""
    small, large = (
        fit(make_bowl(tables), rigid=True),
        fit(make_bowl(scaled(tables, factor)), rigid=True),
    )
    assert large.rigid.seats.seat_drop_mm == pytest.approx(
        factor * small.rigid.seats.seat_drop_mm, rel=1e-6
    )
    assert large.rigid.seats.slot_left_mm == pytest.approx(
        factor * small.rigid.seats.slot_left_mm, rel=1e-6, abs=1e-6
    )
    assert large.rigid.seats.overlap == pytest.approx(small.rigid.seats.overlap, abs=1e-6)
    assert large.rigid.friction_used == pytest.approx(small.rigid.friction_used, rel=1e-6)
    assert large.cut_length_mm == pytest.approx(factor * small.cut_length_mm, rel=1e-6)
    assert large.verdict.state == small.verdict.state


@given(uneven_cuts())
def test_every_turn_drops_by_its_own_kerf_over_sine(cut: dict[str, Any]) -> None:
    """H = k/sin(theta) turn by turn, whatever the neighbouring turns are."""
    seats = seats_of(cut)
    expected = [k / math.sin(t) for k, t in zip(cut["kerf_mm"], cut["tilt_rad"], strict=True)]
    assert seats.seat_drop_mm == pytest.approx(expected[: len(seats.share)], rel=1e-9)
    assert seats.overlap == pytest.approx(1 - seats.seat_drop_mm / 18, rel=1e-9, abs=1e-9)


@given(uneven_cuts(), st.data())
def test_drop_rises_with_kerf_and_falls_with_tilt(cut: dict[str, Any], data: st.DataObject) -> None:
    """One turn's kerf or tilt moves that turn's drop, the right way, and no other's."""
    before = seats_of(cut).seat_drop_mm
    turn = data.draw(st.integers(0, len(before) - 1))
    for key, more, sign in (("kerf_mm", 0.05, 1), ("tilt_rad", 0.01, -1)):
        values = list(cut[key])
        values[turn] += more
        moved = seats_of(cut | {key: values}).seat_drop_mm - before
        assert sign * moved[turn] > 0
        assert np.delete(moved, turn) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("grain_deg", [0.0, 45.0, 90.0, 20.0])
@given(tables=uneven_bowls(), now=decimals(6, 14, 1))
def test_even_moisture_scales_drops_by_the_thickness_alone(
    grain_deg: float, tables: Tables, now: float
) -> None:
    """The same change everywhere: h becomes h (1 + e_z), e_z = e_R cos^2 + e_T sin^2, exactly."""
    tables = copy.deepcopy(tables)
    tables["board"]["grain"] = f"{grain_deg} deg"
    tables["use"] |= {"film": "0 mm", "base_moisture": tables["board"]["moisture"]}
    del tables["use"]["turn_moisture"]
    before = make_bowl(tables)
    tables["use"] |= {"base_moisture": f"{now} %", "turn_moisture": f"{now} %"}
    wood, change = before.board.wood, now - before.board.moisture_percent
    radial, around = wood.swell_R_per_point.value * change, wood.swell_T_per_point.value * change
    share = math.sin(math.radians(grain_deg)) ** 2
    thicker = 1 + (1 - share) * radial + share * around
    old, new = rigid_fit(before).seats, rigid_fit(make_bowl(tables)).seats
    assert new.seat_drop_mm == pytest.approx(thicker * old.seat_drop_mm, rel=1e-12)
    assert new.greatest_drop_mm == pytest.approx(thicker * old.seat_drop_mm, rel=1e-12)
    assert new.overlap == pytest.approx(old.overlap, rel=1e-9, abs=1e-12)


@given(uneven_cuts(), st.floats(-0.01, 0.01), st.floats(-0.01, 0.01))
def test_a_difference_moves_the_slot_along_the_outward_normal(
    cut: dict[str, Any], inner: float, outer: float
) -> None:
    """Slot k_h (1 + e) + r (e_o - e_i) with e = e_x cos^2 + e_y sin^2 of the outward normal."""
    slot, strip = cut_and_strip(cut)
    turns = math.ceil(strip.turns)
    across = [inner] + [outer] * turns
    along = [0.2 * value for value in across]
    faces = slot_faces(slot, strip, thickness_mm=18.0, along_strain=along, across_strain=across)
    angle = faces.angle_rad[:-1]
    radius = cut["base_radius_mm"] + cut["pitch_mm"] * angle / (2 * np.pi)
    # The normal of the curve x = r cos, y = r sin, by differences of the curve itself.
    polar, step = cut["root_rad"] + angle, 1e-5

    def point(a: np.ndarray) -> np.ndarray:
        r = cut["base_radius_mm"] + cut["pitch_mm"] * a / (2 * np.pi)
        return r * np.exp(1j * (cut["root_rad"] + a))

    tangent = point(angle + step) - point(angle - step)
    normal = -1j * tangent / np.abs(tangent)
    assert np.all((normal * np.exp(-1j * polar)).real > 0)  # it looks outward
    strain_x, strain_y = normal.real**2, normal.imag**2
    own = np.minimum(np.ceil(angle / (2 * np.pi) - 1e-9).astype(int), turns).clip(1) - 1
    across_of, along_of = np.array(across), np.array(along)
    e_i = along_of[own] * strain_x + across_of[own] * strain_y
    e_o = along_of[own + 1] * strain_x + across_of[own + 1] * strain_y
    kerf, tilt = np.array(cut["kerf_mm"])[own], np.array(cut["tilt_rad"])[own]
    expected = kerf / np.cos(tilt) * (1 + (e_o + e_i) / 2) + radius * (e_o - e_i)
    assert faces.slot_mm[:-1] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("clockwise", [False, True])
def test_wetter_turns_open_the_first_slot_across_the_grain(clockwise: bool) -> None:
    """Turns 4 points wetter than a flat-sawn base: the slot opens on the sides y, not at the ends x.

    e_y = 4 x 0.00248 (black cherry, tangential: Wood Handbook, Table 13-5), r = 28 mm and more: the
    slot grows by r e_y = 0.28 mm on the way across and by nothing along. A tangent in place of the
    normal would put the two the other way round.
    """
    slot = spiral_slot(
        base_radius_mm=28, outer_radius_mm=75, pitch_mm=6.5, kerf_mm=0.7, tilt_rad=0.096,
        root_rad=0.4, clockwise=clockwise,
    )  # fmt: skip
    _, strip = cut_and_strip(
        {"base_radius_mm": 28, "outer_radius_mm": 75, "pitch_mm": 6.5, "kerf_mm": 0.7,
         "tilt_rad": 0.096, "root_rad": 0.4}, clockwise=clockwise,
    )  # fmt: skip
    wet = 4 * 0.00248
    faces = slot_faces(slot, strip, thickness_mm=18.0, across_strain=[0.0] + [wet] * 7)
    first = slice(0, 73)
    position, left = slot.position_mm[first], faces.slot_mm[first]
    flat = 0.7 / math.cos(0.096)
    side = int(np.argmin(np.abs(position[:, 0])))  # straight across the grain from the centre
    end = int(np.argmin(np.abs(position[:, 1])))  # straight along the grain
    assert left[side] - flat == pytest.approx(np.abs(position[side, 1]) * wet, rel=0.02)
    assert left[end] == pytest.approx(flat, abs=0.02 * 28 * wet)
    # Outer turns are as wet as their neighbours: even swelling opens no slot.
    assert faces.slot_mm[80:] == pytest.approx(flat, rel=wet * 1.01)


@given(uneven_cuts(), st.floats(-0.008, 0.008), st.floats(-0.008, 0.008))
def test_the_mirrored_cut_has_the_same_drops(cut: dict[str, Any], base: float, turn: float) -> None:
    """A clockwise cut of a board mirrored in the grain line binds at the same drops."""
    needed = len(cut["kerf_mm"])
    swelling = {
        "across_strain": [base, *[turn] * needed],
        "thickness_strain": [base / 2, *[turn / 2] * needed],
        "along_strain": [0.0] * (needed + 1),
    }
    left = seats_of(cut, **swelling)
    right = seats_of(cut | {"root_rad": -cut["root_rad"]}, clockwise=True, **swelling)
    for name in ("seat_drop_mm", "mean_drop_mm", "greatest_drop_mm", "overlap", "slot_left_mm"):
        assert getattr(right, name) == pytest.approx(getattr(left, name), rel=1e-9, abs=1e-12)


PAIRS = {
    "slot": st.floats(0.3, 1.5),
    "inner": st.floats(0.03, 0.4),
    "outer": st.floats(0.03, 0.4),
    "inner_height": st.floats(10, 11),
    "outer_height": st.floats(10, 11),
}


def drop_of(*, slot: float, inner: float, outer: float, inner_height: float, outer_height: float) -> float:
    """Binding drop of one pair of faces."""
    found = binding_drop_mm(
        slot_mm=np.array([slot]),
        inner_slope=np.array([inner]),
        outer_slope=np.array([outer]),
        inner_thickness_mm=np.array([inner_height]),
        outer_thickness_mm=np.array([outer_height]),
    )
    return float(found[0])


@given(**PAIRS)
def test_the_board_turned_over_binds_at_the_same_drop(**pair: float) -> None:
    """Turned over, both bevels lean inward and the outer piece is the one that sinks: same drop.

    With z reversed the slopes change sign, and the piece that sinks is the outer one. Named again by
    who sinks, the pair is the old one with inner and outer exchanged and both slopes as they were.
    """
    turned = {"inner": -pair["inner"], "outer": -pair["outer"]}
    sinking_is_outer = drop_of(
        slot=pair["slot"],
        inner=-turned["outer"],
        outer=-turned["inner"],
        inner_height=pair["outer_height"],
        outer_height=pair["inner_height"],
    )
    assert sinking_is_outer == pytest.approx(drop_of(**pair), rel=1e-12)


@given(**PAIRS)
def test_a_reversed_bevel_never_binds(**pair: float) -> None:
    """Bevels that lean inward going up open as the inner piece sinks (equal bevels, any slot)."""
    slope = -pair["inner"]
    assert drop_of(**(pair | {"inner": slope, "outer": slope})) == math.inf


def test_a_reversed_turn_falls_through_and_leaves_its_neighbours_alone() -> None:
    """A board that changes sides of the blade at turn 3: only turn 3 has no seat."""
    tilt = [0.09, 0.10, -0.095, 0.11, 0.12]
    seats = seats_of(
        {"base_radius_mm": 25.0, "outer_radius_mm": 25 + 4.9 * 6, "pitch_mm": 6.0,
         "kerf_mm": 0.7, "tilt_rad": tilt, "root_rad": 0.3}
    )  # fmt: skip
    assert list(np.isinf(seats.seat_drop_mm)) == [False, False, True, False, False]
    assert seats.overlap[2] == -math.inf
    others = [0.7 / math.sin(value) for value in tilt if value > 0]
    assert np.delete(seats.seat_drop_mm, 2) == pytest.approx(others)


def brute_force_drop_mm(
    *, slot: float, inner: float, outer: float, inner_height: float, outer_height: float
) -> float:
    """First drop of a fine scan at which some sampled height of the overlap has no gap left."""
    drop = np.linspace(0, (inner_height + outer_height) / 2, 2001)[:, None]
    bottom = np.maximum(-outer_height / 2, -inner_height / 2 - drop)
    top = np.minimum(outer_height / 2, inner_height / 2 - drop)
    z = bottom + (top - bottom) * np.linspace(0, 1, 41)
    gap = slot + outer * z - inner * (z + drop)
    touching = np.any(gap <= 0, axis=1)
    return float(drop[np.argmax(touching), 0]) if touching.any() else math.inf


@given(**PAIRS)
def test_binding_drop_against_a_scan(**pair: float) -> None:
    """The closed form is the first drop at which sampled faces touch, for unequal bevels and heights."""
    height = (pair["inner_height"] + pair["outer_height"]) / 2
    scanned, step = brute_force_drop_mm(**pair), height / 2000
    found = drop_of(**pair)
    # Until the drop has passed half the difference of heights, one piece stands proud of the other.
    proud = abs(pair["inner_height"] - pair["outer_height"]) / 2
    assume(scanned > proud + step)
    if math.isinf(scanned):
        assert found >= height - 1e-9
    else:
        assert scanned - step - 1e-9 <= found <= scanned + 1e-9


def test_unequal_heights_overlap_over_the_mean_of_both() -> None:
    """A turn 17 mm high on a neighbour 19 mm high bears over 18 mm less the drop at which 0.7 mm closes."""
    angle = np.linspace(0.0, 2 * math.pi, 73)
    like = np.ones_like(angle)
    faces = SlotFaces(
        angle_rad=angle,
        slot_mm=0.7 * like,
        inner_slope=math.tan(math.radians(6)) * like,
        outer_slope=math.tan(math.radians(6)) * like,
        inner_thickness_mm=19.0 * like,
        outer_thickness_mm=17.0 * like,
        turn=np.zeros(len(angle), dtype=np.int64),
        share=np.ones(1),
    )
    drop_mm = 0.7 / math.tan(math.radians(6))
    assert turn_seats(faces).overlap[0] == pytest.approx(1 - drop_mm / 18.0)
