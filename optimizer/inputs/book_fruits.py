"""`fruit_parts.csv` and `fruits.csv` → the fruit parts of the book."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import cast

from optimizer.inputs.book_table import Faults, Record, in_program_units, read_table
from optimizer.inputs.models import Acid, Figure, FigureStatus, FruitPart, PectinClass
from optimizer.inputs.names import nearest

# figure of the table -> field of the model, unit it must be in, whether every part must have it
FIGURES = {
    "brix": ("brix_fraction", "%", False),
    "water": ("water_fraction", "%", True),
    "total_sugar": ("total_sugar_fraction", "%", True),
    "acid": ("acid_fraction", "%", False),
    "ph": ("ph", "pH", True),
    "pectin": ("pectin_fraction", "%", True),
    "refuse": ("refuse_fraction", "%", True),
    "density": ("density_kg_per_L", "kg/L", True),
    "calcium": ("calcium_mg_per_kg", "mg/kg", True),
}


def figure_of(record: Record, value_column: str = "value") -> Figure:
    """A figure with its spread from one line of a long table; percent becomes a fraction."""

    def cell(name: str) -> float | None:
        value = record.number(name) if name in record.columns else None
        return None if value is None else in_program_units(value, record.text("unit"))

    note = record.text("note")
    source = record.text("source")
    return Figure(
        value=cast(float, cell(value_column)),
        sd=cell("sd") or 0.0,
        low=cell("low"),
        high=cell("high"),
        source=f"{source} ({note})" if note else source,
        status=cast(FigureStatus, record.text("status")),
    )


def read_fruits(folder: Path, parts: Sequence[Record], faults: Faults) -> dict[str, FruitPart]:
    """Every fruit part by its item name (`plum, flesh with skin`); `parts` are the lines of `fruit_parts.csv`.

    A figure that the table does not have stays None where the model allows it; it is never taken as zero.
    """
    lines = {(line.text("fruit"), line.text("part")): line for line in parts}
    figures: dict[tuple[str, str], dict[str, Figure]] = {key: {} for key in lines}
    for record in read_table(folder, "fruits", faults):
        key = (record.text("fruit"), record.text("part"))
        figure = record.text("figure")
        field, unit, _ = FIGURES[figure]
        item = ", ".join(key)
        if key not in figures:
            known = nearest(item, [", ".join(k) for k in figures])
            faults.add(record.fault("part", f"not in fruit_parts.csv; {known}", item))
        elif record.text("unit") != unit:
            faults.add(record.fault("unit", f"give {figure} in {unit}", item))
        elif field in figures[key]:
            faults.add(record.fault("figure", "second line for this figure; keep one", item))
        else:
            figures[key][field] = figure_of(record, "typical")
    found: dict[str, FruitPart] = {}
    for key, line in lines.items():
        missing = [name for name, (field, _, needed) in FIGURES.items() if needed and field not in figures[key]]
        if missing:
            faults.add(line.fault("part", f"fruits.csv lacks {', '.join(missing)} of it", ", ".join(key)))
            continue
        part = _part(line, figures[key])
        found[part.item] = part
    return found


def _part(line: Record, figures: dict[str, Figure]) -> FruitPart:
    empty: dict[str, Figure | None] = {"brix_fraction": None, "acid_fraction": None}
    return FruitPart(
        fruit=line.text("fruit"),
        part=line.text("part"),
        latin_name=line.text("latin_name"),
        dominant_acid=cast(Acid, line.text("dominant_acid")),
        pectin_class=cast(PectinClass, line.text("pectin_class")),
        acid_class=line.text("acid_class"),
        is_citrus=line.flag("is_citrus"),
        is_peel=line.flag("is_peel"),
        is_whole_citrus=line.flag("is_whole_citrus"),
        is_juice=line.flag("is_juice"),
        is_low_acid=line.flag("is_low_acid"),
        is_default_part=line.flag("is_default_part"),
        **(empty | figures),
    )
