"""Where a bowl is kept: what is taken from file and command line, what is cut off and said."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitsim.climate.place import DAMP_SHARE, ROOM_KEYS, read_place
from fitsim.climate.weather import monthly_weather
from fitsim.errors import InputError, OutsideModelError


def weather(july_percent: float) -> dict[str, Any]:
    """An invented mild year whose July is damp."""
    humidity = [60.0] * 12
    humidity[6] = july_percent
    return {"temperature_C": [22.0] * 12, "humidity_percent": humidity}


def test_a_few_damp_hours_are_taken_at_the_end_of_the_equation_and_counted() -> None:
    """Hours above 95 percent become 95 and are told, and no other hour is touched."""
    year = weather(87.0)
    outdoors = monthly_weather(**year)
    over = int(np.sum(outdoors.humidity_percent > 95))
    assert 0 < over < DAMP_SHARE * 8760
    found = read_place({"weather": year}, where="b.toml", typed={})
    assert any(note.startswith(f"{over} hours") for note in found.notes)
    assert found.room.humidity_percent.max() == 95
    below = outdoors.humidity_percent <= 95
    # The room is as warm as outdoors, so its air is the same but for a rounding.
    np.testing.assert_allclose(found.room.humidity_percent[below], outdoors.humidity_percent[below])


def test_a_damp_month_is_refused() -> None:
    """More of such hours are refused with their number, and what would help."""
    with pytest.raises(OutsideModelError, match=r"hours, first on \d+ (June|July).*dehumidifier"):
        read_place({"weather": weather(94.0)}, where="b.toml", typed={})
    found = read_place({"weather": weather(94.0)}, where="b.toml", typed={"dehumidifier": "60 %"})
    assert found.room.humidity_percent.max() == 60


def test_what_is_typed_stands_in_place_of_the_file() -> None:
    """The command line overrides the tables key by key; what it sets aside is said or needs no word."""
    tables = {"weather": weather(70.0), "room": {"heated": "24 C", "humidifier": "65 %"}}
    own = read_place(tables, where="b.toml", typed={})
    assert own.room.temperature_C.min() == 24
    assert own.room.humidity_percent.min() == 65
    assert {a.key for a in own.assumptions} == {"room.added"}
    typed = read_place(tables, where="b.toml", typed={"heated": "77 F"})
    assert typed.room.temperature_C.min() == pytest.approx(25)
    assert typed.room.humidity_percent.min() == 65
    ranged = read_place(tables, where="b.toml", typed={"humidity": "40 to 55 %"})
    assert ranged.kind == "indoor range"
    assert ranged.room.humidity_percent.min() == pytest.approx(40, abs=0.1)
    both = {**tables, "room": {"humidity": "30 to 60 %"}}
    assert any("set aside" in note for note in read_place(both, where="b.toml", typed={}).notes)


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"room": "warm"}, r"b\.toml: room = 'warm'"),
        ({"weather": 3}, r"b\.toml: weather = 3"),
        ({"room": {"warm": "20 C"}}, r"room\.warm"),
        ({"room": {"humidity": "60 %", "driest_month": 0}}, r"room\.driest_month"),
        (
            {"room": {"humidity": "0.3 to 45 %"}},
            r"room\.humidity = '0.3 to 45 %': expected .* 2 to 95 percent",
        ),
        ({"weather": {"temperature_C": [1] * 12}}, r"weather\.humidity_percent"),
        ({}, "--weather FILE"),
    ],
)
def test_bad_tables_are_answered_in_one_line(tables: dict[str, Any], said: str) -> None:
    """The message names the file, the key and what would be understood."""
    with pytest.raises(InputError, match=said) as caught:
        read_place(tables, where="b.toml", typed={})
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("written", "typed", "said"),
    [
        (
            {},
            {"humidifier": "60 %", "dehumidifier": "30 %"},
            "--dehumidifier = '30 %': expected at least --humidifier = '60 %'; correct one of the two",
        ),
        (
            {"heated": "26 C", "cooled": "68 F"},
            {},
            "b.toml: room.cooled = '68 F': expected at least room.heated = '26 C'; correct one of the two",
        ),
        (
            {"humidifier": "60 %"},
            {"dehumidifier": "30 %"},
            "--dehumidifier = '30 %': expected at least room.humidifier = '60 %'; correct one of the two",
        ),
        (
            {"cooled": "18 C"},
            {"heated": "22 C"},
            "b.toml: room.cooled = '18 C': expected at least --heated = '22 C'; correct one of the two",
        ),
        (
            {},
            {"cooled": "18 C"},
            "--cooled = '18 C': expected at least the 20 C that a room is heated to where nothing is "
            "said; give --heated too if yours is kept cooler",
        ),
        (
            {"cooled": "18 C"},
            {},
            "b.toml: room.cooled = '18 C': expected at least the 20 C that a room is heated to where "
            "nothing is said; give heated too if yours is kept cooler",
        ),
        (
            {"cooled": "18 C", "heated": "20 C"},
            {"humidifier": "50 %", "dehumidifier": "45 %"},
            "--dehumidifier = '45 %': expected at least --humidifier = '50 %'; correct one of the two\n"
            "b.toml: room.cooled = '18 C': expected at least room.heated = '20 C'; correct one of the two",
        ),
    ],
)
def test_limits_that_contradict_are_named_where_they_were_written(
    written: dict[str, Any], typed: dict[str, Any], said: str
) -> None:
    """Key or option with what was written in it, both limits of each pair, and the warmth nobody wrote."""
    tables = {"weather": weather(70.0), "room": written}
    with pytest.raises(InputError) as caught:
        read_place(tables, where="b.toml", typed=typed)
    assert str(caught.value) == said


@pytest.mark.parametrize(
    ("key", "value"),
    [("humidifier", "45 %"), ("dehumidifier", "20 %"), ("added", "3 g/m3"), ("cooled", "25 C")],
)
@pytest.mark.parametrize(
    ("tables", "ranged"),
    [({"weather": weather(70.0)}, {"humidity": "40 to 55 %"}), ({"room": {"humidity": "30 to 60 %"}}, {})],
)
def test_an_indoor_range_has_no_use_for_what_the_house_does(
    tables: dict[str, Any], ranged: dict[str, str], key: str, value: str
) -> None:
    """Beside a range, an option that works on outdoor air is refused; heated, its temperature, is not."""
    with pytest.raises(InputError, match=f"--{key}.*weather outdoors.*leave it out"):
        read_place(tables, where="b.toml", typed={**ranged, key: value})
    warm = read_place(tables, where="b.toml", typed={**ranged, "heated": "23 C"})
    assert warm.room.temperature_C.min() == 23
    room = {**tables.get("room", {}), key: value}
    (note,) = read_place({**tables, "room": room}, where="b.toml", typed=ranged).notes
    assert note.startswith(f"{key} under [room] set aside")


def test_a_weather_file_and_a_range_contradict_each_other() -> None:
    """Both at once are refused before either is read."""
    with pytest.raises(InputError, match="leave out --weather or --indoor"):
        read_place({}, where="b.toml", weather=Path("none.epw"), typed={"humidity": "30 to 60 %"})
    assert set(ROOM_KEYS) >= {"heated", "humidity", "added"}
