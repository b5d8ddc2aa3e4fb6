"""From a recipe to jars and back: kept with its inputs, cooked whole or not at all, traced both ways."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
from kitchens import a_store

from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe
from optimizer.errors import InputFault
from optimizer.services.batches import batches, cook, finish, keep_recipe, note_reading, take_in, to_come_in
from optimizer.services.kitchen import load_demo, open_kitchen, preview, save, table, undo
from optimizer.services.kitchen_state import needed_state
from optimizer.services.recipe import recipe_of
from optimizer.services.trace import trace
from optimizer.store import JarsMade, NotEnough, Store

TODAY = date.today()
REQUEST = Request(product="jam", batch_kg=20.0, on=TODAY, fruits=(FruitShare(fruit="plum"),))


@pytest.fixture(scope="module")
def solved() -> Recipe:
    """The recipe of the demo, solved once; each test has a kitchen of its own with the same stock."""
    with a_store(kitchen=None) as store:
        load_demo(store, today=TODAY)
        found = open_kitchen(store)
        assert found is not None
        assert found.folder is not None
        recipe = recipe_of(found.folder, REQUEST)
    assert recipe.status == "optimal"
    return recipe


@pytest.fixture
def store() -> Iterator[Store]:
    with a_store(kitchen=None) as store:
        load_demo(store, today=TODAY)
        yield store


def amounts(store: Store) -> dict[str, int]:
    return {line.code: line.amount or 0 for line in needed_state(store).stock}


def came_in(store: Store, recipe: Recipe) -> dict[str, str]:
    """The bought goods as lots on hand: offer -> lot."""
    goods = to_come_in(store, recipe)
    assert take_in(store, goods, who="a buyer") is not None
    return {one.offer: one.lot for one in goods}


def test_goods_come_in_by_whole_packs_with_what_the_offer_says(store: Store, solved: Recipe) -> None:
    goods = to_come_in(store, solved)
    bought = {amount.stream.id: amount.received_kg for amount in solved.amounts if amount.stream.origin == "offer"}
    assert {one.offer for one in goods} == set(bought)
    found = open_kitchen(store)
    assert found is not None
    assert found.folder is not None
    packs = {offer.offer: (offer.pack, offer.least_packs) for offer in found.folder.offers}
    for one in goods:
        pack, least = packs[one.offer]
        assert pack is not None
        assert one.needed_g == round(bought[one.offer] * 1000)
        assert one.comes_g >= max(one.needed_g, least * pack * 1000 - 1)
        assert one.comes_g % round(pack * 1000) == 0
    lots = came_in(store, solved)
    again = open_kitchen(store)
    assert again is not None
    assert again.folder is not None
    offers = {offer.offer: offer for offer in again.folder.offers}
    by_code = {lot.lot: lot for lot in again.folder.lots}
    for offer_code, lot_code in lots.items():
        lot, offer = by_code[lot_code], offers[offer_code]
        assert (lot.item, lot.grade, lot.setting, lot.purity_fraction) == (
            offer.item, offer.grade, offer.setting, offer.purity_fraction,
        )  # fmt: skip
        assert lot.paid_per_kg == pytest.approx(offer.price)
    assert {row["supplier"] for row in table(store, "stock").rows if row["lot"] in lots.values()} == {
        "Hollow Mill Stores"
    }


def test_what_is_not_in_stock_yet_is_named_and_nothing_is_booked(store: Store, solved: Recipe) -> None:
    before = amounts(store)
    with pytest.raises(InputFault) as caught:
        cook(store, solved, REQUEST)
    assert all(one.offer in str(caught.value) for one in to_come_in(store, solved))
    assert (amounts(store), batches(store)) == (before, ())


def test_a_batch_takes_whole_grams_of_each_lot_once(store: Store, solved: Recipe) -> None:
    lots = came_in(store, solved)
    before = amounts(store)
    batch = cook(store, solved, REQUEST, from_lots=lots, who="a cook")
    after = amounts(store)
    taken = {code: before[code] - after[code] for code in before if before[code] != after[code]}
    assert taken == {use.lot: use.amount for use in batch.uses}
    received_g = sum(amount.received_kg for amount in solved.amounts) * 1000.0
    assert abs(sum(taken.values()) - received_g) <= 0.5 * len(solved.amounts)
    (row,) = (row for row in table(store, "stock").rows if row["lot"] == "OM-02")
    assert row["on_hand"] == f"{after['OM-02'] / 1000:g} kg"
    assert batch.state == "open"
    assert undo(store) is not None
    assert amounts(store) == before
    (row,) = (row for row in table(store, "stock").rows if row["lot"] == "OM-02")
    assert row["on_hand"] == "260 kg"


def test_too_little_books_nothing(store: Store, solved: Recipe) -> None:
    lots = came_in(store, solved)
    save(store, preview(store, "stock", [{"lot": "OM-02", "on_hand": "1 kg"}], replaces=False))
    before = amounts(store)
    with pytest.raises(NotEnough, match="OM-02"):
        cook(store, solved, REQUEST, from_lots=lots)
    assert (amounts(store), batches(store)) == (before, ())


def test_goods_and_batch_are_booked_together(store: Store, solved: Recipe) -> None:
    before = amounts(store)
    goods = to_come_in(store, solved)
    batch = cook(store, solved, REQUEST, goods=goods, who="a cook")
    assert {one.lot for one in goods} <= {use.lot for use in batch.uses}
    after = amounts(store)
    assert all(after[one.lot] == one.comes_g - one.needed_g for one in goods)
    assert undo(store) is not None  # the batch is taken back, the goods are still here
    assert amounts(store) == before | {one.lot: one.comes_g for one in goods}


def test_where_fruit_is_short_the_goods_do_not_come_in_either(store: Store, solved: Recipe) -> None:
    goods = to_come_in(store, solved)
    save(store, preview(store, "stock", [{"lot": "OM-02", "on_hand": "1 kg"}], replaces=False))
    before = amounts(store), store.last_booking(needed_state(store).kitchen)
    with pytest.raises(NotEnough, match="OM-02"):
        cook(store, solved, REQUEST, goods=goods)
    assert (amounts(store), batches(store)) == (before[0], ())
    assert [row["lot"] for row in table(store, "stock").rows if row["lot"] in {one.lot for one in goods}] == []


def test_the_last_step_of_the_scales_is_not_asked_of_a_lot_that_lacks_it(store: Store, solved: Recipe) -> None:
    lots = came_in(store, solved)
    plum = next(amount.received_kg for amount in solved.amounts if amount.stream.id == "OM-02")
    left_g = round(plum * 1000) - 1  # a gram less than asked; the demo's scales show 1 g
    save(store, preview(store, "stock", [{"lot": "OM-02", "on_hand": f"{left_g} g"}], replaces=False))
    cook(store, solved, REQUEST, from_lots=lots)
    assert amounts(store)["OM-02"] == 0


def test_a_recipe_is_kept_with_all_it_was_made_from_and_once(store: Store, solved: Recipe) -> None:
    kept = keep_recipe(store, solved, REQUEST, who="a cook")
    assert keep_recipe(store, solved, REQUEST, who="a cook").code == kept.code
    assert kept.request["fruits"][0]["fruit"] == "plum"
    assert kept.request["on"] == TODAY.isoformat()
    assert kept.document["schema"] == "panwise/recipe/1"
    state = needed_state(store)
    assert kept.inputs["site_toml"] == state.site_toml
    assert [row["lot"] for row in kept.inputs["stock"]] == [line.code for line in state.stock]
    assert [row["offer"] for row in kept.inputs["offers"]] == [line.code for line in state.offers]
    with pytest.raises(InputFault, match="none was possible"):
        keep_recipe(store, replace(solved, status="none"), REQUEST)


def test_readings_as_typed(store: Store, solved: Recipe) -> None:
    batch = cook(store, solved, REQUEST, from_lots=came_in(store, solved))
    # 221 degF = 105 degC: (221 - 32) / 1.8
    for figure, text, value in (("brix", "62,5 Brix", 62.5), ("temperature", "221 degF", 105.0), ("ph", "3.2", 3.2)):
        assert note_reading(store, batch.code, figure, text) == pytest.approx(value)
    (kept,) = batches(store)
    assert [(reading.figure, reading.unit) for reading in kept.readings] == [
        ("brix", "%"), ("temperature", "degC"), ("ph", "pH"),
    ]  # fmt: skip
    for figure, text in (("ph", "34"), ("brix", "thick"), ("colour", "red")):
        with pytest.raises(InputFault, match=text if figure != "colour" else "colour"):
            note_reading(store, batch.code, figure, text)


def test_from_a_jar_back_to_the_supplier_and_from_a_lot_forward_to_the_jar(store: Store, solved: Recipe) -> None:
    lots = came_in(store, solved)
    save(store, preview(store, "stock", [{"lot": "OM-02", "supplier": "an orchard (invented)"}], replaces=False))
    batch = cook(store, solved, REQUEST, from_lots=lots)
    done = finish(store, batch.code, made_kg=19.8, jars=[JarsMade(name="380 mL", count=44)])
    assert (done.made_g, done.state) == (19_800, "finished")
    (jars,) = done.jars
    back = trace(store, jars.code)
    assert {"OM-02", *lots.values()} <= {use.lot for use in back.back}
    assert set(back.suppliers) == {"an orchard (invented)", "Hollow Mill Stores"}
    forward = trace(store, "OM-02")
    assert [one.code for one in forward.forward] == [jars.code]
    assert forward.forward[0].made == 44
    with pytest.raises(InputFault, match="look at the label"):
        trace(store, "nowhere")
    with pytest.raises(InputFault, match="0 or more"):
        finish(store, batch.code, made_kg=-1.0, jars=[])
