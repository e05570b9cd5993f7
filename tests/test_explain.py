"""Explanations weighed: sums, ranks, contradictions, the next measurement and the remedy."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from failed_bowls_data import TABLES, emulator, observed, plan

from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError
from fitsim.failure.bowl_emulator import BowlEmulator, Whole, rigid_emulator
from fitsim.failure.cause_chances import CauseChance, best_fits, cause_chances, posterior_samples
from fitsim.failure.causes import Cause, causes
from fitsim.failure.explanations import AS_PLANNED, IDLE, NONE_OF_THESE, Explanation, explain, hypotheses
from fitsim.failure.failed_samples import BowlPlan, dimensions, draw, plan_of
from fitsim.failure.matching import SEEN_WRONGLY, match_terms
from fitsim.failure.next_measurement import (
    TOOLS,
    evenly_told,
    gains_of_tools,
    information_gain,
    joined_runs,
    next_readings,
    readings_of_tool,
)
from fitsim.failure.observations import MEASURES, Observed, read_observed
from fitsim.failure.predict import predict
from fitsim.failure.remedies import NextSetting, Remedy, press_there_is_N, remedy_for
from fitsim.failure.remedies import _least_change as least_change
from fitsim.wood.strength import split_chance

NAMED = {cause.name: cause for cause in causes()}
FEW = tuple(
    NAMED[name]
    for name in (
        "tilt off", "kerf wide", "kerf narrow", "sides changed", "begun wrong", "wrong face",
        "nail missing", "nail too long", "friction low", "film in the slot", "pressed too gently",
        "slot closed up", "rim dry",
    )
)  # fmt: skip
"""A short table, so that tests are quick; one test takes the whole."""

SURE = Whole(0.01, 0.05, 0.05, 0.1, 0.03, 0.03, 0.1)

TILT_OR_KERF = (NAMED["tilt off"], NAMED["kerf wide"])
"""Where what is looked at hangs on no other cause."""


@cache
def explained(*seen: str, table: tuple[Cause, ...] | None = None, **measured: str) -> Explanation:
    """An explanation without a press; what several tests ask is worked out once."""
    return explain(plan(), observed(*seen, **measured), table=table or FEW, emulator=emulator())


def test_chances_add_up_to_one() -> None:
    """Chances of all explanations, none of these among them, add up to one, also cause by cause."""
    found = explained("came out shallow", table=causes(), **shallow(0.46, bevels="bare wood"))
    assert math.isclose(sum(w.chance for w in found.weighings), 1.0)
    told = cause_chances(found)
    assert math.isclose(sum(t.chance for t in told), 1.0)
    assert NONE_OF_THESE in [t.name for t in told]
    assert all(t.chance >= 0 for t in told)


@pytest.mark.parametrize(
    ("seen", "measured", "cause"),
    [
        (["fell through"], {"tilt": "2.4 deg", "kerf": "0.7 mm", "thickness": "19 mm"}, "tilt off"),
        (["fell through"], {"kerf": "1.5 mm", "kerf_inner": "1.5 mm", "tilt": "5 deg"}, "kerf wide"),
        (["fell through"], {"tilt": "-5 deg", "tilt_inner": "-5 deg"}, "wrong face"),
        (["fell through"], {"tilt": "5 deg", "tilt_inner": "-5 deg"}, "sides changed"),
        (["fell through"], {"tilt": "-5 deg", "tilt_inner": "5 deg"}, "begun wrong"),
        (["fell through at turn 5"], {"nail": "missing or loose"}, "nail missing"),
        (["sprang back"], {"slip_angle": "6 deg", "press": "100 N"}, "friction low"),
        (["sprang back"], {"slip_angle": "20 deg", "press": "20 N", "tilt": "5 deg"}, "pressed too gently"),
        (["would not open"], {"kerf": "0.1 mm", "kerf_inner": "0.1 mm"}, "slot closed up"),
        (["rocks, high along the grain, after months"], {"rim_moisture": "4.5 %"}, "rim dry"),
    ],
)
def test_a_clear_case_ranks_its_cause_first(seen: list[str], measured: dict[str, str], cause: str) -> None:
    """Where a measurement shows a cause, that cause stands first."""
    assert cause_chances(explained(*seen, **measured))[0].name == cause


def shallow(kerf_mm: float, **more: str) -> dict[str, str]:
    """Readings of a shallow bowl by hand: drops of k/sin(tilt), a rise of N - 1/2 - k_h/2p of them."""
    drop, turns = kerf_mm / math.sin(math.radians(5)), (150 - 70) / 2 / 8 - 0.5 - 0.7 / 16
    drops = {f"drop_{j}": f"{drop + off:.2f} mm" for j, off in ((2, 0.2), (3, -0.3), (4, 0.1))}
    return {"kerf": f"{kerf_mm} mm", "rise": f"{turns * drop:.1f} mm", **drops, **more}


@pytest.mark.parametrize("more", [{}, {"tilt": "5.2 deg", "tilt_inner": "4.8 deg"}])
def test_a_narrow_kerf_is_told_from_a_film(more: dict[str, str]) -> None:
    """A slot of 0.46 for 0.7 mm: a narrow kerf and a film show alike until a bevel is scraped, then not."""
    found = explained("came out shallow", **shallow(0.46, **more))
    chances = cause_chances(found)
    by_name = {c.name: c.chance for c in chances}
    assert not found.conflict.contradictory
    assert max(by_name.values()) < 0.7
    # Nothing but the odds of the table and the sizes that fit tells them apart.
    assert 1 < by_name["kerf narrow"] / by_name["film in the slot"] < 4
    advice = next_readings(found, chances, posterior_samples(found, chances))
    assert advice[0].tool == "knife"
    assert [band.cause for band in advice[0].bands] == ["kerf narrow", "film in the slot"]
    for word, name in (("bare wood", "kerf narrow"), ("a film on them", "film in the slot")):
        first = cause_chances(explained("came out shallow", **shallow(0.46, **more), bevels=word))[0]
        assert first.name == name
        assert first.chance > 0.75


def test_a_film_in_a_slot_that_was_sawn_as_planned() -> None:
    """The whole list: a film found on the bevels of a shallow bowl is the film, bare wood is the kerf."""
    film = explained("came out shallow", table=causes(), **shallow(0.46, bevels="a film on them"))
    bare = explained("came out shallow", table=causes(), **shallow(0.46, bevels="bare wood"))
    assert [cause_chances(e)[0].name for e in (film, bare)] == ["film in the slot", "kerf narrow"]


def test_the_remedy_of_a_narrow_kerf_is_less_tilt() -> None:
    """A kerf that stays narrow reaches the planned height at the tilt with the planned k/sin(tilt)."""
    found = explained("came out shallow", **shallow(0.46, bevels="bare wood"))
    remedy = remedy_for(found, cause_chances(found)[0])
    assert remedy.still_there is not None
    wanted = math.asin(0.46 / 0.7 * math.sin(math.radians(5)))
    assert remedy.still_there.scale_tilt_rad == pytest.approx(wanted, abs=math.radians(0.6))
    assert remedy.as_planned is not None
    assert remedy.as_planned.rise_share == pytest.approx(1.0, abs=0.06)
    share = math.sin(wanted) / math.sin(remedy.still_there.scale_tilt_rad)
    assert remedy.still_there.rise_share == pytest.approx(share, abs=0.06)


def test_the_place_where_the_bevel_turns_is_counted_from_its_own_side() -> None:
    """Fell at turn 2 of 5: begun wrong, reversed from the rim in to 2; at 4: changed sides, out to 4."""
    for name, turn in (("begun wrong", 2), ("sides changed", 4)):
        found = explained(f"fell through at turn {turn}", table=(NAMED[name],))
        (fit,) = best_fits(found, next(c for c in cause_chances(found) if c.name == name))
        assert fit.value == pytest.approx(turn, abs=0.5)


def test_the_kerf_is_told_as_it_was_sawn() -> None:
    """Under a planned film of 0.065 mm on each face a gauge reads 0.13 mm less than the kerf told."""
    bowl = make_bowl(TABLES | {"use": TABLES["use"] | {"film": "0.065 mm"}})
    made = plan_of(bowl)
    seen = read_observed({"seen": {"what": ["came out shallow"]}, "measured": {"kerf": "0.33 mm"}}, made)
    table = (NAMED["kerf narrow"],)
    found = explain(made, seen, table=table, emulator=rigid_emulator(made))
    (fit,) = best_fits(found, next(c for c in cause_chances(found) if c.name == "kerf narrow"))
    assert fit.value == pytest.approx(0.33 + 2 * 0.065, abs=0.03)
    assert fit.planned == pytest.approx(0.7)


def test_the_least_change_is_told_that_comes_close_to_the_best() -> None:
    """Of settings by the size of the change the first that is enough, or within 0.02 of the best."""

    def listed(*chances: float) -> list[NextSetting]:
        return [
            NextSetting(0.1 + 0.01 * i, 100.0, 100.0, 0.0, None, c, 1.0, 0.0, 1.0, "split")
            for i, c in enumerate(chances)
        ]

    enough = listed(0.6, 0.951, 0.93, 0.99)
    assert least_change(enough) is enough[1]
    close = listed(0.6, 0.79, 0.823, 0.84, 0.84)
    assert least_change(close) is close[2]


def test_nothing_seen_asks_for_something() -> None:
    """Without anything seen or measured there is nothing to explain, and the answer says what to enter."""
    with pytest.raises(InputError, match=r"--seen .fell through."):
        explain(plan(), Observed(), emulator=emulator())


def test_contradictory_input_is_named() -> None:
    """Fell through, yet every turn sank by 3 mm: nothing reproduces both."""
    assert explained("fell through", drop="3 mm").conflict.contradictory
    assert not explained("fell through").conflict.contradictory
    plain = explained("came out shallow", drop="3 mm")
    assert not plain.conflict.contradictory


def test_a_measurement_separates_tilt_from_kerf() -> None:
    """It fell through, by tilt or by kerf: the gauge is advised, low readings mean tilt, high ones kerf."""
    thin = make_bowl(TABLES | {"board": TABLES["board"] | {"thickness": "12.5 mm"}})
    plan = plan_of(thin)
    rigid = rigid_emulator(plan, error=emulator().error)

    def told(**measured: str) -> tuple[Explanation, tuple[CauseChance, ...]]:
        seen = read_observed({"seen": {"what": ["fell through"]}, "measured": measured}, plan)
        found = explain(plan, seen, table=TILT_OR_KERF, emulator=rigid)
        return found, cause_chances(found)

    found, chances = told()
    advice = next_readings(found, chances, posterior_samples(found, chances))
    assert advice[0].tool in ("feeler gauge", "bevel gauge")
    assert advice[0].gain > 0.3 * advice[0].open_nats
    kerf = next(a for a in advice if a.tool == "feeler gauge")
    assert {m.key for m in (kerf.measure, *kerf.together)} == {"kerf", "kerf_inner", "kerf_least"}
    bands = [b for b in kerf.bands if b.cause in ("tilt off", "kerf wide")]
    assert [b.cause for b in bands] == ["tilt off", "kerf wide"]
    low, high = bands[0].high, bands[1].low
    assert low is not None
    assert high is not None
    # Sawn at 0.7 mm; at 5 deg 12.5 mm need 12.5 sin(5 deg) = 1.09 mm to fall through by the kerf alone.
    assert 0.7 < low <= high < 1.05
    # Taking it settles the matter either way.
    assert {c.name: c.chance for c in told(kerf="0.68 mm")[1]}["tilt off"] > 0.6
    assert {c.name: c.chance for c in told(kerf="1.2 mm")[1]}["kerf wide"] > 0.6


def test_what_is_known_is_not_asked_again() -> None:
    """A reading that was taken is never advised again."""
    found = explained("fell through", kerf="0.7 mm", nail="through one turn")
    chances = cause_chances(found)
    gains = gains_of_tools(found, chances, posterior_samples(found, chances))
    asked = {key for _, keys in gains.values() for key in keys}
    assert not {"kerf", "nail"} & asked
    assert "tilt" in asked


def test_information_of_a_toy_reading_is_exact() -> None:
    """Two causes that predict normal readings: the gain is the mutual information by quadrature."""
    chance, middles, sd = np.array([0.3, 0.7]), np.array([-0.6, 1.1]), 0.8
    grid = np.linspace(-6, 7, 4001)
    density = np.exp(-0.5 * ((grid[:, None] - middles) / sd) ** 2) / (sd * math.sqrt(2 * math.pi)) * chance
    after = density / density.sum(axis=1, keepdims=True)
    left = np.trapezoid(-np.sum(density * np.log(np.maximum(after, 1e-300)), axis=1), grid)
    exact = -float(np.sum(chance * np.log(chance))) - float(left)
    middle = np.repeat(middles[:, None], 5, axis=1)
    found = information_gain(middle, np.full_like(middle, sd), chance, made_up=6000, seed=2)
    assert found == pytest.approx(exact, abs=0.01)


def test_information_of_readings_taken_together_is_exact() -> None:
    """Two readings of one tool: the gain is that of the pair by quadrature, more than of either alone."""
    chance, sd = np.array([0.2, 0.5, 0.3]), np.array([0.8, 0.5])
    middles = np.array([[-0.6, 1.1, 0.2], [0.4, 0.3, -0.9]])
    grid = np.linspace(-5, 6, 401)
    each = [
        np.exp(-0.5 * ((grid[:, None] - middles[k]) / sd[k]) ** 2) / (sd[k] * math.sqrt(2 * math.pi))
        for k in range(2)
    ]
    density = each[0][:, None] * each[1][None] * chance
    after = density / density.sum(axis=2, keepdims=True)
    left = np.sum(-density * np.log(np.maximum(after, 1e-300))) * (grid[1] - grid[0]) ** 2
    exact = -float(np.sum(chance * np.log(chance))) - float(left)
    middle = np.repeat(middles[:, :, None], 6, axis=2)
    spread = np.broadcast_to(sd[:, None, None], middle.shape)
    found = information_gain(middle, spread, chance, made_up=6000, seed=3)
    assert found == pytest.approx(exact, abs=0.012)
    assert all(
        found > information_gain(middle[k], spread[k], chance, made_up=6000, seed=3) + 0.1 for k in range(2)
    )


def test_a_reading_that_varies_more_than_causes_differ_tells_nothing() -> None:
    """Rows scattered alike under both causes: held against other rows than their own, next to no gain."""
    scatter = np.random.default_rng(5).standard_normal((3, 2, 600))
    chance = np.array([0.5, 0.5])
    assert information_gain(scatter, np.full_like(scatter, 0.5), chance, made_up=400, seed=1) < 0.05


def test_a_reading_far_from_every_row_still_points_to_the_nearest_cause() -> None:
    """Rows so far apart that no density is left between them, causes farther: the gain is all there is."""
    rows = 1e3 * np.random.default_rng(4).standard_normal((2, 3, 40))
    rows += 1e6 * np.array([-1.0, 0.5, 2.0])[:, None]
    chance = np.array([0.2, 0.5, 0.3])
    gain = information_gain(rows, np.full_like(rows, 0.5), chance, made_up=50, seed=6)
    assert gain == pytest.approx(-float(np.sum(chance * np.log(chance))), rel=1e-9)


def test_every_measure_belongs_to_one_tool() -> None:
    """Every reading is taken with one tool; a tool offers the drop of every turn."""
    keys = [key for keys in TOOLS.values() for key in keys]
    assert sorted(keys) == sorted(m.key for m in MEASURES if m.key != "drop_N")
    assert readings_of_tool("rule", ["drop_3", "kerf", "rise", "drop_2"]) == ["drop_3", "rise", "drop_2"]


def test_a_cause_that_changes_nothing_seen_hardly_counts() -> None:
    """A film so thin that every bowl does the same without it: its odds count by the share for idle causes.

    The film shows in no reading either, so that its evidence is that of the plan itself.
    """
    film = NAMED["film in the slot"]
    idle = replace(film, changes=(replace(film.changes[0], middle=1e-9),))
    by_name = {w.hypothesis.name: w for w in explained("sprang back", table=(idle,)).weighings}
    share = by_name[film.name].chance / by_name[AS_PLANNED].chance
    assert share == pytest.approx(IDLE * film.chance / (1 - film.chance), rel=0.02)
    shown = {w.hypothesis.name: w for w in explained("held", table=(idle,)).weighings}
    # Nothing failed: then there is nothing it should have been needed for.
    ratio = shown[film.name].chance / shown[AS_PLANNED].chance
    assert ratio == pytest.approx(film.chance / (1 - film.chance), rel=0.02)


def test_a_needed_cause_keeps_its_weight() -> None:
    """A board pressed from the wrong face falls, and would not have: nothing is taken off its odds."""
    flag = NAMED["wrong face"]
    by_name = {w.hypothesis.name: w for w in explained("fell through", table=(flag,)).weighings}
    odds = by_name[flag.name].chance / by_name[AS_PLANNED].chance
    z = np.random.default_rng(3).standard_normal((4000, dimensions(plan())))
    falls = [
        float(np.mean(predict(emulator(), draw(plan(), z, acting)).state[:, 1])) for acting in ((), (flag,))
    ]
    shown = [(1 - SEEN_WRONGLY) * fall + SEEN_WRONGLY / 4 for fall in falls]
    expected = flag.chance / (1 - flag.chance) * (shown[1] - shown[0]) / shown[0]
    assert odds == pytest.approx(expected, rel=0.04)


def test_a_cause_that_is_needed_now_and_then_counts_as_often() -> None:
    """Bowls with one luck each, the scale a little off and not: those shallow only with it count.

    Luck is drawn here and the bowls are counted; the program takes the difference of the chances.
    """
    off, rows = NAMED["tilt off"], 60_000
    little = replace(off, changes=(replace(off.changes[0], middle=0.4),))
    draws = np.random.default_rng(8)
    z, luck = draws.standard_normal((rows, dimensions(plan()))), draws.random(rows)
    seen = observed("came out shallow")

    def chance(acting: tuple[Cause, ...]) -> np.ndarray:
        now = predict(emulator(), draw(plan(), z, acting))
        return np.exp(np.sum(list(match_terms(seen, now, None, plan()).values()), axis=0))

    anyway = chance(())
    without, acts = luck < anyway, luck < chance((little,))
    assert np.mean(acts & without) > 0.15 * np.mean(acts)  # it is idle often enough to tell
    counted = np.mean(acts & ~without) + IDLE * np.mean(acts & without)
    odds = []
    for seed in range(6):  # one answer is good to 8 percent
        found = explain(plan(), seen, table=(little,), emulator=emulator(), seed=seed).weighings
        by_name = {w.hypothesis.name: w.chance for w in found}
        odds.append(by_name[off.name] / by_name[AS_PLANNED])
    expected = off.chance / (1 - off.chance) * counted / anyway.mean()
    assert np.mean(odds) == pytest.approx(expected, rel=0.06)


def test_a_rarer_cause_is_less_likely() -> None:
    """Chances follow the priors of the table: a cause made ten times rarer loses against the other."""
    rare = (replace(TILT_OR_KERF[0], chance=TILT_OR_KERF[0].chance / 10), TILT_OR_KERF[1])

    def odds(table: tuple[Cause, ...]) -> float:
        by_name = {w.hypothesis.name: w.chance for w in explained("fell through", table=table).weighings}
        return by_name["tilt off"] / by_name["kerf wide"]

    a, b = TILT_OR_KERF[0].chance, rare[0].chance
    assert odds(rare) / odds(TILT_OR_KERF) == pytest.approx(b / (1 - b) / (a / (1 - a)), rel=1e-6)


def test_two_causes_of_one_thing_are_no_pair() -> None:
    """Two presses, or two nails, cannot both have acted; tilt and kerf can."""
    names = {h.name for h in hypotheses(causes())}
    assert "tilt off and kerf wide" in names
    assert "pressed too hard and pressed too gently" not in names
    assert "nail missing and nail too long" not in names
    assert not {"kerf wide and kerf narrow", "sides changed and begun wrong"} & names
    assert "kerf narrow and begun wrong" in names


def test_what_was_not_noticed_counts() -> None:
    """A maker who lists a fall and no split has seen that nothing split: splitting bowls weigh less."""
    z = np.zeros((1, dimensions(plan())))
    now = predict(emulator(), draw(plan(), z, ()))
    now = replace(now, splits=np.full_like(now.splits, 0.8 / now.splits.shape[1]), split_end=np.zeros(1))
    terms = match_terms(observed("held"), now, None, plan())
    assert float(np.exp(terms["no split"][0])) == pytest.approx(
        (1 - SEEN_WRONGLY) * 0.2 + SEEN_WRONGLY * 0.1
    )
    assert float(np.exp(terms["held"][0])) == pytest.approx(
        (1 - SEEN_WRONGLY) * float(now.state[0, 3]) + SEEN_WRONGLY / 4
    )


def test_after_months_points_to_moisture() -> None:
    """What came only after months is likelier moisture, less likely the plan, than what came at once."""

    def told(when: str) -> dict[str, float]:
        found = explained(f"rocks, high along the grain, {when}", table=(*TILT_OR_KERF, NAMED["rim dry"]))
        return {c.name: c.chance for c in cause_chances(found)}

    later, at_once = told("after months"), told("first opening")
    assert later["rim dry"] > 2 * at_once["rim dry"]
    assert later["the plan itself"] < at_once["the plan itself"]


def test_the_remedy_of_a_tilt_is_more_on_the_scale() -> None:
    """A scale that reads too much is set higher; done away with, the plan's own setting locks better."""
    found = explained("fell through", tilt="2.4 deg", kerf="0.7 mm")
    told = cause_chances(found)[0]
    remedy = remedy_for(found, told)
    assert remedy.still_there is not None
    assert remedy.as_planned is not None
    planned = plan().bowl.cut.tilt_rad[0]
    assert remedy.still_there.scale_tilt_rad > planned + math.radians(0.75)
    assert remedy.still_there.chance > 0.7
    assert remedy.as_planned.scale_tilt_rad == pytest.approx(planned)


