"""What a store holds, table by table, as counts and digests: two stores with the same digests hold the same lines."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Column, Connection, MetaData, Table, Text, insert, inspect, select

from optimizer.store.tables import METADATA
from optimizer.store.versions import HEAD

SEAL = "backup_seal"
VERSION = Table("alembic_version", MetaData(), Column("version_num", Text, primary_key=True))
AT_ONCE = 1000  # lines


def tables_of(connection: Connection) -> list[Table]:
    """Our tables that are there, those that others name before those that name them; not what else lies beside them."""
    is_current = connection.execute(select(VERSION.c.version_num)).scalar() == HEAD
    if is_current:
        return [VERSION, *METADATA.sorted_tables]
    found = MetaData()  # an older store has the columns of its time
    names = set(inspect(connection).get_table_names())
    found.reflect(connection, only=[name for name in (*METADATA.tables, VERSION.name) if name in names])
    return found.sorted_tables


def lines_of(connection: Connection, table: Table) -> Iterator[Sequence[Any]]:
    """The lines of a table in an order that does not depend on the database."""
    if "id" in table.c:
        yield from connection.execute(select(table).order_by(table.c.id).execution_options(yield_per=AT_ONCE))
    else:
        yield from sorted(connection.execute(select(table)).all(), key=lambda row: str(row[0]))


def digests(connection: Connection) -> dict[str, list[Any]]:
    """Table -> [number of lines, digest of all of them]."""
    found: dict[str, list[Any]] = {}
    for table in tables_of(connection):
        digest, count = hashlib.sha256(), 0
        for line in lines_of(connection, table):
            digest.update(json.dumps(list(line)).encode() + b"\n")
            count += 1
        found[table.name] = [count, digest.hexdigest()]
    return found


def copy_lines(source: Connection, target: Connection) -> None:
    """Every line of one store into another of the same version that is still empty."""
    for table in tables_of(target):
        if table.name == VERSION.name:
            continue
        rows: list[dict[str, Any]] = []
        for line in lines_of(source, table):
            rows.append(dict(zip(table.c.keys(), line, strict=True)))
            if len(rows) == AT_ONCE:
                target.execute(insert(table), rows)
                rows = []
        if rows:
            target.execute(insert(table), rows)
