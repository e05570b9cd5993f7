"""What a maker saw and measured, as it is written."""

import pytest
from failed_bowls_data import TABLES, observed, plan

from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError
from fitsim.failure.bowl_emulator import rigid_emulator
from fitsim.failure.cause_chances import cause_chances, posterior_samples
from fitsim.failure.explanations import explain
from fitsim.failure.failed_samples import plan_of
from fitsim.failure.next_measurement import gains_of_tools
from fitsim.failure.observations import Seen, read_observed


def test_words_turn_place_and_time_are_read() -> None:
    """A thing seen may carry a turn, a place and a time, in the words a maker would use."""
    found = observed(
        "Fell through at turn 3", "split near the root, after months", "sprang back, first opening"
    )
    assert found.seen == (
        Seen("fell through", turn=3),
        Seen("split", place="near the root", when="after months"),
        Seen("sprang back", when="first opening"),
    )
    assert [str(s) for s in found.seen][1] == "split, near the root, after months"
    assert observed(*[str(s) for s in found.seen]).seen == found.seen


def test_the_words_of_the_verdicts_are_taken() -> None:
    """What ``fit`` says a bowl does may be said of what it did; things at two times contradict nothing."""
    pairs = {
        "will not open": "would not open",
        "Falls through": "fell through",
        "springs back": "sprang back",
        "locks": "held",
    }
    for verdict, word in pairs.items():
        assert observed(verdict).seen == (Seen(word),)
    assert observed("falls through at turn 2").seen == (Seen("fell through", turn=2),)
    assert len(observed("held, first opening", "fell through, after months", "split").seen) == 3
    assert len(observed("fell through", "rim not level", "split").seen) == 3


def test_readings_carry_their_uncertainty() -> None:
    """What follows +- holds 19 readings in 20; units are as anywhere; a tilt may lean the other way."""
    found = {
        m.key: m for m in observed(kerf="0.65 +- 0.05 mm", drop_2="1/4 in", tilt_inner="-4.5 deg").measured
    }
    assert found["kerf"].value == pytest.approx(0.65)
    assert found["kerf"].sd == pytest.approx(0.05 / 1.96)
    assert found["drop_2"].value == pytest.approx(6.35)
    assert found["tilt_inner"].value == pytest.approx(-4.5)
    assert {m.key: m.value for m in observed(nail="Through two turns").measured} == {"nail": 3.0}
    assert observed(press="200 ± 20 N").measured[0].sd == pytest.approx(20 / 1.96)


@pytest.mark.parametrize(
    ("seen", "measured", "match"),
    [
        (["it broke"], {}, "did you mean 'split'"),
        (["a turn fell out"], {}, "did you mean 'fell through'"),
        (["held", "fell through"], {}, "'held' beside 'fell through'.*leave one out"),
        (["fell through", "would not open"], {}, "'fell through' beside 'would not open'"),
        (["would not open", "rocks"], {}, "'would not open' beside 'rocks'"),
        (["came out deep, after months", "sprang back"], {}, "'came out deep' beside 'sprang back'"),
        (["came out deep", "came out shallow"], {}, "at one time"),
        (["fel through"], {}, "did you mean 'fell through'"),
        (["exploded"], {}, "came out deep; the list: fitsim explain --list"),
        ([], {"press": "0 N"}, "measured.press = '0 N': expected more than 0 and at most 5000 N"),
        ([], {"thickness": "0 mm"}, "more than 0 and at most 95.0 mm"),
        ([], {"slip_angle": "70 deg"}, "more than 0 and at most 60 deg"),
        (["fell through at turn 9"], {}, "a turn from 1"),
        (["sprang back at turn 2"], {}, "a turn only with"),
        (["rocks near the root"], {}, "after 'rocks'"),
        ([], {"kerf": "0 mm"}, "wider than 0"),
        ([], {"kerf": "9 mm"}, "narrower than the pitch"),
        ([], {"kerf": "0.7"}, "unit"),
        ([], {"tilt": "50 deg"}, "from -45 to 45"),
        ([], {"tilt": "-5"}, "measured.tilt = '-5': .*give the number its unit"),
        ([], {"tilt_inner": "-5,5 deg"}, "with a point: '-5.5 deg'"),
        ([], {"drop_0": "3 mm"}, r"expected drop_1 \(innermost\) to drop_5; write the number of the turn"),
        ([], {"drop_N": "3 mm"}, r"expected drop_1 \(innermost\) to drop_5; write the number of the turn"),
        ([], {"drop_2": "20 mm"}, "less than the board's thickness"),
        ([], {"drop_17": "3 mm"}, "drop_1"),
        ([], {"rise": "9 in"}, "from 0 to 95 mm, 5 turns times the board's thickness"),
        ([], {"rim_moisture": "40 %"}, "up to 30 percent"),
        ([], {"kerf": "0.7 +- 0 mm"}, "above zero"),
        ([], {"kurf": "0.7 mm"}, "did you mean 'kerf'"),
        ([], {"nail": "gone"}, "one of through one turn"),
    ],
)
def test_what_cannot_be_is_answered_in_one_line(
    seen: list[str], measured: dict[str, str], match: str
) -> None:
    """Unknown words and impossible values give one line that says what would have been understood."""
    with pytest.raises(InputError, match=match) as caught:
        read_observed({"seen": {"what": seen}, "measured": measured}, plan(), where="bowl.toml")
    assert len(str(caught.value).splitlines()) == 1
    assert str(caught.value).startswith("bowl.toml: ")


