"""An impossible request names what clashes, and each way out works when it is taken."""

from __future__ import annotations

import pytest
from markets import BOOK, DAY, fruit_lot, offer, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe, Relief
from optimizer.inputs.models import Site

SITE = Site(ph_meter="yes", standard="codex")
SUGAR, CITRIC, PECTIN, SALT = usual_offers()


def _make(lots, offers, **asked) -> Recipe:
    request = Request(**{"product": "jam", "batch_kg": 50.0, "on": DAY, **asked})
    return make_recipe(request, SITE, lots, offers, BOOK)


def _relief(recipe: Recipe, start: str) -> Relief:
    found = [r for r in recipe.reliefs if r.change.startswith(start)]
    assert found, [r.change for r in recipe.reliefs]
    return found[0]


def test_too_little_fruit() -> None:
    """10 kg of plums, of which 6 % are stones, against 22.5 kg: the clash is the fruit content with the stock."""
    lots = (fruit_lot("X", "plum, flesh with skin", kg=10.0),)
    recipe = _make(lots, usual_offers())
    assert recipe.status == "none"
    assert {row.id for row in recipe.clash} == {"least_fruit", "stock:X"}
    more = _relief(recipe, "have ")
    assert more.amount == pytest.approx(22.5 / 0.94 - 10.0, rel=1e-3)  # by hand
    smaller = _relief(recipe, "cook ")
    assert smaller.amount == pytest.approx(50.0 * 10.0 * 0.94 / 22.5, rel=1e-3)  # by hand
    assert _make((fruit_lot("X", "plum, flesh with skin", kg=10.0 + more.amount),), usual_offers()).status == "optimal"
    assert _make(lots, usual_offers(), batch_kg=smaller.amount).status == "optimal"


def test_no_pectin_to_buy() -> None:
    """Strawberries at 45 % bring 0.45 · 70 · 0.5 % of strength; the rest is to be bought."""
    lots = (fruit_lot("X", "strawberry, whole berry", kg=20.0, pectin_fraction=0.002),)
    recipe = _make(lots, (SUGAR, CITRIC), batch_kg=30.0)
    assert recipe.status == "none"
    assert "pectin_strength" in {row.id for row in recipe.clash}
    buy = _relief(recipe, "buy ")
    bought = offer("P", "pectin, HM (powder, grade 150)", 0.0, setting="medium", available=buy.amount * 1.001)
    assert "pectin" in buy.change
    assert _make(lots, (SUGAR, CITRIC, bought), batch_kg=30.0).status == "optimal"
    less = bought.model_copy(update={"available": buy.amount * 0.9})
    assert _make(lots, (SUGAR, CITRIC, less), batch_kg=30.0).status == "none"  # it is the least that helps


def test_nothing_but_fruit() -> None:
    recipe = _make((fruit_lot("X", "plum, flesh with skin"),), ())
    buy = _relief(recipe, "buy ")
    assert "cane/beet sugar, white" in buy.change


def test_sour_fruit_wants_a_buffer() -> None:
    lots = (fruit_lot("X", "blackcurrant, whole berry", ph=2.60, acid_fraction=0.035),)
    recipe = _make(lots, (SUGAR, CITRIC, PECTIN), standard="none")
    assert "ph_lower" in {row.id for row in recipe.clash}
    assert "trisodium citrate" in _relief(recipe, "buy ").change
    assert _make(lots, (SUGAR, CITRIC, PECTIN, SALT), standard="none").status == "optimal"
    assert not any(r.id == "ph_lower" for r in recipe.reliefs)  # below it a gel weeps


def test_a_rule_of_law_is_said_to_be_one() -> None:
    lots = (fruit_lot("X", "plum, flesh with skin", kg=100.0, so2_mg_per_kg=400.0),)
    recipe = _make(lots, usual_offers(), standard="eu-2026")
    moved = [r for r in recipe.reliefs if r.id == "most_so2"]
    assert recipe.status == "none"
    assert moved
    assert "may not be sold under this name" in moved[0].change


def test_a_fruit_that_cannot_go_in_is_left_out_with_its_reason() -> None:
    recipe = _make((fruit_lot("X", "papaya, flesh, ripe"),), usual_offers(), product="squash")
    assert recipe.status == "none"
    assert "No fruit on the tables can go into this product" in recipe.why[0]
    assert "until the pH of this lot is measured" in recipe.left_out[0].why


def test_every_clash_is_needed_and_reliefs_cost_what_they_say() -> None:
    lots = (fruit_lot("X", "plum, flesh with skin", kg=10.0),)
    recipe = _make(lots, usual_offers())
    more = _relief(recipe, "have ")
    after = _make((fruit_lot("X", "plum, flesh with skin", kg=10.0 + more.amount),), usual_offers())
    bought = sum(amount.cost for amount in after.amounts)
    assert bought == pytest.approx(more.cost_after, rel=1e-4)


def test_water_activity_is_relieved_as_water_activity() -> None:
    """A jam of at most 68 % does not reach 0.80; what it can reach is named, and works."""
    lots = (fruit_lot("X", "plum, flesh with skin"),)
    recipe = _make(lots, usual_offers(), water_activity_most=0.80)
    relief = _relief(recipe, "allow a higher water activity")
    assert relief.amount > 0.0
    reached = 0.80 + relief.amount
    again = _make(lots, usual_offers(), water_activity_most=reached)
    assert again.predicted is not None
    assert again.predicted.water_activity <= reached + 1e-6
    assert _make(lots, usual_offers(), water_activity_most=reached - 0.003).status == "none"


def test_no_way_out_asks_for_less_than_nothing() -> None:
    """The elderberries have no Brix in the book and are left out: a share of 0 % of them is no way out."""
    lots = (fruit_lot("E", "elderberry, whole berry"), fruit_lot("X", "plum, flesh with skin"))
    some = (FruitShare(fruit="elderberry", share_fraction=0.2, sense=">="),)
    recipe = _make(lots, usual_offers(), fruits=some)
    assert recipe.status == "none"
    assert not [r for r in recipe.reliefs if r.id.startswith("least_share")]
