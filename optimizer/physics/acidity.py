"""pH of blends: lots from their pH and titration, the linear row at a fixed pH, and the full charge balance.

pH does not mix linearly, charge does. Each lot is read once as moles of acid and of strong ions (potassium mostly) per
kg; at a fixed pH the base needed to bring a lot there is a constant, and the needs of a blend add up.

pH here is that of the water phase at 20 to 25 degC. Up to 50 % sucrose does not move it; for a 65 % jam measured
undiluted no published comparison was found, so allow 0.1 either way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.physics._charge_balance import acid_in_water, solve_many, solve_one
from optimizer.physics._check import FloatOrArray, require_range, same_kind
from optimizer.physics.acids import (
    ACIDS,
    CHECKED_IONIC_STRENGTH,
    USUAL_IONIC_STRENGTH,
    AcidConstants,
    acid_constants,
    activity_coefficient,
    mean_charge,
    mix_charge,
    water_term_mol_per_kg,
)
from optimizer.physics.titration import (
    CITRIC_KG_PER_EQUIVALENT,
    STRONG_ION_WARN_MOL_PER_KG,
    TITRATION_END_PH,
    LotAcid,
    lot_from_measurements,
    lot_from_ph_and_strong_ions,
    titratable_acid_fraction,
    titration_acid_fraction,
)

__all__ = [
    "ACIDS",
    "CITRIC_KG_PER_EQUIVALENT",
    "STRONG_ION_WARN_MOL_PER_KG",
    "TITRATION_END_PH",
    "USUAL_IONIC_STRENGTH",
    "AcidConstants",
    "LotAcid",
    "PhAnswer",
    "activity_coefficient",
    "base_demand_mol_per_kg",
    "free_ph",
    "lot_from_measurements",
    "lot_from_ph_and_strong_ions",
    "mean_charge",
    "mix_charge",
    "titratable_acid_fraction",
    "titration_acid_fraction",
    "water_term_mol_per_kg",
]

CHECKED_PH = (2.0, 7.0)


@dataclass(frozen=True, kw_only=True)
class PhAnswer:
    """pH and ionic strength of a mixture: floats, or arrays of the shape that came in."""

    ph: Any
    ionic_strength_mol_per_kg: Any
    warnings: tuple[str, ...] = ()


def base_demand_mol_per_kg(
    ph: FloatOrArray,
    *,
    acid_mol_per_kg: FloatOrArray,
    strong_ion_mol_per_kg: FloatOrArray,
    acid_mix: Mapping[str, float],
    ionic_strength_mol_per_kg: FloatOrArray = USUAL_IONIC_STRENGTH,
) -> Any:
    """Base that one kg of a stream needs to be at a pH, free hydrogen ions apart: c = A z(pH) - S.

    In a blend Σ c use - (10^-P/γ) water ≥ 0 says pH ≤ P, and ≤ 0 says pH ≥ P: exact at the ionic strength used.

    Parameters
    ----------
    ph : float or array
        The fixed pH [-], from 0 to 14.
    acid_mol_per_kg : float or array
        Acid of the stream [mol/kg], not negative.
    strong_ion_mol_per_kg : float or array
        Its strong ions [mol/kg].
    acid_mix : mapping of str to float
        Share of each acid by mole [-], adding up to 1; may be empty where there is no acid.
    ionic_strength_mol_per_kg : float or array
        Ionic strength [mol/kg water], from 0 to 1.

    Returns
    -------
    float or array
        Base needed [mol/kg]; negative where the stream is itself a base at that pH.

    Raises
    ------
    OutOfRange
        An input lies outside, or there is acid but no mix.

    References
    ----------
    .. [1] Charge balance; constants as in `ACIDS`.

    Examples
    --------
    Anhydrous citric acid, and trisodium citrate dihydrate, at pH 3.20:

    >>> round(base_demand_mol_per_kg(3.2, acid_mol_per_kg=1 / 0.192124, strong_ion_mol_per_kg=0.0,
    ...                              acid_mix={"citric": 1.0}), 4)
    3.3759
    >>> round(base_demand_mol_per_kg(3.2, acid_mol_per_kg=1 / 0.29410, strong_ion_mol_per_kg=3 / 0.29410,
    ...                              acid_mix={"citric": 1.0}), 4)
    -7.9953
    """
    require_range("acid_mol_per_kg", acid_mol_per_kg, 0.0, 30.0, "mol/kg")
    require_range("strong_ion_mol_per_kg", strong_ion_mol_per_kg, -30.0, 50.0, "mol/kg")
    if not acid_mix and not np.any(acid_mol_per_kg):
        return same_kind(-strong_ion_mol_per_kg + 0.0 * ph)
    return same_kind(acid_mol_per_kg * mix_charge(acid_mix, ph, ionic_strength_mol_per_kg) - strong_ion_mol_per_kg)


def free_ph(*, acid_mol: Mapping[str, FloatOrArray], strong_ion_mol_per_kg: FloatOrArray) -> PhAnswer:
    """pH of a mixture from all its acids and strong ions, with the ionic strength that they make themselves.

    S + [H+] - [OH-] = Σ m z, I = (|S| + [H+] + [OH-] + Σ m z²)/2 over the anions, per kg of water at 25 degC. Calcium
    bound to citrate and the acid of pectin itself (5 mmol/kg) are not in it.

    Parameters
    ----------
    acid_mol : mapping of str to float or array
        Each acid, dissociated or not [mol/kg water], from 0 to 5; may be empty.
    strong_ion_mol_per_kg : float or array
        Strong cations less strong anions [mol/kg water], from -2 to 2.

    Returns
    -------
    PhAnswer
        pH, ionic strength [mol/kg water], and warnings outside pH 2 to 7 or above 0.5 mol/kg. Arrays are many
        mixtures at once.

    Raises
    ------
    OutOfRange
        An input lies outside, the ionic strength comes out above 1 mol/kg water, or the pH outside 0 to 14.

    References
    ----------
    .. [1] B. R. Staples and R. G. Bates, J. Res. NBS 73A (1969) 37: the 0.05 m citrate standard of the example, 3.776.

    Examples
    --------
    >>> round(free_ph(acid_mol={"citric": 0.05}, strong_ion_mol_per_kg=0.05).ph, 2)
    3.77
    """
    strong_ion = strong_ion_mol_per_kg
    require_range("strong_ion_mol_per_kg", strong_ion, -2.0, 2.0, "mol/kg water")
    for acid, mol in acid_mol.items():
        require_range(f"acid_mol[{acid!r}]", mol, 0.0, 5.0, "mol/kg water")
    acids = [acid_in_water(mol, acid_constants(acid).pKa) for acid, mol in acid_mol.items()]
    ph: Any
    strength: Any
    if not np.ndim(strong_ion) and not any(np.ndim(mol) for mol in acid_mol.values()):
        floats = [acid._replace(mol_per_kg=float(acid.mol_per_kg)) for acid in acids]
        ph, strength = solve_one(floats, float(strong_ion))
        lowest = highest = ph
        strongest = strength
    else:
        shape = np.broadcast_shapes(np.shape(strong_ion), *(np.shape(mol) for mol in acid_mol.values()))
        ph, strength = solve_many(acids, np.broadcast_to(strong_ion, shape).astype(float))
        lowest, highest, strongest = (
            (float(ph.min()), float(ph.max()), float(strength.max())) if ph.size else (7.0, 7.0, 0.0)
        )
    warnings = []
    for outside in {value: None for value in (lowest, highest) if not CHECKED_PH[0] <= value <= CHECKED_PH[1]}:
        warnings.append(f"pH {outside:.2f} lies outside 2 to 7, where the model was checked; measure it")
    if strongest > CHECKED_IONIC_STRENGTH:
        warnings.append(f"{strongest:.2f} mol ions per kg of water: above 0.5 the predicted pH is rough; measure it")
    return PhAnswer(ph=ph, ionic_strength_mol_per_kg=strength, warnings=tuple(warnings))