def brittle(stress: float = 0.9, needed_N: float = 40.0) -> BowlEmulator:
    """A bowl whose first turn carries so much of its strength at 60 N, and that needs so much press."""
    rigid = emulator()
    share = stress * np.array([1.0, 0.6, 0.4, 0.3, 0.2])[: plan().turns]
    # Over the volume of the test piece the risk of splitting is that share to the shape; no other mode.
    risks = np.zeros_like(rigid.split.risks)
    risks[0] = share**rigid.split.strength.shape
    needed = rigid.needed_weights.copy()
    needed[0] = math.log(needed_N)
    return replace(rigid, split=split_chance(risks, rigid.split.strength), needed_weights=needed)


def split_remedy(of: BowlEmulator, *seen: str) -> Remedy:
    """The remedy for the plan itself, nothing else in the table that could have split it."""
    looked = read_observed({"seen": {"what": list(seen)}}, of.plan)
    found = explain(of.plan, looked, table=(NAMED["nail too long"],), emulator=of)
    told = next(c for c in cause_chances(found) if c.name == AS_PLANNED)
    return remedy_for(found, told)


def test_a_bowl_that_split_is_pressed_less_hard() -> None:
    """No more press than makes it stay is offered where that saves bowls, nothing else being changed.

    What is asked for is 1.03 in place of 1.25 times what each needs; with 200 N there all of it is given,
    with 100 N somewhat less to those that ask for more, and so more than in that proportion to the others.
    """
    bowl = plan().bowl
    ample = plan_of(replace(bowl, use=replace(bowl.use, press_N=200.0)))
    less = 1.03 / 1.25
    strong = split_remedy(replace(brittle(1.1), plan=ample), "split at turn 1")
    assert strong.gentler is not None
    assert strong.as_planned is not None
    assert strong.gentler.press_N == pytest.approx(less * strong.as_planned.press_N, rel=1e-3)
    remedy = split_remedy(brittle(1.1), "split at turn 1")
    assert remedy.gentler is not None
    assert remedy.as_planned is not None
    assert remedy.gentler.wanted_N == pytest.approx(less * remedy.as_planned.wanted_N, rel=1e-3)
    assert less <= remedy.gentler.press_N / remedy.as_planned.press_N * (1 + 1e-9) < 1.03 * less
    assert remedy.gentler.scale_tilt_rad == remedy.as_planned.scale_tilt_rad
    assert remedy.gentler.least_friction == 0
    assert remedy.gentler.chance > remedy.as_planned.chance + 0.04
    assert remedy.gentler.hold_chance > 0.9
    # A press that no hand gives holds nothing, however gently it is begun.
    assert split_remedy(brittle(1.1, 300.0), "split at turn 1").gentler is None
    assert split_remedy(brittle(1.1), "held", "rim not level").gentler is None
    assert split_remedy(brittle(1.1), "split beside the nail").gentler is None


