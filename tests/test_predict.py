"""What is predicted of drawn bowls against the rigid fit of the same bowls and hand formulas."""

import math
from dataclasses import replace

import numpy as np
import pytest
from failed_bowls_data import emulator, plan

from fitsim.bowl.closed_form import rigid_fit
from fitsim.failure.bowl_emulator import TIMES_TO_LIMIT, rigid_emulator
from fitsim.failure.causes import causes
from fitsim.failure.failed_samples import Samples, as_planned, cause_column, dimensions, draw
from fitsim.failure.predict import ModelError, predict
from fitsim.wood.strength import split_chance

SHARP = ModelError(slot_mm=1e-6, deepest_log=1e-6, needed_log=1e-6)
CAUSES = {cause.name: cause for cause in causes()}


def changed(**values: object) -> Samples:
    """The plan with some of its numbers another."""
    samples = as_planned(plan())
    arrays = {name: np.asarray(v, dtype=getattr(samples, name).dtype) for name, v in values.items()}
    return replace(samples, **arrays)


def test_drops_are_those_of_the_rigid_fit() -> None:
    """Kerf, tilt, film and moisture unequal from turn to turn: drops are the rigid fit's own."""
    p = plan()
    kerf = (0.55, 0.7, 0.83, 0.61, 0.74)
    tilt = np.radians([5.5, 4.2, 6.3, 4.9, 5.1])
    base, rim, follows = 9.0, 6.2, 0.4
    turn = tuple(rim + (base - rim) * follows ** (j + 1) for j in range(p.turns))
    bowl = replace(
        p.bowl,
        cut=replace(p.bowl.cut, kerf_mm=kerf, tilt_rad=tuple(tilt.tolist())),
        use=replace(p.bowl.use, film_mm=0.03, base_moisture_percent=base, turn_moisture_percent=turn),
    )
    samples = changed(
        kerf_mm=[kerf[: p.turns]], tilt_rad=[tilt[: p.turns]], film_mm=[0.03], base_percent=[base],
        rim_percent=[rim],
    )  # fmt: skip
    now = predict(emulator(), samples)
    rigid = rigid_fit(bowl)
    mean = rigid.seats.mean_drop_mm
    # The last turn is not a whole one, so its mean over directions is not that of the two axes.
    assert np.allclose(now.drops_mm[0, :-1], mean[:-1], rtol=0.01)
    low = np.minimum(*(float(x) for x in (rigid.seats.seat_drop_mm[0], mean[0])))
    assert low < mean[0] - 0.3  # the moisture does matter here
    assert now.rocks_mm[0] > 0.5  # turns drier than the base: the slot closes across the grain


def test_readings_follow_the_hand_formulas() -> None:
    """Gauge, drop, slip angle and base are what the formulas of the physics page give."""
    now = predict(emulator(), changed(kerf_mm=[[0.9] * plan().turns], film_mm=[0.05], friction=[0.3]))
    assert now.readings["kerf"][0] == pytest.approx(0.8)
    tilt = math.radians(5)
    assert now.readings["drop_2"][0] == pytest.approx(0.8 / math.cos(tilt) / math.tan(tilt))
    assert now.readings["slip_angle"][0] == pytest.approx(math.degrees(math.atan(0.3)))
    assert now.readings["base"][0] == pytest.approx(70.0)


def test_a_film_shows_whether_it_was_planned_or_not() -> None:
    """What a knife scrapes off a bevel of a varnished bowl is a film, and oil leaves none to scrape."""
    for planned, laid, shows in (
        (0.065, 0.065, 1),
        (0.0025, 0.0025, 0),
        (0.0025, 0.06, 1),
        (0.065, 0.0, 0),
    ):
        use = replace(plan().bowl.use, film_mm=planned)
        film = replace(plan(), bowl=replace(plan().bowl, use=use))
        assert predict(rigid_emulator(film), changed(film_mm=[laid])).readings["bevels"][0] == shows


@pytest.mark.parametrize(
    ("values", "state"),
    [
        ({"closed_mm": [0.75]}, 0),
        ({"thickness_mm": [7.9]}, 1),
        ({"friction": [0.2]}, 2),
        ({"friction": [0.35]}, 3),
    ],
)
def test_states_begin_where_physics_has_them(values: dict[str, list[float]], state: int) -> None:
    """Slot closed, drop beyond the thickness (8.03 mm here), more press needed than the 100 N there are.

    With rigid seats that is 60 N at the friction of 0.4 and goes with 1/(friction - tan(tilt)): 0.275.
    """
    now = predict(emulator(), changed(**values), error=SHARP)
    assert now.state[0, state] == pytest.approx(1.0, abs=1e-6)
    assert now.state.sum(axis=1) == pytest.approx(1.0)


def test_a_reversed_bevel_falls_at_the_reversed_turns() -> None:
    """A board that changed sides falls at turns from the base out to where it changed, and nowhere else."""
    z = np.zeros((1, dimensions(plan())))
    z[0, cause_column(plan())] = -0.3  # the second of four or five turns
    samples = draw(plan(), z, (CAUSES["sides changed"],))
    reversed_turns = samples.tilt_rad[0] < 0
    assert reversed_turns.tolist()[:2] == [True, True]
    assert not reversed_turns[-1]
    now = predict(emulator(), samples)
    assert now.state[0, 1] > 0.99
    assert now.falls_at[0, reversed_turns].sum() == pytest.approx(1.0, abs=1e-3)


