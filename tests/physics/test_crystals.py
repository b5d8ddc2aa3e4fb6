"""Crystals: the linear rows against the mixture model, and that against a second way to work it out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimizer.errors import OutOfRange
from optimizer.physics.crystals import (
    SUCROSE_ROW,
    glucose_row,
    glucose_saturation,
    sucrose_saturation,
    sucrose_solubility_kg_per_kg_water,
)
from optimizer.physics.saturation import sucrose_that_dissolves_kg_per_kg_water

MOLAR = {"water": 18.01528, "sucrose": 342.297, "glucose": 180.156, "fructose": 180.156, "acid": 192.124}
K = {"water": 0.0, "sucrose": 6.47, "glucose": 2.25, "fructose": 2.25, "acid": 6.17}  # Norrish constants, from memory


def log_product(kg: dict[str, float], of: tuple[str, ...], temperature_C: float) -> float:
    """Sum of ln(x γ) of the named substances, each with ln γ = -(b - mean b)²."""
    moles = {name: mass / MOLAR[name] for name, mass in kg.items()}
    total = sum(moles.values())
    b = {name: (K[name] * 298.15 / (temperature_C + 273.15)) ** 0.5 for name in kg}
    mean = sum(b[name] * n for name, n in moles.items()) / total
    return float(sum(np.log(moles[name] / total) - (b[name] - mean) ** 2 for name in of))


def most_sucrose(temperature_C: float, glucose: float, fructose: float, acid: float) -> float:
    alone = sucrose_solubility_kg_per_kg_water(temperature_C)
    level = log_product({"water": 1.0, "sucrose": alone}, ("sucrose",), temperature_C)

    def over(sucrose: float) -> float:
        kg = {"water": 1.0, "sucrose": sucrose, "glucose": glucose, "fructose": fructose, "acid": acid}
        return log_product(kg, ("sucrose",), temperature_C) - level

    return float(brentq(over, 1e-6, 1.01 * alone, xtol=1e-12))


@given(
    temperature_C=st.floats(0.0, 50.0),
    glucose=st.floats(0.0, 1.0),
    fructose=st.floats(0.0, 1.0),
    acid=st.floats(0, 0.2),
)
def test_the_mixture_model_by_a_second_way(temperature_C: float, glucose: float, fructose: float, acid: float) -> None:
    found = sucrose_that_dissolves_kg_per_kg_water(temperature_C, invert_kg=glucose + fructose, acid_kg=acid)
    assert found == pytest.approx(most_sucrose(temperature_C, glucose, fructose, acid), abs=1e-8)


@pytest.mark.parametrize(("invert", "sucrose"), [(0.0, 2.005), (0.4, 1.829), (0.8, 1.670), (1.2, 1.525)])
def test_sucrose_in_invert_syrup_at_20_degrees(invert: float, sucrose: float) -> None:
    """By a second program from the same form; no printed table was read."""
    assert sucrose_that_dissolves_kg_per_kg_water(20.0, invert_kg=invert) == pytest.approx(sucrose, abs=0.001)


# Vavrinecz 1962, worked out by a second program; the printed table itself is in tests/published/checks.
@pytest.mark.parametrize(("temperature_C", "kg"), [(5, 1.849), (10, 1.893), (15, 1.944), (20, 2.005), (25, 2.074)])
def test_solubility_per_kg_of_water(temperature_C: float, kg: float) -> None:
    assert sucrose_solubility_kg_per_kg_water(float(temperature_C)) == pytest.approx(kg, abs=6e-4)


def test_the_sucrose_row_is_safe_for_every_mixture_it_allows() -> None:
    """40000 mixtures on the bound of the row, with and without each solute: all of their sucrose dissolves."""
    rng = np.random.default_rng(1)
    n = 40000
    temperature_C = rng.uniform(0.0, 50.0, n)
    invert, other, acid = (rng.uniform(0.0, most, n) * rng.integers(0, 2, n) for most in (2.5, 1.0, 0.3))
    small = rng.uniform(0.0, 1.0, n) ** 4  # many close to pure sucrose, where row and curve touch
    invert, other, acid = invert * small, other * small, acid * small
    row = SUCROSE_ROW
    allowed = (
        sucrose_solubility_kg_per_kg_water(temperature_C)
        - row.invert * invert - row.disaccharide * other - row.acid * acid
    )  # fmt: skip
    sugary = allowed > 0.0
    assert sugary.sum() > 0.9 * n
    dissolves = sucrose_that_dissolves_kg_per_kg_water(
        temperature_C, invert_kg=invert, disaccharide_kg=other, acid_kg=acid
    )
    assert np.all(allowed[sugary] <= dissolves[sugary] + 1e-9)
    full = sucrose_saturation(
        water_kg=1.0, sucrose_kg=allowed[sugary], invert_kg=invert[sugary], disaccharide_kg=other[sugary],
        acid_kg=acid[sugary], temperature_C=temperature_C[sugary],
    )  # fmt: skip
    assert full == pytest.approx(np.ones(full.shape), rel=1e-9)


@given(temperature_C=st.floats(0.0, 50.0), solute=st.sampled_from(["invert", "disaccharide", "acid"]))
def test_no_tangent_is_steeper_than_the_row(temperature_C: float, solute: str) -> None:
    little = 1e-4
    loss = sucrose_solubility_kg_per_kg_water(temperature_C) - sucrose_that_dissolves_kg_per_kg_water(
        temperature_C, **{f"{solute}_kg": little}
    )
    assert loss / little <= getattr(SUCROSE_ROW, solute) + 1e-6


@given(invert=st.floats(0.0, 1.0), acid=st.floats(0.0, 0.05), temperature_C=st.floats(5.0, 30.0))
def test_the_sucrose_row_costs_little(invert: float, acid: float, temperature_C: float) -> None:
    """In jams of up to one kg of invert sugar per kg of water the row gives away under 5 % of the sucrose."""
    row = SUCROSE_ROW
    allowed = sucrose_solubility_kg_per_kg_water(temperature_C) - row.invert * invert - row.acid * acid
    dissolves = sucrose_that_dissolves_kg_per_kg_water(temperature_C, invert_kg=invert, acid_kg=acid)
    assert allowed >= 0.95 * dissolves


@pytest.mark.parametrize(("temperature_C", "dextrose"), [(10, 0.408), (15, 0.440), (20, 0.477), (25, 0.508)])
def test_the_glucose_row_is_the_tangent_it_says(temperature_C: float, dextrose: float) -> None:
    """Solubility of dextrose: Pancoast and Junk, Handbook of Sugars (from memory); a third of the others fructose."""
    names = ("glucose", "water")  # the solid is the monohydrate
    level = log_product({"water": 1.0, "glucose": dextrose / (1.0 - dextrose)}, names, temperature_C)

    def most_glucose(others: float) -> float:
        def over(glucose: float) -> float:
            kg = {"water": 1.0, "glucose": glucose, "sucrose": others * 2 / 3, "fructose": others / 3}
            return log_product(kg, names, temperature_C) - level

        return float(brentq(over, 1e-6, 5.0, xtol=1e-12))

    slope = -(most_glucose(1.51) - most_glucose(1.49)) / 0.02
    c2, k2 = glucose_row(float(temperature_C))
    assert k2 == pytest.approx(slope, abs=0.003)
    assert c2 == pytest.approx(most_glucose(1.5) + 1.5 * slope, abs=0.002)


def test_glucose_row_between_its_lines() -> None:
    c2, k2 = glucose_row(np.array([5.0, 7.5, 10.0]))
    assert c2 == pytest.approx([0.562, 0.600, 0.638])
    assert k2 == pytest.approx([0.052, 0.0535, 0.055])
    assert glucose_saturation(
        water_kg=10.0, glucose_kg=5.38, sucrose_kg=10.0, fructose_kg=8.1818, temperature_C=10.0
    ) == pytest.approx(1.0, abs=1e-4)  # 6.38 of c2, by hand


@pytest.mark.parametrize("temperature_C", [4.9, 25.1, float("nan")])
def test_glucose_is_not_extrapolated(temperature_C: float) -> None:
    with pytest.raises(OutOfRange, match="temperature_C"):
        glucose_row(temperature_C)


def test_refusals() -> None:
    with pytest.raises(OutOfRange, match="temperature_C=101"):
        sucrose_solubility_kg_per_kg_water(101.0)
    with pytest.raises(OutOfRange, match="temperature_C=60"):
        sucrose_saturation(water_kg=1.0, sucrose_kg=1.0, temperature_C=60.0)
    with pytest.raises(OutOfRange, match="water_kg=0"):
        sucrose_saturation(water_kg=0.0, sucrose_kg=1.0, temperature_C=10.0)
    with pytest.raises(OutOfRange, match="invert_kg=-1"):
        sucrose_saturation(water_kg=1.0, sucrose_kg=1.0, invert_kg=-1.0, temperature_C=10.0)
    with pytest.raises(OutOfRange, match="acid_kg=6"):
        sucrose_that_dissolves_kg_per_kg_water(10.0, acid_kg=6.0)
    with pytest.raises(OutOfRange, match="glucose_kg=-1"):
        glucose_saturation(water_kg=1.0, glucose_kg=-1.0, sucrose_kg=1.0, fructose_kg=0.0, temperature_C=10.0)
