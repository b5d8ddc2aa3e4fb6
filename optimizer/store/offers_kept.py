"""Offers: the line that holds for each, and what was asked on which day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, insert, select

from optimizer.store.cells import from_text, to_text
from optimizer.store.faults import StoreFault, Unknown
from optimizer.store.ledger import moment, once_each, sound, stands
from optimizer.store.lots_read import MOST
from optimizer.store.models import Booking, OfferChange, PricePoint, StoredOffer
from optimizer.store.suppliers import supplier_ids
from optimizer.store.tables import bookings, offer_lines, offers, prices, suppliers


@dataclass(frozen=True, kw_only=True)
class OfferState:
    """An offer as it stands now."""

    id: int
    code: str
    cells: dict[str, str]
    removed: bool
    supplier: str
    said_at: str  # when its line was written


def offer_states(connection: Connection, kitchen_id: int) -> dict[str, OfferState]:
    """Every offer that was ever booked, by code, in the order of their first booking."""
    other = offer_lines.alias("other")
    newest = (
        select(func.max(other.c.id))
        .where(other.c.kitchen_id == kitchen_id, other.c.offer_id == offers.c.id)
        .correlate(offers)
        .scalar_subquery()
    )
    query = (
        select(offer_lines, offers.c.code, bookings.c.at, func.coalesce(suppliers.c.name, "").label("supplier"))
        .select_from(offers)
        .join(offer_lines, offer_lines.c.id == newest)
        .join(bookings, bookings.c.id == offer_lines.c.booking_id)
        .outerjoin(suppliers, suppliers.c.id == offer_lines.c.supplier_id)
        .where(offers.c.kitchen_id == kitchen_id)
        .order_by(offers.c.id)
    )
    return {
        row.code: OfferState(
            id=row.offer_id,
            code=row.code,
            cells=from_text(row.cells),
            removed=bool(row.removed),
            supplier=row.supplier,
            said_at=row.at,
        )
        for row in connection.execute(query)
    }


def shown_offers(connection: Connection, kitchen_id: int) -> tuple[StoredOffer, ...]:
    """The offers of the table; each since the day its last price was heard."""
    last = (
        select(offer_lines.c.offer_id, func.max(prices.c.on_date))
        .join(prices, prices.c.offer_line_id == offer_lines.c.id)
        .join(bookings, bookings.c.id == prices.c.booking_id)
        .where(prices.c.kitchen_id == kitchen_id, stands)
        .group_by(offer_lines.c.offer_id)
    )
    heard = {row[0]: row[1] for row in connection.execute(last)}
    return tuple(
        StoredOffer(
            code=offer.code,
            cells=offer.cells,
            since=date.fromisoformat(heard[offer.id])
            if offer.id in heard
            else moment(offer.said_at).astimezone().date(),
        )
        for offer in offer_states(connection, kitchen_id).values()
        if not offer.removed
    )


def change_offers(connection: Connection, kitchen_id: int, booking: Booking, changes: Iterable[OfferChange]) -> None:
    """Books the lines and prices of a change.

    Raises
    ------
    Unknown
        A change without cells names an offer that is not there.
    StoreFault
        A code is empty or named twice, or a price is for nothing.
    """
    wanted = once_each(changes, "offer")
    if not wanted:
        return
    states = offer_states(connection, kitchen_id)
    for change in wanted.values():
        before = states.get(change.code)
        if (before is None or before.removed) and (change.cells is None or change.removed):
            raise Unknown(f"offer {change.code} is not in the table any more; look at the table again")
        if change.price_minor is not None and not (0 < change.price_amount <= MOST and abs(change.price_minor) <= MOST):
            raise StoreFault(f"offer {change.code}: a price is for more than nothing; give what it is for")
    fresh = [{"kitchen_id": kitchen_id, "code": code} for code in wanted if code not in states]
    ids = {code: offer.id for code, offer in states.items()}
    if fresh:
        made = insert(offers).returning(offers.c.id, offers.c.code, sort_by_parameter_order=True)
        ids.update({code: number for number, code in connection.execute(made, fresh)})
    named = {
        code: change.supplier.strip() or (states[code].supplier if code in states else "")
        for code, change in wanted.items()
    }
    people = supplier_ids(connection, kitchen_id, named.values())
    head: dict[str, Any] = {"booking_id": booking.id, "kitchen_id": kitchen_id}
    lines = [
        head
        | {
            "offer_id": ids[code],
            "removed": int(change.removed),
            "supplier_id": people.get(named[code]),
            "cells": to_text(change.cells if change.cells is not None else states[code].cells),
        }
        for code, change in wanted.items()
    ]
    written = insert(offer_lines).returning(offer_lines.c.id, sort_by_parameter_order=True)
    line_ids = connection.execute(written, lines).scalars()
    heard = [
        head | {"offer_line_id": line, **_price(change, booking)}
        for line, change in zip(line_ids, wanted.values(), strict=True)
        if change.price_minor is not None and not change.removed
    ]
    if heard:
        connection.execute(insert(prices), heard)


def _price(change: OfferChange, booking: Booking) -> dict[str, Any]:
    return {
        "on_date": (change.on or booking.at.astimezone().date()).isoformat(),
        "item": sound(change.item, "the item"),
        "currency": sound(change.currency, "the currency"),
        "price_minor": change.price_minor,
        "price_amount": change.price_amount,
        "unit": change.unit,
    }


def _points(connection: Connection, kitchen_id: int, *where: ColumnElement[bool]) -> Iterable[Any]:
    """Prices of bookings that stand, oldest first."""
    query = (
        select(
            prices, offers.c.code.label("offer"), offer_lines.c.cells, func.coalesce(suppliers.c.name, "").label("who")
        )
        .join(offer_lines, offer_lines.c.id == prices.c.offer_line_id)
        .join(offers, offers.c.id == offer_lines.c.offer_id)
        .join(bookings, bookings.c.id == prices.c.booking_id)
        .outerjoin(suppliers, suppliers.c.id == offer_lines.c.supplier_id)
        .where(prices.c.kitchen_id == kitchen_id, stands, *where)
        .order_by(prices.c.on_date, prices.c.id)
    )
    return connection.execute(query)


def price_points(connection: Connection, kitchen_id: int, item: str | None) -> tuple[PricePoint, ...]:
    """The history of prices, oldest first; of one item, or of all."""
    where = () if item is None else (prices.c.item == item,)
    points = []
    for row in _points(connection, kitchen_id, *where):
        cells = from_text(row.cells)
        packed = {name: cells.get(name, "") for name in ("pack", "least_packs", "breaks")}
        points.append(
            PricePoint(
                date=date.fromisoformat(row.on_date),
                item=row.item,
                offer=row.offer,
                supplier=row.who,
                currency=row.currency,
                price_minor=row.price_minor,
                price_amount=row.price_amount,
                unit=row.unit,
                **packed,
            )
        )
    return tuple(points)
