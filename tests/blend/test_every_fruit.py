"""Each fruit of the book, with ordinary additives, makes a product from its defaults; or the reason is known."""

from __future__ import annotations

import pytest
from markets import BOOK, DAY, fruit_lot, low_sugar_offers, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.inputs.models import Site

SITE = Site(ph_meter="yes", standard="codex")
NOT_FROM_DEFAULTS = {"elderberry, whole berry": "measure it"}  # the book has neither Brix nor acid of it


def _results(item: str):
    fruit = item.split(", ")[0] if item.count(", ") == 1 else BOOK.fruits[item].fruit
    lots = (fruit_lot("X", item, kg=5000.0),)
    for product in BOOK.products:
        wanted = (FruitShare(fruit=item),)  # lemon and lime juice count as fruit because they are named
        request = Request(product=product, batch_kg=50.0, on=DAY, fruits=wanted)
        yield product, fruit, make_recipe(request, SITE, lots, (*usual_offers(), *low_sugar_offers()), BOOK)


def test_there_are_61() -> None:
    assert len(BOOK.fruits) == 61


@pytest.mark.parametrize("item", sorted(BOOK.fruits))
def test_it_makes_a_product_or_says_why_not(item: str) -> None:
    results = list(_results(item))
    made = [product for product, _, recipe in results if recipe.status == "optimal"]
    if item in NOT_FROM_DEFAULTS:
        assert not made
        assert all(
            any(NOT_FROM_DEFAULTS[item] in out.why for out in r.left_out)
            for p, _, r in results
            if p not in ("marmalade", "squash")
        )
    else:
        assert made, [(product, recipe.why, recipe.left_out) for product, _, recipe in results]
    for _, _, recipe in results:
        if recipe.status == "none":
            assert recipe.why  # never without a reason


@pytest.mark.parametrize("item", sorted(item for item, part in BOOK.fruits.items() if part.is_low_acid))
def test_low_acid_fruit_is_released_only_at_a_measured_ph(item: str) -> None:
    for product, _, recipe in _results(item):
        least = BOOK.products[product].reading_fraction.least
        if recipe.status == "optimal":
            assert least >= 0.65  # nothing without a measured pH elsewhere
            assert any(
                caution.blocks and "Release only at a measured pH" in caution.text for caution in recipe.cautions
            )
            assert all(amount.stream.needs_measured_ph for amount in recipe.amounts if amount.stream.kind == "fruit")