def test_a_cut_begun_wrong_binds_where_it_was_put_right() -> None:
    """Begun wrong it falls from the rim in to where it was put right; turns inside bind at k/sin(tilt)."""
    z = np.zeros((1, dimensions(plan())))
    z[0, cause_column(plan())] = -0.3  # the second of four or five turns is the last one cut right
    samples = draw(plan(), z, (CAUSES["begun wrong"],))
    reversed_turns = samples.tilt_rad[0] < 0
    other = draw(plan(), z, (CAUSES["sides changed"],)).tilt_rad[0] < 0
    assert reversed_turns.tolist()[:2] == [False, False]
    assert np.array_equal(reversed_turns, ~other)
    now = predict(emulator(), samples)
    assert now.state[0, 1] > 0.99
    assert now.falls_at[0, reversed_turns].sum() == pytest.approx(1.0, abs=1e-3)
    assert now.readings["tilt"][0] == pytest.approx(-5)
    assert now.readings["tilt_inner"][0] == pytest.approx(5)
    assert now.drops_mm[0, :2] == pytest.approx(0.7 / math.sin(math.radians(5)))
    assert now.drops_mm[0, reversed_turns] == pytest.approx(19.0)


def test_a_narrow_kerf_is_a_share_of_the_one_planned() -> None:
    """A blade that lost its set still cuts a slot: nine in ten cut 0.52 to 1.0 of the kerf, none shuts."""
    z = np.random.default_rng(6).standard_normal((4000, dimensions(plan())))
    without = draw(plan(), z, ()).kerf_mm
    share = draw(plan(), z, (CAUSES["kerf narrow"],)).kerf_mm / without
    assert np.ptp(share, axis=1) == pytest.approx(0.0, abs=1e-9)
    # exp(-+1.645 * 0.2) about 0.72.
    assert np.quantile(share[:, 0], [0.05, 0.95]) == pytest.approx([0.518, 1.0], abs=0.012)
    assert predict(emulator(), draw(plan(), z, (CAUSES["kerf narrow"],))).state[:, 0].mean() < 0.01


@pytest.mark.parametrize(
    ("cause", "reading", "sign"),
    [
        ("kerf wide", "kerf", 1),
        ("kerf narrow", "kerf", -1),
        ("board thin", "thickness", -1),
        ("friction low", "slip_angle", -1),
        ("film in the slot", "kerf", -1),
        ("rim wet", "rim_moisture", 1),
        ("rim dry", "rim_moisture", -1),
        ("slot closed up", "kerf_inner", -1),
        ("cut wandered", "least_width", -1),
        ("pressed too hard", "press", 1),
        ("pressed too gently", "press", -1),
        ("cut stopped early", "base", 1),
        ("blade wide", "kerf_inner", 1),
    ],
)
def test_each_cause_moves_its_own_reading(cause: str, reading: str, sign: int) -> None:
    """Every cause moves the reading that shows it, the way its words say."""
    z = np.random.default_rng(4).standard_normal((50, dimensions(plan())))
    without = predict(emulator(), draw(plan(), z, ()))
    with_it = predict(emulator(), draw(plan(), z, (CAUSES[cause],)))
    change = sign * (with_it.readings[reading] - without.readings[reading])
    assert np.all(change >= 0)
    assert np.mean(change > 0) > 0.5


def test_nobody_presses_harder_than_hands_can() -> None:
    """Pressed too hard on a bowl that asks for much: with all a man has, 500 N or more if he said so.

    Of a bowl that asks for little it is the factor of the table, whatever hands can.
    """
    hard = {"press_times": [4.0], "friction": [0.2]}
    asks = 60 * (0.4 - math.tan(math.radians(5))) / (0.2 - math.tan(math.radians(5)))
    for hands, most in ((300.0, 500.0), (800.0, 800.0)):
        now = predict(emulator(), changed(hands_N=[hands], **hard))
        assert now.needed_N[0] == pytest.approx(asks, rel=1e-6)
        assert now.readings["press"][0] == pytest.approx(most)
    little = predict(emulator(), changed(press_times=[4.0], hands_N=[300.0]))
    assert little.readings["press"][0] == pytest.approx(4 * 1.25 * 60)


def test_a_broad_spread_is_broader_everywhere() -> None:
    """None of these is drawn wider than the usual scatter in every quantity."""
    z = np.random.default_rng(5).standard_normal((400, dimensions(plan())))
    usual = predict(emulator(), draw(plan(), z, ())).readings
    broad = predict(emulator(), draw(plan(), z, (), broad=True)).readings
    for key in ("kerf", "tilt", "thickness", "press", "slip_angle", "rim_moisture"):
        assert broad[key].std() > 1.5 * usual[key].std()


def test_the_plan_splits_as_often_as_what_it_rests_on() -> None:
    """Predicted of the plan the chance is the emulator's own; half as strong, its own too."""
    sharp = replace(SHARP, stress_log=0.0)
    first = emulator().split
    assert first.times_to_limit == pytest.approx(TIMES_TO_LIMIT)
    hands = {"hands_N": [60.0]}  # where the emulator's stress is its own
    usual = predict(emulator(), changed(**hands), error=sharp)
    assert float(usual.splits.sum()) == pytest.approx(first.chance, rel=5e-3)
    weak = predict(emulator(), changed(strength=np.full((1, plan().turns), 0.5), **hands), error=sharp)
    f = first.strength
    twice = split_chance(first.risks * 2.0 ** np.array([f.shapes]).T, f)
    assert float(weak.splits.sum()) == pytest.approx(twice.chance, rel=5e-3)
    # One weak turn is likeliest to be the one that splits.
    one = np.array([[1.0, 1.0, 0.3, 1.0, 1.0]])
    assert int(np.argmax(predict(emulator(), changed(strength=one, **hands), error=sharp).splits[0])) == 2
