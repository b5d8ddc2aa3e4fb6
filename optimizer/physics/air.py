"""Air pressure at an altitude: it sets the temperature at which the pan boils."""

from __future__ import annotations

from typing import Any

from optimizer.physics._check import FloatOrArray, require_range, same_kind

SEA_LEVEL_PRESSURE_kPa = 101.325
LEAST_ALTITUDE_M, MOST_ALTITUDE_M = -500.0, 11000.0


def air_pressure_kPa(altitude_m: FloatOrArray) -> Any:
    """Standard air pressure at an altitude.

    Weather moves the real pressure by some 3 kPa either way, 0.8 degC in the pan: boiling plain water on the day and
    reading its temperature is the better measurement.

    Parameters
    ----------
    altitude_m : float or array
        Geopotential altitude above sea level [m], from -500 to 11000.

    Returns
    -------
    float or array
        Air pressure [kPa].

    Raises
    ------
    OutOfRange
        The altitude lies outside the lowest layer, for which the formula is made.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562: lowest layer.

    Examples
    --------
    >>> round(air_pressure_kPa(2000.0), 2)
    79.5
    """
    require_range("altitude_m", altitude_m, LEAST_ALTITUDE_M, MOST_ALTITUDE_M, "m")
    T0, lapse = 288.15, 0.0065  # [K], [K/m]
    g, M, R = 9.80665, 0.0289644, 8.31432  # [m/s²], [kg/mol], [J/(mol K)] as the Standard Atmosphere has it
    return same_kind(SEA_LEVEL_PRESSURE_kPa * (1.0 - lapse * altitude_m / T0) ** (g * M / (R * lapse)))
