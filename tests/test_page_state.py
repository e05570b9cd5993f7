"""The page's address and the files it opens and saves."""

import tomllib
from dataclasses import replace
from fractions import Fraction
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.bowlfile.keys import READERS
from fitsim.bowlfile.text import bowl_text
from fitsim.climate.place import read_place
from fitsim.errors import InputError
from fitsim.page.state import (
    LONGEST_ADDRESS,
    bowl_of,
    in_units,
    opened_bowl,
    opened_saw,
    pairs_of_learned,
    pairs_of_tables,
    read_address,
    read_state,
)
from fitsim.quantities import LENGTH, read_quantity, read_range, write_exactly
from fitsim.saw.break_test import BoardStrength
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned import Learned
from fitsim.saw.learned_file import learned_text, make_learned
from fitsim.saw.oven_test import BoardMoisture
from fitsim.saw.saw_file import make_saw, saw_text
from fitsim.saw.slide_test import Friction
from fitsim.wood.across_grain import BoardAcross

SHALLOW: dict[str, Any] = {
    "name": 'A "quoted" bowl, \\ back and \u00bc',
    "board": {"thickness": "5/8 in", "across": "11 1/4 in", "wood": "walnut", "outline": "square"},
    "cut": {"tilt": ["6 deg", "5 1/2 deg", "5 deg"], "pitch": "33 mm", "base": "3 3/4 in",
            "kerf": "0.65 to 0.8 mm"},
    "use": {"friction": "0.3 to 0.5", "press": "18 lbf"},
    "limits": {"overlap": "0.2"},
    "scatter": {"kerf": "0.04 mm"},
}  # fmt: skip
"""Every kind of value a bowl file has: text, a list, ranges, other tables."""

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)


@st.composite
def any_tables(draw: st.DrawFn) -> dict[str, Any]:
    """Tables of text as a file or an address might give them, sensible or not."""
    tables: dict[str, Any] = {}
    for table in draw(st.sets(st.sampled_from([*READERS]), max_size=4)):
        keys = draw(st.sets(st.sampled_from([*READERS[table]]), min_size=1, max_size=4))
        tables[table] = {k: draw(texts | st.lists(texts, min_size=2, max_size=3)) for k in keys}
    return tables


@given(any_tables())
def test_a_saved_file_says_what_the_page_says(tables: dict[str, Any]) -> None:
    """TOML read back has every value as it stood, signs and control characters included."""
    assert tomllib.loads(bowl_text(tables)) == tables


def test_save_and_open_give_the_same_bowl() -> None:
    """A bowl saved and opened again is the same in every number."""
    saved = bowl_text(read_state(pairs_of_tables(SHALLOW)).tables)
    pairs, problems = opened_bowl(saved.encode("utf8"), where="b.toml")
    assert not problems
    assert bowl_of(read_state(pairs)) == make_bowl(SHALLOW)


def test_an_address_holds_the_whole_bowl() -> None:
    """Through an address and back the bowl is the same, name with its odd signs included."""
    address = urlencode(pairs_of_tables(SHALLOW), quote_via=quote)
    assert bowl_of(read_state(read_address(address.encode("ascii")))) == make_bowl(SHALLOW)


@pytest.mark.parametrize(
    ("key", "given", "taken"),
    [
        ("cut.kerf", ("0.7 mm", "0.8"), "0.7 mm; 0.8 mm"),
        ("cut.tilt", ("6", "5 deg", "5 1/2"), "6 deg; 5 deg; 5 1/2 deg"),
        ("use.turn_moisture", ("8", "9 %"), "8 %; 9 %"),
    ],
)
def test_of_a_list_every_value_is_told(key: str, given: tuple[str, ...], taken: str) -> None:
    """A list with a bare number in it is told with all its values, in order; a whole one is not told."""
    table, name = key.split(".")
    other = (("board.thickness", "17 mm"), ("units", "mm"))
    state = read_state([*((key, text) for text in given), *other])
    assert state.typed == {key: taken}
    assert state.tables[table][name] == taken.split("; ")
    assert read_state([*((key, text) for text in taken.split("; ")), *other]).typed == {}


