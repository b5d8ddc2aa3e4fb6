"""The way from a lot to its jars, and from a jar to its lots and their suppliers."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection, select

from optimizer.store.batches_read import read_batches, use_of
from optimizer.store.faults import Unknown
from optimizer.store.jars_kept import read_jars
from optimizer.store.ledger import sound, stands
from optimizer.store.lots_read import LotState, lot_states
from optimizer.store.models import Batch, JarsKept, Trace, Use
from optimizer.store.tables import batch_ends, batches, bookings, jars, lots, movements


def follow(connection: Connection, kitchen_id: int, code: str) -> Trace:
    """From the code of jars or a batch back to the lots and their suppliers; from a lot forward to the jars."""
    sound(code, "the code")
    found = read_jars(connection, kitchen_id, jars.c.code == code)
    if found:
        through = read_batches(connection, kitchen_id, batches.c.code == found[0].batch)
        return Trace(code=code, kind="jars", back=_behind(through), batches=through, forward=found)
    through = read_batches(connection, kitchen_id, batches.c.code == code)
    if through:
        forward = _jars_of(connection, kitchen_id, through)
        return Trace(code=code, kind="batch", back=_behind(through), batches=through, forward=forward)
    lot = lot_states(connection, kitchen_id, lots.c.code == code).get(code)
    if lot is None:
        raise Unknown(f"{code} is the code of no lot, batch or jar here; look at the label again")
    through = _batches_of(connection, kitchen_id, lot)
    went = sum(use.amount for batch in through for use in (*batch.uses, *batch.packaging) if use.lot == code)
    return Trace(
        code=code,
        kind="lot",
        back=(use_of(lot, went, lot.unit),),
        batches=through,
        forward=_jars_of(connection, kitchen_id, through),
    )


def _behind(through: Iterable[Batch]) -> tuple[Use, ...]:
    return tuple(use for batch in through for use in (*batch.uses, *batch.packaging))


def _jars_of(connection: Connection, kitchen_id: int, through: Iterable[Batch]) -> tuple[JarsKept, ...]:
    codes = [batch.code for batch in through]
    return read_jars(connection, kitchen_id, batches.c.code.in_(codes))


def _batches_of(connection: Connection, kitchen_id: int, lot: LotState) -> tuple[Batch, ...]:
    taken_by = select(movements.c.booking_id).where(
        movements.c.kitchen_id == kitchen_id, movements.c.lot_id == lot.id, movements.c.kind.in_(("used", "packed"))
    )
    packed_for = (
        select(batch_ends.c.batch_id)
        .join(bookings, bookings.c.id == batch_ends.c.booking_id)
        .where(batch_ends.c.booking_id.in_(taken_by), stands)
    )
    found = read_batches(connection, kitchen_id, batches.c.booking_id.in_(taken_by) | batches.c.id.in_(packed_for))
    return tuple(batch for batch in found if batch.state != "undone")
