"""Water activity of jams and syrups: what moulds and yeasts feel, and what lifts the boiling point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from optimizer.physics._check import FloatOrArray, require_range, same_kind

WATER_G_PER_MOL, DISACCHARIDE_G_PER_MOL, MONOSACCHARIDE_G_PER_MOL = 18.01528, 342.297, 180.156
CITRIC_G_PER_MOL, MALIC_G_PER_MOL, TARTARIC_G_PER_MOL = 192.124, 134.087, 150.087
MOST_SOLIDS_FRACTION = 0.85  # hard end of the model: nearer to dry sugar it turns round
CHECKED_SOLIDS_FRACTION = 0.75  # printed figures end here; above it the caller should warn

# Norrish constants at 25 degC [-]. Sucrose is not among them: its constant depends on concentration.
_MONOSACCHARIDE, _DISACCHARIDE, _CITRIC, _MALIC, _TARTARIC = 2.25, 4.54, 6.17, 1.82, 4.68
_MOST_KG = 1e9

LEAST_ACTIVITY_FOR_GROWTH: Mapping[str, float] = MappingProxyType(
    {
        # L. R. Beuchat, Cereal Foods World 26 (1981) 345, lower end of each printed range
        "most yeasts": 0.87,
        "most moulds": 0.80,
        "xerophilic moulds": 0.65,
        "osmophilic yeasts": 0.60,
        # M. A. Gock et al., Int. J. Food Microbiol. 81 (2003) 11, at 25 degC
        "Penicillium roqueforti": 0.82,
        "Eurotium repens": 0.74,
        # J. I. Pitt and J. H. B. Christian, 1968, moulds of prunes, at pH 3.8
        "Xeromyces bisporus": 0.605,
        # boundary of 21 CFR 114; both limits are needed
        "Clostridium botulinum (growth with pH > 4.6)": 0.85,
    }
)


@dataclass(frozen=True, kw_only=True)
class SoluteLimits:
    """Kilograms of each pure solute in one kilogram of water that bring the water activity to the wanted value."""

    sucrose: float
    invert: float
    disaccharide: float
    acid: float


def water_activity(
    *,
    water_kg: FloatOrArray,
    sucrose_kg: FloatOrArray = 0.0,
    invert_kg: FloatOrArray = 0.0,
    disaccharide_kg: FloatOrArray = 0.0,
    citric_kg: FloatOrArray = 0.0,
    malic_kg: FloatOrArray = 0.0,
    tartaric_kg: FloatOrArray = 0.0,
    temperature_C: FloatOrArray = 25.0,
) -> Any:
    """Water activity: ln aw = ln x_w - (Σ √K_i x_i)², x mole fractions.

    Accurate to 0.01 in jam. Pectin and salts are left out, so the true value is slightly lower.

    Parameters
    ----------
    water_kg : float or array
        Water [kg].
    sucrose_kg, invert_kg, disaccharide_kg : float or array
        Sucrose; glucose and fructose together; other disaccharides and solids of glucose syrup [kg].
    citric_kg, malic_kg, tartaric_kg : float or array
        Acids, anhydrous [kg].
    temperature_C : float or array
        Temperature [degC], from 0 to 110.

    Returns
    -------
    float or array
        Water activity [-].

    Raises
    ------
    OutOfRange
        A mass is negative, there is no water, the solids are above 85 % or the temperature is outside.

    References
    ----------
    .. [1] M. Starzak and S. D. Peacock, 1998: constant of sucrose.
    .. [2] R. S. Norrish, J. Chirife: the other constants (from memory).

    Examples
    --------
    >>> round(water_activity(water_kg=35.0, sucrose_kg=65.0), 3)
    0.865
    >>> round(water_activity(water_kg=35.0, sucrose_kg=45.0, invert_kg=19.0, citric_kg=1.0), 3)
    0.844
    """
    solutes = {
        "sucrose_kg": sucrose_kg,
        "invert_kg": invert_kg,
        "disaccharide_kg": disaccharide_kg,
        "citric_kg": citric_kg,
        "malic_kg": malic_kg,
        "tartaric_kg": tartaric_kg,
    }
    require_range("temperature_C", temperature_C, 0.0, 110.0, "degC")
    require_solution(water_kg, solutes)
    return same_kind(np.exp(log_activity(water_kg, *solutes.values(), temperature_K=temperature_C + 273.15)))


def require_solution(water_kg: FloatOrArray, solutes: Mapping[str, FloatOrArray]) -> None:
    """Refuse masses that are no solution the model knows.

    Parameters
    ----------
    water_kg : float or array
        Water [kg].
    solutes : mapping of str to float or array
        Solutes by name [kg].

    Returns
    -------
    None
        If all is well.

    Raises
    ------
    OutOfRange
        A mass is negative, there is no water, or the solids are above 85 %.

    References
    ----------
    .. [1] The model rises again with solids above 98 % sucrose; own calculation.

    Examples
    --------
    >>> require_solution(1.0, {"sucrose_kg": 2.0})
    """
    require_range("water_kg", water_kg, 1e-9, _MOST_KG, "kg")
    for name, mass_kg in solutes.items():
        require_range(name, mass_kg, 0.0, _MOST_KG, "kg")
    solids_kg = sum(solutes.values())
    rounding = 1e-9  # 0.85 itself, made of parts, may come out a hair above
    require_range("solids_fraction", solids_kg / (solids_kg + water_kg), 0.0, MOST_SOLIDS_FRACTION + rounding)


def log_activity(
    water_kg: FloatOrArray,
    sucrose_kg: FloatOrArray,
    invert_kg: FloatOrArray,
    disaccharide_kg: FloatOrArray,
    citric_kg: FloatOrArray,
    malic_kg: FloatOrArray = 0.0,
    tartaric_kg: FloatOrArray = 0.0,
    *,
    temperature_K: FloatOrArray,
) -> Any:
    """Logarithm of the water activity, unchecked: the inner step of solvers that checked their input once.

    Parameters
    ----------
    water_kg, sucrose_kg, invert_kg, disaccharide_kg, citric_kg, malic_kg, tartaric_kg : float or array
        As in `water_activity` [kg].
    temperature_K : float or array
        Temperature [K].

    Returns
    -------
    float or array
        ln aw [-].

    References
    ----------
    .. [1] As `water_activity`.

    Examples
    --------
    >>> print(round(log_activity(35.0, 65.0, 0.0, 0.0, 0.0, temperature_K=298.15), 3))
    -0.145
    """
    water = water_kg / WATER_G_PER_MOL
    sucrose, other = sucrose_kg / DISACCHARIDE_G_PER_MOL, disaccharide_kg / DISACCHARIDE_G_PER_MOL
    invert = invert_kg / MONOSACCHARIDE_G_PER_MOL
    citric, malic, tartaric = citric_kg / CITRIC_G_PER_MOL, malic_kg / MALIC_G_PER_MOL, tartaric_kg / TARTARIC_G_PER_MOL
    solute = sucrose + other + invert + citric + malic + tartaric
    total = water + solute
    x = solute / total
    sucrose_root = np.sqrt(17638.0 / (8.314462618 * temperature_K) * (1.0 - 1.0038 * x - 0.24653 * x**2))
    others_root = (
        _DISACCHARIDE**0.5 * other
        + _MONOSACCHARIDE**0.5 * invert
        + _CITRIC**0.5 * citric
        + _MALIC**0.5 * malic
        + _TARTARIC**0.5 * tartaric
    ) * np.sqrt(298.15 / temperature_K)
    return np.log(water / total) - ((sucrose_root * sucrose + others_root) / total) ** 2


@lru_cache(maxsize=256)
def solute_kg_per_kg_water(water_activity: float, margin: float = 0.002) -> SoluteLimits:
    """Masses of each pure solute at a water activity: the numbers m_k of the row Σ solute_k/m_k ≥ water.

    Mixtures that meet the row have at most that water activity at 25 degC: the surface of equal activity bulges a
    little beyond the plane through the pure solutes, which the margin covers. It costs at most half
    a Brix between 0.80 and 0.90.
    The number for acids is that of citric; malic and tartaric acid bind more water per kilogram.

    Parameters
    ----------
    water_activity : float
        Activity that must not be exceeded [-], from 0.80 to 0.98: below 0.80 the bulge outgrows the default margin.
    margin : float
        How much lower the pure solutes are taken [-], from 0 to 0.02. With 0 mixtures may exceed the wanted value by
        0.002.

    Returns
    -------
    SoluteLimits
        Kilograms of sucrose, invert sugar, other disaccharides and acid per kilogram of water.

    Raises
    ------
    OutOfRange
        The activity or the margin lies outside.

    References
    ----------
    .. [1] `water_activity`, solved by bisection for each solute alone.

    Examples
    --------
    >>> limits = solute_kg_per_kg_water(0.85, margin=0.0)
    >>> round(limits.sucrose, 3), round(limits.invert, 3)
    (2.043, 1.381)
    """
    require_range("water_activity", water_activity, 0.80, 0.98)
    require_range("margin", margin, 0.0, 0.02)
    wanted = np.log(water_activity - margin)
    alone = np.eye(4)  # one row per solute
    low, high = np.zeros(4), np.full(4, MOST_SOLIDS_FRACTION / (1.0 - MOST_SOLIDS_FRACTION))
    for _ in range(55):
        middle = 0.5 * (low + high)
        too_wet = log_activity(1.0, *(alone * middle), temperature_K=298.15) > wanted
        low, high = np.where(too_wet, middle, low), np.where(too_wet, high, middle)
    # `high` is the end on which the activity is reached, whatever the rounding
    return SoluteLimits(**dict(zip(("sucrose", "invert", "disaccharide", "acid"), map(float, high), strict=True)))


def organisms_that_can_grow(water_activity: float) -> tuple[str, ...]:
    """Groups and species whose printed least water activity is not above the given one.

    No jam is safe by water activity alone: osmophilic yeasts grow in all of them. Heat, a seal, acid and, where
    allowed, a preservative keep it.

    Parameters
    ----------
    water_activity : float
        Water activity of the product [-], from 0 to 1.

    Returns
    -------
    tuple of str
        Names as in `LEAST_ACTIVITY_FOR_GROWTH`, the most drought-proof first.

    Raises
    ------
    OutOfRange
        The activity is not between 0 and 1.

    References
    ----------
    .. [1] Sources beside each figure of `LEAST_ACTIVITY_FOR_GROWTH`.

    Examples
    --------
    >>> organisms_that_can_grow(0.70)
    ('osmophilic yeasts', 'Xeromyces bisporus', 'xerophilic moulds')
    """
    require_range("water_activity", water_activity, 0.0, 1.0)
    by_least = sorted(LEAST_ACTIVITY_FOR_GROWTH.items(), key=lambda item: item[1])
    return tuple(name for name, least in by_least if least <= water_activity)
