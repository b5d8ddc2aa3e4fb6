"""One lot or one offer with one cell changed: what it becomes, or the cure that is offered."""

import csv
import re
from datetime import date
from pathlib import Path

import pytest

from optimizer.errors import BadTable, Fault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Lot, Offer

PLUM = {"lot": "A-1", "item": "plum, flesh with skin", "on_hand": "100 kg", "worth_uncooked": "0.10 EUR/kg"}
SUGAR = {"lot": "A-1", "item": "cane/beet sugar, white", "on_hand": "100 kg", "paid": "0.80 EUR/kg"}
LEMON = {"lot": "A-1", "item": "lemon juice, fresh", "on_hand": "10 kg", "paid": "2 EUR/kg"}
PULP = {"lot": "A-1", "item": "plum, sulphited pulp", "on_hand": "10 kg", "worth_uncooked": "0"}
PECTIN = {"offer": "O-1", "item": "pectin, HM (powder, grade 150)", "price": "21 EUR/kg"}
ACID = {"offer": "O-1", "item": "citric acid", "price": "2 EUR/kg"}
JAR = {"offer": "O-1", "item": "jar 380 mL", "price": "0.30 EUR/piece"}
FRUIT_OFFER = {"offer": "O-1", "item": "plum", "price": "0.50 EUR/kg"}
RATES = '[money]\ncurrency = "EUR"\n[money.rates]\ndate = 2026-07-01\nUSD = 0.9\n'


def write(path: Path, *rows: dict[str, str]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, names)
        writer.writeheader()
        writer.writerows(rows)


def read(folder: Path, *rows: dict[str, str], site: str = RATES) -> tuple[tuple[Lot, ...], tuple[Offer, ...]]:
    lots = [row for row in rows if "lot" in row]
    offers = [row for row in rows if "offer" in row]
    write(folder / "stock.csv", *(lots or [dict.fromkeys(PLUM, "")]))
    if offers:
        write(folder / "offers.csv", *offers)
    (folder / "site.toml").write_text(site, encoding="utf-8")
    found = load_site_folder(folder, load_book())
    return found.lots, found.offers


def faults(folder: Path, *rows: dict[str, str], site: str = RATES) -> tuple[Fault, ...]:
    with pytest.raises(BadTable) as caught:
        read(folder, *rows, site=site)
    return caught.value.faults


# ---- lots ------------------------------------------------------------------------------------------------------------

READ_LOTS = [
    (PLUM, "on_hand", "45 lb", "on_hand_kg", 20.41165665),  # 45 x 0.45359237
    (PLUM, "on_hand", "0.05 t", "on_hand_kg", 50.0),
    (PLUM, "on_hand", "100", "on_hand_kg", 100.0),
    (PLUM, "on_hand", "0", "on_hand_kg", 0.0),
    (PLUM, "on_hand", "12,5 kg", "on_hand_kg", 12.5),
    (PLUM, "worth_uncooked", "0", "worth_uncooked_per_kg", 0.0),
    (PLUM, "worth_uncooked", "-0.05 EUR/kg", "worth_uncooked_per_kg", -0.05),
    (PLUM, "worth_uncooked", "−0.05", "worth_uncooked_per_kg", -0.05),
    (PLUM, "worth_uncooked", "1.20 USD/lb", "worth_uncooked_per_kg", 1.2 * 0.9 / 0.45359237),
    (PLUM, "worth_uncooked", "EUR 0.12 per kg", "worth_uncooked_per_kg", 0.12),
    (PLUM, "worth_uncooked", "12 EUR/100 kg", "worth_uncooked_per_kg", 0.12),
    (PLUM, "worth_uncooked", "120 eur/t", "worth_uncooked_per_kg", 0.12),
    (PLUM, "paid", "0.35", "paid_per_kg", 0.35),
    (PLUM, "paid", "", "paid_per_kg", None),
    (PLUM, "item", "Plum", "item", "plum, flesh with skin"),
    (PLUM, "item", "apple", "item", "apple, eating, flesh with skin"),
    (PLUM, "item", "lemon ,  Juice", "item", "lemon, juice"),
    (PLUM, "condition", "", "condition", (("sound", 1.0),)),
    (PLUM, "condition", "Over ripe", "condition", (("over-ripe", 1.0),)),
    (PLUM, "received", "2026-07-03", "received", date(2026, 7, 3)),
    (PLUM, "kept_at", "77 degF", "kept_at_C", 25.0),
    (PLUM, "kept_at", "4 °C", "kept_at_C", 4.0),
    (PLUM, "brix", "12 Brix", "brix_fraction", 0.12),
    (PLUM, "brix", "12.1", "brix_fraction", 0.121),
    (PLUM, "brix", "85", "brix_fraction", 0.85),
    (PLUM, "brix", "", "brix_fraction", None),
    (PLUM, "ph", "3.45", "ph", 3.45),
    (PLUM, "ph", "1.8", "ph", 1.8),
    (PLUM, "acid", "1.2 %", "acid_fraction", 0.012),
    (PLUM, "acid", "12 g/kg", "acid_fraction", 0.012),
    (PLUM, "pectin", "0.8", "pectin_fraction", 0.008),
    (PLUM, "spirit_test", "Rich", "spirit_test", "rich"),
    (PLUM, "reject", "5 %", "reject_fraction", 0.05),
    (PLUM, "reject", "0", "reject_fraction", 0.0),
    (PLUM, "rot_sorted_out", "yes", "rot_sorted_out", True),
    (PULP, "so2", "40 mg/kg", "so2_mg_per_kg", 40.0),
    (PULP, "so2", "0", "so2_mg_per_kg", 0.0),
    (SUGAR, "worth_uncooked", "", "worth_uncooked_per_kg", 0.8),
    (SUGAR, "worth_uncooked", "0", "worth_uncooked_per_kg", 0.0),
    (SUGAR, "brix", "99.9", "brix_fraction", 0.999),
    (LEMON, "on_hand", "60 L", "on_hand_kg", 60.0 * 1.034),  # density of the book
    (LEMON, "paid", "2 EUR/L", "paid_per_kg", 2.0 / 1.034),
]


