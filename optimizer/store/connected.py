"""The line to the database: transactions for reading and for writing, one writer at a time."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import UTC, datetime

from sqlalchemy import URL, Connection, Engine

from optimizer.store.engine import WRITES, shown
from optimizer.store.faults import calmly
from optimizer.store.ledger import lock
from optimizer.store.models import Kitchen

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """The moment, in UTC."""
    return datetime.now(UTC)


class Connected:
    """What every part of the store stands on."""

    def __init__(self, engine: Engine, url: URL, *, clock: Clock = utc_now) -> None:
        self.where = shown(url)  # for people: no password
        self._url = url
        self._engine = engine
        self._clock = clock
        # SQLite lets one writer in and makes others ask again and again; threads of one program queue up here instead
        self._turn: AbstractContextManager[object] = nullcontext()
        if engine.dialect.name == "sqlite":
            self._turn = threading.Lock()

    def close(self) -> None:
        """Lets go of the database; the store cannot be used afterwards."""
        self._engine.dispose()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with calmly(self.where), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def _writing(self, kitchen: Kitchen | None = None) -> Iterator[Connection]:
        with calmly(self.where), self._turn, self._engine.connect() as connection:
            connection = connection.execution_options(**{WRITES: True})
            with connection.begin():
                if kitchen is not None:
                    lock(connection, kitchen.id)
                yield connection

    def _now(self) -> datetime:
        at = self._clock()
        return at.replace(microsecond=at.microsecond // 1000 * 1000)  # as it will be read back
