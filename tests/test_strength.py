"""Stress resolved to the grain, the ways wood gives, and the chance of each."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.strip_layout import laid_out_as
from fitsim.bowlfile.defaults import make_bowl
from fitsim.strip.stress import resolved_stress, split_range
from fitsim.wood.across_grain import SHAPES, STANDARD_STRIP, BoardAcross, beam_stress_MPa, mean_load_N
from fitsim.wood.species import find_wood, splitting
from fitsim.wood.strength import (
    ChanceRange,
    GrainStrength,
    GrainStress,
    chance_over_ranges,
    chances_by_turn,
    grain_strength,
    grain_stress,
    main_cause,
    mode_squares,
    split_chance,
    turn_risks,
    whole_risks,
)

STRONG = GrainStrength(
    shear_along_MPa=11.7,
    rolling_shear_MPa=3.4,
    tension_across_MPa=3.9,
    bending_MPa=85.0,
    shear_along_cov=0.14,
    rolling_shear_cov=0.14,
    tension_across_cov=0.25,
    bending_cov=0.16,
)
stresses = st.floats(-20, 20)
angles = st.floats(-7, 7)


IN_PLANE = ("sigma_n_MPa", "sigma_z_MPa", "tau_nz_MPa")


def turned(axis: int, angle: float) -> np.ndarray:
    """Rotation matrix about a coordinate axis."""
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    R = np.eye(3)
    R[i, i] = R[j, j] = math.cos(angle)
    R[j, i], R[i, j] = math.sin(angle), -math.sin(angle)
    return R


@given(
    stresses, stresses, stresses, angles, st.one_of(st.sampled_from([0.0, math.pi / 2]),
    st.floats(0, math.pi / 2)), st.one_of(st.none(), st.tuples(stresses, stresses, stresses)),
)  # fmt: skip
def test_resolved_stress_is_the_turned_tensor(
    s: float, sn: float, sz: float, psi: float, ring: float, own: tuple[float, float, float] | None
) -> None:
    """Turning the whole stress tensor by rotation matrices gives the same parts in grain axes."""
    n, z, nz = own or (0.0, 0.0, 0.0)
    # Strip axes s, m = left-hand normal (-n), z; shears with n have the other sign with m.
    tensor = np.array([[s, -sn, sz], [-sn, n, -nz], [sz, -nz, z]])
    board = turned(2, psi) @ tensor @ turned(2, psi).T
    # The wood's T axis is y turned towards -z by the ring angle, its R axis z turned towards y.
    wood = turned(0, -ring).T @ board @ turned(0, -ring)
    got = grain_stress(
        sigma_s_MPa=np.array([s]),
        tau_sn_MPa=np.array([sn]),
        tau_sz_MPa=np.array([sz]),
        psi_rad=np.array([psi]),
        ring_angle_rad=ring,
        **({} if own is None else {k: np.array([v]) for k, v in zip(IN_PLANE, own, strict=True)}),
    )
    assert got.along_MPa[0] == pytest.approx(wood[0, 0], abs=1e-9)
    assert got.shear_along_MPa[0] == pytest.approx(math.hypot(wood[0, 1], wood[0, 2]), abs=1e-9)
    assert got.rolling_shear_MPa[0] == pytest.approx(abs(wood[1, 2]), abs=1e-9)
    assert got.straight_MPa[0] == pytest.approx(board[1, 1], abs=1e-9)
    assert got.tangential_MPa[0] == pytest.approx(wood[1, 1], abs=1e-9)
    assert got.radial_MPa[0] == pytest.approx(wood[2, 2], abs=1e-9)


def resolved(sigma: float, sn: float, sz: float, psi: float, ring: float) -> GrainStress:
    """One stress resolved to the grain."""
    one = [np.array([[v]]) for v in (sigma, sn, sz, psi)]
    return grain_stress(
        sigma_s_MPa=one[0], tau_sn_MPa=one[1], tau_sz_MPa=one[2], psi_rad=one[3], ring_angle_rad=ring
    )


def squares(sigma: float, sn: float, sz: float, psi: float, ring: float = 0.0) -> list[float]:
    """Squared shares of the four modes."""
    return [float(q.item()) for q in mode_squares(resolved(sigma, sn, sz, psi, ring), STRONG)]


@pytest.mark.parametrize("ring", [0.0, math.pi / 2, 0.4])
def test_a_single_stress_at_its_strength_is_one(ring: float) -> None:
    """Pulled across at the strength of its ring direction splitting is at 1, and so each mode alone."""
    share = 0.87 * math.cos(ring) ** 2 + 1.13 * math.sin(ring) ** 2
    share *= 1 - 0.25 * math.sin(2 * ring) ** 2
    across = 3.9 * share
    found = squares(across, 0, 0, math.pi / 2, ring)
    if ring in (0.0, math.pi / 2):
        assert found == pytest.approx([1, 0, 0, 0], abs=1e-12)
    else:
        # Rift wood pulled across is sheared between its rings as well.
        rolls = (across * math.sin(ring) * math.cos(ring) / 3.4) ** 2
        assert found == pytest.approx([1 + rolls, 0, rolls, 0], abs=1e-12)
    assert squares(0, 0, 11.7, 0.0) == pytest.approx([1, 1, 0, 0], abs=1e-12)
    assert squares(0, 0, 3.4, math.pi / 2) == pytest.approx([1, 0, 1, 0], abs=1e-12)
    assert squares(-85, 0, 0, 0.0) == pytest.approx([0, 0, 0, 1], abs=1e-12)


def test_flat_sawn_wood_is_weaker_across_than_quarter_sawn() -> None:
    """The handbook's value is the mean of both ring directions: 0.87 of it tangentially, 1.13 radially."""
    assert STRONG.across_MPa(0.0) == pytest.approx(0.87 * 3.9)
    assert STRONG.across_MPa(math.pi / 2) == pytest.approx(1.13 * 3.9)
    assert (STRONG.across_MPa(0.0) + STRONG.across_MPa(math.pi / 2)) / 2 == pytest.approx(3.9)
    assert STRONG.across_MPa(math.pi / 4) == pytest.approx(0.75 * 3.9)


