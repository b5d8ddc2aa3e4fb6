"""The same tests on SQLite and on a real PostgreSQL."""

from __future__ import annotations

import contextlib
import itertools
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from postgres_server import EXPECTED, NoServer, fresh_database, server
from sqlalchemy import URL

from optimizer.store import Kitchen, Store, open_store

_numbers = itertools.count(1)


class Clock:
    """Tells a moment, a second later each time."""

    def __init__(self) -> None:
        self.at = datetime(2026, 7, 4, 10, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[URL]:
    with contextlib.ExitStack() as stack:
        try:
            url = stack.enter_context(server())
        except NoServer as trouble:
            if os.environ.get(EXPECTED):
                pytest.fail(f"PostgreSQL was expected: {trouble}")
            pytest.skip(f"not tested on PostgreSQL: {trouble}")
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Where an empty store may be made."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("PANWISE_STORE", raising=False)
    if request.param == "sqlite":
        yield str(tmp_path / "kitchens" / "panwise.db")
        return
    url: URL = request.getfixturevalue("postgres_server")
    with fresh_database(url, f"panwise_{os.getpid()}_{next(_numbers)}") as address:
        yield address


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(place: str, clock: Clock) -> Iterator[Store]:
    with open_store(place, clock=clock) as opened:
        yield opened


@pytest.fixture
def kitchen(store: Store) -> Kitchen:
    return store.make_kitchen("Mill Lane", site_toml='[place]\nname = "Mill Lane"\n')
