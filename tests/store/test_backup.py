"""Backups are proved by reading them back; restoring is whole or not at all and loses nothing unasked."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from storing import ask, counts, lot, on_hand, save, sugar, tell

from optimizer.store import (
    JarsMade,
    Kitchen,
    SmallerBackup,
    Store,
    StoreAway,
    StoreDamaged,
    StoreTooNew,
    open_store,
)
from optimizer.store import (
    backups as _backups,
)
from optimizer.store.tables import LEDGER


@pytest.fixture
def full(store: Store, kitchen: Kitchen) -> Kitchen:
    cells = {"item": "plum", "supplier": "Süß & Söhne", "note": "=1+1 🍒"}
    save(store, kitchen, lot("P-1", 10_000, **cells), sugar("O-1", 2800), who="cook")
    recipe = store.keep_recipe(kitchen, product="jam", request={"x": 0.1}, inputs={}, document={})
    batch = store.open_batch(kitchen, recipe=recipe.code, product="jam", uses={"P-1": 4000})
    store.add_reading(kitchen, batch.code, figure="pH", value=0.1 + 0.2, unit="pH")
    store.finish_batch(kitchen, batch.code, made_g=5000, jars=[JarsMade(name="380 mL", count=10)])
    save(store, kitchen, lot("P-2", 7, item="pear"))
    store.undo(kitchen)
    return kitchen


def all_of(store: Store, kitchen: Kitchen) -> tuple[object, ...]:
    return (store.kitchens(), store.current(), store.site_toml(kitchen), store.lots(kitchen), store.offers(kitchen),
            store.bookings(kitchen), store.price_history(kitchen), store.recipes(kitchen), store.batches(kitchen),
            store.jars(kitchen), store.suppliers(kitchen))  # fmt: skip


def test_a_backup_holds_all_that_the_store_holds(store: Store, full: Kitchen, place: str, tmp_path: Path) -> None:
    made = store.backup(tmp_path / "safe")
    assert (made.kitchens, made.lots, made.batches, made.bookings, made.fault) == (1, 2, 1, 6, "")
    assert made.bytes == made.path.stat().st_size
    assert store.backups(tmp_path / "safe") == (made,)
    assert counts(str(made.path), LEDGER) == counts(place, LEDGER)
    for table in LEDGER:
        lines = f"SELECT * FROM {table} ORDER BY id"
        assert ask(str(made.path), lines) == ask(place, lines)
    copy = tmp_path / "copy.db"
    shutil.copyfile(made.path, copy)
    with open_store(copy) as other:  # a backup is a store
        assert all_of(other, full) == all_of(store, full)
        save(other, full, lot("P-1", 1))


def test_a_backup_can_be_made_while_somebody_reads(store: Store, full: Kitchen, tmp_path: Path) -> None:
    with store._reading() as connection:
        connection.exec_driver_sql("SELECT count(*) FROM lots")
        assert store.backup(tmp_path).lots == 2


def test_restoring_brings_back_all_and_keeps_what_was(store: Store, full: Kitchen) -> None:
    then = all_of(store, full)
    made = store.backup()
    save(store, full, lot("P-1", 1), lot("P-3", 9, item="quince"))
    other = store.make_kitchen("Harbour", site_toml="")
    now = all_of(store, full)
    before = store.restore(made.path, even_if_smaller=True)
    assert all_of(store, full) == then
    assert (before.kitchens, before.lots) == (2, 3)
    store.restore(before.path)  # and back again
    assert all_of(store, full) == now
    save(store, other, lot("P-1", 5, item="plum"))  # new lines find free numbers
    assert on_hand(store, other) == {"P-1": 5}


def test_after_a_restore_the_ledger_is_still_kept_by_its_triggers(store: Store, full: Kitchen, place: str) -> None:
    store.restore(store.backup().path)
    for order in ("DELETE FROM movements", "UPDATE bookings SET who = 'x'"):
        with pytest.raises(Exception, match="never changed"):
            tell(place, order)
    names = "booking_id, kitchen_id, lot_id, amount, unit, kind, why"
    order = f"INSERT INTO movements ({names}) VALUES (1, 1, 1, -6001, 'g', 'x', '')"
    with pytest.raises(Exception, match="below zero"):
        tell(place, order)


def test_a_smaller_backup_needs_a_second_yes(store: Store, full: Kitchen) -> None:
    made = store.backup()
    save(store, full, lot("P-4", 9, item="quince"))
    now = all_of(store, full)
    with pytest.raises(SmallerBackup, match="2 lots instead of 3"):
        store.restore(made.path)
    assert all_of(store, full) == now
    assert store.backups() == (made,)
    store.restore(made.path, even_if_smaller=True)
    assert "P-4" not in on_hand(store, full)


def test_an_empty_backup_needs_a_second_yes(store: Store, full: Kitchen, tmp_path: Path) -> None:
    open_store(tmp_path / "empty.db").close()
    with pytest.raises(SmallerBackup, match="0 kitchens instead of 1"):
        store.restore(tmp_path / "empty.db")
    assert store.kitchens() == (full,)


def damage(path: Path, what: str) -> None:
    data = path.read_bytes()
    if what == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif what == "no database":
        path.write_bytes(b"x" * len(data))
    elif what == "one letter":
        at = data.index(b"Mill Lane")
        path.write_bytes(data[:at] + b"N" + data[at + 1 :])
    elif what == "a page":
        page = 4096 * (len(data) // 4096 // 2)
        path.write_bytes(data[:page] + b"\xff" * 4096 + data[page + 4096 :])
    elif what == "an amount":
        with closing(sqlite3.connect(path)) as file, file:
            file.executescript(
                "DROP TRIGGER movements_no_update; UPDATE movements SET amount = amount + 1 WHERE id = 1"
            )
    elif what == "a line":
        with closing(sqlite3.connect(path)) as file, file:
            file.executescript("DROP TRIGGER readings_no_delete; DELETE FROM readings")


@pytest.mark.parametrize("what", ["cut", "no database", "one letter", "a page", "an amount", "a line"])
def test_a_damaged_backup_is_refused(store: Store, full: Kitchen, what: str) -> None:
    made = store.backup()
    good = store.backup()
    now = all_of(store, full)
    damage(made.path, what)
    with pytest.raises(StoreDamaged):
        store.restore(made.path, even_if_smaller=True)
    assert all_of(store, full) == now
    assert good.path in {backup.path for backup in store.backups() if not backup.fault}
    if what in {"cut", "no database"}:
        assert [backup.path for backup in store.backups() if backup.fault] == [made.path]


def test_a_backup_of_a_newer_version_or_none_is_refused(store: Store, full: Kitchen, tmp_path: Path) -> None:
    made = store.backup()
    tell(str(made.path), "UPDATE alembic_version SET version_num = '0999'")
    with pytest.raises(StoreTooNew):
        store.restore(made.path)
    assert "newer" in store.backups()[0].fault
    with pytest.raises(StoreAway, match="no such file"):
        store.restore(tmp_path / "gone.db")
    assert store.kitchens() == (full,)


def test_a_copy_that_does_not_read_back_is_not_kept(
    store: Store, full: Kitchen, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert full
    sealed = _backups._seal

    def spoil(path: Path, held: dict[str, list[object]], at: datetime) -> None:
        sealed(path, held, at)
        damage(path, "an amount")

    monkeypatch.setattr(_backups, "_seal", spoil)
    with pytest.raises(StoreDamaged):
        store.backup(tmp_path / "safe")
    assert list((tmp_path / "safe").iterdir()) == []


def test_a_restore_that_trips_changes_nothing(store: Store, full: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    made = store.backup()
    save(store, full, lot("P-1", 1))
    now = all_of(store, full)
    seen: list[object] = []

    def trip(*_: object) -> None:
        seen.append(1)
        raise OSError("the disk is gone")

    monkeypatch.setattr("optimizer.store.restoring._count_on", trip)  # after everything was poured in
    with pytest.raises(OSError, match="the disk is gone"):
        store.restore(made.path)
    assert seen
    assert all_of(store, full) == now


def test_ten_backups_are_kept_and_the_one_restored_from_is_spared(store: Store, full: Kitchen) -> None:
    first = store.backup()
    then = all_of(store, full)
    for _ in range(9):
        store.backup()
    assert len(store.backups()) == 10
    store.restore(first.path)
    assert all_of(store, full) == then
    assert first.path.is_file()
    store.backup(keep=3)
    newest, *others = store.backups()
    assert len(others) == 2
    assert all(other.made_at < newest.made_at for other in others)


def test_backups_of_another_store_are_left_alone(store: Store, full: Kitchen, tmp_path: Path) -> None:
    assert full
    folder = tmp_path / "safe"
    with open_store(tmp_path / "other.db") as other:
        other.make_kitchen("Harbour", site_toml="")
        kept = other.backup(folder)
        for _ in range(3):
            store.backup(folder, keep=2)
        assert len(store.backups(folder)) == 2
        assert other.backups(folder) == (kept,)


def test_a_backup_is_due_once_a_day(place: str) -> None:
    now = datetime(2026, 7, 4, 10, tzinfo=UTC)
    with open_store(place, clock=lambda: now) as store:
        assert store.backup_if_due() is None  # nothing to save yet
        store.make_kitchen("Mill Lane", site_toml="")
        assert store.backup_if_due() is not None
        assert store.backup_if_due() is None
        now += timedelta(days=1)
        assert store.backup_if_due() is not None
        assert len(store.backups()) == 2


def test_a_folder_that_cannot_be_written_is_said(store: Store, full: Kitchen, tmp_path: Path) -> None:
    assert full
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(StoreAway, match="no backup could be written"):
        store.backup(tmp_path / "file" / "safe")
