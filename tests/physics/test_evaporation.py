"""Heat, fuel and time of boiling down."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from optimizer.errors import OutOfRange
from optimizer.physics.evaporation import (
    HEAT,
    SURFACE_RATES_kg_per_m2_h,
    boil_minutes,
    cook_heat_kJ,
    finished_kg,
    fuel_amount,
    heat_capacity_kJ_per_kg_K,
    solids_heat_capacity_kJ_per_kg_K,
)
from optimizer.physics.water import latent_heat_kJ_per_kg

# Practical Action KnO 100247, recipe 1: 20.1 kg charged with 11.115 kg solids, 16.35 kg finished at 68 %.
# Heat, fuel and time of it were worked out apart from this program; they are not printed.
RECIPE = {
    "charged_kg": 20.115,
    "solids_fraction": 11.115 / 20.115,
    "start_C": 25.0,
    "boil_C": 105.0,
    "evaporated_kg": 20.115 - 11.115 / 0.68,
    "water_boil_C": 100.0,
}


def test_recipe_against_a_separate_calculation() -> None:
    heat_kJ = cook_heat_kJ(**RECIPE)
    assert RECIPE["evaporated_kg"] == pytest.approx(3.77, abs=0.005)
    assert heat_kJ / 1000.0 == pytest.approx(13.4, abs=0.05)
    assert fuel_amount(heat_kJ, "lpg") == pytest.approx(0.58, abs=0.005)
    assert fuel_amount(heat_kJ, "wood") == pytest.approx(5.7, abs=0.05)
    assert heat_kJ / (5.0 * 0.5 * 60.0) == pytest.approx(89.0, abs=0.6)  # 5 kW ring, half of it into the pan


def test_charge_heated_by_hand() -> None:
    """cp of 55 % solids at 60 degC: 4.184 - 2.971·0.55 + 0.46·0.55 + 0.0075·0.55·60 = 3.05045; times 10 kg, 80 K."""
    heat_kJ = cook_heat_kJ(
        charged_kg=10.0, solids_fraction=0.55, start_C=20.0, boil_C=100.0, evaporated_kg=0.0, water_boil_C=100.0
    )
    assert heat_kJ == pytest.approx(2440.36, abs=0.01)


def test_heating_the_charge_is_about_as_much_as_boiling_off_a_tenth() -> None:
    heating = cook_heat_kJ(**RECIPE | {"evaporated_kg": 0.0})
    assert heating / (0.1 * RECIPE["charged_kg"] * latent_heat_kJ_per_kg(100.0)) == pytest.approx(1.0, abs=0.15)


@given(st.floats(0.0, 0.85), st.floats(0.0, 60.0), st.floats(60.0, 120.0))
def test_mean_temperature_integrates_the_specific_heat(solids: float, start_C: float, boil_C: float) -> None:
    exact, _ = quad(lambda t: heat_capacity_kJ_per_kg_K(solids, temperature_C=t), start_C, boil_C)
    heat_kJ = cook_heat_kJ(
        charged_kg=1.0, solids_fraction=solids, start_C=start_C, boil_C=boil_C, evaporated_kg=0.0, water_boil_C=100.0
    )
    assert heat_kJ == pytest.approx(exact, rel=1e-9)


@given(st.floats(0.0, 0.84))
def test_water_holds_most_heat(solids: float) -> None:
    """Water has 4.18 kJ/(kg K); sugar takes heat capacity away."""
    assert heat_capacity_kJ_per_kg_K(0.0) == pytest.approx(4.184)
    assert heat_capacity_kJ_per_kg_K(solids + 0.01) < heat_capacity_kJ_per_kg_K(solids)
    assert heat_capacity_kJ_per_kg_K(0.65) == pytest.approx(2.84, abs=0.005)


@given(st.floats(0.0, 0.85), st.floats(0.0, 1.0), st.floats(0.0, 125.0))
def test_specific_heat_is_the_printed_formula_and_adds_up(solids: float, purity: float, temperature_C: float) -> None:
    """4.184 - 2.971 B + 0.46 B q + 0.0075 B t, also as water and solids apart."""
    printed = 4.184 - 2.971 * solids + 0.46 * solids * purity + 0.0075 * solids * temperature_C
    assert heat_capacity_kJ_per_kg_K(solids, purity, temperature_C) == pytest.approx(printed, rel=1e-12)
    apart = 4.184 * (1.0 - solids) + solids * solids_heat_capacity_kJ_per_kg_K(temperature_C, purity)
    assert apart == pytest.approx(printed, rel=1e-12)


@given(st.floats(0.1, 100.0), st.floats(0.0, 1.0), st.floats(0.1, 10.0))
def test_heat_is_linear_in_the_masses(charged_kg: float, share: float, factor: float) -> None:
    one = cook_heat_kJ(**RECIPE | {"charged_kg": charged_kg, "evaporated_kg": charged_kg * share})
    more = cook_heat_kJ(**RECIPE | {"charged_kg": factor * charged_kg, "evaporated_kg": factor * charged_kg * share})
    assert more == pytest.approx(factor * one, rel=1e-12)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"evaporated_kg": 21.0}, "evaporated_kg=21.0 is above charged_kg"),
        ({"start_C": 106.0}, "start_C=106.0 is above boil_C"),
        ({"charged_kg": -1.0}, "charged_kg=-1"),
        ({"solids_fraction": 55.0}, "solids_fraction=55"),
        ({"water_boil_C": 50.0}, "temperature_C=50"),
        ({"boil_C": 125.1}, "boil_C=125.1"),
        ({"solids_fraction": 0.851}, "=0.851"),
    ],
)
def test_impossible_cooks_are_refused(change: dict[str, float], word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        cook_heat_kJ(**RECIPE | change)


def test_every_fuel_has_a_source_and_gives_back_its_heat() -> None:
    for name, fuel in HEAT.items():
        assert fuel.source
        assert fuel_amount(fuel.heating_value_kJ * fuel.efficiency, name) == pytest.approx(1.0)
        assert fuel_amount(fuel.heating_value_kJ, name, efficiency=1.0) == pytest.approx(1.0)
    assert fuel_amount(3600.0, "electricity", 1.0) == 1.0  # one kilowatt-hour by definition


@pytest.mark.parametrize(
    ("heat_kJ", "fuel", "efficiency", "word"),
    [
        (1.0, "coal", None, "coal.*lpg"),
        (-1.0, "lpg", None, "heat_kJ"),
        (1.0, "lpg", 0.0, "efficiency"),
        (1.0, "lpg", 1.01, "efficiency"),
    ],
)
def test_unknown_fuels_and_shares_are_refused(heat_kJ: float, fuel: str, efficiency: float | None, word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        fuel_amount(heat_kJ, fuel, efficiency)


@given(st.floats(0.1, 100.0), st.floats(0.5, 200.0), st.floats(0.05, 2.0))
def test_time_is_the_longer_of_power_and_surface(evaporated_kg: float, power_kW: float, surface_m2: float) -> None:
    rate = SURFACE_RATES_kg_per_m2_h["flat pan over a fire"]
    by_power = boil_minutes(evaporated_kg, power_kW, 100.0)
    assert by_power * 60.0 * power_kW == pytest.approx(evaporated_kg * latent_heat_kJ_per_kg(100.0))
    both = boil_minutes(evaporated_kg, power_kW, 100.0, surface_m2)
    assert both >= by_power
    assert both * surface_m2 * rate / 60.0 >= evaporated_kg * (1.0 - 1e-12)
    assert both == pytest.approx(by_power) or both == pytest.approx(60.0 * evaporated_kg / (surface_m2 * rate))


@pytest.mark.parametrize(
    "arguments", [(-1.0, 5.0, 100.0), (1.0, 0.0, 100.0), (1.0, 5.0, 100.0, 0.0), (1.0, 5.0, 100.0, 0.5, 0.0)]
)
def test_pans_without_heat_or_surface_are_refused(arguments: tuple[float, ...]) -> None:
    with pytest.raises(OutOfRange):
        boil_minutes(*arguments)


@given(st.floats(0.01, 1000.0), st.floats(0.01, 1.0))
def test_solids_stay_in_the_pan(solids_kg: float, content: float) -> None:
    assert finished_kg(solids_kg, content) * content == pytest.approx(solids_kg)


def test_no_yield_without_a_content() -> None:
    with pytest.raises(OutOfRange, match="solids_fraction=68"):
        finished_kg(11.0, 68.0)
    with pytest.raises(OutOfRange):
        finished_kg(11.0, 0.0)


def test_arrays_broadcast_and_give_what_floats_give() -> None:
    charged, start = np.array([10.0, 20.0]), np.array([[5.0], [25.0]])
    arrays = RECIPE | {"charged_kg": charged, "evaporated_kg": 0.2 * charged, "start_C": start}
    heat_kJ = cook_heat_kJ(**arrays)
    fuel, minutes = fuel_amount(heat_kJ, "wood"), boil_minutes(charged, 5.0, 97.0, surface_m2=np.array([[0.1], [0.3]]))
    assert heat_kJ.shape == fuel.shape == minutes.shape == (2, 2)
    for (row, column), value in np.ndenumerate(heat_kJ):
        kg = float(charged[column])
        single = cook_heat_kJ(**RECIPE | {"charged_kg": kg, "evaporated_kg": 0.2 * kg, "start_C": float(start[row, 0])})
        assert type(single) is float
        assert value == pytest.approx(single, rel=1e-14)
        time = boil_minutes(kg, 5.0, 97.0, surface_m2=(0.1, 0.3)[row])
        assert type(time) is float
        assert minutes[row, column] == pytest.approx(time, rel=1e-14)
    assert finished_kg(charged, 0.5) == pytest.approx(2.0 * charged)
