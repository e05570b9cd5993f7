"""What is called contradictory: hardly ever what was read rightly, and one slip among many readings."""

import math
from dataclasses import replace

import numpy as np
import pytest
from failed_bowls_data import emulator, observed, plan

from fitsim.arrays import Array
from fitsim.failure.causes import Cause, causes
from fitsim.failure.explanations import Conflict, Hypothesis, explain, predicted_at
from fitsim.failure.failed_samples import LOOKS, dimensions
from fitsim.failure.matching import OF_HELD, OF_ONE_METER, misfit_terms, model_sd, noticed_chance
from fitsim.failure.observations import MEASURES, NINETEEN_IN_20, Measured, Observed, Seen, measure_named
from fitsim.failure.predict import HELD_STATES, Predicted

NAMED = {cause.name: cause for cause in causes()}
SOME = tuple(
    NAMED[name]
    for name in ("tilt off", "kerf wide", "kerf narrow", "kerf uneven", "wrong face", "begun wrong",
                 "nail missing", "cut stopped early", "film in the slot", "pressed too hard")
)  # fmt: skip
NUMBERS = [m.key for m in MEASURES if m.unit and m.key not in ("drop", "drop_N")]
EVERY = (*NUMBERS, *(f"drop_{j}" for j in range(1, plan().turns_with_drop + 1)))


def within(key: str, value: float) -> float:
    """Standard deviation of a reading whose give or take nobody said."""
    return measure_named(key).within / NINETEEN_IN_20 * (value if key == "press" else 1.0)


def strays(key: str, now: Predicted) -> float:
    """By how much a reading strays from what is predicted, the reading's own share and the model's."""
    value = now.readings[key][:1]
    return math.hypot(within(key, float(value[0])), float(model_sd(key, value, now)[0]))


def read(now: Predicted, off: dict[str, float]) -> dict[str, Measured]:
    """Readings of the first bowl, each so many standard deviations off, and what is seen of it."""
    found = {}
    for key, sds in off.items():
        value = float(now.readings[key][0]) + sds * strays(key, now)
        found[key] = Measured(key, max(value, 0.01) if key[:4] != "tilt" else value, within(key, value))
    return found | {key: Measured(key, float(now.readings[key][0]), 0.0) for key in LOOKS}


def bowl_at(normals: Array, *acting: Cause) -> Predicted:
    """What is predicted of one bowl."""
    return predicted_at(emulator(), Hypothesis(acting, 1.0), normals, at_first=False)[1]


def as_meant() -> Predicted:
    """What is predicted of the plan itself, without luck."""
    return bowl_at(np.zeros((1, dimensions(plan()))))


def right_readings(now: Predicted, luck: np.random.Generator) -> tuple[Measured, ...]:
    """Every reading there is of the first bowl, of that bowl and as exact as it is taken to be.

    What the two of one meter share is drawn once, by its covariance.
    """
    off = {key: float(luck.standard_normal()) for key in EVERY}
    one, other = OF_ONE_METER
    shared = within(one, 1.0) * within(other, 1.0) / (strays(one, now) * strays(other, now))
    off[other] = shared * off[one] + math.sqrt(1 - shared**2) * off[other]
    return tuple(read(now, off).values())


def seen_of(now: Predicted, luck: np.random.Generator) -> tuple[Seen, ...]:
    """What the first bowl shows, each thing by its chance; one that holds is said to hold."""
    state = HELD_STATES[int(luck.choice(4, p=now.state[0] / now.state[0].sum()))]
    seen = [Seen(state)]
    whole = (1 - float(now.splits[0].sum())) * (1 - float(now.split_end[0]))
    if luck.random() > whole:
        seen.append(Seen("split"))
    if state == "held":
        seen += [Seen(what) for what in OF_HELD if luck.random() < float(noticed_chance(what, now)[0])]
    return tuple(seen)


@pytest.mark.parametrize("most", [0, 3, 8, 99])
def test_what_was_read_rightly_is_hardly_ever_called_contradictory(most: int) -> None:
    """Bowls and readings drawn from what explains them: at most 1 in 100 are to be called contradictory.

    Of 24 one or none, in 97 of 100 such tests; every reading there is 15 of 24 were once.
    """
    luck, flagged = np.random.default_rng(41), 0
    for i in range(24):
        cause = causes()[i % len(causes())]
        now = bowl_at(luck.standard_normal((1, dimensions(plan()))), cause)
        seen = seen_of(now, luck)
        every = right_readings(now, luck)
        if seen[0].what in ("would not open", "fell through"):
            every = tuple(r for r in every if not r.key.startswith(("drop", "rise")))
        taken = [every[j] for j in luck.permutation(len(every))[:most]]
        told = Observed(seen, tuple(taken))
        flagged += explain(plan(), told, table=(cause,), emulator=emulator()).conflict.contradictory
    assert flagged <= 1


