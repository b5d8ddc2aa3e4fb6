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
        fault = fault_of(trouble, where)
        if fault is None:
            raise
        raise fault from trouble


def fault_of(trouble: Exception, where: str) -> StoreFault | None:
    """The sentence for what a database says; None where the program is at fault, not the place."""
    told = getattr(trouble, "orig", trouble)
    kind = _kind_of_sqlite(told) if isinstance(told, sqlite3.Error) else _kind_of_postgresql(trouble, told)
    match kind:
        case "busy":
            return StoreAway(f"{where}: somebody else is saving just now; nothing was changed, try again")
        case "full":
            return StoreAway(f"{where}: the disk is full; nothing was changed, make room and try again")
        case "locked up":
            return StoreAway(f"{where}: this place may only be read; allow writing, or choose another place")
        case "away":
            return StoreAway(f"{where}: the store cannot be reached; see that its folder or server is there, try again")
        case "damaged":
            return StoreDamaged(
                f"{where}: this file does not read as a store of panwise; name another file or bring back a backup"
            )
    return None


def _kind_of_sqlite(told: sqlite3.Error) -> str:
    """By the result code, https://www.sqlite.org/rescode.html."""
    kinds = {
        "BUSY": "busy",
        "LOCKED": "busy",
        "FULL": "full",
        "READONLY": "locked up",
        "PERM": "locked up",
        "CANTOPEN": "away",
        "IOERR": "away",
        "CORRUPT": "damaged",
        "NOTADB": "damaged",
    }
    name = getattr(told, "sqlite_errorname", "").removeprefix("SQLITE_")
    return kinds.get(name.partition("_")[0], "")


def _kind_of_postgresql(trouble: Exception, told: object) -> str:
    """By the code, https://www.postgresql.org/docs/current/errcodes-appendix.html; no code: no server was there."""
    code = getattr(told, "sqlstate", None)
    if code is None:
        return "away" if isinstance(trouble, OperationalError) else ""
    kinds = {"53100": "full", "25006": "locked up", "55P03": "busy", "40P01": "busy", "40001": "busy"}
    classes = {"08": "away", "28": "away", "3D": "away", "53": "away", "57": "away", "58": "away"}
    return kinds.get(code) or classes.get(code[:2], "")
