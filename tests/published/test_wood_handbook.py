"""Checks against the Wood Handbook, row by row.

Forest Products Laboratory. 2010. Wood handbook: wood as an engineering material. General
Technical Report FPL-GTR-190. Madison, WI: U.S. Department of Agriculture, Forest Service.
Forest Products Laboratory. 2021. The same, General Technical Report FPL-GTR-282.

The tables beside this file are copies of printed rows; "transcription" in a source means another
author's copy of the printed table.
"""

import csv
from pathlib import Path

import pytest

from fitsim.wood.moisture import at_moisture, equilibrium_moisture_percent, swelling_strain
from fitsim.wood.species import find_wood, woods

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    """Read one table of printed values."""
    with (HERE / name).open(encoding="utf8", newline="") as file:
        return list(csv.DictReader(file))


def widening_mm(*, width_mm: float, swell_T_per_point: float, change_points: float) -> float:
    """Change of width of a flat-sawn board."""
    strain = swelling_strain(
        swell_L_per_point=5e-5,
        swell_R_per_point=0.00112,
        swell_T_per_point=swell_T_per_point,
        ring_angle_rad=0.0,
        change_points=change_points,
    )
    return width_mm * float(strain.across)


EMC = rows("emc_table.csv")


def test_the_copy_of_table_4_2_is_whole() -> None:
    """15 temperatures of 19 humidities: 285 cells."""
    temperatures = {row["temperature_F"] for row in EMC}
    humidities = {row["humidity_percent"] for row in EMC}
    assert (len(EMC), len(temperatures), len(humidities)) == (285, 15, 19)


@pytest.mark.parametrize("temperature_F", sorted({int(row["temperature_F"]) for row in EMC}))
def test_equilibrium_moisture_table(temperature_F: int) -> None:
    """Table 4-2, every cell within 0.06 points: the table is printed to 0.1, rounding is 0.05."""
    cells = [row for row in EMC if int(row["temperature_F"]) == temperature_F]
    found = equilibrium_moisture_percent(
        temperature_C=(temperature_F - 32) / 1.8,
        humidity_percent=[float(row["humidity_percent"]) for row in cells],
    )
    assert found == pytest.approx([float(row["moisture_percent"]) for row in cells], abs=0.06)


@pytest.mark.parametrize(
    ("temperature_C", "humidity_percent", "moisture_percent"),
    [(20, 65, 12.00), (20, 50, 9.27), (5, 85, 18.47)],
)
def test_equilibrium_moisture_points(
    temperature_C: float, humidity_percent: float, moisture_percent: float
) -> None:
    """Three values a fact sheet works out from equation 4-5 of FPL-GTR-282, to 0.01."""
    found = equilibrium_moisture_percent(temperature_C=temperature_C, humidity_percent=humidity_percent)
    assert float(found) == pytest.approx(moisture_percent, abs=0.005)


def test_bending_strength_of_dry_white_ash() -> None:
    """Equation 5-3, the printed example: 103000 (103000/66000)^(4/12) = 119500 kPa at 8 percent."""
    found = at_moisture(103.0, green_ratio=103.0 / 66.0, intersection_percent=24.0, moisture_percent=8.0)
    assert float(found) == pytest.approx(119.5, abs=0.05)


def test_white_ash_of_the_table_gives_the_printed_example() -> None:
    """The same from our own table of woods."""
    ash = find_wood("white ash")
    found = at_moisture(
        ash.bending_strength_MPa.value,
        green_ratio=ash.green_ratio_bending.value,
        intersection_percent=ash.intersection_moisture_percent.value,
        moisture_percent=8.0,
    )
    assert float(found) == pytest.approx(119.5, abs=0.05)


def test_widening_of_a_white_fir_board() -> None:
    """Page 13-17: 232 mm, 8 to 11 percent, +1.7 mm (C_T 0.00245 of white fir from memory)."""
    found = widening_mm(width_mm=232.0, swell_T_per_point=0.00245, change_points=11 - 8)
    assert found == pytest.approx(1.7, abs=0.05)


def test_widening_of_a_flooring_strip() -> None:
    """A flooring trade's worked example: 5 in, C 0.00129, 6 to 9 percent, 0.019 in."""
    found = widening_mm(width_mm=5 * 25.4, swell_T_per_point=0.00129, change_points=9 - 6)
    assert found / 25.4 == pytest.approx(0.019, abs=0.0005)


def test_swelling_coefficients_follow_from_total_shrinkage() -> None:
    """Table 13-5 from Table 4-3 by C = 1/(3000/S - 20): 64 of 74 coefficients within 2e-5.

    The other ten are rows that stand for a group of species and take its largest value.
    """
    misses = []
    table = rows("dimensional_change.csv")
    for row in table:
        for axis in "RT":
            C = 1 / (3000 / float(row[f"shrink_{axis}_percent"]) - 20)
            if abs(C - float(row[f"C_{axis}_per_point"])) > 2e-5:
                misses.append((row["species"], axis))
    groups = ["Ash, green", "Birch, sweet", "Elm, cedar", "Red oak, commercial",
              "White oak, commercial"]  # fmt: skip
    assert 2 * len(table) == 74
    assert misses == [(species, axis) for species in groups for axis in "RT"]


