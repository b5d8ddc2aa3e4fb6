"""The ranking and the measuring tell how far they are, can be stopped, and say the same whether anybody listens."""

from __future__ import annotations

from datetime import date

import pytest
from markets import BOOK, fruit_lot, usual_offers

from optimizer.blend.request import Request
from optimizer.inputs.models import Jar, Site, SiteFolder
from optimizer.services.cost_parts import cost_parts, sale_per_jar
from optimizer.services.recipe import measuring_for, recipe_of, value_saved
from optimizer.services.today import rank_today, request_of

DAY = date(2026, 7, 4)
SITE = Site(
    ph_meter="yes", standard="codex", jars=(Jar(name="380 mL", net_kg=0.45, cost=0.3),),
    prices={"jam": 4.0, "jelly": 5.0},
)  # fmt: skip
LOTS = (fruit_lot("L-P", "plum, flesh with skin", kg=60.0, worth=0.3, received=DAY),)


class EnoughError(Exception):
    """Somebody pressed Stop."""


def test_the_ranking_is_the_same_whether_anybody_listens() -> None:
    told: list[tuple[int, int]] = []
    quiet = rank_today(SITE, LOTS, usual_offers(), BOOK, on=DAY)
    heard = rank_today(SITE, LOTS, usual_offers(), BOOK, on=DAY, progress=lambda *at: told.append(at))
    assert heard == quiet
    assert {total for _, total in told} == {2}
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert {done for done, _ in told} == {0, 1}


def test_what_the_listener_raises_stops_the_work() -> None:
    def stop(done: int, total: int) -> None:
        raise EnoughError

    with pytest.raises(EnoughError):
        rank_today(SITE, LOTS, usual_offers(), BOOK, on=DAY, progress=stop)
    folder = SiteFolder(site=SITE, lots=LOTS, offers=tuple(usual_offers()), folder="")
    request = Request(product="jam", batch_kg=20.0, on=DAY)
    recipe = recipe_of(folder, request, book=BOOK)
    with pytest.raises(EnoughError):
        measuring_for(folder, request, recipe, book=BOOK, progress=stop)


def test_a_choice_asked_again_in_full_costs_and_saves_the_same() -> None:
    """Two ways to the same figures: the ranking's own sum, and the recipe's cost parts set against the sale of jars."""
    folder = SiteFolder(site=SITE, lots=LOTS, offers=tuple(usual_offers()), folder="")
    found = rank_today(SITE, LOTS, usual_offers(), BOOK, on=DAY)
    assert found.choices
    for choice in found.choices:
        recipe = recipe_of(folder, request_of(choice, found, BOOK), book=BOOK)
        assert value_saved(recipe, SITE) == pytest.approx(choice.value_saved, rel=1e-9)
        assert recipe.costs.per_jar == pytest.approx(choice.cost_per_jar, rel=1e-9)
        parts = cost_parts(recipe)
        assert sum(part.total for part in parts) == pytest.approx(recipe.costs.total, rel=5e-3)
        assert sum(part.per_jar for part in parts) == pytest.approx(recipe.costs.per_jar, rel=5e-3)
        assert sale_per_jar(recipe, SITE) == pytest.approx(0.45 * SITE.prices[choice.product])
    assert choice.goods_cost == pytest.approx(sum(purchase.cost for purchase in choice.buy))
