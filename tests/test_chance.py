"""Chances over many samples, against plain counting, and whether the standard errors are honest."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from tilt_by_hand import bowl_of, by_hand, judge_by_hand, one_by_one

import fitsim
from fitsim.bowl.inputs import Bowl, Limits, Uncertain
from fitsim.bowl.verdict import DecidingNumbers, judge
from fitsim.errors import NoConvergenceError
from fitsim.tilt.lock_chance import (
    Chances,
    JudgeBowls,
    chances_at,
    emulated_chances,
    lock_margin,
    on_strip,
    predicted_shares,
    press_samples,
    pushes,
    state_shares,
)
from fitsim.tolerances.press_surface import smoothed
from fitsim.tolerances.samples import scattered, unit_cube

LOW_DEG, HIGH_DEG = 2.3, 20.0


def counted(
    bowl: Bowl, numbers: Callable[[Bowl], DecidingNumbers], tilt_rad: float, count: int
) -> np.ndarray:
    """Share of each state among so many samples, every one of them judged at the press it has."""
    of = scattered(bowl).at_tilt(tilt_rad)
    bowls = of.bowls(unit_cube(len(of.dimensions), count, seed=99))
    return np.mean([state_shares(numbers(b), bowl.limits, np.ones(1)) for b in bowls], axis=0)


def at_tilts(
    bowl: Bowl,
    judge: JudgeBowls,
    tilts_rad: Sequence[float],
    *,
    seed: int,
    samples: int = 48,
    most: int = 96,
) -> tuple[Chances, ...]:
    """Chances at tilts, as the answer works them out."""
    of = scattered(bowl)
    tilts = math.radians(LOW_DEG), math.radians(HIGH_DEG)
    cube = unit_cube(len(of.dimensions) + 1, samples, seed=seed)
    along = np.exp(np.interp(cube[:, -1], [0, 1], np.log(tilts)))
    pressed = press_samples(of, judge, tilts_rad=tilts, tilt_rad=along, points=cube[:, :-1])
    points = unit_cube(len(of.dimensions), 1024, seed=seed + 1000)
    chances, _ = chances_at(
        pressed, judge, tilts_rad=tilts_rad, points=points, seed=seed, target_se=0.03, most_presses=most
    )
    return chances


@pytest.mark.parametrize(("tilt_deg", "press"), [(2.9, "200 N"), (6.0, "65 N"), (19.0, "200 N")])
def test_chances_are_those_of_plain_counting(tilt_deg: float, press: str) -> None:
    """From some dozens of presses the chance of every state is that of 4096 samples, all of them judged."""
    bowl, tilt = bowl_of(press=press, tilt_rad=math.radians(0.5)), math.radians(tilt_deg)
    expected = counted(bowl, by_hand, tilt, 4096)
    assert 0.02 < expected[-1] < 0.98
    (found,) = at_tilts(bowl, judge_by_hand(), [tilt], seed=1)
    assert found.reached
    assert found.presses <= 96
    assert found.chance == pytest.approx(expected, abs=3 * float(found.se[-1]))
    assert found.chance.sum() == pytest.approx(1)


def test_standard_errors_cover_the_counted_chance() -> None:
    """Over many seeds the counted chance lies within two standard errors about 19 times in 20."""
    bowl, tilt = bowl_of(press="65 N", tilt_rad=math.radians(0.5)), math.radians(3.0)
    expected = float(counted(bowl, by_hand, tilt, 8192)[-1])
    away = []
    for seed in range(40):
        (found,) = at_tilts(bowl, judge_by_hand(), [tilt], seed=seed, samples=24)
        away.append((float(found.chance[-1]) - expected) / float(found.se[-1]))
    assert sum(abs(z) < 2 for z in away) >= 34
    assert max(map(abs, away)) < 3.5
    assert abs(np.mean(away)) < 3 / math.sqrt(40)


def cliff(seen: Bowl) -> DecidingNumbers:
    """What no smooth surface follows: it springs back where two errors have unlike signs."""
    thicker, wider = seen.board.thickness_mm - 17, seen.cut.kerf_mm[0] - 0.7
    return replace(by_hand(seen), press_asked=0.3 if thicker * wider > 0 else math.inf, kept=1.0)


def test_a_poor_surface_costs_presses_and_not_the_truth() -> None:
    """Where the surface is hopeless the chance is still the counted one, if from more presses."""
    bowl, tilt = bowl_of(), math.radians(6)
    expected = float(counted(bowl, cliff, tilt, 4096)[-1])
    away, presses = [], []
    for seed in range(2):
        (found,) = at_tilts(bowl, one_by_one(cliff), [tilt], seed=seed, most=400)
        away.append((float(found.chance[-1]) - expected) / float(found.se[-1]))
        presses.append(found.presses)
        assert found.reached
    assert min(presses) > 100
    assert max(map(abs, away)) < 3.2


def test_no_more_is_pressed_than_allowed() -> None:
    """The cap on presses holds, and the missed target is told."""
    (found,) = at_tilts(bowl_of(), one_by_one(cliff), [math.radians(6)], seed=1, most=20)
    assert found.presses + found.failed == 20
    assert not found.reached
    assert found.se[-1] > 0.03


def test_samples_without_an_answer_are_left_out_and_counted() -> None:
    """A sample without an equilibrium is counted and does not enter the chance."""

    def some_fail(seen: Bowl) -> DecidingNumbers:
        if seen.board.thickness_mm > 17.05:
            raise NoConvergenceError("no equilibrium")
        return by_hand(seen)

    (found,) = at_tilts(bowl_of(), one_by_one(some_fail), [math.radians(7)], seed=3)
    assert found.failed > 0
    assert found.chance[-1] > 0.97


def test_pushes_are_the_makers_own() -> None:
    """Presses that stand for the maker's lie evenly over a range, and are one where nothing is known."""
    ranged = replace(bowl_of(), uncertain=(Uncertain("press", "N", 140.0, 350.0, "use.press_N"),))
    there = 200 * pushes(scattered(ranged))
    assert there.mean() == pytest.approx(245)
    assert there.std() == pytest.approx(210 / math.sqrt(12), rel=0.01)
    spread = np.log(pushes(scattered(bowl_of())))
    assert spread.mean() == pytest.approx(0, abs=1e-9)
    assert spread.std() == pytest.approx(0.2, rel=0.05)


