"""Bookings: the lock that lets one writer at a time into a kitchen, and the head line that every change hangs on."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar

from sqlalchemy import ColumnElement, Connection, Row, and_, exists, func, insert, select

from optimizer.store.faults import MovedOn, StoreFault, Unknown
from optimizer.store.models import Booking, LotChange, OfferChange
from optimizer.store.tables import bookings, kitchens

AnyChange = TypeVar("AnyChange", LotChange, OfferChange)
FOUNDING = "kitchen"  # the kind of a kitchen's first booking: it is never taken back

_takes_back = bookings.alias("takes_back")
is_undone = exists().where(_takes_back.c.undoes == bookings.c.id)
stands = and_(bookings.c.undoes.is_(None), ~is_undone)  # neither taken back nor itself the taking back of another


def lock(connection: Connection, kitchen_id: int) -> None:
    """Until the end of the transaction nobody else writes in this kitchen.

    SQLite holds the lock of the whole file by now (BEGIN IMMEDIATE); PostgreSQL locks the kitchen's line.
    """
    found = connection.execute(select(kitchens.c.id).where(kitchens.c.id == kitchen_id).with_for_update()).scalar()
    if found is None:
        raise Unknown("this kitchen is not in the store any more; choose a kitchen again")


def last_id(connection: Connection, kitchen_id: int) -> int:
    """The newest booking of a kitchen."""
    return connection.execute(select(func.max(bookings.c.id)).where(bookings.c.kitchen_id == kitchen_id)).scalar() or 0


def add_booking(
    connection: Connection,
    kitchen_id: int,
    *,
    at: datetime,
    who: str,
    kind: str,
    said: str,
    undoes: int | None = None,
    expect: int | None = None,
) -> Booking:
    """The head line of a change.

    Raises
    ------
    MovedOn
        Another booking came after the one that the caller has seen.
    """
    if expect is not None and last_id(connection, kitchen_id) != expect:
        raise MovedOn("somebody else saved in between; look at what changed, then save again")
    values = {"kitchen_id": kitchen_id, "at": stamp(at), "who": sound(who, "the name"), "kind": sound(kind, "the kind"),
              "said": sound(said, "what was done"), "undoes": undoes}  # fmt: skip
    number = connection.execute(insert(bookings).values(values).returning(bookings.c.id)).scalar_one()
    return Booking(id=number, at=at, who=who, kind=kind, said=said, undone=False, undoes=undoes)


def read_bookings(connection: Connection, *where: ColumnElement[bool], most: int) -> tuple[Booking, ...]:
    """Bookings that fit, newest first."""
    query = select(bookings, is_undone.label("undone")).where(*where).order_by(bookings.c.id.desc()).limit(most)
    return tuple(_booking(row) for row in connection.execute(query))


def _booking(row: Row[tuple[object, ...]]) -> Booking:
    return Booking(id=row.id, at=moment(row.at), who=row.who, kind=row.kind, said=row.said, undone=bool(row.undone),
                   undoes=row.undoes)  # fmt: skip


def stamp(at: datetime) -> str:
    """A moment as ISO text with its zone."""
    if at.tzinfo is None:
        raise StoreFault(f"{at.isoformat()}: a time needs its zone, for example {at.isoformat()}+00:00")
    return at.isoformat(timespec="milliseconds")


def moment(text: str) -> datetime:
    """Back from ISO text."""
    return datetime.fromisoformat(text)


def sound(text: str, what: str) -> str:
    """Text that both databases can keep: no zero characters, no halves of characters.

    >>> sound("plum\\x00", "the code")
    Traceback (most recent call last):
    ...
    optimizer.store.faults.StoreFault: the code: "plum\\x00" holds a character that cannot be kept; type it again
    """
    if "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        shown = text[:40].encode("unicode_escape").decode("ascii")
        raise StoreFault(f'{what}: "{shown}" holds a character that cannot be kept; type it again')
    return text


def once_each(changes: Iterable[AnyChange], what: str) -> dict[str, AnyChange]:
    """Changes by code; a code without letters, or named twice, is refused."""
    found: dict[str, AnyChange] = {}
    for change in changes:
        if not sound(change.code, f"the code of the {what}").strip():
            raise StoreFault(f"one {what} has no code; give each its own")
        if change.code in found:
            raise StoreFault(f"{what} {change.code} is named twice; give each its own code")
        found[change.code] = change
    return found
