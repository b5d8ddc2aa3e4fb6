"""`offers.csv` or `offers.xlsx` → what could be bought."""

from __future__ import annotations

from itertools import pairwise

from optimizer.errors import Fault
from optimizer.inputs.files import RawTable
from optimizer.inputs.goods import (
    Context,
    columns_of,
    in_units,
    measured,
    parsers,
    per_unit,
    refuse_impossible,
    refuse_second_codes,
    refuse_silence,
)
from optimizer.inputs.items import Item
from optimizer.inputs.models import Offer, PriceBreak
from optimizer.inputs.prices import Break, Price
from optimizer.inputs.tables import Row, understand


def read_offers(raw: RawTable, context: Context) -> tuple[tuple[Offer, ...], list[Fault]]:
    """The offers of a table, and every fault found; with faults the offers are not complete.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> from optimizer.inputs.files import read_bytes
    >>> from optimizer.inputs.prices import Money
    >>> raw = read_bytes("offers.csv", b"offer,item,price,pack\\nO-1,citric acid,28 EUR/bag,25 kg\\n", ["offer"])
    >>> (offer,), faults = read_offers(raw, Context.of(load_book(), Money(currency="EUR")))
    >>> offer.price, offer.pack, faults
    (1.12, 25.0, [])
    """
    columns = columns_of("offers")
    table = understand(raw, columns, parsers(context), "offer")
    refuse_second_codes(table, "offer")
    offers = [_offer(row, context) for row in table]
    refuse_silence(table, offers)
    return tuple(offer for offer in offers if offer is not None), table.faults


def _offer(row: Row, context: Context) -> Offer | None:
    refuse_impossible(row)
    item: Item | None = row.get("item")
    if item is None:
        return None
    fields = measured(row, item, columns_of("offers"))
    pack = _pack(row, item, context)
    available = row.get("available")
    available_units = None if available is None else in_units(row, "available", available, item, context, pack)
    price = row.get("price")
    price_per_unit = None if price is None else per_unit(row, "price", price, item, context, pack)
    breaks = _breaks(row, item, context, pack, price_per_unit)
    if row.get("priced_on") == "accepted" and item.kind != "fruit":
        row.fault("priced_on", "accepted kg are for fruit only; write received, or leave it empty")
    least_packs = row.get("least_packs")
    if least_packs is not None and least_packs != round(least_packs):
        row.fault("least_packs", "give a whole number of packs")
    elif least_packs is not None and least_packs > 1.0 and row.is_empty("pack"):
        row.fault("pack", "fill it in: `least_packs` counts packs")
    delivery_cost = _delivery_cost(row)
    if not row.is_sound or row.has_faulty_cell() or price_per_unit is None or row.is_empty("offer"):
        return None
    return Offer(
        **fields,
        offer=row.get("offer"),
        supplier=row.get("supplier") or "",
        unit="piece" if item.kind == "packaging" else "kg",
        price=price_per_unit,
        priced_on=row.get("priced_on") or "received",
        available=available_units,
        pack=pack,
        least_packs=max(1.0, least_packs or 1.0),
        breaks=breaks,
        delivery_cost=delivery_cost,
        delivery_days=row.get("delivery_days") or 0.0,
        valid_until=row.get("valid_until"),
    )


def _pack(row: Row, item: Item, context: Context) -> float | None:
    amount = row.get("pack")
    if amount is None:
        return None
    if amount.unit == "pack" or (amount.unit == "piece" and item.kind != "packaging"):
        row.fault("pack", "give what one pack holds, such as 25 kg or 24 pieces")
        return None
    size = in_units(row, "pack", amount, item, context, None)
    if size is not None and size <= 0.0:
        row.fault("pack", "must be above 0; leave it empty where any amount can be had")
        return None
    return size


def _breaks(
    row: Row, item: Item, context: Context, pack: float | None, price_per_unit: float | None
) -> tuple[PriceBreak, ...]:
    """Steps in packs, from the least amount on; each must be cheaper than the one before."""
    steps: tuple[Break, ...] = row.get("breaks") or ()
    found: list[PriceBreak] = []
    for step in steps:
        size = in_units(row, "breaks", step.least, item, context, pack)
        price = per_unit(row, "breaks", step.price, item, context, pack)
        if size is None or price is None:
            return ()
        if pack is None:
            if row.is_empty("pack"):
                row.fault("pack", "fill it in: `breaks` count packs")
            return ()
        if size <= 0.0 or price < 0.0:
            row.fault("breaks", "give amounts above 0 and prices of 0 or more")
            return ()
        found.append(PriceBreak(from_packs=size / pack, price=price))
    found.sort(key=lambda step: step.from_packs)
    if any(after.from_packs <= before.from_packs for before, after in pairwise(found)):
        row.fault("breaks", "two steps begin at the same amount; keep one")
    prices = [step.price for step in found]
    prices = prices if price_per_unit is None else [price_per_unit, *prices]
    if any(after > before * (1.0 + 1e-9) for before, after in pairwise(prices)):
        row.fault("breaks", "more would cost more per unit than less; look at the prices again")
    return tuple(found)


def _delivery_cost(row: Row) -> float:
    price: Price | None = row.get("delivery_cost")
    if price is None:
        return 0.0
    if price.per is not None:
        row.fault("delivery_cost", "give money per order, without a unit")
    return price.value
