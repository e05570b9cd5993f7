"""What tests have taught, laid on a bowl and kept in a file."""

import math
import re
import tomllib
from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import lognorm
from sweep_bowls import rigid_rings

from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.ranges import corners
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError
from fitsim.saw.break_test import BoardStrength
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned import Learned, WorkshopTests, learn, left_out_notes, with_learned
from fitsim.saw.learned_file import joined, learned_text, make_learned
from fitsim.saw.oven_test import BoardMoisture, MoistureTests, OvenPiece
from fitsim.saw.saw_file import saw_text
from fitsim.saw.slide_test import Friction
from fitsim.saw.tests_file import make_tests
from fitsim.sweeps.lock_map import bowl_map
from fitsim.sweeps.row_answer import work_out
from fitsim.sweeps.run_rows import ask, header_for
from fitsim.sweeps.varied_quantities import read_varied
from fitsim.wood.across_grain import BoardAcross

CHERRY = "cherry, black"
SAW = Saw(
    "Shed saw", 0.72, 0.012, math.radians(0.4), math.radians(0.12), -0.5, 0.02, math.radians(0.1), 2, 1, 0
)
OILED = Friction("Slides", "2024-03-02", "oil", CHERRY, 0.37, 0.33, 0.42, 6)
ACROSS = BoardAcross((2.9, 3.1, 3.7, 4.2), (0.11, 0.10, 0.09, 0.08), 0.0, 3.4)
STRONG = BoardStrength("Strips", "", CHERRY, ACROSS, 5)
DAMP = BoardMoisture("Oven", "2024-03-02", 10.4, 0.3, 2, 0, CHERRY)


