"""`ingredient_kinds.csv` and `ingredients.csv` → what is bought besides fruit; packaging by its name."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from optimizer.inputs.book_fruits import figure_of
from optimizer.inputs.book_table import Faults, read_table
from optimizer.inputs.models import Figure, Ingredient
from optimizer.inputs.names import nearest

# figure of the table -> field of the model, unit it must be in, whether the field keeps the whole figure
FIGURES = {
    "solids": ("solids_fraction", "%", True),
    "insoluble": ("insoluble_fraction", "%", False),
    "sucrose": ("sucrose_fraction", "%", False),
    "glucose": ("glucose_fraction", "%", False),
    "fructose": ("fructose_fraction", "%", False),
    "other_saccharides": ("other_saccharides_fraction", "%", False),
    "reading_gain": ("reading_gain", "kg/kg", False),
    "titratable_acid": ("titratable_acid_fraction", "%", True),
    "acid_mol": ("acid_mol_per_kg", "mol/kg", False),
    "strong_ion": ("strong_ion_mol_per_kg", "mol/kg", False),
    "ph": ("ph", "pH", True),
    "grade": ("pectin_grade", "deg USA-SAG", True),
    "so2": ("so2_fraction", "%", False),
    "benzoic": ("benzoic_fraction", "%", False),
    "sorbic": ("sorbic_fraction", "%", False),
    "calcium": ("calcium_fraction", "%", False),
    "so2_carried": ("so2_carried_mg_per_kg", "mg/kg", False),
    "density": ("density_kg_per_L", "kg/L", False),
    "anhydrous": ("anhydrous_fraction", "%", False),
}
_PACKAGING = re.compile(r"(?:jar|bottle) \d+(?:\.\d+)? (?:mL|L)|lid \d+(?:\.\d+)? mm|label set")


def packaging(name: str) -> Ingredient | None:
    """Packaging that an offer may name, or None: it has a kind and no composition.

    Examples
    --------
    >>> packaging("jar 380 mL").kind
    'packaging'
    >>> packaging("plum") is None
    True
    """
    return Ingredient(name=name, kind="packaging") if _PACKAGING.fullmatch(name) else None


def read_ingredients(folder: Path, faults: Faults) -> dict[str, Ingredient]:
    """Every ingredient by its name; what is neither solids nor insoluble is water."""
    kinds = {line.text("ingredient"): line for line in read_table(folder, "ingredient_kinds", faults)}
    figures: dict[str, dict[str, Figure]] = {name: {} for name in kinds}
    for record in read_table(folder, "ingredients", faults):
        name, figure = record.text("ingredient"), record.text("figure")
        field, unit, _ = FIGURES[figure]
        if name not in figures:
            faults.add(record.fault("ingredient", f"not in ingredient_kinds.csv; {nearest(name, figures)}", name))
        elif record.text("unit") != unit:
            faults.add(record.fault("unit", f"give {figure} in {unit}", name))
        elif field in figures[name]:
            faults.add(record.fault("figure", "second line for this figure; keep one", name))
        else:
            figures[name][field] = figure_of(record)
    whole = {field for field, _, keeps in FIGURES.values() if keeps}
    found: dict[str, Ingredient] = {}
    for name, line in kinds.items():
        values: dict[str, Any] = {
            field: figure if field in whole else figure.value for field, figure in figures[name].items()
        }
        solids = figures[name].get("solids_fraction")
        if solids is None:
            faults.add(line.fault("ingredient", "ingredients.csv lacks its solids", name))
            continue
        found[name] = Ingredient(
            name=name,
            kind=line.text("kind"),
            acid=line.text("acid") or None,
            pectin_type=line.text("pectin_type") or None,
            setting=line.text("setting") or None,
            caution=line.text("caution"),
            water_fraction=max(0.0, 1.0 - solids.value - values.get("insoluble_fraction", 0.0)),
            sources={field: f"{figure.source} [{figure.status}]" for field, figure in figures[name].items()},
            **values,
        )
    return found
