"""What the store refuses, each with one calm sentence.

InputFault
└── StoreFault            the store cannot do what was asked; nothing was changed
    ├── StoreTooNew       written by a newer panwise
    ├── StoreDamaged      a file that is not a store, or one that does not read back
    ├── StoreAway         file or server cannot be reached, is full, or is busy for too long
    ├── MovedOn           somebody else saved in between
    ├── NotEnough         stock would fall below zero
    ├── Unknown           no such kitchen, lot, recipe or batch
    └── SmallerBackup     a restore that would lose something needs a second yes
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, OperationalError

from optimizer.errors import InputFault


class StoreFault(InputFault):
    """The store cannot do what was asked; nothing was changed."""


class StoreTooNew(StoreFault):
    """The store was written by a newer panwise."""


class StoreDamaged(StoreFault):
    """Not a store of panwise, or one that does not read back."""


class StoreAway(StoreFault):
    """File or server cannot be reached, is full, or is busy for too long."""


class MovedOn(StoreFault):
    """Somebody else saved since the caller last looked."""


class NotEnough(StoreFault):
    """Stock would fall below zero."""


class Unknown(StoreFault):
    """No such kitchen, lot, recipe or batch."""


class SmallerBackup(StoreFault):
    """The backup holds less than the present store; a second yes is needed."""


@contextmanager
def calmly(where: str) -> Iterator[None]:
    """Turns what a database says about itself into a sentence; `where` is the store's address without its password."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as trouble:  # sqlite3: what the first words on a new connection say
        told = str(getattr(trouble, "orig", trouble)).lower()
        if "malformed" in told or "not a database" in told:
            raise StoreDamaged(
                f"{where}: this file does not read as a store of panwise; name another file or bring back a backup"
            ) from trouble
        if isinstance(trouble, OperationalError | sqlite3.OperationalError):
            raise StoreAway(_sentence(told, where)) from trouble
        raise


def _sentence(told: str, where: str) -> str:
    if "locked" in told or "busy" in told:
        return f"{where}: somebody else is saving just now; nothing was changed, try again"
    if "full" in told or "no space" in told:
        return f"{where}: the disk is full; nothing was changed, make room and try again"
    if "readonly" in told or "read-only" in told:
        return f"{where}: this place may only be read; nothing was changed, allow writing or choose another place"
    return f"{where}: the store cannot be reached; see that the folder or the database server is there and try again"
