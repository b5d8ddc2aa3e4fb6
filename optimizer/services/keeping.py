"""How long the lots on hand keep, the first to spoil first; and how old prices are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from optimizer.errors import PanwiseError
from optimizer.inputs.models import Book, Lot
from optimizer.prepare.spoilage import cold_caution, held_as, keeps_days

SOON_DAYS = 3.0  # judgement: what spoils within these days is shown first
OLD_PRICE_DAYS = 7  # judgement: prices older than this are said to be old
_LONGEST_DAYS = 365.0  # beyond, a day would pretend to know too much


@dataclass(frozen=True, kw_only=True)
class LotKeeping:
    """How long one lot keeps.

    Attributes
    ----------
    lot, item : str
        Code and item.
    days : float or None
        From today until a tenth of what is usable today is lost; None where the book cannot say; infinite for what is
        no fruit.
    until : date or None
        The last day on which less than that is lost; None beyond a year and where it is not known.
    is_soon : bool
        Within `SOON_DAYS`.
    held : str
        How it is held over: freezer, sulphited pulp; empty for fresh fruit.
    caution : str
        A sentence where it is kept too cold, or where the book cannot say.
    """

    lot: str
    item: str
    days: float | None
    until: date | None
    is_soon: bool
    held: str
    caution: str


def keeping_of(lots: Sequence[Lot], book: Book, *, on: date) -> tuple[LotKeeping, ...]:
    """Fruit lots with something on hand, the first to spoil first.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> lot = Lot(lot="G-1", item="guava, flesh, ripe", kind="fruit", on_hand_kg=40.0, worth_uncooked_per_kg=0.1)
    >>> (found,) = keeping_of([lot], load_book(), on=date(2026, 7, 4))
    >>> found.until.isoformat(), found.is_soon
    ('2026-07-11', False)
    """
    found = [_one(lot, book, on) for lot in lots if lot.kind == "fruit" and lot.on_hand_kg]
    return tuple(sorted(found, key=lambda one: (math.inf if one.days is None else one.days, one.lot)))


def _one(lot: Lot, book: Book, on: date) -> LotKeeping:
    try:
        days: float | None = keeps_days(lot, book, on)
        caution = cold_caution(lot, book)
    except PanwiseError as error:
        days, caution = None, str(error)
    held = held_as(lot, book)
    until = None if days is None or days >= _LONGEST_DAYS else on + timedelta(days=math.floor(days + 1e-9))
    return LotKeeping(
        lot=lot.lot, item=lot.item, days=days, until=until, is_soon=days is not None and days <= SOON_DAYS,
        held="" if held is None else held.way, caution=caution,
    )  # fmt: skip


def age_days(at: datetime | None, *, on: date) -> int | None:
    """Whole days since a moment, by this machine's calendar; None where there is none.

    >>> age_days(datetime(2026, 7, 1, 12, 0), on=date(2026, 7, 10))
    9
    """
    if at is None:
        return None
    day = at.astimezone().date() if at.tzinfo else at.date()
    return max(0, (on - day).days)
