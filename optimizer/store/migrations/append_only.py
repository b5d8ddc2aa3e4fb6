"""Triggers that keep the ledger a ledger. Steps use them; what a released step did must not change here."""

from __future__ import annotations

from alembic import op

PG_REFUSE = """
CREATE FUNCTION panwise_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'lines of % are never changed; a correction is a new line', TG_TABLE_NAME; END $$
"""

PG_NEVER_BELOW_ZERO = """
CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF (SELECT coalesce(sum(amount), 0) FROM {table} WHERE {same}) + NEW.amount < 0 THEN
    RAISE EXCEPTION 'stock of {table} would fall below zero';
  END IF;
  RETURN NEW;
END $$
"""


def is_postgresql() -> bool:
    return op.get_bind().dialect.name == "postgresql"


def make_refusal() -> None:
    """PostgreSQL wants a function for its triggers; once per store."""
    if is_postgresql():
        op.execute(PG_REFUSE)


def refuse_changes(table: str) -> None:
    """Lines of `table` can be neither changed nor deleted."""
    if is_postgresql():
        op.execute(
            f"CREATE TRIGGER {table}_only_grow BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION panwise_refuse()"
        )
        op.execute(
            f"CREATE TRIGGER {table}_keep_all BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION panwise_refuse()"
        )
        return
    for verb in ("update", "delete"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} BEGIN "
            f"SELECT RAISE(ABORT, 'lines of {table} are never changed; a correction is a new line'); END"
        )


def never_below_zero(table: str, *keys: str) -> None:
    """The sum of `amount` over lines with the same keys never falls below zero, whoever writes."""
    same = " AND ".join(f"{key} = NEW.{key}" for key in keys)
    if is_postgresql():
        op.execute(PG_NEVER_BELOW_ZERO.format(name=f"{table}_stay_above", table=table, same=same))
        op.execute(
            f"CREATE TRIGGER {table}_above_zero BEFORE INSERT ON {table} "
            f"FOR EACH ROW WHEN (NEW.amount < 0) EXECUTE FUNCTION {table}_stay_above()"
        )
        return
    op.execute(
        f"CREATE TRIGGER {table}_above_zero BEFORE INSERT ON {table} WHEN NEW.amount < 0 "
        f"AND (SELECT coalesce(sum(amount), 0) FROM {table} WHERE {same}) + NEW.amount < 0 "
        f"BEGIN SELECT RAISE(ABORT, 'stock of {table} would fall below zero'); END"
    )


def one_of_a_kind(table: str, column: str) -> None:
    """A code or name once per kitchen. PostgreSQL indexes its digest: a name of 10,000 letters fits no index there."""
    key = f"md5({column})" if is_postgresql() else column
    op.execute(f"CREATE UNIQUE INDEX one_{column}_of_{table} ON {table} (kitchen_id, {key})")