def test_bending_along_the_grain_does_not_add_to_splitting() -> None:
    """Splitting is tension across with shear: stress along the grain, either way, leaves it as it is."""
    psi = 0.0
    plain, bent = squares(0, 1.0, 2.0, psi), squares(60.0, 1.0, 2.0, psi)
    assert bent[0] == pytest.approx(plain[0])
    assert bent[3] == pytest.approx((60 / 85) ** 2)


def test_compression_across_the_grain_does_not_split() -> None:
    """A strip pressed together where it crosses the grain uses no strength against splitting."""
    assert squares(-30.0, 0, 0, math.pi / 2)[0] == pytest.approx(0.0, abs=1e-20)


def test_risks_are_the_integrals_of_a_gradient_and_the_greatest_place() -> None:
    """A straight gradient 0 to s counts as 1/(m + 1) of its volume; a mode without size by its peak."""
    count = 2000
    share = (np.arange(count) + 0.5) / count
    square = np.tile((0.8 * share) ** 2, (3, 1))
    square[1] *= 4  # the second section is stressed twice as hard, and stands on a turn of its own
    risks = turn_risks(
        (square, square, square, square),
        area_mm2=np.full((3, count), 90.0 / count),
        length_mm=np.array([2.0, 5.0, 7.0]),
        turn=np.array([0, 1, 0]),
        turns=2,
        strength=STRONG,
    )
    even = 0.8**6 * 90 / 7 / STRONG.reference_mm3
    assert risks[0] == pytest.approx([even * 9, even * 5 * 2**6], rel=1e-3)
    assert risks[1] == pytest.approx([0.8**10, 1.6**10], rel=1e-2)
    rolled = 0.8**10 * 90 / 11 / STRONG.rolling_reference_mm3
    assert risks[2] == pytest.approx([rolled * 9, rolled * 5 * 2**10], rel=1e-3)
    whole = whole_risks(risks, STRONG)
    assert whole[0] == pytest.approx(risks[0].sum())
    assert whole[1] == pytest.approx(risks[1].max())
    assert whole[2] == pytest.approx(risks[2].sum())