def test_numbers_written_bare_in_a_file_read_alike() -> None:
    """A bare number of a file means the same on the page: turns = 7.5 and overlap = 0.2."""
    text = 'board = {thickness = "18 mm", across = "15 cm"}\ncut = {tilt = "6 deg", turns = 3.5}\n'
    text += "limits = {overlap = 0.2}\n"
    pairs, problems = opened_bowl(text.encode(), where="b.toml")
    assert not problems
    assert bowl_of(read_state(pairs)) == make_bowl(tomllib.loads(text))


def test_a_file_with_problems_is_opened_and_its_problems_told() -> None:
    """What is wrong in an opened file comes with its key, and every value all the same."""
    text = '[board]\nthickness = "18"\nacross = "150 mm"\n[cut]\ntilt = "6 deg"\ntitl = "5 deg"\n'
    pairs, problems = opened_bowl(text.encode(), where="mine.toml")
    assert ("board.thickness", "18") in pairs
    assert {p.key for p in problems} == {"board.thickness", "cut.titl"}
    assert all(str(p).startswith("mine.toml: ") for p in problems)


def test_tables_of_other_commands_go_through_the_page() -> None:
    """Monthly means stay numbers, what was seen stays a list: opened and saved, they read the same."""
    tables = {
        **SHALLOW,
        "room": {"heated": "20 C", "driest_month": 1},
        "weather": {"temperature_C": [-2, -1, 3, 8, 13, 17.5, 19, 18, 14, 9, 3, -1],
                    "humidity_percent": [86, 82, 76, 70, 69, 70, 71, 73, 77, 82, 86, 87]},
        "seen": {"what": ["fell through at turn 2", "rocks"]},
        "measured": {"kerf": "0.65 +- 0.05 mm"},
    }  # fmt: skip
    again = tomllib.loads(bowl_text(read_state(pairs_of_tables(tables)).tables))
    for name in ("weather", "seen", "measured"):
        assert again[name] == tables[name]
    assert read_place(again, where="", typed={}).kind == "monthly means"


def test_empty_values_are_left_out() -> None:
    """An empty field means that the key is not in the file."""
    assert read_address(b"board.wood=&cut.tilt=+&cut.kerf=0.7%20mm") == (("cut.kerf", "0.7 mm"),)


@pytest.mark.parametrize(
    "query", [b"a=" + b"1" * LONGEST_ADDRESS, b"&".join(b"a=1" for _ in range(301)), b"a=%ff%fe", b"\xff=1"]
)
def test_an_address_too_long_or_no_text_is_refused(query: bytes) -> None:
    """Length, number of keys and encoding of an address are limited."""
    with pytest.raises(InputError, match="address"):
        read_address(query)


@pytest.mark.parametrize(
    ("text", "units", "expected"),
    [
        ("3/4 in", "mm", "19.05 mm"),  # an inch is 25.4 mm by definition (1959)
        ("19.05 mm", "in", "3/4 in"),
        ("1 ft 2 1/4 in", "in", "1 ft 2 1/4 in"),
        ("18 mm", "in", "18 mm"),  # 45.35 sixty-fourths: no rule has that mark
        ("0.65 to 0.8 mm", "in", "0.65 to 0.8 mm"),
        ("1/2 to 3/4 in", "mm", "12.7 mm to 19.05 mm"),
        ("2 1/64 in", "mm", "2 1/64 in"),  # 51.196875 mm: no one writes that
        ("0.028 in", "mm", "0.7112 mm"),
        ("nonsense", "mm", "nonsense"),
    ],
)
def test_lengths_change_units_only_where_that_is_exact(text: str, units: str, expected: str) -> None:
    """Switching the units never changes the bowl: what has no exact mark stays as it was written."""
    assert in_units([("board.thickness", text)], units=units) == (("board.thickness", expected),)


@given(st.integers(1, 64 * 30), st.sampled_from([1, 2, 4, 8, 16, 32, 64]), st.sampled_from(["in", "mm"]))
def test_units_there_and_back_are_the_same_length(top: int, below: int, units: str) -> None:
    """Exact fractions of an inch come back unchanged in size, whatever they were written in."""
    size = Fraction(top, below) * LENGTH.units[units]
    text = write_exactly(size, units, LENGTH)
    for to in ("mm", "in", "mm"):
        ((_, text),) = in_units([("cut.base", text)], units=to)
        assert read_range(text, LENGTH) == (size, size)


