"""Jars after they were filled: how many are still here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, Select, case, func, insert, select

from optimizer.store.faults import NotEnough, StoreFault, Unknown
from optimizer.store.ledger import add_booking, sound, stands
from optimizer.store.lots_read import MOST
from optimizer.store.models import Booking, JarsKept
from optimizer.store.tables import batches, bookings, jar_movements, jars


def read_jars(connection: Connection, kitchen_id: int, *where: ColumnElement[bool]) -> tuple[JarsKept, ...]:
    """Jars that fit and were not taken back, oldest first."""
    return tuple(
        JarsKept(
            code=row.code,
            name=row.name,
            batch=row.batch,
            product=row.product,
            made=int(row.made),
            on_hand=int(row.on_hand),
        )
        for row in connection.execute(_jars(kitchen_id, *where))
    )


def _jars(kitchen_id: int, *where: ColumnElement[bool]) -> Select[tuple[object, ...]]:
    filled = case((jar_movements.c.kind == "filled", jar_movements.c.amount), else_=0)
    return (
        select(
            jars.c.id,
            jars.c.code,
            jars.c.name,
            batches.c.code.label("batch"),
            batches.c.product,
            func.sum(filled).label("made"),
            func.sum(jar_movements.c.amount).label("on_hand"),
        )
        .join(bookings, bookings.c.id == jars.c.booking_id)
        .join(batches, batches.c.id == jars.c.batch_id)
        .join(jar_movements, jar_movements.c.jars_id == jars.c.id)
        .where(jars.c.kitchen_id == kitchen_id, stands, *where)
        .group_by(jars.c.id, jars.c.code, jars.c.name, batches.c.code, batches.c.product)
        .order_by(jars.c.id)
    )


def take_away(
    connection: Connection, kitchen_id: int, counts: Mapping[str, int], *, why: str, at: datetime, who: str
) -> Booking:
    """Books jars out: sold, given away, broken."""
    here = {row.code: row for row in connection.execute(_jars(kitchen_id))}
    short = []
    for code, count in counts.items():
        if sound(code, "the code of the jars") not in here:
            raise Unknown(f"jars {code} are not there; look at the list of jars")
        if not 0 < count <= MOST:
            raise StoreFault(f"jars {code}: {count} cannot be taken; give 1 or more")
        if count > here[code].on_hand:
            short.append(f"{code} has {here[code].on_hand}, {count} are asked for")
    if short:
        raise NotEnough(f"not enough jars, nothing was booked: {'; '.join(short)}")
    if not counts:
        raise StoreFault("no jars were named, so there is nothing to book")
    said = why or f"Jars taken: {', '.join(f'{count} of {code}' for code, count in counts.items())}"
    booking = add_booking(connection, kitchen_id, at=at, who=who, kind="jars", said=said)
    head = {"booking_id": booking.id, "kitchen_id": kitchen_id, "kind": "taken", "why": sound(why, "the reason")}
    connection.execute(
        insert(jar_movements),
        [head | {"jars_id": here[code].id, "amount": -count, "corrects": None} for code, count in counts.items()],
    )
    return booking
