"""The store: one object for one database; every method is one transaction, whole or not at all."""

from __future__ import annotations

from types import TracebackType

from optimizer.store import kitchens_kept, lots_read, offers_kept, suppliers, taking_back
from optimizer.store.cooking import Cooking
from optimizer.store.faults import StoreFault
from optimizer.store.keeping import Keeping
from optimizer.store.ledger import add_booking, read_bookings, sound
from optimizer.store.models import Booking, Change, Kitchen, Movement, PricePoint, StoredLot, StoredOffer
from optimizer.store.tables import bookings


class Store(Cooking, Keeping):
    """An open store; made by `open_store`, closed by `close()` or at the end of a `with`.

    Safe to share between threads. Every method raises `StoreAway` where the database cannot be reached.
    """

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, trouble: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # ---- kitchens ---------------------------------------------------------------------------------------------------

    def kitchens(self) -> tuple[Kitchen, ...]:
        """Every kitchen, oldest first."""
        with self._reading() as connection:
            return kitchens_kept.all_kitchens(connection)

    def current(self) -> Kitchen | None:
        """The kitchen that was made or chosen last; None while there is none."""
        with self._reading() as connection:
            return kitchens_kept.open_now(connection)

    def choose(self, kitchen: Kitchen) -> None:
        """From now on this kitchen is the current one."""
        with self._writing() as connection:
            kitchens_kept.open_from_now(connection, kitchen.id)

    def make_kitchen(
        self,
        name: str,
        *,
        site_toml: str,
        is_invented: bool = False,
        who: str = "",
        change: Change | None = None,
        said: str = "",
    ) -> Kitchen:
        """A new kitchen, which becomes the current one; with `change` its stock and offers come in the same booking.

        Raises
        ------
        StoreFault
            A kitchen of that name is there already.
        """
        with self._writing() as connection:
            kitchen, booking = kitchens_kept.found_kitchen(
                connection, name, site_toml=site_toml, is_invented=is_invented, at=self._now(), who=who, said=said
            )
            if change is not None:
                kitchens_kept.write_change(connection, kitchen.id, booking, change)
            return kitchen

    def site_toml(self, kitchen: Kitchen) -> str:
        """The kitchen's settings, as the text of a `site.toml`."""
        with self._reading() as connection:
            return kitchens_kept.settings_text(connection, kitchen.id)

    # ---- stock and prices -------------------------------------------------------------------------------------------

    def lots(self, kitchen: Kitchen) -> tuple[StoredLot, ...]:
        """The lines of the stock table in the order they came, also those with nothing left."""
        with self._reading() as connection:
            return lots_read.shown_lots(connection, kitchen.id)

    def movements(self, kitchen: Kitchen) -> tuple[Movement, ...]:
        """Every line of the ledger, oldest first: what came in, was corrected, used and taken back."""
        with self._reading() as connection:
            return lots_read.movements_of(connection, kitchen.id)

    def offers(self, kitchen: Kitchen) -> tuple[StoredOffer, ...]:
        """The lines of the offers table in the order they came."""
        with self._reading() as connection:
            return offers_kept.shown_offers(connection, kitchen.id)

    def suppliers(self, kitchen: Kitchen) -> tuple[str, ...]:
        """Everybody who was ever named as a supplier, in alphabetical order."""
        with self._reading() as connection:
            return suppliers.supplier_names(connection, kitchen.id)

    def price_history(self, kitchen: Kitchen, item: str | None = None) -> tuple[PricePoint, ...]:
        """Prices as they were heard, oldest first; without those that were taken back."""
        if item is not None:
            sound(item, "the item")
        with self._reading() as connection:
            return offers_kept.price_points(connection, kitchen.id, item)

    def book(
        self, kitchen: Kitchen, change: Change, *, who: str = "", kind: str, said: str, expect: int | None = None
    ) -> Booking:
        """Saves a change: whole or not at all.

        Parameters
        ----------
        kitchen, change
            Where, and what.
        who, kind, said
            Who does it; a short word for what it is; a sentence for people.
        expect : int, optional
            The last booking that the caller has seen (0: none).

        Raises
        ------
        MovedOn
            Another booking came after `expect`.
        StoreFault
            The change cannot be: nothing in it, a lot unknown, an amount below zero, a code named twice.
        """
        if not (change.lots or change.offers or change.site_toml is not None):
            raise StoreFault("nothing was changed, so there is nothing to save")
        with self._writing(kitchen) as connection:
            booking = add_booking(connection, kitchen.id, at=self._now(), who=who, kind=kind, said=said, expect=expect)
            kitchens_kept.write_change(connection, kitchen.id, booking, change)
            return booking

    def last_booking(self, kitchen: Kitchen) -> Booking | None:
        """The newest booking, of whatever kind; its id is the version of what is on show."""
        found = self.bookings(kitchen, most=1)
        return found[0] if found else None

    def bookings(self, kitchen: Kitchen, *, most: int = 200) -> tuple[Booking, ...]:
        """What was saved, newest first."""
        with self._reading() as connection:
            return read_bookings(connection, bookings.c.kitchen_id == kitchen.id, most=most)

    def undo(self, kitchen: Kitchen, *, who: str = "", booking: int | None = None) -> Booking | None:
        """Takes back the newest booking that stands (or the one named) by a counter-booking; None where there is none.

        Raises
        ------
        NotEnough
            Some of the stock was used since.
        StoreFault
            A later booking changed the same lines.
        """
        with self._writing(kitchen) as connection:
            return taking_back.take_back(connection, kitchen.id, at=self._now(), who=who, booking=booking)
