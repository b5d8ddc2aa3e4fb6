"""A PostgreSQL server for one test run: an address that was given, or a server of our own, gone at the end.

`initdb` refuses root, so root runs it as an ordinary user in a folder of that user.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
from sqlalchemy import URL, make_url

GIVEN = "PANWISE_TEST_POSTGRES"  # address of a server where databases may be made
EXPECTED = "PANWISE_EXPECT_POSTGRES"  # set where a missing server is a failure


class NoServer(Exception):
    """No server was given and none can be started here."""


def programs() -> Path:
    """The folder of `initdb` and `postgres`, the newest where there are several."""
    on_path = shutil.which("initdb")
    found = [Path(on_path).resolve().parent] if on_path else []
    found += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda folder: -float(folder.parent.name))
    for folder in found:
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    raise NoServer("no PostgreSQL server is installed here, and PANWISE_TEST_POSTGRES names none")


@contextlib.contextmanager
def server(*, is_fast: bool = True) -> Iterator[URL]:
    """The address of a running server; `is_fast`: it need not survive a power cut."""
    if os.environ.get(GIVEN):
        yield make_url(os.environ[GIVEN]).set(drivername="postgresql")
        return
    bin_folder = programs()
    folder = Path(tempfile.mkdtemp(prefix="panwise-pg-"))
    as_user = _ordinary_user(folder)
    try:
        make = [str(bin_folder / "initdb"), "-D", str(folder / "data"), "-U", "panwise", "-A", "trust", "-E", "UTF8",
                "--locale=C", "-N"]  # fmt: skip
        made = subprocess.run(make, cwd=folder, capture_output=True, text=True, check=False, **as_user)
        if made.returncode:
            raise NoServer(f"initdb does not work here: {made.stderr[-300:]}")
        settings = {"listen_addresses": "", "unix_socket_directories": str(folder), "max_connections": "60"}
        if is_fast:
            settings |= {"fsync": "off"}
        run = [str(bin_folder / "postgres"), "-D", str(folder / "data")]
        run += [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
        with (
            open(folder / "log", "wb") as log,
            subprocess.Popen(run, cwd=folder, stdout=log, stderr=log, **as_user) as process,
        ):
            try:
                yield _wait(
                    URL.create("postgresql", "panwise", database="postgres", query={"host": str(folder)}), process
                )
            finally:
                process.send_signal(signal.SIGINT)  # fast shutdown
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _ordinary_user(folder: Path) -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            user = pwd.getpwnam(name)
            os.chown(folder, user.pw_uid, user.pw_gid)
            return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    raise NoServer("root may not run PostgreSQL, and no ordinary user is here")


def _wait(url: URL, process: subprocess.Popen[bytes]) -> URL:
    for _ in range(300):
        if process.poll() is not None:
            raise NoServer("the PostgreSQL server stopped as soon as it was started")
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(address(url)).close()
            return url
        time.sleep(0.1)
    raise NoServer("the PostgreSQL server did not answer within 30 s")


def address(url: URL) -> str:
    """As `psycopg` and `open_store` take it."""
    return url.set(drivername="postgresql").render_as_string(hide_password=False)


@contextlib.contextmanager
def fresh_database(url: URL, name: str) -> Iterator[str]:
    """A database of its own on the server, dropped at the end."""
    with psycopg.connect(address(url), autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"'.encode())
    try:
        yield address(url.set(database=name))
    finally:
        with psycopg.connect(address(url), autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())
