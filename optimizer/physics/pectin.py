"""Pectin: grades add up as kilograms of sugar carried; what a set needs, what cooking costs, where it sets at all.

The grade of a pectin (USA-SAG) is the sugar in kg that one kg of it carries in a jelly of 65 % solids of standard
firmness. Strength is close to linear in pectin, so grade times kg adds up. That is claimed for 60 to 70 % solids only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind

STANDARD_SOLIDS_FRACTION = 0.65  # of the jelly that defines the grade
STANDARD_SAG_FRACTION = 0.235
NATIVE_GRADE = 100.0  # of the pectin in fruit (judgement; 50 to 150)
USABLE_SHARE = 0.7  # of it that reaches the jam: extraction and cooking are in it (judgement)
LATE_ADDITION_LOSS = 0.05  # of pectin that goes in during the last 5 min (judgement)
LOSS_PER_MINUTE, MOST_LOSS = 0.028, 0.5
LONG_BOIL_MINUTES = 15.0  # above it the caller should warn
HM_LEAST_SOLIDS_FRACTION, HM_MOST_PH = 0.55, 3.6
HM_WEEPING_PH = 2.8


@dataclass(frozen=True, kw_only=True)
class SpiritTest:
    """A class of the alcohol test: one volume of cooled juice with one volume of 95 % alcohol. Never taste it."""

    clot: str
    sugar_per_juice: float  # by volume, as printed
    strength_per_kg: float  # of juice or extract: kg of sugar carried per kg
    native_fraction: float  # pectin of pulp [kg/kg]


# Clots and sugar by volume: test of the USDA Bureau of Chemistry as quoted in household texts. Strength per kg is own
# calculation: 0.85 kg of sugar per litre, 1.04 kg of juice per litre, 0.1 kg/kg own solids; `poor` lowered because the
# text says "one half or less". Pectin of pulp: judgement.
SPIRIT_TEST: Mapping[str, SpiritTest] = MappingProxyType(
    {
        "rich": SpiritTest(clot="one solid lump", sugar_per_juice=1.0, strength_per_kg=0.9, native_fraction=0.010),
        "medium": SpiritTest(clot="several lumps", sugar_per_juice=0.75, strength_per_kg=0.7, native_fraction=0.006),
        "poor": SpiritTest(clot="no lumps, flakes", sugar_per_juice=0.5, strength_per_kg=0.4, native_fraction=0.0025),
    }
)
EXTRACT_STRENGTH: Mapping[str, float] = MappingProxyType({k: v.strength_per_kg for k, v in SPIRIT_TEST.items()})
SPIRIT_TEST_NATIVE_FRACTION: Mapping[str, float] = MappingProxyType(
    {k: v.native_fraction for k, v in SPIRIT_TEST.items()}
)


@dataclass(frozen=True, kw_only=True)
class HmSetting:
    """A setting speed of high-methoxyl pectin; (low, high) of each."""

    esterification_fraction: tuple[float, float]  # handbook figure
    set_time_s: tuple[float, float]  # from memory
    set_temperature_C: tuple[float, float]  # at 65 % solids and pH 3.0, from memory
    ph: tuple[float, float]  # at 65 % solids, from memory, weak
    use: str


# 0.1 lower pH or 1 to 2 % more solids raises the setting temperature by a few degrees (from memory).
HM_SETTING: Mapping[str, HmSetting] = MappingProxyType(
    {
        "ultra-rapid": HmSetting(
            esterification_fraction=(0.74, 0.77), set_time_s=(0.0, 30.0), set_temperature_C=(85.0, 95.0),
            ph=(3.1, 3.4), use="large pieces of fruit",
        ),
        "rapid": HmSetting(
            esterification_fraction=(0.71, 0.74), set_time_s=(20.0, 70.0), set_temperature_C=(75.0, 85.0),
            ph=(3.0, 3.4), use="jam and marmalade: holds the fruit up",
        ),
        "medium": HmSetting(
            esterification_fraction=(0.66, 0.69), set_time_s=(100.0, 150.0), set_temperature_C=(65.0, 75.0),
            ph=(2.9, 3.3), use="jam",
        ),
        "slow": HmSetting(
            esterification_fraction=(0.58, 0.65), set_time_s=(180.0, 250.0), set_temperature_C=(45.0, 60.0),
            ph=(2.8, 3.2), use="clear jelly, large packs filled cooler",
        ),
    }
)  # fmt: skip

# Low-methoxyl pectin sets with calcium. Solids, pH, dose: handbook; calcium, dose in spreads: from memory, weak.
LM_SOLIDS_FRACTION, LM_PH = (0.10, 0.80), (2.5, 6.5)
LM_CALCIUM_MG_PER_G = (15.0, 35.0)
LM_DOSE_FRACTION, LM_SPREAD_DOSE_FRACTION = (0.005, 0.03), (0.007, 0.012)


def native_strength_per_kg(pectin_fraction: FloatOrArray) -> Any:
    """Strength of the pectin that fruit brings: 100 · 0.7 · pectin.

    Parameters
    ----------
    pectin_fraction : float or array
        Pectin of the fruit [kg/kg], from 0 to 0.1.

    Returns
    -------
    float or array
        Strength [kg of sugar carried per kg of fruit]; extraction and cooking loss are in it.

    Raises
    ------
    OutOfRange
        The pectin lies outside.

    References
    ----------
    .. [1] Judgement; the spirit test or a trial set is better.

    Examples
    --------
    >>> round(native_strength_per_kg(0.006), 2)
    0.42
    """
    require_range("pectin_fraction", pectin_fraction, 0.0, 0.1)
    return same_kind(NATIVE_GRADE * USABLE_SHARE * pectin_fraction)


def added_strength_per_kg(grade: FloatOrArray, loss_fraction: FloatOrArray = LATE_ADDITION_LOSS) -> Any:
    """Strength of one kg of bought pectin in the jam: grade · (1 - loss).

    Parameters
    ----------
    grade : float or array
        Grade, USA-SAG [kg sugar/kg], from 0 to 400.
    loss_fraction : float or array
        Lost in cooking [-], from 0 to 1; that of a late addition unless given.

    Returns
    -------
    float or array
        Strength [kg of sugar carried per kg of pectin].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] IFT Committee on Pectin Standardization, Food Technol. 13 (1959) 496, method 5-54 (from memory): definition.

    Examples
    --------
    >>> round(added_strength_per_kg(150.0), 1)
    142.5
    """
    require_range("grade", grade, 0.0, 400.0, "kg/kg")
    require_range("loss_fraction", loss_fraction, 0.0, 1.0)
    return same_kind(grade * (1.0 - loss_fraction))


def required_strength_per_kg(firmness: FloatOrArray) -> Any:
    """Strength that one kg of finished product needs: firmness · 0.65, at 60 to 70 % solids.

    It is per kg of product, not of solids: tied to solids it would fall as solids fall, the wrong way.

    Parameters
    ----------
    firmness : float or array
        1 is the standard jelly; from 0 to 3.

    Returns
    -------
    float or array
        Strength needed [kg of sugar carried per kg of product].

    Raises
    ------
    OutOfRange
        The firmness lies outside.

    References
    ----------
    .. [1] Follows from the definition of the grade, IFT method 5-54.

    Examples
    --------
    >>> required_strength_per_kg(1.0)
    0.65
    """
    require_range("firmness", firmness, 0.0, 3.0)
    return same_kind(STANDARD_SOLIDS_FRACTION * firmness)


def loss_in_cooking_fraction(minutes: FloatOrArray) -> Any:
    """Strength that pectin loses while it boils with acid: 0.028 per minute, at most one half.

    Parameters
    ----------
    minutes : float or array
        Time at the boil after acid and pectin are together [min], from 0 to 600; printed figures end at 12.

    Returns
    -------
    float or array
        Share of the strength lost [-].

    Raises
    ------
    OutOfRange
        The time lies outside.

    References
    ----------
    .. [1] B. Lowe, Experimental Cookery, pressure gauge strengths; pH not stated. The first minutes cost less.

    Examples
    --------
    >>> round(loss_in_cooking_fraction(10.0), 2)
    0.28
    """
    require_range("minutes", minutes, 0.0, 600.0, "min")
    return same_kind(np.minimum(MOST_LOSS, LOSS_PER_MINUTE * minutes))


def grade_from_sag(assumed_grade: FloatOrArray, sag_fraction: FloatOrArray) -> Any:
    """Grade of a pectin from the sag of a test jelly made for an assumed grade: assumed · (2 - sag/0.235).

    The jelly holds 650 g of sugar in a kilogram and 650/assumed grams of pectin, pH 2.2 to 2.4, and stands 18 to 24 h
    at 25 degC before it is turned out.

    Parameters
    ----------
    assumed_grade : float or array
        Grade the test jelly was made for [kg/kg], from 50 to 400.
    sag_fraction : float or array
        Height lost after turning out, as share of the height of the glass [-], from 0.19 to 0.28.

    Returns
    -------
    float or array
        Grade [kg/kg].

    Raises
    ------
    OutOfRange
        An input lies outside: make the jelly again for a better guess.

    References
    ----------
    .. [1] IFT Committee on Pectin Standardization, Food Technol. 13 (1959) 496, method 5-54 (from memory).

    Examples
    --------
    >>> round(grade_from_sag(150.0, 0.2115), 1)
    165.0
    """
    require_range("assumed_grade", assumed_grade, 50.0, 400.0, "kg/kg")
    require_range("sag_fraction", sag_fraction, 0.19, 0.28)
    return same_kind(assumed_grade * (2.0 - sag_fraction / STANDARD_SAG_FRACTION))


def check_hm_window(solids_fraction: float, ph: float) -> tuple[str, ...]:
    """Cautions for a set with sugar and acid (high-methoxyl pectin, or that of the fruit).

    Parameters
    ----------
    solids_fraction : float
        Soluble solids of the finished product [-].
    ph : float
        Its pH [-].

    Returns
    -------
    tuple of str
        Cautions, empty in the usual window of 60 to 70 % solids and pH 2.8 to 3.5.

    Raises
    ------
    OutOfRange
        Below 55 % solids or above pH 3.6 it does not set.

    References
    ----------
    .. [1] Handbook windows: above 55 % solids; pH 2.8 to 3.5. Weeping below 2.8: common practice, no source.

    Examples
    --------
    >>> check_hm_window(0.66, 3.2)
    ()
    >>> check_hm_window(0.45, 3.2)
    Traceback (most recent call last):
        ...
    optimizer.errors.OutOfRange: solids_fraction=0.45: below 0.55 sugar and acid set no jelly; cook further or use ...
    """
    require_range("solids_fraction", solids_fraction, 0.0, 0.85)
    require_range("ph", ph, 0.0, 14.0)
    if solids_fraction < HM_LEAST_SOLIDS_FRACTION:
        raise OutOfRange(
            f"solids_fraction={solids_fraction:g}: below {HM_LEAST_SOLIDS_FRACTION:g} sugar and acid set no jelly; "
            "cook further or use low-methoxyl pectin"
        )
    if ph > HM_MOST_PH:
        raise OutOfRange(f"ph={ph:g}: above {HM_MOST_PH:g} sugar and acid set no jelly; add acid")
    cautions = []
    if ph < HM_WEEPING_PH:
        cautions.append(f"pH {ph:.2f} is below {HM_WEEPING_PH}: the gel may weep")
    elif ph > 3.5:
        cautions.append(f"pH {ph:.2f} is above 3.5: the set will be weak")
    if not 0.60 <= solids_fraction <= 0.70:
        cautions.append(
            f"{solids_fraction:.0%} solids: the strength needed is known from 60 to 70 % only; cook a trial"
        )
    return tuple(cautions)


def lm_calcium_mg_per_g(
    bound_fraction: FloatOrArray,
    esterification_fraction: FloatOrArray = 0.35,
    galacturonic_fraction: FloatOrArray = 0.65,
) -> Any:
    """Calcium that binds a share of the free acid groups of low-methoxyl pectin.

    A good gel has 40 to 50 % bound; at 80 to 90 % it is brittle and weeps. Amidated pectin takes about half.

    Parameters
    ----------
    bound_fraction : float or array
        Share of free acid groups bound [-], from 0 to 1.
    esterification_fraction : float or array
        Degree of esterification [-], from 0 to 0.5.
    galacturonic_fraction : float or array
        Galacturonic acid in the powder [kg/kg], from 0.3 to 1.

    Returns
    -------
    float or array
        Calcium [mg per g of pectin powder].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] Stoichiometry: one calcium for two groups, 176.1 g per mole of anhydrogalacturonic acid.

    Examples
    --------
    >>> round(lm_calcium_mg_per_g(0.4)), round(lm_calcium_mg_per_g(0.5))
    (19, 24)
    """
    require_range("bound_fraction", bound_fraction, 0.0, 1.0)
    require_range("esterification_fraction", esterification_fraction, 0.0, 0.5)
    require_range("galacturonic_fraction", galacturonic_fraction, 0.3, 1.0)
    free_mmol_per_g = galacturonic_fraction * (1.0 - esterification_fraction) / 0.1761
    return same_kind(0.5 * 40.078 * bound_fraction * free_mmol_per_g)
