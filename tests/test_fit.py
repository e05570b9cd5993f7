"""The whole chain on bowls whose answers can be worked out on paper."""

import math

import numpy as np
import pytest

from fitsim.bowl.closed_form import deciding_numbers, rigid_fit
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError
from fitsim.wood.moisture import wood_at_moisture


def bowl(tilt: str = "5.5 deg", *, friction: str | None = None, **more: dict[str, object]) -> Bowl:
    """Return the 18 mm, 150 mm board with a 56 mm base, pitch 6.5 mm and kerf 0.7 mm."""
    use: dict[str, object] = {"finish": "none"} | more.get("use", {})
    if friction is not None:
        use["friction"] = friction
    return make_bowl(
        {
            "board": {"thickness": "18 mm", "across": "150 mm"} | more.get("board", {}),
            "cut": {"tilt": tilt, "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm"}
            | more.get("cut", {}),
            "use": use,
            "limits": more.get("limits", {}),
        }
    )


def test_the_bowl_of_the_requirement() -> None:
    """Turns (75 - 28)/6.5 = 7.23, drop 0.7/sin(5.5 deg) = 7.303 mm, overlap 1 - 7.303/18 = 0.594."""
    rigid = rigid_fit(bowl())
    assert round(rigid.slot.turns, 2) == 7.23
    assert np.round(rigid.seats.seat_drop_mm, 3) == pytest.approx(7.303)
    assert round(rigid.numbers.overlap, 3) == 0.594
    assert rigid.shape is not None
    slot = 0.7 / math.cos(math.radians(5.5))
    assert rigid.shape.rise_mm == pytest.approx((47 / 6.5 - 0.5 - slot / 13) * 7.3034, rel=1e-5)


def test_a_tilt_too_small_falls_through() -> None:
    """At 1.5 deg the drop would be 0.7/sin = 26.7 mm in a board of 18 mm, whatever the friction."""
    verdict = fit(bowl("1.5 deg", friction="0.25 to 0.55"), rigid=True).verdict
    assert verdict.state == verdict.state_at_best == "falls through"
    assert rigid_fit(bowl("1.5 deg")).shape is None


@pytest.mark.parametrize(
    ("friction", "springs_back"), [("0.35", True), ("0.55", False), ("0.46", True), ("0.47", False)]
)
def test_a_steep_bevel_springs_back_without_friction_enough(friction: str, springs_back: bool) -> None:
    """tan(25 deg) = 0.466: a taper holds itself while its friction is more than that."""
    verdict = fit(bowl("25 deg", friction=friction), rigid=True).verdict
    assert ("springs back" in (verdict.state, verdict.state_at_best)) == springs_back
    assert (verdict.margins[2].margin <= 0) == springs_back


def test_a_range_of_friction_across_the_limit_decides() -> None:
    """With friction from 0.25 to 0.55 a bevel of 25 deg springs back at one end and not at the other."""
    verdict = fit(bowl("25 deg", friction="0.25 to 0.55"), rigid=True).verdict
    assert verdict.state == "springs back"
    assert verdict.state_at_best != "springs back"
    (friction,) = (d for d in verdict.depends_on if d.name == "friction")
    assert (friction.low, friction.high) == (0.25, 0.55)
    assert friction.state_at_low == "springs back"
    assert friction.state_at_high != "springs back"


@pytest.mark.parametrize(
    ("kerf", "tilt", "drop_mm"),
    [
        # k/sin(theta) worked by hand; at 20 deg k_h/sin would give 1.991 and k/tan 1.758.
        ("0.64 mm", "5 deg", 7.343),
        ("0.64 mm", "20 deg", 1.871),
        ("0.64 mm", "8 deg", 4.599),
        ("0.64 mm", "3 deg", 12.229),
    ],
)
def test_rigid_drops_on_a_three_quarter_inch_board(kerf: str, tilt: str, drop_mm: float) -> None:
    """H = k/sin(theta), the kerf square to the faces, on every turn of a 19.05 mm board."""
    found = rigid_fit(bowl(tilt, cut={"kerf": kerf}, board={"thickness": "19.05 mm"}))
    assert np.round(found.seats.seat_drop_mm, 3) == pytest.approx(drop_mm)


