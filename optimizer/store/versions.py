"""Which version a store has, and how an older one is brought up to date."""

from __future__ import annotations

from importlib.resources import files

from sqlalchemy import Connection, Engine, inspect, text

from optimizer.store.faults import StoreDamaged, StoreTooNew

KNOWN = ("0001", "0002")  # oldest first; a test holds them to the files in migrations/versions
HEAD = KNOWN[-1]
ONE_AT_A_TIME = 7_265_473  # our key for the advisory lock of PostgreSQL


def version_of(connection: Connection, where: str) -> str | None:
    """The store's version, None for a place that is still empty.

    Raises
    ------
    StoreTooNew
        A version that this program does not know.
    StoreDamaged
        Tables of something else are there.
    """
    names = set(inspect(connection).get_table_names())
    if "alembic_version" not in names:
        if names:
            raise StoreDamaged(
                f"{where}: this is a database of something else (tables {', '.join(sorted(names)[:3])} ...); "
                "name another place for the store"
            )
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if found is None:
        raise StoreDamaged(f"{where}: this store does not say which version it has; bring back a backup")
    if found not in KNOWN and "kitchens" not in names:
        raise StoreDamaged(f"{where}: this is a database of something else; name another place for the store")
    if found not in KNOWN:
        raise StoreTooNew(
            f"{where}: this store was written by a newer panwise (its version is {found}, this one knows up to "
            f"{HEAD}); nothing was changed: install the newer panwise, or name another store"
        )
    return str(found)


def is_current(engine: Engine, where: str) -> bool:
    """True where nothing has to be done before the store is used."""
    with engine.connect() as connection, connection.begin():
        return version_of(connection, where) == HEAD


def one_at_a_time(connection: Connection) -> None:
    """Until the end of the transaction nobody else does what concerns the whole store.

    SQLite holds the lock of the whole file by now; PostgreSQL is asked for one.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ONE_AT_A_TIME})


def bring_up_to_date(connection: Connection, where: str, *, target: str = HEAD) -> None:
    """Runs the steps that are missing, inside the caller's transaction: all of them or none."""
    from alembic.config import Config  # here: most openings have nothing to do, and alembic takes its time to load
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    one_at_a_time(connection)
    present = version_of(connection, where)  # again: another process may have been faster
    if present == target:
        return
    config = Config()
    config.set_main_option("script_location", str(files("optimizer.store") / "migrations").replace("%", "%%"))
    script = ScriptDirectory.from_config(config)
    migration = MigrationContext.configure(connection)
    steps = list(script.iterate_revisions(target, present or "base"))
    with Operations.context(migration):
        for step in reversed(steps):
            step.module.upgrade()
            migration.stamp(script, step.revision)