def test_what_is_no_length_keeps_its_writing() -> None:
    """Angles, forces and words are left alone when the units change."""
    pairs = pairs_of_tables(demo_tables())
    moved = in_units(pairs, units="mm")
    unlike = {key for (key, before), (_, after) in zip(pairs, moved, strict=True) if before != after}
    assert unlike == {"board.thickness", "board.across", "cut.pitch", "cut.base", "cut.blade"}
    assert read_quantity(dict(moved)["cut.base"], LENGTH) == Fraction(381, 4)


SAW = Saw(
    name="Lean-to band saw", date="", kerf_mm=0.71, kerf_sd_mm=0.02, tilt_offset_rad=0.0077,
    tilt_offset_sd_rad=0.002, correlation=-0.6, kerf_varies_sd_mm=0.03, tilt_repeats_sd_rad=0.003,
    rings=2, slots=1, gauges=0,
)  # fmt: skip


def test_a_saw_file_goes_through_the_address() -> None:
    """The bowl is sawn by the saw in the address as by one given to the command."""
    pairs = opened_saw(saw_text(SAW).encode("utf8"), where="saw.toml")
    assert all(key.startswith("saw.") for key, _ in pairs)
    state = read_state([*pairs_of_tables(demo_tables()), *pairs])
    made = make_saw(state.saw)
    assert made == make_saw(tomllib.loads(saw_text(SAW)))
    assert bowl_of(state).cut.scale_offset_rad == made.tilt_offset_rad
    assert bowl_of(state).cut.kerf_mm[0] == pytest.approx(0.71)


def test_the_page_opens_with_one_of_a_kind() -> None:
    """Frictions of two woods, which a command tells apart by its bowl, are one too many for the page."""
    walnut = Friction("Shed", "", "oil", "walnut, black", 0.37, 0.33, 0.42, 6)
    cherry = Friction("Loft", "", "oil", "cherry, black", 0.31, 0.28, 0.35, 4)
    with pytest.raises(InputError, match="Loft: friction: expected one friction for the page; Shed holds"):
        pairs_of_learned(Learned(frictions=(walnut, cherry)))


def test_a_bowl_file_is_no_saw_file() -> None:
    """A file of the wrong kind is answered as the command answers it."""
    with pytest.raises(InputError, match="a saw file, not a bowl file"):
        opened_saw(bowl_text(demo_tables()).encode(), where="bowl.toml")


def test_problems_of_bowl_and_saw_come_together() -> None:
    """Everything wrong is told at once, each with its own key."""
    pairs = [*pairs_of_tables(demo_tables()), ("cut.tilt", "6"), ("saw.kerf", "0.7 mm")]
    with pytest.raises(InputError) as caught:
        bowl_of(read_state(pairs))
    keys = {p.key for p in caught.value.problems}
    assert {"cut.tilt", "saw.kerf_sd", "saw.correlation"} <= keys


def test_what_tests_taught_goes_through_the_address() -> None:
    """Friction, strength and moisture opened on the page reach the bowl as from the file itself."""
    across = BoardAcross((2.9, 3.1, 3.7, 4.2), (0.11, 0.10, 0.09, 0.08), 0.0, 3.4)
    learned = Learned(
        saw=SAW,
        frictions=(Friction("Shed", "", "oil", "cherry, black", 0.37, 0.33, 0.42, 6),),
        strengths=(BoardStrength("Shed", "", "cherry, black", across, 5),),
        moistures=(BoardMoisture("Shed", "", 10.4, 0.3, 2, 1, "cherry, black"),),
    )
    text = learned_text(learned, name="Shed")
    pairs = opened_saw(text.encode("utf8"), where="kept.toml")
    assert pairs_of_learned(make_learned(tomllib.loads(text))) == pairs  # typed as --learned
    without = replace(make_learned(tomllib.loads(text)), saw=None)
    assert pairs_of_learned(without) == tuple(p for p in pairs if p[0] == "saw.name" or p[0][:4] != "saw.")
    board = [("board.wood", "cherry"), ("board.thickness", "19 mm"), ("board.across", "240 mm")]
    state = read_state((*board, ("cut.tilt", "5 deg"), ("use.finish", "oil"), *pairs))
    assert make_learned(state.saw) == make_learned(tomllib.loads(text))
    bowl = bowl_of(state)
    assert bowl.use.friction == pytest.approx(0.37)
    assert bowl.board.moisture_percent == pytest.approx(10.4)
    assert bowl.board.tested_across is not None
    assert bowl.cut.scale_offset_rad == pytest.approx(SAW.tilt_offset_rad, abs=1e-6)
