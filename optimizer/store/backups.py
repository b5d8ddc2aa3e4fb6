"""Dated copies of a store, each one SQLite file, proved by reading it back; a seal inside says what it must hold."""

from __future__ import annotations

import contextlib
import json
import os
import re
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import URL, Connection, Engine, func, inspect, select, text
from sqlalchemy.exc import SQLAlchemyError

from optimizer.errors import InputFault
from optimizer.store.digests import SEAL, copy_lines, digests
from optimizer.store.engine import WRITES, make_engine, read_only
from optimizer.store.faults import StoreAway, StoreDamaged, StoreTooNew, calmly
from optimizer.store.models import Backup
from optimizer.store.tables import METADATA
from optimizer.store.versions import bring_up_to_date, version_of

COUNTED = ("kitchens", "lots", "batches", "bookings")


def default_folder(url: URL) -> Path:
    """Beside a store that is a file; in the user's data folder for a server."""
    if url.get_backend_name() == "sqlite":
        return Path(str(url.database)).parent / "backups"
    return platformdirs.user_data_path("panwise") / "backups"


def stem_of(url: URL) -> str:
    """What the copies of a store are called."""
    name = Path(str(url.database or "panwise")).stem
    return "".join(letter if letter.isalnum() or letter in "-_" else "-" for letter in name)


def make_backup(
    engine: Engine, url: URL, folder: Path, *, at: datetime, keep: int, where: str, spare: tuple[Path, ...] = ()
) -> Backup:
    """Copies the whole store, whatever its version, and reads the copy back before it gets its name.

    Raises
    ------
    StoreDamaged
        The copy does not hold what the store holds; it is not kept.
    StoreAway
        The folder cannot be written.
    """
    stem = stem_of(url)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = _free_name(folder, f"{stem}-{at.astimezone(UTC):%Y-%m-%d-%H%M%S}")
        unfinished = path.with_suffix(".unfinished")
        unfinished.unlink(missing_ok=True)
        try:
            with calmly(where):
                if engine.dialect.name == "sqlite":
                    held = _copy_file(engine, unfinished)
                else:
                    held = _copy_server(engine, unfinished, where)
            _seal(unfinished, held, at)
            prove(unfinished)
            os.replace(unfinished, path)
        finally:
            unfinished.unlink(missing_ok=True)
        made = look_at(path)
        _thin_out(folder, stem, keep, {path.absolute(), *spare})
    except OSError as trouble:
        raise StoreAway(f"{folder}: no backup could be written here; make room or choose another folder") from trouble
    return made


def _free_name(folder: Path, name: str) -> Path:
    path, number = folder / f"{name}.db", 2
    while path.exists():
        path, number = folder / f"{name}-{number}.db", number + 1
    return path


def _copy_file(engine: Engine, target: Path) -> dict[str, list[Any]]:
    """SQLite writes the copy itself; our write lock keeps the store still meanwhile."""
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        held = digests(connection)
        with contextlib.closing(engine.raw_connection()) as second:
            second.cursor().execute("VACUUM INTO ?", (str(target),))
    return held


def _copy_server(engine: Engine, target: Path, where: str) -> dict[str, list[Any]]:
    """All lines of a server's store into a new SQLite store of the same version, as of one moment."""
    copy = make_engine(URL.create("sqlite", database=str(target)), journal="DELETE")
    try:
        with (
            engine.connect().execution_options(isolation_level="REPEATABLE READ") as source,
            source.begin(),
            copy.connect() as sink,
            sink.begin(),
        ):
            bring_up_to_date(sink, str(target), target=str(version_of(source, where)))
            copy_lines(source, sink)
            return digests(source)
    finally:
        copy.dispose()