def test_a_turn_is_offered_only_where_it_may_be_said() -> None:
    """Words nobody knows are answered by those that may stand: a turn for a fall, none for a shut slot."""
    with pytest.raises(InputError) as shut:
        observed("would not open at all")
    with pytest.raises(InputError) as fell:
        observed("fell through at noon")
    assert "nothing, first opening, after months" in str(shut.value)
    assert "nothing, at turn N, first opening, after months" in str(fell.value)


@pytest.mark.parametrize(
    ("text", "newtons"), [("20 kg +- 3 kg", 196.133), ("45 lb", 200.1699), ("20 +- 3 kg", 196.133)]
)
def test_a_press_is_read_as_a_bathroom_scale_shows_it(text: str, newtons: float) -> None:
    """Kilograms and pounds on a scale are the force that they weigh, 9.80665 N and 4.44822 N each."""
    (reading,) = observed(press=text).measured
    assert reading.value == pytest.approx(newtons, rel=1e-5)
    if "+-" in text:
        assert 1.96 * reading.sd == pytest.approx(3 * 9.80665)


def test_a_last_part_of_a_turn_has_no_drop_to_measure() -> None:
    """Of (R_o - R_b)/p - 1/2 - k_h/2p = 5.13 turns the nail holds the sixth: its drop is not asked for."""
    cut = {"pitch": "10 mm", "base": "120 mm"}
    tables = TABLES | {"board": TABLES["board"] | {"across": "233.4 mm"}, "cut": TABLES["cut"] | cut}
    made = plan_of(make_bowl(tables))
    told = "drop_5; turn 6 is only the last 0.13 of a turn, and the nail holds it; leave this one out"
    with pytest.raises(InputError, match=f"measured.drop_6 = '0.8 mm': expected drop_1 .* to {told}"):
        read_observed({"measured": {"drop_6": "0.8 mm"}}, made)
    with pytest.raises(InputError, match="to drop_5; count the turns from the base"):
        read_observed({"measured": {"drop_7": "0.8 mm"}}, made)
    seen = {"seen": {"what": ["held"]}, "measured": {"drop_5": "8.1 mm"}}
    found = explain(made, read_observed(seen, made), emulator=rigid_emulator(made))
    chances = cause_chances(found)
    gains = gains_of_tools(found, chances, posterior_samples(found, chances))
    asked = {key for _, keys in gains.values() for key in keys}
    assert {"drop_2", "drop_3", "drop_4"} <= asked
    assert "drop_6" not in asked
    # 2.7 mm more on each side make it 0.4 of a turn, and that sinks.
    longer = plan_of(make_bowl(tables | {"board": tables["board"] | {"across": "238.8 mm"}}))
    assert longer.share[-1] == pytest.approx(0.405, abs=0.01)
    assert read_observed({"measured": {"drop_6": "7.8 mm"}}, longer).measured[0].value == 7.8