def test_the_press_is_taken_as_its_law_has_it() -> None:
    """With nothing else to limit it, it locks as often as the maker's push exceeds what is asked."""
    bowl = bowl_of(press="60 N")
    shares = state_shares(
        DecidingNumbers(0.7, 0.5, 0.8, 0.0, 1.0, 0.9), bowl.limits, pushes(scattered(bowl))
    )
    # log(0.9)/0.2 = -0.527: the normal's own chance beyond it is 0.701.
    assert shares[-1] == pytest.approx(0.701, abs=0.02)
    assert shares[2] == pytest.approx(1 - shares[-1])


def test_predicted_shares_are_those_of_normal_numbers() -> None:
    """Shares by the surface's mean and error are those of numbers drawn normally about that mean."""
    limits, there = Limits(overlap=0.2), np.array([0.8, 1.0, 1.3])
    mean = np.array([[0.6, math.log(0.75), 0.1, math.log(0.1 / 0.9), 0.0]])
    sd = np.array([[0.1, 0.08, 0.2, 0.5, 0.1]])
    shares, doubt = predicted_shares(mean, sd, limits, there)
    rng = np.random.default_rng(4)
    drawn = mean + sd * rng.standard_normal((20000, 5))
    rows = []
    for slot, sunk, left, odds, _ in drawn:
        split = 1 / (1 + math.exp(-odds))
        numbers = DecidingNumbers(slot, 1 - math.exp(sunk), 0.5, split, 1.0, math.exp(-left))
        rows.append(state_shares(numbers, limits, there))
    assert shares[0] == pytest.approx(np.mean(rows, axis=0), abs=0.01)
    assert doubt[0] == pytest.approx(np.std([row[-1] for row in rows]), abs=0.01)


def test_shares_by_the_surface_follow_the_tilt() -> None:
    """The surface alone gives the counted chance within a few bowls in a hundred all along the tilt."""
    bowl, of = bowl_of(press="65 N"), scattered(bowl_of(press="65 N"))
    tilts = math.radians(LOW_DEG), math.radians(HIGH_DEG)
    cube = unit_cube(len(of.dimensions) + 1, 160, seed=5)
    along = np.exp(np.interp(cube[:, -1], [0, 1], np.log(tilts)))
    pressed = press_samples(of, judge_by_hand(), tilts_rad=tilts, tilt_rad=along, points=cube[:, :-1])
    values = of.values(unit_cube(len(of.dimensions), 512, seed=6))
    for deg in (2.6, 4.0, 7.0, 12.0, 17.0):
        expected = counted(bowl, by_hand, math.radians(deg), 1024)[-1]
        assert emulated_chances(pressed, math.radians(deg), values)[0].mean(axis=0)[-1] == pytest.approx(
            expected, abs=0.07
        )


