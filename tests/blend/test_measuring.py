"""What a measurement is worth: nothing where nothing hangs on it, something where a margin does; by brute force."""

from __future__ import annotations

import numpy as np
import pytest
from markets import BOOK, DAY, fruit_lot, usual_offers

from optimizer.blend import measuring
from optimizer.blend.measuring import worth_measuring
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case
from optimizer.blend.request import Request
from optimizer.inputs.models import Site
from optimizer.solver import solve_arrays

SITE = Site(ph_meter="yes", standard="codex")
PLUM = "plum, flesh with skin"


def _worth(lots, product: str = "jam", site: Site = SITE, confidence: float = 0.9) -> dict[tuple[str, str], float]:
    request = Request(product=product, batch_kg=50.0, on=DAY, confidence=confidence)
    found = worth_measuring(request, site, lots, usual_offers(), BOOK, used=[lot.lot for lot in lots])
    return {(worth.id, worth.figure): worth.saves for worth in found}


def test_pectin_of_an_unmeasured_fruit_is_worth_money_where_a_set_hangs_on_it() -> None:
    assert _worth((fruit_lot("X", PLUM),))["X", "pectin"] > 0.05


def test_it_is_worth_nothing_where_nothing_sets_or_nothing_is_left_to_know() -> None:
    assert ("X", "pectin") not in _worth((fruit_lot("X", PLUM),), product="butter")
    assert ("X", "pectin") not in _worth((fruit_lot("X", PLUM, pectin_fraction=0.008),))
    assert ("X", "brix") not in _worth((fruit_lot("X", PLUM),))  # the refractometer at the pan tells


def test_pectin_by_brute_force() -> None:
    """41 readings across the spread of the book, each solved by `make_recipe`, weighted by the normal density."""
    lot = fruit_lot("X", PLUM)
    request = Request(product="jam", batch_kg=50.0, on=DAY, confidence=0.9)

    def cost(one) -> float:
        recipe = make_recipe(request, SITE, (one,), usual_offers(), BOOK)
        return sum(a.cost for a in recipe.amounts) + recipe.costs.parts["fuel"]

    figure = BOOK.fruits[PLUM].pectin_fraction
    z = np.linspace(-3.0, 3.0, 41)
    weights = np.exp(-0.5 * z**2)
    values = np.clip(figure.value + figure.sd * z, 0.0005, 0.10)
    costs = np.array([cost(lot.model_copy(update={"pectin_fraction": float(v)})) for v in values])
    expected = cost(lot) - float(costs @ weights / weights.sum())
    assert _worth((lot,))["X", "pectin"] == pytest.approx(expected, rel=0.1)  # five readings against 41


def test_a_pessimistic_ph_is_worth_measuring() -> None:
    """Papaya is reckoned at pH 6.0 until it is measured: the acid for it is bought for nothing most of the time."""
    assert _worth((fruit_lot("X", "papaya, flesh, ripe"),))["X", "ph"] > 0.0


def test_instruments() -> None:
    blind = Site(ph_meter="no", has_refractometer=False, standard="codex")
    found = _worth((fruit_lot("X", PLUM),), site=blind)
    assert found["site", "refractometer"] > 0.0
    request = Request(product="jam", batch_kg=50.0, on=DAY, confidence=0.9)

    def cost(site: Site) -> float:
        case, _ = prepare_case(request, site, (fruit_lot("X", PLUM),), usual_offers(), BOOK)
        settled, _ = best_settled(case)
        return settled.cost

    saved = cost(blind) - cost(blind.model_copy(update={"ph_meter": "yes"}))
    assert found.get(("site", "pH meter"), 0.0) == pytest.approx(max(saved, 0.0), abs=1e-6)
    assert not [key for key in _worth((fruit_lot("X", PLUM),)) if key[0] == "site"]


def test_of_many_figures_the_most_promising_are_settled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Told apart at the state of the recipe, the best few are those that settling all of them puts first."""
    items = (PLUM, "apricot, flesh with skin", "strawberry, whole berry", "gooseberry, whole berry")
    lots = tuple(fruit_lot(f"F{k}", item, kg=9.0, worth=0.1 + 0.1 * k) for k, item in enumerate(items))
    settled = _worth(lots)
    monkeypatch.setattr(measuring, "MOST_SETTLED", 3)
    few = _worth(lots)
    assert 1 <= len(few) <= 3
    assert all(few[key] == settled[key] for key in few)
    assert list(few)[:2] == list(settled)[:2]


def test_readings_tried_together_are_those_tried_one_by_one() -> None:
    """All readings at once, and one program after the other."""
    lot = fruit_lot("X", "papaya, flesh, ripe")
    request = Request(product="jam", batch_kg=50.0, on=DAY)
    case, _ = prepare_case(request, SITE, (lot,), usual_offers(), BOOK)
    found, _ = best_settled(case)
    asked = tuple(one for one in measuring._asked(SITE, (lot,), BOOK, ["X"]) if one.figure == "ph")
    expected = 0.0
    for reading, weight in zip(asked[0].readings, asked[0].weights, strict=True):
        program = measuring._with_reading(found.case, 0, reading, BOOK)
        cost = solve_arrays(program).objective
        expected += weight * (0.0 if cost is None else found.cost - cost)
    assert expected > 0.0
    assert measuring._promised(found, asked, BOOK)[0] == pytest.approx(expected, rel=1e-7)
