"""Killed in the middle of a booking: what was acknowledged is there, what was not is there whole or not at all."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import booking_loop
from storing import ask, lot, save

from optimizer.store import Kitchen, Store, open_store

TOGETHER = 50_000  # in P-1 and P-2
PLENTY = 10**9
HALF_DONE = """
SELECT count(*) FROM bookings
WHERE kind = 'stock' AND (SELECT count(*) FROM lot_lines WHERE booking_id = bookings.id) NOT IN (2, 4)
"""
OTHERS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"


def test_killed_again_and_again(store: Store, kitchen: Kitchen, place: str) -> None:
    kills = 10 if "://" in place else 50
    save(
        store,
        kitchen,
        lot("P-1", TOGETHER, item="plum"),
        lot("P-2", 0, item="plum"),
        lot("S-1", PLENTY, item="sugar"),
        lot("S-2", PLENTY, item="sugar"),
    )
    store.close()
    chance = random.Random(20261125)
    interrupted, arrived_unsaid = 0, 0
    with subprocess.Popen(
        [sys.executable, str(Path(booking_loop.__file__)), "pour", place],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as mother:
        try:
            for _ in range(kills):
                said = kill_one(mother, chance)
                acknowledged = [int(line.split()[1]) for line in said if line.startswith("done")]
                interrupted += said[-1] == "begin"
                arrived_unsaid += check(place, acknowledged[-1])
        finally:
            mother.kill()
    # the kills must have met bookings under way, or this test has shown nothing
    assert interrupted >= kills // 3, f"{interrupted} of {kills} kills met a booking under way"
    assert arrived_unsaid <= interrupted


def kill_one(mother: subprocess.Popen[str], chance: random.Random) -> list[str]:
    """Lets a child book a few times, kills it at some moment, and gives all that it said."""
    assert mother.stdin is not None
    assert mother.stdout is not None
    mother.stdin.write("go\n")
    mother.stdin.flush()
    child = int(mother.stdout.readline().split()[1])
    said: list[str] = []
    for _ in range(2 * chance.randint(1, 4)):  # "begin" and "done"
        said.append(mother.stdout.readline().strip())
    time.sleep(chance.uniform(0.0, 0.02))
    os.kill(child, signal.SIGKILL)
    while (line := mother.stdout.readline().strip()) != "gone":
        said.append(line)
    return said


def check(place: str, acknowledged: int) -> bool:
    """Nothing lost, nothing half done; true where a booking arrived whose end was not said."""
    while "://" in place and ask(place, OTHERS) != [(0,)]:
        time.sleep(0.01)  # the server finishes what its dead client had sent, or takes it back
    with open_store(place) as store:
        kitchen = store.current()
        assert kitchen is not None
        last = store.last_booking(kitchen)
        assert last is not None
        assert last.id >= acknowledged
        on_hand = {row.code: row.amount for row in store.lots(kitchen)}
        assert on_hand["P-1"] + on_hand["P-2"] == TOGETHER
        assert on_hand["S-1"] == on_hand["S-2"]
        batches = store.batches(kitchen)
        assert len(batches) == PLENTY - on_hand["S-1"]
        for batch in batches:
            assert [use.lot for use in batch.uses] == ["S-1", "S-2"]
            assert [jar.name for jar in batch.jars] == (["big", "small"] if batch.state == "finished" else [])
    assert ask(place, HALF_DONE) == [(0,)]
    if "://" not in place:
        assert ask(place, "PRAGMA integrity_check") == [("ok",)]
        assert ask(place, "PRAGMA foreign_key_check") == []
    return last.id > acknowledged
