"""Opens a store: makes it on first use, brings an older one up to date after a backup, refuses a newer one."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, Engine
from sqlalchemy.exc import DBAPIError

from optimizer.store.backups import default_folder, make_backup
from optimizer.store.connected import Clock, utc_now
from optimizer.store.engine import WRITES, address_of, make_engine, shown
from optimizer.store.faults import StoreDamaged, calmly, fault_of
from optimizer.store.store import Store
from optimizer.store.versions import bring_up_to_date, is_current, version_of


def open_store(where: str | Path | None = None, *, clock: Clock = utc_now) -> Store:
    """The store at a path (a SQLite file) or an address (`postgresql://user@host/name`).

    Parameters
    ----------
    where : str or Path, optional
        None: the environment variable PANWISE_STORE, else `panwise.db` in the user's data folder.
    clock : callable, optional
        Says what time it is; tests bring their own.

    Raises
    ------
    StoreTooNew
        A newer panwise wrote it.
    StoreDamaged
        The file is something else, or does not read.
    StoreAway
        The folder cannot be made, the server does not answer, or its driver is missing.

    Examples
    --------
    >>> import tempfile
    >>> from optimizer.store.models import Change, LotChange
    >>> with tempfile.TemporaryDirectory() as folder, open_store(Path(folder) / "panwise.db") as store:
    ...     kitchen = store.make_kitchen("Mill Lane", site_toml="")
    ...     lot = LotChange(code="P-1", cells={"item": "plum", "on_hand": "40 kg"}, amount=40_000)
    ...     booking = store.book(kitchen, Change(lots=(lot,)), kind="stock", said="One lot came in")
    ...     [(lot.code, lot.amount, lot.unit) for lot in store.lots(kitchen)]
    [('P-1', 40000, 'g')]
    """
    url = address_of(where)
    engine = make_engine(url)
    place = shown(url)
    try:
        with calmly(place):
            if not is_current(engine, place):
                _save_older(engine, url, place, clock)
                _bring_up(engine, place)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, url, clock=clock)


def _save_older(engine: Engine, url: URL, place: str, clock: Clock) -> None:
    """A store of an older version is copied before anything in it changes."""
    with engine.connect() as connection, connection.begin():
        is_older = version_of(connection, place) is not None
    if is_older:
        make_backup(engine, url, default_folder(url), at=clock(), keep=10, where=place)


def _bring_up(engine: Engine, place: str) -> None:
    try:
        with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
            bring_up_to_date(connection, place)
    except DBAPIError as trouble:
        raise fault_of(trouble, place) or StoreDamaged(
            f"{place}: this store could not be brought up to this version and was left as it was; "
            "bring back a backup, or name another place"
        ) from trouble
