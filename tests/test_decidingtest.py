"""Which test would settle a verdict, and the reading that decides."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from fitsim.bowl.fit import fit
from fitsim.bowl.verdict import Dependence
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError
from fitsim.report.advised_test import advised_test
from fitsim.saw.break_test import BoardStrength
from fitsim.saw.deciding_test import (
    OpenInput,
    board_factor_at,
    breaking_load_N,
    most_telling_test,
    open_inputs,
)
from fitsim.saw.learned import Learned, with_learned
from fitsim.wood.across_grain import BoardAcross, StripSize

FRICTION = OpenInput("friction", 0.2, 0.55, 0.344, "springs back", "locks")
STRENGTH = OpenInput("strength across the grain", 2.4, 4.6, 3.1, "split risk", "locks")


def test_the_deciding_angle_is_that_of_the_friction_used() -> None:
    """A bowl worked out at 0.4 that uses 0.86 of it turns at 0.344, where off-cuts slide at 19 deg."""
    test = most_telling_test([FRICTION], moisture_percent=8.0)
    assert test is not None
    assert (test.kind, test.unit, test.reading) == (
        "slide",
        "deg",
        pytest.approx(math.degrees(math.atan(0.4 * 0.86))),
    )
    assert test.sentence == (
        "Slide test, 6 times, finished as the bowl will be: an off-cut that slides before 19.0 degrees: it "
        "springs back; later: it locks."
    )


def test_the_deciding_load_by_hand() -> None:
    """A board of 3.1 MPa breaks a 10 x 6 mm strip on 60 mm, at shape 6 and 8 percent moisture, at 40 N."""
    drier = 1 + 4 * 0.02 + 4 * 2 * 0.005 / 14  # the parabola through 1.12 at 6, 1 at 12 and 0.8 at 20
    stress = 3.1 * (30_500 / (3600 / 98)) ** (1 / 6) * drier
    by_hand = 2 * 10 * 36 * stress / (3 * 60)
    assert breaking_load_N(3.1, moisture_percent=8.0) == pytest.approx(by_hand)
    thin = breaking_load_N(3.1, moisture_percent=8.0, strip=StripSize(10.0, 5.0, 60.0))
    assert thin / by_hand == pytest.approx((5 / 6) ** 2 * (6 / 5) ** (1 / 6))
    test = most_telling_test([STRENGTH], moisture_percent=8.0)
    assert test is not None
    assert (test.kind, test.unit, test.reading) == ("break", "N", pytest.approx(by_hand))
    kilograms = f"{by_hand / 9.80665:.1f} kg"
    assert (
        f"apart that break below {kilograms} on the average: it risks a split; above: it locks"
        in test.sentence
    )


def test_inches_are_told_in_inches_and_pounds() -> None:
    """A maker who writes inches is told of a strip marked in inches, and pounds on the scale."""
    test = most_telling_test([STRENGTH], moisture_percent=8.0, units="in")
    assert test is not None
    inch = StripSize(9.525, 6.35, 63.5)
    pounds = breaking_load_N(3.1, moisture_percent=8.0, strip=inch) / 4.4482216
    assert test.reading == pytest.approx(pounds * 4.4482216)
    assert "strips 3/8 in wide and 1/4 in thick on supports 2 1/2 in apart" in test.sentence
    assert f"{pounds:.1f} lb" in test.sentence


@pytest.mark.parametrize("ends", [(0.2, 0.55), (0.31, 0.40)])
def test_gain_against_plain_sampling(ends: tuple[float, float]) -> None:
    """The uncertainty taken away is what made-up frictions and readings take away on the average."""
    one = replace(FRICTION, low=ends[0], high=ends[1])
    test = most_telling_test([one], moisture_percent=8.0)
    assert test is not None
    rng = np.random.default_rng(6)
    low, high, flip = (math.log(v) for v in (*ends, 0.344))
    middle, sd = (low + high) / 2, (high - low) / 2 / norm.ppf(0.95)
    friction = math.exp(middle)
    each = math.hypot(0.125, math.radians(0.75) * (1 + friction**2) / friction)
    error = math.hypot(each / math.sqrt(6), 0.05)
    seen = rng.normal(middle, sd, 200_000) + rng.normal(0, error, 200_000)
    after = sd * error / math.hypot(sd, error)
    mean = middle + (seen - middle) * sd**2 / (sd**2 + error**2)
    below = np.clip(norm.cdf((flip - mean) / after), 1e-15, 1 - 1e-15)
    left = -(below * np.log2(below) + (1 - below) * np.log2(1 - below))
    start = norm.cdf((flip - middle) / sd)
    before = -(start * math.log2(start) + (1 - start) * math.log2(1 - start))
    assert test.gain_bits == pytest.approx(before - left.mean(), abs=0.01)


def test_the_input_whose_flip_lies_inside_is_tested_first() -> None:
    """Where one input straddles its flip and the other is nearly safe, the straddling one is tested."""
    safe = OpenInput("friction", 0.3, 0.55, 0.23, "springs back", "locks")
    for order in ((safe, STRENGTH), (STRENGTH, safe)):
        test = most_telling_test(order, moisture_percent=8.0)
        assert test is not None
        assert test.kind == "break"


def test_without_a_flip_the_range_narrowed_most_is_tested_without_a_reading() -> None:
    """Where no flip is known the wider range, against what its test leaves, is named; nothing decides."""
    open_ended = [
        OpenInput("friction", 0.34, 0.42, math.nan, "springs back", "locks"),
        OpenInput("moisture", 4.0, 13.0, math.nan, "", ""),
    ]
    test = most_telling_test(open_ended, moisture_percent=8.0)
    assert test is not None
    assert (test.kind, math.isnan(test.reading), test.gain_bits) == ("oven", True, 0.0)
    assert (
        test.sentence == "Oven test, 2 off-cuts weighed before and after: it would narrow the answer most."
    )


@pytest.mark.parametrize(
    ("name", "low", "high", "flip", "kind", "reading", "words"),
    [
        (
            "moisture",
            5.0,
            12.0,
            9.3,
            "oven",
            9.3,
            "below 9.3 % moisture: it falls through; above: it locks",
        ),
        ("kerf", 0.6, 0.9, 0.74, "slot", 0.74, "a slot under 0.74 mm: it falls through; wider: it locks"),
        (
            "scale error",
            -0.01,
            0.02,
            0.0035,
            "bevel",
            0.2005,
            "a true tilt less than +0.20 deg more than the scale",
        ),
    ],
)
def test_every_input_with_a_test_is_told_as_it_is_read(
    name: str, low: float, high: float, flip: float, kind: str, reading: float, words: str
) -> None:
    """Moisture is told in percent, a kerf as a slot, an offset as degrees off the scale."""
    one = OpenInput(name, low, high, flip, "falls through", "locks")
    test = most_telling_test([one], moisture_percent=8.0)
    assert test is not None
    assert (test.kind, test.reading) == (kind, pytest.approx(reading, abs=1e-4))
    assert words in test.sentence


def test_inputs_without_a_test_are_passed_over() -> None:
    """Rolling shear has no test in a workshop; alone, none is advised."""
    rolling = OpenInput("rolling shear strength", 2.0, 4.7, 3.0, "split risk", "locks")
    assert most_telling_test([rolling], moisture_percent=8.0) is None
    test = most_telling_test([rolling, FRICTION], moisture_percent=8.0)
    assert test is not None
    assert test.kind == "slide"


def test_a_range_out_of_order_is_refused() -> None:
    """A range must run from low to high."""
    for low, high in ((0.4, 0.3), (0.3, 0.3), (0.0, 0.0)):
        with pytest.raises(InputError, match="friction"):
            most_telling_test([OpenInput("friction", low, high, 0.2, "", "")], moisture_percent=8.0)


def test_a_friction_from_nothing_upward_is_a_range_like_others() -> None:
    """A bowl file may say friction 0 to 0.3; the test is still told with its angle."""
    test = most_telling_test([replace(FRICTION, low=0.0, high=0.3, flips_at=0.2)], moisture_percent=8.0)
    assert test is not None
    assert test.reading == pytest.approx(math.degrees(math.atan(0.2)))


def test_what_a_verdict_hangs_on_becomes_open_inputs() -> None:
    """Each dependence keeps its ends and states; a flip that was not found is no number."""
    depends = (
        Dependence("friction", "", 0.2, 0.55, "springs back", "locks", 0.344),
        Dependence("kerf", "mm", 0.6, 0.9, "locks", "falls through"),
    )
    friction, kerf = open_inputs(depends)
    assert friction == FRICTION
    assert (kerf.low, kerf.high, kerf.state_above) == (0.6, 0.9, "falls through")
    assert math.isnan(kerf.flips_at)


@pytest.mark.parametrize(
    ("kind", "value", "until", "told"),
    [("friction", 0.344, 0.38, "before 19.0 degrees: it springs back; from there to 20.8 degrees: it r"),
     ("kerf", 0.71, 0.815, "under 0.71 mm: it springs back; from there to 0.81 mm: it risks a split; wi"),
     ("scale error", math.radians(-0.4), math.radians(0.7),
      "less than -0.40 deg more than the scale says: it springs back; from there to +0.70 deg: it ris")],
)  # fmt: skip
def test_a_state_between_two_others_is_told_with_where_it_is_past(
    kind: str, value: float, until: float, told: str
) -> None:
    """Springs back, then a risk of splitting, then it locks: two readings, each at its own place."""
    low, high = (-0.02, 0.02) if kind == "scale error" else (0.2, 0.9)
    one = OpenInput(kind, low, high, value, "springs back", "locks", "split risk", until)
    test = most_telling_test([one], moisture_percent=8.0)
    assert test is not None
    assert told in test.sentence
    assert test.sentence.endswith(": it locks.")


def test_fit_tells_the_angle_that_decides() -> None:
    """A bevel of 14 degrees holds while off-cuts slide later than at 14 degrees, and the report says so."""
    bowl = make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "19 mm", "across": "240 mm"},
            "cut": {"tilt": "14 deg", "kerf": "0.8 mm", "pitch": "8 mm", "base": "90 mm"},
            "use": {"finish": "oil"},
        }
    )
    told = advised_test(fit(bowl, rigid=True, beyond=False), units="mm")
    assert "an off-cut that slides before 14.0 degrees: it springs back; later: it locks." in told


def test_board_factor_at_a_chance_by_hand() -> None:
    """1 - exp(-k B^-m) comes down to 0.1 where B = (k/-ln 0.9)^(1/m); out of reach it is no number."""
    found = board_factor_at(lambda b: -math.expm1(-0.004 * b**-8.0), 0.1)
    assert found == pytest.approx((0.004 / -math.log(0.9)) ** (1 / 8), rel=1e-5)
    assert math.isnan(board_factor_at(lambda _b: 0.05, 0.1))


def test_fit_tells_the_load_that_decides() -> None:
    """A board whose strips break at the load told splits as often as is allowed, as the program has it."""
    bowl = make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "19 mm", "across": "120 mm"},
            "cut": {"tilt": "5 deg", "kerf": "0.8 mm", "pitch": "8 mm", "base": "60 mm"},
            "use": {"finish": "none", "friction": "0.4", "press": "120 N"},
            "limits": {"split_chance": "0.02"},
        }
    )
    told = advised_test(fit(bowl, beyond=False), units="mm")
    assert told.startswith("To be surer still: Break test, 5 test strips")
    kilograms = float(told.split("that break below ")[1].split(" kg")[0])
    # Back from the load: 3 F L/(2 b h^2), the volumes at shape 6, and 8 percent moisture.
    stress = 3 * kilograms * 9.80665 * 60 / (2 * 10 * 36)
    across = stress * (3600 / 98 / 30_500) ** (1 / 6) / (1 + 4 * 0.02 + 4 * 2 * 0.005 / 14)
    chances = []
    for factor in (0.97, 1.0, 1.03):
        board = BoardAcross((across * factor,) * 4, (1e-4,) * 4, 0.0, 3.9 * 0.87)
        known = BoardStrength("Strips", "", bowl.board.wood.name, board, 99)
        tested = fit(with_learned(bowl, Learned(strengths=(known,))), beyond=False)
        assert tested.elastic is not None
        chances.append(tested.elastic.opening.numbers.split_chance)
        # What strips have told is not asked again.
        assert "Break test" not in advised_test(tested, units="mm")
    assert chances[0] > 0.02 > chances[2]
    assert chances[1] == pytest.approx(0.02, rel=0.1)  # the load is told to a tenth of a kilogram
