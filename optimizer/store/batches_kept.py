"""Batches: opened on the lots they use, read, finished into jars. Each step is one booking, whole or not at all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from optimizer.store.codes import jar_codes, lot_codes, made_codes, next_code
from optimizer.store.faults import StoreFault, Unknown
from optimizer.store.kitchens_kept import write_change
from optimizer.store.ledger import add_booking, sound, stamp, stands
from optimizer.store.lots_kept import take
from optimizer.store.lots_read import MOST
from optimizer.store.models import Booking, Change, JarsMade
from optimizer.store.recipes_kept import recipe_id
from optimizer.store.tables import batch_ends, batches, bookings, jar_movements, jars, readings


def start(
    connection: Connection,
    kitchen_id: int,
    *,
    recipe: str,
    code: str | None,
    product: str,
    uses: Mapping[str, int],
    comes_in: Change | None,
    came_in: str,
    expect: int | None,
    at: datetime,
    who: str,
) -> int:
    """Opens a batch and takes its lots, after what comes in for it; gives its line."""
    if comes_in is not None:
        received = add_booking(connection, kitchen_id, at=at, who=who, kind="stock", said=came_in, expect=expect)
        write_change(connection, kitchen_id, received, comes_in)
        expect = None
    taken = made_codes(connection, kitchen_id) | lot_codes(connection, kitchen_id)
    if code is None:
        code = next_code("B", at, taken)
    _refuse_code(code, "batch", taken)
    said = f"Batch {code}: {product}"
    booking = add_booking(connection, kitchen_id, at=at, who=who, kind="batch opened", said=said, expect=expect)
    values = {
        "booking_id": booking.id,
        "kitchen_id": kitchen_id,
        "recipe_id": recipe_id(connection, kitchen_id, recipe) if recipe else None,
        "code": code,
        "product": sound(product, "the product"),
    }
    number: int = connection.execute(insert(batches).values(values).returning(batches.c.id)).scalar_one()
    take(connection, kitchen_id, booking, uses, kind="used")
    return number


def note(
    connection: Connection,
    kitchen_id: int,
    code: str,
    *,
    figure: str,
    value: float,
    unit: str,
    at: datetime,
    now: datetime,
    who: str,
) -> None:
    """Writes down a reading."""
    if not math.isfinite(value):
        raise StoreFault(f"{figure}: a reading is a number; read it again")
    values = {
        "kitchen_id": kitchen_id,
        "batch_id": standing(connection, kitchen_id, code).id,
        "figure": sound(figure, "the figure"),
        "value": float(value),
        "unit": sound(unit, "the unit"),
        "at": stamp(at),
        "who": sound(who, "the name"),
        "noted_at": stamp(now),
    }
    connection.execute(insert(readings).values(values))


def finish(
    connection: Connection,
    kitchen_id: int,
    code: str,
    *,
    made_g: int,
    filled: Sequence[JarsMade],
    packaging: Mapping[str, int],
    at: datetime,
    who: str,
) -> int:
    """Books what came out; gives the batch's line."""
    batch = standing(connection, kitchen_id, code)
    if is_finished(connection, batch.id):
        raise StoreFault(f"batch {code} is finished already; take that back first to finish it anew")
    if not 0 <= made_g <= MOST:
        raise StoreFault(f"batch {code}: {made_g} g cannot have been made; give 0 or more")
    said = f"Batch {code} finished: {sum(jar.count for jar in filled)} jars"
    booking = add_booking(connection, kitchen_id, at=at, who=who, kind="batch finished", said=said)
    about = {"booking_id": booking.id, "kitchen_id": kitchen_id, "batch_id": batch.id}
    connection.execute(insert(batch_ends).values(about | {"made_g": made_g}))
    _fill(connection, kitchen_id, booking, batch, filled)
    take(connection, kitchen_id, booking, packaging, kind="packed")
    number: int = batch.id
    return number


def _fill(
    connection: Connection, kitchen_id: int, booking: Booking, batch: Row[Any], filled: Sequence[JarsMade]
) -> None:
    taken = made_codes(connection, kitchen_id, but_of=batch.id) | lot_codes(connection, kitchen_id)
    free = (code for code in jar_codes(batch.code) if code not in taken)
    head = {"booking_id": booking.id, "kitchen_id": kitchen_id}
    for jar in filled:
        if not 0 < jar.count <= MOST:
            raise StoreFault(f"jars {jar.name}: {jar.count} cannot be; give 1 or more")
        code = jar.code or next(free)
        _refuse_code(code, "jars", taken)
        taken.add(code)
        values = head | {"batch_id": batch.id, "code": code, "name": sound(jar.name, "the jar")}
        number = connection.execute(insert(jars).values(values).returning(jars.c.id)).scalar_one()
        moved = head | {"jars_id": number, "amount": jar.count, "kind": "filled", "why": ""}
        connection.execute(insert(jar_movements).values(moved))


def standing(connection: Connection, kitchen_id: int, code: str) -> Row[Any]:
    """The line of a batch that was not taken back."""
    sound(code, "the code of the batch")
    query = (
        select(batches)
        .join(bookings, bookings.c.id == batches.c.booking_id)
        .where(batches.c.kitchen_id == kitchen_id, batches.c.code == code, stands)
    )
    found = connection.execute(query).one_or_none()
    if found is None:
        raise Unknown(f"batch {code} is not there, or its opening was taken back; look at the list of batches")
    return found


def is_finished(connection: Connection, batch_id: int) -> bool:
    """True where a finish stands."""
    query = (
        select(batch_ends.c.id)
        .join(bookings, bookings.c.id == batch_ends.c.booking_id)
        .where(batch_ends.c.batch_id == batch_id, stands)
    )
    return connection.execute(query).first() is not None


def _refuse_code(code: str, what: str, taken: set[str]) -> None:
    if not sound(code, f"the code of the {what}").strip():
        raise StoreFault(f"one {what} has no code; give each its own")
    if code in taken:
        raise StoreFault(f"{code} is the code of something else already; give another for the {what}")
