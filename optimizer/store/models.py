"""What goes into the store and what comes out: frozen values, whole numbers of grams, pieces and minor money units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal

Unit = Literal["g", "piece"]
State = Literal["open", "finished", "undone"]


@dataclass(frozen=True, kw_only=True)
class Kitchen:
    """One kitchen with its own stock, prices and settings."""

    id: int
    name: str
    is_invented: bool  # a demo: places, firms and prices are made up
    made_at: datetime  # UTC


@dataclass(frozen=True, kw_only=True)
class LotChange:
    """What becomes of one line of the stock table.

    Attributes
    ----------
    code : str
        The user's own code of the lot.
    cells : Mapping[str, str] | None
        Column -> text as typed; None: the cells stay. The cell `supplier` names who it came from.
    amount : int | None
        What is on hand from now on [unit]; None: it stays.
    unit : "g" | "piece"
        Of `amount`.
    removed : bool
        The line leaves the table; what is left of it is booked out.
    why : str
        Why the amount changes, as a person says it.
    """

    code: str
    cells: Mapping[str, str] | None = None
    amount: int | None = None
    unit: Unit = "g"
    removed: bool = False
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class OfferChange:
    """What becomes of one line of the offers table; `price_minor` per `price_amount` of `unit` goes into the history.

    28 EUR for a bag of 25 kg is `price_minor=2800, price_amount=25000, unit="g"`. With `price_minor=None` no price is
    noted.
    """

    code: str
    cells: Mapping[str, str] | None = None
    removed: bool = False
    item: str = ""
    supplier: str = ""
    currency: str = ""
    price_minor: int | None = None
    price_amount: int = 1000
    unit: Unit = "g"
    on: date | None = None  # the day the price was heard; None: today


@dataclass(frozen=True, kw_only=True)
class Change:
    """All that is saved at once: whole or not at all."""

    lots: tuple[LotChange, ...] = ()
    offers: tuple[OfferChange, ...] = ()
    site_toml: str | None = None


@dataclass(frozen=True, kw_only=True)
class StoredLot:
    """One lot: its cells as typed, and what is on hand by the ledger."""

    code: str
    cells: dict[str, str]
    amount: int  # [unit]
    unit: Unit
    typed_amount: int | None  # what the typed `on_hand` meant when it was saved [unit]
    supplier: str = ""


@dataclass(frozen=True, kw_only=True)
class StoredOffer:
    """One offer: its cells as typed, and since when its price holds."""

    code: str
    cells: dict[str, str]
    since: date


@dataclass(frozen=True, kw_only=True)
class PricePoint:
    """One price as it was heard on a day: `price_minor` for `price_amount` of `unit`.

    `pack`, `least_packs` and `breaks` are the offer's cells of that day, as typed.
    """

    date: date
    item: str
    offer: str
    supplier: str
    currency: str
    price_minor: int
    price_amount: int
    unit: Unit
    pack: str = ""
    least_packs: str = ""
    breaks: str = ""


@dataclass(frozen=True, kw_only=True)
class Booking:
    """One entry of the ledger: who saved what, when."""

    id: int
    at: datetime  # UTC
    who: str
    kind: str
    said: str
    undone: bool
    undoes: int | None  # the booking that this one takes back


@dataclass(frozen=True, kw_only=True)
class Movement:
    """One line of the ledger: so much more or less of a lot. What is on hand is the sum of these."""

    id: int
    booking: int
    lot: str
    amount: int  # [unit]; negative: less
    unit: Unit
    kind: str  # received, corrected, used ...
    corrects: int | None  # the movement whose stated amount this one corrects
    why: str


@dataclass(frozen=True, kw_only=True)
class KeptRecipe:
    """A recipe as it was made, with everything it was made from."""

    code: str
    product: str
    at: datetime  # UTC
    who: str
    request: dict[str, Any]
    inputs: dict[str, Any]
    document: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Use:
    """So much of a lot went into a batch."""

    lot: str
    item: str
    supplier: str
    amount: int  # [unit]
    unit: Unit


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One figure read at the pan."""

    figure: str
    value: float
    unit: str
    at: datetime
    who: str


@dataclass(frozen=True, kw_only=True)
class JarsMade:
    """Jars of one kind filled from one batch; without a code one is made."""

    name: str
    count: int
    code: str = ""


@dataclass(frozen=True, kw_only=True)
class JarsKept:
    """Jars of one code: how many were filled, how many are still here."""

    code: str
    name: str
    batch: str
    product: str
    made: int
    on_hand: int


@dataclass(frozen=True, kw_only=True)
class Batch:
    """One batch: what went in, what was read, what came out."""

    code: str
    product: str
    recipe: str
    state: State
    opened_at: datetime
    who: str
    uses: tuple[Use, ...]
    readings: tuple[Reading, ...] = ()
    made_g: int | None = None
    finished_at: datetime | None = None
    jars: tuple[JarsMade, ...] = ()
    packaging: tuple[Use, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Trace:
    """Where something came from and where it went; `code` is that of a lot, a batch or jars.

    `back` are the lots (with their suppliers) that stand behind it, `forward` the jars that came of it; for a lot
    `back` is the lot itself.
    """

    code: str
    kind: Literal["lot", "batch", "jars"]
    back: tuple[Use, ...]
    batches: tuple[Batch, ...]
    forward: tuple[JarsKept, ...]

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Everybody named behind it, each once."""
        return tuple(dict.fromkeys(use.supplier for use in self.back if use.supplier))


@dataclass(frozen=True, kw_only=True)
class Backup:
    """One dated copy; `fault` says in a sentence why it cannot be used, empty where it is sound."""

    path: Path
    made_at: datetime  # UTC
    bytes: int
    kitchens: int
    lots: int
    batches: int
    bookings: int = 0
    fault: str = field(default="")
