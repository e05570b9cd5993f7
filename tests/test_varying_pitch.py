"""A pitch that varies along the cut: the spiral, the strip between, the line, and every command."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

import fitsim
from fitsim.bowl.closed_form import rigid_fit
from fitsim.cli import main
from fitsim.errors import InputError
from fitsim.geometry.board_outline import line_points_mm
from fitsim.geometry.cut import (
    SlotCurve,
    cut_length_mm,
    spiral_slot,
    spiral_turns,
    stopped_early,
    strip_between_slots,
)
from fitsim.pattern.layout import Handling, line_to_follow
from fitsim.quantities import TURN_RAD
from fitsim.tolerances.samples import KERF_ROUND, scattered, share_in_mean

PITCHES_mm = (5.0, 5.5, 6.3, 7.2, 8.0, 9.2)


def tables(**cut: object) -> dict[str, dict[str, object]]:
    """A bowl with a pitch for each turn, given exactly so that the list is the whole cut."""
    return {
        "board": {"wood": "cherry, black", "thickness": "18 mm", "across": "158 mm"},
        "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": [f"{p} mm" for p in PITCHES_mm], **cut},
    }


def slot_of(
    shape: tuple[float, ...], base: float = 30.0, outer: float = 70.0, pitch: float = 2.0
) -> SlotCurve:
    """A slot with a varying pitch, its root off the grain."""
    return spiral_slot(
        base_radius_mm=base, outer_radius_mm=outer, pitch_mm=pitch, kerf_mm=0.7, tilt_rad=0.09,
        root_rad=0.4, pitch_shape=shape,
    )  # fmt: skip


def test_every_turn_moves_by_its_pitch() -> None:
    """From one pass of the root's direction to the next the slot moves outward by that turn's pitch."""
    slot = slot_of((2.5, 3.0, 3.5, 4.0, 4.5, 5.0))
    whole = int(slot.turns)
    reached = np.interp(TURN_RAD * np.arange(whole + 1), slot.angle_rad, slot.radius_mm)
    np.testing.assert_allclose(np.diff(reached), [5.0, 6.0, 7.0, 8.0, 9.0][:whole], rtol=1e-12)
    assert slot.radius_mm[-1] == pytest.approx(70.0, abs=1e-9)


def test_equal_shares_are_the_even_spiral() -> None:
    """A shape of equal shares draws the even spiral."""
    varied, even = slot_of((3.0,) * 7), slot_of((), pitch=6.0)
    for name in ("angle_rad", "radius_mm", "position_mm", "normal"):
        np.testing.assert_allclose(getattr(varied, name), getattr(even, name), rtol=0, atol=1e-9)


def test_the_tangent_is_the_line_s_own() -> None:
    """The tangent points along the sampled positions, to the error of a central difference."""
    slot = spiral_slot(
        base_radius_mm=30, outer_radius_mm=70, pitch_mm=2, kerf_mm=0.7, tilt_rad=0.09,
        pitch_shape=(2.5, 3.0, 4.5, 4.0, 3.0, 2.0, 2.0), points_per_turn=2880,
    )  # fmt: skip
    chord = slot.position_mm[2:-1] - slot.position_mm[:-3]
    chord /= np.linalg.norm(chord, axis=1)[:, None]
    np.testing.assert_allclose(chord, slot.tangent[1:-2], atol=3e-6)
    assert float(np.abs(np.sum(slot.tangent * slot.normal, axis=1)).max()) < 1e-12


def test_the_radius_never_turns_back() -> None:
    """Between pitches as unequal as 1 and 9 mm the radius only grows."""
    slot = slot_of((0.5, 4.5, 0.6, 4.0, 0.5, 4.5, 3.0, 3.0))
    assert np.all(np.diff(slot.radius_mm) > 0)


def test_turns_are_where_the_radius_reaches_the_edge() -> None:
    """The turns of the cut are those after which the sampled radius is the board's."""
    shape = (2.5, 3.0, 3.5, 4.0, 4.5, 5.0)
    turns = spiral_turns(base_radius_mm=30, outer_radius_mm=70, pitch_mm=2, pitch_shape=shape)
    slot = slot_of(shape, outer=74.9)
    assert float(np.interp(turns * TURN_RAD, slot.angle_rad, slot.radius_mm)) == pytest.approx(70, abs=2e-3)
    assert spiral_turns(
        base_radius_mm=30, outer_radius_mm=75, pitch_mm=1, pitch_shape=(5, 6, 7, 8, 9, 10)
    ) == (pytest.approx(6.0, abs=1e-12))