@pytest.mark.parametrize("seen", ["sprang back", "split at turn 2"])
@pytest.mark.parametrize("needed_N", [86.4, 120.0])
def test_no_remedy_asks_for_more_press_than_there_is(seen: str, needed_N: float) -> None:
    """No remedy has more press than the 100 N of the file, however strong the hands that explain it were.

    Bowls that need 86 and 120 N ought to be pressed with 108 and 150: that is told, and not asked for.
    """
    remedy = split_remedy(replace(brittle(0.3, needed_N), error=SURE), seen)
    settings = [s for s in (remedy.as_planned, remedy.cured, remedy.gentler) if s is not None]
    assert remedy.as_planned is not None
    assert not remedy.as_planned.enough
    assert remedy.as_planned.wanted_N > 1.25 * needed_N
    assert remedy.as_planned.press_N > 95.0
    assert max(s.press_N for s in settings) <= 100.0


def test_of_a_press_known_as_a_range_the_upper_end_is_there() -> None:
    """A push nobody gave is taken as one hand's to two hands': up to 350 N; one that was given as it is."""
    silent = make_bowl(TABLES | {"use": {k: v for k, v in TABLES["use"].items() if k != "press"}})
    assert press_there_is_N(silent) == pytest.approx(350.0)
    assert press_there_is_N(plan().bowl) == pytest.approx(100.0)