def test_the_piece_of_rolling_shear_gives_back_its_strength() -> None:
    """A piece of the reference volume rolled evenly at the mean strength has risk 1; eight make it 8."""
    cherry = grain_strength(find_wood("cherry"), 12.0)
    volume = 1000 * splitting()["rolling_volume_cm3"].value
    for pieces in (1.0, 8.0):
        even = resolved(0.0, 0.0, cherry.rolling_shear_MPa, math.pi / 2, 0.0)
        risk = turn_risks(
            mode_squares(even, cherry),
            area_mm2=np.full((1, 1), volume / 40),
            length_mm=np.array([40 * pieces]),
            turn=np.array([0]),
            turns=1,
            strength=cherry,
        )[2]
        assert float(risk[0]) == pytest.approx(pieces, rel=1e-9)


def test_the_strip_gives_if_any_mode_does() -> None:
    """1 - product of (1 - P) over modes; the scale for 1 in 10, put into the risks, gives 1 in 10."""
    risks = np.array([[0.004, 0.001], [0.01, 0.02], [0.0003, 0.0], [0.0, 0.0]])
    found = split_chance(risks, STRONG)
    assert found.chance == pytest.approx(1 - math.prod(1 - p for p in found.chances))
    assert found.mode == "shear along the grain"
    x = found.times_to_limit
    harder = split_chance(risks * np.array([[x**6], [x**10], [x**10], [x**10]]), STRONG)
    assert harder.chance == pytest.approx(0.1, rel=1e-3)


def test_chances_by_turn_add_up_to_the_strip() -> None:
    """At the strip's own stress the turns share its chance; one turn's stress x times has x^m its risk."""
    risks = np.array([[0.004, 0.001], [1e-9, 2e-9], [0.0, 0.0], [0.0, 0.0]])
    whole = split_chance(risks, STRONG)
    even, harder = chances_by_turn(risks, STRONG, np.array([[1.0, 1.0], [1.0, 1.5]]))
    assert even.sum() == pytest.approx(whole.chance, rel=2e-3)
    assert even[0] / even[1] == pytest.approx(4.0, rel=1e-3)
    assert harder[1] / harder[0] == pytest.approx(1.5**6 / 4, rel=1e-3)
    moved = split_chance(risks * np.array([1.0, 1.5**6]), STRONG)
    assert harder.sum() == pytest.approx(moved.chance, rel=2e-3)


def test_wet_wood_is_weaker_across_the_grain_and_the_ranges_stand_beside() -> None:
    """The middle of every number lies inside its range; so does the chance in the range beside it."""
    oak = find_wood("white oak")
    dry, usual, wet = (grain_strength(oak, m) for m in (6.0, 12.0, 20.0))
    assert dry.tension_across_MPa == pytest.approx(1.12 * usual.tension_across_MPa)
    assert wet.tension_across_MPa == pytest.approx(0.80 * usual.tension_across_MPa)
    for number in splitting().values():
        assert number.low < number.value < number.high
    assert usual.rolling_shear_MPa == pytest.approx(0.37 * usual.shear_along_MPa, rel=1e-3)
    stress = resolved(0, -3.1, 1.2, 0.7, 0.4)

    def chance(strength: GrainStrength) -> float:
        risks = turn_risks(
            mode_squares(stress, strength), area_mm2=np.full((1, 1), 20.0), length_mm=np.array([3.0]),
            turn=np.array([0]), turns=1, strength=strength,
        )  # fmt: skip
        return split_chance(risks, strength).chance

    beside = chance_over_ranges(chance, usual, oak, ring_angle_rad=0.4)
    assert beside.low < chance(usual) < beside.high
    rift = [chance(replace(usual, rift_share=s)) for s in (0.4, 1.0)]
    assert beside.low <= rift[1] < rift[0] <= beside.high
    assert beside.decides


