"""What a kitchen has, paid, cooked and filled, kept for good: SQLite by default, PostgreSQL by one address.

The ledger only grows. Stock is the sum of its movements; a correction is a new line; undo is a counter-booking.
"""

from optimizer.store.faults import (
    MovedOn,
    NotEnough,
    SmallerBackup,
    StoreAway,
    StoreDamaged,
    StoreFault,
    StoreTooNew,
    Unknown,
)
from optimizer.store.models import (
    Backup,
    Batch,
    Booking,
    Change,
    JarsKept,
    JarsMade,
    KeptRecipe,
    Kitchen,
    LotChange,
    Movement,
    OfferChange,
    PricePoint,
    Reading,
    StoredLot,
    StoredOffer,
    Trace,
    Unit,
    Use,
)
from optimizer.store.money import from_minor, places_of, to_minor, whole_price
from optimizer.store.opening import open_store
from optimizer.store.store import Store

__all__ = [
    "Backup",
    "Batch",
    "Booking",
    "Change",
    "JarsKept",
    "JarsMade",
    "KeptRecipe",
    "Kitchen",
    "LotChange",
    "MovedOn",
    "Movement",
    "NotEnough",
    "OfferChange",
    "PricePoint",
    "Reading",
    "SmallerBackup",
    "Store",
    "StoreAway",
    "StoreDamaged",
    "StoreFault",
    "StoreTooNew",
    "StoredLot",
    "StoredOffer",
    "Trace",
    "Unit",
    "Unknown",
    "Use",
    "from_minor",
    "open_store",
    "places_of",
    "to_minor",
    "whole_price",
]
