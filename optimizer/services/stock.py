"""What is on hand: how much, until when it keeps, what it is worth; as a result and as JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta

from optimizer.errors import BadTable, InputFault, OutOfRange
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Book, Lot
from optimizer.inputs.names import nearest
from optimizer.prepare.spoilage import cold_caution, keeps_days
from optimizer.services.kitchen_state import State, as_weighed, needed_state
from optimizer.store import Booking, Kitchen, Store

_FAR_DAYS = 3650.0  # what keeps longer is said to keep


@dataclass(frozen=True, kw_only=True)
class LotOnHand:
    """One lot of which something is left.

    Attributes
    ----------
    on_hand : str
        As typed while that holds, else as weighed by the ledger.
    on_hand_kg, on_hand_pieces : float | None
        One of them is given.
    keeps_days : float | None
        Days until a tenth of what is usable today is lost; None: it keeps, or that is not known.
    keeps_until : date | None
        The last day before that.
    worth : float
        What it would fetch uncooked, all of it [site currency].
    """

    lot: str
    item: str
    kind: str
    supplier: str
    on_hand: str
    on_hand_kg: float | None
    on_hand_pieces: float | None
    keeps_days: float | None
    keeps_until: date | None
    worth: float


@dataclass(frozen=True, kw_only=True)
class StockOnHand:
    """All of a kitchen's stock, what goes first at the top."""

    kitchen: str
    is_invented: bool
    currency: str
    on: date
    as_of: datetime | None
    lots: tuple[LotOnHand, ...]
    used_up: tuple[str, ...]  # codes of lots of which nothing is left
    worth: float
    cautions: tuple[str, ...]

    def document(self) -> Mapping[str, object]:
        """As JSON, `panwise/stock/1`."""
        lots = [
            {**asdict(lot), "keeps_until": None if lot.keeps_until is None else lot.keeps_until.isoformat()}
            for lot in self.lots
        ]
        return {
            "schema": "panwise/stock/1",
            "kitchen": self.kitchen,
            "is_invented": self.is_invented,
            "currency": self.currency,
            "on": self.on.isoformat(),
            "as_of": None if self.as_of is None else self.as_of.isoformat(timespec="seconds"),
            "worth": self.worth,
            "lots": lots,
            "used_up": list(self.used_up),
            "cautions": list(self.cautions),
        }


def stock_on_hand(store: Store, *, on: date) -> StockOnHand:
    """The stock of the current kitchen.

    Raises
    ------
    InputFault
        There is no kitchen yet.
    BadTable
        The tables have faults; all of them.
    """
    state = needed_state(store)
    if state.folder is None:
        raise BadTable(state.faults)
    book = load_book()
    lots = [_lot(lot, state, book, on) for lot in state.folder.lots]
    lots.sort(key=lambda lot: (math.inf if lot.keeps_days is None else lot.keeps_days, lot.lot))
    cautions = [cold_caution(lot, book) for lot in state.folder.lots]
    return StockOnHand(
        kitchen=state.kitchen.name,
        is_invented=state.kitchen.is_invented,
        currency=state.site.currency,
        on=on,
        as_of=state.stock_as_of,
        lots=tuple(lots),
        used_up=tuple(line.code for line in state.stock if not line.amount),
        worth=sum(lot.worth for lot in lots),
        cautions=tuple(text for text in cautions if text),
    )


def _lot(lot: Lot, state: State, book: Book, on: date) -> LotOnHand:
    line = next(line for line in state.stock if line.code == lot.lot)
    try:
        days: float | None = keeps_days(lot, book, on)
    except OutOfRange:
        days = None
    if days is not None and days > _FAR_DAYS:
        days = None
    size = lot.on_hand_pieces if lot.on_hand_pieces is not None else lot.on_hand_kg or 0.0
    return LotOnHand(
        lot=lot.lot,
        item=lot.item,
        kind=lot.kind,
        supplier=line.cells.get("supplier", ""),
        on_hand=line.cells.get("on_hand") or as_weighed(line.amount or 0, line.unit),
        on_hand_kg=lot.on_hand_kg,
        on_hand_pieces=lot.on_hand_pieces,
        keeps_days=days,
        keeps_until=None if days is None else on + timedelta(days=math.floor(days)),
        worth=lot.worth_uncooked_per_kg * size,
    )


def history(store: Store, *, most: int = 30) -> tuple[Booking, ...]:
    """What was booked in the current kitchen, newest first."""
    return store.bookings(needed_state(store).kitchen, most=most)


def history_document(bookings: tuple[Booking, ...]) -> Mapping[str, object]:
    """As JSON, `panwise/bookings/1`."""
    return {
        "schema": "panwise/bookings/1",
        "bookings": [{**asdict(booking), "at": booking.at.isoformat(timespec="seconds")} for booking in bookings],
    }


def choose_kitchen(store: Store, name: str) -> Kitchen:
    """Make the kitchen of this name the current one.

    Raises
    ------
    InputFault
        There is none; the message offers the nearest names.
    """
    by_name = {kitchen.name: kitchen for kitchen in store.kitchens()}
    if name not in by_name:
        raise InputFault(f'kitchen "{name}" is not in the store; {nearest(name, by_name)}')
    store.choose(by_name[name])
    return by_name[name]
