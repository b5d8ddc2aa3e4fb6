"""Lots of fruit with nothing to say about: most lines of a long table, read a column at a time.

What makes a line plain is a test of each cell by itself, made once for equal cells. Every other line, and every line
with a fault, goes the long way of `stock.py`, which finds the same lot; `tests/inputs/test_plain_lots.py` holds both
against each other.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import repeat
from typing import Any

from pydantic import TypeAdapter

from optimizer.inputs.cells import Amount
from optimizer.inputs.goods import FIELDS, MOST_FRUIT_BRIX_FRACTION, MOST_PH, SURELY_A_FRACTION
from optimizer.inputs.items import Item
from optimizer.inputs.models import Lot
from optimizer.inputs.prices import Price
from optimizer.inputs.tables import FAULTY, Table

_NEEDED = ("lot", "item", "on_hand", "worth_uncooked")
_NOT_OF_FRUIT = ("so2", "grade", "setting", "purity")
_LOTS = TypeAdapter(list[Lot])  # the same checks as `Lot(...)`, many at a time


def plain_lots(table: Table) -> dict[int, Lot]:
    """The lots of the lines that are plain, by their place in the table.

    Plain is fruit, not sulphited, weighed and priced by mass, with figures within what fruit can have.
    """
    if any(name not in table.values for name in _NEEDED):
        return {}
    other = {place for name in table.values for place in table.failing(name, _test_of(name, table))}
    if {"received", "picked"} <= table.values.keys():
        both = zip(table.values["received"], table.values["picked"], strict=True)
        other |= {place for place, (came, picked) in enumerate(both) if came is not None and picked is not None}
    places = [place for place in range(len(table)) if place not in other and not table.has_fault_of_its_own(place)]
    return dict(zip(places, _LOTS.validate_python(_fields(table, places)), strict=True))


def _fields(table: Table, places: list[int]) -> list[dict[str, Any]]:
    values = {name: list(map(column.__getitem__, places)) for name, column in table.values.items()}
    columns: dict[str, list[Any]] = {
        "lot": values["lot"],
        "item": [item.name for item in values["item"]],
        "line": list(map(table.lines.__getitem__, places)),
        "on_hand_kg": [amount.value for amount in values["on_hand"]],
        "worth_uncooked_per_kg": list(map(_per_kg, values["worth_uncooked"])),
        "paid_per_kg": list(map(_per_kg, values["paid"])) if "paid" in values else [],
        "received": values.get("received", []),
        "picked": values.get("picked", []),
        "kept_at_C": values.get("kept_at", []),
        "supplier": [name or "" for name in values.get("supplier", [])],
    }
    columns = {name: column for name, column in columns.items() if column}
    sparse: dict[str, list[Any]] = {}
    for name, field in FIELDS.items():
        if name in values:
            (sparse if None in values[name] else columns)[field] = values[name]
    fixed = {"kind": "fruit", "file": table.file, "on_hand_pieces": None, "paid_per_kg": None, "received": None,
             "picked": None, "kept_at_C": None, "supplier": ""}  # fmt: skip
    same = {name: repeat(value, len(places)) for name, value in fixed.items() if name not in columns}
    names = (*columns, *same)
    found = list(map(dict, map(zip, repeat(names), zip(*columns.values(), *same.values(), strict=True))))
    for field, column in sparse.items():
        for fields, value in zip(found, column, strict=True):
            if value is not None:
                fields[field] = value
    return found


def _test_of(name: str, table: Table) -> Callable[[Any], bool]:
    """Whether a value of a column leaves its line plain."""
    if name == "ph":
        limits = table.columns["ph"]
        return partial(_lies_in, least=limits.least or 0.0, most=limits.most or MOST_PH)
    return _TESTS.get(name, _is_sound)


def _is_sound(value: Any) -> bool:
    return value is not FAULTY


def _is_filled(value: Any) -> bool:
    return value is not FAULTY and value is not None


def _is_empty(value: Any) -> bool:
    return value is None


def _is_fruit(value: Any) -> bool:
    return isinstance(value, Item) and value.kind == "fruit" and not value.is_sulphited


def _is_mass(value: Any) -> bool:
    return isinstance(value, Amount) and value.unit in ("", "kg")


def _is_price_of_mass(value: Any) -> bool:
    return isinstance(value, Price) and (value.per is None or (_is_mass(value.per) and value.per.value > 0.0))


def _is_price_of_mass_or_empty(value: Any) -> bool:
    return value is None or _is_price_of_mass(value)


def _per_kg(price: Price | None) -> float | None:
    if price is None or price.per is None:
        return None if price is None else price.value
    return price.value / price.per.value


def _lies_in(value: Any, *, least: float, most: float) -> bool:
    return value is None or (isinstance(value, float) and least <= value <= most)


def _brix_of_fruit(value: Any) -> bool:
    return value is None or (isinstance(value, float) and SURELY_A_FRACTION["brix"] < value <= MOST_FRUIT_BRIX_FRACTION)


def _is_positive_or_empty(value: Any) -> bool:
    return value is None or (isinstance(value, float) and value > 0.0)


_TESTS: dict[str, Callable[[Any], bool]] = {
    "lot": _is_filled,
    "item": _is_fruit,
    "on_hand": _is_mass,
    "worth_uncooked": _is_price_of_mass,
    "paid": _is_price_of_mass_or_empty,
    "brix": _brix_of_fruit,
    "acid": _is_positive_or_empty,
    **dict.fromkeys(_NOT_OF_FRUIT, _is_empty),
}
