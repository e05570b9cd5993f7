"""Indoor air from outdoor air, and the moisture wood comes to in it.

A room takes in outdoor air: the same share of water vapour, warmed to the room's temperature. So the
coldest months give the driest rooms. Saturation pressure is Magnus's formula with the coefficients of
Alduchov and Eskridge 1996, J. Appl. Meteorol. 35, 601-609 (from memory; said to be within 0.4 percent
from -40 to 50 deg C). Humidity is taken over water also below freezing, as weather services report it
(WMO Guide to Instruments, from memory). A file that takes it over ice holds less vapour: 9 percent
less at -10 deg C, which dries a heated room by about 1 percent humidity.
"""

from dataclasses import replace

import numpy as np

from fitsim.arrays import Array, ArrayLike
from fitsim.climate.weather import MONTH_DAYS, HourlyAir
from fitsim.errors import OutsideModelError
from fitsim.wood.moisture import HUMIDITY_RANGE_PERCENT, TEMPERATURE_RANGE_C, equilibrium_moisture_percent

__all__ = [
    "MAGNUS_RANGE_C",
    "MONTHS",
    "day_of",
    "humidity_for_moisture_percent",
    "indoor_air",
    "moisture_in_air_percent",
    "saturation_pressure_kPa",
]

MAGNUS_RANGE_C = (-80.0, 50.0)
"""Outdoor temperatures served; below -40 deg C an extrapolation that weighs nothing, vapour being nil."""

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip


def saturation_pressure_kPa(temperature_C: ArrayLike) -> Array:
    """Pressure of water vapour over water, Magnus's formula.

    p = 0.61094 exp(17.625 T/(T + 243.04)), T in deg C.

    Parameters
    ----------
    temperature_C : array_like
        Temperature, any shape, within :data:`MAGNUS_RANGE_C`. [deg C]

    Returns
    -------
    numpy.ndarray
        Saturation pressure. [kPa]

    Raises
    ------
    OutsideModelError
        If a temperature lies outside the range.

    Examples
    --------
    >>> float(saturation_pressure_kPa(20.0).round(2))
    2.33
    """
    T = np.asarray(temperature_C, dtype=np.float64)
    coldest, hottest = MAGNUS_RANGE_C
    if not np.all((coldest <= T) & (hottest >= T)):
        raise OutsideModelError(f"air temperature lies outside {coldest:g} to {hottest:g} deg C")
    return np.asarray(0.61094 * np.exp(17.625 * T / (T + 243.04)))


def indoor_air(
    outdoor: HourlyAir,
    *,
    heated_to_C: float,
    cooled_to_C: float | None = None,
    humidifier_percent: float = 0.0,
    dehumidifier_percent: float = 100.0,
    added_kPa: float = 0.0,
) -> HourlyAir:
    """Room air made of outdoor air: the same vapour content, at the room's temperature.

    Pressure indoors and outdoors is the same, so the same vapour content is the same vapour pressure.

    Parameters
    ----------
    outdoor : HourlyAir
        The weather.
    heated_to_C : float
        The room is never colder; in warmer weather it is as warm as outdoors. [deg C]
    cooled_to_C : float or None
        The room is never warmer; None: no cooling. [deg C]
    humidifier_percent, dehumidifier_percent : float
        Relative humidity is held between these. [percent]
    added_kPa : float
        Vapour pressure that cooking, washing and people add, 0 by default. [kPa]

    Returns
    -------
    HourlyAir
        The room, hour by hour.

    Raises
    ------
    ValueError
        If a lower limit stands above an upper one.
    """
    if humidifier_percent > dehumidifier_percent or (cooled_to_C or heated_to_C) < heated_to_C:
        message = "limits: humidifier at most dehumidifier, heated at most cooled"
        raise ValueError(message)
    vapour = outdoor.humidity_percent / 100 * saturation_pressure_kPa(outdoor.temperature_C) + added_kPa
    warm = np.maximum(outdoor.temperature_C, heated_to_C)
    room = warm if cooled_to_C is None else np.minimum(warm, cooled_to_C)
    humidity = np.minimum(100 * vapour / saturation_pressure_kPa(room), 100)
    return replace(
        outdoor,
        temperature_C=room,
        humidity_percent=np.clip(humidity, humidifier_percent, dehumidifier_percent),
    )


def moisture_in_air_percent(air: HourlyAir) -> Array:
    """Moisture content wood comes to, hour by hour, inside the sorption equation's range.

    Parameters
    ----------
    air : HourlyAir
        The air round the wood.

    Returns
    -------
    numpy.ndarray
        Equilibrium moisture content, shape (n,). [percent]

    Raises
    ------
    OutsideModelError
        If an hour is too damp, too cold or too hot; the message says how many, the first, and what
        would bring them inside.
    """
    ranges = (
        ("humidity", "percent", air.humidity_percent, HUMIDITY_RANGE_PERCENT),
        ("temperature", "deg C", air.temperature_C, TEMPERATURE_RANGE_C),
    )
    for name, unit, values, (least, most) in ranges:
        outside = ~((values >= least) & (values <= most))
        if outside.any():
            first = int(np.argmax(outside))
            worst = values[outside][np.argmax(np.abs(values[outside] - (least + most) / 2))]
            raise OutsideModelError(
                f"{air.place}: {name} is outside {least:.1f} to {most:.1f} {unit} in {int(outside.sum())} "
                f"hours, first on {day_of(first, len(values))}, at worst {worst:.1f}: the sorption "
                "equation does not serve there; heat the room or give a dehumidifier limit"
            )
    return equilibrium_moisture_percent(
        temperature_C=air.temperature_C, humidity_percent=air.humidity_percent
    )


def day_of(hour: int, hours: int) -> str:
    """Day and month of an hour of the year.

    Parameters
    ----------
    hour : int
        Counted from 0 at the turn of the year.
    hours : int
        Hours of the year: 8784 in a leap year.

    Returns
    -------
    str
        For example "12 February".

    Examples
    --------
    >>> day_of(42 * 24 + 5, 8760)
    '12 February'
    """
    day = hour // 24
    days = list(MONTH_DAYS)
    days[1] += hours == 8784
    for month, many in zip(MONTHS, days, strict=True):
        if day < many:
            return f"{day + 1} {month}"
        day -= many
    return f"day {hour // 24 + 1}"


def humidity_for_moisture_percent(*, moisture_percent: float, temperature_C: float) -> float:
    """Relative humidity in which wood settles at a given moisture content, by bisection.

    Parameters
    ----------
    moisture_percent : float
        Wanted moisture content. [percent]
    temperature_C : float
        Temperature of the room. [deg C]

    Returns
    -------
    float
        Relative humidity. [percent]

    Raises
    ------
    OutsideModelError
        If no humidity up to 95 percent gives it.

    Examples
    --------
    >>> round(humidity_for_moisture_percent(moisture_percent=12.0, temperature_C=20.0), 1)
    65.0
    """
    low, high = HUMIDITY_RANGE_PERCENT
    most = float(equilibrium_moisture_percent(temperature_C=temperature_C, humidity_percent=high))
    if not 0 <= moisture_percent <= most:
        raise OutsideModelError(f"moisture {moisture_percent:g} percent is not within 0 to {most:.1f}")
    for _ in range(50):
        middle = (low + high) / 2
        found = equilibrium_moisture_percent(temperature_C=temperature_C, humidity_percent=middle)
        low, high = (middle, high) if float(found) < moisture_percent else (low, middle)
    return (low + high) / 2