def test_the_strip_is_the_pitch_less_the_slot() -> None:
    """At the root's direction the strip of turn j is as wide as that turn's pitch less the slot."""
    slot = slot_of((2.5, 3.0, 3.5, 4.0, 4.5, 5.0))
    strip = strip_between_slots(slot, across_mm=140, outline="round", end_width_mm=3.0)
    starts = TURN_RAD * np.arange(4)
    width = np.interp(starts, strip.angle_rad, strip.width_mm)
    np.testing.assert_allclose(width, np.array([5.0, 6, 7, 8]) - 0.7 / math.cos(0.09), rtol=1e-9)


def test_the_length_is_the_arc_of_the_varying_spiral() -> None:
    """The length of the cut is the integral of sqrt(r^2 + r'^2), by Simpson on a fine sampling."""
    shape = (2.5, 3.0, 4.5, 4.0, 3.0, 2.0, 2.0)
    fine = spiral_slot(base_radius_mm=30, outer_radius_mm=70, pitch_mm=2, kerf_mm=0.7, tilt_rad=0.09,
                       pitch_shape=shape, points_per_turn=7200)  # fmt: skip
    chords = float(np.linalg.norm(np.diff(fine.position_mm, axis=0), axis=1).sum())
    assert cut_length_mm(slot_of(shape)) == pytest.approx(chords, rel=1e-5)


def test_a_list_is_the_whole_cut_where_no_base_is_given() -> None:
    """Left out, the base is what the pitches listed leave of the board."""
    bowl = fitsim.make_bowl(tables())
    assert bowl.cut.base_radius_mm == pytest.approx(79 - sum(PITCHES_mm), abs=1e-9)
    assert bowl.cut.pitch_by_turn_mm == pytest.approx(PITCHES_mm)
    assert rigid_fit(bowl).slot.turns == pytest.approx(6, abs=1e-9)
    assert not [a for a in bowl.assumptions if a.key in ("cut.base", "cut.pitch")]


def test_a_list_of_equal_pitches_is_one_pitch() -> None:
    """A list of equal pitches gives the numbers of the one pitch, exactly."""
    even = tables(pitch="6 mm", base="80 mm")
    listed = tables(pitch=["6 mm"] * 7, base="80 mm")
    assert fitsim.make_bowl(even).cut == fitsim.make_bowl(listed).cut


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        ({"base": "60 mm"}, "6 values, 41.2 mm in all: expected at least the 49 mm"),
        ({"base": "110 mm"}, "6 values: expected 4: one for each turn"),
        ({"pitch": ["5 mm", "0 mm", "6 mm"]}, "wider than the slot"),
        ({"pitch": ["5 mm", "0.6 mm", "6 mm"]}, "wider than the slot of 0.70 mm"),
        ({"pitch": ["50 mm", "60 mm"]}, "less than half of the board's 158 mm"),
        ({"turns": 6}, "either pitch or turns"),
        ({"pitch": []}, "a value, or a list"),
    ],
)
def test_a_list_that_does_not_fit_is_refused_in_one_line(cut: dict[str, object], said: str) -> None:
    """Pitches that do not cover the cut, or leave no strip, are answered by key and remedy."""
    with pytest.raises(InputError) as refused:
        fitsim.make_bowl(tables(**cut), where="bowl.toml")
    assert said in str(refused.value)
    assert "bowl.toml" in str(refused.value)


def test_the_wall_follows_the_pitch() -> None:
    """The rigid wall climbs by one seat drop over each turn's pitch: its section has those steps."""
    from fitsim.bowl.cross_section import section_pieces
    from fitsim.bowl.standing import standing_bowl

    rigid = rigid_fit(fitsim.make_bowl(tables()))
    pieces = [p for p in section_pieces(rigid, standing_bowl(rigid, None)) if p.side == "right"]
    inner = np.array([p.outline_mm[3, 0] for p in pieces])
    angle = math.pi / 2 + TURN_RAD * np.arange(len(pieces))
    expected = np.interp(angle, rigid.slot.angle_rad, rigid.slot.radius_mm)
    np.testing.assert_allclose(np.diff(inner), np.diff(expected), rtol=1e-9)
    assert inner[-1] - inner[-2] > inner[1] - inner[0] > 0.5