def bowl_of(**use: Any) -> Bowl:
    """An oiled cherry bowl, unlike in every number."""
    board = {"wood": "cherry", "thickness": "18 mm", "across": "230 mm", **use.pop("board", {})}
    cut = {"tilt": "5 deg", "kerf": "0.8 mm", "pitch": "8 mm", "base": "92 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "oil", **use}})


def range_of(bowl: Bowl, path: str) -> tuple[float, float]:
    """The one range of a number."""
    ((low, high),) = [(u.low, u.high) for u in bowl.uncertain if u.path == path]
    return low, high


def test_friction_takes_the_place_of_the_finishs_range() -> None:
    """The finish's 0.2 to 0.55 gives way to what was measured, in the middle and at both ends."""
    before = bowl_of()
    bowl = with_learned(before, Learned(frictions=(OILED,)))
    assert range_of(before, "use.friction") == (0.2, 0.55)
    assert (bowl.use.friction, *range_of(bowl, "use.friction")) == (0.37, 0.33, 0.42)
    (told,) = [a for a in bowl.assumptions if a.key == "use.friction"]
    assert (told.mark, told.value, told.low, told.high) == ("measured", "0.37", "0.33", "0.42")
    assert told.source == "tests 'Slides': 6 slides, 2024-03-02; in place of the assumed 0.2 to 0.55"


def test_friction_stands_before_the_bowl_files_own() -> None:
    """A friction written as one value becomes the measured range, and the source says what it replaced."""
    bowl = with_learned(bowl_of(friction="0.4"), Learned(frictions=(OILED,)))
    assert range_of(bowl, "use.friction") == (0.33, 0.42)
    (told,) = [a for a in bowl.assumptions if a.key == "use.friction"]
    assert told.source.endswith("in place of the bowl file's 0.4")


@pytest.mark.parametrize("other", [replace(OILED, finish="wax"), replace(OILED, wood="walnut, black")])
def test_friction_of_another_finish_or_wood_is_left_out_and_said(other: Friction) -> None:
    """What was measured with another finish or wood changes nothing but the notes."""
    before = bowl_of()
    bowl = with_learned(before, Learned(frictions=(other,)))
    assert replace(bowl, notes=()) == before
    (note,) = bowl.notes
    assert f"friction is known for {other.finish} on {other.wood}, not for oil on {CHERRY}" in note


def test_the_test_on_this_wood_counts_before_one_on_any() -> None:
    """A friction that names the wood is taken before one that names none, whichever stands first."""
    anyone = replace(OILED, wood="", friction=0.3, low=0.25, high=0.36)
    for both in ((anyone, OILED), (OILED, anyone)):
        assert with_learned(bowl_of(), Learned(frictions=both)).use.friction == 0.37
    assert with_learned(bowl_of(), Learned(frictions=(anyone,))).use.friction == 0.3


def test_the_board_carries_its_own_strength() -> None:
    """Mean and scatter for every shape come with the board; the wood's number is that at shape 6."""
    bowl = with_learned(bowl_of(), Learned(strengths=(STRONG,)))
    assert bowl.board.tested_across == ACROSS
    number = bowl.board.wood.tension_across_MPa
    # The wood's number is a mean of both ways of pulling: this flat board's 3.1 MPa over 0.87.
    assert (number.value, number.mark) == (pytest.approx(3.1 / 0.87), "measured")
    board = lognorm(s=math.sqrt(math.log(1.01)), scale=3.1 / math.sqrt(1.01))
    assert (board.mean(), board.std() / board.mean()) == pytest.approx((3.1, 0.10))
    assert (number.low, number.high) == pytest.approx((board.ppf(0.05) / 0.87, board.ppf(0.95) / 0.87))
    keys = [a.key for a in bowl.assumptions]
    assert "strength across the grain of this board" in keys
    before = {a.key for a in bowl_of().assumptions}
    gone = ("scatter of tension across", "test piece of strength across the grain, volume it stands for")
    assert before.issuperset(gone)
    assert not set(gone) & set(keys)


def test_a_strength_known_as_a_range_is_one_no_more() -> None:
    """A wood whose strength is an estimate reaches the verdict as a range; its tested board does not."""
    before = bowl_of(board={"wood": "paper birch"})
    path = "board.wood.tension_across_MPa"
    assert range_of(before, path) == (2.93, 5.8)
    birch = replace(STRONG, wood=before.board.wood.name)
    bowl = with_learned(before, Learned(strengths=(birch,)))
    assert not [u for u in bowl.uncertain if u.path == path]
    assert "wood.tension_across_MPa" not in [a.key for a in bowl.assumptions]


@pytest.mark.parametrize(
    "other",
    [replace(STRONG, wood="walnut, black"), replace(STRONG, across=replace(ACROSS, ring_angle_rad=1.2))],
)
def test_strength_of_another_board_is_left_out_and_said(other: BoardStrength) -> None:
    """A strength of another wood, or of one pulled across other rings, changes nothing but the notes."""
    before = bowl_of()
    bowl = with_learned(before, Learned(strengths=(other,)))
    assert replace(bowl, notes=()) == before
    assert "strength across the grain is known for" in bowl.notes[0]


def test_moisture_goes_where_it_was_taken_to_be_as_sawn() -> None:
    """Base and turns follow the board's moisture where they were not given, and stay where they were."""
    bowl = with_learned(bowl_of(base_moisture="7 %"), Learned(moistures=(DAMP,)))
    assert bowl.board.moisture_percent == 10.4
    assert (bowl.use.base_moisture_percent, bowl.use.turn_moisture_percent) == (7.0, (10.4,))
    (told,) = [a for a in bowl.assumptions if a.key == "board.moisture"]
    assert (told.mark, told.value, told.low, told.high) == ("measured", "10.4 %", "9.9 %", "10.9 %")
    shown = {a.key: a.value for a in bowl.assumptions}
    assert shown["use.turn_moisture"] == "10.4 %"
    elsewhere = with_learned(bowl_of(), Learned(moistures=(replace(DAMP, wood="walnut, black"),)))
    assert elsewhere.board.moisture_percent == 8.0
    assert "moisture is that of walnut, black" in elsewhere.notes[0]


def test_laying_it_on_again_is_laying_it_on_once() -> None:
    """Everything laid on twice leaves the same ranges, and no note or assumption twice."""
    everything = Learned(SAW, (OILED, replace(OILED, finish="wax")), (STRONG,), (DAMP,))
    once = with_learned(bowl_of(), everything)
    twice = with_learned(once, everything)
    assert twice.uncertain == once.uncertain
    assert (twice.board.moisture_percent, twice.use) == (once.board.moisture_percent, once.use)
    assert twice.board.wood.tension_across_MPa.value == once.board.wood.tension_across_MPa.value
    for bowl in (once, twice):
        keys = [a.key for a in bowl.assumptions]
        assert len(set(keys)) == len(keys)
        assert len(set(bowl.notes)) == len(bowl.notes)


def test_learned_ranges_reach_the_verdict() -> None:
    """Every corner of the ranges is one of the measured ends, and the verdict is worked out there."""
    bowl = with_learned(bowl_of(), Learned(SAW, (OILED,), (STRONG,), (DAMP,)))
    seen = {at.use.friction for at in corners(bowl)}
    assert seen == {0.33, 0.42}
    hold = next(m for m in fit(bowl, rigid=True, beyond=False).verdict.margins if m.state == "springs back")
    assumed = fit(with_learned(bowl_of(), Learned(SAW)), rigid=True, beyond=False)
    before = next(m for m in assumed.verdict.margins if m.state == "springs back")
    assert hold.worst / before.worst == pytest.approx(0.2 / 0.33, rel=1e-3)  # tan(tilt) over friction


def test_moisture_that_was_measured_is_that_of_the_strips() -> None:
    """Strips broken at 16 percent, as the oven says, speak for a stronger board than at the assumed 8."""
    tables: dict[str, Any] = {
        "board": {"wood": "cherry"},
        "strips": {"width": "10 mm", "thickness": "6 mm", "span": "60 mm"},
        "break": [{"load": "3.8 kg"}, {"load": "3.1 kg"}],
    }
    dry = learn(make_tests(tables))
    damp = learn(make_tests({**tables, "oven": [{"wet": "58 g", "dry": "50 g"}]}))
    assert dry.strength
    assert damp.strength
    assert damp.strength.tests.moisture_percent == pytest.approx(16.0)
    assert damp.strength.board_factor > 1.05 * dry.strength.board_factor


def test_every_contradiction_of_a_file_is_told_at_once() -> None:
    """Slides and pieces that cannot be right are two lines, each with the file's name."""
    tests = make_tests(
        {
            "board": {"finish": "oil"},
            "slide": [{"angle": f"{v} deg"} for v in (20, 21, 19, 40)],
            "oven": [{"wet": f"{v} g", "dry": "50 g"} for v in (54, 54.1, 60)],
        }
    )
    with pytest.raises(InputError) as caught:
        learn(tests, where="t.toml")
    first, second = str(caught.value).splitlines()
    assert first.startswith("t.toml: slide 4")
    assert second.startswith("t.toml: oven 3")


def test_nothing_measured_teaches_nothing() -> None:
    """A file without tests of a kind leaves that kind out."""
    found = learn(WorkshopTests(moisture=MoistureTests(pieces=(OvenPiece(54.0, 50.0),))))
    assert (found.saw, found.friction, found.strength) == (None, None, None)
    assert [m.moisture_percent for m in found.learned.moistures] == [pytest.approx(8.0)]


positive = st.floats(0.02, 3.0)
LEARNED = st.builds(
    Learned,
    saw=st.none() | st.just(replace(SAW, name="x", date="2024-03-02")),
    frictions=st.just(()) | st.builds(
        lambda low, more, further, wood: (
            Friction("x", "2024-03-02", "wax", wood, low + more, low, low + more + further, 4),
        ),
        positive, st.floats(0.01, 0.5), st.floats(0.01, 0.5), st.sampled_from(("", CHERRY)),
    ),
    strengths=st.just(()) | st.builds(
        lambda means, covs, ring: (
            BoardStrength("x", "2024-03-02", CHERRY, BoardAcross(means, covs, ring, means[1]), 7),
        ),
        st.tuples(*[st.floats(0.5, 20.0)] * 4), st.tuples(*[st.floats(0.01, 0.4)] * 4),
        st.floats(0.0, math.pi / 2),
    ),
    moistures=st.just(()) | st.builds(
        lambda m, sd: (BoardMoisture("x", "2024-03-02", m, sd, 2, 3, ""),),
        st.floats(1.0, 30.0), st.floats(0.05, 3.0),
    ),
)  # fmt: skip


@given(LEARNED)
def test_what_was_learned_is_read_back_as_it_was_kept(learned: Learned) -> None:
    """Every number of the file comes back to its sixth decimal, every word and count as it was."""
    if learned == Learned():
        return
    back = make_learned(tomllib.loads(learned_text(learned, name="x", date="2024-03-02")))

    def same(one: Any, other: Any) -> None:
        if isinstance(one, float):
            assert other == pytest.approx(one, rel=2e-5, abs=1e-6)
        elif isinstance(one, tuple):
            assert len(one) == len(other)
            for a, b in zip(one, other, strict=True):
                same(a, b)
        elif hasattr(one, "__dataclass_fields__"):
            for field in fields(one):
                same(getattr(one, field.name), getattr(other, field.name))
        else:
            assert one == other

    same(learned, back)


def test_a_saw_alone_is_kept_as_the_saw_file_it_was() -> None:
    """Files of a saw alone are what they always were, and older ones are read."""
    assert learned_text(Learned(saw=SAW), name="any") == saw_text(SAW)
    assert make_learned(tomllib.loads(saw_text(SAW))).saw is not None


def test_files_that_speak_of_the_same_thing_are_refused() -> None:
    """Two saws, or two frictions of one wood and finish, are named with both files; unlike ones join."""
    wax = replace(OILED, finish="wax")
    found = joined([("a", Learned(SAW, (OILED,))), ("b", Learned(None, (wax,), (STRONG,), (DAMP,)))])
    assert (found.saw, len(found.frictions), found.strengths) == (SAW, 2, (STRONG,))
    with pytest.raises(InputError) as caught:
        joined([("a", Learned(SAW, (OILED,))), ("b", Learned(SAW, (OILED, wax)))])
    assert str(caught.value).splitlines() == [
        "b: saw: expected one saw; a holds another; give one of the two files",
        "b: friction: expected one friction of oil on cherry, black; a holds another; give one of the "
        "two files",
    ]


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"friction": {"finish": "oil"}}, "my.toml: friction.friction: expected all keys of [friction]"),
        ({"friction": {"friction": "0.5", "low": "0.6"}}, "friction.friction = 0.5: expected between low"),
        ({"friction": {"finish": "oyl"}}, "did you mean 'oil'?"),
        ({"strength": {"sd_at_6": "3 MPa"}}, "strength.sd_at_6 = 3 MPa: expected less than half its mean"),
        ({"strength": {"mean_at_6": "3"}}, "expected a strength with its unit"),
        ({"moisture": {"moisture": "45 %"}}, "moisture.moisture = '45 %': expected at most 30 %"),
        ({"slide": [{"angle": "20 deg"}]}, "this is a file of test cuts"),
        ({"cut": {"tilt": "5 deg"}}, "not a bowl file"),
        ({"frition": {}}, "did you mean 'friction'?"),
    ],
)
def test_slips_in_the_file_are_answered(change: dict[str, Any], expected: str) -> None:
    """Every slip is one line that names file, key and what to write."""
    good = tomllib.loads(learned_text(Learned(None, (OILED,), (STRONG,), (DAMP,)), name="x"))
    if change == {"friction": {"finish": "oil"}}:
        good["friction"] = {}
    for table, keys in change.items():
        good[table] = {**good.get(table, {}), **keys} if isinstance(keys, dict) else keys
    with pytest.raises(InputError) as caught:
        make_learned(good, where="my.toml")
    assert any(expected in line for line in str(caught.value).splitlines()), str(caught.value)


