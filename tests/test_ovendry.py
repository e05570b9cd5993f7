"""Moisture of a board from weights and meters."""

import math

import pytest

from fitsim.errors import InputError
from fitsim.saw.oven_test import (
    MeterReading,
    MoistureTests,
    OvenPiece,
    estimate_moisture,
    oven_moisture_percent,
    refuse_moisture,
)


def test_water_over_dry_wood() -> None:
    """43.2 g that dry to 40 g held 8 percent, and 0.05 g on both scales leave 0.184 points."""
    moisture, sd = oven_moisture_percent(OvenPiece(43.2, 40.0, sd_g=0.05))
    assert moisture == pytest.approx(8.0)
    # d(w/w0) = dw/w0 - w dw0/w0^2
    assert sd == pytest.approx(100 * math.sqrt((0.05 / 40) ** 2 + (43.2 * 0.05 / 1600) ** 2))


def test_readings_weigh_by_their_precision() -> None:
    """Unlike weighings and a meter give the mean weighed by one over each variance."""
    tests = MoistureTests(
        pieces=(OvenPiece(54.1, 50.0, sd_g=0.04), OvenPiece(21.9, 20.0, sd_g=0.1)),
        meters=(MeterReading(11.0, sd_percent=1.2),),
        varies_sd_percent=0.4,
    )
    found = estimate_moisture(tests, name="shed", date="2024-03-02").moisture
    variances, values = [1.2**2 + 0.16], [11.0]
    for wet, dry, sd in ((54.1, 50.0, 0.04), (21.9, 20.0, 0.1)):
        values.append(100 * (wet / dry - 1))
        variances.append((100 * sd / dry) ** 2 * (1 + (wet / dry) ** 2) + 0.16)
    weights = [1 / v for v in variances]
    expected = sum(w * v for w, v in zip(weights, values, strict=True)) / sum(weights)
    assert found.moisture_percent == pytest.approx(expected)
    assert found.sd_percent == pytest.approx(sum(weights) ** -0.5)
    assert (found.pieces, found.meters, found.name, found.date) == (2, 1, "shed", "2024-03-02")


def test_a_meter_does_not_average_its_own_error_away() -> None:
    """Sixteen readings of one meter leave its own error whole and a quarter of what pieces differ by."""
    tests = MoistureTests(meters=(MeterReading(9.0, 1.0),) * 16, varies_sd_percent=0.8)
    assert estimate_moisture(tests).moisture.sd_percent == pytest.approx(math.hypot(1.0, 0.2))


def test_the_piece_that_does_not_fit_is_named() -> None:
    """A piece that holds twice the water of three others is named, with what they give."""
    pieces = tuple(OvenPiece(wet, 50.0) for wet in (54.0, 54.2, 58.5, 53.9))
    with pytest.raises(InputError) as caught:
        refuse_moisture(estimate_moisture(MoistureTests(pieces=pieces)), where="t.toml")
    said = str(caught.value)
    assert said.startswith("t.toml: oven 3 = 17.0 %: expected about 8.1 % by all the other readings")


def test_piece_and_meter_far_apart_are_both_named() -> None:
    """Of two readings that cannot both be right neither is believed."""
    tests = MoistureTests(pieces=(OvenPiece(54.0, 50.0),), meters=(MeterReading(15.0),))
    with pytest.raises(InputError, match=r"oven 1 and meter|meter and oven 1"):
        refuse_moisture(estimate_moisture(tests))
    refuse_moisture(estimate_moisture(MoistureTests(pieces=(OvenPiece(54.0, 50.0),))))


def test_meter_readings_of_two_boards_are_refused() -> None:
    """6 and 12 percent lie 6 points apart, where each is off by hypot(1, 0.3) at most: chi-square 16.5."""
    tests = MoistureTests(meters=(MeterReading(6.0), MeterReading(12.0)))
    found = estimate_moisture(tests)
    assert found.agreement.chi_square == pytest.approx(36 / (2 * (1 + 0.09)))
    assert found.agreement.freedom == 1
    with pytest.raises(InputError) as caught:
        refuse_moisture(found, where="t.toml")
    said = str(caught.value)
    assert said.startswith("t.toml: meter 1, meter 2 = 6.0 % and 12.0 %: expected readings of one moisture")
    assert "read the meter again" in said
    assert "oven" not in said


def test_the_meter_reading_that_does_not_fit_is_named() -> None:
    """Of five readings the odd one is named by its place, beside pieces from the oven that fit."""
    meters = tuple(MeterReading(v) for v in (8.0, 8.4, 15.0, 7.9, 8.2))
    tests = MoistureTests(pieces=(OvenPiece(54.4, 50.0),), meters=meters)
    with pytest.raises(InputError, match=r"^meter 3 = 15\.0 %: expected about 8\.1 % by all the other"):
        refuse_moisture(estimate_moisture(tests))


def test_both_questions_are_told_as_one() -> None:
    """The misfit told is that among pieces and the meter's mean, and that among the meter's readings."""
    tests = MoistureTests(
        pieces=(OvenPiece(54.0, 50.0, sd_g=0.0),),
        meters=(MeterReading(9.0, 1.0), MeterReading(10.0, 1.0)),
        varies_sd_percent=0.4,
    )
    among = 0.5 / (1 + 0.16)
    between = (9.5 - 8.0) ** 2 / (0.16 + 1 + 0.08)
    found = estimate_moisture(tests).agreement
    assert (found.chi_square, found.freedom) == (pytest.approx(among + between), 2)
    assert found.chance == pytest.approx(math.exp(-(among + between) / 2))  # two degrees: in closed form
