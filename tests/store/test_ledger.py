"""The ledger only grows, whoever writes: the databases themselves refuse anything else."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine
from storing import ask, counts, lot, save, sugar, tell

from optimizer.store import JarsMade, Kitchen, Store, open_store
from optimizer.store.tables import LEDGER, METADATA

REFUSED = (sqlite3.IntegrityError, psycopg.errors.RaiseException)


@pytest.fixture
def full(store: Store, kitchen: Kitchen) -> Kitchen:
    """At least one line in every table."""
    save(store, kitchen, lot("P-1", 10_000, item="plum", supplier="Ash Farm"), sugar("O-1", 2800))
    recipe = store.keep_recipe(kitchen, product="jam", request={}, inputs={}, document={})
    batch = store.open_batch(kitchen, recipe=recipe.code, product="jam", uses={"P-1": 4000})
    store.add_reading(kitchen, batch.code, figure="pH", value=3.2, unit="pH")
    store.finish_batch(kitchen, batch.code, made_g=5000, jars=[JarsMade(name="380 mL", count=10)])
    return kitchen


@pytest.mark.usefixtures("full")
def test_no_line_can_be_changed_or_deleted(place: str) -> None:
    assert set(LEDGER) == set(METADATA.tables) - {"facts"}
    before = counts(place, LEDGER)
    assert all(before.values())
    for table in LEDGER:
        orders = [f"UPDATE {table} SET id = id", f"DELETE FROM {table}"]
        if "://" in place:
            orders.append(f"TRUNCATE {table} CASCADE")
        for order in orders:
            with pytest.raises(REFUSED, match="never changed"):
                tell(place, order)
    assert counts(place, LEDGER) == before


@pytest.mark.usefixtures("full")
def test_the_databases_themselves_keep_stock_above_zero(place: str) -> None:
    booking = "(SELECT max(id) FROM bookings)"
    with pytest.raises(REFUSED, match="below zero"):
        tell(place, "INSERT INTO movements (booking_id, kitchen_id, lot_id, amount, unit, kind, why) "
                    f"VALUES ({booking}, 1, 1, -6001, 'g', 'used', '')")  # fmt: skip
    with pytest.raises(REFUSED, match="below zero"):
        tell(place, "INSERT INTO jar_movements (booking_id, kitchen_id, jars_id, amount, kind, why) "
                    "VALUES ((SELECT min(id) FROM bookings), 1, 1, -11, 'taken', '')")  # fmt: skip


@pytest.mark.usefixtures("full")
def test_grams_are_whole_numbers(place: str) -> None:
    order = ("INSERT INTO movements (booking_id, kitchen_id, lot_id, amount, unit, kind, why) "
             "VALUES (1, 1, 1, 'heavy', 'g', 'received', '')")  # fmt: skip
    with pytest.raises((sqlite3.IntegrityError, psycopg.errors.InvalidTextRepresentation)):
        tell(place, order)
    with pytest.raises((sqlite3.IntegrityError, psycopg.errors.CheckViolation)):
        tell(place, order.replace("'heavy', 'g'", "5, 'lb'"))


@pytest.mark.usefixtures("full")
def test_times_are_text_with_their_zone(place: str) -> None:
    (at,) = ask(place, "SELECT at FROM bookings ORDER BY id LIMIT 1")[0]
    assert at == "2026-07-04T10:00:01.000+00:00"


def test_migrations_make_the_tables_the_program_knows(store: Store, place: str) -> None:
    store.close()
    engine = create_engine(
        place.replace("postgresql:", "postgresql+psycopg:") if "://" in place else f"sqlite:///{place}"
    )
    try:
        with engine.connect() as connection:
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            differences = [
                change
                for change in compare_metadata(context, METADATA)
                if not (change[0] == "remove_index" and change[1].name.startswith("one_"))  # differs by database
            ]
            assert differences == []
            if engine.dialect.name == "sqlite":
                for table in METADATA.tables:
                    (sql,) = connection.exec_driver_sql(f"SELECT sql FROM sqlite_master WHERE name = '{table}'").one()
                    assert sql.rstrip().endswith("STRICT"), table
    finally:
        engine.dispose()


def test_sqlite_is_set_up_to_lose_nothing(tmp_path_factory: pytest.TempPathFactory) -> None:
    file = tmp_path_factory.mktemp("safe") / "panwise.db"
    with open_store(file) as store, store._reading() as connection:
        said = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("foreign_keys", "journal_mode", "synchronous", "busy_timeout")}  # fmt: skip
    assert said == {"foreign_keys": 1, "journal_mode": "wal", "synchronous": 2, "busy_timeout": 5000}  # 2: FULL
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