def test_a_film_on_both_faces_narrows_the_slot() -> None:
    """0.1 mm on each face leaves 0.5 of 0.7 mm square to the faces; 0.35 mm closes the slot."""
    thin = rigid_fit(bowl("8 deg", use={"film": "0.1 mm"}))
    assert thin.seats.seat_drop_mm == pytest.approx(0.5 / math.sin(math.radians(8)))
    assert thin.numbers.slot_left_mm == pytest.approx(0.5 / math.cos(math.radians(8)))
    assert fit(bowl("8 deg", use={"film": "0.36 mm"}), rigid=True).verdict.state == "will not open"


def test_hold_follows_each_turns_own_tilt() -> None:
    """tan(theta)/mu turn by turn, and the steepest decides."""
    tilts = [5.0, 9.0, 6.0, 7.0, 8.0, 5.5, 6.5, 20.0]  # the eighth turn has no strip left
    rigid = rigid_fit(bowl(cut={"tilt": [f"{t} deg" for t in tilts]}, friction="0.4"))
    expected = [math.tan(math.radians(t)) / 0.4 for t in tilts[:7]]
    assert rigid.friction_used == pytest.approx(expected)
    assert rigid.numbers.friction_used == pytest.approx(expected[1])


def test_a_wetter_outside_binds_later_across_the_grain() -> None:
    """Turns wetter than the base: the first slot opens across the grain, so its greatest drop grows.

    Black cherry, tangential 0.00248 a point (Wood Handbook, Table 13-5): 2 points at a radius of
    28 to 34.5 mm add 0.14 to 0.17 mm of slot, 1.4 to 1.8 mm of drop at 5.5 deg.
    """
    cut_at = {"moisture": "8 %", "wood": "cherry"}
    dry = rigid_fit(bowl(board=cut_at)).seats
    wet = rigid_fit(bowl(board=cut_at, use={"base_moisture": "8 %", "turn_moisture": "10 %"})).seats
    slope = math.tan(math.radians(5.5))
    grown = wet.greatest_drop_mm[0] - dry.seat_drop_mm[0]
    assert 28 * 2 * 0.00248 / slope < grown < 34.5 * 2 * 0.00248 / slope * 1.1
    # Along the grain the slot hardly opens; the bevels' unequal slopes take a little from the drop.
    assert wet.seat_drop_mm[0] == pytest.approx(dry.seat_drop_mm[0], abs=0.25)


def test_lengths_times_and_the_other_answers() -> None:
    """Cut, time, nail and collapse as their own formulas have them, with the bowl's own numbers."""
    found = fit(bowl(cut={"feed": "150 mm/min", "blade": "1/8 in"}, friction="0.4"), rigid=True)
    length = math.pi * (75**2 - 28**2) / 6.5  # less 0.51 mm, the spiral's own lean
    assert found.cut_length_mm == pytest.approx(length + 0.51, abs=0.01)
    assert found.cutting_time_min == pytest.approx(found.cut_length_mm / 150)
    assert found.least_radius is not None
    phi, theta = math.atan(0.4), math.radians(5.5)
    assert found.collapse_over_press == pytest.approx(math.tan(phi - theta) / math.tan(phi + theta))
    slot = 0.7 / math.cos(theta)
    # Free end of half a pitch, open slot, half of the neighbour; all of it less half a millimetre.
    assert found.nail.least_mm == pytest.approx(3.25 + slot + (6.5 - slot) / 2)
    assert found.nail.greatest_mm == pytest.approx(3.25 + 6.5 - slot - 0.5)


