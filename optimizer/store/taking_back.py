"""Undo: a counter-booking. Nothing is deleted; new lines say again what held before."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select

from optimizer.store.batches_kept import is_finished
from optimizer.store.faults import NotEnough, StoreFault, Unknown
from optimizer.store.ledger import FOUNDING, add_booking, read_bookings, stands
from optimizer.store.lots_read import told
from optimizer.store.models import Booking
from optimizer.store.tables import batches, bookings, jar_movements, lot_lines, lots, movements, offer_lines, site_texts


def take_back(
    connection: Connection, kitchen_id: int, *, at: datetime, who: str, booking: int | None
) -> Booking | None:
    """Takes back one booking that stands, the newest unless named; None where there is none.

    Raises
    ------
    NotEnough
        Stock would fall below zero: some of it was used since.
    StoreFault
        A later booking changed the same lines; it has to be taken back first.
    """
    mine = bookings.c.kitchen_id == kitchen_id
    named = () if booking is None else (bookings.c.id == booking,)
    found = read_bookings(connection, mine, stands, bookings.c.kind != FOUNDING, *named, most=1)
    if not found:
        if booking is None:
            return None
        raise Unknown("this booking is not there, or was taken back already; look at the list again")
    (target,) = found
    _refuse_finished(connection, target.id)
    counter = add_booking(
        connection, kitchen_id, at=at, who=who, kind="undo", said=f"Taken back: {target.said}", undoes=target.id
    )
    _lines_again(connection, target.id, counter.id, lot_lines, "lot_id")
    _lines_again(connection, target.id, counter.id, offer_lines, "offer_id")
    _lines_again(connection, target.id, counter.id, site_texts, "kitchen_id")
    _stock_back(connection, kitchen_id, target.id, counter.id)
    _jars_back(connection, kitchen_id, target.id, counter.id)
    return counter


def _refuse_finished(connection: Connection, target: int) -> None:
    """The opening of a batch stands as long as its finish does."""
    opened = connection.execute(select(batches).where(batches.c.booking_id == target)).one_or_none()
    if opened is not None and is_finished(connection, opened.id):
        raise StoreFault(f"batch {opened.code} was finished since; take its finish back first")


def _jars_back(connection: Connection, kitchen_id: int, target: int, counter: int) -> None:
    moves = connection.execute(select(jar_movements).where(jar_movements.c.booking_id == target)).all()
    if not moves:
        return
    sums = (
        select(jar_movements.c.jars_id, func.sum(jar_movements.c.amount))
        .where(jar_movements.c.jars_id.in_([move.jars_id for move in moves]))
        .group_by(jar_movements.c.jars_id)
    )
    here = {row[0]: row[1] for row in connection.execute(sums)}
    if any(here[move.jars_id] < move.amount for move in moves):
        raise NotEnough("some of these jars went out since; take that back first, then the filling")
    back = [
        {"booking_id": counter, "kitchen_id": kitchen_id, "jars_id": move.jars_id, "amount": -move.amount}
        | {"kind": "undone", "corrects": move.id, "why": ""}
        for move in moves
    ]
    connection.execute(insert(jar_movements), back)


def _lines_again(connection: Connection, target: int, counter: int, table: Table, key: str) -> None:
    """Writes again, for each line of the booking, the line that held before it."""
    changed = connection.execute(select(table).where(table.c.booking_id == target)).mappings().all()
    if not changed:
        return
    keys = select(table.c[key]).where(table.c.booking_id == target)
    # `stands` counts the target no more: its counter-booking is written already
    lines = connection.execute(
        select(table)
        .join(bookings, bookings.c.id == table.c.booking_id)
        .where(table.c[key].in_(keys), stands)
        .order_by(table.c.id)
    ).mappings()
    before: dict[int, dict[str, Any]] = {}
    for line in lines:
        if line["booking_id"] > target:
            raise StoreFault("something was changed since on the same line; take back the later change first")
        before[line[key]] = dict(line)
    again = []
    for line in changed:
        was = before.get(line[key]) or dict(line) | {"removed": 1}  # nothing before it: the line leaves the table
        again.append({name: value for name, value in was.items() if name != "id"} | {"booking_id": counter})
    connection.execute(insert(table), again)


def _stock_back(connection: Connection, kitchen_id: int, target: int, counter: int) -> None:
    moves = connection.execute(select(movements).where(movements.c.booking_id == target)).mappings().all()
    if not moves:
        return
    touched = select(movements.c.lot_id).where(movements.c.booking_id == target)
    sums = (
        select(movements.c.lot_id, movements.c.unit, func.sum(movements.c.amount))
        .where(movements.c.kitchen_id == kitchen_id, movements.c.lot_id.in_(touched))
        .group_by(movements.c.lot_id, movements.c.unit)
    )
    here = {(lot, unit): int(amount) for lot, unit, amount in connection.execute(sums)}
    short = [move for move in moves if here[move["lot_id"], move["unit"]] < move["amount"]]
    if short:
        codes = {row.id: row.code for row in connection.execute(select(lots.c.id, lots.c.code))}
        names = "; ".join(
            f"{codes[move['lot_id']]} has {told(here[move['lot_id'], move['unit']], move['unit'])} left of "
            f"{told(move['amount'], move['unit'])}"
            for move in short
        )
        raise NotEnough(f"some of it was used since, so it cannot be taken back: {names}")
    back = [
        {
            "booking_id": counter,
            "kitchen_id": kitchen_id,
            "lot_id": move["lot_id"],
            "amount": -move["amount"],
            "unit": move["unit"],
            "kind": "undone",
            "corrects": move["id"],
            "why": "",
        }
        for move in moves
    ]
    connection.execute(insert(movements), back)