@pytest.mark.parametrize(("row", "column", "typed", "field", "value"), READ_LOTS)
def test_a_cell_of_the_stock_is_read(
    tmp_path: Path, row: dict[str, str], column: str, typed: str, field: str, value: object
) -> None:
    (lot,), _ = read(tmp_path, {**row, column: typed})
    found = getattr(lot, field)
    assert found == (pytest.approx(value, rel=1e-9) if isinstance(value, float) else value)


def test_shares_of_conditions_sum_to_one(tmp_path: Path) -> None:
    (lot,), _ = read(tmp_path, {**PLUM, "condition": "sound 11.11 %, soft 61.11 %, bruised 27.78 %"})
    assert dict(lot.condition) == pytest.approx({"sound": 0.1111, "soft": 0.6111, "bruised": 0.2778}, abs=1e-4)
    assert sum(share for _, share in lot.condition) == pytest.approx(1.0, abs=1e-12)


def test_packaging_on_hand_is_counted(tmp_path: Path) -> None:
    (lot,), _ = read(tmp_path, {"lot": "J", "item": "jar 380ml", "on_hand": "240", "paid": "0.30 EUR/piece"})
    assert (lot.item, lot.kind, lot.on_hand_kg, lot.on_hand_pieces) == ("jar 380 mL", "packaging", None, 240.0)
    assert lot.worth_uncooked_per_kg == 0.30