def test_nail_and_collapse_of_an_uneven_cut_are_those_of_the_turns_they_are_at() -> None:
    """The nail crosses the slot of the turn it ends in; the steepest bevel is the first to let go."""
    kerfs = (0.7, 0.6, 0.8, 0.7, 0.9, 0.6, 1.1, 0.8)
    tilts = (5.5, 6.0, 8.0, 5.0, 4.5, 7.0, 5.5, 6.5)
    cut = {"kerf": [f"{kerf} mm" for kerf in kerfs], "tilt": [f"{tilt} deg" for tilt in tilts]}
    found = fit(bowl(cut=cut, friction="0.4"), rigid=True)
    assert 6 < found.rigid.strip.turns < 7  # it ends in the seventh
    slot = 1.1 / math.cos(math.radians(5.5))
    width = float(found.rigid.strip.width_mm[-1])
    assert found.nail.least_mm == pytest.approx(width + slot + (6.5 - slot) / 2)
    assert found.nail.greatest_mm == pytest.approx(width + 6.5 - slot - 0.5)
    phi, theta = math.atan(0.4), math.radians(8)
    assert found.collapse_over_press == pytest.approx(math.tan(phi - theta) / math.tan(phi + theta))


def test_numbers_alone_are_those_of_the_whole_fit() -> None:
    """The short way to the deciding numbers gives the long way's, for an uneven, moist bowl."""
    uneven = bowl(
        cut={"kerf": [f"0.{n} mm" for n in (7, 6, 8, 7, 9, 6, 7, 8)], "root": "33 deg"},
        use={"base_moisture": "7 %", "turn_moisture": "9 %"},
    )
    assert deciding_numbers(uneven) == rigid_fit(uneven).numbers


def test_splitting_uses_the_woods_moisture() -> None:
    """Wetter wood is weaker: strength at 8 and 11 percent as the handbook's rule has it."""
    wood = bowl(board={"wood": "white ash"}).board.wood
    for percent in (8.0, 11.0):
        moist = bowl(
            board={"wood": "white ash", "moisture": f"{percent} %"},
            use={"base_moisture": f"{percent} %", "turn_moisture": f"{percent} %"},
        )
        strength, own = (
            open_bowl(moist, press_N=20.0).stress.split.strength,
            wood_at_moisture(wood, percent),
        )
        assert strength.shear_along_MPa == pytest.approx(own.shear_along_MPa.value)
        assert strength.rolling_shear_MPa == pytest.approx(own.rolling_shear_MPa.value)


def test_remarks_on_blade_and_moisture() -> None:
    """A base tighter than a blade turns, and moisture beyond the printed range, are remarked."""
    plain = fit(bowl(cut={"blade": "1/8 in"}), rigid=True)
    assert plain.notes == ()
    wide = fit(bowl(cut={"blade": "1/2 in"}), rigid=True)  # least radius 63.5 mm, base 28 mm
    assert any("too wide" in note for note in wide.notes)
    between = fit(bowl(cut={"blade": "1/4 in", "base": "32 mm"}), rigid=True)  # 12.7 to 19 mm; base 16 mm
    assert any("disagree" in note for note in between.notes)
    soaked = fit(bowl(use={"turn_moisture": "16 %"}), rigid=True)
    assert any("14 percent" in note for note in soaked.notes)


def test_a_strip_of_less_than_one_turn_is_refused() -> None:
    """A base so wide that no whole turn is left is answered before any physics."""
    with pytest.raises(InputError, match="one full turn"):
        bowl(cut={"base": "138 mm"})


def test_a_last_turn_shorter_than_a_sample_has_its_own_kerf() -> None:
    """A tail of a turn just past the boundary binds by its own kerf, not by a blend of two."""
    # M = N - 1/2 - k_h/(2 p); the span is chosen so that M is 2.011 with the outermost kerf.
    tilt, pitch, kerfs = 0.1, 6.5, (0.7, 0.5, 0.9)
    turns = 2.511 + 0.9 / math.cos(tilt) / (2 * pitch)
    bowl = make_bowl(
        {
            "board": {"thickness": "18 mm", "across": f"{2 * (28 + turns * pitch):.9f} mm"},
            "cut": {
                "tilt": f"{math.degrees(tilt):.9f} deg",
                "kerf": [f"{k} mm" for k in kerfs],
                "pitch": "6.5 mm",
                "base": "56 mm",
            },
            "use": {"finish": "none"},
        }
    )
    rigid = rigid_fit(bowl)
    assert rigid.strip.turns == pytest.approx(2.011, abs=1e-6)
    assert rigid.seats.seat_drop_mm.tolist() == pytest.approx([k / math.sin(tilt) for k in kerfs], rel=1e-6)
