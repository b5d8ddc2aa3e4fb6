"""Boiling point of what is in the pan, and the end point that a thermometer can show."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.activity import MOST_SOLIDS_FRACTION, log_activity, require_solution
from optimizer.physics.air import SEA_LEVEL_PRESSURE_kPa
from optimizer.physics.water import (
    ZERO_CELSIUS_K,
    CRITICAL_PRESSURE_kPa,
    boiling_point_of_water_C,
    log_reduced_pressure,
)

LEAST_PRESSURE_kPa, MOST_PRESSURE_kPa = 40.0, 105.0


def boiling_point_C(
    *,
    water_kg: FloatOrArray,
    sucrose_kg: FloatOrArray = 0.0,
    invert_kg: FloatOrArray = 0.0,
    disaccharide_kg: FloatOrArray = 0.0,
    citric_kg: FloatOrArray = 0.0,
    pressure_kPa: FloatOrArray = SEA_LEVEL_PRESSURE_kPa,
) -> Any:
    """Temperature at which the pan boils: p_sat(T) · aw(T) = p.

    Within 0.2 degC for syrups below 65 % solids, 0.5 degC for jam of known invert sugar. Printed figures reach 75 %
    solids (`activity.CHECKED_SOLIDS_FRACTION`): above it the caller should warn.

    Parameters
    ----------
    water_kg : float or array
        Water [kg].
    sucrose_kg, invert_kg, disaccharide_kg, citric_kg : float or array
        Sucrose; glucose and fructose; other disaccharides and solids of glucose syrup (fair from 42 to 60 DE, too
        strong below 35 DE); all acids as anhydrous citric [kg]. Solids up to 85 %.
    pressure_kPa : float or array
        Air pressure [kPa], from 40 to 105.

    Returns
    -------
    float or array
        Boiling point [degC].

    Raises
    ------
    OutOfRange
        There is no water, the solids are above 85 %, or the pressure is outside.

    References
    ----------
    .. [1] Vapour pressure of water (`water`) and water activity (`activity`) at the boil.

    Examples
    --------
    >>> round(boiling_point_C(water_kg=35.0, sucrose_kg=65.0), 1)
    103.8
    """
    require_range("pressure_kPa", pressure_kPa, LEAST_PRESSURE_kPa, MOST_PRESSURE_kPa, "kPa")
    solutes = {
        "sucrose_kg": sucrose_kg,
        "invert_kg": invert_kg,
        "disaccharide_kg": disaccharide_kg,
        "citric_kg": citric_kg,
    }
    require_solution(water_kg, solutes)
    wanted = np.log(pressure_kPa / CRITICAL_PRESSURE_kPa)
    T = boiling_point_of_water_C(pressure_kPa) + ZERO_CELSIUS_K
    for _ in range(8):  # the activity hardly depends on temperature: each step gains two digits or more
        pressure, slope = log_reduced_pressure(T)
        T = T - (pressure + log_activity(water_kg, *solutes.values(), temperature_K=T) - wanted) / slope
    return same_kind(T - ZERO_CELSIUS_K)


def end_point_C(
    solids_fraction: FloatOrArray,
    *,
    invert_share_fraction: FloatOrArray,
    acid_share_fraction: FloatOrArray = 0.012,
    pressure_kPa: FloatOrArray = SEA_LEVEL_PRESSURE_kPa,
) -> Any:
    """Boiling temperature at which a jam has reached its solids.

    An aid: not knowing the invert sugar (20 to 50 % of the sugars) moves the answer by as much as 1.5 Brix. The
    refractometer decides.

    Parameters
    ----------
    solids_fraction : float or array
        Soluble solids wanted, true (not as read) [-], from 0 to 0.85.
    invert_share_fraction : float or array
        Glucose and fructose as share of the sugars [-], from 0 to 1.
    acid_share_fraction : float or array
        Acids, as anhydrous citric, as share of the solids [-], from 0 to 0.2.
    pressure_kPa : float or array
        Air pressure [kPa], from 40 to 105.

    Returns
    -------
    float or array
        End point [degC].

    Raises
    ------
    OutOfRange
        An input lies outside its range.

    References
    ----------
    .. [1] `boiling_point_C`.

    Examples
    --------
    >>> round(end_point_C(0.68, invert_share_fraction=0.35), 1)
    105.4
    """
    require_range("solids_fraction", solids_fraction, 0.0, MOST_SOLIDS_FRACTION)
    sucrose, invert, acid = _shares(invert_share_fraction, acid_share_fraction)
    return boiling_point_C(
        water_kg=1.0 - solids_fraction,
        sucrose_kg=solids_fraction * sucrose,
        invert_kg=solids_fraction * invert,
        citric_kg=solids_fraction * acid,
        pressure_kPa=pressure_kPa,
    )


def solids_at_end_point(
    temperature_C: FloatOrArray,
    *,
    invert_share_fraction: FloatOrArray,
    acid_share_fraction: FloatOrArray = 0.012,
    pressure_kPa: FloatOrArray = SEA_LEVEL_PRESSURE_kPa,
) -> Any:
    """True soluble solids of a jam that boils at a temperature: the inverse of `end_point_C`.

    Parameters
    ----------
    temperature_C : float or array
        What the thermometer in the boiling pan shows [degC], from the boiling point of water at that pressure to the
        boiling point at 85 % solids.
    invert_share_fraction : float or array
        Glucose and fructose as share of the sugars [-], from 0 to 1.
    acid_share_fraction : float or array
        Acids, as anhydrous citric, as share of the solids [-], from 0 to 0.2.
    pressure_kPa : float or array
        Air pressure [kPa], from 40 to 105.

    Returns
    -------
    float or array
        Soluble solids [-]. At 65 % one Brix is 0.23 degC, at 68 % 0.28 degC.

    Raises
    ------
    OutOfRange
        An input lies outside its range, or no solids up to 85 % boil at that temperature.

    References
    ----------
    .. [1] `boiling_point_C`, solved for the solids by bisection.

    Examples
    --------
    >>> round(solids_at_end_point(105.0, invert_share_fraction=0.35), 3)
    0.666
    """
    require_range("temperature_C", temperature_C, 70.0, 130.0, "degC")
    require_range("pressure_kPa", pressure_kPa, LEAST_PRESSURE_kPa, MOST_PRESSURE_kPa, "kPa")
    sucrose, invert, acid = _shares(invert_share_fraction, acid_share_fraction)
    T = temperature_C + ZERO_CELSIUS_K
    # The boil fixes the activity: ln aw = ln p - ln p_sat(T). No boiling point has to be solved on the way.
    wanted = np.log(pressure_kPa / CRITICAL_PRESSURE_kPa) - log_reduced_pressure(T)[0]

    def log_activity_at(solids: Any) -> Any:
        return log_activity(1.0 - solids, solids * sucrose, solids * invert, 0.0, solids * acid, temperature_K=T)

    low, high = 0.0 * (wanted + sucrose), 0.0 * (wanted + sucrose) + MOST_SOLIDS_FRACTION
    too_cold, too_hot = wanted > 1e-9, log_activity_at(high) > wanted + 1e-9
    if np.any(too_cold) or np.any(too_hot):
        outside = float(np.broadcast_to(temperature_C, np.shape(too_cold | too_hot))[too_cold | too_hot].flat[0])
        raise OutOfRange(
            f"temperature_C={outside:g}: at this air pressure no jam of 0 to {MOST_SOLIDS_FRACTION:.0%} solids boils "
            "there; check the thermometer in boiling water and the altitude"
        )
    for _ in range(50):
        middle = 0.5 * (low + high)
        too_thin = log_activity_at(middle) > wanted
        low, high = np.where(too_thin, middle, low), np.where(too_thin, high, middle)
    return same_kind(0.5 * (low + high))


def _shares(invert_share: FloatOrArray, acid_share: FloatOrArray) -> tuple[FloatOrArray, FloatOrArray, FloatOrArray]:
    """Sucrose, invert and acid as shares of the solids."""
    require_range("invert_share_fraction", invert_share, 0.0, 1.0)
    require_range("acid_share_fraction", acid_share, 0.0, 0.2)
    sugars = 1.0 - acid_share
    return sugars * (1.0 - invert_share), sugars * invert_share, acid_share