def filmed(film: str) -> BowlPlan:
    """The plan, varnished."""
    return plan_of(make_bowl(TABLES | {"use": TABLES["use"] | {"finish": "varnish", "film": film}}))


@cache
def shut_by_film(film: str = "0.1 to 0.4 mm", bevels: str = "a film on them") -> Explanation:
    """A varnished bowl that would not open: 0.7 mm of slot, shut by 0.35 mm on each face."""
    of = filmed(film)
    seen = {"seen": {"what": ["would not open"]}, "measured": {"bevels": bevels}}
    rigid = rigid_emulator(of, error=emulator().error)
    return explain(of, read_observed(seen, of), table=(NAMED["kerf uneven"],), emulator=rigid)


def the_plan(found: Explanation) -> CauseChance:
    """What is told of the plan itself."""
    return next(c for c in cause_chances(found) if c.name == AS_PLANNED)


def test_the_film_that_shut_the_slot_is_told_of_the_plan() -> None:
    """Film taken evenly from 0.1 to 0.4 mm, a slot of 0.7: where that shut it is near its upper end.

    Shut by 0.35 mm, and by less where the kerf is narrow: two deviations of its wander, 0.1 mm, give 0.3.
    """
    found = shut_by_film()
    first, *others = best_fits(found, the_plan(found))
    assert first.key == "film on each face"
    assert 0.30 < first.value < 0.39
    assert (first.low, first.high) == pytest.approx((0.1, 0.4))
    # In deviations of a range taken evenly, a twelfth root of its length.
    assert first.moved == pytest.approx((first.value - 0.25) / (0.3 / math.sqrt(12)), abs=0.1)
    assert {"tilt", "kerf"} <= {fit.key for fit in others}


