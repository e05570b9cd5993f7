"""The emulator of one bowl: its fits on known answers, and what it says of presses it never saw."""

from dataclasses import replace

import numpy as np
import pytest

from fitsim.bowl.judgement import judge_bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.failure.bowl_emulator import BowlEmulator, emulator_of, fitted_beyond, fitted_rows
from fitsim.failure.failed_samples import as_planned, plan_of
from fitsim.failure.predict import HELD_STATES, Pressing, predict
from fitsim.failure.pressed_samples import press_sawn, sawn_bowl

TABLES = {
    "board": {"wood": "walnut", "thickness": "15 mm", "across": "104 mm"},
    "cut": {"tilt": "6.5 deg", "kerf": "0.75 mm", "pitch": "7 mm", "base": "68 mm"},
    "use": {"finish": "none", "press": "80 N", "friction": "0.4"},
}


def test_a_bowl_left_out_is_told_as_by_the_others_alone() -> None:
    """What is left of a group that is left out is its answer less the fit of all other rows, done anew."""
    draws = np.random.default_rng(3)
    columns = np.column_stack([np.ones(40), draws.normal(size=(40, 3))])
    answers = columns @ draws.normal(size=(4, 2)) + 0.2 * draws.standard_normal((40, 2))
    group = np.repeat(np.arange(10), 4)
    found = fitted_rows(columns, answers, np.full(4, np.inf), group)
    others = group != 6
    weights = np.linalg.lstsq(columns[others], answers[others], rcond=None)[0]
    assert np.allclose(found.left[~others], answers[~others] - columns[~others] @ weights, atol=1e-6)
    assert found.sd == pytest.approx(np.sqrt(np.mean(found.left**2, axis=0)))


def test_answers_known_only_to_lie_beyond_are_taken_as_such() -> None:
    """A third of the answers cut off at one press: slope and constant come out as they were put in."""
    draws = np.random.default_rng(5)
    x = draws.uniform(-1.5, 2.0, 900)
    columns, truth = np.column_stack([np.ones(900), x]), np.array([3.4, -0.7])
    answer = columns @ truth + 0.3 * draws.standard_normal(900)
    end = float(np.quantile(answer, 0.67))
    prior = np.array([np.inf, 2.0])
    found = fitted_beyond(columns, np.minimum(answer, end), answer > end, prior)
    assert found.weights[:, 0] == pytest.approx(truth, abs=0.04)
    # Taken for answers they would tilt the line.
    taken = fitted_rows(columns, np.minimum(answer, end)[:, None], prior, np.arange(900))
    assert abs(taken.weights[1, 0] - truth[1]) > 0.1


def test_where_nothing_is_known_but_that_it_lies_beyond_it_is_told_beyond() -> None:
    """No bowl of a set ever holds: the press needed is told beyond every press tried."""
    columns = np.column_stack([np.ones(20), np.linspace(-1, 1, 20)])
    found = fitted_beyond(columns, np.full(20, 4.0), np.ones(20, dtype=bool), np.array([np.inf, 2.0]))
    assert np.all(columns @ found.weights > 4.0)


@pytest.fixture(scope="module")
def emulator() -> BowlEmulator:
    """Of a bowl of two turns."""
    return emulator_of(plan_of(make_bowl(TABLES)))


@pytest.mark.parametrize(
    ("tilt_deg", "kerf_mm", "friction", "thickness_mm"),
    [(5.6, 0.8, 0.3, 15.3), (8.1, 0.6, 0.5, 14.6), (7.2, 0.95, 0.42, 14.1), (6.4, 0.7, 0.14, 15.0)],
)
def test_bowls_it_never_saw_are_told_as_fit_judges_them(
    emulator: BowlEmulator, tilt_deg: float, kerf_mm: float, friction: float, thickness_mm: float
) -> None:
    """Other tilt, kerf, friction and thickness: state, rise and press needed as a press judges them."""
    plan = emulator.plan
    one = as_planned(plan)
    samples = replace(
        one,
        tilt_rad=np.full_like(one.tilt_rad, np.radians(tilt_deg)),
        kerf_mm=np.full_like(one.kerf_mm, kerf_mm),
        friction=np.array([friction]),
        thickness_mm=np.array([thickness_mm]),
    )
    pressed = judge_bowl(sawn_bowl(plan, samples, 0).bowl)
    limits = plan.bowl.limits
    now = predict(
        emulator, samples, pressing=Pressing(limits.press_spare, limits.press_spare, limits.overlap)
    )
    state = HELD_STATES[int(now.state[0].argmax())]
    assert {"falls through": "fell through", "springs back": "sprang back"}.get(
        pressed.state, "held"
    ) == state
    if state == "held":
        assert now.readings["rise"][0] == pytest.approx(pressed.rise_mm, rel=0.05)
        assert now.needed_N[0] == pytest.approx(pressed.needed_N, rel=0.4)
        assert now.readings["drop_2"][0] == pytest.approx(pressed.drop_mm[1], rel=0.1)


def test_what_is_said_of_a_bowl_asks_for_no_other(emulator: BowlEmulator) -> None:
    """Another name, unit and note: the one that was pressed, and not a word of any bowl in it."""
    said = replace(make_bowl(TABLES), name="Other", units="in", notes=("By hand.",))
    assert emulator_of(plan_of(said)) is emulator
    assert not emulator.plan.bowl.assumptions


def test_with_nothing_wrong_it_agrees_with_fit(emulator: BowlEmulator) -> None:
    """The plan itself, pressed as it is judged: the same state, height and chance of splitting."""
    plan = emulator.plan
    meant = judge_bowl(plan.bowl)
    assert emulator.planned.press_N == meant.press_N
    assert emulator.planned.rise_mm == meant.rise_mm
    limits = plan.bowl.limits
    now = predict(
        emulator,
        as_planned(plan),
        pressing=Pressing(limits.press_spare, limits.press_spare, limits.overlap),
    )
    assert meant.locks
    assert now.state[0, HELD_STATES.index("held")] > 0.9
    assert now.rise_share[0] == pytest.approx(1.0, abs=0.04)
    assert now.splits.sum() == pytest.approx(meant.numbers.split_chance, abs=0.02)


def test_a_stiffer_strip_under_as_much_more_press_has_the_same_shape(emulator: BowlEmulator) -> None:
    """Stiffness and press 1.6 times: it sinks alike under 1.6 times the stress, as the fit takes it."""
    plan = emulator.plan
    plain = as_planned(plan)
    stiff = replace(plain, stiffness=np.array([1.6]))
    one, other = (
        press_sawn(sawn_bowl(plan, samples, 0), press_N, turns=plan.turns, let_go=False)
        for samples, press_N in ((plain, 60.0), (stiff, 96.0))
    )
    assert other.rise_mm[-1] == pytest.approx(one.rise_mm[-1], rel=0.01)
    assert other.deepest_mm[-1] == pytest.approx(one.deepest_mm[-1], rel=0.03)
    first, second = one.splits[-1], other.splits[-1]
    assert first is not None
    assert second is not None
    assert first.times_to_limit == pytest.approx(1.6 * second.times_to_limit, rel=0.03)


def test_the_wrong_face_falls_under_a_light_press(emulator: BowlEmulator) -> None:
    """A bevel that leans the other way all over holds nothing: far less than the plan is judged at."""
    assert float(np.exp(emulator.unlike_log_N["whole"][0])) < 0.5 * emulator.planned.press_N
    assert emulator.pressed > 40
    assert emulator.not_followed < 5
