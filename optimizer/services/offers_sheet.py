"""The order and the comparison as tables for a file or a printer."""

from __future__ import annotations

from optimizer.exports.cells import Sheet
from optimizer.services.offers import Offers


def order_sheet(found: Offers) -> Sheet:
    """The order list: one line per offer that is taken, delivery and what it saves beside it."""
    header = (
        "offer", "supplier", "item", "packs", "pack", "amount", "unit", "price", "delivery", f"cost {found.currency}",
        "comes in days", "left over", "keeps", f"saves {found.currency}",
    )  # fmt: skip
    rows = []
    for line in found.order.lines:
        saving = found.saves.get(line.offer)
        rows.append(
            [
                line.offer, line.supplier, line.item, "" if line.packs is None else str(line.packs),
                "" if line.pack is None else f"{line.pack:g}", f"{line.amount:.6g}", line.unit, f"{line.price:.6g}",
                f"{line.delivery:.2f}", f"{line.cost:.2f}", f"{line.delivery_days:g}",
                f"{line.left_over:.4g}" if line.left_over > 0.0 else "", line.keeps if line.left_over > 0.0 else "",
                "" if saving is None or saving.saves is None else f"{saving.saves:.2f}",
            ]
        )  # fmt: skip
    return Sheet(
        name="order", header=header, rows=rows, numeric=frozenset(_NUMERIC & set(header)) | {header[9], header[13]}
    )


def compared_sheet(found: Offers) -> Sheet:
    """Every offer per unit as listed and per useful unit delivered, with its entry price."""
    header = (
        "offer", "item", "useful unit", "listed", "useful as listed", "useful landed", "for amount", "taken",
        "buy below",
    )  # fmt: skip
    rows = []
    for one in found.landed:
        entry = found.entry.get(one.id)
        below = None if entry is None else entry.enters_below
        rows.append(
            [
                one.id, one.item, one.useful_unit, f"{one.list_price:.6g}", f"{one.list_per_useful_unit:.6g}",
                f"{one.landed_per_useful_unit:.6g}", f"{one.amount:.6g}", f"{found.order.taken.get(one.id, 0.0):.6g}",
                "" if below is None else f"{below:.6g}",
            ]
        )  # fmt: skip
    return Sheet(name="offers", header=header, rows=rows, numeric=frozenset(_NUMERIC & set(header)))


_NUMERIC = {
    "packs", "pack", "amount", "price", "delivery", "comes in days", "left over", "listed", "useful as listed",
    "useful landed", "for amount", "taken", "buy below",
}  # fmt: skip
