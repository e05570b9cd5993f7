"""Moisture of a failed bowl: turn by turn as its file has it, and as one meter reads rim and base."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from failed_bowls_data import TABLES, emulator, observed, plan

from fitsim.arrays import Array
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.failure.bowl_emulator import rigid_emulator
from fitsim.failure.cause_chances import CauseChance, PosteriorSamples, cause_chances, posterior_samples
from fitsim.failure.causes import causes
from fitsim.failure.explanations import AS_PLANNED, NONE_OF_THESE, Explanation, explain, predicted_at
from fitsim.failure.failed_samples import as_planned, dimensions, draw, plan_of
from fitsim.failure.matching import BOTH_MOISTURES, SEEN_WRONGLY, SLIPPED, match_terms
from fitsim.failure.next_measurement import gains_of_tools, information_gain, next_readings
from fitsim.failure.predict import predict
from fitsim.failure.pressed_samples import sawn_bowl

NAMED = {cause.name: cause for cause in causes()}
OWN_SD, METER_SD = 0.3, 2.0 / 1.96
"""What a board differs from place to place, and the error of a meter: 19 times in 20 within 0.6 and 2 %."""

LISTED = ("8.9 %", "7.1 %", "8.4 %", "7.7 %", "6.8 %")
"""Moisture of the five turns, unlike that of the base and of one another."""


def moist(turns: object = LISTED, *, base: str = "8.3 %", **cut: str) -> Bowl:
    """The bowl of these tests with moistures of its own."""
    use = {"base_moisture": base, "turn_moisture": list(turns) if isinstance(turns, tuple) else turns}
    return make_bowl(TABLES | {"cut": TABLES["cut"] | cut, "use": TABLES["use"] | use})


def test_turns_are_as_wet_as_the_file_lists_them() -> None:
    """With nothing wrong every turn sinks to the seat that the rigid fit of the file gives it.

    The bowl that is pressed is that of the file as well, its part beyond the nail among them.
    """
    bowl = moist()
    made = plan_of(bowl)
    now = predict(rigid_emulator(made), as_planned(made))
    mean = rigid_fit(bowl).seats.mean_drop_mm
    # The last turn is not a whole one, so its mean over directions is not that of the two axes.
    assert np.allclose(now.drops_mm[0, :-1], mean[:-1], rtol=0.01)
    assert np.ptp(mean[:-1]) > 2  # the moisture does matter here
    beyond = replace(bowl, board=replace(bowl.board, across_mm=156.0))
    beyond = replace(beyond, use=replace(beyond.use, turn_moisture_percent=(8.9, 7.1, 8.4, 7.7, 6.8, 9.2)))
    whole = plan_of(beyond)
    assert whole.turns == 5  # and the cut goes on through a sixth
    for of in (made, whole):
        assert sawn_bowl(of, as_planned(of), 0).bowl.use == of.bowl.use
        # Once round from the free end: the last turn, and so much of the one before as it is short of one.
        short = 1 - of.share[of.turns - 1]
        assert 0.1 < short < 0.9
        assert as_planned(of).rim_percent[0] == pytest.approx(6.8 + short * (7.7 - 6.8))


@pytest.mark.parametrize("wet", ["29.3 %", "1.1 %"])
def test_a_moisture_beyond_what_scatter_comes_to_is_kept_as_the_file_has_it(wet: str) -> None:
    """Base and turns alike, however wet or dry: every turn drops by k/sin(tilt)."""
    bowl = moist(wet, base=wet)
    made = plan_of(bowl)
    pressed = sawn_bowl(made, as_planned(made), 0).bowl
    assert set(pressed.use.turn_moisture_percent) == set(bowl.use.turn_moisture_percent)
    assert pressed.use.base_moisture_percent == bowl.use.base_moisture_percent
    drops = predict(rigid_emulator(made), as_planned(made)).drops_mm[0]
    assert drops == pytest.approx(float(made.kerf_mm[0]) / math.sin(float(made.tilt_rad[0])), rel=2e-3)


def test_what_moves_the_rim_is_laid_over_what_the_file_lists() -> None:
    """A rim dried by 2.5 points: turn j by 2.5 (1 - 0.4^j), each from where the file has it."""
    bowl = moist()
    made = plan_of(bowl)
    change = replace(NAMED["rim dry"].changes[0], middle=2.5, spread=1e-9)
    dry = draw(made, np.zeros((1, dimensions(made))), (replace(NAMED["rim dry"], changes=(change,)),))
    turns = [m - 2.5 * (1 - 0.4**j) for j, m in enumerate((8.9, 7.1, 8.4, 7.7, 6.8), 1)]
    pressed = sawn_bowl(made, dry, 0).bowl.use
    assert pressed.turn_moisture_percent == pytest.approx(turns)
    assert pressed.base_moisture_percent == pytest.approx(8.3)
    slower = sawn_bowl(made, dry, 0, turn_follows=0.7).bowl.use.turn_moisture_percent
    assert slower[2] == pytest.approx(8.4 - 2.5 * (1 - 0.7**3))
    rigid = rigid_fit(replace(bowl, use=replace(bowl.use, turn_moisture_percent=tuple(turns))))
    now = predict(rigid_emulator(made), dry)
    assert np.allclose(now.drops_mm[0, :-1], rigid.seats.mean_drop_mm[:-1], rtol=0.01)
    rim = 6.8 + (1 - made.share[-1]) * (7.7 - 6.8)
    assert now.readings["rim_moisture"][0] == pytest.approx(rim - 2.5)


def test_at_its_first_opening_all_of_it_is_as_wet_as_it_was_sawn() -> None:
    """Whatever the file has of it now: turns as wet as one another all drop by k/sin(tilt)."""
    made = plan_of(moist())
    found = explain(made, observed("rocks, after months"), table=(), emulator=rigid_emulator(made))
    mean = np.zeros((1, dimensions(made)))
    _, now, first = predicted_at(found.emulator, found.weighings[0].hypothesis, mean)
    assert first is not None
    assert first.drops_mm[0] == pytest.approx(0.7 / math.sin(math.radians(5)))
    assert np.ptp(now.drops_mm[0]) > 2


@pytest.mark.parametrize(
    ("base", "turns"), [("12.9 %", "5.2 %"), ("8 %", ("15.1 %", "8.2 %", "8 %", "8.1 %", "7.9 %"))]
)
def test_a_bowl_that_its_file_shuts_is_no_riddle(base: str, turns: object) -> None:
    """Turns so dry that the rigid fit has the slot shut: the plan itself is to blame."""
    bowl = moist(turns, base=base)
    slot = rigid_fit(bowl).faces.slot_mm.min()
    assert slot < -0.1
    made = plan_of(bowl)
    found = explain(
        made,
        observed("would not open"),
        table=(NAMED["kerf uneven"], NAMED["rim dry"], NAMED["slot closed up"], NAMED["film in the slot"]),
        emulator=rigid_emulator(made),
    )
    chances = {c.name: c.chance for c in cause_chances(found)}
    assert chances[AS_PLANNED] > 0.9


def normal(off: Array, sd: float) -> Array:
    """Density of a normal number."""
    return np.exp(-0.5 * (off / sd) ** 2) / (sd * math.sqrt(2 * math.pi))


@pytest.mark.parametrize(("rim", "base"), [(6.4, 9.1), (9.3, 9.9), (13.0, 8.1)])
def test_one_meter_has_one_error(rim: float, base: float) -> None:
    """Both readings: the product of two densities, integrated over the error of the meter in both.

    What of the coarser reading the finer has not is its own, and each of them may have slipped alone.
    """
    z = np.random.default_rng(12).standard_normal((7, dimensions(plan())))
    now = predict(emulator(), draw(plan(), z, (NAMED["rim dry"],)))
    told = {"base_moisture": f"{base} +- 1.2 %", "rim_moisture": f"{rim} +- 1.9 %"}
    terms = match_terms(observed("rocks", **told), now, None, plan())
    assert {"rim_moisture", "base_moisture"} & set(terms) == set()
    shared, rim_sd = 1.2 / 1.96, math.sqrt((1.9**2 - 1.2**2) / 1.96**2 + OWN_SD**2)
    error = np.linspace(-9 * shared, 9 * shared, 6001)[:, None]
    off = rim - now.readings["rim_moisture"], base - now.readings["base_moisture"]
    both = normal(off[0] - error, rim_sd) * normal(off[1] - error, OWN_SD) * normal(error, shared)
    right = both.sum(axis=0) * (error[1, 0] - error[0, 0])
    sd = math.hypot(1.9 / 1.96, OWN_SD), math.hypot(1.2 / 1.96, OWN_SD)
    near = [normal(o, s) for o, s in zip(off, sd, strict=True)]
    far = [normal(o, SLIPPED * s) for o, s in zip(off, sd, strict=True)]
    w = SEEN_WRONGLY
    slipped = w * (1 - w) * (near[0] * far[1] + far[0] * near[1]) + w**2 * far[0] * far[1]
    assert terms[BOTH_MOISTURES] == pytest.approx(np.log((1 - w) ** 2 * right + slipped), abs=1e-6)
    # A reading alone has the same error, all of it its own.
    alone = match_terms(observed("rocks", rim_moisture=told["rim_moisture"]), now, None, plan())
    assert alone["rim_moisture"] == pytest.approx(np.log((1 - w) * near[0] + w * far[0]), abs=1e-9)


@cache
def rocking(**measured: str) -> tuple[Explanation, tuple[CauseChance, ...], PosteriorSamples]:
    """It rocks, by a wet or dry rim or by an uneven kerf."""
    table = (NAMED["rim dry"], NAMED["rim wet"], NAMED["kerf uneven"])
    found = explain(plan(), observed("rocks", **measured), table=table, emulator=emulator())
    chances = cause_chances(found)
    return found, chances, posterior_samples(found, chances)


def test_what_a_meter_tells_is_the_difference() -> None:
    """Rim three points below the base is a dry rim, wherever both lie; two alike clear the rim."""
    for rim, base in (("6.4 %", "9.5 %"), ("5.2 %", "8.3 %"), ("7.3 %", "10.4 %")):
        chances = {c.name: c.chance for c in rocking(rim_moisture=rim, base_moisture=base)[1]}
        assert max(chances, key=lambda name: chances[name]) == "rim dry"
    before = {c.name: c.chance for c in rocking()[1]}
    for both in ("9.8 %", "6.3 %"):
        chances = {c.name: c.chance for c in rocking(rim_moisture=both, base_moisture=both)[1]}
        assert max(chances["rim wet"], chances["rim dry"]) < 0.1 * min(before["rim wet"], before["rim dry"])


def gain_by_chance(read: str, posterior: PosteriorSamples, made_up: int = 400) -> float:
    """Expected fall of the entropy of the cause, each bowl read with an error of the meter drawn for it.

    The chance of a reading on a bowl is taken over errors of the meter drawn anew, not by a formula.
    """
    chances = rocking(**({"rim_moisture": read} if read else {}))[1]
    kept = [k for k, c in enumerate(chances[: len(posterior.predicted)]) if c.name != NONE_OF_THESE]
    chance = np.array([chances[k].chance for k in kept])
    chance /= chance.sum()
    rim, base = (
        np.stack([posterior.predicted[k].readings[key] for k in kept])
        for key in ("rim_moisture", "base_moisture")
    )
    luck = np.random.default_rng(8)
    # What is known of the error beforehand: of the difference read at the rim, weighed by precision.
    error, sd = np.zeros_like(rim), METER_SD
    if read:
        precision = np.array([METER_SD**-2, OWN_SD**-2])
        sd = precision.sum() ** -0.5
        error = (float(read.removesuffix(" %")) - rim) * precision[1] / precision.sum()
    grid = np.linspace(-4.5, 4.5, 61)
    weight = normal(grid, 1.0) / normal(grid, 1.0).sum()
    left = 0.0
    for k, share in enumerate(chance):
        rows = luck.integers(0, rim.shape[1], made_up)
        off = error[k, rows] + sd * luck.standard_normal(made_up)
        at = base[k, rows] + off + OWN_SD * luck.standard_normal(made_up)
        beside = rim[k, rows] + off + OWN_SD * luck.standard_normal(made_up)
        against = slice(0, None, 3)
        density = np.zeros((made_up, len(chance)))
        for g, w in zip(grid, weight, strict=True):
            e = error[:, against] + sd * g
            one = normal(at[:, None, None] - base[:, against] - e, OWN_SD)
            if not read:
                one = one * normal(beside[:, None, None] - rim[:, against] - e, OWN_SD)
            density += w * one.mean(axis=2)
        after = density * chance
        after /= after.sum(axis=1, keepdims=True)
        left += share * float(-np.sum(after * np.log(np.maximum(after, 1e-300)), axis=1).mean())
    return float(-np.sum(chance * np.log(chance))) - left


def base_that_follows(posterior: PosteriorSamples) -> PosteriorSamples:
    """The same bowls, had each base gone most of the way with its rim: the difference tells less."""
    made = [p.readings for p in posterior.predicted]
    after = [{**r, "base_moisture": r["base_moisture"] + 0.8 * (r["rim_moisture"] - 8)} for r in made]
    bowls = zip(posterior.predicted, after, strict=True)
    return replace(posterior, predicted=tuple(replace(p, readings=r) for p, r in bowls))


def test_the_next_readings_of_a_meter_are_worth_what_their_shared_error_leaves() -> None:
    """Both readings together, against errors drawn one by one: most where rim and base lie apart."""
    found, chances, posterior = rocking()
    gain, keys = gains_of_tools(found, chances, posterior)["moisture meter"]
    assert sorted(keys) == ["base_moisture", "rim_moisture"]
    assert gain == pytest.approx(gain_by_chance("", posterior), abs=0.05)
    # By itself the base tells nothing of the rim.
    named = [(c.chance, p) for c, p in zip(chances, posterior.predicted, strict=False) if c.name in NAMED]
    chance = np.array([of for of, _ in named]) / sum(of for of, _ in named)
    base = np.stack([p.readings["base_moisture"] for _, p in named])
    sd = np.full_like(base, math.hypot(METER_SD, OWN_SD))
    assert information_gain(base, sd, chance, made_up=400, seed=6) < 0.02
    followed = base_that_follows(posterior)
    less = gains_of_tools(found, chances, followed)["moisture meter"][0]
    assert less == pytest.approx(gain_by_chance("", followed), abs=0.05)
    assert less < gain - 0.1


def test_a_rim_that_was_read_tells_of_the_meter_what_the_base_is_read_by() -> None:
    """Rim at 6.2 %: the base is read next, and high readings of it, not low ones, mean a dry rim."""
    found, chances, posterior = rocking(rim_moisture="6.2 %")
    gain, keys = gains_of_tools(found, chances, posterior)["moisture meter"]
    assert keys == ["base_moisture"]
    assert gain == pytest.approx(gain_by_chance("6.2 %", posterior), abs=0.05)
    assert gain > 0.2
    advice = next(a for a in next_readings(found, chances, posterior) if a.tool == "moisture meter")
    assert advice.bands[-1].cause == "rim dry"
    assert "rim dry" not in advice.bands[0].cause
    low = advice.bands[-1].low
    assert low is not None
    assert 7.0 < low < 9.0  # between a rim as wet as the base and one 3 points drier
