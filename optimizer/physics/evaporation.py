"""Boiling down: how much is left, the heat it takes, the fuel and the minutes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.water import latent_heat_kJ_per_kg

WATER_HEAT_CAPACITY_kJ_per_kg_K = 4.184
_MOST_KG = 1e9


@dataclass(frozen=True, kw_only=True)
class Fuel:
    """What a unit of fuel gives (net: the steam in its smoke is lost), and the usual share that reaches the pan."""

    heating_value_kJ: float  # per unit
    unit: Literal["kg", "kWh"]
    efficiency: float  # share of the heat that reaches the pan
    source: str


HEAT: Mapping[str, Fuel] = MappingProxyType(
    {
        "lpg": Fuel(
            heating_value_kJ=46000.0,
            unit="kg",
            efficiency=0.50,
            source="heating value from memory; 0.58 measured at best on stove heads",
        ),
        "wood": Fuel(
            heating_value_kJ=15600.0,
            unit="kg",
            efficiency=0.15,
            source="dry wood, IPCC default; open fire (0.25 in a built stove): both from memory",
        ),
        "natural gas": Fuel(
            heating_value_kJ=48000.0,
            unit="kg",
            efficiency=0.50,
            source="IPCC default (attribution from memory); efficiency taken as for LPG (judgement)",
        ),
        "electricity": Fuel(
            heating_value_kJ=3600.0,
            unit="kWh",
            efficiency=0.80,
            source="definition of the kilowatt-hour; efficiency of an immersed element from memory",
        ),
    }
)

_KG_PER_M2_PER_US_GALLON_PER_FT2 = 3.785411784 / 0.3048**2  # at 1 kg per litre
# Rule of thumb of maple growers, 1 and 1.5 US gallons per square foot and hour (mapletrader.com 2014).
SURFACE_RATES_kg_per_m2_h: Mapping[str, float] = MappingProxyType(
    {
        "flat pan over a fire": 1.0 * _KG_PER_M2_PER_US_GALLON_PER_FT2,
        "flat pan with blower and preheated feed": 1.5 * _KG_PER_M2_PER_US_GALLON_PER_FT2,
    }
)


def finished_kg(solids_kg: FloatOrArray, solids_fraction: FloatOrArray) -> Any:
    """Mass left when soluble solids have been boiled down to a content.

    Parameters
    ----------
    solids_kg : float or array
        Soluble solids in the pan [kg].
    solids_fraction : float or array
        Content to boil to [-], from 0.01 to 1.

    Returns
    -------
    float or array
        Finished mass [kg]; where it exceeds what is in the pan, water has to be added instead.

    Raises
    ------
    OutOfRange
        The mass is negative or the content is outside.

    References
    ----------
    .. [1] Mass balance of the solids, which stay in the pan.

    Examples
    --------
    >>> round(finished_kg(11.115, 0.68), 2)
    16.35
    """
    require_range("solids_kg", solids_kg, 0.0, _MOST_KG, "kg")
    require_range("solids_fraction", solids_fraction, 0.01, 1.0)
    return same_kind(solids_kg / solids_fraction)


def solids_heat_capacity_kJ_per_kg_K(temperature_C: FloatOrArray = 60.0, purity_fraction: FloatOrArray = 1.0) -> Any:
    """What a kilogram of dissolved solids adds to the heat capacity: 1.213 + 0.46 q + 0.0075 t.

    A charge holds water · 4.184 + solids · this: linear in the masses, as rows and costs of a linear program need it.

    Parameters
    ----------
    temperature_C : float or array
        Temperature t [degC], from 0 to 125; over a range, its middle.
    purity_fraction : float or array
        Sugar as share of the solids q [-], from 0 to 1.

    Returns
    -------
    float or array
        Specific heat of the solids [kJ/(kg K)].

    Raises
    ------
    OutOfRange
        An input lies outside its range.

    References
    ----------
    .. [1] As `heat_capacity_kJ_per_kg_K`, taken apart into water and solids.

    Examples
    --------
    >>> round(solids_heat_capacity_kJ_per_kg_K(60.0), 3)
    2.123
    """
    require_range("temperature_C", temperature_C, 0.0, 125.0, "degC")
    require_range("purity_fraction", purity_fraction, 0.0, 1.0)
    return same_kind(WATER_HEAT_CAPACITY_kJ_per_kg_K - 2.971 + 0.46 * purity_fraction + 0.0075 * temperature_C)


def heat_capacity_kJ_per_kg_K(
    solids_fraction: FloatOrArray, purity_fraction: FloatOrArray = 1.0, temperature_C: FloatOrArray = 60.0
) -> Any:
    """Specific heat of a sugar solution: cp = 4.184 - 2.971 B + 0.46 B q + 0.0075 B t.

    Parameters
    ----------
    solids_fraction : float or array
        Dissolved solids B [-], from 0 to 0.85.
    purity_fraction : float or array
        Sugar as share of the solids q [-], from 0 to 1.
    temperature_C : float or array
        Temperature t [degC], from 0 to 125.

    Returns
    -------
    float or array
        Specific heat [kJ/(kg K)].

    Raises
    ------
    OutOfRange
        An input lies outside its range.

    References
    ----------
    .. [1] Formula of the sugar industry, as in Z. Bubnik et al., Sugar Technologists Manual, 1995 (attribution from
       memory).

    Examples
    --------
    >>> round(heat_capacity_kJ_per_kg_K(0.65), 2)
    2.84
    """
    require_range("solids_fraction", solids_fraction, 0.0, 0.85)
    solids = solids_heat_capacity_kJ_per_kg_K(temperature_C, purity_fraction)
    return same_kind(WATER_HEAT_CAPACITY_kJ_per_kg_K * (1.0 - solids_fraction) + solids * solids_fraction)


def cook_heat_kJ(
    *,
    charged_kg: FloatOrArray,
    solids_fraction: FloatOrArray,
    start_C: FloatOrArray,
    boil_C: FloatOrArray,
    evaporated_kg: FloatOrArray,
    water_boil_C: FloatOrArray,
) -> Any:
    """Heat to bring a charge to the boil and boil water off it: Q = m cp (t_boil - t_start) + E L.

    Parameters
    ----------
    charged_kg : float or array
        What goes into the pan [kg].
    solids_fraction : float or array
        Dissolved solids of the charge [-], from 0 to 0.85.
    start_C, boil_C : float or array
        Temperature of the charge at the start and at the end of the boil [degC].
    evaporated_kg : float or array
        Water boiled off [kg].
    water_boil_C : float or array
        Boiling point of plain water at the pressure of the pan [degC], from 60 to 120; it sets the heat of evaporation.

    Returns
    -------
    float or array
        Heat into the pan [kJ], linear in the two masses.

    Raises
    ------
    OutOfRange
        An input lies outside its range, more is boiled off than charged, or the boil is colder than the start.

    References
    ----------
    .. [1] Heat balance with `heat_capacity_kJ_per_kg_K` at the mean temperature and `latent_heat_kJ_per_kg`.

    Examples
    --------
    >>> heat_kJ = cook_heat_kJ(
    ...     charged_kg=20.1, solids_fraction=0.553, start_C=25.0, boil_C=105.0, evaporated_kg=3.77, water_boil_C=100.0
    ... )
    >>> round(heat_kJ / 1000.0, 1)  # [MJ]
    13.4
    """
    require_range("charged_kg", charged_kg, 0.0, _MOST_KG, "kg")
    require_range("evaporated_kg", evaporated_kg, 0.0, _MOST_KG, "kg")
    require_range("start_C", start_C, 0.0, 125.0, "degC")
    require_range("boil_C", boil_C, 0.0, 125.0, "degC")
    _require_order("evaporated_kg", evaporated_kg, "charged_kg", charged_kg)
    _require_order("start_C", start_C, "boil_C", boil_C)
    # The specific heat is straight over temperature: its value at the mean gives the exact integral.
    per_kg_K = heat_capacity_kJ_per_kg_K(solids_fraction, temperature_C=0.5 * (start_C + boil_C))
    return same_kind(charged_kg * per_kg_K * (boil_C - start_C) + evaporated_kg * latent_heat_kJ_per_kg(water_boil_C))


def fuel_amount(heat_kJ: FloatOrArray, fuel: str, efficiency: float | None = None) -> Any:
    """Fuel that brings a heat into the pan.

    Parameters
    ----------
    heat_kJ : float or array
        Heat into the pan [kJ].
    fuel : str
        A name of `HEAT`: "lpg", "wood", "natural gas" or "electricity".
    efficiency : float, optional
        Share of the fuel's heat that reaches the pan [-], from 0.01 to 1; by default that of `HEAT`. Built wood stove
        0.25, steam kettle 0.75 of the steam (both from memory), single-pan bagasse furnace 0.50 to 0.76.

    Returns
    -------
    float or array
        Fuel in the unit of `HEAT` [kg, or kWh of electricity].

    Raises
    ------
    OutOfRange
        The heat is negative, the fuel unknown or the efficiency outside.

    References
    ----------
    .. [1] Sources beside each fuel of `HEAT`.

    Examples
    --------
    >>> round(fuel_amount(13400.0, "lpg"), 2), HEAT["lpg"].unit
    (0.58, 'kg')
    """
    require_range("heat_kJ", heat_kJ, 0.0, 1e12, "kJ")
    if fuel not in HEAT:
        raise OutOfRange(f'fuel="{fuel}": no heating value is known; choose one of {", ".join(HEAT)}')
    share = HEAT[fuel].efficiency if efficiency is None else efficiency
    require_range("efficiency", share, 0.01, 1.0)
    return same_kind(heat_kJ / (share * HEAT[fuel].heating_value_kJ))


def boil_minutes(
    evaporated_kg: FloatOrArray,
    power_kW: FloatOrArray,
    water_boil_C: FloatOrArray,
    surface_m2: FloatOrArray | None = None,
    surface_rate_kg_per_m2_h: FloatOrArray = SURFACE_RATES_kg_per_m2_h["flat pan over a fire"],
) -> Any:
    """Minutes of boiling: what the power allows, and not faster than the surface of the pan allows.

    Parameters
    ----------
    evaporated_kg : float or array
        Water to boil off [kg].
    power_kW : float or array
        Heat that reaches the pan [kW], after losses.
    water_boil_C : float or array
        Boiling point of plain water at the pressure of the pan [degC], from 60 to 120.
    surface_m2 : float or array, optional
        Open surface of a flat pan over a fire [m²]; without it only the power counts.
    surface_rate_kg_per_m2_h : float or array
        Most that a square metre boils off in an hour [kg/(m² h)], see `SURFACE_RATES_kg_per_m2_h`; steam-jacketed
        pans are several times faster.

    Returns
    -------
    float or array
        Time [min]. More than 20 min after the sugar costs colour and pectin.

    Raises
    ------
    OutOfRange
        A mass is negative, or power, surface or rate are not above 0.

    References
    ----------
    .. [1] Heat balance with `latent_heat_kJ_per_kg`.
    .. [2] Surface rate: rule of thumb of maple growers (mapletrader.com 2014), practice rather than a measurement.

    Examples
    --------
    >>> round(boil_minutes(3.77, 2.5, 100.0))
    57
    >>> round(boil_minutes(20.0, 60.0, 100.0, surface_m2=0.5))
    59
    """
    require_range("evaporated_kg", evaporated_kg, 0.0, _MOST_KG, "kg")
    require_range("power_kW", power_kW, 1e-3, 1e6, "kW")
    minutes = evaporated_kg * latent_heat_kJ_per_kg(water_boil_C) / (60.0 * power_kW)
    if surface_m2 is not None:
        require_range("surface_m2", surface_m2, 1e-3, 1e4, "m²")
        require_range("surface_rate_kg_per_m2_h", surface_rate_kg_per_m2_h, 1.0, 1000.0, "kg/(m² h)")
        minutes = np.maximum(minutes, 60.0 * evaporated_kg / (surface_m2 * surface_rate_kg_per_m2_h))
    return same_kind(minutes)


def _require_order(less_name: str, less: FloatOrArray, more_name: str, more: FloatOrArray) -> None:
    if not np.all(np.asarray(less) <= np.asarray(more)):
        raise OutOfRange(f"{less_name}={less} is above {more_name}={more}: check the two")
