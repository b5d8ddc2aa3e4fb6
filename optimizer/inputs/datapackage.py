"""`data/datapackage.json`: the tables of the book described for other programs (Frictionless Data Package)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from optimizer.datafiles import data_folder
from optimizer.inputs.book_table import Column, read_columns

TITLES = {
    "fruits": "Figures of fruit, per edible part as prepared",
    "fruit_parts": "Fruits and their parts",
    "ingredients": "Figures of sugars, acids, pectins, salts and preservatives",
    "ingredient_kinds": "Sugars, acids, pectins, salts and preservatives",
    "products": "Default windows of the products",
    "product_kinds": "Products",
    "product_fit": "Which condition of fruit suits which product",
    "limits": "Limits of standards",
    "conditions": "What the condition of fruit does to trim, pectin, acid and life",
    "extraction": "Boiling out for jelly",
    "sieve_yields": "Share of fruit that passes a sieve",
    "decay": "How fast fruit spoils",
    "holding": "Ways to hold surplus fruit over",
    "cautions": "Cautions and when they are shown",
    "settings": "Other defaults of the model",
}
_KEYS = {
    "fruits": ["fruit", "part", "figure"],
    "fruit_parts": ["fruit", "part"],
    "ingredients": ["ingredient", "figure"],
    "ingredient_kinds": ["ingredient"],
    "products": ["product", "figure"],
    "product_kinds": ["product"],
    "product_fit": ["product", "condition"],
    "conditions": ["condition"],
    "decay": ["fruit", "part"],
    "holding": ["way"],
    "cautions": ["id"],
    "settings": ["name"],
}
_PARENTS = {
    "fruits": (["fruit", "part"], "fruit_parts"),
    "ingredients": (["ingredient"], "ingredient_kinds"),
    "products": (["product"], "product_kinds"),
    "product_fit": (["product"], "product_kinds"),
    "limits": (["product"], "product_kinds"),
}


def data_package(folder: Path | None = None) -> dict[str, Any]:
    """The description of every table of a data folder, made from the column tables beside them.

    Parameters
    ----------
    folder : Path, optional
        Default: the tables that come with panwise.

    Returns
    -------
    dict
        A Data Package (specs.frictionlessdata.io, version 1) ready for JSON.

    Examples
    --------
    >>> package = data_package()
    >>> [resource["path"] for resource in package["resources"]][:2]
    ['fruits.csv', 'fruit_parts.csv']
    """
    folder = folder or data_folder()
    return {
        "profile": "tabular-data-package",
        "name": "panwise-book",
        "title": "Composition of fruit and ingredients, products, limits of standards and defaults of panwise",
        "description": "Every figure has a source and a status (read, memory, common practice, judgement). No prices.",
        "resources": [_resource(name, read_columns(folder / f"{name}.columns.csv")) for name in TITLES],
    }


def _resource(name: str, columns: Mapping[str, Column]) -> dict[str, Any]:
    schema: dict[str, Any] = {"fields": [_field(column) for column in columns.values()], "missingValues": [""]}
    if name in _KEYS:
        schema["primaryKey"] = _KEYS[name]
    if name in _PARENTS:
        fields, parent = _PARENTS[name]
        schema["foreignKeys"] = [{"fields": fields, "reference": {"resource": _name(parent), "fields": fields}}]
    return {
        "profile": "tabular-data-resource",
        "name": _name(name),
        "path": f"{name}.csv",
        "title": TITLES[name],
        "encoding": "utf-8",
        "format": "csv",
        "schema": schema,
    }


def _name(table: str) -> str:
    """Names of resources hold no underscore."""
    return table.replace("_", "-")


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": "string", "description": column.meaning}
    constraints: dict[str, Any] = {"required": True} if column.required else {}
    if column.type == "number":
        field["type"] = "number"
        if column.least is not None:
            constraints["minimum"] = column.least
        if column.most is not None:
            constraints["maximum"] = column.most
    elif column.type == "yesno":
        field |= {"type": "boolean", "trueValues": ["yes"], "falseValues": ["no"]}
    elif column.choices:
        constraints["enum"] = list(column.choices)
    if column.unit:
        field["unit"] = column.unit
    if constraints:
        field["constraints"] = constraints
    return field


def data_package_text(folder: Path | None = None) -> str:
    """The description as it stands in `datapackage.json`."""
    return json.dumps(data_package(folder), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":  # python -m optimizer.inputs.datapackage: after a change of a column table
    (data_folder() / "datapackage.json").write_text(data_package_text(), encoding="utf-8")