def test_a_file_with_none_of_the_tables_says_which_there_are() -> None:
    """An empty file is one line that lists the tables."""
    with pytest.raises(InputError, match=r"\[saw\], \[friction\], \[strength\], \[moisture\]"):
        make_learned({"name": "x"})


SWEPT: dict[str, Any] = {
    "board": {"wood": "cherry", "thickness": "18 mm", "across": "230 mm"},
    "cut": {"tilt": "5 deg", "kerf": "0.8 mm", "pitch": "8 mm", "base": "92 mm"},
    "use": {"finish": "oil"},
}


def test_a_sweep_lays_it_on_every_row_by_that_rows_finish() -> None:
    """Rows with the tested finish hold with the measured friction, others with their own finish's."""
    learned = Learned(frictions=(OILED,))
    oil, wax = (
        work_out(SWEPT, {"use.finish": finish}, judge_one=rigid_rings, learned=learned)
        for finish in ("oil", "wax")
    )
    assert oil.judged
    assert wax.judged
    assert oil.judged.numbers.friction_used == pytest.approx(math.tan(math.radians(5)) / 0.37)
    assert wax.judged.numbers.friction_used == pytest.approx(math.tan(math.radians(5)) / 0.2)


def test_a_store_is_pinned_to_what_was_learned() -> None:
    """A number of it changed makes another question; without it a store's header is what it was."""
    varied = [read_varied("tilt=4..8:3")]
    plain, first = (header_for(ask(SWEPT, varied, learned=v)) for v in (None, Learned(frictions=(OILED,))))
    other = header_for(ask(SWEPT, varied, learned=Learned(frictions=(replace(OILED, low=0.32),))))
    assert "learned" not in plain
    assert {k: v for k, v in first.items() if k != "learned"} == plain
    assert first["learned"] != other["learned"]