OFF = (0.7, -1.1, 0.3, -0.4, 1.2, 0.9, -0.8, 0.2, -0.6, 1.0, -0.3, 0.5, -1.3, 0.4, 0.6, -0.9, 0.1)
"""How far good readings are off, in standard deviations: the sum of the squares is that of as many."""


def conflict(what: str, **other: float) -> Conflict:
    """Every reading of the bowl as planned, rightly taken but for what is told otherwise."""
    now = as_meant()
    right = read(now, dict(zip(EVERY, OFF, strict=False)))
    for key, factor in other.items():
        right[key] = replace(right[key], value=factor * right[key].value)
    told = Observed((Seen(what),), tuple(right.values()))
    return explain(plan(), told, table=SOME, emulator=emulator()).conflict


def test_readings_that_go_together_are_not_called_contradictory() -> None:
    """Seventeen good readings and three looks: their misfits add up to less than chi-square lets them."""
    good = conflict("held")
    assert not good.contradictory
    # The table of chi-square at 1 in 100: 20 freedoms; and 1 freedom at a hundredth of that and beyond.
    assert good.limit == pytest.approx(37.566, abs=0.001)
    assert 10.83 < good.odd_limit < 15.14


@pytest.mark.parametrize(
    ("slip", "factor"), [("tilt", -1.0), ("rise", 1 / 25.4), ("drop_3", 1 / 25.4), ("kerf_inner", 1 / 25.4)]
)
def test_one_slip_among_many_good_readings_is_named(slip: str, factor: float) -> None:
    """The sign of a bevel, or inches for millimetres: that reading does not go with all the others."""
    found = conflict("held", **{slip: factor})
    assert found.contradictory
    assert found.odd_one == slip
    assert found.odd_size > found.odd_limit


def test_a_fall_is_no_fall_where_every_turn_was_measured_to_hold() -> None:
    """Said to have fallen through, and everything measured as on a bowl that holds: the fall is named."""
    found = conflict("fell through")
    assert found.contradictory
    assert found.odd_one == "fell through"


def test_one_reading_six_deviations_off_is_named_long_before_the_sum_is_too_large() -> None:
    """Of all readings the angle of sliding alone is 6 deviations off: 36, and the sum may be more."""
    now = as_meant()
    factor = 1 + 6 * strays("slip_angle", now) / float(now.readings["slip_angle"][0])
    found = conflict("held", slip_angle=factor)
    assert found.contradictory
    assert found.odd_one == "slip_angle"
    assert found.odd_limit < found.odd_size < 36.5 < found.limit


def test_misfits_are_squares_of_deviations() -> None:
    """Of a reading the square of how far it is off; of two of one meter their covariance, inverted."""
    now = as_meant()
    told = {key: read(now, {key: sds})[key] for key, sds in (("tilt", -2.7), ("rise", 4.1))}
    rim, base = (float(now.readings[key][0]) for key in OF_ONE_METER)
    told["rim"], told["base"] = (
        Measured("rim_moisture", rim + 1.9, 0.9),
        Measured("base_moisture", base - 0.7, 0.6),
    )
    found = misfit_terms(Observed((), tuple(told.values())), now, None, plan())
    assert float(found["tilt"][0]) == pytest.approx(2.7**2)
    assert float(found["rise"][0]) == pytest.approx(4.1**2)
    own = float(model_sd("rim_moisture", now.readings["rim_moisture"], now)[0])
    covariance = np.array([[0.9**2 + own**2, 0.6**2], [0.6**2, 0.6**2 + own**2]])
    off = np.array([1.9, -0.7])
    both = float(off @ np.linalg.solve(covariance, off))
    assert float(found["rim_moisture and base_moisture"][0]) == pytest.approx(both)
    # What was seen counts by its chance alone, not by the share of makers who write another thing.
    held = misfit_terms(observed("held"), now, None, plan())["held"]
    assert float(held[0]) == pytest.approx(-2 * math.log(float(now.state[0, 3])), abs=1e-4)
