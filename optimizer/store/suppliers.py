"""Suppliers: lines of their own, one for each name in a kitchen."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection, insert, select

from optimizer.store.ledger import sound
from optimizer.store.tables import suppliers


def supplier_ids(connection: Connection, kitchen_id: int, names: Iterable[str]) -> dict[str, int]:
    """Name -> line, made where it is new; an empty name has none."""
    wanted = dict.fromkeys(sound(name.strip(), "the supplier") for name in names)
    wanted.pop("", None)
    if not wanted:
        return {}
    mine = suppliers.c.kitchen_id == kitchen_id
    known = {name: number for number, name in connection.execute(select(suppliers.c.id, suppliers.c.name).where(mine))}
    fresh = [{"kitchen_id": kitchen_id, "name": name} for name in wanted if name not in known]
    if fresh:
        made = insert(suppliers).returning(suppliers.c.id, suppliers.c.name)
        known.update({name: number for number, name in connection.execute(made, fresh)})
    return known


def supplier_names(connection: Connection, kitchen_id: int) -> tuple[str, ...]:
    """Everybody who was ever named, in alphabetical order."""
    query = select(suppliers.c.name).where(suppliers.c.kitchen_id == kitchen_id)
    return tuple(sorted(connection.execute(query).scalars(), key=str.casefold))