def test_margin_is_the_nearest_limit() -> None:
    """The margin is the least distance, named by its state; the first state that happens decides."""
    limits = Limits(overlap=0.2, friction_used=0.9, split_chance=0.1)
    margin, state = lock_margin(DecidingNumbers(0.6, 0.5, 0.7, 0.02, 1.0, 0.8), limits)
    assert (margin, state) == (pytest.approx(math.log(1 / 0.8)), "springs back")
    margin, state = lock_margin(DecidingNumbers(0.6, 0.15, 0.7, 0.02, 1.0, 0.8), limits)
    assert (margin, state) == (pytest.approx(math.log(0.8 / 0.85)), "falls through")
    margin, state = lock_margin(DecidingNumbers(0.6, 0.5, 0.7, 0.02, 1.0, 1.5), limits)
    assert (margin, state) == (pytest.approx(-math.log(1.5)), "springs back")
    odds = math.log(0.1 / 0.9) - math.log(0.2 / 0.8)
    margin, state = lock_margin(DecidingNumbers(0.6, 0.5, 0.7, 0.2, 1.0, 0.5), limits)
    assert (margin, state) == (pytest.approx(odds / 6), "split risk")


def test_a_bowl_that_holds_splits_with_its_own_chance() -> None:
    """What holds is shared between splitting and locking; an earlier state takes the whole bowl."""
    one = np.ones(1)
    assert state_shares(DecidingNumbers(0.6, 0.5, 0.7, 0.3), Limits(), one) == (0, 0, 0, 0.3, 0.7)
    assert state_shares(DecidingNumbers(0.6, 0.1, 0.7, 0.3), Limits(), one) == (0, 1, 0, 0, 0)
    assert state_shares(DecidingNumbers(-0.1, 0.1, 1.7, 0.3), Limits(), one) == (1, 0, 0, 0, 0)


SMALL = {
    "board": {"wood": "cherry", "thickness": "17 mm", "across": "96 mm"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "64 mm"},
    "use": {"finish": "none", "friction": "0.4", "press": "95 N"},
}


def test_on_the_strip_the_chance_is_that_of_plain_counting() -> None:
    """Two turns pressed on the strip: 12 samples counted one by one agree with the chance worked out.

    Those counted are judged as closely as ``fit`` does, those of the chance as ``tilt`` has them judged.
    """
    bowl, tilt = replace(fitsim.make_bowl(SMALL), uncertain=()), math.radians(5)
    of = scattered(bowl).at_tilt(tilt)
    points = unit_cube(len(of.dimensions), 12, seed=12)
    judged = on_strip()(of.bowls(points))
    shares = [state_shares(n, bowl.limits, np.ones(1))[-1] for n in judged if n is not None]
    (found,) = at_tilts(bowl, on_strip(roughly=True), [tilt], seed=2, samples=13, most=5)
    error = math.hypot(float(np.std(shares)) / math.sqrt(len(shares)), float(found.se[-1]))
    assert 0.05 < np.mean(shares) < 0.95
    assert found.chance[-1] == pytest.approx(np.mean(shares), abs=2.5 * error)


def test_on_the_strip_a_surface_errs_on_fresh_presses_as_it_says() -> None:
    """How deep fresh samples sink on the strip is predicted within the error the surface states."""
    bowl, tilt = replace(fitsim.make_bowl(SMALL), uncertain=()), math.radians(6)
    of = scattered(bowl)
    tilts = math.radians(4.0), math.radians(9.0)
    cube = unit_cube(len(of.dimensions), 34, seed=21)
    pressed = press_samples(of, on_strip(), tilts_rad=tilts, tilt_rad=np.full(22, tilt), points=cube[:22])
    fresh = press_samples(of, on_strip(), tilts_rad=tilts, tilt_rad=np.full(12, tilt), points=cube[22:])
    mean, sd = pressed.surface.predict(fresh.surface.points)
    sunk = smoothed(fresh.numbers)[:, 1]
    assert np.sqrt(np.mean((mean[:, 1] - sunk) ** 2)) < 0.5 * sunk.std()
    assert np.sqrt(np.mean(((mean[:, 1] - sunk) / sd[:, 1]) ** 2)) < 1.8


