"""Solves the charge balance of an acid solution for its pH: one mixture, or many at once.

At a fixed ionic strength the surplus of positive charge falls strictly with pH, so a bracketed Newton step cannot miss
the one zero. Around it the ionic strength is put in again until it stays. Plain floats are a hundred times faster than
arrays of one element, hence the two drivers over one balance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import OutOfRange
from optimizer.physics.acids import MOST_IONIC_STRENGTH, USUAL_IONIC_STRENGTH, davies_term

LN10 = 2.302585092994046
_WATER_PRODUCT = 10.0**-13.995  # [H+][OH-] by activity at 25 degC
_LOW_PH, _HIGH_PH = 0.0, 14.0
_PH_SETTLED, _STRENGTH_SETTLED = 1e-11, 1e-10
_CLOSER = 0.01  # while the ionic strength still moves, pH need not be nearer than this share of the move
_MOST_STEPS, _MOST_ROUNDS = 80, 60


class AcidInWater(NamedTuple):
    """Moles of one acid per kg of water, and 10^-(pK_1 + ... + pK_j) for each of its anions."""

    mol_per_kg: Any
    products: tuple[float, ...]


def acid_in_water(mol_per_kg: Any, pKa: Sequence[float]) -> AcidInWater:
    """An acid as the balance wants it."""
    return AcidInWater(mol_per_kg, tuple(10.0 ** -sum(pKa[: j + 1]) for j in range(len(pKa))))


def _at_strength(acids: Sequence[AcidInWater], strength: Any) -> tuple[Any, list[tuple[Any, list[Any]]]]:
    """γ of an ion of charge one, and the products corrected for activity."""
    davies = davies_term(strength)
    step = 10.0**davies
    corrected = [
        (acid.mol_per_kg, [product * step ** ((j + 1) ** 2) for j, product in enumerate(acid.products)])
        for acid in acids
    ]
    return 1.0 / step, corrected


def _balance(acids: list[tuple[Any, list[Any]]], gamma: Any, strong_ion: Any, ph: Any) -> tuple[Any, Any, Any]:
    """Surplus of positive charge, its slope over pH, and twice the ionic strength without the strong ions."""
    power = 10.0**ph
    hydrogen, hydroxide = 1.0 / (power * gamma), _WATER_PRODUCT * power / gamma
    negative, spread, squares = hydroxide, hydrogen + hydroxide, hydrogen + hydroxide
    for mol, products in acids:
        total, first, second, raised = 1.0, 0.0, 0.0, 1.0
        for j, product in enumerate(products, start=1):
            raised = raised * power
            share = product * raised
            total = total + share
            first = first + j * share
            second = second + j * j * share
        charge, square = first / total, second / total
        negative = negative + mol * charge
        spread = spread + mol * (square - charge * charge)
        squares = squares + mol * square
    return strong_ion + hydrogen - negative, -LN10 * spread, squares


def solve_one(acids: Sequence[AcidInWater], strong_ion: float) -> tuple[float, float]:
    """pH and ionic strength of one mixture, in plain floats."""
    ph, strength, change = 3.5, USUAL_IONIC_STRENGTH, 1.0
    for _ in range(_MOST_ROUNDS):
        near = max(_PH_SETTLED, _CLOSER * change)
        gamma, corrected = _at_strength(acids, min(strength, MOST_IONIC_STRENGTH))
        low, high = _LOW_PH, _HIGH_PH
        for _ in range(_MOST_STEPS):
            surplus, slope, squares = _balance(corrected, gamma, strong_ion, ph)
            if surplus > 0.0:
                low = ph
            else:
                high = ph
            new = ph - surplus / slope
            if not low <= new <= high:
                new = 0.5 * (low + high)
            moved, ph = abs(new - ph), new
            if moved < near:
                break
        new_strength = 0.5 * (abs(strong_ion) + squares)
        change = abs(new_strength - strength)
        if change < _STRENGTH_SETTLED and moved < _PH_SETTLED:
            break
        strength = new_strength
    _require_inside(ph, new_strength, change)
    return ph, new_strength


def solve_many(
    acids: Sequence[AcidInWater], strong_ion: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """pH and ionic strength of many mixtures at once; `strong_ion` has the shape of the answer."""
    ph = np.full(strong_ion.shape, 3.5)
    strength = np.full(strong_ion.shape, USUAL_IONIC_STRENGTH)
    if not strong_ion.size:
        return ph, strength
    change = 1.0
    for _ in range(_MOST_ROUNDS):
        near = max(_PH_SETTLED, _CLOSER * change)
        gamma, corrected = _at_strength(acids, np.minimum(strength, MOST_IONIC_STRENGTH))
        low, high = np.full(ph.shape, _LOW_PH), np.full(ph.shape, _HIGH_PH)
        for _ in range(_MOST_STEPS):
            surplus, slope, squares = _balance(corrected, gamma, strong_ion, ph)
            too_acid = surplus > 0.0
            low, high = np.where(too_acid, ph, low), np.where(too_acid, high, ph)
            new = ph - surplus / slope
            new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
            moved, ph = float(np.max(np.abs(new - ph))), new
            if moved < near:
                break
        new_strength = 0.5 * (np.abs(strong_ion) + squares)
        change = float(np.max(np.abs(new_strength - strength)))
        if change < _STRENGTH_SETTLED and moved < _PH_SETTLED:
            break
        strength = new_strength
    _require_inside(ph, new_strength, change)
    return ph, new_strength


def _require_inside(ph: Any, strength: Any, change: Any) -> None:
    """Refuse what ran into the ends of the model."""
    strongest = float(np.max(strength))
    if strongest > MOST_IONIC_STRENGTH:
        raise OutOfRange(
            f"ionic_strength_mol_per_kg={strongest:g}: so many ions are outside the model (up to "
            f"{MOST_IONIC_STRENGTH:g} mol/kg water); check amounts of buffer salt, acid and water"
        )
    lowest, highest = float(np.min(ph)), float(np.max(ph))
    if lowest < _LOW_PH + 1e-6 or highest > _HIGH_PH - 1e-6:
        raise OutOfRange(
            "strong_ion_mol_per_kg and acids have no pH between 0 and 14; check the amounts of acid and of salts"
        )
    if change > 1e-6:
        raise OutOfRange(f"ionic_strength_mol_per_kg={strongest:g}: does not settle; check the amounts")
