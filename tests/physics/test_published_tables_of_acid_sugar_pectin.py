"""Every row of the printed tables on pH, inversion, solubility, pectin, preservatives, each to its own tolerance."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.physics.acidity import free_ph
from optimizer.physics.boiling import boiling_point_C
from optimizer.physics.crystals import sucrose_solubility_fraction
from optimizer.physics.inversion import inversion_rate_per_min
from optimizer.physics.pectin import SPIRIT_TEST, added_strength_per_kg, loss_in_cooking_fraction
from optimizer.physics.preservatives import undissociated_fraction
from optimizer.physics.saturation import invert_solubility_fraction

FOLDER = Path(__file__).resolve().parents[1] / "published" / "checks"
ACIDS = ("citric", "tartaric", "phosphoric", "phthalic")
HYDROCHLORIC_KG_PER_MOL = 0.036461
Row = dict[str, str]


def number(row: Row, column: str) -> float:
    return float(row[column])


def ph_of_buffer(row: Row) -> float:
    acids = {acid: number(row, f"{acid}_mol") for acid in ACIDS if number(row, f"{acid}_mol")}
    return float(free_ph(acid_mol=acids, strong_ion_mol_per_kg=number(row, "sid_eq")).ph)


def percent_inverted(row: Row) -> float:
    """Boil a syrup of the given solids in 200 steps: invert sugar raises the boiling point, which speeds inversion."""
    solids, acid = number(row, "solids_percent_assumed") / 100.0, number(row, "acid_percent_of_syrup") / 100.0
    water = 1.0 - solids
    if row["acid"] == "hydrochloric":
        ph = free_ph(acid_mol={}, strong_ion_mol_per_kg=-acid / HYDROCHLORIC_KG_PER_MOL / water).ph
    else:
        ph = free_ph(acid_mol={"tartaric": acid / 0.150087 / water}, strong_ion_mol_per_kg=0.0).ph
    left, steps = 1.0, 200
    for _ in range(steps):
        boils = boiling_point_C(water_kg=water, sucrose_kg=solids * left, invert_kg=solids * (1.0 - left))
        left *= 1.0 - inversion_rate_per_min(boils, ph, solids) * number(row, "minutes") / steps
    return 100.0 * (1.0 - left)


def pectin_strength(row: Row) -> float:
    """Sugar carried by one kg; or strength of all the pectin over the mass it is in."""
    strength = number(row, "pectin_kg") * float(added_strength_per_kg(number(row, "grade"), loss_fraction=0.0))
    if not row["other_kg"]:
        return strength
    other = number(row, "other_kg")
    return strength / (other + number(row, "pectin_kg") if "mass" in row["what"] else other)


def sugar_per_juice(row: Row) -> float:
    (found,) = [test for test in SPIRIT_TEST.values() if test.clot == row["clot"]]
    return found.sugar_per_juice


def percent_invert_dissolved(row: Row) -> float:
    glucose = number(row, "glucose_solubility_percent") / 100.0
    return 100.0 * float(invert_solubility_fraction(glucose, number(row, "temperature_C")))


# table -> (rows in print, what the program says for a row, in the unit of the row)
TABLES: dict[str, tuple[int, Callable[[Row], float]]] = {
    "ph_buffers": (17, ph_of_buffer),
    "inversion_boiling": (3, percent_inverted),
    "sucrose_solubility": (6, lambda row: 100.0 * sucrose_solubility_fraction(number(row, "temperature_C"))),
    "invert_sugar_solubility": (5, percent_invert_dissolved),
    "pectin_grade": (4, pectin_strength),
    "pectin_loss_boiling": (9, lambda row: loss_in_cooking_fraction(number(row, "minutes"))),
    "sugar_per_juice_alcohol_test": (3, sugar_per_juice),
    "preservative_undissociated": (3, lambda row: 100.0 * undissociated_fraction(row["acid"], number(row, "pH"))),
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
    assert row["source"]
    assert TABLES[table][1](row) == pytest.approx(number(row, "value"), abs=number(row, "tolerance") + 1e-12, rel=0.0)


def test_no_printed_row_is_left_out() -> None:
    assert {table: len(read(table)) for table in TABLES} == {table: rows for table, (rows, _) in TABLES.items()}
    assert len(CASES) == sum(rows for rows, _ in TABLES.values()) == 50


def test_the_standards_bureaus_buffers_are_met_within_a_hundredth() -> None:
    """Tighter than the table asks: the three primary standards are what the constants have to reproduce."""
    standards = [row for row in read("ph_buffers") if "NBS" in row["source"]]
    assert len(standards) == 3
    assert all(abs(ph_of_buffer(row) - number(row, "value")) < 0.01 for row in standards)
