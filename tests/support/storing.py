"""Short ways to say what is booked, and to look at the ledger behind the store's back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from datetime import date
from typing import Any

import psycopg

from optimizer.store import Booking, Change, Kitchen, LotChange, OfferChange, Store, Unit


def lot(code: str, amount: int | None = None, *, unit: Unit = "g", removed: bool = False, **cells: str) -> LotChange:
    return LotChange(code=code, cells=cells or None, amount=amount, unit=unit, removed=removed)


def sugar(code: str, price_minor: int, *, on: date = date(2026, 7, 1), **cells: str) -> OfferChange:
    """28 EUR for a bag of 25 kg is 2800 for 25 000 g."""
    return OfferChange(
        code=code,
        cells={"item": "sugar", "pack": "25 kg", **cells},
        item="sugar",
        supplier="Dale Stores",
        currency="EUR",
        price_minor=price_minor,
        price_amount=25_000,
        on=on,
    )


def save(store: Store, kitchen: Kitchen, *changes: LotChange | OfferChange, **options: Any) -> Booking:
    lots = tuple(change for change in changes if isinstance(change, LotChange))
    offers = tuple(change for change in changes if isinstance(change, OfferChange))
    return store.book(kitchen, Change(lots=lots, offers=offers), kind="stock", said="Saved", **options)


def on_hand(store: Store, kitchen: Kitchen) -> dict[str, int]:
    return {lot.code: lot.amount for lot in store.lots(kitchen)}


@contextmanager
def beside(place: str) -> Iterator[Callable[..., list[tuple[Any, ...]]]]:
    """A line of our own to the database, without the store; gives a function from a question to rows."""
    if "://" in place:
        with psycopg.connect(place, autocommit=True) as connection:

            def rows(question: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
                cursor = connection.execute(question.replace("?", "%s").encode(), values)
                return cursor.fetchall() if cursor.description else []

            yield rows
        return
    with closing(sqlite3.connect(place, timeout=5.0, isolation_level=None)) as file:
        yield lambda question, values=(): file.execute(question, values).fetchall()


def ask(place: str, question: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    """Rows straight from the database; `?` stands for a value."""
    with beside(place) as rows:
        return rows(question, values)


def tell(place: str, order: str) -> None:
    """An order straight to the database; raises what the database raises."""
    ask(place, order)


def counts(place: str, tables: Sequence[str]) -> Mapping[str, int]:
    with beside(place) as rows:
        return {table: rows(f"SELECT count(*) FROM {table}")[0][0] for table in tables}
