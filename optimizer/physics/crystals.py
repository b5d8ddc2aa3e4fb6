"""Crystals in the jar: what sucrose and glucose the water of a jam holds at the temperature of the store."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from optimizer.physics._check import FloatOrArray, require_range, same_kind

WINDOW_MOST_SOLIDS_FRACTION = 0.72  # above it no share of invert sugar keeps both sugars dissolved at 10 degC
LEAST_ROW_C, MOST_ROW_C = 0.0, 50.0


class SucroseRow(NamedTuple):
    """kg of sucrose that one kg of another solute displaces from solution [kg/kg]."""

    invert: float
    disaccharide: float
    acid: float


# Steepest tangents of the mixture model (`optimizer.physics.saturation`) from 0 to 50 degC, rounded up. At 10 degC its
# own slopes are 0.462, 0.388 and 0.834.
SUCROSE_ROW = SucroseRow(invert=0.47, disaccharide=0.395, acid=0.86)

# degC, c2 [kg/kg water], k2 [kg/kg]: tangents of the mixture model at 1.5 kg of other sugars per kg of water; own
# calculation on the dextrose solubility of L. Pancoast and W. Junk, Handbook of Sugars (from memory).
_GLUCOSE_ROWS = (
    (5.0, 0.562, 0.052),
    (10.0, 0.638, 0.055),
    (15.0, 0.731, 0.057),
    (20.0, 0.854, 0.060),
    (25.0, 0.972, 0.061),
)


def sucrose_solubility_fraction(temperature_C: FloatOrArray) -> Any:
    """Sucrose in its saturated solution in water.

    Parameters
    ----------
    temperature_C : float or array
        Temperature [degC], from 0 to 100.

    Returns
    -------
    float or array
        Sucrose, mass fraction [-], within 0.0013 of the printed table to 80 degC, 0.0026 at 100 degC.

    Raises
    ------
    OutOfRange
        The temperature lies outside.

    References
    ----------
    .. [1] G. Vavrinecz, Z. Zuckerind. 12 (1962) 481.

    Examples
    --------
    >>> round(sucrose_solubility_fraction(20.0), 3)
    0.667
    """
    require_range("temperature_C", temperature_C, 0.0, 100.0, "degC")
    t = temperature_C
    return same_kind(0.01 * (64.447 + t * (8.222e-2 + t * (1.6169e-3 + t * (-1.558e-6 - t * 4.63e-8)))))


def sucrose_solubility_kg_per_kg_water(temperature_C: FloatOrArray) -> Any:
    """Sucrose that one kg of water dissolves: the s0 of the row.

    Parameters
    ----------
    temperature_C : float or array
        Temperature [degC], from 0 to 100.

    Returns
    -------
    float or array
        Sucrose [kg/kg water].

    Raises
    ------
    OutOfRange
        The temperature lies outside.

    References
    ----------
    .. [1] As `sucrose_solubility_fraction`.

    Examples
    --------
    >>> round(sucrose_solubility_kg_per_kg_water(10.0), 3)
    1.893
    """
    fraction = sucrose_solubility_fraction(temperature_C)
    return same_kind(fraction / (1.0 - fraction))


def sucrose_saturation(
    *,
    water_kg: FloatOrArray,
    sucrose_kg: FloatOrArray,
    invert_kg: FloatOrArray = 0.0,
    disaccharide_kg: FloatOrArray = 0.0,
    acid_kg: FloatOrArray = 0.0,
    temperature_C: FloatOrArray,
) -> Any:
    """Load of sucrose as share of what stays dissolved: (S + 0.47 M + 0.395 D + 0.86 A) / (s0(t) W).

    Up to 1 no sucrose crystals grow. The row is the tangent of a curve that bends away from it, hence on the safe
    side: by 0.05 kg per kg of water at one kg of invert sugar per kg of water.

    Parameters
    ----------
    water_kg : float or array
        Water [kg].
    sucrose_kg, invert_kg, disaccharide_kg, acid_kg : float or array
        Sucrose; glucose and fructose; other disaccharides and solids of glucose syrup; acids [kg].
    temperature_C : float or array
        Temperature of the store [degC], from 0 to 50.

    Returns
    -------
    float or array
        Share [-].

    Raises
    ------
    OutOfRange
        A mass is negative, there is no water, or the temperature lies outside.

    References
    ----------
    .. [1] `sucrose_solubility_fraction` and `saturation.sucrose_that_dissolves_kg_per_kg_water`; no printed table of
       sucrose in invert syrup was read.

    Examples
    --------
    A jam of 68 % solids, a quarter of its sugars invert:

    >>> round(sucrose_saturation(water_kg=32.0, sucrose_kg=50.0, invert_kg=17.0, acid_kg=1.0, temperature_C=10.0), 3)
    0.972
    """
    require_range("temperature_C", temperature_C, LEAST_ROW_C, MOST_ROW_C, "degC")
    require_range("water_kg", water_kg, 1e-9, 1e9, "kg")
    masses = {
        "sucrose_kg": sucrose_kg, "invert_kg": invert_kg, "disaccharide_kg": disaccharide_kg, "acid_kg": acid_kg,
    }  # fmt: skip
    for name, mass_kg in masses.items():
        require_range(name, mass_kg, 0.0, 1e9, "kg")
    row = SUCROSE_ROW
    load = sucrose_kg + row.invert * invert_kg + row.disaccharide * disaccharide_kg + row.acid * acid_kg
    return same_kind(load / (sucrose_solubility_kg_per_kg_water(temperature_C) * water_kg))


def glucose_row(temperature_C: FloatOrArray) -> tuple[Any, Any]:
    """Numbers c2 and k2 of the warning G + k2 (S + Fr) ≤ c2 W: no crystals of glucose.

    Parameters
    ----------
    temperature_C : float or array
        Temperature of the store [degC], from 5 to 25.

    Returns
    -------
    tuple of two floats or arrays
        c2 [kg/kg water] and k2 [kg/kg], straight between the lines of the table.

    Raises
    ------
    OutOfRange
        The temperature lies outside the table.

    References
    ----------
    .. [1] Own calculation on the solubility of dextrose, L. Pancoast and W. Junk, Handbook of Sugars (from memory).

    Examples
    --------
    >>> glucose_row(10.0)
    (0.638, 0.055)
    """
    temperatures, c2, k2 = zip(*_GLUCOSE_ROWS, strict=True)
    require_range("temperature_C", temperature_C, temperatures[0], temperatures[-1], "degC")
    return (
        same_kind(np.interp(temperature_C, temperatures, c2)),
        same_kind(np.interp(temperature_C, temperatures, k2)),
    )


def glucose_saturation(
    *,
    water_kg: FloatOrArray,
    glucose_kg: FloatOrArray,
    sucrose_kg: FloatOrArray,
    fructose_kg: FloatOrArray,
    temperature_C: FloatOrArray,
) -> Any:
    """Load of glucose as share of what stays dissolved: (G + k2 (S + Fr)) / (c2 W). Good for a warning only.

    Far from 1.5 kg of other sugars per kg of water it may be 2 to 5 % too generous.

    Parameters
    ----------
    water_kg : float or array
        Water [kg].
    glucose_kg, sucrose_kg, fructose_kg : float or array
        Sugars [kg].
    temperature_C : float or array
        Temperature of the store [degC], from 5 to 25.

    Returns
    -------
    float or array
        Share [-]; above 1 glucose may crystallise.

    Raises
    ------
    OutOfRange
        A mass is negative, there is no water, or the temperature lies outside.

    References
    ----------
    .. [1] As `glucose_row`.

    Examples
    --------
    >>> round(glucose_saturation(
    ...     water_kg=30.0, glucose_kg=17.5, sucrose_kg=35.0, fructose_kg=17.5, temperature_C=20.0), 2)
    0.81
    """
    require_range("water_kg", water_kg, 1e-9, 1e9, "kg")
    for name, mass_kg in (("glucose_kg", glucose_kg), ("sucrose_kg", sucrose_kg), ("fructose_kg", fructose_kg)):
        require_range(name, mass_kg, 0.0, 1e9, "kg")
    c2, k2 = glucose_row(temperature_C)
    return same_kind((glucose_kg + k2 * (sucrose_kg + fructose_kg)) / (c2 * water_kg))