def test_less_film_opens_what_film_has_shut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where film shut the slot less of it is the remedy; no tilt and no grip opens half of them."""
    found = shut_by_film()
    remedy = remedy_for(found, the_plan(found))
    assert remedy.as_planned is not None
    assert remedy.as_planned.otherwise == "would not open"
    assert remedy.as_planned.chance < 0.3
    assert remedy.cured is not None
    assert remedy.cured.most_film_mm is not None
    assert remedy.cured.most_film_mm < 0.3
    assert remedy.cured.chance > 0.8
    assert remedy.still_there is None
    monkeypatch.setattr("fitsim.failure.remedies.FILM_SHARES", ())
    without = remedy_for(found, the_plan(found)).cured
    assert without is not None
    assert without.chance < 0.5
    plain = split_remedy(brittle(0.3), "held", "rim not level")
    assert plain.cured is not None
    assert plain.cured.most_film_mm is None


def test_bare_bevels_contradict_the_film_of_the_file() -> None:
    """Bare wood under a film of 0.1 mm or more contradicts the file; under 0 to 0.4 mm it means little."""
    against = shut_by_film(bevels="bare wood").conflict
    assert against.against_file
    assert against.contradictory
    assert not shut_by_film().conflict.against_file
    open_end = shut_by_film("0 to 0.4 mm", "bare wood")
    assert not open_end.conflict.against_file
    film = [f.value for e in (open_end, shut_by_film("0 to 0.4 mm"))
            for f in best_fits(e, the_plan(e)) if f.key == "film on each face"]  # fmt: skip
    assert film[0] < film[1]


def test_a_measured_rise_is_no_rise_that_nobody_noticed() -> None:
    """Half the planned rise, measured on a bowl that holds: it has been told, so it contradicts nothing."""
    rise = 0.5 * emulator().planned.rise_mm
    found = explained("held", rise=f"{rise:.1f} mm", table=causes())
    assert not found.conflict.contradictory
    assert cause_chances(found)[0].name in ("kerf narrow", "film in the slot", "tilt off")
    z = np.zeros((1, dimensions(plan())))
    now = predict(emulator(), draw(plan(), z, ()))
    read = match_terms(observed("held", rise=f"{rise:.1f} mm"), now, None, plan())
    assert not {"not: came out shallow", "not: came out deep"} & set(read)
    assert {"not: rocks", "rise"} <= set(read)
    assert "not: came out shallow" in match_terms(observed("held"), now, None, plan())


def test_what_made_a_bowl_hold_that_should_not_have_is_told() -> None:
    """A bowl that needs 150 N of 100 and holds: hands are stronger, wood softer or friction greater."""
    found = explain(plan(), observed("held"), table=TILT_OR_KERF, emulator=brittle(0.3, 150.0))
    fits = {fit.key: fit for fit in best_fits(found, the_plan(found)) if fit.moved}
    assert fits["how hard you can push"].value > 105
    assert fits["stiffness of the wood over the usual"].value < 0.95
    assert all(fit.moved >= 0.15 for fit in fits.values())
    # By little where it was nearly to be expected, and that is told too.
    near = explain(plan(), observed("held"), table=TILT_OR_KERF, emulator=brittle(0.3, 105.0))
    moved = [fit.moved for fit in best_fits(near, the_plan(near)) if fit.moved]
    assert moved
    assert 0.15 <= min(moved) < 0.5
    # Where it was to be expected nothing is moved.
    easy = explain(plan(), observed("held"), table=TILT_OR_KERF, emulator=brittle(0.3, 30.0))
    assert not [fit for fit in best_fits(easy, the_plan(easy)) if fit.moved]


def test_runs_too_short_join_the_one_before_or_the_first_long_one() -> None:
    """A stretch shorter than a reading is uncertain is no stretch of its own, at the beginning neither."""
    starts, labels = joined_runs([*"a", *"bbbb", *"c", *"bb", *"ddd"], least=2)
    assert (starts, "".join(labels)) == ([0, 8], "bbbbbbbbddd")
    assert joined_runs([*"aab"], least=9)[0] == [0]


def test_readings_are_tried_as_close_as_they_can_be_told_apart() -> None:
    """A press read to a tenth of itself: from one reading to the next it grows by one factor."""
    middle = np.geomspace(5.0, 200.0, 4000)
    grid, step_sd = evenly_told(middle, 0.1 * middle, middle[[0, -1]], least=0.0)
    factor = grid[1:] / grid[:-1]
    assert factor[5:-5] == pytest.approx(math.exp(0.1 * step_sd), rel=0.003)
    even, step = evenly_told(middle, np.full(4000, 2.0), middle[[0, -1]], least=0.0)
    assert np.diff(even) == pytest.approx(2.0 * step)


def test_a_loose_end_lets_the_rim_hang() -> None:
    """Only the rim named: a nail that is gone is a cause, a look at it comes first, and settles it."""
    found = explained("rim not level")
    chances = cause_chances(found)
    by_name = {c.name: c.chance for c in chances}
    assert by_name["nail missing"] > 0.1
    advice = next_readings(found, chances, posterior_samples(found, chances))
    assert advice[0].tool == "eye on the nail"
    assert cause_chances(explained("rim not level", nail="missing or loose"))[0].name == "nail missing"
    # Said to hold, it has not dropped.
    held = {c.name: c.chance for c in cause_chances(explained("held", "rim not level"))}
    assert held["nail missing"] < 0.2 * by_name["nail missing"]


def test_bands_of_readings_are_as_wide_as_a_reading_is_uncertain() -> None:
    """No stretch of readings between two others is narrower than 19 readings in 20 stray."""
    found = explained("fell through")
    chances = cause_chances(found)
    advice = next_readings(found, chances, posterior_samples(found, chances))
    inside = [
        (advised, band)
        for advised in advice
        for band in advised.bands
        if band.low is not None and band.high is not None and advised.measure.unit
    ]
    assert inside
    assert all(b.high - b.low >= 0.9 * a.measure.within for a, b in inside if b.high and b.low)


def test_weak_wood_is_told_by_what_it_lost() -> None:
    """Strength is told as a share of the same wood's: weak wood has less, however strong its board was."""
    found = explained("split at turn 1", table=(NAMED["wood weak"],))
    told = next(c for c in cause_chances(found) if c.name == "wood weak")
    (fit,) = best_fits(found, told)
    assert 0.3 < fit.value < 0.62  # the table's median is 0.6, and it split
    assert best_fits(found, next(c for c in cause_chances(found) if c.name == NONE_OF_THESE)) == ()


def test_the_same_seed_gives_the_same_chances() -> None:
    """Chances depend on the seed and on nothing else, and another seed moves them by about their error."""
    table = (*TILT_OR_KERF, NAMED["wrong face"])
    one = explained("fell through", table=table)
    again, other = (
        explain(plan(), observed("fell through"), table=table, emulator=emulator(), **seed)
        for seed in ({}, {"seed": 9})
    )
    assert [w.chance for w in one.weighings] == [w.chance for w in again.weighings]
    assert [w.chance for w in one.weighings] != [w.chance for w in other.weighings]
    by_name = {w.hypothesis.name: w for w in other.weighings}
    for w in one.weighings[:6]:
        error = math.hypot(w.se, by_name[w.hypothesis.name].se)
        assert abs(w.chance - by_name[w.hypothesis.name].chance) < 5 * error + 1e-3