BOARD = BoardAcross((2.9, 3.1, 3.7, 4.2), (0.11, 0.10, 0.09, 0.08), 0.0, 3.9 * 0.87)
"""A flat-sawn cherry board that its strips make weaker than the handbook's at shape 6, stronger at 8."""


def risks_of(stress: GrainStress, strength: GrainStrength) -> np.ndarray:
    """Risks of one turn of 60 mm3 stressed alike."""
    return turn_risks(
        mode_squares(stress, strength), area_mm2=np.full((1, 1), 20.0), length_mm=np.array([3.0]),
        turn=np.array([0]), turns=1, strength=strength,
    )  # fmt: skip


@pytest.mark.parametrize("shape", [6.0, 8.0])
def test_a_tested_board_has_the_risk_of_the_usual_one_over_b_to_the_shape(shape: float) -> None:
    """Tension and the shears beside it are held against B times the usual strength, other modes not."""
    cherry = find_wood("cherry")
    usual = grain_strength(cherry, 9.0).at_shape(shape)
    own = grain_strength(cherry, 9.0, BOARD).at_shape(shape)
    factor = BOARD.mean_MPa[SHAPES.index(shape)] / (3.9 * 0.87)
    stress = resolved(0.4, -3.1, 1.2, 0.7, 0.0)
    before, after = risks_of(stress, usual), risks_of(stress, own)
    assert after[0] == pytest.approx(before[0] * factor**-shape)
    assert after[1:] == pytest.approx(before[1:])
    dry = 1 + 3 * 0.02 + 3 * 3 * 0.005 / 14  # at 9 percent, by the parabola through 6, 12 and 20
    assert own.across_MPa(0.0) == pytest.approx(BOARD.mean_MPa[SHAPES.index(shape)] * dry)


def test_the_scatter_that_strips_leave_stands_in_place_of_that_between_boards() -> None:
    """At every shape the board's own 0.11 to 0.08, in the splitting alone."""
    own, usual = (grain_strength(find_wood("cherry"), 12.0, across) for across in (BOARD, None))
    for shape, cov in zip(SHAPES, BOARD.cov, strict=True):
        assert own.at_shape(shape).betweens == pytest.approx((cov, *usual.betweens[1:]))


@pytest.mark.parametrize("shape", SHAPES)
def test_a_strip_and_a_bowl_share_the_test_piece(shape: float) -> None:
    """A piece stressed as a broken strip was, in its volume, has risk 1: the test piece drops out.

    Strips of mean load F make f B of it; the same stress over the same volume in a bowl's measure is
    then as likely to break as the strip, whatever the volume of the test piece.
    """
    load = mean_load_N(STANDARD_STRIP, mean_MPa=3.3, shape=shape, moisture_percent=12.0)
    stress = beam_stress_MPa(STANDARD_STRIP, load)
    board = BoardAcross((3.3,) * 4, (0.1,) * 4, 0.0, 3.9 * 0.87)
    own = grain_strength(find_wood("cherry"), 12.0, board).at_shape(shape)
    even = resolved(stress, 0.0, 0.0, math.pi / 2, 0.0)
    risk = turn_risks(
        mode_squares(even, own), area_mm2=np.full((1, 1), 3600 / (2 * (shape + 1) ** 2)),
        length_mm=np.array([1.0]), turn=np.array([0]), turns=1, strength=own,
    )[0, 0]  # fmt: skip
    assert risk == pytest.approx(1.0)


def test_a_board_of_known_strength() -> None:
    """Splitting has the bare Weibull chance of R B^-m, the other modes keep theirs."""
    risks = np.array([[0.004, 0.001], [0.01, 0.02], [0.0003, 0.0], [0.0, 0.0]])
    found = split_chance(risks, STRONG)
    weak = 1 - math.exp(-(math.gamma(7 / 6) ** 6) * 0.005 * 0.7**-6)
    others = math.prod(1 - p for p in found.chances[1:])
    assert found.of_board(0.7) == pytest.approx(1 - (1 - weak) * others)
    # Averaged over boards of mean 1 it is the chance itself.
    spread = math.log(1 + found.strength.betweens[0] ** 2)
    z = np.linspace(-6, 6, 2001)
    each = [found.of_board(math.exp(math.sqrt(spread) * v - spread / 2)) for v in z]
    weight = np.exp(-(z**2) / 2)
    assert np.average(each, weights=weight) == pytest.approx(found.chance, rel=1e-4)


