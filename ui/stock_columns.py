"""The columns of the two tables in the words of the page, and their faults with the lines of the page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from optimizer.errors import Fault
from optimizer.inputs.goods import columns_of
from ui.grid import Head
from ui.show import result_table
from ui.words import N_, _, capital, said

Which = Literal["stock", "offers"]
CODE: dict[Which, str] = {"stock": "lot", "offers": "offer"}
KEEPS = "keeps_until"  # worked out, not typed

_LABELS = {
    "lot": N_("Lot"),
    "offer": N_("Offer"),
    "supplier": N_("Supplier"),
    "item": N_("Item"),
    "condition": N_("Condition"),
    "on_hand": N_("On hand"),
    KEEPS: N_("Keeps until"),
    "worth_uncooked": N_("Worth"),
    "paid": N_("Paid"),
    "price": N_("Price"),
    "priced_on": N_("Priced on"),
    "available": N_("Available"),
    "pack": N_("Pack"),
    "least_packs": N_("Least packs"),
    "breaks": N_("Price breaks"),
    "delivery_cost": N_("Delivery cost"),
    "delivery_days": N_("Days to deliver"),
    "valid_until": N_("Valid until"),
    "received": N_("Received"),
    "picked": N_("Picked"),
    "kept_at": N_("Kept at"),
    "brix": N_("°Brix"),
    "ph": N_("pH"),
    "acid": N_("Acid"),
    "pectin": N_("Pectin"),
    "spirit_test": N_("Spirit test"),
    "reject": N_("Rejected"),
    "trim": N_("Cut away"),
    "so2": N_("SO₂"),
    "grade": N_("Pectin grade"),
    "setting": N_("Setting speed"),
    "purity": N_("Purity"),
    "rot_sorted_out": N_("Rot sorted out"),
}
_FIRST: dict[Which, tuple[str, ...]] = {
    "stock": ("lot", "item", "condition", "on_hand", "worth_uncooked", KEEPS),
    "offers": ("offer", "item", "supplier", "price", "pack", "valid_until"),
}
_WIDTHS = {"lot": 80, "offer": 80, "item": 175, "condition": 175, "supplier": 140, "breaks": 260, "rot_sorted_out": 120}
_WIDTH, _WIDTH_OF_DAYS = 100, 110
_TEXTS = {"code", "text", "item", "condition", "breaks", "date", "yesno", "choice"}


def label(column: str) -> str:
    """The name of a column for people; an unknown one as it is.

    >>> label("on_hand"), label("colour")
    ('On hand', 'colour')
    """
    return _(_LABELS[column]) if column in _LABELS else column


def heads(which: Which, *, all_of_them: bool) -> list[Head]:
    """Heads of the columns to show: the most used ones first, then the rest in the order of the file.

    >>> [head.name for head in heads("offers", all_of_them=False)]
    ['offer', 'item', 'supplier', 'price', 'pack', 'valid_until']
    """
    first = _FIRST[which]
    names = [*first, *(name for name in columns_of(which) if name not in first)] if all_of_them else list(first)
    return [_head(which, name, is_pinned=all_of_them and name == CODE[which]) for name in names]


def _head(which: Which, name: str, *, is_pinned: bool) -> Head:
    column = columns_of(which).get(name)
    if column is None:
        tip = _("Until this day less than a tenth of what is usable now is lost; worked out from the saved lines.")
        return Head(name=name, label=label(name), tip=tip, width=_WIDTH_OF_DAYS)
    is_number = column.type.partition(":")[0] not in _TEXTS
    return Head(
        name=name,
        label=label(name),
        tip=_tip(which, name),
        width=_WIDTHS.get(name, _WIDTH_OF_DAYS if column.type == "date" else _WIDTH),
        is_pinned=is_pinned,
        is_number=is_number,
    )


def _tip(which: Which, name: str) -> str:
    column = columns_of(which)[name]
    tip = capital(said(column.meaning)).rstrip(".") + "."
    if column.choices:
        tip += " " + _("One of: {words}.").format(words=", ".join(column.choices))
    elif column.type == "date":
        tip += " " + _("Year-month-day, such as 2026-07-03.")
    elif column.unit and column.type not in _TEXTS:
        tip += " " + _("A number alone counts in {unit}.").format(unit=column.unit.removeprefix("per "))
    return tip


def faults_list(faults: Sequence[Fault], *, alt: str, most: int = 50) -> None:
    """All faults of a table on the page: line, code, column, what stands there, what to do."""
    rows = [
        [
            "" if fault.line is None else str(fault.line),
            fault.item,
            label(fault.column),
            fault.value or "",
            capital(said(fault.cure)),
        ]
        for fault in faults[:most]
    ]
    head = [_("Line"), _("Which"), _("Column"), _("Stands there"), _("What to do")]
    result_table(rows, head, alt=alt)  # each table of a page needs a name of its own


def differing(columns: Iterable[str]) -> str:
    """Names of columns in a row.

    >>> differing(["on_hand", "ph"])
    'On hand, pH'
    """
    return ", ".join(label(column) for column in columns)
