"""What a refractometer reads, and what is truly dissolved.

Laws and end points are refractometer readings; balances need true soluble solids. The scale is made for sucrose at
20 degC: invert sugar and acid bend light less, glucose syrup more. A turbid or warm sample reads half a Brix off.
"""

from __future__ import annotations

from typing import Any

from optimizer.physics._check import FloatOrArray, require_range, same_kind

INVERT_SHORTFALL = 0.022  # Brix that a percent of invert sugar reads low (rule of AOAC, from memory)
ACID_SHORTFALL = 0.1929  # Brix that a percent of citric acid reads low, first term
ACID_SHORTFALL_SQUARE = (
    0.034  # second term, per fraction squared: the shortfall of strong acid grows less than straight
)
SYRUP_GAIN = 0.02  # glucose syrup of 42 DE reads (1 + gain) times its dry matter (from memory)

_LEAST_INDEX, _MOST_INDEX = 1.3329, 1.5011  # water and 84 Brix: the ends of the table
_MOST_BRIX_FRACTION = 0.84


def brix_fraction_from_index(refractive_index_20C: FloatOrArray) -> Any:
    """Scale reading of a refractive index, sodium light, 20 degC.

    Parameters
    ----------
    refractive_index_20C : float or array
        Refractive index [-], from 1.3329 (water) to 1.5011 (84 Brix).

    Returns
    -------
    float or array
        Reading as mass fraction of sucrose [-], within 0.00031 of the table (its own rounding).

    Raises
    ------
    OutOfRange
        The index lies outside the table.

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, concentrative properties of sucrose (from memory): own fit.

    Examples
    --------
    >>> round(brix_fraction_from_index(1.4532), 3)
    0.649
    """
    require_range("refractive_index_20C", refractive_index_20C, _LEAST_INDEX, _MOST_INDEX)
    u = refractive_index_20C - 1.333
    brix = 0.0080533363 + u * (699.7572 + u * (-1855.3703 + u * (6021.1458 + u * (-17582.308 + u * 31716.096))))
    return same_kind(brix / 100.0)


def index_from_brix_fraction(brix_fraction: FloatOrArray) -> Any:
    """Refractive index of a sucrose solution, sodium light, 20 degC.

    Parameters
    ----------
    brix_fraction : float or array
        Mass fraction of sucrose [-], from 0 to 0.84.

    Returns
    -------
    float or array
        Refractive index [-], within 0.00005 of the table.

    Raises
    ------
    OutOfRange
        The fraction lies outside the table.

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, concentrative properties of sucrose (from memory): own fit.

    Examples
    --------
    >>> round(index_from_brix_fraction(0.68), 4)
    1.4606
    """
    require_range("brix_fraction", brix_fraction, 0.0, _MOST_BRIX_FRACTION)
    B = 100.0 * brix_fraction
    return same_kind(
        1.3329958
        + B * (1.424787e-3 + B * (5.9346926e-6 + B * (-7.207578e-9 + B * (4.3777757e-10 - B * 2.6380127e-12))))
    )


def temperature_correction_fraction(brix_reading_fraction: FloatOrArray, temperature_C: FloatOrArray) -> Any:
    """What to add to a reading that was not taken at 20 degC, on an instrument that does not compensate itself.

    Within 0.0001 of the table from 10 to 30 degC, within 0.001 beyond it. An instrument with automatic compensation
    needs nothing: ask, and never correct twice. A cold sample reads high, so the correction is negative below 20 degC.

    Parameters
    ----------
    brix_reading_fraction : float or array
        Reading [-], from 0 to 0.80.
    temperature_C : float or array
        Temperature of sample and prism [degC], from 5 to 40; let a warmer sample cool.

    Returns
    -------
    float or array
        Correction to add to the reading [-].

    Raises
    ------
    OutOfRange
        The reading or the temperature lies outside.

    References
    ----------
    .. [1] International temperature correction table 1936, ICUMSA 1974 (from memory): own fit.

    Examples
    --------
    >>> round(temperature_correction_fraction(0.65, 15.0), 4)
    -0.0039
    """
    require_range("brix_reading_fraction", brix_reading_fraction, 0.0, 0.80)
    require_range("temperature_C", temperature_C, 5.0, 40.0, "degC")
    B, d = 100.0 * brix_reading_fraction, temperature_C - 20.0
    per_degree = 0.061641 + 5.4526e-4 * B - 4.2351e-6 * B**2
    per_square = 1.0929e-3 - 1.6051e-5 * B + 2.7217e-8 * B**2
    return same_kind(d * (per_degree + d * per_square) / 100.0)