@pytest.mark.parametrize(
    ("words", "learned"),
    [
        ("kerf=0.6..0.9 mm:3", Learned(SAW)),
        ("friction=0.2..0.5:3", Learned(frictions=(OILED,))),
        ("moisture=6..12 %:3", Learned(moistures=(DAMP,))),
    ],
)
def test_what_was_measured_is_not_varied(words: str, learned: Learned) -> None:
    """A sweep or a map over a measured quantity is refused by name; over another it is not."""
    with pytest.raises(InputError, match="a quantity that --learned does not hold measured"):
        ask(SWEPT, [read_varied(words)], learned=learned)
    up = read_varied(words.removesuffix(":3"))
    with pytest.raises(InputError, match="a quantity that --learned does not hold measured"):
        bowl_map(
            SWEPT,
            across=read_varied("tilt=3..9"),
            up=up,
            learned=learned,
        )
    assert ask(SWEPT, [read_varied("tilt=4..8:3")], learned=learned).rows == 3


def test_a_map_marks_the_bowl_by_the_scale() -> None:
    """With a saw the tilt along a map is the scale's, and so is the bowl's own place on it."""
    found = bowl_map(
        SWEPT,
        across=read_varied("tilt=3..9"),
        up=read_varied("pitch=6..10 mm"),
        points=12,
        judge_one=rigid_rings,
        learned=Learned(SAW),
    )
    assert found.own_across == pytest.approx((5.0,) * 3)
    drop = SAW.kerf_mm / math.sin(math.radians(5) + SAW.tilt_offset_rad)
    assert found.own.judged
    assert found.own.judged.numbers.overlap == pytest.approx(1 - drop / 18.0, abs=0.02)


def test_bare_wood_is_called_bare() -> None:
    """What tests of oiled off-cuts leave out of a bowl without a finish is told in a maker's words."""
    (note,) = left_out_notes(with_learned(bowl_of(finish="none"), Learned(frictions=(OILED,))))
    assert note.endswith("not for bare cherry, black: left out.")
    assert left_out_notes(with_learned(bowl_of(), Learned(frictions=(OILED,)))) == ()


def test_what_a_turn_sinks_is_told_in_the_units_asked_for() -> None:
    """The note of a saw file has the same drops in either units: an inch is 25.4 mm."""
    mm, inches = (
        [
            float(v) * size
            for v in re.findall(rf"([\d.]+) {units}\b", with_learned(bowl_of(), saw, units=units).notes[0])
        ]
        for saw in (Learned(SAW),)
        for units, size in (("mm", 1.0), ("in", 25.4))
    )
    assert len(mm) == len(inches) == 2
    assert inches == pytest.approx(mm, abs=0.02)
