"""Recipes kept with what they were made from, batches, readings, jars."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.sqlite import REAL
from sqlalchemy.types import TypeEngine

from optimizer.store.migrations.append_only import never_below_zero, one_of_a_kind, refuse_changes

revision = "0002"
down_revision = "0001"

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
REAL_NUMBER: TypeEngine[float] = sa.Double().with_variant(REAL(), "sqlite")
LEDGER = ("recipes", "batches", "readings", "batch_ends", "jars", "jar_movements")


def _make(name: str, *parts: sa.schema.SchemaItem) -> None:
    op.create_table(name, sa.Column("id", WHOLE, primary_key=True), *parts, sqlite_strict=True)


def _of(table: str, name: str, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, WHOLE, sa.ForeignKey(f"{table}.id"), nullable=nullable)


def _booked() -> tuple[sa.Column[int], sa.Column[int]]:
    return _of("bookings", "booking_id"), _of("kitchens", "kitchen_id")


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=False)


def upgrade() -> None:
    _make(
        "recipes",
        _of("kitchens", "kitchen_id"),
        *_texts("code", "product", "at", "who", "request", "inputs", "document", "digest"),
        sa.UniqueConstraint("kitchen_id", "code", name="one_recipe_a_code"),
        sa.UniqueConstraint("kitchen_id", "digest", name="a_recipe_once"),
    )
    _make(
        "batches",
        *_booked(),
        _of("recipes", "recipe_id", nullable=True),
        *_texts("code", "product"),
        sa.UniqueConstraint("booking_id", name="one_batch_a_booking"),
    )
    _make(
        "readings",
        _of("kitchens", "kitchen_id"),
        _of("batches", "batch_id"),
        *_texts("figure"),
        sa.Column("value", REAL_NUMBER, nullable=False),
        *_texts("unit", "at", "who", "noted_at"),
    )
    _make(
        "batch_ends",
        *_booked(),
        _of("batches", "batch_id"),
        _whole("made_g"),
        sa.CheckConstraint("made_g >= 0", name="made_something"),
    )
    _make("jars", *_booked(), _of("batches", "batch_id"), *_texts("code", "name"))
    _make(
        "jar_movements",
        *_booked(),
        _of("jars", "jars_id"),
        _whole("amount"),
        *_texts("kind"),
        _of("jar_movements", "corrects", nullable=True),
        *_texts("why"),
        sa.CheckConstraint("amount <> 0", name="jars_move"),
        sa.UniqueConstraint("booking_id", "jars_id", name="one_jar_movement_a_booking"),
    )
    op.create_index("readings_of_batch", "readings", ["batch_id"])
    op.create_index("ends_of_batch", "batch_ends", ["batch_id"])
    op.create_index("jars_of_batch", "jars", ["batch_id"])
    op.create_index("movements_of_jars", "jar_movements", ["kitchen_id", "jars_id", "amount"])
    for table in LEDGER:
        refuse_changes(table)
    one_of_a_kind("batches", "code")
    never_below_zero("jar_movements", "kitchen_id", "jars_id")