OUTLINES: list[dict[str, object]] = [
    {"outline": "oval", "length": "210 mm", "width": "150 mm", "across": None},
    {"outline": "rectangle", "length": "150 mm", "width": "190 mm", "corner": "24 mm", "across": None},
    {"outline": "polygon", "across": "158 mm", "sides": "5", "corner": "20 mm"},
]


@pytest.mark.parametrize("board", OUTLINES, ids=["oval", "rectangle", "polygon"])
def test_turns_of_another_outline_lie_a_pitch_apart_square_to_it(board: dict[str, object]) -> None:
    """After each whole turn the slot is as far from the base's line as the pitches say, all round.

    The distance is a geometry library's. Beyond the last pitch, in a corner, it goes on as that one ends.
    """
    of = tables(base="80 mm")
    given = {k: v for k, v in {**of["board"], **board}.items() if v is not None}
    slot = rigid_fit(fitsim.make_bowl({**of, "board": given})).slot
    assert slot.winding is not None
    base = shapely.Polygon(line_points_mm(slot.winding.lines.base, 1e-4))
    away = np.array([base.exterior.distance(shapely.Point(*at)) for at in slot.position_mm])
    for start in (0, 31, 77):  # samples from the root, so not at its direction alone
        turn = np.arange(start, len(away), slot.points_per_turn)
        whole = start / slot.points_per_turn
        reached = np.append(0.0, np.cumsum(PITCHES_mm))
        from scipy.interpolate import PchipInterpolator

        listed = PchipInterpolator(np.arange(len(reached)), reached)
        inside = whole + np.arange(len(turn)) <= len(PITCHES_mm)
        np.testing.assert_allclose(
            away[turn][inside], listed(whole + np.arange(len(turn)))[inside], atol=0.02
        )
    assert np.all(np.diff(slot.reach_mm) > 0)


def test_an_oval_of_equal_axes_with_varying_pitch_is_round() -> None:
    """The general way gives the numbers of the round way, to one in a million."""
    of = tables(root="37 deg")
    oval = {**of["board"], "outline": "oval", "length": "158 mm", "width": "158 mm"}
    del oval["across"]
    one, other = (rigid_fit(fitsim.make_bowl({**of, "board": board})) for board in (of["board"], oval))
    assert one.shape is not None
    assert other.shape is not None
    for name in ("angle_rad", "position_mm", "tangent", "normal", "radius_mm"):
        assert getattr(other.slot, name) == pytest.approx(getattr(one.slot, name), rel=1e-6, abs=1e-6)
    assert other.strip.turns == pytest.approx(one.strip.turns, rel=1e-6)
    assert other.strip.width_mm == pytest.approx(one.strip.width_mm, rel=1e-6)
    for name in ("rise_mm", "capacity_ml", "rim_diameter_mm", "wall_slope_rad"):
        assert getattr(other.shape, name) == pytest.approx(getattr(one.shape, name), rel=1e-6)
    assert cut_length_mm(other.slot) == pytest.approx(cut_length_mm(one.slot), rel=1e-6)


def test_the_line_to_follow_lies_on_the_varying_spiral() -> None:
    """At mid-thickness every point of the line has the radius that the slot has at its angle."""
    rigid = rigid_fit(fitsim.make_bowl(tables()))
    line = line_to_follow(rigid.slot, rigid.strip, thickness_mm=18, across_mm=158, outline="round",
                          handling=Handling(), height_share=0.0)  # fmt: skip
    swept = np.unwrap(np.arctan2(line.position_mm[:, 1], line.position_mm[:, 0]))
    swept = np.abs(swept - swept[-1])
    expected = np.interp(swept, rigid.slot.angle_rad, rigid.slot.radius_mm)
    np.testing.assert_allclose(line.radius_mm, expected, atol=2e-3)


