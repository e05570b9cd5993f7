"""Reading a year of weather: a real file, and everything that can be wrong with one."""

import importlib.util
import warnings
from pathlib import Path

import numpy as np
import pytest

from fitsim.climate.weather import (
    LONGEST_GAP_H,
    MONTH_DAYS,
    HourlyAir,
    air_range,
    monthly_weather,
    read_epw,
    weather_of_tables,
)
from fitsim.errors import InputError

HEADER = [
    "LOCATION,Hollin Bridge,-,XXX,Invented,000000,54.0,-2.0,0.0,120.0",
    "DESIGN CONDITIONS,0",
    "TYPICAL/EXTREME PERIODS,0",
    "GROUND TEMPERATURES,0",
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    "COMMENTS 1,invented for a test",
    "COMMENTS 2",
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
]


def invented_rows(*, leap: bool = False) -> list[list[str]]:
    """A made-up year: temperature is the day's number over 10, humidity 50 plus the hour."""
    days = list(MONTH_DAYS)
    days[1] += leap
    dates = [(m, d + 1) for m, many in enumerate(days, 1) for d in range(many)]
    return [
        ["2023", str(m), str(d), str(h), "0", "?9", f"{day / 10:.1f}", "1.0", str(50 + h), "99000", "0"]
        for day, (m, d) in enumerate(dates)
        for h in range(1, 25)
    ]


def written(folder: Path, rows: list[list[str]], header: list[str] = HEADER, code: str = "utf8") -> Path:
    """The file of these rows."""
    path = folder / "year.epw"
    path.write_bytes("\r\n".join([*header, *map(",".join, rows), ""]).encode(code))
    return path


def test_a_real_file_reads_as_another_reader_reads_it() -> None:
    """Temperature, humidity and pressure of Amsterdam (IWEC) agree with pvlib's own EPW reader."""
    spec = importlib.util.find_spec("pvlib")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("pvlib is not installed")
    path = Path(spec.submodule_search_locations[0]) / "data" / "NLD_Amsterdam062400_IWEC.epw"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the other packages, not of ours
        iotools = importlib.import_module("pvlib.iotools")
        theirs, _ = iotools.read_epw(str(path))
    ours = read_epw(path)
    assert ours.place == "AMSTERDAM, NLD"
    assert ours.notes == ()
    np.testing.assert_array_equal(ours.temperature_C, theirs["temp_air"])
    np.testing.assert_array_equal(ours.humidity_percent, theirs["relative_humidity"])
    np.testing.assert_allclose(ours.pressure_kPa, theirs["atmospheric_pressure"] / 1000, rtol=1e-14)


@pytest.mark.parametrize("leap", [False, True])
def test_an_invented_year_reads(tmp_path: Path, leap: bool) -> None:
    """8760 hours, or 8784 with the 29th of February in its place, each value where it was written."""
    air = read_epw(written(tmp_path, invented_rows(leap=leap)))
    assert len(air.temperature_C) == 8784 if leap else 8760
    assert air.temperature_C[24 * 59 + 5] == 5.9
    assert air.humidity_percent[24 * 59 + 5] == 56
    assert air.pressure_kPa[7] == 99
    with pytest.raises(ValueError, match="read-only"):
        air.temperature_C[0] = 1


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "latin-1"])
def test_a_place_with_accents_reads_in_either_coding(tmp_path: Path, code: str) -> None:
    """UTF-8, with or without its mark, and Latin-1 give the same name."""
    header = ["LOCATION,Sant Père,Ü,XXX,Invented,0,0,0,0,0", *HEADER[1:]]
    assert read_epw(written(tmp_path, invented_rows(), header, code)).place == "Sant Père, Ü, XXX"


def test_short_gaps_are_bridged_and_counted(tmp_path: Path) -> None:
    """Missing codes and empty fields become a straight line, also across the turn of the year."""
    rows = invented_rows()
    for hour in (100, 101, 102):
        rows[hour][8] = "999"
    rows[99][8], rows[103][8] = "40", "80"
    rows[0][6], rows[8759][6], rows[8758][6], rows[1][6] = "99.9", "", "4.0", "1.0"
    rows[500][9] = "999999"
    air = read_epw(written(tmp_path, rows))
    np.testing.assert_allclose(air.humidity_percent[99:104], [40, 50, 60, 70, 80])
    np.testing.assert_allclose(air.temperature_C[[8758, 8759, 0, 1]], [4, 3, 2, 1])
    assert air.pressure_kPa[500] == 99
    assert air.notes == (
        "2 missing hours of temperature bridged",
        "3 missing hours of humidity bridged",
        "1 missing hours of pressure bridged",
    )


def test_a_file_without_pressure_takes_the_standard(tmp_path: Path) -> None:
    """Pressure may miss altogether; humidity above 100 is cut off; both are said."""
    rows = [[*row[:9], "999999", "0"] for row in invented_rows()]
    rows[3][8] = "104"
    air = read_epw(written(tmp_path, rows))
    assert set(air.pressure_kPa) == {101.325}
    assert air.humidity_percent[3] == 100
    assert len(air.notes) == 2


