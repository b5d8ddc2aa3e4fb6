"""A batch is booked whole or not at all, and everything can be traced both ways."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from storing import ask, lot, on_hand, save

from optimizer.store import Batch, JarsMade, Kitchen, NotEnough, Store, StoreFault, Unknown
from optimizer.store.cells import from_text, to_text


@pytest.fixture
def stocked(store: Store, kitchen: Kitchen) -> Kitchen:
    save(
        store,
        kitchen,
        lot("P-1", 20_000, item="plum", supplier="Ash Farm"),
        lot("P-2", 5_000, item="plum", supplier="Birch Orchard"),
        lot("S-1", 30_000, item="sugar", supplier="Dale Stores"),
        lot("J-1", 100, unit="piece", item="jar 380 mL", supplier="Glass Works"),
    )
    return kitchen


def cook(store: Store, kitchen: Kitchen, *, jars: int = 10, **uses: int) -> Batch:
    batch = store.open_batch(
        kitchen, recipe="", product="jam", uses={code.replace("_", "-"): g for code, g in uses.items()}
    )
    return store.finish_batch(kitchen, batch.code, made_g=450 * jars, jars=[JarsMade(name="380 mL", count=jars)],
                              packaging={"J-1": jars})  # fmt: skip


def test_a_batch_from_opening_to_jars(store: Store, stocked: Kitchen) -> None:
    recipe = store.keep_recipe(stocked, product="jam", request={"kg": 10}, inputs={"lots": []}, document={"cost": 3.5})
    batch = store.open_batch(stocked, recipe=recipe.code, product="jam", uses={"P-1": 4000, "S-1": 5000}, who="cook")
    assert (batch.state, batch.recipe, batch.who, batch.made_g, batch.jars) == ("open", recipe.code, "cook", None, ())
    assert [(use.lot, use.amount, use.unit, use.supplier) for use in batch.uses] == [
        ("P-1", 4000, "g", "Ash Farm"),
        ("S-1", 5000, "g", "Dale Stores"),
    ]
    read_at = datetime(2026, 7, 4, 9, 30, tzinfo=UTC)
    store.add_reading(stocked, batch.code, figure="reading", value=64.8, unit="%", at=read_at, who="cook")
    store.add_reading(stocked, batch.code, figure="reading", value=65.2, unit="%")
    done = store.finish_batch(
        stocked,
        batch.code,
        made_g=8_000,
        jars=[JarsMade(name="380 mL", count=15), JarsMade(name="200 mL", count=2, code="gift")],
        packaging={"J-1": 15},
    )
    assert done == store.batches(stocked)[0]
    assert (done.state, done.made_g) == ("finished", 8_000)
    assert done.finished_at is not None
    assert done.finished_at > done.opened_at
    assert [(reading.value, reading.unit) for reading in done.readings] == [(64.8, "%"), (65.2, "%")]
    assert done.readings[0].at == read_at
    assert done.jars == (
        JarsMade(name="380 mL", count=15, code=f"{batch.code}a"),
        JarsMade(name="200 mL", count=2, code="gift"),
    )
    assert [(use.lot, use.amount, use.unit) for use in done.packaging] == [("J-1", 15, "piece")]
    assert on_hand(store, stocked) == {"P-1": 16_000, "P-2": 5_000, "S-1": 25_000, "J-1": 85}


def test_a_batch_that_asks_too_much_takes_nothing(store: Store, stocked: Kitchen) -> None:
    before, said = on_hand(store, stocked), store.bookings(stocked)
    with pytest.raises(NotEnough, match=r"P-1 has 20 kg, 20.001 kg are asked for; P-2 has 5 kg, 6 kg"):
        store.open_batch(stocked, recipe="", product="jam", uses={"S-1": 1, "P-1": 20_001, "P-2": 6_000})
    batch = store.open_batch(stocked, recipe="", product="jam", uses={"P-1": 20_000})
    with pytest.raises(NotEnough, match="100 pieces, 101 pieces"):
        store.finish_batch(
            stocked, batch.code, made_g=1, jars=[JarsMade(name="380 mL", count=101)], packaging={"J-1": 101}
        )
    assert store.batches(stocked)[0].state == "open"
    assert store.jars(stocked) == ()
    assert on_hand(store, stocked) == before | {"P-1": 0}
    assert len(store.bookings(stocked)) == len(said) + 1


def test_what_cannot_be_is_refused(store: Store, stocked: Kitchen) -> None:
    batch = store.open_batch(stocked, recipe="", product="jam", uses={"P-1": 1000}, code="mine")
    before = store.bookings(stocked)
    for uses in ({"gone": 1}, {"P-1": 0}, {"P-1": -5}):
        with pytest.raises(StoreFault):
            store.open_batch(stocked, recipe="", product="jam", uses=uses)
    for code in ("mine", "P-1", " "):
        with pytest.raises(StoreFault):
            store.open_batch(stocked, recipe="", product="jam", uses={}, code=code)
    with pytest.raises(Unknown, match="keep the recipe first"):
        store.open_batch(stocked, recipe="R-9", product="jam", uses={})
    with pytest.raises(Unknown):
        store.add_reading(stocked, "gone", figure="pH", value=3.2, unit="pH")
    with pytest.raises(StoreFault, match="a reading is a number"):
        store.add_reading(stocked, batch.code, figure="pH", value=math.nan, unit="pH")
    with pytest.raises(StoreFault, match="needs its zone"):
        store.add_reading(stocked, batch.code, figure="pH", value=3.2, unit="pH", at=datetime(2026, 7, 4, 9))
    for jars in ([JarsMade(name="x", count=0)], [JarsMade(name="x", count=1, code="mine")],
                 [JarsMade(name="x", count=1, code="a"), JarsMade(name="y", count=1, code="a")]):  # fmt: skip
        with pytest.raises(StoreFault):
            store.finish_batch(stocked, batch.code, made_g=100, jars=jars)
    with pytest.raises(StoreFault):
        store.finish_batch(stocked, batch.code, made_g=-1, jars=[])
    with pytest.raises(StoreFault, match="code of a batch"):
        save(store, stocked, lot("mine", 5, item="plum"))
    assert store.bookings(stocked) == before
    store.finish_batch(stocked, batch.code, made_g=100, jars=[])
    with pytest.raises(StoreFault, match="finished already"):
        store.finish_batch(stocked, batch.code, made_g=100, jars=[])


def test_codes_are_short_and_each_once(store: Store, stocked: Kitchen) -> None:
    codes = [cook(store, stocked, P_1=100).code for _ in range(3)]
    assert codes == ["B260704-1", "B260704-2", "B260704-3"]
    store.undo(stocked)
    store.undo(stocked)
    again = cook(store, stocked, P_1=100)
    assert again.code == "B260704-4"  # a code that was on a label is never given twice
    assert store.keep_recipe(stocked, product="jam", request={}, inputs={}, document={}).code == "R260704-1"


def test_a_finish_that_was_taken_back_may_be_booked_anew_under_its_codes(store: Store, stocked: Kitchen) -> None:
    batch = cook(store, stocked, P_1=1000, jars=10)
    store.undo(stocked)
    anew = store.finish_batch(stocked, batch.code, made_g=4_950, jars=[JarsMade(name="380 mL", count=11)])
    assert anew.jars == (JarsMade(name="380 mL", count=11, code=f"{batch.code}a"),)
    assert [(jars.code, jars.made, jars.on_hand) for jars in store.jars(stocked)] == [(f"{batch.code}a", 11, 11)]
    assert store.trace(stocked, f"{batch.code}a").batches == (anew,)


def test_jars_go_out_and_never_below_zero(store: Store, stocked: Kitchen) -> None:
    (jars,) = cook(store, stocked, P_1=1000, jars=10).jars
    store.take_jars(stocked, {jars.code: 4}, why="sold")
    with pytest.raises(NotEnough, match="has 6, 7 are asked for"):
        store.take_jars(stocked, {jars.code: 7})
    for counts in ({}, {"gone": 1}, {jars.code: 0}):
        with pytest.raises(StoreFault):
            store.take_jars(stocked, counts)
    assert [(kept.made, kept.on_hand) for kept in store.jars(stocked)] == [(10, 6)]
    store.undo(stocked)
    assert store.jars(stocked)[0].on_hand == 10


def test_every_jar_leads_back_to_lots_and_suppliers(store: Store, stocked: Kitchen) -> None:
    first = cook(store, stocked, P_1=4000, P_2=500, S_1=4000)
    cook(store, stocked, P_2=1000, S_1=1000)
    trace = store.trace(stocked, first.jars[0].code)
    assert (trace.kind, [batch.code for batch in trace.batches]) == ("jars", [first.code])
    assert [(use.lot, use.amount) for use in trace.back] == [("P-1", 4000), ("P-2", 500), ("S-1", 4000), ("J-1", 10)]
    assert trace.suppliers == ("Ash Farm", "Birch Orchard", "Dale Stores", "Glass Works")
    of_batch = store.trace(stocked, first.code)
    assert (of_batch.kind, of_batch.back) == ("batch", trace.back)
    assert [jars.code for jars in of_batch.forward] == [first.jars[0].code]


def test_every_lot_leads_forward_to_its_jars(store: Store, stocked: Kitchen) -> None:
    first = cook(store, stocked, P_1=4000, P_2=500)
    second = cook(store, stocked, P_2=1000)
    cook(store, stocked, P_1=1)
    cook(store, stocked, P_2=7)
    store.undo(stocked)
    store.undo(stocked)  # a batch that was taken back is on nobody's table
    trace = store.trace(stocked, "P-2")
    assert [batch.code for batch in trace.batches] == [second.code, first.code]
    assert [jars.code for jars in trace.forward] == [first.jars[0].code, second.jars[0].code]
    assert [(use.supplier, use.amount) for use in trace.back] == [("Birch Orchard", 1500)]
    glass = store.trace(stocked, "J-1")
    assert (glass.back[0].amount, len(glass.forward)) == (30, 3)
    save(store, stocked, lot("P-2", removed=True))
    assert store.trace(stocked, "P-2") == trace  # gone from the table, not from the ledger
    with pytest.raises(Unknown, match="look at the label"):
        store.trace(stocked, "gone")


def test_a_recipe_is_kept_with_all_its_inputs(store: Store, stocked: Kitchen, place: str) -> None:
    inputs = {"lots": [{"code": "Süß", "kg": 1.1}], "none": None, "deep": {"b": [1, 2.5e-7], "a": True}}
    kept = store.keep_recipe(stocked, product="jam", request={"z": 1, "a": 2}, inputs=inputs, document={}, who="cook")
    assert store.recipe(stocked, kept.code) == kept
    assert (kept.inputs, kept.request, kept.who) == (inputs, {"a": 2, "z": 1}, "cook")
    other_order = {"deep": {"a": True, "b": [1, 2.5e-7]}, "none": None, "lots": [{"kg": 1.1, "code": "Süß"}]}
    same = store.keep_recipe(stocked, product="jam", request={"a": 2, "z": 1}, inputs=other_order, document={})
    assert same == kept
    other = store.keep_recipe(stocked, product="jam", request={"a": 3}, inputs=inputs, document={})
    assert store.recipes(stocked) == (other, kept)
    assert ask(place, "SELECT request FROM recipes ORDER BY id")[0] == ('{"a":2,"z":1}',)
    for bad in ({"x": math.nan}, {"x": object()}, {"x": "\ud800"}):
        with pytest.raises(StoreFault, match="cannot be kept as JSON"):
            store.keep_recipe(stocked, product="jam", request=bad, inputs={}, document={})
    with pytest.raises(Unknown):
        store.recipe(stocked, "gone")


words = st.text(st.characters(exclude_categories=["Cs"]))
numbers = st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
json_values = st.recursive(
    st.none() | st.booleans() | numbers | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(words, json_values, max_size=4))
@settings(max_examples=examples(100))
def test_documents_come_back_as_they_went(value: dict[str, object]) -> None:
    text = to_text(value)
    assert from_text(text) == value
    assert to_text(json.loads(json.dumps(value))) == text
