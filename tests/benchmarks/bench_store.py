"""What a booking costs: one write per commit, many rows per commit, safety, a new engine per call, years of ledger.

Run by hand: python tests/benchmarks/bench_store.py. The ways are interleaved in one process; medians with minimum and
maximum; ratios only, for another machine has another disk. PostgreSQL joins in where a server can be had
(PANWISE_TEST_POSTGRES, or one of our own, with fsync on).
"""

from __future__ import annotations

import contextlib
import itertools
import platform
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from importlib.metadata import version
from pathlib import Path

from optimizer.store import Change, Kitchen, LotChange, Store, open_store
from optimizer.store.engine import WRITES, address_of, make_engine
from optimizer.store.versions import bring_up_to_date

sys.path[:0] = [str(Path(__file__).parents[1] / "support")]
from postgres_server import NoServer, fresh_database, server  # noqa: E402

ROUNDS, COMMITS, ROWS, YEARS_OF_LINES = 9, 20, 1000, 50_000
SQLITE_WAYS = {
    "SQLite, WAL, NORMAL": ("NORMAL", "WAL"),
    "SQLite, WAL, FULL (ours)": ("FULL", "WAL"),
    "SQLite, old journal, FULL": ("FULL", "DELETE"),
}


def opened(place: str, synchronous: str = "FULL", journal: str = "WAL") -> Store:
    """A store with the safety that is asked for; the program itself always asks for FULL and WAL."""
    url = address_of(place)
    engine = make_engine(url, synchronous=synchronous, journal=journal)
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        bring_up_to_date(connection, place)
    return Store(engine, url)


def one_row_each(store: Store, kitchen: Kitchen, weights: itertools.count[int]) -> None:
    for _ in range(COMMITS):
        change = Change(lots=(LotChange(code="P-1", cells={"item": "plum"}, amount=next(weights)),))
        store.book(kitchen, change, kind="stock", said="")


def many_rows_at_once(store: Store, kitchen: Kitchen, weights: itertools.count[int]) -> None:
    weight = next(weights)
    lots = tuple(LotChange(code=f"P-{n}", cells={"item": "plum"}, amount=weight + n) for n in range(ROWS))
    store.book(kitchen, Change(lots=lots), kind="stock", said="")


def side_by_side(ways: Mapping[str, Callable[[], object]], *, per: int) -> None:
    times: dict[str, list[float]] = {name: [] for name in ways}
    for number in range(ROUNDS + 1):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            if number:  # the first round warms up
                times[name].append((time.perf_counter() - start) / per)
    base = statistics.median(next(iter(times.values())))
    for name, spent in times.items():
        middle, low, high = statistics.median(spent), min(spent), max(spent)
        print(f"  {name:34} {middle / base:7.2f}x  ({low / base:.2f} to {high / base:.2f})")


def main() -> None:
    print(f"Python {platform.python_version()}, SQLAlchemy {version('sqlalchemy')}, SQLite {sqlite3.sqlite_version}, "
          f"psycopg {version('psycopg')}; {ROUNDS} rounds")  # fmt: skip
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        stores = {
            name: opened(str(folder / f"{number}.db"), *safety)
            for number, (name, safety) in enumerate(SQLITE_WAYS.items())
        }
        try:
            url = stack.enter_context(server(is_fast=False))
            stores["PostgreSQL"] = opened(stack.enter_context(fresh_database(url, "panwise_bench")))
        except NoServer as trouble:
            print(f"without PostgreSQL: {trouble}")
        for store in stores.values():
            stack.callback(store.close)
        kitchens = {name: store.make_kitchen("Mill Lane", site_toml="") for name, store in stores.items()}
        weights = itertools.count(1)

        def ways(work: Callable[..., None]) -> dict[str, Callable[[], object]]:
            return {name: lambda name=name: work(stores[name], kitchens[name], weights) for name in stores}

        print(f"one booking of one lot per commit (mean of {COMMITS}), in units of the first:")
        side_by_side(ways(one_row_each), per=COMMITS)
        print(f"one booking of {ROWS} lots, time per lot, in units of the first:")
        side_by_side(ways(many_rows_at_once), per=ROWS)

        ours = "SQLite, WAL, FULL (ours)"
        single, many = [], []
        for _ in range(ROUNDS):
            start = time.perf_counter()
            one_row_each(stores[ours], kitchens[ours], weights)
            middle = time.perf_counter()
            many_rows_at_once(stores[ours], kitchens[ours], weights)
            single.append((middle - start) / COMMITS)
            many.append((time.perf_counter() - middle) / ROWS)
        ratio = statistics.median(single) / statistics.median(many)
        print(f"a lot in a booking of its own over a lot among {ROWS}: {ratio:.0f}x")

        print("reading the stock, in units of the store that stays open:")
        for name, place in ((ours, stores[ours].where), ("PostgreSQL", None)):
            if name not in stores:
                continue
            where = place or stores[name]._url.render_as_string(hide_password=False)

            def anew(where: str = where, name: str = name) -> None:
                with open_store(where) as store:
                    store.current()

            side_by_side({f"{name}, open": stores[name].current, f"{name}, opened anew": anew}, per=1)

        years_of_ledger(folder)


def years_of_ledger(folder: Path) -> None:
    """The same hundred lots, with few and with many movements behind them."""
    stores = {}
    for name, lines in (("300 movements", 300), (f"{YEARS_OF_LINES} movements", YEARS_OF_LINES)):
        store = opened(str(folder / f"{lines}.db"))
        kitchen = store.make_kitchen("Mill Lane", site_toml="")
        for number in range(lines // 100):
            lots = tuple(LotChange(code=f"P-{n}", amount=1 + number, cells={"item": "plum"}) for n in range(100))
            store.book(kitchen, Change(lots=lots), kind="stock", said="")
        stores[name] = (store, kitchen)
    print("reading a stock of 100 lots, in units of the first:")
    side_by_side({name: lambda s=store, k=kitchen: s.lots(k) for name, (store, kitchen) in stores.items()}, per=1)
    print("booking one of them, in units of the first:")
    weights = itertools.count(1)
    side_by_side(
        {name: lambda s=store, k=kitchen: one_row_each(s, k, weights) for name, (store, kitchen) in stores.items()},
        per=1,
    )
    for store, _ in stores.values():
        store.close()


if __name__ == "__main__":
    main()
