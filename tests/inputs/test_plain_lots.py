"""Lots read a column at a time are the lots that are read line by line, with the same faults in the same order."""

from __future__ import annotations

import gc

import numpy as np
import pytest
from how_many import examples

from optimizer.inputs.book import load_book
from optimizer.inputs.collector import collector_at_rest
from optimizer.inputs.files import read_bytes
from optimizer.inputs.goods import Context, columns_of, parsers, refuse_second_codes, refuse_silence
from optimizer.inputs.plain_lots import plain_lots
from optimizer.inputs.prices import Money
from optimizer.inputs.stock import _lot, read_lots
from optimizer.inputs.tables import understand

BOOK = load_book()
CELLS = {
    "item": ["plum, flesh with skin", "plum", "raspberry", "plumm", "white sugar", "plum, sulphited pulp", ""],
    "on_hand": ["40 kg", "12.5", "90 lb", "3 bushels", "20 L", "4 pieces", "12 furlong", "-3 kg", "1,234 kg", ""],
    "worth_uncooked": ["0.10 EUR/kg", "0", "-0.05", "0.2 EUR/lb", "1 EUR/piece", "0.30 ZZZ/kg", "2 EUR/0 kg", ""],
    "paid": ["", "", "0.3 EUR/kg", "0.4", "6 EUR/bushel", "x"],
    "received": ["", "2026-07-01", "2026-07-03", "03/07/2026"],
    "picked": ["", "", "2026-07-02", "2026-06-30"],
    "kept_at": ["", "4 degC", "39 degF", "99"],
    "brix": ["12.1", "", "140", "90", "0", "0.12", "12 Brix"],
    "ph": ["3.2", "", "pH 3.4", "9", "1.0", "acid"],
    "acid": ["", "1.2", "0", "70", "1.2 %"],
    "condition": ["", "bruised", "60 % sound, 40 % soft", "mushy"],
    "so2": ["", "", "", "400"],
    "purity": ["", "", "", "99"],
    "grade": ["", "", "", "150"],
    "rot_sorted_out": ["", "yes", "no", "maybe"],
    "supplier": ["an orchard", "", "=an orchard"],
}  # fmt: skip


def table_of(seed: int, rows: int = 60) -> bytes:
    """Lines of odd and plain cells; half of the tables hold mostly the first, plain, value of each column."""
    rng = np.random.default_rng(seed)
    names = ["lot", *(name for name in CELLS if name in ("item", "on_hand", "worth_uncooked") or rng.random() < 0.6)]
    plain = 0.9 if seed % 2 else 0.3
    lines = [";".join(names)]
    for number in range(rows):
        code = f"L-{number}" if rng.random() < 0.95 else rng.choice(["L-1", "", "example", "two  blanks"])
        cells = [CELLS[n][0] if rng.random() < plain else str(rng.choice(CELLS[n])) for n in names[1:]]
        lines.append(";".join([code, *cells]))
    return "\n".join(lines).encode()


@pytest.mark.parametrize("seed", range(max(20, examples(40))))
def test_both_ways_find_the_same(seed: int) -> None:
    raw = read_bytes("stock.csv", table_of(seed), list(columns_of("stock")))
    at_once, by_line = (Context.of(BOOK, Money(currency="EUR")) for _ in range(2))
    lots, faults = read_lots(raw, at_once)
    table = understand(raw, columns_of("stock"), parsers(by_line), "lot")
    refuse_second_codes(table, "lot")
    read = [_lot(row, by_line) for row in table]
    refuse_silence(table, read)
    expected = [lot for lot in read if lot is not None]
    assert faults == table.faults
    assert list(lots) == expected
    assert [lot.model_fields_set for lot in lots] == [lot.model_fields_set for lot in expected]
    assert list(at_once.said) == list(by_line.said)
    assert at_once.money.used == by_line.money.used


def test_most_of_a_plain_table_is_read_at_once() -> None:
    text = b"lot,item,on_hand,worth_uncooked,brix\nA,plum,40 kg,0.1 EUR/kg,12\nB,plum,2 bushels,0,\nC,plum,9,0,11\n"
    raw = read_bytes("stock.csv", text, list(columns_of("stock")))
    table = understand(raw, columns_of("stock"), parsers(Context.of(BOOK, Money(currency="EUR"))), "lot")
    assert sorted(plain_lots(table)) == [0, 2]


def test_the_collector_comes_back_also_after_a_fault() -> None:
    assert gc.isenabled()
    with pytest.raises(KeyError), collector_at_rest():
        raise KeyError
    assert gc.isenabled()


def test_the_supplier_of_a_lot_is_kept_both_ways() -> None:
    head = b"lot,item,on_hand,worth_uncooked,supplier,so2\n"
    raw = (
        head + b'P-1,plum,40 kg,0.1,an orchard,\nP-2,plum,40 kg,0.1,,\nP-3,"plum, sulphited pulp",40 kg,0.1,a mill,9\n'
    )
    lots, faults = read_lots(
        read_bytes("stock.csv", raw, list(columns_of("stock"))), Context.of(BOOK, Money(currency="EUR"))
    )
    assert [lot.supplier for lot in lots] == ["an orchard", "", "a mill"]
    assert not faults
