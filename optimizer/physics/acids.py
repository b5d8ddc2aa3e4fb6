"""Acids of fruit: dissociation constants and the charge their anions carry at a pH."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind

DAVIES_A = 0.509  # Debye-Hückel slope of water at 25 degC
CHECKED_IONIC_STRENGTH = 0.5  # [mol/kg water]: above it the caller should warn
MOST_IONIC_STRENGTH = 1.0  # [mol/kg water]: above it the Davies term turns the wrong way
USUAL_IONIC_STRENGTH = 0.10  # [mol/kg water]: of fruit, held fixed where lots are read from measurements


@dataclass(frozen=True, kw_only=True)
class AcidConstants:
    """One acid at 25 degC and ionic strength 0; the neutral molecule has no charge."""

    name: str
    pKa: tuple[float, ...]
    molar_mass_kg_per_mol: float  # anhydrous
    equivalents: int  # protons that a titration to pH 8.1 takes


def _acid(name: str, molar_mass_kg_per_mol: float, *pKa: float, equivalents: int | None = None) -> AcidConstants:
    return AcidConstants(
        name=name,
        pKa=pKa,
        molar_mass_kg_per_mol=molar_mass_kg_per_mol,
        equivalents=len(pKa) if equivalents is None else equivalents,
    )


# R. N. Goldberg et al., J. Phys. Chem. Ref. Data 31 (2002) 231 and handbooks of that kind; all from memory.
ACIDS: Mapping[str, AcidConstants] = MappingProxyType(
    {
        acid.name: acid
        for acid in (
            _acid("citric", 0.192124, 3.128, 4.761, 6.396),
            _acid("malic", 0.134087, 3.459, 5.097),
            _acid("tartaric", 0.150087, 3.036, 4.366),
            _acid("phosphoric", 0.097995, 2.148, 7.198, 12.35, equivalents=2),
            _acid("benzoic", 0.122121, 4.20),
            _acid("sorbic", 0.112127, 4.76),
            _acid("ascorbic", 0.176124, 4.10),
            _acid("phthalic", 0.166131, 2.950, 5.408),
            _acid("galacturonic", 0.194139, 3.5),
        )
    }
)


def acid_constants(acid: str) -> AcidConstants:
    """Constants of an acid by name.

    Parameters
    ----------
    acid : str
        A key of `ACIDS`.

    Returns
    -------
    AcidConstants
        Its entry.

    Raises
    ------
    OutOfRange
        There are no constants for an acid of that name.

    References
    ----------
    .. [1] R. N. Goldberg et al., J. Phys. Chem. Ref. Data 31 (2002) 231 (from memory).

    Examples
    --------
    >>> acid_constants("malic").pKa
    (3.459, 5.097)
    """
    try:
        return ACIDS[acid]
    except KeyError:
        raise OutOfRange(f"acid={acid!r}: no constants; known are {', '.join(ACIDS)}") from None


def davies_term(ionic_strength_mol_per_kg: FloatOrArray) -> Any:
    """Davies' 0.509 (√I/(1 + √I) - 0.3 I), unchecked: -log γ of an ion of charge one.

    Parameters
    ----------
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water].

    Returns
    -------
    float or array
        The term [-]; an ion of charge z has z² times it.

    References
    ----------
    .. [1] C. W. Davies, Ion Association, 1962 (from memory).

    Examples
    --------
    >>> round(davies_term(0.10), 4)
    0.107
    """
    root = ionic_strength_mol_per_kg**0.5
    return DAVIES_A * (root / (1.0 + root) - 0.3 * ionic_strength_mol_per_kg)


def activity_coefficient(charge: FloatOrArray, ionic_strength_mol_per_kg: FloatOrArray) -> Any:
    """Activity coefficient of an ion in water at 25 degC: log γ = -0.509 z² (√I/(1 + √I) - 0.3 I).

    Parameters
    ----------
    charge : float or array
        Charge number of the ion [-], from -4 to 4.
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water], from 0 to 1; accurate to 0.5.

    Returns
    -------
    float or array
        Activity coefficient [-].

    Raises
    ------
    OutOfRange
        Charge or ionic strength lie outside.

    References
    ----------
    .. [1] C. W. Davies, Ion Association, 1962 (from memory).

    Examples
    --------
    >>> round(activity_coefficient(1, 0.10), 4)
    0.7816
    """
    require_range("charge", charge, -4.0, 4.0)
    require_range("ionic_strength_mol_per_kg", ionic_strength_mol_per_kg, 0.0, MOST_IONIC_STRENGTH, "mol/kg water")
    return same_kind(10.0 ** (-(charge**2) * davies_term(ionic_strength_mol_per_kg)))


def mean_charge(acid: str, ph: FloatOrArray, ionic_strength_mol_per_kg: FloatOrArray = USUAL_IONIC_STRENGTH) -> Any:
    """Negative charges that a molecule of an acid carries on average: z = Σ j b_j / Σ b_j.

    b_0 = 1 and b_j = b_(j-1) 10^(pH - pK'_j), where pK'_j = pK_j + log γ_j - log γ_(j-1).

    Parameters
    ----------
    acid : str
        A key of `ACIDS`.
    ph : float or array
        pH of the water phase [-], from 0 to 14.
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water], from 0 to 1.

    Returns
    -------
    float or array
        Mean charge [mol of charge per mol of acid], from 0 to the number of constants.

    Raises
    ------
    OutOfRange
        The acid is not known, or pH or ionic strength lie outside.

    References
    ----------
    .. [1] Stepwise dissociation with the Davies equation; constants as in `ACIDS`.

    Examples
    --------
    >>> round(mean_charge("citric", 3.2, 0.10), 4)
    0.6486
    """
    require_range("ph", ph, 0.0, 14.0)
    require_range("ionic_strength_mol_per_kg", ionic_strength_mol_per_kg, 0.0, MOST_IONIC_STRENGTH, "mol/kg water")
    davies = davies_term(ionic_strength_mol_per_kg)
    total, weighted, pK_sum = 1.0, 0.0, 0.0
    for charge, pKa in enumerate(acid_constants(acid).pKa, start=1):
        pK_sum += pKa
        share = 10.0 ** (charge * ph - pK_sum + charge**2 * davies)
        total = total + share
        weighted = weighted + charge * share
    return same_kind(weighted / total)


def mix_charge(
    acid_mix: Mapping[str, float], ph: FloatOrArray, ionic_strength_mol_per_kg: FloatOrArray = USUAL_IONIC_STRENGTH
) -> Any:
    """Mean charge of a mixture of acids: Σ f_k z_k, shares by mole.

    Parameters
    ----------
    acid_mix : mapping of str to float
        Share of each acid in the moles of acid [-]; the shares add up to 1.
    ph : float or array
        pH of the water phase [-], from 0 to 14.
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water], from 0 to 1.

    Returns
    -------
    float or array
        Mean charge [mol of charge per mol of acid].

    Raises
    ------
    OutOfRange
        The shares do not add up to 1, one is negative, an acid is not known, or pH or ionic strength lie outside.

    References
    ----------
    .. [1] As `mean_charge`.

    Examples
    --------
    >>> round(mix_charge({"citric": 0.88, "malic": 0.12}, 3.2), 4)
    0.6224
    """
    for acid, share in acid_mix.items():
        require_range(f"acid_mix[{acid!r}]", share, 0.0, 1.0 + 1e-6)
    total = sum(acid_mix.values())
    if not abs(total - 1.0) <= 1e-6:
        raise OutOfRange(
            f"acid_mix={dict(acid_mix)}: the shares add up to {total:g}; give shares by mole that add up to 1"
        )
    # An acid of share 0 is looked up all the same: a wrong name must not pass.
    return same_kind(sum(share * mean_charge(acid, ph, ionic_strength_mol_per_kg) for acid, share in acid_mix.items()))


def water_term_mol_per_kg(ph: FloatOrArray, ionic_strength_mol_per_kg: FloatOrArray = USUAL_IONIC_STRENGTH) -> Any:
    """Free hydrogen ions per kg of water: 10^-pH / γ.

    Parameters
    ----------
    ph : float or array
        pH [-], from 0 to 14.
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water], from 0 to 1.

    Returns
    -------
    float or array
        Hydrogen ions [mol/kg water].

    Raises
    ------
    OutOfRange
        pH or ionic strength lie outside.

    References
    ----------
    .. [1] Definition of pH by activity; Davies equation.

    Examples
    --------
    >>> round(34.5 * water_term_mol_per_kg(3.20), 5)
    0.02785
    """
    require_range("ph", ph, 0.0, 14.0)
    return same_kind(10.0**-ph / activity_coefficient(1, ionic_strength_mol_per_kg))
