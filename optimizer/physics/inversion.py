"""Inversion: how much sucrose acid and heat split into glucose and fructose, in the pan and in store."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.density import density_kg_per_m3

INVERT_GAIN = 1.0526  # kg of invert sugar from one kg of sucrose: a molecule of water goes in
LEAST_PH, MOST_PH = 2.0, 7.0
LEAST_C, MOST_C = 20.0, 115.0
MINUTES_PER_DAY = 1440.0


def inversion_rate_per_min(temperature_C: FloatOrArray, ph: FloatOrArray, solids_fraction: FloatOrArray) -> Any:
    """Rate at which sucrose inverts: k = 10^(16.91 - 5670/T - pH) · c_w, with c_w the water [g/mL].

    Parameters
    ----------
    temperature_C : float or array
        Temperature [degC], from 20 to 115; the printed boils that check it reach 110.
    ph : float or array
        pH of the water phase [-], from 2 to 7.
    solids_fraction : float or array
        Soluble solids [-], from 0 to 0.85.

    Returns
    -------
    float or array
        Share of the sucrose that inverts per minute at the start [1/min].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] K. Vukov, Int. Sugar J. 67 (1965) 172, as in P. Rein, Cane Sugar Engineering, where it serves at the pH of
       sugar factories, near 7; checked in syrups of pH 2.3 to 3.

    Examples
    --------
    >>> round(inversion_rate_per_min(104.5, 3.2, 0.65), 4)
    0.0229
    """
    require_range("temperature_C", temperature_C, LEAST_C, MOST_C, "degC")
    require_range("ph", ph, LEAST_PH, MOST_PH)
    return _rate(temperature_C, ph, solids_fraction)


def inverted_fraction(steps: Iterable[tuple[FloatOrArray, FloatOrArray, FloatOrArray, FloatOrArray]]) -> Any:
    """Share of the sucrose inverted after some stretches of cooking: 1 - exp(-Σ k dt).

    Real cooks scatter from 0.6 to 1.5 times the answer (judgement): the lower end is the cautious one for sucrose
    crystals, the upper end (1 at most) for glucose crystals.

    Parameters
    ----------
    steps : iterable of (minutes, temperature_C, ph, solids_fraction)
        Stretches of the cook, floats or arrays; minutes from 0 to 10000, the rest as in `inversion_rate_per_min`.

    Returns
    -------
    float or array
        Share inverted [-], from 0 to 1.

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] First order in sucrose; `inversion_rate_per_min`.

    Examples
    --------
    Acid in from the start, and acid in the last two minutes:

    >>> round(inverted_fraction([(17.0, 104.5, 3.1, 0.65)]), 2)
    0.39
    >>> round(inverted_fraction([(15.0, 104.5, 3.6, 0.65), (2.0, 104.5, 3.1, 0.65)]), 2)
    0.18
    """
    exponent: Any = 0.0
    for minutes, temperature_C, ph, solids_fraction in steps:
        require_range("minutes", minutes, 0.0, 10000.0, "min")
        exponent = exponent + inversion_rate_per_min(temperature_C, ph, solids_fraction) * minutes
    return same_kind(-np.expm1(-exponent))


def inverted_in_store_fraction(
    days: FloatOrArray, temperature_C: FloatOrArray, ph: FloatOrArray, solids_fraction: FloatOrArray
) -> Any:
    """Share of the sucrose that inverts in store; a rough figure, the rate is extrapolated from hotter syrups.

    Parameters
    ----------
    days : float or array
        Time in store [d], from 0 to 3650.
    temperature_C : float or array
        Store [degC], from 0 to 45.
    ph : float or array
        pH of the water phase [-], from 2 to 7.
    solids_fraction : float or array
        Soluble solids [-], from 0 to 0.85.

    Returns
    -------
    float or array
        Share inverted [-], from 0 to 1.

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] As `inversion_rate_per_min`; cold laboratory rates (from memory) lie within 26 % of it.

    Examples
    --------
    >>> round(inverted_in_store_fraction(180.0, 25.0, 3.1, 0.65), 2)
    0.52
    """
    require_range("days", days, 0.0, 3650.0, "d")
    require_range("temperature_C", temperature_C, 0.0, 45.0, "degC")
    require_range("ph", ph, LEAST_PH, MOST_PH)
    return same_kind(-np.expm1(-_rate(temperature_C, ph, solids_fraction) * days * MINUTES_PER_DAY))


def _rate(temperature_C: FloatOrArray, ph: FloatOrArray, solids_fraction: FloatOrArray) -> Any:
    water_g_per_mL = density_kg_per_m3(solids_fraction, 20.0) / 1000.0 * (1.0 - solids_fraction)
    return same_kind(10.0 ** (16.91 - 5670.0 / (temperature_C + 273.15) - ph) * water_g_per_mL)
