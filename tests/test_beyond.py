"""What the model leaves out: every size worked again by hand for one bowl with unequal inputs."""

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitsim.bowl.beyond import (
    LeftOut,
    duration_strength_share,
    hankinson_MPa,
    left_out,
    restrained_twist_ratio,
)
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.tables import MARKS
from fitsim.wood.grain import BoardStiffness, board_stiffness, strip_stiffness

# T 14, kerf 0.8, tilt 6 deg, base 64 mm across: sin 0.104528, tan 0.105104, drop 0.8/sin = 7.6534 mm.
TABLES: dict[str, dict[str, Any]] = {
    "board": {"wood": "cherry", "thickness": "14 mm", "across": "210 mm", "moisture": "12 %"},
    "cut": {"tilt": "6 deg", "kerf": "0.8 mm", "pitch": "7 mm", "base": "64 mm", "blade": "6.35 mm"},
    "use": {"finish": "none", "press": "300 N"},
}
WIDTH, RADIUS, PRESS = 6.2, 35.5, 80.0  # judged at 80 N, whatever the maker could push


def bowl(**use: Any) -> Bowl:
    """The bowl of the table, its friction set to 0.36 unless told otherwise."""
    made = make_bowl(TABLES)
    return replace(made, use=replace(made.use, **({"friction": 0.36} | use)))


def rows(made: Bowl) -> dict[str, LeftOut]:
    """Rows by a short word of their own."""
    words = ("root", "ends", "tires", "rings", "rough", "tight", "edges", "cupped", "angle", "dives",
             "friction", "handled", "locked")  # fmt: skip
    found = left_out(made, strip_width_mm=WIDTH, first_radius_mm=RADIUS, press_N=PRESS)
    return dict(zip(words, found, strict=True))


def numbers(row: LeftOut) -> list[float]:
    """Figures of the sentence, in its order; a percentage as a share."""
    found = re.findall(r"(-?\d+(?:\.\d+)?)(%?)", row.size)
    return [float(number) / (100 if sign else 1) for number, sign in found]


def test_thirteen_rows_each_with_status_sentence_and_source() -> None:
    """Every row says what it is, how large with a unit, what it moves and where from."""
    found = rows(bowl())
    for word, row in found.items():
        assert row.status in ("in the model", "bounded", "named")
        assert row.mark in MARKS
        assert numbers(row)
        assert all((row.name, row.moves, row.source))
        assert word in row.name
    assert len({row.name for row in found.values()}) == 13
    assert all(row.unit in row.size for row in found.values())


def test_drop_and_slot_effects_by_hand() -> None:
    """0.05/sin 6 deg = 0.478 mm; 0.1/tan 6 deg = 0.951; (14 - 7.6534 - 1)/14 = 38.2 percent."""
    found = rows(bowl())
    assert found["rough"].value == pytest.approx(0.05 / 0.1045285, rel=1e-6)
    # Normal force 80/(0.104528 + 0.36 x 0.994522) = 172.96 N over 4.8 MPa and 2 pi 35.5 mm: 0.1616 mm.
    assert numbers(found["rough"]) == [0.05, 0.48, 80, 0.16]
    assert found["locked"].value == pytest.approx(0.9514, rel=1e-4)
    assert found["edges"].value == pytest.approx(0.38190, abs=1e-4)
    assert numbers(found["edges"]) == [0.5, 0.38, 0.45]


def test_kerf_grows_on_the_tight_radius_by_hand() -> None:
    """6.35^2/(8 x 32) = 0.1575 mm, over sin 6 deg 1.507 mm; without a blade a 6.35 mm one is named."""
    row = rows(bowl())["tight"]
    assert row.value == pytest.approx(0.15751, abs=1e-5)
    assert numbers(row) == [6.35, 0.16, 1.51]
    made = bowl()
    bare = replace(made, cut=replace(made.cut, blade_width_mm=None))
    assert rows(bare)["tight"].size.startswith("no blade is given; a 6.35 mm")
    narrow = replace(made, cut=replace(made.cut, blade_width_mm=3.2))
    assert rows(narrow)["tight"].value == pytest.approx(0.04)


