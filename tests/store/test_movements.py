"""Any sequence of bookings: the store equals a model that knows nothing of databases, and the ledger only grows."""

from __future__ import annotations

import copy
import itertools
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from how_many import examples
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from storing import beside, lot, save, sugar

from optimizer.store import JarsMade, Kitchen, NotEnough, OfferChange, Store, StoreFault, Unit
from optimizer.store.tables import LEDGER

codes = st.sampled_from(["P-1", "P-2", "S-1"])
amounts = st.integers(0, 5_000)
texts = st.sampled_from(["plum", "pear", "=1+1", "Süß", ""])
_kitchens = itertools.count(1)


@dataclass
class Books:
    """What a kitchen has, by plain Python: written from the rules, not from the store."""

    lots: dict[str, tuple[dict[str, str], int, str]] = field(default_factory=dict)  # cells, amount, unit
    offers: dict[str, dict[str, str]] = field(default_factory=dict)
    prices: list[tuple[str, int]] = field(default_factory=list)
    open_batches: dict[str, dict[str, int]] = field(default_factory=dict)
    finished: dict[str, int] = field(default_factory=dict)
    jars: dict[str, int] = field(default_factory=dict)

    def twin(self) -> Books:
        return copy.deepcopy(self)


class Movements(RuleBasedStateMachine):
    store: Store
    rows: Callable[..., list[tuple[object, ...]]]  # straight from the database

    @initialize()
    def start(self) -> None:
        self.kitchen: Kitchen = self.store.make_kitchen(f"Kitchen {next(_kitchens)}", site_toml="")
        self.books = Books()
        self.before: list[Books] = []  # one for each booking that stands
        self.seen: dict[str, list[tuple[object, ...]]] = {}

    def change(self) -> Books:
        self.before.append(self.books)
        self.books = self.books.twin()
        return self.books

    @rule(code=codes, amount=amounts, text=texts, unit=st.sampled_from(["g", "g", "piece"]))
    def receive_or_correct(self, code: str, amount: int, text: str, unit: Unit) -> None:
        save(self.store, self.kitchen, lot(code, amount, unit=unit, item=text))
        self.change().lots[code] = ({"item": text}, amount, unit)

    @rule(first=codes, second=codes, amount=amounts)
    def pour_from_one_into_another(self, first: str, second: str, amount: int) -> None:
        both = [self.books.lots.get(code) for code in (first, second)]
        if None in both or first == second or any(found and found[2] != "g" for found in both):
            return
        (cells, has, _), (other_cells, other_has, _) = self.books.lots[first], self.books.lots[second]
        moves = [lot(first, has - amount), lot(second, other_has + amount)]
        if amount > has:
            with pytest.raises(StoreFault):
                save(self.store, self.kitchen, *reversed(moves))
            return
        save(self.store, self.kitchen, *moves)
        books = self.change()
        books.lots[first], books.lots[second] = (cells, has - amount, "g"), (other_cells, other_has + amount, "g")

    @rule(code=codes)
    def remove(self, code: str) -> None:
        if code not in self.books.lots:
            with pytest.raises(StoreFault):
                save(self.store, self.kitchen, lot(code, removed=True))
            return
        save(self.store, self.kitchen, lot(code, removed=True))
        del self.change().lots[code]

    @rule(code=st.sampled_from(["O-1", "O-2"]), price=st.integers(0, 5_000), is_removed=st.booleans())
    def offer(self, code: str, price: int, is_removed: bool) -> None:
        if is_removed and code in self.books.offers:
            save(self.store, self.kitchen, OfferChange(code=code, removed=True))
            del self.change().offers[code]
        elif not is_removed:
            save(self.store, self.kitchen, sugar(code, price))
            books = self.change()
            books.offers[code] = {"item": "sugar", "pack": "25 kg"}
            books.prices.append((code, price))

    @rule(uses=st.dictionaries(codes, st.integers(1, 3_000), min_size=1))
    def cook(self, uses: dict[str, int]) -> None:
        there = self.books.lots
        if any(code not in there for code in uses):
            with pytest.raises(StoreFault):
                self.store.open_batch(self.kitchen, recipe="", product="jam", uses=uses)
        elif any(there[code][1] < amount for code, amount in uses.items()):
            with pytest.raises(NotEnough):
                self.store.open_batch(self.kitchen, recipe="", product="jam", uses=uses)
        else:
            batch = self.store.open_batch(self.kitchen, recipe="", product="jam", uses=uses)
            books = self.change()
            for code, amount in uses.items():
                cells, has, unit = books.lots[code]
                books.lots[code] = (cells, has - amount, unit)
            books.open_batches[batch.code] = uses

    @precondition(lambda self: self.books.open_batches)
    @rule(count=st.integers(1, 20))
    def finish(self, count: int) -> None:
        code = sorted(self.books.open_batches)[0]
        batch = self.store.finish_batch(
            self.kitchen, code, made_g=count * 450, jars=[JarsMade(name="jar", count=count)]
        )
        books = self.change()
        books.finished[code] = count * 450
        del books.open_batches[code]
        books.jars[batch.jars[0].code] = count

    @precondition(lambda self: self.books.jars)
    @rule(count=st.integers(1, 20))
    def sell(self, count: int) -> None:
        code = sorted(self.books.jars)[0]
        if count > self.books.jars[code]:
            with pytest.raises(NotEnough):
                self.store.take_jars(self.kitchen, {code: count})
            return
        self.store.take_jars(self.kitchen, {code: count})
        self.change().jars[code] -= count

    @rule()
    def undo(self) -> None:
        counter = self.store.undo(self.kitchen)
        if not self.before:
            assert counter is None
            return
        assert counter is not None
        self.books = self.before.pop()

    @invariant()
    def the_store_equals_the_books(self) -> None:
        lots = {row.code: (row.cells, row.amount, row.unit) for row in self.store.lots(self.kitchen)}
        assert lots == self.books.lots
        assert {row.code: row.cells for row in self.store.offers(self.kitchen)} == self.books.offers
        prices = [(row.offer, row.price_minor) for row in self.store.price_history(self.kitchen)]
        assert prices == self.books.prices
        assert {jars.code: jars.on_hand for jars in self.store.jars(self.kitchen)} == self.books.jars
        batches = self.store.batches(self.kitchen)
        assert {batch.code: batch.made_g for batch in batches if batch.state == "finished"} == self.books.finished
        opened = {batch.code: {use.lot: use.amount for use in batch.uses} for batch in batches if batch.state == "open"}
        assert opened == self.books.open_batches

    @invariant()
    def the_ledger_only_grows_and_never_falls_below_zero(self) -> None:
        for table in LEDGER:
            key = "id" if table == "kitchens" else "kitchen_id"
            lines = self.rows(f"SELECT * FROM {table} WHERE {key} = ? ORDER BY id", [self.kitchen.id])
            known = self.seen.get(table, [])
            assert lines[: len(known)] == known, table
            self.seen[table] = lines
        sums: dict[tuple[object, ...], int] = defaultdict(int)
        for lot_id, amount, unit in self.rows(
            "SELECT lot_id, amount, unit FROM movements WHERE kitchen_id = ? ORDER BY id", [self.kitchen.id]
        ):
            sums[lot_id, unit] += amount
            assert sums[lot_id, unit] >= 0
        assert sorted(amount for amount in sums.values() if amount) == sorted(
            amount for _, amount, _ in self.books.lots.values() if amount
        )


def test_any_sequence_of_movements(store: Store, place: str) -> None:
    usual = 12 if "://" in place else 20
    with beside(place) as rows:
        machine = type("MovementsHere", (Movements,), {"store": store, "rows": staticmethod(rows)})
        run_state_machine_as_test(machine, settings=settings(max_examples=examples(usual), stateful_step_count=12))
