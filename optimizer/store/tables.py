"""The tables of the store, for SQLite and PostgreSQL alike.

Whole grams, pieces and minor money units; times as ISO text with their zone. Every table in `LEDGER` only grows:
triggers refuse to change or delete a line, in both databases. Migrations make the tables; a test compares the two.

    kitchens ─┬─ bookings ─┬─ lot_lines ── lots        what a line of the stock table says, newest holds
              │            ├─ movements ── lots        so much more or less of a lot; stock is their sum
              │            ├─ offer_lines ── offers    what a line of the offers table says, newest holds
              │            ├─ prices ── offer_lines    what was asked for it on a day
              │            └─ site_texts               the settings of the kitchen, newest holds
              ├─ suppliers
              ├─ recipes ── batches ─┬─ readings
              │                      ├─ batch_ends
              │                      └─ jars ── jar_movements
              └─ facts                                 which kitchen is open; the only lines that change
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.dialects.sqlite import REAL
from sqlalchemy.types import TypeEngine

METADATA = MetaData()
WHOLE = BigInteger().with_variant(Integer(), "sqlite")  # strict tables of SQLite know INTEGER only
REAL_NUMBER: TypeEngine[float] = Double().with_variant(REAL(), "sqlite")


def _table(name: str, *parts: Any) -> Table:
    return Table(name, METADATA, Column("id", WHOLE, primary_key=True), *parts, sqlite_strict=True)


def _of(table: str, *, name: str = "", nullable: bool = False) -> Column[int]:
    return Column(name or f"{table.removesuffix('s')}_id", WHOLE, ForeignKey(f"{table}.id"), nullable=nullable)


def _text(name: str, *, nullable: bool = False) -> Column[str]:
    return Column(name, Text, nullable=nullable)


def _whole(name: str, *, nullable: bool = False) -> Column[int]:
    return Column(name, WHOLE, nullable=nullable)


facts = Table(
    "facts", METADATA, Column("name", Text, primary_key=True, nullable=False), _text("value"), sqlite_strict=True
)
kitchens = _table("kitchens", _text("name"), _whole("is_invented"), _text("at"), _text("who"))
suppliers = _table("suppliers", _of("kitchens"), _text("name"))
bookings = _table(
    "bookings",
    _of("kitchens"),
    _text("at"),
    _text("who"),
    _text("kind"),
    _text("said"),
    _of("bookings", name="undoes", nullable=True),
    UniqueConstraint("undoes", name="undone_once"),
    Index("bookings_of_kitchen", "kitchen_id", "id"),
)
site_texts = _table("site_texts", _of("bookings"), _of("kitchens"), _text("toml"))
lots = _table("lots", _of("kitchens"), _text("code"))
lot_lines = _table(
    "lot_lines",
    _of("bookings"),
    _of("kitchens"),
    _of("lots"),
    _text("cells"),
    _text("unit"),
    _whole("typed_amount", nullable=True),
    _whole("removed"),
    _of("suppliers", nullable=True),
    CheckConstraint("unit IN ('g', 'piece')", name="lot_line_unit"),
    Index("lot_lines_of_lot", "kitchen_id", "lot_id", "id"),
    Index("lot_lines_of_booking", "booking_id"),
)
movements = _table(
    "movements",
    _of("bookings"),
    _of("kitchens"),
    _of("lots"),
    _whole("amount"),
    _text("unit"),
    _text("kind"),
    _of("movements", name="corrects", nullable=True),
    _text("why"),
    CheckConstraint("unit IN ('g', 'piece')", name="movement_unit"),
    CheckConstraint("amount <> 0", name="movement_moves"),
    UniqueConstraint("booking_id", "lot_id", "unit", name="one_movement_a_booking"),
    Index("movements_of_lot", "kitchen_id", "lot_id", "unit", "amount"),
)
offers = _table("offers", _of("kitchens"), _text("code"))
offer_lines = _table(
    "offer_lines",
    _of("bookings"),
    _of("kitchens"),
    _of("offers"),
    _text("cells"),
    _whole("removed"),
    _of("suppliers", nullable=True),
    Index("offer_lines_of_offer", "kitchen_id", "offer_id", "id"),
    Index("offer_lines_of_booking", "booking_id"),
)
prices = _table(
    "prices",
    _of("bookings"),
    _of("kitchens"),
    _of("offer_lines"),
    _text("on_date"),
    _text("item"),
    _text("currency"),
    _whole("price_minor"),
    _whole("price_amount"),
    _text("unit"),
    CheckConstraint("unit IN ('g', 'piece')", name="price_unit"),
    CheckConstraint("price_amount > 0", name="price_of_something"),
    Index("prices_of_kitchen", "kitchen_id", "on_date"),
)

recipes = _table(
    "recipes",
    _of("kitchens"),
    *(_text(name) for name in ("code", "product", "at", "who", "request", "inputs", "document", "digest")),
    UniqueConstraint("kitchen_id", "code", name="one_recipe_a_code"),
    UniqueConstraint("kitchen_id", "digest", name="a_recipe_once"),
)
batches = _table(
    "batches",
    _of("bookings"),
    _of("kitchens"),
    _of("recipes", nullable=True),
    _text("code"),
    _text("product"),
    UniqueConstraint("booking_id", name="one_batch_a_booking"),
)
readings = _table(
    "readings",
    _of("kitchens"),
    _of("batches", name="batch_id"),
    _text("figure"),
    Column("value", REAL_NUMBER, nullable=False),
    *(_text(name) for name in ("unit", "at", "who", "noted_at")),
    Index("readings_of_batch", "batch_id"),
)
batch_ends = _table(
    "batch_ends",
    _of("bookings"),
    _of("kitchens"),
    _of("batches", name="batch_id"),
    _whole("made_g"),
    CheckConstraint("made_g >= 0", name="made_something"),
    Index("ends_of_batch", "batch_id"),
)
jars = _table(
    "jars",
    _of("bookings"),
    _of("kitchens"),
    _of("batches", name="batch_id"),
    _text("code"),
    _text("name"),
    Index("jars_of_batch", "batch_id"),
)
jar_movements = _table(
    "jar_movements",
    _of("bookings"),
    _of("kitchens"),
    _of("jars", name="jars_id"),
    _whole("amount"),
    _text("kind"),
    _of("jar_movements", name="corrects", nullable=True),
    _text("why"),
    CheckConstraint("amount <> 0", name="jars_move"),
    UniqueConstraint("booking_id", "jars_id", name="one_jar_movement_a_booking"),
    Index("movements_of_jars", "kitchen_id", "jars_id", "amount"),
)

LEDGER = ("kitchens", "suppliers", "bookings", "site_texts", "lots", "lot_lines", "movements", "offers", "offer_lines",
          "prices", "recipes", "batches", "readings", "batch_ends", "jars", "jar_movements")  # fmt: skip
