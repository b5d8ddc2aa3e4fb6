"""Preservatives: what the salts hold, how much of it works at a pH, and what to be careful with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind

# pKa at 25 degC. Benzoic and sorbic acid: food additive handbooks; molecular SO2: from memory.
PKA: Mapping[str, float] = MappingProxyType({"benzoic": 4.19, "sorbic": 4.76, "so2": 1.86})
SORBIC_DISSOLVES_MG_PER_KG = 800.0  # in 60 % sucrose at 20 degC, reference text on sorbic acid
SO2_DECLARED_MG_PER_KG = 10.0  # allergen: US from 10 (21 CFR 130.9), EU above 10 (Regulation (EU) 1169/2011)


@dataclass(frozen=True, kw_only=True)
class Salt:
    """A preservative as bought."""

    active: str  # key of PKA
    active_fraction: float  # kg of free acid or SO2 per kg
    source: str


SALTS: Mapping[str, Salt] = MappingProxyType(
    {
        "potassium metabisulphite": Salt(active="so2", active_fraction=0.576, source="handbook; 128.13/222.32"),
        "sodium metabisulphite": Salt(active="so2", active_fraction=0.674, source="formula masses, 128.13/190.11"),
        "sodium benzoate": Salt(active="benzoic", active_fraction=122.12 / 144.105, source="formula masses, 0.847"),
        "benzoic acid": Salt(active="benzoic", active_fraction=1.0, source="the free acid itself"),
        "potassium sorbate": Salt(active="sorbic", active_fraction=112.13 / 150.22, source="formula masses, 0.746"),
        "sorbic acid": Salt(active="sorbic", active_fraction=1.0, source="the free acid itself"),
    }
)


def undissociated_fraction(acid: str | FloatOrArray, ph: FloatOrArray) -> Any:
    """Share of a preservative that works: the undissociated acid, 1/(1 + 10^(pH - pKa)).

    Parameters
    ----------
    acid : str or float or array
        `benzoic`, `sorbic` or `so2`, or a pKa from 0 to 10.
    ph : float or array
        pH [-], from 0 to 10.

    Returns
    -------
    float or array
        Share [-].

    Raises
    ------
    OutOfRange
        The acid is not known, or pH or pKa lie outside.

    References
    ----------
    .. [1] Henderson and Hasselbalch; sugar and salts are left out.

    Examples
    --------
    >>> [round(undissociated_fraction("benzoic", ph), 2) for ph in (3.0, 3.5, 4.0)]
    [0.94, 0.83, 0.61]
    """
    require_range("ph", ph, 0.0, 10.0)
    if isinstance(acid, str):
        if acid not in PKA:
            raise OutOfRange(f"acid={acid!r}: no constant; known are {', '.join(PKA)}")
        pKa: FloatOrArray = PKA[acid]
    else:
        pKa = acid
        require_range("pKa", pKa, 0.0, 10.0)
    return same_kind(1.0 / (1.0 + 10.0 ** (ph - pKa)))


def salt_kg(salt: str, active_kg: FloatOrArray) -> Any:
    """Salt to weigh for an amount of free acid or SO2; limits and doses are stated as these.

    Parameters
    ----------
    salt : str
        A key of `SALTS`.
    active_kg : float or array
        Free acid or SO2 wanted [kg], not negative.

    Returns
    -------
    float or array
        Pure, fresh salt [kg]. Aged metabisulphite holds less: 0.50 instead of 0.576 (from memory).

    Raises
    ------
    OutOfRange
        The salt is not known or the amount negative.

    References
    ----------
    .. [1] Sources in `SALTS`.

    Examples
    --------
    600 mg/kg SO2 in 10 kg:

    >>> round(salt_kg("potassium metabisulphite", 0.006), 5)
    0.01042
    """
    require_range("active_kg", active_kg, 0.0, 1e9, "kg")
    if salt not in SALTS:
        raise OutOfRange(f"salt={salt!r}: not known; known are {', '.join(SALTS)}")
    return same_kind(active_kg / SALTS[salt].active_fraction)


def preservative_cautions(
    *,
    ph: float,
    so2_mg_per_kg: float = 0.0,
    benzoic_mg_per_kg: float = 0.0,
    sorbic_mg_per_kg: float = 0.0,
    has_added_ascorbic: bool = False,
    is_tinned: bool = False,
) -> tuple[str, ...]:
    """What to be careful with at a dose; none of it replaces the limits of the place of sale.

    Parameters
    ----------
    ph : float
        pH of the product [-], from 0 to 10.
    so2_mg_per_kg, benzoic_mg_per_kg, sorbic_mg_per_kg : float
        Doses as free acid or SO2 [mg/kg].
    has_added_ascorbic : bool
        Whether ascorbic acid is added.
    is_tinned : bool
        Whether it goes into tins.

    Returns
    -------
    tuple of str
        Cautions, most often none.

    Raises
    ------
    OutOfRange
        The pH lies outside or a dose is negative.

    References
    ----------
    .. [1] 21 CFR 130.9 and Regulation (EU) 1169/2011, Annex II (sulphite); reference text (solubility of sorbic acid);
       FPO preservative schedule (tins); benzoate with ascorbic acid: industry guidance, from memory.

    Examples
    --------
    >>> preservative_cautions(ph=3.2, benzoic_mg_per_kg=500.0)
    ()
    >>> preservative_cautions(ph=4.5, benzoic_mg_per_kg=500.0)
    ('at pH 4.50 only 33 % of the benzoic acid works: lower the pH rather than raise the dose',)
    """
    doses = {"so2": so2_mg_per_kg, "benzoic": benzoic_mg_per_kg, "sorbic": sorbic_mg_per_kg}
    for name, dose in doses.items():
        require_range(f"{name}_mg_per_kg", dose, 0.0, 1e6, "mg/kg")
    cautions = []
    for name in ("benzoic", "sorbic"):
        working = undissociated_fraction(name, ph)
        if doses[name] > 0.0 and working < 0.5:
            cautions.append(
                f"at pH {ph:.2f} only {100 * working:.0f} % of the {name} acid works: "
                "lower the pH rather than raise the dose"
            )
    if sorbic_mg_per_kg > SORBIC_DISSOLVES_MG_PER_KG:
        cautions.append(f"{sorbic_mg_per_kg:g} mg/kg sorbic acid: more than about 800 does not dissolve in 60 % sugar")
    if benzoic_mg_per_kg > 0.0 and has_added_ascorbic:
        cautions.append("benzoate with added ascorbic acid can form benzene: use only one of them")
    if so2_mg_per_kg >= SO2_DECLARED_MG_PER_KG:
        cautions.append(f"{so2_mg_per_kg:g} mg/kg SO2: declare sulphites as an allergen")
    if so2_mg_per_kg > 0.0 and is_tinned:
        cautions.append("products with SO2 do not go into tins")
    return tuple(cautions)