def test_cup_by_hand() -> None:
    """1 mm of cup over 210 mm is a curvature of 8/44100; at 35.5 mm 0.369 deg, at 105 mm 1.091 deg."""
    row = rows(bowl())["cupped"]
    assert numbers(row) == [1, 0.37, 1.09, 0.47, 1.39]
    assert row.value == pytest.approx(7.6534 / 0.105104 * 8 / 44100 * 105, rel=1e-4)


def test_film_narrows_the_kerf_before_the_drop() -> None:
    """Two films of 0.1 mm leave 0.6 of 0.8 mm of kerf, and the drop that the sizes use follows."""
    plain, filmed = rows(bowl()), rows(bowl(film_mm=0.1))
    assert filmed["cupped"].value == pytest.approx(plain["cupped"].value * 0.75)
    assert filmed["ends"].value == pytest.approx(plain["ends"].value * 0.75**2)
    shut = rows(bowl(film_mm=0.5))  # more film than kerf: nothing sinks, nothing strains
    assert (shut["root"].value, shut["ends"].value) == (0.0, 0.0)


def test_ten_years_on_the_madison_curve() -> None:
    """The curve gives 100 percent at about 7.5 minutes' test, 62 percent at ten years (L. W. Wood 1951)."""
    assert duration_strength_share(load_s=3.156e8) == pytest.approx(0.62, abs=0.005)
    assert duration_strength_share(load_s=7.5 * 60) == pytest.approx(1.0, abs=0.01)
    row = rows(bowl())["tires"]
    # 1/1.6 and 1/3; what is lost of 7.6534 mm is 2.87 and 5.10 mm.
    assert numbers(row) == [0.62, 0.33, 2.9, 5.1, 0.62]


def test_hankinson_at_ten_degrees() -> None:
    """85 MPa along and 3.9 across bear 331.5/(85 x 0.030154 + 3.9 x 0.969846) = 52.2 MPa at 10 degrees."""
    assert rows(bowl())["dives"].value == pytest.approx(52.24, abs=0.02)
    assert hankinson_MPa(along_MPa=70, across_MPa=3, angle_rad=0) == pytest.approx(70)
    assert hankinson_MPa(along_MPa=70, across_MPa=3, angle_rad=math.pi / 2) == pytest.approx(3)


def test_friction_once_sliding() -> None:
    """Two thirds of 0.36 is 0.24; tan 6 deg over it 0.438 in place of 0.292 (ratio: Aira et al. 2014)."""
    made = bowl()
    row = rows(made)["friction"]
    assert numbers(row) == [0.36, 0.24, 0.29, 0.44]
    assert row.value == pytest.approx(0.105104 / 0.24, rel=1e-5)
    assert [entry.low for entry in made.uncertain if entry.path == "use.friction"] == [0.25]
    assert row.status == "bounded"  # the bowl's range ends at 0.25, above 0.24
    wider = tuple(replace(u, low=0.2) if u.path == "use.friction" else u for u in made.uncertain)
    assert rows(replace(made, uncertain=wider))["friction"].status == "in the model"


def test_leaning_on_the_rim_by_hand() -> None:
    """With phi = atan 0.36 = 19.799 deg: tan 13.799/tan 25.799 of 80 N is 40.65 N."""
    row = rows(bowl())["handled"]
    by_hand = 80 * math.tan(math.radians(13.7989)) / math.tan(math.radians(25.7989))
    assert row.value == pytest.approx(by_hand, rel=1e-4)
    assert numbers(row) == [41, 80]
    assert rows(bowl(friction=0.08))["handled"].value == 0.0  # below tan 6 deg nothing holds it
    assert rows(bowl(friction=12.0))["handled"].value == math.inf  # phi + tilt above 90 deg jams
    assert "by the hand formula" in row.size