def reading_fraction(
    soluble_solids_fraction: FloatOrArray,
    *,
    invert_fraction: FloatOrArray,
    acid_fraction: FloatOrArray,
    syrup_fraction: FloatOrArray = 0.0,
    syrup_gain: FloatOrArray = SYRUP_GAIN,
    linear: bool = False,
) -> Any:
    """What a refractometer at 20 degC reads of a product whose true soluble solids are known.

    Parameters
    ----------
    soluble_solids_fraction : float or array
        True soluble solids [-], from 0 to 0.85.
    invert_fraction : float or array
        Glucose and fructose in the product [-], from 0 to 0.85.
    acid_fraction : float or array
        Acids in the product as anhydrous citric [-], from 0 to 0.38.
    syrup_fraction : float or array
        Dry matter of glucose syrup in the product [-], from 0 to 0.85.
    syrup_gain : float or array
        How much more than its dry matter the syrup reads [-]: 0.02 for 42 DE, 0.042 in the table of ISO 1743.
    linear : bool
        Leave out the square term of the acid, as rows of a linear program must; 0.00003 lower at 1 % acid.

    Returns
    -------
    float or array
        Reading [-].

    Raises
    ------
    OutOfRange
        A fraction lies outside its range.

    References
    ----------
    .. [1] Acidity correction tables for refractometric Brix (industry sheet, 2011).
    .. [2] AOAC rule for invert sugar (from memory); ISO 1743 for glucose syrup.

    Examples
    --------
    >>> round(reading_fraction(0.65, invert_fraction=0.195, acid_fraction=0.008), 4)
    0.6442
    """
    require_range("soluble_solids_fraction", soluble_solids_fraction, 0.0, 0.85)
    low = _shortfall(invert_fraction, acid_fraction, syrup_fraction, syrup_gain, linear)
    return same_kind(soluble_solids_fraction - low)


def soluble_solids_fraction(
    brix_reading_fraction: FloatOrArray,
    *,
    invert_fraction: FloatOrArray,
    acid_fraction: FloatOrArray,
    syrup_fraction: FloatOrArray = 0.0,
    syrup_gain: FloatOrArray = SYRUP_GAIN,
    linear: bool = False,
) -> Any:
    """True soluble solids of a product that was read at 20 degC; the inverse of `reading_fraction`.

    Parameters
    ----------
    brix_reading_fraction : float or array
        Reading, corrected to 20 degC [-], from 0 to 0.85.
    invert_fraction : float or array
        Glucose and fructose in the product [-], from 0 to 0.85.
    acid_fraction : float or array
        Acids in the product as anhydrous citric [-], from 0 to 0.38.
    syrup_fraction : float or array
        Dry matter of glucose syrup in the product [-], from 0 to 0.85.
    syrup_gain : float or array
        How much more than its dry matter the syrup reads [-]: 0.02 for 42 DE, 0.042 in the table of ISO 1743.
    linear : bool
        Leave out the square term of the acid, as rows of a linear program must; 0.00003 higher at 1 % acid.

    Returns
    -------
    float or array
        Soluble solids [-].

    Raises
    ------
    OutOfRange
        A fraction lies outside its range.

    References
    ----------
    .. [1] As `reading_fraction`.

    Examples
    --------
    >>> round(soluble_solids_fraction(0.617, invert_fraction=0.63, acid_fraction=0.0), 4)
    0.6309
    """
    require_range("brix_reading_fraction", brix_reading_fraction, 0.0, 0.85)
    low = _shortfall(invert_fraction, acid_fraction, syrup_fraction, syrup_gain, linear)
    return same_kind(brix_reading_fraction + low)


def _shortfall(
    invert: FloatOrArray, acid: FloatOrArray, syrup: FloatOrArray, syrup_gain: FloatOrArray, linear: bool
) -> FloatOrArray:
    """How much lower than the true soluble solids the instrument reads."""
    require_range("invert_fraction", invert, 0.0, 0.85)
    require_range("acid_fraction", acid, 0.0, 0.38)
    require_range("syrup_fraction", syrup, 0.0, 0.85)
    require_range("syrup_gain", syrup_gain, 0.0, 0.05)
    low = INVERT_SHORTFALL * invert + ACID_SHORTFALL * acid - syrup_gain * syrup
    return low if linear else low - ACID_SHORTFALL_SQUARE * acid**2
