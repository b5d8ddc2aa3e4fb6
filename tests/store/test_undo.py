"""Undo is a counter-booking: what held before holds again, and nothing is deleted."""

from __future__ import annotations

import pytest
from storing import ask, counts, lot, on_hand, save, sugar

from optimizer.store import JarsMade, Kitchen, NotEnough, Store, StoreFault, Unknown
from optimizer.store.tables import LEDGER


def test_the_last_change_is_taken_back_line_for_line(store: Store, kitchen: Kitchen, place: str) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum", brix="12"), sugar("O-1", 2800))
    before = store.lots(kitchen), store.offers(kitchen), store.price_history(kitchen)
    change = save(
        store, kitchen, lot("P-1", 400, item="plum", brix="13"), lot("P-2", 5, item="pear"), sugar("O-1", 3000)
    )
    lines = counts(place, LEDGER)
    counter = store.undo(kitchen, who="cook")
    assert counter is not None
    assert (counter.undoes, counter.kind, counter.who) == (change.id, "undo", "cook")
    assert (store.lots(kitchen), store.offers(kitchen), store.price_history(kitchen)) == before
    assert all(count >= lines[table] for table, count in counts(place, LEDGER).items())
    newest, taken_back, *_ = store.bookings(kitchen)
    assert (newest.id, newest.undone, taken_back.id, taken_back.undone) == (counter.id, False, change.id, True)
    moved = ask(place, "SELECT amount, corrects FROM movements WHERE booking_id = ? ORDER BY id", [counter.id])
    undone = ask(place, "SELECT -amount, id FROM movements WHERE booking_id = ? ORDER BY id", [change.id])
    assert moved == undone


def test_undo_goes_back_one_by_one_and_then_stops(store: Store, kitchen: Kitchen) -> None:
    states = []
    for amount in (1000, 700, 900):
        states.append((store.lots(kitchen), on_hand(store, kitchen)))
        save(store, kitchen, lot("P-1", amount, item="plum", on_hand=f"{amount} g"))
    for state in reversed(states):
        assert store.undo(kitchen) is not None
        assert (store.lots(kitchen), on_hand(store, kitchen)) == state
    assert store.undo(kitchen) is None
    save(store, kitchen, lot("P-1", 3, item="plum"))
    assert on_hand(store, kitchen) == {"P-1": 3}


def test_a_change_after_an_undo_is_what_the_next_undo_takes_back(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, lot("P-1", 1000, item="plum"))
    save(store, kitchen, lot("P-1", 700))
    store.undo(kitchen)
    save(store, kitchen, lot("P-1", 600, item="plum", brix="11"))
    store.undo(kitchen)
    assert on_hand(store, kitchen) == {"P-1": 1000}
    store.undo(kitchen)
    assert on_hand(store, kitchen) == {}


def test_what_was_used_since_cannot_be_taken_back(store: Store, kitchen: Kitchen) -> None:
    received = save(store, kitchen, lot("P-1", 10_000, item="plum"))
    store.open_batch(kitchen, recipe="", product="jam", uses={"P-1": 4000})
    with pytest.raises(NotEnough, match="P-1 has 6 kg left of 10 kg"):
        store.undo(kitchen, booking=received.id)
    assert on_hand(store, kitchen) == {"P-1": 6000}
    assert len(store.bookings(kitchen)) == 3


def test_jars_that_went_out_cannot_be_unfilled(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, lot("P-1", 10_000, item="plum"))
    batch = store.open_batch(kitchen, recipe="", product="jam", uses={"P-1": 4000})
    finished = store.finish_batch(kitchen, batch.code, made_g=5000, jars=[JarsMade(name="380 mL", count=10)])
    finish = store.last_booking(kitchen)
    assert finish is not None
    store.take_jars(kitchen, {finished.jars[0].code: 1}, why="sold")
    with pytest.raises(NotEnough, match="went out since"):
        store.undo(kitchen, booking=finish.id)
    store.undo(kitchen)
    assert store.jars(kitchen)[0].on_hand == 10
    store.undo(kitchen)
    assert store.jars(kitchen) == ()
    assert store.batches(kitchen)[0].state == "open"
    assert store.undo(kitchen) is not None
    assert store.batches(kitchen)[0].state == "undone"
    assert on_hand(store, kitchen) == {"P-1": 10_000}


def test_an_older_change_is_taken_back_where_nothing_stands_on_it(store: Store, kitchen: Kitchen) -> None:
    first = save(store, kitchen, lot("P-1", 1000, item="plum"))
    second = save(store, kitchen, lot("P-2", 10, item="pear"))
    third = save(store, kitchen, lot("P-1", 900, item="plum", brix="12"))
    with pytest.raises(StoreFault, match="later change"):
        store.undo(kitchen, booking=first.id)
    store.undo(kitchen, booking=second.id)
    assert on_hand(store, kitchen) == {"P-1": 900}
    store.undo(kitchen, booking=third.id)
    store.undo(kitchen, booking=first.id)
    assert on_hand(store, kitchen) == {}
    for number in (first.id, 10**6):
        with pytest.raises(Unknown):
            store.undo(kitchen, booking=number)


def test_the_opening_of_a_finished_batch_stands(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, lot("P-1", 10_000, item="plum"))
    batch = store.open_batch(kitchen, recipe="", product="jam", uses={"P-1": 4000})
    opened = store.last_booking(kitchen)
    assert opened is not None
    store.finish_batch(kitchen, batch.code, made_g=5000, jars=[])
    with pytest.raises(StoreFault, match="finished since"):
        store.undo(kitchen, booking=opened.id)
