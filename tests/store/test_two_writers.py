"""Two writers at once: stock never falls below zero, and nothing is counted twice or lost."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import booking_loop
import pytest
from storing import ask, lot, on_hand, save

from optimizer.store import Kitchen, NotEnough, Store, StoreFault, open_store

START = 30_000


@pytest.fixture
def one_lot(store: Store, kitchen: Kitchen) -> Kitchen:
    save(store, kitchen, lot("P-1", START, item="plum"))
    return kitchen


def lowest_sum(place: str) -> int:
    """The lowest that the lot ever stood at, line by line."""
    level, lowest = 0, 0
    for (amount,) in ask(place, "SELECT amount FROM movements ORDER BY id"):
        level += amount
        lowest = min(lowest, level)
    return lowest


def test_threads_that_drain_one_lot(store: Store, one_lot: Kitchen, place: str) -> None:
    together = threading.Barrier(4)

    def drain(amount: int) -> int:
        together.wait()
        taken = 0
        while True:
            try:
                store.open_batch(one_lot, recipe="", product="jam", uses={"P-1": amount})
            except NotEnough:
                return taken
            taken += amount

    steps = (700, 1100, 1300, 1900)
    with ThreadPoolExecutor(4) as threads:
        taken = sum(threads.map(drain, steps))
    left = on_hand(store, one_lot)["P-1"]
    assert taken + left == START
    assert 0 <= left < min(steps)
    assert lowest_sum(place) == 0
    assert sum(use.amount for batch in store.batches(one_lot) for use in batch.uses) == taken
    assert len({batch.code for batch in store.batches(one_lot)}) == len(store.batches(one_lot))


def test_processes_that_drain_one_lot(store: Store, one_lot: Kitchen, place: str) -> None:
    steps = {"anna": 700, "ben": 1100}
    running = [
        subprocess.Popen(
            [sys.executable, str(Path(booking_loop.__file__)), "drain", place, who, str(amount)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for who, amount in steps.items()
    ]
    try:
        for process in running:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
        for process in running:  # both at once
            assert process.stdin is not None
            process.stdin.write("go\n")
            process.stdin.flush()
        said = [process.communicate(timeout=60)[0] for process in running]
    finally:
        for process in running:
            process.kill()
            process.communicate()
    taken = [int(line.split()[1]) for line in said]
    left = on_hand(store, one_lot)["P-1"]
    assert sum(taken) + left == START
    assert 0 <= left < min(steps.values())
    assert lowest_sum(place) == 0
    by_whom = dict.fromkeys(steps, 0)
    for batch in store.batches(one_lot):
        by_whom[batch.who] += batch.uses[0].amount
    assert list(by_whom.values()) == taken


def test_many_may_make_the_store_at_once(place: str) -> None:
    together = threading.Barrier(4)

    def first(number: int) -> str:
        together.wait()
        with open_store(place) as store:
            with contextlib.suppress(StoreFault):
                store.make_kitchen("The same", site_toml="")
            return store.make_kitchen(f"Kitchen {number}", site_toml="").name

    with ThreadPoolExecutor(4) as threads:
        names = set(threads.map(first, range(4)))
    with open_store(place) as store:
        assert sorted(kitchen.name for kitchen in store.kitchens()) == [*sorted(names), "The same"]
    assert names == {f"Kitchen {number}" for number in range(4)}
    assert len(ask(place, "SELECT version_num FROM alembic_version")) == 1


def test_a_reader_is_not_kept_waiting(store: Store, one_lot: Kitchen) -> None:
    with store._writing(one_lot), ThreadPoolExecutor(1) as threads:
        assert threads.submit(on_hand, store, one_lot).result(timeout=3.0) == {"P-1": START}
