"""`stock.csv` or `stock.xlsx` → lots on hand."""

from __future__ import annotations

from optimizer.errors import Fault
from optimizer.inputs.collector import collector_at_rest
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
from optimizer.inputs.models import Lot
from optimizer.inputs.plain_lots import plain_lots
from optimizer.inputs.tables import Row, understand


def read_lots(raw: RawTable, context: Context) -> tuple[tuple[Lot, ...], list[Fault]]:
    """The lots of a stock table, and every fault found; with faults the lots are not complete.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> from optimizer.inputs.files import read_bytes
    >>> from optimizer.inputs.prices import Money
    >>> raw = read_bytes("stock.csv", b"lot,item,on_hand,worth_uncooked\\nA-1,plum,90 lb,0.10 EUR/kg\\n", ["lot"])
    >>> (lot,), faults = read_lots(raw, Context.of(load_book(), Money(currency="EUR")))
    >>> lot.item, round(lot.on_hand_kg, 2), faults
    ('plum, flesh with skin', 40.82, [])
    """
    with collector_at_rest():
        table = understand(raw, columns_of("stock"), parsers(context), "lot")
        refuse_second_codes(table, "lot")
        plain = plain_lots(table)
        lots = [plain[i] if i in plain else _lot(table.row(i), context) for i in range(len(table))]
    refuse_silence(table, lots)
    return tuple(lot for lot in lots if lot is not None), table.faults


def _lot(row: Row, context: Context) -> Lot | None:
    refuse_impossible(row)
    get = row.cells.get
    item: Item | None = get("item")
    if item is None:
        return None
    fields = measured(row, item, columns_of("stock"))
    on_hand, paid, worth = get("on_hand"), get("paid"), get("worth_uncooked")
    size = None if on_hand is None else in_units(row, "on_hand", on_hand, item, context, None)
    paid_per_kg = None if paid is None else per_unit(row, "paid", paid, item, context, None)
    worth_per_kg = None if worth is None else per_unit(row, "worth_uncooked", worth, item, context, None)
    if row.is_empty("worth_uncooked"):
        if item.kind == "fruit":
            row.fault("worth_uncooked", "fill it in: what it would fetch if not cooked; 0 is a value, negative if it "
                                        "must be carted off")  # fmt: skip
        elif row.is_empty("paid"):
            row.fault("worth_uncooked", "fill in `paid` or `worth_uncooked`: what it costs to use it is not known")
        else:
            worth_per_kg = paid_per_kg
    if not row.is_sound or row.has_faulty_cell() or size is None or worth_per_kg is None or row.is_empty("lot"):
        return None
    is_packaging = item.kind == "packaging"
    return Lot(
        **fields,
        lot=get("lot"),
        on_hand_kg=None if is_packaging else size,
        on_hand_pieces=size if is_packaging else None,
        paid_per_kg=paid_per_kg,
        worth_uncooked_per_kg=worth_per_kg,
        received=get("received"),
        picked=get("picked"),
        kept_at_C=get("kept_at"),
        supplier=get("supplier") or "",
    )
