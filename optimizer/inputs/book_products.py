"""`product_kinds.csv`, `products.csv`, `product_fit.csv` → products; `limits.csv` → the figures of standards."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any, cast

from optimizer.inputs.book_table import Faults, Record, in_program_units, read_table
from optimizer.inputs.models import FigureStatus, Limit, Product, Window
from optimizer.inputs.names import nearest

# figure of the table -> field of the model, unit it must be in
WINDOWS = {
    "reading": ("reading_fraction", "%"),
    "ph": ("ph", "pH"),
    "acid": ("acid_fraction", "%"),
    "firmness": ("firmness", "1"),
    "fruit_per_finished": ("fruit_per_finished", "g/100 g"),
    "fruit_per_sweetener_solids": ("fruit_per_sweetener_solids", "kg/kg"),
    "least_fruit_floor": ("least_fruit_floor", "g/100 g"),
    "added_pectin": ("added_pectin", "%"),
    "lm_pectin": ("lm_pectin", "%"),
    "calcium": ("calcium_mg_per_g", "mg/g"),
    "added_water": ("added_water", "%"),
    "added_acid": ("added_acid", "%"),
    "buffer_salt": ("buffer_salt", "%"),
    "boil_off": ("boil_off", "%"),
    "glucose_syrup_most": ("glucose_syrup_most", "%"),
    "jaggery_most": ("jaggery_most", "%"),
}


def _window(record: Record) -> Window:
    def cell(name: str) -> float | None:
        value = record.number(name)
        return None if value is None else in_program_units(value, record.text("unit"))

    return Window(
        least=cell("least"),
        most=cell("most"),
        source=record.text("source"),
        status=cast(FigureStatus, record.text("status")),
    )


def read_products(folder: Path, faults: Faults) -> dict[str, Product]:
    """Every product by its name; a window that the table does not have is open on both sides."""
    kinds = {line.text("product"): line for line in read_table(folder, "product_kinds", faults)}
    windows: dict[str, dict[str, Window]] = {name: {} for name in kinds}
    for record in read_table(folder, "products", faults):
        name, figure = record.text("product"), record.text("figure")
        field, unit = WINDOWS[figure]
        least, most = record.number("least"), record.number("most")
        if name not in windows:
            faults.add(record.fault("product", f"not in product_kinds.csv; {nearest(name, windows)}"))
        elif record.text("unit") != unit:
            faults.add(record.fault("unit", f"give {figure} in {unit}", name))
        elif field in windows[name]:
            faults.add(record.fault("figure", "second line for this figure; keep one", name))
        elif least is not None and most is not None and least > most:
            faults.add(record.fault("least", f"is above the most, {most:g}", name))
        else:
            windows[name][field] = _window(record)
    fit: dict[str, dict[str, int]] = {name: {} for name in kinds}
    for record in read_table(folder, "product_fit", faults):
        name = record.text("product")
        if name not in fit:
            faults.add(record.fault("product", f"not in product_kinds.csv; {nearest(name, fit)}"))
            continue
        fit[name][record.text("condition")] = int(record.needed("fit"))
    found: dict[str, Product] = {}
    for name, line in kinds.items():
        values: dict[str, Any] = {field: Window() for field, _ in WINDOWS.values()}
        found[name] = Product(
            name=name,
            title=line.text("title"),
            preparation=line.text("preparation"),
            crystals=line.text("crystals"),
            is_cooked=line.flag("is_cooked"),
            least_cook_min=line.number("least_cook") or 0.0,
            keeps_by=line.text("keeps_by"),
            fit=fit[name],
            **(values | windows[name]),
        )
    return found


def read_limits(
    folder: Path, faults: Faults, *, fruits: Collection[str], products: Collection[str]
) -> tuple[Limit, ...]:
    """Every figure and rule of the standards, in the order of the table."""
    found: list[Limit] = []
    for record in read_table(folder, "limits", faults):
        strange = [name for name in record.items("fruits") if name not in fruits]
        product = record.text("product")
        if strange:
            faults.add(record.fault("fruits", f"{strange[0]}: {nearest(strange[0], fruits)}", product))
        if product not in products:
            faults.add(record.fault("product", nearest(product, products)))
        value = record.number("value")
        if (value is None) != (record.text("kind") == "text"):
            faults.add(record.fault("value", "a figure needs a value, a rule in words (kind text) has none", product))
        found.append(
            Limit(
                standard=record.text("standard"),
                product=product,
                legal_name=record.text("legal_name"),
                is_default_name=record.flag("is_default_name"),
                parameter=record.text("parameter"),
                fruits=record.items("fruits"),
                condition=record.text("condition"),
                value=value,
                unit=record.text("unit"),
                kind=record.text("kind"),
                source=record.text("source"),
                status=cast(FigureStatus, record.text("status")),
                note=record.text("note"),
            )
        )
    return tuple(found)
