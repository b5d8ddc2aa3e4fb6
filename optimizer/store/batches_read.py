"""Batches as they stand."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, select

from optimizer.store.ledger import is_undone, moment, stands
from optimizer.store.lots_read import LotState, lot_states
from optimizer.store.models import Batch, JarsMade, Reading, Use
from optimizer.store.tables import (
    batch_ends,
    batches,
    bookings,
    jar_movements,
    jars,
    lots,
    movements,
    readings,
    recipes,
)


def read_batches(connection: Connection, kitchen_id: int, *where: ColumnElement[bool]) -> tuple[Batch, ...]:
    """Batches that fit, newest first; a batch that was taken back is told as undone."""
    query = (
        select(batches, bookings.c.at, bookings.c.who, recipes.c.code.label("recipe"), is_undone.label("undone"))
        .join(bookings, bookings.c.id == batches.c.booking_id)
        .outerjoin(recipes, recipes.c.id == batches.c.recipe_id)
        .where(batches.c.kitchen_id == kitchen_id, *where)
        .order_by(batches.c.id.desc())
    )
    rows = connection.execute(query).all()
    mine = batches.c.id.in_(select(batches.c.id).where(batches.c.kitchen_id == kitchen_id, *where))
    ends = {row.batch_id: row for row in connection.execute(_ends(mine))}
    used = _uses(connection, kitchen_id, select(batches.c.id, batches.c.booking_id).where(mine))
    packed = _uses(
        connection, kitchen_id, _ends(mine).with_only_columns(batch_ends.c.batch_id, batch_ends.c.booking_id)
    )
    read = _readings(connection, mine)
    filled = _filled(connection, mine)
    return tuple(
        Batch(
            code=row.code,
            product=row.product,
            recipe=row.recipe or "",
            state="undone" if row.undone else "finished" if row.id in ends else "open",
            opened_at=moment(row.at),
            who=row.who,
            uses=tuple(used[row.id]),
            readings=tuple(read[row.id]),
            made_g=ends[row.id].made_g if row.id in ends else None,
            finished_at=moment(ends[row.id].at) if row.id in ends else None,
            jars=tuple(filled[row.id]),
            packaging=tuple(packed[row.id]),
        )
        for row in rows
    )


def _ends(mine: ColumnElement[bool]) -> Select[Any]:
    return (
        select(batch_ends, bookings.c.at)
        .join(batches, batches.c.id == batch_ends.c.batch_id)
        .join(bookings, bookings.c.id == batch_ends.c.booking_id)
        .where(mine, stands)
    )


def _uses(connection: Connection, kitchen_id: int, of: Select[Any]) -> dict[int, list[Use]]:
    """Batch -> what its bookings took; `of` selects (batch, booking)."""
    booked = of.subquery()
    batch, booking = booked.c
    query = (
        select(batch.label("batch"), movements.c.lot_id, movements.c.amount, movements.c.unit)
        .join(booked, booking == movements.c.booking_id)
        .where(movements.c.kind.in_(("used", "packed")))
        .order_by(movements.c.id)
    )
    taken = connection.execute(query).all()
    touched = select(movements.c.lot_id).where(movements.c.booking_id.in_(select(booking)))
    named = lot_states(connection, kitchen_id, lots.c.id.in_(touched)) if taken else {}
    states = {lot.id: lot for lot in named.values()}
    found: dict[int, list[Use]] = defaultdict(list)
    for row in taken:
        found[row.batch].append(use_of(states[row.lot_id], -row.amount, row.unit))
    return found


def use_of(lot: LotState, amount: int, unit: Any) -> Use:
    """So much of a lot, with who it came from as the lot says now."""
    return Use(lot=lot.code, item=lot.cells.get("item", ""), supplier=lot.supplier, amount=amount, unit=unit)


def _readings(connection: Connection, mine: ColumnElement[bool]) -> dict[int, list[Reading]]:
    found: dict[int, list[Reading]] = defaultdict(list)
    query = select(readings).join(batches, batches.c.id == readings.c.batch_id).where(mine).order_by(readings.c.id)
    for row in connection.execute(query):
        found[row.batch_id].append(
            Reading(figure=row.figure, value=row.value, unit=row.unit, at=moment(row.at), who=row.who)
        )
    return found


def _filled(connection: Connection, mine: ColumnElement[bool]) -> dict[int, list[JarsMade]]:
    found: dict[int, list[JarsMade]] = defaultdict(list)
    query = (
        select(jars.c.batch_id, jars.c.name, jars.c.code, jar_movements.c.amount)
        .join(batches, batches.c.id == jars.c.batch_id)
        .join(bookings, bookings.c.id == jars.c.booking_id)
        .join(jar_movements, jar_movements.c.jars_id == jars.c.id)
        .where(mine, stands, jar_movements.c.kind == "filled")
        .order_by(jars.c.id)
    )
    for row in connection.execute(query):
        found[row.batch_id].append(JarsMade(name=row.name, count=row.amount, code=row.code))
    return found
