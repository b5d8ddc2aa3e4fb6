"""A backup takes the place of the present store: in one transaction, whole or not at all."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, text

from optimizer.store.backups import prove
from optimizer.store.digests import copy_lines, digests, tables_of
from optimizer.store.engine import WRITES, make_engine
from optimizer.store.faults import SmallerBackup, StoreDamaged
from optimizer.store.versions import bring_up_to_date


def refuse_smaller(path: Path, backup: dict[str, list[Any]], present: dict[str, list[Any]]) -> None:
    """A backup that holds less than the present store needs a second yes.

    Raises
    ------
    SmallerBackup
        Says what there would be less of.
    """
    less = [
        f"{backup.get(table, [0])[0]} {table} instead of {present[table][0]}"
        for table in ("kitchens", "lots", "batches")
        if backup.get(table, [0])[0] < present.get(table, [0])[0]
    ]
    if less:
        raise SmallerBackup(
            f"{path.name} holds less than the present store: {', '.join(less)}; "
            "nothing was changed, say yes once more to bring it back all the same"
        )


def pour_in(path: Path, held: dict[str, list[Any]], target: Connection) -> None:
    """Empties the store and fills it with a backup's lines, brought up to date on the way; `held` is what it must hold.

    Raises
    ------
    StoreDamaged
        What arrived is not what the backup held; the caller's transaction must not be committed.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.db"
        shutil.copyfile(path, copy)
        if prove(copy) != held:
            raise StoreDamaged(f"{path}: this backup changed while it was read; the present store stays")
        engine = make_engine(URL.create("sqlite", database=str(copy)), journal="DELETE")
        try:
            with engine.connect().execution_options(**{WRITES: True}) as source, source.begin():
                bring_up_to_date(source, str(path))
                _empty(target)
                copy_lines(source, target)
                if digests(source) != digests(target):
                    raise StoreDamaged(f"{path}: this backup did not arrive as it was; the present store stays")
        finally:
            engine.dispose()
    _count_on(target)


def hold_still(target: Connection) -> None:
    """Nobody else writes until the transaction ends; the kitchens first, as every writer starts with them."""
    if target.dialect.name == "postgresql":
        names = [table.name for table in tables_of(target) if table.name != "alembic_version"]
        first = sorted(names, key=lambda name: name != "kitchens")
        target.execute(text(f"LOCK TABLE {', '.join(first)} IN ACCESS EXCLUSIVE MODE"))


def _empty(target: Connection) -> None:
    """Takes every line out: the one place where the triggers of the ledger are put aside, inside one transaction."""
    names = [table.name for table in tables_of(target) if table.name != "alembic_version"]
    if target.dialect.name == "postgresql":
        for name in names:
            target.execute(text(f"ALTER TABLE {name} DISABLE TRIGGER USER"))
        target.execute(text(f"TRUNCATE {', '.join(names)}"))
        for name in names:
            target.execute(text(f"ALTER TABLE {name} ENABLE TRIGGER USER"))
        return
    triggers = target.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")).all()
    for trigger in triggers:
        target.execute(text(f"DROP TRIGGER {trigger.name}"))
    for name in reversed(names):
        target.execute(text(f"DELETE FROM {name}"))
    for trigger in triggers:
        target.exec_driver_sql(trigger.sql)


def _count_on(target: Connection) -> None:
    """PostgreSQL numbers new lines by counters of its own: they go on after the highest line."""
    if target.dialect.name != "postgresql":
        return
    for table in tables_of(target):
        if "id" in table.c:
            target.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"(SELECT coalesce(max(id), 0) + 1 FROM {table.name}), false)"
                )
            )