def test_of_a_strip_pressed_open_its_own_push_and_depth_are_told() -> None:
    """A push of 12.3 N frees it and turns stand 5 mm deep: 1 - 1/1.6 and 1 - 1/3 of that are lost."""
    strip = {"strip_width_mm": WIDTH, "first_radius_mm": RADIUS, "press_N": PRESS, "stands_mm": 5.0}
    found = {row.name: row for row in left_out(bowl(), collapse_N=12.3, **strip)}
    handled = next(row for name, row in found.items() if "handled" in name)
    assert (handled.value, numbers(handled)) == (12.3, [12, 80])
    assert "hand formula" not in handled.size
    tires = next(row for name, row in found.items() if "tires" in name)
    assert numbers(tires)[2:4] == [1.9, 3.3]
    none = left_out(bowl(), collapse_N=0.0, **strip)
    assert next(row for row in none if "handled" in row.name).value == 0.0


def test_what_goes_by_stiff_turns_says_so() -> None:
    """Of a bowl that was pressed, rows that the strip does not tell are named as a bound or by hand."""
    made = make_bowl({**TABLES, "use": {**TABLES["use"], "friction": "0.36"}})
    for row in fit(made).left_out:
        if any(word in row.name for word in ("root", "slot ends", "rough", "cupped", "locked")):
            assert "by the hand formula" in row.size
        elif "tight" in row.name:
            assert "at most" in row.size


def test_rings_seen_from_the_pith() -> None:
    """A pith 150 mm under a flat-sawn board 210 mm wide: atan(105/150) = 34.99 deg at the edge."""
    made = bowl()
    row = rows(made)["rings"]
    assert row.value == pytest.approx(34.992, abs=1e-3)
    wood = made.board.wood.orthotropic()
    flat, turned = (board_stiffness(wood, ring_angle_rad=math.radians(a)).G_yz_MPa for a in (0, 34.992))
    assert numbers(row)[-1] == pytest.approx(turned / flat, abs=0.006)
    quarter = replace(made, board=replace(made.board, ring_angle_rad=math.pi / 2))
    assert rows(quarter)["rings"].value == pytest.approx(0, abs=1e-9)  # the pith lies beside it
    rift = replace(made, board=replace(made.board, ring_angle_rad=math.radians(30)))
    # Pith 75 mm to one side and 129.9 below: atan(180/129.9) - 30 = 24.2, 30 + atan(30/129.9) = 43.0.
    assert rows(rift)["rings"].value == pytest.approx(43.0, abs=0.05)


def test_the_pith_is_the_files_own() -> None:
    """A pith 83 mm below a flat-sawn board 210 mm wide: atan(105/83) = 51.68 deg; 150 mm is an estimate."""
    made = bowl()
    assert "150 mm off (assumed)" in rows(made)["rings"].size
    near = rows(replace(made, board=replace(made.board, pith_mm=83.0)))["rings"]
    assert near.value == pytest.approx(51.675, abs=1e-3)
    assert "83 mm off, the rings turn by 52 deg" in near.size


def test_a_pith_within_the_board_is_told_as_that() -> None:
    """Beside the middle by less than half the board's width and level with it, it turns no angle."""
    made = bowl()
    for across_mm, ring_deg, pith_mm, within in (
        (210, 90, 97.0, True), (210, 90, 106.0, False), (380, 90, None, True), (210, 0, 6.0, True),
        (210, 0, 8.0, False), (210, 86, 90.0, True), (210, 84, 90.0, False),  # 90 cos: 6.3 and 9.4 of 7 mm
    ):  # fmt: skip
        ring = math.radians(ring_deg)
        board = replace(made.board, across_mm=across_mm, ring_angle_rad=ring, pith_mm=pith_mm)
        row = rows(replace(made, board=board))["rings"]
        assert ("in the board itself" in row.size) is within
        assert ("turn by" in row.size) is not within
        assert math.isinf(row.value) is within


