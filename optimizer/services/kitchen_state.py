"""What a kitchen holds, read once per booking: site, lines as typed, models, faults."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from weakref import WeakKeyDictionary

from optimizer.errors import Fault, InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.goods import Context
from optimizer.inputs.items import Items
from optimizer.inputs.models import Book, Lot, Site, SiteFolder
from optimizer.inputs.offers import read_offers
from optimizer.inputs.prices import Money
from optimizer.inputs.site import read_site
from optimizer.inputs.stock import read_lots
from optimizer.services.preview import Line, Which, raw_of
from optimizer.store import Booking, Kitchen, Store, StoredLot

NO_KITCHEN = (
    "there is no kitchen yet: `panwise open` makes one or loads the invented example, `panwise stock import FOLDER` "
    "takes in a folder with stock.csv and offers.csv; or name a folder with --site"
)
STOCK_KINDS = frozenset({"kitchen", "stock", "batch opened", "batch finished"})
PRICE_KINDS = frozenset({"kitchen", "offers"})
"""Kinds of bookings that change a table; a kitchen's first booking may fill both."""


@dataclass(frozen=True, kw_only=True)
class State:
    """A kitchen as of its last booking."""

    kitchen: Kitchen
    version: int  # id of the last booking; 0 where nothing was booked
    site_toml: str
    site: Site
    money: Money
    stock: tuple[Line, ...]
    offers: tuple[Line, ...]
    folder: SiteFolder | None
    faults: tuple[Fault, ...]
    stock_as_of: datetime | None
    prices_as_of: datetime | None

    def lines(self, which: Which) -> tuple[Line, ...]:
        return self.stock if which == "stock" else self.offers

    def places(self, which: Which) -> dict[str, str]:
        """Codes of a table and where they stand."""
        noun = "a lot in stock" if which == "stock" else "an offer"
        return {line.code: noun for line in self.lines(which)}


_LOCK = threading.Lock()
_READ: WeakKeyDictionary[Store, tuple[object, State]] = WeakKeyDictionary()


def state_of(store: Store) -> State | None:
    """The current kitchen; read again only where something was booked since."""
    kitchen = store.current()
    if kitchen is None:
        return None
    last = store.last_booking(kitchen)
    key = (kitchen, None if last is None else (last.id, last.at))
    with _LOCK:
        kept = _READ.get(store)
    if kept is not None and kept[0] == key:
        return kept[1]
    state = _read(store, kitchen, last)
    with _LOCK:
        _READ[store] = (key, state)
    return state


def needed_state(store: Store) -> State:
    """As `state_of`; without a kitchen an InputFault says what to do."""
    state = state_of(store)
    if state is None:
        raise InputFault(NO_KITCHEN)
    return state


@lru_cache(maxsize=4)
def _items(book_id: int) -> Items:
    return Items(load_book())


def context_for(money: Money, book: Book | None = None) -> Context:
    """A fresh context: it remembers what was said, and which rates were used."""
    book = book or load_book()
    fresh = Money(
        currency=money.currency,
        rates=money.rates,
        is_given=money.is_given,
        is_known=money.is_known,
        rates_day=money.rates_day,
    )
    return Context(book=book, money=fresh, items=_items(id(book)))


def as_weighed(amount: int, unit: str) -> str:
    """Grams or pieces as a person writes them, to the gram.

    >>> as_weighed(259_400, "g"), as_weighed(40_000, "g"), as_weighed(0, "g"), as_weighed(24, "piece")
    ('259.4 kg', '40 kg', '0 kg', '24 pieces')
    """
    if unit == "piece":
        return "1 piece" if amount == 1 else f"{amount} pieces"
    return f"{(Decimal(amount) / 1000).normalize():f} kg"


def _line(lot: StoredLot) -> Line:
    """The cells as typed; what is on hand as typed while that still holds."""
    cells = dict(lot.cells)
    if lot.amount != lot.typed_amount:
        cells["on_hand"] = as_weighed(lot.amount, lot.unit)
    return Line(code=lot.code, cells=cells, amount=lot.amount, unit=lot.unit)


def _read(store: Store, kitchen: Kitchen, last: Booking | None) -> State:
    book = load_book()
    toml = store.site_toml(kitchen)
    site, money, faults = read_site(toml, book)
    stock = tuple(_line(lot) for lot in store.lots(kitchen))
    offers = tuple(Line(code=offer.code, cells=dict(offer.cells)) for offer in store.offers(kitchen))
    folder, more = models_of(kitchen.name, site, money, stock, offers)
    faults += more
    bookings = store.bookings(kitchen)
    return State(
        kitchen=kitchen,
        version=0 if last is None else last.id,
        site_toml=toml,
        site=site,
        money=money,
        stock=stock,
        offers=offers,
        folder=None if faults else folder,
        faults=tuple(faults),
        stock_as_of=_last_of(bookings, STOCK_KINDS) if stock else None,
        prices_as_of=_last_of(bookings, PRICE_KINDS) if offers else None,
    )


def models_of(
    name: str, site: Site, money: Money, stock: Sequence[Line], offers: Sequence[Line]
) -> tuple[SiteFolder, list[Fault]]:
    """Lines as models; a lot of which nothing is left is not among them."""
    context = context_for(money)
    lots, faults = read_lots(raw_of("stock", [line.cells for line in stock], "stock"), context)
    bought, more = read_offers(raw_of("offers", [line.cells for line in offers], "offers"), context)
    amounts = {line.code: line.amount or 0 for line in stock}
    said = [*site.defaults_said, *context.said]
    if not stock:
        said.append("Nothing is on hand.")
    if not offers:
        said.append("There are no offers: nothing can be bought.")
    said += [
        f"{code} is taken as {context.money.rates[code]:g} {money.currency}, the rate of {money.rates_day}."
        for code in sorted(context.money.used)
        if code in context.money.rates
    ]
    folder = SiteFolder(
        site=site.model_copy(update={"defaults_said": tuple(said)}),
        lots=tuple(_weighed(lot, amounts[lot.code]) for lot in lots if amounts[lot.code] > 0),
        offers=bought,
        folder=name,
    )
    return folder, [*faults, *more]


def _weighed(lot: Lot, amount: int) -> Lot:
    """The lot with what is on hand by the sum of its movements."""
    if lot.on_hand_pieces is not None:
        return lot.model_copy(update={"on_hand_pieces": float(amount)})
    return lot.model_copy(update={"on_hand_kg": amount / 1000.0})


def _last_of(bookings: Sequence[Booking], kinds: frozenset[str]) -> datetime | None:
    """When something of these kinds was last booked or taken back; bookings come newest first."""
    kind_of = {booking.id: booking.kind for booking in bookings}
    for booking in bookings:
        kind = booking.kind if booking.undoes is None else kind_of.get(booking.undoes, booking.kind)
        if kind in kinds:
            return booking.at
    return None
