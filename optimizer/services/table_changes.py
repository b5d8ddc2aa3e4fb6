"""What a previewed table books: lines, movements and prices, for the store."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from optimizer.inputs.book import load_book
from optimizer.inputs.models import Lot
from optimizer.services.preview import Judged, Line, NewLine, Which, raw_of, unit_of
from optimizer.services.price_terms import PriceTerms, price_terms
from optimizer.store import Change, LotChange, OfferChange

PRICED_BY = frozenset({"item", "price", "pack", "supplier", "least_packs", "breaks"})
"""Columns of an offer that make another price of it."""


def change_of(which: Which, judged: Judged, stored: Sequence[Line], *, currency: str, on: date) -> Change:
    """The change that a table without fault would book.

    Parameters
    ----------
    which : {"stock", "offers"}
        Which table.
    judged : Judged
        Without faults.
    stored : sequence of Line
        What it was compared with.
    currency : str
        Of prices that name none.
    on : date
        The day the prices were heard.
    """
    before = {line.code: line for line in stored}
    if which == "stock":
        lots = [_lot_change(line) for line in judged.lines]
        gone = [LotChange(code=code, unit=before[code].unit, removed=True, why="removed") for code in judged.removed]
        return Change(lots=(*lots, *gone))
    terms = _terms(judged.lines, currency)
    offers = [_offer_change(line, terms[line.code], before.get(line.code), on) for line in judged.lines]
    return Change(offers=(*offers, *(OfferChange(code=code, removed=True) for code in judged.removed)))


def _lot_change(line: NewLine) -> LotChange:
    assert isinstance(line.model, Lot)
    return LotChange(code=line.code, cells=_filled(line.cells), amount=line.amount, unit=unit_of(line.model))


def _terms(lines: Sequence[NewLine], currency: str) -> Mapping[str, PriceTerms]:
    raw = raw_of("offers", [line.cells for line in lines], "offers")
    found = price_terms(raw, load_book(), currency) if lines else ()
    return {line.code: terms for line, terms in zip(lines, found, strict=True)}


def _offer_change(line: NewLine, terms: PriceTerms, before: Line | None, on: date) -> OfferChange:
    is_priced_anew = before is None or any(line.cells.get(name, "") != before.cells.get(name, "") for name in PRICED_BY)
    return OfferChange(
        code=line.code,
        cells=_filled(line.cells),
        item=line.model.item,
        supplier=line.cells.get("supplier", ""),
        currency=terms.currency,
        price_minor=terms.price_minor if is_priced_anew else None,
        price_amount=terms.price_amount,
        unit=terms.unit,
        on=on,
    )


def _filled(cells: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in cells.items() if text}


def in_words(which: Which, judged: Judged) -> str:
    """What was saved, for the history.

    >>> in_words("stock", Judged(new=("A-1", "A-2"), removed=("B-1",)))
    'Stock: added A-1, A-2; removed B-1'
    """
    parts = [
        ("added", judged.new),
        ("changed", tuple(row.code for row in judged.changed)),
        ("removed", judged.removed),
    ]
    said = "; ".join(f"{word} {_some(codes)}" for word, codes in parts if codes)
    return f"{'Stock' if which == 'stock' else 'Offers'}: {said}"


def _some(codes: Sequence[str], most: int = 5) -> str:
    rest = len(codes) - most
    return ", ".join(codes[:most]) + (f" and {rest} more" if rest > 0 else "")
