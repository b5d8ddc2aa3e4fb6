"""Filling hot and processing in boiling water: published times and where they end.

Nothing here promises that a jar is safe. Local codes and licensed practice rule; outside the published times a process
authority has to decide.
"""

from __future__ import annotations

import math

from optimizer.errors import OutOfRange
from optimizer.physics._check import require_range

METRES_PER_FOOT = 0.3048
FILL_C = (82.0, 85.0)  # small-scale guidance after FAO
HOT_FILL_HOLD_MINUTES = (2.0, 3.0)  # jar inverted at 85 degC or more (extension practice, from memory)
HALF_PINT_mL, PINT_mL = 237.0, 473.0
HEADSPACE_MM = 6.0  # quarter of an inch
LOW_ACID_PH, LOW_ACID_WATER_ACTIVITY = 4.6, 0.85  # 21 CFR 114.3; a line of law, not a target
AUTHORITY_PH, AUTHORITY_SOLIDS_FRACTION = 4.2, 0.60  # judgement, on the safe side of the law
MOST_ALTITUDE_M = 10000.0 * METRES_PER_FOOT  # there the older rule, one minute more per 1000 ft, reaches the 15 min too
_STEPS = ((1000.0, 5.0), (6000.0, 10.0), (10000.0, 15.0))  # up to so many feet, minutes


def process_minutes(altitude_m: float, *, jar_mL: float = HALF_PINT_mL, is_jar_sterile: bool = True) -> float:
    """Time in boiling water for jam, jelly and marmalade filled hot.

    Parameters
    ----------
    altitude_m : float
        Altitude of the kitchen [m], from -500 to 3048.
    jar_mL : float
        Brimful volume of the jar [mL], up to a US pint (473 mL).
    is_jar_sterile : bool
        Whether the jars were sterilised; if not, 10 min at sea level and one more per 1000 ft begun.

    Returns
    -------
    float
        Minutes, counted from when the water boils again.

    Raises
    ------
    OutOfRange
        There is no published time: ask a process authority.

    References
    ----------
    .. [1] USDA Complete Guide to Home Canning, Guide 7, jams: 5, 10, 15 min to 1000 ft, 6000 ft, above.
    .. [2] Michigan State University Extension, Preserving Food Safely, 1997: jars not sterilised; altitude.

    Examples
    --------
    >>> process_minutes(200.0), process_minutes(1500.0), process_minutes(2200.0)
    (5.0, 10.0, 15.0)
    """
    require_range("altitude_m", altitude_m, -500.0, 1e5, "m")
    if altitude_m > MOST_ALTITUDE_M:
        raise OutOfRange(
            f"altitude_m={altitude_m:g}: no published time above {MOST_ALTITUDE_M:.0f} m; ask a process authority"
        )
    require_range("jar_mL", jar_mL, 1.0, 1e6, "mL")
    if jar_mL > PINT_mL:
        raise OutOfRange(
            f"jar_mL={jar_mL:g}: times are published for jars up to {PINT_mL:g} mL only; use smaller jars or ask a "
            "process authority"
        )
    feet = altitude_m / METRES_PER_FOOT - 1e-9  # 3048 m are 10000 ft, whatever the rounding
    minutes = next(time for most, time in _STEPS if feet <= most)
    if not is_jar_sterile:
        minutes = max(minutes, 10.0 + math.ceil(max(0.0, feet) / 1000.0))
    return minutes


def fill_cautions(temperature_C: float) -> tuple[str, ...]:
    """Cautions for a filling temperature.

    Parameters
    ----------
    temperature_C : float
        Temperature of the product as it goes into the jar [degC], from 0 to 120.

    Returns
    -------
    tuple of str
        Cautions, empty from 82 to 85 degC.

    Raises
    ------
    OutOfRange
        The temperature lies outside.

    References
    ----------
    .. [1] Small-scale guidance after FAO: 82 to 85 degC.

    Examples
    --------
    >>> fill_cautions(84.0)
    ()
    """
    require_range("temperature_C", temperature_C, 0.0, 120.0, "degC")
    if temperature_C < FILL_C[0]:
        return (f"filled at {temperature_C:g} degC: below 82 it pours badly and does not heat the jar; heat it again",)
    if temperature_C > FILL_C[1]:
        return (f"filled at {temperature_C:g} degC: above 85 water condenses under the lid and moulds grow on it",)
    return ()


def is_low_acid(ph: float, water_activity: float) -> bool:
    """Whether a food is low-acid by law: pH above 4.6 and water activity above 0.85.

    Parameters
    ----------
    ph : float
        pH at equilibrium [-], from 0 to 14.
    water_activity : float
        Water activity [-], from 0 to 1.

    Returns
    -------
    bool
        True where botulism is possible: nothing in this program makes such a food safe.

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] 21 CFR 114.3.

    Examples
    --------
    >>> is_low_acid(4.8, 0.90), is_low_acid(4.8, 0.80), is_low_acid(3.4, 0.90)
    (True, False, False)
    """
    require_range("ph", ph, 0.0, 14.0)
    require_range("water_activity", water_activity, 0.0, 1.0)
    return ph > LOW_ACID_PH and water_activity > LOW_ACID_WATER_ACTIVITY


def process_authority_reasons(*, ph: float, solids_fraction: float) -> tuple[str, ...]:
    """Why a product must be shown to a process authority before it is sold as keeping by heat.

    Parameters
    ----------
    ph : float
        pH of the product [-], from 0 to 14.
    solids_fraction : float
        Soluble solids [-], from 0 to 1.

    Returns
    -------
    tuple of str
        Reasons; empty for an ordinary jam.

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] Judgement: pH above 4.2 or solids below 60 %. That hot filling alone is not enough: NCHFP.

    Examples
    --------
    >>> process_authority_reasons(ph=3.2, solids_fraction=0.66)
    ()
    """
    require_range("ph", ph, 0.0, 14.0)
    require_range("solids_fraction", solids_fraction, 0.0, 1.0)
    reasons = []
    if ph > AUTHORITY_PH:
        reasons.append(f"pH {ph:.2f} is above {AUTHORITY_PH:g}")
    if solids_fraction < AUTHORITY_SOLIDS_FRACTION:
        reasons.append(f"{solids_fraction:.0%} solids are below {AUTHORITY_SOLIDS_FRACTION:.0%}")
    return tuple(reasons)


def needs_process_authority(ph: float, solids_fraction: float) -> bool:
    """Whether `process_authority_reasons` finds any.

    Parameters
    ----------
    ph : float
        pH of the product [-], from 0 to 14.
    solids_fraction : float
        Soluble solids [-], from 0 to 1.

    Returns
    -------
    bool
        True where a process authority has to decide.

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] As `process_authority_reasons`.

    Examples
    --------
    >>> needs_process_authority(3.2, 0.66), needs_process_authority(3.4, 0.45)
    (False, True)
    """
    return bool(process_authority_reasons(ph=ph, solids_fraction=solids_fraction))
