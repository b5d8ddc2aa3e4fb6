"""What happens to lots: they come in, are corrected, used, and leave; each time a line and a movement."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, insert

from optimizer.store.cells import to_text
from optimizer.store.codes import made_codes
from optimizer.store.faults import NotEnough, StoreFault, Unknown
from optimizer.store.ledger import once_each, sound
from optimizer.store.lots_read import MOST, LotState, states_of, told
from optimizer.store.models import Booking, LotChange, Unit
from optimizer.store.suppliers import supplier_ids
from optimizer.store.tables import lot_lines, lots, movements


def change_lots(connection: Connection, kitchen_id: int, booking: Booking, changes: Iterable[LotChange]) -> None:
    """Books the lines and movements of a change.

    Raises
    ------
    Unknown
        A change without cells names a lot that is not there.
    StoreFault
        A code is empty or named twice, or an amount is below zero.
    """
    wanted = once_each(changes, "lot")
    if not wanted:
        return
    states = states_of(connection, kitchen_id, wanted)
    for change in wanted.values():
        _refuse(change, states.get(change.code))
    fresh = [{"kitchen_id": kitchen_id, "code": code} for code in wanted if code not in states]
    ids = {code: lot.id for code, lot in states.items()}
    if fresh:
        made_here = made_codes(connection, kitchen_id)
        for row in fresh:
            if row["code"] in made_here:
                raise StoreFault(f"{row['code']} is the code of a batch or of jars already; give the lot another")
        made = connection.execute(insert(lots).returning(lots.c.id, lots.c.code, sort_by_parameter_order=True), fresh)
        ids.update({code: number for number, code in made})
    cells = {code: _cells(change, states.get(code)) for code, change in wanted.items()}
    people = supplier_ids(connection, kitchen_id, (named.get("supplier", "") for named in cells.values()))
    lines, moves = [], []
    for code, change in wanted.items():
        before = states.get(code)
        about = {"booking_id": booking.id, "kitchen_id": kitchen_id, "lot_id": ids[code]}
        supplier = people.get(cells[code].get("supplier", "").strip())
        lines.append(about | _line(change, before, cells[code]) | {"supplier_id": supplier})
        moves += [about | move for move in _moves(change, before)]
    connection.execute(insert(lot_lines), lines)
    if moves:
        connection.execute(insert(movements), moves)


def _refuse(change: LotChange, before: LotState | None) -> None:
    if change.amount is not None and not 0 <= change.amount <= MOST:
        raise StoreFault(f"lot {change.code}: {change.amount} {change.unit} on hand cannot be; give 0 or more")
    is_gone = before is None or before.removed
    if is_gone and (change.cells is None or change.removed):
        raise Unknown(f"lot {change.code} is not in the stock table any more; look at the table again")


def _cells(change: LotChange, before: LotState | None) -> Mapping[str, str]:
    return change.cells if change.cells is not None else before.cells if before else {}


def _line(change: LotChange, before: LotState | None, cells: Mapping[str, str]) -> dict[str, Any]:
    is_stated = change.cells is not None and change.amount is not None
    return {
        "cells": to_text(cells),
        "unit": unit_after(change, before),
        "typed_amount": change.amount if is_stated else before.typed_amount if before else None,
        "removed": int(change.removed),
    }


def unit_after(change: LotChange, before: LotState | None) -> Unit:
    """A lot changes its unit only together with its amount."""
    return before.unit if before is not None and change.amount is None else change.unit


def _moves(change: LotChange, before: LotState | None) -> list[dict[str, Any]]:
    on_hand = before.amount if before else 0
    wanted = 0 if change.removed and change.amount is None else change.amount
    if wanted is None:
        return []
    if before is not None and before.unit != unit_after(change, before):  # weighed from now on, or counted
        steps = [(-on_hand, before.unit), (wanted, change.unit)]
    else:
        steps = [(wanted - on_hand, unit_after(change, before))]
    is_first = before is None or before.removed or before.stated_by is None
    kind = "removed" if change.removed else "received" if is_first else "corrected"
    corrects = None if before is None or is_first else before.stated_by
    return [
        {"amount": amount, "unit": unit, "kind": kind, "corrects": corrects, "why": sound(change.why, "the reason")}
        for amount, unit in steps
        if amount != 0
    ]


def take(connection: Connection, kitchen_id: int, booking: Booking, uses: Mapping[str, int], *, kind: str) -> None:
    """Takes so many grams or pieces of each lot.

    Raises
    ------
    NotEnough
        More than there is; all such lots are named.
    Unknown
        No such lot.
    """
    states = states_of(connection, kitchen_id, [sound(code, "the code of the lot") for code in uses])
    short, moves = [], []
    for code, amount in uses.items():
        lot = states.get(code)
        if lot is None or lot.removed:
            raise Unknown(f"lot {code} is not in the stock table; look at the table again")
        if not 0 < amount <= MOST:
            raise StoreFault(f"lot {code}: {amount} cannot be taken; give more than 0")
        if amount > lot.amount:
            short.append(f"{code} has {told(lot.amount, lot.unit)}, {told(amount, lot.unit)} are asked for")
        moves.append(
            {
                "booking_id": booking.id,
                "kitchen_id": kitchen_id,
                "lot_id": lot.id,
                "amount": -amount,
                "unit": lot.unit,
                "kind": kind,
                "corrects": None,
                "why": "",
            }
        )
    if short:
        raise NotEnough(f"not enough on hand, nothing was booked: {'; '.join(short)}")
    if moves:
        connection.execute(insert(movements), moves)
