"""The cook: which pan, how many loads, how long, at what temperature, with how much fuel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Form
from optimizer.inputs.models import Pan
from optimizer.physics.air import air_pressure_kPa
from optimizer.physics.evaporation import (
    HEAT,
    WATER_HEAT_CAPACITY_kJ_per_kg_K,
    boil_minutes,
    fuel_amount,
    solids_heat_capacity_kJ_per_kg_K,
)
from optimizer.physics.water import boiling_point_of_water_C, latent_heat_kJ_per_kg

_FUEL_NAMES = {"lpg": "LPG"}


@dataclass(frozen=True, kw_only=True)
class CookPlan:
    """Minutes after the sugar, per load."""

    pan: Pan | None
    loads: int
    minutes: float
    is_capped: bool  # a longer boil was cut to the longest sensible one: split the pan
    raw_minutes: float


def pressure_kPa(case: Case) -> float:
    """Standard air pressure at the site."""
    return float(air_pressure_kPa(case.site.altitude_m))


def water_boils_C(case: Case) -> float:
    """Boiling point of water at the site."""
    return _water_boils_C(case.site.altitude_m)


@lru_cache(maxsize=64)  # asked for in every round
def _water_boils_C(altitude_m: float) -> float:
    return float(boiling_point_of_water_C(float(air_pressure_kPa(altitude_m))))


def choose_pan(case: Case, charge_kg: float) -> tuple[Pan | None, int]:
    """The first pan that holds the charge at 60 % of its volume; else equal loads of the largest."""
    fill = case.book.setting("pan_fill_fraction") * case.book.setting("charge_density_kg_per_L")
    for pan in case.site.pans:
        if charge_kg <= pan.capacity_L * fill:
            return pan, 1
    if not case.site.pans:
        return None, 1
    largest = max(case.site.pans, key=lambda pan: pan.capacity_L)
    return largest, math.ceil(charge_kg / (largest.capacity_L * fill) - 1e-9)


def plan_cook(case: Case, *, charge_kg: float, boil_off_kg: float) -> CookPlan:
    """Minutes = latent heat of the boil-off / net power of the pan, within what a good boil allows.

    Without a pan in `site.toml` a usual boil is assumed. Cold products are not cooked.
    """
    if not case.product.is_cooked:
        return CookPlan(pan=None, loads=1, minutes=0.0, is_capped=False, raw_minutes=0.0)
    pan, loads = choose_pan(case, charge_kg)
    least = max(case.book.setting("least_cook_min"), case.product.least_cook_min)
    most = case.book.setting("most_cook_min")
    if pan is None:
        raw = case.book.setting("cook_without_pan_min")
    else:
        raw = float(boil_minutes(boil_off_kg / loads, pan.power_kW, water_boils_C(case)))
    minutes = min(max(raw, least), most)
    return CookPlan(pan=pan, loads=loads, minutes=minutes, is_capped=raw > most + 1e-9, raw_minutes=raw)


def heat_form(case: Case) -> Form:
    """Heat into the charge and the steam [kJ], linear in kg: Σ use · cp · (t_boil - t_start) + boil_off · L.

    cp is that of water and solids apart, at the mean temperature of the heating up.
    """
    if not case.product.is_cooked:
        return case.form(np.zeros(len(case.streams)))
    start = case.book.setting("start_temperature_C")
    rise = case.assumed.boil_C - start
    less = WATER_HEAT_CAPACITY_kJ_per_kg_K - float(
        solids_heat_capacity_kJ_per_kg_K(0.5 * (start + case.assumed.boil_C))
    )
    solids = case.column("solids_fraction")
    return case.form(
        (WATER_HEAT_CAPACITY_kJ_per_kg_K - less * solids) * rise,
        water=WATER_HEAT_CAPACITY_kJ_per_kg_K * rise,
        boil_off=float(latent_heat_kJ_per_kg(water_boils_C(case))),
    )


def fuel_pan(case: Case) -> Pan | None:
    """The pan whose fuel is counted: that of a charge a little over the batch, known before the solve."""
    return choose_pan(case, case.request.batch_kg * (1.0 + (case.product.boil_off.least or 0.0)))[0]


def money_per_kJ(case: Case) -> float:
    """What one kJ in the pan costs in fuel; 0 where no pan is given."""
    pan = fuel_pan(case)
    if pan is None:
        return 0.0
    return pan.fuel_price * float(fuel_amount(1.0, pan.fuel, pan.efficiency))


def fuel_used(case: Case, heat_kJ: float) -> tuple[float, str] | None:
    """Amount and unit of the fuel of the pan that the batch goes into."""
    pan = fuel_pan(case)
    if pan is None or heat_kJ <= 0.0:
        return None
    unit = HEAT[pan.fuel].unit
    named = unit if unit == "kWh" else f"{unit} {_FUEL_NAMES.get(pan.fuel, pan.fuel)}"
    return float(fuel_amount(heat_kJ, pan.fuel, pan.efficiency)), named