def test_a_swept_pitch_scales_every_turn() -> None:
    """Another mean pitch makes every turn's pitch larger in the same share, down to the same base."""
    from fitsim.bowl.inputs import with_input

    bowl = fitsim.make_bowl(tables())
    wider = with_input(bowl, "cut.pitch_mm", 1.1 * bowl.cut.pitch_mm)
    assert wider.cut.pitch_by_turn_mm == pytest.approx(tuple(1.1 * p for p in PITCHES_mm))


def test_bowls_sawn_with_an_unsteady_hand_keep_the_varying_pitch() -> None:
    """Each has a kerf for each turn, the pitches meant, and strays by each turn's own length."""
    bowl = fitsim.make_bowl(tables())
    what = scattered(bowl).at_tilt(0.11)
    sawn = what.bowls(np.full((2, len(what.dimensions)), 0.37))
    assert all(b.cut.pitch_shape == bowl.cut.pitch_shape and len(b.cut.kerf_mm) == 6 for b in sawn)
    slot, strip = rigid_fit(bowl).slot, rigid_fit(bowl).strip
    arc = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(slot.position_mm, axis=0), axis=1)))
    turns = np.append(np.arange(6), strip.turns)
    length = np.diff(np.interp(TURN_RAD * turns, slot.angle_rad, arc))
    expected = bowl.scatter.kerf_mm * share_in_mean(length, forgets_mm=bowl.scatter.kerf_length_mm)
    sizes = [d.size for d in what.dimensions if d.name.startswith(KERF_ROUND)]
    assert sizes == pytest.approx(expected.tolist(), rel=2e-3)


def test_a_cut_that_stops_early_keeps_the_turns_that_are_cut() -> None:
    """Stopped a turn and a half early, the cut ends on the meant line and goes on as meant."""
    shape = (0.7, 0.9, 1.1, 1.3, 1.5)
    moved, left = stopped_early(shape, 1.5)
    assert moved == pytest.approx(0.7 + 0.45)
    assert left[:3] == pytest.approx((0.45 + 0.55, 0.55 + 0.65, 0.65 + 0.75))
    assert stopped_early(shape, 2.0) == (pytest.approx(1.6), pytest.approx((1.1, 1.3, 1.5)))


def test_every_command_takes_a_varying_pitch(tmp_path: Path) -> None:
    """Fit, sheet and the line alone answer for a pitch that varies."""
    file = tmp_path / "bowl.toml"
    pitches = ", ".join(f'"{p} mm"' for p in PITCHES_mm)
    file.write_text(
        '[board]\nwood = "cherry, black"\nthickness = "18 mm"\nacross = "158 mm"\n'
        f'[cut]\ntilt = "5 deg"\nkerf = "0.7 mm"\npitch = [{pitches}]\n'
    )
    run = CliRunner()
    fitted = run.invoke(main, ["fit", str(file), "--rigid", "--json"])
    assert fitted.exit_code == 0, fitted.output
    assert json.loads(fitted.stdout)["verdict"] == "locks"
    sheet = run.invoke(
        main,
        ["sheet", str(file), "--rigid", "-o", str(tmp_path / "s.pdf"), "--line", str(tmp_path / "l.svg")],
    )  # fmt: skip
    assert sheet.exit_code == 0, sheet.output
    assert (tmp_path / "l.svg").stat().st_size > 10_000


def test_a_board_that_takes_a_string_is_told_why_there_is_no_such_page(tmp_path: Path) -> None:
    """Peg and string draw one pitch: asked for with a pitch that varies, the answer says so."""
    file = tmp_path / "tray.toml"
    pitches = ", ".join(f'"{p} mm"' for p in (9.0, 10.0, 11.5, 12.5, 14.0, 15.0))
    file.write_text(
        '[board]\nwood = "cherry, black"\nthickness = "18 mm"\nacross = "420 mm"\n'
        f'[cut]\ntilt = "5 deg"\nkerf = "0.7 mm"\npitch = [{pitches}]\n'
    )
    words = ["sheet", str(file), "--rigid", "-o", str(tmp_path / "s.pdf")]
    assert "a string draws one pitch" in CliRunner().invoke(main, words).output
