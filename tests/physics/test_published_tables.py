"""Every row of the printed check tables, each against its own tolerance; the source is in the name of the test."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.physics.activity import LEAST_ACTIVITY_FOR_GROWTH, water_activity
from optimizer.physics.air import air_pressure_kPa
from optimizer.physics.boiling import boiling_point_C, end_point_C
from optimizer.physics.density import density_kg_per_m3
from optimizer.physics.evaporation import SURFACE_RATES_kg_per_m2_h, finished_kg
from optimizer.physics.refractometry import (
    brix_fraction_from_index,
    index_from_brix_fraction,
    soluble_solids_fraction,
    temperature_correction_fraction,
)
from optimizer.physics.water import boiling_point_of_water_C, latent_heat_kJ_per_kg, saturation_pressure_kPa

FOLDER = Path(__file__).resolve().parents[1] / "published" / "checks"
Row = dict[str, str]

SURFACES = {
    "flat pan, normal firing, no preheat: 1 US gal/(ft2 h)": "flat pan over a fire",
    "flat pan with blower and preheat: 1.5 US gal/(ft2 h)": "flat pan with blower and preheated feed",
}


def number(row: Row, column: str) -> float:
    return float(row[column])


def percent(row: Row, column: str) -> float:
    return float(row[column]) / 100.0


def sucrose_activity(row: Row) -> float:
    sucrose = percent(row, "sucrose_percent")
    return water_activity(water_kg=1.0 - sucrose, sucrose_kg=sucrose, temperature_C=number(row, "temperature_C"))


def sucrose_elevation(row: Row) -> float:
    sucrose, pressure = percent(row, "sucrose_percent"), number(row, "pressure_kPa")
    boils = boiling_point_C(water_kg=1.0 - sucrose, sucrose_kg=sucrose, pressure_kPa=pressure)
    return boils - boiling_point_of_water_C(pressure)


def jam_end_point(row: Row) -> float:
    return end_point_C(
        percent(row, "solids_percent"),
        invert_share_fraction=number(row, "invert_share_of_sugars"),
        acid_share_fraction=number(row, "acid_share_of_solids"),
        pressure_kPa=air_pressure_kPa(number(row, "altitude_m")),
    )


def water_at_altitude_F(row: Row) -> float:
    return 32.0 + 1.8 * boiling_point_of_water_C(air_pressure_kPa(0.3048 * number(row, "altitude_ft")))


def acid_to_add(row: Row) -> float:
    reading, acid = 0.40, percent(row, "citric_anhydrous_percent")
    return 100.0 * (soluble_solids_fraction(reading, invert_fraction=0.0, acid_fraction=acid) - reading)


def solids_of_invert(row: Row) -> float:
    reading, invert = percent(row, "brix_reading"), percent(row, "invert_percent_of_product")
    return 100.0 * soluble_solids_fraction(reading, invert_fraction=invert, acid_fraction=0.0)


def temperature_to_add(row: Row) -> float:
    return 100.0 * temperature_correction_fraction(percent(row, "brix_reading"), number(row, "temperature_C"))


def density(row: Row) -> float:
    return density_kg_per_m3(percent(row, "sucrose_percent"), number(row, "temperature_C"))


# table -> (rows in print, what the program says for a row, in the unit of the row)
TABLES: dict[str, tuple[int, Callable[[Row], float]]] = {
    "standard_atmosphere": (5, lambda row: 1000.0 * air_pressure_kPa(number(row, "altitude_geopotential_m"))),
    "water_saturation_pressure": (4, lambda row: saturation_pressure_kPa(number(row, "temperature_C"))),
    "water_boiling_altitude": (9, water_at_altitude_F),
    "latent_heat_water": (6, lambda row: latent_heat_kJ_per_kg(number(row, "temperature_C"))),
    "water_activity_sucrose": (8, sucrose_activity),
    "limits_water_activity": (8, lambda row: LEAST_ACTIVITY_FOR_GROWTH[row["organism"]]),
    "boiling_point_elevation_sucrose": (9, sucrose_elevation),
    "jam_end_point": (3, jam_end_point),
    "refractive_index_sucrose": (18, lambda row: index_from_brix_fraction(percent(row, "sucrose_percent"))),
    "refractometer_temperature": (48, temperature_to_add),
    "refractometer_acid": (17, acid_to_add),
    "refractometer_invert": (1, solids_of_invert),
    "density_sucrose": (27, density),
    "evaporation_rate_pan": (2, lambda row: SURFACE_RATES_kg_per_m2_h[SURFACES[row["how"]]]),
    "yield_from_solids": (
        1,
        lambda row: finished_kg(number(row, "solids_kg"), percent(row, "target_solids_percent")),
    ),
}


def read(table: str) -> list[Row]:
    with (FOLDER / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CASES = [
    pytest.param(table, row, id=f"{table} line {line}: {row['source'][:60]}")
    for table in TABLES
    for line, row in enumerate(read(table), start=2)
]


@pytest.mark.parametrize(("table", "row"), CASES)
def test_a_printed_row(table: str, row: Row) -> None:
    tolerance = float(row["tolerance"] or 0.0)  # limits have none: they are quoted, not calculated
    assert row["source"]
    assert TABLES[table][1](row) == pytest.approx(float(row["value"]), abs=tolerance, rel=0.0)


def test_no_printed_row_is_left_out() -> None:
    assert {table: len(read(table)) for table in TABLES} == {table: rows for table, (rows, _) in TABLES.items()}
    assert len(CASES) == sum(rows for rows, _ in TABLES.values()) == 166


@pytest.mark.parametrize("row", read("refractive_index_sucrose"), ids=lambda row: f"{row['sucrose_percent']} Brix")
def test_the_index_table_read_the_other_way(row: Row) -> None:
    """CRC Handbook: 0.035 Brix is what rounding to four decimals (half of 0.0001 over 0.00143 per Brix) can hide."""
    assert 100.0 * brix_fraction_from_index(number(row, "value")) == pytest.approx(
        number(row, "sucrose_percent"), abs=0.035
    )


def test_growth_limits_hold_nothing_that_is_not_in_print() -> None:
    assert set(LEAST_ACTIVITY_FOR_GROWTH) == {row["organism"] for row in read("limits_water_activity")}