def spoiled(kind: str) -> tuple[list[str], list[list[str]]]:
    """Header and rows with one thing wrong."""
    header, rows = list(HEADER), invented_rows()
    if kind == "text":
        rows[41][6] = "warm"
    elif kind == "impossible":
        rows[42][8] = "-3"
    elif kind == "infinite":
        rows[42][6] = "inf"
    elif kind == "short row":
        rows[43] = rows[43][:7]
    elif kind == "long gap":
        for hour in range(200, 201 + LONGEST_GAP_H):
            rows[hour][6] = "99.9"
    elif kind == "all missing":
        rows = [[*row[:8], "999", *row[9:]] for row in rows]
    elif kind == "short":
        rows = rows[:-24]
    elif kind == "leap row in a plain year":
        rows.insert(24 * 59, [*rows[24 * 58][:2], "29", *rows[24 * 58][3:]])
        del rows[0]
    elif kind == "swapped":
        rows[60], rows[61] = rows[61], rows[60]
    elif kind == "half-hourly":
        header[7] = "DATA PERIODS,1,2,Data,Sunday, 1/ 1,12/31"
    elif kind == "no header":
        header = header[1:]
    elif kind == "seven header lines":
        del header[3]
    return header, rows


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("text", r"line 50, temperature = warm: expected -70 to 70 deg C"),
        ("impossible", r"line 51, humidity = -3: expected 0 to 110 percent"),
        ("infinite", r"line 51, temperature = inf: expected"),
        ("short row", r"line 52: expected a row of at least 10 values"),
        ("long gap", r"line 209, temperature = 49 missing: expected at most 48"),
        ("all missing", r"line 9, humidity = 8760 missing"),
        ("short", r"length = 8736 rows: expected 8760 hourly rows, or 8784"),
        ("leap row in a plain year", r"line 9 = 1, 1, 2: expected month 1, day 1, hour 1"),
        ("swapped", r"line 69 = 1, 3, 14: expected month 1, day 3, hour 13"),
        ("half-hourly", r"line 8 = 2: expected 1 row an hour"),
        ("no header", r"line 1: expected an EPW file"),
        ("seven header lines", r"line 8: expected eight header lines"),
    ],
)
def test_what_is_wrong_is_answered_in_one_line(tmp_path: Path, kind: str, said: str) -> None:
    """A file that is no whole year of weather is refused with its line and what was expected."""
    header, rows = spoiled(kind)
    path = written(tmp_path, rows, header)
    with pytest.raises(InputError, match=said) as caught:
        read_epw(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_many_wrong_rows_are_shortened(tmp_path: Path) -> None:
    """Five lines and the number of the rest, not eight thousand lines."""
    rows = [[*row[:6], "x", *row[7:]] for row in invented_rows()]
    with pytest.raises(InputError, match="8755 more such places") as caught:
        read_epw(written(tmp_path, rows))
    assert len(caught.value.problems) == 6


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none.epw", "there is none of that name"),
        (".", "this is a folder"),
        ("empty.epw", "begins with LOCATION"),
        ("binary.epw", "begins with LOCATION"),
        ("huge.epw", r"= 21 MB: expected a weather file of at most 20 MB"),
    ],
)
def test_no_file_a_folder_and_rubbish_are_refused(tmp_path: Path, name: str, said: str) -> None:
    """What is no text file of weather is refused in one line."""
    (tmp_path / "empty.epw").write_bytes(b"")
    (tmp_path / "binary.epw").write_bytes(bytes(range(256)) * 9)
    with (tmp_path / "huge.epw").open("wb") as file:
        file.truncate(21_000_000)
    with pytest.raises(InputError, match=said):
        read_epw(tmp_path / name)


def test_monthly_means_are_kept() -> None:
    """A year through monthly means has those means, month by month, and closes on itself."""
    warm = [-4, -2.5, 1, 6, 12, 16, 19, 17.5, 13, 8, 2, -3]
    damp = [84, 80, 71, 62, 58, 60, 64, 70, 76, 81, 86, 88]
    air = monthly_weather(temperature_C=warm, humidity_percent=damp)
    months = np.repeat(np.arange(12), [24 * many for many in MONTH_DAYS])
    for given, hourly in ((warm, air.temperature_C), (damp, air.humidity_percent)):
        np.testing.assert_allclose([hourly[months == m].mean() for m in range(12)], given, atol=1e-9)
        assert abs(hourly[0] - hourly[-1]) <= 1.01 * np.abs(np.diff(hourly)).max()


def test_a_room_swings_between_its_ends() -> None:
    """An indoor range is driest in the middle of its driest month and dampest half a year later."""
    air = air_range(temperature_C=21, driest_percent=25, wettest_percent=62, driest_month=3)
    # The middle of March falls into a day, that of February between two: there rounding would decide.
    assert air.humidity_percent.argmin() // 24 == 31 + 28 + 15
    assert air.humidity_percent.max() == pytest.approx(62)
    assert air.humidity_percent.mean() == pytest.approx((25 + 62) / 2)


def test_typed_means_are_checked() -> None:
    """Eleven months, words, impossible numbers and unknown keys are each answered in one line."""
    right = {"temperature_C": list(range(12)), "humidity_percent": [70] * 12}
    assert isinstance(weather_of_tables(right, where="bowl.toml"), HourlyAir)
    for key, value in (
        ("temperature_C", [3] * 11),
        ("temperature_C", [True] * 12),
        ("humidity_percent", ["70"] * 12),
        ("humidity_percent", [0] * 12),
        ("humidity", [70] * 12),
    ):
        with pytest.raises(InputError, match=rf"bowl.toml: weather.{key} = .*expected") as caught:
            weather_of_tables({**right, key: value}, where="bowl.toml")
        assert "\n" not in str(caught.value)
    with pytest.raises(ValueError, match="one value for each hour"):
        HourlyAir("x", np.zeros(3), np.zeros(2), np.zeros(3))
