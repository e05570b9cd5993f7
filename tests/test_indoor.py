"""Room air against a psychrometric library by another author, and what it means for wood."""

import importlib.util
from pathlib import Path

import numpy as np
import psychrolib
import pytest

from fitsim.climate.indoor_air import (
    humidity_for_moisture_percent,
    indoor_air,
    moisture_in_air_percent,
    saturation_pressure_kPa,
)
from fitsim.climate.weather import MONTH_DAYS, HourlyAir, monthly_weather, read_epw
from fitsim.errors import OutsideModelError

psychrolib.SetUnitSystem(psychrolib.SI)


def outdoors(temperature_C: list[float], humidity_percent: list[float]) -> HourlyAir:
    """Some hours of weather on a hill."""
    count = len(temperature_C)
    return HourlyAir("Hollin Bridge", np.array(temperature_C), np.array(humidity_percent),
                     np.full(count, 97.3))  # fmt: skip


@pytest.mark.parametrize("temperature_C", [0.5, 3.0, 11.0, 20.0, 27.0, 38.0, 50.0])
def test_saturation_pressure_is_the_library_s(temperature_C: float) -> None:
    """Magnus and Hyland-Wexler (psychrolib, after the ASHRAE handbook) agree within 0.4 percent."""
    theirs = psychrolib.GetSatVapPres(temperature_C) / 1000
    assert float(saturation_pressure_kPa(temperature_C)) == pytest.approx(theirs, rel=4e-3)


@pytest.mark.parametrize(("temperature_C", "kPa"), [(-10.0, 0.2863), (-20.0, 0.1254)])
def test_below_freezing_it_is_over_water(temperature_C: float, kPa: float) -> None:
    """Supercooled water: Smithsonian Meteorological Tables, 2.863 and 1.254 mbar (from memory)."""
    assert float(saturation_pressure_kPa(temperature_C)) == pytest.approx(kPa, rel=4e-3)
    assert float(saturation_pressure_kPa(temperature_C)) > psychrolib.GetSatVapPres(temperature_C) / 1000


@pytest.mark.parametrize(
    ("temperature_C", "humidity_percent"), [(1.0, 85.0), (7.5, 92.0), (14.0, 60.0), (24.0, 71.0)]
)
def test_warmed_air_keeps_its_vapour(temperature_C: float, humidity_percent: float) -> None:
    """Room humidity is the library's for the same humidity ratio at 21 deg C, or as warm as outdoors."""
    air = outdoors([temperature_C, 30.0], [humidity_percent, 40.0])
    room = indoor_air(air, heated_to_C=21.0)
    ratio = psychrolib.GetHumRatioFromRelHum(temperature_C, humidity_percent / 100, 97300)
    warm = max(temperature_C, 21.0)
    theirs = 100 * psychrolib.GetRelHumFromHumRatio(warm, ratio, 97300)
    assert room.temperature_C[0] == warm
    assert room.humidity_percent[0] == pytest.approx(theirs, rel=4e-3)
    assert (room.temperature_C[1], room.humidity_percent[1]) == (30.0, pytest.approx(40.0))


def test_limits_hold_the_room() -> None:
    """A humidifier lifts dry hours, a dehumidifier lowers damp ones, cooling makes air damper."""
    air = outdoors([-15.0, 28.0, 26.0], [80.0, 70.0, 40.0])
    free = indoor_air(air, heated_to_C=20.0)
    assert free.humidity_percent[0] < 10
    held = indoor_air(
        air, heated_to_C=20.0, cooled_to_C=24.0, humidifier_percent=35.0, dehumidifier_percent=60.0
    )
    np.testing.assert_allclose(held.temperature_C, [20, 24, 24])
    assert held.humidity_percent[0] == 35
    assert held.humidity_percent[1] == 60
    assert 40 < held.humidity_percent[2] < 60
    wetter = indoor_air(air, heated_to_C=20.0, added_kPa=0.3)
    gain = 100 * 0.3 / psychrolib.GetSatVapPres(20.0) * 1000
    assert wetter.humidity_percent[0] - free.humidity_percent[0] == pytest.approx(gain, rel=4e-3)
    for wrong in ({"humidifier_percent": 70.0, "dehumidifier_percent": 60.0}, {"cooled_to_C": 15.0}):
        with pytest.raises(ValueError, match="limits"):
            indoor_air(air, heated_to_C=20.0, **wrong)


