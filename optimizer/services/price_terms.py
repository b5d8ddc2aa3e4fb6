"""A price as typed → integers that lose nothing: so many hundredths of a currency for so many grams or pieces."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from optimizer.inputs.files import RawTable
from optimizer.inputs.goods import Context, columns_of, in_units, parsers
from optimizer.inputs.items import Item, Items
from optimizer.inputs.models import Book
from optimizer.inputs.prices import SIGNS, Money, Price, read_price
from optimizer.inputs.tables import Row, understand

MINOR = 100
"""Prices are counted in hundredths of the currency named, whatever its coins are."""
MOST = 10**15  # of either integer
CLOSE = 10**9  # where no integers within `MOST` say a price exactly, they miss it by less than one part in this


@dataclass(frozen=True, kw_only=True)
class PriceTerms:
    """`price_minor` hundredths of `currency` for `price_amount` grams or pieces."""

    currency: str
    price_minor: int
    price_amount: int
    unit: Literal["g", "piece"]


@dataclass(kw_only=True)
class _AsTyped(Money):
    """Converts nothing, and remembers the currency that a cell names."""

    named: str = ""

    def in_site_currency(self, value: float, currency: str) -> float:
        self.named = SIGNS.get(currency, currency)
        return value


def price_terms(raw: RawTable, book: Book, site_currency: str, items: Items | None = None) -> tuple[PriceTerms, ...]:
    """The terms of each offer of a table that the reader found sound.

    Parameters
    ----------
    raw : RawTable
        Columns of the offers table.
    book : Book
        What a litre of an item weighs.
    site_currency : str
        Of a price that names none.
    items : Items, optional
        The index of the book's names, where it is at hand.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> from optimizer.inputs.files import read_bytes
    >>> raw = read_bytes("offers.csv", b"offer,item,price,pack\\nO-1,citric acid,28 EUR/bag,25 kg\\n", ["offer"])
    >>> price_terms(raw, load_book(), "EUR")
    (PriceTerms(currency='EUR', price_minor=2800, price_amount=25000, unit='g'),)
    """
    money = _AsTyped(currency=site_currency)
    context = Context(book=book, money=money, items=items or Items(book))
    table = understand(raw, columns_of("offers"), parsers(context), "offer")
    found = []
    for index, row in enumerate(table):
        money.named = ""
        price = read_price(table.typed["price"][index], money, raw.decimal_mark or ".")
        found.append(_terms(row, price, money.named or site_currency, context))
    return tuple(found)


def _terms(row: Row, price: Price, currency: str, context: Context) -> PriceTerms:
    item: Item = row.get("item")
    is_packaging = item.kind == "packaging"
    size: float | None = 1.0  # kg or pieces
    if price.per is not None:
        pack = row.get("pack")
        pack_size = None if pack is None else in_units(row, "pack", pack, item, context, None)
        size = in_units(row, "price", price.per, item, context, pack_size)
    if size is None or size <= 0.0:
        raise ValueError(f"the offer on line {row.line} was not found sound by its reader")
    amount = _exact(size) * (1 if is_packaging else 1000)
    minor, whole = as_integers(_exact(price.value) * MINOR, amount)
    return PriceTerms(currency=currency, price_minor=minor, price_amount=whole, unit="piece" if is_packaging else "g")


def _exact(value: float) -> Fraction:
    """The decimal number that was typed or printed: 0.92, not the binary number nearest to it."""
    return Fraction(f"{value:.15g}")


def as_integers(minor: Fraction, amount: Fraction) -> tuple[int, int]:
    """Two integers in the ratio of two decimal numbers, both raised by the same power of ten.

    Where the integers would pass `MOST`, the nearest ratio of smaller ones is taken, closer than one part in `CLOSE`.

    Examples
    --------
    >>> as_integers(Fraction(2800), Fraction(25000)), as_integers(Fraction("112.5"), Fraction(1000))
    ((2800, 25000), (1125, 10000))
    >>> as_integers(Fraction(92), Fraction("453.59237"))
    (9200000, 45359237)
    """
    factor = 1
    while factor * max(minor, amount) <= MOST:
        if (minor * factor).denominator == 1 and (amount * factor).denominator == 1:
            return int(minor * factor), int(amount * factor)
        factor *= 10
    return _nearest(minor / amount)


def _nearest(ratio: Fraction) -> tuple[int, int]:
    """Integers whose ratio misses `ratio` (above 0) by less than one part in `CLOSE`."""
    if ratio > 1:
        amount, minor = _nearest(1 / ratio)
        return minor, amount
    amount = CLOSE
    while amount * ratio < CLOSE and amount < MOST:  # a small price needs a large amount to keep its digits
        amount *= 10
    return max(1, round(ratio * amount)), amount