def rotated(stiffness: BoardStiffness, psi: float) -> np.ndarray:
    """In-plane compliance turned by psi, by tensors: strain of each unit stress in turned axes."""
    a, b = stiffness.E_x_MPa, stiffness.E_y_MPa
    own = np.array(
        [[1 / a, -stiffness.nu_xy / a, 0], [-stiffness.nu_xy / a, 1 / b, 0], [0, 0, 1 / stiffness.G_xy_MPa]]
    )
    turn = np.array([[math.cos(psi), math.sin(psi)], [-math.sin(psi), math.cos(psi)]])
    columns = []
    for unit in (np.diag([1.0, 0.0]), np.diag([0.0, 1.0]), np.array([[0.0, 1.0], [1.0, 0.0]])):
        s = turn.T @ unit @ turn
        e = own @ np.array([s[0, 0], s[1, 1], s[0, 1]])
        back = turn @ np.array([[e[0], e[2] / 2], [e[2] / 2, e[1]]]) @ turn.T
        columns.append([back[0, 0], back[1, 1], 2 * back[0, 1]])
    return np.array(columns).T


def test_coupling_by_turned_tensors() -> None:
    """The greatest ratio over directions, the compliance turned as a tensor, direction by direction."""
    wood = BoardStiffness(E_x_MPa=11300, E_y_MPa=720, G_xy_MPa=750, G_xz_MPa=970, G_yz_MPa=320, nu_xy=0.5)
    T, w = 5.0, 9.0
    best = 0.0
    for degree in range(91):
        S = rotated(wood, math.radians(degree))
        assert 1 / S[2, 2] == pytest.approx(strip_stiffness(wood, psi_rad=np.radians([degree])).G_sn_MPa[0])
        G_sz = strip_stiffness(wood, psi_rad=np.radians([degree])).G_sz_MPa
        free, held = (
            torsion_stiffness_Nmm2(
                thickness_mm=np.array([T]), width_mm=np.array([w]), G_sz_MPa=G_sz, G_sn_MPa=np.array([G])
            )[0]
            for G in (1 / S[2, 2], 1 / (S[2, 2] - S[0, 2] ** 2 / S[0, 0]))
        )
        best = max(best, float(held / free))
    assert restrained_twist_ratio(wood, thickness_mm=T, width_mm=w) == pytest.approx(best, rel=1e-9)
    assert best > 1.3  # a thin board
    assert 1 <= restrained_twist_ratio(wood, thickness_mm=60.0, width_mm=4.0) < 1.03


def test_root_rows_by_the_even_helix() -> None:
    """In wood alike all round, torque is 1.45 D h/(2 pi r^2), whatever the direction of the root."""
    made = bowl()
    G, E = 800.0, 2000.0  # nu 0.25; E_s, G_sz and G_sn are then alike in every direction
    alike = {"E_L_MPa": E, "E_R_MPa": E, "E_T_MPa": E, "G_LR_MPa": G, "G_LT_MPa": G, "G_RT_MPa": G,
             "nu_LR": 0.25, "nu_LT": 0.25, "nu_RT": 0.25}  # fmt: skip
    old = made.board.wood
    wood = replace(old, **{key: replace(getattr(old, key), value=value) for key, value in alike.items()})
    even = replace(made, board=replace(made.board, wood=wood), cut=replace(made.cut, root_rad=0.4))
    found = rows(even)
    twist = 1.45 * 7.6534 / (2 * math.pi * RADIUS**2)
    # Roark, rectangle 14 x 6.2: J = a b^3 [16/3 - 3.36 b/a (1 - b^4/(12 a^4))], a 7, b 3.1.
    J = 7 * 3.1**3 * (16 / 3 - 3.36 * 3.1 / 7 * (1 - 3.1**4 / (12 * 7**4)))
    assert found["ends"].value == pytest.approx(G * J * twist**2 / (2 * 14) / 0.15, rel=0.01)
    # Along the strip E (w T/4) twist/lambda, and the sentence gives lambda; the across share by tensor.
    assert numbers(found["ends"])[-2:] == [4, 0.45]  # 4 mm hole: four kerfs of 0.8; sqrt(0.8/4)
    stress, decay, across, *_ = numbers(found["root"])
    assert found["root"].value == pytest.approx(E * WIDTH * 14 / 4 * twist / decay, rel=0.02)
    psi = 0.4 + math.pi / 2
    expected = stress * (math.sin(psi) ** 2 + 0.25 * math.cos(psi) ** 2)
    assert across == pytest.approx(expected, abs=0.11)