BAD_LOTS = [
    (PLUM, "item", "plumm", "plum"),
    (PLUM, "item", "plum, flesh", "plum, flesh with skin"),
    (PLUM, "item", "", "fill it in"),
    (PLUM, "lot", "", "fill it in"),
    (PLUM, "on_hand", "", "fill it in"),
    (PLUM, "on_hand", "-5 kg", "0"),
    (PLUM, "on_hand", "1,234 kg", "write 1.234 or 1234"),
    (PLUM, "on_hand", "2 ton", "short_ton"),
    (PLUM, "on_hand", "60 L", "weigh it"),
    (PLUM, "on_hand", "40 pieces", "kg"),
    (PLUM, "on_hand", "3 bags", "kg|holds"),
    (PLUM, "on_hand", "2 pecks", "kg"),
    (PLUM, "on_hand", "two", "number"),
    (PLUM, "on_hand", "nan", "number"),
    (PLUM, "on_hand", "1e400", "kg"),
    (PLUM, "on_hand", "9" * 39, "digits"),
    (PLUM, "worth_uncooked", "", "0 is a value"),
    (SUGAR, "paid", "", "paid"),
    (PLUM, "worth_uncooked", "0.10 GBP/kg", "money.rates"),
    (PLUM, "worth_uncooked", "$0.10/kg", "USD"),
    (PLUM, "worth_uncooked", "0.10 kg", "rate|price"),
    (PLUM, "worth_uncooked", "0.10 EUR/piece", "kg"),
    (PLUM, "paid", "-1", "0"),
    (PLUM, "condition", "rotten", "sort it out"),
    (PLUM, "condition", "sound 80 %, mouldy 20 %", "sort it out"),
    (PLUM, "condition", "sound 20 %, soft 60 %", "100 %"),
    (PLUM, "condition", "sound 20 %, soft 60 %, bruised 20.2 %", "100 %"),
    (PLUM, "condition", "sound 50 %, sound 50 %", "twice"),
    (PLUM, "condition", "brused", "bruised"),
    (SUGAR, "condition", "sound", "fruit"),
    (PLUM, "received", "03/07/2026", "2026-03-07 or 2026-07-03|2026-07-03 or 2026-03-07"),
    (PLUM, "received", "31.12.2026", "2026-12-31"),
    (PLUM, "received", "2026-02-30", "2026-07-03"),
    (PLUM, "received", "20260703", "year-month-day"),
    (PLUM, "received", "yesterday", "year-month-day"),
    (PLUM, "brix", "86", "85"),
    (PLUM, "brix", "0.132", "13.2"),
    (PLUM, "brix", "170", "100"),
    (PLUM, "brix", "-1", "0"),
    (PLUM, "brix", "12 kg", "Brix"),
    (PLUM, "ph", "1.7", "1.8"),
    (PLUM, "ph", "6.1", "6.0"),
    (PLUM, "ph", "3,45,1", "without thousands marks"),
    (PLUM, "acid", "0", "above 0"),
    (PLUM, "acid", "-1 %", "0"),
    (PLUM, "acid", "12 g/L", "g/kg"),
    (PLUM, "pectin", "11 %", "10"),
    (PLUM, "spirit_test", "reach", "rich"),
    (PLUM, "spirit_test", "rapid", "rich"),
    (PLUM, "reject", "101 %", "100"),
    (PLUM, "so2", "40", "sulphited pulp"),
    (PLUM, "grade", "150", "pectin"),
    (PLUM, "purity", "99 %", "acids"),
    (PLUM, "kept_at", "300 kg", "degC or degF"),
    (PLUM, "kept_at", "99 degC", "50"),
    (PLUM, "rot_sorted_out", "maybe", "yes or no"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "column", "typed", "cure"), BAD_LOTS)
def test_a_cell_of_the_stock_at_fault(tmp_path: Path, row: dict[str, str], column: str, typed: str, cure: str) -> None:
    (fault,) = faults(tmp_path, {**row, column: typed})
    assert (fault.file, fault.line) == ("stock.csv", 2)
    assert fault.column in (column, "worth_uncooked" if column == "paid" else column)
    assert re.search(cure, fault.cure), fault
    assert fault.value in (typed, None, "") or typed.startswith((fault.value or "").removesuffix("..."))
    if column not in ("lot",):
        assert fault.item == "A-1"


# ---- offers ----------------------------------------------------------------------------------------------------------

READ_OFFERS = [
    ({**ACID, "pack": "25 kg"}, "price", "28 EUR/bag", "price", 1.12),
    ({**ACID, "pack": "50 lb"}, "price", "28 EUR/sack", "price", 28.0 / 22.6796185),
    (ACID, "price", "28 EUR/25 kg", "price", 1.12),
    (ACID, "price", "0", "price", 0.0),
    (JAR, "price", "0.31", "price", 0.31),
    (JAR, "price", "310 EUR/1000 pieces", "price", 0.31),
    ({**JAR, "pack": "24"}, "price", "7.44 EUR/box", "price", 0.31),
    ({**JAR, "pack": "24 jars"}, "available", "10 packs", "available", 240.0),
    (JAR, "item", "lid 63 mm", "unit", "piece"),
    (JAR, "item", "250ml jar", "item", "jar 250 mL"),
    (JAR, "item", "bottle 700 mL", "unit", "piece"),
    (JAR, "item", "label set", "unit", "piece"),
    (ACID, "available", "", "available", None),
    (ACID, "available", "0 kg", "available", 0.0),
    (ACID, "delivery_days", "2 days", "delivery_days", 2.0),
    (ACID, "delivery_days", "1 week", "delivery_days", 7.0),
    (ACID, "delivery_days", "", "delivery_days", 0.0),
    (ACID, "delivery_cost", "12 EUR", "delivery_cost", 12.0),
    (ACID, "delivery_cost", "10 USD", "delivery_cost", 9.0),
    ({**ACID, "pack": "25 kg"}, "least_packs", "4 packs", "least_packs", 4.0),
    (ACID, "valid_until", "2026-07-31", "valid_until", date(2026, 7, 31)),
    (ACID, "purity", "99.5 %", "purity_fraction", 0.995),
    (PECTIN, "grade", "150", "grade", 150.0),
    (PECTIN, "setting", "rapid", "setting", "rapid"),
    (FRUIT_OFFER, "priced_on", "accepted", "priced_on", "accepted"),
    (FRUIT_OFFER, "priced_on", "", "priced_on", "received"),
]


