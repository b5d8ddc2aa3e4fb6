"""Kitchens, bookings, lots, movements, offers and prices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from optimizer.store.migrations.append_only import make_refusal, never_below_zero, one_of_a_kind, refuse_changes

revision = "0001"
down_revision = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
LEDGER = ("kitchens", "suppliers", "bookings", "site_texts", "lots", "lot_lines", "movements", "offers", "offer_lines",
          "prices")  # fmt: skip


def _make(name: str, *parts: sa.schema.SchemaItem) -> None:
    op.create_table(name, sa.Column("id", WHOLE, primary_key=True), *parts, sqlite_strict=True)


def _of(table: str, name: str = "", nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name or f"{table.removesuffix('s')}_id", WHOLE, sa.ForeignKey(f"{table}.id"), nullable=nullable)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _whole(name: str, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=nullable)


def _unit(name: str) -> sa.CheckConstraint:
    return sa.CheckConstraint("unit IN ('g', 'piece')", name=name)


def upgrade() -> None:
    op.create_table("facts", sa.Column("name", sa.Text, primary_key=True), _text("value"), sqlite_strict=True)
    _make("kitchens", _text("name"), _whole("is_invented"), _text("at"), _text("who"))
    _make("suppliers", _of("kitchens"), _text("name"))
    _make(
        "bookings",
        _of("kitchens"),
        *(_text(name) for name in ("at", "who", "kind", "said")),
        _of("bookings", "undoes", nullable=True),
        sa.UniqueConstraint("undoes", name="undone_once"),
    )
    _make("site_texts", _of("bookings"), _of("kitchens"), _text("toml"))
    _make("lots", _of("kitchens"), _text("code"))
    _make(
        "lot_lines",
        *(_of(table) for table in ("bookings", "kitchens", "lots")),
        _text("cells"),
        _text("unit"),
        _whole("typed_amount", nullable=True),
        _whole("removed"),
        _of("suppliers", nullable=True),
        _unit("lot_line_unit"),
    )
    _make(
        "movements",
        *(_of(table) for table in ("bookings", "kitchens", "lots")),
        _whole("amount"),
        _text("unit"),
        _text("kind"),
        _of("movements", "corrects", nullable=True),
        _text("why"),
        _unit("movement_unit"),
        sa.CheckConstraint("amount <> 0", name="movement_moves"),
        sa.UniqueConstraint("booking_id", "lot_id", "unit", name="one_movement_a_booking"),
    )
    _make("offers", _of("kitchens"), _text("code"))
    _make(
        "offer_lines",
        *(_of(table) for table in ("bookings", "kitchens", "offers")),
        _text("cells"),
        _whole("removed"),
        _of("suppliers", nullable=True),
    )
    _make(
        "prices",
        *(_of(table) for table in ("bookings", "kitchens", "offer_lines")),
        *(_text(name) for name in ("on_date", "item", "currency")),
        _whole("price_minor"),
        _whole("price_amount"),
        _text("unit"),
        _unit("price_unit"),
        sa.CheckConstraint("price_amount > 0", name="price_of_something"),
    )
    op.create_index("bookings_of_kitchen", "bookings", ["kitchen_id", "id"])
    op.create_index("lot_lines_of_lot", "lot_lines", ["kitchen_id", "lot_id", "id"])
    op.create_index("lot_lines_of_booking", "lot_lines", ["booking_id"])
    op.create_index("movements_of_lot", "movements", ["kitchen_id", "lot_id", "unit", "amount"])
    op.create_index("offer_lines_of_offer", "offer_lines", ["kitchen_id", "offer_id", "id"])
    op.create_index("offer_lines_of_booking", "offer_lines", ["booking_id"])
    op.create_index("prices_of_kitchen", "prices", ["kitchen_id", "on_date"])
    make_refusal()
    for table in LEDGER:
        refuse_changes(table)
    for table, column in (("suppliers", "name"), ("lots", "code"), ("offers", "code")):
        one_of_a_kind(table, column)
    never_below_zero("movements", "kitchen_id", "lot_id", "unit")
