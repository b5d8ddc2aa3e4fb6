"""The store for one command: opened, used, closed; nothing is made where somebody only looks."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimizer.errors import BadTable, InputFault
from optimizer.inputs.models import SiteFolder
from optimizer.services.kitchen import open_kitchen
from optimizer.services.kitchen_state import NO_KITCHEN
from optimizer.store import Store, open_store
from optimizer.store.engine import default_place


@contextmanager
def opened(where: str | None = None, *, make: bool = False) -> Iterator[Store]:
    """The store at `where`, else where PANWISE_STORE says, else in the user's data folder.

    Parameters
    ----------
    where : str, optional
        A file, or `postgresql://user@host/name`.
    make : bool
        Whether a file that is not there yet is made. False: it is an InputFault that says how to begin.
    """
    place = where or default_place()
    if not make and "://" not in place and not Path(place).expanduser().exists():
        raise InputFault(f"{place}: {NO_KITCHEN}")
    with open_store(place) as store:
        yield store


def current_folder(where: str | None = None) -> SiteFolder:
    """Site, lots and offers of the store's current kitchen.

    Raises
    ------
    InputFault
        There is no kitchen yet; the message says how to begin.
    BadTable
        Its tables have faults.
    """
    with opened(where) as store:
        found = open_kitchen(store)
    if found is None:
        raise InputFault(NO_KITCHEN)
    if found.folder is None:
        raise BadTable(found.faults)
    return found.folder
