"""What lots and offers share: the parsers of their cells, weights of what is not weighed in kg, checks by kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from optimizer.datafiles import data_folder
from optimizer.inputs import cells
from optimizer.inputs.book_table import Column, read_columns
from optimizer.inputs.buying_units import buying_units
from optimizer.inputs.cells import Amount, CellError
from optimizer.inputs.condition import read_condition
from optimizer.inputs.files import Cell
from optimizer.inputs.items import Item, Items
from optimizer.inputs.models import Book, Kind
from optimizer.inputs.numbers import DecimalMark
from optimizer.inputs.prices import Money, Price, read_breaks, read_price
from optimizer.inputs.tables import FAULTY, PLAIN, Parser, Row, Table

MOST_FRUIT_BRIX_FRACTION = 0.85
MOST_PH = 14.0  # of goods that are neither fruit nor acid, such as soda
SURELY_A_FRACTION = {"brix": 0.01, "purity": 0.0101}  # nothing is so thin: 0.13 was typed where 13 % was meant
_FRUIT_ONLY = ("condition", "reject", "trim", "pectin", "spirit_test", "rot_sorted_out", "picked")


@dataclass(kw_only=True)
class Context:
    """What the reading of tables needs, and what it wants said aloud."""

    book: Book
    money: Money
    items: Items
    said: dict[str, None] = field(default_factory=dict)  # sentences, each once

    @classmethod
    def of(cls, book: Book, money: Money) -> Context:
        return cls(book=book, money=money, items=Items(book))


@cache
def columns_of(table: str) -> Mapping[str, Column]:
    """The column table of `stock` or `offers`."""
    return read_columns(data_folder() / "tables" / f"{table}.columns.csv")


def parsers(context: Context) -> dict[str, Parser]:
    """How the cells of each column type are read."""

    def item(cell: Cell, mark: DecimalMark, column: Column) -> Item:
        text = cells.plain_text(cell)
        found = context.items.get(text)
        if found is None:
            raise CellError(f"not known: {context.items.advice(text)}")
        return found

    return {
        "code": lambda cell, mark, column: cells.plain_text(cell, PLAIN["code"]),
        "text": lambda cell, mark, column: cells.plain_text(cell, PLAIN["text"]),
        "item": item,
        "condition": lambda cell, mark, column: read_condition(cell, context.book.conditions, mark),
        "mass": lambda cell, mark, column: cells.amount(cell, mark),
        "price": lambda cell, mark, column: read_price(cell, context.money, mark),
        "breaks": lambda cell, mark, column: read_breaks(cell, context.money, mark),
        "date": lambda cell, mark, column: cells.iso_date(cell),
        "temperature": lambda cell, mark, column: cells.quantity(cell, "degC", mark),
        "brix": lambda cell, mark, column: cells.brix(cell, mark),
        "ph": lambda cell, mark, column: cells.number(cell, mark, ("pH",)),
        "fraction": lambda cell, mark, column: cells.fraction(cell, mark),
        "mass_per_mass": lambda cell, mark, column: cells.mg_per_kg(cell, mark),
        "number": lambda cell, mark, column: cells.number(cell, mark, _WORDS.get(column.unit, ())),
        "days": lambda cell, mark, column: cells.quantity(cell, "day", mark),
        "yesno": lambda cell, mark, column: cells.yes_no(cell),
        "choice": lambda cell, mark, column: cells.choice(cell, column.choices),
    }


_WORDS = {
    "packs": tuple(sorted(cells.PACKS)),
    "deg USA-SAG": ("deg USA-SAG", "USA-SAG", "SAG", "grade"),
}


# ---- weights and prices of one row -----------------------------------------------------------------------------------


def in_units(row: Row, column: str, amount: Amount, item: Item, context: Context, pack: float | None) -> float | None:
    """An amount in kg, of packaging in pieces; None with a fault where that cannot be known.

    Parameters
    ----------
    row, column : Row, str
        Where a fault is kept.
    amount : Amount
        As typed.
    item : Item
        What it is an amount of.
    pack : float or None
        Size of one pack [kg, of packaging pieces].
    """
    unit = amount.unit
    is_packaging = item.kind == "packaging"
    if unit == "piece" and not is_packaging and amount.typed_unit.lower() in cells.PACKS:
        unit = "pack"  # a bottle of lemon juice is a pack; a bottle to fill is a piece
    if unit in ("", "piece" if is_packaging else "kg"):
        return amount.value
    if unit == "pack":
        if pack is not None:
            return amount.value * pack
        if row.is_empty("pack"):
            row.fault(column, f"fill in `pack`: how much one {amount.typed_unit or 'pack'} holds is not known")
        else:
            row.is_sound = False  # `pack` itself is at fault
        return None
    if is_packaging:
        row.fault(column, "packaging is counted: give pieces")
    elif unit == "L":
        if item.density_kg_per_L is not None:
            return amount.value * item.density_kg_per_L
        row.fault(column, f"what a litre of {item.name} weighs is not known: weigh it and give kg")
    elif unit == "piece":
        row.fault(column, "give kg: what one piece weighs is not known")
    else:
        return _buying_unit(row, column, amount, item, context)
    return None


def _buying_unit(row: Row, column: str, amount: Amount, item: Item, context: Context) -> float | None:
    fruit = item.part.fruit if item.part is not None and not item.is_sulphited else ""
    weights = buying_units().get((fruit, amount.unit))
    if weights is None:
        row.fault(column, f"what a {amount.unit} of {item.name} weighs is not known: weigh it and give kg")
        return None
    middle = sum(weights) / 2.0
    context.said[
        f"A {amount.unit} of {fruit} is taken as {middle:.1f} kg (handout: {weights[0]:g} to {weights[1]:g} kg); "
        "weigh it to be sure."
    ] = None
    return amount.value * middle


def per_unit(row: Row, column: str, price: Price, item: Item, context: Context, pack: float | None) -> float | None:
    """A price per kg, of packaging per piece; None with a fault where the unit has no known weight."""
    if price.per is None:
        return price.value
    size = in_units(row, column, price.per, item, context, pack)
    if size is not None and size <= 0.0:
        row.fault(column, "the price is for an amount of nothing")
        return None
    return None if size is None else price.value / size


# ---- composition of one row ------------------------------------------------------------------------------------------


def refuse_impossible(row: Row) -> None:
    """What no item can be, also where the item itself is not known."""
    get = row.cells.get
    for column in ("brix", "acid", "purity"):
        value = get(column)
        if value is not None and value <= 0.0:
            row.fault(column, "must be above 0; leave it empty if it was not measured")
    for column, most in SURELY_A_FRACTION.items():
        value = get(column)
        if value is not None and 0.0 < value <= most:
            row.fault(column, f"is {100.0 * value:.3g} %: write percent, such as {1e4 * value:.3g}")
    ph = get("ph")
    if ph is not None and not 0.0 <= ph <= MOST_PH and get("item") is None:
        row.fault("ph", "a pH lies between 0 and 14: measure again")
    received, picked = get("received"), get("picked")
    if received is not None and picked is not None and picked > received:
        row.fault("picked", f"lies after the day it was received, {received}")


def measured(row: Row, item: Item, columns: Mapping[str, Column]) -> dict[str, Any]:
    """The fields of `Goods` that a row gives, after the checks that depend on the item."""
    for column in _misplaced(row, item):
        row.fault(column, _WHERE_IT_BELONGS[column])
    brix, ph = row.get("brix"), row.get("ph")
    if brix is not None and item.kind == "fruit" and brix > MOST_FRUIT_BRIX_FRACTION:
        row.fault("brix", "give 0 to 85 % for fruit")
    if ph is not None:
        least, most = columns["ph"].least or 0.0, columns["ph"].most or MOST_PH
        if item.kind not in ("fruit", "acid"):
            least, most = 0.0, MOST_PH
        if not least <= ph <= most:
            row.fault("ph", f"a pH of {item.kind} lies between {least:.1f} and {most:.1f}: measure again")
    return {
        **{FIELDS[column]: value for column, value in row.cells.items() if column in FIELDS},
        "item": item.name,
        "kind": item.kind,
        "file": row.file,
        "line": row.line,
    }


FIELDS = {
    "condition": "condition",
    "brix": "brix_fraction",
    "ph": "ph",
    "acid": "acid_fraction",
    "pectin": "pectin_fraction",
    "spirit_test": "spirit_test",
    "reject": "reject_fraction",
    "trim": "trim_fraction",
    "so2": "so2_mg_per_kg",
    "grade": "grade",
    "setting": "setting",
    "purity": "purity_fraction",
    "rot_sorted_out": "rot_sorted_out",
}
_WHERE_IT_BELONGS = {
    **dict.fromkeys(_FRUIT_ONLY, "is for fruit only; leave it empty here"),
    "so2": 'is for sulphited pulp only: name the item "FRUIT, sulphited pulp", or leave it empty',
    "grade": "is for pectin only; leave it empty here",
    "setting": "is for pectin only; leave it empty here",
    "purity": "is for acids, salts, preservatives and pectin; leave it empty here (of a juice give `acid`)",
    "brix": "is for fruit, juices, sugars and syrups; leave it empty here",
    "ph": "is for fruit, juices and sugars; leave it empty here",
    "acid": "is for fruit and juices; leave it empty here (of a pure acid give `purity`)",
}


def _misplaced(row: Row, item: Item) -> list[str]:
    """Filled columns that say nothing of this kind of item; silence would look as if they counted."""
    foreign = _foreign(item.kind, item.is_sulphited, item.is_juice_for_acid)
    if row.cells.keys().isdisjoint(foreign):
        return []
    return [column for column in foreign if row.get(column) not in (None, False)]


@cache
def _foreign(kind: Kind, is_sulphited: bool, is_juice: bool) -> tuple[str, ...]:
    belongs = {
        **dict.fromkeys(_FRUIT_ONLY, kind == "fruit"),
        "so2": is_sulphited,
        "grade": kind == "pectin",
        "setting": kind == "pectin",
        "purity": kind in ("acid", "salt", "preservative", "pectin") and not is_juice,
        "brix": kind in ("fruit", "sweetener") or is_juice,
        "ph": kind in ("fruit", "sweetener") or is_juice,
        "acid": kind == "fruit" or is_juice,
    }
    return tuple(column for column, fits in belongs.items() if not fits)


EXAMPLE = "EXAMPLE"
"""Code of the example line in a template."""


def refuse_second_codes(table: Table, column: str) -> None:
    """Each code once, the later line names the earlier one; the example of a template is no code."""
    codes = table.values.get(column, ())
    known = set(codes)
    if len(known) == len(codes) and not {None, FAULTY} & known and EXAMPLE not in map(str.upper, codes):
        return
    seen: dict[str, int] = {}
    for index, code in enumerate(codes):
        if code is None or code is FAULTY:
            continue
        if code.upper() == EXAMPLE:
            table.row(index).fault(column, "this is the example line of the template; delete it")
        if code in seen:
            table.row(index).fault(column, f"line {seen[code]} has the same code; give each its own")
        else:
            seen[code] = table.lines[index]


def refuse_silence(table: Table, read: Sequence[object]) -> None:
    """A line that was not read is in the report, whatever the reason: nothing is ever left out unsaid."""
    reported = {fault.line for fault in table.faults}
    for index, value in enumerate(read):
        if value is None and table.lines[index] not in reported:
            table.row(index).fault("", "this line cannot be used; look at each of its cells again")
            return  # one is enough to load nothing
