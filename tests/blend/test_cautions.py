"""Cautions stand where the decision is made, and only there."""

from __future__ import annotations

import pytest
from markets import BOOK, DAY, fruit_lot, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe
from optimizer.inputs.models import Site

SITE = Site(ph_meter="yes", standard="none")


def _make(*lots, **asked) -> Recipe:
    return make_recipe(Request(**{"batch_kg": 50.0, "on": DAY, **asked}), SITE, lots, usual_offers(), BOOK)


def _ids(recipe: Recipe, *, blocks: bool) -> set[str]:
    assert recipe.status == "optimal", recipe.why
    return {caution.id for caution in recipe.cautions if caution.blocks is blocks}


@pytest.mark.parametrize(("keeps", "told"), [("heat", "cold_mix_heat"), ("cold", "kept_cold")])
def test_a_squash_is_not_released_without_what_keeps_it(keeps: str, told: str) -> None:
    """It is mixed cold: nothing that was heated in a pan protects it (UNIDO 1985, s. 3.4: pasteurise the bottles)."""
    plum = fruit_lot("P", "plum, flesh with skin")
    squash = _make(plum, product="squash", keeps=keeps)
    assert {"cold_mix_heat", "kept_cold"} & _ids(squash, blocks=True) == {told}
    if keeps == "heat":
        assert "cold_mix_heat" not in _ids(_make(plum, product="jam"), blocks=True)


def test_elderberries_never_go_raw_into_a_cold_mix() -> None:
    """Raw berries make people ill (from memory), whatever their pH; a cooked mix may hold some."""
    lots = (
        fruit_lot("E", "elderberry, whole berry", brix_fraction=0.11, ph=4.6, acid_fraction=0.008),
        fruit_lot("A", "apple, cooking, flesh with skin"),
    )
    some = (FruitShare(fruit="elderberry", share_fraction=0.2, sense=">="),)
    assert _make(*lots, product="squash", fruits=some).status == "none"
    squash = _make(*lots, product="squash")
    assert any(out.id == "E" and "raw elderberries" in out.why for out in squash.left_out)
    assert "elderberry" in _ids(_make(*lots, product="jam", fruits=some), blocks=True)


def test_only_a_set_may_weep() -> None:
    """Below pH 3.0 a gel may weep; a syrup of 1.3 % acid is as sour and has no gel."""
    sour = fruit_lot("P", "plum, flesh with skin", ph=2.8, acid_fraction=0.02)
    syrup = _make(sour, product="syrup")
    assert syrup.predicted is not None
    assert syrup.predicted.ph < 3.0
    assert "low_ph" not in _ids(syrup, blocks=False)


def test_solids_beyond_the_printed_tables_are_said() -> None:
    """Printed boiling points and water activities end at 75 % true solids; a cheese may be boiled further."""
    lots = (fruit_lot("X", "apple, cooking, flesh with skin"),)

    def warnings(least: float) -> str:
        request = Request(product="cheese", batch_kg=20.0, on=DAY, solids_least_fraction=least)
        recipe = make_recipe(request, Site(ph_meter="yes"), lots, usual_offers(), BOOK)
        assert recipe.status == "optimal"
        return " ".join(recipe.warnings)

    assert "less sure" in warnings(0.75)
    assert "less sure" not in warnings(0.70)
