"""Short codes for recipes, batches and jars, made from the day: B261125-2 is the second batch of 25 November 2026."""

from __future__ import annotations

from collections.abc import Container, Iterator
from datetime import datetime
from itertools import count
from string import ascii_lowercase

from sqlalchemy import Connection, select

from optimizer.store.ledger import stands
from optimizer.store.tables import batches, bookings, jars, lots, recipes


def next_code(letter: str, at: datetime, taken: Container[str]) -> str:
    """The first free code of a day, by the clock of the kitchen.

    >>> from datetime import UTC
    >>> next_code("B", datetime(2026, 11, 25, 12, tzinfo=UTC), {"B261125-1"})
    'B261125-2'
    """
    day = at.astimezone().strftime("%y%m%d")
    return next(code for number in count(1) if (code := f"{letter}{day}-{number}") not in taken)


def jar_codes(batch: str) -> Iterator[str]:
    """Codes for the jars of a batch: B261125-2a, B261125-2b, ... B261125-2aa.

    >>> from itertools import islice
    >>> list(islice(jar_codes("B261125-2"), 2))
    ['B261125-2a', 'B261125-2b']
    """
    for length in count(1):
        for number in range(26**length):
            letters = ""
            for _ in range(length):
                number, place = divmod(number, 26)
                letters = ascii_lowercase[place] + letters
            yield batch + letters


def lot_codes(connection: Connection, kitchen_id: int) -> set[str]:
    """Codes of every lot that ever was."""
    return set(connection.execute(select(lots.c.code).where(lots.c.kitchen_id == kitchen_id)).scalars())


def made_codes(connection: Connection, kitchen_id: int, *, but_of: int = 0) -> set[str]:
    """Codes of batches, and of jars that were not taken back; `but_of`: jars that this batch lost again are free."""
    of_batches = select(batches.c.code).where(batches.c.kitchen_id == kitchen_id)
    of_jars = (
        select(jars.c.code)
        .join(bookings, bookings.c.id == jars.c.booking_id)
        .where(jars.c.kitchen_id == kitchen_id, stands | (jars.c.batch_id != but_of))
    )
    return {*connection.execute(of_batches).scalars(), *connection.execute(of_jars).scalars()}


def recipe_codes(connection: Connection, kitchen_id: int) -> set[str]:
    """Codes of every recipe that was kept."""
    return set(connection.execute(select(recipes.c.code).where(recipes.c.kitchen_id == kitchen_id)).scalars())
