"""Lots: the line that holds for each, and what is on hand as the sum of its movements."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, ScalarSelect, Select, func, select

from optimizer.store.cells import from_text
from optimizer.store.models import Movement, StoredLot, Unit
from optimizer.store.tables import lot_lines, lots, movements, suppliers

MOST = 10**15  # g or pieces: beyond it somebody leaned on a key
FEW = 500  # codes that are asked for one by one


@dataclass(frozen=True, kw_only=True)
class LotState:
    """A lot as it stands now."""

    id: int
    code: str
    cells: dict[str, str]
    unit: Unit
    typed_amount: int | None
    removed: bool
    supplier: str
    amount: int
    stated_by: int | None  # the movement that last stated the amount on hand, in this unit


def lot_states(connection: Connection, kitchen_id: int, *where: ColumnElement[bool]) -> dict[str, LotState]:
    """Lots that fit, also those that left the table, by code, in the order of their first booking.

    Newest line and sum are asked for lot by lot: each is a step into an index, however long the ledger has grown.
    """
    query = _newest_lines(kitchen_id).add_columns(_on_hand().label("amount"), _stated_by().label("stated_by"))
    return {row.code: _state(row) for row in connection.execute(query.where(*where))}


def states_of(connection: Connection, kitchen_id: int, codes: Collection[str]) -> dict[str, LotState]:
    """The lots of these codes that were ever booked."""
    return lot_states(connection, kitchen_id, *((lots.c.code.in_(codes),) if len(codes) <= FEW else ()))


def shown_lots(connection: Connection, kitchen_id: int) -> tuple[StoredLot, ...]:
    """The lots of the stock table."""
    query = _newest_lines(kitchen_id).add_columns(_on_hand().label("amount")).where(lot_lines.c.removed == 0)
    return tuple(
        StoredLot(
            code=row.code,
            cells=from_text(row.cells),
            amount=int(row.amount),
            unit=row.unit,
            typed_amount=row.typed_amount,
            supplier=row.supplier,
        )
        for row in connection.execute(query)
    )


def movements_of(connection: Connection, kitchen_id: int) -> tuple[Movement, ...]:
    """Every movement of a kitchen, oldest first."""
    m = movements.c
    query = (
        select(m.id, m.booking_id, lots.c.code, m.amount, m.unit, m.kind, m.corrects, m.why)
        .join(lots, lots.c.id == m.lot_id)
        .where(m.kitchen_id == kitchen_id)
        .order_by(m.id)
    )
    return tuple(
        Movement(
            id=row.id, booking=row.booking_id, lot=row.code, amount=int(row.amount), unit=row.unit, kind=row.kind,
            corrects=row.corrects, why=row.why,
        )
        for row in connection.execute(query)
    )  # fmt: skip


def _newest_lines(kitchen_id: int) -> Select[Any]:
    other = lot_lines.alias("other")
    newest = (
        select(func.max(other.c.id))
        .where(other.c.kitchen_id == kitchen_id, other.c.lot_id == lots.c.id)
        .correlate(lots)
        .scalar_subquery()
    )
    return (
        select(lot_lines, lots.c.code, func.coalesce(suppliers.c.name, "").label("supplier"))
        .select_from(lots)
        .join(lot_lines, lot_lines.c.id == newest)
        .outerjoin(suppliers, suppliers.c.id == lot_lines.c.supplier_id)
        .where(lots.c.kitchen_id == kitchen_id)
        .order_by(lots.c.id)
    )


def _on_hand() -> ScalarSelect[Any]:
    return _of_this_lot(func.coalesce(func.sum(movements.c.amount), 0)).scalar_subquery()


def _stated_by() -> ScalarSelect[Any]:
    states_amount = movements.c.kind.in_(("received", "corrected"))
    return _of_this_lot(func.max(movements.c.id)).where(states_amount).scalar_subquery()


def _of_this_lot(column: ColumnElement[Any]) -> Select[Any]:
    return (
        select(column)
        .where(
            movements.c.kitchen_id == lot_lines.c.kitchen_id,
            movements.c.lot_id == lot_lines.c.lot_id,
            movements.c.unit == lot_lines.c.unit,
        )
        .correlate(lot_lines)
    )


def _state(row: Row[Any]) -> LotState:
    return LotState(
        id=row.lot_id,
        code=row.code,
        cells=from_text(row.cells),
        unit=row.unit,
        amount=int(row.amount),
        typed_amount=row.typed_amount,
        removed=bool(row.removed),
        supplier=row.supplier,
        stated_by=row.stated_by,
    )


def told(amount: int, unit: str) -> str:
    """An amount in words.

    >>> told(259_400, "g"), told(12, "piece")
    ('259.4 kg', '12 pieces')
    """
    if unit == "g":
        return f"{amount / 1000:.3f}".rstrip("0").rstrip(".") + " kg"
    return f"{amount} piece{'' if amount == 1 else 's'}"
