"""A program that books without end, to be killed; and one that drains a lot. Run by the store's tests.

booking_loop.py pour PLACE     for each line on stdin a child that books until somebody kills it
booking_loop.py drain PLACE WHO AMOUNT   takes AMOUNT grams of lot P-1 again and again until there is not enough
"""

from __future__ import annotations

import itertools
import os
import sys

from optimizer.store import Change, JarsMade, LotChange, NotEnough, open_store


def say(*words: object) -> None:
    print(*words, flush=True)


def pour(place: str) -> None:
    """Children of one mother: the program is loaded once, not once for each kill."""
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                book_without_end(place)
            finally:
                os._exit(3)
        say("child", child)
        os.waitpid(child, 0)
        say("gone")


def book_without_end(place: str) -> None:
    """Each booking pours 1 kg from P-1 into P-2 or back, or is one step of a batch with its jars."""
    with open_store(place) as store:
        kitchen = store.current()
        assert kitchen is not None
        for _ in itertools.count():
            amounts = {lot.code: lot.amount for lot in store.lots(kitchen)}
            step = 1000 if amounts["P-1"] >= 1000 else -1000
            pouring = Change(
                lots=(
                    LotChange(code="P-1", amount=amounts["P-1"] - step),
                    LotChange(code="P-2", amount=amounts["P-2"] + step),
                )
            )
            say("begin")
            say("done", store.book(kitchen, pouring, kind="stock", said="Poured").id)
            say("begin")
            batch = store.open_batch(kitchen, recipe="", product="jam", uses={"S-1": 1, "S-2": 1})
            last = store.last_booking(kitchen)
            assert last is not None
            say("done", last.id)
            say("begin")
            jars = [JarsMade(name="big", count=1), JarsMade(name="small", count=1)]
            store.finish_batch(kitchen, batch.code, made_g=2, jars=jars)
            last = store.last_booking(kitchen)
            assert last is not None
            say("done", last.id)


def drain(place: str, who: str, amount: int) -> None:
    with open_store(place) as store:
        kitchen = store.current()
        assert kitchen is not None
        say("ready")
        sys.stdin.readline()
        taken = 0
        while True:
            try:
                store.open_batch(kitchen, recipe="", product="jam", uses={"P-1": amount}, who=who)
            except NotEnough:
                say("taken", taken)
                return
            taken += amount


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["pour", where]:
            pour(where)
        case ["drain", where, name, grams]:
            drain(where, name, int(grams))