def _seal(path: Path, held: dict[str, list[Any]], at: datetime) -> None:
    text_of_seal = json.dumps({"made_at": at.astimezone(UTC).isoformat(), "tables": held})
    with contextlib.closing(sqlite3.connect(path)) as file, file:
        file.execute(f"CREATE TABLE {SEAL} (seal TEXT NOT NULL)")
        file.execute(f"INSERT INTO {SEAL} VALUES (?)", (text_of_seal,))
    with open(path, "rb+") as written:
        os.fsync(written.fileno())


def seal_of(connection: Connection) -> dict[str, Any] | None:
    """What a backup says of itself; None for a store that is no backup."""
    known = connection.execute(text("SELECT 1 FROM sqlite_master WHERE name = :name"), {"name": SEAL}).scalar()
    if not known:
        return None
    found: dict[str, Any] = json.loads(connection.execute(text(f"SELECT seal FROM {SEAL}")).scalar_one())
    return found


@contextlib.contextmanager
def reading(path: Path) -> Iterator[Connection]:
    """A store's file, opened for reading only."""
    engine = read_only(path)
    try:
        with calmly(str(path)), engine.connect() as connection, connection.begin():
            yield connection
    finally:
        engine.dispose()


def prove(path: Path) -> dict[str, list[Any]]:
    """Reads a copy from end to end; gives its counts and digests.

    Raises
    ------
    StoreDamaged
        It does not read, or holds something else than its seal says.
    StoreTooNew
        A newer panwise wrote it.
    """
    if not path.is_file():
        raise StoreAway(f"{path}: there is no such file; choose one from the list of backups")
    damaged = StoreDamaged(f"{path}: this backup is damaged and was not used; choose another one")
    try:
        with reading(path) as connection:
            if connection.execute(text("PRAGMA integrity_check")).scalar() != "ok":
                raise damaged
            if version_of(connection, str(path)) is None:
                raise StoreDamaged(f"{path}: this file holds no store; choose another one")
            seal, held = seal_of(connection), digests(connection)
    except (ValueError, sqlite3.Error) as trouble:  # cells that are no text any more
        raise damaged from trouble
    if seal is not None and seal["tables"] != held:
        raise damaged
    return held


def look_at(path: Path) -> Backup:
    """What a backup says of itself, without reading all of it; one that cannot be read says so in `fault`."""
    size, made_at = path.stat().st_size, datetime.fromtimestamp(path.stat().st_mtime, UTC)
    counts, fault = dict.fromkeys(COUNTED, 0), ""
    try:
        with reading(path) as connection:
            version_of(connection, str(path))
            seal = seal_of(connection)
            made_at = made_at if seal is None else datetime.fromisoformat(seal["made_at"])
            there = inspect(connection).get_table_names()
            for name in COUNTED:
                if name in there:
                    counts[name] = connection.execute(
                        select(func.count()).select_from(METADATA.tables[name])
                    ).scalar_one()
    except StoreTooNew:
        fault = f"{path.name} was written by a newer panwise"
    except (InputFault, SQLAlchemyError, ValueError, KeyError, TypeError):  # the list shows the others all the same
        fault = f"{path.name} cannot be read any more"
    return Backup(path=path, made_at=made_at, bytes=size, **counts, fault=fault)


def list_backups(folder: Path, stem: str) -> tuple[Backup, ...]:
    """The backups of a folder, newest first."""
    return tuple(look_at(path) for path in _copies(folder, stem))


def _copies(folder: Path, stem: str) -> list[Path]:
    """The copies of one store, newest first, by the moment in their names."""
    named = re.compile(re.escape(stem) + r"-(\d{4}-\d\d-\d\d-\d{6})(?:-(\d+))?\.db")
    found = []
    for path in folder.iterdir() if folder.is_dir() else ():
        match = named.fullmatch(path.name)
        if match:
            found.append((match[1], int(match[2] or 1), path))
    return [path for *_, path in sorted(found, reverse=True)]


def _thin_out(folder: Path, stem: str, keep: int, spare: set[Path]) -> None:
    for old in _copies(folder, stem)[max(1, keep) :]:
        if old.absolute() not in spare:
            old.unlink(missing_ok=True)
