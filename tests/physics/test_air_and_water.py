"""Air pressure and plain water: ranges, second methods, floats against arrays."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimizer.errors import OutOfRange
from optimizer.physics.air import air_pressure_kPa
from optimizer.physics.water import (
    boiling_point_of_water_C,
    latent_heat_kJ_per_kg,
    log_reduced_pressure,
    saturation_pressure_kPa,
)

altitudes = st.floats(-500.0, 11000.0)
pressures = st.floats(1.0, 1500.0)


@given(altitudes, st.floats(1.0, 500.0))
def test_pressure_falls_with_altitude(altitude_m: float, step_m: float) -> None:
    if altitude_m + step_m <= 11000.0:
        assert air_pressure_kPa(altitude_m + step_m) < air_pressure_kPa(altitude_m)


@given(altitudes.filter(lambda h: h < 10990.0))
def test_pressure_carries_the_air_above_it(altitude_m: float) -> None:
    """Hydrostatics, a second way to the formula: dp/dh = -g p M / (R T), with T falling 6.5 K per km."""
    step_m = 10.0
    slope = (air_pressure_kPa(altitude_m + step_m) - air_pressure_kPa(altitude_m)) / step_m
    middle_m = altitude_m + step_m / 2.0
    air_K = 288.15 - 0.0065 * middle_m
    assert slope == pytest.approx(-9.80665 * air_pressure_kPa(middle_m) * 0.0289644 / (8.31432 * air_K), rel=1e-6)


@pytest.mark.parametrize("altitude_m", [-501.0, 11001.0, 44332.0, math.nan, math.inf])
def test_altitudes_outside_the_lowest_layer_are_refused(altitude_m: float) -> None:
    with pytest.raises(OutOfRange, match=r"altitude_m=.*-500 to 11000 m"):
        air_pressure_kPa(altitude_m)


@given(pressures)
def test_boiling_point_and_vapour_pressure_are_inverse(pressure_kPa: float) -> None:
    assert saturation_pressure_kPa(boiling_point_of_water_C(pressure_kPa)) == pytest.approx(pressure_kPa, rel=1e-10)


@given(pressures)
def test_boiling_point_by_a_second_solver(pressure_kPa: float) -> None:
    found = brentq(lambda t: saturation_pressure_kPa(t) - pressure_kPa, 0.01, 250.0, xtol=1e-10)
    assert boiling_point_of_water_C(pressure_kPa) == pytest.approx(found, abs=1e-8)


@given(st.floats(274.0, 640.0))
def test_slope_is_the_derivative(temperature_K: float) -> None:
    h = 1e-3
    numeric = (log_reduced_pressure(temperature_K + h)[0] - log_reduced_pressure(temperature_K - h)[0]) / (2.0 * h)
    assert log_reduced_pressure(temperature_K)[1] == pytest.approx(numeric, rel=1e-6)


def test_heat_of_evaporation_agrees_with_the_slope_of_vapour_pressure() -> None:
    """Clausius and Clapeyron at 100 degC: L = T (v_steam - v_water) dp/dT; volumes of the steam tables (memory)."""
    T, steam_m3, water_m3 = 373.15, 1.6718, 0.0010435
    slope = saturation_pressure_kPa(100.0) * log_reduced_pressure(T)[1]
    assert T * (steam_m3 - water_m3) * slope == pytest.approx(latent_heat_kJ_per_kg(100.0), rel=5e-4)


@given(st.floats(60.0, 119.0))
def test_heat_of_evaporation_falls_with_temperature(temperature_C: float) -> None:
    assert latent_heat_kJ_per_kg(temperature_C + 1.0) < latent_heat_kJ_per_kg(temperature_C)


def test_weather_of_3_kPa_moves_the_boil_by_some_eight_tenths_of_a_degree() -> None:
    assert boiling_point_of_water_C(101.325) - boiling_point_of_water_C(98.325) == pytest.approx(0.84, abs=0.01)


@pytest.mark.parametrize(
    ("function", "low", "high"),
    [
        (air_pressure_kPa, -500.0, 11000.0),
        (saturation_pressure_kPa, 0.01, 373.0),
        (boiling_point_of_water_C, 1.0, 1500.0),
        (latent_heat_kJ_per_kg, 60.0, 120.0),
    ],
)
def test_arrays_give_what_floats_give_and_both_refuse_alike(function, low, high) -> None:
    values = np.linspace(low, high, 24).reshape(4, 6)
    of_array = function(values)
    assert of_array.shape == values.shape
    assert of_array == pytest.approx(np.vectorize(function)(values), rel=1e-12)
    assert type(function(low)) is float
    for outside in (low - 0.1, high + 0.1, math.nan):
        with pytest.raises(OutOfRange):
            function(outside)
        with pytest.raises(OutOfRange):
            function(np.array([low, outside, high]))