def test_woods_carry_the_printed_or_the_computed_coefficient() -> None:
    """Each estimated coefficient of our table is 1/(3000/S - 20) of the wood's own shrinkage."""
    checked = 0
    for wood in woods():
        for axis in "RT":
            coefficient = getattr(wood, f"swell_{axis}_per_point")
            if coefficient.mark == "estimated":
                S = getattr(wood, f"shrink_{axis}_percent").value
                assert coefficient.value == pytest.approx(1 / (3000 / S - 20), abs=6e-6), wood.name
                checked += 1
    # Nine woods without a printed row, and Douglas-fir's radial coefficient.
    assert checked == 2 * 9 + 1


@pytest.mark.parametrize(
    ("name", "C_R", "C_T"),
    [
        ("cherry, black", 0.00126, 0.00248),
        ("walnut, black", 0.00190, 0.00274),
        ("beech, American", 0.00190, 0.00431),
        ("oak, white", 0.00180, 0.00365),
        ("birch, yellow", 0.00256, 0.00338),
    ],
)
def test_printed_swelling_coefficients(name: str, C_R: float, C_T: float) -> None:
    """Table 13-5, radial and tangential."""
    wood = find_wood(name)
    assert (wood.swell_R_per_point.value, wood.swell_T_per_point.value) == (C_R, C_T)
    assert wood.swell_R_per_point.mark == wood.swell_T_per_point.mark == "published"


RATIOS = rows("elastic_ratios.csv")
MODULI = {"E_T": "E_T_MPa", "E_R": "E_R_MPa", "G_LR": "G_LR_MPa", "G_LT": "G_LT_MPa",
          "G_RT": "G_RT_MPa"}  # fmt: skip


@pytest.mark.parametrize("row", RATIOS, ids=lambda row: row["wood"])
def test_elastic_ratios_of_the_species_of_the_table(row: dict[str, str]) -> None:
    """Tables 5-1 and 5-2: moduli over E_L, Poisson's ratios; a printed blank is an estimate."""
    wood = find_wood(row["wood"])
    for column, name in MODULI.items():
        found = getattr(wood, name)
        if row[column]:
            ratio = found.value / wood.E_L_MPa.value
            assert ratio == pytest.approx(float(row[column]), rel=1e-3), name
            assert found.mark != "estimated", name
        else:
            assert found.mark == "estimated", name
    for name in ("nu_LR", "nu_LT", "nu_RT"):
        assert getattr(wood, name).value == float(row[name])


@pytest.mark.parametrize(
    ("name", "bending_modulus_MPa"),
    [("cherry, black", 10300), ("oak, white", 12300), ("larch, western", 12900), ("teak", 10700)],
)
def test_modulus_along_the_grain_is_corrected_for_shear(name: str, bending_modulus_MPa: float) -> None:
    """Chapter 5: the tabulated bending modulus is raised by 10 percent to give E_L."""
    found = find_wood(name).E_L_MPa.value
    assert found == pytest.approx(1.10 * bending_modulus_MPa, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "shear_MPa", "across_MPa", "bending_MPa"),
    [
        ("cherry, black", 11.7, 3.9, 85),
        ("oak, northern red", 12.3, 5.5, 99),
        ("beech, American", 13.9, 7.0, 103),
        ("larch, western", 9.4, 3.0, 90),
        ("pine, lodgepole", 6.1, 2.0, 65),
    ],
)
def test_strengths(name: str, shear_MPa: float, across_MPa: float, bending_MPa: float) -> None:
    """Table 5-3 (transcriptions): shear along, tension across the grain, bending at 12 percent."""
    wood = find_wood(name)
    found = (wood.shear_along_MPa, wood.tension_across_MPa, wood.bending_strength_MPa)
    assert [number.value for number in found] == [shear_MPa, across_MPa, bending_MPa]
    assert {number.mark for number in found} == {"published"}


@pytest.mark.parametrize(
    ("name", "dry_psi", "green_psi", "field"),
    [
        ("sweetgum", 12500, 7100, "green_ratio_bending"),
        ("sweetgum", 1600, 990, "green_ratio_shear"),
        ("sweetgum", 1.64, 1.20, "green_ratio_modulus"),
        ("teak", 1890, 1290, "green_ratio_shear"),
        ("teak", 14600, 11600, "green_ratio_bending"),
    ],
)
def test_green_ratios_in_inch_pounds(name: str, dry_psi: float, green_psi: float, field: str) -> None:
    """Ratios are free of units: Alden 1995, FPL-GTR-83 (sweetgum); Table 5-5b (teak)."""
    found = getattr(find_wood(name), field).value
    assert found == pytest.approx(dry_psi / green_psi, rel=0.005)


def test_rolling_shear_of_beech_covers_the_measured_mean() -> None:
    """Aicher, Christian and Hirsch 2016: 5.6 of 13.9 MPa lies between middle and upper end."""
    beech = find_wood("beech").rolling_shear_MPa
    assert pytest.approx(beech.low, abs=0.005) == 0.28 * 13.9
    assert beech.low < beech.value < 5.6 < beech.high
