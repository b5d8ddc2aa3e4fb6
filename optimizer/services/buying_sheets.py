"""What the buyer's page shows as tables for a file: ladders, maps, scenarios, prices over time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from optimizer.exports.cells import Sheet
from optimizer.exports.csv_out import write_csv
from optimizer.exports.xlsx_out import write_xlsx
from optimizer.market.ladder import Ladder
from optimizer.market.scenarios import Scenarios
from optimizer.market.two_prices import Map
from optimizer.store import Kitchen, Store

Kind = Literal["csv", "xlsx"]


def sheet_file(sheet: Sheet, kind: Kind, *, decimal_comma: bool = False) -> bytes:
    """The bytes of a file with one table; text that would be run as a formula is guarded."""
    return write_xlsx([sheet]) if kind == "xlsx" else write_csv(sheet, decimal_comma=decimal_comma)


def ladder_sheet(found: Ladder, currency: str) -> Sheet:
    """Steps of a ladder: prices per received kg, kilograms bought between them."""
    header = (f"price from {currency}/kg", f"price to {currency}/kg", "bought kg")
    rows = [
        [f"{step.price_from:.6g}", "" if step.price_to is None else f"{step.price_to:.6g}", f"{step.kg:.6g}"]
        for step in found.steps
    ]
    return Sheet(name="ladder", header=header, rows=rows, numeric=frozenset(header))


def map_sheet(found: Map, currency: str) -> Sheet:
    """Fields of a map: what is taken there, corners as pairs of prices."""
    first, second = found.items
    numeric = ("share of the map", f"kg of {first}", f"kg of {second}")
    header = ("taken", *numeric, f"corners {currency}/kg")
    rows = [
        [
            " ".join(cell.choice.taken), f"{cell.share:.4g}", f"{cell.choice.kg[0]:.6g}", f"{cell.choice.kg[1]:.6g}",
            " ".join(f"({p:.4g} | {q:.4g})" for p, q in cell.corners),
        ]
        for cell in found.cells
    ]  # fmt: skip
    return Sheet(name="map", header=header, rows=rows, numeric=frozenset(numeric))


def scenarios_sheet(found: Scenarios, items: Mapping[str, str], currency: str) -> Sheet:
    """One line for each offer, each quantile of the cost, and each thing that moves it."""
    header = ("what", "name", "item", "value", "unit")
    rows = [["taken in", one.name, items.get(one.name, ""), f"{one.share:.4f}", "share"] for one in found.taken]
    rows += [["cost", f"P{share * 100:02.0f}", "", f"{cost:.2f}", currency] for share, cost in found.quantiles]
    rows += [["moves the cost", one.what, "", f"{one.share:.4f}", "share of variance"] for one in found.drivers]
    return Sheet(name="scenarios", header=header, rows=rows, numeric=frozenset({"value"}))


# ---- prices over time ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class HeardPrice:
    """One price as it was heard: per kg, or per piece, in the currency that was named."""

    on: date
    item: str
    offer: str
    supplier: str
    currency: str
    unit: Literal["kg", "piece"]
    price: float


def heard_prices(store: Store, kitchen: Kitchen, item: str | None = None) -> tuple[HeardPrice, ...]:
    """All prices of an item (or of all) by day, oldest first."""
    found = [
        HeardPrice(
            on=one.date, item=one.item, offer=one.offer, supplier=one.supplier, currency=one.currency,
            unit="kg" if one.unit == "g" else "piece",
            price=one.price_minor * (1000.0 if one.unit == "g" else 1.0) / (100.0 * one.price_amount),
        )
        for one in store.price_history(kitchen, item)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.on, one.item, one.offer)))


def history_sheet(found: Sequence[HeardPrice]) -> Sheet:
    """Prices over time as they were heard."""
    header = ("date", "item", "offer", "supplier", "price", "currency", "per")
    rows = [
        [one.on.isoformat(), one.item, one.offer, one.supplier, f"{one.price:.6g}", one.currency, one.unit]
        for one in found
    ]
    return Sheet(name="price_history", header=header, rows=rows, numeric=frozenset({"price"}), days=frozenset({"date"}))