def slipping(seen: Bowl) -> DecidingNumbers:
    """A made-up bowl whose press grows without end towards where the taper uses all the friction."""
    used = math.tan(seen.cut.tilt_rad[0]) / seen.use.friction
    asked = math.inf if used >= 0.9 else 0.25 / (1 - used / 0.9)
    return DecidingNumbers(0.6, 0.5, min(used, 1.0), 0.01, press_asked=asked * 200 / seen.use.press_N)


def test_a_surface_follows_a_press_that_grows_without_end() -> None:
    """Over frictions and tilts at which a taper slips or holds, fresh samples' presses are told closely."""
    told = {**SMALL, "use": {"finish": "none", "friction": "0.2 to 0.55", "press": "200 N"}}
    of = scattered(fitsim.make_bowl(told))
    tilts = math.radians(4.0), math.radians(13.0)
    cube = unit_cube(len(of.dimensions) + 1, 160, seed=5)
    along = np.exp(np.interp(cube[:, -1], [0, 1], np.log(tilts)))
    judge = one_by_one(slipping)
    pressed, fresh = (
        press_samples(of, judge, tilts_rad=tilts, tilt_rad=along[part], points=cube[part, :-1])
        for part in (slice(None, 60), slice(60, None))
    )
    mean, _ = pressed.surface.predict(fresh.surface.points)
    left = smoothed(fresh.numbers)[:, 2]
    error = float(np.sqrt(np.mean((mean[:, 2] - left) ** 2)))
    assert error < 0.35 * left.std()


@pytest.mark.parametrize(
    ("tilt", "press", "state"),
    [
        ("2.2 deg", "200 N", "falls through"),  # a rigid turn sinks 0.64/sin(2.2 deg) = 16.7 of 16 mm
        ("6 deg", "200 N", "locks"),
        ("8 deg", "2 N", "springs back"),
        ("22 deg", "200 N", "springs back"),  # steeper than the friction angle of the middle, 19.3 deg
    ],
)
def test_the_state_alone_is_that_of_the_whole_judgement(tilt: str, press: str, state: str) -> None:
    """Not pressing as less friction asks changes no state, where friction is known as a wide range."""
    tables = {
        "board": {"wood": "cherry", "thickness": "16 mm", "across": "95 mm"},
        "cut": {"tilt": tilt, "kerf": "0.64 mm", "pitch": "6.35 mm", "base": "55.6 mm"},
        "use": {"finish": "none", "friction": "0.2 to 0.5", "press": press},
    }
    bowl = fitsim.make_bowl(tables)
    for quick in (True, False):
        (found,) = on_strip(state_alone=quick)([bowl])
        assert found is not None
        assert judge(found, bowl.limits) == state


def test_a_bowl_that_its_own_friction_cannot_follow_is_judged_whole(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """``fit`` takes the press of a lesser friction where it locks so pressed; none of its own is sought."""
    safe = DecidingNumbers(0.7, 0.6, 0.5, 0.01, 0.98, 0.4)

    def pressed(bowl: Bowl, *, roughly: bool) -> DecidingNumbers | None:
        return safe if any(u.path == "use.friction" for u in bowl.uncertain) and not roughly else None

    monkeypatch.setattr("fitsim.tilt.lock_chance._pressed_numbers", pressed)
    board = {"wood": "cherry", "thickness": "16 mm", "across": "95 mm"}
    for friction, found in (("0.2 to 0.5", safe), ("0.3", None)):
        tables = {"board": board, "cut": {"tilt": "6 deg"}, "use": {"friction": friction}}
        assert on_strip(state_alone=True)([fitsim.make_bowl(tables)]) == [found]


def test_a_bowl_that_no_press_holds_is_told_by_a_greater_friction() -> None:
    """As ``fit`` has it: pressed as hard as that asks it springs back; pressed on it would fall through."""
    tables = {
        "board": {"wood": "spruce, Sitka", "thickness": "10 mm", "across": "129 mm"},
        "cut": {"tilt": "13 deg", "kerf": "1.11 mm", "pitch": "8.2 mm", "base": "46.4 mm"},
        "use": {"finish": "oil", "friction": "0.1 to 0.33", "press": "90 N"},
    }
    bowl = fitsim.make_bowl(tables)
    (found,) = on_strip(state_alone=True)([bowl])
    assert found is not None
    assert found.overlap > 0
    assert judge(found, bowl.limits) == "springs back"
