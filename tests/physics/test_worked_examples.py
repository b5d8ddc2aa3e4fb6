"""Published worked examples that rest on boiling points, refractometer corrections and densities."""

import json
from pathlib import Path
from typing import Any

import pytest

from optimizer.physics.air import air_pressure_kPa
from optimizer.physics.boiling import end_point_C
from optimizer.physics.density import density_kg_per_m3
from optimizer.physics.evaporation import finished_kg
from optimizer.physics.refractometry import temperature_correction_fraction
from optimizer.physics.water import boiling_point_of_water_C

FOLDER = Path(__file__).resolve().parents[1] / "published" / "worked_examples"


def case(name: str) -> Any:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def inputs(name: str) -> dict[str, Any]:
    return {key: entry["value"] for key, entry in case(name)["inputs"].items()}


def check(name: str, answer: str, value: float) -> None:
    found = {entry["name"]: entry for entry in case(name)["answers"]}[answer]
    assert value == pytest.approx(found.get("expected", found["printed"]), abs=found["tolerance"], rel=0.0)


def to_F(temperature_C: float) -> float:
    return 32.0 + 1.8 * temperature_C


def pressure_at_feet(altitude_ft: float) -> float:
    return float(air_pressure_kPa(0.3048 * altitude_ft))


@pytest.mark.parametrize("altitude_ft", [1000, 4000])
def test_D15_boiling_point_of_water(altitude_ft: int) -> None:
    """USDA, Complete Guide to Home Canning: boiling point of water by altitude."""
    check("D15", f"water_boiling_{altitude_ft}", to_F(boiling_point_of_water_C(pressure_at_feet(altitude_ft))))


@pytest.mark.parametrize("altitude_ft", [0, 1000, 2000, 3000, 4000])
def test_D15_jelly_is_done_at_water_plus_the_printed_rise(altitude_ft: int) -> None:
    """Extension services: gelling point of jelly by altitude."""
    rise_F = inputs("D15")["rise"]
    check("D15", f"jelly_{altitude_ft}", to_F(boiling_point_of_water_C(pressure_at_feet(altitude_ft))) + rise_F)


@pytest.mark.parametrize("altitude_ft", [0, 1000, 2000, 3000, 4000])
def test_D15_jelly_of_65_percent_boils_at_the_printed_temperature(altitude_ft: int) -> None:
    """The same list from the composition: 65 % solids by the US jelly standard; 30 % invert sugar is our assumption."""
    boils = end_point_C(0.65, invert_share_fraction=0.30, pressure_kPa=pressure_at_feet(altitude_ft))
    check("D15", f"jelly_{altitude_ft}", to_F(boils))


@pytest.mark.parametrize("number", [1, 2, 3])
def test_D20_refractometer_away_from_20_degrees(number: int) -> None:
    """OIV-MA-AS2-02, table I."""
    reading, temperature_C = inputs("D20")[f"reading_{number}"]
    correction = temperature_correction_fraction(reading / 100.0, temperature_C)
    check("D20", f"correction_{number}", 100.0 * correction)


def test_D23_frozen_concentrate_with_three_cans_of_water() -> None:
    """D. Green, equivalents: volumes become masses with our own density."""
    given = inputs("D23")
    can_m3, brix = given["can"] * 1e-6, given["concentrate_brix"] / 100.0
    concentrate_kg = can_m3 * density_kg_per_m3(brix)
    assert density_kg_per_m3(brix) / 1000.0 == pytest.approx(given["concentrate_density"], abs=0.0005)
    water_kg = given["water_cans"] * can_m3 * density_kg_per_m3(0.0)
    check("D23", "volume", (1 + given["water_cans"]) * given["can"] / 1000.0)
    check("D23", "brix", 100.0 * concentrate_kg * brix / (concentrate_kg + water_kg))


def test_D12_ten_kilograms_of_squash_are_not_ten_litres() -> None:
    """The page takes litres for kilograms; the corrected volume is noted beside the case (8.1 L)."""
    (error,) = [entry for entry in case("D12")["printed_errors"] if entry["answer"] == "volume"]
    litres = 1000.0 * 10.0 / density_kg_per_m3(inputs("D12")["final_tss"] / 100.0)
    assert litres == pytest.approx(error["recomputed"], abs=0.05)


def test_D04_yield_of_a_jam_boiled_to_68_percent() -> None:
    """Practical Action KnO 100247, recipe 1."""
    given = inputs("D04")
    solids_kg = (
        given["fruit"] * given["fruit_tss"] / 100.0 + given["sugar"] + (given["pectin"] + given["citric_acid"]) / 1e3
    )
    check("D04", "total_soluble_solids", solids_kg)
    check("D04", "yield", finished_kg(solids_kg, given["target_brix"] / 100.0))