def test_twist_gathers_where_the_strip_is_soft() -> None:
    """One torque all the way round: a root across the grain is the softer and twists in inverse ratio."""
    made = bowl()
    along_root = replace(made, cut=replace(made.cut, root_rad=math.pi / 2))
    across_root = replace(made, cut=replace(made.cut, root_rad=0.0))
    a, b = rows(along_root)["ends"].value, rows(across_root)["ends"].value
    stiffness = board_stiffness(made.board.wood.orthotropic(), ring_angle_rad=0.0)
    D = []
    for psi in (0.0, math.pi / 2):
        along = strip_stiffness(stiffness, psi_rad=np.array([psi]))
        section = {"thickness_mm": np.array([14.0]), "width_mm": np.array([WIDTH])}
        D.append(torsion_stiffness_Nmm2(G_sz_MPa=along.G_sz_MPa, G_sn_MPa=along.G_sn_MPa, **section)[0])
    assert b / a == pytest.approx(D[0] / D[1])
    assert b > 1.5 * a


def test_the_torque_climbs_by_the_drop_in_one_turn() -> None:
    """Summing the climb r kappa ds of one torque over a turn, point by point, gives the drop."""
    made = bowl()
    found = rows(made)["ends"].value
    stiffness = board_stiffness(made.board.wood.orthotropic(), ring_angle_rad=0.0)

    def stiff(psi: float) -> float:
        along = strip_stiffness(stiffness, psi_rad=np.array([psi]))
        section = {"thickness_mm": np.array([14.0]), "width_mm": np.array([WIDTH])}
        return float(torsion_stiffness_Nmm2(G_sz_MPa=along.G_sz_MPa, G_sn_MPa=along.G_sn_MPa, **section)[0])

    psi_root = made.cut.root_rad + math.pi / 2
    release = found * 0.15  # value is the release over the weakest fracture energy
    torque = math.sqrt(release * 2 * stiff(psi_root) * 14) / 1.45
    steps = 500
    climb = sum(
        RADIUS * torque / stiff(psi_root + 2 * math.pi * (i + 0.5) / steps) * RADIUS * 2 * math.pi / steps
        for i in range(steps)
    )
    assert climb == pytest.approx(0.8 / math.sin(math.radians(6)), rel=1e-4)


def test_of_a_bowl_that_was_pressed_the_strips_own_numbers_are_told() -> None:
    """Overlap and friction used beyond the model start from what the strip has at rest."""
    made = make_bowl({**TABLES, "use": {**TABLES["use"], "friction": "0.36"}})
    answer = fit(made)
    assert answer.elastic is not None
    at_rest, said = answer.elastic.opening.numbers, {row.name: row for row in answer.left_out}
    edges = next(row for name, row in said.items() if "edges" in name and "chamfered" in name)
    # 0.5 mm off each of two edges is 1 of 14 mm.
    assert edges.value == pytest.approx(at_rest.overlap - 1 / 14)
    assert numbers(edges) == [0.5, round(at_rest.overlap - 1 / 14, 2), round(at_rest.overlap, 2)]
    slides = next(row for name, row in said.items() if "friction" in name)
    # What is needed stays, what there is falls to 0.08/0.12 of itself.
    assert slides.value == pytest.approx(1.5 * at_rest.friction_used)
    assert numbers(slides)[2] == pytest.approx(at_rest.friction_used, abs=0.005)
    handled = next(row for name, row in said.items() if "handled" in name)
    assert handled.value == answer.elastic.collapse_N > 0
    tires = next(row for name, row in said.items() if "tires" in name)
    assert numbers(tires)[2] == pytest.approx((1 - 1 / 1.6) * answer.standing.drop_mm.mean(), abs=0.051)
    by_hand = fit(made, rigid=True)
    assert abs(by_hand.rigid.numbers.overlap - at_rest.overlap) > 0.03
    slides = next(row for row in by_hand.left_out if "friction" in row.name)
    assert slides.value == pytest.approx(1.5 * math.tan(math.radians(6)) / 0.36)
