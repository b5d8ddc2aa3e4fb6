"""Sugars that dissolve together: the mixture model behind the crystal rows, slower and curved.

Activities of all sugars follow from one symmetric form, ln γ_i = -(b_i - b)² with b = Σ b_i x_i and x mole fractions;
water has b = 0, which is the form that gives the water activity. Pure solubility sets the level.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.activity import (
    CITRIC_G_PER_MOL,
    DISACCHARIDE_G_PER_MOL,
    MONOSACCHARIDE_G_PER_MOL,
    WATER_G_PER_MOL,
)
from optimizer.physics.crystals import sucrose_solubility_kg_per_kg_water

# Norrish constants at 25 degC [-] (R. S. Norrish, J. Chirife; from memory). Sucrose has one constant here: how it
# changes with concentration cannot be put into the symmetric form.
_SUCROSE, _MONOSACCHARIDE, _DISACCHARIDE, _CITRIC = 6.47, 2.25, 4.54, 6.17
_MOST_OTHERS_KG = 5.0  # per kg of water


def sucrose_that_dissolves_kg_per_kg_water(
    temperature_C: FloatOrArray,
    *,
    invert_kg: FloatOrArray = 0.0,
    disaccharide_kg: FloatOrArray = 0.0,
    acid_kg: FloatOrArray = 0.0,
) -> Any:
    """Sucrose that one kg of water dissolves beside other solutes: x_s γ_s as in its own saturated solution.

    Parameters
    ----------
    temperature_C : float or array
        Temperature [degC], from 0 to 50.
    invert_kg, disaccharide_kg, acid_kg : float or array
        Glucose and fructose; other disaccharides and solids of glucose syrup; acids [kg/kg water], from 0 to 5.

    Returns
    -------
    float or array
        Sucrose [kg/kg water].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] R. S. Norrish, J. Food Technol. 1 (1966) 25 (form; from memory). No printed table of sucrose in invert syrup
       was read: the answer is a calculation.

    Examples
    --------
    >>> round(sucrose_that_dissolves_kg_per_kg_water(20.0, invert_kg=0.8), 2)
    1.67
    """
    require_range("temperature_C", temperature_C, 0.0, 50.0, "degC")
    others = {"invert_kg": invert_kg, "disaccharide_kg": disaccharide_kg, "acid_kg": acid_kg}
    for name, mass_kg in others.items():
        require_range(name, mass_kg, 0.0, _MOST_OTHERS_KG, "kg/kg water")
    alone = sucrose_solubility_kg_per_kg_water(temperature_C)
    wanted = _log_sucrose(alone, 0.0, 0.0, 0.0, temperature_C)
    high = alone + 0.0 * (invert_kg + disaccharide_kg + acid_kg)  # other solutes only take room
    low = 0.0 * high
    for _ in range(52):
        middle = 0.5 * (low + high)
        dissolves = _log_sucrose(middle, invert_kg, disaccharide_kg, acid_kg, temperature_C) <= wanted
        low, high = np.where(dissolves, middle, low), np.where(dissolves, high, middle)
    return same_kind(low)


def invert_solubility_fraction(glucose_solubility_fraction: FloatOrArray, temperature_C: FloatOrArray) -> Any:
    """Invert sugar in its saturated solution, from the solubility of glucose alone: x_g γ_g aw stays the same.

    The solid is glucose monohydrate, hence the water activity in the product. It ties two printed columns together and
    so checks the form.

    Parameters
    ----------
    glucose_solubility_fraction : float or array
        Glucose in its own saturated solution, mass fraction [-], from 0.2 to 0.8.
    temperature_C : float or array
        Temperature [degC], from 0 to 50.

    Returns
    -------
    float or array
        Glucose and fructose together (equal masses), mass fraction [-].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] As `sucrose_that_dissolves_kg_per_kg_water`; columns of L. Pancoast and W. Junk, Handbook of Sugars (memory).

    Examples
    --------
    Printed: 62.6 %.

    >>> round(invert_solubility_fraction(0.477, 20.0), 2)
    0.63
    """
    require_range("glucose_solubility_fraction", glucose_solubility_fraction, 0.2, 0.8)
    require_range("temperature_C", temperature_C, 0.0, 50.0, "degC")
    wanted = _log_glucose_monohydrate(
        glucose_solubility_fraction / (1.0 - glucose_solubility_fraction), 0.0, temperature_C
    )
    low, high = 0.0 * wanted, 0.0 * wanted + 10.0
    for _ in range(52):
        middle = 0.5 * (low + high)
        dissolves = _log_glucose_monohydrate(0.5 * middle, 0.5 * middle, temperature_C) <= wanted
        low, high = np.where(dissolves, middle, low), np.where(dissolves, high, middle)
    return same_kind(low / (1.0 + low))


def _warmth(temperature_C: FloatOrArray) -> Any:
    return np.sqrt(298.15 / (temperature_C + 273.15))


def _log_sucrose(sucrose: Any, invert: Any, disaccharide: Any, acid: Any, temperature_C: Any) -> Any:
    """ln(x γ) of sucrose; masses per kg of water."""
    moles = (
        (0.0, 1.0 / WATER_G_PER_MOL),
        (_SUCROSE, sucrose / DISACCHARIDE_G_PER_MOL),
        (_MONOSACCHARIDE, invert / MONOSACCHARIDE_G_PER_MOL),
        (_DISACCHARIDE, disaccharide / DISACCHARIDE_G_PER_MOL),
        (_CITRIC, acid / CITRIC_G_PER_MOL),
    )
    total = sum(n for _, n in moles)
    mean = sum(K**0.5 * n for K, n in moles) / total
    with np.errstate(divide="ignore"):  # no sucrose: minus infinity, which is right
        return np.log(moles[1][1] / total) - (_warmth(temperature_C) * (_SUCROSE**0.5 - mean)) ** 2


def _log_glucose_monohydrate(glucose: Any, fructose: Any, temperature_C: Any) -> Any:
    """ln(x γ aw) of glucose beside fructose; masses per kg of water."""
    n_water, n_glucose = 1.0 / WATER_G_PER_MOL, glucose / MONOSACCHARIDE_G_PER_MOL
    total = n_water + n_glucose + fructose / MONOSACCHARIDE_G_PER_MOL
    b = _MONOSACCHARIDE**0.5 * _warmth(temperature_C)
    mean = b * (total - n_water) / total
    with np.errstate(divide="ignore"):
        return np.log(n_glucose / total) - (b - mean) ** 2 + np.log(n_water / total) - mean**2
