"""Plain water: vapour pressure, boiling point, heat of evaporation."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.physics._check import FloatOrArray, require_range, same_kind

CRITICAL_TEMPERATURE_K, CRITICAL_PRESSURE_kPa = 647.096, 22064.0
ZERO_CELSIUS_K = 273.15
_TERMS = (  # coefficient and power of (1 - T/T_critical)
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def saturation_pressure_kPa(temperature_C: FloatOrArray) -> Any:
    """Vapour pressure of plain water: ln(p/p_c) = (T_c/T) Σ a_i q^n_i with q = 1 - T/T_c.

    Parameters
    ----------
    temperature_C : float or array
        Temperature [degC], from 0.01 (triple point) to 373 (just below the critical point).

    Returns
    -------
    float or array
        Vapour pressure [kPa], within 0.02 % of the printed values.

    Raises
    ------
    OutOfRange
        The temperature lies outside the range of the formula.

    References
    ----------
    .. [1] W. Wagner and A. Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783; IAPWS SR1-86 (coefficients from memory).

    Examples
    --------
    >>> round(saturation_pressure_kPa(99.974), 2)
    101.32
    """
    require_range("temperature_C", temperature_C, 0.01, 373.0, "degC")
    return same_kind(CRITICAL_PRESSURE_kPa * np.exp(log_reduced_pressure(temperature_C + ZERO_CELSIUS_K)[0]))


def log_reduced_pressure(temperature_K: FloatOrArray) -> tuple[Any, Any]:
    """Logarithm of vapour pressure over critical pressure, and its slope; what boiling points are solved with.

    Parameters
    ----------
    temperature_K : float or array
        Temperature [K]; not checked, callers stay between the triple and the critical point.

    Returns
    -------
    tuple of two floats or arrays
        ln(p/p_c) [-] and its derivative [1/K].

    References
    ----------
    .. [1] As `saturation_pressure_kPa`.

    Examples
    --------
    >>> value, slope = log_reduced_pressure(373.124)
    >>> round(value, 4), round(slope, 4)
    (-5.3834, 0.0357)
    """
    ratio = CRITICAL_TEMPERATURE_K / temperature_K
    q = 1.0 - temperature_K / CRITICAL_TEMPERATURE_K
    total = sum(a * q**n for a, n in _TERMS)
    slope = sum(a * n * q ** (n - 1.0) for a, n in _TERMS)
    return ratio * total, -(ratio * total + slope) / temperature_K


def boiling_point_of_water_C(pressure_kPa: FloatOrArray) -> Any:
    """Temperature at which plain water boils.

    Parameters
    ----------
    pressure_kPa : float or array
        Pressure above the pan [kPa], from 1 (vacuum pan) to 1500.

    Returns
    -------
    float or array
        Boiling point [degC].

    Raises
    ------
    OutOfRange
        The pressure lies outside the range solved for.

    References
    ----------
    .. [1] Inverse of `saturation_pressure_kPa`, by Newton's method on the logarithm of the pressure.

    Examples
    --------
    >>> round(boiling_point_of_water_C(101.325), 2), round(boiling_point_of_water_C(79.5), 2)
    (99.97, 93.32)
    """
    require_range("pressure_kPa", pressure_kPa, 1.0, 1500.0, "kPa")
    wanted = np.log(pressure_kPa / CRITICAL_PRESSURE_kPa)
    # ln p is nearly straight over 1/T: Clausius and Clapeyron give the start, 40.66 kJ/mol at the normal boiling point.
    T = 1.0 / (1.0 / 373.124 - 8.314462618 / 40660.0 * np.log(pressure_kPa / 101.325))
    for _ in range(5):  # the error squares each time: 10 K, 0.3 K, 1e-3 K, 1e-8 K, rounding
        value, slope = log_reduced_pressure(T)
        T = T - (value - wanted) / slope
    return same_kind(T - ZERO_CELSIUS_K)


def latent_heat_kJ_per_kg(temperature_C: FloatOrArray) -> Any:
    """Heat that one kilogram of water takes with it as steam.

    Parameters
    ----------
    temperature_C : float or array
        Boiling temperature of plain water at the pressure of the pan [degC], from 60 to 120.

    Returns
    -------
    float or array
        Heat of evaporation [kJ/kg], within 0.2 of the steam tables.

    Raises
    ------
    OutOfRange
        The temperature lies outside the fitted range.

    References
    ----------
    .. [1] Own quadratic fit to the steam tables of IAPWS-IF97.

    Examples
    --------
    >>> round(latent_heat_kJ_per_kg(100.0))
    2256
    """
    require_range("temperature_C", temperature_C, 60.0, 120.0, "degC")
    return same_kind(2491.73 - 2.06007 * temperature_C - 2.93287e-3 * temperature_C**2)