def test_moisture_outside_the_equation_is_said_plainly() -> None:
    """Too damp or too cold hours are counted, the first is dated, and a remedy is named."""
    damp = outdoors([10.0] * 100, [80.0] * 60 + [97.0] * 40)
    with pytest.raises(OutsideModelError, match=r"40 hours, first on 3 January, at worst 97\.0"):
        moisture_in_air_percent(damp)
    with pytest.raises(OutsideModelError, match=r"temperature is outside -1\.1 to 93\.3"):
        moisture_in_air_percent(outdoors([-4.0], [50.0]))
    with pytest.raises(OutsideModelError, match="air temperature"):
        indoor_air(outdoors([70.0], [10.0]), heated_to_C=20.0)
    # Wood Handbook, Table 4-2: 70 deg F, 65 percent humidity gives 12.0 percent.
    fine = moisture_in_air_percent(outdoors([21.1, 21.1], [65.0, 30.0]))
    np.testing.assert_allclose(fine, [12.0, 6.2], atol=0.06)


@pytest.mark.parametrize(("moisture", "humidity"), [(6.2, 30), (12.0, 65), (17.9, 85)])
def test_humidity_for_a_moisture_is_the_table_read_backwards(moisture: float, humidity: float) -> None:
    """Wood Handbook, Table 4-2 at 70 deg F, read from moisture to humidity."""
    found = humidity_for_moisture_percent(moisture_percent=moisture, temperature_C=21.1)
    assert found == pytest.approx(humidity, abs=0.6)


def test_a_cold_winter_makes_the_driest_rooms() -> None:
    """In a heated house with a cold winter (invented means) wood is driest in January or February."""
    year = monthly_weather(
        temperature_C=[-9, -8, -3, 4, 11, 16, 18, 16, 11, 5, -1, -6],
        humidity_percent=[84, 82, 76, 68, 62, 65, 70, 75, 79, 82, 86, 86],
    )
    moisture = moisture_in_air_percent(indoor_air(year, heated_to_C=20.0))
    assert moisture.argmin() // 24 < 59
    assert moisture.max() - moisture.min() > 5


def test_a_heated_house_in_sweden() -> None:
    """Published: heated Swedish houses 2 to 6 percent in winter, 7 to 12 in summer, 7.5 over the year.

    TraGuiden, a fact sheet that quotes FPL-GTR-282, equation 4-5 (read). Monthly means of a town on
    the east coast, 1991 to 2020: from memory.
    """
    year = monthly_weather(
        temperature_C=[-1, -1.1, 1.3, 6, 11.1, 15.6, 18.6, 17.7, 13.2, 8, 4.2, 1.2],
        humidity_percent=[85, 82, 76, 69, 63, 66, 69, 73, 78, 82, 86, 87],
    )
    moisture = moisture_in_air_percent(indoor_air(year, heated_to_C=20.0))
    months = np.repeat(np.arange(12), [24 * many for many in MONTH_DAYS])
    mean = [moisture[months == m].mean() for m in range(12)]
    assert all(2 <= mean[m] <= 6 for m in (11, 0, 1))
    assert all(7 <= mean[m] <= 12 for m in (5, 6, 7))
    assert moisture.mean() == pytest.approx(7.5, abs=0.5)


def test_a_real_year_outdoors_and_in() -> None:
    """Outdoors in Amsterdam (IWEC) many hours are too damp for the equation; in a heated room few are."""
    spec = importlib.util.find_spec("pvlib")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("pvlib is not installed")
    year = read_epw(Path(spec.submodule_search_locations[0]) / "data" / "NLD_Amsterdam062400_IWEC.epw")
    with pytest.raises(OutsideModelError, match=r"AMSTERDAM, NLD: humidity .* first on 1 January"):
        moisture_in_air_percent(year)
    room = indoor_air(year, heated_to_C=20.0, dehumidifier_percent=85.0)
    moisture = moisture_in_air_percent(room)
    months = np.repeat(np.arange(12), [24 * many for many in MONTH_DAYS])
    mean = np.array([moisture[months == m].mean() for m in range(12)])
    assert mean.argmin() in (11, 0, 1, 2)
    assert mean.argmax() in (6, 7, 8)
    theirs = [
        psychrolib.GetRelHumFromHumRatio(
            max(20.0, year.temperature_C[h]),
            psychrolib.GetHumRatioFromRelHum(
                year.temperature_C[h], year.humidity_percent[h] / 100, 1000 * year.pressure_kPa[h]
            ),
            1000 * year.pressure_kPa[h],
        )
        for h in range(0, 8760, 97)
        if year.temperature_C[h] > 0.5
    ]
    ours = [room.humidity_percent[h] for h in range(0, 8760, 97) if year.temperature_C[h] > 0.5]
    np.testing.assert_allclose(ours, np.minimum(85, 100 * np.array(theirs)), rtol=5e-3)
