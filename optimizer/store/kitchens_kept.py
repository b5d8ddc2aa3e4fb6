"""Kitchens, their settings, and which of them is open."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from optimizer.store.faults import StoreFault, Unknown
from optimizer.store.ledger import FOUNDING, add_booking, moment, sound, stamp
from optimizer.store.lots_kept import change_lots
from optimizer.store.models import Booking, Change, Kitchen
from optimizer.store.offers_kept import change_offers
from optimizer.store.tables import facts, kitchens, site_texts
from optimizer.store.versions import one_at_a_time

OPEN_NOW = "current_kitchen"


def all_kitchens(connection: Connection) -> tuple[Kitchen, ...]:
    """Every kitchen, oldest first."""
    return tuple(_kitchen(row) for row in connection.execute(select(kitchens).order_by(kitchens.c.id)))


def _kitchen(row: Any) -> Kitchen:
    return Kitchen(id=row.id, name=row.name, is_invented=bool(row.is_invented), made_at=moment(row.at))


def open_now(connection: Connection) -> Kitchen | None:
    """The kitchen that was chosen last."""
    chosen = connection.execute(select(facts.c.value).where(facts.c.name == OPEN_NOW)).scalar()
    if chosen is None:
        return None
    row = connection.execute(select(kitchens).where(kitchens.c.id == int(chosen))).one_or_none()
    return None if row is None else _kitchen(row)


def open_from_now(connection: Connection, kitchen_id: int) -> None:
    """Chooses a kitchen."""
    one_at_a_time(connection)
    if connection.execute(select(kitchens.c.id).where(kitchens.c.id == kitchen_id)).scalar() is None:
        raise Unknown("this kitchen is not in the store; choose one that is")
    connection.execute(delete(facts).where(facts.c.name == OPEN_NOW))
    connection.execute(insert(facts).values(name=OPEN_NOW, value=str(kitchen_id)))


def found_kitchen(
    connection: Connection, name: str, *, site_toml: str, is_invented: bool, at: datetime, who: str, said: str
) -> tuple[Kitchen, Booking]:
    """A new kitchen with its settings, and its first booking."""
    if not sound(name, "the name of the kitchen").strip():
        raise StoreFault("the kitchen has no name; give it one")
    one_at_a_time(connection)
    if connection.execute(select(kitchens.c.id).where(kitchens.c.name == name)).first() is not None:
        raise StoreFault(f"there is a kitchen named {name} already; open that one, or give another name")
    values = {"name": name, "is_invented": int(is_invented), "at": stamp(at), "who": sound(who, "the name")}
    row = connection.execute(insert(kitchens).values(values).returning(kitchens)).one()
    booking = add_booking(connection, row.id, at=at, who=who, kind=FOUNDING, said=said or f"Kitchen made: {name}")
    write_change(connection, row.id, booking, Change(site_toml=site_toml))
    open_from_now(connection, row.id)
    return _kitchen(row), booking


def write_change(connection: Connection, kitchen_id: int, booking: Booking, change: Change) -> None:
    """Everything of a change, on one booking."""
    if change.site_toml is not None:
        values = {"booking_id": booking.id, "kitchen_id": kitchen_id, "toml": sound(change.site_toml, "the settings")}
        connection.execute(insert(site_texts).values(values))
    change_lots(connection, kitchen_id, booking, change.lots)
    change_offers(connection, kitchen_id, booking, change.offers)


def settings_text(connection: Connection, kitchen_id: int) -> str:
    """The settings that hold, as `site.toml`."""
    query = select(site_texts.c.toml).where(site_texts.c.kitchen_id == kitchen_id).order_by(site_texts.c.id.desc())
    text: str | None = connection.execute(query.limit(1)).scalar()
    if text is None:
        raise Unknown("this kitchen is not in the store; choose one that is")
    return text
