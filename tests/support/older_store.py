"""A store as an earlier version of the program left it: made by the first migration alone, filled by plain SQL."""

from __future__ import annotations

from sqlalchemy import text

from optimizer.store.engine import WRITES, address_of, make_engine
from optimizer.store.versions import bring_up_to_date

LINES = (
    "INSERT INTO kitchens (name, is_invented, at, who) VALUES ('Old Mill', 0, '2025-01-02T03:04:05.000+00:00', '')",
    "INSERT INTO bookings (kitchen_id, at, who, kind, said) "
    "VALUES (1, '2025-01-02T03:04:05.000+00:00', 'cook', 'kitchen', 'Made')",
    "INSERT INTO site_texts (booking_id, kitchen_id, toml) VALUES (1, 1, 'x = 1')",
    "INSERT INTO lots (kitchen_id, code) VALUES (1, 'P-1')",
    "INSERT INTO lot_lines (booking_id, kitchen_id, lot_id, cells, unit, typed_amount, removed) "
    "VALUES (1, 1, 1, '{\"item\":\"plum\"}', 'g', 40000, 0)",
    "INSERT INTO movements (booking_id, kitchen_id, lot_id, amount, unit, kind, why) "
    "VALUES (1, 1, 1, 40000, 'g', 'received', '')",
    "INSERT INTO facts (name, value) VALUES ('current_kitchen', '1')",
)


def make_older_store(place: str) -> None:
    """Version 0001, with one kitchen that has 40 kg of plums."""
    engine = make_engine(address_of(place))
    try:
        with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
            bring_up_to_date(connection, place, target="0001")
            for line in LINES:
                connection.execute(text(line.replace(":", r"\:")))
    finally:
        engine.dispose()