def test_the_shear_of_a_weak_board_is_told_against_its_own_strength() -> None:
    """In splitting the strength told is B times the handbook's, in the mode of shear alone it is not."""
    own = grain_strength(find_wood("cherry"), 12.0, BOARD)
    place = resolved(0.0, 8.0, 0.0, 0.0, 0.0)
    cause, stress, strong = main_cause(place, own, "splitting")
    assert (cause, stress) == ("shear along the grain", pytest.approx(8.0))
    assert strong == pytest.approx(11.7 * 3.1 / (3.9 * 0.87), rel=1e-3)
    assert main_cause(place, own, "shear along the grain")[2] == pytest.approx(11.7, rel=1e-3)


def test_strips_leave_less_open() -> None:
    """A tested board's chance does not move with the test piece, its scatter or the rings any more."""
    cherry = find_wood("cherry")
    stress = resolved(2.1, -1.1, 0.3, 1.2, 0.0)
    spans = []
    for tested in (None, replace(BOARD, mean_MPa=(3.0,) * 4)):
        strength = grain_strength(cherry, 12.0, tested)
        beside = chance_over_ranges(
            lambda s: split_chance(risks_of(stress, s), s).chance, strength, cherry, ring_angle_rad=0.0
        )
        spans.append(math.log(beside.high / beside.low))
    assert spans[1] < 0.8 * spans[0]


def test_the_side_to_which_rings_lean_stands_in_the_range() -> None:
    """A rift board turned half round leans otherwise: the chance of one lies in the range of the other."""
    chances, ranges = [], []
    for root in ("20 deg", "200 deg"):
        rift = make_bowl(
            {
                "board": {"wood": "cherry", "thickness": "21 mm", "across": "128 mm", "grain": "70 deg"},
                "cut": {"tilt": "7 deg", "kerf": "1.1 mm", "pitch": "8 mm", "base": "93 mm", "root": root},
                "use": {"finish": "none", "friction": "0.45"},
            },
            where="rift board",
        )
        opening = open_bowl(rift, press_N=90.0, lowering=False)
        _, wood = laid_out_as(rift, rigid_fit(rift), opening.elastic)
        strength, pressed = grain_strength(rift.board.wood, 8.0), (opening.elastic, opening.pressed)
        own, other = (
            resolved_stress(*pressed, leaning).split(strength).chance
            for leaning in (wood, wood.leaning_otherwise())
        )
        chances.append((own, other))
        ranges.append(split_range(*pressed, wood, strength, rift.board.wood))
    assert chances[0] == pytest.approx(chances[1][::-1], rel=1e-4)
    assert abs(math.log(chances[0][0] / chances[1][0])) > 0.05
    # It is an end of one's range: what is not known of the strength moves the chance less to that side.
    assert ranges[0].low == pytest.approx(chances[0][1])
    assert ranges[0].decides == "the side to which the rings lean"


def test_what_is_no_strength_widens_the_range_too() -> None:
    """A chance with something else otherwise is an end where it lies beyond, and decides if farthest."""
    maple, stress = find_wood("sugar maple"), resolved(1.3, -2.0, 0.9, 0.6, 0.0)
    strength = grain_strength(maple, 9.0)

    def beside(**others: float) -> ChanceRange:
        return chance_over_ranges(
            lambda s: split_chance(risks_of(stress, s), s).chance, strength, maple,
            ring_angle_rad=0.0, others=others,
        )  # fmt: skip

    usual = beside()
    far = usual.low / 1e4
    assert beside(moon=far) == ChanceRange(far, usual.high, "moon")
    assert beside(moon=0.999) == ChanceRange(usual.low, 0.999, "moon")
