"""A lot's acid and strong ions, read from its pH and titratable acid, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.errors import OutOfRange
from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.acids import USUAL_IONIC_STRENGTH, mix_charge, water_term_mol_per_kg

CITRIC_KG_PER_EQUIVALENT = 0.06404  # anhydrous: 192.12 / 3
TITRATION_END_PH = 8.1  # 8.2 changes titratable acid by less than 0.1 %
LEAST_LOT_PH, MOST_LOT_PH = 1.8, 6.0
STRONG_ION_WARN_MOL_PER_KG, MOST_STRONG_ION_MOL_PER_KG = 0.15, 1.0


@dataclass(frozen=True, kw_only=True)
class LotAcid:
    """What makes the pH of a lot, per kg of lot: floats, or arrays where arrays were measured."""

    acid_mol_per_kg: Any
    strong_ion_mol_per_kg: Any  # strong cations less strong anions, K+ mostly
    warnings: tuple[str, ...] = ()


def titration_acid_fraction(
    *,
    titre_mL: FloatOrArray,
    base_mol_per_L: FloatOrArray,
    sample_g: FloatOrArray,
    aliquot_share_fraction: FloatOrArray = 1.0,
    equivalent_kg_per_mol: float = CITRIC_KG_PER_EQUIVALENT,
) -> Any:
    """Titratable acid of a sample from the burette.

    Parameters
    ----------
    titre_mL : float or array
        Base used up to pH 8.1 (phenolphthalein) [mL], from 0 to 1000.
    base_mol_per_L : float or array
        Strength of the base [mol/L], from 0.001 to 5.
    sample_g : float or array
        Fruit weighed in [g], from 0.01 to 10000.
    aliquot_share_fraction : float or array
        Share of the diluted sample that was titrated [-], above 0 up to 1.
    equivalent_kg_per_mol : float
        Mass of acid per mole of base [kg/mol]; anhydrous citric acid unless given.

    Returns
    -------
    float or array
        Acid [kg per kg of sample, not of the diluted solution].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] Common practice of fruit laboratories.

    Examples
    --------
    >>> round(titration_acid_fraction(titre_mL=1.6, base_mol_per_L=0.1, sample_g=10.0, aliquot_share_fraction=0.2), 4)
    0.0051
    """
    require_range("titre_mL", titre_mL, 0.0, 1000.0, "mL")
    require_range("base_mol_per_L", base_mol_per_L, 0.001, 5.0, "mol/L")
    require_range("sample_g", sample_g, 0.01, 10000.0, "g")
    require_range("aliquot_share_fraction", aliquot_share_fraction, 1e-6, 1.0)
    require_range("equivalent_kg_per_mol", equivalent_kg_per_mol, 0.03, 0.25, "kg/mol")
    return same_kind(titre_mL * base_mol_per_L * equivalent_kg_per_mol / (aliquot_share_fraction * sample_g))


def lot_from_measurements(
    *,
    ph: FloatOrArray,
    titratable_acid_fraction: FloatOrArray,
    water_fraction: FloatOrArray,
    acid_mix: Mapping[str, float],
    ionic_strength_mol_per_kg: float = USUAL_IONIC_STRENGTH,
) -> LotAcid:
    """Moles of acid and of strong ions in a lot, from its pH and its titratable acid.

    With E = T/0.06404 mol/kg of base to pH 8.1: A = [E - w (10^-pH - 10^-8.1)/γ] / [z(8.1) - z(pH)] and
    S = A z(pH) - w 10^-pH/γ.

    Parameters
    ----------
    ph : float or array
        Measured pH [-], from 1.8 to 6.0.
    titratable_acid_fraction : float or array
        Titratable acid to pH 8.1 as anhydrous citric acid [kg/kg], above 0 up to 0.5.
    water_fraction : float or array
        Water of the lot [kg/kg], above 0 up to 1.
    acid_mix : mapping of str to float
        Share of each acid by mole [-], adding up to 1.
    ionic_strength_mol_per_kg : float
        Ionic strength held fixed [mol/kg water].

    Returns
    -------
    LotAcid
        Acid and strong ions [mol/kg lot], with a warning where the strong ions are unusual.

    Raises
    ------
    OutOfRange
        A measurement lies outside, or the two contradict each other: more free acid than the titration found, or
        so much acid at so high a pH that strong ions would be above 1 mol/kg.

    References
    ----------
    .. [1] Charge balance; constants as in `ACIDS`.

    Examples
    --------
    >>> lot = lot_from_measurements(
    ...     ph=3.45, titratable_acid_fraction=0.0095, water_fraction=0.895, acid_mix={"citric": 0.88, "malic": 0.12}
    ... )
    >>> round(lot.acid_mol_per_kg, 5), round(lot.strong_ion_mol_per_kg, 5)
    (0.07098, 0.0557)
    """
    require_range("ph", ph, LEAST_LOT_PH, MOST_LOT_PH)
    if np.any(np.less_equal(titratable_acid_fraction, 0.0)):
        raise OutOfRange("titratable_acid_fraction must be above 0; where it was not measured say so, do not write 0")
    require_range("titratable_acid_fraction", titratable_acid_fraction, 0.0, 0.5)
    _require_water(water_fraction)
    strength = ionic_strength_mol_per_kg
    free = water_fraction * water_term_mol_per_kg(ph, strength)
    free_at_end = water_fraction * water_term_mol_per_kg(TITRATION_END_PH, strength)
    charge = mix_charge(acid_mix, ph, strength)
    base = titratable_acid_fraction / CITRIC_KG_PER_EQUIVALENT
    acid = (base - free + free_at_end) / (mix_charge(acid_mix, TITRATION_END_PH, strength) - charge)
    strong_ion = acid * charge - free
    _refuse_contradictions(ph, titratable_acid_fraction, acid, strong_ion)
    return _lot(acid, strong_ion)


def lot_from_ph_and_strong_ions(
    *,
    ph: FloatOrArray,
    strong_ion_mol_per_kg: FloatOrArray,
    water_fraction: FloatOrArray,
    acid_mix: Mapping[str, float],
    ionic_strength_mol_per_kg: float = USUAL_IONIC_STRENGTH,
) -> LotAcid:
    """Moles of acid of a lot whose acid was not measured, from its pH and a figure for its strong ions.

    A = (S + w 10^-pH/γ) / z(pH).

    Parameters
    ----------
    ph : float or array
        Measured pH [-], from 1.8 to 6.0.
    strong_ion_mol_per_kg : float or array
        Strong ions [mol/kg lot], from 0 to 0.5; for fruit take 0.10 or less.
    water_fraction : float or array
        Water of the lot [kg/kg], above 0 up to 1.
    acid_mix : mapping of str to float
        Share of each acid by mole [-], adding up to 1.
    ionic_strength_mol_per_kg : float
        Ionic strength held fixed [mol/kg water].

    Returns
    -------
    LotAcid
        Acid and strong ions [mol/kg lot].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] Charge balance; constants as in `ACIDS`.

    Examples
    --------
    >>> lot = lot_from_ph_and_strong_ions(
    ...     ph=5.2, strong_ion_mol_per_kg=0.08, water_fraction=0.88, acid_mix={"malic": 1.0}
    ... )
    >>> round(lot.acid_mol_per_kg, 4)
    0.0465
    """
    require_range("ph", ph, LEAST_LOT_PH, MOST_LOT_PH)
    require_range("strong_ion_mol_per_kg", strong_ion_mol_per_kg, 0.0, 0.5, "mol/kg")
    _require_water(water_fraction)
    free = water_fraction * water_term_mol_per_kg(ph, ionic_strength_mol_per_kg)
    acid = (strong_ion_mol_per_kg + free) / mix_charge(acid_mix, ph, ionic_strength_mol_per_kg)
    return _lot(acid, strong_ion_mol_per_kg)


def titratable_acid_fraction(
    *,
    ph: FloatOrArray,
    acid_mol_per_kg: FloatOrArray,
    water_fraction: FloatOrArray,
    acid_mix: Mapping[str, float],
    ionic_strength_mol_per_kg: float = USUAL_IONIC_STRENGTH,
) -> Any:
    """Titratable acid of a lot or product from its acid and pH: the inverse of `lot_from_measurements`.

    Parameters
    ----------
    ph : float or array
        pH [-], from 1.8 to 8.1.
    acid_mol_per_kg : float or array
        Acid [mol/kg], from 0 to 10.
    water_fraction : float or array
        Water [kg/kg], above 0 up to 1.
    acid_mix : mapping of str to float
        Share of each acid by mole [-], adding up to 1.
    ionic_strength_mol_per_kg : float
        Ionic strength held fixed [mol/kg water].

    Returns
    -------
    float or array
        Titratable acid to pH 8.1, as anhydrous citric acid [kg/kg].

    Raises
    ------
    OutOfRange
        An input lies outside.

    References
    ----------
    .. [1] Charge balance; constants as in `ACIDS`.

    Examples
    --------
    >>> strawberry = {"citric": 0.88, "malic": 0.12}
    >>> round(titratable_acid_fraction(ph=3.45, acid_mol_per_kg=0.07098, water_fraction=0.895, acid_mix=strawberry), 4)
    0.0095
    """
    require_range("ph", ph, LEAST_LOT_PH, TITRATION_END_PH)
    require_range("acid_mol_per_kg", acid_mol_per_kg, 0.0, 10.0, "mol/kg")
    _require_water(water_fraction)
    strength = ionic_strength_mol_per_kg
    taken = mix_charge(acid_mix, TITRATION_END_PH, strength) - mix_charge(acid_mix, ph, strength)
    free = water_term_mol_per_kg(ph, strength) - water_term_mol_per_kg(TITRATION_END_PH, strength)
    return same_kind(CITRIC_KG_PER_EQUIVALENT * (acid_mol_per_kg * taken + water_fraction * free))


def _require_water(water_fraction: FloatOrArray) -> None:
    require_range("water_fraction", water_fraction, 1e-6, 1.0)


def _refuse_contradictions(ph: Any, titratable_acid_fraction: Any, acid: Any, strong_ion: Any) -> None:
    """Refuse pH and titration that no one lot can have, naming the first such pair."""
    for wrong, why in (
        (np.less_equal(acid, 0.0), "at that pH there are more free hydrogen ions than the titration found acid"),
        (
            np.greater(strong_ion, MOST_STRONG_ION_MOL_PER_KG),
            f"so much acid at that pH would take more than {MOST_STRONG_ION_MOL_PER_KG:g} mol/kg of potassium, ten "
            "times what fruit has",
        ),
    ):
        if np.any(wrong):
            bad_ph, bad_acid = (
                float(np.broadcast_to(value, np.shape(wrong))[wrong].flat[0])
                for value in (ph, titratable_acid_fraction)
            )
            raise OutOfRange(
                f"ph={bad_ph:g} and titratable_acid_fraction={bad_acid:g} contradict each other: {why}; "
                "measure both again"
            )


def _lot(acid: Any, strong_ion: Any) -> LotAcid:
    """The lot with its warnings."""
    warnings = []
    if np.any(np.greater(strong_ion, STRONG_ION_WARN_MOL_PER_KG)):
        warnings.append(
            f"strong ions {float(np.max(strong_ion)):.3f} mol/kg are more than most fruit has: "
            "measure pH and acid again"
        )
    if np.any(np.less(strong_ion, 0.0)):
        warnings.append(
            f"strong ions {float(np.min(strong_ion)):.3f} mol/kg are negative: the pH is low for that acid, "
            "measure pH and acid again"
        )
    return LotAcid(
        acid_mol_per_kg=same_kind(acid), strong_ion_mol_per_kg=same_kind(strong_ion), warnings=tuple(warnings)
    )
