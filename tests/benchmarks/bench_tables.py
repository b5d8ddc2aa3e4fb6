"""A stock table of 100 000 lines with 500 faults, all of them reported, against a plain reading by columns of pandas.

    python tests/benchmarks/bench_tables.py [--rows 100000] [--faults 500] [--quick]

The reference reads the same text by columns (numbers and units split once, each distinct unit parsed once) and reports
the same cells; it makes no lots. Ours also makes a checked lot of every sound line.
"""

from __future__ import annotations

import argparse
import io
import re

import numpy as np
import pandas as pd
from common import goal, heading, in_turn, ratios, seconds, words

from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_bytes
from optimizer.inputs.goods import Context, columns_of
from optimizer.inputs.prices import Money
from optimizer.inputs.stock import read_lots

SEED, ROUNDS = 4, 5
BOOK = load_book()
KG = {"kg": 1.0, "lb": 0.45359237, "g": 0.001, "t": 1000.0}
MONEY = re.compile(r"EUR/(kg|lb|t)")
HEAD = ("lot", "item", "on_hand", "worth_uncooked", "brix", "ph", "rot_sorted_out")


def text_of(rows: int, faults: int) -> tuple[bytes, set[tuple[int, str]]]:
    """The table, and which cells are at fault: (line, column)."""
    rng = np.random.default_rng(SEED)
    items = np.array(sorted(i for i, p in BOOK.fruits.items() if not p.is_low_acid and p.brix_fraction))
    units = np.array(["kg", "kg", "lb", "g"])[rng.integers(0, 4, rows)]
    size = np.round(rng.uniform(5.0, 60.0, rows), 2) * np.where(units == "g", 1000.0, 1.0)
    table = pd.DataFrame({
        "lot": [f"L-{i:06d}" for i in range(rows)],
        "item": items[rng.integers(0, items.size, rows)],
        "on_hand": [f"{s:g} {u}" for s, u in zip(size.tolist(), units.tolist(), strict=True)],
        "worth_uncooked": [f"{v:.2f} EUR/kg" for v in rng.uniform(0.0, 1.0, rows).tolist()],
        "brix": [f"{v:.1f}" for v in rng.uniform(8.0, 16.0, rows).tolist()],
        "ph": [f"{v:.2f}" for v in rng.uniform(3.0, 4.0, rows).tolist()],
        "rot_sorted_out": np.where(rng.random(rows) < 0.5, "yes", "no"),
    })  # fmt: skip
    wrong = {
        "item": "plumm", "on_hand": "12 furlong", "worth_uncooked": "0.30 ZZZ/kg", "brix": "140", "ph": "acid",
        "rot_sorted_out": "maybe",
    }  # fmt: skip
    at_fault: set[tuple[int, str]] = set()
    names = list(wrong)
    for number, index in enumerate(rng.choice(rows, size=faults, replace=False).tolist()):
        name = names[number % len(names)]
        table.loc[index, name] = wrong[name]
        at_fault.add((index + 2, name))
    text = io.StringIO()
    table.to_csv(text, index=False)
    return text.getvalue().encode(), at_fault


def ours(raw: bytes) -> tuple[int, set[tuple[int, str]]]:
    table = read_bytes("stock.csv", raw, list(columns_of("stock")))
    lots, faults = read_lots(table, Context.of(BOOK, Money(currency="EUR")))
    return len(lots), {(fault.line, fault.column) for fault in faults}


def by_columns(raw: bytes) -> tuple[int, set[tuple[int, str]]]:
    """The reference: pandas, a column at a time."""
    table = pd.read_csv(io.BytesIO(raw), dtype=str, keep_default_na=False)
    bad: dict[str, np.ndarray] = {"lot": (table["lot"] == "").to_numpy() | table["lot"].duplicated().to_numpy()}
    known, fruits = pd.factorize(table["item"])
    bad["item"] = ~np.array([fruit in BOOK.fruits for fruit in fruits])[known]
    parts = table["on_hand"].str.extract(r"^\s*([\d.]+)\s*(\S*)\s*$")
    unit, units = pd.factorize(parts[1].fillna("?"))
    kg = pd.to_numeric(parts[0], errors="coerce").to_numpy() * np.array([KG.get(u, np.nan) for u in units])[unit]
    bad["on_hand"] = ~(kg >= 0.0)
    parts = table["worth_uncooked"].str.extract(r"^\s*(-?[\d.]+)\s*(\S*)\s*$")
    unit, units = pd.factorize(parts[1].fillna("?"))
    factor = np.array([1.0 / KG[found[1]] if (found := MONEY.fullmatch(u)) else np.nan for u in units])[unit]
    bad["worth_uncooked"] = np.isnan(pd.to_numeric(parts[0], errors="coerce").to_numpy() * factor)
    brix = pd.to_numeric(table["brix"], errors="coerce").to_numpy()
    bad["brix"] = ~((brix >= 1.0) & (brix <= 85.0))
    ph = pd.to_numeric(table["ph"], errors="coerce").to_numpy()
    bad["ph"] = ~((ph >= 1.8) & (ph <= 7.0))
    bad["rot_sorted_out"] = ~table["rot_sorted_out"].isin(["yes", "no"]).to_numpy()
    found = {(int(i) + 2, name) for name in HEAD for i in np.flatnonzero(bad[name])}
    sound = ~np.logical_or.reduce(list(bad.values()))
    return int(sound.sum()), found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--faults", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--quick", action="store_true", help="20 000 lines, three rounds")
    options = parser.parse_args()
    rows, rounds = (
        (min(options.rows, 20_000), min(options.rounds, 3)) if options.quick else (options.rows, options.rounds)
    )
    heading("Reading a table with faults", seed=SEED, rounds=rounds, sizes=f"{rows} lines, {options.faults} faults")
    raw, wrong = text_of(rows, options.faults)
    lots, said = ours(raw)
    sound, reference = by_columns(raw)
    assert said == wrong, f"ours: {sorted(said ^ wrong)[:5]}"
    assert reference == wrong, f"reference: {sorted(reference ^ wrong)[:5]}"
    print(f"{len(raw) / 1e6:.1f} MB; all {len(wrong)} faults reported by both; sound lines: {lots} and {sound}")
    taken = in_turn({"reference": lambda: seconds(lambda: by_columns(raw)), "ours": lambda: seconds(lambda: ours(raw)),
                     "cells only": lambda: seconds(lambda: read_bytes("stock.csv", raw, HEAD))}, rounds)  # fmt: skip
    for name, values in taken.items():
        print(f"  {name:12s} {words(ratios(values, taken['reference'])):>24} x the reference, {words(values)} s")
    measured = sorted(ratios(taken["ours"], taken["reference"]))[rounds // 2]
    goal(f"table of {rows} lines, all faults reported", measured, must=2.0, aim=1.0, unit=" x reference")


if __name__ == "__main__":
    main()