@pytest.mark.parametrize(("row", "column", "typed", "field", "value"), READ_OFFERS)
def test_a_cell_of_the_offers_is_read(
    tmp_path: Path, row: dict[str, str], column: str, typed: str, field: str, value: object
) -> None:
    _, (offer,) = read(tmp_path, {**row, column: typed})
    found = getattr(offer, field)
    assert found == (pytest.approx(value, rel=1e-9) if isinstance(value, float) else value)


def test_price_breaks(tmp_path: Path) -> None:
    row = {**ACID, "pack": "25 kg", "breaks": "from 10 packs 1.90 EUR/kg; from 1000 kg 40 EUR/bag"}
    _, (offer,) = read(tmp_path, row)
    assert [(step.from_packs, step.price) for step in offer.breaks] == [(10.0, 1.9), (40.0, 1.6)]


BAD_OFFERS = [
    (ACID, "price", "28 EUR/bag", "pack"),
    (ACID, "pack", "1 jar", "one pack holds"),
    (ACID, "pack", "2 bags", "one pack holds"),
    (ACID, "purity", "0", "above 0"),
    (ACID, "purity", "0.995", "99.5"),
    (ACID, "price", "", "fill it in"),
    (ACID, "price", "-1", "0"),
    (ACID, "price", "1 EUR USD/kg", "currency|price"),
    (ACID, "price", "2 EUR/0 kg", "above 0"),
    (ACID, "price", "2 EUR/L", "litre|kg"),
    (ACID, "grade", "150", "pectin"),
    (PECTIN, "grade", "0", "1 to 400"),
    (PECTIN, "grade", "500", "1 to 400"),
    (PECTIN, "setting", "rich", "rapid"),
    (ACID, "least_packs", "4", "pack"),
    ({**ACID, "pack": "25 kg"}, "least_packs", "2.5", "whole"),
    (ACID, "breaks", "from 10 packs 1.90 EUR/kg", "pack"),
    ({**ACID, "pack": "25 kg"}, "breaks", "10 x 1.90", "from 10 packs"),
    ({**ACID, "pack": "25 kg"}, "breaks", "from 10 packs 2.50 EUR/kg", "more"),
    ({**ACID, "pack": "25 kg"}, "breaks", "from 10 packs 1.9; from 10 packs 1.8", "same"),
    (ACID, "pack", "0 kg", "above 0"),
    (JAR, "price", "2 EUR/kg", "pieces"),
    (JAR, "item", "jar", "jar 380 mL"),
    (JAR, "brix", "12", "leave it empty"),
    (ACID, "priced_on", "accepted", "fruit"),
    (ACID, "delivery_days", "-1", "0"),
    (ACID, "delivery_cost", "5 EUR/kg", "per order"),
    (ACID, "valid_until", "31/07/2026", "2026-07-31"),
]


@pytest.mark.parametrize(("row", "column", "typed", "cure"), BAD_OFFERS)
def test_a_cell_of_the_offers_at_fault(tmp_path: Path, row: dict[str, str], column: str, typed: str, cure: str) -> None:
    found = faults(tmp_path, {**row, column: typed})
    assert len(found) == 1, found
    assert found[0].file == "offers.csv"
    assert found[0].line == 2
    assert re.search(cure, f"{found[0].column} {found[0].cure}"), found[0]
